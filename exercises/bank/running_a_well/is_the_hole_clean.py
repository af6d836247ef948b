"""Rock drilled against rock over the shakers, after the lag: is the hole cleaned, and what is done."""

from __future__ import annotations

import pint

from exercises.bank.running_a_well import Outcome
from exercises.fleet.envelope import DRILLING_RATE, ROCK_OVER_SHAKER
from exercises.fleet.rigs import MIDDLE_HOLE
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, System, Told
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Point, Slip, Written, relative
from exercises.model.possible import RATIO
from exercises.model.usual_slips import turned_round
from exercises.model.working import Step
from pitside.materials import LOW_GRAVITY
from pitside.removal import drilled_hole_volume
from pitside.units import Q

HOUR = Q(1, "h")
#: Rock that the shakers gave over what they should have given, by what it says; the setting draws the lines at 80 and
#: 120 %.
STATES = {"clean": (0.88, 1.1), "stays": (0.35, 0.68), "falls": (1.35, 1.9)}
#: What the rock over the screens looks like, and what it tells. Common practice, no source.
LOOKS = {
    "Sharp chips of the size that the bit makes, as many as before.": "fresh",
    "Rounded, small and soft pieces, and fewer of them each hour.": "ground",
    "Long curved splinters, larger than the bit makes, in slugs.": "walls",
    "A heap comes once for each connection, and little in between.": "beds",
}
TWO_RAN = "two of its three shakers ran and took all of the flow"
OTHER_LOOK = "What made these pieces: the bit, the pipe that grinds them, the wall of the hole, or a bed that moved?"


def _drilled(n: Numbers | Known) -> pint.Quantity:
    return drilled_hole_volume(n.hole, n.rate * HOUR) * LOW_GRAVITY / HOUR


def _wanted(n: Numbers | Known) -> pint.Quantity:
    """What the shakers should give: the rest of the rock goes on to cones and bowl."""
    return _drilled(n) * n.usual


def _over(n: Numbers) -> pint.Quantity:
    low, high = STATES[n.state]
    return _wanted(n) * (low + (high - low) * float(n.place.m_as("")))


def _says(n: Known) -> str:
    share = float(n.b.m_as(""))
    return "stays" if share < 0.8 else "falls" if share > 1.2 else "clean"


