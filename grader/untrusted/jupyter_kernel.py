"""A Jupyter kernel that runs one notebook's cells as the fork server does, for systems where that cannot be had.

The kernel protocol carries the cells in, and out that a cell has ended; it also tells a cell to stop. Answers and
outputs go where those of a forked script go, as lines of JSON into two files that the marker has open. No walls.
"""

from __future__ import annotations

import asyncio
import contextlib
import importlib.abc
import json
import os
import signal
import sys
from collections.abc import Iterator
from typing import Any

from . import script

try:
    import resource
except ImportError:  # Windows
    resource = None  # type: ignore[assignment]

from ipykernel.kernelapp import IPKernelApp
from ipykernel.kernelbase import Kernel
from traitlets.config import Config

#: Address space that Python and its libraries take in a forked script; threads of a kernel reserve more of it.
USUAL_ADDRESS_SPACE = 300 << 20


class NotHere(importlib.abc.MetaPathFinder):
    """Packages that a notebook must not find, should they be installed beside numpy."""

    def __init__(self, names: list[str]) -> None:
        self._names = set(names)

    def find_spec(self, name: str, *_: Any) -> None:
        """Raises: ModuleNotFoundError for those packages."""
        if name.partition(".")[0] in self._names:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)


class ScriptKernel(Kernel):
    """Runs each cell in the shell of :mod:`.script`. ``settings`` and ``shell`` are set before there is one."""

    implementation = "script"
    implementation_version = "1"
    banner = ""
    language_info = {"name": "python", "mimetype": "text/x-python", "file_extension": ".py"}  # noqa: RUF012
    _execute_sleep = 0
    settings: dict[str, Any] = {}  # noqa: RUF012
    shell_of_script: script.Shell

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self._reports, self._answers = (
            os.open(self.settings[name], os.O_WRONLY | os.O_APPEND | getattr(os, "O_BINARY", 0))
            for name in ("reports", "answers")
        )
        self._seconds: float = self.settings["bounds"]["cell_seconds"]
        self._cells: script.Cells | None = None

    def pre_handler_hook(self) -> None:
        """Interrupts are heard while a cell runs, and at no other time."""

    def post_handler_hook(self) -> None:
        """See there."""

    def _begin(self) -> script.Cells:
        """Only before the first cell, when the kernel's libraries have said all that they have to say."""
        home, kept = self.settings["home"], {n: os.environ[n] for n in ("SYSTEMROOT",) if n in os.environ}
        os.environ.clear()
        os.environ.update(  # what the fork server gives
            HOME=home, TMPDIR=home, MPLCONFIGDIR=home, IPYTHONDIR=os.path.join(home, "ipython"), LANG="C.UTF-8",
            PATH="/nowhere", USER="candidate", LOGNAME="candidate", OPENBLAS_NUM_THREADS="1", OMP_NUM_THREADS="1",
            MKL_NUM_THREADS="1", PYTHONNOUSERSITE="1", **kept,
        )  # fmt: skip
        bounds = self.settings["bounds"]
        return script.Cells(self.shell_of_script, bounds["output_bytes"], bounds["answers"], self._answers)

    async def do_execute(self, code: str, silent: bool, *_: Any, **__: Any) -> dict[str, Any]:  # type: ignore[override]
        """Run a cell; ``code`` is JSON of its index and source."""
        index, source = json.loads(code)
        cells = self._cells = self._cells or self._begin()
        script.report_on(self._reports, started=index)
        loop = asyncio.get_running_loop()
        asyncio.events._set_running_loop(None)  # a cell may have a loop of its own
        try:
            report = cells.run(source, self._until_told(cells, index))
        except MemoryError:
            os._exit(script.NO_MEMORY)
        finally:
            asyncio.events._set_running_loop(loop)
        script.report_on(self._reports, index=index, **report)
        return {"status": "ok", "execution_count": self.execution_count, "payload": [], "user_expressions": {}}

    @contextlib.contextmanager
    def _until_told(self, cells: script.Cells, index: int) -> Iterator[None]:
        told = 0

        def ring(*_: Any) -> None:
            nonlocal told
            told += 1
            if told * 0.5 > script.GRACE:
                report = cells.report_of_a_stubborn_cell(self._seconds)
                script.report_on(self._reports, index=index, **report)
                os._exit(script.STUBBORN)
            raise script.CellTimeLimit(f"stopped after {self._seconds:g} s")

        signal.signal(signal.SIGINT, ring)
        if hasattr(signal, "pthread_sigmask"):
            signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
        try:
            yield
        finally:
            signal.signal(signal.SIGINT, signal.SIG_IGN)


def main() -> None:
    """Serve one marker. Arguments: the connection file that is to be written, the settings as JSON."""
    connection_file, settings = sys.argv[2], json.loads(sys.argv[3])
    sys.modules["dask"] = None  # type: ignore[assignment]  # as in the fork server
    sys.meta_path.insert(0, NotHere(settings["hidden"]))
    sys.argv[:] = ["notebook"]
    ScriptKernel.settings = settings
    ScriptKernel.shell_of_script = script.ready_shell(tuple(settings["definitions"]))
    config = Config()
    config.Session.key = settings["key"].encode()
    config.IPKernelApp.outstream_class = None
    config.IPKernelApp.displayhook_class = "ipykernel.displayhook.ZMQDisplayHook"
    config.IPKernelApp.log_level = 50
    hook = sys.displayhook
    app = IPKernelApp.instance(
        kernel_class=ScriptKernel, connection_file=connection_file, config=config, no_stdout=False, no_stderr=False
    )
    app.initialize([])
    sys.displayhook = hook
    _limit(settings["bounds"])
    app.start()


def _limit(bounds: dict[str, Any]) -> None:
    """The limits that the system may be able to hold; the marker looks at all of them from outside too."""
    if resource is None:
        return
    reserved = 0
    with contextlib.suppress(OSError), open("/proc/self/statm", encoding="ascii") as file:
        reserved = max(0, int(file.read().split()[0]) * resource.getpagesize() - USUAL_ADDRESS_SPACE)
    for kind, most in (
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_FSIZE, max(bounds["file_bytes"], 2 * bounds["output_bytes"])),
        (resource.RLIMIT_AS, bounds["memory_bytes"] + reserved),
    ):
        with contextlib.suppress(OSError, ValueError):
            hard = resource.getrlimit(kind)[1]
            most = most if hard == resource.RLIM_INFINITY else min(most, hard)
            resource.setrlimit(kind, (most, most))
