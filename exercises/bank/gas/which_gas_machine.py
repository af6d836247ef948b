"""Separator or degasser: the seal of the one, the place of the other, and what a moment asks for."""

from __future__ import annotations

import pint

from exercises.bank.gas import Outcome
from exercises.fleet.envelope import UNWEIGHTED_MUD, WEIGHTED_MUD
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, System
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip, relative
from exercises.model.working import Step
from pitside.hydrostatics import column_pressure, column_pressure_field
from pitside.units import Q

#: The pressure that the gas makes in the separator, as a share of what the seal holds.
LOADS = {"holds": (0.25, 0.6), "close": (0.78, 0.95), "blows": (1.1, 1.5)}
#: Above this share the exercise calls the seal too close to its limit.
CLOSE = 0.7

#: Moments at the tanks, and the machine or the act that each asks for. Common practice, no source.
MOMENTS = {
    "The well is shut in, and the driller will pump the gas out over the choke.": "separator",
    "The pit level does not change. Fine bubbles stay in the mud, and the open cup shows too little weight at the flow "
    "line and in each tank.": "degasser",
    "The mud foams at the hopper alone, the gas meter shows nothing, and the pressurised balance shows the full "
    "weight.": "air",
    "The pit level does not change. The open cup shows too little weight at the flow line, and the full weight behind "
    "the sand trap.": "watch",
}
OTHER_MOMENT = "Ask: does gas come in slugs or in fine bubbles, is it gas or air, and does it stay in the mud?"
#: Lines of the two machines, and where each belongs. Common practice, no source.
LINES = {
    "the end of the suction line of the degasser": "first",
    "the end of the line in which mud leaves the degasser": "next",
    "the end of the gas line of the separator": "vent",
    "the end of the mud line of the separator, whose mud still carries rock,": "shakers",
}
OTHER_PLACE = "Follow the stream that leaves: is it gas or mud, has it been cleaned, and who takes it next?"


def _seal(n: Known) -> pint.Quantity:
    return column_pressure(n.mud_weight, n.height)


def _back(n: Numbers) -> pint.Quantity:
    low, high = LOADS[n.load]
    return column_pressure(n.mud_weight, n.height) * (low + (high - low) * float(n.share.m_as("")))


def _verdict(n: Known) -> str:
    share = float((n.back / n.a).m_as(""))
    return "blows" if share >= 1 else "close" if share > CLOSE else "holds"


EXERCISE = Exercise(
    title="Which gas machine?",
    level=2,
    version=2,
    outcome=Outcome.MACHINES,
    numbers=(
        Pick("load", tuple(LOADS)),
        Pick("moment", tuple(MOMENTS)),
        Pick("line", tuple(LINES)),
        Number("share", Grid(0, 1, 0.05)),
        Number("height", Grid(6, 12, 0.5, "ft"), Grid(1.9, 3.6, 0.1, "m")),
        Number("mud_weight", Grid(9.0, 14.0, 0.1, "lb/gal"), Grid(1080, 1680, 10, "kg/m3")),
        Derived("back", _back, By("psi", "kPa"), By(1, 1)),
    ),
    envelope=(
        Within("mud weight", lambda n: n.mud_weight, Usual(UNWEIGHTED_MUD.low, WEIGHTED_MUD.high, "lb/gal")),
        Within("height of the seal", lambda n: n.height, Usual(6, 12, "ft")),
        Within("pressure in the separator", lambda n: n.back, Usual(0.5, 14, "psi")),
    ),
    setting=(
        "The mud of rig Heron 4 weighs {mud_weight}. Behind the choke stands a separator. A bend in its mud line keeps "
        "{height} of mud as a seal: while the seal holds, gas leaves by the vent line and mud by the bend. Take the "
        "mud in the bend as free of gas. At the planned flow the vent line makes a pressure of {back} in the "
        "separator. Only the driller and the people who are certified for well control decide about the well; the hand "
        "at the tanks tells them what he sees."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What pressure does the seal hold? Give the unit too.",
            unit=By("psi", "kPa"),
            solve=_seal,
            plausible=Range(2.7, 9, "psi"),
            tolerance=relative(0.01, because="three figures; 0.052 for 0.05195 takes 0.1 % of it"),
            digits=3,
            conventions=(Convention("0.052", lambda n: column_pressure_field(n.mud_weight, n.height)),),
            marks=Marks(1, unit=1),
            slips=(
                Slip(
                    "seal of water",
                    lambda n: column_pressure(Q(1000, "kg/m**3"), n.height),
                    "This is the pressure of so much water. The seal is mud: take its weight.",
                ),
                Slip(
                    "12 in a foot",
                    lambda n: _seal(n) * 12,
                    "Your answer is 12 times too large: the factor 0.052 is for feet.",
                    only=System.FIELD,
                ),
                Slip(
                    "gravity left out",
                    lambda n: _seal(n) / 9.80665,
                    "You left gravity out: multiply by 9.81 m/s² too.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    "Mud weight times height:",
                    By("0.05195 * {mud_weight} * {height}", "0.009807 * {mud_weight} * {height}"),
                ),
            ),
        ),
        Choice(
            key="b",
            ask=(
                "What do you say of the seal at the planned flow? Seven tenths of what it holds is the most that the "
                "plan allows."
            ),
            uses=("a",),
            options=(
                Option(
                    "holds",
                    "It holds, with room to spare.",
                    "Compare the pressure in the separator with seven tenths of (a).",
                ),
                Option(
                    "close",
                    "It holds, but beyond the plan: tell the driller, and ask for a lower flow.",
                    "Compare the pressure in the separator with (a), and with seven tenths of it.",
                ),
                Option(
                    "blows",
                    "It does not hold: gas would blow through to the tanks. Tell the driller before the flow is "
                    "started.",
                    "Gas blows through only where its pressure is above that of (a).",
                ),
            ),
            right=_verdict,
            marks=Marks(2),
            reason=(
                "The seal holds {a}. The plan allows 0.7 × {a}, and the gas presses with {back}: hold it against both. "
                "Gas that blows through fills the shaker house."
            ),
        ),
        Choice(
            key="c",
            ask=(
                "Another day: {moment} By the plan of this rig the degasser runs when gas stays in the mud behind the "
                "sand trap. What is right?"
            ),
            options=(
                Option(
                    "separator",
                    "The stream goes through the separator, by the driller's line-up and at his word.",
                    OTHER_MOMENT,
                ),
                Option(
                    "degasser",
                    "Tell the driller, run the degasser, and see that its flow is more than the flow from the well.",
                    OTHER_MOMENT,
                ),
                Option(
                    "air",
                    "Tell the driller, and look for the place where a pump or the hopper draws air.",
                    OTHER_MOMENT,
                ),
                Option("watch", "Tell the driller, go on weighing, and start no machine for it.", OTHER_MOMENT),
            ),
            right=lambda n: MOMENTS[n.moment],
            marks=Marks(2),
            reason=(
                "A separator takes slugs of gas that come up under pressure; a degasser takes the fine bubbles that "
                "stay. Air is no gas of the well, and gas that leaves by itself needs no machine, but the driller is "
                "told of it."
            ),
        ),
        Choice(
            key="d",
            ask="Where does {line} belong?",
            options=(
                Option("first", "In the tank behind the sand trap, before any centrifugal pump.", OTHER_PLACE),
                Option("next", "In the next tank downstream, below the surface of the mud.", OTHER_PLACE),
                Option(
                    "vent", "Up and far away, to the side that the wind keeps clear, without a dip in it.", OTHER_PLACE
                ),
                Option(
                    "shakers", "To the header box of the shakers, behind the bend that keeps the seal.", OTHER_PLACE
                ),
            ),
            right=lambda n: LINES[n.line],
            marks=Marks(1),
            reason=(
                "Gas goes up and away; a dip fills with mud and shuts the vent. Mud from the separator still carries "
                "rock: it goes to the shakers. The degasser stands before the pumps that gas would disturb."
            ),
        ),
    ),
)
