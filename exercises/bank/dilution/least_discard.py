"""Removal at which the least goes to waste."""

from __future__ import annotations

import pint

from exercises.bank.dilution import Outcome
from exercises.fleet.envelope import DRILLED_SOLIDS
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import (
    Column,
    Convention,
    Known,
    Marks,
    Numeric,
    Row,
    RowSlip,
    Slip,
    Table,
    absolute,
    relative,
)
from exercises.model.working import Step
from pitside.removal import clean_mud, dilution_plan, least_discard_removal, level_removal, new_mud
from pitside.units import Q

BALANCE = relative(0.01, because="a volume balance of figures given to two or three digits")

#: The three removals of the table, by row.
REMOVALS = {"low": Q(70, "%"), "middle": Q(80, "%"), "high": Q(90, "%")}


def _discard(n: Known, row: str) -> pint.Quantity:
    return dilution_plan(n.rock, REMOVALS[row], n.discard, n.target).discard


def _clean(n: Known, row: str) -> pint.Quantity:
    return dilution_plan(n.rock, REMOVALS[row], n.discard, n.target).clean_mud


def _per_cent(row: str) -> str:
    return f"{REMOVALS[row].m_as('%'):g}"


EXERCISE = Exercise(
    title="The removal with the least waste",
    level=2,
    version=2,
    outcome=Outcome.LEAST,
    tolerance=BALANCE,
    numbers=(
        Number("rock", Grid(100, 600, 10, "bbl"), Grid(15, 95, 1, "m3")),
        Number("discard", Grid(25, 50, 1, "%")),
        Number("target", Grid(3.0, 7.0, 0.5, "%")),
    ),
    envelope=(Within("drilled solids", lambda n: n.target, DRILLED_SOLIDS),),
    setting=(
        "A section of well Marram-1 will put {rock} of drilled solids into the mud. What the machines of rig Heron 4 "
        "discard holds {discard} drilled solids by volume in all; count the rest of it as mud. The mud itself may hold "
        "{target} drilled solids, counted as a share of the mud with the rock in it. What is not removed has to be "
        "diluted with clean mud, which holds no rock. Clean mud first fills the place of the discard; only what is "
        "over pushes mud out to be dumped. So the larger of the two volumes is the waste."
    ),
    parts=(
        Table(
            key="a",
            ask="Fill in the table for three removals. Give the clean mud alone, without the rock that stays.",
            corner="Removal",
            rows=tuple(Row(row, f"{_per_cent(row)} % of the drilled solids") for row in REMOVALS),
            columns=(
                Column(
                    key="discard",
                    title="Discard",
                    unit=By("bbl", "m3"),
                    solve=_discard,
                    plausible=Range(90, 2400, "bbl"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "rock alone",
                            lambda n, row: n.rock * REMOVALS[row],
                            "This is the rock that is removed. Mud goes with it: divide by the share of rock in the "
                            "discard.",
                        ),
                        RowSlip(
                            "multiplied by the share",
                            lambda n, row: n.rock * REMOVALS[row] * n.discard,
                            "You multiplied by the share of rock in the discard. The discard is more than its rock: "
                            "divide.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Removed rock over its share of the discard.", f"{{rock}} * {_per_cent(row)} / {{discard}}"
                        ),
                    ),
                ),
                Column(
                    key="clean",
                    title="Clean mud for what stays",
                    unit=By("bbl", "m3"),
                    solve=_clean,
                    plausible=Range(90, 6000, "bbl"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "dilution of what was removed",
                            lambda n, row: clean_mud(n.rock * REMOVALS[row], n.target),
                            "You diluted the rock that is removed. Dilute what stays in the mud.",
                        ),
                        RowSlip(
                            "rock counted as clean mud",
                            lambda n, row: new_mud(n.rock * (1 - REMOVALS[row]), n.target),
                            "This is the mud with the rock in it. The clean mud to add is less by the rock that stays.",
                        ),
                    ),
                    working=lambda row: (
                        Step("Rock that stays:", f"{{rock}} * (100 - {_per_cent(row)}) / 100", "stays", digits=5),
                        Step("Mud that holds it, less the rock itself.", "{stays} * (100 - {target}) / {target}"),
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=(
                "At which removal is the volume of the discard equal to the volume of mud that must be built for the "
                "rock that stays? Count clean mud alone, or clean mud with the rock in it: both are accepted. Give "
                "percent with one decimal."
            ),
            unit="%",
            digits=3,
            solve=lambda n: least_discard_removal(n.discard, n.target),
            plausible=Range(75, 95, "%"),
            conventions=(
                Convention(
                    "clean mud as large as the discard, so that the pits keep their level",
                    lambda n: level_removal(n.discard, n.target),
                ),
            ),
            tolerance=absolute(
                0.2, "%", because="it is given to a tenth of a percent, and read from shares in percent"
            ),
            marks=Marks(3),
            slips=(
                Slip(
                    "shares taken off",
                    lambda n: (n.discard - n.target) / n.discard,
                    "You took the target off the discard's share. With both volumes equal the target is added below "
                    "the line.",
                ),
                Slip(
                    "target above the line",
                    lambda n: n.target / (n.discard + n.target),
                    "This is the share that stays. The share of the discard goes above the line.",
                ),
            ),
            working=(
                Step(
                    "Removed over the discard's share equals what stays over the target.",
                    "100 * {discard} / ({discard} + {target})",
                ),
            ),
        ),
    ),
)
