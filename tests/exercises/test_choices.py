"""Counts in tables: a column of whole numbers is printed and held to its tolerance like a whole numeric part."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from exercises import BANK
from exercises.model import System, Table, relative
from exercises.model.answers import Given
from exercises.model.drawing import draw
from exercises.model.marking import Rule, mark

SCREENS = BANK["screen-designation"]


def test_a_whole_column_is_printed_without_decimals():
    variant = draw(SCREENS, np.random.default_rng(3), System.FIELD)
    item = SCREENS.item("a.two.number")
    assert variant.shown_answer(item, variant.key[item.key]) in {"60", "70", "80"}


def test_a_whole_column_takes_the_number_and_none_beside_it():
    variant = draw(SCREENS, np.random.default_rng(3), System.FIELD)
    right = round(variant.key["a.three.number"].m_as(""))
    for answer, rule in ((right, Rule.RIGHT), (right + 1, Rule.WRONG), (right - 1, Rule.WRONG)):
        result = next(m for m in mark(variant, {"a.three.number": Given(str(answer))}) if m.item == "a.three.number")
        assert result.rule is rule


def test_a_whole_column_refuses_a_wide_tolerance():
    table = SCREENS.parts[0]
    assert isinstance(table, Table)
    printed, mesh, column = table.columns
    loose = dataclasses.replace(column, tolerance=relative(0.01, because="too wide for a name"))
    with pytest.raises(ValueError, match=r"a\.one\.number is a count"):
        dataclasses.replace(SCREENS, parts=(dataclasses.replace(table, columns=(printed, mesh, loose)),))
