"""Reading the partition curve of a cone."""

from __future__ import annotations

import numpy as np
import pint

from exercises.bank.hydrocyclones import Outcome
from exercises.fleet.envelope import CUT_OF_DESILTER_CONE
from exercises.fleet.machines import DESILTER
from exercises.model.chart import Chart, Curve
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Grid, Number, Numbers, Range, System
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip, absolute, reading, relative
from exercises.model.usual_slips import turned_round
from exercises.model.working import Step
from pitside.materials import LOW_GRAVITY
from pitside.partition import PartitionCurve, sharpness_ratio
from pitside.units import WATER_4C, Q

#: Ratio d75 / d25 above which a cut counts as poor here; the exercise says so.
POOR = 3.0
SIZE = reading(2, "um", because="half of the chart's fine division of 2 µm")
WHERE_FLAT = absolute(2, "um", because="half of a fine division along, and a third of one up, where the curve is flat")


def _curve(n: Known | Numbers) -> PartitionCurve:
    return PartitionCurve(n.cut, LOW_GRAVITY, WATER_4C, n.sharpness.m_as(""), n.bypass)


def _size_at(n: Known, share: pint.Quantity | float) -> pint.Quantity:
    return _curve(n).size_at(share, LOW_GRAVITY)


def _ratio_is_clear(n: Known) -> bool:
    """Sizes that lie on the chart and can be told from it, and a sharpness that is clearly good or poor."""
    fine, coarse = (_size_at(n, share).m_as("um") for share in (0.25, 0.75))
    return bool(fine >= 6 and coarse <= 76 and not 0.8 <= coarse / fine / POOR <= 1.25)


def _chart(n: Numbers, system: System) -> Chart:
    sizes = np.concatenate([[0.01], np.arange(0.5, 80.5, 0.5)])
    shares = _curve(n).to_underflow(Q(sizes, "um"), LOW_GRAVITY).m_as("percent")
    return Chart(
        alt=(
            "Actual partition curve of a cone: share of the grains that goes to the underflow, in percent, against "
            "size from 0 to 80 µm. The curve rises from a low share at the finest sizes towards 100 % at the coarsest."
        ),
        x_label="Size of grain, µm",
        y_label="Share to the underflow, %",
        curves=(Curve(tuple(sizes.tolist()), tuple(shares.tolist())),),
        x_ticks=tuple(range(0, 81, 10)),
        y_ticks=tuple(range(0, 101, 10)),
    )


