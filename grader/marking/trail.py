"""The trail of a paper: all that happened to it, from register and log; and whether the marks are what the log says."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import Any

from exercises.model import Seen, Watched
from exercises.tasks import TASKS
from grader.marking.books import faults_of_paper, read_books, strange_papers
from grader.marking.records import read_record
from grader.observed.observations import Observation, Observations
from grader.store.certificate_register import CertificateRegister
from grader.store.errors import GraderError
from grader.store.log import (
    BROUGHT_BACK,
    CHANGED,
    FORGOTTEN,
    HAND_MARKS,
    MARKED,
    MARKED_AGAIN,
    NEW_SCHEME,
    REFUSED,
    REPLACED,
    RULE_CHANGED,
    SET_ASIDE,
    WRITTEN_TAKEN,
    Log,
)
from grader.store.part_marks import item_name
from grader.store.register import Paper, Register
from grader.store.school import School
from grader.store.wording import counted

#: Digits of a digest that a person is shown.
_SHOWN = 8


def trail(school: School, whose: str = "", now: datetime | None = None) -> list[str]:
    """The history of a candidate's papers, or of one paper by its id, or of all, in plain words.

    ``now`` is what the clock says, where that is not asked: times far ahead of it are remarked on.

    Raises: :class:`GraderError` if nothing was issued to them, or register or log are not as they were written.
    """
    register, log = Register(school, only_read=True), Log(school, only_read=True)
    now = now or datetime.now(UTC)
    issued = [*register.replaced.values(), *register.papers.values()]
    papers = [p for p in issued if not whose or whose.lower() in (p.candidate, p.id.lower())]
    if not papers:
        who = f"no paper was issued to {whose!r}; ids are in roster.csv" if whose else "no paper was issued yet"
        raise GraderError(f"{school.register_file}: {who}")
    lines: list[str] = []
    observations = Observations(school, only_read=True)
    for paper in papers:
        lines += ["", *_of_paper(school, log, observations, paper)]
    certified = CertificateRegister(school, only_read=True)
    if told := list(_certificates(certified, dict.fromkeys(paper.candidate for paper in papers))):
        lines += ["", *told]
    if not whose:
        others = [f"  {_moment(number, line)}: {_told(line)}" for number, line in log.numbered("")]
        others += [f"  BEWARE: {fault.says}" for fault in strange_papers(register, log)]
        others += [f"  BEWARE: {fault}" for fault in log.ledger.clock_faults(now)]
        lines += ["", "Of no one paper", *others] if others else []
    return lines[1:]


def check_log(school: School) -> None:
    """See that register and log are as they were written, and that the marks are those that the log tells of.

    A log that was cut off at the end of a line holds together by itself; what it lost of marks, hand marks, changes
    and accepted mark schemes shows in records and register, unless those were put back to their former state too: that
    shows by a state code that is kept elsewhere, see :mod:`grader.store.state`.

    Raises: :class:`GraderError`, of the first thing that is wrong: file, line, fault and mend.
    """
    for fault in read_books(school).faults:
        raise GraderError(fault.says)


def _of_paper(school: School, log: Log, observations: Observations, paper: Paper) -> Iterator[str]:
    attempt = f", attempt {paper.attempt}" if paper.attempt > 1 else ""
    yield f"paper {paper.id}: candidate {paper.candidate}, sitting {paper.sitting}{attempt}"
    exercises = ", ".join(f"{e.exercise} version {e.version} (scheme {e.scheme[:_SHOWN]})" for e in paper.entries)
    yield f"  issued, as the register has it: {exercises}"
    for one in observations.all:
        if one.paper == paper.id:
            told = f"  observed: {one}; from file {one.digest[:_SHOWN]}, taken back {one.taken}"
            missed = "".join(f"; critical step {name} {seen}" for name, seen in _missed(paper, one))
            yield f"{told}{missed}{f'; {one.note}' if one.note else ''}"
    for apart in observations.disagreements(paper.id):
        yield f"  observers of task {apart.first.task}: {apart}"
    if paper.replaces:
        yield f"  in place of paper {paper.replaces}, which does not count any more: the units were corrected"
    forgotten = [(n, e) for n, e in log.numbered("") if (e["what"], e.get("candidate")) == (FORGOTTEN, paper.candidate)]
    files = {digest for line in log.about(paper.id) for digest in line.get("files", {}).values()}
    taken = [(n, e) for n, e in log.numbered("") if e["what"] == WRITTEN_TAKEN and e["digest"] in files]
    for number, line in sorted([*log.numbered(paper.id), *taken, *forgotten], key=lambda numbered: numbered[0]):
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
    for fault in faults_of_paper(school, log, paper):
        yield f"  BEWARE: {fault}"


def _missed(paper: Paper, one: Observation) -> Iterator[tuple[str, Seen]]:
    """The critical steps that an observer saw not done, or done only after a prompt."""
    for part in TASKS[paper.entries[one.task - 1].exercise].exercise.parts:
        name = item_name(one.task, part.key)
        seen = Seen.of_letter(str(one.answers.get(name, "")))
        if isinstance(part, Watched) and part.must_pass and seen in (Seen.NOT_DONE, Seen.PROMPTED):
            yield name, seen


def _certificates(register: CertificateRegister, candidates: Iterable[str]) -> Iterator[str]:
    """What was certified of the marks: each certificate, and whether it stands."""
    for candidate in candidates:
        for one in register.issued.values():
            if one.candidate == candidate:
                yield (
                    f"certificate {one.serial} of {candidate}: issued {one.when:%Y-%m-%d %H:%M:%S UTC}, "
                    + (f"revoked {one.revoked_on:%Y-%m-%d}: {one.revoked}" if one.revoked_on else "stands")
                )


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
            told = f"{what}: {hand}: {line['marks']:g} marks ({line['before']:g} before)"
            return told + "".join(
                f"; {part} from file {digest[:_SHOWN]}" for part, digest in line.get("files", {}).items()
            )
        case what if what == WRITTEN_TAKEN:
            answers, digest = counted(line["answers"], "answer"), line["digest"][:_SHOWN]
            return f"{what}: file {digest} ({line['file']}), {answers} marked by {line['note']}"
        case what if what == CHANGED:
            return f"part {line['part']} changed from {line['before']:g} to {line['marks']:g}, {line['kind']}: {why}"
        case what if what == NEW_SCHEME:
            schemes = [
                f"{one['exercise']} version {one['version'][0]} (scheme {one['scheme'][0][:_SHOWN]}) to "
                f"{one['version'][1]} ({one['scheme'][1][:_SHOWN]})"
                for one in line["exercises"]
            ]
            return f"{what}: {', '.join(schemes)}; {why}"
        case what if what in (REFUSED, SET_ASIDE, BROUGHT_BACK):
            return f"{what}, {line['file']}: {why}"
        case what if what == RULE_CHANGED:
            return f"{what}: {'; '.join(line['rule'])}; {why}"
        case what if what == REPLACED:
            return f"{what} ({counted(line['time'], 'time')} so far): {why}"
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
