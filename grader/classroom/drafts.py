"""What the classroom keeps while papers are worked on: codes, devices, each answer that was saved, what was handed in.

One SQLite file in the school's folder. Its log is written ahead (WAL) and each change is on the disk before anybody is
told of it (``synchronous=FULL``), so that ending the program or the machine at any moment loses nothing that a page
said was saved. Every answer that ever came stays, also where a later one took its place.
"""

from __future__ import annotations

import json
import sqlite3
import threading
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from grader.classroom.clock import Kept
from grader.classroom.scripts_of_answers import Answer
from grader.store.errors import GraderError
from grader.store.school import School

FILE = "classroom.db"
#: Devices with which one paper is opened; more is somebody who hands a code around.
MOST_DEVICES = 8
#: Bytes of all answers that ever came for a paper; a page that sends more is at fault.
MOST_BYTES = 32 << 20
_WAIT_SECONDS = 15.0
#: What to do about what SQLite says, by its code.
_WHAT_TO_DO = {
    sqlite3.SQLITE_FULL: "the disk is full: make room, then do this again",
    sqlite3.SQLITE_BUSY: "another program is writing to it: do this again in a minute",
    sqlite3.SQLITE_READONLY: "it may not be written: see whose file and folder these are, then do this again",
    sqlite3.SQLITE_IOERR: "the disk does not read or write it: see to the disk, then do this again",
}

_TABLES = """
CREATE TABLE IF NOT EXISTS codes (code TEXT PRIMARY KEY, session TEXT NOT NULL, candidate TEXT NOT NULL,
    UNIQUE (session, candidate));
CREATE TABLE IF NOT EXISTS rooms (session TEXT PRIMARY KEY, minutes REAL, seconds REAL NOT NULL DEFAULT 0,
    day TEXT NOT NULL DEFAULT '', even REAL NOT NULL DEFAULT 0,
    address TEXT NOT NULL DEFAULT '', stop INTEGER NOT NULL DEFAULT 0);
CREATE TABLE IF NOT EXISTS begun (paper TEXT PRIMARY KEY, session TEXT NOT NULL, candidate TEXT NOT NULL,
    seconds REAL NOT NULL, day TEXT NOT NULL, minutes REAL, wanted TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS given (session TEXT NOT NULL, candidate TEXT NOT NULL, minutes REAL NOT NULL,
    PRIMARY KEY (session, candidate));
CREATE TABLE IF NOT EXISTS devices (id INTEGER PRIMARY KEY AUTOINCREMENT, paper TEXT NOT NULL, cookie TEXT UNIQUE,
    number INTEGER NOT NULL, day TEXT NOT NULL, seen REAL NOT NULL, UNIQUE (paper, number));
CREATE TABLE IF NOT EXISTS saves (number INTEGER PRIMARY KEY AUTOINCREMENT, paper TEXT NOT NULL,
    device INTEGER NOT NULL, sent TEXT NOT NULL, item TEXT NOT NULL, value TEXT NOT NULL, base INTEGER NOT NULL,
    typed REAL NOT NULL, day TEXT NOT NULL, late INTEGER NOT NULL, kept INTEGER NOT NULL,
    UNIQUE (paper, device, sent, item));
CREATE TABLE IF NOT EXISTS answers (paper TEXT NOT NULL, item TEXT NOT NULL, value TEXT NOT NULL,
    number INTEGER NOT NULL, device INTEGER NOT NULL, typed REAL NOT NULL, PRIMARY KEY (paper, item));
CREATE TABLE IF NOT EXISTS sizes (paper TEXT PRIMARY KEY, bytes INTEGER NOT NULL);
CREATE TABLE IF NOT EXISTS handed_in (paper TEXT PRIMARY KEY, session TEXT NOT NULL, candidate TEXT NOT NULL,
    device INTEGER NOT NULL, day TEXT NOT NULL, late REAL NOT NULL, digest TEXT NOT NULL, file TEXT NOT NULL,
    script BLOB NOT NULL, landed TEXT NOT NULL DEFAULT '');
CREATE TABLE IF NOT EXISTS to_log (number INTEGER PRIMARY KEY AUTOINCREMENT, paper TEXT NOT NULL, line TEXT NOT NULL);
"""
#: Tables with rows of one paper.
_OF_A_PAPER = ("begun", "devices", "saves", "answers", "sizes", "handed_in", "to_log")
#: Tables with rows of one candidate.
_OF_A_CANDIDATE = ("codes", "given")


@dataclass(frozen=True)
class Device:
    """A browser that was let in with a code: ``number`` counts those of its paper."""

    id: int
    paper: str
    number: int


