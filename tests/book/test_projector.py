"""The lessons on a projector: every screen fits and can be read, keys turn, the notes follow, nothing is lost."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from playwright.sync_api import Page, expect

from exercises import LESSONS
from tests.book.test_accessibility import violations
from tests.browsing import Visit, Visitor

pytestmark = pytest.mark.browser

SIZES = ((1024, 768), (1280, 720), (1920, 1080))
# Hundredths of the screen's height. A thirtieth is common practice for letters that a room can read, no source.
LETTERS = 3.3
#: Of a picture: the whole of it where no enlarged parts follow, such a part, and a moving figure.
LETTERS_OF_PICTURE, LETTERS_OF_PART, LETTERS_OF_MOVING = 2.7, 2.8, 2.0
MEASURE = """() => {
const shown = document.querySelector(".frame-of-one[data-now]");
const measured = [...document.querySelectorAll(".frame-of-one")].map((frame, place, all) => {
  all.forEach((one) => one.removeAttribute("data-now"));
  frame.dataset.now = "";
  const body = frame.querySelector(".screen-body");
  const seen = (one) => one.getClientRects().length && one.checkVisibility() && !one.closest(".unseen")
    && !(one.closest("caption, thead") && one.closest(".moves"));
  const outside = [...body.querySelectorAll("svg, table, img, mjx-container, p, li, td, th, input")].filter((one) => {
    const box = one.getBoundingClientRect();
    return seen(one) && (box.right > innerWidth + 1 || box.bottom > innerHeight + 1 || box.left < -1 || box.top < -1);
  });
  const share = (size) => (size / innerHeight) * 100;
  const words = document.createTreeWalker(frame, NodeFilter.SHOW_TEXT);
  let letters = Infinity;
  for (let node = words.nextNode(); node; node = words.nextNode()) {
    const one = node.parentElement;
    if (!node.data.trim() || one.closest("script, mjx-container, sub, sup, svg, .screen-title") || !seen(one)) continue;
    letters = Math.min(letters, share(parseFloat(getComputedStyle(one).fontSize)));
  }
  let drawn = Infinity;
  for (const text of body.querySelectorAll("svg text")) {
    if (!text.textContent.trim() || !seen(text)) continue;
    const matrix = text.getScreenCTM();
    drawn = Math.min(drawn, share(parseFloat(getComputedStyle(text).fontSize) * Math.hypot(matrix.b, matrix.d)));
  }
  return {
    place: place + 1,
    kind: frame.querySelector(".screen").className.split(" ").slice(1).join(" ").trim(),
    over: [body.scrollHeight - body.clientHeight, body.scrollWidth - body.clientWidth],
    outside: outside.map((one) => one.localName),
    letters: letters === Infinity ? null : letters,
    drawn: drawn === Infinity ? null : drawn,
  };
});
for (const one of document.querySelectorAll(".frame-of-one")) one.toggleAttribute("data-now", one === shown);
return measured;
}"""
WRITTEN = """() => {
  const all = document.querySelector("main").cloneNode(true);
  for (const one of all.querySelectorAll("mjx-container")) one.replaceWith("\\uFFFC");
  return all.textContent;
}"""
NOT_SHOWN = "details, aside, nav, script, style, pre, .cases, .moving-all, .moving-controls, .practice-worked, svg"


def screens(visit: Visit, lesson: str, view: str = "projector", width: int = 1024, height: int = 768) -> Page:
    visit.page.set_viewport_size({"width": width, "height": height})
    page = visit.open(f"lessons/{lesson}.html?{view}")
    page.wait_for_selector("html[data-screens]", state="attached", timeout=60_000)
    return page


def number(page: Page) -> int:
    return int(page.locator(".frame-of-one[data-now]").get_attribute("data-screen") or 0)


def faults(page: Page) -> list[str]:
    measured = page.evaluate(MEASURE)
    assert len(measured) == int(page.get_attribute("html", "data-screens") or 0) > 20
    found = []
    for place, one in enumerate(measured):
        enlarged = place + 1 < len(measured) and measured[place + 1]["kind"] == "picture enlarged"
        least = {"picture": 0 if enlarged else LETTERS_OF_PICTURE, "moves": LETTERS_OF_MOVING}
        if max(one["over"]) > 1 or one["outside"]:
            found.append(f"screen {one['place']} does not fit: {one}")
        if one["letters"] is not None and one["letters"] < LETTERS:
            found.append(f"screen {one['place']} has small letters: {one}")
        if one["drawn"] is not None and one["drawn"] < least.get(one["kind"], LETTERS_OF_PART):
            found.append(f"screen {one['place']} has a picture with small letters: {one}")
    return found


@pytest.mark.slow
def test_a_lesson_is_shown_turned_by_keys_and_followed_by_its_notes(one_lesson: Path, visitor: Visitor) -> None:
    visit = visitor(one_lesson)
    page = visit.open("lessons/mud-weight.html")
    page.get_by_role("link", name="Show on a projector").click()
    page.wait_for_selector("html[data-screens]", state="attached", timeout=60_000)
    assert faults(page) == []
    with visit.page.expect_popup() as opened:
        page.get_by_role("button", name="Notes").click()
    notes = opened.value
    notes.wait_for_selector("html[data-screens]", state="attached", timeout=60_000)
    page.locator("article[data-now]").focus()
    last = int(page.get_attribute("html", "data-screens") or 0)
    for key, shown in (
        ("Home", 1),
        ("ArrowRight", 2),
        ("PageDown", 3),
        (" ", 4),
        ("ArrowLeft", 3),
        ("PageUp", 2),
        ("End", last),
        ("ArrowRight", last),
    ):
        page.keyboard.press(key)
        assert number(page) == shown, key
    page.keyboard.type("12")
    expect(page.get_by_role("status")).to_contain_text("12")
    page.keyboard.press("Enter")
    assert number(page) == 12
    expect(notes.locator("article[data-now]")).to_have_attribute("data-screen", "12")
    expect(notes.locator(".joined")).to_have_text("Follows the projector")
    notes.locator("article[data-now]").focus()
    notes.keyboard.press("ArrowRight")
    expect(page.locator("article[data-now]")).to_have_attribute("data-screen", "13")


def test_a_window_that_the_browser_blocks_is_told_with_another_way(one_lesson: Path, visitor: Visitor) -> None:
    page = screens(visitor(one_lesson), "mud-weight")
    page.evaluate("window.open = () => null")
    page.get_by_role("button", name="Notes").click()
    expect(page.get_by_role("status")).to_contain_text("did not let a second window open")
    assert (page.get_by_role("link", name="open the notes here").get_attribute("href") or "").startswith("?notes")


@pytest.mark.slow
@pytest.mark.parametrize("lesson", LESSONS)
def test_every_screen_of_a_lesson_fits_and_can_be_read(book: Path, visitor: Visitor, lesson: str) -> None:
    page = screens(visitor(book), lesson)
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        assert faults(page) == [], (width, height)


@pytest.mark.slow
@pytest.mark.parametrize("lesson", LESSONS)
def test_what_a_lesson_says_is_on_a_screen_or_in_the_notes(book: Path, visitor: Visitor, lesson: str) -> None:
    """Sentence by sentence, without sources, code and formulas."""
    page = screens(visitor(book), lesson, "notes")
    there = re.sub(r"\s+", "", page.evaluate(WRITTEN))
    soup = BeautifulSoup((book / "lessons" / f"{lesson}.html").read_text(encoding="utf-8"), "html.parser")
    main = soup.select_one("main")
    assert main is not None
    for one in main.select(NOT_SHOWN):
        one.decompose()
    for one in main.select(".footnote-reference, .math, br"):
        one.replace_with("\n\n")
    sentences = [
        sentence.strip()
        for one in main.select("p, li, td, th, figcaption")
        if not one.select("p, li, td")
        for piece in one.get_text().split("\n\n")
        for sentence in re.split(r"(?<=[.!?])\s+", piece)
    ]
    assert len(sentences) > 100
    assert [one for one in sentences if re.sub(r"\s+", "", one) not in there] == []


@pytest.mark.slow
def test_a_moving_figure_moves_on_a_screen(book: Path, visitor: Visitor) -> None:
    page = screens(visitor(book), "shakers")
    shown = page.locator(".frame-of-one:has(.moves)").get_attribute("data-screen")
    page.keyboard.type(shown or "")
    page.keyboard.press("Enter")
    slider = page.locator(".frame-of-one[data-now] input[type=range]").first
    before = page.locator("[data-at]").first.text_content()
    slider.focus()
    page.keyboard.press("ArrowRight")
    assert page.locator("[data-at]").first.text_content() != before
    assert number(page) == int(shown or 0)  # the arrow belongs to the slider while it has the focus
    page.keyboard.press("PageDown")
    assert number(page) == int(shown or 0) + 1


@pytest.mark.slow
@pytest.mark.parametrize("view", ["projector", "notes"])
@pytest.mark.parametrize("lesson", ["hydrocyclones", "fault-finding"])
def test_the_view_has_no_grave_barrier(book: Path, visitor: Visitor, lesson: str, view: str) -> None:
    page = screens(visitor(book), lesson, view)
    for place in range(1, 60, 7):
        page.evaluate("place => { location.hash = `#${place}`; }", place)
        expect(page.locator("article[data-now]")).to_have_attribute("data-screen", f"{place}")
        kept, grave = violations(page)
        assert kept > 8
        assert grave == []
