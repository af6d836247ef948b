"""The affinity laws of a centrifugal pump."""

from __future__ import annotations

import math

import pint

from exercises.bank.tanks_and_pumps import TO_ONE_PERCENT, Outcome
from exercises.fleet.envelope import FEED_PUMP_HEAD, HEAD_COEFFICIENT, PUMP_EFFICIENCY, PUMP_RATE
from exercises.fleet.machines import FEED_PUMP
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip
from exercises.model.usual_slips import ratio_upside_down
from exercises.model.working import Step
from pitside.pumps import at_impeller, at_speed, shaft_power
from pitside.units import GRAVITY, WATER_4C, Q


def _point(n: Known) -> tuple[pint.Quantity, pint.Quantity, pint.Quantity]:
    return n.flow, n.head, n.power


def _ratio(n: Known) -> float:
    return float((n.new_speed / n.speed).m_as(""))


def _head_coefficient(n: Known) -> pint.Quantity:
    """g H / u2^2 with the speed of the impeller's rim."""
    rim = math.pi * n.impeller * Q(n.speed.m_as("rpm") / 60, "1/s")
    return (GRAVITY * n.head / rim**2).to("")


def _valid(n: Known) -> bool:
    """A pump that can be, a clear change of speed, a trim for which the law holds, heads that cones are fed with.

    The motor is clearly large enough or clearly not.
    """
    ratio, trim = _ratio(n), float((n.new_impeller / n.impeller).m_as(""))
    if not ((0.8 <= ratio <= 0.94 or 1.06 <= ratio <= 1.25) and 0.86 <= trim <= 0.96):
        return False
    load = float((at_speed(*_point(n), ratio)[2] / n.motor).m_as(""))
    heads = (at_speed(*_point(n), ratio)[1], at_impeller(*_point(n), n.new_impeller / n.impeller)[1])
    return (
        HEAD_COEFFICIENT.holds(_head_coefficient(n))
        and all(FEED_PUMP_HEAD.holds(head) for head in heads)
        and 0.7 <= load <= 1.4
        and abs(load - 1) >= 0.06
    )


EXERCISE = Exercise(
    title="A pump at another speed",
    level=1,
    version=2,
    outcome=Outcome.AFFINITY,
    tolerance=TO_ONE_PERCENT,
    numbers=(
        FEED_PUMP.speed.number("speed", (10, "rpm")),
        Number("new_speed", Grid(1000, 1900, 10, "rpm")),
        Number("flow", Grid(400, 1200, 20, "gal/min"), Grid(90, 270, 5, "m3/h")),
        FEED_PUMP.head.number("head", (1, "ft"), (0.5, "m")),
        Number("mud_weight", Grid(9.5, 15.0, 0.1, "lb/gal"), Grid(1140, 1800, 10, "kg/m3")),
        FEED_PUMP.efficiency.number("efficiency", (1, "%")),
        Derived("power", lambda n: shaft_power(n.flow, n.head, n.mud_weight, n.efficiency), By("hp", "kW"), By(1, 1)),
        Number("motor", Grid(15, 80, 5, "hp"), Grid(11, 60, 1, "kW")),
        FEED_PUMP.impeller.number("impeller", (0.5, "in"), (10, "mm")),
        Number("new_impeller", Grid(9.0, 12.5, 0.25, "in"), Grid(230, 315, 5, "mm")),
    ),
    envelope=(
        Within("head", lambda n: n.head, FEED_PUMP_HEAD),
        Within("head at the new speed", lambda n: n.b, FEED_PUMP_HEAD),
        Within("head of the trimmed impeller", lambda n: n.e, FEED_PUMP_HEAD),
        Within("head coefficient at the rim", lambda n: _head_coefficient(n), HEAD_COEFFICIENT),
        Within("efficiency", lambda n: n.efficiency, PUMP_EFFICIENCY),
        Within("flow", lambda n: n.flow, PUMP_RATE),
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
            plausible=Range(310, 1510, "gal/min"),
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
            plausible=Range(69, 112, "ft"),
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
            plausible=Range(9, 112, "hp"),
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
            ask="For the new speed another motor is offered, rated at {motor} at its shaft. What do you say to it?",
            options=(
                Option(
                    "within",
                    "The motor is large enough for this point; check the current when it runs.",
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
                    never_right=True,
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
                "{new_impeller}. What head do the same laws give? (In the end the maker's curve for the trimmed "
                "impeller decides.)"
            ),
            unit=By("ft", "m"),
            solve=lambda n: at_impeller(*_point(n), n.new_impeller / n.impeller)[1],
            plausible=Range(69, 112, "ft"),
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
