"""Faults that tests of the reports plant: an exercise with a wrong mark scheme, and candidates who share a mistake."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace

import numpy as np
import pytest

from exercises import BANK
from exercises.model import Exercise, Numeric
from exercises.model.variant import Variant
from grader.demo.simulation import Typed, answers_of
from tests.grader.cohorts import Twist, abilities

#: Part (d) of this exercise gets a wrong mark scheme; no other part is worked from it.
BAD = "solids-fresh"
BAD_PART = "d"


@contextmanager
def wrong_scheme() -> Iterator[Exercise]:
    """The bank with an exercise whose mark scheme takes a usual slip of part (d) for right; gives the sound one."""
    sound = BANK[BAD]
    bad = next(part for part in sound.parts if part.key == BAD_PART)
    assert isinstance(bad, Numeric)
    taken_for_right, *others = bad.slips
    wrong = replace(bad, solve=taken_for_right.wrong, slips=tuple(others), conventions=(), working=())
    parts = tuple(wrong if part is bad else part for part in sound.parts)
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(BANK, BAD, replace(sound, parts=parts))
        yield sound


def by_the_book(sound: Exercise, candidates: int, seed: int) -> Twist:
    """Candidates who answer as the sound exercise has it, whatever the mark scheme says."""
    generator = np.random.default_rng(seed)
    able = abilities(candidates, generator)

    def twist(number: int, variants: tuple[Variant, ...], _: dict[str, Typed | None]) -> Mapping[str, Typed | None]:
        as_meant = tuple(replace(v, exercise=sound) if v.exercise.id == sound.id else v for v in variants)
        return answers_of(as_meant, able[number], generator)

    return twist


def times_right(variant: Variant, item: str, times: float) -> Typed:
    """So many times the right answer to a number, as a candidate would type it."""
    wanted = variant.exercise.item(item)
    value, unit = variant.given_answer(wanted, variant.key[item] * times)
    return Typed(value, unit)


def with_slip(variant: Variant, item: str, name: str) -> Typed:
    """The answer of who makes this slip, all else being right."""
    wanted = variant.exercise.item(item)
    assert isinstance(wanted, Numeric)
    wrong = next(value for slip, value in variant.slip_values(wanted, variant.key) if slip.name == name)
    return Typed(*variant.given_answer(wanted, wrong))
