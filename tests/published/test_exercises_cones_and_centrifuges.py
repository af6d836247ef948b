"""Exercises on hydrocyclones and centrifuges with the figures of published examples.

The published answer gets full marks, the usual mistake on the same numbers is named. Each variant is made by hand with
the numbers of its source, so its numbers need not lie on the grids of the exercise.
"""

from __future__ import annotations

import math

import pytest

from exercises.model.answers import Given
from exercises.model.marking import Rule, mark
from tests.published.published_check import Status
from tests.published.published_exercise import (  # noqa: F401 - the tests are this module's own, over its FIGURES
    Published,
    by_hand,
    test_the_model_answer_lies_by_the_published_one,
    test_the_published_answer_gets_full_marks,
    test_the_usual_mistake_on_published_numbers_is_named,
)

pytestmark = pytest.mark.published

PAGE_97 = "Lapeyrouse 2002, 2nd ed., p. 97"
PAGE_99 = "Lapeyrouse 2002, 2nd ed., p. 99"
CONES_TEXT = "drilling fluids processing text (ASME 2005, by inference)"
TUTORIAL = "university tutorial PROC2079 on centrifugal settling"
LAST_DIGIT = "its last printed digit"

DESILTER = by_hand(
    "feed-head-pressure",
    mud_weight=(12.0, "lb/gal", 1),
    head=(75, "ft", 0),
    least=(70, "ft", 0),
    most=(80, "ft", 0),
    found_head=(60, "ft", 0),
    gauge=(52, "psi", 0),
)
SAMPLE = by_hand(
    "cone-underflow",
    density=(16.0, "lb/gal", 1),
    volume=(0.5, "gal", 2),
    time=(45, "s", 0),
    cones=(16, "fraction", 0),
    hours=(20, "h", 0),
    water=(8.33, "lb/gal", 2),
    drilled=(21.7, "lb/gal", 1),
)
PUMP = by_hand(
    "number-of-cones",
    flow=(750, "gal/min", 0),
    cone_flow=(50, "gal/min", 0),
    excess=(20, "%", 0),
    mud_weight=(12.0, "lb/gal", 1),
    head=(85, "ft", 0),
    efficiency=(70, "%", 0),
)
SMALL_BOWL = by_hand(
    "g-factor-bowl",
    diameter=(152.4, "mm", 1),
    speed=(6684, "rpm", 0),
    other_speed=(5000, "rpm", 0),
    target=(2000, "fraction", 0),
)
DECANTER = by_hand(
    "g-factor-bowl",
    diameter=(14, "in", 1),
    speed=(3250, "rpm", 0),
    other_speed=(1800, "rpm", 0),
    target=(1000, "fraction", 0),
)
CENTRIFUGE = by_hand(
    "centrifuge-balance",
    feed=(16.5, "gal/min", 1),
    mud_weight=(16.2, "lb/gal", 1),
    dilution=(10.5, "gal/min", 1),
    water=(8.34, "lb/gal", 2),
    underflow=(23.4, "lb/gal", 1),
    overflow=(9.3, "lb/gal", 1),
    solids=(33.0, "lb/gal", 1),
    liquid=(39, "%", 0),
)

