"""Hydrocyclones: conventions beside the exact form, exponents, round trips, banks, spray and rope, what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.cyclones import (
    DESIGN_HEAD,
    LOW_GRAVITY_FIELD,
    ROPE_LIMIT,
    Bank,
    Cone,
    ConeFamily,
    Discharge,
    classify_discharge,
    family_cone,
    family_cone_dilute,
    family_numbers,
    family_water_split,
    feed_pressure,
    feed_pressure_field,
    feed_pressure_rule,
    flow_at_head,
    number_of_cones,
    plitt,
    plitt_cut_point,
    plitt_cut_point_later,
    plitt_flow,
    plitt_flow_split,
    plitt_pressure,
    plitt_sharpness,
    pump_duty,
    rope_limit_by_overflow,
    rope_limit_by_size,
    sampled_underflow,
    underflow_share,
    underflow_solids,
)
from pitside.errors import CalculationError, ValidityWarning
from pitside.pumps import head_from_pressure
from pitside.units import WATER_FIELD, Q

DESILTER = Cone(Q(4, "in"), Q(2.5, "cm"), Q(3.5, "cm"), Q(1.6, "cm"), Q(45, "cm"))
FLOW, SOLIDS, LIGHT, WATER, THIN = Q(50, "gal/min"), 0.05, Q(2.6, "SG"), Q(1.0, "SG"), Q(1, "cP")
FEED = (Q(1.0, "L/s"), Q(75, "mm"), 0.10, 0.02, Q(2650, "kg/m**3"), Q(1000, "kg/m**3"), Q(1, "mPa*s"))


@given(st.floats(8.0, 20.0), st.floats(20.0, 120.0))
def test_head_and_pressure_go_there_and_back(weight, feet):
    mud, head = Q(weight, "lb/gal"), Q(feet, "ft")
    assert head_from_pressure(feed_pressure(mud, head), mud).m_as("ft") == pytest.approx(feet)
    assert feed_pressure_field(mud, head).m_as("psi") == pytest.approx(0.052 * feet * weight)


def test_conventions_lie_by_as_much_as_they_say_from_the_exact_form():
    exact = feed_pressure(Q(12.0, "lb/gal")).m_as("psi")
    assert feed_pressure_field(Q(12.0, "lb/gal")).m_as("psi") / exact == pytest.approx(1.001, abs=5e-5)
    assert feed_pressure_rule(Q(12.0, "lb/gal")).m_as("psi") / exact == pytest.approx(1.027, abs=5e-4)


def test_the_same_head_is_the_same_flow_and_a_cone_passes_mud_as_a_nozzle():
    assert flow_at_head(FLOW, DESIGN_HEAD).m_as("gal/min") == pytest.approx(50)
    assert flow_at_head(FLOW, DESIGN_HEAD / 4).m_as("gal/min") == pytest.approx(25)
    assert flow_at_head(FLOW, Q([0, 75], "ft"), Q(75, "ft")).m_as("gal/min") == pytest.approx([0, 50])


@pytest.mark.parametrize(
    ("flow", "excess", "cones"),
    [(500, 0.0, 10), (501, 0.0, 11), (499, 0.0, 10), (400, 0.25, 10), (401, 0.25, 11), (0, 0.25, 0)],
)
def test_cones_are_rounded_up_but_not_past_a_whole_number(flow, excess, cones):
    assert number_of_cones(Q(flow, "gal/min"), FLOW, excess).magnitude == cones


def test_metric_flows_need_as_many_cones():
    in_metric = number_of_cones(Q([500, 501], "gal/min").to("m**3/h"), FLOW.to("L/s")).magnitude
    np.testing.assert_array_equal(in_metric, [10, 11])


def test_pump_power_follows_mud_weight_and_head_does_not():
    light, heavy = (pump_duty(Q(1000, "gal/min"), Q(weight, "lb/gal")) for weight in (9.0, 18.0))
    assert heavy.head == light.head
    assert (heavy.shaft_power / light.shaft_power).magnitude == pytest.approx(2)
    assert (light.hydraulic_power / light.shaft_power).magnitude == pytest.approx(0.65)
    assert light.hydraulic_power.m_as("W") == pytest.approx((light.pressure * Q(1000, "gal/min")).m_as("W"))


def test_a_bank_takes_its_flow_with_one_out_of_service():
    bank = Bank.for_flow(Q(900, "gal/min"), Q(250, "gal/min"), spare=1)
    assert bank.modules == 5
    assert bank.capacity(shut=1).m_as("gal/min") == pytest.approx(1000)
    assert bank.to_run(Q(900, "gal/min"), shut=1) == 4
    assert bank.load(Q(900, "gal/min"), shut=1) == pytest.approx(0.9)


def test_turndown_is_from_all_full_to_one_at_its_least_load():
    bank = Bank(4, Q(250, "gal/min"), least_load=0.8)
    assert bank.turndown == pytest.approx(5)
    assert bank.to_run(Q(200, "gal/min")) == 1
    assert bank.to_run(bank.capacity()) == 4
    with pytest.raises(CalculationError, match="too little for 1 of these modules"):
        bank.to_run(Q(199, "gal/min"))


def test_between_two_numbers_of_modules_some_flows_fit_neither():
    bank = Bank(4, Q(250, "gal/min"), least_load=0.8)
    with pytest.raises(
        CalculationError, match=r"300 gal/min .* too little for 2 of these modules.*at least 400 gal/min"
    ):
        bank.to_run(Q(300, "gal/min"))
    assert Bank(4, Q(250, "gal/min"), least_load=0.6).to_run(Q(300, "gal/min")) == 2


@given(st.integers(1, 12), st.floats(0.3, 1.0), st.floats(0.0, 1.0))
def test_every_module_that_runs_is_within_its_range(modules, least_load, part):
    bank = Bank(modules, Q(250, "gal/min"), least_load)
    flow = bank.capacity() * (part * (1 - least_load / modules) + least_load / modules)
    try:
        load = bank.load(flow)
    except CalculationError:
        running = math.ceil(round((flow / Q(250, "gal/min")).m_as(""), 9))
        assert (flow / (running * Q(250, "gal/min"))).m_as("") < least_load
    else:
        assert least_load - 1e-9 <= load <= 1 + 1e-9


@pytest.mark.parametrize(
    ("change", "times"),
    [
        ({"flow": Q(100, "gal/min")}, 2**-0.45),
        ({"solids_fraction": 0.15}, math.exp(0.063 * 10)),
        ({"solid_density": Q(4.2, "SG")}, 0.5**0.5),
    ],
    ids=["flow", "solids", "density"],
)
def test_plitts_cut_point_follows_its_exponents(change, times):
    feed = {"flow": FLOW, "solids_fraction": SOLIDS, "solid_density": LIGHT, "liquid_density": WATER}
    once = plitt_cut_point(DESILTER, **feed)
    assert (plitt_cut_point(DESILTER, **(feed | change)) / once).magnitude == pytest.approx(times)


def test_the_later_form_is_a_little_finer_in_water_and_coarser_in_thick_liquid():
    once = plitt_cut_point(DESILTER, FLOW, SOLIDS, LIGHT, WATER)
    later = plitt_cut_point_later(DESILTER, FLOW, SOLIDS, LIGHT, WATER)
    assert (later / once).magnitude == pytest.approx(0.9943, abs=2e-4)
    thick = plitt_cut_point_later(DESILTER, FLOW, SOLIDS, LIGHT, WATER, Q(4, "cP"))
    assert (thick / later).magnitude == pytest.approx(2)


@given(st.floats(5.0, 100.0), st.floats(0.0, 0.3))
def test_plitts_pressure_and_flow_go_there_and_back(gallons, solids):
    flow = Q(gallons, "gal/min")
    assert plitt_flow(DESILTER, plitt_pressure(DESILTER, flow, solids), solids).m_as("gal/min") == pytest.approx(
        gallons
    )


def test_a_wider_apex_sends_more_down_and_cuts_finer():
    wide = Cone(DESILTER.diameter, DESILTER.inlet, DESILTER.overflow, Q(2.2, "cm"), DESILTER.free_vortex_height)
    narrow, open_apex = (plitt(cone, FLOW, SOLIDS, LIGHT, WATER) for cone in (DESILTER, wide))
    assert open_apex.to_underflow > narrow.to_underflow
    assert open_apex.cut_point < narrow.cut_point
    assert open_apex.sharpness < narrow.sharpness


def test_a_cones_curve_carries_what_the_correlation_said():
    found = plitt(DESILTER, FLOW, SOLIDS, LIGHT, WATER)
    curve = found.curve()
    assert curve.corrected_cut_point(LIGHT).magnitude == pytest.approx(found.cut_point.magnitude)
    assert curve.to_underflow(Q(1e-3, "um"), LIGHT).magnitude == pytest.approx(found.to_underflow.magnitude, rel=1e-6)
    split = plitt_flow_split(DESILTER, found.pressure, Q(1.08, "SG"), SOLIDS)
    assert (split / (1 + split)).magnitude == pytest.approx(found.to_underflow.magnitude)
    assert plitt_sharpness(DESILTER, FLOW, found.to_underflow).magnitude == found.sharpness.magnitude


def test_plitt_takes_arrays():
    flows = Q([40, 50, 60], "gal/min")
    found = plitt(DESILTER, flows, SOLIDS, LIGHT, WATER)
    one = plitt(DESILTER, FLOW, SOLIDS, LIGHT, WATER)
    assert found.cut_point.shape == (3,)
    for field in ("cut_point", "pressure", "to_underflow", "sharpness"):
        assert getattr(found, field)[1].magnitude == pytest.approx(getattr(one, field).magnitude)


@pytest.mark.parametrize("family", ConeFamily)
def test_a_family_is_consistent_in_its_numbers(family):
    found = family_cone(family, *FEED)
    flow, diameter, _, crowd, solid, liquid, viscosity = FEED
    reynolds, euler, velocity = family_numbers(family, flow, diameter, crowd, liquid, viscosity)
    assert reynolds.magnitude == pytest.approx((liquid * velocity * diameter / viscosity).m_as(""))
    assert found.pressure.m_as("Pa") == pytest.approx((euler * liquid * velocity**2 / 2).m_as("Pa"))
    again = family_cone(family, flow, diameter, 0.10, crowd, solid, liquid, 4 * viscosity)
    expected = 2 * (euler / family_numbers(family, flow, diameter, crowd, liquid, 4 * viscosity)[1]).magnitude ** 0.5
    assert (again.cut_point / found.cut_point).magnitude == pytest.approx(expected)


def test_bradley_cuts_finer_and_rietema_takes_more():
    rietema, bradley = (family_cone(family, *FEED) for family in (ConeFamily.RIETEMA, ConeFamily.BRADLEY))
    assert bradley.cut_point < rietema.cut_point
    assert bradley.pressure > rietema.pressure
    dilute = [family_cone_dilute(family, *FEED[:2], *FEED[4:]) for family in (ConeFamily.RIETEMA, ConeFamily.BRADLEY)]
    assert dilute[1][0] < dilute[0][0]


@pytest.mark.parametrize("family", ConeFamily)
def test_the_dilute_constants_agree_with_the_full_ones_within_a_third(family):
    flow, diameter, _, _, solid, liquid, viscosity = FEED
    full = family_cone(family, flow, diameter, 0.05, 0.001, solid, liquid, viscosity)
    cut_point, pressure = family_cone_dilute(family, flow, diameter, solid, liquid, viscosity)
    assert (cut_point / full.cut_point).magnitude == pytest.approx(1, abs=0.33)
    assert (pressure / full.pressure).magnitude == pytest.approx(1, abs=0.33)


def test_a_wider_apex_of_a_family_sends_more_water_down():
    splits = family_water_split(ConeFamily.RIETEMA, np.array([0.15, 0.20]), 1000.0).magnitude
    assert splits[1] / splits[0] == pytest.approx((4 / 3) ** 4.75)
    with pytest.raises(CalculationError, match="choose a smaller apex"):
        family_water_split(ConeFamily.RIETEMA, 0.5, 1000.0)


def test_crowded_feeds_are_warned_of_and_still_answered():
    with pytest.warns(ValidityWarning, match="above 30% solids"):
        assert plitt_pressure(DESILTER, FLOW, 0.35).magnitude > 0
    with pytest.warns(ValidityWarning, match="above 30% solids"):
        assert family_numbers(ConeFamily.RIETEMA, *FEED[:2], 0.4, *FEED[5:])[1].magnitude > 0


def test_spray_and_rope_meet_at_the_limit():
    found = classify_discharge(np.array([0.10, ROPE_LIMIT - 0.05, ROPE_LIMIT - 0.049, ROPE_LIMIT, ROPE_LIMIT + 1e-6]))
    assert [each.name for each in found] == ["SPRAY", "SPRAY", "VERGE", "VERGE", "ROPE"]
    assert classify_discharge(Q(45, "percent"), rope_limit_by_size(Q(40, "um"))) is Discharge.ROPE
    assert classify_discharge(0.30) is Discharge.SPRAY


def test_limits_of_spray_rise_with_overflow_and_with_size():
    assert np.all(np.diff(rope_limit_by_overflow(np.array([0.0, 0.1, 0.2])).magnitude) > 0)
    sizes = rope_limit_by_size(Q([5, 60, 5000], "um")).magnitude
    assert np.all(np.diff(sizes) > 0)
    assert sizes[-1] == pytest.approx(0.623)


@given(st.floats(0.0, 1.0), st.floats(1.0, 10.0), st.floats(1.0, 60.0))
def test_an_underflow_is_its_solids_and_its_liquid(solids, litres, seconds):
    density = solids * LOW_GRAVITY_FIELD + (1 - solids) * WATER_FIELD
    found = sampled_underflow(density, Q(litres, "L"), Q(seconds, "s"))
    assert found.solids_fraction.magnitude == pytest.approx(solids, abs=1e-9)
    whole = found.solids_rate / LOW_GRAVITY_FIELD + found.liquid_rate
    assert whole.m_as("L/s") == pytest.approx(litres / seconds)
    mass = found.solids_rate + found.liquid_rate * WATER_FIELD
    assert mass.m_as("kg/s") == pytest.approx((density * Q(litres, "L") / Q(seconds, "s")).m_as("kg/s"))


def test_a_denser_underflow_may_remove_less():
    spray = sampled_underflow(Q(12.0, "lb/gal"), Q(1, "quart"), Q(8, "s"))
    rope = sampled_underflow(Q(16.0, "lb/gal"), Q(1, "quart"), Q(45, "s"))
    assert rope.solids_fraction > spray.solids_fraction
    assert rope.solids_rate < spray.solids_rate


@given(st.floats(0.0, 1.0))
def test_the_share_of_the_underflow_balances_volume_and_mass(share):
    under, over = Q(13.0, "lb/gal"), Q(9.0, "lb/gal")
    assert underflow_share(share * under + (1 - share) * over, under, over).magnitude == pytest.approx(share, abs=1e-9)


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: feed_pressure(Q(12, "lb/gal"), Q(-1, "ft")), "head must not be negative"),
        (lambda: feed_pressure(Q(0, "lb/gal")), "mud weight must be above zero"),
        (lambda: feed_pressure_rule(Q(0, "lb/gal")), "mud weight must be above zero"),
        (lambda: head_from_pressure(Q(-1, "psi"), Q(12, "lb/gal")), "pressure must not be negative"),
        (lambda: flow_at_head(FLOW, Q(60, "ft"), Q(0, "ft")), "rated head must be above zero"),
        (lambda: flow_at_head(FLOW, Q(-1, "ft")), "must not be negative"),
        (lambda: number_of_cones(FLOW, Q(0, "gal/min")), "cone flow must be above zero"),
        (lambda: number_of_cones(FLOW, FLOW, -0.1), "excess must not be negative"),
        (lambda: number_of_cones(Q(5, "gal"), FLOW), "flow must have a unit of"),
        (lambda: pump_duty(FLOW, Q(12, "lb/gal"), efficiency=0), "efficiency must lie above 0, to 100 %"),
        (lambda: pump_duty(FLOW, Q(12, "lb/gal"), efficiency=1.2), "efficiency must lie above 0, to 100 %"),
        (lambda: Bank(0, FLOW), "whole number of modules"),
        (lambda: Bank(2.5, FLOW), "whole number of modules"),
        (lambda: Bank(4, Q(0, "gal/min")), "rated flow of a module"),
        (lambda: Bank(4, FLOW, least_load=0), "least load must be above zero"),
        (lambda: Bank(4, FLOW).capacity(shut=5), "cannot have 5 of them shut"),
        (lambda: Bank(4, FLOW).to_run(Q(201, "gal/min")), "more than 4 modules take: at most 200 gal/min"),
        (lambda: Bank(4, FLOW).to_run(Q(180, "gal/min"), shut=1), "more than 3 modules take"),
        (lambda: Bank(4, FLOW).to_run(Q(0, "gal/min")), "without flow"),
        (lambda: Bank.for_flow(FLOW, FLOW, spare=-1), "must not be negative"),
        (lambda: Cone(Q(4, "in"), Q(4, "in"), Q(1, "in"), Q(1, "in"), Q(9, "in")), "inlet must be smaller than"),
        (lambda: Cone(Q(4, "in"), Q(1, "in"), Q(1, "in"), Q(0, "in"), Q(9, "in")), "underflow diameter must be above"),
        (lambda: Cone(Q(4, "in"), Q(1, "in"), Q(1, "in"), Q(1, "in"), Q(9, "s")), r"must have a unit of \[length\]"),
        (lambda: plitt_cut_point(DESILTER, Q(0, "L/min"), SOLIDS, LIGHT, WATER), "flow must be above zero"),
        (lambda: plitt_cut_point(DESILTER, FLOW, 1.0, LIGHT, WATER), "solids fraction must be at least 0"),
        (lambda: plitt_cut_point(DESILTER, FLOW, SOLIDS, WATER, WATER), "denser than the liquid"),
        (lambda: plitt_cut_point_later(DESILTER, FLOW, SOLIDS, LIGHT, WATER, Q(0, "cP")), "viscosity must be above"),
        (lambda: plitt_flow(DESILTER, Q(0, "psi"), SOLIDS), "pressure must be above zero"),
        (lambda: plitt_sharpness(DESILTER, FLOW, 1.2), "share to the underflow must lie"),
        (lambda: plitt_flow_split(DESILTER, Q(10, "psi"), Q(0, "SG"), SOLIDS), "slurry density must be above zero"),
        (lambda: family_cone(ConeFamily.RIETEMA, *FEED[:2], 0.0, *FEED[3:]), "water split must lie"),
        (lambda: family_cone(ConeFamily.RIETEMA, *FEED[:4], WATER, WATER, THIN), "denser than the liquid"),
        (lambda: family_numbers(ConeFamily.RIETEMA, FLOW, Q(0, "mm"), 0.0, WATER, THIN), "diameter must be above"),
        (lambda: family_water_split(ConeFamily.RIETEMA, 0.0, 1000.0), "must be above zero"),
        (lambda: rope_limit_by_overflow(1.5), "must lie between 0 and 100 %"),
        (lambda: rope_limit_by_size(Q(0, "um")), "median size must be above zero"),
        (lambda: classify_discharge(1.2), "solids of the underflow must lie"),
        (lambda: classify_discharge(0.4, 1.0), "limit of spray must lie"),
        (lambda: underflow_solids(Q(8.0, "lb/gal")), "must lie between that of its liquid"),
        (lambda: underflow_solids(Q(22, "lb/gal")), "must lie between that of its liquid"),
        (lambda: underflow_solids(Q(9, "lb/gal"), Q(9, "lb/gal"), Q(8, "lb/gal")), "denser than the liquid"),
        (lambda: sampled_underflow(Q(12, "lb/gal"), Q(1, "L"), Q(0, "s")), "time must be above zero"),
        (lambda: sampled_underflow(Q(12, "lb/gal"), Q(-1, "L"), Q(2, "s")), "volume of the sample must not be"),
        (lambda: underflow_share(Q(9, "lb/gal"), Q(9, "lb/gal"), Q(9, "lb/gal")), "underflow must be heavier"),
        (lambda: underflow_share(Q(14, "lb/gal"), Q(13, "lb/gal"), Q(9, "lb/gal")), "feed must weigh no less"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
