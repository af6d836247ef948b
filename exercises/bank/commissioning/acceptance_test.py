"""An acceptance test read against its limits: pass, fail, or no test at all, which line decides it, and the record."""

from __future__ import annotations

from collections.abc import Callable

import pint

from exercises.bank.commissioning import Outcome
from exercises.fleet.envelope import FEED_OF_LIGHT_MUD, SOLIDS_THROUGH_LARGE_BOWL, UNWEIGHTED_MUD
from exercises.fleet.machines import LARGE_BOWL
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, Told
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Point, Slip, Written, absolute
from exercises.model.possible import ANYTHING
from exercises.model.working import Step
from pitside.materials import LOW_GRAVITY
from pitside.units import WATER_4C, Q

#: The line of the sheet that decides a test, and what the test then is.
VERDICTS = {
    "none": "passed",
    "flow": "failed",
    "shaking": "failed",
    "bearing": "failed",
    "hours": "again",
    "mud": "again",
}
#: What is found during handover, and what is done about it. Common practice, no source.
FINDINGS = {
    "the test sheet has every figure, and nobody of the rig has signed it": "sign",
    "the spare belts and seals of the list are not on board": "spares",
    "the night crew has never stopped the machine itself": "train",
    "no vibration was written down for the machine running empty": "baseline",
}
#: How the record begins, by the line that decides: the result, and what happens next.
RESULTS = {
    "none": "Passed: every line was kept. The handover begins.",
    "flow": "Failed: it did not take the feed of the contract. The supplier repairs it and tests again.",
    "shaking": "Failed: the vibration was above its limit. The supplier repairs it and tests again.",
    "bearing": "Failed: the main bearing was hotter than its limit. The supplier repairs it and tests again.",
    "hours": "No test: the run ended before its time. Rig and supplier run it again for the whole time.",
    "mud": "No test: the mud was lighter than that of the contract. Rig and supplier run it again in the right mud.",
}
OTHER_FINDING = "What is missing here: a signature, a part, a skill or a figure?"
OTHER_LINE = "This line keeps its limit. Compare each measured figure with the limit on the same line."


def _at(deciding: str, good: float, bad: float) -> Callable[[Numbers], float]:
    """A share of the limit: ``good`` to 1 where the line is kept, beyond it by ``bad`` where it decides the test."""

    def share(n: Numbers) -> float:
        place = float(getattr(n, f"{deciding}_place").m_as(""))
        return 1 + (bad if n.decides == deciding else good) * (0.25 + 0.75 * place)

    return share


_FLOW, _SHAKING, _BEARING, _HOURS = (
    _at("flow", 0.12, -0.10),
    _at("shaking", -0.5, 0.4),
    _at("bearing", -0.12, 0.12),
    _at("hours", 0.03, -0.3),
)


def _mud(n: Numbers) -> pint.Quantity:
    """The mud of the test: in the range of the sheet, or lighter than it where that spoils the test."""
    place = float(n.mud_place.m_as(""))
    if n.decides == "mud":
        return n.lightest - (0.15 + 0.25 * place) * (n.heaviest - n.lightest)
    return n.lightest + (0.1 + 0.8 * place) * (n.heaviest - n.lightest)


def _share(n: Numbers) -> pint.Quantity:
    """The solids that make water of the density of the mud: it holds no barite and no salt."""
    return (n.mud_weight - WATER_4C) / (LOW_GRAVITY - WATER_4C)


def _margin(n: Known) -> pint.Quantity:
    return n.flow / n.flow_limit - 1


