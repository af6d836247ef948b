"""Size distributions: what is kept, what comes back, limits, arrays, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError, ValidityWarning
from pitside.particles import (
    SizeDistribution,
    Weights,
    barite_grind,
    fit_lognormal,
    fit_rosin_rammler,
    log_edges,
    lognormal,
    lognormal_passing,
    measured,
    rosin_rammler,
    rosin_rammler_passing,
    typical_barite,
    typical_cuttings,
    typical_drilled_fines,
)
from pitside.units import Q

EDGES = Q([1, 10, 100, 1000], "um")
THIRDS = SizeDistribution(EDGES, np.array([0.2, 0.5, 0.3]))
SIEVES = Q([6, 20, 45, 75, 150], "um")


@st.composite
def distributions(draw):
    """Any distribution: classes may be empty, in front, between and behind."""
    count = draw(st.integers(1, 12))
    steps = draw(st.lists(st.floats(0.05, 2.0), min_size=count, max_size=count))
    shares = draw(st.lists(st.sampled_from([0.0, 1e-9, 0.1, 0.5, 3.0]), min_size=count, max_size=count).filter(any))
    edges = Q(np.exp(np.cumsum([0.0, *steps])), "um")
    return SizeDistribution(edges, np.array(shares) / sum(shares))


def test_edges_come_back_in_metres_and_cannot_be_changed():
    assert str(THIRDS.edges.units) == "m"
    np.testing.assert_allclose(THIRDS.edges.m_as("um"), [1, 10, 100, 1000])
    with pytest.raises(ValueError, match="read-only"):
        THIRDS.edges.magnitude[0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        THIRDS.fractions[0] = 1.0


def test_the_callers_arrays_stay_his_own():
    edges, fractions = np.array([1.0, 2.0, 3.0]), np.array([0.5, 0.5])
    ours = SizeDistribution(Q(edges, "m"), fractions)
    edges[0], fractions[0] = 0.5, 0.0
    assert ours.edges.magnitude[0] == 1.0
    assert ours.fractions[0] == 0.5


def test_distributions_of_one_grid_share_its_edges():
    assert SizeDistribution(THIRDS.edges, THIRDS.fractions).edges is THIRDS.edges


def test_passing_at_the_edges_adds_the_fractions_up():
    np.testing.assert_allclose(THIRDS.passing(EDGES).magnitude, [0, 0.2, 0.7, 1], atol=1e-15)


def test_passing_inside_a_class_goes_with_the_logarithm_of_size():
    assert THIRDS.passing(Q(10**1.5, "um")).magnitude == pytest.approx(0.45)


def test_passing_outside_the_edges_is_nothing_or_all():
    np.testing.assert_array_equal(THIRDS.passing(Q([0.01, 1e5], "um")).magnitude, [0, 1])


def test_centres_are_geometric_means():
    np.testing.assert_allclose(THIRDS.centres.m_as("um"), [10**0.5, 10**1.5, 10**2.5])


@given(distributions(), st.floats(0.0, 1.0))
def test_the_size_of_a_share_lets_that_share_pass(distribution, share):
    assert distribution.passing(distribution.quantile(share)).magnitude == pytest.approx(share, abs=1e-12)


@given(distributions())
def test_quantiles_grow_with_the_share_and_stay_within_the_edges(distribution):
    sizes = distribution.quantile(np.linspace(0, 1, 41)).magnitude
    assert np.all(np.diff(sizes) >= 0)
    edges = distribution.edges.magnitude
    assert edges[0] * (1 - 1e-12) <= sizes[0]
    assert sizes[-1] <= edges[-1] * (1 + 1e-12)


def test_an_empty_class_is_stepped_over():
    gap = SizeDistribution(EDGES, np.array([0.5, 0.0, 0.5]))
    assert gap.quantile(0.5).m_as("um") == pytest.approx(10)
    assert gap.quantile(0.5001).m_as("um") > 100


def test_one_size_has_one_quantile():
    narrow = SizeDistribution(Q([99.9, 100.1], "um"), np.array([1.0]))
    for size in (narrow.d10, narrow.d50, narrow.d90, narrow.sauter_mean):
        assert size.m_as("um") == pytest.approx(100, rel=0.002)


@given(distributions())
def test_counting_and_weighing_are_ways_back_from_each_other(distribution):
    back = SizeDistribution.from_number(distribution.edges, distribution.number_fractions)
    np.testing.assert_allclose(back.fractions, distribution.fractions, rtol=1e-9, atol=1e-15)


@given(distributions())
def test_the_middle_grain_by_number_is_no_larger_than_by_volume(distribution):
    counted = SizeDistribution(distribution.edges, distribution.number_fractions)
    assert counted.d50.magnitude <= distribution.d50.magnitude * (1 + 1e-9)


def test_a_grain_ten_times_as_large_counts_a_thousandth():
    even = SizeDistribution(Q([1, 10, 100], "um"), np.array([0.5, 0.5]))
    fine, coarse = even.number_fractions
    assert fine / coarse == pytest.approx(1000)


@given(distributions(), st.integers(1, 30), st.floats(0.0, 0.5), st.floats(0.0, 0.5))
def test_rebinning_loses_no_volume_and_keeps_passing_at_the_new_edges(distribution, classes, below, above):
    ends = distribution.edges.magnitude[[0, -1]]
    edges = Q(np.geomspace(ends[0] * np.exp(-below), ends[1] * np.exp(above), classes + 1), "m")
    again = distribution.rebin(edges)
    assert again.fractions.sum() == pytest.approx(1, abs=1e-12)
    np.testing.assert_allclose(
        again.passing(edges[1:-1]).magnitude, distribution.passing(edges[1:-1]).magnitude, atol=1e-12
    )


@given(distributions())
def test_rebinning_onto_finer_edges_and_back_changes_nothing(distribution):
    edges = distribution.edges.magnitude
    finer = Q(np.sort(np.concatenate((edges, np.sqrt(edges[1:] * edges[:-1])))), "m")
    np.testing.assert_allclose(
        distribution.rebin(finer).rebin(distribution.edges).fractions, distribution.fractions, atol=1e-12
    )


def test_what_lies_outside_new_edges_is_kept_and_told():
    with pytest.warns(ValidityWarning, match="30% of the volume is coarser than the last edge"):
        cut = THIRDS.rebin(Q([1, 10, 100], "um"))
    np.testing.assert_allclose(cut.fractions, [0.2, 0.8])


def test_log_edges_have_one_ratio_and_the_asked_ends():
    edges = log_edges(Q(2, "um"), Q(1, "mm"), 7)
    assert edges.shape == (8,)
    np.testing.assert_allclose(edges[[0, -1]].m_as("um"), [2, 1000])
    ratios = edges.magnitude[1:] / edges.magnitude[:-1]
    np.testing.assert_allclose(ratios, ratios[0])


def test_laws_take_arrays_and_rise_from_nothing_to_all():
    sizes = Q(np.geomspace(0.01, 1e4, 50), "um")
    for shares in (
        rosin_rammler_passing(sizes, Q(30, "um"), 1.0).magnitude,
        lognormal_passing(sizes, Q(30, "um"), 2.5).magnitude,
    ):
        assert np.all(np.diff(shares) >= 0)
        assert shares[0] < 0.001
        assert shares[-1] > 0.999
    assert rosin_rammler_passing(Q(1, "um"), Q([20, 30], "um"), [1.0, 2.0]).shape == (2,)


@given(st.floats(10, 200), st.floats(1.0, 3.0))
def test_a_law_by_its_median_has_that_median(median, spread):
    grind = rosin_rammler(log_edges(classes=80), spread, d50=Q(median, "um"))
    assert grind.d50.m_as("um") == pytest.approx(median, rel=0.005)


def test_a_law_by_either_size_is_the_same():
    characteristic = Q(18 / np.log(2) ** (1 / 1.2), "um")
    np.testing.assert_allclose(
        rosin_rammler(log_edges(), 1.2, d50=Q(18, "um")).fractions,
        rosin_rammler(log_edges(), 1.2, characteristic=characteristic).fractions,
        atol=1e-12,
    )


def test_tails_outside_the_edges_are_told():
    with pytest.warns(ValidityWarning, match="finer than the first edge"):
        lognormal(Q([50, 100, 200, 5000], "um"), Q(60, "um"), 2.0)


def test_a_table_comes_back_at_its_own_sizes():
    shares = np.array([0.04, 0.45, 0.80, 0.96, 1.0])
    edges = Q([1.0, *SIEVES.magnitude], "um")
    np.testing.assert_allclose(measured(edges, SIEVES, shares).passing(SIEVES).magnitude, shares, atol=1e-12)
    np.testing.assert_allclose(
        measured(edges, SIEVES, Q(100 * shares, "percent")).passing(SIEVES).magnitude, shares, atol=1e-12
    )


def test_edges_inside_the_table_put_the_rest_at_the_ends():
    shares = np.array([0.0, 0.04, 0.80, 0.97, 1.0])
    inside = measured(Q([20, 45, 75], "um"), SIEVES, shares)
    np.testing.assert_allclose(inside.fractions, [0.80, 0.20])


def test_a_table_that_leaves_much_unmeasured_is_told():
    with pytest.warns(ValidityWarning, match="20% of the volume is finer than the first size of the table"):
        measured(log_edges(), SIEVES, [0.2, 0.5, 0.8, 0.97, 1.0])


@pytest.mark.parametrize("weights", Weights)
@given(st.floats(10, 80), st.floats(0.6, 3.0))
def test_a_fit_to_a_law_finds_the_law(weights, size, spread):
    sieves = Q(size * np.geomspace(0.3, 2.0, 8), "um")
    found = fit_rosin_rammler(sieves, rosin_rammler_passing(sieves, Q(size, "um"), spread), weights)
    assert found.characteristic.m_as("um") == pytest.approx(size, rel=1e-6)
    assert found.spread == pytest.approx(spread, rel=1e-6)
    found = fit_lognormal(sieves, lognormal_passing(sieves, Q(size, "um"), 1 + spread), weights)
    assert found.median.m_as("um") == pytest.approx(size, rel=1e-6)
    assert found.geometric_deviation == pytest.approx(1 + spread, rel=1e-6)
    assert found.misfit < 1e-9


def test_equal_reading_weights_fit_shares_better_than_even_weights():
    shares = np.array([0.02, 0.50, 0.80, 0.97, 0.9999])
    by_reading = fit_rosin_rammler(SIEVES, shares)
    by_ruler = fit_rosin_rammler(SIEVES, shares, Weights.EVEN)
    assert by_reading.misfit < by_ruler.misfit


def test_points_at_nothing_and_all_do_not_spoil_a_fit():
    shares = rosin_rammler_passing(SIEVES, Q(24, "um"), 1.2).magnitude
    shares[-1] = 1.0
    assert fit_rosin_rammler(SIEVES, shares).spread == pytest.approx(1.2)


def test_a_fit_can_be_put_on_edges():
    fit = fit_rosin_rammler(SIEVES, rosin_rammler_passing(SIEVES, Q(24, "um"), 1.2))
    np.testing.assert_allclose(fit.on(log_edges()).fractions, typical_barite().fractions, atol=1e-9)
    fit = fit_lognormal(SIEVES, lognormal_passing(SIEVES, Q(18, "um"), 2.5))
    np.testing.assert_allclose(fit.on(log_edges()).fractions, typical_drilled_fines().fractions, atol=1e-9)


def test_a_grind_at_its_limits_is_within_and_beyond_them_is_not():
    edges = Q([1, 6, 75, 100], "um")
    assert barite_grind(SizeDistribution(edges, np.array([0.30, 0.67, 0.03]))).within
    coarse = barite_grind(SizeDistribution(edges, np.array([0.10, 0.86, 0.04])))
    assert (coarse.coarse_within, coarse.fine_within, coarse.within) == (False, True, False)
    fine = barite_grind(SizeDistribution(edges, np.array([0.31, 0.67, 0.02])))
    assert (fine.coarse_within, fine.fine_within, fine.within) == (True, False, False)


def test_typical_solids_run_from_barite_to_cuttings_and_take_other_edges():
    assert typical_barite().d50 < typical_cuttings().d50
    assert typical_drilled_fines(log_edges(Q(0.2, "um"), Q(2, "mm"), 30)).fractions.shape == (30,)


@pytest.mark.parametrize(
    ("edges", "fractions", "message"),
    [
        ([1.0, 2.0], [1.0], "edges must be a quantity"),
        (Q([1, 2], "kg"), [1.0], r"edges must have a unit of \[length\]"),
        (Q(3, "um"), [1.0], "at least two edges"),
        (Q([0, 1], "um"), [1.0], "above zero"),
        (Q([2, 1], "um"), [1.0], "must grow"),
        (Q([1, float("nan")], "m"), [1.0], "finite"),
        (Q([1, float("inf")], "m"), [1.0], "finite"),
        (Q([1, 2], "um"), [0.5, 0.5], "2 edges make 1 size classes"),
        (Q([1, 2, 3], "um"), [1.5, -0.5], "not negative"),
        (Q([1, 2, 3], "um"), [0.5, float("nan")], "finite"),
        (Q([1, 2, 3], "um"), [0.5, 0.4], "add up to 1, not 0.9"),
    ],
)
def test_what_is_no_distribution_is_refused(edges, fractions, message):
    with pytest.raises(CalculationError, match=message):
        SizeDistribution(edges, np.array(fractions))


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: THIRDS.passing(Q(0, "um")), "size must be above zero"),
        (lambda: THIRDS.passing(Q(1, "kg")), r"unit of \[length\]"),
        (lambda: THIRDS.quantile(50), "from 0 to 100 %"),
        (lambda: log_edges(Q(5, "um"), Q(1, "um")), "largest size"),
        (lambda: log_edges(classes=0), "at least one size class"),
        (lambda: rosin_rammler(EDGES, 1.0), "either the characteristic size or d50"),
        (lambda: rosin_rammler(EDGES, 1.0, d50=Q(1, "um"), characteristic=Q(1, "um")), "either"),
        (lambda: rosin_rammler(EDGES, 0.0, d50=Q(1, "um")), "spread must be above zero"),
        (lambda: lognormal(EDGES, Q(10, "um"), 1.0), "deviation must be above 1"),
        (lambda: measured(EDGES, SIEVES, [0.1, 0.2]), "two rows of one length"),
        (lambda: measured(EDGES, SIEVES, [0.9, 0.7, 0.5, 0.2, 0.1]), "share finer, not the share held"),
        (lambda: measured(EDGES, SIEVES, [1, 20, 50, 90, 100]), "from 0 to 100 %"),
        (lambda: measured(EDGES, Q([6, 6], "um"), [0.1, 0.2]), "must be above zero and grow"),
        (lambda: fit_rosin_rammler(SIEVES, [0, 0, 0.5, 1, 1]), "at least two sizes"),
        (lambda: fit_lognormal(SIEVES, [0.5, 0.5, 0.5, 0.5, 0.5]), "does not rise"),
        (lambda: barite_grind(SizeDistribution(Q([10, 100], "um"), np.array([1.0]))), "must reach from below 6 um"),
    ],
)
def test_impossible_input_is_refused_in_words(call, message):
    with pytest.raises(CalculationError, match=message):
        call()
