"""Mark the scripts of a school: run each in its room, mark its answers from the register, keep the record.

The order in which a script is recorded makes a killed run harmless: gradebook, marked notebook, log, then the marks
file. A script without its marks file is marked again, to the same result.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import asdict, dataclass, replace
from itertools import islice
from pathlib import Path
from queue import SimpleQueue
from typing import Any, Protocol

from exercises.model import Written
from exercises.model.answers import Given
from exercises.model.marking import ItemMark, Rounding, Rule, mark
from exercises.model.variant import Variant
from grader.errors import GraderError
from grader.files import write_json
from grader.hand_marking import write_hand_marking
from grader.integrity import facts
from grader.log import HAND_MARKS, MARKED, MARKED_AGAIN, NEW_SCHEME, REFUSED, Again, Log
from grader.papers import NOTEBOOK, for_hand_marking, item_name, written_answer
from grader.part_marks import Change, ChangeKind, HandMark, PartMark
from grader.register import Paper, Register
from grader.runner import Answer, Ending, Limits, Run, Runner
from grader.school import School
from grader.scripts import Refusal, Returned, Script, read_scripts


@dataclass(frozen=True)
class MarkedExercise:
    """The marks of one exercise of a paper, item by item, what its parts were given by hand, and later changes."""

    exercise: str
    items: tuple[ItemMark, ...]
    hand: tuple[HandMark, ...] = ()
    changes: tuple[Change, ...] = ()

    @property
    def part_marks(self) -> dict[str, float | None]:
        """The marks of each part: the latest change, else those given by hand, else the mark scheme's.

        None while a part waits for hand marks.
        """
        decided = {hand.part: hand.marks for hand in self.hand if hand.marks is not None}
        decided |= {change.part: change.marks for change in self.changes}
        found: dict[str, float | None] = {}
        for part in dict.fromkeys(part_of(item) for item in self.items):
            items = [item for item in self.items if part_of(item) == part]
            waits = any(item.rule is Rule.PENDING for item in items)
            found[part] = decided.get(part, None if waits else sum(item.marks for item in items))
        return found

    @property
    def marks(self) -> float:
        return sum(marks for marks in self.part_marks.values() if marks is not None)

    @property
    def pending(self) -> tuple[str, ...]:
        """The parts that wait for hand marks."""
        return tuple(part for part, marks in self.part_marks.items() if marks is None)

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
    rounding: Rounding = Rounding.NO_MARKS
    #: What the assessor alone is told of the script.
    for_assessor: tuple[str, ...] = ()

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
    def part_marks(self) -> dict[str, float | None]:
        """The marks of each part that count, by its name in the paper; None while it waits for hand marks."""
        return {item_name(n, part): m for n, e in enumerate(self.exercises, 1) for part, m in e.part_marks.items()}

    @property
    def changes(self) -> tuple[tuple[str, Change], ...]:
        """What was changed after marking, each with the part's name in the paper."""
        exercises = enumerate(self.exercises, 1)
        return tuple((item_name(n, change.part), change) for n, e in exercises for change in e.changes)

    @property
    def hand(self) -> dict[str, HandMark]:
        """What was given by hand, by the part's name in the paper."""
        return {item_name(n, hand.part): hand for n, e in enumerate(self.exercises, 1) for hand in e.hand}

    @property
    def hand_notes(self) -> tuple[str, ...]:
        """What the assessor should know of marks that were given by hand and could not count as they were."""
        return tuple(f"Paper {self.paper}, part {part}: {hand.note}" for part, hand in self.hand.items() if hand.note)

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

    def with_changes(self, changes: Iterable[tuple[str, Change]]) -> Record:
        """The record with these changes, by the part's name in the paper, in place of those that it has.

        Left out are those that fit it no longer, of a part that it does not have or of more marks than that can give.
        """
        changes = tuple(changes)
        exercises = []
        for number, exercise in enumerate(self.exercises, 1):
            most: dict[str, float] = {}
            for item in exercise.items:
                most[part_of(item)] = most.get(part_of(item), 0.0) + item.out_of
            fitting = [
                change
                for name, change in changes
                if name == item_name(number, change.part) and change.marks <= most.get(change.part, -1.0)
            ]
            exercises.append(replace(exercise, changes=tuple(fitting)))
        return replace(self, exercises=tuple(exercises))

    @property
    def digest(self) -> str:
        """A digest of everything in the record but hand marks and changes, which come without a marking."""
        data = asdict(self.with_hand({}))
        for exercise in data["exercises"]:
            del exercise["changes"]
        if not self.for_assessor:
            del data["for_assessor"]  # as in records that were made before there was such a thing
        return hashlib.sha256(json.dumps(data, ensure_ascii=False, sort_keys=True).encode()).hexdigest()

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Record:
        exercises = tuple(
            MarkedExercise(
                e["exercise"],
                tuple(ItemMark(**(item | {"rule": Rule(item["rule"])})) for item in e["items"]),
                tuple(HandMark(**hand) for hand in e.get("hand", ())),
                tuple(Change(**(c | {"kind": ChangeKind(c["kind"])})) for c in e.get("changes", ())),
            )
            for e in data["exercises"]
        )
        rounding = Rounding(data.get("rounding", Rounding.NO_MARKS))
        read = {"notes": tuple(data["notes"]), "for_assessor": tuple(data.get("for_assessor", ()))}
        return cls(**(data | read | {"exercises": exercises, "rounding": rounding}))


