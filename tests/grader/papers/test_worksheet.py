"""The worksheet page in a real browser, from a file: worked, kept, saved, and marked like a notebook."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import nbformat
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from exercises.model import Choice, Order, Written
from exercises.model.answers import UnreadableAnswer, read_number
from grader.demo.simulation import Typed
from grader.papers.issue import issue
from grader.papers.packs import pack_names
from grader.store.part_marks import item_name
from grader.store.register import Paper
from grader.store.school import School, open_school
from pitside import Q
from pitside.unit_names import read_unit
from tests.browsing import WINDOWS, Visitor
from tests.grader.schools import (
    EVERY_KIND,
    make_school,
    marks_of,
    opened_pack,
    paper_of,
    quiet,
    right_answers,
    script_with,
    well_formed,
)
from tests.sharing import a_few

pytestmark = pytest.mark.browser

#: Beside the other kinds of part: answers on the way, words, a chart and a choice of one's own.
ALL_SORTS = (*EVERY_KIND, "fault-diary", "read-the-curve", "riser-return-plant")


@pytest.fixture(scope="module")
def many_sorts(tmp_path_factory: pytest.TempPathFactory) -> School:
    """Two candidates with papers of every kind of part. Nobody writes into it but into scripts and records."""
    school = make_school(tmp_path_factory.mktemp("sorts") / "school", exercises=ALL_SORTS)
    issue(school, school.sittings, quiet)
    return open_school(school.folder)


@pytest.fixture
def open_page(visitor: Visitor, many_sorts: School) -> Callable[..., Page]:
    """Opens a candidate's worksheet in a window of its own."""

    def opened(candidate: str = "aa-01", **options: Any) -> Page:
        folder = opened_pack(many_sorts, candidate)
        return visitor(folder, **options).open(pack_names(many_sorts, paper_of(many_sorts, candidate)).worksheet)

    return opened


def saved(page: Page, folder: Path) -> Path:
    with page.expect_download() as download:
        page.locator("[data-save]").first.click()
    path = folder / download.value.suggested_filename
    download.value.save_as(path)
    return path


def press_until(page: Page, selector: str, most: int = 400) -> None:
    """Move on with the Tab key until the element has the focus."""
    for _ in range(most):
        if page.evaluate("selector => document.activeElement?.matches(selector) ?? false", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"the keyboard does not reach {selector}")


def type_answers(page: Page, paper: Paper, answers: dict[str, Typed | None]) -> None:
    """Work what of the paper has answers with the keyboard alone."""
    for number, variant in enumerate(paper.variants(), 1):
        for item in variant.exercise.items:
            name = item_name(number, item.key)
            typed = answers.get(name)
            if typed is None:
                continue
            match item:
                case Choice():
                    press_until(page, f'input[name="choice-{name}"]')
                    reached = page.evaluate("document.activeElement.value")
                    letters = [item.letter(option.key) for option in item.options]
                    for _ in range((letters.index(str(typed.value)) - letters.index(reached)) % len(letters)):
                        page.keyboard.press("ArrowDown")
                    page.keyboard.press("Space")
                case Order():
                    sort_with_keys(page, name, str(typed.value))
                case Written():
                    press_until(page, "textarea:not([data-working])")
                    page.keyboard.type(str(typed.value))
                    page.keyboard.press("Tab")
                case _:
                    press_until(page, f'[id="value-{name}"]')
                    page.keyboard.type(str(typed.value))
                    page.keyboard.press("Tab")
                    pick_unit(page, typed.unit)


def pick_unit(page: Page, unit: str) -> None:
    """With the arrow keys, as a person without a mouse does."""
    at = "document.activeElement.value"
    options = page.evaluate("[...document.activeElement.options].map((option) => option.value)")
    steps = options.index(unit) - options.index(page.evaluate(at))
    for _ in range(abs(steps)):
        page.keyboard.press("ArrowDown" if steps > 0 else "ArrowUp")
    assert page.evaluate(at) == unit


