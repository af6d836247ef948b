"""Drilled solids, removal performance, dilution and the active system against handbook and derived figures."""

from __future__ import annotations

import math

import pytest
from scipy import constants
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar

from pitside.circuit import Component, SectionPlan, drill_section, solids_build_up, steady_state
from pitside.removal import (
    clean_mud,
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
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

HANDBOOK = "drilling fluids processing text"
AADE = "AADE, Shale Shakers and Drilling Fluid Systems, p. 167"
STEPS_13C = "steps of API RP 13C"
LAPEYROUSE = "Lapeyrouse"
BALANCE = "volume balance"
ONE_UNIT = "printed to one unit"
EXACT = "the same balance solved another way; only rounding of floating point remains"

BARREL = 42 * 231 * constants.inch**3

ROCK, TARGET, DISCARD = Q(100, "bbl"), 0.04, 0.35


def plan_at(removal):
    return dilution_plan(ROCK, removal, DISCARD, TARGET)


def handbook_cost(removal: float) -> float:
    """Larger of clean mud and discard for 100 bbl of rock, by the balance written out."""
    return max(100 * (1 - removal) * 0.96 / 0.04, 100 * removal / 0.35)


ROCK_DRILLED = [
    Check(
        claim="cuttings of a 6-1/8 in hole at 25 % porosity, bbl/ft",
        compute=lambda: drilled_solids(Q(6.125, "in"), Q(1, "ft"), porosity=0.25),
        value=0.02733,
        unit="bbl",
        absolute=5e-6,
        because="printed to five decimals",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(
            ("porosity left in", lambda: drilled_solids(Q(6.125, "in"), Q(1, "ft"))),
            ("the pores taken for the rock", lambda: drilled_solids(Q(6.125, "in"), Q(1, "ft"), porosity=0.75)),
        ),
    ),
    Check(
        claim="cuttings of a 6-1/8 in hole at 25 % porosity, ft3/ft",
        compute=lambda: drilled_solids(Q(6.125, "in"), Q(1, "ft"), porosity=0.25),
        value=0.153462,
        unit="ft**3",
        absolute=2e-6,
        because="printed to six decimals with 0.7854 for a quarter of pi",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(("porosity left in", lambda: drilled_solids(Q(6.125, "in"), Q(1, "ft"))),),
    ),
    Check(
        claim="solids of 100 ft of 6-1/8 in hole, 25 % porosity, 2.20 g/cm3, with 350 lb/bbl",
        compute=lambda: drilled_solids_mass_field(Q(6.125, "in"), Q(100, "ft"), 2.20, porosity=0.25),
        value=2104.41,
        unit="lb",
        absolute=0.3,
        because="the source puts in 0.03644 bbl/ft, rounded",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(
            ("density left out", lambda: drilled_solids_mass_field(Q(6.125, "in"), Q(100, "ft"), 1, porosity=0.25)),
            ("porosity left in", lambda: drilled_solids_mass_field(Q(6.125, "in"), Q(100, "ft"), 2.20)),
            ("350 forgotten", lambda: drilled_solids(Q(6.125, "in"), Q(100, "ft"), porosity=0.25) * Q(2.2, "lb/bbl")),
        ),
    ),
    Check(
        claim="solids of 100 ft of 6-1/8 in hole, 25 % porosity, 2.20 g/cm3, by exact units",
        compute=lambda: drilled_solids_mass(Q(6.125, "in"), Q(100, "ft"), Q(2.20, "g/cm**3"), porosity=0.25),
        value=lambda: math.pi / 4 * (6.125 * constants.inch) ** 2 * 100 * constants.foot * 0.75 * 2200 / constants.lb,
        unit="lb",
        relative=1e-9,
        because="both sides are exact units",
        source="geometry with scipy.constants",
        status=Status.DERIVED,
        wrong_turns=(
            ("350 lb/bbl", lambda: drilled_solids_mass_field(Q(6.125, "in"), Q(100, "ft"), 2.20, porosity=0.25)),
        ),
    ),
    Check(
        claim="14-3/4 in hole at 200 ft/h with 80 % removed, bbl/h of solids to discard",
        compute=lambda: 0.80 * drilled_solids_rate(Q(14.75, "in"), Q(200, "ft/h")),
        value=34.0,
        unit="bbl/h",
        absolute=0.5,
        because="approximately, to one unit",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(
            ("all of it", lambda: drilled_solids_rate(Q(14.75, "in"), Q(200, "ft/h"))),
            ("what is left", lambda: 0.20 * drilled_solids_rate(Q(14.75, "in"), Q(200, "ft/h"))),
            ("radius for diameter", lambda: 0.80 * drilled_solids_rate(Q(14.75 / 2, "in"), Q(200, "ft/h"))),
        ),
    ),
    Check(
        claim="10 bbl of hole at 10 % porosity, rock",
        compute=lambda: drilled_solids(
            Q(12.25, "in"), Q(10, "bbl") / drilled_hole_volume(Q(12.25, "in"), Q(1, "m")) * Q(1, "m"), porosity=0.10
        ),
        value=9.0,
        unit="bbl",
        absolute=1e-6,
        because="an exact share",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("the pores", lambda: Q(1, "bbl")),),
    ),
    Check(
        claim="8 % on the diameter, washout by volume",
        compute=lambda: washout_from_diameters(Q(8.5, "in"), Q(8.5 * 1.08, "in")),
        value=lambda: 100 * (1.08**2 - 1),
        unit="percent",
        relative=1e-9,
        because=EXACT,
        source="geometry",
        status=Status.DERIVED,
        wrong_turns=(("washout on the diameter", lambda: Q(8, "percent")),),
    ),
    Check(
        claim="barrels of 1000 ft of hole, exactly",
        compute=lambda: drilled_hole_volume(Q(12.25, "in"), Q(1000, "ft")),
        value=lambda: math.pi / 4 * (12.25 * constants.inch) ** 2 * 1000 * constants.foot / BARREL,
        unit="bbl",
        relative=1e-9,
        because="both sides are exact units",
        source="geometry with scipy.constants",
        status=Status.DERIVED,
        wrong_turns=(("rule of diameter squared, 2.9 % high", lambda: Q(12.25**2, "bbl")),),
    ),
]

