"""Density, specific gravity and gradient: units, arrays, round trips, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.density import (
    WATER_4C,
    WATER_FIELD,
    density_from_gradient,
    density_from_sg,
    pressure_gradient,
    specific_gravity,
)
from pitside.errors import CalculationError
from pitside.units import Q

sgs = st.floats(0.5, 8.0)


def test_results_are_in_si():
    assert str(density_from_sg(1.2).units) == "kg/m³"
    assert specific_gravity(Q(12, "lb/gal")).dimensionless
    assert str(pressure_gradient(Q(12, "lb/gal")).units) == "Pa/m"


def test_the_unit_sg_and_the_function_agree():
    assert density_from_sg(1.44).m_as("SG") == pytest.approx(1.44)
    assert specific_gravity(Q(1.44, "SG")).magnitude == pytest.approx(1.44)


@given(sgs)
def test_specific_gravity_goes_there_and_back(sg):
    for water in (WATER_4C, WATER_FIELD):
        assert specific_gravity(density_from_sg(sg, water), water).magnitude == pytest.approx(sg)


@given(sgs)
def test_gradient_goes_there_and_back(sg):
    assert density_from_gradient(pressure_gradient(Q(sg, "SG"))).m_as("SG") == pytest.approx(sg)


def test_arrays_give_what_their_elements_give():
    weights = Q([9.0, 12.0, 16.5], "lb/gal")
    for function in (specific_gravity, pressure_gradient):
        one_by_one = [function(weight).magnitude for weight in weights]
        np.testing.assert_allclose(function(weights).magnitude, one_by_one)


@pytest.mark.parametrize("sg", [0, -1.2, float("nan"), float("inf"), [1.2, 0.0]])
def test_an_impossible_specific_gravity_is_refused(sg):
    with pytest.raises(CalculationError, match=r"specific gravity must be above zero|sg must be a finite number"):
        density_from_sg(sg)


@pytest.mark.parametrize(
    ("function", "given_value", "complaint"),
    [
        (specific_gravity, Q(0, "lb/gal"), "density must be above zero"),
        (specific_gravity, Q(12, "lb"), r"density must have a unit of \[density\], not lb"),
        (specific_gravity, 12.0, r"density must be a quantity with a unit of \[density\]"),
        (density_from_sg, Q(1.2, "SG"), r"sg must have a unit of \[\]"),
        (pressure_gradient, Q(0, "kg/m**3"), "density must be above zero"),
        (density_from_gradient, Q(0, "psi/ft"), "gradient must be above zero"),
        (density_from_gradient, Q(0.5, "psi"), r"gradient must have a unit of \[pressure\]/\[length\]"),
    ],
)
def test_what_cannot_be_is_refused(function, given_value, complaint):
    with pytest.raises(CalculationError, match=complaint):
        function(given_value)


def test_a_reference_water_without_weight_is_refused():
    for function, value in ((density_from_sg, 1.2), (specific_gravity, Q(12, "lb/gal"))):
        with pytest.raises(CalculationError, match="reference water must be above zero"):
            function(value, Q(0, "kg/m**3"))
