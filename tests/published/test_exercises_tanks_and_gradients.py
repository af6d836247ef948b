"""Exercises on pumps, the annulus and two gradients with the figures of published examples.

The published answer gets full marks, the usual mistake on the same numbers is named. Each variant is made by hand with
the numbers of its source, so its numbers need not lie on the grids of the exercise.
"""

from __future__ import annotations

import pytest

from exercises.model.variant import Variant
from tests.published.published_check import Status
from tests.published.published_exercise import (  # noqa: F401 - the tests are this module's own, over its FIGURES
    Published,
    by_hand,
    test_the_model_answer_lies_by_the_published_one,
    test_the_published_answer_gets_full_marks,
    test_the_usual_mistake_on_published_numbers_is_named,
)

pytestmark = pytest.mark.published

GUO_LIU = "Guo and Liu 2011"


SPEEDS = by_hand(
    "affinity-laws",
    speed=(1750, "rpm", 0),
    new_speed=(3500, "rpm", 0),
    flow=(100, "gal/min", 0),
    head=(100, "ft", 0),
    power=(5, "hp", 1),
    mud_weight=(12.0, "lb/gal", 1),
    efficiency=(65, "%", 0),
    motor=(50, "hp", 0),
    impeller=(12, "in", 1),
    new_impeller=(11, "in", 2),
)
TENTH_MORE = by_hand(
    "affinity-laws",
    speed=(1000, "rpm", 0),
    new_speed=(1100, "rpm", 0),
    flow=(100, "gal/min", 0),
    head=(100, "ft", 0),
    power=(10, "hp", 1),
    mud_weight=(12.0, "lb/gal", 1),
    efficiency=(65, "%", 0),
    motor=(50, "hp", 0),
    impeller=(12, "in", 1),
    new_impeller=(11, "in", 2),
)


def annulus(hole: float, pipe: float, flow: float, **other: tuple[float, str, int]) -> Variant:
    numbers = {
        "flow": (flow, "gal/min", 0),
        "hole": (hole, "in", 2),
        "pipe": (pipe, "in", 2),
        "measured_depth": (12_000, "ft", 0),
        "vertical_depth": (10_000, "ft", 0),
        "mud_weight": (12.7, "lb/gal", 1),
        "plastic_viscosity": (25, "cP", 0),
        "yield_point": (15, "lbf/100ft2", 0),
        "fracture": (13.5, "lb/gal", 2),
    }
    return by_hand("annular-velocity-ecd", **(numbers | other))


GUO = annulus(8.5, 6.75, 300)
SLIM = annulus(6.5, 4.0, 320)
#: 8-1/2 by 5 in, 1,000 ft, 2.5 ft/s, 25 cP, 15 lbf/100 ft2; flow is not needed where the velocity is given.
BINGHAM = annulus(8.5, 5.0, 300, measured_depth=(1000, "ft", 0), vertical_depth=(900, "ft", 0))
PUMP = by_hand(
    "total-head",
    flow=(900, "gal/min", 0),
    mud_weight=(8.34, "lb/gal", 2),
    level=(5, "ft", 1),
    manifold=(10, "ft", 1),
    known_flow=(600, "gal/min", 0),
    known_friction=(8, "ft", 1),
    feed_pressure=(43, "psi", 0),
    air=(14.7, "psi", 1),
    vapour=(1.0, "psi", 1),
    suction_friction=(2.0, "ft", 1),
    required=(20, "ft", 0),
)

TWO_GRADIENTS = by_hand(
    "two-gradient-column",
    depth=(20_000, "ft", 0),
    mudline=(5000, "ft", 0),
    air_gap=(0, "ft", 0),
    sea=(8.55, "lb/gal", 2),
    mud=(14.0, "lb/gal", 1),
    target=(12.6375, "lb/gal", 4),
    above_pore=(0.5, "lb/gal", 1),
    pore=(12.1, "lb/gal", 1),
    window=(1.0, "lb/gal", 1),
    fracture=(13.1, "lb/gal", 1),
)
RISER = by_hand(
    "riser-dilution",
    mud_rate=(500, "gal/min", 0),
    mud_weight=(14.5, "lb/gal", 1),
    riser=(10.0, "lb/gal", 1),
    light=(6.6, "lb/gal", 1),
    module=(250, "gal/min", 0),
    extra=(0.2, "lb/gal", 1),
    overflow=(6.8, "lb/gal", 1),
    heavy=(17.0, "lb/gal", 1),
)