@dataclass(frozen=True)
class Held:
    """An answer that counts: its value, the number of the save that it came by, and by which device."""

    value: Answer
    number: int
    device: int


@dataclass(frozen=True)
class Saved:
    """An answer as it came: ``base`` is the save that the device had seen of it, ``typed`` the room's time of it."""

    item: str
    value: Answer
    base: int
    typed: float


@dataclass(frozen=True)
class Clash:
    """Two devices answered the same: which answer is kept, and which is not, each with its device's number."""

    item: str
    kept: Answer
    kept_device: int
    other: Answer
    other_device: int


@dataclass(frozen=True)
class Done:
    """What came of a message: where another device had answered meanwhile, and answers that came after handing in."""

    clashes: tuple[Clash, ...]
    after: int


@dataclass(frozen=True)
class HandIn:
    """A script that was handed in: when by the machine's clock, minutes late, its digest, and where it lies."""

    paper: str
    candidate: str
    device: int
    day: str
    late: float
    digest: str
    file: str
    landed: str


@dataclass(frozen=True)
class Begun:
    """When a paper was begun, by the room's clock and by the machine's, and the minutes for it; None is no limit.

    ``wanted`` are the fields that are counted as answers.
    """

    seconds: float
    day: str
    minutes: float | None
    wanted: tuple[str, ...] = ()

    def end(self, given: float) -> float | None:
        """The second of the room's clock at which the time is over, with so many minutes given; None is no limit."""
        return None if self.minutes is None else self.seconds + 60 * (self.minutes + given)


