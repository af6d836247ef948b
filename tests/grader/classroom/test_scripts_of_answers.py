"""A script made of saved answers reads as the page writes it: numbers as a browser does, and the same fields."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import Browser

from grader.classroom.scripts_of_answers import as_a_page_writes
from grader.papers.packs import worksheet
from tests.grader.schools import paper_of

#: Where the forms change, by ECMA-262, Number::toString (https://tc39.es/ecma262/#sec-numeric-types-number-tostring).
EDGES = [1e21, 9.99e20, 1e20, 123456789012345680000.0, 1e-6, 9.9e-7, 1.5e-7, 0.1, 100.0, 1.0, -0.0, 5e-324,
         1.7976931348623157e308, -12.5, 2.0**53, 0.30000000000000004]  # fmt: skip


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_number_as_a_page_writes_it_is_the_same_number(number):
    text = as_a_page_writes(number)
    assert float(text) == number
    assert "E" not in text
    assert not text.endswith(".0")


@pytest.mark.browser
def test_numbers_are_written_as_the_browser_writes_them(browser: Browser):
    spread = [m * 10.0**e for e in range(-25, 25) for m in (1, 1.25, 9.875, -3, 1 / 3)]
    numbers = [one for one in (*EDGES, *spread) if math.isfinite(one)]
    page = browser.new_page()
    said = page.evaluate("numbers => JSON.parse(numbers).map(String)", json.dumps(numbers))
    page.close()
    assert [as_a_page_writes(one) for one in numbers] == said


def test_page_of_the_pack_and_of_the_classroom_ask_the_same(school):
    """The classroom's page is the pack's with more around it: its data, and so its questions, are the same."""
    (sitting,) = school.sittings
    candidate = school.candidate("aa-01")
    paper = paper_of(school, "aa-01")
    plain = worksheet(school, sitting, candidate, paper)
    framed = worksheet(
        school, sitting, candidate, paper, "classroom/worksheet.html", ("classroom/saving_at_school.js",), token="x"
    )
    assert plain.data == framed.data
    body = plain.page[plain.page.index('<section class="exercise"') : plain.page.index('<section class="hand-in"')]
    assert body in framed.page
    assert "savingAtSchool(fields" not in plain.page.replace("school = savingAtSchool(fields", "")
    assert "connect-src" not in plain.page
