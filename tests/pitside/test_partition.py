"""Partition curves: through their cut points, limits, arrays and draws, there and back, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError
from pitside.partition import (
    LYNCH_RAO_FLATTEST,
    CurveForm,
    PartitionCurve,
    corrected_partition,
    equal_settling_cut_point,
    fit_partition,
    imperfection,
    lynch_rao_partition,
    measured_partition,
    rosin_rammler_partition,
    sharpness_from_sizes,
    sharpness_ratio,
    with_bypass,
)
from pitside.settling import stokes_velocity
from pitside.units import Q

LIGHT, HEAVY, WATER = Q(2.6, "SG"), Q(4.2, "SG"), Q(1.0, "SG")
SIZES = Q([1, 5, 10, 20, 50, 100], "um")
LAWS = {CurveForm.ROSIN_RAMMLER: rosin_rammler_partition, CurveForm.LYNCH_RAO: lynch_rao_partition}

sharpness_of_cones = st.floats(0.5, 12.0)
bypasses = st.floats(0.0, 0.45)


def curve(cut_point=15.0, bypass=0.1, sharpness=2.5, form=CurveForm.ROSIN_RAMMLER, **changes) -> PartitionCurve:
    return PartitionCurve(Q(cut_point, "um"), LIGHT, WATER, sharpness, bypass, form=form, **changes)


@pytest.mark.parametrize("law", LAWS.values(), ids=lambda law: law.__name__)
@given(sharpness=sharpness_of_cones)
def test_a_law_rises_from_nothing_through_a_half_to_all(law, sharpness):
    shares = law(np.array([0.0, 0.3, 1.0, 3.0, 1e6]), sharpness).magnitude
    assert shares[0] == 0
    assert shares[2] == pytest.approx(0.5, rel=1e-12)
    assert shares[-1] == 1
    assert np.all(np.diff(shares) >= 0)
    assert np.all((shares >= 0) & (shares <= 1))


def test_lynch_and_rao_as_printed():
    size, a = np.linspace(0.1, 3, 30), 3.7
    printed = (np.exp(a * size) - 1) / (np.exp(a * size) + np.exp(a) - 2)
    np.testing.assert_allclose(lynch_rao_partition(size, a).magnitude, printed, rtol=1e-12)


def test_very_sharp_and_very_flat_laws_do_not_break():
    assert lynch_rao_partition([0.9, 1.0, 1.1], 5000.0).magnitude == pytest.approx([0.0, 0.5, 1.0])
    assert lynch_rao_partition(1.0, 1e-9).magnitude == pytest.approx(0.5)
    assert rosin_rammler_partition([0.9, 1.0, 1.1], 400.0).magnitude == pytest.approx([0.0, 0.5, 1.0])


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.99))
def test_bypass_goes_there_and_back(corrected, bypass):
    actual = with_bypass(corrected, bypass)
    assert bypass - 1e-12 <= actual.magnitude <= 1 + 1e-12
    assert corrected_partition(actual, bypass).magnitude == pytest.approx(corrected, abs=1e-9)


def test_all_of_it_bypassing_is_all_of_it():
    assert with_bypass(Q([0, 30, 100], "percent"), 1.0).magnitude == pytest.approx([1, 1, 1])


@given(st.floats(1.0, 40.0), st.floats(1.2, 6.0), st.floats(0.8, 1.15))
def test_grains_of_their_own_cut_points_settle_alike(cut_point, solid, liquid):
    other = equal_settling_cut_point(Q(cut_point, "um"), LIGHT, Q(solid, "SG"), Q(liquid, "SG"))
    thick = Q(1000, "cP")
    one = stokes_velocity(Q(cut_point, "um"), LIGHT, Q(liquid, "SG"), thick)
    two = stokes_velocity(other, Q(solid, "SG"), Q(liquid, "SG"), thick)
    assert one.magnitude == pytest.approx(two.magnitude)


def test_the_exponent_of_newton_takes_the_whole_ratio():
    found = equal_settling_cut_point(Q(30, "um"), LIGHT, HEAVY, WATER, exponent=1.0)
    assert found.m_as("um") == pytest.approx(30 * 1.6 / 3.2)
    assert equal_settling_cut_point(Q(30, "um"), LIGHT, HEAVY, WATER, 0.0).m_as("um") == pytest.approx(30)


@given(st.sampled_from(CurveForm), st.floats(2, 80), bypasses, sharpness_of_cones, st.floats(1.5, 5.0))
def test_a_curve_passes_its_cut_points_for_any_density(form, cut_point, bypass, sharpness, density):
    one, solid = curve(cut_point, bypass, sharpness, form), Q(density, "SG")
    corrected = one.to_underflow(one.corrected_cut_point(solid), solid).magnitude
    assert corrected == pytest.approx((1 + bypass) / 2)
    assert one.to_underflow(one.actual_cut_point(solid), solid).magnitude == pytest.approx(0.5)
    assert one.actual_cut_point(solid) <= one.corrected_cut_point(solid) * (1 + 1e-12)


@given(st.sampled_from(CurveForm), bypasses, sharpness_of_cones, st.floats(0.46, 0.99))
def test_sizes_and_shares_go_there_and_back(form, bypass, sharpness, share):
    one = curve(bypass=bypass, sharpness=sharpness, form=form)
    assert one.to_underflow(one.size_at(share, HEAVY), HEAVY).magnitude == pytest.approx(share)


def test_barite_has_the_finer_cut_point_of_the_two():
    one = curve(15.0)
    ratio = (one.corrected_cut_point(LIGHT) / one.corrected_cut_point(HEAVY)).magnitude
    assert ratio == pytest.approx(np.sqrt(3.2 / 1.6))
    assert np.all(one.to_underflow(SIZES[:5], HEAVY) > one.to_underflow(SIZES[:5], LIGHT))


def test_limits_of_a_curve():
    np.testing.assert_array_equal(curve(0.0).to_underflow(SIZES, LIGHT).magnitude, np.ones(6))
    assert curve(0.0).to_underflow(Q(5, "um"), LIGHT).magnitude == 1
    np.testing.assert_array_equal(curve(bypass=1.0).to_underflow(SIZES, LIGHT).magnitude, np.ones(6))
    np.testing.assert_allclose(curve(1e9, bypass=0.2).to_underflow(SIZES, LIGHT).magnitude, 0.2)
    sharp = curve(15.0, bypass=0.0, sharpness=500.0).to_underflow(SIZES, LIGHT).magnitude
    np.testing.assert_allclose(sharp, [0, 0, 0, 1, 1, 1], atol=1e-9)


def test_sizes_densities_and_draws_make_one_table():
    cut_points = Q([10.0, 15.0, 20.0], "um")
    draws = PartitionCurve(
        cut_points[:, None, None], LIGHT, WATER, 2.5, bypass=np.array([0.1, 0.2, 0.3])[:, None, None]
    )
    table = draws.to_underflow(SIZES, Q(np.array([[2.6], [4.2]]), "SG")).magnitude
    assert table.shape == (3, 2, 6)
    for row, (cut_point, bypass) in enumerate(zip([10.0, 15.0, 20.0], [0.1, 0.2, 0.3], strict=True)):
        for kind, density in enumerate((LIGHT, HEAVY)):
            alone = curve(cut_point, bypass).to_underflow(SIZES, density).magnitude
            np.testing.assert_allclose(table[row, kind], alone, rtol=1e-12)


def test_units_do_not_matter_and_fields_are_kept_in_si():
    one = PartitionCurve(Q(0.015, "mm"), Q(2600, "kg/m**3"), Q(62.428, "lb/ft**3"), 2.5, Q(10, "percent"))
    assert str(one.cut_point.units) == "m"
    assert one.to_underflow(Q(20 / 25_400, "in"), LIGHT).magnitude == pytest.approx(
        curve().to_underflow(Q(20, "um"), LIGHT).magnitude, rel=1e-4
    )


@pytest.mark.parametrize("form", CurveForm)
@given(sharpness=sharpness_of_cones)
def test_sharpness_is_found_again_from_the_quartile_sizes(form, sharpness):
    one = curve(bypass=0.0, sharpness=sharpness, form=form)
    found = sharpness_from_sizes(one.size_at(0.25, LIGHT), one.size_at(0.75, LIGHT), form)
    assert found.magnitude == pytest.approx(sharpness, rel=1e-6)


def test_the_flattest_law_of_lynch_and_rao_is_a_ratio_of_nine():
    flat = curve(bypass=0.0, sharpness=1e-7, form=CurveForm.LYNCH_RAO)
    ratio = sharpness_ratio(flat.size_at(0.25, LIGHT), flat.size_at(0.75, LIGHT)).magnitude
    assert ratio == pytest.approx(LYNCH_RAO_FLATTEST, rel=1e-6)
    found = sharpness_from_sizes(Q([10, 10], "um"), Q([20, 40], "um"), CurveForm.LYNCH_RAO).magnitude
    assert found[0] > found[1]


def test_a_perfect_cut_has_ratio_one_and_no_imperfection():
    assert sharpness_ratio(Q(15, "um"), Q(15, "um")).magnitude == 1
    assert imperfection(Q(15, "um"), Q(15, "um"), Q(15, "um")).magnitude == 0
    assert imperfection(Q(12, "um"), Q(18, "um"), Q(15, "um")).magnitude == pytest.approx(0.2)


@given(st.floats(4, 60), bypasses, st.floats(0.8, 6.0))
def test_a_curve_is_found_again_from_its_own_shares(cut_point, bypass, sharpness):
    one, sizes = curve(cut_point, bypass, sharpness), Q(cut_point * np.geomspace(0.3, 2.0, 8), "um")
    fit = fit_partition(sizes, one.to_underflow(sizes, LIGHT), bypass)
    assert fit.cut_point.m_as("um") == pytest.approx(cut_point, rel=1e-6)
    assert fit.sharpness == pytest.approx(sharpness, rel=1e-6)
    assert fit.misfit < 1e-9


def test_a_fit_leaves_out_what_lies_at_infinity_and_tells_its_misfit():
    sizes, shares = Q([2, 5, 10, 20, 40, 200], "um"), Q([8, 12, 31, 68, 97, 100], "percent")
    fit = fit_partition(sizes, shares, Q(10, "percent"))
    assert 12 < fit.cut_point.m_as("um") < 18
    assert 0 < fit.misfit < 0.05
    again = PartitionCurve(fit.cut_point, LIGHT, WATER, fit.sharpness, fit.bypass)
    assert abs(again.to_underflow(sizes[1:5], LIGHT) - shares[1:5]).m_as("percent").max() < 5


def test_measured_shares_come_class_by_class():
    share = measured_partition(Q([0, 2, 9], "kg/h"), Q([3, 2, 1], "kg/h"))
    assert share.m_as("percent") == pytest.approx([0, 50, 90])


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: rosin_rammler_partition(-0.1, 2.0), "relative size must not be negative"),
        (lambda: lynch_rao_partition(1.0, 0.0), "sharpness must be above zero"),
        (lambda: rosin_rammler_partition(Q(1, "um"), 2.0), r"relative size must have a unit of \[\]"),
        (lambda: with_bypass(0.5, 1.1), "bypass share must lie between 0 and 100 %"),
        (lambda: with_bypass(Q(150, "percent"), 0.1), "corrected share must lie between"),
        (lambda: corrected_partition(0.05, 0.1), "bypass is larger than the share"),
        (lambda: corrected_partition(1.0, 1.0), "nothing is classified"),
        (lambda: equal_settling_cut_point(Q(-1, "um"), LIGHT, HEAVY, WATER), "cut point must not be negative"),
        (lambda: equal_settling_cut_point(Q(15, "um"), LIGHT, WATER, WATER), "must be denser than the liquid"),
        (lambda: equal_settling_cut_point(Q(15, "um"), LIGHT, HEAVY, WATER, -1), "exponent .* must not be negative"),
        (lambda: equal_settling_cut_point(Q(15, "um"), LIGHT, HEAVY, Q(0, "SG")), "density of the liquid must be"),
        (lambda: curve(-1.0), "cut point must not be negative"),
        (lambda: curve(sharpness=0), "sharpness must be above zero"),
        (lambda: curve(bypass=Q(120, "percent")), "bypass share must lie between"),
        (lambda: curve(exponent=-0.5), "exponent .* must not be negative"),
        (lambda: PartitionCurve(Q(15, "um"), WATER, LIGHT, 2.5), "must be denser than the liquid"),
        (lambda: PartitionCurve(Q(15, "um"), LIGHT, Q(0, "SG"), 2.5), "density of the liquid must be above zero"),
        (lambda: PartitionCurve(Q(15, "s"), LIGHT, WATER, 2.5), r"cut point must have a unit of \[length\]"),
        (lambda: curve().to_underflow(Q([0, 1], "um"), LIGHT), "sizes must be above zero"),
        (lambda: curve().to_underflow(SIZES, Q(0.9, "SG")), "must be denser than the liquid"),
        (lambda: curve().corrected_cut_point(WATER), "must be denser than the liquid"),
        (lambda: curve(bypass=0.6).actual_cut_point(LIGHT), "the bypass alone is more"),
        (lambda: curve().size_at(1.0, LIGHT), "ask for a share below 100 %"),
        (lambda: measured_partition(Q([1, -1], "kg/h"), Q([1, 1], "kg/h")), "must not be negative"),
        (lambda: measured_partition(Q([1, 0], "kg/h"), Q([1, 0], "kg/h")), "without solids has no partition"),
        (lambda: sharpness_ratio(Q(20, "um"), Q(10, "um")), "must not be below"),
        (lambda: sharpness_ratio(Q(0, "um"), Q(10, "um")), "sizes must be above zero"),
        (lambda: imperfection(Q(10, "um"), Q(20, "um"), Q(30, "um")), "must lie between the two sizes"),
        (lambda: sharpness_from_sizes(Q(10, "um"), Q(10, "um")), "the two sizes must differ"),
        (lambda: sharpness_from_sizes(Q(1, "um"), Q(10, "um"), CurveForm.LYNCH_RAO), "cannot be so flat"),
        (lambda: fit_partition(SIZES, np.full(5, 0.5)), "two rows of one length"),
        (lambda: fit_partition(SIZES, np.array([0, 0, 0.4, 1, 1, 1])), "at least two sizes with a share"),
        (lambda: fit_partition(Q([5, 10], "um"), np.array([0.7, 0.3])), "does not rise with size"),
        (lambda: fit_partition(Q([5, 5], "um"), np.array([0.3, 0.7])), "two different sizes"),
        (lambda: fit_partition(Q([0, 5], "um"), np.array([0.3, 0.7])), "sizes must be above zero"),
        (lambda: fit_partition(Q([2, 5], "um"), np.array([0.3, 1.7])), "measured share must lie between"),
        (lambda: fit_partition(Q([2, 5], "um"), np.array([0.3, 0.7]), 1.0), "nothing is classified"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
