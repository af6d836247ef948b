"""The evening debrief: what a sitting's marks say about tomorrow's lesson, the candidates and the exercises.

Shares and correlations are those of classical test theory: the facility of a part is the mean of its marks over its
maximum, its discrimination the correlation between its marks and those of the rest of the paper.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from exercises import LESSONS, outcomes_of
from exercises.model import By, Choice, Chosen, Exercise, Numeric, Order, Watched
from exercises.model.answers import UnreadableAnswer, read_number
from exercises.model.marking import UNEXPLAINED, ItemMark, Rule, cannot_be
from exercises.model.numbers import in_system
from exercises.model.text import names_in
from exercises.model.variant import Variant
from grader.marking.record import part_of
from grader.pages.pages import filled
from grader.reports import charts
from grader.reports.item_statistics import Estimate
from grader.reports.part_scores import PartFigures, PartId, ScoredScript, discrimination_of, figures, scored
from grader.reports.results import Result, gather
from grader.store.csv_files import write_tables
from grader.store.errors import GraderError
from grader.store.files import write_text
from grader.store.part_marks import item_name
from grader.store.percents import exact, floored
from grader.store.school import School, Sitting
from pitside.errors import CalculationError
from pitside.unit_names import read_unit
from pitside.units import Quantity

#: Wrong answers count as one and the same where their ratios to the right answer lie within this share.
SAME_RATIO = 0.01
#: From this ratio on, or under its inverse, a wrong answer is no working that anybody was taught.
_NO_WORKING = 1e100
#: How many candidates make a shared wrong answer worth a look, at least, and as a share of the scripts.
FEWEST_SHARING, SHARE_SHARING = 3, 0.1
#: Slips that are named for tomorrow.
MOST_TO_TEACH = 8
#: Mistakes that are named beside each who needs help.
MOST_BESIDE = 4
#: How the name of a mistake at a critical step begins.
CRITICAL = "Critical: "
#: What to tell of mistakes that no exercise has to know by itself.
ADVICE = {
    Rule.FACTOR: "Look through the conversions and powers of ten.",
    Rule.UNIT: "Write the unit that the number is in, and see that it measures what is asked.",
    Rule.NOT_CONVERTED: "Answer in the unit that the question names: converting was the question.",
    Rule.IMPOSSIBLE: "Look at each answer before you write it down: can a mud, a tank or a share be like that?",
    Rule.SIGN: "Say in words which way the change goes, and see that the sign says the same.",
    Rule.ROUNDED: "Keep the figures to the end, and give so many that the answer can be told from its neighbours.",
}


@dataclass(frozen=True)
class Mistake:
    """What a candidate did, in a few words, and what to tell them; ``own_numbers`` if it speaks of their numbers."""

    name: str
    advice: str
    own_numbers: bool = False


@dataclass(frozen=True)
class SlipMade:
    """A usual mistake of an exercise, who made it, in which parts, and what it cost them together.

    ``numbers_of`` is whose numbers the advice speaks of, empty where it speaks of none.
    """

    exercise: Exercise
    name: str
    parts: tuple[str, ...]
    advice: str
    numbers_of: str
    candidates: tuple[str, ...]
    marks_lost: float

    @property
    def lesson(self) -> str:
        return self.exercise.lesson

    @property
    def critical(self) -> bool:
        """Whether it is a critical step that was missed, or done only after a prompt."""
        return self.name.startswith(CRITICAL)


@dataclass(frozen=True)
class SharedAnswer:
    """A wrong answer that no slip of the mark scheme explains and that several candidates gave."""

    item: str
    times: float
    candidates: tuple[str, ...]


@dataclass(frozen=True)
class NotNoticed:
    """Who gave an answer to an item that cannot be and wrote it down all the same; ``says`` is what to tell them."""

    item: str
    exercise: Exercise
    says: str
    candidates: tuple[str, ...]


@dataclass(frozen=True)
class PartStudy:
    """What the scripts say of one part of the paper."""

    id: PartId
    name: str
    exercise: Exercise
    figures: PartFigures
    shared: tuple[SharedAnswer, ...]

    @property
    def odd(self) -> tuple[str, ...]:
        """What should be looked at, in plain words."""
        shared = [
            f"{len(one.candidates)} candidates gave {one.times:.3g} times the right answer to {one.item}, which is "
            "no slip that the mark scheme knows: a slip to add, or a fault in the exercise"
            for one in self.shared
        ]
        return (*shared, *(why for _, why in self.figures.odd))

    @property
    def oddness(self) -> int:
        """How much it should be looked at; nought where nothing is odd."""
        return max([0, *(much for much, _ in self.figures.odd), *(2 for _ in self.shared)])


@dataclass(frozen=True)
class OutcomeStudy:
    """How far a learning outcome was shown: the mean share of its marks, and who reached the mark that shows it."""

    outcome: str
    lesson: str
    mastery: float
    shown: tuple[str, ...]
    not_yet: tuple[str, ...]


@dataclass(frozen=True)
class HelpWanted:
    """A candidate who is to be helped: their share of the marks, outcomes that are not shown, and slips made.

    ``percent`` is None while parts of the script wait for hand marks.
    """

    candidate: str
    percent: float | None
    outcomes: tuple[str, ...]
    slips: tuple[str, ...]


@dataclass(frozen=True)
class Debrief:
    """What one sitting says. ``percents`` are the marks of a hundred, by candidate, of scripts that are wholly marked.

    Parts that wait for hand marks are left out of all of it, and whoever has such, as ``pending`` says, out of what is
    said of whole scripts and of the outcomes of these parts. ``without`` are those
    who have no marks, each with the reason, and ``left_out`` those whose mark scheme is not to be had any more.
    """

    sitting: Sitting
    percents: Mapping[str, float]
    pending: tuple[str, ...]
    without: tuple[tuple[str, str], ...]
    left_out: tuple[str, ...]
    parts: tuple[PartStudy, ...]
    slips: tuple[SlipMade, ...]
    outcomes: tuple[OutcomeStudy, ...]
    helped: tuple[HelpWanted, ...]
    not_noticed: tuple[NotNoticed, ...] = ()

    @property
    def to_teach(self) -> tuple[SlipMade, ...]:
        return self.slips[:MOST_TO_TEACH]

    @property
    def odd(self) -> tuple[PartStudy, ...]:
        """The parts to look at, those that are most so first; of equals, those that tell the able apart least."""
        return tuple(sorted((p for p in self.parts if p.odd), key=lambda p: (-p.oddness, discrimination_of(p.figures))))


def debrief(school: School, sitting: Sitting, results: Sequence[Result]) -> Debrief:
    """Study the marked scripts of a sitting.

    Raises: :class:`GraderError` where there is none yet.
    """
    sat = [result for result in results if result.sitting.id == sitting.id and result.counts]
    scripts = {script.candidate: script for script in scored(sat)}
    marked = [r for r in sat if r.record and r.variants and scripts[r.candidate.id].percent is not None]
    if not marked:
        raise GraderError(
            f"{school.folder}: no script of sitting {sitting.id} has marks that can be looked into; mark first: "
            f"pitside mark {school.here}"
        )
    chosen = [scripts[result.candidate.id] for result in marked]
    final = {result.candidate.id for result in marked if result.is_final}
    percents = {one.candidate: one.percent for one in chosen if one.percent is not None and one.candidate in final}
    slips = _slips(marked, scripts)
    outcomes = _outcomes(school, marked, scripts)
    return Debrief(
        sitting=sitting,
        percents=percents,
        pending=tuple(result.candidate.id for result in sat if result.record and result.record.pending),
        without=tuple(_without(school, sat)),
        left_out=tuple(result.candidate.id for result in sat if result.record and not result.variants),
        parts=tuple(_parts(marked, chosen)),
        slips=slips,
        outcomes=outcomes,
        helped=(
            *_helped(school, percents, outcomes, slips),
            *_not_shown_yet([one.candidate for one in chosen if one.candidate not in final], outcomes, slips),
        ),
        not_noticed=_not_noticed(marked),
    )


def _without(school: School, sat: Sequence[Result]) -> Iterator[tuple[str, str]]:
    """Who has no marks, and why: the reason of an absence where the school has noted one."""
    reasons = {(absence.candidate, absence.sitting): absence.reason for absence in school.absences}
    for result in sat:
        if not result.record:
            yield result.candidate.id, reasons.get((result.candidate.id, result.sitting.id)) or result.status


def _parts(marked: Sequence[Result], scripts: Sequence[ScoredScript]) -> Iterator[PartStudy]:
    shared = _shared_answers(marked)
    exercises = {variant.exercise.id: variant.exercise for result in marked for variant in result.variants}
    for part in dict.fromkeys(part for script in scripts for part in script.parts):
        found = figures(part, [scripts])
        if found:
            name = next(script.parts[part].name for script in scripts if part in script.parts)
            exercise = exercises[part.exercise]
            own = tuple(one for one in shared.get(part.exercise, ()) if one.item.partition(".")[0] == name)
            yield PartStudy(part, name, exercise, found, own)


def _slips(marked: Sequence[Result], scripts: Mapping[str, ScoredScript]) -> tuple[SlipMade, ...]:
    """The usual mistakes that were made, critical steps first, then those that cost the most marks."""
    made: dict[tuple[str, str], list[tuple[str, str, Mistake, float]]] = defaultdict(list)
    exercises: dict[str, Exercise] = {}
    for result in marked:
        by_name = {score.name: score for score in scripts[result.candidate.id].parts.values()}
        for number, variant, one in result.exercises:
            exercises[variant.exercise.id] = variant.exercise
            for item in one.items:
                mistake = _mistake(variant, item)
                score = by_name.get(item_name(number, part_of(item)))
                if mistake and score:
                    # Marks given by hand or changed later have mended the loss, in full or to some extent.
                    lost = min(item.out_of - item.marks, score.out_of - (score.marks or 0))
                    name = item_name(number, item.item)
                    made[variant.exercise.id, mistake.name].append((result.candidate.id, name, mistake, max(0, lost)))
    found = []
    for (exercise, name), times in made.items():
        # Advice without anybody's numbers in it, where somebody's mistake has such.
        told = next((one for one in times if not one[2].own_numbers), times[0])
        found.append(
            SlipMade(
                exercise=exercises[exercise],
                name=name,
                parts=tuple(dict.fromkeys(item for _, item, _, _ in times)),
                advice=told[2].advice,
                numbers_of=told[0] if told[2].own_numbers else "",
                candidates=tuple(dict.fromkeys(candidate for candidate, _, _, _ in times)),
                marks_lost=sum(lost for _, _, _, lost in times),
            )
        )
    return tuple(
        sorted(found, key=lambda slip: (not slip.critical, -slip.marks_lost, -len(slip.candidates), slip.name))
    )


def _mistake(variant: Variant, mark: ItemMark) -> Mistake | None:
    """The mistake behind a mark, where one is known."""

    def told(name: str, advice: str | By[str]) -> Mistake:
        return Mistake(name, variant.text(advice), bool(names_in(in_system(advice, variant.system))))

    item = variant.exercise.item(mark.item)
    if mark.rule in ADVICE:
        return Mistake(mark.slip or str(mark.rule), ADVICE[mark.rule])
    if mark.rule not in (Rule.SLIP, Rule.PARTLY):
        return None
    match item:
        case Numeric():
            return next((told(slip.name, slip.advice) for slip in item.slips if slip.name == mark.slip), None)
        case Chosen():
            return next((told(limit.name, limit.advice) for limit in item.limits if limit.name == mark.slip), None)
        case Choice():
            for option in item.options:
                if mark.slip == f"option {item.letter(option.key)}":
                    return told(f"{mark.slip} chosen (“{variant.text(option.text).rstrip('.')}”)", option.advice)
        case Watched():
            step = variant.text(item.ask).rstrip(".")
            return told(f"{CRITICAL if item.must_pass else ''}“{step}” {mark.slip}", item.advice)
        case Order():
            for rule in item.rules:
                if mark.slip == f"{rule.then} before {rule.first}":
                    first, then = (variant.text(item.steps[step]).rstrip(".") for step in (rule.first, rule.then))
                    return told(f"“{then}” put before “{first}”", rule.advice)
    return None


def _not_noticed(marked: Sequence[Result]) -> tuple[NotNoticed, ...]:
    """The answers that cannot be, those that the most gave first; also where they are marked as any wrong answer."""
    found: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    exercises: dict[str, Exercise] = {}
    for result in marked:
        for number, variant, one in result.exercises:
            exercises[variant.exercise.id] = variant.exercise
            for item in one.items:
                if says := cannot_be(variant, item):
                    found[variant.exercise.id, item_name(number, item.item), says].append(result.candidate.id)
    study = [NotNoticed(item, exercises[exercise], says, tuple(who)) for (exercise, item, says), who in found.items()]
    return tuple(sorted(study, key=lambda one: -len(one.candidates)))


def _shared_answers(marked: Sequence[Result]) -> dict[str, list[SharedAnswer]]:
    """Unexplained wrong numbers that stand in one ratio to the right answer on several papers, by exercise."""
    ratios: dict[tuple[str, str], list[tuple[float, str]]] = defaultdict(list)
    for result in marked:
        for number, variant, one in result.exercises:
            for mark in one.items:
                ratio = _ratio(variant, mark)
                if ratio is not None:
                    name = item_name(number, mark.item)
                    ratios[variant.exercise.id, name].append((ratio, result.candidate.id))
    wanted = max(FEWEST_SHARING, math.ceil(SHARE_SHARING * len(marked)))
    found = defaultdict(list)
    for (exercise, item), pairs in ratios.items():
        left = sorted(pairs)
        while len(near := _most_alike(left)) >= wanted:
            middle = float(np.median([ratio for ratio, _ in near]))
            found[exercise].append(SharedAnswer(item, middle, tuple(sorted(who for _, who in near))))
            left = [pair for pair in left if pair not in near]
    return found


def _most_alike(pairs: Sequence[tuple[float, str]]) -> list[tuple[float, str]]:
    """The longest run of ratios, in rising order, whose ends lie within the share that makes them one."""
    best: tuple[int, int] = (0, 0)
    first = 0
    for last, (ratio, _) in enumerate(pairs, 1):
        while abs(ratio - pairs[first][0]) > SAME_RATIO * min(abs(ratio), abs(pairs[first][0])):
            first += 1
        best = max(best, (first, last), key=lambda run: run[1] - run[0])
    return list(pairs[best[0] : best[1]])


def _ratio(variant: Variant, mark: ItemMark) -> float | None:
    """A number over the right one on the same paper, or None where there is no such thing."""
    item = variant.exercise.item(mark.item)
    if mark.rule not in UNEXPLAINED or not isinstance(item, Numeric) or mark.value is None:
        return None
    try:
        unit = read_unit(mark.unit or variant.unit(item))
        ratio = Quantity(read_number(mark.value), unit) / variant.key[item.key]
        value = float(ratio.to("dimensionless").magnitude)
    except (UnreadableAnswer, CalculationError, ValueError, ArithmeticError, TypeError):
        return None
    return value if 1 / _NO_WORKING < abs(value) < _NO_WORKING else None


def _outcomes(
    school: School, marked: Sequence[Result], scripts: Mapping[str, ScoredScript]
) -> tuple[OutcomeStudy, ...]:
    lesson_of = {outcome: lesson for lesson in LESSONS for outcome in outcomes_of(lesson)}
    parts_of: dict[str, dict[str, list[PartId]]] = defaultdict(lambda: defaultdict(list))
    for result in marked:
        exercises = {variant.exercise.id: variant.exercise for variant in result.variants}
        for part in scripts[result.candidate.id].parts:
            exercise = exercises[part.exercise]
            outcome = next(one.outcome for one in exercise.parts if one.key == part.part)
            lesson_of.setdefault(outcome, exercise.lesson)
            parts_of[outcome][result.candidate.id].append(part)
    found = []
    for outcome, people in parts_of.items():
        asked = {
            candidate: scripts[candidate].share_of(parts)
            for candidate, parts in people.items()
            if all(scripts[candidate].parts[part].marks is not None for part in parts)
        }
        shares = {candidate: share for candidate, share in asked.items() if share is not None}
        if shares:
            shown = tuple(c for c, share in shares.items() if 100 * share >= exact(school.outcome_percent))
            found.append(
                OutcomeStudy(
                    outcome=str(outcome),
                    lesson=lesson_of[outcome],
                    mastery=float(sum(shares.values()) / len(shares)),
                    shown=shown,
                    not_yet=tuple(c for c in shares if c not in shown),
                )
            )
    return tuple(sorted(found, key=lambda one: one.mastery))


def _helped(
    school: School, percents: Mapping[str, float], outcomes: Sequence[OutcomeStudy], slips: Sequence[SlipMade]
) -> Iterator[HelpWanted]:
    """Those below the pass mark or with a critical step missed, the lowest first."""
    missed = {candidate for slip in slips if slip.critical for candidate in slip.candidates}
    for candidate, percent in sorted(percents.items(), key=lambda pair: pair[1]):
        if percent < school.pass_percent or candidate in missed:
            yield HelpWanted(
                candidate,
                percent,
                tuple(one.outcome for one in outcomes if candidate in one.not_yet),
                tuple(slip.name for slip in slips if candidate in slip.candidates),
            )


def _not_shown_yet(
    waiting: Sequence[str], outcomes: Sequence[OutcomeStudy], slips: Sequence[SlipMade]
) -> Iterator[HelpWanted]:
    """Those whose scripts wait for marks and who have not shown an outcome that is wholly marked."""
    for candidate in waiting:
        missing = tuple(one.outcome for one in outcomes if candidate in one.not_yet)
        if missing:
            yield HelpWanted(candidate, None, missing, tuple(s.name for s in slips if candidate in s.candidates))


# Pages ----------------------------------------------------------------------------------------------------------------


def write_debriefs(
    school: School, only: Sitting | None, names: bool, book: Path | None
) -> Iterator[tuple[Sitting, Debrief | GraderError, Path | None]]:
    """Write the debrief of one sitting, or of all that have marks; ``names`` shows names beside ids.

    Where several are written, one that cannot be gives its fault in place of its debrief. Raises: :class:`GraderError`
    where nothing is marked, and where the only one cannot be written. The caller holds the school.
    """
    found = gather(school)
    marked = {result.sitting.id for result in found if result.record}
    chosen = (only,) if only else tuple(sitting for sitting in school.sittings if sitting.id in marked)
    if not chosen:
        raise GraderError(f"{school.records}: nothing is marked yet; mark first: pitside mark {school.here}")
    known = {candidate.id: candidate.name for candidate in school.roster} if names else {}
    for one in chosen:
        try:
            study = debrief(school, one, found)
        except GraderError as error:
            if len(chosen) == 1:
                raise
            yield one, error, None
            continue
        yield one, study, write_debrief(school, study, known, book)


def write_debrief(school: School, found: Debrief, names: Mapping[str, str], book: Path | None) -> Path:
    """Write records/debrief_<sitting>.html and the parts as CSV and workbook; gives the page's path.

    ``names`` are shown beside the ids where they are given; ``book`` is the built book's folder, to link its lessons.
    """
    values = np.array(list(found.percents.values()))
    text = filled(
        "reports/debrief.html",
        school=school,
        found=found,
        lessons={lesson.id: (lesson.title, _page_of(lesson.id, book)) for lesson in LESSONS.values()},
        names=names,
        most_beside=MOST_BESIDE,
        mean=float(values.mean()) if len(values) else None,
        middle=float(np.median(values)) if len(values) else None,
        lowest=float(values.min()) if len(values) else None,
        highest=float(values.max()) if len(values) else None,
        floored=floored,
        reached=int((values >= school.pass_percent).sum()),
        spread=charts.spread(values, school.pass_percent) if len(values) else "",
        spread_words=charts.spread_words(values) if len(values) else "",
        parts_plot=charts.bars(
            [(part.name, 100 * part.figures.facility) for part in found.parts],
            height=0.24,
            label="facility: mean share of the marks (%)",
            says="The facility of each part",
        ),
    )
    path = school.records / f"debrief_{found.sitting.id}.html"
    write_text(path, text)
    write_tables(school.records / f"parts_{found.sitting.id}.csv", _parts_rows(found), "Parts")
    return path


def _page_of(lesson: str, book: Path | None) -> str:
    """The address of a lesson's page in the built book; empty where it is not there."""
    page = book / "lessons" / f"{lesson}.html" if book else None
    return page.absolute().as_uri() if page and page.is_file() else ""


def _parts_rows(found: Debrief) -> Iterator[tuple[Any, ...]]:
    yield (
        "part", "exercise", "version", "marks", "scripts", "facility",
        "discrimination", "discrimination_low", "discrimination_high", "omitted", "unexplained", "look at",
    )  # fmt: skip
    for part in found.parts:
        of = part.figures
        row = (part.name, part.id.exercise, part.id.version, of.out_of, of.scripts, round(of.facility, 4))
        yield *row, *cells(of.discrimination), round(of.omitted, 4), round(of.unexplained, 4), " | ".join(part.odd)


def cells(estimate: Estimate | None) -> tuple[float | str, float | str, float | str]:
    """An estimate and its interval as cells of a table, to four decimals; empty where there is none."""
    if estimate is None:
        return "", "", ""
    return round(estimate.value, 4), round(estimate.low, 4), round(estimate.high, 4)
