"""The streams of a centrifuge, with its dilution liquid."""

from __future__ import annotations

import pint

from exercises.bank.centrifuges import BALANCE, Outcome
from exercises.fleet.envelope import BARITE_BOWL_FEED, SOLIDS_THROUGH_SMALL_BOWL, UNDERFLOW_OF_BOWL, WEIGHTED_MUD
from exercises.fleet.machines import BARITE_BOWL
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range
from exercises.model.parts import Known, Marks, Numeric, Slip
from exercises.model.working import Step
from pitside.centrifuges import CentrifugeBalance, centrifuge_balance
from pitside.cyclones import underflow_solids
from pitside.units import Q

ONE, NONE = Q(1.0), Q(0.0, "m**3/s")


def _streams(n: Known | Numbers, dilution: pint.Quantity | None = None) -> CentrifugeBalance:
    rate = n.dilution if dilution is None else dilution
    return centrifuge_balance(n.feed, n.mud_weight, rate, n.water, n.underflow, n.overflow)


def _liquid_share(n: Numbers) -> pint.Quantity:
    """Liquid of an underflow whose solids, barite with some drilled solids, have this density together."""
    return ONE - underflow_solids(n.underflow, n.water, n.solids)


def _solids(n: Known) -> pint.Quantity:
    return n.a * (n.underflow - n.liquid * n.water)


def _machine_runs_as_usual(n: Known) -> bool:
    """An eighth to three fifths of what goes in leaves as underflow, with the usual liquid and no more than 5 t/h."""
    share = _streams(n).underflow_rate / (n.feed + n.dilution)
    streams = _streams(n)
    carried = streams.underflow_rate * (n.underflow - n.liquid * n.water)
    if carried > Q(5, "t/h"):
        return False
    return bool(0.12 <= share <= 0.6 and Q(30, "%") <= n.liquid <= Q(50, "%") and 0.25 <= n.dilution / n.feed <= 0.8)


EXERCISE = Exercise(
    title="The streams of a centrifuge",
    level=2,
    version=3,
    outcome=Outcome.BALANCE,
    tolerance=BALANCE,
    numbers=(
        BARITE_BOWL.feed.number("feed", (1, "gal/min"), (0.2, "m3/h")),
        Number("mud_weight", Grid(11.5, 16.0, 0.1, "lb/gal"), Grid(1380, 1920, 10, "kg/m3")),
        Number("dilution", Grid(5, 24, 1, "gal/min"), Grid(1.0, 6.0, 0.2, "m3/h")),
        Number("water", Grid(8.33, 8.33, 0.01, "lb/gal"), Grid(1000, 1000, 10, "kg/m3")),
        Number("underflow", Grid(18.0, 23.0, 0.1, "lb/gal"), Grid(2160, 2760, 10, "kg/m3")),
        Number("overflow", Grid(9.0, 10.2, 0.1, "lb/gal"), Grid(1080, 1220, 10, "kg/m3")),
        Number("solids", Grid(29.0, 34.0, 0.5, "lb/gal"), Grid(3500, 4100, 50, "kg/m3")),
        Derived("liquid", _liquid_share, "%", 0),
    ),
    valid=_machine_runs_as_usual,
    envelope=(
        Within("feed of the bowl", lambda n: n.feed, BARITE_BOWL_FEED),
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("weight of the underflow", lambda n: n.underflow, UNDERFLOW_OF_BOWL),
        Within("solids through the bowl", lambda n: n.c, SOLIDS_THROUGH_SMALL_BOWL),
    ),
    setting=(
        "The barite centrifuge of rig Heron 4 is fed with {feed} of mud of {mud_weight}, and {dilution} of water of "
        "{water} is added at the feed to thin it. The underflow weighs {underflow}, the overflow {overflow}. A retort "
        "of the underflow shows {liquid} of liquid by volume, as heavy as the water; the rest is solids. Samples are "
        "taken at the chutes, never inside the guards of a turning machine."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the flow of the underflow?",
            unit=By("gal/min", "m3/h"),
            solve=lambda n: _streams(n).underflow_rate,
            plausible=Range(2, 40, "gal/min"),
            marks=Marks(3),
            slips=(
                Slip(
                    "dilution liquid left out",
                    lambda n: _streams(n, NONE).underflow_rate,
                    "You left the water out. It goes into the machine too and makes the feed lighter: put its flow and "
                    "its density in the balance.",
                ),
                Slip(
                    "dilution taken as mud",
                    lambda n: (n.feed + n.dilution) * (n.mud_weight - n.overflow) / (n.underflow - n.overflow),
                    "You gave the water the density of the mud. Water is lighter: it has its own density in the "
                    "balance.",
                ),
                Slip(
                    "overflow for underflow",
                    lambda n: _streams(n).overflow_rate,
                    "This is the overflow. The underflow is the other stream.",
                ),
            ),
            working=(
                Step(
                    "What the mud brings above the weight of the overflow:",
                    "{feed} * ({mud_weight} - {overflow})",
                    "brought",
                    By("lb/min", "kg/h"),
                ),
                Step(
                    "What the water takes of it, since it is lighter than the overflow:",
                    "{dilution} * ({overflow} - {water})",
                    "taken",
                    By("lb/min", "kg/h"),
                ),
                Step(
                    "The rest over what the underflow weighs more than the overflow.",
                    "({brought} - {taken}) / ({underflow} - {overflow})",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What is the flow of the overflow?",
            unit=By("gal/min", "m3/h"),
            uses=("a",),
            solve=lambda n: n.feed + n.dilution - n.a,
            plausible=Range(6, 65, "gal/min"),
            marks=Marks(1),
            slips=(
                Slip(
                    "dilution liquid left out",
                    lambda n: n.feed - n.a,
                    "You left the water out. Mud and water go in together; what does not leave below leaves above.",
                ),
                Slip(
                    "all that goes in",
                    lambda n: n.feed + n.dilution,
                    "This is all that goes in. Take the underflow of (a) off.",
                ),
            ),
            working=(Step("All that goes in, less the underflow.", "{feed} + {dilution} - {a}"),),
        ),
        Numeric(
            key="c",
            ask=By(
                "What mass of solids leaves with the underflow, in lb/min?",
                "What mass of solids leaves with the underflow, in kg/h?",
            ),
            unit=By("lb/min", "kg/h"),
            uses=("a",),
            solve=_solids,
            plausible=Range(30, 600, "lb/min"),
            marks=Marks(2, unit=1),
            slips=(
                Slip(
                    "the whole underflow",
                    lambda n: n.a * n.underflow,
                    "This is the mass of the whole underflow. Take the mass of its liquid off.",
                ),
                Slip(
                    "share by volume as share by mass",
                    lambda n: n.a * n.underflow * (ONE - n.liquid),
                    "You used the share by volume as if it were a share by mass. Find the mass of the liquid from its "
                    "volume and density, and take it off.",
                ),
                Slip(
                    "liquid for solids",
                    lambda n: n.a * n.liquid * n.water,
                    "This is the mass of the liquid. The solids are the rest of the underflow.",
                ),
            ),
            working=(
                Step("Mass of the underflow:", "{a} * {underflow}", "whole", By("lb/min", "kg/h")),
                Step("Mass of the liquid in it:", "{a} * {liquid} / 100 * {water}", "wet", By("lb/min", "kg/h")),
                Step("The rest is solids.", "{whole} - {wet}"),
            ),
        ),
    ),
)
