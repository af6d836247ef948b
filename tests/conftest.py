"""What all tests share: steady draws, and a browser that records every request and console message."""

from __future__ import annotations

import gc
import math
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, Error, sync_playwright

from tests.browsing import QUIET, Visit, Visitor, Windows, chromium

# Hypothesis draws the same examples on every run and counts no time, so that a busy machine fails nothing.
settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")


NO_BROWSER = "no Chromium: install it, or name it in PITSIDE_CHROMIUM"


def pytest_xdist_auto_num_workers() -> int:
    """Half as many again as there are processors: a third of the time tests wait, for a browser or for a room."""
    return math.ceil(1.5 * (os.cpu_count() or 1))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say at the end what was not tried for want of a browser; it is easily missed among dots."""
    skipped = [report for report in terminalreporter.stats.get("skipped", ()) if NO_BROWSER in str(report.longrepr)]
    if skipped:
        terminalreporter.write_line(
            f"{len(skipped)} tests of pages were not tried, since there is no Chromium: install it (on Debian: apt-get "
            "install chromium), or name it in PITSIDE_CHROMIUM."
        )


def pytest_collection_finish() -> None:
    """What thousands of tests and all libraries are made of stays: no later collection of garbage goes through it."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = chromium()
    if path is None:
        message = NO_BROWSER
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=path, args=list(QUIET))
        yield running
        running.close()


@pytest.fixture(scope="session")
def windows(browser: Browser) -> Windows:
    return Windows(browser)


@pytest.fixture
def visitor(windows: Windows) -> Iterator[Visitor]:
    """Opens a browser window on a folder: ``visitor(folder, color_scheme="dark")``.

    At the end of the test every window must have asked for nothing outside its folder and shown no error.
    """
    visits: list[tuple[Visit, dict[str, Any]]] = []

    def visit(folder: Path, width: int = 1280, **options: Any) -> Visit:
        options = {"viewport": {"width": width, "height": 900}, **options}
        context = windows.take(options)
        context.set_default_timeout(10_000)
        made = Visit(context.new_page(), folder.as_uri())
        made.page.on("request", lambda request: made.requests.append(request.url))
        made.page.on("requestfailed", lambda request: made.errors.append(f"failed: {request.url}"))
        made.page.on("pageerror", lambda error: made.errors.append(str(error)))
        made.page.on("console", lambda line: line.type in {"error", "warning"} and made.errors.append(line.text))
        visits.append((made, options))
        return made

    yield visit
    for made, options in visits:
        try:
            windows.give_back(made.page.context, options)
        except Error:
            continue  # the browser itself is gone; the test has said why
    for made, _ in visits:
        assert made.outside == []
        assert made.errors == []
