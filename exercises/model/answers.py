"""What a candidate gave: a number or letters and a unit, read without trusting any of it."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass

from pitside.unit_names import spelled_as_read


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

    @property
    def named_unit(self) -> str:
        """The unit as pages print it, or as it was typed where it is none that pages print."""
        return spelled_as_read(self.unit) or self.unit.strip()

    def __str__(self) -> str:
        value = f"{self.value:g}" if isinstance(self.value, float) and abs(self.value) < 1e6 else self.text
        return f"{value} {spelled_as_read(self.unit)}".strip() if self.value is not None else ""


class UnreadableAnswer(ValueError):
    """The answer cannot be read; the message says why and what would do."""


#: Characters of an answer that a message repeats.
_REPEATED = 40

#: A simple fraction, alone or behind a whole number: 3/4, 12 1/2. ``read_number.js`` reads the same.
FRACTION = re.compile(r"([+-]?)(?:([0-9]{1,4})\s+)?([0-9]{1,4})\s*/\s*([0-9]{1,4})")
#: A number without anything that groups its digits, with a decimal point.
NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d{1,3})?", re.IGNORECASE)


def _fraction(text: str) -> float | None:
    """The value of a simple fraction; None where the text is none, or could be a slip of the keyboard (12 5/2)."""
    found = FRACTION.fullmatch(text)
    if found is None:
        return None
    sign, whole, above, below = found[1], found[2], int(found[3]), int(found[4])
    if not below or (whole is not None and above >= below):
        return None
    value = int(whole or 0) + above / below
    return -value if sign == "-" else value


def read_number(value: float | str) -> float:
    """The number that was given: a number, or its text with a decimal point or comma and digit groups, or a fraction.

    Raises: :class:`UnreadableAnswer` for text that is no number or could be two (``6,442``), for NaN and infinity,
    and for what is neither a number nor text.

    >>> read_number("1 234,5"), read_number("1,234.5"), read_number("6.4e3")
    (1234.5, 1234.5, 6400.0)
    >>> read_number("3/4"), read_number("12 1/2")
    (0.75, 12.5)
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
        normal = unicodedata.normalize("NFKC", value).replace("−", "-")
        if (fraction := _fraction(normal.strip())) is not None:
            return fraction
        text = re.sub(r"[\s'_]", "", normal)
        if re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", text):
            plain, decimal = text.replace(",", ""), text.replace(",", ".")
            raise UnreadableAnswer(f'"{value[:_REPEATED]}" can be read in two ways: write {plain} or {decimal}')
        if "," in text and "." in text:
            thousands = "," if text.rindex(".") > text.rindex(",") else "."
            text = text.replace(thousands, "")
        elif text.count(",") > 1:
            text = text.replace(",", "")
        text = text.replace(",", ".")
        if not NUMBER.fullmatch(text):
            raise UnreadableAnswer(f'"{value[:_REPEATED]}" is not a number')
        number = float(text)
    if not math.isfinite(number):
        raise UnreadableAnswer(f"{str(value)[:_REPEATED]} is not a finite number")
    return number
