"""What observers saw, as it was taken back: one sealed line for each task that one observer watched one candidate do.

An observation is never altered. The same observer may correct one, which is a line of its own; a second observer of
the same task is kept beside the first, and where the two differ both say so. The first observer's counts, and of steps
that the first did not see the next one's who saw them; who decides where they differ is the assessor, by a change with
a reason (:mod:`grader.reports.moderation`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from exercises.model import Seen
from exercises.model.answers import Given, UnreadableAnswer, read_number
from grader.store.ledger import Ledger
from grader.store.school import School

FILE = "observed.jsonl"


@dataclass(frozen=True)
class Disagreement:
    """What two observers of a task say differently: steps that both saw, and numbers, by item.

    ``filled`` are the steps that the first did not see and the other did, whose word counts there.
    """

    first: Observation
    other: Observation
    steps: tuple[str, ...]
    numbers: tuple[str, ...]
    filled: tuple[str, ...]

    def __str__(self) -> str:
        said = f"{self.first.observer} and {self.other.observer} "
        said += f"differ in {', '.join(self.steps)}; {self.first.observer} counts" if self.steps else "agree"
        if self.numbers:
            said += f"; they wrote other numbers at {', '.join(self.numbers)}"
        if self.filled:
            said += f"; {self.other.observer} alone saw {', '.join(self.filled)}"
        return said


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
    #: When and by whom it was taken back, as its line says.
    taken: str = field(default="", compare=False)

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
        self.all.append(Observation(**fields, taken=f"{line['when']}, {line['who']}"))

    def add(self, observations: list[Observation], who: str) -> None:
        """Append observations; they are on the disk when this returns."""
        when = datetime.now(UTC).isoformat(timespec="seconds")
        lines = [{name: value for name, value in vars(one).items() if name != "taken"} for one in observations]
        self.ledger.append([{"when": when, "who": who, **line} for line in lines])

    def of_task(self, paper: str, task: int) -> tuple[Observation, ...]:
        """The latest observation of each observer of a task, in the order in which the observers first came."""
        return _of_task(self.all, paper, task)

    def counting(self, paper: str) -> tuple[Observation, ...]:
        """The observations of a paper that count, one for each task, in the order of the tasks.

        A step that the first observer did not see is answered by the next one who saw it.
        """
        return _counting(self.all, paper)

    def answered(self, paper: str) -> Iterator[dict[str, Given]]:
        """What counts of a paper, by item, and behind it what counted before each line of it came, the latest first."""
        mine = [one for one in self.all if one.paper == paper]
        for many in range(len(mine), 0, -1):
            counts = _counting(mine[:many], paper)
            yield {item: as_given(value) for one in counts for item, value in one.answers.items()}

    def disagreements(self, paper: str) -> Iterator[Disagreement]:
        """The first observer of each task and each other one, with what they say differently."""
        for task in _tasks(self.all, paper):
            first, *others = self.of_task(paper, task)
            for other in others:
                both = [item for item in first.answers if _saw(first.answers, item) and _saw(other.answers, item)]
                apart = [item for item in both if first.answers[item] != other.answers[item]]
                steps = tuple(item for item in apart if isinstance(first.answers[item], str))
                numbers = tuple(item for item in apart if item not in steps)
                yield Disagreement(first, other, steps, numbers, _filled(first.answers, other.answers))


def as_given(value: str | Sequence[str]) -> Given:
    """An answer as the script of an observation holds it: a step's letter, or a number as typed and its unit."""
    if isinstance(value, str):
        return Given(value)
    number, unit = value
    try:
        return Given(read_number(number) if number else None, unit)
    except UnreadableAnswer:
        return Given(number, unit)


def _tasks(all_of_them: Sequence[Observation], paper: str) -> list[int]:
    return sorted({one.task for one in all_of_them if one.paper == paper})


def _of_task(all_of_them: Sequence[Observation], paper: str, task: int) -> tuple[Observation, ...]:
    latest: dict[str, Observation] = {}
    for one in all_of_them:
        if one.same_task == (paper, task):
            latest[one.observer.casefold()] = one
    return tuple(latest.values())


def _counting(all_of_them: Sequence[Observation], paper: str) -> tuple[Observation, ...]:
    found = []
    for task in _tasks(all_of_them, paper):
        first, *others = _of_task(all_of_them, paper, task)
        answers = dict(first.answers)
        for other in others:
            answers |= {item: other.answers[item] for item in _filled(answers, other.answers)}
        found.append(replace(first, answers=answers))
    return tuple(found)


def _saw(answers: Mapping[str, Any], item: str) -> bool:
    return answers.get(item, Seen.NOT_OBSERVED.letter) != Seen.NOT_OBSERVED.letter


def _filled(answers: Mapping[str, Any], others: Mapping[str, Any]) -> tuple[str, ...]:
    """The steps that one observer did not see and another did. Numbers stay whole: a reading goes with its own."""
    steps = (item for item, value in others.items() if isinstance(value, str))
    return tuple(item for item in steps if _saw(others, item) and not _saw(answers, item))
