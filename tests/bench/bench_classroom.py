"""The classroom under load, while its program is killed, the network fails and the machine's clock is set.

Run with ``python -m tests.bench.bench_classroom``: 60 candidates save every 2 s for ten minutes on the loopback
address. Meanwhile the server is killed at random moments (SIGKILL) and started again, half of the candidates lose their
network again and again, also after a message was sent and before its answer came, and the machine's clock jumps. It
fails where an answer is lost that the server said was saved, where one is kept twice, where a script is not what its
page shows, or where the time that is left was changed by a jump. Numbers behind the command set candidates and seconds.
"""

from __future__ import annotations

import asyncio
import hashlib
import itertools
import json
import multiprocessing
import os
import random
import re
import signal
import socket
import sqlite3
import statistics
import sys
import tempfile
import time
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from grader.classroom.clock import Clocks
from grader.classroom.drafts import Drafts
from grader.classroom.room import Room
from grader.classroom.serving import prepared
from grader.papers.issue import issue
from grader.store.log import HANDED_IN, Log
from grader.store.school import open_school
from tests.grader.schools import CHAINED, SITTING, WITH_CHOICE, WITH_ORDER, make_school, quiet

CANDIDATES, SECONDS = 60, 600.0
EVERY = 2.0
#: The limit of time is so much longer than the run that nobody is late.
MINUTES = 120.0
#: How far the time that is left may be off, in s: a message on its way, and a server that starts.
STEADY = 5.0
_SPAWN = multiprocessing.get_context("spawn")


def serve(folder: Path, port: int, jump_file: Path) -> None:
    """Serve as the command does, with a clock of the day that jumps by the seconds in ``jump_file``."""

    def day() -> datetime:
        with suppress(OSError, ValueError):
            return datetime.now(UTC) + timedelta(seconds=float(jump_file.read_text()))
        return datetime.now(UTC)

    room = Room(folder, SITTING, minutes=MINUTES, clocks=Clocks(day=day))
    prepared(room, "127.0.0.1", port).run()


@dataclass
class Server:
    folder: Path
    port: int
    jump: Path
    kills: int = 0
    process: Any = None

    def start(self) -> None:
        self.process = _SPAWN.Process(target=serve, args=(self.folder, self.port, self.jump), daemon=True)
        self.process.start()

    def kill(self) -> None:
        self.process.kill()
        self.process.join()
        self.kills += 1

    def end(self) -> None:
        os.kill(self.process.pid, signal.SIGINT)
        self.process.join(30)


class GoneError(Exception):
    """The network or the server is gone."""


@dataclass
class Page:
    """A candidate's page, in what it sends and believes; see ``saving_at_school.js``."""

    who: str
    code: str
    port: int
    chance: random.Random
    loses_network: bool
    cookie: str = ""
    token: str = ""
    shown: dict[str, Any] = field(default_factory=dict)
    empty: dict[str, Any] = field(default_factory=dict)
    held: dict[str, tuple[int, Any]] = field(default_factory=dict)
    #: Every value that the server said it has, by field, in order.
    confirmed: dict[str, list[Any]] = field(default_factory=dict)
    seen: int = 0
    waiting: dict[str, Any] | None = None
    gone_until: float = 0.0
    started: float = 0.0
    worst_time: float = 0.0
    lost_answers: int = 0
    waits: list[float] = field(default_factory=list)
    receipt: dict[str, Any] | None = None
    _numbers: Any = field(default_factory=lambda: itertools.count(1))

    async def say(
        self, method: str, path: str, body: bytes = b"", cut: bool = False, **headers: str
    ) -> tuple[int, str]:
        if time.monotonic() < self.gone_until:
            raise GoneError
        host = f"127.0.0.1:{self.port}"
        head = {"Host": host, "Origin": f"http://{host}", "Connection": "close", "Content-Length": str(len(body))}
        head |= headers | ({"Cookie": self.cookie} if self.cookie else {})
        try:
            reader, writer = await asyncio.wait_for(asyncio.open_connection("127.0.0.1", self.port), 10)
        except OSError:
            raise GoneError from None
        try:
            lines = "".join(f"{name}: {value}\r\n" for name, value in head.items())
            writer.write(f"{method} {path} HTTP/1.1\r\n{lines}\r\n".encode() + body)
            await writer.drain()
            if cut:
                # What was sent arrives, what was answered does not.
                await asyncio.sleep(0.05)
                raise GoneError
            answer = await asyncio.wait_for(reader.read(), 20)
        except (TimeoutError, OSError):
            raise GoneError from None
        finally:
            writer.close()
        if not answer:
            raise GoneError
        top, _, text = answer.partition(b"\r\n\r\n")
        if found := re.search(rb"set-cookie: ([^;]+)", top, re.IGNORECASE):
            self.cookie = found[1].decode()
        return int(top.split(b" ", 2)[1]), text.decode()

    async def until(self, method: str, path: str, body: bytes = b"", **headers: str) -> tuple[int, str]:
        while True:
            try:
                status, text = await self.say(method, path, body, **headers)
                if status < 500 and status != 429:
                    return status, text
            except GoneError:
                pass
            await asyncio.sleep(0.5)

    async def enter(self, empty: dict[str, Any]) -> None:
        form = {"Content-Type": "application/x-www-form-urlencoded"}
        status, text = await self.until("POST", "/enter", f"code={self.code}".encode(), **form)
        assert status == 303, text
        _, text = await self.until("GET", "/begin")
        found = re.search(r'name="token" value="([0-9a-f]+)"', text)
        assert found, text
        self.token = found[1]
        status, _ = await self.until("POST", "/begin", f"token={self.token}".encode(), **form)
        assert status == 303
        self.started = time.monotonic()
        self.shown, self.empty = dict(empty), empty

    def type(self) -> None:
        """Change an answer or two; each value is typed once in the whole run."""
        for name in self.chance.sample(sorted(self.shown), self.chance.choice((1, 1, 2))):
            value = f"{self.who}-{next(self._numbers)}"
            is_number = isinstance(self.shown[name], dict)
            self.shown[name] = {"typed": value, "unit": "lb/gal"} if is_number else value

    async def save(self) -> None:
        if self.waiting is None:
            answers = {
                name: {"value": value, "base": self.held.get(name, (0, None))[0], "ago": 0.0}
                for name, value in self.shown.items()
                if self.held.get(name, (0, None))[1] != value and (name in self.held or value != self.empty[name])
            }
            self.waiting = {"name": f"{self.chance.getrandbits(96):024x}", "seen": self.seen, "answers": answers}
        if self.loses_network and time.monotonic() > self.gone_until and self.chance.random() < 0.04:
            self.gone_until = time.monotonic() + self.chance.uniform(2, 30)
        cut = self.loses_network and self.chance.random() < 0.05
        began = time.perf_counter()
        status, text = await self.say("POST", "/save", json.dumps(self.waiting).encode(), cut, **self.headers)
        if status != 200:
            raise GoneError
        self.waits.append(time.perf_counter() - began)
        self.hear(json.loads(text))

    @property
    def headers(self) -> dict[str, str]:
        return {"X-Pitside-Page": self.token, "Content-Type": "application/json"}

    def hear(self, told: dict[str, Any]) -> None:
        sent, self.waiting = (self.waiting or {"answers": {}})["answers"], None
        assert told["refused"] == {}, told["refused"]
        for name, one in told["answers"].items():
            self.held[name] = (one["number"], one["value"])
            self.confirmed.setdefault(name, []).append(one["value"])
        # What was said to be saved must be there.
        self.lost_answers += sum(
            told["answers"].get(name, {}).get("value") != one["value"] for name, one in sent.items()
        )
        self.seen = told["number"]
        left = MINUTES * 60 - (time.monotonic() - self.started)
        self.worst_time = max(self.worst_time, abs(told["left"] - left))

    async def work(self, until: float) -> None:
        await asyncio.sleep(self.chance.uniform(0, EVERY))
        while time.monotonic() < until:
            self.type()
            with suppress(GoneError):
                await self.save()
            await asyncio.sleep(EVERY)
        self.gone_until, self.loses_network = 0.0, False
        while True:
            with suppress(GoneError):
                await self.save()
                if self.waiting is None and all(
                    self.held.get(name, (0, value))[1] == value for name, value in self.shown.items()
                ):
                    body = json.dumps({"answers": self.shown}).encode()
                    status, text = await self.say("POST", "/hand-in", body, **self.headers)
                    if status == 200:
                        self.receipt = json.loads(text)["receipt"]
                        return
            await asyncio.sleep(0.6)


@dataclass
class Outcome:
    """What came of a run; every count of ``wrong`` has to be nought."""

    wrong: Counter[str]
    lines: list[str]


async def trouble(server: Server, until: float, chance: random.Random, jumps: list[float]) -> None:
    """Kill the server and set the clock, again and again."""
    while time.monotonic() < until:
        await asyncio.sleep(chance.uniform(4, 16))
        jump = chance.choice((-86_400.0, -3_600.0, -90.0, 90.0, 3_600.0, 86_400.0, 0.0))
        server.jump.write_text(str(jump))
        jumps.append(jump)
        if chance.random() < 0.7:
            server.kill()
            await asyncio.sleep(chance.uniform(0.1, 3))
            server.start()


async def sat(server: Server, pages: list[Page], empty: dict[str, dict[str, Any]], seconds: float, seed: int) -> int:
    await asyncio.gather(*(page.enter(empty[page.who]) for page in pages))
    until = time.monotonic() + seconds
    jumps: list[float] = []
    making_trouble = asyncio.create_task(trouble(server, until, random.Random(seed), jumps))
    await asyncio.gather(*(page.work(until) for page in pages))
    await making_trouble
    return len(jumps)


def run(folder: Path, candidates: int = CANDIDATES, seconds: float = SECONDS, seed: int = 20) -> Outcome:
    """One sitting with all that trouble, and what is found afterwards."""
    people = [
        f"c-{each:03},Candidate {each},Larkwater,crew,{('field', 'metric')[each % 2]}" for each in range(candidates)
    ]
    school = make_school(folder / "school", people, (CHAINED, WITH_CHOICE, WITH_ORDER))
    issue(school, school.sittings, quiet)
    room = Room(school.folder, SITTING, minutes=MINUTES)
    codes = room.new_codes()
    papers = {candidate.id: paper.id for candidate, paper in room.candidates}
    empty = {who: dict(room.sheet(paper).empty) for who, paper in papers.items()}
    room.close()
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    server = Server(school.folder, port, folder / "jump")
    server.start()
    chance = random.Random(seed)
    pages = [Page(who, codes[who], port, random.Random(chance.random()), at % 2 == 0) for at, who in enumerate(codes)]
    try:
        jumps = asyncio.run(sat(server, pages, empty, seconds, seed))
    finally:
        server.end()
    wrong: Counter[str] = Counter()
    drafts = Drafts(school)
    saves = 0
    log = Log(open_school(school.folder), only_read=True)
    for page in pages:
        paper = papers[page.who]
        answers = drafts.answers(paper)
        rows = drafts.saves(paper)
        saves += len(rows)
        values = Counter((row[2], json.dumps(row[3], sort_keys=True)) for row in rows)
        wrong["answers kept twice"] += sum(count - 1 for count in values.values())
        wrong["answers lost that were said to be saved"] += page.lost_answers + sum(
            (name, json.dumps(value, sort_keys=True)) not in values
            for name, each in page.confirmed.items()
            for value in each
        )
        wrong["answers that are not what the page shows"] += sum(
            answers[name].value != value if name in answers else value != empty[page.who][name]
            for name, value in page.shown.items()
        )
        wrong["times that a jump changed"] += page.worst_time > STEADY
        (file,) = list(school.scripts.glob(f"*_{page.who}.ipynb")) or [None]
        wrong["scripts that are missing"] += file is None or page.receipt is None
        if file and page.receipt:
            data = file.read_bytes()
            wrong["receipts that do not fit"] += hashlib.sha256(data).hexdigest() != page.receipt["digest"]
            held = json.loads(data)["metadata"]["pitside"]["worksheet"]
            in_script = held["answers"] | {f"working {name}": text for name, text in held["working"].items()}
            wrong["scripts that are not what the page shows"] += in_script != page.shown
        told = [line for line in log.about(paper) if line["what"] == HANDED_IN]
        wrong["hand-ins that the log does not tell once"] += len(told) != 1
    with sqlite3.connect(drafts.path) as db:
        wrong["faults that SQLite finds"] += db.execute("PRAGMA integrity_check").fetchone()[0] != "ok"
    drafts.close()
    waits = sorted(itertools.chain.from_iterable(page.waits for page in pages))
    lines = [
        f"{candidates} candidates, {seconds:g} s, {server.kills} kills, {jumps} jumps of the clock, "
        f"{sum(page.started > 0 for page in pages[::2])} candidates with a failing network",
        f"{saves} answers saved by {len(waits)} messages; a message took {1000 * statistics.median(waits):.0f} ms "
        f"(median), {1000 * waits[int(0.99 * len(waits))]:.0f} ms (99 of 100), {1000 * waits[-1]:.0f} ms at most",
        f"time left: off by {max(page.worst_time for page in pages):.1f} s at most",
        *(f"{what}: {count}" for what, count in wrong.items()),
    ]
    return Outcome(wrong, lines)


def main() -> None:
    candidates = int(sys.argv[1]) if len(sys.argv) > 1 else CANDIDATES
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else SECONDS
    with tempfile.TemporaryDirectory() as folder:
        began = os.times()
        outcome = run(Path(folder), candidates, seconds)
        used = os.times()
    print("\n".join(outcome.lines))
    spent = used.children_user + used.children_system - began.children_user - began.children_system
    print(f"processor time of the servers: {spent:.0f} s")
    if sum(outcome.wrong.values()):
        raise SystemExit("this must not be")


if __name__ == "__main__":
    main()
