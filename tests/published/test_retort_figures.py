"""Solids analysis of water-base mud against published figures, and against brine and balances solved in the test."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from pitside.density import density_from_sg
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.retort import (
    OIL,
    WATER_OF_TWELVE,
    SaltForm,
    average_solids_density,
    chloride_concentration,
    corrected_solids_api,
    corrected_solids_book,
    filtrate_density_api,
    filtrate_density_book,
    low_gravity_fraction,
    low_gravity_unweighted,
    oil_water_ratio,
    solids_analysis,
    solids_concentration,
)
from pitside.units import WATER_4C, WATER_FIELD, Q
from tests.published.measured_data import measured
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

BOOK = "Lapeyrouse 2002 ch. 3 solids analysis"
API = "API RP 13B-1 form"
BALANCE = "mass and volume balance of API RP 13B-1 form, solved with numpy"
BRINE = "CRC Handbook of Chemistry and Physics 2021, aqueous solutions, restated"
HANDBOOK = "drilling fluids processing text"
EXACT = "the same balance solved another way; only rounding of floating point remains"

MUD, WATER, OIL_READ, CHLORIDE = Q(16.0, "lb/gal"), Q(57, "percent"), Q(7.5, "percent"), Q(73_000, "mg/L")


def analysis(form: SaltForm, reference_water=WATER_OF_TWELVE, **changes):
    return solids_analysis(MUD, WATER, OIL_READ, CHLORIDE, form=form, reference_water=reference_water, **changes)


def low_gravity_api(solids, filtrate):
    return low_gravity_fraction(MUD, solids, filtrate, OIL_READ, OIL, reference_water=WATER_OF_TWELVE)


def balance_api(mud_sg: float) -> np.ndarray:
    """Volume percent of low- and high-gravity solids of the example, from volume and mass, in the API form's salt."""
    chloride = 73_000.0
    brine_sg = 1 + 1.09e-6 * chloride
    brine = 57 + 57 * chloride / (1_680_000 - 1.21 * chloride)
    return np.linalg.solve([[1, 1], [2.6, 4.2]], [100 - 7.5 - brine, 100 * mud_sg - brine * brine_sg - 7.5 * 0.84])


def balance_book() -> np.ndarray:
    """The same in the book form's salt, with its rounded 12."""
    brine = 57 * (1 + 5.88e-8 * 73_000**1.2)
    brine_sg = 1 + 1.94e-6 * 73_000**0.95
    return np.linalg.solve([[1, 1], [2.6, 4.2]], [100 - 7.5 - brine, 12 * 16.0 - brine * brine_sg - 7.5 * 0.84])


def fresh_water_low_gravity(solids: float, reference_water):
    """Low-gravity share of 19.0 lb/gal fresh-water mud without oil, from its percent of solids."""
    return low_gravity_fraction(Q(19.0, "lb/gal"), Q(solids, "percent"), WATER_4C, reference_water=reference_water)


def api_terms(mud_weight: float, water: float, oil: float, chloride: float) -> float:
    """Low-gravity percent by the API RP 13B-1 form as recalled: lb/gal, percent, mg/L."""
    solids = 100 - water - oil - water * chloride / (1_680_000 - 1.21 * chloride)
    brine_sg = 1 + 1.09e-6 * chloride
    return (100 * brine_sg + (4.2 - brine_sg) * solids - 12 * mud_weight - (brine_sg - 0.84) * oil) / 1.6


ANALYSIS = [
    Check(
        claim="16.0 lb/gal example, salt water",
        compute=lambda: 1 - Q(7.5, "percent") - corrected_solids_book(WATER, OIL_READ, CHLORIDE),
        value=59.2974,
        unit="percent",
        absolute=5e-5,
        because="printed to four decimals",
        source=BOOK,
        status=Status.SEEN,
        wrong_turns=(
            ("no salt correction", lambda: WATER),
            ("API form", lambda: 0.925 - corrected_solids_api(WATER, OIL_READ, CHLORIDE)),
        ),
    ),
    Check(
        claim="16.0 lb/gal example, suspended solids",
        compute=lambda: analysis(SaltForm.BOOK).corrected_solids,
        value=33.2026,
        unit="percent",
        absolute=5e-5,
        because="printed to four decimals",
        source=BOOK,
        status=Status.SEEN,
        wrong_turns=(
            ("no salt correction", lambda: corrected_solids_book(WATER, OIL_READ)),
            ("API form", lambda: corrected_solids_api(WATER, OIL_READ, CHLORIDE)),
        ),
    ),
    Check(
        claim="16.0 lb/gal example, SG of the salt water",
        compute=lambda: analysis(SaltForm.BOOK).filtrate_density,
        value=1.0809,
        unit="SG",
        absolute=5e-5,
        because="printed to four decimals",
        source=BOOK,
        status=Status.SEEN,
        wrong_turns=(("API form", lambda: filtrate_density_api(CHLORIDE)),),
    ),
    Check(
        claim="16.0 lb/gal example, average SG of solids, book form",
        compute=lambda: analysis(SaltForm.BOOK).average_solids_density,
        value=lambda: balance_book() @ [2.6, 4.2] / balance_book().sum(),
        unit="SG",
        relative=1e-9,
        because=EXACT,
        source="mass and volume balance of the Lapeyrouse form, solved with numpy",
        status=Status.DERIVED,
        wrong_turns=(("API form", lambda: analysis(SaltForm.API).average_solids_density),),
    ),
    Check(
        claim="16.0 lb/gal example, low-gravity solids by LGS = SS (4.2 - ASG) / 1.6",
        compute=lambda: analysis(SaltForm.BOOK).low_gravity,
        value=lambda: 33.2026 * (4.2 - (12 * 16.0 - 59.2974 * 1.0809 - 0.84 * 7.5) / 33.2026) / 1.6,
        unit="percent",
        absolute=0.002,
        because="the book prints the SG of the salt water to four decimals",
        source="Lapeyrouse 2002, last step",
        status=Status.MEMORY,
        wrong_turns=(
            ("API form", lambda: analysis(SaltForm.API).low_gravity),
            ("low for high", lambda: analysis(SaltForm.BOOK).high_gravity),
        ),
    ),
    Check(
        claim="16.0 lb/gal example, barite lb/bbl at 14.71 a percent, book form",
        compute=lambda: analysis(SaltForm.BOOK).high_gravity_concentration,
        value=lambda: 14.71 * balance_book()[1],
        unit="lb/bbl",
        relative=0.001,
        because="14.71 rounds 14.72",
        source="mass and volume balance of the Lapeyrouse form, solved with numpy",
        status=Status.DERIVED,
        wrong_turns=(
            ("3.5 without the SG", lambda: analysis(SaltForm.BOOK).high_gravity_concentration / 4.2),
            ("API form", lambda: analysis(SaltForm.API).high_gravity_concentration),
        ),
    ),
    Check(
        claim="16.0 lb/gal example, low-gravity solids with the rounded 12",
        compute=lambda: analysis(SaltForm.API).low_gravity,
        value=lambda: balance_api(12 * 16.0 / 100)[0],
        unit="percent",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(
            ("no salt correction", lambda: low_gravity_api(corrected_solids_api(WATER, OIL_READ), WATER_4C)),
            ("low for high", lambda: analysis(SaltForm.API).high_gravity),
            ("oil of SG 1.0", lambda: analysis(SaltForm.API, oil_density=WATER_4C).low_gravity),
            ("water of 8.345", lambda: analysis(SaltForm.API, reference_water=WATER_4C).low_gravity),
            ("the Lapeyrouse form", lambda: analysis(SaltForm.BOOK).low_gravity),
        ),
    ),
    Check(
        claim="16.0 lb/gal example, low-gravity solids with exact units",
        compute=lambda: analysis(SaltForm.API, reference_water=WATER_4C).low_gravity,
        value=lambda: balance_api(MUD.m_as("g/mL"))[0],
        unit="percent",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("the rounded 12", lambda: analysis(SaltForm.API).low_gravity),),
    ),
    Check(
        claim="16.0 lb/gal example, barite",
        compute=lambda: analysis(SaltForm.API).high_gravity,
        value=lambda: balance_api(12 * 16.0 / 100)[1],
        unit="percent",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
    ),
    Check(
        claim="16.0 lb/gal example, low-gravity lb/bbl at 3.5 SG a percent",
        compute=lambda: analysis(SaltForm.API).low_gravity_concentration,
        value=lambda: 3.5 * 2.6 * balance_api(12 * 16.0 / 100)[0],
        unit="lb/bbl",
        relative=0.002,
        because="3.5 rounds 3.505",
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(
            ("3.5 without the SG", lambda: analysis(SaltForm.API).low_gravity_concentration / 2.6),
            ("the SG of barite", lambda: analysis(SaltForm.API).low_gravity_concentration * 4.2 / 2.6),
        ),
    ),
    Check(
        claim="low-gravity solids by the form's own terms, [100 rf + (rb - rf) Vs - 12 MW - (rf - ro) Vo] / (rb - rlg)",
        compute=lambda: analysis(SaltForm.API).low_gravity,
        value=lambda: api_terms(16.0, 57.0, 7.5, 73_000.0),
        unit="percent",
        relative=1e-9,
        because="the formula as recalled, term by term",
        source=API,
        status=Status.MEMORY,
        wrong_turns=(("the Lapeyrouse form", lambda: analysis(SaltForm.BOOK).low_gravity),),
    ),
    Check(
        claim="60 % solids at 19.0 lb/gal, 62.5 + 2.0 Vs - 7.5 MW",
        compute=lambda: fresh_water_low_gravity(60, WATER_OF_TWELVE),
        value=40.0,
        unit="percent",
        absolute=0.05,
        because="an exact form with the rounded 12",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("water of 8.345", lambda: fresh_water_low_gravity(60, WATER_4C)),),
    ),
    Check(
        claim="57 % solids at 19.0 lb/gal, 62.5 + 2.0 Vs - 7.5 MW",
        compute=lambda: fresh_water_low_gravity(57, WATER_OF_TWELVE),
        value=34.0,
        unit="percent",
        absolute=0.05,
        because="an exact form with the rounded 12",
        source=HANDBOOK,
        status=Status.SEEN,
    ),
    Check(
        claim="average solids of 12.0 lb/gal mud, oil 60 % of 7.0, water 5 % of 8.6 lb/gal",
        compute=lambda: average_solids_density(
            Q(12.0, "lb/gal"), Q(35, "percent"), Q(8.6, "lb/gal"), Q(60, "percent"), Q(7.0, "lb/gal")
        ),
        value=21.06,
        unit="lb/gal",
        absolute=0.005,
        because="printed to two decimals",
        source="Lapeyrouse",
        status=Status.RESTATED,
        wrong_turns=(("the mean of low gravity and barite", lambda: (LOW_GRAVITY + BARITE) / 2),),
    ),
    Check(
        claim="low-gravity solids of 9.0 lb/gal mud in fresh water",
        compute=lambda: low_gravity_unweighted(Q(9.0, "lb/gal")),
        value=lambda: 100 * np.linalg.solve([[1, 1], [1.0, 2.6]], [1, Q(9.0, "lb/gal").m_as("g/mL")])[1],
        unit="percent",
        relative=1e-9,
        because=EXACT,
        source="mass and volume balance, solved with numpy",
        status=Status.DERIVED,
        wrong_turns=(("water of 8.33", lambda: low_gravity_unweighted(Q(9.0, "lb/gal"), WATER_FIELD)),),
    ),
]

