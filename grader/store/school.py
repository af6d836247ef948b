"""The school folder: its settings, roster and secret key, read and checked."""

from __future__ import annotations

import enum
import re
import secrets
import string
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from difflib import get_close_matches
from functools import cached_property
from pathlib import Path
from typing import Any

from exercises import BANK, LESSONS, Bank
from exercises.model import Exercise, System
from exercises.model.marking import Rounding
from exercises.plans import PLANS, minutes_of, sittings_of
from exercises.tasks import TASKS, exercise_named
from grader.store.cover import EXAMPLE as EXAMPLE_COVER
from grader.store.cover import FILE as COVER
from grader.store.cover import read_cover
from grader.store.csv_files import read_csv, table_file
from grader.store.errors import GraderError
from grader.store.file_names import names_a_device
from grader.store.files import read_bytes, write_bytes, write_text
from grader.store.own_exercises import bank_of
from grader.store.plain_letters import id_of
from grader.store.school_toml import read_settings
from grader.store.wording import typed

#: What an id (of a school, sitting or candidate) may look like: it becomes part of file names.
_ID = re.compile(r"^[a-z0-9](?:[a-z0-9-]{0,30}[a-z0-9])?$")
_ID_RULE = "use small letters, digits and hyphens, at most 32"
_DEVICE_RULE = "Windows keeps the name for a device, and files are called by it; put a number behind it"

ROSTER_COLUMNS = ("id", "name", "employer", "crew", "units")
#: A column that few rosters need: what a candidate has of time, reader, larger print and the like.
ARRANGEMENTS = "arrangements"
_KNOWN_COLUMNS = (*ROSTER_COLUMNS, ARRANGEMENTS)
#: Faults of a roster that are shown at once; a file of another kind has one in every line.
MOST_FAULTS = 20
ABSENCE_COLUMNS = ("candidate", "sitting", "reason")
#: Letters in a cell of the roster; a longer one is a slip, and would fill the head of every page.
LONGEST_CELL = 200
#: A sitting that weighs more than this is a slip of the pen.
HEAVIEST = 1000


class Resit(enum.StrEnum):
    """Which of a candidate's attempts at a sitting counts."""

    LATEST = "latest"
    BEST = "best"


@dataclass(frozen=True)
class Sitting:
    """One assessed session: its exercises, or observed tasks, in order, and its weight among all sittings."""

    id: str
    title: str
    day: date
    exercises: tuple[str, ...]
    weight: float = 1
    #: Whether its exercises are tasks that are watched at the machine, and not a paper.
    observed: bool = False


@dataclass(frozen=True)
class Candidate:
    """One line of the roster; ``arrangements`` are told to those who decide and to nobody else."""

    id: str
    name: str
    employer: str
    crew: str
    units: System
    arrangements: str = ""


@dataclass(frozen=True)
class Absence:
    """A line of absences.csv: why a candidate did not sit."""

    candidate: str
    sitting: str
    reason: str


@dataclass(frozen=True)
class School:
    """A school and its folder."""

    folder: Path
    id: str
    title: str
    starts: date
    units: System
    pass_percent: float
    rounding: Rounding
    sittings: tuple[Sitting, ...]
    roster: tuple[Candidate, ...]
    resit: Resit = Resit.LATEST
    #: The share of an outcome's marks that shows it; None stands for the pass mark.
    own_outcome_percent: float | None = None
    #: The least share of each sitting's marks, and whether every outcome and every safety part is needed.
    sitting_percent: float = 0
    every_outcome: bool = False
    must_pass: bool = True
    #: The lessons that are taught; empty where the settings do not say.
    lessons: tuple[str, ...] = ()
    #: The exercises that sittings can be made of: ours, and the school's own, which lie in its folder.
    bank: Bank = field(default_factory=lambda: BANK, compare=False, repr=False)
    #: Months after the last sitting for which what is known of the candidates is kept; None: until somebody decides.
    keep_months: int | None = None
    #: The school's own words on top of each paper, in Markdown.
    cover: str = ""
    #: Who assesses, as certificates name them; empty where the settings do not say.
    assessor: str = ""
    #: Whether papers are issued under the rule that an answer which cannot be earns nothing.
    stop_and_look: bool = False

    @property
    def own_exercises(self) -> tuple[str, ...]:
        """Ids of the school's own exercises."""
        return self.bank.own

    @property
    def outcome_percent(self) -> float:
        """The share of an outcome's marks that shows it."""
        return self.pass_percent if self.own_outcome_percent is None else self.own_outcome_percent

    @property
    def register_file(self) -> Path:
        return self.folder / "register.jsonl"

    @property
    def here(self) -> str:
        """The folder as it is typed in a command that is said now."""
        return typed(self.folder)

    @property
    def named(self) -> str:
        """The folder's own name as it is typed in a command on a page, which is read from wherever it lies then."""
        return typed(Path(self.folder.resolve().name))

    @property
    def roster_file(self) -> Path:
        """Where the roster lies: roster.csv, or roster.xlsx."""
        return table_file(self.folder, "roster")

    @property
    def absences_file(self) -> Path:
        """Where absences lie: absences.csv, or absences.xlsx; there may be neither."""
        return table_file(self.folder, "absences")

    @property
    def packs(self) -> Path:
        return self.folder / "packs"

    @property
    def scripts(self) -> Path:
        return self.folder / "scripts"

    @property
    def records(self) -> Path:
        return self.folder / "records"

    @cached_property
    def key(self) -> bytes:
        """The school's secret. Raises: :class:`GraderError` if it is missing or damaged."""
        path = self.folder / "school.key"
        try:
            key = bytes.fromhex(read_bytes(path).decode("ascii").strip())
        except FileNotFoundError:
            raise GraderError(f"{path}: missing; nothing can be marked without it: restore your backup") from None
        except ValueError:
            raise GraderError(f"{path}: not a school key; restore it from your backup") from None
        if len(key) != KEY_BYTES:
            raise GraderError(f"{path}: not a whole school key; restore it from your backup")
        return key

    @cached_property
    def absences(self) -> tuple[Absence, ...]:
        """The lines of absences.csv; none where there is no such file. Raises: :class:`GraderError` for a bad one."""
        return tuple(absences_of(self, self.absences_file))

    def exercise(self, name: str) -> Exercise:
        """The exercise, or that of the observed task, of this id; sittings are checked to name none that is not there.

        Raises: :class:`KeyError` where there is none.
        """
        found = exercise_named(name, self.bank)
        if found is None:
            raise KeyError(name)
        return found

    def sitting(self, sitting_id: str) -> Sitting:
        """The sitting of this id. Raises: :class:`GraderError`, naming the sittings that there are."""
        for sitting in self.sittings:
            if sitting.id == sitting_id:
                return sitting
        there = ", ".join(sitting.id for sitting in self.sittings)
        raise GraderError(f"{self.folder / 'school.toml'}: no sitting {sitting_id!r}; there are: {there}")

    def candidate(self, candidate_id: str) -> Candidate:
        """The candidate of this id. Raises: :class:`GraderError` if the roster has none."""
        for candidate in self.roster:
            if candidate.id == candidate_id.lower():
                return candidate
        raise GraderError(f"{self.roster_file}: no candidate {candidate_id!r}; look for the id there")


KEY_BYTES = 32

_EXAMPLE_TOML = """\
# A school: its sittings and how it is marked. Lines that begin with # are notes.
[school]
id = "{id}"
title = "{title}"
starts = {starts}
units = "field"        # for candidates whose roster line names no units: field or metric
# assessor = "..."     # the assessor's name, for certificates; the school's logo, for them too, is a file beside this
#                        one: logo.svg, logo.png or logo.jpg
{lessons}
[marking]
pass_percent = 70      # of all marks, each sitting by its weight
outcome_percent = 60   # of the marks of an outcome, from which on it counts as shown
every_outcome = true   # who shows not every outcome is not yet competent; false lets strong parts hide an empty one
sitting_percent = 60   # of the marks of each sitting, at least: no day makes up for another that was lost
must_pass = true       # safety parts that are marked so must be right, whatever the other marks
rounding = "no marks"  # for a right answer given with too few figures: no marks, half marks or full marks
resit = "latest"       # which attempt counts after a resit: latest or best
stop_and_look = true   # an answer that cannot be, as a mud of 92 lb/gal, earns nothing, and what rests on it half

[privacy]
# keep_months = 24     # after the last sitting; then `pitside forget --expired` (here) deletes what is known of all

# One block for each sitting. `pitside exercises` lists the exercises to choose from, and `pitside coverage`
# says which outcomes of the lessons the sittings leave out.
"""