def sort_with_keys(page: Page, name: str, wanted: str) -> None:
    steps = page.locator(f'[data-place="{name}"] .steps')
    for position, letter in enumerate(wanted):
        press_until(page, f'[data-place="{name}"] [aria-label="Move {letter} up"]')
        letters = steps.locator("li").evaluate_all("lines => lines.map((line) => line.dataset.letter)")
        for _ in range(letters.index(letter) - position):
            page.keyboard.press("Enter")
        page.evaluate("document.activeElement.blur()")
        page.locator(f'[data-place="{name}"]').evaluate("place => place.closest('[data-part]').focus()")
    press_until(page, f'[id="order-{name}"]')
    if not page.evaluate("document.activeElement.checked"):
        page.keyboard.press("Space")
    letters = steps.locator("li").evaluate_all("lines => lines.map((line) => line.dataset.letter)")
    assert "".join(letters) == wanted


@pytest.mark.parametrize(("candidate", "exercises"), a_few([("aa-01", 3), ("aa-01", None), ("aa-02", None)], 1))
def test_a_paper_worked_by_keyboard_is_marked_like_the_notebook(
    open_page, many_sorts, tmp_path, warm_room, candidate, exercises
):
    """Worked as far as the first so many exercises, or to its end."""
    paper = paper_of(many_sorts, candidate)
    answers = right_answers(paper.variants()[:exercises])
    wrong = next(name for name, typed in answers.items() if isinstance(typed.value, float))
    answers[wrong] = Typed(answers[wrong].value * 2, answers[wrong].unit)
    page = open_page(candidate)
    type_answers(page, paper, answers)
    script = saved(page, tmp_path)

    notebook = nbformat.read(script, as_version=4)
    nbformat.validate(notebook)
    assert (notebook.nbformat, notebook.nbformat_minor) == (4, 5)
    assert script.name == pack_names(many_sorts, paper).notebook

    typed_in_jupyter = script_with(many_sorts, paper, answers)
    for cell in typed_in_jupyter["cells"]:
        if cell["cell_type"] == "markdown" and cell["id"].startswith("answer-"):
            name = cell["id"].removeprefix("answer-")
            cell["source"] = str(answers[name].value) if name in answers else ""
    marked = [
        marks_of(many_sorts, tmp_path / way, made)
        for way, made in (("page", script.read_bytes()), ("jupyter", typed_in_jupyter))
    ]
    assert marked[0].exercises == marked[1].exercises
    assert 0 < marked[0].marks < marked[0].out_of


def test_the_file_is_well_formed_and_calls_nobody(many_sorts):
    for path in opened_pack(many_sorts, "aa-02").glob("*.html"):
        page = well_formed(path.read_text(encoding="utf-8"))
        policy = page.find("meta", {"http-equiv": "Content-Security-Policy"})
        assert policy["content"].startswith("default-src 'none'")
        assert not page.find_all(["link", "iframe", "object"])
        assert all(image["src"].startswith("data:") for image in page.find_all("img"))


def answer_number(page: Page, name: str, number: str, unit: str | None = None) -> str:
    """Type a number, pick a unit, and give what the page says of their form."""
    page.locator(f'[id="value-{name}"]').fill(number)
    if unit is not None:
        page.locator(f'[id="unit-{name}"]').select_option(unit)
    return page.locator(f'[id="check-{name}"]').inner_text()


@pytest.mark.parametrize(
    ("number", "unit", "says"),
    a_few(
        keep=4,
        cases=[
            ("412", "sack", "Kept: 412 sacks"),
            ("412,5", "lb", "Kept: 412.5 lb"),
            ("12 500", "lb", "Kept: 12500 lb"),
            ("1,234", "lb", "two ways"),
            ("about 400", "lb", "not a number"),
            ("412", "", "Pick a unit"),
            ("412", "psi", "psi measures a pressure; the question asks for a mass."),
            ("4e12", "sack", "very large value for a mass"),
            ("", "sack", ""),
        ],
    ),
)
def test_the_page_looks_at_the_form_of_an_answer_only(open_page, number, unit, says):
    said = answer_number(open_page(), "1a", number, unit)
    assert says in said
    assert bool(said) == bool(says)


def test_a_right_and_a_wrong_number_look_the_same(open_page, many_sorts):
    page, variant = open_page(), paper_of(many_sorts, "aa-01").variants()[0]
    right = float(f"{variant.key['a'].to('sack').magnitude:.4g}")
    says = [answer_number(page, "1a", f"{number:g}").replace(f"{number:g}", "") for number in (right, right * 1.7)]
    assert says[0] == says[1] != ""


