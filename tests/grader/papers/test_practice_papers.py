"""Practice papers: numbers that no candidate has, told right from wrong in the browser, and plainly not handed in."""

from __future__ import annotations

import json
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner
from playwright.sync_api import Locator, Page

from exercises import BANK
from exercises.model import System
from exercises.model.drawing import draw
from exercises.model.numbers import significant
from grader.cli import commands
from grader.papers.issue import issue
from grader.papers.packs import read_pack
from grader.papers.practice_papers import (
    CASE,
    fresh_variants,
    numbers_of,
    practice_file,
    practice_page,
    shown_file,
    shown_numbers,
    taken_numbers,
    write_practice,
)
from grader.store.errors import GraderError
from grader.store.register import Register, draw_paper
from grader.store.school import School, open_school
from tests.browsing import Visitor
from tests.grader.schools import EVERY_KIND, KEY, ROSTER, make_school, quiet, well_formed

PAPERS = 3
#: Beside the other kinds of part: answers on the way and words, a chart, and a case.
ALL_SORTS = (*EVERY_KIND, "fault-diary", "read-the-curve", "riser-return-plant")
PRACTISED = [name for name in ALL_SORTS if BANK[name].level < CASE]


@pytest.fixture(scope="module")
def school(tmp_path_factory: pytest.TempPathFactory) -> School:
    made = make_school(tmp_path_factory.mktemp("practice") / "school", exercises=ALL_SORTS)
    issue(made, made.sittings, quiet)
    write_practice(made, made.sittings, PAPERS, quiet)
    return open_school(made.folder)


@pytest.fixture
def open_page(visitor: Visitor, school: School) -> Callable[..., Page]:
    def opened(**options: Any) -> Page:
        path = practice_file(school, school.sittings[0])
        return visitor(path.parent, **options).open(path.name)

    return opened


def section_of(page: Page, exercise: str) -> Locator:
    return page.locator(f"[data-practice][id$='-{exercise}']")


def parts_of(section: Locator, system: str = "field", paper: int = 0) -> list[dict[str, Any]]:
    data = json.loads(section.locator("script[data-variants]").text_content() or "")
    return data["systems"][system][paper]["parts"]


def answer(section: Locator, part: dict[str, Any], value: float) -> str:
    """Type a value, given in base units, into a part that asks for one number; the verdict and its words."""
    place = section.locator(f"[data-part='{part['key']}']")
    unit = part["items"][0]["units"][0]
    place.locator("input[type=text]").fill(significant(value / unit["factor"], 6))
    place.locator("select").select_option(label=unit["label"])
    place.get_by_role("button", name="Check").click()
    line = place.locator(".practice-verdict")
    return f"{line.get_attribute('data-verdict')}: {line.inner_text()}"


def tally(page: Page) -> str:
    return page.locator("[data-tally]").inner_text()


# Numbers --------------------------------------------------------------------------------------------------------------


def test_no_practice_paper_has_a_candidates_numbers(school):
    issued = {
        (variant.exercise.id, json.dumps({k: str(v) for k, v in variant.numbers.to_json().items()}, sort_keys=True))
        for paper in Register(school).papers.values()
        for variant in paper.variants()
    }
    assert len(issued) == len(ROSTER) * len(ALL_SORTS)
    taken = taken_numbers(school)
    for name in PRACTISED:
        drawn = fresh_variants(BANK[name], 40, taken, "a start")
        for variants in drawn.values():
            for variant in variants:
                told = json.dumps({k: str(v) for k, v in variant.numbers.to_json().items()}, sort_keys=True)
                assert (name, told) not in issued


def test_numbers_that_a_candidate_has_are_passed_over():
    """Where all of the numbers that would come first are taken, others come."""
    exercise = BANK["weight-up-growing"]
    first = fresh_variants(exercise, 5, set(), "a start")
    taken = {numbers_of(variant) for variants in first.values() for variant in variants}
    others = fresh_variants(exercise, 5, taken, "a start")
    assert all(numbers_of(variant) not in taken for variants in others.values() for variant in variants)
    again = fresh_variants(exercise, 5, set(), "a start")
    assert [list(map(numbers_of, v)) for v in again.values()] == [list(map(numbers_of, v)) for v in first.values()]


