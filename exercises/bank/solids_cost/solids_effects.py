"""Solids that stay in the mud: how many, what they cost, where they come from, and what they do."""

from __future__ import annotations

from exercises.bank.solids_cost import Outcome
from exercises.fleet.envelope import DRILLED_SOLIDS, WATER_MUD_PRICE
from exercises.fleet.rigs import HERON_4
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Pick, Range, mislabelled
from exercises.model.parts import Choice, Marks, Numeric, Option, Slip, relative
from exercises.model.working import Step
from pitside.removal import clean_mud

#: What the mud engineer finds, and the source that it points to: common practice, no source.
FINDS = {
    "grains that stay on a 74 µm sieve, scratch glass, and look like the sandstone on the shakers": "sandstone",
    "soft flakes and fines that break up in water and look like the shale on the shakers": "shale",
    "a fine powder heavier than any rock drilled here, in the amount that was mixed in from sacks": "weighting",
    "a clay that swells and gels in fresh water, in the amount that was mixed for viscosity": "clay",
}

#: What the crew sees, and the effect behind it: common practice, no source.
COMPLAINTS = {
    "the standpipe pressure is higher at the same strokes, mud weight and bit": "viscosity",
    "liners and valve seats of the pump last half as long as they did last month": "wear",
    "the bit drills slower in the same rock, with the same weight and speed on it": "drilling",
    "the pipe is harder to pull at every connection, and the filter press shows a thick, soft cake": "cake",
}

SAME_SOURCE = "Compare what was found with each source: its hardness, its weight, and whether anybody mixed it in."
SAME_EFFECT = (
    "Ask first where the trouble shows: in the pump's parts, at its pressure gauge, at the bit, or at the wall."
)

