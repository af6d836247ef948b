"""Finds the browser, and says what is recorded while a page is open."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Page

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
