"""A case: barite recovery by centrifuges or by parallel cyclonic modules, each compared with the same limits."""

from __future__ import annotations

import functools

import pint

from exercises.bank.barite_recovery import WHOLE, Outcome
from exercises.fleet.envelope import (
    BARITE_BOWL_FEED,
    CUT_OF_SMALL_CONE,
    CUT_OF_SMALL_CONE_IN_MUD,
    DRILLED_SOLIDS,
    SOLIDS_THROUGH_SMALL_BOWL,
    WEIGHTED_MUD,
)
from exercises.fleet.machines import BARITE_BOWL, CYCLONE_MODULE, FEED_PUMP, FINES_BOWL
from exercises.fleet.rigs import HERON_4
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, mislabelled
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
from exercises.model.usual_slips import KILOGRAMS_CALLED_TONNES, forty_two_left_out_in_rows
from exercises.model.working import Step
from pitside.centrifuges import two_stage
from pitside.cyclones import Bank, pump_duty
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.particles import typical_barite, typical_drilled_fines
from pitside.partition import PartitionCurve
from pitside.removal import total_dilution
from pitside.separation import recovery
from pitside.units import WATER_4C, Q

ROWS = {"centrifuges": "Centrifuges", "modules": "Cyclonic modules"}
#: A unit of centrifuges is a barite bowl and a fines bowl.
TWO_BOWLS = Usual(2 * BARITE_BOWL.price.low, 2 * FINES_BOWL.price.high, "money", BARITE_BOWL.price.status)
BOWLS_RUNNING = Usual(2 * 24, 2 * 42, "kW", "two bowls at three quarters of their rated power; no source")
TRIED = relative(0.012, because="barite at 35 lb/gal or SG 4.20 moves it by 0.2 %; the rest is digits carried on")
LOOK = "Compare power, price, barite lost and solids thrown out of each way with the four limits, one by one."


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


def _mud_weight(n: Known | Numbers) -> pint.Quantity:
    return n.barite_share * BARITE + n.drilled_share * LOW_GRAVITY + (1 - n.barite_share - n.drilled_share) * WATER_4C


def _pumps(n: Numbers) -> pint.Quantity:
    """Power of a module's two pumps: each moves the mud thinned with its own volume of water."""
    thinned = (_mud_weight(n) + WATER_4C) / 2
    return 2 * pump_duty(2 * n.modules_flow, thinned, n.head, n.efficiency).shaft_power


def _solids_of_a_bowl(n: Known) -> pint.Quantity:
    """What the first bowl of each pair brings out at most: what comes back of both solids."""
    share = n.flow / (n["b.centrifuges.number"] - 1)
    barite = n.barite_share * n.centrifuges_kept * n.barite
    return share * (barite + n.drilled_share * (1 - n.centrifuges_thrown) * LOW_GRAVITY)


def _clean_mud(solids: pint.Quantity, share: pint.Quantity) -> pint.Quantity:
    """Mud without drilled solids that thins these to their share."""
    return total_dilution(solids, share) - solids


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


#: Pairs of bowls, with the one that stands by, for which a rig finds room. From memory.
MOST_PAIRS = 4
#: Which limits are tight, as often as each is drawn: each way is sound in some draws, and neither in some.
TIGHT = ("none", "lost", "lost", "power", "price", "thrown", "lost and power", "lost and thrown")
FIGURES = {"power": _power, "price": _price, "lost": _lost, "thrown": _thrown}


def _limit(name: str, unit: str | By[str], decimals: int | By[int], loose: float, least: bool = False) -> Derived:
    """A limit that both ways keep with room, or halfway between the two where the draw wants it tight."""

    def work(n: Numbers) -> pint.Quantity:
        low, high = sorted(FIGURES[name](n, row) for row in ROWS)
        if name in str(n.tight).split(" and "):
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
    """The two ways differ clearly where a limit is tight, and no number hangs on the last digit of a quotient.

    A net saving is no small difference of large sums, and a bowl carries the solids of its share of the flow.
    """
    quotients = [(n.flow / getattr(n, f"{row}_flow")).m_as("") for row in ROWS]
    if not all(number > 1 and 0.05 <= number % 1 <= 0.95 for number in quotients):
        return False
    if _number(n, "centrifuges") > MOST_PAIRS:
        return False
    for tight in str(n.tight).split(" and "):
        if tight != "none":
            one, other = (FIGURES[tight](n, row) for row in ROWS)
            if abs((one / other).m_as("") - 1) <= 0.15:
                return False
    for row in ROWS:
        mud = _clean_mud(_thrown(n, row), n.drilled_share) * n.mud_price
        if abs(mud - _lost(n, row) * n.barite_price) < 0.25 * mud:
            return False
    carried = n.barite_share * n.barite + n.drilled_share * LOW_GRAVITY
    return bool(n.flow / (_number(n, "centrifuges") - 1) * carried <= Q(5, "t/h"))


