"""Moderation: a second marker's look at a sample of scripts, blind, and what comes of it.

A sample is drawn by rule and kept. Its written parts are marked once more by somebody who sees neither the first marks
nor who wrote them; how far the two agree is reported, and marks are changed only with a reason, both staying on record.
Answers that the mark scheme marks by itself are the same however often they are marked, so they are looked at, not
marked twice: ``pitside explain`` says how each came about.

Of tasks at the machine no sample is drawn: what two observers of one task said is both marks, see
:mod:`grader.reports.observers`.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from exercises.model import Written
from grader.marking.changes import change_mark, most_marks
from grader.marking.record import Record
from grader.marking.written_answers import asked_in_words
from grader.pages.pages import filled
from grader.reports.results import Result
from grader.store.csv_files import read_csv, write_csv
from grader.store.errors import GraderError
from grader.store.files import read_bytes, write_json, write_text
from grader.store.log import SECOND_MARKS, Log
from grader.store.part_marks import ChangeKind, item_name
from grader.store.school import School, Sitting
from grader.store.wording import typed

#: A tenth of the scripts, and six at the least: common practice, no source.
SHARE, FEWEST = 0.1, 6
#: Of the sample, a third lies nearest to the pass mark, a sixth each at the top and at the bottom; the rest is random.
BORDERLINE, ENDS = 1 / 3, 1 / 6
#: Differences up to this many marks count as agreement within one mark.
ONE_MARK = 1.0
LONGEST_COMMENT = 2000

MARK_COLUMNS = ("draw", "sample", "part", "out_of", "marks", "comment", "marker")
DECIDE_COLUMNS = ("sample", "part", "paper", "out_of", "first", "second", "decided", "reason")


@dataclass(frozen=True)
class Sampled:
    """A script of the sample: the number by which the second marker knows it, its paper, and why it was drawn."""

    sample: str
    paper: str
    why: str


@dataclass(frozen=True)
class SecondMark:
    """What the second marker gave a written part."""

    sample: str
    part: str
    marks: float
    comment: str
    marker: str


@dataclass(frozen=True)
class Sample:
    """The sample of a sitting: how it was drawn, and the second marks as far as they are in."""

    sitting: str
    size: int
    seed: int
    #: Tells this sample from another of the sitting, in which the same numbers are other scripts; stays when one is
    #: taken out of it.
    draw: str
    drawn: tuple[Sampled, ...]
    second: tuple[SecondMark, ...] = ()


@dataclass(frozen=True)
class TwiceMarked:
    """A written part of a script of the sample with both marks; ``first`` is None while it waits for hand marks."""

    drawn: Sampled
    part: str
    out_of: float
    first: float | None
    second: SecondMark | None


@dataclass(frozen=True)
class Agreement:
    """How far two markers agree on a part, or on all of them (``part`` is empty).

    ``kappa``: quadratically weighted; None where there is nothing to tell apart, with fewer than two scripts or where
    both gave one and the same mark to all. ``difference``: the second marks less the first, mean.
    """

    part: str
    scripts: int
    kappa: float | None
    exact: float
    within_one: float
    difference: float


def weighted_kappa(first: Sequence[float], second: Sequence[float]) -> float | None:
    """Cohen's kappa with quadratic weights: one less the mean squared difference over that of all possible pairs.

    That is the usual form on a table of counts, whose weights are the squared differences of the marks. None where it
    is not defined. Source: J. Cohen, Weighted kappa, Psychological Bulletin 70 (1968) 213-220 (from memory).

    >>> weighted_kappa([1, 2, 3, 4], [1, 2, 3, 4]), weighted_kappa([1, 2, 3, 4], [1, 2, 4, 3])
    (1.0, 0.8)
    """
    one, other = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    by_chance = np.mean((one[:, None] - other[None, :]) ** 2) if len(one) else 0.0
    if len(one) < 2 or by_chance == 0:
        return None
    return float(1 - np.mean((one - other) ** 2) / by_chance)


def agreement(part: str, first: Sequence[float], second: Sequence[float]) -> Agreement:
    """How far the marks agree; of one script at least."""
    apart = np.asarray(second, dtype=float) - np.asarray(first, dtype=float)
    near = np.abs(apart) <= ONE_MARK + 1e-9
    return Agreement(
        part, len(apart), weighted_kappa(first, second), float(np.mean(np.abs(apart) < 1e-9)), float(np.mean(near)),
        float(np.mean(apart)),
    )  # fmt: skip


# The sample -----------------------------------------------------------------------------------------------------------


def _file(school: School, sitting: str) -> Path:
    return school.records / f"moderation_{sitting}.json"


def sample_of(
    school: School, sitting: Sitting, results: Sequence[Result], size: int | None = None, seed: int | None = None
) -> Sample:
    """The sitting's sample, drawn the first time and kept.

    Raises: :class:`GraderError` where nothing is marked yet, the size is more than there is, or a sample of another
    size or seed was drawn before.
    """
    if sitting.observed:
        raise GraderError(
            f"sitting {sitting.id} was watched, not written: nothing is drawn; a second observer's file goes in by "
            f"pitside observe {school.here} --take observed_{sitting.id}.json"
        )
    kept = _kept(school, sitting)
    if kept:
        asked = (kept.size if size is None else size, kept.seed if seed is None else seed)
        if asked != (kept.size, kept.seed):
            raise GraderError(
                f"{_file(school, sitting.id)}: a sample of {kept.size} with seed {kept.seed} was drawn already and "
                "second marks may belong to it; move that file away to draw another"
            )
        return kept
    of_sitting = [result for result in results if result.sitting.id == sitting.id and result.counts]
    marked = [result for result in of_sitting if result.record and result.variants]
    if not marked:
        raise GraderError(f"{school.records}: no marked script of sitting {sitting.id}; mark some first: pitside mark")
    usual = min(len(marked), max(FEWEST, math.ceil(SHARE * len(marked))))
    size = usual if size is None else size
    if size > len(marked):
        raise GraderError(f"sitting {sitting.id}: a sample of {size} is more than its {len(marked)} marked scripts")
    seed = 1 if seed is None else seed
    drawn = tuple(_drawn(marked, school.pass_percent, size, seed))
    # It begins with a word, or a spreadsheet would take some for numbers and write them its own way.
    draw = "draw-" + hashlib.sha256(" ".join(one.paper for one in drawn).encode()).hexdigest()[:8]
    found = Sample(sitting.id, size, seed, draw, drawn)
    keep_sample(school, found)
    return found


def keep_sample(school: School, sample: Sample) -> None:
    """Write a sample with its second marks, and before it the log's line by which it is known again."""
    Log(school).write(SECOND_MARKS, sitting=sample.sitting, sample=_drawn_digest(sample), second=_second_digest(sample))
    write_json(_file(school, sample.sitting), asdict(sample))


