"""The trail of a paper: all that happened to it, from register and log; and whether the marks are what the log says."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from grader.marking.marking import by_hand_in, read_record, record_file
from grader.store.errors import GraderError
from grader.store.log import (
    CHANGED,
    FORGOTTEN,
    HAND_MARKS,
    MARKED,
    MARKED_AGAIN,
    NEW_SCHEME,
    REFUSED,
    REPLACED,
    Log,
)
from grader.store.part_marks import Change
from grader.store.register import Entry, Paper, Register, Scheme
from grader.store.school import School

#: Digits of a digest that a person is shown.
_SHOWN = 8


def trail(school: School, whose: str = "") -> list[str]:
    """The history of a candidate's papers, or of one paper by its id, or of all, in plain words.

    Raises: :class:`GraderError` if nothing was issued to them, or register or log are not as they were written.
    """
    register, log = Register(school, only_read=True), Log(school, only_read=True)
    papers = [p for p in register.papers.values() if not whose or whose.lower() in (p.candidate, p.id.lower())]
    if not papers:
        who = f"no paper was issued to {whose!r}; ids are in roster.csv" if whose else "no paper was issued yet"
        raise GraderError(f"{school.register_file}: {who}")
    lines: list[str] = []
    for paper in papers:
        lines += ["", *_of_paper(school, log, paper)]
    if not whose:
        others = [f"  {_moment(number, line)}: {_told(line)}" for number, line in log.numbered("")]
        others += [f"  BEWARE: {fault}" for fault in _strange_papers(register, log)]
        lines += ["", "Of no one paper", *others] if others else []
    return lines[1:]


def check_log(school: School) -> None:
    """See that register and log are as they were written, and that the marks are those that the log tells of.

    A log that was cut off at the end of a line holds together by itself; what it lost of marks, hand marks, changes
    and accepted mark schemes shows in records and register, unless those were put back to their former state too. A
    lost last line of another kind (a pack written again, a file refused, the end of a run) does not show.

    Raises: :class:`GraderError`, of the first thing that is wrong: file, line, fault and mend.
    """
    register, log = Register(school, only_read=True), Log(school, only_read=True)
    for fault in mark_faults(school, register, log):
        raise GraderError(fault)


def mark_faults(school: School, register: Register, log: Log) -> Iterator[str]:
    """A line for each thing in which register, log and records, each of them as written, do not say the same."""
    yield from _strange_papers(register, log)
    for paper in register.papers.values():
        yield from _faults(school, log, paper)


def _strange_papers(register: Register, log: Log) -> Iterator[str]:
    seen = set()
    for number, line in enumerate(log.lines, 1):
        paper = line.get("paper")
        if paper and paper not in register.papers and paper not in seen:
            seen.add(paper)
            yield f"{log.path}: line {number} tells of paper {paper}, which the register lacks; restore its end"


def _faults(school: School, log: Log, paper: Paper) -> Iterator[str]:
    """What of one paper's record or registered schemes is not as the log has it."""
    about = log.numbered(paper.id)
    where = record_file(school, paper.id)
    for entry in paper.entries:
        yield from _scheme_faults(school, log, paper, entry, about)
    record = read_record(school, paper.id)
    marked = [(number, line) for number, line in about if "record" in line]
    if record is None:
        if marked and not _is_forgotten(log, paper, marked[-1][0]):
            yield f"{where}: missing, though line {marked[-1][0]} of {log.path} tells of it; mark again to make it anew"
        return
    if not marked:
        yield f"{where}: no line of {log.path} tells of it; the log was cut off, or the marks come from elsewhere"
        return
    number, line = marked[-1]
    if line["record"] != record.digest:
        yield (
            f"{where}: not the marks that line {number} of {log.path} tells of; if a marking run was broken off, run "
            "it again, else restore both from your backup"
        )
    number, line = [(n, one) for n, one in about if "record" in one or one["what"] == HAND_MARKS][-1]
    # Where somebody was forgotten, that name was taken out of what others' lines say in words.
    words = not any(one["what"] == FORGOTTEN for _, one in log.numbered(""))
    if _given(line.get("hand", {}), words) != _given(by_hand_in(record), words):
        yield f"{where}: not the hand marks of line {number} of {log.path}; restore both from your backup"
    logged = record.with_changes(log.changes(paper.id))
    if [_decided(one, words) for one in logged.changes] != [_decided(one, words) for one in record.changes]:
        yield (
            f"{where}: not the changes of marks that {log.path} tells of; to take them from the log, mark again: "
            f"pitside mark {school.folder}"
        )


def _given(hand: dict[str, list[Any]], words: bool) -> dict[str, Any]:
    return {part: [marks, comment] if words else marks for part, (marks, comment) in hand.items()}


def _decided(named: tuple[str, Change], words: bool) -> tuple[str, Change]:
    name, change = named
    return name, change if words else replace(change, why="")


