"""Where the sheet of slips lies: apart from what writes it, for those who only have to delete it."""

from __future__ import annotations

from pathlib import Path

from grader.papers.packs import packs_of
from grader.store.school import School


def slips_file(school: School, session: str) -> Path:
    """The sheet of slips of a sitting; it is there while the classroom is open."""
    return packs_of(school, session) / "slips.html"
