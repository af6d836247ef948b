"""Mark the scripts of a school: run each in its room, mark its answers from the register, keep the record.

The order in which a script is recorded makes a killed run harmless: gradebook, marked notebook, log, then the marks
file. A script without its marks file is marked again, to the same result.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import ExitStack
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from exercises.model import Written
from exercises.model.answers import Given
from exercises.model.marking import ItemMark, Rule, mark
from exercises.model.variant import Variant
from grader.errors import GraderError
from grader.files import write_json
from grader.gradebook import Gradebook, HandMark, PartMark
from grader.hand_marking import write_hand_marking
from grader.log import HAND_MARKS, MARKED, MARKED_AGAIN, Again, Log
from grader.papers import NOTEBOOK, for_hand_marking, item_name, written_answer
from grader.register import Paper, Register
from grader.runner import Answer, Ending, Limits, Run, Runner
from grader.school import School
from grader.scripts import Refusal, Script, read_scripts


@dataclass(frozen=True)
class MarkedExercise:
    """The marks of one exercise of a paper, item by item, and what a person gave its parts by hand."""

    exercise: str
    items: tuple[ItemMark, ...]
    hand: tuple[HandMark, ...] = ()

    @property
    def marks(self) -> float:
        """Marks given by hand stand in place of the mark scheme's for their whole part."""
        by_hand = {hand.part: hand.marks for hand in self.hand if hand.marks is not None}
        return sum(by_hand.values()) + sum(item.marks for item in self.items if part_of(item) not in by_hand)

    @property
    def pending(self) -> tuple[str, ...]:
        """The parts that wait for hand marks."""
        by_hand = {hand.part for hand in self.hand if hand.marks is not None}
        return tuple(i.item for i in self.items if i.rule is Rule.PENDING and i.item not in by_hand)

    @property
    def out_of(self) -> float:
        return sum(item.out_of for item in self.items)


def part_of(item: ItemMark) -> str:
    """The part that an item belongs to: a cell's table, any other item itself."""
    return item.item.partition(".")[0]


@dataclass(frozen=True)
class Record:
    """A marked script: what was marked with what, each mark, and what happened while it ran."""

    paper: str
    candidate: str
    sitting: str
    file: str
    script: str
    scheme: str
    ending: str
    notes: tuple[str, ...]
    exercises: tuple[MarkedExercise, ...]

    @property
    def marks(self) -> float:
        return sum(exercise.marks for exercise in self.exercises)

    @property
    def out_of(self) -> float:
        return sum(exercise.out_of for exercise in self.exercises)

    @property
    def pending(self) -> tuple[str, ...]:
        """The names of the parts that wait for hand marks."""
        return tuple(item_name(n, part) for n, e in enumerate(self.exercises, 1) for part in e.pending)

    @property
    def hand(self) -> dict[str, HandMark]:
        """What was given by hand, by the part's name in the paper."""
        return {item_name(n, hand.part): hand for n, e in enumerate(self.exercises, 1) for hand in e.hand}

    def with_hand(self, hand: Mapping[str, HandMark]) -> Record:
        """The record with these hand marks, by the part's name in the paper, in place of those that it has."""
        exercises = []
        for number, exercise in enumerate(self.exercises, 1):
            given = []
            for part in dict.fromkeys(part_of(item) for item in exercise.items):
                found = hand.get(item_name(number, part))
                if found:
                    given.append(replace(found, part=part))
            exercises.append(replace(exercise, hand=tuple(given)))
        return replace(self, exercises=tuple(exercises))

    @property
    def digest(self) -> str:
        """A digest of everything in the record but hand marks, which come and go without a marking."""
        data = asdict(self.with_hand({}))
        return hashlib.sha256(json.dumps(data, ensure_ascii=False, sort_keys=True).encode()).hexdigest()

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Record:
        exercises = tuple(
            MarkedExercise(
                e["exercise"],
                tuple(ItemMark(**(item | {"rule": Rule(item["rule"])})) for item in e["items"]),
                tuple(HandMark(**hand) for hand in e.get("hand", ())),
            )
            for e in data["exercises"]
        )
        return cls(**(data | {"notes": tuple(data["notes"]), "exercises": exercises}))


@dataclass(frozen=True)
class Tally:
    """What a marking run did."""

    marked: int
    already: int
    refused: tuple[Refusal, ...]
    #: Papers with parts that wait for hand marks, and papers whose hand marks were new to this run.
    pending: int = 0
    merged: int = 0


def mark_school(
    school: School,
    allow_missing_walls: bool,
    progress: Callable[[int, int], None],
    workers: int | None = None,
    limits: Limits | None = None,
    again: str = "",
) -> Tally:
    """Mark every script that has not been marked yet; ``progress`` is told how many are done, of how many.

    ``limits`` are those of each script, else the usual ones. ``again`` is the reason to mark also those that are
    marked; a run that was killed goes on where it was when it is called with the same reason.

    Scripts marked before that the gradebook does not have, since it was lost, are entered from their records.
    """
    register = Register(school)
    scripts, refusals = read_scripts(school, register)
    todo: list[tuple[Script, tuple[Variant, ...]]] = []
    before: list[tuple[Paper, Record]] = []
    old: dict[str, Record] = {}
    log = Log(school)
    marking_again = log.begin_again(again) if again else None
    for script in scripts:
        paper = script.paper
        done = read_record(school, paper.id)
        if done:
            old[paper.id] = done
        wanted_again = marking_again and done and marking_again.done.get(paper.id) != done.digest
        if done and (done.script, done.scheme) == (script.digest, paper.scheme) and not wanted_again:
            before.append((paper, done))
            continue
        try:
            todo.append((script, paper.variants()))
        except GraderError as error:
            refusals.append(Refusal(script.file, script.digest, paper.candidate, paper.sitting, str(error)))
    _keep_refusals(school, refusals)
    variants_of = {script.paper.id: variants for script, variants in todo}
    pending = merged = 0
    progress(0, len(todo))
    if todo or before:
        candidates = {candidate.id: candidate for candidate in school.roster}
        with Gradebook.of(school) as gradebook:
            write_hand_marking(school)
            entered = gradebook.entered()
            for paper, record in before:
                if (paper.sitting, paper.candidate) not in entered:
                    gradebook.prepare(paper)
                    gradebook.enter(paper, candidates.get(paper.candidate), _parts(record), record.hand)
            by_hand = gradebook.hand_marks()
            for paper, record in before:
                with_hand = record.with_hand(by_hand.get((paper.sitting, paper.candidate), {}))
                pending += bool(with_hand.pending)
                if with_hand != record:
                    merged += 1
                    _log_hand_marks(log, with_hand, record)
                    write_json(_record_file(school, paper.id), asdict(with_hand))
            for count, (script, record, run) in enumerate(_run_all(todo, allow_missing_walls, workers, limits), 1):
                paper = script.paper
                lost = old[paper.id].hand if paper.id in old and (paper.sitting, paper.candidate) not in entered else {}
                gradebook.prepare(paper)
                gradebook.enter(paper, candidates.get(paper.candidate), _parts(record), lost)
                record = record.with_hand(lost or by_hand.get((paper.sitting, paper.candidate), {}))
                pending += bool(record.pending)
                write_json(marked_notebook(school, paper), for_hand_marking(run.notebook, variants_of[paper.id]))
                _log_marks(log, record, old.get(record.paper), marking_again)
                write_json(_record_file(school, script.paper.id), asdict(record))
                progress(count, len(todo))
    if marking_again:
        log.end_again(marking_again)
    return Tally(len(todo), len(before), tuple(refusals), pending, merged)


def _log_marks(log: Log, record: Record, old: Record | None, again: Again | None) -> None:
    """Log a script's marks and, where it had marks before, those and the items in which they differ."""
    about: dict[str, Any] = {"before": None, "changes": {}, "why": "", "again": again.number if again else None}
    if old:
        was, now = _marks_by_item(old), _marks_by_item(record)
        another = "another script was handed in" if old.script != record.script else "the mark scheme is another"
        about["before"] = old.marks
        about["changes"] = {name: [was.get(name), marks] for name, marks in now.items() if was.get(name) != marks}
        about["why"] = again.why if again else another
    log.write(
        MARKED_AGAIN if old else MARKED,
        paper=record.paper,
        file=record.file,
        script=record.script,
        scheme=record.scheme,
        marks=record.marks,
        out_of=record.out_of,
        record=record.digest,
        **about,
    )


def _log_hand_marks(log: Log, record: Record, old: Record) -> None:
    log.write(
        HAND_MARKS,
        paper=record.paper,
        marks=record.marks,
        before=old.marks,
        hand={name: [hand.marks, hand.comment] for name, hand in record.hand.items()},
    )


def _marks_by_item(record: Record) -> dict[str, float]:
    return {item_name(n, item.item): item.marks for n, e in enumerate(record.exercises, 1) for item in e.items}


