"""The room around the fork server: its own users, files, processes and network, where the kernel gives them.

Three processes, started once for hundreds of scripts: the *porter* stays outside, writes the user map of the
new namespaces and ends everything when the marker goes away; the *threshold* enters the namespaces; the
*server* is process 1 inside. Without namespaces the porter becomes the server's parent in the plain world, and
each script is held by Landlock and seccomp alone (see :mod:`.cell`).
"""

from __future__ import annotations

import os
import resource
import select
import shutil
import signal
import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from . import kernel
from .memory_group import MemoryGroup

#: The user number of everything inside the room; to the world outside it is the marker's own user, or
#: :data:`NOBODY` when the marker is the superuser: limits on processes do not bind a superuser.
INSIDE = 1000
NOBODY = 65534
#: The only folder that can be written inside; each script has one of its own there. Not /tmp, for the project and
#: its Python may lie below that.
HOME = "/candidate"
DEVICES = ("/dev/null", "/dev/zero", "/dev/full", "/dev/random", "/dev/urandom")

#: Called behind the walls with: whether they are namespaces, a descriptor of the folder of all processes (of the world
#: outside; -1 where there is none), and what went wrong with the namespaces.
Serve = Callable[[bool, int, tuple[str, ...]], None]


@dataclass(frozen=True)
class Places:
    """Which files the room shows. All paths are absolute and free of symbolic links.

    readable: folders and files of the system and of Python. hidden: folders below them that stay closed. code: the
    folder of this module, shown wherever it is. temporary: an empty folder made by the marker for this room alone.
    """

    readable: tuple[str, ...]
    hidden: tuple[str, ...]
    code: str
    temporary: str


def enter(places: Places, lifeline: int, use_namespaces: bool, serve: Serve, group: MemoryGroup | None = None) -> None:
    """Run ``serve`` behind the best walls there are, until it or the marker ends.

    ``lifeline`` is the read end of a pipe whose other end the marker alone holds. ``group`` is what the server and
    all that it starts are put in.
    """
    complaint: str | None = "left out on request"
    if use_namespaces:
        complaint = _in_namespaces(places, lifeline, serve, group)
    if complaint is not None:
        complaints = (complaint,)
        _tend(_start(lambda: _without_namespaces(places, complaints, serve), group), lifeline)
    # The marker does this too; here it is for a marker that was killed.
    shutil.rmtree(places.temporary, ignore_errors=True)


def _start(work: Callable[[], None], group: MemoryGroup | None = None) -> int:
    pid = os.fork()
    if pid:
        return pid
    try:
        if group is not None:
            group.enter()
        work()
    except BaseException:
        traceback.print_exc()  # the marker quotes the last line of it
    finally:
        sys.stderr.flush()
        os._exit(0)


def _tend(child: int, lifeline: int) -> int:
    """Wait for ``child``, or for the marker to go away; then see that the child is gone. Gives its wait status."""
    descriptor = os.pidfd_open(child)
    poll = select.poll()
    poll.register(descriptor, select.POLLIN)
    poll.register(lifeline, select.POLLIN | select.POLLHUP)
    poll.poll()
    os.close(descriptor)
    gone, status = os.waitpid(child, os.WNOHANG)
    if not gone:
        os.kill(child, signal.SIGTERM)  # the threshold ends the server and waits until all inside is gone
        status = os.waitpid(child, 0)[1]
    return status


def _in_namespaces(places: Places, lifeline: int, serve: Serve, group: MemoryGroup | None) -> str | None:
    """None when the server has run and ended behind namespaces; else why they cannot be had here."""
    asked, ask = os.pipe()
    told, tell = os.pipe()
    threshold = _start(lambda: _threshold(places, ask, told, serve), group)
    os.close(ask)
    os.close(told)
    with os.fdopen(asked, "rb", buffering=0) as questions, os.fdopen(tell, "wb", buffering=0) as answers:
        message = questions.read(1)
        if message == b"m":
            try:
                _write_maps(threshold)
                answers.write(b"m")
            except OSError as error:
                answers.write(b"x")
                os.waitpid(threshold, 0)
                return f"user map: {error}"
            message = questions.read(1)
        complaint = questions.read(400).decode(errors="replace") if message != b"r" else ""
    if message == b"r":
        _tend(threshold, lifeline)
        return None
    os.waitpid(threshold, 0)
    return complaint or "the namespaces broke"


def _write_maps(pid: int) -> None:
    process = Path("/proc") / str(pid)
    stranger = _nobody_is_known()
    if not stranger:
        (process / "setgroups").write_text("deny")
    (process / "uid_map").write_text(f"{INSIDE} {NOBODY if stranger else os.geteuid()} 1")
    (process / "gid_map").write_text(f"{INSIDE} {NOBODY if stranger else os.getegid()} 1")


def _nobody_is_known() -> bool:
    """Whether this is a superuser in whose world NOBODY exists: in a container without rights it may not."""

    def holds(kind: str) -> bool:
        lines = Path(f"/proc/self/{kind}_map").read_text().splitlines()
        ranges = [[int(number) for number in line.split()] for line in lines]
        return any(first <= NOBODY < first + count for first, _, count in ranges)

    return os.geteuid() == 0 and holds("uid") and holds("gid")


def _threshold(places: Places, ask: int, told: int, serve: Serve) -> None:
    superuser = os.geteuid() == 0
    table = _process_table()
    try:
        stranger = _nobody_is_known()
        kernel.die_with_parent()
        if superuser:  # while the files of every user can still be reached
            kernel.unshare(kernel.NEW_MOUNTS)
            _build(places)
        kernel.unshare(
            kernel.NEW_USERS | kernel.NEW_MOUNTS | kernel.NEW_NETWORK | kernel.NEW_IPC | kernel.NEW_HOST_NAME
            | kernel.NEW_PROCESSES
        )  # fmt: skip
        os.write(ask, b"m")
        if os.read(told, 1) != b"m":
            return
        if stranger:
            os.setgroups([])
        os.setresgid(INSIDE, INSIDE, INSIDE)
        os.setresuid(INSIDE, INSIDE, INSIDE)
        kernel.die_with_parent()
        if not superuser:
            _build(places)
        os.umask(0o077)
        os.write(ask, b"r")
    except (OSError, KeyError) as error:
        os.write(ask, b"x" + str(error).encode()[:390])
        return
    os.close(ask)
    os.close(told)

    def inside() -> None:
        kernel.die_with_parent()
        if os.getppid() != 0:  # 0 is what a parent outside the namespace looks like
            return
        kernel.not_readable_by_peers()
        serve(True, table, ())

    server = _start(inside)

    def end(*_: object) -> None:
        os.kill(server, signal.SIGKILL)

    signal.signal(signal.SIGTERM, end)
    os.waitpid(server, 0)  # comes back when every process of the namespace is gone


def _process_table() -> int:
    """Kept open by the server, which looks at memory and threads; a script's process closes it."""
    try:
        return os.open("/proc", os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    except OSError:
        return -1


def _build(places: Places) -> None:
    """A root that holds the readable places, five devices and an empty home, and nothing else."""
    root = places.temporary
    kernel.mount("none", "/", "", kernel.RECURSIVE | kernel.PRIVATE)
    kernel.mount("tmpfs", root, "tmpfs", kernel.NO_SUID | kernel.NO_DEVICES, "size=4m,mode=0755")
    os.umask(0o022)
    for path in places.readable:
        _show(path, root)
    for path in DEVICES:
        _show(path, root, devices=True)
    for path in places.hidden:
        kernel.mount("tmpfs", root + path, "tmpfs", kernel.NO_SUID | kernel.NO_DEVICES, "size=64k,mode=0755")
    _show(places.code, root)
    for path in places.hidden:
        kernel.make_read_only(root + path)
    for name in ("/lib", "/lib32", "/lib64"):
        if os.path.islink(name) and not os.path.lexists(root + name):
            os.symlink(os.readlink(name), root + name)
    os.makedirs(root + HOME, exist_ok=True)
    kernel.mount(
        "tmpfs", root + HOME, "tmpfs", kernel.NO_SUID | kernel.NO_DEVICES | kernel.NO_PROGRAMS, "size=64m,mode=1777"
    )
    kernel.make_read_only(root, recursive=False)
    kernel.enter_root(root)


def _show(path: str, root: str, devices: bool = False) -> None:
    if not os.path.exists(path):
        return
    target = root + path
    if os.path.exists(target) and os.path.samefile(path, target):  # below a place that is shown already
        return
    if os.path.isdir(path):
        os.makedirs(target, exist_ok=True)
    else:
        os.makedirs(os.path.dirname(target), exist_ok=True)
        os.close(os.open(target, os.O_CREAT | os.O_WRONLY, 0o644))
    kernel.mount(path, target, "", kernel.BIND | kernel.RECURSIVE)
    kernel.make_read_only(target, devices=devices)


def _without_namespaces(places: Places, complaints: tuple[str, ...], serve: Serve) -> None:
    kernel.die_with_parent()
    if _nobody_is_known() and _nobody_could_read(places):
        os.chown(places.temporary, NOBODY, NOBODY)
        os.setgroups([])
        os.setresgid(NOBODY, NOBODY, NOBODY)
        os.setresuid(NOBODY, NOBODY, NOBODY)
        kernel.die_with_parent()
    kernel.not_readable_by_peers()
    os.umask(0o077)
    serve(False, _process_table(), complaints)


def _nobody_could_read(places: Places) -> bool:
    """Whether Python and its libraries can be reached by a user without rights."""

    paths = [path for path in (*places.readable, places.code) if os.path.lexists(path)]

    def look() -> None:
        try:
            os.setgroups([])
            os.setresgid(NOBODY, NOBODY, NOBODY)
            os.setresuid(NOBODY, NOBODY, NOBODY)
            for path in paths:
                os.close(os.open(path, os.O_RDONLY))
        except OSError:
            os._exit(1)

    return os.waitpid(_start(look), 0)[1] == 0


def set_limit(kind: int, value: int) -> None:
    """An rlimit, soft and hard, never above the hard limit that is there already."""
    hard = resource.getrlimit(kind)[1]
    value = value if hard == resource.RLIM_INFINITY else min(value, hard)
    resource.setrlimit(kind, (value, value))
