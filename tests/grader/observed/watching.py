"""Schools whose tasks are watched, and files as the observers' page saves them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from exercises.model import Watched
from exercises.tasks import TASKS
from grader.observed.take import check_of
from grader.papers.issue import issue
from grader.store.part_marks import item_name
from grader.store.register import Register
from grader.store.school import School, open_school
from tests.grader.schools import make_school, quiet

WATCHED = ("weigh-mud", "set-the-pool")


def with_tasks(folder: Path, candidates: int = 2, tasks: tuple[str, ...] = WATCHED) -> School:
    roster = [f"aa-{number:02},Ada Reed {number},,A,{('field', 'metric')[number % 2]}" for number in range(candidates)]
    make_school(folder, roster)
    settings = (folder / "school.toml").read_text()
    listed = ", ".join(f'"{name}"' for name in tasks)
    (folder / "school.toml").write_text(settings[: settings.index("exercises = [")] + f"tasks = [{listed}]\n")
    school = open_school(folder)
    issue(school, school.sittings, quiet)
    return school


def seen(school: School, candidate: str, task: int, said: dict[str, str] | None = None) -> dict[str, Any]:
    """What the page saves of a task: everything done and read as usual, but for what is ``said`` of some parts."""
    paper = Register(school).paper_of(school.sittings[0].id, candidate)
    assert paper
    variant = paper.variants()[task - 1]
    answers: dict[str, Any] = {}
    for item in variant.exercise.items:
        name = item_name(task, item.key)
        if isinstance(item, Watched):
            answers[name] = (said or {}).get(name, "D")
        else:
            number, unit = variant.given_answer(item, variant.key[item.key])
            answers[name] = {"typed": (said or {}).get(name, str(number)), "unit": unit}
    return {"id": candidate, "paper": paper.id, "task": task, "begun": "2026-05-05T09:30", "minutes": 11.5,
            "answers": answers, "note": ""}  # fmt: skip


def saved(of: School, path: Path, *observed: dict[str, Any], observer: str = "Ola Hand", **changed: Any) -> Path:
    data = {"format": 1, "what": "pitside tasks observed", "school": of.id, "sitting": of.sittings[0].id,
            "attempt": 1, "observer": observer, "place": "Yard 2", "observed": list(observed)} | changed  # fmt: skip
    path.write_text(json.dumps(data | {"check": check_of(data)}), encoding="utf-8")
    return path


def critical(school: School, task: int) -> str:
    """The name of a critical step of a task."""
    exercise = TASKS[school.sittings[0].exercises[task - 1]].exercise
    return next(item_name(task, part.key) for part in exercise.parts if isinstance(part, Watched) and part.must_pass)
