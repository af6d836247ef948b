"""Plastic viscosity and yield point from two readings."""

from __future__ import annotations

import pint

from exercises.bank.mud_check import Outcome
from exercises.fleet.envelope import PLASTIC_VISCOSITY, YIELD_POINT
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, System
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip, absolute
from exercises.model.working import Step
from pitside.hydraulics import plastic_viscosity
from pitside.units import Q

#: What the setting calls usual for the mud: common practice, no source.
USUAL_VISCOSITY, USUAL_YIELD = 30, 22
LOOK_AGAIN = "Compare both of your answers with what the programme wants."


def _viscosity(n: Known) -> pint.Quantity:
    return plastic_viscosity(n.reading_600, n.reading_300)


def _yield(n: Known) -> pint.Quantity:
    return (n.reading_300.m_as("") - n.a.m_as("cP")) * Q(1, "lbf_100ft2")


def _state(n: Known) -> str:
    thick, stiff = n.a > Q(USUAL_VISCOSITY, "cP"), n.b > Q(USUAL_YIELD, "lbf_100ft2")
    return {(True, False): "solids", (False, True): "reactive", (True, True): "both", (False, False): "fine"}[
        thick, stiff
    ]


def _clear(n: Known) -> bool:
    """Readings of a mud, each answer well on one side of what is usual."""
    viscosity = (n.reading_600 - n.reading_300).m_as("")
    point = (2 * n.reading_300 - n.reading_600).m_as("")
    return (14 <= viscosity <= 26 or 34 <= viscosity <= 46) and (8 <= point <= 18 or 26 <= point <= 38)


EXERCISE = Exercise(
    title="Two readings of the viscometer",
    level=1,
    version=1,
    outcome=Outcome.RHEOLOGY,
    numbers=(Number("reading_600", Grid(38, 126, 1)), Number("reading_300", Grid(22, 86, 1))),
    valid=_clear,
    envelope=(
        Within("plastic viscosity", lambda n: n.a, PLASTIC_VISCOSITY),
        Within("yield point", lambda n: n.b, YIELD_POINT),
    ),
    setting=By(
        "The viscometer of rig Heron 4 shows {reading_600} at 600 rev/min and {reading_300} at 300 rev/min. For this "
        "mud, weighted with barite, the programme wants a plastic viscosity of no more than 30 cP and a yield point "
        "of no more than 22 lbf/100 ft².",
        "The viscometer of rig Heron 4 shows {reading_600} at 600 rev/min and {reading_300} at 300 rev/min. For this "
        "mud, weighted with barite, the programme wants a plastic viscosity of no more than 30 mPa·s and a yield "
        "point of no more than 10.5 Pa. Take one degree of the dial for 0.479 Pa.",
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the plastic viscosity?",
            unit=By("cP", "mPa.s"),
            solve=_viscosity,
            plausible=Range(14, 46, "cP"),
            tolerance=absolute(0.5, "cP", because="the dial is read to a degree, and the difference is exact"),
            marks=Marks(2),
            slips=(
                Slip(
                    "reading at 300",
                    lambda n: n.reading_300.m_as("") * Q(1, "cP"),
                    "This is the reading at 300. The plastic viscosity is the difference of the two readings.",
                ),
                Slip(
                    "half of the reading at 600",
                    lambda n: n.reading_600.m_as("") / 2 * Q(1, "cP"),
                    "This is the apparent viscosity, half of the reading at 600. The plastic viscosity is the "
                    "difference of the two readings.",
                ),
            ),
            working=(Step("The difference of the readings:", "{reading_600} - {reading_300}"),),
        ),
        Numeric(
            key="b",
            ask="What is the yield point?",
            unit=By("lbf/100ft2", "Pa"),
            uses=("a",),
            solve=_yield,
            plausible=Range(7.9, 40, "lbf/100ft2"),
            tolerance=absolute(
                0.5, "lbf/100ft2", because="the dial is read to a degree; a degree taken as 0.48 or 0.479 Pa"
            ),
            marks=Marks(2),
            slips=(
                Slip(
                    "taken off the reading at 600",
                    lambda n: (n.reading_600.m_as("") - n.a.m_as("cP")) * Q(1, "lbf_100ft2"),
                    "You took the plastic viscosity off the reading at 600. Take it off the reading at 300.",
                ),
                Slip(
                    "sum instead of difference",
                    lambda n: (n.reading_300.m_as("") + n.a.m_as("cP")) * Q(1, "lbf_100ft2"),
                    "You added the plastic viscosity. Take it off the reading at 300.",
                ),
                Slip(
                    "degrees called pascals",
                    lambda n: (n.reading_300.m_as("") - n.a.m_as("cP")) * Q(1, "Pa"),
                    "You called degrees of the dial pascals. One degree is about 0.48 Pa.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    By(
                        "The plastic viscosity off the reading at 300:",
                        "The plastic viscosity off the reading at 300; a degree is 0.479 Pa.",
                    ),
                    By("{reading_300} - {a}", "({reading_300} - {a}) * 0.479"),
                ),
            ),
        ),
        Choice(
            key="c",
            ask="What do the two values say, and what do you do next?",
            uses=("a", "b"),
            outcome=Outcome.NEXT_STEP,
            options=(
                Option(
                    "solids",
                    "There are too many grains in the mud: look at screens and cones, run the retort, then remove or "
                    "dilute.",
                    LOOK_AGAIN,
                ),
                Option(
                    "reactive",
                    "The solids attract each other: run the methylene-blue test, look for salt or cement in the mud, "
                    "and ask the mud engineer before anything is added.",
                    LOOK_AGAIN,
                ),
                Option(
                    "both",
                    "There are many fine solids, and they attract each other: run retort and methylene-blue test, and "
                    "expect to dilute.",
                    LOOK_AGAIN,
                ),
                Option(
                    "fine",
                    "Both are within the programme: write them down and test again at the next check.",
                    LOOK_AGAIN,
                ),
            ),
            right=_state,
            marks=Marks(2),
            reason=(
                "Plastic viscosity rises with how many grains there are and how fine they are. The yield point rises "
                "with how they pull at each other: active clay, salt, cement."
            ),
        ),
    ),
)