def _drawn_digest(sample: Sample) -> str:
    return _digest([sample.sitting, sample.size, sample.seed, sample.draw, *(asdict(one) for one in sample.drawn)])


def _second_digest(sample: Sample) -> str:
    return _digest([asdict(one) for one in sample.second])


def _digest(data: Any) -> str:
    return hashlib.sha256(json.dumps(data, ensure_ascii=False, sort_keys=True).encode()).hexdigest()


def sample_faults(school: School, log: Log, sitting: str) -> Iterator[str]:
    """In what a sitting's sample or its second marks are not as the log has them; where both, the sample alone.

    Samples that were drawn before the log told of any pass.
    """
    path = _file(school, sitting)
    sample = read_sample(path)
    told = [(n, line) for n, line in log.numbered("") if line["what"] == SECOND_MARKS]
    lines = [(n, line) for n, line in told if line["sitting"] == sitting]
    if sample is None or not lines:
        return
    number, line = lines[-1]
    if line["sample"] != _drawn_digest(sample):
        yield (
            f"{path}: not the sample that line {number} of {log.path} tells of; restore it from your backup, or move "
            "it away to draw a sample; if somebody was being forgotten, forget them again"
        )
    elif line["second"] != _second_digest(sample):
        table = typed(school.records / f"moderation_{sitting}_marks.csv")
        yield (
            f"{path}: not the second marks that line {number} of {log.path} tells of; take the second marker's table "
            f"again: pitside moderate {school.here} --sitting {sitting} --take {table}"
        )


