"""The bank of observed tasks: competence at the machine, watched by an assessor."""

from __future__ import annotations

from exercises import BANK, LESSONS, Bank
from exercises.model import Exercise
from exercises.tasks import crew, machines, mud
from exercises.tasks.model import Ask, Do, Read, Task, Work

__all__ = ["TASKS", "Ask", "Do", "Read", "Task", "Work", "exercise_named"]


def _bank() -> dict[str, Task]:
    found: dict[str, Task] = {}
    for task in (*mud.TASKS, *machines.TASKS, *crew.TASKS):
        if task.id in found or task.id in BANK:
            raise ValueError(f"there is an exercise or task {task.id} already")
        if task.lesson not in LESSONS:
            raise ValueError(f"task {task.id}: {task.lesson} is no lesson")
        found[task.id] = task
    return found


#: Every task by its id, in the order in which the book teaches it: bench, machines, crew.
TASKS: dict[str, Task] = _bank()


def exercise_named(name: str, bank: Bank = BANK) -> Exercise | None:
    """The exercise of this id in a bank, or the one by which the task of this id is marked; None if there is none."""
    return bank.get(name) or (TASKS[name].exercise if name in TASKS else None)
