"""The gradebook, read back with nbgrader's own gradebook class: an independent reader of what was entered."""

from __future__ import annotations

import os
import re
import shutil
import signal
import sqlite3
import warnings
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import event, text

from grader.marking import gradebook as gradebook_module
from grader.marking.gradebook import Gradebook, HandMark, PartMark
from grader.marking.marking import mark_school
from grader.papers.issue import issue
from grader.store.errors import GraderError
from grader.store.register import Paper
from grader.store.school import Candidate, School, open_school
from tests.grader.schools import (
    CHAINED,
    EVERY_KIND,
    ONE_ROOM,
    ROSTER,
    SITTING,
    gradebook_of,
    hand_in,
    make_school,
    paper_of,
    quiet,
    right_answers,
    script_with,
)

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import nbgrader
    from nbgrader import api


@pytest.fixture(scope="module")
def empty_book(tmp_path_factory) -> Path:
    """A new gradebook, made once."""
    school = make_school(tmp_path_factory.mktemp("book") / "school")
    with Gradebook.of(school):
        pass
    return school.records / "gradebook.db"


@pytest.fixture
def booked(school, empty_book) -> School:
    """The issued school with an empty gradebook."""
    shutil.copy(empty_book, school.records / "gradebook.db")
    return school


def parts_of(paper: Paper) -> list[str]:
    return [f"{n}{part.key}" for n, variant in enumerate(paper.variants(), 1) for part in variant.exercise.parts]


def marks_for(paper: Paper, times: float = 0.5) -> dict[str, PartMark]:
    return {name: PartMark(times * number, f"comment on {name} <b>") for number, name in enumerate(parts_of(paper), 1)}


def enter(school: School, paper: Paper, marks: dict[str, PartMark]) -> None:
    candidate = next((c for c in school.roster if c.id == paper.candidate), None)
    with Gradebook.of(school) as gradebook:
        gradebook.prepare(paper)
        gradebook.enter(paper, candidate, marks)


def test_marks_comments_and_maxima_are_as_nbgrader_reads_them(booked):
    paper = paper_of(booked, "aa-01")
    enter(booked, paper, marks_for(paper))
    maxima = {
        f"{number}{part.key}": sum(item.marks.total for item in part.items())
        for number, variant in enumerate(paper.variants(), 1)
        for part in variant.exercise.parts
    }
    assert gradebook_of(booked) == {
        (SITTING, "aa-01", name): (mark.marks, None, mark.marks, maxima[name], mark.comment, mark.comment)
        for name, mark in marks_for(paper).items()
    }
    with api.Gradebook(f"sqlite:///{booked.records / 'gradebook.db'}") as book:
        assert book.find_assignment(SITTING).max_score == sum(v.exercise.marks for v in paper.variants())
        assert book.find_submission(SITTING, "aa-01").score == sum(mark.marks for mark in marks_for(paper).values())
        assert book.find_student("aa-01").last_name == "Ingrid Sølvberg"
        assert [assignment.name for assignment in book.assignments] == [SITTING]


def test_entering_twice_is_entering_once(booked):
    paper = paper_of(booked, "aa-01")
    enter(booked, paper, marks_for(paper))
    once = gradebook_of(booked)
    enter(booked, paper, marks_for(paper))
    assert gradebook_of(booked) == once


def test_rows_are_those_that_nbgraders_own_calls_make(booked, tmp_path):
    """The same script entered by us in plain statements, and by nbgrader's own calls into a book of its own."""
    paper = paper_of(booked, "aa-01")
    marks = marks_for(paper)
    waits, written = parts_of(paper)[0], parts_of(paper)[1]
    marks |= {name: PartMark(0, "words", pending=True) for name in (waits, written)}
    hand = {written: HandMark(written, 1.5, "well said"), parts_of(paper)[2]: HandMark(parts_of(paper)[2], None, "see")}
    candidate = next(c for c in booked.roster if c.id == paper.candidate)
    with Gradebook.of(booked) as gradebook:
        gradebook.prepare(paper)
    other = tmp_path / "other.db"
    shutil.copy(booked.records / "gradebook.db", other)
    with Gradebook.of(booked) as gradebook:
        gradebook.prepare(paper)
        gradebook.enter(paper, candidate, marks, hand)
    with warnings.catch_warnings(), api.Gradebook(f"sqlite:///{other}") as book:
        warnings.simplefilter("ignore")
        book.add_student("aa-01", last_name=candidate.name)
        book.add_submission(SITTING, "aa-01")
        for name, mark in marks.items():
            grade = book.find_grade(name, "paper", SITTING, "aa-01")
            grade.auto_score = None if mark.pending else mark.marks
            grade.manual_score = hand[name].marks if name in hand else None
            grade.needs_manual_grade = mark.pending and grade.manual_score is None
            comment = book.find_comment(name, "paper", SITTING, "aa-01")
            comment.auto_comment = mark.comment
            comment.manual_comment = hand[name].comment if name in hand else None
        book.db.commit()
    ours, theirs = rows_in(booked.records / "gradebook.db"), rows_in(other)
    assert ours == theirs
    assert len(ours) > 3 * len(marks)
    # Marked again, to other marks: what was given by hand stays.
    again = marks_for(paper, times=0.25) | {waits: marks[waits], written: marks[written]}
    with Gradebook.of(booked) as gradebook:
        gradebook.prepare(paper)
        gradebook.enter(paper, candidate, again)
    with warnings.catch_warnings(), api.Gradebook(f"sqlite:///{other}") as book:
        warnings.simplefilter("ignore")
        for name, mark in again.items():
            grade = book.find_grade(name, "paper", SITTING, "aa-01")
            grade.auto_score = None if mark.pending else mark.marks
            book.find_comment(name, "paper", SITTING, "aa-01").auto_comment = mark.comment
        book.db.commit()
    assert rows_in(booked.records / "gradebook.db") == rows_in(other)
    assert rows_in(other) != theirs


def rows_in(path: Path) -> list[tuple]:
    """All rows of all tables, the ids that are made at random replaced by what they name."""
    with closing(sqlite3.connect(path)) as book:
        tables = [name for (name,) in book.execute("select name from sqlite_master where type = 'table'")]
        cells = dict(book.execute("select id, type || ' ' || name from base_cell"))
        found = []
        for table in tables:
            columns = [column[1] for column in book.execute(f"pragma table_info({table})")]
            for row in book.execute(f"select * from {table}"):
                named = dict(zip(columns, row, strict=True))
                about = cells.get(named.get("cell_id"), "")
                plain = {c: v for c, v in named.items() if not (isinstance(v, str) and re.fullmatch("[0-9a-f]{32}", v))}
                found.append((table, about, sorted(plain.items())))
    return sorted(found, key=repr)


def test_a_script_is_entered_in_few_statements_and_one_transaction(booked):
    """Whatever the number of parts: student, submission, script, marks, comments, each told once."""
    paper = paper_of(booked, "aa-01")
    said: list[str] = []
    with Gradebook.of(booked) as gradebook:
        gradebook.prepare(paper)
        event.listen(gradebook._book.engine, "before_cursor_execute", lambda *args: said.append(args[2]))
        event.listen(gradebook._book.engine, "commit", lambda *_: said.append("COMMIT"))
        gradebook.enter(paper, None, marks_for(paper))
    assert len(said) <= 8, said
    assert said.count("COMMIT") == 1
    assert said[-1] == "COMMIT"


def test_entering_again_puts_new_marks_in_place_of_the_old(booked):
    paper = paper_of(booked, "aa-01")
    enter(booked, paper, marks_for(paper))
    enter(booked, paper, marks_for(paper, times=0.25))
    assert {name: row[0] for (_, _, name), row in gradebook_of(booked).items()} == {
        name: mark.marks for name, mark in marks_for(paper, times=0.25).items()
    }


def test_candidates_are_kept_apart(booked):
    one, two = paper_of(booked, "aa-01"), paper_of(booked, "aa-02")
    enter(booked, one, marks_for(one))
    alone = gradebook_of(booked)
    enter(booked, two, marks_for(two, times=0.25))
    both = gradebook_of(booked)
    assert {key: row for key, row in both.items() if key[1] == "aa-01"} == alone
    assert {key[1] for key in both} == {"aa-01", "aa-02"}


def test_hand_marks_survive_marking_again(booked):
    paper = paper_of(booked, "aa-01")
    enter(booked, paper, marks_for(paper))
    part = parts_of(paper)[1]
    with api.Gradebook(f"sqlite:///{booked.records / 'gradebook.db'}") as book:
        grade = book.find_grade(part, "paper", SITTING, "aa-01")
        grade.manual_score, grade.extra_credit = 0.75, 0.25
        book.find_comment(part, "paper", SITTING, "aa-01").manual_comment = "seen by the assessor"
        book.db.commit()
    enter(booked, paper, marks_for(paper, times=0.25))
    auto, manual, score, _, auto_comment, comment = gradebook_of(booked)[SITTING, "aa-01", part]
    assert (auto, manual, score) == (0.5, 0.75, 1.0)
    assert (auto_comment, comment) == (marks_for(paper)[part].comment, "seen by the assessor")


def test_candidate_who_left_the_roster_is_entered_by_id(booked):
    paper = paper_of(booked, "aa-01")
    (booked.folder / "roster.csv").write_text("\n".join(["id,name,employer,crew,units", *ROSTER[1:]]))
    enter(open_school(booked.folder), paper, marks_for(paper))
    assert {key[1] for key in gradebook_of(booked)} == {"aa-01"}


def test_gradebook_knows_what_is_entered(booked):
    paper = paper_of(booked, "aa-03")
    with Gradebook.of(booked) as gradebook:
        assert gradebook.entered() == set()
    enter(booked, paper, marks_for(paper))
    with Gradebook.of(booked) as gradebook:
        assert gradebook.entered() == {(SITTING, "aa-03")}


# Made whole -----------------------------------------------------------------------------------------------------------


def test_new_gradebook_names_the_last_of_nbgraders_migrations(empty_book):
    """nbgrader's migrations start from the version that a gradebook names: here the last one, found by reading them."""
    folder = Path(nbgrader.__file__).parent / "alembic" / "versions"
    texts = [path.read_text() for path in folder.glob("*.py")]
    made = {found[1] for text in texts if (found := re.search(r"^revision = '(\w+)'", text, re.MULTILINE))}
    followed = {found[1] for text in texts if (found := re.search(r"^down_revision = '(\w+)'", text, re.MULTILINE))}
    (last,) = made - followed
    with sqlite3.connect(empty_book) as book:
        assert book.execute("select version_num from alembic_version").fetchall() == [(last,)]
    assert not empty_book.with_suffix(".part").exists()


def test_gradebook_is_never_seen_half_made(school, monkeypatch):
    """A process is killed outright in the middle of making it; the next one makes it whole."""
    child = os.fork()
    if child == 0:
        try:
            monkeypatch.setattr(api.Base.metadata, "create_all", lambda **_: os.kill(os.getpid(), signal.SIGKILL))
            with Gradebook.of(school):
                pass
        finally:
            os._exit(0)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status)
    assert [path.name for path in school.records.glob("gradebook*")] == ["gradebook.part"]
    with Gradebook.of(school) as gradebook:
        assert gradebook.entered() == set()
    assert [path.name for path in school.records.glob("gradebook*")] == ["gradebook.db"]


def killed_while_it_enters(school: School, candidate: Candidate) -> None:
    """A process is killed outright when it has entered one script and begun with the next."""
    child = os.fork()
    if child == 0:
        try:
            with Gradebook.of(school) as gradebook, gradebook.written_ahead():
                paper = paper_of(school, candidate.id)
                gradebook.prepare(paper)
                gradebook.enter(paper, candidate, marks_for(paper))
                gradebook._book.db.execute(text("DELETE FROM student"))
                os.kill(os.getpid(), signal.SIGKILL)
        finally:
            os._exit(0)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status)


def test_what_is_entered_is_there_after_a_kill_and_what_was_begun_is_not(booked):
    candidate = booked.roster[0]
    killed_while_it_enters(booked, candidate)
    assert (booked.records / "gradebook.db-wal").stat().st_size
    with Gradebook.of(booked) as gradebook:
        assert gradebook.entered() == {(SITTING, candidate.id)}
        assert gradebook.rows_of(candidate.id) == 1
    assert [path.name for path in booked.records.glob("gradebook*")] == ["gradebook.db"]


