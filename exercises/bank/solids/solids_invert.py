"""Solids of an invert mud."""

from __future__ import annotations

import pint

from exercises.bank.mud_weight import ANY_MUD
from exercises.bank.solids import REFERENCE_WATER, TENTHS_OF_PERCENT, Outcome, low_from
from exercises.fleet.envelope import DRILLED_SOLIDS, OIL_SHARE_OF_LIQUID
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range
from exercises.model.parts import Convention, Known, Marks, Numeric, Slip, absolute, reading
from exercises.model.working import Step
from pitside.invert import WATER_20C, brine_density, brine_fraction, corrected_solids
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.retort import OIL, WATER_OF_TWELVE, average_solids_density, low_gravity_fraction, oil_water_ratio
from pitside.units import WATER_4C, WATER_FIELD, Q


def _brine(n: Known | Numbers) -> pint.Quantity:
    return brine_fraction(n.water, n.salt)


def _water_of_one(n: Known) -> pint.Quantity:
    """The brine from water of exactly 1 g/mL, and the density as printed: the sum that a trainee does."""
    return n.water * WATER_4C / ((1 - n.salt.to("")) * n.brine)


def _retort_solids(n: Known) -> pint.Quantity:
    return Q(1.0) - n.water - n.oil


def _solids(n: Known | Numbers) -> pint.Quantity:
    return corrected_solids(n.water, n.oil, n.salt)


def _low(n: Known, solids: pint.Quantity, reference_water: pint.Quantity = WATER_4C) -> pint.Quantity:
    return low_from(
        solids, average_solids_density(n.mud_weight, solids, n.brine, n.oil, reference_water=reference_water)
    )


def _mud_weight(n: Numbers) -> pint.Quantity:
    """What the mud weighs with its drawn low-gravity solids, which the trainee is to find."""
    solids = _solids(n)
    return (
        n.oil * OIL + _brine(n) * n.brine + n.drilled * LOW_GRAVITY + (solids - n.drilled) * BARITE  # type: ignore[no-any-return]
    )


def _is_an_invert_mud(n: Known) -> bool:
    """Oil-water ratios from 65/35 to 90/10, and both kinds of solids, as a mud report would have them."""
    share = (n.oil / (n.oil + n.water)).m_as("")
    if not 0.65 <= share <= 0.90 or _solids(n) < 0.08:
        return False
    low = low_gravity_fraction(n.mud_weight, _solids(n), n.brine, n.oil)
    return bool(
        ANY_MUD.holds(n.mud_weight)
        and low >= 0.025
        and low <= 0.10
        and _solids(n) - low >= 0.03
        and abs(_solids(n) - 2 * low) >= 0.01
    )


EXERCISE = Exercise(
    title="Solids of an invert mud",
    level=2,
    version=2,
    outcome=Outcome.SALT,
    digits=3,
    numbers=(
        Number("oil", Grid(46, 66, 1, "%")),
        Number("water", Grid(8, 24, 1, "%")),
        Number("salt", Grid(18, 29, 1, "%")),
        Number("drilled", Grid(3.0, 9.5, 0.5, "%")),
        Derived("brine", lambda n: brine_density(n.salt), "SG", 3),
        Derived("mud_weight", _mud_weight, By("lb/gal", "kg/m3"), By(1, -1)),
    ),
    valid=_is_an_invert_mud,
    envelope=(
        Within("mud weight", lambda n: n.mud_weight, ANY_MUD),
        Within("oil in the liquid", lambda n: n.a, OIL_SHARE_OF_LIQUID),
        Within("low-gravity solids", lambda n: n.d, DRILLED_SOLIDS),
    ),
    setting=By.each(
        lambda system: (
            "The invert mud of rig Sandpiper 2 weighs {mud_weight}. The retort gives {oil} oil and {water} water by "
            "volume; the rest stays behind as solids, the salt of the brine among them. The brine holds {salt} of "
            "calcium chloride by weight and has a specific gravity of {brine}. Take specific gravities of "
            + REFERENCE_WATER.of(system)
            + ", 0.84 for the oil, 2.60 for low-gravity solids and 4.20 for barite. The retort is hot and its vapour "
            "burns: leave it to cool under ventilation, by the rules of the site."
        )
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the oil part of the oil-water ratio, in percent?",
            unit="%",
            solve=lambda n: oil_water_ratio(n.oil, n.water)[0],
            plausible=Range(64, 91, "%"),
            tolerance=reading(1, "%", because="a ratio is given to a whole percent"),
            marks=Marks(1),
            outcome=Outcome.READING,
            slips=(
                Slip(
                    "share of the whole mud",
                    lambda n: n.oil,
                    "This is the share of the whole mud. The ratio is of the liquids alone: divide by oil and water.",
                ),
                Slip(
                    "water for oil",
                    lambda n: oil_water_ratio(n.oil, n.water)[1],
                    "This is the water part of the ratio.",
                ),
                Slip(
                    "oil over water",
                    lambda n: n.oil / n.water,
                    "You divided oil by water. Divide it by oil and water together.",
                ),
            ),
            working=(Step("Oil over the liquids that the retort gave.", "100 * {oil} / ({oil} + {water})", digits=3),),
        ),
        Numeric(
            key="b",
            ask="What share of the mud is brine, water with its salt, in percent by volume? Give one decimal.",
            unit="%",
            solve=lambda n: _brine(n),
            plausible=Range(8, 30, "%"),
            conventions=(Convention("water of exactly 1 g/mL", _water_of_one),),
            tolerance=absolute(0.1, "%", because="it is given to a tenth of a percent"),
            marks=Marks(2),
            slips=(
                Slip(
                    "water for brine",
                    lambda n: n.water,
                    "This is the water that boiled off. In the mud it holds salt, which takes up room too.",
                ),
                Slip(
                    "salt not taken off",
                    lambda n: n.water * WATER_20C / n.brine,
                    "You divided the mass of water by the density of brine. First find the mass of brine: water over "
                    "(1 − salt).",
                ),
                Slip(
                    "mass for volume",
                    lambda n: n.water / (1 - n.salt.to("")),
                    "This is the mass of the brine. Divide it by the specific gravity of the brine.",
                ),
            ),
            working=(
                Step(
                    "Mass of brine: the water is what is not salt.", "{water} / (1 - {salt} / 100)", "mass", "fraction"
                ),
                Step("Its volume:", "{mass} / {brine}", digits=4),
            ),
        ),
        Numeric(
            key="c",
            ask="What share of the mud is suspended solids, without the salt, in percent by volume? Give one decimal.",
            unit="%",
            uses=("b",),
            solve=lambda n: Q(1.0) - n.oil - n.b,
            plausible=Range(8, 46, "%"),
            conventions=(Convention("water of exactly 1 g/mL", lambda n: Q(1.0) - n.oil - _water_of_one(n)),),
            tolerance=absolute(0.15, "%", because="it is given to a tenth of a percent, as the brine is"),
            marks=Marks(1),
            slips=(
                Slip(
                    "salt left in",
                    lambda n: _retort_solids(n),
                    "These are the solids as the retort shows them, with the salt. Take off the brine, not the water "
                    "alone.",
                ),
                Slip("oil left in", lambda n: Q(1.0) - n.b, "You took only the brine off. The oil is no solid either."),
            ),
            working=(Step("What is neither oil nor brine.", "100 - {oil} - {b}", digits=4),),
        ),
        Numeric(
            key="d",
            ask="What share of the mud is low-gravity solids, in percent by volume? Give one decimal.",
            unit="%",
            uses=("c",),
            solve=lambda n: _low(n, n.c),
            plausible=Range(2, 10.4, "%"),
            conventions=(
                Convention("12 for each lb/gal, as handbooks round it", lambda n: _low(n, n.c, WATER_OF_TWELVE)),
                Convention("8.33 lb/gal for water", lambda n: _low(n, n.c, WATER_FIELD)),
            ),
            tolerance=TENTHS_OF_PERCENT,
            marks=Marks(3),
            outcome=Outcome.SPLITTING,
            slips=(
                Slip(
                    "salt left in",
                    lambda n: _low(n, _retort_solids(n)),
                    "You worked with the solids of the retort, salt and all. Use the solids of (c).",
                ),
                Slip(
                    "brine as light as water",
                    lambda n: low_from(n.c, average_solids_density(n.mud_weight, n.c, WATER_4C, n.oil)),
                    "You let the brine weigh as little as fresh water. Its specific gravity stands in the question.",
                ),
                Slip(
                    "oil as heavy as water",
                    lambda n: low_from(n.c, average_solids_density(n.mud_weight, n.c, n.brine, n.oil, WATER_4C)),
                    "You let the oil weigh as much as water. Its specific gravity is 0.84.",
                ),
                Slip(
                    "high-gravity for low-gravity",
                    lambda n: n.c - _low(n, n.c),
                    "These are the high-gravity solids. Take them off the solids of (c).",
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
                Step("Brine, which is neither solids nor oil:", "100 - {c} - {oil}", "liquid", "%", digits=4),
                Step(
                    "What the solids weigh: the mud without its brine and its oil.",
                    "{mud} - {liquid} * {brine} - {oil} * 0.84",
                    "mass",
                    "fraction",
                    digits=5,
                ),
                Step(
                    "If all solids were barite they would weigh 4.20 times their volume. What is missing comes from "
                    "the low-gravity solids, 1.60 lighter.",
                    "({c} * 4.20 - {mass}) / (4.20 - 2.60)",
                    digits=3,
                ),
            ),
        ),
        Numeric(
            key="e",
            ask="What share of the mud is barite, in percent by volume? Give one decimal.",
            unit="%",
            uses=("c", "d"),
            solve=lambda n: n.c - n.d,
            plausible=Range(3, 40, "%"),
            conventions=(
                Convention("12 for each lb/gal, as handbooks round it", lambda n: n.c - _low(n, n.c, WATER_OF_TWELVE)),
            ),
            tolerance=TENTHS_OF_PERCENT,
            marks=Marks(1),
            outcome=Outcome.SPLITTING,
            slips=(
                Slip(
                    "salt counted as barite",
                    lambda n: _retort_solids(n) - n.d,
                    "You took the low-gravity solids off the solids of the retort, so the salt counts as barite. Take "
                    "them off the solids of (c).",
                ),
                Slip(
                    "all solids",
                    lambda n: n.c,
                    "These are all suspended solids, as in (c). Take the low-gravity solids off.",
                ),
            ),
            working=(Step("The suspended solids that are not low-gravity.", "{c} - {d}"),),
        ),
    ),
)
