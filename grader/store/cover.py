"""The school's own words on top of each paper: a file cover.md in its folder, in plain Markdown.

What stands between ``<!--`` and ``-->`` is a note for whoever edits the file.
"""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path

from exercises.model.text import html
from grader.store.errors import GraderError
from grader.store.files import read_text

FILE = "cover.md"
#: What a new school has: nothing that is printed, and what the file is for.
EXAMPLE = """\
<!-- What you write here, in plain Markdown, stands on top of every paper: yard rules, what may be used, whom to ask.
     Notes between these marks are not printed; with nothing else in the file, papers have no cover. -->
"""
_NOTES = re.compile(r"<!--.*?-->", re.DOTALL)
#: More would push the questions off the first page.
LONGEST, MOST_LINES = 2000, 40


def read_cover(folder: Path) -> str:
    """The words, empty where there is no such file, or nothing but notes in it.

    Raises: :class:`GraderError` if they are too long, no text, or hold a picture, which a paper cannot bring along.
    """
    path = folder / FILE
    try:
        text = _NOTES.sub("", read_text(path)).strip()
    except FileNotFoundError:
        return ""
    except UnicodeDecodeError:
        raise GraderError(f"{path}: not UTF-8 text; save it again as UTF-8") from None
    lines = text.count("\n") + 1
    if len(text) > LONGEST or lines > MOST_LINES:
        raise GraderError(
            f"{path}: {len(text)} letters in {lines} lines; a cover has at most {LONGEST} in {MOST_LINES}: shorten it"
        )
    if any(unicodedata.category(letter) == "Cc" and letter not in "\n\t" for letter in text):
        raise GraderError(f"{path}: holds a control character, which no keyboard types; write the text again")
    if "<img" in html(text):
        raise GraderError(f"{path}: holds a picture, which papers cannot bring along; take it out")
    return text


def cover_html(text: str) -> str:
    """The words as HTML below a page's title; tags in them are shown as text."""
    return re.sub(r"<(/?)h([1-5])>", lambda tag: f"<{tag[1]}h{int(tag[2]) + 1}>", html(text))


def cover_markdown(text: str) -> str:
    """The words as a notebook's cell below its title, where tags would else act."""
    shown = re.sub(r"<(?=[A-Za-z/!?])", "&lt;", text)
    return re.sub(r"^( {0,3})(#{1,5})(?=\s)", r"\1#\2", shown, flags=re.MULTILINE)
