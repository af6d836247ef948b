"""Run returned notebooks, each hostile until proven otherwise, and bring back answers and outputs.

The marker's side of the wall. :class:`Runner` starts the code of ``grader/untrusted`` in processes of its own,
sends it one notebook at a time, and takes what comes back as claims: every answer and every output is bounded
and checked before it is believed to be so much as text. Nothing of a notebook is ever executed here.

The processes are forked from one warm server behind walls. On a system that has no such calls each notebook gets a
Jupyter kernel of its own instead (:mod:`grader.running.kernel_runner`): the same answers and outputs, slower, and no
walls.
"""

from __future__ import annotations

import contextlib
import importlib.util
import json
import os
import selectors
import signal
import socket
import subprocess
import sys
import sysconfig
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from grader.running.checked_answers import Answer
from grader.running.run_result import (
    USUAL_LIMITS,
    Ending,
    Limits,
    Run,
    RunnerError,
    Said,
    Walls,
    WallsMissingError,
    code_cells,
    remove_tree,
    signal_name,
)

if TYPE_CHECKING:
    from grader.running.kernel_runner import Kernels

__all__ = ["Answer", "Ending", "Limits", "Run", "Runner", "RunnerError", "Walls", "walls_here"]

UNTRUSTED = Path(__file__).resolve().parents[1] / "untrusted"
#: Packages that a script must not find, wherever they are installed: they hold the model answers.
HIDDEN_PACKAGES = ("pitside", "exercises", "grader", "book", "solutions")
LIBRARIES = ("numpy", "pint", "matplotlib", "IPython", "matplotlib_inline", "PIL")

#: Most cells that a server learns; a school has one for each of its papers.
MOST_LEARNED = 200

#: All that the room is told of the environment. With hashing fixed, a set is printed in the same order each time.
_ENVIRONMENT = {"LANG": "C.UTF-8", "PYTHONHASHSEED": "0"}
_BOOT = """
import importlib.util, sys
spec = importlib.util.spec_from_file_location(
    "untrusted", sys.argv[1] + "/__init__.py", submodule_search_locations=[sys.argv[1]])
package = sys.modules["untrusted"] = importlib.util.module_from_spec(spec)
spec.loader.exec_module(package)
from untrusted.server import main
main()
"""


def walls_here() -> Walls:
    """Which walls can be had on this machine. Found by trying to pass them, so it takes a second or two.

    Raises: RunnerError where scripts cannot be run at all.
    """
    with Runner(allow_missing_walls=True) as runner:
        return runner.walls


