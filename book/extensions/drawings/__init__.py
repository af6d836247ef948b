"""Sphinx extension: the ``drawing`` directive, which puts a drawing of ``book/drawings`` into a page.

    ```{drawing} shaker
    :name: fig-shaker

    A shaker from the side. Not to scale.

    1. Header box
    2. Deck
    ```

The first paragraph is the caption; what follows is the legend, for the numbers in the drawing. Title and the long
text for readers who cannot see it stand in the drawing, as its ``title`` and ``desc``. A drawing says what things are
by the classes of ``static/drawings.css`` and holds no colour, width or letter size of its own, so that it is right in
light, in dark and on paper. ``arrow`` and ``motion`` get their heads here; ``both`` gives a head to either end.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, ClassVar
from xml.etree import ElementTree

from docutils import nodes
from docutils.parsers.rst import directives
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

HERE = Path(__file__).parent
DRAWINGS = HERE.parents[1] / "drawings"
SVG = "{http://www.w3.org/2000/svg}"
#: The kinds of line that end in a head.
HEADED = ("arrow", "motion")

ElementTree.register_namespace("", SVG.strip("{}"))


class DrawingError(ValueError):
    """A drawing that cannot be put into a page, with the reason in one line."""


def names() -> tuple[str, ...]:
    """The drawings that there are."""
    return tuple(sorted(path.stem for path in DRAWINGS.glob("*.svg")))


def read(name: str) -> ElementTree.Element:
    """A drawing's tree.

    Raises: DrawingError where there is none of that name, where it is no SVG, or where it lacks title or description.
    """
    path = DRAWINGS / f"{name}.svg"
    if not path.is_file():
        raise DrawingError(f'there is no drawing "{name}"; there are {", ".join(names())}')
    try:
        root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
    except ElementTree.ParseError as error:
        raise DrawingError(f"{path.name} is no SVG that can be read: {error}") from error
    for place, tag in enumerate(("title", "desc")):
        if len(root) <= place or root[place].tag != f"{SVG}{tag}" or not (root[place].text or "").strip():
            raise DrawingError(f"{path.name} begins with a title and then a desc: its {tag} is missing or empty")
    return root


def inline(name: str, key: str) -> str:
    """A drawing as it stands in a page; ``key`` begins its ids and must be one of its own on that page.

    Raises: DrawingError as ``read``.
    """
    root = read(name)
    title, description = root[0], root[1]
    title.set("id", f"{key}-title")
    description.set("id", f"{key}-desc")
    root.set("role", "img")
    root.set("aria-labelledby", f"{key}-title {key}-desc")
    heads = ElementTree.Element(f"{SVG}defs")
    for kind in HEADED:
        marked = [element for element in root.iter() if kind in element.get("class", "").split()]
        for element in marked:
            element.set("marker-end", f"url(#{key}-{kind})")
            if "both" in element.get("class", "").split():
                element.set("marker-start", f"url(#{key}-{kind})")
        if marked:
            heads.append(_head(f"{key}-{kind}", kind))
    if len(heads):
        root.insert(2, heads)
    return ElementTree.tostring(root, encoding="unicode")


def _head(key: str, kind: str) -> ElementTree.Element:
    box = {"viewBox": "0 0 10 10", "refX": "9", "refY": "5", "markerWidth": "9", "markerHeight": "9"}
    turned = {"markerUnits": "userSpaceOnUse", "orient": "auto-start-reverse"}
    marker = ElementTree.Element(f"{SVG}marker", {"id": key, **box, **turned})
    ElementTree.SubElement(marker, f"{SVG}path", {"class": f"{kind}-head", "d": "M0 0.5L10 5L0 9.5Z"})
    return marker


class Drawing(SphinxDirective):
    """The drawing named by the argument, with caption and legend."""

    required_arguments = 1
    has_content = True
    option_spec: ClassVar[dict[str, Any]] = {"name": directives.unchanged}

    def run(self) -> list[nodes.Node]:
        name = self.arguments[0]
        try:
            picture = inline(name, f"drawing-{self.env.new_serialno('drawing')}-{name}")
        except DrawingError as error:
            raise self.error(f"drawing: {error}") from error
        self.env.note_dependency(str(DRAWINGS / f"{name}.svg"))
        said = nodes.Element()
        self.state.nested_parse(self.content, self.content_offset, said)
        if not said.children or not isinstance(said[0], nodes.paragraph):
            raise self.error(f'drawing: "{name}" begins with its caption, a paragraph of its own')
        figure = nodes.figure("", nodes.raw("", picture, format="html"), classes=["drawing"])
        caption = nodes.caption(said[0].rawsource, "", *said[0].children)
        self.set_source_info(figure)
        self.set_source_info(caption)
        figure += caption
        if len(said) > 1:
            figure += nodes.legend("", *said[1:])
        self.add_name(figure)
        return [figure]


def add_static_folder(app: Sphinx) -> None:
    """Have the drawings' style copied into the book."""
    app.config.html_static_path.append(str(HERE / "static"))


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_directive("drawing", Drawing)
    app.connect("builder-inited", add_static_folder)
    app.add_css_file("drawings.css")
    return {"parallel_read_safe": True, "parallel_write_safe": True}
