"""Sound choices of a candidate's own, answers on the way, rounding, derived numbers and charts."""

from __future__ import annotations

import dataclasses
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from exercises.model import Derived, Grid, Limit, System
from exercises.model.answers import Given
from exercises.model.chart import png, svg
from exercises.model.drawing import UnsoundExercise, draw
from exercises.model.marking import Rounding, Rule, mark, mark_alone
from exercises.model.numbers import in_system
from exercises.model.practice import practice_variant, worked_text
from exercises.model.review import review, summary
from exercises.model.soundness import faults
from tests.exercises.toy_case import CASE, case


def marks_of(answers: dict[str, tuple[float | str, str]], rounding: Rounding = Rounding.NO_MARKS):
    given = {key: Given(value, unit) for key, (value, unit) in answers.items()}
    return {result.item: result for result in mark(case(), given, rounding)}


RIGHT = {"a": (15.0, "m3/h"), "b": (3.0, ""), "c": (1440.0, "kWh"), "d": ("A", ""), "e": (144.0, "money")}


def test_the_toy_case_is_sound():
    for system in System:
        for number in range(20):
            assert faults(draw(CASE, np.random.default_rng([number, 3]), system)) == []


def test_the_suggested_choice_gets_full_marks():
    results = marks_of(RIGHT)
    assert sum(result.marks for result in results.values()) == CASE.marks == 11


@pytest.mark.parametrize("modules", [4, 5])
def test_another_sound_choice_gets_full_marks_for_itself_and_for_what_follows(modules):
    results = marks_of(RIGHT | {"b": (modules, ""), "c": (modules * 480.0, "kWh"), "e": (modules * 48.0, "money")})
    assert {results[key].rule for key in "abcde"} == {Rule.RIGHT}
    assert sum(result.marks for result in results.values()) == CASE.marks
    assert results["c"].model == f"{modules * 480}\N{NO-BREAK SPACE}kWh"


def test_what_does_not_fit_the_own_sound_choice_is_wrong_even_if_it_fits_the_suggested_one():
    results = marks_of(RIGHT | {"b": (4.0, "")})
    assert results["b"].rule is Rule.RIGHT
    assert results["c"].rule is Rule.WRONG
    assert results["c"].marks == 0


@pytest.mark.parametrize(
    ("modules", "marks", "rule", "advice"),
    [
        (2, 1, Rule.PARTLY, "They do not take the flow."),
        (6, 2, Rule.PARTLY, "Too much power."),
        (0.5, 1, Rule.PARTLY, "They do not take the flow."),
    ],
)
def test_a_choice_loses_the_marks_of_the_limits_that_it_breaks(modules, marks, rule, advice):
    result = marks_of({"b": (modules, "")})["b"]
    assert (result.marks, result.rule, result.comment) == (marks, rule, advice)


def test_what_follows_from_an_unsound_choice_gets_the_marks_of_follow_through():
    results = marks_of(RIGHT | {"b": (2.0, ""), "c": (960.0, "kWh"), "e": (96.0, "money")})
    assert results["c"].rule is Rule.FOLLOWED
    assert results["c"].marks == 2
    assert results["e"].marks == 1


def test_each_of_several_sound_options_is_right_and_is_followed():
    results = marks_of(RIGHT | {"d": ("B", ""), "e": (432.0, "money")})
    assert results["d"].rule is results["e"].rule is Rule.RIGHT
    assert marks_of(RIGHT | {"d": ("B", "")})["e"].rule is not Rule.RIGHT
    assert marks_of(RIGHT | {"d": ("C", "")})["d"].comment == "Not on a rig of 70\N{NO-BREAK SPACE}m³/h."


def test_a_choice_that_cannot_be_read_says_why():
    assert marks_of({"b": ("three", "")})["b"].rule is Rule.UNREADABLE
    assert "measures" in marks_of({"b": (3, "kg")})["b"].comment


def test_an_answer_on_the_way_earns_marks_only_where_the_answer_itself_earns_fewer():
    on_the_way = {"c.power": (60.0, "kW")}
    assert marks_of(RIGHT | on_the_way)["c.power"].marks == 0
    lost = marks_of(RIGHT | on_the_way | {"c": (2000.0, "kWh")})
    assert (lost["c"].marks, lost["c.power"].marks) == (0, 1.5)
    assert lost["c.power"].comment == "It earns a mark for the method."
    wrong = marks_of(RIGHT | {"c.power": (77.0, "kW"), "c": (2000.0, "kWh")})
    assert wrong["c.power"].marks == 0
    followed = marks_of(RIGHT | {"b": (2.0, ""), "c.power": (40.0, "kW"), "c": (960.0, "kWh")})
    assert (followed["c"].marks, followed["c.power"].marks) == (2, 1.5)


def test_a_mark_alone_is_that_of_a_script_with_nothing_else():
    for key, typed in {"a": 15.0, "b": 6, "c": 1440.0, "c.power": 60.0, "d": "C", "e": 1.0}.items():
        whole = next(result for result in mark(case(), {key: Given(typed)}) if result.item == key)
        assert mark_alone(case(), key, Given(typed)) == whole


def test_a_part_never_earns_more_than_its_answer_is_worth():
    generous = dataclasses.replace(CASE.parts[2], method=(dataclasses.replace(CASE.parts[2].method[0], marks=9),))
    variant = dataclasses.replace(
        case(), exercise=dataclasses.replace(CASE, parts=(*CASE.parts[:2], generous, *CASE.parts[3:]))
    )
    given = {"b": Given(3), "c.power": Given(60, "kW"), "c": Given(2000, "kWh")}
    assert sum(result.marks for result in mark(variant, given) if result.item.startswith("c")) == 4


@pytest.mark.parametrize(
    ("rounding", "marks"), [(Rounding.NO_MARKS, 0), (Rounding.HALF_MARKS, 2), (Rounding.FULL_MARKS, 4)]
)
def test_an_answer_rounded_out_of_its_tolerance_is_named_and_earns_what_the_school_says(rounding, marks):
    result = marks_of({"c": (1400.0, "kWh")}, rounding)["c"]
    assert result.rule is Rule.ROUNDED
    assert result.marks == marks
    assert "rounded to 2 figures" in result.comment
    assert marks_of({"c": (1300.0, "kWh")}, rounding)["c"].rule is Rule.WRONG


def test_a_derived_number_is_worked_out_from_those_before_it_and_rounded():
    for system in System:
        variant = draw(CASE, np.random.default_rng(5), system)
        exact = variant.numbers.one.m_as("m**3/h") * variant.numbers.times.m_as("")
        assert variant.numbers["flow"].magnitude == round(exact)


def test_a_choice_without_choice_is_no_exercise():
    b = CASE.parts[1]
    only_one = dataclasses.replace(b, limits=(*b.limits, Limit("three", lambda n: n.b == 3, "Three.", 1)))
    exercise = dataclasses.replace(CASE, parts=(CASE.parts[0], only_one, *CASE.parts[2:]))
    with pytest.raises(UnsoundExercise, match="no choice"):
        draw(exercise, np.random.default_rng(1), System.FIELD)


def test_the_digest_of_the_scheme_changes_with_a_limit_and_with_the_marks_of_a_method():
    b, c = CASE.parts[1], CASE.parts[2]
    tighter = dataclasses.replace(b, limits=(b.limits[0], dataclasses.replace(b.limits[1], keeps=lambda n: n.b < 5)))
    dearer = dataclasses.replace(c, method=(dataclasses.replace(c.method[0], marks=2),))
    schemes = {case().scheme_digest}
    for parts in ((CASE.parts[0], tighter, *CASE.parts[2:]), (*CASE.parts[:2], dearer, *CASE.parts[3:])):
        schemes.add(dataclasses.replace(case(), exercise=dataclasses.replace(CASE, parts=parts)).scheme_digest)
    assert len(schemes) == 3


def test_a_practice_page_accepts_every_sound_value_and_follows_it():
    page = practice_variant(case())
    choice = page["parts"][1]["items"][0]
    assert len(choice["accepts"]) == 3
    assert {slip["name"] for slip in choice["slips"]} == {"takes the flow", "keeps the power"}
    energy = next(item for item in page["parts"][2]["items"] if item["id"] == "c")
    chosen = [follow for follow in energy["follows"] if not follow["slip"]]
    kilowatt_hour = 3.6e6
    means = sorted(sum(follow["accepts"][0]) / 2 / kilowatt_hour for follow in chosen)
    assert means == pytest.approx([4 * 480, 5 * 480])
    assert "3, 4, 5" in worked_text(case(), CASE.parts[1])


def test_a_chart_is_drawn_the_same_each_time_and_says_what_it_shows():
    chart = CASE.chart(case().numbers, System.METRIC)
    assert svg(chart) == svg(chart)
    root = ET.fromstring(svg(chart))
    assert root.tag.endswith("svg")
    assert not re.search(r"https?://(?!www\.w3\.org|purl\.org|creativecommons)", svg(chart))
    assert png(chart)[:8] == b"\x89PNG\r\n\x1a\n"
    assert practice_variant(case())["setting"].count(chart.alt) == 1


def test_a_review_prints_variants_and_what_is_wrong():
    lines = list(review(CASE, 4))
    text = "\n".join(lines)
    assert "keep all limits: 3, 4, 5" in text
    assert "Worked out from the drawn numbers: flow." in text
    assert lines[-1] == "Nothing is wrong in 8 draws."


def test_a_review_finds_a_narrow_grid_and_a_slip_that_is_the_answer():
    numbers = tuple(
        n if isinstance(n, Derived) else dataclasses.replace(n, field=narrow(n.field)) for n in CASE.numbers
    )
    found = summary(dataclasses.replace(CASE, numbers=numbers), 10)
    assert any("widen the grids" in fault for fault in found.faults)
    assert found.sets[System.FIELD] == "about 1 in all"


def narrow(grid: Grid) -> Grid:
    return Grid(in_system(grid, System.FIELD).low + 5 * grid.step, grid.low + 5 * grid.step, grid.step, grid.unit)
