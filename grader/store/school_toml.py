"""The text of school.toml, as the tables that it holds: what is mistyped there is told in words, and never passed over.

What the values mean, and whether they are right, is for :mod:`grader.store.school` to say.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from grader.store.errors import GraderError
from grader.store.files import read_text

#: The names that may stand in each block. A sitting's block stands once for each sitting, in two brackets.
KNOWN: dict[str, tuple[str, ...]] = {
    "school": ("id", "title", "starts", "units", "assessor", "lessons", "own_exercises"),
    "marking": (
        "pass_percent", "outcome_percent", "every_outcome", "sitting_percent", "must_pass", "rounding", "resit",
        "stop_and_look",
    ),
    "privacy": ("keep_months",),
    "sitting": ("id", "title", "day", "weight", "exercises", "tasks"),
}  # fmt: skip
_BLOCKS = ", ".join(f"[[{block}]]" if block == "sitting" else f"[{block}]" for block in KNOWN)

#: Where Python's reader of TOML says that it stopped.
_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
#: What is seen in a line that cannot be read, and how to write it; the first that fits.
_MENDS = (
    (r"[“”„«»‘’]", 'type the plain quotes of the keyboard, "'),
    (r"^[^\"#]*=\s*(?:yes|no|on|off|True|False|YES|NO)\b", "write true or false, in small letters"),
    (r"=\s*\d{1,2}[./]\d{1,2}[./]\d{2,4}", "write a date with the year first, such as 2030-01-31"),
    (r"=\s*\d{4}[./]\d{1,2}[./]\d{1,2}", "write a date with hyphens, such as 2030-01-31"),
    (r"=\s*\d+\s*%", "write the number alone, without the sign %"),
    (r"=\s*\d+,\d", "write a decimal point in place of the comma"),
    (r"^\s*\[\s*[^\]]*$", "the block's name needs a bracket behind it too"),
    (r"^[^\"#]*=\s*[^\W\d][^\"#]*(?:#.*)?$", 'put quotes around the text, as in title = "..."'),
    (r"^\s*\[\[\w+\]\]", "the list above it is not closed; put ] behind its last entry"),
    (r"^\s*[^\W\d][\w-]*\s*,\s*(?:#.*)?$", "put quotes around each name of the list"),
    (r"^\s*[^=\[\]#]+$", "write name = value, or # in front of a note"),
)


def read_settings(path: Path, text: str | None = None) -> dict[str, Any]:
    """The tables of a school.toml, which holds no other names than those that are :data:`KNOWN`.

    ``text`` is what somebody wants to write there, in place of what the file holds.

    Raises: :class:`GraderError` that names the line and says how to write it, or names all that is not known.
    """
    folder = path.parent
    try:
        text = read_text(path) if text is None else text
    except FileNotFoundError:
        raise GraderError(f"{folder}: no school here (no school.toml); make one with: pitside new {folder}") from None
    except UnicodeDecodeError:
        raise GraderError(f"{path}: cannot be read: it is not UTF-8 text; save it as UTF-8 in your editor") from None
    try:
        settings = tomllib.loads(text)
    except RecursionError:
        raise GraderError(
            f"{path}: cannot be read: brackets in brackets in brackets; see what was pasted there"
        ) from None
    except ValueError as error:  # TOMLDecodeError is one, and what a number of thousands of digits raises
        raise GraderError(f"{path}: {_unreadable(text, str(error))}") from None
    faults = list(_unknown(settings))
    if len(faults) > 1:
        raise GraderError("\n".join([f"{path}: {len(faults)} faults to mend", *(f"  {fault}" for fault in faults)]))
    if faults:
        raise GraderError(f"{path}: {faults[0]}")
    return settings


def _unknown(settings: dict[str, Any]) -> Iterator[str]:
    """A line for each block or name that nothing reads, with the nearest that is read."""
    for block, held in settings.items():
        if block not in KNOWN:
            yield _no_block(block, held)
            continue
        if block == "sitting" and isinstance(held, dict):
            yield "write [[sitting]] with two brackets on either side, one block for each sitting"
            continue
        for number, table in enumerate(held if isinstance(held, list) else [held], 1):
            for name in table if isinstance(table, dict) else ():
                if name not in KNOWN[block]:
                    where = f"[[sitting]] number {number}" if block == "sitting" else f"[{block}]"
                    yield f"{where}: {_no_name(block, name)}"


def _no_block(block: str, held: Any) -> str:
    if not isinstance(held, dict | list):
        at_home = next((known for known in KNOWN if block in KNOWN[known]), "")
        if at_home:
            return f"{block} stands before the first block; write it below [{at_home}]"
        return f"{block} stands before the first block, and nothing is called so; the blocks are {_BLOCKS}"
    near = get_close_matches(block.lower(), KNOWN, 1, 0.6)
    meant = f"; did you mean {'[[sitting]]' if near == ['sitting'] else f'[{near[0]}]'}?" if near else ";"
    return f"no block is called [{block}]{meant} The blocks are {_BLOCKS}"


def _no_name(block: str, name: str) -> str:
    plain = re.sub(r"[\W_]+", "", name.lower())
    near = next((known for known in KNOWN[block] if known.replace("_", "") == plain), None)
    near = near or next(iter(get_close_matches(name.lower(), KNOWN[block], 1, 0.6)), None)
    elsewhere = next((other for other in KNOWN if name in KNOWN[other]), None)
    if elsewhere:
        return f"{name} belongs into the block [{elsewhere}]"
    return f"no setting is called {name}; " + (
        f"did you mean {near}?" if near else f"there are {', '.join(KNOWN[block])}"
    )


def _unreadable(text: str, error: str) -> str:
    """Which line cannot be read, and how to write it; what Python's reader says where no usual slip is seen."""
    place = _PLACE.search(error)
    said = _PLACE.sub("", error)
    lines = text.split("\n")
    at = int(place[1]) if place and place[1] else len(lines)
    if place and (said == "Unclosed array" or (said == "Invalid value" and not place[1])):
        return _unclosed(lines, at)
    if "twice" in said or "Cannot overwrite" in said or "Cannot mutate" in said:
        one = "[sitting]" in lines[at - 1]
        return f"line {at}: {_shown(lines[at - 1])} stands twice; " + (
            "write [[sitting]] with two brackets on either side" if one else "delete one of the two"
        )
    line = _without_note(lines[at - 1]) if place else ""
    if line.split("#")[0].count('"') % 2:
        return f'line {at}: {_shown(line)}: a quote " is missing'
    for slip, mend in _MENDS:
        if line and re.search(slip, line):
            return f"line {at}: {_shown(line)}: {mend}"
    return f"cannot be read: {error}" if not line else f"line {at}: {_shown(line)}: cannot be read ({said})"


def _unclosed(lines: list[str], at: int) -> str:
    """Where a list lacks a comma or its bracket: the first line of it that does not end as it should."""
    before = next((n for n in range(at - 1, 0, -1) if lines[n - 1].split("#")[0].strip()), at)
    if at <= len(lines) and lines[at - 1].strip().startswith('"'):
        return f"line {before}: {_shown(lines[before - 1])}: a comma is missing at its end"
    return f"line {at}: a list is not closed; put ] behind its last entry"


def _without_note(line: str) -> str:
    return re.sub(r"\s#[^\"]*$", "", line)


def _shown(line: str) -> str:
    """A line of the file as an error shows it: without its note, cut if it is long, no letter that would act."""
    line = " ".join(_without_note(line).split())
    line = line if len(line) <= 60 else f"{line[:60]}..."
    return line if line.isprintable() else ascii(line)
