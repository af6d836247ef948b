"""Weighting up: how much material takes a mud to a target weight, and what happens to the volume.

``weighting_mass``, ``volume_rise``: the volume grows as material goes in.
``start_volume``, ``weighting_mass_fixed_final``: the final volume is fixed, so that mud is moved out first.
``mud_weight_after``: the weight that a given mass of material makes.

Volumes add (no wetting, no air). ``material_density`` takes any density; see :mod:`pitside.materials`, where
``BARITE_FIELD`` (35 lb/gal) gives the 1470 of the field formula.
"""

from __future__ import annotations

import pint

from pitside.units import Q, quantities, require, require_above_zero, require_not_negative

_NONE = Q(0.0, "kg/m**3")


def _require_weight_up(mud_weight: pint.Quantity, target: pint.Quantity, material_density: pint.Quantity) -> None:
    require_above_zero(mud_weight=mud_weight)
    require(
        target >= mud_weight, "the target is below the mud weight: weighting material only adds weight; dilute instead"
    )
    require(
        material_density > target, "the material must be denser than the target: no amount of it reaches that weight"
    )


@quantities(
    returns="[mass]", volume="[volume]", mud_weight="[density]", target="[density]", material_density="[density]"
)
def weighting_mass(
    volume: pint.Quantity, mud_weight: pint.Quantity, target: pint.Quantity, material_density: pint.Quantity
) -> pint.Quantity:
    """Mass of weighting material that takes a mud to the target weight, the volume growing.

    mass = volume * material_density * (target - mud_weight) / (material_density - target)

    Parameters
    ----------
    volume : volume of mud before weighting up (bbl or m3); scalar or array.
    mud_weight : its weight (lb/gal, kg/m3 or SG); scalar or array.
    target : the weight that is wanted; scalar or array.
    material_density : density of the weighting material; scalar or array.

    Returns
    -------
    Mass of material, kg (in sacks of 100 lb: ``.to("sack")``).

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; weights outside the valid range.

    Valid range: 0 < mud_weight <= target < material_density.
    Source: [Lapeyrouse2002] p. 81: 1470 (W2 - W1) / (35 - W2) sacks for 100 bbl.

    >>> from pitside.materials import BARITE_FIELD
    >>> barite = weighting_mass(Q(100, "bbl"), Q(12.0, "lb/gal"), Q(14.0, "lb/gal"), BARITE_FIELD)
    >>> print(f"{barite.to('sack'):.0f~P}")
    140 sk
    """
    return volume_rise(volume, mud_weight, target, material_density) * material_density


@quantities(
    returns="[volume]", volume="[volume]", mud_weight="[density]", target="[density]", material_density="[density]"
)
def volume_rise(
    volume: pint.Quantity, mud_weight: pint.Quantity, target: pint.Quantity, material_density: pint.Quantity
) -> pint.Quantity:
    """Volume by which the mud grows when it is weighted up to the target.

    rise = volume * (target - mud_weight) / (material_density - target)

    Parameters
    ----------
    volume : volume of mud before weighting up (bbl or m3); scalar or array.
    mud_weight : its weight (lb/gal, kg/m3 or SG); scalar or array.
    target : the weight that is wanted; scalar or array.
    material_density : density of the weighting material; scalar or array.

    Returns
    -------
    Rise of the volume, m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; weights outside the valid range.

    Valid range: 0 < mud_weight <= target < material_density.
    Source: [Lapeyrouse2002] p. 82: 100 (W2 - W1) / (35 - W2) bbl for 100 bbl.

    >>> from pitside.materials import BARITE_FIELD
    >>> rise = volume_rise(Q(100, "bbl"), Q(12.0, "lb/gal"), Q(14.0, "lb/gal"), BARITE_FIELD)
    >>> print(f"{rise.to('bbl'):.2f~P}")
    9.52 bbl
    """
    require_not_negative(volume=volume)
    _require_weight_up(mud_weight, target, material_density)
    return volume * (target - mud_weight) / (material_density - target)


@quantities(
    returns="[volume]",
    final_volume="[volume]",
    mud_weight="[density]",
    target="[density]",
    material_density="[density]",
)
def start_volume(
    final_volume: pint.Quantity, mud_weight: pint.Quantity, target: pint.Quantity, material_density: pint.Quantity
) -> pint.Quantity:
    """Volume of the old mud to start with, so that weighting up ends at a fixed final volume.

    start = final_volume * (material_density - target) / (material_density - mud_weight)

    Parameters
    ----------
    final_volume : volume of mud wanted at the end (bbl or m3); scalar or array.
    mud_weight : weight of the old mud (lb/gal, kg/m3 or SG); scalar or array.
    target : the weight that is wanted; scalar or array.
    material_density : density of the weighting material; scalar or array.

    Returns
    -------
    Volume to start with, m3; the rest of the final volume is material.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; weights outside the valid range.

    Valid range: 0 < mud_weight <= target < material_density.
    Source: [Lapeyrouse2002] p. 82: VF (35 - W2) / (35 - W1).

    >>> from pitside.materials import BARITE_FIELD
    >>> start = start_volume(Q(100, "bbl"), Q(12.0, "lb/gal"), Q(14.0, "lb/gal"), BARITE_FIELD)
    >>> print(f"{start.to('bbl'):.1f~P}")
    91.3 bbl
    """
    require_not_negative(final_volume=final_volume)
    _require_weight_up(mud_weight, target, material_density)
    return final_volume * (material_density - target) / (material_density - mud_weight)


@quantities(
    returns="[mass]", final_volume="[volume]", mud_weight="[density]", target="[density]", material_density="[density]"
)
def weighting_mass_fixed_final(
    final_volume: pint.Quantity, mud_weight: pint.Quantity, target: pint.Quantity, material_density: pint.Quantity
) -> pint.Quantity:
    """Mass of weighting material for a fixed final volume, old mud having been moved out first.

    mass = final_volume * material_density * (target - mud_weight) / (material_density - mud_weight)

    Parameters
    ----------
    final_volume : volume of mud wanted at the end (bbl or m3); scalar or array.
    mud_weight : weight of the old mud (lb/gal, kg/m3 or SG); scalar or array.
    target : the weight that is wanted; scalar or array.
    material_density : density of the weighting material; scalar or array.

    Returns
    -------
    Mass of material, kg (in sacks of 100 lb: ``.to("sack")``).

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; weights outside the valid range.

    Valid range: 0 < mud_weight <= target < material_density.
    Source: mass balance on [Lapeyrouse2002] p. 82 (start volume 91.3 bbl); 127.8 sacks is derived.

    >>> from pitside.materials import BARITE_FIELD
    >>> barite = weighting_mass_fixed_final(Q(100, "bbl"), Q(12.0, "lb/gal"), Q(14.0, "lb/gal"), BARITE_FIELD)
    >>> print(f"{barite.to('sack'):.1f~P}")
    127.8 sk
    """
    return (final_volume - start_volume(final_volume, mud_weight, target, material_density)) * material_density


@quantities(returns="[density]", volume="[volume]", mud_weight="[density]", mass="[mass]", material_density="[density]")
def mud_weight_after(
    volume: pint.Quantity, mud_weight: pint.Quantity, mass: pint.Quantity, material_density: pint.Quantity
) -> pint.Quantity:
    """Mud weight after a given mass of material has been mixed in.

    mud_weight_after = (volume * mud_weight + mass) / (volume + mass / material_density)

    Parameters
    ----------
    volume : volume of mud before the material goes in (bbl or m3); scalar or array.
    mud_weight : its weight (lb/gal, kg/m3 or SG); scalar or array.
    mass : mass of material (lb, sack, kg or t); scalar or array.
    material_density : density of the material, lighter or heavier than the mud; scalar or array.

    Returns
    -------
    Mud weight, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a volume, weight or density not above zero; a negative mass.

    Valid range: any; volumes add.
    Source: mass balance; :func:`weighting_mass` turned round.

    >>> from pitside.materials import BARITE_FIELD
    >>> weight = mud_weight_after(Q(100, "bbl"), Q(12.0, "lb/gal"), Q(140, "sack"), BARITE_FIELD)
    >>> print(f"{weight.to('lb/gal'):.2f~P}")
    14.00 lb/gal
    """
    require_above_zero(volume=volume)
    require((mud_weight > _NONE) & (material_density > _NONE), "mud weight and material density must be above zero")
    require(mass >= Q(0, "kg"), "mass of material must not be negative")
    return (volume * mud_weight + mass) / (volume + mass / material_density)
