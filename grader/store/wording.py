"""Numbers in sentences, and paths in commands that are said."""

from __future__ import annotations

import re
from pathlib import Path


def counted(number: float, one: str) -> str:
    """A number with what it counts, in the plural unless there is one: ``counted(2, "script")`` is "2 scripts"."""
    return f"{number:g} {one}" if number == 1 else f"{number:g} {one}s"


def typed(path: Path) -> str:
    """A path as it is typed in a command: in quotes where a space would cut it in two."""
    return str(path) if re.fullmatch(r"[\w./\\:~+-]+", str(path)) else f'"{path}"'
