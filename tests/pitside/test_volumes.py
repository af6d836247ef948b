"""Holes, annuli and pits: units, arrays, limits, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError
from pitside.units import Q
from pitside.volumes import annulus_capacity, hole_capacity, pit_volume


def test_a_capacity_is_an_area_and_reads_as_barrels_a_foot():
    assert str(hole_capacity(Q(8.5, "in")).units) == "m²"
    assert (hole_capacity(Q(8.5, "in")) * Q(1000, "ft")).m_as("bbl") == pytest.approx(70.19, abs=0.005)


@given(st.floats(4.0, 30.0), st.floats(0.05, 0.95))
def test_annulus_and_pipe_fill_the_hole(hole, share):
    pipe = Q(hole * share, "in")
    filled = annulus_capacity(Q(hole, "in"), pipe) + hole_capacity(pipe)
    assert filled.magnitude == pytest.approx(hole_capacity(Q(hole, "in")).magnitude)


def test_a_hole_of_twice_the_diameter_holds_four_times_as_much():
    assert (hole_capacity(Q(12, "in")) / hole_capacity(Q(6, "in"))).magnitude == pytest.approx(4)


def test_arrays_give_what_their_elements_give():
    holes = Q([6.0, 8.5, 12.25], "in")
    np.testing.assert_allclose(hole_capacity(holes).magnitude, [hole_capacity(hole).magnitude for hole in holes])
    depths = Q([0, 1, 2], "m")
    np.testing.assert_allclose(pit_volume(Q(6, "m"), Q(2, "m"), depths).m_as("m**3"), [0, 12, 24])


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: hole_capacity(Q(0, "in")), "diameter must be above zero"),
        (lambda: hole_capacity(Q(8.5, "bbl")), r"diameter must have a unit of \[length\]"),
        (lambda: annulus_capacity(Q(5, "in"), Q(5, "in")), "pipe must be smaller than the hole"),
        (lambda: annulus_capacity(Q(8.5, "in"), Q([5, 9], "in")), "pipe must be smaller than the hole"),
        (lambda: annulus_capacity(Q(8.5, "in"), Q(-5, "in")), "diameter must be above zero"),
        (lambda: pit_volume(Q(0, "m"), Q(2, "m"), Q(1, "m")), "length and width of the pit must be above zero"),
        (lambda: pit_volume(Q(6, "m"), Q(-2, "m"), Q(1, "m")), "length and width of the pit must be above zero"),
        (lambda: pit_volume(Q(6, "m"), Q(2, "m"), Q(-1, "m")), "depth of the mud must not be negative"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
