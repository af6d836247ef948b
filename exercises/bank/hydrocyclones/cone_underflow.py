"""What leaves in the underflow of a bank of cones."""

from __future__ import annotations

import pint

from exercises.bank.hydrocyclones import BALANCE, DRILLED, WATER, Outcome
from exercises.fleet.envelope import UNDERFLOW_OF_DESILTER_CONE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Numeric, Slip
from exercises.model.usual_slips import GALLONS_CALLED_BARRELS, LITRES_CALLED_CUBIC_METRES
from exercises.model.working import Step
from pitside.cyclones import underflow_solids
from pitside.units import Q

ONE = Q(1.0)


def _solids_rate(n: Known) -> pint.Quantity:
    return n.a * n.drilled * n.volume / n.time


def _liquid_rate(n: Known) -> pint.Quantity:
    return (ONE - n.a) * n.volume / n.time


def _cone_runs_as_usual(n: Known) -> bool:
    """A desilter cone: 0.4 to 1.2 gal/min of underflow, 15 to 45 % solids."""
    return bool(
        Q(0.4, "gal/min") <= n.volume / n.time <= Q(1.2, "gal/min")
        and 0.15 <= underflow_solids(n.density, n.water, n.drilled) <= 0.45
    )


EXERCISE = Exercise(
    title="What leaves through the apex",
    level=2,
    version=1,
    outcome=Outcome.UNDERFLOW,
    tolerance=BALANCE,
    numbers=(
        Number("density", Grid(10.4, 14.3, 0.1, "lb/gal"), Grid(1240, 1720, 10, "kg/m3")),
        Number("volume", Grid(0.25, 1.0, 0.25, "gal"), Grid(1.0, 4.0, 1.0, "L")),
        Number("time", Grid(8, 60, 1, "s")),
        Number("cones", Grid(8, 20, 1)),
        Number("hours", Grid(14, 23, 1, "h")),
        WATER,
        DRILLED,
    ),
    valid=_cone_runs_as_usual,
    envelope=(Within("underflow of the cone", lambda n: n.volume / n.time, UNDERFLOW_OF_DESILTER_CONE),),
    setting=(
        "A desilter of {cones} cones, all alike, runs on unweighted mud. The underflow of one cone fills "
        "a vessel of {volume} in {time}; the sample weighs {density}. Take the liquid as {water} and the drilled "
        "solids as {drilled}. The desilter runs {hours} in a day. Keep hands and face clear of the spray when you "
        "sample."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What share of the underflow is solids, by volume, in percent?",
            unit="%",
            solve=lambda n: underflow_solids(n.density, n.water, n.drilled),
            plausible=Range(14, 46, "%"),
            marks=Marks(2),
            slips=(
                Slip(
                    "share by mass",
                    lambda n: underflow_solids(n.density, n.water, n.drilled) * n.drilled / n.density,
                    "This is the share of solids by mass. By volume it is what the underflow weighs more than its "
                    "liquid, over what the solids weigh more.",
                ),
                Slip(
                    "liquid not taken off below",
                    lambda n: (n.density - n.water) / n.drilled,
                    "You divided by the density of the solids. Take the density of the liquid off below the line too.",
                ),
                Slip(
                    "liquid for solids",
                    lambda n: ONE - underflow_solids(n.density, n.water, n.drilled),
                    "This is the share of liquid. The solids are the rest of 100 %.",
                ),
            ),
            working=(
                Step(
                    "What the underflow weighs more than its liquid, over what the solids weigh more than it.",
                    "({density} - {water}) / ({drilled} - {water}) * 100",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=By(
                "How much dry solids does one cone remove, in lb/h?",
                "How much dry solids does one cone remove, in kg/h?",
            ),
            unit=By("lb/h", "kg/h"),
            uses=("a",),
            solve=_solids_rate,
            plausible=Range(70, 720, "lb/h"),
            marks=Marks(2, unit=1),
            slips=(
                Slip(
                    "the whole underflow",
                    lambda n: n.density * n.volume / n.time,
                    "This is the mass of the whole underflow, with its liquid. Only the share of (a) is solids.",
                ),
                Slip(
                    "density of the underflow for the solids",
                    lambda n: n.a * n.density * n.volume / n.time,
                    "You multiplied the share of (a) by the density of the underflow. Solids by volume have "
                    "the density of solids.",
                ),
                Slip(
                    "per minute",
                    lambda n: _solids_rate(n) / 60,
                    "This is the mass in a minute, written as if in an hour. Multiply by 60.",
                ),
            ),
            working=(
                Step(
                    By("Underflow of the cone in gallons an hour:", "Underflow of the cone in litres an hour:"),
                    "{volume} / {time} * 3600",
                    "underflow",
                    By("gal/h", "L/h"),
                ),
                Step(
                    "Its solids by volume, times their density.",
                    By("{underflow} * {a} / 100 * {drilled}", "{underflow} / 1000 * {a} / 100 * {drilled}"),
                ),
            ),
        ),
        Numeric(
            key="c",
            ask=By(
                "How much liquid does one cone lose with them, in gal/h?",
                "How much liquid does one cone lose with them, in L/h?",
            ),
            unit=By("gal/h", "L/h"),
            uses=("a",),
            solve=_liquid_rate,
            plausible=Range(12, 65, "gal/h"),
            marks=Marks(1, unit=1),
            slips=(
                Slip(
                    "solids for liquid",
                    lambda n: n.a * n.volume / n.time,
                    "This is the volume of the solids. The liquid is the rest of the underflow.",
                ),
                Slip(
                    "the whole underflow",
                    lambda n: n.volume / n.time,
                    "This is the whole underflow. Take the solids of (a) off.",
                ),
                Slip(
                    "per minute",
                    lambda n: _liquid_rate(n) / 60,
                    "This is the volume in a minute, written as if in an hour. Multiply by 60.",
                ),
            ),
            working=(
                Step(
                    By("Underflow of the cone in gallons an hour:", "Underflow of the cone in litres an hour:"),
                    "{volume} / {time} * 3600",
                    "underflow",
                    By("gal/h", "L/h"),
                ),
                Step("What is not solids is liquid.", "{underflow} * (1 - {a} / 100)"),
            ),
        ),
        Numeric(
            key="d",
            ask=By(
                "How many barrels of liquid does the desilter lose in a day?",
                "How many cubic metres of liquid does the desilter lose in a day?",
            ),
            unit=By("bbl", "m3"),
            uses=("c",),
            solve=lambda n: n.c * n.cones * n.hours,
            plausible=Range(30, 700, "bbl"),
            marks=Marks(2),
            slips=(
                Slip(
                    "one cone", lambda n: n.c * n.hours, "This is what one cone loses. Multiply by the number of cones."
                ),
                Slip(
                    "one hour",
                    lambda n: n.c * n.cones * Q(1, "h"),
                    "This is the loss in one hour. Multiply by the hours that the desilter runs.",
                ),
                Slip(
                    "round the clock",
                    lambda n: n.c * n.cones * Q(24, "h"),
                    "You took 24 hours. The desilter runs for fewer: use the hours that are given.",
                ),
                GALLONS_CALLED_BARRELS.of(lambda n: n.c * n.cones * n.hours, "loss"),
                LITRES_CALLED_CUBIC_METRES.of(lambda n: n.c * n.cones * n.hours, "loss"),
            ),
            working=(
                Step(
                    By(
                        "All cones, all hours, 42 gal to the barrel.",
                        "All cones, all hours, 1000 L to the cubic metre.",
                    ),
                    By("{c} * {cones} * {hours} / 42", "{c} * {cones} * {hours} / 1000"),
                ),
            ),
        ),
    ),
)
