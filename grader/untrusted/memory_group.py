"""A bound on all the memory that the room takes, in every process and in the kernel: a control group (cgroup).

The limits of setrlimit(2) are for one process; pages that lie in pipes, files in memory and the kernel's own records
are in none of them. A group can be made by who may write in the tree of groups: the superuser, or a user to whom the
system has handed a part of the tree.
"""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass

#: Bytes for the server and its libraries, above what a script may use. They were seen to take 0.2 GB.
FOR_THE_SERVER = 512 << 20
#: From this adjustment on a process is the first that the kernel ends when a group is full (proc(5), oom_score_adj).
FIRST_TO_GO = 1000


@dataclass(frozen=True)
class MemoryGroup:
    """A group with a bound. Its files: the processes in it, and the count of those ended because it was full."""

    folder: str
    processes: int
    endings: int

    def enter(self) -> None:
        """Put the calling process, and so all that it starts from now on, into the group."""
        os.write(self.processes, b"0")

    def ended(self) -> int:
        """How many processes the kernel has ended because the group was full."""
        fields = (line.split() for line in os.pread(self.endings, 4096, 0).decode().splitlines())
        return next((int(field[1]) for field in fields if field[0] == "oom_kill"), 0)

    def remove(self) -> None:
        """Close and remove the group, once its processes are gone."""
        os.close(self.processes)
        os.close(self.endings)
        with contextlib.suppress(OSError):
            os.rmdir(self.folder)


def made(most_bytes: int) -> MemoryGroup | str:
    """A new group in which processes have at most ``most_bytes`` together; else why there can be none here."""
    complaint = "this system has no memory groups that a program may make"
    try:
        with open("/proc/self/mountinfo") as mounts, open("/proc/self/cgroup") as own:
            places = list(places_for_a_group(mounts.read(), own.read()))
    except OSError as error:
        return f"{complaint} ({error.strerror})"
    for place, second in places:
        folder = f"{place}/marking-room-{os.getpid()}"
        opened: list[int] = []
        try:
            _remove_orphans(place)
            os.mkdir(folder)
            _bound(folder, most_bytes, second)
            opened.append(os.open(f"{folder}/cgroup.procs", os.O_WRONLY | os.O_CLOEXEC))
            opened.append(
                os.open(f"{folder}/memory.{'events' if second else 'oom_control'}", os.O_RDONLY | os.O_CLOEXEC)
            )
            return MemoryGroup(folder, *opened)
        except OSError as error:
            complaint = f"{error.strerror}: {place}"
            for descriptor in opened:
                os.close(descriptor)
            with contextlib.suppress(OSError):
                os.rmdir(folder)
    return complaint


def places_for_a_group(mounts: str, own: str) -> Iterator[tuple[str, bool]]:
    """Folders below which a memory group may be made, best first, with whether they are of the second version.

    mounts, own: the text of /proc/self/mountinfo and /proc/self/cgroup. In the second version a group that holds
    processes can have no bounded group below it (cgroups(7), "no internal processes"), so its parent comes next.
    """
    groups = {tuple(names.split(",")): path for _, names, path in (line.split(":", 2) for line in own.splitlines())}
    for line in mounts.splitlines():
        before, _, after = line.partition(" - ")
        root, point = before.split()[3:5]
        kind, _, options = after.split(" ", 2)
        second = kind == "cgroup2"
        if second or (kind == "cgroup" and "memory" in options.split(",")):
            names = next((names for names in groups if (names == ("",) if second else "memory" in names)), None)
            if names is None or not (root == "/" or (groups[names] + "/").startswith(root + "/")):
                continue
            group = groups[names].removeprefix(root).strip("/")
            yield f"{point}/{group}".rstrip("/"), second
            if second and group:
                yield f"{point}/{os.path.dirname(group)}".rstrip("/"), second


def first_to_go(table: int) -> None:
    """Have the kernel end the calling process before others when memory is full. table: the folder of processes."""
    with contextlib.suppress(OSError):
        descriptor = os.open("self/oom_score_adj", os.O_WRONLY | os.O_CLOEXEC, dir_fd=table)
        os.write(descriptor, b"%d" % FIRST_TO_GO)
        os.close(descriptor)


def _remove_orphans(place: str) -> None:
    """Remove the groups of rooms that were killed before they could; one that holds a process stays by itself."""
    for name in os.listdir(place):
        match = re.fullmatch(r"marking-room-([0-9]+)", name)
        if match and not os.path.exists(f"/proc/{match[1]}"):
            with contextlib.suppress(OSError):
                os.rmdir(f"{place}/{name}")


def _bound(folder: str, most_bytes: int, second: bool) -> None:
    _write(f"{folder}/memory.{'max' if second else 'limit_in_bytes'}", most_bytes)
    with contextlib.suppress(OSError):  # where the kernel does not count what is swapped out there may be no such file
        if second:
            _write(f"{folder}/memory.swap.max", 0)
        else:
            _write(f"{folder}/memory.memsw.limit_in_bytes", most_bytes)


def _write(path: str, number: int) -> None:
    with open(path, "w") as file:
        file.write(str(number))
