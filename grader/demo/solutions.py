"""Write the solutions folder: each exercise's worked solution as an executed notebook, for one published variant.

Run ``python -m grader.demo.solutions`` (or ``make solutions``) after an exercise has changed. The notebooks need no
package of ours to run, and the grader marks them like any script.
"""

from __future__ import annotations

import hashlib
import re
import sys
from pathlib import Path

import nbformat
import numpy as np
from nbclient import NotebookClient
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from exercises import BANK
from exercises.model import Choice, Chosen, Exercise, Numbers, Numeric, Order, Step, System, Written
from exercises.model.drawing import draw
from exercises.model.numbers import Drawn, in_system
from exercises.model.parts import Item, Part
from exercises.model.practice import names_of
from exercises.model.text import fill
from exercises.model.variant import Variant
from grader.papers.notebook import given_cell, question
from grader.store.files import write_text
from grader.store.part_marks import item_name

#: The published variants are in field units; the metric ones are practised in the book.
PUBLISHED = System.FIELD


def published_variant(exercise: Exercise) -> Variant:
    """The variant that is worked out in public: the same at each run."""
    seed = hashlib.sha256(f"published {exercise.id} {exercise.version}".encode()).digest()
    return draw(exercise, np.random.default_rng(int.from_bytes(seed)), PUBLISHED)


def solution_file(folder: Path, exercise: Exercise) -> Path:
    return folder / f"{exercise.id}.ipynb"


def read_variant(notebook: nbformat.NotebookNode) -> Variant:
    """The variant that a solution notebook works out, from its metadata."""
    about = notebook["metadata"]["pitside"]
    return Variant(BANK[about["exercise"]], System(about["units"]), Numbers.from_json(about["numbers"]))


def solution_notebook(variant: Variant) -> nbformat.NotebookNode:
    """The worked solution of a variant as a notebook that has not been run."""
    exercise = variant.exercise
    heading = f"# {exercise.title}: worked solution\n\n{variant.text(exercise.setting)}"
    cells = [
        _markdown("setting", heading),
        given_cell((variant,)),
        _code("numbers", "\n".join(_numbers(variant))),
    ]
    for part in exercise.parts:
        cells.append(_markdown(f"ask-{part.key}", question(1, variant, part)))
        cells += _worked(variant, part)
    metadata = {
        "kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"},
        "language_info": {"name": "python"},
        "pitside": {
            "exercise": exercise.id,
            "version": exercise.version,
            "units": str(variant.system),
            "numbers": variant.numbers.to_json(),
        },
    }
    return new_notebook(cells=cells, metadata=metadata)


def _markdown(cell_id: str, text: str) -> nbformat.NotebookNode:
    cell = new_markdown_cell(text)
    cell["id"] = cell_id
    return cell


def _code(cell_id: str, text: str) -> nbformat.NotebookNode:
    cell = new_code_cell(text)
    cell["id"] = cell_id
    return cell


def _numbers(variant: Variant) -> list[str]:
    lines = ["from math import ceil, exp, log10, pi, sqrt", "from math import log as ln", ""]
    for name, value in variant.numbers.items():
        if isinstance(value, Drawn):
            lines.append(f"{name} = {value:plain}  # {value.unit}")
    return lines


def _worked(variant: Variant, part: Part) -> list[nbformat.NotebookNode]:
    match part:
        case Chosen():
            reason = fill(in_system(part.reason, variant.system), names_of(variant))
            value, _ = variant.given_answer(part, variant.key[part.key])
            lines = [f"{part.key} = {value:g}", _answer(variant, part, part.key)]
            return [_markdown(f"reason-{part.key}", reason), _code(f"answer-1{part.key}", "\n".join(lines))]
        case Choice():
            reason = fill(in_system(part.reason, variant.system), names_of(variant))
            line = _answer(variant, part, repr(part.letter(variant.key[part.key])))
            return [_markdown(f"reason-{part.key}", reason), _code(f"answer-1{part.key}", line)]
        case Order():
            line = _answer(variant, part, repr(variant.shown_answer(part, variant.key[part.key])))
            return [_markdown(f"reason-{part.key}", variant.text(part.reason)), _code(f"answer-1{part.key}", line)]
        case Written():
            return [_markdown(f"answer-1{part.key}", variant.key[part.key])]
        case _:
            lines = [line for item in part.items() for line in _item_lines(variant, item)]
            return [_code(f"answer-1{part.key}", "\n".join(lines))]


def _item_lines(variant: Variant, item: Item) -> list[str]:
    assert isinstance(item, Numeric)
    lines = []
    for step, worked in zip(item.working, variant.working(item), strict=True):
        last = step is item.working[-1]
        name = _variable(item.key if last else step.gives)
        unit = "" if worked.value.unit == "fraction" else f"  # {worked.value.unit}"
        lines += [f"# {worked.say}", f"{name} = {_code_of(step, variant.system)}{unit}"]
    return [*lines, _answer(variant, item, _variable(item.key))]


def _code_of(step: Step, system: System) -> str:
    return re.sub(r"\{([\w.]+)\}", lambda name: _variable(name[1]), in_system(step.sum, system))


def _variable(name: str) -> str:
    return name.replace(".", "_").replace("-", "_")


def _answer(variant: Variant, item: Item, value: str) -> str:
    unit = f', "{variant.unit(item)}"' if isinstance(item, Numeric | Chosen) else ""
    return f'answer("{item_name(1, item.key)}", {value}{unit})'


def main(folder: Path) -> None:
    """Write and run every solution notebook; a notebook whose exercise is gone is deleted."""
    folder.mkdir(exist_ok=True)
    for exercise in BANK.values():
        notebook = solution_notebook(published_variant(exercise))
        NotebookClient(notebook, timeout=60, record_timing=False).execute()
        nbformat.validate(notebook)
        write_text(solution_file(folder, exercise), nbformat.writes(notebook) + "\n")
        print(solution_file(folder, exercise))
    wanted = {solution_file(folder, exercise) for exercise in BANK.values()}
    for path in set(folder.glob("*.ipynb")) - wanted:
        path.unlink()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
