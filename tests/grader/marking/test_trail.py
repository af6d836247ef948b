"""The trail: an upgrade of exercises between issue and marking, an appeal, and what happens to altered logs."""

from __future__ import annotations

import dataclasses
import json
import re
import shutil

import pytest
from click.testing import CliRunner

from exercises import BANK
from exercises.model import Choice, Numeric
from exercises.model.numbers import Number
from grader.cli import commands
from grader.marking.books import read_books
from grader.marking.explain import explain
from grader.marking.marking import mark_school
from grader.marking.records import read_record, record_file
from grader.marking.trail import check_log, trail
from grader.papers.issue import issue
from grader.store.errors import GraderError
from grader.store.ledger import sealed
from grader.store.log import FORGOTTEN, Log
from grader.store.part_marks import ChangeKind
from grader.store.register import Register
from grader.store.school import School, open_school
from tests.grader.cohorts import marked_cohort
from tests.grader.schools import (
    CHAINED,
    EVERY_KIND,
    ONE_ROOM,
    SITTING,
    WITH_CHOICE,
    gradebook_of,
    hand_in,
    make_school,
    page_of,
    paper_of,
    quiet,
    report,
    right_answers,
    rows_of,
    script_with,
)

CHAIN = EVERY_KIND.index(CHAINED) + 1


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> School:
    return marked_cohort(tmp_path_factory.mktemp("made") / "school", candidates=4)


@pytest.fixture
def cohort(made, tmp_path) -> School:
    shutil.copytree(made.folder, tmp_path / "cohort")
    return open_school(tmp_path / "cohort")


@pytest.fixture
def handed_in(school, warm_room) -> School:
    """Two candidates' right answers, not marked yet."""
    for candidate in ("aa-01", "aa-02"):
        paper = paper_of(school, candidate)
        hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    return school


#: The version of CHAINED at issue, and that of its upgrade.
WAS = BANK[CHAINED].version
NOW = WAS + 1


def upgraded(monkeypatch: pytest.MonkeyPatch, version: int = NOW, marks: float | None = None):
    """CHAINED as an upgrade brings it: a new version whose first part gives other marks."""
    exercise = BANK[CHAINED]
    first = exercise.parts[0]
    assert isinstance(first, Numeric)
    value = first.marks.value + 1 if marks is None else marks
    changed = dataclasses.replace(first, marks=dataclasses.replace(first.marks, value=value))
    new = dataclasses.replace(exercise, version=version, parts=(changed, *exercise.parts[1:]))
    monkeypatch.setitem(BANK, CHAINED, new)
    return new


def log_file(school: School):
    return school.records / "log.jsonl"


def events(school: School) -> list[str]:
    return [line["what"] for line in Log(school, only_read=True).lines]


def pitside(*words: object):
    return CliRunner().invoke(commands, [str(word) for word in words])


# An upgrade between issue and marking --------------------------------------------------------------------------------


def test_upgrade_before_marking_is_refused_and_logged_once_without_consent(handed_in, monkeypatch):
    upgraded(monkeypatch)
    for _ in range(2):
        tally = mark_school(handed_in, quiet, ONE_ROOM)
        assert (tally.marked, len(tally.refused)) == (0, 2)
    reason = tally.refused[0].reason
    assert f"has changed since it was issued (version {WAS} then, {NOW} now)" in reason
    assert 'pitside mark --new-scheme --reason "..."' in reason
    assert events(handed_in) == ["file refused"] * 2
    assert "file refused, scripts/marram_day1_aa-01.ipynb: paper" in "\n".join(trail(handed_in, "aa-01"))
    report(handed_in)  # results are written all the same
    check_log(handed_in)


def test_upgrade_and_appeal_leave_a_complete_trail(handed_in, monkeypatch):
    """The whole story of one paper: issue, upgrade, refusal, consent, marking, appeal; in this order."""
    paper = paper_of(handed_in, "aa-01")
    old = BANK[CHAINED].marks
    upgraded(monkeypatch)
    mark_school(handed_in, quiet, ONE_ROOM)
    tally = mark_school(handed_in, quiet, ONE_ROOM, new_scheme="a fault in the old scheme")
    assert (tally.marked, tally.accepted, len(tally.refused)) == (2, 2, 0)
    record = read_record(handed_in, paper.id)
    now = paper_of(handed_in, "aa-01")
    entry = now.entries[CHAIN - 1]
    assert record.marks == record.out_of
    assert record.exercises[CHAIN - 1].out_of == old + 1
    assert record.scheme == now.scheme != paper.scheme
    assert (entry.version, entry.accepted.version) == (WAS, NOW)
    assert [e.numbers for e in now.entries] == [e.numbers for e in paper.entries]
    part = f"{CHAIN}b"
    most = record.part_marks[part]
    done = pitside(
        "change", handed_in.folder, "aa-01", part, "0.5", "--kind", "appeal", "--reason", "the working is right"
    )
    assert done.exit_code == 0, done.output
    told = trail(handed_in, "aa-01")
    steps = [line for line in told if "log line" in line]
    assert [re.sub(r".*\(log line \d+\): ", "", line).split(",")[0].split(":")[0] for line in steps] == [
        "file refused",
        "new mark scheme accepted",
        "marked",
        f"part {part} changed from {most:g} to 0.5",
    ]
    text = "\n".join(told)
    scheme = paper.entries[CHAIN - 1].scheme[:8]
    assert (
        f"{CHAINED} version {WAS} (scheme {scheme}) to {NOW} ({entry.accepted.digest[:8]}); a fault in the old" in text
    )
    assert f"issued, as the register has it: {CHAINED} version {WAS} (scheme {scheme})" in text
    assert all(re.search(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d UTC, \S+ \(log", line) for line in steps)
    final = read_record(handed_in, paper.id)
    assert told[-1] == f"  now: {final.marks:g} of {final.out_of:g} marks"
    assert "BEWARE" not in text
    check_log(handed_in)
    report(handed_in)
    assert (
        f"{CHAINED}: marked by the mark scheme of version {NOW}, accepted after issue (version {WAS})"
        in (rows_of(handed_in)["aa-01"]["remarks"])
    )
    page = " ".join(page_of(handed_in, "aa-01").get_text(" ", strip=True).split())
    assert f"marked by the mark scheme of version {NOW}, with the numbers of your paper" in page
    assert f"{most:g} before, 0.5 now" in page
    assert f"accepted after it was issued with version {WAS}" in "\n".join(explain(handed_in, "aa-01", part))


def test_papers_marked_by_the_old_scheme_stand_until_the_new_is_accepted(handed_in, monkeypatch):
    mark_school(handed_in, quiet, ONE_ROOM)
    before = read_record(handed_in, paper_of(handed_in, "aa-01").id)
    upgraded(monkeypatch)
    assert mark_school(handed_in, quiet, ONE_ROOM).marked == 0
    assert read_record(handed_in, before.paper) == before
    tally = mark_school(handed_in, quiet, ONE_ROOM, new_scheme="all alike")
    assert (tally.marked, tally.accepted) == (2, 2)
    assert read_record(handed_in, before.paper).out_of == before.out_of + 1
    line = next(line for line in Log(handed_in).about(before.paper) if line["what"] == "marked again")
    assert (line["before"], line["why"]) == (before.marks, "the mark scheme is another")
    (row,) = [row for name, row in gradebook_of(handed_in).items() if name[1:] == ("aa-01", f"{CHAIN}a")]
    assert row[0] == row[3] == BANK[CHAINED].parts[0].marks.total, "the gradebook has the new maximum too"
    assert mark_school(handed_in, quiet, ONE_ROOM, new_scheme="once more").accepted == 0
    check_log(handed_in)


def test_exercise_put_back_as_it_was_can_be_accepted_again(handed_in, monkeypatch):
    paper = paper_of(handed_in, "aa-01")
    with monkeypatch.context() as patch:
        upgraded(patch)
        mark_school(handed_in, quiet, ONE_ROOM, new_scheme="better")
    assert f"has changed since it was accepted (version {NOW} then, {WAS} now)" in report(handed_in)["aa-01"].remarks[0]
    assert mark_school(handed_in, quiet, ONE_ROOM, new_scheme="back again").accepted == 2
    assert paper_of(handed_in, "aa-01") == paper
    assert read_record(handed_in, paper.id).scheme == paper.scheme
    assert events(handed_in).count("new mark scheme accepted") == 4
    check_log(handed_in)


def _other_number(exercise):
    numbers = [dataclasses.replace(n, name="other_name") if n is exercise.numbers[-1] else n for n in exercise.numbers]
    return dataclasses.replace(exercise, version=exercise.version + 1, numbers=tuple(numbers), parts=exercise.parts[:1])


def _renamed(exercise):
    first = next(number for number in exercise.numbers if isinstance(number, Number))
    more = dataclasses.replace(first, name="one_more_number")
    return dataclasses.replace(exercise, version=exercise.version + 1, numbers=(*exercise.numbers, more))


def _options_turned(exercise):
    parts = [
        dataclasses.replace(part, options=part.options[::-1]) if isinstance(part, Choice) else part
        for part in exercise.parts
    ]
    return dataclasses.replace(exercise, version=exercise.version + 1, parts=tuple(parts))


UNFIT = {
    "one number more": (CHAINED, _renamed, "it draws other numbers than the paper has"),
    "numbers now unsound": (
        CHAINED,
        lambda exercise: dataclasses.replace(exercise, version=exercise.version + 1, valid=lambda n: False),
        "calls these unsound",
    ),
    "a part less": (
        CHAINED,
        lambda exercise: dataclasses.replace(exercise, version=exercise.version + 1, parts=exercise.parts[:-1]),
        f"it asks other things than the paper did ({BANK[CHAINED].parts[-1].key})",
    ),
    "other letters": (WITH_CHOICE, _options_turned, "it asks other things than the paper did (b)"),
}


@pytest.mark.parametrize("case", UNFIT)
def test_scheme_that_does_not_fit_the_paper_is_refused_even_with_consent(handed_in, monkeypatch, case):
    name, change, line = UNFIT[case]
    monkeypatch.setitem(BANK, name, change(BANK[name]))
    register = handed_in.register_file.read_bytes()
    tally = mark_school(handed_in, quiet, ONE_ROOM, new_scheme="to see")
    assert (tally.marked, tally.accepted, len(tally.refused)) == (0, 0, 2)
    for refusal in tally.refused:
        assert f"today's mark scheme of {name} cannot be taken: " in refusal.reason
        assert line in refusal.reason
    assert handed_in.register_file.read_bytes() == register
    report(handed_in)


def test_number_names_that_changed_under_the_same_version_are_seen_all_the_same(issued_school, monkeypatch):
    """Nobody raised the version: the digest cannot be worked out, and the paper is refused in one clear line."""
    monkeypatch.setitem(BANK, CHAINED, dataclasses.replace(_renamed(BANK[CHAINED]), version=WAS))
    with pytest.raises(GraderError, match="has changed since it was issued"):
        paper_of(issued_school, "aa-01").variants()


@pytest.mark.parametrize("victim", ["log", "register"])
def test_consent_killed_half_way_is_completed_by_the_same_command(handed_in, monkeypatch, victim):
    class Killed(BaseException):
        pass

    def dies(*_, **__):
        raise Killed

    upgraded(monkeypatch)
    real = Log.write
    with monkeypatch.context() as patch:
        if victim == "register":
            patch.setattr(Register, "accept", dies)
        else:
            calls = []
            patch.setattr(Log, "write", lambda *a, **n: dies() if calls else calls.append(1) or real(*a, **n))
        with pytest.raises(Killed):
            mark_school(handed_in, quiet, ONE_ROOM, new_scheme="better")
    assert not paper_of(handed_in, "aa-01").entries[CHAIN - 1].accepted
    if victim == "register":
        assert any(f"is marked by version {WAS}" in fault for fault in faults_of(handed_in))
    tally = mark_school(handed_in, quiet, ONE_ROOM, new_scheme="better")
    assert (tally.marked, tally.accepted) == (2, 2)
    assert sorted(events(handed_in)) == ["marked"] * 2 + ["new mark scheme accepted"] * 2
    check_log(handed_in)


def faults_of(school: School) -> list[str]:
    return [fault.says for fault in read_books(school).faults]


def test_command_needs_a_reason_and_says_how_many(handed_in, monkeypatch):
    upgraded(monkeypatch)
    refused = pitside("mark", handed_in.folder, "--new-scheme")
    assert (refused.exit_code, '--new-scheme --reason "..."' in refused.output) == (2, True)
    done = pitside(
        "mark", handed_in.folder, "--new-scheme", "--reason", "better", "--workers", "1", "--allow-missing-walls"
    )
    assert done.exit_code == 0, done.output
    assert "2 scripts marked" in done.output
    assert "2 papers marked by a newer mark scheme" in done.output


def test_appeal_that_the_new_scheme_cannot_give_is_told_to_the_assessor(handed_in, monkeypatch):
    from grader.marking.changes import change_mark

    paper = paper_of(handed_in, "aa-01")
    part = f"{CHAIN}a"
    mark_school(handed_in, quiet, ONE_ROOM)
    most = read_record(handed_in, paper.id).part_marks[part]
    change_mark(handed_in, paper.id, part, most, ChangeKind.APPEAL, "stands")
    upgraded(monkeypatch, marks=0.5)
    mark_school(handed_in, quiet, ONE_ROOM, new_scheme="less for it")
    result = report(handed_in)["aa-01"]
    assert result.record.part_marks[part] < most
    assert any("which the mark scheme of today cannot give: decide again" in line for line in result.for_assessor)
    check_log(handed_in)


# Altered logs and records --------------------------------------------------------------------------------------------


def _altered(lines: list[bytes]) -> list[bytes]:
    line = json.loads(lines[2])
    return [*lines[:2], json.dumps(line | {"marks": line["marks"] + 1}).encode() + b"\n", *lines[3:]]


def _unsealed(lines: list[bytes]) -> list[bytes]:
    line = json.loads(lines[1])
    del line["seal"]
    return [lines[0], json.dumps(line).encode() + b"\n", *lines[2:]]


def _foreign_seal(line: bytes) -> bytes:
    changed = re.sub(rb'"seal": "\w', b'"seal": "\xc3\xa9', line)
    assert changed != line
    return changed


SPOILED = {
    "marks altered": (_altered, 3, "is not as it was written"),
    "who altered": (lambda lines: [lines[0].replace(b'"who": "', b'"who": "x'), *lines[1:]], 1, "not as it was"),
    "line taken out": (lambda lines: [lines[0], *lines[2:]], 2, "or a line before it is missing"),
    "first line taken out": (lambda lines: lines[1:], 1, "or a line before it is missing"),
    "lines swapped": (lambda lines: [lines[1], lines[0], *lines[2:]], 1, "is not as it was written"),
    "line twice": (lambda lines: [*lines[:2], *lines[1:]], 3, "is not as it was written"),
    "no seal": (_unsealed, 2, "is damaged"),
    "seal of other letters": (lambda lines: [lines[0], _foreign_seal(lines[1]), *lines[2:]], 2, "not as it was"),
}


@pytest.mark.parametrize("change", SPOILED)
def test_altered_log_is_caught_with_its_line(cohort, change):
    spoil, number, what = SPOILED[change]
    path = log_file(cohort)
    path.write_bytes(b"".join(spoil(path.read_bytes().splitlines(keepends=True))))
    for look in (check_log, Log, trail):
        with pytest.raises(GraderError) as caught:
            look(cohort)
        assert str(caught.value).startswith(f"{path}: line {number} ")
        assert what in str(caught.value)
        assert "backup" in str(caught.value)


def test_log_cannot_be_sealed_without_the_key(cohort, tmp_path):
    other = marked_cohort(tmp_path / "other", candidates=1, seed=2)
    log_file(cohort).write_bytes(log_file(other).read_bytes())
    with pytest.raises(GraderError, match="line 1 is not as it was written"):
        Log(cohort)


def test_line_of_the_register_is_no_line_of_the_log(cohort):
    log_file(cohort).write_bytes(cohort.register_file.read_bytes().replace(b'"paper"', b'"what"', 1))
    with pytest.raises(GraderError, match="line 1 "):
        Log(cohort)
    log_file(cohort).write_bytes(cohort.register_file.read_bytes())
    with pytest.raises(GraderError, match="line 1 "):
        Log(cohort)


def test_line_ends_that_an_editor_changed_do_no_harm(cohort):
    path = log_file(cohort)
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    check_log(cohort)


def test_reading_alone_cuts_nothing_off(cohort):
    """A command that writes may be half way through a line while another one reads."""
    files = (log_file(cohort), cohort.register_file)
    for path in files:
        path.write_bytes(path.read_bytes() + b'{"half": ')
    before = [path.read_bytes() for path in files]
    assert trail(cohort)
    check_log(cohort)
    assert explain(cohort, "c001", "2a")
    assert [path.read_bytes() for path in files] == before


def test_marks_of_somebody_who_was_forgotten_are_not_missed(cohort):
    paper = paper_of(cohort, "c002")
    log = Log(cohort)
    log.write(FORGOTTEN, candidate="c002", why="the time to keep it is over")
    record_file(cohort, paper.id).unlink()
    check_log(cohort)
    told = trail(cohort, "c002")
    assert told[-2].endswith("(log line 5): candidate forgotten: the time to keep it is over")
    assert told[-1] == "  now: no marks"
    record_file(cohort, paper_of(cohort, "c001").id).unlink()
    with pytest.raises(GraderError, match="missing, though line 1 of"):
        check_log(cohort)


@pytest.mark.parametrize("kept", [0, 1, 3, 5])
def test_log_cut_at_its_end_is_caught_by_the_records(cohort, kept):
    """Four markings, a change and another: each lost last line shows, since a record tells of it."""
    from grader.marking.changes import change_mark

    paper = paper_of(cohort, "c001").id
    change_mark(cohort, paper, "1a", 1, ChangeKind.APPEAL, "one")
    change_mark(cohort, paper, "1b", 1, ChangeKind.APPEAL, "two")
    check_log(cohort)
    lines = log_file(cohort).read_bytes().splitlines(keepends=True)
    log_file(cohort).write_bytes(b"".join(lines[:kept]))
    with pytest.raises(GraderError, match=r"tells of it; the log was cut off|not the changes of marks"):
        check_log(cohort)


def test_register_cut_at_its_end_is_caught_by_the_log(cohort):
    lines = cohort.register_file.read_bytes().splitlines(keepends=True)
    cohort.register_file.write_bytes(b"".join(lines[:-1]))
    with pytest.raises(GraderError, match=r"line 4 tells of paper day1-c004-1-\w+, which the register lacks"):
        check_log(cohort)
    assert "which the register lacks" in "\n".join(trail(cohort))


@pytest.mark.parametrize("what", ["item marks", "hand marks", "change", "deleted"])
def test_altered_record_is_caught_and_told_by_the_trail(cohort, what):
    path = record_file(cohort, paper_of(cohort, "c002").id)
    data = json.loads(path.read_text())
    exercise = data["exercises"][0]
    if what == "item marks":
        exercise["items"][-1]["marks"] = 0.25
    if what == "hand marks":
        exercise["hand"] = [{"part": "b", "marks": 1, "comment": "", "note": ""}]
    if what == "change":
        exercise["changes"] = [
            {"part": "b", "marks": 1, "before": 0, "kind": "appeal", "why": "x", "who": "x", "when": "x"}
        ]
    path.write_text(json.dumps(data))
    if what == "deleted":
        path.unlink()
    (fault,) = faults_of(cohort)
    assert fault.startswith(f"{path}: ")
    with pytest.raises(GraderError) as caught:
        check_log(cohort)
    assert str(caught.value) == fault
    assert f"  BEWARE: {fault}" in trail(cohort, "c002")
    assert "BEWARE" not in "\n".join(trail(cohort, "c001"))


def test_change_of_another_person_that_names_who_was_forgotten_is_no_fault(cohort):
    """Forgetting takes the name out of all lines and seals them anew; the marks in them still count."""
    from grader.marking.changes import change_mark

    paper = paper_of(cohort, "c001").id
    change_mark(cohort, paper, "1a", 1, ChangeKind.APPEAL, "sat beside Bo Example")
    log = Log(cohort)
    log.write(FORGOTTEN, candidate="c004", why="asked for it")
    seal, text = "log", ""
    for line in log.lines:
        body = {name: value for name, value in line.items() if name != "seal"}
        if body["what"] == "mark changed":
            body["why"] = "sat beside (forgotten)"
        seal = sealed(cohort.key, seal, body)
        text += json.dumps(body | {"seal": seal}) + "\n"
    log_file(cohort).write_text(text)
    record_file(cohort, paper_of(cohort, "c004").id).unlink()
    check_log(cohort)
    data = json.loads(record_file(cohort, paper).read_text())
    data["exercises"][0]["changes"][0]["marks"] = 2
    record_file(cohort, paper).write_text(json.dumps(data))
    with pytest.raises(GraderError, match="not the changes of marks"):
        check_log(cohort)


def test_trail_of_all_of_one_and_of_nobody(cohort):
    everything = trail(cohort)
    assert [line for line in everything if line.startswith("paper ")] == [
        f"paper {paper.id}: candidate {paper.candidate}, sitting {SITTING}"
        for paper in Register(cohort).papers.values()
    ]
    one = paper_of(cohort, "c003")
    assert trail(cohort, one.id) == trail(cohort, "C003")
    assert "\n".join(trail(cohort, "c003")) in "\n".join(everything)
    with pytest.raises(GraderError, match="no paper was issued to 'c9'; ids are"):
        trail(cohort, "c9")
    done = pitside("trail", cohort.folder, "c003")
    assert (done.exit_code, done.output.splitlines()) == (0, trail(cohort, "c003"))


def test_pack_written_again_and_marking_again_are_in_the_trail(handed_in):
    mark_school(handed_in, quiet, ONE_ROOM)
    words = ("--replace", "--candidate", "aa-01", "--reason", "stick lost")
    assert pitside("issue", handed_in.folder, *words).exit_code == 0
    mark_school(handed_in, quiet, ONE_ROOM, again="to be sure")
    hand_in(handed_in, paper_of(handed_in, "aa-03"), b"junk", "notes.txt")
    mark_school(handed_in, quiet, ONE_ROOM)
    text = "\n".join(trail(handed_in, "aa-01"))
    assert "pack written again (1 time so far): stick lost" in text
    full = read_record(handed_in, paper_of(handed_in, "aa-01").id).marks
    assert re.search(rf"marked again, .*: {full:g} of {full:g} marks \({full:g} before\); to be sure", text)
    others = "\n".join(trail(handed_in)).partition("Of no one paper")[2]
    assert "marking again begun: to be sure" in others
    assert "file refused, scripts/notes.txt: not a notebook" in others


def test_school_of_which_nothing_was_issued(tmp_path):
    school = make_school(tmp_path / "school")
    with pytest.raises(GraderError, match="no paper was issued yet"):
        trail(school)
    issue(school, school.sittings, quiet)
    assert trail(school, "aa-01")[-1] == "  now: no marks"
    check_log(school)
