"""The affinity laws of a centrifugal pump."""

from __future__ import annotations

import pint

from exercises.bank.tanks_and_pumps import TO_ONE_PERCENT, Outcome
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip
from exercises.model.usual_slips import ratio_upside_down
from exercises.model.working import Step
from pitside.pumps import at_impeller, at_speed, shaft_power
from pitside.units import WATER_4C, Q


def _point(n: Known) -> tuple[pint.Quantity, pint.Quantity, pint.Quantity]:
    return n.flow, n.head, n.power


def _ratio(n: Known) -> float:
    return float((n.new_speed / n.speed).m_as(""))


def _valid(n: Known) -> bool:
    """A clear change of speed, a trim that the law bears, and a motor that is clearly large enough or clearly not."""
    ratio, trim = _ratio(n), float((n.new_impeller / n.impeller).m_as(""))
    load = float((at_speed(*_point(n), ratio)[2] / n.motor).m_as(""))
    return (
        (0.75 <= ratio <= 0.93 or 1.07 <= ratio <= 1.3)
        and 0.82 <= trim <= 0.95
        and 0.6 <= load <= 1.5
        and (abs(load - 1) >= 0.06)
    )


EXERCISE = Exercise(
    title="A pump at another speed",
    level=1,
    version=1,
    outcome=Outcome.AFFINITY,
    tolerance=TO_ONE_PERCENT,
    numbers=(
        Number("speed", Grid(1150, 1780, 10, "rpm")),
        Number("new_speed", Grid(950, 2000, 10, "rpm")),
        Number("flow", Grid(400, 1200, 20, "gal/min"), Grid(90, 270, 5, "m3/h")),
        Number("head", Grid(60, 110, 1, "ft"), Grid(18.0, 33.0, 0.5, "m")),
        Number("mud_weight", Grid(9.5, 15.0, 0.1, "lb/gal"), Grid(1140, 1800, 10, "kg/m3")),
        Number("efficiency", Grid(60, 75, 1, "%")),
        Derived("power", lambda n: shaft_power(n.flow, n.head, n.mud_weight, n.efficiency), By("hp", "kW"), By(1, 1)),
        Number("motor", Grid(15, 80, 5, "hp"), Grid(11, 60, 1, "kW")),
        Number("impeller", Grid(10.0, 14.0, 0.5, "in"), Grid(250, 350, 10, "mm")),
        Number("new_impeller", Grid(8.5, 13.0, 0.25, "in"), Grid(210, 330, 5, "mm")),
    ),
    valid=_valid,
    setting=(
        "A centrifugal pump on rig Heron 4 turns at {speed} with an impeller of {impeller}. It moves {flow} of mud of "
        "{mud_weight} at a head of {head}, and its shaft takes {power}. The speed is to be {new_speed}. The mud stays "
        "the same. Work with the affinity laws, for the point of the new curve that corresponds to this one."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the flow at the new speed?",
            unit=By("gal/min", "m3/h"),
            solve=lambda n: at_speed(*_point(n), _ratio(n))[0],
            plausible=Range(250, 1700, "gal/min"),
            marks=Marks(1),
            slips=(
                Slip(
                    "speeds squared",
                    lambda n: n.flow * _ratio(n) ** 2,
                    "You squared the ratio of the speeds. That is the law of the head: the flow goes with the speed "
                    "itself.",
                ),
                ratio_upside_down(
                    lambda n: n.flow / _ratio(n), "Put the new speed above the line and the old one below it."
                ),
            ),
            working=(Step("The flow goes with the speed.", "{flow} * {new_speed} / {speed}"),),
        ),
        Numeric(
            key="b",
            ask="What is the head at the new speed?",
            unit=By("ft", "m"),
            solve=lambda n: at_speed(*_point(n), _ratio(n))[1],
            plausible=Range(30, 200, "ft"),
            marks=Marks(2),
            slips=(
                Slip(
                    "linear",
                    lambda n: n.head * _ratio(n),
                    "You took the head in line with the speed. It goes with the square of the speed.",
                ),
                Slip(
                    "cubed",
                    lambda n: n.head * _ratio(n) ** 3,
                    "You cubed the ratio of the speeds. That is the law of the power: the head goes with the square.",
                ),
                ratio_upside_down(lambda n: n.head / _ratio(n) ** 2, "Put the new speed above the line, then square."),
            ),
            working=(Step("The head goes with the square of the speed.", "{head} * ({new_speed} / {speed})**2"),),
        ),
        Numeric(
            key="c",
            ask="What power does the shaft take at the new speed?",
            unit=By("hp", "kW"),
            solve=lambda n: at_speed(*_point(n), _ratio(n))[2],
            plausible=Range(8, 130, "hp"),
            marks=Marks(2),
            slips=(
                Slip(
                    "linear",
                    lambda n: n.power * _ratio(n),
                    "You took the power in line with the speed. Flow and head both change: it goes with the cube.",
                ),
                Slip(
                    "squared",
                    lambda n: n.power * _ratio(n) ** 2,
                    "You squared the ratio, as for the head. The power is flow times head: it goes with the cube.",
                ),
                Slip(
                    "specific gravity twice",
                    lambda n: n.power * _ratio(n) ** 3 * (n.mud_weight / WATER_4C),
                    "You multiplied by the specific gravity of the mud as well. The power given is for this mud "
                    "already: leave it out.",
                ),
                ratio_upside_down(
                    lambda n: n.power / _ratio(n) ** 3, "Put the new speed above the line, then take the cube."
                ),
            ),
            working=(
                Step(
                    "The power goes with the cube of the speed. It was taken with this mud, so the density stays out.",
                    "{power} * ({new_speed} / {speed})**3",
                ),
            ),
        ),
        Choice(
            key="d",
            ask="The motor is rated at {motor} at its shaft. What do you say to the new speed?",
            options=(
                Option(
                    "within",
                    "The motor bears it at this point; check the current when it runs.",
                    "Compare your answer to (c) with the rating: the shaft asks for more than the motor may give.",
                ),
                Option(
                    "overloaded",
                    "The motor would be overloaded; do not run this point with it.",
                    "Compare your answer to (c) with the rating: the shaft asks for less than the motor may give.",
                ),
                Option(
                    "whatever",
                    "The motor does not matter: only the head changes with the speed.",
                    "The power changes most of all: with the cube of the speed.",
                ),
            ),
            uses=("c",),
            right=lambda n: "within" if n.c <= n.motor else "overloaded",
            marks=Marks(1),
            reason=(
                "The shaft takes {c}, and the motor is rated at {motor}. Before anyone opens a guard or a terminal box "
                "the drive is isolated, locked and tagged, and tried, by the rules of the rig; electrical work is for "
                "electricians."
            ),
        ),
        Numeric(
            key="e",
            ask=(
                "Another way: the speed stays at {speed}, and the impeller of {impeller} is trimmed to "
                "{new_impeller}. What head do the same laws give?"
            ),
            unit=By("ft", "m"),
            solve=lambda n: at_impeller(*_point(n), n.new_impeller / n.impeller)[1],
            plausible=Range(35, 110, "ft"),
            marks=Marks(2),
            slips=(
                Slip(
                    "linear",
                    lambda n: n.head * (n.new_impeller / n.impeller),
                    "You took the head in line with the diameter. It goes with the square of the diameter.",
                ),
                Slip(
                    "speed changed too",
                    lambda n: n.head * (n.new_impeller / n.impeller) ** 2 * Q(_ratio(n)) ** 2,
                    "You changed the speed as well. Here the speed stays: only the diameter counts.",
                ),
                Slip(
                    "cubed",
                    lambda n: n.head * (n.new_impeller / n.impeller) ** 3,
                    "You took the cube, which is the law of the power. The head goes with the square of the diameter.",
                ),
            ),
            working=(
                Step(
                    "The head goes with the square of the diameter. A trimmed pump falls a little short of it, so the "
                    "maker's curve decides.",
                    "{head} * ({new_impeller} / {impeller})**2",
                ),
            ),
        ),
    ),
)
