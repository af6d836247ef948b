"""Exercises on solids, sizes and settling against outside figures: the outside answer is marked right."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from fluids import v_terminal

from exercises.model import System
from exercises.model.answers import Given
from exercises.model.marking import ItemMark, Rule, mark
from exercises.model.variant import Variant
from tests.published.published_exercise import by_hand

pytestmark = pytest.mark.published


def marked(variant: Variant, item: str, answer: float, unit: str) -> ItemMark:
    results = mark(variant, {item: Given(f"{answer:.5g}", unit)})
    return next(result for result in results if result.item == item)


REGIME = by_hand(
    "settling-regime",
    System.METRIC,
    fine=(74, "um", 0),
    coarse=(200, "um", 0),
    viscosity=(1.0, "cP", 1),
    liquid=(1000, "kg/m3", 0),
)
EQUAL = by_hand(
    "equal-settling-size",
    System.METRIC,
    mud_weight=(1800, "kg/m3", 0),
    liquid=(1320, "kg/m3", 0),
    grain=(10, "um", 0),
    drilled_grain=(30, "um", 0),
)
INVERT = by_hand(
    "solids-invert",
    System.METRIC,
    mud_weight=(1680, "kg/m3", 0),
    oil=(56, "%", 0),
    water=(24, "%", 0),
    salt=(25, "%", 0),
    drilled=(5.0, "%", 1),
    brine=(1.230, "SG", 3),
)


@pytest.mark.parametrize(("row", "size"), [("fine", 74e-6), ("coarse", 200e-6)])
def test_stokes_velocity_of_the_fluids_library_is_right(row, size):
    """fluids 1.3.1, v_terminal(Method="Stokes"); the usual mistake of the radius is named."""
    outside = 1000 * v_terminal(size, 2600.0, 1000.0, 1e-3, Method="Stokes")
    assert marked(REGIME, f"a.{row}.velocity", outside, "mm/s").rule is Rule.RIGHT
    radius = marked(REGIME, f"a.{row}.velocity", outside / 4, "mm/s")
    assert (radius.rule, radius.slip, radius.marks) == (Rule.SLIP, "radius for diameter", 0)


def test_velocity_of_a_natural_grain_is_right_and_stokes_is_named():
    """Ferguson and Church 2004, seen restated: 22.66 mm/s at 200 um with C1 18 and C2 1.0; the velocity is derived."""
    assert marked(REGIME, "c", 22.66, "mm/s").rule is Rule.RIGHT
    kept = marked(REGIME, "c", 34.87, "mm/s")
    assert (kept.rule, kept.slip) == (Rule.SLIP, "Stokes kept")


def test_the_handbook_rule_of_one_and_a_half_is_right_in_its_liquid():
    """10 um barite with 15 um drilled solids: drilling fluids processing text (ASME 2005, by inference)."""
    assert marked(EQUAL, "a", 1.5, "fraction").rule is Rule.RIGHT
    assert marked(EQUAL, "b", 15.0, "um").rule is Rule.RIGHT
    assert marked(EQUAL, "a", 1 / 1.5, "fraction").slip == "upside down"


def test_oil_water_ratio_of_seventy_thirty_is_right():
    """42/18/40 and 63/27/10 make 70/30 ("Calculations for NAF base muds", author unknown); so do 56 and 24."""
    assert marked(INVERT, "a", 70.0, "%").rule is Rule.RIGHT
    assert marked(INVERT, "a", 56.0, "%").slip == "share of the whole mud"


def test_brine_volume_from_coolprop_is_right():
    """CoolProp, calcium chloride brine MCA at 20 degC, in a mass balance solved here."""
    density = PropsSI("D", "T", 293.15, "P", 101325, "INCOMP::MCA[0.25]")
    water = PropsSI("D", "T", 293.15, "P", 101325, "Water")
    assert marked(INVERT, "b", 24 * water / 0.75 / density, "%").rule is Rule.RIGHT
    assert marked(INVERT, "b", 24.0, "%").slip == "water for brine"
