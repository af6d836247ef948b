"""Does Stokes' law hold for these grains?"""

from __future__ import annotations

import functools
import warnings

import pint

from exercises.bank.settling import LIQUID, Outcome
from exercises.fleet.envelope import LIQUID_BETWEEN_GRAINS, VISCOSITY_BETWEEN_GRAINS
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import (
    Choice,
    Column,
    Known,
    Marks,
    Numeric,
    Option,
    PrintedColumn,
    Row,
    RowSlip,
    Slip,
    Table,
    relative,
)
from exercises.model.working import Step
from pitside.errors import ValidityWarning
from pitside.materials import LOW_GRAVITY
from pitside.settling import STOKES_LIMIT, ferguson_church_velocity, reynolds_number, stokes_velocity
from pitside.units import Q

GRAINS = {"fine": "The finer grain", "coarse": "The coarser grain"}
VELOCITY = relative(0.02, because="a density difference rounded to 0.01 and 8.33 for 8.345 move it by 1 %")


#: Reynolds numbers by Stokes' law of the finer and of the coarser grain, by where the law holds.
REYNOLDS = {
    "both": ((0.01, 0.08), (0.1, 0.24)),
    "fine": ((0.02, 0.2), (0.4, 15.0)),
    "neither": ((0.37, 1.2), (2.5, 20.0)),
}


def _size(n: Numbers, grain: int, place: pint.Quantity) -> pint.Quantity:
    """Size of the grain that has such a Reynolds number; with Stokes' velocity that goes with the cube of the size."""
    low, high = REYNOLDS[n.regime][grain]
    wanted = low * (high / low) ** place.m_as("")
    unit = Q(100.0, "um")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)
        velocity = stokes_velocity(unit, LOW_GRAVITY, n.liquid, n.viscosity)
    return unit * (wanted / reynolds_number(velocity, unit, n.liquid, n.viscosity).m_as("")) ** (1 / 3)


