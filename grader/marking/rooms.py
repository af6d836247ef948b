"""Where scripts are run and marked on this machine: rooms that are lent to one script after another."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from queue import SimpleQueue
from typing import Any, Protocol

from grader.marking.one_script import Outcome, mark_script
from grader.returned.scripts import Returned
from grader.running.runner import Limits, Run, Runner


class Place(Protocol):
    """Where scripts are run and marked, ``at_once`` of them side by side."""

    at_once: int

    def submit(self, returned: Returned) -> Future[Outcome]: ...


class Rooms:
    """A number of rooms of this machine, each opened when it is first needed and then lent to one script at a time."""

    def __init__(self, most: int, **how: Any) -> None:
        self._how = how
        self._opened = ExitStack()
        #: None stands for a room that is not opened yet.
        self._free: SimpleQueue[Runner | None] = SimpleQueue()
        for _ in range(most):
            self._free.put(None)

    def run(self, notebook: dict[str, Any]) -> Run:
        """Run a notebook as soon as a room is free. Raises: :class:`RunnerError` if none can be opened."""
        with self._lent() as room:
            return room.run(notebook)

    def warm(self) -> None:
        """Open a room ahead of the first script. Raises: :class:`RunnerError`, and the first script will again."""
        with self._lent():
            pass

    @contextmanager
    def _lent(self) -> Iterator[Runner]:
        room = self._free.get()
        try:
            if room is None:
                room = self._opened.enter_context(Runner(**self._how))
            yield room
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
        for _ in range(at_once):
            self.pool.submit(rooms.warm)

    def submit(self, returned: Returned) -> Future[Outcome]:
        return self.pool.submit(mark_script, returned, returned.data, self._rooms.run)


@contextmanager
def here(at_once: int, allow_missing_walls: bool, limits: Limits | None) -> Iterator[Place]:
    """This machine; scripts that have not begun when it is left are let be."""
    rooms = Rooms(at_once, allow_missing_walls=allow_missing_walls, **({"limits": limits} if limits else {}))
    here = _Here(rooms, at_once)
    try:
        yield here
    finally:
        here.pool.shutdown(cancel_futures=True)
        rooms.close()
