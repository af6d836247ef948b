"""Write files so that a killed run leaves the old file or the new one, never half of either."""

from __future__ import annotations

import json
import os
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from grader.store.errors import GraderError

_ON_WINDOWS = os.name == "nt"


def read_bytes(path: Path, most: int = 64 << 20) -> bytes:
    """The bytes of a plain file; a pipe is not waited for, and a device without end is not read.

    Raises: :class:`GraderError` if it is a pipe or device, or larger than ``most`` bytes; ``OSError`` if it cannot be
    read.
    """

    def without_waiting(name: str, flags: int) -> int:
        return os.open(name, flags | getattr(os, "O_NONBLOCK", 0))

    with open(path, "rb", opener=without_waiting) as file:
        found = os.fstat(file.fileno())
        if not stat.S_ISREG(found.st_mode):
            raise GraderError(f"{path}: a pipe or device, not a file; put the file itself there")
        if found.st_size > most:
            raise GraderError(f"{path}: larger than {most >> 20} MB, which no such file is; see what it is")
        return file.read()


def read_text(path: Path) -> str:
    """Like :func:`read_bytes`, UTF-8, with or without its mark."""
    return read_bytes(path).decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")


def write_bytes(path: Path, data: bytes, mode: int = 0o644) -> None:
    """Put ``data`` in place of the file at ``path``, all at once; folders are made as needed.

    What a killed run leaves of a file lies beside it under one hidden name, and the next run takes that name again.
    """
    part = path.with_name(f".{path.name}.part")
    try:
        with os.fdopen(_new(part), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.chmod(mode)
        put_in_place(part, path)
    except BaseException as error:
        if isinstance(error, OSError) and error.filename is None:
            error.filename = str(path)  # writing alone does not know what it is that cannot be written
        with suppress(OSError):  # what went wrong first is what to tell
            part.unlink(missing_ok=True)
        raise


def put_in_place(part: Path, path: Path) -> None:
    """Let ``part`` take the place of the file at ``path``.

    Raises: :class:`GraderError` where Windows does not allow it, since another program has the file open; for a moment
    that may be one that looks through every new file.
    """
    for pause in (0.1, 0.4, 1.5):
        try:
            part.replace(path)
            return
        except PermissionError:
            if not _ON_WINDOWS:
                raise
            time.sleep(pause)
    try:
        part.replace(path)
    except PermissionError:
        raise GraderError(f"{path}: another program has it open; close it there, then do this again") from None


def _new(path: Path) -> int:
    """A new file, in place of one of that name, in a folder that is made where there is none."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL
    try:
        return os.open(path, flags, 0o600)
    except FileExistsError:
        path.unlink(missing_ok=True)
    except (FileNotFoundError, NotADirectoryError):
        path.parent.mkdir(parents=True, exist_ok=True)
    return os.open(path, flags, 0o600)


def write_text(path: Path, text: str) -> None:
    """Like :func:`write_bytes`, UTF-8."""
    write_bytes(path, text.encode("utf-8"))


def write_json(path: Path, data: Any) -> None:
    """Like :func:`write_text`, with sorted keys so that the same data is the same file."""
    write_text(path, as_json(data))


def as_json(data: Any, indented: bool = True) -> str:
    """The text that :func:`write_json` writes, or all of it in one line, which takes a third of the time.

    Raises: ``UnicodeEncodeError`` where it cannot be written.
    """
    text = json.dumps(data, ensure_ascii=False, indent=1 if indented else None, sort_keys=True) + "\n"
    text.encode()
    return text


def truncate(path: Path, length: int) -> None:
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
