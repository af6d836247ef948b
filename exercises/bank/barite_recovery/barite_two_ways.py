"""A case: barite recovery by centrifuges or by parallel cyclonic modules, each held against the same limits."""

from __future__ import annotations

import functools

import pint

from exercises.bank.barite_recovery import WHOLE, Outcome
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, System, mislabelled
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
    relative,
)
from exercises.model.usual_slips import KILOGRAMS_CALLED_TONNES
from exercises.model.working import Step
from pitside.centrifuges import two_stage
from pitside.cyclones import Bank
from pitside.particles import typical_barite, typical_drilled_fines
from pitside.partition import PartitionCurve
from pitside.removal import total_dilution
from pitside.separation import recovery
from pitside.units import Q

ROWS = {"centrifuges": "Centrifuges", "modules": "Cyclonic modules"}
TRIED = relative(0.012, because="barite at 35 lb/gal or SG 4.20 moves it by 0.2 %; the rest is digits carried on")
LOOK = "Hold power, price, barite lost and solids thrown out of each way against the four limits, one by one."


@functools.lru_cache(maxsize=4096)
def _two_machines(first: float, second: float) -> tuple[float, float]:
    """Barite kept and drilled solids thrown out by two stages that cut at these sizes, um."""
    shares = {}
    for name, grind, gravity in (("barite", typical_barite(), 4.2), ("drilled", typical_drilled_fines(), 2.6)):
        stages = (
            recovery(grind, Q(gravity, "SG"), PartitionCurve(Q(cut, "um"), Q(2.6, "SG"), Q(1.0, "SG"), 2.0, 0.05))
            for cut in (first, second)
        )
        shares[name] = two_stage(*stages)
    return float(shares["barite"].kept.m), float(shares["drilled"].discarded.m)


def _trial(row: str, which: int) -> Derived:
    """A share that the trial of this way found, in whole percent."""

    def work(n: Numbers) -> pint.Quantity:
        found = _two_machines(getattr(n, f"{row}_coarse").m_as("um"), getattr(n, f"{row}_fine").m_as("um"))
        return Q(found[which])

    return Derived(f"{row}_{('kept', 'thrown')[which]}", work, "%", 0)


def _number(n: Known | Numbers, row: str) -> pint.Quantity:
    return Q(Bank.for_flow(n.flow, getattr(n, f"{row}_flow"), spare=1).modules)


def _power(n: Known | Numbers, row: str) -> pint.Quantity:
    """Power of those that run: one stands by."""
    return (_number(n, row) - 1) * getattr(n, f"{row}_power")


def _price(n: Known | Numbers, row: str) -> pint.Quantity:
    return _number(n, row) * getattr(n, f"{row}_price")


def _lost(n: Known | Numbers, row: str) -> pint.Quantity:
    return n.volume * n.barite_share * (1 - getattr(n, f"{row}_kept")) * n.barite


def _thrown(n: Known | Numbers, row: str) -> pint.Quantity:
    return n.volume * n.drilled_share * getattr(n, f"{row}_thrown")


FIGURES = {"power": _power, "price": _price, "lost": _lost, "thrown": _thrown}


def _limit(name: str, unit: str | By[str], decimals: int | By[int], loose: float, least: bool = False) -> Derived:
    """A limit that both ways keep with room, or halfway between the two where the draw wants it tight."""

    def work(n: Numbers) -> pint.Quantity:
        low, high = sorted(FIGURES[name](n, row) for row in ROWS)
        if n.tight == name:
            return (low + high) / 2
        return low / loose if least else high * loose

    return Derived(f"{name}_limit", work, unit, decimals)


def _keeps(n: Known, row: str) -> bool:
    return bool(
        n[f"b.{row}.power"] <= n.power_limit
        and n[f"b.{row}.price"] <= n.price_limit
        and n[f"c.{row}.lost"] <= n.lost_limit
        and n[f"c.{row}.thrown"] >= n.thrown_limit
    )


def _sound(n: Known) -> str | tuple[str, ...]:
    return tuple(row for row in ("modules", "centrifuges") if _keeps(n, row)) or "neither"


def _can_be_told(n: Known) -> bool:
    """The two ways differ clearly where the limit is tight, and no number hangs on the last digit of a quotient."""
    quotients = [(n.flow / getattr(n, f"{row}_flow")).m_as("") for row in ROWS]
    if not all(number > 1 and 0.05 <= number % 1 <= 0.95 for number in quotients):
        return False
    if n.tight == "none":
        return True
    one, other = (FIGURES[n.tight](n, row) for row in ROWS)
    return bool(abs((one / other).m_as("") - 1) > 0.15)


def _net(n: Known, row: str) -> pint.Quantity:
    return n[f"c.{row}.saved"] * n.mud_price - n[f"c.{row}.lost"] * n.barite_price


EXERCISE = Exercise(
    title="Barite recovery two ways",
    level=3,
    minutes=60,
    combines=("hydrocyclones", "centrifuges", "dilution"),
    version=1,
    outcome=Outcome.MODULES,
    numbers=(
        Number("volume", Grid(900, 1800, 20, "bbl"), Grid(140, 290, 5, "m3")),
        Number("flow", Grid(260, 600, 10, "gal/min"), Grid(60, 136, 2, "m3/h")),
        Number("barite_share", Grid(10, 18, 1, "%")),
        Number("drilled_share", Grid(4, 7, 1, "%")),
        Number("barite", Grid(35, 35, 0.1, "lb/gal"), Grid(4200, 4200, 10, "kg/m3")),
        Number("centrifuges_flow", Grid(80, 130, 10, "gal/min"), Grid(18, 30, 2, "m3/h")),
        Number("centrifuges_power", Grid(40, 60, 5, "hp"), Grid(30, 45, 3, "kW")),
        Number("centrifuges_price", Grid(140000, 220000, 5000, "money")),
        Number("modules_flow", Grid(200, 260, 10, "gal/min"), Grid(46, 60, 2, "m3/h")),
        Number("modules_power", Grid(12, 18, 1, "hp"), Grid(9, 13, 1, "kW")),
        Number("modules_price", Grid(80000, 140000, 5000, "money")),
        Number("centrifuges_coarse", Grid(9, 12, 0.5, "um")),
        Number("centrifuges_fine", Grid(2, 4, 0.5, "um")),
        Number("modules_coarse", Grid(10, 15, 0.5, "um")),
        Number("modules_fine", Grid(4, 6, 0.5, "um")),
        Number("mud_price", Grid(60, 110, 5, "money/bbl"), Grid(400, 700, 20, "money/m3")),
        Number("barite_price", Grid(10, 18, 1, "money/sack"), Grid(220, 400, 10, "money/t")),
        Pick("tight", ("none", "none", "power", "price", "lost", "thrown")),
        *(_trial(row, which) for row in ROWS for which in (0, 1)),
        _limit("power", By("hp", "kW"), 0, 1.2),
        _limit("price", "money", -3, 1.2),
        _limit("lost", By("sack", "t"), By(0, 1), 1.25),
        _limit("thrown", By("bbl", "m3"), By(1, 2), 1.25, least=True),
    ),
    valid=_can_be_told,
    setting=(
        "Before the next section of Marram-2, rig Heron 4 treats its weighted mud to keep the barite and get rid of "
        "drilled solids. One treatment passes all {volume} through the plant once, at {flow}. By volume the mud holds "
        "{barite_share} barite and {drilled_share} drilled solids. Two ways are on offer, both of two stages: the "
        "first stage gives barite back, the second throws fines out and gives the liquid back. Each unit below is a "
        "pair of both stages; flow, power and price are for the pair. Trials on this mud found the share of barite "
        "that comes back and the share of drilled solids that is thrown out (table in (c)). Either way, one unit "
        "stands by while the others take the flow. Limits: at most {power_limit} running, at most {price_limit} to "
        "buy, at most {lost_limit} of barite lost in a treatment, at least {thrown_limit} of drilled solids thrown "
        "out. Barite weighs {barite} and costs {barite_price}; mud costs {mud_price}. Prices are invented. Bowls turn "
        "fast and modules stand under pressure: start, open and lift them by the rules of the rig and the maker."
    ),
    parts=(
        Numeric(
            key="a",
            ask="How many hours does one treatment take at this flow?",
            unit="h",
            solve=lambda n: n.volume / n.flow,
            plausible=Range(1, 5.5, "h"),
            tolerance=relative(0.02, because="hours are given to a tenth, or to a few minutes"),
            marks=Marks(1),
            slips=(
                Slip(
                    "flow over volume",
                    lambda n: Q((n.flow / n.volume).m_as("1/h"), "h"),
                    "You divided the flow by the volume. Time is volume over flow.",
                ),
                Slip(
                    "minutes called hours",
                    lambda n: mislabelled(n.volume / n.flow, "min", "h"),
                    "This is the time in minutes. Divide by 60.",
                ),
            ),
            working=(
                Step(
                    By("42 gal in a barrel, 60 minutes in an hour.", "Volume over flow."),
                    By("{volume} * 42 / {flow} / 60", "{volume} / {flow}"),
                ),
            ),
        ),
        Table(
            key="b",
            ask=(
                "The machines of each way: how many units must be bought with one standing by, what power do those "
                "that run take, and what do all of them cost?"
            ),
            corner="Way",
            rows=tuple(Row(key, title) for key, title in ROWS.items()),
            columns=(
                PrintedColumn("Flow of a unit", lambda row: f"{{{row.key}_flow}}"),
                PrintedColumn("Power of a unit", lambda row: f"{{{row.key}_power}}"),
                PrintedColumn("Price of a unit", lambda row: f"{{{row.key}_price}}"),
                Column(
                    key="number",
                    title="Units to buy",
                    unit="fraction",
                    digits=1,
                    solve=_number,
                    plausible=Range(3, 9),
                    tolerance=WHOLE,
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "none standing by",
                            lambda n, row: _number(n, row) - 1,
                            "These just take the flow. Buy one more, to stand by.",
                            keeps=0.5,
                        ),
                        RowSlip(
                            "two standing by",
                            lambda n, row: _number(n, row) + 1,
                            "This is one too many. Round up to whole units, then add one.",
                            keeps=0.5,
                        ),
                    ),
                    working=lambda row: (
                        Step("Flow over that of a unit:", f"{{flow}} / {{{row}_flow}}", "quotient", "fraction"),
                        Step("Rounded up, and one to stand by:", "ceil({quotient}) + 1"),
                    ),
                ),
                Column(
                    key="power",
                    title="Power running",
                    unit=By("hp", "kW"),
                    uses=(".number",),
                    solve=lambda n, row: (n[f"b.{row}.number"] - 1) * getattr(n, f"{row}_power"),
                    plausible={"centrifuges": Range(80, 500, "hp"), "modules": Range(24, 60, "hp")},
                    tolerance=relative(0.01, because="a product of whole numbers"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "one unit",
                            lambda n, row: getattr(n, f"{row}_power"),
                            "This is the power of one unit. Multiply by the number that run.",
                        ),
                        RowSlip(
                            "the one standing by put in",
                            lambda n, row: n[f"b.{row}.number"] * getattr(n, f"{row}_power"),
                            "You counted the unit that stands by. It takes no power: take one off.",
                            keeps=0.5,
                        ),
                    ),
                    working=lambda row: (
                        Step("All but one, times the power of each:", f"({{b.{row}.number}} - 1) * {{{row}_power}}"),
                    ),
                ),
                Column(
                    key="price",
                    title="Price of all",
                    unit="money",
                    uses=(".number",),
                    solve=lambda n, row: n[f"b.{row}.number"] * getattr(n, f"{row}_price"),
                    plausible=Range(230_000, 2_000_000, "money"),
                    tolerance=relative(0.01, because="a product of whole numbers"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "one unit",
                            lambda n, row: getattr(n, f"{row}_price"),
                            "This is the price of one unit. Multiply by the number to buy.",
                        ),
                        RowSlip(
                            "the one standing by not paid for",
                            lambda n, row: (n[f"b.{row}.number"] - 1) * getattr(n, f"{row}_price"),
                            "You left out the unit that stands by. It is bought like the others.",
                            keeps=0.5,
                        ),
                    ),
                    working=lambda row: (
                        Step("Number times the price of each:", f"{{b.{row}.number}} * {{{row}_price}}"),
                    ),
                ),
            ),
        ),
        Table(
            key="c",
            ask=By(
                "What one treatment does: barite lost (sacks of 100 lb), drilled solids thrown out (bbl), mud saved "
                "(bbl), and the net saving. Mud saved is the mud that would have to be built to thin these solids to "
                "the share that the mud has now. Net is the cost of that mud less that of the barite lost; energy is "
                "small beside it.",
                "What one treatment does: barite lost (t), drilled solids thrown out (m³), mud saved (m³), and the "
                "net saving. Mud saved is the mud that would have to be built to thin these solids to the share that "
                "the mud has now. Net is the cost of that mud less that of the barite lost; energy is small beside it.",
            ),
            corner="Way",
            rows=tuple(Row(key, title) for key, title in ROWS.items()),
            columns=(
                PrintedColumn("Barite that comes back", lambda row: f"{{{row.key}_kept}}"),
                PrintedColumn("Drilled solids thrown out", lambda row: f"{{{row.key}_thrown}}"),
                Column(
                    key="lost",
                    title="Barite lost",
                    unit=By("sack", "t"),
                    solve=_lost,
                    plausible=Range(150, 1700, "sack"),
                    tolerance=TRIED,
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "barite that comes back",
                            lambda n, row: n.volume * n.barite_share * getattr(n, f"{row}_kept") * n.barite,
                            "This is the barite that comes back. Lost is the rest, up to 100 %.",
                            keeps=0.5,
                        ),
                        RowSlip(
                            "share of barite left out",
                            lambda n, row: _lost(n, row) / n.barite_share,
                            "You took the whole mud for barite. Multiply by the share of barite in it.",
                        ),
                        RowSlip(
                            "42 left out",
                            lambda n, row: _lost(n, row) / 42,
                            "Your answer is 42 times too small: there are 42 gal in a barrel.",
                            only=System.FIELD,
                        ),
                        KILOGRAMS_CALLED_TONNES.in_rows(_lost),
                    ),
                    working=lambda row: (
                        Step(
                            "Volume of the barite that does not come back:",
                            f"{{volume}} * {{barite_share}} / 100 * (100 - {{{row}_kept}}) / 100",
                            "gone",
                            By("bbl", "m3"),
                        ),
                        Step("Times its density:", By("{gone} * 42 * {barite} / 100", "{gone} * {barite} / 1000")),
                    ),
                ),
                Column(
                    key="thrown",
                    title="Solids thrown out",
                    unit=By("bbl", "m3"),
                    solve=_thrown,
                    plausible=Range(3, 55, "bbl"),
                    tolerance=TRIED,
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "solids that stay",
                            lambda n, row: n.volume * n.drilled_share * (1 - getattr(n, f"{row}_thrown")),
                            "These are the drilled solids that stay. Take the share that is thrown out.",
                        ),
                        RowSlip(
                            "share of solids left out",
                            lambda n, row: n.volume * getattr(n, f"{row}_thrown"),
                            "You took the whole mud for drilled solids. Multiply by their share in it.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Drilled solids in the mud, times the share thrown out:",
                            f"{{volume}} * {{drilled_share}} / 100 * {{{row}_thrown}} / 100",
                        ),
                    ),
                ),
                Column(
                    key="saved",
                    title="Mud saved",
                    unit=By("bbl", "m3"),
                    uses=(".thrown",),
                    solve=lambda n, row: total_dilution(n[f"c.{row}.thrown"], n.drilled_share),
                    plausible=Range(80, 800, "bbl"),
                    tolerance=TRIED,
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "solids alone",
                            lambda n, row: n[f"c.{row}.thrown"],
                            "This is the volume of the solids. Mud that holds them at their share has more: divide by "
                            "it.",
                        ),
                        RowSlip(
                            "multiplied by the share",
                            lambda n, row: n[f"c.{row}.thrown"] * n.drilled_share,
                            "You multiplied by the share of drilled solids. The mud is larger than its solids: divide.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Solids over the share that they may have:",
                            f"{{c.{row}.thrown}} / ({{drilled_share}} / 100)",
                        ),
                    ),
                ),
                Column(
                    key="net",
                    title="Net saving",
                    unit="money",
                    uses=(".lost", ".saved"),
                    solve=_net,
                    plausible=Range(500, 80_000, "money"),
                    tolerance=relative(0.03, because="a difference: 1 % of the cost of mud is up to 2.5 % of it"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "barite left out",
                            lambda n, row: n[f"c.{row}.saved"] * n.mud_price,
                            "You left out the barite that is lost. Take its cost off.",
                            keeps=0.5,
                        ),
                        RowSlip(
                            "barite added",
                            lambda n, row: n[f"c.{row}.saved"] * n.mud_price + n[f"c.{row}.lost"] * n.barite_price,
                            "You added the cost of the barite. It is lost: take it off.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Cost of the mud saved, less that of the barite lost:",
                            f"{{c.{row}.saved}} * {{mud_price}} - {{c.{row}.lost}} * {{barite_price}}",
                        ),
                    ),
                ),
            ),
            outcome=Outcome.RECOVERY,
        ),
        Choice(
            key="d",
            ask="Which way do you propose? Every way that keeps all four limits is sound.",
            options=(
                Option("centrifuges", "Centrifuges.", LOOK),
                Option("modules", "Parallel cyclonic modules.", LOOK),
                Option("neither", "Neither: both break a limit.", LOOK),
            ),
            right=_sound,
            uses=tuple(
                f"{part}.{row}.{column}"
                for part, columns in (("b", ("power", "price")), ("c", ("lost", "thrown")))
                for row in ROWS
                for column in columns
            ),
            marks=Marks(3),
            outcome=Outcome.CHOOSING,
            reason=(
                "Centrifuges: {b.centrifuges.power}, {b.centrifuges.price}, {c.centrifuges.lost} of barite lost, "
                "{c.centrifuges.thrown} of solids out. Modules: {b.modules.power}, {b.modules.price}, "
                "{c.modules.lost}, {c.modules.thrown}. Limits: {power_limit}, {price_limit}, {lost_limit}, and at "
                "least {thrown_limit}. A way that keeps all four is sound."
            ),
        ),
        Written(
            key="e",
            ask=(
                "Defend your proposal to the drilling superintendent in five or six sentences: the limits, the money, "
                "what speaks for the other way, and what neither way can do."
            ),
            points=(
                Point("Says of the way proposed that it keeps each of the four limits, with its figures.", 2),
                Point("Sets net saving against price and power, for both ways, from (b) and (c).", 2),
                Point(
                    "Names something that speaks for the other way, such as a finer cut, fewer units or less wear.", 1
                ),
                Point(
                    "Says that neither tells barite from drilled solids: they sort by settling, and the finest come "
                    "back with the liquid.",
                    1,
                ),
            ),
            model=(
                "I give the power, the price, the barite lost and the solids thrown out of the way that I propose, "
                "each beside its limit. I set the net saving of a treatment beside price and power of both ways, and "
                "say after how many treatments the price is earned back. For the other way I say fairly where it is "
                "better in this table: it may cut finer, waste less barite or need fewer units; I also think of wear, "
                "crew and spares. Both ways sort grains by how they settle: some barite goes out with coarse drilled "
                "solids of the same settling speed, and the finest solids come back with the liquid, so that some "
                "dilution is still needed."
            ),
            outcome=Outcome.CHOOSING,
        ),
    ),
)
