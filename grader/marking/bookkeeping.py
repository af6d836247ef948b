"""The order in which what came of a script is kept: gradebook, marked notebook, log, then the marks file.

A script without its marks file is marked again, to the same result, so a run may be killed anywhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from typing import Any

from exercises.model.marking import Rule
from grader.marking.gradebook import Gradebook
from grader.marking.hand_marking import write_hand_marking
from grader.marking.one_script import Failed, Marked
from grader.marking.record import Record, by_hand_in, part_of
from grader.marking.records import kept_record, marked_notebook, read_record, record_file
from grader.running.faults import Fault, caught, no_longer_kept
from grader.store.files import as_json, write_json, write_text
from grader.store.log import HAND_MARKS, MARKED, MARKED_AGAIN, Again, Log
from grader.store.part_marks import HandMark, PartMark, item_name
from grader.store.register import Paper, Register
from grader.store.school import School


class Bookkeeper:
    """Keeps what comes of scripts, in one school, with its gradebook open."""

    def __init__(self, school: School, register: Register, log: Log, gradebook: Gradebook, again: Again | None) -> None:
        self._school, self._register, self._log, self._gradebook, self._again = school, register, log, gradebook, again
        self._candidates = {candidate.id: candidate for candidate in school.roster}
        self._entered = gradebook.entered()
        self._by_hand: dict[tuple[str, str], dict[str, HandMark]] = {}

    @classmethod
    @contextmanager
    def of(cls, school: School, register: Register, log: Log, again: Again | None) -> Iterator[Bookkeeper]:
        """With the gradebook open and the hand-marking page's files in place."""
        with Gradebook.of(school) as gradebook:
            write_hand_marking(school, {paper.session for paper in register.papers.values()})
            yield cls(school, register, log, gradebook, again)

    @contextmanager
    def keeping_many(self) -> Iterator[None]:
        """While one script after another is kept."""
        with self._gradebook.written_ahead():
            yield

    def enter_lost(self, papers: Iterable[Paper]) -> None:
        """Enter marked papers that the gradebook does not have, since it was lost, from their records.

        After this the hand marks of the gradebook are taken for whole.
        """
        for paper in papers:
            if not self._has(paper):
                record = kept_record(self._school, paper)
                self._enter(paper, record, self._log.hand(paper.id))
        self._by_hand = self._gradebook.hand_marks()

    def hand_marks(self, paper: Paper) -> Mapping[str, HandMark]:
        """What the parts of a marked paper have by hand in the gradebook, also what is not merged yet."""
        return self._by_hand.get((paper.session, paper.candidate), {})

    def give(self, paper: Paper, hand: Mapping[str, HandMark], file: str) -> None:
        """Give parts of a marked paper these hand marks, in the gradebook and the record; ``file`` is the digest of the
        file that they were taken from."""
        self._gradebook.give(paper, hand)
        self._by_hand[paper.session, paper.candidate] = {**self.hand_marks(paper), **hand}
        self.merge(paper, dict.fromkeys(hand, file))

    def merge(self, paper: Paper, files: Mapping[str, str] | None = None) -> tuple[Record, bool]:
        """The record of a marked paper with today's hand marks and changes, and whether hand marks were new.

        ``files`` holds the digest of the file from which the hand marks of a part were taken, for the log.
        """
        record = kept_record(self._school, paper)
        changed = record.with_changes(self._log.changes(paper.id))
        merged = changed.with_hand(self.hand_marks(paper))
        has_new = by_hand_in(merged) != by_hand_in(changed)
        if has_new or files:
            about = {"files": dict(files)} if files else {}
            hand = by_hand_in(merged)
            self._log.write(HAND_MARKS, paper=paper.id, marks=merged.marks, before=changed.marks, hand=hand, **about)
        if merged != record:
            write_json(record_file(self._school, paper.id), merged.to_json())
        return merged, has_new

    def keep(self, marked: Marked) -> Record | Failed:
        """Keep what came of a script; gives its record with hand marks and changes, or the fault of ours at it."""
        # What is wrong with disk or gradebook would be wrong with every script.
        kept = caught(partial(self._keep, marked), OSError, self._gradebook.broken)
        if isinstance(kept, Fault):
            self._gradebook.undo()
            return Failed(marked.returned, kept)
        return kept

    def _keep(self, marked: Marked) -> Record:
        paper = self._register.papers[marked.record.paper]
        notebook = as_json(
            marked.notebook, indented=False
        )  # first, so that nothing is entered of what cannot be written
        old = read_record(self._school, paper.id)
        # From the log, which is sealed: by a record anybody could give hand marks who can write one.
        lost = {} if self._has(paper) else self._log.hand(paper.id)
        self._enter(paper, marked.record, lost)
        record = marked.record.with_hand(lost or self.hand_marks(paper)).with_changes(self._log.changes(paper.id))
        write_text(marked_notebook(self._school, paper), notebook)
        _log_marks(self._log, record, old, self._again)
        write_json(record_file(self._school, paper.id), record.to_json())
        no_longer_kept(self._school.folder, paper.id)
        return record

    def _has(self, paper: Paper) -> bool:
        return (paper.session, paper.candidate) in self._entered

    def _enter(self, paper: Paper, record: Record, hand: Mapping[str, HandMark]) -> None:
        self._gradebook.prepare(paper)
        self._gradebook.enter(paper, self._candidates.get(paper.candidate), _parts(record), hand)


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


def _marks_by_item(record: Record) -> dict[str, float]:
    return {item_name(n, item.item): item.marks for n, e in enumerate(record.exercises, 1) for item in e.items}


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
