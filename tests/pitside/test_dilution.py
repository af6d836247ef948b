"""Cutting back and mixing: balances, both routes, limits, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.dilution import blend_volumes, dilution_volume, mixed_density, mixed_fraction, replacement_volume
from pitside.errors import CalculationError
from pitside.materials import BARITE
from pitside.units import WATER_4C, WATER_FIELD, Q
from pitside.weighting import mud_weight_after

VOLUME, OLD, NEW = Q(600, "bbl"), Q(13.4, "lb/gal"), Q(12.1, "lb/gal")
ARGUMENTS = (VOLUME, OLD, NEW, WATER_FIELD)
FUNCTIONS = (dilution_volume, replacement_volume)


@st.composite
def jobs(draw):
    new = draw(st.floats(8.6, 17.0))
    return Q(draw(st.floats(1, 3000)), "bbl"), Q(new + draw(st.floats(0.01, 3.0)), "lb/gal"), Q(new, "lb/gal")


def together(*quantities):
    return Q(1, "") * np.stack([quantity.magnitude for quantity in quantities]) * quantities[0].units


def test_results_are_in_si():
    assert [str(function(*ARGUMENTS).units) for function in FUNCTIONS] == ["m³", "m³"]
    assert str(mixed_density(Q([1, 2], "bbl"), Q([9, 12], "lb/gal")).units) == "kg/m³"


@given(jobs())
def test_dilution_makes_the_target(job):
    volume, old, new = job
    water = dilution_volume(volume, old, new, WATER_FIELD)
    mixed = mixed_density(together(volume.to("m**3"), water), together(old, WATER_FIELD))
    assert mixed.m_as("lb/gal") == pytest.approx(new.m_as("lb/gal"))


@given(jobs())
def test_replacement_makes_the_target_at_the_same_volume(job):
    volume, old, new = job
    water = replacement_volume(volume, old, new, WATER_FIELD)
    mixed = mixed_density(together(volume.to("m**3") - water, water), together(old, WATER_FIELD))
    assert mixed.m_as("lb/gal") == pytest.approx(new.m_as("lb/gal"))


@given(jobs())
def test_replacing_takes_less_liquid_than_growing(job):
    assert replacement_volume(*job, WATER_FIELD) < dilution_volume(*job, WATER_FIELD)


def test_a_mud_at_its_target_needs_nothing():
    assert [function(VOLUME, NEW, NEW, WATER_FIELD).magnitude for function in FUNCTIONS] == [0, 0]


@pytest.mark.parametrize("function", FUNCTIONS)
def test_no_mud_needs_no_liquid(function):
    assert function(Q(0, "bbl"), *ARGUMENTS[1:]).magnitude == 0


def test_cutting_back_to_the_diluent_replaces_all_of_it_in_the_limit():
    almost = replacement_volume(VOLUME, OLD, WATER_FIELD * 1.000001, WATER_FIELD)
    assert almost.m_as("bbl") == pytest.approx(600, rel=1e-4)


def test_arrays_give_what_their_elements_give():
    targets = Q([12.0, 12.5, 13.0], "lb/gal")
    for function in FUNCTIONS:
        one_by_one = [function(VOLUME, OLD, target, WATER_FIELD).magnitude for target in targets]
        np.testing.assert_allclose(function(VOLUME, OLD, targets, WATER_FIELD).magnitude, one_by_one)


@pytest.mark.parametrize("function", FUNCTIONS)
@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({0: Q(-1, "bbl")}, "volume must not be negative"),
        ({1: Q(12.0, "lb/gal")}, "target is above the mud weight.*weight up instead"),
        ({2: WATER_FIELD}, "diluent must be lighter than the target"),
        ({2: Q([12, 8], "lb/gal")}, "diluent must be lighter than the target"),
        ({3: Q(0, "lb/gal")}, "density of the diluent must be above zero"),
        ({3: Q(8.33, "lb")}, r"diluent density must have a unit of \[density\]"),
    ],
)
def test_what_cannot_be_is_refused(function, change, complaint):
    with pytest.raises(CalculationError, match=complaint):
        function(*(change.get(place, value) for place, value in enumerate(ARGUMENTS)))


@given(st.lists(st.tuples(st.floats(0.1, 1000), st.floats(7, 20)), min_size=1, max_size=5))
def test_a_mixture_lies_between_its_parts_and_keeps_their_mass(parts):
    volumes, densities = np.array(parts).T
    mixed = mixed_density(Q(volumes, "bbl"), Q(densities, "lb/gal")).m_as("lb/gal")
    assert min(densities) - 1e-9 <= mixed <= max(densities) + 1e-9
    assert mixed * volumes.sum() == pytest.approx(volumes @ densities)


def test_mixing_agrees_with_weighting_up():
    barite = Q(100, "sack")
    mixed = mixed_density(
        together(VOLUME.to("m**3"), (barite / BARITE).to("m**3")), together(OLD.to("SG"), BARITE.to("SG"))
    )
    assert mixed.magnitude == pytest.approx(mud_weight_after(VOLUME, OLD, barite, BARITE).magnitude)


def test_mixing_works_down_the_first_axis():
    mixed = mixed_density(Q([[100, 100], [0, 100]], "bbl"), Q([[10, 10], [14, 14]], "lb/gal"))
    np.testing.assert_allclose(mixed.m_as("lb/gal"), [10, 12])


def test_fractions_mix_by_volume():
    assert mixed_fraction(Q([100, 100], "bbl"), [1.0, 0.0]).magnitude == pytest.approx(0.5)
    assert mixed_fraction(Q([300, 100], "bbl"), [0.08, 0.0]).magnitude == pytest.approx(0.06)
    assert mixed_fraction(Q([300, 100], "bbl"), Q([8, 4], "percent")).m_as("percent") == pytest.approx(7)


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: mixed_density(Q(1, "bbl"), Q(12, "lb/gal")), "give a list of volumes"),
        (lambda: mixed_density(Q([1, 2], "bbl"), Q(12, "lb/gal")), "give a list of volumes"),
        (lambda: mixed_density(Q(1, "bbl"), Q([12, 11], "lb/gal")), "give a list of volumes"),
        (lambda: mixed_density(Q([1, 2], "bbl"), Q([12, 11, 10], "lb/gal")), "as many volumes as values"),
        (lambda: mixed_density(Q([1, -2], "bbl"), Q([12, 11], "lb/gal")), "a volume must not be negative"),
        (lambda: mixed_density(Q([0, 0], "bbl"), Q([12, 11], "lb/gal")), "volumes add up to nothing"),
        (lambda: mixed_density(Q([1, 2], "bbl"), Q([12, 0], "lb/gal")), "each density must be above zero"),
        (lambda: mixed_fraction(Q([1, 2], "bbl"), [0.5, 1.001]), "between 0 and 100 %"),
        (lambda: mixed_fraction(Q([1, 2], "bbl"), [-0.1, 0.2]), "between 0 and 100 %"),
    ],
)
def test_an_impossible_mixture_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()


@given(jobs(), st.floats(0, 1))
def test_a_blend_makes_the_target_and_fills_the_volume(job, share):
    volume, heavy, light = job
    target = light + share * (heavy - light)
    parts = blend_volumes(volume, heavy, light, target)
    assert sum(part.m_as("bbl") for part in parts) == pytest.approx(volume.m_as("bbl"))
    mixed = mixed_density(together(*(abs(part) for part in parts)), together(heavy, light))
    assert mixed.m_as("lb/gal") == pytest.approx(target.m_as("lb/gal"))


def test_a_blend_to_either_end_is_all_one_mud():
    assert blend_volumes(VOLUME, OLD, NEW, OLD)[1].m_as("bbl") == pytest.approx(0, abs=1e-9)
    assert blend_volumes(VOLUME, OLD, NEW, NEW)[0].magnitude == 0
    assert [part.magnitude for part in blend_volumes(Q(0, "bbl"), OLD, NEW, NEW)] == [0, 0]


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        ((VOLUME, OLD, NEW, Q(14, "lb/gal")), "target must lie between the two muds"),
        ((VOLUME, OLD, NEW, Q(12, "lb/gal")), "target must lie between the two muds"),
        ((VOLUME, NEW, OLD, NEW), "light mud must be lighter than the heavy one"),
        ((VOLUME, OLD, OLD, OLD), "light mud must be lighter than the heavy one"),
        ((VOLUME, OLD, Q(0, "SG"), NEW), "light mud must be lighter than the heavy one, and above zero"),
        ((Q(-1, "bbl"), OLD, WATER_4C, NEW), "final volume must not be negative"),
    ],
)
def test_an_impossible_blend_is_refused(arguments, complaint):
    with pytest.raises(CalculationError, match=complaint):
        blend_volumes(*arguments)
