"""Barite that a recovery machine gives back, and drilled solids that it throws out, from two grinds."""

from __future__ import annotations

import functools

import numpy as np
import pint

from exercises.bank.barite_recovery import Outcome
from exercises.fleet.envelope import (
    BARITE_BOWL_FEED,
    CUT_OF_BARITE_BOWL,
    DRILLED_SOLIDS,
    SHARE_OF_ACTIVE,
    SOLIDS_THROUGH_SMALL_BOWL,
    UNDERFLOW_OF_BOWL,
    WEIGHTED_MUD,
)
from exercises.fleet.machines import BARITE_BOWL
from exercises.fleet.rigs import HERON_4
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range
from exercises.model.parts import (
    Column,
    Known,
    Marks,
    Numeric,
    PrintedColumn,
    Row,
    RowSlip,
    Slip,
    Table,
    absolute,
    relative,
)
from exercises.model.usual_slips import KILOGRAMS_CALLED_TONNES, POUNDS_CALLED_SACKS
from exercises.model.working import Step
from pitside.particles import SizeDistribution, lognormal, rosin_rammler
from pitside.partition import PartitionCurve
from pitside.settling import equal_settling_ratio
from pitside.units import Q

EDGES = Q([1.0, 6.0, 12.0, 25.0, 100.0], "um")
ROWS = ("w", "x", "y", "z")
TITLES = ("under 6 µm", "6 to 12 µm", "12 to 25 µm", "over 25 µm")
MIDDLES = Q([4.0, 8.5, 17.0, 40.0], "um")


@functools.lru_cache(maxsize=4096)
def _grind(solid: str, d50: float) -> SizeDistribution:
    if solid == "barite":
        return rosin_rammler(EDGES, 1.2, d50=Q(d50, "um"))
    return lognormal(EDGES, Q(d50, "um"), 2.5)


@functools.lru_cache(maxsize=4096)
def _to_underflow(cut: float, bypass: float, gravity: float) -> np.ndarray:
    """Share of each class; fines go where their water goes, so that its share is the bypass."""
    curve = PartitionCurve(Q(cut, "um"), Q(2.6, "SG"), Q(1.0, "SG"), sharpness=1.6, bypass=bypass)
    return np.asarray(curve.to_underflow(MIDDLES, Q(gravity, "SG")).m_as(""))


def _in_class(solid: str, row: int) -> Derived:
    """Percent of a solid in a class; the last class is what is missing to 100."""

    def work(n: Numbers) -> pint.Quantity:
        d50 = float(getattr(n, f"{solid}_size").m_as("um"))
        whole = np.round(100 * _grind(solid, d50).fractions, 0)
        return Q(whole[row] if row < 3 else 100 - whole[:3].sum(), "percent")

    return Derived(f"{solid}_{ROWS[row]}", work, "%", 0)


def _returned_of_class(solid: str, row: int, gravity: float) -> Derived:
    """Percent of a class that goes to the underflow: the machine sorts by settling, so barite is cut finer."""

    def work(n: Numbers) -> pint.Quantity:
        return Q(_to_underflow(n.cut.m_as("um"), n.liquid_back.m_as(""), gravity)[row])

    return Derived(f"{solid}_back_{ROWS[row]}", work, "%", 0)


def _sum(n: Known, solid: str, curve: str) -> pint.Quantity:
    """Share of a solid that comes back: its grind times a curve, class by class."""
    total = sum(getattr(n, f"{solid}_{row}").m * getattr(n, f"{curve}_back_{row}").m for row in ROWS)
    return Q(total / 100, "percent")


def _plain_mean(n: Known, curve: str) -> pint.Quantity:
    return Q(sum(getattr(n, f"{curve}_back_{row}").m for row in ROWS) / 4, "percent")


def _weight(n: Known, barite: pint.Quantity, drilled: pint.Quantity, liquid: pint.Quantity) -> pint.Quantity:
    """Weight of a return that holds these shares of the feed's barite, drilled solids and water."""
    parts = (
        (n.barite_share * barite, n.barite),
        (n.drilled_share * drilled, n.drilled),
        ((1 - n.barite_share - n.drilled_share) * liquid, n.water),
    )
    return sum(volume * density for volume, density in parts) / sum(volume for volume, _ in parts)


def _saved(n: Known, share: pint.Quantity) -> pint.Quantity:
    return n.flow * n.barite_share * share * n.barite * n.hours


def _solids_carried(n: Known) -> pint.Quantity:
    """Mass of solids that the scroll brings out in a time."""
    barite, drilled = _sum(n, "barite", "barite"), _sum(n, "drilled", "drilled")
    return n.flow * (n.barite_share * barite * n.barite + n.drilled_share * drilled * n.drilled)


def _liquid_in_underflow(n: Known) -> pint.Quantity:
    """Share of the underflow that is water, by volume."""
    back = n.barite_share * _sum(n, "barite", "barite") + n.drilled_share * _sum(n, "drilled", "drilled")
    water = (1 - n.barite_share - n.drilled_share) * n.liquid_back
    return water / (water + back)


def _barite_cut(n: Known) -> pint.Quantity:
    return n.cut / equal_settling_ratio(n.barite, n.drilled, n.water)


def _as_a_machine_does(n: Known) -> bool:
    """Each class holds some of each solid, and the bowl carries what it keeps: its underflow to 23 lb/gal, its solids.

    Nobody treats more in a run than the active mud.
    """
    if any(getattr(n, f"{solid}_{row}").m < 5 for solid in ("barite", "drilled") for row in ROWS):
        return False
    recovered, returned = _sum(n, "barite", "barite"), _sum(n, "drilled", "drilled")
    return bool(
        recovered > 0.65
        and Q(30, "%") <= _liquid_in_underflow(n) <= Q(50, "%")
        and _weight(n, recovered, returned, n.liquid_back) <= Q(23, "lb/gal")
        and _solids_carried(n) <= Q(5, "t/h")
        and n.flow * n.hours <= n.active
    )


