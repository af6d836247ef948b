"""The rigs of our invented scenario, as data sheets."""

from __future__ import annotations

from dataclasses import dataclass

import pint

from exercises.model.envelope import Usual
from pitside import Q

INVENTED = "of our scenario, within common practice; no source"


@dataclass(frozen=True)
class Section:
    """A section of hole as it is drilled on a rig: the bit, the flow of the mud pumps, the drilling rate."""

    hole: Usual
    flow: Usual
    rate: Usual


LARGE_HOLE = Section(Usual(17.5, 17.5, "in"), Usual(900, 1200, "gal/min"), Usual(60, 200, "ft/h"))
MIDDLE_HOLE = Section(Usual(12.25, 12.25, "in"), Usual(700, 1000, "gal/min"), Usual(40, 150, "ft/h"))
SMALL_HOLE = Section(Usual(8.5, 8.5, "in"), Usual(400, 600, "gal/min"), Usual(20, 100, "ft/h"))


@dataclass(frozen=True)
class Trap:
    """A sand trap: the surface over which the mud spreads, and its depth up to the weir."""

    area: pint.Quantity
    depth: pint.Quantity


@dataclass(frozen=True)
class Rig:
    """A rig: where it stands, its mud, the sections that it drills, and how much mud it holds.

    ``pits`` is the mud in the active tanks alone, on every well the same. ``active`` is hole and pits together, so it
    grows with the depth of the hole; under deep water the riser is not counted. ``all_mud`` is that and the reserve.
    """

    name: str
    place: str
    mud: str
    pits: Usual
    active: Usual
    all_mud: Usual
    sections: tuple[Section, ...]


HERON_4 = Rig(
    "Heron 4",
    "land",
    "water-base mud: unweighted down to the middle hole, weighted with barite below",
    pits=Usual(500, 800, "bbl", INVENTED),
    active=Usual(700, 2200, "bbl", INVENTED),
    all_mud=Usual(1200, 2500, "bbl", INVENTED),
    sections=(LARGE_HOLE, MIDDLE_HOLE, SMALL_HOLE),
)
#: Invented, within common practice: at its depth it holds what the exercises on the trap draw.
HERON_4_TRAP = Trap(area=Q(80, "ft**2"), depth=Q(6, "ft"))
SANDPIPER_2 = Rig(
    "Sandpiper 2",
    "platform",
    "invert mud",
    pits=Usual(700, 1300, "bbl", INVENTED),
    active=Usual(1200, 2000, "bbl", INVENTED),
    all_mud=Usual(2000, 4000, "bbl", INVENTED),
    sections=(LARGE_HOLE, MIDDLE_HOLE, SMALL_HOLE),
)
NORTHERN_GANNET = Rig(
    "Northern Gannet",
    "deep water, two gradients",
    "synthetic-base mud, weighted with barite",
    pits=Usual(700, 1300, "bbl", INVENTED),
    active=Usual(1500, 2500, "bbl", INVENTED),
    all_mud=Usual(3000, 5000, "bbl", INVENTED),
    sections=(MIDDLE_HOLE, SMALL_HOLE),
)

RIGS = (HERON_4, SANDPIPER_2, NORTHERN_GANNET)
