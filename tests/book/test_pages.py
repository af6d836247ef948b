"""What every page of the book must have, read from the built pages."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest
from bs4 import BeautifulSoup, Tag

from exercises import BANK, LESSONS

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
REQUIRED_SECTIONS = {"what-you-will-be-able-to-do", "what-you-need-first", "worked-example", "practice"}
REQUIRED_SECTIONS |= {"usual-mistakes", "summary", "sources"}


def soup(path: Path) -> BeautifulSoup:
    return BeautifulSoup(path.read_text(encoding="utf-8"), "html.parser")


def pages(book: Path) -> list[Path]:
    return sorted(path for path in book.rglob("*.html") if "_static" not in path.parts)


#: Lessons whose page is written.
WRITTEN = [name for name in LESSONS if (Path(__file__).parents[2] / "book" / "lessons" / f"{name}.md").exists()]


@pytest.fixture(params=WRITTEN)
def lesson(request: pytest.FixtureRequest, book: Path) -> BeautifulSoup:
    return soup(book / "lessons" / f"{request.param}.html")


def test_every_lesson_of_the_exercise_bank_has_its_page(book: Path) -> None:
    titles = {name: soup(book / "lessons" / f"{name}.html").h1.text.strip() for name in WRITTEN}
    assert titles == {name: LESSONS[name].title for name in WRITTEN}


def test_a_lesson_has_its_sections(lesson: BeautifulSoup) -> None:
    sections = {section["id"]: section for section in lesson.find_all("section", id=True)}
    assert sections.keys() >= REQUIRED_SECTIONS
    objectives = sections["what-you-will-be-able-to-do"].find_all("li")
    assert len(objectives) >= 3
    assert len(sections["sources"].select(".footnote")) >= 1
    assert len(sections["summary"].find_all("li")) >= 3


def test_a_lesson_cautions_and_defers(lesson: BeautifulSoup) -> None:
    cautions = lesson.select(".admonition.caution")
    assert cautions
    deferring = [box for box in cautions if re.search(r"local rules|rules of the country|certified", box.text)]
    assert deferring


def test_a_lesson_works_an_example_in_both_unit_systems(lesson: BeautifulSoup) -> None:
    systems = {mark.text for mark in lesson.select("#worked-example .worked-system")}
    # The sums of some examples are the same in both, and are said once.
    assert {"Field", "Metric"} <= systems or systems == {"Field and metric"}


def test_a_lesson_has_a_computed_figure_with_caption(lesson: BeautifulSoup) -> None:
    figures = lesson.select(".cell_output figure")
    assert figures
    assert all(figure.figcaption and len(figure.figcaption.text) > 30 for figure in figures)


def test_every_exercise_is_practised_in_its_lesson(book: Path) -> None:
    for name in WRITTEN:
        embedded = [
            section["id"].split("-", 2)[2]
            for section in soup(book / "lessons" / f"{name}.html").select("#practice [data-practice]")
        ]
        practised = {key for key, exercise in BANK.items() if exercise.lesson == name and exercise.level < 3}
        assert sorted(embedded) == sorted(practised)


def test_a_lesson_names_the_cases_that_build_on_it(book: Path) -> None:
    named = {
        (item.strong.text.replace("’", "'"), name)
        for name in WRITTEN
        for item in soup(book / "lessons" / f"{name}.html").select("#practice .cases li")
    }
    cases = [case for case in BANK.values() if case.level == 3]
    combined = {(case.title, name) for case in cases for name in (case.lesson, *case.combines)}
    assert combined
    assert named == combined


def test_code_is_closed_but_can_be_opened(lesson: BeautifulSoup) -> None:
    inputs = lesson.select(".cell_input")
    assert inputs
    for cell in inputs:
        details = cell.find_parent("details")
        assert details is not None
        assert not details.has_attr("open")


def test_every_image_says_what_it_shows(book: Path) -> None:
    images = [(path.name, image) for path in pages(book) for image in soup(path).find_all("img")]
    assert images
    for name, image in images:
        assert len(image.get("alt", "")) > 60, f"{name}: {image}"


def test_pages_name_no_file_outside_the_book(book: Path) -> None:
    for path in pages(book):
        for tag in soup(path).find_all(["script", "img", "link", "iframe", "source"]):
            assert isinstance(tag, Tag)
            url = tag.get("src") or tag.get("href") or ""
            assert not re.match(r"(https?:)?//", str(url)), f"{path.name}: {tag}"
            if url and not str(url).startswith("data:"):
                assert (path.parent / str(url).split("?")[0].split("#")[0]).exists(), f"{path.name}: {tag}"


def test_links_inside_the_book_lead_somewhere(book: Path) -> None:
    ids = {path: {tag["id"] for tag in soup(path).find_all(id=True)} for path in pages(book)}
    checked = 0
    for path in pages(book):
        for link in soup(path).find_all("a", href=True):
            if re.match(r"(https?|mailto):", link["href"]):
                continue
            file, _, fragment = link["href"].partition("#")
            file = file.partition("?")[0]  # what follows is for the page's scripts
            target = (path.parent / file).resolve() if file else path
            assert target.exists(), f"{path.name}: {link}"
            assert not fragment or fragment in ids[target], f"{path.name}: {link}"
            checked += 1
    assert checked > 50


def test_headings_step_down_one_level_at_a_time(book: Path) -> None:
    for path in pages(book):
        levels = [int(tag.name[1]) for tag in soup(path).find_all(re.compile("^h[1-6]$"))]
        assert levels.count(1) == 1, path.name
        assert all(after <= before + 1 for before, after in pairwise(levels)), path.name


def test_a_wide_table_scrolls_in_its_box(lesson: BeautifulSoup) -> None:
    tables = lesson.find_all("table")
    assert tables
    assert all(table.find_parent(class_=["table-scroll", "practice-setting"]) for table in tables)


def test_an_unknown_exercise_is_named_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "conf.py").write_text('extensions = ["myst_parser", "practice"]\n')
    (tmp_path / "index.md").write_text("# Title\n\n```{practice} weight-up-wrongly\n```\n")
    command = [sys.executable, "-m", "sphinx", "-q", "-W", str(tmp_path), str(tmp_path / "out")]
    path = os.pathsep.join([str(ROOT), str(ROOT / "book" / "extensions")])
    result = subprocess.run(command, env={**os.environ, "PYTHONPATH": path}, capture_output=True, text=True)
    assert result.returncode != 0
    [line] = [line for line in result.stderr.splitlines() if "weight-up-wrongly" in line]
    assert 'index.md:3:practice: there is no exercise "weight-up-wrongly"; there are ' in line
    assert "Traceback" not in result.stderr
