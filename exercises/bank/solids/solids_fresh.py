"""Solids of a fresh-water mud."""

from __future__ import annotations

import functools

import pint

from exercises.bank.solids import REFERENCE_WATER, TENTHS_OF_PERCENT, Outcome, low_from
from exercises.fleet.envelope import DRILLED_SOLIDS, IMPLIED_SOLIDS_DENSITY, WEIGHTED_MUD
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip, relative
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


#: Drilled solids that are wanted at most, and from which on they are bad: common practice, no source.
WANTED, BAD = Q(6, "%"), Q(8, "%")
COMPARE_WITH_BOTH = "Compare your answer to (b) with 6 % and with 8 %."


def _is_a_weighted_mud(n: Known) -> bool:
    """Low-gravity solids as a mud report would have them, and clear of both limits; some barite."""
    low = _low(n).m_as("%")
    clear = min(abs(low - WANTED.m_as("%")), abs(low - BAD.m_as("%")))
    return bool(2.8 <= low <= 9.9 and clear >= 0.5 and n.mud_weight >= Q(10.0, "lb/gal"))


def _verdict(n: Known) -> str:
    return "good" if n.b <= WANTED else "high" if n.b < BAD else "bad"


EXERCISE = Exercise(
    title="Solids of a fresh-water mud",
    level=2,
    version=2,
    outcome=Outcome.SPLITTING,
    tolerance=TENTHS_OF_PERCENT,
    digits=3,
    numbers=(
        Number("low", Grid(3.0, 9.8, 0.1, "%")),
        Number("high", Grid(3.0, 24.0, 0.2, "%")),
        Derived("water", lambda n: Q(1.0) - n.low - n.high, "%", 1),
        Derived(
            "mud_weight",
            lambda n: n.water * WATER_4C + n.low * LOW_GRAVITY + n.high * BARITE,
            By("lb/gal", "kg/m3"),
            By(1, -1),
        ),
    ),
    envelope=(
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("density of the solids", lambda n: n.a, IMPLIED_SOLIDS_DENSITY),
        Within("low-gravity solids", lambda n: n.b, DRILLED_SOLIDS),
    ),
    valid=_is_a_weighted_mud,
    setting=By.each(
        lambda system: (
            "The fresh-water mud of rig Heron 4 weighs {mud_weight}. The retort gives {water} water and no oil; the "
            "rest is solids. Take specific gravities of "
            + REFERENCE_WATER.of(system)
            + ", 2.60 for low-gravity solids and 4.20 for barite."
        )
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
            plausible=Range(2.5, 10.1, "%"),
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
            plausible=Range(2, 26, "%"),
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
                "How many pounds of low-gravity solids are in a barrel of mud? Give the unit too.",
                "How many kilograms of low-gravity solids are in a cubic metre of mud? Give the unit too.",
            ),
            unit=By("lb/bbl", "kg/m3"),
            uses=("b",),
            solve=lambda n: n.b * LOW_GRAVITY,
            plausible=Range(22, 92, "lb/bbl"),
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
        Choice(
            key="e",
            ask=(
                "The programme wants no more than 6 % of low-gravity solids; from 8 % on the mud counts as bad. What "
                "do you report?"
            ),
            options=(
                Option("good", "The mud is within the programme: keep the machines as they are.", COMPARE_WITH_BOTH),
                Option(
                    "high",
                    "There are more than is wanted: look at screens and machines now, and plan some dilution.",
                    COMPARE_WITH_BOTH,
                ),
                Option(
                    "bad",
                    "The mud is bad: tell the supervisor at once, and agree on dilution or on new mud.",
                    COMPARE_WITH_BOTH,
                ),
            ),
            uses=("b",),
            right=_verdict,
            marks=Marks(1),
            reason=(
                "The mud holds {b}. A retort knows it to one or two percent of the mud, so one reading near a limit is "
                "read again before anybody acts on it."
            ),
        ),
    ),
)
