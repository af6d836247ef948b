"""Run and mark scripts on the workers of a Dask cluster; records, gradebook and log stay where the command is given.

A script's bytes, its paper's numbers and mark scheme travel to the workers, and marks come back as Dask packs them,
which whoever can reach the scheduler could replace by programs of his own, for every machine of the cluster and this
one too. So the cluster must be trusted and encrypted (Dask's TLS, ``tls://`` addresses), and never be reached across
a public network. The school's key, roster and register stay here.

Each worker runs scripts in rooms of its own machine and tries their walls itself. A worker that is lost costs nothing
but time: Dask gives its scripts to others. This module needs the optional library; nothing else may import it early.
"""

from __future__ import annotations

import logging
import struct
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Future
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from uuid import uuid4

import dask
from distributed import Client, KilledWorker, Reschedule, Worker, WorkerPlugin, get_worker

from grader.marking.one_script import Failed, Outcome, Waits
from grader.marking.rooms import How, Place, Rooms
from grader.returned.scripts import Returned
from grader.running.faults import Fault, caught
from grader.running.run_result import RunnerError
from grader.store import schemes
from grader.store.errors import GraderError

#: How long the scheduler has to answer.
PATIENCE_SECONDS = 10
#: Why a script is refused with which several workers were lost; it need not be the cause.
_LOST = "one worker after the other was lost while it was marked: see to them, then mark again"
#: What marks and outputs hang on besides our own programs and Python.
_LIBRARIES = ("numpy", "pint", "matplotlib", "ipython", "nbformat")


def fingerprint() -> str:
    """A digest of the programs of this installation, alike on machines that give the same marks and outputs."""
    return schemes.fingerprint(("pitside", "exercises", "grader"), _LIBRARIES)


class RoomsThere(WorkerPlugin):
    """The rooms of one worker, one for each of its threads."""

    def __init__(self, name: str, wanted: str, how: How) -> None:
        self.name, self._wanted, self._how = name, wanted, how

    def setup(self, worker: Worker) -> None:
        self._address = worker.address
        self._alike = fingerprint() == self._wanted
        self._closing = False
        self._rooms = Rooms(worker.state.nthreads, self._how)

    def teardown(self, worker: Worker) -> None:
        self._closing = True
        self._rooms.close()

    def mark(self, returned: Returned, data: bytes) -> Outcome:
        """Mark a script here.

        Raises: :class:`GraderError` where another version is installed, :class:`RunnerError` where no room can be
        had, ``Reschedule`` where the worker is ended meanwhile, which the script must not be blamed for.
        """
        if not self._alike:
            raise GraderError(
                f"{self._address}: this worker has another Pitside, Python or library than the machine that marks; "
                "install the same on all"
            )
        try:
            outcome = self._rooms.mark(returned, lambda: data)
        except RunnerError as error:
            if self._closing:
                raise Reschedule from None
            raise RunnerError(f"{self._address}: {error}") from None
        if self._closing:
            raise Reschedule
        return replace(outcome, why=f"{self._address}: {outcome.why}") if isinstance(outcome, Waits) else outcome


def _mark_there(name: str, returned: Returned, data: bytes) -> Outcome:
    """What a worker is asked to do."""
    rooms = get_worker().plugins[name]
    assert isinstance(rooms, RoomsThere)
    return rooms.mark(returned, data)


class _Cluster:
    """The workers that were there when it was made, and any that come later."""

    def __init__(self, client: Client, address: str, name: str, at_once: int) -> None:
        self.at_once = at_once
        self._address, self._name = address, name
        # Not pure: a script that is marked again is run again.
        self.executor = client.get_executor(pure=False)

    def submit(self, returned: Returned) -> Future[Outcome]:
        outcome: Future[Outcome] = Future()
        try:
            data = caught(returned.data)
        except GraderError as error:
            outcome.set_result(returned.refused(str(error)))
            return outcome
        if isinstance(data, Fault):
            outcome.set_result(Failed(returned, data))
            return outcome

        def pass_on(there: Future[Outcome]) -> None:
            error = CancelledError() if there.cancelled() else there.exception()
            match error:
                case None:
                    outcome.set_result(there.result())
                case KilledWorker():
                    outcome.set_result(returned.refused(_LOST))
                case _:
                    told = _told(self._address, error)
                    if isinstance(told, (GraderError, RunnerError)):
                        outcome.set_exception(told)
                    else:
                        outcome.set_result(Failed(returned, Fault.of(told)))

        # The workers read nothing of this machine, and need not know where on it the script lies.
        there = self.executor.submit(_mark_there, self._name, replace(returned, path=Path()), data)
        there.add_done_callback(pass_on)
        return outcome


@contextmanager
def cluster(how: How) -> Iterator[Place]:
    """The workers of the scheduler at ``how.dask``, such as ``tls://10.0.0.5:8786``, with :class:`Rooms`.

    Raises: :class:`GraderError` if no scheduler answers, it has no workers, or it or too many of them are lost.
    """
    address, name = how.dask, f"pitside-{uuid4().hex}"
    with _quiet(), _connected(address) as client:
        threads = sum(client.nthreads().values())
        if not threads:
            raise GraderError(f"{address}: no workers; start one on each machine with: dask worker {address}")
        try:
            client.register_plugin(RoomsThere(name, fingerprint(), how))
        except (ImportError, OSError, TimeoutError) as error:
            raise _told(address, error) from None
        place = _Cluster(client, address, name, threads)
        try:
            yield place
        finally:
            # Whatever the state of the cluster, the marks that are in stand.
            with suppress(Exception):
                place.executor.shutdown(wait=False)
                client.unregister_worker_plugin(name)


def _told(address: str, error: BaseException) -> BaseException:
    """What goes wrong with a cluster, in one line for a person; a fault of our own is given back as it is."""
    match error:
        case CancelledError() | OSError() | TimeoutError():
            return GraderError(f"{address}: the scheduler was lost; start it again, then mark again to go on")
        case ImportError():
            return GraderError(f"{address}: a machine of the cluster has no Pitside ({error}); install the same on all")
    return error


@contextmanager
def _connected(address: str) -> Iterator[Client]:
    try:
        client = _within_patience(lambda: Client(address, timeout=PATIENCE_SECONDS, set_as_default=False))
    # What answers at the address need be no scheduler, and then may say anything.
    except (OSError, TimeoutError, ValueError, TypeError, LookupError, EOFError, MemoryError, struct.error) as error:
        why = str(error).splitlines()[0][:200] if str(error) else type(error).__name__
        raise GraderError(f"{address}: no Dask scheduler can be reached there ({why}); see that it runs") from None
    try:
        yield client
    finally:
        client.close(timeout=PATIENCE_SECONDS)


def _within_patience(connect: Callable[[], Client]) -> Client:
    """What ``connect`` gives. Raises: :class:`TimeoutError` where it takes twice the time that it was told to take.

    The library waits without end where the other side takes the connection and says nothing.
    """
    made: Future[Client] = Future()

    def work() -> None:
        try:
            made.set_result(connect())
        except BaseException as error:
            made.set_exception(error)

    threading.Thread(target=work, daemon=True).start()
    return made.result(2 * PATIENCE_SECONDS)


@contextmanager
def _quiet() -> Iterator[None]:
    """Without the library's own lines about lost connections: what there is to say is said in one line."""
    logger = logging.getLogger("distributed")
    before = logger.level
    logger.setLevel(logging.CRITICAL + 1)
    try:
        # A script may be large, and is meant to travel.
        with dask.config.set({"distributed.admin.large-graph-warning-threshold": "1 GB"}):
            yield
    finally:
        logger.setLevel(before)
