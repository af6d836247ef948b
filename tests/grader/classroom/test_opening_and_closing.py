"""Opening and closing the classroom: who holds it, what its slips say, and what is told where something fails."""

from __future__ import annotations

import re
import socket
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from typing import Any

import pytest
from filelock import FileLock

from grader.classroom import app, drafts, running, serving
from grader.classroom import room as room_module
from grader.classroom.codes import digest_of, plain
from grader.classroom.drafts import Drafts
from grader.classroom.room import Open, Room, is_open, lock_file
from grader.classroom.serving import Served, prepared
from grader.classroom.slips import write_slips
from grader.store.errors import GraderError
from grader.store.files import only_one
from grader.store.school import School
from tests.grader.schools import SITTING


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as free:
        return free.getsockname()[1]


@pytest.fixture
def served(school: School) -> Iterator[Served]:
    """A classroom that is open, with a limit of 90 minutes and codes."""
    room = Room(school.folder, SITTING, minutes=90)
    room.new_codes()
    made = prepared(room, "127.0.0.1", free_port())
    thread = threading.Thread(target=made.run, daemon=True)
    thread.start()
    assert made.opened.wait(20)
    yield made
    made.stop()
    thread.join(20)
    assert not thread.is_alive()


def codes_of(text: str) -> list[str]:
    return re.findall(r'class="code">([\w-]+)<', text)


def owner_of(served: Served, code: str) -> str:
    return served.room.drafts.whose(SITTING, digest_of(served.room.school.key, plain(code)))


# Slips ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("with_address", [False, True])
def test_new_slip_by_a_second_command_bears_the_address_of_the_open_classroom(pitside, served, school, with_address):
    where = ("--address", "127.0.0.1") if with_address else ()
    status, said, complaints = pitside("classroom", school.folder, SITTING, "--slip-for", "aa-01", *where)
    assert (status, complaints) == (0, "")
    slip = school.packs / SITTING / "slips_aa-01.html"
    assert str(slip) in said
    text = slip.read_text(encoding="utf-8")
    assert served.address in text
    assert "90 minutes" in text
    (code,) = codes_of(text)
    assert owner_of(served, code) == "aa-01"


def test_classroom_that_is_open_elsewhere_keeps_its_codes_where_it_is_opened_with_new_slips(pitside, school):
    room = Room(school.folder, SITTING)
    (code,) = room.new_codes(["aa-01"]).values()
    with Open(school, SITTING):
        for slips in (("--slips",), ("--slip-for", "aa-01")):
            status, _, complaints = pitside("classroom", school.folder, SITTING, "--address", "127.0.0.1", *slips)
            assert status == 2
            assert "open" in complaints
            assert room.drafts.whose(SITTING, digest_of(school.key, plain(code))) == "aa-01"
            assert not list((school.packs / SITTING).glob("slips*"))
    room.close()


def test_command_writes_slips_once_it_holds_the_classroom_and_drops_them_at_closing(pitside, school, monkeypatch):
    found = []

    async def looks(*_: object, **__: object) -> None:
        found.extend(codes_of((school.packs / SITTING / "slips.html").read_text(encoding="utf-8")))

    monkeypatch.setattr(serving.uvicorn.Server, "serve", looks)
    status, said, _ = pitside("classroom", school.folder, SITTING, "--address", "127.0.0.1")
    assert status == 0
    assert len(found) == 4
    assert "is open at http://127.0.0.1" in said
    assert not list((school.packs / SITTING).glob("slips*"))


# What does not open ---------------------------------------------------------------------------------------------------


def is_free(port: int) -> bool:
    with socket.socket() as line:
        return line.connect_ex(("127.0.0.1", port)) != 0


@pytest.fixture
def watched(monkeypatch) -> list[Served]:
    """What was about to be served."""
    made: list[Served] = []

    def keeping(*given: object, **named: object) -> Served:
        made.append(prepared(*given, **named))
        return made[-1]

    monkeypatch.setattr(running, "prepared", keeping)
    return made


def is_put_away(one: Served) -> bool:
    with pytest.raises(sqlite3.ProgrammingError, match="closed"):
        one.room.drafts._db.execute("SELECT 1")
    return one.socket.fileno() == -1 and is_free(one.classroom.port)


def test_classroom_that_another_holds_is_not_said_to_be_open_and_leaves_nothing_open(school, watched, monkeypatch):
    monkeypatch.setattr(running, "_OPENING_SECONDS", 5.0)
    with Open(school, SITTING), pytest.raises(GraderError, match="open already"):
        running.begin(school.folder, SITTING, 1, "127.0.0.1", None, False)
    assert all(map(is_put_away, watched))
    assert not running.is_open_here()


def test_classroom_that_cannot_be_kept_is_not_said_to_be_open_and_leaves_nothing_open(school, watched, monkeypatch):
    monkeypatch.setattr(running, "_OPENING_SECONDS", 5.0)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device", "classroom.db")

    monkeypatch.setattr(Drafts, "open_room", full)
    with pytest.raises(OSError, match="No space left"):
        running.begin(school.folder, SITTING, 1, "127.0.0.1", None, False)
    assert all(map(is_put_away, watched))
    assert len(watched) == 1
    assert not running.is_open_here()
    assert not is_open(school, SITTING)


def test_certificate_that_cannot_be_used_is_told_before_anything_is_open(school, monkeypatch):
    bad = school.folder / "no-certificate.pem"
    bad.write_text("nothing")
    monkeypatch.setattr(serving, "own_certificate", lambda *_: (bad, ""))
    room = Room(school.folder, SITTING)
    port = free_port()
    with pytest.raises(OSError):
        prepared(room, "127.0.0.1", port, is_safe=True)
    assert is_free(port)
    room.close()


def test_who_only_looks_whether_it_is_open_keeps_nobody_from_opening_it(school):
    held, free = threading.Event(), threading.Event()

    def looks() -> None:
        with FileLock(lock_file(school, SITTING)):
            held.set()
            free.wait(0.3)

    looking = threading.Thread(target=looks)
    looking.start()
    held.wait(5)
    with Open(school, SITTING):
        assert is_open(school, SITTING)
    looking.join()


def test_sheet_that_cannot_be_written_leaves_the_codes_of_before(opening, school):
    opened = opening()
    (school.packs / SITTING / "slips.html").mkdir(parents=True)
    with pytest.raises(OSError):
        write_slips(opened.room, "http://192.168.7.1:8420")
    opened.browser().enter(opened.codes["aa-01"])


def test_sheet_whose_codes_cannot_be_kept_is_not_left_to_be_printed(opening, school):
    opened = opening()
    db = opened.room.drafts._db

    def no_commit(action: int, what: str | None, *_: object) -> int:
        return sqlite3.SQLITE_DENY if (action, what) == (sqlite3.SQLITE_TRANSACTION, "COMMIT") else sqlite3.SQLITE_OK

    db.set_authorizer(no_commit)
    with pytest.raises(GraderError, match="not authorized"):
        write_slips(opened.room, "http://192.168.7.1:8420")
    db.set_authorizer(None)
    assert not db.in_transaction, "what is changed next would never be kept"
    assert not list((school.packs / SITTING).glob("slips*"))
    opened.browser().enter(opened.codes["aa-01"])


# The disk ------------------------------------------------------------------------------------------------------------


