"""The books of a school, read once and held against each other: register, log, and the record of each paper.

Whoever can write into the folder of the records can write marks; but not the log's lines, which are sealed with the
school key. So whatever signs marks, or shows marks that others rely on, takes them from here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from exercises.model.answers import Given
from exercises.tasks import TASKS
from grader.marking.record import Record, by_hand_in
from grader.marking.records import read_record, read_refusals, record_file, refusals_file
from grader.observed.observations import Observations
from grader.returned.scripts import Refusal
from grader.store.errors import GraderError
from grader.store.ledger import TAKEN_OUT
from grader.store.log import FORGETTING, FORGOTTEN, HAND_MARKS, NEW_SCHEME, REFUSED, Log
from grader.store.part_marks import Change, item_name
from grader.store.register import Entry, Paper, Register, Scheme
from grader.store.school import School


@dataclass(frozen=True)
class Fault:
    """In what register, log and records, each of them whole, do not say the same, and how to mend it.

    ``forges`` is false where the results are right in spite of it: a record that is not there or cannot be read is told
    of in place of its marks, and a change that a record lacks is taken from the log.
    """

    says: str
    forges: bool = True


@dataclass(frozen=True)
class Books:
    """What lies there, and what is wrong with it.

    ``records`` holds those that can be read, by paper; ``lost`` what to say of each other that the log tells of.
    """

    school: School
    register: Register
    log: Log
    records: dict[str, Record]
    lost: dict[str, str]
    refusals: tuple[Refusal, ...]
    faults: tuple[Fault, ...]

    def must_hold(self) -> Books:
        """See that no marks are forged. Raises: :class:`GraderError` of the first fault, saying what to do."""
        forged = [fault.says for fault in self.faults if fault.forges]
        if forged:
            more = f" (and {len(forged) - 1} more like it)" if len(forged) > 1 else ""
            raise GraderError(
                f"{forged[0]}{more}. Nothing was signed or shown; to see all that is wrong: "
                f"pitside verify {self.school.here}"
            )
        return self


def read_books(school: School) -> Books:
    """Read register, log and records. Raises: :class:`GraderError` where register or log is not as it was written."""
    register, log = Register(school, only_read=True), Log(school, only_read=True)
    observations = Observations(school, only_read=True)
    refusals = tuple(read_refusals(school))
    records: dict[str, Record] = {}
    lost: dict[str, str] = {}
    faults = list(strange_papers(register, log))
    for paper in register.papers.values():
        record, unread = _read(school, paper.id)
        if record:
            records[paper.id] = record
        of_paper = list(paper_faults(school, log, paper, record, unread, observations))
        faults += of_paper
        says = [fault.says for fault in of_paper if not fault.forges]
        if record is None and says:
            lost[paper.id] = says[0]
    faults += _strange_refusals(school, log, refusals)
    return Books(school, register, log, records, lost, refusals, tuple(faults))


def _read(school: School, paper: str) -> tuple[Record | None, str]:
    try:
        return read_record(school, paper), ""
    except GraderError as error:
        return None, str(error)


def faults_of_paper(school: School, log: Log, paper: Paper) -> list[str]:
    """What is wrong with one paper's record and registered schemes, read now."""
    observations = Observations(school, only_read=True)
    return [fault.says for fault in paper_faults(school, log, paper, *_read(school, paper.id), observations)]


def check_record(school: School, log: Log, paper: str, record: Record) -> None:
    """See that a paper's marks are those that the log tells of. Raises: :class:`GraderError` where they are not."""
    for fault in _record_faults(school, log, paper, record):
        if fault.forges:
            raise GraderError(fault.says)


def strange_papers(register: Register, log: Log) -> Iterator[Fault]:
    """Papers that were marked, by the log, and never issued, by the register."""
    seen = set(register.replaced)
    for number, line in enumerate(log.lines, 1):
        paper = line.get("paper")
        if paper and paper not in register.papers and paper not in seen:
            seen.add(paper)
            yield Fault(f"{log.path}: line {number} tells of paper {paper}, which the register lacks; restore its end")


def _strange_refusals(school: School, log: Log, refusals: tuple[Refusal, ...]) -> Iterator[Fault]:
    """Refused files of which no line of the log tells: what is said of them goes into the results."""
    lines = [line for line in log.lines if line["what"] == REFUSED]
    known = {(line["file"], line["digest"], line["why"]) for line in lines}
    for one in refusals:
        if (one.file, one.digest, one.reason) not in known and not any(
            one.digest == line["digest"] and _same(line["file"], one.file) and _same(line["why"], one.reason)
            for line in lines
        ):
            yield Fault(
                f"{refusals_file(school)}: no line of {log.path} tells of {one.file[:80]!r} and why it was refused; "
                f"to make it anew: pitside mark {school.here}"
            )


def paper_faults(
    school: School, log: Log, paper: Paper, record: Record | None, unread: str, observations: Observations
) -> Iterator[Fault]:
    """What of one paper's record or registered schemes is not as the log has it; ``unread``: why it cannot be read."""
    for entry in paper.entries:
        yield from _scheme_faults(school, log, paper, entry)
    if record:
        yield from _record_faults(school, log, paper.id, record)
        yield from _observed_faults(school, paper, record, observations)
    elif unread:
        yield Fault(unread, forges=False)
    else:
        marked = [number for number, line in log.numbered(paper.id) if "record" in line]
        if marked and not _is_forgotten(log, paper.candidate, marked[-1]):
            yield Fault(
                f"{record_file(school, paper.id)}: missing, though line {marked[-1]} of {log.path} tells of it; mark "
                "again to make it anew",
                forges=False,
            )


def _record_faults(school: School, log: Log, paper: str, record: Record) -> Iterator[Fault]:
    """By the paper under whose name the record lies, which may be another's that was copied."""
    where = record_file(school, paper)
    about = log.numbered(paper)
    marked = [(number, line) for number, line in about if "record" in line]
    mend = f"delete it and mark again (pitside mark {school.here}), or restore it from your backup"
    if not marked:
        yield Fault(
            f"{where}: no line of {log.path} tells of it; the log was cut off, or the marks come from elsewhere; {mend}"
        )
        return
    number, line = marked[-1]
    if line["record"] != record.digest:
        yield Fault(
            f"{where}: not the marks that line {number} of {log.path} tells of; if a marking run was broken off, run "
            f"it again, else {mend}"
        )
    number, line = [(n, one) for n, one in about if "record" in one or one["what"] == HAND_MARKS][-1]
    # Of who is being forgotten all words are taken out of the log at once; the record goes after it.
    words = not _is_forgotten(log, record.candidate, 0)
    if not _same_hand(line.get("hand", {}), by_hand_in(record), words):
        yield Fault(f"{where}: not the hand marks of line {number} of {log.path}; {mend}")
    logged = list(record.with_changes(log.changes(paper)).changes)
    same = partial(_same_change, words=words)
    if not (len(logged) == len(record.changes) and all(map(same, logged, record.changes))):
        yield Fault(
            f"{where}: not the changes of marks that {log.path} tells of; to take them from the log, mark again: "
            f"pitside mark {school.here}",
            forges=not all(any(same(one, kept) for one in logged) for kept in record.changes),
        )


def lines_behind(record: Record, observations: Observations) -> int | None:
    """How many observations of a paper of tasks came after those that its record rests on; None if it rests on others.

    Marks at the machine rest on what observers saw, which is sealed, and not on whatever script came.
    """
    marked = {
        item_name(number, item.item): Given(item.value, item.unit)
        for number, exercise in enumerate(record.exercises, 1)
        for item in exercise.items
        if item.value is not None
    }
    for behind, seen in enumerate(observations.answered(record.paper)):
        if marked == {name: one for name, one in seen.items() if one.value is not None}:
            return behind
    return None


def _observed_faults(school: School, paper: Paper, record: Record, observations: Observations) -> Iterator[Fault]:
    if not all(entry.exercise in TASKS for entry in paper.entries):
        return
    behind = lines_behind(record, observations)
    where = record_file(school, paper.id)
    if behind is None:
        yield Fault(
            f"{where}: not what observers saw, by {observations.ledger.path}: the script {record.file} is not theirs; "
            f"take the observers' files again (pitside observe {school.here} --take, and each file), then mark"
        )
    elif behind:
        yield Fault(f"{where}: more was observed since; mark what came: pitside mark {school.here}", forges=False)


def _same(logged: str, kept: str) -> bool:
    """Whether two texts are the same but for a name that was taken out of the log when its bearer was forgotten."""
    if TAKEN_OUT not in logged:
        return logged == kept
    return re.fullmatch(".*".join(map(re.escape, logged.split(TAKEN_OUT))), kept, re.DOTALL) is not None


def _same_hand(logged: dict[str, list[Any]], kept: dict[str, list[Any]], words: bool) -> bool:
    return logged.keys() == kept.keys() and all(
        logged[part][0] == kept[part][0] and (not words or _same(logged[part][1], kept[part][1])) for part in logged
    )


def _same_change(logged: tuple[str, Change], kept: tuple[str, Change], words: bool) -> bool:
    bare = [(name, replace(change, why="")) for name, change in (logged, kept)]
    return bare[0] == bare[1] and (not words or _same(logged[1].why, kept[1].why))


def _scheme_faults(school: School, log: Log, paper: Paper, entry: Entry) -> Iterator[Fault]:
    logged = Scheme(entry.version, entry.scheme)
    number = 0
    for n, line in log.numbered(paper.id):
        if line["what"] == NEW_SCHEME:
            for one in line["exercises"]:
                if one["exercise"] == entry.exercise:
                    number, logged = n, Scheme(one["version"][1], one["scheme"][1])
    if logged != entry.marked_by:
        why = f"line {number} of {log.path} has another" if number else f"no line of {log.path} tells of it"
        yield Fault(
            f"{school.register_file}: paper {paper.id} is marked by version {entry.marked_by.version} of "
            f"{entry.exercise}, but {why}; if a run was broken off, run it again, else restore both from your backup"
        )


def _is_forgotten(log: Log, candidate: str, after: int) -> bool:
    """Whether a candidate's data was deleted after a line of the log, or that was begun."""
    return any(
        line["what"] in (FORGETTING, FORGOTTEN) and line.get("candidate") == candidate
        for number, line in log.numbered("")
        if number > after
    )
