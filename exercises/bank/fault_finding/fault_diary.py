"""A tour's notes: the cause of a fault, the first safe action, and the note for the next tour."""

from __future__ import annotations

from dataclasses import dataclass

from exercises.bank.fault_finding import Outcome
from exercises.fleet.envelope import UNWEIGHTED_MUD
from exercises.fleet.rigs import MIDDLE_HOLE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Grid, Number, Numbers, Pick, Told
from exercises.model.parts import Choice, Known, Marks, Option, Point, Written


@dataclass(frozen=True)
class Fault:
    """What a tour notes, and which options of the two choices fit it. Common practice, no source."""

    notes: str
    cause: str
    action: str


#: Two faults of each cause, seen at other machines or by other signs.
FAULTS = (
    Fault(
        "The shakers flood and whole mud runs over the ends of the screens. The screens were changed for finer ones an "
        "hour ago. The beds of cuttings are thin, and sticky sand sits in the openings.",
        "blinded",
        "divert",
    ),
    Fault(
        "One shaker floods, and those beside it take the same flow with half of their decks. Its cloth is whole. Even "
        "grains sit in the holes and do not brush out, since the bit went into a bed of sand.",
        "blinded",
        "divert",
    ),
    Fault(
        "The desilter cones discharge thick ropes. The underflow is heavy, but the overflow carries more sand with "
        "each hour, and the cones get more solids since a shaker screen upstream tore.",
        "overloaded",
        "divert",
    ),
    Fault(
        "No cone of the desander sprays any more: what leaves them is thick and slow, with no air in its middle. The "
        "gauge of the header reads as on the record and stands still. A bypass gate of the shakers was found open.",
        "overloaded",
        "divert",
    ),
    Fault(
        "The centrifuge is running. It shakes harder than after the last start, and its bearings run hot. It was "
        "stopped yesterday with solids still in the bowl, and nobody flushed it.",
        "unbalanced",
        "stop",
    ),
    Fault(
        "The centrifuge came up to speed on water a minute ago, and its vibration is three times that of the record. "
        "No mud has been fed, and the torque is low. In the last tour the power failed while the feed was on.",
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
        "The needle of the desander's gauge swings, and its feed pump sounds as if stones went through it. Mud was "
        "moved out of its suction tank an hour ago, and a whirl stands over the outlet.",
        "starved",
        "slow",
    ),
    Fault(
        "The torque of the centrifuge stood at 42 % for an hour. Five minutes ago it leapt to 78 %. The vibration is "
        "as before. Hardly any solids fall from the chute, and the feed pump still runs.",
        "packed",
        "feed",
    ),
    Fault(
        "The torque of the centrifuge was 45 %, 58 % and 71 % at the last three readings, and now its alarm at 80 % "
        "sounds. The vibration is as before. The solids end throws dry lumps, and the feed pump still runs.",
        "packed",
        "feed",
    ),
    Fault(
        "A worker at the header box of the shakers complains of a headache and of a smell of bad eggs that has just "
        "gone. The gas alarm there was switched off for a repair.",
        "gas",
        "leave",
    ),
    Fault(
        "The alarm for hydrogen sulphide sounds at the shakers. Nobody smells anything. The same alarm sounded an hour "
        "ago, and somebody silenced it and went on working.",
        "gas",
        "leave",
    ),
    Fault(
        "The active tanks have risen by a hand's breadth in ten minutes. Nobody added or moved mud, and all valves are "
        "shut. More mud comes down the flow line than before, at the same strokes of the mud pumps.",
        "well",
        "call",
    ),
    Fault(
        "The mud pumps are off for a connection. Mud still runs from the flow line long after it stopped at the last "
        "connection, and it gets no less. The level of the active tanks climbs.",
        "well",
        "call",
    ),
)
_BY_NOTES = {fault.notes: fault for fault in FAULTS}
#: What was done first and what the next tour watches, for the model answer.
DONE = {
    "divert": "Told the driller, kept people clear, and turned the flow away from a machine that could not take it.",
    "stop": "Stopped feed and drive, told the driller, and kept all away until the bowl stood still and was locked.",
    "slow": (
        "Told the driller, kept people clear of the pump, slowed it before it was damaged, and brought the level of "
        "its tank up."
    ),
    "feed": (
        "Shut the feed at once, kept people away, let bowl and scroll turn, flushed until the torque fell, and told "
        "the driller."
    ),
    "leave": (
        "Raised the alarm; all went across, then against the wind, to the muster point; the driller and the medic were "
        "told."
    ),
    "call": (
        "Called the driller at once, before anything else, since the well may be flowing. Moved no mud and no valve, "
        "and kept people clear of flow line and shakers."
    ),
}
WATCH = {
    "blinded": "the pool on the deck at the same flow",
    "overloaded": "whether the cones spray, and the sand in the overflow",
    "unbalanced": "vibration at speed before any feed",
    "starved": "the needle of the gauge and the level over the suction",
    "packed": "the torque, each five minutes, with less feed",
    "gas": "the gas meters; nobody goes back before the place has been tested",
    "well": (
        "the level of the tanks and the flow line, and tell the driller of each change. Nothing is moved until the "
        "driller says that the well is safe"
    ),
}

