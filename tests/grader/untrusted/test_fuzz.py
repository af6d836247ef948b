"""Answers, unit text and outputs from an unknown hand, at random: read or named, in bounded time, never an exception.

What once went wrong, or is known to go wrong elsewhere, stands as an example beside each test.
"""

from __future__ import annotations

import json
import math
import time
import unicodedata

import nbformat
import numpy
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from exercises import BANK
from exercises.model import System
from exercises.model.answers import Given, UnreadableAnswer, read_number
from exercises.model.drawing import draw
from exercises.model.marking import mark
from exercises.model.variant import Variant
from grader.running.checked_answers import LONGEST_UNIT, Answer, Lines, checked_answer, checked_outputs, clip, parsed
from pitside.unit_names import LONGEST, UnknownUnit, read_unit
from tests.grader.schools import EVERY_KIND

FUZZ = settings(max_examples=300, deadline=2000)

#: What unit text and numbers are made of, honest and not, so that most texts come close to something that is read.
PIECES = st.sampled_from(
    [
        *[
            "2",
            "3",
            "9",
            "1",
            "0",
            "100",
            "1e400",
            "inf",
            "nan",
            "0x",
            "j",
            "e",
            "E",
            "+",
            "-",
            "−",
            "_",
            ".",
            ",",
        ],
        *["(", ")", "[", "/", "*", "**", "^", "per", "'", "%", "eval", "__", "lambda"],
        *["lb", "gal", "bbl", "kg", "m", "ft", "psi", "in", "SG", "ppg", "cP", "sack", "degC", "delta_degC", "dB"],
        *' "\n\x00\x1b\u202f\u200b\ufeff\ud800',  # spaces, quotes, controls, half a surrogate pair
        *"\u00b2\u00b3\u215f\u2044\u0661\uff11\u2460\u0301",  # powers, fractions, digits of other scripts, an accent
        *"\u00b5\u03bc\u0440\u0455\ufb01\u212b\u2126",  # micro, mu, and letters that look like others
    ]
)
TEXT = st.lists(PIECES, max_size=12).map("".join) | st.text(st.characters(exclude_categories=()), max_size=60)
NUMBERS = st.floats() | st.integers(-(10**20), 10**20)


@FUZZ
@given(TEXT)
@example("9**9**9")
@example("kg" * 2000)
@example("(" * 40)
@example("m/" * 20)
@example("m^9")
@example("m**2**3")
@example("kg\ud800")
@example("\u0440si")
@example("delta_degC")
@example("1/bbl")
@example("/")
@example("**")
@example("²")
@example("m\u00b3\u00b3")
@example("\u215f")
@example("µ")
def test_unit_text_is_a_unit_or_named(text):
    began = time.monotonic()
    try:
        unit = read_unit(text)
    except UnknownUnit as error:
        assert len(str(error)) < 200
    else:
        assert len(text) <= LONGEST
        assert (1 * unit).to_base_units().magnitude > 0
        # No unit is of a dimension that only a power tower reaches.
        assert all(abs(power) <= 12 for power in unit.dimensionality.values())
    assert time.monotonic() - began < 1


@FUZZ
@given(TEXT | NUMBERS)
@example("1e400")
@example("-1e999")
@example("9" * 400)
@example("9**9**9")
@example("1_000")
@example("٣")
@example("①")
@example("²")
@example("1e٣")
@example("6,442")
@example("1,2,3.4.5")
@example("")
@example(",")
@example("−1")
@example("0x10")
@example("\ud800")
@example(10**400)
@example(float("nan"))
def test_number_is_finite_or_named(value):
    try:
        number = read_number(value)
    except UnreadableAnswer as error:
        assert str(error)
    else:
        assert type(number) is float
        assert math.isfinite(number)


def test_comma_and_point_are_the_same_number():
    """Honest ways to write one number, as in ISO 80000-1 (comma or point, groups of three parted by a small space)."""
    for text in ("1234.5", "1234,5", "1 234,5", "1\u202f234,5", "1,234.5", "1.234,5", "1'234.5", "+1234.5", "1.2345e3"):
        assert read_number(text) == 1234.5


#: An exercise with each kind of part, in both unit systems.
VARIANTS = [draw(BANK[name], numpy.random.default_rng(7), system) for name in EVERY_KIND for system in System]
VALUES = NUMBERS | TEXT | st.none()


@FUZZ
@given(st.data())
def test_any_claim_gets_marks_within_their_bounds_and_a_short_word(data):
    """From the line on the pipe to the mark: every part of every kind, with nearly honest and hostile answers."""
    variant = data.draw(st.sampled_from(VARIANTS))
    given_answers = {}
    for item in variant.exercise.items:
        right, unit = variant.given_answer(item, variant.key[item.key])
        value = data.draw(st.just(right) | VALUES)
        line = json.dumps({"part": "1a", "value": value, "unit": data.draw(st.just(unit) | TEXT)}).encode()
        answer = checked_answer(line)
        if isinstance(answer, Answer):
            given_answers[item.key] = Given(answer.value, answer.unit)
    _marks_are_sound(variant, given_answers)


HARD = [
    Given(1e308, "m"), Given(-1e308, "bbl"), Given(5e-324, "lb/gal"), Given(0.0, ""), Given(-0.0, "%"),
    Given("9**9**9", "9**9**9"), Given("9" * 199, "sack"), Given("1e308", "short ton"), Given("-1e-308", "um"),
    Given(1.0, "deg"), Given(1.0, "money"), Given("abc", "psi"), Given("a b c d e f g h", ""), Given("٣", "ft"),
    Given("\u0430", ""), Given("A,B;C", ""), Given("a" * 200, ""), Given("𝒂", ""), Given("", "lb"), Given(" ", " "),
]  # fmt: skip


@pytest.mark.parametrize("answer", HARD, ids=repr)
def test_hard_answer_to_every_part_at_once(answer):
    """So that each is carried forward through each chain as well."""
    for variant in VARIANTS:
        _marks_are_sound(variant, {item.key: answer for item in variant.exercise.items})
        for item in variant.exercise.items:
            _marks_are_sound(variant, {item.key: answer})


def _marks_are_sound(variant: Variant, answers: dict[str, Given]) -> None:
    began = time.monotonic()
    items = mark(variant, answers)
    assert time.monotonic() - began < 2
    assert [item.item for item in items] == [item.key for item in variant.exercise.items]
    for item in items:
        assert 0 <= item.marks <= item.out_of
        assert len(item.comment) < 1500
        # What the record, the gradebook and the pages take.
        json.dumps([item.given, item.comment], ensure_ascii=False).encode()
        assert not [c for c in item.given + item.comment if unicodedata.category(c) in ("Cc", "Cs") and c != "\n"]


BYTES = st.lists(
    st.sampled_from(
        [
            *b'{"part":"1a","value": "unit": } { [ ] , : " NaN -Infinity 1e999 true null 1 "1a"'.split(b" "),
            *(b"9" * 300, b"[" * 500, b"\\ud800", b"\\u0000", b"\xff", b"\xc0\x80", b"\n", b"\xef\xbb\xbf"),
        ]
    )
    | st.binary(max_size=8),
    max_size=10,
).map(b"".join)


@FUZZ
@given(BYTES)
@example(b"[" * 100_000)
@example(b'{"part":"1a","value":' + b"9" * 5000 + b',"unit":""}')
@example(b'{"part":"1a","value":-1e999,"unit":""}')
@example(b'{"part":"1a","value":NaN,"unit":""}')
@example(b'{"part":"1a","value":"\\ud800","unit":""}')
@example(b'{"part":"1a","value":1,"unit":"\\ud800"}')
@example(b'{"part":"\\u0661a","value":1,"unit":""}')
@example(b'{"part":"1a\\n","value":1,"unit":""}')
@example(b'{"part":"1a","value":1,"part":"2a","unit":[]}')
@example(b'{"part":"1a","unusable":"\\u001b[2J"}')
@example(b"\xef\xbb\xbf{}")
def test_line_of_an_answer_is_plain_or_named(line):
    answer = checked_answer(line)
    if isinstance(answer, str):
        assert answer.isprintable()
        assert len(answer) < 200
    else:
        assert answer.part.isascii()
        assert len(answer.unit) <= LONGEST_UNIT
        assert answer.value is None or isinstance(answer.value, str) or math.isfinite(answer.value)


@FUZZ
@given(BYTES)
@example(b'[{"output_type":"error","ename":"\\ud800","evalue":"\\udfff","traceback":["\\ud800"]}]')
@example(b'[{"output_type":"execute_result","execution_count":true,"data":{"text/plain":"\\ud800"}}]')
@example(b'[{"output_type":"stream","name":"stdout","text":"\\u0000\\ud800"}]')
@example(b'[{"output_type":"display_data","data":{"image/png":"\\u00e9===="}}]')
@example(b'[{"output_type":["stream"],"name":{},"text":7}]')
def test_claimed_outputs_can_be_written_and_opened(line):
    outputs = checked_outputs(parsed(line))
    json.dumps(outputs, ensure_ascii=False).encode()
    cell = nbformat.v4.new_code_cell("x", outputs=[nbformat.from_dict(output) for output in outputs])
    nbformat.validate(nbformat.v4.new_notebook(cells=[cell]))


@FUZZ
@given(st.lists(st.binary(max_size=60), max_size=20), st.integers(1, 40), st.integers(1, 400))
@example([b"\n" * 50], 1, 10)
@example([b"x" * 41], 40, 400)
@example([b"x" * 20, b"x" * 20, b"\n"], 40, 400)
def test_lines_of_a_stream_hold_to_their_bounds_however_it_is_cut(pieces, longest, most):
    lines = Lines(longest, most)
    out = [line for piece in pieces for line in lines.feed(piece)]
    whole = b"".join(pieces)
    assert all(len(line) <= longest for line in out)
    assert len(out) <= most
    if not lines.flooded:
        assert len(whole) <= most
        assert out == [line if len(line) <= longest else b"" for line in whole.split(b"\n")[:-1]]


@FUZZ
@given(st.text(st.characters(exclude_categories=()), max_size=80), st.integers(0, 60))
@example("\ud800", 5)
@example("\u202e\u2066", 5)
def test_clipped_text_is_one_short_line(text, most):
    shown = clip(text, most)
    assert shown.isprintable()
    assert len(shown) <= most + 3
    shown.encode()
