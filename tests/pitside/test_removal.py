"""Drilled solids, removal performance and dilution: balances, the least waste, limits, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError, ValidityWarning
from pitside.removal import (
    clean_mud,
    dilution_cost,
    dilution_factor,
    dilution_plan,
    drilled_hole_volume,
    drilled_solids,
    drilled_solids_mass,
    drilled_solids_mass_field,
    drilled_solids_rate,
    least_discard_removal,
    level_removal,
    mud_built,
    new_mud,
    removal_performance,
    total_dilution,
    washout_from_diameters,
)
from pitside.units import Q

HOLE = (Q(12.25, "in"), Q(1000, "ft"))
FRACTIONS = st.tuples(st.floats(0.15, 0.7), st.floats(0.02, 0.12))


def test_results_are_in_si():
    values = [
        drilled_solids(*HOLE),
        drilled_solids_mass(*HOLE, Q(2.6, "SG")),
        drilled_solids_rate(HOLE[0], Q(50, "ft/h")),
        clean_mud(Q(9, "bbl"), 0.04),
        removal_performance(Q(700, "bbl"), Q(100, "bbl"), 0.05),
        dilution_cost(Q(1, "bbl"), 0.5, 0.35, 0.04, Q(50, "money/bbl")),
    ]
    assert [str(value.units) for value in values] == ["m³", "kg", "m³/s", "m³", "", "money"]


@given(st.floats(6, 17.5), st.floats(0, 0.4))
def test_washout_by_diameter_and_by_volume_make_one_hole(gauge, wider):
    actual = gauge * (1 + wider)
    washout = washout_from_diameters(Q(gauge, "in"), Q(actual, "in"))
    washed = drilled_hole_volume(Q(gauge, "in"), Q(100, "m"), washout)
    assert washed.magnitude == pytest.approx(drilled_hole_volume(Q(actual, "in"), Q(100, "m")).magnitude)


def test_washout_and_porosity_are_shares_of_volume():
    plain = drilled_solids(*HOLE)
    assert (drilled_solids(*HOLE, washout=Q(10, "percent")) / plain).magnitude == pytest.approx(1.1)
    assert (drilled_solids(*HOLE, porosity=0.25) / plain).magnitude == pytest.approx(0.75)
    assert drilled_solids(*HOLE, 0.1, 0.25).magnitude == pytest.approx(plain.magnitude * 1.1 * 0.75)


@given(st.floats(0, 200), st.floats(0, 0.5), st.floats(0, 0.4))
def test_a_rate_over_a_time_is_the_rock_of_that_length(speed, washout, porosity):
    rate = drilled_solids_rate(HOLE[0], Q(speed, "ft/h"), washout, porosity)
    drilled = drilled_solids(HOLE[0], Q(5 * speed, "ft"), washout, porosity)
    assert (rate * Q(5, "h")).m_as("bbl") == pytest.approx(drilled.m_as("bbl"))


def test_the_field_mass_is_a_little_less():
    exact = drilled_solids_mass(*HOLE, Q(2.6, "SG"))
    assert 0.998 < (drilled_solids_mass_field(*HOLE, 2.6) / exact).magnitude < 1


@given(st.floats(0, 1), st.floats(1, 500), st.floats(0.02, 0.12))
def test_performance_is_the_share_removed_where_mud_is_built_for_the_rest(removal, rock, fraction):
    built = new_mud(Q(rock * (1 - removal), "bbl"), fraction)
    assert removal_performance(built, Q(rock, "bbl"), fraction).magnitude == pytest.approx(removal, abs=1e-12)


@given(st.floats(1, 500), st.floats(0.02, 0.12))
def test_clean_mud_and_solids_make_the_new_mud_at_the_target(rock, target):
    clean = clean_mud(Q(rock, "bbl"), target)
    assert (Q(rock, "bbl") + clean).m_as("bbl") == pytest.approx(new_mud(Q(rock, "bbl"), target).m_as("bbl"))
    assert (Q(rock, "bbl") / (Q(rock, "bbl") + clean)).m_as("") == pytest.approx(target)


def test_the_ends_of_performance():
    assert removal_performance(Q(0, "bbl"), Q(100, "bbl"), 0.05).magnitude == 1
    assert removal_performance(total_dilution(Q(100, "bbl"), 0.05), Q(100, "bbl"), 0.05).magnitude == pytest.approx(0)


def test_more_mud_than_dilution_alone_takes_is_warned_of():
    with pytest.warns(ValidityWarning, match="more mud was built than dilution alone takes"):
        assert dilution_factor(Q(2100, "bbl"), Q(2000, "bbl")).magnitude == pytest.approx(1.05)
    with pytest.warns(ValidityWarning):
        removal_performance(Q([700, 2100], "bbl"), Q(100, "bbl"), 0.05)


@given(FRACTIONS, st.floats(0, 1))
def test_nothing_of_the_solids_is_lost_in_a_plan(fractions, removal):
    discard, target = fractions
    plan = dilution_plan(Q(100, "bbl"), removal, discard, target)
    removed = (plan.discard - plan.discarded_mud).m_as("bbl")
    assert removed + plan.retained_solids.m_as("bbl") == pytest.approx(100)
    assert plan.discard.m_as("bbl") * discard == pytest.approx(removed, abs=1e-9)
    assert plan.make_up.m_as("bbl") == pytest.approx(max(plan.clean_mud.m_as("bbl"), plan.discard.m_as("bbl")))


@given(FRACTIONS)
def test_at_level_removal_clean_mud_replaces_the_discard(fractions):
    removal = level_removal(*fractions)
    plan = dilution_plan(Q(100, "bbl"), removal, *fractions)
    assert plan.clean_mud.m_as("bbl") == pytest.approx(plan.discard.m_as("bbl"))


@given(FRACTIONS)
def test_at_least_discard_removal_new_mud_and_discard_are_alike(fractions):
    plan = dilution_plan(Q(100, "bbl"), least_discard_removal(*fractions), *fractions)
    assert plan.surplus.m_as("bbl") == pytest.approx(0, abs=1e-9)


@given(FRACTIONS)
def test_level_removal_costs_least_and_lies_just_below_the_handbook_optimum(fractions):
    best = level_removal(*fractions).magnitude
    removals = np.linspace(0, 1, 2001)
    cost = dilution_cost(Q(100, "bbl"), removals, *fractions, Q(50, "money/bbl"), Q(8, "money/bbl")).magnitude
    least = dilution_cost(Q(100, "bbl"), best, *fractions, Q(50, "money/bbl"), Q(8, "money/bbl")).magnitude
    assert np.all(cost >= least * (1 - 1e-12))
    assert best < least_discard_removal(*fractions).magnitude


def test_no_removal_takes_all_dilution_and_full_removal_none():
    none, full = (dilution_plan(Q(100, "bbl"), removal, 0.35, 0.04) for removal in (0.0, Q(100, "percent")))
    assert none.discard.magnitude == 0
    assert none.clean_mud.m_as("bbl") == pytest.approx(2400)
    assert full.clean_mud.magnitude == pytest.approx(0, abs=1e-12)


def test_arrays_give_what_their_elements_give():
    removals = [0.5, 0.8, 0.95]
    many = dilution_plan(Q(100, "bbl"), removals, 0.35, 0.04).make_up.magnitude
    np.testing.assert_allclose(
        many, [dilution_plan(Q(100, "bbl"), removal, 0.35, 0.04).make_up.magnitude for removal in removals]
    )
    lengths = Q([0, 100, 300], "ft")
    np.testing.assert_allclose(drilled_solids(HOLE[0], lengths).m_as("bbl"), [0, 14.578, 43.733], atol=0.001)


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: washout_from_diameters(Q(12, "in"), Q(11, "in")), "at least as wide as its gauge"),
        (lambda: washout_from_diameters(Q(0, "in"), Q(11, "in")), "gauge diameter must be above zero"),
        (lambda: drilled_hole_volume(Q(0, "in"), Q(1, "m")), "diameter must be above zero"),
        (lambda: drilled_hole_volume(HOLE[0], Q(-1, "m")), "length drilled must not be negative"),
        (lambda: drilled_hole_volume(*HOLE, -0.1), "washout must not be negative"),
        (lambda: drilled_solids(*HOLE, porosity=1.0), "porosity must be at least 0 and below 100 %"),
        (lambda: drilled_solids(*HOLE, porosity=-0.1), "porosity must be at least 0 and below 100 %"),
        (lambda: drilled_solids(Q(12, "bbl"), HOLE[1]), r"diameter must have a unit of \[length\]"),
        (lambda: drilled_solids_mass(*HOLE, Q(0, "SG")), "density must be above zero"),
        (lambda: drilled_solids_mass_field(*HOLE, 0), "specific gravity must be above zero"),
        (lambda: drilled_solids_rate(HOLE[0], Q(-1, "m/h")), "rate of penetration must not be negative"),
        (lambda: mud_built(Q(-1, "bbl"), 0.8), "volume of base fluid must not be negative"),
        (lambda: mud_built(Q(1, "bbl"), 0), "base fluid fraction must lie above 0"),
        (lambda: mud_built(Q(1, "bbl"), Q(101, "percent")), "base fluid fraction must lie above 0"),
        (lambda: total_dilution(Q(-1, "bbl"), 0.05), "volume of drilled solids must not be negative"),
        (lambda: total_dilution(Q(1, "bbl"), 5), "solids fraction must lie above 0 and below 100 %"),
        (lambda: dilution_factor(Q(-1, "bbl"), Q(1, "bbl")), "volume of mud built must not be negative"),
        (lambda: dilution_factor(Q(1, "bbl"), Q(0, "bbl")), "total dilution must be above zero"),
        (lambda: least_discard_removal(0.04, 0.35), "discard must hold a larger share"),
        (lambda: level_removal(0.35, 0), "target fraction must lie above 0 and below 100 %"),
        (lambda: dilution_plan(Q(-1, "bbl"), 0.5, 0.35, 0.04), "volume of drilled solids must not be negative"),
        (lambda: dilution_plan(Q(1, "bbl"), 1.1, 0.35, 0.04), "removal must lie between 0 and 100 %"),
        (lambda: dilution_plan(Q(1, "lb"), 0.5, 0.35, 0.04), r"drilled solids must have a unit of \[volume\]"),
        (lambda: dilution_cost(Q(1, "bbl"), 0.5, 0.35, 0.04, Q(-1, "money/bbl")), "cost of mud must not be negative"),
        (lambda: dilution_cost(Q(1, "bbl"), 0.5, 0.35, 0.04, Q(50, "money")), r"unit of \[currency\]/\[volume\]"),
        (
            lambda: dilution_cost(Q(1, "bbl"), 0.5, 0.35, 0.04, Q(1, "money/bbl"), Q(-1, "money/bbl")),
            "cost of disposal must not be negative",
        ),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
