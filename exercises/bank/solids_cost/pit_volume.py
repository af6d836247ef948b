"""Mud in a pit, from its level."""

from __future__ import annotations

import pint

from exercises.bank.solids_cost import Outcome
from exercises.fleet.envelope import PIT
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, System, mislabelled
from exercises.model.parts import Known, Marks, Numeric, Slip, relative
from exercises.model.usual_slips import CUBIC_FEET_CALLED_BARRELS, GALLONS_CALLED_BARRELS
from exercises.model.working import Step
from pitside.units import Q
from pitside.volumes import pit_volume


def _level(n: Known, volume: pint.Quantity) -> pint.Quantity:
    """Depth at which this volume stands in the pit."""
    return volume / (n.pit_length * n.pit_width)


def _pit_can_be(n: Known) -> bool:
    """A pit longer than wide, mud well above the floor before and after, and never level with half the depth.

    At half the depth the distance from the top would equal the depth of the mud, and a usual slip would be right.
    """
    before = n.pit_depth - n.ullage
    after = before - _level(n, n.moved)
    if not (n.limit < n.ullage and 0.25 * n.pit_depth <= after):
        return False
    return all(abs(depth / n.pit_depth - 0.5) > 0.03 for depth in (before, after))


EXERCISE = Exercise(
    title="Mud in a pit, from its level",
    level=1,
    version=2,
    outcome=Outcome.VOLUMES,
    numbers=(
        Number("pit_length", Grid(20, 40, 1, "ft"), Grid(6.0, 12.0, 0.5, "m")),
        Number("pit_width", Grid(7.0, 10.0, 0.5, "ft"), Grid(2.2, 3.0, 0.1, "m")),
        Number("pit_depth", Grid(7.0, 10.0, 0.5, "ft"), Grid(2.2, 3.0, 0.1, "m")),
        Number("ullage", Grid(1.5, 4.5, 0.1, "ft"), Grid(0.50, 1.40, 0.05, "m")),
        Number("moved", Grid(30, 120, 5, "bbl"), Grid(5, 19, 1, "m3")),
        Number("limit", Grid(0.5, 1.0, 0.5, "ft"), Grid(0.15, 0.30, 0.05, "m")),
    ),
    valid=_pit_can_be,
    envelope=(Within("pit to the brim", lambda n: pit_volume(n.pit_length, n.pit_width, n.pit_depth), PIT),),
    setting=(
        "A pit of rig Sandpiper 2 is {pit_length} long, {pit_width} wide and {pit_depth} deep, all inside. The mud in "
        "it stands {ullage} below the top edge. The level is read from the walkway: nobody climbs into a pit, or leans "
        "over its edge, to measure it."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By("How many barrels of mud are in the pit?", "How many cubic metres of mud are in the pit?"),
            unit=By("bbl", "m3"),
            solve=lambda n: pit_volume(n.pit_length, n.pit_width, n.pit_depth - n.ullage),
            plausible=Range(60, 620, "bbl"),
            converting=By(True, False),
            tolerance=relative(
                0.006, because="5.6 for 5.6146 ft3 in a barrel moves it by 0.3 %; whole barrels likewise"
            ),
            marks=Marks(2),
            slips=(
                Slip(
                    "distance from the top for the depth",
                    lambda n: pit_volume(n.pit_length, n.pit_width, n.ullage),
                    "You used the distance from the top edge as if it were the depth of the mud. Take it off the "
                    "depth of the pit first.",
                ),
                Slip(
                    "the whole pit",
                    lambda n: pit_volume(n.pit_length, n.pit_width, n.pit_depth),
                    "This is the pit filled to the brim. The mud stands {ullage} lower.",
                ),
                GALLONS_CALLED_BARRELS.of(lambda n: pit_volume(n.pit_length, n.pit_width, n.pit_depth - n.ullage)),
                Slip(
                    "5.615 upside down",
                    lambda n: (
                        pit_volume(n.pit_length, n.pit_width, n.pit_depth - n.ullage) * Q(1.0, "bbl").m_as("ft**3") ** 2
                    ),
                    "You multiplied by 5.615. A barrel is 5.615 cubic feet, so barrels are fewer: divide by it.",
                    only=System.FIELD,
                ),
                CUBIC_FEET_CALLED_BARRELS.of(lambda n: pit_volume(n.pit_length, n.pit_width, n.pit_depth - n.ullage)),
                Slip(
                    "litres called cubic metres",
                    lambda n: mislabelled(pit_volume(n.pit_length, n.pit_width, n.pit_depth - n.ullage), "L", "m3"),
                    "This is the volume in litres. Metres times metres times metres are cubic metres already.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step("The depth of the mud:", "{pit_depth} - {ullage}", "depth", By("ft", "m")),
                Step(
                    By("Length, width and depth; a barrel is 5.615 ft³.", "Length, width and depth:"),
                    By("{pit_length} * {pit_width} * {depth} / 5.615", "{pit_length} * {pit_width} * {depth}"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=By(
                "The driller and the mud logger are told. Then {moved} of the mud is pumped to another pit. How many "
                "feet of mud stand in this pit now, above its floor? Give two decimals.",
                "The driller and the mud logger are told. Then {moved} of the mud is pumped to another pit. How many "
                "metres of mud stand in this pit now, above its floor? Give two decimals.",
            ),
            unit=By("ft", "m"),
            uses=("a",),
            solve=lambda n: _level(n, n.a - n.moved),
            plausible=Range(1.5, 9, "ft"),
            tolerance=relative(0.01, because="a whole barrel, or the second decimal, of shallow mud"),
            marks=Marks(2),
            slips=(
                Slip(
                    "the fall alone",
                    lambda n: _level(n, n.moved),
                    "This is how far the level falls. The question asks how deep the mud stands then.",
                ),
                Slip(
                    "the level before",
                    lambda n: _level(n, n.a),
                    "This is the depth before the mud was moved. Take {moved} off the volume first.",
                ),
                Slip(
                    "added, not moved out",
                    lambda n: _level(n, n.a + n.moved),
                    "You added the mud that was moved. It leaves this pit: take it off.",
                ),
                Slip(
                    "distance from the top",
                    lambda n: n.pit_depth - _level(n, n.a - n.moved),
                    "This is how far the mud stands below the top edge. The question asks for its depth above the "
                    "floor.",
                ),
                Slip(
                    "5.615 left out",
                    lambda n: _level(n, mislabelled(n.a - n.moved, "bbl", "ft3")),
                    "You divided barrels by square feet. Turn the barrels into cubic feet first: multiply by 5.615.",
                    only=System.FIELD,
                ),
            ),
            working=(
                Step("The mud that is left:", "{a} - {moved}", "left", By("bbl", "m3")),
                Step(
                    By("In cubic feet, over the floor of the pit:", "Over the floor of the pit:"),
                    By("{left} * 5.615 / ({pit_length} * {pit_width})", "{left} / ({pit_length} * {pit_width})"),
                ),
            ),
        ),
        Numeric(
            key="c",
            ask=(
                "No pit of this rig may be filled closer than {limit} to its top edge. What volume can this pit take "
                "now, up to that level?"
            ),
            unit=By("bbl", "m3"),
            uses=("b",),
            solve=lambda n: pit_volume(n.pit_length, n.pit_width, n.pit_depth - n.limit - n.b),
            plausible=Range(30, 560, "bbl"),
            tolerance=relative(0.015, because="the second decimal of the depth of (b), on the room that is left"),
            marks=Marks(2),
            slips=(
                Slip(
                    "filled to the brim",
                    lambda n: pit_volume(n.pit_length, n.pit_width, n.pit_depth - n.b),
                    "You filled the pit to its top edge. {limit} must stay free: take that off as well.",
                ),
                Slip(
                    "the empty pit",
                    lambda n: pit_volume(n.pit_length, n.pit_width, n.pit_depth - n.limit),
                    "This is what the empty pit can take. Mud stands in it already: take its depth of (b) off.",
                ),
                CUBIC_FEET_CALLED_BARRELS.of(
                    lambda n: pit_volume(n.pit_length, n.pit_width, n.pit_depth - n.limit - n.b), "room"
                ),
                Slip(
                    "the mud in the pit",
                    lambda n: pit_volume(n.pit_length, n.pit_width, n.b),
                    "This is the mud that is in the pit. The question asks for the room above it.",
                ),
            ),
            working=(
                Step(
                    "The free height, up to the level that is allowed:",
                    "{pit_depth} - {limit} - {b}",
                    "free",
                    By("ft", "m"),
                ),
                Step(
                    "The volume of that height:",
                    By("{pit_length} * {pit_width} * {free} / 5.615", "{pit_length} * {pit_width} * {free}"),
                ),
            ),
        ),
    ),
)
