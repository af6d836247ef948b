"""What the papers of a school assess: each outcome of the lessons taught, and the exercises and sittings it is in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from exercises import LESSONS, Lesson, outcomes_of
from exercises.kinds import in_words, shares_by_kind
from exercises.plans import minutes_of
from exercises.tasks import TASKS
from grader.store.school import School
from grader.store.wording import counted


@dataclass(frozen=True)
class Assessed:
    """A learning outcome, and where it is assessed: pairs of sitting and exercise, none where it is not.

    ``own`` tells an outcome that only the school's own exercises have, ``at_machine`` one that a task shows.
    """

    outcome: str
    places: tuple[tuple[str, str], ...]
    own: bool = False
    at_machine: bool = False


@dataclass(frozen=True)
class LessonCoverage:
    """A lesson with its outcomes; ``taught`` is False where papers assess it although the school does not teach it."""

    lesson: Lesson
    taught: bool
    outcomes: tuple[Assessed, ...]

    @property
    def uncovered(self) -> tuple[str, ...]:
        """The outcomes that nothing assesses."""
        return tuple(one.outcome for one in self.outcomes if not one.places)


@dataclass(frozen=True)
class SittingLength:
    """How long the paper of a sitting is, and of what kinds its marks are, in words."""

    sitting: str
    exercises: int
    marks: float
    minutes: int
    kinds: str
    observed: bool = False


@dataclass(frozen=True)
class Coverage:
    """The lessons that are taught or assessed, in the order of the book, and the length of each paper."""

    lessons: tuple[LessonCoverage, ...]
    sittings: tuple[SittingLength, ...]

    @property
    def taught(self) -> tuple[LessonCoverage, ...]:
        return tuple(one for one in self.lessons if one.taught)

    @property
    def uncovered(self) -> tuple[tuple[Lesson, str], ...]:
        """Each outcome of the lessons taught that no paper assesses."""
        return tuple((one.lesson, outcome) for one in self.taught for outcome in one.uncovered)


def coverage(school: School) -> Coverage:
    """What the school's sittings assess of the lessons that it teaches.

    Where the settings name no lessons, those of the chosen exercises count as taught, a case's all.
    """
    chosen = [(sitting.id, school.exercise(name)) for sitting in school.sittings for name in sitting.exercises]
    of_exercises = {lesson for _, exercise in chosen for lesson in (exercise.lesson, *exercise.combines)}
    taught = set(school.lessons) or of_exercises
    everyone = {str(outcome): lesson for lesson in LESSONS for outcome in outcomes_of(lesson)}
    shown_by_tasks = {task.outcome for task in TASKS.values()}
    places: dict[str, list[tuple[str, str]]] = {}
    own: dict[str, list[str]] = {}
    for sitting, exercise in chosen:
        for outcome in map(str, exercise.outcomes):
            places.setdefault(outcome, []).append((sitting, exercise.id))
            if outcome not in everyone and outcome not in own.setdefault(exercise.lesson, []):
                own[exercise.lesson].append(outcome)
    assessed = {everyone[outcome] for outcome in places if outcome in everyone} | set(own)
    lessons = tuple(
        LessonCoverage(
            lesson,
            lesson.id in taught,
            tuple(
                Assessed(
                    outcome,
                    tuple(places.get(outcome, ())),
                    own=outcome not in everyone and outcome not in shown_by_tasks,
                    at_machine=outcome in shown_by_tasks,
                )
                for outcome in (*map(str, outcomes_of(lesson.id)), *own.get(lesson.id, ()))
            ),
        )
        for lesson in LESSONS.values()
        if lesson.id in taught | assessed
    )
    lengths = []
    for one in school.sittings:
        exercises = [school.exercise(name) for name in one.exercises]
        marks = sum(exercise.marks for exercise in exercises)
        kinds = in_words(shares_by_kind(exercises))
        lengths.append(SittingLength(one.id, len(exercises), marks, minutes_of(exercises), kinds, one.observed))
    return Coverage(lessons, tuple(lengths))


def lines(found: Coverage) -> Iterator[str]:
    """The coverage as lines to read."""
    for one in found.lessons:
        if not one.taught and not any(outcome.places for outcome in one.outcomes):
            continue
        yield one.lesson.title + ("" if one.taught else " (not among the lessons that this school teaches)")
        for outcome in one.outcomes:
            if not one.taught and not outcome.places:
                continue
            where = "; ".join(f"{exercise}, {sitting}" for sitting, exercise in outcome.places)
            own = " (the school's own)" if outcome.own else " (at the machine)" if outcome.at_machine else ""
            yield f"  {'' if outcome.places else 'NOT COVERED: '}{outcome.outcome}{own}"
            if where:
                yield f"      {where}"
    yield ""
    for length in found.sittings:
        of = counted(length.exercises, "task" if length.observed else "exercise")
        yield (
            f"Sitting {length.sitting}: {of}, {length.marks:g} marks, "
            f"about {length.minutes} minutes{' a candidate' if length.observed else ''}; marks for {length.kinds}"
        )
    total = sum(len(one.outcomes) for one in found.taught)
    bare = len(found.uncovered)
    count = len(found.taught)
    papers = "a paper or task" if any(length.observed for length in found.sittings) else "a paper"
    yield f"{total - bare} of {total} outcomes of the {count} lesson{'s' if count != 1 else ''} taught are in {papers}."
    if bare:
        yield (
            f"{bare} are in none: say so on what you hand out, practise them in class, or add an exercise "
            "(see: pitside exercises --outcomes)."
        )
