"""Base fluid on cuttings: what a retort says, what a well may discharge, what is lost, what more g may dry.

``wet_basis``, ``dry_basis``, ``dry_from_wet``, ``wet_from_dry``, ``closure``, ``closes``: one retort. ``well_average``,
``last_section_limit``: a well of several sections. ``DISCHARGE_LIMITS``: limits and how far we know them.
``base_fluid_lost``, ``mud_lost``: what leaves with the cuttings. These are balances.

``drained_cuttings`` with ``bed_permeability``, ``held_height``, ``film_thickness`` and ``bond_number`` is a model of
what more g gives in drying, with no field data in it: it shows which way and by what power, not how dry your cuttings
will be.

Limits change, and local rules come first: look up the permit of the place before anything is discharged.
"""

from __future__ import annotations

import enum
import warnings
from dataclasses import dataclass

import numpy as np
import pint

from pitside.errors import ValidityWarning
from pitside.units import (
    GRAVITY,
    WATER_4C,
    Q,
    number,
    quantities,
    quantity_fields,
    require,
    require_above_zero,
    require_less_than_all,
)


class Basis(enum.Enum):
    """What the base fluid is divided by."""

    WET = "mass of the cuttings as they leave the machine"
    DRY = "mass of what is left in the retort"


@dataclass(frozen=True)
class DischargeLimit:
    """A limit of base fluid on cuttings, by mass, and where the figure comes from."""

    name: str
    limit: float
    basis: Basis
    source: str


#: Limits that lessons use, by a short key. None was seen in the rule itself: look it up before use.
DISCHARGE_LIMITS: dict[str, DischargeLimit] = {
    "united_states_olefin": DischargeLimit(
        "United States, fluids as good as internal olefin",
        0.069,
        Basis.WET,
        "40 CFR 435.13 and 435.15, average of a well, from memory",
    ),
    "united_states_ester": DischargeLimit(
        "United States, fluids as good as ester",
        0.094,
        Basis.WET,
        "40 CFR 435.13 and 435.15, average of a well, from memory",
    ),
    "north_east_atlantic": DischargeLimit(
        "North-East Atlantic", 0.01, Basis.DRY, "OSPAR Decision 2000/3; the figure seen restated, its basis from memory"
    ),
}

#: Share of the sample's mass that retort and receiver must give back, least and most: from memory, unsure.
CLOSURE_LIMITS = (0.95, 1.05)

#: Capillary pressure at which a bed of grains starts to empty, as Leverett's number: from memory, 0.3 to 0.5.
LEVERETT_ENTRY = 0.4
#: Kozeny and Carman's constant: from memory; 180 is usual, Ergun's 150 is used too.
KOZENY_CARMAN = 180.0
#: Share of the pores that drops between grains keep at any g: from memory, coarse clean grains.
PENDULAR = 0.08
#: Share of the grain's size that a film may have and still be thin: our choice.
THIN_FILM = 0.1


@quantities(returns="[]", fluid_volume="[volume]", fluid_density="[density]", wet_mass="[mass]")
def wet_basis(fluid_volume: pint.Quantity, fluid_density: pint.Quantity, wet_mass: pint.Quantity) -> pint.Quantity:
    """Base fluid on cuttings by mass of the wet cuttings.

    share = fluid_volume * fluid_density / wet_mass

    Parameters
    ----------
    fluid_volume : base fluid in the receiver (mL); scalar or array.
    fluid_density : of the base fluid, not of the mud (SG or g/mL); scalar or array.
    wet_mass : of the sample as it left the machine (g); scalar or array.

    Returns
    -------
    Share by mass, 0 to 1.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; more fluid than sample.

    Valid range: any.
    Source: [EPA1674], title seen, definition from memory.

    >>> print(f"{wet_basis(Q(12.0, 'mL'), Q(0.79, 'g/mL'), Q(100.0, 'g')).to('percent'):.2f~P}")
    9.48 %
    """
    require_above_zero(fluid_density=fluid_density, wet_mass=wet_mass)
    require(fluid_volume.magnitude >= 0, "volume of base fluid must not be negative")
    share = fluid_volume * fluid_density / wet_mass
    require(share <= 1, "more base fluid than the whole sample: check the volume, the density and the mass")
    return share


@quantities(returns="[]", fluid_volume="[volume]", fluid_density="[density]", dry_mass="[mass]")
def dry_basis(fluid_volume: pint.Quantity, fluid_density: pint.Quantity, dry_mass: pint.Quantity) -> pint.Quantity:
    """Base fluid on cuttings by mass of the dry cuttings.

    ratio = fluid_volume * fluid_density / dry_mass

    Parameters
    ----------
    fluid_volume : base fluid in the receiver (mL); scalar or array.
    fluid_density : of the base fluid, not of the mud (SG or g/mL); scalar or array.
    dry_mass : left in the retort (g); scalar or array.

    Returns
    -------
    Ratio by mass; it may be above 1.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero.

    Valid range: any.
    Source: dry cuttings are the residue of the retort ([CFR435], definition seen).

    >>> print(f"{dry_basis(Q(12.0, 'mL'), Q(0.79, 'g/mL'), Q(82.5, 'g')).to('percent'):.2f~P}")
    11.49 %
    """
    require_above_zero(fluid_density=fluid_density, dry_mass=dry_mass)
    require(fluid_volume.magnitude >= 0, "volume of base fluid must not be negative")
    return fluid_volume * fluid_density / dry_mass


@quantities(returns="[]", wet="[]", water="[]")
def dry_from_wet(wet: pint.Quantity | float, water: pint.Quantity | float) -> pint.Quantity:
    """Base fluid by mass of dry cuttings, from that by mass of wet cuttings.

    dry = wet / (1 - wet - water)

    Parameters
    ----------
    wet : base fluid by mass of wet cuttings (percent or fraction); scalar or array.
    water : water by mass of wet cuttings (percent or fraction); scalar or array.

    Returns
    -------
    Ratio by mass.

    Raises
    ------
    CalculationError : a value with a unit; a share below zero; liquids that leave no cuttings.

    Valid range: any.
    Source: balance of mass.

    >>> print(f"{dry_from_wet(Q(9.48, 'percent'), Q(8.0, 'percent')).to('percent'):.2f~P}")
    11.49 %
    """
    require((wet >= 0) & (water >= 0), "shares of base fluid and water must not be negative")
    require(wet + water < 1, "base fluid and water together leave no cuttings")
    return Q(1.0) * wet / (1 - wet - water)


@quantities(returns="[]", dry="[]", water="[]")
def wet_from_dry(dry: pint.Quantity | float, water: pint.Quantity | float) -> pint.Quantity:
    """Base fluid by mass of wet cuttings, from that by mass of dry cuttings.

    wet = dry * (1 - water) / (1 + dry)

    Parameters
    ----------
    dry : base fluid by mass of dry cuttings (percent or fraction); scalar or array.
    water : water by mass of wet cuttings (percent or fraction); scalar or array.

    Returns
    -------
    Share by mass.

    Raises
    ------
    CalculationError : a value with a unit; a ratio below zero; water outside 0 to 100 %.

    Valid range: any.
    Source: balance of mass.

    >>> print(f"{wet_from_dry(Q(11.49, 'percent'), Q(8.0, 'percent')).to('percent'):.2f~P}")
    9.48 %
    """
    require(dry >= 0, "ratio of base fluid must not be negative")
    require_less_than_all(water=water)
    return Q(1.0) * dry * (1 - water) / (1 + dry)


@quantities(
    returns="[]",
    wet_mass="[mass]",
    dry_mass="[mass]",
    fluid_volume="[volume]",
    fluid_density="[density]",
    water_volume="[volume]",
    water_density="[density]",
)
def closure(
    wet_mass: pint.Quantity,
    dry_mass: pint.Quantity,
    fluid_volume: pint.Quantity,
    fluid_density: pint.Quantity,
    water_volume: pint.Quantity,
    water_density: pint.Quantity = WATER_4C,
) -> pint.Quantity:
    """Share of the sample's mass that a retort gives back; see :func:`closes`.

    closure = (dry_mass + fluid_volume * fluid_density + water_volume * water_density) / wet_mass

    Parameters
    ----------
    wet_mass, dry_mass : of the sample before and after (g); scalar or array.
    fluid_volume, water_volume : in the receiver (mL); scalar or array.
    fluid_density : of the base fluid (SG or g/mL); scalar or array.
    water_density : of the water, 1 g/mL by default; scalar or array.

    Returns
    -------
    Share by mass; 1 where nothing was lost.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a mass or density not above zero; a volume below zero.

    Valid range: any.
    Source: balance of mass; [EPA1674], from memory.

    >>> found = closure(Q(100.0, "g"), Q(82.5, "g"), Q(12.0, "mL"), Q(0.79, "g/mL"), Q(8.0, "mL"))
    >>> print(f"{found.to('percent'):.2f~P}, closes: {closes(found)}")
    99.98 %, closes: True
    """
    require_above_zero(wet_mass=wet_mass, dry_mass=dry_mass, fluid_density=fluid_density, water_density=water_density)
    require(
        (fluid_volume.magnitude >= 0) & (water_volume.magnitude >= 0), "volumes in the receiver must not be negative"
    )
    return (dry_mass + fluid_volume * fluid_density + water_volume * water_density) / wet_mass


def closes(share: pint.Quantity) -> bool | np.ndarray:
    """Whether a closure is from 95 to 105 %, both ends included; a retort that does not close is run again.

    Source: from memory, unsure.

    >>> closes(Q(94.9, "percent"))
    False
    """
    least, most = CLOSURE_LIMITS
    value = np.round(np.asarray((Q(1.0) * share).m_as("")), 9)
    found = (value >= least) & (value <= most)
    return bool(found) if found.ndim == 0 else found


@quantities(returns="[]", shares="[]", masses="[mass]")
def well_average(shares: pint.Quantity | np.ndarray, masses: pint.Quantity) -> pint.Quantity:
    """Base fluid on the cuttings of a whole well: the average of its sections by mass, not their plain mean.

    average = sum(share * mass) / sum(mass)

    Parameters
    ----------
    shares : base fluid on the cuttings of each section (percent or fraction); array, sections along axis 0.
    masses : of the cuttings of each section (t or lb), wet for shares on the wet basis, dry for the dry; array of the
        same shape.

    Returns
    -------
    Share on the same basis.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a share or mass below zero; no mass at all.

    Valid range: shares of one basis.
    Source: balance of mass; that the average is by mass is from memory ([CFR435]).

    >>> print(f"{well_average(Q([8.0, 11.0], 'percent'), Q([300, 100], 't')).to('percent'):.2f~P}")
    8.75 %
    """
    values = Q(1.0) * shares
    require(values.shape == masses.shape, "give one mass for each section's share")
    require((values.magnitude >= 0) & (masses.magnitude >= 0), "shares and masses must not be negative")
    total = np.sum(masses, axis=0)
    require(total.magnitude > 0, "a well without cuttings has no average")
    return np.sum(values * masses, axis=0) / total


@quantities(returns="[]", limit="[]", shares="[]", masses="[mass]", last_mass="[mass]")
def last_section_limit(
    limit: pint.Quantity | float,
    shares: pint.Quantity | np.ndarray,
    masses: pint.Quantity,
    last_mass: pint.Quantity,
) -> pint.Quantity:
    """What the last section may have at most, for the average of the well to keep a limit.

    most = (limit * (sum(mass) + last_mass) - sum(share * mass)) / last_mass

    Parameters
    ----------
    limit : of the average (percent or fraction); scalar.
    shares : base fluid on the cuttings of each section drilled (percent or fraction); array, sections along axis 0.
    masses : of the cuttings of each section drilled (t or lb); array of the same shape.
    last_mass : of the cuttings still to come (t or lb); scalar.

    Returns
    -------
    Share on the basis of the limit.

    Raises
    ------
    CalculationError : as :func:`well_average`; a well that is past saving: even dry cuttings would not keep the limit.

    Valid range: shares and limit of one basis.
    Source: :func:`well_average` turned round.

    >>> most = last_section_limit(Q(9.4, "percent"), Q([8.0, 11.0], "percent"), Q([300, 100], "t"), Q(200, "t"))
    >>> print(f"{most.to('percent'):.2f~P}")
    10.70 %
    """
    require_above_zero(last_mass=last_mass)
    require_less_than_all(limit=limit)
    drilled = np.sum(masses, axis=0)
    most = (limit * (drilled + last_mass) - well_average(shares, masses) * drilled) / last_mass
    require(most >= 0, "the sections drilled are so far above the limit that even dry cuttings would not mend it")
    return most


