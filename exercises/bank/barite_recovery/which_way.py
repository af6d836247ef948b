"""Centrifuges or cyclonic modules for barite: what a trial says of each, held against the same limits."""

from __future__ import annotations

import pint

from exercises.bank.barite_recovery import EXACT, Outcome
from exercises.bank.barite_recovery.barite_two_ways import BOWLS_RUNNING, ROWS
from exercises.fleet.envelope import DRILLED_SOLIDS, WEIGHTED_MUD
from exercises.fleet.rigs import HERON_4
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
)
from exercises.model.usual_slips import KILOGRAMS_CALLED_TONNES, POUNDS_CALLED_SACKS, forty_two_left_out_in_rows
from exercises.model.working import Step
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.units import WATER_4C, Q

#: Which limits are tight: each pair leaves both ways sound, one of them, or neither.
TIGHT = {
    "both": ("none",),
    "centrifuges": ("lost",),
    "modules": ("power", "thrown"),
    "neither": ("lost and power", "lost and thrown"),
}
TWO_PAIRS = Usual(2 * BOWLS_RUNNING.low, 2 * BOWLS_RUNNING.high, "kW", "twice that of two bowls; no source")
MODULE_PUMPS = Usual(18, 36, "kW", "flow, head and mud weight of two to four modules of two stages; no source")
#: What somebody says, and the way for which it is a reason. Common practice, no source.
REMARKS = {
    "barite comes late to this place and is dear: every sack counts": "centrifuges",
    "this mud is thick, and there is no liquid to spare for thinning it before it is separated": "centrifuges",
    "no machine with a fast bowl may stand in the only free place": "modules",
    "a large part of the circulation must pass the plant at once, with little deck and power for it": "modules",
    "the finest clay must leave the mud, and all of the liquid must stay": "neither",
    "coarse drilled grains must be thrown out, and fine barite that settles at the same speed must be kept": "neither",
}
OTHER_REMARK = "Ask what it wants: a fine cut, much flow without a bowl, or grains told apart that settle alike?"
LOOK = "Hold power, barite lost and solids thrown out of each way against the three limits, one by one."


def _lost(n: Known | Numbers, row: str) -> pint.Quantity:
    return n.volume * n.barite_share * (1 - getattr(n, f"{row}_kept")) * n.barite


def _thrown(n: Known | Numbers, row: str) -> pint.Quantity:
    return n.volume * n.drilled_share * getattr(n, f"{row}_thrown")


def _power(n: Known | Numbers, row: str) -> pint.Quantity:
    return getattr(n, f"{row}_power")


def _mud_weight(n: Known) -> pint.Quantity:
    return n.barite_share * BARITE + n.drilled_share * LOW_GRAVITY + (1 - n.barite_share - n.drilled_share) * WATER_4C


def _tight(n: Numbers) -> list[str]:
    ways = TIGHT[n.sound]
    return ways[0 if n.place < Q(0.5) else len(ways) - 1].split(" and ")


FIGURES = {"power": _power, "lost": _lost, "thrown": _thrown}


def _limit(name: str, unit: str | By[str], decimals: int | By[int], least: bool = False) -> Derived:
    """A limit halfway between the two ways where the draw wants it tight; else one that both keep with room."""

    def work(n: Numbers) -> pint.Quantity:
        low, high = sorted(FIGURES[name](n, row) for row in ROWS)
        if name in _tight(n):
            return (low + high) / 2
        return low / 1.25 if least else high * 1.25

    return Derived(f"{name}_limit", work, unit, decimals)


def _keeps(n: Known, row: str) -> bool:
    return bool(
        _power(n, row) <= n.power_limit
        and n[f"a.{row}.lost"] <= n.lost_limit
        and n[f"a.{row}.thrown"] >= n.thrown_limit
    )


def _sound(n: Known) -> str:
    kept = [row for row in ROWS if _keeps(n, row)]
    return "both" if len(kept) == 2 else kept[0] if kept else "neither"


def _can_be_told(n: Known) -> bool:
    """The two ways lie clearly apart in each figure, as their cuts have it."""
    return bool(
        n.centrifuges_kept - n.modules_kept >= Q(6, "percent")
        and n.modules_thrown - n.centrifuges_thrown >= Q(6, "percent")
    )


EXERCISE = Exercise(
    title="Which way for the barite?",
    level=2,
    version=2,
    outcome=Outcome.CHOOSING,
    tolerance=EXACT,
    numbers=(
        Pick("sound", tuple(TIGHT)),
        Pick("remark", tuple(REMARKS)),
        Number("place", Grid(0, 1, 0.05)),
        HERON_4.active.part(700, 1300).number("volume", (20, "bbl"), (5, "m3")),
        Number("barite_share", Grid(10, 18, 1, "%")),
        Number("drilled_share", Grid(4, 7, 1, "%")),
        Number("barite", Grid(35, 35, 0.1, "lb/gal"), Grid(4200, 4200, 10, "kg/m3")),
        TWO_PAIRS.number("centrifuges_power", (5, "hp"), (4, "kW")),
        MODULE_PUMPS.number("modules_power", (5, "hp"), (2, "kW")),
        Number("centrifuges_kept", Grid(82, 88, 1, "%")),
        Number("modules_kept", Grid(67, 79, 1, "%")),
        Number("centrifuges_thrown", Grid(14, 22, 1, "%")),
        Number("modules_thrown", Grid(24, 38, 1, "%")),
        _limit("power", By("hp", "kW"), 0),
        _limit("lost", By("sack", "t"), By(0, 1)),
        _limit("thrown", By("bbl", "m3"), By(1, 2), least=True),
    ),
    valid=_can_be_told,
    envelope=(
        Within("active mud", lambda n: n.volume, HERON_4.active),
        Within("drilled solids", lambda n: n.drilled_share, DRILLED_SOLIDS),
        Within("mud weight", _mud_weight, WEIGHTED_MUD),
        Within("power of two pairs of bowls", lambda n: n.centrifuges_power, TWO_PAIRS),
        Within("power of the modules", lambda n: n.modules_power, MODULE_PUMPS),
    ),
    setting=(
        "Rig Heron 4 passes all of its {volume} of weighted mud once through a recovery plant. By volume the mud holds "
        "{barite_share} barite and {drilled_share} drilled solids. Two ways are on offer for the same flow, each of "
        "two stages: pairs of centrifuges, or cyclonic modules. A trial of each on this mud found which share of the "
        "barite comes back to the mud and which share of the drilled solids is thrown out. What barite does not come "
        "back is lost. Limits: "
        "the plant draws at most {power_limit}, at most {lost_limit} of barite are lost, and at least {thrown_limit} "
        "of drilled solids are thrown out. Barite weighs {barite}. The driller and the mud engineer know before mud is "
        "moved through a plant."
    ),
    parts=(
        Table(
            key="a",
            ask="What does the treatment lose, and what does it throw out?",
            corner="Way",
            rows=tuple(Row(key, title) for key, title in ROWS.items()),
            columns=(
                PrintedColumn("Power drawn", lambda row: f"{{{row.key}_power}}"),
                PrintedColumn("Barite that comes back", lambda row: f"{{{row.key}_kept}}"),
                PrintedColumn("Drilled solids thrown out", lambda row: f"{{{row.key}_thrown}}"),
                Column(
                    key="lost",
                    title="Barite lost",
                    unit=By("sack", "t"),
                    solve=_lost,
                    plausible={"centrifuges": Range(110, 620, "sack"), "modules": Range(200, 1250, "sack")},
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "the barite that comes back",
                            lambda n, row: n.volume * n.barite_share * getattr(n, f"{row}_kept") * n.barite,
                            "This is the barite that comes back. The rest is lost.",
                        ),
                        RowSlip(
                            "of all the mud",
                            lambda n, row: n.volume * (1 - getattr(n, f"{row}_kept")) * n.barite,
                            "You took all of the mud for barite. Multiply by the share of barite in it.",
                        ),
                        forty_two_left_out_in_rows(_lost, "barite is weighed by the gallon, the mud is in barrels."),
                        POUNDS_CALLED_SACKS.in_rows(_lost),
                        KILOGRAMS_CALLED_TONNES.in_rows(_lost),
                    ),
                    working=lambda row: (
                        Step(
                            "Barite in the mud, by volume:",
                            "{volume} * {barite_share} / 100",
                            "solid",
                            By("bbl", "m3"),
                        ),
                        Step(
                            "Of that the share that does not come back:",
                            f"{{solid}} * (100 - {{{row}_kept}}) / 100",
                            "gone",
                            By("bbl", "m3"),
                        ),
                        Step(
                            By("42 gal in a barrel, 100 lb in a sack:", "1000 kg in a tonne:"),
                            By("{gone} * 42 * {barite} / 100", "{gone} * {barite} / 1000"),
                        ),
                    ),
                ),
                Column(
                    key="thrown",
                    title="Drilled solids thrown out, by volume",
                    unit=By("bbl", "m3"),
                    solve=_thrown,
                    plausible={"centrifuges": Range(3.5, 21, "bbl"), "modules": Range(6, 36, "bbl")},
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "those that stay",
                            lambda n, row: n.volume * n.drilled_share * (1 - getattr(n, f"{row}_thrown")),
                            "These are the drilled solids that stay in the mud.",
                        ),
                        RowSlip(
                            "of all the mud",
                            lambda n, row: n.volume * getattr(n, f"{row}_thrown"),
                            "You took all of the mud for drilled solids. Multiply by their share in it.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Drilled solids in the mud:", "{volume} * {drilled_share} / 100", "solid", By("bbl", "m3")
                        ),
                        Step("Of that the share that is thrown out:", f"{{solid}} * {{{row}_thrown}} / 100"),
                    ),
                ),
            ),
        ),
        Choice(
            key="b",
            ask="Which way keeps all three limits?",
            uses=tuple(f"a.{row}.{column}" for row in ROWS for column in ("lost", "thrown")),
            options=(
                Option("centrifuges", "Centrifuges alone.", LOOK),
                Option("modules", "Cyclonic modules alone.", LOOK),
                Option("both", "Both do: either is sound.", LOOK),
                Option("neither", "Neither: each breaks a limit.", LOOK),
            ),
            right=_sound,
            marks=Marks(2),
            reason=(
                "Centrifuges: {centrifuges_power}, {a.centrifuges.lost} of barite lost, {a.centrifuges.thrown} of "
                "drilled solids out. Modules: {modules_power}, {a.modules.lost}, {a.modules.thrown}. Limits: "
                "{power_limit}, {lost_limit}, at least {thrown_limit}."
            ),
        ),
        Choice(
            key="c",
            ask="On another rig somebody says: {remark}. For which way is that a reason?",
            options=(
                Option("centrifuges", "For centrifuges.", OTHER_REMARK),
                Option("modules", "For cyclonic modules.", OTHER_REMARK),
                Option("neither", "For neither: no plant that sorts by settling can do it.", OTHER_REMARK),
            ),
            right=lambda n: REMARKS[n.remark],
            marks=Marks(1),
            reason=(
                "Bowls cut finer and need less thinning. Modules take much flow and have no turning bowl. Grains that "
                "settle alike go together in both, and the finest stay with the liquid."
            ),
        ),
        Written(
            key="d",
            ask="Defend your answer to (b) to the mud engineer in three or four sentences.",
            points=(
                Point(
                    "Gives power, barite lost and solids thrown out of the way chosen beside the limits; if neither is "
                    "sound, says what must change first; if both are, says what decides.",
                    1,
                ),
                Point("Says fairly, with a figure, where the other way is better.", 1),
                Point(
                    "Says what neither can do: tell barite from rock that settles alike, or take the finest out "
                    "while the liquid stays.",
                    1,
                ),
            ),
            model=(
                "I give the three figures of the way beside its three limits. Centrifuges lose less barite, modules "
                "throw more drilled solids out and draw less: so I say of the other way where it is better. If both "
                "are sound, room, crew, spares and price decide; if neither is, the nearest limit has to be talked "
                "over, or mud is thinned instead. Neither way tells barite from drilled grains that settle as fast, "
                "and the finest come back with the liquid."
            ),
        ),
    ),
)
