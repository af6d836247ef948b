"""Of what kind the marks of exercises are: a paper of numbers alone says little of who can run a plant."""

from __future__ import annotations

import enum
from collections.abc import Iterable

from exercises.model import Choice, Chosen, Exercise, Numeric, Order, Written
from exercises.model.parts import Item, Reading, Watched


class Kind(enum.StrEnum):
    """What an answer shows: that its giver can reckon, judge, order acts, say it, or do it before an observer."""

    NUMBERS = "numbers"
    JUDGMENT = "judgment"
    ORDER = "order"
    WORDS = "words"
    DOING = "doing"


def kind_of(item: Item) -> Kind:
    """The kind of an answer; a number of the candidate's own choosing, held against limits, is judgment."""
    match item:
        case Numeric():
            return Kind.NUMBERS
        case Choice() | Chosen():
            return Kind.JUDGMENT
        case Order():
            return Kind.ORDER
        case Written():
            return Kind.WORDS
        case Watched() | Reading():
            return Kind.DOING


def shares_by_kind(exercises: Iterable[Exercise]) -> dict[Kind, float]:
    """The share of all marks of the exercises that each kind of answer earns; nothing of no exercises."""
    marks = dict.fromkeys(Kind, 0.0)
    for exercise in exercises:
        for item in exercise.items:
            marks[kind_of(item)] += item.marks.total
    total = sum(marks.values())
    return {kind: earned / total for kind, earned in marks.items()} if total else {}


def in_words(shares: dict[Kind, float]) -> str:
    """``numbers 65 %, judgment 22 %, order 6 %, words 7 %``, without kinds that earn nothing."""
    return ", ".join(f"{kind} {share:.0%}".replace("%", " %") for kind, share in shares.items() if share)
