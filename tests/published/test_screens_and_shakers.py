"""Screens and shakers against published tables, sieve openings and a grain followed in small steps."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids.particle_size_distribution import ASTM_E11_sieve_list
from scipy import constants

from pitside.screens import (
    ASTM_SIEVES,
    LADDER,
    MARKET_GRADE_CONDUCTANCE,
    api_designation,
    cut_points,
    d100_range,
    flow_capacity,
    layered_conductance,
    removed_share,
    transmittance,
)
from pitside.shakers import (
    DRYER_G,
    ORDINARY_G,
    Sense,
    deck_g,
    g_factor,
    g_factor_field,
    mass_rate,
    sample_time,
    shakers_needed,
    speed_for_g,
    stroke_for_g,
    through_rate,
    transport_velocity,
)
from pitside.units import Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

AADE = "AADE, Shale Shakers and Drilling Fluid Systems, 1999"
HANDBOOK = "drilling fluids processing text (ASME 2005?)"
EXACT = "the same law; only rounding of floating point remains"
LEXICON = "API RP 13C Table 5, rows as trade pages restate them"

#: Rows of the table that were seen restated: designation, above, up to.
SEEN_ROWS = ((20, 780, 925), (25, 655, 780), (30, 550, 655), (35, 462.5, 550), (100, 137.5, 165), (120, 116.5, 137.5))
REMEMBERED_ROWS = (
    (40, 390, 462.5),
    (45, 327.5, 390),
    (50, 275, 327.5),
    (60, 231, 275),
    (70, 196, 231),
    (80, 165, 196),
    (140, 98, 116.5),
    (170, 82.5, 98),
    (200, 69, 82.5),
    (230, 58, 69),
    (270, 49, 58),
    (325, 41.5, 49),
    (400, 35, 41.5),
)
OPENINGS = sorted((sieve.opening * 1e6 for sieve in ASTM_E11_sieve_list), reverse=True)


def midway_below(designation: int) -> float:
    """Midway between the sieve of a number and the next finer one, um, from the library's list of openings."""
    opening = ASTM_SIEVES[designation].m_as("um")
    index = next(i for i, found in enumerate(OPENINGS) if abs(found - opening) < 0.01)
    return (OPENINGS[index] + OPENINGS[index + 1]) / 2


def upper_end(designation: int, up_to: float, status: Status, source: str) -> Check:
    """The upper end of a row, which is the lower end of the next; the wrong turn takes the row's own lower end."""
    return Check(
        claim=f"API {designation} is a D100 up to {up_to} um",
        compute=lambda: d100_range(designation)[1],
        value=up_to,
        unit="um",
        relative=1e-9,
        because="a limit is exact",
        source=source,
        status=status,
        wrong_turns=(("the lower end", lambda: d100_range(designation)[0]),),
    )


LADDER_CHECKS = (
    [upper_end(row, up_to, Status.RESTATED, LEXICON) for row, _, up_to in SEEN_ROWS]
    + [upper_end(row, up_to, Status.MEMORY, "API RP 13C Table 5") for row, _, up_to in REMEMBERED_ROWS]
    + [
        Check(
            claim="a D100 of 114.88 um is API 140",
            compute=lambda: Q(api_designation(Q(114.88, "um"))),
            value=140,
            unit="",
            relative=1e-9,
            because="a name is exact",
            source="worked label of API RP 13C Table 5, pages 40-41, restated",
            status=Status.RESTATED,
        )
    ]
    + [
        Check(
            claim=f"the lower limit of API {step.designation} is midway between two sieves",
            compute=lambda step=step: step.above,
            value=lambda step=step: midway_below(step.designation),
            unit="um",
            relative=1e-9,
            because="the table is the nearest sieve, written out",
            source="fluids library, openings of ASTM E11",
            status=Status.LIBRARY,
        )
        for step in LADDER
        if step.designation != 120
    ]
    + [
        Check(
            claim="the limit between API 120 and 140, where the table is no midpoint",
            compute=lambda: d100_range(120)[0],
            value=lambda: midway_below(120) + 1.0,
            unit="um",
            relative=1e-9,
            because="116.5 um in the table, 115.5 um midway between 125 and 106 um",
            source="fluids library, openings of ASTM E11",
            status=Status.LIBRARY,
            wrong_turns=(("the midpoint", lambda: Q(midway_below(120), "um")),),
        )
    ]
)

