"""The list of system calls that a script may make, and the bounds beside it: on honest scripts and on hostile ones."""

from __future__ import annotations

import ctypes
import json
import platform
import re
import sys
from pathlib import Path

import psutil
import pytest

from grader.running.runner import UNTRUSTED, Ending, Limits, Run, Runner
from grader.untrusted.memory_group import places_for_a_group
from tests.grader.running.test_kernel_runner import HONEST, PLOT
from tests.grader.running.test_kernel_runner import LIMITS as HONEST_LIMITS
from tests.sharing import a_few

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="the walls are Linux's")

ROOT = Path(__file__).parents[3]
LIMITS = Limits(
    cell_seconds=5, wall_seconds=12, cpu_seconds=10, memory_bytes=512 << 20, file_bytes=2 << 20, folder_bytes=8 << 20
)
WAYS = {"namespaces": frozenset(), "no-namespaces": frozenset({"namespaces"})}
HEADERS = {
    "x86_64": Path("/usr/include/x86_64-linux-gnu/asm/unistd_64.h"),
    "aarch64": Path("/usr/include/asm-generic/unistd.h"),
}


def listed(processor: str) -> dict[str, int]:
    """The list as it stands in the room's code, which nothing outside imports."""
    names: dict[str, object] = {"__name__": "calls"}
    sys.modules["calls"] = type(sys)("calls")  # dataclasses look their module up
    exec((UNTRUSTED / "calls.py").read_text(), names)
    del sys.modules["calls"]
    return names["listed"](processor)  # type: ignore[operator]


def notebook(*sources: str) -> dict:
    empty = {"cell_type": "code", "metadata": {}, "outputs": [], "execution_count": None}
    cells = [{**empty, "id": f"cell-{n}", "source": source} for n, source in enumerate(sources)]
    return {"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": cells}


def values(run: Run) -> dict[str, float | str | None]:
    return {part: answer.value for part, answer in run.answers.items()}


#: Without namespaces is left to the slow run.
ONE_WAY_NOW = pytest.mark.parametrize(
    "way", [pytest.param(name, marks=pytest.mark.slow if without else ()) for name, without in WAYS.items()],
    indirect=True, scope="module",
)  # fmt: skip


@pytest.fixture(scope="module", params=WAYS)
def way(request):
    return WAYS[request.param]


@pytest.fixture(scope="module")
def each_room(way):
    with Runner(LIMITS, without=way) as runner:
        yield runner


# The list


@pytest.mark.parametrize("processor", HEADERS)
def test_numbers_are_those_of_the_kernels_headers(processor):
    """Source: the headers of Linux that the C library's development files bring (Debian: linux-libc-dev)."""
    header = HEADERS[processor]
    if not header.exists():
        pytest.skip(f"{header} is not here")
    text = header.read_text()
    known = {name: int(number) for name, number in re.findall(r"#define __NR(?:3264)?_(\w+)\s+(\d+)", text)}
    known |= {
        name: known[other] for name, other in re.findall(r"#define __NR_(\w+) __NR3264_(\w+)", text) if other in known
    }
    ours = listed(processor)
    assert len(ours) > 80
    assert {name: known.get(name) for name in ours} == ours


