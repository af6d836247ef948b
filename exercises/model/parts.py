"""The parts of an exercise and their mark scheme.

A part is asked once and holds one or more items, each of which takes one answer: a numeric, choice or order part is
its own item, a table has an item for each cell to fill.

What a part leaves out of its outcome, its tolerance and its digits, the exercise says for all of its parts.
"""

from __future__ import annotations

import enum
import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import pint

from exercises.model.numbers import By, Grid, Numbers, Range, System, in_system
from exercises.model.possible import ANYTHING, Possible, possible_by_kind
from exercises.model.working import Step
from pitside.unit_names import read_unit
from pitside.units import Quantity


class Known:
    """What a part can be worked from: the drawn numbers and the answers to earlier parts, each by its name.

    ``n.mud_weight`` is a drawn number, ``n.a`` the answer to an earlier part that this part ``uses``; the answer to a
    table's cell is ``n["b.barite.mass"]``. ``drawn`` is the set of numbers alone.
    """

    def __init__(self, drawn: Numbers, answers: Mapping[str, Any]) -> None:
        self.drawn = drawn
        self._answers = answers

    def __getitem__(self, key: str) -> Any:
        return self._answers[key]

    def __getattr__(self, name: str) -> Any:
        answers = self.__dict__["_answers"]
        if name in answers:
            return answers[name]
        try:
            return getattr(self.__dict__["drawn"], name)
        except AttributeError:
            raise AttributeError(
                f"{name} is no drawn number, and no part that is listed in what this part uses"
            ) from None


Solve = Callable[[Known], pint.Quantity]


@dataclass(frozen=True)
class Tolerance:
    """How far an answer may lie from a right value, and why so far. Made by relative(), absolute(), reading()."""

    amount: float
    unit: str | None
    because: str

    def width(self, value: pint.Quantity) -> pint.Quantity:
        """Half the width of the accepted band around ``value``."""
        return Quantity(self.reach(value), value.units)

    def reach(self, value: pint.Quantity) -> float:
        """The same as a number in the unit of ``value``."""
        if self.unit is None:
            return abs(float(value.magnitude)) * self.amount
        return _converted(self.amount, self.unit, value.units)


#: The tolerance of a part that leaves it to its exercise.
OF_THE_EXERCISE = Tolerance(0, None, because="the exercise says it")


@functools.lru_cache(maxsize=1024)
def _converted(amount: float, unit: str, into: pint.Unit) -> float:
    return float(Quantity(amount, read_unit(unit)).to(into).magnitude)


def relative(amount: float, because: str) -> Tolerance:
    """A share of the right value: ``relative(0.01, because="0.052 for 0.05195 moves it by 0.1 %")``."""
    return Tolerance(amount, None, because)


def absolute(amount: float, unit: str, because: str) -> Tolerance:
    """A fixed distance, such as a point of a percentage."""
    return Tolerance(amount, unit, because)


def reading(division: float, unit: str, because: str) -> Tolerance:
    """Half of the smallest division that a chart or instrument shows."""
    return Tolerance(division / 2, unit, because)


@dataclass(frozen=True)
class Convention:
    """Another way of the trade to the answer, as right as the model answer (0.052 for the exact constant)."""

    name: str
    value: Solve


@dataclass(frozen=True)
class Slip:
    """A usual mistake: the wrong value it leads to, what to tell the candidate, and the marks that it keeps.

    ``only`` names the unit system in which it can happen; left out, it can happen in both.
    """

    name: str
    wrong: Solve
    advice: str | By[str]
    keeps: float = 0
    only: System | None = None


@dataclass(frozen=True)
class Marks:
    """Marks of an item: for the value, for stating a fitting unit, and for a right value by follow-through."""

    value: float
    unit: float = 0
    follow: float | None = None

    @property
    def total(self) -> float:
        return self.value + self.unit

    @property
    def followed(self) -> float:
        return self.value if self.follow is None else self.follow


@dataclass(frozen=True)
class Method:
    """An answer on the way to a part's own, which earns marks where the part's own answer earns fewer.

    The paper invites it and nobody has to give it. ``key`` is also the name of the step of the part's working that
    gives it. With its marks a part never earns more than its own answer is worth.
    """

    key: str
    ask: str | By[str]
    unit: str | By[str]
    solve: Solve
    tolerance: Tolerance
    marks: float
    digits: int = 4
    uses: tuple[str, ...] = ()
    plausible: Range | None = None
    possible: Possible | None = None


@dataclass(frozen=True, kw_only=True)
class Numeric:
    """A question answered with a number and a unit.

    ``method`` lists answers on the way; a part that ``uses`` one, as ``<part>.<method>``, follows it through. A
    ``whole`` answer is a count and printed as one; its tolerance is less than a half. ``plausible`` holds the answers
    that a rig could see: an answer outside of it is a fault of the exercise, not of a candidate. ``possible`` is wider
    and holds what nature allows, where it is not what the kind of quantity allows (:mod:`exercises.model.possible`).
    ``converting`` says that converting into the asked unit is the question: an answer in another one earns nothing.
    """

    key: str
    ask: str | By[str]
    unit: str | By[str]
    solve: Solve
    plausible: Range | None = None
    tolerance: Tolerance = OF_THE_EXERCISE
    marks: Marks
    outcome: str = ""
    slips: tuple[Slip, ...]
    working: tuple[Step, ...] = ()
    conventions: tuple[Convention, ...] = ()
    uses: tuple[str, ...] = ()
    digits: int = 0
    method: tuple[Method, ...] = ()
    whole: bool = False
    possible: Possible | None = None
    converting: bool | By[bool] = False
    #: Marks that an answer on the way earns; set by the part that it belongs to.
    method_marks: float = 0

    @property
    def on_the_way(self) -> bool:
        """Whether this is an answer on the way to a part's own, without marks of its own to lose."""
        return self.method_marks > 0

    def items(self) -> tuple[Numeric, ...]:
        return (*(self._answered_on_the_way(method) for method in self.method), self)

    def _answered_on_the_way(self, method: Method) -> Numeric:
        given_by = [step.gives for step in self.working]
        if method.key not in given_by:
            raise ValueError(f"part {self.key}: no step of its working gives {method.key}")
        return Numeric(
            key=f"{self.key}.{method.key}",
            ask=method.ask,
            unit=method.unit,
            solve=method.solve,
            tolerance=method.tolerance,
            marks=Marks(0),
            outcome=self.outcome,
            slips=(),
            working=self.working[: given_by.index(method.key) + 1],
            uses=method.uses,
            digits=method.digits,
            plausible=method.plausible,
            possible=method.possible,
            method_marks=method.marks,
        )


@dataclass(frozen=True)
class Limit:
    """A limit that a candidate's own choice must keep, and what to tell who breaks it.

    ``keeps`` is asked with the choice among what is known, under its part's key.
    """

    name: str
    keeps: Callable[[Known], bool]
    advice: str | By[str]
    marks: float


@dataclass(frozen=True, kw_only=True)
class Chosen:
    """A number of the candidate's own choosing: each value that keeps all limits is right.

    Later parts are worked from the choice: whoever chose another sound value than ``suggest`` gets full marks for
    what follows from it. ``grid`` says which values the question offers ("a whole number of modules", "to the nearest
    10 gal/min"); at least two of them must keep all limits, and one must not. ``reason`` defends the suggestion.
    ``possible`` is as in a Numeric.
    """

    key: str
    ask: str | By[str]
    grid: Grid | By[Grid]
    suggest: Solve
    limits: tuple[Limit, ...]
    outcome: str = ""
    reason: str | By[str]
    uses: tuple[str, ...] = ()
    digits: int = 4
    possible: Possible | None = None

    @property
    def unit(self) -> By[str]:
        return By.each(lambda system: in_system(self.grid, system).unit)

    @property
    def marks(self) -> Marks:
        return Marks(sum(limit.marks for limit in self.limits))

    def items(self) -> tuple[Chosen, ...]:
        return (self,)


@dataclass(frozen=True)
class Row:
    """A row of a table: its key in the items' names, and its title."""

    key: str
    title: str | By[str]


@dataclass(frozen=True)
class PrintedColumn:
    """A column whose cells are printed; ``show`` gives the text template of a row's cell."""

    title: str
    show: Callable[[Row], str]


RowSolve = Callable[[Known, str], pint.Quantity]


@dataclass(frozen=True)
class RowSlip:
    """A slip of the cells of a column; ``wrong`` is told the row's key.

    ``rows`` names the rows in which it can happen; left out, it can happen in every row. ``only`` is as in a slip.
    """

    name: str
    wrong: RowSolve
    advice: str | By[str]
    keeps: float = 0
    only: System | None = None
    rows: tuple[str, ...] = ()


@dataclass(frozen=True)
class RowConvention:
    """A convention of every cell of a column."""

    name: str
    value: RowSolve


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column to fill: the same question for each row.

    ``working`` gives a row's steps. ``plausible``, ``whole``, ``possible`` and ``converting`` are as in a Numeric;
    where rows differ, ``plausible`` gives the range of each by its key.
    """

    key: str
    title: str
    unit: str | By[str]
    solve: RowSolve
    plausible: Range | Mapping[str, Range] | None = None
    tolerance: Tolerance = OF_THE_EXERCISE
    marks: Marks
    slips: tuple[RowSlip, ...]
    working: Callable[[str], tuple[Step, ...]]
    conventions: tuple[RowConvention, ...] = ()
    uses: tuple[str, ...] = ()
    digits: int = 0
    whole: bool = False
    possible: Possible | None = None
    converting: bool | By[bool] = False


@dataclass(frozen=True, kw_only=True)
class Table:
    """A question answered by filling a table; each cell is an item ``<part>.<row>.<column>``.

    A column's ``uses`` names earlier parts, or earlier columns of the same row as ``.<column>``.
    """

    key: str
    ask: str | By[str]
    rows: tuple[Row, ...]
    columns: tuple[PrintedColumn | Column, ...]
    outcome: str = ""
    corner: str = ""

    def items(self) -> tuple[Numeric, ...]:
        return tuple(self._cells.values())

    def cell(self, row: Row, column: Column) -> Numeric:
        """The item in this row and column."""
        return self._cells[row.key, column.key]

    @cached_property
    def _cells(self) -> dict[tuple[str, str], Numeric]:
        columns = [column for column in self.columns if isinstance(column, Column)]
        return {(row.key, column.key): self._cell(row, column) for row in self.rows for column in columns}

    def _cell(self, row: Row, column: Column) -> Numeric:
        return Numeric(
            key=f"{self.key}.{row.key}.{column.key}",
            ask=By.each(lambda system: f"{in_system(row.title, system)}: {column.title}"),
            unit=column.unit,
            solve=_for_row(column.solve, row.key),
            plausible=column.plausible.get(row.key) if isinstance(column.plausible, Mapping) else column.plausible,
            tolerance=column.tolerance,
            marks=column.marks,
            outcome=self.outcome,
            slips=tuple(
                Slip(s.name, _for_row(s.wrong, row.key), s.advice, s.keeps, s.only)
                for s in column.slips
                if not s.rows or row.key in s.rows
            ),
            working=column.working(row.key),
            conventions=tuple(Convention(c.name, _for_row(c.value, row.key)) for c in column.conventions),
            uses=tuple(f"{self.key}.{row.key}{use}" if use.startswith(".") else use for use in column.uses),
            digits=column.digits,
            whole=column.whole,
            possible=column.possible,
            converting=column.converting,
        )


def _for_row(function: RowSolve, row: str) -> Solve:
    return lambda n: function(n, row)


@dataclass(frozen=True)
class Option:
    """One option of a choice: its key in the mark scheme, its text, and what to tell who chose it wrongly.

    ``never_right`` marks a usual mistake that no draw makes right; every other option competes (see ``balance``).
    """

    key: str
    text: str | By[str]
    advice: str | By[str]
    never_right: bool = False


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A question answered with the letter of an option; ``right`` gives the key of the right option.

    Where several options are sound ``right`` gives their keys, the model answer's first; parts that use this one are
    then worked from the option that the candidate chose.
    """

    key: str
    ask: str | By[str]
    options: tuple[Option, ...]
    right: Callable[[Known], str | tuple[str, ...]]
    marks: Marks
    outcome: str = ""
    reason: str | By[str]
    uses: tuple[str, ...] = ()
    must_pass: bool = False

    def items(self) -> tuple[Choice, ...]:
        return (self,)

    def letter(self, option: str) -> str:
        return LETTERS[[o.key for o in self.options].index(option)]

    def option(self, key: str) -> Option:
        return next(o for o in self.options if o.key == key)


@dataclass(frozen=True)
class Before:
    """A rule of a sequence: step ``first`` comes somewhere before step ``then``, and why."""

    first: str
    then: str
    advice: str


@dataclass(frozen=True, kw_only=True)
class Order:
    """Steps to put in order, shown shuffled with letters; every order that keeps all rules is right.

    Each broken rule costs ``marks / number of rules``, rounded up to a half mark.
    """

    key: str
    ask: str | By[str]
    steps: Mapping[str, str]
    rules: tuple[Before, ...]
    marks: Marks
    outcome: str = ""
    reason: str | By[str]
    must_pass: bool = False
    uses: tuple[str, ...] = field(default=(), init=False)

    def items(self) -> tuple[Order, ...]:
        return (self,)

    def broken(self, order: tuple[str, ...]) -> tuple[Before, ...]:
        """The rules that this order of step keys breaks."""
        return tuple(rule for rule in self.rules if order.index(rule.first) > order.index(rule.then))


@dataclass(frozen=True)
class Point:
    """What a written answer must say for some of its marks."""

    text: str
    marks: float


@dataclass(frozen=True, kw_only=True)
class Written:
    """A question answered in words and marked by a person, point by point; ``model`` is the model answer's text."""

    key: str
    ask: str | By[str]
    points: tuple[Point, ...]
    model: str | By[str]
    outcome: str = ""
    uses: tuple[str, ...] = field(default=(), init=False)

    @property
    def marks(self) -> Marks:
        return Marks(sum(point.marks for point in self.points))

    def items(self) -> tuple[Written, ...]:
        return (self,)


class Seen(enum.StrEnum):
    """What an observer says of a step that a candidate was to do."""

    DONE = "done"
    PROMPTED = "prompted"
    NOT_DONE = "not done"
    NOT_OBSERVED = "not observed"

    @property
    def letter(self) -> str:
        """The letter by which a page says it."""
        return "O" if self is Seen.NOT_OBSERVED else self.value[0].upper()

    @classmethod
    def of_letter(cls, letter: str) -> Seen | None:
        return next((seen for seen in cls if seen.letter == letter.strip().upper()), None)


@dataclass(frozen=True, kw_only=True)
class Watched:
    """A step at the machine, answered by an observer with a letter of :class:`Seen`.

    ``prompted`` are the marks of a step that was done after a prompt. A step that nobody observed counts neither for
    nor against the candidate. ``must_pass`` marks a critical step, and ``advice`` is told to whoever did not do it.
    """

    key: str
    ask: str | By[str]
    marks: Marks
    prompted: float
    advice: str
    outcome: str = ""
    must_pass: bool = False
    uses: tuple[str, ...] = field(default=(), init=False)

    def items(self) -> tuple[Watched, ...]:
        return (self,)


@dataclass(frozen=True, kw_only=True)
class Reading:
    """A reading that the observer takes, which earns nothing: later parts that use it are held against it.

    ``usual`` is a reading that a rig would see, for the parts' model answers.
    """

    key: str
    ask: str | By[str]
    unit: str | By[str]
    usual: Solve
    outcome: str = ""
    possible: Possible | None = None
    plausible: None = field(default=None, init=False)
    marks: Marks = field(default=Marks(0), init=False)
    uses: tuple[str, ...] = field(default=(), init=False)

    def items(self) -> tuple[Reading, ...]:
        return (self,)


LETTERS = "ABCDEFGHIJKL"

Part = Numeric | Table | Chosen | Choice | Order | Written | Watched | Reading
Item = Numeric | Chosen | Choice | Order | Written | Watched | Reading


def possible_for(item: Numeric | Chosen | Reading) -> Possible:
    """What an answer to an item can be at all: as its part says, else by its kind of quantity.

    A part whose plausible answers go beyond its kind's is of another kind than its unit tells: nothing is known of it.
    """
    if item.possible is not None:
        return item.possible
    found = possible_by_kind(in_system(item.unit, System.FIELD))
    return found if isinstance(item, Chosen) or item.plausible is None or holds_all(found, item.plausible) else ANYTHING


@functools.cache  # every answer of every paper asks it
def holds_all(possible: Possible, plausible: Range) -> bool:
    """Whether all that is plausible is possible."""
    return all(possible.holds(Quantity(end, read_unit(plausible.unit))) for end in (plausible.low, plausible.high))


def filled(part: Part, outcome: str, tolerance: Tolerance, digits: int) -> Part:
    """The part with what it leaves to its exercise filled in from there."""
    said = part.outcome or outcome
    match part:
        case Numeric():
            return replace(part, outcome=said, **_of_numbers(part, tolerance, digits))
        case Table():
            columns = tuple(
                replace(column, **_of_numbers(column, tolerance, digits)) if isinstance(column, Column) else column
                for column in part.columns
            )
            return replace(part, outcome=said, columns=columns)
        case _:
            return replace(part, outcome=said)


def _of_numbers(part: Numeric | Column, tolerance: Tolerance, digits: int) -> dict[str, Any]:
    own = part.tolerance is not OF_THE_EXERCISE
    return {"tolerance": part.tolerance if own else tolerance, "digits": part.digits or digits}
