"""Slips that recur from exercise to exercise, each with its advice.

The unit slips are the right answer in one unit with another unit behind it. For a slip of a fraction only its name and
the advice's first sentence are shared: the wrong value, and what belongs above the line, are the part's own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ParamSpec

import pint

from exercises.model.numbers import System, mislabelled
from exercises.model.parts import RowSlip, RowSolve, Slip, Solve
from pitside.unit_names import read_unit
from pitside.units import Quantity

P = ParamSpec("P")


@dataclass(frozen=True)
class UnitSlip:
    """The number of ``found_in`` called ``written_as``: ``of`` a part's right answer, or ``in_rows`` of a column's.

    ``advice`` names, as ``{what}``, what is measured; ``only`` is as in a slip.
    """

    name: str
    found_in: str
    written_as: str
    what: str
    advice: str
    only: System | None = None

    def of(self, right: Solve, what: str = "") -> Slip:
        return Slip(self.name, self._of(right), self._advice(what), only=self.only)

    def in_rows(self, right: RowSolve, what: str = "") -> RowSlip:
        return RowSlip(self.name, self._of(right), self._advice(what), only=self.only)

    def _of(self, right: Callable[P, pint.Quantity]) -> Callable[P, pint.Quantity]:
        def wrong(*known: P.args, **named: P.kwargs) -> pint.Quantity:
            return mislabelled(right(*known, **named), self.found_in, self.written_as)

        return wrong

    def _advice(self, what: str) -> str:
        return self.advice.replace("{what}", what or self.what)


KILOGRAMS_CALLED_TONNES = UnitSlip(
    "kilograms called tonnes",
    "kg",
    "t",
    "mass",
    "This is the {what} in kilograms. A tonne is 1000 kg: divide by 1000.",
    System.METRIC,
)
POUNDS_CALLED_SACKS = UnitSlip(
    "pounds called sacks",
    "lb",
    "sack",
    "mass",
    "This is the {what} in pounds. A sack holds 100 lb: divide by 100.",
    System.FIELD,
)
GALLONS_CALLED_BARRELS = UnitSlip(
    "gallons called barrels",
    "gal",
    "bbl",
    "volume",
    "This is the {what} in gallons. There are 42 gal in a barrel: divide by 42.",
    System.FIELD,
)
CUBIC_FEET_CALLED_BARRELS = UnitSlip(
    "cubic feet called barrels",
    "ft3",
    "bbl",
    "volume",
    "This is the {what} in cubic feet. A barrel is 5.615 cubic feet: divide by it.",
    System.FIELD,
)
LITRES_CALLED_CUBIC_METRES = UnitSlip(
    "litres called cubic metres",
    "L",
    "m3",
    "volume",
    "This is the {what} in litres. A cubic metre is 1000 L: divide by 1000.",
    System.METRIC,
)
MINUTES_CALLED_HOURS = UnitSlip(
    "minutes called hours",
    "min",
    "h",
    "time",
    "This is the {what} in minutes. Divide by 60, or give the unit as min.",
)
BAR_CALLED_KPA = UnitSlip(
    "bar called kPa",
    "bar",
    "kPa",
    "pressure",
    "This is the {what} in bar, written as kPa. One bar is 100 kPa: multiply by 100, or write bar.",
    System.METRIC,
)


def upside_down(wrong: Solve, then: str) -> Slip:
    """A fraction of two things: ``then`` says which belongs above the line."""
    return Slip("upside down", wrong, f"Your fraction is upside down. {then}")


def ratio_upside_down(wrong: Solve, then: str) -> Slip:
    """A ratio that is not the answer itself, such as of speeds."""
    return Slip("ratio upside down", wrong, f"Your ratio is upside down. {then}")


def turned_round(wrong: Solve, then: str) -> Slip:
    """A ratio taken the wrong way: ``then`` says why, or what belongs on top."""
    return Slip("upside down", wrong, f"You turned the ratio round. {then}")


_LEFT_OUT = "42 left out"
_TOO_SMALL = "Your answer is 42 times too small:"
_IN_A_BARREL = "there are 42 gal in a barrel."


def forty_two_left_out(right: Solve, then: str = "") -> Slip:
    """Barrels taken for gallons somewhere on the way, so that the answer is 42 times too small."""
    advice, gallons = f"{_TOO_SMALL} {_IN_A_BARREL} {then}".strip(), _gallons()
    return Slip(_LEFT_OUT, lambda n: right(n) / gallons, advice, only=System.FIELD)


def forty_two_left_out_in_rows(right: RowSolve, why: str = _IN_A_BARREL) -> RowSlip:
    """The same in a column; ``why`` ends the sentence that begins with "Your answer is 42 times too small:"."""
    gallons = _gallons()
    return RowSlip(_LEFT_OUT, lambda n, row: right(n, row) / gallons, f"{_TOO_SMALL} {why}", only=System.FIELD)


def _gallons() -> float:
    """The gallons in a barrel."""
    return float(Quantity(1, read_unit("bbl")).m_as(read_unit("gal")))


def units_of_g(right: Solve) -> tuple[Slip, Slip]:
    """A g-force with rpm put in as radians a second, and, in metric papers, with the radius left in millimetres."""
    turns = Quantity(1, "rad/s").m_as("rpm")
    millimetres = Quantity(1, "m").m_as("mm")
    return (
        Slip(
            "rpm taken for radians a second",
            lambda n: right(n) * turns**2,
            "You used rpm as if it were radians a second. One turn is 2 pi radians, and a minute is 60 seconds: "
            "multiply rpm by 2 pi / 60.",
        ),
        Slip(
            "millimetres taken for metres",
            lambda n: right(n) * millimetres,
            "Your answer is 1000 times too large: the radius goes in metres. One metre has 1000 mm.",
            only=System.METRIC,
        ),
    )
