"""Weighting up with room in the pits."""

from __future__ import annotations

import pint

from exercises.bank.mud_weight import ANY_MUD
from exercises.bank.weighting import MUD_TO_WEIGHT_UP, SUM_OF_VOLUMES, TO_ONE_PERCENT, Outcome
from exercises.fleet.envelope import BARITE_IN_BULK, WEIGHTED_MUD
from exercises.fleet.rigs import HERON_4, MIDDLE_HOLE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, System, mislabelled
from exercises.model.parts import Convention, Known, Marks, Numeric, Slip, relative
from exercises.model.usual_slips import (
    GALLONS_CALLED_BARRELS,
    KILOGRAMS_CALLED_TONNES,
    LITRES_CALLED_CUBIC_METRES,
    MINUTES_CALLED_HOURS,
    POUNDS_CALLED_SACKS,
    forty_two_left_out,
)
from exercises.model.working import Step
from pitside.materials import BARITE
from pitside.units import Q
from pitside.weighting import start_volume, weighting_mass, weighting_mass_fixed_final


def _barite_growing(n: Known) -> pint.Quantity:
    return weighting_mass(n.volume, n.mud_weight, n.target, n.barite)


def _circulation(n: Known) -> pint.Quantity:
    """The flow that takes the mud round once while the barite is mixed in."""
    return n.volume * n.rate / _barite_growing(n)


