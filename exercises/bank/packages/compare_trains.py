"""A train that is bought against one that is hired: what each costs, and when buying overtakes hiring."""

from __future__ import annotations

import pint

from exercises.bank.packages import CARRIED, Outcome
from exercises.fleet.envelope import ENERGY_OF_HIRE, PACKAGE_HIRE, POWER_OF_RATED
from exercises.fleet.machines import BARITE_BOWL
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, System
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
    relative,
)
from exercises.model.working import Step
from pitside.cost import LifeCost, Train, break_even_time, life_cost
from pitside.units import Q

ROWS = {"bought": "Bought train", "hired": "Hired train"}
#: Both trains are two bowls with their pumps: this exercise is about money, and praises no way of parting solids.
RATED = Usual(2 * BARITE_BOWL.power.rated.low, 2 * BARITE_BOWL.power.rated.high, "kW", BARITE_BOWL.power.rated.status)
PRICE = Usual(2 * BARITE_BOWL.price.low, 2 * BARITE_BOWL.price.high, "money", BARITE_BOWL.price.status)
CALENDAR = relative(0.01, because="0.7457 or 0.746 kW in a hp moves it by 0.04 %, carried digits by 0.5 %")
LOOK = "Compare the break-even of (b) with the length of the contract: buying pays only after the break-even."


def _train(n: Known, row: str, load: bool = True) -> Train:
    capital = n.capital if row == "bought" else Q(0, "money")
    power, service = getattr(n, f"{row}_power"), getattr(n, f"{row}_service")
    return Train(row, capital, power, service, n.load if load else 1.0)


def _cost(n: Known, row: str, load: bool = True, running: bool = True) -> LifeCost:
    share = n.running / Q(24, "h") if running else 1.0
    return life_cost(_train(n, row, load), n.contract, n.price, running=share)


def _break_even(n: Known) -> pint.Quantity:
    return break_even_time(_train(n, "bought"), _train(n, "hired"), n.price, running=n.running / Q(24, "h"))


def _saved_daily(n: Known) -> pint.Quantity:
    """What hiring costs more than the bought train in each day, from the table."""
    hired, bought = (n[f"a.{row}.energy"] + n[f"a.{row}.service"] for row in ("hired", "bought"))
    return (hired - bought) / n.contract


def _daily(n: Known) -> pint.Quantity:
    """What both trains together cost in each day."""
    return sum(n[f"a.{row}.{what}"] for row in ROWS for what in ("energy", "service")) / n.contract


def _energy_working(row: str) -> tuple[Step, ...]:
    return (
        Step(
            By("Power drawn, with the load (0.7457 kW in a hp):", "Power drawn, with the load:"),
            By(f"{{{row}_power}} * 0.7457 * {{load}} / 100", f"{{{row}_power}} * {{load}} / 100"),
            "drawn",
            "kW",
        ),
        Step("Energy of the whole contract:", "{drawn} * {running} * {contract}", "whole", "kWh"),
        Step("Times its price:", "{whole} * {price}"),
    )


def _can_be_told(n: Known) -> bool:
    """A break-even of two months to two years, and a contract clearly longer or shorter."""
    days = _break_even(n).m_as("day")
    return bool(60 <= days <= 730 and abs(n.contract.m_as("day") / days - 1) >= 0.12)


EXERCISE = Exercise(
    title="Buy or hire a recovery train",
    level=2,
    version=4,
    outcome=Outcome.COMPARE,
    tolerance=CALENDAR,
    numbers=(
        Number("contract", Grid(60, 345, 15, "d")),
        PRICE.number("capital", (5000, "money")),
        RATED.number("bought_power", (5, "hp"), (2, "kW")),
        RATED.number("hired_power", (5, "hp"), (2, "kW")),
        Number("bought_service", Grid(800, 1800, 50, "money/d")),
        PACKAGE_HIRE.part(2000, 4000).number("hired_service", (50, "money/d")),
        Number("load", Grid(60, 85, 5, "%")),
        Number("running", Grid(8, 18, 1, "h")),
        Number("price", Grid(0.15, 0.35, 0.01, "money/kWh")),
    ),
    valid=_can_be_told,
    envelope=(
        Within("price of the train", lambda n: n.capital, PRICE),
        Within("hire with crew", lambda n: n.hired_service, PACKAGE_HIRE),
        Within("power drawn of rated", lambda n: n.load, POWER_OF_RATED),
        Within("energy against hire", lambda n: n["a.hired.energy"] / n["a.hired.service"], ENERGY_OF_HIRE),
    ),
    setting=(
        "Larkwater Energy has a contract of {contract} for rig Heron 4 and needs a train of two centrifuges that "
        "recovers barite. It can buy one for {capital}, or hire one of another make for the same work and pay nothing "
        "at the start. Rated power and cost of service are in the table. The service covers crew and spares; for the "
        "hired train it covers the hire too. While it runs, a train draws {load} of its rated power from the supply "
        "(what the motors lose is in this share), {running} of each day, every day. Service is paid every day. "
        "Electricity costs {price}. All prices are invented, and money stands for a currency of one date; interest is "
        "left out, and nothing is sold at the end."
    ),
    parts=(
        Table(
            key="a",
            ask="What does each train cost over the contract, in units of currency?",
            corner="Train",
            rows=tuple(Row(key, title) for key, title in ROWS.items()),
            columns=(
                PrintedColumn("Rated power", lambda row: f"{{{row.key}_power}}"),
                PrintedColumn("Service by the day", lambda row: f"{{{row.key}_service}}"),
                Column(
                    key="energy",
                    title="Energy over the contract",
                    unit="money",
                    solve=lambda n, row: _cost(n, row).energy,
                    plausible=Range(1500, 265_000, "money"),
                    marks=Marks(1.5),
                    slips=(
                        RowSlip(
                            "load left out",
                            lambda n, row: _cost(n, row, load=False).energy,
                            "You took the rated power. While it runs the train draws less: multiply by the load.",
                            keeps=0.5,
                        ),
                        RowSlip(
                            "round the clock",
                            lambda n, row: _cost(n, row, running=False).energy,
                            "You let the train run for 24 hours a day. Take the hours of the setting.",
                            keeps=0.5,
                        ),
                        RowSlip(
                            "hp called kW",
                            lambda n, row: _cost(n, row).energy * Q(1, "kW/hp"),
                            "You used hp as if it were kW. One hp is 0.7457 kW.",
                            keeps=0.5,
                            only=System.FIELD,
                        ),
                    ),
                    working=_energy_working,
                ),
                Column(
                    key="service",
                    title="Service over the contract",
                    unit="money",
                    solve=lambda n, row: _cost(n, row).service,
                    plausible=Range(45_000, 1_950_000, "money"),
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "one day",
                            lambda n, row: _cost(n, row).service / (n.contract / Q(1, "day")),
                            "This is the service of one day. Multiply by the days of the contract.",
                        ),
                        RowSlip(
                            "only while it runs",
                            lambda n, row: _cost(n, row).service * (n.running / Q(24, "h")),
                            "You paid service for the running hours alone. It is paid every day, whole.",
                        ),
                    ),
                    working=lambda row: (Step("Service a day, times the days:", f"{{{row}_service}} * {{contract}}"),),
                ),
                Column(
                    key="total",
                    title="Total: energy, service and price",
                    unit="money",
                    uses=(".energy", ".service"),
                    solve=lambda n, row: _train(n, row).capital + n[f"a.{row}.energy"] + n[f"a.{row}.service"],
                    plausible=Range(120_000, 2_250_000, "money"),
                    tolerance=CARRIED,
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "capital left out",
                            lambda n, row: n[f"a.{row}.energy"] + n[f"a.{row}.service"],
                            "You left out the price of the train. It is paid at the start, and belongs to the total.",
                            rows=("bought",),
                        ),
                        RowSlip(
                            "energy left out",
                            lambda n, row: _train(n, row).capital + n[f"a.{row}.service"],
                            "You left out the energy. Add it to the rest.",
                        ),
                        RowSlip(
                            "price of the bought train added",
                            lambda n, row: n.capital + n[f"a.{row}.energy"] + n[f"a.{row}.service"],
                            "You added the price of the bought train to the hired one. For that one nothing is paid at "
                            "the start.",
                            rows=("hired",),
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Energy and service, and the price of what is bought:",
                            f"{{a.{row}.energy}} + {{a.{row}.service}}" + (" + {capital}" if row == "bought" else ""),
                        ),
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=(
                "After how many days has the bought train cost the same as the hired one, if the work went on at the "
                "same costs?"
            ),
            unit="d",
            uses=("a.bought.energy", "a.bought.service", "a.hired.energy", "a.hired.service"),
            solve=lambda n: n.capital / _saved_daily(n),
            plausible=Range(60, 730, "d"),
            tolerance=relative(0.02, because="a difference below the line: 0.5 % of each cost is up to 1.5 % of it"),
            marks=Marks(3),
            slips=(
                Slip(
                    "saved over the contract, called daily",
                    lambda n: n.capital / _saved_daily(n) / (n.contract / Q(1, "day")),
                    "You divided the price by what is saved over the whole contract. Divide that saving by its days "
                    "first.",
                    keeps=1,
                ),
                Slip(
                    "running cost of hiring alone",
                    lambda n: n.capital / ((n["a.hired.energy"] + n["a.hired.service"]) / n.contract),
                    "You divided by the whole daily cost of hiring. The bought train costs something to run as well: "
                    "take the difference.",
                    keeps=1,
                ),
                Slip(
                    "running costs added",
                    lambda n: n.capital / _daily(n),
                    "You added the daily costs of both trains. What buying saves is the difference.",
                    keeps=1,
                ),
            ),
            working=(
                Step(
                    "What hiring costs more in a day, energy and service:",
                    "({a.hired.energy} + {a.hired.service} - {a.bought.energy} - {a.bought.service}) / {contract}",
                    "saved",
                    "money/d",
                ),
                Step("Price of the train over that:", "{capital} / {saved}"),
            ),
        ),
        Choice(
            key="c",
            ask="Which is cheaper for this contract?",
            options=(
                Option("buy", "To buy: the contract is longer than the break-even.", LOOK),
                Option("hire", "To hire: the contract ends before the break-even.", LOOK),
            ),
            right=lambda n: "buy" if n.b < n.contract else "hire",
            uses=("b",),
            marks=Marks(1),
            reason=(
                "Buying has paid for itself after {b}; the contract runs for {contract}. The totals of (a) say the "
                "same: {a.bought.total} bought, {a.hired.total} hired."
            ),
        ),
    ),
)
