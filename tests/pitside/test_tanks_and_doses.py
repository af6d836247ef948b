"""Tanks, doses, levels of pits and noise: what goes together, limits, what is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.dewatering import dewatered, polymer_use, solution_flow
from pitside.errors import CalculationError
from pitside.noise import NIOSH, OSHA, noise_dose, permitted_time
from pitside.pits import expected_change, unexplained
from pitside.tanks import impeller_flow, overflow_velocity, stirring_power, surface_area_rule, turnover_time
from pitside.units import Q


@given(st.floats(0.05, 0.2), st.floats(0.25, 0.6), st.floats(0.0, 0.04))
def test_cake_and_water_make_the_feed_and_its_solids(feed_solids, cake_solids, water_solids):
    feed = Q(40, "gal/min")
    parts = dewatered(feed, feed_solids, cake_solids, water_solids)
    assert (parts.cake + parts.water).m_as("gal/min") == pytest.approx(40)
    solids = parts.cake * cake_solids + parts.water * water_solids
    assert solids.m_as("gal/min") == pytest.approx(40 * feed_solids)


def test_twice_the_strength_needs_half_of_the_solution():
    flow = (Q(10, "m**3/h"), Q(1, "kg/m**3"))
    ratio = solution_flow(*flow, Q(3, "kg/m**3")) / solution_flow(*flow, Q(6, "kg/m**3"))
    assert ratio.m_as("") == pytest.approx(2)


def test_what_the_pits_read_less_what_was_expected_is_left_over():
    expected = expected_change(Q(16, "bbl"), steel=Q(1, "bbl"), added=Q(5, "bbl"), other_losses=Q(2, "bbl"))
    assert expected.m_as("bbl") == pytest.approx(-12)
    assert unexplained(Q(-9, "bbl"), expected).m_as("bbl") == pytest.approx(3)
    assert unexplained(expected, expected).m_as("bbl") == pytest.approx(0)


def test_an_eighth_more_blade_moves_two_fifths_more_and_takes_nearly_twice_the_power():
    small, large = Q(32, "in"), Q(36, "in")
    speed = Q(60, "rpm")
    assert (impeller_flow(large, speed) / impeller_flow(small, speed)).m_as("") == pytest.approx(1.125**3)
    ratio = stirring_power(Q(12, "lb/gal"), large, speed) / stirring_power(Q(12, "lb/gal"), small, speed)
    assert ratio.m_as("") == pytest.approx(1.125**5)


@given(st.floats(80.0, 120.0))
def test_the_step_of_a_rule_halves_its_time(level):
    for rule in (OSHA, NIOSH):
        halved = permitted_time(level + rule.exchange, rule) / permitted_time(level, rule)
        assert halved.m_as("") == pytest.approx(0.5)


def test_a_dose_adds_the_places_up():
    places = [(92.0, Q(2, "hour")), (88.0, Q(5, "hour"))]
    alone = sum(noise_dose([place], OSHA).m_as("") for place in places)
    assert noise_dose(places, OSHA).m_as("") == pytest.approx(alone)
    assert noise_dose([], OSHA).m_as("") == 0


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: dewatered(Q(1, "bbl/h"), 0.1, 0.05), "must rise from water to feed to cake"),
        (lambda: dewatered(Q(1, "bbl/h"), 0.1, 0.3, 0.2), "must rise from water to feed to cake"),
        (lambda: dewatered(Q(1, "bbl/h"), 0.0, 0.0), "the cake must hold more solids than the water"),
        (lambda: dewatered(Q(-1, "bbl/h"), 0.1, 0.3), "feed must not be negative"),
        (lambda: solution_flow(Q(1, "bbl/h"), Q(1, "lb/bbl"), Q(0, "lb/bbl")), "strength must be above zero"),
        (lambda: polymer_use(Q(1, "bbl/h"), Q(-1, "lb/bbl"), Q(1, "h")), "dose must not be negative"),
        (lambda: expected_change(Q(-1, "bbl")), "discarded must not be negative"),
        (lambda: overflow_velocity(Q(1, "gal/min"), Q(0, "ft**2")), "area must be above zero"),
        (lambda: surface_area_rule(Q(-1, "gal/min")), "flow must not be negative"),
        (lambda: turnover_time(Q(1, "bbl"), Q(0, "gal/min")), "flow must be above zero"),
        (lambda: impeller_flow(Q(0, "in"), Q(60, "rpm")), "diameter must be above zero"),
        (lambda: permitted_time(150), "must be from 0 to 140"),
        (lambda: noise_dose([(90, Q(-1, "hour"))]), "time of exposure must not be negative"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
