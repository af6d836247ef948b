"""Exercises of the lesson mud weight and pressure: convert weights, compute a column's pressure, judge both."""

from __future__ import annotations

from collections.abc import Callable

import pint

from exercises.model import (
    By,
    Choice,
    Column,
    Convention,
    Earlier,
    Exercise,
    Grid,
    Marks,
    Number,
    Numbers,
    Numeric,
    Option,
    PrintedColumn,
    Row,
    RowConvention,
    RowSlip,
    Slip,
    Step,
    System,
    Table,
    mislabelled,
    relative,
)
from pitside.density import (
    WATER_FIELD,
    density_from_gradient,
    density_from_sg,
    specific_gravity,
)
from pitside.hydrostatics import (
    FACTOR_SG,
    column_pressure,
    column_pressure_field,
    equivalent_mud_weight,
    equivalent_mud_weight_field,
)
from pitside.unit_names import read_unit
from pitside.units import Q, Quantity

LESSON = "mud-weight"

CONVERTING = "Convert a mud weight between specific gravity, lb/gal, lb/ft³, kg/m³ and a pressure gradient."
PRESSURE = "Work out the pressure of a mud column, and its equivalent mud weight, from true vertical depth."
JUDGING = "Compare mud weights, and compare a mud column with the pressures that the rock holds and bears."

AS_WRITTEN_DOWN = relative(
    0.006, because="mud weights are written to 0.1 lb/gal, 10 kg/m3 or 0.01 SG: half of that is 0.6 % of a light mud"
)


# convert-mud-weight ---------------------------------------------------------------------------------------------------

REPORTS = ("heron", "sandpiper", "gannet", "plant")
NOT_THE_HEAVIEST = "Another mud is heavier. Compare your four answers to part (a): they are all in one unit."


def _reported(numbers: Numbers, earlier: Earlier, row: str) -> pint.Quantity:
    """The mud weight behind a row's figure, which is a density or, from the plant, a pressure gradient."""
    return density_from_gradient(numbers.plant) if row == "plant" else getattr(numbers, row)


def _figure_as(unit: str) -> Callable[[Numbers, Earlier, str], pint.Quantity]:
    """The row's bare figure, taken to be in another unit than it is."""
    return lambda numbers, earlier, row: Quantity(getattr(numbers, row).magnitude, read_unit(unit))


def _written_as(found_in: str, unit: str) -> Callable[[Numbers, Earlier, str], pint.Quantity]:
    """The right weight found in one unit and written down with another."""
    return lambda numbers, earlier, row: mislabelled(_reported(numbers, earlier, row), found_in, unit)


def _divided_by_water(numbers: Numbers, earlier: Earlier, row: str) -> pint.Quantity:
    """The bare figure divided by 8.33, whatever its unit, and called lb/gal."""
    divided = specific_gravity(_figure_as("lb/gal")(numbers, earlier, row), WATER_FIELD)
    return mislabelled(divided, "fraction", "lb/gal")


def _multiplied_by_factor(numbers: Numbers, earlier: Earlier, row: str) -> pint.Quantity:
    """The bare figure taken through 0.052 the wrong way, and called lb/gal."""
    as_weight = _figure_as("lb/gal")(numbers, earlier, row)
    return mislabelled(column_pressure_field(as_weight, Q(1, "ft")), "psi", "lb/gal")


def _one_is_heaviest(numbers: Numbers) -> bool:
    """The heaviest mud stands out by more than rounding and 8.33 for 8.345 can shift."""
    *_, second, first = sorted(_reported(numbers, Earlier({}), row).m_as("lb/gal") for row in REPORTS)
    return bool(first - second >= 0.25)


