"""Cutting mud back and mixing muds.

``dilution_volume``: liquid goes in and the volume grows. ``replacement_volume``: mud is moved out first and the volume
ends where it was. ``mixed_density``, ``mixed_fraction``: what several volumes make together. ``blend_volumes``: how
much of each of two muds makes a wanted one.

Volumes add: no shrinkage of salt or alcohol with water, no air.
"""

from __future__ import annotations

import pint

from pitside.units import Q, quantities, require, require_not_negative

_NONE = Q(0.0, "kg/m**3")


def _require_cut_back(mud_weight: pint.Quantity, target: pint.Quantity, diluent_density: pint.Quantity) -> None:
    require(diluent_density > _NONE, "density of the diluent must be above zero")
    require(
        target <= mud_weight, "the target is above the mud weight: diluting only takes weight off; weight up instead"
    )
    require(
        diluent_density < target, "the diluent must be lighter than the target: no amount of it reaches that weight"
    )


@quantities(
    returns="[volume]", volume="[volume]", mud_weight="[density]", target="[density]", diluent_density="[density]"
)
def dilution_volume(
    volume: pint.Quantity, mud_weight: pint.Quantity, target: pint.Quantity, diluent_density: pint.Quantity
) -> pint.Quantity:
    """Volume of liquid that cuts a mud back to the target weight, the volume growing by as much.

    diluent = volume * (mud_weight - target) / (target - diluent_density)

    Parameters
    ----------
    volume : volume of mud before (bbl or m3); scalar or array.
    mud_weight : its weight (lb/gal, kg/m3 or SG); scalar or array.
    target : the weight that is wanted; scalar or array.
    diluent_density : density of the water, base oil or light mud that goes in; scalar or array.

    Returns
    -------
    Volume of diluent, m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; weights outside the valid range.

    Valid range: 0 < diluent_density < target <= mud_weight.
    Source: [Lapeyrouse2002] ch. 3: 100 bbl from 14.0 to 12.0 lb/gal with 8.33 lb/gal water.

    >>> water = dilution_volume(Q(100, "bbl"), Q(14.0, "lb/gal"), Q(12.0, "lb/gal"), Q(8.33, "lb/gal"))
    >>> print(f"{water.to('bbl'):.1f~P}")
    54.5 bbl
    """
    require_not_negative(volume=volume)
    _require_cut_back(mud_weight, target, diluent_density)
    return volume * (mud_weight - target) / (target - diluent_density)


@quantities(
    returns="[volume]", volume="[volume]", mud_weight="[density]", target="[density]", diluent_density="[density]"
)
def replacement_volume(
    volume: pint.Quantity, mud_weight: pint.Quantity, target: pint.Quantity, diluent_density: pint.Quantity
) -> pint.Quantity:
    """Volume of mud to move out and of liquid to put in its place, so that the volume stays as it was.

    replaced = volume * (mud_weight - target) / (mud_weight - diluent_density)

    The mud goes out before the liquid comes in; bled off while diluting, more is lost.

    Parameters
    ----------
    volume : volume of mud before and after (bbl or m3); scalar or array.
    mud_weight : its weight before (lb/gal, kg/m3 or SG); scalar or array.
    target : the weight that is wanted; scalar or array.
    diluent_density : density of the water, base oil or light mud that goes in; scalar or array.

    Returns
    -------
    Volume moved out, which is the volume put in, m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; weights outside the valid range.

    Valid range: 0 < diluent_density < target <= mud_weight.
    Source: mass balance, derived.

    >>> water = replacement_volume(Q(100, "bbl"), Q(14.0, "lb/gal"), Q(12.0, "lb/gal"), Q(8.33, "lb/gal"))
    >>> print(f"{water.to('bbl'):.1f~P}")
    35.3 bbl
    """
    require_not_negative(volume=volume)
    _require_cut_back(mud_weight, target, diluent_density)
    return volume * (mud_weight - target) / (mud_weight - diluent_density)