def _drawn(marked: list[Result], pass_percent: float, size: int, seed: int) -> Iterator[Sampled]:
    """The scripts of the sample in an order that tells nothing; ties are broken by the order of the roster."""
    left = sorted(marked, key=lambda result: result.percent)
    chosen: list[tuple[Result, str]] = []

    def take(many: int, why: str, near: Any) -> None:
        for result in sorted(left, key=near)[: min(many, size - len(chosen))]:
            left.remove(result)
            chosen.append((result, why))

    take(max(1, round(BORDERLINE * size)), "near the pass mark", lambda result: abs(result.percent - pass_percent))
    take(max(1, round(ENDS * size)), "among the best", lambda result: -result.percent)
    take(max(1, round(ENDS * size)), "among the weakest", lambda result: result.percent)
    generator = np.random.default_rng(seed)
    for at in generator.permutation(len(left))[: size - len(chosen)]:
        chosen.append((left[at], "at random"))
    for number, at in enumerate(generator.permutation(len(chosen)), 1):
        result, why = chosen[at]
        assert result.record
        yield Sampled(f"S{number:02d}", result.record.paper, why)


def _kept(school: School, sitting: Sitting, marks_anew: bool = False) -> Sample | None:
    """The sample that is kept; with ``marks_anew`` without second marks of which the log does not tell.

    Raises: :class:`GraderError` where it is damaged, or not as the log has it.
    """
    sample = read_sample(_file(school, sitting.id))
    for fault in sample_faults(school, Log(school, only_read=True), sitting.id):
        if sample and marks_anew and "second marks" in fault.partition(";")[0]:
            return replace(sample, second=())
        raise GraderError(fault)
    return sample


def read_sample(path: Path) -> Sample | None:
    """The sample in a file, if there is one. Raises: :class:`GraderError` if it is damaged."""
    try:
        data = json.loads(read_bytes(path))
        drawn = tuple(Sampled(**one) for one in data["drawn"])
        second = tuple(SecondMark(**one) for one in data["second"])
        return Sample(data["sitting"], data["size"], data["seed"], data["draw"], drawn, second)
    except FileNotFoundError:
        return None
    except (ValueError, KeyError, TypeError, RecursionError):
        raise GraderError(f"{path}: damaged; restore it from your backup, or move it away to draw a sample") from None


def pairs(sample: Sample, results: Sequence[Result]) -> list[TwiceMarked]:
    """Every written part of the sample with what it was given first and second.

    Raises: :class:`GraderError` where a script of the sample has no marks any more.
    """
    by_paper = {result.record.paper: result for result in results if result.record}
    second = {(mark.sample, mark.part): mark for mark in sample.second}
    found = []
    for drawn in sample.drawn:
        result = _result_of(drawn, by_paper)
        assert result.record
        first = first_marks(result.record)
        for number, variant, _ in result.exercises:
            for part in variant.exercise.parts:
                if isinstance(part, Written):
                    name = item_name(number, part.key)
                    mark = second.get((drawn.sample, name))
                    found.append(TwiceMarked(drawn, name, part.marks.total, first[name], mark))
    return found


def _result_of(drawn: Sampled, by_paper: Mapping[str, Result]) -> Result:
    """The script that was drawn, as it is marked now. Raises: :class:`GraderError` where it is not."""
    result = by_paper.get(drawn.paper)
    if result is None:
        raise GraderError(f"paper {drawn.paper} ({drawn.sample}) is not marked any more; mark it again: pitside mark")
    if not result.variants:
        raise GraderError(
            f"paper {drawn.paper} ({drawn.sample}): an exercise of it has changed since it was issued; accept the mark "
            "scheme of today: pitside mark --new-scheme"
        )
    return result


def first_marks(record: Record) -> dict[str, float | None]:
    """What the parts had before moderation changed any of them."""
    marks = record.part_marks
    for name, change in reversed(record.changes):
        if change.kind is ChangeKind.MODERATION:
            marks[name] = change.before
    return marks


# What goes out --------------------------------------------------------------------------------------------------------


def write_sheet(school: School, sitting: Sitting, sample: Sample, results: Sequence[Result]) -> tuple[Path, Path]:
    """Write the second marker's page and the table to fill in; gives their paths.

    Neither holds a name, an id, a paper's number or a mark. A table that has been filled in is not written over.

    Raises: :class:`GraderError` where the table that is there is another's, or a script is not marked any more.
    """
    table = school.records / f"moderation_{sitting.id}_marks.csv"
    if table.exists() and sample.draw.encode() not in table.read_bytes():
        raise GraderError(f"{table}: not the table of this sample; move it away, then run the command again")
    by_paper = {result.record.paper: result for result in results if result.record}
    scripts = []
    rows: list[tuple[Any, ...]] = [MARK_COLUMNS]
    for drawn in sample.drawn:
        parts = list(_asked(_result_of(drawn, by_paper)))
        scripts.append({"sample": drawn.sample, "parts": parts})
        rows += [(sample.draw, drawn.sample, part["name"], part["out_of"], "", "", "") for part in parts]
    page = school.records / f"moderation_{sitting.id}.html"
    text = filled("reports/moderation.html", school=school, sitting=sitting, scripts=scripts)
    write_text(page, text)
    if len(rows) > 1 and not table.exists():
        write_csv(table, rows)
    return page, table