@functools.lru_cache(maxsize=256)
def _stokes(numbers: Numbers, row: str) -> pint.Quantity:
    """Velocity by Stokes' law, also where the law does not hold: to see that is the point of the exercise."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)
        return stokes_velocity(getattr(numbers, row), LOW_GRAVITY, numbers.liquid, numbers.viscosity)


def _reynolds(n: Known, row: str, velocity: pint.Quantity) -> pint.Quantity:
    return reynolds_number(velocity, getattr(n, row), n.liquid, n.viscosity)


def _for_any_size(n: Known) -> pint.Quantity:
    return ferguson_church_velocity(n.coarse, LOW_GRAVITY, n.liquid, n.viscosity)


def _for_any_size_of_half(n: Known) -> pint.Quantity:
    return ferguson_church_velocity(n.coarse / 2, LOW_GRAVITY, n.liquid, n.viscosity)


def _holds_for(fine: pint.Quantity, coarse: pint.Quantity) -> str:
    if max(fine, coarse) <= STOKES_LIMIT:
        return "both"
    if min(fine, coarse) > STOKES_LIMIT:
        return "neither"
    return "fine" if fine < coarse else "coarse"


def _is_clear(n: Known) -> bool:
    """Reynolds numbers clearly on one side of the limit, and a coarse grain for which the law matters."""
    found = [_reynolds(n, row, _stokes(n.drawn, row)).m_as("") for row in GRAINS]
    if not (n.fine.m_as("um") >= 30 and n.fine <= 0.8 * n.coarse and n.coarse.m_as("um") <= 450):
        return False
    return all(not 0.85 <= number / STOKES_LIMIT <= 1.18 for number in found) and 0.08 <= found[1] <= 60


EXERCISE = Exercise(
    title="Does Stokes' law hold for these grains?",
    level=2,
    version=3,
    outcome=Outcome.STOKES,
    tolerance=VELOCITY,
    numbers=(
        Number("viscosity", Grid(1, 8, 0.5, "cP"), Grid(1, 8, 0.5, "mPa.s")),
        LIQUID,
        Pick("regime", tuple(REYNOLDS)),
        Number("fine_place", Grid(0.0, 1.0, 0.05)),
        Number("coarse_place", Grid(0.0, 1.0, 0.05)),
        Derived("fine", lambda n: _size(n, 0, n.fine_place), "um", 0),
        Derived("coarse", lambda n: _size(n, 1, n.coarse_place), "um", -1),
    ),
    valid=_is_clear,
    envelope=(
        Within("liquid between the grains", lambda n: n.liquid, LIQUID_BETWEEN_GRAINS),
        Within("viscosity between the grains", lambda n: n.viscosity, VISCOSITY_BETWEEN_GRAINS),
    ),
    setting=(
        "A screen has torn. In the sand trap of rig Heron 4 drilled solids of specific gravity 2.60 settle through a "
        "liquid of {liquid} and {viscosity}. Look at two grains. Take Stokes' law to hold up to a Reynolds number of "
        "0.3, where the Reynolds number is density × velocity × diameter / viscosity: the density and the viscosity of "
        "the liquid, the velocity and the diameter of the grain."
    ),
    parts=(
        Table(
            key="a",
            ask="What velocity does Stokes' law give for each grain, and which Reynolds number goes with it?",
            corner="Grain",
            rows=tuple(Row(row, title) for row, title in GRAINS.items()),
            columns=(
                PrintedColumn("diameter", lambda row: f"{{{row.key}}}"),
                Column(
                    key="velocity",
                    title="velocity by Stokes",
                    unit=By("ft/min", "mm/s"),
                    solve=lambda n, row: _stokes(n.drawn, row),
                    plausible={"fine": Range(0.01, 4, "ft/min"), "coarse": Range(0.3, 35, "ft/min")},
                    marks=Marks(1.5),
                    slips=(
                        RowSlip(
                            "radius for diameter",
                            lambda n, row: _stokes(n.drawn, row) / 4,
                            "You put the radius into the formula with 18. It wants the diameter.",
                        ),
                        RowSlip(
                            "liquid left out",
                            lambda n, row: _stokes(n.drawn, row) * (LOW_GRAVITY / (LOW_GRAVITY - n.liquid)),
                            "You took the whole density of the grain. What pulls it down is what it is heavier than "
                            "the liquid.",
                        ),
                        RowSlip(
                            "diameter not squared",
                            lambda n, row: _stokes(n.drawn, row) / getattr(n, row).m_as("m"),
                            "Your velocity goes with the plain diameter. In Stokes' law it is squared.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            By(
                                "What the grain is heavier than the liquid, with 119.83 kg/m³ to the lb/gal:",
                                "What the grain is heavier than the liquid:",
                            ),
                            By("2600 - 119.83 * {liquid}", "2600 - {liquid}"),
                            "excess",
                            "kg/m3",
                        ),
                        Step(
                            "Stokes' law in m, kg and s:",
                            f"{{excess}} * 9.81 * ({{{row}}} * 10**(-6))**2 / (18 * {{viscosity}} * 0.001)",
                            "metres",
                            "m/s",
                        ),
                        Step(
                            By("In ft/min (1 m/s is 196.85 ft/min):", "In mm/s:"),
                            By("{metres} * 196.85", "{metres} * 1000"),
                        ),
                    ),
                ),
                Column(
                    key="reynolds",
                    title="Reynolds number",
                    unit="fraction",
                    digits=3,
                    uses=(".velocity",),
                    solve=lambda n, row: _reynolds(n, row, n[f"a.{row}.velocity"]),
                    plausible={"fine": Range(0.00004, 2), "coarse": Range(0.08, 60)},
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "radius for diameter",
                            lambda n, row: _reynolds(n, row, n[f"a.{row}.velocity"]) / 2,
                            "You took the radius. This Reynolds number is counted with the diameter.",
                        ),
                        RowSlip(
                            "density of the grain",
                            lambda n, row: _reynolds(n, row, n[f"a.{row}.velocity"]) * (LOW_GRAVITY / n.liquid),
                            "You took the density of the grain. The Reynolds number is about the liquid: take its "
                            "density.",
                        ),
                        RowSlip(
                            "cP taken for Pa.s",
                            lambda n, row: _reynolds(n, row, n[f"a.{row}.velocity"]) / 1000,
                            "You left the viscosity in cP or mPa.s. In SI units it is a thousandth of that, in Pa.s.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "The velocity in m/s:",
                            By(f"{{a.{row}.velocity}} / 196.85", f"{{a.{row}.velocity}} / 1000"),
                            "metres",
                            "m/s",
                        ),
                        Step(
                            "Density × velocity × diameter / viscosity:",
                            By(
                                f"119.83 * {{liquid}} * {{metres}} * {{{row}}} * 10**(-6) / ({{viscosity}} * 0.001)",
                                f"{{liquid}} * {{metres}} * {{{row}}} * 10**(-6) / ({{viscosity}} * 0.001)",
                            ),
                            digits=3,
                        ),
                    ),
                ),
            ),
        ),
        Choice(
            key="b",
            ask="For which of the two grains may you use Stokes' law?",
            options=(
                Option("both", "For both", "At least one of your Reynolds numbers is above 0.3."),
                Option("fine", "For the finer grain only", "Compare each of your Reynolds numbers with 0.3."),
                Option(
                    "coarse",
                    "For the coarser grain only",
                    "The law fails for large and fast grains. Compare each Reynolds number with 0.3.",
                    never_right=True,
                ),
                Option("neither", "For neither", "At least one of your Reynolds numbers is up to 0.3."),
            ),
            right=lambda n: _holds_for(n["a.fine.reynolds"], n["a.coarse.reynolds"]),
            uses=("a.fine.reynolds", "a.coarse.reynolds"),
            marks=Marks(1),
            reason="The Reynolds numbers are {a.fine.reynolds} and {a.coarse.reynolds}; the law holds up to 0.3.",
        ),
        Numeric(
            key="c",
            ask=(
                "A formula that serves for natural grains of any size is v = R g d² / (18 ν + √(0.75 R g d³)), with R "
                "the density difference over the density of the liquid and ν the kinematic viscosity. What "
                "settling velocity does it give for the coarser grain?"
            ),
            unit=By("ft/min", "mm/s"),
            solve=lambda n: _for_any_size(n),
            plausible=Range(0.3, 14, "ft/min"),
            marks=Marks(2),
            slips=(
                Slip(
                    "Stokes kept",
                    lambda n: _stokes(n.drawn, "coarse"),
                    "This is the velocity by Stokes' law, which is too fast for a large grain. The term with the root "
                    "is left out.",
                ),
                Slip(
                    "radius for diameter",
                    _for_any_size_of_half,
                    "You put the radius into the formula. It wants the diameter.",
                ),
            ),
            working=(
                Step(
                    By("Density of the liquid in kg/m³:", "Density of the liquid:"),
                    By("119.83 * {liquid}", "{liquid}"),
                    "density",
                    "kg/m3",
                    digits=5,
                ),
                Step("R, times g:", "(2600 - {density}) / {density} * 9.81", "drive", "m/s2", digits=5),
                Step("18 ν:", "18 * {viscosity} * 0.001 / {density}", "viscous", "m2/s"),
                Step("The root:", "sqrt(0.75 * {drive} * ({coarse} * 10**(-6))**3)", "inertia", "m2/s"),
                Step("The velocity:", "{drive} * ({coarse} * 10**(-6))**2 / ({viscous} + {inertia})", "metres", "m/s"),
                Step(By("In ft/min (1 m/s is 196.85 ft/min):", "In mm/s:"), By("{metres} * 196.85", "{metres} * 1000")),
            ),
        ),
    ),
)
