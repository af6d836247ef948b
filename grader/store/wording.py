"""Numbers in sentences."""

from __future__ import annotations


def counted(number: float, one: str) -> str:
    """A number with what it counts, in the plural unless there is one: ``counted(2, "script")`` is "2 scripts"."""
    return f"{number:g} {one}" if number == 1 else f"{number:g} {one}s"
