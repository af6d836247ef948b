"""A classroom with clocks that tests move, and candidates that speak to it as their pages do."""

from __future__ import annotations

import itertools
import re
import sys
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from grader import cli
from grader.classroom.app import Classroom, app_of
from grader.classroom.clock import Clocks
from grader.classroom.door import Door
from grader.classroom.room import Room
from grader.papers.issue import issue
from grader.store.school import School, open_school
from tests.grader.schools import EVERY_KIND, ROSTER, SITTING, make_school, quiet
from tests.sharing import made_once

HOST = "192.168.7.1:8420"
ORIGIN = f"http://{HOST}"
#: Every kind of part, words and working too.
SORTS = (*EVERY_KIND, "fault-diary")


@dataclass
class Clock:
    """Both clocks of a machine; ``pass_by`` is time that goes on, ``jump`` somebody who sets the clock of the day."""

    seconds: float = 1000.0
    now: datetime = datetime(2026, 5, 5, 8, 0, tzinfo=UTC)

    def pass_by(self, seconds: float) -> None:
        self.seconds += seconds
        self.now += timedelta(seconds=seconds)

    def jump(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)

    @property
    def clocks(self) -> Clocks:
        return Clocks(lambda: self.now, lambda: self.seconds)


_NUMBERS = itertools.count()


@dataclass
class Browser:
    """A candidate's browser: what its page would send."""

    client: TestClient
    token: str = ""
    seen: int = 0
    held: dict[str, int] = field(default_factory=dict)

    def enter(self, code: str, begin: bool = True) -> Browser:
        answer = self.client.post("/enter", data={"code": code}, follow_redirects=False)
        assert answer.status_code == 303, answer.text
        if begin:
            self.begin()
        return self

    def begin(self) -> None:
        page = self.client.get("/begin")
        if found := re.search(r'name="token" value="([0-9a-f]+)"', page.text):
            page = self.client.post("/begin", data={"token": found[1]})
        self.token = re.search(r'data-token="([0-9a-f]+)"', page.text)[1]

    def post(self, path: str, message: Any, **headers: str) -> Any:
        sent = {"X-Pitside-Page": self.token, **headers}
        return self.client.post(path, json=message, headers=sent)

    def save(self, name: str = "", ago: float = 0.0, **answers: Any) -> dict[str, Any]:
        """Save answers; ``w_2a`` stands for the working of 2a, ``i_2a`` for item 2a."""
        message = {
            "name": name or f"message-{next(_NUMBERS):012}",
            "seen": self.seen,
            "answers": {
                item: {"value": value, "base": self.held.get(item, 0), "ago": ago}
                for item, value in ((_item(key), value) for key, value in answers.items())
            },
        }
        answer = self.post("/save", message)
        assert answer.status_code == 200, answer.text
        return self.heard(answer.json())

    def heard(self, told: dict[str, Any]) -> dict[str, Any]:
        self.held |= {item: each["number"] for item, each in told["answers"].items()}
        self.seen = told["number"]
        return told

    def hand_in(self, answers: Mapping[str, Any]) -> Any:
        return self.post("/hand-in", {"answers": dict(answers)})


def _item(key: str) -> str:
    return f"working {key[2:]}" if key.startswith("w_") else key.removeprefix("i_")


@dataclass
class Opened:
    """A room that is open, its clocks, and the codes of its slips."""

    room: Room
    clock: Clock
    codes: dict[str, str]
    classroom: Classroom

    def browser(self, host: str = "192.168.7.20") -> Browser:
        app = Door(app_of(self.classroom), HOST)
        client = TestClient(app, base_url=ORIGIN, headers={"Origin": ORIGIN}, client=(host, 50_000))
        return Browser(client)

    def shown(self, candidate: str) -> dict[str, Any]:
        """What a page shows that shows what was saved."""
        paper = self.paper(candidate)
        sheet = self.room.sheet(paper)
        return {**sheet.empty, **{name: one.value for name, one in self.room.drafts.answers(paper).items()}}

    def paper(self, candidate: str) -> str:
        return next(paper.id for one, paper in self.room.candidates if one.id == candidate)

    def again(self) -> Opened:
        """The same after the program was ended at once and started anew."""
        made = _opened(self.room.folder, self.clock, self.room.minutes)
        return Opened(made.room, self.clock, self.codes, made.classroom)


def _opened(folder: Path, clock: Clock, minutes: float | None) -> Opened:
    room = Room(folder, SITTING, minutes=minutes, clocks=clock.clocks)
    room.drafts.open_room(room.session, minutes, ORIGIN)
    return Opened(room, clock, {}, Classroom(room, port=8420))


@pytest.fixture(scope="session")
def issued(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A school with issued papers, to be copied."""

    def make(folder: Path) -> None:
        school = make_school(folder / "school", exercises=SORTS)
        text = "\n".join(["id,name,employer,crew,units,arrangements", *(f"{line}," for line in ROSTER[:3])])
        (school.folder / "roster.csv").write_text(f"{text}\n{ROSTER[3]},extra time 25 %\n", encoding="utf-8")
        school = open_school(school.folder)
        issue(school, school.sittings, quiet)

    return made_once(tmp_path_factory, "classroom", make) / "school"


@pytest.fixture
def school(issued: Path, tmp_path: Path) -> School:
    import shutil

    shutil.copytree(issued, tmp_path / "school")
    return open_school(tmp_path / "school")


Opening = Callable[..., Opened]


@pytest.fixture
def opening(school: School) -> Iterator[Opening]:
    """Opens the classroom of the school."""
    rooms: list[Room] = []

    def open_it(minutes: float | None = None, clock: Clock | None = None) -> Opened:
        made = _opened(school.folder, clock or Clock(), minutes)
        made.codes = made.room.new_codes()
        rooms.append(made.room)
        return made

    yield open_it
    for room in rooms:
        room.close()


@pytest.fixture
def pitside(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Runs a command of the terminal; gives its status, what it said, and its complaints.

    In a thread of its own: where a browser was opened before, this one has an event loop that runs.
    """

    def run(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["pitside", *map(str, arguments)])
        with ThreadPoolExecutor(1) as thread, pytest.raises(SystemExit) as ended:
            thread.submit(cli.main).result()
        return (int(ended.value.code or 0), *capsys.readouterr())

    return run
