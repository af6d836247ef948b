"""A tour's notes: the cause of a fault, the first safe action, and the note for the next tour."""

from __future__ import annotations

from dataclasses import dataclass

from exercises.bank.fault_finding import Outcome
from exercises.fleet.envelope import OPEN_CONE_MUD_WEIGHT
from exercises.fleet.rigs import MIDDLE_HOLE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Grid, Number, Pick
from exercises.model.parts import Choice, Known, Marks, Option, Point, Written


@dataclass(frozen=True)
class Fault:
    """What a tour notes, and which options of the two choices fit it. Common practice, no source."""

    notes: str
    cause: str
    action: str


FAULTS = (
    Fault(
        "The shakers flood and whole mud runs over the ends of the screens. The screens were changed for finer ones an "
        "hour ago. The beds of cuttings are thin, and sticky sand sits in the openings.",
        "blinded",
        "divert",
    ),
    Fault(
        "The desilter cones discharge thick ropes. The underflow is heavy, but the overflow carries more sand with "
        "each hour, and the cones were fed more solids since the shaker screen next to them tore.",
        "overloaded",
        "divert",
    ),
    Fault(
        "The centrifuge is running. It shakes harder than after the start before, and its bearings run hot. It was "
        "stopped yesterday with solids still in the bowl, and nobody flushed it.",
        "unbalanced",
        "stop",
    ),
    Fault(
        "The pressure at the cone header falls and swings, and the feed pump rattles as if it pumped gravel. The level "
        "of the suction tank is low and foam covers it.",
        "starved",
        "slow",
    ),
    Fault(
        "A worker at the header box of the shakers complains of a headache and of a smell of bad eggs that has just "
        "gone. The gas alarm there was switched off for a repair.",
        "gas",
        "leave",
    ),
)
_BY_NOTES = {fault.notes: fault for fault in FAULTS}


def _fault(n: Known) -> Fault:
    return _BY_NOTES[n.notes]


EXERCISE = Exercise(
    title="The fault diary",
    level=2,
    version=3,
    outcome=Outcome.DIAGNOSE,
    numbers=(
        Pick("notes", tuple(_BY_NOTES)),
        Number("flow", Grid(700, 1000, 10, "gal/min"), Grid(2650, 3800, 50, "L/min")),
        Number("mud_weight", Grid(8.8, 10.4, 0.1, "lb/gal"), Grid(1060, 1240, 10, "kg/m3")),
        Number("hour", Grid(2, 11, 1, "h")),
    ),
    envelope=(
        Within("mud over open cones", lambda n: n.mud_weight, OPEN_CONE_MUD_WEIGHT),
        Within("flow", lambda n: n.flow, MIDDLE_HOLE.flow),
    ),
    setting=(
        "You have been on the night tour of rig Heron 4 for {hour}, in 12-1/4 in hole. The mud is not weighted yet and "
        "weighs {mud_weight}; the pumps give {flow}. A note that has just been written into the diary says:\n\n> "
        "{notes}\n\nNothing has been done about it yet. The rig's own rules and its permit system come before this "
        "exercise."
    ),
    parts=(
        Choice(
            key="a",
            ask="What is the most likely cause?",
            options=(
                Option(
                    "blinded",
                    "Screen openings are blocked by grains of their own size.",
                    "Blocked screens flood at the shakers; the notes say something else.",
                ),
                Option(
                    "overloaded",
                    "More solids reach the cones than their underflow can let out.",
                    "Look at the underflow: do the notes speak of cones at all?",
                ),
                Option(
                    "unbalanced",
                    "Solids have caked in the bowl, and it runs out of balance.",
                    "A bowl out of balance shakes and heats its bearings; the notes say something else.",
                ),
                Option(
                    "starved",
                    "The feed pump draws air, because too little mud stands over its suction.",
                    "Air in a pump shows at its pressure and its sound; the notes say something else.",
                ),
                Option(
                    "gas",
                    "Hydrogen sulphide comes up with the mud; it dulls the nose that smells it.",
                    "No note speaks of a smell or of people who feel unwell.",
                ),
            ),
            right=lambda n: _fault(n).cause,
            marks=Marks(2),
            reason="The notes name the sign of it: what changed, where it shows, and what did not change.",
        ),
        Choice(
            key="b",
            ask="What is the first safe thing to do?",
            must_pass=True,
            options=(
                Option(
                    "divert",
                    "Tell the driller, keep people clear, and send the flow to a machine that can take it. Then repair "
                    "this one: coarser or clean screens, a whole screen before the cones.",
                    "The machine is no danger that flow alone can turn away. Read the notes again.",
                ),
                Option(
                    "stop",
                    "Keep people clear, stop the feed and the drive and tell the driller; wait for the full run-down, "
                    "isolate and lock the machine out, before anybody opens it or flushes it by hand.",
                    "This is right for a rotating machine that has to be opened. Read the notes again.",
                ),
                Option(
                    "slow",
                    "Tell the driller, slow or stop the feed pump, and bring the level of its suction tank up, before "
                    "the pump is damaged.",
                    "This is right for a pump that draws air. Read the notes again.",
                ),
                Option(
                    "leave",
                    "Raise the alarm and go at once to the muster point by the upwind way, with everybody who can "
                    "walk; have the driller and the medic told. Nobody goes back without breathing gear and leave to "
                    "do so.",
                    "This is right where gas may be present. Read the notes again.",
                ),
                Option(
                    "finish",
                    "Go on until the end of the tour, and note it for the next one.",
                    "A fault that is passed on without an action hurts the next crew.",
                    never_right=True,
                ),
            ),
            right=lambda n: _fault(n).action,
            marks=Marks(2),
            reason="People first, then the well and the flow, then the machine.",
        ),
        Written(
            key="c",
            ask=(
                "Write the note for the diary in three to five sentences: what you saw, what you did first and why, "
                "who was told, and what the next tour must watch."
            ),
            points=(
                Point("says what was seen, not only what was concluded", 1),
                Point("names the first action and that people were kept safe by it", 1),
                Point("says who was told: the driller first where mud or a pit level moves", 1),
                Point("says what to watch next, with a sign by which the fault would show again", 1),
            ),
            model=(
                "Saw the signs named above {hour} into the tour, at {flow}. Kept people clear and took the first "
                "action at once, since the machine could wait and people could not. Told the driller and the mud "
                "engineer. Next tour: watch the same sign each half hour, and do not go back to the old setting before "
                "the cause is repaired."
            ),
        ),
    ),
)
