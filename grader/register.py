"""The register: the record, made at issue, of who got which numbers. Append-only, each line chained to the last."""

from __future__ import annotations

import hashlib
import hmac
import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from exercises import BANK
from exercises.model import Numbers, System
from exercises.model.drawing import draw
from exercises.model.variant import SHUFFLE, Variant
from grader.errors import GraderError
from grader.files import cut
from grader.school import Candidate, School, Sitting

#: Draws tried for an exercise of a resit before it is said to have no other numbers.
MOST_REDRAWS = 100


@dataclass(frozen=True)
class Entry:
    """One exercise of a paper as issued."""

    exercise: str
    version: int
    numbers: dict[str, Any]
    scheme: str


@dataclass(frozen=True)
class Paper:
    """A line of the register: one candidate's paper for one sitting."""

    id: str
    sitting: str
    candidate: str
    attempt: int
    system: System
    entries: tuple[Entry, ...]

    def variants(self) -> tuple[Variant, ...]:
        """The paper's variants, from the registered numbers.

        Raises: :class:`GraderError` if an exercise or its mark scheme is no longer what was issued.
        """
        variants = []
        for entry in self.entries:
            exercise = BANK.get(entry.exercise)
            if exercise is None:
                raise GraderError(f"paper {self.id}: exercise {entry.exercise} is no longer in the bank; restore it")
            variant = Variant(exercise, self.system, Numbers.from_json(entry.numbers))
            if exercise.version != entry.version or variant.scheme_digest != entry.scheme:
                raise GraderError(
                    f"paper {self.id}: the mark scheme of {entry.exercise} has changed since it was issued "
                    f"(version {entry.version} then, {exercise.version} now); mark with the exercises of that day"
                )
            variants.append(variant)
        return tuple(variants)

    @property
    def session(self) -> str:
        """The sitting's id, and the attempt unless it is the first: no id holds an underscore, so none is like it."""
        return self.sitting + attempt_suffix(self.attempt)

    @property
    def scheme(self) -> str:
        """One digest for the whole paper's mark scheme."""
        return hashlib.sha256(" ".join(entry.scheme for entry in self.entries).encode()).hexdigest()


def attempt_suffix(attempt: int) -> str:
    """What stands behind the names of things of a later attempt; nothing behind those of the first."""
    return f"_attempt{attempt}" if attempt > 1 else ""


def draw_paper(
    school: School, sitting: Sitting, candidate: Candidate, attempt: int, earlier: Iterable[Paper] = ()
) -> Paper:
    """Draw a candidate's paper; the same key, candidate, attempt and earlier papers always give the same numbers.

    No exercise has the numbers that it has in one of the ``earlier`` papers. Raises: :class:`GraderError` where there
    are no others.
    """
    used: dict[str, list[dict[str, Any]]] = {}
    for paper in earlier:
        for entry in paper.entries:
            used.setdefault(entry.exercise, []).append(_told_apart(entry.numbers))
    entries = []
    for name in sitting.exercises:
        exercise = BANK[name]
        for count in range(MOST_REDRAWS):
            again = f"|{count}" if count else ""
            seed = _keyed(school.key, f"{sitting.id}|{candidate.id}|{name}|{exercise.version}|{attempt}{again}")
            variant = draw(exercise, np.random.default_rng(int.from_bytes(seed)), candidate.units)
            numbers = variant.numbers.to_json()
            if _told_apart(numbers) not in used.get(name, ()):
                break
        else:
            raise GraderError(
                f"sitting {sitting.id}: exercise {name} has no other numbers for attempt {attempt} of {candidate.id}; "
                f"make a new sitting in {school.folder / 'school.toml'} with another exercise in its place"
            )
        entries.append(Entry(name, exercise.version, numbers, variant.scheme_digest))
    mark = _keyed(school.key, f"paper|{sitting.id}|{candidate.id}|{attempt}").hex()[:8]
    paper_id = f"{sitting.id}-{candidate.id}-{attempt}-{mark}"
    return Paper(paper_id, sitting.id, candidate.id, attempt, candidate.units, tuple(entries))


def _told_apart(numbers: dict[str, Any]) -> dict[str, Any]:
    """The numbers by which two papers differ: the order of steps makes no other paper, unless nothing else is drawn."""
    return {name: value for name, value in numbers.items() if not name.startswith(SHUFFLE)} or numbers


def _keyed(key: bytes, text: str) -> bytes:
    return hmac.new(key, text.encode(), hashlib.sha256).digest()


def sealed(key: bytes, before: str, line: dict[str, Any]) -> str:
    """The seal of a line whose neighbour before it has the seal ``before``.

    Keyed, so that nobody without the school key can write a register or a log that holds together.
    """
    return _keyed(key, before + json.dumps(line, ensure_ascii=False, sort_keys=True)).hex()


class Register:
    """The register of one school; reads and checks every line when it is opened."""

    def __init__(self, school: School) -> None:
        self._path = school.register_file
        self._key = school.key
        self._chain = ""
        self.papers: dict[str, Paper] = {}
        self._read()

    def paper_of(self, sitting: str, candidate: str, attempt: int = 1) -> Paper | None:
        """The paper that a candidate was given for a sitting, if any."""
        wanted = (sitting, candidate, attempt)
        return next((p for p in self.papers.values() if (p.sitting, p.candidate, p.attempt) == wanted), None)

    def papers_of(self, sitting: str, candidate: str) -> tuple[Paper, ...]:
        """All papers that a candidate was given for a sitting, by attempt."""
        found = [p for p in self.papers.values() if (p.sitting, p.candidate) == (sitting, candidate)]
        return tuple(sorted(found, key=lambda paper: paper.attempt))

    def add(self, papers: list[Paper]) -> None:
        """Append papers; they are on the disk when this returns."""
        text = ""
        for paper in papers:
            text += self._line(paper) + "\n"
            self.papers[paper.id] = paper
        with self._path.open("a", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())

    def _line(self, paper: Paper) -> str:
        body = {
            "paper": paper.id,
            "sitting": paper.sitting,
            "candidate": paper.candidate,
            "attempt": paper.attempt,
            "units": str(paper.system),
            "exercises": [
                {"id": e.exercise, "version": e.version, "numbers": e.numbers, "scheme": e.scheme}
                for e in paper.entries
            ],
        }
        self._chain = sealed(self._key, self._chain, body)
        return json.dumps(body | {"seal": self._chain}, ensure_ascii=False, sort_keys=True)

    def _read(self) -> None:
        try:
            data = self._path.read_bytes()
        except FileNotFoundError:
            return
        whole, newline, rest = data.rpartition(b"\n")
        if rest:
            # A run was killed while it wrote this line; no pack was made from it yet, so it never counted.
            cut(self._path, len(whole) + len(newline))
        for number, line in enumerate(whole.splitlines(), 1):
            where = f"{self._path}: line {number}"
            try:
                body = json.loads(line)
                seal = body.pop("seal")
                paper = _paper(body)
            except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
                raise GraderError(f"{where} is damaged; restore the register from your backup") from None
            self._chain = sealed(self._key, self._chain, body)
            if not hmac.compare_digest(self._chain, str(seal)):
                raise GraderError(
                    f"{where} is not as it was written, or a line before it is missing; restore it from your backup"
                )
            self.papers[paper.id] = paper


def _paper(body: dict[str, Any]) -> Paper:
    entries = tuple(Entry(e["id"], e["version"], e["numbers"], e["scheme"]) for e in body["exercises"])
    return Paper(
        body["paper"], body["sitting"], body["candidate"], body["attempt"], System(body["units"]), entries
    )
