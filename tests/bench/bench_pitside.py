"""How long the calculations take as arrays, against a plain loop over single Pint quantities.

Run with ``make bench``. Times are processor time, the best of several runs; the ratio is what travels. A loop that
takes long is run on a part of its draws and scaled up; the table says on how many.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pint

from pitside.particles import SizeDistribution, typical_barite, typical_drilled_fines
from pitside.partition import PartitionCurve
from pitside.retort import solids_analysis
from pitside.separation import Mixer, Network, Separator, Solid, Stream, recovery, two_stage_recovery
from pitside.units import Q

DRAWS = 10_000
BARITE, DRILLED = Solid("barite", Q(4.2, "SG")), Solid("drilled solids", Q(2.6, "SG"))
WATER = Q(1.0, "SG")
GRINDS = {BARITE: typical_barite(), DRILLED: typical_drilled_fines()}
MUD = Stream.of_mud(Q(250, "gal/min"), WATER, {BARITE: (0.15, GRINDS[BARITE]), DRILLED: (0.06, GRINDS[DRILLED])})


@dataclass(frozen=True)
class Row:
    """A line of the table: what was timed, as arrays and as a loop, and how much of the loop was really run."""

    what: str
    aim: str
    arrays: float
    loop: float
    loop_note: str

    def __str__(self) -> str:
        return (
            f"{self.what:<58} {_spoken(self.arrays):>9} {self.aim:>12} {_spoken(self.loop):>9} "
            f"{self.loop / self.arrays:>7,.0f} x  {self.loop_note}"
        )


def _spoken(seconds: float) -> str:
    return f"{seconds * 1e3:.1f} ms" if seconds < 1 else f"{seconds:.2f} s"


def best(work: Callable[[], object], runs: int) -> float:
    """Shortest of several runs in processor time, s, so that a busy machine does not matter."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def curve(cut_point: pint.Quantity) -> PartitionCurve:
    return PartitionCurve(cut_point, Q(2.6, "SG"), WATER, sharpness=2.2, bypass=0.08)


def ten_separators() -> Network:
    """Ten machines, each finer than the one before, the last one's underflow back to the first."""
    cuts = np.geomspace(60, 4, 10)
    units = [Mixer("suction", ["mud", "under 9"], "feed 0")]
    units += [
        Separator(f"machine {n}", f"feed {n}", f"under {n}", f"feed {n + 1}", curve(Q(cut, "um")), 0.08)
        for n, cut in enumerate(cuts)
    ]
    return Network({"mud": MUD}, units)


def class_by_class(network: Network) -> list[pint.Quantity]:
    """One pass of the same solids through the same machines, a quantity for each class (the recycle left out)."""
    left = []
    machines = [unit for unit in network.units if isinstance(unit, Separator)]
    for place, kind in enumerate(MUD.solids):
        for size, rate in zip(MUD.sizes, MUD.rates[place], strict=True):
            for machine in machines:
                rate = rate * (1 - machine.curve.to_underflow(size, kind.density))
            left.append(rate)
    return left


def readings(generator: np.random.Generator, draws: int) -> tuple[pint.Quantity, ...]:
    """Mud weight, water, oil and chlorides of a retort with its reading errors."""
    return (
        Q(generator.normal(16.0, 0.05, draws), "lb/gal"),
        Q(generator.normal(57.0, 0.5, draws), "percent"),
        Q(generator.normal(7.5, 0.5, draws), "percent"),
        Q(generator.normal(73_000, 1000, draws), "mg/L"),
    )


def retort_by_draw(drawn: tuple[pint.Quantity, ...], draws: int) -> list[pint.Quantity]:
    return [solids_analysis(*(reading[n] for reading in drawn)).low_gravity for n in range(draws)]


def recovery_by_draw(grind: SizeDistribution, cuts: pint.Quantity, draws: int) -> list[pint.Quantity]:
    """Share to the underflow of each draw, class by class."""
    found = []
    for n in range(draws):
        one = curve(cuts[n])
        total = Q(0.0)
        for size, fraction in zip(grind.centres, grind.fractions, strict=True):
            total = total + fraction * one.to_underflow(size, BARITE.density)
        found.append(total)
    return found


def rows() -> list[Row]:
    generator = np.random.default_rng(2024)
    network = ten_separators()
    table = [
        Row(
            "network: ten separators with recycle, 50 classes, 2 solids",
            "under 10 ms",
            best(network.solve, 20),
            best(lambda: class_by_class(network), 1),
            "class by class, one pass, no recycle",
        )
    ]
    drawn, part = readings(generator, DRAWS), 200
    table.append(
        Row(
            f"retort: {DRAWS:,} draws of one analysis",
            "about 1 s",
            best(lambda: solids_analysis(*drawn), 3),
            best(lambda: retort_by_draw(drawn, part), 1) * DRAWS / part,
            f"from {part} draws",
        )
    )
    cuts, part = Q(generator.normal(15, 2, DRAWS), "um"), 20
    table.append(
        Row(
            f"recovery: {DRAWS:,} draws of a cut point, 50 classes",
            "about 1 s",
            best(lambda: recovery(GRINDS[BARITE], BARITE.density, curve(cuts[:, None])), 3),
            best(lambda: recovery_by_draw(GRINDS[BARITE], cuts, part), 1) * DRAWS / part,
            f"class by class, from {part} draws",
        )
    )
    fine, part = curve(Q(4, "um")), 50
    table.append(
        Row(
            f"two-stage recovery: {DRAWS:,} draws of the first cut point",
            "about 1 s",
            best(lambda: two_stage_recovery(MUD, curve(cuts[:, None, None]), fine, 0.08, 0.08), 1),
            best(lambda: [two_stage_recovery(MUD, curve(cuts[n]), fine, 0.08, 0.08) for n in range(part)], 1)
            * DRAWS
            / part,
            f"a network a draw, from {part} draws",
        )
    )
    return table


def main() -> None:
    """Print the table."""
    print(f"{'':<58} {'arrays':>9} {'aim':>12} {'loop':>9} {'ratio':>9}")
    for row in rows():
        print(row)


if __name__ == "__main__":
    main()
