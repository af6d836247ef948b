"""The units of viscosity."""

from __future__ import annotations

from exercises.bank.settling import LIQUID, Outcome
from exercises.fleet.envelope import LIQUID_BETWEEN_GRAINS, VISCOSITY_BETWEEN_GRAINS
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Pick, Range, mislabelled
from exercises.model.parts import Choice, Marks, Numeric, Option, Slip, relative
from exercises.model.working import Step
from pitside.units import WATER_4C

#: What to do to a number of cP for another unit: an option of part (a).
FROM_CENTIPOISE = {"mPa.s": "leave", "P (poise)": "hundredth", "Pa.s": "thousandth"}

EXERCISE = Exercise(
    title="The units of viscosity",
    level=1,
    version=2,
    outcome=Outcome.VISCOSITY,
    numbers=(Number("viscosity", Grid(2.0, 45.0, 0.5, "cP")), LIQUID, Pick("other_unit", tuple(FROM_CENTIPOISE))),
    envelope=(
        Within("liquid between the grains", lambda n: n.liquid, LIQUID_BETWEEN_GRAINS),
        Within("viscosity between the grains", lambda n: n.viscosity, VISCOSITY_BETWEEN_GRAINS),
    ),
    setting=(
        "A laboratory measured the liquid between the grains of a mud: it has a viscosity of {viscosity} and a density "
        "of {liquid}. You want to find a settling velocity with a formula in SI units (m, kg, s)."
    ),
    parts=(
        Choice(
            key="a",
            ask=(
                "Another sheet gives the viscosity in {other_unit}. What do you do to a number of cP to change it to "
                "{other_unit}?"
            ),
            options=(
                Option(
                    "leave",
                    "Nothing: the number is the same.",
                    "cP and mPa.s are one unit by two names; others differ.",
                ),
                Option(
                    "tenth",
                    "Divide it by 10.",
                    "No unit of viscosity is 10 cP: 1 P is 100 cP, 1 Pa.s is 1000 cP.",
                    never_right=True,
                ),
                Option("hundredth", "Divide it by 100.", "Centi means a hundredth: by 100 you get poise (P)."),
                Option("thousandth", "Divide it by 1000.", "By 1000 you get Pa.s, for 1 cP is 0.001 Pa.s."),
                Option(
                    "thousand",
                    "Multiply it by 1000.",
                    "That turns Pa.s into cP, not the other way round.",
                    never_right=True,
                ),
            ),
            right=lambda n: FROM_CENTIPOISE[n.other_unit],
            marks=Marks(1),
            reason="1 P is 100 cP; 1 Pa.s is 10 P or 1000 cP; so 1 cP is 1 mPa.s.",
        ),
        Numeric(
            key="b",
            ask="What number do you put into the formula for the viscosity, in Pa.s?",
            unit="Pa.s",
            solve=lambda n: n.viscosity,
            plausible=Range(0.002, 0.045, "Pa.s"),
            converting=True,
            tolerance=relative(0.01, because="an exact conversion, which may be rounded to three digits"),
            marks=Marks(1),
            slips=(
                Slip(
                    "cP taken for Pa.s",
                    lambda n: mislabelled(n.viscosity, "cP", "Pa.s"),
                    "This is the number of cP. 1 cP is a thousandth of a Pa.s: divide by 1000, or your grains settle "
                    "a thousand times too slowly.",
                ),
                Slip(
                    "cP to poise",
                    lambda n: mislabelled(n.viscosity, "cP", "Pa.s") / 100,
                    "You divided by 100, which gives poise. 1 P is a tenth of a Pa.s: divide cP by 1000.",
                ),
                Slip(
                    "divided by a million",
                    lambda n: mislabelled(n.viscosity, "cP", "Pa.s") / 1_000_000,
                    "You divided by a million, as for mm²/s into m²/s. 1 cP is a thousandth of a Pa.s.",
                ),
            ),
            working=(Step("1 cP is 0.001 Pa.s.", "{viscosity} * 0.001"),),
        ),
        Numeric(
            key="c",
            ask=(
                "Another formula wants the kinematic viscosity, which is viscosity over density. What is it, in mm²/s?"
            ),
            unit="mm2/s",
            solve=lambda n: n.viscosity / n.liquid,
            plausible=Range(1.6, 45, "mm2/s"),
            tolerance=relative(0.01, because="8.33 for 8.345 moves it by 0.2 %, rounding by less"),
            marks=Marks(1),
            slips=(
                Slip(
                    "multiplied by density",
                    lambda n: n.viscosity * n.liquid / WATER_4C**2,
                    "You multiplied by the specific gravity. Kinematic viscosity is viscosity divided by density.",
                ),
                Slip(
                    "density left out",
                    lambda n: n.viscosity / WATER_4C,
                    "This is the number of cP, right only in water. Divide by the specific gravity of the liquid.",
                ),
            ),
            working=(
                Step(
                    By("Specific gravity of the liquid, with water of 8.345 lb/gal:", "Specific gravity:"),
                    By("{liquid} / 8.345", "{liquid} / 1000"),
                    "sg",
                    "SG",
                    digits=5,
                ),
                Step("In cP over specific gravity it comes out in mm²/s.", "{viscosity} / {sg}"),
            ),
        ),
    ),
    valid=lambda n: bool(n.liquid > 1.025 * WATER_4C),
)
