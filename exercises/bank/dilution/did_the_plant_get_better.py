"""Two sections compared: drilled solids out of low-gravity solids, removal performance, and what the figure hides."""

from __future__ import annotations

import pint

from exercises.bank.dilution import Outcome
from exercises.fleet.envelope import DRILLED_SOLIDS, REMOVAL
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Point, Slip, Written, absolute
from exercises.model.possible import ANYTHING
from exercises.model.working import Step
from pitside.removal import removal_performance
from pitside.units import Q

#: How far the removal performance of this section lies from the last one's, in points of percent.
STATES = {"better": (6, 14), "same": (-1.5, 1.5), "worse": (-14, -6)}
#: What comes out after the figure was worked out, and what it does to it. Common practice, no source.
NOTES = {
    "the caliper finds a washout of a fifth of what the bit drilled, and the rock had been counted by the bit": "rock",
    "after the last foot two tankfuls of mud were dumped, and new mud for them was counted as built": "dump",
    "a bed of native clay was taken for bentonite, and taken off the low-gravity solids": "too_high",
    "the solids still climbed each day when the section ended": "not_steady",
}
OTHER_NOTE = "Which of the three figures does that move: the rock, the mud that was built, or the drilled solids in it?"


def _performance(n: Numbers | Known) -> pint.Quantity:
    return removal_performance(n.built, n.rock, n.low - n.bentonite)


def _before(n: Numbers) -> pint.Quantity:
    low, high = STATES[n.state]
    return _performance(n) - Q(low + (high - low) * float(n.place.m_as("")), "percent")


def _verdict(n: Known) -> str:
    apart = float((n.b - n.before).m_as("percent"))
    return "better" if apart > 3 else "worse" if apart < -3 else "same"


EXERCISE = Exercise(
    title="Did the plant get better?",
    level=2,
    version=3,
    outcome=Outcome.PERFORMANCE,
    digits=3,
    numbers=(
        Pick("state", tuple(STATES)),
        Pick("note", tuple(NOTES)),
        Number("place", Grid(0, 1, 0.05)),
        Number("rock", Grid(300, 900, 10, "bbl"), Grid(48, 144, 2, "m3")),
        Number("built", Grid(1400, 5200, 50, "bbl"), Grid(220, 820, 10, "m3")),
        Number("low", Grid(6.0, 8.5, 0.1, "%")),
        Number("bentonite", Grid(1.8, 2.6, 0.1, "%")),
        Derived("before", _before, "%", 0),
    ),
    valid=lambda n: (
        0.45 <= _performance(n).m_as("") <= 0.85
        and 35 <= n.before.m_as("percent") <= 92
        and abs(abs((_performance(n) - n.before).m_as("percent")) - 3) >= 1
    ),
    envelope=(
        Within("drilled solids", lambda n: n.a, DRILLED_SOLIDS),
        Within("removal performance", lambda n: n.b, REMOVAL),
    ),
    setting=(
        "In the last section of well Marram-1 the plant of rig Heron 4 removed {before} of what was drilled, worked "
        "out as you do it in (b). In this section {rock} of rock went into the mud, and {built} of mud were built, "
        "counted with the rock in it. On average the retorts give {low} of low-gravity solids, and the methylene-blue "
        "tests {bentonite} of bentonite, both by volume of the mud. Count all the mud that was built as holding these "
        "shares. Count the plant as unchanged if the two figures lie within three percentage points of each other."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What share of the mud is drilled solids?",
            unit="%",
            solve=lambda n: n.low - n.bentonite,
            plausible=Range(3.3, 6.8, "%"),
            tolerance=absolute(0.05, "%", because="both shares are given to a tenth of a percent"),
            marks=Marks(1),
            slips=(
                Slip(
                    "all low-gravity solids",
                    lambda n: n.low,
                    "These are all low-gravity solids. The bentonite among them was bought.",
                ),
                Slip(
                    "added",
                    lambda n: n.low + n.bentonite,
                    "You added the bentonite. It is among the low-gravity solids already.",
                ),
            ),
            working=(Step("Low-gravity solids without the bentonite:", "{low} - {bentonite}"),),
        ),
        Numeric(
            key="b",
            ask="What is the removal performance of this section, in percent?",
            unit="%",
            uses=("a",),
            solve=lambda n: removal_performance(n.built, n.rock, n.a),
            plausible=Range(44, 86, "%"),
            possible=ANYTHING,
            tolerance=absolute(0.8, "%", because="a performance rounded to a whole percent, and a little more"),
            marks=Marks(2),
            slips=(
                Slip(
                    "dilution factor",
                    lambda n: 1 - removal_performance(n.built, n.rock, n.a),
                    "This is the dilution factor. Removal performance is 1 minus it.",
                ),
                Slip(
                    "all low-gravity solids",
                    lambda n: removal_performance(n.built, n.rock, n.low),
                    "You counted all low-gravity solids as drilled ones. Take those of (a).",
                ),
            ),
            working=(
                Step(
                    "Mud that would be built without any removal:",
                    "{rock} / ({a} / 100)",
                    gives="whole",
                    unit=By("bbl", "m3"),
                ),
                Step("What was built is this share of it; the rest was removed:", "(1 - {built} / {whole}) * 100"),
            ),
        ),
        Choice(
            key="c",
            ask="How does the plant of this section compare with that of the last one?",
            uses=("b",),
            options=(
                Option(
                    "better", "It removed more.", "Compare (b) with the last section; three points are not counted."
                ),
                Option(
                    "same", "It removed as much.", "Compare (b) with the last section; three points are not counted."
                ),
                Option("worse", "It removed less.", "Compare (b) with the last section; three points are not counted."),
            ),
            right=_verdict,
            marks=Marks(2),
            reason="{b} now, and {before} before.",
        ),
        Choice(
            key="d",
            ask="Later you hear that {note}. What does that do to the figure of (b)?",
            options=(
                Option(
                    "rock",
                    "It is too low: more rock came than was counted, and the plant took more of it out.",
                    OTHER_NOTE,
                ),
                Option("dump", "It is too low: mud was built that took up no rock of this section.", OTHER_NOTE),
                Option("too_high", "It is too high: more of the solids were drilled than was counted.", OTHER_NOTE),
                Option(
                    "not_steady",
                    "It is too high: solids still climb, and more mud must still be built to thin them.",
                    OTHER_NOTE,
                ),
            ),
            right=lambda n: NOTES[n.note],
            marks=Marks(2),
            reason=(
                "Performance is one minus what was built over what would have been built without removal, and that is "
                "rock over the share of drilled solids. More rock raises it, more drilled solids lower it, and so does "
                "new mud that took up no rock yet. (Mud dumped while drilling does no harm: it takes its rock along.) "
                "Solids that still climb are dilution that has yet to come."
            ),
        ),
        Written(
            key="e",
            ask=(
                "The company's man says that {low} of low-gravity solids show a plant that is no good. Answer him in "
                "two or three sentences."
            ),
            points=(
                Point("says that low-gravity solids hold bentonite, which is wanted, beside drilled solids", 1),
                Point(
                    (
                        "says what tells about the plant: removal performance or the rock over the machines, with a "
                        "test for bentonite"
                    ),
                    1,
                ),
            ),
            model=(
                "Some of the low-gravity solids are the bentonite that we mixed in: here {bentonite} of the mud by the "
                "blue test. What the plant let pass is the rest. The removal performance tells how good it is, and so "
                "does the rock that we weigh under the machines."
            ),
        ),
    ),
)
