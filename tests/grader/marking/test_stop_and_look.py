"""The rule on answers that cannot be, from school.toml over the sealed paper to marks, debrief and a change of mind."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
from click.testing import CliRunner

from exercises.model.marking import Rule
from grader.cli import commands
from grader.demo.simulation import Typed
from grader.marking.explain import explain
from grader.marking.marking import mark_school
from grader.marking.records import read_record
from grader.marking.trail import check_log, trail
from grader.papers.issue import issue
from grader.reports.debrief import debrief, write_debrief
from grader.reports.results import gather
from grader.store.errors import GraderError
from grader.store.school import School, open_school
from tests.grader.schools import (
    ONE_ROOM,
    SITTING,
    WITH_TABLE,
    hand_in,
    make_school,
    paper_of,
    quiet,
    right_answers,
    script_with,
)
from tests.sharing import a_few

HEAVY = "1a.plant.weight"


def ruled(school: School, line: str) -> School:
    """The school with this line about the rule, or none, in its settings."""
    file = school.folder / "school.toml"
    kept = re.sub(r"stop_and_look = .*\n", "", file.read_text())
    file.write_text(
        kept.replace("pass_percent = 70\n", f"pass_percent = 70\n{line}\n" if line else "pass_percent = 70\n")
    )
    return open_school(school.folder)


def handed_in(folder, line: str) -> School:
    """Two scripts, right but for a mud of 92 lb/gal in the first."""
    school = ruled(make_school(folder, exercises=(WITH_TABLE,)), line)
    issue(school, school.sittings, quiet)
    for candidate in ("aa-01", "aa-03"):
        paper = paper_of(school, candidate)
        answers = dict(right_answers(paper.variants()))
        if candidate == "aa-01":
            answers[HEAVY] = Typed(92.0, "lb/gal")
            # The heaviest of the four is now the last of them, option D.
            assert answers["1b"].value != "D"
            answers["1b"] = Typed("D", "")
        hand_in(school, paper, script_with(school, paper, answers))
    return school


def marks(school: School) -> dict[str, tuple[Rule, float]]:
    record = read_record(school, paper_of(school, "aa-01").id)
    assert record is not None
    items = record.exercises[0].items
    return {item.item: (item.rule, item.marks) for item in items}


@pytest.fixture
def on(tmp_path, warm_room) -> School:
    return handed_in(tmp_path / "school", "stop_and_look = true")


def test_a_new_school_has_the_rule_and_one_that_does_not_name_it_is_without(tmp_path):
    assert CliRunner().invoke(commands, ["new", str(tmp_path / "new"), "--title", "Marram"]).exit_code == 0
    assert open_school(tmp_path / "new").stop_and_look
    old = make_school(tmp_path / "old")
    assert "stop_and_look" not in (old.folder / "school.toml").read_text()
    assert not old.stop_and_look
    with pytest.raises(GraderError, match=r"stop_and_look = 'yes': write true or false"):
        ruled(old, 'stop_and_look = "yes"')


def test_a_school_of_before_issues_and_marks_as_it_did(tmp_path, warm_room):
    school = handed_in(tmp_path / "school", "")
    lines = [json.loads(line) for line in school.register_file.read_text().splitlines()]
    assert not any("stop_and_look" in line for line in lines)
    for line in lines:
        [variant] = paper_of(school, line["candidate"]).variants()
        assert line["exercises"][0]["scheme"] == variant.scheme_digest
        assert not variant.stop_and_look
    mark_school(school, quiet, ONE_ROOM)
    assert marks(school)["a.plant.weight"] == (Rule.WRONG, 0)
    assert marks(school)["b"] == (Rule.FOLLOWED, 1)


def test_under_the_rule_it_earns_nothing_and_what_rests_on_it_half(on):
    mark_school(on, quiet, ONE_ROOM)
    assert marks(on)["a.plant.weight"] == (Rule.IMPOSSIBLE, 0)
    assert marks(on)["b"] == (Rule.FOLLOWED, 0.5)
    said = "\n".join(explain(on, "aa-01", "1b"))
    assert "Marks for the method alone, since an answer that it rests on cannot be." in said
    assert "from 0.5 up to 25 lb/gal" in "\n".join(explain(on, "aa-01", HEAVY))
    assert "BEWARE" not in said


@pytest.mark.parametrize(("at_issue", "then"), a_few([("true", "false"), ("false", "true")], 1))
def test_a_paper_keeps_the_rule_that_it_was_issued_under_until_todays_is_taken(tmp_path, warm_room, at_issue, then):
    school = handed_in(tmp_path / "school", f"stop_and_look = {at_issue}")
    school = ruled(school, f"stop_and_look = {then}")
    first = CliRunner().invoke(commands, ["mark", str(school.folder), "--allow-missing-walls"])
    assert f"2 papers issued with stop_and_look = {at_issue} keep that rule" in first.output
    as_issued = {"true": (Rule.FOLLOWED, 0.5), "false": (Rule.FOLLOWED, 1)}
    assert marks(school)["b"] == as_issued[at_issue]
    tally = mark_school(school, quiet, ONE_ROOM, new_scheme="the school thought again")
    assert (tally.accepted, tally.marked, tally.other_rule) == (2, 2, 0)
    assert marks(school)["b"] == as_issued[then]
    assert paper_of(school, "aa-01").stop_and_look is (then == "true")
    assert "the school thought again" in "\n".join(trail(school, "aa-01"))
    check_log(school)
    again = mark_school(school, quiet, ONE_ROOM, new_scheme="once more")
    assert (again.accepted, again.marked) == (0, 0)


def test_another_bound_than_at_issue_is_another_scheme(on, monkeypatch):
    paper = paper_of(on, "aa-01")
    [variant] = paper.variants()
    [table, *others] = variant.exercise.parts
    column = replace(table.columns[1], possible=replace(variant.possible(variant.exercise.items[0]), most=22.0))
    changed = replace(variant.exercise, parts=(replace(table, columns=(table.columns[0], column)), *others))
    monkeypatch.setitem(paper.bank, WITH_TABLE, changed)
    with pytest.raises(GraderError, match="has changed since it was issued"):
        paper.variants()


@pytest.mark.parametrize("line", ["stop_and_look = true", ""])
def test_the_debrief_lists_who_did_not_notice_whatever_the_rule(tmp_path, warm_room, line):
    school = handed_in(tmp_path / "school", line)
    mark_school(school, quiet, ONE_ROOM)
    found = debrief(school, school.sitting(SITTING), gather(school))
    [one] = found.not_noticed
    assert (one.item, one.candidates) == (HEAVY, ("aa-01",))
    page = write_debrief(school, found, {}, None).read_text(encoding="utf-8")
    assert "Answers that cannot be" in page
    assert "“No mud weighs that: stop and look.”" in page
    assert "1 of 2" in page
