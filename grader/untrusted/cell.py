"""The walls around one script, put up in its own process just before its first cell."""

from __future__ import annotations

import contextlib
import os
import resource
from dataclasses import dataclass

from . import call_filter, kernel
from .room import DEVICES, HOME, Places, set_limit

#: Threads that other processes of the user may start while a script runs, where they count as its own.
COMING_AND_GOING = 32


@dataclass(frozen=True)
class Bounds:
    """What one script may use; the fields have the meaning of grader.running.runner.Limits."""

    cell_seconds: float
    wall_seconds: float
    cpu_seconds: int
    memory_bytes: int
    file_bytes: int
    folder_bytes: int
    processes: int
    output_bytes: int
    answers: int
    spare_bytes: int


@dataclass(frozen=True)
class Walls:
    """Which walls the server uses. ``namespaces`` says whether it stands in a room of its own.

    ``tell_refused``: the server hears of each system call that is refused, to learn the list of calls again.
    """

    namespaces: bool
    landlock: bool
    seccomp: bool
    tell_refused: bool


def rules_of(places: Places) -> int:
    """The files that every script may read, as Landlock's rules (a descriptor); there are hundreds to go through."""
    readable, listable = _around_hidden(places)
    rules = kernel.landlock_rules([*readable, *DEVICES[1:]], listable)
    kernel.landlock_allow_all(rules, DEVICES[0])
    return rules


def own_world(bounds: Bounds) -> None:
    """Give the calling process, which is the first of its process tree, an empty home of its own."""
    kernel.unshare(kernel.NEW_MOUNTS | kernel.NEW_IPC)
    kernel.mount(
        "tmpfs", HOME, "tmpfs", kernel.NO_SUID | kernel.NO_DEVICES | kernel.NO_PROGRAMS,
        f"size={bounds.folder_bytes},nr_inodes=4096,mode=0700",
    )  # fmt: skip


def close_in(walls: Walls, bounds: Bounds, folder: str, keep: tuple[int, ...], rules: int, others: int) -> int:
    """Shut the calling process in: only ``folder`` to write, only ``keep`` of the open files, all limits on.

    ``rules``: those of :func:`rules_of`, to which the folder is added; -1 without Landlock. ``others``: how many
    threads its user has elsewhere, where they cannot be told from its own. Gives the descriptor that tells of refused
    calls, or -1.
    """
    os.setsid()
    kernel.die_with_parent()
    kernel.not_readable_by_peers(readable=walls.tell_refused)
    os.chdir(folder)
    _close_all_but((*keep, rules) if walls.landlock else keep)
    for name, value in _limits(walls, bounds, others).items():
        set_limit(getattr(resource, f"RLIMIT_{name}"), value)
    kernel.drop_capabilities()
    kernel.no_new_privileges()
    if walls.landlock:
        kernel.landlock_allow_all(rules, folder)
        kernel.landlock(rules)
        os.close(rules)
    if walls.seccomp:
        return call_filter.put_up(os.getpid(), own_world=walls.namespaces, tell=walls.tell_refused)
    return -1


def _limits(walls: Walls, bounds: Bounds, others: int) -> dict[str, int]:
    """The kernel's limits (setrlimit(2)) by the end of their names.

    CORE: a program that takes images of crashed processes is started at a limit of 0, but not of 1 (fs/coredump.c).
    SIGPENDING, NPROC, MSGQUEUE, MEMLOCK are counted by user, so that a script could else use up the marker's.
    """
    # With a room of its own the server counts; else everything of this user, which comes and goes.
    processes = bounds.processes + (1 if walls.namespaces else others + COMING_AND_GOING)
    return {
        "CORE": 1, "CPU": int(bounds.cpu_seconds), "FSIZE": bounds.file_bytes, "NOFILE": 64,
        "AS": bounds.memory_bytes, "NPROC": processes, "MEMLOCK": 0, "SIGPENDING": 64, "MSGQUEUE": 0, "RTPRIO": 0,
        "NICE": 0,
    }  # fmt: skip


def _close_all_but(keep: tuple[int, ...]) -> None:
    null = os.open("/dev/null", os.O_RDWR)
    for standard in (0, 1, 2):
        os.dup2(null, standard)
    ceiling = min(resource.getrlimit(resource.RLIMIT_NOFILE)[0], 65536)
    start = 3
    for descriptor in sorted({*keep, ceiling}):
        os.closerange(start, descriptor)
        start = descriptor + 1


def _around_hidden(places: Places) -> tuple[list[str], list[str]]:
    """Readable paths without the hidden ones: a folder with a hidden one below is given entry by entry."""
    readable, listable = [places.code], []
    waiting = list(places.readable)
    while waiting:
        place = waiting.pop()
        if place in places.hidden:
            continue
        if not any(hidden.startswith(place + "/") for hidden in places.hidden):
            readable.append(place)
            continue
        listable.append(place)
        with contextlib.suppress(OSError), os.scandir(place) as entries:
            waiting.extend(entry.path for entry in entries)
    return readable, listable
