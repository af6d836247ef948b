"""Pages of ours as one PDF, printed by Chromium where it is there."""

from __future__ import annotations

import io
import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

#: Found as the book's printing finds it: what PITSIDE_CHROMIUM names, or the first usual name that is installed.
BROWSERS = ("chromium", "chromium-browser", "google-chrome")


class Printer:
    """A browser that prints pages."""

    def __init__(self, browser: Any) -> None:
        self._browser = browser

    def joined(self, pages: Iterable[bytes]) -> bytes:
        """The pages, each begun on a sheet of its own, as one PDF."""
        from pypdf import PdfReader, PdfWriter

        writer = PdfWriter()
        for page in pages:
            for sheet in PdfReader(io.BytesIO(self._printed(page))).pages:
                writer.add_page(sheet)
        made = io.BytesIO()
        writer.write(made)
        return made.getvalue()

    def _printed(self, page: bytes) -> bytes:
        # Scripts are off: what is printed stands in the page.
        context = self._browser.new_context(java_script_enabled=False, color_scheme="light", offline=True)
        try:
            with tempfile.TemporaryDirectory() as name:
                path = Path(name) / "page.html"
                path.write_bytes(page)
                tab = context.new_page()
                tab.goto(path.as_uri())
                tab.emulate_media(media="print")
                return bytes(tab.pdf(format="A4", prefer_css_page_size=True, print_background=True, tagged=True))
        finally:
            context.close()


@contextmanager
def printer() -> Iterator[tuple[Printer | None, str]]:
    """A printer, or none and the reason why there is none, in words."""
    try:
        from playwright.sync_api import Error, sync_playwright
    except ImportError:
        yield None, "Playwright is not installed (pip install playwright pypdf)"
        return
    path = os.environ.get("PITSIDE_CHROMIUM") or next(filter(None, map(shutil.which, BROWSERS)), None)
    if path is None:
        yield None, "Chromium was not found; install it, or name it in PITSIDE_CHROMIUM"
        return
    if shutil.which(path) is None:
        yield None, f"{path} does not start (there is no such program)"
        return
    with sync_playwright() as playwright:
        try:
            browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        except Error as error:
            yield None, f"{path} does not start ({str(error).splitlines()[0][:100]})"
            return
        try:
            yield Printer(browser), ""
        finally:
            browser.close()
