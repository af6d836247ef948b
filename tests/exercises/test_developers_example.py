"""The exercise that DEVELOPERS.md shows is one that could be put into the bank as it stands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from exercises import BANK, LESSONS, outcomes_of
from exercises.model import Exercise, Numeric
from exercises.model.review import summary

DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"


@pytest.fixture(scope="module")
def example() -> Exercise:
    section = DEVELOPERS.read_text(encoding="utf-8").split("## Adding an exercise")[1].split("\n## ")[0]
    source = re.search(r"```python\n(.*?)```", section, re.DOTALL)
    assert source is not None
    module: dict[str, object] = {}
    exec(compile(source[1], str(DEVELOPERS), "exec"), module)
    made = module["EXERCISE"]
    assert isinstance(made, Exercise)
    return made.placed("pressure-of-the-example", "mud-weight")


def test_the_example_is_sound_in_both_systems(example):
    found = summary(example, 20)
    assert found.draws == 40
    assert found.faults == {}


def test_the_example_has_what_the_bank_wants_of_an_exercise(example):
    assert example.id not in BANK
    assert example.lesson in LESSONS
    assert set(example.outcomes) <= set(outcomes_of(example.lesson))
    assert all(item.plausible for item in example.items if isinstance(item, Numeric))