def test_an_exercise_whose_numbers_are_used_up_is_named(monkeypatch):
    exercise = BANK["weight-up-growing"]
    only = draw(exercise, np.random.default_rng(1), System.FIELD)
    monkeypatch.setattr("grader.papers.practice_papers.draw", lambda *_: only)
    with pytest.raises(GraderError, match="weight-up-growing: candidates have all its sets of numbers"):
        fresh_variants(exercise, 2, {numbers_of(only)}, "a start")


def test_a_candidate_who_is_still_to_be_given_a_paper_is_counted(tmp_path):
    school = make_school(tmp_path / "school")
    before = taken_numbers(school)
    assert len(before) == len(ROSTER)
    issue(school, school.sittings, quiet)
    assert taken_numbers(open_school(school.folder)) == before


def practised_school(folder: Path, monkeypatch: pytest.MonkeyPatch) -> School:
    """A school whose practice papers show the very numbers that a resit of each candidate would draw by itself."""
    school = make_school(folder, exercises=("column-pressure", "convert-mud-weight"))
    issue(school, school.sittings, quiet)
    first = Register(school)

    def would_be(exercise, papers, taken, start):
        found: dict[str, list] = {"field": [], "metric": []}
        for candidate in school.roster:
            earlier = first.papers_of(school.sittings[0].id, candidate.id)
            paper = draw_paper(school, school.sittings[0], candidate, 2, earlier)
            found[str(paper.system)] += [v for v in paper.variants() if v.exercise.id == exercise.id]
        most = max(map(len, found.values()))
        some = max(found.values(), key=len)
        return {system: [(own or some)[n % len(own or some)] for n in range(most)] for system, own in found.items()}

    monkeypatch.setattr("grader.papers.practice_papers.fresh_variants", would_be)
    write_practice(school, school.sittings, PAPERS, quiet)
    return school


def resit_numbers(school: School) -> list[tuple[str, dict[str, Any]]]:
    issue(school, school.sittings, quiet, attempt=2)
    papers = [paper for paper in Register(school).papers.values() if paper.attempt == 2]
    assert len(papers) == len(school.roster)
    return [(entry.exercise, entry.numbers) for paper in papers for entry in paper.entries]


def test_a_resit_has_no_numbers_that_a_practice_page_showed(tmp_path, monkeypatch):
    school = practised_school(tmp_path / "school", monkeypatch)
    shown = shown_numbers(school, school.sittings)
    given = resit_numbers(school)
    assert shown and all(numbers not in shown[name] for name, numbers in given)
    # Without the page these are the numbers that the resit has: the test would see it.
    without = practised_school(tmp_path / "without", monkeypatch)
    shown_file(without, without.sittings[0]).unlink()
    assert all(numbers in shown[name] for name, numbers in resit_numbers(without))


def test_where_a_practice_page_showed_all_other_numbers_a_resit_has_one_of_these(tmp_path, monkeypatch):
    school = practised_school(tmp_path / "school", monkeypatch)
    shown = shown_numbers(school, school.sittings)
    monkeypatch.setattr("grader.store.register.MOST_REDRAWS", 1)
    assert all(numbers in shown[name] for name, numbers in resit_numbers(school))


def test_what_earlier_pages_showed_is_kept_and_the_same_page_adds_nothing(tmp_path):
    school = make_school(tmp_path / "school", exercises=("column-pressure",))
    issue(school, school.sittings, quiet)
    write_practice(school, school.sittings, 2, quiet)
    two = shown_file(school, school.sittings[0]).read_bytes()
    write_practice(school, school.sittings, 2, quiet)
    assert shown_file(school, school.sittings[0]).read_bytes() == two
    write_practice(school, school.sittings, 4, quiet)
    shown = shown_numbers(school, school.sittings)["column-pressure"]
    assert len(shown) == 8 and all(numbers in shown for numbers in json.loads(two)["column-pressure"])


