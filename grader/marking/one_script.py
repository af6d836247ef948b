"""Mark one script: take its answers from its text or a run, hold them against the mark schemes.

Needs nothing of the school's folder.
"""

from __future__ import annotations

import enum
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from exercises.model import Written
from exercises.model.answers import Given
from exercises.model.marking import Rounding, mark
from exercises.model.variant import Variant
from grader.marking.record import MarkedExercise, Record
from grader.papers.notebook import for_hand_marking, given_in, question_cells, written_answer
from grader.returned.integrity import for_assessor
from grader.returned.scripts import Refusal, Returned, Script
from grader.running.faults import Fault, caught
from grader.running.run_result import Answer, Ending, Run, WallsMissingError
from grader.store.errors import GraderError
from grader.store.part_marks import item_name


class Way(enum.Enum):
    """How the answers of a script were had, as its record has it."""

    READ = "read from its text"
    RUN = "run"


@dataclass(frozen=True)
class Marked:
    """What came of a script: its record, and its notebook as it was run, made ready for hand marking."""

    returned: Returned
    record: Record
    notebook: dict[str, Any]


@dataclass(frozen=True)
class Failed:
    """A script at which the programs failed, by a fault of ours."""

    returned: Returned
    fault: Fault


@dataclass(frozen=True)
class Waits:
    """A script that has to be run, where that cannot be done behind walls; ``why`` says which are missing."""

    returned: Returned
    why: str


#: What can come of a script.
Outcome = Marked | Refusal | Failed | Waits


def mark_script(
    returned: Returned,
    data: Callable[[], bytes],
    run: Callable[[dict[str, Any], str], Run],
    read: Callable[[dict[str, Any], str], Run | None] | None = None,
) -> Outcome:
    """Take the answers of a script's bytes and mark it; or say why not. Needs nothing of the school's folder.

    The answers come from the text where ``read`` finds them all there (:func:`grader.running.reading.read`), else the
    script is run in a room.

    Raises: :class:`RunnerError` where no room can be had; whatever else goes wrong is told as this script's.
    """

    def marked() -> Marked | Refusal | Waits:
        try:
            variants = returned.paper.variants()
            script = returned.script(data())
            given = given_in(script.notebook, variants)
            done = read(script.notebook, given) if read else None
            way = Way.RUN if done is None else Way.READ
            if done is None:
                done = run(script.notebook, given)
            questions = question_cells(variants)
            record = replace(
                mark_run(script, variants, done, returned.rounding),
                for_assessor=tuple(for_assessor(script, variants, questions)),
                way=way.value,
            )
            return Marked(returned, record, for_hand_marking(done.notebook, variants, questions))
        except GraderError as error:
            return returned.refused(str(error))
        except WallsMissingError as error:
            return Waits(returned, str(error))

    outcome = caught(marked)
    return Failed(returned, outcome) if isinstance(outcome, Fault) else outcome


def mark_run(script: Script, variants: tuple[Variant, ...], run: Run, rounding: Rounding = Rounding.NO_MARKS) -> Record:
    """Mark the answers of a run. Numbers come from the variants (the register); from the run only what was answered."""

    def given(number: int, variant: Variant) -> dict[str, Given]:
        return _given(number, variant, run.answers, script.notebook)

    exercises = tuple(
        MarkedExercise(variant.exercise.id, mark(variant, given(number, variant), rounding))
        for number, variant in enumerate(variants, 1)
    )
    known = {item_name(n, item.key) for n, variant in enumerate(variants, 1) for item in variant.exercise.items}
    strange = sorted(set(run.answers) - known)
    notes = [] if run.ending is Ending.FINISHED else [run.reason]
    notes += [f"Cell {index + 1} stopped with an error: {error}" for index, error in run.cell_errors]
    notes += list(run.refused)
    notes += [f"An answer was given to part {part}, which this paper does not have." for part in strange]
    paper = script.paper
    return Record(
        paper=paper.id,
        candidate=paper.candidate,
        sitting=paper.sitting,
        file=script.file,
        script=script.digest,
        scheme=paper.scheme,
        ending=run.ending.name.lower(),
        notes=tuple(notes),
        exercises=exercises,
        rounding=rounding,
    )


def _given(
    number: int, variant: Variant, answers: Mapping[str, Answer], notebook: Mapping[str, Any]
) -> dict[str, Given]:
    """What was answered to each item: by the script as it ran, and in words in the script itself."""
    given = {}
    for item in variant.exercise.items:
        if isinstance(item, Written):
            given[item.key] = Given(written_answer(notebook, number, item))
            continue
        answer = answers.get(item_name(number, item.key))
        if answer is not None:
            given[item.key] = Given(answer.value, answer.unit)
    return given
