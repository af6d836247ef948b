"""What of the roster was corrected after papers were issued by it, and the way for each correction."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from dataclasses import dataclass

from grader.marking.records import came_back
from grader.papers.handing_out import handed_out, same_name
from grader.store.log import FORGETTING, FORGOTTEN, Log
from grader.store.register import Register
from grader.store.school import School


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
    """The roster's corrections since papers were issued, in its order, and who is no longer on it."""
    back = came_back(school, register)
    candidates = {candidate.id: candidate for candidate in school.roster}
    found: dict[tuple[str, str, str, str, bool], list[str]] = {}
    gone: dict[str, list[str]] = {}
    lines = Log(school, only_read=True).lines
    forgotten = {line["candidate"] for line in lines if line["what"] in (FORGETTING, FORGOTTEN)}
    for paper, then in handed_out(school, register.papers.values()):
        candidate = candidates.get(paper.candidate)
        if candidate is None:
            if paper.candidate not in forgotten:
                gone.setdefault(paper.candidate, []).append(paper.session)
            continue
        is_back = paper.id in back
        changes = []
        if then.name is not None and not same_name(candidate, then.name):
            changes.append(("name", then.name, candidate.name))
        if then.units is not candidate.units:
            changes.append(("units", str(then.units), str(candidate.units)))
        if then.arrangements is not None and then.arrangements != candidate.arrangements:
            changes.append(("arrangements", then.arrangements, candidate.arrangements))
        for what, was, now in changes:
            found.setdefault((candidate.id, what, was, now, is_back), []).append(paper.session)
    order = list(candidates)
    listed = sorted(found.items(), key=lambda one: order.index(one[0][0]))
    return [
        *(
            Correction(candidate, what, tuple(sessions), was, now, _way(school, candidate, what, is_back),
                       to_replace=what != "arrangements" and not is_back)
            for (candidate, what, was, now, is_back), sessions in listed
        ),
        *_gone(school, gone),
    ]  # fmt: skip


def _way(school: School, candidate: str, what: str, is_back: bool) -> str:
    here = shlex.quote(str(school.folder))
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
            f"put the line back; a new id makes another person; or: pitside forget {shlex.quote(str(school.folder))} "
            f'{candidate} --reason "..."'
        )
        yield Correction(candidate, "no longer on the roster", tuple(sessions), "", "", way)
