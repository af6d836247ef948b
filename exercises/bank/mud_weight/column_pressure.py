"""Pressure of the mud column."""

from __future__ import annotations

import pint

from exercises.bank.mud_weight import ANY_MUD, AS_WRITTEN_DOWN, Outcome
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, System, mislabelled
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip, relative
from exercises.model.usual_slips import BAR_CALLED_KPA
from exercises.model.working import Step
from pitside.hydrostatics import (
    FACTOR_SG,
    column_pressure,
    column_pressure_field,
    equivalent_mud_weight,
    equivalent_mud_weight_field,
)
from pitside.units import Q


def _static_weight(n: Known) -> pint.Quantity:
    """The mud weight that goes with the answer to (a)."""
    return equivalent_mud_weight(n.a, n.vertical_depth)


def _judgement(n: Known) -> str:
    static = _static_weight(n)
    if static < n.pore:
        return "light"
    if static >= n.fracture:
        return "heavy"
    return "circulating" if n.b >= n.fracture else "fits"


def _circulating(n: Known | Numbers) -> pint.Quantity:
    return equivalent_mud_weight(column_pressure(n.mud_weight, n.vertical_depth) + n.friction, n.vertical_depth)


def _fracture(n: Numbers) -> pint.Quantity:
    """What the rock holds: below the mud, between the mud at rest and in motion, or above both, as the case asks."""
    return {
        "heavy": n.mud_weight - n.clearance,
        "circulating": (n.mud_weight + _circulating(n)) / 2,
        "fits": _circulating(n) + n.clearance,
        "light": n.mud_weight + n.window,
    }[n.case]


def _pore(n: Numbers) -> pint.Quantity:
    return {
        "heavy": n.fracture - n.window,
        "circulating": n.mud_weight - n.clearance,
        "fits": n.mud_weight - n.clearance,
        "light": n.mud_weight + n.clearance,
    }[n.case]


#: Friction in an annulus by its length; more is rare: common practice, no source.
MOST_FRICTION = Q(0.035, "psi/ft")


def _column_can_be_judged(n: Known) -> bool:
    """Depths of a deviated well, rock limits near the mud, and none so near that rounding decides."""
    if not 1.06 <= n.measured_depth / n.vertical_depth <= 1.4 or n.friction / n.measured_depth > MOST_FRICTION:
        return False
    weight, pore, fracture = (q.m_as("lb/gal") for q in (n.mud_weight, n.pore, n.fracture))
    if not (pore >= 8.6 and 0.7 <= fracture - pore <= 2.5):
        return False
    circulating = _circulating(n).m_as("lb/gal")
    clear = min(abs(weight - pore), abs(weight - fracture), abs(circulating - fracture))
    return bool(clear >= 0.17)


