"""Machines of two sizes for a flow with one out of service, in the room that there is."""

from __future__ import annotations

import pint

from exercises.bank.packages import CARRIED, WHOLE, Outcome
from exercises.fleet.envelope import FLOW_OVER_FINE_SCREENS, FLOW_OVER_LARGE_SHAKER
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
    PrintedColumn,
    Row,
    RowSlip,
    Slip,
    Table,
    absolute,
)
from exercises.model.possible import RATIO
from exercises.model.working import Step
from pitside.cyclones import Bank, number_of_cones
from pitside.units import Q

ROWS = {"small": "Smaller machine", "large": "Larger machine"}
LOOK = "Compare the deck length of each set with the deck, then the prices: the cheaper of those that fit."


def _to_buy(n: Known | Numbers, row: str) -> pint.Quantity:
    """Machines that carry the flow with its margin when one is out of service."""
    return Q(Bank.for_flow(n.flow * (1 + n.margin), getattr(n, f"{row}_flow"), spare=1).modules)


def _deck(n: Numbers) -> pint.Quantity:
    """Length of the deck: room for both trains, for one of them, or a little short of both."""
    short, long = sorted(_to_buy(n, row) * getattr(n, f"{row}_length") for row in ROWS)
    return {"both": 1.15 * long, "one": (short + long) / 2, "none": 0.88 * short}[n.room]


def _which(n: Known) -> str:
    fits = [row for row in ROWS if n[f"a.{row}.buy"] * getattr(n, f"{row}_length") <= n.deck]
    return min(fits, key=lambda row: n[f"a.{row}.price"]) if fits else "none"


def _can_be_told(n: Known) -> bool:
    """Numbers, lengths and prices apart, and no quotient that hangs on its last digit."""
    wanted = [(n.flow * (1 + n.margin) / getattr(n, f"{row}_flow")).m_as("") for row in ROWS]
    if not all(0.05 <= number % 1 <= 0.95 and number > 1 for number in wanted):
        return False
    trains = [(float(_to_buy(n, row).m), getattr(n, f"{row}_length").m, getattr(n, f"{row}_price").m) for row in ROWS]
    (small, *_), (large, *_) = trains
    lengths, prices = ([train[0] * train[which] for train in trains] for which in (1, 2))
    return bool(
        small > large
        and 1.3 <= (n.large_flow / n.small_flow).m_as("") <= 1.62  # the larger one has more screen, as is printed
        and large >= 3
        and abs(lengths[0] / lengths[1] - 1) > 0.12
        and abs(prices[0] / prices[1] - 1) > 0.05
        and number_of_cones(n.flow, n.small_flow) < number_of_cones(n.flow * (1 + n.margin), n.small_flow)
    )


EXERCISE = Exercise(
    title="How many machines, with one out of service",
    level=2,
    version=4,
    outcome=Outcome.SIZE,
    tolerance=absolute(0.6, "%", because="whole percent are near enough for a load"),
    numbers=(
        Number("flow", Grid(700, 1200, 10, "gal/min"), Grid(160, 270, 2, "m3/h")),
        Number("margin", Grid(10, 25, 5, "%")),
        FLOW_OVER_FINE_SCREENS.part(250, 340).number("small_flow", (10, "gal/min"), (2, "m3/h")),
        FLOW_OVER_LARGE_SHAKER.number("large_flow", (10, "gal/min"), (2, "m3/h")),
        Number("small_length", Grid(5.0, 6.5, 0.5, "ft"), Grid(1.5, 2.0, 0.1, "m")),
        Number("large_length", Grid(7.0, 9.0, 0.5, "ft"), Grid(2.1, 2.8, 0.1, "m")),
        Number("small_price", Grid(33000, 48000, 1000, "money")),
        Number("large_price", Grid(48000, 72000, 1000, "money")),
        Pick("room", ("both", "both", "one", "one", "none", "none")),
        Derived("deck", _deck, By("ft", "m"), By(0, 1)),
    ),
    valid=_can_be_told,
    envelope=(
        Within("flow over a smaller shaker, API 170", lambda n: n.small_flow, FLOW_OVER_FINE_SCREENS),
        Within("flow over a larger shaker, API 170", lambda n: n.large_flow, FLOW_OVER_LARGE_SHAKER),
    ),
    setting=(
        "Rig Sandpiper 2 gets new shakers in place of its three, to run finer screens, API 170, in the next section of "
        "Marram-2. The mud is circulated at {flow}. The new "
        "shakers must carry {margin} more than that, even when one of them is out of service. Two sizes are on offer "
        "(table in (a)): the larger one has more screen area. The flows are for this mud on API 170; on coarser "
        "screens each takes more. On the deck {deck} are free for all of them, side by side. "
        "Prices are invented. Walkways, lifting points and zones for electrical equipment come on top, by the rules of "
        "the site."
    ),
    parts=(
        Table(
            key="a",
            ask=("For each size give the number of machines to buy and what they cost together, in units of currency."),
            corner="Size",
            rows=tuple(Row(key, title) for key, title in ROWS.items()),
            columns=(
                PrintedColumn("Flow of one", lambda row: f"{{{row.key}_flow}}"),
                PrintedColumn("Deck length of one", lambda row: f"{{{row.key}_length}}"),
                PrintedColumn("Price of one", lambda row: f"{{{row.key}_price}}"),
                Column(
                    key="buy",
                    title="Number to buy",
                    unit="fraction",
                    whole=True,
                    solve=_to_buy,
                    plausible=Range(3, 10),
                    tolerance=WHOLE,
                    marks=Marks(2),
                    slips=(
                        RowSlip(
                            "none to spare",
                            lambda n, row: _to_buy(n, row) - 1,
                            "These carry the flow only while all of them run. Buy one more, for the one out of "
                            "service.",
                            keeps=1,
                        ),
                        RowSlip(
                            "two to spare",
                            lambda n, row: _to_buy(n, row) + 1,
                            "This is one more than is needed. Round up to whole machines, then add one for the one "
                            "out of service.",
                            keeps=1,
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Flow with its margin, over the flow of one:",
                            f"{{flow}} * (1 + {{margin}} / 100) / {{{row}_flow}}",
                            "quotient",
                            "fraction",
                        ),
                        Step("Up to the next whole machine:", "ceil({quotient})", "running", "fraction"),
                        Step("And one that may be out of service:", "{running} + 1"),
                    ),
                ),
                Column(
                    key="price",
                    title="Price of all",
                    unit="money",
                    uses=(".buy",),
                    solve=lambda n, row: n[f"a.{row}.buy"] * getattr(n, f"{row}_price"),
                    plausible=Range(90_000, 500_000, "money"),
                    tolerance=CARRIED,
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "one machine",
                            lambda n, row: getattr(n, f"{row}_price"),
                            "This is the price of one. Multiply by the number to buy.",
                        ),
                        RowSlip(
                            "spare not paid for",
                            lambda n, row: (n[f"a.{row}.buy"] - 1) * getattr(n, f"{row}_price"),
                            "You left one machine out of the price. The spare one is bought as well.",
                        ),
                    ),
                    working=lambda row: (Step("Number times the price of one:", f"{{a.{row}.buy}} * {{{row}_price}}"),),
                ),
            ),
        ),
        Choice(
            key="b",
            ask="Which set do you order? The cheaper one of those that fit on the deck.",
            options=(
                Option("small", "The set of smaller machines.", LOOK),
                Option("large", "The set of larger machines.", LOOK),
                Option("none", "Neither: no set of the two fits on the deck.", LOOK),
            ),
            right=_which,
            uses=("a.small.buy", "a.small.price", "a.large.buy", "a.large.price"),
            marks=Marks(2),
            reason=(
                "{a.small.buy} smaller machines of {small_length} each cost {a.small.price}; {a.large.buy} larger "
                "ones of {large_length} each cost {a.large.price}. The deck has {deck}."
            ),
        ),
        Numeric(
            key="c",
            ask=(
                "Take the set of smaller machines. All of them run and share the circulation, without the margin. At "
                "what share of its own flow does each run, in percent?"
            ),
            unit="%",
            uses=("a.small.buy",),
            solve=lambda n: n.flow / (n["a.small.buy"] * n.small_flow),
            plausible=Range(35, 85, "%"),
            possible=RATIO,
            marks=Marks(1),
            slips=(
                Slip(
                    "margin put in",
                    lambda n: n.flow * (1 + n.margin) / (n["a.small.buy"] * n.small_flow),
                    "You put the margin in. It is there for what may come; the machines carry the circulation itself.",
                ),
                Slip(
                    "upside down",
                    lambda n: n["a.small.buy"] * n.small_flow / n.flow,
                    "You divided what they could carry by the flow. Put the flow above the line.",
                ),
            ),
            working=(Step("The flow over what all could carry:", "{flow} / ({a.small.buy} * {small_flow}) * 100"),),
        ),
        Numeric(
            key="d",
            ask="And at what share, in percent, with one of them out of service?",
            unit="%",
            uses=("a.small.buy",),
            solve=lambda n: n.flow / ((n["a.small.buy"] - 1) * n.small_flow),
            plausible=Range(50, 92, "%"),
            possible=RATIO,
            marks=Marks(1),
            slips=(
                Slip(
                    "all of them running",
                    lambda n: n.flow / (n["a.small.buy"] * n.small_flow),
                    "You shared the flow among all of them. One is out of service: one fewer shares it.",
                ),
                Slip(
                    "two out of service",
                    lambda n: n.flow / ((n["a.small.buy"] - 2) * n.small_flow),
                    "You took two off. The number to buy has one to spare: take one off.",
                ),
            ),
            working=(Step("One fewer shares the flow:", "{flow} / (({a.small.buy} - 1) * {small_flow}) * 100"),),
        ),
    ),
)