EXERCISE = Exercise(
    title="Is the hole clean?",
    level=2,
    version=4,
    outcome=Outcome.HOLE_CLEANING,
    tolerance=relative(0.01, because="1029.4 rounded to 1029 takes 0.04 % of it; three figures on the way, 0.5 %"),
    digits=3,
    numbers=(
        Pick("state", tuple(STATES)),
        Pick("look", tuple(LOOKS)),
        Number("place", Grid(0, 1, 0.05)),
        Number("hole", Grid(12.25, 12.25, 0.25, "in"), Grid(311, 311, 1, "mm")),
        Number("rate", Grid(70, 145, 5, "ft/h"), Grid(22, 44, 1, "m/h")),
        Number("lag", Grid(35, 85, 1, "min")),
        Number("shakers", Grid(2, 3, 1)),
        Number("usual", Grid(60, 75, 5, "%")),
        Told("ran", lambda n: "all its three shakers ran" if n.shakers.m_as("") > 2 else TWO_RAN),
        Derived("over", _over, "t/h", 1),
        Derived("made", _drilled, "t/h", 1),
        Derived("wanted", _wanted, "t/h", 2),
    ),
    valid=lambda n: (n.made / n.shakers).m_as("t/h") >= 2.0 and (n.over / n.shakers).m_as("t/h") <= 8.0,
    envelope=(
        Within("drilling rate", lambda n: n.rate, DRILLING_RATE),
        Within("drilling rate of the section", lambda n: n.rate, MIDDLE_HOLE.rate),
        Within("rock for a shaker, if all of it comes", lambda n: n.made / n.shakers, ROCK_OVER_SHAKER),
        Within("lag", lambda n: n.lag, Usual(20, 90, "min")),
    ),
    setting=(
        "Rig Sandpiper 2 drills {hole} hole at a steady {rate}. The lag from the bit to the shakers is {lag}. Over the "
        "last full hour {ran}, and the boxes under them were weighed and sampled: they took {over} of dry rock. This "
        "rock was drilled one lag earlier, also at {rate}. In the last hour in which the hole was known to be clean "
        "they had taken {usual} of what was drilled; finer rock goes on to cones and bowl. Take the hole as in gauge "
        "and the rock without pores, with a specific gravity of 2.60. The rule of this exercise: below 80 % of what "
        "should be seen the hole is not being cleaned, above 120 % more rock comes than the bit makes. What is done "
        "in the well is for the driller and the company's people to say."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By(
                "How much rock does the bit make, in t/h (a tonne is 2205 lb)?",
                "How much rock does the bit make, in t/h?",
            ),
            unit="t/h",
            solve=_drilled,
            plausible=Range(2.5, 17, "t/h"),
            marks=Marks(2),
            slips=(
                Slip(
                    "radius for diameter",
                    lambda n: _drilled(n) * 4,
                    "Your answer is four times too large: take the area from the diameter, not from twice the "
                    "diameter.",
                ),
                Slip(
                    "volume called mass",
                    lambda n: _drilled(n) / LOW_GRAVITY * Q(1, "t/m**3"),
                    "This is the volume in cubic metres. Rock of 2.60 weighs 2.6 t a cubic metre.",
                ),
                Slip(
                    "barrels called tonnes",
                    lambda n: Q((_drilled(n) / LOW_GRAVITY).m_as("bbl/h"), "t/h"),
                    "This is the volume in barrels. A barrel of rock weighs 0.413 t.",
                    only=System.FIELD,
                ),
            ),
            working=(
                Step(
                    By(
                        "Barrels of hole in an hour, times 0.4134 t of rock in a barrel:",
                        "Area of the hole times the rate, times 2.6 t in a cubic metre:",
                    ),
                    By("{hole}**2 / 1029.4 * {rate} * 0.4134", "pi / 4 * ({hole} / 1000)**2 * {rate} * 2.6"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What percentage of the rock that should be seen at the shakers comes over them?",
            unit="%",
            uses=("a",),
            solve=lambda n: n.over / (n.a * n.usual),
            plausible=Range(33, 195, "%"),
            possible=RATIO,
            tolerance=relative(0.015, because="the boxes are weighed to a tenth of a tonne an hour"),
            marks=Marks(1),
            slips=(
                turned_round(
                    lambda n: n.a * n.usual / n.over, "What came over goes on top, what should be seen below."
                ),
                Slip(
                    "of all rock",
                    lambda n: n.over / n.a,
                    "This is the share of all rock. Not all of it shows at the shakers: take {usual} of it first.",
                ),
            ),
            working=(
                Step("What should be seen at the shakers:", "{a} * {usual} / 100", "should", "t/h", digits=3),
                Step("What came over them, over that:", "{over} / {should} * 100"),
            ),
        ),
        Choice(
            key="c",
            ask="What does that say, and whom do you tell what?",
            uses=("b",),
            options=(
                Option(
                    "clean",
                    "The hole is cleaned: write both figures down.",
                    "Compare the percentage of (b) with 80 and with 120.",
                ),
                Option(
                    "stays",
                    "Rock stays in the hole: tell the driller now, with both figures and the lag.",
                    "Compare the percentage of (b) with 80 and with 120.",
                ),
                Option(
                    "falls",
                    "More rock comes than the bit makes: tell the driller now, keep a sample, and get shakers and "
                    "boxes ready.",
                    "Compare the percentage of (b) with 80 and with 120.",
                ),
            ),
            right=_says,
            marks=Marks(2),
            reason=(
                "{b} of what should be seen comes over. The driller cannot see the boxes: he knows it from you or not "
                "at all."
            ),
        ),
        Choice(
            key="d",
            ask="On another day the shakers show this: {look} What does it tell you?",
            options=(
                Option("fresh", "The bit's own rock, and it comes up well.", OTHER_LOOK),
                Option("ground", "Rock that rolled about in the hole for long: it is cleaned badly.", OTHER_LOOK),
                Option("walls", "Rock from the wall, which the bit did not make: the wall is giving way.", OTHER_LOOK),
                Option("beds", "Beds lie in the hole, and move when pipe turns or pumps start.", OTHER_LOOK),
            ),
            right=lambda n: LOOKS[n.look],
            marks=Marks(1),
            reason="Sharp and even: the bit. Round and few: ground in the hole. Splinters: the wall. Heaps: beds.",
        ),
        Written(
            key="e",
            ask=(
                "The driller is on the telephone. Write what you say to him about (b) and (c), in two or three short "
                "sentences, with figures."
            ),
            outcome=Outcome.ROUTINE,
            points=(
                Point("gives both figures, what should be seen and what came, with the hour and the lag", 1),
                Point("says what is seen, and leaves what is done in the well to him", 1),
            ),
            model=(
                "Driller, in the last hour {over} of rock came over the shakers; by the rate it should be {wanted}. "
                "The lag of {lag} is allowed for, and the rate was steady. I go on weighing each half hour and call "
                "you; what we do in the hole is yours."
            ),
        ),
    ),
)
