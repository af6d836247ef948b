"""The charts of the reports: SVG in greys that stands by itself in a page, with its numbers in words beside it."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np
from markupsafe import Markup

_EDGES = np.arange(0, 101, 10)


def spread_words(values: np.ndarray) -> str:
    """How percentages are spread, in words, by tens."""
    ranges = ((low, "100" if low == 90 else f"below {low + 10}") for low in _EDGES[:-1])
    said = [f"{low} to {high} %: {count}" for (low, high), count in zip(ranges, _counts(values), strict=True) if count]
    return f"Scripts by marks: {'; '.join(said)}."


def spread(values: np.ndarray, pass_percent: float) -> Markup:
    """How the percentages of scripts are spread, with the pass mark."""
    figure, axes = _new_figure(4.6, 2.5)
    axes.bar(_EDGES[:-1] + 5, _counts(values), width=9, color="0.45", edgecolor="black")
    axes.axvline(pass_percent, color="black", linestyle="--", linewidth=1.4)
    axes.set_xlim(0, 100)
    axes.set_xticks(_EDGES)
    axes.set_xlabel(f"marks (%); dashed: pass mark {pass_percent:g} %")
    axes.set_ylabel("scripts")
    axes.yaxis.get_major_locator().set_params(integer=True)
    return _svg(figure, f"{spread_words(values)} The pass mark is {pass_percent:g} %.")


def bars(percents: Sequence[tuple[str, float]], height: float, label: str, says: str) -> Markup:
    """A bar for each name, from the top down; ``height`` is a bar's in inches, ``says`` begins the chart's words."""
    figure, axes = _new_figure(4.6, 0.8 + height * len(percents))
    at = list(range(len(percents)))  # two bars may have one name
    axes.barh(at, [percent for _, percent in percents], color="0.6", edgecolor="black")
    axes.set_yticks(at, [name for name, _ in percents])
    for place, (_, percent) in enumerate(percents):
        axes.annotate(f" {percent:.0f}", (percent, place), va="center", fontsize=9)
    axes.invert_yaxis()
    axes.set_xlim(0, 110)
    axes.set_xticks(range(0, 101, 20))
    axes.set_xlabel(label)
    words = "; ".join(f"{name}: {percent:.0f} %" for name, percent in percents)
    return _svg(figure, f"{says}: {words}.")


@dataclass(frozen=True)
class PlottedPart:
    """A part in the chart of facility, in percent, and discrimination."""

    name: str
    facility: float
    discrimination: float
    is_odd: bool


def scatter(parts: Sequence[PlottedPart]) -> Markup:
    """Facility and discrimination of each part; those to look at are crosses."""
    figure, axes = _new_figure(4.6, 3.4)
    for is_odd, (marker, fill, size) in {False: ("o", "white", 40), True: ("X", "black", 90)}.items():
        chosen = [part for part in parts if part.is_odd == is_odd]
        across, up = [part.facility for part in chosen], [part.discrimination for part in chosen]
        axes.scatter(across, up, marker=marker, s=size, facecolor=fill, edgecolor="black", linewidth=0.9, zorder=3)
    axes.axhline(0, color="black", linewidth=0.9)
    axes.set_xlim(0, 100)
    axes.set_ylim(min([-0.1, *(part.discrimination - 0.05 for part in parts)]), 1)
    axes.set_xlabel("facility (%)")
    axes.set_ylabel("discrimination")
    axes.set_title("cross: look at this part", fontsize=10, loc="right")
    crosses = [f"{one.name} at {one.facility:.0f} % and {one.discrimination:.2f}" for one in parts if one.is_odd]
    return _svg(
        figure,
        f"Facility and discrimination of {len(parts)} parts. Crosses, to look at: {'; '.join(crosses) or 'none'}. "
        "All of them stand in the tables below.",
    )


def _counts(values: np.ndarray) -> np.ndarray:
    return np.histogram(values, _EDGES)[0]


def _new_figure(width: float, height: float) -> Any:
    """A figure with one pair of axes, so many inches wide and high that its letters can be read on a telephone."""
    from matplotlib.figure import Figure  # takes half a second to load

    figure = Figure(figsize=(width, height), layout="constrained")
    axes = figure.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def _svg(figure: Any, says: str) -> Markup:
    """The figure as an image on white; ``says`` tells the same in words."""
    from matplotlib import rc_context

    buffer = io.StringIO()
    with rc_context({"svg.hashsalt": "pitside", "svg.fonttype": "path"}):
        figure.savefig(buffer, format="svg", metadata={"Date": None})
    data = base64.b64encode(buffer.getvalue().encode()).decode()
    return Markup(f'<img class="chart" alt="{escape(says)}" src="data:image/svg+xml;base64,{data}">')
