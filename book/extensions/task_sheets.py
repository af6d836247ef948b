"""Sphinx extension: ``task-sheets``, every observed task with its steps; ``task-table``, all of them in one table; and
``yard``, the programme of a school.

```{task-sheets}
```

```{task-table}
```

```{yard} 3
```
"""

from __future__ import annotations

from typing import Any

from docutils import nodes
from docutils.statemachine import StringList
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

from exercises import LESSONS
from exercises.tasks import TASKS, Ask, Do, Read, Task
from exercises.tasks.table import rows
from exercises.tasks.yard import programme


def sheet(task: Task) -> list[str]:
    """A task in Markdown: what to have ready, what can hurt, what is told, and what is looked for."""
    lines = [
        f"**{task.title}** ({task.minutes} minutes, {task.marks:g} marks)",
        "",
        f"{task.outcome} Lesson: [{LESSONS[task.lesson].title}](/lessons/{task.lesson}.md). Place: {task.place}.",
        "",
        *(f"- Caution: {caution}" for caution in task.cautions),
        f"- Ready: {', '.join(task.kit)}. {' '.join(task.conditions)}",
        f"- Told: *{task.told}*{' One of: ' + ' '.join(task.cases) if task.cases else ''}",
        "",
    ]
    for step in task.work:
        match step:
            case Do():
                lines.append(f"1. {'**Critical.** ' if step.critical else ''}{step.see}")
            case Ask():
                lines.append(f"1. Asked: {step.question} *{' '.join(step.points)}*")
            case Read():
                lines.append(f"1. {step.what}: read by both, held against the observer's.")
            case _:
                lines.append(f"1. {step.what}: worked out from the readings.")
    return [*lines, "", f"Source: {task.source}.", ""]


def table() -> list[str]:
    """All tasks as a table in Markdown: what an assessor and a safety officer look for first."""
    lines = [
        "| Task and outcome | Critical steps | Measured results | Cautions besides the site's rules, and source |",
        "| --- | --- | --- | --- |",
    ]
    for row in rows():
        cells = (
            f"**{row.task.title}** (`{row.task.id}`). {row.task.outcome}",
            " ".join(f"({number}) {step}" for number, step in enumerate(row.critical, 1)),
            "; ".join(row.measured),
            " ".join((*row.cautions, f"*Source: {row.source}.*")),
        )
        lines.append(f"| {' | '.join(cells)} |")
    return lines


def _clock(minutes: int) -> str:
    """Hours and minutes since the round began."""
    return f"{minutes // 60}:{minutes % 60:02d}"


def yard(days: int) -> list[str]:
    """The yard programme of a school of so many days, in Markdown, with times that add up and the kit."""
    lines: list[str] = []
    rounds = programme(days)
    for number, one in enumerate(rounds, 1):
        groups = len(one.tasks)
        lines += [
            f"**Day {number}, {groups} stations, {groups} groups of {one.group}: {groups} turns of {one.slot} minutes, "
            f"{one.minutes / 60:.1f} hours**",
            "",
            "| Turn | From, to | " + " | ".join(f"Group {group}" for group in range(1, groups + 1)) + " |",
            "|" + " --- |" * (groups + 2),
            *(
                f"| {turn} | {_clock(begins)} to {_clock(ends)} | {' | '.join(task.title for task in tasks)} |"
                for turn, (begins, ends, tasks) in enumerate(one.timetable, 1)
            ),
            "",
            "Kit of each station:",
            "",
            *(f"- {task.title}: {', '.join(task.kit)}." for task in one.tasks),
            "",
        ]
    hours = sum(one.minutes for one in rounds) / 60
    return [*lines, f"Together {hours:.1f} hours, on top of the hours of the timetable.", ""]


class _Written(SphinxDirective):
    def parsed(self, text: list[str], name: str) -> list[nodes.Node]:
        container = nodes.container(classes=[name])
        self.state.nested_parse(StringList(text, source=self.env.docname), self.content_offset, container)
        return [container]


class TaskSheets(_Written):
    """Every task of the bank."""

    def run(self) -> list[nodes.Node]:
        return self.parsed([line for task in TASKS.values() for line in sheet(task)], "task-sheets")


class TaskTable(_Written):
    """Every task of the bank, a row each."""

    def run(self) -> list[nodes.Node]:
        return self.parsed(table(), "task-table")


class Yard(_Written):
    """The yard programme of a school of as many days as the argument says."""

    required_arguments = 1

    def run(self) -> list[nodes.Node]:
        return self.parsed(yard(int(self.arguments[0])), "yard")


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_directive("task-sheets", TaskSheets)
    app.add_directive("task-table", TaskTable)
    app.add_directive("yard", Yard)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
