"""Cutting back: two ways, and the room for them."""

from __future__ import annotations

import pint

from exercises.bank.cutting_back import Outcome
from exercises.bank.weighting import SUM_OF_VOLUMES
from exercises.fleet.envelope import MUD_ON_THE_RIG, WEIGHTED_MUD
from exercises.fleet.rigs import NORTHERN_GANNET
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Before, Choice, Known, Marks, Numeric, Option, Order, Slip, relative
from exercises.model.working import Step
from pitside.dilution import dilution_volume, replacement_volume

COMPARE_BOTH_WAYS = (
    "Check both ways. Letting the volume grow works if the pits can hold your answer to (b). Replacing mud works if "
    "the reserve pit has room for your answer to (c)."
)


def _premix_growing(n: Known) -> pint.Quantity:
    return dilution_volume(n.volume, n.mud_weight, n.target, n.premix)


def _premix_replacing(n: Known) -> pint.Quantity:
    return replacement_volume(n.volume, n.mud_weight, n.target, n.premix)


def _way_that_works(n: Known) -> str:
    growing = n.b <= n.pit_capacity
    replacing = n.c <= n.reserve_room
    return {(True, True): "both", (True, False): "growing", (False, True): "replacing", (False, False): "neither"}[
        bool(growing), bool(replacing)
    ]


def _room_can_be_judged(n: Known) -> bool:
    """Weights that make sense, and room that is neither far from what is needed nor so near that rounding decides."""
    if not 0.5 <= (n.mud_weight - n.target).m_as("lb/gal") <= 2.0:
        return False
    if not n.volume * 1.02 <= n.pit_capacity:
        return False
    replaced = _premix_replacing(n)
    if replaced > 0.35 * n.volume:
        return False
    capacity = (n.pit_capacity / (n.volume + _premix_growing(n))).m_as("")
    reserve = (n.reserve_room / replaced).m_as("")
    return bool(0.04 <= abs(capacity - 1) <= 0.25 and 0.1 <= abs(reserve - 1) <= 0.6)