def _asked(result: Result) -> Iterator[dict[str, Any]]:
    """The written parts of a script with all that the second marker needs, and nothing that tells the first marks."""
    assert result.record
    return asked_in_words(result.variants, result.record.exercises)


def write_look(school: School, sitting: Sitting, sample: Sample, results: Sequence[Result]) -> Path:
    """Write the assessor's page of the whole scripts, with how each part that is marked by itself got its marks."""
    by_paper = {result.record.paper: result for result in results if result.record}
    scripts = []
    for drawn in sample.drawn:
        result = _result_of(drawn, by_paper)
        assert result.record
        items = list(_computed(result))
        marks, most = result.record.part_marks, most_marks(result.record)
        # One that lost marks is the first to be asked about. By part: answers on the way have no marks of their own.
        asked = [name for name in dict.fromkeys(item["part"] for item in items) if most[name]]
        least = min(asked, key=lambda name: (marks[name] or 0) / most[name], default="")
        scripts.append({"drawn": drawn, "percent": result.percent, "items": items, "ask": least})
    page = school.records / f"moderation_{sitting.id}_look.html"
    write_text(page, filled("reports/moderation_look.html", school=school, sitting=sitting, scripts=scripts))
    return page


def _computed(result: Result) -> Iterator[dict[str, Any]]:
    for number, variant, marked in result.exercises:
        by_item = {item.item: item for item in marked.items}
        for part in variant.exercise.parts:
            if not isinstance(part, Written):
                for item in part.items():
                    yield {"name": item_name(number, item.key), "part": item_name(number, part.key)} | {
                        "mark": by_item[item.key]
                    }


# What comes back ------------------------------------------------------------------------------------------------------


def take_marks(school: School, sitting: Sitting, path: Path, results: Sequence[Result]) -> Sample:
    """Take the second marker's table; rows without marks are still to come. Marks given before stay where it has none.

    Raises: :class:`GraderError` naming the line, with nothing taken.
    """
    sample = _needed(school, sitting, marks_anew=True)
    known = {(pair.drawn.sample, pair.part): pair for pair in pairs(sample, results)}
    second = {(mark.sample, mark.part): mark for mark in sample.second}
    seen = set()
    for where, row in _rows(path, MARK_COLUMNS):
        key = (row["sample"].upper(), row["part"])
        if row["draw"] != sample.draw:
            raise GraderError(
                f"{where}: belongs to another sample than {_file(school, sitting.id).name}, in which the same numbers "
                f"are other scripts; its lines begin with {sample.draw}"
            )
        if key not in known:
            raise GraderError(f"{where}: no part {row['part']!r} of a script {row['sample']!r} is in this sample")
        if key in seen:
            raise GraderError(f"{where}: {key[0]}, part {key[1]} stands in the table twice")
        seen.add(key)
        if row["marks"]:
            marks = _marks(where, row["marks"], known[key].out_of)
            second[key] = SecondMark(*key, marks, row["comment"][:LONGEST_COMMENT], row["marker"])
    taken = replace(sample, second=tuple(second[key] for key in known if key in second))
    keep_sample(school, taken)
    return taken


def write_agreement(school: School, sitting: Sitting, sample: Sample, results: Sequence[Result]) -> tuple[Path, Path]:
    """Write the report of both marks, and the table in which changes are decided; gives their paths."""
    both = pairs(sample, results)
    page = school.records / f"moderation_{sitting.id}_report.html"
    text = filled(
        "reports/moderation_report.html",
        school=school,
        sitting=sitting,
        sample=sample,
        pairs=both,
        agreements=agreements(both),
        without=[pair for pair in both if pair.first is None or pair.second is None],
    )
    write_text(page, text)
    return page, write_decide_table(school, sitting, both)


def write_decide_table(school: School, sitting: Sitting, both: Sequence[TwiceMarked]) -> Path:
    """Write the table in which changes are decided, with what it holds already; gives its path."""
    table = school.records / f"moderation_{sitting.id}_decide.csv"
    decided = _decided_so_far(table)
    rows: list[tuple[Any, ...]] = [DECIDE_COLUMNS]
    for pair in both:
        if pair.first is not None and pair.second:
            about = (pair.drawn.sample, pair.part, pair.drawn.paper, pair.out_of)
            rows.append((*about, pair.first, pair.second.marks, *decided.get((pair.drawn.paper, pair.part), ("", ""))))
    write_csv(table, rows)
    return table


