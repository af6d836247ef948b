"""Run notebooks in Jupyter kernels, where no fork server can be had: a fresh kernel each, and no walls.

Answers and outputs come as lines of JSON through two files and pass the same checks as those of the fork server; the
kernel protocol, spoken through jupyter_client, only says when a cell begins, must stop, and has ended. What the
system cannot hold is looked at from outside, five times a second, and what goes beyond it is ended.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any, BinaryIO

import psutil
import zmq
from jupyter_client.launcher import launch_kernel
from jupyter_client.session import Session

from grader.running.run_result import Ending, Limits, RunnerError, Said, Walls, remove_tree, signal_name

#: Seconds between looks at what a script uses, and seconds that a kernel may take to start on a busy machine.
LOOK, START = 0.2, 120.0
#: Seconds from the first time that a cell is told to stop until its kernel is ended; it is told twice a second.
STUBBORN_AFTER = 3.0
LONGEST_REPLY = 1 << 16
#: Exit statuses of a kernel that ended itself for a cell that would not stop, and for want of memory.
STUBBORN, NO_MEMORY = 70, 71

_BOOT = """
import importlib.util, json, sys
sys.path.extend(json.loads(sys.argv[3])["libraries"])
spec = importlib.util.spec_from_file_location(
    "untrusted", sys.argv[1] + "/__init__.py", submodule_search_locations=[sys.argv[1]])
package = sys.modules["untrusted"] = importlib.util.module_from_spec(spec)
spec.loader.exec_module(package)
from untrusted.jupyter_kernel import main
main()
"""
_FOREIGN = (psutil.Error, OSError, ValueError)  # another process, which may be gone or not to be asked


class Kernels:
    """A kernel for each script, and one more that is starting while it runs."""

    def __init__(
        self,
        limits: Limits,
        folder: Path,
        definitions: tuple[str, ...],
        code: Path,
        libraries: list[str],
        hidden: tuple[str, ...],
    ) -> None:
        self._limits, self._folder, self._code = limits, folder, code
        self._settings = {"bounds": asdict(limits), "definitions": definitions, "libraries": libraries,
                          "hidden": hidden}  # fmt: skip
        self._font_lists: dict[str, bytes] = {}
        self._context = zmq.Context()
        self._reserve: _Kernel | None = None
        self.walls = no_walls()
        try:
            self._reserve = self._launch()
            self._reserve.wait_until_ready()
            self._font_lists = {path.name: path.read_bytes() for path in self._reserve.library.glob("fontlist-*.json")}
        except BaseException:
            self.end()
            raise

    def alive(self) -> bool:
        """Whether there is a context to start kernels in."""
        return not self._context.closed

    def end(self) -> None:
        """End the kernel in reserve."""
        if self._reserve is not None:
            self._reserve.end()
            self._reserve = None
        self._context.destroy(linger=0)

    def run(self, cells: list[tuple[int, str]], printed: str = "") -> Said:
        """Run the cells in the kernel in reserve, and have the next one started meanwhile.

        ``printed`` is for the fork server: a kernel that has just been started gains nothing by it.
        """
        kernel, self._reserve = self._reserve, None
        try:
            try:
                kernel = kernel or self._launch()
                kernel.wait_until_ready()
            except RunnerError:  # one in reserve may have been ended by who knows whom: once more
                if kernel is not None:
                    kernel.end()
                    kernel = None
                kernel = self._launch()
                kernel.wait_until_ready()
            self._reserve = self._launch()
            return kernel.run(cells)
        finally:
            if kernel is not None:
                kernel.end()

    def _launch(self) -> _Kernel:
        return _Kernel(self._context, self._limits, self._folder, self._code, self._settings, self._font_lists)


def no_walls() -> Walls:
    """What is missing where scripts run in kernels, on whichever system."""
    essential = (
        "no file but Python's own and its temporary folder",
        "no network",
        "no other process in sight or reach",
    )
    missing = [f"{line}: cannot be had where scripts run in Jupyter kernels" for line in essential]
    missing.append(
        "limits that the system holds: memory, processor time, folder and processes are looked at five times a second"
    )
    missing.append("an end of what hides: a process that leaves its session and forgets its environment is not found")
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        missing.append("scripts run as the superuser")
    standing = (
        "limits of time and output (the marker's clock)",
        "a fresh process, folder and environment for each script, ended with all that is found of it",
    )
    return Walls(standing, tuple(missing), essential)


class _Kernel:
    """One kernel process, for one script. ``library`` is the folder in which its libraries may keep things."""

    def __init__(
        self,
        context: zmq.Context,
        limits: Limits,
        folder: Path,
        code: Path,
        settings: dict[str, Any],
        font_lists: dict[str, bytes],
    ) -> None:
        self._limits = limits
        self._socket = context.socket(zmq.DEALER)
        self._socket.linger = 0
        self._socket.setsockopt(zmq.MAXMSGSIZE, LONGEST_REPLY)
        self._connected = False
        self._usual = (0, 0, 0.0)
        self._folder = Path(tempfile.mkdtemp(prefix="script-", dir=folder))
        self._connection_file = self._folder / "connection.json"
        work, self.library = self._folder / "work", self._folder / "library"
        for made in (work, self.library):
            made.mkdir(mode=0o700)
        for name, content in font_lists.items():
            (self.library / name).write_bytes(content)
        self._files: dict[str, BinaryIO] = {}
        for name in ("answers", "reports"):  # opened before any script is there to put something else in the place
            (self._folder / name).touch(mode=0o600)
            self._files[name] = (self._folder / name).open("rb", buffering=0)
        self._key = secrets.token_hex(32)
        told = {**settings, "key": self._key, "home": str(work), **{n: str(self._folder / n) for n in self._files}}
        self._complaints = tempfile.TemporaryFile()  # noqa: SIM115 - closed in end
        self._seen: set[psutil.Process] = set()
        try:
            self.process: subprocess.Popen = launch_kernel(
                [sys.executable, "-P", "-s", "-S", "-B", "-X", "utf8", "-c", _BOOT, str(code),
                 str(self._connection_file), json.dumps(told)],
                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=self._complaints.fileno(),
                env=_environment(self.library), cwd=str(work),
            )  # fmt: skip
        except OSError as error:
            self._let_go()
            raise RunnerError(f"The kernel that runs returned notebooks did not start: {error}.") from None
        self._self = self._family_head()
        self._session = Session(key=self._key.encode())

    def _family_head(self) -> psutil.Process | None:
        with contextlib.suppress(*_FOREIGN):
            return psutil.Process(self.process.pid)
        return None

    def wait_until_ready(self) -> None:
        """Come back when the kernel has told its port and answered. Raises: RunnerError with what it said instead."""
        if self._connected:
            return
        deadline = time.monotonic() + START
        while time.monotonic() < deadline and self.process.poll() is None:
            with contextlib.suppress(OSError, ValueError, KeyError):
                port = json.loads(self._connection_file.read_text(encoding="utf-8"))["shell_port"]
                self._socket.connect(f"tcp://127.0.0.1:{int(port)}")
                self._connected = True
                break
            time.sleep(0.02)
        if self._connected:
            asked = self._send("kernel_info_request", {})
            while time.monotonic() < deadline and self.process.poll() is None:
                if self._replied(asked, 100):
                    self._usual = self._used()
                    return
        self._complaints.seek(0)
        last = self._complaints.read()[-2000:].decode(errors="replace").strip().splitlines()[-1:]
        why = last[0] if last else "it ended at once" if self.process.poll() is not None else "it does not answer"
        raise RunnerError(f"The kernel that runs returned notebooks did not start: {why}.")

    def run(self, cells: list[tuple[int, str]]) -> Said:
        """Run the cells one by one until the last, or until a bound is passed; then end all that is left."""
        said = Said(cells, self._limits)
        deadline = time.monotonic() + self._limits.wall_seconds
        told: tuple[Ending, str] | None = None
        for index, source in cells:
            said.started = index
            told = self._run_cell(said, json.dumps([index, source]), deadline)
            if told or self.process.poll() is not None:
                break
        else:
            said.done, said.started = True, None
        status = self.process.poll()
        self._end_tree()
        self._read(said)
        if said.done:  # what was read last speaks of its last cell
            said.started = None
        self._judge(said, told, status)
        return said

    def _judge(self, said: Said, told: tuple[Ending, str] | None, status: int | None) -> None:
        where = said.where
        if said.flooded:
            said.finish(Ending.FLOODED, f"it wrote more than it may to the marker{where} and was ended")
        elif told:
            said.finish(*told)
        elif said.done:
            said.finish(Ending.FINISHED, "its process says that all cells were run")
        elif status == STUBBORN:
            said.finish(Ending.TIMED_OUT, f"it did not stop{where} when the cell's time was up")
        elif status == NO_MEMORY:
            said.finish(Ending.OUT_OF_MEMORY, f"memory ran out{where}")
        elif status is not None and status < 0:
            said.finish(Ending.KILLED, f"it crashed{where} (signal {signal_name(-status)})")
        else:
            said.finish(Ending.KILLED, f"it ended its own process{where}")

    def _run_cell(self, said: Said, code: str, deadline: float) -> tuple[Ending, str] | None:
        """Have a cell run; None when it has ended, or the kernel has; else the bound that was passed."""
        asked = self._send("execute_request", {
            "code": code, "silent": True, "store_history": False, "user_expressions": {}, "allow_stdin": False,
            "stop_on_error": False,
        })  # fmt: skip
        stop = time.monotonic() + self._limits.cell_seconds
        give_up = stop + STUBBORN_AFTER
        look = time.monotonic() + LOOK
        while True:
            now = time.monotonic()
            until = min(deadline, stop, look)
            replied = self._replied(asked, max(0, int(1000 * (until - now)) + 1))
            ended = self.process.poll() is not None
            self._read(said)
            if replied or ended or said.flooded:
                return (Ending.FLOODED, "") if said.flooded else None
            now = time.monotonic()
            if now >= deadline:
                return Ending.TIMED_OUT, f"its {self._limits.wall_seconds:g} s were up{said.where}"
            if now >= give_up:
                return Ending.TIMED_OUT, f"it did not stop{said.where} when the cell's time was up"
            if now >= stop:
                self._interrupt()
                stop = now + 0.5
            if now >= look:
                passed = self._passed(said.where)
                if passed:
                    return passed
                look = time.monotonic() + LOOK

    def _interrupt(self) -> None:
        if sys.platform == "win32":
            from jupyter_client.win_interrupt import send_interrupt

            send_interrupt(self.process.win32_interrupt_event)  # type: ignore[attr-defined]
        else:
            self.process.send_signal(signal.SIGINT)

    def _read(self, said: Said) -> None:
        for name, lines, take in (
            ("answers", said.answer_lines, said.take_answer),
            ("reports", said.report_lines, said.take_report),
        ):
            while not lines.flooded and (data := self._files[name].read(1 << 16)):
                for line in lines.feed(data):
                    take(line)

    def _send(self, kind: str, content: dict[str, Any]) -> str:
        message = self._session.msg(kind, content)
        self._session.send(self._socket, message)
        return message["header"]["msg_id"]

    def _replied(self, asked: str, milliseconds: int) -> bool:
        """Whether the kernel has answered the request within that time."""
        deadline = time.monotonic() + milliseconds / 1000
        while self._socket.poll(max(0, int(1000 * (deadline - time.monotonic())))):
            try:
                _, frames = self._session.feed_identities(self._socket.recv_multipart())
                if self._session.deserialize(frames)["parent_header"].get("msg_id") == asked:
                    return True
            except Exception:  # the script has the key and can send what it likes: what is no reply is none
                pass
            if time.monotonic() >= deadline:
                break
        return False

    # What is seen of the script's processes from outside

    def _family(self) -> set[psutil.Process]:
        """The kernel and the processes below it, and those below it at an earlier look that still run."""
        if self._self is not None:
            with contextlib.suppress(*_FOREIGN):
                self._seen |= {self._self, *self._self.children(recursive=True)}
        return {process for process in self._seen if _runs(process)}

    def _used(self) -> tuple[int, int, float]:
        """Bytes in memory of the largest of the family; of all, threads and seconds of processor time."""
        memory = threads = 0
        seconds = 0.0
        for process in self._family():
            with contextlib.suppress(*_FOREIGN), process.oneshot():
                memory = max(memory, process.memory_info().rss)
                threads += process.num_threads()
                seconds += sum(process.cpu_times()[:4])
        return memory, threads, seconds

    def _passed(self, where: str) -> tuple[Ending, str] | None:
        limits, (memory, threads, seconds) = self._limits, self._used()
        if threads - self._usual[1] > limits.processes:
            return Ending.KILLED, f"it started more than {limits.processes} processes{where} and was ended"
        if psutil.virtual_memory().available < limits.spare_bytes:
            return Ending.OUT_OF_MEMORY, f"the machine's memory ran short{where}, so it was ended"
        if memory > limits.memory_bytes:
            return Ending.OUT_OF_MEMORY, f"memory ran out{where}"
        if seconds - self._usual[2] > limits.cpu_seconds:
            return Ending.TIMED_OUT, f"its {limits.cpu_seconds} s of processor time were up{where}"
        if not _within(self._folder, limits.folder_bytes + 2 * limits.output_bytes):
            return Ending.FLOODED, f"it filled its folder beyond {limits.folder_bytes >> 20} MB{where} and was ended"
        return None

    def _end_tree(self) -> None:
        """End the kernel, what is below it, and what shows by its session or environment that it came from it."""
        deadline = time.monotonic() + 5
        found = self._family()
        while True:
            if self.process.poll() is None:
                self.process.kill()
            for process in found:
                if process != self._self:
                    with contextlib.suppress(*_FOREIGN):
                        process.kill()
            self.process.wait()
            found = {*self._family(), *self._marked()} - {self._self}
            if not found or time.monotonic() > deadline:
                return
            time.sleep(0.01)

    def _marked(self) -> Iterator[psutil.Process]:
        if self._self is None:
            return
        since, own = self._self.create_time() - 1, os.getpid()
        # Not process_iter, which remembers processes by number and takes a new one for an old one that had its number.
        for pid in psutil.pids():
            with contextlib.suppress(*_FOREIGN):
                process = psutil.Process(pid)
                if pid == own or process.create_time() < since or not _runs(process):
                    continue
                own_session = hasattr(os, "getsid") and os.getsid(process.pid) == self.process.pid
                if own_session or any(str(self._folder) in value for value in process.environ().values()):
                    yield process

    def end(self) -> None:
        """End the kernel with all that came from it, and remove its folder."""
        self._end_tree()
        self._let_go()

    def _let_go(self) -> None:
        self._socket.close()
        for file in (*self._files.values(), self._complaints):
            file.close()
        for _ in range(50):
            with contextlib.suppress(OSError):  # Windows keeps a file of a process for a moment after its end
                remove_tree(self._folder)
                return
            time.sleep(0.05)


def _environment(library: Path) -> dict[str, str]:
    """All that a kernel is told of the environment while it starts; a script finds still less."""
    names = ("HOME", "USERPROFILE", "TMPDIR", "TEMP", "TMP", "MPLCONFIGDIR", "IPYTHONDIR", "JUPYTER_CONFIG_DIR",
             "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR")  # fmt: skip
    threads = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
    kept = {name: os.environ[name] for name in ("SYSTEMROOT",) if name in os.environ}  # Windows has no sockets without
    return {**dict.fromkeys(names, str(library)), **dict.fromkeys(threads, "1"), **kept,
            "LANG": "C.UTF-8", "PYTHONHASHSEED": "0", "JUPYTER_NO_CONFIG": "1"}  # fmt: skip


def _runs(process: psutil.Process) -> bool:
    try:
        return process.is_running() and process.status() != psutil.STATUS_ZOMBIE
    except _FOREIGN:
        return False


def _within(folder: Path, most: int, most_entries: int = 20_000) -> bool:
    """Whether a folder that an unknown hand fills stays within ``most`` bytes and a sane number of entries."""
    total = entries = 0
    waiting = [str(folder)]
    while waiting:
        try:
            with os.scandir(waiting.pop()) as found:
                for entry in found:
                    entries += 1
                    if entry.is_dir(follow_symlinks=False):
                        waiting.append(entry.path)
                    else:
                        status = entry.stat(follow_symlinks=False)
                        total += 512 * getattr(status, "st_blocks", status.st_size // 512)
                    if total > most or entries > most_entries:
                        return False
        except FileNotFoundError:  # removed meanwhile
            continue
        except OSError:  # so deep that its path has no room, or shut: nobody honest does that
            return False
    return True
