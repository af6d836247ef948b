"""A second round of attacks, on the room, the school's files and the commands; the first is in test_hostile."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import grader.cli
from grader.marking.marking import mark_school
from grader.marking.records import read_record
from grader.papers.issue import issue
from grader.returned import keyin
from grader.running.run_result import Run
from grader.running.runner import Ending, Limits, Runner
from grader.store.errors import GraderError
from grader.store.school import School, open_school
from tests.grader.schools import (
    ONE_ROOM,
    gradebook_of,
    hand_in,
    make_school,
    paper_of,
    quiet,
    right_answers,
    script_with,
    settings,
)

linux = pytest.mark.skipif(sys.platform != "linux", reason="the walls and the special files are Linux's")

LIMITS = Limits(
    cell_seconds=2, wall_seconds=6, cpu_seconds=15, memory_bytes=512 << 20, file_bytes=2 << 20, folder_bytes=8 << 20,
    output_bytes=100_000, answers=50,
)  # fmt: skip

# The room ------------------------------------------------------------------------------------------------------------

HEAD = """
import ctypes, errno, json, os, stat, sys
libc = ctypes.CDLL(None, use_errno=True)
def call(number, *arguments):
    ctypes.set_errno(0)
    libc.syscall(ctypes.c_long(number), *map(ctypes.c_long, arguments))
    return errno.errorcode.get(ctypes.get_errno(), "done")
def pipes():
    for descriptor in range(3, 64):
        try:
            if stat.S_ISFIFO(os.fstat(descriptor).st_mode):
                yield descriptor
        except OSError:
            pass
def on_every_pipe(line):
    for descriptor in pipes():
        os.write(descriptor, line)
"""

#: Cells that must print nothing but what is said, if they come so far; the script's answer from before stands, and
#: the next script runs as if nothing had been.
CALLS = {
    "keyring io_uring perf bpf userfaultfd memfd": (248, 249, 250, 425, 298, 321, 323, 319, 447, 440),
    "unshare setns pivot mount chroot and the new mount calls": (272, 308, 155, 165, 161, 166, 428, 429, 430, 432, 442),
    "trace and read others": (101, 310, 311, 434, 424, 438, 312),
    "attributes quota fanotify landlock inotify": (188, 190, 179, 300, 444, 445, 446, 253, 254, 294),
    "clock and host name": (227, 159, 305, 164, 170, 171),
    "session group priority scheduling": (112, 109, 141, 203, 144, 314, 251, 142),
    "the other numbering of the same processor": (0x40000000 | 39, 0x40000000 | 57, 0x40000000 | 520),
    "calls of kernels to come": (*range(448, 560), 2**31 - 1),
}

CELLS = {
    "calls of the 32-bit world": """
        import mmap
        page = mmap.mmap(-1, 4096, prot=7)
        page.write(bytes.fromhex("b814000000cd80c3"))
        print("got", ctypes.CFUNCTYPE(ctypes.c_long)(ctypes.addressof(ctypes.c_char.from_buffer(page)))())""",
    "thread calls that make processes": """
        for flags in (0x003D0F00 | 0x10000000, 0x003D0F00 | 0x02000000, 17):
            if call(56, flags, 0, 0, 0, 0) != "EPERM": print("got", flags)""",
    "upper half of an argument": """
        if call(56, (1 << 32) | 17, 0, 0, 0, 0) != "EPERM": print("got a process")
        if call(157, (1 << 32) | 38, 1, 0, 0, 0) != "EINVAL": print("got prctl")""",
    "links with long targets": """
        try:
            for n in range(10**7): os.symlink("x" * 4000, f"l{n}")
            print("got", n)
        except OSError: pass""",
    "hard links without end": """
        open("a", "w").close()
        try:
            for n in range(10**7): os.link("a", f"{n:0250d}")
            print("got", n)
        except OSError: pass""",
    "open files handed over a socket": """
        import socket
        a, b = socket.socketpair()
        try: socket.send_fds(a, [b"x"], [0]); print("got")
        except OSError: pass""",
    "size of a socket's store": """
        import socket
        a, b = socket.socketpair()
        try: a.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 1 << 30); print("got")
        except OSError: pass""",
    "file of a terabyte with nothing in it": """
        try: open("s", "wb").truncate(1 << 40); print("got")
        except OSError: pass""",
    "limits raised": """
        import resource
        for kind in (0, 1, 4, 6, 7, 8, 9, 11, 12, 13, 14):
            try: resource.setrlimit(kind, (resource.RLIM_INFINITY,) * 2); print("got", kind)
            except ValueError: pass""",
    "pages locked or huge": """
        for number, arguments in ((149, (0, 0)), (151, (1,)), (325, (0, 0, 0)), (9, (0, 4096, 3, 0x2022, -1, 0)),
                                  (9, (0, 1 << 21, 3, 0x40022, -1, 0))):
            if call(number, *arguments) == "done": print("got", number)""",
    "what was open is read": """
        for descriptor in pipes():
            try: print("got", os.read(descriptor, 10))
            except OSError: pass""",
    "files of the machine": """
        for path in ("..", "/", "/proc", "/tmp", "/root", "/home", "/etc", "/sys", "/run", "/dev"):
            try: print("got", path, os.listdir(path))
            except OSError: pass""",
    "our packages": """
        for name in ("grader", "exercises", "pitside"):
            try: __import__(name); print("got", name)
            except ImportError: pass""",
    "exception that has no name": """
        class E(Exception):
            def __str__(self): raise SystemExit(3)
            __repr__ = __str__
        raise E()""",
    "forms of a value that are none": r"""
        class R:
            def _repr_html_(self): raise BaseException("x")
            def _repr_mimebundle_(self, **_): return {"text/html": 1, 5: 6, "image/png": b"x"}
            def __repr__(self): return "\ud800" * 5
        display(R())""",
    "all signals to itself": """
        import signal
        for number in range(1, 65):
            if number not in (9, 19):
                try: signal.signal(number, signal.SIG_IGN); os.kill(os.getpid(), number)
                except OSError: pass""",
    "collector that fails and value that never goes": """
        import gc
        class B:
            def __del__(self):
                while True: pass
        b = B(); b.itself = b
        gc.callbacks.append(lambda *_: b.nothing)""",
    "clock of the cell rung at every moment": """
        import signal, threading
        def ring():
            while True: os.kill(os.getpid(), signal.SIGALRM)
        threading.Thread(target=ring, daemon=True).start()""",
    "pipes over the standard streams and each other": """
        found = list(pipes())
        for a in found:
            for b in found: os.dup2(a, b)""",
    "pipes that do not wait": """
        for descriptor in pipes(): os.set_blocking(descriptor, False)
        for n in range(40): answer("1c", "z" * 190)""",
    "report cut in the middle": """
        on_every_pipe(b'{"part": "1c"')
        os._exit(0)""",
    "one beginning a hundred thousand times": """
        for n in range(100_000): on_every_pipe(b'{"started": 0}\\n')""",
    "the runner traced": """
        def trace(frame, event, argument):
            frame.f_locals.clear()
            return trace
        sys.settrace(trace); sys.setprofile(lambda *_: None)""",
    "forged lines of every shape": r"""
        for line in (b'{"started": 99999999999999999999}', b'{"started": -1}', b'{"index": 0, "count": 1e999}',
                     b'{"index": 1, "count": [[]], "outputs": {"a": 1}, "error": {"x": 1}, "cut": []}',
                     b'{"finished": []}', b"[1]", b"null", b'"x"', b"NaN", b"[" * 3000, b'{"a":' * 600, b"\0" * 100,
                     b'{"index": 0, "count": 1, "outputs": [{"output_type": "stream", "name": "stdout", '
                     b'"text": "\\ud800"}], "error": "\\ud800", "cut": false}', b'{"part": "1c", "value": NaN}',
                     b'{"part": "1c", "value": ' + b"9" * 4000 + b"}", b'{"part": "1c\\n", "value": 1}'):
            on_every_pipe(line + b"\n")""",
}


def _cell(source: str) -> dict:
    return {"cell_type": "code", "id": "c", "metadata": {}, "outputs": [], "execution_count": None, "source": source}


def _notebook(*sources: str) -> dict:
    return {"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": [_cell(source) for source in sources]}


def _printed(run: Run) -> str:
    outputs = [output for cell in run.notebook["cells"][1:] for output in cell["outputs"]]
    return "".join(output["text"] for output in outputs if output.get("name") == "stdout")


@pytest.fixture(scope="module", params=["namespaces", "no namespaces"])
def room(request: pytest.FixtureRequest) -> Iterator[Runner]:
    without = frozenset({"namespaces"} if request.param == "no namespaces" else ())
    with Runner(limits=LIMITS, without=without, allow_missing_walls=True) as runner:
        yield runner


def _holds(room: Runner, source: str) -> None:
    run = room.run(_notebook('answer("1a", 5, "psi")', HEAD + source))
    assert "got" not in _printed(run)
    assert run.answers["1a"].value == 5
    after = room.run(_notebook('answer("1b", 7, "psi")\nprint(6 * 7)'))
    assert after.ending is Ending.FINISHED
    assert after.answers.keys() == {"1b"}


@linux
@pytest.mark.skipif(os.uname().machine != "x86_64" if hasattr(os, "uname") else True, reason="numbers of x86-64")
@pytest.mark.parametrize("numbers", CALLS.values(), ids=CALLS)
def test_calls_that_no_honest_script_makes_do_not_reach_the_kernel(room, numbers):
    _holds(room, f'for n in {numbers!r}:\n    if call(n, 0, 0, 0, 0, 0, 0) != "ENOSYS": print("got", n)')


@linux
@pytest.mark.skipif(os.uname().machine != "x86_64" if hasattr(os, "uname") else True, reason="numbers of x86-64")
@pytest.mark.parametrize("name", CELLS)
def test_cell_gains_nothing_and_hurts_nobody(room, name):
    _holds(room, textwrap.dedent(CELLS[name]))


# The school's files and the commands ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def marked(tmp_path_factory: pytest.TempPathFactory) -> School:
    """A school with one script that is marked; not to be changed."""
    school = make_school(tmp_path_factory.mktemp("attacks") / "school")
    issue(school, school.sittings, quiet)
    paper = paper_of(school, "aa-01")
    script = script_with(school, paper, right_answers(paper.variants()))
    for cell in script["cells"]:
        cell["metadata"]["nbgrader"] = {"grade": True, "points": 1000, "grade_id": "1a", "solution": True}
    hand_in(school, paper, script)
    mark_school(school, quiet, ONE_ROOM)
    return school


@pytest.fixture
def own(marked: School, tmp_path: Path) -> School:
    shutil.copytree(marked.folder, tmp_path / "school")
    return open_school(tmp_path / "school")


@pytest.fixture
def pitside(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str]]:
    """Run a command as it is called; its exit status and its error lines."""

    def run(*arguments: object) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["pitside", *map(str, arguments)])
        with pytest.raises(SystemExit) as left:
            grader.cli.main()
        return int(left.value.code or 0), capsys.readouterr().err

    return run


def _is_one_line(ended: tuple[int, str], says: str) -> None:
    status, error = ended
    assert status == 2, error
    assert says in error
    assert len(error.strip().splitlines()) == 1, error


def test_metadata_that_calls_cells_graded_changes_no_mark(marked):
    auto, _, score, most, *_ = gradebook_of(marked)["day1", "aa-01", "1a"]
    assert auto == score == most < 1000


@pytest.mark.parametrize(
    "arguments",
    [
        ("mark", "@", "--again", "--reason", "\udcff"),
        ("issue", "@", "--replace", "--candidate", "aa-01", "--reason", "\udcff"),
        ("change", "@", "aa-01", "1a", "0", "--reason", "\udcff"),
        ("new", "@x", "--title", "\udcff"),
        ("new", "@x\udcff"),
    ],
    ids=lambda arguments: arguments[0],
)
def test_argument_that_is_no_text_is_one_line_and_changes_nothing(pitside, own, arguments):
    before = (own.records / "log.jsonl").read_bytes()
    _is_one_line(pitside(*(one.replace("@", str(own.folder)) for one in arguments)), "no UTF-8 text")
    assert (own.records / "log.jsonl").read_bytes() == before
    assert [path.name for path in own.folder.parent.iterdir()] == ["school"]


@pytest.mark.parametrize(
    "text",
    [
        settings().replace("pass_percent = 70", f"pass_percent = {'9' * 5000}"),
        "a = " + "[" * 5000,
        "a = " + "{a = " * 3000,
    ],
    ids=["digits", "brackets", "tables"],
)
def test_settings_without_end_are_one_line(pitside, own, text):
    (own.folder / "school.toml").write_text(text)
    _is_one_line(pitside("results", own.folder), "school.toml: cannot be read")


@linux
@pytest.mark.parametrize("name", ["roster.csv", "school.toml", "cover.md", "school.key"])
@pytest.mark.parametrize("make", [os.mkfifo, lambda path: path.symlink_to("/dev/zero")], ids=["pipe", "device"])
def test_pipe_or_device_in_place_of_a_file_is_named_and_not_waited_for(pitside, own, name, make):
    (own.folder / name).unlink(missing_ok=True)
    make(own.folder / name)
    _is_one_line(pitside("issue", own.folder), f"{name}: a pipe or device")


@linux
def test_pipe_or_device_given_to_be_taken_is_named_and_not_waited_for(own):
    pipe = own.folder.parent / "pipe"
    os.mkfifo(pipe)
    (sitting,) = own.sittings
    for file in (pipe, Path("/dev/zero")):
        with pytest.raises(GraderError, match="a pipe or device"):
            keyin.take(own, sitting, file)


@pytest.mark.parametrize("command", ["results", "mark", "decide", "certify", "verify"])
@pytest.mark.parametrize(
    "forge",
    [
        lambda path: path.write_text("[" * 200_000),
        lambda path: path.write_text(path.read_text().replace('"finished"', r'"\ud800"')),
        lambda path: path.write_text("null"),
        lambda path: path.write_text('{"exercises": "abc"}'),
    ],
    ids=["nested", "half a letter", "null", "other shape"],
)
def test_record_that_is_none_ends_in_no_fault_of_ours_and_no_certificate(pitside, own, command, forge):
    (record,) = (own.records / "marks").iterdir()
    forge(record)
    _, error = pitside(command, own.folder)
    assert "a fault in pitside" not in error
    assert not (own.records / "certificates").exists()
    with pytest.raises(GraderError, match="damaged"):
        read_record(own, record.stem)


@linux
def test_pipe_in_place_of_a_record_is_not_waited_for(pitside, own):
    (record,) = (own.records / "marks").iterdir()
    record.unlink()
    os.mkfifo(record)
    assert pitside("results", own.folder)[0] in (0, 2)
    with pytest.raises(GraderError, match="a pipe or device"):
        read_record(own, record.stem)


def test_gradebook_that_has_lost_its_sittings_is_one_line(pitside, own):
    import sqlite3
    from contextlib import closing

    with closing(sqlite3.connect(own.records / "gradebook.db", isolation_level=None)) as book:
        book.execute("delete from assignment")
    _is_one_line(pitside("mark", own.folder), "cannot be used as gradebook")


def test_export_is_written_over_no_file_but_an_export(pitside, own, tmp_path):
    key = (own.folder / "school.key").read_bytes()
    places = [own.folder / "school.key", own.register_file, own.folder / "school.toml"]
    for place in [*places, *([Path("/dev/null")] if sys.platform == "linux" else [])]:
        _is_one_line(pitside("export", own.folder, "aa-01", "--to", place), "is no zip")
    assert (own.folder / "school.key").read_bytes() == key
    for _ in range(2):
        assert pitside("export", own.folder, "aa-01", "--to", tmp_path / "e.zip") == (0, "")
    with zipfile.ZipFile(tmp_path / "e.zip") as packed:
        assert "register.json" in packed.namelist()
