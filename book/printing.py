"""The book and the formula card as PDF, printed by Chromium from the built pages.

    python book/printing.py _build/html _build/print

writes ``book.pdf``, all pages in the order of ``_toc.yml`` with a bookmark each, ``formula-card.pdf``, and in the
folder ``projector`` two files for each lesson: its screens, and the speaker's notes to them. Chromium is found as the
tests find it: named in ``PITSIDE_CHROMIUM``, or the first usual name that is installed.
"""

from __future__ import annotations

import io
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import yaml
from bs4 import BeautifulSoup
from playwright.sync_api import Browser, Error, sync_playwright
from pypdf import PdfReader, PdfWriter

CONTENTS = Path(__file__).parent / "_toc.yml"
CARD = "reference/card"
LESSONS = "lessons"
BROWSERS = ("chromium", "chromium-browser", "google-chrome")

#: The page's title and the sheet's number in it, under the text; the theme's style knows the other margins.
FOOT = (
    '<div style="width: 100%; text-align: center; font: 8pt sans-serif; color: #444">'
    '<span class="title"></span> · <span class="pageNumber"></span></div>'
)


def chromium() -> str | None:
    """The browser's program, if there is one."""
    return os.environ.get("PITSIDE_CHROMIUM") or next(filter(None, map(shutil.which, BROWSERS)), None)


def pages(contents: Path = CONTENTS) -> list[tuple[str, list[str]]]:
    """The book's parts in order, each with its pages; the first has no caption and holds the start page."""
    contained = yaml.safe_load(contents.read_text(encoding="utf-8"))
    parts = [(part["caption"], [chapter["file"] for chapter in part["chapters"]]) for part in contained["parts"]]
    return [("", [contained["root"]]), *parts]


def title(page: Path) -> str:
    """A built page's heading."""
    heading = BeautifulSoup(page.read_text(encoding="utf-8"), "html.parser").h1
    return heading.get_text().strip() if heading else page.stem


def printed(browser: Browser, page: Path, numbered: bool = True, view: str = "") -> bytes:
    """One built page as PDF, or with ``view`` a lesson's screens (``projector``) or the notes to them (``notes``).

    The pages are A4, with margins that a Letter printer keeps as well; screens have the shape of a screen.
    """
    tab = browser.new_page(color_scheme="light")
    try:
        tab.goto(f"{page.as_uri()}?{view}" if view else page.as_uri())
        if view:
            tab.wait_for_selector("html[data-screens]", state="attached")
        tab.wait_for_load_state("networkidle")
        tab.evaluate("window.MathJax?.startup?.promise")
        tab.emulate_media(media="print")
        return tab.pdf(
            format="A4",
            prefer_css_page_size=True,
            print_background=True,
            display_header_footer=numbered,
            header_template="<span></span>",
            footer_template=FOOT,
            tagged=True,
        )
    finally:
        tab.close()


def print_book(browser: Browser, built: Path, parts: list[tuple[str, list[str]]]) -> bytes:
    """All pages in one PDF, a bookmark for each part and each page."""
    writer = PdfWriter()
    for caption, names in parts:
        under = None
        for name in names:
            page = built / f"{name}.html"
            start = len(writer.pages)
            for sheet in PdfReader(io.BytesIO(printed(browser, page))).pages:
                writer.add_page(sheet)
            if caption and under is None:
                under = writer.add_outline_item(title=caption, page_number=start)
            writer.add_outline_item(title=title(page), page_number=start, parent=under)
    writer.add_metadata({"/Title": "Pitside: solids control, worked out"})
    whole = io.BytesIO()
    writer.write(whole)
    return whole.getvalue()


def for_projector(browser: Browser, built: Path, names: list[str]) -> dict[str, bytes]:
    """The screens of each lesson and the notes to them, by the file's name."""
    documents = {}
    for name in names:
        folder, _, lesson = name.rpartition("/")
        if folder == LESSONS:
            page = built / f"{name}.html"
            documents[f"projector/{lesson}.pdf"] = printed(browser, page, numbered=False, view="projector")
            documents[f"projector/{lesson}-notes.pdf"] = printed(browser, page, view="notes")
    return documents


def missing(built: Path, names: Iterator[str]) -> list[str]:
    return [name for name in names if not (built / f"{name}.html").is_file()]


def main(arguments: list[str]) -> int:
    if len(arguments) != 2:
        print("usage: python book/printing.py FOLDER_OF_THE_BUILT_BOOK FOLDER_FOR_THE_PDFS", file=sys.stderr)
        return 2
    built, folder = (Path(argument).resolve() for argument in arguments)
    parts = pages()
    absent = missing(built, (name for _, names in parts for name in names))
    if absent:
        print(
            f"{built}: the page {absent[0]}.html is not built; run make book first. Nothing was printed.",
            file=sys.stderr,
        )
        return 1
    path = chromium()
    if path is None:
        print("no Chromium: install it, or name it in PITSIDE_CHROMIUM. Nothing was printed.", file=sys.stderr)
        return 1
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
            documents = {
                "book.pdf": print_book(browser, built, parts),
                "formula-card.pdf": printed(browser, built / f"{CARD}.html", numbered=False),
                **for_projector(browser, built, [name for _, names in parts for name in names]),
            }
            browser.close()
    except Error as error:
        print(f"{path}: {str(error).splitlines()[0]} Nothing was printed.", file=sys.stderr)
        return 1
    for name, document in documents.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(document)
        print(f"{folder / name}: {len(PdfReader(io.BytesIO(document)).pages)} sheets")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