#: Calls that honest scripts make, are refused, and do without: what makes them and what it does then.
DONE_WITHOUT = {
    "call 435": "clone3: the C library starts a thread by clone instead",
    "madvise": "NumPy asks for huge pages for a large array and goes on without",
    "openat": "tempfile asks for a file without a name and makes one with a name instead",
    "call 40": "sendfile of x86-64: shutil copies by reading and writing instead",
    "call 71": "sendfile of aarch64",
    "llistxattr": "shutil.copy2 copies no labels",
    "listxattr": "shutil.copy2 copies no labels",
    "call 237": "mbind of x86-64: SciPy's arithmetic asks for memory near its processor and goes on without",
    "call 235": "mbind of aarch64",
}
#: What honest people write, beyond HONEST, and what must come of it: no error in any cell.
MORE = {
    "arrays": (
        "import numpy as np\nx = np.ones(3_000_000)\nnp.linalg.solve(np.eye(300) * 2, np.ones(300)).sum(), x.sum()",
        "np.savetxt('x.csv', np.eye(3)); np.savez('z.npz', a=np.eye(3))\nnp.loadtxt('x.csv') + np.load('z.npz')['a']",
        "m = np.memmap('m', dtype=float, shape=(1000,), mode='w+'); m[:] = 1; m.flush()",
    ),
    "figures": (
        PLOT + "\nplt.savefig('x.png'); plt.savefig('x.pdf'); plt.savefig('x.svg')",
        "fig, ax = plt.subplots(2, 2)\nax[0, 0].set_xlabel(r'$\\frac{a}{b}$'); ax[0, 1].loglog([1, 10], [1, 10])\n"
        "ax[1, 0].imshow([[1, 2], [3, 4]]); ax[1, 1].bar(['a'], [1]); fig.tight_layout()",
        "import matplotlib.font_manager as f; f.findfont('Nowhere Sans', fallback_to_default=True)",
        "import mpl_toolkits.mplot3d, matplotlib.animation\nplt.figure().add_subplot(projection='3d')",
    ),
    "units": ("import pint\nu = pint.UnitRegistry()\n(3 * u.ft).to('m'), u('2 psi').to_base_units()",),
    "standard library": (
        "import csv, json, pathlib, datetime, zoneinfo, random, statistics, decimal, fractions, re, io, logging, uuid\n"
        "import secrets, hashlib, pickle, platform, locale, glob, os, sys, time, resource, faulthandler",
        "datetime.datetime.now(zoneinfo.ZoneInfo('Europe/Oslo')), uuid.uuid4(), secrets.token_hex(), os.cpu_count()",
        "open('a', 'w').write('x' * 99999); pathlib.Path('a').stat(), pathlib.Path('.').resolve(), glob.glob('*')",
        "os.mkdir('d'); os.rmdir('d'); print(open('a').read(1)); time.sleep(0.01); time.process_time()",
    ),
    "threads and waiting": (
        "from concurrent.futures import ThreadPoolExecutor\nwith ThreadPoolExecutor(4) as e: print(*e.map(abs, [-1]))",
        "import asyncio\nawait asyncio.wait_for(asyncio.to_thread(abs, -1), 1)",
    ),
    "magics": ("%time sum(range(10))", "%timeit -n1 -r1 1 + 1", "%whos", "%pwd", "%prun -q 1", "len?", "%lsmagic"),
}
#: The same, where files are the script's own alone, so that they may be removed and changed.
OF_ITS_OWN = {
    "files": (
        "import os, shutil, tempfile\nopen('a', 'w').write('x' * 99999)\nshutil.copy('a', 'b'); shutil.copy2('a', 'c')",
        "shutil.move('c', 'd'); os.remove('a'); os.replace('b', 'd')",
        "with tempfile.TemporaryFile() as f: f.write(b'x')",
        "with tempfile.TemporaryDirectory() as d: open(d + '/x', 'w')",
    ),
}


@pytest.fixture(scope="module")
def teller(way):
    with Runner(HONEST_LIMITS, without=way, tell_refused=True) as runner:
        yield runner


def _that_matter(runner: Runner) -> dict[str, int]:
    """The refused calls that nobody has shown to do without, since the last look."""
    found = {call: n for call, n in runner.refused_calls.items() if call.partition("(")[0] not in DONE_WITHOUT}
    runner.refused_calls.clear()
    return found


@pytest.mark.slow
@ONE_WAY_NOW
def test_honest_scripts_make_no_refused_call_that_matters(teller, way):
    for name, cells in {**MORE, **(OF_ITS_OWN if not way else {})}.items():
        run = teller.run(notebook(*cells))
        assert (run.ending, run.cell_errors, _that_matter(teller)) == (Ending.FINISHED, (), {}), name
    for name, cells in HONEST.items():
        teller.run(notebook(*cells))
        assert _that_matter(teller) == {}, name


@ONE_WAY_NOW
@pytest.mark.parametrize("every", a_few([9, 1], 1))  # make test: each ninth
def test_every_solution_runs_without_a_refused_call(teller, every):
    solutions = sorted((ROOT / "solutions").glob("*.ipynb"))
    assert len(solutions) >= 60
    for path in solutions[::every]:
        run = teller.run(json.loads(path.read_text(encoding="utf-8")))
        assert (run.ending, run.cell_errors, run.refused) == (Ending.FINISHED, (), ()), path.name
        assert run.answers, path.name
        assert dict(teller.refused_calls) == {}, path.name


