"""Write files so that a killed run leaves the old file or the new one, never half of either."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from grader.errors import GraderError


def write_bytes(path: Path, data: bytes, mode: int = 0o644) -> None:
    """Put ``data`` in place of the file at ``path``, all at once; folders are made as needed."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, mode)  # noqa: PTH101 - the name comes from mkstemp
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def write_text(path: Path, text: str) -> None:
    """Like :func:`write_bytes`, UTF-8."""
    write_bytes(path, text.encode("utf-8"))


def write_json(path: Path, data: Any) -> None:
    """Like :func:`write_text`, with sorted keys so that the same data is the same file."""
    write_text(path, json.dumps(data, ensure_ascii=False, indent=1, sort_keys=True) + "\n")


def cut(path: Path, length: int) -> None:
    """Shorten a file to its first ``length`` bytes, on the disk when this returns."""
    with path.open("r+b") as file:
        file.truncate(length)
        file.flush()
        os.fsync(file.fileno())


@contextmanager
def only_one(folder: Path) -> Iterator[None]:
    """Hold the school folder for one command at a time.

    Raises: :class:`GraderError` when another pitside command is at work in it.
    """
    try:
        with FileLock(folder / ".busy", timeout=0):
            yield
    except Timeout:
        raise GraderError(f"{folder}: another pitside command is at work here; wait for it to end") from None