#: AADE Table 9-1: size (um), discard and through (g/min), share removed as printed (percent).
TABLE_9_1 = (
    (37, 50, 5000, 1.0),
    (44, 90, 4500, 2.0),
    (63, 280, 4000, 6.5),
    (74, 456, 3800, 10.7),
    (105, 1063, 2500, 29.8),
    (118, 940, 1000, 48.5),
    (140, 490, 50, 90.7),
    (177, 200, 2, 99.0),
    (234, 9.9, 0, 100.0),
)
SIZES, DISCARD, THROUGH, PRINTED = (np.array(column, dtype=float) for column in zip(*TABLE_9_1, strict=True))


@pytest.mark.parametrize(("designation", "above", "up_to"), SEEN_ROWS + REMEMBERED_ROWS)
def test_a_range_of_the_table_is_open_below_and_closed_above(designation, above, up_to):
    assert d100_range(designation)[0].m_as("um") == pytest.approx(above)
    assert int(api_designation(Q(up_to, "um"))) == designation
    if designation != 20:
        assert int(api_designation(Q(up_to + 0.01, "um"))) != designation


def table_cut_points():
    return cut_points(Q(SIZES, "um"), Q(DISCARD, "g/min"), Q(THROUGH, "g/min"))


def drawn(share: float) -> float:
    """Size at a share of the printed column, by NumPy's interpolation."""
    return float(np.interp(share, DISCARD / (DISCARD + THROUGH), SIZES))


SEPARATION = [
    Check(
        claim=f"share of {size:g} um solids that the shaker takes out",
        compute=lambda discard=discard, through=through: removed_share(Q(discard, "g/min"), Q(through, "g/min")),
        value=printed,
        unit="percent",
        absolute=0.051,
        because="printed to one place",
        source=f"{AADE}, Table 9-1, p. 171",
        status=Status.SEEN,
        wrong_turns=(
            (
                ("discard over through", lambda discard=discard, through=through: Q(discard / through)),
                ("share that goes through", lambda printed=printed: 1 - Q(printed, "percent")),
            )
            if 20 < printed < 95 and through
            else ()
        ),
    )
    for size, discard, through, printed in TABLE_9_1
] + [
    Check(
        claim=f"d{share:.0%} of the shaker of Table 9-1",
        compute=lambda name=name: getattr(table_cut_points(), name),
        value=lambda share=share: drawn(share),
        unit="um",
        relative=1e-9,
        because="straight lines between the same points",
        source="NumPy library, interp on the rates of Table 9-1",
        status=Status.LIBRARY,
        wrong_turns=(("the nearest sieve", lambda share=share: Q(SIZES[np.argmin(abs(PRINTED / 100 - share))], "um")),),
    )
    for name, share in (("d16", 0.16), ("d50", 0.50), ("d84", 0.84))
]

DARCY = 9.869233e-13


def poured(conductance: float, area: float, head: float, viscosity: float) -> float:
    """Darcy's law in SI for kD/mm, m2, m of mud of 1200 kg/m3 and Pa.s: gal/min."""
    flow = conductance * 1e3 * DARCY / 1e-3 * area * 1200 * constants.g * head / viscosity
    return flow / (constants.gallon / constants.minute)