def test_a_refused_call_is_told(teller):
    """Without this the tests above could not fail."""
    run = teller.run(
        notebook("import os\nfor n in range(3):\n    try: os.eventfd(0)\n    except OSError as e: print(e)")
    )
    assert run.notebook["cells"][0]["outputs"][0]["text"].count("Function not implemented") == 3
    assert sum(_that_matter(teller).values()) == 3


# What the list holds back

CALL = """
import ctypes, errno, mmap, os
libc = ctypes.CDLL(None, use_errno=True)
libc.syscall.restype = ctypes.c_long
def call(number, *arguments):
    ctypes.set_errno(0)
    given = [a if isinstance(a, ctypes.Array) else ctypes.c_long(a) for a in arguments]
    result = libc.syscall(ctypes.c_long(number), *given)
    return errno.errorcode[ctypes.get_errno()] if result == -1 else "done"
"""


def test_no_call_outside_the_list_reaches_the_kernel(each_room):
    """Those of other processors and of kernels to come as well: 467 and 469 were not refused by a list of the bad."""
    known = sorted(listed(_processor()).values())
    if X86:  # the kernel's own traps for probes, which it lets no filter see: whoever else calls them gets SIGILL
        known += [335, 336]
    source = f"""
wanted = set(range(1100)) - set({known!r})
wanted |= {{0x40000000 + n for n in range(600)}} | {{-1, 1 << 20}}
through = sorted(n for n in wanted if call(n, 0, 0, 0, 0, 0, 0) != "ENOSYS")
answer("1a", len(wanted))
answer("1b", str(through[:20]))
"""
    run = each_room.run(notebook(CALL, source))
    assert run.cell_errors == ()
    assert values(run) == {"1a": 1100 - len(known) + 602, "1b": "[]"}


def _processor() -> str:
    return platform.machine()


#: Attempts that must fail, as Python expressions; "done" is what gives them away.
X86 = _processor() == "x86_64"
ATTEMPTS = {
    "pages pinned in a pipe": f"call({278 if X86 else 75}, os.pipe()[1], 0, 0, 0)",
    "splice": f"call({275 if X86 else 76}, 0, 0, os.pipe()[1], 0, 1, 0)",
    "a larger pipe": "tried(fcntl.fcntl, os.pipe()[1], 1031, 1 << 20)",
    "a lock of a piece of a file": "tried(fcntl.lockf, open('own', 'w'), fcntl.LOCK_EX, 1, 5)",
    "notes on a folder": "tried(fcntl.fcntl, os.open('.', os.O_RDONLY), fcntl.F_NOTIFY, fcntl.DN_MODIFY)",
    "an owner of signals": "tried(fcntl.fcntl, os.pipe()[1], fcntl.F_SETOWN, 1)",
    "a pair of datagram sockets": "tried(socket.socketpair, socket.AF_UNIX, socket.SOCK_DGRAM)",
    "a pair of another family": "tried(socket.socketpair, 30, socket.SOCK_STREAM)",
    "a buffer of a socket": "tried(socket.socketpair()[0].setsockopt, socket.SOL_SOCKET, socket.SO_SNDBUF, 1 << 20)",
    "files in a message": "tried(socket.send_fds, socket.socketpair()[0], [b'x'], [0])",
    "an address to send to": "tried(socket.socketpair()[0].sendto, b'x', 'place')",
    "huge pages, asked for": "tried(mmap.mmap(-1, 4 << 20).madvise, mmap.MADV_HUGEPAGE)",
    "huge pages, mapped": "tried(mmap.mmap, -1, 4 << 20, mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS | 0x40000)",
    "memory locked": "tried(mmap.mmap, -1, 4096, mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS | 0x2000)",
    "a file in memory alone": "tried(os.memfd_create, 'x')",
    "disk set aside": "tried(os.posix_fallocate, os.open('own2', os.O_CREAT | os.O_RDWR), 0, 4096)",
    "a file without a name": "tried(os.open, '.', os.O_TMPFILE | os.O_RDWR)",
    "a label of a file": "tried(os.setxattr, '.', 'user.x', b'x')",
    "inotify": "tried_c(libc.inotify_init1, 0)",
    "a timer": "tried_c(libc.timer_create, 0, None, ctypes.create_string_buffer(8))",
    "a timer as a file": "tried_c(libc.timerfd_create, 1, 0)",
    "an epoll of nobody": f"call({290 if X86 else 19}, 0, 0)",
    "a queue of messages": "tried_c(libc.msgget, 0, 0o1600)",
    "semaphores": "tried_c(libc.semget, 0, 1, 0o1600)",
    "rules of Landlock": "call(444, 0, 0, 1)",
    "another filter": f"call({317 if X86 else 277}, 1, 0, 0)",
    "a thread that is a process": f"call({56 if X86 else 220}, 17, 0, 0, 0, 0)",
    "threads of another kind": f"call({56 if X86 else 220}, 0x3d0f00 | 0x10000000, 0, 0, 0, 0)",
    "an image of its memory": "tried_c(libc.prctl, 4, 1, 0, 0, 0)",
    "the signal at its parent's end": "tried_c(libc.prctl, 1, 0, 0, 0, 0)",
    "a signal with a value": f"call({129 if X86 else 138}, os.getpid(), 10, ctypes.create_string_buffer(128))",
    "keys": f"call({250 if X86 else 219}, 0, -3, 0, 0, 0)",
    "rings of io_uring": "call(425, 1, ctypes.create_string_buffer(120))",
    "processor's place": "tried(os.sched_setaffinity, 0, {0})",
    "a wish to a terminal": "tried(fcntl.ioctl, os.pipe()[0], 0x5412, b'x')",
}


def test_each_door_is_shut(each_room):
    source = """
import fcntl, socket
def tried(function, *arguments):
    try:
        function(*arguments)
    except OSError as error:
        return errno.errorcode[error.errno]
    return "done"
def tried_c(function, *arguments):
    ctypes.set_errno(0)
    return errno.errorcode[ctypes.get_errno()] if function(*arguments) == -1 else "done"
"""
    attempts = [f"answer('{n + 10}a', {attempt})" for n, attempt in enumerate(ATTEMPTS.values())]
    run = each_room.run(notebook(CALL, source, *attempts))
    assert run.cell_errors == ()
    found = dict(zip(ATTEMPTS, values(run).values(), strict=True))
    refusals = {"ENOSYS", "EPERM", "EINVAL", "ENOTTY", "EOPNOTSUPP", "ENOTSUP"}
    assert {name: how for name, how in found.items() if how not in refusals} == {}


def test_what_threads_waiting_and_terminals_need_is_let_through(each_room):
    """The other side of the narrow doors: a filter that refused everything would pass the test above."""
    source = """
import fcntl, socket, threading, os, signal, mmap
a, b = socket.socketpair(); a.sendall(b"x"); assert b.recv(1) == b"x"
r, w = os.pipe(); fcntl.fcntl(w, fcntl.F_SETFL, os.O_NONBLOCK); os.set_inheritable(r, True); os.set_blocking(r, False)
assert not os.isatty(r)
thread = threading.Thread(target=os.getpid); thread.start(); thread.join()
signal.signal(signal.SIGUSR1, lambda *_: None); os.kill(os.getpid(), signal.SIGUSR1)
signal.pthread_kill(threading.get_ident(), signal.SIGUSR1)
mmap.mmap(-1, 4096).madvise(mmap.MADV_DONTNEED)
"""
    assert each_room.run(notebook(source)).cell_errors == ()


# Limits


def test_every_limit_of_the_kernel_is_set(each_room):
    source = """
import resource
names = "CORE CPU FSIZE NOFILE AS MEMLOCK SIGPENDING MSGQUEUE RTPRIO NICE"
for n, name in enumerate(names.split()):
    soft, hard = resource.getrlimit(getattr(resource, "RLIMIT_" + name))
    assert soft == hard
    answer(f"1{chr(97 + n)}", hard)
answer("2a", resource.getrlimit(resource.RLIMIT_NPROC)[1] != resource.RLIM_INFINITY and 1 or 0)
"""
    run = each_room.run(notebook(source))
    assert run.cell_errors == ()
    *limits, processes = values(run).values()
    assert limits == [1, 10, 2 << 20, 64, 512 << 20, 0, 64, 0, 0, 0]
    assert processes == 1


def test_signals_that_wait_are_few(each_room):
    """They are counted by user, so a thousand of them are a thousand that the marker's own programs cannot have."""
    source = """
import os, signal
signal.pthread_sigmask(signal.SIG_BLOCK, {40})
for n in range(1000): os.kill(os.getpid(), 40)
count = 0
while signal.sigtimedwait({40}, 0): count += 1
answer("1a", count)
"""
    run = each_room.run(notebook(source))
    assert run.cell_errors == ()
    assert 1 <= run.answers["1a"].value <= 64


@ONE_WAY_NOW
def test_a_script_is_ended_when_the_machine_runs_short_of_memory(way):
    with Runner(Limits(spare_bytes=1 << 60), without=way) as runner:
        run = runner.run(notebook("import time; time.sleep(20)"))
    assert run.ending is Ending.OUT_OF_MEMORY
    assert "the machine's memory ran short" in run.reason
    assert run.seconds < 15


#: Eight processes that take 150 MB each: none passes a limit of its own.
HOARDERS = """
import os, time
for n in range(8):
    if os.fork() == 0:
        hoard = bytearray(150 << 20)
        for page in range(0, len(hoard), 4096): hoard[page] = 1
        time.sleep(3)
        os._exit(0)
answer("1a", 1)
os.wait()
time.sleep(2)
"""


@pytest.fixture(scope="module")
def memory_groups():
    """Skips where no group can be made; a system that can make one is what the project's own checks run on."""
    with Runner(LIMITS) as runner:
        if not any("control group" in line for line in runner.standing):
            pytest.skip("no memory group can be made here: " + "; ".join(runner.missing))


@pytest.mark.slow
@ONE_WAY_NOW
def test_memory_of_all_processes_together_is_bounded(memory_groups, way):
    """Without the list of calls, which lets no script fork: the group holds by itself."""
    with Runner(LIMITS, without=way | {"seccomp"}, allow_missing_walls=True) as runner:
        run = runner.run(notebook(HOARDERS))
        after = runner.run(notebook("answer('1a', 2)"))
    assert run.ending is Ending.OUT_OF_MEMORY
    assert "more memory in all than a script may" in run.reason
    assert values(run) == {"1a": 1}
    assert after.ending is Ending.FINISHED
    assert values(after) == {"1a": 2}


@pytest.mark.slow
def test_without_the_memory_group_the_same_script_takes_all_that_it_wants():
    without = frozenset({"seccomp", "memory group"})
    with Runner(LIMITS, without=without, allow_missing_walls=True) as runner:
        assert any("bound on the memory of all" in line for line in runner.missing)
        assert runner.run(notebook(HOARDERS)).ending is Ending.FINISHED


def test_no_memory_group_stays_behind(memory_groups):
    mounts, own = Path("/proc/self/mountinfo").read_text(), Path("/proc/self/cgroup").read_text()
    places = [Path(place) for place, _ in places_for_a_group(mounts, own)]
    killed = Path(f"{places[0]}/marking-room-{2**22 + 1}")  # above the largest number of a process
    killed.mkdir()
    with Runner(LIMITS) as runner:  # beside it other tests have groups of their own
        ours = [place / f"marking-room-{runner._server._process.pid}" for place in places]
        assert [path.exists() for path in ours].count(True) == 1
        runner.run(notebook("answer('1a', 2)"))
    assert not killed.exists()
    assert not [path for path in ours if path.exists()]


FIRST = "35 24 0:30 / /sys/fs/cgroup/memory rw,relatime - cgroup cgroup rw,memory\n"
SECOND = "30 23 0:26 / /sys/fs/cgroup rw,nosuid - cgroup2 cgroup2 rw,nsdelegate\n"


