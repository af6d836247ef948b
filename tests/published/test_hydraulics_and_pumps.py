"""Annular flow, pumps, power and life cost against published, derived and common figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from scipy import constants, stats
from scipy.integrate import quad
from scipy.optimize import brentq

from pitside.cost import (
    Train,
    Uncertain,
    break_even_time,
    worth_of_yearly_cost,
)
from pitside.hydraulics import (
    annular_loss,
    annular_reynolds_number,
    annular_velocity,
    annular_velocity_field,
    bingham_loss_field,
    bottom_hole_pressure,
    consistency,
    consistency_field,
    equivalent_circulating_density,
    equivalent_circulating_density_field,
    flow_index,
    low_shear_yield,
    plastic_viscosity,
    velocity_squared_loss_field,
    yield_point,
)
from pitside.hydrostatics import column_pressure_field
from pitside.power import energy, supply_power
from pitside.pumps import (
    PumpCurve,
    SystemCurve,
    at_impeller,
    at_speed,
    duplex_displacement,
    duty_point,
    head_from_pressure,
    head_from_pressure_field,
    hydraulic_power,
    hydraulic_power_field,
    pressure_at_rate,
    pressure_exponent,
    pressure_from_head,
    pressure_from_head_field,
    pump_output,
    shaft_power,
    shaft_power_field,
    suction_head,
    suction_margin,
    triplex_displacement,
    triplex_output_field,
)
from pitside.units import Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

LAPEYROUSE = "Lapeyrouse"
GUO_LIU = "Guo and Liu, Applied Drilling Circulation Systems"
SHEET_13D = "API RP 13D equations on a public sheet of 2002"
PUMPING = "The Practical Pumping Handbook p. 268"
SCIPY = "scipy.constants"
EXACT_UNITS = "both sides are exact units; only rounding of floating point remains"
FORMULA = "the formula with its rounded constants, term by term"

PSI, GALLON, INCH, FOOT = constants.psi, constants.gallon, constants.inch, constants.foot
LB_PER_GAL = constants.lb / GALLON
YIELD_UNIT = constants.lbf / (100 * FOOT**2)

QUICK = (Q(8000, "ft"), Q(6.5, "in"), Q(4, "in"), Q(13.0, "lb/gal"))

#: A laminar annulus: 8-1/2 by 5 in, 1000 ft, 2.5 ft/s, 12 lb/gal.
SPEED, LENGTH, HOLE, PIPE, WEIGHT = Q(2.5, "ft/s"), Q(1000, "ft"), Q(8.5, "in"), Q(5, "in"), Q(12, "lb/gal")
ANNULUS = (SPEED, LENGTH, HOLE, PIPE, WEIGHT)
#: The same with so light a mud that any flow is laminar.
LIGHT = (*ANNULUS[:4], Q(1, "kg/m**3"))
BINGHAM = (Q(25, "cP"), 1.0, Q(15, "lbf_100ft2"))


def quick_speed():
    return annular_velocity_field(Q(320, "gal/min"), Q(6.5, "in"), Q(4, "in"))


def field_bingham(viscosity: float, point: float) -> float:
    """Guo and Liu's equation 2.59, psi, for the annulus above."""
    return 1000 * (viscosity * 2.5 / (1000 * 3.5**2) + point / (200 * 3.5))


def field_power_law(index: float, factor: float) -> float:
    """Guo and Liu's equation 2.63, psi; the factor in lbf s^n / 100 ft2."""
    return (144 * 2.5 / 3.5 * (2 * index + 1) / (3 * index)) ** index * factor * 1000 / (300 * 3.5)


def sheet_power_law(index: float, factor: float) -> float:
    """The sheet's effective viscosity, Reynolds number, friction factor and loss, psi; the factor in poise."""
    viscosity = 100 * factor * (144 * 2.5 / 3.5) ** (index - 1) * ((2 * index + 1) / (3 * index)) ** index
    reynolds = 928 * 3.5 * 2.5 * 12 / viscosity
    return 24 / reynolds * 2.5**2 * 12 / (25.81 * 3.5) * 1000


def solved_slot(viscosity: float, index: float, point: float) -> float:
    """Loss of the annulus above, psi, from the slot's stress integrated by SciPy and its wall stress sought."""
    half_gap, speed = 3.5 * INCH / 4, 2.5 * FOOT

    def carried(wall):
        plug = point / wall
        rate = quad(lambda y: y * ((wall * y - point) / viscosity) ** (1 / index), plug, 1)[0]
        return half_gap * rate

    wall = brentq(lambda stress: carried(stress) - speed, point * 1.0001 + 1e-9, 1e4, xtol=1e-12)
    return wall / half_gap * 1000 * FOOT / PSI


def whole_annulus(ratio: float) -> float:
    """Exact laminar Newtonian loss of a concentric annulus of 8-1/2 in, psi, for 1000 ft, 0.3 ft/s and 30 cP."""
    shape = (1 - ratio**4) / (1 - ratio**2) + (1 - ratio**2) / math.log(ratio)
    return 8 * 0.030 * 0.3 * FOOT / ((8.5 * INCH / 2) ** 2 * shape) * 1000 * FOOT / PSI


def thin_annulus(ratio: float):
    pipe = Q(8.5 * ratio, "in")
    return annular_loss(Q(0.3, "ft/s"), Q(1000, "ft"), HOLE, pipe, Q(1, "SG"), Q(30, "cP"))


FLOW = [
    Check(
        claim="annular velocity of 320 gal/min in 6.5 by 4 in with 24.5, ft/min",
        compute=quick_speed,
        value=299.0,
        unit="ft/min",
        absolute=0.5,
        because="printed to one unit",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(
            ("difference before the square", lambda: Q(24.5 * 320 / 2.5**2, "ft/min")),
            ("pipe left out", lambda: Q(24.5 * 320 / 6.5**2, "ft/min")),
        ),
    ),
    Check(
        claim="annular velocity of 1,200 L/min in 165 by 100 mm, m/min",
        compute=lambda: annular_velocity(Q(1200, "L/min"), Q(165, "mm"), Q(100, "mm")),
        value=88.7,
        unit="m/min",
        absolute=0.05,
        because="printed to one decimal",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(("pipe left out", lambda: Q(1.2 / (math.pi / 4 * 0.165**2), "m/min")),),
    ),
    Check(
        claim="exact ft/min for gal/min and in2",
        compute=lambda: annular_velocity(Q(1, "gal/min"), Q(math.sqrt(2), "in"), Q(1, "in")),
        value=lambda: GALLON / (math.pi / 4 * INCH**2) / FOOT,
        unit="ft/min",
        relative=1e-9,
        because=EXACT_UNITS,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("24.5", lambda: annular_velocity_field(Q(1, "gal/min"), Q(math.sqrt(2), "in"), Q(1, "in"))),),
    ),
    Check(
        claim="300 gal/min in 8-1/2 by 4-1/2 in, ft/s",
        compute=lambda: annular_velocity(Q(300, "gal/min"), Q(8.5, "in"), Q(4.5, "in")),
        value=2.36,
        unit="ft/s",
        absolute=0.005,
        because="printed to two decimals",
        source=f"{GUO_LIU} p. 45",
        status=Status.SEEN,
    ),
    Check(
        claim="300 gal/min in 8-1/2 by 6-3/4 in, ft/s",
        compute=lambda: annular_velocity(Q(300, "gal/min"), Q(8.5, "in"), Q(6.75, "in")),
        value=4.59,
        unit="ft/s",
        absolute=0.005,
        because="printed to two decimals",
        source=f"{GUO_LIU} p. 45",
        status=Status.SEEN,
    ),
    Check(
        claim="quick annular loss, 1.4327e-7, psi",
        compute=lambda: velocity_squared_loss_field(quick_speed(), *QUICK),
        value=531.65,
        unit="psi",
        absolute=0.05,
        because="printed to two decimals, of a velocity that is not rounded",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(
            ("velocity rounded to 299", lambda: velocity_squared_loss_field(Q(299, "ft/min"), *QUICK)),
            ("ft/s for ft/min", lambda: velocity_squared_loss_field(quick_speed() / 60, *QUICK)),
        ),
    ),
    Check(
        claim="quick annular loss in metric units, kPa",
        compute=lambda: velocity_squared_loss_field(
            Q(88.7, "m/min"), Q(2400, "m"), Q(165, "mm"), Q(100, "mm"), Q(1560, "kg/m**3")
        ),
        value=3349.0,
        unit="kPa",
        relative=0.001,
        because="the sheet rounds its metric constant to 7.39e-6",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(("velocity not squared", lambda: Q(7.39e-6 * 1560 * 2400 * 88.7 / 65, "kPa")),),
    ),
]

RHEOLOGY = [
    Check(
        claim="readings 65 and 40, plastic viscosity = R600 - R300",
        compute=lambda: plastic_viscosity(65, 40),
        value=lambda: 65.0 - 40.0,
        unit="cP",
        relative=1e-9,
        because="the rule as recalled",
        source="API RP 13D family",
        status=Status.MEMORY,
        wrong_turns=(("half the reading at 600", lambda: Q(32.5, "cP")),),
    ),
    Check(
        claim="readings 65 and 40, yield point = R300 - PV",
        compute=lambda: yield_point(65, 40),
        value=lambda: 40.0 - 25.0,
        unit="lbf_100ft2",
        relative=1e-9,
        because="the rule as recalled; a petroleum dictionary says the same",
        source="API RP 13D family",
        status=Status.MEMORY,
        wrong_turns=(("R600 - PV", lambda: Q(40, "lbf_100ft2")),),
    ),
    Check(
        claim="readings 65 and 40, n = 3.32 log (R600 / R300)",
        compute=lambda: flow_index(65, 40),
        value=lambda: 3.32 * math.log10(65 / 40),
        unit="",
        relative=0.001,
        because="3.32 rounds 1 / log 2",
        source=SHEET_13D,
        status=Status.SEEN,
        wrong_turns=(
            ("inverted", lambda: Q(math.log2(65 / 40) - 1.4)),
            ("natural logarithm", lambda: Q(3.32 * math.log(65 / 40))),
        ),
    ),
    Check(
        claim="readings 65 and 40, K = 5.11 R600 / 1022 ** n, poise",
        compute=lambda: consistency(40, flow_index(65, 40)),
        value=lambda: 5.11 * 65 / 1022 ** math.log2(65 / 40),
        unit="P",
        relative=1e-9,
        because="5.11 at 511 and 1,022 1/s",
        source=SHEET_13D,
        status=Status.SEEN,
        wrong_turns=(
            ("the 510 of older texts", lambda: consistency_field(40, flow_index(65, 40))),
            ("reading at 600 with 511", lambda: consistency(65, flow_index(65, 40))),
        ),
    ),
    Check(
        claim="readings 65 and 40, K = 510 R300 / 511 ** n, eq. cP",
        compute=lambda: consistency_field(40, flow_index(65, 40)),
        value=lambda: 510 * 40 / 511 ** (3.322 * math.log10(65 / 40)),
        unit="cP",
        relative=0.001,
        because="3.322 is rounded",
        source=f"{GUO_LIU} p. 26",
        status=Status.SEEN,
        wrong_turns=(("5.11", lambda: consistency(40, flow_index(65, 40))),),
    ),
    Check(
        claim="readings 6 and 7 at 3 and 6 rev/min, yield = 2 R3 - R6",
        compute=lambda: low_shear_yield(6, 7),
        value=lambda: 2 * 6.0 - 7.0,
        unit="lbf_100ft2",
        relative=1e-9,
        because="the rule itself",
        source=f"{GUO_LIU} p. 26",
        status=Status.SEEN,
        wrong_turns=(("the reading at 3", lambda: Q(6, "lbf_100ft2")),),
    ),
    Check(
        claim="readings 65 and 40 above a yield of 5, n = 3.322 log ((R600 - y) / (R300 - y))",
        compute=lambda: flow_index(65, 40, 5),
        value=lambda: 3.322 * math.log10(60 / 35),
        unit="",
        relative=0.001,
        because="3.322 rounds 1 / log 2",
        source=f"{GUO_LIU} p. 26",
        status=Status.SEEN,
        wrong_turns=(("the power law's", lambda: flow_index(65, 40)),),
    ),
    Check(
        claim="plastic viscosity by exact shear stress and rates, cP",
        compute=lambda: plastic_viscosity(65, 40),
        value=lambda: 1000 * 0.511 * (65 - 40) / (1022 - 511),
        unit="cP",
        relative=0.002,
        because="0.511 Pa a degree over 511 1/s is one cP",
        source="stress and rates of the viscometer",
        status=Status.DERIVED,
    ),
]

FRICTION = [
    Check(
        claim="Bingham loss of an annulus, PV v / (1000 gap2) + YP / (200 gap), psi",
        compute=lambda: bingham_loss_field(SPEED, LENGTH, HOLE, PIPE, Q(25, "cP"), Q(15, "lbf_100ft2")),
        value=lambda: field_bingham(25, 15),
        unit="psi",
        relative=1e-9,
        because=FORMULA,
        source=f"{GUO_LIU} p. 40",
        status=Status.SEEN,
        wrong_turns=(
            ("yield point left out", lambda: Q(field_bingham(25, 0), "psi")),
            ("ft/min for ft/s", lambda: bingham_loss_field(60 * SPEED, LENGTH, HOLE, PIPE, *BINGHAM[::2])),
            ("constants of a pipe", lambda: Q(1000 * (25 * 2.5 / (1500 * 3.5**2) + 15 / (225 * 3.5)), "psi")),
            ("the plug in full", lambda: annular_loss(*ANNULUS, *BINGHAM)),
        ),
    ),
    Check(
        claim="Bingham loss of an annulus, the plug in full, against the form without it, psi",
        compute=lambda: annular_loss(*ANNULUS, *BINGHAM),
        value=lambda: field_bingham(25, 15),
        unit="psi",
        relative=0.10,
        because="the handbook form leaves the plug out, 8 % at this speed",
        source=f"{GUO_LIU} p. 40",
        status=Status.SEEN,
        wrong_turns=(("yield point left out", lambda: annular_loss(*LIGHT, Q(25, "cP"))),),
    ),
    Check(
        claim="power-law loss of an annulus, psi",
        compute=lambda: annular_loss(*ANNULUS, Q(2.0 * YIELD_UNIT, "Pa*s"), 0.7),
        value=lambda: field_power_law(0.7, 2.0),
        unit="psi",
        relative=1e-9,
        because="its constants are exact: 144, 3 and 300",
        source=f"{GUO_LIU} p. 43",
        status=Status.SEEN,
        wrong_turns=(
            ("wall rate without n", lambda: Q((144 * 2.5 / 3.5) ** 0.7 * 2.0 * 1000 / (300 * 3.5), "psi")),
            (
                "form of a pipe",
                lambda: Q((96 * 2.5 / 3.5 * 3.1 / 2.8) ** 0.7 * 2.0 * 1000 / (300 * 3.5), "psi"),
            ),
        ),
    ),
    Check(
        claim="power-law loss by effective viscosity, Reynolds number and 24 / Re, psi",
        compute=lambda: annular_loss(*ANNULUS, Q(10.0, "P"), 0.7),
        value=lambda: sheet_power_law(0.7, 10.0),
        unit="psi",
        relative=0.005,
        because="928 and 25.81 are rounded",
        source=SHEET_13D,
        status=Status.SEEN,
        wrong_turns=(("16 / Re, that of a pipe", lambda: Q(sheet_power_law(0.7, 10.0) * 16 / 24, "psi")),),
    ),
    Check(
        claim="Reynolds number of a power-law mud, 928 gap v MW / viscosity",
        compute=lambda: annular_reynolds_number(SPEED, HOLE, PIPE, WEIGHT, Q(10.0, "P"), 0.7),
        value=lambda: 928 * 3.5 * 2.5 * 12 / (1000 * (144 * 2.5 / 3.5) ** -0.3 * (2.4 / 2.1) ** 0.7),
        unit="",
        relative=0.001,
        because="928 is rounded",
        source=SHEET_13D,
        status=Status.SEEN,
        wrong_turns=(
            ("K for the viscosity", lambda: annular_reynolds_number(SPEED, HOLE, PIPE, WEIGHT, Q(10.0, "P"))),
        ),
    ),
    Check(
        claim="Bingham loss with its plug, psi",
        compute=lambda: annular_loss(*ANNULUS, *BINGHAM),
        value=lambda: solved_slot(0.025, 1.0, 15 * YIELD_UNIT),
        unit="psi",
        relative=1e-7,
        because="quadrature and root hold eight digits",
        source="slot flow, integrated and solved with SciPy",
        status=Status.DERIVED,
        wrong_turns=(
            ("the plug left out", lambda: Q(field_bingham(25, 15), "psi")),
            ("no yield point", lambda: annular_loss(*LIGHT, Q(25, "cP"))),
        ),
    ),
    Check(
        claim="Herschel-Bulkley loss with its plug, psi",
        compute=lambda: annular_loss(*ANNULUS, Q(0.5, "Pa*s"), 0.7, Q(4.0, "Pa")),
        value=lambda: solved_slot(0.5, 0.7, 4.0),
        unit="psi",
        relative=1e-7,
        because="quadrature and root hold eight digits",
        source="slot flow, integrated and solved with SciPy",
        status=Status.DERIVED,
        wrong_turns=(
            ("power law", lambda: annular_loss(*ANNULUS, Q(0.5, "Pa*s"), 0.7)),
            (
                "yield stress just added at the wall",
                lambda: annular_loss(*ANNULUS, Q(0.5, "Pa*s"), 0.7) + Q(4.0, "Pa") * 4 * LENGTH / (HOLE - PIPE),
            ),
        ),
    ),
    *(
        Check(
            claim=f"slot against the whole annulus, pipe {ratio:g} of the hole, Newtonian",
            compute=lambda ratio=ratio: thin_annulus(ratio),
            value=lambda ratio=ratio: whole_annulus(ratio),
            unit="psi",
            relative=tolerance,
            because="the slot leaves out the curve of the walls",
            source="laminar flow in a concentric annulus, solved",
            status=Status.DERIVED,
            wrong_turns=(("a pipe of the gap's width", lambda ratio=ratio: Q(2 / 3 * whole_annulus(ratio), "psi")),),
        )
        for ratio, tolerance in ((0.3, 0.025), (0.5, 0.009), (0.8, 0.0009))
    ),
]

PRESSURE = [
    Check(
        claim="12.7 lb/gal, 50 psi over 10,000 ft, circulating density",
        compute=lambda: equivalent_circulating_density_field(Q(12.7, "lb/gal"), Q(50, "psi"), Q(10_000, "ft")),
        value=12.8,
        unit="lb/gal",
        absolute=0.05,
        because="printed to one decimal",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(
            ("0.052 forgotten", lambda: Q(12.7 + 50 / 10_000, "lb/gal")),
            ("loss in pipe and surface lines too", lambda: Q(12.7 + 1000 / 520, "lb/gal")),
        ),
    ),
    Check(
        claim="12.7 lb/gal, 50 psi over 10,000 ft, bottom-hole pressure with 0.052",
        compute=lambda: column_pressure_field(Q(12.7, "lb/gal"), Q(10_000, "ft")) + Q(50, "psi"),
        value=6654.0,
        unit="psi",
        absolute=0.5,
        because="printed to one unit",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(("friction left out", lambda: column_pressure_field(Q(12.7, "lb/gal"), Q(10_000, "ft"))),),
    ),
    Check(
        claim="12.7 lb/gal, 50 psi over 10,000 ft, bottom-hole pressure with the exact factor",
        compute=lambda: bottom_hole_pressure(Q(12.7, "lb/gal"), Q(50, "psi"), Q(10_000, "ft")),
        value=6654.0,
        unit="psi",
        relative=0.0011,
        because="0.052 is 0.10 % above the exact factor",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(
            (
                "pump pressure on top",
                lambda: bottom_hole_pressure(Q(12.7, "lb/gal"), Q(50, "psi"), Q(10_000, "ft"), Q(1000, "psi")),
            ),
        ),
    ),
    Check(
        claim="10 lb/gal, 400 psi over 8,000 ft, circulating density",
        compute=lambda: equivalent_circulating_density_field(Q(10, "lb/gal"), Q(400, "psi"), Q(8000, "ft")),
        value=11.0,
        unit="lb/gal",
        absolute=0.05,
        because="printed to one decimal",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(
            (
                "measured depth of 10,000 ft",
                lambda: equivalent_circulating_density_field(Q(10, "lb/gal"), Q(400, "psi"), Q(10_000, "ft")),
            ),
        ),
    ),
    Check(
        claim="1,200 kg/m3, 2,760 kPa over 2,440 m, circulating density",
        compute=lambda: equivalent_circulating_density(Q(1200, "kg/m**3"), Q(2760, "kPa"), Q(2440, "m")),
        value=1315.0,
        unit="kg/m**3",
        absolute=0.5,
        because="printed to one unit, with 9.81 m/s2",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(("kPa taken for bar", lambda: Q(1200 + 2760 / 0.0981 / 2440, "kg/m**3")),),
    ),
    Check(
        claim="12.7 lb/gal, 50 psi over 10,000 ft, exactly",
        compute=lambda: equivalent_circulating_density(Q(12.7, "lb/gal"), Q(50, "psi"), Q(10_000, "ft")),
        value=lambda: 12.7 + 50 * PSI / (constants.g * 10_000 * FOOT) / LB_PER_GAL,
        unit="lb/gal",
        relative=1e-9,
        because=EXACT_UNITS,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(
            (
                "0.052",
                lambda: equivalent_circulating_density_field(Q(12.7, "lb/gal"), Q(50, "psi"), Q(10_000, "ft")),
            ),
        ),
    ),
]

DUTY = (Q(900, "gal/min"), Q(85, "ft"))
POWER = [
    Check(
        claim="20 gal/min at 1,500 psi, hp with 1714",
        compute=lambda: hydraulic_power_field(Q(1500, "psi"), Q(20, "gal/min")),
        value=17.5,
        unit="hp",
        absolute=0.05,
        because="printed to one decimal",
        source="engineeringtoolbox.com, hydraulic pumps",
        status=Status.SEEN,
        wrong_turns=(("3960 for 1714", lambda: Q(20 * 1500 / 3960, "hp")),),
    ),
    Check(
        claim="520 psi and 3.3 gal/min are a horsepower",
        compute=lambda: hydraulic_power(Q(520, "psi"), Q(3.3, "gal/min")),
        value=1.0,
        unit="hp",
        relative=0.015,
        because="3.3 is rounded to two figures",
        source="IADC glossary, hydraulic horsepower",
        status=Status.SEEN,
        wrong_turns=(("barrels for gallons", lambda: hydraulic_power(Q(520, "psi"), Q(3.3, "bbl/min"))),),
    ),
    Check(
        claim="2,950 psi and 520 gal/min, hp = P Q / 1714",
        compute=lambda: hydraulic_power_field(Q(2950, "psi"), Q(520, "gal/min")),
        value=lambda: 2950 * 520 / 1714,
        unit="hp",
        relative=1e-9,
        because=FORMULA,
        source=f"{GUO_LIU} p. 73",
        status=Status.SEEN,
        wrong_turns=(
            ("exact", lambda: hydraulic_power(Q(2950, "psi"), Q(520, "gal/min"))),
            ("3960", lambda: Q(2950 * 520 / 3960, "hp")),
        ),
    ),
    Check(
        claim="psi and gal/min in a horsepower, exactly",
        compute=lambda: hydraulic_power(Q(1, "psi"), Q(33_000 * 12 / 231, "gal/min")),
        value=lambda: PSI * 33_000 * 12 / 231 * GALLON / 60 / constants.hp,
        unit="hp",
        relative=1e-9,
        because=EXACT_UNITS,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("1714", lambda: hydraulic_power_field(Q(1, "psi"), Q(33_000 * 12 / 231, "gal/min"))),),
    ),
    Check(
        claim="900 gal/min, 85 ft, SG 1.44, 70 %: hp = Q H SG / (3960 eff)",
        compute=lambda: shaft_power_field(*DUTY, 1.44, 0.70),
        value=lambda: 900 * 85 * 1.44 / (3960 * 0.70),
        unit="hp",
        relative=1e-9,
        because=FORMULA,
        source=PUMPING,
        status=Status.SEEN,
        wrong_turns=(
            ("efficiency multiplied", lambda: shaft_power_field(*DUTY, 1.44, 1.0) * 0.70),
            ("SG left out", lambda: shaft_power_field(*DUTY, 1.0, 0.70)),
            ("1714 for 3960", lambda: Q(900 * 85 * 1.44 / (1714 * 0.70), "hp")),
            ("hydraulic power", lambda: shaft_power_field(*DUTY, 1.44, 1.0)),
        ),
    ),
    Check(
        claim="900 gal/min, 85 ft, SG 1.44, 70 %: kW = m3/h m SG / (367.12 eff)",
        compute=lambda: shaft_power(*DUTY, Q(1.44, "SG"), 0.70),
        value=lambda: 900 * GALLON * 60 * 85 * FOOT * 1.44 / (367.12 * 0.70),
        unit="kW",
        relative=1e-4,
        because="367.12 rounds 367.098",
        source=PUMPING,
        status=Status.SEEN,
        wrong_turns=(("3960", lambda: shaft_power_field(*DUTY, 1.44, 0.70)),),
    ),
    Check(
        claim="gal/min and ft in a horsepower for water of 1000 kg/m3",
        compute=lambda: shaft_power(Q(3960, "gal/min"), Q(1, "ft"), Q(1, "SG"), 1.0),
        value=lambda: 3960 * GALLON / 60 * FOOT * 1000 * constants.g / constants.hp,
        unit="hp",
        relative=1e-9,
        because=EXACT_UNITS,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("3960", lambda: Q(1, "hp")),),
    ),
    Check(
        claim="3960 is exact for water of about 20 degC",
        compute=lambda: shaft_power_field(Q(3960, "gal/min"), Q(1, "ft"), 1.0, 1.0),
        value=lambda: (
            3960 * GALLON / 60 * FOOT * PropsSI("D", "T", 293.15, "P", 101_325, "Water") * constants.g / constants.hp
        ),
        unit="hp",
        relative=5e-4,
        because="water is 998.2 kg/m3 there, 3960 fits 998.5",
        source="CoolProp",
        status=Status.LIBRARY,
        wrong_turns=(("water of 1000 kg/m3", lambda: shaft_power(Q(3960, "gal/min"), Q(1, "ft"), Q(1, "SG"), 1.0)),),
    ),
    Check(
        claim="50 hp for a day, kWh",
        compute=lambda: energy(Q(50, "hp")),
        value=lambda: 50 * constants.hp / 1000 * 24,
        unit="kWh",
        relative=1e-9,
        because=EXACT_UNITS,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("hp taken for kW", lambda: Q(1200, "kWh")),),
    ),
    Check(
        claim="hp = 0.7457 kW",
        compute=lambda: supply_power(Q(1, "hp"), 1.0),
        value=745.7,
        unit="W",
        absolute=0.05,
        because="printed to one decimal",
        source="engineeringtoolbox.com, hydraulic pumps",
        status=Status.SEEN,
        wrong_turns=(("metric horsepower", lambda: Q(735.5, "W")),),
    ),
]

PUMP = PumpCurve.through(Q([0, 400, 800], "gal/min"), Q([100, 95, 80], "ft"))
SYSTEM = SystemCurve.through(Q(20, "ft"), Q(600, "gal/min"), Q(70, "ft"))
POINT = (Q(100, "gal/min"), Q(100, "ft"), Q(5, "hp"))


def crossing(pumps: int) -> float:
    """Flow at which so many pumps in parallel meet the system, gal/min, sought with SciPy."""
    return brentq(
        lambda flow: 100 - 20 * (flow / pumps / 800) ** 2 - 20 - 50 * (flow / 600) ** 2, 1, 800 * pumps, xtol=1e-10
    )


HEAD = [
    *(
        Check(
            claim=f"100 ft of head, psi at SG {sg}",
            compute=lambda sg=sg: pressure_from_head_field(Q(100, "ft"), sg),
            value=psi,
            unit="psi",
            absolute=0.5,
            because="printed to half a unit",
            source="sheet of pump fundamentals",
            status=Status.RESTATED,
            wrong_turns=(("SG forgotten", lambda: pressure_from_head_field(Q(100, "ft"), 1.0)),) if sg != 1.0 else (),
        )
        for sg, psi in ((0.75, 32.5), (1.0, 43.0), (1.2, 52.0))
    ),
    Check(
        claim="10 psi of water, ft",
        compute=lambda: head_from_pressure_field(Q(10, "psi"), 1.0),
        value=23.1,
        unit="ft",
        absolute=0.05,
        because="printed to one decimal",
        source="text on suction head of centrifugal pumps",
        status=Status.SEEN,
        wrong_turns=(("divided by 2.31", lambda: Q(10 / 2.31, "ft")),),
    ),
    Check(
        claim="vapour pressure of water at 100 degF, 0.9492 psi at 62.00 lb/ft3, ft",
        compute=lambda: head_from_pressure(Q(0.9492, "psi"), Q(62.00, "lb/ft**3")),
        value=2.203,
        unit="ft",
        absolute=0.002,
        because="printed to four figures, as are pressure and density",
        source="Know and Understand Centrifugal Pumps, table of water",
        status=Status.SEEN,
        wrong_turns=(("psi for ft", lambda: Q(0.9492, "ft")),),
    ),
    Check(
        claim="75 ft of 12.0 lb/gal mud, psi",
        compute=lambda: pressure_from_head(Q(75, "ft"), Q(12.0, "lb/gal")),
        value=lambda: 75 * FOOT * 12.0 * LB_PER_GAL * constants.g / PSI,
        unit="psi",
        relative=1e-9,
        because=EXACT_UNITS,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(
            ("head in feet of water", lambda: pressure_from_head(Q(75, "ft"), Q(1, "SG"))),
            ("75 psi for 75 ft", lambda: Q(75, "psi")),
        ),
    ),
    *(
        Check(
            claim=f"1750 to 3500 rev/min, {words}",
            compute=lambda place=place: at_speed(*POINT, 3500 / 1750)[place],
            value=value,
            unit=unit,
            relative=1e-9,
            because="an exact ratio",
            source="public sheet on affinity laws",
            status=Status.RESTATED,
            wrong_turns=wrong,
        )
        for place, words, value, unit, wrong in (
            (0, "flow of 100 gal/min", 200.0, "gal/min", (("speed squared", lambda: Q(400, "gal/min")),)),
            (1, "head of 100 ft", 400.0, "ft", (("head as speed", lambda: Q(200, "ft")),)),
            (2, "power of 5 hp", 40.0, "hp", (("power as speed squared", lambda: Q(20, "hp")),)),
        )
    ),
    Check(
        claim="10 % more speed, power",
        compute=lambda: at_speed(*POINT, 1.1)[2] / POINT[2],
        value=133.0,
        unit="percent",
        absolute=0.5,
        because="printed to one per cent",
        source="guide to pumps and affinity laws",
        status=Status.SEEN,
        wrong_turns=(("as head", lambda: Q(1.21)),),
    ),
    Check(
        claim="10 % more speed, head",
        compute=lambda: at_speed(*POINT, 1.1)[1] / POINT[1],
        value=121.0,
        unit="percent",
        absolute=0.5,
        because="printed to one per cent",
        source="guide to pumps and affinity laws",
        status=Status.SEEN,
        wrong_turns=(("as speed", lambda: Q(1.10)),),
    ),
    Check(
        claim="impeller of 11 for 12 in, head, D2 / D1 squared",
        compute=lambda: at_impeller(*POINT, 11 / 12)[1],
        value=lambda: 100 * (11 / 12) ** 2,
        unit="ft",
        relative=1e-9,
        because="the law itself",
        source=PUMPING,
        status=Status.SEEN,
        wrong_turns=(("as diameter", lambda: Q(100 * 11 / 12, "ft")),),
    ),
    *(
        Check(
            claim=f"duty point of {pumps} in parallel, gal/min",
            compute=lambda pumps=pumps: duty_point(PUMP.in_parallel(pumps), SYSTEM).flow,
            value=lambda pumps=pumps: crossing(pumps),
            unit="gal/min",
            relative=1e-9,
            because="the root is sought to eleven digits",
            source="pump and system curves, crossed with SciPy",
            status=Status.DERIVED,
            wrong_turns=(("so many times the flow of one", lambda pumps=pumps: Q(pumps * crossing(1), "gal/min")),)
            if pumps > 1
            else (("static head forgotten", lambda: duty_point(PUMP, SystemCurve(Q(0, "ft"), SYSTEM.friction)).flow),),
        )
        for pumps in (1, 2, 4)
    ),
    Check(
        claim="air at sea level, ft of water",
        compute=lambda: suction_head(Q(0, "ft"), Q(1, "SG"), Q(0, "psi"), Q(0, "ft")),
        value=33.9,
        unit="ft",
        absolute=0.05,
        because="printed to one decimal",
        source="text on suction head of centrifugal pumps",
        status=Status.SEEN,
        wrong_turns=(("14.7 for 33.9", lambda: Q(14.7, "ft")),),
    ),
    Check(
        claim="margin of a pump 2 m below 1.2 SG mud of 50 degC, 0.5 m of friction, 4 m required",
        compute=lambda: suction_margin(
            suction_head(Q(2, "m"), Q(1.2, "SG"), Q(PropsSI("P", "T", 323.15, "Q", 0, "Water"), "Pa"), Q(0.5, "m")),
            Q(4, "m"),
        ),
        value=lambda: (101_325 - PropsSI("P", "T", 323.15, "Q", 0, "Water")) / (1200 * constants.g) + 2 - 0.5 - 4,
        unit="m",
        relative=1e-9,
        because="the definition, with the vapour pressure of water",
        source="CoolProp",
        status=Status.LIBRARY,
        wrong_turns=(
            ("vapour pressure forgotten", lambda: suction_head(Q(2, "m"), Q(1.2, "SG"), Q(0, "Pa"), Q(4.5, "m"))),
            ("water for mud", lambda: suction_head(Q(2, "m"), Q(1, "SG"), Q(12_350, "Pa"), Q(4.5, "m"))),
        ),
    ),
]