@pytest.mark.parametrize("text", ["{", "[1]", '{"column-pressure": 3}', '{"column-pressure": [3]}'])
def test_a_damaged_list_of_shown_numbers_is_one_clear_line_and_nothing_is_drawn(tmp_path, text):
    school = make_school(tmp_path / "school", exercises=("column-pressure",))
    shown_file(school, school.sittings[0]).parent.mkdir(parents=True)
    shown_file(school, school.sittings[0]).write_text(text)
    with pytest.raises(GraderError, match=r"practice.*json: damaged") as caught:
        issue(school, school.sittings, quiet)
    assert "\n" not in str(caught.value) and not Register(school).papers


def test_numbers_do_not_hang_on_the_schools_key(tmp_path):
    pages = []
    for key in (KEY, KEY[::-1]):
        school = make_school(tmp_path / key[:4], key=key)
        write_practice(school, school.sittings, 2, quiet)
        pages.append(practice_file(school, school.sittings[0]).read_bytes())
    assert pages[0] == pages[1]


def test_the_page_holds_nobodys_name_and_no_key(school):
    text = practice_file(school, school.sittings[0]).read_text(encoding="utf-8")
    for line in ROSTER:
        candidate, name, *_ = line.split(",")
        assert name not in text
        assert f'"{candidate}"' not in text
    assert KEY not in text
    assert all(paper.id not in text for paper in Register(school).papers.values())


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.slow] * (place % 4 > 0)) for place, name in enumerate(BANK)]
)
def test_each_exercise_of_the_bank_can_be_put_in(name):
    variants = fresh_variants(BANK[name], 1, set(), "each")
    page = well_formed(practice_page("A school", "Day 1", {name: variants}, []))
    [section] = page.select("[data-practice]")
    data = json.loads(section.select_one("script[data-variants]").string)
    for system in System:
        [paper] = data["systems"][str(system)]
        assert [part["key"] for part in paper["parts"]] == [part.key for part in BANK[name].parts]
        assert sum(part["marks"] for part in paper["parts"]) == BANK[name].marks


def test_the_command_names_pages_and_what_is_left_out(tmp_path):
    school = make_school(tmp_path / "school", exercises=("weight-up-growing", "riser-return-plant"))
    done = CliRunner().invoke(commands, ["practice", str(school.folder), "--papers", "2"])
    assert done.exit_code == 0, done.output
    assert str(practice_file(school, school.sittings[0])) in done.output
    assert BANK["riser-return-plant"].title in done.output
    text = practice_file(school, school.sittings[0]).read_text(encoding="utf-8")
    assert "2 of 2" in text
    assert BANK["riser-return-plant"].title in text


def test_a_sitting_of_cases_alone_has_no_page(tmp_path):
    school = make_school(tmp_path / "school", exercises=("riser-return-plant",))
    done = CliRunner().invoke(commands, ["practice", str(school.folder)])
    assert done.exit_code == 0
    assert "day1: no page" in done.output
    assert not practice_file(school, school.sittings[0]).exists()


# In the browser -------------------------------------------------------------------------------------------------------


@pytest.mark.browser
def test_right_slip_and_follow_through_are_told_and_first_tries_counted(open_page):
    page = open_page()
    section = section_of(page, "weight-up-growing")
    first, second = parts_of(section)[:2]
    assert tally(page).startswith("At first try: 0 of ")

    slip = first["items"][0]["slips"][0]
    told = answer(section, first, sum(slip["at"]) / 2)
    assert told.startswith("wrong")
    assert slip["name"] in told
    assert tally(page).startswith("At first try: 0 of ")
    follow = next(one for one in second["items"][0]["follows"] if one["slip"] == slip["name"])
    assert answer(section, second, sum(follow["accepts"][0]) / 2).startswith("follows")
    assert tally(page).startswith(f"At first try: {second['items'][0]['followed']:g} of ")

    # Right at the second try is right, and counts as it stood.
    assert answer(section, first, first["items"][0]["model"]) == "right: ✓\nRight."
    assert tally(page).startswith(f"At first try: {second['items'][0]['followed']:g} of ")
    page.locator("[data-anew]").click()
    assert tally(page).startswith("At first try: 0 of ")
    assert answer(section, first, first["items"][0]["model"]).startswith("right")
    assert tally(page).startswith(f"At first try: {first['marks']:g} of ")


