"""The pits of a tour: what the level should have done, what it did, and who is told first."""

from __future__ import annotations

import pint

from exercises.bank.running_a_well import Outcome
from exercises.fleet.rigs import HERON_4
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip, absolute
from exercises.model.possible import ANYTHING
from exercises.model.working import Step
from pitside.units import Q

#: What the pits did beyond the account, bbl, by what is right. The setting calls 5 bbl the most that readings explain.
STATES = {"up": (2, 3.2), "down": (-3.2, -2), "gain": (9, 24), "loss": (-26, -9)}
#: What somebody wants to do at the tanks, and what comes first. Common practice, no source.
WISHES = {
    "The mud engineer wants water run into the active tank.": "tell",
    "The sand trap is full, and you want to dump it while the driller is making a connection.": "later",
    "You find a valve to the reserve tank half open, nobody ordered it, and mud runs out by it now.": "shut",
    "The flow line still runs five minutes after the mud pumps stopped, much longer than at the last connection.": (
        "flow"
    ),
}
OTHER_WISH = "Ask first: does mud move, could it be the well, and does the driller know already?"


def _expected(n: Numbers | Known) -> pint.Quantity:
    """What was added, less the rock of the new hole and the mud on it, and what went to the reserve."""
    return n.added - n.hole - n.discard - n.moved


def _found(n: Numbers) -> pint.Quantity:
    low, high = STATES[n.state]
    return n.before + _expected(n) + Q(low + (high - low) * float(n.place.m_as("")), "bbl")


def _state(n: Known) -> str:
    odd = float(n.b.m_as("bbl"))
    return "gain" if odd > 5 else "loss" if odd < -5 else "account"


#: Errors of reading, by system, go into the empty place.
_SETTING = (
    "At the start of the tour the active tanks of rig Heron 4 held {{before}}. During the tour {{added}} of new mud "
    "were added, {{moved}} were pumped to the reserve, and the machines threw out {{hole}} of rock, with {{discard}} "
    "of mud on it. It was all the rock of the new hole, and mud now fills the hole in its place: count this volume "
    "once. Leave the steel of the pipe out. The driller and the mud logger were told of each move. At the end of the "
    "tour the tanks hold {{found}}. Errors of reading can make up to {}, not more."
)
LEVEL = absolute(0.6, "bbl", because="levels and volumes are given to a barrel or a tenth of a cubic metre")

EXERCISE = Exercise(
    title="The pits and who is told",
    level=2,
    version=4,
    outcome=Outcome.PITS,
    tolerance=LEVEL,
    digits=3,
    numbers=(
        Pick("state", tuple(STATES)),
        Pick("wish", tuple(WISHES)),
        Number("place", Grid(0, 1, 0.05)),
        HERON_4.pits.number("before", (5, "bbl"), (1, "m3")),
        Number("added", Grid(30, 90, 2, "bbl"), Grid(5.0, 14.0, 0.5, "m3")),
        Number("hole", Grid(22, 64, 2, "bbl"), Grid(3.5, 10.0, 0.5, "m3")),
        Number("discard", Grid(24, 58, 2, "bbl"), Grid(4.0, 9.0, 0.5, "m3")),
        Number("moved", Grid(20, 60, 5, "bbl"), Grid(3.0, 9.0, 0.5, "m3")),
        Derived("found", _found, By("bbl", "m3"), By(0, 1)),
    ),
    valid=lambda n: abs(_expected(n).m_as("bbl")) >= 12 and abs((n.found - n.before - _expected(n)).m_as("bbl")) >= 1.5,
    envelope=(
        Within("mud in the pits before", lambda n: n.before, HERON_4.pits),
        Within("mud in the pits after", lambda n: n.found, Usual(320, 870, "bbl")),
    ),
    setting=By(_SETTING.format("5 bbl"), _SETTING.format("0.8 m³")),
    parts=(
        Numeric(
            key="a",
            ask="By how much should the active tanks have changed? Put a minus sign before a fall.",
            unit=By("bbl", "m3"),
            solve=_expected,
            plausible=Range(-160, 45, "bbl"),
            possible=ANYTHING,
            marks=Marks(2),
            slips=(
                Slip(
                    "rock left out",
                    lambda n: n.added - n.discard - n.moved,
                    "You left the rock out. It was thrown out too: the new hole is full of mud in its place.",
                ),
                Slip(
                    "sign turned round",
                    lambda n: Q(-1.0) * _expected(n),
                    "Your sign is turned round: what was added raises the tanks.",
                ),
                Slip(
                    "mud to the reserve added",
                    lambda n: _expected(n) + 2 * n.moved,
                    "You added what went to the reserve. It left the active tanks.",
                ),
            ),
            working=(Step("What came in, less what went out:", "{added} - {moved} - {hole} - {discard}"),),
        ),
        Numeric(
            key="b",
            ask="How much more is in the tanks than (a) explains? Put a minus sign if there is less.",
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda n: n.found - n.before - n.a,
            plausible=Range(-28, 26, "bbl"),
            possible=ANYTHING,
            marks=Marks(1),
            slips=(
                Slip(
                    "all of the change",
                    lambda n: n.found - n.before,
                    "This is all of the change. Take off what the account of (a) explains.",
                ),
                Slip(
                    "account added",
                    lambda n: n.found - n.before + n.a,
                    "You added the account. Take it off: only the rest is unexplained.",
                ),
            ),
            working=(Step("The change that was read, less the change of (a):", "{found} - {before} - {a}", digits=3),),
        ),
        Choice(
            key="c",
            ask="What is right?",
            uses=("b",),
            options=(
                Option(
                    "account",
                    "The account closes: write it down, and hand it to the next tour.",
                    "Compare what is not explained with what errors of reading can make.",
                ),
                Option(
                    "gain",
                    "Call the driller now: mud that nobody added can come from the well.",
                    "Is it more than what was explained, or less?",
                ),
                Option(
                    "loss",
                    "Call the driller now: mud is gone, to the rock or over an open valve; then walk the lines.",
                    "Is it less than what was explained, or more?",
                ),
            ),
            right=_state,
            marks=Marks(2),
            reason=(
                "{b} are left over. What is more than errors of reading can make goes to the driller before anybody "
                "looks for the reason."
            ),
        ),
        Choice(
            key="d",
            ask="Next tour. {wish} What do you do at this moment?",
            options=(
                Option(
                    "tell",
                    "Move mud or water now, but tell the driller and the mud logger first how much and from when, and "
                    "wait for their yes.",
                    OTHER_WISH,
                ),
                Option(
                    "later",
                    "Wait until the connection is over: a level that falls just then hides what the well does.",
                    OTHER_WISH,
                ),
                Option(
                    "shut",
                    "Radio the driller how much and since when, and on his word shut the valve: mud is running away.",
                    OTHER_WISH,
                ),
                Option("flow", "Call the driller this moment: the well may be flowing.", OTHER_WISH),
            ),
            right=lambda n: WISHES[n.wish],
            marks=Marks(2),
            reason=(
                "The pits are the driller's eye on the well. Nothing is moved without his word, and nothing at all "
                "during a connection. He is the first to hear of what moves by itself."
            ),
        ),
    ),
)
