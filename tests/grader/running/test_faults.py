"""A fault of ours at one script is that script's refusal, kept for whoever mends it; all others are marked."""

from __future__ import annotations

import errno
import json
import sqlite3
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy.exc import OperationalError

from grader import cli
from grader.marking import bookkeeping, gradebook, one_script, rooms
from grader.marking.explain import explain
from grader.marking.marking import mark_school
from grader.marking.records import read_record, read_refusals, record_file
from grader.marking.rooms import How
from grader.marking.trail import check_log, trail
from grader.privacy.export import write_export
from grader.privacy.privacy import forget, kept_lines
from grader.reports.debrief import debrief
from grader.reports.results import gather
from grader.returned import scripts
from grader.returned.scripts import Refusal
from grader.running.faults import Fault, caught
from grader.running.runner import Runner, RunnerError
from grader.store.errors import GraderError
from grader.store.log import REFUSED, Log
from grader.store.register import Paper
from grader.store.school import School, open_school
from tests.grader.schools import (
    ONE_ROOM,
    SITTING,
    hand_in,
    mark_and_report,
    paper_of,
    quiet,
    report,
    right_answers,
    rows_of,
    script_with,
)
from tests.sharing import a_few

#: The one script at which things go wrong, by the candidate's id; it says so in a cell of its own.
AT = "aa-02"
SAYS = "x = 'the script of aa-02'"


@pytest.fixture
def handed_in(school) -> School:
    """A script of each of four candidates."""
    for candidate in school.roster:
        paper = paper_of(school, candidate.id)
        script = script_with(school, paper, dict(right_answers(paper.variants())))
        if candidate.id == AT:
            script["cells"][4]["source"] += f"\n{SAYS}"
        hand_in(school, paper, script)
    return school


def _wrapped(
    monkeypatch: pytest.MonkeyPatch, where: object, name: str, is_meant: Callable[..., bool], error: BaseException
) -> None:
    real = getattr(where, name)

    def failing(*given, **named):
        if is_meant(*given, **named):
            raise error
        return real(*given, **named)

    monkeypatch.setattr(where, name, failing)


def _says(notebook: object, **_: object) -> bool:
    return SAYS in json.dumps(notebook, default=str)


#: Where in the work for one script it goes wrong: what is made to fail, and how it is told that it is this script's.
STEPS: dict[str, tuple[object, str, Callable[..., bool]]] = {
    "looked at": (scripts, "parsed", lambda data: SAYS.encode() in data),
    "read": (scripts, "made_new", _says),
    "answers read": (rooms, "read", lambda notebook, *_: _says(notebook)),
    "run": (Runner, "run", lambda room, notebook, *_: _says(notebook)),
    "marked": (one_script, "mark_run", lambda script, *_: script.paper.candidate == AT),
    "compared with its paper": (one_script, "for_assessor", lambda script, *_: script.paper.candidate == AT),
    "made ready for hand marking": (one_script, "for_hand_marking", lambda notebook, *_: _says(notebook)),
    "made a file": (bookkeeping, "as_json", _says),
    "prepared in the gradebook": (gradebook.Gradebook, "prepare", lambda _, paper: paper.candidate == AT),
    "entered in the gradebook": (gradebook.Gradebook, "enter", lambda _, paper, *__: paper.candidate == AT),
    "half entered": (gradebook.Gradebook, "_enter_new", lambda _, __, ___, student, *____: student == AT),
}
SLOW = pytest.mark.slow
ERRORS = [
    OverflowError("cannot convert float infinity to integer"),
    RecursionError("maximum recursion depth exceeded"),
    MemoryError(),
    UnicodeEncodeError("utf-8", "\ud800", 0, 1, "surrogates not allowed"),
]


def _others_are_marked(school: School) -> None:
    for candidate in school.roster:
        record = read_record(school, paper_of(school, candidate.id).id)
        assert (record is None) == (candidate.id == AT)
        assert record is None or record.marks == record.out_of


#: Every step, each with one of the errors in turn; the other errors are tried by the slow run.
FAULTS = [
    pytest.param(step, error, id=f"{step}-{type(error).__name__}", marks=() if place == number else SLOW)
    for place, step in enumerate(STEPS)
    for number, error in enumerate(ERRORS)
]


@pytest.mark.parametrize(("step", "error"), FAULTS)
def test_fault_at_one_script_refuses_it_and_marks_all_others(handed_in, warm_room, monkeypatch, step, error):
    where, name, is_meant = STEPS[step]
    with monkeypatch.context() as patch:
        _wrapped(patch, where, name, is_meant, error)
        tally = mark_school(handed_in, quiet, ONE_ROOM)
    assert tally.marked == 3
    (refusal,) = tally.refused
    kept = handed_in.folder / refusal.fault
    assert tally.faults == (refusal.fault,)
    assert refusal.candidate == AT
    assert refusal.reason == (
        f"a fault in Pitside, not in the script ({type(error).__name__}), kept in {refusal.fault}; the others are "
        "marked. Send that file to whoever looks after Pitside; marking again tries it again"
    )
    assert kept.parent == handed_in.records / "faults"
    assert kept.stat().st_mode & 0o777 == 0o600
    _others_are_marked(handed_in)
    # The same again is the same again, and is not logged twice.
    with monkeypatch.context() as patch:
        _wrapped(patch, where, name, is_meant, error)
        again = mark_school(handed_in, quiet, ONE_ROOM)
    assert (again.marked, again.already, again.refused) == (0, 3, tally.refused)
    assert sum(line["what"] == REFUSED for line in Log(handed_in).lines) == 1
    # And when the fault is mended, it is marked like the others.
    mended = mark_school(handed_in, quiet, ONE_ROOM)
    assert (mended.marked, mended.already, mended.refused) == (1, 3, ())
    assert rows_of_all(handed_in) == {one.id: "100.0" for one in handed_in.roster}
    assert step == "looked at" or not kept.exists()
    check_log(handed_in)


def rows_of_all(school: School) -> dict[str, str]:
    report(school)
    return {name: row["percent"] for name, row in rows_of(school).items()}


@pytest.fixture
def failed(handed_in, warm_room, monkeypatch) -> School:
    """A school that was marked with a fault at one script."""
    with monkeypatch.context() as patch:
        _wrapped(patch, *STEPS["marked"], LookupError(f"a fault for a test, {handed_in.key!r} {handed_in.key.hex()}"))
        mark_school(handed_in, quiet, ONE_ROOM)
    return handed_in


def test_what_is_kept_says_where_at_what_and_with_which_versions_and_no_key(failed):
    paper = paper_of(failed, AT)
    (kept,) = (failed.records / "faults").iterdir()
    text = kept.read_text()
    (refusal,) = read_refusals(failed)
    assert text.startswith(f"paper {paper.id}, script {refusal.digest}\n")
    assert all(f"{entry.exercise} version {entry.version}" in text for entry in paper.entries)
    assert "Traceback (most recent call last):" in text
    assert "in marked\n" in text
    assert f"Python {sys.version.split()[0]}\n" in text
    assert "\npitside " in text and "\nnumpy " in text
    assert "LookupError: a fault for a test, b'(school.key)' (school.key)\n" in text
    assert failed.key.hex() not in text


def test_everything_else_works_with_such_a_school(failed):
    paper = paper_of(failed, AT)
    found = {result.candidate.id: result for result in gather(failed)}
    report(failed)
    assert found[AT].status == "not marked"
    assert "a fault in Pitside, not in the script (LookupError)" in rows_of(failed)[AT]["remarks"]
    assert found["aa-01"].status == "marked"
    assert debrief(failed, failed.sitting(SITTING), list(found.values()))
    assert explain(failed, "aa-01", "1a")
    with pytest.raises(GraderError, match="no script of aa-02 is marked"):
        explain(failed, AT, "1a")
    assert any("file refused" in line and "LookupError" in line for line in trail(failed, paper.id))
    check_log(failed)


def test_what_is_kept_is_exported_with_and_goes_with_the_person(failed):
    (kept,) = (failed.records / "faults").iterdir()
    assert any("records/faults/" in line for line in kept_lines(failed, AT))
    assert write_export(failed, AT).exists()
    forget(failed, ["aa-01"], "asked for it", lambda: open_school(failed.folder))
    assert kept.exists()
    forget(failed, [AT], "asked for it", lambda: open_school(failed.folder))
    assert not kept.exists()


def test_script_that_fails_when_marked_again_keeps_its_marks_and_is_tried_again(handed_in, warm_room, monkeypatch):
    mark_and_report(handed_in)
    before = record_file(handed_in, paper_of(handed_in, AT).id).read_bytes()
    with monkeypatch.context() as patch:
        _wrapped(patch, *STEPS["marked"], LookupError("a fault for a test"))
        tally = mark_school(handed_in, quiet, ONE_ROOM, again="a figure was doubted")
    assert (tally.marked, len(tally.faults)) == (3, 1)
    assert record_file(handed_in, paper_of(handed_in, AT).id).read_bytes() == before
    again = mark_school(handed_in, quiet, ONE_ROOM, again="a figure was doubted")
    assert (again.marked, again.already, again.refused) == (1, 3, ())
    check_log(handed_in)


