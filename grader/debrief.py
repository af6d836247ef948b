"""The evening debrief: what a sitting's marks say about tomorrow's lesson, the candidates and the exercises.

Shares and correlations are those of classical test theory: the facility of a part is the mean of its marks over its
maximum, its discrimination the correlation between its marks and those of the rest of the paper.
"""

from __future__ import annotations

import io
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from exercises import LESSONS, outcomes_of
from exercises.model import Choice, Chosen, Exercise, Numeric
from exercises.model.answers import UnreadableAnswer, read_number
from exercises.model.marking import ItemMark, Rule
from exercises.model.variant import Variant
from grader.csv_files import write_csv
from grader.errors import GraderError
from grader.files import write_text
from grader.marking import MarkedExercise, part_of
from grader.papers import item_name
from grader.results import Result
from grader.school import School, Sitting
from pitside.errors import CalculationError
from pitside.unit_names import read_unit
from pitside.units import Quantity

#: With fewer scripts a correlation is chance, and so are a very easy and a very hard part.
FEWEST_FOR_STATISTICS = 10
TOO_EASY, TOO_HARD = 0.97, 0.2
LEAST_DISCRIMINATION = 0.1
#: Wrong answers count as one and the same where their ratios to the right answer lie within this share.
SAME_RATIO = 0.01
#: How many candidates make a shared wrong answer worth a look, at least, and as a share of the scripts.
FEWEST_SHARING, SHARE_SHARING = 3, 0.1
#: Slips that are named for tomorrow.
MOST_TO_TEACH = 8


@dataclass(frozen=True)
class SlipMade:
    """A usual mistake of an exercise, who made it, in which parts, and what it cost them together."""

    exercise: Exercise
    name: str
    parts: tuple[str, ...]
    advice: str
    candidates: tuple[str, ...]
    marks_lost: float

    @property
    def lesson(self) -> str:
        return self.exercise.lesson


@dataclass(frozen=True)
class SharedAnswer:
    """A wrong answer that no slip of the mark scheme explains and that several candidates gave."""

    item: str
    times: float
    candidates: tuple[str, ...]


@dataclass(frozen=True)
class PartStudy:
    """What the scripts say of one part of the paper; shares from 0 to 1, None where too few say anything."""

    name: str
    exercise: Exercise
    out_of: float
    scripts: int
    facility: float
    discrimination: float | None
    omitted: float
    shared: tuple[SharedAnswer, ...]

    @property
    def odd(self) -> tuple[str, ...]:
        """What should be looked at, in plain words."""
        said = []
        for one in self.shared:
            said.append(
                f"{len(one.candidates)} candidates gave {one.times:.3g} times the right answer to {one.item}, which is "
                "no slip that the mark scheme knows: a slip to add, or a fault in the exercise"
            )
        if self.scripts >= FEWEST_FOR_STATISTICS:
            if self.facility <= TOO_HARD:
                said.append("hardly anybody can do it: taught badly, asked badly, or marked wrongly")
            if self.facility >= TOO_EASY:
                said.append("nearly everybody can do it: it tells nobody apart")
            if self.discrimination is not None and self.discrimination < 0:
                said.append("those who do well otherwise do worse here: look for a fault in the question or its marks")
            elif self.discrimination is not None and self.discrimination < LEAST_DISCRIMINATION:
                said.append("it hardly tells the able from the others")
        return tuple(said)


@dataclass(frozen=True)
class OutcomeStudy:
    """How far a learning outcome was shown: the mean share of its marks, and who reached the pass mark in it."""

    outcome: str
    lesson: str
    mastery: float
    shown: tuple[str, ...]
    not_yet: tuple[str, ...]


@dataclass(frozen=True)
class HelpWanted:
    """A candidate who is to be helped: their share of the marks, outcomes that are not shown, and slips made."""

    candidate: str
    percent: float
    outcomes: tuple[str, ...]
    slips: tuple[str, ...]


@dataclass(frozen=True)
class Debrief:
    """What one sitting says. ``percents`` are the scripts' marks of a hundred, by candidate."""

    sitting: Sitting
    candidates: int
    percents: Mapping[str, float]
    pending: tuple[str, ...]
    parts: tuple[PartStudy, ...]
    slips: tuple[SlipMade, ...]
    outcomes: tuple[OutcomeStudy, ...]
    helped: tuple[HelpWanted, ...]

    @property
    def to_teach(self) -> tuple[SlipMade, ...]:
        return self.slips[:MOST_TO_TEACH]

    @property
    def odd(self) -> tuple[PartStudy, ...]:
        return tuple(part for part in self.parts if part.odd)


