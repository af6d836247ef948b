"""Fill the texts of an exercise with its numbers, and turn their Markdown into HTML."""

from __future__ import annotations

import string
from collections.abc import Mapping
from typing import Any

from markdown_it import MarkdownIt

#: Raw HTML in a text is shown as text: exercises are Markdown, and numbers never bring markup with them.
_MARKDOWN = MarkdownIt("commonmark", {"html": False, "typographer": False}).enable("table")


class _Filler(string.Formatter):
    """``str.format`` over a mapping, where a dot belongs to the name (``{b.barite.mass}``)."""

    def get_field(self, field_name: str, args: Any, kwargs: Mapping[str, Any]) -> tuple[Any, str]:
        return kwargs[field_name], field_name


def fill(template: str, names: Mapping[str, Any]) -> str:
    """The text with each ``{name}`` printed, number and unit; ``{name:n}`` prints the number alone."""
    return _Filler().vformat(template, (), names)


def names_in(template: str) -> set[str]:
    """The names that a text asks for."""
    return {name for _, name, _, _ in string.Formatter().parse(template) if name}


def html(markdown: str) -> str:
    """Markdown as an HTML fragment."""
    return _MARKDOWN.render(markdown).strip()


def inline_html(markdown: str) -> str:
    """One line of Markdown as HTML without a paragraph around it."""
    return _MARKDOWN.renderInline(markdown)
