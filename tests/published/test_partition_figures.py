"""Partition curves against a measured cyclone, the fluids and SciPy libraries, and laws evaluated in the test."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids import v_terminal
from fluids.particle_size_distribution import cdf_Rosin_Rammler
from scipy import integrate, optimize, stats

from pitside.particles import log_edges, lognormal
from pitside.partition import (
    CurveForm,
    PartitionCurve,
    equal_settling_cut_point,
    fit_partition,
    lynch_rao_partition,
    measured_partition,
    rosin_rammler_partition,
    sharpness_from_sizes,
)
from pitside.separation import recovery
from pitside.units import Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

WILLS = "Wills, Mineral Processing Technology, hydrocyclone example"
EXACT = "the same law written another way; only rounding of floating point remains"

#: Percent of the feed in underflow and overflow, and the partition number, of each size class of the example; and the
#: percent of the underflow sample and of the overflow sample.
MEASURED = {
    "295 to 589 um": (16.3, 2.1, 88.6, 25.0, 5.9),
    "208 to 295 um": (4.8, 3.1, 60.8, 7.4, 9.0),
    "147 to 208 um": (4.1, 4.1, 50.0, 6.3, 11.7),
    "104 to 147 um": (3.1, 3.9, 44.3, 4.8, 11.2),
    "74 to 104 um": (1.9, 2.7, 41.3, 2.9, 7.9),
    "below 74 um": (11.2, 18.9, 37.2, 17.1, 54.3),
}
#: Share of the feed's solids in the underflow of the example.
UNDERFLOW = 0.652


def rate(tonnes: float):
    return Q(tonnes, "t/h")


def from_samples(under: float, over: float):
    """Partition from the percents of the two samples and the share of the solids that each stream has."""
    return measured_partition(rate(under * UNDERFLOW), rate(over * (1 - UNDERFLOW)))


CYCLONE = [
    Check(
        claim=f"partition number of {name}",
        compute=lambda row=row: measured_partition(rate(row[0]), rate(row[1])),
        value=row[2],
        unit="percent",
        absolute=0.05,
        because="printed to a tenth",
        source=WILLS,
        status=Status.RESTATED,
        wrong_turns=(
            ("percents of the samples for rates", lambda row=row: measured_partition(rate(row[3]), rate(row[4]))),
        ),
    )
    for name, row in MEASURED.items()
] + [
    Check(
        claim=f"partition number of {name} from the samples",
        compute=lambda row=row: from_samples(row[3], row[4]),
        value=row[2],
        unit="percent",
        absolute=0.05 + 5 / (row[0] + row[1]),
        because="the example rounds both percents of the feed to a tenth on the way",
        source=WILLS,
        status=Status.RESTATED,
        wrong_turns=(("overflow for underflow", lambda row=row: 1 - from_samples(row[3], row[4])),)
        if abs(row[2] - 50) > 1
        else (),
    )
    for name, row in MEASURED.items()
]


def in_fluids(relative: float, sharpness: float) -> float:
    return cdf_Rosin_Rammler(relative, math.log(2), sharpness)


LAWS = (
    [
        Check(
            claim=f"Rosin and Rammler at {relative:g} times the cut point, sharpness {sharpness:g}",
            compute=lambda relative=relative, sharpness=sharpness: rosin_rammler_partition(relative, sharpness),
            value=lambda relative=relative, sharpness=sharpness: in_fluids(relative, sharpness),
            unit="",
            relative=1e-9,
            because=EXACT,
            source="fluids library, cdf_Rosin_Rammler",
            status=Status.LIBRARY,
            wrong_turns=(
                ("half the size", lambda r=relative, m=sharpness: rosin_rammler_partition(r / 2, m)),
                ("no ln 2", lambda r=relative, m=sharpness: rosin_rammler_partition(r / math.log(2) ** (1 / m), m)),
            ),
        )
        for sharpness in (1.5, 2.5)
        for relative in (0.5, 1.0, 1.5, 2.0)
    ]
    + [
        Check(
            claim=f"Rosin and Rammler at {relative:g} times the cut point, with the rounded 0.693",
            compute=lambda relative=relative: rosin_rammler_partition(relative, 2.5),
            value=lambda relative=relative: 1 - math.exp(-0.693 * relative**2.5),
            unit="",
            absolute=1e-4,
            because="0.693 rounds ln 2",
            source="Plitt 1976 law, as public code of Coelho and Medronho's model has it",
            status=Status.RESTATED,
            wrong_turns=(("m of 1.5", lambda relative=relative: rosin_rammler_partition(relative, 1.5)),)
            if relative != 1
            else (),
        )
        for relative in (0.5, 1.0, 2.0)
    ]
    + [
        Check(
            claim=f"Lynch and Rao at {relative:g} times the cut point, alpha 4",
            compute=lambda relative=relative: lynch_rao_partition(relative, 4.0),
            value=lambda x=relative: (math.exp(4 * x) - 1) / (math.exp(4 * x) + math.exp(4) - 2),
            unit="",
            relative=1e-9,
            because=EXACT,
            source="Lynch and Rao 1975 law, as public code of Coelho and Medronho's model has it",
            status=Status.RESTATED,
            wrong_turns=(("Rosin and Rammler", lambda relative=relative: rosin_rammler_partition(relative, 4.0)),)
            if relative != 1
            else (),
        )
        for relative in (0.5, 1.0, 1.5, 2.0)
    ]
)


def weibull_sharpness(ratio: float) -> float:
    """Sharpness by SciPy's Weibull distribution: the shape whose quartiles stand in this ratio."""
    return optimize.brentq(lambda m: stats.weibull_min.ppf(0.75, m) / stats.weibull_min.ppf(0.25, m) - ratio, 0.1, 50)


