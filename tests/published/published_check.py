"""A check of a calculation against a figure from outside the project, with where the figure comes from."""

from __future__ import annotations

import enum
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pint
import pytest


class Status(enum.Enum):
    """How we know the figure."""

    SEEN = "seen"
    RESTATED = "seen restated"
    MEMORY = "from memory"
    #: Known on every rig and written nowhere that we saw.
    COMMON = "common practice, no source"
    #: Computed by a library of other hands (fluids, CoolProp, SciPy): a way to the figure that owes us nothing.
    LIBRARY = "worked out by a public library"
    #: Computed in the test itself from constants and balances; never typed in.
    DERIVED = "derived"

    @property
    def computed(self) -> bool:
        """Whether the figure is worked out when the test runs, and stands in no publication."""
        return self in (Status.LIBRARY, Status.DERIVED)

    @property
    def seen(self) -> bool:
        return self in (Status.SEEN, Status.RESTATED)


@dataclass(frozen=True)
class Check:
    """One figure: what this project computes, what the source says, and how far apart they may be and why.

    ``value`` is a number in ``unit``, or a function that computes it: always for a derived figure, and where a source
    gives a formula and no figure. Exactly one of ``absolute`` (in ``unit``) and ``relative`` is the tolerance.
    ``wrong_turns`` are usual mistakes by name; each must miss the figure, or the check could not fail.
    """

    claim: str
    compute: Callable[[], pint.Quantity]
    value: float | Callable[[], float]
    unit: str
    because: str
    source: str
    status: Status
    absolute: float = 0.0
    relative: float = 0.0
    wrong_turns: tuple[tuple[str, Callable[[], pint.Quantity]], ...] = ()

    def __post_init__(self) -> None:
        if (self.absolute > 0) == (self.relative > 0) or not self.because or not self.source:
            raise ValueError(f"{self.claim}: give one tolerance, its reason and the source")
        if self.status.computed and not callable(self.value):
            raise ValueError(f"{self.claim}: a derived figure is computed in the test, by itself or by a library")

    def __str__(self) -> str:
        return f"{self.status.value}: {self.source}: {self.claim}"

    @property
    def found(self) -> float:
        """What this project computes, in ``unit``."""
        return self.in_unit(self.compute())

    @property
    def expected(self) -> Any:
        """What the source says, comparable within the tolerance."""
        figure = self.value() if callable(self.value) else self.value
        return pytest.approx(figure, rel=self.relative or None, abs=self.absolute or 0.0)

    def in_unit(self, quantity: pint.Quantity) -> float:
        """A quantity as a number in ``unit``."""
        return float(quantity.m_as(self.unit))


def as_cases(checks: list[Check]) -> list[Any]:
    """The checks as pytest parameters whose ids carry status and source."""
    return [pytest.param(check, id=str(check)) for check in checks]


def wrong_turns(checks: list[Check]) -> list[Any]:
    """Every wrong turn of the checks, with its check, as pytest parameters."""
    return [
        pytest.param(check, wrong, id=f"{name} misses {check.claim}")
        for check in checks
        for name, wrong in check.wrong_turns
    ]
