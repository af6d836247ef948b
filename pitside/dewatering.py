"""Dewatering: what a dose from the jars asks of the dosing pump, and what a day uses.

``solution_flow``: flow of a polymer solution into a flow of mud. ``polymer_use``: mass of polymer over a time.

A dose is a mass of dry polymer for each volume of mud as it is fed, a strength the mass in each volume of solution.
"""

from __future__ import annotations

import pint

from pitside.units import quantities, require_above_zero, require_not_negative


@quantities(returns="[volumetric_flow_rate]", feed="[volumetric_flow_rate]", dose="[density]", strength="[density]")
def solution_flow(feed: pint.Quantity, dose: pint.Quantity, strength: pint.Quantity) -> pint.Quantity:
    """Flow of polymer solution that gives a feed its dose.

    flow = feed * dose / strength

    Parameters
    ----------
    feed : mud into the centrifuge, without the solution (gal/min or m3/h); scalar or array.
    dose : dry polymer for each volume of that mud (lb/bbl or kg/m3); scalar or array.
    strength : dry polymer in each volume of solution (lb/bbl or kg/m3); scalar or array.

    Returns
    -------
    Flow, m3/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative feed or dose; a strength not above zero.

    Valid range: a dose found on the mud that is fed; another mud wants other jars.
    Source: the balance, derived.

    >>> from pitside import Q
    >>> print(f"{solution_flow(Q(40, 'gal/min'), Q(0.35, 'lb/bbl'), Q(1.4, 'lb/bbl')).to('gal/min'):.0f~P}")
    10 gal/min
    """
    require_not_negative(feed=feed, dose=dose)
    require_above_zero(strength=strength)
    return feed * dose / strength


@quantities(returns="[mass]", feed="[volumetric_flow_rate]", dose="[density]", duration="[time]")
def polymer_use(feed: pint.Quantity, dose: pint.Quantity, duration: pint.Quantity) -> pint.Quantity:
    """Dry polymer that a time of dewatering uses.

    mass = feed * dose * duration

    Parameters
    ----------
    feed, dose : as :func:`solution_flow`.
    duration : time on feed (h); scalar or array.

    Returns
    -------
    Mass, kg.

    Raises
    ------
    CalculationError : a value of the wrong dimension or a negative one.

    Valid range: any.
    Source: the balance, derived.

    >>> from pitside import Q
    >>> print(f"{polymer_use(Q(40, 'gal/min'), Q(0.35, 'lb/bbl'), Q(20, 'hour')).to('lb'):.0f~P}")
    400 lb
    """
    require_not_negative(feed=feed, dose=dose, duration=duration)
    return feed * dose * duration
