"""Mixtures of many parts, weighting up inside a pit limit, and three ways to take weight off a mud.

``mixture``: what many volumes make together, part by part. ``weight_up``: one material's mass and room, to set barite,
hematite and carbonate side by side. ``weight_up_plan``: how much mud to move out first, and the batches that the hopper
mixes. ``weighting_mass_bled_off``, ``dilution_volume_bled_off``: the same job where mud runs off all the while, and
what that wastes. ``reduce_by_dilution``, ``reduce_by_removal``, ``reduce_by_both``: weight off by liquid, by taking the
heavy underflow of a machine out, and by both; ``component_after``, ``component_lost`` and ``reduction_cost``: what
becomes of the solids, and the bill.

Volumes add: no wetting, no air. Every plan here keeps the volume and the mass that went in.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass

import numpy as np
import pint

from pitside.dilution import dilution_volume, mixed_density
from pitside.errors import ValidityWarning
from pitside.materials import BARITE, Material
from pitside.units import (
    Q,
    quantities,
    quantity_fields,
    require,
    require_above_zero,
    require_not_negative,
    require_share,
)
from pitside.weighting import mud_weight_after, start_volume, volume_rise, weighting_mass

#: Heaviest mud that calcium carbonate makes in practice: [Lapeyrouse2002] p. 82, seen restated.
CARBONATE_CEILING = Q(14.0, "lb/gal")
#: Density up to which a weighting material counts as a carbonate for that ceiling; dolomite is SG 2.87, from memory.
CARBONATE_DENSITY = Q(2.9, "SG")
#: A batch of half an hour at the hopper: a convention of this project.
BATCH_TIME = Q(30.0, "min")

_NONE = Q(0.0, "kg/m**3")
_EMPTY = Q(0.0, "m**3")


@quantity_fields(volume="[volume]", mass="[mass]", density="[density]", volume_fractions="[]", mass_fractions="[]")
@dataclass(frozen=True)
class Mixture:
    """What volumes of several things make together; the fractions are arrays over the things mixed."""

    volume: pint.Quantity
    mass: pint.Quantity
    density: pint.Quantity
    volume_fractions: pint.Quantity
    mass_fractions: pint.Quantity


@quantities(volumes="[volume]", densities="[density]")
def mixture(volumes: pint.Quantity, densities: pint.Quantity) -> Mixture:
    """Several muds, liquids or materials mixed together: volume, mass, density and the share of each.

    density = sum(volumes * densities) / sum(volumes)

    Parameters
    ----------
    volumes : volume of each (bbl or m3); array whose first axis runs over the things mixed.
    densities : density of each (lb/gal, kg/m3 or SG); array, same first axis.

    Returns
    -------
    :class:`Mixture`; its fractions keep the first axis, its totals do not.

    Raises
    ------
    CalculationError : as :func:`pitside.dilution.mixed_density`.

    Valid range: volumes add.
    Source: mass and volume balance; the density is that of [Lapeyrouse2002] ch. 3, V1 D1 + V2 D2 = VF DF.

    >>> found = mixture(Q([60, 5, 35], "bbl"), Q([7.0, 8.6, 21.06], "lb/gal"))
    >>> print(f"{found.density.to('lb/gal'):.2f~P}, solids {found.mass_fractions[2].to('percent'):.1f~P} by mass")
    12.00 lb/gal, solids 61.4 % by mass
    """
    density = mixed_density(volumes, densities)
    masses = volumes * densities
    volume, mass = volumes.sum(axis=0), masses.sum(axis=0)
    return Mixture(volume, mass, density, volumes / volume, masses / mass)


@dataclass(frozen=True)
class WeightUp:
    """One way to weight a mud up; ``material_fraction`` is the share of the new material in the mud at the end."""

    material: Material
    mass: pint.Quantity
    volume_rise: pint.Quantity
    final_volume: pint.Quantity
    material_fraction: pint.Quantity


def weight_up(volume: pint.Quantity, mud_weight: pint.Quantity, target: pint.Quantity, material: Material) -> WeightUp:
    """Weight a mud up with one of :data:`pitside.materials.MATERIALS`: its mass, its room and its share of the mud.

    Parameters
    ----------
    volume : volume of mud before weighting up (bbl or m3); scalar or array.
    mud_weight, target : its weight and the weight that is wanted (lb/gal, kg/m3 or SG); scalar or array.
    material : one of the materials, or any other :class:`pitside.materials.Material`.

    Returns
    -------
    :class:`WeightUp`.

    Raises
    ------
    CalculationError : as :func:`pitside.weighting.weighting_mass`.

    Valid range: mud_weight <= target < density of the material; warns (ValidityWarning) above 14.0 lb/gal with a
    carbonate.
    Source: [Lapeyrouse2002] p. 81-83.

    >>> from pitside.materials import MATERIALS
    >>> for name in ("barite", "hematite", "calcium_carbonate"):
    ...     found = weight_up(Q(100, "bbl"), Q(12.0, "lb/gal"), Q(13.0, "lb/gal"), MATERIALS[name])
    ...     print(f"{name}: {found.mass.to('sack'):.1f~P}, {found.volume_rise.to('bbl'):.2f~P}")
    barite: 66.8 sk, 4.54 bbl
    hematite: 60.7 sk, 3.43 bbl
    calcium_carbonate: 99.3 sk, 10.49 bbl
    """
    job = (volume, mud_weight, target, material.density)
    mass, rise = weighting_mass(*job), volume_rise(*job)
    if material.density <= CARBONATE_DENSITY and np.any(target > CARBONATE_CEILING):
        warnings.warn(
            f"calcium carbonate is not used above {CARBONATE_CEILING:.1f~P}: the mud would be too full of it",
            ValidityWarning,
            stacklevel=2,
        )
    final = volume.to("m**3") + rise
    return WeightUp(material, mass, rise, final, (rise / final).to(""))


@dataclass(frozen=True)
class WeightUpPlan:
    """A weight-up inside a pit limit, in batches.

    ``moved_out`` leaves the pits before the first batch; ``start_volume`` stays. The arrays run over the batches:
    material of each, time since the first began, and volume and weight of the mud after it.
    """

    moved_out: pint.Quantity
    start_volume: pint.Quantity
    mass: pint.Quantity
    final_volume: pint.Quantity
    batch_masses: pint.Quantity
    elapsed: pint.Quantity
    volumes: pint.Quantity
    mud_weights: pint.Quantity


@quantities(
    returns=("[volume]", "[mass]", "[mass]", "[time]"),
    volume="[volume]",
    mud_weight="[density]",
    target="[density]",
    material_density="[density]",
    pit_limit="[volume]",
    hopper_rate="[mass]/[time]",
    batch_time="[time]",
)
def _batches(
    volume: pint.Quantity,
    mud_weight: pint.Quantity,
    target: pint.Quantity,
    material_density: pint.Quantity,
    pit_limit: pint.Quantity,
    hopper_rate: pint.Quantity,
    batch_time: pint.Quantity,
) -> tuple[pint.Quantity, pint.Quantity, pint.Quantity, pint.Quantity]:
    """Volume to start with, mass of material, mass mixed by the end of each batch, and when that is."""
    inputs = (volume, mud_weight, target, material_density, pit_limit, hopper_rate, batch_time)
    require(all(np.ndim(value.magnitude) == 0 for value in inputs), "a plan is for one job: give single values")
    require_not_negative(volume=volume)
    require_above_zero(pit_limit=pit_limit)
    require(hopper_rate > Q(0, "kg/s"), "the hopper must mix more than nothing")
    require(batch_time > Q(0, "s"), "the time of a batch must be above zero")
    most = start_volume(pit_limit, mud_weight, target, material_density)
    start = volume if volume < most else most
    mass = weighting_mass(start, mud_weight, target, material_density)
    batch, all_of_it = (hopper_rate * batch_time).m_as("kg"), mass.m_as("kg")
    number = math.ceil(all_of_it / batch * (1 - 1e-12))
    mixed = Q(np.minimum(batch * np.arange(1, number + 1), all_of_it), "kg")
    return start, mass, mixed, mixed / hopper_rate


def weight_up_plan(
    volume: pint.Quantity,
    mud_weight: pint.Quantity,
    target: pint.Quantity,
    material_density: pint.Quantity,
    *,
    pit_limit: pint.Quantity,
    hopper_rate: pint.Quantity,
    batch_time: pint.Quantity = BATCH_TIME,
) -> WeightUpPlan:
    """Plan a weight-up so that the pits never hold more than their limit: mud out first, then batches of material.

    start volume = min(volume, pit_limit * (material_density - target) / (material_density - mud_weight))

    Parameters
    ----------
    volume : volume of mud on hand (bbl or m3); scalar.
    mud_weight, target : its weight and the weight that is wanted (lb/gal, kg/m3 or SG); scalar.
    material_density : density of the weighting material; scalar.
    pit_limit : most that the pits may hold (bbl or m3); scalar.
    hopper_rate : mass that the hopper mixes in a time (sack/min, lb/min or kg/min); scalar.
    batch_time : how long a batch lasts; half an hour by default; scalar.

    Returns
    -------
    :class:`WeightUpPlan`; no batches where the mud is at its target already.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a list; a negative volume; a limit, rate or time not above zero;
        weights outside the range of :func:`pitside.weighting.weighting_mass`.

    Valid range: mud_weight <= target < material_density; the mud is mixed through before the next batch.
    Source: [Lapeyrouse2002] p. 81-82, in batches.

    >>> from pitside.materials import BARITE_FIELD
    >>> job = Q(900, "bbl"), Q(11.0, "lb/gal"), Q(12.5, "lb/gal"), BARITE_FIELD
    >>> plan = weight_up_plan(*job, pit_limit=Q(920, "bbl"), hopper_rate=Q(8, "sack/min"))
    >>> print(f"{plan.moved_out.to('bbl'):.1f~P} out, then {plan.mass.to('sack'):.0f~P}")
    37.5 bbl out, then 845 sk
    >>> print([f"{weight:.2f}" for weight in plan.mud_weights.m_as("lb/gal")])
    ['11.45', '11.88', '12.29', '12.50']
    """
    start, mass, mixed, elapsed = _batches(
        volume, mud_weight, target, material_density, pit_limit, hopper_rate, batch_time
    )
    weights = Q(np.zeros(0), "kg/m**3")
    if mixed.size:
        weights = mud_weight_after(start, mud_weight, mixed, material_density)
    material = material_density.to("kg/m**3")
    return WeightUpPlan(
        moved_out=volume.to("m**3") - start,
        start_volume=start,
        mass=mass,
        final_volume=start + mass / material,
        batch_masses=Q(np.diff(mixed.m_as("kg"), prepend=0.0), "kg"),
        elapsed=elapsed,
        volumes=start + mixed / material,
        mud_weights=weights,
    )


@quantities(
    returns="[mass]", volume="[volume]", mud_weight="[density]", target="[density]", material_density="[density]"
)
def weighting_mass_bled_off(
    volume: pint.Quantity, mud_weight: pint.Quantity, target: pint.Quantity, material_density: pint.Quantity
) -> pint.Quantity:
    """Mass of material that weights full pits up while mud runs off as fast as material goes in.

    mass = volume * material_density * ln((material_density - mud_weight) / (material_density - target))

    The mud that runs off takes new material with it; with the mud moved out first
    (:func:`pitside.weighting.weighting_mass_fixed_final`) less is needed.

    Parameters
    ----------
    volume : volume of mud, the same before and after (bbl or m3); scalar or array.
    mud_weight, target : its weight before and the weight wanted (lb/gal, kg/m3 or SG); scalar or array.
    material_density : density of the weighting material; scalar or array.

    Returns
    -------
    Mass of material, kg.

    Raises
    ------
    CalculationError : as :func:`pitside.weighting.weighting_mass`.

    Valid range: 0 < mud_weight <= target < material_density; the pits are mixed through at every moment.
    Source: mass balance over a short time, integrated; derived.

    >>> from pitside.materials import BARITE_FIELD
    >>> mass = weighting_mass_bled_off(Q(100, "bbl"), Q(12.0, "lb/gal"), Q(14.0, "lb/gal"), BARITE_FIELD)
    >>> print(f"{mass.to('sack'):.1f~P}")
    133.7 sk
    """
    volume_rise(volume, mud_weight, target, material_density)  # refuses what cannot be
    return volume * material_density * np.log((material_density - mud_weight) / (material_density - target))


@quantities(
    returns="[volume]", volume="[volume]", mud_weight="[density]", target="[density]", diluent_density="[density]"
)
def dilution_volume_bled_off(
    volume: pint.Quantity, mud_weight: pint.Quantity, target: pint.Quantity, diluent_density: pint.Quantity
) -> pint.Quantity:
    """Volume of liquid that cuts full pits back while mud runs off as fast as liquid goes in.

    diluent = volume * ln((mud_weight - diluent_density) / (target - diluent_density))

    The mud that runs off takes new liquid with it; with the mud moved out first
    (:func:`pitside.dilution.replacement_volume`) less is needed, and less is thrown away.

    Parameters
    ----------
    volume : volume of mud, the same before and after (bbl or m3); scalar or array.
    mud_weight, target : its weight before and the weight wanted (lb/gal, kg/m3 or SG); scalar or array.
    diluent_density : density of the water, base oil or light mud that goes in; scalar or array.

    Returns
    -------
    Volume of diluent, which is the volume that runs off, m3.

    Raises
    ------
    CalculationError : as :func:`pitside.dilution.dilution_volume`.

    Valid range: 0 < diluent_density < target <= mud_weight; the pits are mixed through at every moment.
    Source: mass balance over a short time, integrated; derived.

    >>> water = dilution_volume_bled_off(Q(100, "bbl"), Q(14.0, "lb/gal"), Q(12.0, "lb/gal"), Q(8.33, "lb/gal"))
    >>> print(f"{water.to('bbl'):.1f~P}")
    43.5 bbl
    """
    dilution_volume(volume, mud_weight, target, diluent_density)  # refuses what cannot be
    return volume * np.log((mud_weight - diluent_density) / (target - diluent_density))


@quantity_fields(
    volume="[volume]",
    mud_out="[volume]",
    underflow_out="[volume]",
    diluent_in="[volume]",
    final_volume="[volume]",
)
@dataclass(frozen=True)
class WeightReduction:
    """Volumes that take weight off a mud: what leaves (whole mud first, underflow), what comes in, what is left."""

    volume: pint.Quantity
    mud_out: pint.Quantity
    underflow_out: pint.Quantity
    diluent_in: pint.Quantity
    final_volume: pint.Quantity


@quantities(
    volume="[volume]",
    mud_weight="[density]",
    target="[density]",
    diluent_density="[density]",
    pit_limit="[volume]",
)
def reduce_by_dilution(
    volume: pint.Quantity,
    mud_weight: pint.Quantity,
    target: pint.Quantity,
    diluent_density: pint.Quantity,
    *,
    pit_limit: pint.Quantity | None = None,
) -> WeightReduction:
    """Take weight off a mud with liquid; where the pits would run over, mud is moved out first.

    diluent = kept * (mud_weight - target) / (target - diluent_density),
    kept = min(volume, pit_limit * (target - diluent_density) / (mud_weight - diluent_density))

    Parameters
    ----------
    volume : volume of mud on hand (bbl or m3); scalar or array.
    mud_weight, target : its weight and the weight that is wanted (lb/gal, kg/m3 or SG); scalar or array.
    diluent_density : density of the liquid that goes in; scalar or array.
    pit_limit : most that the pits may hold; no limit by default; scalar or array.

    Returns
    -------
    :class:`WeightReduction`.

    Raises
    ------
    CalculationError : as :func:`pitside.dilution.dilution_volume`; a limit that is not above zero.

    Valid range: 0 < diluent_density < target <= mud_weight.
    Source: [Lapeyrouse2002] ch. 3 (54.5 bbl of water on 100 bbl from 14.0 to 12.0 lb/gal).

    >>> job = Q(100, "bbl"), Q(14.0, "lb/gal"), Q(12.0, "lb/gal"), Q(8.33, "lb/gal")
    >>> print(f"{reduce_by_dilution(*job).diluent_in.to('bbl'):.1f~P}")
    54.5 bbl
    >>> limited = reduce_by_dilution(*job, pit_limit=Q(100, "bbl"))
    >>> print(f"{limited.mud_out.to('bbl'):.1f~P} out, {limited.diluent_in.to('bbl'):.1f~P} in")
    35.3 bbl out, 35.3 bbl in
    """
    kept, diluent = volume, dilution_volume(volume, mud_weight, target, diluent_density)
    if pit_limit is not None:
        require_above_zero(pit_limit=pit_limit)
        kept = np.minimum(volume, pit_limit * (target - diluent_density) / (mud_weight - diluent_density))
        diluent = dilution_volume(kept, mud_weight, target, diluent_density)
    return WeightReduction(volume, volume - kept, 0 * kept, diluent, kept + diluent)


def _require_underflow(mud_weight: pint.Quantity, target: pint.Quantity, underflow_density: pint.Quantity) -> None:
    require_above_zero(target=target)
    require(target <= mud_weight, "the target is above the mud weight: taking solids out only takes weight off")
    require(
        underflow_density > mud_weight,
        "the underflow must be heavier than the mud: a machine whose underflow is lighter takes no weight off",
    )


@quantities(volume="[volume]", mud_weight="[density]", target="[density]", underflow_density="[density]")
def reduce_by_removal(
    volume: pint.Quantity, mud_weight: pint.Quantity, target: pint.Quantity, underflow_density: pint.Quantity
) -> WeightReduction:
    """Take weight off a mud by taking heavy underflow out of it and keeping the overflow; the volume falls.

    underflow = volume * (mud_weight - target) / (underflow_density - target)

    Parameters
    ----------
    volume : volume of mud on hand (bbl or m3); scalar or array.
    mud_weight, target : its weight and the weight that is wanted (lb/gal, kg/m3 or SG); scalar or array.
    underflow_density : density of the slurry that a centrifuge or a bank of cyclones takes out; scalar or array.

    Returns
    -------
    :class:`WeightReduction`, with no diluent.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; densities outside the valid range.

    Valid range: 0 < target <= mud_weight < underflow_density; the solids left are finer than before, and the
    low-gravity ones among them are more (:func:`component_after`).
    Source: mass balance, derived.

    >>> found = reduce_by_removal(Q(100, "bbl"), Q(14.0, "lb/gal"), Q(12.0, "lb/gal"), Q(22.0, "lb/gal"))
    >>> print(f"{found.underflow_out.to('bbl'):.1f~P} out, {found.final_volume.to('bbl'):.1f~P} left")
    20.0 bbl out, 80.0 bbl left
    """
    require_not_negative(volume=volume)
    _require_underflow(mud_weight, target, underflow_density)
    underflow = volume * (mud_weight - target) / (underflow_density - target)
    return WeightReduction(volume, 0 * underflow, underflow, 0 * underflow, volume - underflow)


@quantities(
    volume="[volume]",
    mud_weight="[density]",
    target="[density]",
    underflow_density="[density]",
    diluent_density="[density]",
    final_volume="[volume]",
)
def reduce_by_both(
    volume: pint.Quantity,
    mud_weight: pint.Quantity,
    target: pint.Quantity,
    underflow_density: pint.Quantity,
    diluent_density: pint.Quantity,
    *,
    final_volume: pint.Quantity | None = None,
) -> WeightReduction:
    """Take weight off a mud by taking heavy underflow out and putting liquid in, to end at a wanted volume.

    underflow = (volume * mud_weight - final * target - (volume - final) * diluent_density)
                / (underflow_density - diluent_density),
    diluent = final - volume + underflow

    Parameters
    ----------
    volume : volume of mud on hand (bbl or m3); scalar or array.
    mud_weight, target : its weight and the weight that is wanted (lb/gal, kg/m3 or SG); scalar or array.
    underflow_density : density of the slurry that a centrifuge or a bank of cyclones takes out; scalar or array.
    diluent_density : density of the liquid that goes in; scalar or array.
    final_volume : volume wanted at the end; the volume before by default; scalar or array.

    Returns
    -------
    :class:`WeightReduction`.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative volume; densities outside the valid range; a final
        volume that neither way reaches.

    Valid range: diluent_density < target <= mud_weight < underflow_density; final_volume from that of
    :func:`reduce_by_removal` (no diluent) to that of :func:`reduce_by_dilution` (no underflow).
    Source: mass and volume balance, derived.

    >>> weights = Q(14.0, "lb/gal"), Q(12.0, "lb/gal"), Q(22.0, "lb/gal"), Q(8.33, "lb/gal")
    >>> found = reduce_by_both(Q(100, "bbl"), *weights)
    >>> print(f"{found.underflow_out.to('bbl'):.1f~P} out, {found.diluent_in.to('bbl'):.1f~P} in")
    14.6 bbl out, 14.6 bbl in
    """
    _require_underflow(mud_weight, target, underflow_density)
    most = reduce_by_dilution(volume, mud_weight, target, diluent_density).final_volume
    least = reduce_by_removal(volume, mud_weight, target, underflow_density).final_volume
    final = volume if final_volume is None else final_volume
    require(
        (final >= least * (1 - 1e-12)) & (final <= most * (1 + 1e-12)),
        "the final volume must lie between that of taking solids out alone and that of diluting alone",
    )
    excess = volume * mud_weight - final * target - (volume - final) * diluent_density
    underflow = np.maximum(excess / (underflow_density - diluent_density), _EMPTY)
    diluent = np.maximum(final - volume + underflow, _EMPTY)
    return WeightReduction(volume, 0 * underflow, underflow, diluent, final)


@quantities(returns="[]", mud="[]", underflow="[]", diluent="[]")
def component_after(
    reduction: WeightReduction,
    mud: pint.Quantity | float,
    underflow: pint.Quantity | float = 0.0,
    diluent: pint.Quantity | float = 0.0,
) -> pint.Quantity:
    """Volume fraction of one component (low-gravity solids, barite, oil) in the mud after weight was taken off.

    after = ((volume - mud_out) * mud - underflow_out * underflow + diluent_in * diluent) / final_volume

    Parameters
    ----------
    reduction : what was done.
    mud : volume fraction of the component in the mud before (percent or fraction); scalar or array.
    underflow, diluent : volume fraction in the underflow and in the diluent; none by default; scalar or array.

    Returns
    -------
    Volume fraction in the mud after.

    Raises
    ------
    CalculationError : a value with a unit; a fraction outside 0 to 100 %; nothing left; more of it in the underflow
        than the mud holds.

    Valid range: volumes add.
    Source: volume balance, derived.

    >>> job = Q(100, "bbl"), Q(14.0, "lb/gal"), Q(12.0, "lb/gal")
    >>> diluted = reduce_by_dilution(*job, Q(8.33, "lb/gal"))
    >>> parted = reduce_by_removal(*job, Q(22.0, "lb/gal"))
    >>> print(f"6 % low-gravity become {component_after(diluted, 0.06).to('percent'):.1f~P} by dilution,")
    6 % low-gravity become 3.9 % by dilution,
    >>> print(f"{component_after(parted, 0.06, 0.04).to('percent'):.1f~P} by removal of an underflow with 4 %")
    6.5 % by removal of an underflow with 4 %
    """
    for fraction in (mud, underflow, diluent):
        require_share(a_volume_fraction=fraction)
    require(reduction.final_volume > _EMPTY, "nothing is left of the mud")
    left = (
        (reduction.volume - reduction.mud_out) * mud
        - reduction.underflow_out * underflow
        + reduction.diluent_in * diluent
    )
    share = left / reduction.final_volume
    require(share >= -1e-9, "the underflow takes out more of this component than the mud holds")
    return np.maximum(share, 0)


@quantities(returns="[volume]", mud="[]", underflow="[]")
def component_lost(
    reduction: WeightReduction, mud: pint.Quantity | float, underflow: pint.Quantity | float = 0.0
) -> pint.Quantity:
    """Volume of one component (barite, oil) that leaves with the mud moved out and with the underflow.

    lost = mud_out * mud + underflow_out * underflow

    Parameters
    ----------
    reduction : what was done.
    mud, underflow : volume fraction of the component in each (percent or fraction); scalar or array.

    Returns
    -------
    Volume of the component that leaves, m3.

    Raises
    ------
    CalculationError : a value with a unit; a fraction outside 0 to 100 %.

    Valid range: volumes add.
    Source: volume balance, derived.

    >>> found = reduce_by_removal(Q(100, "bbl"), Q(14.0, "lb/gal"), Q(12.0, "lb/gal"), Q(22.0, "lb/gal"))
    >>> print(f"{component_lost(found, 0.17, 0.48).to('bbl'):.1f~P} of barite in the underflow")
    9.6 bbl of barite in the underflow
    """
    for fraction in (mud, underflow):
        require_share(a_volume_fraction=fraction)
    return reduction.mud_out * mud + reduction.underflow_out * underflow


@quantity_fields(diluent="[currency]", disposal="[currency]", material="[currency]")
@dataclass(frozen=True)
class ReductionCost:
    """The bill of taking weight off: diluent bought, volumes thrown away, weighting material lost."""

    diluent: pint.Quantity
    disposal: pint.Quantity
    material: pint.Quantity

    @property
    def total(self) -> pint.Quantity:
        """All three together."""
        return self.diluent + self.disposal + self.material


@quantities(
    diluent_price="[currency]/[volume]",
    disposal_price="[currency]/[volume]",
    material_price="[currency]/[mass]",
    material_density="[density]",
)
def reduction_cost(
    reduction: WeightReduction,
    *,
    diluent_price: pint.Quantity,
    disposal_price: pint.Quantity,
    material_price: pint.Quantity,
    mud_material: pint.Quantity | float,
    underflow_material: pint.Quantity | float = 0.0,
    material_density: pint.Quantity = BARITE,
    underflow_kept: bool = False,
) -> ReductionCost:
    """What taking weight off costs: diluent, disposal, and the weighting material that is lost.

    Parameters
    ----------
    reduction : what was done.
    diluent_price : of the liquid with all that makes mud of it (money/bbl or money/m3); scalar or array.
    disposal_price : of mud moved out and of underflow (money/bbl or money/m3); scalar or array.
    material_price : of the weighting material (money/lb, money/sack or money/kg); scalar or array.
    mud_material, underflow_material : volume fraction of weighting material in the mud and in the underflow.
    material_density : barite of SG 4.20 by default.
    underflow_kept : the underflow is stored for the next weight-up, and neither thrown away nor lost.

    Returns
    -------
    :class:`ReductionCost`.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative price; a fraction outside 0 to 100 %.

    Valid range: mud moved out is thrown away; what a machine costs to run is in :mod:`pitside.cost`.
    Source: the sum of the three, derived; any price is an example.

    >>> prices = {"diluent_price": Q(60, "money/bbl"), "disposal_price": Q(20, "money/bbl")}
    >>> prices |= {"material_price": Q(15, "money/sack"), "mud_material": 0.17, "underflow_material": 0.48}
    >>> job = Q(100, "bbl"), Q(14.0, "lb/gal"), Q(12.0, "lb/gal")
    >>> ways = {
    ...     "dilution": reduce_by_dilution(*job, Q(8.33, "lb/gal"), pit_limit=Q(100, "bbl")),
    ...     "removal": reduce_by_removal(*job, Q(22.0, "lb/gal")),
    ...     "both": reduce_by_both(*job, Q(22.0, "lb/gal"), Q(8.33, "lb/gal")),
    ... }
    >>> for name, way in ways.items():
    ...     print(f"{name}: {reduction_cost(way, **prices).total:.0f~P}")
    dilution: 4146 money
    removal: 2520 money
    both: 2721 money
    """
    free = Q(0, "money/m**3")
    require((diluent_price >= free) & (disposal_price >= free), "a price must not be negative")
    require(material_price >= Q(0, "money/kg"), "a price must not be negative")
    require(material_density > _NONE, "density of the material must be above zero")
    lost = component_lost(reduction, mud_material, 0.0 if underflow_kept else underflow_material)
    thrown_away = reduction.mud_out if underflow_kept else reduction.mud_out + reduction.underflow_out
    return ReductionCost(
        reduction.diluent_in * diluent_price, thrown_away * disposal_price, lost * material_density * material_price
    )
