"""Classrooms that a program has open beside its other work, as the desk has."""

from __future__ import annotations

import threading
import time
from pathlib import Path

from grader.classroom.room import Room, is_open
from grader.classroom.serving import Served, picked, prepared
from grader.running.faults import Fault, reported
from grader.store.errors import GraderError

#: How long opening may take: the school is read, and what waits is written.
_OPENING_SECONDS = 30.0
#: How long closing may take: pages that are just answered get their answer.
_CLOSING_SECONDS = 15.0
_NAME = "classroom "


def begin(folder: Path, sitting: str, attempt: int, host: str, minutes: float | None, is_safe: bool) -> Served:
    """Open a classroom that serves beside what this program does, until it is closed or the program ends.

    Raises: :class:`GraderError` where it is open already, or the address is none of this machine; whatever else kept it
    from opening.
    """
    address = picked(host)
    room = Room(folder, sitting, attempt, minutes)
    try:
        served = prepared(room, address.host, is_safe=is_safe)
    except BaseException:
        room.close()
        raise
    failed: list[Exception] = []

    def serve() -> None:
        try:
            served.run()
        except Exception as error:
            failed.append(error)
            if served.opened.is_set():  # else it is told where it was to be opened
                reported(Fault.of(error), folder)

    # A daemon: whoever ends the program is not held up. Nothing that was saved is lost by it.
    thread = threading.Thread(target=serve, daemon=True, name=f"{_NAME}{room.session}")
    thread.start()
    end = time.monotonic() + _OPENING_SECONDS
    while not served.opened.wait(0.05) and thread.is_alive() and time.monotonic() < end:
        pass
    if served.opened.is_set():
        return served
    served.stop()  # should it still come so far
    raise failed[0] if failed else GraderError("the classroom does not open; look again in a minute")


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
