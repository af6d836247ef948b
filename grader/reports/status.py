"""Where a school stands: how far each sitting is, and the command that comes next. Writes nothing."""

from __future__ import annotations

import enum
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from grader.classroom.left_over import left_over_in
from grader.marking.marking import WAITS
from grader.marking.records import read_record, read_refusals, record_file
from grader.papers.packs import is_packed, packs_of
from grader.reports.competence import Verdict
from grader.reports.roster_changes import corrections
from grader.returned.scripts import Refusal, Returned, read_scripts
from grader.store.certificate_register import CertificateRegister
from grader.store.csv_files import read_csv
from grader.store.errors import GraderError
from grader.store.register import Paper, Register, attempt_suffix
from grader.store.school import School, Sitting, unread_columns
from grader.store.wording import counted

#: Refused files that are named with their reason; of more the page of results tells.
MOST_NAMED = 5
_UP_TO_DATE, _OLD, _NONE = "yes", "old", "no"
COLUMNS = ("sitting", "attempt", "issued", "returned", "unreadable", "words", "marked", "debriefed", "decided")


@dataclass(frozen=True)
class Stand:
    """How far an attempt at a sitting is, in numbers of papers.

    ``returned`` are papers of which a script that can be read came back, ``words`` those of them that wait for marks
    on written answers, ``marked`` those with all their marks. ``debriefed`` and ``decided`` are "yes", "no", or "old"
    where marks came after the page was written.
    """

    sitting: Sitting
    attempt: int
    lacking: int
    issued: int
    unpacked: int
    returned: int
    unreadable: int
    unmarked: int
    words: int
    marked: int
    debriefed: str
    decided: str

    @property
    def cells(self) -> tuple[str, ...]:
        """The line of the table, in the order of :data:`COLUMNS`."""
        issued = f"{self.issued} of {self.issued + self.lacking}" if self.lacking else str(self.issued)
        counts = map(str, (self.returned, self.unreadable, self.words, self.marked))
        return (self.sitting.id, str(self.attempt), issued, *counts, self.debriefed, self.decided)


class Do(enum.Enum):
    """What a step of the work is."""

    WRITE_CANDIDATES = enum.auto()
    ISSUE = enum.auto()
    HAND_OUT = enum.auto()
    OBSERVE = enum.auto()
    CORRECT = enum.auto()
    MARK = enum.auto()
    SEE_TO_FILES = enum.auto()
    MARK_WORDS = enum.auto()
    WRITE_RESULTS = enum.auto()
    DEBRIEF = enum.auto()
    DECIDE = enum.auto()
    CERTIFY = enum.auto()
    TAKE_HOME = enum.auto()
    VERIFY = enum.auto()


@dataclass(frozen=True)
class Step:
    """What to do next: ``why`` in words, and the whole ``line`` with the command; of which sitting, where it is one."""

    do: Do
    why: str
    line: str
    sitting: str = ""
    attempt: int = 1

    @classmethod
    def by(cls, do: Do, why: str, command: str, sitting: str = "", attempt: int = 1) -> Step:
        return cls(do, why, f"{why}: {command}", sitting, attempt)

    def __str__(self) -> str:
        return self.line


@dataclass(frozen=True)
class Status:
    """How far each attempt at each sitting is, files that cannot be read, and what to do next, first things first."""

    stands: tuple[Stand, ...]
    refused: tuple[Refusal, ...]
    steps: tuple[Step, ...]
    #: What is not done yet where a classroom was closed.
    left_over: tuple[str, ...] = ()


def status(school: School) -> Status:
    """Look at a school. Raises: :class:`GraderError` where register or records cannot be read."""
    register = Register(school, only_read=True)
    scripts, refusals = read_scripts(school, register)
    # What was refused only when it was marked is known from then, unless it is another file now.
    late = {(one.file, one.digest): one for one in read_refusals(school) if one.reason != WAITS}
    refusals += [late[one.file, one.digest] for one in scripts if (one.file, one.digest) in late]
    scripts = [one for one in scripts if (one.file, one.digest) not in late]
    # A photo whose answers were keyed in since waits for nothing.
    done = {(one.paper.candidate, one.paper.sitting, one.paper.attempt) for one in scripts}
    refusals = [one for one in refusals if (one.candidate, one.sitting, one.attempt) not in done]
    stands = [stand for sitting in school.sittings for stand in _stands(school, register, sitting, scripts, refusals)]
    steps = tuple(_steps(school, register, stands, len(refusals)))
    return Status(tuple(stands), tuple(refusals), steps, tuple(_left_over(school, register)))


