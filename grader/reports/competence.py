"""From marks to an outcome: who has shown competence by the school's rule, who has not yet, and who waits for what.

Marks are compared as the decimal numbers that were given, never as binary ones, so that a candidate who stands
exactly on the pass mark has reached it, and one who stands a hair below has not.
"""

from __future__ import annotations

import enum
import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from exercises import LESSONS, outcomes_of
from exercises.model import Choice, Order, Watched
from exercises.model.marking import Rule
from exercises.model.variant import Variant
from exercises.tasks import TASKS
from grader.marking.books import lines_behind, read_books
from grader.marking.record import MarkedExercise, part_of
from grader.observed.observations import Observations
from grader.pages.pages import filled
from grader.reports.results import OFF_ROSTER, Result, gather
from grader.store.csv_files import write_tables
from grader.store.errors import GraderError
from grader.store.files import write_text
from grader.store.part_marks import item_name
from grader.store.percents import exact, floored, needed, of_hundred
from grader.store.school import Candidate, School, Sitting
from grader.store.state import State, state_of
from grader.store.wording import counted

#: Candidates side by side in one table of outcomes, so that it goes across a sheet of paper.
ABREAST = 24


class Verdict(enum.StrEnum):
    """What is decided about a candidate, or why nothing can be yet."""

    COMPETENT = "competent"
    NOT_YET = "not yet competent"
    PENDING = "pending"
    ABSENT = "absent"


class Way(enum.StrEnum):
    """How an outcome was assessed: by a paper, or by a task that an observer watched."""

    PAPER = "on paper"
    MACHINE = "at the machine"

    @classmethod
    def of(cls, sitting: Sitting) -> Way:
        return cls.MACHINE if sitting.observed else cls.PAPER


def in_words(ways: Sequence[Way]) -> str:
    return " and ".join(ways)


@dataclass(frozen=True)
class OutcomeShown:
    """A learning outcome and the share of its marks, from 0 to 1, that a candidate has in all sittings.

    ``ways`` tells whether it was assessed on paper, at the machine, or both. Parts that were not sat, or that wait for
    hand marks, count as nothing yet, and then ``waits`` is true: what is ``shown`` stays shown, whatever they bring.
    """

    outcome: str
    lesson: str
    share: float
    shown: bool
    waits: bool = False
    ways: tuple[Way, ...] = (Way.PAPER,)

    @property
    def named(self) -> str:
        """The outcome, with how it was assessed where that is not on paper alone."""
        return self.outcome if self.ways == (Way.PAPER,) else f"{in_words(self.ways).capitalize()}: {self.outcome}"


@dataclass(frozen=True)
class SittingMark:
    """A candidate's attempt that counts at a sitting; ``percent`` is None without marks, ``says`` then why."""

    sitting: str
    percent: float | None
    attempt: int
    says: str = ""


@dataclass(frozen=True)
class Decision:
    """What is decided about a candidate, and why.

    ``percent`` is the weighted mean of all sittings, None while marks are missing; it then lies between ``least`` and
    ``most``, whatever comes. ``missing`` are the ids of the sittings without a script. ``waits`` says in words for what
    the decision waits, absences among it.
    """

    candidate: Candidate
    percent: float | None
    outcomes: tuple[OutcomeShown, ...]
    failed_must_pass: tuple[str, ...]
    missing: tuple[str, ...]
    verdict: Verdict
    why: tuple[str, ...]
    arrangements: tuple[str, ...] = ()
    sittings: tuple[SittingMark, ...] = ()
    waits: tuple[str, ...] = ()
    least: float = 0
    most: float = 100


@dataclass(frozen=True)
class _Part:
    """A part of a paper as it counts: its exact marks, None while they are not known."""

    name: str
    title: str
    outcome: str
    must_pass: bool
    marks: Fraction | None
    out_of: Fraction


@dataclass(frozen=True)
class _Sat:
    """What a candidate's attempt that counts at a sitting says, before any rule."""

    sitting: Sitting
    attempt: int
    parts: tuple[_Part, ...]
    is_marked: bool
    #: Why nobody can decide yet, in words; empty where the attempt stands.
    waits: tuple[str, ...]
    absent: str = ""
    missing: bool = False
    remarks: tuple[str, ...] = ()
    #: The parts of which outcomes are known: blank ones where the mark scheme is no longer that of the paper.
    blank: tuple[_Part, ...] | None = None

    @property
    def outcome_parts(self) -> tuple[_Part, ...]:
        return self.parts if self.blank is None else self.blank

    @property
    def least(self) -> Fraction:
        """The marks of a hundred if what is not known brings nothing."""
        return self._percent(Fraction(0))

    @property
    def most(self) -> Fraction:
        """The marks of a hundred if what is not known brings everything."""
        return self._percent(Fraction(1))

    def _percent(self, unknown: Fraction) -> Fraction:
        out_of = sum((part.out_of for part in self.parts), Fraction(0))
        got = [part.out_of * unknown if part.marks is None else part.marks for part in self.parts]
        marks = sum(got, Fraction(0))
        return 100 * marks / out_of if out_of else Fraction(0)


def decide(school: School, results: Sequence[Result]) -> list[Decision]:
    """Decide about every candidate of the roster, in its order, from all results of the school.

    Raises: :class:`GraderError` if absences.csv cannot be read.
    """
    held = {result.sitting.id for result in results if result.record or result.status == "not marked"}
    reasons = {(absence.candidate, absence.sitting): absence.reason for absence in school.absences}
    by_both: dict[tuple[str, str], list[Result]] = {}
    for result in results:
        by_both.setdefault((result.candidate.id, result.sitting.id), []).append(result)
    decisions = []
    watched = any(sitting.observed for sitting in school.sittings)
    observations = Observations(school, only_read=True) if watched else None
    for candidate in school.roster:
        sat = []
        for sitting in school.sittings:
            attempts = by_both.get((candidate.id, sitting.id), [])
            one = _sat(sitting, school, attempts, sitting.id in held, reasons.get((candidate.id, sitting.id), ""))
            counting = next((result for result in attempts if result.counts), None)
            if observations and counting and counting.record:
                one = replace(one, waits=(*one.waits, *_undecided(observations, sitting.title, counting)))
            sat.append(one)
        decisions.append(_decision(school, candidate, sat))
    return decisions


def off_roster(results: Sequence[Result]) -> tuple[str, ...]:
    """The ids of those who have papers and stand no longer on the roster; nothing is decided about them."""
    return tuple(dict.fromkeys(result.candidate.id for result in results if result.status == OFF_ROSTER))


def let_through(school: School) -> tuple[str, ...]:
    """The outcomes in which a candidate with no mark at all could still be competent by the school's rule.

    Each is tried by itself, on blank papers with every other part right.
    """
    papers = [(sitting, _blank_parts(sitting, school)) for sitting in school.sittings]
    assessed = dict.fromkeys(part.outcome for _, parts in papers for part in parts if part.outcome and part.out_of)
    return tuple(outcome for outcome in _by_lesson(assessed) if _passes_without(school, papers, outcome))


def _passes_without(school: School, papers: Sequence[tuple[Sitting, tuple[_Part, ...]]], outcome: str) -> bool:
    def marked(part: _Part) -> _Part:
        return replace(part, marks=Fraction(0) if part.outcome == outcome else part.out_of)

    sat = [_Sat(sitting, 1, tuple(map(marked, parts)), True, ()) for sitting, parts in papers]
    overall = _weighted([exact(one.sitting.weight) for one in sat], [one.least for one in sat])
    failed = tuple(_failed_must_pass(school, sat))
    return not list(_against(school, sat, overall, tuple(_outcomes(school, sat)), failed))


def passed_with_nothing(decisions: Sequence[Decision]) -> dict[str, tuple[str, ...]]:
    """Who is competent without a mark in an outcome: ids, each with those outcomes."""
    return {
        one.candidate.id: nothing
        for one in decisions
        if one.verdict is Verdict.COMPETENT and (nothing := tuple(o.outcome for o in one.outcomes if not o.share))
    }


# What was sat ---------------------------------------------------------------------------------------------------------


def _sat(sitting: Sitting, school: School, attempts: Sequence[Result], is_held: bool, reason: str) -> _Sat:
    counting = next((result for result in attempts if result.counts), None)
    title, blank = sitting.title, _blank_parts(sitting, school)
    if counting is None or counting.paper is None:
        if reason:
            says = f"{title}: absent, no paper was issued. Reason: {reason}"
            return _Sat(sitting, 1, blank, False, (), says, missing=True)
        return _Sat(sitting, 1, blank, False, (f"{title}: no paper was issued",), missing=True)
    if counting.record is None:
        return _without_marks(sitting, blank, counting, is_held, reason)
    remarks: list[str] = []
    if reason and counting.attempt > 1:
        remarks.append(f"{title}: absent at first ({reason}); attempt {counting.attempt} counts")
    elif reason:
        remarks.append(f"{title}: a reason for absence is on record ({reason}), yet there is a script: look again")
    waits: list[str] = []
    if pending := counting.record.pending:
        waits.append(f"{title}: {_parts_named(pending)} for hand marks")
    parts = tuple(_parts_of(counting))
    waits += _not_observed(title, counting)
    if not counting.variants:
        waits.append(f"{title}: the mark scheme has changed since the paper was issued; what it shows cannot be told")
    for later in attempts:
        if later.attempt > counting.attempt and later.record is None:
            if later.status == "not marked":
                waits.append(f"{title}: attempt {later.attempt} is not marked: {_why_not(later)}")
            else:
                remarks.append(f"{title}: attempt {later.attempt} was issued, no script of it came")
    told = None if counting.variants else blank
    return _Sat(sitting, counting.attempt, parts, True, tuple(waits), remarks=tuple(remarks), blank=told)


def _why_not(result: Result) -> str:
    """Why a script has no marks, fit for a page to sign: no paths and no commands, which the page of results has."""
    if not result.refused:
        return "its marks are lost or cannot be read (the page of results says more)"
    what = result.refused[0].partition(": ")[0]
    return f"{re.sub(r' *[(][^()]*scripts/[^()]*[)]', '', what)} (the page of results says more)"


def _without_marks(sitting: Sitting, blank: tuple[_Part, ...], counting: Result, is_held: bool, reason: str) -> _Sat:
    title = sitting.title
    if counting.status == "not marked":
        waits = (f"{title}: not marked: {_why_not(counting)}",)
        return _Sat(sitting, counting.attempt, blank, False, waits)
    if reason:
        says = f"{title}: absent. Reason: {reason}"
        return _Sat(sitting, counting.attempt, blank, False, (), says, missing=True)
    if not is_held:
        return _Sat(sitting, counting.attempt, blank, False, (f"{title}: no script of anybody yet",), missing=True)
    says = f"{title}: absent, no script, and no reason on record"
    return _Sat(sitting, counting.attempt, blank, False, (), says, missing=True)


def _parts_named(parts: Sequence[str]) -> str:
    return f"part {parts[0]} waits" if len(parts) == 1 else f"parts {', '.join(parts)} wait"


def _parts_of(result: Result) -> Iterator[_Part]:
    """The parts of a marked paper; without its variants their outcomes are not known."""
    assert result.record
    variants: Sequence[Variant | None] = result.variants or [None] * len(result.record.exercises)
    for number, (variant, marked) in enumerate(zip(variants, result.record.exercises, strict=True), 1):
        yield from _parts_of_exercise(number, variant, marked)


def _parts_of_exercise(number: int, variant: Variant | None, marked: MarkedExercise) -> Iterator[_Part]:
    about = {part.key: part for part in variant.exercise.parts} if variant else {}
    for key, marks in marked.part_marks.items():
        part = about.get(key)
        yield _Part(
            name=item_name(number, key),
            title=variant.exercise.title if variant else marked.exercise,
            outcome=str(part.outcome) if part else "",
            must_pass=isinstance(part, Choice | Order | Watched) and part.must_pass,
            marks=None if marks is None else exact(marks),
            out_of=exact(sum(item.out_of for item in marked.items if part_of(item) == key)),
        )


def _not_observed(title: str, result: Result) -> Iterator[str]:
    """What of observed tasks must still be seen: whole tasks, and critical steps of those that were seen in part."""
    for number, variant, marked in result.exercises:
        unseen = {part_of(item) for item in marked.items if item.rule is Rule.NOT_OBSERVED}
        if len(unseen) == len(variant.exercise.parts):
            yield f"{title}: task {number}, {variant.exercise.title}, was not observed"
            continue
        critical = [part.key for part in variant.exercise.parts if isinstance(part, Watched) and part.must_pass]
        if missing := [item_name(number, key) for key in critical if key in unseen]:
            yield f"{title}: {counted(len(missing), 'critical step')} not observed: {', '.join(missing)}"


def _undecided(observations: Observations, title: str, result: Result) -> Iterator[str]:
    """What was observed and is not marked, and critical steps on which two observers differ until a change decides."""
    assert result.record
    if lines_behind(result.record, observations):
        yield f"{title}: what was observed since is not marked yet"
    settled = {name for name, _ in result.record.changes}
    critical = {
        item_name(number, part.key)
        for number, variant, _ in result.exercises
        for part in variant.exercise.parts
        if isinstance(part, Watched) and part.must_pass
    }
    for one in observations.disagreements(result.record.paper):
        if open_still := [step for step in one.steps if step in critical and step not in settled]:
            yield (
                f"{title}: {one.first.observer} and {one.other.observer} differ on "
                f"{counted(len(open_still), 'critical step')}: {', '.join(open_still)}"
            )


def _blank_parts(sitting: Sitting, school: School) -> tuple[_Part, ...]:
    """The parts of a paper that was not sat, without marks."""
    return tuple(
        _Part(
            name=item_name(number, part.key),
            title=exercise.title,
            outcome=str(part.outcome),
            must_pass=isinstance(part, Choice | Order | Watched) and part.must_pass,
            marks=None,
            out_of=exact(sum(item.marks.total for item in part.items())),
        )
        for number, exercise in enumerate(map(school.exercise, sitting.exercises), 1)
        for part in exercise.parts
    )


# The rule -------------------------------------------------------------------------------------------------------------


def _decision(school: School, candidate: Candidate, sat: Sequence[_Sat]) -> Decision:
    weights = [exact(one.sitting.weight) for one in sat]
    least = _weighted(weights, [one.least for one in sat])
    most = _weighted(weights, [one.most for one in sat])
    outcomes = tuple(_outcomes(school, sat))
    failed = tuple(_failed_must_pass(school, sat))
    absent = [one.absent for one in sat if one.absent]
    waits = [line for one in sat for line in one.waits]
    against = list(_against(school, sat, least, outcomes, failed))
    if absent:
        verdict, why = Verdict.ABSENT, [*absent, *waits]
    elif waits:
        verdict, why = Verdict.PENDING, waits[:]
    elif against:
        verdict, why = Verdict.NOT_YET, against
    else:
        verdict, why = Verdict.COMPETENT, list(_in_favour(school, sat, least, outcomes))
    if absent or waits:
        why += _foreseen(school, least, most, failed)
    why += [remark for one in sat for remark in one.remarks]
    return Decision(
        candidate=candidate,
        percent=None if absent or least != most else float(least),
        outcomes=outcomes,
        failed_must_pass=failed,
        missing=tuple(one.sitting.id for one in sat if one.missing),
        verdict=verdict,
        why=tuple(why),
        arrangements=tuple(filter(None, (text.strip() for text in candidate.arrangements.split(";")))),
        sittings=tuple(_sitting_mark(one) for one in sat),
        waits=(*absent, *waits),
        least=float(least),
        most=float(most),
    )


def _weighted(weights: Sequence[Fraction], percents: Sequence[Fraction]) -> Fraction:
    products = [weight * percent for weight, percent in zip(weights, percents, strict=True)]
    return sum(products, Fraction(0)) / sum(weights, Fraction(0))


def _sitting_mark(one: _Sat) -> SittingMark:
    says = "absent" if one.absent else "pending" if one.waits else ""
    known = one.is_marked and one.least == one.most
    return SittingMark(one.sitting.id, float(one.least) if known else None, one.attempt, says)


def _outcomes(school: School, sat: Sequence[_Sat]) -> Iterator[OutcomeShown]:
    """Every outcome that the school's sittings assess, in the order of the lessons."""
    got: dict[str, list[Fraction]] = {}
    ways: dict[str, set[Way]] = {}
    waiting = set()
    for one in sat:
        for part in one.outcome_parts:
            ways.setdefault(part.outcome, set()).add(Way.of(one.sitting))
            tally = got.setdefault(part.outcome, [Fraction(0), Fraction(0)])
            tally[0] += part.marks or 0
            tally[1] += part.out_of
            if part.marks is None:
                waiting.add(part.outcome)
    for outcome, lesson in _by_lesson(got).items():
        marks, out_of = got[outcome]
        if out_of:
            share = marks / out_of
            shown = 100 * share >= exact(school.outcome_percent)
            how = tuple(way for way in Way if way in ways[outcome])
            yield OutcomeShown(outcome, lesson, float(share), shown, outcome in waiting, how)


def _by_lesson(outcomes: Mapping[str, Any]) -> dict[str, str]:
    """Outcomes in the order of the lessons, each with its lesson, then those of tasks; those of no lesson behind."""
    ordered = {str(outcome): lesson for lesson in LESSONS for outcome in outcomes_of(lesson) if outcome in outcomes}
    ordered |= {task.outcome: task.lesson for task in TASKS.values() if task.outcome in outcomes}
    return ordered | {outcome: "" for outcome in outcomes if outcome not in ordered}


def _failed_must_pass(school: School, sat: Sequence[_Sat]) -> Iterator[str]:
    """Parts that must be right and are not: of papers where the school's rule asks for them, of tasks always."""
    for one in sat:
        for part in one.parts if school.must_pass or one.sitting.observed else ():
            if part.must_pass and part.marks is not None and part.marks < part.out_of:
                yield f"{one.sitting.title}, {part.name} ({part.title})"


def _against(
    school: School,
    sat: Sequence[_Sat],
    percent: Fraction,
    outcomes: Sequence[OutcomeShown],
    failed: Sequence[str],
) -> Iterator[str]:
    """What stands between a candidate whose marks are all known and competence."""
    if percent < exact(school.pass_percent):
        yield f"{floored(float(percent))} % overall, below the pass mark of {needed(school.pass_percent)} %"
    for one in sat:
        if one.least < exact(school.sitting_percent):
            low, least = floored(float(one.least)), needed(school.sitting_percent)
            yield f"{one.sitting.title}: {low} %, below the {least} % that each sitting needs"
    if failed:
        yield _not_right(failed)
    not_shown = [outcome.named.removesuffix(".") for outcome in outcomes if not outcome.shown]
    if school.every_outcome and not_shown:
        yield f"Not shown yet: {'; '.join(not_shown)}"


def _in_favour(
    school: School, sat: Sequence[_Sat], percent: Fraction, outcomes: Sequence[OutcomeShown]
) -> Iterator[str]:
    yield f"{floored(float(percent))} % overall, pass mark {needed(school.pass_percent)} %"
    asked = [one for one in sat if school.must_pass or one.sitting.observed]
    if count := sum(part.must_pass for one in asked for part in one.parts):
        yield "The one part that must be right is right" if count == 1 else f"All {count} parts that must be right are"
    shown = sum(outcome.shown for outcome in outcomes)
    yield f"{shown} of {len(outcomes)} outcomes shown"


def _foreseen(school: School, least: Fraction, most: Fraction, failed: Sequence[str]) -> Iterator[str]:
    """What is sure already, whatever is still to come."""
    if most < exact(school.pass_percent):
        yield f"Cannot reach the pass mark any more: {floored(float(most))} % at most"
    elif least != most and (least, most) != (0, 100):
        yield f"Between {floored(float(least))} and {floored(float(most))} % overall, by what is still to come"
    if failed:
        yield _not_right(failed)


def _not_right(failed: Sequence[str]) -> str:
    return f"Must be right and {'is' if len(failed) == 1 else 'are'} not: {'; '.join(failed)}"


def rule_in_words(school: School) -> tuple[str, ...]:
    """The school's rule, a sentence a line."""
    needs = [f"at least {needed(school.pass_percent)} % overall"]
    if school.sitting_percent:
        needs.append(f"at least {needed(school.sitting_percent)} % in each sitting")
    if school.must_pass:
        needs.append("every safety part right that must be right")
    if any(sitting.observed for sitting in school.sittings):
        needs.append("no critical step of a task missed or done only after a prompt")
    if school.every_outcome:
        needs.append("every outcome shown")
    lines = [f"Competent is who has {' and '.join(needs)}."]
    weights = {sitting.weight for sitting in school.sittings}
    if len(school.sittings) > 1:
        if len(weights) == 1:
            lines.append("The overall percentage is the mean of the sittings' percentages; each counts the same.")
        else:
            said = ", ".join(f"{needed(sitting.weight)} for {sitting.title}" for sitting in school.sittings)
            lines.append(f"The overall percentage is the mean of the sittings' percentages, with weights: {said}.")
    lines.append(
        f"An outcome is shown by {needed(school.outcome_percent)} % of the marks of its parts in all sittings."
    )
    lines.append(f"Of several attempts at a sitting the {school.resit} one with marks counts.")
    lines.append("Percentages are cut, never rounded up.")
    return tuple(lines)


# Pages ----------------------------------------------------------------------------------------------------------------


def write_decisions(
    school: School, decisions: Sequence[Decision], gone: Sequence[str] = (), names: bool = False, state: str = ""
) -> Path:
    """Write records/decisions.csv and .xlsx, and the page to sign, records/decisions.html; gives the page's path.

    Candidates' names stand beside their ids if ``names`` is true; ``gone`` are those about whom nothing is decided.
    ``state`` is the state code of the school's books, where they are open already.

    Raises: :class:`GraderError` where there is nobody to decide about.
    """
    if not decisions:
        raise GraderError(f"{school.roster_file}: nobody to decide about; write the candidates into it")
    table = school.records / "decisions.csv"
    write_tables(table, _rows(school, decisions, names), "Decisions")
    text = filled(
        "reports/decisions.html",
        school=school,
        decisions=decisions,
        gone=gone,
        names=names,
        rule=rule_in_words(school),
        let_through=let_through(school),
        with_nothing=passed_with_nothing(decisions),
        waits=_who_waits(decisions),
        tally=[(verdict, sum(one.verdict is verdict for one in decisions)) for verdict in Verdict],
        outcomes={each.outcome: _heading(each) for one in decisions for each in one.outcomes},
        blocks=[decisions[start : start + ABREAST] for start in range(0, len(decisions), ABREAST)],
        by_outcome={one.candidate.id: {each.outcome: each for each in one.outcomes} for one in decisions},
        floored=floored,
        of_hundred=of_hundred,
        shown_by=lambda block, outcome: sum(
            each.shown for one in block for each in one.outcomes if each.outcome == outcome
        ),
        needed=needed,
        state=state or state_of(school).code,
        digest=hashlib.sha256(table.read_bytes()).hexdigest(),
    )
    path = school.records / "decisions.html"
    write_text(path, text)
    return path


def _heading(outcome: OutcomeShown) -> str:
    """Under what an outcome stands: its lesson, and how it was assessed where that is not on paper alone."""
    lesson = LESSONS[outcome.lesson].title if outcome.lesson in LESSONS else "Of no lesson"
    return lesson if outcome.ways == (Way.PAPER,) else f"{lesson}, {in_words(outcome.ways)}"


def _who_waits(decisions: Sequence[Decision]) -> dict[str, tuple[str, ...]]:
    """What is waited for, each with the ids of those who wait."""
    waits: dict[str, tuple[str, ...]] = {}
    for one in decisions:
        for line in one.waits:
            waits[line] = (*waits.get(line, ()), one.candidate.id)
    return waits


def _rows(school: School, decisions: Sequence[Decision], names: bool) -> Iterator[tuple[Any, ...]]:
    outcomes = list(dict.fromkeys(each.named for one in decisions for each in one.outcomes))
    sittings = [sitting.id for sitting in school.sittings]
    yield (
        *("id", *(("name",) if names else ()), "verdict", "percent", "least", "most"),
        *(f"percent of {sitting}" for sitting in sittings),
        *("must-pass parts failed", "sittings missing", "arrangements", "why", "outcomes shown", "of outcomes"),
        *(f"share: {outcome}" for outcome in outcomes),
    )
    for one in decisions:
        share = {each.named: of_hundred(each.share) for each in one.outcomes}
        yield (
            *(one.candidate.id, *((one.candidate.name,) if names else ()), str(one.verdict)),
            *("" if one.percent is None else floored(one.percent), floored(one.least), floored(one.most)),
            *("" if each.percent is None else floored(each.percent) for each in one.sittings),
            *(" | ".join(one.failed_must_pass), " ".join(one.missing), "; ".join(one.arrangements)),
            *(" | ".join(one.why), sum(each.shown for each in one.outcomes), len(one.outcomes)),
            *(share.get(outcome, "") for outcome in outcomes),
        )


def decide_and_write(school: School, names: bool = False) -> tuple[list[Decision], Path, State]:
    """Decide, from marks that are held against the log, and write the page to sign; the caller holds the school."""
    books = read_books(school).must_hold()
    found = gather(school, books)
    state = state_of(school, books.register, books.log)
    decisions = decide(school, found)
    return decisions, write_decisions(school, decisions, off_roster(found), names, state.code), state
