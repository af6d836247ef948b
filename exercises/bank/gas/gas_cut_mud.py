"""The weight of a gas-cut mud, and what it says."""

from __future__ import annotations

import pint

from exercises.bank.gas import Outcome
from exercises.fleet.envelope import UNWEIGHTED_MUD, WEIGHTED_MUD
from exercises.model import Usual
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Numeric, Slip, absolute, relative
from exercises.model.working import Step
from pitside.gas import cut_column_loss, gas_share
from pitside.hydrostatics import column_pressure


def _share(n: Known) -> pint.Quantity:
    return gas_share(n.mud_weight, n.cut_weight)


def _loss(n: Known) -> pint.Quantity:
    return cut_column_loss(n.mud_weight, n.a, n.depth)


#: Pressure of the air, as the paper prints it.
AIR = By("14.7 psi", "101.3 kPa")

EXERCISE = Exercise(
    title="Gas-cut mud",
    level=1,
    version=1,
    outcome=Outcome.GAS_CUT,
    numbers=(
        Number("mud_weight", Grid(10.0, 15.0, 0.1, "lb/gal"), Grid(1200, 1800, 10, "kg/m3")),
        Number("cut_weight", Grid(7.0, 14.4, 0.1, "lb/gal"), Grid(840, 1730, 10, "kg/m3")),
        Number("depth", Grid(6000, 14_000, 100, "ft"), Grid(1800, 4200, 20, "m")),
    ),
    valid=lambda n: 0.62 <= (n.cut_weight / n.mud_weight).m_as("") <= 0.92,
    envelope=(Within("mud weight", lambda n: n.mud_weight, Usual(UNWEIGHTED_MUD.low, WEIGHTED_MUD.high, "lb/gal")),),
    setting=By.each(
        lambda system: (
            "At the shakers of rig Heron 4 the mud bubbles. An open cup weighs it at {cut_weight}; the pressurised "
            "balance, which squeezes the gas to almost nothing, gives {mud_weight}: take this as the weight without "
            "gas. The well is {depth} deep, straight down, and open to the air. The air presses with "
            f"{AIR.of(system)}. The pit level has not moved, and the driller has been told. Somebody watches "
            "the gas meter at the shakers. There are no sparks there, and whoever is not needed stays away."
        )
    ),
    parts=(
        Numeric(
            key="a",
            ask="What share of the cut mud at the surface is gas?",
            unit="%",
            solve=_share,
            plausible=Range(7, 40, "%"),
            tolerance=absolute(0.5, "%", because="a share rounded to a whole percent"),
            marks=Marks(2),
            slips=(
                Slip(
                    "over the cut weight",
                    lambda n: n.mud_weight / n.cut_weight - 1,
                    "You divided by the weight of the cut mud. The share counts from the mud without gas.",
                ),
                Slip(
                    "share of mud",
                    lambda n: n.cut_weight / n.mud_weight,
                    "This is the share that is mud. The rest is gas: take it off 100 %.",
                ),
            ),
            working=(Step("The weight that is missing, over the whole:", "(1 - {cut_weight} / {mud_weight}) * 100"),),
        ),
        Numeric(
            key="b",
            ask=(
                "How much does the gas take off the pressure at the bottom, if all of the mud in the well carries as "
                "much? Use n × p0 × ln(p / p0): n is how many volumes of gas go with each volume of mud at the "
                "surface, p0 is the pressure of the air, and p is the absolute pressure at the bottom without gas."
            ),
            unit=By("psi", "kPa"),
            uses=("a",),
            solve=_loss,
            plausible=Range(4, 75, "psi"),
            tolerance=relative(
                0.05, because="a share rounded to a whole percent, and the pressure of the whole column put in for p"
            ),
            marks=Marks(3),
            slips=(
                Slip(
                    "the gas kept as large all the way down",
                    lambda n: column_pressure(n.mud_weight, n.depth) * n.a,
                    "You took the gas as large at the bottom as at the surface. The mud above squeezes it to a small "
                    "part of that: use n p0 ln(p / p0).",
                ),
                Slip(
                    "pressure of the column",
                    lambda n: column_pressure(n.mud_weight, n.depth),
                    "This is the pressure of the whole column without gas. The question asks what the gas takes off.",
                ),
            ),
            working=(
                Step(
                    "The absolute pressure at the bottom, without gas:",
                    By("14.7 + 0.05195 * {mud_weight} * {depth}", "101.3 + 0.009807 * {mud_weight} * {depth}"),
                    gives="bottom",
                    unit=By("psi", "kPa"),
                ),
                Step(
                    "Volumes of gas with each volume of mud, times the air's pressure, times the logarithm:",
                    By(
                        "{a} / (100 - {a}) * 14.7 * ln({bottom} / 14.7)",
                        "{a} / (100 - {a}) * 101.3 * ln({bottom} / 101.3)",
                    ),
                ),
            ),
        ),
    ),
)