@quantities(returns=("[mass]", "[volume]"), dry_mass="[mass]", dry_ratio="[]", fluid_density="[density]")
def base_fluid_lost(
    dry_mass: pint.Quantity, dry_ratio: pint.Quantity | float, fluid_density: pint.Quantity
) -> tuple[pint.Quantity, pint.Quantity]:
    """Base fluid that leaves with cuttings.

    mass = dry_mass * dry_ratio, volume = mass / fluid_density

    Parameters
    ----------
    dry_mass : of the rock drilled (t or lb), from the hole and the density of the rock; scalar or array.
    dry_ratio : base fluid by mass of dry cuttings (percent or fraction), from :func:`dry_basis`; scalar or array.
    fluid_density : of the base fluid (SG or lb/gal); scalar or array.

    Returns
    -------
    Mass, kg, and volume, m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a mass or ratio below zero; a density not above zero.

    Valid range: any. The residue of the retort holds barite and salt of the mud too: take the ratio on rock alone where
        there is much of them.
    Source: balance of mass.

    >>> mass, volume = base_fluid_lost(Q(400, "t"), Q(11.49, "percent"), Q(0.79, "g/mL"))
    >>> print(f"{mass.to('t'):.2f~P}, {volume.to('bbl'):.0f~P}")
    45.96 t, 366 bbl
    """
    require_above_zero(fluid_density=fluid_density)
    require((dry_mass.magnitude >= 0) & (dry_ratio >= 0), "mass and ratio must not be negative")
    mass = dry_mass * dry_ratio
    return mass, mass / fluid_density


@quantities(returns="[volume]", fluid_volume="[volume]", fluid_share="[]")
def mud_lost(fluid_volume: pint.Quantity, fluid_share: pint.Quantity | float) -> pint.Quantity:
    """Whole mud that leaves with cuttings, from the base fluid that does.

    mud = fluid_volume / fluid_share

    Parameters
    ----------
    fluid_volume : of base fluid lost, from :func:`base_fluid_lost` (bbl or m3); scalar or array.
    fluid_share : of base fluid by volume of the mud, as its retort has it (percent or fraction); scalar or array.

    Returns
    -------
    Volume, m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a volume below zero; a share outside 0 to 100 %.

    Valid range: mud that leaves whole. Draining and spinning take fluid first and leave fines and barite behind, so the
        mud lost is less than this.
    Source: balance of volume.

    >>> print(f"{mud_lost(Q(366, 'bbl'), Q(60, 'percent')).to('bbl'):.0f~P}")
    610 bbl
    """
    require(fluid_volume.magnitude >= 0, "volume of base fluid must not be negative")
    require((fluid_share > 0) & (fluid_share <= 1), "share of base fluid must be above 0 to 100 %")
    return fluid_volume / fluid_share


