"""The active system over time: balances, the exact build-up, steady states, limits of pit, solids and weight."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from pitside.circuit import STEP_ERROR, Component, History, SectionPlan, drill_section, solids_build_up, steady_state
from pitside.errors import CalculationError
from pitside.removal import dilution_plan, drilled_hole_volume, drilled_solids, level_removal, removal_performance
from pitside.units import Q

BASE = {
    "hole_diameter": Q(12.25, "in"),
    "length": Q(1500, "m"),
    "rate_of_penetration": Q(15, "m/h"),
    "hole_volume": Q(600, "bbl"),
    "pit_volume": Q(800, "bbl"),
    "least_pit": Q(700, "bbl"),
    "greatest_pit": Q(1000, "bbl"),
    "removal": 0.7,
    "mud_on_cuttings": 1.5,
    "mud_weight": Q(11, "lb/gal"),
    "solids_fraction": 0.03,
}
LEVEL = {"least_pit": Q(800, "bbl")}
SIDE_MACHINE = {
    "treated_flow": Q(50, "gal/min"),
    "treated_solids": 0.5,
    "treated_weighting": 0.9,
    "treated_liquid": 0.15,
}
SECTIONS = {
    "plain": {},
    "held at its solids limit": {"solids_limit": 0.05},
    "dumping": {"solids_limit": 0.04, "removal": 0.3, "greatest_pit": Q(820, "bbl")},
    "growing heavier": {"mud_weight": Q(9.2, "lb/gal"), "removal": 0.4},
    "with a side machine": SIDE_MACHINE,
    "losing mud": {"loss_rate": Q(10, "bbl/h"), "porosity": 0.15, "washout": 0.1, "solids_limit": 0.06},
    "with steel and pore water": {
        "steel_displacement": Q(0.02, "bbl/ft"),
        "removal": 0.0,
        "porosity": 0.2,
        "greatest_pit": Q(801, "bbl"),
    },
    "unweighted": {"mud_weight": None, "solids_limit": 0.05},
}
STEEL = Q(0.07, "bbl/ft")
VOLUMES = ("contents", "drilled", "mixed", "discarded", "dumped", "lost")


def section(**changes) -> SectionPlan:
    return SectionPlan(**(BASE | changes))


def gap(coarse: History, fine: History) -> float:
    """Largest difference of any volume between a history and one of more steps, relative to the mud."""
    every = (len(fine.time) - 1) // (len(coarse.time) - 1)
    differences = [
        np.abs(getattr(coarse, name).magnitude - getattr(fine, name).magnitude[::every]).max() for name in VOLUMES
    ]
    return max(differences) / coarse.mud_volume.magnitude.max()


@st.composite
def sections(draw):
    """Sections of every kind, some of them quick to renew their mud."""
    start = draw(st.floats(0, 0.05))
    return section(
        hole_diameter=Q(draw(st.sampled_from([8.5, 12.25, 17.5])), "in"),
        length=Q(draw(st.floats(50, 2000)), "m"),
        rate_of_penetration=Q(draw(st.floats(2, 60)), "m/h"),
        hole_volume=Q(draw(st.floats(0, 1500)), "bbl"),
        pit_volume=Q(draw(st.floats(400, 900)), "bbl"),
        least_pit=Q(draw(st.floats(100, 400)), "bbl"),
        removal=draw(st.floats(0, 0.98)),
        mud_on_cuttings=draw(st.floats(0, 3)),
        mud_weight=draw(st.none() | st.floats(9.5, 16).map(lambda weight: Q(weight, "lb/gal"))),
        solids_fraction=start,
        solids_limit=draw(st.none() | st.floats(start + 0.005, 0.12)),
        washout=draw(st.floats(0, 0.3)),
        porosity=draw(st.floats(0, 0.3)),
        steel_displacement=Q(draw(st.floats(0, 0.015)), "bbl/ft"),
        loss_rate=Q(draw(st.floats(0, 20)), "bbl/h"),
        treated_flow=Q(draw(st.floats(0, 80)), "gal/min"),
        treated_solids=draw(st.floats(0, 1)),
        treated_weighting=draw(st.floats(0, 1)),
        treated_liquid=draw(st.floats(0, 0.3)),
    )


@given(sections())
def test_solids_liquid_and_weighting_material_balance(plan):
    history = drill_section(plan, 40)
    for component in Component:
        came = (history.drilled + history.mixed)[-1, component].magnitude
        went = (history.discarded + history.dumped + history.lost)[-1, component].magnitude
        change = (history.contents[-1, component] - history.contents[0, component]).magnitude
        assert came - went == pytest.approx(change, abs=1e-9 * history.mud_volume.magnitude.max())
    assert history.imbalance < 1e-9


@settings(max_examples=40)  # each drills whole sections
@given(sections())
def test_halving_the_steps_moves_nothing_that_matters(plan):
    assert gap(drill_section(plan, 40), drill_section(plan, 80)) < STEP_ERROR


@settings(max_examples=40)  # each drills whole sections
@given(sections())
def test_no_limit_is_passed_and_nothing_flows_backward(plan):
    history = drill_section(plan, 40)
    volume = history.mud_volume.magnitude.max()
    assert np.all(history.pit_volume.magnitude >= plan.least_pit.magnitude - 1e-8 * volume)
    assert np.all(history.pit_volume.magnitude <= plan.greatest_pit.magnitude + 1e-8 * volume)
    if plan.solids_limit is not None:
        assert np.all(history.solids_fraction.magnitude <= plan.solids_limit.magnitude + 1e-8)
    if plan.mud_weight is not None:
        assert np.all(history.mud_weight.magnitude >= plan.mud_weight.magnitude * (1 - 1e-8))
    for name in VOLUMES[1:]:
        assert np.all(np.diff(getattr(history, name).magnitude, axis=0) >= -1e-9)
    assert np.all(history.contents.magnitude >= -1e-9)


@pytest.mark.parametrize("changes", SECTIONS.values(), ids=SECTIONS)
def test_the_usual_steps_are_far_finer_than_they_promise(changes):
    plan = section(**changes)
    assert gap(drill_section(plan), drill_section(plan, 480)) < 1e-10


@pytest.mark.parametrize("changes", SECTIONS.values(), ids=SECTIONS)
def test_the_rock_drilled_is_that_of_the_hole(changes):
    plan = section(**changes)
    history = drill_section(plan, 20)
    hole = (plan.hole_diameter, plan.length, plan.washout)
    rock = drilled_solids(*hole, plan.porosity)
    assert history.drilled[-1, Component.SOLIDS].magnitude == pytest.approx(rock.magnitude)
    assert history.drilled[-1].sum().magnitude == pytest.approx(drilled_hole_volume(*hole).magnitude)
    assert history.depth[-1].m_as("m") == pytest.approx(1500)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"solids_fraction": 0.10, "removal": 0.95},
        {"loss_rate": Q(8, "bbl/h"), "porosity": 0.1, "washout": 0.15},
        {"steel_displacement": Q(0.01, "bbl/ft")},
        SIDE_MACHINE,
    ],
)
def test_while_the_pit_is_level_solids_build_up_as_solved(changes):
    plan = section(**LEVEL, **changes)
    history = drill_section(plan, 100)
    np.testing.assert_allclose(history.pit_volume.m_as("bbl"), 800)
    exact = solids_build_up(plan, history.time).magnitude
    np.testing.assert_allclose(history.solids_fraction.magnitude, exact, rtol=1e-9)


@pytest.mark.parametrize("filled", [1 - 1e-12, 1 + 1e-12])
def test_with_no_room_to_fill_solids_build_up_exponentially(filled):
    capacity = drilled_hole_volume(BASE["hole_diameter"], Q(1, "m")) / Q(1, "m")
    plan = section(**LEVEL, steel_displacement=capacity * filled, loss_rate=Q(30, "bbl/h"))
    history = drill_section(plan)
    np.testing.assert_allclose(
        history.solids_fraction.magnitude, solids_build_up(plan, history.time).magnitude, rtol=1e-9
    )
    start, steady = 0.03, steady_state(plan).solids_fraction
    share = (history.solids_fraction[-1].magnitude - steady) / (start - steady)
    carried = Q(30, "bbl/h") + 0.7 * 1.5 * capacity * plan.rate_of_penetration
    assert share == pytest.approx(np.exp(-(carried * plan.duration / Q(1400, "bbl")).m_as("")), rel=1e-6)


def test_an_integrator_of_another_kind_finds_the_same():
    """SciPy's, on the balance written out again: mud at its level and weight, a side machine running."""
    plan = section(**LEVEL, **SIDE_MACHINE)
    hole = np.pi / 4 * 0.31115**2 * 15 / 3600
    flow = 50 * 231 * 0.0254**3 / 60
    discard = flow * np.array([0.5, 0.9, 0.15])
    densities = np.array([2600.0, 4200.0, 1000.0])
    weight = plan.mud_weight.magnitude

    def change(_, contents):
        shares = contents / contents.sum()
        leaving = 0.7 * 1.5 * hole * shares + discard * shares
        unaided = np.array([0.3 * hole, 0, 0]) - leaving
        added = hole - unaided.sum()
        weighting = (weight * hole - unaided @ densities - added * 1000) / 3200
        return unaided + np.array([0, weighting, added - weighting])

    history = drill_section(plan)
    found = solve_ivp(
        change,
        (0, plan.duration.magnitude),
        history.contents[0].magnitude,
        method="DOP853",
        rtol=1e-11,
        atol=1e-11,
        t_eval=history.time.magnitude[::60],
    )
    np.testing.assert_allclose(history.contents.magnitude[::60], found.y.T, rtol=1e-8)
    assert history.mixed[-1, Component.WEIGHTING].magnitude > 0


@pytest.mark.parametrize(
    "changes",
    [
        {"mud_weight": Q(11, "lb/gal")},
        {"mud_weight": None},
        {"mud_weight": Q(9.0, "lb/gal"), "solids_fraction": 0.01},
        {"solids_limit": 0.035},
        {"porosity": 0.1, "washout": 0.2},
    ],
)
def test_the_mud_reaches_its_steady_state(changes):
    quick = {"length": Q(8000, "m"), "treated_flow": Q(150, "gal/min"), "treated_solids": 0.8, "treated_liquid": 0.1}
    capacity = drilled_hole_volume(BASE["hole_diameter"], Q(1, "m")) / Q(1, "m")
    plan = section(**(quick | {"steel_displacement": 0.9 * capacity} | changes))
    state, history = steady_state(plan), drill_section(plan)
    assert history.solids_fraction[-1].magnitude == pytest.approx(state.solids_fraction, rel=1e-6)
    assert history.fraction(Component.WEIGHTING)[-1].magnitude == pytest.approx(state.weighting_fraction, abs=1e-6)
    assert history.mud_weight[-1].magnitude == pytest.approx(state.mud_weight.magnitude, rel=1e-6)
    last = (history.time[-1] - history.time[-2]).magnitude

    def rate(volumes):
        return (volumes[-1] - volumes[-2]).magnitude / last

    assert rate(history.clean_mud) == pytest.approx(state.clean_mud.magnitude, rel=1e-6)
    assert rate(history.weighting_mass) == pytest.approx(state.weighting.magnitude, rel=1e-5, abs=1e-6)
    assert rate(history.discarded.sum(axis=1)) == pytest.approx(state.discard.magnitude, rel=1e-6)
    assert rate(history.dumped.sum(axis=1)) == pytest.approx(state.surplus.magnitude, rel=1e-6, abs=1e-12)


@settings(max_examples=40)  # each drills whole sections
@given(sections())
def test_a_mud_that_starts_in_its_steady_state_stays_there(plan):
    try:
        state = steady_state(plan)
    except CalculationError:
        reject()
    assume(state.solids_fraction < 0.5)
    weight = None if plan.mud_weight is None else state.mud_weight
    limit = None if plan.solids_limit is None else max(plan.solids_limit.magnitude, state.solids_fraction)
    there = dataclasses.replace(
        plan,
        solids_fraction=state.solids_fraction,
        mud_weight=weight,
        solids_limit=limit,
        pit_volume=plan.least_pit,
    )
    history = drill_section(there, 20)
    np.testing.assert_allclose(history.solids_fraction.magnitude, state.solids_fraction, atol=1e-9)
    np.testing.assert_allclose(history.mud_weight.magnitude, state.mud_weight.magnitude, rtol=1e-8)
    made = history.clean_mud[-1].magnitude / plan.duration.magnitude
    assert made == pytest.approx(state.clean_mud.magnitude, rel=1e-6, abs=1e-10)


def test_a_mud_at_its_weight_takes_material_only_for_what_is_built():
    history = drill_section(section(**LEVEL))
    np.testing.assert_allclose(history.mud_weight.m_as("lb/gal"), 11)
    assert np.all(np.diff(history.weighting_mass.magnitude) > 0)
    rising = drill_section(section(**LEVEL, mud_weight=Q(9.0, "lb/gal"), removal=0.4))
    assert rising.mud_weight[-1] > Q(10, "lb/gal")
    assert rising.weighting_mass[-1] < Q(1e-6, "kg") + rising.weighting_mass[20]


def test_a_side_machine_that_discards_weighting_material_has_it_replaced():
    history = drill_section(section(**SIDE_MACHINE))
    np.testing.assert_allclose(history.mud_weight.m_as("lb/gal"), 11)
    without = drill_section(section())
    assert history.weighting_mass[-1] > 3 * without.weighting_mass[-1]


def test_weighting_material_alone_where_clean_mud_of_it_is_still_too_light():
    plan = section(treated_flow=Q(80, "gal/min"), treated_weighting=1.0, mud_weight=Q(17, "lb/gal"))
    history = drill_section(plan, 60)
    np.testing.assert_allclose(history.mud_weight.m_as("lb/gal"), 17)
    first = history.mixed[1].magnitude
    assert first[Component.LIQUID] == 0
    assert first[Component.WEIGHTING] > 0


def test_the_pit_falls_then_is_kept_at_its_least():
    history = drill_section(section())
    pit = history.pit_volume.m_as("bbl")
    level = np.flatnonzero(pit < 700 + 1e-6)
    assert np.all(np.diff(pit[: level[0]]) < 0)
    np.testing.assert_allclose(pit[level[0] :], 700)
    assert history.clean_mud[level[0] - 1].magnitude == 0
    assert history.clean_mud[-1].magnitude > 0


def test_rock_that_is_not_removed_keeps_the_pit_level():
    """Ground rock takes the room that it had, so that nothing but discard and steel moves the pit."""
    level = drill_section(section(removal=0.0, porosity=0.2))
    np.testing.assert_allclose(level.pit_volume.m_as("bbl"), 800)
    steel = drill_section(section(removal=0.0, steel_displacement=Q(0.01, "bbl/ft")))
    risen = steel.pit_volume[-1] - steel.pit_volume[0]
    assert risen.m_as("bbl") == pytest.approx(0.01 * 1500 / 0.3048)


def test_a_pit_that_is_full_is_dumped_from():
    history = drill_section(section(solids_limit=0.04, removal=0.3, greatest_pit=Q(820, "bbl")))
    assert history.pit_volume[-1].m_as("bbl") == pytest.approx(820)
    assert history.dumped[-1].sum() > Q(1000, "bbl")
    assert history.dumped[1].sum().magnitude == 0


def test_what_is_dumped_and_lost_is_whole_mud():
    history = drill_section(section(solids_limit=0.05, loss_rate=Q(5, "bbl/h")))
    late = slice(-20, None)
    for volumes in (history.dumped, history.lost):
        went = np.diff(volumes.magnitude, axis=0)[late]
        shares = went / went.sum(axis=1, keepdims=True)
        np.testing.assert_allclose(shares[:, Component.SOLIDS], 0.05, rtol=1e-6)
    assert history.lost[-1].sum().m_as("bbl") == pytest.approx(500)


def test_the_performance_of_rp_13c_is_the_removal_once_the_mud_is_steady():
    """By the mud built, which is the liquid added over its fraction, as in the field."""
    capacity = drilled_hole_volume(BASE["hole_diameter"], Q(1, "m")) / Q(1, "m")
    plan = section(steel_displacement=0.5 * capacity, loss_rate=Q(4, "bbl/h"))
    state = steady_state(plan)
    there = dataclasses.replace(plan, solids_fraction=state.solids_fraction, pit_volume=plan.least_pit)
    history = drill_section(there)
    liquid = history.fraction(Component.LIQUID).magnitude.mean()
    built = history.mixed[-1, Component.LIQUID] / liquid
    found = removal_performance(built, history.drilled[-1, Component.SOLIDS], history.solids_fraction.magnitude.mean())
    assert found.magnitude == pytest.approx(0.7, rel=1e-9)


def test_least_waste_is_at_the_removal_that_keeps_the_level():
    discard, target = 0.40, 0.05
    best = level_removal(discard, target).magnitude

    def waste(removal):
        plan = section(
            removal=removal,
            mud_on_cuttings=(1 - discard) / discard,
            solids_fraction=target,
            solids_limit=target,
            pit_volume=Q(700, "bbl"),
            greatest_pit=Q(700.001, "bbl"),
        )
        return drill_section(plan, 60).waste[-1].m_as("bbl")

    rock = drilled_solids(BASE["hole_diameter"], BASE["length"])
    for removal in (best - 0.1, best, best + 0.03):
        planned = dilution_plan(rock, removal, discard, target).make_up.m_as("bbl")
        assert waste(removal) == pytest.approx(planned, rel=1e-5)
        assert waste(removal) >= waste(best)


def test_cost_counts_liquid_material_and_disposal():
    prices = {
        "liquid_cost": Q(10, "money/bbl"),
        "weighting_cost": Q(0.2, "money/kg"),
        "disposal_cost": Q(30, "money/bbl"),
    }
    history = drill_section(section(**prices))
    expected = (
        10 * history.mixed[-1, Component.LIQUID].m_as("bbl")
        + 0.2 * history.weighting_mass[-1].m_as("kg")
        + 30 * (history.discarded[-1].sum() + history.dumped[-1].sum()).m_as("bbl")
    )
    assert history.cost[-1].m_as("money") == pytest.approx(expected)
    assert drill_section(section()).cost[-1].magnitude == 0


def test_the_greatest_mixing_rate_is_that_of_the_busiest_interval():
    history = drill_section(section(solids_limit=0.05))
    busiest = np.diff(history.clean_mud.m_as("bbl")).max() / np.diff(history.time.m_as("h"))[0]
    assert history.greatest_mixing_rate.m_as("bbl/h") == pytest.approx(busiest)
    assert history.greatest_mixing_rate.m_as("bbl/h") == pytest.approx(
        steady_state(history.plan).clean_mud.m_as("bbl/h")
    )


def test_a_clean_section_keeps_a_clean_mud():
    history = drill_section(section(removal=1.0, solids_fraction=0.0))
    assert np.all(history.contents[:, Component.SOLIDS].magnitude == 0)
    assert steady_state(section(removal=1.0)).solids_fraction == 0


def test_arrays_have_one_row_a_time():
    history = drill_section(section(), 12)
    assert history.time.shape == history.mud_weight.shape == history.cost.shape == (13,)
    assert history.contents.shape == (13, 3)
    assert history.time[0].magnitude == 0
    assert history.time[-1].m_as("h") == pytest.approx(100)


@pytest.mark.parametrize(
    ("changes", "complaint"),
    [
        ({"hole_diameter": Q(0, "in")}, "hole diameter must be above zero"),
        ({"hole_diameter": Q(12, "bbl")}, r"hole diameter must have a unit of \[length\]"),
        ({"length": Q([1, 2], "m")}, "length must be one figure"),
        ({"rate_of_penetration": Q(0, "m/h")}, "rate of penetration must be above zero"),
        ({"hole_volume": Q(-1, "bbl")}, "hole volume must not be negative"),
        ({"least_pit": Q(0, "bbl")}, "least pit must be above zero"),
        ({"least_pit": Q(1000, "bbl")}, "least volume must be below its greatest"),
        ({"pit_volume": Q(600, "bbl")}, "start between its least and its greatest"),
        ({"removal": 70}, "removal must lie between 0 and 100 %"),
        ({"mud_on_cuttings": -1}, "mud on cuttings must not be negative"),
        ({"mud_weight": Q(8.4, "lb/gal")}, "mud weight lies below that of its liquid"),
        ({"mud_weight": Q(36, "lb/gal")}, "mud weight must be below that of the material"),
        ({"mud_weight": Q(34.5, "lb/gal"), "solids_fraction": 0.5, "solids_density": Q(3.9, "SG")}, "hold no liquid"),
        ({"solids_fraction": 1.0}, "solids fraction must be at least 0 and below 100 %"),
        ({"solids_limit": 0.02}, "must not start with more drilled solids"),
        ({"solids_limit": 0.0}, "solids limit must lie above 0"),
        ({"porosity": 1.0}, "porosity must be at least 0 and below 100 %"),
        ({"washout": -0.1}, "washout must not be negative"),
        ({"loss_rate": Q(-1, "bbl/h")}, "loss rate must not be negative"),
        ({"treated_solids": 1.2}, "treated solids must lie between 0 and 100 %"),
        ({"liquid_density": Q(5, "SG")}, "denser than the liquid"),
        ({"solids_density": Q(0, "SG")}, "solids density must be above zero"),
        ({"liquid_cost": Q(-1, "money/bbl")}, "liquid cost must not be negative"),
        ({"disposal_cost": Q(1, "money")}, r"disposal cost must have a unit of \[currency\]/\[volume\]"),
        ({"removal": float("nan")}, "removal must be a finite number"),
    ],
)
def test_a_section_that_cannot_be_is_refused(changes, complaint):
    with pytest.raises(CalculationError, match=complaint):
        section(**changes)


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: drill_section(section(), 0), "at least one step"),
        (lambda: drill_section(section(steel_displacement=Q(1, "bbl/ft"))), "more room than the hole gives"),
        (lambda: steady_state(section(removal=0.0, steel_displacement=Q(0.05, "bbl/ft"))), "turns to rock"),
        (
            lambda: steady_state(section(removal=0.1, mud_on_cuttings=0, porosity=0.5, steel_displacement=STEEL)),
            "pores give more liquid",
        ),
        (lambda: solids_build_up(section(), Q(-1, "h")), "time must not be negative"),
        (lambda: solids_build_up(section(), Q(1, "m")), r"time must have a unit of \[time\]"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
