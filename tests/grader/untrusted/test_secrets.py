"""A script of a real school reaches none of the school's secrets and no listener, shown through a whole marking.

The same source is run outside the room as well, where it reaches everything: so each of its ways is one that works.
"""

from __future__ import annotations

import contextlib
import json
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from grader.marking.marking import mark_school
from grader.marking.records import marked_notebook, read_record
from grader.marking.rooms import How
from grader.papers.issue import issue
from grader.papers.notebook import script_name
from grader.store.school import School
from tests.grader.schools import QUICK, add_cell, hand_in, make_school, paper_of, quiet, right_answers, script_with

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="the walls are Linux's")

SPY = r"""
import os, shutil, socket
def tried(name, attempt):
    try: print(name, "got" if attempt() else "held", sep=": ")
    except Exception: print(name, "held", sep=": ")
school, neighbour, port, door = {places!r}
secrets = dict(
    key="school.key", register="register.jsonl", roster="roster.csv", settings="school.toml",
    gradebook="records/gradebook.db", refusals="records/refused.json", neighbour="scripts/" + neighbour,
)
for name, file in secrets.items():
    path = os.path.join(school, file)
    tried(name + " read", lambda: open(path, "rb").read())
    tried(name + " seen", lambda: os.stat(path).st_size)
    tried(name + " mapped", lambda: os.read(os.open(path, os.O_RDONLY), 9))
    def linked():
        try: os.remove("x")
        except OSError: pass
        os.symlink(path, "x")
        return open("x", "rb").read()
    tried(name + " linked", linked)
    tried(name + " copied", lambda: shutil.copyfile(path, "y"))
tried("folder listed", lambda: os.listdir(school))
tried("records listed", lambda: os.listdir(os.path.join(school, "records")))
tried("file added", lambda: open(os.path.join(school, "scripts", "planted"), "w"))
def through(family, kind, address):
    plug = socket.socket(family, kind)
    plug.settimeout(2)
    plug.connect(address)
    return plug.send(b"the key")
tried("port", lambda: through(socket.AF_INET, socket.SOCK_STREAM, ("127.0.0.1", port)))
tried("port of any", lambda: through(socket.AF_INET, socket.SOCK_STREAM, ("0.0.0.0", port)))
tried("datagram", lambda: through(socket.AF_INET, socket.SOCK_DGRAM, ("127.0.0.1", port)))
tried("door", lambda: through(socket.AF_UNIX, socket.SOCK_STREAM, door))
tried("hidden door", lambda: through(socket.AF_UNIX, socket.SOCK_STREAM, "\0" + door))
"""
WAYS = 7 * 5 + 3 + 5


@pytest.fixture(scope="module")
def marked_school(tmp_path_factory: pytest.TempPathFactory) -> School:
    """Four candidates, two of them marked already, so that there are records to spy on."""
    school = make_school(tmp_path_factory.mktemp("secrets") / "school")
    issue(school, school.sittings, quiet)
    for one in ("aa-01", "aa-02"):
        paper = paper_of(school, one)
        hand_in(school, paper, script_with(school, paper, right_answers(paper.variants())))
    assert mark_school(school, quiet, How(allow_missing_walls=True, workers=1, limits=QUICK)).marked == 2
    return school


@pytest.fixture
def doors(tmp_path: Path) -> Iterator[tuple[int, str, Callable[[], int]]]:
    """A port, the path of a local socket, and how many came through either, or as a datagram."""
    door = str(tmp_path / "door")
    with (
        socket.create_server(("127.0.0.1", 0)) as port,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as datagrams,
        socket.socket(socket.AF_UNIX) as local,
        socket.socket(socket.AF_UNIX) as hidden,
    ):
        datagrams.bind(port.getsockname())
        local.bind(door)
        hidden.bind("\0" + door)
        for listener in (local, hidden):
            listener.listen()
        for listener in (port, datagrams, local, hidden):
            listener.setblocking(False)

        def came() -> int:
            count = 0
            for listener in (port, port, local, hidden):
                with contextlib.suppress(BlockingIOError):
                    listener.accept()[0].close()
                    count += 1
            with contextlib.suppress(BlockingIOError):
                count += len(datagrams.recv(99)) > 0
            return count

        yield port.getsockname()[1], door, came


def said(text: str) -> dict[str, str]:
    """What came of each way."""
    return dict(line.split(": ") for line in text.splitlines())


def test_script_reaches_no_secret_of_its_school_and_no_listener(marked_school, doors, tmp_path):
    port, door, came = doors
    school = marked_school
    neighbour = script_name(school, paper_of(school, "aa-01"))
    source = SPY.format(places=(str(school.folder), neighbour, port, door))

    outside = subprocess.run(
        [sys.executable, "-c", source], cwd=tmp_path, capture_output=True, text=True, timeout=60, check=True
    ).stdout
    assert set(said(outside).values()) == {"got"}, outside
    assert len(said(outside)) == WAYS
    assert came() == 5
    (school.scripts / "planted").unlink()

    paper = paper_of(school, "aa-03")
    hand_in(school, paper, add_cell(script_with(school, paper, right_answers(paper.variants())), source))
    before = {path: path.read_bytes() for path in school.folder.glob("*") if path.is_file()}
    assert mark_school(school, quiet, How(allow_missing_walls=True, workers=1, limits=QUICK)).marked == 1
    record = read_record(school, paper.id)
    assert (record.ending, record.notes, record.marks) == ("finished", (), record.out_of)
    notebook = json.loads(marked_notebook(school, paper).read_text(encoding="utf-8"))
    (output,) = notebook["cells"][2]["outputs"]
    inside = said("".join(output["text"]))
    assert inside.keys() == said(outside).keys()
    assert set(inside.values()) == {"held"}, inside
    assert came() == 0
    assert {path: path.read_bytes() for path in school.folder.glob("*") if path.is_file()} == before
    assert not (school.scripts / "planted").exists()


def test_marked_notebooks_hold_nothing_of_the_key(marked_school):
    """Nor packs, which are handed out."""
    key = (marked_school.folder / "school.key").read_text().strip()
    files = [path for path in (*marked_school.records.rglob("*"), *marked_school.packs.rglob("*")) if path.is_file()]
    assert len(files) > 6
    for path in files:
        data = path.read_bytes()
        assert key.encode() not in data
        assert bytes.fromhex(key) not in data
