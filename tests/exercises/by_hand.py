"""Answers that were worked by hand from the printed numbers, held against the exercise's own and its marking."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest

from exercises.model import Chosen, Numeric, System
from exercises.model.answers import Given
from exercises.model.marking import Rule, mark
from exercises.model.numbers import Drawn
from exercises.model.variant import Variant
from pitside.unit_names import read_unit
from tests.exercises.draws import DRAWS as MANY
from tests.exercises.draws import draw_of

DRAWS = range(max(5, MANY))
#: Pounds in a gallon of water of 1 kg/L: 3.785411784 L over 0.45359237 kg.
WATER = 8.3454045

Printed = Mapping[str, float]
Answers = dict[str, float | str]
ByHand = Callable[[Printed, bool], Answers]


def printed_in(variant: Variant) -> Printed:
    """The numbers that a paper prints, bare."""
    return {name: drawn.magnitude for name, drawn in variant.numbers.items() if isinstance(drawn, Drawn)}


def hold(by_hand: ByHand, exercise: str, system: System, apart: float) -> None:
    """Every answer that is worked by hand gets full marks, and lies within ``apart`` of the exercise's own."""
    for number in DRAWS:
        variant = draw_of(exercise, system, number)
        printed = printed_in(variant)
        answers = by_hand(printed, system is System.FIELD)
        script = {}
        for item in variant.exercise.items:
            if item.key in answers:
                unit = variant.unit(item) if isinstance(item, Numeric | Chosen) else ""
                script[item.key] = Given(answers[item.key], unit)
                if isinstance(item, Numeric):
                    model = variant.key[item.key].m_as(read_unit(unit))
                    assert model == pytest.approx(answers[item.key], rel=apart), item.key
        rules = {result.item: result.rule for result in mark(variant, script)}
        assert {rule for key, rule in rules.items() if key in answers} == {Rule.RIGHT}, f"{rules} for {printed}"
        assert {rule for key, rule in rules.items() if key not in answers} <= {Rule.BLANK}