def _net(n: Known, row: str) -> pint.Quantity:
    return n[f"c.{row}.saved"] * n.mud_price - n[f"c.{row}.lost"] * n.barite_price


EXERCISE = Exercise(
    title="Barite recovery two ways",
    level=3,
    minutes=60,
    combines=("hydrocyclones", "centrifuges", "dilution"),
    version=5,
    outcome=Outcome.MODULES,
    numbers=(
        HERON_4.active.part(700, 1300).number("volume", (20, "bbl"), (5, "m3")),
        Number("flow", Grid(60, 140, 2, "gal/min"), Grid(14.0, 32.0, 0.5, "m3/h")),
        Number("barite_share", Grid(10, 18, 1, "%")),
        Number("drilled_share", Grid(4, 7, 1, "%")),
        Number("barite", Grid(35, 35, 0.1, "lb/gal"), Grid(4200, 4200, 10, "kg/m3")),
        BARITE_BOWL.feed.part(25, 40).number("centrifuges_flow", (1, "gal/min"), (0.5, "m3/h")),
        BOWLS_RUNNING.number("centrifuges_power", (5, "hp"), (3, "kW")),
        TWO_BOWLS.number("centrifuges_price", (5000, "money")),
        CYCLONE_MODULE.flow.part(60, 110).number("modules_flow", (5, "gal/min"), (1, "m3/h")),
        FEED_PUMP.head.number("head", (1, "ft"), (0.5, "m")),
        FEED_PUMP.efficiency.number("efficiency", (1, "%")),
        Derived("modules_power", _pumps, By("hp", "kW"), 0),
        CYCLONE_MODULE.price.part(90_000, 180_000).number("modules_price", (5000, "money")),
        Number("centrifuges_coarse", Grid(7, 9.5, 0.5, "um")),
        Number("centrifuges_fine", Grid(5, 6, 0.5, "um")),
        Number("modules_coarse", Grid(14, 22, 0.5, "um")),
        Number("modules_fine", Grid(10, 13, 0.5, "um")),
        Number("mud_price", Grid(20, 60, 1, "money/bbl"), Grid(130, 370, 10, "money/m3")),
        Number("barite_price", Grid(8, 20, 0.5, "money/sack"), Grid(180, 440, 10, "money/t")),
        Pick("tight", TIGHT),
        *(_trial(row, which) for row in ROWS for which in (0, 1)),
        _limit("power", By("hp", "kW"), 0, 1.2),
        _limit("price", "money", -3, 1.2),
        _limit("lost", By("sack", "t"), By(0, 1), 1.25),
        _limit("thrown", By("bbl", "m3"), By(1, 2), 1.25, least=True),
    ),
    valid=_can_be_told,
    envelope=(
        Within("active mud", lambda n: n.volume, HERON_4.active),
        Within("feed of a pair of bowls", lambda n: n.flow / (n["b.centrifuges.number"] - 1), BARITE_BOWL_FEED),
        Within("solids through a bowl", _solids_of_a_bowl, SOLIDS_THROUGH_SMALL_BOWL),
        Within("cut of a module's first stage", lambda n: n.modules_coarse, CUT_OF_SMALL_CONE_IN_MUD),
        Within("cut of a module's second stage, in thin feed", lambda n: n.modules_fine, CUT_OF_SMALL_CONE),
        Within("drilled solids", lambda n: n.drilled_share, DRILLED_SOLIDS),
        Within("mud weight", _mud_weight, WEIGHTED_MUD),
    ),
    setting=(
        "Before its next section rig Heron 4 treats its weighted mud to keep the barite and get rid of drilled solids. "
        "One treatment passes all {volume} through the plant once, at {flow}. By volume the mud holds {barite_share} "
        "barite and {drilled_share} drilled solids; the rest is water. Two ways are on offer, both of two stages: the "
        "first stage gives barite back, the second throws fines out and gives the liquid back. Each unit below is a "
        "pair of both stages; flow (of this mud, before any water is added), power and price are for the pair, with "
        "its pumps. Cones cut coarse in thick mud. So the modules thin the mud first, with its own volume of liquid "
        "from their second stage. This liquid goes round, and pumping it is counted in their power. What the bowls "
        "need for thinning is counted in their figures too. Trials on this mud found the share of barite that comes "
        "back and the share of drilled solids that is thrown out (table in (c)). Either way, one unit stands by while "
        "the others take the flow. Limits:\n\n"
        "- at most {power_limit} running;\n"
        "- at most {price_limit} to buy;\n"
        "- at most {lost_limit} of barite lost in a treatment;\n"
        "- at least {thrown_limit} of drilled solids thrown out in a treatment.\n\n"
        "Barite weighs {barite} and costs {barite_price}; clean mud costs {mud_price}. Prices are invented. The "
        "driller and the mud logger know before mud is moved through the plant. Bowls turn fast and modules stand "
        "under pressure: start, open and lift them by the rules of the rig and the maker."
    ),
    parts=(
        Numeric(
            key="a",
            ask="How many hours does one treatment take at this flow?",
            unit="h",
            solve=lambda n: n.volume / n.flow,
            plausible=Range(3, 15.5, "h"),
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
                    plausible=Range(3, 7),
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
                    plausible={"centrifuges": Range(120, 700, "hp"), "modules": Range(15, 120, "hp")},
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
                    plausible=Range(250_000, 2_800_000, "money"),
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
                "(bbl), and the net saving. Mud saved is the clean mud, without drilled solids, that would have to "
                "be built to thin these solids to the share that the mud has now, counted in the mixture. Net is the "
                "cost of that mud less that of the barite lost; a loss is negative. Leave the cost of energy out.",
                "What one treatment does: barite lost (t), drilled solids thrown out (m³), mud saved (m³), and the "
                "net saving. Mud saved is the clean mud, without drilled solids, that would have to be built to thin "
                "these solids to the share that the mud has now, counted in the mixture. Net is the cost of that mud "
                "less that of the barite lost; a loss is negative. Leave the cost of energy out.",
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
                    plausible=Range(90, 1400, "sack"),
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
                            "You counted the whole mud as barite. Multiply by the share of barite in it.",
                        ),
                        forty_two_left_out_in_rows(_lost),
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
                    plausible=Range(3, 40, "bbl"),
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
                            "You counted the whole mud as drilled solids. Multiply by their share in it.",
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
                    solve=lambda n, row: _clean_mud(n[f"c.{row}.thrown"], n.drilled_share),
                    plausible=Range(60, 600, "bbl"),
                    tolerance=TRIED,
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "the solids counted in",
                            lambda n, row: total_dilution(n[f"c.{row}.thrown"], n.drilled_share),
                            "This is the finished mud, with the drilled solids in it. The clean mud is less by them.",
                            keeps=0.5,
                        ),
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
                            "Solids over the share that they may have, less the solids themselves:",
                            f"{{c.{row}.thrown}} / ({{drilled_share}} / 100) - {{c.{row}.thrown}}",
                        ),
                    ),
                ),
                Column(
                    key="net",
                    title="Net saving",
                    unit="money",
                    uses=(".lost", ".saved"),
                    solve=_net,
                    plausible=Range(-25_000, 35_000, "money"),
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
                "Defend your answer to (d) to the drilling superintendent in five or six sentences: the limits, the "
                "money, what is good about a way that you did not choose, and what neither way can do."
            ),
            points=(
                Point(
                    "Says of the way proposed that it keeps each of the four limits, with its figures; if neither "
                    "does, names with its figure the limit that each breaks.",
                    2,
                ),
                Point("Sets net saving against price and power, for both ways, from (b) and (c).", 2),
                Point("Names something good about a way not chosen, such as a finer cut, fewer units or less wear.", 1),
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
                "better in this table: it may keep more barite, throw more fines out, or need fewer units; I also "
                "think of wear, crew and spares. Both ways sort grains by how they settle: some barite goes out with "
                "coarse drilled solids of the same settling speed, and the finest solids come back with the liquid, so "
                "that some dilution is still needed."
            ),
            outcome=Outcome.CHOOSING,
        ),
    ),
)
