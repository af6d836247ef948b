"""Solids analysis of an invert mud: oil outside, brine drops inside, and solids.

A retort boils oil and water off and leaves the salt of the brine with the solids. So the brine is rebuilt from its
water and its salt, and what is left over is the suspended solids:

``brine_density``: of calcium chloride or sodium chloride brine at 20 degC. ``salt_fraction``: from the chlorides of
the mud. ``brine_fraction``, ``corrected_solids``: volumes. ``invert_analysis``: everything from one retort.
``oil_to_raise_ratio``, ``water_to_lower_ratio``: to change the oil-water ratio.

The family of API RP 13B-2, by volume and mass balance; its own brine polynomial is not used. The brine densities were
fitted here to values of the CoolProp library (its fluids MCA and MNA at 20 degC, which themselves are fits to
measurements), through pure water of 998.2 kg/m3:

    calcium chloride  998.2 * (1 + 0.8362 S + 0.3730 S^2), S to 0.30, within 1.5 kg/m3 of CoolProp
    sodium chloride   998.2 * (1 + 0.7025 S + 0.2335 S^2), S to 0.23, within 0.2 kg/m3 of CoolProp

with S the mass of dry salt in a mass of brine. Against the table of the CRC Handbook (102nd edition, restated) the
calcium chloride brine comes out up to 2.7 kg/m3 too dense, most near 16 %, and the sodium chloride brine within
0.3 kg/m3. An error of 2.7 kg/m3 moves the low-gravity solids of a mud with 20 % of brine by less than 0.13 points. The
brine holds one salt; lime, emulsifiers and what else dissolves are left out.
"""

from __future__ import annotations

import enum
import warnings
from dataclasses import dataclass

import numpy as np
import pint

from pitside.errors import ValidityWarning
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.retort import (
    OIL,
    average_solids_density,
    low_gravity_fraction,
    oil_water_ratio,
    require_closure,
    require_readings,
    solids_concentration,
)
from pitside.units import Q, quantities, quantity_fields, require, require_share

#: Pure water at 20 degC, in which the retort is read; CoolProp's 998.207 rounded.
WATER_20C = Q(998.2, "kg/m**3")


@dataclass(frozen=True)
class SaltData:
    """A salt of a brine: fit of its density (see the head of the module) and mass of salt in a mass of its chloride."""

    words: str
    linear: float
    square: float
    highest: float
    mass_per_chloride: float


class Salt(enum.Enum):
    """Salt of the brine in an invert mud."""

    #: 110.98 / 70.91 g/mol, from memory; field sheets round it to 1.57.
    CALCIUM_CHLORIDE = SaltData("calcium chloride", 0.8362, 0.3730, 0.30, 1.5652)
    #: 58.44 / 35.45 g/mol, from memory; field sheets round it to 1.65.
    SODIUM_CHLORIDE = SaltData("sodium chloride", 0.7025, 0.2335, 0.23, 1.6485)


@quantities(returns="[density]", mass_fraction="[]")
def brine_density(mass_fraction: pint.Quantity | float, salt: Salt = Salt.CALCIUM_CHLORIDE) -> pint.Quantity:
    """Density of brine at 20 degC from its salt.

    density = 998.2 kg/m3 * (1 + a * S + b * S ** 2)

    Parameters
    ----------
    mass_fraction : S, mass of dry salt in a mass of brine (percent by weight or fraction); scalar or array.
    salt : calcium chloride by default; a = 0.8362, b = 0.3730, or for sodium chloride 0.7025 and 0.2335.

    Returns
    -------
    Density, kg/m3.

    Raises
    ------
    CalculationError : a value with a unit; a mass fraction below 0 or not below 100 %.

    Valid range: S up to 0.30 (sodium chloride 0.23), 20 degC; warns (ValidityWarning) above.
    Source: fitted here to CoolProp (MCA, MNA), within 1.5 and 0.2 kg/m3; up to 2.7 and 0.3 kg/m3 off the CRC Handbook.

    >>> print(f"{brine_density(Q(25, 'percent')).to('SG'):.3f~P}")
    1.230 SG
    """
    require((mass_fraction >= 0) & (mass_fraction < 1), "mass fraction of salt must be at least 0 and below 100 %")
    data = salt.value
    if np.any(mass_fraction > data.highest):
        warnings.warn(
            f"more than {data.highest:.0%} of {data.words} by weight: the density of the brine was not fitted there",
            ValidityWarning,
            stacklevel=3,
        )
    return WATER_20C * (1 + data.linear * mass_fraction + data.square * mass_fraction**2)


@quantities(returns="[]", chloride="[density]", water="[]")
def salt_fraction(
    chloride: pint.Quantity, water: pint.Quantity | float, salt: Salt = Salt.CALCIUM_CHLORIDE
) -> pint.Quantity:
    """Mass fraction of salt in the brine from the chlorides of the whole mud.

    S = salt / (salt + water * 998.2 kg/m3), with salt = chloride * 1.565 (sodium chloride: 1.649)

    Parameters
    ----------
    chloride : mass of chlorides in a volume of whole mud, not of brine (mg/L); scalar or array.
    water : volume fraction of water that the retort gave (percent or fraction); scalar or array.
    salt : the salt that the chlorides belong to; calcium chloride by default.

    Returns
    -------
    Mass of dry salt in a mass of brine.

    Raises
    ------
    CalculationError : a value of the wrong dimension; negative chlorides; water outside 0 to 100 % or none at all.

    Valid range: all chlorides belong to one salt, and all of it is dissolved.
    Source: the balance of API RP 13B-2, from memory; molar masses from memory.

    >>> print(f"{salt_fraction(Q(38_000, 'mg/L'), Q(18, 'percent')).to('percent'):.1f~P}")
    24.9 %
    """
    require(chloride >= Q(0, "mg/L"), "chlorides must not be negative")
    require((water > 0) & (water <= 1), "water must lie above 0 and up to 100 %: without water there is no brine")
    dry = chloride * salt.value.mass_per_chloride
    return dry / (dry + water * WATER_20C)


@quantities(returns="[]", water="[]", mass_fraction="[]")
def brine_fraction(
    water: pint.Quantity | float, mass_fraction: pint.Quantity | float, salt: Salt = Salt.CALCIUM_CHLORIDE
) -> pint.Quantity:
    """Volume of brine in the mud, rebuilt from the water that the retort gave and the salt that it left behind.

    brine = water * 998.2 kg/m3 / ((1 - S) * density of the brine)

    Parameters
    ----------
    water : volume fraction of water that the retort gave (percent or fraction); scalar or array.
    mass_fraction : S, mass of dry salt in a mass of brine (percent by weight or fraction); scalar or array.
    salt : calcium chloride by default.

    Returns
    -------
    Volume fraction of brine in the mud.

    Raises
    ------
    CalculationError : a value with a unit; water outside 0 to 100 %; a mass fraction below 0 or not below 100 %.

    Valid range: as :func:`brine_density`.
    Source: mass balance, derived.

    >>> print(f"{brine_fraction(Q(18, 'percent'), Q(25, 'percent')).to('percent'):.2f~P}")
    19.47 %
    """
    require_share(water=water)
    return water * WATER_20C / ((1 - mass_fraction) * brine_density(mass_fraction, salt))


@quantities(returns="[]", water="[]", oil="[]", mass_fraction="[]")
def corrected_solids(
    water: pint.Quantity | float,
    oil: pint.Quantity | float,
    mass_fraction: pint.Quantity | float,
    salt: Salt = Salt.CALCIUM_CHLORIDE,
) -> pint.Quantity:
    """Suspended solids of an invert mud: the mud less its oil and its brine.

    solids = 1 - oil - brine

    Parameters
    ----------
    water, oil : volume fractions that the retort gave (percent or fraction); scalar or array.
    mass_fraction, salt : as :func:`brine_fraction`.

    Returns
    -------
    Volume fraction of suspended solids in the mud.

    Raises
    ------
    CalculationError : a value with a unit; a negative reading; readings above 100 %; more salt than solids.

    Valid range: as :func:`brine_density`.
    Source: volume balance, derived.

    >>> solids = corrected_solids(Q(18, "percent"), Q(54, "percent"), Q(25, "percent"))
    >>> print(f"{solids.to('percent'):.2f~P}")
    26.53 %
    """
    require_readings(water, oil)
    solids = 1 - oil - brine_fraction(water, mass_fraction, salt)
    require(
        solids >= -1e-12,
        "the salt of this brine takes up more than the retort solids: check the salt (percent by weight) and the water",
    )
    return np.maximum(solids, 0)


@quantities(returns="[]", oil="[]", water="[]", oil_share="[]")
def oil_to_raise_ratio(
    oil: pint.Quantity | float, water: pint.Quantity | float, oil_share: pint.Quantity | float
) -> pint.Quantity:
    """Volume of oil, for a volume of mud, that raises the oil-water ratio to a wanted one.

    oil added = water * oil_share / (1 - oil_share) - oil

    Parameters
    ----------
    oil, water : volume fractions that the retort gave (percent or fraction); scalar or array.
    oil_share : oil in the liquid that is wanted: 0.80 for a ratio of 80/20; scalar or array.

    Returns
    -------
    Volume of oil to add to a volume of mud, a plain ratio (bbl for each bbl).

    Raises
    ------
    CalculationError : a value with a unit; readings that cannot be; no water; a share not below 100 %, or below that of
        the mud.

    Valid range: oil / (oil + water) <= oil_share < 1.
    Source: volume balance; seen in a public mud text (52 % oil and 10 % water to 88/12 take 0.213 bbl for each bbl).

    >>> print(f"{oil_to_raise_ratio(Q(52, 'percent'), Q(10, 'percent'), Q(88, 'percent')).magnitude:.3f}")
    0.213
    """
    require_readings(water, oil)
    require(water > 0, "without water there is no ratio to raise")
    require(oil_share < 1, "the share of oil must lie below 100 %")
    added = water * oil_share / (1 - oil_share) - oil
    require(added >= -1e-12, "the mud has a higher share of oil than is wanted: add water (water_to_lower_ratio)")
    return np.maximum(added, 0)


@quantities(returns="[]", oil="[]", water="[]", oil_share="[]")
def water_to_lower_ratio(
    oil: pint.Quantity | float, water: pint.Quantity | float, oil_share: pint.Quantity | float
) -> pint.Quantity:
    """Volume of water, for a volume of mud, that lowers the oil-water ratio to a wanted one.

    water added = oil * (1 - oil_share) / oil_share - water

    Parameters
    ----------
    oil, water : volume fractions that the retort gave (percent or fraction); scalar or array.
    oil_share : oil in the liquid that is wanted: 0.70 for a ratio of 70/30; scalar or array.

    Returns
    -------
    Volume of water to add to a volume of mud, a plain ratio (bbl for each bbl). Salt for it is not in it.

    Raises
    ------
    CalculationError : a value with a unit; readings that cannot be; no oil; a share not above 0, or above that of the
        mud.

    Valid range: 0 < oil_share <= oil / (oil + water).
    Source: volume balance; its twin is seen in a public mud text (:func:`oil_to_raise_ratio`).

    >>> print(f"{water_to_lower_ratio(Q(64, 'percent'), Q(16, 'percent'), Q(75, 'percent')).magnitude:.4f}")
    0.0533
    """
    require_readings(water, oil)
    require(oil > 0, "without oil there is no ratio to lower")
    require(oil_share > 0, "the share of oil must lie above 0 %")
    added = oil * (1 - oil_share) / oil_share - water
    require(added >= -1e-12, "the mud has a lower share of oil than is wanted: add oil (oil_to_raise_ratio)")
    return np.maximum(added, 0)


@quantity_fields(
    retort_solids="[]",
    brine="[]",
    brine_density="[density]",
    corrected_solids="[]",
    oil_share="[]",
    water_share="[]",
    average_solids_density="[density]",
    low_gravity="[]",
    high_gravity="[]",
    low_gravity_concentration="[density]",
    high_gravity_concentration="[density]",
)
@dataclass(frozen=True)
class InvertAnalysis:
    """What one retort of an invert mud tells; fractions are of the volume of the mud, concentrations by its volume.

    ``oil_share`` and ``water_share`` are the oil-water ratio, of the liquids that the retort gave.
    """

    salt: Salt
    retort_solids: pint.Quantity
    brine: pint.Quantity
    brine_density: pint.Quantity
    corrected_solids: pint.Quantity
    oil_share: pint.Quantity
    water_share: pint.Quantity
    average_solids_density: pint.Quantity
    low_gravity: pint.Quantity
    high_gravity: pint.Quantity
    low_gravity_concentration: pint.Quantity
    high_gravity_concentration: pint.Quantity


@quantities(
    mud_weight="[density]",
    water="[]",
    oil="[]",
    mass_fraction="[]",
    solids="[]",
    closure="[]",
    oil_density="[density]",
    high_gravity_density="[density]",
    low_gravity_density="[density]",
)
def invert_analysis(
    mud_weight: pint.Quantity,
    water: pint.Quantity | float,
    oil: pint.Quantity | float,
    mass_fraction: pint.Quantity | float,
    *,
    salt: Salt = Salt.CALCIUM_CHLORIDE,
    solids: pint.Quantity | float | None = None,
    closure: pint.Quantity | float = 0.01,
    oil_density: pint.Quantity = OIL,
    high_gravity_density: pint.Quantity = BARITE,
    low_gravity_density: pint.Quantity = LOW_GRAVITY,
) -> InvertAnalysis:
    """Everything that one retort of a weighted invert mud tells.

    low_gravity = (solids * high_gravity_density - (mud_weight - brine * its density - oil * oil_density))
                  / (high_gravity_density - low_gravity_density)

    Parameters
    ----------
    mud_weight : density of the mud (lb/gal, kg/m3 or SG); scalar or array.
    water, oil : volume fractions that the retort gave (percent or fraction); scalar or array.
    mass_fraction : mass of dry salt in a mass of brine, as :func:`salt_fraction` gives it; scalar or array.
    salt : calcium chloride by default.
    solids : the retort's solids if they were read too; they only check that the retort closes.
    closure : how far water, oil and solids may miss 100 % (1 % by default; common practice, no source).
    oil_density, high_gravity_density, low_gravity_density : diesel, barite of SG 4.20 and solids of SG 2.60 by default.

    Returns
    -------
    :class:`InvertAnalysis`, each field of the shape of the inputs.

    Raises
    ------
    CalculationError : a value of the wrong dimension; readings that cannot be; a retort that does not close; more salt
        than solids; more of either kind of solids than there are solids.

    Valid range: invert mud with one salt; as :func:`brine_density`.
    Source: the balance of API RP 13B-2, from memory; the worked figure is derived.

    >>> found = invert_analysis(Q(14.0, "lb/gal"), Q(18, "percent"), Q(54, "percent"), Q(25, "percent"))
    >>> print(f"low-gravity {found.low_gravity.to('percent'):.1f~P}, barite {found.high_gravity.to('percent'):.1f~P}")
    low-gravity 8.1 %, barite 18.4 %
    >>> print(f"oil-water ratio {found.oil_share.m_as('percent'):.0f}/{found.water_share.m_as('percent'):.0f}")
    oil-water ratio 75/25
    """
    require_readings(water, oil)
    by_difference = Q(1.0) - water - oil
    if solids is not None:
        require_closure(by_difference, solids, closure)
    corrected = corrected_solids(water, oil, mass_fraction, salt)
    density = brine_density(mass_fraction, salt)
    oil_share, water_share = oil_water_ratio(oil, water)
    balance = (mud_weight, corrected, density, oil, oil_density)
    average = average_solids_density(*balance)
    low_gravity = low_gravity_fraction(*balance, high_gravity_density, low_gravity_density)
    high_gravity = corrected - low_gravity
    return InvertAnalysis(
        salt=salt,
        retort_solids=by_difference,
        brine=brine_fraction(water, mass_fraction, salt),
        brine_density=density,
        corrected_solids=corrected,
        oil_share=oil_share,
        water_share=water_share,
        average_solids_density=average,
        low_gravity=low_gravity,
        high_gravity=high_gravity,
        low_gravity_concentration=solids_concentration(low_gravity, low_gravity_density),
        high_gravity_concentration=solids_concentration(high_gravity, high_gravity_density),
    )
