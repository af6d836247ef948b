"""A whole school at the desk in a browser, from an empty folder to a certificate, as a new instructor goes."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import axe_playwright_python
import pytest
from playwright.sync_api import Browser, Page, expect

from grader.desk.said import ROOMS
from grader.store.register import Register
from grader.store.school import open_school
from tests.grader.schools import CHAINED, right_answers, script_with

pytestmark = [pytest.mark.browser, pytest.mark.slow]
AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
WORDS = "explain-to-the-crew"
#: What stands in a notebook where words are to be written.
UNWRITTEN = "*Write your answer here, in place of these words.*"
#: Chromium says this of every page that keeps what is typed and runs its own script in a sandbox.
KNOWN = "allow-scripts and allow-same-origin"


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    context.set_default_timeout(60_000)
    said: list[str] = []
    asked: list[str] = []
    context.on("console", lambda line: said.append(line.text) if KNOWN not in line.text else None)
    context.on("weberror", lambda error: said.append(str(error.error)))
    context.on("request", lambda request: asked.append(request.url))
    yield context.new_page()
    context.close()
    assert said == []
    assert [one for one in asked if not one.startswith(("http://127.0.0.1:", "data:", "blob:"))] == []


def barriers(page: Page) -> list[str]:
    page.evaluate(AXE)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations'], preload: false})")
    return [f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in found["violations"]]


def done(page: Page, says: str) -> None:
    expect(page.locator(".came").first).to_contain_text(says)


def next_step(page: Page) -> None:
    page.get_by_role("link", name="What comes next").click()
    page.locator(".step").first.locator("button, a.button").first.click()


def test_school_is_held_in_the_browser_alone(opened, page, tmp_path, warm_room):
    desk = opened(None, tmp_path, enter=False)
    page.goto(desk.served.address)
    page.wait_for_url("**/desk-*/")
    assert barriers(page) == []
    # The first steps by the keyboard alone.
    page.get_by_label("Title of the school").focus()
    page.keyboard.type("Larkwater week 1")
    page.get_by_label("Plan").select_option("")
    page.get_by_label("Title of the school").press("Enter")
    done(page, "Make a school: done")
    next_step(page)
    page.get_by_label("id of new line 1").fill("lk-01")
    page.get_by_label("name of new line 1").fill("Ann Sand")
    page.get_by_label("id of new line 2").fill("lk-02")
    page.get_by_label("name of new line 2").fill("Ben Silt")
    page.get_by_role("button", name="Look at what changes").click()
    assert barriers(page) == []
    page.get_by_role("button", name="Yes, do it").click()
    done(page, "2 candidates now")
    page.get_by_role("link", name="Sittings").click()
    page.get_by_role("link", name="Change day1").click()
    while page.locator("input[name=exercise]:checked").count():
        page.locator("input[name=exercise]:checked").first.uncheck()
    for name in (CHAINED, WORDS):
        box = page.locator(f"#e-{name}")
        if not box.is_visible():
            page.locator("details", has=box).locator("summary").click()
        box.check()
    expect(page.locator("[data-line]")).to_contain_text("2 exercises chosen")
    page.get_by_role("button", name="Keep this sitting").first.click()
    done(page, "has 2 exercises")
    next_step(page)
    done(page, "2 papers drawn")
    with page.context.expect_page() as sheets:
        page.get_by_role("link", name="All sheets of day1").first.click()
    expect(sheets.value).to_have_title(re.compile("all sheets"))
    sheets.value.close()

    school = open_school(tmp_path / "larkwater-week-1")
    files = []
    for paper in Register(school, only_read=True).papers.values():
        script = json.dumps(script_with(school, paper, dict(right_answers(paper.variants()))))
        files.append(tmp_path / f"{paper.candidate}.ipynb")
        files[-1].write_text(script.replace(UNWRITTEN, "Shut it down, tell the driller, then look."))
    page.get_by_role("link", name="Take in and mark").click()
    page.get_by_label("What came back").set_input_files(files)
    page.get_by_role("button", name="Take them in").click()
    done(page, "2 files taken in")
    next_step(page)
    done(page, "2 scripts marked")
    next_step(page)
    done(page, "in words")
    with page.context.expect_page() as opened_page:
        page.get_by_role("link", name="The page on which words are marked").first.click()
    words = opened_page.value
    words.locator("#marker").fill("AM")
    words.locator("#marker").press("Enter")
    words.keyboard.press("Enter")
    for _ in range(2):
        expect(words.locator("#point-0")).to_be_visible()
        for point in range(words.locator("article:visible [id^=point-]").count()):
            words.keyboard.press(str(point + 1))
        words.keyboard.press("Enter")
    expect(words.locator("[data-progress]")).to_contain_text("2 of 2")
    with words.expect_download() as saved:
        words.get_by_role("button", name="Save all").click()
    saved.value.save_as(tmp_path / saved.value.suggested_filename)
    words.close()
    page.get_by_label("The file that the page saved (written").set_input_files(
        tmp_path / saved.value.suggested_filename
    )
    page.get_by_role("button", name="Take the marks").click()
    done(page, "2 answers of AM taken")
    for says in ("2 of 2 papers with marks", "Debrief", "2 competent", "2 certificates issued"):
        next_step(page)
        done(page, says)
    with page.context.expect_page() as certificate:
        page.get_by_role("link", name="Certificate of lk-01").click()
    expect(certificate.value.locator("body")).to_contain_text("Ann Sand")
    certificate.value.close()
    page.get_by_role("link", name="Results").click()
    page.get_by_role("link", name="Paper lk-01").click()
    page.get_by_role("link", name="Explain 1a").click()
    expect(page.locator("#why")).to_contain_text("model answer")
    page.get_by_role("link", name="Records").click()
    page.get_by_role("button", name="Verify the school").click()
    done(page, "Verify the school: done")
    assert page.locator(".came").get_by_text("Wrong:").count() == 0

    for scheme, width in (("light", 1280), ("dark", 1024)):
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": 900})
        for room in (*ROOMS, "sitting?sitting=day1", "records?candidate=lk-01"):
            page.goto(f"{page.url.split('/desk-')[0]}{desk.base}/{room}")
            assert barriers(page) == [], f"{room}, {scheme}"
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{room} is wider than {width}"
            page.keyboard.press("Tab")
            assert page.evaluate("document.activeElement.textContent") == "Skip to the work"
    page.get_by_role("button", name="Close the desk").click()
    expect(page.locator("h1")).to_have_text("The desk is closed")
