"""Marks and comments in the gradebook, one database transaction a script.

The gradebook is nbgrader's, so that its hand-marking page opens our papers; its words stay in this module: what it
calls an assignment is a session, a student a candidate, a submission a script. Since it knows one submission of a
student for an assignment, each attempt at a sitting is a session of its own (:attr:`Paper.session`). It brings so much
along that it takes a second or two to load, so other modules load this one only where they open the gradebook.
"""

from __future__ import annotations

import math
import mmap
import sqlite3
import tempfile
import warnings
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path
from typing import Any
from uuid import uuid4

from alembic.script import ScriptDirectory
from sqlalchemy import and_, bindparam, insert, select, update
from sqlalchemy.exc import DatabaseError, OperationalError, SAWarning, SQLAlchemyError

from grader.papers.notebook import NOTEBOOK, grade_cell
from grader.running.checked_answers import clip
from grader.store.errors import GraderError
from grader.store.files import put_in_place
from grader.store.part_marks import HandMark, PartMark
from grader.store.register import Paper
from grader.store.school import Candidate, School

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from nbgrader import api
    from nbgrader.dbutil import ALEMBIC_DIR


class Gradebook:
    """The school's gradebook file."""

    #: What is raised where the file, not what is put into it, is at fault.
    broken = DatabaseError

    def __init__(self, book: api.Gradebook, path: Path) -> None:
        self._book, self._path = book, path
        self._sessions: dict[str, _Session] = {}

    @classmethod
    @contextmanager
    def of(cls, school: School) -> Iterator[Gradebook]:
        """Open the gradebook, made when missing.

        Raises: :class:`GraderError` if the file is no gradebook, or cannot be read or written now or later on.
        """
        path = school.records / "gradebook.db"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", SAWarning)
            try:
                if not path.exists() or not path.stat().st_size:
                    _make(path)
                book = api.Gradebook(f"sqlite:///{path}")
                try:
                    yield cls(book, path)
                finally:
                    book.close()
            except (OperationalError, sqlite3.Error) as error:
                raise GraderError(
                    f"{path}: cannot be read or written ({_line(error)}); close what has it open, and see that the "
                    "disk has room and lets files grow, then try again"
                ) from None
            except SQLAlchemyError as error:
                raise GraderError(
                    f"{path}: cannot be used as gradebook ({_line(error)}); move it away, and mark again for a new one"
                ) from None

    @contextmanager
    def written_ahead(self) -> Iterator[None]:
        """While scripts are entered, let SQLite append to a log beside the file, and put it into the file at the end.

        So a transaction is on the disk after one wait in place of four. Whoever opens the file after a kill finds it
        whole. Where the log cannot be had, for the file lies on a strange disk or is in use, all goes on without it.
        """
        if _can_be_shared(self._path.parent):
            self._keep_journal("WAL")
        try:
            yield
        finally:
            self._keep_journal("DELETE")

    def _keep_journal(self, mode: str) -> None:
        self._book.db.rollback()
        with suppress(OperationalError):
            run = self._book.db.connection().exec_driver_sql
            run("PRAGMA synchronous = FULL")
            run(f"PRAGMA journal_mode = {mode}").fetchall()
        self._book.db.rollback()

    def entered(self) -> set[tuple[str, str]]:
        """Session and candidate of each script that is in."""
        scripts = self._book.db.query(api.SubmittedAssignment).all()
        if any(script.assignment is None for script in scripts):
            raise GraderError(
                f"{self._path}: cannot be used as gradebook (it holds scripts of a paper that it does not hold); move "
                "it away, and mark again for a new one"
            )
        return {(script.assignment.name, script.student_id) for script in scripts}

    def prepare(self, paper: Paper) -> None:
        """Enter the session of a paper with its parts, if it is not there.

        Where it is, and it was accepted that the paper is marked by another scheme, the parts get that scheme's marks.
        """
        accepted = any(entry.accepted for entry in paper.entries)
        if paper.session in self._sessions and not accepted:
            return
        db = self._book.db
        session = db.query(api.Assignment).filter_by(name=paper.session).first()
        if session:
            if accepted:
                self._give_marks(session, paper)
        else:
            notebook = api.Notebook(name=NOTEBOOK, assignment=api.Assignment(name=paper.session))
            db.add(notebook)
            for number, variant in enumerate(paper.variants(), 1):
                for part in variant.exercise.parts:
                    cell = grade_cell(number, part)
                    name, points, kind = cell["grade_id"], cell["points"], cell["cell_type"]
                    db.add(api.GradeCell(name=name, notebook=notebook, max_score=points, cell_type=kind))
                    db.add(api.SolutionCell(name=name, notebook=notebook))
            db.commit()
        self._sessions[paper.session] = self._session(paper.session)

    def _session(self, name: str) -> _Session:
        """The ids of a session and its parts, which nobody changes while this is open."""
        db = self._book.db
        session = db.query(api.Assignment.id).filter_by(name=name).scalar()
        notebook = db.query(api.Notebook.id).filter_by(assignment_id=session).scalar()
        cells = db.query(api.BaseCell.__table__.c["id", "name", "type"]).filter_by(notebook_id=notebook).all()
        grades = tuple((cell.id, cell.name) for cell in cells if cell.type == "GradeCell")
        return _Session(session, notebook, grades, tuple((c.id, c.name) for c in cells if c.type == "SolutionCell"))

    def _give_marks(self, session: api.Assignment, paper: Paper) -> None:
        most = {
            cell["grade_id"]: cell["points"]
            for number, variant in enumerate(paper.variants(), 1)
            for cell in (grade_cell(number, part) for part in variant.exercise.parts)
        }
        for cell in session.notebooks[0].grade_cells:
            cell.max_score = most[cell.name]
        self._book.db.commit()

    def enter(
        self,
        paper: Paper,
        candidate: Candidate | None,
        parts: Mapping[str, PartMark],
        hand: Mapping[str, HandMark] | None = None,
    ) -> None:
        """Put a script's marks and comments in, in one transaction; hand marks that are there stay.

        ``hand`` are hand marks on record, put back where the gradebook has none since it was lost.
        """
        db, session = self._book.db, self._sessions[paper.session]
        # Plain statements: object by object this would take most of the time of marking a script.
        run = db.connection().execute
        script = run(_SCRIPT, {"session": session.id, "candidate": paper.candidate}).scalar()
        if script is None:
            self._enter_new(run, session, paper.candidate, candidate, parts, hand or {})
        else:
            marks = ((cell, parts[name]) for cell, name in session.grades)
            run(_NEW_MARKS, [{"script": script, "cell": cell, **_scored(mark)} for cell, mark in marks])
            comments = [
                {"script": script, "cell": cell, "comment": parts[name].comment} for cell, name in session.comments
            ]
            run(_NEW_COMMENTS, comments)
        db.commit()

    def give(self, paper: Paper, hand: Mapping[str, HandMark]) -> None:
        """Put hand marks of a script that is in, by part, in place of those that the parts have, in one transaction."""
        db = self._book.db
        sitting = db.query(api.Assignment.id).filter_by(name=paper.session).scalar()
        found = db.query(api.SubmittedAssignment).filter_by(assignment_id=sitting, student_id=paper.candidate).one()
        script = found.notebooks[0]
        for grade in script.grades:
            if given := hand.get(grade.cell.name):
                grade.manual_score, grade.extra_credit, grade.needs_manual_grade = given.marks, None, False
        for comment in script.comments:
            if given := hand.get(comment.cell.name):
                comment.manual_comment = given.comment or None
        db.commit()

    def undo(self) -> None:
        """Forget what of a script is not wholly entered."""
        self._book.db.rollback()

    def hand_marks(self) -> dict[tuple[str, str], dict[str, HandMark]]:
        """All that was marked or commented by hand: by session and candidate, then by part.

        Marks are kept within what the part can give, and extra credit does not count: a paper has the marks that are
        printed on it. Of a part that is not written nothing counts: a script that ran in the page could have put it
        there, and :func:`grader.marking.changes.change_mark` asks for a reason. The note says so.
        """
        found: dict[tuple[str, str], dict[str, HandMark]] = {}
        strange: dict[tuple[str, str], dict[str, list[str]]] = {}
        cells = self._book.db.query(api.GradeCell).filter_by(cell_type="markdown").all()
        written = {(cell.notebook_id, cell.name) for cell in cells}
        by_hand = api.Grade.manual_score.is_not(None) | (api.Grade.extra_credit != 0)
        grades = self._book.db.query(api.Grade).filter(by_hand).all()
        comments = self._book.db.query(api.Comment).filter(api.Comment.manual_comment.is_not(None)).all()
        for row in (*grades, *comments):
            submission, part = row.notebook.assignment, row.cell.name
            script = (submission.assignment.name, submission.student_id)
            if (row.cell.notebook_id, part) not in written:
                strange.setdefault(script, {}).setdefault(part, []).extend(_given(row))
                continue
            parts = found.setdefault(script, {})
            before = parts.get(part, HandMark(part, None, ""))
            if isinstance(row, api.Grade):
                marks, note = _bounded(row.manual_score, row.extra_credit, row.cell.max_score)
                parts[part] = HandMark(part, marks, before.comment, note)
            elif comment := str(row.manual_comment).strip():
                parts[part] = replace(before, comment=comment)
        for script, given in strange.items():
            for part, what in given.items():
                if what:
                    found.setdefault(script, {})[part] = HandMark(part, None, "", _not_taken(what))
        return found

    def rows_of(self, candidate: str) -> int:
        """How many scripts of a candidate are in."""
        return int(self._book.db.query(api.SubmittedAssignment).filter_by(student_id=candidate).count())

    def marks_of(self, candidate: str) -> Iterator[tuple[str, str, float | None, float | None, str, str]]:
        """What is in about a candidate: session, part, marks by the scheme and by hand, comments likewise."""
        for script in self._book.db.query(api.SubmittedAssignment).filter_by(student_id=candidate).all():
            for notebook in script.notebooks:
                comments = {one.cell.name: one for one in notebook.comments}
                for grade in notebook.grades:
                    said = comments.get(grade.cell.name)
                    texts = (said.auto_comment or "", said.manual_comment or "") if said else ("", "")
                    yield script.assignment.name, grade.cell.name, grade.auto_score, grade.manual_score, *texts

    def forget(self, candidate: str) -> None:
        """Delete a candidate with all scripts, and write the file anew: no page of it keeps what was deleted."""
        if self._book.db.query(api.Student.id).filter_by(id=candidate).scalar():
            self._book.remove_student(candidate)
        self._book.db.commit()
        # Also when nothing was there: a run may have been killed between the two.
        with closing(sqlite3.connect(self._path)) as file:
            file.execute("PRAGMA secure_delete = ON")
            file.execute("VACUUM")

    def _enter_new(
        self,
        run: Callable[..., Any],
        session: _Session,
        student: str,
        candidate: Candidate | None,
        parts: Mapping[str, PartMark],
        hand: Mapping[str, HandMark],
    ) -> None:
        if not run(_STUDENT, {"candidate": student}).scalar():
            run(_STUDENTS, {"id": student, "last_name": candidate.name if candidate else ""})
        # Ids of one script that lie beside each other: scattered ones would touch many more pages of the file.
        names = _ids()
        submission, script = next(names), next(names)
        run(_SUBMISSIONS, {"id": submission, "assignment_id": session.id, "student_id": student})
        run(_SCRIPTS, {"id": script, "notebook_id": session.notebook, "assignment_id": submission, "flagged": False})
        grades, comments = [], []
        for cell, name in session.grades:
            manual = hand[name].marks if name in hand else None
            waits = parts[name].pending and manual is None
            auto = _scored(parts[name])["marks"]
            grades.append(
                {"id": next(names), "notebook_id": script, "cell_id": cell, "auto_score": auto, "manual_score": manual,
                 "needs_manual_grade": waits}
            )  # fmt: skip
        for cell, name in session.comments:
            said = (hand[name].comment or None) if name in hand else None
            comments.append(
                {"id": next(names), "notebook_id": script, "cell_id": cell,
                 "auto_comment": parts[name].comment, "manual_comment": said}
            )  # fmt: skip
        run(_GRADES, grades)
        run(_COMMENTS, comments)


