"""Where drilled solids end up if drilling goes on."""

from __future__ import annotations

import pint

from exercises.bank.active_system import Outcome
from exercises.fleet.envelope import DRILLED_SOLIDS
from exercises.fleet.rigs import HERON_4, MIDDLE_HOLE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Method, Numeric, Slip, absolute, relative
from exercises.model.usual_slips import upside_down
from exercises.model.working import Step
from pitside.circuit import SectionPlan, steady_state
from pitside.removal import drilled_solids_rate
from pitside.units import Q

FEW_PERCENT = relative(0.02, because="a rate of drilling and a removal are known to no better than two figures")


def _plan(n: Known) -> SectionPlan:
    """The mud as the setting tells of it: pits kept level by clean mud, and what is dumped leaves as lost mud would.

    Steel is taken to fill the new hole, so that the mud's room in the hole does not grow.
    """
    rock = drilled_solids_rate(n.diameter, n.penetration)
    return SectionPlan(
        hole_diameter=n.diameter,
        length=Q(1000, "ft"),
        rate_of_penetration=n.penetration,
        hole_volume=n.volume / 2,
        pit_volume=n.volume / 2,
        least_pit=n.volume / 2,
        greatest_pit=n.volume,
        removal=n.removal,
        mud_on_cuttings=0.0,
        loss_rate=n.dumped,
        steel_displacement=rock / n.penetration,
    )


def _steady(n: Known) -> pint.Quantity:
    return Q(steady_state(_plan(n)).solids_fraction)


def _is_a_usual_mud(n: Known) -> bool:
    """A steady state between 2 and 9.5 % of drilled solids, reached in hours to a few days."""
    days = (n.volume / n.dumped).m_as("d")
    return bool(0.02 <= _steady(n) <= 0.095 and 0.3 <= days <= 5)


