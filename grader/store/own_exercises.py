"""A school's own exercises: the modules in its folder own_exercises/, run here and checked before anything uses them.

They are programs of whoever keeps the school folder and run with all that person's rights, so a school must allow them
in its settings. They are never sent into the rooms of scripts, nor to other machines.
"""

from __future__ import annotations

import hashlib
import re
import sys
import traceback
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

import numpy as np

from exercises import BANK, LESSONS, Bank
from exercises.model import Exercise, System
from exercises.model.drawing import UnsoundExercise, draw
from exercises.model.soundness import faults
from exercises.tasks import TASKS
from grader.store.errors import GraderError
from grader.store.school_toml import read_settings

FOLDER = "own_exercises"
#: Draws tried in each unit system whenever a school is opened, and before papers are drawn.
QUICK_DRAWS = 3
DRAWS_BEFORE_ISSUE = 40
#: What an exercise's id may look like, as those of the bank.
_ID = re.compile(r"^[a-z][a-z0-9]*(?:-[a-z0-9]+)*$")
#: Modules that were run and found sound in this process, by their path and the digest of their source.
_SOUND: dict[tuple[Path, str], tuple[Exercise, ...]] = {}


def own_modules(folder: Path) -> tuple[Path, ...]:
    """The modules of a school folder that hold own exercises, by name."""
    return tuple(sorted(path for path in (folder / FOLDER).glob("*.py") if path.is_file()))


def waiting_to_be_allowed(folder: Path) -> list[str]:
    """The modules of a school that its settings do not let run; none where its settings cannot be read."""
    try:
        about = read_settings(folder / "school.toml").get("school")
    except GraderError:
        return []
    allowed = isinstance(about, dict) and about.get("own_exercises") is True
    return [] if allowed else [path.name for path in own_modules(folder)]


def bank_of(folder: Path, allowed: bool, check: bool = True) -> Bank:
    """Our bank with the exercises of a school's modules, which are run, behind it; ours itself where there are none.

    Without ``check`` an exercise is taken in even if it is unsound, for its author to see all that is wrong with it.

    Raises: :class:`GraderError` naming the module and the fault: there are modules that the settings do not allow, one
    cannot be run, holds no exercise, or one that is unsound or has the id of another.
    """
    modules = own_modules(folder)
    if modules and not allowed:
        raise GraderError(
            f"{modules[0]}: own exercises are programs that would run here with all your rights; if you trust whoever "
            f"wrote them, put own_exercises = true under [school] in {folder / 'school.toml'}, else move them away"
        )
    taken: dict[str, Exercise] = {}
    for path in modules:
        for exercise in _exercises_of(path, check):
            if exercise.id in taken or exercise.id in BANK or exercise.id in TASKS:
                raise GraderError(f"{path}: there is an exercise {exercise.id} already; give this one another id")
            taken[exercise.id] = exercise
    return BANK.with_own(taken.values())


def check_own(own: Iterable[Exercise], draws: int = DRAWS_BEFORE_ISSUE) -> None:
    """Try own exercises more thoroughly. Raises: :class:`GraderError` with the first fault found."""
    for exercise in own:
        name = exercise.id
        if fault := _fault(exercise, draws):
            raise GraderError(
                f"own exercise {name}: {fault} (see, in the school's folder: pitside check-exercise {name} --school .)"
            )


@contextmanager
def blamed(sitting: str, own: Iterable[str]) -> Iterator[None]:
    """While own exercises are worked on: what they raise is told as theirs, and not as a fault of pitside."""
    names = ", ".join(own)
    try:
        yield
    except GraderError:
        raise
    except Exception as error:
        if not names:
            raise
        raise GraderError(f"sitting {sitting}, own exercises {names}: {_line(error)}") from None


def _exercises_of(path: Path, check: bool) -> tuple[Exercise, ...]:
    """The exercises that a module defines at its top, alone or in lists, in their order; checked."""
    source = path.read_bytes()
    known = (path.resolve(), hashlib.sha256(source).hexdigest())
    if known not in _SOUND:
        module = _run(path, source)
        found: dict[int, Exercise] = {}
        for value in vars(module).values():
            for one in value if isinstance(value, list | tuple) else (value,):
                if isinstance(one, Exercise):
                    found[id(one)] = one
        exercises = tuple(one for one in found.values() if all(one is not ours for ours in BANK.values()))
        if not exercises:
            raise GraderError(f"{path}: defines no exercise; give it one, such as EXERCISE = Exercise(...)")
        for exercise in exercises:
            if fault := _form_fault(exercise) or (check and _fault(exercise, QUICK_DRAWS)):
                raise GraderError(f"{path}: exercise {exercise.id}: {fault}")
        if not check:
            return exercises
        _SOUND[known] = exercises
    return _SOUND[known]


def _run(path: Path, source: bytes) -> ModuleType:
    """The module, run. It is compiled here and not imported, so that nothing is written beside it."""
    module = ModuleType(f"{FOLDER}.{path.stem}")
    module.__file__ = str(path)
    # Enums and dataclasses look their module up by its name.
    sys.modules[module.__name__] = module
    try:
        exec(compile(source, str(path), "exec"), vars(module))
    except (Exception, SystemExit) as error:
        raise GraderError(f"{path}{_place(error, path)}: {_line(error)}") from None
    return module


def _place(error: BaseException, path: Path) -> str:
    """The line of the module at which an error arose, if any."""
    if isinstance(error, SyntaxError):
        return f": line {error.lineno}" if error.lineno else ""
    lines = [frame.lineno for frame in traceback.extract_tb(error.__traceback__) if frame.filename == str(path)]
    return f": line {lines[-1]}" if lines else ""


def _line(error: BaseException) -> str:
    text = error.msg if isinstance(error, SyntaxError) else str(error)
    return f"{type(error).__name__}: {' '.join(text.split())[:300]}"


def _form_fault(exercise: Exercise) -> str:
    """What of an exercise does not fit the bank, or nothing."""
    if not _ID.match(exercise.id) or len(exercise.id) > 40:
        return "its id must be small letters, digits and single hyphens, at most 40, and begin with a letter"
    if unknown := [lesson for lesson in (exercise.lesson, *exercise.combines) if lesson not in LESSONS]:
        return f"no lesson {unknown[0]!r}; there are {', '.join(LESSONS)}"
    if exercise.level not in (1, 2, 3):
        return "its level must be 1, 2 or 3"
    if type(exercise.version) is not int or exercise.version < 1:
        return "its version must be a whole number from 1"
    return ""


def _fault(exercise: Exercise, draws: int) -> str:
    """The first thing that is wrong with an exercise in so many draws of each unit system, or nothing."""
    for system in System:
        for number in range(draws):
            try:
                variant = draw(exercise, np.random.default_rng([number, 1]), system)
                found = faults(variant)
                variant.scheme_digest  # noqa: B018  # the register needs it, and it works everything out
            except UnsoundExercise as error:
                found = [str(error)]
            except Exception as error:  # its functions are the author's and may raise anything
                found = [_line(error)]
            if found:
                return f"{system} units: {found[0]}"
    return ""
