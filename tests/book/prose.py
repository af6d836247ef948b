"""The sentences of a page of the book: what a reader reads as running text, without tables, formulas and code."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from markdown_it import MarkdownIt
from markdown_it.token import Token
from mdit_py_plugins.colon_fence import colon_fence_plugin
from mdit_py_plugins.dollarmath import dollarmath_plugin
from mdit_py_plugins.front_matter import front_matter_plugin
from mdit_py_plugins.myst_role import myst_role_plugin

LESSONS = Path(__file__).parents[2] / "book" / "lessons"
_READER = MarkdownIt("commonmark").enable("table")
for plugin in (front_matter_plugin, dollarmath_plugin, myst_role_plugin, colon_fence_plugin):
    _READER.use(plugin)

#: What a reader reads in the place of a role: a number with its unit, a figure's number, nothing for a source.
_ROLES = {"glue:text": "12", "numref": "Figure 3", "footcite:p": "", "footcite:t": "", "sub": "2", "sup": "2"}
_END = re.compile(r"(?<=[.!?])[\"”*)]*\s+(?=[A-Z0-9\"“*(])")


def sentences(text: str) -> list[str]:
    """The sentences of a page, headings and tables left out; an item of a list ends one."""
    return [
        sentence.strip()
        for block in _blocks(text)
        for sentence in _END.split(" ".join(block.split()))
        if any(letter.isalpha() for letter in sentence)
    ]


def _blocks(text: str) -> Iterator[str]:
    heading = table = False
    for token in _READER.parse(text):
        match token.type:
            case "heading_open" | "heading_close":
                heading = token.type == "heading_open"
            case "table_open" | "table_close":
                table = token.type == "table_open"
            case "colon_fence":
                yield from _blocks(re.sub(r"^:\w+:.*$", "", token.content, flags=re.MULTILINE))
            case "inline" if not heading and not table:
                yield "".join(_words(token.children or []))


def _words(children: list[Token]) -> Iterator[str]:
    for child in children:
        match child.type:
            case "text" | "code_inline":
                yield child.content
            case "softbreak" | "hardbreak":
                yield " "
            case "math_inline":
                yield "x"
            case "myst_role":
                yield _ROLES.get(child.meta["name"], child.content)


def words(sentence: str) -> list[str]:
    """The words of a sentence; numbers with their units count as one."""
    return re.findall(r"[A-Za-z0-9][\w'’/·²³°%.-]*", sentence)