EXERCISE = Exercise(
    title="Where the drilled solids end up",
    level=2,
    version=2,
    outcome=Outcome.BUILD_UP,
    digits=3,
    numbers=(
        Number("diameter", Grid(12.25, 12.25, 0.25, "in"), Grid(311, 311, 1, "mm")),
        Number("penetration", Grid(40, 120, 5, "ft/h"), Grid(13, 36, 1, "m/h")),
        Number("removal", Grid(50, 85, 1, "%")),
        Number("volume", Grid(700, 1300, 20, "bbl"), Grid(115, 205, 5, "m3")),
        Number("dumped", Grid(10, 60, 2, "bbl/h"), Grid(2, 10, 0.5, "m3/h")),
    ),
    valid=_is_a_usual_mud,
    envelope=(
        Within("active mud", lambda n: n.volume, HERON_4.active),
        Within("drilling rate", lambda n: n.penetration, MIDDLE_HOLE.rate),
        Within("drilled solids in the end", lambda n: n.b, DRILLED_SOLIDS),
    ),
    setting=(
        "Rig Heron 4 drills {diameter} hole at {penetration}, without a break. The machines remove {removal} of the "
        "rock; to keep it simple, count no mud with it. The active system holds {volume}, and it is kept at that: "
        "{dumped} of mud is dumped, and the rock that stays and clean mud together take its place. The share of "
        "drilled solids is counted in the mud with the rock in it. The mud that fills the new hole is left out of the "
        "sums; it would take some solids out too. The rock has no pores, the hole no washout."
    ),
    parts=(
        Numeric(
            key="a",
            ask="At what rate does rock stay in the mud?",
            unit=By("bbl/h", "m3/h"),
            solve=lambda n: drilled_solids_rate(n.diameter, n.penetration) * (1 - n.removal),
            plausible=Range(0.5, 10, "bbl/h"),
            tolerance=FEW_PERCENT,
            marks=Marks(2),
            method=(
                Method(
                    "rock",
                    "At what rate is rock drilled?",
                    By("bbl/h", "m3/h"),
                    lambda n: drilled_solids_rate(n.diameter, n.penetration),
                    FEW_PERCENT,
                    marks=1,
                    plausible=Range(3, 20, "bbl/h"),
                ),
            ),
            slips=(
                Slip(
                    "what is removed",
                    lambda n: drilled_solids_rate(n.diameter, n.penetration) * n.removal,
                    "This is the rock that is removed. What stays is the rest: 100 % minus the removal.",
                ),
                Slip(
                    "all the rock",
                    lambda n: drilled_solids_rate(n.diameter, n.penetration),
                    "This is all the rock that is drilled. Take off what the machines remove.",
                ),
            ),
            working=(
                Step(
                    "Rock that is drilled:",
                    By("{diameter}**2 / 1029.4 * {penetration}", "pi / 4 * ({diameter} / 1000)**2 * {penetration}"),
                    "rock",
                    By("bbl/h", "m3/h"),
                    digits=5,
                ),
                Step("What is not removed stays:", "{rock} * (1 - {removal} / 100)"),
            ),
        ),
        Numeric(
            key="b",
            ask="Drilling goes on like this. To what share of the mud do drilled solids rise, in percent?",
            unit="%",
            uses=("a",),
            solve=lambda n: n.a / n.dumped,
            plausible=Range(1.9, 9.7, "%"),
            tolerance=relative(0.02, because="as the rate in (a)"),
            marks=Marks(3),
            slips=(
                Slip(
                    "on the volume of the system",
                    lambda n: n.a * Q(1, "h") / n.volume,
                    "This is what one hour adds to the system. In the end as much rock leaves with the dumped mud as "
                    "stays: divide by the rate of dumping.",
                ),
                upside_down(lambda n: n.dumped / n.a, "The rock that stays goes above the line."),
                Slip(
                    "removal left out",
                    lambda n: drilled_solids_rate(n.diameter, n.penetration) / n.dumped,
                    "You took all the rock that is drilled. Only what the machines leave behind, your answer to (a), "
                    "builds up.",
                ),
            ),
            working=(Step("In the end the dumped mud takes away as much rock as stays.", "100 * {a} / {dumped}"),),
        ),
        Numeric(
            key="c",
            ask=(
                "The mud starts clean. After how many hours do drilled solids stand at 63 % of that share, that is, "
                "when has as much mud been dumped as the system holds?"
            ),
            unit="h",
            solve=lambda n: n.volume / n.dumped,
            plausible=Range(7, 125, "h"),
            tolerance=relative(0.02, because="hours are given to two or three figures"),
            marks=Marks(2),
            slips=(
                upside_down(lambda n: Q(1, "h**2") * n.dumped / n.volume, "The volume goes above the line."),
                Slip(
                    "time to fill the whole system with rock",
                    lambda n: n.volume / (drilled_solids_rate(n.diameter, n.penetration) * (1 - n.removal)),
                    "You divided by the rock that stays. The time follows from the mud that is replaced: divide by "
                    "the rate of dumping.",
                ),
            ),
            working=(Step("The system's volume over the mud dumped each hour.", "{volume} / {dumped}"),),
        ),
        Numeric(
            key="d",
            ask="What share of drilled solids does the mud hold after that time, in percent? Give one decimal.",
            unit="%",
            uses=("b",),
            solve=lambda n: n.b * (1 - 1 / Q(2.718281828459045)),
            plausible=Range(1.2, 6.2, "%"),
            tolerance=absolute(0.15, "%", because="a tenth of a percent, from a share given to a tenth"),
            marks=Marks(1),
            slips=(
                Slip(
                    "steady state at once",
                    lambda n: Q(1.0) * n.b,
                    "This is the share in the end. After this time the mud has come 63 % of the way.",
                ),
                Slip(
                    "what is still missing",
                    lambda n: n.b / Q(2.718281828459045),
                    "This is what is still missing, 37 %. The mud has come 63 % of the way.",
                ),
            ),
            working=(Step("63.2 % of the way:", "{b} * (1 - exp(-1))"),),
        ),
    ),
)
