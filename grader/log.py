"""The log of a school: who did what to marks and packs, when and why. Append-only, a line of JSON for each event.

A line is on the disk before what it tells of is done. A run that is killed in between does it again, and the line
that it would write is there already, so it is not written twice.
"""

from __future__ import annotations

import getpass
import json
import os
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from grader.errors import GraderError
from grader.files import cut
from grader.school import School

MARKED = "marked"
MARKED_AGAIN = "marked again"
HAND_MARKS = "hand marks merged"
AGAIN_BEGUN = "marking again begun"
AGAIN_ENDED = "marking again ended"
REPLACED = "pack written again"

#: What tells two lines of one event apart: a run that goes on after a kill is later, and may be another person's.
_OF_THE_MOMENT = ("when", "who")


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
    """The log of one school. ``who`` and ``now`` give the person and the time of each line."""

    def __init__(
        self, school: School, who: Callable[[], str] = _who, now: Callable[[], datetime] = _now
    ) -> None:
        self._path = school.records / "log.jsonl"
        self._who, self._now = who, now
        self.lines: list[dict[str, Any]] = []
        self._latest: dict[str, dict[str, Any]] = {}
        self._read()

    def write(self, what: str, **about: Any) -> None:
        """Append an event, unless the latest line about its paper tells of this very event.

        The line is on the disk when this returns.
        """
        event = {"what": what, **about}
        latest = self._latest.get(str(about.get("paper", "")), {})
        if {name: value for name, value in latest.items() if name not in _OF_THE_MOMENT} == event:
            return
        line = {"when": self._now().isoformat(timespec="seconds"), "who": self._who(), **event}
        self._path.parent.mkdir(parents=True, exist_ok=True)
        with self._path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(line, ensure_ascii=False) + "\n")
            file.flush()
            os.fsync(file.fileno())
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
        if rest:
            # A run was killed while it wrote this line; what it tells of was not done yet.
            cut(self._path, len(whole) + len(newline))
        for number, text in enumerate(whole.splitlines(), 1):
            try:
                line = json.loads(text)
                self._keep(line | {"what": line["what"]})
            except (ValueError, KeyError, TypeError, RecursionError):
                raise GraderError(f"{self._path}: line {number} is damaged; restore the log from your backup") from None

    def _keep(self, line: dict[str, Any]) -> None:
        self.lines.append(line)
        self._latest[str(line.get("paper", ""))] = line
