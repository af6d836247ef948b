"""Riser dilution: the light fluid, the return, and the modules that cut it back."""

from __future__ import annotations

import math

import pint

from exercises.bank.dual_gradient import FLOWS_ADDED, TO_ONE_PERCENT, Outcome
from exercises.fleet.envelope import FLOW_OF_MODULE, PUMP_RATE, WEIGHTED_MUD
from exercises.fleet.machines import CYCLONE_MODULE
from exercises.fleet.rigs import SMALL_HOLE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Pick, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip, absolute
from exercises.model.usual_slips import ratio_upside_down
from exercises.model.working import Step
from pitside.centrifuges import centrifuge_balance
from pitside.gradients import riser_dilution_rate
from pitside.units import Q

#: A change at steady mud weight, and what the pressure at the sea floor does.
CHANGES = {
    "The light fluid is pumped more slowly; the mud goes on as before.": "rises",
    "The light fluid comes heavier than planned.": "rises",
    "The mud is pumped more slowly; the light fluid goes on as before.": "falls",
    "The light fluid is pumped faster; the mud goes on as before.": "falls",
    "Mud and light fluid are both pumped a tenth more slowly.": "stays",
}
LIGHTER = "Think of the shares of mud and light fluid in the riser: which grows, and is it the heavy one?"

#: A moment at the plant, and the first safe action.
MOMENTS = {
    "The pump of the light fluid trips, and the mud pumps go on.": "heavy",
    "A hose of light fluid bursts on the deck beside the plant.": "hose",
    "All pumps are off, and the return still flows when by the plan of the well the drill pipe has drained.": (
        "flowing"
    ),
    "The bowl of one centrifuge begins to shake hard.": "bowl",
}
SAME_MOMENT = "That is the first action at another moment. Think of what can hurt someone, or the well, here."


def _dilution(n: Known) -> pint.Quantity:
    return riser_dilution_rate(n.mud_rate, n.mud_weight, n.riser, n.light)


def _modules(n: Known, flow: pint.Quantity) -> pint.Quantity:
    return Q(math.ceil(float((flow / n.module).m_as("")) - 1e-9))


def _heavy_rate(n: Known, rate: pint.Quantity) -> pint.Quantity:
    """The two streams that a plant makes of the return, no liquid added."""
    nothing = Q(0.0, "m**3/s")
    return centrifuge_balance(rate, n.riser, nothing, n.light, n.heavy, n.overflow).underflow_rate


def _valid(n: Known) -> bool:
    """A return that a deck can treat, and not so near a whole number of modules that rounding decides."""
    dilution = _dilution(n)
    needed = float(((n.mud_rate + dilution) / n.module).m_as(""))
    return (
        0.6 <= (dilution / n.mud_rate).m_as("") <= 1.3
        and 0.05 <= needed % 1 <= 0.95
        and needed <= 9
        and n.heavy > n.mud_weight
    )


