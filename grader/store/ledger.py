"""A ledger: lines of JSON that are only ever appended, each sealed with the school key over itself and the seal before.

The register, the log and the register of certificates are ledgers. A line that was altered, taken out or put in shows
when a ledger is read. Lines cut off at its end do not: that shows by a state code that is kept elsewhere, see
:mod:`grader.store.state`.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import click

from grader.store.errors import GraderError
from grader.store.files import truncate, write_text

Line = dict[str, Any]

#: The fields into which people write, or candidates by the names of their files; forgetting somebody empties them.
FREE_TEXT = ("file", "why", "reason", "hand", "comment", "note")
#: What stands in a line where a name or free text was.
TAKEN_OUT = "(forgotten)"
#: A clock that is set right goes back by seconds, or by minutes where it had run freely for long.
CLOCK_TOLERANCE = timedelta(minutes=10)
#: A time further ahead than this is no matter of zones.
FAR_AHEAD = timedelta(days=1)
_TEXT = re.compile(rb'"(?:[^"\\]|\\.)*"')
#: What a disk that lost its power, or an editor, leaves behind the last letter of a file.
_BLANKS = b"\0 \t\r"


def sealed(key: bytes, before: str, line: Line) -> str:
    """The seal of a line whose neighbour before it has the seal ``before``.

    Keyed, so that nobody without the school key can write a ledger that holds together.
    """
    return _seal(key, before, _canonical(line))


def _seal(key: bytes, before: str, text: str) -> str:
    return hmac.new(key, (before + text).encode(), hashlib.sha256).hexdigest()


def _canonical(line: Line) -> str:
    return json.dumps(line, ensure_ascii=False, sort_keys=True)


def _what_stays(line: Line) -> Line:
    """What of a line stays when somebody is forgotten: ids, times, marks and digests; of hand marks the marks."""
    stays = {name: value for name, value in line.items() if name not in FREE_TEXT}
    if isinstance(line.get("hand"), dict):
        stays["hand"] = {part: given[0] for part, given in line["hand"].items()}
    return stays


class Ledger:
    """One such file. Every seal is checked when it is opened, and ``keep`` is told each line and its seal, in order.

    ``name`` is what the ledger is called in the lines that say what is wrong with it; ``begin`` what the first seal is
    chained to, so that no line of another ledger with the same key passes for one of this. A last line that was half
    written when a run was killed never counted, and is cut off; a whole one that lacks its line end counts, and gets
    it. With ``only_read`` nothing on the disk is touched: for commands that may run beside one that writes.

    Raises: :class:`GraderError`, naming the line that is damaged or not as it was written.
    """

    def __init__(
        self,
        path: Path,
        key: bytes,
        name: str,
        begin: str,
        keep: Callable[[Line, str], None],
        only_read: bool = False,
        sort_names: bool = False,
    ) -> None:
        self.path = path
        self._key, self._name, self._begin, self._keep, self._sort_names = key, name, begin, keep, sort_names
        #: The seal of the latest line.
        self.seal = begin
        #: By how many lines there are: a digest, chained from line to line, of what of them stays in any case.
        self._states = [hashlib.sha256(begin.encode()).hexdigest()]
        #: The number and the time of each line that tells a time.
        self._times: list[tuple[int, datetime]] = []
        self._told_of_clock = False
        self._read(only_read)

    def __len__(self) -> int:
        return len(self._states) - 1

    def state(self, lines: int) -> str:
        """A digest of the first so many lines, the same before and after somebody was forgotten.

        Raises: :class:`IndexError` where there are not so many.
        """
        return self._states[lines]

    @property
    def latest(self) -> datetime | None:
        """The latest time that any line tells of; None where none does."""
        return max((when for _, when in self._times), default=None)

    def append(self, bodies: list[Line]) -> None:
        """Append lines; they are on the disk when this returns, and none of them where it raises OSError."""
        text, seal = "", self.seal
        lines: list[tuple[Line, str]] = []
        for body in bodies:
            body = json.loads(json.dumps(body))  # sealed as it will be read
            seal = sealed(self._key, seal, body)
            lines.append((body, seal))
            text += json.dumps(body | {"seal": seal}, ensure_ascii=False, sort_keys=self._sort_names) + "\n"
        self.path.parent.mkdir(parents=True, exist_ok=True)
        self._tell_of_clock(bodies)
        _append(self.path, text.encode())
        for body, one in lines:
            self._take(body, one, _canonical(body))

    def rewrite(self, changed: Callable[[Line], Line]) -> None:
        """Change lines and seal them anew, as forgetting somebody must; those before the first change stay as they are.

        The ledger is to be opened again afterwards.
        """
        seal, text, before = self._begin, "", ""
        if self.path.exists():
            before = self.path.read_text(encoding="utf-8")
        for line in before.splitlines():
            body = json.loads(line)
            old = body.pop("seal")
            body = changed(body)
            seal = sealed(self._key, seal, body)
            text += (line if seal == old else json.dumps({**body, "seal": seal}, ensure_ascii=False)) + "\n"
        if text != before:
            write_text(self.path, text)

    # The clock ------------------------------------------------------------------------------------------------------

    def clock_faults(self, now: datetime) -> Iterator[str]:
        """A line for each run of lines whose time is before that of an earlier line, or far ahead of ``now``."""
        latest: tuple[int, datetime] | None = None
        runs: list[tuple[str, int, int, datetime]] = []
        for number, when in self._times:
            if when > now + FAR_AHEAD:
                fault = f"though now it is {_day(now)}"
            elif latest and when < latest[1] - CLOCK_TOLERANCE:
                fault = f"though line {latest[0]}, before, was written on {_day(latest[1])}"
            else:
                latest = max(latest or (number, when), (number, when), key=lambda one: one[1])
                continue
            if runs and runs[-1][0] == fault and runs[-1][2] == number - 1:
                runs[-1] = (fault, runs[-1][1], number, runs[-1][3])
            else:
                runs.append((fault, number, number, when))
        for fault, first, last, when in runs:
            lines = f"line {first} was" if first == last else f"lines {first} to {last} were"
            yield (
                f"{self.path}: {lines} written on {_day(when)} by the machine's clock, {fault}: the clock was "
                "wrong, or somebody set it"
            )

    def tell_of_clock(self, now: datetime) -> bool:
        """Say on the error stream, if it is so, that the clock is behind what was written here before."""
        if self.latest is None or now >= self.latest - CLOCK_TOLERANCE:
            return False
        click.echo(
            f"pitside: this machine's clock says {_day(now)}, and {self._name} has a line of {_day(self.latest)}: "
            "mend the clock",
            err=True,
        )
        return True

    def _tell_of_clock(self, bodies: list[Line]) -> None:
        times = [_time(body["when"]) for body in bodies if "when" in body]
        if times and not self._told_of_clock:
            self._told_of_clock = self.tell_of_clock(min(times))

    # Reading --------------------------------------------------------------------------------------------------------

    def _read(self, only_read: bool) -> None:
        try:
            data = self.path.read_bytes()
        except FileNotFoundError:
            return
        whole, newline, rest = data.rpartition(b"\n")
        lines = whole.splitlines()
        for number, text in enumerate(lines, 1):
            self._read_line(number, text)
        last, start = rest.rstrip(_BLANKS), len(whole) + len(newline)
        if _is_half(last):
            # A run was killed while it wrote this line; what it tells of was not done yet.
            if rest and not only_read:
                truncate(self.path, start)
            return
        self._read_line(len(lines) + 1, last)
        if not only_read:
            if last != rest:
                truncate(self.path, start + len(last))
            _append(self.path, b"\n")

    def _read_line(self, number: int, text: bytes) -> None:
        where = f"{self.path}: line {number}"
        damaged = GraderError(f"{where} is damaged; restore {self._name} from your backup")
        try:
            body = json.loads(text)
            seal = str(body.pop("seal"))
            canonical = _canonical(body)
            right = _seal(self._key, self.seal, canonical)
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            raise damaged from None
        if not hmac.compare_digest(right.encode(), seal.encode(errors="replace")):
            raise GraderError(
                f"{where} is not as it was written, or a line before it is missing; restore {self._name} from your "
                "backup"
            )
        try:
            self._take(body, seal, canonical)
        except (ValueError, KeyError, TypeError, AttributeError):
            raise damaged from None

    def _take(self, body: Line, seal: str, canonical: str) -> None:
        self._keep(body, seal)
        self.seal = seal
        stays = canonical if not any(name in body for name in FREE_TEXT) else _canonical(_what_stays(body))
        self._states.append(hashlib.sha256((self._states[-1] + stays).encode()).hexdigest())
        if "when" in body:
            self._times.append((len(self), _time(body["when"])))


def _time(text: Any) -> datetime:
    when = datetime.fromisoformat(text)
    return when if when.tzinfo else when.replace(tzinfo=UTC)


def _day(when: datetime) -> str:
    return when.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC")


def _is_half(text: bytes) -> bool:
    """Whether a text is nothing, or the beginning of a JSON object that is not closed."""
    if not text:
        return True
    outside = _TEXT.sub(b"", text)
    is_open = b'"' in outside or sum(map(outside.count, (b"{", b"["))) > sum(map(outside.count, (b"}", b"]")))
    return text.startswith(b"{") and is_open


def _append(path: Path, data: bytes) -> None:
    with path.open("ab", buffering=0) as file:
        start = file.tell()
        try:
            left = memoryview(data)
            while left:
                left = left[file.write(left) :]
            os.fsync(file.fileno())
        except OSError:
            file.truncate(start)  # nothing may follow half a line
            raise
