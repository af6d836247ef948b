"""Mark one script: take its answers from its text or a run, hold them against the mark schemes.

Needs nothing of the school's folder.
"""

from __future__ import annotations

import enum
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from exercises.model import Written
from exercises.model.answers import Given
from exercises.model.marking import Rounding, Rule, mark
from exercises.model.variant import Variant
from grader.marking.record import MarkedExercise, Record
from grader.papers.notebook import (
    GIVEN_CELL,
    answer_cell_id,
    for_hand_marking,
    given_in,
    question_cells,
    written_answer,
)
from grader.returned.integrity import for_assessor
from grader.returned.scripts import Refusal, Returned, Script
from grader.running.checked_answers import clip
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
            record = mark_run(script, variants, done, returned.rounding)
            record = replace(
                record,
                for_assessor=(*_on_nothing(record), *for_assessor(script, variants, questions)),
                way=way.value,
            )
            return Marked(returned, record, for_hand_marking(done.notebook, variants, questions))
        except GraderError as error:
            return returned.refused(str(error))
        except WallsMissingError as error:
            return Waits(returned, str(error))

    outcome = caught(marked)
    return Failed(returned, outcome) if isinstance(outcome, Fault) else outcome


def _on_nothing(record: Record) -> Iterator[str]:
    """What the assessor is told of a script in which no answer stands."""
    blank = all(item.rule is Rule.BLANK for exercise in record.exercises for item in exercise.items)
    if blank and not record.notes:
        yield (
            "No answer stands in it: it may be the notebook of the pack as it was handed out. If the page was worked "
            "in, ask for the file that Save my script saves."
        )


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
    notes = [] if run.ending is Ending.FINISHED else [_with_cells_named(run.reason, script.notebook, variants)]
    notes += [_stopped(index, error, script.notebook, variants) for index, error in run.cell_errors]
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


def _stopped(index: int, error: str, notebook: Mapping[str, Any], variants: tuple[Variant, ...]) -> str:
    """What a candidate and an assessor are told of a cell that ended in an error."""
    name = cell_in_words(index, notebook, variants)
    # What a cell reads itself, by eval, has another name than the cell; what came before it in the cell counts.
    line = re.search(r"\(<ipython-input[^,]*, line (\d+)\)$", error)
    source = notebook["cells"][index]["source"]
    lines = (source if isinstance(source, str) else "".join(source)).split("\n")
    if error.partition(":")[0] in ("SyntaxError", "IndentationError", "TabError") and line:
        at = min(int(line[1]), len(lines)) - 1
        return f"Python could not read {name}, so nothing in it counts: {clip(lines[at].strip(), 120)}"
    return f"{name[0].upper()}{name[1:]} stopped with an error: {error}"


def _with_cells_named(text: str, notebook: Mapping[str, Any], variants: tuple[Variant, ...]) -> str:
    """How a run ended, in the runner's words, with cells called by what they are for and not by a number."""
    return re.sub(r"\bcell (\d+)\b", lambda found: cell_in_words(int(found[1]) - 1, notebook, variants), text)


def cell_in_words(index: int, notebook: Mapping[str, Any], variants: tuple[Variant, ...]) -> str:
    """What a cell is called to people, who see no numbers of cells: by the part that it answers, or stands behind."""
    parts = {
        answer_cell_id(number, part): f"{number}({part.key})"
        for number, variant in enumerate(variants, 1)
        for part in variant.exercise.parts
    }
    ids = [str(cell.get("id", "")) for cell in notebook["cells"][: index + 1]]
    if not ids or ids[-1] == GIVEN_CELL:
        return "the first cell"
    if ids[-1] in parts:
        return f"the answer cell of {parts[ids[-1]]}"
    before = next((parts[one] for one in reversed(ids) if one in parts), "")
    return f"a cell that was added behind {before}" if before else "a cell that was added before the first answer"


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
