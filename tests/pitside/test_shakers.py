"""Shakers: round trips, motion by geometry, the transport model's limits, balances, what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.errors import CalculationError, ValidityWarning
from pitside.shakers import (
    Sense,
    deck_g,
    deck_load,
    g_factor,
    g_factor_field,
    mass_rate,
    sample_time,
    shakers_needed,
    speed_for_g,
    stroke_for_g,
    through_rate,
    transport_velocity,
)
from pitside.units import GRAVITY, Q

STROKE, SPEED, ANGLE = Q(4.0, "mm"), Q(1500, "rpm"), Q(45, "deg")
strokes, speeds, angles = st.floats(1.0, 8.0), st.floats(600.0, 3600.0), st.floats(5.0, 85.0)


@given(strokes, speeds)
def test_speed_and_stroke_come_back_from_g(stroke, speed):
    g = g_factor(Q(stroke, "mm"), Q(speed, "rpm"))
    assert speed_for_g(Q(stroke, "mm"), g).m_as("rpm") == pytest.approx(speed)
    assert stroke_for_g(Q(speed, "rpm"), g).m_as("mm") == pytest.approx(stroke)


@given(strokes, speeds)
def test_the_field_constant_is_a_tenth_of_a_percent_low(stroke, speed):
    motion = Q(stroke, "mm"), Q(speed, "rpm")
    assert g_factor_field(*motion).magnitude / g_factor(*motion).magnitude == pytest.approx(0.99892, abs=2e-5)


def test_g_goes_with_stroke_and_speed_squared():
    once = g_factor(STROKE, SPEED).magnitude
    assert g_factor(2 * STROKE, SPEED).magnitude == pytest.approx(2 * once)
    assert g_factor(STROKE, 2 * SPEED).magnitude == pytest.approx(4 * once)


def test_arrays_give_what_their_elements_give():
    found = g_factor(Q([3, 4, 5], "mm"), Q([1500, 1600, 1700], "rpm"))
    one_by_one = [g_factor(Q(a, "mm"), Q(b, "rpm")).magnitude for a, b in ((3, 1500), (4, 1600), (5, 1700))]
    np.testing.assert_allclose(found.magnitude, one_by_one)
    across, along = deck_g(Q([3, 4], "mm"), SPEED, Q([30, 60], "deg"))
    assert across.shape == along.shape == (2,)


@pytest.mark.parametrize("speed", [Q(1500, "rpm"), Q(25, "turn/s"), Q(50 * math.pi, "rad/s"), Q(50 * math.pi, "1/s")])
def test_a_speed_is_the_same_in_rpm_turns_and_radians(speed):
    assert g_factor(STROKE, speed).magnitude == pytest.approx(g_factor(STROKE, SPEED).magnitude)


@pytest.mark.parametrize(
    "call",
    [
        lambda speed: g_factor(STROKE, speed),
        lambda speed: g_factor_field(stroke=STROKE, speed=speed),
        lambda speed: stroke_for_g(speed, 7.0),
        lambda speed: deck_g(STROKE, speed, ANGLE),
        lambda speed: transport_velocity(STROKE, speed, ANGLE),
    ],
)
@pytest.mark.parametrize("unit", ["Hz", "kHz"])
def test_hertz_are_refused_before_they_are_taken_for_radians(call, unit):
    with pytest.raises(CalculationError, match="rpm, not in hertz"):
        call(Q(25, unit))


@given(strokes, speeds, angles)
def test_linear_motion_splits_by_sine_and_cosine(stroke, speed, angle):
    motion = Q(stroke, "mm"), Q(speed, "rpm")
    whole = g_factor(*motion).magnitude
    across, along = (part.magnitude for part in deck_g(*motion, Q(angle, "deg")))
    assert across == pytest.approx(whole * math.sin(math.radians(angle)))
    assert along == pytest.approx(whole * math.cos(math.radians(angle)))


@given(strokes, speeds, angles)
def test_circular_motion_pulls_alike_every_way(stroke, speed, angle):
    motion = Q(stroke, "mm"), Q(speed, "rpm")
    for part in deck_g(*motion, Q(angle, "deg"), Q(stroke, "mm")):
        assert part.magnitude == pytest.approx(g_factor(*motion).magnitude)


@given(strokes, st.floats(0.0, 1.0), angles)
def test_an_ellipse_lies_between_line_and_circle(stroke, roundness, angle):
    parts = deck_g(Q(stroke, "mm"), SPEED, Q(angle, "deg"), Q(stroke * roundness, "mm"))
    line = deck_g(Q(stroke, "mm"), SPEED, Q(angle, "deg"))
    whole = g_factor(Q(stroke, "mm"), SPEED).magnitude
    for part, least in zip(parts, line, strict=True):
        assert least.magnitude * (1 - 1e-9) <= part.magnitude <= whole * (1 + 1e-9)


def test_an_ellipse_across_the_deck_has_its_axes_for_parts():
    across, along = deck_g(STROKE, SPEED, Q(90, "deg"), STROKE / 4)
    assert across.magnitude == pytest.approx(g_factor(STROKE, SPEED).magnitude)
    assert along.magnitude == pytest.approx(g_factor(STROKE / 4, SPEED).magnitude)


def stroke_of(throw: float, angle=ANGLE, speed=SPEED):
    """Stroke of linear motion with a throw number on a level deck."""
    return stroke_for_g(speed, throw / math.sin(angle.m_as("rad")))


@pytest.mark.parametrize("throw", [0.2, 0.99, 1.0])
def test_a_deck_that_does_not_throw_does_not_carry(throw):
    assert transport_velocity(stroke_of(throw), SPEED, ANGLE).m_as("m/s") == pytest.approx(0, abs=1e-12)


def test_a_deck_that_barely_throws_barely_carries():
    slow = [transport_velocity(stroke_of(throw), SPEED, ANGLE).m_as("m/s") for throw in (1.0001, 1.001, 1.01, 1.1)]
    assert 0 < slow[0] < 1e-4
    assert slow == sorted(slow)


@given(st.floats(1.05, 3.29), angles)
def test_one_hop_a_turn_carries_no_further_than_the_classic_limit(throw, angle):
    angle = Q(angle, "deg")
    limit = (GRAVITY / (2 * math.tan(angle.m_as("rad")) * Q(25, "1/s"))).m_as("m/s")
    found = transport_velocity(stroke_of(throw, angle), SPEED, angle).m_as("m/s")
    assert 0 < found <= limit * (1 + 1e-9)


@given(st.floats(1.05, 9.0))
def test_velocity_at_one_throw_number_goes_with_one_over_speed(throw):
    slow = transport_velocity(stroke_of(throw), SPEED, ANGLE).magnitude
    fast = transport_velocity(stroke_of(throw, speed=2 * SPEED), 2 * SPEED, ANGLE).magnitude
    assert fast == pytest.approx(slow / 2, rel=1e-6)


def test_climbing_slows_and_falling_speeds():
    up, level, down = (
        transport_velocity(Q(3.2, "mm"), SPEED, ANGLE, Q(slope, "deg")).magnitude for slope in (5, 0, -5)
    )
    assert up < level < down


def test_circular_motion_carries_the_way_it_turns_at_the_top():
    circle = Q(4.0, "mm")
    forward = transport_velocity(circle, SPEED, ANGLE, minor_stroke=circle, sense=Sense.FORWARD).magnitude
    backward = transport_velocity(circle, SPEED, ANGLE, minor_stroke=circle, sense=Sense.BACKWARD).magnitude
    assert forward > 0
    assert backward == pytest.approx(-forward)


def test_linear_motion_has_no_sense():
    ways = [transport_velocity(STROKE, SPEED, ANGLE, sense=sense).magnitude for sense in Sense]
    assert ways[0] == ways[1]


def test_straight_up_carries_nowhere_on_a_level_deck():
    assert transport_velocity(STROKE, SPEED, Q(90, "deg")).m_as("m/s") == pytest.approx(0, abs=1e-12)


def test_a_stroke_along_the_deck_never_throws():
    assert transport_velocity(STROKE, SPEED, Q(0, "deg")).magnitude == 0


def test_velocities_come_as_arrays():
    sizes = Q([2.0, 3.0, 4.0], "mm")
    found = transport_velocity(sizes, SPEED, ANGLE)
    one_by_one = [transport_velocity(size, SPEED, ANGLE).magnitude for size in sizes]
    np.testing.assert_allclose(found.magnitude, one_by_one)
    assert str(found.units) == "m/s"


def test_hops_of_more_than_three_turns_are_told():
    with pytest.warns(ValidityWarning, match=r"throw number 10\.0"):
        transport_velocity(stroke_of(10.0), SPEED, ANGLE)


def test_streams_of_a_shaker_add_up():
    arriving, discard = mass_rate(Q(560, "gal/min"), Q(8.9, "lb/gal")), Q(18.4, "lb/min")
    through = through_rate(arriving, discard)
    assert (through + discard).magnitude == pytest.approx(arriving.magnitude)
    assert (sample_time(Q(39.7, "lb"), through) * through).m_as("lb") == pytest.approx(39.7)


def test_the_load_of_a_deck_is_width_by_velocity_by_depth_by_packing():
    load = deck_load(Q(1.0, "m"), Q(0.2, "m/s"), Q(10, "mm"), Q(40, "percent"))
    assert load.m_as("L/s") == pytest.approx(0.8)


@pytest.mark.parametrize(
    ("flow", "solids", "count"),
    [(1000, 10, 4), (1001, 10, 5), (250, 10, 1), (250, 26, 3), (0, 0, 0)],
)
def test_the_number_of_shakers_is_the_larger_need(flow, solids, count):
    each = Q(250, "gal/min"), Q(10, "bbl/h")
    found = shakers_needed(Q(flow, "gal/min"), each[0], Q(solids, "bbl/h"), each[1])
    assert found.magnitude == count
    assert shakers_needed(Q(flow, "gal/min"), each[0], Q(solids, "bbl/h"), each[1], spare=1).magnitude == count + 1


@given(st.integers(1, 20), st.floats(10.0, 500.0))
def test_a_flow_of_so_many_times_one_shaker_takes_so_many(count, each):
    flow = Q(count * each, "gal/min")
    assert shakers_needed(flow, Q(each, "gal/min").to("m**3/h"), Q(0, "bbl/h"), Q(1, "bbl/h")).magnitude == count


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: g_factor(Q(0, "mm"), SPEED), "stroke must be above zero"),
        (lambda: g_factor(STROKE, 1500), r"unit of \[frequency\]"),
        (lambda: speed_for_g(STROKE, -7.0), "g must be above zero"),
        (lambda: deck_g(STROKE, SPEED, 45), "give it with its unit"),
        (lambda: deck_g(STROKE, SPEED, Q(120, "deg")), "0 to 90 degrees"),
        (lambda: deck_g(STROKE, SPEED, ANGLE, 2 * STROKE), "minor stroke"),
        (lambda: transport_velocity(STROKE, SPEED, ANGLE, Q(50, "deg")), "below 45 degrees"),
        (lambda: deck_load(Q(1, "m"), Q(1, "m/s"), Q(1, "cm"), 1.5), "not above 100 %"),
        (lambda: mass_rate(Q(0, "gal/min"), Q(9, "lb/gal")), "flow must be above zero"),
        (lambda: through_rate(Q(1, "lb/min"), Q(2, "lb/min")), "more is discarded than arrives"),
        (lambda: through_rate(Q(1, "lb/min"), Q(-2, "lb/min")), "must not be negative"),
        (lambda: sample_time(Q(0, "lb"), Q(1, "lb/min")), "sample must be above zero"),
        (
            lambda: shakers_needed(Q(1, "gal/min"), Q(0, "gal/min"), Q(1, "bbl/h"), Q(1, "bbl/h")),
            "flow each must be above zero",
        ),
        (
            lambda: shakers_needed(Q(1, "gal/min"), Q(1, "gal/min"), Q(-1, "bbl/h"), Q(1, "bbl/h")),
            "must not be negative",
        ),
        (
            lambda: shakers_needed(Q(1, "gal/min"), Q(1, "gal/min"), Q(1, "bbl/h"), Q(1, "bbl/h"), spare=-1),
            "fewer than none",
        ),
    ],
)
def test_impossible_input_is_refused_in_words(call, message):
    with pytest.raises(CalculationError, match=message):
        call()