EXERCISE = Exercise(
    title="Weighting up with room in the pits",
    level=2,
    version=4,
    outcome=Outcome.WEIGHTING_UP,
    tolerance=TO_ONE_PERCENT,
    numbers=(
        Number("volume", Grid(700, 1300, 10, "bbl"), Grid(112, 205, 1, "m3")),
        *MUD_TO_WEIGHT_UP,
        Number("rate", Grid(4, 13, 1, "sack/min"), Grid(180, 590, 10, "kg/min")),
    ),
    valid=lambda n: (
        0.8 <= (n.target - n.mud_weight).m_as("lb/gal") <= 3.0
        and _circulation(n).m_as("gal/min") <= MIDDLE_HOLE.flow.high
    ),
    envelope=(
        Within("active mud", lambda n: n.volume, HERON_4.active),
        Within("mud weight", lambda n: n.mud_weight, ANY_MUD),
        Within("target", lambda n: n.target, WEIGHTED_MUD),
        Within("barite in bulk", lambda n: n.rate, BARITE_IN_BULK),
    ),
    setting=(
        "Rig Heron 4 has {volume} of mud of {mud_weight} in hole and pits. The next section of well Marram-1 needs "
        "{target}. There is room in the pits: no mud is moved out, and the volume grows. Take the density of barite as "
        "{barite}. The barite comes in bulk, from a silo, by air, and goes in by the steps of the "
        "programme, each spread evenly over at least one circulation. The driller and the mud logger are told before "
        "the first barite goes in. Barite dust harms the lungs: masks stay on, and a hose is opened only when no "
        "pressure is left in it."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By("How many sacks of barite of 100 lb are needed?", "How many tonnes of barite are needed?"),
            unit=By("sack", "t"),
            solve=_barite_growing,
            plausible=Range(200, 4000, "sack"),
            conventions=(
                Convention("barite of SG 4.20", lambda n: weighting_mass(n.volume, n.mud_weight, n.target, BARITE)),
            ),
            marks=Marks(3),
            slips=(
                Slip(
                    "old weight below the line",
                    lambda n: weighting_mass_fixed_final(n.volume, n.mud_weight, n.target, n.barite),
                    "You divided by barite minus the old mud weight. The barite must lift its own volume to the "
                    "target too: divide by barite minus the target.",
                ),
                Slip(
                    "volume of the barite left out",
                    lambda n: n.volume * (n.target - n.mud_weight),
                    "You only multiplied the volume by the rise in weight. The barite takes up volume, and that "
                    "volume must reach the target too: use the formula for weighting up.",
                ),
                forty_two_left_out(_barite_growing, "Use 1470 (35 times 42), not 35, above the line."),
                Slip(
                    "for 100 bbl only",
                    lambda n: weighting_mass(Q(100, "bbl"), n.mud_weight, n.target, n.barite),
                    "This is enough for 100 bbl of mud. Scale it to the volume in the pits.",
                    only=System.FIELD,
                ),
                POUNDS_CALLED_SACKS.of(_barite_growing),
                KILOGRAMS_CALLED_TONNES.of(_barite_growing),
            ),
            working=(
                Step(
                    By(
                        "Barite for each barrel of mud (42 gal). Below the line stands the target, not the old weight.",
                        "Barite for each cubic metre of mud. Below the line stands the target, not the old weight.",
                    ),
                    By(
                        "42 * {barite} * ({target} - {mud_weight}) / ({barite} - {target})",
                        "{barite} * ({target} - {mud_weight}) / ({barite} - {target})",
                    ),
                    "share",
                    By("lb/bbl", "kg/m3"),
                    digits=5,
                ),
                Step(
                    By("For the whole volume, in sacks of 100 lb:", "For the whole volume, in tonnes of 1000 kg:"),
                    By("{share} * {volume} / 100", "{share} * {volume} / 1000"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=By("By how many barrels does the volume grow?", "By how many cubic metres does the volume grow?"),
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda n: n.a / n.barite,
            plausible=Range(15, 280, "bbl"),
            conventions=(Convention("barite of SG 4.20", lambda n: n.a / BARITE),),
            marks=Marks(2),
            slips=(
                Slip(
                    "density of the mud for the barite",
                    lambda n: n.a / n.target,
                    "You divided the barite by the mud weight. Barite is much denser than mud: divide by the density "
                    "of barite.",
                ),
                Slip(
                    "old weight below the line",
                    lambda n: n.volume - start_volume(n.volume, n.mud_weight, n.target, n.barite),
                    "You divided by barite minus the old mud weight, which belongs to a fixed final volume. Divide "
                    "the mass of (a) by the density of barite.",
                ),
                GALLONS_CALLED_BARRELS.of(lambda n: n.a / n.barite, "rise"),
                LITRES_CALLED_CUBIC_METRES.of(lambda n: n.a / n.barite, "rise"),
            ),
            working=(
                Step(
                    By(
                        "The mud grows by the volume of the barite itself. A barrel holds 42 gal.",
                        "The mud grows by the volume of the barite itself.",
                    ),
                    By("{a} * 100 / (42 * {barite})", "{a} * 1000 / {barite}"),
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="What is the volume of mud after the barite is mixed in?",
            unit=By("bbl", "m3"),
            uses=("b",),
            solve=lambda n: n.volume + n.b,
            plausible=Range(690, 1600, "bbl"),
            tolerance=SUM_OF_VOLUMES,
            marks=Marks(1),
            slips=(
                Slip(
                    "volume kept as it was",
                    lambda n: n.volume,
                    "This is the volume before. The barite adds its own volume: add your answer to (b).",
                ),
                Slip(
                    "rise taken off",
                    lambda n: n.volume - n.b,
                    "You took the rise off. Nothing is moved out here: add it.",
                ),
                Slip(
                    "rise alone",
                    lambda n: n.b,
                    "This is the rise of (b) again. Add it to the volume that was in the pits.",
                ),
            ),
            working=(Step("The volume before, and the rise.", "{volume} + {b}"),),
        ),
        Numeric(
            key="d",
            ask="The crew mixes barite at {rate}. How many hours does the mixing take, pauses left out?",
            unit="h",
            uses=("a",),
            solve=lambda n: n.a / n.rate,
            plausible=Range(0.3, 16, "h"),
            tolerance=relative(0.02, because="hours are given to a tenth, or to a few minutes"),
            marks=Marks(1, unit=1),
            outcome=Outcome.PLANNING,
            slips=(
                MINUTES_CALLED_HOURS.of(lambda n: n.a / n.rate),
                Slip(
                    "pounds divided by sacks",
                    lambda n: mislabelled(n.a, "lb", "sack") / n.rate,
                    "You divided pounds by sacks a minute. Use sacks above the line as well.",
                    only=System.FIELD,
                ),
                Slip(
                    "tonnes divided by kilograms",
                    lambda n: mislabelled(n.a, "t", "kg") / n.rate,
                    "You divided tonnes by kilograms a minute. Turn the tonnes into kilograms first.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step("Time in minutes:", By("{a} / {rate}", "{a} * 1000 / {rate}"), "minutes", "min"),
                Step("In hours:", "{minutes} / 60"),
            ),
        ),
    ),
)
