"""Cutting back while the volume grows."""

from __future__ import annotations

import pint

from exercises.bank.cutting_back import EXACT_BALANCE, READ_ON_A_BALANCE, Outcome, together
from exercises.bank.weighting import SUM_OF_VOLUMES
from exercises.fleet.envelope import DRILLED_SOLIDS, MUD_ON_THE_RIG, WEIGHTED_MUD
from exercises.fleet.rigs import HERON_4
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, mislabelled
from exercises.model.parts import Known, Marks, Numeric, Slip, relative
from exercises.model.working import Step
from pitside.dilution import dilution_volume, mixed_density, mixed_fraction, replacement_volume
from pitside.units import Q


def _weight_with(n: Known, liquid: pint.Quantity) -> pint.Quantity:
    """Weight of the mud with so much liquid in it."""
    return mixed_density(together(n.volume, liquid), together(n.mud_weight, n.liquid))


EXERCISE = Exercise(
    title="Cutting back with room in the pits",
    level=2,
    version=4,
    outcome=Outcome.CUTTING_BACK,
    numbers=(
        Number("volume", Grid(700, 1200, 10, "bbl"), Grid(112, 190, 1, "m3")),
        Number("mud_weight", Grid(10.5, 14.5, 0.1, "lb/gal"), Grid(1260, 1740, 10, "kg/m3")),
        Number("target", Grid(9.5, 13.0, 0.1, "lb/gal"), Grid(1140, 1560, 10, "kg/m3")),
        Number("liquid", Grid(8.4, 9.0, 0.1, "lb/gal"), Grid(1010, 1080, 10, "kg/m3")),
        Number("share", Grid(35, 65, 5, "%")),
        Number("low_gravity", Grid(5.0, 9.0, 0.5, "%")),
    ),
    valid=lambda n: (
        0.8 <= (n.mud_weight - n.target).m_as("lb/gal") <= 2.5
        and dilution_volume(n.volume, n.mud_weight, n.target, n.liquid) <= 0.45 * n.volume
    ),
    envelope=(
        Within("active mud", lambda n: n.volume, HERON_4.active),
        Within("mud in the end", lambda n: n.b, MUD_ON_THE_RIG),
        Within("low-gravity solids", lambda n: n.low_gravity, DRILLED_SOLIDS),
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
    ),
    setting=(
        "Rig Heron 4 has {volume} of mud of {mud_weight} in hole and pits, with {low_gravity} of low-gravity solids by "
        "volume. A later section of well Marram-1 needs {target}. The crew cuts the mud back with liquid of {liquid}, "
        "which holds no solids. There is room: nothing is moved out. The driller and the mud logger are told before "
        "the first liquid goes in."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What volume of liquid is needed?",
            unit=By("bbl", "m3"),
            solve=lambda n: dilution_volume(n.volume, n.mud_weight, n.target, n.liquid),
            plausible=Range(50, 560, "bbl"),
            tolerance=EXACT_BALANCE,
            marks=Marks(2),
            slips=(
                Slip(
                    "formula for a constant volume",
                    lambda n: replacement_volume(n.volume, n.mud_weight, n.target, n.liquid),
                    "You divided by the old weight minus the liquid. That holds when mud is moved out first. Here the "
                    "volume grows: divide by the target minus the liquid.",
                ),
                Slip(
                    "weight of the liquid left out",
                    lambda n: n.volume * (n.mud_weight - n.target) / n.target,
                    "You divided by the target alone, as if the liquid weighed nothing. Divide by the target minus the "
                    "liquid.",
                ),
                Slip(
                    "upside down",
                    lambda n: n.volume * (n.target - n.liquid) / (n.mud_weight - n.target),
                    "Your fraction is upside down. The drop in weight goes above the line, the target minus the liquid "
                    "below it.",
                ),
            ),
            working=(
                Step(
                    "The volume grows, so the target minus the liquid goes below the line.",
                    "{volume} * ({mud_weight} - {target}) / ({target} - {liquid})",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What volume of mud is there then?",
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda n: n.volume + n.a,
            plausible=Range(780, 2300, "bbl"),
            tolerance=SUM_OF_VOLUMES,
            marks=Marks(1),
            slips=(
                Slip("liquid alone", lambda n: n.a, "This is the liquid of (a) again. The mud is still there: add it."),
                Slip(
                    "volume kept as it was",
                    lambda n: n.volume,
                    "This is the volume before. Nothing goes out: add the liquid of (a).",
                ),
            ),
            working=(Step("The mud and the liquid together:", "{volume} + {a}"),),
        ),
        Numeric(
            key="c",
            ask=By(
                "The transfer pump stops early: only {share} of the liquid of (a) is in. Everything is mixed through. "
                "What does the mud weigh now? Give two decimals.",
                "The transfer pump stops early: only {share} of the liquid of (a) is in. Everything is mixed through. "
                "What does the mud weigh now?",
            ),
            unit=By("lb/gal", "kg/m3"),
            uses=("a",),
            solve=lambda n: _weight_with(n, n.a * n.share),
            plausible=Range(9.5, 14.3, "lb/gal"),
            tolerance=READ_ON_A_BALANCE,
            marks=Marks(2),
            outcome=Outcome.BLENDING,
            slips=(
                Slip(
                    "divided by the old volume",
                    lambda n: (n.volume * n.mud_weight + n.a * n.share * n.liquid) / n.volume,
                    "You divided the masses by the old volume. The liquid has its own volume: divide by both together.",
                ),
                Slip(
                    "plain mean",
                    lambda n: (n.mud_weight + n.liquid) / 2,
                    "This is the plain mean of mud and liquid. Weigh each by its volume.",
                ),
                Slip(
                    "the liquid that is missing",
                    lambda n: _weight_with(n, n.a * (1 - n.share)),
                    "You put in the liquid that is still missing. {share} of it is in.",
                ),
                Slip(
                    "all of the liquid",
                    lambda n: _weight_with(n, n.a),
                    "This is the mud with all of the liquid. Only {share} of it is in.",
                ),
            ),
            working=(
                Step("The liquid that is in:", "{a} * {share} / 100", "part", By("bbl", "m3")),
                Step(
                    "Volume times weight of each, over both volumes:",
                    "({volume} * {mud_weight} + {part} * {liquid}) / ({volume} + {part})",
                ),
            ),
        ),
        Numeric(
            key="d",
            ask=(
                "Later all of the liquid is in. What share of the mud are the low-gravity solids then, by volume, in "
                "percent?"
            ),
            unit="%",
            digits=3,
            uses=("a",),
            solve=lambda n: mixed_fraction(together(n.volume, n.a), together(n.low_gravity, Q(0.0, "percent"))),
            plausible=Range(2.5, 8.3, "%"),
            tolerance=relative(0.01, because="a share of a few percent is given to one or two decimals"),
            marks=Marks(2),
            outcome=Outcome.BLENDING,
            slips=(
                Slip(
                    "share of the liquid taken off",
                    lambda n: n.low_gravity * (n.volume - n.a) / n.volume,
                    "You took the liquid off the mud. The solids stay, and the volume grows: divide by mud and liquid "
                    "together.",
                ),
                Slip(
                    "solids kept",
                    lambda n: n.low_gravity,
                    "This is the share before. The same solids are now spread through more mud.",
                ),
                Slip(
                    "in proportion to the weight",
                    lambda n: n.low_gravity * n.target / n.mud_weight,
                    "You scaled the solids as the mud weight. They go with the volumes: old volume over new volume.",
                ),
                Slip(
                    "fraction called percent",
                    lambda n: mislabelled(n.low_gravity * n.volume / (n.volume + n.a), "fraction", "%"),
                    "This is the share as a fraction of one. Multiply by 100 for percent.",
                ),
            ),
            working=(Step("The same solids in more mud:", "{low_gravity} * {volume} / ({volume} + {a})", digits=3),),
        ),
    ),
)
