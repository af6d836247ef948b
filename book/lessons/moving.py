"""Figures whose lines move with one or two controls, worked out beforehand for every position.

``Control``, ``Shown``: what is moved, and what it leads to. ``moving``: the figure as HTML, for ``{glue:figure}``.

Matplotlib draws the axes once, at the middle position. For the others only the lines' paths and the texts of the
readouts are kept beside the picture, and the page's script puts them in. Without a script, and on paper, the picture,
its readouts and a table over the positions stand as they are.
"""

from __future__ import annotations

import io
import itertools
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import matplotlib.pyplot as plt
import numpy as np
from IPython.display import HTML
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from matplotlib import path as paths
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.transforms import Affine2D, Transform

from exercises.model import By
from exercises.model.numbers import Drawn

Readout = By[Drawn] | By[str] | Drawn | str

SVG = "{http://www.w3.org/2000/svg}"
LINK = "{http://www.w3.org/1999/xlink}href"
POINTS_PER_INCH = 72

_TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent), autoescape=True, undefined=StrictUndefined, trim_blocks=True
)
ElementTree.register_namespace("", SVG.strip("{}"))


@dataclass(frozen=True)
class Control:
    """Something that the reader moves: its name, and its positions, which the page prints."""

    name: str
    positions: tuple[Drawn | str, ...]

    @property
    def printed(self) -> tuple[str, ...]:
        return tuple(f"{position}" for position in self.positions)

    @property
    def middle(self) -> int:
        return len(self.positions) // 2


@dataclass(frozen=True)
class Shown:
    """What one setting of the controls leads to.

    ``lines``: for each moving line its x and y in the units of its axes. ``readouts``: printed results by what they
    are, in field and metric units, or one text or number where both are the same.
    """

    lines: Mapping[str, tuple[np.ndarray, np.ndarray]]
    readouts: Mapping[str, Readout]


def moving(
    name: str,
    figure: Figure,
    lines: Mapping[str, Line2D],
    controls: tuple[Control, ...],
    show: Callable[..., Shown],
    table: tuple[str, ...],
    alt: str,
) -> HTML:
    """A figure with controls.

    ``lines``: the lines that move, without markers, by the names that ``show`` gives them. ``show``: takes one index
    for each control. ``table``: the readouts that the table over all positions holds; one of them where there are two
    controls. ``alt``: says what the picture shows.

    Raises: ValueError where ``show`` gives other lines or readouts than it gave before, or no readout of the table.
    """
    if not 1 <= len(controls) <= 2 or (len(controls) == 2 and len(table) != 1):
        raise ValueError(f"{name}: one control, or two of them and one readout in the table")
    settings = list(itertools.product(*(range(len(control.positions)) for control in controls)))
    shown = {setting: show(*setting) for setting in settings}
    middle = tuple(control.middle for control in controls)
    readouts = list(shown[middle].readouts)
    for setting, one in shown.items():
        if one.lines.keys() != lines.keys() or list(one.readouts) != readouts or not set(table) <= set(readouts):
            raise ValueError(f"{name}: lines or readouts at {setting} are not those of the others")
    for key, line in lines.items():
        line.set_data(*shown[middle].lines[key])
        line.set_gid(key)
    figure.canvas.draw()  # the axes take their places; from here on they stay
    figure.set_layout_engine("none")
    drawn = {key: [path_data(line, *shown[setting].lines[key]) for setting in settings] for key, line in lines.items()}
    texts = {setting: [_printed(readout) for readout in one.readouts.values()] for setting, one in shown.items()}
    picture = _picture(name, figure, {key: drawn[key][settings.index(middle)] for key in lines}, alt)
    plt.close(figure)
    page = _TEMPLATES.get_template("moving.html.jinja").render(
        name=name,
        controls=controls,
        readouts=readouts,
        texts=texts,
        middle=middle,
        table=[readouts.index(readout) for readout in table],
        picture=Markup(picture),
        data=_data(controls, drawn, list(texts.values()), [readouts.index(readout) for readout in table]),
    )
    return HTML(page)


