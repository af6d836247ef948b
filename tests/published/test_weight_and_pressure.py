"""Density, column pressure and volumes against published and derived figures."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from scipy import constants

from pitside.density import (
    SEAWATER,
    WATER_4C,
    WATER_FIELD,
    density_from_gradient,
    density_from_sg,
    pressure_gradient,
    specific_gravity,
)
from pitside.hydrostatics import (
    FACTOR_LB_PER_FT3,
    FACTOR_LB_PER_GAL,
    FACTOR_SG,
    column_pressure,
    column_pressure_field,
    equivalent_mud_weight,
)
from pitside.units import GRAVITY, Q
from pitside.volumes import annulus_capacity, hole_capacity, pit_volume
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

LAPEYROUSE = "Lapeyrouse 2002 ch. 1"
SCIPY = "scipy.constants"
EXACT = "both sides are exact units; only rounding of floating point remains"

LB_PER_GAL = constants.lb / constants.gallon
LB_PER_FT3 = constants.lb / constants.foot**3
FIELD_FACTOR = LB_PER_GAL * constants.g * constants.foot / constants.psi


def water_at(fahrenheit: float) -> float:
    """Density of pure water at one atmosphere, lb/gal, from CoolProp."""
    return PropsSI("D", "T", (fahrenheit + 459.67) / 1.8, "P", constants.atm, "Water") / LB_PER_GAL


PRESSURE = [
    Check(
        claim="13.5 lb/gal over 12,000 ft, psi with 0.052",
        compute=lambda: column_pressure_field(Q(13.5, "lb/gal"), Q(12_000, "ft")),
        value=8424.0,
        unit="psi",
        absolute=0.5,
        because="printed to a whole psi",
        source=LAPEYROUSE,
        status=Status.SEEN,
        wrong_turns=(
            ("0.433 on lb/gal", lambda: Q(0.433 * 13.5 * 12_000, "psi")),
            ("the weight as SG with 0.052", lambda: Q(0.052 * 13.5 / 8.33 * 12_000, "psi")),
            ("metres with 0.052", lambda: column_pressure_field(Q(13.5, "lb/gal"), Q(12_000 * 0.3048, "ft"))),
        ),
    ),
    Check(
        claim="13.5 lb/gal over 12,000 ft, psi with the exact factor",
        compute=lambda: column_pressure(Q(13.5, "lb/gal"), Q(12_000, "ft")),
        value=8424.0,
        unit="psi",
        relative=0.0011,
        because="the book's 0.052 is 0.10 % above the exact factor",
        source=LAPEYROUSE,
        status=Status.SEEN,
        wrong_turns=(("8.33 for 8.345", lambda: column_pressure(Q(13.5 * 8.33 / 8.345, "lb/gal"), Q(12_000, "ft"))),),
    ),
    Check(
        claim="90 lb/ft3 over 7,500 ft, psi with 0.006944",
        compute=lambda: column_pressure_field(Q(90, "lb/ft**3"), Q(7_500, "ft"), FACTOR_LB_PER_FT3),
        value=4687.0,
        unit="psi",
        absolute=0.5,
        because="printed to a whole psi",
        source=LAPEYROUSE,
        status=Status.SEEN,
        wrong_turns=(("lb/ft3 taken for lb/gal", lambda: column_pressure_field(Q(90, "lb/gal"), Q(7_500, "ft"))),),
    ),
    Check(
        claim="12.2 lb/gal over 3,700 m, psi with 0.052",
        compute=lambda: column_pressure_field(Q(12.2, "lb/gal"), Q(3_700, "m")),
        value=7701.0,
        unit="psi",
        absolute=1.0,
        because="printed to a whole psi, with 3.281 ft in a metre (0.005 % high)",
        source=LAPEYROUSE,
        status=Status.SEEN,
        wrong_turns=(("metres taken for feet", lambda: column_pressure_field(Q(12.2, "lb/gal"), Q(3_700, "ft"))),),
    ),
    Check(
        claim="exact psi for each foot and lb/gal",
        compute=lambda: column_pressure(Q(1, "lb/gal"), Q(1, "ft")),
        value=lambda: FIELD_FACTOR,
        unit="psi",
        relative=1e-9,
        because=EXACT,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("the rounded 0.052", lambda: column_pressure_field(Q(1, "lb/gal"), Q(1, "ft"))),),
    ),
    Check(
        claim="exact factor is 12/231",
        compute=lambda: column_pressure(Q(1, "lb/gal"), Q(1, "ft")),
        value=lambda: 12 / 231,
        unit="psi",
        relative=1e-9,
        because="a gallon is 231 cubic inches, a foot 12 inches",
        source="definition of the US gallon",
        status=Status.DERIVED,
    ),
    Check(
        claim="0.052 is 0.10 % above the exact factor",
        compute=lambda: FACTOR_LB_PER_GAL / GRAVITY,
        value=lambda: 0.052 / FIELD_FACTOR,
        unit="",
        relative=1e-9,
        because=EXACT,
        source=SCIPY,
        status=Status.LIBRARY,
    ),
    Check(
        claim="0.006944 is within 0.01 % of the exact factor for lb/ft3",
        compute=lambda: FACTOR_LB_PER_FT3 * Q(1, "lb/ft**3") * Q(1, "ft"),
        value=lambda: LB_PER_FT3 * constants.g * constants.foot / constants.psi,
        unit="psi",
        relative=1e-4,
        because="the book rounds 1/144 to four figures",
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("7.48 forgotten", lambda: FACTOR_LB_PER_GAL * Q(1, "lb/gal") * Q(1, "ft")),),
    ),
    Check(
        claim="0.0981 bar for each metre and SG is within 0.04 % of the exact factor",
        compute=lambda: column_pressure_field(Q(1, "SG"), Q(1, "m"), FACTOR_SG),
        value=lambda: 1000 * constants.g / constants.bar,
        unit="bar",
        relative=4e-4,
        because="0.0980665 rounded to three figures",
        source=SCIPY,
        status=Status.LIBRARY,
    ),
    Check(
        claim="gradient at SG 1 gives equivalent mud weight in lb/gal",
        compute=lambda: equivalent_mud_weight(Q(1000 * constants.g, "Pa"), Q(1, "m")),
        value=lambda: 1000 / LB_PER_GAL,
        unit="lb/gal",
        relative=1e-9,
        because=EXACT,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("8.33", lambda: WATER_FIELD),),
    ),
]

DENSITY = [
    Check(
        claim="1 lb/gal in kg/m3",
        compute=lambda: density_from_sg(1.0, Q(1, "lb/gal")),
        value=lambda: LB_PER_GAL,
        unit="kg/m**3",
        relative=1e-9,
        because=EXACT,
        source=SCIPY,
        status=Status.LIBRARY,
    ),
    Check(
        claim="SG 1 in lb/gal",
        compute=lambda: density_from_sg(1.0),
        value=lambda: 1000 / LB_PER_GAL,
        unit="lb/gal",
        relative=1e-9,
        because=EXACT,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("8.33", lambda: density_from_sg(1.0, WATER_FIELD)),),
    ),
    Check(
        claim="SG 1 in lb/ft3",
        compute=lambda: density_from_sg(1.0),
        value=lambda: 1000 / LB_PER_FT3,
        unit="lb/ft**3",
        relative=1e-9,
        because=EXACT,
        source=SCIPY,
        status=Status.LIBRARY,
    ),
    Check(
        claim="gradient of SG 1 in psi/ft",
        compute=lambda: pressure_gradient(Q(1, "SG")),
        value=lambda: 1000 * constants.g * constants.foot / constants.psi,
        unit="psi/ft",
        relative=1e-9,
        because=EXACT,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("0.052 with 8.33", lambda: Q(0.052 * 8.33, "psi/ft")),),
    ),
    Check(
        claim="0.43353 psi/ft is the reference water",
        compute=lambda: density_from_gradient(Q(0.43353, "psi/ft")),
        value=lambda: PropsSI("D", "T", 277.13, "P", constants.atm, "Water"),
        unit="kg/m**3",
        relative=1e-4,
        because="0.43353 has five figures, and 1000 kg/m3 is 0.003 % above water at 3.98 degC",
        source="CoolProp Water",
        status=Status.LIBRARY,
        wrong_turns=(("water at 20 degC", lambda: WATER_FIELD),),
    ),
    Check(
        claim="reference water of SG is water at 4 degC",
        compute=lambda: WATER_4C,
        value=lambda: water_at(39.2),
        unit="lb/gal",
        relative=5e-5,
        because="1000 kg/m3 is a rounding of 999.97",
        source="CoolProp Water",
        status=Status.LIBRARY,
        wrong_turns=(("8.33", lambda: WATER_FIELD),),
    ),
    Check(
        claim="8.33 lb/gal is water at 68 degF",
        compute=lambda: WATER_FIELD,
        value=lambda: water_at(68),
        unit="lb/gal",
        absolute=0.005,
        because="8.33 has two decimals",
        source="CoolProp Water",
        status=Status.LIBRARY,
        wrong_turns=(
            ("water at 4 degC", lambda: WATER_4C),
            ("water at 60 degF", lambda: Q(water_at(60), "lb/gal")),
            ("water at 77 degF", lambda: Q(water_at(77), "lb/gal")),
        ),
    ),
    Check(
        claim="the two reference waters differ by the 8.33 / 8.345 of the trade",
        compute=lambda: specific_gravity(WATER_FIELD),
        value=lambda: water_at(69) / water_at(39.2),
        unit="",
        absolute=2e-4,
        because="8.33 is rounded by up to 0.06 %; at 69 degF it is near by chance",
        source="CoolProp Water",
        status=Status.LIBRARY,
        wrong_turns=(("no difference", lambda: specific_gravity(WATER_4C)),),
    ),
    Check(
        claim="sea water of 35 g/kg at 15 degC",
        compute=lambda: SEAWATER,
        value=lambda: PropsSI("D", "T", 288.15, "P", constants.atm, "INCOMP::MITSW[0.035]"),
        unit="kg/m**3",
        absolute=0.5,
        because="the constant is rounded to 1 kg/m3",
        source="CoolProp MITSW",
        status=Status.LIBRARY,
        wrong_turns=(("fresh water", lambda: WATER_4C),),
    ),
    Check(
        claim="water weighs 350 lb/bbl",
        compute=lambda: WATER_FIELD,
        value=350.0,
        unit="lb/bbl",
        absolute=0.5,
        because="printed to a whole pound",
        source="mud engineer lecture slides, author unknown",
        status=Status.SEEN,
        wrong_turns=(("a barrel of 31.5 gallons", lambda: WATER_FIELD * 0.75),),
    ),
    Check(
        claim="SG 1 weighs 350.5 lb/bbl",
        compute=lambda: WATER_4C,
        value=lambda: 1000 * constants.bbl / constants.lb,
        unit="lb/bbl",
        relative=1e-9,
        because=EXACT,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("8.33", lambda: WATER_FIELD),),
    ),
]

VOLUMES = [
    Check(
        claim="a pit of one cubic foot in barrels",
        compute=lambda: pit_volume(Q(1, "ft"), Q(1, "ft"), Q(1, "ft")),
        value=lambda: constants.foot**3 / constants.bbl,
        unit="bbl",
        relative=1e-9,
        because=EXACT,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("a barrel of 31.5 gallons", lambda: Q(1, "ft**3") / 0.75),),
    ),
    Check(
        claim="hole of 12.25 in, bbl/ft by D^2/1029.41",
        compute=lambda: hole_capacity(Q(12.25, "in")),
        value=lambda: 12.25**2 / (4 * constants.bbl / (constants.pi * constants.inch**2 * constants.foot)),
        unit="bbl/ft",
        relative=1e-9,
        because=EXACT,
        source=SCIPY,
        status=Status.LIBRARY,
        wrong_turns=(("D^2 barrels in 1000 ft", lambda: Q(12.25**2 / 1000, "bbl/ft")),),
    ),
    Check(
        claim="rock of a 6-1/8 in hole at 25 % porosity, bbl/ft",
        compute=lambda: 0.75 * hole_capacity(Q(6.125, "in")),
        value=0.02733,
        unit="bbl/ft",
        absolute=5e-6,
        because="printed to five decimals",
        source="Lapeyrouse",
        status=Status.RESTATED,
        wrong_turns=(("porosity left in", lambda: hole_capacity(Q(6.125, "in"))),),
    ),
    Check(
        claim="annular velocity of 320 gal/min in 6.5 by 4 in, ft/min",
        compute=lambda: Q(320, "gal/min") / annulus_capacity(Q(6.5, "in"), Q(4, "in")),
        value=298.7,
        unit="ft/min",
        absolute=0.2,
        because="the book rounds 24.51 to 24.5 (0.04 %)",
        source="Lapeyrouse",
        status=Status.RESTATED,
        wrong_turns=(
            ("the pipe left out", lambda: Q(320, "gal/min") / hole_capacity(Q(6.5, "in"))),
            ("difference before the square", lambda: Q(320, "gal/min") / hole_capacity(Q(2.5, "in"))),
        ),
    ),
]

CHECKS = PRESSURE + DENSITY + VOLUMES


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected
