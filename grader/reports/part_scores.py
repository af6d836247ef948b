"""The marks of each part of the scripts that count, as reports take them: from the records alone.

So they are there for scripts too whose mark scheme is no longer in the bank.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np

from exercises.model.marking import UNEXPLAINED, Rule
from exercises.tasks import TASKS
from grader.marking.record import Record, part_of
from grader.reports.item_statistics import FEWEST_FOR_STATISTICS, Estimate, pooled_correlation
from grader.reports.results import Result
from grader.store.part_marks import item_name
from grader.store.percents import exact
from grader.store.register import Paper

TOO_EASY, TOO_HARD = 0.97, 0.2
LEAST_DISCRIMINATION = 0.1
#: How many wrong answers without a known reason are worth a look: at least, and as a share of the scripts.
FEWEST_UNEXPLAINED, SHARE_UNEXPLAINED = 5, 0.25


@dataclass(frozen=True, order=True)
class PartId:
    """A part of an exercise in one of its versions: what it asks and earns is the same wherever it stands."""

    exercise: str
    version: int
    part: str


@dataclass(frozen=True)
class PartScore:
    """What a script got for a part; ``marks`` is None while it waits for hand marks.

    ``unexplained`` says that an answer is wrong and fits no mistake that the mark scheme knows.
    """

    name: str
    marks: float | None
    out_of: float
    left_out: bool
    unexplained: bool

    @property
    def share(self) -> float | None:
        return None if self.marks is None else self.marks / self.out_of


@dataclass(frozen=True)
class ScoredScript:
    """A script's marks by part, in the order of its paper."""

    candidate: str
    sitting: str
    parts: Mapping[PartId, PartScore]

    @property
    def percent(self) -> float | None:
        """The marks of a hundred over the parts that have marks; None where none has."""
        share = self.share_of(self.parts)
        return None if share is None else float(100 * share)

    def rest(self, part: PartId) -> Fraction | None:
        """The share of the marks of all other parts that have marks."""
        marks, out_of = self._sums
        own = self.parts.get(part)
        if own and own.marks is not None:
            marks, out_of = marks - exact(own.marks), out_of - exact(own.out_of)
        return marks / out_of if out_of else None

    @cached_property
    def _sums(self) -> tuple[Fraction, Fraction]:
        """The marks of all parts that have marks, and what these are out of."""
        got = [(exact(score.marks), exact(score.out_of)) for score in self.parts.values() if score.marks is not None]
        return sum((marks for marks, _ in got), Fraction()), sum((out_of for _, out_of in got), Fraction())

    def share_of(self, wanted: Iterable[PartId]) -> Fraction | None:
        """The share, exactly, of the marks of those of some parts that have marks; None where none has."""
        got = [(exact(s.marks), exact(s.out_of)) for s in map(self.parts.__getitem__, wanted) if s.marks is not None]
        if not got:
            return None
        return sum((marks for marks, _ in got), Fraction()) / sum((out_of for _, out_of in got), Fraction())


def scored(results: Iterable[Result]) -> tuple[ScoredScript, ...]:
    """The scripts with marks that count, one a candidate and sitting."""
    found = []
    for result in results:
        if result.counts and result.record and result.paper:
            parts = _parts(result.paper, result.record)
            found.append(ScoredScript(result.candidate.id, result.sitting.id, parts))
    return tuple(found)


def _parts(paper: Paper, record: Record) -> dict[PartId, PartScore]:
    parts = {}
    # A record of before another mark scheme was accepted, and not yet marked by it, is of the version as issued.
    is_by_todays = record.scheme == paper.scheme
    for number, (entry, marked) in enumerate(zip(paper.entries, record.exercises, strict=False), 1):
        version = entry.marked_by.version if is_by_todays else entry.version
        for part, marks in marked.part_marks.items():
            items = [item for item in marked.items if part_of(item) == part]
            out_of = sum(item.out_of for item in items)
            if out_of:
                parts[PartId(entry.exercise, version, part)] = PartScore(
                    name=item_name(number, part),
                    marks=marks,
                    out_of=out_of,
                    left_out=all(item.rule is Rule.BLANK for item in items),
                    unexplained=any(item.rule in UNEXPLAINED for item in items),
                )
    return parts


@dataclass(frozen=True)
class PartFigures:
    """What scripts say of a part, as shares from 0 to 1; ``scripts`` counts those with marks for it.

    A step that was ``observed`` is there to be done by everybody, not to tell candidates apart.
    """

    out_of: float
    scripts: int
    facility: float
    discrimination: Estimate | None
    omitted: float
    unexplained: float
    observed: bool = False

    @property
    def odd(self) -> tuple[tuple[int, str], ...]:
        """What should be looked at: how much, from 1 to 3, and why, in plain words."""
        said = []
        discrimination = self.discrimination
        if discrimination and discrimination.value < 0 and discrimination.high < LEAST_DISCRIMINATION:
            where = "how the step is worded or seen" if self.observed else "the question or its marks"
            said.append((3, f"those who do well otherwise do worse here: look for a fault in {where}"))
        count = round(self.unexplained * self.scripts)
        if count >= FEWEST_UNEXPLAINED and self.unexplained >= SHARE_UNEXPLAINED:
            said.append((2, f"{count} of {self.scripts} answers are wrong in a way that the mark scheme does not know"))
        if self.scripts >= FEWEST_FOR_STATISTICS:
            if self.facility <= TOO_HARD:
                said.append((2, "hardly anybody can do it: taught badly, asked badly, or marked wrongly"))
            if self.observed:
                pass
            elif self.facility >= TOO_EASY:
                said.append((1, "nearly everybody can do it: it tells nobody apart"))
            elif discrimination and not said and discrimination.value < LEAST_DISCRIMINATION:
                chance = ", though with so few scripts that may be chance" if discrimination.high > 0.2 else ""
                said.append((1, f"it hardly tells the able from the others{chance}"))
        return tuple(sorted(said, key=lambda pair: -pair[0]))


def discrimination_of(of: PartFigures) -> float:
    """A part's discrimination, to put parts in order by; 1, the best there is, where it is not known."""
    return of.discrimination.value if of.discrimination else 1.0


def figures(part: PartId, groups: Sequence[Sequence[ScoredScript]]) -> PartFigures | None:
    """What the scripts of one or several groups, such as the sittings of several cohorts, say of a part.

    The discrimination is the correlation of a part's marks with those of the rest of the script, inside of each group
    (the corrected item-total correlation). None where no script has marks for the part.
    """
    pairs, shares, marked, holding = [], [], [], []
    for group in groups:
        own = [script for script in group if part in script.parts]
        holding += [script.parts[part] for script in own]
        judged = [(script.parts[part], script.rest(part)) for script in own if script.parts[part].marks is not None]
        marked += [score for score, _ in judged]
        shares += [score.share for score, _ in judged]
        both = [(score.share, rest) for score, rest in judged if rest is not None]
        pairs.append((np.array([s for s, _ in both], dtype=float), np.array([r for _, r in both], dtype=float)))
    if not marked:
        return None
    return PartFigures(
        out_of=marked[-1].out_of,
        scripts=len(marked),
        facility=float(np.mean(np.array(shares, dtype=float))),
        discrimination=pooled_correlation(pairs),
        omitted=sum(score.left_out for score in holding) / len(holding),
        unexplained=sum(score.unexplained for score in marked) / len(marked),
        observed=part.exercise in TASKS,
    )
