"""The given cell replies at once, and rightly: what it records marking can read, what it does not marking refuses.

What it warns of is what the worksheet page warns of, and it never keeps an answer from being recorded.
"""

from __future__ import annotations

import ast
import contextlib
import io
import json
import math
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises import BANK
from exercises.model import Choice, Chosen, Numeric, Order, Written
from exercises.model.answers import Given, UnreadableAnswer, read_number
from exercises.model.marking import Rule, mark
from grader.demo.solutions import published_variant
from grader.papers.notebook import GIVEN_CELL, given_cell
from grader.papers.packs import pack_names
from grader.papers.page_data import questions
from grader.running.checked_answers import Answer, checked_answer
from grader.store.part_marks import item_name
from grader.store.school import School
from grader.untrusted.claim import claim_of
from grader.untrusted.script import of_python
from pitside.unit_names import UnknownUnit, kind_of, read_unit, spellings, usual_kinds
from tests.browsing import Visitor
from tests.grader.schools import EVERY_KIND, opened_pack, pack_of, paper_of

VARIANTS = tuple(published_variant(BANK[exercise]) for exercise in (*EVERY_KIND, "fault-diary"))
#: Every item of these papers, by name.
ITEMS = {item_name(number, item.key): (v, item) for number, v in enumerate(VARIANTS, 1) for item in v.exercise.items}
CHOICE, ORDER = (next(name for name, (_, item) in ITEMS.items() if isinstance(item, kind)) for kind in (Choice, Order))
LETTERS = "".join(ITEMS[ORDER][0].shown_steps(ITEMS[ORDER][1]))


@pytest.fixture(scope="module")
def names() -> dict[str, Any]:
    """What the cell defines in a bare Python. Its item 1a asks for a mass."""
    defined = defined_by(given_cell(VARIANTS)["source"])
    assert defined["PARTS"]["1a"] == "a mass"
    return defined


def defined_by(source: str) -> dict[str, Any]:
    defined: dict[str, Any] = {}
    exec(source, defined)
    return defined


def reply(names: dict[str, Any], *what: Any) -> str:
    names["recorded"].clear()
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        names["answer"](*what)
    return said.getvalue().rstrip("\n")


def marking_can_read(value: Any, name: str = "1a") -> bool:
    """Whether the way from the script to its mark refuses an answer for its form: room, claims, reader of answers."""
    claim = checked_answer(claim_of(name, of_python(value)).line)
    if not isinstance(claim, Answer) or claim.value is None:
        return False
    variant, item = ITEMS[name]
    if isinstance(item, Choice | Order):
        marks = {result.item: result for result in mark(variant, {item.key: Given(claim.value)})}
        return marks[item.key].rule not in (Rule.UNREADABLE, Rule.OTHER_KIND)
    try:
        read_number(claim.value)
    except UnreadableAnswer:
        return False
    return True


GOOD = [
    412, 412.5, -3, 1, 1e-3, np.float64(4.5), np.float32(4.5), np.int64(7), np.array(4.5), Decimal("4.5"), 0,
    "412", "412,5", "412.5", "1 234,5", "1,234.5", "1.234,5", "1'234.5", "1,234,567", "6.4e3", "-12", Fraction(9, 2),
    "\N{MINUS SIGN}12", "0,052", "1\N{NARROW NO-BREAK SPACE}234,5", " 7 ",
    "1234,567", "+4", ".5", "3/4", "12 1/2", " - 3/4".replace(" ", ""), "6 / 8", "４１２",
]  # fmt: skip
BAD = [
    True, False, np.bool_(True), math.nan, math.inf, -math.inf, np.float64("nan"), Decimal("NaN"), Decimal("Infinity"),
    1 + 2j, np.complex64(1), [1, 2], (6, 442), {}, {1}, np.array([412.0]), np.zeros(3), b"412", print, object(),
    10**400, "6,442", "-6,442", "412 psi", "twelve", "nan", "inf", "1e400", "1.2.3", "--5", "psi", "?",
    "x" * 201, "1" * 201, "12..5", "5e", "AA", "B", "3/0", "12 5/2", "1/2/3", "½", "4²", "- 3 /", "1e5/3",
]  # fmt: skip