@dataclass(frozen=True)
class Tally:
    """What a marking run did."""

    marked: int
    already: int
    refused: tuple[Refusal, ...]
    #: Papers with parts that wait for hand marks, and papers whose hand marks were new to this run.
    pending: int = 0
    merged: int = 0
    #: Papers for which this run accepted the mark scheme of today.
    accepted: int = 0
    #: A line for each part with something given by hand that could not count as it was.
    hand_notes: tuple[str, ...] = ()


def mark_school(
    school: School,
    allow_missing_walls: bool,
    progress: Callable[[int, int], None],
    workers: int | None = None,
    limits: Limits | None = None,
    again: str = "",
    dask: str = "",
    new_scheme: str = "",
) -> Tally:
    """Mark every script that has not been marked yet; ``progress`` is told how many are done, of how many.

    ``limits`` are those of each script, else the usual ones. ``again`` is the reason to mark also those that are
    marked; a run that was killed goes on where it was when it is called with the same reason. ``dask`` is the address
    of a scheduler whose workers run and mark the scripts, see :mod:`grader.many_machines`; else this machine does.

    ``new_scheme`` is the reason to mark papers whose exercise has changed since they were issued by the mark scheme of
    today, also those that are marked by the old one; a paper that it does not fit is refused. Without it such papers
    are refused, and the marks of those that are marked stand.

    Scripts marked before that the gradebook does not have, since it was lost, are entered from their records.

    Of a script little is held until it is its turn, and nothing after it, so a thousand take no more memory than ten.
    """
    if dask and school.own_exercises:
        raise GraderError(
            f"{school.folder / 'own_exercises'}: own exercises are marked on this machine alone, since other machines "
            "do not have their modules; mark without --dask"
        )
    register = Register(school)
    returned, refusals = read_scripts(school, register)
    log = Log(school)
    accepted = 0
    if new_scheme:
        returned, unfit, accepted = _accept_new_schemes(register, log, returned, new_scheme)
        refusals = sorted([*refusals, *unfit], key=lambda refusal: refusal.file)
    marking_again = log.begin_again(again) if again else None
    todo: list[Returned] = []
    before: list[Returned] = []
    for one in returned:
        done = read_record(school, one.paper.id)
        wanted_again = marking_again and done and marking_again.done.get(one.paper.id) != done.digest
        marked_by = (done.script, done.scheme, done.rounding) if done else None
        is_marked = marked_by == (one.digest, one.paper.scheme, school.rounding)
        (before if is_marked and not wanted_again else todo).append(one)
    _log_refusals(log, register, refusals)
    _keep_refusals(school, refusals)
    late: list[Refusal] = []
    pending = merged = 0
    hand_notes: list[str] = []
    progress(0, len(todo))
    if todo or before:
        candidates = {candidate.id: candidate for candidate in school.roster}
        with ExitStack() as opened:
            outcomes: Iterator[Marked | Refusal] = iter(())
            if todo:
                at_once = min(workers or os.cpu_count() or 1, len(todo))
                there = _cluster(dask, allow_missing_walls, limits) if dask else None
                place = opened.enter_context(there or _here(at_once, allow_missing_walls, limits))
                # The first scripts are read and run while the gradebook is opened and looked through.
                outcomes = _all_marked(todo, place)
            from grader.gradebook import Gradebook

            gradebook = opened.enter_context(Gradebook.of(school))
            write_hand_marking(school, {paper.session for paper in register.papers.values()})
            entered = gradebook.entered()
            for one in before:
                paper = one.paper
                if (paper.session, paper.candidate) not in entered:
                    record = _kept_record(school, paper)
                    gradebook.prepare(paper)
                    gradebook.enter(paper, candidates.get(paper.candidate), _parts(record), record.hand)
            by_hand = gradebook.hand_marks()
            for one in before:
                paper, record = one.paper, _kept_record(school, one.paper)
                changed = record.with_changes(log.changes(paper.id))
                with_hand = changed.with_hand(by_hand.get((paper.session, paper.candidate), {}))
                pending += bool(with_hand.pending)
                hand_notes += with_hand.hand_notes
                if by_hand_in(with_hand) != by_hand_in(changed):
                    merged += 1
                    _log_hand_marks(log, with_hand, changed)
                if with_hand != record:
                    write_json(record_file(school, paper.id), asdict(with_hand))
            for count, outcome in enumerate(outcomes, 1):
                if isinstance(outcome, Refusal):
                    late.append(outcome)
                    _log_refusals(log, register, [outcome])
                else:
                    record, paper = outcome.record, register.papers[outcome.record.paper]
                    old = read_record(school, paper.id)
                    lost = old.hand if old and (paper.session, paper.candidate) not in entered else {}
                    gradebook.prepare(paper)
                    gradebook.enter(paper, candidates.get(paper.candidate), _parts(record), lost)
                    record = record.with_hand(lost or by_hand.get((paper.session, paper.candidate), {}))
                    record = record.with_changes(log.changes(paper.id))
                    pending += bool(record.pending)
                    hand_notes += record.hand_notes
                    write_json(marked_notebook(school, paper), outcome.notebook)
                    _log_marks(log, record, old, marking_again)
                    write_json(record_file(school, paper.id), asdict(record))
                progress(count, len(todo))
    if late:
        refusals = sorted([*refusals, *late], key=lambda refusal: refusal.file)
        _keep_refusals(school, refusals)
    if marking_again:
        log.end_again(marking_again)
    return Tally(len(todo) - len(late), len(before), tuple(refusals), pending, merged, accepted, tuple(hand_notes))


