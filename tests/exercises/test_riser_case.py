"""The case of the riser return: other sound plans earn as much, an unsound plant costs its own mark, masses balance."""

from __future__ import annotations

import math

import numpy as np
import pytest

from exercises import BANK
from exercises.bank.dual_gradient.riser_return_plant import MACHINES
from exercises.model import System
from exercises.model.drawing import draw
from exercises.model.marking import Rule, mark
from exercises.model.soundness import model_script, typed
from pitside.units import Q

CASE = BANK["riser-return-plant"]


@pytest.fixture(scope="module", params=list(System))
def variant(request):
    """A draw in which both plants are sound."""
    drawn = (draw(CASE, np.random.default_rng(number), request.param) for number in range(20))
    return next(one for one in drawn if one.numbers["short"] == "nothing")


@pytest.mark.parametrize("system", System)
@pytest.mark.parametrize(("short", "sound"), [("power", "cyclones"), ("bowls", "centrifuges")])
def test_where_a_limit_is_tight_one_plant_alone_is_sound(system, short, sound):
    """By the printed figures: whole machines for the return and one more, and the barite that passes, SG 4.20."""
    drawn = (draw(CASE, np.random.default_rng(number), system) for number in range(40))
    variant = next(one for one in drawn if one.numbers["short"] == short)
    n, kept = variant.numbers, []
    for machine in MACHINES:
        back = n.mud_rate + variant.key["a"]
        machines = 1 + math.ceil((back / getattr(n, f"{machine}_flow")).m_as(""))
        passed = n.mud_rate * n.barite * (1 - getattr(n, f"{machine}_barite")) * Q(4.2, "SG")
        if machines * getattr(n, f"{machine}_power") <= n.power and passed <= n["catch"].quantity:
            kept.append(machine)
    assert kept == [sound]
    assert variant.sound_options(CASE.item("e"), variant.key) == (sound,)


def _script(variant, answers):
    return {item.key: typed(variant, item, answers[item.key]) for item in CASE.items}


@pytest.mark.parametrize("machine", MACHINES)
@pytest.mark.parametrize("place", [0, -1])
def test_every_sound_plan_earns_full_marks(variant, machine, place):
    rate = variant.sound_values(CASE.item("a"), variant.key)[place]
    answers = variant.key_given({"a": rate, "e": machine})
    results = [result for result in mark(variant, _script(variant, answers)) if result.rule is not Rule.PENDING]
    assert {result.rule for result in results} == {Rule.RIGHT}
    assert sum(result.marks for result in results) == sum(result.out_of for result in results)


def test_a_settling_pit_costs_its_own_mark_alone(variant):
    settling = CASE.item("e")
    script = model_script(variant) | {"e": typed(variant, settling, "settling")}
    lost = {result.item: result.out_of - result.marks for result in mark(variant, script) if result.marks is not None}
    assert {item for item, marks in lost.items() if marks and item != "n"} == {"e"}


@pytest.mark.parametrize("machine", MACHINES)
def test_the_mud_built_back_weighs_what_the_mud_weighs(variant, machine):
    """Derived: mass over volume of underflow and light fluid together, against the weight of the mud."""
    key = variant.key_given({"e": machine})
    together = (key["h"] * key["i"] + key["j"] * variant.numbers.light) / (key["h"] + key["j"])
    assert together.m_as("kg/m**3") == pytest.approx(variant.numbers.mud_weight.m_as("kg/m**3"), rel=1e-9)


def test_the_contents_printed_make_the_weight_printed(variant):
    """Derived: shares times densities, barite of SG 4.20 and drilled solids of SG 2.60, to the last digit printed."""
    n = variant.numbers
    weight = n.barite * Q(4.2, "SG") + n.drilled * Q(2.6, "SG") + (1 - n.barite - n.drilled) * n.light
    assert abs(weight - n.mud_weight).m_as("kg/m**3") <= 0.65


@pytest.mark.parametrize("machine", MACHINES)
def test_barite_kept_and_barite_lost_are_all_the_barite(variant, machine):
    """Derived: what comes up the well is in the underflow or in the overflow; barite of SG 4.20."""
    key, n = variant.key_given({"e": machine}), variant.numbers
    kept = key["h.heavy"] * Q(4.2, "SG") + key["l"]
    assert kept.m_as("kg/min") == pytest.approx((n.mud_rate * n.barite * Q(4.2, "SG")).m_as("kg/min"), rel=1e-9)


def test_too_much_and_too_little_light_fluid_break_the_limits_that_they_should(variant):
    """Derived: more light fluid makes the riser lighter, and so both equivalents less."""
    item = CASE.item("a")
    kept = [variant.limits_kept(item, value, variant.key) for value in variant.offered(item)]
    bottom, shoe, line = zip(*kept, strict=True)
    assert list(bottom) == sorted(bottom, reverse=True)
    assert list(shoe) == sorted(shoe)
    assert list(line) == sorted(line, reverse=True)
    assert kept[0] == [True, False, True]
    assert kept[-1] == [False, True, False]
