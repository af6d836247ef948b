"""Wrong answers that are right for somebody else's numbers: facts for the assessor, with how likely chance is.

Every paper's numbers are drawn for it alone, so how often an answer fits a stranger's numbers by chance can be found
by drawing strangers, whatever made the answer wrong. Held against the numbers of the others are the answers that
nothing of the own paper explains. One that a slip, a turned sign, a wrong unit or a known factor explains is not:
what the own numbers account for says nothing about anybody else's.
"""

from __future__ import annotations

import hashlib
import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from exercises.model.answers import UnreadableAnswer, read_number
from exercises.model.drawing import draw
from exercises.model.exercise import Exercise
from exercises.model.marking import UNEXPLAINED, ItemMark
from exercises.model.numbers import System
from exercises.model.parts import Numeric
from exercises.model.variant import Variant
from grader.marking.record import Record
from grader.store.part_marks import item_name
from pitside.unit_names import UnknownUnit, read_unit
from pitside.units import Quantity

#: Papers that are drawn for comparison, for each exercise and unit system.
STRANGERS = 120
#: Strangers from whose distance the chance is reckoned where fewer than these fit.
NEAREST = 10
#: No smaller chance is told: it would say more than so few strangers know.
SMALLEST_CHANCE = 1e-9
#: The hair that marking allows at the edge of a tolerance.
_EDGE = 1 + 1e-9
#: Pairs on the assessor's page: all that chance brings less than once, and the least likely up to so many.
_SHOWN = 8


@dataclass(frozen=True)
class Sat:
    """Somebody's paper of a sitting, and the record where its script was marked."""

    candidate: str
    variants: tuple[Variant, ...]
    record: Record | None
    attempt: int = 1


@dataclass(frozen=True)
class Fit:
    """A wrong answer that is right for another's numbers.

    ``own`` is the right answer on the own paper, ``there`` on the other's. ``chance`` is how likely the answer fits
    one other's numbers, ``chance_any`` those of at least one of all the others.
    """

    part: str
    given: str
    own: str
    there: str
    chance: float
    chance_any: float


@dataclass(frozen=True)
class Pair:
    """The wrong answers of one candidate that fit the numbers of one other.

    ``wrong`` is how many were held against them. ``chance`` is how likely so telling a set fits one stranger's
    numbers, ``expected`` how many pairs as unlikely as this chance brings in the whole sitting.
    """

    candidate: str
    other: str
    fits: tuple[Fit, ...]
    wrong: int
    chance: float
    expected: float
    #: Which of their attempts at the sitting these papers are.
    attempt: int = 1
    other_attempt: int = 1


@dataclass(frozen=True)
class Facts:
    """What was found in a sitting: ``found`` answers fit an other's numbers, where chance brings ``expected``.

    ``answers`` wrong answers were held against others' numbers, ``compared`` pairs of candidates looked at; ``pairs``
    begin with the least likely.
    """

    answers: int
    compared: int
    found: int
    expected: float
    pairs: tuple[Pair, ...]

    @property
    def shown(self) -> tuple[Pair, ...]:
        """The pairs for the page; the table holds all."""
        unlikely = sum(pair.expected < 1 for pair in self.pairs)
        return self.pairs[: max(unlikely, _SHOWN)]


@dataclass(frozen=True)
class _Wrong:
    """An answer to hold against others' numbers, and whose (by place in the sitting)."""

    whose: int
    part: str
    mark: ItemMark

    def number_in(self, unit: str) -> float:
        """The answer as a number in a unit; an answer without one is taken as it stands. NaN where it cannot be."""
        try:
            number = read_number(self.mark.value if self.mark.value is not None else "")
            if not self.mark.unit.strip():
                return number
            given = read_unit(self.mark.unit)
        except (UnreadableAnswer, UnknownUnit):
            return math.nan
        asked = read_unit(unit)
        if given.dimensionality != asked.dimensionality:
            return math.nan
        return float(Quantity(number, given).m_as(asked))


@dataclass(frozen=True)
class _Bands:
    """What is right in one item: a row for each set of numbers, a column for each convention, in the asked unit."""

    values: np.ndarray
    reaches: np.ndarray

    @classmethod
    def of(cls, variants: Sequence[Variant], item: Numeric) -> _Bands:
        rows = [list(variant.right_values(item, variant.key).values()) for variant in variants]
        values = np.full((len(rows), max(map(len, rows))), np.nan)
        reaches = np.zeros_like(values)
        for place, row in enumerate(rows):
            values[place, : len(row)] = [float(value.magnitude) for value in row]
            reaches[place, : len(row)] = [item.tolerance.reach(value) for value in row]
        return cls(values, reaches)

    def distances(self, numbers: np.ndarray) -> np.ndarray:
        """How many tolerances each number (rows) lies from what is right for each set of numbers (columns)."""
        away = np.abs(numbers[:, None, None] - self.values)
        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
            away = np.where(away == 0, 0, away / self.reaches)
        return np.where(np.isnan(away), np.inf, away).min(axis=2)

    @cached_property
    def agree(self) -> np.ndarray:
        """Whether the right value of one set of numbers (rows) is right for another's too (columns)."""
        return self.distances(self.values[:, 0]) <= _EDGE