def to_picture(line: Line2D) -> Transform:
    """From the units of a line's axes to the points of the picture, whose y runs down."""
    figure = line.figure
    scale = POINTS_PER_INCH / figure.dpi
    height = figure.get_figheight() * POINTS_PER_INCH
    return line.axes.transData + Affine2D().scale(scale, -scale).translate(0, height)


def path_data(line: Line2D, x: np.ndarray, y: np.ndarray) -> str:
    """The path that draws these values in place of the line's own, to a tenth of a point, as SVG writes it."""
    if line.get_marker() not in (None, "None", "", " "):
        raise ValueError(f"the line {line.get_gid()} has markers, which do not move: draw a line without")
    whole = paths.Path(np.column_stack([np.asarray(x, dtype=float), np.asarray(y, dtype=float)]))
    cleaned = to_picture(line).transform_path(whole).cleaned(remove_nans=True, simplify=True)
    pieces = []
    for (across, down), code in zip(cleaned.vertices, cleaned.codes, strict=True):
        if code in (paths.Path.MOVETO, paths.Path.LINETO):
            pieces.append(f"{'M' if code == paths.Path.MOVETO else 'L'}{_short(across)} {_short(down)}")
    return "".join(pieces)


def _short(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0")


def _printed(readout: Readout) -> tuple[str, ...]:
    """A readout in field and in metric units, or once where both read the same."""
    both = (readout.field, readout.metric) if isinstance(readout, By) else (readout,)
    return tuple(dict.fromkeys(f"{one}" for one in both))


def _data(
    controls: tuple[Control, ...], drawn: Mapping[str, list[str]], texts: list[list[tuple[str, ...]]], said: list[int]
) -> Markup:
    """JSON for the script: each path once, and by number for each line and setting."""
    places: dict[str, int] = {}
    data: dict[str, Any] = {
        "positions": [control.printed for control in controls],
        "lines": {key: [places.setdefault(path, len(places)) for path in line] for key, line in drawn.items()},
        "readouts": texts,
        "said": said,
    }
    data["paths"] = list(places)
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return Markup(text.replace("<", "\\u003c"))


def _picture(name: str, figure: Figure, lines: Mapping[str, str], alt: str) -> str:
    """The figure as SVG to stand in a page: its names are the page's own, and nothing in it styles the page."""
    buffer = io.BytesIO()
    with plt.rc_context({"svg.fonttype": "none", "savefig.bbox": None}):
        figure.savefig(buffer, format="svg", metadata={"Date": None})
    root = ElementTree.fromstring(buffer.getvalue())
    for key in ("width", "height", "version"):
        root.attrib.pop(key, None)
    root.set("role", "img")
    root.set("aria-label", alt)
    root.set("style", "stroke-linejoin:round;stroke-linecap:butt")
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in (f"{SVG}metadata", f"{SVG}style"):
                parent.remove(child)
    for key, path in lines.items():
        [group] = root.findall(f".//*[@id='{key}']")
        element = group.find(f"{SVG}path")
        if element is None:
            element = ElementTree.SubElement(group, f"{SVG}path")
        element.set("d", path)
        element.set("data-line", key)
    used = set(re.findall(r"url\(#([^)]+)\)", ElementTree.tostring(root, encoding="unicode")))
    used |= {link.removeprefix("#") for element in root.iter() if (link := element.get(LINK)) is not None}
    for element in root.iter():
        identifier = element.attrib.pop("id", None)
        if identifier in used:
            element.set("id", f"{name}-{identifier}")
        link = element.attrib.pop(LINK, None)
        if link is not None:
            element.set("href", f"#{name}-{link.removeprefix('#')}")
        for key, value in element.attrib.items():
            element.set(key, value.replace("url(#", f"url(#{name}-"))
    return re.sub(r"\n\s*", "\n", ElementTree.tostring(root, encoding="unicode"))
