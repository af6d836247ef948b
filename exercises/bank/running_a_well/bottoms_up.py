"""How long the rock takes from the bit to the shakers."""

from __future__ import annotations

import pint

from exercises.bank.running_a_well import Outcome
from exercises.fleet.envelope import ANNULAR_VELOCITY, PUMP_RATE
from exercises.fleet.rigs import HERON_4
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Numeric, Slip, relative
from exercises.model.working import Step
from pitside.hydraulics import annular_velocity
from pitside.volumes import annulus_capacity, hole_capacity


def _volume(n: Known) -> pint.Quantity:
    return annulus_capacity(n.hole, n.pipe) * n.depth


EXERCISE = Exercise(
    title="Bottoms up",
    level=1,
    version=2,
    outcome=Outcome.HOLE_CLEANING,
    tolerance=relative(
        0.01, because="1029.4 rounded to 1029 takes 0.04 % of it; three figures on the way move it by 0.5 %"
    ),
    numbers=(
        Number("flow", Grid(700, 1000, 10, "gal/min"), Grid(2650, 3800, 50, "L/min")),
        Number("hole", Grid(12.25, 12.25, 0.25, "in"), Grid(311, 311, 1, "mm")),
        Number("pipe", Grid(5.0, 5.5, 0.5, "in"), Grid(127, 140, 13, "mm")),
        Number("depth", Grid(5000, 10_000, 100, "ft"), Grid(1500, 3000, 20, "m")),
    ),
    envelope=(
        Within("flow", lambda n: n.flow, PUMP_RATE),
        Within("active mud, pits half full", lambda n: n.a + HERON_4.pits.middle, HERON_4.active),
        Within("annular velocity", lambda n: annular_velocity(n.flow, n.hole, n.pipe), ANNULAR_VELOCITY),
    ),
    setting=(
        "Rig Heron 4 drills at {depth} along the hole. Hole {hole}, pipe {pipe}, flow {flow}. Take the hole as in "
        "gauge and with one size of pipe."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the volume of the annulus?",
            unit=By("bbl", "m3"),
            solve=_volume,
            plausible=Range(560, 1250, "bbl"),
            marks=Marks(2),
            slips=(
                Slip(
                    "pipe left out",
                    lambda n: hole_capacity(n.hole) * n.depth,
                    "This is the volume of the hole without pipe. Take the square of the pipe off the square of the "
                    "hole.",
                ),
                Slip(
                    "difference squared",
                    lambda n: hole_capacity(n.hole - n.pipe) * n.depth,
                    "You squared the difference of the diameters. Square each one first, then take the difference.",
                ),
            ),
            working=(
                Step(
                    By(
                        "Squares in inches, over 1029.4, times the length:", "Area of the ring in m², times the length:"
                    ),
                    By(
                        "({hole}**2 - {pipe}**2) / 1029.4 * {depth}",
                        "pi / 4 * (({hole} / 1000)**2 - ({pipe} / 1000)**2) * {depth}",
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="How long is the lag: how many minutes does the mud need from the bit to the flow line?",
            unit="min",
            uses=("a",),
            solve=lambda n: n.a / n.flow,
            plausible=Range(22, 75, "min"),
            marks=Marks(2),
            slips=(
                Slip(
                    "42 left out",
                    lambda n: n.a / n.flow / 42,
                    "You divided barrels by gallons a minute. A barrel holds 42 gallons.",
                ),
                Slip(
                    "with the volume of the hole",
                    lambda n: hole_capacity(n.hole) * n.depth / n.flow,
                    "You took the volume of the hole without pipe. Only the annulus has to be filled.",
                ),
            ),
            working=(
                Step(
                    By("Volume in gallons over the flow:", "Volume in litres over the flow:"),
                    By("{a} * 42 / {flow}", "{a} * 1000 / {flow}"),
                ),
            ),
        ),
    ),
)
