"""The register: the record, made at issue, of who got which numbers. Append-only, each line chained to the last."""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

import numpy as np

from exercises import BANK, Bank
from exercises.model import Choice, Numbers, Order, System
from exercises.model.drawing import draw
from exercises.model.exercise import Exercise
from exercises.model.numbers import Derived, Drawn, Number, Pick, Told, in_system
from exercises.model.parts import Known
from exercises.model.variant import SHUFFLE, Variant
from exercises.tasks import exercise_named
from grader.store.errors import GraderError
from grader.store.ledger import Ledger
from grader.store.schemes import Schemes
from grader.store.school import Candidate, School, Sitting
from pitside.errors import CalculationError
from pitside.unit_names import read_unit

#: Draws tried for an exercise of a resit before it is said to have no other numbers.
MOST_REDRAWS = 100


@dataclass(frozen=True)
class Scheme:
    """A mark scheme of an exercise for one set of numbers: the exercise's version, and the scheme's digest."""

    version: int
    digest: str


@dataclass(frozen=True)
class Entry:
    """One exercise of a paper as issued, and, where it was accepted that it is marked by a later one, that scheme.

    ``asked`` says of each item that takes an answer its key, its kind, and what the letters of a choice stand for.
    """

    exercise: str
    version: int
    numbers: dict[str, Any]
    scheme: str
    asked: tuple[str, ...] = ()
    accepted: Scheme | None = None

    @property
    def marked_by(self) -> Scheme:
        return self.accepted or Scheme(self.version, self.scheme)


@dataclass(frozen=True)
class Paper:
    """A line of the register: one candidate's paper for one sitting."""

    id: str
    sitting: str
    candidate: str
    attempt: int
    system: System
    entries: tuple[Entry, ...]
    #: Whether it is marked by the rule for answers that cannot be; no paper of before there was such a rule is.
    stop_and_look: bool = False
    #: The paper that it was issued in place of, with other units; empty for most.
    replaces: str = ""
    #: Where its exercises are.
    bank: Bank = field(default_factory=lambda: BANK, compare=False, repr=False)
    #: What is known of today's mark schemes.
    schemes: Schemes = field(default_factory=Schemes, compare=False, repr=False)

    def variants(self) -> tuple[Variant, ...]:
        """The paper's variants, from the registered numbers.

        Raises: :class:`GraderError` if an exercise or its mark scheme is no longer what was issued.
        """
        variants = []
        for entry in self.entries:
            variant, scheme = _today(self, entry), entry.marked_by
            if Scheme(variant.exercise.version, _digest(self.schemes, variant)) != scheme:
                raise GraderError(
                    f"paper {self.id}: the mark scheme of {entry.exercise} has changed since it was "
                    f"{'accepted' if entry.accepted else 'issued'} (version {scheme.version} then, "
                    f"{variant.exercise.version} now); accept today's (in the school's folder: pitside mark "
                    f'--new-scheme --reason "..."), or mark with the exercises of that day'
                )
            variants.append(variant)
        return tuple(variants)

    def of_today(self, stop_and_look: bool) -> Paper:
        """The paper with the mark schemes that its exercises have today; itself where none has changed.

        ``stop_and_look`` is the school's rule of today for answers that cannot be.

        Raises: :class:`GraderError` where an exercise no longer fits the registered numbers, or would ask other
        things than the paper did.
        """
        today = replace(self, stop_and_look=stop_and_look)
        entries = []
        for entry in self.entries:
            scheme = _fitting_scheme(today, entry)
            is_issued = scheme == Scheme(entry.version, entry.scheme)
            entries.append(replace(entry, accepted=None if is_issued else scheme))
        today = replace(today, entries=tuple(entries))
        return today if today != self else self

    @property
    def session(self) -> str:
        """The sitting's id, and the attempt unless it is the first: no id holds an underscore, so none is like it."""
        return self.sitting + attempt_suffix(self.attempt)

    @property
    def scheme(self) -> str:
        """One digest for the whole paper's mark scheme."""
        digests = (entry.marked_by.digest for entry in self.entries)
        return hashlib.sha256(" ".join(digests).encode()).hexdigest()


def _today(paper: Paper, entry: Entry) -> Variant:
    exercise = exercise_named(entry.exercise, paper.bank)
    if exercise is None:
        raise GraderError(f"paper {paper.id}: exercise {entry.exercise} is no longer in the bank; restore it")
    return Variant(exercise, paper.system, Numbers.from_json(entry.numbers), paper.stop_and_look)


def _asked(exercise: Exercise) -> tuple[str, ...]:
    """What an exercise asks, as far as answers hang on it: of each item its key, its kind, the options of a choice."""
    return tuple(
        f"{item.key} {type(item).__name__.lower()}"
        + (f" {','.join(option.key for option in item.options)}" if isinstance(item, Choice) else "")
        for item in exercise.items
    )


def _fitting_scheme(paper: Paper, entry: Entry) -> Scheme:
    """The scheme that an entry's exercise has today. Raises: :class:`GraderError` where it does not fit the paper."""
    variant = _today(paper, entry)
    exercise = variant.exercise
    refused = f"paper {paper.id}: today's mark scheme of {exercise.id} cannot be taken: "
    mend = "; mark with the exercises of that day"
    scheme = Scheme(exercise.version, _digest(paper.schemes, variant))
    if scheme == entry.marked_by:
        return scheme
    if not _fits(variant):
        raise GraderError(f"{refused}it draws other numbers than the paper has, or calls these unsound{mend}")
    if not scheme.digest:
        raise GraderError(f"{refused}it cannot be worked out for the registered numbers{mend}")
    if scheme != Scheme(entry.version, entry.scheme) and entry.asked != _asked(exercise):
        other = sorted(set(entry.asked) ^ set(_asked(exercise)))
        parts = ", ".join(dict.fromkeys(one.split()[0] for one in other)) or "in another order"
        raise GraderError(f"{refused}it asks other things than the paper did ({parts}){mend}")
    return scheme


def _digest(schemes: Schemes, variant: Variant) -> str:
    """The digest of a variant's mark scheme; empty where its numbers are none that the exercise can be worked from."""
    if not _has_names(variant):
        return ""
    try:
        return schemes.digest(variant)
    except (CalculationError, LookupError):
        return ""


def _orders(exercise: Exercise) -> dict[str, Order]:
    """The parts that put steps in order, by the name of their drawn order."""
    return {f"{SHUFFLE}.{part.key}": part for part in exercise.parts if isinstance(part, Order)}


def _has_names(variant: Variant) -> bool:
    """Whether the numbers are called as the exercise calls those that it draws."""
    exercise = variant.exercise
    return set(variant.numbers) == {number.name for number in exercise.numbers} | set(_orders(exercise))


def _has_numbers(variant: Variant) -> bool:
    """Whether the numbers are those that the exercise draws, by name, dimension and words."""
    exercise, numbers = variant.exercise, variant.numbers
    if not _has_names(variant):
        return False
    orders = _orders(exercise)
    if any(sorted(str(numbers[name]).split(",")) != sorted(order.steps) for name, order in orders.items()):
        return False
    return all(_is_one_of(numbers[number.name], number, variant.system) for number in exercise.numbers)


def _is_one_of(drawn: Drawn | str, number: Number | Pick | Derived | Told, system: System) -> bool:
    if isinstance(number, Pick):
        return drawn in number.options
    if isinstance(number, Told):
        return isinstance(drawn, str)
    unit = number.grid(system).unit if isinstance(number, Number) else in_system(number.unit, system)
    return isinstance(drawn, Drawn) and drawn.quantity.is_compatible_with(read_unit(unit))


def _fits(variant: Variant) -> bool:
    """Whether the numbers are those that the exercise draws, and such as it calls sound together."""
    try:
        return _has_numbers(variant) and bool(variant.exercise.valid(Known(variant.numbers, {})))
    except (CalculationError, ArithmeticError):
        return False


def attempt_suffix(attempt: int) -> str:
    """What stands behind the names of things of a later attempt; nothing behind those of the first."""
    return f"_attempt{attempt}" if attempt > 1 else ""


def sitting_and_attempt(session: str) -> tuple[str, int]:
    """The sitting and the attempt of a session, such as ``day1_attempt2``; any other text is taken for a sitting."""
    found = re.fullmatch(r"(.+)_attempt([1-9][0-9]{0,3})", session, re.DOTALL)
    return (found[1], int(found[2])) if found else (session, 1)


def draw_paper(
    school: School,
    sitting: Sitting,
    candidate: Candidate,
    attempt: int,
    earlier: Iterable[Paper] = (),
    practised: Mapping[str, Sequence[dict[str, Any]]] = MappingProxyType({}),
    schemes: Schemes | None = None,
    replaces: str = "",
) -> Paper:
    """Draw a candidate's paper; the same key, candidate, attempt and numbers to avoid always give the same numbers.

    No exercise has the numbers that it has in one of the ``earlier`` papers. Those that a page of practice papers
    showed, ``practised`` by exercise, are avoided while there are others, and so are the earlier cases of a task.
    ``schemes`` is told the mark schemes. ``replaces`` is the id of the paper in whose place it is issued, if that is
    so; its own is another.
    Raises: :class:`GraderError` where an exercise has no numbers but those of earlier papers.
    """
    schemes = schemes or Schemes()
    used: dict[str, list[dict[str, Any]]] = {}
    for paper in earlier:
        for entry in paper.entries:
            used.setdefault(entry.exercise, []).append(_told_apart(entry.numbers))
    shown = {name: [_told_apart(numbers) for numbers in practised.get(name, ())] for name in sitting.exercises}
    entries = []
    for name in sitting.exercises:
        exercise = school.exercise(name)
        on_a_page: Variant | None = None
        for count in range(MOST_REDRAWS):
            again = f"|{count}" if count else ""
            seed = _keyed(school.key, f"{sitting.id}|{candidate.id}|{name}|{exercise.version}|{attempt}{again}")
            variant = draw(exercise, np.random.default_rng(int.from_bytes(seed)), candidate.units)
            told = _told_apart(variant.numbers.to_json())
            before = told in used.get(name, ())
            if before and not sitting.observed:
                continue
            if not before and told not in shown[name]:
                break
            on_a_page = on_a_page or variant
        else:
            if on_a_page is None:
                raise GraderError(
                    f"sitting {sitting.id}: exercise {name} has no other numbers for attempt {attempt} of "
                    f"{candidate.id}; make a new sitting in {school.folder / 'school.toml'} with another exercise in "
                    "its place"
                )
            variant = on_a_page
        numbers = variant.numbers.to_json()
        digest = schemes.digest(replace(variant, stop_and_look=school.stop_and_look))
        entries.append(Entry(name, exercise.version, numbers, digest, _asked(exercise)))
    instead = f"|in place of {replaces}" if replaces else ""
    mark = _keyed(school.key, f"paper|{sitting.id}|{candidate.id}|{attempt}{instead}").hex()[:8]
    paper_id = f"{sitting.id}-{candidate.id}-{attempt}-{mark}"
    about = (paper_id, sitting.id, candidate.id, attempt, candidate.units, tuple(entries))
    return Paper(*about, school.stop_and_look, replaces, school.bank, schemes)


def _told_apart(numbers: dict[str, Any]) -> dict[str, Any]:
    """The numbers by which two papers differ: the order of steps makes no other paper, unless nothing else is drawn."""
    return {name: value for name, value in numbers.items() if not name.startswith(SHUFFLE)} or numbers


def _keyed(key: bytes, text: str) -> bytes:
    return hmac.new(key, text.encode(), hashlib.sha256).digest()


class Register:
    """The register of one school; reads and checks every line when it is opened.

    With ``only_read`` nothing on the disk is touched: for commands that may run beside one that writes.
    """

    def __init__(self, school: School, only_read: bool = False) -> None:
        self.papers: dict[str, Paper] = {}
        #: Papers that are void, since another was issued in their place.
        self.replaced: dict[str, Paper] = {}
        #: The ids of the papers of each sitting and candidate, by attempt.
        self._attempts: dict[tuple[str, str], dict[int, str]] = {}
        self._bank = school.bank
        #: What is known of today's mark schemes; whoever holds the school folder keeps it at the end.
        self.schemes = Schemes(school)
        self.ledger = Ledger(
            school.register_file, school.key, "the register", "", self._keep, only_read=only_read, sort_names=True
        )

    def paper_of(self, sitting: str, candidate: str, attempt: int = 1) -> Paper | None:
        """The paper that a candidate was given for a sitting, if any."""
        found = self._attempts.get((sitting, candidate), {}).get(attempt)
        return self.papers[found] if found else None

    def papers_of(self, sitting: str, candidate: str) -> tuple[Paper, ...]:
        """All papers that a candidate was given for a sitting, by attempt."""
        attempts = self._attempts.get((sitting, candidate), {})
        return tuple(self.papers[attempts[number]] for number in sorted(attempts))

    def add(self, papers: list[Paper]) -> None:
        """Append papers; they are on the disk when this returns."""
        self.ledger.append([_line(paper) for paper in papers])

    def accept(self, papers: list[Paper], why: str) -> None:
        """Append that these papers, which are in the register, are marked by other schemes than those of their issue.

        The schemes are those of the given papers' entries. It is on the disk when this returns.
        """
        self.ledger.append(
            [
                {
                    "paper": paper.id,
                    "accepted": [
                        {"id": e.exercise, "version": e.marked_by.version, "scheme": e.marked_by.digest}
                        for e in paper.entries
                    ],
                    "why": why,
                }
                | _rule(paper)
                for paper in papers
            ]
        )

    def _keep(self, body: dict[str, Any], seal: str) -> None:
        accepts = "accepted" in body
        known = self.papers[body["paper"]] if accepts else _paper(body, self._bank, self.schemes)
        paper = _with_accepted(known, body) if accepts else known
        attempts = self._attempts.setdefault((paper.sitting, paper.candidate), {})
        if paper.replaces and not accepts:
            self.replaced[paper.replaces] = self.papers.pop(paper.replaces)
            del attempts[paper.attempt]
        self.papers[paper.id] = paper
        attempts.setdefault(paper.attempt, paper.id)


def _line(paper: Paper) -> dict[str, Any]:
    return (
        {
            "paper": paper.id,
            "sitting": paper.sitting,
            "candidate": paper.candidate,
            "attempt": paper.attempt,
            "units": str(paper.system),
            "exercises": [
                {
                    "id": e.exercise,
                    "version": e.version,
                    "numbers": e.numbers,
                    "scheme": e.scheme,
                    "asked": list(e.asked),
                }
                for e in paper.entries
            ],
        }
        | _rule(paper)
        | ({"replaces": paper.replaces} if paper.replaces else {})
    )


def _rule(paper: Paper) -> dict[str, Any]:
    """The rule of a paper in a line; lines of before there was one say nothing, as those of papers without it."""
    return {"stop_and_look": True} if paper.stop_and_look else {}


def _paper(body: dict[str, Any], bank: Bank, schemes: Schemes) -> Paper:
    entries = tuple(
        Entry(e["id"], e["version"], e["numbers"], e["scheme"], tuple(e.get("asked", ()))) for e in body["exercises"]
    )
    system = System(body["units"])
    about = (body["paper"], body["sitting"], body["candidate"], body["attempt"])
    rest = (body.get("stop_and_look", False), body.get("replaces", ""))
    return Paper(*about, system, entries, *rest, bank, schemes)


def _with_accepted(paper: Paper, body: dict[str, Any]) -> Paper:
    entries = []
    for entry, accepted in zip(paper.entries, body["accepted"], strict=True):
        scheme = Scheme(accepted["version"], accepted["scheme"])
        issued = Scheme(entry.version, entry.scheme)
        entries.append(replace(entry, accepted=None if scheme == issued else scheme))
    return replace(paper, entries=tuple(entries), stop_and_look=body.get("stop_and_look", False))
