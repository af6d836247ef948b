"""Classrooms that a program has open beside its other work, as the desk has."""

from __future__ import annotations

import threading
import time
from pathlib import Path

from grader.classroom.room import Room, is_open
from grader.classroom.serving import Served, picked, prepared
from grader.store.errors import GraderError

#: How long closing may take: pages that are just answered get their answer.
_CLOSING_SECONDS = 15.0
_NAME = "classroom "


def begin(folder: Path, sitting: str, attempt: int, host: str, minutes: float | None, is_safe: bool) -> Served:
    """Open a classroom that serves beside what this program does, until it is closed or the program ends.

    Raises: :class:`GraderError` where it is open already, or the address is none of this machine.
    """
    address = picked(host)
    room = Room(folder, sitting, attempt, minutes)
    if is_open(room.school, room.session):
        room.close()
        raise GraderError("the classroom of this sitting is open already")
    served = prepared(room, address.host, is_safe=is_safe)
    # A daemon: whoever ends the program is not held up. Nothing that was saved is lost by it.
    threading.Thread(target=served.run, daemon=True, name=f"{_NAME}{room.session}").start()
    served.opened.wait(_CLOSING_SECONDS)
    return served


def is_open_here() -> bool:
    """Whether this program has a classroom open."""
    return any(one.name.startswith(_NAME) for one in threading.enumerate())


def closed(room: Room) -> bool:
    """Wait until the classroom is closed; gives whether it is."""
    end = time.monotonic() + _CLOSING_SECONDS
    while is_open(room.school, room.session):
        if time.monotonic() > end:
            return False
        time.sleep(0.1)
    return True