OLD_SETTING = ". Do not go back to the old setting before the cause is found and repaired"
#: A kick and a gas alarm have no setting to go back to.
NO_SETTING = ("well", "gas")


def _fault(n: Numbers | Known) -> Fault:
    return _BY_NOTES[n.notes]


EXERCISE = Exercise(
    title="The fault diary",
    level=2,
    version=5,
    outcome=Outcome.DIAGNOSE,
    numbers=(
        Pick("notes", tuple(_BY_NOTES)),
        Number("flow", Grid(700, 1000, 10, "gal/min"), Grid(2650, 3800, 50, "L/min")),
        Number("mud_weight", Grid(8.8, 9.4, 0.1, "lb/gal"), Grid(1050, 1130, 10, "kg/m3")),
        Number("hour", Grid(2, 11, 1, "h")),
        Told("done", lambda n: DONE[_fault(n).action]),
        Told("watched", lambda n: WATCH[_fault(n).cause] + ("" if _fault(n).cause in NO_SETTING else OLD_SETTING)),
    ),
    envelope=(
        Within("unweighted mud", lambda n: n.mud_weight, UNWEIGHTED_MUD),
        Within("flow", lambda n: n.flow, MIDDLE_HOLE.flow),
    ),
    setting=(
        "You have been on the night tour of rig Heron 4 for {hour}, in 12-1/4 in (311 mm) hole. The mud is not "
        "weighted yet and weighs {mud_weight}; the pumps give {flow}. A note that has just been written into the "
        "diary says:\n\n> {notes}\n\nNothing has been done about it yet. The rig's own rules and its permit system "
        "come before this exercise."
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
                    "Overloaded cones throw thick, slow ropes; the notes say something else.",
                ),
                Option(
                    "unbalanced",
                    "Solids have caked in the bowl, and it runs out of balance.",
                    "A bowl out of balance shakes and heats its bearings; the notes say something else.",
                ),
                Option(
                    "packed",
                    "More solids are in the bowl than its scroll can push out.",
                    "A scroll with too much to push shows at the torque; the notes say something else.",
                ),
                Option(
                    "starved",
                    "The feed pump draws air, because too little mud stands over its suction.",
                    "Air in a pump shows at its pressure and its sound; the notes say something else.",
                ),
                Option(
                    "gas",
                    "Hydrogen sulphide comes up with the mud; after a short time nobody can smell it any more.",
                    "Gas shows by an alarm, a smell, or people who feel unwell; the notes say something else.",
                ),
                Option(
                    "well",
                    "The well flows: fluid comes out of the rock into the hole.",
                    "A well that flows shows at the flow line and the tanks; the notes say something else.",
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
                    "Tell the driller, keep people clear, and turn the flow away from the machine or take load off "
                    "it. Then see to the screens: clean, coarser, or whole ones.",
                    "This is right for a machine that gets more than it can take. Read the notes again.",
                ),
                Option(
                    "stop",
                    "Keep people clear, stop feed and drive, and tell the driller. Wait until it stands still, and "
                    "have it isolated and locked out. Only then is it opened or flushed by hand.",
                    "This is right for a rotating machine that has to be opened. Read the notes again.",
                ),
                Option(
                    "feed",
                    "Shut the feed at once, let bowl and scroll turn, and flush until the torque falls. Tell the "
                    "driller.",
                    "This is right for a bowl that holds too many solids and runs in balance. Read the notes again.",
                ),
                Option(
                    "slow",
                    "Tell the driller, slow or stop the feed pump, and bring the level of its suction tank up, before "
                    "the pump is damaged.",
                    "This is right for a pump that draws air. Read the notes again.",
                ),
                Option(
                    "leave",
                    "Raise the alarm and go at once to the muster point, across and then against the wind, with "
                    "everybody who can walk; have the driller and the medic told. Nobody goes back without breathing "
                    "gear and permission.",
                    "This is right where gas may be present. Read the notes again.",
                ),
                Option(
                    "call",
                    "Call the driller at once and say what you see; move no mud and no valve without his word.",
                    "This is right where the well itself may be flowing. Read the notes again.",
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
                "{hour} into the tour, at {flow}: {notes} {done} The mud engineer was told too. Next tour: watch "
                "{watched}."
            ),
        ),
    ),
)
