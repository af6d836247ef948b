"""The methylene-blue test against the trade's figures and balances solved in the test."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import constants

from pitside.bentonite import (
    BENTONITE_CAPACITY,
    BLUE_FACTOR,
    BLUE_FACTOR_METRIC,
    BLUE_STRENGTH,
    CAPACITIES,
    REACTIVITY,
    bentonite_equivalent,
    clay_equivalent,
    exchange_capacity,
    split_low_gravity,
)
from pitside.retort import solids_concentration
from pitside.units import WATER_4C, Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

API = "API RP 13B-1, methylene blue"
GLOSSARY = "a public glossary's table of exchange capacities"
BALANCE = "balances of mass and exchange capacity solved with numpy"
LB_PER_BBL = constants.lb / constants.bbl


def parted(solids: float, equivalent: float, reactivity: float) -> np.ndarray:
    """Bentonite and drilled solids, in the unit of the solids."""
    return np.linalg.solve([[1, 1], [1, reactivity]], [solids, equivalent])


BLUE = [
    Check(
        claim="6 mL of blue in 1 mL of mud, lb/bbl",
        compute=lambda: bentonite_equivalent(Q(6, "mL"), Q(1, "mL")),
        value=lambda: 5 * 6.0,
        unit="lb/bbl",
        relative=1e-9,
        because="the rule as printed: 5 times the mL",
        source="a public text on API RP 13B-1",
        status=Status.RESTATED,
        wrong_turns=(
            ("2 mL of mud taken for 1", lambda: bentonite_equivalent(Q(6, "mL"), Q(2, "mL"))),
            ("the capacity itself", lambda: Q(6, "lb/bbl")),
            ("kg/m3 for lb/bbl", lambda: Q(30, "kg/m**3")),
        ),
    ),
    Check(
        claim="the factor in kg/m3",
        compute=lambda: BLUE_FACTOR,
        value=lambda: 5 * LB_PER_BBL,
        unit="kg/m**3",
        relative=1e-9,
        because="both sides are exact units",
        source="scipy.constants",
        status=Status.LIBRARY,
        wrong_turns=(("the rounded 14.25", lambda: BLUE_FACTOR_METRIC),),
    ),
    Check(
        claim="the factor of metric reports",
        compute=lambda: BLUE_FACTOR,
        value=14.25,
        unit="kg/m**3",
        absolute=0.02,
        because="14.265 rounded to a quarter",
        source=API,
        status=Status.MEMORY,
        wrong_turns=(("5 lb/gal", lambda: Q(5, "lb/gal")),),
    ),
    Check(
        claim="exchange capacity that the factor stands for, milliequivalents in 100 g",
        compute=lambda: 100 * BENTONITE_CAPACITY,
        value=lambda: 100 * 0.01 * 1000 / (5 * LB_PER_BBL),
        unit="mmol/g",
        relative=0.002,
        because="70.1 is rounded to 70",
        source="0.01 milliequivalents in a mL over 5 lb/bbl",
        status=Status.DERIVED,
        wrong_turns=(("Wyoming bentonite's own", lambda: 100 * CAPACITIES["Wyoming bentonite"]),),
    ),
    Check(
        claim="exchange capacity of the factor's bentonite against Wyoming bentonite",
        compute=lambda: BENTONITE_CAPACITY,
        value=0.75,
        unit="mmol/g",
        absolute=0.06,
        because="clays vary; the factor's 0.70 is a convention",
        source=GLOSSARY,
        status=Status.SEEN,
        wrong_turns=(("soft shale", lambda: CAPACITIES["soft shale"]), ("kaolinite", lambda: CAPACITIES["kaolinite"])),
    ),
    Check(
        claim="strength of the blue in mg/mL",
        compute=lambda: BLUE_STRENGTH * Q(319.85, "g/mol"),
        value=3.2,
        unit="mg/mL",
        absolute=0.05,
        because="printed to one decimal; the molar mass is from memory",
        source="a public glossary on the test",
        status=Status.SEEN,
        wrong_turns=(("a tenth normal", lambda: 10 * BLUE_STRENGTH * Q(319.85, "g/mol")),),
    ),
    Check(
        claim="the two ways to the equivalent",
        compute=lambda: clay_equivalent(Q(9, "mL"), Q(2, "mL")),
        value=lambda: 5 * 9 / 2,
        unit="lb/bbl",
        relative=0.002,
        because="70.1 is rounded to 70",
        source=API,
        status=Status.MEMORY,
        wrong_turns=(
            ("Wyoming bentonite's capacity", lambda: clay_equivalent(Q(9, "mL"), Q(2, "mL"), Q(0.75, "mmol/g"))),
        ),
    ),
    Check(
        claim="rock that takes 12 mL to the gram, milliequivalents in 100 g",
        compute=lambda: 100 * exchange_capacity(Q(12, "mL"), Q(1, "g")),
        value=12.0,
        unit="mmol/g",
        relative=1e-9,
        because="for practical purposes, says the text, mL and milliequivalents in 100 g are the same number",
        source="a public mud text on methylene-blue capacity",
        status=Status.SEEN,
        wrong_turns=(("to 10 g", lambda: 100 * exchange_capacity(Q(12, "mL"), Q(10, "g"))),),
    ),
]

SPLIT = [
    Check(
        claim=f"bentonite of 80 lb/bbl low-gravity solids with an equivalent of 25, reactivity {reactivity:.3f}",
        compute=lambda reactivity=reactivity: split_low_gravity(Q(80, "lb/bbl"), Q(25, "lb/bbl"), reactivity).bentonite,
        value=lambda reactivity=reactivity: parted(80, 25, reactivity)[0],
        unit="lb/bbl",
        relative=1e-9,
        because="the same balances solved another way",
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(
            ("the equivalent itself", lambda: Q(25, "lb/bbl")),
            ("drilled solids for bentonite", lambda: Q(80 - 25, "lb/bbl")),
            ("1 less reactivity forgotten", lambda reactivity=reactivity: Q(25 - reactivity * 80, "lb/bbl")),
        ),
    )
    for reactivity in (REACTIVITY, 7 / 65, 0.15)
] + [
    Check(
        claim="bentonite with an unmeasured shale: (9 equivalent - low gravity) / 8",
        compute=lambda: split_low_gravity(Q(80, "lb/bbl"), Q(25, "lb/bbl")).bentonite,
        value=lambda: (9 * 25 - 80) / 8,
        unit="lb/bbl",
        relative=1e-9,
        because="the rule as recalled, exact for a reactivity of 1/9",
        source="mud engineers' rule",
        status=Status.MEMORY,
        wrong_turns=(
            ("reactivity left out", lambda: split_low_gravity(Q(80, "lb/bbl"), Q(25, "lb/bbl"), 0.0).bentonite),
        ),
    ),
    Check(
        claim="reactivity of drilled cuttings, 8 to 12 over 75",
        compute=lambda: Q(REACTIVITY),
        value=lambda: 10 / 75,
        unit="",
        absolute=0.027,
        because="half the spread of the table",
        source=GLOSSARY,
        status=Status.SEEN,
        wrong_turns=(("soft shale", lambda: CAPACITIES["soft shale"] / CAPACITIES["Wyoming bentonite"]),),
    ),
    Check(
        claim="a barrel of bentonite of SG 2.6 weighs 910 lb",
        compute=lambda: solids_concentration(1.0, 2.6 * WATER_4C),
        value=910.0,
        unit="lb/bbl",
        absolute=2.0,
        because="with 350 lb for a barrel of water; 350.5 is nearer",
        source="mud engineer lecture slides, author unknown",
        status=Status.SEEN,
        wrong_turns=(("barite", lambda: solids_concentration(1.0, 4.2 * WATER_4C)),),
    ),
]

CHECKS = BLUE + SPLIT


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected


def test_the_form_that_copies_of_the_handbook_print_does_not_balance():
    """With a shale that takes no blue, all of the equivalent is bentonite; that form finds none."""
    mud, shale, low_gravity = 30.0, 0.0, 11.154
    printed = ((mud - 9) * shale / 65) * low_gravity / (1 - shale / 65)
    assert printed == 0
    assert parted(9.1 * low_gravity, mud, shale / 65)[0] == pytest.approx(30)
    found = split_low_gravity(Q(9.1 * low_gravity, "lb/bbl"), Q(mud, "lb/bbl"), shale / 65)
    assert found.bentonite.m_as("lb/bbl") == pytest.approx(30)
