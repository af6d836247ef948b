"""The slips: a sheet to print and cut, with the address and each candidate's code, also as a square to photograph."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import segno
from markupsafe import Markup

from grader.classroom.more_time import more_time
from grader.classroom.room import Room
from grader.pages.pages import filled
from grader.store.files import write_bytes


def write_slips(room: Room, address: str, candidates: Iterable[str] = ()) -> Path:
    """Make new codes for these candidates, or for all, and write the sheet of their slips; gives where it lies.

    The sheet is the only place where the codes stand: it can be read by its owner alone, and is to be deleted when the
    sitting is over. Raises: as :meth:`Room.new_codes` does.
    """
    codes = room.new_codes(candidates)
    slips = [
        {
            "candidate": candidate,
            "code": codes[candidate.id],
            "square": Markup(
                segno.make(f"{address}/#{codes[candidate.id]}", error="m", micro=False).svg_inline(
                    border=4, omitsize=True, svgclass="square", lineclass=None
                )
            ),
            "minutes": room.allowed(candidate),
        }
        for candidate, _ in room.candidates
        if candidate.id in codes
    ]
    text = filled(
        "classroom/slips.html",
        school=room.school,
        sitting=room.sitting,
        day=f"{room.sitting.day:%d %B %Y}",
        address=address,
        is_safe=address.startswith("https:"),
        slips=slips,
    )
    write_bytes(room.slips_file, text.encode(), mode=0o600)
    return room.slips_file


def drop_slips(room: Room) -> bool:
    """Delete the sheet of slips; gives whether there was one."""
    there = room.slips_file.exists()
    room.slips_file.unlink(missing_ok=True)
    return there


def unread_arrangements(room: Room) -> list[str]:
    """Lines on candidates whose arrangements speak of time without a number that can be read."""
    return [
        f"{candidate.id}: {words!r} in the roster gives no number of minutes; give them on the day"
        for candidate, _ in room.candidates
        for words in more_time(candidate.arrangements).unread
    ]
