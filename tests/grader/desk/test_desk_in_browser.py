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


#: What can be reached on a page: everything that is seen and does something.
REACHABLE = """() => [...document.querySelectorAll(
    'a[href], button, input:not([type=hidden]), select, summary, [tabindex="0"]')]
  .filter((one) => !one.disabled && one.checkVisibility({ visibilityProperty: true }))"""


def out_of_reach(page: Page) -> list[str]:
    """What the Tab key does not come to, or comes to unseen: no line is drawn round it."""
    count = page.evaluate(f"window.wanted = new Set(({REACHABLE})()); window.unseen = []; window.wanted.size")
    for _ in range(3 * count + 10):  # a date has a stop for day, month and year
        page.keyboard.press("Tab")
        left = page.evaluate(
            "const one = document.activeElement; const style = getComputedStyle(one);"
            "if (window.wanted.delete(one) && (style.outlineStyle === 'none' || style.outlineWidth === '0px'))"
            " window.unseen.push(one.outerHTML.slice(0, 120));"
            "window.wanted.size"
        )
        if not left:
            break
    return list(page.evaluate("[...window.unseen, ...[...window.wanted].map((one) => one.outerHTML.slice(0, 120))]"))


def done(page: Page, says: str) -> None:
    # On a busy machine a piece of work takes its time, and the page waits for it.
    expect(page.locator(".came").first).to_contain_text(says, timeout=60_000)


def next_step(page: Page) -> None:
    page.get_by_role("link", name="What comes next").click()
    expect(page.locator("h1")).to_have_text("What comes next")
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
    page.get_by_label("id of new line 3").fill("lk-03")
    page.get_by_label("name of new line 3").fill("Cy Clay")
    page.get_by_role("button", name="Look at what changes").click()
    expect(page.get_by_role("button", name="Yes, do it")).to_be_visible()
    assert barriers(page) == []
    page.get_by_role("button", name="Yes, do it").click()
    done(page, "3 candidates now")
    page.get_by_role("link", name="Sittings").click()
    page.get_by_role("link", name="Change day1").click()
    page.wait_for_url("**/sitting?sitting=day1")
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
    page.get_by_role("link", name="Change day1").click()
    page.get_by_role("button", name="Write a sample").click()
    page.wait_for_url("**/sitting?sitting=day1&job=*")
    done(page, "numbers of nobody")
    next_step(page)
    done(page, "3 papers drawn")
    with page.context.expect_page() as sheets:
        page.get_by_role("link", name="All sheets of day1").first.click()
    expect(sheets.value).to_have_title(re.compile("all sheets"))
    sheets.value.close()

    school = open_school(tmp_path / "larkwater-week-1")
    files = []
    for paper in Register(school, only_read=True).papers.values():
        script = json.dumps(script_with(school, paper, dict(right_answers(paper.variants()))))
        files.append(tmp_path / f"{paper.candidate}.ipynb")
        if paper.candidate == "lk-03":
            files[-1].write_bytes(b"%PDF-1.4")
            continue
        files[-1].write_text(script.replace(UNWRITTEN, "Shut it down, tell the driller, then look."))
    page.get_by_role("link", name="Take in and mark").click()
    page.get_by_label("What came back").set_input_files(files)
    page.get_by_role("button", name="Take them in").click()
    done(page, "3 files taken in")
    next_step(page)
    done(page, "2 scripts marked")
    next_step(page)
    # By the keyboard alone: the reason, and Enter.
    page.get_by_label("Why scripts/lk-03").focus()
    page.keyboard.type("a scan that nobody can read")
    page.keyboard.press("Enter")
    done(page, "lies aside now")
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
    for says in ("2 of 3 papers with marks", "Debrief", "2 competent", "2 certificates issued"):
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

    page.get_by_role("link", name="Results").click()
    page.get_by_role("link", name="Paper lk-01").click()
    page.get_by_role("link", name="Explain 1a").click()
    page.get_by_label("Other marks for part 1a").fill("0")
    page.get_by_label("Why (the candidate reads it)").fill("read from a smudged sheet")
    page.get_by_label("Why (the candidate reads it)").press("Enter")
    done(page, "0 now")
    page.get_by_label("Why part 1a goes back").fill("the sheet was found")
    page.get_by_role("button", name="Put it back").click()
    done(page, "Part 1a: 0 before")
    page.get_by_role("link", name="Decisions").click()
    page.get_by_text("Change the rule").click()
    page.get_by_label("Pass mark").fill("80")
    page.locator("form[action$=rule] input[name=reason]").fill("the operator asks for it")
    page.get_by_role("button", name="See what would change").click()
    expect(page.locator("main")).to_contain_text("70 becomes 80")
    assert barriers(page) == []
    page.get_by_role("button", name="Yes, do it").click()
    done(page, "70 becomes 80")
    page.get_by_label("Candidate of line 1").select_option("lk-03")
    page.get_by_label("Why, line 1").fill("away from the rig")
    page.get_by_role("button", name="Keep who was away").click()
    page.get_by_role("button", name="Yes, do it").click()
    done(page, "1 absence on the list")
    paper = Register(school, only_read=True).paper_of("day1", "lk-01").id
    for scheme, width in (("light", 1280), ("dark", 1024)):
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": 900})
        for room in (*ROOMS, "sitting?sitting=day1", "sitting?kind=tasks", f"paper?paper={paper}&part=1a",
                     "records?candidate=lk-01", "records?candidate=*"):  # fmt: skip
            page.goto(f"{page.url.split('/desk-')[0]}{desk.base}/{room}")
            assert barriers(page) == [], f"{room}, {scheme}"
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{room} is wider than {width}"
            page.keyboard.press("Tab")
            assert page.evaluate("document.activeElement.textContent") == "Skip to the work"
            assert width == 1280 or (out := out_of_reach(page)) == [], f"{room}: {out}"
    page.get_by_role("button", name="Close the desk").click()
    expect(page.locator("h1")).to_have_text("The desk is closed")