@pytest.mark.browser
def test_papers_and_units_change_all_exercises_and_keep_their_tallies(open_page):
    page = open_page()
    section = section_of(page, "weight-up-growing")
    part = parts_of(section)[0]
    answer(section, part, part["items"][0]["model"])
    before = tally(page)

    def settings() -> list[str]:
        return page.locator(".practice-setting").evaluate_all("boxes => boxes.map((box) => box.textContent)")

    seen = [settings()]
    for paper in range(2, PAPERS + 1):
        page.locator("[data-next]").click()
        assert page.locator("[data-title]").inner_text() == f"Practice paper {paper} of {PAPERS}"
        assert tally(page).startswith("At first try: 0 of ")
        seen.append(settings())
    for one, other in pairwise(seen):
        assert len(one) == len(PRACTISED)
        assert one != other
    page.locator("#units").select_option("metric")
    assert settings() not in seen
    page.locator("#units").select_option("field")
    page.locator("#paper").select_option("0")
    assert settings() == seen[0]
    assert tally(page) == before


@pytest.mark.browser
def test_every_answer_of_a_paper_right_earns_all_its_marks(open_page):
    page = open_page()
    words = 0.0
    for name in PRACTISED:
        section = section_of(page, name)
        for part in parts_of(section):
            place = section.locator(f"[data-part='{part['key']}']")
            if not part["items"]:
                words += part["marks"]
                assert place.locator("details").count() == 1
            elif part["items"][0]["kind"] == "choice":
                right = next(option["letter"] for option in part["items"][0]["options"] if option["right"])
                place.locator(f"input[value='{right}']").check()
            elif part["items"][0]["kind"] == "order":
                letters = part["shown"].replace(",", "").replace(" ", "")
                for to, letter in enumerate(letters):
                    up = place.get_by_role("button", name=f"Move {letter} up")
                    for _ in range(20):
                        shown = place.locator("li").evaluate_all("lines => lines.map((line) => line.dataset.letter)")
                        if shown.index(letter) == to:
                            break
                        up.click()
            else:
                for box, item in enumerate(part["items"]):
                    unit = item["units"][0]
                    place.locator("input[type=text]").nth(box).fill(significant(item["model"] / unit["factor"], 6))
                    place.locator("select").nth(box).select_option(label=unit["label"])
            if part["items"]:
                place.get_by_role("button", name="Check").click()
    marks = sum(BANK[name].marks for name in PRACTISED) - words
    assert words > 0
    assert tally(page).startswith(f"At first try: {marks:g} of {marks:g} marks. All answered.")
    assert f"({words:g} marks) are for you to compare" in tally(page)


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["dark", pytest.param("light", marks=pytest.mark.slow)])
def test_the_page_says_that_it_is_practice_and_everybody_can_use_it(open_page, scheme):
    page = open_page(color_scheme=scheme, width=360)
    assert page.title().startswith("PRACTICE, not handed in")
    assert page.locator(".sign strong").inner_text() == "PRACTICE, not handed in"
    assert page.locator(".bar-sign").is_visible()
    assert page.get_by_role("button", name="Save").count() == 0
    section = section_of(page, "weight-up-growing")
    part = parts_of(section)[0]
    answer(section, part, part["items"][0]["model"] * 1.9)
    for details in page.locator("details.practice-worked summary").all()[:3]:
        details.click()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    assert [f"{one['id']}: {one['nodes'][0]['html']}" for one in found] == []


def test_the_page_is_apart_from_what_is_handed_out_to_one_candidate(school):
    packs = {name for paper in Register(school).papers.values() for name in read_pack(school, paper)}
    path: Path = practice_file(school, school.sittings[0])
    assert len(packs) == 4 * len(school.roster)
    assert path.name not in packs
    assert path.name.endswith("_practice.html")
