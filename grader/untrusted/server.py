"""The fork server: libraries loaded once, then one forked, walled-in process for each script.

The marker talks to it over one packet socket (fd given as first argument). First packet in: the settings as
JSON. First packet out: {"ready": {...}} or {"failed": why}. Then for each script one packet in with four open
files (the cells as JSON, the pipe for answers, the pipe for reports, and one that is closed to end the script),
and one packet out: {"ended": {...}}. The server never reads a notebook, so none lingers in its memory for the
next fork to find.
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
from typing import Any

from . import call_filter, kernel, memory_group, room, watch
from .cell import Bounds, Walls, close_in, own_world

#: Longest notebook, as JSON, that a script's process reads.
LARGEST = 32 << 20
#: Different refused calls that are told of one script.
MOST_TOLD = 500


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
            *given, stop = files
            ended = self._fork(functools.partial(self._script, *given), tuple(given), stop)
            for descriptor in files:
                os.close(descriptor)
            self._send(ended=ended)

    def _send(self, **message: Any) -> None:
        self.control.send(json.dumps(message).encode())

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
        """Run ``work`` in a walled-in process of a keeper of its own; how it ended."""
        self.count += 1
        findings, write = os.pipe()
        keeper = os.fork()
        if keeper == 0:
            try:
                os.close(findings)
                self.control.close()
                ended = self._keep(work, keep, stop)
                os.write(write, json.dumps(ended).encode())
            except BaseException as error:
                os.write(write, json.dumps({"setup": f"{type(error).__name__}: {error}"[:400]}).encode())
            finally:
                os._exit(0)
        os.close(write)
        with os.fdopen(findings, "rb") as report:
            text = report.read()
        os.waitpid(keeper, 0)
        if not text:  # nothing sure can be said of the script any more: end with all that is in here
            os._exit(1)
        return json.loads(text)

    def _keep(self, work: Callable[[], None], keep: tuple[int, ...], stop: int) -> dict[str, Any]:
        if self.walls.namespaces:
            kernel.die_with_parent()
        # Else the keeper has to outlive the server for the moment that it takes to end the script: the marker's end
        # of ``stop`` tells it, and its own clock does at the latest.
        own_world(self.walls, self.bounds)
        folder = room.HOME if self.walls.namespaces else f"{self.places.temporary}/{self.count}"
        os.makedirs(folder, mode=0o700, exist_ok=True)
        full = self._endings_by_a_full_group()
        others = 0 if self.walls.namespaces else watch.tasks_of_this_user(self.table)
        standing, stood = os.pipe()
        heard, hear = os.pipe()
        pid = os.fork()
        if pid == 0:
            try:
                memory_group.first_to_go(self.table)
                for name in ("HOME", "TMPDIR", "MPLCONFIGDIR"):
                    os.environ[name] = folder
                refusals = close_in(self.places, self.walls, self.bounds, folder, (*keep, stood, heard), others)
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
        for descriptor in (stood, heard, *keep):
            os.close(descriptor)
        with os.fdopen(standing, "rb") as said:
            text = said.read()
        if not text.startswith(b"+"):
            os.waitpid(pid, 0)
            return {"setup": text.decode(errors="replace") or "the process ended before its walls stood"}
        process = os.pidfd_open(pid)
        refusals = call_filter.taken_from(process, int(text)) if self.walls.tell_refused else -1
        os.close(hear)
        looks = watch.Watch(self.table, process, self.bounds, None if self.walls.namespaces else folder)
        watched = looks.sees
        refused: dict[str, int] = {}
        told = self._watch(looks, process, stop, refusals, refused)
        if told:
            os.kill(pid, signal.SIGKILL)
        _, status, used = os.wait4(pid, 0)
        if not told and self._endings_by_a_full_group() > full:
            told = "group"
        return {
            "status": os.waitstatus_to_exitcode(status),
            "told": told,
            "cpu": used.ru_utime + used.ru_stime,
            "peak": used.ru_maxrss * 1024,
            "watched": watched,
            "refused": refused,
        }

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
