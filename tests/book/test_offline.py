"""Every page from file://, with requests and console recorded (the ``visitor`` fixture wants none and no errors)."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote

import pytest
import yaml
from bs4 import BeautifulSoup
from playwright.sync_api import expect

from tests.browsing import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.slow]

TOC = yaml.safe_load((Path(__file__).parents[2] / "book" / "_toc.yml").read_text())
PAGES = (
    "index.html",
    "search.html",
    *(f"{chapter['file']}.html" for part in TOC["parts"] for chapter in part["chapters"]),
)

#: Texts with less contrast than WCAG 2.1 AA wants (4.5, or 3 for large text), each with its ratio.
POOR_CONTRAST = """() => {
  const channel = (value) => (value /= 255) <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
  const parse = (colour) => (colour.match(/[\\d.]+/g) ?? [0, 0, 0, 0]).map(Number);
  const luminance = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
  const background = (element) => {
    for (let at = element; at; at = at.parentElement) {
      const colour = parse(getComputedStyle(at).backgroundColor);
      if (colour.length === 3 || colour[3] === 1) return colour;
    }
    return [255, 255, 255];
  };
  const poor = [];
  let looked = 0;
  for (const element of document.querySelectorAll("body *")) {
    const own = [...element.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
    if (!own || !element.checkVisibility() || element.closest("svg, script, mjx-container")) continue;
    const style = getComputedStyle(element);
    const [one, two] = [luminance(parse(style.color)), luminance(background(element))].sort((a, b) => b - a);
    const ratio = (one + 0.05) / (two + 0.05);
    const large = parseFloat(style.fontSize) >= 24 || (parseFloat(style.fontSize) >= 18.66 && style.fontWeight >= 700);
    looked += 1;
    const text = element.textContent.trim().slice(0, 40);
    if (ratio < (large ? 3 : 4.5)) poor.push(`${ratio.toFixed(2)} ${element.tagName} ${text}`);
  }
  return { looked, poor };
}"""


def test_the_list_of_pages_is_the_book(book: Path) -> None:
    built = {path.relative_to(book).as_posix() for path in book.rglob("*.html") if "_static" not in path.parts}
    assert built == set(PAGES)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_asks_for_nothing_outside_the_book(book: Path, visitor: Visitor, name: str) -> None:
    visit = visitor(book)
    page = visit.open(name)
    page.wait_for_load_state("networkidle")
    loaded = [url for url in visit.requests if "/_static/pitside.css" in url]
    assert loaded, "the recorder saw not even the page's own style"
    for summary in page.locator("details > summary").all():
        summary.click()
    page.wait_for_load_state("networkidle")
    assert visit.outside == []


def test_the_recorder_sees_a_request(book: Path, visitor: Visitor, tmp_path: Path) -> None:
    (tmp_path / "calling.html").write_text('<!DOCTYPE html><img src="https://pitside.invalid/picture.png">')
    visit = visitor(tmp_path)
    visit.open("calling.html")
    visit.page.wait_for_load_state("networkidle")
    assert visit.outside == ["https://pitside.invalid/picture.png"]
    assert visit.errors
    visit.requests.clear()
    visit.errors.clear()


#: What teaches by looking and asking, without a formula.
WITHOUT_FORMULAS = {"lessons/fault-finding.html"}


@pytest.mark.parametrize(
    "name", [name for name in PAGES if name.startswith("lessons/") and name not in WITHOUT_FORMULAS]
)
def test_formulas_are_drawn_and_readable_by_machines(book: Path, visitor: Visitor, name: str) -> None:
    page = visitor(book).open(name)
    page.wait_for_selector("mjx-container svg")
    assert page.locator("mjx-container mjx-assistive-mml math").count() == page.locator(".math").count() > 3
    assert page.locator("mjx-merror, [data-mml-node=merror]").count() == 0


@pytest.mark.parametrize("name", PAGES)
def test_a_page_fits_a_narrow_screen(book: Path, visitor: Visitor, name: str) -> None:
    page = visitor(book, width=360).open(name)
    page.wait_for_load_state("networkidle")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


@pytest.mark.parametrize("colours", ["light", "dark"])
@pytest.mark.parametrize("name", PAGES)
def test_text_stands_out_from_its_ground(book: Path, visitor: Visitor, name: str, colours: str) -> None:
    page = visitor(book, color_scheme=colours).open(name)
    found = page.evaluate(POOR_CONTRAST)
    assert found["looked"] > 10
    assert found["poor"] == []


def test_the_dark_page_button_is_remembered(book: Path, visitor: Visitor) -> None:
    visit = visitor(book, color_scheme="light")
    page = visit.open("index.html")
    ground = "getComputedStyle(document.body).backgroundColor"
    light = page.evaluate(ground)
    page.get_by_role("button", name="Dark page").click()
    dark = page.evaluate(ground)
    assert dark != light
    visit.open("lessons/solids.html")
    assert page.evaluate(ground) == dark
    page.get_by_role("button", name="Light page").click()
    assert page.evaluate(ground) == light


def test_search_finds_a_lesson_without_network(book: Path, visitor: Visitor) -> None:
    page = visitor(book).open("index.html")
    page.get_by_label("Search the book").fill("chlorides retort")
    page.keyboard.press("Enter")
    page.wait_for_selector("#search-results li a")
    hits = page.locator("#search-results li a").all_text_contents()
    assert "Solids in the mud" in hits
    page.get_by_role("link", name="Solids in the mud").first.click()
    page.wait_for_selector("h1:has-text('Solids in the mud')")


def test_search_finds_every_page_of_the_book_by_its_title(book: Path, visitor: Visitor) -> None:
    visited = visitor(book)
    for name in set(PAGES) - {"search.html"}:
        heading = BeautifulSoup((book / name).read_text(encoding="utf-8"), "html.parser").h1
        assert heading
        title = heading.get_text().strip()
        page = visited.open(f"search.html?q={quote(title)}")
        page.wait_for_selector("#search-results li a")
        assert title in page.locator("#search-results li a").all_text_contents()


def test_search_that_finds_nothing_says_so(book: Path, visitor: Visitor) -> None:
    page = visitor(book).open("search.html?q=xylophone")
    expect(page.get_by_role("status")).to_have_text(
        "The book has no word such as “xylophone”. Try another word for it, or look at the list of lessons."
    )


def test_a_page_reads_without_its_script(book: Path, visitor: Visitor) -> None:
    page = visitor(book, java_script_enabled=False).open("lessons/mud-weight.html")
    practice = page.locator("[data-practice]").first
    assert practice.locator(".practice-setting").inner_text().strip()
    worked = practice.locator("details.practice-worked").first
    worked.locator("summary").click()
    assert "=" in worked.inner_text()
    assert page.locator(".practice button, .practice input").count() == 0
    assert not page.get_by_role("button", name="Dark page").is_visible()


def test_print_leaves_the_text_and_drops_the_controls(book: Path, visitor: Visitor) -> None:
    page = visitor(book, color_scheme="dark").open("lessons/mud-weight.html")
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.locator("h1").is_visible()
    assert page.locator(".practice-setting").first.is_visible()
    assert not page.locator(".lessons, .find, .practice-check").first.is_visible()


@pytest.mark.parametrize("width", [360, 1280])
def test_a_chart_can_be_read_on_a_dark_page(book: Path, visitor: Visitor, width: int) -> None:
    page = visitor(book, width=width, color_scheme="dark").open("lessons/hydrocyclones.html")
    chart = page.locator(".practice img.chart").first
    chart.scroll_into_view_if_needed()
    assert chart.evaluate("image => getComputedStyle(image).backgroundColor") == "rgb(255, 255, 255)"
    assert chart.evaluate("image => image.clientWidth") > 500
    assert page.evaluate("document.documentElement.scrollWidth") <= width
