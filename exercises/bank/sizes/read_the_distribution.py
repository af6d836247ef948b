"""Reading a size distribution."""

from __future__ import annotations

import functools

import numpy as np
import pint

from exercises.bank.sizes import Outcome
from exercises.fleet.envelope import MEDIAN_OF_SOLIDS
from exercises.model.chart import Chart, Curve
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Grid, Number, Numbers, Range, System
from exercises.model.parts import Known, Marks, Numeric, Slip, reading, relative
from exercises.model.working import Step
from pitside.particles import SizeDistribution, log_edges, lognormal, lognormal_passing
from pitside.units import Q

#: Labelled sizes of the chart, um: wide enough apart to be printed, with a fine line wherever a reader looks for one.
TICKS = (1, 2, 4, 6, 8, 10, 20, 40, 60, 80, 100, 200)
SIZE = relative(0.07, because="about half of the chart's fine division, which is 5 µm from 20 to 100 µm")
#: Quantiles of the normal distribution at 10 % and 90 %.
TENTH, NINETIETH = -1.2816, 1.2816


@functools.lru_cache(maxsize=128)
def _solids(numbers: Numbers) -> SizeDistribution:
    # So many classes that the sizes read between them are those of the chart, which is drawn by the law itself.
    return lognormal(log_edges(classes=600), numbers.median, numbers.deviation.m_as(""))


def _finer(n: Known | Numbers, size: pint.Quantity) -> pint.Quantity:
    return lognormal_passing(size, n.median, n.deviation.m_as(""))


def _lies_on_the_chart(n: Known) -> bool:
    """All three sizes away from the ends of the chart, and a size in (d) where the curve is steep."""
    solids = _solids(n.drawn)
    share = _finer(n, n.size).m_as("%")
    return bool(solids.d10 >= Q(2.5, "um") and solids.d90 <= Q(150, "um") and (15 <= share <= 44 or 56 <= share <= 85))


def _chart(n: Numbers, system: System) -> Chart:
    sizes = np.geomspace(1, 200, 120)
    return Chart(
        alt=(
            "Size distribution of solids: share finer than a size, in percent, against size from 1 to 200 µm on a "
            "logarithmic axis. The curve is S-shaped and rises from near 0 % at the finest sizes to near 100 % at the "
            "coarsest."
        ),
        x_label="Size, µm",
        y_label="Finer than this size, % by volume",
        curves=(Curve(tuple(sizes.tolist()), tuple(_finer(n, Q(sizes, "um")).m_as("percent").tolist())),),
        x_ticks=TICKS,
        y_ticks=tuple(range(0, 101, 10)),
        x_log=True,
        divisions=4,
    )


def _quantile_step(deviations: float) -> tuple[Step, ...]:
    return (
        Step(
            "Go from the share on the left to the curve and down. (As a sum: 1.2816 and the number "
            "before it say how the chart was drawn; you need not find them.)",
            f"{{median}} * {{deviation}}**({deviations})",
            digits=3,
        ),
    )


