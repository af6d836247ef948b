"""Gas in the mud: its share at the surface, and what it takes off the column.

``gas_share``: from a mud weight with the gas in it and one without. ``cut_weight``: the weight that a share of gas
leaves. ``cut_column_loss``: pressure that the gas takes off the column, since it shrinks on the way down.

Nothing here is a well-control procedure.
"""

from __future__ import annotations

import numpy as np
import pint

from pitside.units import GRAVITY, Q, quantities, require, require_above_zero

#: Pressure of the air at sea level, exact by definition.
ATMOSPHERE = Q(101.325, "kPa")


@quantities(returns="[]", mud_weight="[density]", cut_weight="[density]")
def gas_share(mud_weight: pint.Quantity, cut_weight: pint.Quantity) -> pint.Quantity:
    """Share of gas by volume in a cut mud at the surface.

    share = 1 - cut_weight / mud_weight

    Parameters
    ----------
    mud_weight : of the mud without gas, from a pressurised balance or after degassing (lb/gal); scalar or array.
    cut_weight : of the mud with its gas, from an open cup (lb/gal); scalar or array.

    Returns
    -------
    Share of the cut mud's volume, a plain number.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a weight not above zero; a cut mud heavier than without gas.

    Valid range: gas whose own weight is nothing beside that of the mud, as at the surface.
    Source: the balance, derived.

    >>> print(f"{gas_share(Q(12.0, 'lb/gal'), Q(10.2, 'lb/gal')).to('percent'):.0f~P}")
    15 %
    """
    require_above_zero(mud_weight=mud_weight, cut_weight=cut_weight)
    require(cut_weight <= mud_weight, "a cut mud cannot be heavier than the same mud without gas")
    return 1 - cut_weight / mud_weight


@quantities(returns="[density]", mud_weight="[density]", share="[]")
def cut_weight(mud_weight: pint.Quantity, share: pint.Quantity | float) -> pint.Quantity:
    """Weight of a mud with a share of gas in it.

    cut_weight = mud_weight * (1 - share)

    Parameters
    ----------
    mud_weight : of the mud without gas (lb/gal); scalar or array.
    share : gas by volume of the cut mud, a fraction or percent; scalar or array.

    Returns
    -------
    Weight, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a weight not above zero; a share that is not from 0 to below 1.

    Valid range: as :func:`gas_share`.
    Source: the balance, derived.

    >>> print(f"{cut_weight(Q(12.0, 'lb/gal'), 0.15).to('lb/gal'):.1f~P}")
    10.2 lb/gal
    """
    require_above_zero(mud_weight=mud_weight)
    require((share >= 0) & (share < 1), "share of gas must be from 0 to below 100 %")
    return mud_weight * (1 - share)


@quantities(returns="[pressure]", mud_weight="[density]", share="[]", depth="[length]", surface_pressure="[pressure]")
def cut_column_loss(
    mud_weight: pint.Quantity,
    share: pint.Quantity | float,
    depth: pint.Quantity,
    surface_pressure: pint.Quantity = ATMOSPHERE,
) -> pint.Quantity:
    """Pressure that gas takes off the bottom of a column, if every part of the mud carries the same gas.

    loss = n * p0 * ln(p / p0), n = share / (1 - share), p + n * p0 * ln(p / p0) = p0 + mud_weight * g * depth

    Gas that fills a share at the surface is squeezed by the mud above it: n volumes at p0 are n * p0 / p at p.

    Parameters
    ----------
    mud_weight : of the mud without gas (lb/gal); scalar or array.
    share : gas by volume at the surface, a fraction or percent; scalar or array.
    depth : true vertical depth (ft or m); scalar or array.
    surface_pressure : absolute pressure p0 on top of the column (psi or kPa); the atmosphere by default.

    Returns
    -------
    Loss of pressure, Pa.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a weight or pressure not above zero; a negative depth; a share
        that is not from 0 to below 1.

    Valid range: an ideal gas at one temperature, spread evenly over the whole column, which is more gas than a cut mud
        at the surface usually means. A column that is no longer full, or a well that flows, is none of this.
    Source: the balance, derived.

    >>> print(f"{cut_column_loss(Q(12.0, 'lb/gal'), 0.15, Q(10000, 'ft')).to('psi'):.0f~P}")
    16 psi
    """
    require_above_zero(mud_weight=mud_weight, surface_pressure=surface_pressure)
    require((share >= 0) & (share < 1), "share of gas must be from 0 to below 100 %")
    require(depth >= Q(0, "m"), "depth must not be negative")
    carried = share / (1 - share)
    whole = surface_pressure + mud_weight * GRAVITY * depth
    bottom = whole
    for _ in range(50):
        bottom = np.maximum(
            whole - carried * surface_pressure * np.log((bottom / surface_pressure).m_as("")), surface_pressure
        )
    return whole - bottom
