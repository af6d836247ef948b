"""The log of a school: who did what to marks and packs, when and why. Append-only, a line of JSON for each event.

A line is on the disk before what it tells of is done. A run that is killed in between does it again, and the line
that it would write is there already, so it is not written twice.

Each line is sealed with the school key, over itself and the seal before it, so a line that was altered, taken out or
put in shows when the log is read. A log cut off at a line's end holds together by itself: what it lost shows where
records tell of it, see :func:`grader.marking.trail.check_log`.
"""

from __future__ import annotations

import getpass
import hmac
import json
import os
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from grader.store.errors import GraderError
from grader.store.files import cut
from grader.store.part_marks import Change, ChangeKind
from grader.store.register import sealed
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

#: What tells two lines of one event apart: a run that goes on after a kill is later, and may be another person's.
_OF_THE_MOMENT = ("when", "who", "seal")
#: What the first line's seal is chained to: no line of the register, sealed with the same key, passes for one of these.
_BEGIN = "log"


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
        self._path = school.records / "log.jsonl"
        self._key = school.key
        self._who, self._now, self._only_read = who, now, only_read
        #: The seal of the latest line.
        self.seal = _BEGIN
        self.lines: list[dict[str, Any]] = []
        #: The numbers of the lines about each paper.
        self._about_paper: dict[str, list[int]] = {}
        self._read()

    @property
    def path(self) -> Path:
        return self._path

    def about(self, paper: str) -> list[dict[str, Any]]:
        """All lines about a paper, in order."""
        return [line for _, line in self.numbered(paper)]

    def numbered(self, paper: str) -> list[tuple[int, dict[str, Any]]]:
        """All lines about a paper, in order, each with its number in the log, from 1 on."""
        return [(number, self.lines[number - 1]) for number in self._about_paper.get(paper, ())]

    def changes(self, paper: str) -> tuple[tuple[str, Change], ...]:
        """Every change of the paper's marks after marking, in order, each with the part's name in the paper."""
        return tuple(
            (line["part"], _change(line)) for line in self.about(paper) if line["what"] == CHANGED
        )

    def write(self, what: str, **about: Any) -> None:
        """Append an event, unless the latest line about its paper tells of this very event.

        The line is on the disk when this returns.
        """
        event = {"what": what, **about}
        latest = (self.about(str(about.get("paper", ""))) or [{}])[-1]
        if {name: value for name, value in latest.items() if name not in _OF_THE_MOMENT} == event:
            return
        line = {"when": self._now().isoformat(timespec="seconds"), "who": self._who(), **event}
        line = json.loads(json.dumps(line))  # sealed as it will be read
        seal = sealed(self._key, self.seal, line)
        line["seal"] = seal
        self._path.parent.mkdir(parents=True, exist_ok=True)
        with self._path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(line, ensure_ascii=False) + "\n")
            file.flush()
            os.fsync(file.fileno())
        self.seal = seal
        self._keep(line)

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

    def _read(self) -> None:
        try:
            data = self._path.read_bytes()
        except FileNotFoundError:
            return
        whole, newline, rest = data.rpartition(b"\n")
        if rest and not self._only_read:
            # A run was killed while it wrote this line; what it tells of was not done yet.
            cut(self._path, len(whole) + len(newline))
        for number, text in enumerate(whole.splitlines(), 1):
            where = f"{self._path}: line {number}"
            try:
                body = json.loads(text)
                seal = str(body.pop("seal"))
                self._keep(body | {"what": body["what"], "seal": seal})
                self.seal = sealed(self._key, self.seal, body)
            except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
                raise GraderError(f"{where} is damaged; restore the log from your backup") from None
            if not hmac.compare_digest(self.seal.encode(), seal.encode(errors="replace")):
                raise GraderError(
                    f"{where} is not as it was written, or a line before it is missing; "
                    "restore the log from your backup"
                )

    def _keep(self, line: dict[str, Any]) -> None:
        self.lines.append(line)
        self._about_paper.setdefault(str(line.get("paper", "")), []).append(len(self.lines))


def _change(line: dict[str, Any]) -> Change:
    part = line["part"].lstrip("0123456789")
    return Change(part, line["marks"], line["before"], ChangeKind(line["kind"]), line["why"], line["who"], line["when"])
