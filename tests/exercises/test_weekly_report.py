"""The case of the weekly report, worked by plain arithmetic with another choice than the model's."""

from __future__ import annotations

import math

import pytest

from exercises.model import Chosen, Numeric, System
from exercises.model.answers import Given
from exercises.model.marking import Rule, mark
from exercises.model.numbers import Drawn
from tests.exercises.draws import draw_of


@pytest.mark.parametrize("system", System)
def test_another_remedy_and_volume_by_plain_arithmetic(system):
    """The sums of a candidate who rents and builds more than the least, from the printed numbers alone."""
    for number in range(10):
        variant = draw_of("weekly-report", system, number)
        x = {name: drawn.magnitude for name, drawn in variant.numbers.items() if isinstance(drawn, Drawn)}
        foot, inch, barrel = (0.3048, 0.0254, 0.158987294928)
        to_volume = math.pi / 4 * (inch**2 * foot / barrel if system is System.FIELD else 1e-6)
        rock = to_volume * x["diameter"] ** 2 * x["length"] * (1 + x["washout"] / 100) * (1 - x["porosity"] / 100)
        machines = ("shakers", "cones", "centrifuge")
        taken = {m: x[f"{m}_discard"] * x[f"{m}_solids"] / 100 for m in machines}
        removal = sum(taken.values()) / rock
        price = x["mud_price"] + x["disposal_price"]
        old_bill = rock * (1 - removal) / (x["target"] / 100) * price
        new_removal = removal + (1 - removal) * x["more"] / 100
        stays = rock * (1 - new_removal) / 7
        step = 40 if system is System.FIELD else 5
        mud = step * math.floor((old_bill - x["rent"]) / (7 * price) / step)
        bill = 7 * mud * price + x["rent"]
        behind = max(machines, key=lambda m: x[f"{m}_before"] - 100 * taken[m] / rock)
        values: dict[str, float | str] = {
            "a": rock,
            **{f"b.{m}.rock": taken[m] for m in machines},
            **{f"b.{m}.share": 100 * taken[m] / rock for m in machines},
            "c": 100 * removal,
            "d.built": x["water"] / x["water_share"] * 100,
            "d": 100 * (1 - x["water"] / x["water_share"] * x["drilled"] / rock),
            "e": 100 * rock * (1 - removal) / 7 / x["planned"],
            "f": old_bill,
            "g": "ABC"[machines.index(behind)],
            "h": "D",
            "i": 100 * new_removal,
            "j": mud,
            "k": 100 * stays / mud,
            "l": x["volume"] / mud,
            "m": bill,
            "n": old_bill - bill,
        }
        assert mud > stays / (x["target"] / 100)
        script = {}
        for item in variant.exercise.items:
            if item.key in values:
                unit = variant.unit(item) if isinstance(item, Numeric | Chosen) else ""
                script[item.key] = Given(values[item.key], unit)
        results = {result.item: result for result in mark(variant, script)}
        assert results.pop("o").rule is Rule.BLANK
        assert {key: result.rule for key, result in results.items() if result.rule is not Rule.RIGHT} == {}
        in_words = variant.exercise.item("o").marks.total
        # An answer on the way has no marks of its own where the answer itself is right.
        assert sum(result.marks for result in results.values()) == variant.exercise.marks - in_words


@pytest.mark.parametrize("system", System)
def test_a_machine_put_right_leaves_less_to_those_after_it(system):
    """Of 100 parts of rock, machine by machine: each takes its part of what comes to it, the repaired one as before."""
    for number in range(10):
        numbers = draw_of("weekly-report", system, number).numbers
        machines = ("shakers", "cones", "centrifuge")
        comes, by_acceptance, by_now = 100.0, {}, {}
        for machine in machines:
            share = numbers[f"{machine}_before"].magnitude
            by_acceptance[machine], comes = share / comes, comes - share
        comes = 100.0
        for machine in machines:
            acceptance = numbers[f"{machine}_before"].magnitude
            worn = machine == numbers["worn"]
            share = (
                acceptance * (1 - numbers["worse"].magnitude / 100) if worn else acceptance - numbers["drift"].magnitude
            )
            by_now[machine], comes = share / comes, comes - share
        stays, repaired = comes, 100.0
        for machine in machines:
            worn = machine == numbers["worn"]
            repaired -= repaired * (by_acceptance if worn else by_now)[machine]
        assert numbers["back"].magnitude == pytest.approx(100 * (1 - repaired / stays), abs=0.501)  # in whole percent


def test_a_volume_that_holds_the_target_to_one_decimal_is_right_and_the_next_below_is_not():
    """Whoever rounds the share in the end to one decimal, as the question says, reads the target off this volume."""
    tried = False
    for number in range(60):
        variant = draw_of("weekly-report", System.FIELD, number)
        x = {name: drawn.magnitude for name, drawn in variant.numbers.items() if isinstance(drawn, Drawn)}
        hole = x["diameter"] ** 2 / 1029.4 * x["length"]
        rock = hole * (1 + x["washout"] / 100) * (1 - x["porosity"] / 100)
        taken = sum(x[f"{m}_discard"] * x[f"{m}_solids"] / 100 for m in ("shakers", "cones", "centrifuge"))
        removal = taken / rock
        better = removal + (1 - removal) * x["back"] / 100
        stays = rock * (1 - better) / 7
        below = 40 * math.floor(stays / (x["target"] / 100) / 40)
        if not x["target"] + 0.003 < 100 * stays / below < x["target"] + 0.045:
            continue
        tried = True
        for mud, right in ((below, True), (below - 40, False)):
            answers = {"a": rock, "c": 100 * removal, "h": "B", "i": 100 * better, "j": mud}
            units = {"a": "bbl", "c": "%", "i": "%", "j": "bbl/d"}
            script = {key: Given(value, units.get(key, "")) for key, value in answers.items()}
            results = {result.item: result for result in mark(variant, script)}
            assert (results["j"].rule is Rule.RIGHT) is right, (number, mud)
        break
    assert tried
