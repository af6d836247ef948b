"""What an answer can be at all: wider than what a rig sees, and true of a kind of quantity, not of a question.

An answer beyond it shows that nobody stopped to look at it. A part that is of another kind than its unit tells says
what is possible there.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import pint

from pitside.unit_names import read_unit, spelled


@dataclass(frozen=True)
class Possible:
    """The sizes that a kind of quantity can have, in ``unit``, and what to tell who answers with another."""

    least: float
    most: float
    unit: str
    says: str

    def __post_init__(self) -> None:
        read_unit(self.unit)
        if not self.least < self.most:
            raise ValueError(f"nothing is possible from {self.least} to {self.most} {self.unit}")

    @property
    def is_bounded(self) -> bool:
        return math.isfinite(self.least) or math.isfinite(self.most)

    def holds(self, value: pint.Quantity) -> bool:
        """Whether a value is possible; the bounds are, also where a unit's factor moves one by a hair."""
        if not self.is_bounded:
            return True
        number = float(value.m_as(read_unit(self.unit)))
        hair = 1e-9 * max(abs(bound) for bound in (self.least, self.most, 0.0) if math.isfinite(bound))
        return self.least - hair <= number <= self.most + hair

    def bounds(self) -> tuple[float | None, float | None]:
        """Least and most in base units; None where there is no bound."""
        one = (1 * read_unit(self.unit)).to_base_units().magnitude
        least, most = (bound * one if math.isfinite(bound) else None for bound in (self.least, self.most))
        return least, most

    @property
    def warning(self) -> str:
        """What pages and feedback say to an answer that cannot be."""
        return f"{self.says}: stop and look."

    def __str__(self) -> str:
        ends = [f"{word} {bound:g}" for word, bound in (("from", self.least), ("up to", self.most))
                if math.isfinite(bound)]  # fmt: skip
        return f"{' '.join(ends)} {spelled(self.unit)}".strip() if ends else "any size"


def _not_below_nothing(unit: str, what: str) -> Possible:
    return Possible(0.0, math.inf, unit, f"No {what} is less than nothing")


#: The weight of a mud, foam to a slurry of packed barite. From memory: air-lifted foams weigh 0.5 lb/gal and more;
#: two thirds of barite, about the most that grains pack to, and a third of water weigh 26 lb/gal and flow no more.
MUD_WEIGHT = Possible(0.5, 25.0, "lb/gal", "No mud weighs that")
#: The density of one of the things that a mud is made of. From memory: osmium, the densest of all, has 22.6.
MATERIAL = Possible(0.05, 22.6, "SG", "No solid or liquid weighs that")
#: A part of a whole.
SHARE = Possible(0.0, 100.0, "%", "No share is under 0 or over 100 %")
#: One thing held against another in percent, which may be the larger: oil by mass of dry rock, a sum that misses 100 %.
RATIO = Possible(0.0, math.inf, "%", "No such percentage is less than nothing")
#: For a part whose answer may have either sign and any size.
ANYTHING = Possible(-math.inf, math.inf, "fraction", "")

#: What is possible for an answer that the paper in field units asks for in this very unit.
_BY_UNIT = {"lb/gal": MUD_WEIGHT, "SG": MATERIAL, "%": SHARE}
#: And else for an answer of the dimension of a unit. Not here are kinds that have a sign: a pressure below that of the
#: air, a rise that is a fall, a saving.
_BY_KIND = tuple(
    _not_below_nothing(unit, what)
    for unit, what in (
        ("lb/bbl", "concentration"),
        ("bbl", "volume"),
        ("lb", "mass"),
        ("ft", "length or size"),
        ("ft2", "area or capacity"),
        ("gal/min", "flow"),
        ("lb/min", "mass rate"),
        ("cP", "viscosity"),
        ("mm2/s", "viscosity"),
        ("s", "time"),
        ("hp", "power"),
        ("kWh", "energy"),
        ("rpm", "speed of turning"),
        ("fraction", "count or ratio"),
    )
)


@functools.cache
def possible_by_kind(field_unit: str) -> Possible:
    """What is possible for an answer that the paper in field units asks for in this unit.

    >>> possible_by_kind("lb/gal").warning
    'No mud weighs that: stop and look.'
    >>> possible_by_kind("gal/min").says, possible_by_kind("money") is ANYTHING
    ('No flow is less than nothing', True)
    """
    if field_unit in _BY_UNIT:
        return _BY_UNIT[field_unit]
    dimension = read_unit(field_unit).dimensionality
    return next((one for one in _BY_KIND if read_unit(one.unit).dimensionality == dimension), ANYTHING)
