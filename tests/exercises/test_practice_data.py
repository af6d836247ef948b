"""What the book's pages judge from their data agrees with what marking says of the same answer."""

from __future__ import annotations

import functools
import json
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from exercises import BANK
from exercises.model import Choice, Chosen, Exercise, Numeric, Order, System, Written
from exercises.model.answers import Given
from exercises.model.marking import FACTORS, Rule, mark
from exercises.model.practice import practice_set, practice_variant, worked_text
from exercises.model.variant import Variant
from pitside.errors import CalculationError
from pitside.unit_names import kind_of, read_unit, spelled
from pitside.units import Quantity
from tests.exercises.draws import DRAWS, draw_of, each, of_kind

#: Shares of a band's edge within which page and marking may differ: the last digits of a floating-point number.
EDGE = 1e-6

NUMERIC = [
    (exercise.id, item.key)
    for exercise in BANK.values()
    for item in exercise.items
    if isinstance(item, Numeric) and not item.on_the_way
]


@functools.cache
def page_of(exercise: str, system: System, which: int) -> tuple[Variant, dict[str, Any]]:
    variant = draw_of(exercise, system, which)
    return variant, json.loads(json.dumps(practice_variant(variant)))


def item_data(page: dict[str, Any], key: str) -> dict[str, Any]:
    return next(item for part in page["parts"] for item in part["items"] if item["id"] == key)


def within(value: float, band: list[float]) -> bool:
    return band[0] <= value <= band[1]


def near_an_edge(value: float, data: dict[str, Any]) -> bool:
    bands = [*data["accepts"], *(slip["at"] for slip in data["slips"])]
    times = [1.0, -1.0, *(by for factor in FACTORS for by in (factor.times, 1 / factor.times))]
    return any(abs(value / by - edge) <= EDGE * abs(edge) for band in bands for edge in band for by in times)


def judged(value: float, data: dict[str, Any]) -> tuple[bool, str]:
    """Right or not, and the slip's name: what a page says of a first answer, given in base units."""
    if any(within(value, band) for band in data["accepts"]):
        return True, ""
    return False, next((slip["name"] for slip in data["slips"] if within(value, slip["at"])), "")


def off_by_a_factor(value: float, data: dict[str, Any]) -> bool:
    """Whether a page names a factor that a wrong answer is off by."""
    times = [by for factor in FACTORS for by in (factor.times, 1 / factor.times)] if data["factors"] else []
    return any(within(value / by, band) for by in times for band in data["accepts"])