AFFINITY = "public sheet on affinity laws"
GUIDE = "guide to pumps and affinity laws"
FIGURES = [
    *(
        Published(
            claim=f"1750 to 3500 rev/min: {words}",
            variant=SPEEDS,
            item=item,
            figure=figure,
            unit=unit,
            model_within=1e-6,
            because="exact",
            source=AFFINITY,
            status=Status.RESTATED,
            mistakes=mistakes,
        )
        for item, words, figure, unit, mistakes in (
            ("a", "100 gal/min to 200", 200, "gal/min", ((400, "speeds squared"), (50, "ratio upside down"))),
            ("b", "100 ft to 400", 400, "ft", ((200, "linear"), (800, "cubed"))),
            ("c", "5 hp to 40", 40, "hp", ((10, "linear"), (20, "squared"))),
        )
    ),
    Published(
        claim="a tenth more speed is 21 % more head",
        variant=TENTH_MORE,
        item="b",
        figure=121,
        unit="ft",
        model_within=1e-6,
        because="exact",
        source=GUIDE,
        status=Status.SEEN,
        mistakes=((110, "linear"),),
    ),
    Published(
        claim="a tenth more speed is 33 % more power",
        variant=TENTH_MORE,
        item="c",
        figure=13.3,
        unit="hp",
        model_within=0.02,
        because="printed to a percent",
        source=GUIDE,
        status=Status.SEEN,
        mistakes=((11, "linear"), (12.1, "squared")),
    ),
    Published(
        claim="300 gal/min in 8-1/2 by 6-3/4 in rise at 4.59 ft/s",
        variant=GUO,
        item="a",
        figure=4.59,
        unit="ft/s",
        model_within=0.005,
        because="its last printed digit",
        source=f"{GUO_LIU} p. 45",
        status=Status.SEEN,
        mistakes=((300 / 7.48 / 60 / (3.1416 / 4 * (8.5 / 12) ** 2), "pipe left out"),),
    ),
    Published(
        claim="320 gal/min in 6.5 by 4 in rise at 298.7 ft/min with 24.5",
        variant=SLIM,
        item="a",
        figure=298.7,
        unit="ft/min",
        model_within=0.2,
        because="24.5 is 0.04 % below the exact factor",
        source="Lapeyrouse 2002",
        status=Status.RESTATED,
        mistakes=((24.5 * 320 / 6.5**2, "pipe left out"), (24.5 * 320 / 2.5**2, "difference squared")),
    ),
    Published(
        claim="Bingham loss, PV v / (1000 gap2) + YP / (200 gap), of 1,000 ft of 8-1/2 by 5 in at 2.5 ft/s",
        variant=BINGHAM,
        item="b",
        figure=1000 * (25 * 2.5 / (1000 * 3.5**2) + 15 / (200 * 3.5)),
        unit="psi",
        model_within=None,
        because="the velocity of the part before is another",
        source=f"{GUO_LIU} p. 40",
        status=Status.SEEN,
        earlier={"a": (150, "ft/min")},
        mistakes=(
            (1000 * (25 * 150 / (1000 * 3.5**2) + 15 / (200 * 3.5)), "velocity by the minute"),
            (1000 * 25 * 2.5 / (1000 * 3.5**2), "yield point left out"),
        ),
    ),
    Published(
        claim="50 psi on 12.7 lb/gal at 10,000 ft is 12.8 lb/gal (12.796)",
        variant=SLIM,
        item="c",
        figure=12.796,
        unit="lb/gal",
        model_within=None,
        because="the loss of the part before is another",
        source="equivalent circulating density, restated",
        status=Status.RESTATED,
        earlier={"b": (50, "psi")},
        mistakes=((50 / 520, "friction alone"),),
    ),
    Published(
        claim="8.55 lb/gal over 5,000 ft then 14.0 to 20,000 ft make 13,143 psi with 0.052",
        variant=TWO_GRADIENTS,
        item="b",
        figure=0.052 * (8.55 * 5000 + 14.0 * 15_000),
        unit="psi",
        model_within=14,
        because="0.052 is 0.10 % above the exact factor",
        source="Lapeyrouse 2002 ch. 1, 0.052 for each fluid",
        status=Status.DERIVED,
        mistakes=((0.052 * 14.0 * 20_000, "mud to the surface"), (0.052 * 11.275 * 20_000, "plain mean")),
    ),
    Published(
        claim="which is 12.6375 lb/gal",
        variant=TWO_GRADIENTS,
        item="c",
        figure=(8.55 * 5000 + 14.0 * 15_000) / 20_000,
        unit="lb/gal",
        model_within=1e-6,
        because="the same average by length, worked out in the test",
        source="average of the densities by length",
        status=Status.DERIVED,
        mistakes=((11.28, "plain mean"), (16.85, "depth below the sea floor"), (14.0, "weight of the mud")),
    ),
    Published(
        claim="and takes 14.0 lb/gal below the sea floor",
        variant=TWO_GRADIENTS,
        item="d",
        figure=14.0,
        unit="lb/gal",
        model_within=1e-6,
        because="the same balance turned round",
        source="average of the densities by length",
        status=Status.DERIVED,
        mistakes=((12.6375, "target itself"), (16.85, "sea water left out")),
    ),
    Published(
        claim="6.6 lb/gal at 661.8 gal/min takes 500 gal/min of 14.5 to 10.0 lb/gal",
        variant=RISER,
        item="a",
        figure=500 * 4.5 / 3.4,
        unit="gal/min",
        model_within=0.05,
        because="the same balance, solved in the test",
        source="mass balance",
        status=Status.DERIVED,
        mistakes=((377.8, "ratio upside down"), (500 * 4.5 / 7.9, "over mud less light fluid")),
    ),
    Published(
        claim="and 1,161.8 gal/min come back, for five modules of 250 gal/min",
        variant=RISER,
        item="c",
        figure=5,
        unit="fraction",
        model_within=1e-6,
        because="a whole number",
        source="volume balance; 250 gal/min a module is common practice",
        status=Status.DERIVED,
        mistakes=((4, "rounded down"), (2, "mud alone")),
    ),
    Published(
        claim="43 psi of water is 100 ft (2.31 ft for each psi)",
        variant=PUMP,
        item="c",
        figure=5 + 18 + 2.31 * 43,
        unit="ft",
        model_within=0.3,
        because="2.31 and 8.34 are rounded",
        source="sheet on pumps, and 2.31 seen in a pumping handbook of 2004",
        status=Status.RESTATED,
        mistakes=((5 + 18 + 43, "psi for ft"),),
    ),
]
