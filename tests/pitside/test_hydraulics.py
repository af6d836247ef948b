"""Annular flow: the models agree where they meet, limits, laminar or not, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError, ValidityWarning
from pitside.hydraulics import (
    NO_YIELD,
    annular_loss,
    annular_reynolds_number,
    annular_velocity,
    annular_velocity_field,
    bingham_loss_field,
    bottom_hole_pressure,
    consistency,
    consistency_field,
    equivalent_circulating_density,
    equivalent_circulating_density_field,
    flow_index,
    low_shear_yield,
    plastic_viscosity,
    velocity_squared_loss_field,
    yield_point,
)
from pitside.hydrostatics import column_pressure, equivalent_mud_weight
from pitside.units import Q

HOLE, PIPE = Q(8.5, "in"), Q(5, "in")
ANNULUS = (Q(150, "ft/min"), Q(8000, "ft"), HOLE, PIPE, Q(12, "lb/gal"))
VISCOSITY, YIELD = Q(25, "cP"), Q(15, "lbf_100ft2")
READINGS = st.integers(10, 80).flatmap(lambda low: st.tuples(st.integers(low + 1, 2 * low), st.just(low)))


def test_results_are_in_si():
    values = [
        annular_velocity(Q(400, "gal/min"), HOLE, PIPE),
        plastic_viscosity(65, 40),
        yield_point(65, 40),
        annular_loss(*ANNULUS, VISCOSITY, yield_stress=YIELD),
        equivalent_circulating_density(Q(12, "lb/gal"), Q(100, "psi"), Q(9000, "ft")),
    ]
    assert [str(value.units) for value in values] == ["m/s", "Pa·s", "Pa", "Pa", "kg/m³"]


@given(READINGS)
def test_the_bingham_line_passes_through_both_readings(readings):
    high, low = readings
    viscosity, point = plastic_viscosity(high, low).m_as("cP"), yield_point(high, low).m_as("lbf_100ft2")
    assert point + viscosity == pytest.approx(low)
    assert point + 2 * viscosity == pytest.approx(high)


@given(READINGS, st.floats(0, 0.8))
def test_the_herschel_bulkley_curve_passes_through_both_readings(readings, share):
    high, low = readings
    offset = share * low
    index = flow_index(high, low, offset)
    factor = consistency(low, index, offset).m_as("Pa*s")
    for rate, reading in ((511, low), (1022, high)):
        assert factor * rate**index.magnitude / 0.511 + offset == pytest.approx(reading)


def test_a_newtonian_liquid_has_index_one_and_no_yield_point():
    assert flow_index(60, 30).magnitude == 1
    assert yield_point(60, 30).magnitude == 0
    assert consistency(30, 1).m_as("cP") == pytest.approx(30, rel=1e-12)
    assert consistency_field(30, 1).m_as("cP") == pytest.approx(30, rel=0.003)


@given(st.floats(0.3, 1), st.floats(0.01, 2), st.floats(0.02, 3))
def test_without_a_yield_stress_the_slot_is_the_power_law(index, factor, speed):
    gap = (HOLE - PIPE).m_as("m")
    rate = 12 * speed / gap * (2 * index + 1) / (3 * index)
    loss = 4 * factor * rate**index / gap * 100
    light = Q(1e-9, "kg/m**3")
    found = annular_loss(Q(speed, "m/s"), Q(100, "m"), HOLE, PIPE, light, Q(factor, "Pa*s"), index)
    assert found.magnitude == pytest.approx(loss, rel=1e-9)


@given(st.floats(0.3, 1), st.floats(0.01, 2), st.floats(0, 20), st.floats(0.001, 3))
def test_the_wall_stress_found_carries_the_flow_that_was_given(index, factor, point, speed):
    gap = (HOLE - PIPE).m_as("m")
    loss = annular_loss(
        Q(speed, "m/s"), Q(1, "m"), HOLE, PIPE, Q(1e-9, "kg/m**3"), Q(factor, "Pa*s"), index, Q(point, "Pa")
    )
    wall = loss.magnitude * gap / 4
    across = np.linspace(point / wall, 1, 4001)  # from the plug's edge to the wall
    rate = (np.maximum(across * wall - point, 0) / factor) ** (1 / index)
    carried = gap / 4 * np.trapezoid(across * rate, across)
    assert carried == pytest.approx(speed, rel=1e-4)


def test_a_mud_at_rest_needs_its_yield_stress_to_move():
    loss = annular_loss(Q(0, "m/s"), *ANNULUS[1:], VISCOSITY, yield_stress=YIELD)
    assert loss.m_as("psi") == pytest.approx(4 * 15 / 100 / 144 * 8000 / (3.5 / 12), rel=1e-9)
    assert annular_loss(Q(0, "m/s"), *ANNULUS[1:], VISCOSITY).magnitude == 0


@given(st.floats(0, 3), st.floats(1, 60), st.floats(0, 30))
def test_the_handbook_form_lies_above_the_slot_by_half_at_the_most(speed, viscosity, point):
    light = Q(1e-9, "kg/m**3")
    flow = (Q(speed, "m/s"), Q(1000, "m"), HOLE, PIPE)
    exact = annular_loss(*flow, light, Q(viscosity, "cP"), yield_stress=Q(point, "lbf_100ft2")).magnitude
    field = bingham_loss_field(*flow, Q(viscosity, "cP"), Q(point, "lbf_100ft2")).magnitude
    assert exact * 0.996 <= field <= exact * 1.5 * 1.003 + 1e-9


def test_losses_add_along_the_hole_and_rise_with_speed():
    losses = annular_loss(Q([0, 0.1, 0.5, 1.0], "m/s"), *ANNULUS[1:], VISCOSITY, 0.8, YIELD).magnitude
    assert np.all(np.diff(losses) > 0)
    double = annular_loss(ANNULUS[0], 2 * ANNULUS[1], *ANNULUS[2:], VISCOSITY, yield_stress=YIELD)
    assert double.magnitude == pytest.approx(2 * annular_loss(*ANNULUS, VISCOSITY, yield_stress=YIELD).magnitude)


def test_arrays_give_what_their_elements_give():
    speeds, indices = Q([[0.0], [0.4], [0.9]], "m/s"), np.array([0.5, 0.7, 1.0])
    found = annular_loss(speeds, *ANNULUS[1:], Q(200, "cP"), indices, YIELD).magnitude
    assert found.shape == (3, 3)
    for row, speed in enumerate(speeds[:, 0]):
        for column, index in enumerate(indices):
            one = annular_loss(speed, *ANNULUS[1:], Q(200, "cP"), index, YIELD).magnitude
            assert found[row, column] == pytest.approx(one, rel=1e-12)


def test_the_laminar_friction_factor_is_24_over_the_reynolds_number():
    arguments = (Q(400, "cP"), 0.6, YIELD)
    loss = annular_loss(*ANNULUS, *arguments)
    speed, length, hole, pipe, density = ANNULUS
    friction = loss * (hole - pipe) / (2 * length * density * speed**2)
    reynolds = annular_reynolds_number(speed, hole, pipe, density, *arguments)
    assert (friction * reynolds).m_as("") == pytest.approx(24)


def test_a_flow_that_is_not_laminar_is_warned_of():
    limit = annular_reynolds_number(Q(1, "m/s"), HOLE, PIPE, Q(1000, "kg/m**3"), Q(1, "cP")).magnitude
    fastest = 2100 / limit
    water = (Q(1, "m"), HOLE, PIPE, Q(1000, "kg/m**3"), Q(1, "cP"))
    annular_loss(Q(0.99 * fastest, "m/s"), *water)
    with pytest.warns(ValidityWarning, match="not laminar"):
        annular_loss(Q([0.1 * fastest, 1.01 * fastest], "m/s"), *water)


def test_a_thin_pipe_is_warned_of():
    with pytest.warns(ValidityWarning, match="leaves no slot"):
        annular_loss(Q(0.01, "m/s"), Q(1, "m"), HOLE, Q(2.5, "in"), Q(1000, "kg/m**3"), Q(50, "cP"))


def test_a_negative_yield_point_is_warned_of():
    with pytest.warns(ValidityWarning, match="below zero"):
        assert yield_point(70, 30).m_as("lbf_100ft2") == pytest.approx(-10)


def test_the_quick_formula_takes_no_heed_of_viscosity_and_goes_with_speed_squared():
    once = velocity_squared_loss_field(*ANNULUS)
    assert (velocity_squared_loss_field(2 * ANNULUS[0], *ANNULUS[1:]) / once).magnitude == pytest.approx(4)


@given(st.floats(8.4, 18), st.floats(0, 800), st.floats(3000, 20000))
def test_circulating_density_and_pressure_tell_one_story(weight, loss, depth):
    figures = (Q(weight, "lb/gal"), Q(loss, "psi"), Q(depth, "ft"))
    pressure = bottom_hole_pressure(*figures)
    density = equivalent_circulating_density(*figures)
    assert equivalent_mud_weight(pressure, figures[2]).magnitude == pytest.approx(density.magnitude)
    assert density >= equivalent_circulating_density_field(*figures) >= figures[0]


def test_a_pressure_held_on_the_annulus_is_felt_at_the_bottom():
    at_rest = bottom_hole_pressure(Q(12, "lb/gal"), Q(0, "psi"), Q(9000, "ft"))
    assert at_rest == column_pressure(Q(12, "lb/gal"), Q(9000, "ft"))
    held = bottom_hole_pressure(Q(12, "lb/gal"), Q(0, "psi"), Q(9000, "ft"), Q(300, "psi"))
    assert (held - at_rest).m_as("psi") == pytest.approx(300)


def test_the_field_velocity_is_a_little_less():
    flow = (Q([200, 400], "gal/min"), HOLE, PIPE)
    ratio = (annular_velocity_field(*flow) / annular_velocity(*flow)).magnitude
    assert ratio == pytest.approx(24.5 / 24.5098, rel=1e-5)


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({0: Q(-1, "m/s")}, "velocity must not be negative"),
        ({0: 1.0}, r"velocity must be a quantity with a unit of \[velocity\]"),
        ({1: Q(-1, "m")}, "length of the annulus must not be negative"),
        ({2: Q(5, "in")}, "pipe must be smaller than the hole"),
        ({3: Q(0, "in")}, "diameter must be above zero"),
        ({4: Q(0, "lb/gal")}, "density must be above zero"),
        ({5: Q(0, "cP")}, "consistency or viscosity must be above zero"),
        ({6: 0}, "flow index must be above zero"),
        ({7: Q(-1, "Pa")}, "yield stress must not be negative"),
    ],
)
def test_an_annulus_that_cannot_be_is_refused(change, complaint):
    arguments = (*ANNULUS, VISCOSITY, 1.0, NO_YIELD)
    with pytest.raises(CalculationError, match=complaint):
        annular_loss(*(change.get(place, value) for place, value in enumerate(arguments)))


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: annular_velocity(Q(-1, "gal/min"), HOLE, PIPE), "flow must not be negative"),
        (lambda: annular_velocity(Q(1, "gal/min"), PIPE, HOLE), "pipe must be smaller than the hole"),
        (lambda: annular_velocity_field(Q(-1, "gal/min"), HOLE, PIPE), "flow must not be negative"),
        (lambda: annular_velocity_field(Q(1, "gal/min"), PIPE, HOLE), "pipe must be smaller than the hole"),
        (lambda: plastic_viscosity(30, 40), "at 600 rev/min must be at least that at 300"),
        (lambda: yield_point(0, 0), "readings must be above zero"),
        (lambda: flow_index(65, 40, 40), "yield reading must be from 0"),
        (lambda: flow_index(65, 40, -1), "yield reading must be from 0"),
        (lambda: consistency(0, 0.7), "readings must be above zero"),
        (lambda: consistency(40, 0), "flow index must be above zero"),
        (lambda: consistency(40, 0.7, 41), "yield reading must be from 0"),
        (lambda: consistency_field(40, -1), "flow index must be above zero"),
        (lambda: consistency_field(0, 0.7), "readings must be above zero"),
        (lambda: low_shear_yield(-1, 2), "readings must not be negative"),
        (lambda: low_shear_yield(5, 4), "at 6 rev/min must be at least that at 3"),
        (lambda: low_shear_yield(3, 7), "comes out below zero"),
        (
            lambda: annular_reynolds_number(Q(0, "m/s"), HOLE, PIPE, Q(1, "SG"), VISCOSITY),
            "velocity must be above zero",
        ),
        (
            lambda: annular_reynolds_number(Q(1, "m/s"), HOLE, PIPE, Q(0, "SG"), VISCOSITY),
            "density must be above zero",
        ),
        (lambda: bingham_loss_field(Q(-1, "m/s"), Q(1, "m"), HOLE, PIPE, VISCOSITY, YIELD), "must not be negative"),
        (lambda: bingham_loss_field(Q(1, "m/s"), Q(1, "m"), HOLE, PIPE, -VISCOSITY, YIELD), "must not be negative"),
        (lambda: bingham_loss_field(Q(1, "m/s"), Q(1, "m"), HOLE, PIPE, VISCOSITY, -YIELD), "must not be negative"),
        (lambda: bingham_loss_field(Q(1, "m/s"), Q(1, "m"), PIPE, HOLE, VISCOSITY, YIELD), "pipe must be smaller"),
        (lambda: velocity_squared_loss_field(Q(1, "m/s"), Q(1, "m"), PIPE, HOLE, Q(1, "SG")), "pipe must be smaller"),
        (lambda: velocity_squared_loss_field(Q(1, "m/s"), Q(1, "m"), HOLE, PIPE, Q(0, "SG")), "mud weight must be"),
        (lambda: velocity_squared_loss_field(Q(1, "m/s"), Q(-1, "m"), HOLE, PIPE, Q(1, "SG")), "not be negative"),
        (lambda: bottom_hole_pressure(Q(1, "SG"), Q(-1, "psi"), Q(1, "m")), "annular loss must not be negative"),
        (lambda: bottom_hole_pressure(Q(1, "SG"), Q(1, "psi"), Q(1, "m"), Q(-1, "psi")), "surface pressure must not"),
        (lambda: equivalent_circulating_density(Q(1, "SG"), Q(1, "psi"), Q(0, "m")), "depth must be above zero"),
        (lambda: equivalent_circulating_density(Q(0, "SG"), Q(1, "psi"), Q(1, "m")), "mud weight must be above zero"),
        (lambda: equivalent_circulating_density(Q(1, "SG"), Q(-1, "psi"), Q(1, "m")), "loss must not be negative"),
        (lambda: equivalent_circulating_density_field(Q(0, "SG"), Q(1, "psi"), Q(1, "m")), "mud weight must be above"),
        (lambda: equivalent_circulating_density_field(Q(1, "SG"), Q(-1, "psi"), Q(1, "m")), "loss must not be"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
