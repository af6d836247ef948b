"""Solids analysis of a water-base mud from its weight, its retort and the chlorides of its filtrate.

A retort boils the water off and leaves the salt with the solids, so the solids are first corrected for salt. Two
published salt corrections are here under their own names; they do not agree, and on one mud of 16 lb/gal they differ
by 0.67 low-gravity points, so say which one is meant:

``corrected_solids_api``, ``filtrate_density_api``: the form of [API13B1], from memory.
``corrected_solids_book``, ``filtrate_density_book``: the power fits of [Lapeyrouse2002].

``average_solids_density``, ``low_gravity_fraction``, ``low_gravity_from_average``, ``low_gravity_unweighted``,
``solids_concentration``: the mass balance, which is the same for both. ``solids_analysis``: everything from one retort.
``oil_water_ratio``.

Chlorides are in mg/L of filtrate. The book calls them "ppm", but against the density of sodium chloride brine
(CoolProp) its fits hold only for mg/L; in 20 % brine the two differ by 15 %. ``chloride_concentration`` turns parts per
million by mass into mg/L.

Water and oil are volume fractions of the mud: ``Q(57, "percent")`` or ``0.57``.
"""

from __future__ import annotations

import enum
import warnings
from dataclasses import dataclass

import numpy as np
import pint

from pitside.density import density_from_sg
from pitside.errors import ValidityWarning
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.units import WATER_4C, Q, number, quantities, quantity_fields, require, require_share

#: Diesel, SG 0.84: the oil of the form in [Lapeyrouse2002]; seen.
OIL = density_from_sg(0.84)
#: The water that the rounded "12 x lb/gal" of the retort formulas stands for (8.333 lb/gal): both published forms use
#: 12 where 11.983 goes with 1 g/mL. Worth 0.16 low-gravity points at 15 lb/gal.
WATER_OF_TWELVE = Q(100 / 12, "lb/gal")
#: Chlorides of saturated sodium chloride brine, about 26 % by weight: derived. Above it the fits were never meant.
CHLORIDE_SATURATED = Q(192_000.0, "mg/L")

#: Constants of the [API13B1] form, from memory.
_API_SALT, _API_SALT_SLOPE, _API_DENSITY = Q(1_680_000.0, "mg/L"), 1.21, Q(1.09e-6, "L/mg")
#: Constants and powers of the [Lapeyrouse2002] form, seen; chlorides in mg/L.
_BOOK_VOLUME, _BOOK_VOLUME_POWER, _BOOK_DENSITY, _BOOK_DENSITY_POWER = 5.88e-8, 1.2, 1.94e-6, 0.95

_NO_CHLORIDE = Q(0.0, "mg/L")


def _require_chloride(chloride: pint.Quantity) -> None:
    require(chloride >= _NO_CHLORIDE, "chlorides must not be negative")
    if np.any(chloride > CHLORIDE_SATURATED):
        warnings.warn(
            f"chlorides above {CHLORIDE_SATURATED:,.0f~P}, more than sodium chloride gives: the salt correction does "
            "not hold for other salts",
            ValidityWarning,
            stacklevel=4,
        )


def require_readings(water: pint.Quantity | float, oil: pint.Quantity | float) -> None:
    """Raise CalculationError where water and oil of a retort are below nothing, or more than the whole mud.

    >>> require_readings(Q(57, "percent"), Q(-3, "percent"))
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: water and oil must not be negative: check the retort readings
    """
    require((water >= 0) & (oil >= 0), "water and oil must not be negative: check the retort readings")
    require(water + oil <= 1, "water and oil are more than the whole mud: check the retort readings and their percent")


def require_closure(
    by_difference: pint.Quantity, solids: pint.Quantity | float, closure: pint.Quantity | float
) -> None:
    """Raise CalculationError where the solids that a retort gave miss those by difference by more than ``closure``.

    >>> require_closure(Q(32, "percent"), Q(35, "percent"), closure=Q(1, "percent"))
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: water, oil and solids add up to 103.0 %, not to 100 %: check the retort readings
    """
    missed = np.asarray(number(solids - by_difference))
    worst = max(np.ravel(100 * missed), key=abs)
    require(
        abs(missed) <= number(closure) + 1e-12,
        f"water, oil and solids add up to {100 + worst:.1f} %, not to 100 %: check the retort readings",
    )


@quantities(returns="[density]", chloride_by_mass="[]", filtrate_density="[density]")
def chloride_concentration(chloride_by_mass: pint.Quantity | float, filtrate_density: pint.Quantity) -> pint.Quantity:
    """Chlorides in mg/L from chlorides by mass (true parts per million).

    chloride = chloride_by_mass * filtrate_density

    Parameters
    ----------
    chloride_by_mass : mass of chlorides in a mass of filtrate (ppm by mass, a plain fraction); scalar or array.
    filtrate_density : density of the filtrate (kg/m3 or SG); scalar or array.

    Returns
    -------
    Chlorides, kg/m3 (``.to("mg/L")``).

    Raises
    ------
    CalculationError : a value of the wrong dimension; chlorides outside 0 to 100 %; a density not above zero.

    Valid range: 0 to 1 by mass.
    Source: the definition.

    >>> print(f"{chloride_concentration(Q(121_320, 'ppm_mass'), Q(1.1478, 'SG')).to('mg/L'):,.0f~P}")
    139,251 mg/l
    """
    require((chloride_by_mass >= 0) & (chloride_by_mass <= 1), "chlorides by mass must lie between 0 and 100 %")
    require(filtrate_density > Q(0, "kg/m**3"), "density of the filtrate must be above zero")
    return chloride_by_mass * filtrate_density


@quantities(returns="[]", water="[]", oil="[]", chloride="[density]")
def corrected_solids_api(
    water: pint.Quantity | float, oil: pint.Quantity | float, chloride: pint.Quantity = _NO_CHLORIDE
) -> pint.Quantity:
    """Suspended solids, corrected for salt in the form of API RP 13B-1.

    solids = (1 - water - oil) - water * Cl / (1 680 000 - 1.21 * Cl), Cl in mg/L

    Parameters
    ----------
    water, oil : volume fractions that the retort gave (percent or fraction); scalar or array.
    chloride : chlorides of the filtrate (mg/L); none by default; scalar or array.

    Returns
    -------
    Volume fraction of suspended solids in the mud.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative reading; readings above 100 %; more salt than solids.

    Valid range: sodium chloride brine up to saturation; warns (ValidityWarning) above.
    Source: [API13B1], from memory; the worked figure is derived.

    >>> solids = corrected_solids_api(Q(57, "percent"), Q(7.5, "percent"), Q(73_000, "mg/L"))
    >>> print(f"{solids.to('percent'):.3f~P}")
    32.886 %
    """
    _require_chloride(chloride)
    salt = water * chloride / (_API_SALT - _API_SALT_SLOPE * chloride)
    return _suspended(water, oil, salt)


@quantities(returns="[]", water="[]", oil="[]", chloride="[density]")
def corrected_solids_book(
    water: pint.Quantity | float, oil: pint.Quantity | float, chloride: pint.Quantity = _NO_CHLORIDE
) -> pint.Quantity:
    """Suspended solids, corrected for salt in the form of Lapeyrouse's book.

    solids = 1 - oil - water * (1 + 5.88e-8 * Cl ** 1.2), Cl in mg/L

    Parameters
    ----------
    water, oil : volume fractions that the retort gave (percent or fraction); scalar or array.
    chloride : chlorides of the filtrate (mg/L, though the book says ppm); none by default; scalar or array.

    Returns
    -------
    Volume fraction of suspended solids in the mud.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative reading; readings above 100 %; more salt than solids.

    Valid range: sodium chloride brine up to saturation; warns (ValidityWarning) above.
    Source: [Lapeyrouse2002] ch. 3, solids analysis, steps 1 and 2 (59.2974 and 33.2026 %).

    >>> solids = corrected_solids_book(Q(57, "percent"), Q(7.5, "percent"), Q(73_000, "mg/L"))
    >>> print(f"{solids.to('percent'):.4f~P}")
    33.2026 %
    """
    _require_chloride(chloride)
    salt = water * _BOOK_VOLUME * chloride.m_as("mg/L") ** _BOOK_VOLUME_POWER
    return _suspended(water, oil, salt)


def _suspended(water: pint.Quantity | float, oil: pint.Quantity | float, salt: pint.Quantity | float) -> pint.Quantity:
    require_readings(water, oil)
    solids = 1 - water - oil - salt
    require(
        solids >= -1e-12,
        "the salt of this filtrate takes up more than the retort solids: check chlorides (mg/L) and water",
    )
    return np.maximum(solids, 0)


@quantities(returns="[density]", chloride="[density]")
def filtrate_density_api(chloride: pint.Quantity) -> pint.Quantity:
    """Density of the filtrate in the form of API RP 13B-1.

    specific gravity = 1 + 1.09e-6 * Cl, Cl in mg/L

    Parameters
    ----------
    chloride : chlorides of the filtrate (mg/L); scalar or array.

    Returns
    -------
    Density of the filtrate, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; negative chlorides.

    Valid range: sodium chloride brine up to saturation; warns (ValidityWarning) above.
    Source: [API13B1], from memory; within 0.6 % of CoolProp's sodium chloride brine at 20 degC.

    >>> print(f"{filtrate_density_api(Q(73_000, 'mg/L')).to('SG'):.4f~P}")
    1.0796 SG
    """
    _require_chloride(chloride)
    return (1 + _API_DENSITY * chloride) * WATER_4C


@quantities(returns="[density]", chloride="[density]")
def filtrate_density_book(chloride: pint.Quantity) -> pint.Quantity:
    """Density of the filtrate in the form of Lapeyrouse's book.

    specific gravity = 1 + 1.94e-6 * Cl ** 0.95, Cl in mg/L

    Parameters
    ----------
    chloride : chlorides of the filtrate (mg/L, though the book says ppm); scalar or array.

    Returns
    -------
    Density of the filtrate, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; negative chlorides.

    Valid range: sodium chloride brine up to saturation; warns (ValidityWarning) above.
    Source: [Lapeyrouse2002] ch. 3, solids analysis, step 3 (1.0809).

    >>> print(f"{filtrate_density_book(Q(73_000, 'mg/L')).to('SG'):.4f~P}")
    1.0809 SG
    """
    _require_chloride(chloride)
    return (1 + _BOOK_DENSITY * chloride.m_as("mg/L") ** _BOOK_DENSITY_POWER) * WATER_4C


@quantities(
    returns="[density]",
    mud_weight="[density]",
    corrected_solids="[]",
    filtrate_density="[density]",
    oil="[]",
    oil_density="[density]",
    reference_water="[density]",
)
def average_solids_density(
    mud_weight: pint.Quantity,
    corrected_solids: pint.Quantity | float,
    filtrate_density: pint.Quantity,
    oil: pint.Quantity | float = 0.0,
    oil_density: pint.Quantity = OIL,
    reference_water: pint.Quantity = WATER_4C,
) -> pint.Quantity:
    """Average density of the suspended solids: what the mud weighs beyond its liquids, over their volume.

    average = (mud_weight - filtrate * filtrate_density - oil * oil_density) / corrected_solids,
    with filtrate = 1 - corrected_solids - oil

    Parameters
    ----------
    mud_weight : density of the mud (lb/gal, kg/m3 or SG); scalar or array.
    corrected_solids : volume fraction of suspended solids, corrected for salt; scalar or array.
    filtrate_density : density of the water with its salt (kg/m3 or SG); scalar or array.
    oil : volume fraction of oil (percent or fraction); none by default; scalar or array.
    oil_density : density of that oil; diesel by default; scalar or array.
    reference_water : the water by which the mud weight becomes a specific gravity; :data:`WATER_OF_TWELVE` gives the
        rounded 12 of the published forms.

    Returns
    -------
    Average density of the solids, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; no solids; solids and oil above 100 %; liquids that weigh more
        than the mud.

    Valid range: 0 < corrected_solids, corrected_solids + oil <= 1; no gas in the mud.
    Source: mass balance; [Lapeyrouse2002] ch. 3, solids analysis, step 4.

    >>> average = average_solids_density(Q(12.0, "lb/gal"), 0.35, Q(8.6, "lb/gal"), 0.60, Q(7.0, "lb/gal"))
    >>> print(f"{average.to('lb/gal'):.2f~P}")
    21.06 lb/gal
    """
    require(corrected_solids > 0, "there are no suspended solids, so they have no density: check the retort readings")
    solids_mass = _solids_mass(mud_weight, corrected_solids, filtrate_density, oil, oil_density, reference_water)
    require(
        solids_mass > Q(0, "kg/m**3"),
        "the liquids alone weigh more than the mud: check mud weight (gas in it?), water, oil and chlorides",
    )
    return solids_mass / corrected_solids


def _solids_mass(
    mud_weight: pint.Quantity,
    corrected_solids: pint.Quantity | float,
    filtrate_density: pint.Quantity,
    oil: pint.Quantity | float,
    oil_density: pint.Quantity,
    reference_water: pint.Quantity,
) -> pint.Quantity:
    """Mass of the suspended solids in a volume of mud."""
    nothing = Q(0, "kg/m**3")
    require((mud_weight > nothing) & (reference_water > nothing), "mud weight and water density must be above zero")
    require((filtrate_density > nothing) & (oil_density > nothing), "filtrate and oil density must be above zero")
    require((corrected_solids >= 0) & (oil >= 0), "solids and oil must not be negative: check the retort readings")
    require(corrected_solids + oil <= 1, "solids and oil are more than the whole mud: check the retort readings")
    filtrate = 1 - corrected_solids - oil
    return mud_weight / reference_water * WATER_4C - filtrate * filtrate_density - oil * oil_density


@quantities(
    returns="[]",
    mud_weight="[density]",
    corrected_solids="[]",
    filtrate_density="[density]",
    oil="[]",
    oil_density="[density]",
    high_gravity_density="[density]",
    low_gravity_density="[density]",
    reference_water="[density]",
)
def low_gravity_fraction(
    mud_weight: pint.Quantity,
    corrected_solids: pint.Quantity | float,
    filtrate_density: pint.Quantity,
    oil: pint.Quantity | float = 0.0,
    oil_density: pint.Quantity = OIL,
    high_gravity_density: pint.Quantity = BARITE,
    low_gravity_density: pint.Quantity = LOW_GRAVITY,
    reference_water: pint.Quantity = WATER_4C,
) -> pint.Quantity:
    """Volume fraction of low-gravity solids in a weighted mud; the rest of the corrected solids is high-gravity.

    low_gravity = (corrected_solids * high_gravity_density - mass of solids)
                  / (high_gravity_density - low_gravity_density),
    with the mass of solids in a volume of mud as in :func:`average_solids_density`

    Parameters
    ----------
    mud_weight : density of the mud (lb/gal, kg/m3 or SG); scalar or array.
    corrected_solids : volume fraction of suspended solids, corrected for salt; scalar or array.
    filtrate_density : density of the water with its salt (kg/m3 or SG); scalar or array.
    oil : volume fraction of oil (percent or fraction); none by default; scalar or array.
    oil_density, high_gravity_density, low_gravity_density : diesel, barite of SG 4.20 and solids of SG 2.60 by default.
    reference_water : the water by which the mud weight becomes a specific gravity; :data:`WATER_OF_TWELVE` gives the
        rounded 12 of the published forms.

    Returns
    -------
    Volume fraction of low-gravity solids in the mud.

    Raises
    ------
    CalculationError : a value of the wrong dimension; readings that cannot be; an average density of the solids
        outside that of the two kinds, which makes one of them negative.

    Valid range: 0 <= low_gravity <= corrected_solids.
    Source: [API13B1] form, from memory: [100 rf + (rb - rf) Vs - 12 MW - (rf - ro) Vo] / (rb - rlg); with fresh water
        and no oil [ASME2005] prints it as 62.5 + 2.0 Vs - 7.5 MW (40 % for 60 % solids at 19.0 lb/gal).

    >>> share = low_gravity_fraction(Q(19.0, "lb/gal"), 0.60, WATER_4C, reference_water=WATER_OF_TWELVE)
    >>> print(f"{share.to('percent'):.1f~P}")
    40.0 %
    """
    require(high_gravity_density > low_gravity_density, "high-gravity solids must be denser than low-gravity solids")
    solids_mass = _solids_mass(mud_weight, corrected_solids, filtrate_density, oil, oil_density, reference_water)
    spread = high_gravity_density - low_gravity_density
    low_gravity = ((corrected_solids * high_gravity_density - solids_mass) / spread).to("")
    require(
        low_gravity >= -1e-12,
        "low-gravity solids come out negative: the solids weigh more than all of them being weighting material. "
        "Check mud weight, water (too high a reading leaves too few solids) and the density of the weighting material",
    )
    require(
        low_gravity <= corrected_solids + 1e-12,
        "high-gravity solids come out negative: the solids weigh less than all of them being low-gravity. Check mud "
        "weight (gas in it?), water (too low a reading leaves too many solids) and whether the mud is weighted at all",
    )
    return np.clip(low_gravity, 0, corrected_solids)


@quantities(
    returns="[]",
    corrected_solids="[]",
    average_density="[density]",
    high_gravity_density="[density]",
    low_gravity_density="[density]",
)
def low_gravity_from_average(
    corrected_solids: pint.Quantity | float,
    average_density: pint.Quantity,
    high_gravity_density: pint.Quantity = BARITE,
    low_gravity_density: pint.Quantity = LOW_GRAVITY,
) -> pint.Quantity:
    """Volume fraction of low-gravity solids in the mud from the average density of its solids.

    low_gravity = corrected_solids * (high_gravity_density - average_density)
                  / (high_gravity_density - low_gravity_density)

    The second of the two steps in which a person with a calculator does :func:`low_gravity_fraction`.

    Parameters
    ----------
    corrected_solids : volume fraction of suspended solids, corrected for salt; scalar or array.
    average_density : their average density, as :func:`average_solids_density` gives it; scalar or array.
    high_gravity_density, low_gravity_density : barite of SG 4.20 and solids of SG 2.60 by default.

    Returns
    -------
    Volume fraction of low-gravity solids in the mud.

    Raises
    ------
    CalculationError : a value of the wrong dimension; solids outside 0 to 100 %; a density that is not above zero.

    Valid range: low_gravity_density <= average_density <= high_gravity_density; outside it one kind comes out negative
    and it warns (ValidityWarning). :func:`low_gravity_fraction` refuses the readings that lead there.
    Source: mass balance; [Lapeyrouse2002] ch. 3, solids analysis, as SS (4.2 - ASG) / 1.6, from memory.

    >>> share = low_gravity_from_average(Q(33.2026, "percent"), Q(3.6625, "SG"))
    >>> print(f"{share.to('percent'):.2f~P}")
    11.15 %
    """
    require_share(corrected_solids=corrected_solids)
    require(high_gravity_density > low_gravity_density, "high-gravity solids must be denser than low-gravity solids")
    nothing = Q(0, "kg/m**3")
    require((average_density > nothing) & (low_gravity_density > nothing), "densities must be above zero")
    if np.any((average_density < low_gravity_density) | (average_density > high_gravity_density)):
        warnings.warn(
            "the average density of the solids lies outside that of low-gravity and high-gravity solids: one of the "
            "two comes out negative",
            ValidityWarning,
            stacklevel=3,
        )
    return corrected_solids * (high_gravity_density - average_density) / (high_gravity_density - low_gravity_density)


@quantities(returns="[]", mud_weight="[density]", filtrate_density="[density]", low_gravity_density="[density]")
def low_gravity_unweighted(
    mud_weight: pint.Quantity,
    filtrate_density: pint.Quantity = WATER_4C,
    low_gravity_density: pint.Quantity = LOW_GRAVITY,
) -> pint.Quantity:
    """Volume fraction of low-gravity solids in a mud without oil or weighting material, from its weight alone.

    low_gravity = (mud_weight - filtrate_density) / (low_gravity_density - filtrate_density)

    Parameters
    ----------
    mud_weight : density of the mud (lb/gal, kg/m3 or SG); scalar or array.
    filtrate_density : density of the water with its salt; fresh water by default; scalar or array.
    low_gravity_density : density of the solids; SG 2.60 by default; scalar or array.

    Returns
    -------
    Volume fraction of low-gravity solids in the mud.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a mud lighter than its water or heavier than its solids.

    Valid range: filtrate_density <= mud_weight <= low_gravity_density; no oil, no weighting material, no gas.
    Source: mass balance, derived.

    >>> print(f"{low_gravity_unweighted(Q(9.0, 'lb/gal')).to('percent'):.1f~P}")
    4.9 %
    """
    require(filtrate_density > Q(0, "kg/m**3"), "density of the filtrate must be above zero")
    require(low_gravity_density > filtrate_density, "the solids must be denser than the filtrate")
    require(mud_weight >= filtrate_density, "the mud is lighter than its own water: check for gas or oil in it")
    require(
        mud_weight <= low_gravity_density, "the mud is heavier than its own solids: it must hold weighting material"
    )
    return (mud_weight - filtrate_density) / (low_gravity_density - filtrate_density)


@quantities(returns="[density]", fraction="[]", density="[density]")
def solids_concentration(fraction: pint.Quantity | float, density: pint.Quantity) -> pint.Quantity:
    """Mass of a kind of solids in a volume of mud.

    concentration = fraction * density

    Parameters
    ----------
    fraction : volume fraction of these solids in the mud (percent or fraction); scalar or array.
    density : density of the solids themselves (kg/m3 or SG); scalar or array.

    Returns
    -------
    Concentration, kg/m3 of mud (``.to("lb/bbl")``).

    Raises
    ------
    CalculationError : a value of the wrong dimension; a fraction outside 0 to 100 %; a density not above zero.

    Valid range: 0 to 1 by volume.
    Source: the definition; [Lapeyrouse2002] rounds it to 14.71 lb/bbl for each percent of barite, 9.1 of low-gravity.

    >>> print(f"{solids_concentration(Q(1, 'percent'), BARITE).to('lb/bbl'):.2f~P}")
    14.72 lb/bbl
    """
    require((fraction >= 0) & (fraction <= 1), "a volume fraction must lie between 0 and 100 %")
    require(density > Q(0, "kg/m**3"), "density of the solids must be above zero")
    return fraction * density


@quantities(returns=("[]", "[]"), oil="[]", water="[]")
def oil_water_ratio(oil: pint.Quantity | float, water: pint.Quantity | float) -> tuple[pint.Quantity, pint.Quantity]:
    """Oil and water as shares of the liquid of a mud.

    oil share = oil / (oil + water)

    Parameters
    ----------
    oil, water : volume fractions that the retort gave (percent or fraction); scalar or array.

    Returns
    -------
    Oil share, water share; together 1.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative reading; readings above 100 %; no liquid.

    Valid range: 0 < oil + water <= 1.
    Source: seen in "Calculations for NAF base muds" (author unknown): 63, 27 and 10 % solids are 70/30.

    >>> oil, water = oil_water_ratio(Q(63, "percent"), Q(27, "percent"))
    >>> print(f"{oil.to('percent'):.0f~P} / {water.to('percent'):.0f~P}")
    70 % / 30 %
    """
    require_readings(water, oil)
    liquid = Q(1.0) * (oil + water)
    require(liquid > 0, "the retort gave no liquid, so there is no ratio")
    return oil / liquid, water / liquid


class SaltForm(enum.Enum):
    """Which published salt correction a solids analysis uses."""

    API = "API RP 13B-1 form"
    BOOK = "Lapeyrouse form"


_CORRECTED_SOLIDS = {SaltForm.API: corrected_solids_api, SaltForm.BOOK: corrected_solids_book}
_FILTRATE_DENSITY = {SaltForm.API: filtrate_density_api, SaltForm.BOOK: filtrate_density_book}


@quantity_fields(
    retort_solids="[]",
    corrected_solids="[]",
    filtrate_density="[density]",
    average_solids_density="[density]",
    low_gravity="[]",
    high_gravity="[]",
    low_gravity_concentration="[density]",
    high_gravity_concentration="[density]",
)
@dataclass(frozen=True)
class SolidsAnalysis:
    """What one retort tells; fractions are of the volume of the mud, concentrations are mass per volume of mud."""

    form: SaltForm
    retort_solids: pint.Quantity
    corrected_solids: pint.Quantity
    filtrate_density: pint.Quantity
    average_solids_density: pint.Quantity
    low_gravity: pint.Quantity
    high_gravity: pint.Quantity
    low_gravity_concentration: pint.Quantity
    high_gravity_concentration: pint.Quantity


@quantities(
    mud_weight="[density]",
    water="[]",
    oil="[]",
    chloride="[density]",
    solids="[]",
    closure="[]",
    oil_density="[density]",
    high_gravity_density="[density]",
    low_gravity_density="[density]",
    reference_water="[density]",
)
def solids_analysis(
    mud_weight: pint.Quantity,
    water: pint.Quantity | float,
    oil: pint.Quantity | float = 0.0,
    chloride: pint.Quantity = _NO_CHLORIDE,
    *,
    form: SaltForm = SaltForm.API,
    solids: pint.Quantity | float | None = None,
    closure: pint.Quantity | float = 0.01,
    oil_density: pint.Quantity = OIL,
    high_gravity_density: pint.Quantity = BARITE,
    low_gravity_density: pint.Quantity = LOW_GRAVITY,
    reference_water: pint.Quantity = WATER_4C,
) -> SolidsAnalysis:
    """Everything that one retort of a weighted water-base mud tells.

    Parameters
    ----------
    mud_weight : density of the mud (lb/gal, kg/m3 or SG); scalar or array.
    water, oil : volume fractions that the retort gave (percent or fraction); scalar or array.
    chloride : chlorides of the filtrate (mg/L); none (fresh water) by default; scalar or array.
    form : which published salt correction.
    solids : the retort's solids if they were read too; they only check that the retort closes, the analysis takes
        them by difference.
    closure : how far water, oil and solids may miss 100 % (1 % by default; common practice, no source).
    oil_density, high_gravity_density, low_gravity_density : diesel, barite of SG 4.20 and solids of SG 2.60 by default.
    reference_water : :data:`WATER_OF_TWELVE` gives the rounded 12 of the published forms.

    Returns
    -------
    :class:`SolidsAnalysis`, each field of the shape of the inputs.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a retort that does not close; more of either kind of solids than
        there are solids (see :func:`low_gravity_fraction`).

    Valid range: water-base mud with sodium chloride; warns (ValidityWarning) above saturation.
    Source: [Lapeyrouse2002] ch. 3 and [API13B1] (from memory); on this mud they differ by 0.67 low-gravity points.

    >>> readings = Q(16.0, "lb/gal"), Q(57, "percent"), Q(7.5, "percent"), Q(73_000, "mg/L")
    >>> for form in SaltForm:
    ...     analysis = solids_analysis(*readings, form=form, reference_water=WATER_OF_TWELVE)
    ...     print(f"{form.value}: {analysis.low_gravity.to('percent'):.2f~P}")
    API RP 13B-1 form: 10.49 %
    Lapeyrouse form: 11.15 %
    """
    corrected = _CORRECTED_SOLIDS[form](water, oil, chloride)
    by_difference = corrected_solids_api(water, oil)
    if solids is not None:
        require_closure(by_difference, solids, closure)
    filtrate = _FILTRATE_DENSITY[form](chloride)
    liquid_and_solids = (mud_weight, corrected, filtrate, oil, oil_density)
    average = average_solids_density(*liquid_and_solids, reference_water)
    low_gravity = low_gravity_fraction(*liquid_and_solids, high_gravity_density, low_gravity_density, reference_water)
    high_gravity = corrected - low_gravity
    return SolidsAnalysis(
        form=form,
        retort_solids=by_difference,
        corrected_solids=corrected,
        filtrate_density=filtrate,
        average_solids_density=average,
        low_gravity=low_gravity,
        high_gravity=high_gravity,
        low_gravity_concentration=solids_concentration(low_gravity, low_gravity_density),
        high_gravity_concentration=solids_concentration(high_gravity, high_gravity_density),
    )
