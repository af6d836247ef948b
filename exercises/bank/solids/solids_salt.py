"""Solids of a salt mud with oil."""

from __future__ import annotations

import pint

from exercises.bank.solids import REFERENCE_WATER, TENTHS_OF_PERCENT, Outcome, low_from
from exercises.fleet.envelope import DRILLED_SOLIDS, WEIGHTED_MUD
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Convention, Known, Marks, Numeric, Slip, absolute, relative
from exercises.model.working import Step
from pitside.retort import (
    WATER_OF_TWELVE,
    average_solids_density,
    corrected_solids_api,
    corrected_solids_book,
    filtrate_density_api,
    filtrate_density_book,
    low_gravity_fraction,
)
from pitside.units import WATER_4C, WATER_FIELD

#: Mass of sodium chloride for a mass of chloride: 58.44 / 35.45, from the molar masses.
SALT_PER_CHLORIDE = 1.65


def _retort_solids(n: Known) -> pint.Quantity:
    """The solids as the retort shows them, salt and all."""
    return corrected_solids_api(n.water, n.oil)


def _corrected_api(n: Known) -> pint.Quantity:
    return corrected_solids_api(n.water, n.oil, n.chloride)


def _corrected_book(n: Known) -> pint.Quantity:
    return corrected_solids_book(n.water, n.oil, n.chloride)


def _low_salt(
    n: Known, solids: pint.Quantity, filtrate: pint.Quantity, reference_water: pint.Quantity = WATER_4C
) -> pint.Quantity:
    average = average_solids_density(n.mud_weight, solids, filtrate, n.oil, reference_water=reference_water)
    return low_from(solids, average)


def _low_api(n: Known, reference_water: pint.Quantity = WATER_4C) -> pint.Quantity:
    return _low_salt(n, _corrected_api(n), filtrate_density_api(n.chloride), reference_water)


def _low_book(n: Known) -> pint.Quantity:
    """The low-gravity solids in the form of the book, with its 12 for each lb/gal."""
    return _low_salt(n, _corrected_book(n), filtrate_density_book(n.chloride), WATER_OF_TWELVE)


def _is_a_weighted_salt_mud(n: Known) -> bool:
    """Some low-gravity solids and some barite, as a mud report would have them."""
    low = _low_api(n)
    return bool(low >= 0.025 and low <= 0.10 and _corrected_api(n) - low >= 0.025)


EXERCISE = Exercise(
    title="Solids of a salt mud with oil",
    level=2,
    version=2,
    outcome=Outcome.SALT,
    tolerance=TENTHS_OF_PERCENT,
    numbers=(
        Number("mud_weight", Grid(11.0, 16.5, 0.1, "lb/gal"), Grid(1320, 1980, 10, "kg/m3")),
        Number("water", Grid(52, 78, 1, "%")),
        Number("oil", Grid(2.0, 8.0, 0.5, "%")),
        Number("chloride", Grid(45_000, 110_000, 1000, "mg/L")),
    ),
    valid=_is_a_weighted_salt_mud,
    envelope=(
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("low-gravity solids", lambda n: n.c, DRILLED_SOLIDS),
    ),
    setting=By.each(
        lambda system: (
            "On another well rig Heron 4 drills with a salt mud that weighs {mud_weight}. The retort gives "
            "{water} water and {oil} oil. The filtrate holds {chloride} of chlorides. Take specific gravities of "
            + REFERENCE_WATER.of(system)
            + ", 0.84 for oil, 2.60 for low-gravity solids and 4.20 for barite. Correct for salt by this form: the "
            "retort leaves water × C / (1 680 000 − 1.21 × C) of salt with the solids, in percent of the mud, and the "
            "specific gravity of the filtrate is 1 + 1.09 × C / 1 000 000, where C is the number of mg/L of chlorides. "
            "What is neither solids nor oil is filtrate."
        )
    ),
    parts=(
        Numeric(
            key="a",
            ask="What share of the mud is solids, corrected for salt, in percent by volume? Give one decimal.",
            unit="%",
            solve=lambda n: _corrected_api(n),
            plausible=Range(5, 45, "%"),
            conventions=(Convention("Lapeyrouse form", lambda n: _corrected_book(n)),),
            tolerance=absolute(0.15, "%", because="it is given to a tenth of a percent"),
            marks=Marks(2),
            slips=(
                Slip(
                    "salt left in",
                    lambda n: _retort_solids(n),
                    "These are the solids as the retort shows them. The salt of the water is still in there: take it "
                    "off.",
                ),
                Slip(
                    "salt added",
                    lambda n: _retort_solids(n) + (_retort_solids(n) - _corrected_api(n)),
                    "You added the salt. It stays in the retort with the solids, so it must be taken off.",
                ),
                Slip(
                    "salt of a mud that is all water",
                    lambda n: _retort_solids(n) - (_retort_solids(n) - _corrected_api(n)) / n.water,
                    "You took off too much salt, as if the whole mud were water. Multiply the correction by the share "
                    "of water.",
                ),
            ),
            working=(
                Step("Solids as the retort shows them:", "100 - {water} - {oil}", "retort", "%"),
                Step(
                    "Salt that the retort leaves with them (API form; the other form gives a little less):",
                    "{water} * {chloride} / (1680000 - 1.21 * {chloride})",
                    "salt",
                    "%",
                ),
                Step("Without the salt:", "{retort} - {salt}"),
            ),
        ),
        Numeric(
            key="b",
            ask="What is the specific gravity of the filtrate, the water with its salt? Give two or three decimals.",
            unit="SG",
            digits=5,
            solve=lambda n: filtrate_density_api(n.chloride),
            plausible=Range(1.04, 1.13, "SG"),
            conventions=(Convention("Lapeyrouse form", lambda n: filtrate_density_book(n.chloride)),),
            tolerance=relative(0.005, because="it is given to two decimals"),
            marks=Marks(1),
            slips=(
                Slip(
                    "fresh water", lambda n: WATER_4C, "This is fresh water. The salt in the filtrate makes it heavier."
                ),
                Slip(
                    "salt for chlorides",
                    lambda n: filtrate_density_api(SALT_PER_CHLORIDE * n.chloride),
                    "You turned the chlorides into salt (times 1.65) first. The formula wants the chlorides "
                    "themselves.",
                ),
            ),
            working=(
                Step(
                    "Each mg/L of chlorides adds 1.09 millionths (API form).",
                    "1 + 1.09 * {chloride} / 1000000",
                    digits=5,
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="What share of the mud is low-gravity solids, in percent by volume? Give one decimal.",
            unit="%",
            digits=3,
            uses=("a", "b"),
            solve=lambda n: _low_salt(n, n.a, n.b),
            plausible=Range(2, 10.4, "%"),
            conventions=(
                Convention(
                    "12 for each lb/gal, as handbooks round it", lambda n: _low_salt(n, n.a, n.b, WATER_OF_TWELVE)
                ),
                Convention("8.33 lb/gal for water", lambda n: _low_salt(n, n.a, n.b, WATER_FIELD)),
                Convention("Lapeyrouse form", lambda n: _low_book(n)),
            ),
            marks=Marks(3),
            slips=(
                Slip(
                    "salt left in",
                    lambda n: low_gravity_fraction(n.mud_weight, _retort_solids(n), WATER_4C, n.oil),
                    "You worked with the solids as the retort shows them, and with fresh water. Use the corrected "
                    "solids of (a) and the filtrate of (b).",
                ),
                Slip(
                    "high-gravity for low-gravity",
                    lambda n: n.a - _low_salt(n, n.a, n.b),
                    "These are the high-gravity solids. Take them off the corrected solids.",
                ),
                Slip(
                    "share of the solids",
                    lambda n: _low_salt(n, n.a, n.b) / n.a,
                    "This is the share of the solids that is low-gravity. Multiply it by the solids in the mud.",
                ),
            ),
            working=(
                Step(
                    By(
                        "What 100 parts of mud weigh, with water of 8.345 lb/gal (8.33 is near enough):",
                        "What 100 parts of mud weigh:",
                    ),
                    By("100 * {mud_weight} / 8.345", "100 * {mud_weight} / 1000"),
                    "mud",
                    "fraction",
                    digits=5,
                ),
                Step("Filtrate, which is neither solids nor oil:", "100 - {a} - {oil}", "filtrate", "%"),
                Step(
                    "What the solids weigh: the mud without its filtrate and its oil.",
                    "{mud} - {filtrate} * {b} - {oil} * 0.84",
                    "mass",
                    "fraction",
                    digits=5,
                ),
                Step(
                    "If all solids were barite they would weigh 4.20 times their volume. What is missing comes from "
                    "the low-gravity solids, 1.60 lighter.",
                    "({a} * 4.20 - {mass}) / (4.20 - 2.60)",
                ),
            ),
        ),
        Numeric(
            key="d",
            ask="What share of the mud is barite, in percent by volume? Give one decimal.",
            unit="%",
            digits=3,
            uses=("a", "c"),
            solve=lambda n: n.a - n.c,
            plausible=Range(2, 40, "%"),
            conventions=(
                Convention(
                    "12 for each lb/gal, as handbooks round it",
                    lambda n: _corrected_api(n) - _low_api(n, WATER_OF_TWELVE),
                ),
                Convention("Lapeyrouse form", lambda n: _corrected_book(n) - _low_book(n)),
            ),
            marks=Marks(1),
            outcome=Outcome.SPLITTING,
            slips=(
                Slip(
                    "salt counted as barite",
                    lambda n: _retort_solids(n) - n.c,
                    "You took the low-gravity solids off the solids of the retort, so the salt counts as barite. Take "
                    "them off the corrected solids of (a).",
                ),
                Slip("all solids", lambda n: n.a, "These are all solids, as in (a). Take the low-gravity solids off."),
            ),
            working=(Step("The corrected solids that are not low-gravity.", "{a} - {c}"),),
        ),
    ),
)
