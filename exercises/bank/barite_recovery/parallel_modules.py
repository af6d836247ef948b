"""Modules in parallel: how many for a flow, how far down they turn, their power, and one out of service."""

from __future__ import annotations

import numpy as np
import pint

from exercises.bank.barite_recovery import EXACT, WHOLE, Outcome
from exercises.fleet.envelope import FEED_PUMP_HEAD, FLOW_OF_MODULE, WEIGHTED_MUD
from exercises.fleet.machines import CYCLONE_MODULE, FEED_PUMP
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, System, mislabelled
from exercises.model.parts import Convention, Known, Marks, Numeric, Slip, absolute
from exercises.model.possible import RATIO
from exercises.model.working import Step
from pitside.cyclones import Bank, number_of_cones, pump_duty
from pitside.density import specific_gravity
from pitside.pumps import shaft_power_field
from pitside.units import WATER_4C, Q


def _bank(n: Known) -> Bank:
    """As many modules as the answer to (a), to the nearest whole one."""
    return Bank(round(float(n.a.m_as(""))), n.module_flow, n.least_load.m_as(""))


def _power(n: Known, modules: float, efficiency: float = 1.0) -> pint.Quantity:
    return pump_duty(n.module_flow, n.mud_weight, n.head, n.efficiency * efficiency).shaft_power * modules


def _two_to_six(n: Known) -> bool:
    """Two to six modules, and a flow that does not hang on the last digit of a quotient."""
    wanted = (n.flow / n.module_flow).m_as("")
    return 1.05 <= wanted <= 6 and 0.1 <= wanted % 1 <= 0.95


EXERCISE = Exercise(
    title="Modules side by side",
    level=2,
    version=3,
    outcome=Outcome.MODULES,
    numbers=(
        Number("flow", Grid(150, 600, 10, "gal/min"), Grid(34, 136, 2, "m3/h")),
        CYCLONE_MODULE.flow.part(60, 200).number("module_flow", (10, "gal/min"), (2, "m3/h")),
        CYCLONE_MODULE.least_load.number("least_load", (5, "%")),
        # Thinned with as much liquid, such a mud weighed 12 to 16 lb/gal before.
        Number("mud_weight", Grid(10.2, 12.2, 0.1, "lb/gal"), Grid(1230, 1460, 10, "kg/m3")),
        FEED_PUMP.head.number("head", (1, "ft"), (0.5, "m")),
        FEED_PUMP.efficiency.number("efficiency", (1, "%")),
    ),
    valid=_two_to_six,
    envelope=(
        Within("flow of a module", lambda n: n.module_flow, FLOW_OF_MODULE),
        Within("head of a pump", lambda n: n.head, FEED_PUMP_HEAD),
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
    ),
    setting=(
        "A well is drilled with weighted mud. A cyclonic plant is to recover barite from it. The first stage is fed "
        "with {flow} of mud that has been thinned already; count this stage alone. It is "
        "made of equal modules side by side, each with its own pump and its own valves. One module takes {module_flow} "
        "at its rated head, and separates as it should from {least_load} of that flow up. Its pump makes a head of "
        "{head} of the thinned mud itself, which weighs {mud_weight}, at an efficiency of {efficiency}. A module "
        "that is opened must first be shut in, freed of pressure and locked out by the rig's own rules."
    ),
    parts=(
        Numeric(
            key="a",
            ask="How many modules does the flow need, if none stands by?",
            unit="fraction",
            whole=True,
            solve=lambda n: number_of_cones(n.flow, n.module_flow),
            plausible=Range(2, 6),
            tolerance=WHOLE,
            marks=Marks(2),
            slips=(
                Slip(
                    "rounded down",
                    lambda n: Q(np.floor((n.flow / n.module_flow).m_as(""))),
                    "You rounded down. These modules take less than the whole flow: round up to the next whole module.",
                    keeps=0.5,
                ),
                Slip(
                    "one to spare",
                    lambda n: number_of_cones(n.flow, n.module_flow) + 1,
                    "You added a module to spare. Here the question is what the flow needs; one out of service comes "
                    "in (e).",
                    keeps=1,
                ),
            ),
            working=(
                Step("The flow over that of one module:", "{flow} / {module_flow}", "quotient", "fraction"),
                Step("Up to the next whole module:", "ceil({quotient})"),
            ),
        ),
        Numeric(
            key="b",
            ask="All of them run and share the flow. At what share of its rated flow does each run, in percent?",
            unit="%",
            uses=("a",),
            solve=lambda n: n.flow / _bank(n).capacity(),
            plausible=Range(50, 100, "%"),
            possible=RATIO,
            tolerance=absolute(0.6, "%", because="whole percent are near enough to compare with a least load"),
            marks=Marks(1),
            slips=(
                Slip(
                    "upside down",
                    lambda n: _bank(n).capacity() / n.flow,
                    "You divided what they could take by the flow. Put the flow above the line.",
                ),
                Slip(
                    "one module less",
                    lambda n: n.flow / _bank(n).capacity(shut=1),
                    "You shared the flow among one module less. All the modules of (a) run.",
                ),
            ),
            working=(Step("The flow over what all of them could take:", "{flow} / ({a} * {module_flow}) * 100"),),
        ),
        Numeric(
            key="c",
            ask=(
                "What is the turndown of the plant: its largest flow (all modules at their rated flow) over its "
                "smallest (one module alone, at the smallest flow at which it still separates)?"
            ),
            unit="fraction",
            uses=("a",),
            solve=lambda n: Q(_bank(n).turndown),
            plausible=Range(2, 9),
            tolerance=EXACT,
            marks=Marks(2),
            slips=(
                Slip(
                    "one module alone",
                    lambda n: 1 / n.least_load,
                    "This is the turndown of one module. Modules that are not needed can be shut: the largest flow is "
                    "that of all of them.",
                ),
                Slip(
                    "least load left out",
                    lambda n: Q(_bank(n).turndown) * n.least_load,
                    "You used one full module as the smallest flow. It works down to its least load: divide by that.",
                ),
                Slip(
                    "least load multiplied",
                    lambda n: Q(_bank(n).turndown) * n.least_load**2,
                    "You multiplied by the least load. It stands below the line: the smallest flow is less than one "
                    "module's.",
                ),
            ),
            working=(
                Step("Largest flow, all modules full:", "{a} * {module_flow}", "largest", By("gal/min", "m3/h")),
                Step(
                    "Smallest flow, one module at its least load:",
                    "{module_flow} * {least_load} / 100",
                    "smallest",
                    By("gal/min", "m3/h"),
                ),
                Step("Largest over smallest:", "{largest} / {smallest}"),
            ),
        ),
        Numeric(
            key="d",
            ask=By(
                "What power do the pumps of all modules take at their shafts, each module at its rated flow, in hp?",
                "What power do the pumps of all modules take at their shafts, each module at its rated flow, in kW?",
            ),
            unit=By("hp", "kW"),
            uses=("a",),
            solve=lambda n: _power(n, _bank(n).modules),
            plausible=Range(4, 65, "hp"),
            conventions=(
                Convention(
                    "3960 for ft, gal/min and SG",
                    lambda n: (
                        shaft_power_field(n.module_flow, n.head, specific_gravity(n.mud_weight), n.efficiency)
                        * _bank(n).modules
                    ),
                ),
            ),
            tolerance=EXACT,
            marks=Marks(3, unit=1),
            outcome=Outcome.POWER,
            slips=(
                Slip(
                    "one module only",
                    lambda n: _power(n, 1),
                    "This is the power of one module. Each has its own pump: multiply by the number of modules.",
                    keeps=1.5,
                ),
                Slip(
                    "efficiency left out",
                    lambda n: _power(n, _bank(n).modules) * n.efficiency,
                    "This is what the mud gets from the pumps. The shafts must bring more: divide by the efficiency.",
                    keeps=1,
                ),
                Slip(
                    "efficiency multiplied",
                    lambda n: _power(n, _bank(n).modules) * n.efficiency**2,
                    "You multiplied by the efficiency. The shafts must bring more than the mud gets: divide by it.",
                    keeps=1,
                ),
                Slip(
                    "power for water",
                    lambda n: pump_duty(n.module_flow, WATER_4C, n.head, n.efficiency).shaft_power * _bank(n).modules,
                    "This is the power for water. The head is of the mud: put its specific gravity in.",
                    keeps=1,
                ),
                Slip(
                    "hp called kW",
                    lambda n: mislabelled(_power(n, _bank(n).modules), "hp", "kW"),
                    "This is the power in hp, written as kW. One hp is 0.7457 kW.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    By(
                        "One pump: flow times head times specific gravity, over 3960 and the efficiency.",
                        "One pump: density times 9.81 times head times flow in cubic metres a second, over the "
                        "efficiency.",
                    ),
                    By(
                        "{module_flow} * {head} * ({mud_weight} / 8.345) / (3960 * {efficiency} / 100)",
                        "{mud_weight} * 9.81 * {head} * {module_flow} / 3600 / ({efficiency} / 100) / 1000",
                    ),
                    "one",
                ),
                Step("All of them:", "{one} * {a}"),
            ),
        ),
        Numeric(
            key="e",
            ask="One of the modules of (a) is out of service. How much of the flow can the plant then not take?",
            unit=By("gal/min", "m3/h"),
            uses=("a",),
            solve=lambda n: n.flow - _bank(n).capacity(shut=1),
            plausible=Range(4, 200, "gal/min"),
            tolerance=absolute(0.6, "gal/min", because="an exact difference of whole numbers"),
            marks=Marks(2),
            slips=(
                Slip(
                    "what it can take",
                    lambda n: _bank(n).capacity(shut=1),
                    "This is what the rest can take. Take it off the flow to see what is left over.",
                    keeps=1,
                ),
                Slip(
                    "a whole module's flow",
                    lambda n: n.module_flow,
                    "This is the flow of one module. The others were not quite full: they take some of it over.",
                ),
                Slip(
                    "an equal share of the flow",
                    lambda n: n.flow / _bank(n).modules,
                    "This is the share that the module had. The others are run up to their rated flow first.",
                ),
            ),
            working=(
                Step("The rest at their rated flow:", "({a} - 1) * {module_flow}", "rest"),
                Step("Left over:", "{flow} - {rest}"),
            ),
        ),
    ),
)
