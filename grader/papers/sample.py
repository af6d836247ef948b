"""A paper as candidates will see it, for whoever chooses its exercises: with numbers, and nobody's."""

from __future__ import annotations

from pathlib import Path

from grader.papers.packs import pack_contents, pack_names
from grader.store.files import write_bytes
from grader.store.register import Paper, draw_paper
from grader.store.school import Candidate, School, Sitting

#: Nobody on a roster has this id, for those are of small letters; the numbers are drawn for it alone.
NOBODY = "SAMPLE"


def sample_file(school: School, sitting: Sitting) -> Path:
    """Where the sample of a sitting's paper lies."""
    return school.records / f"sample_{sitting.id}.html"


def drawn_for_nobody(school: School, sitting: Sitting) -> tuple[Candidate, Paper]:
    """Somebody who is nobody, and what that one would be asked."""
    nobody = Candidate(NOBODY, "a sample, of no candidate", "", "", school.units)
    return nobody, draw_paper(school, sitting, nobody, 1)


def write_sample(school: School, sitting: Sitting) -> Path:
    """Write the sheet of a paper of this sitting as it is printed; gives its path. It is in no register."""
    nobody, paper = drawn_for_nobody(school, sitting)
    files = pack_contents(school, sitting, nobody, paper)
    path = sample_file(school, sitting)
    write_bytes(path, files[pack_names(school, paper).sheet])
    return path
