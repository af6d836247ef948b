"""Printed sheets keyed in: the page worked by keyboard alone in a real browser, and what it saves taken, or refused."""

from __future__ import annotations

import json
import re
import shutil
import time
from pathlib import Path
from typing import Any

import nbformat
import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner
from playwright.sync_api import Page, expect

from exercises import BANK
from exercises.model import Numeric
from grader.cli import commands
from grader.demo.simulation import Typed
from grader.papers.issue import issue
from grader.papers.notebook import NOT_READY, script_name
from grader.returned.keyin import KIND, LARGEST, LONGEST_WORDS, page_file, take, write_page
from grader.store.errors import GraderError
from grader.store.register import Paper
from grader.store.school import School, open_school
from tests.browsing import WINDOWS, Visitor
from tests.grader.papers.test_pack_secrets import _answers, letters, pieces, scheme_texts, six_digits, ways_to_read
from tests.grader.schools import (
    EVERY_KIND,
    KEY,
    SITTING,
    hand_in,
    make_school,
    mark_and_report,
    opened_pack,
    paper_of,
    quiet,
    right_answers,
    script_with,
    well_formed,
)
from tests.sharing import a_few

#: Exercises with a number, a table, a choice, an order, answers on the way and words between them.
SORTS = (*EVERY_KIND, "fault-diary")
#: Names as they are written, in scripts of both directions, and with what acts in HTML.
ROSTER = (
    "aa-01,هالة المنصوري,Larkwater Energy,day crew,field",
    "aa-02,李文桥 </script><b>,Larkwater Energy,day crew,metric",
    "aa-03,Дарья Полозова,Larkwater Energy,night crew,field",
    "aa-04,Ömer Çınar,Larkwater Energy,night crew,metric",
)


@pytest.fixture(scope="module")
def issued(tmp_path_factory: pytest.TempPathFactory) -> School:
    """Four candidates with papers, and the page. Nobody writes into it."""
    school = make_school(tmp_path_factory.mktemp("keyin") / "school", roster=ROSTER, exercises=SORTS)
    issue(school, school.sittings, quiet)
    write_page(school, school.sittings[0])
    return open_school(school.folder)


@pytest.fixture
def own(issued: School, tmp_path: Path) -> School:
    shutil.copytree(issued.folder, tmp_path / "own")
    return open_school(tmp_path / "own")


@pytest.fixture
def page(visitor: Visitor, issued: School) -> Page:
    return visitor(issued.records).open(f"keyin_{SITTING}.html")


def mixed_answers(paper: Paper, number: int) -> dict[str, Typed | None]:
    """Right answers, of which one is twice what it should be, one is blank, and one is written as people write."""
    answers: dict[str, Typed | None] = dict(right_answers(paper.variants()))
    numbers = [name for name, typed in answers.items() if isinstance(typed.value, float)]
    twice, blank, odd = numbers[number], numbers[number + 3], numbers[-1 - number]
    answers[twice] = Typed(answers[twice].value * 2, answers[twice].unit)
    answers[blank] = None
    answers[odd] = Typed("about 12", answers[odd].unit)
    words = next(name for name in answers if name.startswith("4c"))
    answers[words] = Typed('Stopped the feed.\n"Then" I waited \\ <b>long</b> ρ 李', "")
    return answers


def key_in(page: Page, paper: Paper, answers: dict[str, Typed | None]) -> int:
    """Type a sheet as a person does who never touches the mouse; gives the keys pressed beside the answers' own."""
    pressed = 0

    def press(key: str) -> None:
        nonlocal pressed
        pressed += 1
        page.keyboard.press(key)

    page.keyboard.type(paper.candidate)
    press("Enter")
    for name, typed in answers.items():
        assert page.evaluate("document.activeElement.id") == f"value-{name}"
        if typed is None:
            press("Enter")
            continue
        if isinstance(typed.value, str) and "\n" in typed.value:
            page.keyboard.insert_text(typed.value)
            press("Control+Enter")
            continue
        page.keyboard.type(str(typed.value).lower() if typed.unit == "" else str(typed.value))
        unit = page.locator(f'[id="unit-{name}"]')
        if unit.count() and unit.input_value() != typed.unit:
            press("Enter" if unit.input_value() == "" else "Tab")
            assert page.evaluate("document.activeElement.id") == f"unit-{name}"
            label = unit.locator(f'option[value="{typed.unit}"]').inner_text()
            page.keyboard.type(label)
            assert unit.input_value() == typed.unit
        press("Enter")
    expect(page.locator("[data-done]")).to_be_focused()
    press("Enter")
    expect(page.locator("#who")).to_be_focused()
    return pressed


