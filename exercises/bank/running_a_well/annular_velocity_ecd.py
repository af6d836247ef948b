"""Annular velocity, pressure loss and equivalent circulating density."""

from __future__ import annotations

import math

import pint

from exercises.bank.mud_weight import ANY_MUD
from exercises.bank.running_a_well import Outcome
from exercises.bank.tanks_and_pumps import TO_ONE_PERCENT
from exercises.fleet.envelope import ANNULAR_VELOCITY, PUMP_RATE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Range, System, mislabelled
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip, absolute, relative
from exercises.model.working import Step
from pitside.hydraulics import (
    NO_YIELD,
    annular_reynolds_number,
    annular_velocity,
    annular_velocity_field,
    bingham_loss_field,
    equivalent_circulating_density,
    equivalent_circulating_density_field,
)
from pitside.hydrostatics import FACTOR_SG, equivalent_mud_weight
from pitside.materials import LOW_GRAVITY
from pitside.units import Q

#: What the school asks for in a deviated hole: common practice, no source.
LEAST_VELOCITY = Q(120, "ft/min")
COMPARE_WITH_THE_LEAST = "Compare your answer to (a) with what the school asks for."


def _velocity(n: Known) -> pint.Quantity:
    return annular_velocity(n.flow, n.hole, n.pipe)


def _loss(n: Known, velocity: pint.Quantity, length: pint.Quantity) -> pint.Quantity:
    return bingham_loss_field(velocity, length, n.hole, n.pipe, n.plastic_viscosity, n.yield_point)


def _valid(n: Known) -> bool:
    """A deviated well; a velocity clear of the least; laminar flow; and an ECD clear of the strength of the rock."""
    if not 1.12 <= n.measured_depth / n.vertical_depth <= 1.4:
        return False
    velocity = _velocity(n)
    if not (75 <= velocity.m_as("ft/min") <= 108 or 130 <= velocity.m_as("ft/min") <= 250):
        return False
    annulus = (velocity, n.hole, n.pipe, n.mud_weight, n.plastic_viscosity)
    if annular_reynolds_number(*annulus, yield_stress=n.yield_point) > 1900:
        return False
    circulating = equivalent_circulating_density(n.mud_weight, _loss(n, velocity, n.measured_depth), n.vertical_depth)
    margin = (n.fracture - circulating).m_as("lb/gal")
    if circulating < Q(10, "lb/gal"):  # two decimals are four digits from here on
        return False
    at_rest = (n.fracture - n.mud_weight).m_as("lb/gal")  # more than a mud balance can be out
    return at_rest > 0.14 and (-0.35 <= margin <= -0.08 or 0.08 <= margin <= 0.24)


EXERCISE = Exercise(
    title="Up the annulus",
    level=2,
    version=5,
    outcome=Outcome.ANNULUS,
    numbers=(
        Number("flow", Grid(400, 800, 10, "gal/min"), Grid(1500, 3000, 50, "L/min")),
        Number("hole", Grid(12.25, 12.25, 0.25, "in"), Grid(311, 311, 1, "mm")),
        Number("pipe", Grid(5.0, 5.5, 0.5, "in"), Grid(127, 140, 13, "mm")),
        Number("measured_depth", Grid(8000, 16_000, 100, "ft"), Grid(2400, 4900, 20, "m")),
        Number("vertical_depth", Grid(7000, 13_000, 100, "ft"), Grid(2100, 4000, 20, "m")),
        Number("mud_weight", Grid(9.6, 14.0, 0.1, "lb/gal"), Grid(1150, 1680, 10, "kg/m3")),
        Number("plastic_viscosity", Grid(18, 40, 1, "cP"), Grid(18, 40, 1, "mPa.s")),
        Number("yield_point", Grid(10, 28, 1, "lbf/100ft2"), Grid(5.0, 14.0, 0.5, "Pa")),
        Number("fracture", Grid(10.0, 15.0, 0.05, "lb/gal"), Grid(1200, 1800, 5, "kg/m3")),
        Derived("rock_adds", lambda n: 0.01 * (LOW_GRAVITY - n.mud_weight), By("lb/gal", "kg/m3"), By(2, 0)),
    ),
    valid=_valid,
    envelope=(
        Within(
            "annular velocity",
            lambda n: n.a,
            ANNULAR_VELOCITY,
            outside="part (d) asks whether a slow annulus is cleaned",
        ),
        Within("flow", lambda n: n.flow, PUMP_RATE),
        Within("mud weight", lambda n: n.mud_weight, ANY_MUD),
    ),
    setting=(
        "On another well rig Heron 4 circulates {flow} in a deviated hole. The hole has a diameter of "
        "{hole}, the pipe one of {pipe}. The measured depth is {measured_depth}, the true vertical depth "
        "{vertical_depth}. "
        "The mud weighs {mud_weight}; its plastic viscosity is {plastic_viscosity}, its yield point {yield_point}. "
        "The flow in the annulus is laminar."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By("What is the annular velocity, in ft/min?", "What is the annular velocity, in m/min?"),
            unit=By("ft/min", "m/min"),
            solve=_velocity,
            plausible=Range(70, 260, "ft/min"),
            conventions=(Convention("24.5", lambda n: annular_velocity_field(n.flow, n.hole, n.pipe)),),
            tolerance=TO_ONE_PERCENT,
            marks=Marks(2),
            slips=(
                Slip(
                    "pipe left out",
                    lambda n: n.flow / (math.pi / 4 * n.hole**2),
                    "You used the whole area of the hole. The mud rises beside the pipe: take the square of the pipe "
                    "off the square of the hole.",
                ),
                Slip(
                    "difference squared",
                    lambda n: n.flow / (math.pi / 4 * (n.hole - n.pipe) ** 2),
                    "You squared the difference of the diameters. Square each one first, then take the difference.",
                ),
                Slip(
                    "24.5 left out",
                    lambda n: Q((n.flow / (n.hole**2 - n.pipe**2)).m_as("gal/min/in**2"), "ft/min"),
                    "You left the 24.5 out. It turns gallons a minute over square inches into feet a minute.",
                    only=System.FIELD,
                ),
                Slip(
                    "42 left out",
                    lambda n: 42 * _velocity(n),
                    "Your answer is 42 times too large: you divided gallons a minute by barrels a foot. There are 42 "
                    "gal in a barrel.",
                    only=System.FIELD,
                ),
                Slip(
                    "litres for cubic metres",
                    lambda n: annular_velocity(mislabelled(n.flow, "L/min", "m3/min"), n.hole, n.pipe),
                    "You used litres as if they were cubic metres. A cubic metre is 1000 L: divide the flow by 1000.",
                    only=System.METRIC,
                ),
                Slip(
                    "by the second",
                    lambda n: mislabelled(_velocity(n), "ft/s", "ft/min"),
                    "This is the velocity in ft/s. Multiply by 60, or give the unit as ft/s.",
                    only=System.FIELD,
                ),
                Slip(
                    "by the second, metric",
                    lambda n: mislabelled(_velocity(n), "m/s", "m/min"),
                    "This is the velocity in m/s. Multiply by 60, or give the unit as m/s.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    By(
                        "24.51 turns gal/min over square inches into ft/min.",
                        "Flow over area, with litres as m³ and millimetres as metres.",
                    ),
                    By(
                        "24.51 * {flow} / ({hole}**2 - {pipe}**2)",
                        "{flow} / 1000 / (pi / 4 * (({hole} / 1000)**2 - ({pipe} / 1000)**2))",
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=By(
                "What pressure is lost along the annulus, in psi? Use the handbook form for laminar flow of a Bingham "
                "mud: L × (PV × v / (1000 × gap²) + YP / (200 × gap)), with L in ft, PV in cP, v in ft/s, gap = hole "
                "minus pipe in inches, and YP in lbf/100 ft².",
                "What pressure is lost along the annulus, in kPa? Use the handbook form for laminar flow of a Bingham "
                "mud: L × (48 × PV × v / gap² + 6 × YP / gap), with L in m, PV in mPa.s, v in m/s, gap = hole minus "
                "pipe in mm, and YP in Pa.",
            ),
            unit=By("psi", "kPa"),
            uses=("a",),
            solve=lambda n: _loss(n, n.a, n.measured_depth),
            plausible=Range(60, 1000, "psi"),
            tolerance=relative(
                0.015, because="a velocity to three figures moves it by 0.5 %, rounded constants by 0.6 %"
            ),
            marks=Marks(3),
            slips=(
                Slip(
                    "velocity by the minute",
                    lambda n: _loss(n, 60 * n.a, n.measured_depth),
                    By(
                        "You put the velocity in as ft/min. The form takes ft/s: divide by 60 first.",
                        "You put the velocity in as m/min. The form takes m/s: divide by 60 first.",
                    ),
                ),
                Slip(
                    "yield point left out",
                    lambda n: bingham_loss_field(n.a, n.measured_depth, n.hole, n.pipe, n.plastic_viscosity, NO_YIELD),
                    "You left the term of the yield point out. In an annulus it is most of the loss.",
                ),
                Slip(
                    "vertical depth",
                    lambda n: _loss(n, n.a, n.vertical_depth),
                    "You used the true vertical depth. Friction acts along the whole way: use the measured depth.",
                ),
            ),
            working=(
                Step("The gap:", "{hole} - {pipe}", "gap", By("in", "mm")),
                Step("The velocity by the second:", "{a} / 60", "speed", By("ft/s", "m/s")),
                Step(
                    "Along the measured depth:",
                    By(
                        "{measured_depth} * ({plastic_viscosity} * {speed} / (1000 * {gap}**2) "
                        "+ {yield_point} / (200 * {gap}))",
                        "{measured_depth} * (48 * {plastic_viscosity} * {speed} / {gap}**2 "
                        "+ 6 * {yield_point} / {gap})",
                    ),
                ),
            ),
        ),
        Numeric(
            key="c",
            ask=By(
                "What is the equivalent circulating density at the bit, in lb/gal? Give two decimals.",
                "What is the equivalent circulating density at the bit, in kg/m³? Give a whole number.",
            ),
            unit=By("lb/gal", "kg/m3"),
            uses=("b",),
            solve=lambda n: equivalent_circulating_density(n.mud_weight, n.b, n.vertical_depth),
            plausible=Range(9.8, 15.6, "lb/gal"),
            conventions=(
                Convention(
                    "0.052 for lb/gal and ft",
                    lambda n: equivalent_circulating_density_field(n.mud_weight, n.b, n.vertical_depth),
                ),
                Convention(
                    "0.00981 for kg/m3 and m",
                    lambda n: equivalent_circulating_density_field(n.mud_weight, n.b, n.vertical_depth, FACTOR_SG),
                ),
            ),
            tolerance=absolute(
                0.012,
                "lb/gal",
                because="two decimals, or whole kg/m³, and a loss rounded to the unit: half of 0.01 each",
            ),
            marks=Marks(2),
            slips=(
                Slip(
                    "measured depth",
                    lambda n: equivalent_circulating_density(n.mud_weight, n.b, n.measured_depth),
                    "You divided by the measured depth. A density stands for a height: use the true vertical depth.",
                ),
                Slip(
                    "friction alone",
                    lambda n: equivalent_mud_weight(n.b, n.vertical_depth),
                    "This is only what the friction adds. The mud is there as well: add its weight.",
                ),
                Slip(
                    "friction taken off",
                    lambda n: n.mud_weight - equivalent_mud_weight(n.b, n.vertical_depth),
                    "You took the friction off. Mud that flows up the annulus presses harder on the hole: add it.",
                ),
            ),
            working=(
                Step(
                    "Turn the loss into a density over the true vertical depth, and add it to the mud weight.",
                    By(
                        "{mud_weight} + {b} / (0.05195 * {vertical_depth})",
                        "{mud_weight} + {b} / (0.009807 * {vertical_depth})",
                    ),
                ),
            ),
        ),
        Choice(
            key="d",
            ask=By(
                "Look at the cleaning of the hole alone. In a deviated hole the school asks for 120 ft/min or more in "
                "the annulus. What do you say of this rate?",
                "Look at the cleaning of the hole alone. In a deviated hole the school asks for 37 m/min or more in "
                "the annulus. What do you say of this rate?",
            ),
            options=(
                Option(
                    "cleans",
                    "It can clean the hole, with the pipe turning. Watch whether the cuttings come over the shakers.",
                    f"{COMPARE_WITH_THE_LEAST} The mud rises too slowly.",
                ),
                Option(
                    "slow",
                    "It is too slow: cuttings will lie on the low side of the hole. Tell the driller, who decides on "
                    "more rate, slower drilling or more turning of the pipe.",
                    f"{COMPARE_WITH_THE_LEAST} The mud rises faster than that.",
                ),
                Option(
                    "weight",
                    "It is too slow, but a heavier mud will lift the cuttings at this rate.",
                    f"{COMPARE_WITH_THE_LEAST} A heavier mud presses more on the rock and cleans little better.",
                    never_right=True,
                ),
            ),
            uses=("a",),
            right=lambda n: "cleans" if n.a >= LEAST_VELOCITY else "slow",
            marks=Marks(1),
            reason=(
                "The mud rises at {a}. What a hole needs also depends on its angle, on the mud and on how the pipe "
                "turns, so the cuttings that come back are watched as well."
            ),
        ),
        Choice(
            key="e",
            ask=(
                "Now look at the rock. The weakest in the open hole, near the bit, breaks at an equivalent of "
                "{fracture}. What do you tell the driller?"
            ),
            options=(
                Option(
                    "holds",
                    "By the sum, the rock holds the mud at rest and at this pump rate. But the sum is without rock in "
                    "the annulus, and rock there adds to it.",
                    "Compare your answer to (c) with the strength of the rock: while the pumps run it is exceeded.",
                ),
                Option(
                    "loses",
                    "The rock holds the mud at rest, but at this pump rate mud may be lost. You say so at once, before "
                    "anybody changes the rate or the mud.",
                    "Compare your answer to (c) with the strength of the rock: the circulating mud stays below it.",
                ),
                Option(
                    "never",
                    "The rock does not even hold the mud at rest.",
                    "At rest only the mud weight counts, and it is less than the strength of the rock.",
                    never_right=True,
                ),
            ),
            uses=("c",),
            right=lambda n: "holds" if n.c < n.fracture else "loses",
            marks=Marks(1),
            reason=(
                "By the sum the mud presses as {c} while the pumps run; the rock breaks at {fracture}. Each 1 % of "
                "rock in the annulus adds about {rock_adds}, so tell the driller both. What is done about it "
                "is decided by the people who are certified for well control, by the plan of the well."
            ),
        ),
    ),
)
