"""What happens on Windows and macOS, as far as Linux can show it: with what they lack taken away, or what they say."""

from __future__ import annotations

import ast
import errno
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from grader.returned.taking_in import plain_name
from grader.store.errors import GraderError
from grader.store.files import write_text
from grader.store.plain_letters import id_of
from grader.store.school import open_school
from grader.take_home import pdf
from tests.grader.schools import make_school

ROOT = Path(__file__).parents[2]

#: Modules and names that Python's own documentation says Windows lacks, taken away once the libraries are loaded; then
#: all of ours is loaded, and a school goes from the roster to marks and onto the desk.
WITHOUT_POSIX = """
import os, select, signal, socket, subprocess, sys, threading, time, urllib.request
import alembic, click, cryptography.hazmat.primitives.asymmetric.ed25519, filelock, IPython, jupyter_client, matplotlib
import matplotlib.pyplot, nbconvert, nbgrader.api, nbformat, numpy, openpyxl, pint, psutil, rich.progress, scipy.stats
import segno, sqlalchemy.dialects.sqlite, starlette.applications, tomlkit, uvicorn, zmq
import ipykernel.kernelapp, nbclient, jupyter_server.serverapp, uvicorn.protocols.http.h11_impl, multipart
LACKS = {
    os: "chown chroot ctermid fchmod fchown fork forkpty fpathconf getegid geteuid getgid getgroups getloadavg getpgid "
        "getpgrp getpriority getresuid getsid getuid initgroups killpg lchown lockf major memfd_create mkfifo mknod "
        "nice openpty pidfd_open pipe2 posix_fadvise posix_fallocate pread pwrite register_at_fork sched_getaffinity "
        "sched_setaffinity sendfile setgid setns setpgid setpriority setsid setuid statvfs sync sysconf tcgetpgrp "
        "ttyname uname unshare wait wait3 wait4 waitid O_CLOEXEC O_DIRECTORY O_NOCTTY O_NOFOLLOW O_NONBLOCK O_PATH "
        "WNOHANG",
    signal: "SIGALRM SIGCHLD SIGCONT SIGHUP SIGKILL SIGPIPE SIGSTOP SIGUSR1 SIGUSR2 ITIMER_REAL alarm pause "
            "pthread_kill pthread_sigmask setitimer siginterrupt sigpending sigwait",
    socket: "AF_UNIX SOCK_SEQPACKET recv_fds send_fds", select: "epoll poll", time: "tzset pthread_getcpuclockid",
}
unix = socket.AF_UNIX
for module, names in LACKS.items():
    for name in names.split():
        if hasattr(module, name): delattr(module, name)
GONE = "crypt curses fcntl grp nis ossaudiodev posix pty pwd readline resource spwd syslog termios tty".split()
class Hidden:
    def find_spec(self, name, *_):
        if name.partition(".")[0] in GONE: raise ModuleNotFoundError(f"No module named {name!r}", name=name)
for name in GONE: sys.modules.pop(name, None)
sys.meta_path.insert(0, Hidden())
os.environ["LOGNAME"] = "ann"
# The library has a half for Windows, which does not run here, and one without calls of any system.
filelock.FileLock = filelock.SoftFileLock

import importlib, pkgutil
ours = [importlib.import_module(name) for name in ("pitside", "exercises", "grader")]
sys.platform = "win32"
names = [found.name for one in ours for found in pkgutil.walk_packages(one.__path__, one.__name__ + ".")
         if not found.name.startswith("grader.untrusted.") and found.name != "grader.marking.many_machines"]
names += [f"grader.untrusted.{name}" for name in ("claim", "script", "plots", "jupyter_kernel")]
for name in names: importlib.import_module(name)

# Libraries that run here ask which system it is, and must hear of one that they can run on; and where there is this
# kind of socket, Python makes pairs of no other.
sys.platform, socket.AF_UNIX = "darwin", unix
subprocess.Popen = subprocess.run = None
from pathlib import Path
from grader.demo import demo
from grader.desk.serving import prepared
from grader.marking.marking import mark_school
from grader.marking.rooms import How
from grader.papers.issue import issue
from grader.reports.results import gather, write_feedback, write_results
demo.PEOPLE = demo.PEOPLE[:3]
quiet = lambda *_: None
school = demo.make_school(Path(sys.argv[1]))
issue(school, school.sittings, quiet)
demo.hand_in(school)
tally = mark_school(school, quiet, How(workers=1))
demo.mark_words(school)
found = gather(school)
write_results(school, found)
write_feedback(school, found, quiet)
served = prepared(school.folder, school.folder.parent)
threading.Thread(target=served.run, daemon=True).start()
desk = urllib.request.urlopen(served.address).read().decode()
served.server.should_exit = True
print("SEEN", len(names) > 150, tally.marked, tally.waiting, "The desk is open" in desk)
"""


def _imported(tree: ast.Module) -> Iterator[str]:
    """What a module imports while it is read itself."""
    for line in tree.body:
        if isinstance(line, ast.Import):
            yield from (name.name for name in line.names)
        elif isinstance(line, ast.ImportFrom) and line.module:
            yield line.module


def test_no_module_imports_at_its_top_what_windows_lacks():
    """But those of a room, which there is on Linux alone; the slow test takes names away too, and runs a school."""
    gone = {*re.search(r'GONE = "(.*?)"', WITHOUT_POSIX)[1].split()}
    ours = [path for package in ("pitside", "exercises", "grader") for path in (ROOT / package).rglob("*.py")]
    found = {
        path.name: name
        for path in ours
        if path.parent.name != "untrusted"
        for name in _imported(ast.parse(path.read_text(encoding="utf-8")))
        if name.partition(".")[0] in gone
    }
    assert len(gone) > 10 and len(ours) > 200
    assert found == {}


@pytest.mark.slow
def test_without_what_windows_lacks_all_is_loaded_and_a_school_is_marked_and_shown_at_the_desk(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_POSIX, str(tmp_path / "school")], cwd=ROOT, capture_output=True, text=True
    )
    # Of three scripts one draws a plot, so it has to be run, for which this system has no walls.
    assert done.stdout.splitlines()[-1:] == ["SEEN True 2 1 True"], done.stderr


@pytest.fixture
def windows(monkeypatch):
    """Files as Windows has them for the time of a test: one that another program has open is not replaced."""
    tries = []

    def refused(self, target):
        tries.append(target)
        raise PermissionError(errno.EACCES, "The process cannot access the file")

    monkeypatch.setattr(Path, "replace", refused)
    monkeypatch.setattr("time.sleep", lambda seconds: None)
    return tries


def test_a_file_that_another_program_has_open_is_named_and_left_as_it_was(tmp_path, windows, monkeypatch):
    results = tmp_path / "results.csv"
    results.write_text("old", encoding="utf-8")
    monkeypatch.setattr("grader.store.files._ON_WINDOWS", True)
    with pytest.raises(GraderError, match=r"results\.csv: another program has it open; close it there"):
        write_text(results, "new")
    monkeypatch.undo()
    assert len(windows) > 1, "a program that looks through every new file holds it for a moment only"
    assert [path.name for path in tmp_path.iterdir()] == ["results.csv"]
    assert results.read_text(encoding="utf-8") == "old"


def test_elsewhere_a_file_that_may_not_be_written_is_not_waited_for(tmp_path, windows):
    with pytest.raises(PermissionError):
        write_text(tmp_path / "results.csv", "new")
    assert len(windows) == 1


#: Of the list under "Naming Files, Paths, and Namespaces" in Microsoft's documentation of Windows (from memory).
@pytest.mark.parametrize("name", ["con", "prn", "aux", "nul", "com1", "lpt9"])
def test_nothing_is_called_by_the_name_of_a_device(tmp_path, name):
    make_school(tmp_path / "school")
    school = tmp_path / "school"
    (school / "roster.csv").write_text(f"id,name\n{name},Ann Sand\n", encoding="utf-8")
    with pytest.raises(GraderError, match=f"line 2: '?{name}'? cannot be an id; Windows keeps the name for a device"):
        open_school(school)
    assert plain_name(f"{name.upper()}.ipynb") == f"_{name.upper()}.ipynb"
    assert id_of(name) == f"{name}-1"


def test_letters_that_a_terminal_has_not_are_shown_otherwise_and_stop_nothing(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", "from grader.cli import main; main()", "new", "школа"],
        cwd=tmp_path, capture_output=True, check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "cp1252"},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.startswith(b"Made ?????. ")
    assert (tmp_path / "школа" / "school.toml").is_file()


@pytest.mark.parametrize("variable", ["PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA"])
def test_a_browser_of_windows_is_found_where_it_lies(tmp_path, monkeypatch, variable):
    monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    monkeypatch.setenv(variable, str(tmp_path))
    assert pdf.usual_browser() is None
    program = tmp_path / "Microsoft" / "Edge" / "Application" / "msedge.exe"
    program.parent.mkdir(parents=True)
    program.touch()
    assert pdf.usual_browser() == str(program)


def test_a_browser_of_macos_is_found_where_it_lies(tmp_path, monkeypatch):
    monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    program = tmp_path / "Chromium.app" / "Contents" / "MacOS" / "Chromium"
    assert pdf.usual_browser([str(program)]) is None
    program.parent.mkdir(parents=True)
    program.touch()
    assert pdf.usual_browser([str(program)]) == str(program)
