"""Builds the book once, finds the browser, and opens pages while it records every request and console message."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import sysconfig
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from filelock import FileLock
from playwright.sync_api import Browser, Error, Page, sync_playwright

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(ROOT / "book" / "extensions"))

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


@pytest.fixture(scope="session")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the built book, built from nothing with warnings as errors; several test processes share it."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    output, done = shared / "book", shared / "book.done"
    with FileLock(shared / "book.lock"):
        if not done.exists():
            build(output)
            done.touch()
    return output / "_build" / "html"


def build(output: Path) -> None:
    command = [str(Path(sysconfig.get_path("scripts")) / "jupyter-book"), "build", "book", "--config", "_config.yml"]
    command += ["--path-output", str(output), "-W", "-n", "--keep-going"]
    path = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    result = subprocess.run(command, cwd=ROOT, env={**os.environ, "PYTHONPATH": path}, capture_output=True, text=True)
    assert result.returncode == 0, f"the book does not build:\n{result.stdout[-4000:]}\n{result.stderr[-4000:]}"


def chromium() -> str | None:
    """The browser's path: ``PITSIDE_CHROMIUM``, or the first usual name that is installed."""
    named = os.environ.get("PITSIDE_CHROMIUM")
    return named or next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = chromium()
    if path is None:
        message = "no Chromium: install it, or name it in PITSIDE_CHROMIUM"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=path, args=list(QUIET))
        yield running
        running.close()


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


@pytest.fixture
def visitor(browser: Browser) -> Iterator[Visitor]:
    """Opens a browser window on a folder: ``visitor(folder, color_scheme="dark")``.

    At the end of the test every window must have asked for nothing outside its folder and shown no error.
    """
    visits: list[Visit] = []

    def visit(folder: Path, width: int = 1280, **options: Any) -> Visit:
        context = browser.new_context(viewport={"width": width, "height": 900}, **options)
        context.set_default_timeout(10_000)
        made = Visit(context.new_page(), folder.as_uri())
        made.page.on("request", lambda request: made.requests.append(request.url))
        made.page.on("requestfailed", lambda request: made.errors.append(f"failed: {request.url}"))
        made.page.on("pageerror", lambda error: made.errors.append(str(error)))
        made.page.on("console", lambda line: line.type in {"error", "warning"} and made.errors.append(line.text))
        visits.append(made)
        return made

    yield visit
    for made in visits:
        try:
            made.page.context.close()
        except Error:
            continue  # the browser itself is gone; the test has said why
    for made in visits:
        assert made.outside == []
        assert made.errors == []


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Slips are carried on wherever they lead; that a model answer keeps its formula in range is checked apart."""
    for item in items:
        if item.path.is_relative_to(Path(__file__).parent):
            item.add_marker(pytest.mark.filterwarnings("ignore::pitside.errors.ValidityWarning"))
