"""How the scroll carries the cake: directions, limits, and values found another way."""

from __future__ import annotations

import math

import pytest

from pitside import CalculationError
from pitside.scrolls import cake_depth, carrying_velocity, differential_speed, dry_beach
from pitside.units import Q

CAKE = (Q(1, "m**3/h"), Q(0.02, "m/s"), Q(356, "mm"))


def test_a_pinion_that_turns_with_the_bowl_takes_the_differential_away():
    fixed, half, with_it = (differential_speed(Q(1800, "rpm"), Q(pinion, "rpm"), 60) for pinion in (0, 900, 1800))
    assert fixed.m_as("rpm") == pytest.approx(30)
    assert half.m_as("rpm") == pytest.approx(15)
    assert with_it.m_as("rpm") == pytest.approx(0)


def test_a_pinion_faster_than_the_bowl_gives_a_differential_of_the_same_size():
    slow, fast = (differential_speed(Q(2000, "rpm"), Q(pinion, "rpm"), 50) for pinion in (1500, 2500))
    assert fast.m_as("rpm") == pytest.approx(slow.m_as("rpm"))


@pytest.mark.parametrize("speed", [Q(30, "rpm"), Q(0.5, "Hz"), Q(math.pi, "rad/s")])
def test_the_cake_goes_one_pitch_for_each_turn_however_speed_is_given(speed):
    assert carrying_velocity(speed, Q(100, "mm")).m_as("mm/s") == pytest.approx(50)


def test_the_ring_of_cake_holds_what_passes():
    depth = cake_depth(*CAKE).m_as("m")
    ring = math.pi * (0.178**2 - (0.178 - depth) ** 2)
    assert ring * 0.02 * 3600 == pytest.approx(1)


def test_half_the_differential_makes_the_cake_about_twice_as_deep():
    rate, velocity, diameter = CAKE
    assert 2 < (cake_depth(rate, velocity / 2, diameter) / cake_depth(*CAKE)).m_as("") < 2.2


def test_a_deeper_pond_leaves_less_beach_and_then_none():
    beaches = [dry_beach(Q(14, "in"), Q(pond, "in"), Q(8, "in"), Q(10, "deg")).m_as("in") for pond in (1, 2, 3, 3.5)]
    assert beaches[:2] == pytest.approx([2 / math.tan(math.radians(10)), 1 / math.tan(math.radians(10))])
    assert beaches[2] == pytest.approx(0)
    assert beaches[3] < 0


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: differential_speed(Q(1800, "rpm"), Q(0, "rpm"), 1), "ratio of the gearbox must be above 1"),
        (lambda: differential_speed(Q(-1, "rpm"), Q(0, "rpm"), 50), "must not be negative"),
        (lambda: carrying_velocity(Q(20, "rpm"), Q(0, "mm")), "pitch of the scroll must be above zero"),
        (lambda: cake_depth(Q(200, "m**3/h"), Q(0.02, "m/s"), Q(356, "mm")), "more cake than the bowl has room for"),
        (lambda: cake_depth(CAKE[0], Q(0, "m/s"), CAKE[2]), "velocity must be above zero"),
        (lambda: dry_beach(Q(14, "in"), Q(2, "in"), Q(14, "in"), Q(10, "deg")), "narrower than the bowl"),
        (lambda: dry_beach(Q(14, "in"), Q(2, "in"), Q(8, "in"), Q(50, "deg")), "flatter than 45 degrees"),
    ],
)
def test_impossible_input_is_refused_in_words(call, message):
    with pytest.raises(CalculationError, match=message):
        call()
