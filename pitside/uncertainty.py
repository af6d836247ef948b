"""How well a retort knows the low-gravity solids: from the errors of its readings, by formula and by drawing.

``reading_error``, ``standard_from_limits``: standard uncertainties of readings. ``low_gravity_sensitivities``: how far
low-gravity solids move with each reading. ``low_gravity_uncertainty``: all of them together, first order.
``draw_low_gravity``, ``coverage_interval``: the same by Monte Carlo, as arrays. ``low_gravity_uncertainty_by_weight``:
of an unweighted mud known by its weight alone.

Errors are standard uncertainties (one standard deviation) and independent, but for the volume of the sample in the
retort cup, which moves water and oil together. A reading that is known to within limits, say half a graduation each
way, has a standard uncertainty of the limit over the root of 3.

In a weighted mud a tenth of a lb/gal is worth 0.75 low-gravity points and one point of water two of them, whatever the
mud weighs; what makes a heavy mud worse is that the density of its barite is not quite known.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass, replace

import numpy as np
import pint

from pitside.materials import BARITE, LOW_GRAVITY
from pitside.retort import (
    OIL,
    SaltForm,
    corrected_solids_api,
    corrected_solids_book,
    filtrate_density_api,
    filtrate_density_book,
    low_gravity_unweighted,
    solids_analysis,
)
from pitside.units import WATER_4C, Q, Quantity, number, quantities, quantity_fields, require

_SALT = {
    SaltForm.API: (corrected_solids_api, filtrate_density_api),
    SaltForm.BOOK: (corrected_solids_book, filtrate_density_book),
}
_KNOWN_DENSITY, _KNOWN_SHARE = Q(0.0, "kg/m**3"), Q(0.0)
#: Water by which the salt corrections are asked for the volume of salt.
_HALF = 0.5


class ErrorSource(enum.Enum):
    """What an error of low-gravity solids comes from; the value is its name on a page."""

    MUD_WEIGHT = "mud weight"
    WATER = "water"
    OIL = "oil"
    CHLORIDE = "chlorides"
    SAMPLE = "volume of the sample"
    OIL_DENSITY = "density of the oil"
    HIGH_GRAVITY_DENSITY = "density of the weighting material"
    LOW_GRAVITY_DENSITY = "density of the low-gravity solids"


@quantity_fields(
    mud_weight="[density]",
    water="[]",
    oil="[]",
    chloride="[density]",
    oil_density="[density]",
    high_gravity_density="[density]",
    low_gravity_density="[density]",
)
@dataclass(frozen=True)
class RetortReadings:
    """What was read of a weighted water-base mud, and what was taken as known."""

    mud_weight: pint.Quantity
    water: pint.Quantity | float
    oil: pint.Quantity | float = 0.0
    chloride: pint.Quantity = _KNOWN_DENSITY
    oil_density: pint.Quantity = OIL
    high_gravity_density: pint.Quantity = BARITE
    low_gravity_density: pint.Quantity = LOW_GRAVITY
    form: SaltForm = SaltForm.API


@quantity_fields(
    mud_weight="[density]",
    water="[]",
    oil="[]",
    chloride="[density]",
    sample="[]",
    oil_density="[density]",
    high_gravity_density="[density]",
    low_gravity_density="[density]",
)
@dataclass(frozen=True)
class ReadingErrors:
    """Standard uncertainties of the readings; what is left out is taken as known.

    ``sample`` is relative: the mud in the cup over what the cup should hold, less one.
    """

    mud_weight: pint.Quantity = _KNOWN_DENSITY
    water: pint.Quantity | float = _KNOWN_SHARE
    oil: pint.Quantity | float = _KNOWN_SHARE
    chloride: pint.Quantity = _KNOWN_DENSITY
    sample: pint.Quantity | float = _KNOWN_SHARE
    oil_density: pint.Quantity = _KNOWN_DENSITY
    high_gravity_density: pint.Quantity = _KNOWN_DENSITY
    low_gravity_density: pint.Quantity = _KNOWN_DENSITY


@dataclass(frozen=True)
class LowGravityUncertainty:
    """Low-gravity solids, their standard uncertainty, and what each error alone would make of it."""

    low_gravity: pint.Quantity
    standard: pint.Quantity
    contributions: dict[ErrorSource, pint.Quantity]

    def expanded(self, coverage_factor: float = 2.0) -> pint.Quantity:
        """The half-width that holds about 95 % with the usual factor of 2."""
        return coverage_factor * self.standard


@quantities(returns="[]", receiver_error="[volume]", cup="[volume]")
def reading_error(receiver_error: pint.Quantity, cup: pint.Quantity) -> pint.Quantity:
    """Error of a volume fraction from the error of the volume in the receiver.

    error = receiver_error / cup

    Parameters
    ----------
    receiver_error : of the volume read in the receiver, limit or standard uncertainty (mL); scalar or array.
    cup : volume of the retort cup (mL; 10, 20 or 50); scalar or array.

    Returns
    -------
    Error of the volume fraction, of the same kind as the error that was given.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative error; a cup that is not above zero.

    Valid range: any.
    Source: the definition; the receivers of [EPA1674] hold to 0.05 mL, seen restated.

    >>> print(f"{reading_error(Q(0.05, 'mL'), Q(10, 'mL')).to('percent'):.2f~P}")
    0.50 %
    """
    require(receiver_error >= Q(0, "mL"), "an error must not be negative")
    require(cup > Q(0, "mL"), "volume of the cup must be above zero")
    return receiver_error / cup


def standard_from_limits(half_width: pint.Quantity) -> pint.Quantity:
    """Standard uncertainty of a reading that lies anywhere within limits, all equally likely.

    standard = half_width / sqrt(3)

    Parameters
    ----------
    half_width : from the reading to either limit, in any unit; scalar or array.

    Returns
    -------
    Standard uncertainty, in the unit of the half-width.

    Raises
    ------
    CalculationError : no quantity; a negative half-width.

    Valid range: any.
    Source: the rectangular distribution; [JCGM100] 4.3.7, from memory.

    >>> print(f"{standard_from_limits(Q(0.05, 'lb/gal')):.4f~P}")
    0.0289 lb/gal
    """
    require(isinstance(half_width, Quantity), "give the limit as a quantity, with its unit")
    require(half_width.magnitude >= 0, "an error must not be negative")
    return half_width / 3**0.5


@dataclass(frozen=True)
class _Numbers:
    """Readings, or draws or errors of them, as plain numbers in SI."""

    mud_weight: np.ndarray
    water: np.ndarray
    oil: np.ndarray
    chloride: np.ndarray
    oil_density: np.ndarray
    high_gravity_density: np.ndarray
    low_gravity_density: np.ndarray
    sample: np.ndarray


#: Each source by the number that it moves.
_FIELDS = {
    ErrorSource.MUD_WEIGHT: "mud_weight",
    ErrorSource.WATER: "water",
    ErrorSource.OIL: "oil",
    ErrorSource.CHLORIDE: "chloride",
    ErrorSource.SAMPLE: "sample",
    ErrorSource.OIL_DENSITY: "oil_density",
    ErrorSource.HIGH_GRAVITY_DENSITY: "high_gravity_density",
    ErrorSource.LOW_GRAVITY_DENSITY: "low_gravity_density",
}


def _numbers(values: RetortReadings | ReadingErrors, sample: pint.Quantity | float) -> _Numbers:
    plain = {name: getattr(values, name).magnitude for name in _FIELDS.values() if name != "sample"}
    plain["sample"] = number(sample)
    return _Numbers(**{name: np.asarray(value, dtype=float) for name, value in plain.items()})


def _salt(chloride: np.ndarray, form: SaltForm) -> tuple[np.ndarray, np.ndarray]:
    """Volume that the salt adds to a volume of retort water, and density of the filtrate, kg/m3."""
    corrected_solids, filtrate_density = _SALT[form]
    wanted = Q(np.maximum(chloride, 0), "kg/m**3")
    added = (1 - _HALF - corrected_solids(_HALF, 0.0, wanted).magnitude) / _HALF
    return added, filtrate_density(wanted).magnitude


def _solids(numbers: _Numbers, form: SaltForm) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Volume and mass of the suspended solids in a volume of mud; volume and density of its filtrate."""
    water, oil = numbers.water / (1 + numbers.sample), numbers.oil / (1 + numbers.sample)
    added, filtrate_density = _salt(numbers.chloride, form)
    filtrate = water * (1 + added)
    mass = numbers.mud_weight - filtrate * filtrate_density - oil * numbers.oil_density
    return 1 - oil - filtrate, mass, filtrate, filtrate_density


