"""The results of a school as they are handed out: held against the log, written, and signed."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from grader.marking.books import read_books
from grader.reports.results import Result, gather, write_feedback, write_results
from grader.store.school import School
from grader.store.state import State, state_of


@dataclass(frozen=True)
class Written:
    """What was written: the results themselves, the signed table, the assessor's page, and the state of the books."""

    found: list[Result]
    table: Path
    index: Path
    state: State


def write_all(school: School, progress: Callable[[int, int], None], unfinished: bool = False) -> Written:
    """Write results and feedback, and sign the table; the caller holds the school. Raises as ``gather`` does."""
    with _no_looking_for_garbage():
        books = read_books(school).must_hold()
        found = gather(school, books)
        state = state_of(school, books.register, books.log)
        table = write_results(school, found)
        index = write_feedback(school, found, progress, state.code, unfinished)
        sign_results(school, table, state)
    return Written(found, table, index, state)


@contextmanager
def _no_looking_for_garbage() -> Iterator[None]:
    """Thousands of records stay to the end and pages leave no garbage: to look for it again and again takes a sixth."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


def sign_results(school: School, table: Path, state: State) -> None:
    """Sign a table that the school hands out; last of all, so that a lost key holds nothing else up."""
    from grader.signing.signed_lists import sign_list
    from grader.signing.signing import signer_of

    now = datetime.now(UTC)
    state.tell_of_clock(now)
    sign_list(table, signer_of(school), school.id, now, state.code)
