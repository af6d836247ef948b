"""Every exercise keeps what the exercise model promises, over many draws in both unit systems."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest

from exercises import BANK, LESSONS, outcomes_of
from exercises.model import Choice, Exercise, Number, Numeric, Order, Pick, System, Table
from exercises.model.numbers import in_system
from exercises.model.over_draws import balances
from exercises.model.soundness import faults
from exercises.model.variant import SHUFFLE
from tests.exercises.draws import DRAWS, class_of, draw_of, each, in_one_system, of_kind


def has_choice(exercise: Exercise) -> bool:
    return any(isinstance(part, Choice) for part in exercise.parts)


def test_every_draw_is_sound(variants):
    found = Counter(fault for variant in variants for fault in faults(variant))
    assert found == {}


@of_kind(Numeric)
def test_every_number_that_is_asked_has_a_range_of_plausible_answers(exercise):
    """That draws lie in it is for the test above: the soundness check looks."""
    without = [item.key for item in exercise.items if isinstance(item, Numeric) and item.plausible is None]
    assert without == []


def test_every_drawn_number_lies_on_its_grid(variants):
    """By decimal arithmetic on the grid as it is written, where drawing rounds binary numbers."""
    system = variants[0].system
    grids = {number.name: number.grid(system) for number in variants[0].exercise.numbers if isinstance(number, Number)}
    words = {number.name: number.options for number in variants[0].exercise.numbers if isinstance(number, Pick)}
    for variant in variants:
        for name, grid in grids.items():
            low, high, step = (Decimal(str(value)) for value in (grid.low, grid.high, grid.step))
            drawn = Decimal(str(variant.numbers[name].magnitude))
            assert low <= drawn <= high
            assert (drawn - low) % step == 0, f"{name} = {drawn}"
        assert all(variant.numbers[name] in options for name, options in words.items())
    assert grids or words


@of_kind(Numeric)
def test_every_slip_can_be_worked_out_in_most_draws(variants):
    for item in variants[0].exercise.items:
        if not isinstance(item, Numeric) or item.on_the_way:
            continue
        possible = {slip.name for slip in item.slips if slip.only in (None, variants[0].system)}
        found = Counter(slip.name for variant in variants for slip, _ in variant.slip_values(item, variant.key))
        assert len(possible) >= 2, f"part {item.key} has fewer than two slips in {variants[0].system} units"
        assert min(found[name] for name in possible) >= 0.9 * len(variants), f"part {item.key}: {found}"


@in_one_system(("exercise", "variants"))
def test_those_who_get_a_paper_hardly_ever_share_numbers(variants):
    """A class is as large as there are draws here: a dozen, or more where more are drawn, and at most forty."""
    papers = [
        tuple((name, str(value)) for name, value in variant.numbers.items() if not name.startswith(SHUFFLE))
        for variant in class_of(variants)[:40]
    ]
    shared = Counter(papers)
    assert len(shared) >= 0.87 * len(papers)
    assert max(shared.values()) <= 2


@in_one_system(("exercise", "variants"), has_choice)
def test_no_option_is_right_for_everybody(variants):
    """A choice that has the same letter for all is copied, not answered; where several are sound, that is no harm.

    How often each option is right is for the test below: of two options that are right in half of all draws, one is
    right in 19 of 24 for one choice in some hundreds.
    """
    variants = class_of(variants)
    most = 0.95 * len(variants)
    for part in variants[0].exercise.parts:
        if isinstance(part, Choice):
            sound = Counter(variant.sound_options(part, variant.key) for variant in variants)
            options, times = sound.most_common(1)[0]
            assert len(options) > 1 or times <= most, f"part {part.key}: {sound} can be guessed"


@pytest.mark.slow  # two hundred draws of each
@each(has_choice)
def test_each_option_of_a_choice_is_right_in_a_fair_share_of_draws(exercise):
    """Over both unit systems together; what chance gives in so many draws is allowed for."""
    drawn = [draw_of(exercise.id, system, number) for system in System for number in range(max(100, DRAWS))]
    assert [fault for balance in balances(drawn) for fault in balance.faults()] == []


@of_kind(Order)
def test_the_shuffled_steps_differ_from_paper_to_paper(variants):
    for part in variants[0].exercise.parts:
        if isinstance(part, Order):
            assert len({variant.numbers[f"{SHUFFLE}.{part.key}"] for variant in variants}) >= 0.9 * len(variants)


def test_the_texts_of_a_paper_hold_no_answer_and_no_gap(variants):
    for variant in variants[:10]:
        texts = [variant.text(variant.exercise.setting), *(variant.text(part.ask) for part in variant.exercise.parts)]
        for text in texts:
            assert "{" not in text
            assert "  " not in text


def test_an_exercise_says_what_it_teaches(exercise):
    assert exercise.lesson in LESSONS
    assert exercise.outcomes
    for part in exercise.parts:
        assert part.outcome.endswith(".")
        assert part.outcome[0].isupper()
    for item in exercise.items:
        if isinstance(item, Numeric):
            assert item.tolerance.because
            for slip in item.slips:
                for system in System:
                    advice = in_system(slip.advice, system)
                    assert advice.endswith((".", "?", "!"))
                    assert len(advice) <= 220, f'part {item.key}: the advice on "{slip.name}" is long'


@pytest.mark.parametrize("lesson", LESSONS)
def test_no_outcome_of_a_lesson_is_without_an_exercise(lesson):
    outcomes = outcomes_of(lesson)
    assert 1 <= len(outcomes) <= 6, "more than a lesson of half a day can teach and a paper can ask"
    assert not set(outcomes) - {outcome for exercise in BANK.values() for outcome in exercise.outcomes}


def test_every_exercise_assesses_an_outcome_of_its_own_lesson(exercise):
    assert set(outcomes_of(exercise.lesson)) & set(exercise.outcomes)
    assert set(exercise.outcomes) <= {outcome for lesson in LESSONS for outcome in outcomes_of(lesson)}


def test_the_bank_has_chains_a_table_choices_and_orders():
    parts = [part for exercise in BANK.values() for part in exercise.parts]
    chains = [exercise.id for exercise in BANK.values() if sum(bool(item.uses) for item in exercise.items) >= 3]
    assert len(BANK) >= 8
    assert len(chains) >= 2
    assert any(isinstance(part, Table) for part in parts)
    assert sum(isinstance(part, Choice) for part in parts) >= 1
    assert sum(isinstance(part, Order) for part in parts) >= 1