def test_what_was_typed_survives_a_closed_tab_and_goes_when_cleared(browser, many_sorts):
    context = browser.new_context()
    name = (opened_pack(many_sorts, "aa-01") / pack_names(many_sorts, paper_of(many_sorts, "aa-01")).worksheet).as_uri()
    page = context.new_page()
    page.goto(name)
    page.locator('[id="value-1a"]').fill("412")
    page.locator('[data-working="1a"]').evaluate("area => area.closest('details').open = true")
    page.locator('[data-working="1a"]').fill("35 x 42 = 1470")
    expect(page.locator("[data-kept]")).to_contain_text("Kept in this browser")
    page.close()

    page = context.new_page()
    page.goto(name)
    expect(page.locator('[id="value-1a"]')).to_have_value("412")
    expect(page.locator('[data-working="1a"]')).to_have_value("35 x 42 = 1470")
    expect(page.locator("[data-said]")).to_contain_text("is back")
    page.get_by_role("button", name="Clear this page").click()
    page.get_by_role("button", name="Keep it").click()
    expect(page.locator('[id="value-1a"]')).to_have_value("412")
    page.get_by_role("button", name="Clear this page").click()
    page.get_by_role("button", name="Clear it").click()
    expect(page.locator('[id="value-1a"]')).to_have_value("")
    assert page.evaluate("localStorage.length") == 0
    page.reload()
    expect(page.locator('[id="value-1a"]')).to_have_value("")
    context.close()


def test_a_saved_script_is_opened_on_another_computer_and_nobody_elses(open_page, tmp_path):
    page = open_page()
    answer_number(page, "1a", "412", "lb")
    page.locator('input[name="choice-2b"]').last.check()
    order = page.locator('[data-part="3d"] .steps, [data-place] .steps').first
    order.locator("li").last.get_by_role("button", name="up").click()
    letters = order.locator("li").evaluate_all("lines => lines.map((line) => line.dataset.letter).join('')")
    script = saved(page, tmp_path)

    elsewhere = open_page()
    expect(elsewhere.locator('[id="value-1a"]')).to_have_value("")
    elsewhere.locator("[data-file]").set_input_files(script)
    expect(elsewhere.locator('[id="value-1a"]')).to_have_value("412")
    expect(elsewhere.locator('[id="unit-1a"]')).to_have_value("lb")
    expect(elsewhere.locator('input[name="choice-2b"]').last).to_be_checked()
    again = elsewhere.locator("[data-place] .steps").first
    assert again.locator("li").evaluate_all("lines => lines.map((line) => line.dataset.letter).join('')") == letters
    assert saved(elsewhere, tmp_path / "again").read_bytes() == script.read_bytes()

    other = open_page("aa-02")
    answer_number(other, "1a", "7")
    other.locator("[data-file]").set_input_files(script)
    expect(other.locator("[data-said]")).to_contain_text("belongs to another paper")
    expect(other.locator('[id="value-1a"]')).to_have_value("7")
    (tmp_path / "junk.ipynb").write_text("{half")
    other.locator("[data-file]").set_input_files(tmp_path / "junk.ipynb")
    expect(other.locator("[data-said]")).to_contain_text("is no script")


def test_working_and_words_go_into_the_script_as_they_were_written(open_page, tmp_path):
    page = open_page()
    text = '35 x 42 = 1470\n``` not a fence\n<b>x</b> \u03c1 \u2260 "q" \\'
    page.locator('[data-working="1a"]').evaluate("area => area.closest('details').open = true")
    page.locator('[data-working="1a"]').fill(text)
    words = page.locator("textarea:not([data-working])").first
    words.fill("Stop the feed first.\n\n# Then wait")
    notebook = nbformat.read(saved(page, tmp_path), as_version=4)
    nbformat.validate(notebook)
    cells = {cell.id: cell for cell in notebook.cells}
    assert text in cells["working-1a"].source
    assert cells["working-1a"].source.splitlines()[2] == "````text"
    assert any(cell.source == "Stop the feed first.\n\n# Then wait" for cell in notebook.cells)


def test_steps_are_dragged(open_page):
    page = open_page()
    steps = page.locator("[data-place] .steps").first
    before = steps.locator("li").evaluate_all("lines => lines.map((line) => line.dataset.letter)")
    steps.evaluate("list => list.scrollIntoView({ block: 'center' })")
    first, third = (steps.locator("li").nth(at) for at in (0, 2))
    handle, target = first.locator(".handle").bounding_box(), third.bounding_box()
    page.mouse.move(handle["x"] + 5, handle["y"] + 5)
    page.mouse.down()
    page.mouse.move(target["x"] + 20, target["y"] + target["height"] * 0.9, steps=12)
    page.mouse.up()
    after = steps.locator("li").evaluate_all("lines => lines.map((line) => line.dataset.letter)")
    assert after == [before[1], before[2], before[0], *before[3:]]


