"""Exercises worked out from the printed numbers by plain arithmetic, without pitside. Status: derived by hand."""

from __future__ import annotations

import math

import pytest

from exercises import BANK
from exercises.model import System
from tests.exercises.by_hand import WATER, Answers, ByHand, Printed, hold, printed_in
from tests.exercises.draws import draw_of

#: Exact by definition, in SI units.
FOOT, INCH, BARREL = 0.3048, 0.0254, 0.158987294928


def dilution_bill(x: Printed, field: bool) -> Answers:
    """What stays is the given share of old and clean mud together, so the clean mud is that less the rock itself."""
    share, price = x["target"] / 100, x["mud_price"] + x["disposal_price"]
    clean = {name: x["rock"] * (1 - x[name] / 100) * (1 - share) / share for name in ("removal", "better")}
    bill, better = clean["removal"] * price, clean["better"] * price
    return {"a": clean["removal"], "b": bill, "c": better, "d": (bill - better) / x["rent"]}


def least_discard(x: Printed, field: bool) -> Answers:
    rock, discard, target = x["rock"], x["discard"] / 100, x["target"] / 100
    answers: Answers = {}
    for row, removed in (("low", 0.7), ("middle", 0.8), ("high", 0.9)):
        answers[f"a.{row}.discard"] = rock * removed / discard
        answers[f"a.{row}.clean"] = rock * (1 - removed) * (1 - target) / target
    # removed / discard = (1 - removed) / target
    return answers | {"b": 100 * discard / (discard + target)}


def steady_state_solids(x: Printed, field: bool) -> Answers:
    in_unit = INCH**2 * FOOT / BARREL if field else 1e-6
    rock = math.pi / 4 * x["diameter"] ** 2 * x["penetration"] * in_unit
    stays = rock * (1 - x["removal"] / 100)
    share = 100 * stays / x["dumped"]
    time = x["volume"] / x["dumped"]
    return {"a.rock": rock, "a": stays, "b": share, "c": time, "d": share * (1 - math.exp(-1))}


def explain_to_the_crew(x: Printed, field: bool) -> Answers:
    """Sacks of 100 lb, 42 gal to the barrel; a cubic metre of barite weighs 4.2 t."""
    barite = x["underflow"] * x["barite_share"] / 100
    rate = barite * 42 * 4.2 * WATER / 100 if field else barite * 4.2
    return {"a": rate, "b": 24 * rate * x["price"]}


def size_a_train(x: Printed, field: bool) -> Answers:
    answers: Answers = {}
    fitting = {}
    for size in ("small", "large"):
        buy = 1 + math.ceil(x["flow"] * (1 + x["margin"] / 100) / x[f"{size}_flow"])
        answers |= {f"a.{size}.buy": buy, f"a.{size}.price": buy * x[f"{size}_price"]}
        if buy * x[f"{size}_length"] <= x["deck"]:
            fitting[size] = buy * x[f"{size}_price"]
    cheapest = min(fitting, key=lambda size: fitting[size], default="none")
    all_run = 1 + math.ceil(x["flow"] * (1 + x["margin"] / 100) / x["small_flow"])
    return answers | {
        "b": "ABC"[("small", "large", "none").index(cheapest)],
        "c": 100 * x["flow"] / (all_run * x["small_flow"]),
        "d": 100 * x["flow"] / ((all_run - 1) * x["small_flow"]),
    }


def well_average_retention(x: Printed, field: bool) -> Answers:
    sections = ("first", "second", "third")
    mass = sum(x[f"{one}_mass"] for one in sections)
    oil = sum(x[f"{one}_mass"] * x[f"{one}_share"] for one in sections)
    whole = mass + x["last_mass"]
    now, later = oil / mass, (oil + x["last_mass"] * x["expected"]) / whole
    verdict = {(True, True): "A", (True, False): "B", (False, True): "C", (False, False): "D"}
    return {
        "a": now,
        "b": (x["limit"] * whole - oil) / x["last_mass"],
        "c": verdict[now <= x["limit"], later <= x["limit"]],
    }


