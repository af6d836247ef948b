"""How the scroll of a decanter carries the cake: its speed against the bowl, the cake at the wall, the beach.

``differential_speed``: from bowl, pinion and gearbox. ``carrying_velocity``, ``cake_depth``: how fast the cake moves
and how thick it lies. ``dry_beach``: how long a way it has out of the pond.

The cake is taken to move with the flights, without slip, as an even ring; a real one slips, piles up at the flight and
moves more slowly. These sums show which way a setting goes.
"""

from __future__ import annotations

import math

import numpy as np
import pint

from pitside.centrifuges import angular_speed
from pitside.units import Q, quantities, require, require_above_zero


def differential_speed(bowl_speed: pint.Quantity, pinion_speed: pint.Quantity, ratio: float) -> pint.Quantity:
    """Speed of the scroll against the bowl, from the speed at which the gearbox's pinion is held.

    differential = |bowl speed - pinion speed| / ratio

    Parameters
    ----------
    bowl_speed : of the bowl and the gearbox's housing (rpm); scalar or array.
    pinion_speed : of the pinion, in the same sense as the bowl; 0 where it is held fast (rpm); scalar or array.
    ratio : of the gearbox: turns of the pinion against the housing for one of the scroll; above 1.

    Returns
    -------
    Angular speed of the scroll against the bowl, 1/s; ``.to("rpm")`` gives rpm.

    Raises
    ------
    CalculationError : a speed of the wrong dimension or below zero; a ratio that is not above 1.

    Valid range: a gearbox whose housing turns with the bowl. It does not say whether the scroll leads or lags.
    Source: the definition of the ratio.

    >>> print(f"{differential_speed(Q(2000, 'rpm'), Q(0, 'rpm'), 80).to('rpm'):.0f~P}")
    25 rpm
    """
    require(ratio > 1, "ratio of the gearbox must be above 1")
    return abs(angular_speed(bowl_speed) - angular_speed(pinion_speed)) / ratio


@quantities(returns="[velocity]", pitch="[length]")
def carrying_velocity(differential: pint.Quantity, pitch: pint.Quantity) -> pint.Quantity:
    """Velocity at which the flights push the cake along the bowl.

    velocity = turns in a time * pitch

    Parameters
    ----------
    differential : speed of the scroll against the bowl (rpm); scalar or array.
    pitch : from flight to flight along the axis, times the number of leads (in or mm); scalar or array.

    Returns
    -------
    Velocity along the axis, m/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a pitch that is not above zero; a negative speed.

    Valid range: cake that does not slip; real cake is slower.
    Source: geometry of a screw.

    >>> print(f"{carrying_velocity(Q(20, 'rpm'), Q(4, 'in')).to('ft/min'):.1f~P}")
    6.7 ft/min
    """
    require(pitch.magnitude > 0, "pitch of the scroll must be above zero")
    return angular_speed(differential) / (2 * math.pi) * pitch


@quantities(returns="[length]", cake_rate="[volumetric_flow_rate]", velocity="[velocity]", diameter="[length]")
def cake_depth(cake_rate: pint.Quantity, velocity: pint.Quantity, diameter: pint.Quantity) -> pint.Quantity:
    """Depth of the ring of cake at the wall, where the bowl is so wide.

    pi * (R ** 2 - (R - depth) ** 2) = cake_rate / velocity, with R = diameter / 2

    Parameters
    ----------
    cake_rate : volume of cake, solids and liquid, in a time (gal/min or m3/h); scalar or array.
    velocity : from :func:`carrying_velocity` (ft/min or m/s); scalar or array.
    diameter : inside of the bowl at this place (in or mm); scalar or array.

    Returns
    -------
    Depth from the wall inwards, m.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; more cake than the bowl has room for.

    Valid range: an even ring of cake, all of it moving.
    Source: conservation of volume.

    >>> print(f"{cake_depth(Q(10, 'gal/min'), Q(6.7, 'ft/min'), Q(14, 'in')).to('in'):.2f~P}")
    0.69 in
    """
    require_above_zero(cake_rate=cake_rate, velocity=velocity, diameter=diameter)
    radius = diameter / 2
    free = radius**2 - cake_rate / velocity / math.pi
    require(free.magnitude >= 0, "more cake than the bowl has room for")
    return radius - free**0.5


@quantities(returns="[length]", diameter="[length]", pond_depth="[length]", lip_diameter="[length]", angle="[]")
def dry_beach(
    diameter: pint.Quantity, pond_depth: pint.Quantity, lip_diameter: pint.Quantity, angle: pint.Quantity
) -> pint.Quantity:
    """Length of the beach that stands out of the pond, along the axis.

    length = (pond radius - lip radius) / tan(angle)

    Parameters
    ----------
    diameter : inside of the cylinder of the bowl (in or mm); scalar or array.
    pond_depth : from the surface of the pond to the wall of the cylinder (in or mm); scalar or array.
    lip_diameter : where the cake leaves, at the narrow end (in or mm); scalar or array.
    angle : of the beach against the axis, above 0 and below 45 degrees; scalar or array.

    Returns
    -------
    Length, m; below zero where the pond stands higher than the lip, so that mud runs out with the cake.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; a lip as wide as the bowl; a steeper beach.

    Valid range: a bowl at speed, whose pond is a cylinder.
    Source: geometry.

    >>> print(f"{dry_beach(Q(14, 'in'), Q(2, 'in'), Q(8, 'in'), Q(10, 'deg')).to('in'):.1f~P}")
    5.7 in
    """
    require_above_zero(diameter=diameter, pond_depth=pond_depth, lip_diameter=lip_diameter, angle=angle)
    require(lip_diameter < diameter, "the lip must be narrower than the bowl")
    require(angle < Q(45, "deg"), "a beach is flatter than 45 degrees")
    return (diameter / 2 - pond_depth - lip_diameter / 2) / np.tan(angle)
