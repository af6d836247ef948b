"""An exercise: its numbers, setting, parts and version, checked for form when it is made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

from exercises.model.chart import Chart
from exercises.model.envelope import Within
from exercises.model.numbers import By, Derived, Number, Numbers, Pick, System, Told, in_system
from exercises.model.parts import (
    OF_THE_EXERCISE,
    Choice,
    Chosen,
    Item,
    Known,
    Numeric,
    Order,
    Part,
    PrintedColumn,
    Table,
    Tolerance,
    Watched,
    Written,
    filled,
    holds_all,
)
from exercises.model.text import names_in
from pitside.unit_names import read_unit


@dataclass(frozen=True, kw_only=True)
class Exercise:
    """A parametrised task.

    ``id`` is its name in papers and in the book, ``lesson`` the lesson that it belongs to; in the bank the place of
    the file says both. ``level`` is 1 (one step), 2 (dependent steps) or 3 (case). ``version`` goes up when marks would
    change. ``outcome``, ``tolerance`` and ``digits`` are those of every part that does not say its own. ``valid`` says
    whether drawn numbers make sense together; numbers for which it raises a
    :class:`~pitside.errors.CalculationError` do not. ``envelope`` says which quantities a rig would see in which
    range; it decides no mark. ``chart`` is shown under the setting, to be read from. A
    case also says how many ``minutes`` it takes and which lessons it ``combines`` with its own.
    """

    id: str = ""
    title: str
    lesson: str = ""
    level: int
    version: int
    outcome: str = ""
    tolerance: Tolerance = OF_THE_EXERCISE
    digits: int = 4
    numbers: tuple[Number | Pick | Derived | Told, ...]
    setting: str | By[str]
    parts: tuple[Part, ...]
    valid: Callable[[Known], bool] = lambda n: True
    envelope: tuple[Within, ...] = ()
    chart: Callable[[Numbers, System], Chart] | None = None
    minutes: int | None = None
    combines: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        parts = tuple(filled(part, self.outcome, self.tolerance, self.digits) for part in self.parts)
        object.__setattr__(self, "parts", parts)
        for fault in self._faults():
            raise ValueError(f"exercise {self.id or self.title}: {fault}")

    def placed(self, id: str, lesson: str) -> Exercise:
        """The exercise under the id and in the lesson that its file's place gives. Raises: ValueError if it differs."""
        if self.id not in ("", id) or self.lesson not in ("", lesson):
            raise ValueError(f"exercise {self.id} of lesson {self.lesson} lies in the place of {id} of lesson {lesson}")
        return replace(self, id=id, lesson=lesson)

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """Everything that takes an answer, in the order of the paper."""
        return tuple(item for part in self.parts for item in part.items())

    @property
    def marks(self) -> float:
        return sum(item.marks.total for item in self.items)

    def item(self, key: str) -> Item:
        return next(item for item in self.items if item.key == key)

    @property
    def outcomes(self) -> tuple[str, ...]:
        """The learning outcomes that the parts assess, each once."""
        return tuple(dict.fromkeys(part.outcome for part in self.parts))

    def _faults(self) -> list[str]:
        faults = []
        keys = [part.key for part in self.parts]
        if keys != list("abcdefghijklmnopqrst"[: len(keys)]):
            faults.append(f"parts must be called a, b, c ... in order, not {keys}")
        drawn = {number.name for number in self.numbers}
        for part in self.parts:
            if not part.outcome:
                faults.append(f"part {part.key} has no outcome, and the exercise gives none")
        for name in drawn:
            if len(name) < 2 or not name.isidentifier():
                faults.append(f"{name} is no name for a number: two letters or more, of which a name in Python is made")
        if (self.level == 3) != (self.minutes is not None):
            faults.append("a case, level 3, says how many minutes it takes, and no other exercise does")
        if (self.level == 3) != bool(self.combines) or self.lesson in self.combines:
            faults.append("a case, level 3, names the other lessons that it combines, and no other exercise does")
        seen: set[str] = set()
        for item in self.items:
            for use in item.uses:
                if use not in seen:
                    faults.append(f"part {item.key} uses {use}, which is no earlier part")
            if isinstance(item, Written):
                if not item.points or any(point.marks <= 0 for point in item.points):
                    faults.append(f"part {item.key} needs points, each with marks")
                continue  # no later part can be worked from words
            if isinstance(item, Watched):
                if not 0 <= item.prompted <= item.marks.value:
                    faults.append(f"part {item.key} gives more after a prompt than without one")
                continue  # nor from a step
            seen.add(item.key)
            if isinstance(item, Chosen) and (not item.limits or any(limit.marks <= 0 for limit in item.limits)):
                faults.append(f"part {item.key} needs limits, each with marks")
            if isinstance(item, Numeric):
                if item.tolerance is OF_THE_EXERCISE:
                    faults.append(f"part {item.key} has no tolerance, and the exercise gives none")
                faults += self._possible_faults(item)
                if item.converting and (item.marks.unit or item.on_the_way):
                    faults.append(
                        f"part {item.key} asks to convert, so its unit stands in the question and earns no mark"
                    )
                if item.whole and (item.tolerance.unit is None or item.tolerance.amount >= 0.5):
                    faults.append(f"part {item.key} is a count: its tolerance must be absolute and less than a half")
                for system in System:
                    names = [slip.name for slip in item.slips if slip.only in (None, system)]
                    if len(set(names)) < len(names):
                        faults.append(f"part {item.key} has two slips of one name in {system} units")
        for where, text in self._questions():
            for unknown in names_in(text) - drawn:
                faults.append(f"{where} names {{{unknown}}}, which is not drawn")
        for part in self.parts:
            if isinstance(part, Numeric):
                texts = [in_system(method.ask, system) for method in part.method for system in System]
                for unknown in set().union(*map(names_in, texts)) - drawn:
                    faults.append(f"an answer on the way of part {part.key} names {{{unknown}}}, which is not drawn")
            if isinstance(part, Choice | Chosen):
                for unknown in set().union(*(names_in(in_system(part.reason, s)) for s in System)) - drawn - seen:
                    faults.append(f"the reason of part {part.key} names {{{unknown}}}, which is no number and no part")
        return faults

    @staticmethod
    def _possible_faults(item: Numeric) -> list[str]:
        possible, asked = item.possible, in_system(item.unit, System.FIELD)
        if possible is None or not possible.is_bounded:
            return []
        if read_unit(possible.unit).dimensionality != read_unit(asked).dimensionality:
            return [f"part {item.key}: what is possible is in {possible.unit}, which measures something else"]
        if item.plausible and not holds_all(possible, item.plausible):
            return [f"part {item.key}: {item.plausible} is plausible, but {possible} is possible"]
        return []

    def _questions(self) -> list[tuple[str, str]]:
        """The texts of the paper and of advice, which may name drawn numbers and nothing that answers a part."""
        texts: list[tuple[str, str | By[str]]] = [("the setting", self.setting)]
        for item in self.items:
            if isinstance(item, Numeric):
                texts += [(f"the advice on {slip.name}", slip.advice) for slip in item.slips]
        for part in self.parts:
            texts.append((f"part {part.key}", part.ask))
            match part:
                case Table():
                    texts += [(f"row {row.key}", row.title) for row in part.rows]
                    printed = [column for column in part.columns if isinstance(column, PrintedColumn)]
                    texts += [(f"column {column.title}", column.show(row)) for column in printed for row in part.rows]
                case Choice():
                    texts += [(f"option {option.key}", option.text) for option in part.options]
                    texts += [(f"the advice on option {option.key}", option.advice) for option in part.options]
                case Chosen():
                    texts += [(f"the advice on the limit {limit.name}", limit.advice) for limit in part.limits]
                case Order():
                    texts.append((f"the reason of part {part.key}", part.reason))
                case Written():
                    texts.append((f"the model answer of part {part.key}", part.model))
        return [(where, in_system(text, system)) for where, text in texts for system in System]