def _log_marks(log: Log, record: Record, old: Record | None, again: Again | None) -> None:
    """Log a script's marks and, where it had marks before, those and the items in which they differ."""
    about: dict[str, Any] = {"before": None, "changes": {}, "why": "", "again": again.number if again else None}
    if old:
        was, now = _marks_by_item(old), _marks_by_item(record)
        another = "another script was handed in" if old.script != record.script else "the mark scheme is another"
        if (old.script, old.scheme) == (record.script, record.scheme):
            another = "the school's rule on rounding is another"
        about["before"] = old.marks
        about["changes"] = {name: [was.get(name), marks] for name, marks in now.items() if was.get(name) != marks}
        about["why"] = again.why if again else another
    if by_hand_in(record):
        about["hand"] = by_hand_in(record)
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


def _accept_new_schemes(
    register: Register, log: Log, returned: list[Returned], why: str
) -> tuple[list[Returned], list[Refusal], int]:
    """Take the mark schemes of today for the papers of these scripts whose exercises changed; refuse those unfit.

    Gives the scripts that may be marked, the refusals, and how many papers have a new scheme. Each goes into the log,
    with old and new version and digest of each exercise that changed, before the register.
    """
    fitting, unfit, accepted = [], [], []
    for one in returned:
        old = one.paper
        try:
            new = old.of_today()
        except GraderError as error:
            unfit.append(one.refused(str(error)))
            continue
        fitting.append(replace(one, paper=new))
        if new == old:
            continue
        changed = [
            {
                "exercise": now.exercise,
                "version": [then.marked_by.version, now.marked_by.version],
                "scheme": [then.marked_by.digest, now.marked_by.digest],
            }
            for then, now in zip(old.entries, new.entries, strict=True)
            if then.marked_by != now.marked_by
        ]
        log.write(NEW_SCHEME, paper=old.id, exercises=changed, why=why)
        accepted.append(new)
    if accepted:
        register.accept(accepted, why)
    return fitting, unfit, len(accepted)


