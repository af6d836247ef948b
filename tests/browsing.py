"""Finds the browser, and says what is recorded while a page is open."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

#: The windows in which a page is tried: narrow and dark at once, the others in the slow run.
WINDOWS = pytest.mark.parametrize(
    ("width", "colours"),
    [(360, "dark"), *(pytest.param(*window, marks=pytest.mark.slow) for window in
                      ((1280, "light"), (360, "light"), (1280, "dark")))],
)  # fmt: skip

#: Switches that keep Chromium from calling home, so that what is recorded is the page's own doing.
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def chromium() -> str | None:
    """The browser's path: ``PITSIDE_CHROMIUM``, or the first usual name that is installed."""
    named = os.environ.get("PITSIDE_CHROMIUM")
    return named or next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)


@dataclass
class Visit:
    """A page, everything that it asked for, and everything that went wrong in it."""

    page: Page
    folder: str
    requests: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    @property
    def outside(self) -> list[str]:
        return [url for url in self.requests if not url.startswith((f"{self.folder}/", "data:"))]

    def open(self, name: str) -> Page:
        self.page.goto(f"{self.folder}/{name}")
        return self.page


Visitor = Callable[..., Visit]


class Windows:
    """Browser contexts that are used again, each by one visit at a time: a new one takes half a second of a processor.

    What a page kept in one is deleted before the next visit.
    """

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self._free: dict[str, list[BrowserContext]] = {}

    def take(self, options: dict[str, Any]) -> BrowserContext:
        if free := self._free.get(repr(options)):
            return free.pop()
        return self._browser.new_context(**options)

    def give_back(self, context: BrowserContext, options: dict[str, Any]) -> None:
        """Close its pages, and forget what they kept."""
        blank = context.new_page()
        for page in context.pages:
            if page is not blank:
                page.close()
        forget = {"origin": "file://", "storageTypes": "all"}
        context.new_cdp_session(blank).send("Storage.clearDataForOrigin", forget)
        blank.close()
        context.clear_cookies()
        self._free.setdefault(repr(options), []).append(context)
