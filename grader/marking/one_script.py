"""Mark one script: read it wholly, run it, hold its answers against the mark schemes. Needs nothing of the school."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from exercises.model import Written
from exercises.model.answers import Given
from exercises.model.marking import Rounding, mark
from exercises.model.variant import Variant
from grader.marking.record import MarkedExercise, Record
from grader.papers.notebook import for_hand_marking, item_name, written_answer
from grader.returned.integrity import for_assessor
from grader.returned.scripts import Refusal, Returned, Script
from grader.running.faults import Fault, caught
from grader.running.runner import Answer, Ending, Run
from grader.store.errors import GraderError


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


#: What can come of a script.
Outcome = Marked | Refusal | Failed


def mark_script(returned: Returned, data: Callable[[], bytes], run: Callable[[dict[str, Any]], Run]) -> Outcome:
    """Read a script's bytes, run it in a room, and mark it; or say why not. Needs nothing of the school's folder.

    Raises: :class:`RunnerError` where no room can be had; whatever else goes wrong is told as this script's.
    """

    def marked() -> Marked | Refusal:
        try:
            variants = returned.paper.variants()
            script = returned.script(data())
            done = run(script.notebook)
            record = mark_run(script, variants, done, returned.rounding)
            return Marked(returned, record, for_hand_marking(done.notebook, variants))
        except GraderError as error:
            return returned.refused(str(error))

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
        for_assessor=tuple(for_assessor(script, variants)),
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
