"""Cutting back while the volume is held, and what mixing while mud runs off wastes."""

from __future__ import annotations

import math

import pint

from exercises.bank.cutting_back import EXACT_BALANCE, READ_ON_A_BALANCE, Outcome, together
from exercises.fleet.envelope import DRILLED_SOLIDS, WEIGHTED_MUD
from exercises.fleet.rigs import HERON_4
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Numeric, Slip, relative
from exercises.model.usual_slips import KILOGRAMS_CALLED_TONNES, POUNDS_CALLED_SACKS
from exercises.model.working import Step
from pitside.blending import dilution_volume_bled_off
from pitside.dilution import dilution_volume, mixed_density, replacement_volume
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.units import Q


def _replaced(n: Known) -> pint.Quantity:
    return replacement_volume(n.volume, n.mud_weight, n.target, n.liquid)


def _low_gravity(n: Known) -> pint.Quantity:
    """Low-gravity solids that, with its barite, make the mud as heavy as it is."""
    barite = n.content / BARITE
    return (n.mud_weight - n.liquid - barite * (BARITE - n.liquid)) / (LOW_GRAVITY - n.liquid)


def _weight_after(n: Known, kept: pint.Quantity, liquid: pint.Quantity) -> pint.Quantity:
    """Weight of so much mud and so much liquid, mixed through."""
    return mixed_density(together(kept, liquid), together(n.mud_weight, n.liquid))


