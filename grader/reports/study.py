"""What a feedback page says first: in which outcomes marks were lost, and which parts had to be right and are not."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from exercises import LESSONS
from exercises.model import Choice, Order, Watched
from exercises.model.variant import Variant
from grader.marking.record import MarkedExercise
from grader.papers.notebook import item_words
from grader.store.part_marks import item_name
from grader.store.percents import exact
from grader.store.school import School

#: Number, variant and marks of an exercise of a marked paper.
Marked = tuple[int, Variant, MarkedExercise]


@dataclass(frozen=True)
class ToStudy:
    """An outcome in which marks were lost: its lesson's title, the marks of its parts, and those that lost some."""

    outcome: str
    lesson: str
    marks: float
    out_of: float
    parts: tuple[str, ...]


@dataclass(frozen=True)
class AtAGlance:
    """What of a marked paper is to be studied again, what was shown, and what had to be right and is not."""

    study: tuple[ToStudy, ...]
    shown: tuple[str, ...]
    not_right: tuple[str, ...]


def at_a_glance(school: School, exercises: Iterable[Marked]) -> AtAGlance:
    """Outcomes below the share that shows them, those that lost most first; parts that wait for marks are left out."""
    tally: dict[tuple[str, str], list[tuple[str, float, float]]] = {}
    not_right = []
    for number, variant, marked in exercises:
        out_of = {part.key: sum(item.marks.total for item in part.items()) for part in variant.exercise.parts}
        for part in variant.exercise.parts:
            marks = marked.part_marks.get(part.key)
            if marks is None:
                continue
            name = f"{number}({part.key})"
            if (
                school.must_pass
                and isinstance(part, Choice | Order | Watched)
                and part.must_pass
                and marks < out_of[part.key]
            ):
                not_right.append(name)
            lesson = LESSONS[variant.exercise.lesson].title if variant.exercise.lesson in LESSONS else ""
            tally.setdefault((str(part.outcome), lesson), []).append((name, marks, out_of[part.key]))
    study, shown = [], []
    for (outcome, lesson), parts in tally.items():
        marks, of_all = sum(got for _, got, _ in parts), sum(most for _, _, most in parts)
        if 100 * exact(marks) >= exact(school.outcome_percent) * exact(of_all):
            shown.append(outcome)
        else:
            lost = tuple(name for name, got, most in parts if got < most)
            study.append(ToStudy(outcome, lesson, marks, of_all, lost))
    study.sort(key=lambda one: one.marks - one.out_of)
    return AtAGlance(tuple(study), tuple(shown), tuple(not_right))


def in_words(exercises: Iterable[Marked]) -> Mapping[str, str]:
    """What each item of a paper that has a key of its own is called to people."""
    return {
        item_name(number, item.key): item_words(number, variant, part, item)
        for number, variant, _ in exercises
        for part in variant.exercise.parts
        for item in part.items()
        if "." in item.key
    }


def told_in_words(told: tuple[str, ...], exercises: Iterable[Marked]) -> tuple[str, ...]:
    """What the candidate is told of the script, with items called as people call them."""
    words = in_words(exercises)
    if not words:
        return told
    known = re.compile("|".join(rf"\b{re.escape(name)}\b" for name in sorted(words, key=len, reverse=True)))
    return tuple(known.sub(lambda found: words[found[0]], line) for line in told)
