"""Weighting up, cutting back and mixing against published and derived figures."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import constants

from pitside.density import density_from_sg
from pitside.dilution import blend_volumes, dilution_volume, mixed_density, replacement_volume
from pitside.materials import (
    BARITE,
    BARITE_4_10,
    BARITE_FIELD,
    CALCIUM_CARBONATE,
    CALCIUM_CARBONATE_FIELD,
    HEMATITE,
    HEMATITE_FIELD,
    LOW_GRAVITY,
)
from pitside.units import WATER_FIELD, Q
from pitside.weighting import (
    mud_weight_after,
    start_volume,
    volume_rise,
    weighting_mass,
    weighting_mass_fixed_final,
)
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

PAGES_81_83 = "Lapeyrouse 2002 pp. 81-83"
CHAPTER_3 = "Lapeyrouse 2002 ch. 3"
RESTATED = "Lapeyrouse"
SLIDES = "mud engineer lecture slides, author unknown"
BALANCE = "mass and volume balance, solved with numpy"
ONE_DECIMAL = "printed to one decimal"
TWO_DECIMALS = "printed to two decimals"
EXACT = "the same balance solved another way; only rounding of floating point remains"

VOLUME = Q(100, "bbl")
TWELVE, THIRTEEN, FOURTEEN = Q(12.0, "lb/gal"), Q(13.0, "lb/gal"), Q(14.0, "lb/gal")
TEN = Q(10.0, "lb/gal")
GALLONS_PER_BARREL = constants.bbl / constants.gallon
LB_PER_GAL = constants.lb / constants.gallon


def mixture(first: float, second: float, target: float, final: float) -> np.ndarray:
    """Volumes of two things of the given densities that make ``final`` of the target density."""
    return np.linalg.solve([[1.0, 1.0], [first, second]], [final, target * final])


WEIGHTING = [
    Check(
        claim="sacks of barite for 100 bbl from 12.0 to 14.0 lb/gal",
        compute=lambda: weighting_mass(VOLUME, TWELVE, FOURTEEN, BARITE_FIELD),
        value=140.0,
        unit="sack",
        absolute=0.5,
        because="printed to a whole sack",
        source=PAGES_81_83,
        status=Status.SEEN,
        wrong_turns=(
            ("35 - W1 below", lambda: weighting_mass_fixed_final(VOLUME, TWELVE, FOURTEEN, BARITE_FIELD)),
            ("35 for 1470", lambda: weighting_mass(VOLUME, TWELVE, FOURTEEN, BARITE_FIELD) / GALLONS_PER_BARREL),
        ),
    ),
    Check(
        claim="the same with barite of SG 4.20",
        compute=lambda: weighting_mass(VOLUME, TWELVE, FOURTEEN, BARITE),
        value=140.0,
        unit="sack",
        relative=0.003,
        because="35.05 for 35 lb/gal is 0.14 % in the density, 0.10 % in the mass",
        source=PAGES_81_83,
        status=Status.SEEN,
        wrong_turns=(
            ("the fixed final volume", lambda: weighting_mass_fixed_final(VOLUME, TWELVE, FOURTEEN, BARITE)),
            ("barite of SG 4.10", lambda: weighting_mass(VOLUME, TWELVE, FOURTEEN, BARITE_4_10)),
        ),
    ),
    Check(
        claim="volume rise of that, bbl",
        compute=lambda: volume_rise(VOLUME, TWELVE, FOURTEEN, BARITE_FIELD),
        value=9.52,
        unit="bbl",
        absolute=0.005,
        because=TWO_DECIMALS,
        source=PAGES_81_83,
        status=Status.SEEN,
        wrong_turns=(("35 - W1 below", lambda: VOLUME * 2 / 23),),
    ),
    Check(
        claim="start volume for 100 bbl from 12.0 to 14.0 lb/gal",
        compute=lambda: start_volume(VOLUME, TWELVE, FOURTEEN, BARITE_FIELD),
        value=91.3,
        unit="bbl",
        absolute=0.05,
        because=ONE_DECIMAL,
        source=PAGES_81_83,
        status=Status.SEEN,
        wrong_turns=(("the rise taken off", lambda: VOLUME - volume_rise(VOLUME, TWELVE, FOURTEEN, BARITE_FIELD)),),
    ),
    Check(
        claim="sacks for a fixed final 100 bbl from 12.0 to 14.0 lb/gal",
        compute=lambda: weighting_mass_fixed_final(VOLUME, TWELVE, FOURTEEN, BARITE_FIELD),
        value=lambda: mixture(12, 35, 14, 100)[1] * 35 * GALLONS_PER_BARREL / 100,
        unit="sack",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("the rise forgotten", lambda: weighting_mass(VOLUME, TWELVE, FOURTEEN, BARITE_FIELD)),),
    ),
    Check(
        claim="volume rise of 100 bbl from 10.0 to 13.0 lb/gal",
        compute=lambda: volume_rise(VOLUME, TEN, THIRTEEN, BARITE_FIELD),
        value=13.64,
        unit="bbl",
        absolute=0.005,
        because=TWO_DECIMALS,
        source=RESTATED,
        status=Status.RESTATED,
    ),
    Check(
        claim="volume rise of 500 bbl from 10.0 to 13.0 lb/gal",
        compute=lambda: volume_rise(5 * VOLUME, TEN, THIRTEEN, BARITE_FIELD),
        value=68.2,
        unit="bbl",
        absolute=0.05,
        because=ONE_DECIMAL,
        source=RESTATED,
        status=Status.RESTATED,
    ),
    Check(
        claim="start volume for 100 bbl from 10 to 13 lb/gal with hematite of 40 lb/gal",
        compute=lambda: start_volume(VOLUME, TEN, THIRTEEN, HEMATITE_FIELD),
        value=90.0,
        unit="bbl",
        absolute=0.05,
        because=ONE_DECIMAL,
        source=RESTATED,
        status=Status.RESTATED,
        wrong_turns=(
            ("hematite of SG 5.05", lambda: start_volume(VOLUME, TEN, THIRTEEN, HEMATITE)),
            ("barite", lambda: start_volume(VOLUME, TEN, THIRTEEN, BARITE_FIELD)),
        ),
    ),
    Check(
        claim="sacks of calcium carbonate for 100 bbl from 12 to 13 lb/gal",
        compute=lambda: weighting_mass(VOLUME, TWELVE, THIRTEEN, CALCIUM_CARBONATE_FIELD),
        value=99.5,
        unit="sack",
        absolute=0.05,
        because=ONE_DECIMAL,
        source=CHAPTER_3,
        status=Status.SEEN,
        wrong_turns=(("barite", lambda: weighting_mass(VOLUME, TWELVE, THIRTEEN, BARITE_FIELD)),),
    ),
    Check(
        claim="volume rise with calcium carbonate from 12 to 13 lb/gal",
        compute=lambda: volume_rise(VOLUME, TWELVE, THIRTEEN, CALCIUM_CARBONATE_FIELD),
        value=10.53,
        unit="bbl",
        absolute=0.005,
        because=TWO_DECIMALS,
        source=CHAPTER_3,
        status=Status.SEEN,
    ),
    Check(
        claim="start volume with calcium carbonate from 12 to 13 lb/gal",
        compute=lambda: start_volume(VOLUME, TWELVE, THIRTEEN, CALCIUM_CARBONATE_FIELD),
        value=90.5,
        unit="bbl",
        absolute=0.05,
        because=ONE_DECIMAL,
        source=CHAPTER_3,
        status=Status.SEEN,
    ),
    Check(
        claim="kg of barite per m3 of old mud from SG 1.44 to 1.68 is 4200 (d2 - d1) / (4200 - d2)",
        compute=lambda: weighting_mass(Q(1, "m**3"), Q(1.44, "SG"), Q(1.68, "SG"), BARITE),
        value=lambda: 4200 * (1680 - 1440) / (4200 - 1680),
        unit="kg",
        relative=1e-9,
        because="the book's metric formula with its own 4200",
        source=PAGES_81_83,
        status=Status.SEEN,
        wrong_turns=(
            (
                "per m3 of new mud",
                lambda: weighting_mass_fixed_final(Q(1, "m**3"), Q(1.44, "SG"), Q(1.68, "SG"), BARITE),
            ),
        ),
    ),
    Check(
        claim="barite to take 1 bbl of slurry from 8.8 to 12.0 lb/gal, lb",
        compute=lambda: weighting_mass(Q(1, "bbl"), Q(8.8, "lb/gal"), TWELVE, BARITE_FIELD),
        value=204.0,
        unit="lb",
        absolute=1.0,
        because="printed to a whole pound, cut off from 204.5",
        source=SLIDES,
        status=Status.SEEN,
        wrong_turns=(
            (
                "the fixed final volume",
                lambda: weighting_mass_fixed_final(Q(1, "bbl"), Q(8.8, "lb/gal"), TWELVE, BARITE),
            ),
        ),
    ),
    Check(
        claim="volume rise of that, bbl",
        compute=lambda: volume_rise(Q(1, "bbl"), Q(8.8, "lb/gal"), TWELVE, BARITE_FIELD),
        value=0.14,
        unit="bbl",
        absolute=0.005,
        because=TWO_DECIMALS,
        source=SLIDES,
        status=Status.SEEN,
    ),
    Check(
        claim="140 sacks in 100 bbl of 12.0 lb/gal make 14.0 lb/gal",
        compute=lambda: mud_weight_after(VOLUME, TWELVE, Q(140, "sack"), BARITE_FIELD),
        value=14.0,
        unit="lb/gal",
        absolute=0.005,
        because="140 sacks is printed to a whole sack: 0.007 lb/gal a sack",
        source=PAGES_81_83,
        status=Status.SEEN,
        wrong_turns=(
            ("127.8 sacks in 100 bbl", lambda: mud_weight_after(VOLUME, TWELVE, Q(127.8, "sack"), BARITE_FIELD)),
        ),
    ),
]

LIMIT = ("SG", 1e-9, "the limit itself")
POUND = ("lb/bbl", 0.5, "printed to a whole pound")
LABORATORY = "API Spec 13A limits by a test laboratory"

MATERIALS = [
    Check(
        claim=f"{name}, {unit}",
        compute=lambda density=density: density,
        value=value,
        unit=unit,
        absolute=within,
        because=because,
        source=source,
        status=status,
    )
    for name, density, value, (unit, within, because), source, status in (
        ("field barite", BARITE_FIELD, 1470.0, POUND, PAGES_81_83, Status.SEEN),
        ("field calcium carbonate", CALCIUM_CARBONATE_FIELD, 945.0, POUND, CHAPTER_3, Status.SEEN),
        ("field hematite", HEMATITE_FIELD, 1680.0, POUND, "Lapeyrouse", Status.MEMORY),
        ("calcium carbonate", CALCIUM_CARBONATE, 22.5, ("lb/gal", 0.05, ONE_DECIMAL), CHAPTER_3, Status.SEEN),
        ("barite", BARITE, 4.20, LIMIT, LABORATORY, Status.RESTATED),
        ("lighter barite", BARITE_4_10, 4.10, LIMIT, LABORATORY, Status.RESTATED),
        ("hematite", HEMATITE, 5.05, LIMIT, "API Spec 13A", Status.MEMORY),
        ("low-gravity solids", LOW_GRAVITY, 2.6, LIMIT, "convention, drilling fluids processing text", Status.SEEN),
    )
] + [
    Check(
        claim=f"SG {sg:.2f} in lb/bbl",
        compute=lambda sg=sg: density_from_sg(sg),
        value=lambda sg=sg: sg * 1000 * constants.bbl / constants.lb,
        unit="lb/bbl",
        relative=1e-9,
        because="both sides are exact units",
        source="scipy.constants",
        status=Status.LIBRARY,
        wrong_turns=(("the round field figure", lambda field=field: field),),
    )
    for sg, field in [(4.20, BARITE_FIELD), (4.10, BARITE_FIELD), (5.05, HEMATITE_FIELD)]
]

DILUTION = [
    Check(
        claim="water for 100 bbl from 14.0 to 12.0 lb/gal, volume growing",
        compute=lambda: dilution_volume(VOLUME, FOURTEEN, TWELVE, WATER_FIELD),
        value=54.5,
        unit="bbl",
        absolute=0.05,
        because=ONE_DECIMAL,
        source=CHAPTER_3,
        status=Status.SEEN,
        wrong_turns=(
            ("W1 - Dw below, the volume held", lambda: replacement_volume(VOLUME, FOURTEEN, TWELVE, WATER_FIELD)),
            ("water of 8.345", lambda: dilution_volume(VOLUME, FOURTEEN, TWELVE, Q(8.345, "lb/gal"))),
        ),
    ),
    Check(
        claim="water for 100 bbl from 14.0 to 12.0 lb/gal, volume held",
        compute=lambda: replacement_volume(VOLUME, FOURTEEN, TWELVE, WATER_FIELD),
        value=lambda: mixture(14, 8.33, 12, 100)[1],
        unit="bbl",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("the volume growing", lambda: dilution_volume(VOLUME, FOURTEEN, TWELVE, WATER_FIELD)),),
    ),
    Check(
        claim="100 bbl of 14.0 with the book's 54.5 bbl of water make 12.0 lb/gal",
        compute=lambda: mixed_density(Q([100, 54.5], "bbl"), Q([14.0, 8.33], "lb/gal")),
        value=12.0,
        unit="lb/gal",
        absolute=0.002,
        because="54.5 is printed to one decimal: 0.001 lb/gal",
        source=CHAPTER_3,
        status=Status.SEEN,
        wrong_turns=(("the plain mean of the two weights", lambda: Q((14.0 + 8.33) / 2, "lb/gal")),),
    ),
    Check(
        claim="heavy mud of a blend of 14.0 and 8.33 to 150 bbl of 12.0 lb/gal",
        compute=lambda: blend_volumes(Q(150, "bbl"), FOURTEEN, WATER_FIELD, TWELVE)[0],
        value=lambda: mixture(14, 8.33, 12, 150)[0],
        unit="bbl",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(
            (
                "the two muds taken for each other",
                lambda: blend_volumes(Q(150, "bbl"), FOURTEEN, WATER_FIELD, TWELVE)[1],
            ),
        ),
    ),
    Check(
        claim="100 lb of 8.33 and 100 lb of 35 lb/gal mixed",
        compute=lambda: mixed_density(Q([100 / 8.33, 100 / 35], "gal"), Q([8.33, 35], "lb/gal")),
        value=lambda: 200 / (100 / 8.33 + 100 / 35),
        unit="lb/gal",
        relative=1e-9,
        because=EXACT,
        source="200 lb over the volume it fills",
        status=Status.DERIVED,
        wrong_turns=(("by mass share", lambda: Q((8.33 + 35) / 2, "lb/gal")),),
    ),
]

CHECKS = WEIGHTING + MATERIALS + DILUTION


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected


def test_the_field_hematite_is_not_the_hematite_of_the_specification():
    """The 40 lb/gal of the field formula is SG 4.79, below the 5.05 that API Spec 13A asks (from memory)."""
    assert HEMATITE_FIELD.m_as("SG") == pytest.approx(40 * LB_PER_GAL / 1000, rel=1e-9)
    assert HEMATITE_FIELD < 0.96 * HEMATITE