def _decided_so_far(table: Path) -> dict[tuple[str, str], tuple[str, str]]:
    """What a table of decisions holds already, by paper and part, so that more second marks do not wipe it out."""
    if not table.exists():
        return {}
    return {(row["paper"], row["part"]): (row["decided"], row["reason"]) for _, row in _rows(table, DECIDE_COLUMNS)}


def agreements(both: Sequence[TwiceMarked]) -> list[Agreement]:
    """Part by part, and over all of them last where there are several."""
    found = []
    done = [(pair.part, pair.first, pair.second.marks) for pair in both if pair.first is not None and pair.second]
    for part in dict.fromkeys(part for part, _, _ in done):
        of_part = [(first, second) for name, first, second in done if name == part]
        found.append(agreement(part, *zip(*of_part, strict=True)))
    if len(found) > 1:
        found.append(agreement("", *zip(*((first, second) for _, first, second in done), strict=True)))
    return found


def settle(school: School, sitting: Sitting, path: Path, results: Sequence[Result]) -> list[Record]:
    """Change marks of a sample as the table decides; see :func:`settle_pairs`."""
    return settle_pairs(school, path, pairs(_needed(school, sitting), results))


def settle_pairs(school: School, path: Path, both: Sequence[TwiceMarked]) -> list[Record]:
    """Change marks as the table decides, each with its reason; gives the records that were changed.

    Rows without a decision leave the marks as they are. Raises: :class:`GraderError` naming the line, with nothing
    changed.
    """
    known = {(pair.drawn.sample, pair.part): pair for pair in both}
    wanted: dict[tuple[str, str], tuple[float, str]] = {}
    for where, row in _rows(path, DECIDE_COLUMNS):
        if not row["decided"]:
            continue
        key = (row["sample"].upper(), row["part"])
        pair = known.get(key)
        if pair is None or pair.drawn.paper != row["paper"]:
            raise GraderError(f"{where}: no part {row['part']!r} of paper {row['paper']!r} is in this sample")
        if key in wanted:
            raise GraderError(f"{where}: {key[0]}, part {key[1]} is decided twice")
        if pair.first is None:
            raise GraderError(f"{where}: part {pair.part} waits for its first marks; give them by hand first")
        if not row["reason"]:
            raise GraderError(f"{where}: say why in the column reason; it goes on record and the candidate reads it")
        wanted[key] = (_marks(where, row["decided"], pair.out_of), row["reason"])
    log = Log(school)
    return [
        change_mark(school, known[key].drawn.paper, known[key].part, marks, ChangeKind.MODERATION, why, log)
        for key, (marks, why) in wanted.items()
    ]


def _needed(school: School, sitting: Sitting, marks_anew: bool = False) -> Sample:
    sample = _kept(school, sitting, marks_anew)
    if sample is None:
        raise GraderError(
            f"{_file(school, sitting.id)}: missing; draw the sample first: "
            f"pitside moderate {school.here} --sitting {sitting.id}"
        )
    return sample


def _rows(path: Path, wanted: tuple[str, ...]) -> Iterator[tuple[str, dict[str, str]]]:
    """The rows of a table that came back, each with where it stands."""
    try:
        (_, head), *rows = read_csv(path) or [(1, [])]
    except FileNotFoundError:
        raise GraderError(f"{path}: no such file") from None
    columns = [column.lower() for column in head]
    missing = [column for column in wanted if column not in columns]
    if missing:
        raise GraderError(f"{path}: no column {missing[0]!r}; its first line is {','.join(wanted)}")
    for number, row in rows:
        cells = dict(zip(columns, row, strict=False))
        yield f"{path}: line {number}", {name: cells.get(name, "") for name in wanted}


def _marks(where: str, text: str, out_of: float) -> float:
    """Marks as typed; a decimal comma is read as well."""
    try:
        marks = float(text.replace(",", "."))
    except ValueError:
        raise GraderError(f"{where}: {text[:40]!r} is no number of marks") from None
    if not math.isfinite(marks) or not 0 <= marks <= out_of:
        raise GraderError(f"{where}: {text[:40]} is not from 0 to {out_of:g}, the marks that the part has")
    return marks
