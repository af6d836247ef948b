"""A tank is entered to clean it: the order of isolation, testing and signing, the meter's readings, and a rescue."""

from __future__ import annotations

import pint

from exercises.bank.safety import Outcome
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Derived, Grid, Number, Numbers, Pick
from exercises.model.parts import Before, Choice, Known, Marks, Option, Order, Point, Written
from pitside.units import Q

#: What the gas meter shows before entry, by what is wrong: oxygen (% by volume), vapour (% of the lower explosive
#: limit), hydrogen sulphide (parts in a million). The limits that the setting prints are invented for the exercise,
#: within common practice: sites have their own.
READINGS = {
    "fit": ((20.7, 20.9), (0, 4), (0, 0)),
    "oxygen": ((17.4, 19.3), (0, 4), (0, 0)),
    "vapour": ((20.7, 20.9), (14, 40), (0, 0)),
    "sulphide": ((20.7, 20.9), (0, 4), (2, 30)),
}
#: What happens while somebody is in the tank, and what comes first. Common practice, no source.
EVENTS = {
    "The man in the tank sits down and does not answer.": "alarm",
    "A man is in the tank. His gas meter begins to sound; he is well and looks up at you.": "out",
    "A man is in the tank. A second one, who is not on the permit, comes and wants to climb in to help.": "refuse",
    "A man is in the tank. By radio you hear that the permit of another job needs a valve of this tank opened.": "hold",
}
OTHER_EVENT = "That is for another moment. Who is in danger now, and what can you do without going in?"


def _reading(place: int, share: str) -> Derived:
    name, unit, decimals = (("oxygen", "%", 1), ("vapour", "%", 0), ("sulphide", "fraction", 0))[place]

    def read(n: Numbers) -> pint.Quantity:
        low, high = READINGS[n.state][place]
        value = low + (high - low) * float(getattr(n, share).m_as(""))
        return Q(value, "percent") if unit == "%" else Q(value)

    return Derived(name, read, unit, decimals)


def _state(n: Known) -> str:
    return str(n.state)


def _first(n: Known) -> tuple[str, ...]:
    """What comes first; a watchman who calls the man out when the isolation is in question is right as well."""
    first = EVENTS[n.event]
    return (first, "out") if first == "hold" else (first,)


EXERCISE = Exercise(
    title="Into the tank",
    level=2,
    version=5,
    outcome=Outcome.PERMITS,
    numbers=(
        Pick("state", tuple(READINGS)),
        Pick("event", tuple(EVENTS)),
        *(Number(f"share_{place}", Grid(0, 1, 0.05)) for place in range(3)),
        Number("depth", Grid(7, 11, 0.5, "ft"), Grid(2.1, 3.4, 0.1, "m")),
        *(_reading(place, f"share_{place}") for place in range(3)),
    ),
    envelope=(
        Within("oxygen", lambda n: n.oxygen, Usual(17, 21, "%")),
        Within("depth of the tank", lambda n: n.depth, Usual(6, 12, "ft")),
    ),
    setting=(
        "A mud tank on rig Sandpiper 2, {depth} deep, is to be dug out by hand. Oil mud was in it. It has a "
        "stirrer, a mud gun and two lines. The rules of this exercise for the air in a tank: oxygen from "
        "19.5 to 23.5 %, vapour below 10 % of the lower explosive limit (LEL), no hydrogen sulphide at all. Many "
        "places have stricter rules, and only people who are trained and named on the permit go in: the rules of "
        "the site come before this exercise."
    ),
    parts=(
        Order(
            key="a",
            ask="Put the steps in a safe order, from the plan to the first man in the tank. Give the letters.",
            steps={
                "plan": "Talk the job over with all on it: what can hurt, who does what, how we get a man out.",
                "permit": "Get the permit for a confined space.",
                "empty": "Pump the tank empty through its lines. Rinse it from outside, with your eye on a gas meter.",
                "isolate": (
                    "Lock out and tag stirrer and gun. Disconnect the lines or put blinds in them, with tags. Test: "
                    "nothing starts, nothing flows in."
                ),
                "air": "Blow fresh air into the tank, with an earthed (grounded) blower that makes no spark.",
                "test": (
                    "With the blower on, have the air tested from outside at top, middle and bottom, and the readings "
                    "written down."
                ),
                "watch": "Put a watchman at the opening, with radio, list of names and rescue gear.",
                "in": "The first man goes in, with a harness and a gas meter on.",
            },
            rules=(
                Before(
                    "plan",
                    "isolate",
                    "Talk it over before the locks go on: everybody must know what is locked and why.",
                ),
                Before("permit", "in", "Nobody goes into a confined space without a permit."),
                Before(
                    "empty",
                    "isolate",
                    "Pump it empty before its lines are taken off or blinded: it empties through them.",
                ),
                Before("isolate", "in", "Lock out before anybody goes in: a stirrer that starts kills."),
                Before(
                    "isolate", "test", "Test the air once nothing can run in any more: what runs in later brings gas."
                ),
                Before("air", "test", "Blow air first, and test what a man will breathe."),
                Before("test", "in", "Test before anybody goes in: what lacks oxygen smells of nothing."),
                Before("watch", "in", "The watchman stands there before the first man goes in, not after."),
            ),
            marks=Marks(5),
            must_pass=True,
            reason=(
                "Plan, permit, empty, lock out, air, test, watchman, entry. At some sites the permit comes before the "
                "plan, at others it is signed last, with the readings on it; nobody enters without it. Blowing air may "
                "begin earlier, and the watchman may come earlier. A test before blowing is good too; it does not take "
                "the place of this one. Blowing and testing go on while anybody is in."
            ),
        ),
        Choice(
            key="b",
            ask=(
                "All else is ready; only the test is left. The tester reads at top, middle and "
                "bottom. The worst readings are: oxygen {oxygen}, vapour {vapour} of the lower explosive limit, "
                "hydrogen sulphide {sulphide:n} ppm. What do you say?"
            ),
            options=(
                Option(
                    "fit",
                    "The air is within the limits: those on the permit may go in. Keep blowing and testing.",
                    "One of the three readings breaks its limit.",
                ),
                Option(
                    "oxygen",
                    "Nobody goes in: there is too little oxygen. Keep blowing air in, and find what uses it up.",
                    "Compare the oxygen with 19.5 %.",
                ),
                Option(
                    "vapour",
                    "Nobody goes in: the vapour could burn. Keep blowing air in, keep sparks away, rinse again.",
                    "Compare the vapour with 10 %.",
                ),
                Option(
                    "sulphide",
                    "Nobody goes in: raise the alarm for hydrogen sulphide, and all leave, first across the wind, then "
                    "against it.",
                    "The rule wants no hydrogen sulphide: any reading of it keeps everybody out.",
                ),
            ),
            right=_state,
            marks=Marks(2),
            must_pass=True,
            reason=(
                "Oxygen {oxygen}, vapour {vapour}, hydrogen sulphide {sulphide:n} ppm: each has a limit of its own, "
                "and one that is broken is enough. Good air at the top says nothing about the air at the bottom."
            ),
        ),
        Choice(
            key="c",
            ask="You are the watchman. {event} What do you do first?",
            outcome=Outcome.FIRST_ACTION,
            options=(
                Option("alarm", "Raise the alarm, stay outside, and pull on the line of his harness.", OTHER_EVENT),
                Option("out", "Call him out at once, and nobody goes in before the air is tested again.", OTHER_EVENT),
                Option(
                    "refuse", "Keep him out: nobody goes in who is not on the permit, whatever the reason.", OTHER_EVENT
                ),
                Option(
                    "hold",
                    "Say no: nothing of this isolation is moved while a man is in. Call the supervisor.",
                    OTHER_EVENT,
                ),
                Option("in", "Climb in and help.", "Never. Most who die in tanks went in to help.", never_right=True),
            ),
            right=_first,
            marks=Marks(2),
            must_pass=True,
            reason=(
                "The watchman never goes in, and never leaves. He calls, he pulls, he keeps others out, and he keeps "
                "the isolation as it is. In doubt he calls the man out: that is never wrong if the man can climb."
            ),
        ),
        Written(
            key="d",
            ask="Write what you tell the crew before the job, in three or four short sentences.",
            outcome=Outcome.HAZARDS,
            points=(
                Point(
                    "names two things that can hurt in this tank: bad air, vapour, the stirrer, mud running in",
                    1,
                ),
                Point("says what stops each of them: testing and air, locks and tags, lines shut", 1),
                Point("says how a man is got out, and that nobody goes in after him", 1),
            ),
            model=(
                "The air in there can be short of oxygen, and oil mud gives off vapour, so we blow and test all the "
                "time. The stirrer and both lines are locked, and each of us holds his own key. The watchman stays at "
                "the opening. If somebody falls, he calls and we pull the line; nobody climbs in after him."
            ),
        ),
    ),
)
