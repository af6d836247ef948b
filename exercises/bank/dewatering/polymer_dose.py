"""From the dose of the jars to the dosing pump."""

from __future__ import annotations

import pint

from exercises.bank.dewatering import Outcome
from exercises.fleet.envelope import FINES_BOWL_FEED
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Numeric, Slip, relative
from exercises.model.usual_slips import turned_round
from exercises.model.working import Step
from pitside.dewatering import polymer_use, solution_flow


def _flow(n: Known) -> pint.Quantity:
    return solution_flow(n.feed, n.dose, n.strength)


EXERCISE = Exercise(
    title="The dosing pump",
    level=1,
    version=2,
    outcome=Outcome.DOSE,
    tolerance=relative(0.02, because="the pump is set to half a gal/min or a tenth of a m³/h; the balance is exact"),
    numbers=(
        Number("feed", Grid(40, 110, 5, "gal/min"), Grid(9, 25, 0.5, "m3/h")),
        Number("dose", Grid(0.10, 0.40, 0.02, "lb/bbl"), Grid(0.30, 1.15, 0.05, "kg/m3")),
        Number("strength", Grid(1.0, 1.8, 0.1, "lb/bbl"), Grid(3.0, 5.0, 0.2, "kg/m3")),
        Number("hours", Grid(8, 22, 1, "h")),
    ),
    valid=lambda n: 0.06 <= (n.dose / n.strength).m_as("") <= 0.3,
    envelope=(
        Within("feed of the bowl", lambda n: n.feed, FINES_BOWL_FEED),
        Within("dose", lambda n: n.dose, Usual(0.05, 0.40, "lb/bbl")),
    ),
    setting=(
        "Rig Heron 4 dewaters its spare mud with a centrifuge. The jars asked for {dose} of dry flocculant in the mud "
        "that is fed. The made-up solution holds {strength} of it. The feed is {feed} of mud, for {hours} a day. "
        "Polymer on the floor is as slippery as ice: whatever is spilt is cleared at once, dry, by the rig's own rules."
    ),
    parts=(
        Numeric(
            key="a",
            ask="To what flow do you set the dosing pump?",
            unit=By("gal/min", "m3/h"),
            solve=_flow,
            plausible=Range(2.2, 34, "gal/min"),
            marks=Marks(2),
            slips=(
                turned_round(
                    lambda n: n.feed * n.strength / n.dose, "A stronger solution needs less flow: divide by it."
                ),
                Slip(
                    "strength left out",
                    lambda n: n.feed * n.dose.m_as("lb/bbl"),
                    "You multiplied by the dose alone. The pump moves solution: divide by what a volume of it holds.",
                ),
            ),
            working=(Step("Feed times dose, over the strength:", "{feed} * {dose} / {strength}"),),
        ),
        Numeric(
            key="b",
            ask="How much dry flocculant does a day use?",
            unit=By("lb", "kg"),
            solve=lambda n: polymer_use(n.feed, n.dose, n.hours),
            plausible=Range(40, 1500, "lb"),
            marks=Marks(2),
            slips=(
                Slip(
                    "strength for dose",
                    lambda n: polymer_use(n.feed, n.strength, n.hours),
                    "You used the strength of the solution as if it were the dose. The dose is what each volume of "
                    "mud gets.",
                ),
                Slip(
                    "a whole day",
                    lambda n: polymer_use(n.feed, n.dose, n.hours) * (24 / n.hours.m_as("h")),
                    "You counted 24 hours. The machine is fed for {hours}.",
                ),
            ),
            working=(
                Step(
                    By("Feed in barrels an hour, times dose, times hours:", "Feed times dose times hours:"),
                    By("{feed} * 60 / 42 * {dose} * {hours}", "{feed} * {dose} * {hours}"),
                ),
            ),
        ),
    ),
)