@quantities(
    returns="[]",
    size="[length]",
    liquid_density="[density]",
    surface_tension="[force]/[length]",
    acceleration="[acceleration]",
)
def bond_number(
    size: pint.Quantity,
    liquid_density: pint.Quantity,
    surface_tension: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Bond number of a grain: weight of the liquid on it against surface tension that holds it.

    Bo = liquid_density * acceleration * size ** 2 / surface_tension

    Parameters
    ----------
    size : of the grain (um or mm); scalar or array.
    liquid_density : of the liquid on the grain (SG or kg/m3); scalar or array.
    surface_tension : of the liquid (mN/m); scalar or array.
    acceleration : gravity by default; g times it in a machine (m/s2); scalar or array.

    Returns
    -------
    Bond number: far below 1, surface tension holds the liquid between grains.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero.

    Valid range: any.
    Source: the definition; the fluids library's Bond.

    >>> oil = Q(800, "kg/m**3"), Q(25, "mN/m")
    >>> print(f"{bond_number(Q(0.5, 'mm'), *oil).magnitude:.3f}")
    0.078
    """
    require_above_zero(
        size=size, liquid_density=liquid_density, surface_tension=surface_tension, acceleration=acceleration
    )
    return liquid_density * acceleration * size**2 / surface_tension


@quantities(returns="[area]", size="[length]", porosity="[]")
def bed_permeability(size: pint.Quantity, porosity: pint.Quantity | float) -> pint.Quantity:
    """Permeability of a bed of grains by Kozeny and Carman.

    permeability = porosity ** 3 * size ** 2 / (180 * (1 - porosity) ** 2)

    Parameters
    ----------
    size : Sauter mean of the grains, as pitside.particles has it (um or mm); scalar or array.
    porosity : share of the bed between the grains (percent or fraction); scalar or array.

    Returns
    -------
    Permeability, m2.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a size not above zero; a porosity outside 0 to 100 %.

    Valid range: grains that are near round and near one size; flakes and slurry fines let far less through.
    Source: Kozeny and Carman, from memory; the fluids library's packed bed by Carman.

    >>> print(f"{bed_permeability(Q(500, 'um'), 0.4).to('darcy').magnitude:.0f} darcy")
    250 darcy
    """
    require_above_zero(size=size)
    require((porosity > 0) & (porosity < 1), "porosity must be between 0 and 100 %")
    return porosity**3 * size**2 / (KOZENY_CARMAN * (1 - porosity) ** 2)


@quantities(
    returns="[length]",
    size="[length]",
    porosity="[]",
    liquid_density="[density]",
    surface_tension="[force]/[length]",
    acceleration="[acceleration]",
)
def held_height(
    size: pint.Quantity,
    porosity: pint.Quantity | float,
    liquid_density: pint.Quantity,
    surface_tension: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Height at the bottom of a drained bed that stays full of liquid, held up by surface tension.

    height = 0.4 * surface_tension * sqrt(porosity / permeability) / (liquid_density * acceleration)

    Parameters
    ----------
    size : Sauter mean of the grains (um or mm); scalar or array.
    porosity : share of the bed between the grains (percent or fraction); scalar or array.
    liquid_density : of the liquid (SG or kg/m3); scalar or array.
    surface_tension : of the liquid, which wets the grains (mN/m); scalar or array.
    acceleration : gravity by default; g times it in a machine (m/s2); scalar or array.

    Returns
    -------
    Height, m; goes with 1 / (size * acceleration).

    Raises
    ------
    CalculationError : as :func:`bed_permeability` and :func:`bond_number`.

    Valid range: steady acceleration, time enough to drain, liquid that does not gel. On a vibrating deck the g is a
        peak that turns round every half turn, and less is gained.
    Source: M. C. Leverett's scaling of capillary pressure (1941), from memory, with 0.4 for the pressure at which a
        bed starts to empty. Water in 0.5 mm sand: 12 cm here; [Salim2012] measured 8 cm of full and 20 cm of damp sand.

    >>> oil = Q(0.4), Q(800, "kg/m**3"), Q(25, "mN/m")
    >>> print(f"{held_height(Q(0.5, 'mm'), *oil).to('mm'):.0f~P}")
    51 mm
    >>> print(f"{held_height(Q(0.5, 'mm'), *oil, 75 * Q(9.80665, 'm/s**2')).to('mm'):.2f~P}")
    0.68 mm
    """
    require_above_zero(liquid_density=liquid_density, surface_tension=surface_tension, acceleration=acceleration)
    scale = (porosity / bed_permeability(size, porosity)) ** 0.5
    return LEVERETT_ENTRY * surface_tension * scale / (liquid_density * acceleration)


@quantities(
    returns="[length]",
    viscosity="[viscosity]",
    path="[length]",
    liquid_density="[density]",
    time="[time]",
    acceleration="[acceleration]",
)
def film_thickness(
    viscosity: pint.Quantity,
    path: pint.Quantity,
    liquid_density: pint.Quantity,
    time: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Mean thickness of a film that has drained down a surface for a time.

    thickness = 2 / 3 * sqrt(viscosity * path / (liquid_density * acceleration * time))

    Parameters
    ----------
    viscosity : of the liquid (mPa.s or cP); scalar or array.
    path : length of the surface along the acceleration, such as the depth of the bed (mm); scalar or array.
    liquid_density : of the liquid (SG or kg/m3); scalar or array.
    time : of draining (s); scalar or array.
    acceleration : gravity by default; g times it in a machine (m/s2); scalar or array.

    Returns
    -------
    Thickness, m; goes with one over the root of acceleration and time.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero.

    Valid range: a film far thinner than its path, long after it was laid on; a Newtonian liquid: one with a yield
        stress keeps a film of yield stress / (density * acceleration) for ever.
    Source: [Jeffreys1930], abstract seen, formula from memory; [Benilov2008], abstract seen, has the same film.

    >>> film = film_thickness(Q(20, "mPa*s"), Q(10, "mm"), Q(800, "kg/m**3"), Q(10, "s"))
    >>> print(f"{film.to('um'):.1f~P}")
    33.7 µm
    """
    require_above_zero(
        viscosity=viscosity, path=path, liquid_density=liquid_density, time=time, acceleration=acceleration
    )
    return 2 / 3 * (viscosity * path / (liquid_density * acceleration * time)) ** 0.5


@quantity_fields(size="[length]", porosity="[]", depth="[length]", grain_density="[density]")
@dataclass(frozen=True)
class Bed:
    """Wet cuttings on the deck or in the basket of a dryer.

    ``size``: Sauter mean of the grains; ``porosity``: share between them (percent or fraction); ``depth``: along the
    acceleration; ``grain_density``: of the rock.
    """

    size: pint.Quantity
    porosity: pint.Quantity | float
    depth: pint.Quantity
    grain_density: pint.Quantity


@quantity_fields(density="[density]", viscosity="[viscosity]", surface_tension="[force]/[length]")
@dataclass(frozen=True)
class Liquid:
    """Liquid between the cuttings: its density, viscosity and surface tension."""

    density: pint.Quantity
    viscosity: pint.Quantity
    surface_tension: pint.Quantity


@quantity_fields(held="[]", film="[]", pendular="[]")
@dataclass(frozen=True)
class DrainedCuttings:
    """What a drained bed keeps, as ratios of liquid to dry rock by mass: three parts, and their sum.

    ``held``: full pores at the bottom, falls with 1 / acceleration. ``film``: on the grains above, falls with
    1 / sqrt(acceleration * time). ``pendular``: drops between grains, stays.
    """

    held: pint.Quantity
    film: pint.Quantity
    pendular: pint.Quantity

    @property
    def dry_ratio(self) -> pint.Quantity:
        """Liquid by mass of dry rock, of all three parts."""
        return self.held + self.film + self.pendular


@quantities(time="[time]", acceleration="[acceleration]", pendular="[]")
def drained_cuttings(
    bed: Bed,
    liquid: Liquid,
    time: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
    pendular: pint.Quantity | float = PENDULAR,
) -> DrainedCuttings:
    """What more g gives in drying: a model of the liquid that a bed of cuttings keeps.

    full = min(1, held_height / depth)
    held = porosity / (1 - porosity) * full
    film = (1 - full) * 6 * film_thickness / size
    drops = (1 - full) * pendular * porosity / (1 - porosity), each times liquid density / grain density

    Parameters
    ----------
    bed : a :class:`Bed`.
    liquid : a :class:`Liquid`.
    time : that the cuttings spend in the machine (s); scalar or array.
    acceleration : gravity by default; g times it in a machine (m/s2); scalar or array.
    pendular : share of the pores that drops between the grains keep (percent or fraction), 0.08 by default.

    Returns
    -------
    A :class:`DrainedCuttings`; ``dry_ratio`` is the liquid by mass of dry rock.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; porosity or pendular share outside 0 to 100 %.

    Valid range: warns (ValidityWarning) where the film is thicker than a tenth of the grains. A model, no data: the
        power laws follow from the physics named; 0.4, 180 and 0.08 are remembered constants; nothing was fitted to a
        dryer. It knows no shale that soaks, no fines that plug, no yield stress, and takes a steady acceleration, which
        a basket has and a vibrating deck has not. A well's own retorts come before it.
    Source: :func:`held_height` and :func:`film_thickness`, put together here.

    >>> bed = Bed(Q(500, "um"), 0.4, Q(15, "mm"), Q(2600, "kg/m**3"))
    >>> oil = Liquid(Q(800, "kg/m**3"), Q(5, "mPa*s"), Q(25, "mN/m"))
    >>> found = drained_cuttings(bed, oil, Q(10, "s"), Q([7.5, 75], "") * Q(9.80665, "m/s**2"))
    >>> [f"{ratio:.1%}" for ratio in found.dry_ratio.magnitude]
    ['11.8%', '3.3%']
    """
    height = held_height(bed.size, bed.porosity, liquid.density, liquid.surface_tension, acceleration)
    film = film_thickness(liquid.viscosity, bed.depth, liquid.density, time, acceleration)
    require_above_zero(depth_of_the_bed=bed.depth, grain_density=bed.grain_density)
    kept = number(pendular)
    require((kept >= 0) & (kept < 1), "pendular share of the pores must be at least 0 and below 100 %")
    if np.any(film > THIN_FILM * bed.size):
        warnings.warn(
            f"the film is thicker than {THIN_FILM:.0%} of the grains: they drain as one, and the film model is too wet",
            ValidityWarning,
            stacklevel=3,
        )
    full = np.minimum((height / bed.depth).magnitude, 1.0)
    # Liquid by volume of rock: full pores, and a film on spheres of the Sauter mean (surface 6 / size), which can be no
    # more than the room that the drops leave in the pores.
    pores = number(bed.porosity / (1 - bed.porosity))
    on_grains = np.minimum((6 * film / bed.size).magnitude, pores * (1 - kept))
    weight = (liquid.density / bed.grain_density).magnitude
    return DrainedCuttings(
        held=Q(weight * pores * full),
        film=Q(weight * (1 - full) * on_grains),
        pendular=Q(weight * (1 - full) * pores * kept),
    )
