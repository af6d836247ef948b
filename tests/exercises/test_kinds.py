"""The bank asks for judgment, order and words too, and no outcome is left to chance."""

from __future__ import annotations

import pytest

from exercises import BANK, LESSONS
from exercises.kinds import Kind, in_words, kind_of, shares_by_kind
from exercises.model import Chosen
from tests.exercises.toy import TOY
from tests.exercises.toy_case import CASE


def test_at_least_a_third_of_all_marks_is_for_something_else_than_a_number():
    """It was 24 % when every lesson was a lesson in sums; a crew has to judge, to act in order and to say it."""
    shares = shares_by_kind(BANK.values())
    assert 1 - shares[Kind.NUMBERS] >= 1 / 3, in_words(shares)


def test_marks_are_counted_by_the_kind_of_answer():
    """By hand: numbers 3 and 3 and four cells of a table of 1 each, a choice of 1, an order of 3; 14 marks in all."""
    assert shares_by_kind([TOY]) == pytest.approx(
        {Kind.NUMBERS: 10 / 14, Kind.JUDGMENT: 1 / 14, Kind.ORDER: 3 / 14, Kind.WORDS: 0, Kind.DOING: 0}
    )


def test_a_number_of_ones_own_choosing_is_judgment():
    assert {kind_of(item) for item in CASE.items if isinstance(item, Chosen)} == {Kind.JUDGMENT}


def test_no_exercises_have_no_shares():
    assert shares_by_kind([]) == {}


def test_shares_are_told_in_whole_percent():
    assert in_words({Kind.NUMBERS: 0.647, Kind.ORDER: 0.0, Kind.WORDS: 0.353}) == "numbers 65 %, words 35 %"


@pytest.mark.parametrize("lesson", ["safety", "mud-check", "gas", "dewatering", "running-a-well", "fault-finding"])
def test_a_lesson_of_running_the_plant_asks_for_more_than_numbers(lesson):
    assert lesson in LESSONS
    shares = shares_by_kind(exercise for exercise in BANK.values() if exercise.lesson == lesson)
    assert 1 - shares[Kind.NUMBERS] >= 1 / 2
