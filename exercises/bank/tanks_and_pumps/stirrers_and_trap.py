"""How long mud stays in a sand trap, how fast a stirrer turns a tank over, and what each tank needs."""

from __future__ import annotations

import pint

from exercises.bank.tanks_and_pumps import TO_ONE_PERCENT, Outcome
from exercises.fleet.envelope import PUMP_RATE
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, System
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip
from exercises.model.usual_slips import forty_two_left_out
from exercises.model.working import Step
from pitside.units import Q

#: Seconds in which a stirrer should turn a tank over once, by what the tank is for: from memory of textbooks.
TURNOVER = {"mixing tank": (50, 75), "suction tank": (65, 85), "slug tank": (40, 65)}
#: What each holds: a slug tank is small, and mud stays some minutes in the others.
ROOM = {
    "mixing tank": Usual(120, 240, "bbl"),
    "suction tank": Usual(120, 240, "bbl"),
    "slug tank": Usual(30, 60, "bbl"),
}
#: Of the least and of the most: where the drawn turnover lies.
PLACES = {"hard": (0.55, 0.85), "fits": (1.06, 1.2), "weak": (1.25, 1.9)}

#: A compartment, and what stands in it. Common practice, no source.
COMPARTMENTS = {
    "the sand trap under the shakers": "bare",
    "the tank of the centrifuge, in weighted mud": "stirred",
    "the trip tank": "measured",
    "the slug tank, in which heavy mud is mixed": "gun",
}
OTHER_COMPARTMENT = (
    "Ask what this compartment is for: to settle, to stay even, to be measured, or to mix a little fast?"
)
#: What is found at the trap, and what is done. Common practice, no source.
TRAPS = {
    "sand reaches to 4 in (0.1 m) below the weir, and the permit lets this water-base mud be dumped": "dump",
    "in water-base mud sand covers the floor one foot (0.3 m) deep, three feet (1 m) below the weir": "wait",
    "the trap fills with sand twice as fast as yesterday, at the same rate of drilling": "screens",
    "sand reaches to 4 in (0.1 m) below the weir, the mud is oil-base, and the dump line leads overboard": "closed",
}
OTHER_TRAP = "How full is the trap, how fast does it fill, and where would the dump go?"


def _time(n: Known) -> pint.Quantity:
    return n.trap / n.flow


def _turnover(n: Known) -> pint.Quantity:
    return n.tank / n.moved


def _least(n: Numbers | Known) -> pint.Quantity:
    return Q(float(TURNOVER[n.kind][0]), "s")


def _most(n: Numbers | Known) -> pint.Quantity:
    return Q(float(TURNOVER[n.kind][1]), "s")


def _moved(n: Numbers) -> pint.Quantity:
    """What the stirrer moves, for a turnover that is clearly too hard, fitting or too weak."""
    low, high = PLACES[n.place]
    share = low + (high - low) * float(n.share.m_as(""))
    return n.tank / (share * (_most(n) if n.place == "weak" else _least(n)))


def _verdict(n: Known) -> str:
    return "hard" if n.b < n.least else "weak" if n.b > n.most else "fits"


