"""Routes of cuttings waste: which one keeps its limit today, and what travels with a box."""

from __future__ import annotations

import math

import pint

from exercises.bank.commissioning import Outcome
from exercises.fleet.machines import BASKET_DRYER
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import Before, Choice, Known, Marks, Numeric, Option, Order, Slip, absolute
from exercises.model.working import Step
from pitside.units import Q

#: Shares of the limits by the one route that is open: oil on the cuttings against the permit of the sea, slurry
#: against what the well takes, boxes against the boats.
ROUTES = {
    "sea": (0.7, 1.4, 1.4),
    "well": (1.4, 0.7, 1.4),
    "boat": (1.4, 1.4, 0.7),
    "none": (1.4, 1.4, 1.4),
}
#: What turns up on the way, and what is done. Common practice, no source.
MOMENTS = {
    "A box stands on the deck without a label, and nobody knows what is in it.": "label",
    "The dryer failed, and what it leaves holds twice the oil that the permit allows.": "hold",
    "The pressure of the injection well rises while the same slurry is pumped.": "stop",
    "The weight on the transfer paper is a tonne less than what the crane shows.": "paper",
}
OTHER_MOMENT = "What is not known here, or not allowed any more: the content, the oil, the well, or the weight?"


def _share(n: Numbers | Known, place: int) -> float:
    """Where a figure lies against its limit: within it by up to a third, or beyond it by as much."""
    base = ROUTES[n.open][place]
    spread = float(getattr(n, f"place_{place}").m_as("")) * 0.22
    return base + spread if base < 1 else base - spread


def _slurry(n: Known) -> pint.Quantity:
    return n.rock * (1 + n.water)


def _boxes(n: Known) -> pint.Quantity:
    return Q(float(math.ceil((n.rock * (1 + n.bulking) / n.box).m_as("") - 1e-9)))


def _open(n: Known) -> str:
    if n.oil <= n.oil_limit:
        return "sea"
    if n.a <= n.well_limit:
        return "well"
    return "boat" if n.b <= n.boat_limit else "none"


def _one_route(n: Known) -> bool:
    """One route or none, and boxes clear of a whole number."""
    kept = [n.oil <= n.oil_limit, _slurry(n) <= n.well_limit, _boxes(n) <= n.boat_limit]
    loads = float((n.rock * (1 + n.bulking) / n.box).m_as(""))
    return sum(kept) <= 1 and 0.1 <= loads % 1 <= 0.9


