"""Fill the texts of an exercise with its numbers, and turn their Markdown into HTML."""

from __future__ import annotations

import functools
import re
import string
from collections.abc import Mapping
from typing import Any

from markdown_it import MarkdownIt

#: Raw HTML in a text is shown as text: exercises are Markdown, and numbers never bring markup with them.
_MARKDOWN = MarkdownIt("commonmark", {"html": False, "typographer": False}).enable("table")


#: Letters and digits apart, what stands for nothing but itself wherever it is in a line that does not begin with it.
_PLAIN_SIGNS = " .,;:?!()/%+=×÷−–—-'’“”°·…²³π≤≥±^\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}"
_PLAIN = re.compile(rf"(?:[^\W_]|[{re.escape(_PLAIN_SIGNS)}])+")
#: What begins a list, a heading, a quotation, a table, code, a rule or a definition, or goes on with one.
_NO_PARAGRAPH = re.compile(r"\s|[-+#>`~|<=_\[:]|\*(?!\*\w)|\d+[.)](\s|$)")

_NUMBER = re.compile("[0-9]+")
_A_NUMBER = "\ue000"
#: A numbered list, an entity, a link or its target, a web address, code, an old end of line; or the sign itself.
_DIGITS_MATTER = re.compile(rf"^[\s>*+-]*[0-9]+[.)]|&#|\]\(|\]:|<|```|~~~|\r|{_A_NUMBER}", re.MULTILINE)


def fill(template: str, names: Mapping[str, Any]) -> str:
    """The text with each ``{name}`` printed, number and unit; ``{name:n}`` prints the number alone.

    A dot belongs to the name (``{b.barite.mass}``).
    """
    return "".join(text if name is None else text + format(names[name], form) for text, name, form in _pieces(template))


@functools.lru_cache(maxsize=4096)
def _pieces(template: str) -> tuple[tuple[str, str | None, str], ...]:
    """The texts of a template, each with the name behind it, if any, and the form in which that is printed."""
    return tuple((text, name, form or "") for text, name, form, _ in string.Formatter().parse(template))


def names_in(template: str) -> set[str]:
    """The names that a text asks for."""
    return {name for _, name, _ in _pieces(template) if name}


def html(markdown: str) -> str:
    """Markdown as an HTML fragment."""
    if "\n\n" not in markdown:
        return _block_html(markdown)
    blocks = markdown.split("\n\n")
    if "```" in markdown or "~~~" in markdown or any(not block or _NO_PARAGRAPH.match(block) for block in blocks):
        return _read_html(markdown)
    # Paragraphs, and tables, are read by themselves: the same ones stand in one candidate's pages and in the next's.
    return "\n".join(map(_block_html, blocks))


def inline_html(markdown: str) -> str:
    """One line of Markdown as HTML without a paragraph around it."""
    return markdown if _is_plain(markdown) else _read_inline_html(markdown)


def _block_html(markdown: str) -> str:
    if _is_plain(markdown) and not _NO_PARAGRAPH.match(markdown):
        return f"<p>{markdown}</p>"
    return _read_html(markdown)


def _is_plain(line: str) -> bool:
    """Whether a line is the same as Markdown and as HTML: to read it as Markdown takes a hundred times as long."""
    return line == line.strip() and _PLAIN.fullmatch(line) is not None


def _read_html(markdown: str) -> str:
    """One text is read for all candidates: their numbers are put in afterwards where they stand for nothing but digits.

    A sign of the private area takes the place of a number: to Markdown both are letters of a word.
    """
    if not _DIGITS_MATTER.search(markdown):
        numbers = _NUMBER.findall(markdown)
        read = _rendered(_NUMBER.sub(_A_NUMBER, markdown))
        if read.count(_A_NUMBER) == len(numbers):  # a cell too many in a line of a table is left out
            following = iter(numbers)
            return re.sub(_A_NUMBER, lambda _: next(following), read)
    return _rendered(markdown)


@functools.lru_cache(maxsize=4096)
def _rendered(markdown: str) -> str:
    return str(_MARKDOWN.render(markdown)).strip()


@functools.lru_cache(maxsize=4096)
def _read_inline_html(markdown: str) -> str:
    return str(_MARKDOWN.renderInline(markdown))
