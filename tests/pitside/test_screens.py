"""Screens: the ladder's edges, interpolation, arrays, limits, what is refused."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError, ValidityWarning
from pitside.screens import (
    ASTM_SIEVES,
    LADDER,
    MARKET_GRADE_CONDUCTANCE,
    api_designation,
    cut_points,
    cut_size,
    d100_range,
    flow_capacity,
    layered_conductance,
    nearest_sieve_designation,
    pool_length,
    removed_share,
    transmittance,
)
from pitside.units import Q

SURE = [step for step in LADDER if not step.unsure]
SIZES = Q([50, 100, 150, 200], "um")
SHARES = Q([10, 30, 80, 100], "percent")
SCREEN = (Q(1.44, "kilodarcy/mm"), Q(10, "ft**2"), Q(1, "in"), Q(10, "lb/gal"), Q(20, "cP"), Q(150, "um"))


@pytest.mark.parametrize("step", SURE, ids=lambda step: str(step.designation))
@pytest.mark.parametrize("unit", ["um", "mm", "m", "in"])
def test_a_range_is_open_below_and_closed_above_in_any_unit(step, unit):
    assert api_designation(step.up_to.to(unit)) == step.designation
    assert api_designation((step.above + Q(0.001, "um")).to(unit)) == step.designation
    if step is not LADDER[-1]:
        assert api_designation(step.above.to(unit)) != step.designation


def test_the_ladder_has_no_gap_and_no_overlap():
    assert [step.designation for step in LADDER] == sorted(step.designation for step in LADDER)
    for coarse, fine in itertools.pairwise(LADDER):
        assert coarse.above == fine.up_to


def test_a_finer_screen_never_has_a_smaller_number():
    numbers = api_designation(Q(np.linspace(36, 925, 4000), "um"))
    assert np.all(np.diff(numbers) <= 0)


@given(st.floats(35.001, 925.0))
def test_a_d100_lies_in_the_range_of_its_designation(d100):
    above, up_to = d100_range(api_designation(Q(d100, "um")))
    assert above.m_as("um") - 1e-6 <= d100 <= up_to.m_as("um") + 1e-6


def test_designations_come_as_arrays_of_any_shape():
    found = api_designation(Q([[165.0, 165.1], [100.0, 75.0]], "um"))
    np.testing.assert_array_equal(found, [[100, 80], [140, 200]])
    assert isinstance(api_designation(Q(165.0, "um")), int)


def test_the_two_rules_differ_between_115_5_and_116_5_um_and_nowhere_else():
    d100 = np.arange(35.05, 925.0, 0.1)
    table, nearest = api_designation(Q(d100, "um")), nearest_sieve_designation(Q(d100, "um"))
    apart = d100[table != nearest]
    assert apart.min() == pytest.approx(115.55)
    assert apart.max() == pytest.approx(116.45)
    assert apart.size == 10


def test_the_opening_of_each_sieve_has_the_number_of_the_sieve():
    for number, opening in ASTM_SIEVES.items():
        assert nearest_sieve_designation(opening) == number
        low, high = d100_range(number)
        assert low < opening <= high


def test_the_doubtful_end_of_the_ladder_is_told():
    with pytest.warns(ValidityWarning, match="remembered with doubt"):
        assert api_designation(Q(1000, "um")) == 18


def test_a_curve_from_nothing_to_all():
    np.testing.assert_allclose(removed_share(Q([0, 1, 3], "g/min"), Q([2, 1, 0], "kg/h") * 0.06).magnitude, [0, 0.5, 1])


def test_cut_sizes_lie_on_straight_lines():
    assert cut_size(SIZES, SHARES).m_as("um") == pytest.approx(120)
    np.testing.assert_allclose(cut_size(SIZES, SHARES, [0.2, 0.5, 0.9]).m_as("um"), [75, 120, 175])
    assert str(cut_size(SIZES, SHARES).units) == "m"


def test_a_share_at_a_point_is_that_point():
    for size, share in zip(SIZES, SHARES, strict=True):
        assert cut_size(SIZES, SHARES, share).m_as("um") == pytest.approx(size.magnitude)


@given(st.floats(0.1, 1.0), st.floats(0.1, 1.0))
def test_a_larger_share_needs_a_larger_size(one, other):
    low, high = sorted((one, other))
    assert cut_size(SIZES, SHARES, low) <= cut_size(SIZES, SHARES, high)


def test_cut_points_are_the_three_cut_sizes():
    discard, through = Q([1, 3, 8, 9], "g/min"), Q([9, 7, 2, 0], "g/min")
    found = cut_points(SIZES, discard, through)
    assert found.d16 < found.d50 < found.d84
    assert found.d50 == cut_size(SIZES, removed_share(discard, through))


@given(st.lists(st.floats(0.3, 60.0), min_size=1, max_size=4))
def test_a_stack_lets_through_less_than_its_tightest_layer_and_no_less_than_its_share(layers):
    stack = layered_conductance(Q(layers, "kilodarcy/mm")).m_as("kilodarcy/mm")
    assert min(layers) / len(layers) * (1 - 1e-12) <= stack <= min(layers) * (1 + 1e-12)


def test_layers_of_many_stacks_lie_along_the_first_axis():
    layers = Q([[2.0, 4.0], [2.0, 4.0]], "kilodarcy/mm")
    np.testing.assert_allclose(layered_conductance(layers).m_as("kilodarcy/mm"), [1.0, 2.0])


def test_transmittance_goes_with_the_open_area():
    whole = transmittance(*SCREEN[:2])
    assert transmittance(*SCREEN[:2], Q(25, "percent")).magnitude == pytest.approx(0.75 * whole.magnitude)
    assert str(whole.units) == "m³"


def test_flow_goes_with_conductance_area_and_head_and_against_viscosity():
    once = flow_capacity(*SCREEN)
    assert str(once.units) == "m³/s"
    for place, times in ((0, 2.0), (1, 2.0), (2, 2.0), (3, 2.0), (4, 0.5)):
        changed = [value * 2 if index == place else value for index, value in enumerate(SCREEN)]
        assert flow_capacity(*changed).magnitude == pytest.approx(times * once.magnitude)


DECK = (Q(450, "gal/min"), Q(0.15, "kilodarcy/mm"), Q(4, "ft"), Q(4, "deg"), Q(10, "lb/gal"), Q(20, "cP"))


def test_the_pool_passes_its_flow_as_a_screen_under_its_mean_depth_does():
    flow, conductance, width, slope, *mud = DECK
    length = pool_length(*DECK)
    passed = flow_capacity(conductance, length * width, length * np.tan(slope) / 2, *mud, Q(100, "um"))
    assert passed.m_as("gal/min") == pytest.approx(flow.m_as("gal/min"))


def test_a_steeper_deck_and_a_better_screen_shorten_the_pool_and_flow_lengthens_it():
    once = pool_length(*DECK).m_as("ft")
    for place, times in ((0, 2**0.5), (1, 0.5**0.5), (2, 0.5**0.5), (4, 0.5**0.5), (5, 2**0.5)):
        changed = [value * 2 if index == place else value for index, value in enumerate(DECK)]
        assert pool_length(*changed).m_as("ft") == pytest.approx(times * once)
    assert pool_length(*DECK[:3], Q(6, "deg"), *DECK[4:]).m_as("ft") < once


def test_flow_too_fast_for_the_model_is_told():
    with pytest.warns(ValidityWarning, match="Reynolds number"):
        flow_capacity(Q(8.32, "kilodarcy/mm"), *SCREEN[1:4], Q(1, "cP"), Q(550, "um"))


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: api_designation(Q(35.0, "um")), "no designation for this D100"),
        (lambda: api_designation(Q([100, 1291], "um")), "no designation for this D100"),
        (lambda: api_designation(Q(-1, "um")), "D100 must be above zero"),
        (lambda: api_designation(140), r"unit of \[length\]"),
        (lambda: nearest_sieve_designation(Q(2, "mm")), "no designation"),
        (lambda: d100_range(150), "API 150 is no designation; there are 16, 18, 20"),
        (lambda: removed_share(Q(-1, "g/min"), Q(1, "g/min")), "must not be negative"),
        (lambda: removed_share(Q(0, "g/min"), Q(0, "g/min")), "leave it out"),
        (lambda: cut_size(SIZES, Q([10, 30, 40, 45], "percent")), "crosses 50% never"),
        (lambda: cut_size(SIZES, Q([10, 60, 40, 90], "percent")), "crosses 50% 3 times"),
        (lambda: cut_size(SIZES, [10, 30, 80, 100]), "from 0 to 100 %"),
        (lambda: cut_size(SIZES[::-1], SHARES), "must be above zero and grow"),
        (lambda: cut_size(SIZES, [0.1, 0.9]), "one share removed for each size"),
        (lambda: layered_conductance(Q([1.0, 0.0], "kilodarcy/mm")), "above zero"),
        (lambda: transmittance(*SCREEN[:2], 1.0), "below 100 %"),
        (lambda: transmittance(Q(0, "kilodarcy/mm"), SCREEN[1]), "above zero"),
        (lambda: flow_capacity(*SCREEN[:4], Q(0, "cP"), SCREEN[5]), "viscosity must be above zero"),
        (lambda: pool_length(*DECK[:3], Q(0, "deg"), *DECK[4:]), "slope must be above zero"),
        (lambda: pool_length(*DECK[:3], Q(16, "deg"), *DECK[4:]), "climbs 15 degrees at most"),
    ],
)
def test_impossible_input_is_refused_in_words(call, message):
    with pytest.raises(CalculationError, match=message):
        call()


def test_finer_market_cloth_lets_less_through_but_for_the_odd_row():
    rows = {mesh: found.m_as("kilodarcy/mm") for mesh, found in MARKET_GRADE_CONDUCTANCE.items() if mesh != 150}
    assert list(rows.values()) == sorted(rows.values(), reverse=True)
