"""Two likely causes of a sign: the one check that tells them apart, what its result says, and where the tree ends."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import permutations

from exercises.bank.fault_finding import Outcome
from exercises.fleet.envelope import UNWEIGHTED_MUD
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Grid, Number, Numbers, Pick, Told
from exercises.model.parts import Choice, Known, Marks, Option, Point, Written


@dataclass(frozen=True)
class Doubt:
    """A sign with two causes, the check that tells them apart, what it shows and what is still open for each of them.

    Common practice, no source.
    """

    sign: str
    causes: tuple[str, str]
    check: str
    shows: tuple[str, str]
    still_open: tuple[str, str]


#: Each check is of no use for the doubts of the others.
DOUBTS = {
    "header": Doubt(
        "The gauge of the cone header reads a third too low.",
        ("the pump draws air", "the impeller is worn"),
        "Watch the needle for a minute, and listen at the pump.",
        ("The needle swings, and the pump rattles.", "The needle stands still, and the pump is quiet."),
        (
            "what lets the air in: level, seal, suction line. Read the gauge each hour.",
            "the pump, which has to be locked out and opened. Read the gauge each hour.",
        ),
    ),
    "sand": Doubt(
        "The sand content at the suction has doubled.",
        ("a screen is torn", "the cones no longer take the sand out"),
        "Take a sand test right under each shaker, before the cones.",
        ("One shaker gives much more sand than the others.", "All shakers give as little sand as yesterday."),
        (
            "the torn screen, until it is changed. Sand test under the shakers each hour.",
            "why the cones let it past: pressure, apexes, number in use. Sand test before and after them each hour.",
        ),
    ),
    "flood": Doubt(
        "The mud runs to the end of a shaker's deck.",
        ("the holes are plugged", "this shaker gets more than its share of the flow"),
        "Compare the gates of the header box, and the mud that each of them lets onto its deck.",
        (
            "The gates stand alike, and let the same on.",
            "This gate stands wider than the others, and lets more on.",
        ),
        (
            "washing or another screen. Look at the pool each quarter of an hour.",
            "why the gate stood wider. Look at both pools each quarter of an hour.",
        ),
    ),
    "torque": Doubt(
        "The torque of the decanter's scroll has risen by a quarter.",
        ("the mud that is fed has got heavier", "more of the same mud is fed"),
        "Weigh the feed, and read the feed pump's speed.",
        ("The feed weighs more; the pump turns as before.", "The feed weighs the same; the pump turns faster."),
        (
            "how the heavier mud got to the feed; the feed was turned down. Read the torque each quarter of an hour.",
            "who sped the feed pump up; it was turned down. Read the torque each quarter of an hour.",
        ),
    ),
    "light": Doubt(
        "The open cup shows a mud that is lighter than an hour ago. The driller was told at once: the pits are level, "
        "and with the pumps off nothing flows.",
        ("there is gas in it", "water was added"),
        "Weigh the same mud on the pressurised balance.",
        ("Under pressure it has its full weight.", "Under pressure it is as light as in the open cup."),
        (
            "where the gas comes from, which is the driller's to say. Weigh on both balances each quarter of an hour.",
            "where the water comes in; the mud engineer says what goes in for it. Weigh at the next round.",
        ),
    ),
    "level": Doubt(
        "The active tank falls, although nobody moves mud.",
        ("mud goes into the rock", "a valve at the tanks lets it past"),
        "Have every dump and line walked, and every other tank's level read.",
        ("All valves are shut, and no other tank rises.", "Another tank or a ditch takes up what is missing."),
        (
            "the loss is the driller's. Read all levels each quarter of an hour.",
            "the valve, until it holds. Read both levels each quarter of an hour.",
        ),
    ),
    "shake": Doubt(
        "The centrifuge shakes more than its record says.",
        ("solids have caked in the bowl", "the skid's feet are loose"),
        "Stop, wait, have it isolated, tighten the bolts of the feet, and read the vibration at the next start, empty.",
        (
            "All bolts were tight, and it shakes as before.",
            "Two bolts were loose; now they are tight, and it shakes no more than its record says.",
        ),
        (
            "the bowl: the machine is stopped again, and locked out until the bowl is opened and cleaned.",
            "why the bolts came loose. Read the vibration at each start, and try the bolts when it is locked out.",
        ),
    ),
    "blue": Doubt(
        "The low-gravity solids have gone up by one percent of the mud.",
        ("rock has built up", "bentonite was added"),
        "Run the methylene-blue test, and look at what the sack store gave out.",
        (
            "The blue test is as it was; no sacks went out.",
            "The blue test went up; ninety sacks of bentonite went out.",
        ),
        (
            "where the rock gets through: screens, cones, bowl, or too little dilution. Retort at the next full check.",
            "whether the programme wanted the bentonite. Retort and blue test at the next full check.",
        ),
    ),
}
NAMES = tuple(DOUBTS)
PLACES = ("one", "two", "three", "four")
ORDERS = tuple(" ".join(order) for order in permutations("0123"))
#: A finding in the tree of sand at the suction, and what to look at next: sand is there only if it passes shakers AND
#: cones. Common practice, no source.
TREE = {
    "A torn screen was found and changed; nothing else was looked at.": "cones",
    "All screens are whole, and no bypass is open; the cones have not been looked at.": "cones_only",
    "A bypass stood open and is shut now; the feed pump drew air, and does so no more.": "watch",
}
OTHER_BRANCH = (
    "While the cones run, sand reaches the suction only if it passes the shakers and the cones. Which of the two has "
    "nobody cleared?"
)


def _four(n: Numbers | Known) -> list[str]:
    """The doubt in hand and three others, in the order of the options."""
    start = NAMES.index(n.doubt)
    four = [NAMES[(start + int(step)) % len(NAMES)] for step in ("0", *n.others.split())]
    return [four[int(place)] for place in n.order.split()]


def _check(at: int) -> Callable[[Numbers], str]:
    return lambda n: DOUBTS[_four(n)[at]].check


EXERCISE = Exercise(
    title="The next check",
    level=2,
    version=5,
    outcome=Outcome.NEXT_CHECK,
    numbers=(
        Pick("doubt", NAMES),
        Pick("others", ("1 3 5", "2 4 6", "1 4 7", "2 3 7", "1 5 6", "3 4 6")),
        Pick("order", ORDERS),
        Pick("found", ("0", "1")),
        Pick("turned", ("0", "1")),
        Pick("branch", tuple(TREE)),
        Number("hour", Grid(1, 11, 1, "h")),
        Number("mud_weight", Grid(8.8, 9.4, 0.1, "lb/gal"), Grid(1050, 1130, 10, "kg/m3")),
        Told("sign", lambda n: DOUBTS[n.doubt].sign),
        Told("first", lambda n: DOUBTS[n.doubt].causes[int(n.turned)]),
        Told("second", lambda n: DOUBTS[n.doubt].causes[1 - int(n.turned)]),
        Told("right_check", lambda n: DOUBTS[n.doubt].check),
        Told("shows", lambda n: DOUBTS[n.doubt].shows[int(n.found)]),
        Told("still_open", lambda n: DOUBTS[n.doubt].still_open[int(n.found)]),
        *(Told(f"check_{place}", _check(at)) for at, place in enumerate(PLACES)),
    ),
    envelope=(Within("unweighted mud", lambda n: n.mud_weight, UNWEIGHTED_MUD),),
    setting=(
        "On rig Heron 4, with unweighted mud of {mud_weight}, {hour} into the tour: {sign} Two causes are likely: "
        "**{first}**, or **{second}**. Whoever repairs by guess repairs twice. A check that needs a hand at a machine "
        "is made only when the machine is stopped and locked out by the rules of the site."
    ),
    parts=(
        Choice(
            key="a",
            ask="Which one check tells the two causes apart?",
            options=tuple(
                Option(place, f"{{check_{place}}}", "This would come out the same for both of your causes.")
                for place in PLACES
            ),
            right=lambda n: PLACES[_four(n).index(n.doubt)],
            marks=Marks(2),
            reason="It comes out one way for the one cause and another way for the other: that makes it a check.",
        ),
        Choice(
            key="b",
            ask="The check gives this: {shows} Which cause is left?",
            outcome=Outcome.DIAGNOSE,
            options=(
                Option(
                    "first", "It is this one: {first}.", "Ask what this cause would have shown. Is it what was found?"
                ),
                Option(
                    "second", "It is this one: {second}.", "Ask what this cause would have shown. Is it what was found?"
                ),
            ),
            right=lambda n: "first" if n.found == n.turned else "second",
            marks=Marks(2),
            reason="It was found: {shows} Only one of the two causes shows itself so.",
        ),
        Choice(
            key="c",
            ask="Another tour: the cones run, and there is fresh sand at the suction. {branch} What now?",
            outcome=Outcome.DIAGNOSE,
            options=(
                Option(
                    "cones",
                    "Look at the cones alone: sand that passed the torn screen should have stopped there.",
                    OTHER_BRANCH,
                ),
                Option(
                    "cones_only",
                    "Look at the cones, and take the sand test under the shakers again: sand got past screens that are "
                    "whole.",
                    OTHER_BRANCH,
                ),
                Option("watch", "Take a sand test each hour: it must fall back to what it was.", OTHER_BRANCH),
            ),
            right=lambda n: TREE[n.branch],
            marks=Marks(1),
            reason=(
                "Shakers AND cones let the sand past: whoever finds one fault has found half of it. Then watch the "
                "sign itself."
            ),
        ),
        Written(
            key="d",
            ask=(
                "Write the note for the next tour in two to four sentences: sign, check, result, and what is still "
                "open."
            ),
            outcome=Outcome.PASS_ON,
            points=(
                Point("says what was seen, when, and which two causes were thought of", 1),
                Point("says which check was made and what it gave, not only what was concluded", 1),
                Point("says what is still open, and what the next tour has to look at", 1),
            ),
            model=(
                "{hour} into the tour: {sign} It could be that {first}, or that {second}. Check: {right_check} Result: "
                "{shows} Told the driller. Still open: {still_open}"
            ),
        ),
    ),
)
