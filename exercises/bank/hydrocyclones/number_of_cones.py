"""How many cones, and the pump for them."""

from __future__ import annotations

import numpy as np
import pint

from exercises.bank.hydrocyclones import FACTORS, Outcome
from exercises.fleet.envelope import FEED_PUMP_HEAD, FEED_TO_DESILTER_CONE, OPEN_CONE_MUD_WEIGHT
from exercises.fleet.machines import DESILTER, FEED_PUMP
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, System, mislabelled
from exercises.model.parts import Convention, Known, Marks, Numeric, Slip, absolute
from exercises.model.usual_slips import BAR_CALLED_KPA
from exercises.model.working import Step
from pitside.cyclones import feed_pressure, feed_pressure_field, number_of_cones
from pitside.density import specific_gravity
from pitside.pumps import hydraulic_power, hydraulic_power_field, shaft_power_field
from pitside.units import WATER_4C, Q


def _cones(n: Known) -> pint.Quantity:
    return number_of_cones(n.flow, n.cone_flow, n.excess)


def _rounded_down(n: Known) -> pint.Quantity:
    return Q(np.floor((n.flow * (1 + n.excess) / n.cone_flow).m_as("")))


def _more_than_one_for_the_excess(n: Known) -> bool:
    """The excess asks for two cones or more, and the answer does not hang on the last digit of a quotient."""
    wanted = (n.flow * (1 + n.excess) / n.cone_flow).m_as("")
    clear = 0.03 <= wanted % 1 <= 0.97
    return bool(clear and 10 <= _cones(n) <= 32 and _cones(n) - number_of_cones(n.flow, n.cone_flow) >= 2)