EXERCISE = Exercise(
    title="What the solids that stay do and cost",
    level=1,
    version=3,
    outcome=Outcome.EFFECTS,
    numbers=(
        Number("rock", Grid(60, 200, 5, "bbl"), Grid(10, 32, 1, "m3")),
        Number("removal", Grid(55, 85, 1, "%")),
        Number("volume", Grid(800, 1300, 20, "bbl"), Grid(130, 205, 5, "m3")),
        Number("limit", Grid(4.0, 7.0, 0.5, "%")),
        Number("price", Grid(25, 60, 5, "money/bbl"), Grid(160, 380, 20, "money/m3")),
        Pick("found", tuple(FINDS)),
        Pick("complaint", tuple(COMPLAINTS)),
    ),
    valid=lambda n: n.rock / n.volume >= 0.04 and 0.01 <= n.rock * (1 - n.removal) / n.volume <= 0.098,
    envelope=(
        Within("active mud", lambda n: n.volume, HERON_4.active),
        Within("drilled solids that a day adds", lambda n: n.b, DRILLED_SOLIDS),
        Within("price of mud", lambda n: n.price, WATER_MUD_PRICE),
    ),
    setting=(
        "Rig Heron 4 drills {rock} of solid rock in a day on well Marram-1. Shakers, cyclones and centrifuge take "
        "{removal} of its volume out of the mud. The rest stays. Prices are invented, in units of currency."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What volume of drilled solids stays in the mud?",
            unit=By("bbl", "m3"),
            solve=lambda n: n.rock * (1 - n.removal),
            plausible=Range(8, 90, "bbl"),
            tolerance=relative(0.01, because="a product of given numbers; a small volume is rounded to a few digits"),
            marks=Marks(1),
            slips=(
                Slip(
                    "what is removed",
                    lambda n: n.rock * n.removal,
                    "This is what the machines take out. The question asks for the rest, which stays.",
                ),
                Slip(
                    "all of the rock",
                    lambda n: n.rock,
                    "This is all the rock drilled. {removal} of it leaves the mud again.",
                ),
            ),
            working=(Step("What is not removed stays.", "{rock} * (100 - {removal}) / 100"),),
        ),
        Numeric(
            key="b",
            ask=(
                "These solids are spread through {volume} of mud (measured with the solids in it). What share of that "
                "volume are they, in percent?"
            ),
            unit="%",
            digits=3,
            uses=("a",),
            solve=lambda n: n.a / n.volume,
            plausible=Range(0.5, 12, "%"),
            tolerance=relative(0.015, because="a share of 1 to 10 % is given to one or two decimals"),
            marks=Marks(1),
            slips=(
                Slip(
                    "fraction called percent",
                    lambda n: mislabelled(n.a / n.volume, "fraction", "%"),
                    "This is the share as a fraction of one. Multiply by 100 for percent.",
                ),
                Slip(
                    "all of the rock",
                    lambda n: n.rock / n.volume,
                    "You spread all of the rock through the mud. Only what stays, as in (a), is spread.",
                ),
                Slip(
                    "upside down",
                    lambda n: mislabelled(n.volume / n.a, "fraction", "%"),
                    "You divided the mud by the solids. The share is the solids over the mud.",
                ),
            ),
            working=(Step("The solids over the mud, in percent:", "{a} / {volume} * 100", digits=3),),
        ),
        Numeric(
            key="c",
            ask=(
                "Do not use the {volume} of (b) here. In the long run new clean mud is mixed with the solids of (a). "
                "In the mixture the solids are {limit} of the volume. How much clean mud does that take? Give the "
                "clean mud alone, without the solids."
            ),
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda n: clean_mud(n.a, n.limit),
            plausible=Range(100, 2300, "bbl"),
            tolerance=relative(0.01, because="an exact balance; (a) may be rounded to three digits"),
            marks=Marks(2),
            slips=(
                Slip(
                    "the solids counted as clean mud",
                    lambda n: n.a / n.limit,
                    "This is new mud and solids together. The solids bring their own volume: take it off.",
                ),
                Slip(
                    "multiplied by the limit",
                    lambda n: n.a * n.limit,
                    "You multiplied by the limit. The mud must be many times the solids: divide by the limit.",
                ),
                Slip(
                    "all of the rock",
                    lambda n: n.rock / n.limit - n.rock,
                    "You diluted all of the rock. The machines take most of it out: only what stays needs new mud.",
                ),
            ),
            working=(
                Step("New mud and solids together:", "{a} / ({limit} / 100)", "together", By("bbl", "m3")),
                Step("The clean mud alone:", "{together} - {a}"),
            ),
        ),
        Numeric(
            key="d",
            ask="The new mud costs {price}. What does the clean mud of (c) cost?",
            unit="money",
            uses=("c",),
            solve=lambda n: n.c * n.price,
            plausible=Range(2500, 140_000, "money"),
            tolerance=relative(0.01, because="the rounding of (c)"),
            marks=Marks(1),
            slips=(
                Slip(
                    "price of the mud with its solids",
                    lambda n: n.c / (1 - n.limit) * n.price,
                    "You paid for the solids too. They came from the hole: only the clean mud is bought.",
                ),
                Slip(
                    "price of the solids",
                    lambda n: n.c / (1 / n.limit - 1) * n.price,
                    "You put the price on the volume of the solids. It is paid for the clean mud that carries them.",
                ),
            ),
            working=(Step("Volume times price:", "{c} * {price}"),),
        ),
        Choice(
            key="e",
            ask="In a sample of the mud the engineer finds {found}. Where do these solids come from?",
            options=(
                Option("weighting", "Weighting material, mixed in to make the mud heavy.", SAME_SOURCE),
                Option("clay", "Bentonite, mixed in to make the mud thick.", SAME_SOURCE),
                Option("sandstone", "Drilled rock: sand that the shakers let through.", SAME_SOURCE),
                Option("shale", "Drilled rock: shale that has broken up into clay and silt.", SAME_SOURCE),
            ),
            right=lambda n: FINDS[n.found],
            marks=Marks(2),
            reason=(
                "They found {found}. Barite is heavy and bought by the sack; bentonite swells and is bought too. "
                "Drilled solids look like the rock on the shakers: sand is hard, shale is soft and breaks up."
            ),
        ),
        Choice(
            key="f",
            ask="The drilled solids rise for a week. The crew notices that {complaint}. Which effect is behind it?",
            options=(
                Option("wear", "Hard grains in the mud grind away the steel and rubber that they pass.", SAME_EFFECT),
                Option(
                    "cake", "More solids make a thick cake on the wall of the hole, which grips the pipe.", SAME_EFFECT
                ),
                Option(
                    "viscosity", "Fine solids thicken the mud: more pressure is lost on the way round.", SAME_EFFECT
                ),
                Option(
                    "drilling",
                    "Fine solids seal the rock under the bit: chips are held down and cut again.",
                    SAME_EFFECT,
                ),
            ),
            right=lambda n: COMPLAINTS[n.complaint],
            marks=Marks(2),
            reason=(
                "The crew noticed that {complaint}. Wear shows in the pump, thick mud at the pressure gauge, held "
                "chips at the bit, and a thick cake as drag on the pipe."
            ),
        ),
    ),
)
