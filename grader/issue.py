"""Issue papers: draw, register, pack. Run again, it makes only what is missing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from grader.errors import GraderError
from grader.register import Paper, Register, draw_paper
from grader.school import School, Sitting


@dataclass(frozen=True)
class Issued:
    """What an issue run did: papers drawn now, packs written now, packs that were there."""

    drawn: int
    packed: int
    already: int


def issue(school: School, sittings: tuple[Sitting, ...], progress: Callable[[int, int], None]) -> Issued:
    """Give every candidate of the roster a paper for each sitting.

    A paper is in the register, on the disk, before its pack is written, so no pack exists without its line.

    Raises: :class:`GraderError` when the roster is empty, or a sitting's exercises changed after papers were issued.
    """
    from grader.packs import is_packed, write_pack  # brings along what makes notebooks, which takes a second

    if not school.roster:
        raise GraderError(f"{school.folder / 'roster.csv'}: no candidates; write a line for each under the first line")
    register = Register(school)
    for sitting in sittings:
        _check_unchanged(school, register, sitting)
    papers: list[tuple[Sitting, Paper]] = []
    new: list[Paper] = []
    for sitting in sittings:
        for candidate in school.roster:
            paper = register.paper_of(sitting.id, candidate.id)
            if paper is None:
                paper = draw_paper(school, sitting, candidate, attempt=1)
                new.append(paper)
            papers.append((sitting, paper))
    register.add(new)
    candidates = {candidate.id: candidate for candidate in school.roster}
    missing = [(sitting, paper) for sitting, paper in papers if not is_packed(school, paper)]
    for count, (sitting, paper) in enumerate(missing, 1):
        write_pack(school, sitting, candidates[paper.candidate], paper)
        progress(count, len(missing))
    return Issued(drawn=len(new), packed=len(missing), already=len(papers) - len(missing))


def _check_unchanged(school: School, register: Register, sitting: Sitting) -> None:
    for paper in register.papers.values():
        if paper.sitting != sitting.id:
            continue
        issued = tuple(entry.exercise for entry in paper.entries)
        if issued != sitting.exercises:
            raise GraderError(
                f"{school.folder / 'school.toml'}: sitting {sitting.id} was issued with {', '.join(issued)}; "
                f"put these exercises back, or make a new sitting for others"
            )
