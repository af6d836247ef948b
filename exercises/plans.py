"""Which lessons a school of one, three or five days holds, and what the paper of each of its days is made of."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain, combinations, groupby, pairwise

from exercises import BANK, LESSONS, outcomes_of
from exercises.model import Choice, Exercise, Order
from exercises.tasks import TASKS

#: Minutes for each mark, in practice and in a day's paper, and the step to which times are rounded: an estimate.
A_MARK, ROUNDED_TO = 1.5, 5

#: Minutes that nobody sits longer at one paper; a longer one is sat in parts. Common practice, without a source.
LONGEST_SITTING = 120

#: The lessons of each day, by the number of days: a refresher, a school for crews of land rigs, and the whole school.
#: A day stands in the order of the book wherever its lessons do.
PLANS: dict[int, tuple[tuple[str, ...], ...]] = {
    1: (("safety", "shakers", "hydrocyclones", "dilution", "centrifuges", "fault-finding"),),
    3: (
        ("solids-cost", "safety", "mud-weight", "weighting", "cutting-back"),
        ("solids", "mud-check", "shakers", "hydrocyclones"),
        ("dilution", "centrifuges", "running-a-well", "commissioning", "fault-finding"),
    ),
    5: tuple(
        tuple(name for name, lesson in LESSONS.items() if lesson.day == day and not lesson.optional)
        for day in range(1, 6)
    ),
}

#: A sixth day, for crews who recover barite or lighten a riser; the other plans do without it.
OPTIONAL_DAY: tuple[str, ...] = tuple(name for name, lesson in LESSONS.items() if lesson.optional)


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
    """A day's paper: it assesses each outcome of the day's lessons that an exercise assesses, with few marks.

    What must be passed is in it. A case is in it, at its end, where nothing else assesses an outcome of its lesson.
    """
    held = tuple(lessons)
    cases = tuple(case for lesson in held for case in _cases_needed(lesson))
    done = {outcome for case in cases for outcome in case.outcomes}
    return (*(exercise for lesson in held for exercise in _exercises_needed(lesson, done)), *cases)


def _cases_needed(lesson: str) -> tuple[Exercise, ...]:
    """The cases of a lesson that assess an outcome of it which no exercise does."""
    practised = {outcome for exercise in practice_of(lesson) for outcome in exercise.outcomes}
    only = set(outcomes_of(lesson)) - practised
    return tuple(one for one in BANK.values() if one.lesson == lesson and one.level == 3 and only & set(one.outcomes))


def _exercises_needed(lesson: str, done: set[str]) -> tuple[Exercise, ...]:
    """The exercises with fewest marks, safety among them, that assess what is left of a lesson's outcomes."""
    practice = practice_of(lesson)
    reachable = {outcome for exercise in practice for outcome in exercise.outcomes} & set(outcomes_of(lesson))
    safety = tuple(exercise for exercise in practice if must_pass(exercise))
    others = tuple(exercise for exercise in practice if not must_pass(exercise))
    wanted = reachable - done - {outcome for exercise in safety for outcome in exercise.outcomes}
    enough = (
        chosen
        for count in range(len(others) + 1)
        for chosen in combinations(others, count)
        if wanted.issubset(outcome for one in chosen for outcome in one.outcomes)
    )
    fewest = min(enough, key=lambda chosen: (sum(exercise.marks for exercise in chosen), len(chosen)))
    return tuple(exercise for exercise in practice if must_pass(exercise) or exercise in fewest)


def written_parts(lessons: Iterable[str]) -> tuple[tuple[Exercise, ...], ...]:
    """A day's paper without its cases, as it is sat: whole, or in the fewest parts that are short enough to sit.

    Parts are cut between lessons, as evenly as that allows. Raises: ValueError if one lesson alone is too long.
    """
    written = [exercise for exercise in paper_of(lessons) if exercise.level < 3]
    by_lesson = [tuple(group) for _, group in groupby(written, key=lambda exercise: exercise.lesson)]
    for count in range(1, len(by_lesson) + 1):
        ways = [
            [tuple(chain.from_iterable(by_lesson[start:end])) for start, end in pairwise((0, *cuts, len(by_lesson)))]
            for cuts in combinations(range(1, len(by_lesson)), count - 1)
        ]
        evenest = min(ways, key=lambda parts: max(map(minutes_of, parts)))
        if max(map(minutes_of, evenest)) <= LONGEST_SITTING:
            return tuple(evenest)
    raise ValueError(f"the exercises of one lesson take more than {LONGEST_SITTING} minutes")


def sittings_of(lessons: Iterable[str]) -> tuple[tuple[Exercise, ...], ...]:
    """A day's paper as it is sat: its written parts, and then each of its cases by itself."""
    held = tuple(lessons)
    return (*written_parts(held), *((case,) for case in paper_of(held) if case.level == 3))


def minutes_of(exercises: Iterable[Exercise]) -> int:
    """Minutes of these exercises: cases and tasks take what they say, the others by their marks."""
    chosen = tuple(exercises)
    said = {one.id: TASKS[one.id].minutes if one.id in TASKS else one.minutes for one in chosen}
    cases = sum(minutes or 0 for minutes in said.values())
    marks = sum(exercise.marks for exercise in chosen if said[exercise.id] is None)
    return cases + (rounded(A_MARK * marks) if marks else 0)
