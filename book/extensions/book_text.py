"""Sphinx extension: the text of the book by page and section, in one script for the search page."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from docutils import nodes
from sphinx.addnodes import pending_xref
from sphinx.application import Sphinx

from pitside.unit_names import spelled, spellings_of, usual_kinds

#: Words of the trade that say the same. Common practice, no source; units' spellings are pitside's.
SAME_WORDS = (
    ("YP", "yield point"),
    ("PV", "plastic viscosity"),
    ("LGS", "low-gravity solids"),
    ("HGS", "high-gravity solids"),
    ("MW", "mud weight"),
    ("ECD", "equivalent circulating density"),
    ("EMW", "equivalent mud weight"),
    ("TVD", "true vertical depth"),
    ("ROP", "rate of penetration"),
    ("WBM", "water-base mud"),
    ("OBM", "NADF", "oil-base mud", "oil mud"),
    ("ROC", "OOC", "oil on cuttings", "retention on cuttings"),
    ("MBT", "methylene blue"),
    ("PSD", "particle size distribution", "sizes of solids"),
    ("SCE", "solids control equipment", "solids control"),
    ("LOTO", "lock out", "locked out"),
    ("decanter", "decanting centrifuge"),
    ("hydrocyclone", "cone"),
)
#: What holds no words to look for.
_SILENT = (nodes.literal_block, nodes.math_block, nodes.raw, nodes.comment, nodes.title, nodes.section, nodes.image)


def sections_of(document: nodes.document) -> Iterator[tuple[str, str, str]]:
    """Anchor, heading and text of each section, without the sections in it."""
    for section in document.findall(nodes.section):
        title = next(iter(section.findall(nodes.title)), None)
        if title is not None and section["ids"]:
            yield section["ids"][0], _plain(title.astext()), _plain(" ".join(_texts(section)))


def _texts(node: nodes.Element) -> Iterator[str]:
    for child in node.children:
        if isinstance(child, _SILENT) or (isinstance(child, nodes.container) and "cell_input" in child["classes"]):
            continue
        if isinstance(child, nodes.TextElement):
            yield _words(child)
        elif isinstance(child, nodes.Element):
            yield from _texts(child)


def _words(node: nodes.Node) -> str:
    """A text without the numbers of notes and without what stands in for the number of a figure."""
    if isinstance(node, nodes.footnote_reference) or (
        isinstance(node, pending_xref) and node.astext() == node["reftarget"]
    ):
        return ""
    if isinstance(node, nodes.Text):
        return node.astext()
    return "".join(map(_words, node.children))


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


def same_words() -> list[list[str]]:
    """Groups of words that say the same: those of the trade, and the ways to write a unit."""
    usual = [unit for _, units in usual_kinds() for unit in units if len(unit) > 1]
    units = [
        [unit, spelled(unit), *(one for one in others if re.search("[A-Za-z]{2}", one))]
        for unit, others in spellings_of(usual).items()
    ]
    return [*map(list, SAME_WORDS), *(list(dict.fromkeys(group)) for group in units)]


def write(app: Sphinx, error: Exception | None) -> None:
    if error or app.builder.format != "html":
        return
    pages = [
        [app.builder.get_target_uri(name), _plain(app.env.titles[name].astext()), list(sections)]
        for name in sorted(app.env.found_docs)
        if name in app.env.titles and (sections := tuple(sections_of(app.env.get_doctree(name))))
    ]
    data = json.dumps({"pages": pages, "same": same_words()}, ensure_ascii=False, separators=(",", ":"))
    Path(app.outdir, "_static", "book_text.js").write_text(f"window.BOOK = {data};\n", encoding="utf-8")


def setup(app: Sphinx) -> dict[str, Any]:
    app.connect("build-finished", write)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
