"""Columns of more than one fluid, and the window between pore and fracture gradient that they have to stay in.

``layered_pressure``, ``layered_mud_weight``: several fluids one upon another. ``dual_gradient_pressure``,
``dual_gradient_mud_weight``, ``lower_mud_weight``, ``lower_mud_weight_for_pressure``: a light fluid down to the mudline
and a heavy mud below it. ``riser_dilution_rate``, ``riser_return_rate``, ``riser_weight``: the light fluid made in the
riser by pumping a diluent into the returns. ``window_margins``, ``deepest_point``, ``open_hole_window``: where a column
stands between pore and fracture, and how deep a section can go.

Depths are true vertical depths from one datum, the rotary table, and equivalent mud weights are over that depth. A
column that starts lower (sea water, at sea level) has an ``air_gap`` between the datum and its top; it is nought where
depths are from sea level. A marine riser full of mud has none, for its mud stands up to the rig.

``factor`` is standard gravity, exact, unless a rounded one such as :data:`pitside.hydrostatics.FACTOR_LB_PER_GAL` is
given. Fluids are at rest. For teaching, not for planning a well: nothing here is a well-control procedure.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pint

from pitside.units import GRAVITY, Q, quantities, quantity_fields, require, require_above_zero, require_not_negative

#: A column that begins at the datum of the depths.
NO_AIR_GAP = Q(0.0, "m")
#: A section that may touch pore or fracture gradient.
NO_MARGIN = Q(0.0, "kg/m**3")

_NONE = Q(0.0, "kg/m**3")


def _require_segments(lengths: pint.Quantity, densities: pint.Quantity) -> None:
    require(
        lengths.ndim == 1 and densities.ndim == 1 and lengths.shape == densities.shape,
        "give a list of lengths and a list of as many densities, from the top of the column down",
    )
    require(lengths >= Q(0, "m"), "a length must not be negative")
    require(densities > _NONE, "each density must be above zero")


@quantities(
    returns="[pressure]",
    depth="[length]",
    lengths="[length]",
    densities="[density]",
    air_gap="[length]",
    factor="[acceleration]",
)
def layered_pressure(
    depth: pint.Quantity,
    lengths: pint.Quantity,
    densities: pint.Quantity,
    air_gap: pint.Quantity = NO_AIR_GAP,
    factor: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Pressure in a still column of several fluids one upon another, above the pressure on its top.

    pressure = factor * sum(density * length of it above the depth)

    Parameters
    ----------
    depth : from the datum down (ft or m), in the column; scalar or array.
    lengths : vertical length of each fluid, from the top down (ft or m); list.
    densities : density of each fluid (lb/gal, kg/m3 or SG); list of as many.
    air_gap : from the datum to the top of the column; none by default; scalar.
    factor : standard gravity, or a handbook's rounded factor; scalar.

    Returns
    -------
    Pressure, Pa, of the shape of the depth; nought in the air gap.

    Raises
    ------
    CalculationError : a value of the wrong dimension; lists that do not match; a negative length, depth or air gap; a
        density or factor that is not above zero; a depth below the foot of the column.

    Valid range: 0 <= depth <= air_gap + sum(lengths); each fluid of one density.
    Source: [Lapeyrouse2002] ch. 1, one fluid after another.

    >>> column = Q([2000, 3000], "m"), Q([1.03, 1.50], "SG")
    >>> print([f"{pressure:.1f}" for pressure in layered_pressure(Q([2000, 5000], "m"), *column).m_as("bar")])
    ['202.0', '643.3']
    """
    _require_segments(lengths, densities)
    require_not_negative(air_gap=air_gap)
    require_above_zero(factor=factor)
    below_top = np.asarray((depth - air_gap).m_as("m"), dtype=float)
    require_not_negative(depth=depth)
    long = lengths.m_as("m")
    require(below_top <= long.sum() * (1 + 1e-12), "the depth lies below the foot of the column: add the fluid there")
    tops = np.cumsum(long) - long
    reached = np.clip(below_top[..., np.newaxis] - tops, 0, long)
    return factor * Q((reached * densities.m_as("kg/m**3")).sum(axis=-1), "kg/m**2")