@quantities(returns="[density]", volumes="[volume]", densities="[density]")
def mixed_density(volumes: pint.Quantity, densities: pint.Quantity) -> pint.Quantity:
    """Density of several muds or materials mixed together: the average by volume, not by mass.

    mixed = sum(volumes * densities) / sum(volumes)

    Parameters
    ----------
    volumes : volume of each (bbl or m3); array whose first axis runs over the things mixed.
    densities : density of each (lb/gal, kg/m3 or SG); array, same first axis.

    Returns
    -------
    Density of the mixture, kg/m3; the first axis is gone.

    Raises
    ------
    CalculationError : a value of the wrong dimension; no list; a negative volume; no volume at all; a density that is
        not above zero.

    Valid range: volumes add.
    Source: [Lapeyrouse2002] ch. 3: V1 D1 + V2 D2 = VF DF.

    >>> print(f"{mixed_density(Q([100, 50], 'bbl'), Q([11.0, 14.0], 'lb/gal')).to('lb/gal'):.2f~P}")
    12.00 lb/gal
    """
    require(densities > _NONE, "each density must be above zero")
    return _volume_average(volumes, densities)


@quantities(returns="[]", volumes="[volume]", fractions="[]")
def mixed_fraction(volumes: pint.Quantity, fractions: pint.Quantity) -> pint.Quantity:
    """Volume fraction of one component (low-gravity solids, oil) in several muds mixed together.

    mixed = sum(volumes * fractions) / sum(volumes)

    Parameters
    ----------
    volumes : volume of each mud (bbl or m3); array whose first axis runs over the things mixed.
    fractions : volume fraction of the component in each (a fraction or percent); array, same first axis.

    Returns
    -------
    Volume fraction in the mixture, a number from 0 to 1; the first axis is gone.

    Raises
    ------
    CalculationError : a value of the wrong dimension; no list; a negative volume; no volume at all; a fraction outside
        0 to 100 %.

    Valid range: volumes add.
    Source: volume balance, derived.

    >>> print(f"{mixed_fraction(Q([300, 100], 'bbl'), Q([8.0, 0.0], 'percent')).to('percent'):.1f~P}")
    6.0 %
    """
    require((fractions >= 0) & (fractions <= 1), "each fraction must lie between 0 and 100 %")
    return _volume_average(volumes, fractions)


def _volume_average(volumes: pint.Quantity, values: pint.Quantity) -> pint.Quantity:
    require(volumes.ndim > 0 and values.ndim > 0, "give a list of volumes and a list of as many values, one per mud")
    require(volumes.shape[0] == values.shape[0], "there must be as many volumes as values")
    require(volumes >= Q(0, "m**3"), "a volume must not be negative")
    require(volumes.sum(axis=0) > Q(0, "m**3"), "the volumes add up to nothing")
    return (volumes * values).sum(axis=0) / volumes.sum(axis=0)


@quantities(
    returns=("[volume]", "[volume]"), final_volume="[volume]", heavy="[density]", light="[density]", target="[density]"
)
def blend_volumes(
    final_volume: pint.Quantity, heavy: pint.Quantity, light: pint.Quantity, target: pint.Quantity
) -> tuple[pint.Quantity, pint.Quantity]:
    """Volumes of a heavy and a light mud that make a final volume of the target weight.

    heavy volume = final_volume * (target - light) / (heavy - light); the rest is light mud

    Parameters
    ----------
    final_volume : volume wanted (bbl or m3); scalar or array.
    heavy, light : weights of the two muds (lb/gal, kg/m3 or SG); scalar or array.
    target : the weight that is wanted; scalar or array.

    Returns
    -------
    Volume of heavy mud, volume of light mud, both m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; weights outside the valid range.

    Valid range: 0 < light <= target <= heavy, and light < heavy.
    Source: [Lapeyrouse2002] ch. 3 (V1 D1 + V2 D2 = VF DF), solved for the volumes.

    >>> heavy, light = blend_volumes(Q(150, "bbl"), Q(14.0, "lb/gal"), Q(11.0, "lb/gal"), Q(12.0, "lb/gal"))
    >>> print(f"{heavy.to('bbl'):.1f~P} + {light.to('bbl'):.1f~P}")
    50.0 bbl + 100.0 bbl
    """
    require_not_negative(final_volume=final_volume)
    require((light > _NONE) & (light < heavy), "the light mud must be lighter than the heavy one, and above zero")
    require((light <= target) & (target <= heavy), "the target must lie between the two muds")
    heavy_volume = final_volume * (target - light) / (heavy - light)
    return heavy_volume, final_volume - heavy_volume
