"""What the instructor sees of a classroom: who began, how far each is, who handed in. Nothing of what was answered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from grader.classroom.drafts import HandIn
from grader.classroom.more_time import more_time
from grader.classroom.room import OPEN_SECONDS, Room, is_empty
from grader.store.register import Paper
from grader.store.school import Candidate
from grader.store.wording import counted


@dataclass(frozen=True)
class Seen:
    """What the instructor sees of a candidate; nothing of it says what was answered, or whether it is right."""

    candidate: Candidate
    paper: Paper
    has_code: bool
    begun: str
    answered: int
    wanted: int
    ago: float | None
    devices: int
    minutes: float | None
    left: float | None
    hand_in: HandIn | None
    arrangements_unread: tuple[str, ...] = ()


def seen(room: Room) -> list[Seen]:
    """Who has begun, how many answers each has saved, when each was last there, and who has handed in."""
    drafts, session, now = room.drafts, room.session, room.clock.seconds()
    begun, last, hand_ins, codes = (
        drafts.all_begun(session), drafts.last_seen(session), drafts.hand_ins(session), drafts.has_codes(session),
    )  # fmt: skip
    found = []
    for candidate, paper in room.candidates:
        started = begun.get(paper.id)
        wanted = started.wanted if started else ()
        answers = drafts.answers(paper.id) if started else {}
        answered = sum(name in answers and not is_empty(answers[name].value) for name in wanted)
        allowed = started.minutes if started else room.allowed(candidate)
        given = drafts.given_minutes(session, candidate.id)
        at, devices = last.get(paper.id, (None, 0))
        unread = more_time(candidate.arrangements).unread if room.minutes is not None else ()
        found.append(
            Seen(
                candidate, paper, candidate.id in codes, started.day if started else "", answered, len(wanted),
                None if at is None else max(0.0, now - at), devices,
                None if allowed is None else allowed + given,
                room.left(paper.id, candidate.id), hand_ins.get(paper.id), unread,
            )
        )  # fmt: skip
    return found


def lines(room: Room) -> Iterator[str]:
    """How the sitting stands, a line for each candidate who has begun."""
    found = seen(room)
    begun = [one for one in found if one.begun]
    handed_in = sum(one.hand_in is not None for one in found)
    yield f"{len(begun)} of {counted(len(found), 'candidate')} began, {handed_in} handed in"
    for one in begun:
        yield f"  {one.candidate.id}: {one.answered} of {one.wanted} answered, {state(one)}"


def state(one: Seen) -> str:
    """How a candidate who has begun stands, in words."""
    if one.hand_in:
        late = f", {one.hand_in.late:.0f} minutes late" if one.hand_in.late else ""
        return f"handed in {one.hand_in.day}{late}, digest {one.hand_in.digest[:8]} {one.hand_in.digest[-8:]}"
    here = "there" if one.ago is not None and one.ago < OPEN_SECONDS else "not reached"
    time = "" if one.left is None else (f", {one.left / 60:.0f} minutes left" if one.left > 0 else ", time is over")
    return f"{here}{time}{f', {one.devices} devices' if one.devices > 1 else ''}"