EXERCISE = Exercise(
    title="Pressure of the mud column",
    level=2,
    version=5,
    outcome=Outcome.PRESSURE,
    numbers=(
        Number("measured_depth", Grid(6500, 18000, 50, "ft"), Grid(2000, 5500, 10, "m")),
        Number("vertical_depth", Grid(6000, 14000, 50, "ft"), Grid(1800, 4300, 10, "m")),
        Number("mud_weight", Grid(9.6, 15.5, 0.1, "lb/gal"), Grid(1150, 1860, 10, "kg/m3")),
        Number("friction", Grid(150, 450, 10, "psi"), Grid(1000, 3000, 50, "kPa")),
        Pick("case", ("heavy", "circulating", "circulating", "fits", "light")),  # many of the second are not valid
        Number("clearance", Grid(0.2, 0.6, 0.1, "lb/gal"), Grid(20, 70, 10, "kg/m3")),
        Number("window", Grid(1.0, 2.2, 0.1, "lb/gal"), Grid(120, 260, 10, "kg/m3")),
        Derived("fracture", _fracture, By("lb/gal", "kg/m3"), By(1, -1)),
        Derived("pore", _pore, By("lb/gal", "kg/m3"), By(1, -1)),
    ),
    valid=_column_can_be_judged,
    envelope=(
        Within("mud weight", lambda n: n.mud_weight, ANY_MUD),
        Within("pore pressure", lambda n: n.pore, ANY_MUD),
    ),
    setting=(
        "Rig Heron 4 drills a deviated section of well Marram-1. The bit is at a measured depth of {measured_depth}; "
        "the true vertical depth is {vertical_depth}. The hole is full of mud of {mud_weight}. The pumps are off."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By(
                "What is the pressure of the mud column at the bit, in psi?",
                "What is the pressure of the mud column at the bit, in kPa?",
            ),
            unit=By("psi", "kPa"),
            solve=lambda n: column_pressure(n.mud_weight, n.vertical_depth),
            plausible=Range(2500, 12_000, "psi"),
            conventions=(
                Convention("0.052 for lb/gal and ft", lambda n: column_pressure_field(n.mud_weight, n.vertical_depth)),
                Convention(
                    "0.00981 for kg/m3 and m",
                    lambda n: column_pressure_field(n.mud_weight, n.vertical_depth, FACTOR_SG),
                ),
            ),
            tolerance=relative(0.01, because="rounded factors move it by 0.1 %; a rounded gradient by up to 0.7 %"),
            marks=Marks(2, unit=1),
            slips=(
                Slip(
                    "measured depth",
                    lambda n: column_pressure(n.mud_weight, n.measured_depth),
                    "You used the measured depth. Only the height of the column counts: use the true vertical depth.",
                ),
                Slip(
                    "gradient of water on lb/gal",
                    lambda n: column_pressure(mislabelled(n.mud_weight, "lb/gal", "SG"), n.vertical_depth),
                    "You multiplied lb/gal by 0.433, which belongs to specific gravity. With lb/gal use 0.052.",
                    only=System.FIELD,
                ),
                Slip(
                    "specific gravity with 0.052",
                    lambda n: column_pressure_field(mislabelled(n.mud_weight, "SG", "lb/gal"), n.vertical_depth),
                    "You multiplied the specific gravity by 0.052, which belongs to lb/gal. Use lb/gal with 0.052.",
                    only=System.FIELD,
                ),
                Slip(
                    "metres with 0.052",
                    lambda n: column_pressure_field(n.mud_weight, mislabelled(n.vertical_depth, "m", "ft")),
                    "You turned the depth into metres, but 0.052 belongs to feet. Keep the depth in feet.",
                    only=System.FIELD,
                ),
                BAR_CALLED_KPA.of(lambda n: column_pressure(n.mud_weight, n.vertical_depth)),
                Slip(
                    "0.0981 with kg/m3",
                    lambda n: mislabelled(
                        column_pressure_field(mislabelled(n.mud_weight, "kg/m3", "SG"), n.vertical_depth, FACTOR_SG),
                        "bar",
                        "kPa",
                    ),
                    "You multiplied kg/m³ by 0.0981, which turns specific gravity and metres into bar. "
                    "With kg/m³ use 0.00981; the result is in kPa.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    By(
                        "Take the true vertical depth. "
                        "Each lb/gal adds 0.05195 psi in each foot (0.052 is near enough).",
                        "Take the true vertical depth. "
                        "Each kg/m³ adds 0.009807 kPa in each metre (0.00981 is near enough).",
                    ),
                    By("0.05195 * {mud_weight} * {vertical_depth}", "0.009807 * {mud_weight} * {vertical_depth}"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=By(
                "Now the pumps run. Friction in the annulus adds {friction} at the bit. "
                "What is the equivalent mud weight at the bit, in lb/gal? Give two decimals.",
                "Now the pumps run. Friction in the annulus adds {friction} at the bit. "
                "What is the equivalent mud weight at the bit, in kg/m³?",
            ),
            unit=By("lb/gal", "kg/m3"),
            uses=("a",),
            solve=lambda n: equivalent_mud_weight(n.a + n.friction, n.vertical_depth),
            plausible=Range(9.6, 18.0, "lb/gal"),
            conventions=(
                Convention(
                    "0.052 for lb/gal and ft", lambda n: equivalent_mud_weight_field(n.a + n.friction, n.vertical_depth)
                ),
                Convention(
                    "0.00981 for kg/m3 and m",
                    lambda n: equivalent_mud_weight_field(n.a + n.friction, n.vertical_depth, FACTOR_SG),
                ),
            ),
            tolerance=AS_WRITTEN_DOWN,
            marks=Marks(2, unit=1),
            slips=(
                Slip(
                    "friction left out",
                    _static_weight,
                    "This is the weight of the mud at rest. Add the friction to the pressure of (a), then turn the sum "
                    "into a mud weight.",
                ),
                Slip(
                    "friction alone",
                    lambda n: equivalent_mud_weight(n.friction, n.vertical_depth),
                    "This is only what the friction adds. The mud column presses as well: add both pressures first.",
                ),
                Slip(
                    "measured depth",
                    lambda n: equivalent_mud_weight(n.a + n.friction, n.measured_depth),
                    "You divided by the measured depth. An equivalent mud weight rests on the true vertical depth.",
                ),
            ),
            working=(
                Step(
                    "While the pumps run, the friction adds to the pressure of the column.",
                    "{a} + {friction}",
                    "pressure",
                    By("psi", "kPa"),
                ),
                Step(
                    "Find the weight of the mud that would give this pressure at rest.",
                    By("{pressure} / (0.05195 * {vertical_depth})", "{pressure} / (0.009807 * {vertical_depth})"),
                ),
            ),
        ),
        Choice(
            key="c",
            ask=(
                "Now the bit drills into another rock. Its pore pressure equals a mud weight of {pore}, and it breaks "
                "at an equivalent mud weight of {fracture}. What follows from your answers?"
            ),
            options=(
                Option(
                    "fits",
                    "With the pumps off the mud holds back the fluid in the rock, "
                    "and with the pumps on the rock does not break.",
                    "One of the limits is passed. Compare the mud weight at rest with the first limit, "
                    "and your answer to (b) with the second.",
                ),
                Option(
                    "light",
                    "The mud is too light: with the pumps off, fluid can flow from the rock into the hole. Tell the "
                    "driller at once: he checks for flow now, and shuts the well in if it flows.",
                    "With the pumps off the mud weight is above the pore pressure, so the fluid stays in the rock.",
                ),
                Option(
                    "circulating",
                    "With the pumps off the mud holds back the fluid in the rock, "
                    "but with the pumps on the rock breaks and mud may be lost. Tell the driller at once.",
                    "First compare the mud weight at rest with both limits. Then compare your answer to (b) with the "
                    "weight at which the rock breaks.",
                ),
                Option(
                    "heavy",
                    "The mud is too heavy: even with the pumps off the rock breaks and mud may be lost. Tell the "
                    "driller at once.",
                    "With the pumps off the mud weighs less than the weight at which the rock breaks.",
                ),
            ),
            right=_judgement,
            uses=("a", "b"),
            marks=Marks(2),
            outcome=Outcome.JUDGING,
            reason=(
                "With the pumps off the mud weight is {mud_weight}; with the pumps on it is equivalent to {b}. The "
                "first must be above {pore}, and both must stay below {fracture}. Whoever finds a mud too light or too "
                "heavy tells the driller at once, and does not wait for the end of the sum. What is done then is "
                "decided by the people who are certified for well control."
            ),
        ),
    ),
)