EXERCISE = Exercise(
    title="A light fluid in the riser",
    level=2,
    version=3,
    outcome=Outcome.RISER,
    tolerance=TO_ONE_PERCENT,
    numbers=(
        SMALL_HOLE.flow.number("mud_rate", (10, "gal/min"), (50, "L/min")),
        Number("mud_weight", Grid(11.0, 14.0, 0.1, "lb/gal"), Grid(1320, 1680, 10, "kg/m3")),
        Number("riser", Grid(9.2, 11.0, 0.1, "lb/gal"), Grid(1100, 1320, 10, "kg/m3")),
        Number("light", Grid(6.6, 7.5, 0.1, "lb/gal"), Grid(790, 900, 10, "kg/m3")),
        CYCLONE_MODULE.flow.part(120, 250).number("module", (10, "gal/min"), (50, "L/min")),
        Number("extra", Grid(0.2, 0.6, 0.1, "lb/gal"), Grid(20, 70, 10, "kg/m3")),
        Derived("overflow", lambda n: n.light + n.extra, By("lb/gal", "kg/m3"), By(1, 0)),
        Number("heavy", Grid(15.0, 19.0, 0.1, "lb/gal"), Grid(1800, 2280, 10, "kg/m3")),
        Pick("change", tuple(CHANGES)),
        Pick("moment", tuple(MOMENTS)),
    ),
    valid=_valid,
    envelope=(
        Within("rate of the mud", lambda n: n.mud_rate, PUMP_RATE),
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("flow of a module", lambda n: n.module, FLOW_OF_MODULE),
    ),
    setting=(
        "Another well of rig Northern Gannet is planned with two gradients. Mud of {mud_weight} comes up the well at "
        "{mud_rate}. At the sea floor a light fluid of {light} is pumped into it, so that the riser holds {riser}. "
        "The return passes the shakers and is separated again on deck. This is arithmetic for learning: deepwater "
        "well control is for certified people."
    ),
    parts=(
        Numeric(
            key="a",
            ask="At what rate must the light fluid be pumped?",
            unit=By("gal/min", "L/min"),
            solve=_dilution,
            plausible=Range(200, 1550, "gal/min"),
            marks=Marks(3),
            slips=(
                ratio_upside_down(
                    lambda n: n.mud_rate * ((n.riser - n.light) / (n.mud_weight - n.riser)),
                    "Mud less riser goes above the line, riser less light fluid below it.",
                ),
                Slip(
                    "over mud less light fluid",
                    lambda n: n.mud_rate * ((n.mud_weight - n.riser) / (n.mud_weight - n.light)),
                    "You divided by mud less light fluid. That gives a share of the mixture: divide by riser less "
                    "light fluid.",
                ),
                Slip(
                    "weight of the light fluid left out",
                    lambda n: n.mud_rate * ((n.mud_weight - n.riser) / n.riser),
                    "You divided by the riser weight, as if the light fluid weighed nothing. Take its weight off below "
                    "the line.",
                ),
            ),
            working=(
                Step(
                    "Mud less riser, over riser less light fluid:",
                    "{mud_rate} * ({mud_weight} - {riser}) / ({riser} - {light})",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="At what rate does the return reach the deck?",
            unit=By("gal/min", "L/min"),
            uses=("a",),
            solve=lambda n: n.mud_rate + n.a,
            plausible=Range(550, 2300, "gal/min"),
            tolerance=FLOWS_ADDED,
            marks=Marks(1),
            slips=(
                Slip(
                    "light fluid alone",
                    lambda n: n.a,
                    "This is the light fluid alone. The mud comes back with it: add both.",
                ),
                Slip(
                    "difference",
                    lambda n: abs(n.a - n.mud_rate),
                    "You took one off the other. Both come up the riser: add them.",
                ),
            ),
            working=(Step("What goes in comes back:", "{mud_rate} + {a}"),),
        ),
        Numeric(
            key="c",
            ask="A module of the plant takes {module}. How many whole modules does the return need?",
            unit="fraction",
            whole=True,
            uses=("b",),
            solve=lambda n: _modules(n, n.b),
            plausible=Range(2, 9),
            tolerance=absolute(0.1, "fraction", because="modules come whole"),
            marks=Marks(2),
            outcome=Outcome.PLANT,
            slips=(
                Slip(
                    "rounded down",
                    lambda n: _modules(n, n.b) - 1,
                    "You rounded down. What the modules cannot take runs past them: round up.",
                ),
                Slip(
                    "not rounded",
                    lambda n: n.b / n.module,
                    "A part of a module cannot be hired: round up to a whole number.",
                ),
                Slip(
                    "mud alone",
                    lambda n: _modules(n, n.mud_rate),
                    "These modules take the mud alone. The light fluid comes back with it: divide the return.",
                ),
            ),
            working=(
                Step("The return over one module:", "{b} / {module}", "share", "fraction"),
                Step("Only whole modules can be had:", "ceil({share})"),
            ),
        ),
        Numeric(
            key="d",
            ask=(
                "The plant separates the return into an overflow of {overflow} and a heavy stream of {heavy}. At what "
                "rate does the heavy stream leave?"
            ),
            unit=By("gal/min", "L/min"),
            uses=("b",),
            solve=lambda n: _heavy_rate(n, n.b),
            plausible=Range(70, 700, "gal/min"),
            marks=Marks(3),
            outcome=Outcome.PLANT,
            slips=(
                Slip(
                    "overflow for the heavy stream",
                    lambda n: n.b - _heavy_rate(n, n.b),
                    "This is the rate of the overflow. Riser less overflow goes above the line for the heavy stream.",
                ),
                Slip(
                    "light fluid for the overflow",
                    lambda n: n.b * ((n.riser - n.light) / (n.heavy - n.light)),
                    "You counted the overflow as clean light fluid. It still carries fine solids: use its own weight.",
                ),
                Slip(
                    "over the heavy weight",
                    lambda n: n.b * ((n.riser - n.overflow) / n.heavy),
                    "You divided by the weight of the heavy stream. Take the overflow off below the line.",
                ),
            ),
            working=(
                Step(
                    "Riser less overflow, over heavy stream less overflow:",
                    "{b} * ({riser} - {overflow}) / ({heavy} - {overflow})",
                ),
            ),
        ),
        Choice(
            key="e",
            ask="{change} What does the pressure at the sea floor do, once the riser is full of the new mixture?",
            options=(
                Option("falls", "It falls: the riser gets lighter.", LIGHTER),
                Option("stays", "It stays: the mixture is the same.", LIGHTER),
                Option("rises", "It rises: the riser gets heavier.", LIGHTER),
            ),
            right=lambda n: CHANGES[n.change],
            marks=Marks(1),
            reason="{change} The shares of mud and light fluid make the riser weight; friction is left aside.",
        ),
        Choice(
            key="f",
            ask="{moment} What is your first safe action?",
            options=(
                Option(
                    "hose",
                    "Stop that pump from a safe place, keep everyone away from the spray and from sparks, and tell the "
                    "driller that no light fluid goes down.",
                    SAME_MOMENT,
                ),
                Option(
                    "flowing",
                    "Tell the driller at once that the well may be flowing, and keep your hands off: certified people "
                    "decide.",
                    SAME_MOMENT,
                ),
                Option(
                    "bowl",
                    "Stop its feed and then the machine from the panel, tell the driller, and stay clear until it "
                    "stands still and is locked.",
                    SAME_MOMENT,
                ),
                Option(
                    "heavy",
                    "Tell the driller at once that the riser is getting heavier, so that the plan for it is followed "
                    "by certified people.",
                    SAME_MOMENT,
                ),
            ),
            right=lambda n: MOMENTS[n.moment],
            marks=Marks(1),
            outcome=Outcome.WORKING_SAFELY,
            must_pass=True,
            reason=(
                "The plant is part of the well: what changes here changes the pressure below. The driller hears first, "
                "and the rules of the rig come before this exercise."
            ),
        ),
    ),
)
