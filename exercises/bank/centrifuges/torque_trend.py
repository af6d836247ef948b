"""Reading the trend of a decanter's torque and vibration, acting on it, and choosing the right handle."""

from __future__ import annotations

from collections.abc import Callable

import pint

from exercises.bank.centrifuges import BALANCE, Outcome
from exercises.fleet.envelope import SOLIDS_THROUGH_SMALL_BOWL
from exercises.fleet.machines import FINES_BOWL
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip
from exercises.model.working import Step
from pitside.units import WATER_4C, Q

#: Times of the readings in minutes, and what torque (of its limit) and vibration do in each state, above the first
#: reading. Common practice, no source.
TIMES = (0, 5, 10, 15, 20)
TORQUE = {
    "steady": (0, 1, 0, -1, 0),
    "climbs": (0, 6, 13, 19, 26),
    "leaps": (0, 0, 1, 0, 36),
    "falls": (0, 0, -1, -15, -22),
    "shakes": (0, 1, 0, 1, 1),
}
VIBRATION = {
    "steady": (0.0, 0.1, 0.0, 0.1, 0.0),
    "climbs": (0.0, 0.1, 0.1, 0.2, 0.2),
    "leaps": (0.0, 0.0, 0.1, 0.1, 0.6),
    "falls": (0.0, 0.0, 0.0, -0.1, -0.2),
    "shakes": (0.0, 0.9, 2.1, 3.6, 5.2),
}
SAYS = {
    "steady": "It runs as it should.",
    "climbs": "Bit by bit more solids come in than the scroll carries out.",
    "leaps": "Something has blocked the scroll all at once.",
    "falls": "Hardly any mud reaches the bowl any more, or the scroll no longer turns against the bowl.",
    "shakes": "The bowl runs more and more out of balance.",
}
ACTS = {
    "steady": "Let it run, and write the readings down.",
    "climbs": "Turn the feed down in steps until the torque falls, and see why more solids come.",
    "leaps": "Shut the feed at once, let bowl and scroll turn, and flush; wait for the torque to fall.",
    "falls": "Look at the feed meter. If mud still comes: feed off, stop from the panel. If none comes: leave the bowl "
    "turning, and look at tank level, feed pump, valves and strainer.",
    "shakes": "Keep everybody away, shut the feed, stop the drive from the panel, and have it isolated when it stands.",
}
OTHER_TREND = "Go through the two rows from left to right: what changed, how fast, and what stayed as it was?"

#: A complaint and the one setting that answers it. Common practice, no source.
COMPLAINTS = {
    "The solids come out like soup, the overflow is clear, the torque is far below its limit, and no stop is "
    "wanted.": "slower",
    "The solids come out bone dry, the torque is close below its limit, the feed may not be cut, and no stop is "
    "wanted.": "faster",
    "The overflow carries fine solids, the solids end is dry, the torque is low, and the pond is at its "
    "shallowest.": "deeper",
    "The solids are too wet, the overflow is clear, and the differential speed is already at its lowest.": "shallower",
}
OTHER_HANDLE = "This would make it worse, or do nothing for it. What is too wet, too dry or too dirty here?"


def _torque(at: int) -> Callable[[Numbers], pint.Quantity]:
    return lambda n: n.first + Q(TORQUE[n.state][at] * n.strength.m_as(""), "percent")


def _vibration(at: int) -> Callable[[Numbers], pint.Quantity]:
    return lambda n: n.quiet + Q(VIBRATION[n.state][at] * n.strength.m_as(""))


def _solids(n: Known) -> pint.Quantity:
    return n.feed * n.share * n.drilled