def test_nothing_of_a_candidate_is_left_beside_the_gradebook_when_he_is_forgotten_after_a_kill(booked):
    candidate = booked.roster[0]
    killed_while_it_enters(booked, candidate)
    assert any(candidate.name.encode() in path.read_bytes() for path in booked.records.glob("gradebook*"))
    with Gradebook.of(booked) as gradebook:
        gradebook.forget(candidate.id)
    for path in booked.records.glob("gradebook*"):
        assert candidate.name.encode() not in path.read_bytes()
        assert candidate.id.encode() not in path.read_bytes()


@pytest.mark.parametrize("harm", ["no shared memory", "in use"])
def test_scripts_are_entered_without_a_log_where_it_cannot_be_had(booked, monkeypatch, harm):
    paper = paper_of(booked, "aa-01")
    if harm == "no shared memory":
        monkeypatch.setattr(gradebook_module, "_can_be_shared", lambda folder: False)
    connect = sqlite3.connect
    monkeypatch.setattr(sqlite3.dbapi2, "connect", lambda *a, **k: connect(*a, **{**k, "timeout": 0.1}))
    with Gradebook.of(booked) as gradebook:
        gradebook.prepare(paper)
        reader = connect(booked.records / "gradebook.db")
        if harm == "in use":
            reader.execute("BEGIN")
            reader.execute("SELECT * FROM student").fetchall()
        with gradebook.written_ahead():
            reader.rollback()
            assert not (booked.records / "gradebook.db-wal").exists()
            gradebook.enter(paper, None, marks_for(paper))
        reader.close()
    assert len(gradebook_of(booked)) == len(parts_of(paper))


def test_empty_file_is_no_gradebook_yet_and_no_other_program_is_needed_to_make_one(school, monkeypatch):
    (school.records / "gradebook.db").touch()
    monkeypatch.setenv("PATH", "/nowhere")
    paper = paper_of(school, "aa-01")
    enter(school, paper, marks_for(paper))
    assert len(gradebook_of(school)) == len(parts_of(paper))


def _complaint(school: School) -> str:
    with pytest.raises(GraderError) as caught, Gradebook.of(school) as gradebook:
        paper = paper_of(school, "aa-01")
        gradebook.prepare(paper)
        gradebook.enter(paper, None, marks_for(paper))
    line = str(caught.value)
    assert line.startswith(f"{school.records / 'gradebook.db'}: ")
    assert "\n" not in line
    return line


def test_file_of_another_kind_is_refused_and_left_alone(school):
    data = b"marks: see paper\n" * 300
    (school.records / "gradebook.db").write_bytes(data)
    assert "cannot be used as gradebook" in _complaint(school)
    assert (school.records / "gradebook.db").read_bytes() == data


def test_gradebook_that_another_program_writes_into_is_one_clear_line(booked, monkeypatch):
    connect = sqlite3.connect
    monkeypatch.setattr(sqlite3.dbapi2, "connect", lambda *a, **k: connect(*a, **{**k, "timeout": 0.1}))
    holder = connect(booked.records / "gradebook.db")
    holder.execute("BEGIN IMMEDIATE")  # others may read, none may write
    try:
        line = _complaint(booked)
    finally:
        holder.rollback()
        holder.close()
    assert "cannot be read or written" in line
    assert "close what has it open" in line
    assert line.endswith("then try again")


def test_lost_gradebook_is_filled_again_from_the_records(tmp_path, empty_book, warm_room):
    school = make_school(tmp_path / "school", roster=ROSTER[:2])
    issue(school, school.sittings, quiet)
    shutil.copy(empty_book, school.records / "gradebook.db")
    for candidate in school.roster:
        paper = paper_of(school, candidate.id)
        hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    assert mark_school(school, quiet, ONE_ROOM).marked == 2
    before = gradebook_of(school)
    assert {key[1] for key in before} == {"aa-01", "aa-02"}
    shutil.copy(empty_book, school.records / "gradebook.db")
    tally = mark_school(school, quiet, ONE_ROOM)
    assert (tally.marked, tally.already) == (0, 2)
    assert gradebook_of(school) == before


def test_parts_in_the_gradebook_are_those_of_the_paper(booked):
    paper = paper_of(booked, "aa-02")
    enter(booked, paper, marks_for(paper))
    assert sorted(name for _, _, name in gradebook_of(booked)) == sorted(parts_of(paper))
    assert f"{EVERY_KIND.index(CHAINED) + 1}a" in parts_of(paper)
