"""Power and life cost: limits, discounting, draws and what they say, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitside.cost import (
    Train,
    Uncertain,
    break_even_time,
    compare_trains,
    life_cost,
    worth_of_yearly_cost,
)
from pitside.errors import CalculationError
from pitside.power import energy, energy_cost, supply_power
from pitside.units import Q

PRICE, LIFE = Q(0.20, "money/kWh"), Q(8, "year")
MONEY, HP, SERVICE = Q(300_000, "money"), Q(50, "hp"), Q(60, "money/day")
TRAIN = Train("cyclones", MONEY, HP, SERVICE, load_factor=0.8)


def test_results_are_in_si():
    cost = life_cost(TRAIN, LIFE, PRICE)
    values = [supply_power(HP, 0.9), energy(HP), energy_cost(energy(HP), PRICE), cost.total, cost.energy]
    assert [str(value.units) for value in values] == ["W", "J", "money", "money", "money"]
    assert str(break_even_time(TRAIN, TRAIN, PRICE).units) == "s"


@given(st.floats(1, 500), st.floats(0, 1), st.floats(0, 1), st.floats(0, 30))
def test_energy_is_power_over_the_time_it_is_drawn(power, load, running, days):
    found = energy(Q(power, "kW"), load, Q(days, "day"), running).m_as("kWh")
    assert found == pytest.approx(power * load * running * days * 24)
    assert energy_cost(Q(found, "kWh"), PRICE).magnitude == pytest.approx(found * 0.20)


def test_a_motor_draws_more_than_it_gives():
    assert supply_power(Q(50, "kW"), Q([80, 100], "percent")).m_as("kW") == pytest.approx([62.5, 50])


@given(st.floats(0, 0.5), st.integers(0, 40))
def test_worth_is_the_sum_of_what_each_year_is_worth(rate, years):
    summed = sum((1 + rate) ** -year for year in range(1, years + 1))
    found = worth_of_yearly_cost(rate, Q(years, "year")).m_as("year")
    assert found == pytest.approx(summed, rel=1e-9, abs=1e-9)


def test_worth_takes_arrays():
    worth = worth_of_yearly_cost(Q([0, 10], "percent"), Q([[5], [10]], "year")).m_as("year")
    np.testing.assert_allclose(worth, [[5, 3.790787], [10, 6.144567]], rtol=1e-6)


@given(st.floats(0, 0.4), st.floats(0, 1))
def test_the_parts_make_the_total(rate, running):
    cost = life_cost(TRAIN, LIFE, PRICE, running, rate)
    parts = cost.capital.magnitude + cost.energy.magnitude + cost.service.magnitude
    assert cost.total.magnitude == pytest.approx(parts)
    assert cost.total <= life_cost(TRAIN, LIFE, PRICE, running).total * (1 + 1e-12)
    assert cost.energy.magnitude == pytest.approx(running * life_cost(TRAIN, LIFE, PRICE, 1.0, rate).energy.magnitude)


@given(st.floats(1e3, 1e6), st.floats(1, 1000), st.floats(0, 0.3))
def test_at_break_even_both_have_cost_as_much(capital, saved, rate):
    bought = Train("bought", Q(capital, "money"), HP, Q(0, "money/day"))
    hired = Train("hired", Q(0, "money"), HP, Q(saved, "money/day"))
    time = break_even_time(bought, hired, PRICE, discount_rate=rate)
    if np.isfinite(time.magnitude):
        costs = [life_cost(train, time, PRICE, discount_rate=rate).total.magnitude for train in (bought, hired)]
        assert costs[0] == pytest.approx(costs[1], rel=1e-6)
    else:
        for_ever = Q(1e4, "year")
        bought_cost, hired_cost = (
            life_cost(train, for_ever, PRICE, discount_rate=rate).total for train in (bought, hired)
        )
        assert bought_cost >= hired_cost * (1 - 1e-9)


def test_break_even_when_there_is_nothing_to_wait_for_and_when_waiting_is_in_vain():
    cheap = Train("cheap", Q(1, "money"), HP, Q(0, "money/day"))
    dear = Train("dear", Q(2, "money"), HP, Q(9, "money/day"))
    assert break_even_time(cheap, dear, PRICE).magnitude == 0
    assert break_even_time(dear, cheap, PRICE).magnitude == np.inf
    assert break_even_time(cheap, cheap, PRICE).magnitude == 0


def test_discounting_that_outruns_the_savings_leaves_no_break_even():
    bought = Train("bought", Q(100, "money"), HP, Q(0, "money/year"))
    hired = Train("hired", Q(0, "money"), HP, Q(9, "money/year"))
    assert break_even_time(bought, hired, PRICE, discount_rate=0.10).magnitude == np.inf
    assert np.isfinite(break_even_time(bought, hired, PRICE, discount_rate=0.08).magnitude)


def test_one_call_works_out_what_a_loop_does():
    generator = np.random.default_rng(1)
    capital = Q(generator.uniform(1e5, 4e5, 50), "money")
    power = Q(generator.uniform(40, 60, 50), "hp")
    price = Q(generator.uniform(0.1, 0.3, 50), "money/kWh")
    many = compare_trains(Train("many", capital, power, SERVICE), TRAIN, LIFE, price, 0.6, 0.07)
    for draw in range(0, 50, 7):
        one = compare_trains(Train("one", capital[draw], power[draw], SERVICE), TRAIN, LIFE, price[draw], 0.6, 0.07)
        assert many.difference[draw].magnitude == pytest.approx(one.difference.magnitude)
        assert many.break_even[draw].magnitude == pytest.approx(one.break_even.magnitude)


def test_draws_keep_to_their_triangle_and_to_their_generator():
    figure = Uncertain(Q(175, "hp"), Q(180, "hp"), Q(200, "hp"))
    drawn = figure.draw(np.random.default_rng(3), 40_000).m_as("hp")
    assert drawn.min() >= 175
    assert drawn.max() <= 200
    assert drawn.mean() == pytest.approx(figure.mean.m_as("hp"), abs=0.1)  # four standard errors
    again = figure.draw(np.random.default_rng(3), 40_000).m_as("hp")
    np.testing.assert_array_equal(drawn, again)


def test_a_figure_that_is_known_is_drawn_as_it_is():
    known = Uncertain(Q(5, "money"), Q(5, "money"), Q(5, "money")).draw(np.random.default_rng(3), 4)
    np.testing.assert_array_equal(known.m_as("money"), [5, 5, 5, 5])


def test_limits_of_a_figure_may_be_in_other_units():
    drawn = Uncertain(Q(1, "kW"), Q(1.5, "kW"), Q(2000, "W")).draw(np.random.default_rng(3), 10)
    assert np.all((drawn.m_as("kW") >= 1) & (drawn.m_as("kW") <= 2))


def test_a_comparison_tells_its_band_and_how_often_the_train_is_cheaper():
    capital = Uncertain(Q(1e5, "money"), Q(2e5, "money"), Q(6e5, "money")).draw(np.random.default_rng(5), 4000)
    comparison = compare_trains(Train("unsure", capital, HP, SERVICE, 0.8), TRAIN, LIFE, PRICE)
    low, median, high = (value.m_as("money") for value in comparison.band(0.8))
    difference = comparison.difference.m_as("money")
    assert np.mean((difference >= low) & (difference <= high)) == pytest.approx(0.8, abs=0.001)
    assert np.mean(difference < median) == pytest.approx(0.5, abs=0.001)
    assert comparison.share_cheaper == np.mean(capital.m_as("money") < 300_000)


def test_the_same_trains_differ_by_nothing():
    comparison = compare_trains(TRAIN, TRAIN, LIFE, PRICE)
    assert comparison.difference.magnitude == 0
    assert comparison.share_cheaper == 0


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: supply_power(Q(-1, "hp"), 0.9), "shaft power must not be negative"),
        (lambda: supply_power(HP, 0), "motor efficiency must lie above 0"),
        (lambda: supply_power(HP, 93), "motor efficiency must lie above 0"),
        (lambda: energy(Q(-1, "hp")), "power must not be negative"),
        (lambda: energy(HP, 1.1), "load factor must lie between 0 and 100 %"),
        (lambda: energy(HP, 1.0, Q(-1, "day")), "duration must not be negative"),
        (lambda: energy(HP, running=-0.1), "share of running time"),
        (lambda: energy_cost(Q(-1, "kWh"), PRICE), "energy must not be negative"),
        (lambda: energy_cost(Q(1, "kWh"), Q(0.2, "money")), r"price must have a unit of \[currency\]/\[energy\]"),
        (lambda: energy_cost(Q(1, "kWh"), -PRICE), "price must not be negative"),
        (lambda: worth_of_yearly_cost(-0.1, LIFE), "discount rate must not be negative"),
        (lambda: worth_of_yearly_cost(0.1, -LIFE), "life must not be negative"),
        (lambda: Train("a", -MONEY, HP, SERVICE), "capital must not be negative"),
        (lambda: Train("a", Q(1, "kg"), HP, SERVICE), r"capital must have a unit of \[currency\]"),
        (lambda: Train("a", MONEY, -HP, SERVICE), "power must not be negative"),
        (lambda: Train("a", MONEY, HP, -SERVICE), "cost of service must not be negative"),
        (lambda: Train("a", MONEY, HP, SERVICE, 80), "load factor must lie between 0 and 100 %"),
        (lambda: life_cost(TRAIN, LIFE, -PRICE), "price of energy must not be negative"),
        (lambda: life_cost(TRAIN, LIFE, PRICE, 1.5), "share of running time"),
        (lambda: break_even_time(TRAIN, TRAIN, PRICE, discount_rate=-0.1), "discount rate must not be negative"),
        (lambda: compare_trains(TRAIN, TRAIN, LIFE, PRICE).band(0), "share must lie above 0"),
        (lambda: Uncertain(Q(2, "hp"), Q(1, "hp"), Q(3, "hp")), "between the lowest and the highest"),
        (lambda: Uncertain(Q(1, "hp"), Q(1, "money"), Q(3, "hp")), "quantities of one dimension"),
        (lambda: Uncertain(Q(1, "hp"), 2.0, Q(3, "hp")), "quantities of one dimension"),
        (lambda: Train("one", Q(-1, "money"), HP, SERVICE), "capital must not be negative"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