@pytest.mark.parametrize(
    ("sum_", "result"),
    a_few(
        keep=3,
        cases=[
            ("0.052 × 12.4 × 9800", 0.052 * 12.4 * 9800),
            ("-2^2 + 3*(4 - 1)", 5.0),
            ("2^3^2", 512.0),
            ("sqrt(2) * pi / 1e-2", math.sqrt(2) * math.pi / 1e-2),
            ("0,5 + .5", 1.0),
            ("ln(exp(2)) + log(1000)", 5.0),
            # As the page prints numbers: thin spaces in groups, the sign of minus, dots to multiply, raised figures.
            ("12\N{NARROW NO-BREAK SPACE}550 \N{MINUS SIGN} 50", 12500.0),
            ("1\N{THIN SPACE}234\N{THIN SPACE}567 ⋅ 2", 2469134.0),
            ("0.0981 · 1 250 – 2,5", 0.0981 * 1250 - 2.5),
            ("8.5² × 10³ + 4²", 72266.0),
            ("1,234.5 / 1.234,5 + 1,000,000", 1000001.0),
            ("2 ^ 10 100", None),
            ("6,442 * 2", None),
        ],
    ),
)
def test_the_calculator_reckons(open_page, sum_, result):
    page = open_page()
    page.get_by_role("button", name="Calculator").click()
    page.locator("#sum").fill(sum_)
    page.keyboard.press("Enter")
    shown = page.locator("[data-result]").inner_text()
    if result is None:  # it could be two numbers, or none
        assert not shown.startswith("=")
    else:
        assert float(shown.removeprefix("= ")) == pytest.approx(result, rel=1e-9)


def test_the_calculator_remembers_converts_and_says_what_it_cannot(open_page):
    page = open_page()
    page.get_by_role("button", name="Calculator").click()
    page.locator("#sum").fill("6*7")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Keep in memory").click()
    page.locator("#sum").fill("mem + ans")
    page.keyboard.press("Enter")
    expect(page.locator("[data-result]")).to_have_text("= 84")
    for wrong in ("2 +", "(2", "2 3", "1/0", "alert(1)", "sqrt 4"):
        page.locator("#sum").fill(wrong)
        page.keyboard.press("Enter")
        assert not page.locator("[data-result]").inner_text().startswith("=")
    page.locator("#convert-value").fill("10")
    page.locator("#convert-from").select_option("psi")
    page.locator("#convert-to").select_option("kPa")
    shown = page.locator("[data-converted]").inner_text()
    assert float(shown.split()[1]) == pytest.approx(Q(10, "psi").m_as("kPa"), rel=1e-8)
    page.keyboard.press("Escape")
    expect(page.locator("[data-calculator]")).not_to_be_visible()


def test_what_is_to_be_converted_takes_the_asked_unit_alone_and_is_not_converted_for_anybody(open_page, many_sorts):
    page = open_page()
    cells = [item_name(n, item.key) for n, variant in enumerate(paper_of(many_sorts, "aa-01").variants(), 1)
             for item in variant.exercise.items if variant.converts(item)]  # fmt: skip
    assert len(cells) == 4
    for name in cells:
        assert page.locator(f'[id="unit-{name}"] option').all_inner_texts() == ["lb/gal"]
    assert "Answer in lb/gal: converting is asked here, so another unit earns no marks." in page.inner_text("main")
    assert answer_number(page, cells[0], "12.5") == "Kept: 12.5 lb/gal"
    page.get_by_role("button", name="Calculator").click()
    assert page.locator('#convert-from option[value="lb/gal"]').count() == 0
    assert "Not here: a density or concentration" in page.locator("[data-convert]").inner_text()


TYPED = [
    "3/4", "12 1/2", "-3/4", "12 5/2", "1/0", "1/2/3", "12/", "1,5/2", "6,442", "1 234,5", "1,234.5", "\u22123.5",
    "10.5 ppg", "0.052", ".5", "6.4e3", "1½", "", "abc", "1'234", "\uff11\uff12", "3 / 4", "12  1/2", "10000/3",
]  # fmt: skip


