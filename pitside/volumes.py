"""Volumes of holes, annuli and pits.

``hole_capacity``, ``annulus_capacity``: volume per length. ``pit_volume``: a rectangular pit up to a depth of mud.
"""

from __future__ import annotations

import math

import pint

from pitside.units import Q, quantities, require, require_above_zero


@quantities(returns="[volume]/[length]", diameter="[length]")
def hole_capacity(diameter: pint.Quantity) -> pint.Quantity:
    """Volume of a round hole, or of the inside of a pipe, per length.

    capacity = pi / 4 * diameter ** 2

    Parameters
    ----------
    diameter : diameter of the hole (in or mm); scalar or array.

    Returns
    -------
    Volume per length, m2 (that is m3/m; also bbl/ft).

    Raises
    ------
    CalculationError : a value of the wrong dimension; a diameter that is not above zero.

    Valid range: a hole in gauge; wash-out is not in it.
    Source: geometry; 1029.41 in2 ft/bbl derived from the exact inch and the barrel of 42 US gallons.

    >>> print(f"{hole_capacity(Q(8.5, 'in')).to('bbl/ft'):.5f~P}")
    0.07019 bbl/ft
    """
    require_above_zero(diameter=diameter)
    return math.pi / 4 * diameter**2


@quantities(returns="[volume]/[length]", hole_diameter="[length]", pipe_diameter="[length]")
def annulus_capacity(hole_diameter: pint.Quantity, pipe_diameter: pint.Quantity) -> pint.Quantity:
    """Volume between a hole and the pipe in it, per length.

    capacity = pi / 4 * (hole_diameter ** 2 - pipe_diameter ** 2)

    Parameters
    ----------
    hole_diameter : inner diameter of the hole or casing (in or mm); scalar or array.
    pipe_diameter : outer diameter of the pipe (in or mm); scalar or array.

    Returns
    -------
    Volume per length, m2 (that is m3/m; also bbl/ft).

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; a pipe that does not fit the hole.

    Valid range: pipe_diameter < hole_diameter; tool joints are not in it.
    Source: geometry, as :func:`hole_capacity`.

    >>> print(f"{annulus_capacity(Q(8.5, 'in'), Q(5.0, 'in')).to('bbl/ft'):.5f~P}")
    0.04590 bbl/ft
    """
    require(pipe_diameter < hole_diameter, "the pipe must be smaller than the hole")
    return hole_capacity(hole_diameter) - hole_capacity(pipe_diameter)


@quantities(returns="[volume]", length="[length]", width="[length]", depth="[length]")
def pit_volume(length: pint.Quantity, width: pint.Quantity, depth: pint.Quantity) -> pint.Quantity:
    """Volume of mud in a rectangular pit.

    volume = length * width * depth

    Parameters
    ----------
    length, width : inner sides of the pit (ft or m); scalar or array.
    depth : depth of the mud (ft or m), not of the pit; scalar or array.

    Returns
    -------
    Volume, m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a side that is not above zero; a negative depth.

    Valid range: straight walls and a flat floor; settled solids count as mud.
    Source: geometry; 5.61458 ft3 in a barrel derived from 42 US gallons.

    >>> print(f"{pit_volume(Q(20, 'ft'), Q(8, 'ft'), Q(6, 'ft')).to('bbl'):.1f~P}")
    171.0 bbl
    """
    require((length > Q(0, "m")) & (width > Q(0, "m")), "length and width of the pit must be above zero")
    require(depth >= Q(0, "m"), "depth of the mud must not be negative")
    return length * width * depth
