"""Calculations against measurements: how far apart, and that a usual mistake lies farther."""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.measured_data import COMPARISONS, FILES, Comparison, Points, measured

pytestmark = pytest.mark.published


def breaks(comparison: Comparison, points: Points) -> bool:
    apart = comparison.apart(points)
    return bool(np.abs(apart).max() > comparison.within or abs(np.median(apart)) > comparison.middle)


@pytest.mark.parametrize("comparison", COMPARISONS, ids=lambda comparison: comparison.name)
def test_what_is_worked_out_lies_as_near_to_the_measurements_as_the_page_says(comparison):
    assert not breaks(comparison, comparison.points()), f"{comparison.spread()}; {comparison.because}"


@pytest.mark.parametrize("comparison", COMPARISONS, ids=lambda comparison: comparison.name)
def test_the_bounds_are_no_wider_than_they_need_be(comparison):
    """Half as wide, at least one of them would break: a bound that nothing comes near says nothing."""
    apart = comparison.apart(comparison.points())
    assert np.abs(apart).max() > comparison.within / 2
    assert abs(np.median(apart)) < comparison.within


@pytest.mark.parametrize(
    ("comparison", "wrong"),
    [
        pytest.param(comparison, wrong, id=f"{comparison.name}: {name}")
        for comparison in COMPARISONS
        for name, wrong in comparison.wrong_turns
    ],
)
def test_a_usual_mistake_lies_outside_the_bounds(comparison, wrong):
    assert breaks(comparison, wrong())


@pytest.mark.parametrize("path", sorted(FILES.glob("*.csv")), ids=lambda path: path.stem)
def test_a_file_of_measurements_names_its_source_its_licence_and_how_it_was_seen(path):
    head = measured(path.stem).head
    for word in ("Source: ", "Seen: ", "Licence"):
        assert any(line.startswith(word) for line in head), word
    assert path.stem in {comparison.file for comparison in COMPARISONS}