PERFORMANCE = [
    Check(
        claim="97.3 bbl of drilled solids at 5 %, total dilution",
        compute=lambda: total_dilution(Q(97.3, "bbl"), Q(5, "percent")),
        value=1946.0,
        unit="bbl",
        absolute=0.5,
        because=ONE_UNIT,
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("clean mud only", lambda: clean_mud(Q(97.3, "bbl"), Q(5, "percent"))),),
    ),
    Check(
        claim="759 bbl built of 1,946, dilution factor",
        compute=lambda: dilution_factor(Q(759, "bbl"), total_dilution(Q(97.3, "bbl"), Q(5, "percent"))),
        value=0.39,
        unit="",
        absolute=0.005,
        because="printed to two decimals",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("clean mud of the 759", lambda: Q(721 / 1946)), ("inverted", lambda: Q(1946 / 759))),
    ),
    Check(
        claim="759 bbl built of 1,946, removal of drilled solids",
        compute=lambda: removal_performance(Q(759, "bbl"), Q(97.3, "bbl"), Q(5, "percent")),
        value=61.0,
        unit="percent",
        absolute=0.5,
        because="printed to one per cent",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(
            ("the factor", lambda: dilution_factor(Q(759, "bbl"), Q(1946, "bbl"))),
            ("base fluid taken for mud", lambda: removal_performance(Q(600, "bbl"), Q(97.3, "bbl"), Q(5, "percent"))),
        ),
    ),
    Check(
        claim="37.9 bbl of solids that stayed, mud built at 5 %",
        compute=lambda: new_mud(Q(37.9, "bbl"), Q(5, "percent")),
        value=759.0,
        unit="bbl",
        absolute=1.5,
        because="37.9 is rounded, and makes 758",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("clean mud", lambda: clean_mud(Q(37.9, "bbl"), Q(5, "percent"))),),
    ),
    Check(
        claim="37.9 bbl of solids that stayed, clean mud",
        compute=lambda: clean_mud(Q(37.9, "bbl"), Q(5, "percent")),
        value=721.0,
        unit="bbl",
        absolute=1.5,
        because="37.9 is rounded",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("all that was built", lambda: new_mud(Q(37.9, "bbl"), Q(5, "percent"))),),
    ),
    Check(
        claim="a barrel of solids at 5 %, clean mud",
        compute=lambda: clean_mud(Q(1, "bbl"), Q(5, "percent")),
        value=19.0,
        unit="bbl",
        absolute=1e-6,
        because="an exact ratio",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("all that is made", lambda: new_mud(Q(1, "bbl"), Q(5, "percent"))),),
    ),
    Check(
        claim="a barrel of solids at 5 %, volume that is made",
        compute=lambda: new_mud(Q(1, "bbl"), Q(5, "percent")),
        value=20.0,
        unit="bbl",
        absolute=1e-6,
        because="an exact ratio",
        source=HANDBOOK,
        status=Status.SEEN,
    ),
    Check(
        claim="9 bbl of rock at 4 %, new mud",
        compute=lambda: new_mud(Q(9, "bbl"), Q(4, "percent")),
        value=225.0,
        unit="bbl",
        absolute=1e-6,
        because="an exact ratio",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("the pores with it", lambda: new_mud(Q(10, "bbl"), Q(4, "percent"))),),
    ),
    Check(
        claim="9 bbl of rock at 4 %, clean mud",
        compute=lambda: clean_mud(Q(9, "bbl"), Q(4, "percent")),
        value=216.0,
        unit="bbl",
        absolute=1e-6,
        because="an exact ratio",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("new mud", lambda: new_mud(Q(9, "bbl"), Q(4, "percent"))),),
    ),
    Check(
        claim="144 bbl of solids at 6 %, mud they are blended into",
        compute=lambda: new_mud(Q(144, "bbl"), Q(6, "percent")),
        value=2400.0,
        unit="bbl",
        absolute=1e-6,
        because="an exact ratio",
        source=HANDBOOK,
        status=Status.SEEN,
    ),
    Check(
        claim="144 bbl of solids at 6 %, clean mud",
        compute=lambda: clean_mud(Q(144, "bbl"), Q(6, "percent")),
        value=2256.0,
        unit="bbl",
        absolute=1e-6,
        because="an exact ratio",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("the slurry", lambda: new_mud(Q(144, "bbl"), Q(6, "percent"))),),
    ),
    Check(
        claim="mud built = base fluid / its fraction, performance = 1 - mud built / (drilled solids / their fraction)",
        compute=lambda: removal_performance(mud_built(Q(1000, "bbl"), 0.8), Q(250, "bbl"), 0.06),
        value=lambda: 100 * (1 - (1000 / 0.8) / (250 / 0.06)),
        unit="percent",
        relative=1e-9,
        because="the formula as recalled",
        source=STEPS_13C,
        status=Status.MEMORY,
        wrong_turns=(
            ("base fluid taken for mud", lambda: removal_performance(Q(1000, "bbl"), Q(250, "bbl"), 0.06)),
            ("the factor", lambda: dilution_factor(Q(1250, "bbl"), total_dilution(Q(250, "bbl"), 0.06))),
        ),
    ),
]

LEAST_DISCARD = [
    Check(
        claim="100 bbl removed to the last, discard at 35 %",
        compute=lambda: plan_at(1.0).discard,
        value=286.0,
        unit="bbl",
        absolute=0.5,
        because=ONE_UNIT,
        source=AADE,
        status=Status.SEEN,
        wrong_turns=(("target put on the discard", lambda: ROCK / TARGET),),
    ),
    Check(
        claim="100 bbl at 90 %, mud discarded with it",
        compute=lambda: plan_at(0.9).discarded_mud,
        value=167.0,
        unit="bbl",
        absolute=0.5,
        because=ONE_UNIT,
        source=AADE,
        status=Status.SEEN,
        wrong_turns=(("all of the discard", lambda: plan_at(0.9).discard),),
    ),
    Check(
        claim="100 bbl at 90 %, discard",
        compute=lambda: plan_at(0.9).discard,
        value=257.0,
        unit="bbl",
        absolute=0.5,
        because=ONE_UNIT,
        source=AADE,
        status=Status.SEEN,
        wrong_turns=(("mud only", lambda: plan_at(0.9).discarded_mud),),
    ),
    Check(
        claim="100 bbl at 90 %, clean mud for the 10 bbl that stay",
        compute=lambda: plan_at(0.9).clean_mud,
        value=240.0,
        unit="bbl",
        absolute=0.5,
        because=ONE_UNIT,
        source=AADE,
        status=Status.SEEN,
        wrong_turns=(("new mud, its solids in it", lambda: plan_at(0.9).new_mud),),
    ),
    Check(
        claim="100 bbl at 90 %, new mud",
        compute=lambda: plan_at(0.9).new_mud,
        value=250.0,
        unit="bbl",
        absolute=0.5,
        because=ONE_UNIT,
        source=AADE,
        status=Status.SEEN,
        wrong_turns=(("clean mud", lambda: plan_at(0.9).clean_mud),),
    ),
    Check(
        claim="100 bbl at 90 %, discard beyond the new mud",
        compute=lambda: -plan_at(0.9).surplus,
        value=7.0,
        unit="bbl",
        absolute=0.5,
        because=ONE_UNIT,
        source=AADE,
        status=Status.SEEN,
        wrong_turns=(("discard beyond the clean mud", lambda: plan_at(0.9).discard - plan_at(0.9).clean_mud),),
    ),
    Check(
        claim="100 bbl at 75 %, new mud for each barrel drilled",
        compute=lambda: plan_at(0.75).new_mud / 100,
        value=6.0,
        unit="bbl",
        absolute=0.5,
        because='"over 6 bbl"',
        source=AADE,
        status=Status.SEEN,
        wrong_turns=(("discard for each barrel", lambda: plan_at(0.75).discard / 100),),
    ),
    Check(
        claim="removal of least discard, 35 % in the discard and 4 % in the mud",
        compute=lambda: least_discard_removal(DISCARD, TARGET),
        value=90.0,
        unit="percent",
        absolute=1.0,
        because='"around 90 %"',
        source=AADE,
        status=Status.SEEN,
        wrong_turns=(
            ("target over the sum", lambda: Q(TARGET / (TARGET + DISCARD))),
            ("1 - target", lambda: Q(1 - TARGET)),
        ),
    ),
    Check(
        claim="removal at which discard and new mud are alike, 35 % and 4 %",
        compute=lambda: least_discard_removal(DISCARD, TARGET),
        value=lambda: 100 * minimize_scalar(lambda e: (e / 0.35 - (1 - e) / 0.04) ** 2, (0.5, 0.9)).x,
        unit="percent",
        relative=1e-6,
        because="the minimum is found to seven digits",
        source=f"{BALANCE}, solved with SciPy",
        status=Status.DERIVED,
        wrong_turns=(("new hole counted", lambda: level_removal(DISCARD, TARGET)),),
    ),
    Check(
        claim="100 bbl at 80 %, discard",
        compute=lambda: plan_at(0.8).discard,
        value=lambda: 100 * 0.8 / 0.35,
        unit="bbl",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
    ),
    Check(
        claim="100 bbl at 70 %, new mud",
        compute=lambda: plan_at(0.7).new_mud,
        value=lambda: 100 * 0.3 / 0.04,
        unit="bbl",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
    ),
    Check(
        claim="removal of least waste with the new hole counted, 35 % and 4 %",
        compute=lambda: level_removal(DISCARD, TARGET),
        value=lambda: 100 * minimize_scalar(handbook_cost, bounds=(0.5, 1), method="bounded").x,
        unit="percent",
        relative=1e-4,
        because="the search ends within 1e-5 of the kink",
        source=f"{BALANCE}, searched with SciPy",
        status=Status.DERIVED,
        wrong_turns=(("the handbook's optimum", lambda: least_discard_removal(DISCARD, TARGET)),),
    ),
]

