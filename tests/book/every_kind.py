"""An exercise with a part of every kind, for what the bank's own exercises may not hold yet."""

from __future__ import annotations

from exercises.model import (
    Before,
    By,
    Choice,
    Column,
    Exercise,
    Grid,
    Marks,
    Number,
    Numeric,
    Option,
    Order,
    PrintedColumn,
    Row,
    RowSlip,
    Slip,
    Step,
    Table,
    relative,
)
from pitside.hydrostatics import column_pressure
from pitside.volumes import pit_volume

SHARE = {"half": 0.5, "full": 1.0}
CLOSE = relative(0.005, because="three figures are read")

EVERY_KIND = Exercise(
    id="every-kind",
    title="A <pit> & its column",
    lesson="mud-weight",
    level=2,
    version=1,
    numbers=(
        Number("mud", Grid(10.0, 14.0, 0.1, "lb/gal"), Grid(1200, 1680, 10, "kg/m3")),
        Number("depth", Grid(8000, 12000, 50, "ft"), Grid(2400, 3600, 10, "m")),
        Number("side", Grid(18, 24, 1, "ft"), Grid(5.5, 7.5, 0.1, "m")),
    ),
    setting="The hole is {depth} deep and full of mud of {mud}. The pit is square, its side {side}.",
    parts=(
        Numeric(
            key="a",
            ask="What is the pressure at the bottom?",
            unit=By("psi", "kPa"),
            solve=lambda n: column_pressure(n.mud, n.depth),
            tolerance=CLOSE,
            marks=Marks(2, unit=1),
            outcome="compute the pressure of a column",
            slips=(Slip("half the depth", lambda n: column_pressure(n.mud, n.depth / 2), "Use all of it."),),
            working=(Step("Column:", By("0.0519481 * {mud} * {depth}", "0.00980665 * {mud} * {depth}")),),
        ),
        Numeric(
            key="b",
            ask="And in a hole half as deep again?",
            unit=By("psi", "kPa"),
            solve=lambda n: n.a * 1.5,
            tolerance=CLOSE,
            marks=Marks(1),
            outcome="compute the pressure of a column",
            slips=(Slip("twice as deep", lambda n: n.a * 2, "Half as deep again is 1.5 times."),),
            working=(Step("Half as much again:", "1.5 * {a}"),),
            uses=("a",),
        ),
        Table(
            key="c",
            ask="What does the pit hold?",
            corner="Depth of mud",
            rows=(Row("half", "half the side"), Row("full", "the side")),
            columns=(
                PrintedColumn("share", lambda row: {"half": "1/2", "full": "1"}[row.key]),
                Column(
                    key="volume",
                    title="Volume",
                    unit=By("bbl", "m3"),
                    solve=lambda n, row: pit_volume(n.side, n.side, n.side * SHARE[row]),
                    tolerance=CLOSE,
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "a quarter of it",
                            lambda n, row: pit_volume(n.side, n.side, n.side / 4),
                            "The depth is not a quarter.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Volume:",
                            By(f"{{side}}**3 * {SHARE[row]} / 5.61458", f"{{side}}**3 * {SHARE[row]}"),
                        ),
                    ),
                ),
            ),
            outcome="compute the volume of a pit",
        ),
        Choice(
            key="d",
            ask="What counts for the pressure?",
            options=(
                Option("width", "the width of the hole", "The width cancels."),
                Option("depth", "the vertical depth", ""),
            ),
            right=lambda n: "depth",
            marks=Marks(1),
            outcome="say which depth counts",
            reason="The area cancels.",
        ),
        Order(
            key="e",
            ask="Put the steps in order.",
            steps={"tell": "Tell the driller", "walk": "Walk the line", "open": "Open the valve"},
            rules=(
                Before("tell", "open", "The driller must know first."),
                Before("walk", "open", "An unchecked line spills."),
            ),
            marks=Marks(2),
            outcome="order the steps of a transfer",
            reason="Nothing moves before it is known and checked.",
        ),
    ),
)
