"""Cases: another sound choice than the model's earns as much, a broken limit and a wrong number cost what is theirs."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Mapping
from typing import Any

import pytest

from exercises import BANK
from exercises.model import Choice, Chosen, Known, Numeric, System, Written
from exercises.model.marking import ItemMark, Rule, mark
from exercises.model.parts import Item
from exercises.model.soundness import typed
from exercises.model.variant import Variant
from pitside.errors import CalculationError
from tests.exercises.draws import DRAWS as MANY
from tests.exercises.draws import draw_of

CASES = [exercise.id for exercise in BANK.values() if exercise.level == 3]
DRAWS = range(MANY)
#: Shares of the right answer that are given as a wrong one, until one is wrong in no way that has a name.
OFF_BY = (1.137, 0.871, 1.0731, 0.9387, 1.0273, 0.9761)


def numbers_hang_on_a_choice(case: str) -> bool:
    items = BANK[case].items
    choices = {item.key for item in items if isinstance(item, Chosen | Choice)}
    return any(isinstance(item, Numeric) and choices & set(item.uses) for item in items)


#: The cases whose later numbers are worked from a choice, and those with a number to choose within limits.
FOLLOWED = [case for case in CASES if numbers_hang_on_a_choice(case)]
LIMITED = [case for case in CASES if any(isinstance(part, Chosen) for part in BANK[case].parts)]

pytestmark = pytest.mark.parametrize("system", System)
in_every_case = pytest.mark.parametrize("case", CASES)


def draws(case: str, system: System) -> list[Variant]:
    return [draw_of(case, system, number) for number in DRAWS]


def worked(variant: Variant, own: Mapping[str, Any]) -> dict[str, Any]:
    """Every answer of a candidate who gives these and works everything else rightly from what was given before."""
    answers: dict[str, Any] = {}
    for item in variant.exercise.items:
        answers[item.key] = own[item.key] if item.key in own else variant.answer(item, answers)
    return answers


def marks_of(variant: Variant, answers: Mapping[str, Any]) -> dict[str, ItemMark]:
    script = {item.key: typed(variant, item, answers[item.key]) for item in variant.exercise.items}
    return {result.item: result for result in mark(variant, script)}


def marks_lost(results: Mapping[str, ItemMark]) -> dict[str, float]:
    """The marks lost in each item; what a person marks and answers on the way, which can only add, are left out."""
    return {
        key: result.out_of - result.marks
        for key, result in results.items()
        if result.rule is not Rule.PENDING and result.marks != result.out_of
    }


@functools.cache
def drawn(case: str, system: System, number: int) -> tuple[Variant, list[dict[str, Any]]]:
    """A draw of a case, with sets of choices of which candidates could make each in place of the model's."""
    variant = draw_of(case, system, number)
    return variant, own_choices(variant)