EXERCISE = Exercise(
    title="What the recovery machine gives back",
    level=2,
    version=3,
    outcome=Outcome.RECOVERY,
    numbers=(
        HERON_4.active.part(700, 1300).number("active", (10, "bbl"), (2, "m3")),
        BARITE_BOWL.feed.number("flow", (1, "gal/min"), (0.2, "m3/h")),
        Number("hours", Grid(4, 12, 0.5, "h")),
        Number("barite_share", Grid(10, 20, 1, "%")),
        Number("drilled_share", Grid(4, 8, 1, "%")),
        Number("liquid_back", Grid(8, 20, 1, "%")),
        Number("cut", Grid(6, 9.5, 0.5, "um")),
        Number("barite_size", Grid(16, 22, 1, "um")),
        Number("drilled_size", Grid(10, 18, 1, "um")),
        Number("barite", Grid(35, 35, 0.1, "lb/gal"), Grid(4200, 4200, 10, "kg/m3")),
        Number("drilled", Grid(21.7, 21.7, 0.1, "lb/gal"), Grid(2600, 2600, 10, "kg/m3")),
        Number("water", Grid(8.33, 8.33, 0.01, "lb/gal"), Grid(1000, 1000, 10, "kg/m3")),
        *(_in_class(solid, row) for solid in ("barite", "drilled") for row in range(4)),
        *(
            _returned_of_class(solid, row, gravity)
            for solid, gravity in (("barite", 4.2), ("drilled", 2.6))
            for row in range(4)
        ),
    ),
    valid=_as_a_machine_does,
    envelope=(
        Within("feed of the bowl", lambda n: n.flow, BARITE_BOWL_FEED),
        Within("mud treated against active mud", lambda n: n.flow * n.hours / n.active, SHARE_OF_ACTIVE),
        Within("solids through the bowl", _solids_carried, SOLIDS_THROUGH_SMALL_BOWL),
        Within("cut of barite", _barite_cut, CUT_OF_BARITE_BOWL),
        Within("drilled solids", lambda n: n.drilled_share, DRILLED_SOLIDS),
        Within("mud weight", lambda n: _weight(n, Q(1.0), Q(1.0), Q(1.0)), WEIGHTED_MUD),
        Within("weight of the underflow", lambda n: n.d, UNDERFLOW_OF_BOWL),
    ),
    setting=(
        "Another rig has {active} of active mud. For {hours} of a tour a centrifuge recovers barite from it, with a "
        "feed of {flow}. Take the feed as the same through the tour. By volume the mud holds {barite_share} barite "
        "and {drilled_share} drilled solids; the rest is water. The underflow goes back to the mud. The overflow goes "
        "to a second, faster centrifuge, which throws out its solids and gives back most of the liquid; you work out "
        "the first one only. Samples gave the grind of both solids and the share of each size class that goes to the "
        "underflow (table in (a)). Of the water, {liquid_back} goes to the underflow. Take {barite} for barite, "
        "{drilled} for drilled solids and {water} for water. Guards stay shut while the bowl turns: sample at the "
        "chutes, as the rig's rules allow."
    ),
    parts=(
        Table(
            key="a",
            ask=(
                "How much of all the barite comes back in each size class, in percent of all the barite? (The two "
                "columns on drilled solids are for (c).)"
            ),
            corner="Size class",
            rows=tuple(Row(key, title) for key, title in zip(ROWS, TITLES, strict=True)),
            columns=(
                PrintedColumn("Barite in this class", lambda row: f"{{barite_{row.key}}}"),
                PrintedColumn("Of this barite, to underflow", lambda row: f"{{barite_back_{row.key}}}"),
                PrintedColumn("Drilled solids in this class", lambda row: f"{{drilled_{row.key}}}"),
                PrintedColumn("Of these, to underflow", lambda row: f"{{drilled_back_{row.key}}}"),
                Column(
                    key="back",
                    title="Comes back, % of all barite",
                    unit="%",
                    solve=lambda n, row: getattr(n, f"barite_{row}") * getattr(n, f"barite_back_{row}"),
                    plausible={
                        "w": Range(1, 20, "%"),
                        "x": Range(2, 30, "%"),
                        "y": Range(10, 50, "%"),
                        "z": Range(15, 55, "%"),
                    },
                    tolerance=absolute(
                        0.15, "%", because="products are given to a tenth, some people round up or down"
                    ),
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "share of the class",
                            lambda n, row: getattr(n, f"barite_back_{row}"),
                            "This is the share of this class alone. Multiply by how much of the barite is in the "
                            "class.",
                        ),
                        RowSlip(
                            "what is thrown out",
                            lambda n, row: getattr(n, f"barite_{row}") * (1 - getattr(n, f"barite_back_{row}")),
                            "This is what is thrown out of the class. The underflow is what comes back.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Share of the barite in the class, times the share of the class that comes back:",
                            f"{{barite_{row}}} * {{barite_back_{row}}} / 100",
                        ),
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What is the barite recovery, in percent?",
            unit="%",
            uses=tuple(f"a.{row}.back" for row in ROWS),
            solve=lambda n: sum(n[f"a.{row}.back"] for row in ROWS),
            plausible=Range(60, 95, "%"),
            tolerance=absolute(0.6, "%", because="four products, each rounded to a tenth or to whole percent"),
            marks=Marks(1),
            slips=(
                Slip(
                    "plain mean of the shares",
                    lambda n: _plain_mean(n, "barite"),
                    "You took the mean of the four shares. The classes hold different amounts of barite: add up (a).",
                ),
                Slip(
                    "what is thrown out",
                    lambda n: 1 - sum(n[f"a.{row}.back"] for row in ROWS),
                    "This is the share of the barite that is lost with the overflow. Recovered is what (a) adds up to.",
                ),
            ),
            working=(Step("The four classes together:", "{a.w.back} + {a.x.back} + {a.y.back} + {a.z.back}"),),
        ),
        Numeric(
            key="c",
            ask=(
                "How much of the drilled solids leaves with the overflow (their rejection), in percent? Count all of "
                "the overflow as thrown out here."
            ),
            unit="%",
            solve=lambda n: 1 - _sum(n, "drilled", "drilled"),
            plausible=Range(10, 65, "%"),
            tolerance=absolute(0.6, "%", because="four products, each rounded to a tenth or to whole percent"),
            marks=Marks(2),
            slips=(
                Slip(
                    "same cut for both solids",
                    lambda n: 1 - _sum(n, "drilled", "barite"),
                    "You used the shares of barite for the drilled solids. They are lighter and settle more slowly: "
                    "use their own column.",
                    keeps=0.5,
                ),
                Slip(
                    "what comes back",
                    lambda n: _sum(n, "drilled", "drilled"),
                    "This share of the drilled solids comes back with the barite. Rejected is the rest, up to 100 %.",
                    keeps=0.5,
                ),
            ),
            working=(
                Step(
                    "Drilled solids that come back, class by class:",
                    "({drilled_w} * {drilled_back_w} + {drilled_x} * {drilled_back_x} + {drilled_y} * {drilled_back_y} "
                    "+ {drilled_z} * {drilled_back_z}) / 100",
                    "back",
                    "%",
                ),
                Step("The rest is thrown out:", "100 - {back}"),
            ),
        ),
        Numeric(
            key="d",
            ask="What does the underflow that goes back to the mud weigh?",
            unit=By("lb/gal", "kg/m3"),
            uses=("b", "c"),
            solve=lambda n: _weight(n, n.b, 1 - n.c, n.liquid_back),
            plausible=Range(13, 23, "lb/gal"),
            tolerance=relative(0.006, because="(b) and (c) to whole percent move it by 0.3 %, 8.34 for water by less"),
            marks=Marks(3),
            slips=(
                Slip(
                    "weight of the feed",
                    lambda n: _weight(n, Q(1.0), Q(1.0), Q(1.0)),
                    "This is the weight of the mud that is fed. Take only the shares that go to the underflow.",
                ),
                Slip(
                    "rejected solids put in",
                    lambda n: _weight(n, n.b, n.c, n.liquid_back),
                    "You put the rejected drilled solids into the return. What is left of them, 100 % less (c), goes "
                    "there.",
                ),
                Slip(
                    "all the water",
                    lambda n: _weight(n, n.b, 1 - n.c, Q(1.0)),
                    "You put all the water into the return. Only part of it goes to the underflow; see the setting.",
                ),
            ),
            working=(
                Step("Of 100 parts of mud, barite that comes back:", "{barite_share} * {b} / 100", "heavy", "fraction"),
                Step("Drilled solids that come back:", "{drilled_share} * (100 - {c}) / 100", "light", "fraction"),
                Step(
                    "Water that comes back:",
                    "(100 - {barite_share} - {drilled_share}) * {liquid_back} / 100",
                    "thin",
                    "fraction",
                ),
                Step(
                    "Mass over volume of the three:",
                    "({heavy} * {barite} + {light} * {drilled} + {thin} * {water}) / ({heavy} + {light} + {thin})",
                ),
            ),
        ),
        Numeric(
            key="e",
            ask=By(
                "How many sacks of barite of 100 lb does this centrifuge return in these {hours}?",
                "How many tonnes of barite does this centrifuge return in these {hours}?",
            ),
            unit=By("sack", "t"),
            uses=("b",),
            solve=lambda n: _saved(n, n.b),
            plausible=Range(40, 1100, "sack"),
            tolerance=relative(
                0.012, because="barite at 35 lb/gal or SG 4.20 moves it by 0.2 %; (b) to whole percent by 0.8 %"
            ),
            marks=Marks(2),
            slips=(
                Slip(
                    "all the barite in the feed",
                    lambda n: _saved(n, Q(1.0)),
                    "This is all the barite in the feed. Only the share of (b) comes back.",
                ),
                Slip(
                    "the flow as if it were barite",
                    lambda n: n.flow * n.b * n.barite * n.hours,
                    "You counted the whole flow as barite. Multiply by the share of barite in the mud first.",
                ),
                Slip(
                    "one hour",
                    lambda n: _saved(n, n.b) / (n.hours / Q(1, "h")),
                    "This is for one hour. Multiply by the hours that the centrifuge runs.",
                ),
                POUNDS_CALLED_SACKS.of(lambda n: _saved(n, n.b)),
                KILOGRAMS_CALLED_TONNES.of(lambda n: _saved(n, n.b)),
            ),
            working=(
                Step(
                    "Barite that comes back by the volume:",
                    "{flow} * {barite_share} / 100 * {b} / 100",
                    "back",
                    By("gal/min", "m3/h"),
                ),
                Step(
                    By(
                        "Times its density and the time; 60 minutes in an hour, 100 lb in a sack.",
                        "Times its density and the time; 1000 kg in a tonne.",
                    ),
                    By("{back} * {barite} * 60 * {hours} / 100", "{back} * {barite} * {hours} / 1000"),
                ),
            ),
        ),
    ),
)