@pytest.mark.parametrize("value", GOOD, ids=repr)
def test_what_marking_reads_is_recorded(names, value):
    assert marking_can_read(value)
    assert reply(names, "1a", value, "lb").startswith("1a: recorded ")
    looks = reply(names, "1a", value, "lb").partition(". Look again: ")[2]
    assert looks == ("No mass is less than nothing: stop and look." if names["number_of"](value) < 0 else "")
    assert names["recorded"] == {"1a": (value, "lb")}


@pytest.mark.parametrize("value", BAD, ids=lambda value: repr(value).partition(" at 0x")[0][:30])
def test_what_marking_refuses_is_not_recorded_and_the_reply_says_why(names, value):
    assert not marking_can_read(value)
    said = reply(names, "1a", value, "lb")
    assert said.startswith("1a: not recorded, ")
    assert len(said) > len("1a: not recorded, ") + 12
    assert len(said.splitlines()) == 1
    assert names["recorded"] == {}


@pytest.mark.parametrize(
    ("name", "value", "fits"),
    [
        *((CHOICE, value, True) for value in ("A", "b", "(C)", " B. ")),
        *((CHOICE, value, False) for value in ("AB", "Z", "?", 2, 2.5, "2", "A" * 201, ["A"], True)),
        *((ORDER, value, True) for value in (LETTERS, LETTERS.lower(), ", ".join(LETTERS), LETTERS[::-1])),
        *((ORDER, value, False) for value in (LETTERS[1:], LETTERS + LETTERS[0], LETTERS[:-1] + "Z", 7, "7")),
    ],
)
def test_letters_are_recorded_where_they_are_the_papers(names, name, value, fits):
    assert marking_can_read(value, name) == fits
    said = reply(names, name, value)
    if fits:
        assert said == f"{name}: recorded {value}".rstrip()
        assert names["recorded"] == {name: (value, "")}
    else:
        assert said.startswith(f"{name}: not recorded, answer with ")
        assert names["recorded"] == {}


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (True, "true or false is not an answer"),
        (1j, "a complex number is not an answer"),
        ([1], "a list is not an answer: give one number"),
        (math.nan, "nan is not a number that can be right: look at your sum"),
        ("6,442", '"6,442" can be read in two ways: write 6442 or 6.442'),
        ("412 lb/bbl", "Write number and unit apart"),
        ("½", "holds a raised, lowered or fraction sign"),
        ("B", '"B" is not a number'),
        (10**400, "the number is too large"),
    ],
)
def test_reply_says_what_is_wrong(names, value, says):
    assert says in reply(names, "1a", value, "lb")


@pytest.mark.parametrize(
    ("value", "unit", "says"),
    [
        (412, "psi", "psi measures a pressure; the question asks for a mass."),
        (412, "KG / M³", "kg/m3 measures a density or concentration; the question asks for a mass."),
        (4e12, "sack", "that is a very large value for a mass. Look at the unit and the decimal point."),
        (1e-9, "kg", "that is a very small value for a mass. Look at the unit and the decimal point."),
        (-5, "lb", "No mass is less than nothing: stop and look."),
        (412, "", "there is no unit. The question asks for a mass (lb, kg, t, sack): write it behind"),
        ("412,5", " ", "there is no unit."),
        (412, "stone", '"stone" is none of the usual units of a mass (lb, kg, t, sack). It is kept as you wrote it'),
        (412, "mg", '"mg" is none of the usual units of a mass (lb, kg, t, sack). It is kept as you wrote it'),
    ],
)
def test_what_looks_wrong_is_said_and_recorded_all_the_same(names, value, unit, says):
    said = reply(names, "1a", value, unit)
    assert said.startswith("1a: recorded ")
    assert f". Look again: {says}" in said
    assert names["recorded"] == {"1a": (value, unit)}


def test_a_right_and_a_wrong_number_get_the_same_reply(names):
    variant, item = ITEMS["1a"]
    right = float(f"{variant.key[item.key].m_as('lb'):.4g}")
    says = [reply(names, "1a", number, "lb").replace(f"{number:g}", "") for number in (right, right * 1.7)]
    assert says == ["1a: recorded  lb"] * 2


@pytest.mark.parametrize("value", ["", "  ", None, ...])
def test_empty_answer_is_none_yet(names, value):
    assert reply(names, "1a", value, "lb") == "1a: no answer yet"
    assert names["recorded"] == {}


def test_part_is_read_as_the_room_reads_it_and_a_quantity_brings_its_unit(names):
    assert reply(names, " 1A ", 3, "lb") == "1a: recorded 3 lb"
    assert reply(names, [], 3).startswith("There is no part [] in this paper.")
    units = pint.UnitRegistry()
    assert reply(names, "1a", units.Quantity(3.5, "lb")) == "1a: recorded 3.5 pound"
    assert reply(names, "1a", 3.5, units.lb) == "1a: recorded 3.5 pound"
    assert reply(names, "1a", units.Quantity([3.5, 4], "lb")).startswith("1a: not recorded, a ndarray is not")
    density = reply(names, "1a", units.Quantity(1200.0, "kg/m^3"))
    assert "kg/m3 measures a density or concentration" in density
    # Marking reads the unit as Pint prints it too.
    assert kind_of(names["recorded"]["1a"][1]) == "a density or concentration"


def test_overlong_unit_is_refused_as_marking_does(names):
    unit = "lb/bbl " * 10
    assert not isinstance(checked_answer(json.dumps({"part": "1a", "value": 3, "unit": unit}).encode()), Answer)
    assert reply(names, "1a", 3, unit) == "1a: not recorded, the unit is too long."


@settings(max_examples=400, deadline=None)
@given(st.text(alphabet="0123456789,.'-+e _/ ", min_size=1, max_size=9))
def test_texts_of_digits_and_signs_are_read_as_marking_reads_them(names, text):
    if text.strip():
        recorded = reply(names, "1a", text, "lb").startswith("1a: recorded ")
        assert recorded == marking_can_read(text), text


# Units ----------------------------------------------------------------------------------------------------------------

OFFERED = {unit: kind for kind, units in usual_kinds() for unit in units}


def test_every_known_spelling_of_an_offered_unit_is_known_to_the_cell(names):
    tried = 0
    for spelling in {spelling for each in spellings().values() for spelling in each if spelling}:
        same = [unit for unit in OFFERED if read_unit(unit) == read_unit(spelling)]
        if same:
            tried += 1
            assert read_unit(names["usual_spelling"](spelling)) == read_unit(spelling), spelling
            assert names["UNIT_KINDS"][names["usual_spelling"](spelling)] == OFFERED[same[0]], spelling
    assert tried > 60


@pytest.mark.parametrize("unit", OFFERED)
def test_an_offered_unit_is_known_in_the_ways_that_people_type_it(names, unit):
    ways = {unit, f" {unit} ", unit.replace("/", " / "), unit.replace("/", " per "), unit.replace("3", "³"),
            unit.replace("m3", "m^3").replace("m2", "m^2"), unit.replace("t3", "t**3"), unit.replace(".", "·"),
            unit.upper(), unit.title(), f"{read_unit(unit):D}"}  # fmt: skip
    for way in ways:
        try:
            read = read_unit(way)
        except UnknownUnit:
            continue  # such as MPA, which could be two units
        assert read == read_unit(names["usual_spelling"](way)), way
    assert names["UNIT_KINDS"][names["usual_spelling"](unit)] == OFFERED[unit]


_WORDS = st.sampled_from(sorted({word for each in spellings().values() for word in each} | {"x", "M", "mPA", "kG"}))


@settings(max_examples=600, deadline=None)
@given(_WORDS, st.sampled_from(["", "2", "^3", "**2", " ** 3"]), st.sampled_from(["/", " / ", " per ", "*"]), _WORDS)
def test_what_the_cell_knows_as_a_unit_marking_reads_as_the_same(names, first, power, joint, second):
    for text in (first + power, first + joint + second + power):
        known = names["usual_spelling"](text)
        if known in names["UNIT_KINDS"] and len(text) <= 40:
            assert read_unit(text) == read_unit(known), text


# What is left to do ---------------------------------------------------------------------------------------------------


def left(names: dict[str, Any]) -> list[str]:
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        names["unanswered"]()
    return said.getvalue().splitlines()


def test_last_cell_says_what_has_no_answer_and_what_to_do(names):
    """Items on the way and parts in words are not among what it misses."""
    names["recorded"].clear()
    numbers = [name for name, (_, item) in ITEMS.items() if not isinstance(item, Written)]
    ways = {name for name, (_, item) in ITEMS.items() if isinstance(item, Numeric) and item.on_the_way}
    words = [name for name, (_, item) in ITEMS.items() if isinstance(item, Written)]
    assert words and set(names["ON_THE_WAY"]) == ways
    first, *_ = left(names)
    assert first == f"No answer yet: {', '.join(name for name in numbers if name not in ways)}."
    reply_keeping(names, "1a", 3, "lb")
    assert "1a," not in left(names)[0]
    names["recorded"] |= dict.fromkeys(numbers, (1, ""))
    assert left(names)[0] == "Every part that asks for a number or letters has an answer."
    assert f"In words, so look for yourself: {', '.join(words)}." in left(names)
    assert "Save the notebook" in left(names)[-1]


def reply_keeping(names: dict[str, Any], *what: Any) -> None:
    with contextlib.redirect_stdout(io.StringIO()):
        names["answer"](*what)


def test_last_cell_is_quiet_where_another_answer_is_given_in_place_of_the_papers(names):
    other = defined_by(given_cell(VARIANTS)["source"])
    other["answer"] = of_python  # any function of another module, as in a room
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        exec("unanswered()", other)
    assert said.getvalue() == ""


def test_name_without_quotes_gets_a_kind_word_in_jupyter_and_other_names_what_python_says():
    from IPython.core.interactiveshell import InteractiveShell

    shell = InteractiveShell()
    try:
        shell.run_cell(given_cell(VARIANTS)["source"])
        for source, kind in (
            (f'answer("{CHOICE}", b)', True),
            ('answer("1a", 412, lbs)', True),
            ('answer("1a", 412, "lb")\nanswer("1a", nan)', True),
            ("print(b)", False),
            ("def f():\n    return b\nf()", False),
        ):
            said = io.StringIO()
            with contextlib.redirect_stdout(said):
                result = shell.run_cell(source)
            assert isinstance(result.error_in_exec, NameError)
            assert ("Not recorded: Python knows nothing called " in said.getvalue()) == kind, source
            assert ("NameError" in said.getvalue()) != kind, source
        assert '"b"' not in said.getvalue()
    finally:
        shell.set_custom_exc((), None)
        InteractiveShell.clear_instance()


def test_cell_that_is_run_before_the_given_cell_shows_what_to_do_in_its_error(issued_school):
    """As after a restart of the kernel, when nothing of ours is there that could say a word."""
    from IPython.core.interactiveshell import InteractiveShell

    cells = pack_of(issued_school, paper_of(issued_school, "aa-01"))["cells"]
    tried = [cell["source"] for cell in cells if cell["cell_type"] == "code" and cell["id"] != GIVEN_CELL]
    assert len(tried) > 3
    shell = InteractiveShell()
    shell.colors = "nocolor"
    try:
        for source in tried:
            said = io.StringIO()
            with contextlib.redirect_stdout(said):
                result = shell.run_cell(source)
            assert isinstance(result.error_in_exec, NameError)
            assert 'If it says "not defined": menu Run > Run All Cells' in said.getvalue(), source
    finally:
        InteractiveShell.clear_instance()


#: What a beginner types, and a part of the reply to it.
UNREADABLE = {
    'answer("1a", 412 lb)': "put a comma behind the number, and quotes around the unit",
    'answer("1a", 0.0702 "lb")': "put a comma behind the number",
    'answer("1a", 70%, "lb")': "put a comma behind the number",
    "answer(1a, 5)": "the part needs quotes around it",
    'answer("1a, 5, "lb")': "a quote is missing",
    'answer("1a", 0,0702, "lb")': "write a decimal point in place of the comma",
    'answer("1a", 1,234 "lb")': "write a decimal point in place of the comma",
    'answer("1a", 12 500, "lb")': "a long number without gaps",
    'answer("1a" 5)': "a comma is missing behind the part",
    'answer "1a", 5': "brackets are missing",
    'answer("1a", 5, "lb"': "a bracket is missing",
    "answer(“1a”, 5, “lb”)": "type the plain quotes of the keyboard",
    'answer("1a", 5½, "lb")': "write fractions and powers as plain numbers",
    'answer("1a", 4.07.02, "lb")': "two decimal points",
    'answer("1a", about 5, "lb")': "between the commas stands nothing but the number",
    'answer("1a", 012, "lb")': "leave out the nought before the number",
    'answer("1a", 3x4, "lb")': "times is written with the sign *",
    'answer("1a", =337, "lb")': "leave out the sign =",
    'answer("1a", 5, lb per gal)': "commas stand between part, number and unit",
}
#: The same where Python reads the line and cannot work it out.
UNUSABLE = {
    'Answer("1a", 5, "lb")': "write answer with small letters",
    'answer["1a", 5, "lb"]': "round brackets",
    'answer("1a", 8.5^2, "lb")': "a power is written with **",
}


def test_what_python_cannot_make_of_an_answer_gets_a_kind_word_in_jupyter():
    from IPython.core.interactiveshell import InteractiveShell

    shell = InteractiveShell()

    def said_to(source: str) -> str:
        said = io.StringIO()
        with contextlib.redirect_stdout(said):
            assert not shell.run_cell(source).success, source
        return said.getvalue()

    try:
        shell.run_cell(given_cell(VARIANTS)["source"])
        for source, what in UNREADABLE.items():
            said = said_to(f"# my sum\n{source}")
            assert what in said and "Nothing of this cell is recorded" in said and f"    {source}\n" in said, said
            assert "SyntaxError" not in said
        assert 'looks like this:   answer("1a", NUMBER, "UNIT")' in said_to('answer("1a", 412 lb)')
        assert f'looks like this:   answer("{CHOICE}", "LETTERS")' in said_to(f'answer("{CHOICE}" b)')
        for source, what in UNUSABLE.items():
            said = said_to(source)
            assert what in said and said.startswith("Not recorded: ") and "Error" not in said, said
        working = said_to("my sum: 8.5 x 2")
        assert "SyntaxError" in working and "Words of your own need the sign # before them" in working
        programmer = said_to("len(3)")
        assert "Error" in programmer and "recorded" not in programmer
    finally:
        shell.set_custom_exc((), None)
        InteractiveShell.clear_instance()


def test_no_message_of_the_cell_holds_a_number_that_could_be_taken_for_an_answer():
    """Its texts hold no digits but those that a candidate typed."""
    source = given_cell(VARIANTS)["source"]
    tree = ast.parse(source)
    functions = [node for node in tree.body if isinstance(node, ast.FunctionDef)]
    nodes = [node for function in functions for line in function.body[1:] for node in ast.walk(line)]
    texts = [node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)]
    plain = [text for text in texts if " " in text and "\\" not in text]
    assert len(plain) > 20
    assert [text for text in plain if any(sign.isdigit() for sign in text)] == []
    comments = [line for line in source.splitlines() if line.startswith("#")]
    assert [line for line in comments if any(sign.isdigit() for sign in line)] == []


# The tables -----------------------------------------------------------------------------------------------------------


def test_tables_are_plain_and_hold_only_what_the_paper_needs(names):
    source = given_cell(VARIANTS)["source"]
    assert max(map(len, source.splitlines())) <= 120
    assert "filled in for each paper" not in source
    tables = [node.targets[0].id for node in ast.parse(source).body if isinstance(node, ast.Assign)]
    assert tables[:4] == ["PARTS", "ON_THE_WAY", "IN_WORDS", "POSSIBLE"]
    assert tables[4:9] == ["CONVERTING", "USUAL_UNITS", "LIKELY_SIZES", "OTHER_UNITS", "SPELLINGS"]
    asked = {kind_of(v.unit(item)) for v, item in ITEMS.values() if isinstance(item, Numeric | Chosen)}
    assert set(names["USUAL_UNITS"]) == asked
    assert set(names["LIKELY_SIZES"]) <= asked
    assert not asked & set(names["OTHER_UNITS"])
    assert set(names["PARTS"]) == {name for name, (_, item) in ITEMS.items() if not isinstance(item, Written)}
    for units in names["USUAL_UNITS"].values():
        for unit, size in units.items():
            assert size == pytest.approx((1 * read_unit(unit)).to_base_units().magnitude, rel=1e-6)


def test_no_number_of_the_tables_comes_from_the_drawn_numbers(issued_school):
    """Two candidates' papers of the same exercises, in the same units, have the same cell."""
    first, third = (paper_of(issued_school, candidate).variants() for candidate in ("aa-01", "aa-03"))
    assert first[0].numbers != third[0].numbers
    assert given_cell(first)["source"] == given_cell(third)["source"]


# The worksheet page ---------------------------------------------------------------------------------------------------

#: Texts typed for a number, with units by their text on the page.
TYPED = (
    ("3/4", "lb"), ("12 1/2", "kg"), ("3/0", "lb"), ("12 5/2", "lb"), ("-3/4", "lb"),
    ("412", "sack"), ("412,5", "lb"), ("12 500", "lb"), ("1,234", "lb"), ("about 400", "lb"), ("", "lb"), ("0", "kg"),
    ("-3", "t"), ("4e12", "sack"), ("1e-9", "kg"), ("1e9", "kg"), ("1e-7", "t"), ("1.5e-6", "kg"), ("99999999", "kg"),
    ("1e400", "lb"), ("--5", "lb"), ("\N{MINUS SIGN}12", "lb"), ("1.234,5", "lb"), ("1,234,567", "lb"), ("412", ""),
    ("nan", "lb"), ("5e", "lb"), (".5", "lb"), ("½", "lb"), ("4²", "lb"), ("0,052", "lb"), ("1'234.5", "kg"),
    ("４１２", "lb"), ("12 psi", "lb"), ("+4", "psi"), ("412", "fraction"), ("0x10", "lb"), ("1_000", "lb"),
)  # fmt: skip


def verdict(said: str) -> str:
    """What a reply of the cell finds, in the words of the page: empty, look or fine."""
    if said.endswith(": no answer yet"):
        return "empty"
    return "look" if ": not recorded" in said or "Look again: " in said else "fine"


@pytest.mark.browser
@pytest.mark.parametrize("candidate", ["aa-01", "aa-02"])
def test_the_cell_and_the_page_find_the_same(visitor: Visitor, issued_school: School, candidate):
    paper = paper_of(issued_school, candidate)
    variants = paper.variants()
    names = defined_by(given_cell(variants)["source"])
    page = visitor(opened_pack(issued_school, candidate)).open(pack_names(issued_school, paper).worksheet)
    numbers = [
        item["name"]
        for exercise in questions(variants)
        for part in exercise["parts"]
        for item in part["items"]
        if item["kind"] == "number"
    ]
    units = page.locator('[id="unit-1a"] option').evaluate_all("options => options.map((option) => option.value)")
    assert set(units) - {""} <= set(names["UNIT_KINDS"])
    cases = [("1a", *typed) for typed in TYPED] + [("1a", "412", unit) for unit in units]
    cases += [(name, number, unit) for name in numbers for number in ("7", "4e13", "1e-13") for unit in units[::4]]
    found = page.evaluate(
        """cases => cases.map(([name, number, unit]) => {
            const [value, picker] = ["value", "unit"].map((kind) => document.getElementById(`${kind}-${name}`));
            value.value = number;
            picker.value = unit;
            picker.dispatchEvent(new Event("change"));
            value.dispatchEvent(new Event("input"));
            const check = document.getElementById(`check-${name}`);
            return [check.dataset.state, check.textContent];
        })""",
        cases,
    )
    for (name, number, unit), (state, says) in zip(cases, found, strict=True):
        said = reply(names, name, number, unit)
        assert verdict(said) == state, (name, number, unit, said, says)
        if "Write number and unit apart" in said:  # the page takes the unit off the number by itself
            continue
        if state == "look" and says.endswith(("stop and look.", "converting is asked here.")):
            assert said.endswith(f"Look again: {says.replace('³', '3')}"), (said, says)
        elif state == "look" and ("measures" in says or "very" in says):
            page_says = says.partition(" measures ")[2] or says.partition(" is a ")[2]
            assert said.endswith(page_says)
    assert {state for state, _ in found} == {"empty", "look", "fine"}
