"""Answers that cannot be, and answers in another unit where converting is the question: what they earn and are told."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from exercises import BANK
from exercises.model import By, Marks, System
from exercises.model.answers import Given
from exercises.model.drawing import draw
from exercises.model.exercise import Exercise
from exercises.model.marking import ItemMark, Rule, cannot_be, mark
from exercises.model.numbers import Range
from exercises.model.parts import Numeric, possible_for
from exercises.model.possible import ANYTHING, MUD_WEIGHT, RATIO, SHARE, Possible, possible_by_kind
from exercises.model.practice import practice_variant
from exercises.model.variant import Variant
from pitside.units import Q
from tests.exercises.toy import DENSITY, GROWN, HEAVY, TOY, toy, with_part


def strict(**changes) -> Variant:
    """The toy (10 lb/gal of mud, 70 bbl, 29,400 lb) under the rule."""
    return dataclasses.replace(toy(**changes), stop_and_look=True)


def results(variant: Variant, **given: tuple[float, str] | str) -> dict[str, ItemMark]:
    answers = {key: Given(one) if isinstance(one, str) else Given(*one) for key, one in given.items()}
    return {result.item: result for result in mark(variant, answers)}


# What can be ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "value", "holds"),
    [
        ("lb/gal", Q(92, "lb/gal"), False),
        ("lb/gal", Q(12, "kg/m^3"), False),
        ("lb/gal", Q(-5, "lb/gal"), False),
        ("lb/gal", Q(19.2, "lb/gal"), True),
        ("lb/gal", Q(2300, "kg/m^3"), True),
        ("SG", Q(4.2, "SG"), True),
        ("SG", Q(92, "SG"), False),
        ("lb/bbl", Q(0, "lb/bbl"), True),
        ("lb/bbl", Q(-1, "lb/bbl"), False),
        ("%", Q(500, "%"), False),
        ("%", Q(100, "%"), True),
        ("%", Q(-0.1, "%"), False),
        ("bbl", Q(-3, "bbl"), False),
        ("bbl", Q(0, "bbl"), True),
        ("gal/min", Q(-1, "gal/min"), False),
        ("hp", Q(-1, "hp"), False),
        ("fraction", Q(250, ""), True),
        ("money", Q(-400, "money"), True),
        ("psi", Q(-3, "psi"), True),
    ],
)
def test_what_a_kind_of_quantity_can_be(unit, value, holds):
    assert possible_by_kind(unit).holds(value) is holds


def test_the_kind_is_told_by_the_unit_of_the_field_paper_for_both():
    concentration = dataclasses.replace(DENSITY, unit=By("lb/bbl", "kg/m3"))
    assert possible_for(DENSITY) is MUD_WEIGHT
    assert possible_for(concentration).holds(Q(0, "kg/m^3"))
    assert not possible_for(DENSITY).holds(Q(0, "kg/m^3"))


def test_a_part_says_what_is_possible_and_what_is_plausible_in_it_always_is():
    share = dataclasses.replace(DENSITY, unit="%", plausible=Range(90, 104, "%"))
    assert possible_for(share) is ANYTHING
    assert possible_for(dataclasses.replace(share, possible=RATIO)) is RATIO
    with pytest.raises(ValueError, match="is plausible, but from 0 up to 100 % is possible"):
        dataclasses.replace(TOY, parts=(dataclasses.replace(share, possible=SHARE, conventions=()),))
    with pytest.raises(ValueError, match="measures something else"):
        toy(parts=with_part("a", possible=RATIO))
    with pytest.raises(ValueError, match="nothing is possible"):
        Possible(2, 1, "bbl", "No")


# What it earns --------------------------------------------------------------------------------------------------------


def test_an_answer_that_cannot_be_is_told_so_and_without_the_rule_is_wrong_as_ever():
    said = results(strict(), a=(92.0, "lb/gal"))["a"]
    assert (said.rule, said.marks, said.comment) == (Rule.IMPOSSIBLE, 0, "No mud weighs that: stop and look.")
    before = results(toy(), a=(92.0, "lb/gal"))["a"]
    assert (before.rule, before.marks) == (Rule.WRONG, 0)
    assert "stop" not in before.comment


def test_what_rests_on_it_earns_half_for_the_method():
    wrong = {"a": (13.7, "lb/gal"), "b": (1.1 * 13.7 * 42 * 70, "lb"), "c": "A"}
    fair = results(strict(), **wrong)
    assert (fair["b"].rule, fair["b"].marks) == (Rule.FOLLOWED, GROWN.marks.followed) == (Rule.FOLLOWED, 2)
    beyond = results(strict(), a=(92.0, "lb/gal"), b=(1.1 * 92 * 42 * 70, "lb"), c="A")
    assert (beyond["b"].rule, beyond["b"].marks) == (Rule.FOLLOWED, 1)
    assert "for the method alone" in beyond["b"].comment
    assert (beyond["c"].rule, beyond["c"].marks) == (Rule.FOLLOWED, 0.5)
    as_ever = results(toy(), a=(92.0, "lb/gal"), b=(1.1 * 92 * 42 * 70, "lb"), c="A")
    assert (as_ever["b"].marks, as_ever["c"].marks) == (2, 1)


def test_it_reaches_what_rests_on_what_rests_on_it_and_no_right_answer():
    later = dataclasses.replace(
        GROWN, key="c", ask="And twice that?", uses=("b",), solve=lambda n: 2 * n.b, slips=(), marks=Marks(2)
    )
    variant = strict(parts=(DENSITY, GROWN, later))
    chain = results(variant, a=(92.0, "lb/gal"), b=(1.1 * 92 * 42 * 70, "lb"), c=(2.2 * 92 * 42 * 70, "lb"))
    assert (chain["c"].rule, chain["c"].marks) == (Rule.FOLLOWED, 1)
    right = results(variant, a=(92.0, "lb/gal"), b=(1.1 * 29_400, "lb"), c=(2.2 * 29_400, "lb"))
    assert (right["b"].rule, right["c"].rule) == (Rule.RIGHT, Rule.RIGHT)
    assert (right["b"].marks, right["c"].marks) == (3, 2)


def test_an_answer_that_follows_rightly_and_cannot_be_earns_nothing():
    left = dataclasses.replace(GROWN, solve=lambda n: n.a * n.volume - Q(25_000, "lb"), slips=())
    said = results(strict(parts=(DENSITY, left)), a=(8.0, "lb/gal"), b=(8.0 * 42 * 70 - 25_000, "lb"))["b"]
    assert (said.rule, said.marks) == (Rule.IMPOSSIBLE, 0)
    assert "follows rightly from your own answer to (a)" in said.comment
    assert "no mass is less than nothing: stop and look" in said.comment


@pytest.mark.parametrize(
    ("given", "rule", "advice"),
    [
        ((20.0, "lb/gal"), Rule.SLIP, "You doubled it."),
        ((5.0, "lb/gal"), Rule.SLIP, "You halved it (field)."),
        ((-10.0, "lb/gal"), Rule.SIGN, "the sign is turned round"),
        ((420.0, "lb/gal"), Rule.FACTOR, "gallons in a barrel"),
    ],
)
def test_a_known_mistake_keeps_its_name_and_advice(given, rule, advice):
    """The first two are weights that a mud can have; with one bound narrower they are none."""
    cannot = Possible(9, 11, "lb/gal", "No mud of this test weighs that")
    for possible in (None, cannot):
        said = results(strict(parts=with_part("a", possible=possible)), a=given)["a"]
        assert said.rule is rule
        assert advice in said.comment
        beyond = possible is cannot or given[0] < 0.5 or given[0] > 25
        assert said.comment.endswith("stop and look.") is beyond
        assert said.marks == (0.5 if said.slip == "halved" and not beyond else 0)


def test_the_right_number_in_a_wrong_unit_costs_the_unit_alone():
    said = results(strict(), a=(10.0, "kg/m3"))["a"]
    assert (said.rule, said.marks) == (Rule.UNIT, 2)


def test_a_right_answer_is_right_whatever_counts_as_possible():
    variant = strict(parts=with_part("a", possible=Possible(20, 25, "lb/gal", "No")))
    assert results(variant, a=(10.0, "lb/gal"))["a"].rule is Rule.RIGHT


def test_it_is_told_of_marks_that_were_given_without_the_rule():
    variant = toy()
    assert cannot_be(variant, results(variant, a=(92.0, "lb/gal"))["a"]) == "No mud weighs that: stop and look."
    for given in ((10.0, "lb/gal"), (10.0, "kg/m3"), (13.7, "lb/gal"), (5.0, "miles"), (5.0, "psi")):
        assert cannot_be(variant, results(variant, a=given)["a"]) == ""
    assert cannot_be(variant, results(variant, c="A")["c"]) == ""


def test_the_rule_is_in_the_digest_of_the_scheme_and_so_is_what_is_possible():
    narrower = with_part("a", possible=Possible(1, 25, "lb/gal", "No"))
    said_otherwise = with_part("a", possible=dataclasses.replace(MUD_WEIGHT, says="No mud"))
    assert strict().scheme_digest != toy().scheme_digest
    assert strict(parts=narrower).scheme_digest != strict().scheme_digest
    assert strict(parts=said_otherwise).scheme_digest == strict().scheme_digest
    assert toy(parts=narrower).scheme_digest == toy().scheme_digest


@pytest.mark.parametrize("system", System)
def test_no_right_answer_of_the_bank_counts_as_impossible(exercise: Exercise, system: System):
    """And nearly all numbers have a bound: nobody has to remember to give one."""
    variant = draw(exercise, np.random.default_rng(77), system)
    for item in exercise.items:
        if isinstance(item, Numeric):
            for value in variant.right_values(item, variant.key).values():
                assert variant.possible(item).holds(value), (item.key, value)


def test_most_numbers_of_the_bank_have_a_bound():
    numbers = [item for exercise in BANK.values() for item in exercise.items if isinstance(item, Numeric)]
    bounded = sum(possible_for(item).is_bounded for item in numbers)
    assert bounded / len(numbers) > 0.8


# Practice -------------------------------------------------------------------------------------------------------------


def test_practice_carries_no_slip_on_to_what_cannot_be_and_says_where_marks_are_for_the_method():
    weighs = dataclasses.replace(DENSITY, possible=Possible(9, 11, "lb/gal", "No"))
    parts = (weighs, GROWN, HEAVY)
    plain, ruled = (practice_variant(v)["parts"] for v in (toy(parts=parts), strict(parts=parts)))
    assert not any(follow["rests"] for follow in plain[1]["items"][0]["follows"])
    follows = ruled[1]["items"][0]["follows"]
    assert len(follows) == 2
    assert all(follow["rests"] for follow in follows)
    assert ruled[1]["items"][0]["for_method"] == 1
    capped = dataclasses.replace(GROWN, possible=Possible(0, 40_000, "lb", "No"))
    left = practice_variant(strict(parts=(weighs, capped)))["parts"][1]["items"][0]["follows"]
    assert [follow["slip"] for follow in left] == ["halved"]
    assert ruled[0]["items"][0]["possible"] == {
        "least": pytest.approx(9 * 119.826427),  # kg/m3 in a lb/gal: NIST SP 811, appendix B.8; from memory
        "most": pytest.approx(11 * 119.826427),
        "says": "No: stop and look.",
    }


# Where converting is the question -------------------------------------------------------------------------------------

INSISTS = with_part("a", converting=True, marks=Marks(3))


def test_another_unit_than_the_asked_one_earns_nothing_where_converting_is_the_question():
    kg_m3 = Q(10, "lb/gal").m_as("kg/m^3")
    said = results(toy(parts=INSISTS), a=(kg_m3, "kg/m3"), b=(1.1 * 29_400, "lb"))
    assert (said["a"].rule, said["a"].marks) == (Rule.NOT_CONVERTED, 0)
    assert said["a"].comment == "Answer in lb/gal: converting was the question, and kg/m³ is not converted."
    assert said["b"].rule is Rule.RIGHT
    assert results(toy(), a=(kg_m3, "kg/m3"))["a"].rule is Rule.RIGHT


@pytest.mark.parametrize("given", [(10.0, "lb/gal"), (10.0, "ppg"), (10.0, "")])
def test_the_asked_unit_by_any_name_and_a_bare_number_count(given):
    assert results(toy(parts=INSISTS), a=given)["a"].marks == 3


def test_a_slip_in_another_unit_keeps_its_name_and_no_marks():
    halved = results(toy(parts=INSISTS), a=(Q(5, "lb/gal").m_as("kg/m^3"), "kg/m3"))["a"]
    assert (halved.rule, halved.slip, halved.marks) == (Rule.SLIP, "halved", 0)
    assert results(toy(parts=INSISTS), a=(5.0, "lb/gal"))["a"].marks == 0.5


def test_only_the_scheme_of_a_part_that_insists_is_another():
    once = with_part("a", marks=Marks(3))
    assert toy(parts=INSISTS).scheme_digest != toy(parts=once).scheme_digest
    metric_alone = with_part("a", converting=By(False, True), marks=Marks(3))
    assert toy(parts=metric_alone).scheme_digest == toy(parts=once).scheme_digest
    assert toy(System.METRIC, parts=metric_alone).scheme_digest != toy(System.METRIC, parts=once).scheme_digest


def test_a_part_that_insists_says_so_and_gives_no_mark_for_the_unit():
    variant = toy(parts=INSISTS)
    [first, second, *_] = variant.exercise.parts
    assert variant.question(first).endswith(
        "Answer in lb/gal: converting is asked here, so another unit earns no marks."
    )
    assert variant.question(second) == variant.text(second.ask)
    with pytest.raises(ValueError, match="earns no mark"):
        toy(parts=with_part("a", converting=True))


def test_practice_offers_the_asked_unit_alone():
    item = practice_variant(toy(parts=INSISTS))["parts"][0]["items"][0]
    assert [unit["label"] for unit in item["units"]] == ["lb/gal"]
    assert item["converting"]


def test_nobody_gets_marks_for_a_printed_number_copied_with_its_unit_into_another():
    """The two exercises whose question prints what it asks for, in another unit."""
    for name in ("convert-mud-weight", "unit-of-viscosity"):
        for system in System:
            variant = draw(BANK[name], np.random.default_rng(3), system)
            part = next(item for item in variant.exercise.items if variant.converts(item))
            dimension = variant.key[part.key].dimensionality
            drawn = (number for number in variant.numbers.values() if not isinstance(number, str))
            printed = next(number for number in drawn if number.quantity.dimensionality == dimension)
            copied = Given(printed.magnitude, printed.unit)
            said = next(one for one in mark(variant, {part.key: copied}) if one.item == part.key)
            assert (said.rule, said.marks) == (Rule.NOT_CONVERTED, 0)


def test_bounds_without_an_end_are_none():
    assert RATIO.bounds() == (0, None)
    assert Possible(-math.inf, 5, "%", "No").bounds() == (None, pytest.approx(0.05))
