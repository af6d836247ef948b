"""Charts that an exercise asks to be read: described as data, drawn by Matplotlib."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from threading import Lock
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # it takes half a second to load, so only what draws loads it
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D


@dataclass(frozen=True)
class Curve:
    """A line of a chart: its points, and its name in the legend (empty: none)."""

    x: Sequence[float]
    y: Sequence[float]
    name: str = ""


@dataclass(frozen=True)
class Chart:
    """A chart to read from.

    ``alt`` says in words what it shows, without giving away what is asked. ``x_ticks`` and ``y_ticks`` are the labelled
    lines of the grid; between two of them lie ``divisions`` fine ones, from which a part's tolerance follows.
    """

    alt: str
    x_label: str
    y_label: str
    curves: tuple[Curve, ...]
    x_ticks: Sequence[float]
    y_ticks: Sequence[float]
    x_log: bool = False
    divisions: int = 5


#: How the labelled lines of the grid look, and the fine ones between them.
_LABELLED: dict[str, Any] = {"color": "0.45", "linewidth": 0.7, "zorder": 0.6}
_FINE: dict[str, Any] = {"color": "0.8", "linewidth": 0.4, "zorder": 0.5}

#: Line styles that can be told apart on a grey print.
_STYLES = ("-", "--", "-.", ":")


#: Frames are drawn again and again, by one thread at a time.
_DRAWING = Lock()
#: Size of a chart in inches, and pixels to the inch of a PNG.
_WIDTH, _HEIGHT, _DPI = 7.0, 4.5, 144
#: Font size in points, and points to the inch.
_FONT, _POINTS = 10, 72


def svg(chart: Chart) -> str:
    """The chart as an SVG document, the same at each drawing."""
    return _drawn(chart, "svg").decode()


def png(chart: Chart) -> bytes:
    """The chart as a PNG of about 1000 by 640 pixels."""
    return _drawn(chart, "png")


def _drawn(chart: Chart, form: str) -> bytes:
    from matplotlib.style import context

    # Whatever style another part of the program has set, a page of the book for instance.
    ours = {"svg.hashsalt": "pitside", "font.size": _FONT, "path.simplify_threshold": 0.5}
    with _DRAWING, context(["default", ours]):
        figure, axes = _frame(
            chart.x_label, chart.y_label, tuple(chart.x_ticks), tuple(chart.y_ticks), chart.x_log, chart.divisions
        )
        buffer = io.BytesIO()
        # No date or version in the file: the same chart makes the same bytes.
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        drawn: list[Line2D] = []
        try:
            for number, curve in enumerate(chart.curves):
                style = _STYLES[number % len(_STYLES)]
                drawn += axes.plot(curve.x, curve.y, style, color="black", label=curve.name or None)
            if any(curve.name for curve in chart.curves):
                axes.legend(loc="best", framealpha=1)
            figure.savefig(buffer, format=form, dpi=_DPI, metadata=metadata)
        finally:
            for line in drawn:
                line.remove()
            if legend := axes.get_legend():
                legend.remove()
    return buffer.getvalue()


@lru_cache(maxsize=8)
def _frame(
    x_label: str, y_label: str, x_ticks: tuple[float, ...], y_ticks: tuple[float, ...], x_log: bool, divisions: int
) -> tuple[Figure, Axes]:
    """A figure and its axes with labels and grid, for the curves of one chart after another.

    The charts of two candidates differ in no more than these.

    The place of the axes is reckoned from the longest label: Matplotlib's own layout would draw everything once for it.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(_WIDTH, _HEIGHT))
    axes = figure.add_subplot()
    axes.set_xlabel(x_label)
    axes.set_ylabel(y_label)
    if x_log:
        axes.set_xscale("log")
    axes.set_xlim(min(x_ticks), max(x_ticks))
    axes.set_ylim(min(y_ticks), max(y_ticks))
    axes.set_autoscale_on(False)
    x_names, y_names = [f"{tick:g}" for tick in x_ticks], [f"{tick:g}" for tick in y_ticks]
    axes.set_xticks(list(x_ticks), x_names)
    axes.set_yticks(list(y_ticks), y_names)
    axes.minorticks_off()
    # The grid as two lines with gaps: Matplotlib's own makes things of each line that take ten times as long to draw.
    _grid(axes, _between(x_ticks, divisions), _between(y_ticks, divisions), _FINE)
    _grid(axes, x_ticks, y_ticks, _LABELLED)
    letter, line = 0.65 * _FONT / _POINTS, 1.5 * _FONT / _POINTS
    left = (1.6 * line + letter * max(map(len, y_names))) / _WIDTH
    right = 1 - (0.1 + letter * len(x_names[-1]) / 2) / _WIDTH
    bottom, top = 2.7 * line / _HEIGHT, 1 - 0.7 * line / _HEIGHT
    figure.subplots_adjust(left=left, right=right, bottom=bottom, top=top)
    # Told where they are, the labels of the axes need not be measured against those of the ticks at each drawing.
    axes.xaxis.set_label_coords((left + right) / 2, 1.3 * line / _HEIGHT, transform=figure.transFigure)
    axes.yaxis.set_label_coords(1.2 * line / _WIDTH, (bottom + top) / 2, transform=figure.transFigure)
    return figure, axes


def _grid(axes: Axes, x: Sequence[float], y: Sequence[float], style: dict[str, Any]) -> None:
    """Draw upright lines at each of ``x`` and level ones at each of ``y`` across the whole chart."""
    from matplotlib.lines import Line2D

    (left, right), (low, high), gap = axes.get_xlim(), axes.get_ylim(), float("nan")
    upright = [(at, end) for at in x for end in (low, high, gap)]
    level = [(end, at) for at in y for end in (left, right, gap)]
    axes.add_artist(Line2D(*zip(*upright, *level, strict=True), **style))


def _between(ticks: Sequence[float], divisions: int) -> list[float]:
    """Where the fine lines of the grid lie."""
    return [low + (high - low) * step / divisions for low, high in pairwise(ticks) for step in range(1, divisions)]
