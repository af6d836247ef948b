"""Exercises on machines, worked from the printed numbers by plain arithmetic, without pitside. Status: by hand."""

from __future__ import annotations

import math

import pytest

from exercises import BANK
from exercises.model import Order, System
from exercises.model.answers import Given
from exercises.model.marking import mark_alone
from exercises.model.numbers import Drawn
from tests.exercises.by_hand import DRAWS, WATER, Answers, ByHand, Printed, hold
from tests.exercises.draws import draw_of
from tests.sharing import a_few

#: Kilowatts in a horsepower of 550 ft lbf/s.
HORSEPOWER = 0.74569987
#: ft gal/min SG in a horsepower: 33 000 ft lbf/min over the pounds of a gallon of water.
PUMP = 33_000 / WATER


def _shaft(x: Printed, flow: float, field: bool) -> float:
    """hp from ft, gal/min and lb/gal; kW from m, m3/h and kg/m3."""
    if field:
        return flow * x["head"] * (x["mud_weight"] / WATER) / (PUMP * x["efficiency"] / 100)
    return x["mud_weight"] * 9.80665 * x["head"] * flow / 3600 / (x["efficiency"] / 100) / 1000


def barite_recovered(x: Printed, field: bool) -> Answers:
    classes = "wxyz"
    back = {row: x[f"barite_{row}"] * x[f"barite_back_{row}"] / 100 for row in classes}
    answers: Answers = {f"a.{row}.back": back[row] for row in classes}
    kept = sum(back.values())
    drilled = sum(x[f"drilled_{row}"] * x[f"drilled_back_{row}"] / 100 for row in classes)
    rest = 100 - x["barite_share"] - x["drilled_share"]
    volumes = (x["barite_share"] * kept / 100, x["drilled_share"] * drilled / 100, rest * x["liquid_back"] / 100)
    weights = (x["barite"], x["drilled"], x["water"])
    saved = x["flow"] * x["barite_share"] / 100 * kept / 100 * x["barite"] * x["hours"]
    return answers | {
        "b": kept,
        "c": 100 - drilled,
        "d": sum(v * w for v, w in zip(volumes, weights, strict=True)) / sum(volumes),
        "e": saved * 60 / 100 if field else saved / 1000,
    }


def power_and_energy(x: Printed, field: bool) -> Answers:
    shaft = _shaft(x, x["flow"], field)
    kilowatts = HORSEPOWER if field else 1.0
    drawn = shaft * kilowatts / (x["motor"] / 100)
    cost = drawn * x["running"] * x["price"]
    other = x["rated"] * kilowatts * x["load"] / 100 / (x["motor"] / 100) * x["running"] * x["price"]
    cheaper = "A" if x["first_hire"] + cost < x["second_hire"] + other else "B"
    return {"a": shaft, "b": drawn, "c": drawn * x["running"], "d": cost, "e": other, "f": cheaper}


def barite_two_ways(x: Printed, field: bool) -> Answers:
    answers: Answers = {"a": x["volume"] * 42 / x["flow"] / 60 if field else x["volume"] / x["flow"]}
    sound = []
    for way in ("centrifuges", "modules"):
        number = 1 + math.ceil(x["flow"] / x[f"{way}_flow"])
        power, price = (number - 1) * x[f"{way}_power"], number * x[f"{way}_price"]
        gone = x["volume"] * x["barite_share"] / 100 * (100 - x[f"{way}_kept"]) / 100 * x["barite"]
        lost = gone * 42 / 100 if field else gone / 1000
        thrown = x["volume"] * x["drilled_share"] / 100 * x[f"{way}_thrown"] / 100
        saved = thrown * (100 - x["drilled_share"]) / x["drilled_share"]
        net = saved * x["mud_price"] - lost * x["barite_price"]
        answers |= {f"b.{way}.number": number, f"b.{way}.power": power, f"b.{way}.price": price}
        answers |= {f"c.{way}.lost": lost, f"c.{way}.thrown": thrown, f"c.{way}.saved": saved, f"c.{way}.net": net}
        if power <= x["power_limit"] and price <= x["price_limit"] and lost <= x["lost_limit"]:
            sound += [way] if thrown >= x["thrown_limit"] else []
    letters = {"centrifuges": "A", "modules": "B"}
    return answers | {"d": letters[sound[0]] if sound else "C"}


