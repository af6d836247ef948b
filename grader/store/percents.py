"""Percentages that decide: compared exactly, and never printed as more than they are."""

from __future__ import annotations

import functools
from decimal import ROUND_FLOOR, Decimal
from fractions import Fraction

#: Marks are decimal numbers, or thirds and the like, of no more than nine figures; sums of binary ones are a hair off.
_FINEST = 10**9


@functools.lru_cache(maxsize=4096)
def exact(marks: float) -> Fraction:
    """The number that was meant by marks, or by their sum: 3/10 for 0.1 + 0.2."""
    return Fraction(marks).limit_denominator(_FINEST)


def floored(percent: float) -> str:
    """A percentage with one decimal, never rounded up: what is below a pass mark must not read as if it were on it."""
    return f"{cut(percent).normalize():f}"


def cut(percent: float) -> Decimal:
    """A percentage cut after its first decimal."""
    return Decimal(repr(percent)).quantize(Decimal("0.1"), ROUND_FLOOR)


def of_hundred(share: float) -> str:
    """A share from 0 to 1 as a percentage, cut in the same way."""
    return floored(float(100 * exact(share)))


def needed(percent: float) -> str:
    """A percentage of the settings, as it was written there."""
    return f"{Decimal(repr(percent)).normalize():f}"
