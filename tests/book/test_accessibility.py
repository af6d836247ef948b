"""Every page through axe-core: nothing serious or critical, light and dark, on a wide and on a narrow screen."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest

from tests.book.test_offline import PAGES
from tests.browsing import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.slow]

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
OPEN_ALL = """async () => {
  for (const folded of document.querySelectorAll("details")) folded.open = true;
  await new Promise((resolve) => setTimeout(resolve, 100));
  await Promise.all(document.getAnimations().map((one) => one.finished)); // what unfolds fades in
}"""
GRAVE = ("serious", "critical")


def violations(page: Any) -> tuple[int, list[str]]:
    """How many rules a page keeps, and each grave violation with the elements that commit it."""
    page.evaluate(AXE)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations', 'passes'], preload: false})")
    grave = [
        f"{rule['id']} ({rule['impact']}): {rule['help']}: {node['html'][:160]}"
        for rule in found["violations"]
        if rule["impact"] in GRAVE
        for node in rule["nodes"]
    ]
    return len(found["passes"]), grave


# Both colours and both widths, without every pair of them: colours do not hang on the width, and a page takes long.
@pytest.mark.parametrize(("colours", "width"), [("light", 1280), ("dark", 360)])
@pytest.mark.parametrize("name", PAGES)
def test_a_page_has_no_grave_barrier(book: Path, visitor: Visitor, name: str, colours: str, width: int) -> None:
    page = visitor(book, width=width, color_scheme=colours).open(name)
    page.wait_for_load_state("networkidle")
    page.evaluate("window.MathJax?.startup?.promise")
    page.evaluate(OPEN_ALL)
    kept, grave = violations(page)
    assert kept > 15
    assert grave == []


def test_a_chart_that_scrolls_takes_the_focus_with_other_numbers_too(book: Path, visitor: Visitor) -> None:
    page = visitor(book, width=360).open("lessons/hydrocyclones.html")
    section = page.locator("[data-practice]:has(img.chart)").first
    section.get_by_role("button", name="Other numbers").click()
    assert section.locator(".practice-setting").get_attribute("tabindex") == "0"


def test_the_check_sees_a_barrier(book: Path, visitor: Visitor) -> None:
    page = visitor(book).open("index.html")
    page.evaluate("document.querySelector('main').insertAdjacentHTML('beforeend', '<button></button>')")
    assert any(line.startswith("button-name") for line in violations(page)[1])
