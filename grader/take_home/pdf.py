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
#: Where browsers of this kind lie on Windows, below the folders that these variables name, and on macOS, where no
#: command of that name is found.
_ON_WINDOWS = ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")
_BELOW = ("Chromium/Application/chrome.exe", "Google/Chrome/Application/chrome.exe",
          "Microsoft/Edge/Application/msedge.exe")  # fmt: skip
_ON_MACOS = tuple(
    f"/Applications/{name}.app/Contents/MacOS/{name}" for name in ("Chromium", "Google Chrome", "Microsoft Edge")
)


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


def usual_browser(on_macos: Iterable[str] = _ON_MACOS) -> str | None:
    """The program of a browser that can print, by the names and in the places that are usual; None without one."""
    places = [Path(os.environ[name], below) for below in _BELOW for name in _ON_WINDOWS if name in os.environ]
    lying = (str(path) for path in (*places, *map(Path, on_macos)) if path.is_file())
    return next(filter(None, map(shutil.which, BROWSERS)), None) or next(lying, None)


@contextmanager
def printer() -> Iterator[tuple[Printer | None, str]]:
    """A printer, or none and the reason why there is none, in words."""
    try:
        from playwright.sync_api import Error, sync_playwright
    except ImportError:
        yield None, "Playwright is not installed (pipx inject pitside playwright pypdf)"
        return
    path = os.environ.get("PITSIDE_CHROMIUM") or usual_browser()
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
