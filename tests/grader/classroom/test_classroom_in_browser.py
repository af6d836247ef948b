"""The classroom in a real browser over a real socket: code, answers, the network gone and back, handing in, receipt."""

from __future__ import annotations

import hashlib
import json
import re
import socket
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import axe_playwright_python
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from grader.classroom.room import Room
from grader.classroom.serving import Served, prepared
from grader.classroom.slips import write_slips
from tests.browsing import WINDOWS
from tests.grader.schools import SITTING, paper_of

pytestmark = pytest.mark.browser
AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
#: What Chromium says of a network that is gone, of a machine that does not answer, and of a refusal.
_KNOWN = re.compile(r"net::ERR_|the server responded with a status of (401|409|429)")


class Running:
    """A classroom that listens on the loopback address, and can be ended and opened again on its port."""

    def __init__(self, folder: Path, minutes: float | None) -> None:
        self.folder, self.minutes = folder, minutes
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        self.open()
        self.slips = write_slips(self.served.room, self.served.address).read_text(encoding="utf-8")
        self.codes = dict(
            re.findall(r'aria-label="Slip of ([\w-]+)".*?class="code">([\w-]+)<', self.slips, re.DOTALL)
        )

    def open(self) -> None:
        room = Room(self.folder, SITTING, minutes=self.minutes)
        self.served: Served = prepared(room, "127.0.0.1", self.port)
        self.thread = threading.Thread(target=self.served.run, daemon=True)
        self.thread.start()

    def close(self) -> None:
        self.served.stop()
        self.thread.join(20)
        assert not self.thread.is_alive()


@pytest.fixture
def running(school) -> Iterator[Callable[..., Running]]:
    opened: list[Running] = []

    def run(minutes: float | None = None) -> Running:
        opened.append(Running(school.folder, minutes))
        return opened[-1]

    yield run
    for one in opened:
        one.close()


@pytest.fixture
def device(browser: Browser) -> Iterator[Callable[..., Page]]:
    """A browser of its own, as another device has; nothing may go wrong in it, nor be asked of elsewhere."""
    contexts: list[BrowserContext] = []
    said: list[str] = []
    asked: list[str] = []

    def new(width: int = 1280, **options: object) -> Page:
        context = browser.new_context(viewport={"width": width, "height": 800}, accept_downloads=True, **options)
        context.set_default_timeout(20_000)
        context.on("console", lambda line: said.append(line.text) if not _KNOWN.search(line.text) else None)
        context.on("weberror", lambda error: said.append(str(error.error)))
        context.on("request", lambda request: asked.append(request.url))
        contexts.append(context)
        return context.new_page()

    yield new
    for context in contexts:
        context.close()
    assert said == []
    assert [one for one in asked if not one.startswith(("http://127.0.0.1:", "data:", "blob:"))] == []


def barriers(page: Page) -> list[str]:
    # By the protocol of the browser, for the page's own policy lets no script in that does not stand in it.
    page.context.new_cdp_session(page).send("Runtime.evaluate", {"expression": AXE})
    found = page.evaluate("axe.run(document, {resultTypes: ['violations'], preload: false})")
    return [f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in found["violations"]]


def begin(page: Page, room: Running, candidate: str) -> None:
    page.goto(f"{room.served.address}/#{room.codes[candidate]}")
    page.get_by_role("button", name="Open my paper").click()
    page.get_by_role("button", name="Start").click()
    expect(page.locator("[data-school]")).to_contain_text("Saved at the school")


def type_into(page: Page, item: str, text: str) -> None:
    page.locator(f'[id="value-{item}"]').fill(text)


def saved(page: Page) -> None:
    expect(page.locator("[data-school]")).to_contain_text("Saved at the school", timeout=40_000)


def hand_in(page: Page) -> None:
    page.locator(".bar [data-hand-in]").click()
    page.get_by_role("dialog").get_by_role("button", name="Hand in").click()
    expect(page.locator("[data-receipt]")).to_be_visible(timeout=40_000)


def test_candidate_answers_while_the_network_is_gone_and_hands_in_when_it_is_back(running, device, school, tmp_path):
    room, page = running(), device()
    begin(page, room, "aa-01")
    type_into(page, "1a", "412.5")
    saved(page)
    page.context.set_offline(True)
    type_into(page, "1b", "33,5 ")
    page.locator("[data-working]").first.evaluate("area => area.closest('details').open = true")
    page.locator("[data-working]").first.fill("0.052 × 12 `` \r\n done ")
    expect(page.locator("[data-school]")).to_contain_text("is not reached", timeout=30_000)
    expect(page.locator("[data-school]")).to_contain_text("2 answers are not saved at the school yet")
    page.context.set_offline(False)
    saved(page)
    with page.expect_download() as download:
        page.evaluate("document.querySelector('.hand-in [data-save]').click()")
    download.value.save_as(tmp_path / "saved.ipynb")
    hand_in(page)
    (file,) = school.scripts.iterdir()
    # The very bytes that the page itself saves.
    assert file.read_bytes() == (tmp_path / "saved.ipynb").read_bytes()
    shown = page.locator("[data-digest]").inner_text().replace(" ", "")
    assert shown == hashlib.sha256(file.read_bytes()).hexdigest()
    kept = json.loads(file.read_bytes())["metadata"]["pitside"]["worksheet"]
    assert kept["answers"]["1a"]["typed"] == "412.5"
    assert kept["answers"]["1b"]["typed"] == "33,5 "
    assert page.locator(".part input:enabled").count() == 0
    assert paper_of(school, "aa-01").id == kept["paper"]
