"""Waste that leaves the rig: cuttings, the mud on them, boxes and trips."""

from __future__ import annotations

import numpy as np
import pint

from exercises.bank.commissioning import Outcome
from exercises.fleet.envelope import BOX, BULKING, MUD_ON_CUTTINGS, WASHOUT
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Numeric, Slip, absolute, relative
from exercises.model.working import Step
from pitside.removal import drilled_hole_volume
from pitside.units import Q

BALANCE = relative(0.01, because="a volume balance of figures given to two or three digits")
WHOLE = absolute(0.4, "fraction", because="only whole boxes and whole trips leave the rig: one more or less is wrong")


def _hole(n: Known) -> pint.Quantity:
    return drilled_hole_volume(n.diameter, n.length, n.washout)


def _gaps(n: Known, loose: pint.Quantity) -> pint.Quantity:
    """Room between the loose cuttings, which the mud on them fills."""
    return loose * n.bulking / (1 + n.bulking)


def _waste(n: Known) -> pint.Quantity:
    """Rock and mud together: there is more mud on the cuttings than their gaps hold."""
    return _hole(n) * (1 + n.carried)


def _whole(count: pint.Quantity) -> pint.Quantity:
    """The next whole number up."""
    return Q(float(np.ceil(count.m_as("") - 1e-9)))


def _rounding_is_clear(n: Known) -> bool:
    """Boxes and trips lie far enough from a whole number that the tolerances of what leads to them cannot move them."""
    boxes = (_waste(n) / (n.box * n.fill)).m_as("")
    trips = (_whole(Q(boxes)) / n.load).m_as("")
    return bool(0.25 <= boxes % 1 <= 0.75 and 0.15 <= trips % 1 <= 0.85 and trips > 3 and boxes <= 120)


