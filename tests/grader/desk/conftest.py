"""A desk that listens for real, and a visitor that can say to it whatever a hostile one could."""

from __future__ import annotations

import http.client
import re
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

import pytest

from grader.desk.serving import Served, prepared

#: Buttons of the desk itself.
NO_ACTIONS = ("choose", "close")


@dataclass
class Answer:
    status: int
    headers: dict[str, str]
    text: str

    @property
    def secret(self) -> str:
        return re.search(r'name="secret" value="([^"]+)"', self.text)[1]


@dataclass
class Visitor:
    """Sends requests to a desk; ``cookie`` is what it was given, if it was let in."""

    served: Served
    cookie: str = ""
    host: str = field(init=False)

    def __post_init__(self) -> None:
        self.host = f"127.0.0.1:{self.served.port}"

    @property
    def base(self) -> str:
        return self.served.desk.entry.base

    def say(
        self, method: str, path: str, body: bytes | str | None = None, headers: Mapping[str, str] | None = None,
        *, host: str | None = None,
    ) -> Answer:  # fmt: skip
        line = http.client.HTTPConnection("127.0.0.1", self.served.port, timeout=60)
        try:
            line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            sent = {"Host": self.host if host is None else host, **({"Cookie": self.cookie} if self.cookie else {})}
            sent |= dict(headers or {})
            data = body.encode() if isinstance(body, str) else body
            if data is not None:
                sent.setdefault("Content-Length", str(len(data)))
            for name, value in sent.items():
                line.putheader(name, value)
            line.endheaders(data)
            got = line.getresponse()
            named = {name.lower(): value for name, value in got.getheaders()}
            return Answer(got.status, named, got.read().decode(errors="replace"))
        finally:
            line.close()

    def enter(self) -> Visitor:
        answer = self.say("GET", f"/enter/{self.served.desk.entry.token}")
        assert answer.status == 200
        self.cookie = answer.headers["set-cookie"].partition(";")[0]
        return self

    def get(self, path: str = "") -> Answer:
        return self.say("GET", f"{self.base}/{path}")

    def press(self, action: str, files: Mapping[str, tuple[str, bytes]] | None = None, **fields: str) -> Answer:
        """Press a button of the desk's own page, and follow it to what came of it."""
        secret = self.served.desk.entry.form_secret
        if files:
            body, kind = _parts({"secret": secret, **fields}, files)
        else:
            body, kind = urlencode({"secret": secret, **fields}).encode(), "application/x-www-form-urlencoded"
        headers = {"Origin": f"http://{self.host}", "Content-Type": kind}
        answer = self.say(
            "POST", f"{self.base}/{action if '/' in action or action in NO_ACTIONS else f'do/{action}'}", body, headers
        )
        return self._followed(answer)

    def _followed(self, answer: Answer) -> Answer:
        for _ in range(20):
            if answer.status != 303:
                break
            where = answer.headers["location"]
            if found := re.search(r"/job/(\d+)$", where):
                assert self.served.desk.jobs.get(int(found[1])).ended.wait(120)
            answer = self.say("GET", where)
        return answer


def _parts(fields: Mapping[str, str], files: Mapping[str, tuple[str, bytes]]) -> tuple[bytes, str]:
    mark = "a-mark-that-no-file-holds"
    body = b""
    for name, value in fields.items():
        body += f'--{mark}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
    for name, (called, data) in files.items():
        head = f'--{mark}\r\nContent-Disposition: form-data; name="{name}"; filename="{called}"\r\n\r\n'
        body += head.encode() + data + b"\r\n"
    return body + f"--{mark}--\r\n".encode(), f"multipart/form-data; boundary={mark}"


Opened = Callable[..., Visitor]


@contextmanager
def desks() -> Iterator[Opened]:
    """Opens desks: ``opened(folder)`` for a school, ``opened(None, around)`` for none; let in unless said otherwise."""
    running: list[tuple[Served, threading.Thread]] = []

    def open_it(folder: Path | None, around: Path | None = None, enter: bool = True) -> Visitor:
        served = prepared(folder, around or folder.parent)
        thread = threading.Thread(target=served.run, daemon=True)
        thread.start()
        running.append((served, thread))
        return Visitor(served).enter() if enter else Visitor(served)

    yield open_it
    for served, _ in running:
        served.server.should_exit = True
    for _, thread in running:
        thread.join(20)
        assert not thread.is_alive()


@pytest.fixture
def opened() -> Iterator[Opened]:
    with desks() as open_it:
        yield open_it
