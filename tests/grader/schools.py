"""What the tests make schools and scripts of: exercises of the bank by kind, small rosters, a key that stays."""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
import warnings
import zipfile
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import nbformat
from bs4 import BeautifulSoup

from exercises.model.answers import Given
from exercises.model.marking import ItemMark, mark
from exercises.model.variant import Variant
from grader.demo.simulation import Typed, filled
from grader.marking.marking import mark_school
from grader.marking.record import Record
from grader.marking.rooms import How
from grader.papers.notebook import script_name
from grader.papers.packs import read_pack
from grader.reports.results import Result, gather, write_feedback, write_results
from grader.running.runner import Limits
from grader.store.part_marks import item_name
from grader.store.register import Paper, Register
from grader.store.school import School, new_school, open_school

KEY = hashlib.sha256(b"a key for tests").hexdigest()
SITTING = "day1"
ROSTER = (
    "aa-01,Ingrid Sølvberg,Larkwater Energy,day crew,field",
    "aa-02,Ömer Çınar,Larkwater Energy,day crew,metric",
    "aa-03,Нина Ветрова,Larkwater Energy,night crew,field",
    "aa-04,周明远,Larkwater Energy,night crew,metric",
)


#: Endless loops end sooner than in a real marking, and memory is full sooner; an honest script has enough of both
#: on a busy machine.
QUICK = Limits(cell_seconds=5, wall_seconds=20, memory_bytes=640 << 20)


#: Exercises with a table, with a choice, with an order, and with a chain of numbers each worked from those before it.
WITH_TABLE = WITH_CHOICE = "convert-mud-weight"
WITH_ORDER = "weight-up-fixed-final"
CHAINED = "weight-up-growing"
#: Few exercises that hold a table, a choice, an order and a chain of parts between them.
EVERY_KIND = tuple(dict.fromkeys((CHAINED, WITH_TABLE, WITH_CHOICE, WITH_ORDER)))

#: Exercises whose parts (a), (b), (c) are numbers, each worked from the one before it or from (a).
CHAINS = ("weight-up-growing", "weight-up-fixed-final", "solids-fresh")


def settings(exercises: Iterable[str] = (CHAINED,), units: str = "field") -> str:
    listed = ", ".join(f'"{exercise}"' for exercise in exercises)
    return (
        f'[school]\nid = "marram"\ntitle = "Marram school"\nstarts = 2026-05-04\nunits = "{units}"\n\n'
        f"[marking]\npass_percent = 70\n\n"
        f'[[sitting]]\nid = "{SITTING}"\ntitle = "First paper"\nday = 2026-05-05\nexercises = [{listed}]\n'
    )


