"""Change a part's marks after marking: on an appeal, by moderation, or to correct a fault. Old and new are kept.

The line in the log is on the disk before the record is: a run that is killed in between has changed the mark, and
whatever reads the record takes what it lacks from the log.
"""

from __future__ import annotations

import math

from grader.marking.books import check_record
from grader.marking.record import Record, part_of
from grader.marking.records import read_record, record_file
from grader.store.errors import GraderError
from grader.store.files import write_json
from grader.store.log import CHANGED, Log
from grader.store.part_marks import ChangeKind, item_name
from grader.store.register import Register
from grader.store.school import School


def change_mark(
    school: School, paper_id: str, part: str, marks: float, kind: ChangeKind, why: str, log: Log | None = None
) -> Record:
    """Give a part, named as on the paper (``2b``), other marks than it has; gives the record with the change.

    The change is written to the log, with the marks that stood before, the reason, who and when; then to the record.
    The very change that a part had last is not written twice. Marks that are what they were may be given too: then
    what is on record is that they were looked at and stand.

    ``log`` is the school's, where it is open already. The caller holds the school's folder.

    Raises: :class:`GraderError` where the paper is not marked, its marks are not those that the log tells of, it has no
    such part or that part waits for hand marks, the marks do not lie from nought to the part's maximum, or no reason is
    given; then nothing is changed.
    """
    why = " ".join(why.split())
    if not why:
        raise GraderError(f"paper {paper_id}, part {part}: say why its marks are changed; the reason goes on record")
    log = log or Log(school)
    record = read_record(school, paper_id)
    if record is None:
        known = paper_id in Register(school).papers
        raise GraderError(
            f"{school.records}: paper {paper_id} is not marked; run: pitside mark {school.here}"
            if known
            else f"{school.register_file}: no paper {paper_id!r} was issued"
        )
    check_record(school, log, paper_id, record)
    record = record.with_changes(log.changes(paper_id))
    before = _marks_of(record, part)
    most = most_marks(record)[part]
    if not math.isfinite(marks) or not 0 <= marks <= most:
        raise GraderError(f"paper {paper_id}, part {part}: {marks:g} is not from 0 to {most:g}, the marks that it has")
    latest = next((change for name, change in reversed(record.changes) if name == part), None)
    if latest is None or (latest.marks, latest.kind, latest.why) != (marks, kind, why):
        about = {"script": record.script, "scheme": record.scheme}
        log.write(
            CHANGED, paper=paper_id, part=part, marks=float(marks), before=before, kind=str(kind), why=why, **about
        )
    record = record.with_changes(log.changes(paper_id))
    if record != read_record(school, paper_id):
        write_json(record_file(school, paper_id), record.to_json())
    return record


def most_marks(record: Record) -> dict[str, float]:
    """The marks that each part can give, by its name in the paper."""
    most: dict[str, float] = {}
    for number, exercise in enumerate(record.exercises, 1):
        for item in exercise.items:
            name = item_name(number, part_of(item))
            most[name] = most.get(name, 0.0) + item.out_of
    return most


def _marks_of(record: Record, part: str) -> float:
    """The marks that a part has until now. Raises: :class:`GraderError` if there is no such part, or it has none."""
    parts = record.part_marks
    whole = part.partition(".")[0]
    if part not in parts and whole in parts:
        raise GraderError(f"paper {record.paper}: {part} is a cell of a table; change the marks of the part, {whole}")
    if part not in parts:
        raise GraderError(f"paper {record.paper}: no part {part!r}; there are: {', '.join(parts)}")
    marks = parts[part]
    if marks is None:
        raise GraderError(
            f"paper {record.paper}: part {part} waits for hand marks, so there are none to change; "
            "give them first (in the school's folder: pitside written)"
        )
    return marks
