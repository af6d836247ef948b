"""The book's page of published checks says what the tests say now."""

from __future__ import annotations

import re

import pytest

from tests.published import agreement
from tests.published.measured_data import COMPARISONS


@pytest.mark.slow  # each check by itself is made in the shorter run too
def test_the_page_of_checks_is_true() -> None:
    assert agreement.PAGE.read_text(encoding="utf-8") == agreement.page(), "run: make agreement"


@pytest.mark.parametrize("comparison", COMPARISONS, ids=lambda comparison: comparison.name)
def test_the_figures_beside_the_page_are_those_of_the_measurements(comparison) -> None:
    """Their numbers, which lie in the paths; how a drawing library writes the rest is its own affair."""
    assert _places(agreement.figure_path(comparison).read_text(encoding="utf-8")) == _places(
        agreement.drawn(comparison)
    ), "run: make agreement"


def _places(svg: str) -> list[str]:
    """Every place to which a path goes or at which a marker stands, rounded to a tenth of a point."""
    found = re.findall(r'(?: d="| x="| y=")([^"]*)"', svg)
    return [re.sub(r"(\d+\.\d)\d*", r"\1", place) for place in found]


def test_most_checks_name_the_calculation_that_they_hold() -> None:
    every = agreement.checks()
    assert len(every) > 300
    assert sum(bool(agreement.functions(check)) for check in every) > 0.7 * len(every)
