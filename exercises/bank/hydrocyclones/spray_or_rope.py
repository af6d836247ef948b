"""Spray or rope at two cones."""

from __future__ import annotations

import functools
from collections.abc import Callable

import pint

from exercises.bank.hydrocyclones import BALANCE, DRILLED, WATER, Outcome
from exercises.fleet.envelope import UNDERFLOW_OF_DESILTER_CONE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import Choice, Column, Known, Marks, Option, PrintedColumn, Row, RowSlip, Table
from exercises.model.working import Step
from pitside.cyclones import Discharge, classify_discharge, underflow_solids
from pitside.units import Q

ROWS = ("first", "second")
#: Solids by volume below which an underflow is called wet here; the exercise says so.
WET = 0.20


def _density(n: Known, row: str) -> pint.Quantity:
    return getattr(n, f"{row}_density")


def _rate(n: Known, row: str) -> pint.Quantity:
    return getattr(n, f"{row}_rate")


def _solids(n: Known, row: str) -> pint.Quantity:
    return underflow_solids(_density(n, row), n.water, n.drilled)


def _removed(n: Known, row: str) -> pint.Quantity:
    return _rate(n, row) * n[f"a.{row}.solids"] * n.drilled


def _state(solids: pint.Quantity) -> str:
    if classify_discharge(solids.m_as("")) is Discharge.ROPE:
        return "rope"
    return "wet" if solids.m_as("") < WET else "spray"


def _roping(n: Known) -> str:
    roping = [row for row in ROWS if _state(n[f"a.{row}.solids"]) == "rope"]
    return {0: "neither", 2: "both"}.get(len(roping), roping[0] if roping else "")


def _better(n: Known) -> str:
    return max(ROWS, key=lambda row: n[f"a.{row}.removed"])


def _cones_can_be_judged(n: Known) -> bool:
    """No cone so near to a limit that rounding decides, and not the same removal by both.

    Both cones get the same feed, and what a rope cannot carry leaves with the overflow: it removes less than another.
    """
    solids = {row: _solids(n, row).m_as("") for row in ROWS}
    removed = [solids[row] * _rate(n, row).m_as("gal/min") for row in ROWS]
    clear = all(0.12 <= s <= 0.60 and abs(s - WET) > 0.02 and not 0.45 <= s <= 0.52 for s in solids.values())
    roping = [getattr(n, f"{row}_state") == "rope" for row in ROWS]
    if roping[0] != roping[1] and removed[roping.index(True)] > removed[roping.index(False)]:
        return False
    return clear and max(removed) / min(removed) >= 1.1


#: What a cone does, as often as it is drawn: each state, and each pair of states, comes in a fair share of draws.
STATES = ("rope", "rope", "rope", "rope", "spray", "spray", "spray", "wet", "wet")
#: Solids by volume in the underflow of a cone in each state, clear of the limits.
SOLIDS = {"rope": (0.525, 0.595), "spray": (0.225, 0.445), "wet": (0.125, 0.175)}


def _sampled(row: str) -> Callable[[Numbers], pint.Quantity]:
    """Weight of the underflow of a cone in its drawn state."""

    def density(n: Numbers) -> pint.Quantity:
        low, high = SOLIDS[getattr(n, f"{row}_state")]
        share = low + (high - low) * getattr(n, f"{row}_place").m_as("")
        return n.water + share * (n.drilled - n.water)

    return density


#: Underflow of a cone in each state, gal/min: the narrower the stream at the apex, the slower it runs. From memory.
FLOWS = {"rope": (0.45, 0.8), "spray": (0.9, 1.8), "wet": (1.6, 2.9)}


def _runs(row: str) -> Callable[[Numbers], pint.Quantity]:
    """Flow of the underflow of a cone in its drawn state."""

    def rate(n: Numbers) -> pint.Quantity:
        low, high = FLOWS[getattr(n, f"{row}_state")]
        return Q(low + (high - low) * getattr(n, f"{row}_pace").m_as(""), "gal/min")

    return rate


OPEN = Option(
    "rope",
    "Open the apex, or take load off the cone, until it sprays again.",
    "This is for a cone that ropes. Look at the share of solids in its underflow again.",
)

