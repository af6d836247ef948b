"""Take files into the folder of scripts that come another way than by somebody's copying them there."""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from grader.returned.scripts import LARGEST
from grader.store.errors import GraderError
from grader.store.file_names import names_a_device
from grader.store.files import read_bytes, write_bytes
from grader.store.school import School

LONGEST_NAME = 120
#: Letters that some system does not allow in the name of a file.
_FORBIDDEN = '<>:"|?*'


@dataclass(frozen=True)
class TakenIn:
    """What became of each file: names under which they lie now, those that lay there before, and those left out."""

    new: tuple[str, ...]
    there: tuple[str, ...]
    left_out: tuple[str, ...]


def take_in(school: School, files: Iterable[tuple[str, Path]]) -> TakenIn:
    """Put files, each with the name that its sender gave it, among the scripts as they are.

    The name decides nothing but how the file is called: whose it is says the file itself. None that lies there is
    written over; a file of the same name and other bytes gets a number. The caller holds the school.
    """
    new: list[str] = []
    there: list[str] = []
    left_out: list[str] = []
    for sent, path in files:
        name = plain_name(sent)
        try:
            data = read_bytes(path, LARGEST)
        except GraderError:
            left_out.append(f"{name}: larger than {LARGEST >> 20} MB, which no script is")
            continue
        if not data:
            left_out.append(f"{name}: is empty")
            continue
        where, is_new = put_in(school, name, data)
        (new if is_new else there).append(where)
    return TakenIn(tuple(new), tuple(there), tuple(left_out))


def put_in(school: School, name: str, data: bytes) -> tuple[str, bool]:
    """Put a file of this plain name among the scripts; gives what it is called there, and whether it is new."""
    where = free_place(school.scripts, name, hashlib.sha256(data).digest())
    if where.exists():
        return where.name, False
    write_bytes(where, data)
    return where.name, True


def plain_name(sent: str) -> str:
    """A name for a file in a folder, from what a sender calls it: no way into another folder, nothing hidden.

    >>> plain_name("../../school.key"), plain_name("C:\\\\stick\\\\day1.ipynb"), plain_name("")
    ('school.key', 'day1.ipynb', 'script')
    >>> plain_name("aux.ipynb")
    '_aux.ipynb'
    """
    last = PurePosixPath(sent.replace("\\", "/")).name
    letters = ("_" if letter in _FORBIDDEN or unicodedata.category(letter)[0] == "C" else letter for letter in last)
    name = "".join(letters).strip(" .")
    name = f"_{name}" if names_a_device(name) else name
    stem, dot, suffix = name.rpartition(".")
    kept = f"{stem[: LONGEST_NAME - 12]}{dot}{suffix[:10]}" if dot else name[: LONGEST_NAME - 12]
    return kept or "script"


def free_place(folder: Path, name: str, digest: bytes) -> Path:
    """Where a file of this name goes: where the same bytes lie already, or where nothing does."""
    stem, dot, suffix = name.rpartition(".")
    if not dot:
        stem, suffix = name, ""
    number = 1
    while True:
        where = folder / (name if number == 1 else f"{stem} ({number}){dot}{suffix}")
        if not where.exists() or hashlib.sha256(where.read_bytes()).digest() == digest:
            return where
        number += 1
