"""Exercises with the figures of published examples: the published answer gets full marks, the usual mistake none.

Each variant is made by hand with the numbers of its source, so its numbers need not lie on the grids of the exercise.
"""

from __future__ import annotations

import pytest

from exercises.model.answers import Given
from exercises.model.marking import Rule, mark
from pitside.unit_names import read_unit
from tests.published.published_check import Status
from tests.published.published_exercise import (  # noqa: F401 - the tests are this module's own, over its FIGURES
    Published,
    by_hand,
    test_the_model_answer_lies_by_the_published_one,
    test_the_published_answer_gets_full_marks,
    test_the_usual_mistake_on_published_numbers_is_named,
)

pytestmark = pytest.mark.published

CHAPTER_1 = "Lapeyrouse 2002, 2nd ed., ch. 1"
PAGES_81_83 = "Lapeyrouse 2002, 2nd ed., ch. 3, pp. 81-83"
CHAPTER_3 = "Lapeyrouse 2002, 2nd ed., ch. 3"
SOLIDS_STEPS = "Lapeyrouse 2002, 2nd ed., ch. 3, solids analysis"
API_FORM = "API RP 13B-1 form"
SCREEN_TEXT = "drilling fluids processing text (ASME 2005, by inference)"
NAF = "Calculations for NAF base muds, author unknown"


COLUMN = by_hand(
    "column-pressure",
    vertical_depth=(12_000, "ft", 0),
    measured_depth=(14_000, "ft", 0),
    mud_weight=(13.5, "lb/gal", 1),
    friction=(300, "psi", 0),
    pore=(12.0, "lb/gal", 1),
    fracture=(15.0, "lb/gal", 1),
)
CIRCULATING = by_hand(
    "column-pressure",
    vertical_depth=(10_000, "ft", 0),
    measured_depth=(12_000, "ft", 0),
    mud_weight=(12.7, "lb/gal", 1),
    friction=(50, "psi", 0),
    pore=(12.0, "lb/gal", 1),
    fracture=(14.0, "lb/gal", 1),
)
GROWING = by_hand(
    "weight-up-growing",
    volume=(100, "bbl", 0),
    mud_weight=(12.0, "lb/gal", 1),
    target=(14.0, "lb/gal", 1),
    barite=(35.0, "lb/gal", 1),
    rate=(10, "sack/min", 0),
)
GROWING_500 = by_hand(
    "weight-up-growing",
    volume=(500, "bbl", 0),
    mud_weight=(10.0, "lb/gal", 1),
    target=(13.0, "lb/gal", 1),
    barite=(35.0, "lb/gal", 1),
    rate=(10, "sack/min", 0),
)
FIXED = by_hand(
    "weight-up-fixed-final",
    final_volume=(100, "bbl", 0),
    mud_weight=(12.0, "lb/gal", 1),
    target=(14.0, "lb/gal", 1),
    barite=(35.0, "lb/gal", 1),
)
CUT_BACK = by_hand(
    "cut-back",
    volume=(100, "bbl", 0),
    mud_weight=(14.0, "lb/gal", 1),
    target=(12.0, "lb/gal", 1),
    premix=(8.33, "lb/gal", 2),
    pit_capacity=(200, "bbl", 0),
    reserve_room=(30, "bbl", 0),
)
SALT = by_hand(
    "solids-salt",
    mud_weight=(16.0, "lb/gal", 1),
    water=(57, "%", 0),
    oil=(7.5, "%", 1),
    chloride=(73_000, "mg/L", 0),
)
HEAVY = by_hand("solids-fresh", mud_weight=(19.0, "lb/gal", 1), water=(40, "%", 0))
HEAVY_57 = by_hand("solids-fresh", mud_weight=(19.0, "lb/gal", 1), water=(43, "%", 0))
INVERT = by_hand("retort-reading", cup=(50, "mL", 0), oil=(31.5, "mL", 1), water=(13.5, "mL", 1))

LAST_DIGIT = "its last printed digit"
FACTOR = "0.052 is 0.10 % above the exact factor of the model answer"

FIGURES = [
    Published(
        claim="13.5 lb/gal at 12,000 ft makes 8,424 psi",
        variant=COLUMN,
        item="a",
        figure=8424,
        unit="psi",
        model_within=9,
        because=FACTOR,
        source=CHAPTER_1,
        status=Status.SEEN,
        mistakes=(
            (0.052 * 13.5 * 14_000, "measured depth"),
            (0.433 * 13.5 * 12_000, "gradient of water on lb/gal"),
            (0.052 * 13.5 / 8.33 * 12_000, "specific gravity with 0.052"),
            (0.052 * 13.5 * 3658, "metres with 0.052"),
        ),
    ),
    Published(
        claim="50 psi on 12.7 lb/gal at 10,000 ft is 12.8 lb/gal",
        variant=CIRCULATING,
        item="b",
        figure=12.8,
        unit="lb/gal",
        model_within=0.05,
        because=LAST_DIGIT,
        source="equivalent circulating density, restated",
        status=Status.RESTATED,
        earlier={"a": (0.052 * 12.7 * 10_000, "psi")},
        mistakes=((50 / (0.052 * 10_000), "friction alone"), (6654 / (0.052 * 12_000), "measured depth")),
    ),
    Published(
        claim="140 sacks take 100 bbl from 12.0 to 14.0 lb/gal",
        variant=GROWING,
        item="a",
        figure=140,
        unit="sack",
        model_within=0.5,
        because=LAST_DIGIT,
        source=PAGES_81_83,
        status=Status.SEEN,
        mistakes=((127.8, "old weight below the line"), (3.33, "42 left out"), (14_000, "pounds called sacks")),
    ),
    Published(
        claim="the volume rises by 9.52 bbl",
        variant=GROWING,
        item="b",
        figure=9.52,
        unit="bbl",
        model_within=0.005,
        because=LAST_DIGIT,
        source=PAGES_81_83,
        status=Status.SEEN,
        earlier={"a": (140, "sack")},
        mistakes=((100 * 2 / 23, "old weight below the line"), (400, "gallons called barrels")),
    ),
    Published(
        claim="500 bbl from 10.0 to 13.0 lb/gal rise by 68.2 bbl",
        variant=GROWING_500,
        item="b",
        figure=68.2,
        unit="bbl",
        model_within=0.05,
        because=LAST_DIGIT,
        source="weighting up, restated",
        status=Status.RESTATED,
        mistakes=((500 * 3 / 25, "old weight below the line"),),
    ),
    Published(
        claim="100 bbl at the end start from 91.3 bbl",
        variant=FIXED,
        item="a",
        figure=91.3,
        unit="bbl",
        model_within=0.05,
        because=LAST_DIGIT,
        source=PAGES_81_83,
        status=Status.SEEN,
        mistakes=((100 - 9.52, "growth of the full volume taken off"), (100 * 23 / 21, "upside down")),
    ),
    Published(
        claim="they then take 127.8 sacks (8.70 bbl of 14.7 sacks each)",
        variant=FIXED,
        item="c",
        figure=100 * 2 / 23 * 14.7,
        unit="sack",
        model_within=0.05,
        because="the same balance, solved in the test",
        source=PAGES_81_83,
        status=Status.DERIVED,
        mistakes=((140, "weighted up the full volume"),),
    ),
    Published(
        claim="54.5 bbl of 8.33 lb/gal water cut 100 bbl from 14.0 to 12.0 lb/gal",
        variant=CUT_BACK,
        item="a",
        figure=54.5,
        unit="bbl",
        model_within=0.05,
        because=LAST_DIGIT,
        source=CHAPTER_3,
        status=Status.SEEN,
        mistakes=((35.3, "formula for a constant volume"), (100 * 2 / 12, "weight of the premix left out")),
    ),
    Published(
        claim="35.3 bbl replace as much mud where the volume is held",
        variant=CUT_BACK,
        item="c",
        figure=100 * 2 / (14 - 8.33),
        unit="bbl",
        model_within=0.05,
        because="the same balance, solved in the test",
        source=CHAPTER_3,
        status=Status.DERIVED,
        mistakes=((54.5, "formula for a growing volume"),),
    ),
    Published(
        claim="corrected solids 33.2026 % in the form of the book",
        variant=SALT,
        item="a",
        figure=33.2026,
        unit="%",
        model_within=0.4,
        because="the model answer is of the API form, 0.32 points lower",
        source=SOLIDS_STEPS,
        status=Status.SEEN,
        mistakes=((35.5, "salt left in"), (35.5 + 2.6, "salt added")),
    ),
    Published(
        claim="filtrate of SG 1.0809 in the form of the book",
        variant=SALT,
        item="b",
        figure=1.0809,
        unit="SG",
        model_within=0.002,
        because="the API form gives 1.0796",
        source=SOLIDS_STEPS,
        status=Status.SEEN,
        mistakes=((1.0, "fresh water"),),
    ),
    Published(
        claim="low-gravity solids in the form of the book, from its steps",
        variant=SALT,
        item="c",
        figure=33.2026 * (4.2 - (12 * 16.0 - 59.2974 * 1.0809 - 0.84 * 7.5) / 33.2026) / 1.6,
        unit="%",
        model_within=0.9,
        because="the two published forms differ by 0.67 points, and 12 for 11.983 by 0.17",
        source=SOLIDS_STEPS,
        status=Status.DERIVED,
        earlier={"a": (33.2026, "%"), "b": (1.0809, "SG")},
        mistakes=((12.75, "salt left in"), (22.05, "high-gravity for low-gravity")),
    ),
    Published(
        claim="corrected solids in the API form",
        variant=SALT,
        item="a",
        figure=35.5 - 57 * 73_000 / (1_680_000 - 1.21 * 73_000),
        unit="%",
        model_within=0.001,
        because="the same formula, worked out in the test",
        source=API_FORM,
        status=Status.MEMORY,
        mistakes=((35.5, "salt left in"),),
    ),
    Published(
        claim="low-gravity solids 10.49 % in the API form with its 12",
        variant=SALT,
        item="c",
        figure=10.49,
        unit="%",
        model_within=0.2,
        because="12 for 11.983 is 0.17 points at 16 lb/gal",
        source=API_FORM,
        status=Status.MEMORY,
        mistakes=((12.75, "salt left in"),),
    ),
    Published(
        claim="60 % solids at 19.0 lb/gal are 40 % low-gravity",
        variant=HEAVY,
        item="b",
        figure=40,
        unit="%",
        model_within=0.25,
        because="the source counts 12 for each lb/gal, which is 0.20 points at 19 lb/gal",
        source=SCREEN_TEXT,
        status=Status.SEEN,
        mistakes=((20.0, "high-gravity for low-gravity"),),
    ),
    Published(
        claim="57 % solids at 19.0 lb/gal are 34 % low-gravity",
        variant=HEAVY_57,
        item="b",
        figure=34,
        unit="%",
        model_within=0.25,
        because="the source counts 12 for each lb/gal, which is 0.20 points at 19 lb/gal",
        source=SCREEN_TEXT,
        status=Status.SEEN,
        mistakes=((23.0, "high-gravity for low-gravity"),),
    ),
    Published(
        claim="63 % oil and 27 % water are a ratio of 70/30",
        variant=INVERT,
        item="d",
        figure=70,
        unit="%",
        model_within=0.001,
        because="exact",
        source=NAF,
        status=Status.SEEN,
        earlier={"a": (63, "%"), "b": (27, "%")},
        mistakes=((63, "share of the whole mud"), (30, "water part")),
    ),
    Published(
        claim="and 10 % are solids",
        variant=INVERT,
        item="c",
        figure=10,
        unit="%",
        model_within=0.001,
        because="exact",
        source=NAF,
        status=Status.SEEN,
        mistakes=((37, "water not taken off"), (5, "millilitres called percent")),
    ),
]


