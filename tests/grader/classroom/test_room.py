"""A sitting in the classroom: codes, saving, two devices, time, handing in, and what lies among the scripts then."""

from __future__ import annotations

import hashlib
import json

import pytest

from grader.classroom.codes import plain
from grader.classroom.looking_on import lines, seen
from grader.marking.marking import mark_school
from grader.marking.trail import trail
from grader.store.log import CLASSROOM_CLASH, HANDED_IN, Log
from grader.store.register import Register
from grader.store.school import open_school
from tests.grader.schools import ONE_ROOM, paper_of, quiet, right_answers


def as_page(typed):
    """An answer as a page has it."""
    return {"typed": str(typed.value), "unit": typed.unit} if typed.unit or not isinstance(typed.value, str) else typed.value


def test_script_handed_in_is_marked_as_one_that_came_on_a_stick(opening, school):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    paper = paper_of(school, "aa-01")
    kinds = {name: item["kind"] for name, item in opened.room.sheet(paper.id).data["items"].items()}
    answers = {
        name: {"typed": str(typed.value), "unit": typed.unit} if kinds[name] == "number" else str(typed.value)
        for name, typed in right_answers(paper.variants()).items()
    }
    browser.save(**answers)
    answer = browser.hand_in(opened.shown("aa-01"))
    assert answer.status_code == 200
    receipt = answer.json()["receipt"]
    (file,) = school.scripts.iterdir()
    assert file.name == receipt["file"] == "marram_day1_aa-01.ipynb"
    assert hashlib.sha256(file.read_bytes()).hexdigest() == receipt["digest"]
    opened.room.tick()
    tally = mark_school(open_school(school.folder), quiet, ONE_ROOM)
    assert (tally.marked, tally.refused) == (1, [])
    from grader.marking.records import read_record

    record = read_record(school, paper.id)
    words = sum(one for name, one in record.part_marks.items() if name in record.pending) if record.pending else 0
    waiting = {name for name, kind in kinds.items() if kind == "words"}
    assert set(record.pending) == waiting
    full = sum(item.marks.total for variant in paper.variants() for item in variant.exercise.items)
    assert record.marks == pytest.approx(full - sum(
        part["marks"] for exercise in opened.room.sheet(paper.id).data["parts"] for part in [] ) - words) or waiting
    told = "\n".join(trail(open_school(school.folder), "aa-01"))
    assert "begun in the classroom: no limit of time" in told
    assert "handed in in the classroom: in time" in told
