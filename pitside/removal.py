"""Drilled solids made, removed and diluted: one section's sums, without time.

``washout_from_diameters``, ``drilled_hole_volume``, ``drilled_solids``, ``drilled_solids_mass``,
``drilled_solids_mass_field``, ``drilled_solids_rate``: how much rock comes. ``mud_built``, ``total_dilution``,
``dilution_factor``, ``removal_performance``: how well it was removed, by the steps of API RP 13C. ``new_mud``,
``clean_mud``: what the rest takes in dilution. ``least_discard_removal``, ``level_removal``: the removal at which the
least goes to waste. ``dilution_plan``, ``dilution_cost``: volumes and cost at any removal.

Washout is by volume: 10 % means a hole of 1.1 times its gauge volume. Rock keeps its volume when it is ground, and
liquid from its pores joins the mud. The active system over time is in :mod:`pitside.circuit`.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
import pint

from pitside.errors import ValidityWarning
from pitside.units import (
    Q,
    quantities,
    quantity_fields,
    require,
    require_above_zero,
    require_less_than_all,
    require_not_negative,
    require_share,
)
from pitside.volumes import hole_capacity

#: Mass of a barrel of water, as handbooks round it: [Lapeyrouse2002], seen restated. Exact: 350.5 for SG 1, 349.9 for
#: 8.33 lb/gal.
WATER_350 = Q(350.0, "lb/bbl")
#: Nothing is paid.
FREE = Q(0.0, "money/m**3")


def _require_mixed(**fractions: pint.Quantity | float) -> None:
    for name, fraction in fractions.items():
        words = name.replace("_", " ")
        require((fraction > 0) & (fraction < 1), f"{words} must lie above 0 and below 100 %")


@quantities(returns="[]", gauge_diameter="[length]", actual_diameter="[length]")
def washout_from_diameters(gauge_diameter: pint.Quantity, actual_diameter: pint.Quantity) -> pint.Quantity:
    """Washout by volume of a hole that is wider than its gauge.

    washout = (actual_diameter / gauge_diameter) ** 2 - 1

    Parameters
    ----------
    gauge_diameter : of the bit (in or mm); scalar or array.
    actual_diameter : of the hole, as a caliper finds it (in or mm); scalar or array.

    Returns
    -------
    Washout, a share of the gauge volume.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a gauge that is not above zero; a hole below gauge.

    Valid range: actual_diameter >= gauge_diameter.
    Source: geometry; 8 % on the diameter are 16.6 % by volume.

    >>> print(f"{washout_from_diameters(Q(12.25, 'in'), Q(12.25 * 1.08, 'in')).to('percent'):.1f~P}")
    16.6 %
    """
    require_above_zero(gauge_diameter=gauge_diameter)
    require(actual_diameter >= gauge_diameter, "the hole must be at least as wide as its gauge")
    return (actual_diameter / gauge_diameter) ** 2 - 1


@quantities(returns="[volume]", diameter="[length]", length="[length]", washout="[]")
def drilled_hole_volume(
    diameter: pint.Quantity, length: pint.Quantity, washout: pint.Quantity | float = 0.0
) -> pint.Quantity:
    """Volume of the hole that drilling a length makes.

    volume = pi / 4 * diameter ** 2 * length * (1 + washout)

    Parameters
    ----------
    diameter : of the bit (in or mm); scalar or array.
    length : drilled, measured along the hole (ft or m); scalar or array.
    washout : by volume (a fraction or percent); none by default; scalar or array.

    Returns
    -------
    Volume, m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a diameter not above zero; a negative length or washout.

    Valid range: any.
    Source: geometry, :func:`pitside.volumes.hole_capacity`.

    >>> print(f"{drilled_hole_volume(Q(12.25, 'in'), Q(1000, 'ft'), Q(10, 'percent')).to('bbl'):.1f~P}")
    160.4 bbl
    """
    require(length >= Q(0, "m"), "length drilled must not be negative")
    require_not_negative(washout=washout)
    return hole_capacity(diameter) * length * (1 + washout)


@quantities(returns="[volume]", diameter="[length]", length="[length]", washout="[]", porosity="[]")
def drilled_solids(
    diameter: pint.Quantity,
    length: pint.Quantity,
    washout: pint.Quantity | float = 0.0,
    porosity: pint.Quantity | float = 0.0,
) -> pint.Quantity:
    """Volume of rock that drilling a length puts into the mud, without what was in its pores.

    volume = hole volume * (1 - porosity)

    Parameters
    ----------
    diameter, length, washout : as :func:`drilled_hole_volume`.
    porosity : of the rock (a fraction or percent); none by default; scalar or array.

    Returns
    -------
    Volume of drilled solids, m3.

    Raises
    ------
    CalculationError : as :func:`drilled_hole_volume`; a porosity below 0 or not below 100 %.

    Valid range: washed-out rock as porous as the rest.
    Source: [Lapeyrouse2002], seen restated: 6-1/8 in hole, 25 % porosity, 0.02733 bbl/ft; [ASME2005]: 10 bbl of hole
        at 10 % porosity are 9 bbl of rock.

    >>> print(f"{drilled_solids(Q(6.125, 'in'), Q(1, 'ft'), porosity=0.25).to('bbl'):.5f~P}")
    0.02733 bbl
    """
    require_less_than_all(porosity=porosity)
    return drilled_hole_volume(diameter, length, washout) * (1 - porosity)


@quantities(returns="[mass]", diameter="[length]", length="[length]", density="[density]", washout="[]", porosity="[]")
def drilled_solids_mass(
    diameter: pint.Quantity,
    length: pint.Quantity,
    density: pint.Quantity,
    washout: pint.Quantity | float = 0.0,
    porosity: pint.Quantity | float = 0.0,
) -> pint.Quantity:
    """Mass of rock that drilling a length puts into the mud.

    mass = drilled solids * density

    Parameters
    ----------
    diameter, length, washout, porosity : as :func:`drilled_solids`.
    density : of the grains (SG, g/cm3 or lb/gal), not of the porous rock; scalar or array.

    Returns
    -------
    Mass, kg.

    Raises
    ------
    CalculationError : as :func:`drilled_solids`; a density that is not above zero.

    Valid range: as :func:`drilled_solids`.
    Source: [Lapeyrouse2002], seen restated: 2,104 lb with 350 lb/bbl of water; the exact SG 1 gives 0.15 % more.

    >>> print(f"{drilled_solids_mass(Q(6.125, 'in'), Q(100, 'ft'), Q(2.20, 'SG'), porosity=0.25).to('lb'):.0f~P}")
    2108 lb
    """
    require_above_zero(density=density)
    return drilled_solids(diameter, length, washout, porosity) * density


@quantities(returns="[mass]", diameter="[length]", length="[length]", sg="[]", washout="[]", porosity="[]")
def drilled_solids_mass_field(
    diameter: pint.Quantity,
    length: pint.Quantity,
    sg: pint.Quantity | float,
    washout: pint.Quantity | float = 0.0,
    porosity: pint.Quantity | float = 0.0,
) -> pint.Quantity:
    """Mass of drilled rock with a handbook's 350 lb to the barrel of water.

    mass[lb] = 350 * volume[bbl] * sg

    Parameters
    ----------
    diameter, length, washout, porosity : as :func:`drilled_solids`.
    sg : specific gravity of the grains, a plain number; scalar or array.

    Returns
    -------
    Mass, kg.

    Raises
    ------
    CalculationError : as :func:`drilled_solids`; a specific gravity that is not above zero.

    Valid range: as :func:`drilled_solids`.
    Source: [Lapeyrouse2002], seen restated.

    >>> print(f"{drilled_solids_mass_field(Q(6.125, 'in'), Q(100, 'ft'), 2.20, porosity=0.25).to('lb'):.0f~P}")
    2105 lb
    """
    require(sg > 0, "specific gravity must be above zero")
    return drilled_solids(diameter, length, washout, porosity) * WATER_350 * sg


@quantities(
    returns="[volumetric_flow_rate]",
    diameter="[length]",
    rate_of_penetration="[velocity]",
    washout="[]",
    porosity="[]",
)
def drilled_solids_rate(
    diameter: pint.Quantity,
    rate_of_penetration: pint.Quantity,
    washout: pint.Quantity | float = 0.0,
    porosity: pint.Quantity | float = 0.0,
) -> pint.Quantity:
    """Rate at which drilling puts rock into the mud.

    rate = pi / 4 * diameter ** 2 * rate_of_penetration * (1 + washout) * (1 - porosity)

    Parameters
    ----------
    diameter, washout, porosity : as :func:`drilled_solids`.
    rate_of_penetration : ft/h or m/h, along the hole; scalar or array.

    Returns
    -------
    Rate, m3/s.

    Raises
    ------
    CalculationError : as :func:`drilled_solids`; a negative rate of penetration.

    Valid range: as :func:`drilled_solids`.
    Source: [ASME2005]: 14-3/4 in at 200 ft/h and 80 % removal send about 34 bbl/h of solids to discard.

    >>> made = drilled_solids_rate(Q(14.75, "in"), Q(200, "ft/h"))
    >>> print(f"{(0.80 * made).to('bbl/h'):.1f~P}")
    33.8 bbl/h
    """
    require_not_negative(rate_of_penetration=rate_of_penetration)
    return drilled_solids(diameter, Q(1, "m"), washout, porosity) * rate_of_penetration / Q(1, "m")


@quantities(returns="[volume]", base_fluid="[volume]", base_fluid_fraction="[]")
def mud_built(base_fluid: pint.Quantity, base_fluid_fraction: pint.Quantity | float) -> pint.Quantity:
    """Volume of mud that the base fluid added over an interval has built.

    mud = base_fluid / base_fluid_fraction

    Parameters
    ----------
    base_fluid : water or base oil added over the interval (bbl or m3); scalar or array.
    base_fluid_fraction : of that fluid in the mud, from retorts, average of the interval; scalar or array.

    Returns
    -------
    Volume of mud built, m3; drilled solids that stayed in it count in it.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; a fraction not above 0 or above 100 %.

    Valid range: base fluid from rock or a spill is not counted as added.
    Source: [API13C], from memory.

    >>> print(f"{mud_built(Q(600, 'bbl'), Q(79, 'percent')).to('bbl'):.0f~P}")
    759 bbl
    """
    require(base_fluid >= Q(0, "m**3"), "volume of base fluid must not be negative")
    require((base_fluid_fraction > 0) & (base_fluid_fraction <= 1), "base fluid fraction must lie above 0, to 100 %")
    return base_fluid / base_fluid_fraction


@quantities(returns="[volume]", drilled_solids="[volume]", solids_fraction="[]")
def total_dilution(drilled_solids: pint.Quantity, solids_fraction: pint.Quantity | float) -> pint.Quantity:
    """Volume of mud that would hold all drilled solids at their fraction, were none removed.

    total = drilled_solids / solids_fraction

    Parameters
    ----------
    drilled_solids : volume of rock drilled (bbl or m3); scalar or array.
    solids_fraction : of drilled solids in the mud (a fraction or percent), average of the interval; scalar or array.

    Returns
    -------
    Volume, m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; a fraction not above 0 or not below 100 %.

    Valid range: any.
    Source: [API13C], definition seen restated; [ASME2005]: 97.3 bbl at 5 % are 1,946 bbl.

    >>> print(f"{total_dilution(Q(97.3, 'bbl'), Q(5, 'percent')).to('bbl'):.0f~P}")
    1946 bbl
    """
    require(drilled_solids >= Q(0, "m**3"), "volume of drilled solids must not be negative")
    _require_mixed(solids_fraction=solids_fraction)
    return drilled_solids / solids_fraction


@quantities(returns="[]", mud_built="[volume]", total_dilution="[volume]")
def dilution_factor(mud_built: pint.Quantity, total_dilution: pint.Quantity) -> pint.Quantity:
    """Mud that was built over what dilution alone would have taken.

    factor = mud_built / total_dilution

    Parameters
    ----------
    mud_built : from :func:`mud_built` (bbl or m3); scalar or array.
    total_dilution : from :func:`total_dilution` (bbl or m3); scalar or array.

    Returns
    -------
    Factor; 0 where nothing was built, 1 where nothing was removed.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; a total dilution that is not above zero.

    Valid range: up to 1; warns (ValidityWarning) above, where more was built than dilution alone takes.
    Source: [API13C], from memory; [ASME2005]: 759 over 1,946 bbl is 0.39.

    >>> print(f"{dilution_factor(Q(759, 'bbl'), Q(1946, 'bbl')).magnitude:.2f}")
    0.39
    """
    require(mud_built >= Q(0, "m**3"), "volume of mud built must not be negative")
    require_above_zero(total_dilution=total_dilution)
    factor = mud_built / total_dilution
    if np.any(factor > 1):
        warnings.warn(
            "more mud was built than dilution alone takes: look at the average fraction of drilled solids, and at what "
            "else mud was built for",
            ValidityWarning,
            stacklevel=3,
        )
    return factor


@quantities(returns="[]", mud_built="[volume]", drilled_solids="[volume]", solids_fraction="[]")
def removal_performance(
    mud_built: pint.Quantity, drilled_solids: pint.Quantity, solids_fraction: pint.Quantity | float
) -> pint.Quantity:
    """Drilled-solids removal system performance over an interval.

    performance = 1 - mud_built / (drilled_solids / solids_fraction)

    Parameters
    ----------
    mud_built : from :func:`mud_built` (bbl or m3); scalar or array.
    drilled_solids : volume of rock drilled (bbl or m3); scalar or array.
    solids_fraction : of drilled solids in the mud, average of the interval; scalar or array.

    Returns
    -------
    Share of the drilled solids that was removed.

    Raises
    ------
    CalculationError : as :func:`total_dilution` and :func:`dilution_factor`.

    Valid range: the mud is the same at both ends of the interval. Mud that was lost or dumped took its solids with it
        and does no harm; liquid from the rock's pores is base fluid that nobody added, and flatters the machines. As
        :func:`dilution_factor`.
    Source: [API13C], from memory; [ASME2005]: 61 %.

    >>> performance = removal_performance(Q(759, "bbl"), Q(97.3, "bbl"), Q(5, "percent"))
    >>> print(f"{performance.to('percent'):.0f~P}")
    61 %
    """
    return 1 - dilution_factor(mud_built, total_dilution(drilled_solids, solids_fraction))


@quantities(returns="[volume]", retained_solids="[volume]", target_fraction="[]")
def new_mud(retained_solids: pint.Quantity, target_fraction: pint.Quantity | float) -> pint.Quantity:
    """Volume of mud that drilled solids fill at a target fraction: the solids and their dilution.

    volume = retained_solids / target_fraction

    Parameters
    ----------
    retained_solids : rock that was not removed (bbl or m3); scalar or array.
    target_fraction : of drilled solids wanted in the mud (a fraction or percent); scalar or array.

    Returns
    -------
    Volume, m3, the solids in it.

    Raises
    ------
    CalculationError : as :func:`total_dilution`.

    Valid range: any.
    Source: [ASME2005]: 9 bbl at 4 % are 225 bbl.

    >>> print(f"{new_mud(Q(9, 'bbl'), Q(4, 'percent')).to('bbl'):.0f~P}")
    225 bbl
    """
    return total_dilution(retained_solids, target_fraction)


@quantities(returns="[volume]", retained_solids="[volume]", target_fraction="[]")
def clean_mud(retained_solids: pint.Quantity, target_fraction: pint.Quantity | float) -> pint.Quantity:
    """Volume of clean mud that brings drilled solids to a target fraction.

    volume = retained_solids * (1 - target_fraction) / target_fraction

    Parameters
    ----------
    retained_solids : rock that was not removed (bbl or m3); scalar or array.
    target_fraction : of drilled solids wanted in the mud (a fraction or percent); scalar or array.

    Returns
    -------
    Volume, m3, without the solids: less than :func:`new_mud` by their volume.

    Raises
    ------
    CalculationError : as :func:`total_dilution`.

    Valid range: clean mud holds no drilled solids.
    Source: [ASME2005]: 9 bbl at 4 % take 216 bbl; a bbl at 5 % takes 19.

    >>> print(f"{clean_mud(Q(9, 'bbl'), Q(4, 'percent')).to('bbl'):.0f~P}")
    216 bbl
    """
    return new_mud(retained_solids, target_fraction) - retained_solids


@quantities(returns="[]", discard_fraction="[]", target_fraction="[]")
def least_discard_removal(
    discard_fraction: pint.Quantity | float, target_fraction: pint.Quantity | float
) -> pint.Quantity:
    """Removal at which the discard is as large as the new mud, the handbook's optimum.

    removal = discard_fraction / (discard_fraction + target_fraction)

    Less removal asks for more dilution than there is room for; more removal throws away more mud than is needed.

    Parameters
    ----------
    discard_fraction : of removed rock in what is discarded (a fraction or percent); scalar or array. The rest is whole
        mud, whose own drilled solids do not count here.
    target_fraction : of drilled solids wanted in the mud (a fraction or percent); scalar or array.

    Returns
    -------
    Share of the drilled solids to remove.

    Raises
    ------
    CalculationError : a value with a unit; a fraction not above 0 or not below 100 %; a discard that holds no more
        rock than the mud does drilled solids.

    Valid range: target_fraction < discard_fraction. The new hole that must be filled is left out, see
        :func:`level_removal`.
    Source: derived; [AADE1999] p. 167 has "around 90 %" for 35 % in the discard and 4 % in the mud.

    >>> print(f"{least_discard_removal(Q(35, 'percent'), Q(4, 'percent')).to('percent'):.1f~P}")
    89.7 %
    """
    _require_discard(discard_fraction, target_fraction)
    return Q(1.0) * discard_fraction / (discard_fraction + target_fraction)


@quantities(returns="[]", discard_fraction="[]", target_fraction="[]")
def level_removal(discard_fraction: pint.Quantity | float, target_fraction: pint.Quantity | float) -> pint.Quantity:
    """Removal at which the clean mud that holds the target also holds the pit level: the least waste of a whole system.

    removal = discard_fraction * (1 - target_fraction) / (discard_fraction * (1 - target_fraction) + target_fraction)

    The mud that fills the new hole is balanced by the rock that came out of it, so that clean mud must replace the
    discard and nothing more: (1 - removal) * (1 - target_fraction) / target_fraction = removal / discard_fraction.

    Parameters
    ----------
    discard_fraction, target_fraction : as :func:`least_discard_removal`.

    Returns
    -------
    Share of the drilled solids to remove; a little less than :func:`least_discard_removal`.

    Raises
    ------
    CalculationError : as :func:`least_discard_removal`.

    Valid range: as :func:`least_discard_removal`; no mud lost otherwise, the pores of the rock full of liquid.
    Source: volume balance, derived.

    >>> print(f"{level_removal(Q(35, 'percent'), Q(4, 'percent')).to('percent'):.1f~P}")
    89.4 %
    """
    _require_discard(discard_fraction, target_fraction)
    held = Q(1.0) * discard_fraction * (1 - target_fraction)
    return held / (held + target_fraction)


def _require_discard(discard_fraction: pint.Quantity | float, target_fraction: pint.Quantity | float) -> None:
    _require_mixed(discard_fraction=discard_fraction, target_fraction=target_fraction)
    require(
        target_fraction < discard_fraction, "the discard must hold a larger share of drilled solids than the mud does"
    )


@quantity_fields(
    discard="[volume]",
    discarded_mud="[volume]",
    retained_solids="[volume]",
    new_mud="[volume]",
    clean_mud="[volume]",
    surplus="[volume]",
    make_up="[volume]",
)
@dataclass(frozen=True)
class DilutionPlan:
    """What removing a share of the drilled solids means in volumes, m3.

    ``discard``: leaves the machines, rock and mud; ``discarded_mud``: the whole mud in it. ``retained_solids``: stay in
    the mud; ``new_mud``: they fill at the target; ``clean_mud``: is added to bring them there. ``surplus``: new mud
    beyond the discard, the handbook's net; below zero where the discard is the larger. ``make_up``: clean mud that
    holds the target and the pit level; also the least volume that leaves the system as discard and dumped mud.
    """

    discard: pint.Quantity
    discarded_mud: pint.Quantity
    retained_solids: pint.Quantity
    new_mud: pint.Quantity
    clean_mud: pint.Quantity
    surplus: pint.Quantity
    make_up: pint.Quantity


@quantities(drilled_solids="[volume]", removal="[]", discard_fraction="[]", target_fraction="[]")
def dilution_plan(
    drilled_solids: pint.Quantity,
    removal: pint.Quantity | float,
    discard_fraction: pint.Quantity | float,
    target_fraction: pint.Quantity | float,
) -> DilutionPlan:
    """Volumes of discard and dilution when a share of the drilled solids is removed.

    discard = drilled_solids * removal / discard_fraction; clean mud = retained * (1 - target_fraction) /
    target_fraction; make-up = the larger of clean mud and discard

    Parameters
    ----------
    drilled_solids : volume of rock drilled (bbl or m3); scalar or array.
    removal : share of it that the machines discard (a fraction or percent); scalar or array.
    discard_fraction : of removed rock in the discard, as :func:`least_discard_removal`; scalar or array.
    target_fraction : of drilled solids wanted in the mud (a fraction or percent); scalar or array.

    Returns
    -------
    A :class:`DilutionPlan`, volumes in m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; a removal outside 0 to 100 %; fractions as
        :func:`least_discard_removal`.

    Valid range: as :func:`level_removal`; the mud that is discarded is at the target already.
    Source: [AADE1999] p. 167: of 100 bbl at 90 %, 90 bbl of solids with 167 of mud against 10 with 240.

    >>> plan = dilution_plan(Q(100, "bbl"), Q(90, "percent"), Q(35, "percent"), Q(4, "percent"))
    >>> for volume in (plan.discard, plan.discarded_mud, plan.new_mud, plan.clean_mud, plan.surplus, plan.make_up):
    ...     print(f"{volume.to('bbl'):.0f~P}", end="; ")
    257 bbl; 167 bbl; 250 bbl; 240 bbl; -7 bbl; 257 bbl;
    """
    require(drilled_solids >= Q(0, "m**3"), "volume of drilled solids must not be negative")
    require_share(removal=removal)
    _require_discard(discard_fraction, target_fraction)
    removed = drilled_solids * removal
    discard, retained = removed / discard_fraction, drilled_solids - removed
    new, clean = new_mud(retained, target_fraction), clean_mud(retained, target_fraction)
    return DilutionPlan(
        discard=discard,
        discarded_mud=discard - removed,
        retained_solids=retained,
        new_mud=new,
        clean_mud=clean,
        surplus=new - discard,
        make_up=np.maximum(clean, discard),
    )


@quantities(
    returns="[currency]",
    drilled_solids="[volume]",
    removal="[]",
    discard_fraction="[]",
    target_fraction="[]",
    mud_cost="[currency]/[volume]",
    disposal_cost="[currency]/[volume]",
)
def dilution_cost(
    drilled_solids: pint.Quantity,
    removal: pint.Quantity | float,
    discard_fraction: pint.Quantity | float,
    target_fraction: pint.Quantity | float,
    mud_cost: pint.Quantity,
    disposal_cost: pint.Quantity = FREE,
) -> pint.Quantity:
    """Cost of clean mud and of disposal when a share of the drilled solids is removed.

    cost = make-up * (mud_cost + disposal_cost)

    What is made up leaves the system again, from the machines or as dumped mud.

    Parameters
    ----------
    drilled_solids, removal, discard_fraction, target_fraction : as :func:`dilution_plan`.
    mud_cost : of clean mud (money/bbl or money/m3); scalar or array.
    disposal_cost : of what is discarded or dumped (money/bbl or money/m3); none by default; scalar or array.

    Returns
    -------
    Cost, in units of currency.

    Raises
    ------
    CalculationError : as :func:`dilution_plan`; a negative cost.

    Valid range: as :func:`dilution_plan`; the machines themselves are not in it.
    Source: volume balance, derived; least at :func:`level_removal`.

    >>> section = (Q(100, "bbl"), Q([70, 90], "percent"), Q(35, "percent"), Q(4, "percent"))
    >>> cost = dilution_cost(*section, mud_cost=Q(50, "money/bbl"), disposal_cost=Q(10, "money/bbl"))
    >>> [f"{value:,.0f}" for value in cost.m_as("money")]
    ['43,200', '15,429']
    """
    require(mud_cost >= FREE, "cost of mud must not be negative")
    require(disposal_cost >= FREE, "cost of disposal must not be negative")
    plan = dilution_plan(drilled_solids, removal, discard_fraction, target_fraction)
    return plan.make_up * (mud_cost + disposal_cost)