class FullDisk:
    """The classroom's file on a disk that has no room for what is to be kept."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self.db = db

    def __getattr__(self, name: str) -> Any:
        return getattr(self.db, name)

    def execute(self, sql: str, *values: Any) -> sqlite3.Cursor:
        if sql == "COMMIT":
            full = sqlite3.OperationalError("database or disk is full")
            full.sqlite_errorcode = sqlite3.SQLITE_FULL
            raise full
        return self.db.execute(sql, *values)


@contextmanager
def full(room: Room) -> Iterator[None]:
    db = room.drafts._db
    room.drafts._db = FullDisk(db)
    yield
    room.drafts._db = db


@contextmanager
def held(room: Room) -> Iterator[None]:
    room.drafts._db.execute("PRAGMA busy_timeout = 50")
    with closing(sqlite3.connect(room.drafts.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield


@contextmanager
def read_only(room: Room) -> Iterator[None]:
    room.drafts._db.execute("PRAGMA query_only = ON")
    yield
    room.drafts._db.execute("PRAGMA query_only = OFF")


WAYS = {
    "the disk is full": full,
    "another program is writing to it": held,
    "it may not be written": read_only,
}


@pytest.mark.parametrize("says", WAYS)
def test_page_says_kindly_that_the_machine_cannot_do_it_now_and_the_next_try_goes_well(opening, school, says):
    opened = opening()
    browser, second = opened.browser().enter(opened.codes["aa-01"], begin=False), opened.browser()
    token = re.search(r'name="token" value="([0-9a-f]+)"', browser.client.get("/begin").text)[1]
    with WAYS[says](opened.room):
        answers = [
            second.client.post("/enter", data={"code": opened.codes["aa-02"]}, follow_redirects=False),
            browser.client.post("/begin", data={"token": token}, follow_redirects=False),
        ]
        with pytest.raises(GraderError, match=f"classroom.db: cannot be written .*{says}"):
            opened.room.give_minutes("aa-01", 5)
    for answer in answers:
        assert answer.status_code == 503
        assert "<h1>" in answer.text
        assert "Tell your instructor, wait a minute, then try again." in answer.text
        assert "set-cookie" not in answer.headers
    assert not (school.records / "faults").exists(), "a full disk is no fault of the programs"
    second.enter(opened.codes["aa-02"])
    browser.begin()
    browser.save(w_1a="x")


@pytest.mark.parametrize("error", [OSError(5, "Input/output error"), sqlite3.OperationalError("disk I/O error")])
def test_file_that_cannot_be_read_is_told_on_every_page_and_to_every_message(opening, monkeypatch, error):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])

    class Broken:
        in_transaction = False

        def execute(self, *_: object) -> None:
            raise error

    db = opened.room.drafts._db
    monkeypatch.setattr(opened.room.drafts, "_db", Broken())
    for page in ("/", "/begin", "/paper"):
        answer = browser.client.get(page)
        assert (answer.status_code, "Tell your instructor" in answer.text) == (503, True), page
    for message in ("/save", "/hand-in", "/leave"):
        answer = browser.post(message, {"answers": {}})
        assert (answer.status_code, "cannot save now" in answer.json()["says"]) == (503, True), message
    monkeypatch.setattr(opened.room.drafts, "_db", db)


def test_page_of_ours_that_is_missing_is_a_fault_of_the_programs_and_kept(opening, monkeypatch, school):
    opened = opening()
    filled = app.filled
    monkeypatch.setattr(app, "filled", lambda name, **values: filled(name.replace("enter", "lost"), **values))
    answer = opened.browser().client.get("/")
    assert (answer.status_code, "has a fault" in answer.text) == (500, True)
    (kept,) = (school.records / "faults").iterdir()
    assert "TemplateNotFound" in kept.read_text()


def test_command_that_cannot_write_to_the_classrooms_file_says_so_in_one_line(opening, pitside, school, monkeypatch):
    opened = opening()
    monkeypatch.setattr(drafts, "_WAIT_SECONDS", 0.05)
    with closing(sqlite3.connect(opened.room.drafts.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        status, said, complaints = pitside("classroom", school.folder, SITTING, "--more-time", "aa-01", "10")
    assert (status, said) == (2, "")
    assert complaints.count("\n") == 1
    assert "classroom.db: cannot be" in complaints
    assert "another program is writing to it: do this again in a minute" in complaints


# What is done every few seconds ---------------------------------------------------------------------------------------


@pytest.fixture
def quick(monkeypatch) -> None:
    monkeypatch.setattr(serving, "TICK_SECONDS", 0.02)


def test_classroom_whose_clock_cannot_be_kept_is_closed_all_the_same(quick, school, monkeypatch):
    room = Room(school.folder, SITTING)
    made = prepared(room, "127.0.0.1", free_port())
    thread = threading.Thread(target=made.run, args=(lambda room: None, lambda room: write_slips(room, "http://x")))
    thread.start()
    assert made.opened.wait(20)
    assert list((school.packs / SITTING).glob("slips*"))

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Drafts, "tick", full)
    other = Room(school.folder, SITTING)
    other.drafts.ask_to_stop(SITTING)
    thread.join(8)
    is_closed = not thread.is_alive()
    made.stop()
    thread.join(20)
    assert is_closed
    assert not list((school.packs / SITTING).glob("slips*"))
    assert other.drafts.address(SITTING) == ""
    assert not is_open(school, SITTING)
    other.close()


def test_school_is_not_held_for_the_log_at_every_turn(quick, school, monkeypatch):
    room = Room(school.folder, SITTING)
    turns, logs = [], []
    monkeypatch.setattr(Room, "land", lambda self: turns.append(1))
    monkeypatch.setattr(Room, "write_log", lambda self: logs.append(len(turns)))
    made = prepared(room, "127.0.0.1", free_port())
    thread = threading.Thread(target=made.run, args=(lambda room: made.stop() if len(turns) > 25 else None,))
    thread.start()
    thread.join(40)
    assert not thread.is_alive()
    while_open = logs[1:-1]
    assert 1 <= len(while_open) <= len(turns) / 5
    assert logs[-1] == len(turns), "what still waits is written when it closes"


def test_fault_of_what_is_done_every_few_seconds_is_reported_once_and_holds_up_nothing(quick, school, monkeypatch):
    faults: list[str] = []
    rounds = threading.Semaphore(0)
    monkeypatch.setattr(serving, "reported", lambda fault, folder: faults.append(fault.kind), raising=False)

    def refresh(self: Room) -> None:
        raise LookupError("of ours")

    def watching(room: Room) -> None:
        rounds.release()
        raise OSError(28, "No space left on device")

    made = prepared(Room(school.folder, SITTING), "127.0.0.1", free_port())
    thread = threading.Thread(target=made.run, args=(watching,))
    thread.start()
    assert made.opened.wait(20)
    monkeypatch.setattr(Room, "refresh", refresh)
    went_on = all(rounds.acquire(timeout=2) for _ in range(3))
    made.stop()
    thread.join(20)
    assert went_on
    assert faults == ["LookupError"]


def test_script_that_cannot_be_put_among_the_scripts_holds_up_no_other(opening, school, monkeypatch):
    opened = opening()
    put_in = room_module.put_in

    def not_the_first(school: School, name: str, data: bytes) -> tuple[str, bool]:
        if "aa-01" in name:
            raise GraderError(f"{name}: another program has it open")
        return put_in(school, name, data)

    monkeypatch.setattr(room_module, "put_in", not_the_first)
    for candidate in ("aa-01", "aa-02"):
        browser = opened.browser().enter(opened.codes[candidate])
        assert browser.hand_in(opened.shown(candidate)).status_code == 200
    assert [file.name for file in school.scripts.iterdir()] == ["marram_day1_aa-02.ipynb"]


# What is left over ----------------------------------------------------------------------------------------------------


def test_what_waits_when_a_classroom_is_closed_is_told_and_stands_in_the_status(pitside, opening, school, monkeypatch):
    opened = opening()
    opened.browser().enter(opened.codes["aa-01"])
    opened.browser().enter(opened.codes["aa-02"]).save(w_1a="0.052")
    school.scripts.rmdir()
    school.scripts.write_text("something in the way")
    third = opened.browser().enter(opened.codes["aa-03"])
    assert third.hand_in(opened.shown("aa-03")).status_code == 200
    opened.room.write_log()

    async def nothing(*_: object, **__: object) -> None:
        pass

    monkeypatch.setattr(serving.uvicorn.Server, "serve", nothing)
    with only_one(school.folder):
        said = pitside("classroom", school.folder, SITTING, "--address", "127.0.0.1", "--slip-for", "aa-04")[1]
    saved = f"pitside classroom {school.folder} day1 --hand-in-saved"
    left = f"2 candidates began day1 and did not hand in (aa-01, aa-02); to hand in what they saved: {saved}"
    landing = "1 script that was handed in does not lie among the scripts yet"
    assert left in said
    assert landing in said
    assert "1 line does not stand in the log yet" in said
    school.scripts.unlink()
    school.scripts.mkdir()
    (line,) = (line for line in pitside("status", school.folder)[1].splitlines() if line.startswith("The classroom:"))
    assert left in line
    assert landing in line
    with Open(school, SITTING):
        assert "began day1" not in pitside("status", school.folder)[1], "they are at work"
    assert "2 scripts handed in" in pitside("classroom", school.folder, SITTING, "--hand-in-saved")[1]
    assert "The classroom:" not in pitside("status", school.folder)[1]
    assert len(list(school.scripts.iterdir())) == 3