def _log_refusals(log: Log, register: Register, refusals: Iterable[Refusal]) -> None:
    """Log the files that are refused for a reason for which they were not refused before."""
    known = {(line["file"], line["digest"], line["why"]) for line in log.lines if line["what"] == REFUSED}
    for one in refusals:
        if (one.file, one.digest, one.reason) not in known:
            paper = register.paper_of(one.sitting, one.candidate, one.attempt)
            log.write(
                REFUSED, paper=paper.id if paper else "", file=one.file, digest=one.digest, why=one.reason
            )


def _log_hand_marks(log: Log, record: Record, old: Record) -> None:
    log.write(
        HAND_MARKS,
        paper=record.paper,
        marks=record.marks,
        before=old.marks,
        hand=by_hand_in(record),
    )


def by_hand_in(record: Record) -> dict[str, list[float | str | None]]:
    """Hand marks and comments of a record by part, as the log has them; not what was given and could not count."""
    given = record.hand.items()
    return {name: [hand.marks, hand.comment] for name, hand in given if hand.marks is not None or hand.comment}


def _marks_by_item(record: Record) -> dict[str, float]:
    return {item_name(n, item.item): item.marks for n, e in enumerate(record.exercises, 1) for item in e.items}


@dataclass(frozen=True)
class Marked:
    """What came of a script: its record, and its notebook as it was run, made ready for hand marking."""

    record: Record
    notebook: dict[str, Any]


def mark_script(returned: Returned, data: bytes, run: Callable[[dict[str, Any]], Run]) -> Marked | Refusal:
    """Read a script's bytes, run it in a room, and mark it; or say why not. Needs nothing of the school's folder."""
    try:
        variants = returned.paper.variants()
        script = returned.script(data)
    except GraderError as error:
        return returned.refused(str(error))
    done = run(script.notebook)
    return Marked(mark_run(script, variants, done, returned.rounding), for_hand_marking(done.notebook, variants))


class Place(Protocol):
    """Where scripts are run and marked, ``at_once`` of them side by side."""

    at_once: int

    def submit(self, returned: Returned) -> Future[Marked | Refusal]: ...


class Rooms:
    """A number of rooms of this machine, each opened when it is first needed and then lent to one script at a time."""

    def __init__(self, most: int, **how: Any) -> None:
        self._how = how
        self._opened = ExitStack()
        #: None stands for a room that is not opened yet.
        self._free: SimpleQueue[Runner | None] = SimpleQueue()
        for _ in range(most):
            self._free.put(None)

    def run(self, notebook: dict[str, Any]) -> Run:
        """Run a notebook as soon as a room is free. Raises: :class:`RunnerError` if none can be opened."""
        with self._lent() as room:
            return room.run(notebook)

    def warm(self) -> None:
        """Open a room ahead of the first script. Raises: :class:`RunnerError`, and the first script will again."""
        with self._lent():
            pass

    @contextmanager
    def _lent(self) -> Iterator[Runner]:
        room = self._free.get()
        try:
            if room is None:
                room = self._opened.enter_context(Runner(**self._how))
            yield room
        finally:
            self._free.put(room)

    def close(self) -> None:
        self._opened.close()


