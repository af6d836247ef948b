"""Pressure of a column of sea water and mud."""

from __future__ import annotations

import pint

from exercises.bank.dual_gradient import AS_A_COLUMN, AS_A_WEIGHT, Outcome
from exercises.fleet.envelope import PLAN_IN_WINDOW, WEIGHTED_MUD
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip, absolute
from exercises.model.working import Step
from pitside.gradients import dual_gradient_mud_weight, layered_pressure, lower_mud_weight
from pitside.hydrostatics import (
    FACTOR_LB_PER_GAL,
    FACTOR_SG,
    column_pressure,
    equivalent_mud_weight,
    equivalent_mud_weight_field,
)
from pitside.units import GRAVITY, Q


def _weight(n: Known | Numbers) -> pint.Quantity:
    return dual_gradient_mud_weight(n.depth, n.sea, n.mud, n.mudline, n.air_gap)


def _pressure(n: Known, factor: pint.Quantity = GRAVITY) -> pint.Quantity:
    below = n.depth - n.mudline
    lengths = Q([n.a.m_as("m"), below.m_as("m")], "m")
    densities = Q([n.sea.m_as("kg/m**3"), n.mud.m_as("kg/m**3")], "kg/m**3")
    return layered_pressure(n.a + below, lengths, densities, factor=factor)


def _new_mud(n: Known) -> pint.Quantity:
    """With the candidate's own height of sea water: what it does not fill of the way down is its air gap."""
    return lower_mud_weight(n.target, n.depth, n.sea, n.mudline, n.mudline - n.a)


def _judgement(n: Known) -> str:
    if n.c < n.pore:
        return "light"
    return "fits" if n.c < n.fracture else "heavy"


def _valid(n: Known) -> bool:
    """No limit so near that rounding decides, a real change, and no mud that a rig could not mix."""
    weight = _weight(n)
    clear = min(abs((weight - n.pore).m_as("lb/gal")), abs((weight - n.fracture).m_as("lb/gal")))
    new = lower_mud_weight(n.target, n.depth, n.sea, n.mudline, n.air_gap)
    change = abs((n.target - weight).m_as("lb/gal"))
    now = "light" if weight < n.pore else "fits" if weight < n.fracture else "heavy"
    if now != n.now:
        return False
    if max(n.pore - weight, weight - n.fracture) > Q(0.4, "lb/gal"):
        return False
    return bool(clear >= 0.09 and change >= 0.2) and n.pore > n.sea and Q(10.0, "lb/gal") <= new <= Q(17.5, "lb/gal")


def _place_of_the_plan(n: Known) -> pint.Quantity:
    return (n.target - n.pore) / (n.fracture - n.pore)


