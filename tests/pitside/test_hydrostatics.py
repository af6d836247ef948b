"""Column pressure: units, arrays, round trips, field and exact forms, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError
from pitside.hydrostatics import (
    FACTOR_LB_PER_FT3,
    FACTOR_LB_PER_GAL,
    FACTOR_SG,
    column_pressure,
    column_pressure_field,
    equivalent_mud_weight,
    equivalent_mud_weight_field,
    mud_weight_for_pressure,
)
from pitside.units import GRAVITY, Q

MUD, DEPTH = Q(12.5, "lb/gal"), Q(9_000, "ft")
weights = st.floats(6.0, 22.0)
depths = st.floats(100.0, 30_000.0)


def test_results_are_in_si():
    assert str(column_pressure(MUD, DEPTH).units) == "Pa"
    assert str(equivalent_mud_weight(Q(5_000, "psi"), DEPTH).units) == "kg/m³"


def test_field_and_metric_units_give_one_pressure():
    metric = column_pressure(Q(MUD.m_as("kg/m**3"), "kg/m**3"), Q(DEPTH.m_as("m"), "m"))
    assert column_pressure(MUD, DEPTH).m_as("psi") == pytest.approx(metric.m_as("psi"))


@given(weights, depths)
def test_pressure_goes_there_and_back(weight, depth):
    mud, tvd = Q(weight, "lb/gal"), Q(depth, "ft")
    assert equivalent_mud_weight(column_pressure(mud, tvd), tvd).m_as("lb/gal") == pytest.approx(weight)
    for factor in (FACTOR_LB_PER_GAL, FACTOR_LB_PER_FT3, FACTOR_SG):
        pressure = column_pressure_field(mud, tvd, factor)
        assert equivalent_mud_weight_field(pressure, tvd, factor).m_as("lb/gal") == pytest.approx(weight)
        assert pressure.m_as("psi") == pytest.approx(column_pressure(mud, tvd).m_as("psi"), rel=0.0011)


def test_a_column_of_no_height_presses_nothing():
    assert column_pressure(MUD, Q(0, "ft")).magnitude == 0


def test_no_pressure_needs_no_mud():
    assert equivalent_mud_weight(Q(0, "psi"), DEPTH).magnitude == 0
    assert mud_weight_for_pressure(Q(0, "psi"), DEPTH).magnitude == 0


def test_pressure_adds_up_over_depth():
    halves = column_pressure(MUD, DEPTH / 2) * 2
    assert halves.magnitude == pytest.approx(column_pressure(MUD, DEPTH).magnitude)


def test_the_exact_factor_gives_the_exact_form():
    assert column_pressure_field(MUD, DEPTH, GRAVITY).magnitude == pytest.approx(column_pressure(MUD, DEPTH).magnitude)


def test_arrays_give_what_their_elements_give():
    muds, depths = Q([9.0, 12.0, 16.0], "lb/gal"), Q([1000, 5000, 12_000], "ft")
    one_by_one = [column_pressure(mud, depth).magnitude for mud, depth in zip(muds, depths, strict=True)]
    np.testing.assert_allclose(column_pressure(muds, depths).magnitude, one_by_one)
    assert column_pressure(muds[:, None], depths).shape == (3, 3)


@given(weights, depths, st.floats(0.0, 2_000.0))
def test_the_mud_stands_above_the_formation_by_the_overbalance(weight, depth, overbalance):
    tvd = Q(depth, "ft")
    formation = column_pressure(Q(weight, "lb/gal"), tvd)
    mud = mud_weight_for_pressure(formation, tvd, Q(overbalance, "psi"))
    assert (column_pressure(mud, tvd) - formation).m_as("psi") == pytest.approx(overbalance, abs=1e-6)


def test_without_overbalance_the_mud_just_balances():
    assert mud_weight_for_pressure(column_pressure(MUD, DEPTH), DEPTH).m_as("lb/gal") == pytest.approx(12.5)


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: column_pressure(Q(0, "lb/gal"), DEPTH), "mud weight must be above zero"),
        (lambda: column_pressure(MUD, Q(-1, "ft")), "true vertical depth must not be negative"),
        (lambda: column_pressure(MUD, Q([100, -1], "ft")), "true vertical depth must not be negative"),
        (lambda: column_pressure(DEPTH, MUD), r"mud weight must have a unit of \[density\], not ft"),
        (lambda: column_pressure(12.5, DEPTH), r"mud weight must be a quantity with a unit of \[density\]"),
        (
            lambda: column_pressure_field(MUD, DEPTH, 0.052),
            r"factor must be a quantity with a unit of",
        ),
        (lambda: column_pressure_field(MUD, DEPTH, 0 * FACTOR_LB_PER_GAL), "factor must be above zero"),
        (lambda: equivalent_mud_weight(Q(100, "psi"), Q(0, "ft")), "true vertical depth must be above zero"),
        (lambda: equivalent_mud_weight(Q(-100, "psi"), DEPTH), "pressure must not be negative"),
        (lambda: equivalent_mud_weight_field(Q(100, "psi"), DEPTH, 0 * GRAVITY), "factor must be above zero"),
        (lambda: mud_weight_for_pressure(Q(-1, "psi"), DEPTH), "formation pressure must not be negative"),
        (lambda: mud_weight_for_pressure(Q(1, "psi"), DEPTH, Q(-1, "psi")), "overbalance must not be negative"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
