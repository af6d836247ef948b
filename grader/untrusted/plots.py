"""Pictures of figures at less cost: the same pixels as IPython and matplotlib make of them by themselves."""

from __future__ import annotations

import contextlib
from typing import Any, Literal

import matplotlib
from IPython.core import pylabtools
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont
from matplotlib.text import Text

_KINDS: tuple[Literal["font.sans-serif", "font.serif", "font.monospace"], ...] = (
    "font.sans-serif", "font.serif", "font.monospace",
)  # fmt: skip
_as_ipython_does = pylabtools.print_figure


def draw_once() -> None:
    """Let figures be drawn once where IPython would have them drawn twice; to be called before it is told of them."""
    pylabtools.print_figure = print_figure


def look_for_no_missing_fonts() -> None:
    """Leave out of the fonts of each kind those that are not there: matplotlib looks for them anew for each text."""
    for kind in _KINDS:
        there = [family for family in matplotlib.rcParams[kind] if _is_there(family)]
        if there:
            matplotlib.rcParams[kind] = there


def _is_there(family: str) -> bool:
    with contextlib.suppress(ValueError):
        return bool(findfont(FontProperties(family=[family]), fallback_to_default=False))
    return False


def print_figure(fig: Figure, fmt: str = "png", bbox_inches: Any = "tight", base64: bool = False, **how: Any) -> Any:
    """IPython's function of this name.

    To cut a picture to what is in it, matplotlib draws it all once without ink. Of plain axes it knows without that
    where everything comes to stand.
    """
    room = matplotlib.rcParams["savefig.pad_inches"]
    canvas = fig.canvas
    if (
        (fmt, bbox_inches, how) == ("png", "tight", {})
        and isinstance(canvas, FigureCanvasAgg)
        and isinstance(room, float)
        and _is_plain(fig)
    ):
        tight = fig.get_tightbbox(canvas.get_renderer())
        if tight.width > 0 and tight.height > 0:
            bbox_inches = tight.padded(room)
    return _as_ipython_does(fig, fmt, bbox_inches, base64, **how)


def _is_plain(fig: Figure) -> bool:
    """Whether nothing is in a figure but plain axes, whose parts find their places without being drawn."""
    return (
        type(fig) is Figure
        and len(fig.axes) > 0
        and fig.get_layout_engine() is None
        and not (fig.subfigs or fig.artists or fig.legends)
        and all(type(text) is Text for text in fig.texts)
        and all(_is_plain_axes(axes) for axes in fig.axes)
    )


def _is_plain_axes(axes: Axes) -> bool:
    return (
        type(axes) is Axes
        and axes.name == "rectilinear"
        and axes.get_axes_locator() is None
        and not (axes.child_axes or axes.artists or axes.tables)
        and all(type(text) is Text for text in axes.texts)
    )
