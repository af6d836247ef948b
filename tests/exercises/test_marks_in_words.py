"""What a mark says, word by word: which rule, which slip, what the candidate is told; and what parts are made of."""

from __future__ import annotations

import dataclasses
import math

import pytest

from exercises.model import By, Column, Marks, Numeric, Row, System
from exercises.model.answers import Given, UnreadableAnswer, read_number
from exercises.model.marking import (
    FACTORS,
    Rounding,
    Rule,
    cannot_be,
    mark,
    mark_alone,
    tells_factors,
    trials,
)
from exercises.model.numbers import in_system
from exercises.model.parts import (
    Known,
    RowConvention,
    RowSlip,
    absolute,
    reading,
    relative,
)
from exercises.model.possible import Possible
from exercises.model.soundness import model_script
from pitside.errors import CalculationError
from pitside.units import Q
from tests.exercises.toy import DENSITY, GROWN, HEAVY, NUMBERS, SHARES, STEPS, TOY, toy, with_part
from tests.exercises.toy_case import case

NBSP = "\N{NO-BREAK SPACE}"


def said(variant=None, /, rounding: Rounding = Rounding.NO_MARKS, **given: tuple[float | str, str] | str | float):
    """What is said of each item, of these answers."""
    answers = {key: Given(*one) if isinstance(one, tuple) else Given(one) for key, one in given.items()}
    return {result.item: result for result in mark(variant or toy(), answers, rounding)}


# Numbers --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "rule", "slip", "comment"),
    [
        ((10.0, "lb/gal"), Rule.RIGHT, "", ""),
        ((10.0, ""), Rule.RIGHT, "", "No unit was given; it was taken as lb/gal."),
        ((10.0, "psi"), Rule.UNIT, "", f"The number is right, but psi measures a pressure; it should read "
         f"10.0000{NBSP}lb/gal, a density or concentration."),
        ((10.0, "kg/m3"), Rule.UNIT, "", f"The number is right in lb/gal, but you gave it in kg/m³. It should read "
         f"10.0000{NBSP}lb/gal."),
        ((20.0, "lb/gal"), Rule.SLIP, "doubled", "You doubled it."),
        ((-10.0, "lb/gal"), Rule.SIGN, "", "The size is right but the sign is turned round."),
        ((420.0, "lb/gal"), Rule.FACTOR, "too large by a factor of 42 (gallons in a barrel)",
         "The answer is too large by a factor of 42 (gallons in a barrel): look through the conversions and powers of "
         "ten."),
        ((10.0 / 42, "lb/gal"), Rule.FACTOR, "too small by a factor of 42 (gallons in a barrel)",
         "The answer is too small by a factor of 42 (gallons in a barrel): look through the conversions and powers of "
         "ten."),
        ((13.7, "lb/gal"), Rule.WRONG, "", "It fits no usual slip; compare it with the worked solution."),
        ((77.0, "psi"), Rule.OTHER_KIND, "", "psi measures a pressure; the question asks for a density or "
         "concentration, such as lb/gal."),
        (("about ten", "lb/gal"), Rule.UNREADABLE, "", '"about ten" is not a number. Nothing was recorded for it.'),
        ((10.0, "lb/gaal"), Rule.UNREADABLE, "", '"lb/gaal" is no unit we know. Did you mean lb/gal? Nothing was '
         "recorded for it."),
        (("  ", "lb/gal"), Rule.BLANK, "", ""),
    ],
)  # fmt: skip
def test_a_number_is_told_what_it_is_in_a_sentence(given, rule, slip, comment):
    result = said(a=given)["a"]
    assert (result.rule, result.slip, result.comment) == (rule, slip, comment)
    assert (result.value, result.unit) == given
    assert (result.item, result.out_of, result.model) == ("a", 3, f"10.00{NBSP}lb/gal")


@pytest.mark.parametrize(
    ("unit", "printed"),
    [
        ("kg/m3", "10 kg/m³"), ("KG / M³", "10 kg/m³"), ("kilogram / meter ** 3", "10 kg/m³"), ("ppg", "10 ppg"),
        ("lbs/gal", "10 lb/gal"), ("lbf/100ft2", "10 lbf/100 ft²"), ("no unit", "10"), ("fraction", "10"),
        ("lb/bbbl", "10 lb/bbbl"), ("", "10"),
    ],
)  # fmt: skip
def test_an_answer_is_printed_with_its_unit_as_all_pages_print_it(unit, printed):
    """The superscripts of ISO 80000-1; words of the trade, and what is no unit, stay as they were typed."""
    result = said(a=(10.0, unit))["a"]
    assert (result.given, result.unit) == (printed, unit)


def test_what_is_worked_from_a_wrong_answer_names_the_part_that_it_comes_from():
    b = 1.1 * 12.6 * 42 * 70
    assert said(a=(12.6, "lb/gal"), b=(b, "lb"))["b"].comment == "It follows rightly from your own answer to (a)."
    slip = said(a=(12.6, "lb/gal"), b=(b * 0.9 / 1.1, "lb"))["b"]
    assert slip.comment == "You took a tenth off. (worked from your own answer to (a))"
    factor = said(a=(12.6, "lb/gal"), b=(b * 60, "lb"))["b"]
    assert factor.comment == (
        "The answer is too large by a factor of 60 (minutes in an hour, or seconds in a minute), worked from your own "
        "answer to (a): look through the conversions and powers of ten."
    )
    choice = said(a=(12.6, "lb/gal"), c="A")["c"]
    assert (choice.rule, choice.marks, choice.comment) == (
        Rule.FOLLOWED, 1, "It follows rightly from your own answer to (a).",
    )  # fmt: skip


def test_a_followed_answer_without_its_unit_is_told_both():
    unit = with_part("b", marks=Marks(3, unit=1, follow=2))
    b = 1.1 * 12.6 * 42 * 70
    bare = said(toy(parts=unit), a=(12.6, "lb/gal"), b=(b, ""))["b"]
    assert (bare.marks, bare.comment) == (
        2, "It follows rightly from your own answer to (a). No unit was given; it was taken as lb.",
    )  # fmt: skip
    assert said(toy(parts=unit), a=(12.6, "lb/gal"), b=(b, "lb"))["b"].marks == 3


def test_what_rests_on_an_answer_that_cannot_be_is_told_so():
    strict = dataclasses.replace(toy(), stop_and_look=True)
    rests = said(strict, a=(92.0, "lb/gal"), b=(1.1 * 92 * 42 * 70, "lb"), c="A")
    why = "Marks for the method alone, since an answer that it rests on cannot be."
    assert rests["b"].comment == rests["c"].comment == f"It follows rightly from your own answer to (a). {why}"
    left = dataclasses.replace(GROWN, solve=lambda n: n.a * n.volume - Q(25_000, "lb"), slips=())
    variant = dataclasses.replace(toy(parts=(DENSITY, left)), stop_and_look=True)
    below = said(variant, a=(8.0, "lb/gal"), b=(8.0 * 42 * 70 - 25_000, "lb"))["b"]
    assert below.comment == (
        "It follows rightly from your own answer to (a), but look at it: no mass is less than nothing: stop and look."
    )


def test_an_answer_on_a_slip_that_cannot_be_hears_advice_and_warning():
    variant = toy(parts=with_part("a", possible=Possible(9, 11, "lb/gal", "No mud of this test")))
    strict = dataclasses.replace(variant, stop_and_look=True)
    assert said(strict, a=(5.0, "lb/gal"))["a"].comment == "You halved it (field). No mud of this test: stop and look."
    assert said(strict, a=(-10.0, "lb/gal"))["a"].comment == (
        "The size is right but the sign is turned round. No mud of this test: stop and look."
    )
    assert said(strict, a=(420.0, "lb/gal"))["a"].comment.endswith(
        "look through the conversions and powers of ten. No mud of this test: stop and look."
    )


@pytest.mark.parametrize(
    ("rounding", "marks"), [(Rounding.NO_MARKS, 0), (Rounding.HALF_MARKS, 1.5), (Rounding.FULL_MARKS, 3)]
)
def test_an_answer_rounded_too_far_is_told_how_far(rounding, marks):
    result = said(None, rounding, b=(30_000, "lb"))["b"]
    assert (result.rule, result.marks, result.slip) == (Rule.ROUNDED, marks, "")
    assert result.comment == (
        "The answer is right, but rounded to one figure: give more figures, so that it can be told from its neighbours."
    )
    assert "rounded to 2 figures" in said(None, rounding, b=(32_000, "lb"))["b"].comment
    assert said(None, rounding, b=(32_000, "lb"))["b"].rule is Rule.ROUNDED
    assert said(None, rounding, b=(40_000, "lb"))["b"].rule is Rule.WRONG


def test_of_four_figures_none_are_called_rounded():
    """Within a hundredth of a per cent, four figures are another number, three are a rounding."""
    narrow = toy(parts=with_part("a", tolerance=relative(0.00001, because="a test"), slips=(), conventions=(),
                                 solve=lambda n: 1.23456 * n.mass / n.volume))  # fmt: skip
    assert said(narrow, a=(12.3, "lb/gal"))["a"].rule is Rule.ROUNDED
    assert said(narrow, a=(12.35, "lb/gal"))["a"].rule is Rule.WRONG


def test_a_value_is_right_up_to_the_very_edge_of_its_tolerance():
    edge = toy(parts=with_part("a", tolerance=absolute(0.25, "lb/gal", because="a test"), conventions=()))
    assert said(edge, a=(10.25, "lb/gal"))["a"].rule is Rule.RIGHT
    assert said(edge, a=(9.75, "lb/gal"))["a"].rule is Rule.RIGHT
    assert said(edge, a=(10.2501, "lb/gal"))["a"].rule is Rule.WRONG


def test_factors_are_told_up_to_a_tolerance_of_a_twentieth():
    for share, tells in ((0.05, True), (0.0501, False)):
        item = dataclasses.replace(DENSITY, tolerance=relative(share, because="a test"))
        assert tells_factors(item, Q(10.0, "lb/gal")) is tells
        assert tells_factors(item, Q(-10.0, "lb/gal")) is tells
        assert not tells_factors(item, Q(0.0, "lb/gal"))


def test_each_factor_is_the_ratio_of_its_two_units():
    """42 gal in a bbl, 7.4805 gal in a ft3, 8.3454 lb/gal of water: US customary units, from memory."""
    assert {factor.name.partition(",")[0].partition(" of ")[0]: round(factor.times, 4) for factor in FACTORS} == {
        "gallons in a barrel": 42, "gallons in a cubic foot": 7.4805, "lb/gal in the weight": 8.3454,
        "minutes in an hour": 60, "inches in a foot": 12, "a thousand": 1000, "litres in a gallon": 3.7854,
        "feet in a metre": 3.2808, "two": 2, "four": 4, "a hundred": 100, "ten": 10,
    }  # fmt: skip


# What an answer is held against ---------------------------------------------------------------------------------------


def test_trials_are_those_of_the_one_number_that_is_asked_for():
    answers = {"a": Given(12.6, "lb/gal"), "b": Given(1.1 * 12.6 * 42 * 70, "lb"), "c": Given("A")}
    tried = trials(toy(), answers, "b")
    assert [(t.rule, t.name, t.followed) for t in tried[:2]] == [(Rule.RIGHT, "", ""), (Rule.FOLLOWED, "", "(a)")]
    assert {t.rule for t in tried} == {Rule.RIGHT, Rule.FOLLOWED, Rule.UNIT, Rule.SLIP, Rule.SIGN, Rule.FACTOR}
    assert [t.name for t in tried if t.rule is Rule.SLIP] == ["a tenth less", "only the tenth"] * 2
    assert [t.followed for t in tried if t.rule is Rule.SLIP] == ["", "", "(a)", "(a)"]
    assert tried[0].distance == pytest.approx(1.1 * 12.6 * 42 * 70 - 1.1 * 29_400)
    fits = [t for t in tried if t.fits]
    assert fits[0].rule is Rule.FOLLOWED


@pytest.mark.parametrize("key", ["c", "d"])
def test_what_is_no_number_is_held_against_nothing(key):
    assert trials(toy(), {"c": Given("A"), "d": Given("CBDA")}, key) == ()


@pytest.mark.parametrize("answers", [{}, {"a": Given("ten", "lb/gal")}, {"a": Given(10.0, "lb/gaal")}])
def test_an_answer_that_is_not_there_or_cannot_be_read_is_held_against_nothing(answers):
    assert trials(toy(), answers, "a") == ()


def test_a_number_of_another_kind_is_held_against_the_bare_values_alone():
    tried = trials(toy(), {"a": Given(10.0, "psi")}, "a")
    assert [(t.rule, t.name) for t in tried] == [(Rule.UNIT, ""), (Rule.UNIT, "three per cent more")]


def test_nothing_warns_of_numbers_that_overflow_while_they_are_tried(recwarn):
    assert trials(toy(), {"a": Given(1e200, "lb/gal"), "b": Given(1e300, "lb")}, "b")
    mark_alone(toy(), "a", Given(1e-300, "lb/gal"))
    assert not [warning for warning in recwarn if issubclass(warning.category, RuntimeWarning)]


def test_a_right_answer_is_told_to_be_no_impossible_one_whatever_its_unit():
    variant = toy(parts=with_part("a", possible=Possible(20, 25, "lb/gal", "No")))
    for given in ((10.0, "lb/gal"), (10.0, "kg/m3"), (10.0, "psi")):
        assert cannot_be(variant, said(variant, a=given)["a"]) == ""
    assert cannot_be(variant, said(variant, a=(13.7, "lb/gal"))["a"]) == "No: stop and look."
    assert cannot_be(variant, said(variant, a=(13.7, "psi"))["a"]) == ""
    assert cannot_be(variant, said(variant)["a"]) == ""


# Choices, orders, chosen numbers --------------------------------------------------------------------------------------


def test_a_choice_tells_its_letters_and_names_its_option():
    unread = said(c="E")["c"]
    assert (unread.rule, unread.slip, unread.comment) == (Rule.UNREADABLE, "", "Answer with one letter, A, B.")
    right = said(c="B")["c"]
    assert (right.rule, right.marks, right.slip, right.comment) == (Rule.RIGHT, 1, "", "")
    wrong = said(c="A")["c"]
    assert (wrong.slip, wrong.comment) == ("option A", "It is not.")
    assert HEAVY.option("light").text == "It is lighter."


def test_an_option_that_cannot_be_worked_out_from_an_own_answer_is_held_against_the_models():
    def right(n):
        if n.a > Q(11, "lb/gal"):
            raise CalculationError("no such mud")
        return "light"

    variant = toy(parts=with_part("c", right=right))
    assert said(variant, a=(12.6, "lb/gal"), c="B")["c"].rule is Rule.RIGHT
    assert said(variant, a=(12.6, "lb/gal"), c="A")["c"].rule is Rule.SLIP


def test_an_order_tells_its_letters_and_the_first_rule_that_it_breaks():
    unread = said(d="CBD")["d"]
    assert (unread.rule, unread.comment) == (
        Rule.UNREADABLE, "Answer with each of the letters ABCD once, in order.",
    )  # fmt: skip
    right = said(d="CBDA")["d"]
    assert (right.rule, right.marks, right.slip, right.comment) == (Rule.RIGHT, 3, "", "")
    assert said(d="DBCA")["d"].slip == "fill before open"
    assert said(d="BCDA")["d"].slip == "fill before open"
    assert said(d="CBAD")["d"].slip == "heat before close"