def _left_over(school: School, register: Register) -> list[str]:
    try:
        return left_over_in(school, register)
    except (GraderError, OSError) as error:  # a folder that is only looked at may not be written
        return [str(error)]


def _stands(
    school: School, register: Register, sitting: Sitting, scripts: Sequence[Returned], refusals: Sequence[Refusal]
) -> Iterator[Stand]:
    papers = [paper for paper in register.papers.values() if paper.sitting == sitting.id]
    for attempt in sorted({1, *(paper.attempt for paper in papers)}):
        of_attempt = [paper for paper in papers if paper.attempt == attempt]
        yield _stand(school, sitting, attempt, of_attempt, scripts, refusals)


def _stand(
    school: School,
    sitting: Sitting,
    attempt: int,
    papers: Sequence[Paper],
    scripts: Sequence[Returned],
    refusals: Sequence[Refusal],
) -> Stand:
    back = {one.paper.id: one.digest for one in scripts}
    returned = unmarked = words = marked = 0
    newest = 0.0
    for paper in papers:
        record = read_record(school, paper.id)
        returned += paper.id in back or record is not None
        unmarked += paper.id in back and (record is None or record.script != back[paper.id])
        if record:
            newest = max(newest, record_file(school, paper.id).stat().st_mtime)
            words += bool(record.pending)
            marked += not record.pending
    has_paper = {paper.candidate for paper in papers}
    without = [one for one in school.roster if one.id not in has_paper] if attempt == 1 else []
    on_roster = {one.id for one in school.roster}
    return Stand(
        sitting,
        attempt,
        lacking=len(without),
        issued=len(papers),
        unpacked=sum(
            not sitting.observed and not is_packed(school, paper) for paper in papers if paper.candidate in on_roster
        ),
        returned=returned,
        unreadable=sum((one.sitting, one.attempt) == (sitting.id, attempt) for one in refusals),
        unmarked=unmarked,
        words=words,
        marked=marked,
        debriefed=_since(school.records / f"debrief_{sitting.id}.html", newest),
        decided=_since(school.records / "decisions.html", newest),
    )


def _since(page: Path, newest: float) -> str:
    """Whether a page is there, and was written after the newest marks that it rests on."""
    try:
        return _UP_TO_DATE if page.stat().st_mtime >= newest else _OLD
    except FileNotFoundError:
        return _NONE


def _steps(school: School, register: Register, stands: Sequence[Stand], unreadable: int) -> Iterator[Step]:
    """What to do next, each with its command; what can be done now before what waits for it."""
    here = school.here
    if not school.roster:
        line = f"write the candidates into {school.roster_file}, then: pitside issue {here}"
        yield Step(Do.WRITE_CANDIDATES, "write the candidates into the roster", line)
        return
    if any(stand.unmarked for stand in stands):
        yield Step.by(Do.MARK, "mark what came back", f"pitside mark {here}")
    waiting = sum(stand.words for stand in stands)
    if unreadable:
        why = f"see to {counted(unreadable, 'file')} that cannot be read"
        yield Step(Do.SEE_TO_FILES, why, f"{why} (above), then: pitside mark {here}")
    if waiting:
        wait = "script waits" if waiting == 1 else "scripts wait"
        yield Step.by(Do.MARK_WORDS, f"{waiting} {wait} for marks on written answers", f"pitside written {here}")
    marked = any(stand.marked or stand.words for stand in stands)
    newest = max((path.stat().st_mtime for path in (school.records / "marks").glob("*.json")), default=0.0)
    if marked and _since(school.records / "results.html", newest) != _UP_TO_DATE:
        yield Step.by(Do.WRITE_RESULTS, "write results and feedback", f"pitside results {here}")
    for stand in stands:
        if stand.attempt == 1 and (stand.marked or stand.words) and stand.debriefed != _UP_TO_DATE:
            which = stand.sitting.id
            command = f"pitside debrief {here} --sitting {which}"
            yield Step.by(Do.DEBRIEF, f"see what to teach again after {which}", command, which)
    for stand in stands:
        which = stand.sitting.id
        command = f"pitside issue {here} --sitting {which}"
        if stand.lacking and stand.issued:
            why = f"{counted(stand.lacking, 'candidate')} without a paper of {which}"
            yield Step.by(Do.ISSUE, why, command, which)
        elif stand.unpacked:
            yield Step.by(Do.ISSUE, f"{counted(stand.unpacked, 'pack')} missing", command, which)
    for one in corrections(school, register):
        yield Step(Do.CORRECT, f"the roster was corrected since: {one}", f"the roster was corrected since: {one}")
    for stand in stands:
        which = stand.sitting.id
        if stand.sitting.observed and stand.issued and not stand.returned:
            options = f"--sitting {which}" + (f" --attempt {stand.attempt}" if stand.attempt > 1 else "")
            why, command = f"watch the tasks of {which} at the machine", f"pitside observe {here} {options}"
            yield Step.by(Do.OBSERVE, why, command, which, stand.attempt)
        elif stand.issued and not stand.returned and not stand.unreadable:
            packs = packs_of(school, which + attempt_suffix(stand.attempt))
            line = (
                f"hand out {packs if packs.exists() else school.packs}; put what comes back into {school.scripts}, "
                f"then: pitside mark {here}"
            )
            yield Step(Do.HAND_OUT, f"hand out the packs of {which}, and take in what comes back", line, which,
                       stand.attempt)  # fmt: skip
    if unissued := [stand for stand in stands if not stand.issued]:
        following = min(unissued, key=lambda stand: stand.sitting.day)
        why = f"issue {following.sitting.id} ({following.sitting.day})"
        yield Step.by(Do.ISSUE, why, f"pitside issue {here}", following.sitting.id)
    everything = all(stand.issued and stand.marked and not stand.words and not stand.unmarked for stand in stands)
    if everything and any(stand.decided != _UP_TO_DATE for stand in stands):
        yield Step.by(Do.DECIDE, "decide who is competent", f"pitside decide {here}")
    elif everything:
        yield from _after_deciding(school, here)


