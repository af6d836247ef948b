"""Cones in a weighted mud: the barite that an open bank throws away, and how the bank is run."""

from __future__ import annotations

import pint

from exercises.bank.hydrocyclones import Outcome
from exercises.fleet.envelope import WEIGHTED_MUD
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Pick, Range, Told
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Point, Slip, Written, relative
from exercises.model.usual_slips import KILOGRAMS_CALLED_TONNES, POUNDS_CALLED_SACKS
from exercises.model.working import Step
from pitside.materials import BARITE
from pitside.units import Q

#: How the bank is run, and where that is right: mud weight (lb/gal), API numbers on the shakers, and whether they carry
#: the whole flow. Common practice, no source.
CASES = {
    "open": ((8.9, 9.9), ("100", "140"), "carry the whole flow"),
    "over": ((11.0, 14.0), ("80", "100"), "carry the whole flow, and no finer ones would"),
    "off": ((11.0, 14.0), ("170", "200"), "carry the whole flow"),
}
#: What is seen at the screen under the bank, and what is done. Common practice, no source.
SIGNS = {
    "The discard is as dry as dust and heavy, and its retort shows much barite.": "wet",
    "Mud runs over the end of the screen, and the cones spray widely.": "less",
    "The discard is drilled sand with a wet shine, and the sand content at the suction falls.": "fine",
    "Nothing comes from three of the cones.": "plugged",
}
OTHER_SIGN = "Is the screen too dry, too wet, or in order, and do all cones throw?"
WHY = "Ask two things: is there barite to lose, and is the screen under the bank finer than those of the shakers?"


def _barite(n: Known) -> pint.Quantity:
    return n.cones * n.each * n.share * BARITE * Q(1, "h")


EXERCISE = Exercise(
    title="Cones and barite",
    level=2,
    version=1,
    outcome=Outcome.UNDERFLOW,
    tolerance=relative(
        0.01, because="barite at 35 lb/gal or SG 4.20 moves it by 0.2 %; figures of two or three digits"
    ),
    digits=3,
    numbers=(
        Pick("case", tuple(CASES)),
        Pick("sign", tuple(SIGNS)),
        Pick("finer", ("0", "1")),
        Number("place", Grid(0, 1, 0.1)),
        Number("cones", Grid(8, 16, 2)),
        Number("each", Grid(0.8, 1.6, 0.1, "gal/min"), Grid(3.0, 6.0, 0.2, "L/min")),
        Number("share", Grid(14, 24, 1, "%")),
        Number("trial", Grid(11.5, 14.0, 0.1, "lb/gal"), Grid(1380, 1680, 10, "kg/m3")),
        Derived(
            "mud_weight",
            lambda n: Q(CASES[n.case][0][0] + (CASES[n.case][0][1] - CASES[n.case][0][0]) * n.place.m_as(""), "lb/gal"),
            By("lb/gal", "kg/m3"),
            By(1, -1),
        ),
        Told("on_shakers", lambda n: CASES[n.case][1][int(n.finer)]),
        Told("carries", lambda n: CASES[n.case][2]),
        Told(
            "barite_in", lambda n: "is cheap, with no barite in it" if n.case == "open" else "is weighted with barite"
        ),
    ),
    envelope=(
        Within("mud of the trial", lambda n: n.trial, WEIGHTED_MUD),
        Within("underflow of a cone", lambda n: n.each, Usual(0.4, 3.0, "gal/min")),
        Within("barite lost in an hour", lambda n: n.a, Usual(0.8, 7, "t")),
    ),
    setting=(
        "In a trial on rig Heron 4 the desilter ran open, that is, with no screen under it, for an hour in mud of "
        "{trial} that was weighted with barite. "
        "Each of its {cones:n} cones threw {each} of underflow, of which {share} by volume was barite (4.20). A screen "
        "of API 170 can be put under the bank; what it holds is thrown away, and what goes through it goes back to the "
        "mud. Before anybody works at the cones, the pump is stopped and locked out."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By(
                "How much barite did the open bank throw away in the hour? (A sack holds 100 lb.)",
                "How much barite did the open bank throw away in the hour?",
            ),
            unit=By("sack", "t"),
            solve=_barite,
            plausible=Range(0.8, 7.2, "t"),
            marks=Marks(1),
            slips=(
                Slip(
                    "one cone",
                    lambda n: _barite(n) / n.cones,
                    "This is what one cone threw. There are {cones:n} of them.",
                ),
                Slip(
                    "one minute", lambda n: _barite(n) / 60, "This is what went in a minute. The trial ran for an hour."
                ),
                POUNDS_CALLED_SACKS.of(_barite),
                KILOGRAMS_CALLED_TONNES.of(_barite),
            ),
            working=(
                Step(
                    By(
                        "A gallon of barite, in lb; a sack holds 100 lb:",
                        "A litre of barite, in kg; a tonne holds 1000 kg:",
                    ),
                    By("4.2 * 8.345", "4.2 * 1"),
                    gives="grain",
                    unit=By("lb/gal", "kg/L"),
                ),
                Step(
                    "Cones, flow, minutes, share, weight of barite:",
                    By(
                        "{cones} * {each} * 60 * {share} / 100 * {grain} / 100",
                        "{cones} * {each} * 60 * {share} / 100 * {grain} / 1000",
                    ),
                ),
            ),
        ),
        Choice(
            key="b",
            ask=(
                "Another section: the water-based mud weighs {mud_weight} and {barite_in}. The shakers run API "
                "{on_shakers} without a tear and {carries}. How do you run the bank?"
            ),
            options=(
                Option("open", "Open: its underflow is thrown away as it is.", WHY),
                Option("over", "Over the screen of API 170: a mud cleaner.", WHY),
                Option("off", "Not at all: shut it off.", WHY),
            ),
            right=lambda n: n.case,
            marks=Marks(2),
            reason=(
                "Without barite an open bank costs only a little mud. With barite it throws that away too, unless a "
                "screen lets it through. And where the shakers run as fine a screen on the whole flow, the one under "
                "the bank finds nothing left."
            ),
        ),
        Choice(
            key="c",
            ask="The bank runs over its screen. {sign} What do you do?",
            options=(
                Option("wet", "Open the apexes a little, and let some mud wash the screen: it is too dry.", OTHER_SIGN),
                Option(
                    "less",
                    "Close the apexes a little, or shut cones: more mud comes to the screen than it carries.",
                    OTHER_SIGN,
                ),
                Option("fine", "Leave it, and write down discard and retort.", OTHER_SIGN),
                Option(
                    "plugged",
                    "Have the pump stopped and locked out, see that no pressure is left, and clear their apexes.",
                    OTHER_SIGN,
                ),
            ),
            right=lambda n: SIGNS[n.sign],
            marks=Marks(2),
            reason=(
                "A dry screen holds barite back with the sand; a flooded one loses mud; a wet shine on drilled sand is "
                "right."
            ),
        ),
        Written(
            key="d",
            ask=(
                "On another tour, in weighted mud, the bank runs over its screen. The driller asks why you do not run "
                "the cones open. Answer him in two or three sentences."
            ),
            points=(
                Point(
                    "says that cones sort by settling and so take barite along with the sand, which costs money",
                    1,
                ),
                Point("says that the screen sorts by size: fine barite goes back, coarse sand is thrown away", 1),
            ),
            model=(
                "A cone throws out whatever settles fast, and barite is heavy: in the trial that was the barite of (a) "
                "in one hour, and the mud weight had to be built again. The screen under the cones holds the coarse "
                "sand and lets the fine barite go back to us."
            ),
        ),
    ),
)
