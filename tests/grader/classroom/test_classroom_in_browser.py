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
_KNOWN = re.compile(r"net::ERR_|the server responded with a status of (401|403|409|429)")


class Running:
    """A classroom that listens on the loopback address, and can be ended and opened again on its port."""

    def __init__(self, folder: Path, minutes: float | None) -> None:
        self.folder, self.minutes = folder, minutes
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        self.open()
        self.slips = write_slips(self.served.room, self.served.address).read_text(encoding="utf-8")
        self.codes = dict(re.findall(r'aria-label="Slip of ([\w-]+)".*?class="code">([\w-]+)<', self.slips, re.DOTALL))

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


def begin(page: Page, room: Running, candidate: str, begins: bool = True) -> None:
    page.goto(f"{room.served.address}/#{room.codes[candidate]}")
    page.get_by_role("button", name="Open my paper").click()
    if begins:
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
    # From the very moment that something is typed the page does not say any more that all is saved.
    assert "1 answer is not saved at the school yet" in page.locator("[data-school]").inner_text()
    saved(page)
    page.context.set_offline(True)
    type_into(page, "1b", "33,5 ")
    page.locator("[data-working]").first.evaluate("area => area.closest('details').open = true")
    page.locator("[data-working]").first.fill("0.052 × 12 `` \r\n done ")
    expect(page.locator("[data-school]")).to_contain_text("is not reached", timeout=30_000)
    expect(page.locator("[data-school]")).to_contain_text("2 answers are not saved at the school yet")
    page.evaluate(
        """() => {
          document.querySelector(".choices").querySelectorAll("input")[1].click();
          document.querySelector(".order-done input").click();
          const words = document.querySelector("textarea:not([data-working])");
          words.value = "a\\r\\nb ```` ";
          words.dispatchEvent(new Event("input", { bubbles: true }));
        }"""
    )
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
    kinds = {item["name"]: item["kind"] for item in room.served.room.sheet(kept["paper"]).data["items"].values()}
    assert {kinds[name] for name in kept["answers"]} == {"number", "choice", "order", "words"}
    assert page.locator(".part input:enabled").count() == 0
    assert paper_of(school, "aa-01").id == kept["paper"]
    assert barriers(page) == []


@pytest.mark.slow
def test_what_was_typed_and_not_sent_is_sent_by_the_browser_that_was_ended(running, browser, school, tmp_path):
    """The state of the browser is taken over into another window, as a browser does that is opened again."""
    room = running()
    first = browser.new_context()
    page = first.new_page()
    begin(page, room, "aa-01")
    type_into(page, "1a", "1")
    saved(page)
    first.set_offline(True)
    type_into(page, "1a", "2")
    page.wait_for_timeout(800)
    state = first.storage_state(indexed_db=True)
    first.close()
    second = browser.new_context(storage_state=state)
    page = second.new_page()
    page.goto(f"{room.served.address}/")
    saved(page)
    expect(page.locator('[id="value-1a"]')).to_have_value("2")
    page.wait_for_timeout(1500)
    saved(page)
    held = room.served.room.drafts.answers(paper_of(school, "aa-01").id)
    assert held["1a"].value["typed"] == "2"
    second.close()


@pytest.mark.slow
def test_machine_of_the_school_goes_and_comes_back_and_the_page_catches_up(running, device, school):
    room, page = running(), device()
    begin(page, room, "aa-01")
    type_into(page, "1a", "1")
    saved(page)
    room.close()
    type_into(page, "1a", "2")
    type_into(page, "1b", "3")
    expect(page.locator("[data-school]")).to_contain_text("is not reached", timeout=30_000)
    # Asked for while nobody answers: it is done as soon as somebody does.
    page.locator(".bar [data-hand-in]").click()
    page.get_by_role("dialog").get_by_role("button", name="Hand in").click()
    room.open()
    expect(page.locator("[data-receipt]")).to_be_visible(timeout=40_000)
    (file,) = school.scripts.iterdir()
    answers = json.loads(file.read_bytes())["metadata"]["pitside"]["worksheet"]["answers"]
    assert (answers["1a"]["typed"], answers["1b"]["typed"]) == ("2", "3")


@pytest.mark.slow
def test_two_devices_are_told_of_each_other_and_show_the_later_answer(running, device):
    room, one, two = running(), device(), device(width=360)
    begin(one, room, "aa-01")
    type_into(one, "1a", "11")
    saved(one)
    begin(two, room, "aa-01", begins=False)
    expect(two.locator('[id="value-1a"]')).to_have_value("11")
    expect(two.locator("[data-said]")).to_contain_text("another device too")
    two.context.set_offline(True)
    type_into(two, "1a", "22")
    two.wait_for_timeout(1500)
    type_into(one, "1a", "33")
    saved(one)
    two.context.set_offline(False)
    # Typed before the other, though it came after it.
    expect(two.locator('[id="value-1a"]')).to_have_value("33", timeout=40_000)
    expect(two.locator("[data-said]")).to_contain_text("Another device answered later")
    hand_in(one)
    two.evaluate("dispatchEvent(new Event('online'))")
    expect(two.locator("[data-receipt]")).to_be_visible(timeout=40_000)


@pytest.mark.slow
def test_time_is_shown_warned_of_and_over_and_nothing_is_lost(running, device, school):
    room, page = running(minutes=0.2), device()
    begin(page, room, "aa-01")
    expect(page.locator("[data-time]")).to_contain_text("left")
    expect(page.locator("[data-said]")).to_contain_text("1 minute is left")
    expect(page.locator("[data-time]")).to_have_text("Time is over", timeout=20_000)
    expect(page.locator("[data-said]")).to_contain_text("You can still hand in, but it is marked late")
    page.wait_for_timeout(21_000)
    type_into(page, "1a", "7")
    saved(page)
    hand_in(page)
    expect(page.locator("[data-receipt-when]")).to_contain_text("is marked late")
    (file,) = school.scripts.iterdir()
    assert json.loads(file.read_bytes())["metadata"]["pitside"]["worksheet"]["answers"]["1a"]["typed"] == "7"


@pytest.mark.slow
def test_whole_sitting_by_keyboard_and_clearing_a_shared_computer(running, device):
    room, page = running(), device(width=360)
    page.goto(f"{room.served.address}/")
    page.keyboard.type(room.codes["aa-01"].lower().replace("-", " "))
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Start").focus()
    page.keyboard.press("Enter")
    saved(page)
    page.locator('[id="value-1a"]').focus()
    page.keyboard.type("412")
    saved(page)
    page.locator(".reach [data-hand-in]").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab") if page.evaluate("document.activeElement.value") == "" else None
    page.get_by_role("dialog").get_by_role("button", name="Hand in").press("Enter")
    expect(page.locator("[data-receipt]")).to_be_visible(timeout=40_000)
    assert page.evaluate("document.activeElement.matches('[data-receipt]')")
    assert barriers(page) == []
    page.locator("[data-clear]").press("Enter")
    page.get_by_role("dialog").get_by_role("button", name="Clear it").press("Enter")
    expect(page.get_by_label("The code on your slip")).to_be_visible()
    assert page.evaluate("localStorage.length") == 0
    page.goto(f"{room.served.address}/paper")
    expect(page.get_by_label("The code on your slip")).to_be_visible()


@pytest.mark.slow
@WINDOWS
def test_every_page_is_without_barriers_and_fits(running, device, width, colours):
    room = running(minutes=75)
    page = device(width=width, color_scheme=colours)

    def sound() -> None:
        assert barriers(page) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")

    page.goto(room.served.address)
    page.get_by_label("The code on your slip").fill("0000-0000-0000-0000")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("This is no code of this sitting")
    sound()
    page.goto(f"{room.served.address}/#{room.codes['aa-01']}")
    page.get_by_role("button", name="Open my paper").click()
    expect(page.get_by_role("button", name="Start")).to_be_visible()
    sound()
    page.get_by_role("button", name="Start").click()
    saved(page)
    sound()
    hand_in(page)
    sound()
    slips = page.context.new_page()
    slips.set_content(room.slips)
    assert slips.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.slow
def test_answer_that_is_too_long_is_told_and_the_others_are_saved(running, device, school):
    room, page = running(), device()
    begin(page, room, "aa-01")
    type_into(page, "1a", "7")
    area = page.locator("[data-working]").first
    area.evaluate("area => area.closest('details').open = true")
    area.fill("x" * 50_001)
    expect(page.locator("[data-school]")).to_contain_text("more than 50000 characters", timeout=20_000)
    held = room.served.room.drafts.answers(paper_of(school, "aa-01").id)
    assert set(held) == {"1a"}
    page.locator(".bar [data-hand-in]").click()
    page.get_by_role("dialog").get_by_role("button", name="Hand in").click()
    expect(page.locator("[data-said]")).to_contain_text("Nothing was handed in")
    area.fill("x" * 40_000)
    saved(page)
    hand_in(page)


#: What people type, and what nobody should: read as a number, as a fraction, as text, or not at all.
ODD = ("412", "3/4", "12 1/2", "6,442", "1 234,5", "½", "1e400", "1e21", "0.0000001", "-.5", "  7 ", "a \\ \" 'b",
       "🛢 ٣", "10.5 ppg", "９", "1\u00a0000", "−3", "+0")  # fmt: skip

TEXTS = ("", " \t ", "a\r\nb\rc ```` `\n", "\ufeffx\u2028y\u0085 ", "\U0001f600 <b>&amp;</b>", "#\n```text")


@pytest.mark.slow
def test_school_makes_of_odd_answers_of_every_kind_the_very_file_that_the_page_saves(running, device, school, tmp_path):
    room, page = running(), device()
    begin(page, room, "aa-01")
    page.evaluate(
        """({ odd, texts }) => {
          const told = (node, kind) => node.dispatchEvent(new Event(kind, { bubbles: true }));
          document.querySelectorAll('[id^="value-"]').forEach((input, at) => {
            input.value = odd[at % odd.length];
            told(input, "input");
            told(input, "change");
          });
          document.querySelectorAll(".choices").forEach((list) => list.querySelectorAll("input")[1].click());
          document.querySelectorAll(".order-done input").forEach((box) => box.click());
          document.querySelectorAll(".steps li:first-child button:last-of-type").forEach((down) => down.click());
          document.querySelectorAll("textarea").forEach((area, at) => {
            area.value = texts[at % texts.length];
            told(area, "input");
          });
        }""",
        {"odd": list(ODD), "texts": list(TEXTS)},
    )
    page.wait_for_timeout(500)
    saved(page)
    with page.expect_download() as download:
        page.evaluate("document.querySelector('.hand-in [data-save]').click()")
    download.value.save_as(tmp_path / "saved.ipynb")
    hand_in(page)
    (file,) = school.scripts.iterdir()
    mine, theirs = (json.loads(one.read_bytes()) for one in (file, tmp_path / "saved.ipynb"))
    for own, other in zip(mine["cells"], theirs["cells"], strict=True):
        assert own == other
    assert file.read_bytes() == (tmp_path / "saved.ipynb").read_bytes()
    kinds = {item["kind"] for item in room.served.room.sheet(paper_of(school, "aa-01").id).data["items"].values()}
    assert kinds == {"number", "choice", "order", "words"}
