"""Marks changed after marking: old and new kept, whatever is marked again, merged, lost or killed."""

from __future__ import annotations

import json
import os
import shutil

import pytest
from click.testing import CliRunner

from grader.cli import commands
from grader.marking import changes
from grader.marking.changes import change_mark, most_marks
from grader.marking.explain import explain
from grader.marking.marking import mark_school
from grader.marking.record import Record
from grader.marking.records import read_record, record_file
from grader.marking.trail import check_log, trail
from grader.reports.results import gather
from grader.store.errors import GraderError
from grader.store.files import write_json
from grader.store.log import Log
from grader.store.part_marks import ChangeKind
from grader.store.school import School, open_school
from tests.grader.cohorts import keep, marked_cohort
from tests.grader.schools import (
    EVERY_KIND,
    ONE_ROOM,
    WITH_TABLE,
    hand_in,
    pack_of,
    page_of,
    paper_of,
    quiet,
    report,
    right_answers,
    rows_of,
    script_with,
    well_formed,
)  # fmt: skip

TABLE = f"{EVERY_KIND.index(WITH_TABLE) + 1}a"


class Killed(BaseException):
    """Ends a run where it stands, as a kill does; nothing catches it."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> School:
    return marked_cohort(tmp_path_factory.mktemp("made") / "school", candidates=4)


@pytest.fixture
def cohort(made, tmp_path) -> School:
    shutil.copytree(made.folder, tmp_path / "cohort")
    return open_school(tmp_path / "cohort")


@pytest.fixture
def marked(school, warm_room) -> School:
    """Two candidates of the issued school with full marks, by marking their scripts."""
    for candidate in ("aa-01", "aa-02"):
        paper = paper_of(school, candidate)
        hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    mark_school(school, quiet, ONE_ROOM)
    return school


def appeal(school: School, candidate: str, part: str, marks: float, why: str = "the reading was ambiguous"):
    return change_mark(school, paper_of(school, candidate).id, part, marks, ChangeKind.APPEAL, why)


def lines_of(school: School) -> list[dict]:
    return Log(school, only_read=True).lines


def pitside(*words: object):
    return CliRunner().invoke(commands, [str(word) for word in words])


def test_change_is_in_record_log_and_total_and_touches_nothing_else(cohort):
    paper = paper_of(cohort, "c001")
    before, others = (
        read_record(cohort, paper.id),
        {path.name: path.read_bytes() for path in (cohort.records / "marks").iterdir() if paper.id not in path.name},
    )
    part = "3b"
    was, most = before.part_marks[part], most_marks(before)[part]
    new = 0.0 if was else most
    record = appeal(cohort, "c001", part, new)
    assert record == read_record(cohort, paper.id)
    assert record.part_marks == before.part_marks | {part: new}
    assert record.marks == before.marks - was + new
    assert (record.digest, record.exercises[2].items) == (before.digest, before.exercises[2].items)
    line = lines_of(cohort)[-1]
    assert (line["what"], line["paper"], line["part"], line["before"], line["marks"], line["kind"], line["why"]) == (
        "mark changed", paper.id, part, was, new, "appeal", "the reading was ambiguous"
    )  # fmt: skip
    ((name, change),) = record.changes
    assert (name, change.part, change.before, change.marks, change.who, change.when) == (
        part, "b", was, new, line["who"], line["when"]
    )  # fmt: skip
    for name, data in others.items():
        assert (cohort.records / "marks" / name).read_bytes() == data
    check_log(cohort)


def test_same_change_twice_is_one_and_each_other_one_is_kept(cohort):
    for marks, kind in ((1, "appeal"), (1, "appeal"), (0, "moderation"), (1, "appeal")):
        change_mark(cohort, paper_of(cohort, "c002").id, "2a", marks, ChangeKind(kind), "looked at")
    record = read_record(cohort, paper_of(cohort, "c002").id)
    found = [(change.before, change.marks, change.kind.value) for _, change in record.changes]
    assert found[1:] == [(1, 0, "moderation"), (0, 1, "appeal")]
    assert record.part_marks["2a"] == 1


def test_mark_that_stands_after_an_appeal_is_on_record(cohort):
    paper = paper_of(cohort, "c001").id
    marks = read_record(cohort, paper).part_marks["1b"]
    record = change_mark(cohort, paper, "1b", marks, ChangeKind.APPEAL, "heard, and stands")
    assert [(c.before, c.marks) for _, c in record.changes] == [(marks, marks)]


@pytest.mark.parametrize(
    ("part", "marks", "why", "line"),
    [
        ("1z", 1, "x", "no part '1z'; there are: 1a, 1b, 2a"),
        ("1a.heron.weight", 1, "x", "1a.heron.weight is a cell of a table; change the marks of the part, 1a"),
        ("1a", 4.5, "x", "4.5 is not from 0 to 4, the marks that it has"),
        ("1a", -0.5, "x", "-0.5 is not from 0 to 4"),
        ("1a", float("nan"), "x", "nan is not from 0 to 4"),
        ("1a", 1, " \n", "say why its marks are changed"),
    ],
)
def test_what_cannot_be_is_one_clear_line_and_changes_nothing(cohort, part, marks, why, line):
    paper = paper_of(cohort, "c001").id
    before = (cohort.records / "log.jsonl").read_bytes(), record_file(cohort, paper).read_bytes()
    with pytest.raises(GraderError) as caught:
        change_mark(cohort, paper, part, marks, ChangeKind.CORRECTION, why)
    assert line in str(caught.value)
    assert "\n" not in str(caught.value)
    assert before == ((cohort.records / "log.jsonl").read_bytes(), record_file(cohort, paper).read_bytes())


def test_paper_without_marks_and_paper_that_is_none(school):
    with pytest.raises(GraderError, match="is not marked; run: pitside mark"):
        appeal(school, "aa-01", "1a", 1)
    with pytest.raises(GraderError, match="no paper 'x' was issued"):
        change_mark(school, "x", "1a", 1, ChangeKind.APPEAL, "x")


def test_change_survives_marking_again(marked):
    paper = paper_of(marked, "aa-01")
    full = read_record(marked, paper.id).marks
    appeal(marked, "aa-01", "1a", 0.5)
    expected = full - most_marks(read_record(marked, paper.id))["1a"] + 0.5
    mark_school(marked, quiet, ONE_ROOM, again="a figure was doubted")
    record = read_record(marked, paper.id)
    assert (record.marks, record.part_marks["1a"], len(record.changes)) == (expected, 0.5, 1)
    check_log(marked)


def test_lost_record_is_marked_anew_with_its_changes_from_the_log(marked):
    paper = paper_of(marked, "aa-01")
    record = appeal(marked, "aa-01", "1a", 0.5)
    record_file(marked, paper.id).unlink()
    with pytest.raises(GraderError, match=r"missing, though line [12] of .* tells of it"):
        check_log(marked)
    mark_school(marked, quiet, ONE_ROOM)
    assert read_record(marked, paper.id) == record
    check_log(marked)


def test_record_that_a_killed_run_left_behind_is_read_with_the_change_all_the_same(cohort, monkeypatch):
    def dies(*_):
        raise Killed

    paper = paper_of(cohort, "c001").id
    old = read_record(cohort, paper)
    new = 0.0 if old.part_marks["4a"] else 1.0
    with monkeypatch.context() as patch:
        patch.setattr(changes, "write_json", dies)
        with pytest.raises(Killed):
            appeal(cohort, "c001", "4a", new)
    assert read_record(cohort, paper) == old
    (result,) = [result for result in gather(cohort) if result.candidate.id == "c001"]
    assert result.record.part_marks["4a"] == new
    assert "changed       " in "\n".join(explain(cohort, "c001", "4a"))
    with pytest.raises(GraderError, match=r"not the changes of marks that .* tells of"):
        check_log(cohort)
    appeal(cohort, "c001", "4a", new)
    assert len([line for line in lines_of(cohort) if line["what"] == "mark changed"]) == 1
    check_log(cohort)


@pytest.mark.parametrize("call", range(1, 11))
def test_killed_at_any_step_and_run_again_is_as_if_never_killed(cohort, monkeypatch, call):
    """Three changes, each with a few steps that touch the disk; killed before the n-th of them, ten times over."""
    paper = paper_of(cohort, "c003").id
    wanted = {"1a": 0.5, "2a": 0.0, "3a": 1.0}
    calls: list[int] = []

    def counted(real):
        def step(*arguments, **named):
            calls.append(1)
            if len(calls) == call:
                raise Killed
            return real(*arguments, **named)

        return step

    def change_all():
        for part, marks in wanted.items():
            appeal(cohort, "c003", part, marks)

    with monkeypatch.context() as patch:
        patch.setattr(Log, "write", counted(Log.write))
        patch.setattr(os, "fsync", counted(os.fsync))
        patch.setattr(changes, "write_json", counted(write_json))
        with pytest.raises(Killed):
            change_all()
    for result in gather(cohort):  # what it left can be read as it is
        assert result.record
    change_all()
    record = read_record(cohort, paper)
    assert {part: record.part_marks[part] for part in wanted} == wanted
    told = [(line["part"], line["marks"]) for line in lines_of(cohort) if line["what"] == "mark changed"]
    assert told == list(wanted.items())
    assert not list(cohort.records.rglob(".*.part"))
    check_log(cohort)


def test_change_on_another_script_stands_and_the_assessor_is_told(marked):
    paper = paper_of(marked, "aa-01")
    appeal(marked, "aa-01", "1a", 0.5)
    assert not report(marked)["aa-01"].for_assessor
    hand_in(marked, paper, pack_of(marked, paper))
    mark_school(marked, quiet, ONE_ROOM)
    result = report(marked)["aa-01"]
    assert result.record.marks == 0.5
    (line,) = [line for line in result.for_assessor if "part 1a" in line]
    assert "for another script of the candidate, and stand: look at the part again" in line


def test_pages_show_old_and_new_mark_kind_and_reason(marked):
    why = "the <b>sheet</b> allowed both"
    appeal(marked, "aa-01", TABLE, 1.5, why)
    most = most_marks(read_record(marked, paper_of(marked, "aa-01").id))[TABLE]
    report(marked)
    page = page_of(marked, "aa-01").get_text(" ", strip=True)
    assert f"{most:g} before, 1.5 now 1.5 of {most:g} {why}" in " ".join(page.split())
    assert "appeal, " in page
    line = f"Part {TABLE}: {most:g} to 1.5 marks, appeal: {why}"
    assert line in rows_of(marked)["aa-01"]["remarks"]
    index = well_formed((marked.records / "results.html").read_text(encoding="utf-8"))
    assert f"Changed after marking. {line}" in index.get_text()
    assert "Changed after marking" not in page_of(marked, "aa-02").get_text()
    assert f"changed       {most:g} to 1.5 marks for the part, appeal: {why}" in "\n".join(
        explain(marked, "aa-01", TABLE)
    )


def test_part_that_waits_for_hand_marks_cannot_be_changed_yet(cohort):
    paper = paper_of(cohort, "c001").id
    data = json.loads(record_file(cohort, paper).read_text())
    data["exercises"][1]["items"][0] |= {"rule": "to be marked by hand", "marks": 0}
    keep(cohort, Record.from_json(data))
    with pytest.raises(GraderError, match="part 2a waits for hand marks, so there are none to change"):
        appeal(cohort, "c001", "2a", 1)


def test_command_changes_a_mark_by_candidate_or_by_paper(cohort):
    paper = paper_of(cohort, "c004").id
    for whose, marks in (("c004", "0.5"), (paper, "1")):
        done = pitside("change", cohort.folder, whose, "1a", marks, "--kind", "moderation", "--reason", "second  look")
        assert done.exit_code == 0, done.output
    assert "0.5 before, 1 now" in done.output
    record = read_record(cohort, paper)
    assert [(c.marks, c.why) for _, c in record.changes] == [(0.5, "second look"), (1, "second look")]
    assert f"Next: pitside results {cohort.folder}" in done.output
    told = "\n".join(trail(cohort, "c004"))
    assert "part 1a changed from 0.5 to 1, moderation: second look" in told
    for words in (["--kind", "whim", "--reason", "x"], ["--kind", "appeal"]):
        assert pitside("change", cohort.folder, "c004", "1a", "1", *words).exit_code == 2
