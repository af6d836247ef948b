"""What a rig would see: ranges that the numbers of an exercise, and what follows from them, are held in.

``Usual`` is a figure of the trade with its status, ``Within`` says which quantity of an exercise lies in which of them.
``over_draws`` holds draws against them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import pint

from exercises.model.numbers import Grid, Number, grouped, with_unit
from exercises.model.parts import Known
from pitside.unit_names import read_unit
from pitside.units import Quantity

#: How far a value may lie outside a usual range, as a share of its end: round numbers of one unit system are none of
#: the other (1200 kg/m3 are 10.01 lb/gal), and no usual range is sharper than this.
EDGE = 0.01


@dataclass(frozen=True)
class Usual:
    """A figure of the trade, ``low`` to ``high`` in ``unit``; ``status`` says where it comes from."""

    low: float
    high: float
    unit: str = "fraction"
    status: str = "common practice, no source"

    def __post_init__(self) -> None:
        read_unit(self.unit)
        if self.high < self.low or not self.status:
            raise ValueError(f"{self.low} to {self.high} {self.unit} is no usual range, or its status is missing")

    def holds(self, value: pint.Quantity) -> bool:
        """Whether the value lies in the range or within :data:`EDGE` of its ends."""
        number = float(value.m_as(read_unit(self.unit)))
        return self.low - EDGE * abs(self.low) <= number <= self.high + EDGE * abs(self.high)

    def part(self, low: float, high: float) -> Usual:
        """A narrower range out of this one. Raises: ValueError where it reaches beyond it."""
        if low < self.low or high > self.high:
            raise ValueError(f"{low} to {high} {self.unit} is not within {self}")
        return Usual(low, high, self.unit, self.status)

    def number(self, name: str, field: tuple[float, str], metric: tuple[float, str] | None = None) -> Number:
        """A number that is drawn from this range, on a grid of the step and the unit that are given for each system."""
        return Number(name, self.grid(*field), self.grid(*metric) if metric else None)

    def grid(self, step: float, unit: str) -> Grid:
        """The multiples of ``step`` in ``unit`` that lie in the range."""
        ends = [
            float(Quantity(end, read_unit(self.unit)).m_as(read_unit(unit))) / step for end in (self.low, self.high)
        ]
        low, high = math.ceil(ends[0] - 1e-9), math.floor(ends[1] + 1e-9)
        decimals = max(0, math.ceil(-math.log10(step)) + 2)
        return Grid(round(low * step, decimals), round(high * step, decimals), step, unit)

    @property
    def middle(self) -> pint.Quantity:
        return Quantity((self.low + self.high) / 2, read_unit(self.unit))

    def __str__(self) -> str:
        return f"{grouped(f'{self.low:g}')} to {with_unit(grouped(f'{self.high:g}'), self.unit)}"


@dataclass(frozen=True)
class Within:
    """A quantity of an exercise and the usual range that it keeps.

    ``value`` is worked from the drawn numbers and the model answers (``n.feed``, ``n.a``, ``n["b.first.power"]``); None
    says that there is no such quantity in this draw. ``outside`` is the reason why it may lie outside, where there is
    one: the setting says it too.
    """

    quantity: str
    value: Callable[[Known], pint.Quantity | None]
    usual: Usual
    outside: str = ""