FIGURES = [
    Published(
        claim="75 ft of 12.0 lb/gal mud make 0.052 * 75 * 12.0 psi",
        variant=DESILTER,
        item="a",
        figure=0.052 * 75 * 12.0,
        unit="psi",
        model_within=0.06,
        because="0.052 is 0.10 % above the exact factor",
        source=f"75 ft: {CONES_TEXT}; 0.052: Lapeyrouse 2002, ch. 1",
        status=Status.DERIVED,
        mistakes=((0.4335 * 75, "head of water"), (75, "feet called psi")),
    ),
    Published(
        claim="four times the mud weight: 48 psi for 12.0 lb/gal",
        variant=DESILTER,
        item="a",
        figure=48,
        unit="psi",
        model_within=1.3,
        because="the rule rounds 3.9 up to 4",
        source="rig floor",
        status=Status.COMMON,
    ),
    Published(
        claim="an underflow of 16.0 lb/gal holds (16.0 - 8.33) / 13.37 of solids",
        variant=SAMPLE,
        item="a",
        figure=100 * (16.0 - 8.33) / 13.37,
        unit="%",
        model_within=1e-6,
        because="the same balance, worked out in the test",
        source=PAGE_97,
        status=Status.RESTATED,
        mistakes=((100 * (16.0 - 8.33) / 13.37 * 21.7 / 16.0, "share by mass"),),
    ),
    Published(
        claim="2 quarts of it in 45 s are 498 lb/h of solids",
        variant=SAMPLE,
        item="b",
        figure=498,
        unit="lb/h",
        model_within=0.5,
        because=LAST_DIGIT,
        source=PAGE_97,
        status=Status.MEMORY,
        mistakes=((0.5 / 45 * 3600 * 16.0, "the whole underflow"), (498 / 60, "per minute")),
    ),
    Published(
        claim="and 900 * (1 - SF) * V / T gal/h of water",
        variant=SAMPLE,
        item="c",
        figure=900 * (1 - (16.0 - 8.33) / 13.37) * 2 / 45,
        unit="gal/h",
        model_within=1e-6,
        because="the same balance, worked out in the test",
        source=PAGE_97,
        status=Status.RESTATED,
        mistakes=((900 * 2 / 45, "the whole underflow"), (900 * (16.0 - 8.33) / 13.37 * 2 / 45, "solids for liquid")),
    ),
    Published(
        claim="900 gal/min at 85 ft of 12.0 lb/gal and 70 %: gal/min * ft * SG / 3960",
        variant=PUMP,
        item="d",
        figure=900 * 85 * 12.0 / 8.33 / (3960 * 0.70),
        unit="hp",
        model_within=0.06,
        because="3960 is 0.15 % above the exact factor; 8.33 lb/gal stands for water",
        source="3960: a pumping handbook of 2004, p. 268",
        status=Status.DERIVED,
        mistakes=(
            (900 * 85 * 12.0 / 8.33 / 3960, "efficiency left out"),
            (900 * 85 * 12.0 / 8.33 / 3960 * 0.70, "efficiency multiplied"),
        ),
    ),
    Published(
        claim="a bowl of 76.2 mm radius at 6,684 rpm has 3,806 g",
        variant=SMALL_BOWL,
        item="a",
        figure=3806,
        unit="fraction",
        model_within=1.5,
        because="printed to a unit; the exact speed is 6,684.5 rpm",
        source=f"{TUTORIAL}, question 1",
        status=Status.SEEN,
        mistakes=((1903, "radius for diameter"), (3806 * 2, "diameter for radius")),
    ),
    Published(
        claim="a 14 in bowl at 3,250 rpm, from the circumference",
        variant=DECANTER,
        item="a",
        figure=(2 * math.pi * 3250 / 60) ** 2 * 0.3556 / 2 / 9.80665,
        unit="fraction",
        model_within=0.01,
        because="the definition, worked out in the test",
        source="definition; standard gravity",
        status=Status.DERIVED,
        mistakes=((1050, "radius for diameter"),),
    ),
    Published(
        claim="16.5 gal/min of 16.2 lb/gal with 10.5 gal/min of water leave 7.4 gal/min of underflow",
        variant=CENTRIFUGE,
        item="a",
        figure=7.4,
        unit="gal/min",
        model_within=0.05,
        because=LAST_DIGIT,
        source=PAGE_99,
        status=Status.MEMORY,
        mistakes=(
            (16.5 * (16.2 - 9.3) / (23.4 - 9.3), "dilution liquid left out"),
            (27 * (16.2 - 9.3) / (23.4 - 9.3), "dilution taken as mud"),
            (19.6, "overflow for underflow"),
        ),
    ),
    Published(
        claim="the same by its printed formula",
        variant=CENTRIFUGE,
        item="a",
        figure=(16.5 * (16.2 - 9.3) - 10.5 * (9.3 - 8.34)) / (23.4 - 9.3),
        unit="gal/min",
        model_within=1e-6,
        because="the same balance, worked out in the test",
        source=PAGE_99,
        status=Status.RESTATED,
    ),
]


@pytest.mark.parametrize(("density", "letter"), [(13.0, "B"), (15.6, "A")])
def test_thirty_five_percent_is_a_spray_and_a_denser_underflow_a_rope(density, letter):
    """Seen: desilter underflows hold about 35 % solids by volume (13.0 lb/gal) in a spray. A rope is denser: memory."""
    variant = by_hand(
        "spray-or-rope",
        first_density=(density, "lb/gal", 1),
        second_density=(12.0, "lb/gal", 1),
        first_rate=(2.0, "gal/min", 1),
        second_rate=(1.0, "gal/min", 1),
        water=(8.33, "lb/gal", 2),
        drilled=(21.7, "lb/gal", 1),
    )
    result = next(r for r in mark(variant, {"c": Given(letter)}) if r.item == "c")
    assert result.rule is Rule.RIGHT
