"""Columns of several fluids and the window: balances, limits, brute force beside the closed form, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.dilution import mixed_density
from pitside.errors import CalculationError
from pitside.gradients import (
    deepest_point,
    dual_gradient_mud_weight,
    dual_gradient_pressure,
    layered_mud_weight,
    layered_pressure,
    lower_mud_weight,
    lower_mud_weight_for_pressure,
    open_hole_window,
    riser_dilution_rate,
    riser_return_rate,
    riser_weight,
    window_margins,
)
from pitside.hydrostatics import FACTOR_LB_PER_GAL, column_pressure, column_pressure_field, equivalent_mud_weight
from pitside.units import GRAVITY, Q

LENGTHS, DENSITIES = Q([1500, 0, 2500, 1000], "m"), Q([1.03, 2.0, 1.35, 1.70], "SG")
UPPER, LOWER, MUDLINE = Q(8.6, "lb/gal"), Q(13.5, "lb/gal"), Q(4000, "ft")
DEPTHS = Q([9000, 11_000, 13_000, 15_000, 17_000], "ft")
PORE = Q([9.4, 9.9, 10.8, 11.9, 13.4], "lb/gal")
FRACTURE = Q([11.2, 12.2, 13.1, 14.0, 14.9], "lb/gal")


@st.composite
def columns(draw):
    number = draw(st.integers(1, 6))
    lengths = draw(st.lists(st.floats(0, 2000), min_size=number, max_size=number))
    densities = draw(st.lists(st.floats(800, 2300), min_size=number, max_size=number))
    return Q([*lengths, 100.0], "m"), Q([*densities, 1000.0], "kg/m**3")


@st.composite
def wells(draw):
    """Depth, upper, lower, mudline, air gap of a dual-gradient well."""
    gap = draw(st.floats(0, 40))
    mudline = gap + draw(st.floats(10, 3000))
    return (
        Q(mudline + draw(st.floats(100, 6000)), "m"),
        Q(draw(st.floats(700, 1200)), "kg/m**3"),
        Q(draw(st.floats(1000, 2300)), "kg/m**3"),
        Q(mudline, "m"),
        Q(gap, "m"),
    )


def test_results_are_in_si():
    found = (
        layered_pressure(Q(3000, "ft"), LENGTHS, DENSITIES),
        layered_mud_weight(Q(3000, "ft"), LENGTHS, DENSITIES),
        dual_gradient_pressure(Q(12_000, "ft"), UPPER, LOWER, MUDLINE),
        riser_return_rate(Q(500, "gal/min"), LOWER, Q(10, "lb/gal"), UPPER),
        deepest_point(DEPTHS, Q(10.5, "lb/gal"), PORE, FRACTURE),
    )
    assert [str(value.units) for value in found] == ["Pa", "kg/m³", "Pa", "m³/s", "m"]


@given(columns())
def test_a_layered_column_is_its_parts_one_after_another(column):
    lengths, densities = column
    foot = layered_pressure(lengths.sum(), lengths, densities)
    parts = sum(column_pressure(density, length).m_as("Pa") for length, density in zip(lengths, densities, strict=True))
    assert foot.m_as("Pa") == pytest.approx(parts)
    mean = mixed_density(lengths * Q(1, "m**2"), densities)
    assert layered_mud_weight(lengths.sum(), lengths, densities).m_as("SG") == pytest.approx(mean.m_as("SG"))


@given(columns(), st.floats(0, 1), st.floats(0, 1))
def test_pressure_between_two_depths_is_the_fluid_between_them(column, first, second):
    lengths, densities = column
    total = lengths.sum().m_as("m")
    fine = np.linspace(0, total, 2001)
    middles = (fine[1:] + fine[:-1]) / 2
    here = densities.m_as("kg/m**3")[np.searchsorted(np.cumsum(lengths.m_as("m")), middles)]
    step = here * total / 2000 * GRAVITY.m_as("m/s**2")
    for share in (first, second):
        found = layered_pressure(Q(share * total, "m"), lengths, densities).m_as("Pa")
        by_steps = np.interp(share * total, fine, np.concatenate([[0], np.cumsum(step)]))
        assert found == pytest.approx(by_steps, abs=len(lengths) * step.max())  # a step may span two fluids


def test_a_column_split_in_two_of_one_fluid_is_one_column():
    once = layered_pressure(Q(800, "m"), Q([1000], "m"), Q([1.2], "SG"))
    split = layered_pressure(Q(800, "m"), Q([300, 700], "m"), Q([1.2, 1.2], "SG"))
    assert once.m_as("Pa") == pytest.approx(split.m_as("Pa"))
    assert once.m_as("Pa") == pytest.approx(column_pressure(Q(1.2, "SG"), Q(800, "m")).m_as("Pa"))


def test_depths_may_be_of_any_shape_and_give_what_their_elements_give():
    depths = Q(np.array([[100.0, 1500.0, 2000.0], [3000.0, 4000.0, 5000.0]]), "m")
    found = layered_pressure(depths, LENGTHS, DENSITIES)
    assert found.shape == depths.shape
    one_by_one = [[layered_pressure(depth, LENGTHS, DENSITIES).m_as("Pa") for depth in row] for row in depths]
    np.testing.assert_allclose(found.m_as("Pa"), one_by_one)


def test_in_the_air_gap_there_is_no_pressure_and_below_it_the_column_starts():
    gap = Q(25, "m")
    pressures = layered_pressure(Q([0, 10, 25, 125], "m"), Q([1000], "m"), Q([1.0], "SG"), gap).m_as("bar")
    np.testing.assert_allclose(pressures, [0, 0, 0, 9.80665])
    dual = dual_gradient_pressure(Q([0, 10, 25, 125], "m"), Q(1.0, "SG"), Q(1.5, "SG"), Q(500, "m"), gap).m_as("bar")
    np.testing.assert_allclose(dual, pressures)


@given(wells())
def test_a_dual_gradient_column_is_a_layered_column_of_two(well):
    depth, upper, lower, mudline, gap = well
    lengths = Q([(mudline - gap).m_as("m"), (depth - mudline).m_as("m") + 1], "m")
    densities = Q([upper.m_as("SG"), lower.m_as("SG")], "SG")
    for at in (depth, mudline, (gap + mudline) / 2):
        layered = layered_pressure(at, lengths, densities, gap).m_as("Pa")
        assert dual_gradient_pressure(at, *well[1:]).m_as("Pa") == pytest.approx(layered)
        weight = layered_mud_weight(at, lengths, densities, gap).m_as("SG")
        assert dual_gradient_mud_weight(at, *well[1:]).m_as("SG") == pytest.approx(weight)


@given(wells())
def test_the_lower_mud_makes_the_target_again(well):
    depth, upper, lower, mudline, gap = well
    target = dual_gradient_mud_weight(depth, upper, lower, mudline, gap)
    found = lower_mud_weight(target, depth, upper, mudline, gap)
    assert found.m_as("SG") == pytest.approx(lower.m_as("SG"))
    pressure = dual_gradient_pressure(depth, upper, lower, mudline, gap)
    by_pressure = lower_mud_weight_for_pressure(pressure, depth, upper, mudline, gap)
    assert by_pressure.m_as("SG") == pytest.approx(lower.m_as("SG"))


def test_without_a_mudline_the_column_is_one_mud():
    depth, nowhere = Q(12_000, "ft"), Q(0, "ft")
    assert dual_gradient_pressure(depth, UPPER, LOWER, nowhere).m_as("psi") == pytest.approx(
        column_pressure(LOWER, depth).m_as("psi")
    )
    assert lower_mud_weight(LOWER, depth, UPPER, nowhere).m_as("lb/gal") == pytest.approx(13.5)
    assert dual_gradient_mud_weight(depth, LOWER, LOWER, MUDLINE).m_as("lb/gal") == pytest.approx(13.5)


def test_the_rounded_factor_changes_pressure_and_not_equivalent_mud_weight():
    depth = Q(12_000, "ft")
    exact = dual_gradient_pressure(depth, UPPER, LOWER, MUDLINE)
    rounded = dual_gradient_pressure(depth, UPPER, LOWER, MUDLINE, factor=FACTOR_LB_PER_GAL)
    assert (rounded / exact).magnitude == pytest.approx((FACTOR_LB_PER_GAL / GRAVITY).m_as(""))
    one = layered_pressure(depth, Q([12_000], "ft"), Q([13.5], "lb/gal"), factor=FACTOR_LB_PER_GAL)
    assert one.m_as("psi") == pytest.approx(column_pressure_field(LOWER, depth).m_as("psi"))
    lower = lower_mud_weight_for_pressure(rounded, depth, UPPER, MUDLINE, factor=FACTOR_LB_PER_GAL)
    assert lower.m_as("lb/gal") == pytest.approx(13.5)


def test_equivalent_mud_weight_grows_with_depth_below_the_mudline():
    depths = Q(np.linspace(4000, 40_000, 50), "ft")
    weights = dual_gradient_mud_weight(depths, UPPER, LOWER, MUDLINE).m_as("lb/gal")
    assert np.all(np.diff(weights) > 0)
    assert weights[0] == pytest.approx(8.6)
    assert weights[-1] < 13.5


@given(st.floats(1, 1200), st.floats(0.05, 5), st.floats(0.05, 4))
def test_the_riser_is_balanced_in_volume_and_mass(rate, above, below):
    diluent = Q(6.6, "lb/gal")
    wanted = diluent + Q(below, "lb/gal")
    mud = wanted + Q(above, "lb/gal")
    mud_rate = Q(rate, "gal/min")
    dilution, back = (
        riser_dilution_rate(mud_rate, mud, wanted, diluent),
        riser_return_rate(mud_rate, mud, wanted, diluent),
    )
    assert (mud_rate + dilution).m_as("gal/min") == pytest.approx(back.m_as("gal/min"))
    assert (mud_rate * mud + dilution * diluent).m_as("kg/s") == pytest.approx((back * wanted).m_as("kg/s"))
    assert riser_weight(mud_rate, mud, dilution, diluent).m_as("lb/gal") == pytest.approx(wanted.m_as("lb/gal"))


def test_a_riser_at_the_weight_of_the_mud_needs_no_diluent():
    assert riser_dilution_rate(Q(500, "gal/min"), LOWER, LOWER, UPPER).magnitude == 0
    assert riser_return_rate(Q(500, "gal/min"), LOWER, LOWER, UPPER).m_as("gal/min") == pytest.approx(500)
    near = riser_dilution_rate(Q(500, "gal/min"), LOWER, UPPER + Q(1e-6, "lb/gal"), UPPER)
    assert near.m_as("gal/min") > 1e8


def test_margins_are_negative_outside_the_window():
    above, below = window_margins(Q([9.0, 10.0, 13.0], "lb/gal"), Q(9.5, "lb/gal"), Q(12.0, "lb/gal"))
    np.testing.assert_allclose(above.m_as("lb/gal"), [-0.5, 0.5, 3.5])
    np.testing.assert_allclose(below.m_as("lb/gal"), [3.0, 2.0, -1.0])
    assert (above + below).m_as("lb/gal") == pytest.approx([2.5, 2.5, 2.5])


def test_the_deepest_point_of_a_mud_is_where_it_meets_pore_or_fracture():
    assert deepest_point(DEPTHS, Q(10.8, "lb/gal"), PORE, FRACTURE).m_as("ft") == pytest.approx(13_000)
    assert deepest_point(DEPTHS, Q(10.35, "lb/gal"), PORE, FRACTURE).m_as("ft") == pytest.approx(12_000)
    with_margin = deepest_point(DEPTHS, Q(10.8, "lb/gal"), PORE, FRACTURE, Q(0.45, "lb/gal"))
    assert with_margin.m_as("ft") == pytest.approx(12_000)
    falling = Q([12.0, 12.2, 12.0, 11.0, 10.8], "lb/gal")
    column = Q([11.4, 11.5, 11.6, 11.4, 11.0], "lb/gal")
    assert deepest_point(DEPTHS, column, PORE - Q(3, "lb/gal"), falling).m_as("ft") == pytest.approx(14_000)
    narrow = deepest_point(DEPTHS, column, PORE - Q(3, "lb/gal"), falling, fracture_margin=Q(0.2, "lb/gal"))
    assert narrow.m_as("ft") == pytest.approx(13_500)


def test_a_window_that_stays_open_is_drilled_to_the_last_depth():
    assert deepest_point(DEPTHS, Q(11, "lb/gal"), PORE - Q(4, "lb/gal"), FRACTURE).m_as("ft") == pytest.approx(17_000)
    found = open_hole_window(DEPTHS, PORE - Q(4, "lb/gal"), FRACTURE)
    assert found.deepest.m_as("ft") == pytest.approx(17_000)
    assert found.mud_weight.m_as("lb/gal") == pytest.approx(9.4)


@pytest.mark.parametrize("column", [{}, {"upper": UPPER, "mudline_depth": MUDLINE, "air_gap": Q(80, "ft")}])
def test_the_window_is_what_trying_every_mud_finds(column):
    margins = {"pore_margin": Q(0.2, "lb/gal"), "fracture_margin": Q(0.1, "lb/gal")}
    found = open_hole_window(DEPTHS, PORE, FRACTURE, **column, **margins)
    muds = np.arange(9.0, 20.0, 0.02)
    reaches = []
    for mud in muds:
        weights = (
            dual_gradient_mud_weight(DEPTHS, UPPER, Q(mud, "lb/gal"), MUDLINE, Q(80, "ft"))
            if column
            else Q(np.full(5, mud), "lb/gal")
        )
        above, below = window_margins(weights, PORE, FRACTURE)
        inside = (above >= Q(0.2, "lb/gal")) & (below >= Q(0.1, "lb/gal"))
        reaches.append(np.argmin(np.append(inside, False)))
    reaches = np.array(reaches)
    for index in range(len(DEPTHS)):
        fit = muds[reaches > index]
        if fit.size:
            assert found.lowest[index].m_as("lb/gal") == pytest.approx(fit.min(), abs=0.021)
            assert found.highest[index].m_as("lb/gal") == pytest.approx(fit.max(), abs=0.021)
        else:
            assert found.lowest[index] > found.highest[index] - Q(0.021, "lb/gal")
    assert DEPTHS[reaches.max() - 1] <= found.deepest <= DEPTHS[min(reaches.max(), 4)]


def test_the_mud_of_the_deepest_point_reaches_it_and_no_more_would():
    fine = Q(np.linspace(9000, 17_000, 4001), "ft")
    pore = Q(np.interp(fine.m_as("ft"), DEPTHS.m_as("ft"), PORE.m_as("lb/gal")), "lb/gal")
    fracture = Q(np.interp(fine.m_as("ft"), DEPTHS.m_as("ft"), FRACTURE.m_as("lb/gal")), "lb/gal")
    found = open_hole_window(fine, pore, fracture, upper=UPPER, mudline_depth=MUDLINE)
    for change, shallower in ((-0.05, True), (-1e-9, False), (0.05, True)):
        weights = dual_gradient_mud_weight(fine, UPPER, found.mud_weight + Q(change, "lb/gal"), MUDLINE)
        if change > 0:
            with pytest.raises(CalculationError, match="closed at the first depth"):
                deepest_point(fine, weights, pore, fracture)
            continue
        reached = deepest_point(fine, weights, pore, fracture)
        assert (reached < found.deepest - Q(10, "ft")) == shallower


def test_two_gradients_reach_deeper_than_one_and_margins_reach_less():
    one = open_hole_window(DEPTHS, PORE, FRACTURE)
    two = open_hole_window(DEPTHS, PORE, FRACTURE, upper=UPPER, mudline_depth=MUDLINE)
    careful = open_hole_window(DEPTHS, PORE, FRACTURE, pore_margin=Q(0.3, "lb/gal"))
    assert careful.deepest < one.deepest < two.deepest
    assert two.mud_weight > one.mud_weight


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: layered_pressure(Q(5001, "m"), LENGTHS, DENSITIES), "below the foot of the column"),
        (lambda: layered_pressure(Q(-1, "m"), LENGTHS, DENSITIES), "depth must not be negative"),
        (lambda: layered_pressure(Q(1, "m"), Q(10, "m"), Q(1, "SG")), "give a list of lengths"),
        (lambda: layered_pressure(Q(1, "m"), LENGTHS, DENSITIES[:2]), "give a list of lengths"),
        (lambda: layered_pressure(Q(1, "m"), -LENGTHS, DENSITIES), "a length must not be negative"),
        (lambda: layered_pressure(Q(1, "m"), LENGTHS, 0 * DENSITIES), "each density must be above zero"),
        (lambda: layered_pressure(Q(1, "m"), LENGTHS, DENSITIES, Q(-1, "m")), "air gap must not be negative"),
        (lambda: layered_pressure(Q(1, "m"), LENGTHS, DENSITIES, factor=Q(0, "m/s**2")), "factor must be above zero"),
        (lambda: layered_mud_weight(Q(0, "m"), LENGTHS, DENSITIES), "depth must be above zero"),
        (lambda: layered_pressure(Q(1, "kg"), LENGTHS, DENSITIES), r"must have a unit of \[length\]"),
        (lambda: dual_gradient_pressure(Q(-1, "m"), UPPER, LOWER, MUDLINE), "depth must not be negative"),
        (lambda: dual_gradient_pressure(Q(1, "m"), UPPER, 0 * LOWER, MUDLINE), "both fluids must be above zero"),
        (lambda: dual_gradient_pressure(Q(1, "m"), UPPER, LOWER, MUDLINE, MUDLINE * 2), "must lie below the air gap"),
        (lambda: dual_gradient_pressure(Q(1, "m"), UPPER, LOWER, MUDLINE, -MUDLINE), "air gap must not be negative"),
        (
            lambda: dual_gradient_pressure(Q(1, "m"), UPPER, LOWER, MUDLINE, factor=Q(0, "m/s**2")),
            "factor must be above zero",
        ),
        (lambda: dual_gradient_mud_weight(Q(0, "m"), UPPER, LOWER, MUDLINE), "depth must be above zero"),
        (lambda: lower_mud_weight(LOWER, MUDLINE, UPPER, MUDLINE), "depth must lie below the mudline"),
        (lambda: lower_mud_weight(Q(0, "SG"), 2 * MUDLINE, UPPER, MUDLINE), "target and upper density"),
        (lambda: lower_mud_weight(Q(4, "lb/gal"), 2 * MUDLINE, UPPER, MUDLINE), "no mud below can make it less"),
        (
            lambda: lower_mud_weight_for_pressure(Q(5000, "psi"), MUDLINE, UPPER, MUDLINE),
            "depth must lie below the mudline",
        ),
        (lambda: riser_dilution_rate(Q(-1, "m**3/s"), LOWER, UPPER * 1.1, UPPER), "rate of the mud must not be"),
        (lambda: riser_dilution_rate(Q(1, "m**3/s"), LOWER, UPPER, UPPER), "diluent must be lighter"),
        (lambda: riser_dilution_rate(Q(1, "m**3/s"), UPPER, LOWER, UPPER), "must not be heavier than the mud"),
        (lambda: riser_dilution_rate(Q(1, "m**3/s"), LOWER, UPPER, 0 * UPPER), "density of the diluent"),
        (lambda: riser_weight(Q(0, "m**3/s"), LOWER, Q(0, "m**3/s"), UPPER), "nothing flows"),
        (lambda: riser_weight(Q(-1, "m**3/s"), LOWER, Q(2, "m**3/s"), UPPER), "a rate must not be negative"),
        (lambda: riser_weight(Q(1, "m**3/s"), LOWER, Q(2, "m**3/s"), 0 * UPPER), "density of both fluids"),
        (lambda: window_margins(LOWER, Q(0, "SG"), LOWER), "pore gradient must be above zero"),
        (lambda: window_margins(LOWER, LOWER, UPPER), "fracture gradient must not lie below"),
        (lambda: deepest_point(DEPTHS[::-1], LOWER, PORE, FRACTURE), "depths must increase"),
        (lambda: deepest_point(Q(1, "m"), LOWER, UPPER, LOWER), "give a list of two or more depths"),
        (lambda: deepest_point(DEPTHS - DEPTHS[0], LOWER, PORE, FRACTURE), "each depth must be above zero"),
        (lambda: deepest_point(DEPTHS, Q(9.0, "lb/gal"), PORE, FRACTURE), "closed at the first depth"),
        (lambda: deepest_point(DEPTHS, Q(11, "lb/gal"), PORE, FRACTURE, Q(-1, "SG")), "margin must not be negative"),
        (lambda: deepest_point(DEPTHS, LOWER, PORE[:3], FRACTURE), "a list with a value for each depth"),
        (lambda: open_hole_window(DEPTHS, PORE, FRACTURE[:3]), "a list with a value for each depth"),
        (lambda: open_hole_window(DEPTHS, PORE, PORE, pore_margin=Q(0.1, "SG")), "closed at the first depth"),
        (lambda: open_hole_window(DEPTHS, PORE, FRACTURE, mudline_depth=MUDLINE), "need the density of the fluid"),
        (lambda: open_hole_window(DEPTHS, FRACTURE, PORE), "fracture gradient must not lie below"),
        (lambda: open_hole_window(DEPTHS, PORE, FRACTURE, pore_margin=Q(-1, "SG")), "margin must not be negative"),
        (
            lambda: open_hole_window(DEPTHS, PORE, FRACTURE, upper=UPPER, mudline_depth=Q(9000, "ft")),
            "depth must lie below the mudline",
        ),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()


def test_the_equivalent_mud_weight_of_the_pressure_is_the_equivalent_mud_weight():
    depth = Q(12_000, "ft")
    by_pressure = equivalent_mud_weight(dual_gradient_pressure(depth, UPPER, LOWER, MUDLINE), depth)
    found = dual_gradient_mud_weight(depth, UPPER, LOWER, MUDLINE)
    assert found.m_as("lb/gal") == pytest.approx(by_pressure.m_as("lb/gal"))
