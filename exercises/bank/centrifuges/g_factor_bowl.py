"""What a bowl makes of gravity."""

from __future__ import annotations

import pint

from exercises.bank.centrifuges import FASTEST_RIM, G_FACTOR, Outcome
from exercises.fleet.envelope import BOWL_G
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Convention, Known, Marks, Numeric, Slip
from exercises.model.usual_slips import turned_round, units_of_g
from exercises.model.working import Step
from pitside.centrifuges import g_force, g_force_field, speed_for_g


def _at(n: Known, speed: pint.Quantity) -> pint.Quantity:
    """The answer to (a), taken to another speed."""
    return n.a * (speed / n.speed) ** 2


def _speeds_differ(n: Known) -> bool:
    """A real change of speed, and a target between the two speeds that is not the g of either."""
    g, other = (g_force(n.diameter, speed).m_as("") for speed in (n.speed, n.other_speed))
    target = n.target.m_as("")
    if n.diameter * max(n.speed, n.other_speed, n.speed * (target / g) ** 0.5) > FASTEST_RIM:
        return False
    return bool(
        abs(n.other_speed / n.speed - 1) >= 0.12
        and min(g, other) >= 400
        and max(g, other) <= 2200
        and abs(target / g - 1) >= 0.15
        and 0.3 <= target / max(g, other) <= 0.9
        and abs(target / other - 1) >= 0.1
    )


EXERCISE = Exercise(
    title="The g of a bowl",
    level=1,
    version=4,
    outcome=Outcome.G_FORCE,
    tolerance=G_FACTOR,
    numbers=(
        Number("diameter", Grid(14, 24, 0.5, "in"), Grid(350, 600, 10, "mm")),
        Number("speed", Grid(1500, 3300, 50, "rpm")),
        Number("other_speed", Grid(1500, 3300, 50, "rpm")),
        Number("target", Grid(500, 2200, 50)),
    ),
    valid=_speeds_differ,
    envelope=(
        Within("g of the bowl", lambda n: n.a, BOWL_G),
        Within("g at the other speed", lambda n: n.b, BOWL_G),
        Within("g that is wanted", lambda n: n.target, BOWL_G),
    ),
    setting=(
        "One of the centrifuges that Larkwater Energy hires has a bowl with an inside diameter of {diameter}. It runs "
        "at {speed}. Its maker allows every speed up to the fastest that is named here. Give g as a multiple of "
        "gravity. Never run a bowl faster than its maker allows for the mud that you have in it."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the g at the wall of the bowl at {speed}, as a multiple of gravity?",
            unit="fraction",
            solve=lambda n: g_force(n.diameter, n.speed),
            plausible=Range(400, 2200),
            conventions=(Convention("0.0000142 for in and rpm", lambda n: g_force_field(n.diameter, n.speed)),),
            marks=Marks(2),
            slips=(
                Slip(
                    "radius for diameter",
                    lambda n: g_force(n.diameter / 2, n.speed),
                    "This is half of it: the rule of thumb takes the diameter, not the radius.",
                ),
                Slip(
                    "diameter for radius",
                    lambda n: g_force(n.diameter * 2, n.speed),
                    "This is twice as much. The wall turns on the radius of the bowl, half the diameter.",
                ),
                Slip(
                    "not divided by gravity",
                    lambda n: g_force(n.diameter, n.speed) * 9.80665,
                    "This is the acceleration in m/s². Divide it by 9.81 for the multiple of gravity.",
                ),
                *units_of_g(lambda n: g_force(n.diameter, n.speed)),
            ),
            working=(
                Step(
                    By(
                        "The rule: 0.0000142 times the diameter in inches, times the speed squared.",
                        "Speed in radians a second, squared, times the radius in metres, over gravity.",
                    ),
                    By("0.0000142 * {diameter} * {speed}**2", "({speed} * 2 * pi / 60)**2 * {diameter} / 2000 / 9.807"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="The bowl is set to {other_speed}. What is the g at its wall then?",
            unit="fraction",
            uses=("a",),
            solve=lambda n: _at(n, n.other_speed),
            plausible=Range(400, 2200),
            marks=Marks(1),
            slips=(
                Slip(
                    "in proportion",
                    lambda n: n.a * (n.other_speed / n.speed),
                    "You took g in proportion to the speed. It goes with the square of it.",
                ),
                Slip(
                    "upside down",
                    lambda n: n.a * (n.speed / n.other_speed) ** 2,
                    "You turned the ratio of speeds round. A faster bowl has more g: put the new speed on top.",
                ),
            ),
            working=(Step("It goes with the square of the speed.", "{a} * ({other_speed} / {speed})**2"),),
        ),
        Numeric(
            key="c",
            ask="Which speed, in rpm, would give {target} times gravity?",
            unit="rpm",
            uses=("a",),
            solve=lambda n: n.speed * (n.target / n.a) ** 0.5,
            plausible=Range(800, 4500, "rpm"),
            conventions=(Convention("from the diameter", lambda n: speed_for_g(n.diameter, n.target)),),
            marks=Marks(2),
            slips=(
                Slip(
                    "in proportion",
                    lambda n: n.speed * (n.target / n.a),
                    "You took the speed in proportion to g. It goes with the root of g.",
                ),
                turned_round(
                    lambda n: n.speed * (n.a / n.target) ** 0.5, "More g needs more speed: put the target on top."
                ),
            ),
            working=(Step("The speed goes with the root of g.", "{speed} * sqrt({target} / {a})"),),
        ),
    ),
)
