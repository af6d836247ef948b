"""What a triplex pump moves, and how long a barrel takes round the system."""

from __future__ import annotations

import pint

from exercises.bank.solids_cost import Outcome
from exercises.fleet.envelope import PUMP_RATE
from exercises.fleet.rigs import HERON_4
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, System, mislabelled
from exercises.model.parts import Convention, Known, Marks, Numeric, Slip, relative
from exercises.model.working import Step
from pitside.pumps import pump_output, triplex_displacement, triplex_output_field
from pitside.units import Q


def _speed(n: Known) -> pint.Quantity:
    return n.strokes / Q(1.0, "min")


def _a_stroke(n: Known) -> pint.Quantity:
    return triplex_displacement(n.liner, n.stroke) * n.efficiency


EXERCISE = Exercise(
    title="What the mud pump moves",
    level=1,
    version=3,
    outcome=Outcome.PUMP,
    numbers=(
        Number("liner", Grid(5.0, 7.0, 0.25, "in"), Grid(130, 180, 5, "mm")),
        Number("stroke", Grid(10, 12, 1, "in"), Grid(255, 305, 25, "mm")),
        Number("efficiency", Grid(94, 98, 1, "%")),
        Number("strokes", Grid(70, 120, 1)),  # in a minute
        Number("system_volume", Grid(700, 1300, 20, "bbl"), Grid(115, 205, 5, "m3")),
    ),
    valid=lambda n: 400 <= pump_output(_a_stroke(n), _speed(n)).m_as("gal/min") <= 900,
    envelope=(
        Within("flow", lambda n: n.b, PUMP_RATE),
        Within("active mud", lambda n: n.system_volume, HERON_4.active),
    ),
    setting=(
        "Rig Heron 4 drills with one of its two triplex pumps. Three pistons work in liners of {liner}, "
        "with a stroke of {stroke}, and each pushes once in a turn. The crew counts a turn of the pump as one stroke. "
        "The volumetric efficiency is {efficiency}. The pump makes {strokes} strokes a minute."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By(
                "How many gallons does the pump move with each stroke? Give two decimals.",
                "How many litres does the pump move with each stroke? Give two decimals.",
            ),
            unit=By("gal", "L"),
            solve=_a_stroke,
            plausible=Range(3.3, 7.2, "gal"),
            conventions=(
                Convention("0.000243 as the constant", lambda n: triplex_output_field(n.liner, n.stroke, n.efficiency)),
            ),
            tolerance=relative(
                0.005, because="the rounded constant 0.000243 moves it by 0.06 %; two decimals by 0.3 %"
            ),
            marks=Marks(2),
            slips=(
                Slip(
                    "divided by the efficiency",
                    lambda n: triplex_displacement(n.liner, n.stroke) / n.efficiency,
                    "You divided by the efficiency. A pump moves less than its pistons sweep: multiply by it.",
                ),
                Slip(
                    "efficiency left out",
                    lambda n: triplex_displacement(n.liner, n.stroke),
                    "This is what the pistons sweep. The pump moves {efficiency} of that.",
                ),
                Slip(
                    "one piston",
                    lambda n: _a_stroke(n) / 3,
                    "This is one piston. A triplex has three, and all push once in a turn: multiply by three.",
                ),
                Slip(
                    "radius for diameter",
                    lambda n: _a_stroke(n) / 4,
                    "You squared half the liner and still divided by four. Square the whole diameter of the liner.",
                ),
                Slip(
                    "barrels called gallons",
                    lambda n: mislabelled(_a_stroke(n), "bbl", "gal"),
                    "This is the volume in barrels. There are 42 gal in a barrel: multiply by 42.",
                    only=System.FIELD,
                ),
            ),
            working=(
                Step(
                    By(
                        "Three pistons, in cubic inches; a gallon is 231 of them.",
                        "Three pistons, in cubic millimetres; a litre is a million of them.",
                    ),
                    By("3 * pi / 4 * {liner}**2 * {stroke} / 231", "3 * pi / 4 * {liner}**2 * {stroke} / 1000000"),
                    "swept",
                    digits=5,
                ),
                Step("What the pump moves of it:", "{swept} * {efficiency} / 100"),
            ),
        ),
        Numeric(
            key="b",
            ask=By("What is the flow in gal/min?", "What is the flow in L/min?"),
            unit=By("gal/min", "L/min"),
            uses=("a",),
            solve=lambda n: pump_output(n.a, _speed(n)),
            plausible=Range(400, 900, "gal/min"),
            tolerance=relative(0.006, because="a whole gallon a minute, and the second decimal of (a)"),
            marks=Marks(1),
            slips=(
                Slip(
                    "efficiency twice",
                    lambda n: pump_output(n.a, _speed(n), n.efficiency),
                    "You took the efficiency off again. It is in your answer to (a) already.",
                ),
                Slip(
                    "multiplied by 60",
                    lambda n: pump_output(n.a, _speed(n) * 60),
                    "This is the flow in an hour, or with {strokes} strokes taken for a second. The strokes are "
                    "counted in a minute already.",
                ),
                Slip(
                    "divided by 60",
                    lambda n: pump_output(n.a, _speed(n) / 60),
                    "This is the flow in a second. The question asks for a minute.",
                ),
                Slip(
                    "three times",
                    lambda n: pump_output(n.a, _speed(n) * 3),
                    "You took the three pistons again. They are in your answer to (a) already.",
                ),
            ),
            working=(Step("Volume of a stroke, times the strokes of a minute:", "{a} * {strokes}"),),
        ),
        Numeric(
            key="c",
            ask=(
                "Hole, string and active pits together hold {system_volume} of mud. After how many "
                "minutes has the pump moved that volume once?"
            ),
            unit="min",
            uses=("b",),
            solve=lambda n: n.system_volume / n.b,
            plausible=Range(30, 140, "min"),
            tolerance=relative(0.012, because="a whole minute is up to 1 % of the time"),
            marks=Marks(2),
            slips=(
                Slip(
                    "42 left out",
                    lambda n: mislabelled(n.system_volume, "bbl", "gal") / n.b,
                    "You divided barrels by gallons a minute. Turn the barrels into gallons first: multiply by 42.",
                    only=System.FIELD,
                ),
                Slip(
                    "1000 left out",
                    lambda n: mislabelled(n.system_volume, "m3", "L") / n.b,
                    "You divided cubic metres by litres a minute. Turn the cubic metres into litres first: multiply by "
                    "1000.",
                    only=System.METRIC,
                ),
                Slip(
                    "strokes called minutes",
                    lambda n: mislabelled(n.system_volume / n.b * _speed(n), "", "min"),
                    "This is the number of strokes. Divide it by the strokes of a minute, or divide the volume by the "
                    "flow.",
                ),
                Slip(
                    "hours called minutes",
                    lambda n: mislabelled(n.system_volume / n.b, "h", "min"),
                    "This is the time in hours. Multiply by 60, or give the unit as h.",
                ),
            ),
            working=(
                Step(
                    By("In gallons, over the flow:", "In litres, over the flow:"),
                    By("{system_volume} * 42 / {b}", "{system_volume} * 1000 / {b}"),
                ),
            ),
        ),
    ),
)