MUD_PUMP = [
    Check(
        claim="triplex of 6 by 12 in, bbl a stroke with 0.000243",
        compute=lambda: triplex_output_field(Q(6, "in"), Q(12, "in")),
        value=0.104976,
        unit="bbl",
        absolute=5e-7,
        because="printed to six decimals",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(
            ("one piston", lambda: triplex_output_field(Q(6, "in"), Q(12, "in")) / 3),
            ("exact", lambda: triplex_displacement(Q(6, "in"), Q(12, "in"))),
        ),
    ),
    Check(
        claim="triplex of 6 by 12 in at 97 %, bbl a stroke with 0.000243",
        compute=lambda: triplex_output_field(Q(6, "in"), Q(12, "in"), Q(97, "percent")),
        value=0.101827,
        unit="bbl",
        absolute=5e-7,
        because="printed to six decimals",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(("efficiency divided", lambda: triplex_output_field(Q(6, "in"), Q(12, "in")) / 0.97),),
    ),
    Check(
        claim="triplex of 152.4 by 304.8 mm, m3 a stroke",
        compute=lambda: triplex_displacement(Q(152.4, "mm"), Q(304.8, "mm")),
        value=0.016690,
        unit="m**3",
        relative=0.001,
        because="its constant is rounded up by 0.06 %",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(("one piston", lambda: triplex_displacement(Q(152.4, "mm"), Q(304.8, "mm")) / 3),),
    ),
    Check(
        claim="duplex, 0.000162 S (2 D2 - d2), bbl a stroke",
        compute=lambda: duplex_displacement(Q(6, "in"), Q(2, "in"), Q(14, "in")),
        value=lambda: 0.000162 * 14 * (2 * 36 - 4),
        unit="bbl",
        relative=0.001,
        because="0.000162 rounds 0.00016191",
        source=LAPEYROUSE,
        status=Status.RESTATED,
        wrong_turns=(("rod forgotten", lambda: Q(0.000162 * 14 * 72, "bbl")),),
    ),
    Check(
        claim="strokes/min of a 4-1/2 by 8-1/2 in triplex for 175 gal/min at 95 %",
        compute=lambda: (
            Q(175, "gal/min") / pump_output(triplex_displacement(Q(4.5, "in"), Q(8.5, "in")), Q(1, "1/min"), 0.95)
        ),
        value=107.0,
        unit="",
        relative=0.025,
        because="the book rounds 0.0102 to 0.01, 2 %",
        source=f"{GUO_LIU} p. 77",
        status=Status.SEEN,
        wrong_turns=(
            ("both pumps' flow through one", lambda: Q(2 * 107)),
            ("efficiency forgotten twice", lambda: Q(107 * 0.95**2)),
        ),
    ),
    Check(
        claim="triplex, exact bbl for in3",
        compute=lambda: triplex_displacement(Q(1, "in"), Q(1, "in")),
        value=lambda: 3 * math.pi / 4 / (42 * 231),
        unit="bbl",
        relative=1e-9,
        because=EXACT_UNITS,
        source="definition of the US gallon",
        status=Status.DERIVED,
        wrong_turns=(("0.000243", lambda: triplex_output_field(Q(1, "in"), Q(1, "in"))),),
    ),
    Check(
        claim="1,800 psi at 60 strokes/min, at 30",
        compute=lambda: pressure_at_rate(Q(1800, "psi"), Q(60, "gal/min"), Q(30, "gal/min")),
        value=450.0,
        unit="psi",
        absolute=0.5,
        because="printed to one unit",
        source=f"{LAPEYROUSE} ch. 1",
        status=Status.RESTATED,
        wrong_turns=(("in proportion", lambda: Q(900, "psi")),),
    ),
    Check(
        claim="1,800 psi at 60 strokes/min, at 30 with exponent 1.7768",
        compute=lambda: pressure_at_rate(Q(1800, "psi"), Q(60, "gal/min"), Q(30, "gal/min"), 1.7768),
        value=525.0,
        unit="psi",
        absolute=0.5,
        because="printed to one unit",
        source=f"{LAPEYROUSE} ch. 1",
        status=Status.RESTATED,
        wrong_turns=(("exponent 2", lambda: Q(450, "psi")),),
    ),
    Check(
        claim="exponent of 2,500 psi at 315 and 450 psi at 120 gal/min",
        compute=lambda: pressure_exponent(Q(2500, "psi"), Q(315, "gal/min"), Q(450, "psi"), Q(120, "gal/min")),
        value=1.7768,
        unit="",
        absolute=5e-5,
        because="printed to four decimals",
        source=f"{LAPEYROUSE} ch. 1",
        status=Status.RESTATED,
        wrong_turns=(("inverted", lambda: Q(1 / 1.7768)),),
    ),
]

