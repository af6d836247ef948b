"""Whoever can write into records/ cannot have marks signed or shown: they are held against the sealed log first."""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from grader.certificates.certificates import folder_of
from grader.certificates.verify import verify_school
from grader.cli import commands
from grader.marking.books import read_books
from grader.marking.changes import change_mark
from grader.marking.explain import explain
from grader.marking.gradebook import Gradebook
from grader.marking.marking import mark_school
from grader.marking.records import read_record, record_file, refusals_file
from grader.reports.results import gather
from grader.store.errors import GraderError
from grader.store.files import write_json
from grader.store.log import Log
from grader.store.part_marks import ChangeKind, HandMark
from grader.store.school import School, open_school
from tests.grader.cohorts import keep, marked_cohort
from tests.grader.schools import ONE_ROOM, SITTING, hand_in, paper_of, quiet, right_answers, script_with

#: What shows or signs marks that others rely on.
SIGN = ("results", "decide", "certify")
SHOW = ("report", "items", "moderate")


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> School:
    """Four candidates, the second with nothing right."""
    return marked_cohort(
        tmp_path_factory.mktemp("books") / "school",
        4,
        twist=lambda number, variants, given: {} if number == 1 else right_answers(variants),
    )


@pytest.fixture
def school(made, tmp_path) -> School:
    shutil.copytree(made.folder, tmp_path / "school")
    return open_school(tmp_path / "school")


def pitside(command: str, school: School, *words: str):
    more = ("--sitting", SITTING) if command == "moderate" else ()
    return CliRunner().invoke(commands, [command, str(school.folder), *more, *words])


def record_of(school: School, candidate: str = "c002") -> Path:
    return record_file(school, paper_of(school, candidate).id)


def edited(path: Path, edit: Callable[[dict], None]) -> None:
    data = json.loads(path.read_text(encoding="utf-8"))
    edit(data)
    path.write_text(json.dumps(data), encoding="utf-8")


def _all_right(data: dict) -> None:
    for exercise in data["exercises"]:
        for item in exercise["items"]:
            item.update(marks=item["out_of"], rule="right")


def _by_hand(data: dict) -> None:
    data["exercises"][0]["hand"] = [{"part": "a", "marks": 1.0, "comment": "well done", "note": ""}]


def _changed(data: dict) -> None:
    change = {"part": "a", "marks": 1.0, "before": 0.0, "kind": "appeal", "why": "x", "who": "x", "when": "x"}
    data["exercises"][0]["changes"] = [change]


def _out_of(data: dict) -> None:
    for exercise in data["exercises"]:
        exercise["items"] = exercise["items"][:1]


FORGED = {
    "marks": (_all_right, "not the marks that line 2 of"),
    "fewer parts": (_out_of, "not the marks that line 2 of"),
    "note": (lambda data: data.update(notes=["sat well"]), "not the marks that line 2 of"),
    "what the assessor is told": (lambda data: data.update(for_assessor=["sat well"]), "not the marks that line 2 of"),
    "hand marks": (_by_hand, "not the hand marks of line 2 of"),
    "change": (_changed, "not the changes of marks that"),
}


@pytest.mark.parametrize("command", [*SIGN, *SHOW])
@pytest.mark.parametrize("forgery", FORGED)
def test_forged_record_is_refused_in_one_line_and_nothing_is_signed_or_shown(school, command, forgery):
    edit, says = FORGED[forgery]
    edited(record_of(school), edit)
    before = {path: path.read_bytes() for path in school.folder.rglob("*") if path.is_file()}
    done = pitside(command, school)
    assert done.exit_code == 1 and isinstance(done.exception, GraderError), done.output
    line = str(done.exception)
    assert line.startswith(f"{record_of(school)}: {says}")
    assert "mark again" in line and f"pitside verify {school.folder}" in line and "\n" not in line
    after = {path: path.read_bytes() for path in school.folder.rglob("*") if path.is_file()}
    after.pop(school.folder / ".busy", None)
    assert after == before


def test_forged_record_is_the_very_fault_that_verify_and_trail_name(school):
    edited(record_of(school), _all_right)
    (fault,) = verify_school(school).faults
    with pytest.raises(GraderError) as caught:
        gather(school)
    assert str(caught.value).startswith(f"{fault}. Nothing was signed or shown")
    assert f"BEWARE: {fault}" in "\n".join(explain(school, "c002", "1a"))


def test_several_forged_records_are_counted(school):
    for candidate in ("c001", "c002", "c003"):
        edited(record_of(school, candidate), _by_hand)
    with pytest.raises(GraderError, match=r"day1-c001-.* \(and 2 more like it\)\. Nothing was signed"):
        gather(school)


def test_record_that_no_line_of_the_log_tells_of_is_refused(school):
    """Marks for who handed nothing in: a record put into the folder."""
    lines = (school.records / "log.jsonl").read_bytes().splitlines(keepends=True)
    (school.records / "log.jsonl").write_bytes(b"".join(lines[:3]))
    with pytest.raises(GraderError, match=r"day1-c004-\S+: no line of \S+ tells of it"):
        gather(school)


def test_record_of_another_paper_under_this_name_is_refused(school):
    shutil.copy(record_of(school, "c001"), record_of(school, "c002"))
    with pytest.raises(GraderError, match=r"day1-c002"):
        gather(school)


def test_mark_is_not_changed_in_a_forged_record(school):
    """Else the forged marks would go into the log as those that stood before."""
    edited(record_of(school), _all_right)
    log = (school.records / "log.jsonl").read_bytes()
    with pytest.raises(GraderError, match="not the marks that line 2 of"):
        change_mark(school, paper_of(school, "c002").id, "1a", 0.5, ChangeKind.APPEAL, "looked at again")
    assert (school.records / "log.jsonl").read_bytes() == log


def test_refused_file_that_nobody_refused_is_refused_in_the_results(school):
    refusal = {"file": "scripts/x.ipynb", "digest": "0", "candidate": "c001", "sitting": SITTING, "attempt": 1}
    write_json(refusals_file(school), [refusal | {"reason": "sat beside c002"}])
    with pytest.raises(GraderError, match=r"refused.json: no line of \S+ tells of 'scripts/x.ipynb'"):
        gather(school)


# What is honest ---------------------------------------------------------------------------------------------------


def holds(school: School) -> None:
    """Everything that signs and shows goes on."""
    for command in (*SIGN, *SHOW):
        done = pitside(command, school)
        assert done.exit_code == 0, (command, done.output, done.exception)
    assert verify_school(school).faults == ()


def test_school_as_it_was_marked_holds(school):
    holds(school)
    assert list(folder_of(school).iterdir())


def test_changes_and_hand_marks_hold(school):
    record = read_record(school, paper_of(school, "c002").id)
    keep(school, record.with_hand({"1a": HandMark("a", 0.5, "half of it")}))
    change_mark(school, record.paper, "1b", 0.5, ChangeKind.APPEAL, "looked at again")
    holds(school)


def test_change_that_a_killed_run_has_not_put_into_the_record_yet_is_counted_and_not_refused(school):
    before = record_of(school).read_bytes()
    change_mark(school, paper_of(school, "c002").id, "1b", 0.5, ChangeKind.APPEAL, "looked at again")
    record_of(school).write_bytes(before)
    result = next(one for one in gather(school) if one.candidate.id == "c002")
    assert result.record.part_marks["1b"] == 0.5


@pytest.mark.parametrize("lost", ["missing", "cannot be read"])
def test_lost_record_takes_nothing_from_the_others_and_is_told_in_place_of_its_marks(school, lost):
    record_of(school).write_text("{") if lost == "cannot be read" else record_of(school).unlink()
    done = pitside("results", school)
    assert done.exit_code == 0, done.output
    assert f"c002, {SITTING}: {record_of(school)}: " in done.output
    with (school.records / "results.csv").open(encoding="utf-8-sig") as file:
        rows = {row["id"]: row for row in csv.DictReader(file)}
    assert {row["status"] for name, row in rows.items() if name != "c002"} == {"marked"}
    assert rows["c002"]["status"] == "not marked", "and not: no script, as if nothing had been handed in"
    assert "c002: " in pitside("decide", school).output


def test_forgotten_candidate_holds_also_where_the_others_comments_named_them(school):
    roster = school.folder / "roster.csv"
    roster.write_text(roster.read_text().replace("Candidate No. 4", "Ingrid Sølvberg"), encoding="utf-8")
    school = open_school(school.folder)
    paper = paper_of(school, "c002").id
    keep(school, read_record(school, paper).with_hand({"1a": HandMark("a", 0.5, "as good as Ingrid Sølvberg's")}))
    change_mark(school, paper, "1b", 0.5, ChangeKind.APPEAL, "Ingrid Sølvberg has the same")
    done = CliRunner().invoke(commands, ["forget", str(school.folder), "c004", "--reason", "asked for it", "--yes"])
    assert done.exit_code == 0, (done.output, done.exception)
    after = open_school(school.folder)
    assert "Ingrid" not in (after.records / "log.jsonl").read_text(encoding="utf-8")
    holds(after)
    edited(record_of(after), lambda data: data["exercises"][0]["hand"][0].update(comment="better than all"))
    with pytest.raises(GraderError, match="not the hand marks of line"):
        gather(after)


def test_somebody_is_forgotten_also_beside_a_forged_record_and_then_nothing_is_signed(school):
    pitside("results", school)
    edited(record_of(school), _all_right)
    done = CliRunner().invoke(commands, ["forget", str(school.folder), "c004", "--reason", "asked for it", "--yes"])
    assert isinstance(done.exception, GraderError)
    assert "what was held about c004 is deleted, but the results are not written: " in str(done.exception)
    assert "c004" not in (school.folder / "roster.csv").read_text()
    assert not list(school.records.glob("results.csv*"))


@pytest.fixture
def marked(issued_school, tmp_path, warm_room) -> School:
    """Two candidates of a school whose scripts were really marked."""
    shutil.copytree(issued_school.folder, tmp_path / "real")
    school = open_school(tmp_path / "real")
    for candidate in ("aa-01", "aa-02"):
        paper = paper_of(school, candidate)
        hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    mark_school(school, quiet, ONE_ROOM)
    return school


@pytest.mark.parametrize("spoil", [lambda path: path.unlink(), lambda path: edited(path, _by_hand)])
def test_record_that_is_lost_or_forged_comes_back_by_deleting_it_and_marking_again(marked, spoil):
    path = record_of(marked, "aa-01")
    before = path.read_bytes()
    spoil(path)
    path.unlink(missing_ok=True)
    mark_school(marked, quiet, ONE_ROOM)
    assert path.read_bytes() == before
    assert [result.record is not None for result in gather(marked)] == [True, True, False, False]


def test_hand_marks_of_a_forged_record_do_not_come_into_a_new_gradebook(marked):
    """Who can delete the gradebook and write a record would else have hand marks logged at the next marking."""
    path = record_of(marked, "aa-01")
    for script in (lambda data: None, lambda data: data.update(script="0" * 64)):
        (marked.records / "gradebook.db").unlink()
        edited(path, _by_hand)
        edited(path, script)
        mark_school(marked, quiet, ONE_ROOM)
        with Gradebook.of(marked) as gradebook:
            assert gradebook.hand_marks() == {}
        assert not any(line.get("hand") for line in Log(marked).lines)
    assert [fault for fault in read_books(marked).faults if fault.forges] == []
