"""Practice papers: a sitting's exercises with numbers that no candidate has, on one page that tells right from wrong.

The page is for everybody and holds its own answers. Its numbers do not hang on the school's key, so nothing about
a candidate's paper can be worked out from them.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from markupsafe import Markup

from exercises.model.drawing import draw
from exercises.model.exercise import Exercise
from exercises.model.numbers import System
from exercises.model.practice import practice_data, shortened
from exercises.model.variant import SHUFFLE, Variant
from grader.pages.pages import filled, script_data, text_of
from grader.store.errors import GraderError
from grader.store.files import write_json, write_text
from grader.store.register import Entry, Register, draw_paper
from grader.store.school import School, Sitting

#: Cases, exercises of this level, take a whole session each and are worked in papers alone.
CASE = 3
#: Draws tried for each practice paper before the numbers of an exercise are called used up.
_TRIES = 10


@dataclass(frozen=True)
class PracticePage:
    """A page that was written, with the titles of the exercises that it leaves out."""

    path: Path
    left_out: tuple[str, ...]


def practice_file(school: School, sitting: Sitting) -> Path:
    """Where the practice papers of a sitting lie."""
    return school.packs / "practice" / f"{school.id}_{sitting.id}_practice.html"


def write_practice(
    school: School, sittings: Iterable[Sitting], papers: int, progress: Callable[[int, int], None]
) -> list[PracticePage]:
    """Write each sitting's page with so many papers in each unit system; a sitting of cases alone has none.

    Raises: :class:`GraderError` where an exercise has no numbers left that no candidate has.
    """
    taken = taken_numbers(school)
    sittings = tuple(sitting for sitting in sittings if not sitting.observed)
    written = []
    for count, sitting in enumerate(sittings, 1):
        exercises = [school.bank[name] for name in sitting.exercises]
        practised = [exercise for exercise in exercises if exercise.level < CASE]
        left_out = tuple(exercise.title for exercise in exercises if exercise.level >= CASE)
        path = practice_file(school, sitting)
        if practised:
            start = f"{school.id} {sitting.id}"
            drawn = {
                exercise.id: {
                    system: [replace(variant, stop_and_look=school.stop_and_look) for variant in variants]
                    for system, variants in fresh_variants(exercise, papers, taken, start).items()
                }
                for exercise in practised
            }
            keep_shown(school, sitting, drawn)  # before the page is there: no resit may miss it
            write_text(path, practice_page(school.title, sitting.title, drawn, left_out))
        written.append(PracticePage(path if practised else Path(), left_out))
        progress(count, len(sittings))
    return written


def taken_numbers(school: School) -> set[str]:
    """The numbers, by exercise, of every paper in the register and of those that the roster is still to be given."""
    register = Register(school)
    issued = (*register.papers.values(), *register.replaced.values())
    entries = [entry for paper in issued for entry in paper.entries]
    shown = shown_numbers(school, school.sittings)  # by earlier pages: who came later is given others
    for sitting in school.sittings:
        for candidate in school.roster:
            if register.paper_of(sitting.id, candidate.id) is None:
                entries += draw_paper(school, sitting, candidate, attempt=1, practised=shown).entries
    return {_numbers_of_entry(entry) for entry in entries}


def shown_file(school: School, sitting: Sitting) -> Path:
    """Where the numbers are kept that pages of practice papers of a sitting have shown."""
    return school.records / "practice" / f"{sitting.id}.json"


def shown_numbers(school: School, sittings: Iterable[Sitting]) -> dict[str, list[dict[str, Any]]]:
    """The numbers, by exercise, that every page of practice papers of these sittings has shown.

    Raises: :class:`GraderError` where they were kept and cannot be read.
    """
    found: dict[str, list[dict[str, Any]]] = {}
    for sitting in sittings:
        path = shown_file(school, sitting)
        try:
            kept = json.loads(path.read_text(encoding="utf-8"))
            for name, sets in kept.items():
                found.setdefault(name, []).extend(dict(numbers) for numbers in sets)
        except FileNotFoundError:
            continue
        except (OSError, ValueError, TypeError, AttributeError):
            raise GraderError(f"{path}: damaged; restore it from your backup, or delete it and run again") from None
    return found


def keep_shown(school: School, sitting: Sitting, drawn: dict[str, dict[str, list[Variant]]]) -> None:
    """Keep what a page is about to show, with what earlier pages of the sitting showed."""
    kept = shown_numbers(school, [sitting])
    for name, by_system in drawn.items():
        known = kept.setdefault(name, [])
        for variants in by_system.values():
            for variant in variants:
                if (numbers := variant.numbers.to_json()) not in known:
                    known.append(numbers)
    write_json(shown_file(school, sitting), kept)


def _numbers_of_entry(entry: Entry) -> str:
    return _told(entry.exercise, entry.numbers)


def numbers_of(variant: Variant) -> str:
    """What tells a variant's numbers from another's; the order in which steps are shown gives nothing away."""
    return _told(variant.exercise.id, variant.numbers.to_json())


def _told(exercise: str, numbers: dict[str, Any]) -> str:
    return f"{exercise} " + json.dumps(
        {name: value for name, value in numbers.items() if name.partition(".")[0] != SHUFFLE}, sort_keys=True
    )


def fresh_variants(exercise: Exercise, papers: int, taken: set[str], start: str) -> dict[str, list[Variant]]:
    """Variants in each unit system whose numbers are not among those taken, and no two alike while there are others.

    The same ``start`` gives the same variants. Raises: :class:`GraderError` where there is none.
    """
    found: dict[str, list[Variant]] = {}
    for system in System:
        begin = hashlib.sha256(f"practice paper {start} {exercise.id} {exercise.version} {system}".encode()).digest()
        variants = list(_fresh(exercise, system, np.random.default_rng(int.from_bytes(begin)), papers, taken))
        if not variants:
            raise GraderError(
                f"{exercise.id}: candidates have all its sets of numbers ({system}); no practice paper can hold it. "
                "Take it out of one sitting, or practise in the book"
            )
        found[str(system)] = [variants[paper % len(variants)] for paper in range(papers)]
    return found


def _fresh(
    exercise: Exercise, system: System, generator: np.random.Generator, papers: int, taken: set[str]
) -> Iterator[Variant]:
    seen = set(taken)
    for _ in range(_TRIES * papers):
        variant = draw(exercise, generator, system)
        numbers = numbers_of(variant)
        if numbers not in seen:
            seen.add(numbers)
            yield variant
            papers -= 1
        if not papers:
            return


def practice_page(school: str, title: str, drawn: dict[str, dict[str, list[Variant]]], left_out: Iterable[str]) -> str:
    """The page: a section for each exercise, with all its variants as data."""
    sections = []
    papers = 0
    for number, (name, variants) in enumerate(drawn.items(), 1):
        data = practice_data(next(iter(variants.values()))[0].exercise, variants)
        first = next(iter(data["systems"].values()))
        papers = len(first)
        sections.append(
            filled(
                "exercises/practice.html.jinja",
                identifier=f"exercise-{number}-{name}",
                title=f"{number}. {data['title']}",
                first=first[0],
                data=script_data(shortened(data)),
            )
        )
    return filled(
        "papers/practice_papers.html",
        school=school,
        title=title,
        papers=papers,
        sections=[Markup(section) for section in sections],
        left_out=list(left_out),
        style=text_of("pages/worksheet.css", "exercises/practice.css", "papers/practice_papers.css"),
        script=text_of("exercises/read_number.js", "exercises/practice.js", "papers/practice_papers.js"),
    )