EXERCISE = Exercise(
    title="Where do the cuttings go?",
    level=2,
    version=1,
    outcome=Outcome.WASTE,
    digits=3,
    numbers=(
        Pick("open", tuple(ROUTES)),
        Pick("moment", tuple(MOMENTS)),
        *(Number(f"place_{place}", Grid(0, 1, 0.05)) for place in range(3)),
        Number("rock", Grid(60, 160, 2, "bbl"), Grid(10, 26, 0.5, "m3")),
        Number("water", Grid(2.0, 3.0, 0.1)),
        Number("bulking", Grid(50, 80, 5, "%")),
        Number("box", Grid(20, 26, 1, "bbl"), Grid(3.2, 4.2, 0.1, "m3")),
        Number("oil_limit", Grid(3.5, 5.0, 0.1, "%")),
        Derived("oil", lambda n: n.oil_limit * _share(n, 0), "%", 1),
        Derived("well_limit", lambda n: n.rock * (1 + n.water) / _share(n, 1), By("bbl", "m3"), By(-1, 0)),
        Derived(
            "boat_limit",
            lambda n: Q(round((n.rock * (1 + n.bulking) / n.box).m_as("") / _share(n, 2))),
            "fraction",
            0,
        ),
    ),
    valid=_one_route,
    envelope=(
        Within("rock of a day", lambda n: n.rock, Usual(50, 180, "bbl")),
        Within("oil on the dried cuttings", lambda n: n.oil, Usual(BASKET_DRYER.oil.low, 7.5, "%")),
        Within("boxes of a day", lambda n: n.b, Usual(3, 16)),
    ),
    setting=(
        "Rig Sandpiper 2 drills with invert mud and has a basket dryer. A day gives {rock} of rock, measured as solid. "
        "The permits of this invented place say, and real ones may say otherwise:\n\n| Route | Limit | Today |\n| --- "
        "| --- | --- |\n| Into the sea, dried | at most {oil_limit} of oil on the wet cuttings | {oil} |\n| Ground "
        "with water and pumped into a licensed well | at most {well_limit} of slurry a day | each volume of rock takes "
        "{water:n} volumes of water |\n| In boxes by boat to a plant on land | at most {boat_limit:n} boxes a day | "
        "loose cuttings take {bulking} more room than the rock; a box filled to its mark holds {box} |\n\nIn boxes "
        "the mud on the dried cuttings fills the gaps; leave it out of the slurry. Local law and the permit of the "
        "place say what may be done with waste, and nobody on the rig changes them."
    ),
    parts=(
        Numeric(
            key="a",
            ask="How much slurry would a day's rock make?",
            unit=By("bbl", "m3"),
            solve=_slurry,
            plausible=Range(175, 660, "bbl"),
            tolerance=absolute(3, "bbl", because="rock and water are given to two or three figures"),
            marks=Marks(1),
            slips=(
                Slip(
                    "water alone", lambda n: n.rock * n.water, "This is the water alone. The rock is in the slurry too."
                ),
                Slip(
                    "gaps counted",
                    lambda n: n.rock * (1 + n.bulking) + n.rock * n.water,
                    "You took the rock with its gaps. In a slurry water fills them.",
                ),
            ),
            working=(Step("The rock and its water:", "{rock} * (1 + {water})"),),
        ),
        Numeric(
            key="b",
            ask="How many whole boxes do a day's cuttings need?",
            unit="fraction",
            whole=True,
            solve=_boxes,
            plausible=Range(3, 16),
            tolerance=absolute(0.4, "fraction", because="boxes come whole: no other whole number is near enough"),
            marks=Marks(1),
            slips=(
                Slip(
                    "gaps left out",
                    lambda n: Q(float(math.ceil((n.rock / n.box).m_as("")))),
                    "You left the gaps out: loose cuttings take more room than the rock.",
                ),
                Slip(
                    "rounded down",
                    lambda n: _boxes(n) - 1,
                    "You rounded down. What is left over needs a box too.",
                ),
            ),
            working=(
                Step("Loose volume over that of a box, rounded up:", "ceil({rock} * (1 + {bulking} / 100) / {box})"),
            ),
        ),
        Choice(
            key="c",
            ask="Which route can take all of the day's rock and keep its limit today?",
            uses=("a", "b"),
            options=(
                Option("sea", "Into the sea.", "Compare the oil on the wet cuttings with the limit of the permit."),
                Option(
                    "well", "Into the licensed well.", "Compare the slurry of (a) with what the well may take in a day."
                ),
                Option("boat", "In boxes, by boat.", "Compare the boxes of (b) with what the boats take in a day."),
                Option(
                    "none",
                    "None alone: keep the cuttings on board, and ask the permit holder whether the day may be split.",
                    "One of the three does keep its limit with all of the rock: try each.",
                ),
            ),
            right=_open,
            marks=Marks(2),
            reason=(
                "Oil {oil} of {oil_limit}; slurry {a} of {well_limit}; boxes {b:n} of {boat_limit:n}. A limit that is "
                "nearly kept is broken, and the permit holder has to know before it is."
            ),
        ),
        Order(
            key="d",
            ask="Put the steps for a box in a sound order, from the deck to the file. Give the letters.",
            steps={
                "label": "Label the empty box: number, and what will be in it.",
                "fill": "Fill it to its mark, and shut the lid.",
                "weigh": "Weigh it on the deck scale, and write the weight on label and list.",
                "paper": "Write the transfer paper: what, how much, from whom, to whom.",
                "sign": "Whoever takes it on board checks it against the paper and signs.",
                "lift": "Lift it onto the boat with checked slings, and nobody under it.",
                "back": "Get the paper back with the plant's signature, and file it with the list.",
            },
            rules=(
                Before("label", "fill", "Label it while it is empty: a full box without a label is an unknown waste."),
                Before("fill", "weigh", "Weigh it full."),
                Before("weigh", "paper", "The paper needs the weight."),
                Before("weigh", "lift", "Its weight is known before a crane lifts it."),
                Before("paper", "sign", "Nobody signs for what is not written."),
                Before("fill", "lift", "The lid is shut before it is lifted."),
                Before("sign", "back", "The plant signs after it has come from the boat."),
                Before("lift", "back", "The paper comes back after the box has gone."),
            ),
            marks=Marks(3),
            reason=(
                "Label, fill, weigh, paper, signature, lift, paper back. The lift may come before the signature on "
                "board."
            ),
        ),
        Choice(
            key="e",
            ask="Another day. {moment} What do you do?",
            options=(
                Option("label", "Set it apart, shut, and have it sampled before it goes anywhere.", OTHER_MOMENT),
                Option(
                    "hold",
                    "Nothing more into the sea: keep the cuttings on board, and tell the permit holder at once.",
                    OTHER_MOMENT,
                ),
                Option("stop", "Stop pumping, shut in, and tell the one who is in charge of the well.", OTHER_MOMENT),
                Option(
                    "paper",
                    "Keep it on deck, weigh again, and correct the paper and the list before it goes.",
                    OTHER_MOMENT,
                ),
            ),
            right=lambda n: MOMENTS[n.moment],
            marks=Marks(1),
            reason="Nothing leaves that is not known, allowed and written down as it is.",
        ),
    ),
)