def test_the_share_of_a_broken_rule_is_rounded_up_to_a_half_mark_and_never_below_nothing():
    two = toy(parts=with_part("d", marks=Marks(2)))
    assert said(two, d="BCDA")["d"].marks == 1  # a third of 2 marks is lost, rounded up to 1
    assert said(two, d="DBCA")["d"].marks == 0.5
    assert said(two, d="ADBC")["d"].marks == 0
    assert STEPS.broken(("open", "fill", "close", "heat")) == ()
    assert STEPS.broken(("fill", "open", "close", "heat")) == STEPS.rules[:1]


def test_a_chosen_number_tells_the_limits_that_it_breaks():
    def chosen(value, unit=""):
        return next(r for r in mark(case(), {"b": Given(value, unit)}) if r.item == "b")

    assert (chosen(3).comment, chosen(3).slip) == ("", "")
    assert (chosen(2).slip, chosen(6).slip) == ("takes the flow", "keeps the power")
    unread = chosen("three")
    assert unread.comment == '"three" is not a number. Nothing was recorded for it.'
    assert chosen(3, "kg").rule is Rule.OTHER_KIND
    assert chosen(3, "kg").comment.startswith("kg measures a mass; the question asks for ")


def test_a_chosen_number_that_breaks_every_limit_is_a_slip_without_marks():
    both = case(most_power=10)
    result = next(r for r in mark(both, {"b": Given(1)}) if r.item == "b")
    assert (result.rule, result.marks) == (Rule.SLIP, 0)
    assert result.comment == "They do not take the flow. Too much power."


def test_an_answer_on_the_way_says_where_its_marks_are():
    full = {"a": Given(15.0, "m3/h"), "b": Given(3), "c": Given(1440.0, "kWh"), "c.power": Given(60.0, "kW")}
    results = {r.item: r for r in mark(case(), full)}
    assert results["c.power"].comment == "Its marks are in the part's own answer."
    blank = {r.item: r for r in mark(case(), {"b": Given(3), "c.power": Given(60.0, "kW")})}
    assert (blank["c.power"].marks, blank["c.power"].comment) == (1.5, "It earns a mark for the method.")
    followed = {r.item: r for r in mark(case(), {"b": Given(2), "c.power": Given(40.0, "kW")})}
    assert followed["c.power"].comment == (
        "It follows rightly from your own answer to (b). It earns a mark for the method."
    )
    assert followed["c.power"].rule is Rule.FOLLOWED


# What a cell of a table is made of -----------------------------------------------------------------------------------

COLUMN = SHARES.columns[1]
assert isinstance(COLUMN, Column)
OF_ROWS = dataclasses.replace(
    COLUMN,
    possible=Possible(0, 50_000, "lb", "No mass of this test"),
    whole=False,
    digits=5,
    converting=By(False, True),
    marks=Marks(2),
    conventions=(RowConvention("a tenth more", lambda n, row: n.mass * (0.55 if row == "half" else 1.1)),),
    slips=(
        RowSlip("thrice", lambda n, row: n.mass * (1.5 if row == "half" else 3), "Three times.", keeps=0.5),
        RowSlip("all of it", lambda n, row: n.mass, "Only half.", rows=("half",), only=System.FIELD),
    ),
)


def cell(row: str) -> Numeric:
    table = dataclasses.replace(SHARES, columns=(SHARES.columns[0], OF_ROWS))
    return table.cell(next(r for r in table.rows if r.key == row), OF_ROWS)


def test_a_cell_has_all_that_its_column_says():
    half = cell("half")
    assert (half.key, half.outcome) == ("e.half.mass", "Fill a table.")
    kept = ("unit", "tolerance", "marks", "digits", "whole", "possible", "converting", "plausible")
    assert {name: getattr(half, name) for name in kept} == {name: getattr(OF_ROWS, name) for name in kept}
    assert [in_system(half.ask, system) for system in System] == ["Half of it: Mass"] * 2
    assert [step.sum for step in half.working] == ["{mass} * 0.5"]
    assert cell("whole").uses == ()
    double = SHARES.columns[2]
    assert isinstance(double, Column)
    assert SHARES.cell(SHARES.rows[0], double).uses == ("e.half.mass",)


