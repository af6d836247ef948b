"""Three packages on offer: which of them keeps its limits of flow, power and drilled solids."""

from __future__ import annotations

import pint

from exercises.bank.packages import CARRIED, Outcome
from exercises.fleet.envelope import DRILLED_SOLIDS, FLOW_OVER_SHAKER
from exercises.fleet.rigs import MIDDLE_HOLE
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import (
    Choice,
    Column,
    Known,
    Marks,
    Option,
    Point,
    PrintedColumn,
    Row,
    RowSlip,
    Table,
    Written,
    relative,
)
from exercises.model.working import Step
from pitside.units import Q

ROWS = {"one": "Package 1", "two": "Package 2", "three": "Package 3"}
#: The limit that each package breaks when it is not the sound one, in the order of the rows.
BROKEN = ("flow, power, solids", "power, solids, flow", "solids, flow, power", "flow, solids, power")
#: How far a figure lies on the right side of its limit, or on the wrong one, as a share of the limit.
KEEPS, BREAKS = (0.04, 0.14), (0.06, 0.14)
POWER_OF_A_PACKAGE = Usual(100, 260, "hp", "shakers, a pump for the cones and a bowl, as they run; no source")
BUILT = Usual(25, 70, "bbl/h")
LOOK = "Hold the flow, the power and the drilled solids of each package against the three limits, one by one."


def _wanted(n: Known | Numbers) -> pint.Quantity:
    return n.flow * (1 + n.margin)


def _breaks(n: Numbers, row: str) -> str:
    """The limit that this package breaks, if any."""
    return "" if n.sound == row else str(n.broken).split(", ")[list(ROWS).index(row)]


def _from_limit(n: Numbers, row: str, what: str) -> float:
    """What this package has of a figure, over the limit: more is worse."""
    place = float(getattr(n, f"{row}_place").m_as(""))
    broken = _breaks(n, row) == what
    low, high = BREAKS if broken else KEEPS
    apart = low + (high - low) * place
    return 1 + apart if broken else 1 - apart


def _shaker(row: str) -> Derived:
    return Derived(
        f"{row}_flow",
        lambda n: _wanted(n) * (2 - _from_limit(n, row, "flow")) / (getattr(n, f"{row}_shakers") - 1),
        By("gal/min", "m3/h"),
        By(-1, 0),
    )


def _power(row: str) -> Derived:
    return Derived(f"{row}_power", lambda n: n.supply * _from_limit(n, row, "power"), By("hp", "kW"), 0)


def _removal(row: str) -> Derived:
    return Derived(f"{row}_removal", lambda n: 1 - n.limit * _from_limit(n, row, "solids") * n.built / n.rock, "%", 0)


def _one_out(n: Known, row: str) -> pint.Quantity:
    return (getattr(n, f"{row}_shakers") - 1) * getattr(n, f"{row}_flow")


def _stays(n: Known | Numbers, row: str) -> pint.Quantity:
    return n.rock * (1 - getattr(n, f"{row}_removal"))


def _solids(n: Known | Numbers, row: str) -> pint.Quantity:
    """Share of drilled solids in the long run: what stays in an hour over the mud that is built in an hour."""
    return Q(1.0) * _stays(n, row) / n.built


def _keeps(n: Known, row: str) -> bool:
    return bool(
        n[f"a.{row}.flow"] >= _wanted(n) and getattr(n, f"{row}_power") <= n.supply and n[f"a.{row}.solids"] <= n.limit
    )


def _sound(n: Known) -> str | tuple[str, ...]:
    return tuple(row for row in ROWS if _keeps(n, row)) or "none"


def _over_a_shaker(row: str) -> Within:
    return Within("flow over a shaker", lambda n: getattr(n, f"{row}_flow"), FLOW_OVER_SHAKER)


def _can_be_told(n: Known) -> bool:
    """Usual shakers and removal, and no figure that rounding has brought near its limit or over it."""
    for row in ROWS:
        figures = (
            ("flow", float((_wanted(n) / _one_out(n, row)).m_as(""))),
            ("power", float((getattr(n, f"{row}_power") / n.supply).m_as(""))),
            ("solids", float((_solids(n, row) / n.limit).m_as(""))),
        )
        for what, share in figures:
            if abs(share - 1) < 0.025 or (share > 1) != (_breaks(n.drawn, row) == what):
                return False
        if not 0.5 <= getattr(n, f"{row}_removal").m_as("") <= 0.86:
            return False
        if not FLOW_OVER_SHAKER.holds(getattr(n, f"{row}_flow")):
            return False
    return True


