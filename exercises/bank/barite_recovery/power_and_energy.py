"""Power and energy of a cyclonic train, what a day of it costs, and the difference to centrifuges."""

from __future__ import annotations

import pint

from exercises.bank.barite_recovery import EXACT, Outcome
from exercises.fleet.envelope import ENERGY_OF_HIRE, FEED_PUMP_HEAD, POWER_OF_RATED, WEIGHTED_MUD
from exercises.fleet.machines import BARITE_BOWL, FEED_PUMP
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, System, mislabelled
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip, relative
from exercises.model.working import Step
from pitside.cyclones import pump_duty
from pitside.density import specific_gravity
from pitside.power import energy, energy_cost, supply_power
from pitside.pumps import shaft_power_field
from pitside.units import WATER_4C, Q

DAY = Q(24, "h")
#: Two bowls, rated with their pumps.
BOWLS = Usual(2 * BARITE_BOWL.power.rated.low, 2 * BARITE_BOWL.power.rated.high, "kW", BARITE_BOWL.power.rated.status)
TOGETHER = "Add hire and energy of each train, and take the smaller sum."
CARRIED = relative(0.01, because="0.7457 or 0.746 kW in a hp moves it by less than 0.1 %, rounded powers by 0.5 %")


def _centrifuge_cost(n: Known) -> pint.Quantity:
    drawn = energy(supply_power(n.rated, n.motor), n.load, DAY, n.running / DAY)
    return energy_cost(drawn, n.price)


def _cyclone_cost(n: Known) -> pint.Quantity:
    shaft = pump_duty(n.flow, n.mud_weight, n.head, n.efficiency).shaft_power
    return energy_cost(energy(supply_power(shaft, n.motor), 1.0, DAY, n.running / DAY), n.price)


def _can_be_told(n: Known) -> bool:
    """Energies apart, each a small share of its hire, and sums that differ by more than a rounded number does."""
    first, second = n.first_hire + _cyclone_cost(n), n.second_hire + _centrifuge_cost(n)
    small = _cyclone_cost(n) <= 0.2 * n.first_hire and _centrifuge_cost(n) <= 0.2 * n.second_hire
    return bool(small and abs(first / second - 1) >= 0.04 and abs(_cyclone_cost(n) / _centrifuge_cost(n) - 1) >= 0.1)


EXERCISE = Exercise(
    title="Power and energy of two trains",
    level=2,
    version=4,
    outcome=Outcome.POWER,
    tolerance=CARRIED,
    numbers=(
        Number("flow", Grid(250, 900, 10, "gal/min"), Grid(56, 204, 2, "m3/h")),
        # Thinned with as much liquid, such a mud weighed 12 to 16 lb/gal before.
        Number("mud_weight", Grid(10.2, 12.2, 0.1, "lb/gal"), Grid(1230, 1460, 10, "kg/m3")),
        FEED_PUMP.head.number("head", (1, "ft"), (0.5, "m")),
        FEED_PUMP.efficiency.number("efficiency", (1, "%")),
        Number("motor", Grid(88, 94, 1, "%")),
        Number("running", Grid(12, 20, 1, "h")),
        Number("price", Grid(0.12, 0.30, 0.01, "money/kWh")),
        BOWLS.number("rated", (5, "hp"), (2, "kW")),
        Number("load", Grid(45, 85, 5, "%")),
        Number("first_hire", Grid(1000, 2400, 50, "money")),
        Number("second_hire", Grid(1000, 2100, 50, "money")),
    ),
    valid=_can_be_told,
    envelope=(
        Within("mud weight, thinned", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("head of the pumps", lambda n: n.head, FEED_PUMP_HEAD),
        Within("power drawn of rated", lambda n: n.load, POWER_OF_RATED),
        Within("energy of train 1 against its hire", lambda n: n.d / n.first_hire, ENERGY_OF_HIRE),
        Within("energy of train 2 against its hire", lambda n: n.e / n.second_hire, ENERGY_OF_HIRE),
    ),
    setting=(
        "Larkwater Energy compares two trains that recover barite on rig Heron 4 and do the same work there. Train 1 "
        "is cyclonic: the mud is thinned and goes through two stages, and the pumps of both together move {flow} of "
        "{mud_weight} against a head of {head} of that mud, at an efficiency of {efficiency}. Train 2 has two "
        "centrifuges with their pumps; their motors are rated at {rated} in all at the shafts, and while they run the "
        "shafts take {load} of that. The motors of both trains have an efficiency of {motor}. Both trains run "
        "{running} a day. Electricity costs {price}, generator included; both are hired without crew, train 1 for "
        "{first_hire} a day, train 2 for {second_hire}. All prices here are invented. Supply and cables are sized on "
        "rated power, by the electrician and under the rules of the site."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By(
                "What power do the pumps of train 1 take at their shafts, in hp?",
                "What power do the pumps of train 1 take at their shafts, in kW?",
            ),
            unit=By("hp", "kW"),
            solve=lambda n: pump_duty(n.flow, n.mud_weight, n.head, n.efficiency).shaft_power,
            plausible=Range(6, 65, "hp"),
            conventions=(
                Convention(
                    "3960 for ft, gal/min and SG",
                    lambda n: shaft_power_field(n.flow, n.head, specific_gravity(n.mud_weight), n.efficiency),
                ),
            ),
            tolerance=EXACT,
            marks=Marks(2, unit=1),
            slips=(
                Slip(
                    "efficiency left out",
                    lambda n: pump_duty(n.flow, n.mud_weight, n.head).hydraulic_power,
                    "This is what the mud gets from the pumps. The shafts must bring more: divide by the efficiency.",
                ),
                Slip(
                    "efficiency multiplied",
                    lambda n: pump_duty(n.flow, n.mud_weight, n.head).hydraulic_power * n.efficiency,
                    "You multiplied by the efficiency. The shafts must bring more than the mud gets: divide by it.",
                ),
                Slip(
                    "power for water",
                    lambda n: pump_duty(n.flow, WATER_4C, n.head, n.efficiency).shaft_power,
                    "This is the power for water. The head is of the mud: put its specific gravity in.",
                ),
            ),
            working=(
                Step(
                    By(
                        "Flow times head times specific gravity, over 3960 and the efficiency.",
                        "Density times 9.81 times head times flow in cubic metres a second, over the efficiency.",
                    ),
                    By(
                        "{flow} * {head} * ({mud_weight} / 8.345) / (3960 * {efficiency} / 100)",
                        "{mud_weight} * 9.81 * {head} * {flow} / 3600 / ({efficiency} / 100) / 1000",
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What electrical power does train 1 draw, in kW?",
            unit="kW",
            uses=("a",),
            solve=lambda n: supply_power(n.a, n.motor),
            plausible=Range(5, 55, "kW"),
            marks=Marks(2),
            slips=(
                Slip(
                    "hp called kW",
                    lambda n: mislabelled(supply_power(n.a, n.motor), "hp", "kW"),
                    "This is the power in hp, written as kW. One hp is 0.7457 kW.",
                    keeps=1,
                    only=System.FIELD,
                ),
                Slip(
                    "motor left out",
                    lambda n: n.a,
                    "This is the power at the shafts. The motors lose some on the way: divide by their efficiency.",
                    keeps=1,
                ),
                Slip(
                    "motor efficiency multiplied",
                    lambda n: n.a * n.motor,
                    "You multiplied by the efficiency of the motors. They draw more than they give: divide by it.",
                    keeps=1,
                ),
            ),
            working=(
                Step(
                    By(
                        "Into kW (0.7457 kW in a hp), over the efficiency of the motors.",
                        "Over the efficiency of the motors.",
                    ),
                    By("{a} * 0.7457 / ({motor} / 100)", "{a} / ({motor} / 100)"),
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="How much energy does train 1 take in a day, in kWh?",
            unit="kWh",
            uses=("b",),
            solve=lambda n: energy(n.b, 1.0, DAY, n.running / DAY),
            plausible=Range(55, 1100, "kWh"),
            marks=Marks(1),
            slips=(
                Slip(
                    "round the clock",
                    lambda n: energy(n.b, 1.0, DAY),
                    "You let the train run for 24 hours. It runs for fewer: take the hours of the setting.",
                ),
                Slip(
                    "power over hours",
                    lambda n: mislabelled(n.b / n.running, "kW/h", "kWh"),
                    "You divided by the hours. Energy is power times time.",
                ),
            ),
            working=(Step("Power times the hours that it runs:", "{b} * {running}"),),
        ),
        Numeric(
            key="d",
            ask="What does the energy of train 1 cost in a day, in units of currency?",
            unit="money",
            uses=("c",),
            solve=lambda n: energy_cost(n.c, n.price),
            plausible=Range(8, 385, "money"),
            marks=Marks(1),
            slips=(
                Slip(
                    "divided by the price",
                    lambda n: mislabelled(n.c / n.price, "kWh*kWh/money", "money"),
                    "You divided by the price. Cost is energy times the price of a kWh.",
                ),
                Slip(
                    "an hour for a day",
                    lambda n: energy_cost(n.c, n.price) / (n.running / Q(1, "h")),
                    "This is the cost of one hour. Use the energy of the whole day, as in (c).",
                ),
            ),
            working=(Step("Energy times its price:", "{c} * {price}"),),
        ),
        Numeric(
            key="e",
            ask="What does the energy of train 2 cost in a day, in units of currency?",
            unit="money",
            solve=_centrifuge_cost,
            plausible=Range(15, 500, "money"),
            marks=Marks(3),
            slips=(
                Slip(
                    "load left out",
                    lambda n: _centrifuge_cost(n) / n.load,
                    "You took the rated power of train 2. While it runs it draws less: multiply by the load.",
                    keeps=1.5,
                ),
                Slip(
                    "hp called kW",
                    lambda n: _centrifuge_cost(n) * Q(1, "kW/hp"),
                    "You used the hp of train 2 as if it were kW. One hp is 0.7457 kW.",
                    keeps=1.5,
                    only=System.FIELD,
                ),
                Slip(
                    "motor of train 2 left out",
                    lambda n: _centrifuge_cost(n) * n.motor,
                    "You left out the motors of train 2. Divide its power by their efficiency, as you did for train 1.",
                    keeps=1.5,
                ),
                Slip(
                    "round the clock",
                    lambda n: _centrifuge_cost(n) * (DAY / n.running),
                    "You let train 2 run for 24 hours. It runs for fewer: take the hours of the setting.",
                    keeps=1.5,
                ),
            ),
            working=(
                Step(
                    By(
                        "Electrical power of train 2, with its load and its motors (0.7457 kW in a hp):",
                        "Electrical power of train 2, with its load and its motors:",
                    ),
                    By("{rated} * 0.7457 * {load} / 100 / ({motor} / 100)", "{rated} * {load} / 100 / ({motor} / 100)"),
                    "drawn",
                    "kW",
                ),
                Step("What its day costs:", "{drawn} * {running} * {price}"),
            ),
        ),
        Choice(
            key="f",
            ask="Hire and energy together: which train costs less in a day?",
            options=(
                Option("cyclones", "Train 1, the cyclonic one.", TOGETHER),
                Option("centrifuges", "Train 2, the centrifuges.", TOGETHER),
            ),
            right=lambda n: "cyclones" if n.first_hire + n.d < n.second_hire + n.e else "centrifuges",
            uses=("d", "e"),
            marks=Marks(1),
            reason=(
                "Train 1 costs {first_hire} and the energy of (d); train 2 {second_hire} and that of (e). The energy "
                "is the smaller part of both. The sum is fair because both trains do the same work."
            ),
        ),
    ),
)