EXERCISE = Exercise(
    title="Spray or rope",
    level=1,
    version=3,
    outcome=Outcome.UNDERFLOW,
    tolerance=BALANCE,
    numbers=(
        *(Pick(f"{row}_state", STATES) for row in ROWS),
        *(Number(f"{row}_place", Grid(0, 100, 2, "%")) for row in ROWS),
        *(Number(f"{row}_pace", Grid(0, 100, 5, "%")) for row in ROWS),
        WATER,
        DRILLED,
        *(Derived(f"{row}_density", _sampled(row), By("lb/gal", "kg/m3"), By(1, -1)) for row in ROWS),
        *(Derived(f"{row}_rate", _runs(row), By("gal/min", "L/min"), By(1, 1)) for row in ROWS),
    ),
    envelope=tuple(
        Within(f"underflow of the {row} cone", functools.partial(_rate, row=row), UNDERFLOW_OF_DESILTER_CONE)
        for row in ROWS
    ),
    valid=_cones_can_be_judged,
    setting=(
        "Two cones of a desilter on rig Heron 4 run on the same unweighted mud, at the same head. A timed sample of "
        "each underflow was weighed. Take the liquid as {water} and the drilled solids as {drilled}; these are the "
        "only solids. On this bank a cone ropes when its underflow holds more than 50 % solids by volume, and it is "
        "set too wet when it holds less than 20 %. Stay clear of the spray when you take a sample, and wear eye "
        "protection."
    ),
    parts=(
        Table(
            key="a",
            ask="How much of each underflow is solids, by volume, and how much solids does each cone remove?",
            corner="Cone",
            rows=(Row("first", "Cone 1"), Row("second", "Cone 2")),
            columns=(
                PrintedColumn("Underflow weighs", lambda row: f"{{{row.key}_density}}"),
                PrintedColumn("Underflow runs", lambda row: f"{{{row.key}_rate}}"),
                Column(
                    key="solids",
                    title="solids by volume",
                    unit="%",
                    digits=3,
                    solve=_solids,
                    plausible=Range(12, 61, "%"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "share by mass",
                            lambda n, row: _solids(n, row) * n.drilled / _density(n, row),
                            "This is the share of solids by mass. By volume it is what the underflow weighs more than "
                            "its liquid, over what the solids weigh more.",
                        ),
                        RowSlip(
                            "liquid not taken off below",
                            lambda n, row: (_density(n, row) - n.water) / n.drilled,
                            "You divided by the density of the solids. Take the density of the liquid off below the "
                            "line as well.",
                        ),
                        RowSlip(
                            "liquid for solids",
                            lambda n, row: Q(1) - _solids(n, row),
                            "This is the share of liquid. The solids are the rest of 100 %.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "What the underflow weighs more than its liquid, over what the solids weigh more than it.",
                            f"({{{row}_density}} - {{water}}) / ({{drilled}} - {{water}}) * 100",
                        ),
                    ),
                ),
                Column(
                    key="removed",
                    title="solids removed",
                    unit=By("lb/min", "kg/h"),
                    uses=(".solids",),
                    solve=_removed,
                    plausible=Range(2, 40, "lb/min"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "the whole underflow",
                            lambda n, row: _rate(n, row) * _density(n, row),
                            "This is the mass of the whole underflow, with its liquid. Take the share of solids and "
                            "their own density.",
                        ),
                        RowSlip(
                            "density of the underflow for the solids",
                            lambda n, row: _rate(n, row) * n[f"a.{row}.solids"] * _density(n, row),
                            "You multiplied the volume of solids by the density of the underflow. Solids have their "
                            "own density.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            By(
                                "Flow, share of solids and density of the solids.",
                                "Flow in cubic metres an hour, share of solids and density of the solids.",
                            ),
                            By(
                                f"{{{row}_rate}} * {{a.{row}.solids}} / 100 * {{drilled}}",
                                f"{{{row}_rate}} * 60 / 1000 * {{a.{row}.solids}} / 100 * {{drilled}}",
                            ),
                        ),
                    ),
                ),
            ),
        ),
        Choice(
            key="b",
            ask="Which of the two cones ropes?",
            options=(
                Option("first", "Cone 1 only", "Compare the share of solids of each cone with 50 %."),
                Option("second", "Cone 2 only", "Compare the share of solids of each cone with 50 %."),
                Option("both", "Both", "Compare the share of solids of each cone with 50 %."),
                Option("neither", "Neither", "A dense underflow is no good sign: above 50 % solids the cone ropes."),
            ),
            right=_roping,
            uses=("a.first.solids", "a.second.solids"),
            marks=Marks(1),
            reason=(
                "The underflows hold {a.first.solids} and {a.second.solids} of solids; above 50 % there is no room for "
                "the core of air, and the cone ropes."
            ),
        ),
        Choice(
            key="c",
            ask="What do you do at cone 1, by the limits of this bank?",
            options=(
                OPEN,
                Option(
                    "spray",
                    "Leave it: it sprays as it should.",
                    "Look at the share of solids of cone 1 again: it lies outside 20 to 50 %.",
                ),
                Option(
                    "wet",
                    "Close the apex a little: it throws away too much liquid.",
                    "A cone is too wet below 20 % of solids. Closing the apex of one that holds more leads to a rope.",
                ),
            ),
            right=lambda n: _state(n["a.first.solids"]),
            uses=("a.first.solids",),
            marks=Marks(1),
            reason="The underflow of cone 1 holds {a.first.solids} of solids; 20 to 50 % is right for this bank.",
        ),
        Choice(
            key="d",
            ask="Which cone removes more solids now?",
            options=(
                Option(
                    "first",
                    "Cone 1",
                    "The density alone does not say it, nor does the flow alone. Compare the masses of solids of (a).",
                ),
                Option(
                    "second",
                    "Cone 2",
                    "The density alone does not say it, nor does the flow alone. Compare the masses of solids of (a).",
                ),
            ),
            right=_better,
            uses=("a.first.removed", "a.second.removed"),
            marks=Marks(1),
            reason=(
                "Compare the solids that the cones remove in (a). Flow and density count together: "
                "the denser underflow is not always the better one. A rope chokes at the apex and runs "
                "slowly; the solids for which it has no room leave with the overflow."
            ),
        ),
    ),
)