def machine_for_the_size(x: Printed, field: bool) -> Answers:
    """In Stokes' law grains settle alike where size squared times excess density is the same: SG 4.20, 2.60 in 1.00."""
    machines = ("screen", "desander", "desilter", "centrifuge")
    answers: Answers = {"d": x["desilter"] / math.sqrt((4.20 - 1) / (2.60 - 1))}
    for part, grain in zip("abc", ("first_grain", "second_grain", "third_grain"), strict=True):
        takes = [letter for letter, machine in zip("ABCD", machines, strict=True) if x[grain] > x[machine]]
        answers[part] = takes[0] if takes else "E"
    return answers


def waste_volume(x: Printed, field: bool) -> Answers:
    """Rock and mud fill the boxes: the mud on the cuttings is more than their gaps hold, so no gap stays empty."""
    in_unit = INCH**2 * FOOT / BARREL if field else 1e-6
    rock = math.pi / 4 * x["diameter"] ** 2 * x["length"] * in_unit * (1 + x["washout"] / 100)
    mud = rock * x["carried"]
    assert mud > rock * x["bulking"] / 100
    boxes = math.ceil((rock + mud) / (x["box"] * x["fill"] / 100))
    return {
        "a": rock * (1 + x["bulking"] / 100),
        "b": mud,
        "c": rock + mud,
        "d": boxes,
        "e": math.ceil(boxes / x["load"]),
    }


def weight_up_in_two_batches(x: Printed, field: bool) -> Answers:
    """Masses from a balance of densities: before + barite = after, in mass and in volume."""
    in_mass = 42 / 100 if field else 1 / 1000  # sacks in a barrel of 1 lb/gal, tonnes in a cubic metre of 1 kg/m3
    in_rate = 42 if field else 1  # pounds, kilograms
    turn = 42 if field else 1000  # gallons in a barrel, litres in a cubic metre
    room, masses, limits, minutes = x["volume"], [], [], []
    for old, new in ((x["mud_weight"], x["halfway"]), (x["halfway"], x["target"])):
        grains = room * (new - old) / (x["barite"] - new)  # volume of barite
        limit = grains * x["barite"] * in_rate / (room * turn / x["flow"])
        masses.append(grains * x["barite"] * in_mass)
        limits.append(limit)
        minutes.append(grains * x["barite"] * in_rate / min(limit, x["hopper"]))
        room += grains
        if len(masses) == 1:
            after_first = room
    assert (limits[0] < x["hopper"]) != (limits[1] < x["hopper"])
    return {
        "a": masses[0],
        "b": after_first,
        "c": masses[1],
        "d": limits[0],
        "e.second": limits[1],
        "e": sum(minutes) / 60,
    }


BY_HAND: dict[str, ByHand] = {
    "dilution-bill": dilution_bill,
    "least-discard": least_discard,
    "steady-state-solids": steady_state_solids,
    "explain-to-the-crew": explain_to_the_crew,
    "size-a-train": size_a_train,
    "well-average-retention": well_average_retention,
    "machine-for-the-size": machine_for_the_size,
    "waste-volume": waste_volume,
    "weight-up-in-two-batches": weight_up_in_two_batches,
}


@pytest.mark.parametrize("system", System)
@pytest.mark.parametrize("exercise", BY_HAND)
def test_what_is_worked_by_hand_is_right(exercise, system):
    hold(BY_HAND[exercise], exercise, system, apart=1e-3)
    answers = BY_HAND[exercise](printed_in(draw_of(exercise, system, 0)), system is System.FIELD)
    in_words = {item.key for item in BANK[exercise].items} - answers.keys()
    assert len(in_words) <= 1, "all that is no words is worked"


@pytest.mark.parametrize("system", System)
def test_the_underflow_of_the_desilter_is_clearly_heavier_than_its_mud(system):
    """Cones send heavy grains down: an underflow no heavier than the mud says that they separate nothing."""
    for number in range(24):
        x = printed_in(draw_of("explain-to-the-crew", system, number))
        gravity = 1 + x["barite_share"] / 100 * 3.2 + x["drilled_share"] / 100 * 1.6
        assert gravity * (WATER if system is System.FIELD else 1000) > 1.15 * x["mud_weight"]
