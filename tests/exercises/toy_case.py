"""A small case for the tests of the model: a free choice within limits, sound options, answers on the way, a chart."""

from __future__ import annotations

from exercises.model import (
    By,
    Chart,
    Choice,
    Chosen,
    Curve,
    Derived,
    Exercise,
    Grid,
    Limit,
    Marks,
    Method,
    Number,
    Numbers,
    Numeric,
    Option,
    Slip,
    Step,
    System,
    reading,
    relative,
)
from exercises.model.numbers import Drawn
from exercises.model.variant import Variant
from pitside.units import Q

NEAR = relative(0.01, because="a test needs some tolerance")

POWER_OF_ONE = Q(20, "kW")
RUNS = Q(24, "h")


def chart(numbers: Numbers, system: System) -> Chart:
    """A straight line through the flow of one module."""
    flow = float(numbers.one.m_as("m**3/h"))
    return Chart(
        alt="Flow of one module against its head: a straight line from nought.",
        x_label="Head (m)",
        y_label="Flow (m³/h)",
        curves=(Curve((0, 20), (0, flow), "one module"),),
        x_ticks=(0, 5, 10, 15, 20),
        y_ticks=(0, 20, 40, 60),
    )


CASE = Exercise(
    id="toy-case",
    title="Modules for a flow",
    lesson="toys",
    level=3,
    version=1,
    minutes=45,
    combines=("dilution", "packages"),
    chart=chart,
    numbers=(
        Number("one", Grid(20, 40, 1, "m3/h")),
        Number("most_power", Grid(100, 140, 10, "kW")),
        Number("times", Grid(2.0, 3.0, 0.1)),
        Derived("flow", lambda n: n.one * n.times, "m3/h", 0),
    ),
    setting="A module takes {one} at 20 m of head and needs 20 kW. The flow is {flow}; there is {most_power}.",
    parts=(
        Numeric(
            key="a",
            ask="Read the flow of a module at 10 m of head.",
            unit="m3/h",
            solve=lambda n: n.one / 2,
            tolerance=reading(4, "m3/h", because="the chart's fine lines are 4 m³/h apart"),
            marks=Marks(1),
            outcome="Read a chart.",
            slips=(Slip("at 20 m", lambda n: n.one, "That is the flow at 20 m."),),
            working=(Step("Half way up the line.", "{one} / 2"),),
        ),
        Chosen(
            key="b",
            ask="Choose a whole number of modules that takes the flow and keeps the power.",
            grid=Grid(1, 8, 1),
            suggest=lambda n: Q(3),
            limits=(
                Limit("takes the flow", lambda n: n.b * n.one >= n.flow, "They do not take the flow.", 2),
                Limit("keeps the power", lambda n: n.b * POWER_OF_ONE <= n.most_power, "Too much power.", 1),
            ),
            outcome="Choose a number of modules.",
            reason="{b} modules take {flow}; one more stands by.",
        ),
        Numeric(
            key="c",
            ask="What energy does your choice need in a day?",
            unit="kWh",
            uses=("b",),
            solve=lambda n: n.b * POWER_OF_ONE * RUNS,
            tolerance=NEAR,
            marks=Marks(4, follow=2),
            outcome="Find the energy.",
            slips=(
                Slip("one module", lambda n: POWER_OF_ONE * RUNS, "That is one module."),
                Slip("half a day", lambda n: n.b * POWER_OF_ONE * RUNS / 2, "A day has 24 h."),
            ),
            method=(Method("power", "What power?", "kW", lambda n: n.b * POWER_OF_ONE, NEAR, marks=1.5, uses=("b",)),),
            working=(Step("Power:", "{b} * 20", "power", "kW"), Step("In a day:", "{power} * 24")),
        ),
        Choice(
            key="d",
            ask="Which fuel?",
            options=(
                Option("grid", "The grid.", "No."),
                Option("diesel", "Diesel.", "No."),
                Option("coal", "Coal.", By("Not on a rig.", "Not on a rig of {flow}.")),
            ),
            right=lambda n: ("grid", "diesel"),
            marks=Marks(1),
            outcome="Choose a fuel.",
            reason="Both will do.",
        ),
        Numeric(
            key="e",
            ask="What does a day's energy cost with your fuel?",
            unit="money",
            uses=("c", "d"),
            solve=lambda n: n.c * Q(0.1 if n.d == "grid" else 0.3, "money/kWh"),
            tolerance=NEAR,
            marks=Marks(2, follow=1),
            outcome="Find a cost.",
            slips=(
                Slip("ten times", lambda n: n.c * Q(1.7, "money/kWh"), "Ten times."),
                Slip("none", lambda n: Q(1, "money"), "Not free."),
            ),
            working=(Step("At 0.1 a kWh from the grid:", "{c} * 0.1"),),
        ),
    ),
)


def case(one: float = 30, most_power: float = 100, flow: float = 70) -> Variant:
    """The case with given numbers: three, four or five modules keep the limits."""
    numbers = {
        "one": Drawn(one, "m3/h", 0),
        "most_power": Drawn(most_power, "kW", 0),
        "times": Drawn(2.3, "fraction", 1),
        "flow": Drawn(flow, "m3/h", 0),
    }
    return Variant(CASE, System.METRIC, Numbers(numbers))