@settings(max_examples=max(200, 30 * DRAWS), suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(
    case=st.sampled_from(NUMERIC),
    system=st.sampled_from(System),
    which=st.integers(0, 2),
    unit_at=st.integers(0, 9),
    nearest=st.integers(0, 20),
    off_by=st.one_of(
        st.floats(-0.012, 0.012),
        st.floats(-2.5, 4),
        st.builds(
            lambda factor, large: (factor.times if large else 1 / factor.times) - 1,
            st.sampled_from(FACTORS),
            st.booleans(),
        ),
    ),
)
def test_a_page_judges_a_typed_number_as_marking_does(case, system, which, unit_at, nearest, off_by):
    """The number lies at or around a right value or a slip, and is typed in any of the units that the page offers."""
    exercise, key = case
    variant, page = page_of(exercise, system, which)
    data = item_data(page, key)
    centres = [data["model"], *(sum(slip["at"]) / 2 for slip in data["slips"])]
    unit = data["units"][unit_at % len(data["units"])]
    typed = centres[nearest % len(centres)] * (1 + off_by) / unit["factor"]
    value = typed * unit["factor"]
    assume(not near_an_edge(value, data))
    asked = next(one for one in data["units"] if one["label"] == data["unit"])
    right_as_asked = any(within(typed * asked["factor"], band) for band in data["accepts"])

    label = "" if unit["label"] == "no unit" else unit["label"]
    result = next(r for r in mark(variant, {key: Given(typed, label or "fraction")}) if r.item == key)
    right, slip = judged(value, data)
    if right:
        assert result.rule is Rule.RIGHT
    elif right_as_asked:
        assert result.rule is Rule.UNIT
    elif slip:
        assert (result.rule, result.slip) == (Rule.SLIP, slip)
    elif any(within(-value, band) for band in data["accepts"]):
        assert result.rule is Rule.SIGN
    elif off_by_a_factor(value, data):
        assert result.rule is Rule.FACTOR
    else:
        # A page counts no figures; a class's rule on rounding is the marking's.
        assert result.rule in (Rule.WRONG, Rule.ROUNDED)
        assert result.marks == 0


def numbers_follow(exercise: Exercise) -> bool:
    """Whether a number of the exercise is worked from another one."""
    numeric = {item.key for item in exercise.items if isinstance(item, Numeric) and not item.on_the_way}
    return any(numeric & set(exercise.item(key).uses) for key in numeric)


@each(lambda exercise: exercise.level < 3 and numbers_follow(exercise))
def test_a_page_follows_an_own_answer_as_marking_does(variants):
    """For each slip that a page follows through: answers at the middle of its bands are marked right, or followed.

    Cases are worked in papers alone: what follows from their choices is more than a page can judge.
    """
    for which in range(max(2, DRAWS // 4)):
        variant, page = page_of(variants[0].exercise.id, variants[0].system, which)
        for item in variant.exercise.items:
            if not isinstance(item, Numeric) or item.on_the_way:
                continue
            for follow in item_data(page, item.key)["follows"]:
                script = {key: typed_in_base(variant, key, sum(band) / 2) for key, band in follow["when"].items()}
                script[item.key] = typed_in_base(variant, item.key, sum(follow["accepts"][0]) / 2)
                results = {result.item: result for result in mark(variant, script)}
                assert results[item.key].rule in (Rule.FOLLOWED, Rule.RIGHT)
                if any(results[key].rule is Rule.RIGHT for key in follow["when"]):
                    continue
                model = variant.key[item.key].to_base_units().magnitude
                if not any(
                    within(sum(follow["accepts"][0]) / 2, band) for band in item_data(page, item.key)["accepts"]
                ):
                    assert results[item.key].rule is Rule.FOLLOWED, f"{item.key} of {model}"


def typed_in_base(variant: Variant, key: str, value: float) -> Given:
    """An answer in base units, typed in the unit that the paper asks for."""
    item = variant.exercise.item(key)
    assert isinstance(item, Numeric | Chosen)
    unit = read_unit(variant.unit(item))
    base = Quantity(1.0, unit).to_base_units().units
    return Given(float(Quantity(value, base).m_as(unit)), variant.unit(item))


@each(numbers_follow)
def test_every_dependent_number_can_be_followed_from_a_slip(variants):
    variant, page = page_of(variants[0].exercise.id, variants[0].system, 0)
    for item in variant.exercise.items:
        if isinstance(item, Numeric) and not item.on_the_way and can_be_followed(variant, item):
            assert item_data(page, item.key)["follows"]


def can_be_followed(variant: Variant, item: Numeric) -> bool:
    """Whether some slip of a number that an item uses can be carried on to another answer than the key's."""
    for use in item.uses:
        other = variant.exercise.item(use)
        if isinstance(other, Numeric) and not other.on_the_way:
            for _, wrong in variant.slip_values(other, variant.key):
                try:
                    carried = variant.answer(item, {**variant.key, use: wrong})
                except CalculationError:
                    continue
                if carried != variant.key[item.key] and item.tolerance.reach(carried):
                    return True
    return False


@of_kind(Numeric, Chosen)
@pytest.mark.parametrize("system", System)
def test_units_on_a_page_have_the_factors_of_the_unit_reader(exercise, system):
    variant, page = page_of(exercise.id, system, 0)
    for item in exercise.items:
        if not isinstance(item, Numeric | Chosen) or (isinstance(item, Numeric) and item.on_the_way):
            continue
        data = item_data(page, item.key)
        assert data["unit"] == (spelled(variant.unit(item)) or "no unit")
        assert data["unit"] in [unit["label"] for unit in data["units"]]
        for unit in data["units"]:
            named = read_unit("fraction" if unit["label"] == "no unit" else unit["label"])
            assert unit["factor"] == pytest.approx(Quantity(1.0, named).to_base_units().magnitude, rel=1e-12)
        assert data["measures"] == kind_of(variant.unit(item))


@of_kind(Choice, Order)
def test_a_page_offers_choices_and_steps_with_their_letters(variants):
    variant, page = page_of(variants[0].exercise.id, variants[0].system, 0)
    for item in variant.exercise.items:
        if isinstance(item, Numeric | Chosen | Written):
            continue
        data = item_data(page, item.key)
        right = variant.shown_answer(item, variant.key[item.key])
        if isinstance(item, Choice):
            sound = {item.letter(option) for option in variant.sound_options(item, variant.key)}
            assert {option["letter"] for option in data["options"] if option["right"]} == sound >= {right}
        else:
            place = {letter: at for at, letter in enumerate(right)}
            assert sorted(place) == [step["letter"] for step in data["steps"]]
            assert all(place[rule["before"]] < place[rule["after"]] for rule in data["rules"])


def test_a_practice_set_is_the_same_at_each_build():
    once, again = (json.dumps(practice_set(BANK["weight-up-growing"], 3), sort_keys=True) for _ in range(2))
    assert once == again
    systems = json.loads(once)["systems"]
    assert sorted(systems) == ["field", "metric"]
    for pages in systems.values():
        assert len({json.dumps(page) for page in pages}) == 3


def test_worked_solutions_end_in_the_printed_answer(variants):
    """The last result of a numeric part's worked solution is what the part is shown to be, but for its last digits."""
    for variant in variants[:10]:
        for part in variant.exercise.parts:
            assert worked_text(variant, part)
            if isinstance(part, Numeric):
                last = variant.working(part)[-1].value.quantity
                shown = variant.printed_answer(part).quantity
                half_a_digit = 0.51 * 10.0 ** -variant.printed_answer(part).decimals
                near = max(0.012 * abs(shown.magnitude), part.tolerance.reach(variant.key[part.key])) + half_a_digit
                assert abs(last.m_as(shown.units) - shown.magnitude) <= near
