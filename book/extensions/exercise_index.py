"""Sphinx extension: the ``exercise-index`` directive, which lists the exercises of a lesson with where they stand.

    ```{exercise-index} hydrocyclones
    ```

Without a lesson it counts exercises and outcomes of all lessons. The links to practice follow the order in which a
lesson's page embeds its exercises.
"""

from __future__ import annotations

import re
from html import escape
from pathlib import Path
from typing import Any

from docutils import nodes
from docutils.statemachine import StringList
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

from exercises import BANK, LESSONS, outcomes_of
from exercises.model import Chosen, Exercise, Numeric, Order, Table, Written
from exercises.model.parts import Choice

#: The kinds of parts in the words of the page, for one and for several, in the order in which it names them.
KINDS = {
    Numeric: ("number", "numbers"),
    Table: ("table", "tables"),
    Choice: ("choice", "choices"),
    Order: ("order", "orders"),
    Chosen: ("own choice", "own choices"),
    Written: ("in words", "in words"),
}
_EMBEDDED = re.compile(r"^```\{practice\}\s+(\S+)", re.MULTILINE)


def kinds(exercise: Exercise) -> str:
    """How many parts of each kind an exercise has, in words."""
    counted = {kind: sum(isinstance(part, kind) for part in exercise.parts) for kind in KINDS}
    return ", ".join(f"{number} {KINDS[kind][number > 1]}" for kind, number in counted.items() if number)


def anchors(page: str) -> dict[str, str]:
    """Where each exercise stands on a lesson's page, from the page's text."""
    return {name: f"practice-{number}-{name}" for number, name in enumerate(_EMBEDDED.findall(page))}


def table(exercises: list[Exercise], where: dict[str, str], link: str) -> list[str]:
    """The table of a lesson's exercises, in Markdown; ``link`` is the lesson's address."""
    timed = any(exercise.minutes for exercise in exercises)
    titles = ["Exercise", "Level", "Parts", "Marks", *(["Time"] if timed else [])]
    rows = [titles, ["---"] * len(titles)]
    for exercise in exercises:
        title = escape(exercise.title)
        if exercise.id in where:
            title = f'<a href="{link}#{where[exercise.id]}">{title}</a>'
        time = [f"{exercise.minutes} min" if exercise.minutes else ""] if timed else []
        rows.append([title, f"{exercise.level}", kinds(exercise), f"{exercise.marks:g}", *time])
    return [f"| {' | '.join(row)} |" for row in rows]


def outcomes(lesson: str) -> list[str]:
    """The outcomes of a lesson with the exercises that ask for each, in Markdown."""
    lines = []
    for outcome in outcomes_of(lesson):
        asking = [exercise.title for exercise in BANK.values() if outcome in exercise.outcomes]
        lines.append(f"- {outcome} *{'; '.join(asking) if asking else 'No exercise yet'}.*")
    return lines


def summary() -> list[str]:
    """How many exercises of each level and how many outcomes the lessons have, in Markdown."""
    lines = ["| Lesson | Day | Outcomes | Level 1 | Level 2 | Cases | Marks |", f"|{' --- |' * 7}"]
    rows = []
    for lesson in LESSONS.values():
        found = [exercise for exercise in BANK.values() if exercise.lesson == lesson.id]
        levels = [sum(exercise.level == level for exercise in found) for level in (1, 2, 3)]
        rows.append([len(outcomes_of(lesson.id)), *levels, sum(exercise.marks for exercise in found)])
        numbers = " | ".join(f"{number:g}" for number in rows[-1])
        lines.append(f"| [{lesson.title}](/lessons/{lesson.id}.md) | {lesson.day} | {numbers} |")
    totals = " | ".join(f"**{sum(column):g}**" for column in zip(*rows, strict=True))
    return [*lines, f"| **All lessons** | | {totals} |"]


class ExerciseIndex(SphinxDirective):
    """The exercises and the outcomes of the lesson named by the argument, or the counts of all lessons."""

    optional_arguments = 1

    def run(self) -> list[nodes.Node]:
        if not self.arguments:
            return self.parsed(summary())
        lesson = self.arguments[0]
        if lesson not in LESSONS:
            raise self.error(f'exercise-index: there is no lesson "{lesson}"; there are {", ".join(LESSONS)}')
        page = Path(self.env.srcdir) / "lessons" / f"{lesson}.md"
        self.env.note_dependency(str(page))
        where = anchors(page.read_text(encoding="utf-8")) if page.exists() else {}
        found = [exercise for exercise in BANK.values() if exercise.lesson == lesson]
        marks = sum(exercise.marks for exercise in found)
        goals = outcomes(lesson)
        text = [
            f"Lesson: [{LESSONS[lesson].title}](/lessons/{lesson}.md), day {LESSONS[lesson].day}. "
            f"{len(found)} exercise{'s' * (len(found) != 1)} with {marks:g} marks; {len(goals)} outcomes.",
            "",
            *table(found, where, f"../lessons/{lesson}.html"),
            "",
            *goals,
        ]
        return self.parsed(text)

    def parsed(self, text: list[str]) -> list[nodes.Node]:
        """The page's elements for lines of Markdown."""
        container = nodes.container(classes=["exercise-index"])
        self.state.nested_parse(StringList(text, source=self.env.docname), self.content_offset, container)
        return [container]


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_directive("exercise-index", ExerciseIndex)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
