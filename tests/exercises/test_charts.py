"""The charts that are read in papers: nothing cut off, one chart's curve never in another's, the same bytes always."""

import io
import re
from collections.abc import Iterator

import matplotlib.image
import numpy as np
import pytest

from exercises import BANK
from exercises.model import Chart, Curve, System
from exercises.model.chart import png, svg
from exercises.model.drawing import draw

CHARTED = [exercise.id for exercise in BANK.values() if exercise.chart is not None]


def charts_of(name: str, count: int) -> Iterator[Chart]:
    exercise = BANK[name]
    for number in range(count):
        variant = draw(exercise, np.random.default_rng(number), System.FIELD)
        assert exercise.chart is not None
        yield exercise.chart(variant.numbers, variant.system)


def pixels(chart: Chart) -> np.ndarray:
    """Grey values, 1 for white, by row and column."""
    return matplotlib.image.imread(io.BytesIO(png(chart)))[..., :3].mean(axis=2)


def two_curves(x_ticks=(0, 0.5, 1.25), y_ticks=(0, 0.00025, 0.001)) -> Chart:
    curves = (Curve((0, 1), (0, 0.001), "Rising"), Curve((0, 1), (0.001, 0), "Falling"))
    return Chart("Two lines that cross", "Time, hours", "Share", curves, x_ticks, y_ticks)


def test_there_are_exercises_with_charts():
    assert len(CHARTED) >= 2


@pytest.mark.parametrize("name", CHARTED)
def test_a_chart_is_the_same_whatever_was_drawn_before_it(name):
    charts = list(charts_of(name, 3))
    alone = [(svg(chart), png(chart)) for chart in charts]
    assert len({drawn for drawn, _ in alone}) == len({drawn for _, drawn in alone}) > 1
    svg(two_curves())
    assert [(svg(chart), png(chart)) for chart in reversed(charts)] == alone[::-1]


@pytest.mark.parametrize("name", CHARTED)
def test_each_form_of_a_chart_holds_its_own_curves_and_no_other(name):
    for chart in [*charts_of(name, 2), two_curves()]:
        lines = re.findall(r"stroke: #000000; stroke-width: 1\.5", svg(chart))
        # A legend shows each line once more.
        assert len(lines) == len(chart.curves) * (2 if chart.curves[0].name else 1)


@pytest.mark.parametrize("name", CHARTED)
def test_the_curve_lies_where_its_points_are(name):
    """The curve's black is at the height that the ticks give each of its points."""
    for chart in charts_of(name, 2):
        seen, curve = pixels(chart), chart.curves[0]
        dark = seen < 0.4
        columns = np.flatnonzero(dark.sum(axis=0) > 450)  # the frame's sides
        rows = np.flatnonzero(dark.sum(axis=1) > 700)  # its top and bottom
        left, right, top, bottom = columns.min(), columns.max(), rows.min(), rows.max()
        scale = np.log if chart.x_log else np.asarray
        low, high = scale(min(chart.x_ticks)), scale(max(chart.x_ticks))
        for x in np.linspace(*np.quantile(curve.x, (0.2, 0.6)), 5):
            y = np.interp(x, curve.x, curve.y)
            if not 5 < y < 95:
                continue
            column = round(left + (right - left) * (scale(x) - low) / (high - low))
            height = bottom - (bottom - top) * y / 100
            near = np.flatnonzero(seen[:, column] < 0.2)
            assert min(abs(near - height)) <= 3, (x, y)


@pytest.mark.parametrize("ticks", [(0, 0.5, 1.25), (0, 5, 10), (0, 62500, 125000), (0, 0.00012345, 0.00024690)])
def test_no_label_is_cut_off(ticks):
    for chart in (two_curves(x_ticks=ticks), two_curves(y_ticks=ticks)):
        seen = pixels(chart)
        assert seen.min() < 0.1
        assert min(seen[0].min(), seen[-1].min(), seen[:, 0].min(), seen[:, -1].min()) == 1


def test_a_curve_beyond_the_ticks_does_not_move_them():
    before = svg(two_curves())
    svg(Chart("", "Time, hours", "Share", (Curve((0, 9), (0, 9)),), (0, 0.5, 1.25), (0, 0.00025, 0.001)))
    assert svg(two_curves()) == before


def test_a_chart_that_cannot_be_drawn_leaves_nothing_in_the_next():
    before = svg(two_curves())
    good, _ = two_curves().curves
    broken = Chart("", "Time, hours", "Share", (good, Curve((0, 1, 2), (0, 1))), (0, 0.5, 1.25), (0, 0.00025, 0.001))
    with pytest.raises(ValueError, match="dimension"):
        svg(broken)
    assert svg(two_curves()) == before


@pytest.mark.parametrize("share", [10, 50, 90])
def test_sizes_of_the_model_are_those_of_the_curve_that_is_drawn(share):
    """By log-linear reading between the points of the chart; fifty classes had put d90 half a percent beside it."""
    item = {10: "b", 50: "a", 90: "c"}[share]
    for number in range(3):
        variant = draw(BANK["read-the-distribution"], np.random.default_rng(number), System.FIELD)
        assert variant.exercise.chart is not None
        (curve,) = variant.exercise.chart(variant.numbers, variant.system).curves
        drawn = np.exp(np.interp(share, curve.y, np.log(curve.x)))
        assert variant.key[item].m_as("um") == pytest.approx(drawn, rel=0.001)
