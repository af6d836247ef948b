"""Drilled solids that settle like barite."""

from __future__ import annotations

import pint

from exercises.bank.settling import LIQUID, Outcome
from exercises.fleet.envelope import CUT_OF_BARITE_BOWL, WEIGHTED_MUD
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip, relative
from exercises.model.usual_slips import turned_round
from exercises.model.working import Step
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.settling import equal_settling_ratio

ROUNDING = relative(0.015, because="a ratio rounded to 0.01 and 8.33 for 8.345 lb/gal move it by up to 1 %")


def _ratio(liquid: pint.Quantity) -> pint.Quantity:
    return equal_settling_ratio(BARITE, LOW_GRAVITY, liquid)


def _is_clear(n: Known) -> bool:
    """A mud well heavier than its liquid, and a drilled grain that clearly settles faster or slower."""
    grain = n.drilled_grain / (n.grain * _ratio(n.liquid))
    return bool(n.mud_weight >= 1.18 * n.liquid and (grain <= 0.85 or grain >= 1.15))


EXERCISE = Exercise(
    title="Drilled solids that settle like barite",
    level=1,
    version=3,
    outcome=Outcome.EQUAL,
    tolerance=ROUNDING,
    numbers=(
        Number("mud_weight", Grid(10.5, 16.0, 0.1, "lb/gal"), Grid(1260, 1920, 10, "kg/m3")),
        LIQUID,
        CUT_OF_BARITE_BOWL.number("grain", (0.5, "um")),
        Number("drilled_grain", Grid(3.0, 13.0, 0.5, "um")),
    ),
    valid=_is_clear,
    envelope=(
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("cut of barite", lambda n: n.grain, CUT_OF_BARITE_BOWL),
    ),
    setting=(
        "Later in the well the weighted mud of rig Heron 4 weighs {mud_weight}; the liquid between its grains weighs "
        "{liquid}. A centrifuge puts barite of {grain} and coarser into its underflow. Take specific gravities of 4.20 "
        "for barite and 2.60 for drilled solids, and Stokes' law for both."
    ),
    parts=(
        Numeric(
            key="a",
            ask="How many times as large as a grain of barite is the drilled grain that settles as fast?",
            unit="fraction",
            solve=lambda n: _ratio(n.liquid),
            plausible=Range(1.41, 1.48),
            marks=Marks(2),
            slips=(
                turned_round(
                    lambda n: 1 / _ratio(n.liquid), "The drilled grain is lighter, so it must be the larger one."
                ),
                Slip(
                    "mud weight for liquid",
                    lambda n: _ratio(n.mud_weight),
                    "You took the weight of the mud. A grain settles through the liquid between the grains: take its "
                    "density.",
                ),
                Slip(
                    "no square root",
                    lambda n: _ratio(n.liquid) ** 2,
                    "The velocity goes with the square of the diameter: take the square root of the ratio of the "
                    "differences in density.",
                ),
                Slip(
                    "liquid left out",
                    lambda n: (BARITE / LOW_GRAVITY) ** 0.5,
                    "You divided the two densities. What drives a grain down is what it is heavier than the liquid: "
                    "take the liquid off both.",
                ),
            ),
            working=(
                Step(
                    By(
                        "Specific gravity of the liquid, with water of 8.345 lb/gal:", "Specific gravity of the liquid:"
                    ),
                    By("{liquid} / 8.345", "{liquid} / 1000"),
                    "sg",
                    "SG",
                ),
                Step(
                    "Both are pulled down by what they are heavier than the liquid; diameter counts squared.",
                    "sqrt((4.20 - {sg}) / (2.60 - {sg}))",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What is the smallest size of drilled grain that goes to the underflow, in µm?",
            unit="um",
            digits=3,
            uses=("a",),
            solve=lambda n: n.grain * n.a,
            plausible=Range(5.6, 10.4, "um"),
            marks=Marks(1),
            slips=(
                Slip(
                    "divided by the ratio",
                    lambda n: n.grain / n.a,
                    "You divided by the ratio. The drilled grain is the larger one: multiply.",
                ),
                Slip(
                    "same size",
                    lambda n: n.grain,
                    "This is the size of the barite. A lighter grain of that size settles more slowly.",
                ),
            ),
            working=(Step("The size of the barite times the ratio.", "{grain} * {a}", digits=3),),
        ),
        Choice(
            key="c",
            ask="Where does a drilled grain of {drilled_grain} go in this centrifuge?",
            options=(
                Option(
                    "underflow",
                    "To the underflow, back into the mud with the barite.",
                    "Compare the grain with the size in (b). It is finer, so it settles too slowly to get there.",
                ),
                Option(
                    "overflow",
                    "To the overflow, with the liquid.",
                    "Compare the grain with the size in (b). It is coarser, so it settles as fast as barite that is "
                    "kept.",
                ),
                Option(
                    "sorted",
                    "To the overflow whatever its size: a centrifuge sorts drilled solids from barite.",
                    "A centrifuge sorts by settling velocity, not by material. Coarse drilled solids go with the "
                    "barite.",
                    never_right=True,
                ),
            ),
            right=lambda n: "underflow" if n.drilled_grain > n.b else "overflow",
            uses=("b",),
            marks=Marks(1),
            reason="Drilled solids of {b} and coarser settle as fast as the barite that is kept; finer ones do not.",
        ),
    ),
)
