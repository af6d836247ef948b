"""Answers that were worked by hand from the printed numbers, held against the exercise's own and its marking."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import pytest

from exercises.model import Choice, Chosen, Numeric, System
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


@dataclass(frozen=True)
class Paper:
    """What a paper shows of a variant: its numbers ``x``, its drawn words, its unit system, its options."""

    variant: Variant
    x: Printed
    field: bool

    def word(self, name: str) -> str:
        """A drawn word, or a text that follows from drawn words."""
        return str(self.variant.numbers[name])

    def letter(self, part: str, says: str) -> str:
        """The letter of the one option of a choice whose printed text holds these words."""
        item = next(item for item in self.variant.exercise.items if item.key == part)
        assert isinstance(item, Choice)
        found = [item.letter(option.key) for option in item.options if says in self.variant.text(option.text)]
        assert len(found) == 1, f"{says!r} is in {len(found)} options of part {part}"
        return found[0]


def paper_of(variant: Variant) -> Paper:
    return Paper(variant, printed_in(variant), variant.system is System.FIELD)


def hold(by_hand: ByHand, exercise: str, system: System, apart: float) -> None:
    """Every answer that is worked by hand gets full marks, and lies within ``apart`` of the exercise's own."""
    hold_read(lambda paper: by_hand(paper.x, paper.field), exercise, system, apart)


def hold_read(read: Callable[[Paper], Answers], exercise: str, system: System, apart: float) -> None:
    """The same for answers that also hang on words that the paper prints."""
    for number in DRAWS:
        variant = draw_of(exercise, system, number)
        paper = paper_of(variant)
        answers = read(paper)
        script = {}
        for item in variant.exercise.items:
            if item.key in answers:
                unit = variant.unit(item) if isinstance(item, Numeric | Chosen) else ""
                script[item.key] = Given(answers[item.key], unit)
                if isinstance(item, Numeric):
                    model = variant.key[item.key].m_as(read_unit(unit))
                    assert model == pytest.approx(answers[item.key], rel=apart), item.key
        rules = {result.item: result.rule for result in mark(variant, script)}
        assert {rule for key, rule in rules.items() if key in answers} == {Rule.RIGHT}, f"{rules} for {paper.x}"
        assert {rule for key, rule in rules.items() if key not in answers} <= {Rule.BLANK}
