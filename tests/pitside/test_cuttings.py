"""Base fluid on cuttings: balances that close, limits, arrays; the powers of the drying model; what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.cuttings import (
    DISCHARGE_LIMITS,
    LEVERETT_ENTRY,
    Basis,
    Bed,
    Liquid,
    base_fluid_lost,
    bed_permeability,
    bond_number,
    closes,
    closure,
    drained_cuttings,
    dry_basis,
    dry_from_wet,
    film_thickness,
    held_height,
    last_section_limit,
    mud_lost,
    well_average,
    wet_basis,
    wet_from_dry,
)
from pitside.errors import CalculationError, ValidityWarning
from pitside.units import GRAVITY, Q

BED = Bed(Q(500, "um"), 0.4, Q(15, "mm"), Q(2600, "kg/m**3"))
OIL = Liquid(Q(800, "kg/m**3"), Q(5, "mPa*s"), Q(25, "mN/m"))
TIME = Q(10, "s")
RETORT = (Q(100.0, "g"), Q(82.5, "g"), Q(12.0, "mL"), Q(0.79, "g/mL"), Q(8.0, "mL"))
shares = st.floats(0.0, 0.45)


def test_wet_and_dry_of_one_sample_turn_into_each_other():
    rock, fluid, water = Q(82.5, "g"), Q(9.5, "g"), Q(8.0, "g")
    whole = rock + fluid + water
    volume = fluid / Q(0.79, "g/mL")
    wet = wet_basis(volume, Q(0.79, "g/mL"), whole)
    dry = dry_basis(volume, Q(0.79, "g/mL"), rock)
    assert dry_from_wet(wet, water / whole).magnitude == pytest.approx(dry.magnitude)
    assert wet_from_dry(dry, water / whole).magnitude == pytest.approx(wet.magnitude)


@given(shares, shares)
def test_bases_are_ways_back_from_each_other(wet, water):
    assert wet_from_dry(dry_from_wet(wet, water), water).magnitude == pytest.approx(wet, abs=1e-12)


@given(shares, shares)
def test_the_dry_figure_is_never_the_smaller(wet, water):
    assert dry_from_wet(wet, water).magnitude >= wet


def test_a_retort_that_keeps_all_closes_at_one():
    found = closure(Q(100, "g"), Q(82, "g"), Q(12.5, "mL"), Q(0.8, "g/mL"), Q(8, "mL"))
    assert found.magnitude == pytest.approx(1.0)


def test_retorts_come_as_arrays():
    found = closure(*RETORT[:2], Q([12.0, 20.0], "mL"), *RETORT[3:])
    assert found.shape == (2,)
    np.testing.assert_array_equal(closes(found), [True, False])


@pytest.mark.parametrize(
    ("percent", "good"), [(94.99, False), (95.0, True), (100.0, True), (105.0, True), (105.01, False)]
)
def test_closure_limits_belong_to_the_good_side(percent, good):
    assert closes(Q(percent, "percent")) is good


@given(st.lists(st.tuples(shares, st.floats(1.0, 500.0)), min_size=1, max_size=6))
def test_an_average_lies_within_its_sections_and_carries_their_fluid(sections):
    fluid, masses = np.array(sections).T
    average = well_average(fluid, Q(masses, "t"))
    assert fluid.min() - 1e-12 <= average.magnitude <= fluid.max() + 1e-12
    assert (average * Q(masses, "t").sum()).m_as("t") == pytest.approx((fluid * masses).sum())


def test_equal_sections_average_plainly_and_unequal_ones_do_not():
    assert well_average([0.05, 0.11], Q([100, 100], "t")).magnitude == pytest.approx(0.08)
    assert well_average([0.05, 0.11], Q([300, 100], "t")).magnitude == pytest.approx(0.065)


@given(st.lists(st.tuples(st.floats(0.0, 0.069), st.floats(1.0, 500.0)), min_size=1, max_size=5), st.floats(1.0, 500.0))
def test_a_last_section_at_its_limit_puts_the_well_at_the_limit(sections, last):
    fluid, masses = np.array(sections).T
    most = last_section_limit(0.069, fluid, Q(masses, "t"), Q(last, "t"))
    whole = well_average(np.append(fluid, most.magnitude), Q(np.append(masses, last), "t"))
    assert whole.magnitude == pytest.approx(0.069)


def test_a_well_past_saving_is_told():
    with pytest.raises(CalculationError, match="even dry cuttings would not mend it"):
        last_section_limit(Q(6.9, "percent"), Q([12.0], "percent"), Q([400], "t"), Q(100, "t"))


def test_limits_say_their_basis_and_how_far_they_are_known():
    assert {limit.basis for limit in DISCHARGE_LIMITS.values()} == {Basis.WET, Basis.DRY}
    assert all("from memory" in limit.source for limit in DISCHARGE_LIMITS.values())


def test_what_is_lost_adds_up():
    mass, volume = base_fluid_lost(Q([100, 200], "t"), Q(10, "percent"), Q(800, "kg/m**3"))
    np.testing.assert_allclose(mass.m_as("t"), [10, 20])
    np.testing.assert_allclose(volume.m_as("m**3"), [12.5, 25])
    np.testing.assert_allclose(mud_lost(volume, Q(50, "percent")).m_as("m**3"), [25, 50])


def test_permeability_goes_with_size_squared():
    once = bed_permeability(Q(100, "um"), 0.4)
    assert bed_permeability(Q(200, "um"), 0.4).magnitude == pytest.approx(4 * once.magnitude)
    assert str(once.units) == "m²"


@given(st.floats(1.0, 500.0))
def test_held_height_goes_with_one_over_g_and_film_with_its_root(g):
    liquid = OIL.density, OIL.surface_tension
    height = held_height(BED.size, BED.porosity, *liquid).magnitude
    assert held_height(BED.size, BED.porosity, *liquid, g * GRAVITY).magnitude == pytest.approx(height / g)
    film = film_thickness(OIL.viscosity, BED.depth, OIL.density, TIME).magnitude
    harder = film_thickness(OIL.viscosity, BED.depth, OIL.density, TIME, g * GRAVITY).magnitude
    assert harder == pytest.approx(film / g**0.5)


def test_held_height_is_that_of_a_bond_number():
    """Kozeny and Carman's bed: height / size = 0.4 * sqrt(180) * (1 - porosity) / porosity / Bo."""
    height = held_height(BED.size, BED.porosity, OIL.density, OIL.surface_tension)
    bond = bond_number(BED.size, OIL.density, OIL.surface_tension)
    expected = LEVERETT_ENTRY * 180**0.5 * (1 - BED.porosity) / BED.porosity / bond.magnitude
    assert (height / BED.size).m_as("") == pytest.approx(expected)


