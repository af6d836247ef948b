"""Solids analysis: muds made up in the test and taken apart again, arrays, limits, readings that are refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError, ValidityWarning
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.retort import (
    CHLORIDE_SATURATED,
    OIL,
    WATER_OF_TWELVE,
    SaltForm,
    average_solids_density,
    chloride_concentration,
    corrected_solids_api,
    corrected_solids_book,
    filtrate_density_api,
    filtrate_density_book,
    low_gravity_fraction,
    low_gravity_from_average,
    low_gravity_unweighted,
    oil_water_ratio,
    solids_analysis,
    solids_concentration,
)
from pitside.units import WATER_4C, Q

READINGS = (Q(16.0, "lb/gal"), Q(57, "percent"), Q(7.5, "percent"), Q(73_000, "mg/L"))
CORRECTIONS = {
    SaltForm.API: (corrected_solids_api, filtrate_density_api),
    SaltForm.BOOK: (corrected_solids_book, filtrate_density_book),
}


@st.composite
def muds(draw):
    """Low gravity, high gravity, oil, chlorides of a mud that could be."""
    return (
        draw(st.floats(0.01, 0.15)),
        draw(st.floats(0.01, 0.25)),
        draw(st.floats(0.0, 0.12)),
        draw(st.floats(0.0, 180_000.0)),
    )


@pytest.mark.parametrize("form", SaltForm)
@given(mud=muds())
def test_a_mud_made_up_is_found_again(form, mud):
    low, high, oil, chloride = mud
    corrected, density = CORRECTIONS[form]
    chloride = Q(chloride, "mg/L")
    brine = 1 - low - high - oil
    # The water that the retort gives is the brine less what its salt takes up; a water of 1 % shows how much that is.
    salt_of_water = (0.99 - corrected(0.01, 0.0, chloride)) / 0.01
    water = brine / (1 + salt_of_water)
    weight = brine * density(chloride) + oil * OIL + low * LOW_GRAVITY + high * BARITE
    found = solids_analysis(weight, water, oil, chloride, form=form)
    assert found.low_gravity.magnitude == pytest.approx(low, abs=1e-9)
    assert found.high_gravity.magnitude == pytest.approx(high, abs=1e-9)
    assert found.average_solids_density.magnitude == pytest.approx((2600 * low + 4200 * high) / (low + high))


@pytest.mark.parametrize("form", SaltForm)
def test_the_fields_of_an_analysis_fit_together(form):
    found = solids_analysis(*READINGS, form=form)
    assert found.form is form
    assert found.retort_solids.m_as("percent") == pytest.approx(35.5)
    assert found.corrected_solids < found.retort_solids
    assert (found.low_gravity + found.high_gravity).magnitude == pytest.approx(found.corrected_solids.magnitude)
    assert found.low_gravity_concentration.magnitude == pytest.approx(2600 * found.low_gravity.magnitude)
    assert found.high_gravity_concentration.magnitude == pytest.approx(4200 * found.high_gravity.magnitude)
    assert str(found.high_gravity_concentration.units) == "kg/m³"


@pytest.mark.parametrize("form", SaltForm)
def test_fresh_water_needs_no_correction(form):
    found = solids_analysis(Q(11.0, "lb/gal"), Q(84, "percent"), form=form)
    assert found.corrected_solids.m_as("percent") == pytest.approx(16)
    assert found.filtrate_density.magnitude == pytest.approx(1000)


@pytest.mark.parametrize("form", SaltForm)
def test_arrays_give_what_their_elements_give(form):
    weights, waters = Q([15.5, 16.0, 16.5], "lb/gal"), Q([58, 57, 56], "percent")
    together = solids_analysis(weights, waters, *READINGS[2:], form=form)
    for place in range(3):
        alone = solids_analysis(weights[place], waters[place], *READINGS[2:], form=form)
        for field in ("corrected_solids", "average_solids_density", "low_gravity", "high_gravity_concentration"):
            found = np.broadcast_to(getattr(together, field).magnitude, 3)[place]
            assert found == pytest.approx(getattr(alone, field).magnitude)


def test_a_fraction_and_a_percentage_are_one_reading():
    as_fractions = solids_analysis(READINGS[0], 0.57, 0.075, READINGS[3])
    assert as_fractions.low_gravity.magnitude == pytest.approx(solids_analysis(*READINGS).low_gravity.magnitude)


@pytest.mark.parametrize("form", SaltForm)
def test_more_salt_means_less_solids_and_heavier_filtrate(form):
    corrected, density = CORRECTIONS[form]
    chlorides = Q(np.linspace(0, 190_000, 20), "mg/L")
    assert np.all(np.diff(corrected(0.57, 0.075, chlorides).magnitude) < 0)
    assert np.all(np.diff(density(chlorides).magnitude) > 0)


def test_the_rounded_twelve_takes_low_gravity_solids_off():
    """Common practice writes 12 x lb/gal for what is 11.983 x lb/gal: 0.16 points at 15 lb/gal."""
    arguments = (Q(15.0, "lb/gal"), Q(30, "percent"), WATER_4C)
    exact, rounded = low_gravity_fraction(*arguments), low_gravity_fraction(*arguments, reference_water=WATER_OF_TWELVE)
    assert (exact - rounded).m_as("percent") == pytest.approx(0.16, abs=0.005)


def test_all_low_gravity_and_all_barite_are_the_ends():
    solids = 0.20
    for density, expected in ((LOW_GRAVITY, solids), (BARITE, 0.0)):
        weight = (1 - solids) * WATER_4C + solids * density
        assert low_gravity_fraction(weight, solids, WATER_4C).magnitude == pytest.approx(expected, abs=1e-9)


@given(muds())
def test_the_two_steps_of_a_calculator_give_the_same(mud):
    low, high, oil, _ = mud
    weight = (1 - low - high - oil) * WATER_4C + oil * OIL + low * LOW_GRAVITY + high * BARITE
    average = average_solids_density(weight, low + high, WATER_4C, oil)
    assert low_gravity_from_average(low + high, average).magnitude == pytest.approx(low, abs=1e-9)


def test_borders_that_can_be_are_taken():
    assert low_gravity_fraction(WATER_4C, 0.0, WATER_4C).magnitude == 0
    assert low_gravity_fraction(0.9 * BARITE + 0.1 * OIL, 0.9, WATER_4C, 0.1).magnitude == pytest.approx(0, abs=1e-9)
    assert low_gravity_unweighted(LOW_GRAVITY).magnitude == 1
    assert low_gravity_from_average([0.0, 1.0], LOW_GRAVITY).magnitude.tolist() == [0, 1]
    assert low_gravity_from_average(0.3, BARITE).magnitude == 0
    assert solids_concentration([0.0, 1.0], BARITE).m_as("SG").tolist() == pytest.approx([0, 4.2])
    assert chloride_concentration([0.0, 1.0], WATER_4C).m_as("SG").tolist() == pytest.approx([0, 1])


def test_an_unweighted_mud_is_the_same_by_weight_alone():
    weight = 0.94 * WATER_4C + 0.06 * LOW_GRAVITY
    assert low_gravity_unweighted(weight).magnitude == pytest.approx(0.06)
    assert low_gravity_unweighted(WATER_4C).magnitude == 0
    np.testing.assert_allclose(low_gravity_unweighted(Q([1.08, 1.16], "SG")).magnitude, [0.05, 0.10])


def test_a_retort_that_closes_passes_and_one_that_does_not_is_refused():
    for solids in (35.5, 36.4, 34.6):
        assert solids_analysis(*READINGS, solids=Q(solids, "percent")).retort_solids.m_as("percent") == pytest.approx(
            35.5
        )
    with pytest.raises(CalculationError, match=r"add up to 102\.5 %, not to 100 %"):
        solids_analysis(*READINGS, solids=Q(38, "percent"))
    with pytest.raises(CalculationError, match=r"add up to 98\.0 %, not to 100 %"):
        solids_analysis(*READINGS, solids=Q([35.5, 33.5], "percent"))
    assert solids_analysis(*READINGS, solids=Q(38, "percent"), closure=0.03).retort_solids.magnitude > 0


@pytest.mark.parametrize("form", SaltForm)
@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({0: Q(17.5, "lb/gal"), 1: Q(67, "percent")}, "low-gravity solids come out negative.*Check mud weight, water"),
        ({0: Q(12.0, "lb/gal")}, "high-gravity solids come out negative.*Check mud weight"),
        ({0: Q(5.0, "lb/gal")}, "liquids alone weigh more than the mud"),
        ({0: Q(0, "lb/gal")}, "mud weight and water density must be above zero"),
        ({0: Q(16, "lb")}, r"mud weight must have a unit of \[density\]"),
        ({1: 57}, "water and oil are more than the whole mud.*percent"),
        ({1: Q(95, "percent")}, "water and oil are more than the whole mud"),
        ({1: Q(-1, "percent")}, "water and oil must not be negative"),
        ({2: Q(-0.1, "percent")}, "water and oil must not be negative"),
        ({1: Q(92.4, "percent")}, "salt of this filtrate takes up more than the retort solids"),
        ({1: Q(92.5, "percent"), 3: Q(0, "mg/L")}, "no suspended solids"),
        ({3: Q(-1, "mg/L")}, "chlorides must not be negative"),
        ({3: Q(73_000, "ppm_mass")}, r"chloride must have a unit of \[density\]"),
        ({3: 73_000}, r"chloride must be a quantity with a unit of \[density\]"),
    ],
)
def test_readings_that_cannot_be_are_refused(form, change, complaint):
    with pytest.raises(CalculationError, match=complaint):
        solids_analysis(*(change.get(place, value) for place, value in enumerate(READINGS)), form=form)


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (
            lambda: low_gravity_fraction(Q(16, "lb/gal"), 0.3, WATER_4C, high_gravity_density=LOW_GRAVITY),
            "must be denser",
        ),
        (lambda: low_gravity_fraction(Q(16, "lb/gal"), 0.95, WATER_4C, 0.1), "solids and oil are more than the whole"),
        (lambda: low_gravity_fraction(Q(16, "lb/gal"), -0.1, WATER_4C), "solids and oil must not be negative"),
        (
            lambda: average_solids_density(Q(16, "lb/gal"), 0.3, Q(0, "SG")),
            "filtrate and oil density must be above zero",
        ),
        (lambda: average_solids_density(Q(16, "lb/gal"), 0.3, WATER_4C, 0.1, Q(0, "SG")), "filtrate and oil density"),
        (
            lambda: low_gravity_fraction(Q(16, "lb/gal"), 0.3, WATER_4C, reference_water=Q(0, "SG")),
            "mud weight and water density must be above zero",
        ),
        (lambda: low_gravity_fraction(Q(16, "lb/gal"), 0.91, WATER_4C, 0.1), "solids and oil are more than the whole"),
        (lambda: low_gravity_from_average(-0.1, Q(3.0, "SG")), "corrected solids must lie between 0 and 100 %"),
        (lambda: low_gravity_from_average(0.2, BARITE, BARITE, BARITE), "high-gravity solids must be denser"),
        (lambda: low_gravity_from_average(1.001, Q(3.0, "SG")), "corrected solids must lie between 0 and 100 %"),
        (lambda: low_gravity_from_average(0.2, Q(0.0, "SG")), "densities must be above zero"),
        (lambda: low_gravity_from_average(0.2, BARITE, LOW_GRAVITY, BARITE), "high-gravity solids must be denser"),
        (lambda: low_gravity_unweighted(Q(8.0, "lb/gal")), "lighter than its own water"),
        (lambda: low_gravity_unweighted(Q(22.0, "lb/gal")), "heavier than its own solids"),
        (lambda: low_gravity_unweighted(Q(9.0, "lb/gal"), LOW_GRAVITY), "solids must be denser than the filtrate"),
        (lambda: low_gravity_unweighted(Q(9.0, "lb/gal"), Q(0, "SG")), "density of the filtrate must be above zero"),
        (lambda: solids_concentration(1.001, BARITE), "between 0 and 100 %"),
        (lambda: solids_concentration(0.1, Q(0, "SG")), "density of the solids must be above zero"),
        (lambda: oil_water_ratio(0.0, 0.0), "no liquid"),
        (lambda: oil_water_ratio(0.7, 0.4), "more than the whole mud"),
        (lambda: chloride_concentration(1.001, WATER_4C), "between 0 and 100 %"),
        (lambda: chloride_concentration(0.1, Q(0, "SG")), "density of the filtrate must be above zero"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()


@pytest.mark.parametrize("calculate", [filtrate_density_api, filtrate_density_book])
def test_more_chlorides_than_salt_can_give_are_warned_of(calculate):
    calculate(CHLORIDE_SATURATED)
    with pytest.warns(ValidityWarning, match=r"chlorides above 192,000 mg/l"):
        calculate(CHLORIDE_SATURATED * 1.01)
    with pytest.warns(ValidityWarning, match=r"chlorides above 192,000 mg/l"):
        corrected_solids_api(0.5, 0.0, CHLORIDE_SATURATED * 1.01)


@given(st.floats(0.01, 0.6), st.floats(0.01, 0.39))
def test_oil_and_water_shares_are_one_together(oil, water):
    shares = oil_water_ratio(oil, water)
    assert sum(share.magnitude for share in shares) == pytest.approx(1)
    assert (shares[0] / shares[1]).magnitude == pytest.approx(oil / water)


def test_low_gravity_in_two_steps_by_the_average_density_is_the_same_as_in_one():
    solids = corrected_solids_api(*READINGS[1:])
    liquids = (filtrate_density_api(READINGS[3]), READINGS[2])
    average = average_solids_density(READINGS[0], solids, *liquids)
    in_one = low_gravity_fraction(READINGS[0], solids, *liquids)
    assert low_gravity_from_average(solids, average).magnitude == pytest.approx(in_one.magnitude, rel=1e-12)


@pytest.mark.parametrize("average", [Q(2.59, "SG"), Q(4.21, "SG")])
def test_an_average_density_outside_that_of_the_two_kinds_warns_and_leaves_one_of_them_negative(average):
    with pytest.warns(ValidityWarning, match="one of the two comes out negative"):
        low_gravity = low_gravity_from_average(0.3, average)
    assert low_gravity < 0 or low_gravity > 0.3