class Runner:
    """Runs one notebook at a time, each in a fresh walled-in process forked from one warm server.

    Where that cannot be had, each runs in a fresh Jupyter kernel without walls, once it is said that these may be
    missing. A context manager; good for hundreds of notebooks. For parallel work use several, one to a thread.

    Parameters: limits of each script; allow_missing_walls: go on where an essential wall cannot be had;
    unit_definitions: lines in Pint's language added to the registry that scripts find; without: names among
    "namespaces", "landlock", "seccomp", "memory group" to do without, so that tests can show what the others hold;
    "forking" stands for the fork server as a whole, so that they can show what kernels do. tell_refused: count the
    system calls that are refused in ``refused_calls``, by name; for tests, that the list of calls still fits the
    libraries.
    Raises: RunnerError, with one clear line.
    """

    def __init__(
        self,
        limits: Limits = USUAL_LIMITS,
        *,
        allow_missing_walls: bool = False,
        unit_definitions: tuple[str, ...] = (),
        without: frozenset[str] = frozenset(),
        tell_refused: bool = False,
    ) -> None:
        self.limits = limits
        self.refused_calls: Counter[str] = Counter()
        self._definitions, self._without, self._tell_refused = unit_definitions, without, tell_refused
        self._forks = "forking" not in without and _can_fork()
        self._lock = threading.Lock()
        try:
            self._folder = Path(tempfile.mkdtemp(prefix="room-")).resolve()
        except OSError as error:
            raise RunnerError(f"No temporary folder can be made for returned notebooks: {error}.") from None
        self._server: _Server | Kernels | None = None
        try:
            if not self._forks and not allow_missing_walls:
                from grader.running.kernel_runner import no_walls

                raise _missing(no_walls())
            self._server = self._start()
            self.walls = self._server.walls
            if self.walls.essential and not allow_missing_walls:
                raise _missing(self.walls)
        except BaseException:
            self.close()
            raise

    @property
    def standing(self) -> tuple[str, ...]:
        """The walls that stand, one line each."""
        return self.walls.standing

    @property
    def missing(self) -> tuple[str, ...]:
        """The walls that cannot be had here, one line each."""
        return self.walls.missing

    def __enter__(self) -> Runner:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """End the server and everything in it, and remove its folder."""
        if self._server is not None:
            self._server.end()
            self._server = None
        remove_tree(self._folder)

    def run(self, notebook: dict[str, Any], printed: str = "") -> Run:
        """Run the code cells of ``notebook`` (nbformat 4, parsed from JSON) in a process of their own.

        ``printed`` is the source of a cell that we print at the head of notebooks: it is compiled once for all of them.

        Raises: RunnerError when the server cannot be started; never for what the notebook does.
        """
        began = time.monotonic()
        cells, problem = code_cells(notebook)
        if problem:
            return Run({}, (), Ending.NOT_RUN, problem, notebook, (), 0.0)
        with self._lock:
            if self._server is None or not self._server.alive():
                if self._server is not None:
                    self._server.end()
                self._server = None
                self._server = self._start()
            try:
                said = self._server.run(cells, printed if cells and cells[0][1] == printed else "")
            except RunnerError:
                raise
            except BaseException:  # such as Ctrl-C: what the server says next would be about this script
                self._server.end()
                raise
        return said.told(notebook, time.monotonic() - began)

    def _start(self) -> _Server | Kernels:
        self._folder.mkdir(mode=0o700, exist_ok=True)
        if self._forks:
            tell = self.refused_calls if self._tell_refused else None
            return _Server(self.limits, self._folder, self._definitions, self._without, tell)
        from grader.running.kernel_runner import Kernels  # with its libraries, which marking on Linux has no use for

        return Kernels(self.limits, self._folder, self._definitions, UNTRUSTED, _libraries(), HIDDEN_PACKAGES)


def _missing(walls: Walls) -> WallsMissingError:
    return WallsMissingError(
        f"This machine cannot wall returned notebooks in: {'; '.join(walls.essential)}. "
        "Mark on a Linux machine that can, or say that you accept it (--allow-missing-walls)."
    )


def _can_fork() -> bool:
    """Whether this system has the calls that the fork server is made of; its walls are another question."""
    if sys.platform != "linux":
        return False
    try:
        import resource  # noqa: F401 - the fork server needs it

        os.close(os.memfd_create("tried"))
        os.close(os.pidfd_open(os.getpid()))
        return callable(os.fork) and callable(socket.send_fds)
    except (ImportError, AttributeError, OSError):
        return False


def in_memory(data: bytes) -> int:
    """A file that holds these bytes and has no name. Raises: :class:`RunnerError` where there is no room for it."""
    descriptor = os.memfd_create("cells")
    try:
        with os.fdopen(os.dup(descriptor), "wb") as file:
            file.write(data)
        os.lseek(descriptor, 0, os.SEEK_SET)
    except OSError as error:
        os.close(descriptor)
        raise RunnerError(f"A returned notebook cannot be handed to the room: {error.strerror}.") from None
    return descriptor