_EXAMPLE_SITTING = """\
[[sitting]]
id = "{id}"
title = "{title}"
day = {day}
weight = {weight}# 2 counts twice as much as 1
exercises = [{exercises}]{minutes}
"""

_EXAMPLE_ROSTER = ",".join((*ROSTER_COLUMNS, ARRANGEMENTS)) + "\n"


def new_school(folder: Path, title: str, starts: date, days: int | None = None) -> None:
    """Make a school folder with settings to edit, an empty roster and a fresh secret key.

    For a school of 1, 3 or 5 ``days`` the settings name its lessons and the sittings of each day, which share the
    day's weight by their marks: a paper that is long to sit comes in parts, a case by itself. A roster that lies
    there already is kept. Raises: :class:`GraderError` if there is a school already, in which nothing is touched, or
    if the title holds no letter.
    """
    if (folder / "school.toml").exists() or (folder / "school.key").exists():
        raise GraderError(f"{folder}: holds a school already; choose another folder")
    title = _one_line("".join(" " if _is_control(letter) else letter for letter in title))
    if not title:
        raise GraderError(f"{folder}: not made; give the school a title")
    school_id = id_of(title) or "school"
    lessons = [lesson for day in PLANS[days] for lesson in day] if days else []
    settings = _EXAMPLE_TOML.format(
        id=school_id,
        title=title.replace("\\", " ").replace('"', "'"),
        starts=starts,
        lessons=f"lessons = [\n{_listed(lessons)}]\n" if lessons else "",
    ) + "\n".join(
        _EXAMPLE_SITTING.format(
            id=name,
            title=heading,
            day=starts + timedelta(days=number),
            weight=f"{weight:g}".ljust(14),
            exercises=f"\n{_listed(paper)}" if days else ", ".join(f'"{exercise}"' for exercise in paper),
            minutes=f"  # about {minutes_of(BANK[exercise] for exercise in paper)} minutes",
        )
        for number, name, heading, weight, paper in (_planned(days) if days else _FIRST)
    )
    for name in ("packs", "scripts", "records"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    write_bytes(folder / "school.key", secrets.token_hex(KEY_BYTES).encode() + b"\n", mode=0o600)
    if not (folder / "roster.csv").exists() and not (folder / "roster.xlsx").exists():
        write_text(folder / "roster.csv", _EXAMPLE_ROSTER)
    if not (folder / COVER).exists():
        write_text(folder / COVER, EXAMPLE_COVER)
    write_text(folder / "school.toml", settings)


#: The sitting of a school without a plan: which day, id, title, weight, exercises.
_FIRST = ((0, "day1", "Day 1", 1.0, tuple(list(BANK)[:3])),)


def _planned(days: int) -> Iterator[tuple[int, str, str, float, tuple[str, ...]]]:
    """The sittings of a plan, each as which day, id, title, weight and exercises."""
    for number, lessons in enumerate(PLANS[days]):
        sittings = sittings_of(lessons)
        written = [one for one in sittings if one[0].level < 3]
        marks = [sum(exercise.marks for exercise in one) for one in sittings]
        for place, sitting in enumerate(sittings):
            name, heading = f"day{number + 1}", f"Day {number + 1}"
            if place >= len(written):
                name, heading = f"{name}-{sitting[0].id}"[:32].rstrip("-"), f"{heading}: {sitting[0].title}"
            elif len(written) > 1:
                name, heading = f"{name}{string.ascii_lowercase[place]}", f"{heading}, part {place + 1}"
            weight = round(marks[place] / sum(marks), 2)
            yield number, name, heading, weight, tuple(exercise.id for exercise in sitting)


def _listed(names: Iterable[str]) -> str:
    return "".join(f'    "{name}",\n' for name in names)


def open_school(folder: Path, settings_text: str | None = None) -> School:
    """Read and check a school folder; with ``settings_text`` as it would be if that were its school.toml.

    Raises: :class:`GraderError` naming the file, the fault and the mend.
    """
    path = folder / "school.toml"
    settings = read_settings(path, settings_text)
    about = _table(path, settings, "school")
    marking = _table(path, settings, "marking")
    units = _system(path, "units", _text(path, about, "school", "units"))
    bank = bank_of(folder, allowed=_switch(path, about, "school", "own_exercises"))
    return School(
        folder=folder,
        id=_identifier(path, _text(path, about, "school", "id")),
        title=_text(path, about, "school", "title"),
        starts=_day(path, about, "school", "starts"),
        units=units,
        pass_percent=_percent(path, marking, "pass_percent"),
        rounding=_rounding(path, marking),
        sittings=tuple(_sittings(path, settings, bank)),
        roster=roster_of(table_file(folder, "roster"), units),
        resit=_resit(path, marking),
        own_outcome_percent=_percent(path, marking, "outcome_percent") if "outcome_percent" in marking else None,
        sitting_percent=_percent(path, marking, "sitting_percent") if "sitting_percent" in marking else 0,
        every_outcome=_switch(path, marking, "marking", "every_outcome"),
        must_pass=_switch(path, marking, "marking", "must_pass", unsaid=True),
        lessons=_lessons(path, about),
        bank=bank,
        keep_months=_keep_months(path, settings),
        cover=read_cover(folder),
        assessor=_assessor(path, about),
        # Off where the settings do not say: schools of before the rule are marked as they were.
        stop_and_look=_switch(path, marking, "marking", "stop_and_look"),
    )


def unchecked_bank(folder: Path) -> Bank:
    """The bank with a school's own exercises, also unsound ones. Raises as :func:`open_school` does."""
    path = folder / "school.toml"
    about = _table(path, read_settings(path), "school")
    return bank_of(folder, allowed=_switch(path, about, "school", "own_exercises"), check=False)


def _table(path: Path, settings: dict[str, Any], name: str) -> dict[str, Any]:
    table = settings.get(name)
    if not isinstance(table, dict):
        raise GraderError(f"{path}: the block [{name}] is missing")
    return table


def _text(path: Path, table: dict[str, Any], block: str, name: str) -> str:
    value = table.get(name)
    if not isinstance(value, str) or not value.strip():
        raise GraderError(f'{path}: [{block}] needs a line {name} = "..."')
    return _one_line(value)


def _assessor(path: Path, about: dict[str, Any]) -> str:
    if "assessor" not in about:
        return ""
    name = _text(path, about, "school", "assessor")
    if fault := _cell_fault("assessor's name", name):
        raise GraderError(f"{path}: [school] assessor: {fault}")
    return name


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _is_control(letter: str) -> bool:
    return unicodedata.category(letter) == "Cc"


def _day(path: Path, table: dict[str, Any], block: str, name: str) -> date:
    value = table.get(name)
    if type(value) is not date:
        raise GraderError(f"{path}: [{block}] needs a date such as {name} = 2030-01-31 (without quotes)")
    return value


def _percent(path: Path, marking: dict[str, Any], name: str) -> float:
    value = marking.get(name)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= 100:
        raise GraderError(f"{path}: [marking] needs {name}, a number from 0 to 100")
    return float(value)


def _weight(path: Path, sitting_id: str, block: dict[str, Any]) -> float:
    value = block.get("weight", 1)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not (0 < value <= HEAVIEST):
        raise GraderError(f"{path}: sitting {sitting_id}: weight = {value!r}: write a number above 0, up to {HEAVIEST}")
    return float(value)


def _rounding(path: Path, marking: dict[str, Any]) -> Rounding:
    """How far-rounded answers are marked; a school whose settings do not say gives no marks for them."""
    value = marking.get("rounding", Rounding.NO_MARKS)
    try:
        return Rounding(value)
    except ValueError:
        policies = ", ".join(f'"{policy}"' for policy in Rounding)
        raise GraderError(f"{path}: [marking] rounding = {value!r}: write one of {policies}") from None


def _resit(path: Path, marking: dict[str, Any]) -> Resit:
    """Which attempt counts; where the settings do not say, as in those of before there were resits, the latest."""
    value = marking.get("resit", Resit.LATEST)
    try:
        return Resit(value)
    except ValueError:
        raise GraderError(f'{path}: [marking] resit = {value!r}: write "latest" or "best"') from None


def _switch(path: Path, table: dict[str, Any], block: str, name: str, unsaid: bool = False) -> bool:
    """A setting that is on or off; ``unsaid`` where the settings do not say."""
    value = table.get(name, unsaid)
    if not isinstance(value, bool):
        raise GraderError(f"{path}: [{block}] {name} = {value!r}: write true or false (without quotes)")
    return value


def _lessons(path: Path, about: dict[str, Any]) -> tuple[str, ...]:
    value = about.get("lessons", [])
    if not isinstance(value, list):
        raise GraderError(f'{path}: [school] lessons: write a list such as lessons = ["weighting", "solids"]')
    for lesson in value:
        if not isinstance(lesson, str) or lesson not in LESSONS:
            # The nearest name is enough where there is one: the list of all fills three lines.
            near = get_close_matches(str(lesson).lower(), LESSONS, 1, 0.6)
            if near:
                raise GraderError(f"{path}: [school] lessons: no lesson {lesson!r}; did you mean {near[0]!r}?")
            raise GraderError(f"{path}: [school] lessons: no lesson {lesson!r}; there are {', '.join(LESSONS)}")
    return tuple(lesson for lesson in LESSONS if lesson in value)


def _keep_months(path: Path, settings: dict[str, Any]) -> int | None:
    table = settings.get("privacy", {})
    value = table.get("keep_months") if isinstance(table, dict) else table
    if value is None:
        return None
    if type(value) is not int or not 0 <= value <= 1200:
        raise GraderError(f"{path}: [privacy] needs keep_months, a whole number of months, such as keep_months = 24")
    return value


def _identifier(path: Path, text: str) -> str:
    if not _ID.match(text):
        raise GraderError(f"{path}: {text!r} cannot be an id; {_ID_RULE}")
    if names_a_device(text):
        raise GraderError(f"{path}: {text!r} cannot be an id; {_DEVICE_RULE}")
    return text


def _system(path: Path, where: str, text: str) -> System:
    try:
        return System(text.strip().lower())
    except ValueError:
        raise GraderError(f"{path}: {where}: {_shown(text)} is no unit system; write field or metric") from None


def _sittings(path: Path, settings: dict[str, Any], bank: Bank) -> Iterator[Sitting]:
    blocks = settings.get("sitting")
    if not isinstance(blocks, list) or not blocks or not all(isinstance(block, dict) for block in blocks):
        raise GraderError(f"{path}: needs at least one block [[sitting]]")
    seen = set()
    for block in blocks:
        sitting_id = _identifier(path, _text(path, block, "sitting", "id"))
        if sitting_id in seen:
            raise GraderError(f"{path}: two sittings are called {sitting_id!r}; give each its own id")
        seen.add(sitting_id)
        observed = "tasks" in block
        if observed and "exercises" in block:
            raise GraderError(f"{path}: sitting {sitting_id} has exercises and tasks; make two sittings of it")
        chosen = block.get("tasks" if observed else "exercises")
        if not isinstance(chosen, list) or not chosen:
            raise GraderError(
                f'{path}: sitting {sitting_id} needs exercises = ["...", "..."], or tasks = ["...", "..."]'
            )
        for exercise in chosen:
            if not isinstance(exercise, str) or exercise not in (TASKS if observed else bank):
                what, list_them = ("task", "pitside tasks") if observed else ("exercise", "pitside exercises")
                near = get_close_matches(str(exercise).lower(), TASKS if observed else bank, 1, 0.6)
                meant = f" (did you mean {near[0]!r}?)" if near else ""
                raise GraderError(f"{path}: sitting {sitting_id}: no {what} {exercise!r}{meant}; see: {list_them}")
        if len(set(chosen)) < len(chosen):
            raise GraderError(f"{path}: sitting {sitting_id} names an exercise twice")
        title = _text(path, block, "sitting", "title")
        day = _day(path, block, "sitting", "day")
        yield Sitting(sitting_id, title, day, tuple(chosen), _weight(path, sitting_id, block), observed)


#: What other words people head the columns with that few rosters need.
_OTHER_WORDS = {
    **dict.fromkeys(("company", "firm", "organisation", "organization"), "employer"),
    **dict.fromkeys(("team", "shift", "group"), "crew"),
}


def roster_of(path: Path, units: System) -> tuple[Candidate, ...]:
    """The candidates in a table; ``units`` are for who has none there.

    Raises: :class:`GraderError` that names all that is wrong with the file, a line each.
    """
    try:
        (_, columns), *rows = read_csv(path) or [(1, [])]
        head = next((at for at, cells in rows[:10] if {"id", "name"} <= {cell.lower() for cell in cells}), None)
    except FileNotFoundError:
        raise GraderError(f"{path}: missing; its first line is {','.join(ROSTER_COLUMNS)}") from None
    columns = [column.lower() for column in columns]
    if head and not {"id", "name"} & set(columns):
        raise GraderError(f"{path}: its table begins in line {head}; delete the lines above it")
    _all_well(path, list(_column_faults(columns)))
    candidates: list[Candidate] = []
    faults: list[str] = []
    seen: dict[str, int] = {}
    for number, line in rows:
        cells = {name: cell for name, cell in zip(columns, line, strict=False) if name in _KNOWN_COLUMNS}
        of_line = list(_line_faults(columns, line, cells))
        candidate = cells.get("id", "").lower()
        if _ID.match(candidate) and seen.setdefault(candidate, number) != number:
            of_line.append(f"id {candidate} stands in line {seen[candidate]} already; ids must differ")
        faults += [f"line {number}: {fault}" for fault in of_line]
        if not of_line:
            candidates.append(
                Candidate(
                    candidate,
                    cells["name"],
                    cells.get("employer", ""),
                    cells.get("crew", ""),
                    System(cells["units"].lower()) if cells.get("units") else units,
                    cells.get(ARRANGEMENTS, ""),
                )
            )
    _all_well(path, faults)
    return tuple(candidates)


def unread_columns(path: Path) -> str:
    """What to say of columns of a roster that are not read, with what may have been meant; empty where all are.

    Whose roster it is may want them there, so they are no faults.
    """
    columns = [column.lower() for column in (read_csv(path) or [(1, [])])[0][1]]
    left = [column for column in _KNOWN_COLUMNS if column not in columns]
    told = []
    for column in columns:
        if column and column not in _KNOWN_COLUMNS:
            near = get_close_matches(column, left, 1, 0.6)
            told.append(f"{_shown(column)} (did you mean {near[0]}?)" if near else _shown(column))
    if not told:
        return ""
    what = "column is" if len(told) == 1 else "columns are"
    return f"{path}: {len(told)} {what} not read: {', '.join(told)}; those that are: {', '.join(_KNOWN_COLUMNS)}"


def _all_well(path: Path, faults: list[str]) -> None:
    if len(faults) == 1:
        raise GraderError(f"{path}: {faults[0]}")
    if faults:
        shown = [f"  {fault}" for fault in faults[:MOST_FAULTS]]
        more = [f"  and {len(faults) - MOST_FAULTS} more"] if len(faults) > MOST_FAULTS else []
        raise GraderError("\n".join([f"{path}: {len(faults)} faults to mend", *shown, *more]))


def _line_faults(columns: list[str], line: list[str], cells: dict[str, str]) -> Iterator[str]:
    if any(line[len(columns) :]) or any(cell for name, cell in zip(columns, line, strict=False) if not name):
        yield "more cells than the first line has; put quotes around a name with a comma"
    candidate, name, system = cells.get("id", ""), cells.get("name", ""), cells.get("units", "")
    if not _ID.match(candidate.lower()):
        yield f"{_shown(candidate)} cannot be an id; {_ID_RULE}"
    elif names_a_device(candidate):
        yield f"{_shown(candidate)} cannot be an id; {_DEVICE_RULE}"
    if not name:
        yield f"{candidate.lower()} has no name"
    elif re.fullmatch(r"[\d\s./]+", name):
        yield f"{_shown(name)} is no name but a number; write the candidate's name"
    for column, cell in cells.items():
        if column != "id" and (fault := _cell_fault(column, cell)):
            yield fault
    if system and system.lower() not in list(System):
        yield f"{_shown(system)} is no unit system; write field or metric"


def absences_of(school: School, table: Path, name: str = "") -> Iterator[Absence]:
    """The absences in a table, which messages call by its ``name``, else by where it lies; none where there is none.

    Raises: :class:`GraderError` at the first line that cannot be.
    """
    path: Path | str = name or table
    right = f"the first line is {','.join(ABSENCE_COLUMNS)}"
    try:
        (_, columns), *rows = read_csv(table) or [(1, [])]
    except FileNotFoundError:
        return
    columns = [column.lower() for column in columns]
    for column in ABSENCE_COLUMNS:
        if columns.count(column) != 1:
            here = _shown(",".join(columns))
            raise GraderError(f"{path}: {'no' if column not in columns else 'more than one'} column {column!r}; {right}"
                              + (f" (here it is {here})" if columns else ""))  # fmt: skip
    sittings = {sitting.id for sitting in school.sittings}
    candidates = {candidate.id for candidate in school.roster}
    seen: dict[tuple[str, str], int] = {}
    for number, line in rows:
        where = f"{path}: line {number}"
        if any(line[len(columns) :]):
            raise GraderError(f"{where}: more cells than the first line has; put quotes around a reason with a comma")
        cells = {name: cell for name, cell in zip(columns, line, strict=False) if name in ABSENCE_COLUMNS}
        for name, cell in cells.items():
            if fault := _cell_fault(name, cell):
                raise GraderError(f"{where}: {fault}")
        candidate, sitting = cells.get("candidate", "").lower(), cells.get("sitting", "").lower()
        if candidate not in candidates:
            raise GraderError(
                f"{where}: no candidate {_shown(candidate)} in {school.roster_file.name}; write an id from there"
            )
        if sitting not in sittings:
            there = ", ".join(sitting.id for sitting in school.sittings)
            raise GraderError(f"{where}: no sitting {_shown(sitting)}; there are: {there}")
        if not cells.get("reason"):
            raise GraderError(f"{where}: no reason why {candidate} did not sit {sitting}; write one or delete the line")
        first = seen.setdefault((candidate, sitting), number)
        if first != number:
            raise GraderError(f"{where}: {candidate} and {sitting} stand in line {first} already; delete one of them")
        yield Absence(candidate, sitting, cells["reason"])


def _column_faults(columns: list[str]) -> Iterator[str]:
    """Which column is not there once that must be, and which is a known one by a slip of the pen."""
    right = f"the first line is {','.join(ROSTER_COLUMNS)}"
    for column in _KNOWN_COLUMNS:
        if columns.count(column) > 1:
            yield f"two columns are called {column!r}; {right}"
    missing = [column for column in _KNOWN_COLUMNS if column not in columns]
    for column in ("id", "name"):
        if column in missing:
            yield f"no column {column!r}; {right}" + (f" (here it is {_shown(','.join(columns))})" if columns else "")
            # Without it the others cannot be judged.
            return
    for column in columns:
        # A column of units that is not seen as one would give a candidate a paper in the wrong units.
        words = [column, *(column.split() if "units" in missing else ())]
        meant = next((found for word in words for found in get_close_matches(word, missing, 1, 0.8)), None)
        if not meant and _OTHER_WORDS.get(column) in missing:
            meant = _OTHER_WORDS[column]
        if column not in _KNOWN_COLUMNS and meant:
            yield f"column {_shown(column)}: write {meant!r} if it is that, else another word"


def _cell_fault(name: str, cell: str) -> str:
    if any(_is_control(letter) for letter in cell):
        return "holds a control character, which no keyboard types; write the line again"
    if "\ufffd" in cell:
        return f"a letter of the {name} was lost; save the sheet as CSV UTF-8 again"
    if len(cell) > LONGEST_CELL:
        return f"the {name} is longer than {LONGEST_CELL} letters; shorten it"
    return ""


def _shown(text: str) -> str:
    """A text of the roster as an error line shows it: in quotes, without letters that would act, cut if long."""
    return ascii(text) if not text.isprintable() else repr(text if len(text) <= 60 else f"{text[:60]}...")
