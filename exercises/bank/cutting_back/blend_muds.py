"""Blending two invert muds from store: volumes, and what the blend is made of."""

from __future__ import annotations

import pint

from exercises.bank.cutting_back import EXACT_BALANCE, Outcome, together
from exercises.fleet.envelope import IMPLIED_SOLIDS_DENSITY, MUD_ON_THE_RIG, OIL_SHARE_OF_LIQUID
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range
from exercises.model.parts import Known, Marks, Numeric, Slip, absolute
from exercises.model.working import Step
from pitside.dilution import blend_volumes, mixed_fraction
from pitside.invert import brine_density, brine_fraction
from pitside.retort import oil_water_ratio
from pitside.units import WATER_4C, Q

#: Specific gravities behind the retort readings: base oil, and barite with a few drilled solids in it.
OIL, SOLIDS = 0.80, 3.90
#: Calcium chloride by weight in the brine of both muds.
SALT = Q(0.25)
BRINE = brine_density(SALT).m_as("g/cm**3")
#: Volume of brine for a volume of the water in it.
BRINE_FOR_WATER = brine_fraction(Q(1.0), SALT).m_as("")


def _liquids(mud_weight: pint.Quantity, ratio: pint.Quantity) -> pint.Quantity:
    """Oil and water as a retort gives them, together, of a mud of this weight and this oil share of them.

    The retort boils the water off; the salt of the brine stays with the solids. So the mud is made of oil, brine and
    solids, and of the brine only the water is read.
    """
    oil, brine = ratio.m_as(""), (1 - ratio.m_as("")) * BRINE_FOR_WATER
    liquid = OIL * oil + BRINE * brine
    return Q((SOLIDS - mud_weight.m_as("g/cm**3")) / (SOLIDS * (oil + brine) - liquid))


def _left_in_the_retort(n: Known, mud: str) -> pint.Quantity:
    """Average density of what the retort of a mud leaves behind, salt and all."""
    oil, water = getattr(n, f"{mud}_oil").to(""), getattr(n, f"{mud}_water").to("")
    return (getattr(n, mud) - oil * OIL * WATER_4C - water * WATER_4C) / (1 - oil - water)


def _heavy_liquids(n: Numbers) -> pint.Quantity:
    return _liquids(n.heavy, n.heavy_ratio)


def _light_liquids(n: Numbers) -> pint.Quantity:
    return _liquids(n.light, n.light_ratio)


def _blended(n: Known, of_heavy: pint.Quantity, of_light: pint.Quantity) -> pint.Quantity:
    """Volume fraction in the blend of what the two muds hold these fractions of."""
    return mixed_fraction(together(n.a, n.b), together(of_heavy, of_light))


def _oil_part(oil: pint.Quantity, water: pint.Quantity) -> pint.Quantity:
    return oil_water_ratio(oil, water)[0]


def _averages_differ(n: Known) -> bool:
    """Both muds have a part in the blend, one is clearly heavier, and averages by volume and by mass differ.

    The target keeps clear of the middle, where half of each would be right by chance.
    """
    if not 2.0 <= (n.heavy - n.light).m_as("lb/gal") <= 6.0:
        return False
    part = ((n.target - n.light) / (n.heavy - n.light)).m_as("")
    oil_apart = abs((n.heavy_oil - n.light_oil).m_as("percent"))
    by_mass = part * (1 - part) * (n.heavy / n.light - 1).m_as("") * oil_apart
    return bool(0.2 <= part <= 0.8 and abs(part - 0.5) * oil_apart >= 0.5 and by_mass >= 0.5)


EXERCISE = Exercise(
    title="Blending two invert muds from store",
    level=2,
    version=2,
    outcome=Outcome.BLENDING,
    numbers=(
        Number("wanted", Grid(700, 1500, 10, "bbl"), Grid(112, 240, 1, "m3")),
        Number("heavy", Grid(13.0, 16.0, 0.1, "lb/gal"), Grid(1560, 1920, 10, "kg/m3")),
        Number("light", Grid(9.0, 11.5, 0.1, "lb/gal"), Grid(1080, 1380, 10, "kg/m3")),
        Number("target", Grid(10.0, 14.5, 0.1, "lb/gal"), Grid(1200, 1740, 10, "kg/m3")),
        Number("heavy_ratio", Grid(80, 90, 1, "%")),
        Number("light_ratio", Grid(65, 74, 1, "%")),
        Derived("heavy_oil", lambda n: n.heavy_ratio * _heavy_liquids(n), "%", 1),
        Derived("heavy_water", lambda n: (1 - n.heavy_ratio) * _heavy_liquids(n), "%", 1),
        Derived("light_oil", lambda n: n.light_ratio * _light_liquids(n), "%", 1),
        Derived("light_water", lambda n: (1 - n.light_ratio) * _light_liquids(n), "%", 1),
    ),
    valid=_averages_differ,
    envelope=(
        Within("oil in the liquid of the heavy mud", lambda n: n.heavy_ratio, OIL_SHARE_OF_LIQUID),
        Within("oil in the liquid of the light mud", lambda n: n.light_ratio, OIL_SHARE_OF_LIQUID),
        Within(
            "density of what the heavy mud's retort leaves",
            lambda n: _left_in_the_retort(n, "heavy"),
            IMPLIED_SOLIDS_DENSITY,
        ),
        Within(
            "density of what the light mud's retort leaves",
            lambda n: _left_in_the_retort(n, "light"),
            IMPLIED_SOLIDS_DENSITY,
        ),
        Within("mud that is blended", lambda n: n.wanted, MUD_ON_THE_RIG),
    ),
    setting=(
        "The mud plant in the harbour holds two invert muds for rig Sandpiper 2. The heavy one weighs {heavy}; its "
        "retort shows {heavy_oil} oil and {heavy_water} water by volume. The light one weighs {light}; its retort "
        "shows {light_oil} oil and {light_water} water. Well Marram-2 needs {wanted} of mud of {target}, blended from "
        "the two. The driller and the mud logger are told before any mud moves, and a second person checks the line "
        "before it is pumped: with a wrong valve open a pit overflows."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What volume of the heavy mud goes into the blend?",
            unit=By("bbl", "m3"),
            solve=lambda n: blend_volumes(n.wanted, n.heavy, n.light, n.target)[0],
            plausible=Range(130, 1210, "bbl"),
            tolerance=EXACT_BALANCE,
            marks=Marks(2),
            slips=(
                Slip(
                    "the two muds swapped",
                    lambda n: blend_volumes(n.wanted, n.heavy, n.light, n.target)[1],
                    "This is the volume of the light mud. The more the target lies above the light mud, the more heavy "
                    "mud goes in.",
                ),
                Slip(
                    "share by weight",
                    lambda n: blend_volumes(n.wanted, n.heavy, n.light, n.target)[0] * (n.target / n.heavy).to(""),
                    "You used the heavy mud's share of the volume as if it were its share of the mass. The share "
                    "counts in volume: do not divide by the weights.",
                ),
                Slip(
                    "light mud's volume over the heavy one's",
                    lambda n: n.wanted * (n.heavy - n.target) / (n.target - n.light),
                    "You divided one difference by the other. Below the line stands the whole difference, heavy minus "
                    "light.",
                ),
                Slip(
                    "half of each",
                    lambda n: n.wanted / 2,
                    "Half of each makes the plain mean of the two weights, which is not the target.",
                ),
            ),
            working=(
                Step(
                    "The rise of the target above the light mud, over the whole difference:",
                    "{wanted} * ({target} - {light}) / ({heavy} - {light})",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What volume of the light mud goes into the blend?",
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda n: n.wanted - n.a,
            plausible=Range(130, 1210, "bbl"),
            tolerance=EXACT_BALANCE,
            marks=Marks(1),
            slips=(
                Slip("the heavy mud again", lambda n: n.a, "This is the heavy mud of (a). The light mud is the rest."),
                Slip(
                    "the whole blend", lambda n: n.wanted, "This is the whole blend. Take the heavy mud of (a) off it."
                ),
            ),
            working=(Step("The rest of the blend:", "{wanted} - {a}"),),
        ),
        Numeric(
            key="c",
            ask="What share of the blend is oil, by volume, in percent?",
            unit="%",
            digits=3,
            uses=("a", "b"),
            solve=lambda n: _blended(n, n.heavy_oil, n.light_oil),
            plausible=Range(45, 75, "%"),
            tolerance=absolute(0.2, "%", because="retort readings and answers are given to 0.1 %; volumes to a barrel"),
            marks=Marks(2),
            slips=(
                Slip(
                    "plain mean",
                    lambda n: (n.heavy_oil + n.light_oil) / 2,
                    "This is the plain mean of the two readings. Weigh each by the volume of its mud.",
                ),
                Slip(
                    "averaged by mass",
                    lambda n: (
                        (n.a * n.heavy * n.heavy_oil + n.b * n.light * n.light_oil) / (n.a * n.heavy + n.b * n.light)
                    ),
                    "You averaged by the masses of the two muds. A share by volume is averaged by the volumes.",
                ),
                Slip(
                    "volumes swapped",
                    lambda n: _blended(n, n.light_oil, n.heavy_oil),
                    "You put the light mud's volume with the heavy mud's oil. Keep each volume with its own reading.",
                ),
            ),
            working=(
                Step(
                    "Volume times share of each, over the whole blend:",
                    "({a} * {heavy_oil} + {b} * {light_oil}) / {wanted}",
                    digits=3,
                ),
            ),
        ),
        Numeric(
            key="d",
            ask="What share of the blend is water, by volume, in percent?",
            unit="%",
            digits=3,
            uses=("a", "b"),
            solve=lambda n: _blended(n, n.heavy_water, n.light_water),
            plausible=Range(5, 34, "%"),
            tolerance=absolute(0.2, "%", because="retort readings and answers are given to 0.1 %; volumes to a barrel"),
            marks=Marks(1),
            slips=(
                Slip(
                    "plain mean",
                    lambda n: (n.heavy_water + n.light_water) / 2,
                    "This is the plain mean of the two readings. Weigh each by the volume of its mud.",
                ),
                Slip(
                    "averaged by mass",
                    lambda n: (
                        (n.a * n.heavy * n.heavy_water + n.b * n.light * n.light_water)
                        / (n.a * n.heavy + n.b * n.light)
                    ),
                    "You averaged by the masses of the two muds. A share by volume is averaged by the volumes.",
                ),
                Slip(
                    "volumes swapped",
                    lambda n: _blended(n, n.light_water, n.heavy_water),
                    "You put the light mud's volume with the heavy mud's water. Keep each volume with its own reading.",
                ),
            ),
            working=(
                Step(
                    "Volume times share of each, over the whole blend:",
                    "({a} * {heavy_water} + {b} * {light_water}) / {wanted}",
                    digits=3,
                ),
            ),
        ),
        Numeric(
            key="e",
            ask="What is the oil part of the blend's oil-water ratio, in percent?",
            unit="%",
            digits=3,
            uses=("c", "d"),
            solve=lambda n: _oil_part(n.c, n.d),
            plausible=Range(60, 90, "%"),
            tolerance=absolute(0.4, "%", because="the ratio is written in whole numbers or to a half"),
            marks=Marks(2),
            slips=(
                Slip(
                    "share of the whole mud",
                    lambda n: n.c,
                    "This is the oil in the whole mud, as in (c). The ratio is of the liquids alone: divide by oil and "
                    "water together.",
                ),
                Slip(
                    "water part",
                    lambda n: 1 - _oil_part(n.c, n.d),
                    "This is the water part of the ratio. The question asks for the oil part.",
                ),
                Slip(
                    "plain mean of the ratios",
                    lambda n: (_oil_part(n.heavy_oil, n.heavy_water) + _oil_part(n.light_oil, n.light_water)) / 2,
                    "This is the plain mean of the two ratios. Take the ratio from the oil and water of the blend.",
                ),
            ),
            working=(Step("Oil over oil and water:", "{c} / ({c} + {d}) * 100", digits=3),),
        ),
    ),
)
