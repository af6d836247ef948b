"""The load of cuttings on the shakers, and the number of shakers that it takes."""

from __future__ import annotations

import math

import pint

from exercises.bank.shakers import Outcome
from exercises.fleet.envelope import FLOW_OVER_COARSE_SCREENS, ROCK_OVER_SHAKER
from exercises.fleet.rigs import LARGE_HOLE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Method, Numeric, Slip, absolute, relative
from exercises.model.working import Step
from pitside.materials import LOW_GRAVITY
from pitside.removal import drilled_hole_volume
from pitside.shakers import shakers_needed
from pitside.units import Q

BALANCE = relative(0.01, because="a volume balance of figures given to two or three digits")
HOUR = Q(1, "h")
MINUTES_IN_AN_HOUR = 60


def _rock(n: Known) -> pint.Quantity:
    return drilled_hole_volume(n.diameter, n.drilling_rate * HOUR, n.washout) / HOUR


def _loads(n: Known) -> float:
    return float((_rock(n) / n.solids_share / n.carries).m_as(""))


def _rock_over_one(n: Known) -> pint.Quantity:
    """Mass of rock in the discard that one shaker carries off."""
    return n.carries * n.solids_share * LOW_GRAVITY


def _load_decides(n: Known) -> bool:
    """The load asks for at least two shakers more than the flow, and lies clear of a whole number of shakers."""
    loads, flows = _loads(n), math.ceil((n.flow / n.flow_each).m_as(""))
    if not ROCK_OVER_SHAKER.holds(_rock_over_one(n)):
        return False
    return bool(0.15 <= loads % 1 <= 0.85 and flows + 2 <= math.ceil(loads) <= 8)


EXERCISE = Exercise(
    title="Cuttings on the shakers",
    level=2,
    version=4,
    outcome=Outcome.LOAD,
    tolerance=BALANCE,
    numbers=(
        Number("diameter", Grid(17.5, 17.5, 0.5, "in"), Grid(445, 445, 1, "mm")),
        Number("drilling_rate", Grid(60, 180, 5, "ft/h"), Grid(18, 55, 1, "m/h")),
        Number("washout", Grid(4, 16, 1, "%")),
        Number("solids_share", Grid(30, 48, 1, "%")),
        Number("flow", Grid(900, 1200, 20, "gal/min"), Grid(205, 270, 5, "m3/h")),
        FLOW_OVER_COARSE_SCREENS.number("flow_each", (10, "gal/min"), (2, "m3/h")),
        Number("carries", Grid(25, 55, 1, "bbl/h"), Grid(4.0, 9.0, 0.2, "m3/h")),
    ),
    valid=_load_decides,
    envelope=(
        Within("flow", lambda n: n.flow, LARGE_HOLE.flow),
        Within("drilling rate", lambda n: n.drilling_rate, LARGE_HOLE.rate),
        Within("flow over a shaker, coarse screens and thin mud", lambda n: n.flow_each, FLOW_OVER_COARSE_SCREENS),
        Within("rock over a shaker", lambda n: _rock_over_one(n), ROCK_OVER_SHAKER),
    ),
    setting=(
        "Rig Heron 4 drills the {diameter} top hole of well Marram-1 at {drilling_rate}, with a washout of {washout} "
        "of the volume that the bit drills, and pumps {flow}. What leaves the end of the screens is {solids_share} "
        "rock by volume; the rest is mud. The mud is thin and the screens are coarse, API 80: with them one shaker "
        "takes {flow_each} of mud and carries off {carries} of discard. On finer screens, or in heavier mud, it "
        "takes less. The rig has four shakers; if more are needed, they are hired."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What volume of rock comes up in an hour? Take the rock as solid, without pores.",
            unit=By("bbl/h", "m3/h"),
            solve=_rock,
            plausible=Range(15, 65, "bbl/h"),
            marks=Marks(2),
            slips=(
                Slip(
                    "a minute's rock",
                    lambda n: _rock(n) / MINUTES_IN_AN_HOUR,
                    "This is the rock of one minute. The rate of drilling is given for an hour, and so is the answer.",
                ),
                Slip(
                    "washout taken off",
                    lambda n: drilled_hole_volume(n.diameter, n.drilling_rate * HOUR) * (1 - n.washout) / HOUR,
                    "You took the washout off. A washed-out hole is bigger, and its rock comes up too.",
                ),
                Slip(
                    "washout on the diameter",
                    lambda n: drilled_hole_volume(n.diameter * (1 + n.washout), n.drilling_rate * HOUR) / HOUR,
                    "You enlarged the diameter by the washout. It is given by volume.",
                ),
                Slip(
                    "washout left out",
                    lambda n: drilled_hole_volume(n.diameter, n.drilling_rate * HOUR) / HOUR,
                    "You left the washout out. It comes over the shakers as well.",
                ),
            ),
            working=(
                Step(
                    "Volume of a length of hole, times the length drilled in an hour, with its washout.",
                    By(
                        "{diameter}**2 / 1029.4 * {drilling_rate} * (1 + {washout} / 100)",
                        "pi / 4 * ({diameter} / 1000)**2 * {drilling_rate} * (1 + {washout} / 100)",
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=(
                "Suppose that all rock is removed on the shakers. What volume of discard, rock with the mud on it, "
                "leaves the screens in an hour?"
            ),
            unit=By("bbl/h", "m3/h"),
            uses=("a",),
            solve=lambda n: n.a / n.solids_share,
            plausible=Range(50, 220, "bbl/h"),
            marks=Marks(2),
            slips=(
                Slip(
                    "rock alone",
                    lambda n: n.a,
                    "This is the rock alone. Mud leaves with it: divide by the share of rock in the discard.",
                ),
                Slip(
                    "multiplied by the share",
                    lambda n: n.a * n.solids_share,
                    "You multiplied by the share of rock, and got less than the rock. Divide by it.",
                ),
                Slip(
                    "divided by the share of mud",
                    lambda n: n.a / (1 - n.solids_share),
                    "You divided by the share of mud in the discard. Divide by the share of rock.",
                ),
            ),
            working=(Step("The rock over its share of the discard.", "{a} / ({solids_share} / 100)"),),
        ),
        Numeric(
            key="c",
            ask="How many shakers are needed to carry both the flow and the load? No spare is counted.",
            unit="fraction",
            whole=True,
            uses=("b",),
            solve=lambda n: shakers_needed(n.flow, n.flow_each, n.b, n.carries),
            plausible=Range(3, 8),
            tolerance=absolute(0.4, "fraction", because="only whole shakers run: one more or less is wrong"),
            marks=Marks(3),
            slips=(
                Slip(
                    "flow alone",
                    lambda n: shakers_needed(n.flow, n.flow_each, Q(0, "m**3/h"), n.carries),
                    "So many take the flow. The load of cuttings asks for more: work out both and take the greater.",
                ),
                Slip(
                    "rounded down",
                    lambda n: shakers_needed(n.flow, n.flow_each, n.b, n.carries) - 1,
                    "You rounded down. Part of a shaker's load needs a whole shaker.",
                ),
            ),
            method=(
                Method(
                    "loads",
                    "How many shakers would the load alone take, before you round up, to two places?",
                    "fraction",
                    lambda n: n.b / n.carries,
                    BALANCE,
                    marks=1,
                    uses=("b",),
                    plausible=Range(2, 8),
                ),
            ),
            working=(
                Step("For the flow:", "{flow} / {flow_each}", "flows", "fraction"),
                Step("For the load:", "{b} / {carries}", "loads", "fraction"),
                Step("The load asks for more, and the next whole number is needed.", "ceil({loads})"),
            ),
        ),
    ),
)
