"""The numbers of an exercise: the grids they are drawn from, and a drawn set of them."""

from __future__ import annotations

import enum
import functools
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Generic, TypeVar

import numpy as np
import pint

from exercises.model.text import fill
from pitside.unit_names import read_unit, spelled
from pitside.units import Quantity

T = TypeVar("T")

#: Sizes from the first up to the second are printed in full; others would be a row of noughts and get an exponent.
_IN_FULL = (1e-12, 1e15)

#: Separates groups of three digits on a page; neither a comma nor a point, which countries read differently.
GROUP = "\N{NARROW NO-BREAK SPACE}"


class System(enum.StrEnum):
    """The unit system in which a candidate reads a paper."""

    FIELD = "field"
    METRIC = "metric"


@dataclass(frozen=True)
class By(Generic[T]):
    """One thing in field units and its fellow in metric units."""

    field: T
    metric: T

    def of(self, system: System) -> T:
        return self.field if system is System.FIELD else self.metric

    @classmethod
    def each(cls, make: Callable[[System], T]) -> By[T]:
        """The two things that ``make`` gives for the two systems."""
        return cls(make(System.FIELD), make(System.METRIC))


def in_system(thing: T | By[T], system: System) -> T:
    """The thing for this unit system; a thing without two forms serves both."""
    return thing.of(system) if isinstance(thing, By) else thing


@dataclass(frozen=True)
class Grid:
    """Realistic values of one number: ``low`` to ``high`` by ``step``, in ``unit`` (ends included)."""

    low: float
    high: float
    step: float
    unit: str = "fraction"

    def __post_init__(self) -> None:
        read_unit(self.unit)
        if self.step <= 0 or self.high < self.low:
            raise ValueError(f"grid {self.low}..{self.high} by {self.step} {self.unit} holds no value")

    @cached_property
    def count(self) -> int:
        return round((self.high - self.low) / self.step) + 1

    @cached_property
    def decimals(self) -> int:
        """Digits after the point that every value of the grid is printed with."""
        texts = (f"{self.step:.10f}".rstrip("0"), f"{self.low:.10f}".rstrip("0"))
        return max(len(text.partition(".")[2]) for text in texts)

    def at(self, index: int) -> float:
        return round(self.low + index * self.step, self.decimals)


@dataclass(frozen=True)
class Range:
    """From ``low`` to ``high`` in ``unit``, ends included: what an answer can be on a rig."""

    low: float
    high: float
    unit: str = "fraction"

    def __post_init__(self) -> None:
        read_unit(self.unit)
        if self.high < self.low:
            raise ValueError(f"range {self.low}..{self.high} {self.unit} holds no value")

    def holds(self, value: pint.Quantity) -> bool:
        return bool(self.low <= float(value.m_as(read_unit(self.unit))) <= self.high)

    def __str__(self) -> str:
        return f"{grouped(str(self.low))} to {with_unit(grouped(str(self.high)), self.unit)}"


@dataclass(frozen=True)
class Number:
    """A number to draw, with a grid for each unit system (``metric`` left out: the same grid in both)."""

    name: str
    field: Grid
    metric: Grid | None = None

    def grid(self, system: System) -> Grid:
        return self.field if system is System.FIELD or self.metric is None else self.metric

    def draw(self, generator: np.random.Generator, system: System) -> Drawn:
        grid = self.grid(system)
        return Drawn(grid.at(int(generator.integers(grid.count))), grid.unit, grid.decimals)


@dataclass(frozen=True)
class Pick:
    """A word to draw, such as a weighting material; exercises look the word up themselves."""

    name: str
    options: tuple[str, ...]

    def draw(self, generator: np.random.Generator, system: System) -> str:
        return self.options[int(generator.integers(len(self.options)))]


@dataclass(frozen=True)
class Derived:
    """A number that is not drawn but worked out from those before it, then rounded and printed like them.

    With it the readings of a setting agree with each other as a real machine's would: a return's mud weight from
    drawn flows and a cut, a sieve table from a drawn distribution. Parts are worked from the rounded number.
    """

    name: str
    work: Callable[[Numbers], pint.Quantity]
    unit: str | By[str]
    decimals: int | By[int]

    def draw(self, before: Numbers, system: System) -> Drawn:
        """The number, from those before it. Raises: CalculationError where it cannot be worked out from them."""
        unit, decimals = in_system(self.unit, system), in_system(self.decimals, system)
        value = round(float(self.work(before).m_as(read_unit(unit))), decimals)
        return Drawn(value + 0.0, unit, max(decimals, 0))


@dataclass(frozen=True)
class Told:
    """Words that follow from what was drawn before them, such as the signs of a drawn fault or the text of an option.

    ``work`` gives a text, which may itself name numbers: they are printed as in any text of the paper.
    """

    name: str
    work: Callable[[Numbers], str]

    def draw(self, before: Numbers, system: System) -> str:
        return fill(self.work(before), before)


@dataclass(frozen=True)
class Drawn:
    """A drawn number as it is printed: magnitude, unit text, digits after the point."""

    magnitude: float
    unit: str
    decimals: int

    @property
    def quantity(self) -> pint.Quantity:
        return _quantity(self.magnitude, self.unit)

    def __format__(self, form: str) -> str:
        """``""`` prints number and unit, ``n`` the number alone, ``plain`` the number as a calculator takes it."""
        if form == "plain":
            return self._digits
        return self._grouped if form == "n" else self._with_unit

    @cached_property
    def _digits(self) -> str:
        return f"{self.magnitude:.{self.decimals}f}" if _in_full(self.magnitude) else f"{self.magnitude:g}"

    @cached_property
    def _grouped(self) -> str:
        return grouped(self._digits)

    @cached_property
    def _with_unit(self) -> str:
        return with_unit(self._grouped, self.unit)


@functools.lru_cache(maxsize=4096, typed=True)
def _quantity(magnitude: float, unit: str) -> pint.Quantity:
    """A number of an exercise is asked for in each of its functions, and Pint takes its time to make a quantity."""
    return Quantity(magnitude, read_unit(unit))


class Numbers(Mapping[str, "Drawn | str"]):
    """A drawn set: ``numbers.mud_weight`` is a quantity (or a picked word), ``numbers["mud_weight"]`` prints."""

    def __init__(self, drawn: Mapping[str, Drawn | str]) -> None:
        self._drawn = dict(drawn)

    def __getitem__(self, name: str) -> Drawn | str:
        return self._drawn[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._drawn)

    def __len__(self) -> int:
        return len(self._drawn)

    def __getattr__(self, name: str) -> Any:
        try:
            value = self.__dict__["_drawn"][name]
        except KeyError:
            raise AttributeError(f"this exercise draws no number called {name}") from None
        return value.quantity if isinstance(value, Drawn) else value

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Numbers) and self._drawn == other._drawn

    def __hash__(self) -> int:
        return hash(tuple(sorted(self._drawn.items(), key=lambda pair: pair[0])))

    def to_json(self) -> dict[str, Any]:
        """Plain JSON from which :meth:`from_json` makes the very same numbers."""
        return {
            name: [value.magnitude, value.unit, value.decimals] if isinstance(value, Drawn) else value
            for name, value in self._drawn.items()
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Numbers:
        return cls({name: value if isinstance(value, str) else Drawn(*value) for name, value in data.items()})


def _in_full(value: float) -> bool:
    least, too_large = _IN_FULL
    return value == 0 or least <= abs(value) < too_large


def grouped(number: str) -> str:
    """``12345.6`` as ``12 345.6``, with narrow no-break spaces from five digits before the point on.

    >>> grouped("-0.5"), grouped("-5e-324")
    ('−0.5', '−5e-324')
    """
    size, exponent, power = number.partition("e")
    whole, point, rest = size.partition(".")
    if len(whole.lstrip("-")) > 4:
        whole = f"{int(whole):,}".replace(",", GROUP)
    return whole.replace("-", "−") + point + rest + exponent + power


def significant(value: float, digits: int) -> str:
    """``value`` to so many significant digits, as a calculator takes it: with an exponent only where it needs one.

    >>> significant(12345.678, 4), significant(1.25e-7, 3), significant(-1.7976931348623157e308, 4)
    ('12350', '0.000000125', '-1.798e+308')
    """
    if value == 0:
        return "0"
    if not _in_full(value):
        return f"{value:.{digits - 1}e}"
    decimals = digits - 1 - int(np.floor(np.log10(abs(value))))
    rounded = round(value, decimals)
    return f"{rounded:.{max(decimals, 0)}f}"


def with_unit(number: str, unit: str) -> str:
    """Number and unit with a no-break space between them; a percent sign and a bare fraction as usual."""
    word = spelled(unit)
    return f"{number}\N{NO-BREAK SPACE}{word}" if word else number


def mislabelled(value: pint.Quantity, found_in: str, written_as: str) -> pint.Quantity:
    """The number that a quantity has in one unit with another unit behind it: a usual slip, kPa written for bar.

    >>> print(f"{mislabelled(Quantity(3.0, 'bar'), 'bar', 'kPa'):~P}")
    3.0 kPa
    """
    return Quantity(value.m_as(read_unit(found_in)), read_unit(written_as))


def shown(value: pint.Quantity, unit: str, digits: int = 4) -> str:
    """A quantity as pages print it: in ``unit``, to so many significant digits, numbers grouped."""
    return with_unit(grouped(significant(float(value.to(read_unit(unit)).magnitude), digits)), unit)
