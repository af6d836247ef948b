"""Tanks, stirrers, gas in the mud, doses, levels of pits and noise against published and derived figures."""

from __future__ import annotations

import math

import pytest
from scipy import constants
from scipy.optimize import brentq

from pitside.dewatering import dewatered, polymer_use, solution_flow
from pitside.gas import cut_column_loss, cut_weight, gas_share
from pitside.hydraulics import lag_time
from pitside.noise import NIOSH, OSHA, noise_dose, permitted_time
from pitside.pits import expected_change
from pitside.tanks import impeller_flow, overflow_velocity, stirring_power, surface_area_rule, turnover_time
from pitside.units import Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

LAW = "US 29 CFR 1910.95"
TABLE_G16 = f"{LAW}, table G-16"
ROUNDED_HOURS = "the table rounds to whole and half hours"
BALANCE = "a balance solved apart"
EXACT = "both sides are exact; only rounding of floating point remains"
GALLON, INCH, FOOT, PSI = constants.gallon, constants.inch, constants.foot, constants.psi
LB_PER_GAL, POUND, BARREL = constants.lb / GALLON, constants.lb, constants.barrel


def squeezed_column(weight: float, share: float, depth: float) -> float:
    """Loss of pressure at the bottom, psi, from the balance p + n p0 ln(p / p0) = p0 + weight g depth, by SciPy."""
    air = constants.atm
    whole = air + weight * LB_PER_GAL * constants.g * depth * FOOT
    carried = share / (1 - share)
    bottom = brentq(lambda p: p + carried * air * math.log(p / air) - whole, air, whole)
    return (whole - bottom) / PSI


NOISE = [
    *(
        Check(
            claim=f"hours allowed at {level} dBA",
            compute=lambda level=level: permitted_time(level, OSHA),
            value=hours,
            unit="hour",
            absolute=0.07,
            because=ROUNDED_HOURS,
            source=TABLE_G16,
            status=Status.MEMORY,
            wrong_turns=(("half for each 3 dB", lambda level=level: permitted_time(level, NIOSH)),),
        )
        for level, hours in ((92, 6.0), (95, 4.0), (97, 3.0), (100, 2.0), (102, 1.5), (105, 1.0), (110, 0.5))
    ),
    *(
        Check(
            claim=f"hours recommended at {level} dBA",
            compute=lambda level=level: permitted_time(level, NIOSH),
            value=hours,
            unit="hour",
            relative=0.01,
            because="the table has powers of two",
            source="NIOSH 98-126, table 1-1",
            status=Status.MEMORY,
            wrong_turns=(("half for each 5 dB", lambda level=level: permitted_time(level, OSHA)),),
        )
        for level, hours in ((88, 4.0), (91, 2.0), (94, 1.0), (100, 0.25))
    ),
    Check(
        claim="dose of 4 h at 90 and 2 h at 95 dBA",
        compute=lambda: noise_dose([(90, Q(4, "hour")), (95, Q(2, "hour"))], OSHA),
        value=100.0,
        unit="percent",
        relative=1e-9,
        because="the sum of the rule with round figures",
        source=f"{LAW}, appendix A: 100 (C1/T1 + C2/T2)",
        status=Status.MEMORY,
        wrong_turns=(("the mean level", lambda: noise_dose([(91.67, Q(6, "hour"))], OSHA)),),
    ),
]

GAS = [
    Check(
        claim="12.0 lb/gal with 15 % of gas, lb/gal",
        compute=lambda: cut_weight(Q(12, "lb/gal"), 0.15),
        value=lambda: 12.0 * 85 / 100,
        unit="lb/gal",
        relative=1e-12,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("over one and the share", lambda: Q(12 / 1.15, "lb/gal")),),
    ),
    Check(
        claim="the share back from both weights",
        compute=lambda: gas_share(Q(12, "lb/gal"), Q(9, "lb/gal")),
        value=lambda: 100 * (12 - 9) / 12,
        unit="percent",
        relative=1e-12,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("counted from the cut mud", lambda: Q(12 / 9 - 1)),),
    ),
    *(
        Check(
            claim=f"pressure that {share:.0%} of gas takes off {depth} ft of 12 lb/gal, psi",
            compute=lambda share=share, depth=depth: cut_column_loss(Q(12, "lb/gal"), share, Q(depth, "ft")),
            value=lambda share=share, depth=depth: squeezed_column(12.0, share, depth),
            unit="psi",
            relative=1e-6,
            because="both solve the same balance, one by iterating and one by SciPy's bracketing",
            source="balance of a column with ideal gas, solved by SciPy",
            status=Status.DERIVED,
            wrong_turns=(
                (
                    "as large below as above",
                    lambda share=share, depth=depth: Q(share * 0.052 * 12 * depth, "psi"),
                ),
            ),
        )
        for share, depth in ((0.1, 1000), (0.3, 10_000), (0.5, 15_000))
    ),
]

TANKS = [
    Check(
        claim="least surface for 800 gal/min, ft2",
        compute=lambda: surface_area_rule(Q(800, "gal/min")),
        value=20.0,
        unit="ft**2",
        relative=1e-9,
        because="the rule itself, with a round flow",
        source="Shale Shakers and Drilling Fluid Systems p. 142: area in ft2 = gal/min over 40",
        status=Status.SEEN,
        wrong_turns=(("bbl/min for gal/min", lambda: surface_area_rule(Q(800, "bbl/min"))),),
    ),
    Check(
        claim="rise in a trap of 80 ft2 at 800 gal/min, mm/s",
        compute=lambda: overflow_velocity(Q(800, "gal/min"), Q(80, "ft**2")),
        value=lambda: 1000 * 800 * GALLON / 60 / (80 * FOOT**2),
        unit="mm/s",
        relative=1e-9,
        because=EXACT,
        source="scipy.constants",
        status=Status.DERIVED,
        wrong_turns=(("ft2 called m2", lambda: overflow_velocity(Q(800, "gal/min"), Q(80, "m**2"))),),
    ),
    Check(
        claim="flow of blades of 32 in at 60 rpm with a flow number of 0.8, gal/min",
        compute=lambda: impeller_flow(Q(32, "in"), Q(60, "rpm")),
        value=lambda: 0.8 * 1.0 * (32 * INCH) ** 3 / GALLON * 60,
        unit="gal/min",
        relative=1e-9,
        because=EXACT,
        source="definition of the flow number",
        status=Status.DERIVED,
        wrong_turns=(("radians for turns", lambda: 2 * math.pi * impeller_flow(Q(32, "in"), Q(60, "rpm"))),),
    ),
    Check(
        claim="power of the same in 12 lb/gal mud with a power number of 1.3, W",
        compute=lambda: stirring_power(Q(12, "lb/gal"), Q(32, "in"), Q(60, "rpm")),
        value=lambda: 1.3 * 12 * LB_PER_GAL * 1.0**3 * (32 * INCH) ** 5,
        unit="W",
        relative=1e-9,
        because=EXACT,
        source="definition of the power number",
        status=Status.DERIVED,
        wrong_turns=(("diameter to the fourth", lambda: Q(1.3 * 12 * LB_PER_GAL * (32 * INCH) ** 4, "W")),),
    ),
    Check(
        claim="turnover of 150 bbl at 6,300 gal/min, s",
        compute=lambda: turnover_time(Q(150, "bbl"), Q(6300, "gal/min")),
        value=lambda: 150 * BARREL / (6300 * GALLON / 60),
        unit="s",
        relative=1e-9,
        because=EXACT,
        source="scipy.constants",
        status=Status.DERIVED,
        wrong_turns=(("42 left out", lambda: Q(150 / 6300 * 60, "s")),),
    ),
]

DOSES = [
    Check(
        claim="solution of 0.5 % into 10 m3/h at 1 kg/m3 of dry polymer, m3/h",
        compute=lambda: solution_flow(Q(10, "m**3/h"), Q(1, "kg/m**3"), Q(5, "kg/m**3")),
        value=lambda: 10 * 1 / 5,
        unit="m**3/h",
        relative=1e-12,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("turned round", lambda: Q(50, "m**3/h")),),
    ),
    Check(
        claim="dry polymer of a day of it, kg",
        compute=lambda: polymer_use(Q(10, "m**3/h"), Q(1, "kg/m**3"), Q(24, "h")),
        value=lambda: 10 * 24 * 1.0,
        unit="kg",
        relative=1e-12,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("strength for dose", lambda: polymer_use(Q(10, "m**3/h"), Q(5, "kg/m**3"), Q(24, "h"))),),
    ),
    Check(
        claim="cake of 100 bbl/h with 8 % solids at 32 % in the cake and 0.5 % in the water, bbl/h",
        compute=lambda: dewatered(Q(100, "bbl/h"), 0.08, 0.32, 0.005).cake,
        value=lambda: 100 * (8 - 0.5) / (32 - 0.5),
        unit="bbl/h",
        relative=1e-12,
        because=EXACT,
        source="two balances, of volume and of solids",
        status=Status.DERIVED,
        wrong_turns=(("feed over cake alone", lambda: Q(100 * 8 / 32, "bbl/h")),),
    ),
    Check(
        claim="lag of 10,000 ft of 12-1/4 by 5 in at 800 gal/min, min",
        compute=lambda: lag_time(Q(10_000, "ft"), Q(800, "gal/min"), Q(12.25, "in"), Q(5, "in")),
        value=lambda: math.pi / 4 * (12.25**2 - 5**2) * INCH**2 * 10_000 * FOOT / (800 * GALLON / 60) / 60,
        unit="min",
        relative=1e-9,
        because=EXACT,
        source="geometry with scipy.constants",
        status=Status.DERIVED,
        wrong_turns=(("pipe left out", lambda: Q(12.25**2 / 1029.4 * 10_000 * 42 / 800, "min")),),
    ),
    Check(
        claim="change of the pits with 16 thrown out, 0.6 of steel and 10 of water, bbl",
        compute=lambda: expected_change(Q(16, "bbl"), Q(0.6, "bbl"), Q(10, "bbl")),
        value=lambda: 0.6 + 10 - 16,
        unit="bbl",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("steel forgotten", lambda: Q(-6, "bbl")),),
    ),
]

CHECKS = NOISE + GAS + TANKS + DOSES


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected
