"""Size distributions against the fluids and SciPy libraries and figures that their documentation prints."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids.particle_size_distribution import PSDLognormal, PSDRosinRammler, cdf_Rosin_Rammler
from scipy.optimize import curve_fit
from scipy.stats import lognorm

from pitside.particles import (
    BARITE_COARSE_LIMIT,
    BARITE_FINE_LIMIT,
    SizeDistribution,
    Weights,
    fit_lognormal,
    fit_rosin_rammler,
    log_edges,
    lognormal,
    lognormal_passing,
    rosin_rammler,
    rosin_rammler_passing,
)
from pitside.units import Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = [pytest.mark.published, pytest.mark.filterwarnings("ignore::pitside.errors.ValidityWarning")]

FLUIDS = "fluids library"
EXACT = "the same law; only rounding of floating point remains"
GRID = "classes of a fine grid stand for a smooth curve"
SIZES = (5, 24, 60)
FINE_GRID = log_edges(Q(0.01, "um"), Q(10, "mm"), 1200)
CHARACTERISTIC, SPREAD = 24e-6, 1.2
MEDIAN, DEVIATION = 5e-6, 0.5
BARITE = PSDRosinRammler(k=CHARACTERISTIC**-SPREAD, m=SPREAD)
FINES = PSDLognormal(d_characteristic=MEDIAN, s=DEVIATION, order=3)


def barite_passing(micrometres: float, spread: float = SPREAD):
    return rosin_rammler_passing(Q(micrometres, "um"), Q(CHARACTERISTIC, "m"), spread)


def fines_passing(micrometres: float, deviation: float = math.exp(DEVIATION)):
    return lognormal_passing(Q(micrometres, "um"), Q(MEDIAN, "m"), deviation)


def fines_on_grid() -> SizeDistribution:
    return lognormal(FINE_GRID, Q(MEDIAN, "m"), math.exp(DEVIATION))


def counted(distribution: SizeDistribution) -> SizeDistribution:
    """The distribution of the number of grains, as if each grain had the same volume."""
    return SizeDistribution(distribution.edges, distribution.number_fractions)


#: The classes and counts of the worked example of ISO 9276-2 as the library's documentation has it.
ISO_EDGES = Q([240, 360, 450, 562.5, 703, 878, 1097, 1371, 1713, 2141, 2676, 3345, 4181, 5226, 6532], "um")
ISO_COUNTS = np.array([65, 119, 232, 410, 629, 849, 990, 981, 825, 579, 297, 111, 21, 1], dtype=float)


def iso_example() -> SizeDistribution:
    return SizeDistribution.from_number(ISO_EDGES, ISO_COUNTS / ISO_COUNTS.sum())


LAWS = [
    Check(
        claim=f"Rosin and Rammler 24 um, 1.2: finer than {size} um",
        compute=lambda size=size: barite_passing(size),
        value=lambda size=size: BARITE.cdf(size * 1e-6),
        unit="",
        relative=1e-9,
        because=EXACT,
        source=f"{FLUIDS}, PSDRosinRammler",
        status=Status.LIBRARY,
        wrong_turns=(("share held for share finer", lambda size=size: 1 - barite_passing(size)),),
    )
    for size in SIZES
] + [
    Check(
        claim="Rosin and Rammler with k = 200, m = 2: finer than 5 cm",
        compute=lambda: rosin_rammler_passing(Q(5, "cm"), Q(200**-0.5, "m"), 2.0),
        value=0.3934693402873667,
        unit="",
        relative=1e-9,
        because=EXACT,
        source="fluids 1.3.1 docstring of cdf_Rosin_Rammler",
        status=Status.SEEN,
        wrong_turns=(("k read as a size", lambda: rosin_rammler_passing(Q(5, "cm"), Q(1 / 200, "m"), 2.0)),),
    ),
    *(
        Check(
            claim=f"lognormal 5 um, exp(0.5): finer than {size} um",
            compute=lambda size=size: fines_passing(size),
            value=lambda size=size: lognorm.cdf(size * 1e-6, s=DEVIATION, scale=MEDIAN),
            unit="",
            relative=1e-9,
            because=EXACT,
            source="SciPy library, lognorm",
            status=Status.LIBRARY,
        )
        for size in (2, 5, 11)
    ),
    Check(
        claim="lognormal 10 um, exp(1.1): finer than 100 um",
        compute=lambda: lognormal_passing(Q(100, "um"), Q(10, "um"), math.exp(1.1)),
        value=0.9818369875798,
        unit="",
        relative=1e-9,
        because=EXACT,
        source="fluids 1.3.1 docstring of cdf_lognormal",
        status=Status.SEEN,
        wrong_turns=(("natural for geometric deviation", lambda: lognormal_passing(Q(100, "um"), Q(10, "um"), 1.1)),),
    ),
]

QUANTILES = [
    Check(
        claim=f"Rosin and Rammler 24 um, 1.2: d{share:.0%}",
        compute=lambda share=share: rosin_rammler(FINE_GRID, SPREAD, characteristic=Q(24, "um")).quantile(share),
        value=lambda share=share: BARITE.dn(share) * 1e6,
        unit="um",
        relative=1e-3,
        because=GRID,
        source=f"{FLUIDS}, PSDRosinRammler",
        status=Status.LIBRARY,
        wrong_turns=(
            (
                "d50 for the characteristic size",
                lambda share=share: rosin_rammler(FINE_GRID, SPREAD, d50=Q(24, "um")).quantile(share),
            ),
        ),
    )
    for share in (0.10, 0.50, 0.90)
]

NUMBERS = [
    Check(
        claim="lognormal 5 um, exp(0.5): share of the number of grains finer than 5 um",
        compute=lambda: counted(fines_on_grid()).passing(Q(5, "um")),
        value=0.933192798731,
        unit="",
        relative=1e-3,
        because=GRID,
        source="fluids 1.3.1 docstring of cdf",
        status=Status.SEEN,
        wrong_turns=(("share by volume", lambda: fines_on_grid().passing(Q(5, "um"))),),
    ),
    Check(
        claim="lognormal 5 um, exp(0.5): share of the number of grains finer than 2 um",
        compute=lambda: counted(fines_on_grid()).passing(Q(2, "um")),
        value=lambda: FINES.cdf(2e-6, n=0),
        unit="",
        relative=1e-3,
        because=GRID,
        source=f"{FLUIDS}, PSDLognormal, by number",
        status=Status.LIBRARY,
    ),
    Check(
        claim="lognormal 5 um, exp(0.5): median by number",
        compute=lambda: counted(fines_on_grid()).d50,
        value=lambda: MEDIAN * 1e6 * math.exp(-3 * DEVIATION**2),
        unit="um",
        relative=1e-3,
        because=GRID,
        source="Hatch and Choate's conversion, textbook",
        status=Status.DERIVED,
        wrong_turns=(("median by volume", lambda: fines_on_grid().d50),),
    ),
    Check(
        claim="lognormal 5 um, exp(0.5): Sauter mean",
        compute=lambda: fines_on_grid().sauter_mean,
        value=lambda: FINES.mean_size(3, 2) * 1e6,
        unit="um",
        relative=1e-3,
        because=GRID,
        source=f"{FLUIDS}, PSDLognormal, mean_size(3, 2)",
        status=Status.LIBRARY,
        wrong_turns=(("median", lambda: fines_on_grid().d50),),
    ),
    Check(
        claim="Sauter mean of 14 counted classes of 0.24 to 6.5 mm",
        compute=lambda: iso_example().sauter_mean,
        value=2.269321031745045,
        unit="mm",
        relative=0.02,
        because="the library spreads grains evenly over size within a class, this project volume over its logarithm; "
        "in a class with a ratio of 1.25 that is 1.7 %",
        source="fluids 1.3.1 docstring of mean_size, the example of ISO 9276-2",
        status=Status.SEEN,
        wrong_turns=(
            (
                "counts taken for volumes",
                lambda: SizeDistribution(ISO_EDGES, ISO_COUNTS / ISO_COUNTS.sum()).sauter_mean,
            ),
        ),
    ),
]

#: An invented sieve table with reading errors.
TABLE, SHARES = np.array([6.0, 10.0, 20.0, 32.0, 45.0, 75.0]), np.array([0.19, 0.29, 0.56, 0.73, 0.885, 0.977])


def nearest_rosin_rammler() -> np.ndarray:
    """SciPy's least squares of passing itself: characteristic size (um) and spread."""
    return curve_fit(lambda d, k, n: cdf_on(d, k, n), TABLE, SHARES, p0=(20.0, 1.0))[0]


def cdf_on(sizes: np.ndarray, characteristic: float, spread: float) -> np.ndarray:
    return np.array([cdf_Rosin_Rammler(size, characteristic**-spread, spread) for size in sizes])


def nearest_lognormal() -> np.ndarray:
    return curve_fit(lambda d, m, s: lognorm.cdf(d, s=s, scale=m), TABLE, SHARES, p0=(20.0, 1.0))[0]


def rosin_rammler_fit(weights: Weights = Weights.EQUAL_READING):
    return fit_rosin_rammler(Q(TABLE, "um"), SHARES, weights)


def lognormal_fit(weights: Weights = Weights.EQUAL_READING):
    return fit_lognormal(Q(TABLE, "um"), SHARES, weights)


def ruled(y: np.ndarray) -> np.ndarray:
    """Slope and intercept of NumPy's even least squares over the logarithm of size in um."""
    return np.polyfit(np.log(TABLE), y, 1)


NONLINEAR = "a line with weights is the first step of the curved fit; they part where the law misses the table"
SCIPY = "SciPy library, curve_fit of passing"
NUMPY = "NumPy library, polyfit on straightened axes"

FITS = [
    Check(
        claim="characteristic size of a sieve table",
        compute=lambda: rosin_rammler_fit().characteristic,
        value=lambda: nearest_rosin_rammler()[0],
        unit="um",
        relative=0.01,
        because=NONLINEAR,
        source=SCIPY,
        status=Status.LIBRARY,
    ),
    Check(
        claim="spread of a sieve table",
        compute=lambda: Q(rosin_rammler_fit().spread),
        value=lambda: nearest_rosin_rammler()[1],
        unit="",
        relative=0.01,
        because=NONLINEAR,
        source=SCIPY,
        status=Status.LIBRARY,
    ),
    Check(
        claim="median of a sieve table",
        compute=lambda: lognormal_fit().median,
        value=lambda: nearest_lognormal()[0],
        unit="um",
        relative=0.02,
        because=NONLINEAR,
        source=SCIPY,
        status=Status.LIBRARY,
    ),
    Check(
        claim="geometric deviation of a sieve table",
        compute=lambda: Q(lognormal_fit().geometric_deviation),
        value=lambda: math.exp(nearest_lognormal()[1]),
        unit="",
        relative=0.05,
        because=NONLINEAR,
        source=SCIPY,
        status=Status.LIBRARY,
    ),
    Check(
        claim="spread of a sieve table, each point alike",
        compute=lambda: Q(rosin_rammler_fit(Weights.EVEN).spread),
        value=lambda: ruled(np.log(-np.log(1 - SHARES)))[0],
        unit="",
        relative=1e-9,
        because=EXACT,
        source=NUMPY,
        status=Status.LIBRARY,
        wrong_turns=(("equal reading", lambda: Q(rosin_rammler_fit().spread)),),
    ),
    Check(
        claim="geometric deviation of a sieve table, each point alike",
        compute=lambda: Q(lognormal_fit(Weights.EVEN).geometric_deviation),
        value=lambda: math.exp(1 / ruled(norm_quantiles())[0]),
        unit="",
        relative=1e-9,
        because=EXACT,
        source=NUMPY,
        status=Status.LIBRARY,
        wrong_turns=(("equal reading", lambda: Q(lognormal_fit().geometric_deviation)),),
    ),
]


def norm_quantiles() -> np.ndarray:
    """Quantiles of the normal distribution at the shares, by way of SciPy's lognormal one."""
    return np.log(lognorm.ppf(SHARES, s=1.0))


LIMITS = [
    Check(
        claim="residue of barite above 75 um, at most",
        compute=lambda: Q(BARITE_COARSE_LIMIT),
        value=3.0,
        unit="percent",
        relative=1e-9,
        because="a limit is exact",
        source="API Spec 13A, as a test laboratory restates it",
        status=Status.RESTATED,
    ),
    Check(
        claim="barite finer than 6 um, at most",
        compute=lambda: Q(BARITE_FINE_LIMIT),
        value=30.0,
        unit="percent",
        relative=1e-9,
        because="a limit is exact",
        source="API Spec 13A, as a test laboratory restates it",
        status=Status.RESTATED,
    ),
]

CHECKS = LAWS + QUANTILES + NUMBERS + FITS + LIMITS


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected
