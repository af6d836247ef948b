"""The record of a marked script: each mark, what it rests on, what was given by hand, and what was changed later."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

from exercises.model.marking import ItemMark, Rounding, Rule
from grader.store.part_marks import Change, ChangeKind, HandMark, item_name


@dataclass(frozen=True)
class MarkedExercise:
    """The marks of one exercise of a paper, item by item, what its parts were given by hand, and later changes."""

    exercise: str
    items: tuple[ItemMark, ...]
    hand: tuple[HandMark, ...] = ()
    changes: tuple[Change, ...] = ()

    @cached_property
    def part_marks(self) -> Mapping[str, float | None]:
        """The marks of each part: the latest change, else those given by hand, else the mark scheme's.

        None while a part waits for hand marks.
        """
        decided = {hand.part: hand.marks for hand in self.hand if hand.marks is not None}
        decided |= {change.part: change.marks for change in self.changes}
        by_part: dict[str, list[ItemMark]] = {}
        for item in self.items:
            by_part.setdefault(part_of(item), []).append(item)
        found: dict[str, float | None] = {}
        for part, items in by_part.items():
            waits = any(item.rule is Rule.PENDING for item in items)
            found[part] = decided.get(part, None if waits else sum(item.marks for item in items))
        return found

    @cached_property
    def marks(self) -> float:
        return sum(marks for marks in self.part_marks.values() if marks is not None)

    @cached_property
    def pending(self) -> tuple[str, ...]:
        """The parts that wait for hand marks."""
        return tuple(part for part, marks in self.part_marks.items() if marks is None)

    @cached_property
    def waiting(self) -> float:
        """The marks of the parts that wait for hand marks."""
        return sum(item.out_of for item in self.items if part_of(item) in self.pending)

    @cached_property
    def out_of(self) -> float:
        return sum(item.out_of for item in self.items)


def part_of(item: ItemMark) -> str:
    """The part that an item belongs to: a cell's table, any other item itself."""
    return item.item.partition(".")[0]


def _fields(thing: ItemMark | HandMark | Change | MarkedExercise | Record) -> dict[str, Any]:
    """Its fields by name, as they are; ``asdict`` copies all that is in them, which takes a command a second."""
    return {field.name: getattr(thing, field.name) for field in fields(thing)}


@dataclass(frozen=True)
class Record:
    """A marked script: what was marked with what, each mark, and what happened while it ran."""

    paper: str
    candidate: str
    sitting: str
    file: str
    script: str
    scheme: str
    ending: str
    notes: tuple[str, ...]
    exercises: tuple[MarkedExercise, ...]
    rounding: Rounding = Rounding.NO_MARKS
    #: What the assessor alone is told of the script.
    for_assessor: tuple[str, ...] = ()
    #: How its answers were had, a value of :class:`grader.marking.one_script.Way`; empty in records of before.
    way: str = ""

    @property
    def marks(self) -> float:
        return sum(exercise.marks for exercise in self.exercises)

    @property
    def out_of(self) -> float:
        return sum(exercise.out_of for exercise in self.exercises)

    @property
    def waiting(self) -> float:
        """The marks of the parts that wait for hand marks."""
        return sum(exercise.waiting for exercise in self.exercises)

    @property
    def pending(self) -> tuple[str, ...]:
        """The names of the parts that wait for hand marks."""
        return tuple(item_name(n, part) for n, e in enumerate(self.exercises, 1) for part in e.pending)

    @property
    def part_marks(self) -> dict[str, float | None]:
        """The marks of each part that count, by its name in the paper; None while it waits for hand marks."""
        return {item_name(n, part): m for n, e in enumerate(self.exercises, 1) for part, m in e.part_marks.items()}

    @property
    def changes(self) -> tuple[tuple[str, Change], ...]:
        """What was changed after marking, each with the part's name in the paper."""
        exercises = enumerate(self.exercises, 1)
        return tuple((item_name(n, change.part), change) for n, e in exercises for change in e.changes)

    @property
    def hand(self) -> dict[str, HandMark]:
        """What was given by hand, by the part's name in the paper."""
        return {item_name(n, hand.part): hand for n, e in enumerate(self.exercises, 1) for hand in e.hand}

    @property
    def hand_notes(self) -> tuple[str, ...]:
        """What the assessor should know of marks that were given by hand and could not count as they were."""
        return tuple(f"Paper {self.paper}, part {part}: {hand.note}" for part, hand in self.hand.items() if hand.note)

    def with_hand(self, hand: Mapping[str, HandMark]) -> Record:
        """The record with these hand marks, by the part's name in the paper, in place of those that it has."""
        exercises = []
        for number, exercise in enumerate(self.exercises, 1):
            given = []
            for part in dict.fromkeys(part_of(item) for item in exercise.items):
                found = hand.get(item_name(number, part))
                if found:
                    given.append(replace(found, part=part))
            exercises.append(replace(exercise, hand=tuple(given)))
        return replace(self, exercises=tuple(exercises))

    def with_changes(self, changes: Iterable[tuple[str, Change]]) -> Record:
        """The record with these changes, by the part's name in the paper, in place of those that it has.

        Left out are those that fit it no longer, of a part that it does not have or of more marks than that can give.
        """
        changes = tuple(changes)
        exercises = []
        for number, exercise in enumerate(self.exercises, 1):
            most: dict[str, float] = {}
            for item in exercise.items:
                most[part_of(item)] = most.get(part_of(item), 0.0) + item.out_of
            fitting = [
                change
                for name, change in changes
                if name == item_name(number, change.part) and change.marks <= most.get(change.part, -1.0)
            ]
            exercises.append(replace(exercise, changes=tuple(fitting)))
        return replace(self, exercises=tuple(exercises))

    def to_json(self) -> dict[str, Any]:
        """Plain JSON from which :meth:`from_json` makes the very same record."""
        return _fields(self) | {
            "exercises": [
                _fields(one)
                | {
                    "items": [_fields(item) for item in one.items],
                    "hand": [_fields(hand) for hand in one.hand],
                    "changes": [_fields(change) for change in one.changes],
                }
                for one in self.exercises
            ]
        }

    @property
    def digest(self) -> str:
        """A digest of everything in the record but hand marks and changes, which come without a marking."""
        data = _fields(self) | {
            "exercises": [
                {"exercise": one.exercise, "items": [_fields(item) for item in one.items], "hand": []}
                for one in self.exercises
            ]
        }
        if not self.for_assessor:
            del data["for_assessor"]  # as in records that were made before there was such a thing
        if not self.way:
            del data["way"]
        return hashlib.sha256(json.dumps(data, ensure_ascii=False, sort_keys=True).encode()).hexdigest()

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Record:
        exercises = tuple(
            MarkedExercise(
                e["exercise"],
                tuple(ItemMark(**(item | {"rule": Rule(item["rule"])})) for item in e["items"]),
                tuple(HandMark(**hand) for hand in e.get("hand", ())),
                tuple(Change(**(c | {"kind": ChangeKind(c["kind"])})) for c in e.get("changes", ())),
            )
            for e in data["exercises"]
        )
        rounding = Rounding(data.get("rounding", Rounding.NO_MARKS))
        read = {"notes": tuple(data["notes"]), "for_assessor": tuple(data.get("for_assessor", ()))}
        return cls(**(data | read | {"exercises": exercises, "rounding": rounding}))


def by_hand_in(record: Record) -> dict[str, list[float | str | None]]:
    """Hand marks and comments of a record by part, as the log has them; not what was given and could not count."""
    given = record.hand.items()
    return {name: [hand.marks, hand.comment] for name, hand in given if hand.marks is not None or hand.comment}
