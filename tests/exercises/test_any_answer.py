"""Whatever is answered, every exercise is marked: nothing raises, and no part earns more than it is worth.

What does not hang on the exercise is tried where it is cheap: whether a text or unit can be read, with each item alone,
before anything is worked out; what follows from an answer, only for items that others are worked from.
"""

from __future__ import annotations

import itertools
import math
import warnings
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import pytest

from exercises.model import Choice, Chosen, Numeric, System
from exercises.model.answers import Given
from exercises.model.marking import ItemMark, mark, mark_alone
from exercises.model.variant import Variant
from tests.exercises.draws import draw_of, in_one_system, of_kind

LARGEST = 1.7976931348623157e308
#: The least denormal number, the least that is none, and others of which squares and products vanish or overflow.
EXTREMES = (5e-324, -5e-324, 2.2250738585072014e-308, 1e-200, -0.0, 1e155, 1e200, LARGEST, -LARGEST)
#: Numbers that no rig would see, among some that it might.
NUMBERS = (*EXTREMES, 0.0, -1.0, 1e-12, 1e12, 0.5, 1.0, -273.15, 100.0, 3.7)
#: Earlier answers from which nothing can be worked: products with them vanish, overflow or divide by nought.
FOLLOWED = (5e-324, 1e-200, 0.0, 1e155, LARGEST)
#: What a script, a page or a record may hold in place of a number.
TEXTS: tuple[Any, ...] = (
    "", " ", "\N{NO-BREAK SPACE}\t", "A", "ABCD", "+", "-", ".", "e5", "1e", "0x1F", "nan", "inf", "-Infinity",
    "9" * 1000, "-" + "9" * 200, "0." + "0" * 998 + "1", "1" * 5000, "1,234", "1," * 50, "1__0", "1_000", "1e308",
    "1e999", "-1e999", "1e-999", "1e9999", "-0", "\N{ARABIC-INDIC DIGIT THREE}", "\N{DEVANAGARI DIGIT ONE}",
    "\N{FULLWIDTH DIGIT ONE}", "\N{VULGAR FRACTION ONE HALF}", "10\N{SUPERSCRIPT TWO}", "\N{INFINITY}",
    "\N{MINUS SIGN}1", "1\N{ARABIC THOUSANDS SEPARATOR}0", "\N{ROMAN NUMERAL TWELVE}", "\x00", "\ud800",
    "\N{PILE OF POO}", math.inf, -math.inf, math.nan, 10**400, -(10**5000), True, [1.0], {}, b"1", 1j,
)  # fmt: skip
#: Units that nobody can read, and some of no kind that is asked for.
UNITS = (
    "Ym", "qg", "yr", "lightyear", "planck_length", "eV", "degC", "degF", "\N{DEGREE CELSIUS}", "dB", "dBm", "1/0", "0",
    "m/0", "/", "*", "m//m", "m**-1", "m^9", "m3333", "m" * 41, "nan", "inf", "1e999 m", "\x00", "\ud800",
    "\N{ARABIC LIGATURE SALLALLAHOU ALAYHE WASALLAM}" * 40, "kg*kg*kg*kg*kg", "km3*km3*km3*km3", "year3/um3*year3/um3",
    "MPa3*kWh3/um3/mg3", "pH",
)  # fmt: skip


def _sound(results: Iterable[ItemMark]) -> None:
    earned: Counter[str] = Counter()
    worth: Counter[str] = Counter()
    for result in results:
        assert math.isfinite(result.marks) and math.isfinite(result.out_of)
        assert "nan" not in result.model
        part = result.item.partition(".")[0]
        earned[part] += result.marks
        worth[part] += result.out_of
    assert all(0 <= earned[part] <= worth[part] for part in worth)


def alone(variant: Variant) -> Iterator[tuple[str, Given]]:
    """Answers to each item of a script that is blank otherwise: texts, extreme numbers, units, the largest scales."""
    for item in variant.exercise.items:
        asked = variant.unit(item) if isinstance(item, Numeric | Chosen) else ""
        for value in TEXTS:
            yield item.key, Given(value, asked)
        if not isinstance(item, Numeric | Chosen):
            continue
        for value in EXTREMES:
            yield item.key, Given(value, asked)
        right = float(variant.key[item.key].magnitude)
        for unit in ("", "%", "percent", *UNITS):
            yield item.key, Given(right, unit)
        for scale in ("km3/um3", "um3/km3"):
            for value in (right, LARGEST, 5e-324):
                yield item.key, Given(value, f"{asked}*{scale}" if asked not in ("", "fraction") else scale)


def followed(variant: Variant) -> Iterator[dict[str, Given]]:
    """Each answer that others are worked from, extreme, while all others are wrong, so that every rule is tried."""
    wrong = {}
    for item in variant.exercise.items:
        answer = variant.key[item.key]
        if isinstance(item, Numeric | Chosen):
            wrong[item.key] = Given(1.3377 * float(answer.magnitude) + 0.0123, variant.unit(item))
        else:
            wrong[item.key] = Given(variant.shown_answer(item, answer))
    for use in dict.fromkeys(use for item in variant.exercise.items for use in item.uses):
        item = variant.exercise.item(use)
        if isinstance(item, Numeric | Chosen):
            for value in FOLLOWED:
                yield wrong | {use: Given(value, variant.unit(item))}


def everywhere(variant: Variant) -> Iterator[dict[str, Given]]:
    """Each number in every box, with some boxes left blank; then any numbers. The options of choices take turns."""
    generator = np.random.default_rng(5)
    turn = itertools.count()
    for number in (*NUMBERS, None, None, None):
        answers = {}
        for item in variant.exercise.items:
            if isinstance(item, Choice):
                answers[item.key] = Given(item.letter(item.options[next(turn) % len(item.options)].key))
            elif isinstance(item, Numeric | Chosen) and generator.random() < 0.8:
                value = NUMBERS[int(generator.integers(len(NUMBERS)))] if number is None else number
                answers[item.key] = Given(value, variant.unit(item))
        yield answers


@in_one_system(("exercise", "system"), every=2)
def test_nothing_that_is_answered_stops_the_marking(exercise, system):
    """And nothing of it makes NumPy warn, which would stand among what the assessor reads."""
    variant = draw_of(exercise.id, system, 0)
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        for key, given in alone(variant):
            result = mark_alone(variant, key, given)
            assert 0 <= result.marks <= max(result.out_of, getattr(exercise.item(key), "method_marks", 0))
        for answers in itertools.chain(followed(variant), everywhere(variant)):
            _sound(mark(variant, answers))


@of_kind(Choice)
@pytest.mark.parametrize("system", System)
def test_every_wrong_option_can_be_followed_by_right_answers(exercise, system):
    """A candidate who chose another option and answered everything else as the key says is marked without a fault."""
    variant = draw_of(exercise.id, system, 1)
    for item in exercise.items:
        if not isinstance(item, Choice):
            continue
        for option in item.options:
            answers = {
                key: Given(*variant.given_answer(exercise.item(key), answer)) for key, answer in variant.key.items()
            }
            answers[item.key] = Given(item.letter(option.key))
            results = {result.item: result for result in mark(variant, answers)}
            sound = option.key in variant.sound_options(item, variant.key)
            assert results[item.key].marks == (item.marks.value if sound else 0)
