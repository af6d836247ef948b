"""Hydrogen sulphide at the shakers: what is done in which order, which way to go, and what a meter asks for."""

from __future__ import annotations

import pint

from exercises.bank.gas import Outcome
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Derived, Grid, Number, Numbers, Pick, Told
from exercises.model.parts import Before, Choice, Known, Marks, Option, Order
from pitside.units import Q

SIDES = ("north", "east", "south", "west")
#: What a meter at the shakers shows, parts in a million, by what the plan of the exercise asks for. A first alarm at 10
#: or less is common practice, no source; law and sites differ, and some act at 1.
LEVELS = {"tell": (1, 4), "muster": (5, 9), "leave": (10, 60)}
BY_THE_PLAN = "Compare the reading with 5 and with 10, as the plan of this exercise does."
#: Moments that are less plain than a reading, and what is right. Common practice, no source.
MOMENTS = {
    "You smelt bad eggs a minute ago. Now you smell nothing, and the battery of your meter is flat.": "nose",
    "Your mate falls beside the header box. His meter sounds, and yours begins to.": "mate",
    "The alarm is over, all are counted, and the driller wants somebody back at the shakers.": "back",
    "The pit level has risen by {gain} within five minutes, and no meter shows anything yet.": "gain",
}
OTHER_MOMENT = "That is for another moment. Who could breathe gas in the next minute, and who has to know?"


def _shown(n: Numbers) -> pint.Quantity:
    low, high = LEVELS[n.level]
    return Q(low + (high - low) * float(n.share.m_as("")))


def _level(n: Known) -> str:
    shown = float(n.shown.m_as(""))
    return "tell" if shown < 5 else "muster" if shown < 10 else "leave"


def _opposite(side: str) -> str:
    return SIDES[(SIDES.index(side) + 2) % 4]


