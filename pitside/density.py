"""Density, specific gravity and pressure gradient: three ways to state the weight of a mud.

``density_from_sg``, ``specific_gravity``: against a named reference water.
``pressure_gradient``, ``density_from_gradient``: what a column of the mud adds for each metre of true vertical depth.

Reference waters: :data:`WATER_4C` (the unit ``SG``), :data:`WATER_FIELD` (the 8.33 lb/gal of field sums, water at
about 20 degC) and :data:`SEAWATER`. The first two differ by 0.18 %, so say which one is meant.
"""

from __future__ import annotations

import pint

from pitside.units import GRAVITY, WATER_4C, WATER_FIELD, Q, quantities, require, require_above_zero

__all__ = [
    "SEAWATER",
    "WATER_4C",
    "WATER_FIELD",
    "density_from_gradient",
    "density_from_sg",
    "pressure_gradient",
    "specific_gravity",
]

#: Sea water of 35 g/kg salt at 15 degC, rounded (8.56 lb/gal); derived from the CoolProp library's MITSW fluid.
SEAWATER = Q(1026.0, "kg/m**3")


@quantities(returns="[density]", sg="[]", water="[density]")
def density_from_sg(sg: pint.Quantity | float, water: pint.Quantity = WATER_4C) -> pint.Quantity:
    """Density of a mud or a solid from its specific gravity.

    density = sg * water

    Parameters
    ----------
    sg : specific gravity, a plain number; scalar or array.
    water : density of the reference water (lb/gal or kg/m3); scalar or array.

    Returns
    -------
    Density, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a specific gravity or water density that is not above zero.

    Valid range: any sg above 0.
    Source: the definition; 8.3454 lb/gal at sg 1 derived from the exact pound and gallon.

    >>> print(f"{density_from_sg(1.0).to('lb/gal'):.4f~P}")
    8.3454 lb/gal
    >>> print(f"{density_from_sg(4.20).to('lb/gal'):.2f~P}")
    35.05 lb/gal
    """
    require(sg > 0, "specific gravity must be above zero")
    require(water > Q(0, "kg/m**3"), "density of the reference water must be above zero")
    return sg * water


@quantities(returns="[]", density="[density]", water="[density]")
def specific_gravity(density: pint.Quantity, water: pint.Quantity = WATER_4C) -> pint.Quantity:
    """Specific gravity: how many times as heavy as the reference water.

    sg = density / water

    Parameters
    ----------
    density : density of the mud or the solid (lb/gal or kg/m3); scalar or array.
    water : density of the reference water (lb/gal or kg/m3); scalar or array.

    Returns
    -------
    Specific gravity, a number without a unit.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a density that is not above zero.

    Valid range: any density above 0.
    Source: the definition; the two waters are 8.3454 and 8.33 lb/gal.

    >>> print(f"{specific_gravity(Q(12.0, 'lb/gal')).magnitude:.4f}")
    1.4379
    >>> print(f"{specific_gravity(Q(12.0, 'lb/gal'), WATER_FIELD).magnitude:.4f}")
    1.4406
    """
    require_above_zero(density=density)
    require(water > Q(0, "kg/m**3"), "density of the reference water must be above zero")
    return density / water


@quantities(returns="[pressure]/[length]", density="[density]")
def pressure_gradient(density: pint.Quantity) -> pint.Quantity:
    """Pressure that a still column of mud adds per length of true vertical depth.

    gradient = density * g

    Parameters
    ----------
    density : mud weight (lb/gal, kg/m3 or SG); scalar or array.

    Returns
    -------
    Pressure gradient, Pa/m.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a density that is not above zero.

    Valid range: any density above 0; constant over the column.
    Source: the definition; 0.43353 psi/ft at SG 1 derived with standard gravity.

    >>> print(f"{pressure_gradient(Q(1.0, 'SG')).to('psi/ft'):.5f~P}")
    0.43353 psi/ft
    """
    require_above_zero(density=density)
    return density * GRAVITY


@quantities(returns="[density]", gradient="[pressure]/[length]")
def density_from_gradient(gradient: pint.Quantity) -> pint.Quantity:
    """Density of the mud whose still column has the given pressure gradient.

    density = gradient / g

    Parameters
    ----------
    gradient : pressure gradient (psi/ft or kPa/m) on true vertical depth; scalar or array.

    Returns
    -------
    Density, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a gradient that is not above zero.

    Valid range: any gradient above 0; constant over the column.
    Source: the definition; see :func:`pressure_gradient`.

    >>> print(f"{density_from_gradient(Q(0.43353, 'psi/ft')).to('kg/m**3'):.1f~P}")
    1000.0 kg/m³
    """
    require(gradient > Q(0, "Pa/m"), "pressure gradient must be above zero")
    return gradient / GRAVITY