CONCENTRATION = [
    Check(
        claim="barite lb/bbl for each percent",
        compute=lambda: solids_concentration(Q(1, "percent"), BARITE),
        value=14.71,
        unit="lb/bbl",
        relative=0.001,
        because="the book's factor is 0.07 % below 4.2 times the exact barrel of water",
        source=BOOK,
        status=Status.SEEN,
        wrong_turns=(("3.5 without the SG", lambda: solids_concentration(Q(1, "percent"), WATER_4C)),),
    ),
    Check(
        claim="low-gravity lb/bbl for each percent",
        compute=lambda: solids_concentration(Q(1, "percent"), LOW_GRAVITY),
        value=9.1,
        unit="lb/bbl",
        relative=0.002,
        because="3.5 times 2.6; 3.5 rounds 3.505",
        source=BOOK,
        status=Status.SEEN,
        wrong_turns=(("barite", lambda: solids_concentration(Q(1, "percent"), BARITE)),),
    ),
    Check(
        claim="bentonite of SG 2.6, lb in a barrel of it",
        compute=lambda: solids_concentration(Q(100, "percent"), density_from_sg(2.6)),
        value=910.0,
        unit="lb/bbl",
        relative=0.002,
        because="2.6 times 350; 350 rounds 350.5",
        source="mud engineer lecture slides, author unknown",
        status=Status.SEEN,
    ),
    Check(
        claim="10 % low-gravity solids by volume in SG 1.50 mud, by weight",
        compute=lambda: solids_concentration(Q(10, "percent"), LOW_GRAVITY) / Q(1.50, "SG"),
        value=lambda: 100 * 0.10 * 2.6 / 1.50,
        unit="percent",
        relative=1e-9,
        because=EXACT,
        source="mass balance",
        status=Status.DERIVED,
        wrong_turns=(("volume read as weight", lambda: Q(10, "percent")),),
    ),
    Check(
        claim="oil share of 63 % oil, 27 % water",
        compute=lambda: oil_water_ratio(Q(63, "percent"), Q(27, "percent"))[0],
        value=70.0,
        unit="percent",
        absolute=1e-9,
        because="exact",
        source="Calculations for NAF base muds, author unknown",
        status=Status.SEEN,
        wrong_turns=(("oil of the whole mud", lambda: Q(63, "percent")),),
    ),
    Check(
        claim="oil share of 42 % oil, 18 % water",
        compute=lambda: oil_water_ratio(Q(42, "percent"), Q(18, "percent"))[0],
        value=70.0,
        unit="percent",
        absolute=1e-9,
        because="exact",
        source="Calculations for NAF base muds, author unknown",
        status=Status.SEEN,
    ),
]

CHLORINE_IN_SALT = 35.453 / (35.453 + 22.990)  # standard atomic masses of chlorine and sodium


def brine_density(salt: float) -> float:
    """Density of sodium chloride brine of a salt mass fraction, kg/m3: the handbook's, and CoolProp's water."""
    if salt == 0:
        return PropsSI("D", "T", 293.15, "P", 101325, "Water")
    table = measured("sodium_chloride_brine")
    return 1000 * float(table["density_g_cm3"][np.isclose(table["salt_percent"], 100 * salt)][0])


def brine_chloride(salt: float) -> float:
    """Its chlorides, mg/L."""
    return salt * CHLORINE_IN_SALT * brine_density(salt) * 1000


def parts_per_million(salt: float) -> float:
    """Its chlorides, mg/kg."""
    return salt * CHLORINE_IN_SALT * 1e6


def brine_extra_volume(salt: float) -> float:
    """Volume of brine beyond that of its water, for each volume of water."""
    return brine_density(0) / brine_density(salt) / (1 - salt) - 1


def extra_volume(corrected_solids, chloride: float):
    """What a form says of that, from its correction of a mud that is half water."""
    return (0.5 - corrected_solids(0.5, 0.0, Q(chloride, "mg/L"))) / 0.5


SALTS = (0.05, 0.10, 0.15, 0.20, 0.23)

SALT = (
    [
        Check(
            claim=f"density of {salt:.0%} brine, {name}",
            compute=lambda salt=salt, density=density: density(Q(brine_chloride(salt), "mg/L")),
            value=lambda salt=salt: brine_density(salt),
            unit="kg/m**3",
            relative=worst,
            because=f"a fit; its worst is just below {worst:.2%}",
            source=BRINE,
            status=Status.RESTATED,
            wrong_turns=(("fresh water", lambda: WATER_4C),),
        )
        for salt in SALTS
        for name, density, worst in (
            ("API RP 13B-1 form", filtrate_density_api, 0.0055),
            ("Lapeyrouse form", filtrate_density_book, 0.0025),
        )
    ]
    + [
        Check(
            claim=f"extra volume of {salt:.0%} brine, Lapeyrouse form in mg/L",
            compute=lambda salt=salt: extra_volume(corrected_solids_book, brine_chloride(salt)),
            value=lambda salt=salt: brine_extra_volume(salt),
            unit="",
            absolute=0.0018,
            because="the worst of the fit is 0.0016 of the water (5 % brine)",
            source=BRINE,
            status=Status.RESTATED,
            wrong_turns=(
                ("parts per million", lambda salt=salt: extra_volume(corrected_solids_book, parts_per_million(salt))),
            ),
        )
        for salt in SALTS
    ]
    + [
        Check(
            claim=f"extra volume of {salt:.0%} brine, API RP 13B-1 form in mg/L",
            compute=lambda salt=salt: extra_volume(corrected_solids_api, brine_chloride(salt)),
            value=lambda salt=salt: brine_extra_volume(salt),
            unit="",
            absolute=0.0055,
            because="the form lies 0.003 to 0.005 of the water above brine, in mg/L",
            source=BRINE,
            status=Status.RESTATED,
            wrong_turns=(("no salt", lambda: Q(0.0)),),
        )
        for salt in SALTS
    ]
    + [
        Check(
            claim=f"density of {salt:.0%} brine from parts per million by mass, Lapeyrouse form",
            compute=lambda salt=salt: filtrate_density_book(
                chloride_concentration(salt * CHLORINE_IN_SALT, Q(brine_density(salt), "kg/m**3"))
            ),
            value=lambda salt=salt: brine_density(salt),
            unit="kg/m**3",
            relative=0.0025,
            because="a fit; its worst is just below 0.25 %",
            source=BRINE,
            status=Status.RESTATED,
            wrong_turns=(
                ("mg/kg read as mg/L", lambda salt=salt: filtrate_density_book(Q(parts_per_million(salt), "mg/L"))),
            ),
        )
        for salt in (0.15, 0.20, 0.23)
    ]
    + [
        Check(
            claim="chlorides of 20 % brine in mg/L from parts per million",
            compute=lambda: chloride_concentration(0.20 * CHLORINE_IN_SALT, Q(brine_density(0.20), "kg/m**3")),
            value=lambda: brine_chloride(0.20),
            unit="mg/L",
            relative=1e-9,
            because=EXACT,
            source="definition, with the density of the CRC Handbook",
            status=Status.DERIVED,
            wrong_turns=(("read as mg/L", lambda: Q(parts_per_million(0.20), "mg/L")),),
        )
    ]
)

CHECKS = ANALYSIS + CONCENTRATION + SALT


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected


def test_the_two_published_forms_differ_by_two_thirds_of_a_point():
    """Derived: 11.15 and 10.49 % from the same readings, so an answer must say which form it used."""
    apart = analysis(SaltForm.BOOK).low_gravity - analysis(SaltForm.API).low_gravity
    assert apart.m_as("percent") == pytest.approx(balance_book()[0] - balance_api(1.92)[0], abs=1e-9)
    assert 0.66 < apart.m_as("percent") < 0.67


def test_chlorides_in_parts_per_million_are_refused_by_their_unit():
    with pytest.raises(ValueError, match="chloride must have a unit of"):
        corrected_solids_book(WATER, OIL_READ, Q(73_000, "ppm_mass"))
