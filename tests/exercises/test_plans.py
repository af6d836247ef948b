"""The plans of one, three and five days: what they teach is what their papers assess."""

from __future__ import annotations

from collections import Counter

import pytest

from exercises import BANK, LESSONS, outcomes_of
from exercises.plans import (
    LONGEST_SITTING,
    OPTIONAL_DAY,
    PLANS,
    minutes_of,
    must_pass,
    paper_of,
    practice_of,
    sittings_of,
)

#: Every day of every plan, and the optional one.
DAYS = {
    **{f"{length} days, day {number}": day for length, days in PLANS.items() for number, day in enumerate(days, 1)},
    "the optional day": OPTIONAL_DAY,
}
each_day = pytest.mark.parametrize("day", DAYS.values(), ids=DAYS)


@each_day
def test_every_outcome_that_a_day_teaches_is_assessed_by_its_paper(day: tuple[str, ...]) -> None:
    taught = {outcome for lesson in day for outcome in outcomes_of(lesson)}
    assessed = {outcome for exercise in paper_of(day) for outcome in exercise.outcomes}
    assert taught
    assert taught <= assessed


@each_day
def test_a_paper_holds_all_that_must_be_passed_and_nothing_twice(day: tuple[str, ...]) -> None:
    paper = [exercise.id for exercise in paper_of(day)]
    safety = {one.id for lesson in day for one in practice_of(lesson) if must_pass(one)}
    assert safety <= set(paper)
    assert len(paper) == len(set(paper))
    assert {BANK[one].lesson for one in paper} <= set(day)


@each_day
def test_no_exercise_of_a_paper_could_be_left_out(day: tuple[str, ...]) -> None:
    """Taken out one by one, each leaves an outcome bare, or is one that must be passed."""
    paper = paper_of(day)
    taught = {outcome for lesson in day for outcome in outcomes_of(lesson)}
    for exercise in paper:
        others = {outcome for one in paper if one is not exercise for outcome in one.outcomes}
        assert must_pass(exercise) or taught & set(exercise.outcomes) - others, exercise.id


@each_day
def test_nobody_sits_longer_than_two_hours_at_one_paper(day: tuple[str, ...]) -> None:
    lengths = [minutes_of(sitting) for sitting in sittings_of(day)]
    assert lengths
    assert max(lengths) <= LONGEST_SITTING == 120


@each_day
def test_the_sittings_of_a_day_are_its_paper_cut_between_lessons(day: tuple[str, ...]) -> None:
    sittings = sittings_of(day)
    assert Counter(one.id for sitting in sittings for one in sitting) == Counter(one.id for one in paper_of(day))
    written = [{one.lesson for one in sitting} for sitting in sittings if sitting[0].level < 3]
    assert sum(map(len, written)) == len(set().union(*written))
    assert all(len(sitting) == 1 for sitting in sittings if any(one.level == 3 for one in sitting))


@pytest.mark.parametrize("days", PLANS)
def test_a_case_of_a_paper_comes_when_its_lessons_have_been_held(days: int) -> None:
    held: set[str] = set()
    for day in PLANS[days]:
        held |= set(day)
        for case in paper_of(day):
            assert case.level < 3 or held >= {case.lesson, *case.combines}


def test_a_plan_goes_through_the_lessons_in_the_order_of_the_book() -> None:
    for days in PLANS.values():
        held = [lesson for day in days for lesson in day]
        assert held == [lesson for lesson in LESSONS if lesson in held]


def test_what_not_every_crew_needs_is_in_no_plan() -> None:
    assert OPTIONAL_DAY == ("barite-recovery", "dual-gradient")
    assert not {lesson for days in PLANS.values() for day in days for lesson in day} & set(OPTIONAL_DAY)
    assert {lesson for day in PLANS[5] for lesson in day} | set(OPTIONAL_DAY) == set(LESSONS)


@pytest.mark.parametrize("days", PLANS)
def test_dual_gradient_carries_no_marks_and_no_lesson_carries_a_third_of_them(days: int) -> None:
    marks: Counter[str] = Counter()
    for day in PLANS[days]:
        for exercise in paper_of(day):
            marks[exercise.lesson] += exercise.marks
    assert marks["dual-gradient"] == 0
    assert max(marks.values()) <= sum(marks.values()) / 3