EXERCISE = Exercise(
    title="Cutting back with full pits",
    level=2,
    version=5,
    outcome=Outcome.CUTTING_BACK,
    tolerance=EXACT_BALANCE,
    numbers=(
        HERON_4.pits.number("volume", (10, "bbl"), (1, "m3")),
        Number("mud_weight", Grid(10.5, 14.5, 0.1, "lb/gal"), Grid(1260, 1740, 10, "kg/m3")),
        Number("target", Grid(9.5, 13.5, 0.1, "lb/gal"), Grid(1140, 1620, 10, "kg/m3")),
        Number("liquid", Grid(8.4, 9.0, 0.1, "lb/gal"), Grid(1010, 1080, 10, "kg/m3")),
        Number("share", Grid(40, 75, 5, "%")),
        Number("content", Grid(80, 300, 5, "lb/bbl"), Grid(230, 850, 10, "kg/m3")),
    ),
    valid=lambda n: (
        0.6 <= (n.mud_weight - n.target).m_as("lb/gal") <= 2.0
        and 0.15 * n.volume <= _replaced(n) <= 0.45 * n.volume
        and Q(2, "percent") <= _low_gravity(n) <= Q(9, "percent")
    ),
    envelope=(
        Within("mud in the pits", lambda n: n.volume, HERON_4.pits),
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("low-gravity solids", _low_gravity, DRILLED_SOLIDS),
    ),
    setting=(
        "On another well the pits of rig Heron 4 are full: {volume} of water-base mud of {mud_weight}, with {content} "
        "of barite in it. The next section needs {target}. The crew cuts the mud back with a liquid of {liquid}, water "
        "with salt and polymer, and holds the volume in the pits at {volume}. Count the pits alone: the driller has "
        "agreed that they are shut off from flow line and suction, for this mud is made ready before it is pumped into "
        "the hole. The driller and the mud logger are told before any mud moves."
    ),
    parts=(
        Numeric(
            key="a",
            ask=(
                "First mud is pumped to the reserve pit. Then liquid fills the pits up to {volume} again. What volume "
                "of mud must go out?"
            ),
            unit=By("bbl", "m3"),
            solve=_replaced,
            plausible=Range(75, 365, "bbl"),
            marks=Marks(2),
            slips=(
                Slip(
                    "formula for a growing volume",
                    lambda n: dilution_volume(n.volume, n.mud_weight, n.target, n.liquid),
                    "You divided by the target minus the liquid. That holds when the volume grows. Here mud makes room "
                    "first: divide by the old weight minus the liquid.",
                ),
                Slip(
                    "weight of the liquid left out",
                    lambda n: n.volume * (n.mud_weight - n.target) / n.mud_weight,
                    "You divided by the old weight alone, as if the liquid weighed nothing. Divide by the old weight "
                    "minus the liquid.",
                ),
                Slip(
                    "what stays",
                    lambda n: n.volume - _replaced(n),
                    "This is the mud that stays in the pits. The question asks for what must go out.",
                ),
            ),
            working=(
                Step(
                    "Mud makes room first, so the old weight minus the liquid goes below the line.",
                    "{volume} * ({mud_weight} - {target}) / ({mud_weight} - {liquid})",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=By(
                "The crew stops early: only {share} of the volume of (a) went out, and liquid filled the pits up to "
                "{volume} again. What does the mud weigh, mixed through? Give two decimals.",
                "The crew stops early: only {share} of the volume of (a) went out, and liquid filled the pits up to "
                "{volume} again. What does the mud weigh, mixed through?",
            ),
            unit=By("lb/gal", "kg/m3"),
            uses=("a",),
            solve=lambda n: _weight_after(n, n.volume - n.a * n.share, n.a * n.share),
            plausible=Range(9.5, 14.3, "lb/gal"),
            tolerance=READ_ON_A_BALANCE,
            marks=Marks(2),
            outcome=Outcome.BLENDING,
            slips=(
                Slip(
                    "nothing moved out",
                    lambda n: _weight_after(n, n.volume, n.a),
                    "You left all the mud in and added the liquid of (a). Mud went out: only the rest of it is mixed.",
                ),
                Slip(
                    "all of it replaced",
                    lambda n: _weight_after(n, n.volume - n.a, n.a),
                    "This is the mud with all of (a) replaced. Only {share} of it was.",
                ),
                Slip(
                    "mud out, liquid forgotten",
                    lambda n: (n.volume - n.a * n.share) * n.mud_weight / n.volume,
                    "You left the mass of the liquid out. It fills the room, and weighs {liquid}.",
                ),
                Slip(
                    "the share that is missing",
                    lambda n: _weight_after(n, n.volume - n.a * (1 - n.share), n.a * (1 - n.share)),
                    "You replaced what is still missing. {share} of (a) has been replaced.",
                ),
            ),
            working=(
                Step("What was replaced:", "{a} * {share} / 100", "part", By("bbl", "m3")),
                Step(
                    "Volume times weight of each, over the full volume:",
                    "(({volume} - {part}) * {mud_weight} + {part} * {liquid}) / {volume}",
                ),
            ),
        ),
        Numeric(
            key="c",
            ask=By(
                "How many sacks of barite of 100 lb leave with the mud of (a), if all of it goes out?",
                "How many tonnes of barite leave with the mud of (a), if all of it goes out?",
            ),
            unit=By("sack", "t"),
            uses=("a",),
            solve=lambda n: n.a * n.content,
            plausible=Range(55, 1150, "sack"),
            tolerance=relative(0.01, because="the rounding of (a)"),
            marks=Marks(1),
            outcome=Outcome.ROUTE,
            slips=(
                Slip(
                    "the mud that stays",
                    lambda n: (n.volume - n.a) * n.content,
                    "This is the barite in the mud that stays. The question asks for what goes out.",
                ),
                POUNDS_CALLED_SACKS.of(lambda n: n.a * n.content),
                KILOGRAMS_CALLED_TONNES.of(lambda n: n.a * n.content),
                Slip(
                    "all mass of the mud",
                    lambda n: n.a * n.mud_weight,
                    "This is the mass of the whole mud. Only {content} of it is barite.",
                ),
            ),
            working=(
                Step(
                    By("Volume times content, 100 lb in a sack:", "Volume times content, 1000 kg in a tonne:"),
                    By("{a} * {content} / 100", "{a} * {content} / 1000"),
                ),
            ),
        ),
        Numeric(
            key="d",
            ask=(
                "Another crew pumps liquid in while mud leaves at the same rate, and the pits are stirred all the "
                "time. What volume of liquid takes the mud to {target} that way?"
            ),
            unit=By("bbl", "m3"),
            solve=lambda n: dilution_volume_bled_off(n.volume, n.mud_weight, n.target, n.liquid),
            plausible=Range(80, 485, "bbl"),
            marks=Marks(2),
            slips=(
                Slip(
                    "mud moved out first",
                    _replaced,
                    "This is the volume with the mud moved out first. Here some of the new liquid runs off again: more "
                    "is needed.",
                ),
                Slip(
                    "growing volume",
                    lambda n: dilution_volume(n.volume, n.mud_weight, n.target, n.liquid),
                    "This is the liquid for a growing volume. Here mud runs off as fast as liquid comes in.",
                ),
                Slip(
                    "logarithm to the base of ten",
                    lambda n: dilution_volume_bled_off(n.volume, n.mud_weight, n.target, n.liquid) / math.log(10),
                    "You took the logarithm to the base of ten. The natural one, ln, belongs here: 2.3 times as much.",
                ),
                Slip(
                    "weight of the liquid left out",
                    lambda n: n.volume * math.log((n.mud_weight / n.target).m_as("")),
                    "You took the ratio of the whole weights. Take the liquid's weight off both first: only that part "
                    "is washed out.",
                ),
            ),
            working=(
                Step(
                    "The weight above that of the liquid falls as the pits are washed out, by the natural logarithm.",
                    "{volume} * ln(({mud_weight} - {liquid}) / ({target} - {liquid}))",
                ),
            ),
        ),
    ),
)
