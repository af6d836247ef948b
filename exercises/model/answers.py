"""What a candidate gave: a number or letters and a unit, read without trusting any of it."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass


@dataclass(frozen=True)
class Given:
    """An answer as it came: a number, or text, and the unit's text; ``value`` None is a blank."""

    value: float | str | None
    unit: str = ""

    @property
    def text(self) -> str:
        """The value as it was written; empty for a blank."""
        if self.value is None:
            return ""
        try:
            return str(self.value)
        except ValueError:
            # Python writes no integer of some thousand digits out, and nobody would read it.
            return "an integer of thousands of digits"

    def __str__(self) -> str:
        value = f"{self.value:g}" if isinstance(self.value, float) and abs(self.value) < 1e6 else self.text
        return f"{value} {self.unit}".strip() if self.value is not None else ""


class UnreadableAnswer(ValueError):
    """The answer cannot be read; the message says why and what would do."""


#: Characters of an answer that a message repeats.
_REPEATED = 40

_PLAIN = re.compile(r"^[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d{1,3})?$", re.IGNORECASE)


def read_number(value: float | str) -> float:
    """The number that was given: a number, or its text with a decimal point or comma and digit groups.

    Raises: :class:`UnreadableAnswer` for text that is no number or could be two (``6,442``), for NaN and infinity,
    and for what is neither a number nor text.

    >>> read_number("1 234,5"), read_number("1,234.5"), read_number("6.4e3")
    (1234.5, 1234.5, 6400.0)
    """
    if not isinstance(value, str):
        try:
            number = float(value)
        except OverflowError:
            raise UnreadableAnswer("the number is too large to be an answer") from None
        except (TypeError, ValueError):
            raise UnreadableAnswer("the answer is neither a number nor text") from None
    else:
        if any(unicodedata.category(character) == "No" for character in value):
            raise UnreadableAnswer(
                f'"{value[:_REPEATED]}" holds a raised, lowered or fraction sign: write it as a plain number'
            )
        text = re.sub(r"[\s'_]", "", unicodedata.normalize("NFKC", value)).replace("−", "-")
        if re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", text):
            plain, decimal = text.replace(",", ""), text.replace(",", ".")
            raise UnreadableAnswer(f'"{value[:_REPEATED]}" can be read in two ways: write {plain} or {decimal}')
        if "," in text and "." in text:
            thousands = "," if text.rindex(".") > text.rindex(",") else "."
            text = text.replace(thousands, "")
        elif text.count(",") > 1:
            text = text.replace(",", "")
        text = text.replace(",", ".")
        if not _PLAIN.match(text):
            raise UnreadableAnswer(f'"{value[:_REPEATED]}" is not a number')
        number = float(text)
    if not math.isfinite(number):
        raise UnreadableAnswer(f"{str(value)[:_REPEATED]} is not a finite number")
    return number
