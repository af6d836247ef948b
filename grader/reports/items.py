"""The item report: how each part of each exercise did over cohorts, and how reliable the marks of the sittings are.

A cohort is a school folder. Parts are put together by exercise, part and version, whatever paper they stood in.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np

from exercises import BANK
from exercises.tasks import exercise_named
from grader.pages.pages import filled
from grader.reports import charts
from grader.reports.debrief import cells
from grader.reports.item_statistics import FEWEST_FOR_STATISTICS, Estimate, coefficient_alpha
from grader.reports.part_scores import PartFigures, PartId, ScoredScript, discrimination_of, figures, scored
from grader.reports.results import gather
from grader.store.csv_files import write_tables
from grader.store.errors import GraderError
from grader.store.files import only_one, write_text
from grader.store.school import open_school
from grader.store.wording import typed

#: A change between cohorts is told where it is this share of the marks or more, and so large that chance alone brings
#: such a one in any of the parts with this probability.
LEAST_CHANGE, CHANCE_OF_CHANGE = 0.1, 0.01


@dataclass(frozen=True)
class Cohort:
    """A school as the report takes it: how it is called there, when it was, and the scripts that count."""

    label: str
    title: str
    starts: date
    folder: Path
    scripts: tuple[ScoredScript, ...]
    #: Papers without marks: absent, not handed in, not marked.
    without: int


@dataclass(frozen=True)
class Item:
    """A part over all cohorts: its figures, and those of each cohort that has marks for it, by the cohort's label."""

    id: PartId
    title: str
    figures: PartFigures
    cohorts: Mapping[str, PartFigures]
    #: By how much more or less of its marks the latest cohort got than those before it, beyond the rest of the paper.
    change: float | None

    @property
    def odd(self) -> tuple[tuple[int, str], ...]:
        """What should be looked at: how much, from 1 to 3, and why, in plain words."""
        said = list(self.figures.odd)
        if self.change is not None:
            way = "easier" if self.change > 0 else "harder"
            size = f"{100 * abs(self.change):.0f}"
            said.append(
                (2, f"it has become {way}: {size} points of facility since the cohorts before, beyond other parts")
            )
        return tuple(sorted(said, key=lambda pair: -pair[0]))


@dataclass(frozen=True)
class Reliability:
    """How reliable the marks of one paper are: a sitting of a cohort, and all its scripts with the same parts.

    ``scripts`` are those without pending parts; ``error`` is the standard error of a script's marks, in percent.
    """

    cohort: str
    sitting: str
    parts: int
    scripts: int
    mean: float
    alpha: Estimate | None
    error: float | None


@dataclass(frozen=True)
class ItemReport:
    """What several cohorts say of the parts of their papers; ``doubts`` are lines on what was put together."""

    cohorts: tuple[Cohort, ...]
    items: tuple[Item, ...]
    reliabilities: tuple[Reliability, ...]
    doubts: tuple[str, ...]

    @property
    def odd(self) -> tuple[tuple[Item, str], ...]:
        """Each part to look at and why; the worst first, of equals those that tell the able apart least."""
        found = [(-much, discrimination_of(item.figures), item, why) for item in self.items for much, why in item.odd]
        return tuple((item, why) for _, _, item, why in sorted(found, key=lambda one: one[:2]))


def read_cohorts(folders: Sequence[Path]) -> tuple[tuple[Cohort, ...], dict[str, str]]:
    """The cohorts of school folders, the earliest first, and the titles of their exercises by id.

    Raises: :class:`GraderError` where a folder is no school, is named twice, or another command is at work in it.
    """
    cohorts: list[Cohort] = []
    titles: dict[str, dict[str, None]] = defaultdict(dict)
    for folder in folders:
        if any(folder.resolve() == cohort.folder.resolve() for cohort in cohorts):
            raise GraderError(f"{folder}: named twice; name each school folder once")
        school = open_school(folder)
        with only_one(folder):
            results = gather(school)
        scripts = scored(results)
        for name in {part.exercise for script in scripts for part in script.parts}:
            exercise = exercise_named(name, school.bank)
            titles[name][exercise.title if exercise else name] = None
        without = sum(1 for result in results if result.counts and not result.record)
        label = f"{school.id} {school.starts:%Y-%m-%d}"
        cohorts.append(Cohort(label, school.title, school.starts, folder, scripts, without))
    labels = [cohort.label for cohort in cohorts]
    apart = (
        replace(cohort, label=f"{cohort.label} ({cohort.folder.resolve().name})")
        if labels.count(cohort.label) > 1
        else cohort
        for cohort in cohorts
    )
    in_order = sorted(apart, key=lambda cohort: (cohort.starts, cohort.label))
    return tuple(in_order), {name: " / ".join(known) for name, known in titles.items()}


