"""What draws show of an exercise: quantities out of the envelope and choices out of balance are found and told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from exercises.model import Choice, Marks, Numeric, Option, System, Usual, Within
from exercises.model.drawing import draw
from exercises.model.over_draws import balances, seen
from exercises.model.review import review, summary
from exercises.model.soundness import faults
from tests.exercises.toy import TOY

FIRST = TOY.numbers[0]


def _drawn(exercise, number=60):
    return [draw(exercise, np.random.default_rng([i, 7]), System.FIELD) for i in range(number)]


def _first(n):
    return getattr(n, FIRST.name)


def _wide(unit):
    return Usual(-1e9, 1e9, unit)


def _narrow(unit):
    return Usual(1e8, 1e9, unit)


def test_a_quantity_inside_is_no_fault_and_is_told_with_its_ends():
    exercise = replace(TOY, envelope=(Within("the first number", _first, _wide(FIRST.field.unit)),))
    variants = _drawn(exercise)
    (found,) = seen(variants)
    values = [_first(variant.numbers).m for variant in variants]
    assert found.inside
    assert (found.low.m, found.high.m) == (min(values), max(values))
    assert all(faults(variant) == [] for variant in variants[:3])
    assert "OUTSIDE" not in str(found)


def test_a_quantity_outside_without_a_reason_is_a_fault_and_with_one_is_not():
    without = replace(TOY, envelope=(Within("the first number", _first, _narrow(FIRST.field.unit)),))
    reason = replace(without, envelope=(replace(without.envelope[0], outside="the toy is small"),))
    (variant,) = _drawn(without, 1)
    assert any("the first number" in fault and "no reason" in fault for fault in faults(variant))
    assert faults(_drawn(reason, 1)[0]) == []
    (found,) = seen(_drawn(reason))
    assert "OUTSIDE, because the toy is small" in str(found)
    assert any("the first number" in fault for fault in summary(without, 3).faults)


def test_a_quantity_is_worked_from_model_answers_too():
    key, unit = next((i.key, i.unit) for i in TOY.items if isinstance(i, Numeric))
    unit = unit if isinstance(unit, str) else unit.field
    exercise = replace(TOY, envelope=(Within("an answer", lambda n: n[key], _wide(unit)),))
    variants = _drawn(exercise, 5)
    (found,) = seen(variants)
    assert found.high == max(variant.key[key] for variant in variants)


def test_a_quantity_that_a_draw_does_not_have_is_left_out():
    exercise = replace(TOY, envelope=(Within("nothing", lambda n: None, _narrow("fraction")),))
    assert seen(_drawn(exercise, 3)) == []
    assert faults(_drawn(exercise, 1)[0]) == []


def test_a_quantity_that_names_what_is_not_there_is_told_as_a_fault():
    exercise = replace(TOY, envelope=(Within("a ghost", lambda n: n.ghost, _wide("fraction")),))
    assert any("a ghost cannot be worked out" in fault for fault in faults(_drawn(exercise, 1)[0]))


def test_the_envelope_leaves_the_digest_of_the_scheme_as_it_is():
    exercise = replace(TOY, envelope=(Within("the first number", _first, _narrow(FIRST.field.unit)),))
    assert [v.scheme_digest for v in _drawn(exercise, 5)] == [v.scheme_digest for v in _drawn(TOY, 5)]


def _choice(options, right):
    return replace(
        TOY,
        parts=(
            *TOY.parts,
            Choice(
                key="abcdefghijklmnopqrst"[len(TOY.parts)],
                ask="Which?",
                options=tuple(Option(key, key, "No.", never_right=key == "never") for key in options),
                right=right,
                marks=Marks(1),
                reason="So it is.",
                outcome=TOY.parts[0].outcome,
            ),
        ),
    )


def _turn(n, sides):
    """A side that hangs on the drawn number, each as often as the others."""
    low, step = FIRST.field.low, FIRST.field.step
    return sides[round((_first(n).m - low) / step) % len(sides)]


def _balance(options, right):
    *_, last = balances(_drawn(_choice(options, right), 300))
    return last


def test_a_choice_that_always_praises_one_side_is_out_of_balance():
    found = _balance(("one", "other", "neither"), lambda n: "one")
    assert len(found.faults()) == 3
    assert "OUT OF BALANCE" in str(found)


def test_a_choice_between_three_that_take_turns_is_fair():
    found = _balance(("one", "other", "neither"), lambda n: _turn(n, ("one", "other", "neither")))
    assert found.faults() == []
    assert sum(found.share.values()) == pytest.approx(1)


def test_where_two_options_are_sound_a_draw_counts_half_for_each():
    found = _balance(("one", "other"), lambda n: ("one", "other"))
    assert found.share == {"one": 0.5, "other": 0.5}
    assert found.sound == {"one": 1, "other": 1}
    assert found.alone == {"one": 0, "other": 0}


def test_a_usual_mistake_competes_with_nothing_and_may_not_be_right():
    fair = _balance(("one", "other", "never"), lambda n: _turn(n, ("one", "other")))
    assert fair.bounds == pytest.approx((0.40, 0.60))
    assert fair.faults() == []
    wrong = _balance(("one", "other", "never"), lambda n: _turn(n, ("one", "other", "never")))
    assert any("never right, and was right" in fault for fault in wrong.faults())


@pytest.mark.parametrize(("options", "least"), [(2, 0.40), (3, 0.15), (4, 0.15), (5, 0.12), (6, 0.10)])
def test_the_least_share_leaves_room_for_all_options(options, least):
    keys = tuple(f"option{number}" for number in range(options))
    found = _balance(keys, lambda n: _turn(n, keys))
    assert found.bounds == pytest.approx((least, 0.60))


def test_one_of_two_options_that_is_right_in_three_draws_of_four_is_out_of_balance():
    found = _balance(("one", "other"), lambda n: _turn(n, ("one", "one", "one", "other")))
    assert len(found.faults()) == 2


def test_check_prints_envelope_and_balance_and_ends_in_wrong():
    exercise = replace(
        _choice(("one", "other", "neither"), lambda n: "one"),
        envelope=(Within("the first number", _first, _wide(FIRST.field.unit)),),
    )
    lines = list(review(exercise, 10))
    assert sum("the first number:" in line for line in lines) == 2  # a line for each unit system
    assert any("OUT OF BALANCE" in line for line in lines)
    assert lines[-1].startswith("Wrong:")


def test_the_table_alone_has_the_same_ranges_and_balances_and_still_tells_what_lies_outside():
    exercise = replace(TOY, envelope=(Within("the first number", _first, _narrow(FIRST.field.unit)),))
    alone, whole = summary(exercise, 5, table=True), summary(exercise, 5)
    assert alone.ranges == whole.ranges
    assert alone.balances == whole.balances
    assert any("the first number" in fault and "no reason" in fault for fault in alone.faults)