@dataclass
class Strangers:
    """Papers that nobody sat, drawn anew from the same start each time, and what is right in them."""

    _drawn: dict[tuple[str, System], list[Variant]] = field(default_factory=dict)
    _bands: dict[tuple[str, System, str], _Bands] = field(default_factory=dict)
    _tied: dict[tuple[str, System, tuple[str, ...]], float] = field(default_factory=dict)

    def bands(self, exercise: Exercise, system: System, item: Numeric) -> _Bands:
        name = (exercise.id, system)
        if name not in self._drawn:
            start = hashlib.sha256(f"strangers|{exercise.id}|{exercise.version}|{system}".encode()).digest()
            generator = np.random.default_rng(int.from_bytes(start[:8]))
            self._drawn[name] = [draw(exercise, generator, system) for _ in range(STRANGERS)]
        if (*name, item.key) not in self._bands:
            self._bands[*name, item.key] = _Bands.of(self._drawn[name], item)
        return self._bands[*name, item.key]

    def tied(self, exercise: Exercise, system: System, items: tuple[Numeric, ...]) -> float:
        """How much more often two strangers agree in all these items than they would if the items were unconnected.

        Where too few agree in all of them to tell, it is built up item by item, each tied to the one before it that
        it hangs together with most.
        """
        name = (exercise.id, system, tuple(item.key for item in items))
        if name not in self._tied:
            agree = np.array([self.bands(exercise, system, item).agree for item in items])
            agree &= ~np.eye(STRANGERS, dtype=bool)
            pairs = STRANGERS * (STRANGERS - 1)
            single = (agree.sum(axis=(1, 2)) + 1) / (pairs + 1)
            two = (np.einsum("iab,jab->ij", agree.astype(int), agree.astype(int)) + 1) / (pairs + 1)
            ratios = np.maximum(two / np.outer(single, single), 1)
            built_up = math.prod(float(ratios[place, :place].max()) for place in range(1, len(items)))
            in_all = float(np.logical_and.reduce(agree).sum() / pairs / single.prod())
            self._tied[name] = max(built_up, in_all)
        return self._tied[name]


@dataclass(frozen=True)
class _Found:
    """A fit on the way to its pair: with the exercise and item it stands in."""

    fit: Fit
    exercise: Exercise
    item: Numeric


def others_numbers(sitting: Sequence[Sat], strangers: Strangers) -> Facts:
    """Hold the unexplained wrong answers of a sitting against the numbers of everybody else who sat it.

    No attempt of a candidate is held against another of the same one, who is nobody else.
    ``strangers`` may serve several sittings, since drawing them is what takes the time.
    """
    wrong = {place: list(_unexplained(place, sat)) for place, sat in enumerate(sitting)}
    by_item: dict[tuple[str, str], list[_Wrong]] = defaultdict(list)
    for place, sat in enumerate(sitting):
        for number, key, answer in wrong[place]:
            by_item[sat.variants[number].exercise.id, key].append(answer)
    found: dict[tuple[int, int], list[_Found]] = defaultdict(list)
    expected = 0.0
    for (exercise, key), answers in by_item.items():
        there = _who_sat(sitting, exercise)
        item = next(item for item in next(iter(there.values()))[0][1].exercise.items if item.key == key)
        assert isinstance(item, Numeric)
        chances, fitting = {}, {}
        missed = np.ones(len(answers))
        for system, others in there.items():
            variants = [variant for _, variant in others]
            numbers = np.array([answer.number_in(variants[0].unit(item)) for answer in answers])
            away = strangers.bands(variants[0].exercise, system, item).distances(numbers)
            own = np.array([[sitting[p].candidate == sitting[a.whose].candidate for p, _ in others] for a in answers])
            fitting[system] = (_Bands.of(variants, item).distances(numbers) <= _EDGE) & ~own
            chances[system] = _chances(away)
            how_many = (~own).sum(axis=1)
            missed *= (1 - chances[system]) ** how_many
            expected += float(((away <= _EDGE).mean(axis=1) * how_many).sum())
        for system, others in there.items():
            for row, column in zip(*np.nonzero(fitting[system]), strict=True):
                answer, (place, variant) = answers[row], others[column]
                shown = variant.shown_answer(item, variant.key[key])
                fit = Fit(
                    answer.part,
                    answer.mark.given,
                    answer.mark.model,
                    shown,
                    float(chances[system][row]),
                    1 - float(missed[row]),
                )
                found[answer.whose, place].append(_Found(fit, variant.exercise, item))
    papers = Counter(one.candidate for one in sitting)
    compared = sum(len(sitting) - papers[sitting[place].candidate] for place, answers in wrong.items() if answers)
    pairs = []
    for (whose, place), fits in found.items():
        chance = _pair_chance(strangers, sitting[place].variants[0].system, fits, len(wrong[whose]))
        told = tuple(one.fit for one in sorted(fits, key=lambda one: one.fit.part))
        pairs.append(
            Pair(
                sitting[whose].candidate,
                sitting[place].candidate,
                told,
                len(wrong[whose]),
                chance,
                chance * compared,
                sitting[whose].attempt,
                sitting[place].attempt,
            )
        )
    pairs.sort(key=lambda pair: (pair.chance, pair.candidate, pair.other, pair.attempt, pair.other_attempt))
    answers_held = sum(map(len, wrong.values()))
    return Facts(answers_held, compared, sum(len(pair.fits) for pair in pairs), expected, tuple(pairs))


def _unexplained(place: int, sat: Sat) -> Iterable[tuple[int, str, _Wrong]]:
    """The answers that nothing of the own paper explains, with place of the exercise in the paper and item key."""
    if sat.record is None:
        return
    for number, exercise in enumerate(sat.record.exercises):
        for mark in exercise.items:
            if mark.rule in UNEXPLAINED:
                yield number, mark.item, _Wrong(place, item_name(number + 1, mark.item), mark)


def _who_sat(sitting: Sequence[Sat], exercise: str) -> dict[System, list[tuple[int, Variant]]]:
    there: dict[System, list[tuple[int, Variant]]] = defaultdict(list)
    for place, sat in enumerate(sitting):
        for variant in sat.variants:
            if variant.exercise.id == exercise:
                there[variant.system].append((place, variant))
    return there


def _chances(away: np.ndarray) -> np.ndarray:
    """How likely each answer (rows) fits a stranger's numbers, given its distance in tolerances from each (columns).

    The share of the strangers that it fits; where few do, the share that would if the strangers near it, in and
    beyond the tolerance, lay evenly.
    """
    share = (away <= _EDGE).mean(axis=1)
    near = np.sort(away, axis=1)[:, NEAREST - 1]
    with np.errstate(divide="ignore", over="ignore"):
        evenly = NEAREST / away.shape[1] / near
    return np.maximum(np.where(near <= _EDGE, share, evenly), SMALLEST_CHANCE)


def _pair_chance(strangers: Strangers, system: System, found: list[_Found], wrong: int) -> float:
    """How likely so telling a set, out of so many wrong answers, fits the numbers of one stranger; rather too high.

    Exercises are drawn apart, so their chances multiply. The parts of one exercise hang together by its numbers; how
    much shows in how often strangers agree in all of them. A set may be any of so many answers, which is reckoned by
    the number of sets of its size.
    """
    chance = float(math.comb(wrong, len(found)))
    by_exercise: dict[str, list[_Found]] = defaultdict(list)
    for one in found:
        by_exercise[one.exercise.id].append(one)
    for group in by_exercise.values():
        each = [one.fit.chance for one in group]
        tied = strangers.tied(group[0].exercise, system, tuple(one.item for one in group)) if len(group) > 1 else 1
        chance *= min(min(each), math.prod(each) * tied)
    return min(1.0, max(chance, SMALLEST_CHANCE))


COLUMNS = (
    "sitting", "candidate", "numbers_of", "part", "answer", "right_there", "right_on_own_paper", "chance_with_one",
    "chance_with_any", "parts_of_pair", "wrong_answers", "chance_of_pair", "expected_in_sitting", "attempt",
    "numbers_of_attempt",
)  # fmt: skip


def table(facts: Iterable[tuple[str, Facts]]) -> Iterator[tuple[Any, ...]]:
    """All fits of the sittings as rows, the names of the columns first, then one for an answer and other candidate."""
    yield COLUMNS
    for sitting, found in facts:
        for pair in found.pairs:
            for fit in pair.fits:
                yield (
                    sitting, pair.candidate, pair.other, fit.part, fit.given, fit.there, fit.own, f"{fit.chance:.2g}",
                    f"{fit.chance_any:.2g}", len(pair.fits), pair.wrong, f"{pair.chance:.2g}", f"{pair.expected:.2g}",
                    pair.attempt, pair.other_attempt,
                )  # fmt: skip


def one_in(chance: float) -> str:
    """A chance as people say it: ``1 in 250``, from a tenth on as ``30 %``."""
    if chance >= 0.1:
        return f"{100 * chance:.0f} %"
    if chance < 1e-6:
        return "less than 1 in a million"
    digits = 2 - len(f"{1 / chance:.0f}")
    return f"1 in {round(1 / chance, min(digits, 0)):,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def count_of(expected: float) -> str:
    """An expected number as people read it: ``23``, ``2.4``, ``0.03``, ``under 0.001``."""
    if expected < 0.001:
        return "under 0.001"
    if expected < 1:
        return f"{expected:.1g}"
    return f"{expected:.1f}" if expected < 10 else f"{expected:.0f}"
