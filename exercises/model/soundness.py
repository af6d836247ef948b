"""Is a variant sound? Every promise of the exercise model, tried on one variant through the marking itself."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from typing import Any

import numpy as np
import pint

from exercises.model.answers import Given
from exercises.model.marking import ItemMark, Rule, mark, mark_alone
from exercises.model.numbers import significant
from exercises.model.over_draws import envelope_faults
from exercises.model.parts import Choice, Chosen, Item, Numeric, Order
from exercises.model.variant import Variant
from pitside.errors import CalculationError, ValidityWarning
from pitside.unit_names import read_unit, usual_units
from pitside.units import Quantity

#: Significant digits with which the trial answers are typed, as a trainee would.
TYPED_DIGITS = 5
#: Shares of the right answer that are tried as wrong early answers, until one is neither a slip nor out of range.
_OFF_BY = (1.137, 0.871, 1.0731, 0.9387, 1.0273, 0.9761, 1.313, 0.707, 1.87)


def faults(variant: Variant) -> list[str]:
    """What is wrong with this variant, a sentence each; an empty list for a sound one."""
    found = list(_answer_faults(variant))
    found += _validity_faults(variant)
    found += envelope_faults(variant)
    found += _full_marks_faults(variant)
    for item in variant.exercise.items:
        match item:
            case Numeric():
                found += _value_faults(variant, item)
                found += _follow_faults(variant, item)
            case Chosen():
                found += _chosen_faults(variant, item)
            case Choice():
                found += _choice_faults(variant, item)
            case Order():
                found += _order_faults(variant, item)
    return found


def typed(variant: Variant, item: Item, answer: Any) -> Given:
    """An answer as a trainee would type it, rounded, in the asked unit."""
    if isinstance(item, Numeric | Chosen):
        unit = variant.unit(item)
        return Given(significant(float(answer.to(read_unit(unit)).magnitude), TYPED_DIGITS), unit)
    return Given(variant.shown_answer(item, answer))


def model_script(variant: Variant) -> dict[str, Given]:
    """The model answers to the whole variant, typed."""
    return {item.key: typed(variant, item, variant.key[item.key]) for item in variant.exercise.items}


def _marked(variant: Variant, key: str, given: Given) -> ItemMark:
    """The mark of one answer in a script that leaves the rest blank."""
    return mark_alone(variant, key, given)


def _answer_faults(variant: Variant) -> Iterator[str]:
    """A model answer must be one that a rig could see. That the numbers are valid is for drawing to see to."""
    for item in variant.exercise.items:
        answer = variant.key[item.key]
        if isinstance(answer, pint.Quantity) and not np.isfinite(answer.magnitude):
            yield f"part {item.key}: the model answer is {answer}"
        elif isinstance(item, Numeric) and item.plausible and not item.plausible.holds(answer):
            yield f"part {item.key}: {variant.shown_answer(item, answer)} is not plausible; {item.plausible} is"


def _validity_faults(variant: Variant) -> Iterator[str]:
    """A model answer must lie where its formula holds."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", ValidityWarning)
        answers: dict[str, Any] = {}
        for item in variant.exercise.items:
            answers[item.key] = variant.answer(item, answers)
    for warning in caught:
        if issubclass(warning.category, ValidityWarning):
            yield f"a model answer lies outside the range of its formula: {warning.message}"


def _full_marks_faults(variant: Variant) -> Iterator[str]:
    for result in mark(variant, model_script(variant)):
        if result.rule is Rule.PENDING:
            continue
        if result.rule is not Rule.RIGHT or result.marks != result.out_of:
            yield f"part {result.item}: the model answer {result.given} gets {result.marks} of {result.out_of}"
    for result in mark(variant, {}):
        if result.marks:
            yield f"part {result.item}: a blank gets {result.marks} marks"


def _value_faults(variant: Variant, item: Numeric) -> Iterator[str]:
    asked = read_unit(variant.unit(item))
    for name, value in variant.right_values(item, variant.key).items():
        result = _marked(variant, item.key, typed(variant, item, value))
        if result.rule is not Rule.RIGHT:
            yield f'part {item.key}: the convention "{name}" ({result.given}) is marked {result.rule}'
    for unit in usual_units(variant.unit(item)):
        in_unit = float(variant.key[item.key].to(read_unit(unit)).magnitude)
        result = _marked(variant, item.key, Given(significant(in_unit, TYPED_DIGITS), unit))
        if result.rule is not Rule.RIGHT:
            yield f"part {item.key}: the model answer in {unit} is marked {result.rule}"
    slips = variant.slip_values(item, variant.key)
    for slip, value in slips:
        result = _marked(variant, item.key, typed(variant, item, value))
        if result.rule is not Rule.SLIP or result.slip != slip.name or result.marks != slip.keeps:
            yield f'part {item.key}: the slip "{slip.name}" is marked {result.rule} {result.slip}, {result.marks} marks'
    if not item.working:
        yield f"part {item.key}: there is no worked solution"
        return
    worked = variant.working(item)[-1].value
    if read_unit(worked.unit) != asked:
        yield f"part {item.key}: the worked solution ends in {worked.unit}, not in {variant.unit(item)}"
        return
    result = _marked(variant, item.key, Given(worked.magnitude, worked.unit))
    if result.rule is not Rule.RIGHT:
        yield f"part {item.key}: the worked solution gives {worked}, the model answer is {result.model}"


