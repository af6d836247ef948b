"""Trees of faults: of causes joined by and and or, and of questions that lead from a sign to a first act.

Both are SVG in the classes of the book's drawings (``book/extensions/drawings/static/drawings.css``), narrow enough
for a phone, and both can be read out as words.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

from IPython.display import HTML
from jinja2 import Environment, FileSystemLoader, StrictUndefined

_TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent), autoescape=True, undefined=StrictUndefined, trim_blocks=True
)
#: Width of a drawing, of its letters on average, and between two lines, all in the units of the drawings' style.
WIDE, LETTER, LINE, PAD = 340.0, 6.1, 15.5, 7.0


# Causes joined by and and or ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Event:
    """An event of a fault tree: with a gate, "and" or "or", and the events below it, or a cause with its chance."""

    says: str
    gate: str = ""
    below: tuple[Event, ...] = ()
    chance: float = 0.0


def words(tree: Event) -> str:
    """A tree as a sentence."""
    if not tree.below:
        return tree.says
    return f"{tree.says}, if ({f' {tree.gate} '.join(words(event) for event in tree.below)})"


def chance(tree: Event) -> float:
    """The chance of an event, its causes taken as independent of each other."""
    below = [chance(event) for event in tree.below]
    match tree.gate:
        case "and":
            return math.prod(below)
        case "or":
            return 1 - math.prod(1 - each for each in below)
    return tree.chance


def ways(tree: Event) -> list[tuple[str, ...]]:
    """The sets of causes that are enough for the event and of which none can be spared."""
    if not tree.below:
        return [(tree.says,)]
    if tree.gate == "or":
        return [way for event in tree.below for way in ways(event)]
    found: list[tuple[str, ...]] = [()]
    for event in tree.below:
        found = [(*way, *more) for way in found for more in ways(event)]
    return found


def fault_tree(tree: Event, title: str, caption: str) -> HTML:
    """A fault tree: each event under the one that it leads to, a step to the right; causes have round corners."""
    picture = _Picture(title, words(tree))
    step, top = 26.0, 2.0

    def place(event: Event, depth: int, top: float) -> tuple[float, float]:
        """Draw an event and what is below it; the height of its middle and where the next one may begin."""
        left = 2 + step * depth
        high = picture.box(event.says, left, top, WIDE - 2 - left, cause=not event.below)
        middle, lowest, last = top + high / 2, top + high + 8, 0.0
        gate_at = lowest + 9
        if event.below:
            picture.text(event.gate, left + step + 2, gate_at + 2, "strong")
            lowest += LINE + 4
        for child in event.below:
            last, lowest = place(child, depth + 1, lowest)
            picture.path(f"M{left + 12} {last}H{left + step}")
        if event.below:
            picture.path(f"M{left + 12} {top + high}V{last}")
        return middle, lowest

    _, bottom = place(tree, 0, top)
    return picture.figure(bottom - 6, caption)


# From a sign to a first act -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Question:
    """A question about what is seen, and if it is answered with yes, the cause and the first safe act."""

    ask: str
    cause: str
    act: str


def questions(sign: str, asked: Iterable[Question], otherwise: str, caption: str) -> HTML:
    """Questions in their order, from a sign down; each yes leads to a cause and a first safe act on the right."""
    asked = tuple(asked)
    told = [f"{one.ask} If yes: {one.cause}. {one.act}" for one in asked]
    picture = _Picture(f"From sign to first act: {sign}", " If not: ".join([*told, otherwise]))
    left, wide, right = 2.0, 136.0, 174.0
    top = 2 + picture.box(sign, left, 2, WIDE - 4, strong=True)
    for one in asked:
        picture.path(f"M{left + wide / 2} {top}V{top + 20}", "arrow")
        if one is not asked[0]:
            picture.text("no", left + wide / 2 + 7, top + 14, "small")
        top += 20
        answer = picture.measured(one.cause, WIDE - 2 - right, bold=True) + picture.measured(one.act, WIDE - 2 - right)
        tall = max(picture.high(one.ask, wide), (answer * LINE) + 2 * PAD)
        picture.box(one.ask, left, top, wide, high=tall)
        picture.answer(one.cause, one.act, right, top, WIDE - 2 - right, tall)
        picture.path(f"M{left + wide} {top + tall / 2}H{right}", "arrow")
        picture.text("yes", left + wide + 8, top + tall / 2 - 6, "small")
        top += tall
    picture.path(f"M{left + wide / 2} {top}V{top + 20}", "arrow")
    picture.text("no", left + wide / 2 + 7, top + 14, "small")
    top += 20
    top += picture.box(otherwise, left, top, WIDE - 4, cause=True)
    return picture.figure(top, caption)


class _Picture:
    """An SVG in the making."""

    def __init__(self, title: str, description: str) -> None:
        self.svg = ElementTree.Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "role": "img"})
        self.svg.set("aria-label", f"{title}. {description}")
        self.key = "".join(letter for letter in title.lower() if letter.isalpha())[:40]
        marker = ElementTree.SubElement(
            ElementTree.SubElement(self.svg, "defs"),
            "marker",
            {
                "id": f"{self.key}-head",
                "viewBox": "0 0 10 10",
                "refX": "9",
                "refY": "5",
                "markerWidth": "9",
                "markerHeight": "9",
                "markerUnits": "userSpaceOnUse",
                "orient": "auto",
            },
        )
        ElementTree.SubElement(marker, "path", {"class": "arrow-head", "d": "M0 0.5L10 5L0 9.5Z"})

    def lines(self, says: str, wide: float, bold: bool = False) -> list[str]:
        return textwrap.wrap(says, int((wide - 2 * PAD) / (LETTER * (1.08 if bold else 1.0))))

    def measured(self, says: str, wide: float, bold: bool = False) -> int:
        return len(self.lines(says, wide, bold))

    def high(self, says: str, wide: float, bold: bool = False) -> float:
        return self.measured(says, wide, bold) * LINE + 2 * PAD

    def box(
        self,
        says: str,
        left: float,
        top: float,
        wide: float,
        *,
        cause: bool = False,
        strong: bool = False,
        high: float = 0.0,
    ) -> float:
        """A box with words in its middle; its height."""
        lines = self.lines(says, wide, strong)
        tall = high or len(lines) * LINE + 2 * PAD
        self._rect(left, top, wide, tall, "paper" if not strong else "steel", 12 if cause else 3)
        first = top + (tall - len(lines) * LINE) / 2
        for number, line in enumerate(lines):
            look = "middle strong" if strong else "middle"
            self.text(line, left + wide / 2, first + LINE * (number + 0.76), look)
        return tall

    def answer(self, cause: str, act: str, left: float, top: float, wide: float, tall: float) -> None:
        self._rect(left, top, wide, tall, "paper", 12)
        bold, plain = self.lines(cause, wide, True), self.lines(act, wide)
        first = top + (tall - (len(bold) + len(plain)) * LINE) / 2
        for number, line in enumerate([*bold, *plain]):
            look = "middle strong" if number < len(bold) else "middle"
            self.text(line, left + wide / 2, first + LINE * (number + 0.76), look)

    def _rect(self, left: float, top: float, wide: float, tall: float, look: str, corner: int) -> None:
        place = {"x": left, "y": top, "width": wide, "height": tall, "rx": corner}
        ElementTree.SubElement(self.svg, "rect", {"class": look, **{name: f"{v:g}" for name, v in place.items()}})

    def text(self, says: str, x: float, y: float, look: str) -> None:
        about = {"x": f"{x:g}", "y": f"{y:g}", "class": look}
        ElementTree.SubElement(self.svg, "text", about).text = says

    def path(self, drawn: str, look: str = "line") -> None:
        about = {"d": drawn, "class": look}
        if look == "arrow":
            about["marker-end"] = f"url(#{self.key}-head)"
        ElementTree.SubElement(self.svg, "path", about)

    def figure(self, high: float, caption: str) -> HTML:
        self.svg.set("viewBox", f"0 0 {WIDE:g} {high + 3:g}")
        drawn = ElementTree.tostring(self.svg, encoding="unicode")
        return HTML(_TEMPLATES.get_template("drawn.html.jinja").render(drawing=drawn, caption=caption))
