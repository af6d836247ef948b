"""The methylene-blue test: balances of mass and capacity, limits, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.bentonite import (
    BENTONITE_CAPACITY,
    BLUE_FACTOR_METRIC,
    CAPACITIES,
    REACTIVITY,
    bentonite_equivalent,
    clay_equivalent,
    exchange_capacity,
    methylene_blue_capacity,
    split_low_gravity,
)
from pitside.errors import CalculationError
from pitside.units import Q

BLUE, MUD = Q(9.0, "mL"), Q(2.0, "mL")


def test_results_are_in_si():
    assert str(bentonite_equivalent(BLUE, MUD).units) == str(clay_equivalent(BLUE, MUD).units) == "kg/m³"
    assert str(exchange_capacity(BLUE, Q(1, "g")).units) == "mol/kg"
    assert str(methylene_blue_capacity(BLUE, MUD).units) == ""


def test_the_metric_factor_gives_a_little_less():
    ratio = (bentonite_equivalent(BLUE, MUD, BLUE_FACTOR_METRIC) / bentonite_equivalent(BLUE, MUD)).m_as("")
    assert 0.998 < ratio < 1


def test_twice_the_mud_takes_twice_the_blue():
    assert bentonite_equivalent(2 * BLUE, 2 * MUD).magnitude == pytest.approx(bentonite_equivalent(BLUE, MUD).magnitude)
    assert bentonite_equivalent(Q(0, "mL"), MUD).magnitude == 0


@given(st.floats(1, 200), st.floats(0.05, 1.5))
def test_clay_of_a_known_capacity_is_found_again(concentration, capacity):
    """Mud made up with the clay, its charge counted out in blue of 0.01 milliequivalents in a mL."""
    clay, per_gram = Q(concentration, "kg/m**3"), Q(capacity, "mmol/g")
    blue = clay * Q(2, "mL") * per_gram / Q(0.01, "mmol/mL")
    assert clay_equivalent(blue, Q(2, "mL"), per_gram).m_as("kg/m**3") == pytest.approx(concentration)
    grams = clay * Q(2, "mL")
    assert exchange_capacity(blue, grams).m_as("mmol/g") == pytest.approx(capacity)


@given(st.floats(0, 100), st.floats(0.1, 300), st.floats(0, 0.9))
def test_a_mud_of_bentonite_and_drilled_solids_is_found_again(bentonite, drilled, reactivity):
    equivalent = Q(bentonite + reactivity * drilled, "lb/bbl")
    found = split_low_gravity(Q(bentonite + drilled, "lb/bbl"), equivalent, reactivity)
    assert found.bentonite.m_as("lb/bbl") == pytest.approx(bentonite, abs=1e-6)
    assert found.drilled_solids.m_as("lb/bbl") == pytest.approx(drilled, abs=1e-6)
    assert (found.bentonite + found.drilled_solids).m_as("lb/bbl") == pytest.approx(bentonite + drilled)


def test_all_bentonite_and_all_drilled_are_the_ends():
    solids = Q(60, "lb/bbl")
    assert split_low_gravity(solids, solids).drilled_solids.magnitude == pytest.approx(0, abs=1e-9)
    drilled = split_low_gravity(solids, REACTIVITY * solids)
    assert drilled.bentonite.m_as("lb/bbl") == pytest.approx(0, abs=1e-9)
    assert split_low_gravity(solids, Q(0, "lb/bbl"), 0.0).ratio.magnitude == np.inf


def test_more_reactive_drilled_solids_leave_less_bentonite():
    found = split_low_gravity(Q(60, "lb/bbl"), Q(20, "lb/bbl"), Q([0.0, 0.1, 0.2, 0.3]))
    assert np.all(np.diff(found.bentonite.magnitude) < 0)
    assert found.bentonite[0].m_as("lb/bbl") == pytest.approx(20)
    assert np.all(np.diff(found.ratio.magnitude) > 0)


def test_arrays_give_what_their_elements_give():
    blues = Q([5.0, 7.0, 9.0], "mL")
    together = split_low_gravity(Q(60, "lb/bbl"), bentonite_equivalent(blues, MUD))
    for place in range(3):
        alone = split_low_gravity(Q(60, "lb/bbl"), bentonite_equivalent(blues[place], MUD))
        assert together.bentonite[place].magnitude == pytest.approx(alone.bentonite.magnitude)
        assert together.ratio[place].magnitude == pytest.approx(alone.ratio.magnitude)


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: methylene_blue_capacity(Q(-1, "mL"), MUD), "methylene blue must not be negative"),
        (lambda: methylene_blue_capacity(BLUE, Q(0, "mL")), "volume of mud must be above zero"),
        (lambda: methylene_blue_capacity(BLUE, Q(2, "g")), r"mud must have a unit of \[volume\]"),
        (lambda: bentonite_equivalent(BLUE, MUD, Q(0, "lb/bbl")), "factor must be above zero"),
        (lambda: clay_equivalent(BLUE, MUD, Q(0, "mmol/g")), "exchange capacity must be above zero"),
        (lambda: clay_equivalent(BLUE, MUD, BENTONITE_CAPACITY, Q(0, "mmol/mL")), "strength of the methylene blue"),
        (lambda: clay_equivalent(BLUE, MUD, 70), r"capacity must be a quantity with a unit of \[substance\]/\[mass\]"),
        (lambda: exchange_capacity(Q(-1, "mL"), Q(1, "g")), "methylene blue must not be negative"),
        (lambda: exchange_capacity(BLUE, Q(0, "g")), "mass of the sample must be above zero"),
        (lambda: exchange_capacity(BLUE, Q(1, "g"), Q(0, "mmol/mL")), "strength of the methylene blue"),
        (lambda: split_low_gravity(Q(10, "lb/bbl"), Q(20, "lb/bbl")), "more bentonite than there are low-gravity"),
        (lambda: split_low_gravity(Q(100, "lb/bbl"), Q(5, "lb/bbl")), "reactivity is lower than was given"),
        (lambda: split_low_gravity(Q(-1, "lb/bbl"), Q(5, "lb/bbl")), "low-gravity solids must not be negative"),
        (lambda: split_low_gravity(Q(10, "lb/bbl"), Q(-5, "lb/bbl")), "bentonite equivalent must not be negative"),
        (lambda: split_low_gravity(Q(10, "lb/bbl"), Q(5, "lb/bbl"), 1.0), "at least 0 and below 1"),
        (lambda: split_low_gravity(Q(10, "lb/bbl"), Q(5, "lb/bbl"), -0.1), "at least 0 and below 1"),
        (lambda: split_low_gravity(0.06, Q(5, "lb/bbl")), r"must be a quantity with a unit of \[density\]"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()


def test_bentonite_takes_the_most_blue_of_the_usual_clays():
    taken = sorted(CAPACITIES, key=lambda name: CAPACITIES[name].m_as("mmol/g"))
    assert taken[-2:] == ["soft shale", "Wyoming bentonite"]
