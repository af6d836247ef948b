"""One lesson of the book, built alone: it opens from the disk without a request, and its practice judges answers."""

from __future__ import annotations

import io
import re
from pathlib import Path
from urllib.parse import quote

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import expect

from tests.book.test_practice import answer_number, check, data_of, numeric_part, part_of, typed, widget
from tests.browsing import WINDOWS, Visitor
from tests.sharing import a_few

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("name", ["index.html", "search.html", "lessons/mud-weight.html"])
def test_a_page_of_each_kind_asks_for_nothing_outside_the_book(one_lesson: Path, visitor: Visitor, name: str) -> None:
    visit = visitor(one_lesson)
    visit.open(name).wait_for_load_state("networkidle")
    assert any(url.endswith("/_static/pitside.css") or "/_static/pitside.css?" in url for url in visit.requests)
    assert visit.outside == []


def test_practice_tells_right_from_wrong(one_lesson: Path, visitor: Visitor) -> None:
    section = widget(visitor(one_lesson).open("lessons/mud-weight.html"), "column-pressure")
    told = numeric_part(data_of(section))
    item, part = told["items"][0], part_of(section, told["key"])
    answer_number(part, *typed(item, item["model"]))
    assert check(part) == [("right", "Right.")]
    answer_number(part, *typed(item, item["model"] * 1.7))
    assert [verdict for verdict, _ in check(part)] == ["wrong"]


# What each page has ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", a_few([360, 1280, 700, 1000, 1600], 2))
def test_headings_of_a_page_are_at_hand_at_every_width(one_lesson: Path, visitor: Visitor, width: int) -> None:
    page = visitor(one_lesson, width, reduced_motion="reduce").open("lessons/mud-weight.html")
    nav = page.get_by_role("navigation", name="On this page")
    expect(nav).to_be_visible()
    last = nav.get_by_role("link", name="Summary")
    if not last.is_visible():  # folded where there is little room
        assert width <= 1280
        assert nav.bounding_box()["y"] < 400 and nav.bounding_box()["height"] < 80
        nav.get_by_text("On this page").click()
    last.click()
    expect(page).to_have_url(re.compile("#summary$"))
    assert page.locator("#summary").evaluate("(one) => one.getBoundingClientRect().top") < 400
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_one_switch_shows_all_code_and_is_remembered(one_lesson: Path, visitor: Visitor) -> None:
    visit = visitor(one_lesson)
    page = visit.open("lessons/mud-weight.html")
    inputs = page.locator(".lesson .cell_input")
    assert inputs.count() > 2
    shown = "(all) => all.filter((one) => one.checkVisibility()).length"
    assert inputs.evaluate_all(shown) == 0
    page.get_by_role("button", name="Show code").click()
    assert inputs.evaluate_all(shown) == inputs.count()
    page = visit.open("lessons/mud-weight.html")
    assert inputs.evaluate_all(shown) == inputs.count()
    page.get_by_role("button", name="Hide code").click()
    assert inputs.evaluate_all(shown) == 0
    expect(visit.open("search.html").get_by_role("button", name="Show code")).to_be_hidden()


def test_figures_fill_the_width_of_the_text_and_fit_a_dark_page(one_lesson: Path, visitor: Visitor) -> None:
    """A pixel at the edge of the figure, as it is seen, is nearly as dark as the page."""
    for colours, least, most in (("dark", 0, 60), ("light", 230, 255)):
        page = visitor(one_lesson, color_scheme=colours).open("lessons/mud-weight.html")
        figure = page.locator(".cell_output figure img").first
        column = page.locator(".lesson").bounding_box()
        box = figure.bounding_box()
        assert column and box and box["width"] == pytest.approx(column["width"], abs=2)
        seen = Image.open(io.BytesIO(figure.screenshot())).convert("RGB").getpixel((4, 4))
        assert least <= min(seen) and max(seen) <= most, (colours, seen)


@pytest.mark.parametrize(
    ("asked", "holds"),
    a_few(
        [("LB/GAL", "lb/gal"), ("EMW", "equivalent mud weight"), ("ppg", "lb/gal"), ("tvd", "true vertical depth")], 2
    ),
)
def test_search_knows_the_words_of_the_trade_and_shows_where_they_stand(
    one_lesson: Path, visitor: Visitor, asked: str, holds: str
) -> None:
    page = visitor(one_lesson).open(f"search.html?q={quote(asked)}")
    hit = page.locator("#search-results > ul > li").filter(has=page.get_by_role("link", name="Mud weight and pressure"))
    expect(hit.locator("mark").first).to_be_visible()
    marks = hit.locator("mark").all_text_contents()
    assert holds.lower() in [mark.lower() for mark in marks]
    section = hit.locator("p a").first
    heading = section.inner_text()
    section.click()
    expect(page).to_have_url(re.compile("/mud-weight.html#"))
    anchor = page.evaluate("decodeURIComponent(location.hash.slice(1))")
    assert page.locator(f"[id='{anchor}'] > :is(h2, h3)").first.inner_text() == heading


@pytest.mark.parametrize(("asked", "better"), [("presure", "pressure"), ("colunm weight", "column weight")])
def test_search_hints_at_the_word_that_may_be_meant(
    one_lesson: Path, visitor: Visitor, asked: str, better: str
) -> None:
    page = visitor(one_lesson).open(f"search.html?q={quote(asked)}")
    expect(page.get_by_role("status")).to_contain_text("Did you mean")
    page.get_by_role("status").get_by_role("link", name=better).click()
    expect(page.get_by_label("Words to look for")).to_have_value(better)
    expect(page.get_by_role("status")).to_contain_text("hold")
    assert page.locator("#search-results mark").count() > 0


@pytest.mark.parametrize(
    "asked", a_few(["<img src=x onerror=alert(1)>", "(((", "[a-", "\\", "%", "ﬁ ½ ³", "a" * 500, "𝐩𝐩𝐠"], 2)
)
def test_search_takes_any_text_as_text(one_lesson: Path, visitor: Visitor, asked: str) -> None:
    page = visitor(one_lesson).open(f"search.html?q={quote(asked)}")
    expect(page.get_by_role("status")).not_to_be_empty()
    assert page.locator("#search-results img").count() == 0


@pytest.mark.parametrize("name", a_few(["lessons/mud-weight.html", "search.html?q=ppg", "search.html?q=presure"], 2))
@WINDOWS
def test_page_has_no_barrier(one_lesson: Path, visitor: Visitor, name: str, width: int, colours: str) -> None:
    page = visitor(one_lesson, width, color_scheme=colours).open(name)
    found = Axe().run(page, options={"preload": False})  # from the disk it cannot fetch style sheets
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
