"""Base fluid on cuttings against balances done in the test, remembered limits, libraries and measured sand columns."""

from __future__ import annotations

import numpy as np
import pytest
from fluids import Bond
from fluids.packed_bed import dP_packed_bed
from scipy import constants
from scipy.optimize import brentq

from pitside.cuttings import (
    CLOSURE_LIMITS,
    DISCHARGE_LIMITS,
    Bed,
    Liquid,
    base_fluid_lost,
    bed_permeability,
    bond_number,
    closure,
    drained_cuttings,
    dry_basis,
    dry_from_wet,
    film_thickness,
    held_height,
    last_section_limit,
    well_average,
    wet_basis,
    wet_from_dry,
)
from pitside.units import GRAVITY, Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

BALANCE = "balance of mass"
EXACT = "the same law; only rounding of floating point remains"
LIMIT = "a limit is exact"

WET, DRY, FLUID, WATER = 100.0, 82.5, 12.0 * 0.79, 8.0
VOLUME, DENSITY = Q(12.0, "mL"), Q(0.79, "g/mL")

RETORT = [
    Check(
        claim="12.0 mL of 0.79 in 100.0 g of wet cuttings",
        compute=lambda: wet_basis(VOLUME, DENSITY, Q(WET, "g")),
        value=lambda: 100 * FLUID / WET,
        unit="percent",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(
            ("mL taken for g", lambda: wet_basis(VOLUME, Q(1.0, "g/mL"), Q(WET, "g"))),
            ("dry basis", lambda: dry_basis(VOLUME, DENSITY, Q(DRY, "g"))),
        ),
    ),
    Check(
        claim="the same on 82.5 g of dry cuttings",
        compute=lambda: dry_basis(VOLUME, DENSITY, Q(DRY, "g")),
        value=lambda: 100 * FLUID / DRY,
        unit="percent",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("wet basis", lambda: wet_basis(VOLUME, DENSITY, Q(WET, "g"))),),
    ),
    Check(
        claim="dry basis from the wet one with 8 % water",
        compute=lambda: dry_from_wet(Q(9.48, "percent"), Q(8.0, "percent")),
        value=lambda: 100 * 9.48 / (100 - 9.48 - 8.0),
        unit="percent",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("water forgotten", lambda: dry_from_wet(Q(9.48, "percent"), 0.0)),),
    ),
    Check(
        claim="wet basis from the dry one with 8 % water",
        compute=lambda: wet_from_dry(Q(11.49, "percent"), Q(8.0, "percent")),
        value=lambda: brentq(lambda wet: wet / (92.0 - wet) - 0.1149, 0.0, 50.0),
        unit="percent",
        relative=1e-9,
        because="the root of the balance, by SciPy",
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("water forgotten", lambda: wet_from_dry(Q(11.49, "percent"), 0.0)),),
    ),
    Check(
        claim="closure of that retort",
        compute=lambda: closure(Q(WET, "g"), Q(DRY, "g"), VOLUME, DENSITY, Q(WATER, "mL")),
        value=lambda: DRY + FLUID + WATER,
        unit="percent",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(("water forgotten", lambda: closure(Q(WET, "g"), Q(DRY, "g"), VOLUME, DENSITY, Q(0, "mL"))),),
    ),
    Check(
        claim="how far that sample is above 9.4 % wet",
        compute=lambda: wet_basis(VOLUME, DENSITY, Q(WET, "g")) - DISCHARGE_LIMITS["united_states_ester"].limit,
        value=lambda: FLUID - 9.4,
        unit="percent",
        relative=1e-6,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(
            (
                "dry basis against the wet limit",
                lambda: dry_basis(VOLUME, DENSITY, Q(DRY, "g")) - DISCHARGE_LIMITS["united_states_ester"].limit,
            ),
        ),
    ),
]

LIMITS = [
    Check(
        claim=f"limit of {DISCHARGE_LIMITS[key].name}",
        compute=lambda key=key: Q(DISCHARGE_LIMITS[key].limit),
        value=percent,
        unit="percent",
        relative=1e-9,
        because=LIMIT,
        source=source,
        status=status,
    )
    for key, percent, source, status in (
        ("united_states_olefin", 6.9, "40 CFR 435.13, 435.15", Status.MEMORY),
        ("united_states_ester", 9.4, "40 CFR 435.13, 435.15", Status.MEMORY),
        ("north_east_atlantic", 1.0, "OSPAR Decision 2000/3, its figure on a public trade page", Status.RESTATED),
    )
] + [
    Check(
        claim=f"closure of a retort, {word}",
        compute=lambda place=place: Q(CLOSURE_LIMITS[place]),
        value=percent,
        unit="percent",
        relative=1e-9,
        because=LIMIT,
        source="retort of cuttings, unsure",
        status=Status.MEMORY,
    )
    for place, word, percent in ((0, "at least", 95.0), (1, "at most", 105.0))
]

SHARES, MASSES = np.array([0.08, 0.11, 0.065]), np.array([300.0, 100.0, 220.0])


def average() -> float:
    return float(np.average(SHARES, weights=MASSES))


WELL = [
    Check(
        claim="three sections of a well",
        compute=lambda: well_average(SHARES, Q(MASSES, "t")),
        value=average,
        unit="",
        relative=1e-9,
        because=EXACT,
        source="NumPy library, average with weights",
        status=Status.LIBRARY,
        wrong_turns=(("plain mean of sections", lambda: Q(SHARES.mean())),),
    ),
    Check(
        claim="what a last section of 150 t may have under 9.4 %",
        compute=lambda: last_section_limit(0.094, SHARES, Q(MASSES, "t"), Q(150, "t")),
        value=lambda: brentq(
            lambda last: np.average([*SHARES, last], weights=[*MASSES, 150.0]) - 0.094, 0.0, 1.0, xtol=1e-14
        ),
        unit="",
        relative=1e-9,
        because="the root of the average, by SciPy",
        source="SciPy library, brentq",
        status=Status.LIBRARY,
        wrong_turns=(("the limit itself", lambda: Q(0.094)), ("plain mean", lambda: Q(4 * 0.094 - SHARES.sum()))),
    ),
    Check(
        claim="base fluid with 400 t of dry cuttings at 11.49 %",
        compute=lambda: base_fluid_lost(Q(400, "t"), Q(11.49, "percent"), DENSITY)[1],
        value=lambda: 400e3 * 0.1149 / 790 / constants.bbl,
        unit="bbl",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(
            ("water's density", lambda: base_fluid_lost(Q(400, "t"), Q(11.49, "percent"), Q(1, "SG"))[1]),
            ("wet basis on dry mass", lambda: base_fluid_lost(Q(400, "t"), Q(9.48, "percent"), DENSITY)[1]),
        ),
    ),
]

WATER_20C = (Q(998.2, "kg/m**3"), Q(72.8, "mN/m"))


def permeability_by(method: str) -> float:
    """Permeability of 0.5 mm spheres at 40 % porosity from the library's pressure loss of very slow water, m2."""
    velocity = 1e-9
    loss = dP_packed_bed(dp=5e-4, voidage=0.4, vs=velocity, rho=1000.0, mu=1e-3, L=1.0, Method=method)
    return 1e-3 * velocity / loss


def sand_height(size: str, low: float, high: float, porosity: float = 0.4):
    return held_height(Q((low * high) ** 0.5, size), porosity, *WATER_20C)


CAPILLARY = [
    Check(
        claim="Bond number of 0.5 mm in oil",
        compute=lambda: bond_number(Q(0.5, "mm"), Q(800, "kg/m**3"), Q(25, "mN/m")),
        value=lambda: Bond(800.0, 0.0, 0.025, 5e-4),
        unit="",
        relative=1e-9,
        because=EXACT,
        source="fluids library, Bond",
        status=Status.LIBRARY,
        wrong_turns=(("radius", lambda: bond_number(Q(0.25, "mm"), Q(800, "kg/m**3"), Q(25, "mN/m"))),),
    ),
    Check(
        claim="permeability of 0.5 mm grains at 40 %",
        compute=lambda: bed_permeability(Q(0.5, "mm"), 0.4),
        value=lambda: permeability_by("Carman"),
        unit="m**2",
        relative=1e-4,
        because="the library adds a term that vanishes with velocity",
        source="fluids library, dP_packed_bed by Carman",
        status=Status.LIBRARY,
        wrong_turns=(
            ("solids fraction for porosity", lambda: bed_permeability(Q(0.5, "mm"), 0.6)),
            ("Ergun's constant", lambda: Q(permeability_by("Ergun"), "m**2")),
        ),
    ),
    Check(
        claim="height of water held by 0.45 to 0.55 mm sand",
        compute=lambda: sand_height("mm", 0.45, 0.55),
        value=(7.9 + 19.5) / 2,
        unit="cm",
        absolute=(19.5 - 7.9) / 2,
        because="measured: full to 7.9 cm, damp to 19.5 cm; a bed that drains holds more than one that fills",
        source="Salim and Hampton 2012, abstract",
        status=Status.SEEN,
        wrong_turns=(("diameter for radius", lambda: sand_height("mm", 0.9, 1.1)),),
    ),
    *(
        Check(
            claim=f"rise of water in {name} sand, {low} to {high} mm",
            compute=lambda low=low, high=high: sand_height("mm", low, high),
            value=rise,
            unit="cm",
            relative=0.35,
            because="the table has the whole rise, damp sand and all; porosity and size within the class are not known",
            source="Heath 1982, Basic Ground-Water Hydrology, as slides of Salim and Hampton have it",
            status=Status.RESTATED,
            wrong_turns=(("radius for diameter", lambda low=low, high=high: sand_height("mm", low / 2, high / 2)),),
        )
        for name, low, high, rise in (
            ("coarse", 0.5, 1.0, 12.5),
            ("medium", 0.25, 0.5, 25.0),
            ("fine", 0.125, 0.25, 40.0),
        )
    ),
]

MUD = (Q(20, "mPa*s"), Q(10, "mm"), Q(800, "kg/m**3"))


def drained_film(viscosity: float, path: float, density: float, time: float) -> float:
    """Mean thickness (m) of a film of 0.3 mm that drains down a path, by finite volumes in small steps."""
    cells, thickness = 200, np.full(200, 3e-4)
    mobility, width, elapsed = density * constants.g / (3 * viscosity), path / cells, 0.0
    while elapsed < time:
        step = min(0.3 * width / (3 * mobility * thickness.max() ** 2), time - elapsed)
        flux = mobility * thickness**3
        thickness = thickness - step / width * np.diff(flux, prepend=0.0)
        elapsed += step
    return float(thickness.mean())


FILM = [
    Check(
        claim="film of 20 mPa.s oil after 10 s down 10 mm",
        compute=lambda: film_thickness(*MUD, Q(10, "s")),
        value=lambda: drained_film(0.020, 0.010, 800.0, 10.0) * 1e6,
        unit="um",
        relative=0.02,
        because="finite volumes smear the top of the film; the film laid on was of finite thickness",
        source="equation of the draining film solved in small steps",
        status=Status.DERIVED,
        wrong_turns=(("thickness at the lower end", lambda: 1.5 * film_thickness(*MUD, Q(10, "s"))),),
    ),
    Check(
        claim="mean of a film against sqrt(viscosity * velocity / (density * g)), its end having gone 10 mm in 10 s",
        compute=lambda: film_thickness(*MUD, Q(10, "s")),
        value=lambda: (0.020 * 0.010 / 10.0 / (800 * constants.g)) ** 0.5 * 1e6 / 1.5,
        unit="um",
        relative=1e-6,
        because="the abstract has the mean 1.5 times smaller than the load",
        source="Benilov and Zubkov 2008, J. Fluid Mech. 617, abstract",
        status=Status.SEEN,
        wrong_turns=(("the load itself", lambda: Q((0.020 * 0.001 / (800 * constants.g)) ** 0.5, "m")),),
    ),
]

#: Invented cuttings and oil; chosen once, fitted to nothing.
BED = Bed(Q(500, "um"), 0.4, Q(15, "mm"), Q(2600, "kg/m**3"))
OIL = Liquid(Q(800, "kg/m**3"), Q(5, "mPa*s"), Q(25, "mN/m"))


def wet_after(g: float):
    return wet_from_dry(drained_cuttings(BED, OIL, Q(10, "s"), g * GRAVITY).dry_ratio, 0.0)


ORDER = "order of size only: cuttings and oil are invented and the model knows no field"

DRYING = [
    Check(
        claim="base fluid left at 7.5 g",
        compute=lambda: wet_after(7.5),
        value=12.5,
        unit="percent",
        relative=0.5,
        because=ORDER,
        source="linear shakers leave 10 to 15 %",
        status=Status.COMMON,
        wrong_turns=(("at a dryer's g", lambda: wet_after(75.0)),),
    ),
    Check(
        claim="share of the base fluid that a dryer at 75 g takes off what a shaker at 7.5 g left",
        compute=lambda: 1 - wet_after(75.0) / wet_after(7.5),
        value=60.0,
        unit="percent",
        absolute=20.0,
        because=f"50 to 70 % in the field, at a g not given; {ORDER}",
        source="SPE 66535, 2001, abstract: shakers against basket centrifuges",
        status=Status.SEEN,
        wrong_turns=(("in proportion to g", lambda: Q(1 - 7.5 / 75)),),
    ),
]

CHECKS = RETORT + LIMITS + WELL + CAPILLARY + FILM + DRYING


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected
