"""Mixtures, plans and ways to take weight off: every one keeps volume and mass; limits; what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.blending import (
    CARBONATE_CEILING,
    component_after,
    component_lost,
    dilution_volume_bled_off,
    mixture,
    reduce_by_both,
    reduce_by_dilution,
    reduce_by_removal,
    reduction_cost,
    weight_up,
    weight_up_plan,
    weighting_mass_bled_off,
)
from pitside.dilution import mixed_density, replacement_volume
from pitside.errors import CalculationError, ValidityWarning
from pitside.materials import BARITE, BARITE_FIELD, MATERIALS
from pitside.units import WATER_FIELD, Q
from pitside.weighting import mud_weight_after, weighting_mass_fixed_final

VOLUME, HEAVY, LIGHT, UNDERFLOW = Q(100, "bbl"), Q(14.0, "lb/gal"), Q(12.0, "lb/gal"), Q(22.0, "lb/gal")
PLAN = {"pit_limit": Q(920, "bbl"), "hopper_rate": Q(8, "sack/min")}
JOB = Q(900, "bbl"), Q(11.0, "lb/gal"), Q(12.5, "lb/gal"), BARITE_FIELD
PRICES = {
    "diluent_price": Q(60, "money/bbl"),
    "disposal_price": Q(20, "money/bbl"),
    "material_price": Q(15, "money/sack"),
    "mud_material": Q(17, "percent"),
    "underflow_material": Q(48, "percent"),
}


@st.composite
def reductions(draw):
    """Volume, weight before, target, underflow, diluent of a job that could be."""
    diluent = draw(st.floats(6.5, 8.6))
    target = diluent + draw(st.floats(0.2, 8.0))
    before = target + draw(st.floats(0.01, 3.0))
    underflow = before + draw(st.floats(0.5, 8.0))
    return (Q(draw(st.floats(1, 3000)), "bbl"), *(Q(value, "lb/gal") for value in (before, target, underflow, diluent)))


def mass_left(reduction, weights):
    """Mass of the mud after, from what went in and out."""
    before, _, underflow, diluent = weights
    return (
        (reduction.volume - reduction.mud_out) * before
        - reduction.underflow_out * underflow
        + reduction.diluent_in * diluent
    )


def check_balances(reduction, weights):
    volume = (reduction.volume - reduction.mud_out - reduction.underflow_out + reduction.diluent_in).m_as("m**3")
    assert reduction.final_volume.m_as("m**3") == pytest.approx(volume, rel=1e-9)
    density = (mass_left(reduction, weights) / reduction.final_volume).m_as("kg/m**3")
    assert density == pytest.approx(weights[1].m_as("kg/m**3"), rel=1e-9)
    for part in (reduction.mud_out, reduction.underflow_out, reduction.diluent_in, reduction.final_volume):
        assert part.magnitude >= 0


@given(st.lists(st.tuples(st.floats(0, 1000), st.floats(7, 40)), min_size=1, max_size=8))
def test_a_mixture_keeps_volume_and_mass(parts):
    volumes, densities = np.array(parts).T
    volumes[0] += 1
    found = mixture(Q(volumes, "bbl"), Q(densities, "lb/gal"))
    assert found.volume.m_as("bbl") == pytest.approx(volumes.sum())
    assert found.mass.m_as("lb") == pytest.approx(42 * volumes @ densities)
    assert found.density.m_as("lb/gal") == pytest.approx(found.mass.m_as("lb") / found.volume.m_as("gal"))
    assert found.volume_fractions.magnitude.sum() == pytest.approx(1)
    assert found.mass_fractions.magnitude.sum() == pytest.approx(1)
    np.testing.assert_allclose(
        (found.mass_fractions * found.density).m_as("lb/gal"), found.volume_fractions.magnitude * densities, atol=1e-12
    )


def test_a_mixture_works_down_the_first_axis():
    found = mixture(Q([[100, 100], [0, 100]], "bbl"), Q([[10, 10], [14, 14]], "lb/gal"))
    np.testing.assert_allclose(found.density.m_as("lb/gal"), [10, 12])
    np.testing.assert_allclose(found.volume_fractions.magnitude, [[1, 0.5], [0, 0.5]])
    assert str(found.volume.units) == "m³"


def test_materials_side_by_side():
    found = {
        name: weight_up(VOLUME, LIGHT, Q(13, "lb/gal"), MATERIALS[name])
        for name in ("hematite", "barite", "barite_4_10", "calcium_carbonate")
    }
    rises = [way.volume_rise.m_as("bbl") for way in found.values()]
    masses = [way.mass.m_as("lb") for way in found.values()]
    assert rises == sorted(rises)
    assert masses == sorted(masses)
    for way in found.values():
        assert way.final_volume.m_as("bbl") == pytest.approx(100 + way.volume_rise.m_as("bbl"))
        assert way.mass.m_as("lb") == pytest.approx((way.volume_rise * way.material.density).m_as("lb"))
        mixed = mixed_density(
            Q([100, way.volume_rise.m_as("bbl")], "bbl"), Q([12, way.material.density.m_as("lb/gal")], "lb/gal")
        )
        assert mixed.m_as("lb/gal") == pytest.approx(13)
        assert way.material_fraction.magnitude == pytest.approx((way.volume_rise / way.final_volume).m_as(""))


def test_carbonate_warns_above_its_ceiling_and_barite_does_not():
    weight_up(VOLUME, LIGHT, CARBONATE_CEILING, MATERIALS["calcium_carbonate"])
    weight_up(VOLUME, LIGHT, Q(18, "lb/gal"), MATERIALS["barite"])
    with pytest.warns(ValidityWarning, match=r"calcium carbonate is not used above 14\.0 lb/gal"):
        weight_up(VOLUME, LIGHT, Q(14.1, "lb/gal"), MATERIALS["calcium_carbonate"])


@given(st.floats(10, 3000), st.floats(8.5, 17), st.floats(0.01, 2.5), st.floats(10, 3000), st.floats(0.5, 60))
def test_a_plan_keeps_volume_and_mass_and_never_runs_over(volume, weight, rise, limit, rate):
    job = Q(volume, "bbl"), Q(weight, "lb/gal"), Q(weight + rise, "lb/gal"), BARITE
    plan = weight_up_plan(*job, pit_limit=Q(limit, "bbl"), hopper_rate=Q(rate, "sack/min"), batch_time=Q(1, "h"))
    assert (plan.moved_out + plan.start_volume).m_as("bbl") == pytest.approx(volume)
    assert plan.moved_out.magnitude >= 0
    assert plan.final_volume.m_as("bbl") <= limit * (1 + 1e-9)
    if plan.moved_out.magnitude > 0:
        assert plan.final_volume.m_as("bbl") == pytest.approx(limit)
    assert plan.batch_masses.sum().m_as("lb") == pytest.approx(plan.mass.m_as("lb"))
    assert plan.final_volume.m_as("m**3") == pytest.approx((plan.start_volume + plan.mass / BARITE).m_as("m**3"))
    assert plan.mud_weights[-1].m_as("lb/gal") == pytest.approx(weight + rise)
    assert plan.volumes[-1].m_as("m**3") == pytest.approx(plan.final_volume.m_as("m**3"))
    assert np.all(np.diff(plan.mud_weights.magnitude) > 0)
    masses = plan.volumes * plan.mud_weights - plan.start_volume * job[1]
    np.testing.assert_allclose(
        np.diff(masses.m_as("kg"), prepend=0), plan.batch_masses.m_as("kg"), rtol=1e-6, atol=1e-6
    )


def test_a_plan_has_full_batches_and_one_last_one():
    plan = weight_up_plan(*JOB, **PLAN)
    sacks = plan.batch_masses.m_as("sack")
    np.testing.assert_allclose(sacks[:-1], 240)
    assert 0 < sacks[-1] < 240
    np.testing.assert_allclose(plan.elapsed.m_as("min")[:-1], [30, 60, 90])
    assert plan.elapsed[-1].m_as("min") == pytest.approx(plan.mass.m_as("sack") / 8)


def test_a_plan_without_need_of_room_moves_nothing_out():
    plan = weight_up_plan(*JOB, pit_limit=Q(2000, "bbl"), hopper_rate=Q(8, "sack/min"))
    assert plan.moved_out.magnitude == 0
    assert plan.mass.m_as("sack") == pytest.approx(900 / 100 * 1470 * 1.5 / 22.5)


def test_a_plan_of_whole_batches_has_no_crumb_of_a_batch():
    mass = weight_up_plan(*JOB, **PLAN).mass
    plan = weight_up_plan(*JOB, pit_limit=PLAN["pit_limit"], hopper_rate=mass / Q(90, "min"))
    np.testing.assert_allclose(plan.elapsed.m_as("min"), [30, 60, 90])


def test_a_mud_at_its_target_needs_no_batch():
    plan = weight_up_plan(JOB[0], JOB[1], JOB[1], JOB[3], pit_limit=Q(920, "bbl"), hopper_rate=Q(8, "sack/min"))
    assert plan.mass.magnitude == 0
    assert plan.moved_out.m_as("bbl") == pytest.approx(0)
    assert plan.batch_masses.size == plan.elapsed.size == plan.mud_weights.size == plan.volumes.size == 0


@given(st.floats(1, 3000), st.floats(8.5, 17), st.floats(0.05, 2.5))
def test_moving_mud_out_first_takes_less_material_than_bleeding_off(volume, weight, rise):
    job = Q(volume, "bbl"), Q(weight, "lb/gal"), Q(weight + rise, "lb/gal"), BARITE
    first, bled = weighting_mass_fixed_final(*job), weighting_mass_bled_off(*job)
    growing = weighting_mass_fixed_final(job[0] * 2, *job[1:])
    assert first < bled < growing


@given(reductions())
def test_moving_mud_out_first_takes_less_liquid_than_bleeding_off(job):
    volume, before, target, _, diluent = job
    first = replacement_volume(volume, before, target, diluent)
    bled = dilution_volume_bled_off(volume, before, target, diluent)
    assert first < bled
    assert bled < reduce_by_dilution(volume, before, target, diluent).diluent_in


def test_bleeding_off_in_small_steps_comes_to_the_formula():
    volume, weight, added = 100.0, 14.0, 0.0
    step = 0.001
    while weight > 12.0:
        weight -= step / volume * (weight - 8.33)
        added += step
    assert dilution_volume_bled_off(VOLUME, HEAVY, LIGHT, WATER_FIELD).m_as("bbl") == pytest.approx(added, rel=1e-4)
    weight, barite = 12.0, 0.0
    while weight < 14.0:
        weight += step / volume * (35.0 - weight)
        barite += step
    mass = weighting_mass_bled_off(VOLUME, LIGHT, HEAVY, BARITE_FIELD)
    assert mass.m_as("lb") == pytest.approx(barite * 42 * 35, rel=1e-4)


def test_nothing_to_do_takes_nothing():
    assert weighting_mass_bled_off(VOLUME, LIGHT, LIGHT, BARITE).magnitude == 0
    assert dilution_volume_bled_off(VOLUME, LIGHT, LIGHT, WATER_FIELD).magnitude == 0
    for found in (
        reduce_by_dilution(VOLUME, LIGHT, LIGHT, WATER_FIELD, pit_limit=VOLUME),
        reduce_by_removal(VOLUME, LIGHT, LIGHT, UNDERFLOW),
        reduce_by_both(VOLUME, LIGHT, LIGHT, UNDERFLOW, WATER_FIELD),
    ):
        for part in (found.mud_out, found.underflow_out, found.diluent_in):
            assert part.m_as("bbl") == pytest.approx(0, abs=1e-9)
        assert found.final_volume.m_as("bbl") == pytest.approx(100)


@given(reductions(), st.floats(0.3, 3))
def test_dilution_is_balanced_with_and_without_a_limit(job, room):
    volume, before, target, _, diluent = job
    weights = job[1:]
    free = reduce_by_dilution(volume, before, target, diluent)
    check_balances(free, weights)
    assert free.mud_out.magnitude == 0
    limited = reduce_by_dilution(volume, before, target, diluent, pit_limit=room * volume)
    check_balances(limited, weights)
    assert limited.final_volume <= room * volume * (1 + 1e-9)
    if limited.mud_out.magnitude > 0:
        assert limited.final_volume.m_as("bbl") == pytest.approx(room * volume.m_as("bbl"))


@given(reductions())
def test_removal_is_balanced(job):
    check_balances(reduce_by_removal(*job[:4]), job[1:])


@given(reductions(), st.floats(0, 1))
def test_both_are_balanced_at_any_volume_between_the_two(job, share):
    weights = job[1:]
    least = reduce_by_removal(*job[:4]).final_volume
    most = reduce_by_dilution(job[0], job[1], job[2], job[4]).final_volume
    wanted = least + share * (most - least)
    found = reduce_by_both(*job, final_volume=wanted)
    check_balances(found, weights)
    assert found.final_volume.m_as("bbl") == pytest.approx(wanted.m_as("bbl"))
    check_balances(reduce_by_both(*job), weights)
    assert reduce_by_both(*job).final_volume.m_as("bbl") == pytest.approx(job[0].m_as("bbl"))


def test_both_meet_each_way_at_its_end():
    job = VOLUME, HEAVY, LIGHT, UNDERFLOW, WATER_FIELD
    removed, diluted = reduce_by_removal(*job[:4]), reduce_by_dilution(*job[:3], job[4])
    none_in = reduce_by_both(*job, final_volume=removed.final_volume)
    assert none_in.diluent_in.m_as("bbl") == pytest.approx(0, abs=1e-9)
    assert none_in.underflow_out.m_as("bbl") == pytest.approx(removed.underflow_out.m_as("bbl"))
    none_out = reduce_by_both(*job, final_volume=diluted.final_volume)
    assert none_out.underflow_out.m_as("bbl") == pytest.approx(0, abs=1e-9)
    assert none_out.diluent_in.m_as("bbl") == pytest.approx(diluted.diluent_in.m_as("bbl"))


@given(reductions(), st.floats(0, 1), st.floats(0, 1))
def test_a_component_is_kept_too(job, in_mud, in_diluent):
    found = reduce_by_both(*job)
    most = min(1.0, ((found.volume * in_mud) / found.underflow_out).m_as(""))
    after = component_after(found, in_mud, most / 2, in_diluent)
    lost = component_lost(found, in_mud, most / 2)
    balance = found.volume * in_mud + found.diluent_in * in_diluent - lost
    assert (after * found.final_volume).m_as("m**3") == pytest.approx(balance.m_as("m**3"), abs=1e-9)


def test_removal_keeps_the_low_gravity_solids_that_dilution_thins():
    diluted = reduce_by_dilution(VOLUME, HEAVY, LIGHT, WATER_FIELD)
    removed = reduce_by_removal(VOLUME, HEAVY, LIGHT, UNDERFLOW)
    assert component_after(diluted, 0.06) < 0.06 < component_after(removed, 0.06)
    assert component_after(removed, 0.06).magnitude == pytest.approx(0.06 / 0.8)


def test_the_bill_adds_up():
    found = reduce_by_both(VOLUME, HEAVY, LIGHT, UNDERFLOW, WATER_FIELD)
    bill = reduction_cost(found, **PRICES)
    assert str(bill.total.units) == "money"
    assert bill.diluent.magnitude == pytest.approx(60 * found.diluent_in.m_as("bbl"))
    assert bill.disposal.magnitude == pytest.approx(20 * found.underflow_out.m_as("bbl"))
    barite = found.underflow_out.m_as("gal") * 0.48 * BARITE.m_as("lb/gal")
    assert bill.material.magnitude == pytest.approx(0.15 * barite)
    assert bill.total.magnitude == pytest.approx(
        sum(part.magnitude for part in (bill.diluent, bill.disposal)) + 0.15 * barite
    )


def test_an_underflow_that_is_kept_is_neither_lost_nor_thrown_away():
    found = reduce_by_removal(VOLUME, HEAVY, LIGHT, UNDERFLOW)
    assert reduction_cost(found, **PRICES, underflow_kept=True).total.magnitude == 0
    limited = reduce_by_dilution(VOLUME, HEAVY, LIGHT, WATER_FIELD, pit_limit=VOLUME)
    kept, lost = (reduction_cost(limited, **PRICES, underflow_kept=kept).total.magnitude for kept in (True, False))
    assert kept == lost > 0


def test_arrays_give_what_their_elements_give():
    targets = Q([12.0, 12.5, 13.0], "lb/gal")
    ways = (
        lambda target: reduce_by_dilution(VOLUME, HEAVY, target, WATER_FIELD, pit_limit=Q(120, "bbl")),
        lambda target: reduce_by_removal(VOLUME, HEAVY, target, UNDERFLOW),
        lambda target: reduce_by_both(VOLUME, HEAVY, target, UNDERFLOW, WATER_FIELD),
    )
    for way in ways:
        together = way(targets)
        for field in ("mud_out", "underflow_out", "diluent_in", "final_volume"):
            alone = [getattr(way(target), field).m_as("m**3") for target in targets]
            np.testing.assert_allclose(np.broadcast_to(getattr(together, field).m_as("m**3"), 3), alone, atol=1e-12)
        bills = reduction_cost(together, **PRICES).total.magnitude
        np.testing.assert_allclose(bills, [reduction_cost(way(target), **PRICES).total.magnitude for target in targets])


def test_a_plan_agrees_with_the_mud_weight_after_all_of_it():
    plan = weight_up_plan(*JOB, **PLAN)
    after = mud_weight_after(plan.start_volume, JOB[1], plan.mass, JOB[3])
    assert after.m_as("lb/gal") == pytest.approx(12.5)


REDUCTION = reduce_by_removal(VOLUME, HEAVY, LIGHT, UNDERFLOW)


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: mixture(Q(1, "bbl"), Q(12, "lb/gal")), "give a list of volumes"),
        (lambda: mixture(Q([0, 0], "bbl"), Q([12, 11], "lb/gal")), "volumes add up to nothing"),
        (lambda: mixture(Q([1, -1], "bbl"), Q([12, 11], "lb/gal")), "a volume must not be negative"),
        (lambda: weight_up(VOLUME, HEAVY, LIGHT, MATERIALS["barite"]), "target is below the mud weight"),
        (lambda: weight_up_plan(*JOB, **PLAN | {"pit_limit": Q(0, "bbl")}), "pit limit must be above zero"),
        (lambda: weight_up_plan(*JOB, **PLAN | {"hopper_rate": Q(0, "kg/s")}), "hopper must mix more than nothing"),
        (lambda: weight_up_plan(*JOB, **PLAN, batch_time=Q(0, "h")), "time of a batch must be above zero"),
        (lambda: weight_up_plan(Q(-1, "bbl"), *JOB[1:], **PLAN), "volume must not be negative"),
        (lambda: weight_up_plan(Q([1, 2], "bbl"), *JOB[1:], **PLAN), "a plan is for one job"),
        (lambda: weight_up_plan(*JOB, **PLAN | {"hopper_rate": Q(8, "kg")}), r"must have a unit of \[mass\]/\[time\]"),
        (lambda: weighting_mass_bled_off(VOLUME, HEAVY, LIGHT, BARITE), "target is below the mud weight"),
        (lambda: dilution_volume_bled_off(VOLUME, LIGHT, HEAVY, WATER_FIELD), "target is above the mud weight"),
        (
            lambda: reduce_by_dilution(VOLUME, HEAVY, LIGHT, WATER_FIELD, pit_limit=Q(0, "bbl")),
            "pit limit must be above zero",
        ),
        (lambda: reduce_by_dilution(VOLUME, HEAVY, LIGHT, LIGHT), "diluent must be lighter"),
        (lambda: reduce_by_removal(VOLUME, LIGHT, HEAVY, UNDERFLOW), "target is above the mud weight"),
        (lambda: reduce_by_removal(VOLUME, HEAVY, LIGHT, HEAVY), "underflow must be heavier than the mud"),
        (lambda: reduce_by_removal(-VOLUME, HEAVY, LIGHT, UNDERFLOW), "volume must not be negative"),
        (lambda: reduce_by_removal(VOLUME, HEAVY, Q(0, "SG"), UNDERFLOW), "target must be above zero"),
        (
            lambda: reduce_by_both(VOLUME, HEAVY, LIGHT, UNDERFLOW, WATER_FIELD, final_volume=Q(79, "bbl")),
            "between that of taking solids out alone and that of diluting alone",
        ),
        (
            lambda: reduce_by_both(VOLUME, HEAVY, LIGHT, UNDERFLOW, WATER_FIELD, final_volume=Q(155, "bbl")),
            "between that of taking solids out alone and that of diluting alone",
        ),
        (lambda: component_after(REDUCTION, 0.1, 0.6), "takes out more of this component than the mud holds"),
        (lambda: component_after(REDUCTION, 1.1), "between 0 and 100 %"),
        (lambda: component_lost(REDUCTION, 0.1, -0.1), "between 0 and 100 %"),
        (lambda: component_after(REDUCTION, Q(6, "lb/bbl")), r"must have a unit of \[\]"),
        (lambda: reduction_cost(REDUCTION, **PRICES | {"disposal_price": Q(-1, "money/bbl")}), "price must not be"),
        (lambda: reduction_cost(REDUCTION, **PRICES | {"material_price": Q(-1, "money/kg")}), "price must not be"),
        (lambda: reduction_cost(REDUCTION, **PRICES, material_density=Q(0, "SG")), "density of the material"),
        (
            lambda: reduction_cost(REDUCTION, **PRICES | {"diluent_price": Q(60, "money/lb")}),
            r"diluent price must have a unit of \[currency\]/\[volume\]",
        ),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
