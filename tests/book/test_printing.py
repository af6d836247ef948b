"""The book and the formula card as PDF, and what paper shows of a page."""

from __future__ import annotations

import importlib.util
import io
import re
from pathlib import Path
from types import ModuleType

import pytest
from playwright.sync_api import Browser
from pypdf import PdfReader

from tests.browsing import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PRINTING = Path(__file__).parents[2] / "book" / "printing.py"
SHORT = [("", ["index"]), ("Screens and cyclones", ["lessons/hydrocyclones"])]
A4 = (595, 842)  # points, ISO 216


@pytest.fixture(scope="module")
def printing() -> ModuleType:
    specification = importlib.util.spec_from_file_location("printing", PRINTING)
    assert specification is not None
    assert specification.loader is not None
    module = importlib.util.module_from_spec(specification)
    specification.loader.exec_module(module)
    return module


def words(document: PdfReader) -> str:
    return re.sub(r"\s+", " ", " ".join(sheet.extract_text() for sheet in document.pages))


def test_the_pages_go_into_the_book_in_the_order_of_its_contents(printing: ModuleType, book: Path) -> None:
    names = [name for _, part in printing.pages() for name in part]
    built = {path.relative_to(book).with_suffix("").as_posix() for path in book.rglob("*.html")}
    assert names[0] == "index"
    assert set(names) == {name for name in built if not name.startswith(("_static/", "search"))}
    assert len(names) == len(set(names))


def test_the_book_has_a_bookmark_for_each_page(printing: ModuleType, browser: Browser, book: Path) -> None:
    document = PdfReader(io.BytesIO(printing.print_book(browser, book, SHORT)))
    assert len(document.pages) > 8
    first, part, [lesson] = document.outline
    assert (part.title, lesson.title) == ("Screens and cyclones", "Hydrocyclones")
    assert document.get_destination_page_number(first) == 0
    start = document.get_destination_page_number(lesson)
    assert document.pages[start].extract_text().strip()
    assert "A cone has no moving part" in words(document)
    for sheet in document.pages:
        assert (float(sheet.mediabox.width), float(sheet.mediabox.height)) == pytest.approx(A4, abs=1.5)


def test_a_lesson_on_paper_asks_but_does_not_answer(printing: ModuleType, browser: Browser, book: Path) -> None:
    text = words(PdfReader(io.BytesIO(printing.printed(browser, book / "lessons/hydrocyclones.html"))))
    assert "All positions" not in text  # the summary, which opens nothing on paper
    assert "Down: Cut point of drilled solids" in text  # the table under it
    assert "import matplotlib" not in text
    for control in (
        "Other numbers",
        "Dark page",
        "Show on a projector",
        "Skip to the text",
        "On this page",
        "Worked solution to",
    ):
        assert control not in text, control
    assert "Spray or rope" in text


def test_the_formula_card_is_two_sides(printing: ModuleType, browser: Browser, book: Path) -> None:
    card = PdfReader(io.BytesIO(printing.printed(browser, book / f"{printing.CARD}.html", numbered=False)))
    assert len(card.pages) <= 2
    assert "Formula card" in words(card)


def test_a_lesson_for_the_projector_is_a_sheet_a_screen_and_notes_with_the_same_numbers(
    printing: ModuleType, browser: Browser, book: Path
) -> None:
    lesson = book / "lessons/mud-weight.html"
    shown = PdfReader(io.BytesIO(printing.printed(browser, lesson, numbered=False, view="projector")))
    notes = words(PdfReader(io.BytesIO(printing.printed(browser, lesson, view="notes"))))
    last = len(shown.pages)
    assert last > 20
    for place, sheet in enumerate(shown.pages, start=1):
        assert f"{place} / {last}" in sheet.extract_text()
        assert float(sheet.mediabox.width) / float(sheet.mediabox.height) == pytest.approx(4 / 3, abs=0.01)
        assert f"{place} / {last}" in notes


def test_a_figure_and_a_worked_step_stay_on_one_sheet(book: Path, visitor: Visitor) -> None:
    page = visitor(book).open("lessons/hydrocyclones.html")
    page.emulate_media(media="print")
    for selector in (".cell_output figure", ".worked-step", ".moving-picture", "tr", ".admonition"):
        found = page.eval_on_selector_all(selector, "all => all.map(one => getComputedStyle(one).breakInside)")
        assert found
        assert set(found) == {"avoid"}, selector
    assert page.locator(".practice-field input").first.is_visible()
    assert not page.locator(".practice-field select").first.is_visible()


#: Pixels of an A4 sheet between its margins, and of the heading over a drawing.
#: Of ``@page book`` in print.css: A4 less its two margins, and about what a heading of a figure takes.
SHEET, HEADING = (297 - 34) / 25.4 * 96, 70


@pytest.mark.parametrize("lesson", ("fault-finding", "tanks-and-pumps", "centrifuges"))
def test_a_drawing_fits_on_a_sheet_with_its_heading(book: Path, visitor: Visitor, lesson: str) -> None:
    page = visitor(book, width=665).open(f"lessons/{lesson}.html")
    page.emulate_media(media="print")
    heights = page.eval_on_selector_all(
        "figure.drawing", "all => all.map(one => one.querySelector('svg').getBoundingClientRect().height)"
    )
    captions = page.eval_on_selector_all(
        "figure.drawing", "all => all.map(one => one.querySelector('figcaption').getBoundingClientRect().height)"
    )
    assert heights
    assert [one for one in map(sum, zip(heights, captions, strict=True)) if one > SHEET - HEADING] == []


def test_a_page_that_is_not_built_is_named(
    printing: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert printing.main([str(tmp_path), str(tmp_path / "print")]) == 1
    assert "index.html is not built; run make book first" in capsys.readouterr().err
    assert not (tmp_path / "print").exists()


def test_a_missing_browser_is_said(
    printing: ModuleType,
    book: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.delenv("PITSIDE_CHROMIUM", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert printing.main([str(book), str(tmp_path / "print")]) == 1
    assert capsys.readouterr().err == "no Chromium: install it, or name it in PITSIDE_CHROMIUM. Nothing was printed.\n"
