"""Explain to the crew why a machine was shut off, with figures of its own underflow."""

from __future__ import annotations

import pint

from exercises.bank.commissioning import Outcome
from exercises.fleet.envelope import BARITE_PRICE, DRILLED_SOLIDS, WEIGHTED_MUD
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Numeric, Point, Slip, Written, relative
from exercises.model.working import Step
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.units import WATER_4C, Q

BALANCE = relative(0.01, because="a balance of figures given to two or three digits")


def _barite_rate(n: Known) -> pint.Quantity:
    """Mass of barite that leaves with the underflow in each hour."""
    return n.underflow * n.barite_share * BARITE


def _underflow_weight(n: Known) -> pint.Quantity:
    """What the underflow weighs, the rest of it water: cones make it clearly heavier than the mud that they take."""
    water = 1 - n.barite_share - n.drilled_share
    return n.barite_share * BARITE + n.drilled_share * LOW_GRAVITY + water * WATER_4C


EXERCISE = Exercise(
    title="Why the desilter was shut off",
    level=2,
    version=4,
    outcome=Outcome.EXPLAIN,
    tolerance=BALANCE,
    numbers=(
        Number("mud_weight", Grid(12.0, 14.5, 0.1, "lb/gal"), Grid(1440, 1740, 10, "kg/m3")),
        Number("underflow", Grid(8, 24, 1, "bbl/h"), Grid(1.3, 3.8, 0.1, "m3/h")),
        Number("barite_share", Grid(28, 36, 1, "%")),
        Number("drilled_share", Grid(4, 8, 1, "%")),
        Number("price", Grid(10, 20, 1, "money/sack"), Grid(220, 440, 10, "money/t")),
    ),
    valid=lambda n: _underflow_weight(n) >= 1.2 * n.mud_weight,
    envelope=(
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("weight of the underflow", _underflow_weight, Usual(14.4, 20, "lb/gal", "from memory")),
        Within("drilled solids in the underflow", lambda n: n.drilled_share, DRILLED_SOLIDS),
        Within("price of barite", lambda n: n.price, BARITE_PRICE),
    ),
    setting=(
        "On rig Northern Gannet the mud is weighted with barite to {mud_weight}. You found the desilter running. Its "
        "underflow was {underflow}; by volume {barite_share} of it is barite and {drilled_share} drilled solids. "
        "Barite costs {price} (money stands for an invented currency). Take specific gravities of 4.20 for barite and "
        "2.60 for drilled solids. You have told the driller and the mud engineer and shut the desilter off, and the "
        "crew asks why."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By(
                "How many sacks of 100 lb of barite left with the underflow in an hour?",
                "How many tonnes of barite left with the underflow in each hour?",
            ),
            unit=By("sack/h", "t/h"),
            solve=_barite_rate,
            plausible=Range(25, 140, "sack/h"),
            marks=Marks(3),
            slips=(
                Slip(
                    "specific gravity left out",
                    lambda n: n.underflow * n.barite_share * WATER_4C,
                    "This is what the same volume of water weighs. Barite is 4.20 times as heavy.",
                ),
                Slip(
                    "whole underflow as barite",
                    lambda n: n.underflow * BARITE,
                    "You counted all of the underflow as barite. Multiply by its share.",
                ),
                Slip(
                    "drilled solids for barite",
                    lambda n: n.underflow * n.drilled_share * LOW_GRAVITY,
                    "These are the drilled solids. The question is what barite was lost.",
                ),
            ),
            working=(
                Step(
                    "Volume of barite in each hour:",
                    "{underflow} * {barite_share} / 100",
                    "barite",
                    By("bbl/h", "m3/h"),
                    digits=5,
                ),
                Step(
                    By("A barrel of water weighs 350.5 lb; in sacks of 100 lb:", "A cubic metre of water weighs 1 t:"),
                    By("{barite} * 350.5 * 4.20 / 100", "{barite} * 4.20"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What would that barite be worth in a day of 24 hours?",
            unit="money",
            uses=("a",),
            solve=lambda n: n.a * n.price * Q(24, "h"),
            plausible=Range(4000, 70_000, "money"),
            marks=Marks(1),
            slips=(
                Slip("one hour", lambda n: n.a * n.price * Q(1, "h"), "This is one hour. A day has 24."),
                Slip("half a day", lambda n: n.a * n.price * Q(12, "h"), "This is a tour of 12 hours. A day has 24."),
            ),
            working=(Step("A day of it, at the price.", "{a} * {price} * 24"),),
        ),
        Written(
            key="c",
            ask=(
                "Explain to the crew, in plain words and with one of your figures, why the desilter is off in this "
                "mud, which grains it would still take out, and which machine can do that work. Five to eight "
                "sentences."
            ),
            points=(
                Point("barite and drilled solids of like settling speed leave together: cones sort by settling", 1),
                Point("a figure from (a) or (b) used to show what is lost", 1),
                Point("says that the drilled solids thrown out are few beside the barite", 1),
                Point("names what can do the work: finer shaker screens, a screen under the cones, or a centrifuge", 1),
                Point("plain words that a new hand understands, nobody blamed", 1),
            ),
            model=(
                "Cones sort by how fast a grain settles, not by what it is. A barite grain settles like a drilled one "
                "of 1.4 times its size, so both leave together. At {mud_weight} most of what settles is barite: "
                "{barite_share} of the underflow was barite and only {drilled_share} drilled solids. We paid for that "
                "barite and had to mix it in again. The fine screens take out what they can, and the centrifuge works "
                "on what is finer. When the mud is unweighted again, the desilter runs again."
            ),
        ),
    ),
)
