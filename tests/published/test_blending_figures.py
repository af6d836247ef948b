"""Mixtures, weight-up plans and ways to take weight off against published figures and balances solved in the test."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from pitside.blending import (
    dilution_volume_bled_off,
    mixture,
    reduce_by_both,
    reduce_by_dilution,
    reduce_by_removal,
    weight_up,
    weight_up_plan,
    weighting_mass_bled_off,
)
from pitside.dilution import blend_volumes
from pitside.materials import BARITE_FIELD, CALCIUM_CARBONATE_FIELD, HEMATITE, HEMATITE_FIELD, MATERIALS
from pitside.units import WATER_FIELD, Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

CHAPTER_3 = "Lapeyrouse 2002 ch. 3"
BALANCE = "volume and mass balance solved with numpy"
STEPPED = "the mass balance stepped through with scipy.integrate.solve_ivp"
EXACT = "the same balance solved another way; only rounding of floating point remains"

HUNDRED, TWELVE, THIRTEEN, FOURTEEN = Q(100, "bbl"), Q(12, "lb/gal"), Q(13, "lb/gal"), Q(14, "lb/gal")
UNDERFLOW = Q(22, "lb/gal")
HOPPER = Q(10, "sack/min")


def plan(volume, weight, target, density, limit=HUNDRED):
    return weight_up_plan(volume, weight, target, density, pit_limit=limit, hopper_rate=HOPPER)


def both_by_numpy(before: float, target: float, underflow: float, diluent: float) -> np.ndarray:
    """Underflow out and diluent in, bbl, that take 100 bbl to the target at the same volume."""
    return np.linalg.solve([[-1, 1], [-underflow, diluent]], [0, 100 * (target - before)])


def stepped(density: float, start: float, end: float) -> float:
    """Barrels of a thing of one density that take 100 mixed bbl from one weight to another, running over; lb/gal."""

    def change(_, weight):
        return (density - weight) / 100

    def there(_, weight):
        return weight[0] - end

    there.terminal = True
    found = solve_ivp(change, (0, 1e4), [start], events=there, rtol=1e-10, atol=1e-12)
    return float(found.t_events[0][0])


MIXING = [
    Check(
        claim="400 bbl of 11.0 and 400 bbl of 14.0 lb/gal mixed",
        compute=lambda: mixture(Q([400, 400], "bbl"), Q([11.0, 14.0], "lb/gal")).density,
        value=12.5,
        unit="lb/gal",
        absolute=0.005,
        because="printed to one decimal, and exact",
        source=CHAPTER_3,
        status=Status.RESTATED,
        wrong_turns=(("by mass share", lambda: Q(2 / (1 / 11 + 1 / 14), "lb/gal")),),
    ),
    Check(
        claim="their volume",
        compute=lambda: mixture(Q([400, 400], "bbl"), Q([11.0, 14.0], "lb/gal")).volume,
        value=800.0,
        unit="bbl",
        absolute=0.5,
        because="printed to a whole barrel, and exact",
        source=CHAPTER_3,
        status=Status.RESTATED,
    ),
    Check(
        claim="14.0 lb/gal mud in 300 bbl of 11.5 with 11.0",
        compute=lambda: blend_volumes(Q(300, "bbl"), FOURTEEN, Q(11, "lb/gal"), Q(11.5, "lb/gal"))[0],
        value=50.0,
        unit="bbl",
        absolute=0.5,
        because="printed to a whole barrel, and exact",
        source=CHAPTER_3,
        status=Status.RESTATED,
        wrong_turns=(("the two muds exchanged", lambda: Q(250, "bbl")), ("half and half", lambda: Q(150, "bbl"))),
    ),
    Check(
        claim="1, 2 and 3 bbl of 10, 20 and 30 lb/gal mixed",
        compute=lambda: mixture(Q([1, 2, 3], "bbl"), Q([10, 20, 30], "lb/gal")).density,
        value=23.333,
        unit="lb/gal",
        absolute=5e-4,
        because="printed to three decimals",
        source="the standing example of a public sum for mud mixtures",
        status=Status.SEEN,
        wrong_turns=(("the plain mean", lambda: Q(20, "lb/gal")),),
    ),
    Check(
        claim="80 parts of oil of 7.0 and 20 of water of 8.33 lb/gal mixed",
        compute=lambda: mixture(Q([80, 20], "bbl"), Q([7.0, 8.33], "lb/gal")).density,
        value=7.27,
        unit="lb/gal",
        absolute=0.005,
        because="printed to two decimals",
        source="a public teaching page on oil-water mixtures",
        status=Status.SEEN,
        wrong_turns=(("the two exchanged", lambda: Q(0.2 * 7 + 0.8 * 8.33, "lb/gal")),),
    ),
    Check(
        claim="60 % oil of 7.0, 5 % water of 8.6 and 35 % solids of 21.06 lb/gal",
        compute=lambda: mixture(Q([60, 5, 35], "bbl"), Q([7.0, 8.6, 21.06], "lb/gal")).density,
        value=12.0,
        unit="lb/gal",
        absolute=0.01,
        because="21.06 is rounded: 0.002 lb/gal",
        source="public retort example after Formulas and Calculations for Drilling Operations",
        status=Status.RESTATED,
        wrong_turns=(("the plain mean", lambda: Q((7.0 + 8.6 + 21.06) / 3, "lb/gal")),),
    ),
]

WEIGHTING = [
    Check(
        claim="sacks of calcium carbonate for 100 bbl from 12.0 to 13.0 lb/gal",
        compute=lambda: weight_up(HUNDRED, TWELVE, THIRTEEN, MATERIALS["calcium_carbonate_field"]).mass,
        value=99.5,
        unit="sack",
        absolute=0.05,
        because="printed to one decimal",
        source=f"{CHAPTER_3} p. 82-83",
        status=Status.SEEN,
        wrong_turns=(
            (
                "SG 2.70 for 22.5 lb/gal",
                lambda: weight_up(HUNDRED, TWELVE, THIRTEEN, MATERIALS["calcium_carbonate"]).mass,
            ),
            ("barite", lambda: weight_up(HUNDRED, TWELVE, THIRTEEN, MATERIALS["barite_field"]).mass),
        ),
    ),
    Check(
        claim="volume rise with it",
        compute=lambda: weight_up(HUNDRED, TWELVE, THIRTEEN, MATERIALS["calcium_carbonate_field"]).volume_rise,
        value=10.53,
        unit="bbl",
        absolute=0.005,
        because="printed to two decimals",
        source=f"{CHAPTER_3} p. 83",
        status=Status.SEEN,
        wrong_turns=(("barite", lambda: weight_up(HUNDRED, TWELVE, THIRTEEN, MATERIALS["barite_field"]).volume_rise),),
    ),
    Check(
        claim="carbonate start volume for 100 bbl of 13.0 from 12.0 lb/gal",
        compute=lambda: plan(HUNDRED, TWELVE, THIRTEEN, CALCIUM_CARBONATE_FIELD).start_volume,
        value=90.5,
        unit="bbl",
        absolute=0.05,
        because="printed to one decimal",
        source=f"{CHAPTER_3} p. 83",
        status=Status.SEEN,
        wrong_turns=(("no mud moved out", lambda: HUNDRED), ("final less rise", lambda: Q(100 - 10.53, "bbl"))),
    ),
    Check(
        claim="hematite start volume for 100 bbl of 13.0 from 10.0 lb/gal",
        compute=lambda: plan(HUNDRED, Q(10, "lb/gal"), THIRTEEN, HEMATITE_FIELD).start_volume,
        value=90.0,
        unit="bbl",
        absolute=0.05,
        because="printed to one decimal, and exact",
        source=CHAPTER_3,
        status=Status.RESTATED,
        wrong_turns=(
            ("SG 5.05 for 40 lb/gal", lambda: plan(HUNDRED, Q(10, "lb/gal"), THIRTEEN, HEMATITE).start_volume),
            ("barite", lambda: plan(HUNDRED, Q(10, "lb/gal"), THIRTEEN, BARITE_FIELD).start_volume),
        ),
    ),
    Check(
        claim="barite start volume for 100 bbl of 14.0 from 12.0 lb/gal",
        compute=lambda: plan(HUNDRED, TWELVE, FOURTEEN, BARITE_FIELD).start_volume,
        value=91.3,
        unit="bbl",
        absolute=0.05,
        because="printed to one decimal",
        source=f"{CHAPTER_3} p. 82",
        status=Status.SEEN,
        wrong_turns=(("final less rise", lambda: Q(100 - 9.52, "bbl")),),
    ),
    Check(
        claim="barite that goes with it",
        compute=lambda: plan(HUNDRED, TWELVE, FOURTEEN, BARITE_FIELD).mass,
        value=lambda: np.linalg.solve([[1, 1], [12, 35]], [100, 1400])[1] * 42 * 35 / 100,
        unit="sack",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(
            ("the growing volume's 140", lambda: Q(140, "sack")),
            ("bled off all the while", lambda: weighting_mass_bled_off(HUNDRED, TWELVE, FOURTEEN, BARITE_FIELD)),
        ),
    ),
    Check(
        claim="barite for a barrel of 8.8 lb/gal bentonite slurry to 12.0",
        compute=lambda: plan(Q(1, "bbl"), Q(8.8, "lb/gal"), TWELVE, BARITE_FIELD).mass,
        value=204.0,
        unit="lb",
        absolute=1.0,
        because="printed to a whole pound; the exact figure is 204.5",
        source="mud engineer lecture slides, author unknown",
        status=Status.SEEN,
        wrong_turns=(
            (
                "from a barrel at the end",
                lambda: plan(Q(1, "bbl"), Q(8.8, "lb/gal"), TWELVE, BARITE_FIELD, Q(1, "bbl")).mass,
            ),
        ),
    ),
    Check(
        claim="barite with mud running off, 100 bbl from 12.0 to 14.0 lb/gal",
        compute=lambda: weighting_mass_bled_off(HUNDRED, TWELVE, FOURTEEN, BARITE_FIELD),
        value=lambda: stepped(35.0, 12.0, 14.0) * 42 * 35 / 100,
        unit="sack",
        relative=1e-7,
        because="the steps hold to 1e-10",
        source=STEPPED,
        status=Status.DERIVED,
        wrong_turns=(("mud moved out first", lambda: plan(HUNDRED, TWELVE, FOURTEEN, BARITE_FIELD).mass),),
    ),
]

REDUCING = [
    Check(
        claim="water for 100 bbl from 14.0 to 12.0 lb/gal, the volume growing",
        compute=lambda: reduce_by_dilution(HUNDRED, FOURTEEN, TWELVE, WATER_FIELD).diluent_in,
        value=54.5,
        unit="bbl",
        absolute=0.05,
        because="printed to one decimal",
        source=CHAPTER_3,
        status=Status.SEEN,
        wrong_turns=(
            (
                "the volume held",
                lambda: reduce_by_dilution(HUNDRED, FOURTEEN, TWELVE, WATER_FIELD, pit_limit=HUNDRED).diluent_in,
            ),
        ),
    ),
    Check(
        claim="water for the same with the volume held, mud moved out first",
        compute=lambda: reduce_by_dilution(HUNDRED, FOURTEEN, TWELVE, WATER_FIELD, pit_limit=HUNDRED).diluent_in,
        value=lambda: np.linalg.solve([[1, 1], [14, 8.33]], [100, 1200])[1],
        unit="bbl",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(
            ("the volume growing", lambda: reduce_by_dilution(HUNDRED, FOURTEEN, TWELVE, WATER_FIELD).diluent_in),
            ("mud running off", lambda: dilution_volume_bled_off(HUNDRED, FOURTEEN, TWELVE, WATER_FIELD)),
        ),
    ),
    Check(
        claim="water for the same with mud running off",
        compute=lambda: dilution_volume_bled_off(HUNDRED, FOURTEEN, TWELVE, WATER_FIELD),
        value=lambda: stepped(8.33, 14.0, 12.0),
        unit="bbl",
        relative=1e-7,
        because="the steps hold to 1e-10",
        source=STEPPED,
        status=Status.DERIVED,
        wrong_turns=(
            ("the volume growing", lambda: reduce_by_dilution(HUNDRED, FOURTEEN, TWELVE, WATER_FIELD).diluent_in),
        ),
    ),
    Check(
        claim="underflow of 22.0 lb/gal that takes 100 bbl from 14.0 to 12.0",
        compute=lambda: reduce_by_removal(HUNDRED, FOURTEEN, TWELVE, UNDERFLOW).underflow_out,
        value=lambda: np.linalg.solve([[1, 1], [22, 12]], [100, 1400])[0],
        unit="bbl",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(
            ("over underflow less mud", lambda: Q(100 * 2 / 8, "bbl")),
            (
                "dry barite for the slurry",
                lambda: reduce_by_removal(HUNDRED, FOURTEEN, TWELVE, BARITE_FIELD).underflow_out,
            ),
        ),
    ),
    Check(
        claim="underflow of 22.0 lb/gal made up with as much water, 14.0 to 12.0",
        compute=lambda: reduce_by_both(HUNDRED, FOURTEEN, TWELVE, UNDERFLOW, WATER_FIELD).underflow_out,
        value=lambda: both_by_numpy(14, 12, 22, 8.33)[0],
        unit="bbl",
        relative=1e-9,
        because=EXACT,
        source=BALANCE,
        status=Status.DERIVED,
        wrong_turns=(
            ("no make-up", lambda: reduce_by_removal(HUNDRED, FOURTEEN, TWELVE, UNDERFLOW).underflow_out),
            ("the water's weight forgotten", lambda: Q(100 * 2 / 22, "bbl")),
        ),
    ),
]

CHECKS = MIXING + WEIGHTING + REDUCING


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected
