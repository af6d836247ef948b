"""What the instructor sees of a classroom: who began, how far each is, who handed in. Nothing of what was answered."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from grader.classroom.drafts import HandIn
from grader.classroom.room import OPEN_SECONDS, Room, is_empty
from grader.store.register import Paper
from grader.store.school import Candidate
from grader.store.wording import counted

#: Whether a candidate has begun, is there, and has handed in.
Standing = tuple[bool, bool, bool]


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

    @property
    def is_there(self) -> bool:
        """Whether a page of theirs spoke up of late."""
        return self.ago is not None and self.ago < OPEN_SECONDS

    @property
    def began_at(self) -> str:
        """When it was begun, as the clock on the wall has it; empty where it was not."""
        return _on_the_wall(self.begun) if self.begun else ""


def seen(room: Room) -> list[Seen]:
    """Who has begun, how many answers each has saved, when each was last there, and who has handed in."""
    drafts, session, now = room.drafts, room.session, room.clock.seconds()
    # Asked of all candidates at once: it is looked at every two seconds, beside those who save.
    begun, last, hand_ins, codes, all_given, all_answers = (
        drafts.all_begun(session), drafts.last_seen(session), drafts.hand_ins(session), drafts.has_codes(session),
        drafts.all_given(session), drafts.all_answers(session),
    )  # fmt: skip
    found = []
    for candidate, paper in room.candidates:
        started = begun.get(paper.id)
        wanted = started.wanted if started else ()
        answers = all_answers.get(paper.id, {})
        answered = sum(name in answers and not is_empty(answers[name]) for name in wanted)
        allowed = started.minutes if started else room.allowed(candidate)
        given = all_given.get(candidate.id, 0.0)
        end = started.end(given) if started else None
        at, devices = last.get(paper.id, (None, 0))
        found.append(
            Seen(
                candidate, paper, candidate.id in codes, started.day if started else "", answered, len(wanted),
                None if at is None else max(0.0, now - at), devices,
                None if allowed is None else allowed + given,
                None if end is None else end - now, hand_ins.get(paper.id),
            )
        )  # fmt: skip
    return found


def news(room: Room, before: Mapping[str, Standing]) -> tuple[list[str], dict[str, Standing]]:
    """A line for each candidate who began, went, came back or handed in since ``before``, and one on all of them.

    Gives too how all stand now.
    """
    found = seen(room)
    now = {one.candidate.id: (bool(one.begun), one.is_there, one.hand_in is not None) for one in found}
    # Nobody has to be told that a page was closed after handing in.
    changed = [
        one
        for one in found
        if now[one.candidate.id] != before.get(one.candidate.id, (False, False, False))
        and not (one.hand_in and before.get(one.candidate.id, (False, False, False))[2])
    ]
    return [*map(_line, changed), *([_of_all(found)] if changed else [])], now


def _of_all(found: list[Seen]) -> str:
    begun, handed_in = sum(bool(one.begun) for one in found), sum(one.hand_in is not None for one in found)
    return f"{begun} of {counted(len(found), 'candidate')} began, {handed_in} handed in"


def _line(one: Seen) -> str:
    return f"  {one.candidate.id}: {one.answered} of {one.wanted} answered, {state(one)}"


def state(one: Seen) -> str:
    """How a candidate stands, in words."""
    if not one.begun:
        if not one.has_code:
            return "no slip yet"
        return "" if one.minutes is None else f"will have {one.minutes:g} minutes"
    if one.hand_in:
        late = f", {counted(math.ceil(one.hand_in.late), 'minute')} late" if one.hand_in.late else ""
        receipt = f"receipt {one.hand_in.digest[:8]} … {one.hand_in.digest[-8:]}"
        return f"handed in at {_on_the_wall(one.hand_in.day)}{late}, {receipt}"
    if one.ago is None:
        here = "not seen"
    else:
        here = "there now" if one.is_there else f"last seen {math.ceil(one.ago / 60)} min ago"
    time = ""
    if one.left is not None:
        # As the page of the candidate says it: a minute that is begun counts.
        time = f", {counted(math.ceil(one.left / 60), 'minute')} left" if one.left > 0 else ", time is over"
    return f"{here}{time}{f', {one.devices} devices' if one.devices > 1 else ''}"


def _on_the_wall(moment: str) -> str:
    return datetime.fromisoformat(moment).astimezone().strftime("%H:%M")
