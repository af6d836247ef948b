"""Say of an exercise what its author wants to know before a class gets it: variants, answers, slips, what is wrong."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pint

from exercises.model.drawing import UnsoundExercise, draw
from exercises.model.exercise import Exercise
from exercises.model.numbers import Derived, Number, Pick, System, Told, shown, significant, with_unit
from exercises.model.over_draws import Balance, Seen, balances, envelope_faults, seen
from exercises.model.parts import Choice, Chosen, Item, Numeric
from exercises.model.soundness import faults
from exercises.model.variant import Variant
from pitside.unit_names import spelled, usual_units

#: Variants that are printed in full, in each unit system.
PRINTED = 2
#: A class that must not share numbers.
CLASS = 40


def review(exercise: Exercise, draws: int) -> Iterator[str]:
    """Lines about the exercise; the last says whether anything is wrong, by ``draws`` draws in each unit system."""
    yield f"{exercise.id}: {exercise.title}"
    length = f", {exercise.minutes} minutes" if exercise.minutes else ""
    marks = f"{exercise.marks:g} marks, version {exercise.version}"
    yield f"lesson {exercise.lesson}, level {exercise.level}{length}, {marks}"
    for outcome in exercise.outcomes:
        yield f"  {outcome}"
    found: Counter[str] = Counter()
    drawn: list[Variant] = []
    ranges: list[Seen] = []
    for system in System:
        variants: list[Variant] = []
        for number in range(draws):
            try:
                variants.append(draw(exercise, _generator(number), system))
            except UnsoundExercise as error:
                found[str(error)] += 1
                break
        for number, variant in enumerate(variants):
            found.update(f"{system} units: {fault}" for fault in faults(variant))
            if number < PRINTED:
                yield ""
                yield from _printed(variant, number + 1)
        yield ""
        yield from _counted(exercise, system, variants)
        for fault in _too_few(system, variants):
            found[fault] += 1
        drawn += variants
        ranges += seen(variants)
    yield ""
    yield from map(str, ranges)
    for balance in balances(drawn):
        yield str(balance)
        found.update(balance.faults())
    if ranges or any(isinstance(part, Choice) for part in exercise.parts):
        yield ""
    for fault, times in found.most_common():
        yield f"WRONG ({times} of {2 * draws} draws): {fault}"
    yield f"Wrong: {len(found)}." if found else f"Nothing is wrong in {2 * draws} draws."


def _generator(number: int) -> np.random.Generator:
    return np.random.default_rng([number, 1])


def _printed(variant: Variant, number: int) -> Iterator[str]:
    yield f"Variant {number}, {variant.system} units"
    yield f"  {variant.text(variant.exercise.setting)}"
    for part in variant.exercise.parts:
        yield f"  ({part.key}) {variant.text(part.ask)}"
        for item in part.items():
            yield from _item(variant, item)


def _item(variant: Variant, item: Item) -> Iterator[str]:
    answer = variant.key[item.key]
    yield f"      {item.key}: {variant.shown_answer(item, answer)}  [{item.marks.total:g}]"
    if isinstance(item, Chosen):
        sound = ", ".join(variant.shown_answer(item, value) for value in variant.sound_values(item, variant.key))
        yield f"        keep all limits: {sound}"
    if not isinstance(item, Numeric):
        return
    unit = variant.unit(item)
    others = [shown(answer, other, item.digits) for other in usual_units(unit) if spelled(other) != spelled(unit)]
    if others:
        yield f"        in other units: {', '.join(others)}"
    reach = item.tolerance.reach(answer)
    yield f"        within {with_unit(significant(reach, 3), unit)}: {item.tolerance.because}"
    rounding = 0.5 * 10.0 ** (math.floor(math.log10(abs(float(answer.magnitude)))) + 1 - item.digits) if answer else 0.0
    if rounding > reach:
        yield f"        BEWARE: {item.digits} digits are printed, coarser than the tolerance"
    if item.plausible:
        yield f"        plausible {item.plausible}"
    if variant.possible(item).is_bounded:
        yield f"        possible {variant.possible(item)}"
    if variant.converts(item):
        yield f"        converting: in {variant.unit(item)} alone"
    right = variant.right_values(item, variant.key)
    for name, value in right.items():
        if name:
            yield f"        convention  {shown(value, unit, 5)}  {name}"
    for slip, value in variant.slip_values(item, variant.key):
        nearest = min(right.values(), key=lambda one: abs(_number(one) - _number(value)))
        apart = _apart(item, nearest, value)
        yield f"        slip        {shown(value, unit, 5)}  {slip.name}: {apart:.1f} tolerances away"
    worked = variant.working(item)
    if worked:
        off = (_number(worked[-1].value.quantity.to(answer.units)) - _number(answer)) / reach if reach else math.inf
        yield f"        worked by hand {worked[-1].value}: {off:+.2f} of the tolerance off"


def _number(value: pint.Quantity) -> float:
    return float(value.magnitude)


def _apart(item: Numeric, one: pint.Quantity, other: pint.Quantity) -> float:
    """The distance of two values in tolerances; below 2 their bands touch."""
    reach = (item.tolerance.reach(one) + item.tolerance.reach(other)) / 2
    return abs(_number(one) - _number(other)) / reach if reach else math.inf


def _counted(exercise: Exercise, system: System, variants: list[Variant]) -> Iterator[str]:
    """How many sets of numbers there are, and whether a class would share any."""
    grids = math.prod(
        number.grid(system).count if isinstance(number, Number) else len(number.options)
        for number in exercise.numbers
        if isinstance(number, Number | Pick)
    )
    yield (
        f"In {system} units the grids hold {grids} sets of numbers; {len(variants)} draws gave "
        f"{_distinct(variants)} different ones, which speaks for {_estimate(variants)}."
    )
    derived = [number.name for number in exercise.numbers if isinstance(number, Derived | Told)]
    if derived:
        yield f"Worked out from the drawn numbers: {', '.join(derived)}."


def _distinct(variants: list[Variant]) -> int:
    return len({variant.numbers for variant in variants})


def _estimate(variants: list[Variant]) -> str:
    """How many sets there are, from how many pairs of draws agree: pairs over agreeing pairs."""
    pairs, agree = math.comb(len(variants), 2), _agreeing(variants)
    return f"about {pairs // agree} in all" if agree else f"more than {pairs}"


def _agreeing(variants: list[Variant]) -> int:
    """Pairs of draws that have the same numbers."""
    return sum(math.comb(times, 2) for times in Counter(variant.numbers for variant in variants).values())


def _too_few(system: System, variants: list[Variant]) -> Iterator[str]:
    """Whether more than a few of a class are likely to share their numbers."""
    pairs = math.comb(len(variants), 2)
    shared = _agreeing(variants) / pairs * math.comb(CLASS, 2) if pairs else 0
    if shared > CLASS / 10:
        yield f"{system} units: in a class of {CLASS} about {shared:.0f} pairs would share numbers; widen the grids"


@dataclass(frozen=True)
class Summary:
    """What a long check of an exercise found: seconds a draw, estimated sets of numbers, faults with their counts.

    ``ranges`` and ``balances`` are its quantities against the envelope and the options of its choices.
    """

    draws: int
    seconds: float
    sets: Mapping[System, str]
    faults: Mapping[str, int]
    ranges: Sequence[Seen]
    balances: Sequence[Balance]


def summary(exercise: Exercise, draws: int, *, table: bool = False) -> Summary:
    """Check an exercise by ``draws`` draws in each unit system.

    With ``table`` only ranges and balances are made and held against their bounds: five times as fast.
    """
    found: Counter[str] = Counter()
    sets = {}
    drawn: list[Variant] = []
    ranges: list[Seen] = []
    start = time.perf_counter()
    for system in System:
        try:
            variants = [draw(exercise, _generator(number), system) for number in range(draws)]
        except UnsoundExercise as error:
            found[str(error)] += 1
            sets[system] = "none"
            continue
        check = envelope_faults if table else faults
        found.update(f"{system} units: {fault}" for variant in variants for fault in check(variant))
        if not table:
            found.update(_too_few(system, variants))
        sets[system] = _estimate(variants)
        drawn += variants
        ranges += seen(variants)
    seconds = (time.perf_counter() - start) / (2 * draws)
    options = balances(drawn)
    found.update(fault for balance in options for fault in balance.faults())
    return Summary(2 * draws, seconds, sets, found, ranges, options)
