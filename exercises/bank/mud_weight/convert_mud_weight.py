"""Four mud reports, four units."""

from __future__ import annotations

from collections.abc import Callable

import pint

from exercises.bank.mud_weight import ANY_MUD, AS_WRITTEN_DOWN, Outcome
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, System, mislabelled
from exercises.model.parts import (
    Choice,
    Column,
    Known,
    Marks,
    Option,
    PrintedColumn,
    Row,
    RowConvention,
    RowSlip,
    Table,
)
from exercises.model.working import Step
from pitside.density import WATER_FIELD, density_from_gradient, density_from_sg, specific_gravity
from pitside.hydrostatics import column_pressure_field
from pitside.unit_names import read_unit
from pitside.units import Q, Quantity

REPORTS = ("heron", "sandpiper", "gannet", "plant")
NOT_THE_HEAVIEST = "Another mud is heavier. Compare your four answers to part (a): they are all in one unit."


def _reported(n: Known, row: str) -> pint.Quantity:
    """The mud weight behind a row's figure, which is a density or, from the plant, a pressure gradient."""
    return density_from_gradient(n.plant) if row == "plant" else getattr(n, row)


def _figure_as(unit: str) -> Callable[[Known, str], pint.Quantity]:
    """The row's bare figure, taken to be in another unit than it is."""
    return lambda n, row: Quantity(getattr(n, row).magnitude, read_unit(unit))


def _written_as(found_in: str, unit: str) -> Callable[[Known, str], pint.Quantity]:
    """The right weight found in one unit and written down with another."""
    return lambda n, row: mislabelled(_reported(n, row), found_in, unit)


def _divided_by_water(n: Known, row: str) -> pint.Quantity:
    """The bare figure divided by 8.33, whatever its unit, and called lb/gal."""
    divided = specific_gravity(_figure_as("lb/gal")(n, row), WATER_FIELD)
    return mislabelled(divided, "fraction", "lb/gal")


def _multiplied_by_factor(n: Known, row: str) -> pint.Quantity:
    """The bare figure taken through 0.052 the wrong way, and called lb/gal."""
    as_weight = _figure_as("lb/gal")(n, row)
    return mislabelled(column_pressure_field(as_weight, Q(1, "ft")), "psi", "lb/gal")


def _one_is_heaviest(n: Known) -> bool:
    """The heaviest mud stands out by more than rounding and 8.33 for 8.345 can shift."""
    *_, second, first = sorted(_reported(n, row).m_as("lb/gal") for row in REPORTS)
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
            "There are 7.4805 gal in a cubic foot (7.48 is near enough).",
            "Divide by the weight of water in lb/ft³ to get the specific gravity. Then multiply by 1000 kg/m³.",
        ),
        By("{sandpiper} / 7.4805", "{sandpiper} / 62.43 * 1000"),
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

EXERCISE = Exercise(
    title="Four mud reports, four units",
    level=1,
    version=2,
    numbers=(
        Number("heron", Grid(1.08, 1.90, 0.01, "SG")),
        Number("sandpiper", Grid(68, 118, 1, "lb/ft3")),
        Number("gannet", Grid(1080, 1900, 10, "kg/m3"), Grid(9.0, 15.8, 0.1, "lb/gal")),
        Number("plant", Grid(0.47, 0.82, 0.01, "psi/ft")),
    ),
    valid=_one_is_heaviest,
    envelope=(
        Within("weight on Heron 4", lambda n: _reported(n, "heron"), ANY_MUD),
        Within("weight on Sandpiper 2", lambda n: _reported(n, "sandpiper"), ANY_MUD),
        Within("weight on Northern Gannet", lambda n: _reported(n, "gannet"), ANY_MUD),
        Within("weight from the plant", lambda n: _reported(n, "plant"), ANY_MUD),
    ),
    setting=(
        "Larkwater Energy gets four mud reports on one morning. Each gives the mud weight in its own way. "
        "The mud plant in the harbour gives the pressure gradient of its mud: the pressure that it adds with depth."
    ),
    parts=(
        Table(
            key="a",
            ask=By(
                "Convert each mud weight to lb/gal. Give one decimal.",
                "Convert each mud weight to kg/m³. Give it to the nearest 10 kg/m³ or closer.",
            ),
            corner="Rig or plant",
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
                    plausible=Range(8.5, 17.0, "lb/gal"),
                    converting=True,
                    conventions=(
                        RowConvention(
                            "8.33 lb/gal for water, to lb/gal",
                            lambda n, row: density_from_sg(specific_gravity(_reported(n, row)), WATER_FIELD),
                        ),
                        RowConvention(
                            "8.33 lb/gal for water, from lb/gal",
                            lambda n, row: density_from_sg(specific_gravity(_reported(n, row), WATER_FIELD)),
                        ),
                    ),
                    tolerance=AS_WRITTEN_DOWN,
                    marks=Marks(1),
                    slips=_CONVERSION_SLIPS,
                    working=lambda row: (_CONVERSIONS[row],),
                ),
            ),
            outcome=Outcome.CONVERTING,
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
            right=lambda n: max(REPORTS, key=lambda row: n[f"a.{row}.weight"]),
            uses=tuple(f"a.{row}.weight" for row in REPORTS),
            marks=Marks(1),
            outcome=Outcome.JUDGING,
            reason=(
                "In one unit the muds weigh {a.heron.weight} (Heron 4), {a.sandpiper.weight} (Sandpiper 2), "
                "{a.gannet.weight} (Northern Gannet) and {a.plant.weight} (mud plant)."
            ),
        ),
    ),
)
