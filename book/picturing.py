"""The pictures of the README: a lesson, a worksheet, a debrief and the desk, from the built book and the demonstration.

    python book/picturing.py _build/html _build/demo

writes ``book/pictures``. The desk is started as a person starts it, and closed again. Chromium is found as the book's
printing finds it.
"""

from __future__ import annotations

import io
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright
from printing import chromium

PICTURES = Path(__file__).parent / "pictures"
#: Windows of these widths are shown at one width; few colours make a small file of text and lines.
NARROW, WIDE, SHOWN, COLOURS = 1040, 1250, 832, 40
#: What is typed into the worksheet: two answers, and one that cannot be.
TYPED = ("13.5", "14.3", "92")


def _lesson(tab: Page, book: Path) -> None:
    tab.goto((book / "lessons" / "hydrocyclones.html").as_uri())
    tab.locator("figure, .drawing").first.scroll_into_view_if_needed()
    tab.evaluate("window.MathJax?.startup?.promise")


def _worksheet(tab: Page, school: Path) -> None:
    [page] = (school / "opened_pack").glob("*/*worksheet*.html")
    tab.goto(page.as_uri())
    for field, text in zip(
        tab.locator("input[type=text]:visible, input:not([type]):visible").all(), TYPED, strict=False
    ):
        field.fill(text)
        field.press("Tab")
    first = tab.get_by_text("Exercise 1", exact=True)
    first.evaluate("it => scrollTo(0, it.getBoundingClientRect().top + scrollY - 110)")


def _debrief(tab: Page, school: Path) -> None:
    tab.goto((school / "records" / "debrief_day2.html").as_uri())


def _desk(tab: Page, address: str) -> None:
    tab.goto(address)
    tab.wait_for_selector("main h1")
    # Where the school lies on the machine that makes the picture says nothing.
    tab.evaluate("document.querySelector('.where').textContent = document.title.split(': ')[1]")


@contextmanager
def desk_of(school: Path) -> Iterator[str]:
    """The address of a desk for the school, which is closed afterwards."""
    command = [sys.executable, "-c", "from grader.cli import main; main()", "desk", str(school), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, encoding="utf-8") as desk:
        assert desk.stdout
        try:
            found = re.search(r"http://\S+", desk.stdout.readline())
            if not found:
                raise SystemExit(f"{school}: the desk did not open, so no picture was made")
            yield found[0]
        finally:
            desk.send_signal(signal.SIGINT)


def small(picture: bytes) -> bytes:
    """The picture as PNG, narrower and in few colours."""
    whole = Image.open(io.BytesIO(picture)).convert("RGB")
    narrow = whole.resize((SHOWN, round(whole.height * SHOWN / whole.width)), Image.Resampling.LANCZOS)
    written = io.BytesIO()
    narrow.quantize(COLOURS, dither=Image.Dither.NONE).save(written, "PNG", optimize=True)
    return written.getvalue()


def pictures(browser: Browser, book: Path, school: Path) -> Iterator[tuple[str, bytes]]:
    """The name of each picture, and it as PNG."""
    with desk_of(school) as address:
        for name, width, show in (
            ("lesson", NARROW, lambda tab: _lesson(tab, book)),
            ("worksheet", NARROW, lambda tab: _worksheet(tab, school)),
            ("debrief", NARROW, lambda tab: _debrief(tab, school)),
            ("desk", WIDE, lambda tab: _desk(tab, address)),
        ):
            tab = browser.new_page(viewport={"width": width, "height": round(width * 0.67)}, color_scheme="light")
            show(tab)
            yield name, small(tab.screenshot())
            tab.close()


def main(arguments: list[str]) -> int:
    if len(arguments) != 2:
        print("usage: python book/picturing.py FOLDER_OF_THE_BUILT_BOOK FOLDER_OF_THE_DEMONSTRATION", file=sys.stderr)
        return 2
    book, school = (Path(argument).resolve() for argument in arguments)
    path = chromium()
    if path is None:
        print("no Chromium: install it, or name it in PITSIDE_CHROMIUM. No picture was made.", file=sys.stderr)
        return 1
    PICTURES.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        for name, picture in pictures(browser, book, school):
            (PICTURES / f"{name}.png").write_bytes(picture)
            print(f"{name}.png: {len(picture) / 1000:.0f} kB")
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
