"""The exercise model, on a toy exercise: numbers, texts, sums, drawing, marking, the digest of a mark scheme."""

from __future__ import annotations

import dataclasses
import json
import math
import string

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.model import (
    Before,
    By,
    Choice,
    Column,
    Convention,
    Exercise,
    Grid,
    Marks,
    Number,
    Numbers,
    Numeric,
    Option,
    Pick,
    Range,
    Slip,
    Step,
    System,
    Told,
    absolute,
    mislabelled,
    reading,
    relative,
)
from exercises.model.answers import Given, UnreadableAnswer, read_number
from exercises.model.drawing import UnsoundExercise, confusable, draw
from exercises.model.marking import FACTORS, ItemMark, Rule, mark, trials
from exercises.model.numbers import GROUP, Drawn, grouped, shown, significant
from exercises.model.parts import OF_THE_EXERCISE, Known
from exercises.model.soundness import faults, model_script
from exercises.model.text import fill, html, names_in
from exercises.model.usual_slips import KILOGRAMS_CALLED_TONNES, forty_two_left_out, forty_two_left_out_in_rows
from exercises.model.variant import SHUFFLE
from exercises.model.working import evaluate, work
from pitside.errors import CalculationError
from pitside.unit_names import read_unit
from pitside.units import Q
from tests.exercises.toy import DENSITY, GROWN, HEAVY, NEAR, SHARES, STEPS, TOY, toy, with_part

NBSP, NARROW = "\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}"


def marked(variant, item: str, value, unit: str = "", **others) -> ItemMark:
    """The mark of one answer."""
    answers = {item: Given(value, unit)} | {key: Given(*answer) for key, answer in others.items()}
    return next(result for result in mark(variant, answers) if result.item == item)


# numbers --------------------------------------------------------------------------------------------------------------


def test_a_grid_holds_both_ends_and_no_float_dust():
    grid = Grid(9.5, 10.1, 0.1, "lb/gal")
    assert [grid.at(index) for index in range(grid.count)] == [9.5, 9.6, 9.7, 9.8, 9.9, 10.0, 10.1]
    assert grid.decimals == 1
    assert Grid(35, 35, 0.1, "lb/gal").count == 1


@pytest.mark.parametrize(("low", "high", "step"), [(1, 0, 0.1), (0, 1, 0), (0, 1, -1)])
def test_a_grid_without_values_is_refused(low, high, step):
    with pytest.raises(ValueError, match="holds no value"):
        Grid(low, high, step, "m")


def test_a_grid_of_an_unknown_unit_is_refused():
    with pytest.raises(CalculationError, match="no unit we know"):
        Grid(0, 1, 0.1, "lb/bbbl")


@given(seed=st.integers(0, 2**32), system=st.sampled_from(System))
def test_a_number_is_drawn_from_the_grid_of_its_system(seed, system):
    number = Number("depth", Grid(6000, 6500, 50, "ft"), Grid(1800, 1900, 10, "m"))
    drawn = number.draw(np.random.default_rng(seed), system)
    low, high, step, unit = (6000, 6500, 50, "ft") if system is System.FIELD else (1800, 1900, 10, "m")
    assert low <= drawn.magnitude <= high
    assert (drawn.magnitude - low) % step == 0
    assert drawn.unit == unit


def test_every_value_of_a_grid_and_every_word_is_drawn():
    generator = np.random.default_rng(1)
    number, word = Number("n", Grid(0, 4, 1, "m")), Pick("w", ("barite", "hematite"))
    assert {number.draw(generator, System.FIELD).magnitude for _ in range(200)} == {0, 1, 2, 3, 4}
    assert {word.draw(generator, System.FIELD) for _ in range(50)} == {"barite", "hematite"}


@given(
    magnitude=st.floats(-1e6, 1e6, allow_nan=False),
    decimals=st.integers(0, 4),
    unit=st.sampled_from(["lb/gal", "kg/m3", "%", "fraction", "bbl"]),
    word=st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
)
def test_numbers_go_through_json_unchanged(magnitude, decimals, unit, word):
    numbers = Numbers({"x": Drawn(round(magnitude, decimals), unit, decimals), "w": word})
    back = Numbers.from_json(json.loads(json.dumps(numbers.to_json())))
    assert back == numbers
    assert f"{back['x']}" == f"{numbers['x']}"
    assert back.w == word
    assert back.x == numbers.x


def test_a_number_that_is_not_drawn_is_named():
    with pytest.raises(AttributeError, match="no number called depth"):
        _ = toy().numbers.depth


@pytest.mark.parametrize(
    ("number", "printed"),
    [("1234", "1234"), ("12345.6", f"12{NARROW}345.6"), ("-0.5", "−0.5"), ("1234567", f"1{NARROW}234{NARROW}567")],
)
def test_numbers_are_grouped_from_five_digits_on(number, printed):
    assert grouped(number) == printed


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(8423.7, 3, "8420"), (0.0519481, 4, "0.05195"), (0, 3, "0"), (-12.345, 3, "-12.3"), (140, 4, "140.0")],
)
def test_significant_digits(value, digits, text):
    assert significant(value, digits) == text


def test_a_quantity_is_shown_in_the_asked_unit():
    assert shown(Q(12.0, "lb/gal"), "kg/m3") == f"1438{NBSP}kg/m³"
    assert shown(Q(0.125, ""), "%", 3) == f"12.5{NBSP}%"


def test_a_quantity_can_be_written_with_a_wrong_unit():
    wrong = mislabelled(Q(2.0, "bar"), "bar", "kPa")
    assert wrong.m_as("kPa") == pytest.approx(2.0)


def test_tolerances_are_a_share_a_distance_or_half_a_division():
    assert relative(0.01, "x").width(Q(-50.0, "psi")).m_as("psi") == pytest.approx(0.5)
    assert absolute(0.1, "lb/gal", "x").width(Q(1500.0, "kg/m**3")).m_as("kg/m**3") == pytest.approx(11.9826, rel=1e-4)
    assert reading(0.5, "%", "x").width(Q(0.3, "")).m_as("percent") == pytest.approx(0.25)


# texts and sums -------------------------------------------------------------------------------------------------------


def test_a_text_prints_numbers_with_and_without_their_unit():
    names = {"mud_weight": Drawn(12.0, "lb/gal", 1), "a.heron.weight": Drawn(14_830, "kg/m3", 0)}
    text = fill("{mud_weight}; {mud_weight:n}; {a.heron.weight:plain}; {a.heron.weight}", names)
    assert text == f"12.0{NBSP}lb/gal; 12.0; 14830; 14{NARROW}830{NBSP}kg/m³"
    assert names_in("{mud_weight} {a.heron.weight:n} and text") == {"mud_weight", "a.heron.weight"}


def test_markup_in_a_text_is_shown_and_not_obeyed():
    assert "<script>" not in html("**bold** <script>alert(1)</script>")
    assert "<strong>bold</strong>" in html("**bold** <script>alert(1)</script>")


FINITE = st.floats(0.001, 1000)


@given(one=FINITE, other=FINITE, third=FINITE)
def test_sums_come_out_as_arithmetic_has_it(one, other, third):
    text = f"{one!r} * ({other!r} - {third!r}) / ({one!r} + {other!r}) ** 2 + sqrt({third!r}) - ln({one!r})"
    expected = one * (other - third) / (one + other) ** 2 + math.sqrt(third) - math.log(one)
    assert evaluate(text) == pytest.approx(expected, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "value"),
    [("-3 + 1", -2), ("pi", math.pi), ("exp(1)", math.e), ("log10(1000)", 3), ("min(4, 7 - 5)", 2), ("2 ** -1", 0.5)],
)
def test_sums_know_signs_and_functions(text, value):
    assert evaluate(text) == pytest.approx(value)


@pytest.mark.parametrize(
    "text",
    [
        "__import__('os').system('true')",
        "().__class__",
        "'a' * 3",
        "[1, 2]",
        "x",
        "lambda: 1",
        "1 if 1 else 2",
        "sqrt(1, 2)",
        "open('f')",
        "(1).real",
        "1 < 2",
        "f'{1}'",
        "1j",
        "7 // 2",
        "7 % 2",
        "1 << 9",
        "eval('1')",
        "sqrt",
    ],
)
def test_a_sum_holds_nothing_but_arithmetic(text):
    with pytest.raises(ValueError, match="a worked solution cannot hold"):
        evaluate(text)


def test_a_worked_step_goes_on_from_the_printed_result_of_the_step_before():
    steps = (Step("First.", "2 / 3", "share", "fraction", digits=2), Step("Then.", "{share} * {volume}"))
    first, second = work(steps, {"volume": Drawn(100, "bbl", 0)}, "bbl", System.FIELD)
    assert (first.sum, first.result) == ("2 / 3", "0.67")
    assert (second.sum, second.result) == ("0.67 × 100", f"67.00{NBSP}bbl")
    assert second.value.quantity.m_as("bbl") == 67


def test_a_number_below_nought_stands_in_brackets_inside_a_printed_sum():
    steps = (Step("Left.", "{found} - {before} - ({fall} + {fall}) + {fall} * 2", digits=3),)
    known = {"found": Drawn(596, "bbl", 0), "before": Drawn(680, "bbl", 0), "fall": Drawn(-74, "bbl", 2)}
    [line] = work(steps, known, "bbl", System.FIELD)
    assert line.sum == "596 − 680 − (−74.00 + (−74.00)) + (−74.00) × 2"
    assert line.with_units == (
        f"596{NBSP}bbl − 680{NBSP}bbl − (−74.00{NBSP}bbl + (−74.00{NBSP}bbl)) + (−74.00{NBSP}bbl) × 2"
    )
    assert line.value.quantity.m_as("bbl") == -84


def test_a_worked_step_can_show_each_number_with_its_unit():
    steps = (Step("Area.", "pi / 4 * {size}**2 * ({rate} + 2)", "area", "in2", digits=3),)
    [line] = work(steps, {"size": Drawn(8.5, "in", 1), "rate": Drawn(3, "ft/h", 0)}, "in2", System.FIELD)
    assert line.sum == "π / 4 × 8.5² × (3 + 2)"
    assert line.with_units == f"π / 4 × (8.5{NBSP}in)² × (3{NBSP}ft/h + 2)"


# reading answers ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("6442", 6442),
        ("12,5", 12.5),
        ("1.234,5", 1234.5),
        ("1,234.5", 1234.5),
        ("1 234.5", 1234.5),
        (f"12{NARROW}345,6", 12345.6),
        ("1'234.5", 1234.5),
        ("1,234,567", 1_234_567),
        ("0,052", 0.052),
        ("−3.5", -3.5),
        (" +7 ", 7),
        (".5", 0.5),
        ("6.4e3", 6400),
        ("１２.５", 12.5),
        (12, 12),
        (12.5, 12.5),
    ],
)
def test_numbers_are_read_as_countries_write_them(typed, number):
    assert read_number(typed) == pytest.approx(number)


@pytest.mark.parametrize("typed", ["6,442", "-12,345"])
def test_a_number_that_can_be_read_in_two_ways_is_asked_back(typed):
    with pytest.raises(UnreadableAnswer, match="can be read in two ways: write"):
        read_number(typed)


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "abc",
        "12 lb/gal",
        "nan",
        "inf",
        "-Infinity",
        "0x10",
        "1e999",
        "1.2.3",
        "--1",
        "1e",
        "½ of it",
        "()",
        "10²",
        "1½",
    ],
)
def test_what_is_no_number_is_refused(typed):
    with pytest.raises(UnreadableAnswer):
        read_number(typed)


@pytest.mark.parametrize("given_value", [math.nan, math.inf, 10**400])
def test_a_value_that_is_not_finite_is_refused(given_value):
    with pytest.raises(UnreadableAnswer):
        read_number(given_value)


@given(st.floats(-1e12, 1e12, allow_nan=False))
def test_a_number_written_out_is_read_back(number):
    text = f"{number:.6f}"
    assert read_number(text) == float(text)
    if not text.removeprefix("-").startswith(tuple(string.digits[1:])) or len(text.partition(".")[2]) != 3:
        assert read_number(text.replace(".", ",")) == float(text)


# the form of an exercise ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"parts": (GROWN, DENSITY)}, "parts must be called a, b, c"),
        ({"parts": with_part("b", uses=("z",))}, "part b uses z, which is no earlier part"),
        ({"parts": with_part("a", uses=("b",))}, "part a uses b, which is no earlier part"),
        ({"parts": with_part("a", ask="How deep is {depth}?")}, "part a names {depth}, which is not drawn"),
        ({"parts": with_part("b", ask="The density is {a}.")}, "part b names {a}, which is not drawn"),
        ({"setting": By("{volume}", "{volum}")}, "the setting names {volum}, which is not drawn"),
        ({"parts": with_part("c", reason="{z}")}, "the reason of part c names {z}, which is no number and no part"),
        ({"parts": with_part("a", slips=DENSITY.slips[:1] * 2)}, "two slips of one name in field units"),
    ],
)
def test_an_exercise_of_bad_form_cannot_be_made(changes, fault):
    with pytest.raises(ValueError, match=fault):
        dataclasses.replace(TOY, **changes)


def test_a_slip_of_one_name_may_differ_between_the_systems():
    both = tuple(dataclasses.replace(DENSITY.slips[0], only=system) for system in System)
    assert dataclasses.replace(TOY, parts=with_part("a", slips=both)).marks == TOY.marks


def test_a_table_has_an_item_for_each_cell_to_fill():
    assert [item.key for item in SHARES.items()] == ["e.half.mass", "e.half.double", "e.whole.mass", "e.whole.double"]
    half, whole = TOY.item("e.half.mass"), TOY.item("e.whole.mass")
    assert [slip.name for slip in half.slips] == ["thrice", "all of it"]
    assert [slip.name for slip in whole.slips] == ["thrice"]
    assert TOY.item("e.whole.double").uses == ("e.whole.mass",)


def test_marks_and_outcomes_add_up():
    assert TOY.marks == 3 + 3 + 1 + 3 + 4
    assert TOY.outcomes == ("Find a density.", "Find a mass.", "Compare.", "Work in order.", "Fill a table.")


# drawing --------------------------------------------------------------------------------------------------------------


@pytest.fixture
def few_draws(monkeypatch):
    """Give up soon: the exercise is unsound at every draw."""
    monkeypatch.setattr("exercises.model.drawing.MOST_DRAWS", 50)


@pytest.mark.parametrize("system", System)
def test_the_same_seed_draws_the_same_variant(system):
    one, same, other = (draw(TOY, np.random.default_rng(seed), system) for seed in (7, 7, 8))
    assert one.numbers == same.numbers
    assert one.scheme_digest == same.scheme_digest
    assert one.numbers != other.numbers


@pytest.mark.parametrize("system", System)
def test_the_toy_is_sound(system):
    for seed in range(20):
        assert faults(draw(TOY, np.random.default_rng(seed), system)) == []


def test_shown_steps_are_never_in_a_right_order():
    for seed in range(50):
        variant = draw(TOY, np.random.default_rng(seed), System.FIELD)
        assert STEPS.broken(tuple(str(variant.numbers[f"{SHUFFLE}.d"]).split(",")))


def ambiguous(**slip) -> Exercise:
    near = Slip("nearly right", slip.get("wrong", lambda n: 1.015 * n.mass / n.volume), "Close.")
    return dataclasses.replace(TOY, parts=with_part("a", slips=(near, *DENSITY.slips[1:])))


def test_a_slip_that_cannot_be_told_from_the_answer_makes_the_exercise_unsound(few_draws):
    with pytest.raises(UnsoundExercise, match=r'exercise toy.*the slip "nearly right" cannot be told from the answer'):
        draw(ambiguous(), np.random.default_rng(1), System.FIELD)


def test_a_slip_that_cannot_be_told_from_a_convention_makes_the_exercise_unsound(few_draws):
    with pytest.raises(UnsoundExercise, match="cannot be told from three per cent more"):
        draw(ambiguous(wrong=lambda n: 1.045 * n.mass / n.volume), np.random.default_rng(1), System.FIELD)


def test_slips_that_cannot_be_told_apart_make_the_exercise_unsound(few_draws):
    with pytest.raises(UnsoundExercise, match='the slips "nearly right" and "halved" cannot be told apart'):
        draw(ambiguous(wrong=lambda n: 0.501 * n.mass / n.volume), np.random.default_rng(1), System.FIELD)


def test_the_slips_of_the_other_system_do_not_count(few_draws):
    like_a_third = ambiguous(wrong=lambda n: n.mass / n.volume / 3)
    assert confusable(draw(like_a_third, np.random.default_rng(1), System.FIELD)) == []
    with pytest.raises(UnsoundExercise, match='"nearly right" and "a third"'):
        draw(like_a_third, np.random.default_rng(1), System.METRIC)


def test_numbers_that_are_never_valid_make_the_exercise_unsound(few_draws):
    with pytest.raises(UnsoundExercise, match="its valid rule refuses every draw"):
        draw(dataclasses.replace(TOY, valid=lambda n: False), np.random.default_rng(1), System.FIELD)


def test_numbers_that_cannot_be_are_not_valid(few_draws):
    def refuse(numbers):
        raise CalculationError("no such mud")

    with pytest.raises(UnsoundExercise, match="no such mud"):
        draw(dataclasses.replace(TOY, valid=refuse), np.random.default_rng(1), System.FIELD)


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        (with_part("b", solve=lambda n: 1.1 * n.mass), "part b: it says that it uses a, but a does not change it"),
        (with_part("a", working=(Step("Wrong.", "{mass} / 7"),)), "part a: the worked solution gives"),
        (with_part("a", working=(Step("Wrong.", "{mass} / 7", unit="lb"),)), "part a: the worked solution ends in lb"),
        (with_part("a", working=()), "part a: there is no worked solution"),
        (with_part("a", slips=(Slip("same", lambda n: n.mass / n.volume, "Same."),)), 'part a: the slip "same"'),
        (with_part("c", uses=("a", "b"), right=lambda n: "heavy" if n.b > 1.1 * n.mass else "light"), ""),
    ],
)
def test_faults_finds_what_is_wrong_with_an_exercise(parts, says):
    found = faults(toy(parts=parts))
    assert any(fault.startswith(says) for fault in found) if says else found == []


def test_faults_finds_an_answer_that_is_not_plausible():
    """The toy weighs 10 lb/gal."""
    assert faults(toy(parts=with_part("a", plausible=Range(8, 10, "lb/gal")))) == []
    (fault,) = faults(toy(parts=with_part("a", plausible=Range(8, 9.9, "lb/gal"))))
    assert fault == f"part a: 10.00{NBSP}lb/gal is not plausible; 8 to 9.9{NBSP}lb/gal is"


def test_a_column_has_one_plausible_range_or_one_for_each_row():
    printed, mass, double = SHARES.columns
    of_rows = {"half": Range(14_000, 15_000, "lb"), "whole": Range(28_000, 29_000, "lb")}
    columns = (printed, dataclasses.replace(mass, plausible=of_rows), double)
    (fault,) = faults(toy(parts=with_part("e", columns=columns)))
    assert fault.startswith("part e.whole.mass: 29")
    columns = (printed, dataclasses.replace(mass, plausible=Range(14_000, 30_000, "lb")), double)
    assert faults(toy(parts=with_part("e", columns=columns))) == []


@pytest.mark.parametrize(("low", "high", "unit"), [(2, 1, "m"), (1, 2, "lb/bbbl")])
def test_a_range_that_holds_nothing_is_refused(low, high, unit):
    with pytest.raises(ValueError, match=r"holds no value|no unit we know"):
        Range(low, high, unit)


# what an exercise says for its parts ----------------------------------------------------------------------------------


def test_what_a_part_leaves_out_the_exercise_says():
    loose = absolute(1, "lb/gal", because="wide")
    plain = {"tolerance": OF_THE_EXERCISE, "digits": 0, "outcome": ""}
    part = dataclasses.replace(DENSITY, **plain)
    own = dataclasses.replace(GROWN, digits=6)
    exercise = dataclasses.replace(TOY, parts=(part, own), tolerance=loose, digits=3, outcome="Weigh.")
    first, second = exercise.items
    assert (first.tolerance, first.digits, first.outcome) == (loose, 3, "Weigh.")
    assert (second.tolerance, second.digits, second.outcome) == (NEAR, 6, "Find a mass.")


def test_columns_choices_and_orders_take_what_the_exercise_says():
    loose = absolute(1, "lb", because="wide")
    columns = tuple(
        dataclasses.replace(column, tolerance=OF_THE_EXERCISE) if isinstance(column, Column) else column
        for column in SHARES.columns
    )
    parts = [dataclasses.replace(part, outcome="") for part in TOY.parts]
    parts[-1] = dataclasses.replace(parts[-1], columns=columns)
    exercise = dataclasses.replace(TOY, parts=tuple(parts), tolerance=loose, outcome="Weigh.")
    assert {item.outcome for item in exercise.items} == {"Weigh."}
    assert {item.tolerance for item in exercise.parts[-1].items()} == {loose}


@pytest.mark.parametrize(
    ("left_out", "fault"),
    [
        ({"outcome": ""}, "part a has no outcome, and the exercise gives none"),
        ({"tolerance": OF_THE_EXERCISE}, "part a has no tolerance, and the exercise gives none"),
    ],
)
def test_what_neither_part_nor_exercise_says_is_named(left_out, fault):
    with pytest.raises(ValueError, match=f"exercise toy: {fault}"):
        toy(parts=with_part("a", **left_out))


def test_the_digest_is_the_same_whether_part_or_exercise_says_it():
    bare = tuple(
        dataclasses.replace(part, tolerance=OF_THE_EXERCISE) if isinstance(part, Numeric) else part
        for part in TOY.parts
    )
    assert toy(parts=bare, tolerance=NEAR).scheme_digest == toy().scheme_digest
    assert toy(parts=bare, tolerance=relative(0.02, because="wider")).scheme_digest != toy().scheme_digest


def test_an_exercise_takes_id_and_lesson_from_its_place_and_no_others():
    nameless = dataclasses.replace(TOY, id="", lesson="")
    placed = nameless.placed("a-pit-of-mud", "mud-weight")
    assert (placed.id, placed.lesson) == ("a-pit-of-mud", "mud-weight")
    with pytest.raises(ValueError, match="exercise toy of lesson none lies in the place of a-pit-of-mud"):
        TOY.placed("a-pit-of-mud", "mud-weight")


def test_a_fault_of_an_exercise_without_an_id_is_told_with_its_title():
    with pytest.raises(ValueError, match="exercise A pit of mud: part a has no outcome"):
        dataclasses.replace(TOY, id="", parts=with_part("a", outcome=""))


def test_a_unit_slip_is_the_number_of_one_unit_with_another_behind_it():
    n = Known(toy(System.METRIC).numbers, {})
    slip = KILOGRAMS_CALLED_TONNES.of(lambda n: n.mass)
    assert slip.wrong(n) == Q(12_000, "t")
    assert slip.only is System.METRIC
    assert slip.advice == "This is the mass in kilograms. A tonne is 1000 kg: divide by 1000."
    of_row = KILOGRAMS_CALLED_TONNES.in_rows(lambda n, row: n.mass / 2, "load")
    assert of_row.wrong(n, "half") == Q(6000, "t")
    assert of_row.advice.startswith("This is the load in kilograms.")


def test_forty_two_left_out_makes_an_answer_42_times_too_small():
    slip = forty_two_left_out(lambda n: n.mass, "So there.")
    assert slip.wrong(Known(toy().numbers, {})).m_as("lb") == pytest.approx(700)
    assert slip.advice == "Your answer is 42 times too small: there are 42 gal in a barrel. So there."
    of_row = forty_two_left_out_in_rows(lambda n, row: n.mass / 2)
    assert of_row.wrong(Known(toy().numbers, {}), "half").m_as("lb") == pytest.approx(350)
    assert (of_row.name, of_row.only) == (slip.name, slip.only)
    assert slip.advice == f"{of_row.advice} So there."


# marking --------------------------------------------------------------------------------------------------------------


def test_a_right_script_gets_every_mark():
    for system in System:
        variant = toy(system)
        results = mark(variant, model_script(variant))
        assert {result.rule for result in results} == {Rule.RIGHT}
        assert sum(result.marks for result in results) == variant.exercise.marks


def test_a_blank_script_gets_nothing():
    results = mark(toy(), {})
    assert {result.rule for result in results} == {Rule.BLANK}
    assert sum(result.marks for result in results) == 0
    assert marked(toy(), "a", "   ").rule is Rule.BLANK


@pytest.mark.parametrize(
    ("value", "unit"),
    [
        ("10.0", "lb/gal"),
        ("10,0", "ppg"),
        ("1198", "kg/m3"),
        ("1.198", "SG"),
        ("1.198", "g/cm³"),
        ("74.8", "lb/ft3"),
        ("420", "lb/bbl"),
    ],
)
def test_the_same_answer_in_any_fitting_unit_gets_the_same_mark(value, unit):
    result = marked(toy(), "a", value, unit)
    assert (result.rule, result.marks) == (Rule.RIGHT, 3)


def test_a_convention_gets_every_mark_and_the_gap_beside_it_none():
    assert marked(toy(), "a", 10.3, "lb/gal").rule is Rule.RIGHT
    assert marked(toy(), "a", 10.5, "lb/gal").rule is Rule.WRONG


def test_a_right_number_without_its_unit_loses_the_unit_mark_only():
    result = marked(toy(), "a", "10.0")
    assert (result.rule, result.marks, result.out_of) == (Rule.RIGHT, 2, 3)
    assert "No unit was given" in result.comment


def test_a_right_number_with_another_unit_of_the_kind_keeps_the_value_marks():
    result = marked(toy(), "a", "10.0", "kg/m3")
    assert (result.rule, result.marks) == (Rule.UNIT, 2)
    assert f"It should read 10.0000{NBSP}lb/gal" in result.comment


def test_a_right_number_of_the_wrong_kind_says_what_it_measures():
    result = marked(toy(), "a", "10.0", "psi")
    assert (result.rule, result.marks) == (Rule.UNIT, 2)
    assert "psi measures a pressure" in result.comment


def test_where_no_mark_is_for_the_unit_a_wrong_unit_keeps_nothing():
    result = marked(toy(), "b", "32340", "kg")
    assert (result.rule, result.marks) == (Rule.UNIT, 0)


def test_a_wrong_number_of_the_wrong_kind_says_what_is_asked():
    result = marked(toy(), "a", "77", "psi")
    assert (result.rule, result.marks) == (Rule.OTHER_KIND, 0)
    assert "psi measures a pressure; the question asks for a density" in result.comment


def test_a_unit_that_nobody_knows_gets_a_suggestion():
    result = marked(toy(), "a", "10.0", "lb/gaal")
    assert (result.rule, result.marks) == (Rule.UNREADABLE, 0)
    assert "Did you mean lb/gal?" in result.comment


def test_a_percentage_may_be_given_as_a_fraction():
    share = Numeric(
        key="a",
        ask="What share?",
        unit="%",
        solve=lambda n: Q(12.5, "percent"),
        tolerance=NEAR,
        marks=Marks(1),
        outcome="Share.",
        slips=(Slip("all", lambda n: Q(1.0), "All."),),
        working=(Step("So.", "12.5 * 1"),),
    )
    variant = toy(parts=(share,))
    for value, unit in (("12.5", "%"), ("12.5", ""), ("0.125", ""), ("0.125", "fraction"), ("12.5", "vol%")):
        assert marked(variant, "a", value, unit).rule is Rule.RIGHT
    assert marked(variant, "a", "0.125", "%").rule is not Rule.RIGHT
    assert marked(variant, "a", "100", "%").slip == "all"


def test_a_slip_is_named_with_its_advice_and_keeps_what_it_keeps():
    assert marked(toy(), "a", 20, "lb/gal").slip == "doubled"
    result = marked(toy(), "a", 5.0, "lb/gal")
    assert (result.rule, result.marks, result.comment) == (Rule.SLIP, 0.5, "You halved it (field).")
    assert marked(toy(System.METRIC), "a", 600, "kg/m3").comment == "You halved it (metric)."


def test_a_slip_of_the_other_system_is_not_known():
    assert marked(toy(System.METRIC), "a", 400, "kg/m3").slip == "a third"
    assert marked(toy(), "a", 3.333, "lb/gal").rule is Rule.WRONG


def test_a_sign_turned_round_is_named():
    result = marked(toy(), "a", "−10.0", "lb/gal")
    assert (result.rule, result.marks) == (Rule.SIGN, 0)


#: Factors that trainees forget, as the trade writes them: common practice, no source.
KNOWN_FACTORS = (42, 7.48, 8.345, 60, 12, 1000, 3.785, 1 / 0.3048, 2, 4, 100, 10)

WITHOUT_SLIPS = toy(parts=with_part("a", slips=(), conventions=()))


@pytest.mark.parametrize("factor", KNOWN_FACTORS)
@pytest.mark.parametrize(("times", "way"), [(True, "large"), (False, "small")])
def test_an_answer_off_by_a_known_factor_is_named_and_gets_nothing(factor, times, way):
    result = marked(WITHOUT_SLIPS, "a", 10.0 * factor if times else 10.0 / factor, "lb/gal")
    assert (result.rule, result.marks) == (Rule.FACTOR, 0)
    size = float(result.slip.removeprefix(f"too {way} by a factor of ").partition(" ")[0])
    assert size == pytest.approx(factor, rel=1e-3)
    assert result.slip in result.comment


