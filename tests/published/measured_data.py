"""Measurements that were published, and the calculations of this project held against them.

A check of one figure asks whether a calculation is right; a set of measurements shows how far a right calculation lies
from the world. The measurements are files in ``measured/``, each with its source, its licence and how far it was seen;
:data:`COMPARISONS` names what is held against them. The book's page of checks draws them and says the spread.
"""

from __future__ import annotations

import csv
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from CoolProp.CoolProp import PropsSI

from pitside.errors import ValidityWarning
from pitside.invert import Salt, brine_density
from pitside.partition import fit_partition, measured_partition, rosin_rammler_partition, with_bypass
from pitside.retort import filtrate_density_api
from pitside.settling import drag_coefficient, stokes_velocity, terminal_velocity
from pitside.units import Q, Quantity

FILES = Path(__file__).parent / "measured"

#: Molar masses of sodium chloride and of its chloride: the first stands in the table of brines, the second is a
#: standard atomic weight, from memory.
NACL, CHLORIDE = 58.443, 35.45


@dataclass(frozen=True)
class Measured:
    """A file of measurements: what its head says, and its columns as arrays."""

    head: tuple[str, ...]
    columns: dict[str, np.ndarray]

    def __getitem__(self, column: str) -> np.ndarray:
        return self.columns[column]


def measured(name: str) -> Measured:
    """The file ``measured/<name>.csv``; a column of words is left out."""
    lines = (FILES / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    head = tuple(line.removeprefix("# ") for line in lines if line.startswith("#"))
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    columns = {column: np.array([float(row[column]) for row in rows]) for column in rows[0] if column != "case"}
    return Measured(head, columns)


@dataclass(frozen=True)
class Points:
    """Measurements at ``at``, and what this project works out there; ``names`` where ``at`` says too little."""

    at: np.ndarray
    found: np.ndarray
    ours: np.ndarray


@dataclass(frozen=True)
class Comparison:
    """One set of measurements and the calculation that is held against it.

    ``within`` bounds each point, ``middle`` the median of all, both in percent of the measured value, or in points of
    percent where ``of_shares``; ``because`` says why they lie so far apart. ``wrong_turns`` are usual mistakes by name;
    each must break a bound. ``curve`` draws the calculation between the points; without it, measured is drawn against
    worked out.
    """

    name: str
    title: str
    file: str
    calculation: str
    source: str
    seen: str
    at: str
    of: str
    points: Callable[[], Points]
    within: float
    middle: float
    because: str
    wrong_turns: tuple[tuple[str, Callable[[], Points]], ...]
    curve: Callable[[np.ndarray], np.ndarray] | None = None
    logarithmic: bool = False
    of_shares: bool = False

    def apart(self, points: Points) -> np.ndarray:
        """How far ours lies above the measured value, in percent of it or in points of percent."""
        if self.of_shares:
            return points.ours - points.found
        return 100 * (points.ours / points.found - 1)

    def spread(self) -> str:
        """How far apart they are, in words."""
        apart = self.apart(self.points())
        unit = "points of percent" if self.of_shares else "%"
        words = f"{len(apart)} points; half of them lie within {np.median(np.abs(apart)):.2g} {unit}"
        if len(apart) >= 20:
            low, high = np.percentile(apart, [5, 95])
            words += f", nine in ten between {_signed(low)} and {_signed(high)} {unit}"
        ends = f"{_signed(apart.min())} and {_signed(apart.max())} {unit}"
        return f"{words}; all between {ends} (above nought: ours is higher)"


def _signed(value: float) -> str:
    return (
        f"{value:+.2g}".replace("-", "\N{MINUS SIGN}")
        if abs(value) < 10
        else f"{value:+.0f}".replace("-", "\N{MINUS SIGN}")
    )


def _quiet(work: Callable[[], Quantity]) -> Quantity:
    """A calculation outside its range is what some of these show, so its warning is left out."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)
        return work()


# Drag of spheres


def _our_drag(reynolds: np.ndarray) -> np.ndarray:
    return np.asarray(_quiet(lambda: drag_coefficient(Q(reynolds, ""))).m_as(""))


def _drag(lowest: float, highest: float, law: Callable[[np.ndarray], np.ndarray] = _our_drag) -> Points:
    data = measured("sphere_drag")
    chosen = (data["reynolds"] >= lowest) & (data["reynolds"] <= highest)
    reynolds, found = data["reynolds"][chosen], data["drag_coefficient"][chosen]
    return Points(reynolds, found, law(reynolds))


# Spheres that settle


def _in_water(size: float = 1.0, law: Callable[..., Quantity] = terminal_velocity) -> Points:
    """Particles in still water, taken as spheres; viscosity by the file, density that of water of such viscosity."""
    data = measured("spheres_in_water")
    found, diameter = data["velocity_mm_s"] * 1e-3, data["diameter_um"] * 1e-6
    kinematic = found * diameter / data["reynolds"]
    water = PropsSI("D", "T", 273.15 + 24.5, "P", 101325, "Water")
    ours = _quiet(
        lambda: law(
            Q(size * diameter, "m"),
            Q(data["density_g_cm3"], "g/cm**3"),
            Q(water, "kg/m**3"),
            Q(kinematic * water, "Pa*s"),
        )
    )
    return Points(data["diameter_um"], 1000 * found, np.asarray(ours.m_as("mm/s")))


def _in_oil(size: float = 15.0, law: Callable[..., Quantity] = terminal_velocity) -> Points:
    data = measured("sphere_in_oil")
    ours = _quiet(
        lambda: law(
            Q(size, "mm"), Q(1120, "kg/m**3"), Q(data["oil_kg_m3"], "kg/m**3"), Q(data["viscosity_pa_s"], "Pa*s")
        )
    )
    found = 1000 * data["unbounded_m_s"] * data["measured_share"]
    return Points(data["viscosity_pa_s"] * 1000, found, np.asarray(ours.m_as("mm/s")))


# Brines


def _our_brine(salt: Salt) -> Callable[[np.ndarray], np.ndarray]:
    return lambda percent: np.asarray(_quiet(lambda: brine_density(Q(percent, "percent"), salt)).m_as("kg/m**3"))


def _brine(file: str, salt: Salt, factor: float = 1.0) -> Points:
    """``factor`` on the salt: that of a mistake."""
    data = measured(file)
    chosen = data["salt_percent"] <= 100 * salt.value.highest + 1e-9
    percent = data["salt_percent"][chosen]
    return Points(percent, 1000 * data["density_g_cm3"][chosen], _our_brine(salt)(factor * percent))


def _filtrate(*, per_mass: bool = False) -> Points:
    """Density by the form of API RP 13B-1 from the chlorides of a brine; per mass of brine is the mistake."""
    data = measured("sodium_chloride_brine")
    density = 1000 * data["density_g_cm3"]
    per_litre = data["salt_percent"] / 100 * CHLORIDE / NACL * (1000 if per_mass else density) * 1000
    ours = _quiet(lambda: filtrate_density_api(Q(per_litre, "mg/L"))).m_as("kg/m**3")
    return Points(data["salt_percent"], density, np.asarray(ours))


# Separators


def _cyclone_data() -> tuple[np.ndarray, np.ndarray, float]:
    """Middle of each class (um), share to the underflow (percent), and that of the class that has no middle."""
    data = measured("cyclone_sieves")
    shares = measured_partition(
        Q(data["underflow_percent_of_feed"], "kg/h"), Q(data["overflow_percent_of_feed"], "kg/h")
    ).m_as("percent")
    whole = data["size_from_um"] > 0
    middle = np.sqrt(data["size_from_um"] * data["size_to_um"])
    return middle[whole], shares[whole], float(shares[~whole][0])


def _fitted(sizes: np.ndarray, shares: np.ndarray, bypass: float) -> Callable[[np.ndarray], np.ndarray]:
    """The corrected curve that pitside fits to measured shares, as percent at any size."""
    fit = fit_partition(Q(sizes, "um"), Q(shares, "percent"), Q(bypass, "percent"))

    def law(at: np.ndarray) -> np.ndarray:
        corrected = rosin_rammler_partition((Q(at, "um") / fit.cut_point).to(""), fit.sharpness)
        return np.asarray(with_bypass(corrected, fit.bypass).m_as("percent"))

    return law


def _cyclone_law(bypass: float | None = None) -> Callable[[np.ndarray], np.ndarray]:
    sizes, shares, finest = _cyclone_data()
    return _fitted(sizes, shares, finest if bypass is None else bypass)


def _cyclone(bypass: float | None = None) -> Points:
    sizes, shares, _ = _cyclone_data()
    return Points(sizes, shares, _cyclone_law(bypass)(sizes))


def _shaker_data() -> tuple[np.ndarray, np.ndarray]:
    data = measured("shaker_samples")
    shares = measured_partition(Q(data["discard_g_min"], "g/min"), Q(data["through_g_min"], "g/min"))
    return data["size_um"], shares.m_as("percent")


def _shaker_law(at: np.ndarray) -> np.ndarray:
    return _fitted(*_shaker_data(), 0.0)(at)


def _shaker(law: Callable[[np.ndarray], np.ndarray] = _shaker_law) -> Points:
    sizes, shares = _shaker_data()
    return Points(sizes, shares, law(sizes))


ROOS = (
    "F. W. Roos, W. W. Willmarth, AIAA Journal 9 (1971) 285; table of the public repository atrettel/sheardata, "
    "© 2020-2021 Andrew Trettel, CC-BY-4.0"
)
HANDBOOK = (
    "CRC Handbook of Chemistry and Physics, 102nd ed. (2021); table of the public repository "
    "amosonabike/CRC-Solution-Properties-, MIT"
)
RESTATED = "restated; the source itself was not seen"

COMPARISONS = (
    Comparison(
        name="drag_of_spheres",
        title="Drag of spheres up to a Reynolds number of 1000",
        file="sphere_drag",
        calculation="drag_coefficient",
        source=ROOS,
        seen=RESTATED,
        at="Reynolds number",
        of="drag coefficient",
        points=lambda: _drag(0, 1000),
        within=15,
        middle=2,
        because="measured spheres scatter by some 5 % about any smooth curve, "
        "and ours lies 5 % low in the middle below a Reynolds number of 100",
        wrong_turns=(("Stokes' drag", lambda: _drag(0, 1000, lambda reynolds: 24 / reynolds)),),
        curve=_our_drag,
        logarithmic=True,
    ),
    Comparison(
        name="drag_of_fast_spheres",
        title="Drag of spheres beyond a Reynolds number of 1000",
        file="sphere_drag",
        calculation="drag_coefficient",
        source=ROOS,
        seen=RESTATED,
        at="Reynolds number",
        of="drag coefficient",
        points=lambda: _drag(1001, 2e5),
        within=18,
        middle=10,
        because="a constant 0.44 stands for a curve from 0.39 to 0.53: large chips fall 3 to 4 % too fast by it",
        wrong_turns=(
            (
                "Schiller and Naumann's curve carried on",
                lambda: _drag(1001, 2e5, lambda reynolds: 24 / reynolds * (1 + 0.15 * reynolds**0.687)),
            ),
        ),
        curve=_our_drag,
        logarithmic=True,
    ),
    Comparison(
        name="spheres_in_water",
        title="Single particles of 0.66 to 3 mm that settle in still water",
        file="spheres_in_water",
        calculation="terminal_velocity",
        source="S. Baek, public repository SeungjunBaekk/particle_in_waves, particle_stag_settling.CSV",
        seen="seen, the file of its author",
        at="worked out, mm/s",
        of="measured, mm/s",
        points=_in_water,
        within=9,
        middle=3,
        because="velocities are known to 0.4 to 4 %; the sizes below 1 mm look like the middle of a sieve class, "
        "which is some 8 % wide each way",
        wrong_turns=(
            ("Stokes", lambda: _in_water(law=stokes_velocity)),
            ("radius for diameter", lambda: _in_water(size=0.5)),
        ),
        logarithmic=True,
    ),
    Comparison(
        name="sphere_in_oil",
        title="One sphere of 15 mm that settles in silicone oils in a tank",
        file="sphere_in_oil",
        calculation="terminal_velocity",
        source="A. ten Cate and others, Physics of Fluids 14 (2002) 4012; figures of the public repository "
        "ParticulateFlow/LBDEMcoupling-public",
        seen="restated; the highest velocity of two of the four cases is from memory",
        at="worked out, mm/s",
        of="measured, mm/s",
        points=_in_oil,
        within=14,
        middle=11,
        because="the walls of a tank of 100 mm hold the sphere back, most in the thickest oil; "
        "the calculation knows no walls, so ours is always higher",
        wrong_turns=(
            ("Stokes", lambda: _in_oil(law=stokes_velocity)),
            ("radius for diameter", lambda: _in_oil(size=7.5)),
        ),
        logarithmic=True,
    ),
    Comparison(
        name="sodium_chloride_brine",
        title="Density of sodium chloride brine",
        file="sodium_chloride_brine",
        calculation="brine_density",
        source=HANDBOOK,
        seen=RESTATED,
        at="salt, percent by weight",
        of="density at 20 °C, kg/m³",
        points=lambda: _brine("sodium_chloride_brine", Salt.SODIUM_CHLORIDE),
        within=0.03,
        middle=0.02,
        because="the handbook rounds to 0.1 kg/m3; ours is a fit to another library",
        wrong_turns=(
            (
                "chlorides taken as salt",
                lambda: _brine("sodium_chloride_brine", Salt.SODIUM_CHLORIDE, CHLORIDE / NACL),
            ),
        ),
        curve=_our_brine(Salt.SODIUM_CHLORIDE),
    ),
    Comparison(
        name="calcium_chloride_brine",
        title="Density of calcium chloride brine",
        file="calcium_chloride_brine",
        calculation="brine_density",
        source=HANDBOOK,
        seen=RESTATED,
        at="salt, percent by weight",
        of="density at 20 °C, kg/m³",
        points=lambda: _brine("calcium_chloride_brine", Salt.CALCIUM_CHLORIDE),
        within=0.25,
        middle=0.2,
        because="ours is a fit to CoolProp, which lies up to 2.7 kg/m3 above the handbook between 10 and 20 %",
        wrong_turns=(
            ("sodium chloride", lambda: _wrong_salt()),
            (
                "the dihydrate weighed as dry salt",
                lambda: _brine("calcium_chloride_brine", Salt.CALCIUM_CHLORIDE, 0.755),
            ),
        ),
        curve=_our_brine(Salt.CALCIUM_CHLORIDE),
    ),
    Comparison(
        name="filtrate",
        title="Density of a filtrate from its chlorides, form of API RP 13B-1",
        file="sodium_chloride_brine",
        calculation="filtrate_density_api",
        source=HANDBOOK,
        seen=RESTATED,
        at="salt, percent by weight",
        of="density at 20 °C, kg/m³",
        points=_filtrate,
        within=0.75,
        middle=0.15,
        because="a straight line stands for a curve; it is 0.7 % high at 26 % salt and 0.1 % at 10 %",
        wrong_turns=(("mg in a kg for mg in a litre", lambda: _filtrate(per_mass=True)),),
        curve=lambda at: np.interp(at, _filtrate().at, _filtrate().ours),
    ),
    Comparison(
        name="cyclone",
        title="Products of a hydrocyclone on ore, by sieves",
        file="cyclone_sieves",
        calculation="fit_partition",
        source="a worked example of B. Wills, Mineral Processing Technology, as a public question restates it",
        seen=RESTATED,
        at="size, µm",
        of="share to the underflow, percent",
        points=_cyclone,
        within=2.5,
        middle=1,
        because="the curve is fitted to the same points, so only its shape is tried; shares are known to about a point",
        wrong_turns=(("no bypass", lambda: _cyclone(bypass=0.0)),),
        curve=lambda at: _cyclone_law()(at),
        logarithmic=True,
        of_shares=True,
    ),
    Comparison(
        name="shaker",
        title="Discard and throughput of a shaker, by size",
        file="shaker_samples",
        calculation="fit_partition",
        source="AADE, Shale Shakers and Drilling Fluid Systems, 1999, Table 9-1, p. 171",
        seen="seen",
        at="size, µm",
        of="share discarded, percent",
        points=_shaker,
        within=10,
        middle=2,
        because="the law of a cyclone is fitted to a screen, which keeps some fines with the discard and lets "
        "hardly any coarse grain through",
        wrong_turns=(("no bypass and half as sharp", lambda: _shaker(_half_as_sharp)),),
        curve=_shaker_law,
        logarithmic=True,
        of_shares=True,
    ),
)


def _wrong_salt() -> Points:
    points = _brine("calcium_chloride_brine", Salt.CALCIUM_CHLORIDE)
    return Points(points.at, points.found, _our_brine(Salt.SODIUM_CHLORIDE)(points.at))


def _half_as_sharp(at: np.ndarray) -> np.ndarray:
    fit = fit_partition(Q(_shaker_data()[0], "um"), Q(_shaker_data()[1], "percent"))
    return np.asarray(rosin_rammler_partition((Q(at, "um") / fit.cut_point).to(""), fit.sharpness / 2).m_as("percent"))
