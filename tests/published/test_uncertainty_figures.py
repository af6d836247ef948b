"""Uncertainty of low-gravity solids against published slopes and formulas, and distributions of scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import constants, stats
from scipy.differentiate import derivative

from pitside.uncertainty import (
    ErrorSource,
    ReadingErrors,
    RetortReadings,
    coverage_interval,
    draw_low_gravity,
    low_gravity_sensitivities,
    low_gravity_uncertainty,
    low_gravity_uncertainty_by_weight,
    reading_error,
    standard_from_limits,
)
from pitside.units import Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

HANDBOOK = "drilling fluids processing text, Vlg = 62.5 + 2.0 Vs - 7.5 MW"
EPA = "EPA Method 1674, receiver precision"
GUIDE = "JCGM 100:2008"
SG = constants.lb / constants.gallon / 1000

FRESH = RetortReadings(Q(16.0, "lb/gal"), Q(66, "percent"))
SALTY = RetortReadings(Q(16.0, "lb/gal"), Q(57, "percent"), Q(7.5, "percent"), Q(73_000, "mg/L"))
ERRORS = ReadingErrors(
    mud_weight=Q(0.05, "lb/gal"), water=Q(0.4, "percent"), oil=Q(0.3, "percent"), chloride=Q(3000, "mg/L")
)


def api_form(mud: float, water: float, oil: float, chloride: float) -> float:
    """Low-gravity percent by the API form as recalled, with 11.983 for 12; lb/gal, percent, mg/L."""
    brine = 1 + 1.09e-6 * chloride
    solids = 100 - water - oil - water * chloride / (1_680_000 - 1.21 * chloride)
    return (100 * brine + (4.2 - brine) * solids - 100 * SG * mud - (brine - 0.84) * oil) / 1.6


def slope(place: int) -> float:
    """Derivative of the API form in one of its four readings, at the salty example."""
    centre = [16.0, 57.0, 7.5, 73_000.0]

    def along(value):
        return np.vectorize(lambda one: api_form(*(one if at == place else centre[at] for at in range(4))))(value)

    return float(derivative(along, centre[place], initial_step=0.01 * centre[place]).df)


def by_law() -> float:
    """Standard uncertainty in percent: root of the sum of squares of slope times error."""
    errors = (0.05, 0.4, 0.3, 3000.0)
    return sum((slope(place) * error) ** 2 for place, error in enumerate(errors)) ** 0.5


def drawn(readings=SALTY, errors=ERRORS):
    return draw_low_gravity(readings, errors, np.random.default_rng(12), draws=50_000)


SLOPES = [
    Check(
        claim="points of low-gravity solids for each lb/gal",
        compute=lambda: low_gravity_sensitivities(FRESH)[ErrorSource.MUD_WEIGHT] * Q(1, "lb/gal"),
        value=-7.5,
        unit="percent",
        absolute=0.05,
        because="printed to one decimal, with 12 for 11.983",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(
            ("the wrong way", lambda: -low_gravity_sensitivities(FRESH)[ErrorSource.MUD_WEIGHT] * Q(1, "lb/gal")),
            ("12 for 7.5", lambda: Q(-12, "percent")),
        ),
    ),
    Check(
        claim="points of low-gravity solids for each point of water (the other way for solids)",
        compute=lambda: low_gravity_sensitivities(FRESH)[ErrorSource.WATER],
        value=-2.0,
        unit="",
        absolute=0.05,
        because="printed to one decimal, and exact for 4.2 and 2.6",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("water and solids one for one", lambda: Q(-1.0)),),
    ),
] + [
    Check(
        claim=f"slope in {source.value}",
        compute=lambda source=source, step=step: low_gravity_sensitivities(SALTY)[source] * step,
        value=lambda place=place, size=size: slope(place) * size,
        unit="percent",
        relative=1e-4,
        because="scipy's derivative of the form as recalled; in the chlorides a difference quotient here too",
        source="API RP 13B-1 form differentiated with scipy",
        status=Status.DERIVED,
        wrong_turns=(("that of fresh water", lambda source=source, step=step: fresh_slope(source) * step),)
        if source in (ErrorSource.WATER, ErrorSource.CHLORIDE)
        else (),
    )
    for place, (source, step, size) in enumerate(
        (
            (ErrorSource.MUD_WEIGHT, Q(1, "lb/gal"), 1.0),
            (ErrorSource.WATER, Q(1, "percent"), 1.0),
            (ErrorSource.OIL, Q(1, "percent"), 1.0),
            (ErrorSource.CHLORIDE, Q(10_000, "mg/L"), 10_000.0),
        )
    )
]


def fresh_slope(source: ErrorSource):
    return low_gravity_sensitivities(FRESH)[source]


WHOLE = [
    Check(
        claim="standard uncertainty of the salty example",
        compute=lambda: low_gravity_uncertainty(SALTY, ERRORS).standard,
        value=by_law,
        unit="percent",
        relative=1e-4,
        because="the law of propagation on scipy's derivatives",
        source=f"{GUIDE} 5.1.2, formula",
        status=Status.MEMORY,
        wrong_turns=(
            (
                "errors added",
                lambda: sum(low_gravity_uncertainty(SALTY, ERRORS).contributions.values(), start=Q(0.0)),
            ),
            (
                "the mud balance alone",
                lambda: low_gravity_uncertainty(SALTY, ReadingErrors(mud_weight=ERRORS.mud_weight)).standard,
            ),
        ),
    ),
    Check(
        claim="standard deviation of 50,000 drawn retorts of it",
        compute=lambda: drawn().std(),
        value=by_law,
        unit="percent",
        relative=0.015,
        because="50,000 draws know it to 0.3 %; the rest is the second order",
        source=f"{GUIDE} 5.1.2, formula",
        status=Status.MEMORY,
        wrong_turns=(("chlorides known", lambda: drawn(errors=_NO_OIL_ERROR).std()),),
    ),
    Check(
        claim="upper limit of 95 % of them",
        compute=lambda: coverage_interval(drawn())[1],
        value=lambda: stats.norm.ppf(0.975, loc=api_form(16.0, 57.0, 7.5, 73_000.0), scale=by_law()),
        unit="percent",
        absolute=0.05,
        because="50,000 draws know the quantile to 0.02 points",
        source="scipy.stats.norm about the API form",
        status=Status.LIBRARY,
        wrong_turns=(("one standard uncertainty", lambda: drawn().mean() + drawn().std()),),
    ),
    Check(
        claim="error of an unweighted mud from 0.05 lb/gal, percent",
        compute=lambda: low_gravity_uncertainty_by_weight(Q(9.2, "lb/gal"), Q(0.05, "lb/gal")),
        value=lambda: 100 * 0.05 * SG / (2.6 - 1.0),
        unit="percent",
        relative=1e-9,
        because="the same slope; only rounding of floating point remains",
        source="derivative of (MW - 1) / 1.6",
        status=Status.DERIVED,
        wrong_turns=(
            ("8.33 for 8.345", lambda: Q(5 / 8.33 / 1.6, "percent")),
            ("divided by SG 2.6", lambda: Q(5 * SG / 2.6, "percent")),
        ),
    ),
]

_NO_OIL_ERROR = ReadingErrors(mud_weight=ERRORS.mud_weight, water=ERRORS.water)

READINGS = [
    Check(
        claim=f"0.05 mL in a cup of {cup} mL, percent",
        compute=lambda cup=cup: reading_error(Q(0.05, "mL"), Q(cup, "mL")),
        value=percent,
        unit="percent",
        relative=1e-9,
        because="the receiver's precision over the cup, exact",
        source=EPA,
        status=Status.RESTATED,
        wrong_turns=(("of the other cup", lambda percent=percent: Q(0.6 - percent, "percent")),),
    )
    for cup, percent in ((10, 0.5), (50, 0.1))
] + [
    Check(
        claim="standard uncertainty of a reading within 0.05 each way",
        compute=lambda: standard_from_limits(Q(0.05, "lb/gal")),
        value=lambda: stats.uniform(-0.05, 0.10).std(),
        unit="lb/gal",
        relative=1e-9,
        because="the same distribution",
        source="scipy.stats.uniform",
        status=Status.LIBRARY,
        wrong_turns=(("the limit itself", lambda: Q(0.05, "lb/gal")), ("half of it", lambda: Q(0.025, "lb/gal"))),
    ),
]

CHECKS = SLOPES + WHOLE + READINGS


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected
