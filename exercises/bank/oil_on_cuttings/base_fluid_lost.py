"""Base fluid that leaves with the cuttings, its cost, and what drying saves."""

from __future__ import annotations

import pint

from exercises.bank.oil_on_cuttings import Outcome
from exercises.fleet.envelope import OIL_OFF_BASKET, OIL_OFF_SHAKER
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Method, Numeric, Slip, relative
from exercises.model.possible import RATIO
from exercises.model.working import Step
from pitside.cuttings import base_fluid_lost, dry_from_wet
from pitside.units import Q

BALANCE = relative(0.01, because="a balance of mass; shares are given to one place")
DIFFERENCE = relative(0.02, because="a difference of two balances, each to 1 %")
WATER = Q(1, "g/mL")


def _ratio(n: Known) -> pint.Quantity:
    return dry_from_wet(n.wet, n.water)


def _dried_cost(n: Known) -> pint.Quantity:
    return base_fluid_lost(n.rock, dry_from_wet(n.dried, n.dried_water), n.density)[1] * n.price


EXERCISE = Exercise(
    title="Base fluid lost with the cuttings",
    level=2,
    version=3,
    outcome=Outcome.LOSS,
    tolerance=BALANCE,
    numbers=(
        Number("rock", Grid(400_000, 1_200_000, 10_000, "lb"), Grid(180, 540, 5, "t")),
        Number("wet", Grid(10.0, 15.0, 0.1, "%")),
        Number("water", Grid(4.0, 9.0, 0.5, "%")),
        Number("dried", Grid(2.0, 5.0, 0.1, "%")),
        Number("dried_water", Grid(1.0, 3.0, 0.5, "%")),
        Number("density", Grid(6.6, 7.0, 0.1, "lb/gal"), Grid(790, 840, 5, "kg/m3")),
        Number("price", Grid(100, 180, 5, "money/bbl"), Grid(640, 1140, 20, "money/m3")),
    ),
    envelope=(
        Within("oil off the shakers, wet", lambda n: n.wet, OIL_OFF_SHAKER),
        Within("oil off the basket, wet", lambda n: n.dried, OIL_OFF_BASKET),
    ),
    setting=(
        "On an earlier well of Sandpiper 2 a section drilled with invert mud gave {rock} of dry rock. The retort found "
        "{wet} base oil and {water} water on the cuttings from the shakers, by mass of wet cuttings; all the rest is "
        "counted as dry rock, the solids and the salt of the mud on it too. The base oil weighs {density} and costs "
        "{price} (money stands for an invented currency). In a trial a basket dryer left {dried} base oil and "
        "{dried_water} water, by mass of the wet cuttings that leave it. Hot oil mud gives off vapour: mind the heat, "
        "and the fire rules of the rig."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What mass of base oil leaves with the cuttings of the shakers?",
            unit=By("lb", "t"),
            solve=lambda n: base_fluid_lost(n.rock, _ratio(n), n.density)[0],
            plausible=Range(30_000, 260_000, "lb"),
            marks=Marks(3),
            slips=(
                Slip(
                    "wet share of the dry rock",
                    lambda n: n.rock * n.wet,
                    "You took the wet share of the dry rock. The share counts rock, oil and water: find the oil by "
                    "mass of dry rock first.",
                ),
                Slip(
                    "water left in the rock",
                    lambda n: base_fluid_lost(n.rock, dry_from_wet(n.wet, 0.0), n.density)[0],
                    "You took only the oil off the wet cuttings. Take the water off as well, and what is left is dry "
                    "rock.",
                ),
                Slip(
                    "oil and water together",
                    lambda n: base_fluid_lost(n.rock, dry_from_wet(n.wet + n.water, 0.0), n.density)[0],
                    "This is oil and water together. The question is about the oil alone.",
                ),
            ),
            method=(
                Method(
                    "ratio",
                    "What is the base oil by mass of dry rock, in percent?",
                    "%",
                    _ratio,
                    relative(0.006, because="a balance of shares that are given to one place"),
                    marks=1,
                    plausible=Range(11, 21, "%"),
                    possible=RATIO,
                ),
            ),
            working=(
                Step("Oil by mass of dry rock:", "{wet} / (100 - {wet} - {water}) * 100", "ratio", "%", digits=6),
                Step("Times the dry rock.", "{rock} * {ratio} / 100"),
            ),
        ),
        Numeric(
            key="b",
            ask=By("What is its volume in barrels?", "What is its volume in cubic metres?"),
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda n: n.a / n.density,
            plausible=Range(100, 1000, "bbl"),
            marks=Marks(1),
            slips=(
                Slip(
                    "density of water",
                    lambda n: n.a / WATER,
                    "You divided by the density of water. Oil is lighter, and the same mass of it takes more room.",
                ),
                Slip(
                    "turned into volume twice",
                    lambda n: n.a / n.density * (WATER / n.density),
                    "You divided by the specific gravity as well as by the density. One of them is enough.",
                ),
            ),
            working=(Step("Mass over density.", By("{a} / {density} / 42", "{a} * 1000 / {density}")),),
        ),
        Numeric(
            key="c",
            ask="What does it cost?",
            unit="money",
            uses=("b",),
            solve=lambda n: n.b * n.price,
            plausible=Range(12_000, 260_000, "money"),
            marks=Marks(1),
            slips=(
                Slip(
                    "wet share of the dry rock",
                    lambda n: n.rock * n.wet / n.density * n.price,
                    "This is the cost of the wet share of the dry rock. Carry on with the volume that you found.",
                ),
                Slip(
                    "as much water",
                    lambda n: n.b * n.density / WATER * n.price,
                    "You priced the volume of as much water. Oil is lighter: take the volume that you found for the "
                    "oil.",
                ),
            ),
            working=(Step("Volume times price.", "{b} * {price}"),),
        ),
        Numeric(
            key="d",
            ask=(
                "Suppose that all these cuttings go through the basket dryer. What does that save? Leave out the cost "
                "of the dryer."
            ),
            unit="money",
            uses=("c",),
            solve=lambda n: n.c - _dried_cost(n),
            plausible=Range(5000, 230_000, "money"),
            tolerance=DIFFERENCE,
            marks=Marks(3),
            slips=(
                Slip(
                    "cost after drying",
                    _dried_cost,
                    "This is the oil that still leaves after drying. The saving is what left before, less this.",
                ),
                Slip(
                    "share of the wet figures",
                    lambda n: n.c * (1 - n.dried / n.wet),
                    "You compared the two wet shares. They count different masses: go over to dry rock first.",
                ),
                Slip(
                    "wet share of the dry rock",
                    lambda n: n.c - n.rock * n.dried / n.density * n.price,
                    "You took the dried share of the dry rock. Divide by rock alone first, as in the first part.",
                ),
            ),
            working=(
                Step(
                    "Oil by mass of dry rock after drying:",
                    "{dried} / (100 - {dried} - {dried_water}) * 100",
                    "dry_ratio",
                    "%",
                    digits=6,
                ),
                Step(
                    "Volume of it:",
                    By("{rock} * {dry_ratio} / 100 / {density} / 42", "{rock} * {dry_ratio} / 100 * 1000 / {density}"),
                    "dried_volume",
                    By("bbl", "m3"),
                ),
                Step("The cost before, less that after.", "{c} - {dried_volume} * {price}"),
            ),
        ),
    ),
)