EXERCISE = Exercise(
    title="Sand trap and stirrers",
    level=2,
    version=3,
    outcome=Outcome.TANK_SUMS,
    tolerance=TO_ONE_PERCENT,
    digits=3,
    numbers=(
        Number("flow", Grid(450, 1000, 10, "gal/min"), Grid(102, 228, 2, "m3/h")),
        Number("trap", Grid(40, 90, 1, "bbl"), Grid(6.4, 14.4, 0.2, "m3")),
        Pick("kind", tuple(TURNOVER)),
        Pick("place", tuple(PLACES)),
        Number("share", Grid(0, 1, 0.02)),
        Number("tank", Grid(30, 240, 2, "bbl"), Grid(5, 38, 0.5, "m3")),
        Pick("compartment", tuple(COMPARTMENTS)),
        Pick("found", tuple(TRAPS)),
        Derived("least", _least, "s", 0),
        Derived("most", _most, "s", 0),
        Derived("moved", _moved, By("gal/min", "L/min"), By(-1, -1)),
    ),
    valid=lambda n: ROOM[n.kind].holds(n.tank),
    envelope=(
        Within("slug tank", lambda n: n.tank if n.kind == "slug tank" else None, ROOM["slug tank"]),
        Within("other tank", lambda n: None if n.kind == "slug tank" else n.tank, ROOM["suction tank"]),
        Within("flow from the well", lambda n: n.flow, PUMP_RATE),
        Within("time in the trap", lambda n: n.a, Usual(1.5, 9, "min")),
        Within("turnover", lambda n: n.b, Usual(20, 170, "s")),
    ),
    setting=(
        "The tanks of rig Heron 4 are looked over before spud. The well will give {flow}. The sand trap holds {trap} "
        "up to its weir. Its {kind} holds {tank}, and the stirrer in it moves {moved} by its maker's sheet. For a "
        "{kind} the school wants one turnover, all of the mud moved once, in {least} to {most}. A tank is a confined "
        "space: nobody goes in without the permit for it."
    ),
    parts=(
        Numeric(
            key="a",
            ask="How many minutes does the mud stay in the sand trap while it is empty of sand?",
            unit="min",
            solve=_time,
            plausible=Range(1.6, 8.5, "min"),
            marks=Marks(1, unit=1),
            slips=(
                Slip(
                    "upside down",
                    lambda n: Q(1, "min") ** 2 * n.flow / n.trap,
                    "Your fraction is upside down: time is the volume over the flow.",
                ),
                forty_two_left_out(_time),
                Slip(
                    "hours called minutes",
                    lambda n: _time(n) / 60,
                    "This is the time in hours. Multiply by 60, or give the unit as h.",
                    only=System.METRIC,
                ),
            ),
            working=(Step("Volume over flow.", By("{trap} * 42 / {flow}", "{trap} / {flow} * 60")),),
        ),
        Numeric(
            key="b",
            ask="In how many seconds does the stirrer turn the {kind} over once?",
            unit="s",
            solve=_turnover,
            plausible=Range(20, 165, "s"),
            marks=Marks(1, unit=1),
            slips=(
                Slip(
                    "minutes called seconds",
                    lambda n: Q(_turnover(n).m_as("min"), "s"),
                    "This is the turnover in minutes. Multiply by 60, or give the unit as min.",
                ),
                Slip(
                    "upside down",
                    lambda n: Q(1, "s") ** 2 / _turnover(n),
                    "Your fraction is upside down: a turnover is the volume over the flow that is moved.",
                ),
                Slip(
                    "42 left out",
                    lambda n: _turnover(n) / Q(1, "bbl").m_as("gal"),
                    "Your answer is 42 times too small: there are 42 gal in a barrel.",
                    only=System.FIELD,
                ),
                Slip(
                    "litres left out",
                    lambda n: _turnover(n) / 1000,
                    "Your answer is 1000 times too small: there are 1000 L in a cubic metre.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    "Volume over what is moved in a second.",
                    By("{tank} * 42 / {moved} * 60", "{tank} * 1000 / {moved} * 60"),
                ),
            ),
        ),
        Choice(
            key="c",
            ask="What do you say of this stirrer in the {kind}?",
            uses=("b",),
            options=(
                Option("fits", "It fits.", "Compare the turnover of (b) with the range that the school wants."),
                Option(
                    "weak",
                    "It is too weak: barite and cuttings settle, and the tank is not even.",
                    "It is too weak only if one turnover takes longer than the range allows.",
                ),
                Option(
                    "hard",
                    "It stirs too hard: it draws air in, and wears for nothing.",
                    "It stirs too hard only if one turnover is quicker than the range allows.",
                ),
            ),
            right=_verdict,
            marks=Marks(1),
            reason="One turnover takes about {b}; {least} to {most} is wanted.",
        ),
        Choice(
            key="d",
            ask="What belongs in {compartment}?",
            options=(
                Option(
                    "bare",
                    "No stirrer and no gun: a sloping floor, a dump gate, and a weir to the next tank.",
                    OTHER_COMPARTMENT,
                ),
                Option(
                    "stirred",
                    "A stirrer that moves the lowest mud, and a low line to the next tank.",
                    OTHER_COMPARTMENT,
                ),
                Option(
                    "measured",
                    "No line from a machine: a gauge that shows small changes, and lines to the well alone.",
                    OTHER_COMPARTMENT,
                ),
                Option(
                    "gun",
                    "A strong stirrer and a gun, small volume, and a suction of its own to the mud pumps.",
                    OTHER_COMPARTMENT,
                ),
            ),
            right=lambda n: COMPARTMENTS[n.compartment],
            marks=Marks(1),
            reason=(
                "A trap works because nothing stirs it, and mud leaves it over the top. A treated tank is kept even. A "
                "trip tank is a measure. A slug tank makes a little heavy mud fast."
            ),
        ),
        Choice(
            key="e",
            ask="On a later well, {found}. What do you do?",
            options=(
                Option(
                    "dump",
                    "Tell the driller and the mud logger, and dump the trap quickly, to where the permit says, until "
                    "mud comes.",
                    OTHER_TRAP,
                ),
                Option("wait", "Leave it: there is room, and every dump takes good mud along.", OTHER_TRAP),
                Option(
                    "screens",
                    "Look at the shakers first: a torn screen, a panel not seated, an open bypass.",
                    OTHER_TRAP,
                ),
                Option(
                    "closed",
                    "Dump nothing: send the sand to the waste tank or boxes, as the permit for this mud says.",
                    OTHER_TRAP,
                ),
            ),
            right=lambda n: TRAPS[n.found],
            marks=Marks(2),
            reason=(
                "A trap is dumped before sand reaches its weir, not oftener; the driller and the mud logger know "
                "first, for the pit level falls. A trap that fills faster tells of the shakers. Oil mud never goes "
                "overboard."
            ),
        ),
    ),
)