MUD_14 = Q(14, "lb/gal")


def drawn(share: float):
    spread = Uncertain(Q(175, "hp"), Q(180, "hp"), Q(200, "hp"))
    return Q(np.quantile(spread.draw(np.random.default_rng(11), 100_000).m_as("hp"), share), "hp")


COST = [
    Check(
        claim="worth of a yearly cost, 10 %, 4 years",
        compute=lambda: worth_of_yearly_cost(Q(10, "percent"), Q(4, "year")),
        value=3.1699,
        unit="year",
        absolute=5e-5,
        because="printed to four decimals",
        source="worked example of engineering economy, (P/A, 10 %, 4)",
        status=Status.SEEN,
        wrong_turns=(
            ("not discounted", lambda: Q(4, "year")),
            ("paid at the start of each year", lambda: Q(3.1699 * 1.1, "year")),
        ),
    ),
    Check(
        claim="yearly cost worth 1 today, 10 %, 5 years",
        compute=lambda: Q(1, "year") / worth_of_yearly_cost(Q(10, "percent"), Q(5, "year")),
        value=0.26380,
        unit="",
        absolute=5e-6,
        because="printed to five decimals",
        source="worked example of engineering economy, (A/P, 10 %, 5)",
        status=Status.SEEN,
        wrong_turns=(("a fifth", lambda: Q(0.2)),),
    ),
    Check(
        claim="years after which 200,000 bought beats 280 a day saved, at 10 %",
        compute=lambda: break_even_time(
            Train("bought", Q(200_000, "money"), Q(0, "hp"), Q(20, "money/day")),
            Train("hired", Q(0, "money"), Q(0, "hp"), Q(300, "money/day")),
            Q(0.2, "money/kWh"),
            discount_rate=0.10,
        ),
        value=lambda: brentq(lambda years: 280 * 365.25 * (1 - 1.1**-years) / 0.1 - 200_000, 0.1, 20, xtol=1e-12),
        unit="year",
        relative=1e-9,
        because="the root is sought to twelve digits",
        source="annuity, solved with SciPy",
        status=Status.DERIVED,
        wrong_turns=(("not discounted", lambda: Q(200_000 / 280, "day")),),
    ),
    *(
        Check(
            claim=f"power of 175, 180, 200 hp drawn 100,000 times, its {share:.0%} point",
            compute=lambda share=share: drawn(share),
            value=lambda share=share: stats.triang.ppf(share, 0.2, 175, 25),
            unit="hp",
            absolute=0.1,
            because="four standard errors of the point",
            source="triangular distribution of SciPy",
            status=Status.LIBRARY,
            wrong_turns=(("spread evenly", lambda share=share: Q(175 + 25 * share, "hp")),),
        )
        for share in (0.05, 0.5, 0.95)
    ),
    Check(
        claim="50 hp of cyclonic recovery against 1,000 gal/min of 14 lb/gal mud at 75 ft and 65 %",
        compute=lambda: shaft_power(Q(1000, "gal/min"), Q(75, "ft"), MUD_14, 0.65),
        value=50.0,
        unit="hp",
        relative=0.1,
        because='"about 50 hp"; head and efficiency are usual ones',
        source="rule of the trade on cyclonic recovery, against the pump that feeds it",
        status=Status.COMMON,
        wrong_turns=(("one module", lambda: shaft_power(Q(250, "gal/min"), Q(75, "ft"), MUD_14, 0.65)),),
    ),
]

CHECKS = FLOW + RHEOLOGY + FRICTION + PRESSURE + POWER + HEAD + MUD_PUMP + COST


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected
