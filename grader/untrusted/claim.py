"""What one call of ``answer`` hands in, and what it prints, for plain values of Python.

The one module of this package that the marker imports too, so that answers which are read from a script's text are
taken as those that a run hands in. It imports the standard library alone and does nothing but make text of values.
"""

from __future__ import annotations

import numbers
from json import dumps
from typing import Any, NamedTuple

#: Longest line on the answers pipe; such a write is not split by the kernel (PIPE_BUF).
LONGEST_LINE = 4000


class Claim(NamedTuple):
    """A line of JSON for the marker, and the line that the cell shows."""

    line: bytes
    shown: str


def claim_of(part: Any, value: Any = None, unit: Any = "", *more: Any) -> Claim:
    """The claim that ``answer(part, value, unit)`` makes; whatever the values are, it is made."""
    kind, plain = _plain(value)
    claim: dict[str, Any] = {
        "part": part.strip().lower()[:101] if isinstance(part, str) else f"({type(part).__name__})"[:101],
        "unit": str(unit or "")[:61],
    }
    if more or not isinstance(unit, str):
        kind, plain = "unusable", "a number with a comma, or a unit without quotes"
    claim[kind] = plain
    line = dumps(claim).encode() + b"\n"
    if len(line) > LONGEST_LINE:
        line = dumps({"part": claim["part"], "unusable": "a text of that length"}).encode() + b"\n"
        kind, plain = "unusable", "a text of that length"
    if kind == "unusable":
        return Claim(line, f"{claim['part']}: not recorded; {plain} is not an answer")
    if plain is None:
        return Claim(line, f"{claim['part']}: left blank")
    shown = f"{plain:.10g}" if isinstance(plain, float) else plain
    return Claim(line, f"{claim['part']}: recorded {shown} {claim['unit']}".rstrip())


def _plain(value: Any) -> tuple[str, Any]:
    """("value", number, text or None), or ("unusable", what it is)."""
    if value is None or value is Ellipsis:
        return "value", None
    if isinstance(value, str):
        return "value", str(value)[:201]
    if isinstance(value, bool):
        return "unusable", "true or false"
    if isinstance(value, numbers.Real) or type(value).__name__ == "Decimal":
        try:
            number = float(value)
        except (OverflowError, ValueError, TypeError):
            return "unusable", "a number of that size"
        if number != number or number in (float("inf"), float("-inf")):
            return "unusable", f"{number} (not a finite number)"
        return "value", number
    if isinstance(value, numbers.Complex):
        return "unusable", "a complex number"
    return "unusable", f"a value of type {type(value).__name__}"[:60]
