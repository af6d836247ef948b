"""The mud that a washed-out hole takes."""

from __future__ import annotations

from exercises.bank.solids_cost import Outcome
from exercises.fleet.envelope import HOLE, WASHOUT
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Pick, Range, System, mislabelled
from exercises.model.parts import Convention, Marks, Numeric, Slip, relative
from exercises.model.working import Step
from pitside.units import Q
from pitside.volumes import annulus_capacity, hole_capacity

#: Bit and drill pipe that go together, in inches: usual sizes of the trade.
SECTIONS = {
    "6 in": (6.0, 3.5),
    "6-1/8 in": (6.125, 3.5),
    "8-1/2 in": (8.5, 5.0),
    "8-3/4 in": (8.75, 5.0),
    "9-7/8 in": (9.875, 5.5),
    "12-1/4 in": (12.25, 6.625),
}

#: A handbook's constant for inches and barrels; the exact one is 1029.41.
ROUND_CONSTANT = Q(1.0, "bbl/ft") / Q(1029.0, "in**2")

EXERCISE = Exercise(
    title="The mud that a hole takes",
    level=1,
    version=1,
    outcome=Outcome.VOLUMES,
    numbers=(
        Pick("section", tuple(SECTIONS)),
        Derived("bit", lambda n: Q(SECTIONS[n.section][0], "in"), By("in", "mm"), By(3, 0)),
        Derived("pipe", lambda n: Q(SECTIONS[n.section][1], "in"), By("in", "mm"), By(3, 0)),
        Number("length", Grid(1500, 6000, 50, "ft"), Grid(450, 1800, 10, "m")),
        Number("washout", Grid(10, 25, 1, "%")),
    ),
    envelope=(
        Within("hole", lambda n: n.bit, HOLE),
        Within("washout", lambda n: n.washout, WASHOUT),
    ),
    setting=(
        "Rig Heron 4 has drilled {length} of hole in well Marram-1 with a bit of {bit}. The hole is washed out: its "
        "volume is {washout} more than that of a hole of the size of the bit. Drill pipe of {pipe} outside diameter "
        "stands in the whole length. Leave the drill collars and the tool joints out."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By(
                "What is the capacity of the hole at the size of the bit, in bbl/ft? Give four decimals.",
                "What is the capacity of the hole at the size of the bit, in L/m? Give one decimal.",
            ),
            unit=By("bbl/ft", "L/m"),
            solve=lambda n: hole_capacity(n.bit),
            plausible=Range(0.03, 0.15, "bbl/ft"),
            conventions=(Convention("1029 as the constant", lambda n: n.bit**2 * ROUND_CONSTANT),),
            tolerance=relative(0.004, because="1029 for 1029.4 moves it by 0.04 %; four decimals by up to 0.15 %"),
            marks=Marks(2),
            slips=(
                Slip(
                    "radius for diameter",
                    lambda n: hole_capacity(n.bit / 2),
                    By(
                        "You squared the radius. The constant 1029.4 belongs to the diameter: square the whole "
                        "diameter.",
                        "You squared the radius and still divided by four. Square the whole diameter.",
                    ),
                ),
                Slip(
                    "1029 upside down",
                    lambda n: Q(1.0 / hole_capacity(n.bit).m_as("bbl/ft"), "bbl/ft"),
                    "This is how many feet hold one barrel. Put the square of the diameter above the line and 1029.4 "
                    "below it.",
                    only=System.FIELD,
                ),
                Slip(
                    "diameter not squared",
                    lambda n: Q(n.bit.m_as("in") / 1029.4, "bbl/ft"),
                    "You did not square the diameter. The area of a circle grows with the square of it.",
                    only=System.FIELD,
                ),
                Slip(
                    "not divided by four",
                    lambda n: hole_capacity(2 * n.bit),
                    "You took π times the square of the diameter. With the diameter the area is that divided by four.",
                    only=System.METRIC,
                ),
                Slip(
                    "cubic metres called litres",
                    lambda n: mislabelled(hole_capacity(n.bit), "m3/m", "L/m"),
                    "This is the capacity in m³/m. A cubic metre is 1000 L: multiply by 1000.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    By(
                        "Square the diameter, and divide by 1029.4:",
                        "The area of the circle, in square metres, for each metre of hole; 1000 L in a cubic metre:",
                    ),
                    By("{bit}**2 / 1029.4", "pi / 4 * ({bit} / 1000)**2 * 1000"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=By(
                "What volume does the washed-out hole hold with no pipe in it, in barrels?",
                "What volume does the washed-out hole hold with no pipe in it, in cubic metres?",
            ),
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda n: n.a * n.length * (1 + n.washout),
            plausible=Range(50, 1200, "bbl"),
            tolerance=relative(0.006, because="whole barrels or one decimal of a cubic metre: 0.4 % of a small hole"),
            marks=Marks(2),
            slips=(
                Slip(
                    "washout left out",
                    lambda n: n.a * n.length,
                    "This is the hole at the size of the bit. Washed out, it holds {washout} more: multiply by one "
                    "plus that share.",
                ),
                Slip(
                    "washout on the diameter",
                    lambda n: n.a * n.length * (1 + n.washout) ** 2,
                    "You made the diameter larger by {washout}. The washout is a share of the volume: use it once.",
                ),
                Slip(
                    "washout taken off",
                    lambda n: n.a * n.length * (1 - n.washout),
                    "You took the washout off. A washed-out hole is larger: add it.",
                ),
            ),
            working=(
                Step(
                    By(
                        "Capacity times length, with the washout on top:",
                        "Capacity times length, with 1000 L in a cubic metre and the washout on top:",
                    ),
                    By("{a} * {length} * (1 + {washout} / 100)", "{a} / 1000 * {length} * (1 + {washout} / 100)"),
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="What volume does the annulus hold, between this hole and the pipe?",
            unit=By("bbl", "m3"),
            uses=("b",),
            solve=lambda n: n.b - hole_capacity(n.pipe) * n.length,
            plausible=Range(30, 900, "bbl"),
            conventions=(Convention("1029 as the constant", lambda n: n.b - n.pipe**2 * ROUND_CONSTANT * n.length),),
            tolerance=relative(0.01, because="the rounding of (b), on a smaller volume"),
            marks=Marks(2),
            slips=(
                Slip(
                    "pipe left out",
                    lambda n: n.b,
                    "This is the open hole of (b). Take off the room that the pipe fills: its outside diameter squared "
                    "counts.",
                ),
                Slip(
                    "washout on the annulus",
                    lambda n: annulus_capacity(n.bit, n.pipe) * n.length * (1 + n.washout),
                    "You put the washout on the annulus. The rock washes out, not the pipe: put it on the hole, then "
                    "take off the pipe.",
                ),
                Slip(
                    "difference squared",
                    lambda n: hole_capacity(n.bit - n.pipe) * n.length * (1 + n.washout),
                    "You squared the difference of the diameters. Square each diameter, then take the difference.",
                ),
                Slip(
                    "washout forgotten",
                    lambda n: annulus_capacity(n.bit, n.pipe) * n.length,
                    "This is the annulus of a hole of the size of the bit. Start from the washed-out hole of (b).",
                ),
            ),
            working=(
                Step(
                    "The room that the pipe fills, by its outside diameter:",
                    By("{pipe}**2 / 1029.4 * {length}", "pi / 4 * ({pipe} / 1000)**2 * {length}"),
                    "filled",
                ),
                Step("The rest of the hole is annulus.", "{b} - {filled}"),
            ),
        ),
    ),
)
