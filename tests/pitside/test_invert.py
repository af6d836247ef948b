"""Invert muds made up in the test and taken apart again; limits; readings that are refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError, ValidityWarning
from pitside.invert import (
    WATER_20C,
    Salt,
    brine_density,
    brine_fraction,
    corrected_solids,
    invert_analysis,
    oil_to_raise_ratio,
    salt_fraction,
    water_to_lower_ratio,
)
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.retort import OIL, solids_analysis
from pitside.units import WATER_4C, Q

READINGS = Q(14.0, "lb/gal"), Q(18, "percent"), Q(54, "percent"), Q(25, "percent")


@st.composite
def muds(draw):
    """Low gravity, high gravity, brine, salt of the brine and its mass fraction, of a mud that could be."""
    salt = draw(st.sampled_from(Salt))
    return (
        draw(st.floats(0.001, 0.15)),
        draw(st.floats(0.001, 0.25)),
        draw(st.floats(0.02, 0.4)),
        salt,
        draw(st.floats(0, salt.value.highest)),
    )


@given(muds())
def test_a_mud_made_up_is_found_again(mud):
    low, high, brine, salt, share = mud
    oil = 1 - low - high - brine
    density = brine_density(share, salt)
    weight = brine * density + oil * OIL + low * LOW_GRAVITY + high * BARITE
    water = (brine * density * (1 - share) / WATER_20C).m_as("")
    found = invert_analysis(weight, water, oil, share, salt=salt)
    assert found.low_gravity.magnitude == pytest.approx(low, abs=1e-9)
    assert found.high_gravity.magnitude == pytest.approx(high, abs=1e-9)
    assert found.brine.magnitude == pytest.approx(brine)
    assert found.corrected_solids.magnitude == pytest.approx(low + high)
    assert found.average_solids_density.m_as("SG") == pytest.approx((2.6 * low + 4.2 * high) / (low + high))
    chloride = brine * density * share / salt.value.mass_per_chloride
    assert salt_fraction(chloride, water, salt).magnitude == pytest.approx(share, abs=1e-12)


def test_the_fields_of_an_analysis_fit_together():
    found = invert_analysis(*READINGS)
    assert found.salt is Salt.CALCIUM_CHLORIDE
    assert found.retort_solids.m_as("percent") == pytest.approx(28)
    assert found.corrected_solids < found.retort_solids
    assert (found.brine + found.corrected_solids + READINGS[2]).m_as("") == pytest.approx(1)
    assert (found.low_gravity + found.high_gravity).magnitude == pytest.approx(found.corrected_solids.magnitude)
    assert (found.oil_share + found.water_share).magnitude == pytest.approx(1)
    assert found.oil_share.magnitude == pytest.approx(0.75)
    assert found.low_gravity_concentration.magnitude == pytest.approx(2600 * found.low_gravity.magnitude)
    assert found.high_gravity_concentration.magnitude == pytest.approx(4200 * found.high_gravity.magnitude)


def test_without_salt_it_is_the_analysis_of_a_fresh_water_mud_but_for_the_water_of_20_degrees():
    invert = invert_analysis(*READINGS[:3], 0.0)
    fresh = solids_analysis(*READINGS[:3])
    assert invert.brine.magnitude == pytest.approx(0.18)
    assert invert.corrected_solids.magnitude == pytest.approx(fresh.corrected_solids.magnitude)
    difference = (invert.low_gravity - fresh.low_gravity).m_as("percent")
    assert difference == pytest.approx(-18 * ((WATER_4C - WATER_20C) / Q(1600, "kg/m**3")).m_as(""), abs=1e-9)


def test_more_salt_means_more_brine_and_fewer_solids():
    shares = Q(np.linspace(0, 0.30, 31))
    assert np.all(np.diff(brine_density(shares).magnitude) > 0)
    assert np.all(np.diff(brine_fraction(0.18, shares).magnitude) > 0)
    assert np.all(np.diff(corrected_solids(0.18, 0.54, shares).magnitude) < 0)


def test_arrays_give_what_their_elements_give():
    weights = Q([13.5, 14.0, 14.5], "lb/gal")
    together = invert_analysis(weights, *READINGS[1:])
    for place in range(3):
        alone = invert_analysis(weights[place], *READINGS[1:])
        assert together.low_gravity[place].magnitude == pytest.approx(alone.low_gravity.magnitude)
        assert together.high_gravity_concentration[place].magnitude == pytest.approx(
            alone.high_gravity_concentration.magnitude
        )


def test_results_are_in_si():
    found = invert_analysis(*READINGS)
    assert str(found.brine_density.units) == str(found.average_solids_density.units) == "kg/m³"
    assert str(found.low_gravity.units) == ""


def test_a_retort_that_closes_passes_and_one_that_does_not_is_refused():
    for solids in (27, 28, 29):
        assert invert_analysis(*READINGS, solids=Q(solids, "percent")).retort_solids.m_as("percent") == pytest.approx(
            28
        )
    with pytest.raises(CalculationError, match=r"add up to 102\.0 %, not to 100 %"):
        invert_analysis(*READINGS, solids=Q(30, "percent"))
    with pytest.raises(CalculationError, match=r"add up to 98\.0 %, not to 100 %"):
        invert_analysis(*READINGS, solids=Q([28, 26], "percent"))
    assert invert_analysis(*READINGS, solids=Q(30, "percent"), closure=0.03).brine.magnitude > 0


@given(st.floats(0.2, 0.7), st.floats(0.02, 0.29), st.floats(0.001, 0.999))
def test_the_ratio_comes_out_as_wanted(oil, water, along):
    share = oil / (oil + water)
    higher = share + along * (0.999 - share)
    added = oil_to_raise_ratio(oil, water, higher).magnitude
    assert (oil + added) / (oil + added + water) == pytest.approx(higher)
    lower = share * (1 - along) + along * 0.01
    added = water_to_lower_ratio(oil, water, lower).magnitude
    assert oil / (oil + added + water) == pytest.approx(lower)


def test_a_ratio_that_is_there_already_needs_nothing():
    assert oil_to_raise_ratio(0.6, 0.2, 0.75).magnitude == pytest.approx(0, abs=1e-12)
    assert water_to_lower_ratio(0.6, 0.2, 0.75).magnitude == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("salt", Salt)
def test_a_brine_beyond_the_fit_is_warned_of(salt):
    brine_density(salt.value.highest, salt)
    with pytest.warns(ValidityWarning, match=f"more than .* of {salt.value.words} by weight"):
        brine_density(salt.value.highest + 0.001, salt)
    with pytest.warns(ValidityWarning, match="was not fitted there"):
        corrected_solids(0.1, 0.5, salt.value.highest + 0.001, salt)


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({0: Q(20, "lb/gal")}, "low-gravity solids come out negative"),
        ({0: Q(11, "lb/gal")}, "high-gravity solids come out negative"),
        ({0: Q(14, "lb")}, r"mud weight must have a unit of \[density\]"),
        ({1: 18}, "water and oil are more than the whole mud.*percent"),
        ({1: Q(-1, "percent")}, "water and oil must not be negative"),
        ({2: Q(83, "percent")}, "water and oil are more than the whole mud"),
        ({2: Q(81, "percent")}, "salt of this brine takes up more than the retort solids"),
        ({3: 25}, "mass fraction of salt must be at least 0 and below 100 %"),
        ({3: Q(-1, "percent")}, "mass fraction of salt must be at least 0"),
        ({3: Q(250, "kg/m**3")}, r"mass fraction must have a unit of \[\]"),
    ],
)
def test_readings_that_cannot_be_are_refused(change, complaint):
    with pytest.raises(CalculationError, match=complaint):
        invert_analysis(*(change.get(place, value) for place, value in enumerate(READINGS)))


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: salt_fraction(Q(-1, "mg/L"), 0.1), "chlorides must not be negative"),
        (lambda: salt_fraction(Q(1, "mg/L"), 0.0), "without water there is no brine"),
        (lambda: salt_fraction(Q(1, "mg/L"), 18), "water must lie above 0 and up to 100 %"),
        (lambda: salt_fraction(38_000, 0.1), r"chloride must be a quantity with a unit of \[density\]"),
        (lambda: brine_fraction(1.1, 0.2), "water must lie between 0 and 100 %"),
        (lambda: oil_to_raise_ratio(0.6, 0.2, 0.7), "add water"),
        (lambda: oil_to_raise_ratio(0.6, 0.0, 0.7), "without water there is no ratio"),
        (lambda: oil_to_raise_ratio(0.6, 0.2, 1.0), "share of oil must lie below 100 %"),
        (lambda: oil_to_raise_ratio(0.6, 0.5, 0.9), "more than the whole mud"),
        (lambda: water_to_lower_ratio(0.6, 0.2, 0.8), "add oil"),
        (lambda: water_to_lower_ratio(0.0, 0.2, 0.5), "without oil there is no ratio"),
        (lambda: water_to_lower_ratio(0.6, 0.2, 0.0), "share of oil must lie above 0 %"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
