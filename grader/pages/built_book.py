"""The built book that comes with the wheel; book/into_wheel.py puts it there."""

from __future__ import annotations

import shutil
from pathlib import Path

from grader.store.errors import GraderError

FOLDER = Path(__file__).parents[1] / "built_book"
FIRST_PAGE = "index.html"


def built_book() -> Path | None:
    """The folder of the book, if this installation came with it; a source tree has its own in another place."""
    return FOLDER if (FOLDER / FIRST_PAGE).is_file() else None


def the_book() -> Path:
    """The first page of the book. Raises: :class:`GraderError` if none came along."""
    book = built_book()
    if book is None:
        raise GraderError(
            "no book came with this installation: install pitside from its wheel; in the source tree, make book "
            "builds it in _build/html"
        )
    return book / FIRST_PAGE


def copy_book(to: Path) -> Path:
    """Copy the book to a folder, for a stick or a shared drive; gives its first page.

    Raises: :class:`GraderError` if no book came along, or the folder holds anything but an earlier copy of it.
    """
    book = the_book().parent
    if to.exists() and not to.is_dir():
        raise GraderError(f"{to}: a file of this name is in the way; name another folder")
    if to.is_dir() and any(to.iterdir()) and not _is_a_copy(to):
        raise GraderError(f"{to}: holds other files; name a new or an empty folder, which the book is then copied to")
    shutil.copytree(book, to, dirs_exist_ok=True)
    return to / FIRST_PAGE


def _is_a_copy(folder: Path) -> bool:
    return (folder / FIRST_PAGE).is_file() and (folder / "lessons").is_dir()