_CONVERSIONS = {
    "heron": Step(
        By(
            "Water weighs 8.345 lb/gal (8.33 is near enough). Specific gravity says how many times heavier the mud is.",
            "Water weighs 1000 kg/m³. Specific gravity says how many times heavier the mud is.",
        ),
        By("{heron} * 8.345", "{heron} * 1000"),
    ),
    "sandpiper": Step(
        By(
            "There are 7.48 gal in a cubic foot.",
            "Divide by the weight of water in lb/ft³ to get the specific gravity. Then multiply by 1000 kg/m³.",
        ),
        By("{sandpiper} / 7.48", "{sandpiper} / 62.43 * 1000"),
    ),
    "gannet": Step(
        By(
            "Divide by the weight of water in kg/m³ to get the specific gravity. "
            "Then multiply by 8.345 lb/gal (8.33 is near enough).",
            "Divide by the weight of water in lb/gal (8.33 is near enough) to get the specific gravity. "
            "Then multiply by 1000 kg/m³.",
        ),
        By("{gannet} / 1000 * 8.345", "{gannet} / 8.345 * 1000"),
    ),
    "plant": Step(
        By(
            "Each lb/gal adds 0.05195 psi in each foot (0.052 is near enough). Divide by it.",
            "Divide by the gradient of water, 0.4335 psi/ft, to get the specific gravity. Then multiply by 1000 kg/m³.",
        ),
        By("{plant} / 0.05195", "{plant} / 0.4335 * 1000"),
    ),
}

_CONVERSION_SLIPS = (
    RowSlip(
        "left as specific gravity",
        _written_as("SG", "lb/gal"),
        "This is the specific gravity, not lb/gal. Multiply it by the weight of water, 8.33 lb/gal.",
        only=System.FIELD,
    ),
    RowSlip(
        "left as specific gravity",
        _written_as("SG", "kg/m3"),
        "This is the specific gravity, not kg/m³. Multiply it by the weight of water, 1000 kg/m³.",
        only=System.METRIC,
    ),
    RowSlip(
        "8.33 upside down",
        _divided_by_water,
        "You divided by 8.33. From specific gravity to lb/gal the number gets larger: multiply by 8.33.",
        only=System.FIELD,
        rows=("heron",),
    ),
    RowSlip(
        "lb/gal called kg/m3",
        _written_as("lb/gal", "kg/m3"),
        "This is the mud weight in lb/gal, not in kg/m³. Divide it by 8.33 and multiply by 1000.",
        only=System.METRIC,
        rows=("heron", "sandpiper", "plant"),
    ),
    RowSlip(
        "lb/ft3 read as lb/gal",
        _figure_as("lb/gal"),
        "You took lb/ft³ to be lb/gal. A cubic foot holds 7.48 gal: divide lb/ft³ by 7.48 to get lb/gal.",
        rows=("sandpiper",),
    ),
    RowSlip(
        "divided by 8.33",
        _divided_by_water,
        "You divided lb/ft³ by 8.33, which is water in lb/gal. Divide by 7.48, the gallons in a cubic foot.",
        only=System.FIELD,
        rows=("sandpiper",),
    ),
    RowSlip(
        "lb/ft3 called lb/gal",
        _written_as("lb/ft3", "lb/gal"),
        "This is the mud weight in lb/ft³, not in lb/gal. Divide it by 7.48, the gallons in a cubic foot.",
        only=System.FIELD,
        rows=("gannet",),
    ),
    RowSlip(
        "lb/gal read as lb/ft3",
        _figure_as("lb/ft3"),
        "You took lb/gal to be lb/ft³. Divide lb/gal by 8.33 to get the specific gravity, then multiply by 1000.",
        only=System.METRIC,
        rows=("gannet",),
    ),
    RowSlip(
        "multiplied by 0.052",
        _multiplied_by_factor,
        "You multiplied by 0.052. That turns lb/gal into psi/ft; to go back, divide by 0.052.",
        only=System.FIELD,
        rows=("plant",),
    ),
)

CONVERT_MUD_WEIGHT = Exercise(
    id="convert-mud-weight",
    title="Four mud reports, four units",
    lesson=LESSON,
    level=1,
    version=1,
    numbers=(
        Number("heron", Grid(1.08, 1.90, 0.01, "SG")),
        Number("sandpiper", Grid(68, 118, 1, "lb/ft3")),
        Number("gannet", Grid(1080, 1900, 10, "kg/m3"), Grid(9.0, 15.8, 0.1, "lb/gal")),
        Number("plant", Grid(0.47, 0.82, 0.01, "psi/ft")),
    ),
    valid=_one_is_heaviest,
    setting=(
        "Larkwater Energy gets four mud reports on one morning. Each gives the mud weight in its own way. "
        "The mud plant in the harbour gives no weight, but the pressure that its mud adds in each foot of depth."
    ),
    parts=(
        Table(
            key="a",
            ask=By(
                "Convert each mud weight to lb/gal. Give one decimal.",
                "Convert each mud weight to kg/m³. Give it to the nearest 10 kg/m³ or closer.",
            ),
            corner="From",
            rows=(
                Row("heron", "Heron 4"),
                Row("sandpiper", "Sandpiper 2"),
                Row("gannet", "Northern Gannet"),
                Row("plant", "Mud plant"),
            ),
            columns=(
                PrintedColumn("As reported", lambda row: f"{{{row.key}}}"),
                Column(
                    key="weight",
                    title="Mud weight",
                    unit=By("lb/gal", "kg/m3"),
                    solve=_reported,
                    conventions=(
                        RowConvention(
                            "8.33 lb/gal for water, to lb/gal",
                            lambda numbers, earlier, row: density_from_sg(
                                specific_gravity(_reported(numbers, earlier, row)), WATER_FIELD
                            ),
                        ),
                        RowConvention(
                            "8.33 lb/gal for water, from lb/gal",
                            lambda numbers, earlier, row: density_from_sg(
                                specific_gravity(_reported(numbers, earlier, row), WATER_FIELD)
                            ),
                        ),
                    ),
                    tolerance=AS_WRITTEN_DOWN,
                    marks=Marks(1),
                    slips=_CONVERSION_SLIPS,
                    working=lambda row: (_CONVERSIONS[row],),
                ),
            ),
            outcome=CONVERTING,
        ),
        Choice(
            key="b",
            ask="Which mud is the heaviest?",
            options=(
                Option("heron", "Heron 4", NOT_THE_HEAVIEST),
                Option("sandpiper", "Sandpiper 2", NOT_THE_HEAVIEST),
                Option("gannet", "Northern Gannet", NOT_THE_HEAVIEST),
                Option("plant", "Mud plant", NOT_THE_HEAVIEST),
            ),
            right=lambda numbers, earlier: max(REPORTS, key=lambda row: earlier[f"a.{row}.weight"]),
            uses=tuple(f"a.{row}.weight" for row in REPORTS),
            marks=Marks(1),
            outcome=JUDGING,
            reason=(
                "In one unit the muds weigh {a.heron.weight} (Heron 4), {a.sandpiper.weight} (Sandpiper 2), "
                "{a.gannet.weight} (Northern Gannet) and {a.plant.weight} (mud plant)."
            ),
        ),
    ),
)


# column-pressure ------------------------------------------------------------------------------------------------------


def _static_weight(numbers: Numbers, earlier: Earlier) -> pint.Quantity:
    """The mud weight that goes with the answer to (a)."""
    return equivalent_mud_weight(earlier.a, numbers.vertical_depth)


def _judgement(numbers: Numbers, earlier: Earlier) -> str:
    static = _static_weight(numbers, earlier)
    if static < numbers.pore:
        return "light"
    if static >= numbers.fracture:
        return "heavy"
    return "circulating" if earlier.b >= numbers.fracture else "fits"


def _column_can_be_judged(numbers: Numbers) -> bool:
    """Depths of a deviated well, rock limits near the mud, and none so near that rounding decides."""
    if not 1.06 <= numbers.measured_depth / numbers.vertical_depth <= 1.4:
        return False
    weight, pore, fracture = (q.m_as("lb/gal") for q in (numbers.mud_weight, numbers.pore, numbers.fracture))
    if not (-1.5 <= pore - weight <= 0.6 and 0.7 <= fracture - pore <= 2.5):
        return False
    pressure = column_pressure(numbers.mud_weight, numbers.vertical_depth) + numbers.friction
    circulating = equivalent_mud_weight(pressure, numbers.vertical_depth).m_as("lb/gal")
    clear = min(abs(weight - pore), abs(weight - fracture), abs(circulating - fracture))
    return bool(clear >= 0.17 and fracture - circulating <= 0.7)


COLUMN_PRESSURE = Exercise(
    id="column-pressure",
    title="Pressure of the mud column",
    lesson=LESSON,
    level=2,
    version=1,
    numbers=(
        Number("measured_depth", Grid(6500, 18000, 50, "ft"), Grid(2000, 5500, 10, "m")),
        Number("vertical_depth", Grid(6000, 14000, 50, "ft"), Grid(1800, 4300, 10, "m")),
        Number("mud_weight", Grid(9.6, 15.5, 0.1, "lb/gal"), Grid(1150, 1860, 10, "kg/m3")),
        Number("friction", Grid(150, 450, 10, "psi"), Grid(1000, 3000, 50, "kPa")),
        Number("pore", Grid(8.7, 15.5, 0.1, "lb/gal"), Grid(1040, 1860, 10, "kg/m3")),
        Number("fracture", Grid(10.0, 17.5, 0.1, "lb/gal"), Grid(1200, 2100, 10, "kg/m3")),
    ),
    valid=_column_can_be_judged,
    setting=(
        "Rig Heron 4 drills a deviated section of well Marram-1. The bit is at a measured depth of {measured_depth}; "
        "the true vertical depth is {vertical_depth}. The hole is full of mud of {mud_weight}. The pumps are off."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By(
                "What is the pressure of the mud column at the bit, in psi?",
                "What is the pressure of the mud column at the bit, in kPa?",
            ),
            unit=By("psi", "kPa"),
            solve=lambda numbers, earlier: column_pressure(numbers.mud_weight, numbers.vertical_depth),
            conventions=(
                Convention(
                    "0.052 for lb/gal and ft",
                    lambda numbers, earlier: column_pressure_field(numbers.mud_weight, numbers.vertical_depth),
                ),
                Convention(
                    "0.00981 for kg/m3 and m",
                    lambda numbers, earlier: column_pressure_field(
                        numbers.mud_weight, numbers.vertical_depth, FACTOR_SG
                    ),
                ),
            ),
            tolerance=relative(0.01, because="rounded factors move it by 0.1 %; a rounded gradient by up to 0.7 %"),
            marks=Marks(2, unit=1),
            outcome=PRESSURE,
            slips=(
                Slip(
                    "measured depth",
                    lambda numbers, earlier: column_pressure(numbers.mud_weight, numbers.measured_depth),
                    "You used the measured depth. Only the height of the column counts: use the true vertical depth.",
                ),
                Slip(
                    "gradient of water on lb/gal",
                    lambda numbers, earlier: column_pressure(
                        mislabelled(numbers.mud_weight, "lb/gal", "SG"), numbers.vertical_depth
                    ),
                    "You multiplied lb/gal by 0.433, which belongs to specific gravity. With lb/gal use 0.052.",
                    only=System.FIELD,
                ),
                Slip(
                    "specific gravity with 0.052",
                    lambda numbers, earlier: column_pressure_field(
                        mislabelled(numbers.mud_weight, "SG", "lb/gal"), numbers.vertical_depth
                    ),
                    "You multiplied the specific gravity by 0.052, which belongs to lb/gal. Use lb/gal with 0.052.",
                    only=System.FIELD,
                ),
                Slip(
                    "metres with 0.052",
                    lambda numbers, earlier: column_pressure_field(
                        numbers.mud_weight, mislabelled(numbers.vertical_depth, "m", "ft")
                    ),
                    "You turned the depth into metres, but 0.052 belongs to feet. Keep the depth in feet.",
                    only=System.FIELD,
                ),
                Slip(
                    "bar called kPa",
                    lambda numbers, earlier: mislabelled(
                        column_pressure(numbers.mud_weight, numbers.vertical_depth), "bar", "kPa"
                    ),
                    "This is the pressure in bar, written as kPa. One bar is 100 kPa: multiply by 100, or write bar.",
                    only=System.METRIC,
                ),
                Slip(
                    "0.0981 with kg/m3",
                    lambda numbers, earlier: mislabelled(
                        column_pressure_field(
                            mislabelled(numbers.mud_weight, "kg/m3", "SG"), numbers.vertical_depth, FACTOR_SG
                        ),
                        "bar",
                        "kPa",
                    ),
                    "You multiplied kg/m³ by 0.0981, which turns specific gravity and metres into bar. "
                    "With kg/m³ use 0.00981; the result is in kPa.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    By(
                        "Take the true vertical depth. "
                        "Each lb/gal adds 0.05195 psi in each foot (0.052 is near enough).",
                        "Take the true vertical depth. "
                        "Each kg/m³ adds 0.009807 kPa in each metre (0.00981 is near enough).",
                    ),
                    By("0.05195 * {mud_weight} * {vertical_depth}", "0.009807 * {mud_weight} * {vertical_depth}"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=By(
                "Now the pumps run. Friction in the annulus adds {friction} at the bit. "
                "What is the equivalent mud weight at the bit, in lb/gal? Give two decimals.",
                "Now the pumps run. Friction in the annulus adds {friction} at the bit. "
                "What is the equivalent mud weight at the bit, in kg/m³?",
            ),
            unit=By("lb/gal", "kg/m3"),
            uses=("a",),
            solve=lambda numbers, earlier: equivalent_mud_weight(earlier.a + numbers.friction, numbers.vertical_depth),
            conventions=(
                Convention(
                    "0.052 for lb/gal and ft",
                    lambda numbers, earlier: equivalent_mud_weight_field(
                        earlier.a + numbers.friction, numbers.vertical_depth
                    ),
                ),
                Convention(
                    "0.00981 for kg/m3 and m",
                    lambda numbers, earlier: equivalent_mud_weight_field(
                        earlier.a + numbers.friction, numbers.vertical_depth, FACTOR_SG
                    ),
                ),
            ),
            tolerance=AS_WRITTEN_DOWN,
            marks=Marks(2, unit=1),
            outcome=PRESSURE,
            slips=(
                Slip(
                    "friction left out",
                    _static_weight,
                    "This is the weight of the mud at rest. Add the friction to the pressure of (a), then turn the sum "
                    "into a mud weight.",
                ),
                Slip(
                    "friction alone",
                    lambda numbers, earlier: equivalent_mud_weight(numbers.friction, numbers.vertical_depth),
                    "This is only what the friction adds. The mud column presses as well: add both pressures first.",
                ),
                Slip(
                    "measured depth",
                    lambda numbers, earlier: equivalent_mud_weight(
                        earlier.a + numbers.friction, numbers.measured_depth
                    ),
                    "You divided by the measured depth. An equivalent mud weight rests on the true vertical depth.",
                ),
            ),
            working=(
                Step(
                    "While the pumps run, the friction adds to the pressure of the column.",
                    "{a} + {friction}",
                    "pressure",
                    By("psi", "kPa"),
                ),
                Step(
                    "Find the weight of the mud that would give this pressure at rest.",
                    By("{pressure} / (0.05195 * {vertical_depth})", "{pressure} / (0.009807 * {vertical_depth})"),
                ),
            ),
        ),
        Choice(
            key="c",
            ask=(
                "The pore pressure at the bit equals a mud weight of {pore}. The rock breaks at an equivalent mud "
                "weight of {fracture}. What follows from your answers?"
            ),
            options=(
                Option(
                    "fits",
                    "With the pumps off the mud holds back the fluid in the rock, "
                    "and with the pumps on the rock does not break.",
                    "One of the limits is passed. Compare the mud weight at rest with the first limit, "
                    "and your answer to (b) with the second.",
                ),
                Option(
                    "light",
                    "The mud is too light: with the pumps off, fluid can flow from the rock into the hole.",
                    "With the pumps off the mud weight is above the pore pressure, so the fluid stays in the rock.",
                ),
                Option(
                    "circulating",
                    "With the pumps off the mud holds back the fluid in the rock, "
                    "but with the pumps on the rock breaks.",
                    "First compare the mud weight at rest with both limits. Then compare your answer to (b) with the "
                    "weight at which the rock breaks.",
                ),
                Option(
                    "heavy",
                    "The mud is too heavy: even with the pumps off the rock breaks.",
                    "With the pumps off the mud weighs less than the weight at which the rock breaks.",
                ),
            ),
            right=_judgement,
            uses=("a", "b"),
            marks=Marks(2),
            outcome=JUDGING,
            reason=(
                "With the pumps off the mud weight is {mud_weight}; with the pumps on it is equivalent to {b}. "
                "The first must be above {pore}, and both must stay below {fracture}."
            ),
        ),
    ),
)

EXERCISES: tuple[Exercise, ...] = (CONVERT_MUD_WEIGHT, COLUMN_PRESSURE)