class _Server:
    """The processes of the room, seen from outside."""

    def __init__(
        self,
        limits: Limits,
        folder: Path,
        definitions: tuple[str, ...],
        without: frozenset[str],
        refused_calls: Counter[str] | None,
    ) -> None:
        self._limits, self._folder, self.refused_calls = limits, folder, refused_calls
        self._learned: set[str] = set()
        settings = {"bounds": asdict(limits), "temporary": str(folder), "definitions": definitions,
                    "without": sorted(without), "tell_refused": refused_calls is not None, **_places()}  # fmt: skip
        self.control, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        lifeline, self._lifeline = os.pipe()
        with tempfile.TemporaryFile() as complaints, theirs:
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-s", "-S", "-B", "-X", "utf8", "-c", _BOOT, str(UNTRUSTED),
                 str(theirs.fileno()), str(lifeline)],
                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=complaints,
                pass_fds=(theirs.fileno(), lifeline), env=_ENVIRONMENT, cwd="/", start_new_session=True,
            )  # fmt: skip
            theirs.close()
            os.close(lifeline)
            try:
                with _canary() as (canary, port):
                    settings["probe"] = {"file": canary, "port": port, "marker": os.getpid()}
                    self.control.send(json.dumps(settings).encode())
                    self.control.settimeout(60)
                    message = json.loads(self.control.recv(1 << 16) or b"{}")
            except (OSError, ValueError) as error:
                message = {"failed": str(error)}
            if "ready" not in message:
                self.end()
                complaints.seek(0)
                last = complaints.read()[-2000:].decode(errors="replace").strip().splitlines()[-1:]
                why = message.get("failed") or (last[0] if last else "it ended at once")
                raise RunnerError(f"The process that runs returned notebooks did not start: {why}.")
        self.walls = _judged(message["ready"])

    def alive(self) -> bool:
        return self._process.poll() is None and self._lifeline >= 0

    def run(self, cells: list[tuple[int, str]], printed: str) -> Said:
        """Run a script's cells; ``printed`` is the first of them where it stands as we printed it."""
        try:
            if printed and printed not in self._learned and len(self._learned) < MOST_LEARNED:
                self._learned.add(printed)
                self._learn(printed)
            return _Script(self, cells, self._limits).run()
        finally:
            for entry in self._folder.glob("*"):
                remove_tree(entry)

    def _learn(self, printed: str) -> None:
        cell = in_memory(printed.encode())
        try:
            with contextlib.suppress(OSError):  # it has ended, which shows when the script is sent
                socket.send_fds(self.control, [b"learn"], [cell])
        finally:
            os.close(cell)

    def end(self) -> None:
        """End every process of the room; comes back when they are gone."""
        self.control.close()
        if self._lifeline >= 0:
            os.close(self._lifeline)
            self._lifeline = -1
        try:
            self._process.wait(3)
        except subprocess.TimeoutExpired:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self._process.pid, signal.SIGKILL)
            self._process.wait()


@contextlib.contextmanager
def _canary() -> Iterator[tuple[str, int]]:
    """A readable file and a listening port on this machine that no script may reach."""
    handle, name = tempfile.mkstemp(prefix="canary-")
    os.close(handle)
    try:
        with socket.create_server(("127.0.0.1", 0)) as listener:
            os.chmod(name, 0o666)  # noqa: PTH101 - any user may, so that only a wall can hold it
            yield os.path.realpath(name), listener.getsockname()[1]
    finally:
        Path(name).unlink(missing_ok=True)  # a room that ended has removed it


def _places() -> dict[str, Any]:
    """What the room shows: Python, its libraries, the system's libraries and fonts; and what it hides in them."""
    libraries = _libraries()
    python = [sysconfig.get_path("stdlib"), str(Path(sys.base_prefix) / "lib")]
    system = ["/usr/lib", "/usr/lib32", "/usr/lib64", "/lib", "/lib32", "/lib64", "/usr/share/fonts",
              "/usr/share/zoneinfo", "/etc/fonts", "/etc/ld.so.cache", "/etc/localtime"]  # fmt: skip
    readable = [str(Path(path).resolve()) for path in [*system, *python, *libraries]]
    hidden = [
        str(folder)
        for place in readable
        for pattern in ("site-packages", "dist-packages", "python3*/site-packages", "python3*/dist-packages")
        for folder in Path(place).glob(pattern)
        if str(folder) not in libraries
    ]
    installed = {*libraries, str(UNTRUSTED.parent.parent)}
    hidden += [str(Path(folder) / name) for folder in installed for name in HIDDEN_PACKAGES]
    return {
        "readable": list(dict.fromkeys(path for path in readable if Path(path).exists())),
        "hidden": list(dict.fromkeys(path for path in hidden if _below(path, readable) and Path(path).is_dir())),
        "libraries": libraries,
        "code": str(UNTRUSTED),
    }


def _libraries() -> list[str]:
    """The folders of installed packages that a notebook is run with."""
    origins = []
    for name in LIBRARIES:
        found = importlib.util.find_spec(name)
        if found is None or found.origin is None:
            raise RunnerError(f"The Python package {name} is missing: install the project's requirements again.")
        origins.append(Path(found.origin).parent.parent)
    on_path = [Path(place) for place in sys.path if Path(place).name in ("site-packages", "dist-packages")]
    return list(dict.fromkeys(str(folder.resolve()) for folder in [*origins, *on_path] if folder.is_dir()))


