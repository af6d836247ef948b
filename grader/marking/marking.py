"""Mark the scripts of a school: run each in its room, mark its answers from the register, keep the record."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, wait
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice

from grader.marking.one_script import Failed, Marked, Outcome, Waits
from grader.marking.record import Record
from grader.marking.records import keep_refusals, read_record
from grader.marking.rooms import How, Place, here
from grader.returned.scripts import Refusal, Returned, read_scripts
from grader.running.faults import Fault, caught
from grader.store.errors import GraderError
from grader.store.log import NEW_SCHEME, REFUSED, Again, Log
from grader.store.register import Register
from grader.store.school import School

#: Why a script is refused that must be run where walls are missing.
WAITS = (
    "it holds more than answers, so it must be run, and the machine that marked cannot wall it in: mark it on a Linux "
    "machine that can, or accept that with --allow-missing-walls"
)


@dataclass(frozen=True)
class Tally:
    """What a marking run did."""

    marked: int
    already: int
    refused: tuple[Refusal, ...]
    #: Papers with parts that wait for hand marks, and papers whose hand marks were new to this run.
    pending: int = 0
    merged: int = 0
    #: Papers for which this run accepted the mark scheme of today.
    accepted: int = 0
    #: A line for each part with something given by hand that could not count as it was.
    hand_notes: tuple[str, ...] = ()
    #: Scripts that must be run, and cannot be behind walls, and which walls are missing.
    waiting: int = 0
    missing_walls: str = ""
    #: Papers issued under another rule for answers that cannot be than the school has today; they keep it.
    other_rule: int = 0

    @property
    def faults(self) -> tuple[str, ...]:
        """Where the faults of ours are kept for which scripts could not be marked, below the school's folder."""
        return tuple(one.fault for one in self.refused if one.fault)


def mark_school(
    school: School,
    progress: Callable[[int, int], None],
    how: How = How(),  # noqa: B008  # frozen
    *,
    again: str = "",
    new_scheme: str = "",
) -> Tally:
    """Mark every script that has not been marked yet; ``progress`` is told how many are done, of how many.

    ``again`` is the reason to mark also those that are marked; a run that was killed goes on where it was when it is
    called with the same reason.

    ``new_scheme`` is the reason to mark papers whose exercise has changed since they were issued by the mark scheme of
    today, also those that are marked by the old one; a paper that it does not fit is refused. Without it such papers
    are refused, and the marks of those that are marked stand.

    Scripts marked before that the gradebook does not have, since it was lost, are entered from their records.

    Of a script little is held until it is its turn, and nothing after it, so a thousand take no more memory than ten.

    Raises: GraderError where the school cannot be marked in this way.
    """
    if how.dask and school.own_exercises:
        raise GraderError(
            f"{school.folder / 'own_exercises'}: own exercises are marked on this machine alone, since other machines "
            "do not have their modules; mark without --dask"
        )
    register, log = Register(school), Log(school)
    returned, refusals = read_scripts(school, register)
    accepted = 0
    if new_scheme:
        returned, unfit, accepted = _accept_new_schemes(school, register, log, returned, new_scheme)
        refusals = _by_file([*refusals, *unfit])
    marking_again = log.begin_again(again) if again else None
    todo, before = _sorted_out(school, returned, marking_again)
    _log_refusals(log, register, refusals)
    keep_refusals(school, refusals)
    progress(0, len(todo))
    run = _MarkingRun(school, register, log, marking_again)
    if todo or before:
        run.mark(todo, before, how, progress)
    if run.late:
        refusals = _by_file([*refusals, *run.late])
        keep_refusals(school, refusals)
    if marking_again and not run.waiting and not any(one.fault for one in run.late):
        log.end_again(marking_again)
    register.schemes.keep()
    return Tally(
        marked=len(todo) - len(run.late),
        already=len(before),
        refused=tuple(one for one in refusals if one not in run.waiting),
        pending=run.pending,
        merged=run.merged,
        accepted=accepted,
        hand_notes=tuple(run.hand_notes),
        waiting=len(run.waiting),
        missing_walls=run.missing_walls,
        other_rule=sum(one.paper.stop_and_look != school.stop_and_look for one in (*todo, *before)),
    )


class _MarkingRun:
    """What comes of the scripts of one run, kept as it comes, and counted."""

    def __init__(self, school: School, register: Register, log: Log, again: Again | None) -> None:
        self._school, self._register, self._log, self._again = school, register, log, again
        self.pending = self.merged = 0
        self.hand_notes: list[str] = []
        #: What was refused only when it was marked, and of it what waits for a machine with walls.
        self.late: list[Refusal] = []
        self.waiting: list[Refusal] = []
        self.missing_walls = ""

    def mark(
        self, todo: list[Returned], before: list[Returned], how: How, progress: Callable[[int, int], None]
    ) -> None:
        """Mark the scripts of ``todo``, and merge what was given by hand for those that are marked already."""
        with ExitStack() as opened:
            # The first scripts are read and run while the gradebook is opened and looked through.
            outcomes = opened.enter_context(_outcomes(todo, how))
            from grader.marking.bookkeeping import Bookkeeper  # with the gradebook, which takes a second to load

            keeper = opened.enter_context(Bookkeeper.of(self._school, self._register, self._log, self._again))
            if todo:
                opened.enter_context(keeper.keeping_many())
            # What the libraries are made of outlives all scripts: no collection need look through it again.
            if not gc.get_freeze_count():
                gc.freeze()
                opened.callback(gc.unfreeze)
            keeper.enter_lost(one.paper for one in before)
            for one in before:
                record, has_new = keeper.merge(one.paper)
                self.merged += has_new
                self._count(record)
            for count, outcome in enumerate(outcomes, 1):
                kept = keeper.keep(outcome) if isinstance(outcome, Marked) else outcome
                if isinstance(kept, Record):
                    self._count(kept)
                else:
                    self._refuse(kept)
                progress(count, len(todo))

    def _count(self, record: Record) -> None:
        self.pending += bool(record.pending)
        self.hand_notes += record.hand_notes

    def _refuse(self, outcome: Refusal | Waits | Failed) -> None:
        if isinstance(outcome, Waits):
            self.missing_walls = outcome.why
            refusal = outcome.returned.refused(WAITS)
            self.waiting.append(refusal)
        elif isinstance(outcome, Failed):
            refusal = _refusal_for(self._school, outcome)
        else:
            refusal = outcome
        self.late.append(refusal)
        _log_refusals(self._log, self._register, [refusal])