@dataclass(frozen=True)
class _Session:
    """A session in the database: its id, that of its one notebook, and id and name of each part's two cells."""

    id: str
    notebook: str
    grades: tuple[tuple[str, str], ...]
    comments: tuple[tuple[str, str], ...]


_STUDENTS = insert(api.Student.__table__)
_SUBMISSIONS = insert(api.SubmittedAssignment.__table__)
_SCRIPTS = insert(api.SubmittedNotebook.__table__)
_GRADES = insert(api.Grade.__table__)
_COMMENTS = insert(api.Comment.__table__)
_STUDENT = select(api.Student.id).where(api.Student.id == bindparam("candidate"))
_SCRIPT = (
    select(api.SubmittedNotebook.__table__.c.id)
    .join(
        api.SubmittedAssignment.__table__,
        api.SubmittedAssignment.__table__.c.id == api.SubmittedNotebook.__table__.c.assignment_id,
    )
    .where(
        api.SubmittedAssignment.__table__.c.assignment_id == bindparam("session"),
        api.SubmittedAssignment.__table__.c.student_id == bindparam("candidate"),
    )
)
_OF_GRADE, _OF_COMMENT = api.Grade.__table__.c, api.Comment.__table__.c
_NEW_MARKS = (
    update(api.Grade.__table__)
    .where(_OF_GRADE.notebook_id == bindparam("script"), _OF_GRADE.cell_id == bindparam("cell"))
    .values(
        auto_score=bindparam("marks"), needs_manual_grade=and_(bindparam("pending"), _OF_GRADE.manual_score.is_(None))
    )
)
_NEW_COMMENTS = (
    update(api.Comment.__table__)
    .where(_OF_COMMENT.notebook_id == bindparam("script"), _OF_COMMENT.cell_id == bindparam("cell"))
    .values(auto_comment=bindparam("comment"))
)


def _can_be_shared(folder: Path) -> bool:
    """Whether processes can share a part of a file there, as SQLite's log needs: on some network drives they cannot."""
    with suppress(OSError, ValueError), tempfile.TemporaryFile(dir=folder) as file:
        file.truncate(mmap.PAGESIZE)
        with mmap.mmap(file.fileno(), mmap.PAGESIZE):
            return True
    return False


def _ids() -> Iterator[str]:
    """New ids, as unlike any other as the database's own, which go up by one."""
    first = uuid4().int
    return (f"{first + number:032x}" for number in count())


def _scored(mark: PartMark) -> dict[str, Any]:
    """What the gradebook has of a part's marks: none while it waits for a person."""
    return {"marks": None if mark.pending else mark.marks, "pending": mark.pending}


def _given(row: api.Grade | api.Comment) -> list[str]:
    """What a row holds that somebody gave by hand, in words."""
    if isinstance(row, api.Comment):
        return ["a comment"] if str(row.manual_comment).strip() else []
    marks = [] if row.manual_score is None else [f"marks ({clip(str(row.manual_score))})"]
    return marks + ([f"extra credit ({clip(str(row.extra_credit))})"] if row.extra_credit else [])


def _not_taken(what: list[str]) -> str:
    return (
        f"{' and '.join(what)} given by hand {'does' if what == ['a comment'] else 'do'} not count, since no words are "
        "asked there and the mark scheme marks it. Clear the boxes of that part on the hand-marking page; to change "
        "its marks, with a reason on record: pitside change."
    )


def _number(given: object) -> float | None:
    """The number in a column that holds one as a rule: the database takes any text that is written there."""
    try:
        number = float(str(given))
    except ValueError:
        return None
    return None if math.isnan(number) else number


def _bounded(given: object, extra: object, most: float) -> tuple[float | None, str]:
    """The hand marks that count for a part, and a note on what does not."""
    marks, notes = None, []
    number = _number(given)
    if number is not None:
        marks = min(max(number, 0.0), most)
        if marks != number:
            notes.append(
                f"{number:g} marks were given by hand, but it has 0 to {most:g}; {marks:g} count. "
                "Mend it on the hand-marking page, then mark again."
            )
    elif given is not None:
        notes.append(
            f'"{clip(str(given))}" was given by hand, which is no number of marks. Give the marks again on the '
            "hand-marking page, then mark again."
        )
    if extra:
        credit = _number(extra)
        notes.append(
            f"extra credit of {clip(str(extra)) if credit is None else f'{credit:g}'} was given by hand and does not "
            "count, since a part has the marks that the paper prints. Put all its marks into the score on the "
            "hand-marking page, then mark again."
        )
    return marks, " ".join(notes)


def _make(path: Path) -> None:
    """A new gradebook, put in place whole: one that was half made would be taken for an old one."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part")
    part.unlink(missing_ok=True)
    # The library would ask a program of its migration tool for this line, which takes seconds and must be on the path.
    version = ScriptDirectory(ALEMBIC_DIR).get_current_head()
    with closing(sqlite3.connect(part)) as new, new:
        new.execute("CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL)")
        new.execute("INSERT INTO alembic_version (version_num) VALUES (?)", (version,))
    api.Gradebook(f"sqlite:///{part}").close()
    put_in_place(part, path)


def _line(error: Exception) -> str:
    return str(error).splitlines()[0][:120]
