"""An exercise: its numbers, setting, parts and version, checked for form when it is made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from exercises.model.numbers import By, Number, Numbers, Pick, System, in_system
from exercises.model.parts import Item, Numeric, Part, Table
from exercises.model.text import names_in


@dataclass(frozen=True)
class Exercise:
    """A parametrised task.

    ``id`` is its name in papers and in the book, ``lesson`` the lesson that it belongs to, ``level`` 1 (one step),
    2 (dependent steps) or 3 (case). ``valid`` says whether drawn numbers make sense together. ``version`` goes up
    when marks would change.
    """

    id: str
    title: str
    lesson: str
    level: int
    version: int
    numbers: tuple[Number | Pick, ...]
    setting: str | By[str]
    parts: tuple[Part, ...]
    valid: Callable[[Numbers], bool] = lambda numbers: True

    def __post_init__(self) -> None:
        for fault in self._faults():
            raise ValueError(f"exercise {self.id}: {fault}")

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
        if keys != list("abcdefghij"[: len(keys)]):
            faults.append(f"parts must be called a, b, c ... in order, not {keys}")
        drawn = {number.name for number in self.numbers}
        seen: set[str] = set()
        for item in self.items:
            for use in item.uses:
                if use not in seen:
                    faults.append(f"part {item.key} uses {use}, which is no earlier part")
            seen.add(item.key)
            if isinstance(item, Numeric) and len({slip.name for slip in item.slips}) < len(item.slips):
                faults.append(f"part {item.key} has two slips of one name")
        for where, text in self._texts():
            for unknown in names_in(text) - drawn - seen:
                faults.append(f"{where} names {{{unknown}}}, which is neither drawn nor a part")
        return faults

    def _texts(self) -> list[tuple[str, str]]:
        """The texts that may name numbers only (a worked step may also name what other steps gave)."""
        texts = [("the setting", self.setting)] + [(f"part {part.key}", part.ask) for part in self.parts]
        for part in self.parts:
            if isinstance(part, Table):
                texts += [(f"row {row.key}", row.title) for row in part.rows]
        return [(where, in_system(text, system)) for where, text in texts for system in System]