def saved(page: Page, folder: Path) -> Path:
    with page.expect_download() as download:
        page.get_by_role("button", name="Save all").focus()
        page.keyboard.press("Enter")
    path = folder / download.value.suggested_filename
    download.value.save_as(path)
    return path


@pytest.mark.browser
def test_three_sheets_keyed_in_by_keyboard_are_marked_like_notebooks(page, own, issued, tmp_path, warm_room):
    papers = [paper_of(own, candidate) for candidate in ("aa-01", "aa-02", "aa-03")]
    keyed = {paper.candidate: mixed_answers(paper, number) for number, paper in enumerate(papers)}
    begun = time.monotonic()
    pressed = sum(key_in(page, paper, keyed[paper.candidate]) for paper in papers)
    seconds, count = time.monotonic() - begun, sum(map(len, keyed.values()))
    # One key a typed answer, one to come to a unit that is to be picked; two a candidate, to find and to finish.
    assert count <= pressed <= 1.5 * count
    # The page itself keeps up: the rest of the time is the reader's.
    assert seconds / count < 1.0
    expect(page.locator("[data-progress]")).to_have_text("3 of 4 keyed in")
    file = saved(page, tmp_path)
    assert file.name == f"keyed_{SITTING}.json"

    taken = take(own, own.sittings[0], file)
    assert [path.name for path in taken.written] == [f"keyed_{script_name(own, paper)}" for paper in papers]
    for path, paper in zip(taken.written, papers, strict=True):
        notebook = nbformat.read(path, as_version=4)
        nbformat.validate(notebook)
        assert notebook.metadata.pitside.keyed_in is True
        assert {cell.id for cell in notebook.cells} == {cell["id"] for cell in script_with(own, paper, {})["cells"]}
    results = mark_and_report(own)

    shutil.copytree(issued.folder, tmp_path / "typed")
    typed = open_school(tmp_path / "typed")
    for paper in papers:
        script = script_with(typed, paper, keyed[paper.candidate])
        for cell in script["cells"]:
            if cell["cell_type"] == "markdown" and cell["id"].startswith("answer-"):
                cell["source"] = keyed[paper.candidate][cell["id"].removeprefix("answer-")].value
        hand_in(typed, paper, script)
    expected = mark_and_report(typed)
    for paper in papers:
        record, other = results[paper.candidate].record, expected[paper.candidate].record
        assert record.exercises == other.exercises
        assert 0 < record.marks < record.out_of
        assert record.for_assessor[0].startswith("Keyed in from paper")
        assert other.for_assessor == ()
        assert not any("Keyed in" in told for told in results[paper.candidate].told)


@pytest.mark.browser
def test_what_was_typed_survives_a_closed_tab_and_goes_when_cleared(browser, issued):
    context = browser.new_context()
    where = page_file(issued, issued.sittings[0]).as_uri()
    page = context.new_page()
    page.goto(where)
    page.keyboard.type("полоз")
    page.keyboard.press("Enter")
    expect(page.locator("#form-title")).to_contain_text("aa-03")
    page.keyboard.type("41")
    # Before the browser's database is open nothing is kept, and on a slow machine these keys are quicker than that.
    expect(page.locator("[data-kept]")).to_have_text("Kept in this browser")
    page.keyboard.press("2")
    page.close(run_before_unload=False)

    page = context.new_page()
    page.goto(where)
    expect(page.locator("[data-said]")).to_contain_text("is back")
    expect(page.locator("#candidate-aa-03 .state")).to_contain_text("begun, 1 of")
    page.keyboard.type("aa-03")
    page.keyboard.press("Enter")
    expect(page.locator('[id="value-1a"]')).to_have_value("412")
    page.get_by_role("button", name="Clear everything").click()
    page.get_by_role("button", name="Clear it").click()
    expect(page.locator("[data-said]")).to_contain_text("Cleared")
    assert page.evaluate("localStorage.length") == 0
    page.reload()
    expect(page.locator("[data-progress]")).to_have_text("0 of 4 keyed in")
    context.close()