EXERCISE = Exercise(
    title="The torque of a centrifuge",
    level=2,
    version=3,
    outcome=Outcome.CUT,
    tolerance=BALANCE,
    digits=3,
    numbers=(
        Pick("state", tuple(TORQUE)),
        Pick("complaint", tuple(COMPLAINTS)),
        Number("first", Grid(34, 46, 1, "%")),
        Number("quiet", Grid(1.4, 2.6, 0.1)),
        Number("strength", Grid(0.85, 1.15, 0.05)),
        FINES_BOWL.feed.part(40, 90).number("feed", (1, "gal/min"), (0.2, "m3/h")),
        Number("share", Grid(4, 8, 0.5, "%")),
        Number("limit", Grid(2.6, 4.6, 0.1, "t/h")),
        Number("drilled", Grid(21.7, 21.7, 0.1, "lb/gal"), Grid(2600, 2600, 10, "kg/m3")),
        *(Derived(f"torque_{at}", _torque(at), "%", 0) for at in range(len(TIMES))),
        *(Derived(f"vibration_{at}", _vibration(at), "fraction", 1) for at in range(len(TIMES))),
    ),
    valid=lambda n: (
        0.4 <= (_solids(n) / n.limit).m_as("") <= 0.92 and FINES_BOWL.feed.holds(n.feed * n.limit / _solids(n))
    ),
    envelope=(
        Within("feed of the bowl", lambda n: n.feed, FINES_BOWL.feed),
        Within("solids through the bowl", lambda n: n.c, SOLIDS_THROUGH_SMALL_BOWL),
        Within("most feed", lambda n: n.d, FINES_BOWL.feed),
    ),
    setting=(
        "A centrifuge on rig Heron 4 is fed with {feed} of unweighted mud. This morning's retort found {share} of "
        "drilled solids by volume, which weigh {drilled}; the mud may have changed since. Count all drilled solids as "
        "going to the solids end. By the maker's book its scroll carries {limit} of dry solids at most. At its torque "
        "alarm, 80 %, the feed is shut off; at 100 % of its torque, or at a vibration of 11 mm/s, it stops by itself "
        "(trips). Nothing was changed at the machine while these readings were taken:\n\n"
        + f"| Minutes | {' | '.join(map(str, TIMES))} |\n"
        + f"| --- |{' ---: |' * len(TIMES)}\n"
        + f"| Torque of the scroll | {' | '.join(f'{{torque_{at}}}' for at in range(len(TIMES)))} |\n"
        + f"| Vibration (mm/s) | {' | '.join(f'{{vibration_{at}:n}}' for at in range(len(TIMES)))} |\n"
        + "\nThe maker's book and the rig's own rules come before this exercise."
    ),
    parts=(
        Choice(
            key="a",
            ask="What do the readings say?",
            options=tuple(Option(state, says, OTHER_TREND) for state, says in SAYS.items()),
            right=lambda n: n.state,
            marks=Marks(2),
            reason=(
                "The torque went from {torque_0} to {torque_4} and the vibration from {vibration_0:n} to "
                "{vibration_4:n} mm/s. Torque tells what the scroll has to push, vibration how evenly the bowl is "
                "filled; a slow climb is load, a leap is a blockage."
            ),
        ),
        Choice(
            key="b",
            ask="What do you do first?",
            options=tuple(Option(state, act, OTHER_TREND) for state, act in ACTS.items()),
            right=lambda n: n.state,
            marks=Marks(2),
            outcome=Outcome.SAFELY,
            reason=(
                "A slow climb below the alarm: turn the feed down in steps. A leap, or the alarm: feed off at once, "
                "and bowl and scroll go on turning and are flushed, so that solids do not cake. A bowl that shakes is "
                "stopped, and nobody goes near before it stands still and is locked out. A trip is not reset again "
                "before its cause is found."
            ),
        ),
        Numeric(
            key="c",
            ask=By(
                "By that retort, how much solids does the scroll have to carry out, in t/h (a tonne is 2205 lb)?",
                "By that retort, how much solids does the scroll have to carry out, in t/h?",
            ),
            unit="t/h",
            solve=_solids,
            plausible=Range(0.9, 4.3, "t/h"),
            marks=Marks(1),
            slips=(
                Slip(
                    "all of the mud",
                    lambda n: n.feed * n.drilled,
                    "You counted all of the mud as solids. Only the share of solids counts.",
                ),
                Slip(
                    "a minute for an hour",
                    lambda n: _solids(n) / 60,
                    "This is what comes in a minute. An hour has sixty of them.",
                ),
                Slip(
                    "density of water",
                    lambda n: n.feed * n.share * WATER_4C,
                    "You gave the solids the density of water. They are heavier: take their own density.",
                ),
            ),
            working=(
                Step(
                    By(
                        "Pounds in an hour, over the 2204.6 lb of a tonne.",
                        "Cubic metres an hour of solids, with their density.",
                    ),
                    By(
                        "{feed} * 60 * {share} / 100 * {drilled} / 2204.6",
                        "{feed} * {share} / 100 * {drilled} / 1000",
                    ),
                ),
            ),
        ),
        Numeric(
            key="d",
            ask="What feed of mud as that retort found it would bring the scroll to the limit of the maker's book?",
            unit=By("gal/min", "m3/h"),
            uses=("c",),
            solve=lambda n: n.feed * n.limit / n.c,
            plausible=Range(42, 122, "gal/min"),
            marks=Marks(1),
            slips=(
                Slip(
                    "ratio upside down",
                    lambda n: n.feed * n.c / n.limit,
                    "Your ratio is upside down: the limit lies above what the scroll carries now.",
                ),
                Slip(
                    "in proportion to the rest",
                    lambda n: n.feed * (2 - n.c / n.limit),
                    "You added the share that is left of the limit. Solids go in proportion to the feed: divide.",
                ),
            ),
            working=(Step("Solids go with the feed.", "{feed} * {limit} / {c}"),),
        ),
        Choice(
            key="e",
            ask=(
                "On another day, at a steady feed: {complaint} Which one setting do you change? Speed of the bowl and "
                "feed stay as they are."
            ),
            options=(
                Option("slower", "Lower the differential speed of the scroll.", OTHER_HANDLE),
                Option("faster", "Raise the differential speed of the scroll.", OTHER_HANDLE),
                Option("deeper", "With the machine stopped and locked out, set a deeper pond.", OTHER_HANDLE),
                Option("shallower", "With the machine stopped and locked out, set a shallower pond.", OTHER_HANDLE),
            ),
            right=lambda n: COMPLAINTS[n.complaint],
            marks=Marks(2),
            reason=(
                "A slower scroll leaves the solids longer in the bowl: they come out drier, and the torque rises. A "
                "faster one takes them out sooner: less torque, wetter solids. A deeper pond gives fine solids more "
                "time to settle and leaves less dry beach; a shallower one does the opposite."
            ),
        ),
    ),
)
