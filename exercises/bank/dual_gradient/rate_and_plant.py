"""Three rates of light fluid: which of them bottom, shoe and plant bear, and what goes wrong when a flow changes."""

from __future__ import annotations

import pint

from exercises.bank.dual_gradient import FLOWS_ADDED, Outcome
from exercises.fleet.envelope import LARGE_BOWL_FEED, PUMP_RATE, WEIGHTED_MUD
from exercises.fleet.rigs import SMALL_HOLE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import (
    Choice,
    Column,
    Known,
    Marks,
    Numeric,
    Option,
    Point,
    PrintedColumn,
    Row,
    RowSlip,
    Slip,
    Table,
    Written,
)
from exercises.model.working import Step
from pitside.gradients import dual_gradient_mud_weight, riser_weight

ROWS = {"low": "Rate 1", "middle": "Rate 2", "high": "Rate 3"}
#: The first rate at which the shoe is safe, and the last one that bottom and plant bear, by the sound rate.
SAFE = {"low": (0, 0), "middle": (1, 1), "high": (2, 2), "none": (2, 1)}
#: What changes while the plan is run, and where it goes wrong. Common practice, no source.
CHANGES = {
    "the light fluid comes lighter than planned, at the planned rates": "bottom",
    "the mud is pumped more slowly, and the light fluid as before": "bottom",
    "the pump of the light fluid slows down, and the mud goes on as before": "shoe",
    "the light fluid is not cleaned well, and goes down heavier than planned, at the planned rates": "shoe",
    "one unit of the plant is open for cleaning, and a second one trips": "plant",
    "mud and light fluid are both pumped a fifth faster, to clean the hole": "plant",
}
OTHER_CHANGE = "Think of the riser first: does it grow lighter, heavier, or stay as it is while more comes back?"
LOOK = "Hold each rate against three limits: the weight at the bottom, the weight at the shoe, the flow of the plant."


def _rate(n: Known | Numbers, row: str) -> pint.Quantity:
    return getattr(n, row)


def _equivalent(n: Known | Numbers, depth: str, row: str) -> pint.Quantity:
    riser = riser_weight(n.mud_rate, n.mud_weight, _rate(n, row), n.light)
    return dual_gradient_mud_weight(getattr(n, depth), riser, n.mud_weight, n.mudline)


def _weight(depth: str, row: str) -> Derived:
    return Derived(f"{depth}_{row}", lambda n: _equivalent(n, depth, row), By("lb/gal", "kg/m3"), By(2, 0))


def _least(n: Numbers) -> pint.Quantity:
    """Least weight at the bottom: under that of the last rate that it bears, or under all of them."""
    low, middle, high = (_equivalent(n, "depth", row) for row in ROWS)
    ends = {0: (low + middle) / 2, 1: (middle + high) / 2}
    return ends.get(SAFE[n.sound][1], high - (middle - high) / 2) if n.by == "bottom" else high - (middle - high) / 2


def _most(n: Numbers) -> pint.Quantity:
    """Most weight at the shoe: over that of the first rate at which it is safe."""
    low, middle, high = (_equivalent(n, "shoe", row) for row in ROWS)
    return (low + (low - middle) / 2, (low + middle) / 2, (middle + high) / 2)[SAFE[n.sound][0]]


def _unit_flow(n: Numbers) -> pint.Quantity:
    """Flow of a unit, so that the plant with one standing by bears the last sound rate and no more, or all of them."""
    low, middle, high = (n.mud_rate + _rate(n, row) for row in ROWS)
    ends = {0: (low + middle) / 2, 1: (middle + high) / 2}
    capacity = ends.get(SAFE[n.sound][1], 1.05 * high) if n.by == "plant" else 1.05 * high
    return capacity / (n.units - 1)


def _capacity(n: Known | Numbers) -> pint.Quantity:
    return (n.units - 1) * n.unit_flow


def _sound(n: Known) -> str | tuple[str, ...]:
    kept = tuple(
        row
        for row in ROWS
        if getattr(n, f"depth_{row}") >= n.least
        and getattr(n, f"shoe_{row}") <= n.most
        and n[f"a.{row}.back"] <= n.b * 1.004  # flows may be rounded
    )
    return kept or "none"


def _can_be_told(n: Known) -> bool:
    """Units as they are built, and no rate so near the limit of the plant that rounding decides."""
    first, last = SAFE[n.sound]
    if not LARGE_BOWL_FEED.holds(n.unit_flow):
        return False
    for at, row in enumerate(ROWS):
        spare = float((_capacity(n) / (n.mud_rate + _rate(n, row))).m_as("")) - 1
        if abs(spare) < 0.015 or (n.by == "plant" and (spare > 0) != (at <= last)):
            return False
        if abs((getattr(n, f"depth_{row}") - n.least).m_as("lb/gal")) < 0.02:
            return False
        if abs((getattr(n, f"shoe_{row}") - n.most).m_as("lb/gal")) < 0.02:
            return False
        if (getattr(n, f"shoe_{row}") <= n.most) != (at >= first):
            return False
    return True


EXERCISE = Exercise(
    title="A rate that all can bear",
    level=2,
    version=2,
    outcome=Outcome.DEFENDING,
    tolerance=FLOWS_ADDED,
    numbers=(
        Pick("sound", tuple(SAFE)),
        Pick("by", ("bottom", "plant")),
        Pick("change", tuple(CHANGES)),
        Number("depth", Grid(17_000, 21_000, 500, "ft"), Grid(5200, 6400, 100, "m")),
        Number("mudline", Grid(5000, 7000, 250, "ft"), Grid(1500, 2100, 50, "m")),
        Number("shoe", Grid(10_500, 12_500, 250, "ft"), Grid(3200, 3800, 50, "m")),
        SMALL_HOLE.flow.part(400, 500).number("mud_rate", (10, "gal/min"), (50, "L/min")),
        Number("mud_weight", Grid(12.0, 13.5, 0.1, "lb/gal"), Grid(1440, 1620, 10, "kg/m3")),
        Number("light", Grid(7.0, 7.4, 0.1, "lb/gal"), Grid(840, 890, 10, "kg/m3")),
        Number("middle", Grid(300, 450, 10, "gal/min"), Grid(1150, 1700, 50, "L/min")),
        Number("apart", Grid(80, 120, 10, "gal/min"), Grid(300, 450, 50, "L/min")),
        Derived("low", lambda n: n.middle - n.apart, By("gal/min", "L/min"), 0),
        Derived("high", lambda n: n.middle + n.apart, By("gal/min", "L/min"), 0),
        *(_weight(depth, row) for row in ROWS for depth in ("depth", "shoe")),
        Derived("least", _least, By("lb/gal", "kg/m3"), By(2, 0)),
        Derived("most", _most, By("lb/gal", "kg/m3"), By(2, 0)),
        Number("units", Grid(5, 7, 1)),
        Derived("unit_flow", _unit_flow, By("gal/min", "L/min"), By(0, -1)),
    ),
    valid=_can_be_told,
    envelope=(
        Within("rate of the mud", lambda n: n.mud_rate, PUMP_RATE),
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("flow of a unit, a large bowl or some modules", lambda n: n.unit_flow, LARGE_BOWL_FEED),
    ),
    setting=(
        "Rig Northern Gannet drills another well with two gradients: sea floor at {mudline}, casing shoe at {shoe}, "
        "bottom at {depth}, true vertical depths from the rig. Mud of {mud_weight} comes up the well at {mud_rate}; "
        "light fluid of {light} is pumped in at the sea floor and comes back with it. Three rates of light fluid are "
        "on the table. The office worked out the equivalent mud weight that each gives at the bottom and at the "
        "casing shoe, from the weights of the two fluids alone, without friction. At the bottom it may not be below "
        "{least}, or the well may flow. At the shoe it may not be above {most}, or the rock may break. The return "
        "passes the shakers, then a plant made of {units} equal units side by side; each takes {unit_flow} of the "
        "return, and one of them always stands by. This is arithmetic for learning: deepwater well control is for "
        "certified people."
    ),
    parts=(
        Table(
            key="a",
            ask="What comes back to the deck at each rate?",
            corner="Light fluid",
            rows=tuple(Row(key, title) for key, title in ROWS.items()),
            columns=(
                PrintedColumn("Rate of light fluid", lambda row: f"{{{row.key}}}"),
                PrintedColumn("At the bottom", lambda row: f"{{depth_{row.key}}}"),
                PrintedColumn("At the shoe", lambda row: f"{{shoe_{row.key}}}"),
                Column(
                    key="back",
                    title="Return",
                    unit=By("gal/min", "L/min"),
                    solve=lambda n, row: n.mud_rate + _rate(n, row),
                    plausible=Range(550, 1100, "gal/min"),
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "mud alone",
                            lambda n, row: n.mud_rate,
                            "This is the mud alone. The light fluid comes back with it.",
                        ),
                        RowSlip(
                            "light fluid taken off",
                            lambda n, row: abs(n.mud_rate - _rate(n, row)),
                            "You took one from the other. Both come back: add them.",
                        ),
                    ),
                    working=lambda row: (Step("Mud and light fluid:", f"{{mud_rate}} + {{{row}}}"),),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What return can the plant take while one unit stands by?",
            unit=By("gal/min", "L/min"),
            solve=_capacity,
            plausible=Range(550, 1200, "gal/min"),
            marks=Marks(1),
            slips=(
                Slip(
                    "all units",
                    lambda n: n.units * n.unit_flow,
                    "You counted all units. One stands by: count the others.",
                ),
                Slip("one unit", lambda n: n.unit_flow, "This is one unit. Multiply by those that run."),
            ),
            working=(Step("The units that run, times the flow of one:", "({units} - 1) * {unit_flow}"),),
        ),
        Choice(
            key="c",
            ask="Which rate keeps the limits of bottom, shoe and plant?",
            uses=("a.low.back", "a.middle.back", "a.high.back", "b"),
            options=(
                *(Option(row, f"{title}.", LOOK) for row, title in ROWS.items()),
                Option("none", "None of them: each breaks a limit.", LOOK),
            ),
            right=_sound,
            marks=Marks(2),
            reason=(
                "At the bottom {depth_low}, {depth_middle}, {depth_high}, at least {least}. At the shoe {shoe_low}, "
                "{shoe_middle}, {shoe_high}, at most {most}. Return {a.low.back}, {a.middle.back}, {a.high.back}; the "
                "plant takes {b}."
            ),
        ),
        Choice(
            key="d",
            ask=(
                "Later {change}. Which limit comes nearer, or is passed? Leave friction out here too. (Tell the "
                "driller in any case.)"
            ),
            options=(
                Option("bottom", "At the bottom: the riser grows lighter, and the well may flow.", OTHER_CHANGE),
                Option("shoe", "At the shoe: the riser grows heavier, and the rock may break.", OTHER_CHANGE),
                Option("plant", "At the plant: its room for what comes back gets smaller, or is gone.", OTHER_CHANGE),
            ),
            right=lambda n: CHANGES[n.change],
            marks=Marks(1),
            reason=(
                "The weight of the riser hangs on the ratio of the two flows and on their weights. Both flows together "
                "are what the plant must take."
            ),
        ),
        Written(
            key="e",
            ask="Defend your answer to (c) to the drilling superintendent in three or four sentences.",
            points=(
                Point(
                    "Gives, with figures, the room at the bottom, at the shoe and at the plant; if no rate is sound, "
                    "says which limits shut each other out.",
                    1,
                ),
                Point("Says which way each goes wrong: light at the bottom, heavy at the shoe, too much return.", 1),
                Point("Says who is told first when a flow changes, and leaves the well to certified people.", 1),
            ),
            model=(
                "I give the weight at the bottom and at the shoe beside their limits, and the return beside what the "
                "plant takes with one unit standing by. More light fluid would make the bottom too light or bring back "
                "more than the plant takes; less would make the shoe too heavy. Where no rate keeps all three, a rate "
                "between two of them or one more unit must be looked at first. When a flow or a weight changes, the "
                "driller hears at once, and certified people decide."
            ),
        ),
    ),
)
