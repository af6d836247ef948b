"""What a room says about a script, checked: answers and outputs are claims until they have passed here.

Everything in this module takes bytes or parsed JSON from an unknown hand, executes nothing of it, and gives
back plain values of bounded size.
"""

from __future__ import annotations

import base64
import contextlib
import json
import math
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

LONGEST_ANSWER_LINE = 4096
LONGEST_TEXT = 200
LONGEST_UNIT = 60
LARGEST_COUNT = 10_000
PART = re.compile(r"[0-9]{1,2}[a-z](\.[a-z0-9_-]{1,40}){0,3}")
#: Output forms that are kept. HTML, SVG, Markdown and JavaScript are not: they would run or load things in the
#: page of the person who marks. Plain text always comes with them.
KEPT_TEXT = ("text/plain",)
KEPT_PICTURES = ("image/png", "image/jpeg")
#: Kinds of pictures that a candidate may put into a cell, and what such pictures begin with.
ATTACHED_PICTURES = (*KEPT_PICTURES, "image/gif", "image/webp")
_PICTURES_BEGIN = (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"GIF8", b"RIFF")
#: LaTeX is kept where it holds nothing that a page could take for a tag.
LATEX = "text/latex"


@dataclass(frozen=True)
class Answer:
    """One answer as it was given: a finite number, a text of at most 200 characters, or None for a blank."""

    part: str
    value: float | str | None
    unit: str


class Lines:
    """Whole lines out of a stream, with a bound on a line and on all of it."""

    def __init__(self, longest: int, most: int) -> None:
        self._longest, self._left = longest, most
        self._buffer = bytearray()
        self.flooded = False

    def feed(self, data: bytes) -> Iterator[bytes]:
        self._left -= len(data)
        if self._left < 0:
            self.flooded = True
        if self.flooded:
            self._buffer.clear()
            return
        self._buffer += data
        while (end := self._buffer.find(b"\n")) >= 0:
            line = bytes(self._buffer[:end])
            del self._buffer[: end + 1]
            yield line if len(line) <= self._longest else b""
        if len(self._buffer) > self._longest:
            self.flooded = True
            self._buffer.clear()


def parsed(line: bytes) -> Any:
    """A line's JSON, or None where it is none. Numbers too long for a float become infinite."""
    try:
        return json.loads(line.decode(), parse_int=_number)
    except (ValueError, RecursionError):
        return None


def _number(digits: str) -> int | float:
    return int(digits) if len(digits) < 300 else math.inf


def clip(text: str, most: int = 40) -> str:
    """Text from an unknown hand, short and with nothing that a terminal or a page would act on."""
    shown = "".join(c if c.isprintable() else "�" for c in text[:most])
    return shown + ("..." if len(text) > most else "")


def checked_answer(line: bytes) -> Answer | str:
    """The answer that a line of JSON claims, or the line for a person that says why it is not accepted.

    The line is an object with ``part``, ``value`` (number, text or null) and ``unit``.
    """
    message = parsed(line)
    if not isinstance(message, dict) or not {"value", "unusable"} & message.keys():
        return "something that is no answer was written where answers go; it was not accepted"
    part, value, unit = message.get("part"), message.get("value"), message.get("unit", "")
    if not isinstance(part, str) or not PART.fullmatch(part):
        named = f'"{clip(part)}"' if isinstance(part, str) else "what was given"
        return f'{named} is no name of a part: write it as on the paper, such as answer("2a", 412, "lb/bbl")'
    if "unusable" in message:
        kind = message["unusable"]
        kind = clip(kind, 60) if isinstance(kind, str) else "what was given"
        return f"{part}: {kind} is not an answer: give a number or a text"
    if isinstance(value, bool):
        return f"{part}: true or false is not an answer: give a number or a text"
    if isinstance(value, int | float):
        if not math.isfinite(value):
            return f"{part}: the value is not a finite number"
        value = float(value)
    elif isinstance(value, str):
        if len(value) > LONGEST_TEXT:
            return f"{part}: the text is longer than {LONGEST_TEXT} characters"
        value = _one_line(value)
        if not value.isprintable():
            return f"{part}: the text has characters that cannot be shown"
    elif value is not None:
        return f"{part}: a list of values is not an answer: give one number or a text"
    if not isinstance(unit, str):
        return f"{part}: the unit is no text"
    if len(unit) > LONGEST_UNIT:
        return f"{part}: the unit is longer than {LONGEST_UNIT} characters"
    unit = _one_line(unit)
    if not unit.isprintable():
        return f"{part}: the unit has characters that cannot be shown"
    return Answer(part, value, unit)