EXERCISE = Exercise(
    title="Boxes of cuttings",
    level=2,
    version=4,
    outcome=Outcome.WASTE,
    tolerance=BALANCE,
    numbers=(
        Number("diameter", Grid(12.25, 12.25, 0.25, "in"), Grid(311, 311, 1, "mm")),
        Number("length", Grid(600, 4000, 50, "ft"), Grid(180, 1200, 10, "m")),
        Number("washout", Grid(4, 16, 1, "%")),
        Number("bulking", Grid(50, 80, 5, "%")),
        Number("carried", Grid(0.9, 1.5, 0.1)),
        Number("box", Grid(15, 25, 1, "bbl"), Grid(2.4, 4.0, 0.1, "m3")),
        Number("fill", Grid(80, 95, 5, "%")),
        Number("load", Grid(6, 14, 1)),
    ),
    valid=_rounding_is_clear,
    envelope=(
        Within("washout", lambda n: n.washout, WASHOUT),
        Within("bulking of the cuttings", lambda n: n.bulking, BULKING),
        Within("mud on the cuttings, for each volume of rock", lambda n: n.carried, MUD_ON_CUTTINGS),
        Within("box", lambda n: n.box, BOX),
    ),
    setting=(
        "At a place where nothing may go overboard rig Sandpiper 2 ships all its waste. A section of {length} of "
        "{diameter} hole is drilled, with a washout of {washout} of the volume that the bit drills. Loose cuttings "
        "take {bulking} more room than the rock did. For each volume of rock, {carried} volumes of mud stick to the "
        "cuttings. The mud fills the gaps between the cuttings first; what does not fit there takes up room of its "
        "own. A full box holds {box}, but it is filled to {fill} only, so that nothing spills when it is lifted. The "
        "boat takes "
        "{load} boxes on each trip. Boxes are lifted only by the rig's lifting plan and its licensed crew, and "
        "within the weight that the box and the crane are rated for; here the room is the tighter limit."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What room do the loose cuttings take, without the mud on them?",
            unit=By("bbl", "m3"),
            solve=lambda n: _hole(n) * (1 + n.bulking),
            plausible=Range(50, 1500, "bbl"),
            marks=Marks(2),
            slips=(
                Slip(
                    "bulking left out",
                    _hole,
                    "This is the rock as it was in the ground. Loose cuttings take more room: add the bulking.",
                ),
                Slip(
                    "washout left out",
                    lambda n: drilled_hole_volume(n.diameter, n.length) * (1 + n.bulking),
                    "You left the washout out. It comes up as cuttings too.",
                ),
                Slip(
                    "bulking taken off",
                    lambda n: _hole(n) * (1 - n.bulking),
                    "You took the bulking off. Loose cuttings take more room than the rock, not less.",
                ),
            ),
            working=(
                Step(
                    "Hole with its washout:",
                    By(
                        "{diameter}**2 / 1029.4 * {length} * (1 + {washout} / 100)",
                        "pi / 4 * ({diameter} / 1000)**2 * {length} * (1 + {washout} / 100)",
                    ),
                    "rock",
                    digits=5,
                ),
                Step("Loose:", "{rock} * (1 + {bulking} / 100)"),
            ),
        ),
        Numeric(
            key="b",
            ask="What volume of mud leaves with them?",
            unit=By("bbl", "m3"),
            solve=lambda n: _hole(n) * n.carried,
            plausible=Range(20, 1600, "bbl"),
            marks=Marks(1),
            slips=(
                Slip(
                    "on the loose volume",
                    lambda n: _hole(n) * (1 + n.bulking) * n.carried,
                    "You took the mud on the loose cuttings. It is given for the volume of the rock.",
                ),
                Slip(
                    "divided",
                    lambda n: _hole(n) / n.carried,
                    "You divided by the mud on the cuttings. Multiply: each volume of rock carries so much mud.",
                ),
            ),
            working=(
                Step(
                    "Hole with its washout, times the mud on it.",
                    By(
                        "{diameter}**2 / 1029.4 * {length} * (1 + {washout} / 100) * {carried}",
                        "pi / 4 * ({diameter} / 1000)**2 * {length} * (1 + {washout} / 100) * {carried}",
                    ),
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="What room do cuttings and mud take together, with the gaps full of mud?",
            unit=By("bbl", "m3"),
            uses=("a", "b"),
            solve=lambda n: n.a + n.b - _gaps(n, n.a),
            plausible=Range(60, 2500, "bbl"),
            marks=Marks(2),
            slips=(
                Slip(
                    "gaps counted twice",
                    lambda n: n.a + n.b,
                    "You added both volumes. The mud that fills the gaps takes no room of its own: take the gaps off.",
                ),
                Slip(
                    "mud alone on top of the gaps",
                    lambda n: n.b + _gaps(n, n.a),
                    "You left the rock out. Rock and mud together fill the boxes.",
                ),
                Slip(
                    "loose cuttings alone",
                    lambda n: n.a,
                    "These are the loose cuttings. More mud clings to them than their gaps hold: the rest of it needs "
                    "room as well.",
                ),
            ),
            working=(
                Step("The gaps between the loose cuttings:", "{a} * {bulking} / (100 + {bulking})", "gaps", digits=5),
                Step("The mud that does not fit into them:", "{b} - {gaps}", "over", digits=5),
                Step("On top of the loose cuttings:", "{a} + {over}"),
            ),
        ),
        Numeric(
            key="d",
            ask="How many boxes are needed?",
            unit="fraction",
            whole=True,
            uses=("c",),
            solve=lambda n: _whole(n.c / (n.box * n.fill)),
            plausible=Range(8, 130),
            tolerance=WHOLE,
            marks=Marks(2),
            slips=(
                Slip(
                    "rounded down",
                    lambda n: _whole(n.c / (n.box * n.fill)) - 1,
                    "You rounded down: the last part of a box needs a box as well.",
                ),
                Slip(
                    "filled to the brim",
                    lambda n: _whole(n.c / n.box),
                    "You filled the boxes to the brim. They are filled to {fill} only: multiply a box by that first.",
                ),
            ),
            working=(
                Step("What goes into a box:", "{box} * {fill} / 100", "in_box", By("bbl", "m3"), digits=5),
                Step("The waste over that:", "{c} / {in_box}", "boxes", "fraction", digits=5),
                Step("The last part of a box needs a box as well, so the next whole number.", "ceil({boxes})"),
            ),
        ),
        Numeric(
            key="e",
            ask="How many trips does the boat make?",
            unit="fraction",
            whole=True,
            uses=("d",),
            solve=lambda n: _whole(n.d / n.load),
            plausible=Range(1, 35),
            tolerance=WHOLE,
            marks=Marks(1),
            slips=(
                Slip(
                    "rounded down",
                    lambda n: _whole(n.d / n.load) - 1,
                    "You rounded down: the last boxes need a trip as well.",
                ),
                Slip(
                    "one trip a box",
                    lambda n: Q(1.0) * n.d,
                    "This is a trip for each box. Divide by the boxes on a trip.",
                ),
            ),
            working=(Step("Boxes over those of a trip, the next whole number.", "ceil({d} / {load})"),),
        ),
    ),
)