def lynch_rao_sharpness(ratio: float) -> float:
    """Alpha by solving the printed law for its quartile sizes, and those for the ratio."""

    def size(share: float, alpha: float) -> float:
        def miss(x: float) -> float:
            return (math.exp(alpha * x) - 1) / (math.exp(alpha * x) + math.exp(alpha) - 2) - share

        return optimize.brentq(miss, 1e-9, 20)

    return optimize.brentq(lambda a: size(0.75, a) / size(0.25, a) - ratio, 0.05, 20)


SHARPNESS = [
    Check(
        claim=f"sharpness from d75 / d25 = {ratio:g}, {form.value}",
        compute=lambda ratio=ratio, form=form: sharpness_from_sizes(Q(10, "um"), Q(10 * ratio, "um"), form),
        value=lambda ratio=ratio, solve=solve: solve(ratio),
        unit="",
        relative=1e-6,
        because="solved by iteration in the test",
        source=source,
        status=Status.DERIVED,
        wrong_turns=(
            (
                "the other law",
                lambda ratio=ratio, other=other: sharpness_from_sizes(Q(10, "um"), Q(10 * ratio, "um"), other),
            ),
        ),
    )
    for ratio in (1.5, 2.0, 3.0)
    for form, other, solve, source in (
        (CurveForm.ROSIN_RAMMLER, CurveForm.LYNCH_RAO, weibull_sharpness, "SciPy, Weibull distribution"),
        (CurveForm.LYNCH_RAO, CurveForm.ROSIN_RAMMLER, lynch_rao_sharpness, "SciPy, roots of the law"),
    )
]


def library_cut_point(density: float, liquid: float) -> float:
    """Size of a solid that settles, by the fluids library, as 15 um of SG 2.6 does, um."""
    wanted = v_terminal(15e-6, 2600.0, liquid, 0.1, Method="Stokes")
    return 1e6 * optimize.brentq(lambda d: v_terminal(d, density, liquid, 0.1, Method="Stokes") - wanted, 1e-6, 1e-3)


def barite_cut_point(liquid: float):
    return equal_settling_cut_point(Q(15, "um"), Q(2.6, "SG"), Q(4.2, "SG"), Q(liquid, "SG"))


DENSITY = [
    Check(
        claim="cut points of barite and drilled solids, the rule 10 and 15 um",
        compute=lambda: barite_cut_point(1.32),
        value=10.0,
        unit="um",
        absolute=0.05,
        because="the rule of 1.5 is exact in a liquid of SG 1.32",
        source="drilling fluids processing text",
        status=Status.SEEN,
        wrong_turns=(
            ("one cut point for both", lambda: Q(15, "um")),
            ("the ratio upside down", lambda: Q(15, "um") ** 2 / barite_cut_point(1.32)),
        ),
    ),
    *(
        Check(
            claim=f"cut point of barite where drilled solids are cut at 15 um, liquid of SG {liquid:g}",
            compute=lambda liquid=liquid: barite_cut_point(liquid),
            value=lambda liquid=liquid: library_cut_point(4200.0, 1000 * liquid),
            unit="um",
            relative=1e-4,
            because="the library solves by iteration, and so does the test",
            source="fluids library, Stokes",
            status=Status.LIBRARY,
            wrong_turns=(("the mud's density for the liquid's", lambda: barite_cut_point(1.8)),),
        )
        for liquid in (1.0, 1.2, 1.32)
    ),
]


def integrated(sharpness: float, bypass: float) -> float:
    """Share to the underflow of a lognormal solid by SciPy's integral over the logarithm of size, percent."""

    def element(log: float) -> float:
        corrected = 1 - math.exp(-math.log(2) * (math.exp(log) / 12.0) ** sharpness)
        return stats.norm.pdf(log, math.log(18.0), math.log(2.5)) * (corrected * (1 - bypass) + bypass)

    middle, width = math.log(18.0), 8 * math.log(2.5)
    return 100 * integrate.quad(element, middle - width, middle + width, limit=200)[0]


def drilled(sharpness: float, bypass: float, classes: int = 50):
    solids = lognormal(log_edges(classes=classes), Q(18.0, "um"), 2.5)
    return recovery(solids, Q(2.6, "SG"), PartitionCurve(Q(12, "um"), Q(2.6, "SG"), Q(1, "SG"), sharpness, bypass))


RECOVERY = [
    Check(
        claim=f"share of lognormal solids to the underflow, sharpness {sharpness:g}, bypass {bypass:g}",
        compute=lambda sharpness=sharpness, bypass=bypass: drilled(sharpness, bypass),
        value=lambda sharpness=sharpness, bypass=bypass: integrated(sharpness, bypass),
        unit="percent",
        absolute=0.05,
        because="fifty classes stand for a continuous size",
        source="SciPy, integral of curve times distribution",
        status=Status.DERIVED,
        wrong_turns=(
            ("bypass left out", lambda sharpness=sharpness: drilled(sharpness, 0.0)),
            ("the curve at the median size", lambda sharpness=sharpness: rosin_rammler_partition(18 / 12, sharpness)),
        ),
    )
    for sharpness in (1.5, 3.0)
    for bypass in (0.1, 0.3)
]

CHECKS = CYCLONE + LAWS + SHARPNESS + DENSITY + RECOVERY


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected


def test_the_measured_cyclone_has_the_actual_cut_point_that_was_read_off_its_curve():
    """Seen restated: about 175 um, the middle of the class with half in the underflow."""
    shares = np.array([row[2] for row in MEASURED.values()][:5])
    middles = np.sqrt([295 * 589, 208 * 295, 147 * 208, 104 * 147, 74 * 104])
    read = np.interp(50.0, shares[::-1], middles[::-1])
    assert read == pytest.approx(175, rel=0.01)
    fit = fit_partition(Q(middles, "um"), Q(shares, "percent"), bypass=Q(37.2, "percent"))
    curve = PartitionCurve(fit.cut_point, Q(2.7, "SG"), Q(1, "SG"), fit.sharpness, fit.bypass)
    assert curve.actual_cut_point(Q(2.7, "SG")).m_as("um") == pytest.approx(175, rel=0.15)