def test_a_row_titled_in_each_system_is_asked_for_by_the_title_of_the_paper():
    row = Row("one", By("Half a barrel", "Half a cubic metre"))
    table = dataclasses.replace(SHARES, rows=(row,), columns=(SHARES.columns[0], OF_ROWS))
    asked = table.cell(row, OF_ROWS).ask
    assert [in_system(asked, system) for system in System] == ["Half a barrel: Mass", "Half a cubic metre: Mass"]


def test_conventions_and_slips_of_a_cell_are_those_of_its_row():
    n = Known(NUMBERS[System.FIELD], {})
    half, whole = cell("half"), cell("whole")
    assert [(c.name, c.value(n).m_as("lb")) for c in half.conventions] == [("a tenth more", pytest.approx(16_170))]
    assert [c.value(n).m_as("lb") for c in whole.conventions] == [pytest.approx(32_340)]
    assert [(s.name, s.wrong(n).m_as("lb"), s.advice, s.keeps, s.only) for s in half.slips] == [
        ("thrice", pytest.approx(44_100), "Three times.", 0.5, None),
        ("all of it", pytest.approx(29_400), "Only half.", 0, System.FIELD),
    ]
    assert [(s.name, s.wrong(n).m_as("lb")) for s in whole.slips] == [("thrice", pytest.approx(88_200))]


def test_a_cell_is_marked_by_what_its_column_says():
    table = dataclasses.replace(SHARES, key="a", columns=(SHARES.columns[0], OF_ROWS))

    def half(system: System, answer: float, unit: str):
        variant = toy(system, parts=(table,))
        return next(r for r in mark(variant, {"a.half.mass": Given(answer, unit)}) if r.item == "a.half.mass")

    for system, unit, size in ((System.FIELD, "lb", 29_400), (System.METRIC, "kg", 12_000)):
        assert half(system, 0.5 * size, unit).rule is half(system, 0.55 * size, unit).rule is Rule.RIGHT
        assert half(system, 1.5 * size, unit).slip == "thrice"
        assert (half(system, size, unit).slip == "all of it") is (system is System.FIELD)
    insisted = half(System.METRIC, 6.0, "t")
    assert (insisted.rule, insisted.marks) == (Rule.NOT_CONVERTED, 0)


# Tolerances, marks, parts ---------------------------------------------------------------------------------------------


def test_a_tolerance_keeps_its_reason_and_its_width():
    share, fixed, read = relative(0.02, "a"), absolute(5, "lb", "b"), reading(4, "kg", "c")
    assert [one.because for one in (share, fixed, read)] == ["a", "b", "c"]
    assert share.reach(Q(-50.0, "lb")) == pytest.approx(1)
    assert share.width(Q(50.0, "lb")) == Q(1.0, "lb")
    assert fixed.reach(Q(50.0, "lb")) == 5
    assert read.width(Q(50.0, "kg")) == Q(2.0, "kg")
    # A pound is 0.45359237 kg, exactly.
    assert fixed.reach(Q(1.0, "kg")) == pytest.approx(5 * 0.45359237)


def test_marks_add_up_and_follow_through_gives_all_of_the_value_unless_it_says_less():
    assert (Marks(2, unit=1).total, Marks(2, unit=1).followed, Marks(2, follow=0).followed) == (3, 2, 0)
    assert model_script(toy()).keys() == {item.key for item in TOY.items}


def test_an_answer_on_the_way_is_a_number_of_its_own_that_stands_before_the_parts():
    part = next(part for part in case().exercise.parts if part.key == "c")
    on_the_way, own = part.items()
    method = part.method[0]
    assert (own, own.on_the_way) == (part, False)
    assert on_the_way.on_the_way
    assert (on_the_way.key, on_the_way.ask, on_the_way.unit) == ("c.power", "What power?", "kW")
    kept = ("solve", "tolerance", "uses", "digits", "plausible", "possible")
    assert {name: getattr(on_the_way, name) for name in kept} == {name: getattr(method, name) for name in kept}
    assert (on_the_way.marks.total, on_the_way.method_marks, on_the_way.slips) == (0, 1.5, ())
    assert (on_the_way.outcome, [step.gives for step in on_the_way.working]) == (part.outcome, ["power"])
    with pytest.raises(ValueError, match="part c: no step of its working gives speed"):
        dataclasses.replace(part, method=(dataclasses.replace(method, key="speed"),)).items()


def test_what_is_known_is_asked_by_name_and_what_is_not_is_an_error():
    n = Known(NUMBERS[System.FIELD], {"a": Q(10.0, "lb/gal"), "e.half.mass": Q(1.0, "lb")})
    assert (n.a, n["a"], n["e.half.mass"]) == (Q(10.0, "lb/gal"), Q(10.0, "lb/gal"), Q(1.0, "lb"))
    assert n.mass == Q(29_400, "lb")
    with pytest.raises(AttributeError):
        _ = n.densty
    with pytest.raises((KeyError, AttributeError)):
        _ = n["b"]


# Answers --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "text"),
    [
        (Given(None), ""),
        (Given(None, "lb"), ""),
        (Given(412.0, "lb"), "412 lb"),
        (Given(412.5), "412.5"),
        (Given(999_999.0), "999999"),
        (Given(1_000_000.0, "lb"), "1000000.0 lb"),
        (Given(-1_500_000.0), "-1500000.0"),
        (Given("412,5", " lb "), "412,5  lb"),
        (Given(5), "5"),
        (Given(10**5000), "an integer of thousands of digits"),
    ],
)
def test_an_answer_is_shown_as_it_came(given, text):
    assert str(given) == text


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("5", 5), ("5.", 5), (".5", 0.5), ("+5", 5), ("-5", -5), ("\N{MINUS SIGN}5,5", -5.5), ("1e3", 1000),
        ("1E-3", 0.001), ("1 234", 1234), ("1'234", 1234), ("1_234", 1234), ("12,345.6", 12_345.6),
        ("12.345,6", 12_345.6), ("1,234,567", 1_234_567), ("0,123", 0.123), ("-0,5", -0.5), ("1234,567", 1234.567),
        ("1/2", 0.5), ("-3/4", -0.75), ("+3/4", 0.75), ("12 1/2", 12.5), ("-12 1/2", -12.5), ("5/2", 2.5), (" 7 ", 7),
        ("9999/9999", 1),
    ],
)  # fmt: skip
def test_a_number_is_read_as_people_write_it(text, value):
    assert read_number(text) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ("1,234", '"1,234" can be read in two ways: write 1234 or 1.234'),
        ("-6,442", '"-6,442" can be read in two ways: write -6442 or -6.442'),
        ("ten", '"ten" is not a number'),
        ("12 5/2", '"12 5/2" is not a number'),
        ("12 2/2", '"12 2/2" is not a number'),
        ("1/0", '"1/0" is not a number'),
        ("10000/2", '"10000/2" is not a number'),
        ("1.2.3", '"1.2.3" is not a number'),
        ("1.234,5,6", '"1.234,5,6" is not a number'),
        ("1e1000", '"1e1000" is not a number'),
        ("1e999", "1e999 is not a finite number"),
        ("½", '"½" holds a raised, lowered or fraction sign: write it as a plain number'),
        ("10²", '"10²" holds a raised, lowered or fraction sign: write it as a plain number'),
        ("x" * 50, f'"{"x" * 40}" is not a number'),
        (math.nan, "nan is not a finite number"),
        (-math.inf, "-inf is not a finite number"),
        (10**400, "the number is too large to be an answer"),
        ([1.0], "the answer is neither a number nor text"),
        ({}, "the answer is neither a number nor text"),
    ],
)
def test_what_is_no_number_is_told_why(value, says):
    with pytest.raises(UnreadableAnswer) as refused:
        read_number(value)
    assert str(refused.value) == says