EXERCISE = Exercise(
    title="Choose a package",
    level=2,
    version=2,
    outcome=Outcome.DEFEND,
    tolerance=CARRIED,
    numbers=(
        Pick("sound", (*ROWS, "none")),
        Pick("broken", BROKEN),
        MIDDLE_HOLE.flow.number("flow", (10, "gal/min"), (2, "m3/h")),
        Number("margin", Grid(10, 20, 5, "%")),
        Derived("wanted", _wanted, By("gal/min", "m3/h"), 1),
        Number("rock", Grid(6.0, 11.0, 0.5, "bbl/h"), Grid(1.0, 1.8, 0.1, "m3/h")),
        Number("built", Grid(30, 60, 5, "bbl/h"), Grid(5, 9, 1, "m3/h")),
        Number("limit", Grid(4.5, 6.5, 0.5, "%")),
        Number("supply", Grid(120, 220, 10, "hp"), Grid(90, 165, 5, "kW")),
        *(Number(f"{row}_shakers", Grid(3, 5, 1)) for row in ROWS),
        *(Number(f"{row}_place", Grid(0, 1, 0.1)) for row in ROWS),
        *(_shaker(row) for row in ROWS),
        *(_power(row) for row in ROWS),
        *(_removal(row) for row in ROWS),
    ),
    valid=_can_be_told,
    envelope=(
        *(_over_a_shaker(row) for row in ROWS),
        Within("power drawn by a package", lambda n: n.one_power, POWER_OF_A_PACKAGE),
        Within("mud built in an hour", lambda n: n.built, BUILT),
        Within("drilled solids in the long run", lambda n: n["a.one.solids"], DRILLED_SOLIDS),
    ),
    setting=(
        "Rig Heron 4 plans a section of Marram-1. It circulates {flow}, and {rock} of rock comes up, counted without "
        "its pores. Three packages of shakers, cones and a centrifuge are on offer; the table says what each is made "
        "of, what it draws while it runs, and which share of the rock a trial on this mud found that it takes out. "
        "The flow over one shaker is for API 140 screens. Three limits count:\n\n"
        "- The shakers carry the flow and {margin} more with one shaker out of service.\n"
        "- The package draws at most {supply}.\n"
        "- The mud ends at {limit} drilled solids or less, with {built} of mud built in each hour (counted with the "
        "rock in it). Work out that share as the rock that stays in an hour over the mud built in an hour.\n\n"
        "The three do not ask what happens when a centrifuge or a cone pump fails."
    ),
    parts=(
        Table(
            key="a",
            ask="Fill in the table.",
            corner="Package",
            rows=tuple(Row(key, title) for key, title in ROWS.items()),
            columns=(
                PrintedColumn("Shakers", lambda row: f"{{{row.key}_shakers}}"),
                PrintedColumn("Flow over one shaker", lambda row: f"{{{row.key}_flow}}"),
                PrintedColumn("Power drawn", lambda row: f"{{{row.key}_power}}"),
                PrintedColumn("Rock taken out", lambda row: f"{{{row.key}_removal}}"),
                Column(
                    key="flow",
                    title="Flow with one shaker out",
                    unit=By("gal/min", "m3/h"),
                    solve=_one_out,
                    plausible=Range(650, 1500, "gal/min"),
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "all shakers",
                            lambda n, row: getattr(n, f"{row}_shakers") * getattr(n, f"{row}_flow"),
                            "You counted all shakers. One of them is out of service: count the rest.",
                        ),
                        RowSlip(
                            "one shaker",
                            lambda n, row: getattr(n, f"{row}_flow"),
                            "This is the flow of one shaker. Multiply by the shakers that run.",
                        ),
                    ),
                    working=lambda row: (
                        Step("One shaker less, times the flow of one:", f"({{{row}_shakers}} - 1) * {{{row}_flow}}"),
                    ),
                ),
                Column(
                    key="solids",
                    title="Drilled solids in the end, in percent",
                    unit="%",
                    solve=_solids,
                    plausible=Range(3.5, 8, "%"),
                    tolerance=relative(0.012, because="one decimal more than the limit has"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "the rock that is taken out",
                            lambda n, row: Q(1.0) * n.rock * getattr(n, f"{row}_removal") / n.built,
                            "You took the rock that is taken out. What stays makes the drilled solids of the mud.",
                        ),
                        RowSlip(
                            "all of the rock",
                            lambda n, row: Q(1.0) * n.rock / n.built,
                            "You took all of the rock. Take off what the package takes out.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Rock that stays in an hour:",
                            f"{{rock}} * (1 - {{{row}_removal}} / 100)",
                            "stays",
                            By("bbl/h", "m3/h"),
                        ),
                        Step("Over the mud that is built in an hour, in percent:", "{stays} / {built} * 100"),
                    ),
                ),
            ),
        ),
        Choice(
            key="b",
            ask="Which package keeps all three limits?",
            uses=tuple(f"a.{row}.{column}" for row in ROWS for column in ("flow", "solids")),
            options=(
                *(Option(row, f"{title}.", LOOK) for row, title in ROWS.items()),
                Option("none", "None: each breaks a limit.", LOOK),
            ),
            right=_sound,
            marks=Marks(2),
            reason=(
                "With one shaker out: {a.one.flow}, {a.two.flow} and {a.three.flow}. Drilled solids: {a.one.solids}, "
                "{a.two.solids} and {a.three.solids}, at most {limit}. Power: {one_power}, {two_power} and "
                "{three_power}, at most {supply}. The flow with its margin is {wanted}."
            ),
        ),
        Written(
            key="c",
            ask="Defend your answer to (b) to the toolpusher in three or four sentences.",
            points=(
                Point(
                    "Gives flow, power and drilled solids of the package beside their limits; if none is sound, says "
                    "what must change first.",
                    1,
                ),
                Point("Names, with its figure, the limit that each other package breaks.", 1),
                Point(
                    "Names something that the table does not say: price, room, spares, crew, or where the shares of "
                    "the trial came from.",
                    1,
                ),
            ),
            model=(
                "I set the three figures of the package beside the three limits: flow with one shaker out, power, "
                "drilled solids in the end. Each of the others breaks one of them, and I say which and by how much. "
                "Where none keeps all three I order none yet: I ask for one more shaker, a smaller drive, or more mud "
                "built, whichever limit is the nearest. Price, room, spares and crew are not in the table, and the "
                "shares hold for the mud and the screens of the trial alone. With the only bowl or cone pump out the "
                "section is not covered yet: a second one, or a written plan for those hours."
            ),
        ),
    ),
)
