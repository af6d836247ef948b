"""Which lessons a school of one, three or five days holds, and what the paper of each of its days is made of."""

from __future__ import annotations

from collections.abc import Iterable

from exercises import BANK, LESSONS
from exercises.model import Choice, Exercise, Order

#: Minutes for each mark, in practice and in a day's paper, and the step to which times are rounded: an estimate.
A_MARK, ROUNDED_TO = 1.5, 5

#: The lessons of each day, by the number of days: a refresher, a school for crews of land rigs, and everything.
PLANS: dict[int, tuple[tuple[str, ...], ...]] = {
    1: (("solids-cost", "cutting-back", "shakers", "hydrocyclones", "centrifuges", "dilution", "fault-finding"),),
    3: (
        ("solids-cost", "safety", "mud-weight", "weighting", "cutting-back"),
        ("solids", "mud-check", "shakers", "oil-on-cuttings", "hydrocyclones"),
        ("centrifuges", "dilution", "running-a-well", "commissioning", "fault-finding"),
    ),
    5: tuple(tuple(name for name, lesson in LESSONS.items() if lesson.day == day) for day in range(1, 6)),
}


def rounded(minutes: float) -> int:
    """To the nearest step, at least one."""
    return max(ROUNDED_TO, ROUNDED_TO * round(minutes / ROUNDED_TO))


def exercise_minutes(exercise: Exercise) -> int:
    """Minutes to work an exercise; a case says its own."""
    return exercise.minutes or rounded(A_MARK * exercise.marks)


def practice_of(lesson: str) -> tuple[Exercise, ...]:
    """The exercises of a lesson that are no case."""
    return tuple(exercise for exercise in BANK.values() if exercise.lesson == lesson and exercise.level < 3)


def must_pass(exercise: Exercise) -> bool:
    """Whether a part of it must be passed."""
    return any(isinstance(item, Choice | Order) and item.must_pass for item in exercise.items)


def paper_of(lessons: Iterable[str]) -> tuple[Exercise, ...]:
    """A day's paper: what must be passed, and of a lesson without such an exercise the one with most outcomes."""
    paper: list[Exercise] = []
    for lesson in lessons:
        safety = [exercise for exercise in practice_of(lesson) if must_pass(exercise)]
        paper += safety or [max(practice_of(lesson), key=lambda e: (len(e.outcomes), -e.marks))]
    return tuple(paper)


def paper_minutes(lessons: Iterable[str]) -> int:
    """Minutes of the paper of a day that holds these lessons."""
    return rounded(A_MARK * sum(exercise.marks for exercise in paper_of(lessons)))


def minutes_of(exercises: Iterable[Exercise]) -> int:
    """Minutes of a paper of these exercises: cases take what they say, the others by their marks."""
    chosen = tuple(exercises)
    cases = sum(exercise.minutes or 0 for exercise in chosen)
    marks = sum(exercise.marks for exercise in chosen if exercise.minutes is None)
    return cases + (rounded(A_MARK * marks) if marks else 0)
