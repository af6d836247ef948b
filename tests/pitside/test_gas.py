"""Gas in the mud: what goes together, limits, what is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError
from pitside.gas import cut_column_loss, cut_weight, gas_share
from pitside.hydrostatics import column_pressure
from pitside.units import Q


@given(st.floats(8.5, 18.0), st.floats(0.0, 0.9))
def test_weight_and_share_lead_back_to_each_other(weight, share):
    mud = Q(weight, "lb/gal")
    assert gas_share(mud, cut_weight(mud, share)).m_as("") == pytest.approx(share, abs=1e-9)


@given(st.floats(8.5, 18.0), st.floats(0.01, 0.6), st.floats(100.0, 5000.0))
def test_gas_takes_less_off_the_bottom_than_its_share_of_the_column(weight, share, depth):
    mud, down = Q(weight, "lb/gal"), Q(depth, "m")
    lost = cut_column_loss(mud, share, down)
    assert 0 < lost.m_as("Pa") < (column_pressure(mud, down) * share).m_as("Pa")


def test_without_gas_and_without_depth_nothing_is_lost():
    assert cut_column_loss(Q(12, "lb/gal"), 0.0, Q(3000, "m")).m_as("Pa") == pytest.approx(0, abs=1e-6)
    assert cut_column_loss(Q(12, "lb/gal"), 0.3, Q(0, "m")).m_as("Pa") == pytest.approx(0, abs=1e-6)


def test_ten_times_the_depth_loses_far_less_than_ten_times_as_much():
    shallow, deep = (cut_column_loss(Q(12, "lb/gal"), 0.2, Q(depth, "ft")) for depth in (1500, 15_000))
    assert 1.2 < (deep / shallow).m_as("") < 2.0


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: gas_share(Q(10, "lb/gal"), Q(11, "lb/gal")), "cannot be heavier than the same mud without gas"),
        (lambda: gas_share(Q(0, "lb/gal"), Q(0, "lb/gal")), "must be above zero"),
        (lambda: cut_weight(Q(10, "lb/gal"), 1.0), "share of gas must be from 0 to below 100 %"),
        (lambda: cut_column_loss(Q(10, "lb/gal"), -0.1, Q(1, "m")), "share of gas must be from 0 to below 100 %"),
        (lambda: cut_column_loss(Q(10, "lb/gal"), 0.1, Q(-1, "m")), "depth must not be negative"),
        (lambda: cut_column_loss(Q(10, "lb/gal"), 0.1, Q(1, "kg")), r"depth must have a unit of \[length\]"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
