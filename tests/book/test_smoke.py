"""One lesson of the book, built alone: it opens from the disk without a request, and its practice judges answers."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.book.conftest import build
from tests.book.test_practice import answer_number, check, data_of, numeric_part, part_of, typed, widget
from tests.browsing import Visitor
from tests.sharing import made_once

pytestmark = pytest.mark.browser

TOC = """\
format: jb-book
root: index
chapters:
  - file: lessons/mud-weight
"""


@pytest.fixture(scope="session")
def one_lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    toc = tmp_path_factory.mktemp("contents") / "toc.yml"
    toc.write_text(TOC)
    return (
        made_once(tmp_path_factory, "one-lesson", lambda folder: build(folder, "--toc", str(toc))) / "_build" / "html"
    )


@pytest.mark.parametrize("name", ["index.html", "search.html", "lessons/mud-weight.html"])
def test_a_page_of_each_kind_asks_for_nothing_outside_the_book(one_lesson: Path, visitor: Visitor, name: str) -> None:
    visit = visitor(one_lesson)
    visit.open(name).wait_for_load_state("networkidle")
    assert any(url.endswith("/_static/pitside.css") or "/_static/pitside.css?" in url for url in visit.requests)
    assert visit.outside == []


def test_practice_tells_right_from_wrong(one_lesson: Path, visitor: Visitor) -> None:
    section = widget(visitor(one_lesson).open("lessons/mud-weight.html"), "column-pressure")
    told = numeric_part(data_of(section))
    item, part = told["items"][0], part_of(section, told["key"])
    answer_number(part, *typed(item, item["model"]))
    assert check(part) == [("right", "Right.")]
    answer_number(part, *typed(item, item["model"] * 1.7))
    assert [verdict for verdict, _ in check(part)] == ["wrong"]
