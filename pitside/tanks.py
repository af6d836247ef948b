"""Tanks at the surface: how fast mud rises in them, and how they are stirred.

``overflow_velocity``: what a trap must beat, grain by grain. ``surface_area_rule``: a handbook's least surface.
``impeller_flow``, ``turnover_time``, ``stirring_power``: of a stirrer.
"""

from __future__ import annotations

import math

import pint

from pitside.units import Q, quantities, require_above_zero, require_not_negative

#: Surface for each flow that a handbook asks of the pits: 1 ft2 for each 40 gal/min; [AADE1999] p. 142, seen.
FLOW_OVER_SURFACE = Q(40.0, "gal/min/ft**2")
#: Flow number of a stirrer with four blades at 45 degrees, in a tank with baffles, turbulent: from memory.
FLOW_NUMBER = 0.8
#: Power number of the same: from memory.
POWER_NUMBER = 1.3


@quantities(returns="[velocity]", flow="[volumetric_flow_rate]", area="[area]")
def overflow_velocity(flow: pint.Quantity, area: pint.Quantity) -> pint.Quantity:
    """Velocity that a grain must fall with to stay in a trap, however deep it is.

    velocity = flow / area

    Parameters
    ----------
    flow : through the trap (gal/min or m3/h); scalar or array.
    area : of its surface (ft2 or m2); scalar or array.

    Returns
    -------
    Velocity, m/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative flow; an area not above zero.

    Valid range: mud that passes evenly and is not stirred; a real trap does less.
    Source: the balance of an ideal basin, derived.

    >>> print(f"{overflow_velocity(Q(800, 'gal/min'), Q(80, 'ft**2')).to('mm/s'):.1f~P}")
    6.8 mm/s
    """
    require_not_negative(flow=flow)
    require_above_zero(area=area)
    return flow / area


@quantities(returns="[area]", flow="[volumetric_flow_rate]")
def surface_area_rule(flow: pint.Quantity) -> pint.Quantity:
    """Surface of a pit from which gas and air still leave the mud, as a handbook has it.

    area[ft2] = flow[gal/min] / 40

    Parameters
    ----------
    flow : through the pit (gal/min or m3/h); scalar or array.

    Returns
    -------
    Area, m2.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative flow.

    Valid range: a rule of thumb for one compartment.
    Source: [AADE1999] p. 142, seen.

    >>> print(f"{surface_area_rule(Q(800, 'gal/min')).to('ft**2'):.0f~P}")
    20 ft²
    """
    require_not_negative(flow=flow)
    return flow / FLOW_OVER_SURFACE


@quantities(returns="[volumetric_flow_rate]", diameter="[length]", speed="[frequency]", flow_number="[]")
def impeller_flow(
    diameter: pint.Quantity, speed: pint.Quantity, flow_number: pint.Quantity | float = FLOW_NUMBER
) -> pint.Quantity:
    """Flow that the blades of a stirrer move.

    flow = flow_number * revolutions * diameter ** 3

    Parameters
    ----------
    diameter : over the blades (in or mm); scalar or array.
    speed : of the shaft (rpm); scalar or array.
    flow_number : a plain number; scalar or array.

    Returns
    -------
    Flow, m3/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a diameter, speed or flow number not above zero.

    Valid range: turbulent; thick mud moves less.
    Source: the definition of the flow number; its value from memory of texts on mixing.

    >>> print(f"{impeller_flow(Q(32, 'in'), Q(60, 'rpm')).to('gal/min'):.0f~P}")
    6809 gal/min
    """
    require_above_zero(diameter=diameter, speed=speed, flow_number=flow_number)
    return flow_number * _revolutions(speed) * diameter**3


@quantities(returns="[time]", volume="[volume]", flow="[volumetric_flow_rate]")
def turnover_time(volume: pint.Quantity, flow: pint.Quantity) -> pint.Quantity:
    """Time in which a stirrer moves as much mud as the tank holds.

    time = volume / flow

    Parameters
    ----------
    volume : of the mud in the tank (bbl or m3); scalar or array.
    flow : of the stirrer, from :func:`impeller_flow`; scalar or array.

    Returns
    -------
    Time, s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; a flow not above zero.

    Valid range: any; what is enough is a rule of the trade.
    Source: the definition.

    >>> print(f"{turnover_time(Q(150, 'bbl'), Q(6800, 'gal/min')).to('s'):.0f~P}")
    56 s
    """
    require_not_negative(volume=volume)
    require_above_zero(flow=flow)
    return volume / flow


@quantities(returns="[power]", density="[density]", diameter="[length]", speed="[frequency]", power_number="[]")
def stirring_power(
    density: pint.Quantity,
    diameter: pint.Quantity,
    speed: pint.Quantity,
    power_number: pint.Quantity | float = POWER_NUMBER,
) -> pint.Quantity:
    """Power that the blades of a stirrer take from its shaft.

    power = power_number * density * revolutions ** 3 * diameter ** 5

    Parameters
    ----------
    density : of the mud (lb/gal or kg/m3); scalar or array.
    diameter : over the blades (in or mm); scalar or array.
    speed : of the shaft (rpm); scalar or array.
    power_number : a plain number; scalar or array.

    Returns
    -------
    Power, W.

    Raises
    ------
    CalculationError : a value of the wrong dimension; one that is not above zero.

    Valid range: turbulent, with baffles; gearbox and motor take more on top.
    Source: the definition of the power number; its value from memory of texts on mixing.

    >>> print(f"{stirring_power(Q(12, 'lb/gal'), Q(32, 'in'), Q(60, 'rpm')).to('hp'):.1f~P}")
    0.9 hp
    """
    require_above_zero(density=density, diameter=diameter, speed=speed, power_number=power_number)
    return power_number * density * _revolutions(speed) ** 3 * diameter**5


def _revolutions(speed: pint.Quantity) -> pint.Quantity:
    """Turns in a time, where Pint counts radians."""
    return speed / (2 * math.pi)