def debrief(school: School, sitting: Sitting, results: Sequence[Result]) -> Debrief:
    """Study the marked scripts of a sitting.

    Raises: :class:`GraderError` where there is none yet.
    """
    sat = [result for result in results if result.sitting.id == sitting.id]
    marked = [result for result in sat if result.record and result.variants and result.counts]
    if not marked:
        raise GraderError(f"{school.scripts}: no marked script of sitting {sitting.id}; mark some first: pitside mark")
    marks = {result.candidate.id: result.record.part_marks for result in marked if result.record}
    percents = {result.candidate.id: result.percent for result in marked}
    slips = _slips(marked)
    outcomes = _outcomes(school, marked, marks)
    return Debrief(
        sitting=sitting,
        candidates=len({result.candidate.id for result in sat}),
        percents=percents,
        pending=tuple(result.candidate.id for result in marked if result.record and result.record.pending),
        parts=tuple(_parts(marked, marks)),
        slips=slips,
        outcomes=outcomes,
        helped=tuple(_helped(school, percents, outcomes, slips)),
    )


def _exercises(result: Result) -> Iterator[tuple[int, Variant, MarkedExercise]]:
    assert result.record
    for number, (variant, marked) in enumerate(zip(result.variants, result.record.exercises, strict=True), 1):
        yield number, variant, marked


def _parts(marked: Sequence[Result], marks: Mapping[str, Mapping[str, float | None]]) -> Iterator[PartStudy]:
    first = marked[0]
    shared = _shared_answers(marked)
    for number, variant, _ in _exercises(first):
        for part in variant.exercise.parts:
            name = item_name(number, part.key)
            out_of = sum(item.marks.total for item in part.items())
            judged = [own for own in marks.values() if own[name] is not None]
            if not judged or not out_of:
                continue
            scores = np.array([own[name] for own in judged], dtype=float)
            rest = np.array([sum(v for key, v in own.items() if key != name and v is not None) for own in judged])
            blank = [_left_out(result, number, part.key) for result in marked]
            yield PartStudy(
                name=name,
                exercise=variant.exercise,
                out_of=out_of,
                scripts=len(judged),
                facility=float(scores.mean() / out_of),
                discrimination=_correlation(scores, rest),
                omitted=sum(blank) / len(blank),
                shared=tuple(one for one in shared if one.item.partition(".")[0] == name),
            )


def _left_out(result: Result, number: int, part: str) -> bool:
    """Whether a candidate answered nothing of a part."""
    items = next(marked.items for n, _, marked in _exercises(result) if n == number)
    return all(item.rule is Rule.BLANK for item in items if part_of(item) == part)


def _correlation(scores: np.ndarray, rest: np.ndarray) -> float | None:
    """Pearson's correlation; None with too few scripts, or where all have the same marks."""
    if len(scores) < FEWEST_FOR_STATISTICS or np.ptp(scores) == 0 or np.ptp(rest) == 0:
        return None
    return float(np.corrcoef(scores, rest)[0, 1])


def _slips(marked: Sequence[Result]) -> tuple[SlipMade, ...]:
    """The usual mistakes that were made, those that cost the most marks first."""
    made: dict[tuple[int, str], list[tuple[str, ItemMark]]] = defaultdict(list)
    exercises: dict[int, Exercise] = {}
    for result in marked:
        for number, variant, one in _exercises(result):
            exercises[number] = variant.exercise
            for item in one.items:
                if name := _slip_name(variant, item):
                    made[number, name].append((result.candidate.id, item))
    found = []
    for (number, name), items in made.items():
        parts = dict.fromkeys(item_name(number, item.item) for _, item in items)
        lost = sum(item.out_of - item.marks for _, item in items)
        people = tuple(dict.fromkeys(candidate for candidate, _ in items))
        advice = items[0][1].comment
        found.append(SlipMade(exercises[number], name, tuple(parts), advice, people, lost))
    return tuple(sorted(found, key=lambda slip: (-slip.marks_lost, -len(slip.candidates), slip.name)))


def _slip_name(variant: Variant, mark: ItemMark) -> str:
    """The mistake behind a mark, in a few words; empty where none is known."""
    match mark.rule:
        case Rule.SLIP | Rule.FACTOR:
            return mark.slip or str(mark.rule)
        case Rule.SIGN | Rule.UNIT | Rule.ROUNDED:
            return str(mark.rule)
        case Rule.WRONG if isinstance(variant.exercise.item(mark.item), Choice):
            return f"option {mark.given} chosen"
    return mark.slip


def _shared_answers(marked: Sequence[Result]) -> list[SharedAnswer]:
    """Unexplained wrong numbers that stand in one ratio to the right answer on several papers."""
    ratios: dict[str, list[tuple[float, str]]] = defaultdict(list)
    for result in marked:
        for number, variant, one in _exercises(result):
            for mark in one.items:
                ratio = _ratio(variant, mark)
                if mark.rule is Rule.WRONG and ratio is not None:
                    ratios[item_name(number, mark.item)].append((ratio, result.candidate.id))
    wanted = max(FEWEST_SHARING, math.ceil(SHARE_SHARING * len(marked)))
    found = []
    for item, pairs in ratios.items():
        best: list[tuple[float, str]] = []
        for middle, _ in pairs:
            near = [pair for pair in pairs if abs(pair[0] / middle - 1) <= SAME_RATIO]
            best = max(best, near, key=len)
        if len(best) >= wanted:
            found.append(SharedAnswer(item, float(np.median([r for r, _ in best])), tuple(c for _, c in best)))
    return found


def _ratio(variant: Variant, mark: ItemMark) -> float | None:
    """A number over the right one on the same paper, or None where there is no such thing."""
    item = variant.exercise.item(mark.item)
    if not isinstance(item, Numeric) or isinstance(item, Chosen) or mark.value is None:
        return None
    try:
        unit = read_unit(mark.unit or variant.unit(item))
        ratio = Quantity(read_number(mark.value), unit) / variant.key[item.key]
        value = float(ratio.to("dimensionless").magnitude)
    except (UnreadableAnswer, CalculationError, ValueError, ZeroDivisionError, TypeError):
        return None
    return value if math.isfinite(value) and value != 0 else None


def _outcomes(
    school: School, marked: Sequence[Result], marks: Mapping[str, Mapping[str, float | None]]
) -> tuple[OutcomeStudy, ...]:
    lesson_of = {outcome: lesson for lesson in LESSONS for outcome in outcomes_of(lesson)}
    got: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(lambda: [0.0, 0.0]))
    for result in marked:
        own = marks[result.candidate.id]
        for number, variant, _ in _exercises(result):
            for part in variant.exercise.parts:
                value = own[item_name(number, part.key)]
                if value is not None:
                    tally = got[part.outcome][result.candidate.id]
                    tally[0] += value
                    tally[1] += sum(item.marks.total for item in part.items())
    found = []
    for outcome, people in got.items():
        shares = {candidate: a / b for candidate, (a, b) in people.items() if b}
        shown = tuple(c for c, share in shares.items() if 100 * share >= school.pass_percent)
        found.append(
            OutcomeStudy(
                outcome=str(outcome),
                lesson=lesson_of.get(outcome, ""),
                mastery=sum(shares.values()) / len(shares),
                shown=shown,
                not_yet=tuple(c for c in shares if c not in shown),
            )
        )
    return tuple(sorted(found, key=lambda one: one.mastery))


def _helped(
    school: School, percents: Mapping[str, float], outcomes: Sequence[OutcomeStudy], slips: Sequence[SlipMade]
) -> Iterator[HelpWanted]:
    """Those below the pass mark, the lowest first."""
    for candidate, percent in sorted(percents.items(), key=lambda pair: pair[1]):
        if percent < school.pass_percent:
            yield HelpWanted(
                candidate,
                percent,
                tuple(one.outcome for one in outcomes if candidate in one.not_yet),
                tuple(slip.name for slip in slips if candidate in slip.candidates),
            )


# Pages ----------------------------------------------------------------------------------------------------------------


def write_debrief(school: School, found: Debrief, names: Mapping[str, str], book: Path | None) -> Path:
    """Write records/debrief_<sitting>.html and the parts as CSV; gives the page's path.

    ``names`` are shown beside the ids where they are given; ``book`` is the built book's folder, to link its lessons.
    """
    pages = Environment(loader=PackageLoader("grader"), autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    lessons = {
        lesson.id: (lesson.title, (book / "lessons" / f"{lesson.id}.html").absolute().as_uri() if book else "")
        for lesson in LESSONS.values()
    }
    values = np.array(list(found.percents.values()))
    page = pages.get_template("debrief.html").render(
        school=school,
        found=found,
        lessons=lessons,
        who=lambda ids: ", ".join(f"{one} {names[one]}" if names.get(one) else one for one in ids),
        scripts=len(values),
        mean=float(values.mean()),
        middle=float(np.median(values)),
        lowest=float(values.min()),
        highest=float(values.max()),
        reached=int((values >= school.pass_percent).sum()),
        spread=Markup(_spread(values, school.pass_percent)),
        spread_words=_spread_words(values),
        parts_plot=Markup(_bars([(part.name, part.facility) for part in found.parts], "share of the marks (%)")),
    )
    path = school.records / f"debrief_{found.sitting.id}.html"
    write_text(path, page)
    write_csv(school.records / f"parts_{found.sitting.id}.csv", _parts_rows(found))
    return path


def _parts_rows(found: Debrief) -> Iterator[tuple[Any, ...]]:
    yield "part", "exercise", "marks", "scripts", "facility", "discrimination", "omitted", "look at"
    for part in found.parts:
        discrimination = "" if part.discrimination is None else round(part.discrimination, 4)
        shares = (round(part.facility, 4), discrimination, round(part.omitted, 4))
        yield part.name, part.exercise.id, part.out_of, part.scripts, *shares, " | ".join(part.odd)


_EDGES = np.arange(0, 101, 10)


def _counts(values: np.ndarray) -> np.ndarray:
    return np.histogram(values, _EDGES)[0]


def _spread_words(values: np.ndarray) -> str:
    """The histogram in words."""
    pairs = zip(_EDGES, _counts(values), strict=False)
    return "Scripts by marks: " + "; ".join(f"{low} to {low + 10} %: {count}" for low, count in pairs if count) + "."


def _spread(values: np.ndarray, pass_percent: float) -> str:
    figure, axes = _figure(6.4, 2.6)
    axes.bar(_EDGES[:-1] + 5, _counts(values), width=9, color="0.35", edgecolor="black")
    axes.axvline(pass_percent, color="black", linestyle="--", linewidth=1.4)
    axes.annotate(" pass mark", (pass_percent, 1), xycoords=("data", "axes fraction"), va="top")
    axes.set_xlim(0, 100)
    axes.set_xticks(_EDGES)
    axes.set_xlabel("marks (%)")
    axes.set_ylabel("scripts")
    axes.yaxis.get_major_locator().set_params(integer=True)
    return _svg(figure, _spread_words(values))


def _bars(shares: Sequence[tuple[str, float]], label: str) -> str:
    figure, axes = _figure(6.4, 0.6 + 0.26 * len(shares))
    axes.barh([name for name, _ in shares], [100 * share for _, share in shares], color="0.35", edgecolor="black")
    for at, (_, share) in enumerate(shares):
        axes.annotate(f" {100 * share:.0f}", (100 * share, at), va="center", fontsize=9)
    axes.invert_yaxis()
    axes.set_xlim(0, 108)
    axes.set_xticks(range(0, 101, 20))
    axes.set_xlabel(label)
    return _svg(figure, "The facility of each part; the numbers stand in the table of parts.")


def _figure(width: float, height: float) -> Any:
    from matplotlib.figure import Figure  # takes half a second to load

    figure = Figure(figsize=(width, height), layout="constrained")
    axes = figure.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def _svg(figure: Any, says: str) -> str:
    """The figure as an image that stands by itself in a page, on white, in greys."""
    import base64
    from html import escape

    from matplotlib import rc_context

    buffer = io.StringIO()
    with rc_context({"svg.hashsalt": "pitside", "svg.fonttype": "path"}):
        figure.savefig(buffer, format="svg", metadata={"Date": None})
    data = base64.b64encode(buffer.getvalue().encode()).decode()
    return f'<img class="chart" alt="{escape(says)}" src="data:image/svg+xml;base64,{data}">'
