"""Charts that an exercise asks to be read: described as data, drawn by Matplotlib."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass


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


#: Line styles that can be told apart on a grey print.
_STYLES = ("-", "--", "-.", ":")


def svg(chart: Chart) -> str:
    """The chart as an SVG document, the same at each drawing."""
    return _drawn(chart, "svg").decode()


def png(chart: Chart) -> bytes:
    """The chart as a PNG of about 1000 by 640 pixels."""
    return _drawn(chart, "png")


def _drawn(chart: Chart, form: str) -> bytes:
    import matplotlib
    from matplotlib.figure import Figure
    from matplotlib.ticker import AutoMinorLocator, FixedLocator, NullFormatter

    with matplotlib.rc_context({"svg.hashsalt": "pitside", "font.size": 10, "path.simplify_threshold": 0.5}):
        figure = Figure(figsize=(7.0, 4.5), layout="constrained")
        axes = figure.add_subplot()
        for number, curve in enumerate(chart.curves):
            axes.plot(curve.x, curve.y, _STYLES[number % len(_STYLES)], color="black", label=curve.name or None)
        axes.set_xlabel(chart.x_label)
        axes.set_ylabel(chart.y_label)
        if chart.x_log:
            axes.set_xscale("log")
        axes.set_xlim(min(chart.x_ticks), max(chart.x_ticks))
        axes.set_ylim(min(chart.y_ticks), max(chart.y_ticks))
        axes.set_xticks(list(chart.x_ticks), [f"{tick:g}" for tick in chart.x_ticks])
        axes.set_yticks(list(chart.y_ticks), [f"{tick:g}" for tick in chart.y_ticks])
        if chart.x_log:
            fine = [
                low + (high - low) * step / chart.divisions
                for low, high in zip(chart.x_ticks, list(chart.x_ticks)[1:], strict=False)
                for step in range(1, chart.divisions)
            ]
            axes.xaxis.set_minor_locator(FixedLocator(fine))
        else:
            axes.xaxis.set_minor_locator(AutoMinorLocator(chart.divisions))
        axes.xaxis.set_minor_formatter(NullFormatter())
        axes.yaxis.set_minor_locator(AutoMinorLocator(chart.divisions))
        axes.grid(which="major", color="0.45", linewidth=0.7)
        axes.grid(which="minor", color="0.8", linewidth=0.4)
        if any(curve.name for curve in chart.curves):
            axes.legend(loc="best", framealpha=1)
        buffer = io.BytesIO()
        # No date or version in the file: the same chart makes the same bytes.
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(buffer, format=form, dpi=144, metadata=metadata)
    return buffer.getvalue()