EXERCISE = Exercise(
    title="How many cones, and what pump",
    level=2,
    version=2,
    outcome=Outcome.FEED,
    tolerance=FACTORS,
    numbers=(
        Number("flow", Grid(450, 1100, 10, "gal/min"), Grid(100, 250, 5, "m3/h")),
        DESILTER.flow.number("cone_flow", (2, "gal/min"), (0.5, "m3/h")),
        Number("excess", Grid(15, 30, 5, "%")),
        DESILTER.mud_weight.part(8.8, 10.5).number("mud_weight", (0.1, "lb/gal"), (10, "kg/m3")),
        FEED_PUMP.head.part(80, 100).number("head", (1, "ft"), (0.5, "m")),
        FEED_PUMP.efficiency.number("efficiency", (1, "%")),
    ),
    valid=_more_than_one_for_the_excess,
    envelope=(
        Within("feed of a cone", lambda n: n.cone_flow, FEED_TO_DESILTER_CONE),
        Within("mud weight at open cones", lambda n: n.mud_weight, OPEN_CONE_MUD_WEIGHT),
        Within("head of the pump", lambda n: n.head, FEED_PUMP_HEAD),
    ),
    setting=(
        "Larkwater Energy plans a new desilter for rig Heron 4. The mud is circulated at {flow}; the cones are to "
        "process {excess} more than that, so that no mud passes the cones untreated. One cone takes {cone_flow} at its "
        "rated head. The mud weighs {mud_weight}. The feed pump must make a head of {head} of the mud itself, in which "
        "the friction in the pipes and the lift are included, at an efficiency of {efficiency}. The maker's limit for "
        "the pressure of the manifold comes before any figure worked out here."
    ),
    parts=(
        Numeric(
            key="a",
            ask="How many cones are needed?",
            unit="fraction",
            whole=True,
            solve=_cones,
            plausible=Range(10, 32),
            tolerance=absolute(0.4, "fraction", because="cones come whole: no other whole number is near enough"),
            marks=Marks(2),
            slips=(
                Slip(
                    "no excess",
                    lambda n: number_of_cones(n.flow, n.cone_flow),
                    "These cones take just the circulation. Some mud would slip past: add the excess first.",
                ),
                Slip(
                    "rounded down",
                    _rounded_down,
                    "You rounded down. These cones take less than is asked for: round up to the next whole cone.",
                ),
            ),
            working=(
                Step(
                    "Flow to be processed, with the excess:",
                    "{flow} * (1 + {excess} / 100)",
                    "wanted",
                    By("gal/min", "m3/h"),
                ),
                Step("Over the flow of one cone:", "{wanted} / {cone_flow}", "quotient", "fraction"),
                Step("Only whole cones can be had:", "ceil({quotient})"),
            ),
        ),
        Numeric(
            key="b",
            ask="What flow do all these cones take together at their rated head?",
            unit=By("gal/min", "m3/h"),
            uses=("a",),
            solve=lambda n: n.a * n.cone_flow,
            plausible=Range(450, 1550, "gal/min"),
            marks=Marks(1),
            slips=(
                Slip(
                    "circulation only",
                    lambda n: n.flow,
                    "This is the circulation. The cones take more: their number times the flow of each.",
                ),
                Slip(
                    "excess put on top again",
                    lambda n: n.a * n.cone_flow * (1 + n.excess),
                    "You added the excess once more. It is in the number of cones already.",
                ),
            ),
            working=(Step("Number of cones times the flow of each.", "{a} * {cone_flow}"),),
        ),
        Numeric(
            key="c",
            ask=By("What pressure must the pump make, in psi?", "What pressure must the pump make, in kPa?"),
            unit=By("psi", "kPa"),
            solve=lambda n: feed_pressure(n.mud_weight, n.head),
            plausible=Range(36, 55, "psi"),
            conventions=(Convention("0.052 for lb/gal and ft", lambda n: feed_pressure_field(n.mud_weight, n.head)),),
            marks=Marks(2, unit=1),
            slips=(
                Slip(
                    "head of water",
                    lambda n: feed_pressure(WATER_4C, n.head),
                    "This is the pressure of a head of water. The head is of the mud itself: use the mud weight.",
                ),
                Slip(
                    "feet called psi",
                    lambda n: mislabelled(n.head, "ft", "psi"),
                    "You used the head in feet as if it were the pressure in psi. Multiply by 0.052 and by the mud "
                    "weight.",
                    only=System.FIELD,
                ),
                BAR_CALLED_KPA.of(lambda n: feed_pressure(n.mud_weight, n.head)),
            ),
            working=(
                Step(
                    By(
                        "Each lb/gal adds 0.05195 psi in each foot (0.052 is near enough).",
                        "Each kg/m³ adds 0.009807 kPa in each metre (0.00981 is near enough).",
                    ),
                    By("0.05195 * {mud_weight} * {head}", "0.009807 * {mud_weight} * {head}"),
                ),
            ),
        ),
        Numeric(
            key="d",
            ask=By(
                "What power does the pump take at its shaft with all cones open, in hp?",
                "What power does the pump take at its shaft with all cones open, in kW?",
            ),
            unit=By("hp", "kW"),
            uses=("b", "c"),
            solve=lambda n: hydraulic_power(n.c, n.b) / n.efficiency,
            plausible=Range(15, 80, "hp"),
            conventions=(
                Convention("1714 for psi and gal/min", lambda n: hydraulic_power_field(n.c, n.b) / n.efficiency),
                Convention(
                    "3960 for ft, gal/min and SG",
                    lambda n: shaft_power_field(n.b, n.head, specific_gravity(n.mud_weight), n.efficiency),
                ),
            ),
            marks=Marks(2, unit=1),
            slips=(
                Slip(
                    "efficiency left out",
                    lambda n: hydraulic_power(n.c, n.b),
                    "This is what the mud gets from the pump. The shaft must bring more: divide by the efficiency.",
                ),
                Slip(
                    "efficiency multiplied",
                    lambda n: hydraulic_power(n.c, n.b) * n.efficiency,
                    "You multiplied by the efficiency. The shaft must bring more than the mud gets: divide by it.",
                ),
                Slip(
                    "circulation only",
                    lambda n: hydraulic_power(n.c, n.flow) / n.efficiency,
                    "You used the circulation. The pump feeds all cones: use the flow of (b).",
                ),
                Slip(
                    "power for water",
                    lambda n: hydraulic_power(feed_pressure(WATER_4C, n.head), n.b) / n.efficiency,
                    "This is the power for water. The pump lifts mud: use the pressure of (c), or put the specific "
                    "gravity in.",
                ),
            ),
            working=(
                Step(
                    By(
                        "Pressure times flow over 1714, over the efficiency.",
                        "Pressure times flow in cubic metres a second, over the efficiency.",
                    ),
                    By("{c} * {b} / 1714 / ({efficiency} / 100)", "{c} * {b} / 3600 / ({efficiency} / 100)"),
                ),
            ),
        ),
    ),
)
