"""What the server looks at while a script runs: the things that no limit of the kernel holds."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator

from .cell import Bounds

#: Seconds between two looks.
LOOK = 0.05


class Watch:
    """Looks at the machine's memory and at a script's threads, and at its folder where that has no size of its own.

    table: an open descriptor of the folder of processes, or -1 where that cannot be seen; process: the script's, by a
    descriptor. folder: the one to look at, or None.
    """

    def __init__(self, table: int, process: int, bounds: Bounds, folder: str | None) -> None:
        self._bounds, self._folder = bounds, folder
        self._memory = self._status = -1
        with contextlib.suppress(OSError, ValueError):
            told = _opened(f"self/fdinfo/{process}", table)
            about = _lines(told)
            os.close(told)
            self._status = _opened(f"{next(_numbers(about, b'Pid:'))}/status", table)
            self._memory = _opened("meminfo", table)

    def close(self) -> None:
        for descriptor in (self._memory, self._status):
            if descriptor >= 0:
                os.close(descriptor)

    @property
    def sees(self) -> bool:
        """Whether memory and threads can be looked at here."""
        return self._memory >= 0 and self.available() is not None and self.threads() > 0

    def available(self) -> int | None:
        """Bytes of memory that the machine can still give (since Linux 3.14), or None where that is not told."""
        return next((kilobytes << 10 for kilobytes in _numbers(_lines(self._memory), b"MemAvailable:")), None)

    def threads(self) -> int:
        """How many threads the script has; 0 where that cannot be seen, or it has ended."""
        return next(_numbers(_lines(self._status), b"Threads:"), 0)

    def passed(self) -> str:
        """Which bound has been passed: "memory" (the machine's), "threads", "folder"; "" for none."""
        available = self.available()
        if available is not None and available < self._bounds.spare_bytes:
            return "memory"
        if self.threads() > self._bounds.processes:
            return "threads"
        if self._folder is not None and not _within(self._folder, self._bounds.folder_bytes):
            return "folder"
        return ""


def tasks_of_this_user(table: int) -> int:
    """How many threads the calling user has, in all processes that can be seen."""
    count = 0
    with contextlib.suppress(OSError):
        for name in os.listdir(table):
            if name.isdigit():
                with contextlib.suppress(OSError):  # it has ended meanwhile
                    if os.stat(name, dir_fd=table).st_uid == os.getuid():
                        count += os.stat(name + "/task", dir_fd=table).st_nlink - 2
    return count


def _opened(path: str, table: int) -> int:
    return os.open(path, os.O_RDONLY | os.O_CLOEXEC, dir_fd=table) if table >= 0 else -1


def _lines(descriptor: int) -> list[bytes]:
    try:
        return os.pread(descriptor, 8192, 0).splitlines()
    except OSError:  # the process has ended, or it was never seen
        return []


def _numbers(lines: list[bytes], name: bytes) -> Iterator[int]:
    return (int(line.split()[1]) for line in lines if line.startswith(name))


def _within(folder: str, most: int, most_entries: int = 20_000) -> bool:
    """Whether a folder that an unknown hand fills stays within ``most`` bytes and a sane number of entries.

    Folders so deep that their path is too long for the kernel do not.
    """
    total = entries = 0
    waiting = [folder]
    while waiting:
        try:
            with os.scandir(waiting.pop()) as found:
                for entry in found:
                    entries += 1
                    if entry.is_dir(follow_symlinks=False):
                        waiting.append(entry.path)
                    else:
                        total += entry.stat(follow_symlinks=False).st_blocks * 512
                    if total > most or entries > most_entries:
                        return False
        except FileNotFoundError:  # removed meanwhile
            continue
        except OSError as error:
            if error.errno == errno.ENAMETOOLONG:
                return False
    return True
