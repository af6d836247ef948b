"""What the desk is at work on: one thing at a time, which goes on when its page is closed."""

from __future__ import annotations

import enum
import itertools
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from grader.running.faults import Fault
from grader.running.run_result import RunnerError
from grader.store.errors import GraderError

#: Jobs that are remembered, so that a page that was closed finds its own again.
MOST_KEPT = 50
Progress = Callable[[int, int], None]


class State(enum.StrEnum):
    """How a job stands; only the first is at work."""

    AT_WORK = "at work"
    DONE = "done"
    TO_MEND = "to mend"
    STOPPED = "stopped"
    FAULT = "fault"


class StoppedError(Exception):
    """Somebody stopped the job."""


class BusyError(Exception):
    """The desk is at work on something else."""


@dataclass(frozen=True)
class Said:
    """What came of a job: lines to read, files of the school to open (label, path), and what to mend, if anything."""

    lines: tuple[str, ...] = ()
    files: tuple[tuple[str, str], ...] = ()
    #: Lines that somebody has to look at.
    look: tuple[str, ...] = ()
    #: Whether what was looked at is wrong, though the looking went well.
    wrong: bool = False

    @classmethod
    def of(
        cls, *lines: str, files: Iterable[tuple[str, str]] = (), look: Iterable[str] = (), wrong: bool = False
    ) -> Said:
        return cls(tuple(line for line in lines if line), tuple(files), tuple(look), wrong)


@dataclass
class Job:
    """A piece of work; the thread that does it writes here, pages read."""

    number: int
    title: str
    #: The room of the desk whose button began it.
    room: str
    #: How the address ends of the page that shows what came of it.
    then: str
    state: State = State.AT_WORK
    done: int = 0
    total: int = 0
    said: Said = field(default_factory=Said)
    ended: threading.Event = field(default_factory=threading.Event)
    stopping: threading.Event = field(default_factory=threading.Event)

    def progress(self, done: int, total: int) -> None:
        """Told by the work how far it is. Raises: :class:`StoppedError` once somebody has stopped it."""
        self.done, self.total = done, total
        if self.stopping.is_set():
            raise StoppedError


class Jobs:
    """The work of one desk. ``on_fault`` keeps a fault of ours and says where."""

    def __init__(self, on_fault: Callable[[Fault], str]) -> None:
        self._on_fault = on_fault
        self._numbers = itertools.count(1)
        self._lock = threading.Lock()
        self._jobs: dict[int, Job] = {}

    @property
    def now(self) -> Job | None:
        """What is at work."""
        return next((job for job in reversed(list(self._jobs.values())) if job.state is State.AT_WORK), None)

    @property
    def latest(self) -> Job | None:
        return next(reversed(list(self._jobs.values())), None)

    def get(self, number: int) -> Job | None:
        return self._jobs.get(number)

    def start(self, title: str, room: str, work: Callable[[Progress], Said], then: str = "") -> Job:
        """Begin a piece of work. Raises: :class:`BusyError` while another is not done."""
        with self._lock:
            if busy := self.now:
                raise BusyError(f"{busy.title} is not done yet; wait for it, or stop it")
            job = Job(next(self._numbers), title, room, then or room)
            self._jobs[job.number] = job
            for old in list(self._jobs)[:-MOST_KEPT]:
                del self._jobs[old]
        # A daemon: whoever closes the desk is not held up by a script that does not end. Nothing is lost by it.
        threading.Thread(target=self._do, args=(job, work), daemon=True, name=f"job {job.number}").start()
        return job

    def _do(self, job: Job, work: Callable[[Progress], Said]) -> None:
        state, said = State.FAULT, Said()
        try:
            state, said = State.DONE, work(job.progress)
        except StoppedError:
            state, said = State.STOPPED, Said.of("Stopped. Nothing is lost; begin again and it goes on where it was.")
        except (GraderError, RunnerError) as error:
            state, said = State.TO_MEND, Said.of(*str(error).splitlines())
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            state, said = State.TO_MEND, Said.of(f"{where}{error.strerror or error}")
        except Exception as error:
            said = Said.of(
                f"A fault in Pitside itself ({type(error).__name__}); what was recorded is safe. "
                f"{self._on_fault(Fault.of(error))}"
            )
        finally:
            job.said, job.state = said, state
            job.ended.set()
