"""Draws that the tests of this folder share: drawing is done once, and each test looks at it in its own way."""

from __future__ import annotations

import functools
import os
from collections.abc import Callable

import numpy as np
import pytest

from exercises import BANK
from exercises.model import Exercise, System
from exercises.model.drawing import draw
from exercises.model.variant import Variant

#: Draws of each exercise in each unit system; ``make test-all`` asks for 24, ``make soundness`` for 500.
DRAWS = int(os.environ.get("PITSIDE_DRAWS", "2"))
#: As many as say something of a class, however few the tests make do with.
CLASS = 12


@functools.cache
def draw_of(exercise: str, system: System, number: int) -> Variant:
    return draw(BANK[exercise], np.random.default_rng([number, 2026]), system)


def draws_of(exercise: str, system: System) -> tuple[Variant, ...]:
    return tuple(draw_of(exercise, system, number) for number in range(DRAWS))


def class_of(variants: tuple[Variant, ...]) -> tuple[Variant, ...]:
    """A dozen draws of the same exercise or more, as many as the tests are asked to make."""
    exercise, system = variants[0].exercise, variants[0].system
    return tuple(draw_of(exercise.id, system, number) for number in range(max(CLASS, len(variants))))


def each(wanted: Callable[[Exercise], bool]) -> pytest.MarkDecorator:
    """For a test of ``exercise`` or ``variants``: those exercises of the bank of which there is something to test."""
    return pytest.mark.parametrize("exercise", [one.id for one in BANK.values() if wanted(one)], indirect=True)


def in_one_system(
    names: tuple[str, str], wanted: Callable[[Exercise], bool] = lambda _: True, every: int = 1
) -> pytest.MarkDecorator:
    """Like :func:`each`, with the unit systems in turn; the other one tells little more and is left to the longer run.

    names: those of the exercise and of what takes the unit system. every: of so many exercises one is tried now.
    """
    cases = [
        pytest.param(exercise.id, system, marks=[pytest.mark.slow] * (place // every % 2 != at or place % every > 0))
        for place, exercise in enumerate(filter(wanted, BANK.values()))
        for at, system in enumerate(System)
    ]
    return pytest.mark.parametrize(names, cases, indirect=[name for name in names if name != "system"])


def of_kind(*kinds: type) -> pytest.MarkDecorator:
    """The exercises in which something of one of these kinds takes an answer."""
    return each(lambda exercise: any(isinstance(item, kinds) for item in exercise.items))