EXERCISE = Exercise(
    title="Cutting back: two ways, and the room for them",
    level=2,
    version=4,
    outcome=Outcome.CUTTING_BACK,
    tolerance=relative(0.01, because="an exact balance; volumes are given to about a barrel"),
    numbers=(
        NORTHERN_GANNET.pits.number("volume", (20, "bbl"), (2, "m3")),
        Number("mud_weight", Grid(11.0, 14.5, 0.1, "lb/gal"), Grid(1320, 1740, 10, "kg/m3")),
        Number("target", Grid(10.0, 13.5, 0.1, "lb/gal"), Grid(1200, 1620, 10, "kg/m3")),
        Number("premix", Grid(8.4, 9.0, 0.1, "lb/gal"), Grid(1010, 1080, 10, "kg/m3")),
        Number("pit_capacity", Grid(740, 2000, 20, "bbl"), Grid(118, 318, 2, "m3")),
        Number("reserve_room", Grid(50, 550, 10, "bbl"), Grid(8, 87, 1, "m3")),
    ),
    valid=_room_can_be_judged,
    envelope=(
        Within("mud in the pits", lambda n: n.volume, NORTHERN_GANNET.pits),
        Within("mud with the growth", lambda n: n.b, MUD_ON_THE_RIG),
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
    ),
    setting=(
        "Rig Northern Gannet has {volume} of mud of {mud_weight} in its pits. Another section of well Saltreed-7 needs "
        "{target}. Count the pits alone: the driller has agreed that they are shut off from flow line and suction, for "
        "this mud is made ready before it is pumped into the hole. The crew cuts the mud back with premix of "
        "{premix}, new mud with no barite in it. The driller and the mud logger are told before any mud moves or "
        "changes weight."
    ),
    parts=(
        Numeric(
            key="a",
            ask="First way: no mud is moved out, and the volume grows. What volume of premix is needed?",
            unit=By("bbl", "m3"),
            solve=_premix_growing,
            plausible=Range(45, 760, "bbl"),
            marks=Marks(2),
            slips=(
                Slip(
                    "formula for a constant volume",
                    _premix_replacing,
                    "You divided by the old weight minus the premix. That holds when mud is moved out first. Here the "
                    "volume grows: divide by the target minus the premix.",
                ),
                Slip(
                    "weight of the premix left out",
                    lambda n: n.volume * (n.mud_weight - n.target) / n.target,
                    "You divided by the target alone, as if premix weighed nothing. Divide by the target minus the "
                    "premix.",
                ),
                Slip(
                    "upside down",
                    lambda n: n.volume * (n.target - n.premix) / (n.mud_weight - n.target),
                    "Your fraction is upside down. The drop in weight goes above the line, the target minus the premix "
                    "below it.",
                ),
            ),
            working=(
                Step(
                    "The volume grows, so the target minus the premix goes below the line.",
                    "{volume} * ({mud_weight} - {target}) / ({target} - {premix})",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What is the volume of mud at the end, in this first way?",
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda n: n.volume + n.a,
            plausible=Range(730, 2060, "bbl"),
            tolerance=SUM_OF_VOLUMES,
            marks=Marks(1),
            slips=(
                Slip("premix alone", lambda n: n.a, "This is the premix of (a) again. The mud is still there: add it."),
                Slip(
                    "volume kept as it was",
                    lambda n: n.volume,
                    "This is the volume before. In the first way nothing goes out: add the premix of (a).",
                ),
                Slip(
                    "premix taken off",
                    lambda n: n.volume - n.a,
                    "You took the premix off. It goes into the pits: add it.",
                ),
            ),
            working=(Step("The mud and the premix together:", "{volume} + {a}"),),
        ),
        Numeric(
            key="c",
            ask=(
                "Second way: mud is moved to the reserve pit first, and premix takes its place, so that the volume is "
                "{volume} again. What volume of mud must be moved out?"
            ),
            unit=By("bbl", "m3"),
            solve=_premix_replacing,
            plausible=Range(45, 465, "bbl"),
            marks=Marks(2),
            slips=(
                Slip(
                    "formula for a growing volume",
                    _premix_growing,
                    "You divided by the target minus the premix. That holds when the volume grows. Here mud makes room "
                    "first: divide by the old weight minus the premix.",
                ),
                Slip(
                    "weight of the premix left out",
                    lambda n: n.volume * (n.mud_weight - n.target) / n.mud_weight,
                    "You divided by the old weight alone, as if premix weighed nothing. Divide by the old weight "
                    "minus the premix.",
                ),
                Slip(
                    "what stays",
                    lambda n: n.volume - _premix_replacing(n),
                    "This is the mud that stays in the pits. The question asks for what must be moved out.",
                ),
            ),
            working=(
                Step(
                    "Mud makes room first, so the old weight minus the premix goes below the line.",
                    "{volume} * ({mud_weight} - {target}) / ({mud_weight} - {premix})",
                ),
            ),
        ),
        Order(
            key="d",
            ask="Put the steps of the second way in a safe order. Give the letters, first step first.",
            must_pass=True,
            steps={
                "talk": "Hold a short talk with the crew, who wear goggles and gloves: what moves, what can hurt, who "
                "does what.",
                "tell": "Tell the driller and the mud logger: how much mud moves, from where to where, and what the "
                "new weight will be. Wait until both say yes.",
                "room": "Check that the reserve pit has room for the mud.",
                "line": "Set the valves to the reserve pit, with the transfer pump off. A second person checks the "
                "line.",
                "out": "Pump the mud to the reserve pit. Watch both pit levels, in touch with the driller, and stop "
                "the pump.",
                "close": "Close the valves to the reserve pit.",
                "premix": "Let premix into the pits up to the old level, and stir.",
                "weigh": "Weigh the mud at both ends of the pits until it shows the target everywhere.",
            },
            rules=(
                Before("talk", "line", "The talk comes first: everybody must know the job before a valve is touched."),
                Before(
                    "tell",
                    "out",
                    "Tell the driller and the mud logger before mud moves: a pit level that changes and nobody has "
                    "told of looks like a kick or a loss.",
                ),
                Before("room", "out", "Check the room first: a reserve pit that overflows spills mud."),
                Before(
                    "line", "out", "Set the line and have it checked before you pump: mud must not go the wrong way."
                ),
                Before("out", "close", "The valves stay open until the mud is out."),
                Before(
                    "close",
                    "premix",
                    "Close the valves before the premix comes in: otherwise thinned mud runs to the reserve pit.",
                ),
                Before("premix", "weigh", "Weigh after the premix is in: before that the mud cannot show the target."),
            ),
            marks=Marks(3),
            reason=(
                "Other orders are right too. After the talk the line is set; the driller and the mud logger can be "
                "told, and the room checked, at any time before mud moves. The procedure of the rig comes before this "
                "exercise."
            ),
        ),
        Choice(
            key="e",
            ask=(
                "The pits can hold {pit_capacity} in all. The reserve pit has room for {reserve_room}. "
                "No mud may go anywhere else. Which way works?"
            ),
            options=(
                Option("growing", "Only the first: let the volume grow.", COMPARE_BOTH_WAYS),
                Option("replacing", "Only the second: move mud out and replace it.", COMPARE_BOTH_WAYS),
                Option("both", "Both ways work.", COMPARE_BOTH_WAYS),
                Option("neither", "Neither way works: more room must be found first.", COMPARE_BOTH_WAYS),
            ),
            right=_way_that_works,
            uses=("b", "c"),
            marks=Marks(2),
            outcome=Outcome.ROUTE,
            reason=(
                "The first way needs pits for {b}, and they hold {pit_capacity}. The second way needs room for {c} in "
                "the reserve pit, and there is room for {reserve_room}."
            ),
        ),
    ),
)
