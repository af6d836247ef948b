"""The table of what the school teaches: no entry is empty, and each is where it says."""

from __future__ import annotations

import re
from pathlib import Path

import drawings
import pytest
import topics
from topics import COMMON, NO_PICTURE, TOPICS, Topic

from exercises import BANK, LESSONS
from exercises.tasks import TASKS

BOOK = Path(__file__).parents[2] / "book"
EVERY = [topic for part in TOPICS.values() for topic in part]
each_topic = pytest.mark.parametrize("topic", EVERY, ids=[f"{one.lesson}: {one.says}" for one in EVERY])


def page(lesson: str) -> str:
    return (BOOK / "lessons" / f"{lesson}.md").read_text(encoding="utf-8")


def section(text: str, title: str) -> str:
    """The words of a section, to the next heading."""
    [found] = re.findall(rf"^##+ {re.escape(title)}\n(.*?)(?=^##|\Z)", text, re.MULTILINE | re.DOTALL)
    return str(found)


def test_the_parts_of_the_trade_and_all_lessons_that_belong_to_them_are_there() -> None:
    assert len(TOPICS) == 14
    assert len(EVERY) >= 80
    assert {one.lesson for one in EVERY} == set(LESSONS)


@each_topic
def test_no_entry_is_empty(topic: Topic) -> None:
    assert all((topic.says, topic.lesson, topic.section, topic.picture, topic.exercises, topic.source))


@each_topic
def test_its_section_stands_in_its_lesson(topic: Topic) -> None:
    assert topic.section in re.findall(r"^##+ (.+)$", page(topic.lesson), re.MULTILINE)


@each_topic
def test_its_picture_stands_in_a_lesson(topic: Topic) -> None:
    everywhere = "".join(page(lesson) for lesson in LESSONS)
    if topic.picture == "tree":
        assert re.search(r"^(questions|fault_tree)\($", page(topic.lesson), re.MULTILINE)
    elif topic.picture.startswith("fig-"):
        assert f"name: {topic.picture}\n" in everywhere
    elif topic.picture == NO_PICTURE:
        assert "{drawing}" not in section(page(topic.lesson), topic.section)
    else:
        assert topic.picture in drawings.names()
        assert f"```{{drawing}} {topic.picture}\n" in everywhere


@each_topic
def test_its_exercises_are_in_the_bank(topic: Topic) -> None:
    assert set(topic.exercises) <= set(BANK)


@each_topic
def test_its_source_is_cited_in_its_lesson_or_the_lesson_says_that_there_is_none(topic: Topic) -> None:
    if topic.source == COMMON:
        assert re.search("common\\s+practice|derived|balance|from memory", page(topic.lesson), re.IGNORECASE)
    else:
        cited = {
            key for keys in re.findall(r"\{footcite:[pt]\}`([^`]+)`", page(topic.lesson)) for key in keys.split(",")
        }
        assert topic.source in cited


def test_every_task_at_the_machine_stands_in_a_row_once() -> None:
    rows = topics.task_table().splitlines()[2:]
    assert sorted(row.split("|")[1].strip() for row in rows) == sorted(task.title for task in TASKS.values())
    assert all(cell.strip() for row in rows for cell in row.strip("|").split("|"))


def test_every_exercise_stands_in_a_row() -> None:
    assert set(BANK) == {exercise for one in EVERY for exercise in one.exercises}


def test_the_table_has_a_row_for_each_topic() -> None:
    for part in TOPICS.values():
        rows = topics.table(part).splitlines()[2:]
        assert len(rows) == len(part)
        assert all(cell.strip() for row in rows for cell in row.strip("|").split("|"))
