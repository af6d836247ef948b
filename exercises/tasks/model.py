"""The model of an observed task: what a candidate does at the machine while an observer watches, and how it is marked.

A task is marked as an exercise is, by :attr:`Task.exercise`: each step is a part that the observer answers with a word
of :class:`~exercises.model.parts.Seen`, each point of a question asked aloud is one too, and a measured value is held
against the observer's own reading, or against what pitside works out from the candidate's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import pint

from exercises.model import By, Exercise, Known, Marks, Numeric, Pick, Reading, Watched
from exercises.model.parts import Part, Tolerance
from pitside.unit_names import read_unit
from pitside.units import Quantity

#: Marks of a step, and what it keeps when it is done after a prompt.
STEP_MARKS, AFTER_A_PROMPT = 2.0, 1.0
#: The caution with which each task begins.
SITE = (
    "Site rules and permits come first. Anyone may stop the task, by a word and a hand sign that are agreed "
    "beforehand; the observer stops it when anyone is at risk. A real alarm or a change in the well ends it at once."
)
#: Names of parts, in order; a task has no more of them than an exercise may have.
LETTERS = "abcdefghijklmnopqrst"


@dataclass(frozen=True)
class Do:
    """A step: what the observer sees, and what to tell whoever did not do it.

    A ``critical`` step that is missed fails the attempt, whatever else was done well.
    """

    see: str
    tell: str
    critical: bool = False


@dataclass(frozen=True)
class Ask:
    """A question asked aloud: each point that the candidate must say, with what to tell whoever did not say it."""

    question: str
    points: Mapping[str, str]


@dataclass(frozen=True)
class Read:
    """A value that the candidate reads, held against the observer's own reading of the same thing.

    ``usual`` is what a rig would read, in the field unit: for the sample sheet and the checks, never for marking.
    """

    name: str
    what: str
    unit: str | By[str]
    usual: float
    within: Tolerance
    marks: float = 2


@dataclass(frozen=True)
class Work:
    """A value that the candidate works out, held against what pitside makes of the candidate's own readings ``of``.

    ``solve`` takes the readings by name. A reading that was wrong is followed through.
    """

    what: str
    unit: str | By[str]
    of: tuple[str, ...]
    solve: Callable[[Mapping[str, pint.Quantity]], pint.Quantity]
    within: Tolerance
    marks: float = 2


@dataclass(frozen=True, kw_only=True)
class Task:
    """An observed task.

    ``told`` is read out to the candidate, ``conditions`` say what must stand ready, ``cautions`` what can hurt and who
    decides; site rules come first, and the observer stops the task when anyone is at risk. ``cases`` are states of the
    plant of which each candidate draws one. ``source`` is where the steps come from, and how well that is known.
    """

    id: str
    title: str
    lesson: str
    outcome: str
    place: str
    kit: tuple[str, ...]
    conditions: tuple[str, ...]
    cautions: tuple[str, ...]
    told: str
    work: tuple[Do | Ask | Read | Work, ...]
    minutes: int
    source: str
    cases: tuple[str, ...] = ()
    version: int = 1

    def __post_init__(self) -> None:
        for fault in self._faults():
            raise ValueError(f"task {self.id}: {fault}")

    @property
    def critical(self) -> tuple[str, ...]:
        return tuple(step.see for step in self.work if isinstance(step, Do) and step.critical)

    @property
    def measured(self) -> tuple[Read | Work, ...]:
        return tuple(step for step in self.work if isinstance(step, Read | Work))

    @property
    def marks(self) -> float:
        return self.exercise.marks

    @cached_property
    def exercise(self) -> Exercise:
        """The exercise by which the task is marked, with a part for all that the observer answers."""
        drawn = (Pick("case", self.cases),) if self.cases else ()
        return Exercise(
            id=self.id,
            title=self.title,
            lesson=self.lesson,
            level=1,
            version=self.version,
            outcome=self.outcome,
            numbers=drawn,
            setting=self.told + (" {case}" if self.cases else ""),
            parts=tuple(self._parts()),
        )

    def _parts(self) -> Iterator[Part]:
        letters = iter(LETTERS)
        keys: dict[str, str] = {}
        for step in self.work:
            match step:
                case Do():
                    yield Watched(
                        key=next(letters),
                        ask=step.see,
                        marks=Marks(STEP_MARKS),
                        prompted=0 if step.critical else AFTER_A_PROMPT,
                        advice=step.tell,
                        must_pass=step.critical,
                    )
                case Ask():
                    for point, tell in step.points.items():
                        yield Watched(
                            key=next(letters),
                            ask=f"Asked: {step.question} Says: {point}",
                            marks=Marks(STEP_MARKS),
                            prompted=AFTER_A_PROMPT,
                            advice=tell,
                        )
                case Read():
                    observed, keys[step.name] = next(letters), next(letters)
                    yield Reading(
                        key=observed, ask=f"{step.what}: your own reading", unit=step.unit, usual=_usual(step)
                    )
                    yield Numeric(
                        key=keys[step.name],
                        ask=f"{step.what}: the candidate's reading",
                        unit=step.unit,
                        uses=(observed,),
                        solve=_same_as(observed),
                        tolerance=step.within,
                        marks=Marks(step.marks),
                        slips=(),
                    )
                case Work():
                    yield Numeric(
                        key=next(letters),
                        ask=f"{step.what}: what the candidate worked out",
                        unit=step.unit,
                        uses=tuple(keys[name] for name in step.of),
                        solve=_worked_from(step, {name: keys[name] for name in step.of}),
                        tolerance=step.within,
                        marks=Marks(step.marks),
                        slips=(),
                    )

    def _faults(self) -> Iterator[str]:
        for name in ("kit", "conditions", "cautions"):
            if not getattr(self, name):
                yield f"names no {name}"
        if self.cautions[:1] != (SITE,):
            yield "does not put site rules before its other cautions"
        if not any(isinstance(step, Do) for step in self.work):
            yield "has no step to watch"
        read = [step.name for step in self.work if isinstance(step, Read)]
        if len(set(read)) < len(read):
            yield "has two readings of one name"
        for step in self.work:
            if isinstance(step, Work) and not set(step.of) <= set(read):
                yield f"works out {step.what} from readings that it does not take"
        count = sum(2 if isinstance(s, Read) else len(s.points) if isinstance(s, Ask) else 1 for s in self.work)
        if count > len(LETTERS):
            yield f"has {count} things to see, more than {len(LETTERS)}: make two tasks of it"


def _usual(step: Read) -> Callable[[Known], pint.Quantity]:
    unit = step.unit.field if isinstance(step.unit, By) else step.unit
    return lambda n: Quantity(step.usual, read_unit(unit))


def _same_as(key: str) -> Callable[[Known], pint.Quantity]:
    def solve(n: Known) -> Any:
        return n[key]

    return solve


def _worked_from(step: Work, keys: Mapping[str, str]) -> Callable[[Known], pint.Quantity]:
    return lambda n: step.solve({name: n[key] for name, key in keys.items()})