def _after_deciding(school: School, here: str) -> Iterator[Step]:
    certified = CertificateRegister(school, only_read=True)
    without = [one for one in _competent(school) if certified.current(one) is None]
    if without:
        why = f"{counted(len(without), 'candidate')} competent and without a certificate"
        yield Step.by(Do.CERTIFY, why, f"pitside certify {here}")
        return
    told = [school.records / "decisions.html", *(school.records / "certificates").glob("*.html")]
    newest = max(path.stat().st_mtime for path in told)
    if any(path.stat().st_mtime >= newest for path in (school.records / "take_home").glob("*.zip")):
        why = "nothing waits; keep a copy of the school in a safe place. To see whether anything was altered"
        yield Step.by(Do.VERIFY, why, f"pitside verify {here}")
    else:
        why = "nothing waits; to put together what each candidate takes home"
        yield Step.by(Do.TAKE_HOME, why, f"pitside take-home {here}")


def _competent(school: School) -> list[str]:
    """Who was found competent, by the list of decisions."""
    try:
        (_, columns), *rows = read_csv(school.records / "decisions.csv") or [(1, [])]
    except FileNotFoundError:
        return []
    if not {"id", "verdict"} <= set(columns):
        raise GraderError(f"{school.records / 'decisions.csv'}: no columns id and verdict; write it anew with: "
                          f"pitside decide {school.here}")  # fmt: skip
    by_name = [dict(zip(columns, cells, strict=False)) for _, cells in rows]
    return [row["id"] for row in by_name if row["verdict"] == Verdict.COMPETENT]


def lines(school: School, found: Status) -> Iterator[str]:
    """The status in lines to read, none of the table wider than 80 columns."""
    yield f"{school.title}: {counted(len(school.roster), 'candidate')}"
    shown = [stand.cells for stand in found.stands]
    several = any(stand.attempt > 1 for stand in found.stands)
    columns = [at for at, name in enumerate(COLUMNS) if several or name != "attempt"]
    widths = {at: max(len(row[at]) for row in (COLUMNS, *shown)) for at in columns}
    for row in (COLUMNS, *shown):
        cells = (row[at].ljust(widths[at]) if at in (0, 7, 8) else row[at].rjust(widths[at]) for at in columns)
        yield ("  " + "  ".join(cells)).rstrip()
    for one in found.refused[:MOST_NAMED]:
        yield f"Cannot be read: {one.file}: {one.reason}"
    if len(found.refused) > MOST_NAMED:
        yield f"Cannot be read: {len(found.refused) - MOST_NAMED} more; pitside mark {school.here} lists them"
    if unread := unread_columns(school.roster_file):
        yield f"Look at {unread}"
    if found.left_over:
        yield f"The classroom: {'. '.join(found.left_over)}"
    yield "Next:"
    yield from (f"  {step}" for step in found.steps)
