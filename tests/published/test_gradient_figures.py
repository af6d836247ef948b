"""Columns of several fluids and riser dilution against published and derived figures."""

from __future__ import annotations

import pytest
from scipy import constants
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar

from pitside.density import SEAWATER, density_from_gradient
from pitside.gradients import (
    deepest_point,
    dual_gradient_mud_weight,
    dual_gradient_pressure,
    layered_pressure,
    lower_mud_weight,
    open_hole_window,
    riser_dilution_rate,
    riser_return_rate,
    riser_weight,
)
from pitside.hydrostatics import FACTOR_LB_PER_GAL, equivalent_mud_weight_field
from pitside.units import GRAVITY, Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

LAPEYROUSE = "Lapeyrouse 2002 ch. 1"
STEPS = "the column integrated with scipy.integrate.quad"
EXACT = "the same balance another way; only rounding of floating point remains"
LB_PER_GAL = constants.lb / constants.gallon

DEPTH, SEA, MUD, MUDLINE = Q(20_000, "ft"), Q(8.55, "lb/gal"), Q(14.0, "lb/gal"), Q(5000, "ft")
RISER = Q(14.5, "lb/gal"), Q(10.0, "lb/gal"), Q(6.6, "lb/gal")
PUMPED = Q(500, "gal/min")
TWO_FLUIDS = Q([1.026, 1.70], "SG")


def integrated(depth_ft: float, gap_ft: float = 0.0) -> float:
    """Mass above a square foot at a depth, over that depth, lb/gal: density stepped through from the datum."""

    def density(at: float) -> float:
        if at < gap_ft:
            return 0.0
        return 8.55 if at < 5000 else 14.0

    return quad(density, 0, depth_ft, points=[gap_ft, 5000], limit=200)[0] / depth_ft


DUAL = [
    Check(
        claim="8.55 lb/gal over 5,000 ft then 14.0 to 20,000 ft, psi with 0.052",
        compute=lambda: dual_gradient_pressure(DEPTH, SEA, MUD, MUDLINE, factor=FACTOR_LB_PER_GAL),
        value=lambda: 0.052 * 8.55 * 5000 + 0.052 * 14.0 * 15_000,
        unit="psi",
        relative=1e-9,
        because=EXACT,
        source=f"{LAPEYROUSE}, 0.052 for each fluid",
        status=Status.DERIVED,
        wrong_turns=(
            ("mud to the surface", lambda: FACTOR_LB_PER_GAL * MUD * DEPTH),
            ("the exact factor", lambda: dual_gradient_pressure(DEPTH, SEA, MUD, MUDLINE)),
            ("the plain mean of the two", lambda: FACTOR_LB_PER_GAL * (SEA + MUD) / 2 * DEPTH),
        ),
    ),
    Check(
        claim="its equivalent mud weight",
        compute=lambda: dual_gradient_mud_weight(DEPTH, SEA, MUD, MUDLINE),
        value=lambda: integrated(20_000),
        unit="lb/gal",
        relative=1e-6,
        because="the integral is adaptive",
        source=STEPS,
        status=Status.DERIVED,
        wrong_turns=(
            ("the plain mean of the two", lambda: (SEA + MUD) / 2),
            (
                "over the depth below the mudline",
                lambda: dual_gradient_pressure(DEPTH, SEA, MUD, MUDLINE) / (GRAVITY * (DEPTH - MUDLINE)),
            ),
            ("mud to the surface", lambda: MUD),
        ),
    ),
    Check(
        claim="its equivalent mud weight with an air gap of 80 ft",
        compute=lambda: dual_gradient_mud_weight(DEPTH, SEA, MUD, MUDLINE, Q(80, "ft")),
        value=lambda: integrated(20_000, 80),
        unit="lb/gal",
        relative=1e-6,
        because="the integral is adaptive",
        source=STEPS,
        status=Status.DERIVED,
        wrong_turns=(("air gap forgotten", lambda: dual_gradient_mud_weight(DEPTH, SEA, MUD, MUDLINE)),),
    ),
    Check(
        claim="mud below the mudline for 12.6375 lb/gal at 20,000 ft",
        compute=lambda: lower_mud_weight(Q(12.6375, "lb/gal"), DEPTH, SEA, MUDLINE),
        value=lambda: brentq(lambda lower: (8.55 * 5000 + lower * 15_000) / 20_000 - 12.6375, 5, 25),
        unit="lb/gal",
        relative=1e-9,
        because="found by bisection to 2e-12",
        source="the balance solved with scipy.optimize.brentq",
        status=Status.DERIVED,
        wrong_turns=(
            ("the target itself", lambda: Q(12.6375, "lb/gal")),
            ("target times depth over the rock only", lambda: Q(12.6375 * 20 / 15, "lb/gal")),
        ),
    ),
    Check(
        claim="a dual-gradient column with the handbook's way back: psi / 0.052 / ft",
        compute=lambda: equivalent_mud_weight_field(
            dual_gradient_pressure(DEPTH, SEA, MUD, MUDLINE, factor=FACTOR_LB_PER_GAL), DEPTH
        ),
        value=lambda: integrated(20_000),
        unit="lb/gal",
        relative=1e-6,
        because="0.052 is in and out again",
        source=STEPS,
        status=Status.DERIVED,
        wrong_turns=(
            (
                "exact in, 0.052 out",
                lambda: equivalent_mud_weight_field(dual_gradient_pressure(DEPTH, SEA, MUD, MUDLINE), DEPTH),
            ),
        ),
    ),
    Check(
        claim="sea water of 35 g/kg over 1,500 m and 1.70 SG below, at 4,000 m, bar",
        compute=lambda: layered_pressure(Q(4000, "m"), Q([1500, 2500], "m"), TWO_FLUIDS),
        value=lambda: constants.g * (1026 * 1500 + 1700 * 2500) / constants.bar,
        unit="bar",
        relative=1e-9,
        because=EXACT,
        source="scipy.constants",
        status=Status.LIBRARY,
        wrong_turns=(
            ("the two lengths exchanged", lambda: layered_pressure(Q(4000, "m"), Q([2500, 1500], "m"), TWO_FLUIDS)),
            ("0.0981 for 0.0980665", lambda: Q(0.0981 * (1.026 * 1500 + 1.70 * 2500), "bar")),
        ),
    ),
    Check(
        claim="sea water has a gradient of 0.445 psi/ft",
        compute=lambda: SEAWATER,
        value=lambda: float(density_from_gradient(Q(0.445, "psi/ft")).m_as("lb/gal")),
        unit="lb/gal",
        relative=0.001,
        because="rounded to three figures",
        source="handbook gradient of sea water",
        status=Status.COMMON,
        wrong_turns=(("fresh water, 0.433", lambda: density_from_gradient(Q(0.433, "psi/ft"))),),
    ),
]

RISER_CHECKS = [
    Check(
        claim="diluent of 6.6 lb/gal that takes 500 gal/min of 14.5 to 10.0 lb/gal",
        compute=lambda: riser_dilution_rate(PUMPED, *RISER),
        value=lambda: brentq(lambda rate: 500 * 14.5 + rate * 6.6 - (500 + rate) * 10.0, 0, 5000),
        unit="gal/min",
        relative=1e-9,
        because="found by bisection to 2e-12",
        source="the balance solved with scipy.optimize.brentq",
        status=Status.DERIVED,
        wrong_turns=(
            ("ratio inverted", lambda: Q(500 * 3.4 / 4.5, "gal/min")),
            ("over the weight of the mud", lambda: Q(500 * 4.5 / 14.5, "gal/min")),
            ("over mud less diluent", lambda: Q(500 * 4.5 / 7.9, "gal/min")),
        ),
    ),
    Check(
        claim="rate that comes back",
        compute=lambda: riser_return_rate(PUMPED, *RISER),
        value=lambda: 500 + 500 * (14.5 - 10.0) / (10.0 - 6.6),
        unit="gal/min",
        relative=1e-9,
        because=EXACT,
        source="volume balance",
        status=Status.DERIVED,
        wrong_turns=(("the diluent alone", lambda: riser_dilution_rate(PUMPED, *RISER)),),
    ),
    Check(
        claim="riser weight of 500 gal/min of 14.5 and 661.8 of 6.6 lb/gal",
        compute=lambda: riser_weight(PUMPED, RISER[0], Q(661.8, "gal/min"), RISER[2]),
        value=lambda: (500 * 14.5 + 661.8 * 6.6) / 1161.8,
        unit="lb/gal",
        relative=1e-9,
        because=EXACT,
        source="mass balance",
        status=Status.DERIVED,
        wrong_turns=(("the plain mean", lambda: (RISER[0] + RISER[2]) / 2),),
    ),
]

#: A straight-line window below a shoe at 8,000 ft: pore 8.6 + 0.4 and fracture 10.5 + 0.38 lb/gal for each 1000 ft
#: below the mudline at 5,000 ft.
FINE = [8000 + 5 * step for step in range(3501)]
PORE = Q([8.6 + 0.4 * (depth - 5000) / 1000 for depth in FINE], "lb/gal")
FRACTURE = Q([10.5 + 0.38 * (depth - 5000) / 1000 for depth in FINE], "lb/gal")


def lower_mud(target: float, depth: float, upper: float) -> float:
    """Mud below 5,000 ft, or to the surface where there is no upper fluid, that makes a target; lb/gal and ft."""
    return (target * depth - upper * 5000) / (depth - 5000) if upper else target


def meeting(upper: float) -> float:
    """Depth, ft, where the mud that the pore gradient needs is all that the open hole above bears."""

    def borne(depth: float) -> float:
        return lower_mud(10.5 + 0.38 * (depth - 5000) / 1000, depth, upper)

    weakest = minimize_scalar(borne, bounds=(8000, 20_000), method="bounded", options={"xatol": 1e-6}).x
    most = min(borne(weakest), borne(8000))
    return brentq(lambda depth: most - lower_mud(8.6 + 0.4 * (depth - 5000) / 1000, depth, upper), 8000, 60_000)


WINDOW = [
    Check(
        claim=f"deepest point of a section from 8,000 ft with {name}",
        compute=lambda column=column: open_hole_window(Q(FINE, "ft"), PORE, FRACTURE, **column).deepest,
        value=lambda upper=upper: meeting(upper),
        unit="ft",
        relative=1e-5,
        because="the list has steps of 5 ft, linear between them",
        source="scipy.optimize on the straight lines",
        status=Status.DERIVED,
        wrong_turns=(
            wrong,
            ("the last depth", lambda: Q(FINE[-1], "ft")),
        ),
    )
    for name, column, upper, wrong in (
        ("one mud", {}, 0.0, ("two gradients", lambda: Q(meeting(8.55), "ft"))),
        (
            "two gradients",
            {"upper": SEA, "mudline_depth": MUDLINE},
            8.55,
            # The hole bears 16.79 lb/gal at the shoe and 16.25 at 10,100 ft.
            ("what the shoe alone bears", lambda: Q(20_434.5, "ft")),
        ),
    )
] + [
    Check(
        claim="deepest point of 11.0 lb/gal in the same window",
        compute=lambda: deepest_point(Q(FINE, "ft"), Q(11.0, "lb/gal"), PORE, FRACTURE),
        value=lambda: brentq(lambda depth: 11.0 - (8.6 + 0.4 * (depth - 5000) / 1000), 5000, 50_000),
        unit="ft",
        relative=1e-6,
        because="straight lines meet between two depths of the list",
        source="scipy.optimize.brentq on the straight lines",
        status=Status.DERIVED,
        wrong_turns=(("depth below the mudline", lambda: Q(6000, "ft")),),
    ),
]

CHECKS = DUAL + RISER_CHECKS + WINDOW


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected


@pytest.mark.parametrize(
    ("wrong", "figure"),
    [((8.55 + 14.0) / 2, 11.28), (12.6375 * 20 / 15, 16.85), (500 * 3.4 / 4.5, 377.8)],
)
def test_the_wrong_turns_are_the_figures_that_people_write_down(wrong, figure):
    """Derived: mean of the two densities, over the depth below the mudline, dilution ratio inverted."""
    assert wrong == pytest.approx(figure, abs=0.05)
