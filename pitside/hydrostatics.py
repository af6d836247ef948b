"""Pressure of a still column of one mud, exact and as handbooks round it.

``column_pressure``, ``equivalent_mud_weight``, ``mud_weight_for_pressure``: exact, with standard gravity.
``column_pressure_field``, ``equivalent_mud_weight_field``: the same with a handbook's rounded factor.

Depths are true vertical depths. Nothing here is a well-control procedure.
"""

from __future__ import annotations

import pint

from pitside.units import GRAVITY, Q, quantities, require_above_zero, require_not_negative

#: psi for each foot and each lb/gal, as handbooks round it: [Lapeyrouse2002] ch. 1. Exact: 12/231 = 0.051948.
FACTOR_LB_PER_GAL = Q(0.052, "psi/ft/(lb/gal)")
#: psi for each foot and each lb/ft3, as handbooks round it: [Lapeyrouse2002] ch. 1. Exact: 1/144 = 0.0069444.
FACTOR_LB_PER_FT3 = Q(0.006944, "psi/ft/(lb/ft**3)")
#: bar for each metre and each SG, as metric rigs round it: common practice, no source. Exact: 0.0980665.
FACTOR_SG = Q(0.0981, "bar/m/SG")
#: A column that just balances the formation.
NO_OVERBALANCE = Q(0.0, "Pa")


@quantities(returns="[pressure]", mud_weight="[density]", true_vertical_depth="[length]")
def column_pressure(mud_weight: pint.Quantity, true_vertical_depth: pint.Quantity) -> pint.Quantity:
    """Pressure at the foot of a still column of mud, above the pressure on its top.

    pressure = mud_weight * g * true_vertical_depth

    Parameters
    ----------
    mud_weight : density of the mud (lb/gal, kg/m3 or SG); scalar or array.
    true_vertical_depth : height of the column (ft or m), not the measured depth; scalar or array.

    Returns
    -------
    Pressure, Pa.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a mud weight that is not above zero; a negative depth.

    Valid range: one mud at rest, of one density from top to bottom.
    Source: [Lapeyrouse2002] ch. 1 (8,424 psi with the rounded 0.052; the exact factor gives 0.10 % less).

    >>> print(f"{column_pressure(Q(13.5, 'lb/gal'), Q(12_000, 'ft')).to('psi'):.0f~P}")
    8416 psi
    """
    require_above_zero(mud_weight=mud_weight)
    require_not_negative(true_vertical_depth=true_vertical_depth)
    return mud_weight * GRAVITY * true_vertical_depth


@quantities(returns="[pressure]", mud_weight="[density]", true_vertical_depth="[length]", factor="[acceleration]")
def column_pressure_field(
    mud_weight: pint.Quantity, true_vertical_depth: pint.Quantity, factor: pint.Quantity = FACTOR_LB_PER_GAL
) -> pint.Quantity:
    """Pressure of a still column of mud with a handbook's rounded factor: 0.052 for lb/gal and feet.

    pressure = factor * mud_weight * true_vertical_depth

    The factor carries its unit, so that weight and depth may be in any unit.

    Parameters
    ----------
    mud_weight : density of the mud (lb/gal, lb/ft3, kg/m3 or SG); scalar or array.
    true_vertical_depth : height of the column (ft or m), not the measured depth; scalar or array.
    factor : one of :data:`FACTOR_LB_PER_GAL`, :data:`FACTOR_LB_PER_FT3`, :data:`FACTOR_SG`.

    Returns
    -------
    Pressure, Pa.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a weight or factor that is not above zero; a negative depth.

    Valid range: as :func:`column_pressure`; 0.052 lies 0.10 % above the exact factor.
    Source: [Lapeyrouse2002] ch. 1.

    >>> print(f"{column_pressure_field(Q(13.5, 'lb/gal'), Q(12_000, 'ft')).to('psi'):.0f~P}")
    8424 psi
    """
    require_above_zero(factor=factor)
    return column_pressure(mud_weight, true_vertical_depth) * (factor / GRAVITY)


@quantities(returns="[density]", pressure="[pressure]", true_vertical_depth="[length]")
def equivalent_mud_weight(pressure: pint.Quantity, true_vertical_depth: pint.Quantity) -> pint.Quantity:
    """Density of the one mud whose still column makes the given pressure at the given depth.

    mud_weight = pressure / (g * true_vertical_depth)

    Parameters
    ----------
    pressure : pressure at that depth (psi or kPa), all of it: column, friction and surface pressure; scalar or array.
    true_vertical_depth : depth below the top of the column (ft or m); scalar or array.

    Returns
    -------
    Equivalent mud weight, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative pressure; a depth that is not above zero.

    Valid range: any depth above 0.
    Source: :func:`column_pressure` turned round.

    >>> print(f"{equivalent_mud_weight(Q(8416, 'psi'), Q(12_000, 'ft')).to('lb/gal'):.2f~P}")
    13.50 lb/gal
    """
    require_not_negative(pressure=pressure)
    require_above_zero(true_vertical_depth=true_vertical_depth)
    return pressure / (GRAVITY * true_vertical_depth)


@quantities(returns="[density]", pressure="[pressure]", true_vertical_depth="[length]", factor="[acceleration]")
def equivalent_mud_weight_field(
    pressure: pint.Quantity, true_vertical_depth: pint.Quantity, factor: pint.Quantity = FACTOR_LB_PER_GAL
) -> pint.Quantity:
    """Equivalent mud weight with a handbook's rounded factor: psi / 0.052 / ft.

    mud_weight = pressure / (factor * true_vertical_depth)

    Parameters
    ----------
    pressure : pressure at that depth (psi or kPa); scalar or array.
    true_vertical_depth : depth below the top of the column (ft or m); scalar or array.
    factor : one of :data:`FACTOR_LB_PER_GAL`, :data:`FACTOR_LB_PER_FT3`, :data:`FACTOR_SG`.

    Returns
    -------
    Equivalent mud weight, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative pressure; a depth or factor that is not above zero.

    Valid range: any depth above 0; 0.052 gives 0.10 % less than :func:`equivalent_mud_weight`.
    Source: [Lapeyrouse2002] ch. 1.

    >>> print(f"{equivalent_mud_weight_field(Q(8424, 'psi'), Q(12_000, 'ft')).to('lb/gal'):.2f~P}")
    13.50 lb/gal
    """
    require_above_zero(factor=factor)
    return equivalent_mud_weight(pressure, true_vertical_depth) * (GRAVITY / factor)


@quantities(
    returns="[density]", formation_pressure="[pressure]", true_vertical_depth="[length]", overbalance="[pressure]"
)
def mud_weight_for_pressure(
    formation_pressure: pint.Quantity, true_vertical_depth: pint.Quantity, overbalance: pint.Quantity = NO_OVERBALANCE
) -> pint.Quantity:
    """Mud weight whose still column stands above a formation pressure by a wanted overbalance.

    mud_weight = (formation_pressure + overbalance) / (g * true_vertical_depth)

    Parameters
    ----------
    formation_pressure : pressure in the rock (psi or kPa); scalar or array.
    true_vertical_depth : depth of that rock below the top of the column (ft or m); scalar or array.
    overbalance : how far the column is to stand above it (psi or kPa); none by default; scalar or array.

    Returns
    -------
    Mud weight, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative pressure; a depth that is not above zero.

    Valid range: mud at rest; for teaching, not for planning a well.
    Source: :func:`column_pressure` turned round.

    >>> weight = mud_weight_for_pressure(Q(5000, "psi"), Q(10_000, "ft"), overbalance=Q(200, "psi"))
    >>> print(f"{weight.to('lb/gal'):.2f~P}")
    10.01 lb/gal
    """
    require_not_negative(formation_pressure=formation_pressure, overbalance=overbalance)
    return equivalent_mud_weight(formation_pressure + overbalance, true_vertical_depth)