def _low_gravity(numbers: _Numbers, form: SaltForm) -> np.ndarray:
    """Low-gravity solids of any readings, also of those that cannot be; the balance of the retort module in numbers."""
    volume, mass, _, _ = _solids(numbers, form)
    return (volume * numbers.high_gravity_density - mass) / (numbers.high_gravity_density - numbers.low_gravity_density)


def _chloride_slopes(chloride: np.ndarray, form: SaltForm) -> tuple[np.ndarray, np.ndarray]:
    """Slopes of the two published salt fits, by a difference of a thousandth each way (at least 1 mg/L)."""
    step = np.maximum(1e-3 * chloride, 1e-3)
    low, high = np.maximum(chloride - step, 0), chloride + step
    (added_low, density_low), (added_high, density_high) = _salt(low, form), _salt(high, form)
    return (added_high - added_low) / (high - low), (density_high - density_low) / (high - low)


def _sensitivities(numbers: _Numbers, form: SaltForm) -> dict[ErrorSource, np.ndarray]:
    """Slope of the low-gravity fraction in each of the numbers, SI, with no error of the sample."""
    high, low = numbers.high_gravity_density, numbers.low_gravity_density
    spread = high - low
    volume, mass, filtrate, filtrate_density = _solids(numbers, form)
    low_gravity = (volume * high - mass) / spread
    added_slope, density_slope = _chloride_slopes(numbers.chloride, form)
    per_water = 1 + _salt(numbers.chloride, form)[0]
    by_water = -per_water * (high - filtrate_density) / spread
    by_oil = -(high - numbers.oil_density) / spread
    by_chloride = -numbers.water * added_slope * (high - filtrate_density) + filtrate * density_slope
    return {
        ErrorSource.MUD_WEIGHT: -1 / spread * np.ones_like(low_gravity),
        ErrorSource.WATER: by_water,
        ErrorSource.OIL: by_oil,
        ErrorSource.CHLORIDE: by_chloride / spread,
        ErrorSource.SAMPLE: -(by_water * numbers.water + by_oil * numbers.oil),
        ErrorSource.OIL_DENSITY: numbers.oil / spread,
        ErrorSource.HIGH_GRAVITY_DENSITY: (volume - low_gravity) / spread,
        ErrorSource.LOW_GRAVITY_DENSITY: low_gravity / spread,
    }


def _analysed(readings: RetortReadings) -> pint.Quantity:
    """Low-gravity solids by the retort module, which refuses readings that cannot be."""
    return solids_analysis(
        readings.mud_weight,
        readings.water,
        readings.oil,
        readings.chloride,
        form=readings.form,
        oil_density=readings.oil_density,
        high_gravity_density=readings.high_gravity_density,
        low_gravity_density=readings.low_gravity_density,
    ).low_gravity


def _error_numbers(errors: ReadingErrors) -> _Numbers:
    numbers = _numbers(errors, errors.sample)
    for source, field in _FIELDS.items():
        require(getattr(numbers, field) >= 0, f"error of the {source.value} must not be negative")
    return numbers


def low_gravity_sensitivities(readings: RetortReadings) -> dict[ErrorSource, pint.Quantity]:
    """How far the low-gravity fraction moves with each reading.

    with D = high - low density: mud weight -1 / D, oil -(high - oil density) / D,
    water -(1 + salt) (high - filtrate density) / D, densities of the solids (fraction of that kind) / D

    Parameters
    ----------
    readings : of one mud, or arrays of muds.

    Returns
    -------
    Slope for each :class:`ErrorSource`: m3/kg for weights, densities and chlorides, plain numbers for volume fractions.

    Raises
    ------
    CalculationError : as :func:`pitside.retort.solids_analysis`.

    Valid range: weighted water-base mud; first order. The slope in the chlorides is a difference quotient of the salt
        form that the readings name.
    Source: derivatives of the [API13B1] balance; with fresh water [ASME2005] prints two of them, in
        Vlg = 62.5 + 2.0 Vs - 7.5 MW.

    >>> slopes = low_gravity_sensitivities(RetortReadings(Q(16.0, "lb/gal"), Q(64, "percent")))
    >>> print(f"{slopes[ErrorSource.MUD_WEIGHT].m_as('percent/(lb/gal)'):.2f} points for each lb/gal")
    -7.49 points for each lb/gal
    >>> print(f"{slopes[ErrorSource.WATER].magnitude:.1f} points for each point of water")
    -2.0 points for each point of water
    """
    _analysed(readings)
    found = _sensitivities(_numbers(readings, 0.0), readings.form)
    shares = (ErrorSource.WATER, ErrorSource.OIL, ErrorSource.SAMPLE)
    return {source: Q(slope[()], "" if source in shares else "m**3/kg") for source, slope in found.items()}


def low_gravity_uncertainty(readings: RetortReadings, errors: ReadingErrors) -> LowGravityUncertainty:
    """Standard uncertainty of low-gravity solids from the errors of the readings, to first order.

    standard = sqrt(sum((slope * error) ** 2))

    Parameters
    ----------
    readings : of one mud, or arrays of muds.
    errors : standard uncertainty of each reading.

    Returns
    -------
    :class:`LowGravityUncertainty`.

    Raises
    ------
    CalculationError : as :func:`pitside.retort.solids_analysis`; an error of the wrong dimension; a negative error.

    Valid range: independent errors, small against what would make a kind of solids negative.
    Source: law of propagation, [JCGM100] 5.1.2, from memory; :func:`draw_low_gravity` finds the same.

    >>> mud = RetortReadings(Q(16.0, "lb/gal"), Q(57, "percent"), Q(7.5, "percent"), Q(73_000, "mg/L"))
    >>> errors = ReadingErrors(mud_weight=Q(0.05, "lb/gal"), water=Q(0.5, "percent"), oil=Q(0.5, "percent"))
    >>> found = low_gravity_uncertainty(mud, errors)
    >>> print(f"{found.low_gravity.m_as('percent'):.1f} +- {found.standard.m_as('percent'):.1f} %")
    10.7 +- 1.5 %
    """
    low_gravity = _analysed(readings)
    slopes = _sensitivities(_numbers(readings, 0.0), readings.form)
    numbers = _error_numbers(errors)
    parts = {source: np.abs(slope * getattr(numbers, _FIELDS[source])) for source, slope in slopes.items()}
    standard = np.sqrt(sum(part**2 for part in parts.values()))
    return LowGravityUncertainty(low_gravity, Q(standard[()]), {source: Q(part[()]) for source, part in parts.items()})


def draw_low_gravity(
    readings: RetortReadings, errors: ReadingErrors, generator: np.random.Generator, draws: int = 10_000
) -> pint.Quantity:
    """Low-gravity solids of many retorts of one mud, each reading drawn about what was read.

    Every reading is drawn from a normal distribution; the balance is worked on the whole array at once. Draws that
    cannot be (a negative fraction) are kept, so that the mean is not shifted; chlorides stop at nought.

    Parameters
    ----------
    readings : of one mud, or arrays of muds.
    errors : standard uncertainty of each reading.
    generator : numpy's, so that the same start gives the same draws.
    draws : how many.

    Returns
    -------
    Low-gravity fraction of each draw; the draws are the first axis.

    Raises
    ------
    CalculationError : as :func:`low_gravity_uncertainty`; no draws.

    Valid range: as :func:`low_gravity_uncertainty`, but errors need not be small.
    Source: Monte Carlo of the [API13B1] or [Lapeyrouse2002] balance; [JCGM101], from memory.

    >>> mud = RetortReadings(Q(16.0, "lb/gal"), Q(57, "percent"), Q(7.5, "percent"), Q(73_000, "mg/L"))
    >>> errors = ReadingErrors(mud_weight=Q(0.05, "lb/gal"), water=Q(0.5, "percent"), oil=Q(0.5, "percent"))
    >>> found = draw_low_gravity(mud, errors, np.random.default_rng(7))
    >>> print(f"{found.mean().m_as('percent'):.1f} +- {found.std().m_as('percent'):.1f} %")
    10.7 +- 1.5 %
    """
    require(draws >= 1, "there must be at least one draw")
    _analysed(readings)
    centre, spread = _numbers(readings, 0.0), _error_numbers(errors)
    shape = np.broadcast_shapes(
        *(getattr(numbers, field).shape for numbers in (centre, spread) for field in _FIELDS.values())
    )
    drawn = {
        field: getattr(centre, field) + getattr(spread, field) * generator.standard_normal((draws, *shape))
        for field in _FIELDS.values()
        if np.any(getattr(spread, field) > 0)
    }
    found = _low_gravity(replace(centre, **drawn), readings.form)
    return Q(np.broadcast_to(found, (draws, *shape)).copy())


@quantities(returns=("[]", "[]"), drawn="[]", coverage="[]")
def coverage_interval(
    drawn: pint.Quantity, coverage: pint.Quantity | float = 0.95
) -> tuple[pint.Quantity, pint.Quantity]:
    """The limits that hold a share of the draws, as many left out below as above.

    from the (1 - coverage) / 2 to the (1 + coverage) / 2 quantile

    Parameters
    ----------
    drawn : fractions, the draws along the first axis.
    coverage : share of the draws inside; 95 % by default; scalar.

    Returns
    -------
    Lower and upper limit.

    Raises
    ------
    CalculationError : a value with a unit; a coverage outside 0 to 100 %; no draws.

    Valid range: enough draws, some hundreds beyond each limit.
    Source: [JCGM101], from memory.

    >>> limits = coverage_interval(Q(np.linspace(0, 0.10, 1001)), 0.90)
    >>> print([f"{limit.to('percent'):.1f~P}" for limit in limits])
    ['0.5 %', '9.5 %']
    """
    require((coverage > 0) & (coverage < 1), "coverage must lie above 0 and below 100 %")
    values = np.atleast_1d(drawn.magnitude)
    require(values.shape[0] > 0, "there are no draws")
    share = float(number(coverage))
    return Q(np.quantile(values, (1 - share) / 2, axis=0)), Q(np.quantile(values, (1 + share) / 2, axis=0))


@quantities(
    returns="[]",
    mud_weight="[density]",
    mud_weight_error="[density]",
    filtrate_density="[density]",
    low_gravity_density="[density]",
    low_gravity_density_error="[density]",
)
def low_gravity_uncertainty_by_weight(
    mud_weight: pint.Quantity,
    mud_weight_error: pint.Quantity,
    filtrate_density: pint.Quantity = WATER_4C,
    low_gravity_density: pint.Quantity = LOW_GRAVITY,
    low_gravity_density_error: pint.Quantity = _KNOWN_DENSITY,
) -> pint.Quantity:
    """Standard uncertainty of the low-gravity solids of an unweighted mud that is known by its weight alone.

    standard = sqrt(error ** 2 + (low_gravity * low_gravity_density_error) ** 2)
               / (low_gravity_density - filtrate_density)

    Parameters
    ----------
    mud_weight, mud_weight_error : the weight and its standard uncertainty (lb/gal, kg/m3 or SG); scalar or array.
    filtrate_density, low_gravity_density : fresh water and SG 2.60 by default.
    low_gravity_density_error : standard uncertainty of the density of the solids; none by default.

    Returns
    -------
    Standard uncertainty of the low-gravity fraction.

    Raises
    ------
    CalculationError : as :func:`pitside.retort.low_gravity_unweighted`; a negative error.

    Valid range: no oil, no weighting material, no gas; small errors.
    Source: derivatives of :func:`pitside.retort.low_gravity_unweighted`.

    >>> error = low_gravity_uncertainty_by_weight(Q(9.0, "lb/gal"), Q(0.05, "lb/gal"))
    >>> print(f"{error.to('percent'):.2f~P}")
    0.37 %
    """
    require(
        (mud_weight_error >= 0 * WATER_4C) & (low_gravity_density_error >= 0 * WATER_4C),
        "an error must not be negative",
    )
    low_gravity = low_gravity_unweighted(mud_weight, filtrate_density, low_gravity_density)
    together = (mud_weight_error**2 + (low_gravity * low_gravity_density_error) ** 2) ** 0.5
    return together / (low_gravity_density - filtrate_density)
