"""Settling in Bingham and power-law muds: limits that are known, forces in balance, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError, ValidityWarning
from pitside.settling import drag_coefficient, stokes_velocity, terminal_velocity
from pitside.settling_in_mud import (
    SuspensionCriterion,
    bingham_drag_factor,
    bingham_number,
    bingham_velocity,
    bingham_viscosity,
    power_law_drag_factor,
    power_law_velocity,
    power_law_viscosity,
    suspended_diameter,
    yield_number,
    yield_stress_to_suspend,
)
from pitside.units import GRAVITY, Q

CUTTING, MUD = Q(2.6, "SG"), Q(1.2, "SG")
PLASTIC, YIELD = Q(20, "cP"), Q(2, "Pa")
CONSISTENCY = Q(0.5, "Pa*s")


def weight(diameter, solid=CUTTING, liquid=MUD):
    return ((solid - liquid) * GRAVITY * np.pi / 6 * diameter**3).m_as("N")


def drag(velocity, diameter, viscosity, liquid=MUD):
    """Force on a sphere in a Newtonian liquid of the viscosity."""
    reynolds = (liquid * abs(velocity) * diameter / viscosity).m_as("")
    area = np.pi / 4 * diameter**2
    return (drag_coefficient(reynolds) * area * liquid * velocity**2 / 2).m_as("N")


def test_results_are_in_si():
    size = Q(4, "mm")
    found = (
        suspended_diameter(YIELD, CUTTING, MUD),
        yield_stress_to_suspend(size, CUTTING, MUD),
        bingham_viscosity(Q(1, "mm/s"), size, PLASTIC, YIELD),
        bingham_velocity(size, CUTTING, MUD, PLASTIC, YIELD),
        power_law_viscosity(Q(1, "mm/s"), size, CONSISTENCY, 0.6),
        power_law_velocity(size, CUTTING, MUD, CONSISTENCY, 0.6),
    )
    assert [str(value.units) for value in found] == ["m", "Pa", "Pa·s", "m/s", "Pa·s", "m/s"]


@pytest.mark.parametrize("criterion", SuspensionCriterion)
@given(st.floats(0.01, 20), st.floats(0.2, 4))
def test_the_stress_that_holds_a_grain_holds_a_grain_of_that_size(criterion, stress, lighter):
    liquid = CUTTING / (1 + lighter)
    size = suspended_diameter(Q(stress, "Pa"), CUTTING, liquid, criterion=criterion)
    assert yield_stress_to_suspend(size, CUTTING, liquid, criterion=criterion).m_as("Pa") == pytest.approx(stress)
    assert yield_number(Q(stress, "Pa"), size, CUTTING, liquid).magnitude == pytest.approx(criterion.value)


def test_a_light_grain_is_held_as_a_heavy_one_is():
    light, heavy = Q(0.9, "SG"), Q(1.5, "SG")
    sizes = [suspended_diameter(YIELD, solid, MUD).m_as("mm") for solid in (light, heavy)]
    assert sizes[0] == pytest.approx(sizes[1])


def test_in_a_machine_less_is_held():
    still, spun = (suspended_diameter(YIELD, CUTTING, MUD, times * GRAVITY) for times in (1, 1000))
    assert (still / spun).m_as("") == pytest.approx(1000)


def test_a_held_grain_does_not_settle_and_a_larger_one_does():
    held = suspended_diameter(YIELD, CUTTING, MUD)
    sizes = Q(np.array([0.1, 0.99, 1.01, 2.0]), "") * held
    velocities = bingham_velocity(sizes, CUTTING, MUD, PLASTIC, YIELD).magnitude
    assert velocities[0] == velocities[1] == 0
    assert 0 < velocities[2] < velocities[3]
    assert np.all(velocities[2:] < terminal_velocity(sizes[2:], CUTTING, MUD, PLASTIC).magnitude)


@given(st.floats(1e-6, 2e-2), st.floats(0.7, 5.0), st.floats(0.5, 200))
def test_without_yield_stress_it_is_the_terminal_velocity(diameter, solid, viscosity):
    grain = Q(diameter, "m"), Q(solid, "SG"), Q(1.25, "SG"), Q(viscosity, "cP")
    expected = terminal_velocity(*grain).magnitude
    reynolds = 1250 * abs(expected) * diameter / grain[3].m_as("Pa*s")
    if reynolds < 1000:
        assert bingham_velocity(*grain, Q(0, "Pa")).magnitude == pytest.approx(expected, rel=1e-9)
        assert power_law_velocity(*grain, 1.0).magnitude == pytest.approx(expected, rel=1e-9)


@pytest.mark.filterwarnings("ignore::pitside.errors.ValidityWarning")
@given(st.floats(4e-3, 3e-2), st.floats(0.01, 2.0), st.floats(5, 60))
def test_weight_and_drag_are_even_in_a_bingham_mud(diameter, stress, viscosity):
    size, mud = Q(diameter, "m"), (Q(viscosity, "cP"), Q(stress, "Pa"))
    velocity = bingham_velocity(size, CUTTING, MUD, *mud)
    assert drag(velocity, size, bingham_viscosity(velocity, size, *mud)) == pytest.approx(weight(size), rel=1e-6)


@pytest.mark.filterwarnings("ignore::pitside.errors.ValidityWarning")
@given(st.floats(1e-4, 3e-2), st.floats(0.05, 2.0), st.floats(0.3, 1.0))
def test_weight_and_drag_are_even_in_a_power_law_mud(diameter, thickness, index):
    size, consistency = Q(diameter, "m"), Q(thickness, "Pa*s")
    velocity = power_law_velocity(size, CUTTING, MUD, consistency, index).m_as("m/s")
    reynolds = 1200 * velocity ** (2 - index) * diameter**index / thickness
    factor = power_law_drag_factor(index).magnitude
    coefficient = max(24 * factor / reynolds + 3.6 * reynolds**-0.313, 0.44)
    force = coefficient * np.pi / 4 * diameter**2 * 1200 * velocity**2 / 2
    assert force == pytest.approx(weight(size), rel=1e-6)


def test_slow_grains_in_a_power_law_mud_follow_their_closed_form():
    size = Q([20, 100, 500], "um")
    velocity = power_law_velocity(size, CUTTING, MUD, CONSISTENCY, 0.6)
    met = power_law_viscosity(velocity, size, CONSISTENCY, 0.6)
    stokes = [
        stokes_velocity(one, CUTTING, MUD, viscosity).m_as("m/s") for one, viscosity in zip(size, met, strict=True)
    ]
    np.testing.assert_allclose(velocity.m_as("m/s"), stokes, rtol=2e-3)


@pytest.mark.parametrize(
    "settle",
    [
        lambda solid, liquid: bingham_velocity(Q(5, "mm"), solid, liquid, PLASTIC, Q(0.2, "Pa")),
        lambda solid, liquid: power_law_velocity(Q(5, "mm"), solid, liquid, CONSISTENCY, 0.6),
    ],
)
def test_a_light_grain_rises_as_fast_as_a_heavy_one_sinks(settle):
    up, down = settle(Q(0.9, "SG"), MUD).magnitude, settle(Q(1.5, "SG"), MUD).magnitude
    assert up == pytest.approx(-down)
    assert up < 0
    assert settle(MUD, MUD).magnitude == 0


def test_more_yield_stress_or_consistency_is_slower():
    size, stresses = Q(6, "mm"), Q(np.linspace(0, 6, 25), "Pa")
    by_stress = bingham_velocity(size, CUTTING, MUD, PLASTIC, stresses).magnitude
    assert np.all(np.diff(by_stress) <= 0)
    assert by_stress[0] > 0 == by_stress[-1]
    by_consistency = power_law_velocity(size, CUTTING, MUD, Q(np.linspace(0.1, 3, 25), "Pa*s"), 0.6).magnitude
    assert np.all(np.diff(by_consistency) < 0)


def test_the_drag_factors_begin_at_that_of_a_newtonian_liquid():
    assert bingham_drag_factor(0.0).magnitude == 1
    assert power_law_drag_factor(1.0).magnitude == 1
    numbers = np.geomspace(1e-3, 1e4, 40)
    assert np.all(np.diff(bingham_drag_factor(numbers).magnitude) > 0)
    far = bingham_drag_factor(1e12).magnitude / 1e12
    assert far == pytest.approx(1 / (18 * SuspensionCriterion.SLOW_FLOW.value), rel=1e-4)


def test_the_bingham_viscosity_is_the_drag_factor_on_the_plastic_viscosity():
    number = bingham_number(Q(-20, "mm/s"), Q(5, "mm"), Q(25, "cP"), Q(1, "Pa"))
    assert number.magnitude == pytest.approx(10)
    met = bingham_viscosity(Q(20, "mm/s"), Q(5, "mm"), Q(25, "cP"), Q(1, "Pa"))
    assert met.m_as("cP") == pytest.approx(25 * bingham_drag_factor(10).magnitude)


def test_power_law_viscosity_at_a_shear_rate_of_one_is_the_consistency_times_the_drag_factor():
    met = power_law_viscosity(Q(5, "mm/s"), Q(5, "mm"), CONSISTENCY, 0.7)
    assert met.m_as("Pa*s") == pytest.approx(0.5 * power_law_drag_factor(0.7).magnitude)


def test_arrays_give_what_their_elements_give():
    sizes, stresses = Q([3, 5, 8], "mm"), Q([1.0, 2.0, 0.0], "Pa")
    together = bingham_velocity(sizes, CUTTING, MUD, PLASTIC, stresses).magnitude
    alone = [
        bingham_velocity(size, CUTTING, MUD, PLASTIC, stress).magnitude
        for size, stress in zip(sizes, stresses, strict=True)
    ]
    np.testing.assert_allclose(together, alone, rtol=1e-12)
    together = power_law_velocity(sizes, CUTTING, MUD, CONSISTENCY, Q([0.5, 0.6, 1.0])).magnitude
    alone = [
        power_law_velocity(size, CUTTING, MUD, CONSISTENCY, index).magnitude
        for size, index in zip(sizes, (0.5, 0.6, 1.0), strict=True)
    ]
    np.testing.assert_allclose(together, alone, rtol=1e-12)


def test_beyond_what_is_known_it_warns():
    with pytest.warns(ValidityWarning, match=r"not known above a Reynolds number of 1,000"):
        bingham_velocity(Q(30, "mm"), CUTTING, MUD, Q(5, "cP"), Q(0.1, "Pa"))
    with pytest.warns(ValidityWarning, match=r"not known above a Reynolds number of 1,000"):
        power_law_velocity(Q(30, "mm"), CUTTING, MUD, Q(0.05, "Pa*s"), 0.6)
    with pytest.warns(ValidityWarning, match="not worked out below a flow index of 0.3"):
        power_law_drag_factor(0.29)


SIZE = Q(5, "mm")


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: yield_number(Q(-1, "Pa"), SIZE, CUTTING, MUD), "yield stress must not be negative"),
        (lambda: yield_number(YIELD, SIZE, MUD, MUD), "a grain as dense as the mud"),
        (lambda: yield_number(YIELD, 0 * SIZE, CUTTING, MUD), "diameter must be above zero"),
        (lambda: yield_number(YIELD, SIZE, 0 * CUTTING, MUD), "solid density must be above zero"),
        (lambda: yield_number(YIELD, SIZE, CUTTING, 0 * MUD), "liquid density must be above zero"),
        (lambda: yield_number(YIELD, SIZE, CUTTING, MUD, 0 * GRAVITY), "acceleration must be above zero"),
        (lambda: suspended_diameter(Q(2, "cP"), CUTTING, MUD), r"yield stress must have a unit of \[pressure\]"),
        (lambda: suspended_diameter(YIELD, MUD, MUD), "a grain as dense as the mud"),
        (lambda: yield_stress_to_suspend(0 * SIZE, CUTTING, MUD), "diameter must be above zero"),
        (lambda: bingham_number(Q(0, "m/s"), SIZE, PLASTIC, YIELD), "the grain must move"),
        (lambda: bingham_number(Q(1, "m/s"), SIZE, 0 * PLASTIC, YIELD), "plastic viscosity must be above zero"),
        (lambda: bingham_number(Q(1, "m/s"), SIZE, PLASTIC, -YIELD), "yield stress must not be negative"),
        (lambda: bingham_drag_factor(-1.0), "Bingham number must not be negative"),
        (lambda: bingham_velocity(SIZE, CUTTING, MUD, PLASTIC, -YIELD), "yield stress must not be negative"),
        (lambda: bingham_velocity(SIZE, CUTTING, MUD, 0 * PLASTIC, YIELD), "plastic viscosity must be above zero"),
        (lambda: bingham_velocity(0 * SIZE, CUTTING, MUD, PLASTIC, YIELD), "diameter must be above zero"),
        (lambda: power_law_drag_factor(1.1), "flow index must lie above 0 and up to 1"),
        (lambda: power_law_drag_factor(0.0), "flow index must lie above 0 and up to 1"),
        (lambda: power_law_viscosity(Q(0, "m/s"), SIZE, CONSISTENCY, 0.6), "the grain must move"),
        (lambda: power_law_viscosity(Q(1, "m/s"), SIZE, 0 * CONSISTENCY, 0.6), "consistency must be above zero"),
        (lambda: power_law_velocity(SIZE, CUTTING, MUD, CONSISTENCY, 1.2), "flow index must lie above 0 and up to 1"),
        (lambda: power_law_velocity(SIZE, CUTTING, MUD, 0 * CONSISTENCY, 0.6), "consistency must be above zero"),
        (lambda: power_law_velocity(SIZE, CUTTING, MUD, Q(0.5, "Pa"), 0.6), r"must have a unit of \[viscosity\]"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
