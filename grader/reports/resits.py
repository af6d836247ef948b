"""Who may sit a sitting again: those who had a paper of the attempt before and have not shown enough in it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from grader.reports.competence import Verdict, decide
from grader.reports.results import Result, gather
from grader.store.percents import floored, needed
from grader.store.register import Register
from grader.store.school import School, Sitting


@dataclass(frozen=True)
class Again:
    """A candidate who may have to sit again, and why."""

    candidate: str
    why: str


@dataclass(frozen=True)
class Resitters:
    """Ids of who was issued the ``attempt_before``, and those of them without a paper of the next who may need one."""

    attempt_before: tuple[str, ...]
    may_need_it: tuple[Again, ...]


def who_may_resit(school: School, sitting: Sitting, attempt: int) -> Resitters:
    """Look at the marks of the attempt before this one. Writes nothing.

    Raises: :class:`GraderError` where register or records cannot be read, or marks are not those of the log.
    """
    register = Register(school, only_read=True)
    before = who_had(school, register, sitting.id, attempt - 1)
    return Resitters(before, tuple(_again(school, sitting, attempt, register, set(before))))


def who_had(school: School, register: Register, sitting: str, attempt: int) -> tuple[str, ...]:
    """Ids of who was issued this attempt at a sitting, in the order of the roster."""
    return tuple(one.id for one in school.roster if register.paper_of(sitting, one.id, attempt))


def _again(school: School, sitting: Sitting, attempt: int, register: Register, before: set[str]) -> Iterator[Again]:
    results = gather(school, only_read=True)
    verdicts = {one.candidate.id: one.verdict for one in decide(school, results)}
    for result in results:
        candidate = result.candidate.id
        if (result.sitting.id, result.attempt) != (sitting.id, attempt - 1) or candidate not in before:
            continue
        if register.paper_of(sitting.id, candidate, attempt) is None and (why := _why(school, result, verdicts)):
            yield Again(candidate, why)


def _why(school: School, result: Result, verdicts: dict[str, Verdict]) -> str:
    """Why a candidate may have to sit again; empty for who has shown enough, or waits for marks."""
    if result.record is None:
        return result.status
    if not result.is_final:
        return ""
    if result.percent < school.pass_percent:
        return f"{floored(result.percent)} %, below the pass mark of {needed(school.pass_percent)} %"
    if verdicts.get(result.candidate.id) is Verdict.NOT_YET:
        return f"{floored(result.percent)} %, and {Verdict.NOT_YET} by the rule of the school"
    return ""