def _run_all(
    todo: list[tuple[Script, tuple[Variant, ...]]],
    allow_missing_walls: bool,
    workers: int | None,
    limits: Limits | None,
) -> Iterator[tuple[Script, Record, Run]]:
    """Run and mark scripts on several rooms at once; results come as they are ready, few of them held at a time."""
    count = min(workers or os.cpu_count() or 1, len(todo))
    rooms: SimpleQueue[Runner] = SimpleQueue()

    def work(script: Script, variants: tuple[Variant, ...]) -> tuple[Script, Record, Run]:
        runner = rooms.get()
        try:
            run = runner.run(script.notebook)
        finally:
            rooms.put(runner)
        return script, mark_run(script, variants, run), run

    if not todo:
        return
    with ExitStack() as open_rooms, ThreadPoolExecutor(count) as pool:
        how: dict[str, Any] = {"allow_missing_walls": allow_missing_walls} | ({"limits": limits} if limits else {})
        for opening in [pool.submit(Runner, **how) for _ in range(count)]:
            rooms.put(open_rooms.enter_context(opening.result()))
        waiting: set[Future] = set()
        for script, variants in todo:
            waiting.add(pool.submit(work, script, variants))
            if len(waiting) >= 2 * count:
                done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                yield from (future.result() for future in done)
        while waiting:
            done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            yield from (future.result() for future in done)


def mark_run(script: Script, variants: tuple[Variant, ...], run: Run) -> Record:
    """Mark the answers of a run. Numbers come from the variants (the register); from the run only what was answered."""
    exercises = tuple(
        MarkedExercise(variant.exercise.id, mark(variant, _given(number, variant, run.answers, script.notebook)))
        for number, variant in enumerate(variants, 1)
    )
    known = {item_name(n, item.key) for n, variant in enumerate(variants, 1) for item in variant.exercise.items}
    strange = sorted(set(run.answers) - known)
    notes = [] if run.ending is Ending.FINISHED else [run.reason]
    notes += [f"Cell {index + 1} stopped with an error: {error}" for index, error in run.cell_errors]
    notes += list(run.refused)
    notes += [f"An answer was given to part {part}, which this paper does not have." for part in strange]
    paper = script.paper
    return Record(
        paper=paper.id,
        candidate=paper.candidate,
        sitting=paper.sitting,
        file=script.file,
        script=script.digest,
        scheme=paper.scheme,
        ending=run.ending.name.lower(),
        notes=tuple(notes),
        exercises=exercises,
    )


def _given(
    number: int, variant: Variant, answers: Mapping[str, Answer], notebook: Mapping[str, Any]
) -> dict[str, Given]:
    """What was answered to each item: by the script as it ran, and in words in the script itself."""
    given = {}
    for item in variant.exercise.items:
        if isinstance(item, Written):
            given[item.key] = Given(written_answer(notebook, number, item))
            continue
        answer = answers.get(item_name(number, item.key))
        if answer is not None:
            given[item.key] = Given(answer.value, answer.unit)
    return given


def _parts(record: Record) -> dict[str, PartMark]:
    """The record by part, as the gradebook keeps it: a table's cells are one part."""
    parts: dict[str, PartMark] = {}
    for number, exercise in enumerate(record.exercises, 1):
        for item in exercise.items:
            name = item_name(number, part_of(item))
            cell = item.item.partition(".")[2]
            before = parts.get(name, PartMark(0, ""))
            comment = ": ".join(filter(None, (cell, str(item.rule), item.slip, item.comment)))
            pending = item.rule is Rule.PENDING
            parts[name] = PartMark(before.marks + item.marks, f"{before.comment}\n{comment}".strip(), pending)
    return parts


def marked_notebook(school: School, paper: Paper) -> Path:
    """Where the executed notebook of a paper lies."""
    return school.records / "marked" / paper.candidate / paper.sitting / f"{NOTEBOOK}.ipynb"


def _record_file(school: School, paper: str) -> Path:
    return school.records / "marks" / f"{paper}.json"


def read_record(school: School, paper: str) -> Record | None:
    """The record of a paper, if it has been marked."""
    path = _record_file(school, paper)
    try:
        return Record.from_json(json.loads(path.read_text(encoding="utf-8")))
    except FileNotFoundError:
        return None
    except (ValueError, KeyError, TypeError):
        raise GraderError(f"{path}: damaged; delete it and mark again") from None


def _keep_refusals(school: School, refusals: list[Refusal]) -> None:
    write_json(school.records / "refused.json", [asdict(refusal) for refusal in refusals])


def read_refusals(school: School) -> list[Refusal]:
    """The files that the last marking run could not mark."""
    path = school.records / "refused.json"
    try:
        return [Refusal(**refusal) for refusal in json.loads(path.read_text(encoding="utf-8"))]
    except FileNotFoundError:
        return []
    except (ValueError, TypeError):
        raise GraderError(f"{path}: damaged; mark again to make it anew") from None
