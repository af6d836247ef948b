"""How well the retort knows the low-gravity solids."""

from __future__ import annotations

import functools

import pint

from exercises.bank.solids import REFERENCE_WATER, Outcome
from exercises.fleet.envelope import DRILLED_SOLIDS, WEIGHTED_MUD
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip, relative
from exercises.model.possible import RATIO
from exercises.model.working import Step
from pitside.retort import low_gravity_fraction
from pitside.uncertainty import (
    ErrorSource,
    LowGravityUncertainty,
    ReadingErrors,
    RetortReadings,
    low_gravity_uncertainty,
)
from pitside.units import WATER_4C, Q

WEIGHT, WATER, BARITE = ErrorSource.MUD_WEIGHT, ErrorSource.WATER, ErrorSource.HIGH_GRAVITY_DENSITY
TWO_FIGURES = relative(0.05, because="an uncertainty is given to two figures, which rounds 1.05 to 1.1")


@functools.lru_cache(maxsize=64)
def _found(numbers: Numbers) -> LowGravityUncertainty:
    readings = RetortReadings(numbers.mud_weight, numbers.water)
    errors = ReadingErrors(
        mud_weight=numbers.weight_error, water=numbers.water_error, high_gravity_density=numbers.barite_error
    )
    return low_gravity_uncertainty(readings, errors)


def _alone(n: Known, source: ErrorSource) -> pint.Quantity:
    """What this error alone makes of the low-gravity solids."""
    return _found(n.drawn).contributions[source]


def _barite(n: Numbers) -> pint.Quantity:
    return Q(1.0) - n.water - low_gravity_fraction(n.mud_weight, Q(1.0) - n.water, WATER_4C)


def _from_barite(n: Known) -> pint.Quantity:
    """From the share of barite as the setting prints it."""
    return n.barite * n.barite_error / Q(1.60, "SG")


def _worked_again(n: Known, sign: int) -> pint.Quantity:
    """How far the formula moves when B is greater or less by its error, with the share of barite as printed."""
    return n.barite * n.barite_error / (Q(1.60, "SG") + sign * n.barite_error)


def _other_barite(n: Known) -> pint.Quantity:
    return n.other_barite * n.barite_error / Q(1.60, "SG")


def _together(*parts: pint.Quantity) -> pint.Quantity:
    return sum(part.to("") ** 2 for part in parts) ** 0.5  # type: ignore[operator]


def _greatest(weight: pint.Quantity, water: pint.Quantity, barite: pint.Quantity) -> str:
    shares = {"balance": weight, "water": water, "barite": barite}
    return max(shares, key=lambda key: shares[key].m_as(""))


def _is_clear(n: Known) -> bool:
    """A weighted mud with both kinds of solids, and one error that is clearly the greatest."""
    low = _found(n.drawn).low_gravity
    if not (low >= 0.025 and low <= 0.10 and n.barite >= 1.4 * n.other_barite):
        return False
    shares = sorted(_alone(n, source).m_as("") for source in (WEIGHT, WATER, BARITE))
    return shares[2] >= 1.2 * shares[1]


EXERCISE = Exercise(
    title="How well the retort knows the low-gravity solids",
    level=2,
    version=2,
    outcome=Outcome.UNCERTAINTY,
    tolerance=TWO_FIGURES,
    digits=2,
    numbers=(
        Number("mud_weight", Grid(11.5, 16.5, 0.1, "lb/gal"), Grid(1380, 1980, 10, "kg/m3")),
        Number("water", Grid(60.0, 84.0, 0.5, "%")),
        Number("weight_error", Grid(0.05, 0.20, 0.01, "lb/gal"), Grid(6, 24, 1, "kg/m3")),
        Number("water_error", Grid(0.20, 0.60, 0.05, "%")),
        Number("barite_error", Grid(0.03, 0.12, 0.01, "SG")),
        Number("other_barite", Grid(3, 9, 0.5, "%")),
        Derived("barite", _barite, "%", 1),
    ),
    valid=_is_clear,
    envelope=(
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("low-gravity solids", lambda n: _found(n.drawn).low_gravity, DRILLED_SOLIDS),
    ),
    setting=By.each(
        lambda system: (
            "The fresh-water mud of rig Heron 4 weighs {mud_weight} and holds {water} water, the mean of several "
            "retorts; its barite comes out at {barite} of the mud. Each figure is a little uncertain (standard "
            "uncertainties): the balance by {weight_error}, the share of water by {water_error} of the mud, the "
            "specific gravity of the barite, 4.20, by {barite_error}. The three errors are independent of each other. "
            "Low-gravity solids have a specific gravity of "
            "2.60, and take " + REFERENCE_WATER.of(system) + ". As a share of the mud, "
            "low-gravity solids = (B × solids − mass of solids) / (B − 2.60). B is the specific gravity of the barite, "
            "4.20, so that B − 2.60 is 1.60. Solids are all that is not water. Their mass is the specific gravity of "
            "the mud − the share of water × 1.00. So an error of the water moves both."
        )
    ),
    parts=(
        Numeric(
            key="a",
            ask=(
                "What standard uncertainty of the low-gravity solids comes from the balance alone? Give it in percent "
                "of the mud."
            ),
            unit="%",
            solve=lambda n: _alone(n, WEIGHT),
            plausible=Range(0.3, 1.6, "%"),
            possible=RATIO,
            marks=Marks(1),
            slips=(
                Slip(
                    "not divided by 1.60",
                    lambda n: _alone(n, WEIGHT) * 1.60,
                    "This is how uncertain the mass is. In the formula it is divided by 1.60, the difference of the "
                    "two specific gravities.",
                ),
                Slip(
                    "multiplied by 1.60",
                    lambda n: _alone(n, WEIGHT) * 1.60**2,
                    "You multiplied by 1.60. In the formula the mass is divided by 1.60.",
                ),
            ),
            working=(
                Step(
                    By(
                        "As specific gravity, times 100 for percent, over 1.60 (7.5 points for each lb/gal):",
                        "As specific gravity, times 100 for percent, over 1.60:",
                    ),
                    By("100 * {weight_error} / 8.345 / 1.60", "100 * {weight_error} / 1000 / 1.60"),
                    digits=3,
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What standard uncertainty comes from the share of water alone? Give it in percent of the mud.",
            unit="%",
            solve=lambda n: _alone(n, WATER),
            plausible=Range(0.3, 1.3, "%"),
            possible=RATIO,
            marks=Marks(1),
            slips=(
                Slip(
                    "point for point",
                    lambda n: n.water_error,
                    "You let a point of water be a point of low-gravity solids. It moves the solids and what the "
                    "liquid weighs, and both count.",
                ),
                Slip(
                    "liquid forgotten",
                    lambda n: n.water_error * 4.20 / 1.60,
                    "You took 4.20 / 1.60 points for each point of water. Less solids is more water, which weighs 1: "
                    "take (4.20 − 1) / 1.60.",
                ),
            ),
            working=(
                Step(
                    "A point of water for a point of barite changes the sum by 4.20 − 1: two points for each.",
                    "{water_error} * (4.20 - 1) / 1.60",
                    digits=3,
                ),
            ),
        ),
        Numeric(
            key="c",
            ask=(
                "What standard uncertainty comes from the specific gravity of the barite alone, in percent of the mud? "
                "B stands twice in the formula. Two methods are accepted: share of barite × error / (B − 2.60), or the "
                "difference between the formula with B and with B changed by its error."
            ),
            unit="%",
            solve=lambda n: _from_barite(n),
            plausible=Range(0.1, 3, "%"),
            possible=RATIO,
            conventions=(
                Convention("worked again with B greater by its error", lambda n: _worked_again(n, 1)),
                Convention("worked again with B less by its error", lambda n: _worked_again(n, -1)),
            ),
            marks=Marks(1),
            slips=(
                Slip(
                    "not divided by 1.60",
                    lambda n: n.barite * n.barite_error / WATER_4C,
                    "This is how uncertain the mass of the barite is. Divide it by 1.60.",
                ),
                Slip(
                    "all solids for the barite",
                    lambda n: (1 - n.water) * n.barite_error / Q(1.60, "SG"),
                    "You kept B − 2.60 as it was. B stands below the line too: what is left over is the share of "
                    "barite, not of all solids.",
                ),
                Slip(
                    "all of the mud",
                    lambda n: n.barite_error / Q(1.60, "SG"),
                    "You let the whole mud be barite. Multiply by its share of the mud.",
                ),
                Slip(
                    "share of 4.20",
                    lambda n: n.barite * n.barite_error / Q(4.20, "SG"),
                    "You divided by 4.20. In the formula the mass is divided by 1.60.",
                ),
            ),
            working=(
                Step("The share of barite times its error, over 1.60.", "{barite} * {barite_error} / 1.60", digits=3),
            ),
        ),
        Numeric(
            key="d",
            ask="What is the standard uncertainty of the low-gravity solids from all three, in percent of the mud?",
            unit="%",
            uses=("a", "b", "c"),
            solve=lambda n: _together(n.a, n.b, n.c),
            plausible=Range(0.5, 4, "%"),
            possible=RATIO,
            marks=Marks(2),
            slips=(
                Slip(
                    "added straight",
                    lambda n: n.a + n.b + n.c,
                    "You added the three. Errors that have nothing to do with each other seldom all pull one way: add "
                    "their squares and take the root.",
                ),
                Slip(
                    "root left out",
                    lambda n: _together(n.a, n.b, n.c).m_as("%") ** 2 * Q(1, "%"),
                    "You added the squares. Take the square root of the sum.",
                ),
                Slip(
                    "mean of the three",
                    lambda n: (n.a + n.b + n.c) / 3,
                    "You took the mean of the three. Together they make more than each alone: add their squares and "
                    "take the root.",
                ),
            ),
            working=(Step("The root of the sum of the squares.", "sqrt({a}**2 + {b}**2 + {c}**2)", digits=3),),
        ),
        Choice(
            key="e",
            ask="Which of these helps most to know the low-gravity solids better?",
            options=(
                Option(
                    "balance",
                    "A better balance for the mud weight",
                    "Look at your three figures: another one is greater. Squared, the greatest counts nearly alone.",
                ),
                Option(
                    "water",
                    "A larger retort cup, in which water is read more closely",
                    "Look at your three figures: another one is greater. Squared, the greatest counts nearly alone.",
                ),
                Option(
                    "barite",
                    "A measured specific gravity of the barite",
                    "Look at your three figures: another one is greater. Squared, the greatest counts nearly alone.",
                ),
            ),
            right=lambda n: _greatest(n.a, n.b, n.c),
            uses=("a", "b", "c"),
            marks=Marks(1),
            reason=(
                "Of {a} from the balance, {b} from the water and {c} from the barite the greatest is improved first."
            ),
        ),
        Numeric(
            key="f",
            ask=(
                "A lighter mud holds only {other_barite} barite and is read with the same balance, the same retort and "
                "the same errors. What is the standard uncertainty of its low-gravity solids, in percent of the mud?"
            ),
            unit="%",
            uses=("a", "b"),
            solve=lambda n: _together(n.a, n.b, _other_barite(n)),
            plausible=Range(0.5, 2.5, "%"),
            possible=RATIO,
            marks=Marks(1),
            slips=(
                Slip(
                    "all scaled with the barite",
                    lambda n: _together(n.a, n.b, _from_barite(n)) * (n.other_barite / n.barite),
                    "You scaled the whole of it. Nothing in (a) and (b) holds the barite or the mud weight: they stay. "
                    "Only (c) falls.",
                ),
                Slip(
                    "added straight",
                    lambda n: n.a + n.b + _other_barite(n),
                    "You added the three. Add their squares and take the root, as in (d).",
                ),
            ),
            working=(
                Step("The part from the barite, as in (c):", "{other_barite} * {barite_error} / 1.60", "part", "%", 3),
                Step(
                    "Balance and water move the solids by the same points in every weighted mud.",
                    "sqrt({a}**2 + {b}**2 + {part}**2)",
                    digits=3,
                ),
            ),
        ),
    ),
)
