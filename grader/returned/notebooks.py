"""A returned notebook: parsed within bounds, and made new from what is understood of it. Runs nothing.

What is counted before it is parsed is what costs: each value of JSON takes up to fifty times the memory of its text.
Nothing of what a notebook holds is then looked at by a library: the few things that marking needs are taken over, each
seen to be what it should be, and the rest (outputs, metadata, cells' settings) is left behind. What is made is a
notebook by the rules of nbformat 4.5, which a test holds against nbformat itself.

Reading a file of the largest size that is taken costs less than a second of processor time and 250 MB, whatever it
holds; a paper of ours takes a thousandth of both.
"""

from __future__ import annotations

import itertools
import json
import re
from collections.abc import Iterator
from typing import Any

from grader.running.checked_answers import checked_attachments, sound
from grader.store.errors import GraderError

#: Most values in a notebook's JSON. A paper has about two thousand, one with a drawn chart in its outputs some more.
MOST_VALUES = 200_000
#: Most cells; a paper has some thirty.
MOST_CELLS = 5_000
#: Most characters in the sources of all cells. A paper has some twenty thousand.
LARGEST_TEXT = 4 << 20
#: Most characters of what our own programs keep in a script, and how deep it may be nested.
LARGEST_NOTES = 1 << 20
DEEPEST_NOTES = 20
#: Longest whole number, in digits: reading one takes the square of its length.
LONGEST_NUMBER = 1_000

_KINDS = ("code", "markdown", "raw")
_CELL_ID = re.compile(r"[a-zA-Z0-9_-]{1,64}")
#: A text of JSON, or the beginning of a value: each value but the first in a list or object follows a comma. Nothing
#: is tried twice, so that time grows with the length of the bytes and memory not at all.
_TOKEN = re.compile(rb'"[^"\\]*+(?:\\.[^"\\]*+)*+"?|[\[{,]', re.DOTALL)
_TEXT_BEGINS = ord('"')
_METADATA = {
    "kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"},
    "language_info": {"name": "python"},
}


class RefusedError(GraderError):
    """A file that cannot be marked, and why."""


EMPTY = "an empty file: ask for it again"
CUT_OFF = "a notebook that was cut off or damaged on its way: ask for the file again"
NO_NOTEBOOK = "not a notebook, nor another file that is known here: ask for the file that was saved"


def parsed(data: bytes) -> dict[str, Any]:
    """A notebook's JSON, seen to be of format 4 and of bearable size, and no more.

    Raises: :class:`RefusedError`.
    """
    if _has_endless_values(data):
        raise RefusedError("a notebook of far more pieces than our papers have: ask for the file again")
    try:
        raw = json.loads(data.decode("utf-8-sig"), parse_int=_whole)
    except (ValueError, RecursionError):
        begins = data[:200].lstrip(b"\xef\xbb\xbf \t\r\n")
        raise RefusedError(CUT_OFF if begins[:1] == b"{" else NO_NOTEBOOK if begins else EMPTY) from None
    if not isinstance(raw, dict) or not isinstance(raw.get("metadata"), dict) or not isinstance(raw.get("cells"), list):
        raise RefusedError("not a notebook (no cells): ask for the file again")
    if type(raw.get("nbformat")) is not int or type(raw.get("nbformat_minor")) is not int or raw["nbformat"] != 4:
        raise RefusedError("a notebook of another format than 4: open it in Jupyter, save it, and hand that in")
    return raw


def made_new(raw: dict[str, Any]) -> dict[str, Any]:
    """A notebook of format 4.5 with the cells of one that was :func:`parsed`, without outputs, and our notes in it.

    Raises: :class:`RefusedError` where a cell is not what nbformat takes for one, or there is far too much of it.
    """
    cells, notes = raw["cells"], raw["metadata"].get("pitside")
    if raw["nbformat_minor"] < 0:
        raise _damaged("its format is below nought")
    if len(cells) > MOST_CELLS:
        raise RefusedError(f"a notebook of {len(cells)} cells, far more than our papers have: ask for the file again")
    # One after the other, so that no more of a large notebook is held than is kept.
    made, size = [], 0
    for number, (cell, name) in enumerate(zip(cells, _ids(cells), strict=True), 1):
        made.append(_cell(number, cell, name))
        size += len(made[-1]["source"])
        if size > LARGEST_TEXT:
            raise RefusedError(
                f"a notebook with more than {LARGEST_TEXT / 1e6:.0f} MB of text in its cells: ask for it again without "
                "pictures or tables pasted into the text"
            )
    return {"cells": made, "metadata": {**_METADATA, "pitside": _notes(notes)}, "nbformat": 4, "nbformat_minor": 5}


def _whole(digits: str) -> int:
    if len(digits) > LONGEST_NUMBER:
        raise ValueError("a number of endless digits")
    return int(digits)


def _has_endless_values(data: bytes) -> bool:
    if sum(map(data.count, (b",", b"[", b"{"))) <= MOST_VALUES:
        return False  # such signs in texts are counted too, so this holds for nearly every file
    values = texts = 0
    for token in _TOKEN.finditer(data):
        if data[token.start()] == _TEXT_BEGINS:
            texts += 1
        else:
            values += 1
        if values > MOST_VALUES or texts > 2 * MOST_VALUES:  # names in objects are texts too
            return True
    return False


def _damaged(why: str) -> RefusedError:
    return RefusedError(f"a damaged notebook ({why}): ask for the file again")


def _cell(number: int, cell: Any, name: str) -> dict[str, Any]:
    kind = cell.get("cell_type")
    if not isinstance(kind, str) or kind not in _KINDS:
        raise _damaged(f"cell {number} is of no known kind")
    if not isinstance(cell.get("metadata", {}), dict):
        raise _damaged(f"cell {number} has metadata that are something else")
    source = _source(number, cell.get("source"))
    made: dict[str, Any] = {"cell_type": kind, "id": name, "metadata": {}, "source": source}
    if kind == "code":
        made |= {"execution_count": None, "outputs": []}
    elif attachments := checked_attachments(cell.get("attachments")):
        made["attachments"] = attachments
    return made


def _source(number: int, source: Any) -> str:
    """The one text of a cell, whether it was saved whole or as a list of lines."""
    if isinstance(source, list) and all(isinstance(line, str) for line in source):
        source = "".join(source)
    if not isinstance(source, str):
        raise _damaged(f"cell {number} has a source that is no text")
    return sound(source)


def _ids(cells: list[Any]) -> Iterator[str]:
    """The id of each cell; one that has none, or that of a cell before it, gets one of its own, each time the same."""
    for number, cell in enumerate(cells, 1):
        if not isinstance(cell, dict):
            raise _damaged(f"cell {number} is something else")
        if "id" in cell and not (isinstance(cell["id"], str) and _CELL_ID.fullmatch(cell["id"])):
            raise _damaged(f"cell {number} has an id that is none")
    taken = {cell.get("id") for cell in cells}
    seen: set[str] = set()
    for number, cell in enumerate(cells, 1):
        name = cell.get("id", "")
        if not name or name in seen:
            name = next(new for n in itertools.count() if (new := f"cell-{number}-{n}") not in taken)
        seen.add(name)
        yield name


def _notes(notes: Any) -> dict[str, Any]:
    """What our own programs keep in a script, as it was, but so that it can be written into a file."""
    if not isinstance(notes, dict):
        raise _damaged("whose paper it is, is gone")
    waiting: list[tuple[Any, int]] = [(notes, 1)]
    while waiting:
        value, depth = waiting.pop()
        if depth > DEEPEST_NOTES:
            raise _damaged("what our programs keep in it is nested without end")
        if isinstance(value, dict | list):
            waiting += [(each, depth + 1) for each in (value.values() if isinstance(value, dict) else value)]
    text = json.dumps(notes, ensure_ascii=False)
    if len(text) > LARGEST_NOTES:
        raise _damaged("what our programs keep in it is of endless length")
    # Half a surrogate pair can be written in JSON but not in a file.
    written: dict[str, Any] = json.loads(sound(text), parse_int=_whole)
    return written
