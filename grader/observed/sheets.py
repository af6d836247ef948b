"""Sheets of observed tasks to print: what each candidate is told, and the observer's copy with the steps.

They are two files, so that no candidate is handed the steps. A copy is one sheet printed on both sides: what is read
before the task on its front, what is filled in on its back. Where no device can be had in the yard, an observer
fills in the copy with a pen and types it into the observer's page afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
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
from grader.papers.sample import drawn_for_nobody, sample_file
from grader.store.files import write_text
from grader.store.part_marks import item_name
from grader.store.register import Paper, Register, attempt_suffix
from grader.store.school import Candidate, School, Sitting
from pitside.unit_names import spelled


def sheet_files(school: School, sitting: Sitting, attempt: int = 1) -> tuple[Path, Path]:
    """Where the candidates' sheets and the observers' copies of a sitting lie."""
    name = f"{sitting.id}{attempt_suffix(attempt)}"
    return school.records / f"tasks_{name}_candidates.html", school.records / f"tasks_{name}_observers.html"


def write_sheets(school: School, sitting: Sitting, attempt: int = 1) -> tuple[Path, Path]:
    """Write both files; gives their paths. Raises: :class:`GraderError` where nobody was issued the tasks."""
    register = Register(school, only_read=True)
    papers = papers_of(school, register, sitting, attempt).values()
    sheets = [sheet for candidate, paper in papers for sheet in _sheets(candidate, paper)]
    paths = sheet_files(school, sitting, attempt)
    title = sitting.title + (f", attempt {attempt}" if attempt > 1 else "")
    for path, is_observers in zip(paths, (False, True), strict=True):
        write_text(path, _pages(school, sitting, title, sheets, is_observers))
    return paths


def write_sample(school: School, sitting: Sitting) -> Path:
    """Write the observer's copies of a sitting for nobody, to see what it is made of; gives their path."""
    nobody, paper = drawn_for_nobody(school, sitting)
    path = sample_file(school, sitting)
    write_text(path, _pages(school, sitting, f"{sitting.title}, a sample", _sheets(nobody, paper), True))
    return path


def _sheets(candidate: Candidate, paper: Paper) -> list[dict[str, Any]]:
    return [
        {"candidate": candidate, "paper": paper, "number": number, "task": TASKS[variant.exercise.id]}
        | _about(number, variant)
        for number, variant in enumerate(paper.variants(), 1)
    ]


def _pages(school: School, sitting: Sitting, title: str, sheets: Sequence[dict[str, Any]], is_observers: bool) -> str:
    return filled(
        "observed/sheets.html",
        school=school,
        sitting=sitting,
        day=f"{sitting.day:%d %B %Y}",
        sheets=sheets,
        observer=is_observers,
        words=[in_words(seen) for seen in Seen],
        title=title,
    )


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
