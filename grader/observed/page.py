"""The observer's page: tasks watched at the machine, one candidate after another, on a tablet or a laptop, offline.

It holds what there is to see and nothing that could not be told to a candidate. ``page`` is written for one sitting;
several observers may each use a copy of it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from exercises.model import Seen
from exercises.model.text import inline_html
from exercises.model.variant import Variant
from exercises.tasks import TASKS
from grader.observed.observations import Observations
from grader.pages.pages import filled, script_data, text_of
from grader.papers.answer_units import kinds, kinds_data, spellings_data
from grader.papers.packs import FORM_SCRIPTS
from grader.papers.page_data import questions
from grader.store.errors import GraderError
from grader.store.files import write_text
from grader.store.register import Paper, Register, attempt_suffix
from grader.store.school import Candidate, School, Sitting

#: Version of the file that the page saves, and what that file calls itself.
FORMAT = 1
KIND = "pitside tasks observed"
#: Most characters of a number as it was typed, of a name or place, and of a remark.
LONGEST_TYPED, LONGEST_NAME, LONGEST_NOTE = 60, 80, 1000


def page_file(school: School, sitting: Sitting, attempt: int = 1) -> Path:
    """Where the page of a sitting lies."""
    return school.records / f"observe_{sitting.id}{attempt_suffix(attempt)}.html"


def saved_name(sitting: Sitting, attempt: int) -> str:
    """The file that the page saves begins so; the observer's name and the time come behind it."""
    return f"observed_{sitting.id}{attempt_suffix(attempt)}"


def papers_of(school: School, register: Register, sitting: Sitting, attempt: int) -> dict[str, tuple[Candidate, Paper]]:
    """Those of the roster who are to be watched, by id. Raises: :class:`GraderError` where nobody is."""
    if not sitting.observed:
        raise GraderError(
            f"{school.folder / 'school.toml'}: sitting {sitting.id} has exercises, not tasks = [...]; nobody is watched"
        )
    found = {}
    for candidate in school.roster:
        paper = register.paper_of(sitting.id, candidate.id, attempt)
        if paper:
            found[candidate.id] = candidate, paper
    if not found:
        which = f"attempt {attempt} at {sitting.id}" if attempt > 1 else sitting.id
        raise GraderError(f"{school.register_file}: nobody was issued {which}; first: pitside issue {school.folder}")
    return found


def write_page(school: School, sitting: Sitting, attempt: int = 1) -> tuple[Path, int, int]:
    """Write the page of a sitting; gives its path, how many candidates are on it, and how many tasks were seen."""
    register = Register(school)
    papers = papers_of(school, register, sitting, attempt)
    observations = Observations(school, only_read=True)
    candidates: list[dict[str, Any]] = []
    every: list[Variant] = []
    seen = 0
    for candidate, paper in papers.values():
        variants = paper.variants()
        every += variants
        before = {one.task: one.observer for one in observations.counting(paper.id)}
        seen += len(before)
        candidates.append(
            {
                "id": candidate.id,
                "name": candidate.name,
                "paper": paper.id,
                "told": [inline_html(variant.text(variant.exercise.setting)) for variant in variants],
                "asked": [_asked(one, exercise) for one, exercise in zip(variants, questions(variants), strict=True)],
                "before": before,
            }
        )
    register.schemes.keep()
    data = {
        "format": FORMAT,
        "what": KIND,
        "school": school.id,
        "sitting": sitting.id,
        "attempt": attempt,
        "file": saved_name(sitting, attempt),
        "longest_typed": LONGEST_TYPED,
        "longest_name": LONGEST_NAME,
        "longest_note": LONGEST_NOTE,
        "seen": [{"letter": seen.letter, "text": in_words(seen)} for seen in Seen],
        "kinds": kinds_data(kinds(every)),
        "spellings": spellings_data(kinds(every)),
        "tasks": [_about(name) for name in sitting.exercises],
        "candidates": candidates,
    }
    text = filled(
        "observed/observe.html",
        school=school,
        sitting=sitting,
        title=sitting.title + (f", attempt {attempt}" if attempt > 1 else ""),
        day=f"{sitting.day:%d %B %Y}",
        style=text_of("pages/worksheet.css", "observed/observe.css"),
        script=text_of(*FORM_SCRIPTS, "observed/observe.js"),
        data=script_data(data),
    )
    path = page_file(school, sitting, attempt)
    write_text(path, text)
    return path, len(candidates), seen


def in_words(seen: Seen) -> str:
    """What an observer says of a step, as a button says it."""
    return "Done after a prompt" if seen is Seen.PROMPTED else str(seen).capitalize()


def _about(name: str) -> dict[str, Any]:
    task = TASKS[name]
    return {
        "title": task.title,
        "place": task.place,
        "minutes": task.minutes,
        "kit": task.kit,
        "conditions": task.conditions,
        "cautions": task.cautions,
    }


def _asked(variant: Variant, exercise: dict[str, Any]) -> list[dict[str, Any]]:
    """What the observer answers of a task: steps, and readings with their units."""
    return [
        {"ask": inline_html(variant.text(part.ask)), "item": shown["items"][0]}
        for part, shown in zip(variant.exercise.parts, exercise["parts"], strict=True)
    ]
