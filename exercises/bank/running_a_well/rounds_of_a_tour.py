"""A section and a tour: which machines run, the first hour in order, what an event asks for, and the report."""

from __future__ import annotations

from exercises.bank.running_a_well import Outcome
from exercises.fleet.envelope import PUMP_RATE
from exercises.fleet.rigs import LARGE_HOLE, MIDDLE_HOLE
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Grid, Number, Pick, Told
from exercises.model.parts import Before, Choice, Marks, Option, Order, Point, Written

#: What is to be done in the next days, and how the plant is set for it. Common practice, no source.
SECTIONS = {
    "fast drilling in sand with an unweighted mud": "light",
    "drilling on with a mud weighted with barite": "weighted",
    "drilling out cement and shoe, with the old mud": "cement",
    "taking the mud out of the well and putting clear brine in": "brine",
}
OTHER_SECTION = "Ask what is in the mud then: sand, barite, cement, or nothing that may stay?"
#: What happens during the tour, and what the solids hand does about it. Common practice, no source.
EVENTS = {
    "A heavy sweep has just left the bit, and it will be at the shakers after one lag.": "ready",
    "The driller says that after the connection he will raise the flow of {flow} by a fifth.": "room",
    "The boat that takes the boxes is a day late, and {boxes:n} empty ones are left.": "boxes",
    "The bit is pulled, and the pumps stand for many hours.": "flush",
}
OTHER_EVENT = "Which of your machines will notice that first, and what can you do before it comes?"

EXERCISE = Exercise(
    title="The rounds of a tour",
    level=1,
    version=4,
    outcome=Outcome.ROUTINE,
    numbers=(
        Pick("section", tuple(SECTIONS)),
        Pick("event", tuple(EVENTS)),
        Number("flow", Grid(700, 1000, 10, "gal/min"), Grid(160, 226, 2, "m3/h")),
        Number("boxes", Grid(4, 12, 1)),
        Number("rate", Grid(60, 140, 5, "ft/h"), Grid(19, 42, 1, "m/h")),
        Number("hour", Grid(9, 12, 1, "h")),
        Told("event_says", lambda n: n.event),
    ),
    envelope=(
        Within("flow", lambda n: n.flow, PUMP_RATE),
        Within("drilling rate", lambda n: n.rate, Usual(LARGE_HOLE.rate.low, MIDDLE_HOLE.rate.high, "ft/h")),
    ),
    setting=(
        "You come on tour as the solids-control hand of rig Sandpiper 2, with three shakers, a desander, a desilter "
        "that can also be set over a fine screen, and a centrifuge. The rig pumps {flow} and drills {rate}. The "
        "driller, the mud engineer and the rig's own programme decide what is done in the well; this exercise asks for "
        "your part."
    ),
    parts=(
        Choice(
            key="a",
            ask="The programme for the next days: {section}. How do you set the plant for it?",
            options=(
                Option(
                    "light",
                    "Finest screens that carry the flow, desander and desilter open, bowl on fine solids.",
                    OTHER_SECTION,
                ),
                Option(
                    "weighted",
                    "Finest screens that carry the flow, no open cones, bowl set to keep the barite.",
                    OTHER_SECTION,
                ),
                Option(
                    "cement",
                    "Coarser screens, and a tank apart for mud that comes back spoilt, with soft lumps or a high pH.",
                    OTHER_SECTION,
                ),
                Option(
                    "brine",
                    "Machines and tanks emptied, cleaned and shut off; where the two fluids have mixed goes apart.",
                    OTHER_SECTION,
                ),
            ),
            right=lambda n: SECTIONS[n.section],
            marks=Marks(2),
            reason=(
                "Sand calls for every cut there is. Open cones would throw barite away. Cement spoils mud and cloth: "
                "catch it apart. A brine must hold no solids at all, so nothing dirty may get into it."
            ),
        ),
        Order(
            key="b",
            ask="Put the first hour of your tour in a good order. Give the letters.",
            steps={
                "talk": "Talk with the man whom you relieve, at the machines: what ran, what failed, what is open.",
                "walk": "Walk the lines and valves against the plan, and read all levels.",
                "machines": "Read each machine: pressures, amperes, torque, vibration, what comes off the screens.",
                "compare": "Compare the readings with those of the record and of the last tour.",
                "sign": "Take over, once you have seen and compared all: both sign the log.",
                "tell": "Tell the driller and the mud engineer what is not as it was.",
                "act": "Then change what has to be changed, one thing at a time.",
                "again": "Read again, after the change has had time to show.",
            },
            rules=(
                Before("talk", "sign", "Talk before you sign: you can take over only what you know of."),
                Before("walk", "sign", "Walk before you sign: try for yourself what the log says."),
                Before("compare", "sign", "Compare before you sign: what is not as it was belongs in the log."),
                Before("sign", "act", "Change nothing on another man's tour."),
                Before("walk", "tell", "Walk first: you can tell only what you have seen."),
                Before("machines", "compare", "A reading is needed before it can be compared with another."),
                Before("compare", "tell", "Compare first: the driller wants to know what has changed."),
                Before("tell", "act", "Tell before you change: what you move shows in his pits."),
                Before("act", "again", "Read again after the change, or you never know what it did."),
            ),
            marks=Marks(3),
            reason=(
                "Talk, look, compare, sign, tell, act, look again. Lines and machines may be read in either order. A "
                "level or weight that moved is told the moment it is seen, at whatever step you are."
            ),
        ),
        Choice(
            key="c",
            ask="{event_says} What do you do?",
            options=(
                Option(
                    "ready",
                    "Be at the shakers in time, all decks clear, and watch how much rock comes.",
                    OTHER_EVENT,
                ),
                Option(
                    "room",
                    "Look how far the pools on the decks reach now, and bring in a spare deck or coarser panels in "
                    "time.",
                    OTHER_EVENT,
                ),
                Option(
                    "boxes",
                    "Work out how long what is left lasts at this rate, and tell the driller and the company's man "
                    "now.",
                    OTHER_EVENT,
                ),
                Option(
                    "flush",
                    "Flush what can cake, keep weighted tanks stirred, and repair what waited for a stop.",
                    OTHER_EVENT,
                ),
            ),
            right=lambda n: EVENTS[n.event],
            marks=Marks(2),
            reason=(
                "What comes is known beforehand on a rig: after a lag, after a connection, with a boat. Be there "
                "before it."
            ),
        ),
        Written(
            key="d",
            ask=(
                "It is {hour} later. Write what belongs in the report of your tour: four lines, each with one kind of "
                "thing and why it is wanted."
            ),
            points=(
                Point("names readings of mud or machines with time, so that the next tour can see a trend", 1),
                Point("names what was removed, added, moved or dumped, since volume and cost depend on it", 1),
                Point("names what failed, what was done about it, and what is still open", 1),
            ),
            model=(
                "Readings with their times, mud and machines: they show a trend. What left and what came, rock, mud, "
                "water, boxes: volumes and cost depend on it. What failed, what I did, what is open: the next tour "
                "goes on from there. Who was told of what and when: nobody has to ask twice."
            ),
        ),
    ),
)