def test_ninety_pounds_a_cubic_foot_is_what_a_cubic_foot_of_gallons_makes_it():
    """Seen: Lapeyrouse 2002, ch. 1: 90 lb/ft3 at 7,500 ft makes 4,687 psi, by 0.006944; so it is 12.02 lb/gal."""
    variant = by_hand(
        "convert-mud-weight",
        heron=(1.0, "SG", 2),
        sandpiper=(90, "lb/ft3", 0),
        gannet=(1200, "kg/m3", 0),
        plant=(0.5, "psi/ft", 2),
    )
    weight = 4687 / (0.052 * 7500)
    result = next(r for r in mark(variant, {"a.sandpiper.weight": Given(weight, "lb/gal")}) if "sandpiper" in r.item)
    assert result.rule is Rule.RIGHT


@pytest.mark.parametrize(
    ("row", "figure"),
    [("heron", 8.3454), ("sandpiper", 62.428 / 7.48052), ("gannet", 1000 / 119.826), ("plant", 0.43353 / 0.0519481)],
)
def test_water_weighs_8_3454_by_every_unit(row, figure):
    """Derived: the exact pound, gallon, foot and standard gravity (SG 1 is 62.428 lb/ft3 and 0.43353 psi/ft)."""
    variant = by_hand(
        "convert-mud-weight",
        heron=(1.0, "SG", 2),
        sandpiper=(62.428, "lb/ft3", 3),
        gannet=(1000, "kg/m3", 0),
        plant=(0.43353, "psi/ft", 5),
    )
    assert variant.key[f"a.{row}.weight"].m_as(read_unit("lb/gal")) == pytest.approx(figure, rel=2e-5)
    assert figure == pytest.approx(8.3454, rel=2e-5)