def _scheme_faults(
    school: School, log: Log, paper: Paper, entry: Entry, about: list[tuple[int, dict[str, Any]]]
) -> Iterator[str]:
    logged = Scheme(entry.version, entry.scheme)
    number = 0
    for n, line in about:
        if line["what"] == NEW_SCHEME:
            for one in line["exercises"]:
                if one["exercise"] == entry.exercise:
                    number, logged = n, Scheme(one["version"][1], one["scheme"][1])
    if logged != entry.marked_by:
        why = f"line {number} of {log.path} has another" if number else f"no line of {log.path} tells of it"
        yield (
            f"{school.register_file}: paper {paper.id} is marked by version {entry.marked_by.version} of "
            f"{entry.exercise}, but {why}; if a run was broken off, run it again, else restore both from your backup"
        )


def _is_forgotten(log: Log, paper: Paper, after: int) -> bool:
    """Whether the candidate's data was deleted after a line of the log, and the record with it."""
    return any(line["what"] == FORGOTTEN and line.get("candidate") == paper.candidate for line in log.lines[after:])


def _of_paper(school: School, log: Log, paper: Paper) -> Iterator[str]:
    attempt = f", attempt {paper.attempt}" if paper.attempt > 1 else ""
    yield f"paper {paper.id}: candidate {paper.candidate}, sitting {paper.sitting}{attempt}"
    exercises = ", ".join(f"{e.exercise} version {e.version} (scheme {e.scheme[:_SHOWN]})" for e in paper.entries)
    yield f"  issued, as the register has it: {exercises}"
    forgotten = [(n, e) for n, e in log.numbered("") if (e["what"], e.get("candidate")) == (FORGOTTEN, paper.candidate)]
    for number, line in sorted([*log.numbered(paper.id), *forgotten], key=lambda numbered: numbered[0]):
        yield f"  {_moment(number, line)}: {_told(line)}"
    try:
        record = read_record(school, paper.id)
    except GraderError as error:
        yield f"  BEWARE: {error}"
        return
    if record:
        record = record.with_changes(log.changes(paper.id))
        waits = f"; waiting for hand marks: {', '.join(record.pending)}" if record.pending else ""
        yield f"  now: {record.marks:g} of {record.out_of:g} marks{waits}"
    else:
        yield "  now: no marks"
    for fault in _faults(school, log, paper):
        yield f"  BEWARE: {fault}"


def _moment(number: int, line: dict[str, Any]) -> str:
    try:
        when = datetime.fromisoformat(line["when"]).astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    except (KeyError, ValueError):
        when = "at a time unknown"
    return f"{when}, {line.get('who', 'unknown')} (log line {number})"


def _told(line: dict[str, Any]) -> str:
    """A line of the log in plain words."""
    why = line.get("why") or ""
    match line["what"]:
        case what if what in (MARKED, MARKED_AGAIN):
            before = f" ({line['before']:g} before)" if line.get("before") is not None else ""
            told = (
                f"{what}, {line['file']} (script {line['script'][:_SHOWN]}) by scheme {line['scheme'][:_SHOWN]}: "
                f"{line['marks']:g} of {line['out_of']:g} marks{before}"
            )
            if line.get("hand"):
                told += f", with hand marks {_hand(line['hand'])}"
            items = [f"{name} {_marks(old)} to {_marks(new)}" for name, (old, new) in line.get("changes", {}).items()]
            return told + (f", of which {', '.join(items)}" if items else "") + (f"; {why}" if why else "")
        case what if what == HAND_MARKS:
            hand = _hand(line["hand"]) or "none any more"
            return f"{what}: {hand}: {line['marks']:g} marks ({line['before']:g} before)"
        case what if what == CHANGED:
            return f"part {line['part']} changed from {line['before']:g} to {line['marks']:g}, {line['kind']}: {why}"
        case what if what == NEW_SCHEME:
            schemes = [
                f"{one['exercise']} version {one['version'][0]} (scheme {one['scheme'][0][:_SHOWN]}) to "
                f"{one['version'][1]} ({one['scheme'][1][:_SHOWN]})"
                for one in line["exercises"]
            ]
            return f"{what}: {', '.join(schemes)}; {why}"
        case what if what == REFUSED:
            return f"{what}, {line['file']}: {why}"
        case what if what == REPLACED:
            return f"{what}, for the {line['time']}. time: {why}"
        case what:
            return f"{what}: {why}" if why else str(what)


def _hand(hand: dict[str, list[Any]]) -> str:
    told = []
    for name, (marks, comment) in hand.items():
        given = "a comment" if marks is None else f"{marks:g}"
        words = " ".join(comment.split())
        told.append(f"{name} {given}{f' ({words})' if words else ''}")
    return ", ".join(told)


def _marks(marks: float | None) -> str:
    return "none" if marks is None else f"{marks:g}"