def test_every_factor_of_the_table_is_one_of_those_that_the_trade_knows():
    assert sorted(factor.times for factor in FACTORS) == pytest.approx(sorted(KNOWN_FACTORS), rel=1e-3)


@pytest.mark.parametrize("off_by", [3.0, 5.0, 6.5, 50, 0.4, -2])
def test_an_answer_off_by_any_other_factor_is_only_wrong(off_by):
    assert marked(WITHOUT_SLIPS, "a", 10.0 * off_by, "lb/gal").rule is Rule.WRONG


def test_a_slip_of_the_exercise_wins_over_a_factor():
    assert (marked(toy(), "a", 20, "lb/gal").rule, marked(WITHOUT_SLIPS, "a", 20, "lb/gal").rule) == (
        Rule.SLIP,
        Rule.FACTOR,
    )


def test_a_factor_is_named_in_whatever_unit_the_answer_is_given():
    assert marked(WITHOUT_SLIPS, "a", 1198.264 * 42, "kg/m3").slip == marked(WITHOUT_SLIPS, "a", 420, "lb/gal").slip


def test_of_two_near_factors_the_nearer_is_named():
    wide = toy(parts=with_part("a", slips=(), conventions=(), tolerance=relative(0.045, because="a test")))
    assert "litres in a gallon" in marked(wide, "a", 38.4, "lb/gal").slip
    assert "diameter" in marked(wide, "a", 39.4, "lb/gal").slip


def test_no_factor_is_looked_for_where_the_tolerance_is_as_wide_as_the_answer():
    wide = toy(parts=with_part("a", slips=(), conventions=(), tolerance=absolute(3, "lb/gal", because="a test")))
    assert marked(wide, "a", 420, "lb/gal").rule is Rule.WRONG


def test_a_factor_after_a_wrong_answer_is_named_with_the_part_that_it_comes_from():
    answers = {"a": Given(12.6, "lb/gal"), "b": Given(1.1 * 12.6 * 70, "lb")}
    result = {r.item: r for r in mark(toy(), answers)}["b"]
    assert (result.rule, result.marks) == (Rule.FACTOR, 0)
    assert "gallons in a barrel" in result.slip
    assert "worked from your own answer to (a)" in result.comment


@given(off_by=st.floats(0.001, 2000), unit=st.sampled_from(["lb/gal", "kg/m3", "psi", ""]))
def test_the_first_trial_that_fits_is_the_one_that_gave_the_mark(off_by, unit):
    answers = {"a": Given(10 * off_by, unit)}
    result = next(r for r in mark(toy(), answers) if r.item == "a")
    fit = next((trial for trial in trials(toy(), answers, "a") if trial.fits), None)
    if fit is None:
        assert result.rule in (Rule.WRONG, Rule.UNREADABLE, Rule.OTHER_KIND)
    else:
        assert result.rule is fit.rule
        assert result.slip in ("", fit.name)


def test_a_mark_holds_the_answer_as_it_came():
    result = marked(toy(), "a", "10,0", " ppg")
    assert (result.value, result.unit) == ("10,0", " ppg")


def test_a_right_answer_by_follow_through_gets_the_follow_marks_and_names_the_part():
    results = {r.item: r for r in mark(toy(), {"a": Given(12.6, "lb/gal"), "b": Given(1.1 * 12.6 * 42 * 70, "lb")})}
    assert (results["a"].rule, results["a"].marks) == (Rule.WRONG, 0)
    assert (results["b"].rule, results["b"].marks) == (Rule.FOLLOWED, 2)
    assert "(a)" in results["b"].comment


def test_a_slip_after_a_wrong_answer_is_still_named():
    results = {r.item: r for r in mark(toy(), {"a": Given(12.6, "lb/gal"), "b": Given(0.9 * 12.6 * 42 * 70, "lb")})}
    assert (results["b"].rule, results["b"].slip) == (Rule.SLIP, "a tenth less")


def test_the_model_answer_counts_also_after_a_wrong_answer():
    results = {r.item: r for r in mark(toy(), {"a": Given(12.6, "lb/gal"), "b": Given(32_340, "lb")})}
    assert (results["b"].rule, results["b"].marks) == (Rule.RIGHT, 3)


def test_an_answer_that_could_not_be_read_carries_nothing_on():
    results = {r.item: r for r in mark(toy(), {"a": Given("no idea", "lb/gal"), "b": Given(32_340, "lb")})}
    assert (results["a"].rule, results["b"].rule) == (Rule.UNREADABLE, Rule.RIGHT)


@given(off_by=st.floats(0.2, 5.0))
def test_an_early_error_carried_on_rightly_costs_its_own_marks_only(off_by):
    variant = toy()
    wrong = 10.0 * off_by
    script = model_script(variant) | {
        "a": Given(wrong, "lb/gal"),
        "b": Given(1.1 * wrong * 42 * 70, "lb"),
        "c": Given("A" if wrong > 10 else "B"),
    }
    for result in mark(variant, script):
        if result.item == "b":
            assert result.marks >= GROWN.marks.followed
        elif result.item != "a":
            assert result.marks == result.out_of


@given(share=st.floats(0.5, 2.0))
def test_follow_through_reaches_from_cell_to_cell_of_a_row(share):
    variant = toy()
    script = model_script(variant) | {
        "e.half.mass": Given(14_700 * share, "lb"),
        "e.half.double": Given(29_400 * share, "lb"),
    }
    results = {result.item: result for result in mark(variant, script)}
    assert results["e.half.double"].marks == 1
    assert results["e.whole.double"].rule is Rule.RIGHT


@pytest.mark.parametrize("letter", ["A", "a", "(A)", "A.", " a) "])
def test_a_choice_is_read_in_the_ways_people_write_letters(letter):
    assert marked(toy(), "c", letter, a=(12.6, "lb/gal")).rule is Rule.FOLLOWED


def test_a_wrong_choice_gets_the_advice_of_its_option():
    result = marked(toy(), "c", "A")
    assert (result.rule, result.marks, result.comment) == (Rule.SLIP, 0, "It is not.")
    assert result.slip == "option A"
    assert marked(toy(), "c", "B").rule is Rule.RIGHT


@pytest.mark.parametrize("letter", ["C", "AB", "7", "yes"])
def test_what_is_no_letter_of_the_choice_cannot_be_read(letter):
    result = marked(toy(), "c", letter)
    assert (result.rule, result.marks) == (Rule.UNREADABLE, 0)
    assert "one letter, A, B" in result.comment


# The toy shows its steps as A heat, B fill, C open, D close; right is C B D A.


@pytest.mark.parametrize("typed", ["CBDA", "c b d a", "C, B, D, A", "C-B-D-A", "1C 2B 3D 4A"])
def test_an_order_is_read_however_the_letters_are_parted(typed):
    assert marked(toy(), "d", typed).marks == 3


@pytest.mark.parametrize(
    ("typed", "marks", "rule", "advice"),
    [
        ("BCDA", 2, Rule.PARTLY, "Open before you fill."),
        ("BDCA", 2, Rule.PARTLY, "Open before you fill."),
        ("DBCA", 1, Rule.PARTLY, "Open before you fill. Fill before you close."),
        ("ADBC", 0, Rule.SLIP, "Open before you fill. Fill before you close. Close before you heat."),
    ],
)
def test_each_broken_rule_of_an_order_costs_its_share(typed, marks, rule, advice):
    result = marked(toy(), "d", typed)
    assert (result.marks, result.rule, result.comment) == (marks, rule, advice)


@pytest.mark.parametrize("typed", ["CBD", "CBDAA", "CBDX", "3241"])
def test_an_order_needs_each_letter_once(typed):
    result = marked(toy(), "d", typed)
    assert (result.rule, result.marks) == (Rule.UNREADABLE, 0)


def test_every_order_that_keeps_the_rules_is_right():
    free = with_part("d", rules=(Before("open", "fill", "Open first."),))
    assert marked(toy(parts=free), "d", "ACBD").marks == 3
    assert marked(toy(parts=free), "d", "CBAD").marks == 3


ANYTHING = st.one_of(
    st.none(), st.text(max_size=60), st.floats(), st.integers(), st.sampled_from(["1e308", "-0", "9" * 300, "１２"])
)


@settings(max_examples=200)
@given(st.dictionaries(st.sampled_from([item.key for item in TOY.items]), st.tuples(ANYTHING, st.text(max_size=50))))
def test_marking_never_fails_and_never_gives_more_than_there_is(answers):
    results = mark(toy(), {key: Given(value, unit) for key, (value, unit) in answers.items()})
    assert [result.item for result in results] == [item.key for item in TOY.items]
    for result in results:
        assert 0 <= result.marks <= result.out_of
        assert result.rule in Rule
        assert "Traceback" not in result.comment


#: Numbers at the ends of what floats hold, and units as far apart as people's texts can name.
ANY_SIZE = st.one_of(
    st.floats(),
    st.integers(),
    st.builds(lambda ten, sign: sign * 10.0**ten, st.integers(-323, 308), st.sampled_from([1, -1])),
    st.builds(lambda power, sign: f"{sign}1e{power}", st.integers(-999, 999), st.sampled_from(["", "-"])),
    st.text(alphabet="0123456789.,eE+-_ ٣１½²\N{MINUS SIGN}", max_size=40),
)
ANY_SCALE = st.sampled_from(
    ["", "lb/gal", "kg/m3", "kg/um3", "mg/km3", "t*km3/um3/um3", "lb", "kg", "mg", "kg*km3/um3", "kg*um3/km3", "psi",
     "dB", "degC", "Ym", "1/0", "%"]
)  # fmt: skip
NUMBERS_OF_TOY = [item.key for item in TOY.items if isinstance(item, Numeric)]


@settings(max_examples=200)
@given(answers=st.dictionaries(st.sampled_from(NUMBERS_OF_TOY), st.tuples(ANY_SIZE, ANY_SCALE), min_size=1))
def test_answers_of_any_size_are_marked_and_followed_with_every_number_finite(answers):
    """The toy's second part and the second cells of its table are worked from what was answered before them."""
    variant = toy()
    given_answers = {key: Given(value, unit) for key, (value, unit) in answers.items()} | {"c": Given("A")}
    for result in mark(variant, given_answers):
        assert 0 <= result.marks <= result.out_of
        if result.rule is Rule.FOLLOWED:
            assert any(used in answers for used in variant.exercise.item(result.item).uses)
    for key in answers:
        for trial in trials(variant, given_answers, key):
            assert math.isfinite(float(trial.value.magnitude)) and math.isfinite(trial.reach)
            assert math.isfinite(float(trial.reading.magnitude))


@pytest.mark.parametrize("size", [5e-324, 1e-320, 1.7976931348623157e308, -1.7976931348623157e308])
def test_an_answer_that_nothing_can_be_worked_from_leaves_later_parts_to_the_model_answers(size):
    results = {r.item: r for r in mark(toy(), {"a": Given(size, "lb/gal"), "b": Given(32_340, "lb")})}
    assert (results["a"].rule, results["a"].marks) == (Rule.WRONG, 0)
    assert (results["b"].rule, results["b"].marks) == (Rule.RIGHT, 3)
    wrong = {r.item: r for r in mark(toy(), {"a": Given(size, "lb/gal"), "b": Given(1.1 * size * 42 * 70, "lb")})}
    assert wrong["b"].rule in (Rule.WRONG, Rule.UNREADABLE, Rule.OTHER_KIND)


def test_an_answer_beyond_all_floats_in_the_asked_unit_is_no_number():
    result = marked(toy(), "b", 1.7e308, "t")
    assert (result.rule, result.marks) == (Rule.UNREADABLE, 0)
    assert "1.7e+308 t is too large to be an answer" in result.comment


def test_a_programming_error_in_an_exercise_is_not_taken_for_a_candidates_number():
    def misspelt(n):
        return (n.a if n.a > Q(1, "lb/gal") else n.densty) * n.volume

    with pytest.raises(AttributeError, match="densty"):
        mark(toy(parts=with_part("b", solve=misspelt)), {"a": Given(5e-324, "lb/gal"), "b": Given(1, "lb")})


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (5e-324, 4, "4.941e-324"),
        (-1.7976931348623157e308, 4, "-1.798e+308"),
        (1e15, 4, "1.000e+15"),
        (999_999_999_999_999.0, 4, "1000000000000000"),
        (1e-12, 4, "0.000000000001000"),
        (math.inf, 4, "inf"),
        (0.0, 4, "0"),
        (-0.0, 4, "0"),
    ],
)
def test_a_number_is_printed_with_an_exponent_only_where_it_would_be_a_row_of_noughts(value, digits, text):
    assert significant(value, digits) == text
    assert grouped(text).replace("\N{MINUS SIGN}", "-").replace(GROUP, "") == text


def test_a_convention_that_cannot_be_worked_out_takes_nothing_from_the_others():
    def refuse(n):
        raise CalculationError("out of range")

    variant = toy(parts=with_part("b", conventions=(Convention("refuses", refuse),)))
    assert marked(variant, "b", 32_340, "lb").rule is Rule.RIGHT


# the digest of a mark scheme ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "changes",
    [
        {"version": 2},
        {"parts": with_part("a", marks=Marks(3, unit=1))},
        {"parts": with_part("a", marks=Marks(2, unit=2))},
        {"parts": with_part("b", marks=Marks(3, follow=1))},
        {"parts": with_part("a", tolerance=relative(0.02, because="a test needs some tolerance"))},
        {"parts": with_part("a", tolerance=absolute(0.01, "lb/gal", because="x"))},
        {"parts": with_part("a", solve=lambda n: 1.001 * n.mass / n.volume)},
        {"parts": with_part("a", conventions=())},
        {"parts": with_part("a", slips=DENSITY.slips[1:])},
        {"parts": with_part("a", slips=(dataclasses.replace(DENSITY.slips[0], keeps=1), *DENSITY.slips[1:]))},
        {"parts": with_part("b", solve=lambda n: n.a * n.volume + 0.1 * n.mass)},
        {"parts": with_part("c", right=lambda n: "heavy")},
        {"parts": with_part("c", right=lambda n: "light")},
        {"parts": with_part("c", options=(*HEAVY.options, Option("equal", "It is the same.", "No.")))},
        {"parts": with_part("d", rules=STEPS.rules[1:])},
        {"parts": with_part("d", marks=Marks(4))},
        {"parts": TOY.parts[:-1]},
    ],
)
def test_the_digest_changes_when_a_mark_could(changes):
    assert toy(**changes).scheme_digest != toy().scheme_digest


@pytest.mark.parametrize(
    "changes",
    [
        {"title": "Another title"},
        {"setting": "There is some mud."},
        {"parts": with_part("a", ask="What is the density of {mass} in {volume}?")},
        {"parts": with_part("a", working=(Step("Otherwise said.", "{mass} / {volume} / 42"),))},
        {
            "parts": with_part(
                "a", slips=(dataclasses.replace(DENSITY.slips[0], advice="Said anew."), *DENSITY.slips[1:])
            )
        },
        {"parts": with_part("a", tolerance=relative(0.01, because="another reason"))},
        {"parts": with_part("d", reason="Said anew.")},
        {"numbers": (*TOY.numbers, Pick("word", ("one", "two")))},
    ],
)
def test_the_digest_stays_when_only_words_change(changes):
    assert toy(**changes).scheme_digest == toy().scheme_digest


def test_the_digest_goes_with_the_numbers_and_the_system():
    digests = {draw(TOY, np.random.default_rng(seed), system).scheme_digest for seed in range(5) for system in System}
    assert len(digests) == 10


# what a page shows ----------------------------------------------------------------------------------------------------


def test_answers_are_shown_in_the_form_in_which_they_are_asked():
    variant = toy()
    shown_answers = {item.key: variant.shown_answer(item, variant.key[item.key]) for item in TOY.items}
    assert shown_answers["a"] == f"10.00{NBSP}lb/gal"
    assert (shown_answers["c"], shown_answers["d"]) == ("B", "CBDA")


@pytest.mark.parametrize("system", System)
def test_the_worked_solution_of_a_later_part_starts_from_the_printed_answer_of_the_earlier(system):
    variant = toy(system)
    (line,) = variant.working(GROWN)
    assert f"1.1 × {'10.00' if system is System.FIELD else '1200'}" in line.sum
    assert read_unit(line.value.unit) == read_unit("lb" if system is System.FIELD else "kg")


def test_a_choice_has_its_letter_by_its_place():
    assert isinstance(HEAVY, Choice)
    assert [HEAVY.letter(option.key) for option in HEAVY.options] == ["A", "B"]


def test_words_follow_from_what_was_drawn_before_and_print_its_numbers():
    words = {"small": "A pit of {volume} is small.", "large": "A pit of {volume} is large."}
    told = dataclasses.replace(
        TOY,
        numbers=(
            *TOY.numbers,
            Pick("size", tuple(words)),
            Told("says", lambda n: words[n.size]),
            Told("again", lambda n: f"Once more: {n.says}"),
        ),
        setting="{again}",
    )
    for seed in range(6):
        variant = draw(told, np.random.default_rng(seed), System.FIELD)
        size, volume = variant.numbers["size"], variant.numbers["volume"]
        assert variant.text(told.setting) == f"Once more: A pit of {volume} is {size}."
        assert Numbers.from_json(variant.numbers.to_json()) == variant.numbers


def test_words_can_only_follow_from_what_stands_before_them():
    told = dataclasses.replace(
        TOY, numbers=(*TOY.numbers, Told("says", lambda n: n.later), Told("later", lambda n: "too late"))
    )
    with pytest.raises(AttributeError, match="later"):
        draw(told, np.random.default_rng(1), System.FIELD)
