"""Mark the answers to one variant: pure, from the mark scheme and the given answers alone.

Each item is tried against the rules of :class:`Rule` from the top; the first that fits gives the mark. A later part
is held against the model answers of earlier parts and against the candidate's own (follow-through).
"""

from __future__ import annotations

import enum
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import pint

from exercises.model.answers import Given, UnreadableAnswer, read_number
from exercises.model.numbers import grouped, in_system, significant, with_unit
from exercises.model.parts import Choice, Item, Numeric, Order
from exercises.model.variant import Variant
from pitside.errors import CalculationError
from pitside.unit_names import UnknownUnit, kind_of, read_unit, spelled
from pitside.units import Quantity, ureg


class Rule(enum.StrEnum):
    """Why an item got its mark."""

    BLANK = "no answer"
    UNREADABLE = "answer could not be read"
    RIGHT = "right"
    FOLLOWED = "right by follow-through"
    UNIT = "right number, wrong unit"
    SLIP = "known slip"
    SIGN = "sign turned round"
    PARTLY = "partly right"
    WRONG = "wrong"


@dataclass(frozen=True)
class ItemMark:
    """The mark of one item, what it rests on, and what to tell the candidate beyond the rule's own words."""

    item: str
    rule: Rule
    marks: float
    out_of: float
    given: str
    model: str
    comment: str
    slip: str = ""


def mark(variant: Variant, answers: Mapping[str, Given]) -> tuple[ItemMark, ...]:
    """Mark every item of a variant; items without an answer are blank.

    Never raises for anything in ``answers``: what cannot be read is marked so, with the reason in the comment.
    """
    own: dict[str, Any] = {}
    wrong: set[str] = set()
    marks = []
    for item in variant.exercise.items:
        result, answer = _mark_item(variant, item, answers.get(item.key, Given(None)), own, wrong)
        marks.append(result)
        if answer is not None:
            own[item.key] = answer
        if result.rule is not Rule.RIGHT:
            wrong.add(item.key)
    return tuple(marks)


def _mark_item(
    variant: Variant, item: Item, given: Given, own: Mapping[str, Any], wrong: set[str]
) -> tuple[ItemMark, Any]:
    """The item's mark and the candidate's answer as later parts use it (None: none that can be used)."""
    model = variant.shown_answer(item, variant.key[item.key])

    def result(rule: Rule, marks: float, comment: str, slip: str = "") -> ItemMark:
        return ItemMark(item.key, rule, marks, item.marks.total, str(given), model, comment, slip)

    if given.value is None or (isinstance(given.value, str) and not given.value.strip()):
        return result(Rule.BLANK, 0, ""), None
    chains = list(_chains(variant, item, own, wrong))
    match item:
        case Numeric():
            return _mark_number(variant, item, given, chains, result)
        case Choice():
            return _mark_choice(variant, item, given, chains, result)
        case Order():
            return _mark_order(variant, item, given, result)


def _chains(
    variant: Variant, item: Item, own: Mapping[str, Any], wrong: set[str]
) -> Iterator[tuple[Mapping[str, Any], str]]:
    """The earlier answers to mark an item on, with the parts followed through: the model's, then the own ones.

    Own answers that were right count as right however they were rounded, so following them is named only where one
    of them was wrong.
    """
    yield variant.key, ""
    used = [use for use in item.uses if use in own]
    if used:
        yield {**variant.key, **own}, ", ".join(f"({use})" for use in used if use in wrong)


