"""Decanting centrifuges: speeds and hertz, Sigma against the curve it stands for, balances, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.centrifuges import (
    Bowl,
    BowlCurve,
    SigmaForm,
    angular_speed,
    centrifuge_balance,
    centrifuge_cut_point,
    centrifuge_flow,
    cut_point_ratio,
    g_force,
    g_force_field,
    mixing_pit,
    old_mud_in_underflow,
    sigma,
    speed_for_g,
    two_stage,
    wall_share,
)
from pitside.cyclones import LOW_GRAVITY_FIELD
from pitside.errors import CalculationError, ValidityWarning
from pitside.materials import BARITE_FIELD
from pitside.settling import equal_settling_ratio
from pitside.units import Q

BOWL = Bowl(Q(1.0, "m"), Q(356, "mm"), Q(58, "mm"))
SPEED, FLOW = Q(1800, "rpm"), Q(50, "gal/min")
GRAIN = (Q(2.6, "SG"), Q(1.0, "SG"), Q(10, "cP"))
MUD, WATER = (Q(16.5, "gal/min"), Q(16.2, "lb/gal")), (Q(10.5, "gal/min"), Q(8.34, "lb/gal"))
OUT = (Q(23.4, "lb/gal"), Q(9.3, "lb/gal"))

ponds = st.floats(0.05, 0.95)


def cut(bowl=BOWL, speed=SPEED, flow=FLOW, form=SigmaForm.HALF_VOLUME, grain=GRAIN):
    return centrifuge_cut_point(bowl, speed, flow, *grain, form)


@pytest.mark.parametrize("speed", [Q(1800, "rpm"), Q(30, "Hz"), Q(30, "turn/s"), Q(60 * np.pi, "rad/s")], ids=str)
def test_a_bowl_turns_alike_whatever_unit_its_speed_is_in(speed):
    assert angular_speed(speed).magnitude == pytest.approx(60 * np.pi)
    assert g_force(Q(14, "in"), speed).magnitude == pytest.approx(g_force(Q(14, "in"), SPEED).magnitude)


def test_kilohertz_are_revolutions_too():
    assert angular_speed(Q(0.03, "kHz")).magnitude == pytest.approx(60 * np.pi)


@given(st.floats(6.0, 40.0), st.floats(10.0, 4000.0))
def test_g_and_speed_go_there_and_back(inches, rpm):
    diameter = Q(inches, "in")
    assert speed_for_g(diameter, g_force(diameter, Q(rpm, "rpm"))).m_as("rpm") == pytest.approx(rpm)
    assert g_force_field(diameter, Q(rpm, "rpm")).magnitude == pytest.approx(
        g_force(diameter, Q(rpm, "rpm")).magnitude, rel=2e-4
    )


def test_g_goes_with_diameter_and_speed_squared():
    once = g_force(Q(14, "in"), SPEED).magnitude
    assert g_force(Q(28, "in"), SPEED).magnitude == pytest.approx(2 * once)
    assert g_force(Q(14, "in"), 2 * SPEED).magnitude == pytest.approx(4 * once)
    assert g_force(Q(14, "in"), Q(0, "rpm")).magnitude == 0


@given(ponds)
def test_half_the_grains_of_the_half_volume_cut_reach_the_wall_and_all_of_the_complete_cut(depth):
    bowl = Bowl(Q(1.0, "m"), Q(356, "mm"), Q(178 * depth, "mm"))
    half, whole = (cut(bowl, form=form) for form in (SigmaForm.HALF_VOLUME, SigmaForm.COMPLETE))
    assert wall_share(bowl, SPEED, FLOW, half, *GRAIN).magnitude == pytest.approx(0.5)
    assert wall_share(bowl, SPEED, FLOW, whole, *GRAIN).magnitude == pytest.approx(1.0)
    assert wall_share(bowl, SPEED, FLOW, whole * 0.999, *GRAIN).magnitude < 1


@given(ponds)
def test_a_grain_of_the_half_depth_cut_falls_from_half_depth_to_the_wall(depth):
    bowl = Bowl(Q(1.0, "m"), Q(356, "mm"), Q(178 * depth, "mm"))
    size = cut(bowl, form=SigmaForm.HALF_DEPTH)
    wall, start = bowl.radius, (bowl.radius + bowl.pond_radius) / 2
    beyond_start = (wall**2 - start**2) / (wall**2 - bowl.pond_radius**2)
    assert wall_share(bowl, SPEED, FLOW, size, *GRAIN).magnitude == pytest.approx(beyond_start.m_as(""))


def test_amblers_short_form_is_right_for_shallow_ponds():
    shallow = Bowl(Q(1.0, "m"), Q(356, "mm"), Q(1, "mm"))
    exact, short = (sigma(shallow, SPEED, form).magnitude for form in (SigmaForm.HALF_VOLUME, SigmaForm.AMBLER))
    assert short / exact == pytest.approx(1, abs=1e-5)
    deep = sigma(BOWL, SPEED, SigmaForm.AMBLER) / sigma(BOWL, SPEED)
    assert deep.magnitude == pytest.approx(1.0085, abs=2e-4)


def test_a_shallow_pond_is_a_tank_of_the_walls_area():
    """Derived: as the pond gets shallow, Sigma is the wall's area times G in every 50 % convention."""
    shallow = Bowl(Q(2.0, "m"), Q(400, "mm"), Q(0.01, "mm"))
    tank = np.pi * 0.4 * 2.0 * g_force(Q(400, "mm"), SPEED).magnitude
    for form in (SigmaForm.HALF_VOLUME, SigmaForm.AMBLER, SigmaForm.HALF_DEPTH, SigmaForm.COMPLETE):
        assert sigma(shallow, SPEED, form).m_as("m**2") == pytest.approx(tank, rel=1e-4)


@given(st.floats(0.5, 2.0), st.floats(0.2, 5.0), st.floats(0.5, 5.0))
def test_the_cut_point_follows_speed_flow_and_viscosity(speed, flow, viscosity):
    changed = centrifuge_cut_point(BOWL, speed * SPEED, flow * FLOW, *GRAIN[:2], viscosity * GRAIN[2])
    assert (changed / cut()).magnitude == pytest.approx(cut_point_ratio(speed, flow, viscosity).magnitude)


@pytest.mark.parametrize("form", SigmaForm)
def test_flow_and_cut_point_go_there_and_back(form):
    found = centrifuge_flow(BOWL, SPEED, cut(form=form), *GRAIN, form)
    assert found.m_as("gal/min") == pytest.approx(50)


def test_pond_depth_by_this_theory_hardly_matters_to_a_half_cut():
    """A deep pond keeps grains longer and lets them fall further; by Sigma the two nearly cancel."""
    ponds = Bowl(Q(1.0, "m"), Q(356, "mm"), Q([20, 58, 100], "mm"))
    cuts = cut(ponds).m_as("um")
    assert np.all(np.diff(cuts) > 0)
    assert cuts[-1] / cuts[0] < 1.2


def test_barite_is_cut_finer_by_the_equal_settling_ratio():
    barite = cut(grain=(Q(4.2, "SG"), *GRAIN[1:]))
    assert (cut() / barite).magnitude == pytest.approx(
        equal_settling_ratio(Q(4.2, "SG"), Q(2.6, "SG"), Q(1.0, "SG")).magnitude
    )


def test_a_curve_rises_and_has_its_bypass():
    curve = BowlCurve(BOWL, SPEED, FLOW, *GRAIN[1:], bypass=0.1)
    sizes = Q(np.geomspace(0.1, 30, 40), "um")
    shares = curve.to_underflow(sizes, Q([[2.6], [4.2]], "SG")).magnitude
    assert shares.shape == (2, 40)
    assert np.all(np.diff(shares) >= 0)
    assert shares[0, 0] == pytest.approx(0.1, abs=1e-3)
    assert shares[0, -1] == 1
    assert np.all(shares[1] >= shares[0])


def test_coarse_grains_in_thin_liquid_are_warned_of():
    with pytest.warns(ValidityWarning, match="Reynolds number above"):
        thin = cut(speed=Q(3000, "rpm"), flow=Q(2000, "gal/min"), grain=(*GRAIN[:2], Q(1, "cP")))
    with pytest.warns(ValidityWarning, match="Reynolds number above"):
        assert centrifuge_flow(BOWL, Q(3000, "rpm"), thin, *GRAIN[:2], Q(1, "cP")).m_as("gal/min") == pytest.approx(
            2000
        )


@given(st.floats(9.5, 18.0), st.floats(0.0, 30.0))
def test_a_balance_closes_in_volume_and_mass(weight, dilution):
    mud, water = (Q(20, "gal/min"), Q(weight, "lb/gal")), (Q(dilution, "gal/min"), Q(8.34, "lb/gal"))
    diluted = (mud[0] * mud[1] + water[0] * water[1]) / (mud[0] + water[0])
    under, over = Q(23.0, "lb/gal"), (diluted + Q(8.0, "lb/gal")) / 2
    found = centrifuge_balance(*mud, *water, under, over)
    assert (found.underflow_rate + found.overflow_rate).m_as("gal/min") == pytest.approx(20 + dilution)
    mass_out = found.underflow_rate * under + found.overflow_rate * over
    assert mass_out.m_as("lb/min") == pytest.approx((mud[0] * mud[1] + water[0] * water[1]).m_as("lb/min"))
    assert found.mass_to_underflow.magnitude == pytest.approx((found.underflow_rate * under / mass_out).m_as(""))


def test_without_separation_all_goes_over_or_all_goes_under():
    none = centrifuge_balance(*MUD, Q(0, "gal/min"), WATER[1], Q(23, "lb/gal"), MUD[1])
    assert none.underflow_rate.magnitude == pytest.approx(0)
    everything = centrifuge_balance(*MUD, Q(0, "gal/min"), WATER[1], MUD[1], Q(9, "lb/gal"))
    assert everything.overflow_rate.m_as("gal/min") == pytest.approx(0)


def test_an_underflow_of_diluted_mud_is_old_mud_by_its_share_of_the_feed():
    """Nothing settled: the underflow is mud and water as they were fed."""
    diluted = (MUD[0] * MUD[1] + WATER[0] * WATER[1]) / (MUD[0] + WATER[0])
    share = old_mud_in_underflow(*MUD, *WATER, diluted).magnitude
    assert share == pytest.approx((MUD[0] / (MUD[0] + WATER[0])).magnitude)
    assert old_mud_in_underflow(*MUD, *WATER, BARITE_FIELD).magnitude == pytest.approx(0)


def test_the_pit_makes_the_mud_again_in_volume_and_weight():
    pit = mixing_pit(*MUD, *WATER, *OUT, Q(22.5, "lb/bbl"), Q(6, "lb/bbl"))
    fines = pit.clay_rate + pit.additive_rate
    volume = pit.underflow_rate + pit.water_rate + fines / LOW_GRAVITY_FIELD + pit.barite_rate / BARITE_FIELD
    assert volume.m_as("gal/min") == pytest.approx(16.5)
    mass = pit.underflow_rate * OUT[0] + pit.water_rate * WATER[1] + fines + pit.barite_rate
    assert mass.m_as("lb/min") == pytest.approx(16.5 * 16.2)
    assert (pit.additive_rate / pit.clay_rate).magnitude == pytest.approx(6 / 22.5)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_two_stages_lose_nothing(first, second):
    found = two_stage(first, second)
    assert (found.recovered + found.discarded + found.with_liquid).magnitude == pytest.approx(1)
    assert found.kept.magnitude == pytest.approx(1 - found.discarded.magnitude)
    assert found.discarded.magnitude <= second + 1e-12


def test_two_stages_take_percent_and_arrays():
    found = two_stage(Q([90, 35], "percent"), Q([95, 80], "percent"))
    assert found.discarded.magnitude == pytest.approx([0.095, 0.52])


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: angular_speed(Q(-1, "rpm")), "speed of rotation must not be negative"),
        (lambda: angular_speed(1800), r"speed must be a quantity with a unit of \[frequency\]"),
        (lambda: angular_speed(Q(1, "m")), r"speed must have a unit of \[frequency\]"),
        (lambda: g_force(Q(0, "in"), SPEED), "diameter of the bowl must be above zero"),
        (lambda: g_force_field(Q(0, "in"), SPEED), "diameter of the bowl must be above zero"),
        (lambda: speed_for_g(Q(0, "in"), 100), "diameter of the bowl must be above zero"),
        (lambda: speed_for_g(Q(14, "in"), -1), "g must not be negative"),
        (lambda: Bowl(Q(0, "m"), Q(356, "mm"), Q(58, "mm")), "length of the bowl"),
        (lambda: Bowl(Q(1, "m"), Q(0, "mm"), Q(58, "mm")), "diameter of the bowl"),
        (lambda: Bowl(Q(1, "m"), Q(356, "mm"), Q(0, "mm")), "depth of the pond must be above zero"),
        (lambda: Bowl(Q(1, "m"), Q(356, "mm"), Q(178, "mm")), "less deep than the bowl's radius"),
        (lambda: Bowl(Q(1, "m"), Q(356, "mm"), Q(58, "s")), r"pond depth must have a unit of \[length\]"),
        (lambda: cut(speed=Q(0, "rpm")), "a bowl at rest has no cut point"),
        (lambda: cut(flow=Q(0, "gal/min")), "flow must be above zero"),
        (lambda: cut(grain=(Q(1, "SG"), Q(1, "SG"), Q(1, "cP"))), "denser than the liquid"),
        (lambda: cut(grain=(*GRAIN[:2], Q(0, "cP"))), "viscosity must be above zero"),
        (lambda: centrifuge_flow(BOWL, SPEED, Q(0, "um"), *GRAIN), "cut point must be above zero"),
        (lambda: wall_share(BOWL, SPEED, FLOW, Q(0, "um"), *GRAIN), "sizes must be above zero"),
        (lambda: cut_point_ratio(speed_ratio=0), "must be above zero"),
        (lambda: BowlCurve(BOWL, SPEED, FLOW, *GRAIN[1:], bypass=1.5), "bypass share must lie"),
        (lambda: BowlCurve(BOWL, Q(1, "m"), FLOW, *GRAIN[1:]), r"must have a unit of \[frequency\]"),
        (lambda: BowlCurve(BOWL, SPEED, FLOW, *GRAIN[1:]).to_underflow(5, GRAIN[0]), r"a unit of \[length\]"),
        (
            lambda: BowlCurve(BOWL, SPEED, Q([40, 50], "gal/min"), *GRAIN[1:]).to_underflow(Q([3, 5], "um"), GRAIN[0]),
            "an axis of their own",
        ),
        (lambda: centrifuge_balance(*MUD, *WATER, Q(9, "lb/gal"), Q(9.3, "lb/gal")), "underflow must be heavier"),
        (lambda: centrifuge_balance(*MUD, *WATER, Q(23, "lb/gal"), Q(14, "lb/gal")), "no less than the overflow"),
        (lambda: centrifuge_balance(*MUD, Q(-1, "gal/min"), WATER[1], *OUT), "dilution rate must not be negative"),
        (lambda: centrifuge_balance(Q(0, "gal/min"), MUD[1], *WATER, *OUT), "feed rate must be above zero"),
        (lambda: old_mud_in_underflow(*MUD, *WATER, Q(12, "lb/gal")), "no lighter than the feed"),
        (lambda: old_mud_in_underflow(*MUD, *WATER, Q(36, "lb/gal")), "no heavier than the weighting material"),
        (lambda: old_mud_in_underflow(MUD[0], Q(36, "lb/gal"), *WATER, Q(34, "lb/gal")), "must be lighter than"),
        (lambda: mixing_pit(*MUD, *WATER, *OUT, Q(-1, "lb/bbl")), "clay and additive must not be negative"),
        (lambda: mixing_pit(*MUD, *WATER, *OUT, Q(600, "lb/bbl")), "cannot be made up again"),
        (lambda: two_stage(1.1, 0.5), "share to the underflow must lie"),
        (lambda: two_stage(0.5, Q(1, "um")), r"second must have a unit of \[\]"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
