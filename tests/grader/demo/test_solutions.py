"""The worked solutions: one for each exercise, as its source now makes it, and worth full marks."""

from __future__ import annotations

import copy
import json
import re
from pathlib import Path
from typing import Any

import nbformat
import pytest

from exercises import BANK
from exercises.model import Numeric, Written
from exercises.model.answers import Given
from exercises.model.marking import Rule, mark
from exercises.model.soundness import faults
from grader.demo.solutions import published_variant, read_variant, solution_file, solution_notebook
from grader.papers.notebook import written_answer
from grader.running.runner import Ending, Run
from grader.store.part_marks import item_name

FOLDER = Path(__file__).parents[3] / "solutions"


@pytest.fixture(params=BANK)
def exercise(request):
    return BANK[request.param]


@pytest.fixture
def solution(exercise) -> dict[str, Any]:
    """The notebook in the folder."""
    return nbformat.reads(solution_file(FOLDER, exercise).read_text(encoding="utf-8"), as_version=4)


def made_of(notebook: dict[str, Any]) -> Any:
    """A notebook without what running it adds."""
    plain = json.loads(json.dumps(notebook))
    for cell in plain["cells"]:
        cell.pop("outputs", None)
        cell.pop("execution_count", None)
        cell["metadata"].pop("execution", None)
    plain["metadata"]["language_info"] = {"name": "python"}
    return plain


def given_in(run: Run, variant) -> dict[str, Given]:
    named = {item_name(1, item.key): item.key for item in variant.exercise.items}
    return {named[name]: Given(answer.value, answer.unit) for name, answer in run.answers.items()}


def test_folder_holds_a_solution_of_each_exercise_and_no_other():
    assert {path.name for path in FOLDER.glob("*")} == {f"{exercise}.ipynb" for exercise in BANK}


def test_solution_is_what_the_exercise_now_makes(exercise, solution):
    """Where this fails: make solutions."""
    assert made_of(solution) == made_of(solution_notebook(published_variant(exercise)))


def test_published_variant_is_sound_and_is_read_back(exercise, solution):
    variant = read_variant(solution)
    assert variant == published_variant(exercise)
    assert faults(variant) == []


def test_solution_was_run_without_an_error_and_records_every_answer(exercise, solution):
    nbformat.validate(solution)
    outputs = [output for cell in solution["cells"] for output in cell.get("outputs", ())]
    assert {output["output_type"] for output in outputs} == {"stream"}
    said = "".join(output["text"] for output in outputs)
    for item in exercise.items:
        if not isinstance(item, Written):
            assert f"{item_name(1, item.key)}: recorded " in said
    assert "not recorded" not in said
    assert "no answer yet" not in said


def test_solution_gets_full_marks_of_the_grader(exercise, solution, room):
    run = room.run(made_of(solution))
    assert (run.ending, run.cell_errors, run.refused) == (Ending.FINISHED, (), ())
    variant = read_variant(solution)
    answers = given_in(run, variant)
    answers |= {
        item.key: Given(written_answer(made_of(solution), 1, item))
        for item in exercise.items
        if isinstance(item, Written)
    }
    marks = [(result.item, result.rule, result.marks) for result in mark(variant, answers)]
    assert marks == [
        (item.key, Rule.PENDING, 0) if isinstance(item, Written) else (item.key, Rule.RIGHT, item.marks.total)
        for item in exercise.items
    ]


def test_solution_without_its_answers_gets_nothing(exercise, solution, room):
    """The working alone earns no mark, so the marks above come from the answers."""
    blank = copy.deepcopy(made_of(solution))
    for cell in blank["cells"]:
        if cell["id"].startswith("answer-"):
            cell["source"] = re.sub(r"^answer\(.*$", "", cell["source"], flags=re.MULTILINE)
    run = room.run(blank)
    assert (run.ending, run.answers) == (Ending.FINISHED, {})
    variant = read_variant(solution)
    assert {(result.rule, result.marks) for result in mark(variant, given_in(run, variant))} == {(Rule.BLANK, 0)}


def test_solution_works_every_number_out(exercise, solution):
    """No answer is typed in: what is answered is a name that a sum above gave."""
    sources = "\n".join(cell["source"] for cell in solution["cells"] if cell["id"].startswith("answer-"))
    for item in exercise.items:
        if isinstance(item, Numeric):
            line = next(line for line in sources.split("\n") if line.startswith(f'answer("1{item.key}"'))
            name = line.split(", ")[1].rstrip(")")
            sums = re.findall(rf"^{re.escape(name)} = ([^#\n]*)", sources, flags=re.MULTILINE)
            # A sum, or the drawn number that a chart shows; no bare figure.
            assert any(re.search(r"[-+*/]|[a-z_]{3,}", text) for text in sums), line
