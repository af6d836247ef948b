"""Four weighting materials for one job, and the room that each needs."""

from __future__ import annotations

import pint

from exercises.bank.mud_weight import ANY_MUD
from exercises.bank.solids import REFERENCE_WATER
from exercises.bank.weighting import Outcome
from exercises.fleet.envelope import WEIGHTED_MUD
from exercises.fleet.rigs import HERON_4
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, System, mislabelled
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
    relative,
)
from exercises.model.usual_slips import GALLONS_CALLED_BARRELS, KILOGRAMS_CALLED_TONNES, LITRES_CALLED_CUBIC_METRES
from exercises.model.working import Step
from pitside.density import density_from_sg, specific_gravity
from pitside.materials import MATERIALS
from pitside.units import WATER_FIELD
from pitside.weighting import volume_rise, weighting_mass, weighting_mass_fixed_final

ROWS = {
    "hematite": "Hematite",
    "barite": "Barite",
    "barite_4_10": "Barite, lighter grade",
    "calcium_carbonate": "Ground calcium carbonate",
}
SPECIFIC_GRAVITIES = {key: round(specific_gravity(MATERIALS[key].density).m_as(""), 2) for key in ROWS}

COMPARE_THE_RISES = (
    "Compare the rise of each material with the room in the pits. A material fits if its rise is the smaller."
)


def _mass(n: Known | Numbers, row: str) -> pint.Quantity:
    return weighting_mass(n.volume, n.mud_weight, n.target, MATERIALS[row].density)


def _by_field_water(n: Known, row: str) -> pint.Quantity:
    return density_from_sg(SPECIFIC_GRAVITIES[row], WATER_FIELD)


def _room(n: Numbers) -> pint.Quantity:
    """Room in the pits, halfway between the rises of two materials, or clear of all of them."""
    rise = {row: volume_rise(n.volume, n.mud_weight, n.target, MATERIALS[row].density) for row in ROWS}
    return {
        "only hematite": (rise["hematite"] + rise["barite"]) / 2,
        "no carbonate": (rise["barite_4_10"] + rise["calcium_carbonate"]) / 2,
        "all": rise["calcium_carbonate"] * 1.2,
        "none": rise["hematite"] * 0.8,
    }[n.tightness]


def _what_fits(n: Known) -> str:
    fits = [row for row in ROWS if n[f"a.{row}.rise"] <= n.room]
    return {4: "all", 3: "heavy", 2: "barite", 1: "hematite", 0: "none"}[len(fits)]


def _can_be_told(n: Known) -> bool:
    """A rise of 1.0 to 2.0 lb/gal (carbonate is not used above 14.0), and room that rounding cannot tip over."""
    if not 1.0 <= (n.target - n.mud_weight).m_as("lb/gal") <= 2.0:
        return False
    rises = [volume_rise(n.volume, n.mud_weight, n.target, MATERIALS[row].density) for row in ROWS]
    return all(abs((n.room / rise).m_as("") - 1) >= 0.06 for rise in rises)


