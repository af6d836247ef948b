"""Every file below a folder that unknown hands have filled, however deep, wide or odd it is."""

from __future__ import annotations

import heapq
import os
from collections import deque
from collections.abc import Iterator
from pathlib import Path

#: How many folders deep it is looked, and how long a path may be, in bytes; the system takes none above 4095.
DEEPEST = 20
LONGEST_PATH = 4_000
#: Most things in one folder, and in all of them.
MOST_IN_FOLDER = 10_000
MOST_IN_ALL = 100_000

_MOVE = "move what nobody handed in elsewhere"


def files_below(top: Path) -> Iterator[tuple[Path, str]]:
    """Each thing below a folder that is no folder, with an empty text; and what is not looked into, with why.

    What lies nearest to the top comes first, so that a heap of folders hides nothing beside or above it. Links are not
    followed, and what is hidden, its name beginning with a point, is left out.
    """
    waiting = deque([(top, 0)])
    left = MOST_IN_ALL
    while waiting:
        folder, depth = waiting.popleft()
        try:
            with os.scandir(folder) as entries:
                seen = ((entry.name, entry.is_dir(follow_symlinks=False)) for entry in entries if entry.name[0] != ".")
                # Never more of them in memory than are looked at.
                here = heapq.nsmallest(MOST_IN_FOLDER + 1, seen)
        except OSError as error:
            yield folder, f"a folder that cannot be opened ({error.strerror}): see that you may read it, or {_MOVE}"
            continue
        if len(here) > MOST_IN_FOLDER:
            yield folder, f"a folder of more than {MOST_IN_FOLDER} files, the last of which are not read: {_MOVE}"
        for name, is_folder in here[:MOST_IN_FOLDER]:
            path = folder / name
            if len(os.fsencode(path)) > LONGEST_PATH:
                yield path, "a path that is too long: put it into a folder nearer to the top"
            elif is_folder and depth == DEEPEST:
                yield path, f"a folder more than {DEEPEST} folders deep: put what was handed in nearer to the top"
            elif left == 0:
                yield folder, f"more than {MOST_IN_ALL} files lie here, the last of which are not read: {_MOVE}"
                return
            elif is_folder:
                waiting.append((path, depth + 1))
                left -= 1
            else:
                yield path, ""
                left -= 1