def _below(path: str, places: list[str]) -> bool:
    return any(Path(path).is_relative_to(place) for place in places)


def _judged(ready: dict[str, Any]) -> Walls:
    probe = ready["probe"]
    standing, missing, essential = [], [], []
    own_world = "namespaces" if ready["namespaces"] else ""
    landlock = f"Landlock {ready['landlock']}" if ready["landlock"] else ""
    seccomp = "seccomp" if ready["seccomp"] else ""

    def wall(holds: bool, line: str, by: tuple[str, ...]) -> None:
        if holds:
            standing.append(f"{line} ({', '.join(name for name in by if name)})")
        else:
            missing.append(f"{line}: cannot be had here")
            essential.append(line)

    closed = not probe["reads"] and not probe["writes"]
    wall(closed, "no file but Python's own and its temporary folder", (own_world, landlock))
    wall(not probe["connects"] and bool(own_world or seccomp), "no network", (own_world, seccomp))
    apart = not probe["sees"] and not probe["signals"] and bool(own_world or seccomp)
    wall(apart, "no other process in sight or reach", (own_world, seccomp, landlock))
    if seccomp:
        standing.append("no system calls but those that honest scripts were seen to make (seccomp)")
    standing.append("limits of time, memory, file size, processes, output (rlimits, the marker's clock)")
    if ready["watched"]:
        standing.append("an end when the machine runs short of memory (twenty looks a second)")
    else:
        missing.append("an end when the machine runs short of memory: /proc cannot be seen here")
    if ready["memory_group"]:
        missing.append(
            f"a bound on the memory of all its processes and of the kernel's for it: {ready['memory_group']}"
        )
    else:
        standing.append("a bound on the memory of all its processes and of the kernel's for it (control group)")
    if not own_world:
        missing.append(f"namespaces of its own, an inner wall: {'; '.join(ready['complaints'])}")
        missing.append("a script can ask whether a path exists, how large and how old it is; not what is in it")
        if seccomp:
            missing.append("a script that removes or changes a file of its own gets an error, so that none is unseen")
        else:
            missing.append("a bound on files that are removed but held open: they can fill the disk")
    if not landlock:
        missing.append("Landlock, an inner wall: this kernel does not offer it")
    if not seccomp:
        missing.append("seccomp, an inner wall: not on this kernel or processor")
    if ready["superuser"]:
        missing.append("scripts run as the superuser: an ordinary user cannot reach this Python")
    return Walls(tuple(standing), tuple(missing), tuple(essential))


