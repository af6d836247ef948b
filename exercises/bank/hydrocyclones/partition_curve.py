"""From the corrected curve of a cone to what it really takes out."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pint

from exercises.bank.hydrocyclones import CUT_POINT, Outcome
from exercises.fleet.envelope import CUT_OF_DESILTER_CONE
from exercises.fleet.machines import DESILTER
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Derived, Grid, Number, Numbers, Range
from exercises.model.parts import Column, Known, Marks, Numeric, PrintedColumn, Row, RowSlip, Slip, Table, absolute
from exercises.model.working import Step
from pitside.materials import LOW_GRAVITY
from pitside.partition import PartitionCurve, rosin_rammler_partition, with_bypass
from pitside.units import WATER_4C, Q

#: Middle size of each class, um.
SIZES = {"fine": 5, "silt": 12, "coarse": 25, "sand": 60}
TO_A_TENTH = absolute(0.3, "%", because="shares are written to a tenth of a percent and rounded on the way")


def _curve(n: Known | Numbers, bypass: pint.Quantity | float) -> PartitionCurve:
    return PartitionCurve(n.cut, LOW_GRAVITY, WATER_4C, n.sharpness.m_as(""), bypass)


def _corrected(row: str) -> Callable[[Numbers], pint.Quantity]:
    return lambda n: rosin_rammler_partition((Q(SIZES[row], "um") / n.cut).to(""), n.sharpness)


def _of(name: str) -> Callable[[Known, str], pint.Quantity]:
    return lambda n, row: getattr(n, f"{row}_{name}")


def _actual(n: Known, row: str) -> pint.Quantity:
    return with_bypass(_of("corrected")(n, row), n.bypass)


def _total(n: Known) -> pint.Quantity:
    return sum(n[f"a.{row}.removed"] for row in SIZES)  # type: ignore[return-value]


def _total_without_bypass(n: Known) -> pint.Quantity:
    return sum(_of("feed")(n, row) * _of("corrected")(n, row) for row in SIZES)  # type: ignore[return-value]


def _plain_mean(n: Known) -> pint.Quantity:
    return Q(float(np.mean([_actual(n, row).m_as("") for row in SIZES])))


def _feed_has_all_classes(n: Known) -> bool:
    """A feed of mostly silt, all of it accounted for."""
    return bool(Q(8, "%") <= n.sand_feed <= Q(30, "%"))


EXERCISE = Exercise(
    title="The curve of a cone, with its bypass",
    level=2,
    version=2,
    outcome=Outcome.PARTITION,
    tolerance=TO_A_TENTH,
    numbers=(
        DESILTER.cut.part(20, 32).number("cut", (1, "um")),
        Number("sharpness", Grid(1.6, 3.0, 0.1)),
        Number("bypass", Grid(8, 24, 1, "%")),
        Number("fine_feed", Grid(20, 40, 1, "%")),
        Number("silt_feed", Grid(20, 35, 1, "%")),
        Number("coarse_feed", Grid(15, 30, 1, "%")),
        Derived("sand_feed", lambda n: Q(1.0) - n.fine_feed - n.silt_feed - n.coarse_feed, "%", 0),
        *(Derived(f"{row}_corrected", _corrected(row), "%", 1) for row in SIZES),
    ),
    valid=_feed_has_all_classes,
    envelope=(Within("cut of the cone", lambda n: n.cut, CUT_OF_DESILTER_CONE),),
    setting=(
        "A cone on rig Heron 4 was sampled. Its apex is set wide, for its underflow falls on a fine screen that gives "
        "the liquid back: {bypass} of the liquid fed leaves through the apex. This liquid carries {bypass} of the "
        "grains of every size with it, without sorting them: this is the bypass. The corrected curve counts only the "
        "grains that the cone sorts. Half of them go to the underflow at its cut point d50c, here {cut}; its sharpness "
        "m is {sharpness}. The corrected share of size d is 1 − exp(−0.693 (d/d50c)^m)."
    ),
    parts=(
        Table(
            key="a",
            ask=(
                "Find the actual share of each class that goes to the underflow, and how much of all feed solids that "
                "is. Both in percent, to one decimal."
            ),
            corner="Class",
            rows=tuple(Row(row, f"Around {size} µm") for row, size in SIZES.items()),
            columns=(
                PrintedColumn("Of the feed solids", lambda row: f"{{{row.key}_feed}}"),
                PrintedColumn("Corrected share", lambda row: f"{{{row.key}_corrected}}"),
                Column(
                    key="actual",
                    title="actual share",
                    unit="%",
                    solve=_actual,
                    plausible=Range(8, 100, "%"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "no bypass",
                            _of("corrected"),
                            "This is the corrected share. Grains that were not classified also go to the underflow: "
                            "add the bypass.",
                            rows=("fine", "silt", "coarse"),
                        ),
                        RowSlip(
                            "bypass added straight",
                            lambda n, row: _of("corrected")(n, row) + n.bypass,
                            "You added the bypass to the corrected share. Only what does not bypass is classified: "
                            "multiply by 1 minus the bypass before you add it.",
                            rows=("silt", "coarse", "sand"),
                        ),
                        RowSlip(
                            "bypass not added",
                            lambda n, row: _of("corrected")(n, row) * (Q(1.0) - n.bypass),
                            "You took out what bypasses and did not add it again: it is in the underflow too.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "What is classified there, and the bypass.",
                            f"{{{row}_corrected}} * (1 - {{bypass}} / 100) + {{bypass}}",
                        ),
                    ),
                ),
                Column(
                    key="removed",
                    title="of all feed solids",
                    unit="%",
                    uses=(".actual",),
                    solve=lambda n, row: _of("feed")(n, row) * n[f"a.{row}.actual"],
                    plausible=Range(1, 32, "%"),
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "not taken of the feed",
                            lambda n, row: n[f"a.{row}.actual"],
                            "This is the share of the class. Multiply it by what the class is of the feed.",
                        ),
                        RowSlip(
                            "lost to the overflow",
                            lambda n, row: _of("feed")(n, row) * (Q(1.0) - n[f"a.{row}.actual"]),
                            "This is what goes on with the overflow. The underflow has the other part.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "The share of the class, of what it is in the feed.",
                            f"{{a.{row}.actual}} * {{{row}_feed}} / 100",
                        ),
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What share of all feed solids does the cone take out, in percent?",
            unit="%",
            uses=tuple(f"a.{row}.removed" for row in SIZES),
            solve=_total,
            plausible=Range(30, 85, "%"),
            tolerance=absolute(0.5, "%", because="four shares, each rounded to a tenth of a percent"),
            marks=Marks(1),
            slips=(
                Slip(
                    "no bypass",
                    _total_without_bypass,
                    "You added up the corrected shares. The unclassified grains leave in the underflow as well: use "
                    "the actual shares.",
                ),
                Slip(
                    "mean of the shares",
                    _plain_mean,
                    "You took the plain mean of the four shares. The classes are not equally large: add up the last "
                    "column.",
                ),
                Slip(
                    "lost to the overflow",
                    lambda n: Q(1.0) - _total(n),
                    "This is what goes on with the overflow. The underflow has the other part.",
                ),
            ),
            working=(Step("Add up what each class brings.", " + ".join(f"{{a.{row}.removed}}" for row in SIZES)),),
        ),
        Numeric(
            key="c",
            ask=(
                "At which size does half of the grains go to the underflow, bypass counted (actual cut point d50), in "
                "µm?"
            ),
            unit="um",
            digits=3,
            solve=lambda n: _curve(n, n.bypass).actual_cut_point(LOW_GRAVITY),
            plausible=Range(8, 29, "um"),
            tolerance=CUT_POINT,
            marks=Marks(2),
            slips=(
                Slip(
                    "d50c for d50",
                    lambda n: n.cut,
                    "This is the corrected cut point. With the bypass more than half of that size leaves: the actual "
                    "cut point is finer.",
                ),
                Slip(
                    "bypass taken off only",
                    lambda n: _curve(n, 0.0).size_at(Q(0.5) - n.bypass, LOW_GRAVITY),
                    "You took the bypass off 50 %. What is left must come from the 1 − bypass that is classified: "
                    "divide by it.",
                ),
                Slip(
                    "coarser with bypass",
                    lambda n: _curve(n, 0.0).size_at(Q(0.5) + n.bypass / 2, LOW_GRAVITY),
                    "You went to a coarser size. The bypass brings solids of every size to the underflow, so half is "
                    "reached at a finer one.",
                ),
            ),
            working=(
                Step(
                    "The corrected share that makes an actual 50 %:",
                    "(50 - {bypass}) / (100 - {bypass})",
                    "share",
                    "fraction",
                ),
                Step(
                    "The size over d50c at that share, from the law turned round:",
                    "(-ln(1 - {share}) / 0.6931)**(1 / {sharpness})",
                    "ratio",
                    "fraction",
                ),
                Step("Times d50c.", "{ratio} * {cut}"),
            ),
        ),
    ),
)