@quantities(returns="[density]", depth="[length]", lengths="[length]", densities="[density]", air_gap="[length]")
def layered_mud_weight(
    depth: pint.Quantity, lengths: pint.Quantity, densities: pint.Quantity, air_gap: pint.Quantity = NO_AIR_GAP
) -> pint.Quantity:
    """Equivalent mud weight in a still column of several fluids: the one mud, from the datum, of the same pressure.

    mud_weight = sum(density * length of it above the depth) / depth

    Parameters
    ----------
    depth : from the datum down (ft or m), in the column; scalar or array.
    lengths, densities, air_gap : as :func:`layered_pressure`.

    Returns
    -------
    Equivalent mud weight, kg/m3, of the shape of the depth.

    Raises
    ------
    CalculationError : as :func:`layered_pressure`; a depth that is not above zero.

    Valid range: as :func:`layered_pressure`; it is the average by length, not the plain mean.
    Source: :func:`layered_pressure`.

    >>> weight = layered_mud_weight(Q(5000, "m"), Q([2000, 3000], "m"), Q([1.03, 1.50], "SG"))
    >>> print(f"{weight.to('SG'):.3f~P}")
    1.312 SG
    """
    require_above_zero(depth=depth)
    return layered_pressure(depth, lengths, densities, air_gap) / (GRAVITY * depth)


def _upper_length(mudline_depth: pint.Quantity, air_gap: pint.Quantity) -> pint.Quantity:
    require_not_negative(air_gap=air_gap)
    require(mudline_depth >= air_gap, "the mudline must lie below the air gap: measure both from the rotary table")
    return mudline_depth - air_gap


@quantities(
    returns="[pressure]",
    depth="[length]",
    upper="[density]",
    lower="[density]",
    mudline_depth="[length]",
    air_gap="[length]",
    factor="[acceleration]",
)
def dual_gradient_pressure(
    depth: pint.Quantity,
    upper: pint.Quantity,
    lower: pint.Quantity,
    mudline_depth: pint.Quantity,
    air_gap: pint.Quantity = NO_AIR_GAP,
    factor: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Pressure in a still dual-gradient column: one fluid down to the mudline, a mud below it.

    pressure = factor * (upper * (mudline_depth - air_gap) + lower * (depth - mudline_depth)) below the mudline

    Parameters
    ----------
    depth : from the datum down (ft or m); scalar or array.
    upper : density of the fluid above the mudline (lb/gal, kg/m3 or SG); scalar or array.
    lower : density of the mud below the mudline; scalar or array.
    mudline_depth : from the datum down to the sea floor, or to where the fluid changes; scalar or array.
    air_gap : from the datum to the top of the upper fluid; none by default; scalar or array.
    factor : standard gravity, or a handbook's rounded factor; scalar.

    Returns
    -------
    Pressure, Pa; nought in the air gap.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative depth or air gap; a mudline above the air gap; a
        density or factor that is not above zero.

    Valid range: depth >= 0; the two fluids may be as light or heavy as they are.
    Source: [Lapeyrouse2002] ch. 1, one fluid after another; the worked figure is derived.

    >>> from pitside.hydrostatics import FACTOR_LB_PER_GAL
    >>> column = Q(8.55, "lb/gal"), Q(14.0, "lb/gal"), Q(5000, "ft")
    >>> print(f"{dual_gradient_pressure(Q(20_000, 'ft'), *column, factor=FACTOR_LB_PER_GAL).to('psi'):,.0f~P}")
    13,143 psi
    """
    require((upper > _NONE) & (lower > _NONE), "density of both fluids must be above zero")
    require_above_zero(factor=factor)
    require_not_negative(depth=depth)
    upper_length = _upper_length(mudline_depth, air_gap)
    above = np.minimum(np.maximum(depth - air_gap, Q(0, "m")), upper_length)
    below = np.maximum(depth - mudline_depth, Q(0, "m"))
    return factor * (upper * above + lower * below)


@quantities(
    returns="[density]",
    depth="[length]",
    upper="[density]",
    lower="[density]",
    mudline_depth="[length]",
    air_gap="[length]",
)
def dual_gradient_mud_weight(
    depth: pint.Quantity,
    upper: pint.Quantity,
    lower: pint.Quantity,
    mudline_depth: pint.Quantity,
    air_gap: pint.Quantity = NO_AIR_GAP,
) -> pint.Quantity:
    """Equivalent mud weight of a dual-gradient column, over the depth from the datum and not from the mudline.

    mud_weight = (upper * (mudline_depth - air_gap) + lower * (depth - mudline_depth)) / depth below the mudline

    Parameters
    ----------
    depth, upper, lower, mudline_depth, air_gap : as :func:`dual_gradient_pressure`.

    Returns
    -------
    Equivalent mud weight, kg/m3.

    Raises
    ------
    CalculationError : as :func:`dual_gradient_pressure`; a depth that is not above zero.

    Valid range: depth > 0; below the mudline it grows with depth from near ``upper`` towards ``lower``.
    Source: :func:`dual_gradient_pressure`; the worked figure is derived.

    >>> weight = dual_gradient_mud_weight(Q(20_000, "ft"), Q(8.55, "lb/gal"), Q(14.0, "lb/gal"), Q(5000, "ft"))
    >>> print(f"{weight.to('lb/gal'):.4f~P}")
    12.6375 lb/gal
    """
    require_above_zero(depth=depth)
    return dual_gradient_pressure(depth, upper, lower, mudline_depth, air_gap) / (GRAVITY * depth)


@quantities(
    returns="[density]",
    target="[density]",
    depth="[length]",
    upper="[density]",
    mudline_depth="[length]",
    air_gap="[length]",
)
def lower_mud_weight(
    target: pint.Quantity,
    depth: pint.Quantity,
    upper: pint.Quantity,
    mudline_depth: pint.Quantity,
    air_gap: pint.Quantity = NO_AIR_GAP,
) -> pint.Quantity:
    """Weight of the mud below the mudline that makes a wanted equivalent mud weight at a depth.

    lower = (target * depth - upper * (mudline_depth - air_gap)) / (depth - mudline_depth)

    Parameters
    ----------
    target : equivalent mud weight wanted at the depth, over the depth from the datum (lb/gal, kg/m3 or SG); scalar or
        array.
    depth : from the datum down (ft or m), below the mudline; scalar or array.
    upper, mudline_depth, air_gap : as :func:`dual_gradient_pressure`.

    Returns
    -------
    Density of the mud below the mudline, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a depth that is not below the mudline; a fluid above the mudline
        that by itself makes the target or more; a mudline above the air gap.

    Valid range: depth > mudline_depth >= air_gap.
    Source: :func:`dual_gradient_mud_weight` turned round.

    >>> lower = lower_mud_weight(Q(12.6375, "lb/gal"), Q(20_000, "ft"), Q(8.55, "lb/gal"), Q(5000, "ft"))
    >>> print(f"{lower.to('lb/gal'):.2f~P}")
    14.00 lb/gal
    """
    require((target > _NONE) & (upper > _NONE), "target and upper density must be above zero")
    require(depth > mudline_depth, "the depth must lie below the mudline")
    lower = (target * depth - upper * _upper_length(mudline_depth, air_gap)) / (depth - mudline_depth)
    require(lower > _NONE, "the fluid above the mudline makes that pressure by itself: no mud below can make it less")
    return lower


@quantities(
    returns="[density]",
    pressure="[pressure]",
    depth="[length]",
    upper="[density]",
    mudline_depth="[length]",
    air_gap="[length]",
    factor="[acceleration]",
)
def lower_mud_weight_for_pressure(
    pressure: pint.Quantity,
    depth: pint.Quantity,
    upper: pint.Quantity,
    mudline_depth: pint.Quantity,
    air_gap: pint.Quantity = NO_AIR_GAP,
    factor: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Weight of the mud below the mudline that makes a wanted pressure at a depth.

    lower = (pressure / factor - upper * (mudline_depth - air_gap)) / (depth - mudline_depth)

    Parameters
    ----------
    pressure : wanted at the depth (psi or kPa), margin and all; scalar or array.
    depth, upper, mudline_depth, air_gap, factor : as :func:`dual_gradient_pressure`.

    Returns
    -------
    Density of the mud below the mudline, kg/m3.

    Raises
    ------
    CalculationError : as :func:`lower_mud_weight`.

    Valid range: depth > mudline_depth >= air_gap.
    Source: :func:`dual_gradient_pressure` turned round.

    >>> column = Q(20_000, "ft"), Q(8.55, "lb/gal"), Q(5000, "ft")
    >>> print(f"{lower_mud_weight_for_pressure(Q(13_130, 'psi'), *column).to('lb/gal'):.2f~P}")
    14.00 lb/gal
    """
    require_above_zero(factor=factor)
    require(depth > mudline_depth, "the depth must lie below the mudline")
    return lower_mud_weight(pressure / (factor * depth), depth, upper, mudline_depth, air_gap)


def _require_riser(mud_weight: pint.Quantity, mixed: pint.Quantity, diluent: pint.Quantity) -> None:
    require(diluent > _NONE, "density of the diluent must be above zero")
    require(diluent < mixed, "the diluent must be lighter than the fluid wanted in the riser")
    require(mixed <= mud_weight, "the fluid wanted in the riser must not be heavier than the mud from below")


@quantities(
    returns="[volumetric_flow_rate]",
    mud_rate="[volumetric_flow_rate]",
    mud_weight="[density]",
    riser_weight="[density]",
    diluent_density="[density]",
)
def riser_dilution_rate(
    mud_rate: pint.Quantity, mud_weight: pint.Quantity, riser_weight: pint.Quantity, diluent_density: pint.Quantity
) -> pint.Quantity:
    """Rate of a light fluid pumped in at the mudline that makes the returns as light as is wanted in the riser.

    dilution rate = mud_rate * (mud_weight - riser_weight) / (riser_weight - diluent_density)

    Parameters
    ----------
    mud_rate : of the mud that comes up from the well (gal/min or m3/min); scalar or array.
    mud_weight : its weight (lb/gal, kg/m3 or SG); scalar or array.
    riser_weight : wanted in the riser; scalar or array.
    diluent_density : of the fluid pumped in; scalar or array.

    Returns
    -------
    Rate of the diluent, m3/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative rate; densities outside the valid range.

    Valid range: 0 < diluent_density < riser_weight <= mud_weight; volumes add.
    Source: mass balance, derived; the idea is that of J. Shelton, master's thesis, Louisiana State University, 2005
        (front matter seen).

    >>> weights = Q(14.5, "lb/gal"), Q(10.0, "lb/gal"), Q(6.6, "lb/gal")
    >>> print(f"{riser_dilution_rate(Q(500, 'gal/min'), *weights).to('gal/min'):.1f~P}")
    661.8 gal/min
    """
    require(mud_rate >= Q(0, "m**3/s"), "rate of the mud must not be negative")
    _require_riser(mud_weight, riser_weight, diluent_density)
    return mud_rate * (mud_weight - riser_weight) / (riser_weight - diluent_density)


@quantities(
    returns="[volumetric_flow_rate]",
    mud_rate="[volumetric_flow_rate]",
    mud_weight="[density]",
    riser_weight="[density]",
    diluent_density="[density]",
)
def riser_return_rate(
    mud_rate: pint.Quantity, mud_weight: pint.Quantity, riser_weight: pint.Quantity, diluent_density: pint.Quantity
) -> pint.Quantity:
    """Rate at which the diluted fluid comes back to the rig, all of which has to be parted into mud and diluent again.

    return rate = mud_rate * (mud_weight - diluent_density) / (riser_weight - diluent_density)

    Parameters
    ----------
    mud_rate, mud_weight, riser_weight, diluent_density : as :func:`riser_dilution_rate`.

    Returns
    -------
    Rate of return, m3/s.

    Raises
    ------
    CalculationError : as :func:`riser_dilution_rate`.

    Valid range: as :func:`riser_dilution_rate`.
    Source: mass balance, derived.

    >>> weights = Q(14.5, "lb/gal"), Q(10.0, "lb/gal"), Q(6.6, "lb/gal")
    >>> print(f"{riser_return_rate(Q(500, 'gal/min'), *weights).to('gal/min'):,.1f~P}")
    1,161.8 gal/min
    """
    return mud_rate + riser_dilution_rate(mud_rate, mud_weight, riser_weight, diluent_density)


@quantities(
    returns="[density]",
    mud_rate="[volumetric_flow_rate]",
    mud_weight="[density]",
    dilution_rate="[volumetric_flow_rate]",
    diluent_density="[density]",
)
def riser_weight(
    mud_rate: pint.Quantity, mud_weight: pint.Quantity, dilution_rate: pint.Quantity, diluent_density: pint.Quantity
) -> pint.Quantity:
    """Density in the riser at given rates of mud and diluent.

    riser weight = (mud_rate * mud_weight + dilution_rate * diluent_density) / (mud_rate + dilution_rate)

    Parameters
    ----------
    mud_rate, dilution_rate : of the mud from below and of the fluid pumped in (gal/min or m3/min); scalar or array.
    mud_weight, diluent_density : their densities (lb/gal, kg/m3 or SG); scalar or array.

    Returns
    -------
    Density of the mixture, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative rate; no flow at all; a density not above zero.

    Valid range: volumes add; steady flow.
    Source: mass balance; :func:`riser_dilution_rate` turned round.

    >>> weight = riser_weight(Q(500, "gal/min"), Q(14.5, "lb/gal"), Q(661.8, "gal/min"), Q(6.6, "lb/gal"))
    >>> print(f"{weight.to('lb/gal'):.2f~P}")
    10.00 lb/gal
    """
    still = Q(0, "m**3/s")
    require((mud_rate >= still) & (dilution_rate >= still), "a rate must not be negative")
    require(mud_rate + dilution_rate > still, "nothing flows, so there is no mixture")
    require((mud_weight > _NONE) & (diluent_density > _NONE), "density of both fluids must be above zero")
    return (mud_rate * mud_weight + dilution_rate * diluent_density) / (mud_rate + dilution_rate)


@quantities(returns=("[density]", "[density]"), mud_weight="[density]", pore="[density]", fracture="[density]")
def window_margins(
    mud_weight: pint.Quantity, pore: pint.Quantity, fracture: pint.Quantity
) -> tuple[pint.Quantity, pint.Quantity]:
    """How far an equivalent mud weight stands above the pore and below the fracture gradient.

    above pore = mud_weight - pore, below fracture = fracture - mud_weight

    Parameters
    ----------
    mud_weight : equivalent mud weight at a depth (lb/gal, kg/m3 or SG); scalar or array over depth.
    pore, fracture : gradients there as equivalent mud weights of the same datum (see
        :func:`pitside.density.density_from_gradient` for psi/ft); scalar or array.

    Returns
    -------
    Margin above pore, margin below fracture, kg/m3; negative where the mud is outside the window.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a gradient that is not above zero; a fracture gradient below the
        pore gradient.

    Valid range: 0 < pore <= fracture.
    Source: the definition.

    >>> margins = window_margins(Q(12.0, "lb/gal"), Q(11.6, "lb/gal"), Q(12.9, "lb/gal"))
    >>> print(" ".join(f"{margin.to('lb/gal'):.1f~P}" for margin in margins))
    0.4 lb/gal 0.9 lb/gal
    """
    _require_gradients(pore, fracture)
    return mud_weight - pore, fracture - mud_weight


def _require_gradients(pore: pint.Quantity, fracture: pint.Quantity) -> None:
    require(pore > _NONE, "pore gradient must be above zero")
    require(fracture >= pore, "the fracture gradient must not lie below the pore gradient")


def _require_depths(depths: pint.Quantity, *profiles: pint.Quantity) -> None:
    require(depths.ndim == 1 and depths.size > 1, "give a list of two or more depths, from the shoe down")
    require(np.diff(depths.m_as("m")) > 0, "the depths must increase from the shoe down")
    require(depths > Q(0, "m"), "each depth must be above zero")
    require(
        all(np.ndim(profile.magnitude) == 0 or profile.shape == depths.shape for profile in profiles),
        "mud weight, pore and fracture gradient must be one value, or a list with a value for each depth",
    )


def _first_below_zero(depths: np.ndarray, gap: np.ndarray) -> float:
    """Depth at which a gap, linear between the depths, first falls below zero; the last depth if it never does."""
    below = np.flatnonzero(gap < 0)
    if below.size == 0:
        return float(depths[-1])
    place = below[0]
    require(place > 0, "the window is closed at the first depth already: nothing can be drilled from there")
    before, after = gap[place - 1], gap[place]
    return float(depths[place - 1] + (depths[place] - depths[place - 1]) * before / (before - after))


@quantities(
    returns="[length]",
    depths="[length]",
    mud_weight="[density]",
    pore="[density]",
    fracture="[density]",
    pore_margin="[density]",
    fracture_margin="[density]",
)
def deepest_point(
    depths: pint.Quantity,
    mud_weight: pint.Quantity,
    pore: pint.Quantity,
    fracture: pint.Quantity,
    pore_margin: pint.Quantity = NO_MARGIN,
    fracture_margin: pint.Quantity = NO_MARGIN,
) -> pint.Quantity:
    """Deepest point that a given column reaches from the shoe without leaving the window.

    the first depth at which mud_weight - pore < pore_margin or fracture - mud_weight < fracture_margin

    Parameters
    ----------
    depths : from the shoe down, from the datum (ft or m); list that increases.
    mud_weight : equivalent mud weight of the column at each depth, one for all of a single mud (lb/gal, kg/m3 or SG);
        scalar or list of as many.
    pore, fracture : gradients at each depth as equivalent mud weights; scalar or list of as many.
    pore_margin, fracture_margin : how far the mud is to stay off each; none by default; scalar.

    Returns
    -------
    Depth, m; linear between the depths given, and the last of them if the window never closes.

    Raises
    ------
    CalculationError : a value of the wrong dimension; depths that do not increase; lists that do not match; a window
        closed at the first depth.

    Valid range: mud at rest; 0 < pore <= fracture.
    Source: the definition; the worked figure is where 12.0 lb/gal meets a pore gradient of 10.0 + 1.0 for each 1000 ft.

    >>> depths, pore = Q([8000, 9000, 10_000, 11_000], "ft"), Q([10.0, 11.0, 12.0, 13.0], "lb/gal")
    >>> print(f"{deepest_point(depths, Q(11.5, 'lb/gal'), pore, pore + Q(2.5, 'lb/gal')).to('ft'):,.0f~P}")
    9,500 ft
    """
    _require_depths(depths, mud_weight, pore, fracture)
    require((pore_margin >= NO_MARGIN) & (fracture_margin >= NO_MARGIN), "a margin must not be negative")
    above, below = window_margins(mud_weight, pore, fracture)
    gap = np.minimum(above - pore_margin, below - fracture_margin).m_as("kg/m**3")
    return Q(_first_below_zero(depths.m_as("m"), np.broadcast_to(gap, depths.shape)), "m")


@quantity_fields(
    depths="[length]",
    lowest="[density]",
    highest="[density]",
    deepest="[length]",
    mud_weight="[density]",
)
@dataclass(frozen=True)
class OpenHoleWindow:
    """Muds that can drill a section from the shoe down to each depth with the whole open hole inside its window.

    ``lowest`` and ``highest`` are arrays over ``depths``: weight of the mud (below the mudline, in a dual-gradient
    column) that the section needs, and that it bears, when it ends at that depth. Beyond ``deepest``, where they meet,
    no one mud will do; it is the last depth if they do not meet. ``mud_weight`` is the mud that gets there.
    """

    depths: pint.Quantity
    lowest: pint.Quantity
    highest: pint.Quantity
    deepest: pint.Quantity
    mud_weight: pint.Quantity


@quantities(
    depths="[length]",
    pore="[density]",
    fracture="[density]",
    upper="[density]",
    mudline_depth="[length]",
    air_gap="[length]",
    pore_margin="[density]",
    fracture_margin="[density]",
)
def open_hole_window(
    depths: pint.Quantity,
    pore: pint.Quantity,
    fracture: pint.Quantity,
    *,
    upper: pint.Quantity | None = None,
    mudline_depth: pint.Quantity = NO_AIR_GAP,
    air_gap: pint.Quantity = NO_AIR_GAP,
    pore_margin: pint.Quantity = NO_MARGIN,
    fracture_margin: pint.Quantity = NO_MARGIN,
) -> OpenHoleWindow:
    """Which one mud can drill a section from the shoe, down to each depth, and how deep the section can go.

    lowest = greatest mud that pore + pore_margin needs at any depth so far,
    highest = least mud that fracture - fracture_margin bears at any depth so far

    Parameters
    ----------
    depths : from the shoe down, from the datum (ft or m), below the mudline; list that increases.
    pore, fracture : gradients at each depth as equivalent mud weights of the same datum; lists of as many.
    upper : density of the fluid above the mudline in a dual-gradient column; one mud up to the datum by default.
    mudline_depth, air_gap : as :func:`dual_gradient_pressure`; only with ``upper``; scalar.
    pore_margin, fracture_margin : how far the column is to stay off each (kick and surge margin); none by default.

    Returns
    -------
    :class:`OpenHoleWindow`.

    Raises
    ------
    CalculationError : a value of the wrong dimension; depths that do not increase or are not below the mudline; a
        window closed at the first depth; a mudline or air gap without ``upper``.

    Valid range: mud at rest; 0 < pore <= fracture; the deepest point is linear between the depths given.
    Source: [Lapeyrouse2002] ch. 1 columns, searched for the deepest point; derived.

    >>> depths = Q([9000, 12_000, 15_000, 18_000], "ft")
    >>> pore, fracture = Q([9.2, 10.2, 11.4, 12.6], "lb/gal"), Q([10.6, 11.9, 13.1, 14.2], "lb/gal")
    >>> one = open_hole_window(depths, pore, fracture)
    >>> two = open_hole_window(depths, pore, fracture, upper=Q(8.55, "lb/gal"), mudline_depth=Q(5000, "ft"))
    >>> print(f"{one.deepest.to('ft'):,.0f~P} with one mud, {two.deepest.to('ft'):,.0f~P} with two gradients")
    13,000 ft with one mud, 15,760 ft with two gradients
    """
    if upper is None:
        require(
            np.all(mudline_depth == NO_AIR_GAP) and np.all(air_gap == NO_AIR_GAP),
            "a mudline and an air gap need the density of the fluid above the mudline",
        )
        upper = Q(1.0, "SG")  # of a column that has no length
    _require_depths(depths, pore, fracture)
    require((pore_margin >= NO_MARGIN) & (fracture_margin >= NO_MARGIN), "a margin must not be negative")
    _require_gradients(pore, fracture)
    column = depths, upper, mudline_depth, air_gap
    needed = lower_mud_weight(pore + pore_margin, *column).m_as("kg/m**3")
    borne = lower_mud_weight(fracture - fracture_margin, *column).m_as("kg/m**3")
    lowest, highest = np.maximum.accumulate(needed), np.minimum.accumulate(borne)
    deepest = _first_below_zero(depths.magnitude, highest - lowest)
    return OpenHoleWindow(
        depths=depths,
        lowest=Q(lowest, "kg/m**3"),
        highest=Q(highest, "kg/m**3"),
        deepest=Q(deepest, "m"),
        mud_weight=Q(float(np.interp(deepest, depths.magnitude, lowest)), "kg/m**3"),
    )