class _Script:
    """One notebook on its way through the server."""

    def __init__(self, server: _Server, cells: list[tuple[int, str]], limits: Limits) -> None:
        self._server, self._cells, self._limits = server, cells, limits
        self._said = Said(cells, limits)

    def run(self) -> Said:
        said = self._said
        answers, answers_in = os.pipe()
        reports, reports_in = os.pipe()
        stop, hold = os.pipe()
        cells = -1
        ended: dict[str, Any] | None = None
        try:
            cells = in_memory(json.dumps(self._cells).encode())
            try:
                socket.send_fds(self._server.control, [b"run"], [cells, answers_in, reports_in, stop])
            except OSError:
                said.ending, said.reason = Ending.KILLED, "the process that runs notebooks had ended"
                self._server.end()
                return said
            for descriptor in (answers_in, reports_in, stop, cells):
                os.close(descriptor)
            answers_in = reports_in = stop = cells = -1
            why, ended, hold = self._listen(answers, reports, hold)
        finally:
            for descriptor in (answers, answers_in, reports, reports_in, stop, hold, cells):
                if descriptor >= 0:
                    os.close(descriptor)
        if ended and self._server.refused_calls is not None:
            self._server.refused_calls.update(ended.get("refused", {}))
        self._judge(why, ended)
        return said

    def _listen(self, answers: int, reports: int, hold: int) -> tuple[Ending | None, dict[str, Any] | None, int]:
        """Read both pipes until the whole tree of processes has let them go.

        Gives the bound that was passed, what the server said of the end, and the still open end of ``stop``.
        """
        deadline = time.monotonic() + self._limits.wall_seconds
        why: Ending | None = None
        ended: dict[str, Any] | None = None
        control = self._server.control
        with selectors.DefaultSelector() as selector:
            selector.register(answers, selectors.EVENT_READ, self._said.answer_lines)
            selector.register(reports, selectors.EVENT_READ, self._said.report_lines)
            selector.register(control, selectors.EVENT_READ, None)
            while selector.get_map():
                now = time.monotonic()
                if now >= deadline:
                    if hold < 0 or ended is not None:  # told to end before, and still there
                        self._server.end()
                        return why if ended else why or Ending.TIMED_OUT, ended, hold
                    why = why or Ending.TIMED_OUT
                    os.close(hold)
                    hold = -1
                    deadline = now + 2
                for key, _ in selector.select(max(0.0, deadline - now)):
                    if key.data is None:
                        ended = _read_packet(control)
                        selector.unregister(control)
                        deadline = min(deadline, time.monotonic() + 2)
                        continue
                    data = os.read(key.fd, 1 << 16)
                    if not data:
                        selector.unregister(key.fd)
                        continue
                    for line in key.data.feed(data):
                        if key.data is self._said.answer_lines:
                            self._said.take_answer(line)
                        else:
                            self._said.take_report(line)
                    if key.data.flooded and hold >= 0:
                        why = Ending.FLOODED
                        os.close(hold)
                        hold = -1
                        deadline = time.monotonic() + 2
        if ended is None:
            self._server.end()
        return why, ended, hold

    def _judge(self, why: Ending | None, ended: dict[str, Any] | None) -> None:
        said, limits = self._said, self._limits
        if ended is not None and "setup" in ended:
            raise RunnerError(f"A returned notebook could not be walled in, so it was not run: {ended['setup']}.")
        where, status = said.where, ended["status"] if ended else None
        if why is Ending.FLOODED:
            said.finish(why, f"it wrote more than it may to the marker{where} and was ended")
        elif ended and ended["told"] == "folder":
            said.finish(
                Ending.FLOODED, f"it filled its folder beyond {limits.folder_bytes >> 20} MB{where} and was ended"
            )
        elif ended and ended["told"] == "threads":
            said.finish(Ending.KILLED, f"it started more than {limits.processes} threads{where} and was ended")
        elif ended and ended["told"] == "memory":
            said.finish(Ending.OUT_OF_MEMORY, f"the machine's memory ran short{where}, so it was ended")
        elif ended and ended["told"] == "group":
            said.finish(
                Ending.OUT_OF_MEMORY, f"it took more memory in all than a script may{where}: a process of it was ended"
            )
        elif why is Ending.TIMED_OUT or (ended and ended["told"]):
            said.finish(Ending.TIMED_OUT, f"its {limits.wall_seconds:g} s were up{where}")
        elif said.done and status == 0:
            said.finish(Ending.FINISHED, "its process says that all cells were run")
        elif status == 70:
            said.finish(Ending.TIMED_OUT, f"it did not stop{where} when the cell's time was up")
        elif status == 71:
            said.finish(Ending.OUT_OF_MEMORY, f"memory ran out{where}")
        elif ended and ended["cpu"] >= limits.cpu_seconds - 0.5 and status == -signal.SIGKILL:
            said.finish(Ending.TIMED_OUT, f"its {limits.cpu_seconds} s of processor time were up{where}")
        elif status is None:
            said.finish(Ending.KILLED, f"the process that runs notebooks ended with it{where}")
        elif status < 0:
            said.finish(Ending.KILLED, f"it crashed{where} (signal {signal_name(-status)})")
        else:
            said.finish(Ending.KILLED, f"it ended its own process{where}")


def _read_packet(control: socket.socket) -> dict[str, Any] | None:
    """What the server said of a script's end; None when it said nothing that it should have."""
    try:
        message = json.loads(control.recv(1 << 16) or b"{}")
        ended = message["ended"]
        if "setup" in ended:
            return {"setup": str(ended["setup"])[:400]}
        return {
            "status": int(ended["status"]),
            "told": str(ended["told"]),
            "cpu": float(ended["cpu"]),
            "refused": dict(ended["refused"]),
        }
    except (OSError, ValueError, KeyError, TypeError):
        return None
