"""How far two observers of one candidate at one task agree, and who decides where they do not.

The first observer's word counts until the assessor decides otherwise, by the table that moderation uses: each decision
is a change of marks with a reason, and both observations stay on record as they were taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from exercises.model.answers import Given
from exercises.model.marking import Rule, mark
from exercises.model.variant import Variant
from grader.marking.changes import most_marks
from grader.marking.record import Record, part_of
from grader.observed.observations import Disagreement, Observation, Observations, as_given
from grader.pages.pages import filled
from grader.reports.moderation import (
    Agreement,
    Sampled,
    SecondMark,
    TwiceMarked,
    agreement,
    first_marks,
    settle_pairs,
    write_decide_table,
)
from grader.reports.results import Result
from grader.store.errors import GraderError
from grader.store.files import write_text
from grader.store.part_marks import item_name
from grader.store.school import School, Sitting


def pairs(school: School, sitting: Sitting, results: Sequence[Result]) -> list[TwiceMarked]:
    """Every part of every task of a sitting that two observers saw, with the marks that each one's word earns.

    What one of the two did not see is left out: there is nothing to agree on.
    """
    observations = Observations(school, only_read=True)
    marked = [one for one in results if one.sitting.id == sitting.id and one.record and one.variants]
    twice = [
        (result, one) for result in marked if result.record for one in observations.disagreements(result.record.paper)
    ]
    return [pair for number, (result, one) in enumerate(twice, 1) for pair in _of_task(f"O{number:02d}", result, one)]


def _of_task(sample: str, result: Result, one: Disagreement) -> Iterator[TwiceMarked]:
    assert result.record
    first, most = first_marks(result.record), most_marks(result.record)
    variant = result.variants[one.first.task - 1]
    about = f"{result.candidate.id}, {variant.exercise.title}: {one.first.observer} first"
    drawn = Sampled(sample, result.record.paper, about)
    for part, marks in _marks(variant, one.other).items():
        if most[part] and part not in one.filled:
            second = SecondMark(sample, part, marks, one.other.note, one.other.observer)
            yield TwiceMarked(drawn, part, most[part], first[part], second)


def _marks(variant: Variant, seen: Observation) -> dict[str, float]:
    """What an observation earns by itself, for each part of which it says anything that counts."""
    said = {name: as_given(value) for name, value in seen.answers.items()}
    items = (item.key for item in variant.exercise.items)
    answers = {key: said.get(item_name(seen.task, key), Given(None)) for key in items}
    marks: dict[str, float] = {}
    for result in mark(variant, answers):
        if result.rule not in (Rule.NOT_OBSERVED, Rule.NOTED):
            part = item_name(seen.task, part_of(result))
            marks[part] = marks.get(part, 0.0) + result.marks
    return marks


def agreements(sitting: Sitting, school: School, both: Sequence[TwiceMarked]) -> list[Agreement]:
    """Task by task, by its title, and over all of them last where there are several."""
    by_task: dict[str, list[tuple[float, float]]] = {}
    for pair in both:
        if pair.first is not None and pair.second:
            number = int(pair.part.rstrip("abcdefghijklmnopqrstuvwxyz"))
            title = school.exercise(sitting.exercises[number - 1]).title
            by_task.setdefault(title, []).append((pair.first, pair.second.marks))
    found = [agreement(title, *zip(*marks, strict=True)) for title, marks in by_task.items()]
    if len(found) > 1:
        everything = [one for marks in by_task.values() for one in marks]
        found.append(agreement("", *zip(*everything, strict=True)))
    return found


def _apart(both: Sequence[TwiceMarked]) -> list[TwiceMarked]:
    """The parts on which observers differ, each once: a third observer's word does not ask the same question again."""
    found: dict[tuple[str, str], TwiceMarked] = {}
    for pair in both:
        if pair.second and pair.first != pair.second.marks:
            found.setdefault((pair.drawn.paper, pair.part), pair)
    return list(found.values())


def write_report(school: School, sitting: Sitting, results: Sequence[Result]) -> tuple[Path, Path, int, int]:
    """Write the report on the observers, and the table in which the assessor decides; gives their paths, how many
    tasks were seen by two, and how many parts they differ on.

    Raises: :class:`GraderError` where nothing that is marked was seen by two observers.
    """
    both = pairs(school, sitting, results)
    if not both:
        raise GraderError(
            f"{school.records}: no marked task of {sitting.id} was watched by two observers; let a second one watch "
            f"with a copy of the page, take that file too, then: pitside mark {school.here}"
        )
    apart = _apart(both)
    page = school.records / f"moderation_{sitting.id}_report.html"
    context: dict[str, Any] = {"agreements": agreements(sitting, school, both), "apart": _in_words(apart, results)}
    seen_twice = len({pair.drawn.sample for pair in both})
    write_text(
        page,
        filled("reports/observers.html", school=school, sitting=sitting, tasks=seen_twice, parts=len(both), **context),
    )
    return page, write_decide_table(school, sitting, apart), seen_twice, len(apart)


def _in_words(apart: Sequence[TwiceMarked], results: Sequence[Result]) -> Iterator[dict[str, Any]]:
    """The parts on which observers differ, with what was asked, what counts now and why."""
    by_paper = {result.record.paper: result for result in results if result.record}
    for pair in apart:
        result = by_paper[pair.drawn.paper]
        assert result.record
        asked = {
            item_name(number, part.key): (variant, part)
            for number, variant, _ in result.exercises
            for part in variant.exercise.parts
        }
        variant, part = asked[pair.part]
        yield {
            "pair": pair,
            "ask": variant.text(part.ask),
            "critical": getattr(part, "must_pass", False),
            "now": result.record.part_marks[pair.part],
            "changes": [change for name, change in result.record.changes if name == pair.part],
        }


def settle(school: School, sitting: Sitting, path: Path, results: Sequence[Result]) -> list[Record]:
    """Change marks as the table decides; see :func:`grader.reports.moderation.settle_pairs`."""
    return settle_pairs(school, path, pairs(school, sitting, results))
