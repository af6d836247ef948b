"""What observers saw, as it was taken back: one sealed line for each task that one observer watched one candidate do.

An observation is never altered. The same observer may correct one, which is a line of its own; a second observer of
the same task is kept beside the first, and where the two differ both say so. The first observer's counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from grader.store.ledger import Ledger
from grader.store.school import School

FILE = "observed.jsonl"


@dataclass(frozen=True)
class Observation:
    """A task of a paper, by its number, as one observer saw it.

    ``observer`` is the name that the observer typed, ``begun`` and ``minutes`` are the page's own, ``answers`` what was
    answered by item, ``note`` a remark, and ``digest`` that of the file it came in.
    """

    paper: str
    task: int
    observer: str
    place: str
    begun: str
    minutes: float
    answers: dict[str, Any]
    note: str
    digest: str

    @property
    def same_task(self) -> tuple[str, int]:
        return self.paper, self.task

    @property
    def seen(self) -> tuple[Any, ...]:
        """What was seen, apart from when it was taken back and in which file."""
        return self.paper, self.task, self.observer.casefold(), self.answers, self.note

    def __str__(self) -> str:
        return f"task {self.task}, by {self.observer} (name typed), {self.place}, {self.begun}, {self.minutes:g} min"


class Observations:
    """The observations of one school. Raises: :class:`GraderError` for a line that is not as it was written."""

    def __init__(self, school: School, only_read: bool = False) -> None:
        self.all: list[Observation] = []
        self.ledger = Ledger(
            school.records / FILE, school.key, "the observations", "observations", self._keep, only_read=only_read
        )

    def _keep(self, line: dict[str, Any], seal: str) -> None:
        fields = {name: value for name, value in line.items() if name not in ("when", "who")}
        self.all.append(Observation(**fields))

    def add(self, observations: list[Observation], who: str) -> None:
        """Append observations; they are on the disk when this returns."""
        when = datetime.now(UTC).isoformat(timespec="seconds")
        self.ledger.append([{"when": when, "who": who, **vars(one)} for one in observations])

    def of_task(self, paper: str, task: int) -> tuple[Observation, ...]:
        """The latest observation of each observer of a task, in the order in which the observers first came."""
        latest: dict[str, Observation] = {}
        for one in self.all:
            if one.same_task == (paper, task):
                latest[one.observer.casefold()] = one
        return tuple(latest.values())

    def counting(self, paper: str) -> tuple[Observation, ...]:
        """The observations of a paper that count, one for each task, in the order of the tasks."""
        tasks = sorted({one.task for one in self.all if one.paper == paper})
        return tuple(self.of_task(paper, task)[0] for task in tasks)

    def disagreements(self, paper: str) -> Iterator[tuple[Observation, Observation, tuple[str, ...]]]:
        """The first observer of a task and each other one, with the items of which they say different things."""
        for task in sorted({one.task for one in self.all if one.paper == paper}):
            first, *others = self.of_task(paper, task)
            for other in others:
                items = {*first.answers, *other.answers}
                apart = (item for item in items if first.answers.get(item) != other.answers.get(item))
                yield first, other, tuple(sorted(apart))
