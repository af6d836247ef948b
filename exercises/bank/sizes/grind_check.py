"""Is the ground barite within its limits of size?"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pint

from exercises.bank.sizes import Outcome
from exercises.fleet.envelope import BARITE_ABOVE_75_UM, BARITE_BELOW_6_UM
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import (
    Choice,
    Column,
    Convention,
    Known,
    Marks,
    Numeric,
    Option,
    PrintedColumn,
    Row,
    RowSlip,
    Slip,
    Table,
    absolute,
    relative,
)
from exercises.model.working import Step
from pitside.particles import GrindCheck, rosin_rammler_passing
from pitside.units import Q

#: Sizes of the test from the coarsest on, um, by the name of what is held above each.
SIZES = {"coarse": 75, "upper": 45, "middle": 30, "lower": 15, "fine": 6}
ROWS = tuple(SIZES)


#: Characteristic size (um), exponent and slimes (%) of grinds, from and to, by the limits that most of them break.
LOTS = {
    "neither": ((24, 36), (1.4, 2.1), (0, 24)),
    "coarse": ((26, 40), (0.9, 1.4), (0, 18)),
    "fine": ((32, 38), (1.7, 2.2), (29, 38)),
    "both": ((40, 52), (1.2, 1.7), (28, 34)),
}


def _between(n: Numbers, which: int) -> float:
    """A figure of the drawn lot, at its drawn place between its ends."""
    low, high = LOTS[n.lot][which]
    place = (n.characteristic_place, n.spread_place, n.slimes_place)[which].m_as("")
    return float(low + (high - low) * place)


def _held(row: str) -> Callable[[Numbers], pint.Quantity]:
    """Mass held above a size and below the one before it: a ground barite with some slimes finer than all sizes."""
    edges = Q(np.array([SIZES[name] for name in ROWS[: ROWS.index(row) + 1][-2:]], dtype=float), "um")

    def mass(n: Numbers) -> pint.Quantity:
        passing = n.slimes + (1 - n.slimes) * rosin_rammler_passing(edges, n.characteristic, n.spread)
        before = passing[0] if passing.size == 2 else Q(1.0)
        return n.sample * (before - passing[-1])

    return mass


def _above(n: Known, row: str) -> pint.Quantity:
    """Mass of all that is coarser than a size."""
    return sum(getattr(n, f"{name}_held") for name in ROWS[: ROWS.index(row) + 1])  # type: ignore[return-value]


def _passing(n: Known, row: str) -> pint.Quantity:
    return Q(1.0) - _above(n, row) / n.sample


def _median(n: Known) -> pint.Quantity:
    """Size at 50 %, on a straight line over the logarithm of size between 15 and 30 um."""
    lower, upper = n["a.lower.passing"].m_as(""), n["a.middle.passing"].m_as("")
    return Q(15.0, "um") * 2 ** ((0.5 - lower) / (upper - lower))


def _median_straight(n: Known) -> pint.Quantity:
    lower, upper = n["a.lower.passing"].m_as(""), n["a.middle.passing"].m_as("")
    return Q(15 + 15 * (0.5 - lower) / (upper - lower), "um")


def _median_turned(n: Known) -> pint.Quantity:
    lower, upper = n["a.lower.passing"].m_as(""), n["a.middle.passing"].m_as("")
    return Q(15 + 15 * (upper - 0.5) / (upper - lower), "um")


def _verdict(coarsest_passing: pint.Quantity, finest_passing: pint.Quantity) -> str:
    check = GrindCheck(1 - coarsest_passing.m_as(""), finest_passing.m_as(""))
    if check.within:
        return "passes"
    if check.fine_within:
        return "coarse"
    return "fine" if check.coarse_within else "both"


def _is_clear(n: Known) -> bool:
    """A median between two sizes of the test, not halfway, and residues that are clearly within a limit or not."""
    passing = {row: _passing(n, row).m_as("%") for row in ROWS}
    if not passing["lower"] <= 46 or not passing["middle"] >= 54:
        return False
    coarse, fine = 100 - passing["coarse"], passing["fine"]
    return bool(0.4 <= coarse <= 9 and not 2.6 <= coarse <= 3.4 and not 28.5 <= fine <= 31.5 and fine >= 3)


def _sum_above(row: str) -> str:
    return " + ".join(f"{{{name}_held}}" for name in ROWS[: ROWS.index(row) + 1])


EXERCISE = Exercise(
    title="Is the ground barite within its limits of size?",
    level=2,
    version=3,
    outcome=Outcome.DISTRIBUTION,
    digits=3,
    numbers=(
        Number("sample", Grid(50.0, 50.0, 0.1, "g")),
        Pick("lot", tuple(LOTS)),
        *(Number(f"{name}_place", Grid(0.0, 1.0, 0.05)) for name in ("characteristic", "spread", "slimes")),
        Derived("characteristic", lambda n: Q(_between(n, 0), "um"), "um", 1),
        Derived("spread", lambda n: Q(_between(n, 1)), "fraction", 2),
        Derived("slimes", lambda n: Q(_between(n, 2), "%"), "%", 1),
        *(Derived(f"{row}_held", _held(row), "g", 2) for row in SIZES),
    ),
    valid=_is_clear,
    envelope=(
        Within("coarser than 75 um", lambda n: 1 - n["a.coarse.passing"], BARITE_ABOVE_75_UM),
        Within("finer than 6 um", lambda n: n["a.fine.passing"], BARITE_BELOW_6_UM),
    ),
    setting=(
        "A new lot of barite came to rig Heron 4. A laboratory took a sample of {sample} and found how much of it lies "
        "between the sizes of the table: by wet sieving, and by sedimentation for the sizes that are too fine for a "
        "sieve. Each row has the mass of the grains that are coarser than its size and finer than the size in the row "
        "above; the first row has all that is coarser than 75 µm, and what is finer than 6 µm is in no row. Take as "
        "limits, by weight: at most 3.0 % coarser than 75 µm and at most 30 % finer than 6 µm. Barite dust harms the "
        "lungs: whoever takes the sample wears the mask and the goggles that the site's rules ask for."
    ),
    parts=(
        Table(
            key="a",
            ask="How much of the sample is finer than each size, in percent? Give one decimal.",
            corner="Size",
            rows=tuple(Row(row, f"{size} µm") for row, size in SIZES.items()),
            columns=(
                PrintedColumn("mass in this row", lambda row: f"{{{row.key}_held}}"),
                Column(
                    key="passing",
                    title="finer than this size",
                    unit="%",
                    solve=_passing,
                    plausible={
                        "coarse": Range(90, 100, "%"),
                        "upper": Range(65, 97, "%"),
                        "middle": Range(53, 85, "%"),
                        "lower": Range(15, 47, "%"),
                        "fine": Range(3, 45, "%"),
                    },
                    tolerance=absolute(0.15, "%", because="shares are written to a tenth of a percent"),
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "held for finer",
                            lambda n, row: _above(n, row) / n.sample,
                            "This is what is coarser, in all. What is finer is the rest, up to 100 %.",
                        ),
                        RowSlip(
                            "only this size taken off",
                            lambda n, row: Q(1.0) - getattr(n, f"{row}_held") / n.sample,
                            "You took off only what is held at this size. What is held at the coarser sizes is not "
                            "finer either.",
                            rows=ROWS[1:],
                        ),
                        RowSlip(
                            "grams for percent",
                            lambda n, row: (n.sample - _above(n, row)).m_as("g") * Q(1, "%"),
                            "These are grams. Divide by the sample for the share.",
                        ),
                    ),
                    working=lambda row: (
                        Step("Held at this size and above:", _sum_above(row), "above", "g", digits=4),
                        Step("The rest, as a share of the sample:", "100 * ({sample} - {above}) / {sample}", digits=4),
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What is d50, in µm? Draw a straight line between the two sizes on either side of it.",
            unit="um",
            uses=("a.middle.passing", "a.lower.passing"),
            solve=_median,
            plausible=Range(15, 30, "um"),
            conventions=(Convention("straight over the sizes themselves", _median_straight),),
            tolerance=relative(0.02, because="the shares are rounded, and a line may be drawn on a chart"),
            marks=Marks(2),
            slips=(
                Slip(
                    "from the wrong end",
                    _median_turned,
                    "You counted the way from 50 % back from the coarser size as the way up from the finer one.",
                ),
                Slip(
                    "next coarser size",
                    lambda n: Q(30, "um"),
                    "This is the next size of the table. d50 lies between two sizes: draw a line from one to the "
                    "other.",
                ),
                Slip(
                    "next finer size",
                    lambda n: Q(15, "um"),
                    "This is the next size of the table. d50 lies between two sizes: draw a line from one to the "
                    "other.",
                ),
            ),
            working=(
                Step(
                    "50 % lies between 15 µm and 30 µm. How far up from 15 µm:",
                    "(50 - {a.lower.passing}) / ({a.middle.passing} - {a.lower.passing})",
                    "part",
                    "fraction",
                ),
                Step(
                    "So far along from 15 to 30 on a logarithmic axis (straight over the sizes, 15 + 15 × that part, "
                    "also counts):",
                    "15 * (30 / 15)**{part}",
                    digits=3,
                ),
            ),
        ),
        Choice(
            key="c",
            ask="Is this barite within the limits?",
            options=(
                Option(
                    "passes",
                    "Yes, both.",
                    "Compare 100 % less your share at 75 µm with 3.0 %, and your share at 6 µm with 30 %.",
                ),
                Option(
                    "coarse",
                    "No: too much is coarser than 75 µm.",
                    "Compare what is left above 75 µm with 3.0 %, and look at 6 µm too.",
                ),
                Option(
                    "fine",
                    "No: too much is finer than 6 µm.",
                    "Compare your share at 6 µm with 30 %, and look at 75 µm too.",
                ),
                Option("both", "No: it breaks both limits.", "Compare each share with its own limit: one is kept."),
            ),
            right=lambda n: _verdict(n["a.coarse.passing"], n["a.fine.passing"]),
            uses=("a.coarse.passing", "a.fine.passing"),
            marks=Marks(1),
            outcome=Outcome.GRIND,
            reason=(
                "{a.coarse.passing} is finer than 75 µm, so the rest, up to 100 %, is compared with 3.0 %; "
                "{a.fine.passing} is finer than 6 µm and is compared with 30 %."
            ),
        ),
    ),
)