def cut_point_change(x: Printed, field: bool) -> Answers:
    """By the powers that the setting states, at the flows that it prints."""
    thick = x["cut"] * math.sqrt(x["thicker"] / x["viscosity"])
    narrow = (x["smaller"] / x["diameter"]) ** 1.18 * (x["flow"] / x["smaller_flow"]) ** 0.45
    factors = (
        math.sqrt(x["thinner"] / x["viscosity"]),
        (x["flow"] / x["more_flow"]) ** 0.45,
        narrow,
    )
    return {
        "a": thick,
        "b": thick * (x["flow"] / x["less_flow"]) ** 0.45,
        "c": x["cut"] * narrow,
        "d": "ABC"[factors.index(min(factors))],
    }


def compare_trains(x: Printed, field: bool) -> Answers:
    answers: Answers = {}
    daily = {}
    for row in ("bought", "hired"):
        kilowatts = x[f"{row}_power"] * (HORSEPOWER if field else 1)
        energy = kilowatts * x["load"] / 100 * x["running"] * x["price"]
        daily[row] = energy + x[f"{row}_service"]
        paid = x["capital"] if row == "bought" else 0
        answers[f"a.{row}.energy"] = energy * x["contract"]
        answers[f"a.{row}.service"] = x[f"{row}_service"] * x["contract"]
        answers[f"a.{row}.total"] = paid + daily[row] * x["contract"]
    even = x["capital"] / (daily["hired"] - daily["bought"])
    return answers | {"b": even, "c": "A" if even < x["contract"] else "B"}


def two_gradient_column(x: Printed, field: bool) -> Answers:
    water = x["mudline"] - x["air_gap"]
    # psi from lb/gal and ft: a gallon is 231 cubic inches, a foot 12 inches; kPa from kg/m3 and m.
    factor = 12 / 231 if field else 9.80665 / 1000
    pressure = factor * (x["sea"] * water + x["mud"] * (x["depth"] - x["mudline"]))
    weight = pressure / factor / x["depth"]
    new = (x["target"] * x["depth"] - x["sea"] * water) / (x["depth"] - x["mudline"])
    verdict = "B" if weight < x["pore"] else "C" if weight < x["fracture"] else "A"
    return {"a": water, "b": pressure, "c": weight, "d": new, "e": verdict}


BY_HAND: dict[str, ByHand] = {
    "barite-recovered": barite_recovered,
    "power-and-energy": power_and_energy,
    "barite-two-ways": barite_two_ways,
    "cut-point-change": cut_point_change,
    "compare-trains": compare_trains,
    "two-gradient-column": two_gradient_column,
}


@pytest.mark.parametrize("system", a_few(System, 1))
@pytest.mark.parametrize("exercise", BY_HAND)
def test_what_is_worked_by_hand_is_right(exercise, system):
    hold(BY_HAND[exercise], exercise, system, apart=1e-3)


def test_power_of_a_module_is_that_of_its_two_pumps():
    """Twice the thinned flow at the head: the mean of mud and water, 42 gal, SG 4.2 and 2.6, by plain numbers."""
    for number in DRAWS:
        variant = draw_of("barite-two-ways", System.FIELD, number)
        x = {name: drawn.magnitude for name, drawn in variant.numbers.items() if isinstance(drawn, Drawn)}
        solids = x["barite_share"] / 100 * 4.2 + x["drilled_share"] / 100 * 2.6
        gravity = (solids + 1 - (x["barite_share"] + x["drilled_share"]) / 100 + 1) / 2
        both = 2 * 2 * x["modules_flow"] * x["head"] * gravity / (PUMP * x["efficiency"] / 100)
        assert x["modules_power"] == pytest.approx(both, abs=0.51)


