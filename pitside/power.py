"""Electricity that machines draw, and what it costs.

``supply_power``: what the motor takes from the line. ``energy``: over a time, at a load and hours of running.
``energy_cost``: at a price.
"""

from __future__ import annotations

import pint

from pitside.units import Q, quantities, require, require_not_negative, require_share

#: One day of rig time.
DAY = Q(1.0, "day")


@quantities(returns="[power]", shaft_power="[power]", motor_efficiency="[]")
def supply_power(shaft_power: pint.Quantity, motor_efficiency: pint.Quantity | float) -> pint.Quantity:
    """Electrical power that a motor takes to give power at its shaft.

    supply = shaft_power / motor_efficiency

    Parameters
    ----------
    shaft_power : hp or kW; scalar or array.
    motor_efficiency : a fraction or percent, drive included; scalar or array.

    Returns
    -------
    Power, W.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative power; an efficiency not above 0 or above 100 %.

    Valid range: near the motor's rated load; a lightly loaded motor is less efficient.
    Source: the definition.

    >>> print(f"{supply_power(Q(50, 'hp'), Q(93, 'percent')).to('kW'):.1f~P}")
    40.1 kW
    """
    require_not_negative(shaft_power=shaft_power)
    require((motor_efficiency > 0) & (motor_efficiency <= 1), "motor efficiency must lie above 0, to 100 %")
    return shaft_power / motor_efficiency


@quantities(returns="[energy]", power="[power]", load_factor="[]", duration="[time]", running="[]")
def energy(
    power: pint.Quantity,
    load_factor: pint.Quantity | float = 1.0,
    duration: pint.Quantity = DAY,
    running: pint.Quantity | float = 1.0,
) -> pint.Quantity:
    """Energy that a machine takes over a time.

    energy = power * load_factor * running * duration

    Parameters
    ----------
    power : rated (hp or kW); scalar or array.
    load_factor : share of the rated power that is drawn while it runs (a fraction or percent); scalar or array.
    duration : a day by default; scalar or array.
    running : share of that time in which it runs (a fraction or percent); scalar or array.

    Returns
    -------
    Energy, J (``.to("kWh")``).

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative power or duration; a share outside 0 to 100 %.

    Valid range: any.
    Source: the definition; 50 hp for a day are 895 kWh.

    >>> print(f"{energy(Q(50, 'hp')).to('kWh'):.0f~P}, {energy(Q(50, 'hp'), 0.75, running=0.6).to('kWh'):.0f~P}")
    895 kWh, 403 kWh
    """
    require_not_negative(power=power, duration=duration)
    require_share(load_factor=load_factor)
    require((running >= 0) & (running <= 1), "share of running time must lie between 0 and 100 %")
    return power * load_factor * running * duration


@quantities(returns="[currency]", energy="[energy]", price="[currency]/[energy]")
def energy_cost(energy: pint.Quantity, price: pint.Quantity) -> pint.Quantity:
    """Cost of energy at a price.

    cost = energy * price

    Parameters
    ----------
    energy : kWh; scalar or array.
    price : money/kWh, fuel and generator included; scalar or array.

    Returns
    -------
    Cost, in units of currency.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative value.

    Valid range: any.
    Source: the definition.

    >>> print(f"{energy_cost(Q(895, 'kWh'), Q(0.20, 'money/kWh')).magnitude:.0f}")
    179
    """
    require_not_negative(energy=energy, price=price)
    return energy * price