EXERCISE = Exercise(
    title="Reading a size distribution",
    level=1,
    version=2,
    outcome=Outcome.DISTRIBUTION,
    tolerance=SIZE,
    digits=3,
    numbers=(
        Number("median", Grid(12, 45, 1, "um")),
        Number("deviation", Grid(1.8, 3.2, 0.1)),
        Number("size", Grid(10, 80, 10, "um")),
    ),
    valid=_lies_on_the_chart,
    envelope=(Within("median of the solids", lambda n: n.a, MEDIAN_OF_SOLIDS),),
    setting=(
        "The chart shows the sizes of the solids in a mud of rig Heron 4, as a laboratory measured them: for each size "
        "the share by volume that is finer. The axis of sizes is logarithmic. Three fine lines divide the space "
        "between two labelled lines into four. Read between the fine lines as well as you can, on a straight or on a "
        "logarithmic scale: the tolerance covers both."
    ),
    chart=_chart,
    parts=(
        Numeric(
            key="a",
            ask="What is d50, the median size, in µm?",
            unit="um",
            solve=lambda n: _solids(n.drawn).d50,
            plausible=Range(11.9, 45.1, "um"),
            marks=Marks(1),
            slips=(
                Slip(
                    "d10 read",
                    lambda n: _solids(n.drawn).d10,
                    "You read the line of 10 %. d50 is where the curve crosses the line of 50 %.",
                ),
                Slip(
                    "d90 read",
                    lambda n: _solids(n.drawn).d90,
                    "You read the line of 90 %. d50 is where the curve crosses the line of 50 %.",
                ),
                Slip(
                    "middle of d10 and d90",
                    lambda n: (_solids(n.drawn).d10 + _solids(n.drawn).d90) / 2,
                    "You took the middle between d10 and d90. Read where the curve crosses the line of 50 %.",
                ),
            ),
            working=(
                Step(
                    "Go from 50 % to the curve and down. Read this size; the curve was drawn through it.",
                    "{median}",
                    digits=3,
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What is d10, the size that 10 % of the volume is finer than, in µm?",
            unit="um",
            solve=lambda n: _solids(n.drawn).d10,
            plausible=Range(2.4, 22, "um"),
            marks=Marks(1),
            slips=(
                Slip(
                    "10 % coarser",
                    lambda n: _solids(n.drawn).d90,
                    "Of that size 10 % is coarser: this is d90. The curve shows what is finer, so read the line of "
                    "10 %.",
                ),
                Slip(
                    "a fifth of d50",
                    lambda n: _solids(n.drawn).d50 / 5,
                    "You took a tenth for a fifth of the half. The curve is no straight line from nothing: read where "
                    "it crosses 10 %.",
                ),
            ),
            working=_quantile_step(TENTH),
        ),
        Numeric(
            key="c",
            ask="What is d90, the size that 90 % of the volume is finer than, in µm?",
            unit="um",
            solve=lambda n: _solids(n.drawn).d90,
            plausible=Range(25, 151, "um"),
            marks=Marks(1),
            slips=(
                Slip(
                    "90 % coarser",
                    lambda n: _solids(n.drawn).d10,
                    "Of that size 90 % is coarser: this is d10. The curve shows what is finer, so read the line of "
                    "90 %.",
                ),
                Slip(
                    "1.8 times d50",
                    lambda n: _solids(n.drawn).d50 * 1.8,
                    "You went on from d50 as on a straight line. Read where the curve crosses the line of 90 %.",
                ),
            ),
            working=_quantile_step(NINETIETH),
        ),
        Numeric(
            key="d",
            ask="What share of the volume is coarser than {size}, in percent?",
            unit="%",
            digits=2,
            solve=lambda n: Q(1.0) - _finer(n, n.size),
            plausible=Range(15, 85, "%"),
            tolerance=reading(5, "%", because="a fine division of 2.5 % up, as the curve is steep there"),
            marks=Marks(1),
            slips=(
                Slip(
                    "finer for coarser",
                    lambda n: _finer(n, n.size),
                    "This is what is finer. The rest, up to 100 %, is coarser.",
                ),
                Slip(
                    "straight over the sizes",
                    lambda n: Q(1.0) - 0.5 * n.size / _solids(n.drawn).d50,
                    "You worked from d50 as on a straight line. Go up from the size to the curve and read the share "
                    "on the left.",
                ),
            ),
            working=(
                Step(
                    "Go up from the size to the curve and left. (As a sum: this line and the next say how the chart "
                    "was drawn; you need not find them.)",
                    "ln({size} / {median}) / ln({deviation})",
                    "steps",
                    "fraction",
                ),
                Step(
                    "What is finer, as you read it from the chart:",
                    "100 / (1 + exp(-1.5976 * {steps} - 0.07056 * {steps}**3))",
                    "finer",
                    digits=3,
                ),
                Step("The rest, up to 100 %, is coarser:", "100 - {finer}", digits=3),
            ),
        ),
        Numeric(
            key="e",
            ask="How wide is the distribution: what is its span, (d90 − d10) / d50?",
            unit="fraction",
            uses=("a", "b", "c"),
            solve=lambda n: (n.c - n.b) / n.a,
            plausible=Range(1.2, 4.6),
            tolerance=relative(0.02, because="it is worked from the sizes that were read, which are rounded"),
            marks=Marks(1),
            slips=(
                Slip(
                    "d90 over d10",
                    lambda n: n.c / n.b,
                    "You divided d90 by d10. Take d10 from d90, then divide by d50.",
                ),
                Slip(
                    "not divided by d50",
                    lambda n: Q((n.c - n.b).m_as("um")),
                    "This is d90 − d10 in µm. Divide it by d50.",
                ),
            ),
            working=(Step("The difference of the two sizes over the median.", "({c} - {b}) / {a}", digits=3),),
        ),
    ),
)
