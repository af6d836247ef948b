"""Weighting up: mass and volume balances, both routes, limits, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError
from pitside.materials import BARITE, BARITE_FIELD, CALCIUM_CARBONATE
from pitside.units import Q
from pitside.weighting import (
    mud_weight_after,
    start_volume,
    volume_rise,
    weighting_mass,
    weighting_mass_fixed_final,
)

VOLUME, OLD, NEW = Q(400, "bbl"), Q(11.2, "lb/gal"), Q(13.1, "lb/gal")
ARGUMENTS = (VOLUME, OLD, NEW, BARITE)
FUNCTIONS = (weighting_mass, volume_rise, start_volume, weighting_mass_fixed_final)


@st.composite
def jobs(draw):
    old = draw(st.floats(8.4, 18.0))
    return Q(draw(st.floats(1, 3000)), "bbl"), Q(old, "lb/gal"), Q(old + draw(st.floats(0.05, 3.0)), "lb/gal")


def test_results_are_in_si():
    units = ["kg", "m³", "m³", "kg"]
    assert [str(function(*ARGUMENTS).units) for function in FUNCTIONS] == units


@given(jobs())
def test_the_mass_makes_the_target(job):
    volume, old, new = job
    mass = weighting_mass(volume, old, new, BARITE)
    assert mud_weight_after(volume, old, mass, BARITE).m_as("lb/gal") == pytest.approx(new.m_as("lb/gal"))


@given(jobs())
def test_the_rise_is_the_volume_of_the_material(job):
    rise, mass = volume_rise(*job, BARITE), weighting_mass(*job, BARITE)
    assert (rise * BARITE).m_as("kg") == pytest.approx(mass.m_as("kg"))


@given(jobs())
def test_weighting_up_the_start_volume_ends_at_the_final_volume(job):
    final, old, new = job
    start = start_volume(final, old, new, BARITE)
    assert (start + volume_rise(start, old, new, BARITE)).m_as("bbl") == pytest.approx(final.m_as("bbl"))
    fixed = weighting_mass_fixed_final(final, old, new, BARITE)
    assert weighting_mass(start, old, new, BARITE).m_as("kg") == pytest.approx(fixed.m_as("kg"))


@given(jobs())
def test_the_growing_volume_takes_more_material(job):
    assert weighting_mass(*job, BARITE) > weighting_mass_fixed_final(*job, BARITE)


def test_a_mud_at_its_target_needs_nothing():
    same = (VOLUME, OLD, OLD, BARITE)
    assert [function(*same).magnitude for function in (weighting_mass, volume_rise)] == [0, 0]
    assert start_volume(*same).m_as("bbl") == pytest.approx(400)
    assert mud_weight_after(VOLUME, OLD, Q(0, "lb"), BARITE).m_as("lb/gal") == pytest.approx(11.2)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_no_mud_needs_no_material(function):
    assert function(Q(0, "bbl"), *ARGUMENTS[1:]).magnitude == 0


def test_material_runs_away_near_its_own_density():
    near = [weighting_mass(VOLUME, OLD, BARITE * share, BARITE).m_as("kg") for share in (0.9, 0.99, 0.999)]
    assert near[1] > 10 * near[0]
    assert near[2] > 10 * near[1]


def test_a_lighter_material_takes_more_mass_and_room():
    for function in (weighting_mass, volume_rise):
        assert function(VOLUME, OLD, NEW, CALCIUM_CARBONATE) > function(*ARGUMENTS)


def test_arrays_give_what_their_elements_give():
    targets = Q([12.0, 13.0, 14.5], "lb/gal")
    for function in FUNCTIONS:
        one_by_one = [function(VOLUME, OLD, target, BARITE).magnitude for target in targets]
        np.testing.assert_allclose(function(VOLUME, OLD, targets, BARITE).magnitude, one_by_one)


def test_field_and_metric_units_give_one_mass():
    metric = weighting_mass(
        *(
            Q(value.m_as(unit), unit)
            for value, unit in zip((VOLUME, OLD, NEW, BARITE_FIELD), ("m**3", "kg/m**3", "SG", "g/cm**3"), strict=True)
        )
    )
    assert metric.m_as("lb") == pytest.approx(weighting_mass(VOLUME, OLD, NEW, BARITE_FIELD).m_as("lb"))


@pytest.mark.parametrize("function", FUNCTIONS)
@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({0: Q(-1, "bbl")}, "volume must not be negative"),
        ({0: Q(400, "lb")}, r"volume must have a unit of \[volume\], not lb"),
        ({1: Q(0, "lb/gal")}, "mud weight must be above zero"),
        ({2: Q(11.0, "lb/gal")}, "target is below the mud weight.*dilute instead"),
        ({2: Q([12.0, 11.0], "lb/gal")}, "target is below the mud weight"),
        ({2: Q(float("nan"), "lb/gal")}, "target must be a finite number"),
        ({3: NEW}, "material must be denser than the target"),
        ({3: 4.2}, r"material density must be a quantity with a unit of \[density\]"),
    ],
)
def test_what_cannot_be_is_refused(function, change, complaint):
    with pytest.raises(CalculationError, match=complaint):
        function(*(change.get(place, value) for place, value in enumerate(ARGUMENTS)))


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({0: Q(0, "bbl")}, "volume must be above zero"),
        ({1: Q(0, "lb/gal")}, "mud weight and material density must be above zero"),
        ({2: Q(-1, "sack")}, "mass of material must not be negative"),
        ({3: Q(0, "SG")}, "mud weight and material density must be above zero"),
    ],
)
def test_an_impossible_addition_is_refused(change, complaint):
    addition = (VOLUME, OLD, Q(100, "sack"), BARITE)
    with pytest.raises(CalculationError, match=complaint):
        mud_weight_after(*(change.get(place, value) for place, value in enumerate(addition)))