def _follow_faults(variant: Variant, item: Numeric) -> Iterator[str]:
    """A wrong answer here, rightly carried on, must cost this item's marks, and no more than follow-through says."""
    items = variant.exercise.items
    later = _hanging_on(item, items)
    if not later:
        return
    for other in later:
        if isinstance(other, Numeric) and item.key in other.uses and not _changes(variant, item, other):
            yield f"part {other.key}: it says that it uses {item.key}, but {item.key} does not change it"
    model = {other.key: _as_typed(variant, other, variant.key[other.key]) for other in items}
    for off_by in _OFF_BY:
        answers = dict(model)
        answers[item.key] = _as_typed(variant, item, variant.key[item.key] * off_by)
        try:
            for other in later:
                answers[other.key] = _as_typed(variant, other, variant.answer(other, answers))
        except CalculationError:
            continue
        script = {other.key: typed(variant, other, answers[other.key]) for other in variant.exercise.items}
        results = mark(variant, script)
        first = next(result for result in results if result.item == item.key)
        if first.rule is not Rule.WRONG:
            continue
        lost = [
            result.item
            for result, other in zip(results, items, strict=True)
            if other.key != item.key
            and not (isinstance(other, Numeric) and other.on_the_way)
            and result.marks != _carried(other, result)
        ]
        if lost:
            yield f"part {item.key}: wrong by {off_by} and carried on rightly, it also costs marks in {', '.join(lost)}"
        return
    yield f"part {item.key}: no wrong answer could be carried on from it"


def _hanging_on(item: Item, items: tuple[Item, ...]) -> list[Item]:
    """The items that are worked from one, and those that are worked from these, in the order of the paper."""
    hanging = {item.key: item}
    for other in items:
        if any(use in hanging for use in other.uses):
            hanging[other.key] = other
    return list(hanging.values())[1:]


def _as_typed(variant: Variant, item: Item, answer: Any) -> Any:
    """The answer that goes on from a number as it is typed: what is lost in rounding it can count, as at a limit."""
    if not isinstance(item, Numeric):
        return answer
    given = typed(variant, item, answer)
    return Quantity(float(str(given.value)), read_unit(given.unit)).to(answer.units)


def _changes(variant: Variant, item: Numeric, other: Numeric) -> bool:
    """Whether some wrong answer to an item moves another's; a count stays where it is for a little one."""
    for off_by in _OFF_BY:
        try:
            moved = variant.answer(other, {**variant.key, item.key: variant.key[item.key] * off_by})
        except CalculationError:
            return True
        if moved != variant.key[other.key]:
            return True
    return False


def _carried(item: Item, result: ItemMark) -> float:
    """The marks of a right answer, on the model's or on the own earlier answers."""
    if result.rule is Rule.PENDING:
        return 0
    return item.marks.followed + item.marks.unit if result.rule is Rule.FOLLOWED else item.marks.total


def _chosen_faults(variant: Variant, item: Chosen) -> Iterator[str]:
    """Sound choices get full marks, and so does what follows rightly from them; others lose their limits' marks."""
    offered = variant.offered(item)
    kept = [variant.limits_kept(item, value, variant.key) for value in offered]
    # Marks hang on which limits are kept: of the values that keep the same ones the first and the last are tried.
    first = {tuple(keeps): (value, keeps) for value, keeps in zip(reversed(offered), reversed(kept), strict=True)}
    last = {tuple(keeps): (value, keeps) for value, keeps in zip(offered, kept, strict=True)}
    for value, keeps in (*first.values(), *last.values()):
        result = _marked(variant, item.key, typed(variant, item, value))
        should = sum(limit.marks for limit, kept_it in zip(item.limits, keeps, strict=True) if kept_it)
        if result.marks != should or (result.rule is Rule.RIGHT) != all(keeps):
            yield f"part {item.key}: {result.given} gets {result.marks}, should get {should}"
    for limit_number, limit in enumerate(item.limits):
        if all(keeps[limit_number] for keeps in kept):
            yield f'part {item.key}: no offered value breaks the limit "{limit.name}"'
    sound = [value for value, keeps in zip(offered, kept, strict=True) if all(keeps)]
    for value in (sound[0], sound[-1]):
        answers = variant.key_given({item.key: value})
        for result in mark(variant, {i.key: typed(variant, i, answers[i.key]) for i in variant.exercise.items}):
            if result.rule not in (Rule.RIGHT, Rule.PENDING):
                yield f"part {result.item}: after the sound choice {value:~P} in {item.key} it is marked {result.rule}"


def _choice_faults(variant: Variant, item: Choice) -> Iterator[str]:
    for option in item.options:
        result = _marked(variant, item.key, Given(item.letter(option.key)))
        should = item.marks.value if option.key in variant.sound_options(item, variant.key) else 0
        if result.marks != should:
            yield f"part {item.key}: option {option.key} gets {result.marks}, should get {should}"
        if should:
            answers = variant.key_given({item.key: option.key})
            script = {i.key: typed(variant, i, answers[i.key]) for i in variant.exercise.items}
            for other in mark(variant, script):
                if other.rule not in (Rule.RIGHT, Rule.PENDING):
                    yield f"part {other.item}: after the sound option {option.key} it is marked {other.rule}"


def _order_faults(variant: Variant, item: Order) -> Iterator[str]:
    as_shown = "".join(variant.shown_steps(item))
    if _marked(variant, item.key, Given(as_shown)).marks >= item.marks.value:
        yield f"part {item.key}: the steps as shown get full marks"
    for rule in item.rules:
        swapped = _swapped(tuple(item.steps), rule.first, rule.then)
        result = _marked(variant, item.key, Given(variant.shown_answer(item, swapped)))
        if result.marks >= item.marks.value or rule.advice not in result.comment:
            yield f"part {item.key}: {rule.then} before {rule.first} is not noticed"


def _swapped(order: tuple[str, ...], one: str, other: str) -> tuple[str, ...]:
    swap = {one: other, other: one}
    return tuple(swap.get(step, step) for step in order)