EXERCISE = Exercise(
    title="The acceptance test",
    level=2,
    version=3,
    outcome=Outcome.ACCEPTANCE,
    numbers=(
        Pick("decides", tuple(VERDICTS)),
        Pick("finding", tuple(FINDINGS)),
        *(Number(f"{line}_place", Grid(0, 1, 0.02)) for line in ("flow", "shaking", "bearing", "hours", "mud")),
        LARGE_BOWL.feed.part(110, 200).number("flow_limit", (5, "gal/min"), (1, "m3/h")),
        Number("shaking_limit", Grid(7, 11, 1)),
        Number("bearing_limit", Grid(80, 95, 5)),
        Number("hours_limit", Grid(4, 12, 1, "h")),
        Number("lightest", Grid(9.0, 9.1, 0.1, "lb/gal"), Grid(1080, 1090, 10, "kg/m3")),
        Number("heaviest", Grid(9.4, 9.5, 0.1, "lb/gal"), Grid(1130, 1140, 10, "kg/m3")),
        Derived("flow", lambda n: n.flow_limit * _FLOW(n), By("gal/min", "m3/h"), By(0, 1)),
        Derived("shaking", lambda n: n.shaking_limit * _SHAKING(n), "fraction", 1),
        Derived("bearing", lambda n: n.bearing_limit * _BEARING(n), "fraction", 0),
        Derived("hours", lambda n: n.hours_limit * _HOURS(n), "h", 1),
        Derived("mud_weight", _mud, By("lb/gal", "kg/m3"), By(2, 0)),
        Derived("share", _share, "%", 1),
        Told("result", lambda n: RESULTS[n.decides]),
    ),
    valid=lambda n: (
        abs(_margin(n).m_as("percent")) >= 1.5
        and (VERDICTS[n.decides] == "again" or n.hours >= n.hours_limit)
        and (n.hours < n.hours_limit) == (n.decides == "hours")
        and (n.bearing > n.bearing_limit) == (n.decides == "bearing")
    ),
    envelope=(
        Within("feed of the bowl", lambda n: n.flow, FEED_OF_LIGHT_MUD),
        Within("mud of the test", lambda n: n.mud_weight, UNWEIGHTED_MUD),
        Within("solids of the test", lambda n: n.flow * n.share * LOW_GRAVITY, SOLIDS_THROUGH_LARGE_BOWL),
        Within("vibration", lambda n: n.shaking, Usual(2, 16)),
        Within("bearing", lambda n: n.bearing, Usual(68, 108)),
    ),
    setting=(
        "A large centrifuge was rigged up on rig Heron 4. The contract says: pass if every figure keeps its limit over "
        "the whole time; fail if a figure breaks its limit; **no test, to be run again**, if the mud or the time was "
        "not as in the contract, whatever the other figures say. The rig's work ended the run, not a fault. The solids "
        "of the mud, for which the contract has no limit, were {share} by volume all the time. The sheet of the test "
        "gives the worst reading of each line:\n\n"
        "| Line | Limit | Measured |\n| --- | --- | ---: |\n| Feed that it takes | at least "
        "{flow_limit} | {flow} |\n| Vibration at the main bearing | at most {shaking_limit:n} mm/s | {shaking:n} mm/s "
        "|\n| Temperature of the main bearing | at most {bearing_limit:n} °C | {bearing:n} °C |\n| Time at this feed "
        "without a stop | at least {hours_limit} | {hours} |\n| Mud weight of the feed | {lightest} to {heaviest} | "
        "{mud_weight} |\n\nThe gauges had been checked the day before. Nobody stands beside a machine on its first run "
        "at full load longer than a reading takes."
    ),
    parts=(
        Choice(
            key="a",
            ask="What is the result?",
            options=(
                Option("passed", "Passed.", "One line of the sheet is outside its limit: look at each of the five."),
                Option(
                    "failed",
                    "Failed: the machine has to be repaired, and tested again.",
                    "No figure of the machine breaks its limit. Look at time and mud as well.",
                ),
                Option(
                    "again",
                    "No test: it says nothing yet of the machine, and is run again.",
                    "Time and mud were those of the contract, so it was a test. Did the machine keep its limits?",
                ),
                Option(
                    "remark",
                    "Passed, with a remark that one figure missed its limit by a little.",
                    "A limit is a limit: what is nearly kept is broken. The contract knows no such result.",
                    never_right=True,
                ),
            ),
            right=lambda n: VERDICTS[n.decides],
            marks=Marks(2),
            reason=(
                "First ask whether it was a test at all: {hours} of {hours_limit}, in mud of {mud_weight}. Only then "
                "compare the machine's own figures with their limits."
            ),
        ),
        Choice(
            key="b",
            ask="Which line of the sheet decides it?",
            options=(
                Option("flow", "The feed.", OTHER_LINE),
                Option("shaking", "The vibration.", OTHER_LINE),
                Option("bearing", "The temperature of the bearing.", OTHER_LINE),
                Option("hours", "The time.", OTHER_LINE),
                Option("mud", "The mud weight.", OTHER_LINE),
                Option("none", "None: every line is kept.", "One line is not kept: look at each of the five."),
            ),
            right=lambda n: n.decides,
            marks=Marks(2),
            reason=(
                "Feed {flow} of {flow_limit}; vibration {shaking:n} of {shaking_limit:n} mm/s; bearing {bearing:n} of "
                "{bearing_limit:n} °C; {hours} of {hours_limit}; mud {mud_weight}, allowed {lightest} to {heaviest}."
            ),
        ),
        Numeric(
            key="c",
            ask="How far is the feed above its limit, in percent of the limit? Put a minus sign if it is below.",
            unit="%",
            solve=_margin,
            plausible=Range(-11, 13, "%"),
            possible=ANYTHING,
            tolerance=absolute(0.2, "%", because="the feed is printed to a whole gal/min or 0.1 m³/h"),
            digits=3,
            marks=Marks(1),
            slips=(
                Slip(
                    "whole of it",
                    lambda n: n.flow / n.flow_limit,
                    "This is the feed as a share of its limit. How far above it or below it is that?",
                ),
                Slip(
                    "sign turned round",
                    lambda n: Q(-1.0) * _margin(n),
                    "Your sign is turned round: a feed below its limit gets the minus.",
                ),
            ),
            working=(
                Step("What it is above the limit, over the limit.", "({flow} - {flow_limit}) / {flow_limit} * 100"),
            ),
        ),
        Choice(
            key="d",
            outcome=Outcome.COMMISSION,
            ask="At the handover you find that {finding}. What do you do?",
            options=(
                Option(
                    "sign", "Have both sides sign the test sheet for what they saw, before the handover.", OTHER_FINDING
                ),
                Option(
                    "spares",
                    "List what is missing with a date and a name, and agree how long it may run without it.",
                    OTHER_FINDING,
                ),
                Option(
                    "train",
                    "Let the crew start, stop and isolate it while you watch, and write down who did.",
                    OTHER_FINDING,
                ),
                Option("baseline", "Run it empty, take the reading, and hang it up at the machine.", OTHER_FINDING),
            ),
            right=lambda n: FINDINGS[n.finding],
            marks=Marks(1),
            reason=(
                "A handover is figures, parts, people and signatures. From tomorrow nobody looks after what is missing "
                "today."
            ),
        ),
        Written(
            key="e",
            ask="Write the result into the record, in three or four sentences, so that nobody has to ask you.",
            points=(
                Point(
                    "says the result and the line that decides it, or that all were kept, with figures and limits",
                    1,
                ),
                Point("says in which mud, at which feed and for how long it ran", 1),
                Point("says what happens next, by whom, and who signed or has to sign", 1),
            ),
            model=(
                "{result} Feed {flow} (limit {flow_limit}), vibration {shaking:n} mm/s ({shaking_limit:n}), bearing "
                "{bearing:n} °C ({bearing_limit:n}), run of {hours} ({hours_limit}), mud of {mud_weight} ({lightest} "
                "to {heaviest}) with {share} of solids. Gauges checked the day before. What is open has a name and a "
                "date; both sides have signed."
            ),
        ),
    ),
)
