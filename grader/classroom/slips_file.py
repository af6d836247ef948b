"""Where the sheet of slips lies: apart from what writes it, for those who only have to delete it."""

from __future__ import annotations

from pathlib import Path

from grader.papers.packs import packs_of
from grader.store.school import School


def slips_file(school: School, session: str, candidate: str = "") -> Path:
    """The sheet of slips of a sitting, or the new slip of one candidate; they are there while the classroom is open."""
    return packs_of(school, session) / (f"slips_{candidate}.html" if candidate else "slips.html")


def slips_files(school: School, session: str) -> list[Path]:
    """All of them that are there, and what a killed run left of one."""
    folder = packs_of(school, session)
    return sorted([*folder.glob("slips.html"), *folder.glob("slips_*.html"), *folder.glob(".slips*.html.part")])
