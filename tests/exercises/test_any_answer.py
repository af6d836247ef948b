"""Whatever is answered, every exercise is marked: nothing raises, and no part earns more than it is worth."""

from __future__ import annotations

import itertools
from collections import Counter

import numpy as np
import pytest

from exercises.model import Choice, Chosen, Numeric, System
from exercises.model.answers import Given
from exercises.model.marking import mark
from tests.exercises.draws import draw_of

#: Numbers that no rig would see, among some that it might.
NUMBERS = (0.0, -0.0, -1.0, 1e-300, 1e300, -1e300, 1e-12, 1e12, 0.5, 1.0, -273.15, 100.0, 3.7)


@pytest.mark.parametrize("system", System)
def test_nothing_that_is_answered_stops_the_marking(exercise, system):
    """Each number in every box, with some boxes left blank; then any numbers; with each option of each choice."""
    variant = draw_of(exercise.id, system, 0)
    generator = np.random.default_rng(5)
    most = max([1, *(len(item.options) for item in exercise.items if isinstance(item, Choice))])
    for number, option in itertools.product((*NUMBERS, None), range(most)):
        answers = {}
        for item in exercise.items:
            if isinstance(item, Choice):
                answers[item.key] = Given(item.letter(item.options[option % len(item.options)].key))
            elif isinstance(item, Numeric | Chosen) and generator.random() < 0.8:
                value = NUMBERS[int(generator.integers(len(NUMBERS)))] if number is None else number
                answers[item.key] = Given(value, variant.unit(item))
        earned: Counter[str] = Counter()
        worth: Counter[str] = Counter()
        for result in mark(variant, answers):
            part = result.item.partition(".")[0]
            earned[part] += result.marks
            worth[part] += result.out_of
        assert all(0 <= earned[part] <= worth[part] for part in worth)


@pytest.mark.parametrize("system", System)
def test_every_wrong_option_can_be_followed_by_right_answers(exercise, system):
    """A candidate who chose another option and answered everything else as the key says is marked without a fault."""
    variant = draw_of(exercise.id, system, 1)
    for item in exercise.items:
        if not isinstance(item, Choice):
            continue
        for option in item.options:
            answers = {
                key: Given(*variant.given_answer(exercise.item(key), answer)) for key, answer in variant.key.items()
            }
            answers[item.key] = Given(item.letter(option.key))
            results = {result.item: result for result in mark(variant, answers)}
            sound = option.key in variant.sound_options(item, variant.key)
            assert results[item.key].marks == (item.marks.value if sound else 0)
