"""The slips: a sheet to print and cut, with the address and each candidate's code, also as a square to photograph."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from urllib.parse import urlsplit

import segno
from markupsafe import Markup

from grader.classroom.more_time import more_time
from grader.classroom.own_certificate import own_certificate
from grader.classroom.room import Room, is_open, room_of
from grader.classroom.slips_file import slips_file, slips_files
from grader.pages.pages import filled
from grader.store.errors import GraderError
from grader.store.files import write_bytes
from grader.store.school import School

_BETWEEN = "the classroom of this sitting is just being opened or closed; try again in a moment"


def write_slips(room: Room, address: str, candidates: Sequence[str] = ()) -> Path:
    """Make new codes for these candidates, or for all, and write the sheet of their slips; gives where it lies.

    The sheet is the only place where the codes stand: it can be read by its owner alone, and is to be deleted when the
    sitting is over. Where it cannot be written the codes of before hold. Raises: ``OSError`` then, and as
    :meth:`Room.new_codes` does.
    """
    written: Path | None = None
    try:
        # One change: nobody's code ends before the sheet with the new one lies on the disk.
        with room.drafts.change():
            codes = room.new_codes(candidates)
            # A new slip lies beside the sheet of all, which may have to be printed yet.
            one = next(iter(codes)) if len(codes) == 1 and candidates else ""
            path = slips_file(room.school, room.session, one)
            write_bytes(path, _sheet(room, address, codes).encode(), mode=0o600)
            written = path
    except BaseException:
        if written:  # its codes were not kept, and open nothing
            written.unlink(missing_ok=True)
        raise
    return path


def _sheet(room: Room, address: str, codes: Mapping[str, str]) -> str:
    is_safe = address.startswith("https:")
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
    return filled(
        "classroom/slips.html",
        school=room.school,
        sitting=room.sitting,
        day=f"{room.sitting.day:%d %B %Y}",
        address=address,
        is_safe=is_safe,
        fingerprint=own_certificate(room.school, urlsplit(address).hostname or "")[1] if is_safe else "",
        slips=slips,
    )


def slips_of_open(school: School, session: str, candidates: Sequence[str] = ()) -> Path | None:
    """New slips for a classroom that some other program has open, with its address; None where none has.

    Raises: :class:`GraderError` where it is just being opened or closed, and as :func:`write_slips` does.
    """
    if not is_open(school, session):
        return None
    room = room_of(school, session)
    if room is None:
        raise GraderError(_BETWEEN)
    try:
        address = room.drafts.address(session)
        if not address:
            raise GraderError(_BETWEEN)
        return write_slips(room, address, candidates)
    finally:
        room.close()


def drop_slips(room: Room) -> None:
    """Delete the sheet of slips, and the new slips of those who lost theirs."""
    for path in slips_files(room.school, room.session):
        path.unlink(missing_ok=True)


def unread_arrangements(room: Room) -> list[str]:
    """Lines on candidates whose arrangements speak of time without a number that can be read."""
    return [
        f"{candidate.id}: {words!r} in the roster gives no number of minutes; give them on the day"
        for candidate, _ in room.candidates
        for words in more_time(candidate.arrangements).unread
    ]
