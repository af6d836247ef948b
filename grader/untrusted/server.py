"""The fork server: libraries loaded once, then one forked, walled-in process for each script.

The marker talks to it over one packet socket (fd given as first argument). First packet in: the settings as
JSON. First packet out: {"ready": {...}} or {"failed": why}. Then for each script one packet in with four open
files (the cells as JSON, the pipe for answers, the pipe for reports, and one that is closed to end the script),
and one packet out: {"ended": {...}}. The server never reads a notebook, so none lingers in its memory for the
next fork to find. A packet "learn" comes with a cell as the marker printed it, to be read and compiled before forks.
"""

from __future__ import annotations

import contextlib
import functools
import gc
import json
import os
import select
import signal
import socket
import sys
import time
from collections.abc import Callable
from typing import Any, NoReturn

from . import call_filter, kernel, memory_group, room, watch
from .cell import Bounds, Walls, close_in, own_world, rules_of

#: Longest notebook, as JSON, that a script's process reads.
LARGEST = 32 << 20
#: Different refused calls that are told of one script.
MOST_TOLD = 500
#: Scripts that the same Landlock rules serve: each adds one, and all are copied for each.
RULES_SERVE = 100


def main() -> None:
    """Build the room and serve; comes back when the marker is gone. Arguments: control socket, lifeline."""
    control = socket.socket(fileno=int(sys.argv[2]))
    lifeline = int(sys.argv[3])
    settings = json.loads(control.recv(1 << 16))
    places = room.Places(
        tuple(settings["readable"]), tuple(settings["hidden"]), settings["code"], settings["temporary"]
    )
    without = set(settings["without"])
    bounds = Bounds(**settings["bounds"])
    group: memory_group.MemoryGroup | str = "left out on request"
    if "memory group" not in without:
        group = memory_group.made(bounds.memory_bytes + bounds.folder_bytes + memory_group.FOR_THE_SERVER)

    def serve(in_namespaces: bool, table: int, complaints: tuple[str, ...]) -> None:
        os.close(lifeline)
        walls = Walls(
            in_namespaces,
            kernel.landlock_version() > 0 and "landlock" not in without,
            call_filter.possible() and "seccomp" not in without,
            settings["tell_refused"],
        )
        _Server(control, settings, bounds, places, walls, table, complaints, group).serve()

    if isinstance(group, str):
        room.enter(places, lifeline, "namespaces" not in without, serve)
    else:
        room.enter(places, lifeline, "namespaces" not in without, serve, group)
        group.remove()
    # The marker removes it too; here it is for a marker that was killed while the walls were tried.
    with contextlib.suppress(OSError):
        os.unlink(settings["probe"]["file"])