def _mark_number(variant: Variant, item: Numeric, given: Given, chains: list, result: Any) -> tuple[ItemMark, Any]:
    asked = variant.unit(item)
    try:
        number = read_number(given.value if given.value is not None else "")
        unit = read_unit(given.unit) if given.unit.strip() else None
    except (UnreadableAnswer, UnknownUnit) as error:
        return result(Rule.UNREADABLE, 0, _sentence(error) + " Nothing was recorded for it."), None
    asked_unit = read_unit(asked)
    as_asked = Quantity(number, asked_unit)
    if unit is not None and unit.dimensionality == asked_unit.dimensionality:
        readings = [Quantity(number, unit).to(asked_unit)]
    elif unit is None:
        readings = [as_asked]
        if asked_unit.dimensionless:
            readings.append(Quantity(number, ureg.dimensionless).to(asked_unit))
    else:
        readings = []
    unit_marks = item.marks.unit if unit is not None else 0
    missing = f"No unit was given; it was taken as {spelled(asked)}." if unit is None and item.marks.unit else ""

    for reading in readings:
        for answers, followed in chains:
            if _is_right(variant, item, reading, answers):
                if followed:
                    comment = f"It follows rightly from your own answer to {followed}. {missing}".strip()
                    return result(Rule.FOLLOWED, item.marks.followed + unit_marks, comment), reading
                return result(Rule.RIGHT, item.marks.value + unit_marks, missing), reading
    if unit is not None:
        for answers, followed in chains:
            if _is_right(variant, item, as_asked, answers):
                kept = (item.marks.followed if followed else item.marks.value) if item.marks.unit else 0
                return result(Rule.UNIT, kept, _unit_comment(number, given.unit, unit, asked)), as_asked
    if not readings:
        assert unit is not None
        wanted = f"{kind_of(asked)}, such as {spelled(asked)}"
        comment = f"{given.unit} measures {kind_of(unit)}; the question asks for {wanted}."
        return result(Rule.UNREADABLE, 0, comment), None
    reading = readings[0]
    for answers, followed in chains:
        for slip, value in variant.slip_values(item, answers):
            if _near(item, reading, value):
                kept = min(slip.keeps, item.marks.value)
                where = f" (worked from your own answer to {followed})" if followed else ""
                return result(Rule.SLIP, kept, f"{in_system(slip.advice, variant.system)}{where}", slip.name), reading
    if _is_right(variant, item, -reading, chains[0][0]):
        return result(Rule.SIGN, 0, "The size is right but the sign is turned round."), reading
    return result(Rule.WRONG, 0, "It fits no usual slip; compare it with the worked solution."), reading


def _sentence(error: Exception) -> str:
    text = str(error)
    return text if text.endswith((".", "?")) else f"{text}."


def _is_right(variant: Variant, item: Numeric, reading: Any, answers: Mapping[str, Any]) -> bool:
    try:
        return any(_near(item, reading, value) for value in variant.right_values(item, answers).values())
    except (CalculationError, ZeroDivisionError):
        return False


def _near(item: Numeric, reading: pint.Quantity, value: pint.Quantity) -> bool:
    """Within the tolerance, and a hair more, so that an answer on the very edge is in on every machine.

    Both are in the asked unit.
    """
    difference = abs(float(reading.magnitude) - float(value.magnitude))
    return math.isfinite(difference) and difference <= item.tolerance.reach(value) * (1 + 1e-9)


def _unit_comment(number: float, text: str, unit: pint.Unit, asked: str) -> str:
    right = with_unit(grouped(significant(number, 6)), asked)
    if unit.dimensionality == read_unit(asked).dimensionality:
        return f"The number is right in {spelled(asked)}, but you gave it in {text}. It should read {right}."
    return f"The number is right, but {text} measures {kind_of(unit)}; it should read {right}, {kind_of(asked)}."


def _mark_choice(variant: Variant, item: Choice, given: Given, chains: list, result: Any) -> tuple[ItemMark, Any]:
    letters = {item.letter(option.key): option for option in item.options}
    option = letters.get(str(given.value).strip().strip("().").upper())
    if option is None:
        return result(Rule.UNREADABLE, 0, f"Answer with one letter, {', '.join(letters)}."), None
    for answers, followed in chains:
        try:
            right = variant.key[item.key] if answers is variant.key else variant.answer(item, answers)
        except CalculationError:
            continue
        if option.key == right:
            if followed:
                comment = f"It follows rightly from your own answer to {followed}."
                return result(Rule.FOLLOWED, item.marks.followed, comment), right
            return result(Rule.RIGHT, item.marks.value, ""), right
    advice = in_system(option.advice, variant.system)
    return result(Rule.SLIP, 0, advice, f"option {item.letter(option.key)}"), option.key


def _mark_order(variant: Variant, item: Order, given: Given, result: Any) -> tuple[ItemMark, Any]:
    steps = variant.shown_steps(item)
    letters = [letter for letter in str(given.value).upper() if letter.isalpha()]
    if sorted(letters) != sorted(steps):
        return result(Rule.UNREADABLE, 0, f"Answer with each of the letters {''.join(steps)} once, in order."), None
    order = tuple(steps[letter] for letter in letters)
    broken = item.broken(order)
    if not broken:
        return result(Rule.RIGHT, item.marks.value, ""), order
    lost = math.ceil(2 * item.marks.value * len(broken) / len(item.rules)) / 2
    kept = max(0.0, item.marks.value - lost)
    comment = " ".join(rule.advice for rule in broken)
    slip = f"{broken[0].then} before {broken[0].first}"
    return result(Rule.PARTLY if kept else Rule.SLIP, kept, comment, slip), order
