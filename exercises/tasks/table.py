"""The bank of observed tasks as a table: what an assessor and a safety officer look for first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from exercises.tasks import TASKS, Read, Task, Work
from pitside.unit_names import spelled


@dataclass(frozen=True)
class Row:
    """A task in the table; each field says something, also where there is nothing to name."""

    task: Task
    critical: tuple[str, ...]
    measured: tuple[str, ...]
    #: What can hurt besides what the site's rules say.
    cautions: tuple[str, ...]
    source: str


def rows() -> Iterator[Row]:
    """Every task of the bank, in its order."""
    for task in TASKS.values():
        yield Row(
            task,
            task.critical or ("no step of it isolates, opens or moves anything",),
            tuple(map(_within, task.measured)) or ("nothing is measured",),
            task.cautions[1:] or ("those of the site",),
            task.source,
        )


def _within(step: Read | Work) -> str:
    """How near a value must lie, with its reason."""
    tolerance = step.within
    if tolerance.unit:
        reach = f"{tolerance.amount:g} {'of the dial' if tolerance.unit == 'fraction' else spelled(tolerance.unit)}"
    else:
        reach = f"{100 * tolerance.amount:g} %"
    return f"{step.what} within {reach} ({tolerance.because})"
