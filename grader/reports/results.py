"""Results of a school: a line a candidate and sitting, and feedback for each. Made anew from the records."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from exercises.model.variant import Variant
from exercises.tasks import exercise_named
from grader.marking.books import Books, read_books
from grader.marking.record import MarkedExercise, Record
from grader.marking.records import read_refusals
from grader.pages.pages import filled, text_of
from grader.reports.feedback import exercise_pages
from grader.reports.others_numbers import Facts, Sat, Strangers, count_of, one_in, others_numbers, table
from grader.reports.study import at_a_glance, told_in_words
from grader.returned.scripts import Refusal
from grader.store.csv_files import write_csv, write_tables
from grader.store.errors import GraderError
from grader.store.files import write_text
from grader.store.log import CHANGED, Log
from grader.store.percents import cut, exact, floored, needed
from grader.store.register import Paper, attempt_suffix
from grader.store.school import Candidate, Resit, School, Sitting
from grader.store.state import state_of

COLUMNS = (
    "id", "name", "crew", "sitting", "attempt", "paper", "status", "marks", "out_of", "percent", "counts", "remarks",
)  # fmt: skip


#: The status of who was issued a paper and is no longer on the roster.
OFF_ROSTER = "not on the roster"


@dataclass(frozen=True)
class Result:
    """A candidate's result in an attempt at a sitting; ``record`` is None without marks, and the remarks say why.

    ``for_assessor`` are those of the remarks that the candidate is not told. ``variants`` is empty where there is no
    paper, or its mark scheme is no longer the one that it was issued with. Of all attempts at a sitting one ``counts``.
    ``refused`` are the reasons why files that came back for it cannot be marked.
    """

    candidate: Candidate
    sitting: Sitting
    paper: Paper | None
    record: Record | None
    status: str
    remarks: tuple[str, ...]
    for_assessor: tuple[str, ...]
    variants: tuple[Variant, ...]
    counts: bool = True
    refused: tuple[str, ...] = ()

    @property
    def attempt(self) -> int:
        """Which attempt it is; the first also where no paper was issued yet."""
        return self.paper.attempt if self.paper else 1

    @property
    def is_final(self) -> bool:
        """Whether all parts have marks; until then there is no percentage to be shown, and no verdict."""
        return self.record is not None and not self.record.pending

    @property
    def percent(self) -> float:
        """The marks of a hundred; parts that wait for hand marks count as nothing until then."""
        if not self.record or not self.record.out_of:
            return 0.0
        return float(100 * exact(self.record.marks) / exact(self.record.out_of))

    @property
    def exercises(self) -> Iterator[tuple[int, Variant, MarkedExercise]]:
        """Number, variant and marks of each exercise of a marked paper; none where the variants are not there."""
        if self.record and self.variants:
            for number, (variant, marked) in enumerate(zip(self.variants, self.record.exercises, strict=True), 1):
                yield number, variant, marked

    @property
    def decided(self) -> tuple[str, ...]:
        """What was decided about the marks after they were first given: new mark schemes, and each change."""
        lines = [
            f"{entry.exercise}: marked by the mark scheme of version {entry.accepted.version}, accepted after issue "
            f"(version {entry.version})."
            for entry in (self.paper.entries if self.paper and self.record else ())
            if entry.accepted
        ]
        changes = self.record.changes if self.record else ()
        lines += [f"Part {name}: {c.before:g} to {c.marks:g} marks, {c.kind}: {c.why}" for name, c in changes]
        return tuple(lines)

    @property
    def told(self) -> tuple[str, ...]:
        """The remarks that the candidate is told; of parts that wait the feedback tells by itself."""
        waits = set(map(_waits, self.record.pending)) if self.record else set()
        return tuple(remark for remark in self.remarks if remark not in self.for_assessor and remark not in waits)


def _waits(part: str) -> str:
    return f"Part {part} waits for hand marks."


def gather(school: School, books: Books | None = None, only_read: bool = False) -> list[Result]:
    """Every candidate's result in every attempt at every sitting, in the order of the sittings and the roster.

    Behind the roster come those who were issued a paper and are no longer on it. ``books`` are the school's where they
    are open already, and then taken as they are. Mark schemes that had to be worked out are kept for the commands to
    come, unless the folder is ``only_read``.

    Raises: :class:`GraderError` where marks are not those that the log tells of; a record that is not there, or cannot
    be read, is told of in place of its marks.
    """
    books = books or read_books(school).must_hold()
    register, refusals = books.register, books.refusals
    on_roster = {candidate.id for candidate in school.roster}
    results = []
    for sitting in school.sittings:
        papers = [paper for paper in register.papers.values() if paper.sitting == sitting.id]
        left = {p.candidate: Candidate(p.candidate, "", "", "", p.system) for p in papers}
        gone = [candidate for candidate in left.values() if candidate.id not in on_roster]
        for candidate in (*school.roster, *gone):
            attempts = register.papers_of(sitting.id, candidate.id)
            about = [r for r in refusals if (r.candidate, r.sitting) == (candidate.id, sitting.id)]
            found = [
                _result(books, sitting, candidate, paper, _about_attempt(about, paper, attempts), candidate in gone)
                for paper in attempts or (None,)
            ]
            counting = _counting(school, found)
            results += [replace(result, counts=result is counting) for result in found]
    if not only_read:
        register.schemes.keep()
    return results


def _about_attempt(refusals: list[Refusal], paper: Paper | None, attempts: tuple[Paper, ...]) -> list[Refusal]:
    """The refused files to tell of beside an attempt; those of an attempt that nobody was issued, beside the latest."""
    issued = {one.attempt for one in attempts}
    is_latest = paper is None or paper is attempts[-1]
    return [r for r in refusals if (paper and r.attempt == paper.attempt) or (is_latest and r.attempt not in issued)]


def _counting(school: School, attempts: list[Result]) -> Result:
    """The attempt that counts: of those with marks where there are any, the latest, or the best as the school has it.

    Of equally good ones the later counts.
    """
    marked = [result for result in attempts if result.record]
    if school.resit is Resit.BEST and marked:
        return max(marked, key=lambda result: (result.percent, result.attempt))
    return (marked or attempts)[-1]


def _result(
    books: Books,
    sitting: Sitting,
    candidate: Candidate,
    paper: Paper | None,
    refusals: list[Refusal],
    is_gone: bool,
) -> Result:
    """The result of one attempt; ``refusals`` are the files to tell of beside it."""
    record, damaged = _recorded(books, paper)
    remarks = list(record.notes) if record else []
    variants, changed = _as_issued(paper, record)
    # Rivals share a reason that names them all; what to do about a file is for the assessor, not for the candidate.
    by_reason = {refusal.reason: refusal.file for refusal in reversed(refusals)}
    for_assessor = [f"{file}: {reason}" for reason, file in reversed(by_reason.items())]
    for_assessor += [damaged] if damaged else []
    for_assessor += [changed] if changed and not any(changed in remark for remark in for_assessor) else []
    for_assessor += [*record.for_assessor, *record.hand_notes, *_on_changes(record, books.log)] if record else []
    if record:
        status = "pending hand marks" if record.pending else "marked"
        remarks += map(_waits, record.pending)
    elif remarks or for_assessor:
        status = "not marked"
    else:
        status = "no script" if paper else "no paper"
    if is_gone:
        status = OFF_ROSTER
    told = (*remarks, *for_assessor)
    reasons = tuple(refusal.reason for refusal in refusals)
    return Result(candidate, sitting, paper, record, status, told, tuple(for_assessor), variants, refused=reasons)


def _recorded(books: Books, paper: Paper | None) -> tuple[Record | None, str]:
    """The paper's record; or none, and where it is lost or cannot be read, a line that says what to do.

    Its changes are those of the log, also where a run was killed before it wrote one into the record.
    """
    if paper is None:
        return None, ""
    record = books.records.get(paper.id)
    return (record.with_changes(books.log.changes(paper.id)) if record else None), books.lost.get(paper.id, "")


def _as_issued(paper: Paper | None, record: Record | None) -> tuple[tuple[Variant, ...], str]:
    """The paper's variants; or none, and a line that says why not and what to do."""
    if paper is None:
        return (), ""
    try:
        return paper.variants(), ""
    except GraderError as error:
        stand = "; its marks stand as they were given then, and its feedback page is not written anew"
        return (), f"{error}{stand if record else ''}"


def _on_changes(record: Record, log: Log) -> list[str]:
    """What the assessor should know of changes that were decided on another script, or that fit no longer."""
    lines = []
    latest = {line["part"]: line for line in log.about(record.paper) if line["what"] == CHANGED}
    counting = dict(record.changes)
    for part, line in latest.items():
        about = f"Paper {record.paper}, part {part}: {line['marks']:g} marks were given ({line['kind']}: {line['why']})"
        if part not in counting or counting[part].when != line["when"]:
            lines.append(f"{about}, which the mark scheme of today cannot give: decide again with `pitside change`.")
        elif line["script"] != record.script:
            lines.append(f"{about} for another script of the candidate, and stand: look at the part again.")
        elif line["scheme"] != record.scheme:
            lines.append(f"{about} under another mark scheme, and stand: look at the part again.")
    return lines


def write_results(school: School, results: list[Result]) -> Path:
    """Write records/results.csv, not signed yet, and the same as a workbook beside it; gives the path of the first."""
    exercises = list(dict.fromkeys(name for sitting in school.sittings for name in sitting.exercises))
    rows: list[tuple[str, ...]] = [(*COLUMNS, *exercises)]
    for result in results:
        record = result.record
        by_exercise = (
            {e.exercise: "pending" if e.pending else f"{e.marks:g}" for e in record.exercises} if record else {}
        )
        rows.append(
            (
                result.candidate.id,
                result.candidate.name,
                result.candidate.crew,
                result.sitting.id,
                str(result.attempt) if result.paper else "",
                result.paper.id if result.paper else "",
                result.status,
                f"{record.marks:g}" if record else "",
                f"{record.out_of:g}" if record else "",
                f"{cut(result.percent)}" if result.is_final else "",
                "yes" if result.counts else "no",
                " | ".join((*result.remarks, *result.decided)),
                *(by_exercise.get(name, "") for name in exercises),
            )
        )
    from grader.signing.signed_lists import unsign  # brings along what signs, which most commands need not

    path = school.records / "results.csv"
    unsign(path)
    write_tables(path, rows, "Results")
    return path


def unplaced(school: School, results: list[Result]) -> list[str]:
    """Files that could be matched to no candidate and sitting of this school, with the reason."""
    known = {(result.candidate.id, result.sitting.id) for result in results}
    return [
        f"{refusal.file}: {refusal.reason}"
        for refusal in read_refusals(school)
        if (refusal.candidate, refusal.sitting) not in known and not _is_gone(school, refusal)
    ]


def _is_gone(school: School, refusal: Refusal) -> bool:
    """Whether a plain file was taken out of the school's folder since the marking run that refused it."""
    is_plain = re.fullmatch(r"[\w ./()+-]{1,200}", refusal.file) is not None
    return bool(refusal.digest) and is_plain and not os.path.lexists(school.folder / refusal.file)


def write_feedback(
    school: School,
    results: list[Result],
    progress: Callable[[int, int], None],
    state: str = "",
    unfinished: bool = False,
) -> Path:
    """Write a page for each marked script, and an index for the assessor; gives the index's path.

    Pages of scripts with parts that wait for marks are drafts and lie apart, so that they are not handed out;
    ``unfinished`` puts them where the others are. ``state`` is the state code of the school's books, where they are
    open already.

    For the assessor alone are the wrong answers that fit somebody else's numbers: on the index, and all of them in
    others_numbers.csv beside it. No candidate's page tells of them.
    """
    pages = [(r, r.record, r.paper) for r in results if r.variants and r.record and r.paper]
    for count, (result, record, paper) in enumerate(pages, 1):
        is_draft = not (result.is_final or unfinished)
        text = filled(
            "reports/feedback_tasks.html" if result.sitting.observed else "reports/feedback.html",
            school=school,
            result=result,
            is_draft=is_draft,
            floored=floored,
            exercises=list(exercise_pages(result.variants, record, paper.entries, bool(result.sitting.observed))),
            glance=at_a_glance(school, result.exercises),
            told=told_in_words(result.told, result.exercises),
            needed=needed,
        )
        path = feedback_file(school, result, is_draft)
        write_text(path, text)
        # What the page was before the marks, or their lack, put it elsewhere.
        feedback_file(school, result, not is_draft).unlink(missing_ok=True)
        progress(count, len(pages))
    if _drafts(school).is_dir() and not any(_drafts(school).iterdir()):
        _drafts(school).rmdir()
    strangers = Strangers()
    facts = [(sitting, _facts(sitting, results, strangers)) for sitting in school.sittings]
    write_csv(school.records / "others_numbers.csv", table((sitting.id, found) for sitting, found in facts))
    index = school.records / "results.html"
    text = filled(
        "reports/results.html",
        school=school,
        results=results,
        sittings=[found for sitting in school.sittings if (found := _of_sitting(school, sitting, results))],
        state=state or state_of(school).code,
        unplaced=unplaced(school, results),
        facts=[(sitting, found) for sitting, found in facts if found.pairs],
        feedback=lambda result: (
            feedback_file(school, result, not (result.is_final or unfinished)).relative_to(school.records).as_posix()
        ),
        floored=floored,
        one_in=one_in,
        count_of=count_of,
        script=text_of("reports/results.js"),
    )
    write_text(index, text)
    return index


def _of_sitting(school: School, sitting: Sitting, results: list[Result]) -> dict[str, Any] | None:
    """A sitting's results with what sums them up; none where it has no candidates."""
    of_sitting = [result for result in results if result.sitting.id == sitting.id]
    if not of_sitting:
        return None
    counting = [result for result in of_sitting if result.counts]
    percents = [result.percent for result in counting if result.is_final]
    ids = dict.fromkeys([*sitting.exercises, *(e.exercise for r in of_sitting if r.record for e in r.record.exercises)])
    return {
        "sitting": sitting,
        "results": of_sitting,
        "papers": sum(result.paper is not None for result in counting),
        "final": len(percents),
        "waiting": sum(bool(result.record and result.record.pending) for result in counting),
        "refused": sum(result.record is None and result.status == "not marked" for result in counting),
        "mean": sum(percents) / len(percents) if percents else None,
        "reached": sum(percent >= school.pass_percent for percent in percents),
        "exercises": [
            (number, name, exercise.title if (exercise := exercise_named(name, school.bank)) else name)
            for number, name in enumerate(ids, 1)
        ],
        "several": any(result.attempt > 1 for result in of_sitting),
    }


def _facts(sitting: Sitting, results: list[Result], strangers: Strangers) -> Facts:
    """Everybody with a paper counts, also who handed nothing in: the numbers were there to be taken."""
    sat = [r for r in results if r.sitting.id == sitting.id and r.variants]
    return others_numbers([Sat(r.candidate.id, r.variants, r.record, r.attempt) for r in sat], strangers)


def _drafts(school: School) -> Path:
    return school.records / "feedback" / "drafts"


def feedback_file(school: School, result: Result, is_draft: bool) -> Path:
    """Where a candidate's feedback lies: to be handed out, or as a draft."""
    return (_drafts(school) if is_draft else school.records / "feedback") / feedback_name(result)


def feedback_name(result: Result) -> str:
    return f"{result.sitting.id}_{result.candidate.id}{attempt_suffix(result.attempt)}.html"