#: 14-3/4 in at 200 ft/h, as the handbook has it; a day of drilling.
FAST = SectionPlan(
    hole_diameter=Q(14.75, "in"),
    length=Q(24 * 200, "ft"),
    rate_of_penetration=Q(200, "ft/h"),
    hole_volume=Q(500, "bbl"),
    pit_volume=Q(6000, "bbl"),
    least_pit=Q(1, "bbl"),
    greatest_pit=Q(7000, "bbl"),
    removal=0.80,
    mud_on_cuttings=2.0,
)
#: 97.3 bbl of rock, 61 % removed dry, the rest held at 5 % in pits that have room: the dilution example through time.
EXAMPLE_LENGTH = Q(97.3, "bbl") / drilled_hole_volume(Q(12.25, "in"), Q(1, "ft")) * Q(1, "ft")
EXAMPLE = SectionPlan(
    hole_diameter=Q(12.25, "in"),
    length=EXAMPLE_LENGTH,
    rate_of_penetration=Q(40, "ft/h"),
    hole_volume=Q(500, "bbl"),
    pit_volume=Q(500, "bbl"),
    least_pit=Q(100, "bbl"),
    greatest_pit=Q(3000, "bbl"),
    removal=0.61,
    mud_on_cuttings=0.0,
    solids_fraction=0.05,
    solids_limit=0.05,
)
LEVEL = SectionPlan(
    hole_diameter=Q(12.25, "in"),
    length=Q(1000, "m"),
    rate_of_penetration=Q(12, "m/h"),
    hole_volume=Q(90, "m**3"),
    pit_volume=Q(110, "m**3"),
    least_pit=Q(110, "m**3"),
    greatest_pit=Q(150, "m**3"),
    removal=0.75,
    mud_on_cuttings=1.2,
    mud_weight=Q(1.35, "SG"),
    solids_fraction=0.02,
    washout=0.10,
)


def level_solids(hours: float) -> float:
    """Drilled solids of the level section by SciPy's integrator, percent."""
    hole = math.pi / 4 * 0.31115**2 * 12 * 1.1

    def change(hour, solids):
        return 0.25 * hole - 0.75 * 1.2 * hole * solids / (200 + hole * hour)

    found = solve_ivp(change, (0, hours), [4.0], method="DOP853", rtol=1e-11, atol=1e-12)
    return 100 * found.y[0, -1] / (200 + hole * hours)


SYSTEM = [
    Check(
        claim="fall of the pits at 14-3/4 in, 200 ft/h, 80 % removed with 2 bbl of mud a barrel",
        compute=lambda: -(drill_section(FAST).pit_volume[-1] - FAST.pit_volume) / Q(24, "h"),
        value=102.0,
        unit="bbl/h",
        absolute=1.0,
        because="the source puts in 34 bbl/h of solids, rounded",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(
            ("mud on cuttings forgotten", lambda: 0.8 * drilled_solids_rate(Q(14.75, "in"), Q(200, "ft/h"))),
            ("all rock removed", lambda: 3 * drilled_solids_rate(Q(14.75, "in"), Q(200, "ft/h"))),
        ),
    ),
    Check(
        claim="clean mud over 97.3 bbl of rock held at 5 %, through time",
        compute=lambda: drill_section(EXAMPLE).clean_mud[-1],
        value=721.0,
        unit="bbl",
        absolute=1.5,
        because="the source rounds 61 % and 759 bbl",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("solids counted as clean mud", lambda: new_mud(Q(37.9, "bbl"), 0.05)),),
    ),
    Check(
        claim="removal by RP 13C from the mud built over 97.3 bbl of rock at 5 %, through time",
        compute=lambda: removal_performance(
            drill_section(EXAMPLE).clean_mud[-1] / 0.95, Q(97.3, "bbl"), Q(5, "percent")
        ),
        value=61.0,
        unit="percent",
        absolute=0.5,
        because="printed to one per cent",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(
            (
                "clean mud taken for mud",
                lambda: removal_performance(drill_section(EXAMPLE).clean_mud[-1], Q(97.3, "bbl"), 0.05),
            ),
        ),
    ),
    Check(
        claim="rock with liquid in its pores, none removed: the pits stay level",
        compute=lambda: drill_section(
            SectionPlan(
                hole_diameter=Q(12.25, "in"),
                length=Q(1000, "ft"),
                rate_of_penetration=Q(40, "ft/h"),
                hole_volume=Q(500, "bbl"),
                pit_volume=Q(500, "bbl"),
                least_pit=Q(100, "bbl"),
                greatest_pit=Q(900, "bbl"),
                removal=0.0,
                mud_on_cuttings=1.0,
                porosity=0.10,
            )
        ).pit_volume[-1],
        value=500.0,
        unit="bbl",
        absolute=1e-6,
        because="no volume changes when rock is ground",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("hole filled and rock not counted", lambda: Q(500 - 145.8, "bbl")),),
    ),
    Check(
        claim="drilled solids of a level pit after 20 h",
        compute=lambda: drill_section(LEVEL, 1000).solids_fraction[240],
        value=lambda: level_solids(20.0),
        unit="percent",
        relative=1e-8,
        because="SciPy's integrator holds eleven digits, ours more than nine",
        source=f"{BALANCE}, integrated with SciPy",
        status=Status.DERIVED,
        wrong_turns=(("the steady state", lambda: Q(steady_state(LEVEL).solids_fraction)),),
    ),
    Check(
        claim="drilled solids of a level pit after 20 h, by the solved balance",
        compute=lambda: solids_build_up(LEVEL, Q(20, "h")),
        value=lambda: level_solids(20.0),
        unit="percent",
        relative=1e-8,
        because="SciPy's integrator holds eleven digits",
        source=f"{BALANCE}, integrated with SciPy",
        status=Status.DERIVED,
        wrong_turns=(("an exponential, as if the hole did not grow", lambda: Q(exponential_solids(20.0), "percent")),),
    ),
    Check(
        claim="drilled solids in the end: rock that stays over mud that leaves and hole that grows",
        compute=lambda: Q(steady_state(LEVEL).solids_fraction),
        value=lambda: level_solids(1e8),
        unit="percent",
        relative=1e-6,
        because="after a hundred million hours little is left to come",
        source=f"{BALANCE}, integrated with SciPy",
        status=Status.DERIVED,
        wrong_turns=(
            ("growth of the hole forgotten", lambda: Q(0.25 / (0.75 * 1.2))),
            ("share of rock that stays", lambda: Q(0.25)),
        ),
    ),
    Check(
        claim="weighting material for the mud of new hole and cuttings in the steady state, kg/h",
        compute=lambda: steady_state(LEVEL).weighting,
        value=lambda: steady_weighting(),
        unit="kg/h",
        relative=1e-9,
        because=EXACT,
        source="mass balance",
        status=Status.DERIVED,
        wrong_turns=(("drilled solids' weight forgotten", lambda: Q(steady_weighting(solids=0.0), "kg/h")),),
    ),
    Check(
        claim="rock of 1000 m of 12-1/4 in hole, 10 % washed out, counted while drilling",
        compute=lambda: drill_section(LEVEL).drilled[-1, Component.SOLIDS],
        value=lambda: math.pi / 4 * 0.31115**2 * 1000 * 1.1,
        unit="m**3",
        relative=1e-9,
        because=EXACT,
        source="geometry",
        status=Status.DERIVED,
        wrong_turns=(("washout on the diameter", lambda: Q(math.pi / 4 * (0.31115 * 1.1) ** 2 * 1000, "m**3")),),
    ),
]


def exponential_solids(hours: float) -> float:
    """Percent of drilled solids if the mud's volume stood still."""
    hole = math.pi / 4 * 0.31115**2 * 12 * 1.1
    carried = hole * (1 + 0.75 * 1.2)
    steady = 0.25 * hole / carried
    return 100 * (steady + (0.02 - steady) * math.exp(-carried * hours / 200))


def steady_weighting(solids: float | None = None) -> float:
    """Weighting material by the hour that keeps 1.35 SG in all the mud that is made."""
    hole = math.pi / 4 * 0.31115**2 * 12 * 1.1
    made = hole * (1 + 0.75 * 1.2)
    solids = 0.25 * hole / made if solids is None else solids
    weighting = (1350 - 2600 * solids - 1000 * (1 - solids)) / 3200
    return made * weighting * 4200


CHECKS = ROCK_DRILLED + PERFORMANCE + LEAST_DISCARD + SYSTEM


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected
