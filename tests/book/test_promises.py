"""What a lesson promises is what the school assesses: its list is its outcomes, and each of them can be practised."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from exercises import BANK, LESSONS, outcomes_of
from exercises.tasks import TASKS

PAGES = Path(__file__).parents[2] / "book" / "lessons"
each_lesson = pytest.mark.parametrize("lesson", LESSONS)


def page(lesson: str) -> str:
    return (PAGES / f"{lesson}.md").read_text(encoding="utf-8")


def listed(text: str, after: str) -> list[str]:
    """The items of the first list after some words, spelled as outcomes are."""
    _, found, rest = text.partition(after)
    [items] = re.findall(r"\A\n\n((?:- .*\n(?:  .*\n)*)+)", rest) if found else [""]
    plain = [" ".join(item.split()).rstrip(";.") for item in re.split(r"^- ", items, flags=re.MULTILINE)[1:]]
    return [f"{item[0].upper()}{item[1:]}." for item in plain]


@each_lesson
def test_the_list_of_a_lesson_is_its_outcomes(lesson: str) -> None:
    assert listed(page(lesson), "After this lesson you can") == list(outcomes_of(lesson))


@each_lesson
def test_each_outcome_of_a_lesson_is_practised_on_its_page_or_in_a_case_that_the_page_names(lesson: str) -> None:
    text = page(lesson)
    practised = set(re.findall(r"^```\{practice\} (\S+)$", text, re.MULTILINE))
    if f"```{{cases}} {lesson}\n" in text:
        practised |= {one.id for one in BANK.values() if one.level == 3 and lesson in (one.lesson, *one.combines)}
    bare = set(outcomes_of(lesson)) - {outcome for one in practised for outcome in BANK[one].outcomes}
    assert bare == set()


def test_what_is_watched_at_the_machine_is_promised_by_one_lesson_each() -> None:
    promised = [
        one
        for lesson in LESSONS
        for one in listed(page(lesson), "([Tasks at the machine](../reference/tasks.md)), you can")
    ]
    assert sorted(promised) == sorted(task.outcome for task in TASKS.values())


def test_a_list_is_read_to_its_end_and_no_further() -> None:
    text = "You can\n\n- name it,\n  in full;\n- do it.\n\nMore.\n\n- not this.\n"
    assert listed(text, "You can") == ["Name it, in full.", "Do it."]
    assert listed(text, "You cannot") == []