def item_report(folders: Sequence[Path]) -> ItemReport:
    """Study the parts of all papers of several schools.

    Raises: :class:`GraderError` as :func:`read_cohorts`, and where nothing is marked in any of them.
    """
    cohorts, titles = read_cohorts(folders)
    if not any(cohort.scripts for cohort in cohorts):
        raise GraderError(
            f"{folders[0]}: nothing is marked yet in any of the schools; mark first: pitside mark {typed(folders[0])}"
        )
    groups = {cohort.label: _sittings(cohort) for cohort in cohorts}
    order = {name: place for place, name in enumerate(BANK)}
    parts = {part for cohort in cohorts for script in cohort.scripts for part in script.parts}
    items = []
    for part in sorted(parts, key=lambda part: (order.get(part.exercise, len(order)), part)):
        whole = figures(part, [group for own in groups.values() for group in own])
        if whole:
            each = {label: figures(part, own) for label, own in groups.items()}
            marked = {label: found for label, found in each.items() if found}
            change = _change(part, [cohort.scripts for cohort in cohorts if cohort.label in marked], len(parts))
            items.append(Item(part, titles[part.exercise], whole, marked, change))
    doubts = tuple(_doubts(cohorts, items, titles))
    return ItemReport(cohorts, tuple(items), tuple(_reliabilities(cohorts)), doubts)


def _sittings(cohort: Cohort) -> list[list[ScoredScript]]:
    """The scripts of a cohort by sitting and by the parts that the paper has."""
    groups: dict[tuple[str, tuple[PartId, ...]], list[ScoredScript]] = defaultdict(list)
    for script in cohort.scripts:
        groups[script.sitting, tuple(script.parts)].append(script)
    return list(groups.values())


def _change(part: PartId, cohorts: Sequence[Sequence[ScoredScript]], looked_at: int) -> float | None:
    """By how much the latest cohort's share of a part's marks is off, where that is large and no chance.

    What is compared is each script's share for the part less its share for the parts that both the latest and the
    earlier cohorts had, so that an abler cohort is not taken for an easier part. ``looked_at`` is how many parts there
    are: with each more one of them changes by chance.
    """
    if len(cohorts) < 2:
        return None
    latest, before = cohorts[-1], [script for cohort in cohorts[:-1] for script in cohort]
    common = {p for script in latest for p in script.parts} & {p for script in before for p in script.parts} - {part}
    new, old = _beyond(part, common, latest), _beyond(part, common, before)
    if min(len(new), len(old)) < FEWEST_FOR_STATISTICS:
        return None
    change = float(new.mean() - old.mean())
    within = float(((new - new.mean()) ** 2).sum() + ((old - old.mean()) ** 2).sum()) / (len(new) + len(old) - 2)
    error = math.sqrt(within * (1 / len(new) + 1 / len(old)))
    sure = NormalDist().inv_cdf(1 - CHANCE_OF_CHANGE / (2 * looked_at))
    return change if abs(change) >= max(LEAST_CHANGE, sure * error) else None


def _beyond(part: PartId, common: set[PartId], scripts: Sequence[ScoredScript]) -> np.ndarray:
    found = []
    for script in scripts:
        share = script.parts[part].share if part in script.parts else None
        rest = script.share_of(one for one in script.parts if one in common) if common else 0.0
        if share is not None and rest is not None:
            found.append(share - rest)
    return np.array(found, dtype=float)


def _reliabilities(cohorts: Sequence[Cohort]) -> Iterator[Reliability]:
    for cohort in cohorts:
        for group in _sittings(cohort):
            parts = list(group[0].parts)
            complete = [s for s in group if all(score.marks is not None for score in s.parts.values())]
            scores = np.array([[s.parts[part].marks for part in parts] for s in complete], dtype=float)
            if not len(complete):
                yield Reliability(cohort.label, group[0].sitting, len(parts), 0, math.nan, None, None)
                continue
            percents = np.array([script.percent for script in complete], dtype=float)
            alpha = coefficient_alpha(scores)
            error = float(percents.std(ddof=1)) * math.sqrt(1 - alpha.value) if alpha else None
            mean = float(percents.mean())
            yield Reliability(cohort.label, group[0].sitting, len(parts), len(complete), mean, alpha, error)


def _doubts(cohorts: Sequence[Cohort], items: Sequence[Item], titles: Mapping[str, str]) -> Iterator[str]:
    """What a reader should know of the schools and exercises that were put together."""
    for cohort in cohorts:
        if not cohort.scripts:
            yield f"{cohort.label}: nothing is marked there yet, so it is not in the tables"
    for item in items:
        if len({of.out_of for of in item.cohorts.values()}) > 1:
            yield (
                f"{item.id.exercise}, part ({item.id.part}): its marks are not the same in all cohorts, though the "
                f"version {item.id.version} is; an exercise's version goes up when its marks change"
            )
    for name, title in titles.items():
        if " / " in title:
            yield f"{name}: two exercises of one id ({title}) are put together; give one of them another id"


# Pages ----------------------------------------------------------------------------------------------------------------


def write_items(found: ItemReport, page: Path) -> tuple[Path, Path, Path]:
    """Write the report as a page, and as two tables beside it, CSV and workbook; gives three paths."""
    table, reliability = page.with_suffix(".csv"), page.with_name(f"{page.stem}_reliability.csv")
    by_exercise: dict[str, list[Item]] = defaultdict(list)
    for item in found.items:
        by_exercise[item.id.exercise].append(item)
    text = filled(
        "reports/items.html",
        found=found,
        by_exercise=list(by_exercise.values()),
        cohorts=[cohort for cohort in found.cohorts if cohort.scripts],
        scatter=charts.scatter(list(_plotted(found.items))),
        over_time=charts.bars(
            [(f"{one.cohort}, {one.sitting}", one.mean) for one in found.reliabilities if one.scripts],
            height=0.3,
            label="mean marks (%)",
            says="Mean marks by cohort and sitting",
        ),
        table=table.name,
        reliability=reliability.name,
    )
    write_text(page, text)
    write_tables(table, _item_rows(found), "Parts")
    write_tables(reliability, _reliability_rows(found), "Reliability")
    return page, table, reliability


def _item_rows(found: ItemReport) -> Iterator[tuple[Any, ...]]:
    """A row for each part over all cohorts, and behind it one for each cohort."""
    yield (
        "exercise", "version", "part", "cohort", "marks", "scripts", "facility",
        "discrimination", "discrimination_low", "discrimination_high", "omitted", "unexplained", "look at",
    )  # fmt: skip
    for item in found.items:
        name = (item.id.exercise, item.id.version, item.id.part)
        yield *name, "all", *_figures_cells(item.figures), " | ".join(why for _, why in item.odd)
        for label, of in item.cohorts.items():
            yield *name, label, *_figures_cells(of), ""


def _figures_cells(of: PartFigures) -> tuple[Any, ...]:
    shares = round(of.omitted, 4), round(of.unexplained, 4)
    return of.out_of, of.scripts, round(of.facility, 4), *cells(of.discrimination), *shares


def _reliability_rows(found: ItemReport) -> Iterator[tuple[Any, ...]]:
    yield "cohort", "sitting", "parts", "scripts", "mean_percent", "alpha", "alpha_low", "alpha_high", "error_percent"
    for one in found.reliabilities:
        mean = round(one.mean, 4) if one.scripts else ""
        error = "" if one.error is None else round(one.error, 4)
        yield one.cohort, one.sitting, one.parts, one.scripts, mean, *cells(one.alpha), error


def _plotted(items: Iterable[Item]) -> Iterator[charts.PlottedPart]:
    """The parts whose discrimination is known."""
    for item in items:
        if discrimination := item.figures.discrimination:
            name = f"{item.id.exercise} ({item.id.part})"
            is_odd = any(much > 1 for much, _ in item.odd)
            yield charts.PlottedPart(name, 100 * item.figures.facility, discrimination.value, is_odd)