@pytest.mark.parametrize(
    ("mounts", "own", "places"),
    [
        (FIRST, "9:name=systemd:/\n4:memory:/jobs/7\n0::/\n", [("/sys/fs/cgroup/memory/jobs/7", False)]),
        (FIRST.replace("memory rw", "cpu,memory rw").replace("rw,memory", "rw,cpu,memory"), "4:cpu,memory:/\n",
         [("/sys/fs/cgroup/cpu,memory", False)]),
        (SECOND, "0::/user.slice/app.scope\n",
         [("/sys/fs/cgroup/user.slice/app.scope", True), ("/sys/fs/cgroup/user.slice", True)]),
        (SECOND.replace(" / /sys", " /docker/5 /sys"), "0::/docker/5\n", [("/sys/fs/cgroup", True)]),
        (SECOND.replace(" / /sys", " /elsewhere /sys"), "0::/docker/5\n", []),
        (FIRST.replace("rw,memory", "rw,pids"), "4:pids:/\n", []),
        ("", "", []),
    ],
)  # fmt: skip
def test_where_a_memory_group_may_be_made(mounts, own, places):
    """The texts are in the form that cgroups(7) and proc(5) give."""
    assert list(places_for_a_group(mounts, own)) == places


@pytest.mark.slow
def test_a_kernel_too_is_ended_when_the_machine_runs_short_of_memory():
    with Runner(Limits(spare_bytes=1 << 60), without=frozenset({"forking"}), allow_missing_walls=True) as runner:
        run = runner.run(notebook("import time; time.sleep(9)"))
    assert run.ending is Ending.OUT_OF_MEMORY
    assert "the machine's memory ran short" in run.reason


def test_the_machines_memory_is_told_as_others_tell_it():
    """Source: psutil, which reads the kernel's own estimate as well; between the two looks it moves a little."""
    with Runner(Limits(spare_bytes=psutil.virtual_memory().available // 2)) as runner:
        assert runner.run(notebook("import time; time.sleep(0.2)")).ending is Ending.FINISHED


def test_threads_are_bounded(each_room):
    """Where the kernel counts by user, the keeper counts by script and ends it."""
    source = """
import threading, time
threading.stack_size(65536)
for n in range(300):
    try: threading.Thread(target=time.sleep, args=(3,), daemon=True).start()
    except RuntimeError: break
time.sleep(2)
answer("1b", n)
"""
    run = each_room.run(notebook('answer("1a", 1)', source))
    if "1b" in run.answers:
        assert run.answers["1b"].value <= LIMITS.processes
    else:
        assert run.ending is Ending.KILLED
        assert "more than 16 threads" in run.reason


def test_files_held_open_do_not_fill_the_disk_unseen(each_room):
    """A file that is removed while it is mapped is in no folder, and takes its room on the disk all the same."""
    source = """
import mmap, os
kept = []
def hide(n, away):
    with open("f", "w+b") as file:
        file.write(b"x" * (1 << 20)); file.flush()
        kept.append(mmap.mmap(file.fileno(), 4096))
    away(n)
count = 0
for n in range(40):
    try:
        hide(n, (lambda n: os.unlink("f")) if n % 2 else (lambda n: (open("g", "w").close(), os.replace("g", "f"))))
        count += 1
    except OSError:
        continue
answer("1a", count)
"""
    run = each_room.run(notebook(source))
    assert run.cell_errors == ()
    assert run.answers["1a"].value * (1 << 20) <= LIMITS.folder_bytes


def test_queues_of_the_user_are_out_of_reach(each_room):
    libc = ctypes.CDLL(None, use_errno=True)
    queue = libc.msgget(0, 0o1666)
    assert queue >= 0
    message = ctypes.create_string_buffer(b"\x01" + bytes(7) + b"kept", 24)
    assert libc.msgsnd(queue, message, 4, 0) == 0
    try:
        source = f"""
import ctypes
libc = ctypes.CDLL(None)
answer("1a", libc.msgrcv({queue}, ctypes.create_string_buffer(24), 4, 0, 0o4000))
answer("1b", libc.msgctl({queue}, 0, 0))
"""
        assert values(each_room.run(notebook(source))) == {"1a": -1.0, "1b": -1.0}
        assert libc.msgrcv(queue, message, 4, 0, 0o4000) == 4
    finally:
        libc.msgctl(queue, 0, 0)


# What is said about it


def test_walls_say_what_can_still_be_asked_without_namespaces(each_room, way):
    said = "\n".join(each_room.missing)
    assert ("whether a path exists" in said) is bool(way)
    assert ("removes or changes a file" in said) is bool(way)
    assert any("system calls" in line for line in each_room.standing)