EXERCISE = Exercise(
    title="Four weighting materials for one job",
    level=2,
    version=2,
    numbers=(
        Number("volume", Grid(700, 1300, 20, "bbl"), Grid(112, 206, 2, "m3")),
        Number("mud_weight", Grid(9.5, 12.5, 0.1, "lb/gal"), Grid(1140, 1500, 10, "kg/m3")),
        Number("target", Grid(10.5, 13.5, 0.1, "lb/gal"), Grid(1260, 1620, 10, "kg/m3")),
        Pick("tightness", ("only hematite", "no carbonate", "all", "none")),
        Derived("room", _room, By("bbl", "m3"), By(0, 1)),
    ),
    valid=_can_be_told,
    envelope=(
        Within("active mud", lambda n: n.volume, HERON_4.active),
        Within("mud weight", lambda n: n.mud_weight, ANY_MUD),
        Within("target", lambda n: n.target, WEIGHTED_MUD),
    ),
    setting=By.each(
        lambda system: (
            "Rig Heron 4 has {volume} of mud of {mud_weight} in hole and pits. The next section of well Marram-1 needs "
            "{target}. No mud is moved out: the volume grows. The mud plant offers four weighting materials, each with "
            "the specific gravity in the table. Take " + REFERENCE_WATER.of(system) + "."
        )
    ),
    parts=(
        Table(
            key="a",
            ask=By(
                "For each material give the mass, in sacks of 100 lb, and the rise in volume, in barrels.",
                "For each material give the mass, in tonnes, and the rise in volume, in cubic metres.",
            ),
            corner="Material",
            rows=tuple(Row(key, title) for key, title in ROWS.items()),
            columns=(
                PrintedColumn("SG", lambda row: f"{SPECIFIC_GRAVITIES[row.key]:.2f}"),
                Column(
                    key="mass",
                    title="Mass",
                    unit=By("sack", "t"),
                    solve=_mass,
                    plausible={
                        "hematite": Range(150, 2800, "sack"),
                        "barite": Range(150, 2800, "sack"),
                        "barite_4_10": Range(150, 2800, "sack"),
                        "calcium_carbonate": Range(200, 5000, "sack"),
                    },
                    conventions=(
                        RowConvention(
                            "8.33 lb/gal for water",
                            lambda n, row: weighting_mass(n.volume, n.mud_weight, n.target, _by_field_water(n, row)),
                        ),
                    ),
                    tolerance=relative(
                        0.006,
                        because="8.33 for 8.345 moves it by up to 0.3 %; barite at 35 lb/gal by 0.1 %; whole sacks",
                    ),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "barite for every material",
                            lambda n, row: _mass(n, "barite"),
                            "This is the mass of barite. Put the density of this material in both places of the "
                            "formula.",
                            rows=("hematite", "calcium_carbonate"),
                        ),
                        RowSlip(
                            "old weight below the line",
                            lambda n, row: weighting_mass_fixed_final(
                                n.volume, n.mud_weight, n.target, MATERIALS[row].density
                            ),
                            "You divided by the material minus the old mud weight. The volume grows here: divide by "
                            "the material minus the target.",
                        ),
                        RowSlip(
                            "volume of the material left out",
                            lambda n, row: n.volume * (n.target - n.mud_weight),
                            "You multiplied the volume by the rise in weight alone. The material takes up room, which "
                            "must reach the target too.",
                        ),
                        RowSlip(
                            "42 left out",
                            lambda n, row: weighting_mass(
                                mislabelled(n.volume, "bbl", "gal"), n.mud_weight, n.target, MATERIALS[row].density
                            ),
                            "Your answer is 42 times too small: there are 42 gal in a barrel.",
                            only=System.FIELD,
                        ),
                        KILOGRAMS_CALLED_TONNES.in_rows(_mass),
                    ),
                    working=lambda row: (
                        Step(
                            By(
                                "The density of the material, from its specific gravity; water weighs 8.345 lb/gal:",
                                "The density of the material, from its specific gravity:",
                            ),
                            By(f"{SPECIFIC_GRAVITIES[row]:.2f} * 8.345", f"{SPECIFIC_GRAVITIES[row]:.2f} * 1000"),
                            "density",
                            By("lb/gal", "kg/m3"),
                        ),
                        Step(
                            By(
                                "Material for the whole volume; 42 gal in a barrel, 100 lb in a sack.",
                                "Material for the whole volume; 1000 kg in a tonne.",
                            ),
                            By(
                                "42 * {density} * ({target} - {mud_weight}) / ({density} - {target}) * {volume} / 100",
                                "{density} * ({target} - {mud_weight}) / ({density} - {target}) * {volume} / 1000",
                            ),
                        ),
                    ),
                ),
                Column(
                    key="rise",
                    title="Rise in volume",
                    unit=By("bbl", "m3"),
                    uses=(".mass",),
                    solve=lambda n, row: n[f"a.{row}.mass"] / MATERIALS[row].density,
                    plausible={
                        "hematite": Range(8, 180, "bbl"),
                        "barite": Range(8, 180, "bbl"),
                        "barite_4_10": Range(8, 180, "bbl"),
                        "calcium_carbonate": Range(20, 400, "bbl"),
                    },
                    conventions=(
                        RowConvention(
                            "8.33 lb/gal for water", lambda n, row: n[f"a.{row}.mass"] / _by_field_water(n, row)
                        ),
                    ),
                    tolerance=relative(
                        0.015, because="the rise is small and is given to a tenth; 8.33 moves it by 0.2 %"
                    ),
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "mud weight for the material",
                            lambda n, row: n[f"a.{row}.mass"] / n.target,
                            "You divided the mass by the mud weight. Divide it by the density of the material, whose "
                            "room this is.",
                        ),
                        RowSlip(
                            "barite for every material",
                            lambda n, row: n[f"a.{row}.mass"] / MATERIALS["barite"].density,
                            "You divided by the density of barite. Divide by the density of this material.",
                            rows=("hematite", "calcium_carbonate"),
                        ),
                        GALLONS_CALLED_BARRELS.in_rows(
                            lambda n, row: n[f"a.{row}.mass"] / MATERIALS[row].density, "rise"
                        ),
                        LITRES_CALLED_CUBIC_METRES.in_rows(
                            lambda n, row: n[f"a.{row}.mass"] / MATERIALS[row].density, "rise"
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "The mud grows by the volume of the material: mass over density.",
                            By(
                                f"{{a.{row}.mass}} * 100 / (42 * 8.345 * {SPECIFIC_GRAVITIES[row]:.2f})",
                                f"{{a.{row}.mass}} / {SPECIFIC_GRAVITIES[row]:.2f}",
                            ),
                        ),
                    ),
                ),
            ),
            outcome=Outcome.WEIGHTING_UP,
        ),
        Choice(
            key="b",
            ask=(
                "The pits have room for {room} more. For which of the materials is there room? Nothing else is asked "
                "here."
            ),
            options=(
                Option("all", "All four.", COMPARE_THE_RISES),
                Option("heavy", "Hematite and both grades of barite.", COMPARE_THE_RISES),
                Option(
                    "barite",
                    "Hematite and the heavier grade of barite.",
                    COMPARE_THE_RISES,
                    never_right=True,
                ),
                Option("hematite", "Hematite alone.", COMPARE_THE_RISES),
                Option("none", "None: some mud must go out first.", COMPARE_THE_RISES),
            ),
            right=_what_fits,
            uses=tuple(f"a.{row}.rise" for row in ROWS),
            marks=Marks(2),
            outcome=Outcome.PLANNING,
            reason=(
                "Hold each rise of (a) against the room, {room}: what rises less fits. (Room is not all: hematite "
                "wears the machines more, and carbonate can be dissolved by acid later.)"
            ),
        ),
    ),
)