def _one_line(text: str) -> str:
    """Text without line breaks, doubled spaces and the invisible marks (Unicode Cf) that come along with a copy."""
    return " ".join("".join(c for c in text if unicodedata.category(c) != "Cf").split())


def sound(text: str) -> str:
    """Text that can be written as UTF-8: half a surrogate pair becomes a question mark."""
    return text.encode("utf-8", "replace").decode()


def checked_outputs(claimed: Any) -> list[dict[str, Any]]:
    """The outputs of a cell in nbformat's form, made new from what is understood; the rest is left out."""
    outputs: list[dict[str, Any]] = []
    for item in claimed if isinstance(claimed, list) else []:
        if not isinstance(item, dict):
            continue
        kind = item.get("output_type")
        if kind == "stream" and item.get("name") in ("stdout", "stderr") and isinstance(item.get("text"), str):
            outputs.append({"output_type": "stream", "name": item["name"], "text": sound(item["text"])})
        elif kind in ("display_data", "execute_result"):
            output = {"output_type": kind, "metadata": {}, "data": _checked_data(item.get("data"))}
            if kind == "execute_result":
                count = item.get("execution_count")
                output["execution_count"] = count if type(count) is int and 0 < count <= LARGEST_COUNT else None
            outputs.append(output)
        elif kind == "error":
            trace = item.get("traceback")
            lines = [sound(line) for line in trace if isinstance(line, str)] if isinstance(trace, list) else []
            outputs.append({"output_type": "error", "ename": clip(str(item.get("ename", "")), 200),
                            "evalue": sound(str(item.get("evalue", ""))[:1000]), "traceback": lines[:60]})  # fmt: skip
    return outputs


def checked_attachments(claimed: Any) -> dict[str, dict[str, str]]:
    """The pictures that are attached to a cell, by name and kind, made new; what is no picture is left out."""
    found: dict[str, dict[str, str]] = {}
    for name, kinds in claimed.items() if isinstance(claimed, dict) else ():
        for kind, value in kinds.items() if isinstance(kinds, dict) and len(name) <= LONGEST_TEXT else ():
            if isinstance(value, list) and all(isinstance(line, str) for line in value):
                value = "".join(value)
            if kind not in ATTACHED_PICTURES or not isinstance(value, str):
                continue
            # Leaves line breaks and other strange signs out by itself.
            with contextlib.suppress(ValueError):
                picture = base64.b64decode(value)
                if picture.startswith(_PICTURES_BEGIN):
                    found.setdefault(sound(name), {})[kind] = base64.b64encode(picture).decode()
    return found


def _checked_data(claimed: Any) -> dict[str, str]:
    data = {}
    for kind, value in claimed.items() if isinstance(claimed, dict) else ():
        if not isinstance(value, str):
            continue
        if kind in KEPT_TEXT or (kind == LATEX and not set(value) & set("<>&")):
            data[kind] = sound(value)
        elif kind in KEPT_PICTURES:
            with contextlib.suppress(ValueError):
                picture = base64.b64decode("".join(value.split()), validate=True)
                if picture.startswith((b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff")):
                    data[kind] = base64.b64encode(picture).decode()
    return data