def _by_file(refusals: list[Refusal]) -> list[Refusal]:
    return sorted(refusals, key=lambda refusal: refusal.file)


def _sorted_out(
    school: School, returned: Iterable[Returned], again: Again | None
) -> tuple[list[Returned], list[Returned]]:
    """The scripts that are to be marked now, and those that are marked and stay so."""
    todo: list[Returned] = []
    before: list[Returned] = []
    for one in returned:
        done = read_record(school, one.paper.id)
        wanted_again = again and done and again.done.get(one.paper.id) != done.digest
        marked_by = (done.script, done.scheme, done.rounding) if done else None
        is_marked = marked_by == (one.digest, one.paper.scheme, school.rounding)
        (before if is_marked and not wanted_again else todo).append(one)
    return todo, before


@contextmanager
def _outcomes(todo: list[Returned], how: How) -> Iterator[Iterator[Outcome]]:
    """What comes of each script, as it is ready; the first are on their way when this is entered."""
    if not todo:
        yield iter(())
        return
    at_once = min(how.workers or os.cpu_count() or 1, len(todo))
    with _cluster(how) if how.dask else here(at_once, how) as place:
        yield _all_marked(todo, place)


def _accept_new_schemes(
    school: School, register: Register, log: Log, returned: list[Returned], why: str
) -> tuple[list[Returned], list[Refusal], int]:
    """Take the mark schemes of today for the papers of these scripts whose exercises changed; refuse those unfit.

    Gives the scripts that may be marked, the refusals, and how many papers have a new scheme. Each goes into the log,
    with old and new version and digest of each exercise that changed, before the register.
    """
    fitting, unfit, accepted = [], [], []
    for one in returned:
        old = one.paper
        try:
            new = caught(partial(old.of_today, school.stop_and_look))
        except GraderError as error:
            unfit.append(one.refused(str(error)))
            continue
        if isinstance(new, Fault):
            unfit.append(_refusal_for(school, Failed(one, new)))
            continue
        fitting.append(replace(one, paper=new))
        if new == old:
            continue
        changed = [
            {
                "exercise": now.exercise,
                "version": [then.marked_by.version, now.marked_by.version],
                "scheme": [then.marked_by.digest, now.marked_by.digest],
            }
            for then, now in zip(old.entries, new.entries, strict=True)
            if then.marked_by != now.marked_by
        ]
        log.write(NEW_SCHEME, paper=old.id, exercises=changed, why=why)
        accepted.append(new)
    if accepted:
        register.accept(accepted, why)
    return fitting, unfit, len(accepted)


def _refusal_for(school: School, failed: Failed) -> Refusal:
    """Keep a fault for whoever mends the programs, and refuse its script."""
    paper = failed.returned.paper
    exercises = ", ".join(f"{entry.exercise} version {entry.marked_by.version}" for entry in paper.entries)
    about = f"paper {paper.id}, script {failed.returned.digest}\n{exercises}"
    kept = failed.fault.kept(school.folder, paper.id, about)
    return replace(failed.returned.refused(failed.fault.reason(kept)), fault=kept)


def _log_refusals(log: Log, register: Register, refusals: Iterable[Refusal]) -> None:
    """Log the files that are refused for a reason for which they were not refused before."""
    known = {(line["file"], line["digest"], line["why"]) for line in log.lines if line["what"] == REFUSED}
    for one in refusals:
        if (one.file, one.digest, one.reason) not in known:
            paper = register.paper_of(one.sitting, one.candidate, one.attempt)
            log.write(REFUSED, paper=paper.id if paper else "", file=one.file, digest=one.digest, why=one.reason)


def _cluster(how: How) -> AbstractContextManager[Place]:
    try:
        from grader.marking.many_machines import cluster  # the one module that needs the optional library
    except ModuleNotFoundError as error:
        raise GraderError(f'--dask needs Dask ({error.name} is missing): pip install "pitside[dask]"') from None
    return cluster(how)


def _all_marked(todo: Iterable[Returned], place: Place) -> Iterator[Outcome]:
    """Outcomes as they are ready; the first scripts are on their way when this returns, and few are held at a time."""
    left = iter(todo)
    waiting = {place.submit(one) for one in islice(left, 2 * place.at_once)}
    return _as_ready(waiting, left, place)


def _as_ready(waiting: set[Future[Outcome]], left: Iterator[Returned], place: Place) -> Iterator[Outcome]:
    while waiting:
        done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
        while done:
            waiting |= {place.submit(one) for one in islice(left, 1)}
            yield done.pop().result()