def test_the_page_and_the_marking_read_the_same_numbers(open_page):
    page = open_page()
    for typed in TYPED:
        try:
            expected = read_number(typed)
        except UnreadableAnswer:
            expected = None
        assert page.evaluate("typed => readNumber(typed).value ?? null", typed) == expected, typed


@pytest.mark.parametrize(
    ("typed", "number", "unit"),
    a_few(
        keep=3,
        cases=[
            ("6165 psi", "6165", "psi"),
            ("10.5 ppg", "10.5", "lb/gal"),
            ("10.5 pounds per gallon", "10.5", "lb/gal"),
            ("12 1/2 in", "12 1/2", "in"),
            ("1 250 KG/M³", "1 250", "kg/m3"),
            ("50 lb/100 ft2", "50", "lbf/100ft2"),
            ("6.4e3 kPa", "6.4e3", "kPa"),
            ("85 %", "85", "%"),
        ],
    ),
)
def test_a_unit_behind_the_number_is_read_as_python_reads_it(open_page, many_sorts, typed, number, unit):
    read = open_page().evaluate(
        """typed => {
          const paper = JSON.parse(document.getElementById("paper").textContent);
          const texts = paper.kinds.flatMap((kind) => kind.units.map((each) => each.text));
          return readAnswer(typed, texts, paper.spellings);
        }""",
        typed,
    )
    assert (read["number"], read["unit"], read["value"]) == (number, unit, pytest.approx(read_number(number)))
    assert read_unit(typed.removeprefix(number)) == read_unit(unit)


def test_a_unit_behind_the_number_goes_where_units_are_picked(open_page):
    page = open_page()
    box = page.locator('[id="value-1a"]')
    box.fill("13.0 tonnes")
    box.press("Tab")
    assert box.input_value() == "13.0"
    assert page.locator('[id="unit-1a"]').input_value() == "t"
    assert page.locator('[id="check-1a"]').inner_text() == "Kept: 13.0 t"


def test_no_money_and_no_speed_of_turning_is_offered_for_a_mass(open_page):
    groups = open_page().locator('[id="unit-1a"] optgroup').evaluate_all("all => all.map((group) => group.label)")
    assert groups[0] == "a mass"
    assert set(groups[1:]) == {
        "a density or concentration", "a volume", "a pressure", "a length", "a flow rate",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("number", "says"),
    a_few([
        ("92", "No mud weighs that: stop and look."),
        ("25", "Kept: 25 lb/gal"),
        ("-5", "No mud weighs that: stop and look."),
        ("0", "No mud weighs that: stop and look."),
        ("0.5", "Kept: 0.5 lb/gal"),
    ], 2),
)  # fmt: skip
def test_the_page_warns_of_a_weight_that_no_mud_has_and_shows_no_range(open_page, many_sorts, number, says):
    page = open_page()
    name = next(item_name(n, item.key) for n, variant in enumerate(paper_of(many_sorts, "aa-01").variants(), 1)
                for item in variant.exercise.items if variant.converts(item))  # fmt: skip
    assert answer_number(page, name, number) == says


@pytest.mark.slow
@WINDOWS
def test_the_page_has_no_fault_of_access(open_page, width, colours):
    page = open_page(width=width, color_scheme=colours)
    answer_number(page, "1a", "about")
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert len(found.response["passes"]) > 10
    assert page.evaluate("document.documentElement.scrollWidth") <= width


# On a phone -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("width", "height"), a_few([(360, 740), (740, 360), (320, 568)], 1))
def test_tools_are_within_reach_wherever_the_page_stands(open_page, tmp_path, width, height):
    page = open_page(width=width)
    page.set_viewport_size({"width": width, "height": height})
    tools = page.get_by_role("region", name="Tools within reach")
    for share in (0, 0.5, 1):
        page.evaluate("share => scrollTo(0, share * document.documentElement.scrollHeight)", share)
        box = tools.bounding_box()
        assert box and box["y"] + box["height"] == pytest.approx(height, abs=1) and box["height"] < height / 5
        assert box["x"] >= 0 and box["x"] + box["width"] <= width
    assert page.locator(".bar").evaluate("(bar) => getComputedStyle(bar).position") == "static"
    with page.expect_download():
        tools.get_by_role("button", name="Save").click()
    tools.get_by_role("button", name="Calculator").click()
    dialog = page.get_by_role("dialog", name="Calculator").bounding_box()
    assert dialog and dialog["y"] >= 0 and dialog["height"] <= height
    assert dialog["height"] <= 0.7 * height or dialog["width"] <= 0.6 * width + 1  # the question stays in sight
    page.keyboard.press("Escape")
    assert page.evaluate("document.activeElement.closest('.reach') !== null")


def test_tools_within_reach_are_not_there_where_the_bar_is(open_page):
    page = open_page()
    expect(page.locator(".reach")).to_be_hidden()
    expect(page.locator(".bar")).to_be_visible()


def test_every_cell_of_an_answer_table_is_whole_on_a_phone_and_still_a_table(open_page, many_sorts):
    page = open_page(width=360)
    assert page.locator(".part table").count() > 0
    boxes = page.locator(".part .scroll")
    assert boxes.evaluate_all("(boxes) => boxes.map((box) => box.scrollWidth - box.clientWidth)") == [0] * boxes.count()
    fields = page.locator(".part table :is(input, select)")
    assert fields.count() > 0
    for place in fields.evaluate_all("(all) => all.map((one) => one.getBoundingClientRect().right)"):
        assert place <= 360
    table = page.get_by_role("table").first
    assert table.get_by_role("row").count() > 2 and table.get_by_role("rowheader").count() > 1
    first = table.get_by_role("cell").filter(has=page.locator("input")).first
    assert first.evaluate("(cell) => getComputedStyle(cell, '::before').content") not in ("none", "")


def test_no_key_of_the_notebook_and_no_word_for_it_is_on_page_or_sheet(open_page, browser, many_sorts):
    keys = {item_name(n, item.key) for n, variant in enumerate(paper_of(many_sorts, "aa-01").variants(), 1)
            for item in variant.exercise.items if "." in item.key}  # fmt: skip
    assert len(keys) > 4
    seen = """() => [document.body.innerText, ...[...document.querySelectorAll("[aria-label], [alt]")]
      .flatMap((one) => ["aria-label", "alt"].map((name) => one.getAttribute(name) ?? ""))].join("\\n")"""
    page = open_page()
    page.locator("details").evaluate_all("(all) => all.forEach((one) => { one.open = true })")
    texts = [page.evaluate(seen)]
    page.goto((opened_pack(many_sorts, "aa-01") / pack_names(many_sorts, paper_of(many_sorts, "aa-01")).sheet).as_uri())
    texts.append(page.evaluate(seen))
    for text in texts:
        assert [key for key in keys if key in text] == []
        assert [word for word in ("in quotes", "double click", "cell below") if word in text] == []


def test_the_sheet_keeps_a_setting_with_its_first_question(browser, many_sorts, tmp_path):
    paper = paper_of(many_sorts, "aa-01")
    context = browser.new_context()
    page = context.new_page()
    page.goto((opened_pack(many_sorts, "aa-01") / pack_names(many_sorts, paper).sheet).as_uri())
    page.pdf(path=tmp_path / "sheet.pdf", prefer_css_page_size=True)
    context.close()
    texts = ["".join(sheet.extract_text().split()) for sheet in PdfReader(tmp_path / "sheet.pdf").pages]
    for number, variant in enumerate(paper.variants(), 1):
        (heading,) = (n for n, text in enumerate(texts) if f"Exercise{number}:" in text)
        (first,) = (n for n, text in enumerate(texts) if f"{number}({variant.exercise.parts[0].key})" in text)
        assert heading == first, number


def test_the_sheet_prints_every_question_with_a_box(browser, many_sorts, tmp_path):
    paper = paper_of(many_sorts, "aa-02")
    context = browser.new_context()
    page = context.new_page()
    page.goto((opened_pack(many_sorts, "aa-02") / pack_names(many_sorts, paper).sheet).as_uri())
    page.pdf(path=tmp_path / "sheet.pdf", prefer_css_page_size=True)
    context.close()
    reader = PdfReader(tmp_path / "sheet.pdf")
    text = "".join(sheet.extract_text() for sheet in reader.pages)
    flat = "".join(text.split())
    for number, variant in enumerate(paper.variants(), 1):
        for part in variant.exercise.parts:
            assert f"{number}({part.key})" in flat
    assert paper.id in flat
    assert reader.pages[0].mediabox.width == pytest.approx(595, abs=2)
