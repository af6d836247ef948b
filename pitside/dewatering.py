"""Dewatering: what a dose from the jars asks of the dosing pump, and what a day uses.

``solution_flow``: flow of a polymer solution into a flow of mud. ``polymer_use``: mass of polymer over a time.
``dewatered``: cake and water that a feed comes to.

A dose is a mass of dry polymer for each volume of mud as it is fed, a strength the mass in each volume of solution.
"""

from __future__ import annotations

from dataclasses import dataclass

import pint

from pitside.units import (
    quantities,
    quantity_fields,
    require,
    require_above_zero,
    require_not_negative,
)


@quantity_fields(cake="[volumetric_flow_rate]", water="[volumetric_flow_rate]")
@dataclass(frozen=True)
class Dewatered:
    """What a feed comes to: cake and water, m3/s."""

    cake: pint.Quantity
    water: pint.Quantity


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


@quantities(feed="[volumetric_flow_rate]", feed_solids="[]", cake_solids="[]", water_solids="[]")
def dewatered(
    feed: pint.Quantity,
    feed_solids: pint.Quantity | float,
    cake_solids: pint.Quantity | float,
    water_solids: pint.Quantity | float = 0.0,
) -> Dewatered:
    """Cake and water of a feed, from the solids in each by volume.

    cake = feed * (feed_solids - water_solids) / (cake_solids - water_solids), water = feed - cake

    Parameters
    ----------
    feed : all that goes into the machine, polymer solution and dilution water too (gal/min or m3/h); scalar or array.
    feed_solids, cake_solids, water_solids : solids by volume, a fraction or percent, from retorts; scalar or array.

    Returns
    -------
    :class:`Dewatered`.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative feed; solids that are not in the order 0 <= water <=
        feed <= cake <= 1, or a cake no thicker than the water.

    Valid range: any steady feed.
    Source: the balance, derived.

    >>> from pitside import Q
    >>> parts = dewatered(Q(50, "gal/min"), Q(8, "percent"), Q(35, "percent"), Q(0.5, "percent"))
    >>> print(f"{parts.cake.to('gal/min'):.1f~P} of cake, {parts.water.to('gal/min'):.1f~P} of water")
    10.9 gal/min of cake, 39.1 gal/min of water
    """
    require_not_negative(feed=feed)
    require(
        (water_solids >= 0) & (water_solids <= feed_solids) & (feed_solids <= cake_solids) & (cake_solids <= 1),
        "solids by volume must rise from water to feed to cake, from 0 to 100 %",
    )
    require(cake_solids > water_solids, "the cake must hold more solids than the water")
    cake = feed * (feed_solids - water_solids) / (cake_solids - water_solids)
    return Dewatered(cake, feed - cake)
