"""Pumps: power, head, the affinity laws, duty points, suction, piston pumps; what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError, ValidityWarning
from pitside.pumps import (
    ATMOSPHERE,
    PumpCurve,
    SystemCurve,
    at_impeller,
    at_speed,
    duplex_displacement,
    duty_point,
    head_from_pressure,
    head_from_pressure_field,
    hydraulic_power,
    hydraulic_power_field,
    pressure_at_rate,
    pressure_exponent,
    pressure_from_head,
    pressure_from_head_field,
    pump_output,
    shaft_power,
    shaft_power_field,
    suction_head,
    suction_margin,
    triplex_displacement,
    triplex_output_field,
)
from pitside.units import Q

CURVE = PumpCurve.through(Q([0, 400, 800], "gal/min"), Q([100, 95, 80], "ft"))
SYSTEM = SystemCurve.through(Q(20, "ft"), Q(600, "gal/min"), Q(80, "ft"))


def test_results_are_in_si():
    duty = duty_point(CURVE, SYSTEM)
    values = [shaft_power(Q(1, "L/s"), Q(1, "ft"), Q(1, "SG"), 0.7), duty.flow, duty.head, CURVE.slope, CURVE.curvature]
    assert [str(value.units) for value in values] == ["W", "m³/s", "m", "s/m²", "s²/m⁵"]


@given(st.floats(0, 2000), st.floats(0, 200), st.floats(0.8, 2.2), st.floats(0.3, 1.0))
def test_shaft_power_is_hydraulic_power_over_efficiency(flow, head, sg, efficiency):
    flow, head, density = Q(flow, "gal/min"), Q(head, "ft"), Q(sg, "SG")
    hydraulic = hydraulic_power(pressure_from_head(head, density), flow)
    assert shaft_power(flow, head, density, efficiency).magnitude == pytest.approx(hydraulic.magnitude / efficiency)


@given(st.floats(0, 500), st.floats(0.8, 2.2))
def test_head_and_pressure_undo_each_other(psi, sg):
    head = head_from_pressure(Q(psi, "psi"), Q(sg, "SG"))
    assert pressure_from_head(head, Q(sg, "SG")).m_as("psi") == pytest.approx(psi)
    field = head_from_pressure_field(Q(psi, "psi"), sg)
    assert pressure_from_head_field(field, sg).m_as("psi") == pytest.approx(psi)


def test_field_forms_are_near():
    flow, head = Q(900, "gal/min"), Q(85, "ft")
    assert shaft_power_field(flow, head, 1.44, 0.7) / shaft_power(flow, head, Q(1.44, "SG"), 0.7) > 0.998
    assert hydraulic_power_field(Q(2950, "psi"), flow) / hydraulic_power(Q(2950, "psi"), flow) < 1.0002


def test_a_heavier_mud_takes_power_and_no_head():
    assert duty_point(CURVE, SYSTEM).head == SYSTEM.head(duty_point(CURVE, SYSTEM).flow)
    light, heavy = (shaft_power(Q(600, "gal/min"), Q(80, "ft"), Q(sg, "SG"), 0.7) for sg in (1.0, 1.8))
    assert (heavy / light).magnitude == pytest.approx(1.8)


@given(st.floats(0.3, 2), st.floats(0.3, 2))
def test_two_changes_of_speed_are_one(first, second):
    point = (Q(800, "gal/min"), Q(90, "ft"), Q(30, "hp"))
    twice = at_speed(*at_speed(*point, first), second)
    once = at_speed(*point, first * second)
    np.testing.assert_allclose([value.magnitude for value in twice], [value.magnitude for value in once])


@given(st.floats(0.4, 1.6), st.floats(0, 800))
def test_every_point_of_a_curve_moves_by_the_affinity_laws(ratio, flow):
    head = CURVE.head(Q(flow, "gal/min"))
    new_flow, new_head, _ = at_speed(Q(flow, "gal/min"), head, Q(1, "hp"), ratio)
    assert CURVE.at_speed(ratio).head(new_flow).magnitude == pytest.approx(new_head.magnitude)


def test_without_static_head_the_duty_point_moves_by_the_affinity_laws_and_with_it_it_does_not():
    level = SystemCurve.through(Q(0, "ft"), Q(600, "gal/min"), Q(80, "ft"))
    flows = [duty_point(CURVE.at_speed(ratio), level).flow.magnitude for ratio in (1.0, 0.8)]
    assert flows[1] / flows[0] == pytest.approx(0.8)
    lifted = [duty_point(CURVE.at_speed(ratio), SYSTEM).flow.magnitude for ratio in (1.0, 0.8)]
    assert lifted[1] / lifted[0] < 0.78


def test_a_trimmed_impeller_is_only_good_near_its_size():
    point = (Q(800, "gal/min"), Q(90, "ft"), Q(30, "hp"))
    flow, head, power = at_impeller(*point, 0.9)
    assert (flow / point[0]).m_as("") == pytest.approx(0.9)
    assert (head / point[1]).m_as("") == pytest.approx(0.81)
    assert (power / point[2]).m_as("") == pytest.approx(0.729)
    for ratio in (0.7, 1.1):
        with pytest.warns(ValidityWarning, match="trimmed"):
            at_impeller(*point, ratio)


@given(st.floats(20, 200), st.floats(0, 1), st.floats(0.01, 1), st.floats(-10, 19), st.floats(0, 1))
def test_the_duty_point_lies_on_both_curves(shutoff, slope, curvature, static, friction):
    pump = PumpCurve(Q(shutoff, "m"), Q(slope * 1e3, "s/m**2"), Q(curvature * 1e4, "s**2/m**5"))
    system = SystemCurve(Q(static, "m"), Q(friction * 1e4, "s**2/m**5"))
    duty = duty_point(pump, system)
    assert pump.head(duty.flow).magnitude == pytest.approx(duty.head.magnitude, abs=1e-9)
    assert system.head(duty.flow).magnitude == pytest.approx(duty.head.magnitude, abs=1e-9)
    assert duty.flow.magnitude > 0


def test_a_straight_curve_meets_a_level_system():
    pump = PumpCurve(Q(30, "m"), Q(100, "s/m**2"), Q(0, "s**2/m**5"))
    assert duty_point(pump, SystemCurve(Q(10, "m"), Q(0, "s**2/m**5"))).flow.magnitude == pytest.approx(0.2)


def test_curves_pass_through_what_they_were_fitted_to():
    np.testing.assert_allclose(CURVE.head(Q([0, 400, 800], "gal/min")).m_as("ft"), [100, 95, 80])
    assert CURVE.slope.magnitude == 0
    assert SYSTEM.head(Q(600, "gal/min")).m_as("ft") == pytest.approx(80)


@given(st.floats(0, 700))
def test_parallel_pumps_share_the_flow_and_pumps_in_series_the_head(flow):
    alone = CURVE.head(Q(flow, "gal/min"))
    assert CURVE.in_parallel(3).head(Q(3 * flow, "gal/min")).magnitude == pytest.approx(alone.magnitude)
    assert CURVE.in_series(2).head(Q(flow, "gal/min")).magnitude == pytest.approx(2 * alone.magnitude)


def test_two_pumps_in_parallel_pass_less_than_twice_the_flow_of_one():
    one, two = (duty_point(pumps, SYSTEM).flow for pumps in (CURVE, CURVE.in_parallel(2)))
    assert one < two < 2 * one
    flat = SystemCurve(Q(90, "ft"), Q(0, "s**2/m**5"))
    one, two = (duty_point(pumps, flat).flow for pumps in (CURVE, CURVE.in_parallel(2)))
    assert (two / one).magnitude == pytest.approx(2)


def test_a_curve_takes_arrays():
    heads = CURVE.at_speed(np.array([0.8, 1.0])).head(Q(300, "gal/min"))
    assert heads.shape == (2,)
    assert duty_point(CURVE.at_speed(np.array([0.8, 1.0])), SYSTEM).flow.shape == (2,)


def test_suction_head_counts_air_height_friction_and_vapour():
    plain = suction_head(Q(0, "m"), Q(1, "SG"), Q(0, "Pa"), Q(0, "m"))
    assert plain.magnitude == pytest.approx(ATMOSPHERE.magnitude / 9806.65)
    more = suction_head(Q(2, "m"), Q(1, "SG"), Q(9806.65, "Pa"), Q(0.5, "m"))
    assert (more - plain).magnitude == pytest.approx(2 - 1 - 0.5)
    heavy = suction_head(Q(0, "m"), Q(1.8, "SG"), Q(0, "Pa"), Q(0, "m"))
    assert (plain / heavy).magnitude == pytest.approx(1.8)


def test_a_pump_without_suction_head_to_spare_is_warned_of():
    assert suction_margin(Q(20, "ft"), Q(12, "ft")).m_as("ft") == pytest.approx(8)
    with pytest.warns(ValidityWarning, match="cavitates"):
        assert suction_margin(Q(10, "ft"), Q([8, 12], "ft")).m_as("ft") == pytest.approx([2, -2])


@pytest.mark.parametrize("speed", [Q(60, "1/min"), Q(60, "rpm"), Q(1, "Hz"), Q(2 * np.pi, "rad/s"), Q(1, "turn/s")])
def test_strokes_are_counted_and_turns_are_strokes(speed):
    pump = triplex_displacement(Q(6, "in"), Q(12, "in"))
    assert pump_output(pump, speed, 0.95).m_as("bbl/min") == pytest.approx(60 * 0.95 * pump.m_as("bbl"))


def test_displacements_are_swept_volumes():
    triplex = triplex_displacement(Q(6, "in"), Q(12, "in"))
    assert triplex.m_as("in**3") == pytest.approx(3 * np.pi * 9 * 12)
    assert triplex_output_field(Q(6, "in"), Q(12, "in")) / triplex < 1.0007
    thin_rod = duplex_displacement(Q(6, "in"), Q(1e-9, "in"), Q(12, "in"))
    assert (thin_rod / triplex).magnitude == pytest.approx(4 / 3)


@given(st.floats(10, 4000), st.floats(20, 200), st.floats(20, 200), st.floats(1, 2))
def test_the_exponent_of_two_readings_leads_from_one_to_the_other(pressure, flow, other, exponent):
    found = pressure_at_rate(Q(pressure, "psi"), Q(flow, "gal/min"), Q(other, "gal/min"), exponent)
    if abs(flow - other) > 1e-3:
        back = pressure_exponent(Q(pressure, "psi"), Q(flow, "gal/min"), found, Q(other, "gal/min"))
        assert back.magnitude == pytest.approx(exponent, abs=1e-6)


ONE = (Q(1, "gal/min"), Q(1, "ft"), Q(1, "hp"))


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: hydraulic_power(Q(-1, "psi"), ONE[0]), "pressure must not be negative"),
        (lambda: hydraulic_power(Q(1, "ft"), ONE[0]), r"pressure must have a unit of \[pressure\]"),
        (lambda: hydraulic_power_field(Q(1, "psi"), -ONE[0]), "flow must not be negative"),
        (lambda: shaft_power(*ONE[:2], Q(1, "SG"), 0), "efficiency must lie above 0"),
        (lambda: shaft_power(*ONE[:2], Q(1, "SG"), 70), "efficiency must lie above 0"),
        (lambda: shaft_power(*ONE[:2], Q(0, "SG"), 0.7), "density must be above zero"),
        (lambda: shaft_power(ONE[0], -ONE[1], Q(1, "SG"), 0.7), "head must not be negative"),
        (lambda: shaft_power_field(*ONE[:2], 0, 0.7), "specific gravity must be above zero"),
        (lambda: shaft_power_field(*ONE[:2], 1, 1.1), "efficiency must lie above 0"),
        (lambda: head_from_pressure(Q(-1, "psi"), Q(1, "SG")), "pressure must not be negative"),
        (lambda: head_from_pressure_field(Q(1, "psi"), 0), "specific gravity must be above zero"),
        (lambda: pressure_from_head(Q(-1, "ft"), Q(1, "SG")), "head must not be negative"),
        (lambda: pressure_from_head_field(Q(1, "ft"), -1), "specific gravity must be above zero"),
        (lambda: at_speed(*ONE, 0), "ratio of speeds must be above zero"),
        (lambda: at_speed(ONE[0], -ONE[1], ONE[2], 1), "head must not be negative"),
        (lambda: at_impeller(*ONE, 0), "ratio of diameters must be above zero"),
        (lambda: CURVE.at_speed(0), "ratio of speeds must be above zero"),
        (lambda: CURVE.head(-ONE[0]), "flow must not be negative"),
        (lambda: CURVE.in_parallel(0), "at least one pump"),
        (lambda: CURVE.in_series(0), "at least one pump"),
        (lambda: PumpCurve(Q(0, "m"), Q(1, "s/m**2"), Q(1, "s**2/m**5")), "head at no flow must be above zero"),
        (lambda: PumpCurve(Q(1, "m"), Q(-1, "s/m**2"), Q(1, "s**2/m**5")), "must fall with flow from the start"),
        (lambda: PumpCurve(Q(1, "m"), Q(0, "s/m**2"), Q(0, "s**2/m**5")), "head must fall with flow"),
        (lambda: PumpCurve(Q(1, "m"), Q(1, "s"), Q(0, "s**2/m**5")), "slope must have a unit"),
        (lambda: PumpCurve.through(Q([0, 1], "gal/min"), Q([2, 1], "ft")), "at least three different flows"),
        (lambda: PumpCurve.through(Q([0, 1, 2], "gal/min"), Q([2, 1], "ft")), "a list of as many heads"),
        (lambda: PumpCurve.through(Q(1, "gal/min"), Q(1, "ft")), "a list of as many heads"),
        (lambda: PumpCurve.through(Q([0, 1, 2], "gal/min"), Q([1, 2, 2.5], "ft")), "must fall with flow from the"),
        (lambda: SystemCurve(Q(1, "m"), Q(-1, "s**2/m**5")), "friction must not be negative"),
        (lambda: SystemCurve.through(Q(9, "m"), ONE[0], Q(8, "m")), "at least its static head"),
        (lambda: SystemCurve.through(Q(9, "m"), Q(0, "gal/min"), Q(18, "m")), "flow must be above zero"),
        (lambda: duty_point(CURVE, SystemCurve(Q(100, "ft"), Q(1, "s**2/m**5"))), "does not reach the static head"),
        (lambda: suction_head(Q(1, "m"), Q(0, "SG"), Q(1, "Pa"), Q(1, "m")), "density must be above zero"),
        (lambda: suction_head(Q(1, "m"), Q(1, "SG"), Q(-1, "Pa"), Q(1, "m")), "vapour pressure must not be negative"),
        (lambda: suction_head(Q(1, "m"), Q(1, "SG"), Q(1, "Pa"), Q(-1, "m")), "friction must not be negative"),
        (lambda: suction_margin(Q(1, "m"), Q(-1, "m")), "required must not be negative"),
        (lambda: triplex_displacement(Q(0, "in"), Q(1, "in")), "liner must be above zero"),
        (lambda: duplex_displacement(Q(4, "in"), Q(4, "in"), Q(1, "in")), "rod must be thinner than the liner"),
        (lambda: triplex_output_field(Q(4, "in"), Q(4, "in"), 95), "efficiency must lie above 0"),
        (lambda: triplex_output_field(Q(4, "in"), Q(0, "in")), "stroke must be above zero"),
        (lambda: pump_output(Q(1, "gal"), Q(-1, "1/min")), "speed must not be negative"),
        (lambda: pump_output(Q(1, "gal"), 100), r"speed must be a quantity with a unit of \[frequency\]"),
        (lambda: pump_output(Q(1, "gal"), Q(1, "1/min"), 0), "efficiency must lie above 0"),
        (lambda: pressure_at_rate(Q(-1, "psi"), ONE[0], ONE[0]), "pressure must not be negative"),
        (lambda: pressure_at_rate(Q(1, "psi"), 0 * ONE[0], ONE[0]), "flow must be above zero"),
        (lambda: pressure_at_rate(Q(1, "psi"), ONE[0], ONE[0], 0), "exponent must be above zero"),
        (lambda: pressure_exponent(Q(1, "psi"), ONE[0], Q(2, "psi"), ONE[0]), "at different rates"),
        (lambda: pressure_exponent(Q(0, "psi"), ONE[0], Q(2, "psi"), 2 * ONE[0]), "pressure must be above zero"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
