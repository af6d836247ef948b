"""Levels of the pits while drilling: what to expect, and what is left over for the driller.

``expected_change``: of the volume at the surface, from what goes in and what leaves. ``unexplained``: what was read,
less that.

Rock that is drilled takes the room that new mud takes in the new hole, so the hole itself changes nothing: steel that
goes in raises the pits, what the machines throw out lowers them. Nothing here is a well-control procedure.
"""

from __future__ import annotations

import pint

from pitside.units import Q, quantities, require_not_negative

_NOTHING = Q(0.0, "m**3")


@quantities(returns="[volume]", discarded="[volume]", steel="[volume]", added="[volume]", other_losses="[volume]")
def expected_change(
    discarded: pint.Quantity,
    steel: pint.Quantity = _NOTHING,
    added: pint.Quantity = _NOTHING,
    other_losses: pint.Quantity = _NOTHING,
) -> pint.Quantity:
    """Change of the volume in the pits that a time of drilling should bring.

    change = steel + added - discarded - other_losses

    Parameters
    ----------
    discarded : all that the machines threw out, rock and the mud on it (bbl or m3); scalar or array.
    steel : volume of the metal of the pipe that went into the hole; scalar or array.
    added : water, mud and material that went in, by volume; scalar or array.
    other_losses : evaporation, spills, mud that was sent away; scalar or array.

    Returns
    -------
    Change, m3; below zero the pits fall.

    Raises
    ------
    CalculationError : a value of the wrong dimension or a negative one.

    Valid range: a hole that neither flows nor takes mud, cleaned as fast as it is drilled, at steady pump rate.
    Source: the balance of volumes, derived.

    >>> change = expected_change(Q(16, "bbl"), steel=Q(0.6, "bbl"), added=Q(10, "bbl"))
    >>> print(f"{change.to('bbl'):.1f~P}")
    -5.4 bbl
    """
    require_not_negative(discarded=discarded, steel=steel, added=added, other_losses=other_losses)
    return steel + added - discarded - other_losses


@quantities(returns="[volume]", read="[volume]", expected="[volume]")
def unexplained(read: pint.Quantity, expected: pint.Quantity) -> pint.Quantity:
    """What the pits gained, above zero, or lost, below zero, that the account does not explain.

    unexplained = read - expected

    Parameters
    ----------
    read : change of the volume in the pits as it was read, a fall with a minus sign (bbl or m3); scalar or array.
    expected : from :func:`expected_change`; scalar or array.

    Returns
    -------
    Volume, m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension.

    Valid range: as :func:`expected_change`.
    Source: the definition.

    >>> print(f"{unexplained(Q(3, 'bbl'), Q(-5.4, 'bbl')).to('bbl'):.1f~P}")
    8.4 bbl
    """
    return read - expected
