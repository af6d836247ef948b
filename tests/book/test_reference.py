"""The reference part: what it lists is complete, what it computes agrees with ``pitside``, and it says so if not."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from pathlib import Path

import exercise_index
import pytest
import unit_table
from bs4 import BeautifulSoup
from formula import Formula, card, check, entries, tex
from formula_sheet import FORMULAS, formulas_of

from exercises import BANK, LESSONS, outcomes_of
from exercises.model import By, System
from exercises.model.numbers import in_system
from pitside.unit_names import read_unit, spellings, usual_units
from tests.browsing import Visitor

ROOT = Path(__file__).parents[2]
REFERENCE = ROOT / "book" / "reference"


def text(name: str) -> str:
    return (REFERENCE / f"{name}.md").read_text(encoding="utf-8")


def headings(name: str) -> list[str]:
    return re.findall(r"^## (.+)$", text(name), re.MULTILINE)


# The formula sheet


def test_every_lesson_has_a_formula_and_its_place_on_the_sheet() -> None:
    assert {formula.lesson for formula in FORMULAS} == set(LESSONS)
    assert headings("formulas") == [*(lesson.title for lesson in LESSONS.values()), "Sources"]
    assert re.findall(r'formulas_of\("([\w-]+)"\)', text("formulas")) == list(LESSONS)


def test_formulas_have_names_of_their_own() -> None:
    names = [formula.name for formula in FORMULAS]
    assert sorted(names) == sorted(set(names))


def test_what_is_typed_agrees_with_what_pitside_computes() -> None:
    check(FORMULAS)
    assert max(formula.within for formula in FORMULAS) <= 0.002


@pytest.mark.parametrize("formula", FORMULAS, ids=lambda formula: formula.name)
@pytest.mark.parametrize("system", System)
def test_a_wrong_factor_stops_the_build(formula: Formula, system: System) -> None:
    wrong = {system: f"1.005 * ({in_system(formula.sum, system)})"}
    changed = dataclasses.replace(formula, sum=By.each(lambda one: wrong.get(one, in_system(formula.sum, one))))
    for page in (lambda: entries((changed,)), lambda: card({"lesson": (changed,)})):
        with pytest.raises(ValueError, match=f"{re.escape(formula.name)}, {system} units"):
            page()


@pytest.mark.parametrize("formula", FORMULAS, ids=lambda formula: formula.name)
def test_every_number_of_a_formula_is_typed_and_its_sign_is_that_of_the_mathematics(formula: Formula) -> None:
    signs = {one.sign for one in formula.given}
    assert len(signs) == len(formula.given)
    for system in System:
        assert set(re.findall(r"\{(\w+)\}", in_system(formula.sum, system))) == signs
    assert plain(formula.mathematics).startswith(plain(tex(formula.sign)) + "=")


def plain(mathematics: str) -> str:
    """TeX without its marks, to compare signs."""
    return re.sub(r"\\mathrm|[{}_ ]", "", mathematics)


def test_works_that_formulas_name_stand_in_the_bibliography() -> None:
    known = set(
        re.findall(r"^@\w+\{(\w+),", (ROOT / "book" / "references.bib").read_text(encoding="utf-8"), re.MULTILINE)
    )
    named = {formula.source for formula in FORMULAS} - {""}
    assert named
    assert named <= known
    assert all(formula.standing for formula in FORMULAS)


def test_the_built_sheet_and_card_show_every_formula(book: Path) -> None:
    sheet = soup(book, "formulas")
    assert [rubric.text for rubric in sheet.select("p.rubric")] == [
        formula.name for lesson in LESSONS for formula in formulas_of(lesson)
    ]
    on_card = soup(book, "card")
    assert [title.text for title in on_card.select(".formula-card h3")] == [
        formula.name for lesson in LESSONS for formula in formulas_of(lesson)
    ]
    assert [title.text for title in on_card.select(".formula-card h2")] == [lesson.title for lesson in LESSONS.values()]


@pytest.mark.browser
def test_the_card_fits_on_two_sides_of_paper(book: Path, visitor: Visitor) -> None:
    page = visitor(book).open("reference/card.html")
    file = page.pdf(prefer_css_page_size=True)
    sides = [tuple(map(float, box)) for box in re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", file)]
    assert len(sides) == 2
    for width, height in sides:
        assert (width, height) == pytest.approx((595.3, 841.9), abs=1)  # A4 in points


# The table of units


def listed() -> set[str]:
    return {unit for kind in unit_table.KINDS for unit in kind.units}


def test_every_spelling_that_is_read_stands_in_the_table() -> None:
    printed = {way for unit in listed() for way in unit_table.typed(unit)}
    # Some words are read only as a part of a unit: mPa, which nobody gives alone, in mPa·s.
    parts = {part for way in printed for part in re.split(r"[/*·. ]", way)}
    assert {spelling for known in spellings().values() for spelling in known} <= printed | parts


def test_the_usual_units_stand_in_the_table() -> None:
    known = {read_unit(unit) for unit in listed()}
    for kind in unit_table.KINDS:
        assert {read_unit(unit) for unit in usual_units(kind.units[0])} <= known


def test_units_of_a_kind_measure_the_same() -> None:
    for kind in unit_table.KINDS:
        if kind.field:
            assert len({read_unit(unit).dimensionality for unit in (*kind.units, kind.field, kind.metric)}) == 1


#: Legal values of the pound and the foot and what follows from them: NIST Special Publication 811, from memory.
VALUES = {
    ("lb", "kg"): "0.453592 kg",
    ("ft", "m"): "0.3048 m",
    ("gal", "m3"): "0.00378541 m³",
    ("psi", "Pa"): "6894.76 Pa",
    ("lb/gal", "kg/m3"): "119.826 kg/m³",
    ("rpm", "rad/s"): "0.10472 rad/s",
    ("hp", "W"): "745.7 W",
}


@pytest.mark.parametrize(("units", "shown"), VALUES.items(), ids=[" in ".join(units) for units in VALUES])
def test_values_are_those_of_the_guide_to_si(units: tuple[str, str], shown: str) -> None:
    assert unit_table.value(*units).replace("\N{NO-BREAK SPACE}", " ") == shown


def test_every_kind_has_its_table_on_the_page(book: Path) -> None:
    titles = [kind.title for kind in unit_table.KINDS]
    assert headings("units") == titles
    assert re.findall(r'^table\("(.+)"\)$', text("units"), re.MULTILINE) == titles
    rows = [len(table.select("tbody tr")) for table in soup(book, "units").find_all("table")]
    assert rows == [len(kind.units) for kind in unit_table.KINDS]


# The index of exercises


def test_the_index_has_every_lesson() -> None:
    assert headings("exercises") == ["All lessons", *(lesson.title for lesson in LESSONS.values())]
    assert re.findall(r"\{exercise-index\} ([\w-]+)", text("exercises")) == list(LESSONS)


def test_the_index_has_every_exercise_and_links_each_that_can_be_practised(book: Path) -> None:
    page = soup(book, "exercises")
    cells = [row.td.text for table in page.find_all("table")[1:] for row in table.select("tbody tr")]
    assert cells == [exercise.title for exercise in BANK.values()]
    linked = {re.sub(r".*#practice-\d+-", "", str(link["href"])) for link in page.select('td a[href*="#practice-"]')}
    written = {path.stem for path in (book / "lessons").glob("*.html")}
    assert linked
    assert linked == {key for key, one in BANK.items() if one.level < 3 and one.lesson in written}


def test_the_index_has_every_outcome_and_each_is_asked_for() -> None:
    for lesson in LESSONS:
        lines = exercise_index.outcomes(lesson)
        assert len(lines) == len(outcomes_of(lesson))
        assert not [line for line in lines if "No exercise yet" in line]


def test_practice_is_linked_in_the_order_of_the_page() -> None:
    page = "```{practice} one\n```\n\ntext\n\n```{practice} two\n:variants: 3\n```\n"
    assert exercise_index.anchors(page) == {"one": "practice-0-one", "two": "practice-1-two"}


# The glossary


def terms() -> Iterator[tuple[str, str]]:
    """Each term of the glossary with what is said of it."""
    for entry in re.finditer(r"^(\S.*)\n((?:  .*\n)+)", text("glossary").partition("```{glossary}\n")[2], re.MULTILINE):
        yield entry[1], " ".join(entry[2].split())


def test_the_glossary_is_in_order_and_says_each_word_once() -> None:
    names = [name.casefold() for name, _ in terms()]
    assert len(names) >= 70
    assert names == sorted(set(names))


def test_every_term_names_the_lesson_that_teaches_it() -> None:
    for name, said in terms():
        found = re.search(r" Lesson: \[(.+)\]\(\.\./lessons/([\w-]+)\.md\)$", said)
        assert found, name
        assert LESSONS[found[2]].title == found[1], name
        assert len(said[: found.start()]) > 30, name
        page = ROOT / "book" / "lessons" / f"{found[2]}.md"
        if page.exists():
            assert name.split()[0].casefold() in page.read_text(encoding="utf-8").casefold(), f"{name} in {page.name}"


def test_every_term_can_be_referred_to(book: Path) -> None:
    page = soup(book, "glossary")
    assert [term.get_text().strip() for term in page.select("dl.glossary dt")] == [name for name, _ in terms()]
    assert all(term.get("id", "").startswith("term-") for term in page.select("dl.glossary dt"))


def soup(book: Path, name: str) -> BeautifulSoup:
    """A built page, its apostrophes as they are typed."""
    html = (book / "reference" / f"{name}.html").read_text(encoding="utf-8")
    return BeautifulSoup(html.replace("’", "'"), "html.parser")