def own_choices(variant: Variant) -> list[dict[str, Any]]:
    """Sets of sound choices that are other than the model's, one made after the other.

    The sets take the first other way, the last one, and one from between, at each choice at once, and then the model's
    way at all choices but one.
    """
    items = [item for item in variant.exercise.items if isinstance(item, Chosen | Choice)]
    sets = []
    for place in (0, -1, None):
        for alone in (None, *(item.key for item in items)):
            chosen: dict[str, Any] = {}
            for item in items:
                others = other_ways(variant, item, chosen)
                if others and alone in (None, item.key):
                    chosen[item.key] = others[len(others) // 2 if place is None else place]
            if chosen and chosen not in sets:
                sets.append(chosen)
    return sets


def other_ways(variant: Variant, item: Chosen | Choice, chosen: Mapping[str, Any]) -> list[Any]:
    """Sound values or options of an item, after these choices, but for the one that the model would take."""
    answers = variant.key_given(chosen)
    if isinstance(item, Chosen):
        values = variant.sound_values(item, answers)
        return [value for value in values if abs(value - answers[item.key]) > 1e-9 * abs(value)]
    return [option for option in variant.sound_options(item, answers) if option != answers[item.key]]


@in_every_case
def test_a_case_leaves_a_choice_to_make_and_to_defend(case, system):
    assert BANK[case].minutes is not None
    assert any(isinstance(part, Written) for part in BANK[case].parts)
    with_a_choice = [number for number in DRAWS if drawn(case, system, number)[1]]
    assert len(with_a_choice) == len(DRAWS) if case in LIMITED else with_a_choice


@in_every_case
def test_other_sound_choices_worked_on_rightly_get_full_marks(case, system):
    for variant, choices in (drawn(case, system, number) for number in DRAWS):
        for own in choices:
            results = marks_of(variant, worked(variant, own))
            said = {key: str(result.rule) for key, result in results.items() if key in marks_lost(results)}
            assert said == {}, f"after {own} from {variant.numbers.to_json()}"
            assert {results[key].rule for key in own} == {Rule.RIGHT}


@pytest.mark.parametrize("case", FOLLOWED)
def test_the_models_numbers_do_not_fit_another_choice(case, system):
    """Who chooses otherwise and gives the numbers of the model's choice is not marked right throughout."""
    for variant, choices in (drawn(case, system, number) for number in DRAWS):
        noticed = 0
        models = {i.key: variant.key[i.key] for i in variant.exercise.items if isinstance(i, Chosen | Choice)}
        for own in choices:
            answers = worked(variant, {**models, **own})
            numeric = [item for item in variant.exercise.items if isinstance(item, Numeric)]
            moved = [item.key for item in numeric if differs(variant, item, answers[item.key])]
            results = marks_of(variant, {**variant.key, **own})
            assert not moved or marks_lost(results), f"after {own}"
            noticed += bool(moved)
        assert noticed, "no choice changes any number"


def differs(variant: Variant, item: Numeric, answer: Any) -> bool:
    """Whether an answer lies outside of the tolerance around the model's."""
    model = variant.key[item.key]
    return bool(abs(answer - model) > 2 * item.tolerance.width(model))


@pytest.mark.parametrize("case", LIMITED)
def test_a_broken_limit_costs_its_own_marks(case, system):
    """What follows from the choice is worked on rightly, and earns what follow-through says."""
    broken = 0
    for variant in draws(case, system):
        for item in (i for i in variant.exercise.items if isinstance(i, Chosen)):
            for value in one_for_each_set_of_broken_limits(variant, item):
                try:
                    answers = worked(variant, {item.key: value})
                except CalculationError:
                    continue
                kept = limits_kept(variant, item, value)
                lost = marks_lost(marks_of(variant, answers))
                assert lost.pop(item.key, 0) == sum(
                    limit.marks for limit, keeps in zip(item.limits, kept, strict=True) if not keeps
                )
                assert lost.keys() <= excused(variant, item.key), f"{value:~P} in {item.key} also costs {lost}"
                broken += 1
    assert broken >= len(DRAWS)


def limits_kept(variant: Variant, item: Chosen, value: Any) -> tuple[bool, ...]:
    """What the limits themselves say of a choice that follows the model answers."""
    n = Known(variant.numbers, {**variant.key, item.key: value})
    return tuple(bool(limit.keeps(n)) for limit in item.limits)


def one_for_each_set_of_broken_limits(variant: Variant, item: Chosen) -> list[Any]:
    sets: dict[tuple[bool, ...], Any] = {}
    for value in variant.offered(item):
        kept = limits_kept(variant, item, value)
        if not all(kept):
            sets.setdefault(kept, value)
    return list(sets.values())


def excused(variant: Variant, first: str) -> set[str]:
    """Items that hang on one and give fewer marks by follow-through, or that are choices bound by it."""
    moved = hanging_on(variant, first)
    return {
        item.key
        for item in variant.exercise.items
        if item.key in moved and (isinstance(item, Chosen) or item.marks.followed < item.marks.value)
    }


def hanging_on(variant: Variant, first: str) -> set[str]:
    hanging = {first}
    for item in variant.exercise.items:
        if hanging & set(item.uses):
            hanging.add(item.key)
    return hanging - {first}


@in_every_case
def test_a_wrong_number_carried_on_rightly_costs_its_own_marks(case, system):
    tried = 0
    for variant in draws(case, system):
        numeric = [item for item in variant.exercise.items if isinstance(item, Numeric) and not item.method_marks]
        for item in itertools.islice(numeric, 3):
            results = wrong_and_carried_on(variant, item)
            if results is None:
                continue
            lost = marks_lost(results)
            assert lost.pop(item.key, 0) == item.marks.total
            for key, marks in lost.items():
                assert marks == follow_through_costs(variant, key), f"{item.key} wrong also costs {marks} in {key}"
            tried += 1
    assert tried >= 2 * len(DRAWS)


def wrong_and_carried_on(variant: Variant, item: Numeric) -> dict[str, ItemMark] | None:
    """The marks of a script with one wrong number from which all is worked rightly (None: it cannot be worked on)."""
    for share in OFF_BY:
        try:
            answers = worked(variant, {item.key: variant.key[item.key] * share})
        except CalculationError:
            continue
        results = marks_of(variant, answers)
        if results[item.key].rule is Rule.WRONG:
            return results
    return None


def follow_through_costs(variant: Variant, key: str) -> float:
    item: Item = variant.exercise.item(key)
    return item.marks.value - item.marks.followed