class Drafts:
    """The classroom's file of one school.

    Raises: :class:`GraderError` where it cannot be opened, read or written now; nothing is half written then.
    """

    def __init__(self, school: School) -> None:
        self.path = drafts_file(school)
        self._lock = threading.RLock()
        with self._told("opened"):
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._db = sqlite3.connect(self.path, timeout=_WAIT_SECONDS, isolation_level=None, check_same_thread=False)
            try:
                self.path.chmod(0o600)
                self._db.execute("PRAGMA journal_mode=WAL")
                self._db.execute("PRAGMA synchronous=FULL")
                # What is deleted is written over: answers are a person's.
                self._db.execute("PRAGMA secure_delete=ON")
                self._db.executescript(_TABLES)
            except BaseException:
                self._db.close()
                raise

    def close(self) -> None:
        with self._lock:
            self._db.close()

    @contextmanager
    def _told(self, done: str) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            # The lower byte is the kind; what is above says where in SQLite.
            kind = getattr(error, "sqlite_errorcode", 0) & 0xFF
            to_do = _WHAT_TO_DO.get(kind, "restore it from your backup")
            raise GraderError(f"{self.path}: cannot be {done} ({error}); {to_do}") from error

    @contextmanager
    def change(self) -> Iterator[None]:
        """All that is changed within is on the disk when the outermost of these ends, or none of it."""
        with self._lock, self._told("written"):
            if self._db.in_transaction:
                yield
                return
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:  # a full disk ends it by itself
                    self._db.execute("ROLLBACK")
                raise

    def _rows(self, sql: str, *values: Any) -> list[Any]:
        with self._lock, self._told("read"):
            return self._db.execute(sql, values).fetchall()

    def _row(self, sql: str, *values: Any) -> Any:
        rows = self._rows(sql, *values)
        return rows[0] if rows else None

    # The room -------------------------------------------------------------------------------------------------------

    def open_room(self, session: str, minutes: float | None, address: str) -> None:
        with self.change():
            self._db.execute(
                "INSERT INTO rooms (session, minutes, address) VALUES (?, ?, ?) ON CONFLICT (session) DO UPDATE SET "
                "minutes = excluded.minutes, address = excluded.address, stop = 0",
                (session, minutes, address),
            )

    def tick(self, session: str, clock: Kept) -> None:
        """Keep how far the room's clock is."""
        with self.change():
            self._db.execute(
                "UPDATE rooms SET seconds = ?, day = ?, even = ? WHERE session = ?",
                (clock.seconds, clock.day.isoformat(), clock.even, session),
            )

    def clock(self, session: str) -> Kept | None:
        """How far the room's clock was when it was last kept."""
        found = self._row("SELECT seconds, day, even FROM rooms WHERE session = ?", session)
        return Kept(found[0], datetime.fromisoformat(found[1]), found[2]) if found and found[1] else None

    def address(self, session: str) -> str:
        found = self._row("SELECT address FROM rooms WHERE session = ?", session)
        return found[0] if found else ""

    def minutes(self, session: str) -> float | None:
        found = self._row("SELECT minutes FROM rooms WHERE session = ?", session)
        return found[0] if found else None

    def ask_to_stop(self, session: str) -> None:
        with self.change():
            self._db.execute("UPDATE rooms SET stop = 1 WHERE session = ?", (session,))

    def is_asked_to_stop(self, session: str) -> bool:
        found = self._row("SELECT stop FROM rooms WHERE session = ?", session)
        return bool(found and found[0])

    # Codes and devices ----------------------------------------------------------------------------------------------

    def put_codes(self, session: str, digests: Mapping[str, str], papers: Iterable[str]) -> None:
        """Keep a code's digest for each candidate, in place of the one before; who came in by that is out."""
        with self.change():
            for candidate, digest in digests.items():
                self._db.execute("DELETE FROM codes WHERE session = ? AND candidate = ?", (session, candidate))
                self._db.execute("INSERT INTO codes VALUES (?, ?, ?)", (digest, session, candidate))
            for paper in papers:
                self._db.execute("UPDATE devices SET cookie = NULL WHERE paper = ?", (paper,))

    def has_codes(self, session: str) -> set[str]:
        return {row[0] for row in self._rows("SELECT candidate FROM codes WHERE session = ?", session)}

    def whose(self, session: str, digest: str) -> str:
        """The candidate whose code this is; empty where it is nobody's."""
        found = self._row("SELECT candidate FROM codes WHERE session = ? AND code = ?", session, digest)
        return found[0] if found else ""

    def let_in(self, paper: str, cookie: str, seconds: float, day: datetime) -> Device | None:
        """A new device for a paper, by the digest of its cookie; None where there are too many already."""
        with self.change():
            counts = "SELECT COUNT(*), COUNT(cookie) FROM devices WHERE paper = ?"
            count, are_in = self._row(counts, paper)
            if are_in >= MOST_DEVICES:
                return None
            self._db.execute(
                "INSERT INTO devices (paper, cookie, number, day, seen) VALUES (?, ?, ?, ?, ?)",
                (paper, cookie, count + 1, day.isoformat(), seconds),
            )
            return self.device(cookie)

    def device(self, cookie: str) -> Device | None:
        found = self._row("SELECT id, paper, number FROM devices WHERE cookie = ?", cookie)
        return Device(*found) if found else None

    def devices(self, paper: str) -> dict[int, int]:
        """The numbers of a paper's devices by their ids."""
        return dict(self._rows("SELECT id, number FROM devices WHERE paper = ?", paper))

    def forget_device(self, device: Device) -> None:
        """Let a device in no more; what it saved stays."""
        with self.change():
            self._db.execute("UPDATE devices SET cookie = NULL WHERE id = ?", (device.id,))

    def others_open(self, device: Device, since: float) -> int:
        """How many other devices of the paper were there since this second of the room's clock."""
        return self._row(
            "SELECT COUNT(*) FROM devices WHERE paper = ? AND id != ? AND seen >= ? AND cookie IS NOT NULL",
            device.paper, device.id, since,
        )[0]  # fmt: skip

    # Working --------------------------------------------------------------------------------------------------------

    def begin(self, paper: str, session: str, candidate: str, begun: Begun) -> bool:
        """Begin a paper, once; gives whether it was begun by this."""
        with self.change():
            done = self._db.execute(
                "INSERT OR IGNORE INTO begun VALUES (?, ?, ?, ?, ?, ?, ?)",
                (paper, session, candidate, begun.seconds, begun.day, begun.minutes, _json(list(begun.wanted))),
            )
            return done.rowcount == 1

    def begun(self, paper: str) -> Begun | None:
        found = self._row("SELECT seconds, day, minutes, wanted FROM begun WHERE paper = ?", paper)
        return _begun(found) if found else None

    def give_minutes(self, session: str, candidate: str, minutes: float) -> float:
        """Give a candidate so many minutes more on the day; gives how many that are by now."""
        with self.change():
            self._db.execute(
                "INSERT INTO given VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET minutes = minutes + excluded.minutes",
                (session, candidate, minutes),
            )
            return self.given_minutes(session, candidate)

    def given_minutes(self, session: str, candidate: str) -> float:
        found = self._row("SELECT minutes FROM given WHERE session = ? AND candidate = ?", session, candidate)
        return found[0] if found else 0.0

    def all_given(self, session: str) -> dict[str, float]:
        """By candidate, the minutes that were given on the day."""
        return dict(self._rows("SELECT candidate, minutes FROM given WHERE session = ?", session))

    def save(
        self,
        session: str,
        device: Device,
        sent: str,
        changes: Iterable[Saved],
        clock: Kept,
        late: bool,
    ) -> Done:
        """Keep what a device sent.

        ``sent`` names the message: what comes twice by the same name is kept once. An answer takes the place of the one
        that counts, unless that came by another device, was not seen by this one, and was typed later. Nothing takes
        the place of anything once the paper is handed in, but it is kept. Raises: :class:`TooMuchError`.
        """
        clashes, after = [], 0
        with self.change():
            self.tick(session, clock)
            self._db.execute("UPDATE devices SET seen = ? WHERE id = ?", (clock.seconds, device.id))
            moment = clock.day.isoformat()
            is_over = self.hand_in(device.paper) is not None
            for one in changes:
                value = _json(one.value)
                known = "SELECT 1 FROM saves WHERE paper = ? AND device = ? AND sent = ? AND item = ?"
                if self._row(known, device.paper, device.id, sent, one.item):
                    continue
                self._weigh(device.paper, len(value.encode()))
                now = self._row(
                    "SELECT value, number, device, typed FROM answers WHERE paper = ? AND item = ?",
                    device.paper,
                    one.item,
                )
                unseen = now is not None and now[2] != device.id and now[1] > one.base and now[0] != value
                kept = not is_over and not (unseen and now[3] > one.typed)
                number = self._db.execute(
                    "INSERT INTO saves (paper, device, sent, item, value, base, typed, day, late, kept) "
                    "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    (
                        device.paper,
                        device.id,
                        sent,
                        one.item,
                        value,
                        one.base,
                        one.typed,
                        moment,
                        late,
                        kept,
                    ),
                ).lastrowid
                if kept:
                    self._db.execute(
                        "INSERT INTO answers VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET "
                        "value = excluded.value, number = excluded.number, device = excluded.device, "
                        "typed = excluded.typed",
                        (device.paper, one.item, value, number, device.id, one.typed),
                    )
                after += is_over
                if unseen and not is_over:
                    numbers = self.devices(device.paper)
                    ours, theirs = (one.value, device.number), (json.loads(now[0]), numbers[now[2]])
                    clashes.append(Clash(one.item, *(ours if kept else theirs), *(theirs if kept else ours)))
        return Done(tuple(clashes), after)

    def _weigh(self, paper: str, count: int) -> None:
        before = self._row("SELECT bytes FROM sizes WHERE paper = ?", paper)
        weight = (before[0] if before else 0) + count + 200
        if weight > MOST_BYTES:
            raise TooMuchError
        self._db.execute(
            "INSERT INTO sizes VALUES (?, ?) ON CONFLICT DO UPDATE SET bytes = excluded.bytes", (paper, weight)
        )

    def answers(self, paper: str) -> dict[str, Held]:
        """The answers that count, by field."""
        rows = self._rows("SELECT item, value, number, device FROM answers WHERE paper = ?", paper)
        return {item: Held(json.loads(value), number, device) for item, value, number, device in rows}

    def saves(self, paper: str) -> list[tuple[int, int, str, Answer, bool, bool]]:
        """Every answer that ever came for a paper: number, device, field, value, whether late, whether it was kept."""
        rows = self._rows(
            "SELECT number, device, item, value, late, kept FROM saves WHERE paper = ? ORDER BY number", paper
        )
        return [(*row[:3], json.loads(row[3]), bool(row[4]), bool(row[5])) for row in rows]

    def count_late(self, paper: str) -> int:
        """How many answers of a paper were saved late, each counted once however often it was saved."""
        late = "SELECT COUNT(DISTINCT item) FROM saves WHERE paper = ? AND late AND kept"
        return int(self._row(late, paper)[0])

    # Handing in -----------------------------------------------------------------------------------------------------

    def put_hand_in(self, session: str, hand_in: HandIn, script: bytes) -> None:
        """Keep a script as it is handed in; within a :meth:`change`, together with the line for the log."""
        self._db.execute(
            "INSERT INTO handed_in VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, '')",
            (hand_in.paper, session, hand_in.candidate, hand_in.device, hand_in.day, hand_in.late, hand_in.digest,
             hand_in.file, script),
        )  # fmt: skip

    def hand_in(self, paper: str) -> HandIn | None:
        found = self._row(f"SELECT {_HAND_IN} FROM handed_in WHERE paper = ?", paper)
        return HandIn(*found) if found else None

    def hand_ins(self, session: str) -> dict[str, HandIn]:
        """What was handed in, by paper."""
        rows = self._rows(f"SELECT {_HAND_IN} FROM handed_in WHERE session = ?", session)
        return {row[0]: HandIn(*row) for row in rows}

    def to_land(self) -> list[tuple[str, str, bytes]]:
        """Scripts that do not lie among the scripts yet: paper, file name, bytes."""
        return self._rows("SELECT paper, file, script FROM handed_in WHERE landed = ''")

    def landed(self, paper: str, file: str) -> None:
        with self.change():
            self._db.execute("UPDATE handed_in SET landed = ? WHERE paper = ?", (file, paper))

    # The log --------------------------------------------------------------------------------------------------------

    def tell_log(self, paper: str, **line: Any) -> None:
        """Keep a line for the school's log until the log can be written; within a :meth:`change`."""
        self._db.execute("INSERT INTO to_log (paper, line) VALUES (?, ?)", (paper, _json(line)))

    def to_log(self) -> list[tuple[int, str, dict[str, Any]]]:
        return [
            (number, paper, json.loads(line))
            for number, paper, line in self._rows("SELECT number, paper, line FROM to_log ORDER BY number")
        ]

    def logged(self, number: int) -> None:
        with self.change():
            self._db.execute("DELETE FROM to_log WHERE number = ?", (number,))

    def waiting(self) -> tuple[int, int]:
        """How many scripts do not lie among the scripts yet, and how many lines wait for the school's log."""
        return (
            self._row("SELECT COUNT(*) FROM handed_in WHERE landed = ''")[0],
            self._row("SELECT COUNT(*) FROM to_log")[0],
        )

    def not_handed_in(self) -> set[str]:
        """Papers that were begun and not handed in."""
        return {
            row[0] for row in self._rows("SELECT paper FROM begun WHERE paper NOT IN (SELECT paper FROM handed_in)")
        }

    # Looking on, and forgetting -------------------------------------------------------------------------------------

    def last_seen(self, session: str) -> dict[str, tuple[float, int]]:
        """By paper: the last second at which a device of it was there, and how many devices it had."""
        rows = self._rows(
            "SELECT paper, MAX(seen), COUNT(*) FROM devices WHERE paper IN "
            "(SELECT paper FROM begun WHERE session = ?) GROUP BY paper",
            session,
        )
        return {paper: (seen, count) for paper, seen, count in rows}

    def all_begun(self, session: str) -> dict[str, Begun]:
        """By paper, when it was begun."""
        rows = self._rows("SELECT paper, seconds, day, minutes, wanted FROM begun WHERE session = ?", session)
        return {row[0]: _begun(row[1:]) for row in rows}

    def all_answers(self, session: str) -> dict[str, dict[str, Answer]]:
        """By paper and field, the answers that count of all papers that were begun."""
        rows = self._rows(
            "SELECT paper, item, value FROM answers WHERE paper IN (SELECT paper FROM begun WHERE session = ?)", session
        )
        found: dict[str, dict[str, Answer]] = {}
        for paper, item, value in rows:
            found.setdefault(paper, {})[item] = json.loads(value)
        return found

    def rows_of(self, candidate: str, papers: Iterable[str]) -> int:
        """How many rows are about a candidate with these papers."""
        count = sum(self._row(f"SELECT COUNT(*) FROM {table} WHERE candidate = ?", candidate)[0]
                    for table in _OF_A_CANDIDATE)  # fmt: skip
        return count + sum(
            self._row(f"SELECT COUNT(*) FROM {table} WHERE paper = ?", paper)[0]
            for paper in papers
            for table in _OF_A_PAPER
        )

    def forget(self, candidate: str, papers: Iterable[str]) -> None:
        """Delete all rows about a candidate, also from what the disk holds of the file."""
        with self.change():
            for table in _OF_A_CANDIDATE:
                self._db.execute(f"DELETE FROM {table} WHERE candidate = ?", (candidate,))
            for paper in papers:
                for table in _OF_A_PAPER:
                    self._db.execute(f"DELETE FROM {table} WHERE paper = ?", (paper,))
        with self._lock, self._told("written"):
            self._db.execute("VACUUM")
            self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")


_HAND_IN = "paper, candidate, device, day, late, digest, file, landed"


class TooMuchError(Exception):
    """A device sent more than a paper can be."""


def drafts_file(school: School) -> Path:
    """Where the classroom's file of a school lies."""
    return school.records / FILE


def _begun(row: Any) -> Begun:
    seconds, day, minutes, wanted = row
    return Begun(seconds, day, minutes, tuple(json.loads(wanted)))


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True)
