"""Densities of the solids that a mud holds or takes, each with where the figure comes from.

``BARITE`` and its like are densities at their usual specific gravity. ``BARITE_FIELD`` and its like are the round
figures that field formulas imply (35 lb/gal is the 1470 = 35 * 42 lb/bbl of the barite formula). ``MATERIALS``
lists them all by name, with source.
"""

from __future__ import annotations

from dataclasses import dataclass

import pint

from pitside.density import density_from_sg
from pitside.units import Q


@dataclass(frozen=True)
class Material:
    """A solid of the mud: its name as pages print it, its density, and where that figure comes from."""

    name: str
    density: pint.Quantity
    source: str


#: API barite, least specific gravity of the older grade: seen restated ([API13A], as a test laboratory has it).
BARITE = density_from_sg(4.20)
#: API barite, least specific gravity of the lighter grade: seen restated (as above).
BARITE_4_10 = density_from_sg(4.10)
#: Hematite, least specific gravity in [API13A]: from memory.
HEMATITE = density_from_sg(5.05)
#: Ground calcium carbonate: the 22.5 lb/gal of [Lapeyrouse2002] ch. 3 is 2.70 to two places.
CALCIUM_CARBONATE = density_from_sg(2.70)
#: Low-gravity solids, drilled solids and bentonite together: a convention of the trade ([ASME2005]); 2.65 is used too.
LOW_GRAVITY = density_from_sg(2.60)

#: Barite as field formulas have it, 1470 / 42: [Lapeyrouse2002] p. 81, seen. It is SG 4.194.
BARITE_FIELD = Q(35.0, "lb/gal")
#: Calcium carbonate as field formulas have it, 945 / 42: [Lapeyrouse2002] ch. 3, seen. It is SG 2.696.
CALCIUM_CARBONATE_FIELD = Q(22.5, "lb/gal")
#: Hematite as field formulas have it, 1680 / 42: seen restated. It is SG 4.79, lighter than :data:`HEMATITE`.
HEMATITE_FIELD = Q(40.0, "lb/gal")

#: Every material above by a short key.
MATERIALS: dict[str, Material] = {
    "barite": Material("barite (SG 4.20)", BARITE, "API Spec 13A, seen restated"),
    "barite_4_10": Material("barite (SG 4.10)", BARITE_4_10, "API Spec 13A, seen restated"),
    "hematite": Material("hematite (SG 5.05)", HEMATITE, "API Spec 13A, from memory"),
    "calcium_carbonate": Material("calcium carbonate (SG 2.70)", CALCIUM_CARBONATE, "Lapeyrouse 2002 ch. 3, rounded"),
    "low_gravity": Material("low-gravity solids (SG 2.60)", LOW_GRAVITY, "convention, drilling fluids processing text"),
    "barite_field": Material("barite (35 lb/gal)", BARITE_FIELD, "Lapeyrouse 2002 p. 81, seen"),
    "calcium_carbonate_field": Material(
        "calcium carbonate (22.5 lb/gal)", CALCIUM_CARBONATE_FIELD, "Lapeyrouse 2002 ch. 3, seen"
    ),
    "hematite_field": Material("hematite (40 lb/gal)", HEMATITE_FIELD, "Lapeyrouse, seen restated"),
}
