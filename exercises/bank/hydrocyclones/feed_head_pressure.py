"""The gauge at the feed of the cones."""

from __future__ import annotations

import pint

from exercises.bank.hydrocyclones import FACTORS, Outcome
from exercises.fleet.envelope import UNWEIGHTED_MUD
from exercises.fleet.machines import DESILTER
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, System, mislabelled
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip
from exercises.model.usual_slips import BAR_CALLED_KPA
from exercises.model.working import Step
from pitside.cyclones import feed_pressure, feed_pressure_field, feed_pressure_rule
from pitside.pumps import head_from_pressure
from pitside.units import WATER_4C, Q

#: Head at the manifold in each state that is drawn, ft, clear of the limits.
HEADS = {"low": (48, 67), "good": (72.5, 77.5), "high": (84, 104)}


def _found(n: Numbers) -> pint.Quantity:
    low, high = HEADS[n.state]
    return Q(low + (high - low) * n.place.m_as(""), "ft")


def _judgement(n: Known) -> str:
    if n.b < n.least:
        return "low"
    return "high" if n.b > n.most else "good"


def _clear_of_the_limits(n: Known) -> bool:
    """A head so near to a limit that a rounded factor decides is no fair question."""
    head = head_from_pressure(n.gauge, n.mud_weight)
    return bool(min(abs(head - n.least), abs(head - n.most)) >= Q(2, "ft"))


EXERCISE = Exercise(
    title="The gauge at the desilter",
    level=1,
    version=3,
    outcome=Outcome.FEED,
    tolerance=FACTORS,
    numbers=(
        DESILTER.mud_weight.part(8.8, 9.5).number("mud_weight", (0.1, "lb/gal"), (10, "kg/m3")),
        Number("head", Grid(75, 75, 1, "ft"), Grid(23, 23, 1, "m")),
        Number("least", Grid(70, 70, 1, "ft"), Grid(21, 21, 1, "m")),
        Number("most", Grid(80, 80, 1, "ft"), Grid(25, 25, 1, "m")),
        Pick("state", tuple(HEADS)),
        Number("place", Grid(0, 100, 2, "%")),
        Derived("found_head", _found, By("ft", "m"), By(0, 1)),
        Derived("gauge", lambda n: feed_pressure(n.mud_weight, n.found_head), By("psi", "kPa"), 0),
    ),
    valid=_clear_of_the_limits,
    envelope=(Within("mud without barite", lambda n: n.mud_weight, UNWEIGHTED_MUD),),
    setting=(
        "The cones of the desilter on rig Heron 4 are built for a feed head of {head}. A head between {least} and "
        "{most} is good enough. The mud in the pits, without barite, weighs {mud_weight}. The gauge sits at the feed "
        "manifold."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By(
                "What must the gauge show, in psi, for a head of {head} of this mud?",
                "What must the gauge show, in kPa, for a head of {head} of this mud?",
            ),
            unit=By("psi", "kPa"),
            solve=lambda n: feed_pressure(n.mud_weight, n.head),
            plausible=Range(33, 43, "psi"),
            conventions=(
                Convention("0.052 for lb/gal and ft", lambda n: feed_pressure_field(n.mud_weight, n.head)),
                Convention("four times the mud weight, at 75 ft", lambda n: feed_pressure_rule(n.mud_weight)),
            ),
            marks=Marks(2, unit=1),
            slips=(
                Slip(
                    "head of water",
                    lambda n: feed_pressure(WATER_4C, n.head),
                    "This is the pressure of a head of water. The head is of the mud itself: use the mud weight.",
                ),
                Slip(
                    "feet called psi",
                    lambda n: mislabelled(n.head, "ft", "psi"),
                    "You used the head in feet as if it were the pressure in psi. Multiply the head by 0.052 and the "
                    "mud weight.",
                    only=System.FIELD,
                ),
                BAR_CALLED_KPA.of(lambda n: feed_pressure(n.mud_weight, n.head)),
            ),
            working=(
                Step(
                    By(
                        "Each lb/gal adds 0.05195 psi in each foot (0.052 is near enough).",
                        "Each kg/m³ adds 0.009807 kPa in each metre (0.00981 is near enough).",
                    ),
                    By("0.05195 * {mud_weight} * {head}", "0.009807 * {mud_weight} * {head}"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=By(
                "The gauge shows {gauge}. What head of this mud do the cones get, in ft?",
                "The gauge shows {gauge}. What head of this mud do the cones get, in m?",
            ),
            unit=By("ft", "m"),
            solve=lambda n: head_from_pressure(n.gauge, n.mud_weight),
            plausible=Range(45, 110, "ft"),
            conventions=(
                Convention(
                    "0.052 for lb/gal and ft",
                    lambda n: n.gauge / feed_pressure_field(n.mud_weight, Q(1, "ft")) * Q(1, "ft"),
                ),
            ),
            marks=Marks(2, unit=1),
            slips=(
                Slip(
                    "head of water",
                    lambda n: head_from_pressure(n.gauge, WATER_4C),
                    "This is a head of water. Mud is heavier, so the same pressure is less head: divide by the "
                    "gradient of the mud.",
                ),
                Slip(
                    "multiplied by the specific gravity",
                    lambda n: head_from_pressure(n.gauge, WATER_4C) * (n.mud_weight / WATER_4C),
                    "You multiplied the head of water by the specific gravity. The mud is heavier: divide by it.",
                ),
                Slip(
                    "psi called feet",
                    lambda n: mislabelled(n.gauge, "psi", "ft"),
                    "You used the pressure in psi as if it were the head in feet. Divide it by 0.052 and by the mud "
                    "weight.",
                    only=System.FIELD,
                ),
                Slip(
                    "kilopascals called metres",
                    lambda n: mislabelled(n.gauge, "kPa", "m"),
                    "You used the pressure in kPa as if it were the head in metres. Divide it by 0.00981 and by the "
                    "mud weight.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    "Divide the pressure by what the mud adds to it over each unit of height.",
                    By("{gauge} / (0.05195 * {mud_weight})", "{gauge} / (0.009807 * {mud_weight})"),
                ),
            ),
        ),
        Choice(
            key="c",
            ask="What does this head mean for the cones?",
            options=(
                Option(
                    "low",
                    "Too low: each cone takes less mud, the swirl is weak and the cut gets coarser.",
                    "Compare the head of (b) with the two limits. This one says that it is below the lower limit.",
                ),
                Option(
                    "good",
                    "Good enough: leave pump and valves as they are.",
                    "Compare the head of (b) with the two limits: it does not lie between them.",
                ),
                Option(
                    "high",
                    "Too high: the cones wear fast and the pump takes power for little gain.",
                    "Compare the head of (b) with the two limits. This one says that it is above the upper limit.",
                ),
            ),
            right=_judgement,
            uses=("b",),
            marks=Marks(1),
            reason=(
                "The cones get {b}; {least} to {most} is good enough. Before a valve or a gauge on the manifold is "
                "touched, shut the pump off and let the pressure down, as the rig's own rules say."
            ),
        ),
    ),
)
