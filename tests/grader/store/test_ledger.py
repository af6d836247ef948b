"""Ledgers: a last line that lacks its end counts, half a line does not, anything else is named; and clocks set back."""

from __future__ import annotations

import json
import os
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from grader.certificates.certificates import certify
from grader.certificates.verify import verify_school
from grader.cli import commands
from grader.marking.trail import trail
from grader.reports.competence import decide
from grader.reports.results import gather
from grader.store import ledger as ledgers
from grader.store.certificate_register import CertificateRegister
from grader.store.errors import GraderError
from grader.store.ledger import Ledger
from grader.store.log import Log
from grader.store.register import Register
from grader.store.school import School, open_school
from tests.grader.cohorts import marked_cohort
from tests.grader.schools import right_answers

FILES = {"register": "register.jsonl", "log": "records/log.jsonl", "certificates": "records/certificates.jsonl"}
NOW = datetime(2026, 5, 9, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> School:
    """Three candidates with papers, marks and certificates."""
    school = marked_cohort(
        tmp_path_factory.mktemp("ledgers") / "school", 3, twist=lambda number, variants, given: right_answers(variants)
    )
    found = gather(school)
    certify(school, decide(school, found), found)
    return school


@pytest.fixture
def school(made, tmp_path) -> School:
    shutil.copytree(made.folder, tmp_path / "school")
    return open_school(tmp_path / "school")


def lines_in(school: School, name: str) -> int:
    return len({
        "register": lambda: Register(school).papers,
        "log": lambda: Log(school).lines,
        "certificates": lambda: CertificateRegister(school).issued,
    }[name]())  # fmt: skip


def files_in(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


# The end of the file --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("end", [b"", b"\r", b"  ", b"\0" * 40], ids=["nothing", "half a line end", "blanks", "zeros"])
def test_whole_last_line_without_its_line_end_counts_and_gets_it(school, name, end):
    path = school.folder / FILES[name]
    whole = path.read_bytes()
    path.write_bytes(whole[:-1] + end)
    assert lines_in(school, name) == 3
    assert path.read_bytes() == whole


@pytest.mark.parametrize("name", FILES)
def test_only_reading_counts_it_too_and_leaves_the_file_as_it_is(school, name):
    path = school.folder / FILES[name]
    path.write_bytes(path.read_bytes()[:-1])
    before = files_in(school.folder)
    assert verify_school(school).faults == ()
    assert files_in(school.folder) == before


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("kept", [1, 2, 30, 0.5, -3, -2], ids=["1", "2", "30", "half", "all but 3", "all but 2"])
@pytest.mark.parametrize("end", [b"", b"\0" * 40], ids=["nothing", "zeros"])
def test_half_a_line_is_cut_off(school, name, kept, end):
    path = school.folder / FILES[name]
    *before, last = path.read_bytes().splitlines(keepends=True)
    kept = int(len(last) * kept) if isinstance(kept, float) else kept
    path.write_bytes(b"".join(before) + last[:kept] + end)
    assert lines_in(school, name) == 2
    assert path.read_bytes() == b"".join(before)


def _other(line: bytes) -> bytes:
    body = json.loads(line)
    return json.dumps(body | {"why": "another"}, sort_keys=True).encode()


LAST = {
    "altered": (_other, "is not as it was written"),
    "another seal": (lambda line: line.replace(b'"seal": "', b'"seal": "0'), "is not as it was written"),
    "no seal": (lambda line: b'{"paper": "p"}', "is damaged"),
    "no JSON": (lambda line: b"all is well", "is damaged"),
    "broken inside": (lambda line: line.replace(b'": "', b'" "', 1), "is damaged"),
    "two in one": (lambda line: line + line, "is damaged"),
    "something behind": (lambda line: line + b" x", "is damaged"),
}


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize(("change", "says"), LAST.values(), ids=LAST)
def test_any_other_last_line_without_its_end_is_named_and_not_thrown_away(school, name, change, says):
    path = school.folder / FILES[name]
    *before, last = path.read_bytes().splitlines(keepends=True)
    spoiled = b"".join(before) + change(last.rstrip(b"\n"))
    path.write_bytes(spoiled)
    with pytest.raises(GraderError) as caught:
        lines_in(school, name)
    assert str(caught.value).startswith(f"{path}: line 3 {says}")
    assert "from your backup" in str(caught.value)
    assert path.read_bytes() == spoiled


def test_full_disk_leaves_no_half_line_that_another_would_follow(school, monkeypatch):
    log = Log(school)
    before = log.path.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(ledgers.os, "fsync", full)
        with pytest.raises(OSError, match="No space"):
            log.write("noted", why="the first")
    assert log.path.read_bytes() == before
    log.write("noted", why="the second")
    assert [line["why"] for line in Log(school).lines[3:]] == ["the second"]


def test_lines_are_on_the_disk_before_what_they_tell_of(tmp_path, monkeypatch):
    """Whatever was handed to fsync was written to the file first."""
    synced = []
    monkeypatch.setattr(ledgers.os, "fsync", lambda number: synced.append(os.fstat(number).st_size))
    kept = []
    Ledger(tmp_path / "x.jsonl", b"key", "the test", "", lambda body, seal: kept.append(body)).append([{"a": 1}])
    assert synced == [(tmp_path / "x.jsonl").stat().st_size]
    assert kept == [{"a": 1}]


# The clock ------------------------------------------------------------------------------------------------------------


def log_at(school: School, *times: datetime) -> None:
    """Write lines by a clock that says these times."""
    clock = iter(times)
    log = Log(school, now=lambda: next(clock))
    for number, _ in enumerate(times):
        log.write("noted", why=f"number {number}")


@pytest.fixture
def dated(tmp_path) -> School:
    """A school whose log is of one noon."""
    school = marked_cohort(tmp_path / "dated", 1)
    (school.records / "log.jsonl").unlink()
    log_at(school, NOW, NOW + timedelta(minutes=1))
    return school


def remarks(school: School, now: datetime = NOW + timedelta(hours=1)) -> list[str]:
    return list(verify_school(school, now=now).remarks)


def test_clock_set_back_is_said_when_a_line_is_written_and_the_work_goes_on(dated, capsys):
    log_at(dated, datetime(2006, 5, 9, tzinfo=UTC), datetime(2006, 5, 10, tzinfo=UTC))
    (said,) = capsys.readouterr().err.splitlines()
    assert said == (
        "pitside: this machine's clock says 2006-05-09 00:00 UTC, and the log has a line of 2026-05-09 12:01 UTC: "
        "mend the clock"
    )
    assert len(Log(dated).lines) == 4


def test_clock_set_back_is_remarked_on_by_verify_and_trail_and_is_no_fault(dated):
    log_at(dated, datetime(2006, 5, 9, tzinfo=UTC), datetime(2006, 5, 10, tzinfo=UTC), NOW + timedelta(minutes=2))
    (remark,) = remarks(dated)
    assert remark == (
        f"{dated.records / 'log.jsonl'}: lines 3 to 4 were written on 2006-05-09 00:00 UTC by the machine's clock, "
        "though line 2, before, was written on 2026-05-09 12:01 UTC: the clock was wrong, or somebody set it"
    )
    assert f"  BEWARE: {remark}" in trail(dated, now=NOW)
    done = CliRunner().invoke(commands, ["verify", str(dated.folder)])
    assert f"LOOK AT THIS: {remark}" in done.output


def test_time_far_ahead_is_remarked_on(dated):
    log_at(dated, datetime(2031, 1, 1, tzinfo=UTC), NOW + timedelta(minutes=2))
    (remark,) = remarks(dated)
    assert "line 3 was written on 2031-01-01 00:00 UTC by the machine's clock, though now it is 2026-05-09" in remark


def test_clock_that_was_set_right_by_minutes_is_not_remarked_on(dated, capsys):
    log_at(dated, NOW - timedelta(minutes=5), NOW - timedelta(minutes=4), NOW + timedelta(minutes=3))
    assert remarks(dated) == []
    assert capsys.readouterr().err == ""


def test_what_is_signed_by_a_clock_set_back_says_so(school, monkeypatch):
    """Results and certificates bear a date without a line being written into the log."""
    ahead = datetime.now(UTC) + timedelta(hours=2)
    Log(school, now=lambda: ahead).write("noted", why="later")
    (school.records / "certificates.jsonl").unlink()
    for command in ("results", "certify"):
        done = CliRunner().invoke(commands, [command, str(school.folder)])
        assert done.exit_code == 0, done.output
        assert "mend the clock" in done.output
