"""The log of a school: who did what to marks and packs, when and why. Append-only, a line of JSON for each event.

A line is on the disk before what it tells of is done. A run that is killed in between does it again, and the line
that it would write is there already, so it is not written twice.

Each line is sealed with the school key, over itself and the seal before it, so a line that was altered, taken out or
put in shows when the log is read. A log cut off at a line's end holds together by itself: what it lost shows where
records tell of it, see :func:`grader.marking.trail.check_log`.
"""

from __future__ import annotations

import getpass
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from grader.store.ledger import Ledger
from grader.store.part_marks import Change, ChangeKind, HandMark
from grader.store.school import School

MARKED = "marked"
MARKED_AGAIN = "marked again"
HAND_MARKS = "hand marks merged"
AGAIN_BEGUN = "marking again begun"
AGAIN_ENDED = "marking again ended"
REPLACED = "pack written again"
FORGETTING = "forgetting a candidate begun"
FORGOTTEN = "candidate forgotten"
CHANGED = "mark changed"
NEW_SCHEME = "new mark scheme accepted"
REFUSED = "file refused"
SECOND_MARKS = "sample and second marks kept"
WRITTEN_TAKEN = "marks of written answers taken"
SET_ASIDE = "file set aside"
BROUGHT_BACK = "file brought back"
RULE_CHANGED = "pass rule changed"
CLASSROOM_BEGUN = "begun in the classroom"
CLASSROOM_SLIP = "new slip for the classroom"
CLASSROOM_DEVICE = "opened on another device in the classroom"
CLASSROOM_CLASH = "answered on two devices in the classroom"
CLASSROOM_AFTER = "answered in the classroom after handing in"
CLASSROOM_TIME = "time given in the classroom"
HANDED_IN = "handed in in the classroom"

#: What tells two lines of one event apart: a run that goes on after a kill is later, and may be another person's.
_OF_THE_MOMENT = ("when", "who", "seal")


@dataclass(frozen=True)
class Again:
    """A run that marks again: its number in the log, its reason, and the record's digest of each paper that is done."""

    number: int
    why: str
    done: dict[str, str]


def _who() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "unknown"


def _now() -> datetime:
    return datetime.now(UTC)


class Log:
    """The log of one school. ``who`` and ``now`` give the person and the time of each line.

    It is read, and each seal checked, when it is opened. With ``only_read`` nothing on the disk is touched: for
    commands that may run beside one that writes. Raises: :class:`GraderError`, naming the line that is not as written.
    """

    def __init__(
        self,
        school: School,
        who: Callable[[], str] = _who,
        now: Callable[[], datetime] = _now,
        only_read: bool = False,
    ) -> None:
        self._who, self._now = who, now
        self.lines: list[dict[str, Any]] = []
        #: The numbers of the lines about each paper.
        self._about_paper: dict[str, list[int]] = {}
        self.ledger = Ledger(school.records / "log.jsonl", school.key, "the log", "log", self._keep, only_read)

    @property
    def path(self) -> Path:
        return self.ledger.path

    @property
    def seal(self) -> str:
        """The seal of the latest line."""
        return self.ledger.seal

    def about(self, paper: str) -> list[dict[str, Any]]:
        """All lines about a paper, in order."""
        return [line for _, line in self.numbered(paper)]

    def numbered(self, paper: str) -> list[tuple[int, dict[str, Any]]]:
        """All lines about a paper, in order, each with its number in the log, from 1 on."""
        return [(number, self.lines[number - 1]) for number in self._about_paper.get(paper, ())]

    def changes(self, paper: str) -> tuple[tuple[str, Change], ...]:
        """Every change of the paper's marks after marking, in order, each with the part's name in the paper."""
        return tuple((line["part"], _change(line)) for line in self.about(paper) if line["what"] == CHANGED)

    def hand(self, paper: str) -> dict[str, HandMark]:
        """What the paper's parts were given by hand when the log last told of it, by the part's name in the paper."""
        latest: dict[str, list[Any]] = {}
        for line in self.about(paper):
            if "record" in line or line["what"] == HAND_MARKS:
                latest = line.get("hand", {})
        return {name: HandMark(name, marks, comment) for name, (marks, comment) in latest.items()}

    def write(self, what: str, **about: Any) -> None:
        """Append an event, unless the latest line about its paper tells of this very event.

        The line is on the disk when this returns.
        """
        event = {"what": what, **about}
        latest = (self.about(str(about.get("paper", ""))) or [{}])[-1]
        if {name: value for name, value in latest.items() if name not in _OF_THE_MOMENT} == event:
            return
        line = {"when": self._now().isoformat(timespec="seconds"), "who": self._who(), **event}
        self.ledger.append([line])

    def replace(self, paper: str, why: str) -> None:
        """Note that a pack is written once more; each time counts, also for the same reason as before."""
        before = sum(line["what"] == REPLACED and line.get("paper") == paper for line in self.lines)
        self.write(REPLACED, paper=paper, time=before + 1, why=why)

    def begin_again(self, why: str) -> Again:
        """Begin a run that marks again, or go on with the one of this reason that was killed before its end."""
        begun = [line for line in self.lines if line["what"] == AGAIN_BEGUN]
        ended = {line["again"] for line in self.lines if line["what"] == AGAIN_ENDED}
        if begun and begun[-1]["again"] not in ended and begun[-1]["why"] == why:
            number = begun[-1]["again"]
            of_this_run = [line for line in self.lines if "record" in line and line.get("again") == number]
            done = {line["paper"]: line["record"] for line in of_this_run}
            return Again(number, why, done)
        self.write(AGAIN_BEGUN, again=len(begun) + 1, why=why)
        return Again(len(begun) + 1, why, {})

    def end_again(self, again: Again) -> None:
        self.write(AGAIN_ENDED, again=again.number, why=again.why)

    def _keep(self, body: dict[str, Any], seal: str) -> None:
        self.lines.append(body | {"what": body["what"], "seal": seal})
        self._about_paper.setdefault(str(body.get("paper", "")), []).append(len(self.lines))


def _change(line: dict[str, Any]) -> Change:
    part = line["part"].lstrip("0123456789")
    return Change(part, line["marks"], line["before"], ChangeKind(line["kind"]), line["why"], line["who"], line["when"])
