"""Bentonite in a mud by the methylene-blue test, and what of the low-gravity solids is drilled.

``methylene_blue_capacity``, ``bentonite_equivalent``: the test as the trade reports it, 5 lb/bbl for each mL of blue
that a mL of mud takes. ``clay_equivalent``: the same for a clay of any exchange capacity. ``exchange_capacity``: of a
ground sample of rock. ``split_low_gravity``: bentonite and drilled solids out of the low-gravity solids of a retort.

The test counts charge, not clay: drilled shale takes blue too, and so do some polymers unless peroxide has burnt them
off. "Bentonite equivalent" is as much bentonite as would take the blue. One milliequivalent of exchange capacity is
written as one millimole here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pint

from pitside.units import Q, quantities, quantity_fields, require, require_above_zero

#: Bentonite for each mL of blue in each mL of mud, as the trade has it: [API13B1], from memory; seen in public texts.
BLUE_FACTOR = Q(5.0, "lb/bbl")
#: The same as metric reports have it, from memory; 5 lb/bbl are 14.27 kg/m3.
BLUE_FACTOR_METRIC = Q(14.25, "kg/m**3")
#: Strength of the blue: 0.01 milliequivalents in a mL, 3.2 mg/mL; seen in a public glossary.
BLUE_STRENGTH = Q(0.01, "mmol/mL")
#: Exchange capacity of the bentonite that the factor of 5 lb/bbl stands for: derived, 70 milliequivalents in 100 g.
BENTONITE_CAPACITY = Q(0.70, "mmol/g")
#: Exchange capacities of usual clays, as a public glossary has them; seen. Drilled cuttings are given as 8 to 12.
CAPACITIES = {
    "Wyoming bentonite": Q(0.75, "mmol/g"),
    "soft shale": Q(0.45, "mmol/g"),
    "kaolinite": Q(0.10, "mmol/g"),
    "drilled cuttings": Q(0.10, "mmol/g"),
}
#: Blue that drilled solids take for as much that bentonite of their mass takes, where nobody has measured: from memory.
REACTIVITY = 1 / 9

_NONE = Q(0.0, "kg/m**3")


@quantities(returns="[]", blue="[volume]", mud="[volume]")
def methylene_blue_capacity(blue: pint.Quantity, mud: pint.Quantity) -> pint.Quantity:
    """Methylene-blue capacity: volume of blue that a volume of mud takes.

    capacity = blue / mud

    Parameters
    ----------
    blue : volume of methylene-blue solution at the end point (mL); scalar or array.
    mud : volume of mud in the flask (mL; 1 or 2 mL are usual); scalar or array.

    Returns
    -------
    Capacity, mL of blue in each mL of mud, a plain number.

    Raises
    ------
    CalculationError : a value of the wrong dimension; negative blue; mud that is not above zero.

    Valid range: blue of 0.01 milliequivalents in a mL (:data:`BLUE_STRENGTH`).
    Source: [API13B1], from memory.

    >>> print(f"{methylene_blue_capacity(Q(9.0, 'mL'), Q(2.0, 'mL')).magnitude:.1f}")
    4.5
    """
    require(blue >= Q(0, "mL"), "volume of methylene blue must not be negative")
    require(mud > Q(0, "mL"), "volume of mud must be above zero")
    return blue / mud


@quantities(returns="[density]", blue="[volume]", mud="[volume]", factor="[density]")
def bentonite_equivalent(blue: pint.Quantity, mud: pint.Quantity, factor: pint.Quantity = BLUE_FACTOR) -> pint.Quantity:
    """Bentonite equivalent of a mud, as the trade reports its methylene-blue test.

    equivalent = 5 lb/bbl * blue / mud

    Parameters
    ----------
    blue : volume of methylene-blue solution at the end point (mL); scalar or array.
    mud : volume of mud in the flask (mL); scalar or array.
    factor : :data:`BLUE_FACTOR` of 5 lb/bbl, or :data:`BLUE_FACTOR_METRIC` of 14.25 kg/m3.

    Returns
    -------
    Bentonite that would take that blue, kg/m3 of mud (``.to("lb/bbl")``).

    Raises
    ------
    CalculationError : a value of the wrong dimension; negative blue; mud or factor not above zero.

    Valid range: any; it is an upper bound of the bentonite, as drilled solids take blue too.
    Source: [API13B1], from memory; seen in public texts as 5 times the mL that 1 mL of mud takes.

    >>> print(f"{bentonite_equivalent(Q(9.0, 'mL'), Q(2.0, 'mL')).to('lb/bbl'):.1f~P}")
    22.5 lb/bbl
    """
    require_above_zero(factor=factor)
    return factor * methylene_blue_capacity(blue, mud)


@quantities(
    returns="[density]",
    blue="[volume]",
    mud="[volume]",
    capacity="[substance]/[mass]",
    strength="[substance]/[volume]",
)
def clay_equivalent(
    blue: pint.Quantity,
    mud: pint.Quantity,
    capacity: pint.Quantity = BENTONITE_CAPACITY,
    strength: pint.Quantity = BLUE_STRENGTH,
) -> pint.Quantity:
    """Clay of a given exchange capacity that would take the blue of the test.

    equivalent = blue / mud * strength / capacity

    Parameters
    ----------
    blue : volume of methylene-blue solution at the end point (mL); scalar or array.
    mud : volume of mud in the flask (mL); scalar or array.
    capacity : exchange capacity of the clay (mmol/g, which is milliequivalents in a gram); scalar or array.
    strength : of the blue (mmol/mL); scalar or array.

    Returns
    -------
    Clay, kg/m3 of mud (``.to("lb/bbl")``).

    Raises
    ------
    CalculationError : a value of the wrong dimension; negative blue; mud, capacity or strength not above zero.

    Valid range: any.
    Source: the definition of exchange capacity; at 0.70 mmol/g it is the 5 lb/bbl of :func:`bentonite_equivalent`.

    >>> clay = clay_equivalent(Q(9.0, "mL"), Q(2.0, "mL"), CAPACITIES["soft shale"])
    >>> print(f"{clay.to('lb/bbl'):.1f~P}")
    35.1 lb/bbl
    """
    require(capacity > Q(0, "mol/kg"), "exchange capacity must be above zero")
    require(strength > Q(0, "mol/m**3"), "strength of the methylene blue must be above zero")
    return methylene_blue_capacity(blue, mud) * strength / capacity


@quantities(returns="[substance]/[mass]", blue="[volume]", sample="[mass]", strength="[substance]/[volume]")
def exchange_capacity(
    blue: pint.Quantity, sample: pint.Quantity, strength: pint.Quantity = BLUE_STRENGTH
) -> pint.Quantity:
    """Exchange capacity of ground rock from its own methylene-blue test.

    capacity = blue * strength / sample

    Parameters
    ----------
    blue : volume of methylene-blue solution at the end point (mL); scalar or array.
    sample : mass of dry ground rock in the flask (g); scalar or array.
    strength : of the blue (mmol/mL); scalar or array.

    Returns
    -------
    Exchange capacity, mol/kg: each 0.01 is one milliequivalent in 100 g.

    Raises
    ------
    CalculationError : a value of the wrong dimension; negative blue; a sample or strength not above zero.

    Valid range: any.
    Source: the definition; a gram of rock and blue of 0.01 mmol/mL give as many milliequivalents in 100 g as mL.

    >>> shale = exchange_capacity(Q(12, "mL"), Q(1, "g"))
    >>> print(f"{shale.to('mmol/g'):.2f~P}, a reactivity of {(shale / BENTONITE_CAPACITY).m_as(''):.2f}")
    0.12 mmol/g, a reactivity of 0.17
    """
    require(blue >= Q(0, "mL"), "volume of methylene blue must not be negative")
    require(sample > Q(0, "g"), "mass of the sample must be above zero")
    require(strength > Q(0, "mol/m**3"), "strength of the methylene blue must be above zero")
    return blue * strength / sample


@quantity_fields(bentonite="[density]", drilled_solids="[density]")
@dataclass(frozen=True)
class LowGravitySplit:
    """Low-gravity solids parted into bentonite and drilled solids, kg/m3 of mud."""

    bentonite: pint.Quantity
    drilled_solids: pint.Quantity

    @property
    def ratio(self) -> pint.Quantity:
        """Drilled solids to bentonite by mass; endless where there is no bentonite."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return Q(np.divide(self.drilled_solids.m_as("kg/m**3"), self.bentonite.m_as("kg/m**3")))


@quantities(low_gravity_concentration="[density]", equivalent="[density]", reactivity="[]")
def split_low_gravity(
    low_gravity_concentration: pint.Quantity,
    equivalent: pint.Quantity,
    reactivity: pint.Quantity | float = REACTIVITY,
) -> LowGravitySplit:
    """Part low-gravity solids into bentonite and drilled solids, which take blue as well, but less of it.

    bentonite = (equivalent - reactivity * low_gravity) / (1 - reactivity), the rest is drilled

    Parameters
    ----------
    low_gravity_concentration : from the retort (lb/bbl or kg/m3 of mud); scalar or array.
    equivalent : bentonite equivalent of the mud; scalar or array.
    reactivity : exchange capacity of the drilled solids over that of bentonite; 1/9 by default, better measured
        (:func:`exchange_capacity`); scalar or array.

    Returns
    -------
    :class:`LowGravitySplit`.

    Raises
    ------
    CalculationError : a value of the wrong dimension; negative solids; a reactivity outside 0 to below 1; more blue, or
        less, than these low-gravity solids can take.

    Valid range: reactivity * low_gravity <= equivalent <= low_gravity; they are clay and drilled rock, nothing else.
    Source: balance of mass and of exchange capacity, derived. Copies of [Lapeyrouse2002] p. 92 that were seen print
        another form, ((M - 9) S / 65) LGS / (1 - S / 65); it finds no bentonite where the shale takes no blue (S of 0),
        does not balance, and is not used.

    >>> parts = split_low_gravity(Q(60, "lb/bbl"), Q(20, "lb/bbl"))
    >>> print(f"{parts.bentonite.to('lb/bbl'):.1f~P} bentonite, {parts.drilled_solids.to('lb/bbl'):.1f~P} drilled")
    15.0 lb/bbl bentonite, 45.0 lb/bbl drilled
    >>> print(f"ratio {parts.ratio.magnitude:.1f}")
    ratio 3.0
    """
    require(low_gravity_concentration >= _NONE, "low-gravity solids must not be negative")
    require(equivalent >= _NONE, "bentonite equivalent must not be negative")
    require((reactivity >= 0) & (reactivity < 1), "reactivity of drilled solids must be at least 0 and below 1")
    crumb = 1e-9 * low_gravity_concentration
    require(
        equivalent <= low_gravity_concentration + crumb,
        "the blue would take more bentonite than there are low-gravity solids: check the test, and polymers that were "
        "not burnt off with peroxide",
    )
    bentonite = (equivalent - reactivity * low_gravity_concentration) / (1 - reactivity)
    require(
        bentonite >= -crumb,
        "drilled solids alone would take more blue than the mud did: their reactivity is lower than was given",
    )
    bentonite = np.clip(bentonite, _NONE, low_gravity_concentration)
    return LowGravitySplit(bentonite, low_gravity_concentration - bentonite)
