"""A small exercise of every kind of part, made for the tests of the model alone; nothing of it is in the bank."""

from __future__ import annotations

import dataclasses
from typing import Any

from exercises.model import (
    Before,
    By,
    Choice,
    Column,
    Convention,
    Exercise,
    Grid,
    Marks,
    Number,
    Numbers,
    Numeric,
    Option,
    Order,
    PrintedColumn,
    Row,
    RowSlip,
    Slip,
    Step,
    System,
    Table,
    relative,
)
from exercises.model.numbers import Drawn
from exercises.model.variant import Variant
from pitside.units import Q

NEAR = relative(0.01, because="a test needs some tolerance")

DENSITY = Numeric(
    key="a",
    ask="A pit of {volume} holds {mass} of mud. What is its density?",
    unit=By("lb/gal", "kg/m3"),
    solve=lambda n: n.mass / n.volume,
    conventions=(Convention("three per cent more", lambda n: 1.03 * n.mass / n.volume),),
    tolerance=NEAR,
    marks=Marks(2, unit=1),
    outcome="Find a density.",
    slips=(
        Slip("doubled", lambda n: 2 * n.mass / n.volume, "You doubled it."),
        Slip(
            "halved",
            lambda n: 0.5 * n.mass / n.volume,
            By("You halved it (field).", "You halved it (metric)."),
            keeps=0.5,
        ),
        Slip("a third", lambda n: n.mass / n.volume / 3, "A third.", only=System.METRIC),
    ),
    working=(Step("Mass over volume.", By("{mass} / ({volume} * 42)", "{mass} / {volume}")),),
)
GROWN = Numeric(
    key="b",
    ask="What would {volume} of it weigh with a tenth more of it?",
    unit=By("lb", "kg"),
    uses=("a",),
    solve=lambda n: 1.1 * n.a * n.volume,
    tolerance=NEAR,
    marks=Marks(3, follow=2),
    outcome="Find a mass.",
    slips=(
        Slip("a tenth less", lambda n: 0.9 * n.a * n.volume, "You took a tenth off."),
        Slip("only the tenth", lambda n: 0.1 * n.a * n.volume, "That is the tenth alone."),
    ),
    working=(Step("A tenth more.", By("1.1 * {a} * {volume} * 42", "1.1 * {a} * {volume}")),),
)
HEAVY = Choice(
    key="c",
    ask="Is it heavier than 10 lb/gal?",
    options=(
        Option("heavy", "It is heavier.", "It is not."),
        Option("light", "It is lighter.", By("It is not (field).", "It is not (metric).")),
    ),
    right=lambda n: "heavy" if n.a > Q(10, "lb/gal") else "light",
    uses=("a",),
    marks=Marks(1),
    outcome="Compare.",
    reason="It weighs {a}.",
)
STEPS = Order(
    key="d",
    ask="Put the steps in order.",
    steps={"open": "Open.", "fill": "Fill.", "close": "Close.", "heat": "Heat."},
    rules=(
        Before("open", "fill", "Open before you fill."),
        Before("fill", "close", "Fill before you close."),
        Before("close", "heat", "Close before you heat."),
    ),
    marks=Marks(3),
    outcome="Work in order.",
    reason="One way only.",
)
SHARES = Table(
    key="e",
    ask="Fill the table.",
    rows=(Row("half", "Half of it"), Row("whole", "All of it")),
    columns=(
        PrintedColumn("Mud", lambda row: "{volume}"),
        Column(
            key="mass",
            title="Mass",
            unit=By("lb", "kg"),
            solve=lambda n, row: n.mass * (0.5 if row == "half" else 1),
            tolerance=NEAR,
            marks=Marks(1),
            slips=(
                RowSlip("thrice", lambda n, row: 3 * n.mass, "Three times."),
                RowSlip("all of it", lambda n, row: n.mass, "Only half.", rows=("half",)),
            ),
            working=lambda row: (Step("So much.", "{mass} * 0.5" if row == "half" else "{mass} * 1"),),
        ),
        Column(
            key="double",
            title="Twice the mass",
            unit=By("lb", "kg"),
            uses=(".mass",),
            solve=lambda n, row: 2 * n[f"e.{row}.mass"],
            tolerance=NEAR,
            marks=Marks(1),
            slips=(RowSlip("once", lambda n, row: n[f"e.{row}.mass"], "Not doubled."),),
            working=lambda row: (Step("Twice.", f"2 * {{e.{row}.mass}}"),),
        ),
    ),
    outcome="Fill a table.",
)

TOY = Exercise(
    id="toy",
    title="A pit of mud",
    lesson="none",
    level=2,
    version=1,
    numbers=(
        Number("mass", Grid(20_000, 40_000, 100, "lb"), Grid(9000, 18_000, 50, "kg")),
        Number("volume", Grid(60.0, 80.0, 0.5, "bbl"), Grid(9.0, 12.0, 0.1, "m3")),
    ),
    setting="There is {volume} of mud.",
    parts=(DENSITY, GROWN, HEAVY, STEPS, SHARES),
)

NUMBERS = {
    System.FIELD: Numbers(
        {"mass": Drawn(29_400, "lb", 0), "volume": Drawn(70.0, "bbl", 1), "shuffle.d": "heat,fill,open,close"}
    ),
    System.METRIC: Numbers(
        {"mass": Drawn(12_000, "kg", 0), "volume": Drawn(10.0, "m3", 1), "shuffle.d": "heat,fill,open,close"}
    ),
}


def toy(system: System = System.FIELD, **changes: Any) -> Variant:
    """The toy with fixed numbers (10.0 lb/gal exactly in field units), changed where told."""
    return Variant(dataclasses.replace(TOY, **changes), system, NUMBERS[system])


def with_part(key: str, **changes: Any) -> tuple[Any, ...]:
    """The toy's parts with one of them changed."""
    return tuple(dataclasses.replace(part, **changes) if part.key == key else part for part in TOY.parts)
