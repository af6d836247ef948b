"""Solids of a fresh-water mud."""

from __future__ import annotations

import functools

import pint

from exercises.bank.solids import TENTHS_OF_PERCENT, Outcome, low_from
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Numbers, Range
from exercises.model.parts import Convention, Known, Marks, Numeric, Slip, relative
from exercises.model.working import Step
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.retort import (
    WATER_OF_TWELVE,
    average_solids_density,
    corrected_solids_api,
    low_gravity_fraction,
    solids_concentration,
)
from pitside.units import WATER_4C, WATER_FIELD, Q


@functools.lru_cache(maxsize=64)
def _solids(numbers: Numbers) -> pint.Quantity:
    """The solids of a fresh-water mud without oil; asked for some thirty times for each set of numbers."""
    return corrected_solids_api(numbers.water, 0.0)


def _average(n: Known, reference_water: pint.Quantity = WATER_4C) -> pint.Quantity:
    return average_solids_density(n.mud_weight, _solids(n.drawn), WATER_4C, reference_water=reference_water)


def _low(n: Known, reference_water: pint.Quantity = WATER_4C) -> pint.Quantity:
    return low_gravity_fraction(n.mud_weight, _solids(n.drawn), WATER_4C, reference_water=reference_water)


def _is_a_weighted_mud(n: Known) -> bool:
    """Some low-gravity solids and some barite, as a mud report would have them."""
    low = _low(n)
    return bool(low >= 0.025 and low <= 0.15 and _solids(n.drawn) - low >= 0.025)


EXERCISE = Exercise(
    title="Solids of a fresh-water mud",
    level=2,
    version=1,
    outcome=Outcome.SPLITTING,
    tolerance=TENTHS_OF_PERCENT,
    digits=3,
    numbers=(
        Number("mud_weight", Grid(10.0, 16.5, 0.1, "lb/gal"), Grid(1200, 1980, 10, "kg/m3")),
        Number("water", Grid(60.0, 90.0, 0.5, "%")),
    ),
    valid=_is_a_weighted_mud,
    setting=(
        "The fresh-water mud of rig Heron 4 weighs {mud_weight}. The retort gives {water} water and no oil; the rest "
        "is solids. Take specific gravities of 1.00 for water, 2.60 for low-gravity solids and 4.20 for barite."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the average specific gravity of the solids? Give two decimals.",
            unit="SG",
            solve=lambda n: _average(n),
            plausible=Range(2.6, 4.2, "SG"),
            conventions=(
                Convention("12 for each lb/gal, as handbooks round it", lambda n: _average(n, WATER_OF_TWELVE)),
                Convention("8.33 lb/gal for water", lambda n: _average(n, WATER_FIELD)),
            ),
            tolerance=relative(0.01, because="8.33 for 8.345 moves it by up to 0.7 %; it is given to two decimals"),
            digits=4,
            marks=Marks(2),
            slips=(
                Slip(
                    "water not taken off",
                    lambda n: n.mud_weight / _solids(n.drawn),
                    "You divided the whole mud by its solids. First take off what the water weighs.",
                ),
                Slip(
                    "water taken as the whole mud",
                    lambda n: (n.mud_weight - WATER_4C) / _solids(n.drawn),
                    "You took off 1.00 for water, but only a part of the mud is water. Take off the share of water "
                    "times 1.00.",
                ),
            ),
            working=(
                Step(
                    By(
                        "Specific gravity of the mud, with water of 8.345 lb/gal (8.33 is near enough):",
                        "Specific gravity of the mud:",
                    ),
                    By("{mud_weight} / 8.345", "{mud_weight} / 1000"),
                    "sg",
                    "SG",
                ),
                Step("Solids:", "100 - {water}", "solids", "%", digits=3),
                Step(
                    "Of 100 parts of mud, take off what the water weighs. Divide by the solids.",
                    "(100 * {sg} - {water} * 1.00) / {solids}",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What share of the mud is low-gravity solids, in percent by volume? Give one decimal.",
            unit="%",
            uses=("a",),
            solve=lambda n: low_from(_solids(n.drawn), n.a),
            plausible=Range(2, 16, "%"),
            conventions=(
                Convention("12 for each lb/gal, as handbooks round it", lambda n: _low(n, WATER_OF_TWELVE)),
                Convention("8.33 lb/gal for water", lambda n: _low(n, WATER_FIELD)),
            ),
            marks=Marks(2),
            slips=(
                Slip(
                    "high-gravity for low-gravity",
                    lambda n: _solids(n.drawn) - low_from(_solids(n.drawn), n.a),
                    "These are the high-gravity solids. For the low-gravity solids, 4.20 minus the average goes above "
                    "the line.",
                ),
                Slip(
                    "share of the solids",
                    lambda n: low_from(1.0, n.a),
                    "This is the share of the solids that is low-gravity. Multiply it by the solids in the mud.",
                ),
            ),
            working=(
                Step(
                    "The nearer the average lies to 2.60, the more of the solids are low-gravity.",
                    "(100 - {water}) * (4.20 - {a}) / (4.20 - 2.60)",
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="What share of the mud is barite, in percent by volume? Give one decimal.",
            unit="%",
            uses=("b",),
            solve=lambda n: _solids(n.drawn) - n.b,
            plausible=Range(2, 40, "%"),
            conventions=(
                Convention(
                    "12 for each lb/gal, as handbooks round it", lambda n: _solids(n.drawn) - _low(n, WATER_OF_TWELVE)
                ),
                Convention("8.33 lb/gal for water", lambda n: _solids(n.drawn) - _low(n, WATER_FIELD)),
            ),
            marks=Marks(1),
            slips=(
                Slip(
                    "all solids", lambda n: _solids(n.drawn), "These are all solids. Take the low-gravity solids off."
                ),
                Slip(
                    "taken off the whole mud",
                    lambda n: Q(1) - n.b,
                    "You took the low-gravity solids off 100 %. Take them off the solids: the rest of the mud is "
                    "water.",
                ),
            ),
            working=(Step("The solids that are not low-gravity.", "100 - {water} - {b}"),),
        ),
        Numeric(
            key="d",
            ask=By(
                "How many pounds of low-gravity solids are in a barrel of mud?",
                "How many kilograms of low-gravity solids are in a cubic metre of mud?",
            ),
            unit=By("lb/bbl", "kg/m3"),
            uses=("b",),
            solve=lambda n: n.b * LOW_GRAVITY,
            plausible=Range(18, 146, "lb/bbl"),
            conventions=(
                Convention(
                    "12 for each lb/gal, as handbooks round it",
                    lambda n: solids_concentration(_low(n, WATER_OF_TWELVE), LOW_GRAVITY),
                ),
                Convention("8.33 lb/gal for water", lambda n: solids_concentration(_low(n, WATER_FIELD), LOW_GRAVITY)),
            ),
            tolerance=relative(
                0.02, because="a tenth of a percent of solids, to which (b) is rounded, is up to 2 % of it"
            ),
            marks=Marks(1, unit=1),
            slips=(
                Slip(
                    "specific gravity left out",
                    lambda n: n.b * WATER_4C,
                    "This is what the same volume of water weighs. Multiply by the specific gravity of the solids, "
                    "2.60.",
                ),
                Slip(
                    "specific gravity of barite",
                    lambda n: n.b * BARITE,
                    "You took 4.20, the specific gravity of barite. Low-gravity solids have 2.60.",
                ),
            ),
            working=(
                Step(
                    By(
                        "1 % of a barrel of water weighs 3.505 lb (3.5 is near enough). These solids weigh 2.60 times "
                        "as much.",
                        "1 % of a cubic metre of water weighs 10 kg. These solids weigh 2.60 times as much.",
                    ),
                    By("3.505 * 2.60 * {b}", "10 * 2.60 * {b}"),
                ),
            ),
        ),
    ),
)