CONDUCTANCE = [
    Check(
        claim=f"conductance of {mesh} mesh market grade",
        compute=lambda mesh=mesh: MARKET_GRADE_CONDUCTANCE[mesh],
        value=figure,
        unit="kilodarcy/mm",
        relative=1e-9,
        because="copied from the table",
        source=f"{AADE}, Table 6-8, p. 131",
        status=Status.SEEN,
    )
    for mesh, figure in ((10, 49.68), (20, 15.93), (60, 2.40), (100, 1.44), (200, 0.68), (325, 0.44))
] + [
    Check(
        claim="100 mesh on 20 mesh",
        compute=lambda: layered_conductance(Q([1.44, 15.93], "kilodarcy/mm")),
        value=lambda: 1.44 * 15.93 / (1.44 + 15.93),
        unit="kilodarcy/mm",
        relative=1e-9,
        because=EXACT,
        source="resistances in series",
        status=Status.DERIVED,
        wrong_turns=(
            ("added like flows side by side", lambda: Q(1.44 + 15.93, "kilodarcy/mm")),
            ("mean of the two", lambda: Q((1.44 + 15.93) / 2, "kilodarcy/mm")),
        ),
    ),
    Check(
        claim="transmittance of 100 mesh, 8 ft2, all open",
        compute=lambda: transmittance(Q(1.44, "kilodarcy/mm"), Q(8.0, "ft**2")),
        value=lambda: 1.44 * 8.0,
        unit="kilodarcy/mm * ft**2",
        relative=1e-9,
        because="the definition",
        source=f"{AADE}, p. 131, definition",
        status=Status.DERIVED,
    ),
    Check(
        claim="1200 kg/m3 mud of 20 mPa.s through 1 m2 of 100 mesh under 25 mm",
        compute=lambda: flow_capacity(
            Q(1.44, "kilodarcy/mm"), Q(1.0, "m**2"), Q(25, "mm"), Q(1200, "kg/m**3"), Q(20, "mPa*s"), Q(150, "um")
        ),
        value=lambda: poured(1.44, 1.0, 0.025, 0.020),
        unit="gal/min",
        relative=1e-6,
        because="the darcy as seven figures",
        source="Darcy's law with constants of SciPy",
        status=Status.DERIVED,
        wrong_turns=(
            (
                "head of water for head of mud",
                lambda: flow_capacity(
                    Q(1.44, "kilodarcy/mm"),
                    Q(1.0, "m**2"),
                    Q(25, "mm"),
                    Q(1000, "kg/m**3"),
                    Q(20, "mPa*s"),
                    Q(150, "um"),
                ),
            ),
        ),
    ),
]

AADE_MOTION = (Q(0.13, "in"), Q(1500, "rpm"))


def exact_g(stroke_inches: float, rpm: float) -> float:
    return stroke_inches * constants.inch / 2 * (rpm * 2 * math.pi / 60) ** 2 / constants.g


SHAKING = [
    Check(
        claim="0.13 in at 1,500 rpm, along the stroke",
        compute=lambda: g_factor(*AADE_MOTION),
        value=4.15,
        unit="",
        absolute=0.006,
        because="printed to two places",
        source=f"{AADE}, p. 105",
        status=Status.SEEN,
        wrong_turns=(
            ("stroke as amplitude", lambda: 2 * g_factor(*AADE_MOTION)),
            ("half the stroke", lambda: g_factor(Q(0.065, "in"), Q(1500, "rpm"))),
            ("part across the deck at 45 degrees", lambda: deck_g(*AADE_MOTION, Q(45, "deg"))[0]),
        ),
    ),
    Check(
        claim="0.13 in at 1,500 rpm by the constant 70490",
        compute=lambda: g_factor_field(*AADE_MOTION),
        value=lambda: 0.13 * 1500**2 / 70_490,
        unit="",
        relative=1e-9,
        because=EXACT,
        source="handbook constant",
        status=Status.MEMORY,
        wrong_turns=(("exact constant", lambda: g_factor(*AADE_MOTION)),),
    ),
    Check(
        claim="0.13 in at 1,500 rpm with exact constants",
        compute=lambda: g_factor(*AADE_MOTION),
        value=lambda: exact_g(0.13, 1500),
        unit="",
        relative=1e-9,
        because=EXACT,
        source="SciPy library, inch and g",
        status=Status.LIBRARY,
        wrong_turns=(("constant 70490", lambda: g_factor_field(*AADE_MOTION)),),
    ),
    Check(
        claim="the exact constant of stroke and speed",
        compute=lambda: Q(1.0) / g_factor(Q(1, "in"), Q(1, "rpm")),
        value=lambda: 2 * constants.g / constants.inch * (60 / (2 * math.pi)) ** 2,
        unit="",
        relative=1e-9,
        because=EXACT,
        source="SciPy library, inch and g",
        status=Status.LIBRARY,
        wrong_turns=(("70490", lambda: Q(70_490.0)),),
    ),
    Check(
        claim="speed that shakes 5 mm at 7.5 g",
        compute=lambda: speed_for_g(Q(5, "mm"), 7.5),
        value=lambda: math.sqrt(2 * 7.5 * constants.g / 0.005) * 60 / (2 * math.pi),
        unit="rpm",
        relative=1e-9,
        because=EXACT,
        source="SciPy library, g",
        status=Status.LIBRARY,
        wrong_turns=(
            ("linear in speed", lambda: Q(1500 * 7.5 / g_factor(Q(5, "mm"), Q(1500, "rpm")).magnitude, "rpm")),
        ),
    ),
    Check(
        claim="an ordinary shaker, middle of its g",
        compute=lambda: Q(sum(ORDINARY_G) / 2),
        value=7.5,
        unit="",
        absolute=0.5,
        because="about 7 to 8 g",
        source="ordinary shakers",
        status=Status.COMMON,
    ),
    Check(
        claim="a high-g dryer, middle of its g",
        compute=lambda: Q(sum(DRYER_G) / 2),
        value=75.0,
        unit="",
        absolute=25.0,
        because="50 to 100 g",
        source="high-g dryers",
        status=Status.COMMON,
    ),
]

SAMPLES = [
    Check(
        claim="560 gal/min of 8.90 lb/gal",
        compute=lambda: mass_rate(Q(560, "gal/min"), Q(8.90, "lb/gal")),
        value=4984,
        unit="lb/min",
        relative=1e-6,
        because="the product is exact",
        source=HANDBOOK,
        status=Status.SEEN,
    ),
    Check(
        claim="what goes through, 18.4 lb/min being discarded",
        compute=lambda: through_rate(Q(4984, "lb/min"), Q(18.4, "lb/min")),
        value=4965.6,
        unit="lb/min",
        relative=1e-9,
        because="the difference is exact",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("the discard left in", lambda: Q(4984, "lb/min")),),
    ),
    Check(
        claim="time in which 39.7 lb go through",
        compute=lambda: sample_time(Q(39.7, "lb"), Q(4965.6, "lb/min")),
        value=0.008,
        unit="min",
        absolute=0.0005,
        because="printed to three places",
        source=HANDBOOK,
        status=Status.SEEN,
    ),
    Check(
        claim="share of one size that is discarded, 8.80 of 2,223 g/min",
        compute=lambda: removed_share(Q(8.80, "g/min"), Q(2223, "g/min")),
        value=0.40,
        unit="percent",
        absolute=0.01,
        because="printed to two places, from a time rounded to one figure",
        source=HANDBOOK,
        status=Status.SEEN,
    ),
    Check(
        claim="modules of 250 gal/min for 1,000 gal/min",
        compute=lambda: shakers_needed(Q(1000, "gal/min"), Q(250, "gal/min"), Q(0, "bbl/h"), Q(1, "bbl/h")),
        value=4,
        unit="",
        relative=1e-9,
        because="a count is exact",
        source="four modules in parallel",
        status=Status.COMMON,
    ),
]


def followed(stroke: float, rpm: float, angle: float, slope: float, minor: float, sense: Sense) -> float:
    """Mean velocity (m/s) of the grain of the transport model, its motion and the deck's followed in small steps."""
    speed, turns, steps = rpm * 2 * math.pi / 60, 150, 1500
    long, short = stroke / 2, minor / 2 * sense.value
    sine, cosine = math.sin(angle), math.cos(angle)
    phase = np.arange(turns * steps) * (2 * math.pi / steps)
    along = long * cosine * np.cos(phase) - short * sine * np.sin(phase)
    across = long * sine * np.cos(phase) + short * cosine * np.sin(phase)
    along_velocity = -speed * (long * cosine * np.sin(phase) + short * sine * np.cos(phase))
    across_velocity = speed * (short * cosine * np.cos(phase) - long * sine * np.sin(phase))
    thrown = across * speed**2 > constants.g * math.cos(slope)
    advance, step, first = 0.0, 0, None
    while step < phase.size:
        if not thrown[step]:
            step += 1
            continue
        first = step if first is None else first
        ahead = slice(step, min(step + 5 * steps, phase.size))
        time = (phase[ahead] - phase[step]) / speed
        height = across[step] + across_velocity[step] * time - constants.g * math.cos(slope) * time**2 / 2
        landed = np.flatnonzero(height[1:] < across[ahead][1:])
        if landed.size == 0:
            break
        flight = landed[0] + 1
        carried = along[step] + along_velocity[step] * time[flight]
        carried -= constants.g * math.sin(slope) * time[flight] ** 2 / 2
        advance += carried - along[step + flight]
        step += flight
    return advance / ((step - first) / steps * 60 / rpm)


#: Stroke (mm), speed (rpm), angle and slope (degrees), minor stroke (mm), sense.
MOTIONS = (
    (3.0, 1500, 45, 0, 0.0, Sense.FORWARD),
    (4.0, 1500, 45, 0, 0.0, Sense.FORWARD),
    (4.5, 1750, 45, 3, 0.0, Sense.FORWARD),
    (5.0, 1800, 30, -3, 0.0, Sense.FORWARD),
    (4.0, 1500, 45, 0, 2.0, Sense.FORWARD),
    (4.0, 1500, 60, 2, 1.0, Sense.BACKWARD),
    (4.0, 1500, 45, 0, 4.0, Sense.FORWARD),
    (5.5, 1800, 60, 0, 0.0, Sense.FORWARD),
)


def modelled(stroke, rpm, angle, slope, minor, sense):
    return transport_velocity(Q(stroke, "mm"), Q(rpm, "rpm"), Q(angle, "deg"), Q(slope, "deg"), Q(minor, "mm"), sense)


TRANSPORT = [
    Check(
        claim="transport by {0} x {4} mm at {1} rpm, {2} degrees, slope {3}, {5.name}".format(*motion),
        compute=lambda motion=motion: modelled(*motion),
        value=lambda motion=motion: followed(
            motion[0] / 1e3, motion[1], math.radians(motion[2]), math.radians(motion[3]), motion[4] / 1e3, motion[5]
        ),
        unit="m/s",
        relative=0.04 if motion[4] == motion[0] else 0.01,
        because="steps of a 1,500th of a turn, 150 turns; on a circle the advance is a small difference of large ways",
        source="the same grain followed in small steps",
        status=Status.DERIVED,
    )
    for motion in MOTIONS
] + [
    Check(
        claim="greatest velocity with one hop in every turn, 1,500 rpm and 45 degrees",
        compute=lambda: transport_velocity(
            stroke_for_g(Q(1500, "rpm"), math.sqrt(1 + math.pi**2) / math.sin(math.pi / 4)),
            Q(1500, "rpm"),
            Q(45, "deg"),
        ),
        value=lambda: constants.g / (2 * 25),
        unit="m/s",
        relative=1e-4,
        because="the hop of just one turn, found to rounding",
        source="g / (2 tan(angle) turns per second), theory of throw conveyors",
        status=Status.MEMORY,
    )
]

CHECKS = LADDER_CHECKS + SEPARATION + CONDUCTANCE + SHAKING + SAMPLES + TRANSPORT


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected
