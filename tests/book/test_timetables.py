"""The instructor's timetables: the hours of a day add up, and no exercise is lost between class and evening."""

from __future__ import annotations

import tomllib
from collections import Counter

import plan
import pytest

from exercises import BANK, LESSONS, outcomes_of

SCHOOLS = ("FIVE_DAYS", "SIX_DAYS", "THREE_DAYS", "REFRESHER")
#: What nobody may leave a short school without.
NEVER_LEFT_OUT = {
    "THREE_DAYS": {"safety", "mud-check", "shakers", "hydrocyclones", "centrifuges", "dilution", "fault-finding"},
    "REFRESHER": {"safety", "shakers", "hydrocyclones", "centrifuges", "dilution", "fault-finding"},
}


@pytest.mark.parametrize("school", SCHOOLS)
def test_each_half_day_adds_up_to_four_hours(school: str) -> None:
    halves = [half for day in plan.days_of(getattr(plan, school)) for half in day.halves]
    assert halves
    assert {sum(block.minutes for block in half) for half in halves} == {240}
    assert all([block.what for block in half].count("break") == 1 for half in halves)


@pytest.mark.parametrize("school", SCHOOLS)
def test_every_exercise_of_a_held_lesson_is_in_class_or_in_the_evening_once(school: str) -> None:
    days = plan.days_of(getattr(plan, school))
    planned = Counter(one.id for day in days for one in (*day.held, *day.evening) if one.level < 3)
    held = {lesson for day in days for lesson in day.lessons}
    assert planned == Counter(one.id for one in BANK.values() if one.level < 3 and one.lesson in held)


@pytest.mark.parametrize("school", SCHOOLS)
def test_a_case_comes_when_all_its_lessons_have_been_held(school: str) -> None:
    held: set[str] = set()
    for day in plan.days_of(getattr(plan, school)):
        held |= set(day.lessons)
        for one in (*day.held, *day.evening):
            assert held >= {one.lesson, *one.combines}


@pytest.mark.parametrize("school", NEVER_LEFT_OUT)
def test_a_short_school_holds_the_lessons_that_nobody_goes_without(school: str) -> None:
    held = [lesson for day in getattr(plan, school).days for lesson in day]
    assert NEVER_LEFT_OUT[school] <= set(held)
    assert held == [lesson for lesson in LESSONS if lesson in held]


@pytest.mark.parametrize("school", SCHOOLS)
def test_every_outcome_of_a_lesson_that_is_not_held_is_listed_as_uncovered(school: str) -> None:
    held = {lesson for day in getattr(plan, school).days for lesson in day}
    left = plan.uncovered(getattr(plan, school))
    assert all(left[lesson] == outcomes_of(lesson) for lesson in LESSONS if lesson not in held)


@pytest.mark.parametrize("school", SCHOOLS)
def test_no_outcome_of_a_held_lesson_is_uncovered(school: str) -> None:
    held = {lesson for day in getattr(plan, school).days for lesson in day}
    assert not held & set(plan.uncovered(getattr(plan, school)))


@pytest.mark.parametrize("school", SCHOOLS)
def test_a_case_that_belongs_to_a_paper_is_worked_in_class(school: str) -> None:
    for day in plan.days_of(getattr(plan, school)):
        cases = [one for one in plan.paper_of(day.lessons) if one.level == 3]
        assert all(case in day.held for case in cases)
        assert all(case.title in plan.paper_text(day) for case in cases)


def test_tanks_and_commissioning_do_not_share_a_day_and_the_active_system_is_examined() -> None:
    [tanks] = [day for day in plan.FIVE_DAYS.days if "tanks-and-pumps" in day]
    [handover] = [day for day in plan.FIVE_DAYS.days if "commissioning" in day]
    [system] = [day for day in plan.FIVE_DAYS.days if "active-system" in day]
    assert tanks != handover
    assert outcomes_of("active-system")
    assert plan.assessed(plan.paper_of(system)) >= set(outcomes_of("active-system"))


def test_the_settings_of_the_sixth_day_are_its_paper() -> None:
    _, sittings = plan.sixth_day_settings().split("\n\n", 1)
    asked = [name for sitting in tomllib.loads(sittings)["sitting"] for name in sitting["exercises"]]
    assert asked == [one.id for one in plan.paper_of(plan.SIX_DAYS.days[-1])]


def test_the_table_of_marks_adds_up_to_the_papers() -> None:
    *_, last = plan.marks_table().splitlines()
    sums = [float(cell.strip(" *")) for cell in last.split("|")[2:-1]]
    schools = (plan.REFRESHER, plan.THREE_DAYS, plan.SIX_DAYS)
    assert sums == [sum(one.marks for day in school.days for one in plan.paper_of(day)) for school in schools]


@pytest.mark.parametrize("school", SCHOOLS)
def test_each_lesson_that_is_held_is_practised_in_class(school: str) -> None:
    for day in plan.days_of(getattr(plan, school)):
        assert {one.lesson for one in day.held} >= set(day.lessons)


@pytest.mark.parametrize("school", SCHOOLS)
def test_what_must_be_passed_is_practised_in_class_before_it_is_examined(school: str) -> None:
    for day in plan.days_of(getattr(plan, school)):
        blocks = [block for half in day.halves for block in half]
        papers = [at for at, block in enumerate(blocks) if block.what == "paper"]
        for at, part in zip(papers, plan.written_parts(day.lessons), strict=True):
            practised = {block.exercise for block in blocks[:at]}
            assert practised >= {one.id for one in part if plan.must_pass(one)}


@pytest.mark.parametrize("school", SCHOOLS)
def test_a_part_of_a_paper_is_sat_after_its_lessons_and_is_short_enough(school: str) -> None:
    for day in plan.days_of(getattr(plan, school)):
        parts = plan.written_parts(day.lessons)
        blocks = [block for half in day.halves for block in half]
        papers = [at for at, block in enumerate(blocks) if block.what == "paper"]
        assert [blocks[at].minutes for at in papers] == [plan.minutes_of(part) for part in parts]
        assert max(blocks[at].minutes for at in papers) <= plan.LONGEST_SITTING
        for at, part in zip(papers, parts, strict=True):
            before = {block.lesson for block in blocks[:at] if block.what == "talk"}
            assert before >= {one.lesson for one in part}
