"""What the desk and the classroom do alike on the wire, tried on the door of each."""

from __future__ import annotations

import socket
import subprocess
import sys

import pytest
from starlette.datastructures import Headers
from starlette.types import Message

from grader.classroom.door import Door
from grader.desk.guard import Entry, Guard
from grader.pages.wire import cookie_of, listening

LENGTHS = ("-1", "1e3", "\u00b2", "9" * 13, "9" * 5000, "", "1, 1", "0x10")


async def never(*_: object) -> None:
    raise AssertionError("this may reach nothing")


def answered(app: Door | Guard, path: str, **headers: str) -> int:
    """The status that is answered to a request whose headers came as they are: no server looked at them before."""
    said: list[Message] = []

    async def send(message: Message) -> None:
        said.append(message)

    raw = [(name.replace("_", "-").encode(), value.encode("latin-1")) for name, value in headers.items()]
    scope = {"type": "http", "method": "GET", "path": path, "headers": raw, "query_string": b""}
    # Nothing here has to be waited for, so it needs no loop; the browser's may be running in this process.
    with pytest.raises(StopIteration):
        app(scope, never, send).send(None)
    return int(said[0]["status"])


@pytest.mark.parametrize("length", LENGTHS)
def test_length_that_is_no_number_or_beyond_the_bound_is_refused_at_both_doors(length):
    assert answered(Door(never, "127.0.0.1:1"), "/", host="127.0.0.1:1", content_length=length) == 413
    entry = Entry()
    cookie = f"pitside_desk_1={entry.exchanged(entry.token or '')}"
    desk = Guard(never, 1, entry)
    assert answered(desk, f"{entry.base}/", host="127.0.0.1:1", cookie=cookie, content_length=length) == 413


@pytest.mark.parametrize(
    ("sent", "found"),
    [("a=1; b=2", "2"), ('b="2"', "2"), ("a=1", ""), ("", ""), ("b", ""), ("\u00fc=1; b=2", ""), ("b=1; b=2", "2")],
)
def test_cookie_is_read_by_its_name_and_what_cannot_be_read_is_none(sent, found):
    assert cookie_of(Headers({"cookie": sent}), "b") == found


def test_port_that_is_taken_is_passed_over_and_none_that_is_free_is_told():
    with listening("127.0.0.1", (0,)) as first:
        taken = first.getsockname()[1]
        with listening("127.0.0.1", (taken, 0)) as second:
            assert second.getsockname()[1] != taken
            assert second.getsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR)
        with pytest.raises(OSError):
            listening("127.0.0.1", (taken,))


def test_desk_starts_without_the_classrooms_server():
    code = "import grader.desk.serving, sys; print([one for one in sys.modules if one.startswith('grader.classroom.')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "grader.classroom.serving" not in done.stdout
    assert "grader.classroom.room" not in done.stdout