class _Here:
    """The rooms of this machine, and a thread more than there are rooms, so that none waits while another is marked."""

    def __init__(self, rooms: Rooms, at_once: int) -> None:
        self.at_once = at_once
        self._rooms = rooms
        self.pool = ThreadPoolExecutor(at_once + 1)
        for _ in range(at_once):
            self.pool.submit(rooms.warm)

    def submit(self, returned: Returned) -> Future[Marked | Refusal]:
        return self.pool.submit(self._mark, returned)

    def _mark(self, returned: Returned) -> Marked | Refusal:
        try:
            data = returned.data()
        except GraderError as error:
            return returned.refused(str(error))
        return mark_script(returned, data, self._rooms.run)


@contextmanager
def _here(at_once: int, allow_missing_walls: bool, limits: Limits | None) -> Iterator[Place]:
    """This machine; scripts that have not begun when it is left are let be."""
    rooms = Rooms(at_once, allow_missing_walls=allow_missing_walls, **({"limits": limits} if limits else {}))
    here = _Here(rooms, at_once)
    try:
        yield here
    finally:
        here.pool.shutdown(cancel_futures=True)
        rooms.close()


def _cluster(address: str, allow_missing_walls: bool, limits: Limits | None) -> AbstractContextManager[Place]:
    try:
        from grader.many_machines import cluster  # the one module that needs the optional library
    except ModuleNotFoundError as error:
        raise GraderError(f'--dask needs Dask ({error.name} is missing): pip install "pitside[dask]"') from None
    return cluster(address, allow_missing_walls, limits)


def _all_marked(todo: Iterable[Returned], place: Place) -> Iterator[Marked | Refusal]:
    """Outcomes as they are ready; the first scripts are on their way when this returns, and few are held at a time."""
    left = iter(todo)
    waiting = {place.submit(one) for one in islice(left, 2 * place.at_once)}
    return _as_ready(waiting, left, place)


def _as_ready(
    waiting: set[Future[Marked | Refusal]], left: Iterator[Returned], place: Place
) -> Iterator[Marked | Refusal]:
    while waiting:
        done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
        while done:
            waiting |= {place.submit(one) for one in islice(left, 1)}
            yield done.pop().result()


def mark_run(
    script: Script, variants: tuple[Variant, ...], run: Run, rounding: Rounding = Rounding.NO_MARKS
) -> Record:
    """Mark the answers of a run. Numbers come from the variants (the register); from the run only what was answered."""

    def given(number: int, variant: Variant) -> dict[str, Given]:
        return _given(number, variant, run.answers, script.notebook)

    exercises = tuple(
        MarkedExercise(variant.exercise.id, mark(variant, given(number, variant), rounding))
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
        rounding=rounding,
        for_assessor=tuple(facts(script, variants)),
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
    return school.records / "marked" / paper.candidate / paper.session / f"{NOTEBOOK}.ipynb"


def record_file(school: School, paper: str) -> Path:
    """Where the record of a paper lies."""
    return school.records / "marks" / f"{paper}.json"


def read_record(school: School, paper: str) -> Record | None:
    """The record of a paper, if it has been marked."""
    path = record_file(school, paper)
    try:
        return Record.from_json(json.loads(path.read_text(encoding="utf-8")))
    except FileNotFoundError:
        return None
    except (ValueError, KeyError, TypeError):
        raise GraderError(f"{path}: damaged; delete it and mark again") from None


def _kept_record(school: School, paper: Paper) -> Record:
    """The record of a paper that is known to have been marked."""
    record = read_record(school, paper.id)
    if record is None:
        raise GraderError(f"{record_file(school, paper.id)}: it was there a moment ago; mark again")
    return record


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
