"""Exercises on barite recovery and packages with the figures of published examples and of common practice.

The published answer gets full marks, the usual mistake on the same numbers is named. Each variant is made by hand with
the numbers of its source, so its numbers need not lie on the grids of the exercise.
"""

from __future__ import annotations

import pytest

from tests.published.published_check import Status
from tests.published.published_exercise import (  # noqa: F401 - the tests are this module's own, over its FIGURES
    Published,
    by_hand,
    test_the_model_answer_lies_by_the_published_one,
    test_the_published_answer_gets_full_marks,
    test_the_usual_mistake_on_published_numbers_is_named,
)

pytestmark = pytest.mark.published

PUMP_FORMULA = "general pump formula, gal/min * ft * SG / (3960 * efficiency), on public pump sheets"
CUTTINGS_TEXT = "drilling fluids processing text (ASME 2005, by inference)"

FOUR_MODULES = by_hand(
    "parallel-modules",
    flow=(1000, "gal/min", 0),
    module_flow=(250, "gal/min", 0),
    least_load=(80, "%", 0),
    mud_weight=(12.0, "lb/gal", 1),
    head=(75, "ft", 0),
    efficiency=(65, "%", 0),
)
TRAINS = by_hand(
    "power-and-energy",
    flow=(900, "gal/min", 0),
    mud_weight=(12.017, "lb/gal", 3),
    head=(85, "ft", 0),
    efficiency=(70, "%", 0),
    motor=(90, "%", 0),
    running=(20, "h", 0),
    price=(0.20, "money/kWh", 2),
    rated=(200, "hp", 0),
    load=(80, "%", 0),
    first_hire=(1500, "money", 0),
    second_hire=(1500, "money", 0),
)
SECTION = by_hand(
    "package-for-a-section",
    flow=(900, "gal/min", 0),
    margin=(15, "%", 0),
    mud_weight=(9.0, "lb/gal", 1),
    hole=(14.75, "in", 2),
    rate=(200, "ft/h", 0),
    shaker_flow=(350, "gal/min", 0),
    shaker_power=(5, "hp", 0),
    shaker_share=(50, "%", 0),
    finer=(0.85, "fraction", 2),
    finest=(0.50, "fraction", 2),
    cone_flow=(50, "gal/min", 0),
    cone_share=(60, "%", 0),
    head=(85, "ft", 0),
    efficiency=(65, "%", 0),
    wet=(1.0, "fraction", 1),
    caught=(40, "%", 0),
    full_feed=(150, "gal/min", 0),
    full_power=(70, "hp", 0),
    empty_share=(40, "%", 0),
    empty_power=(28, "hp", 0),
    design=(100, "gal/min", 0),
    in_hand=(10, "gal/min", 0),
    places=(5, "fraction", 0),
    motor=(50.0, "hp", 1),
    limit=(8.0, "%", 1),
    supply=(150, "hp", 0),
)

FIGURES = [
    Published(
        claim="four modules of 250 gal/min in parallel take 1,000 gal/min",
        variant=FOUR_MODULES,
        item="a",
        figure=4,
        unit="fraction",
        model_within=0,
        because="machines come whole",
        source="barite recovery",
        status=Status.COMMON,
        mistakes=((5, "one to spare"),),
    ),
    Published(
        claim="one of them out of service leaves 250 gal/min behind",
        variant=FOUR_MODULES,
        item="e",
        figure=250,
        unit="gal/min",
        model_within=0.1,
        because="an exact difference",
        source="barite recovery",
        status=Status.COMMON,
        mistakes=((750, "what it can take"),),
    ),
    Published(
        claim="900 gal/min * 85 ft * 1.44 / (3960 * 0.70) are 39.74 hp",
        variant=TRAINS,
        item="a",
        figure=39.74,
        unit="hp",
        model_within=0.08,
        because="3960 is for water of 998.5 kg/m3",
        source=PUMP_FORMULA,
        status=Status.SEEN,
        mistakes=((19.5, "efficiency multiplied"),),
    ),
    Published(
        claim="39.74 hp at the shaft are 29.63 kW, and more before a motor of 90 %",
        variant=TRAINS,
        item="b",
        figure=29.63 / 0.90,
        unit="kW",
        model_within=0.08,
        because="as the shaft power",
        source=PUMP_FORMULA,
        status=Status.SEEN,
        mistakes=((29.63, "motor left out"),),
    ),
    Published(
        claim="14-3/4 in at 200 ft/h: 80 % of the rock are about 34 bbl/h, so a fifth is left: 8.5",
        variant=SECTION,
        item="f",
        figure=34 / 0.8 * 0.2,
        unit="bbl/h",
        model_within=0.05,
        because="34 is 33.8, rounded",
        source=CUTTINGS_TEXT,
        status=Status.SEEN,
        mistakes=((34, "what is discarded"),),
    ),
]