@pytest.mark.parametrize("system", System)
def test_supply_is_sized_on_rated_power_and_the_bowl_draws_some_of_it_empty(system):
    for number in DRAWS:
        variant = draw_of("package-for-a-section", system, number)
        n, key = variant.numbers, variant.key
        shakers, feed = key["a"].m_as(""), (key["g"] / n.full_feed).m_as("")
        bowl = n.empty_power + (n.full_power - n.empty_power) * feed
        drawn, rated = shakers * n.shaker_power + key["d"] + bowl, shakers * n.shaker_power + n.motor + n.full_power
        assert key["i"].m_as("kW") == pytest.approx(drawn.m_as("kW"))
        assert key["j"].m_as("kW") == pytest.approx(rated.m_as("kW"))
        assert key["j"] > key["i"]


SOUND_ORDERS = {
    "isolate-before-opening": (
        "permit feed power wait lock valves try air lid",
        "permit feed power lock valves wait try air lid",
        "permit feed power valves lock wait try air lid",
        "permit feed power lock try valves wait air lid",
        "permit feed valves power lock try wait air lid",
        "feed power permit lock valves try wait air lid",
        "feed permit valves power wait lock try air lid",
        "permit feed power wait valves air lock try lid",
    ),
    "order-start-up": (
        "look bowl shake dilution feed stop_feed flush stop_water stop_bowl",
        "look bowl dilution shake feed stop_feed flush stop_water stop_bowl",
    ),
}


@pytest.mark.parametrize(
    ("exercise", "order"), [(name, order) for name, orders in SOUND_ORDERS.items() for order in orders]
)
def test_every_order_of_a_sound_mind_earns_full_marks(exercise, order):
    """Common practice, no source: what may be done while the bowl runs down or is being stopped has no fixed place."""
    variant = draw_of(exercise, System.FIELD, 0)
    part = next(part for part in BANK[exercise].parts if isinstance(part, Order))
    steps = tuple(order.split())
    assert sorted(steps) == sorted(part.steps)
    result = mark_alone(variant, part.key, Given(variant.shown_answer(part, steps)))
    assert result.marks == result.out_of


@pytest.mark.parametrize("late", ["lock", "try", "wait", "valves", "permit", "air"])
def test_a_lid_that_is_opened_before_any_guard_of_life_costs_marks(late):
    variant = draw_of("isolate-before-opening", System.FIELD, 0)
    part = next(part for part in BANK["isolate-before-opening"].parts if isinstance(part, Order))
    steps = [step for step in part.steps if step != late]
    result = mark_alone(variant, part.key, Given(variant.shown_answer(part, (*steps, late))))
    assert result.marks < result.out_of


@pytest.mark.parametrize("system", System)
def test_a_roping_cone_runs_slower_and_removes_less_than_one_that_does_not_rope(system):
    """From memory: a rope chokes at the apex, and what it cannot carry leaves with the overflow."""
    mixed = 0
    for number in range(40):
        n = draw_of("spray-or-rope", system, number).numbers
        if (n.first_state == "rope") == (n.second_state == "rope"):
            continue
        mixed += 1
        rope, other = ("first", "second") if n.first_state == "rope" else ("second", "first")
        rates = {row: getattr(n, f"{row}_rate") for row in (rope, other)}
        solids = {row: (getattr(n, f"{row}_density") - n.water) / (n.drilled - n.water) for row in (rope, other)}
        assert rates[rope] < rates[other]
        assert rates[rope] * solids[rope] < rates[other] * solids[other]
    assert mixed >= 5


@pytest.mark.parametrize("system", System)
@pytest.mark.parametrize("exercise", ["g-factor-bowl", "centrifuge-cut", "isolate-before-opening"])
def test_no_bowl_has_a_faster_rim_than_sixteen_inches_at_3200_rpm(exercise, system):
    """Common practice, no source: a wide bowl is run more slowly than a small one."""
    for number in range(40):
        n = draw_of(exercise, system, number).numbers
        speeds = [n.speed] + ([n.other_speed] if exercise != "isolate-before-opening" else [])
        assert all((n.diameter * speed).m_as("in*rpm") <= 16 * 3200 for speed in speeds)


@pytest.mark.parametrize("system", System)
def test_no_bowl_is_asked_to_turn_faster_than_the_speeds_that_its_maker_allows(system):
    for number in range(40):
        variant = draw_of("g-factor-bowl", system, number)
        named = max(variant.numbers.speed, variant.numbers.other_speed)
        assert variant.key["c"] <= named
