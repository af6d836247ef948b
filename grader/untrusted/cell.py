"""The walls around one script, put up in its own process just before its first cell."""

from __future__ import annotations

import contextlib
import os
import resource
from dataclasses import dataclass

from . import kernel
from .room import DEVICES, HOME, Places, set_limit


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


@dataclass(frozen=True)
class Walls:
    """Which walls the server uses. ``namespaces`` says whether it stands in a room of its own."""

    namespaces: bool
    landlock: bool
    seccomp: bool


def own_world(walls: Walls, bounds: Bounds) -> None:
    """Prepare, in the keeper, what its next child will live in: a process tree and an empty home of its own."""
    if walls.namespaces:
        kernel.unshare(kernel.NEW_MOUNTS | kernel.NEW_PROCESSES | kernel.NEW_IPC)
        kernel.mount(
            "tmpfs", HOME, "tmpfs", kernel.NO_SUID | kernel.NO_DEVICES | kernel.NO_PROGRAMS,
            f"size={bounds.folder_bytes},nr_inodes=4096,mode=0700",
        )  # fmt: skip


def close_in(places: Places, walls: Walls, bounds: Bounds, folder: str, keep: tuple[int, ...]) -> None:
    """Shut the calling process in: only ``folder`` to write, only ``keep`` of the open files, all limits on."""
    os.setsid()
    kernel.die_with_parent()
    os.chdir(folder)
    _close_all_but(keep)
    set_limit(resource.RLIMIT_CORE, 0)
    set_limit(resource.RLIMIT_CPU, int(bounds.cpu_seconds))
    set_limit(resource.RLIMIT_FSIZE, bounds.file_bytes)
    set_limit(resource.RLIMIT_NOFILE, 64)
    set_limit(resource.RLIMIT_MEMLOCK, 0)
    set_limit(resource.RLIMIT_AS, bounds.memory_bytes)
    if walls.namespaces:  # else it would count the marker's other processes too
        set_limit(resource.RLIMIT_NPROC, bounds.processes + 2)  # the server and the keeper count
    kernel.drop_capabilities()
    kernel.no_new_privileges()
    if walls.landlock:
        readable, listable = _around_hidden(places)
        kernel.landlock([*readable, *DEVICES[1:]], listable, [folder, "/dev/null"])
    if walls.seccomp:
        kernel.refuse_calls(os.getpid(), shared_files=not walls.namespaces)


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
