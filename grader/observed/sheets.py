"""Sheets of observed tasks to print: what each candidate is told, and the observer's copy with the steps.

They are two files, so that no candidate is handed the steps. A copy is one sheet printed on both sides: what is read
before the task on its front, what is filled in on its back. Where no device can be had in the yard, an observer
fills in the copy with a pen and types it into the observer's page afterwards.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from exercises import LESSONS
from exercises.model import Numeric, Reading, Seen, Watched
from exercises.model.parts import Part
from exercises.model.text import inline_html
from exercises.model.variant import Variant
from exercises.tasks import TASKS
from exercises.tasks.table import rows
from grader.observed.page import in_words, papers_of
from grader.pages.pages import filled
from grader.store.files import write_text
from grader.store.part_marks import item_name
from grader.store.register import Register, attempt_suffix
from grader.store.school import School, Sitting
from pitside.unit_names import spelled


def sheet_files(school: School, sitting: Sitting, attempt: int = 1) -> tuple[Path, Path]:
    """Where the candidates' sheets and the observers' copies of a sitting lie."""
    name = f"{sitting.id}{attempt_suffix(attempt)}"
    return school.records / f"tasks_{name}_candidates.html", school.records / f"tasks_{name}_observers.html"


def write_sheets(school: School, sitting: Sitting, attempt: int = 1) -> tuple[Path, Path]:
    """Write both files; gives their paths. Raises: :class:`GraderError` where nobody was issued the tasks."""
    register = Register(school, only_read=True)
    sheets: list[dict[str, Any]] = [
        {"candidate": candidate, "paper": paper, "number": number, "task": TASKS[variant.exercise.id]}
        | _about(number, variant)
        for candidate, paper in papers_of(school, register, sitting, attempt).values()
        for number, variant in enumerate(paper.variants(), 1)
    ]
    paths = sheet_files(school, sitting, attempt)
    for path, is_observers in zip(paths, (False, True), strict=True):
        text = filled(
            "observed/sheets.html",
            school=school,
            sitting=sitting,
            day=f"{sitting.day:%d %B %Y}",
            sheets=sheets,
            observer=is_observers,
            words=[in_words(seen) for seen in Seen],
            title=sitting.title + (f", attempt {attempt}" if attempt > 1 else ""),
        )
        write_text(path, text)
    return paths


def task_table() -> str:
    """All tasks of the bank as a page to print, for an assessor and a safety officer to read."""
    return filled("observed/task_table.html", rows=list(rows()), lessons=LESSONS)


def _about(number: int, variant: Variant) -> dict[str, Any]:
    """What a candidate is told, and what an observer looks for."""
    return {
        "told": inline_html(variant.text(variant.exercise.setting)),
        "steps": [
            {
                "name": item_name(number, part.key),
                "ask": inline_html(variant.text(part.ask)),
                "watched": isinstance(part, Watched),
                "critical": isinstance(part, Watched) and part.must_pass,
                "unit": _unit(variant, part),
            }
            for part in variant.exercise.parts
        ],
    }


def _unit(variant: Variant, part: Part) -> str:
    """The unit that a number is asked in; nothing for what has none."""
    return spelled(variant.unit(part)) if isinstance(part, Numeric | Reading) else ""