@pytest.mark.browser
def test_answers_are_taken_back_one_by_one_and_a_cleared_candidate_as_a_whole(page):
    page.keyboard.press("Enter")
    for number in ("1", "2", "3"):
        page.keyboard.type(number)
        page.keyboard.press("Enter")
    values = [page.locator(f'[id="value-{name}"]') for name in ("1a", "1b", "1c")]
    page.keyboard.press("Control+z")
    assert [value.input_value() for value in values] == ["1", "2", ""]
    expect(values[2]).to_be_focused()
    page.get_by_role("button", name="Clear this candidate").click()
    assert [value.input_value() for value in values] == ["", "", ""]
    page.get_by_role("button", name="Undo").click()
    assert [value.input_value() for value in values] == ["1", "2", ""]
    page.keyboard.press("Control+z")
    assert [value.input_value() for value in values] == ["1", "", ""]


@pytest.mark.browser
@pytest.mark.parametrize(
    ("name", "typed", "says"),
    a_few(
        keep=3,
        cases=[
            ("1a", "412", "Kept: 412"),
            ("1a", "1,234", "two ways"),
            ("1a", "about 400", "not a number"),
            ("1a", "4e12", "very large value"),
            ("1a", "-5", "is less than nothing: stop and look"),
            ("2b", "c", ""),
            ("2b", "z", "none of the letters A, B, C, D"),
            ("2b", "ab", "One letter"),
            ("3d", "aab", "A stands there more than once"),
            ("3d", "b, a", "Missing: C"),
        ],
    ),
)
def test_the_page_looks_at_the_form_of_an_answer_only(page, name, typed, says):
    page.keyboard.press("Enter")
    page.locator(f'[id="value-{name}"]').focus()
    page.keyboard.type(typed)
    said = page.locator(f'[id="check-{name}"]').inner_text()
    assert says in said
    assert bool(said) == bool(says)


@pytest.mark.browser
def test_save_all_leaves_out_who_is_not_done_and_says_so(page, tmp_path):
    page.get_by_role("button", name="Save all").click()
    expect(page.locator("[data-said]")).to_contain_text("Nobody is done")
    page.locator("#who").focus()
    page.keyboard.press("Enter")
    page.keyboard.type("5")
    page.locator("[data-done]").focus()
    page.keyboard.press("Enter")
    # The next one without a script comes by itself.
    page.keyboard.press("Enter")
    expect(page.locator("#form-title")).to_contain_text("aa-02 李文桥 </script><b>")
    page.keyboard.type("6")
    data = json.loads(saved(page, tmp_path).read_text(encoding="utf-8"))
    assert [one["id"] for one in data["candidates"]] == ["aa-01"]
    assert list(data["candidates"][0]["answers"]) == ["1a"]
    expect(page.locator("[data-said]")).to_contain_text("not done: aa-02")


@pytest.mark.browser
def test_who_has_a_script_comes_last(visitor, own):
    hand_in(own, paper_of(own, "aa-01"), script_with(own, paper_of(own, "aa-01"), {}))
    # A scan is no script: it is what is keyed in.
    hand_in(own, paper_of(own, "aa-03"), b"%PDF-1.4", "marram_day1_aa-03.pdf")
    path, candidates, there = write_page(own, own.sittings[0])
    assert (candidates, there) == (4, 1)
    page = visitor(own.records).open(path.name)
    lines = page.locator("#candidates li b").all_inner_texts()
    assert lines == ["aa-02", "aa-03", "aa-04", "aa-01"]
    expect(page.locator("#candidate-aa-01 .state")).to_contain_text("has a script: scripts/marram_day1_aa-01.ipynb")
    page.keyboard.type("aa-03")
    page.keyboard.press("Enter")
    expect(page.locator("[data-has-script]")).to_contain_text("scripts/marram_day1_aa-03.pdf: not a notebook")


@pytest.mark.browser
@WINDOWS
def test_the_page_has_no_serious_fault_of_access(visitor, issued, width, colours):
    page = visitor(issued.records, width=width, color_scheme=colours).open(f"keyin_{SITTING}.html")
    for state in ("list", "form"):
        if state == "form":
            page.keyboard.press("Enter")
            page.keyboard.type("about")
        found = Axe().run(page)
        serious = [fault for fault in found.response["violations"] if fault["impact"] in ("serious", "critical")]
        assert serious == [], state
        assert len(found.response["passes"]) > 10
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_page_is_well_formed_and_can_call_nobody(issued):
    page = well_formed(page_file(issued, issued.sittings[0]).read_text(encoding="utf-8"))
    policy = page.find("meta", {"http-equiv": "Content-Security-Policy"})
    assert policy["content"].startswith("default-src 'none'")
    assert not page.find_all(["link", "iframe", "object", "img"])


# No secret ------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def page_of_the_bank(whole_bank: School, tmp_path_factory: pytest.TempPathFactory) -> tuple[School, str]:
    """Two candidates, field and metric, with every exercise of the bank; and all that can be read in their page."""
    folder = tmp_path_factory.mktemp("bank") / "school"
    shutil.copytree(whole_bank.folder, folder)
    school = open_school(folder)
    path, *_ = write_page(school, school.sittings[0])
    return school, ways_to_read(path.read_bytes())


def test_the_page_says_nothing_that_a_mark_scheme_says(page_of_the_bank):
    school, text = page_of_the_bank
    shown = letters(text)
    assert all(letters(exercise.title) in shown for exercise in BANK.values())
    tried = 0
    # What the sheets ask may use the words of a solution; of that only what a pack shows may stand here.
    for candidate in school.roster:
        paper = paper_of(school, candidate.id)
        printed = letters(ways_to_read(next(opened_pack(school, candidate.id).glob("*_sheet.html")).read_bytes()))
        for exercise in BANK.values():
            for said in scheme_texts(exercise, paper.system):
                for piece in pieces(said):
                    if piece not in printed:
                        tried += 1
                        assert piece not in shown, said
    assert tried > 20 * len(BANK)


def test_the_page_holds_no_model_answer(page_of_the_bank):
    school, text = page_of_the_bank
    # The factors of the units tell of nobody's answers.
    data = json.loads(re.search(r'id="sheets">(.*?)</script>', text, re.DOTALL)[1])
    printed = six_digits(json.dumps(data["candidates"]))
    every = six_digits(text) - six_digits(json.dumps(data["kinds"]))
    tried = 0
    for candidate in school.roster:
        for number, variant in enumerate(paper_of(school, candidate.id).variants(), 1):
            for item in variant.exercise.items:
                if isinstance(item, Numeric):
                    for value in _answers(variant, item):
                        digits = f"{abs(value):.6g}".replace(".", "").lstrip("0")
                        if re.fullmatch(r"\d{6}", digits) and digits[-2:] != "00":
                            tried += 1
                            assert digits not in printed | every, (number, item.key, value)
    assert tried > 400


def test_the_page_holds_no_key_no_seal_no_digest_of_a_scheme_and_no_path(page_of_the_bank):
    school, text = page_of_the_bank
    lines = [json.loads(line) for line in school.register_file.read_text(encoding="utf-8").splitlines()]
    papers = [paper_of(school, candidate.id) for candidate in school.roster]
    secrets = [KEY[:16], str(school.folder), "Larkwater Energy,", "day crew", *(line["seal"][:12] for line in lines)]
    secrets += [digest[:12] for paper in papers for digest in (paper.scheme, *(e.scheme for e in paper.entries))]
    assert len(secrets) > 2 * len(BANK)
    for secret in secrets:
        assert secret not in text


def test_the_page_has_fields_of_these_names_alone(page_of_the_bank):
    """So that what an exercise gains some day does not come along unseen."""
    _, text = page_of_the_bank
    data = json.loads(re.search(r'id="sheets">(.*?)</script>', text, re.DOTALL)[1])
    items = [i for c in data["candidates"] for e in c["exercises"] for p in e["parts"] for i in p["items"]]
    parts = [p for c in data["candidates"] for e in c["exercises"] for p in e["parts"]]
    assert {name for item in items for name in item} == {
        "name", "kind", "label", "on_the_way", "measures", "unit", "converting", "possible", "letters",
    }  # fmt: skip
    assert {name for part in parts for name in part} == {"label", "ask", "items"}
    assert {name for one in data["candidates"] for name in one} == {
        "id", "name", "paper", "script", "fault", "exercises",
    }  # fmt: skip


# Taking ---------------------------------------------------------------------------------------------------------------


def answers_file(school: School, /, **changes: Any) -> dict[str, Any]:
    """What the page saves of one candidate."""
    one = {"id": "aa-01", "paper": paper_of(school, "aa-01").id,
           "answers": {"1a": {"typed": "412,5", "unit": "lb"}, "2b": "C"}}  # fmt: skip
    whole = {"format": 1, "what": KIND, "school": "marram", "sitting": SITTING, "attempt": 1, "candidates": [one]}
    for name, value in changes.items():
        (one if name in one else whole)[name] = value
    return whole


def written(folder: Path, data: Any) -> Path:
    path = folder / f"keyed_{SITTING}.json"
    path.write_text(data if isinstance(data, str) else json.dumps(data), encoding="utf-8")
    return path


def test_the_answers_stand_in_the_cells_of_the_notebook(own, tmp_path):
    hostile = '"); import os; os.system("x") #\\'
    answers = {"1a": {"typed": "1 412,5", "unit": "lb"}, "1b": {"typed": hostile, "unit": "bbl"}, "2b": '"C\\😀',
               "4c": "# none\n```\n<script>"}  # fmt: skip
    (path,) = take(own, own.sittings[0], written(tmp_path, answers_file(own, answers=answers))).written
    cells = {cell.id: cell.source for cell in nbformat.read(path, as_version=4).cells}
    given = {}
    for name in ("1a", "1b", "2b"):
        exec(cells[f"answer-{name}"], {"answer": lambda part, *rest: given.__setitem__(part, rest)})
    assert given == {"1a": (1412.5, "lb"), "1b": (hostile, "bbl"), "2b": ('"C\\😀',)}
    assert cells["answer-4c"] == "# none\n```\n<script>"
    assert cells["answer-3a"].startswith(f'{NOT_READY}\nanswer("3a", None')


def test_nothing_is_overwritten_without_being_told_to(own, tmp_path):
    first = written(tmp_path, answers_file(own))
    (path,) = take(own, own.sittings[0], first).written
    before = path.read_bytes()
    again = take(own, own.sittings[0], first)
    assert (again.written, again.already, again.replaced) == ((), (path,), ())
    other = written(tmp_path, answers_file(own, answers={"1a": {"typed": "7", "unit": "lb"}}))
    with pytest.raises(GraderError, match="add --replace"):
        take(own, own.sittings[0], other)
    assert path.read_bytes() == before
    assert take(own, own.sittings[0], other, replace=True).replaced == (path,)
    assert path.read_bytes() != before


@pytest.mark.parametrize("replace", [False, True])
def test_a_script_that_was_handed_in_is_never_touched(own, tmp_path, replace):
    paper = paper_of(own, "aa-01")
    handed_in = hand_in(own, paper, script_with(own, paper, {}))
    before = handed_in.read_bytes()
    with pytest.raises(GraderError, match=r"has a script already, scripts/marram_day1_aa-01\.ipynb"):
        take(own, own.sittings[0], written(tmp_path, answers_file(own)), replace=replace)
    assert handed_in.read_bytes() == before
    assert [path.name for path in own.scripts.iterdir()] == [handed_in.name]


def doubled(school: School) -> dict[str, Any]:
    whole = answers_file(school)
    return {**whole, "candidates": whole["candidates"] * 2}


def one_answer(name: str, answer: Any) -> Any:
    return lambda school: answers_file(school, answers={name: answer})


def unit(text: Any) -> dict[str, Any]:
    return {"typed": "4", "unit": text}


@pytest.mark.parametrize(
    ("made", "says"),
    [
        pytest.param(lambda s: "{half", "no JSON", id="no JSON"),
        pytest.param(lambda s: "[" * 100_000, "no JSON", id="deep"),
        pytest.param(lambda s: "[]", "choose the .json that the page saved", id="a list"),
        pytest.param(lambda s: '{"what": 1, "what": 2}', "names something twice", id="twice the same name"),
        pytest.param(lambda s: '{"what": NaN}', "no JSON", id="not a number"),
        pytest.param(lambda s: {"cells": []}, "choose the keyed_", id="something else"),
        pytest.param(lambda s: " " * (LARGEST + 1), "larger than 20 MB", id="huge"),
        pytest.param(lambda s: answers_file(s, format=2), "format 2, not of 1", id="format"),
        pytest.param(lambda s: answers_file(s, format=True), "format True, not of 1", id="true is no number"),
        pytest.param(lambda s: answers_file(s, school="saltreed"), "school saltreed, not of marram", id="school"),
        pytest.param(lambda s: answers_file(s, sitting="day9"), "sitting day9, not of day1", id="sitting"),
        pytest.param(lambda s: answers_file(s, attempt=2), "attempt 2, not of 1", id="attempt"),
        pytest.param(lambda s: answers_file(s, more=1), "other fields", id="more fields"),
        pytest.param(lambda s: answers_file(s, candidates={}), "other fields", id="candidates no list"),
        pytest.param(lambda s: answers_file(s, candidates=[]), "holds no candidate", id="nobody"),
        pytest.param(lambda s: answers_file(s, candidates=[7]), "candidate with other fields", id="no candidate"),
        pytest.param(doubled, "has aa-01 twice", id="duplicate"),
        pytest.param(lambda s: answers_file(s, id="zz-99"), "names zz-99", id="unknown candidate"),
        pytest.param(lambda s: answers_file(s, id=["aa-01"]), "who was issued no paper", id="odd candidate"),
        pytest.param(lambda s: answers_file(s, id="../../x\n"), "who was issued no paper", id="path"),
        pytest.param(lambda s: answers_file(s, paper="day1-aa-01-1-00000000"), "has paper day1-aa-01-1-", id="paper"),
        pytest.param(lambda s: answers_file(s, answers=[]), "no list of answers", id="no answers"),
        pytest.param(one_answer("9z", "A"), "part 9z: the paper has no such part", id="unknown part"),
        pytest.param(one_answer("1a", "412"), "no number with its unit", id="number without unit"),
        pytest.param(one_answer("1a", unit("furlong")), "furlong is no unit", id="unknown unit"),
        pytest.param(one_answer("1a", unit(["lb"])), "is no unit", id="odd unit"),
        pytest.param(one_answer("1a", {"typed": 4, "unit": "lb"}), "is no text", id="a number as such"),
        pytest.param(one_answer("1a", {"typed": "4" * 61, "unit": "lb"}), "longer than 60", id="long number"),
        pytest.param(one_answer("2b", "A\nB"), "cannot be typed", id="line break in letters"),
        pytest.param(one_answer("2b", ["A"]), "is no text", id="letters in a list"),
        pytest.param(one_answer("4c", "x" * (LONGEST_WORDS + 1)), "longer than 20000", id="long words"),
        pytest.param(one_answer("4c", "\ud800"), "cannot be typed", id="half a character"),
        pytest.param(one_answer("4c", "\x1b[2J"), "cannot be typed", id="control"),
    ],
)
def test_a_file_that_the_page_did_not_save_is_refused_in_one_line(own, tmp_path, made, says):
    with pytest.raises(GraderError) as refused:
        take(own, own.sittings[0], written(tmp_path, made(own)))
    said = str(refused.value)
    assert says in said
    assert said.startswith(f"keyed_{SITTING}.json: ")
    assert said.endswith("Nothing was written")
    assert "\n" not in said
    assert not own.scripts.is_dir() or not list(own.scripts.iterdir())


def test_one_fault_among_many_candidates_writes_nothing(own, tmp_path):
    data = answers_file(own)
    data["candidates"].append({"id": "aa-02", "paper": paper_of(own, "aa-02").id, "answers": {"2b": 7}})
    with pytest.raises(GraderError, match="aa-02, part 2b"):
        take(own, own.sittings[0], written(tmp_path, data))
    assert not own.scripts.is_dir() or not list(own.scripts.iterdir())


def test_the_command_writes_the_page_and_takes_the_file(own, tmp_path):
    done = CliRunner().invoke(commands, ["key-in", str(own.folder)], catch_exceptions=False)
    assert done.exit_code == 0
    assert "4 candidates, 0 with a script already" in done.output
    file = written(tmp_path, answers_file(own))
    done = CliRunner().invoke(commands, ["key-in", str(own.folder), "--take", str(file)], catch_exceptions=False)
    assert done.exit_code == 0
    assert f"Wrote {own.scripts / 'keyed_marram_day1_aa-01.ipynb'}" in done.output
    with pytest.raises(GraderError, match="of sitting day9, which this school does not have"):
        file = written(tmp_path, answers_file(own, sitting="day9"))
        CliRunner().invoke(commands, ["key-in", str(own.folder), "--take", str(file)], catch_exceptions=False)


def test_a_sitting_that_was_never_issued_has_no_page(own):
    with pytest.raises(GraderError, match="nobody was issued attempt 2 at day1; first: pitside issue"):
        write_page(own, own.sittings[0], 2)
    assert not page_file(own, own.sittings[0], 2).exists()