EXERCISE = Exercise(
    title="Reading a partition curve",
    level=2,
    version=3,
    outcome=Outcome.PARTITION,
    digits=3,
    numbers=(
        DESILTER.cut.number("cut", (0.5, "um")),
        Number("sharpness", Grid(1.1, 3.0, 0.1)),
        Number("bypass", Grid(6, 18, 1, "%")),
    ),
    valid=_ratio_is_clear,
    envelope=(Within("cut of the cone", lambda n: n.cut, CUT_OF_DESILTER_CONE),),
    setting=(
        "The chart shows the actual partition curve of a cone on rig Heron 4, from samples of underflow and overflow: "
        "which share of the grains of each size went to the underflow. Its apex is set wide, for its underflow falls "
        "on a fine screen that gives the liquid back. Between two labelled lines lie five fine divisions. Read sizes "
        "to the nearest 1 µm and shares to the nearest 1 %. A cut counts as poor here when d75 is more than three "
        "times d25."
    ),
    chart=_chart,
    parts=(
        Numeric(
            key="a",
            ask="What is the bypass: the share of the very finest grains that goes to the underflow, in percent?",
            unit="%",
            digits=2,
            solve=lambda n: n.bypass,
            plausible=Range(6, 18, "%"),
            tolerance=reading(2, "%", because="half of the chart's fine division of 2 %"),
            marks=Marks(2),
            slips=(
                Slip(
                    "share of the overflow",
                    lambda n: Q(1.0) - n.bypass,
                    "This is what goes to the overflow. Read where the curve starts, at the fine end.",
                ),
                Slip(
                    "halfway up",
                    lambda n: (Q(1.0) + n.bypass) / 2,
                    "You read halfway between the two ends of the curve. The bypass is where the curve starts, at the "
                    "fine end.",
                ),
            ),
            working=(Step("The curve meets the left edge of the chart at this share.", "{bypass}", digits=2),),
        ),
        Numeric(
            key="b",
            ask="What is the actual cut point d50, the size at which 50 % of the grains go to the underflow, in µm?",
            unit="um",
            solve=lambda n: _size_at(n, 0.5),
            plausible=Range(12, 42, "um"),
            tolerance=SIZE,
            marks=Marks(2),
            slips=(
                Slip(
                    "50 % above the bypass",
                    lambda n: _size_at(n, Q(0.5) + n.bypass),
                    "You went 50 % up from where the curve starts. The actual cut point is where the curve crosses "
                    "the line of 50 %.",
                ),
                Slip(
                    "size with 25 %",
                    lambda n: _size_at(n, 0.25),
                    "You read the line of 25 %. The cut point is on the line of 50 %.",
                ),
                Slip(
                    "size with 75 %",
                    lambda n: _size_at(n, 0.75),
                    "You read the line of 75 %. The cut point is on the line of 50 %.",
                ),
            ),
            working=(
                Step(
                    "Go from 50 % to the curve and down. (As a sum: the share of the classified grains is)",
                    "(50 - {bypass}) / (100 - {bypass})",
                    "share",
                    "fraction",
                ),
                Step(
                    "At that share the curve was drawn through this size:",
                    "{cut} * (-ln(1 - {share}) / 0.6931)**(1 / {sharpness})",
                    digits=3,
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="At which size do 25 % of the grains go to the underflow (d25), in µm?",
            unit="um",
            solve=lambda n: _size_at(n, 0.25),
            plausible=Range(6, 36, "um"),
            tolerance=SIZE,
            marks=Marks(1),
            slips=(
                Slip(
                    "25 % above the bypass",
                    lambda n: _size_at(n, Q(0.25) + n.bypass),
                    "You went 25 % up from where the curve starts. Read where the curve crosses the line of 25 %.",
                ),
                Slip(
                    "size with 75 %",
                    lambda n: _size_at(n, 0.75),
                    "You read the line of 75 %: of that size 25 % go to the overflow. Read the line of 25 %.",
                ),
            ),
            working=(
                Step(
                    "Go from 25 % to the curve and down. (As a sum: the share of the classified grains is)",
                    "(25 - {bypass}) / (100 - {bypass})",
                    "share",
                    "fraction",
                ),
                Step(
                    "At that share the curve was drawn through this size:",
                    "{cut} * (-ln(1 - {share}) / 0.6931)**(1 / {sharpness})",
                    digits=3,
                ),
            ),
        ),
        Numeric(
            key="d",
            ask="At which size do 75 % of the grains go to the underflow (d75), in µm?",
            unit="um",
            solve=lambda n: _size_at(n, 0.75),
            plausible=Range(20, 76, "um"),
            tolerance=WHERE_FLAT,
            marks=Marks(1),
            slips=(
                Slip(
                    "75 % above the bypass",
                    lambda n: _size_at(n, Q(0.75) + n.bypass),
                    "You went 75 % up from where the curve starts. Read where the curve crosses the line of 75 %.",
                ),
                Slip(
                    "size with 25 %", lambda n: _size_at(n, 0.25), "You read the line of 25 %. Read the line of 75 %."
                ),
            ),
            working=(
                Step(
                    "Go from 75 % to the curve and down. (As a sum: the share of the classified grains is)",
                    "(75 - {bypass}) / (100 - {bypass})",
                    "share",
                    "fraction",
                ),
                Step(
                    "At that share the curve was drawn through this size:",
                    "{cut} * (-ln(1 - {share}) / 0.6931)**(1 / {sharpness})",
                    digits=3,
                ),
            ),
        ),
        Numeric(
            key="e",
            ask="How sharp is the cut: what is d75 / d25?",
            unit="fraction",
            uses=("c", "d"),
            solve=lambda n: sharpness_ratio(min(n.c, n.d), n.d),
            plausible=Range(1.5, 12),
            tolerance=relative(
                0.02, because="it is worked from the sizes that were read; the ratio is rounded to 0.05"
            ),
            marks=Marks(1),
            slips=(
                turned_round(lambda n: n.c / n.d, "Put the coarser size on top."),
                Slip(
                    "difference",
                    lambda n: Q((n.d - n.c).m_as("um")),
                    "You took the one size from the other. Divide the coarser by the finer.",
                ),
            ),
            working=(Step("The coarser size over the finer.", "{d} / {c}"),),
        ),
        Choice(
            key="f",
            ask="What do you say of this cut?",
            options=(
                Option("good", "It is good enough.", "Compare d75 / d25 with 3. This cut is flatter than that."),
                Option(
                    "poor",
                    "It is poor: look at apex, wear, head and roping before you trust its cut point.",
                    "Compare d75 / d25 with 3. This cut is sharper than that.",
                ),
            ),
            right=lambda n: "poor" if n.e > POOR else "good",
            uses=("e",),
            marks=Marks(1),
            reason=(
                "Compare d75 / d25, the answer to (e), with 3: above it the cut is poor. A wide apex alone can do "
                "that, by its bypass."
            ),
        ),
    ),
)
