"""What dilution and disposal cost, and what better removal is worth."""

from __future__ import annotations

import pint

from exercises.bank.dilution import Outcome
from exercises.fleet.envelope import CENTRIFUGE_HIRE, DISPOSAL_PRICE, DRILLED_SOLIDS, INVERT_MUD_PRICE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Numeric, Slip, relative
from exercises.model.working import Step
from pitside.removal import clean_mud, dilution_cost, dilution_plan

BALANCE = relative(0.01, because="a volume balance of figures given to two or three digits")
MONEY = relative(0.015, because="the volume of (a) and its rounding, and whole units of currency")


def _clean(n: Known) -> pint.Quantity:
    return clean_mud(n.rock * (1 - n.removal), n.target)


def _better(n: Known) -> pint.Quantity:
    """The bill at the better removal."""
    return dilution_cost(n.rock, n.better, n.discard, n.target, n.mud_price, n.disposal_price)


def _dilution_rules(n: Known) -> bool:
    """At both removals more clean mud is needed than the discard makes room for, and the better one is better."""
    if (n.better - n.removal).m_as("%") < 4:
        return False
    plans = [dilution_plan(n.rock, removal, n.discard, n.target) for removal in (n.removal, n.better)]
    return all(bool(plan.clean_mud > plan.discard) for plan in plans)


EXERCISE = Exercise(
    title="The bill for dilution",
    level=2,
    version=2,
    outcome=Outcome.BILL,
    tolerance=MONEY,
    numbers=(
        Number("rock", Grid(150, 500, 10, "bbl"), Grid(25, 80, 1, "m3")),
        Number("removal", Grid(50, 72, 1, "%")),
        Number("better", Grid(60, 82, 1, "%")),
        Number("target", Grid(4.0, 6.0, 0.5, "%")),
        Number("discard", Grid(35, 35, 1, "%")),
        Number("mud_price", Grid(80, 160, 5, "money/bbl"), Grid(510, 1000, 10, "money/m3")),
        Number("disposal_price", Grid(16, 60, 2, "money/bbl"), Grid(100, 370, 10, "money/m3")),
        Number("rent", Grid(1000, 2400, 100, "money/d")),
    ),
    valid=_dilution_rules,
    envelope=(
        Within("drilled solids", lambda n: n.target, DRILLED_SOLIDS),
        Within("price of invert mud", lambda n: n.mud_price, INVERT_MUD_PRICE),
        Within("disposal", lambda n: n.disposal_price, DISPOSAL_PRICE),
        Within("hire of a centrifuge", lambda n: n.rent, CENTRIFUGE_HIRE),
    ),
    setting=(
        "A section of well Marram-2 puts {rock} of drilled solids into the mud. The machines of rig Sandpiper 2 remove "
        "{removal} of them. What stays is diluted with clean mud until it is {target} of the mud, counted with the "
        "rock in it. As much old mud leaves as clean mud comes in; the mud in the discard is part of it and is not "
        "counted a second time. To keep it simple, the discarded rock is paid for elsewhere. Clean mud costs "
        "{mud_price}, disposal of what leaves {disposal_price} (money stands for an invented currency)."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What volume of clean mud does the section need? Give the clean mud alone, without the rock.",
            unit=By("bbl", "m3"),
            solve=_clean,
            plausible=Range(400, 6000, "bbl"),
            tolerance=BALANCE,
            marks=Marks(2),
            outcome=Outcome.LEAST,
            slips=(
                Slip(
                    "dilution of what was removed",
                    lambda n: clean_mud(n.rock * n.removal, n.target),
                    "You diluted the rock that the machines remove. Dilute what stays in the mud.",
                ),
                Slip(
                    "rock counted as clean mud",
                    lambda n: n.rock * (1 - n.removal) / n.target,
                    "This is the mud with the rock in it. The clean mud to add is less by the rock that stays.",
                ),
                Slip(
                    "nothing removed",
                    lambda n: clean_mud(n.rock, n.target),
                    "You diluted all the rock. The machines take a part of it out: dilute what stays.",
                ),
            ),
            working=(
                Step("Rock that stays:", "{rock} * (100 - {removal}) / 100", "stays", digits=5),
                Step("Mud that holds it, less the rock itself.", "{stays} * (100 - {target}) / {target}"),
            ),
        ),
        Numeric(
            key="b",
            ask="What do clean mud and disposal cost together? Pay disposal for as much as clean mud comes in.",
            unit="money",
            uses=("a",),
            solve=lambda n: n.a * (n.mud_price + n.disposal_price),
            plausible=Range(40_000, 1_300_000, "money"),
            marks=Marks(1),
            slips=(
                Slip(
                    "disposal left out",
                    lambda n: n.a * n.mud_price,
                    "You left the disposal out. What leaves the system is paid for as well.",
                ),
                Slip(
                    "disposal alone",
                    lambda n: n.a * n.disposal_price,
                    "This is the disposal alone. The clean mud is paid for as well.",
                ),
            ),
            working=(Step("Volume times both prices.", "{a} * ({mud_price} + {disposal_price})"),),
        ),
        Numeric(
            key="c",
            ask="A centrifuge would raise the removal to {better}. What would the section's bill be then?",
            unit="money",
            solve=_better,
            plausible=Range(30_000, 1_100_000, "money"),
            marks=Marks(2),
            slips=(
                Slip(
                    "bill cut by the points of removal",
                    lambda n: _clean(n) * (n.mud_price + n.disposal_price) * (1 - (n.better - n.removal)),
                    "You took the points of removal off the bill. Work the rock that stays out again: the bill goes "
                    "with it.",
                ),
                Slip(
                    "disposal left out",
                    lambda n: clean_mud(n.rock * (1 - n.better), n.target) * n.mud_price,
                    "You left the disposal out. What leaves the system is paid for as well.",
                ),
            ),
            working=(
                Step("Rock that stays:", "{rock} * (100 - {better}) / 100", "stays", By("bbl", "m3"), digits=5),
                Step("Clean mud for it:", "{stays} * (100 - {target}) / {target}", "clean", By("bbl", "m3"), digits=5),
                Step("Volume times both prices.", "{clean} * ({mud_price} + {disposal_price})"),
            ),
        ),
        Numeric(
            key="d",
            ask="The rent of the centrifuge is {rent}. How many days of rent does the saving pay?",
            unit="d",
            digits=3,
            uses=("b", "c"),
            solve=lambda n: (n.b - n.c) / n.rent,
            plausible=Range(1, 600, "d"),
            tolerance=relative(0.05, because="a difference of two bills, each within 1.5 %, given in days"),
            marks=Marks(2),
            slips=(
                Slip(
                    "whole bill",
                    lambda n: n.b / n.rent,
                    "You divided the whole bill. Only what is saved pays for the machine: take the new bill off first.",
                ),
                Slip(
                    "new bill",
                    lambda n: n.c / n.rent,
                    "You divided the new bill. What is saved is the difference of both.",
                ),
            ),
            working=(Step("What is saved over the rent of a day.", "({b} - {c}) / {rent}"),),
        ),
    ),
)
