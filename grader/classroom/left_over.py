"""What is not done yet where a classroom is closed, in lines for the instructor."""

from __future__ import annotations

from collections.abc import Iterable

from grader.classroom.drafts import Drafts, drafts_file
from grader.classroom.room import is_open
from grader.store.register import Paper, Register
from grader.store.school import School
from grader.store.wording import counted

#: Candidates who are named; of more it is said how many.
_MOST_NAMED = 8


def left_over_in(school: School, register: Register) -> list[str]:
    """What is left over of all classrooms of a school that nobody has open. Raises: as :class:`Drafts` does."""
    if not drafts_file(school).exists():
        return []
    drafts = Drafts(school)
    try:
        here = {one.id for one in school.roster}
        papers = [paper for paper in register.papers.values() if paper.candidate in here]
        is_held = {session: is_open(school, session) for session in {paper.session for paper in papers}}
        return left_over(school, drafts, (paper for paper in papers if not is_held[paper.session]))
    finally:
        drafts.close()


def left_over(school: School, drafts: Drafts, papers: Iterable[Paper]) -> list[str]:
    """Scripts that do not lie among the scripts, lines that are not in the log, papers that were not handed in."""
    scripts, lines = drafts.waiting()
    found = []
    if scripts:
        words = "script that was handed in does" if scripts == 1 else "scripts that were handed in do"
        found.append(
            f"{scripts} {words} not lie among the scripts yet; opening the classroom again tries it, once the disk "
            "has room"
        )
    if lines:
        found.append(
            f"{counted(lines, 'line')} {'does' if lines == 1 else 'do'} not stand in the log yet; opening the "
            "classroom again writes what waits"
        )
    waiting: dict[tuple[str, str, int], list[str]] = {}
    not_handed_in = drafts.not_handed_in()
    for paper in papers:
        if paper.id in not_handed_in:
            waiting.setdefault((paper.session, paper.sitting, paper.attempt), []).append(paper.candidate)
    for (session, sitting, attempt), who in waiting.items():
        named = ", ".join([*who[:_MOST_NAMED], *(["…"] if len(who) > _MOST_NAMED else [])])
        again = f" --attempt {attempt}" if attempt > 1 else ""
        found.append(
            f"{counted(len(who), 'candidate')} began {session} and did not hand in ({named}); to hand in what they "
            f"saved: pitside classroom {school.here} {sitting} --hand-in-saved{again}"
        )
    return found
