"""Settling: limits, arrays, round trips, ranges that are warned of, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError, ValidityWarning
from pitside.settling import (
    NEWTON_DRAG,
    STOKES_LIMIT,
    Regime,
    Shape,
    drag_coefficient,
    equal_settling_ratio,
    ferguson_church_velocity,
    hindered_factor,
    hindered_velocity,
    regime,
    reynolds_number,
    richardson_zaki_exponent,
    stokes_diameter,
    stokes_velocity,
    terminal_velocity,
)
from pitside.units import GRAVITY, Q

SAND, WATER, VISCOSITY = Q(2600, "kg/m**3"), Q(1000, "kg/m**3"), Q(1, "mPa*s")
GRAIN = (Q(20, "um"), SAND, WATER, VISCOSITY)
LAWS = (stokes_velocity, terminal_velocity, ferguson_church_velocity)


def reynolds_of(diameter, velocity):
    return reynolds_number(velocity, diameter, WATER, VISCOSITY).magnitude


@pytest.mark.parametrize("law", LAWS)
def test_a_velocity_is_in_metres_a_second_whatever_goes_in(law):
    field = law(Q(20 / 25_400, "in"), Q(SAND.m_as("lb/gal"), "lb/gal"), Q(1.0, "SG"), Q(1.0, "cP"))
    assert str(field.units) == "m/s"
    assert field.magnitude == pytest.approx(law(*GRAIN).magnitude)


@pytest.mark.parametrize("law", LAWS)
def test_arrays_give_what_their_elements_give(law):
    sizes = Q([5, 20, 40], "um")
    one_by_one = [law(size, *GRAIN[1:]).magnitude for size in sizes]
    np.testing.assert_allclose(law(sizes, *GRAIN[1:]).magnitude, one_by_one, rtol=1e-9)
    assert law(sizes[:, None], Q([2600, 4200], "kg/m**3"), WATER, VISCOSITY).shape == (3, 2)


@pytest.mark.parametrize("law", LAWS)
def test_small_grains_follow_stokes(law):
    tiny = (Q(0.5, "um"), *GRAIN[1:])
    assert law(*tiny).magnitude == pytest.approx(stokes_velocity(*tiny).magnitude, rel=0.001)


@pytest.mark.parametrize("law", LAWS)
def test_a_light_grain_rises_as_fast_as_its_mirror_sinks(law):
    up = law(Q(20, "um"), Q(800, "kg/m**3"), WATER, VISCOSITY).magnitude
    down = law(Q(20, "um"), Q(1200, "kg/m**3"), WATER, VISCOSITY).magnitude
    assert up == pytest.approx(-down)
    assert down > 0


@pytest.mark.parametrize("law", LAWS)
def test_a_grain_as_dense_as_the_liquid_stays(law):
    assert law(Q(20, "um"), WATER, WATER, VISCOSITY).magnitude == 0


def test_stokes_goes_with_acceleration_and_diameter_squared():
    once = stokes_velocity(Q(2, "um"), *GRAIN[1:]).magnitude
    assert stokes_velocity(Q(4, "um"), *GRAIN[1:]).magnitude == pytest.approx(4 * once)
    assert stokes_velocity(Q(2, "um"), *GRAIN[1:], 1000 * GRAVITY).magnitude == pytest.approx(1000 * once)
    assert stokes_velocity(Q(2, "um"), SAND, WATER, 2 * VISCOSITY).magnitude == pytest.approx(once / 2)


@given(st.floats(1.0, 60.0))
def test_stokes_diameter_goes_there_and_back(micrometres):
    for solid in (SAND, Q(900, "kg/m**3")):
        velocity = stokes_velocity(Q(micrometres, "um"), solid, WATER, VISCOSITY)
        assert stokes_diameter(velocity, solid, WATER, VISCOSITY).m_as("um") == pytest.approx(micrometres)


def test_stokes_warns_beyond_its_range_and_still_answers():
    size = Q(200, "um")
    with pytest.warns(ValidityWarning, match=r"Stokes' law is too fast above a Reynolds number of 0\.3"):
        velocity = stokes_velocity(size, *GRAIN[1:])
    assert reynolds_of(size, velocity) > STOKES_LIMIT
    with pytest.warns(ValidityWarning, match="Stokes' law is too fast"):
        assert stokes_diameter(velocity, *GRAIN[1:]).m_as("um") == pytest.approx(200)


@given(st.floats(0.1, 20_000.0), st.floats(1.1, 8.0), st.floats(0.2, 200.0))
def test_terminal_velocity_balances_weight_and_drag(micrometres, solid, viscosity):
    diameter, density = Q(micrometres, "um"), Q(1000 * solid, "kg/m**3")
    velocity = terminal_velocity(diameter, density, WATER, Q(viscosity, "mPa*s"))
    drag = drag_coefficient(reynolds_number(velocity, diameter, WATER, Q(viscosity, "mPa*s")))
    lift = 4 / 3 * (density - WATER) * GRAVITY * diameter / WATER
    assert (drag * velocity**2).m_as("m**2/s**2") == pytest.approx(lift.m_as("m**2/s**2"), rel=1e-6)


def test_terminal_velocity_grows_with_size_and_never_passes_stokes():
    sizes = Q(np.logspace(0, 4, 60), "um")
    velocity = terminal_velocity(sizes, *GRAIN[1:]).magnitude
    assert np.all(np.diff(velocity) > 0)
    with pytest.warns(ValidityWarning, match="Stokes' law is too fast"):
        assert np.all(velocity <= stokes_velocity(sizes, *GRAIN[1:]).magnitude)


def test_large_spheres_follow_newton():
    diameter = Q(20, "mm")
    newton = np.sqrt(4 / 3 * 1.6 * 9.80665 * 0.020 / NEWTON_DRAG)
    assert terminal_velocity(diameter, *GRAIN[1:]).magnitude == pytest.approx(newton)
    with pytest.warns(ValidityWarning, match="drag of a sphere is not known"):
        terminal_velocity(Q(1, "m"), *GRAIN[1:])


def test_large_natural_grains_settle_slower_than_spheres_by_the_root_of_their_drag():
    sphere = ferguson_church_velocity(Q(1, "m"), *GRAIN[1:], shape=Shape.SPHERE)
    grain = ferguson_church_velocity(Q(1, "m"), *GRAIN[1:])
    assert (sphere / grain).magnitude == pytest.approx(np.sqrt(1.0 / 0.4), rel=1e-4)


def test_drag_is_stokes_below_and_constant_above():
    assert drag_coefficient(1e-4).magnitude == pytest.approx(24e4, rel=0.001)
    assert drag_coefficient(5e4).magnitude == NEWTON_DRAG
    drags = drag_coefficient(np.logspace(-3, 5, 200)).magnitude
    assert np.all(np.diff(drags) <= 0)
    with pytest.warns(ValidityWarning, match="drag of a sphere is not known"):
        drag_coefficient([1.0, 3e5])


@pytest.mark.parametrize(
    ("reynolds", "expected"),
    [
        (0.3, Regime.STOKES),
        (0.31, Regime.INTERMEDIATE),
        (1000.0, Regime.INTERMEDIATE),
        (1001.0, Regime.NEWTON),
        (Q(5, "percent"), Regime.STOKES),
    ],
)
def test_regimes_meet_at_their_borders(reynolds, expected):
    assert regime(reynolds) is expected


def test_a_regime_says_where_it_holds():
    assert Regime.INTERMEDIATE.value.startswith("Reynolds number 0.3 to 1000")
    assert regime(np.array([[0.1, 10], [100, 1e4]])).tolist() == [
        [Regime.STOKES, Regime.INTERMEDIATE],
        [Regime.INTERMEDIATE, Regime.NEWTON],
    ]


def test_the_exponent_falls_from_slow_to_fast():
    exponents = richardson_zaki_exponent([0.1, 0.3, 0.9, 5, 50, 499, 501]).magnitude
    assert np.all(np.diff(exponents[[0, 1, 2]]) < 0)
    assert np.all(np.diff(exponents[3:]) <= 0)
    assert richardson_zaki_exponent(1).magnitude == pytest.approx(4.45)
    assert exponents[-2] == pytest.approx(exponents[-1], rel=0.001)


@given(st.floats(0.0, 0.59), st.floats(2.39, 4.65))
def test_a_crowd_only_slows(fraction, exponent):
    factor = hindered_factor(fraction, exponent).magnitude
    assert 0 < factor <= 1
    assert factor >= hindered_factor(min(fraction + 0.01, 0.6), exponent).magnitude
    assert hindered_velocity(Q(3, "mm/s"), fraction, exponent).m_as("mm/s") == pytest.approx(3 * factor)


def test_alone_a_grain_keeps_its_velocity_and_packed_ones_are_warned_of():
    assert hindered_velocity(Q(3, "mm/s"), 0.0).m_as("mm/s") == pytest.approx(3)
    with pytest.warns(ValidityWarning, match="above 60% solids"):
        hindered_factor(Q([10, 65], "percent"))


@given(st.floats(1.0, 2.3), st.floats(0.1, 2.0))
def test_grains_of_the_equal_settling_ratio_do_settle_alike(liquid, step):
    light, heavy = 2.4, 2.4 + step
    ratio = equal_settling_ratio(Q(heavy, "SG"), Q(light, "SG"), Q(liquid, "SG")).magnitude
    small = stokes_velocity(Q(2, "um"), Q(heavy, "SG"), Q(liquid, "SG"), VISCOSITY)
    large = stokes_velocity(Q(2 * ratio, "um"), Q(light, "SG"), Q(liquid, "SG"), VISCOSITY)
    assert small.magnitude == pytest.approx(large.magnitude)


def test_one_solid_settles_alike_at_one_size():
    assert equal_settling_ratio(SAND, SAND, WATER).magnitude == 1


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({0: Q(0, "um")}, "diameter must be above zero"),
        ({0: Q([20, -1], "um")}, "diameter must be above zero"),
        ({0: 20.0}, r"diameter must be a quantity with a unit of \[length\]"),
        ({1: Q(0, "SG")}, "solid density must be above zero"),
        ({2: Q(-1, "SG")}, "liquid density must be above zero"),
        ({3: Q(0, "cP")}, "viscosity must be above zero"),
        ({3: Q(1, "mm**2/s")}, r"viscosity must have a unit of \[viscosity\]"),
        ({4: Q(0, "m/s**2")}, "acceleration must be above zero"),
    ],
)
def test_a_grain_that_cannot_be_is_refused(law, change, complaint):
    with pytest.raises(CalculationError, match=complaint):
        law(*(change.get(place, value) for place, value in enumerate((*GRAIN, GRAVITY))))


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: stokes_diameter(Q(-1, "mm/s"), SAND, WATER, VISCOSITY), "settles .* a lighter one rises"),
        (lambda: stokes_diameter(Q(1, "mm/s"), WATER, WATER, VISCOSITY), "settles .* a lighter one rises"),
        (lambda: stokes_diameter(Q(1, "mm/s"), SAND, WATER, Q(0, "cP")), "viscosity must be above zero"),
        (lambda: reynolds_number(Q(1, "m/s"), Q(0, "m"), WATER, VISCOSITY), "diameter must be above zero"),
        (lambda: drag_coefficient(0), "Reynolds number must be above zero"),
        (lambda: regime(-1), "Reynolds number must be above zero"),
        (lambda: regime(Q(1, "m")), r"reynolds must have a unit of \[\]"),
        (lambda: richardson_zaki_exponent([1, 0]), "Reynolds number must be above zero"),
        (lambda: hindered_factor(1.0), "solids fraction must be at least 0 and below 100 %"),
        (lambda: hindered_factor(-0.1), "solids fraction must be at least 0 and below 100 %"),
        (lambda: hindered_factor(0.1, 0), "exponent must be above zero"),
        (lambda: equal_settling_ratio(Q(4.2, "SG"), Q(2.6, "SG"), Q(2.6, "SG")), "must be denser than the liquid"),
        (lambda: equal_settling_ratio(Q(2.6, "SG"), Q(4.2, "SG"), Q(1, "SG")), "at least as dense as the light one"),
        (lambda: equal_settling_ratio(Q(4.2, "SG"), Q(2.6, "SG"), Q(0, "SG")), "density of the liquid must be above"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()


def test_a_grain_beyond_all_bounds_is_refused_and_not_answered_wrongly():
    with np.errstate(all="ignore"), pytest.raises(CalculationError, match="the settling velocity was not found"):
        terminal_velocity(Q(1e60, "m"), Q(2.6, "SG"), Q(1.0, "SG"), Q(1, "cP"))
