"""A window that was used before knows nothing of what was done in it."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.browsing import Windows

pytestmark = pytest.mark.browser

KEPT = """async () => [localStorage.length, document.cookie, (await indexedDB.databases()).length]"""


def opened(windows: Windows, folder: Path) -> Page:
    (folder / "x.html").write_text("<!doctype html><title>x</title>")
    page = windows.take({"locale": "en-GB"}).new_page()
    page.goto((folder / "x.html").as_uri())
    return page


def test_nothing_that_a_page_kept_is_there_for_the_next(windows, tmp_path):
    page = opened(windows, tmp_path)
    first = page.context
    page.evaluate("""() => new Promise((done) => {
      localStorage.setItem("a", "1");
      const asked = indexedDB.open("kept", 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore("things");
      asked.onsuccess = () => { asked.result.close(); done(); };
    })""")
    assert page.evaluate(KEPT) == [1, "", 1]
    windows.give_back(first, {"locale": "en-GB"})
    again = opened(windows, tmp_path)
    assert again.context is first
    assert again.evaluate(KEPT) == [0, "", 0]
    windows.give_back(first, {"locale": "en-GB"})