def make_school(
    folder: Path, roster: Iterable[str] = ROSTER, exercises: Iterable[str] = (CHAINED,), key: str = KEY
) -> School:
    """A school with these roster lines; its key is the same each time, so its papers are too."""
    new_school(folder, "Marram school", date(2026, 5, 4))
    (folder / "school.key").write_text(key)
    (folder / "school.toml").write_text(settings(exercises))
    lines = ("id,name,employer,crew,units", *roster)
    (folder / "roster.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return open_school(folder)


def paper_of(school: School, candidate: str) -> Paper:
    paper = Register(school).paper_of(SITTING, candidate)
    assert paper is not None
    return paper


def pack_of(school: School, paper: Paper) -> dict[str, Any]:
    """The notebook that was handed out, as plain JSON with each source in one text."""
    text = read_pack(school, paper)[script_name(school, paper)].decode("utf-8")
    return json.loads(json.dumps(nbformat.reads(text, as_version=4)))


def opened_pack(school: School, candidate: str) -> Path:
    """The folder that a candidate has who unpacks the zips of all sittings, beside the school's folder."""
    beside = school.folder.parent / f"opened-{school.folder.name}"
    for path in sorted(school.packs.glob(f"*/{candidate}.zip")):
        with zipfile.ZipFile(path) as packed:
            packed.extractall(beside)
    return beside / candidate


def right_answers(variants: tuple[Variant, ...]) -> dict[str, Typed]:
    """The model answer to every item of a paper, as a candidate would type it."""
    return {
        item_name(number, item.key): Typed(*variant.given_answer(item, variant.key[item.key]))
        for number, variant in enumerate(variants, 1)
        for item in variant.exercise.items
    }


def script_with(school: School, paper: Paper, answers: dict[str, Typed | None]) -> dict[str, Any]:
    """The handed-out notebook with these answers in it."""
    return filled(pack_of(school, paper), answers)


def marks_as_typed(variants: Iterable[Variant], answers: Mapping[str, Typed | None]) -> dict[str, ItemMark]:
    """What the mark scheme says of a paper's answers when it is asked directly.

    A record that agrees with it shows that notebook, room and record lose nothing and change nothing on the way; that
    the mark scheme is right is for the tests of the exercises to show.
    """
    found = {}
    for number, variant in enumerate(variants, 1):
        given = {
            item.key: Given(typed.value, typed.unit)
            for item in variant.exercise.items
            if (typed := answers.get(item_name(number, item.key))) is not None
        }
        found |= {item_name(number, result.item): result for result in mark(variant, given)}
    return found


def hand_in(school: School, paper: Paper, script: dict[str, Any] | bytes, name: str | None = None) -> Path:
    path = school.scripts / (name or script_name(school, paper))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(script if isinstance(script, bytes) else json.dumps(script).encode())
    return path


def add_cell(script: dict[str, Any], source: str, after: int = 1) -> dict[str, Any]:
    """The script with one more code cell in it, by default right behind the given cell."""
    cell = {"cell_type": "code", "id": f"own-{len(script['cells'])}", "metadata": {}, "outputs": []}
    script["cells"].insert(after + 1, {**cell, "execution_count": None, "source": source})
    return script


#: How most tests mark: scripts run one after the other, whatever walls the machine has.
ONE_ROOM = How(allow_missing_walls=True, workers=1)


def quiet(done: int, total: int) -> None:
    """Nobody watches the progress."""


def report(school: School) -> dict[str, Result]:
    """Write the results and the feedback; gives each candidate's result."""
    results = gather(school)
    write_results(school, results)
    write_feedback(school, results, quiet)
    return {result.candidate.id: result for result in results}


def mark_and_report(school: School) -> dict[str, Result]:
    mark_school(school, quiet, ONE_ROOM)
    return report(school)


def marks_of(school: School, folder: Path, script: dict[str, Any] | bytes) -> Record:
    """The record of a script that is handed in to a copy of the school."""
    shutil.copytree(school.folder, folder)
    copy = open_school(folder)
    notebook = json.loads(script) if isinstance(script, bytes) else script
    paper = Register(copy).papers[notebook["metadata"]["pitside"]["paper"]]
    hand_in(copy, paper, script)
    record = mark_and_report(copy)[paper.candidate].record
    assert record is not None
    return record


def rows_of(school: School) -> dict[str, dict[str, str]]:
    """The lines of results.csv by candidate."""
    text = (school.records / "results.csv").read_text(encoding="utf-8-sig")
    return {row["id"]: row for row in csv.DictReader(text.splitlines())}


def page_of(school: School, candidate: str) -> BeautifulSoup:
    """A candidate's feedback page, or its draft."""
    (page,) = (school.records / "feedback").rglob(f"{SITTING}_{candidate}.html")
    return well_formed(page.read_text(encoding="utf-8"))


def well_formed(page: str) -> BeautifulSoup:
    """The page parsed, after a parser of the HTML standard has found no fault in it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from bleach._vendor import html5lib  # the one such parser among the requirements
    parser = html5lib.HTMLParser()
    parser.parse(page)
    assert parser.errors == []
    return BeautifulSoup(page, "html.parser")


def gradebook_of(school: School) -> dict[tuple[str, str, str], tuple]:
    """Scores and comments by sitting, candidate and part, as nbgrader reads them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from nbgrader import api
    found = {}
    with api.Gradebook(f"sqlite:///{school.records / 'gradebook.db'}") as book:
        for sitting in book.assignments:
            for submission in book.assignment_submissions(sitting.name):
                (notebook,) = submission.notebooks
                comments = {comment.name: comment for comment in notebook.comments}
                for grade in notebook.grades:
                    comment = comments[grade.name]
                    found[sitting.name, submission.student.id, grade.name] = (
                        grade.auto_score, grade.manual_score, grade.score, grade.max_score,
                        comment.auto_comment, comment.comment,
                    )  # fmt: skip
    return found