class _Server:
    def __init__(
        self,
        control: socket.socket,
        settings: dict[str, Any],
        bounds: Bounds,
        places: room.Places,
        walls: Walls,
        table: int,
        complaints: tuple[str, ...],
        group: memory_group.MemoryGroup | str,
    ) -> None:
        self.control, self.settings, self.places, self.walls = control, settings, places, walls
        self.table, self.complaints, self.group = table, complaints, group
        self.bounds = bounds
        self.count = 0
        #: The script's process, or 0.
        self.process = 0
        self.rules = -1

    def serve(self) -> None:
        home = room.HOME if self.walls.namespaces else self.places.temporary
        os.environ.clear()
        os.environ.update(
            HOME=home, TMPDIR=home, MPLCONFIGDIR=home, IPYTHONDIR=home + "/ipython", LANG="C.UTF-8",
            PATH="/nowhere", USER="candidate", LOGNAME="candidate", OPENBLAS_NUM_THREADS="1", OMP_NUM_THREADS="1",
            MKL_NUM_THREADS="1", PYTHONNOUSERSITE="1",
        )  # fmt: skip
        os.chdir(home)
        sys.argv[:] = ["notebook"]
        sys.path.extend(self.settings["libraries"])
        # Where it is installed Pint would load it, and it cannot be loaded in here: to a script it is not there.
        sys.modules["dask"] = None  # type: ignore[assignment]
        try:
            from . import script
        except ImportError as error:
            self._send(failed=f"the notebook libraries cannot be loaded in the room: {error}")
            return
        self.script = script
        self.shell = script.ready_shell(tuple(self.settings["definitions"]))
        if self.walls.namespaces:
            self.process_tree = kernel.process_tree(self.table)
        else:
            signal.signal(signal.SIGTERM, self._end_all)
        gc.collect()
        gc.freeze()
        ended = self._run_probe()
        if "setup" in ended:
            self._send(failed=f"a script's walls cannot be put up: {ended['setup']}")
            return
        self._send(
            ready={
                "namespaces": self.walls.namespaces,
                "landlock": kernel.landlock_version() if self.walls.landlock else 0,
                "seccomp": self.walls.seccomp,
                "superuser": not self.walls.namespaces and os.geteuid() == 0,
                "watched": ended["watched"],
                "memory_group": self.group if isinstance(self.group, str) else "",
                "complaints": list(self.complaints),
                "probe": ended.get("probe", {}),
            }
        )
        while True:
            message, files, _, _ = socket.recv_fds(self.control, 100, 4)
            if not message:
                return
            if message == b"learn":
                self._learn(*files)
                continue
            *given, stop = files
            ended = self._fork(functools.partial(self._script, *given), tuple(given), stop)
            for descriptor in files:
                os.close(descriptor)
            self._send(ended=ended)

    def _send(self, **message: Any) -> None:
        self.control.send(json.dumps(message).encode())

    def _learn(self, cell: int) -> None:
        with os.fdopen(cell, "rb") as source, contextlib.suppress(SyntaxError, ValueError):  # then it is run as any is
            self.shell.learn(source.read(LARGEST).decode())
        gc.collect()
        gc.freeze()

    def _script(self, cells: int, answers: int, reports: int) -> None:
        with os.fdopen(cells, "rb") as source:
            notebook = json.loads(source.read(LARGEST))
        self.script.run(self.shell, self.bounds, notebook, answers, reports)

    def _run_probe(self) -> dict[str, Any]:
        """Try, from behind a script's walls, what must not be possible; the findings go to the marker."""
        findings, write = os.pipe()
        stop, hold = os.pipe()
        probe = self.settings["probe"]

        def look() -> None:
            os.write(write, json.dumps(_tried(probe)).encode())

        ended = self._fork(look, (write,), stop)
        os.close(write)
        with os.fdopen(findings, "rb") as report:
            text = report.read(4000)
        os.close(stop)
        os.close(hold)
        if text:
            ended["probe"] = json.loads(text)
        elif "setup" not in ended:
            ended["setup"] = "the process that tries the walls ended without a word"
        return ended

    def _fork(self, work: Callable[[], None], keep: tuple[int, ...], stop: int) -> dict[str, Any]:
        """Run ``work`` in a walled-in process; how it ended."""
        self.count += 1
        folder = room.HOME if self.walls.namespaces else f"{self.places.temporary}/{self.count}"
        full = self._endings_by_a_full_group()
        others = 0 if self.walls.namespaces else watch.tasks_of_this_user(self.table)
        standing, stood = os.pipe()
        heard, hear = os.pipe()
        try:
            self._renew_rules()
            server = os.getpid()
            if self.walls.namespaces:
                kernel.unshare(kernel.NEW_PROCESSES)
            self.process = os.fork()
        except OSError as error:
            for descriptor in (standing, stood, heard, hear):
                os.close(descriptor)
            self._back_to_own_process_tree()
            return {"setup": f"{type(error).__name__}: {error}"[:400]}
        if self.process == 0:
            self._live(work, folder, keep, others, stood, heard, server)
        self._back_to_own_process_tree()
        os.close(stood)
        os.close(heard)
        with os.fdopen(standing, "rb") as said:
            text = said.read()
        if text.startswith(b"+"):
            ended = self._watched_to_its_end(folder, int(text[1:]), hear, stop)
            if not ended["told"] and self._endings_by_a_full_group() > full:
                ended["told"] = "group"
        else:
            os.close(hear)
            os.waitpid(self.process, 0)
            ended = {"setup": text.decode(errors="replace") or "the process ended before its walls stood"}
        self.process = 0
        return ended

    def _renew_rules(self) -> None:
        """Landlock's rules for the next script, which adds its folder to them; so they are made anew now and then."""
        if self.walls.landlock and self.count % RULES_SERVE == 1:
            if self.rules >= 0:
                os.close(self.rules)
            self.rules = rules_of(self.places)

    def _back_to_own_process_tree(self) -> None:
        """After a fork into a new tree. Where this fails the server ends, and with it all that is in here."""
        if self.walls.namespaces:
            kernel.enter_process_tree(self.process_tree)

    def _live(
        self,
        work: Callable[[], None],
        folder: str,
        keep: tuple[int, ...],
        others: int,
        stood: int,
        heard: int,
        server: int,
    ) -> NoReturn:
        """The life of a script's process: it puts up its walls, says so or why not, is told to go on, and works."""
        try:
            signal.signal(signal.SIGTERM, signal.SIG_DFL)
            memory_group.first_to_go(self.table)
            if self.walls.namespaces:
                own_world(self.bounds)
            os.makedirs(folder, mode=0o700, exist_ok=True)
            for name in ("HOME", "TMPDIR", "MPLCONFIGDIR"):
                os.environ[name] = folder
            refusals = close_in(self.walls, self.bounds, folder, (*keep, stood, heard), self.rules, others)
            if not self.walls.namespaces and os.getppid() != server:  # it ended before this process could hear of it
                os._exit(1)
        except BaseException as error:
            os.write(stood, f"{type(error).__name__}: {error}".encode()[:400])
            os._exit(1)
        os.write(stood, b"+%d" % refusals)
        os.close(stood)
        os.read(heard, 1)
        os.close(heard)
        if refusals >= 0:
            os.close(refusals)
        try:
            work()
            os._exit(0)
        except MemoryError:
            os._exit(self.script.NO_MEMORY)
        except BaseException:
            os._exit(1)

    def _watched_to_its_end(self, folder: str, refusals: int, hear: int, stop: int) -> dict[str, Any]:
        """Let the script's process, whose walls stand, go on, and see that it ends; how it did."""
        process = os.pidfd_open(self.process)
        refusals = call_filter.taken_from(process, refusals) if self.walls.tell_refused else -1
        os.close(hear)
        looks = watch.Watch(self.table, process, self.bounds, None if self.walls.namespaces else folder)
        watched = looks.sees
        refused: dict[str, int] = {}
        told = self._watch(looks, process, stop, refusals, refused)
        if told:
            os.kill(self.process, signal.SIGKILL)
        _, status, used = os.wait4(self.process, 0)
        looks.close()
        for descriptor in (process, refusals):
            if descriptor >= 0:
                os.close(descriptor)
        return {
            "status": os.waitstatus_to_exitcode(status),
            "told": told,
            "cpu": used.ru_utime + used.ru_stime,
            "peak": used.ru_maxrss * 1024,
            "watched": watched,
            "refused": refused,
        }

    def _end_all(self, *_: object) -> None:
        """Without namespaces nobody else would end a script that has seen to it that it outlives the server."""
        if self.process:
            os.kill(self.process, signal.SIGKILL)
        os._exit(0)

    def _endings_by_a_full_group(self) -> int:
        return 0 if isinstance(self.group, str) else self.group.ended()

    def _watch(self, looks: watch.Watch, process: int, stop: int, refusals: int, refused: dict[str, int]) -> str:
        """Wait until the script's process ends by itself (""), or for why it has to be ended: "time" or a bound."""
        poll = select.poll()
        poll.register(process, select.POLLIN)
        poll.register(stop, select.POLLIN | select.POLLHUP)
        if refusals >= 0:
            poll.register(refusals, select.POLLIN)
        deadline = time.monotonic() + self.bounds.wall_seconds + 1  # the marker's own clock comes first
        while True:
            left = deadline - time.monotonic()
            ready = dict(poll.poll(1000 * max(0.0, min(left, watch.LOOK))))
            if process in ready:
                return ""
            if stop in ready or time.monotonic() >= deadline:
                return "time"
            if ready.get(refusals, 0) & select.POLLIN:
                call = call_filter.told(refusals, self.walls.namespaces)
                if call in refused or len(refused) < MOST_TOLD:
                    refused[call] = refused.get(call, 0) + 1
                continue
            if refusals in ready:  # the last process behind the filter is on its way out
                poll.unregister(refusals)
            if passed := looks.passed():
                return passed


def _tried(probe: dict[str, Any]) -> dict[str, bool]:
    """Which of the forbidden things could be done: all must be False."""

    def could(attempt: Callable[[], None]) -> bool:
        try:
            attempt()
        except (OSError, ValueError):
            return False
        return True

    def connect() -> None:
        with socket.socket(socket.AF_INET) as plug:
            plug.settimeout(1)
            plug.connect(("127.0.0.1", probe["port"]))

    def write_beside() -> None:
        with open(probe["file"], "a"):
            pass

    def read() -> None:
        with open(probe["file"]):
            pass

    def see_marker() -> None:
        os.listdir(f"/proc/{probe['marker']}")

    def signal_marker() -> None:
        os.kill(probe["marker"], 0)

    return {
        "reads": could(read),
        "writes": could(write_beside),
        "connects": could(connect),
        "sees": could(see_marker),
        "signals": could(signal_marker),
    }