EXERCISE = Exercise(
    title="A smell at the shakers",
    level=1,
    version=2,
    outcome=Outcome.GAS_SAFELY,
    numbers=(
        Pick("sock", SIDES),
        Pick("level", tuple(LEVELS)),
        Pick("moment_drawn", tuple(MOMENTS)),
        Number("share", Grid(0, 1, 0.05)),
        Number("gain", Grid(5, 18, 1, "bbl"), Grid(0.8, 2.8, 0.1, "m3")),
        Number("tour", Grid(1, 11, 1, "h")),
        Derived("shown", _shown, "fraction", 0),
        Told("moment", lambda n: n.moment_drawn),
    ),
    envelope=(Within("pit gain", lambda n: n.gain, Usual(5, 20, "bbl")),),
    setting=(
        "Rig Heron 4 drills towards a bed that may hold hydrogen sulphide. You are at the shakers, {tour} into the "
        "tour, with a meter and an escape set on you. The meter shows parts in a million (ppm). The plan of this "
        "exercise for hydrogen sulphide:\n\n| The meter shows | What the plan asks for |\n| --- | --- |\n| any reading "
        "above 0 | Stop the job, go upwind of it, tell the driller at once; only those whom the plan names stay. |\n"
        "| 5 ppm or more | Also: people whom the plan does not name go to the muster point; people whom it names put "
        "on breathing gear. |\n| 10 ppm or more | Everybody puts on the escape set, raises the alarm and leaves. |\n\n"
        "Muster points lie to the north, east, south and west of the rig; each can be reached. On a rig the site's "
        "own plan and local law set these levels, often lower, and only people who are trained and named "
        "stay or go in, with breathing gear."
    ),
    parts=(
        Order(
            key="a",
            ask="The alarm for hydrogen sulphide sounds while you are at the shakers. Put the acts in a safe order.",
            steps={
                "go": "Put on your escape set, and leave the shakers at once with everybody who can walk.",
                "muster": "Walk first across the wind, then against it, to the muster point upwind.",
                "count": "Have everybody counted by the list, and tell who was seen last and where.",
                "gear": "Two who are trained and named put on breathing gear, and test it.",
                "fetch": "The two with breathing gear bring out whoever is missing.",
                "care": "The medic looks after those who were brought out, in clean air.",
                "free": "People with gear and meters test the place, and the one in charge says that it is safe.",
                "back": "Go back to work.",
            },
            rules=(
                Before("go", "muster", "First away from the gas, then to the muster point."),
                Before("muster", "count", "Counting is done in clean air, at the muster point."),
                Before("count", "fetch", "Count first: only then is it known who is missing."),
                Before(
                    "gear", "fetch", "Breathing gear before anybody goes in: without it there is one more to fetch."
                ),
                Before("fetch", "care", "Bring them into clean air first: nobody can be cared for in gas."),
                Before("fetch", "free", "People come first; the place is tested after that."),
                Before("free", "back", "Nobody goes back before the place has been tested and declared safe."),
                Before("care", "back", "Work waits until those who were hurt are looked after."),
            ),
            marks=Marks(4),
            must_pass=True,
            reason=(
                "Away, against the wind, counted; then help with breathing gear, care, testing, and only then back. "
                "The gear may be put on while the others are still being counted."
            ),
        ),
        Choice(
            key="b",
            ask="The tail of the wind sock points to the {sock}. To which muster point do you go?",
            options=tuple(
                Option(
                    side,
                    f"To the one in the {side}.",
                    "A sock points to where the wind blows. Gas goes there too: go against the wind.",
                )
                for side in SIDES
            ),
            right=lambda n: _opposite(n.sock),
            marks=Marks(2),
            must_pass=True,
            reason=(
                "The sock points to the {sock}, so the wind and the gas go there. Clean air comes from the other side."
            ),
        ),
        Choice(
            key="c",
            ask=(
                "On another day the meter at the shakers shows {shown:n} ppm and stays there. What does the plan ask "
                "for?"
            ),
            options=(
                Option(
                    "tell",
                    "Stop the job, go upwind of it, tell the driller at once; only those whom the plan names stay. "
                    "Watch the meter.",
                    BY_THE_PLAN,
                ),
                Option(
                    "muster",
                    "Stop the job and tell the driller at once. People not named in the plan go to the muster point; "
                    "people named put on breathing gear.",
                    BY_THE_PLAN,
                ),
                Option(
                    "leave",
                    "Put on the escape set, raise the alarm and leave, everybody; tell the driller.",
                    BY_THE_PLAN,
                ),
                Option(
                    "on",
                    "Go on with the job: so little hurts nobody.",
                    "Never. Any reading stops the job and is told to the driller at once; only those whom the plan "
                    "names stay.",
                    never_right=True,
                ),
            ),
            right=_level,
            marks=Marks(1),
            reason=(
                "It shows {shown:n} ppm. Any reading above 0 stops the job and goes to the driller; here 5 sends "
                "people to the muster point, and 10 sends everybody. Where you doubt, or where it climbs, take the "
                "next step."
            ),
        ),
        Choice(
            key="d",
            ask="Think of another moment. {moment} What is right?",
            options=(
                Option(
                    "nose",
                    "Put on the escape set, leave and raise the alarm: after a short time nobody can smell this gas.",
                    OTHER_MOMENT,
                ),
                Option(
                    "mate",
                    "Put on the escape set, leave, raise the alarm, and say where the man lies; help comes with "
                    "breathing gear.",
                    OTHER_MOMENT,
                ),
                Option("back", "Ask first: has the place been tested, and who said that it is safe?", OTHER_MOMENT),
                Option("gain", "Call the driller at once: the well may be flowing, and gas comes after.", OTHER_MOMENT),
                Option(
                    "hold",
                    "Hold your breath and have a quick look.",
                    "Never. One breath of much of it is enough.",
                    never_right=True,
                ),
            ),
            right=lambda n: MOMENTS[n.moment_drawn],
            marks=Marks(2),
            reason="Your nose is no meter; people with breathing gear fetch a friend; the well comes before the tanks.",
        ),
    ),
)
