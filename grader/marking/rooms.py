"""Where scripts are read, run and marked on this machine: rooms that are lent to one script after another."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from queue import SimpleQueue
from typing import Any, Protocol

from grader.marking.one_script import Outcome, mark_script
from grader.returned.scripts import Returned
from grader.running.reading import read
from grader.running.run_result import USUAL_LIMITS, Limits, Run, WallsMissingError
from grader.running.runner import Runner


class Place(Protocol):
    """Where scripts are run and marked, ``at_once`` of them side by side."""

    at_once: int

    def submit(self, returned: Returned) -> Future[Outcome]: ...


@dataclass(frozen=True)
class How:
    """How scripts are marked.

    Those that hold nothing but answers are read; ``run_all`` is to run them too. Where walls are missing that may not
    be, scripts that must be run wait, unless ``allow_missing_walls`` says otherwise.
    """

    allow_missing_walls: bool = False
    #: Rooms of this machine at once; None is one for each of its processors.
    workers: int | None = None
    limits: Limits = USUAL_LIMITS
    #: Address of a scheduler whose workers run and mark the scripts (:mod:`grader.marking.many_machines`), else this
    #: machine does.
    dask: str = ""
    run_all: bool = False


class Rooms:
    """A number of rooms of this machine, each opened when it is first needed and then lent to one script at a time."""

    def __init__(self, most: int, how: How) -> None:
        self._how = how
        self._missing: WallsMissingError | None = None
        self._opened = ExitStack()
        #: None stands for a room that is not opened yet.
        self._free: SimpleQueue[Runner | None] = SimpleQueue()
        for _ in range(most):
            self._free.put(None)

    def mark(self, returned: Returned, data: Callable[[], bytes]) -> Outcome:
        """Mark a script, in a room where it has to be run, or any has. See :func:`mark_script`."""
        return mark_script(returned, data, self._run, None if self._how.run_all else self._read)

    def _read(self, notebook: dict[str, Any], given: str) -> Run | None:
        return read(notebook, given, self._how.limits)

    def _run(self, notebook: dict[str, Any], given: str) -> Run:
        """Run a notebook as soon as a room is free. Raises: :class:`RunnerError` if none can be opened."""
        with self._lent() as room:
            return room.run(notebook, given)

    @contextmanager
    def _lent(self) -> Iterator[Runner]:
        room = self._free.get()
        try:
            if self._missing:  # it takes a second or more to find out
                raise self._missing
            if room is None:
                runner = Runner(limits=self._how.limits, allow_missing_walls=self._how.allow_missing_walls)
                room = self._opened.enter_context(runner)
            yield room
        except WallsMissingError as error:
            self._missing = error
            raise
        finally:
            self._free.put(room)

    def close(self) -> None:
        self._opened.close()


class _Here:
    """The rooms of this machine, and a thread more than there are rooms, so that none waits while another is marked."""

    def __init__(self, rooms: Rooms, at_once: int) -> None:
        self.at_once = at_once
        self._rooms = rooms
        self.pool = ThreadPoolExecutor(at_once + 1)

    def submit(self, returned: Returned) -> Future[Outcome]:
        return self.pool.submit(self._rooms.mark, returned, returned.data)


@contextmanager
def here(at_once: int, how: How) -> Iterator[Place]:
    """This machine, with :class:`Rooms`; scripts that have not begun when it is left are let be."""
    rooms = Rooms(at_once, how)
    here = _Here(rooms, at_once)
    try:
        yield here
    finally:
        here.pool.shutdown(cancel_futures=True)
        rooms.close()