@pytest.mark.parametrize(
    ("step", "error", "says"),
    [
        ("entered in the gradebook", OperationalError("x", {}, sqlite3.OperationalError("disk full")), GraderError),
        ("entered in the gradebook", OSError(errno.ENOSPC, "No space left on device"), OSError),
        ("made a file", OSError(errno.EFBIG, "File too large"), OSError),
        ("run", RunnerError("no room can be had"), RunnerError),
        ("marked", KeyboardInterrupt(), KeyboardInterrupt),
    ],
    ids=["gradebook", "disk", "size of files", "walls", "stopped"],
)
def test_what_would_be_wrong_with_every_script_stops_the_marking(handed_in, warm_room, monkeypatch, step, error, says):
    with monkeypatch.context() as patch:
        _wrapped(patch, *STEPS[step], error)
        with pytest.raises(says):
            mark_school(handed_in, quiet, ONE_ROOM)
    assert not (handed_in.records / "faults").exists()
    mark_school(handed_in, quiet, ONE_ROOM)
    assert set(rows_of_all(handed_in).values()) == {"100.0"}


def test_fault_that_cannot_be_kept_stops_the_marking_with_the_reason(handed_in, warm_room, monkeypatch):
    (handed_in.records / "faults").write_text("not a folder")
    _wrapped(monkeypatch, *STEPS["marked"], LookupError("a fault for a test"))
    with pytest.raises(OSError, match="faults"):
        mark_school(handed_in, quiet, ONE_ROOM)


def test_command_says_so_at_its_end_and_by_its_status(handed_in, warm_room, monkeypatch, capsys, tmp_path):
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    _wrapped(monkeypatch, *STEPS["marked"], LookupError("a fault for a test"))
    monkeypatch.setattr(sys, "argv", ["pitside", "mark", str(handed_in.folder), "--workers", "1"])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    said, complaints = capsys.readouterr()
    assert ended.value.code == cli.OWN_FAULT
    assert said.startswith("3 scripts marked, 0 marked before, 1 not marked\n")
    assert f"  scripts/marram_{SITTING}_{AT}.ipynb: a fault in Pitside, not in the script (LookupError)" in said
    assert complaints == (
        "pitside: 1 script was not marked by a fault in pitside itself; all others are marked. Please send "
        f"{handed_in.records / 'faults'} to whoever looks after it; marking again tries them again\n"
    )
    assert not list(Path.cwd().iterdir())


def test_new_mark_scheme_that_fails_for_one_paper_refuses_that_one(handed_in, warm_room, monkeypatch):
    _wrapped(monkeypatch, Paper, "of_today", lambda paper, *_: paper.candidate == AT, ZeroDivisionError("by a product"))
    tally = mark_school(handed_in, quiet, ONE_ROOM, new_scheme="a slip was found")
    assert (tally.marked, len(tally.faults)) == (3, 1)
    _others_are_marked(handed_in)


def test_outcome_and_what_a_person_can_mend_come_through():
    assert caught(lambda: 5) == 5

    def refused() -> None:
        raise GraderError("x: is wrong")

    with pytest.raises(GraderError, match="is wrong"):
        caught(refused)
    fault = caught(lambda: 1 / 0)
    assert isinstance(fault, Fault)
    assert fault.kind == "ZeroDivisionError"


def test_refusals_of_before_there_were_faults_are_read(school):
    old = Refusal("scripts/x", "", "aa-01", SITTING, "is wrong")
    line = {name: value for name, value in old.__dict__.items() if name != "fault"}
    (school.records / "refused.json").write_text(json.dumps([line]))
    assert read_refusals(school) == [old]


# On a cluster ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def address() -> Iterator[str]:
    """A scheduler and a worker in this process, so that what fails here fails there."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=False,
        host="127.0.0.1",
        dashboard_address="127.0.0.1:0",
        protocol="tcp",
    ) as cluster:  # fmt: skip
        yield cluster.scheduler_address


@pytest.mark.parametrize(
    "step", a_few(["run", "entered in the gradebook", "looked at", "read", "marked", "made a file"], 2)
)
def test_fault_on_a_cluster_is_the_same_refusal(handed_in, warm_room, monkeypatch, address, step):
    with monkeypatch.context() as patch:
        _wrapped(patch, *STEPS[step], LookupError("a fault for a test"))
        tally = mark_school(handed_in, quiet, How(allow_missing_walls=True, dask=address))
    assert (tally.marked, len(tally.faults)) == (3, 1)
    assert "a fault for a test" in (handed_in.folder / tally.faults[0]).read_text()
    _others_are_marked(handed_in)
    assert mark_school(handed_in, quiet, How(allow_missing_walls=True, dask=address)).marked == 1


def test_fault_of_the_cluster_at_one_script_is_its_refusal_too(handed_in, warm_room, monkeypatch, address):
    _wrapped(monkeypatch, rooms, "mark_script", lambda one, *_: one.paper.candidate == AT, LookupError("there"))
    tally = mark_school(handed_in, quiet, How(allow_missing_walls=True, dask=address))
    assert (tally.marked, len(tally.faults)) == (3, 1)
    _others_are_marked(handed_in)
