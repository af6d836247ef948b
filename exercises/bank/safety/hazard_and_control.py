"""Jobs of a tour: the hazard that comes first, the control against it, and who may do what with a lock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import permutations

from exercises.bank.safety import Outcome
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Grid, Number, Numbers, Pick, Told
from exercises.model.parts import Choice, Known, Marks, Option, Point, Written


@dataclass(frozen=True)
class Job:
    """A job at the plant, the hazard that hurts first in it, and a control against it. Common practice."""

    says: str
    hazard: str
    control: str


#: Jobs that do not share a hazard.
JOBS = {
    "screens": Job(
        "change a screen on a shaker that stands still, with its start button two steps away",
        "The deck starts while a hand is between screen and frame.",
        "Lock out the shaker with your own lock, and try the button.",
    ),
    "caustic": Job(
        "mix {few:n} sacks of caustic soda in the chemical barrel",
        "Drops or dust burn skin and eyes.",
        "Goggles, face shield, dust mask, gloves and apron on, eye wash tried, caustic slowly into water.",
    ),
    "sacks": Job(
        "carry {sacks:n} sacks of barite from the pallet to the hopper by hand",
        "A back is hurt by lifting and turning.",
        "Use the sack lifter or share the load between two, and keep the way short.",
    ),
    "dust": Job(
        "cut and empty {sacks:n} sacks of barite into the hopper, one after the other",
        "You breathe fine dust for hours.",
        "Suction on, or stand where the wind blows from you to the hopper; wear the dust mask that was fitted to you.",
    ),
    "oil": Job(
        "stand at the shakers for {hours} while oil mud comes back hot",
        "Vapour of hot oil is breathed, and one spark lights it.",
        "Hood and fan on, short turns, and no spark or open light near the shakers.",
    ),
    "noise": Job(
        "catch samples at the ends of four running shakers for {hours}",
        "Hearing is lost for good, without any pain.",
        "Ear protection on before you come near, and short turns, so that the noise of the day keeps the rule.",
    ),
    "pressure": Job(
        "open a plugged line behind a feed pump that has just been stopped",
        "Mud under pressure shoots out of the joint.",
        "Isolate, lock out, bleed both sides of the plug; trust no gauge: slacken slowly, from the side.",
    ),
    "height": Job(
        "lift a screen box of a ton over the tanks with the crane",
        "Somebody stands under a load that falls.",
        "Clear and rope off the ground under it, one signalman, and a tag line.",
    ),
    "bowl": Job(
        "open the lid of a centrifuge, {minutes:n} minutes after its motor was switched off",
        "The bowl still turns, and it takes an arm.",
        "See it stand still with your own eyes, locked out and tried at the start button, before the lid moves.",
    ),
    "walkway": Job(
        "walk the tanks at night after a spill of oil mud on the grating",
        "A foot slips on the grating and somebody falls.",
        "Clean and light the way first, and rope it off until then.",
    ),
}
#: Jobs of which the one's hazard is there in the other's too: they never stand side by side.
ALIKE = ({"sacks", "dust"}, {"oil", "noise"}, {"screens", "noise"})
ORDERS = tuple(" ".join(order) for order in permutations("0123"))
PLACES = ("one", "two", "three", "four")
#: What is found at a lock-out, and what is right. Common practice, no source.
LOCKS = {
    "Your work is done. Your mate works on the same machine, with a lock of his own. He has gone to eat, his lock is "
    "still on, and nobody needs the machine now.": "own",
    "Your lock is on. The electrician asks for your key, because he wants to try the motor.": "self",
    "Your tour ends, and the next tour goes on with the work.": "change",
    "The job is done, and one lock is left whose owner has flown home.": "boss",
}
OTHER_LOCK = "That is for another case. Whose lock is it, and is he here?"


def _four(n: Numbers | Known) -> list[str]:
    """The job in hand and three others, in the order of the options."""
    names = list(JOBS)
    start = names.index(n.job)
    four = [names[(start + int(step)) % len(names)] for step in ("0", *n.others.split())]
    return [four[int(place)] for place in n.order.split()]


def _text(place: int, of: Callable[[Job], str]) -> Callable[[Numbers], str]:
    return lambda n: of(JOBS[_four(n)[place]])


def _control(place: int) -> Callable[[Numbers], str]:
    """The same jobs, for the controls in another order: each option stands elsewhere."""
    return lambda n: JOBS[_four(n)[(place + int(n.turn)) % 4]].control


EXERCISE = Exercise(
    title="Hazard and control",
    level=1,
    version=3,
    outcome=Outcome.HAZARDS,
    numbers=(
        Pick("job", tuple(JOBS)),
        Pick("others", ("1 3 5", "2 4 7", "1 4 8", "2 5 6", "3 6 9", "1 6 7", "4 5 9", "2 3 8")),
        Pick("order", ORDERS),
        Pick("turn", ("1", "2", "3")),
        Pick("lock", tuple(LOCKS)),
        Number("sacks", Grid(12, 60, 2)),
        Number("few", Grid(2, 4, 1)),
        Number("hours", Grid(2, 6, 1, "h")),
        Number("minutes", Grid(2, 6, 1)),
        Told("says", lambda n: JOBS[n.job].says),
        Told("comes", lambda n: JOBS[n.job].hazard),
        Told("stops", lambda n: JOBS[n.job].control),
        *(Told(f"hazard_{name}", _text(at, lambda job: job.hazard)) for at, name in enumerate(PLACES)),
        *(Told(f"control_{name}", _control(at)) for at, name in enumerate(PLACES)),
    ),
    valid=lambda n: not any(pair <= set(_four(n)) for pair in ALIKE),
    envelope=(Within("sacks by hand", lambda n: n.sacks, Usual(10, 60)),),
    setting=(
        "On rig Heron 4 you are told to {says}. Site rules, permits and the safety sheet of each material come before "
        "this exercise."
    ),
    parts=(
        Choice(
            key="a",
            ask="What is most likely to hurt somebody in this job?",
            options=tuple(
                Option(name, f"{{hazard_{name}}}", "That belongs to another job. Picture this one, step by step.")
                for name in PLACES
            ),
            right=lambda n: PLACES[_four(n).index(n.job)],
            marks=Marks(2),
            reason="In this job: {comes} Other hazards are there too; this one is the most likely.",
        ),
        Choice(
            key="b",
            ask="Which of these controls fits this job?",
            options=tuple(
                Option(name, f"{{control_{name}}}", "This guards against another hazard. Take yours from (a).")
                for name in PLACES
            ),
            right=lambda n: PLACES[(_four(n).index(n.job) - int(n.turn)) % 4],
            marks=Marks(2),
            reason=(
                "{stops} Better still, where it can be done: take the hazard away, or keep people from it. What is "
                "worn on the body is the last help."
            ),
        ),
        Choice(
            key="c",
            ask="Another day, at a lock-out. {lock} What is right?",
            outcome=Outcome.PERMITS,
            options=(
                Option(
                    "own",
                    "Take your own lock off and leave the other man's on: the machine stays off until that man comes.",
                    OTHER_LOCK,
                ),
                Option(
                    "self",
                    "Keep the key: clear the machine, take your own lock off, and lock again before you work on.",
                    OTHER_LOCK,
                ),
                Option("change", "The next man puts his lock on before you take yours off.", OTHER_LOCK),
                Option(
                    "boss",
                    "Call the supervisor: by the written rule he calls the owner of the lock and checks the machine "
                    "first.",
                    OTHER_LOCK,
                ),
            ),
            right=lambda n: LOCKS[n.lock],
            marks=Marks(2),
            reason="A lock belongs to one person. Nobody else takes it off, lends its key, or leaves it to chance.",
        ),
        Written(
            key="d",
            ask=(
                "What (b) asks for cannot be done today, and you are told to go on all the same. Write two or three "
                "sentences: what do you do, and whom do you tell?"
            ),
            outcome=Outcome.FIRST_ACTION,
            points=(
                Point("stops, or does not begin: no work without the control", 1),
                Point("tells the supervisor or the person of the permit, and asks for another way to do the job", 1),
            ),
            model=(
                "I do not begin, because without it this can happen: {comes} I tell the supervisor and the one who "
                "signed the permit, and we look for another way or another day. I tell the next tour too."
            ),
        ),
    ),
)