EXERCISE = Exercise(
    title="Two gradients in one column",
    level=2,
    version=4,
    outcome=Outcome.COLUMN,
    tolerance=AS_A_WEIGHT,
    numbers=(
        Number("depth", Grid(14_000, 24_000, 100, "ft"), Grid(4300, 7300, 20, "m")),
        Number("mudline", Grid(3000, 8000, 50, "ft"), Grid(900, 2400, 10, "m")),
        Number("air_gap", Grid(70, 120, 5, "ft"), Grid(21, 36, 1, "m")),
        Number("sea", Grid(8.50, 8.60, 0.05, "lb/gal"), Grid(1020, 1030, 5, "kg/m3")),
        Number("mud", Grid(11.0, 15.5, 0.1, "lb/gal"), Grid(1320, 1860, 10, "kg/m3")),
        Number("above_pore", Grid(-0.7, 1.4, 0.1, "lb/gal"), Grid(-80, 170, 10, "kg/m3")),
        Derived("pore", lambda n: _weight(n) - n.above_pore, By("lb/gal", "kg/m3"), By(1, -1)),
        Pick("now", ("heavy", "light", "fits", "fits", "fits")),
        Number("window", Grid(0.6, 1.2, 0.1, "lb/gal"), Grid(70, 140, 10, "kg/m3")),
        Derived("fracture", lambda n: n.pore + n.window, By("lb/gal", "kg/m3"), By(1, -1)),
        Number("place", Grid(35, 65, 5, "%")),
        Derived("target", lambda n: n.pore + n.window * n.place, By("lb/gal", "kg/m3"), By(1, -1)),
    ),
    valid=_valid,
    envelope=(
        Within("mud below the sea floor", lambda n: n.mud, WEIGHTED_MUD),
        Within("new mud", lambda n: n.d, WEIGHTED_MUD),
        Within("place of the plan between what the rock holds and where it breaks", _place_of_the_plan, PLAN_IN_WINDOW),
    ),
    setting=(
        "Rig Northern Gannet plans another deepwater well. Sea water of {sea} stands in the riser up to sea level; "
        "above it is air. Mud of {mud} stands below the sea floor, and a pump on the sea floor lifts the mud to the "
        "rig through a separate line. All depths are true vertical depths from the rotary table. The sea begins "
        "{air_gap} below the table, the sea floor lies at {mudline}, the bit at {depth}. The pumps are off, and drill "
        "pipe and well stand still. This is arithmetic for learning: deepwater well control is for certified people."
    ),
    parts=(
        Numeric(
            key="a",
            ask="How high is the column of sea water?",
            unit=By("ft", "m"),
            solve=lambda n: n.mudline - n.air_gap,
            plausible=Range(2750, 8100, "ft"),
            tolerance=absolute(5, "ft", because="an exact difference; depths are read to a few feet"),
            marks=Marks(1),
            slips=(
                Slip(
                    "air gap forgotten",
                    lambda n: n.mudline,
                    "You counted the air below the rotary table as sea water. Take the air gap off.",
                ),
                Slip(
                    "air gap added",
                    lambda n: n.mudline + n.air_gap,
                    "You added the air gap. Depths begin at the rotary table, above the sea: take the gap off.",
                ),
            ),
            working=(Step("From the sea floor up to sea level:", "{mudline} - {air_gap}"),),
        ),
        Numeric(
            key="b",
            ask="What is the pressure at the bit? Give the unit too.",
            unit=By("psi", "kPa"),
            uses=("a",),
            solve=_pressure,
            plausible=Range(7000, 20_000, "psi"),
            conventions=(
                Convention("0.052 for lb/gal and ft", lambda n: _pressure(n, FACTOR_LB_PER_GAL)),
                Convention("0.00981 for kg/m3 and m", lambda n: _pressure(n, FACTOR_SG)),
            ),
            tolerance=AS_A_COLUMN,
            marks=Marks(2, unit=1),
            slips=(
                Slip(
                    "mud to the surface",
                    lambda n: column_pressure(n.mud, n.depth),
                    "You let the mud stand up to the rig. Above the sea floor there is sea water: add the two columns.",
                ),
                Slip(
                    "plain mean",
                    lambda n: column_pressure((n.sea + n.mud) / 2, n.depth),
                    "You took the mean of the two densities. The columns differ in height: work out each and add them.",
                ),
                Slip(
                    "sea water left out",
                    lambda n: column_pressure(n.mud, n.depth - n.mudline),
                    "This is the mud alone. The sea presses on top of it: add the column of sea water.",
                ),
            ),
            working=(
                Step("The sea water:", By("0.05195 * {sea} * {a}", "0.009807 * {sea} * {a}"), "water", digits=5),
                Step(
                    "The mud below the sea floor:",
                    By("0.05195 * {mud} * ({depth} - {mudline})", "0.009807 * {mud} * ({depth} - {mudline})"),
                    "below",
                    digits=5,
                ),
                Step("Both together:", "{water} + {below}", digits=5),
            ),
            digits=5,
        ),
        Numeric(
            key="c",
            ask=By(
                "What is the equivalent mud weight at the bit, from the rotary table, in lb/gal? Give two decimals.",
                "What is the equivalent mud weight at the bit, from the rotary table, in kg/m³?",
            ),
            unit=By("lb/gal", "kg/m3"),
            uses=("b",),
            solve=lambda n: equivalent_mud_weight(n.b, n.depth),
            plausible=Range(9.4, 15.2, "lb/gal"),
            conventions=(
                Convention("0.052 for lb/gal and ft", lambda n: equivalent_mud_weight_field(n.b, n.depth)),
                Convention("0.00981 for kg/m3 and m", lambda n: equivalent_mud_weight_field(n.b, n.depth, FACTOR_SG)),
            ),
            marks=Marks(2, unit=1),
            slips=(
                Slip(
                    "depth below the sea floor",
                    lambda n: equivalent_mud_weight(n.b, n.depth - n.mudline),
                    "You divided by the depth below the sea floor. The equivalent is asked from the rotary table: "
                    "divide by the whole depth.",
                ),
                Slip(
                    "plain mean",
                    lambda n: (n.sea + n.mud) / 2,
                    "This is the mean of the two densities. Turn the pressure of (b) into a mud weight instead.",
                ),
                Slip(
                    "weight of the mud",
                    lambda n: n.mud,
                    "This is the mud below the sea floor. With sea water above it the column presses less: use (b).",
                ),
            ),
            working=(
                Step(
                    "The one mud, from the rotary table, that would press as much:",
                    By("{b} / (0.05195 * {depth})", "{b} / (0.009807 * {depth})"),
                ),
            ),
        ),
        Numeric(
            key="d",
            ask=By(
                "The plan asks for an equivalent of {target} at the bit. What mud must stand below the sea floor, in "
                "lb/gal? Give two decimals.",
                "The plan asks for an equivalent of {target} at the bit. What mud must stand below the sea floor, in "
                "kg/m³?",
            ),
            unit=By("lb/gal", "kg/m3"),
            uses=("a",),
            solve=_new_mud,
            plausible=Range(9.9, 17.6, "lb/gal"),
            marks=Marks(3),
            slips=(
                Slip(
                    "target itself",
                    lambda n: n.target,
                    "Mud of the target weight would have to stand up to the rig. Below light sea water it must be "
                    "heavier.",
                ),
                Slip(
                    "change added to the mud",
                    lambda n: n.mud + n.target - _weight(n),
                    "You changed the mud by the whole difference, as if it stood up to the rig. The mud is only a part "
                    "of the column: it must change more.",
                ),
                Slip(
                    "sea water left out",
                    lambda n: n.target * n.depth / (n.depth - n.mudline),
                    "You let the mud carry all of the pressure. The sea water carries its part: take it off first.",
                ),
            ),
            working=(
                Step(
                    "Weight times height of the whole column that is wanted, less that of the sea water, over the "
                    "height of the mud:",
                    "({target} * {depth} - {sea} * {a}) / ({depth} - {mudline})",
                ),
            ),
        ),
        Choice(
            key="e",
            ask=(
                "The mud of {mud} is still in the well. The fluids in the rock at the bit press as mud of {pore} "
                "would, and the rock breaks at an equivalent of {fracture}. What does your answer to (c) say of the "
                "column at rest?"
            ),
            options=(
                Option(
                    "heavy",
                    "It may break the rock: mud would be lost. Tell the driller at once.",
                    "Compare your answer to (c) with both limits: it does not reach the strength of the rock.",
                ),
                Option(
                    "light",
                    "It does not hold the fluids back: the well will flow. Tell the driller at once; those in charge "
                    "watch for flow and are ready to shut the well in.",
                    "Compare your answer to (c) with both limits: it is above that of the fluids in the rock.",
                ),
                Option(
                    "fits",
                    "It stands between the two.",
                    "Compare your answer to (c) with both limits: it lies outside them.",
                ),
            ),
            uses=("c",),
            right=_judgement,
            marks=Marks(1),
            reason=(
                "The column stands for {c}; the limits are {pore} and {fracture}. What is then done in a deepwater "
                "well is decided by people certified for well control, by the plan of the well."
            ),
        ),
    ),
)