def kept(g, **changes):
    return drained_cuttings(changes.get("bed", BED), OIL, changes.get("time", TIME), g * GRAVITY, 0.08)


@given(st.floats(1.0, 300.0), st.floats(1.01, 3.0))
def test_more_g_never_leaves_more_liquid(g, times):
    assert kept(g * times).dry_ratio.magnitude <= kept(g).dry_ratio.magnitude * (1 + 1e-12)


@given(st.floats(1.0, 300.0), st.floats(5.0, 100.0))
def test_a_drained_bed_holds_no_more_than_its_pores(g, seconds):
    room = (OIL.density / BED.grain_density).m_as("") * BED.porosity / (1 - BED.porosity)
    found = kept(g, time=Q(seconds, "s"))
    assert 0 < found.dry_ratio.magnitude <= room * (1 + 1e-12)
    assert found.held.magnitude >= 0


def test_a_bed_lower_than_the_height_held_stays_full():
    shallow = Bed(BED.size, BED.porosity, Q(5, "mm"), BED.grain_density)
    found = kept(1.0, bed=shallow)
    room = (OIL.density / BED.grain_density).m_as("") * BED.porosity / (1 - BED.porosity)
    assert found.held.magnitude == pytest.approx(room)
    assert found.film.magnitude == found.pendular.magnitude == 0


def test_at_very_high_g_only_the_drops_stay():
    found = kept(1e7)
    drops = (0.08 * OIL.density / BED.grain_density * BED.porosity / (1 - BED.porosity)).m_as("")
    assert found.pendular.magnitude == pytest.approx(drops, rel=1e-4)
    assert found.dry_ratio.magnitude == pytest.approx(drops, rel=0.02)


def test_more_g_gains_less_and_less():
    gains = -np.diff(kept(np.array([7.5, 15.0, 30.0, 60.0, 120.0])).dry_ratio.magnitude)
    assert np.all(gains > 0)
    assert np.all(np.diff(gains) < 0)


def test_fine_cuttings_keep_more():
    fine = Bed(BED.size / 2, BED.porosity, BED.depth, BED.grain_density)
    assert kept(75.0, bed=fine).dry_ratio > kept(75.0).dry_ratio


def test_a_film_as_thick_as_the_grains_is_told():
    thick = Liquid(OIL.density, Q(200, "mPa*s"), OIL.surface_tension)
    with pytest.warns(ValidityWarning, match="the film is thicker than 10%"):
        drained_cuttings(BED, thick, Q(1, "s"), 7.5 * GRAVITY)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: wet_basis(Q(12, "mL"), Q(0.79, "g/mL"), Q(9, "g")), "more base fluid than the whole sample"),
        (lambda: wet_basis(Q(-1, "mL"), Q(0.79, "g/mL"), Q(9, "g")), "must not be negative"),
        (lambda: wet_basis(Q(12, "g"), Q(0.79, "g/mL"), Q(100, "g")), r"unit of \[volume\]"),
        (lambda: dry_basis(Q(12, "mL"), Q(0.79, "g/mL"), Q(0, "g")), "dry mass must be above zero"),
        (lambda: dry_from_wet(0.6, 0.4), "leave no cuttings"),
        (lambda: dry_from_wet(-0.1, 0.4), "must not be negative"),
        (lambda: wet_from_dry(0.1, 1.0), "water must be at least 0 and below 100 %"),
        (lambda: closure(*RETORT[:4], Q(-1, "mL")), "must not be negative"),
        (lambda: well_average([0.1, 0.2], Q([1.0], "t")), "one mass for each"),
        (lambda: well_average([0.1, 0.2], Q([0.0, 0.0], "t")), "without cuttings"),
        (lambda: well_average([0.1, -0.2], Q([1.0, 1.0], "t")), "must not be negative"),
        (lambda: last_section_limit(0.069, [0.05], Q([1.0], "t"), Q(0, "t")), "last mass must be above zero"),
        (lambda: base_fluid_lost(Q(-1, "t"), 0.1, Q(800, "kg/m**3")), "must not be negative"),
        (lambda: mud_lost(Q(1, "bbl"), 0.0), "above 0 to 100 %"),
        (lambda: bed_permeability(Q(1, "mm"), 1.0), "between 0 and 100 %"),
        (lambda: bond_number(Q(1, "mm"), OIL.density, Q(0, "mN/m")), "surface tension must be above zero"),
        (lambda: film_thickness(OIL.viscosity, BED.depth, OIL.density, Q(0, "s")), "time must be above zero"),
        (lambda: drained_cuttings(BED, OIL, TIME, pendular=1.0), "pendular share"),
        (
            lambda: drained_cuttings(Bed(BED.size, 0.4, Q(-1, "mm"), BED.grain_density), OIL, TIME),
            "must be above zero",
        ),
        (
            lambda: drained_cuttings(Bed(BED.size, 0.4, BED.depth, Q(0, "kg/m**3")), OIL, TIME),
            "grain density must be above zero",
        ),
    ],
)
def test_impossible_input_is_refused_in_words(call, message):
    with pytest.raises(CalculationError, match=message):
        call()
