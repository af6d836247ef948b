"""The demonstration's day in the yard: two stations, whose observers save files that are taken back and marked.

Most of what is seen is done. One candidate misses a critical step, another one too and does it at a second attempt; of
one candidate two observers say different things of a critical step, which is left for the assessor to decide.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from exercises.model import Reading, Watched
from exercises.model.variant import Variant
from exercises.tasks import TASKS
from grader.marking.marking import mark_school
from grader.marking.rooms import How
from grader.observed.page import FORMAT, KIND, write_page
from grader.observed.sheets import write_sheets
from grader.observed.take import check_of, take
from grader.papers.issue import issue
from grader.store.files import write_text
from grader.store.part_marks import item_name
from grader.store.register import Paper, Register
from grader.store.school import School, open_school
from pitside.units import Q

SITTING = "yard"
#: The two stations: the task, who observes there, and where.
STATIONS = (("weigh-mud", "Ines Calloway", "Mud bench"), ("change-a-screen", "Bram Okoro", "Shaker 2"))
#: Of the task with a lock: where it is watched first, and who watches some of it beside the first observer.
LOCKED, SECOND = 2, "Oona Verrall"
MISSES, MISSES_AT_FIRST, SEEN_BY_TWO, SEEN_DIFFERENTLY = "tp-05", "tp-07", "tp-03", "tp-12"
#: Who was not in the yard.
AWAY = ("tp-24",)
#: Share of the steps that are not critical which candidates need a prompt for.
PROMPTED = 0.12
SETTINGS = f"""
[[sitting]]
id = "{SITTING}"
title = "At the bench and at the machine"
day = 2026-03-11
tasks = [{", ".join(f'"{task}"' for task, _, _ in STATIONS)}]
"""


def in_the_yard(school: School, progress: Callable[[int, int], None]) -> tuple[School, Path]:
    """Give a demonstration's school its sitting of tasks, watched and marked; gives it and the observers' page."""
    settings = school.folder / "school.toml"
    write_text(settings, settings.read_text(encoding="utf-8") + SETTINGS)
    school = open_school(school.folder)
    sitting = school.sitting(SITTING)
    issue(school, (sitting,), lambda done, total: None)
    watched = [one.id for one in school.roster if one.id not in AWAY]
    missed = {MISSES: {trying(): "N"}, MISSES_AT_FIRST: {trying(): "N"}}
    for task, (_, observer, place) in enumerate(STATIONS, 1):
        _watch(school, 1, task, watched, observer, place, missed if task == LOCKED else {})
    _watch(school, 1, LOCKED, [SEEN_BY_TWO, SEEN_DIFFERENTLY], SECOND, "Shaker 2", {SEEN_DIFFERENTLY: {trying(): "N"}})
    issue(school, (sitting,), lambda done, total: None, 2, [MISSES_AT_FIRST])
    for task, (_, observer, place) in enumerate(STATIONS, 1):
        _watch(school, 2, task, [MISSES_AT_FIRST], observer, place, {})
    mark_school(school, progress, How(allow_missing_walls=True))
    page, _, _ = write_page(school, sitting)
    write_sheets(school, sitting)
    return school, page


def trying() -> str:
    """The step of the second station in which the start is tried under lock-out."""
    exercise = TASKS[STATIONS[LOCKED - 1][0]].exercise
    critical = [part for part in exercise.parts if isinstance(part, Watched) and part.must_pass]
    return item_name(LOCKED, next(part.key for part in critical if "Tries the start" in str(part.ask)))


def _watch(
    school: School,
    attempt: int,
    task: int,
    candidates: Iterable[str],
    observer: str,
    place: str,
    missed: Mapping[str, Mapping[str, str]],
) -> None:
    """Take a file as the observers' page saves it, of one task of these candidates."""
    register = Register(school)
    observed = []
    for candidate in candidates:
        paper = register.paper_of(SITTING, candidate, attempt)
        assert paper
        number = int(candidate.rpartition("-")[2])
        generator = np.random.default_rng([number, task, attempt])
        observed.append(_seen(paper, task, number, generator, missed.get(candidate, {})))
    body = {
        "format": FORMAT, "what": KIND, "school": school.id, "sitting": SITTING, "attempt": attempt,
        "observer": observer, "place": place, "observed": observed,
    }  # fmt: skip
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / f"observed_{SITTING}.json"
        write_text(file, json.dumps(body | {"check": check_of(body)}, ensure_ascii=False))
        take(school, file)


def _seen(
    paper: Paper, task: int, place: int, generator: np.random.Generator, missed: Mapping[str, str]
) -> dict[str, Any]:
    variant = paper.variants()[task - 1]
    about, minutes = TASKS[variant.exercise.id], place * 15
    answers = {**dict(_answers(variant, task, generator)), **missed}
    return {
        "id": paper.candidate,
        "paper": paper.id,
        "task": task,
        "begun": f"2026-03-{10 + paper.attempt:02d}T{7 + minutes // 60:02d}:{minutes % 60:02d}",
        "minutes": round(about.minutes * generator.uniform(0.7, 1.05), 1),
        "answers": answers,
        "note": "Stopped by the observer before the hand went in." if missed else "",
    }


def _answers(variant: Variant, task: int, generator: np.random.Generator) -> Iterable[tuple[str, Any]]:
    own = dict(variant.key)
    for item in variant.exercise.items:
        name = item_name(task, item.key)
        if isinstance(item, Watched):
            yield name, "P" if not item.must_pass and generator.random() < PROMPTED else "D"
            continue
        # The observer reads a little beside the usual value; most candidates read what the observer reads.
        value = (
            own[item.key] * generator.uniform(0.97, 1.03) if isinstance(item, Reading) else variant.answer(item, own)
        )
        number, unit = variant.given_answer(item, value)
        own[item.key] = Q(float(f"{float(number):.3g}"), unit)
        yield name, {"typed": f"{float(number):.3g}", "unit": unit}
