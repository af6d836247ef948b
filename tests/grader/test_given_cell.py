"""The given cell replies at once, and rightly: what it records marking can read, what it does not marking refuses."""

from __future__ import annotations

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

from exercises.model.answers import UnreadableAnswer, read_number
from grader.claims import Answer, checked_answer
from grader.papers import given_cell
from grader.untrusted.script import _plain


@pytest.fixture(scope="module")
def names() -> dict[str, Any]:
    """What the cell defines in a bare Python."""
    defined: dict[str, Any] = {}
    exec(given_cell(["1a", "1b"])["source"], defined)
    return defined


def reply(names: dict[str, Any], *what: Any) -> str:
    names["recorded"].clear()
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        names["answer"](*what)
    return said.getvalue().rstrip("\n")


def marking_can_read(value: Any) -> bool:
    """Whether the way from the script to its mark refuses an answer for its form: room, claims, reader of numbers.

    A text without digits is for a choice or an order: letters from A to L, each once.
    """
    kind, plain = _plain(value)
    claim = checked_answer(json.dumps({"part": "1a", kind: plain, "unit": "psi"}).encode())
    if not isinstance(claim, Answer) or claim.value is None:
        return False
    if isinstance(claim.value, str) and not any(sign.isdigit() for sign in claim.value):
        letters = [sign for sign in claim.value.upper() if sign.isalpha()]
        return bool(letters) and len(set(letters)) == len(letters) and set(letters) <= set("ABCDEFGHIJKL")
    try:
        read_number(claim.value)
    except UnreadableAnswer:
        return False
    return True


GOOD = [
    412, 412.5, -3, 0, 1e-6, np.float64(4.5), np.float32(4.5), np.int64(7), np.array(4.5), Decimal("4.5"),
    "412", "412,5", "412.5", "1 234,5", "1,234.5", "1.234,5", "1'234.5", "1,234,567", "6.4e3", "-12", Fraction(9, 2),
    "\N{MINUS SIGN}12", "0,052", "1\N{NARROW NO-BREAK SPACE}234,5", " 7 ",
    "1234,567", "+4", ".5", "B", "b", "(C)", "CABD", "C, A, B, D",
]  # fmt: skip
BAD = [
    True, False, np.bool_(True), math.nan, math.inf, -math.inf, np.float64("nan"), Decimal("NaN"), Decimal("Infinity"),
    1 + 2j, np.complex64(1), [1, 2], (6, 442), {}, {1}, np.array([412.0]), np.zeros(3), b"412", print, object(),
    10**400, "6,442", "-6,442", "412 psi", "twelve", "nan", "inf", "1e400", "1.2.3", "--5", "1/2", "psi", "?",
    "x" * 201, "1" * 201, "12..5", "5e", "AA",
]  # fmt: skip


@pytest.mark.parametrize("value", GOOD, ids=repr)
def test_what_marking_reads_is_recorded(names, value):
    assert marking_can_read(value)
    assert reply(names, "1a", value, "psi").startswith("1a: recorded ")
    assert names["recorded"] == {"1a": (value, "psi")}


@pytest.mark.parametrize("value", BAD, ids=lambda value: repr(value).partition(" at 0x")[0][:30])
def test_what_marking_refuses_is_not_recorded_and_the_reply_says_why(names, value):
    assert not marking_can_read(value)
    said = reply(names, "1a", value, "psi")
    assert said.startswith("1a: not recorded, ")
    assert len(said) > len("1a: not recorded, ") + 12
    assert len(said.splitlines()) == 1
    assert names["recorded"] == {}


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (True, "true or false is not an answer"),
        (1j, "a complex number is not an answer"),
        ([1], "a list is not an answer: give one number"),
        (math.nan, "nan is not a number that can be right: look at your sum"),
        ("6,442", '"6,442" can be read in two ways: write 6442 or 6.442'),
        ("412 lb/bbl", 'Write number and unit apart: 412, "lb/bbl"'),
        ("psi", '"psi" is neither a number nor letters of the paper'),
        (10**400, "the number is too large"),
    ],
)
def test_reply_says_what_is_wrong(names, value, says):
    assert says in reply(names, "1a", value, "psi")


def test_number_without_a_unit_is_recorded_with_a_hint_and_letters_without_one(names):
    hint = '1a: recorded 412 without a unit; if the question wants one, write it behind the number: 6442.5, "psi"'
    assert reply(names, "1a", 412) == hint
    assert reply(names, "1a", 412, " ") == hint
    assert "without a unit" in reply(names, "1a", "412,5")
    assert reply(names, "1a", "B") == "1a: recorded B"


@pytest.mark.parametrize("value", ["", "  ", None, ...])
def test_empty_answer_is_none_yet(names, value):
    assert reply(names, "1a", value, "psi") == "1a: no answer yet"
    assert names["recorded"] == {}


def test_part_is_read_as_the_room_reads_it_and_a_quantity_brings_its_unit(names):
    assert reply(names, " 1B ", 3, "psi") == "1b: recorded 3 psi"
    units = pint.UnitRegistry()
    assert reply(names, "1a", units.Quantity(3.5, "psi")) == "1a: recorded 3.5 pound_force_per_square_inch"
    assert reply(names, "1a", 3.5, units.psi) == "1a: recorded 3.5 pound_force_per_square_inch"
    assert reply(names, "1a", units.Quantity([3.5, 4], "psi")).startswith("1a: not recorded, a ndarray is not")


def test_overlong_unit_is_refused_as_marking_does(names):
    unit = "lb/bbl " * 10
    assert not isinstance(checked_answer(json.dumps({"part": "1a", "value": 3, "unit": unit}).encode()), Answer)
    assert reply(names, "1a", 3, unit) == "1a: not recorded, the unit is too long."


@settings(max_examples=400, deadline=None)
@given(st.text(alphabet="0123456789,.'-+e _", min_size=1, max_size=9))
def test_texts_of_digits_and_signs_are_read_as_marking_reads_them(text):
    defined: dict[str, Any] = {}
    exec(given_cell(["1a"])["source"], defined)
    if any(sign.isdigit() for sign in text):
        recorded = reply(defined, "1a", text, "psi").startswith("1a: recorded ")
        assert recorded == marking_can_read(text), text
