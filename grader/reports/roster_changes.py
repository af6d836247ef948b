"""What of the roster was corrected after papers were issued by it, and the way for each correction."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from grader.marking.records import came_back
from grader.papers.handing_out import handed_out, same_name
from grader.papers.issue import Replaced, replace_packs
from grader.store.errors import GraderError
from grader.store.log import FORGETTING, FORGOTTEN, Log
from grader.store.register import Paper, Register
from grader.store.school import School, Sitting


@dataclass(frozen=True)
class Correction:
    """A candidate's roster line is another than it was at issue: what, in which sittings, and what to do about it."""

    candidate: str
    what: str
    sessions: tuple[str, ...]
    was: str
    now: str
    way: str
    #: Whether packs are wrong by it and can be written again.
    to_replace: bool = False

    def __str__(self) -> str:
        change = f"{self.what} {self.was!r} then, {self.now!r} now" if self.was or self.now else self.what
        return f"{self.candidate} ({', '.join(self.sessions)}): {change}: {self.way}"


def corrections(school: School, register: Register) -> list[Correction]:
    """The roster's corrections since packs were written, in its order, and who is no longer on it."""
    candidates = {candidate.id: candidate for candidate in school.roster}
    found: list[tuple[Paper, str, str, str]] = []
    gone: dict[str, list[str]] = {}
    lines = Log(school, only_read=True).lines
    forgotten = {line["candidate"] for line in lines if line["what"] in (FORGETTING, FORGOTTEN)}
    packed = {sitting.id for sitting in school.sittings if not sitting.observed}
    papers = (paper for paper in register.papers.values() if paper.sitting in packed)
    for paper, then in handed_out(school, papers):
        candidate = candidates.get(paper.candidate)
        if candidate is None:
            if paper.candidate not in forgotten:
                gone.setdefault(paper.candidate, []).append(paper.session)
            continue
        if then.name is not None and not same_name(candidate, then.name):
            found.append((paper, "name", then.name, candidate.name))
        if then.units is not candidate.units:
            found.append((paper, "units", str(then.units), str(candidate.units)))
        if then.arrangements is not None and then.arrangements != candidate.arrangements:
            found.append((paper, "arrangements", then.arrangements, candidate.arrangements))
    # All that came back is looked at for this, which takes a while where it is much.
    back = came_back(school, register) if found else frozenset()
    together: dict[tuple[str, str, str, str, bool], list[str]] = {}
    for paper, what, was, now in found:
        together.setdefault((paper.candidate, what, was, now, paper.id in back), []).append(paper.session)
    order = list(candidates)
    listed = sorted(together.items(), key=lambda one: order.index(one[0][0]))
    return [
        *(
            Correction(candidate, what, tuple(sessions), was, now, _way(school, candidate, what, is_back),
                       to_replace=what != "arrangements" and not is_back)
            for (candidate, what, was, now, is_back), sessions in listed
        ),
        *_gone(school, gone),
    ]  # fmt: skip


def replace_papers(
    school: School,
    sittings: Sequence[Sitting],
    named: Sequence[str],
    reason: str,
    attempt: int | None,
    progress: Callable[[int, int], None],
) -> list[Replaced]:
    """Write packs again: of those who are named, or of all whose roster line was corrected since.

    See :func:`grader.papers.issue.replace_packs`. Raises: :class:`GraderError` where nobody is named and no line was
    corrected, and as that does.
    """
    register = Register(school)
    if not named:
        wanted = {sitting.id for sitting in sittings}
        found = [one for one in corrections(school, register) if one.to_replace]
        in_these = (one for one in found if wanted & {session.split("_")[0] for session in one.sessions})
        named = tuple(dict.fromkeys(one.candidate for one in in_these))
    if not named:
        raise GraderError(
            f"{school.roster_file}: no line was corrected since the packs were written; to write a lost "
            f"pack again, say whose: pitside issue {school.here} --replace --candidate {school.roster[0].id} "
            '--reason "stick lost"'
        )
    return replace_packs(school, tuple(sittings), named, reason, attempt, progress, came_back(school, register))


def _way(school: School, candidate: str, what: str, is_back: bool) -> str:
    here = school.here
    if what == "arrangements":
        return "papers show none of them; pitside decide shows those of now"
    if is_back and what == "name":
        return f"the script is back; results and certificates take the name of now: pitside results {here}"
    if is_back:
        return "the script is back and counts as it is; a resit would have the units of now"
    return f'pitside issue {here} --replace --candidate {candidate} --reason "{what} corrected"'


def _gone(school: School, gone: dict[str, list[str]]) -> Iterator[Correction]:
    for candidate, sessions in gone.items():
        way = (
            f"put the line back; a new id makes another person; or: pitside forget {school.here} "
            f'{candidate} --reason "..."'
        )
        yield Correction(candidate, "no longer on the roster", tuple(sessions), "", "", way)
