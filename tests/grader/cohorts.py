"""Marked schools of any size in a second or two: papers are drawn, registered and marked, but no notebook is run.

What a script holds and how it is run is tried elsewhere; here only its answers matter.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from pathlib import Path

import numpy as np

from exercises.model.answers import Given
from exercises.model.marking import mark
from exercises.model.variant import Variant
from grader.demo.simulation import Ability, Typed, answers_of
from grader.marking.record import MarkedExercise, Record, by_hand_in
from grader.papers.notebook import script_name
from grader.store.files import write_json
from grader.store.log import HAND_MARKS, MARKED, Log
from grader.store.part_marks import item_name
from grader.store.register import Paper, Register, draw_paper
from grader.store.school import School, open_school
from tests.grader.schools import KEY, make_school

#: The answers of a candidate, from the place in the roster, the paper's variants, and what ability would have answered.
Twist = Callable[[int, tuple[Variant, ...], dict[str, Typed | None]], Mapping[str, Typed | None]]

EXERCISES = ("convert-mud-weight", "column-pressure", "weight-up-growing", "weight-up-fixed-final", "solids-fresh")


def abilities(count: int, generator: np.random.Generator) -> list[Ability]:
    """From nearly faultless to lost, evenly drawn."""
    return [Ability(slips=share, blanks=share / 4) for share in generator.uniform(0.02, 0.6, count)]


def marked_cohort(
    folder: Path,
    candidates: int = 24,
    seed: int = 1,
    exercises: tuple[str, ...] = EXERCISES,
    settings: str = "",
    twist: Twist | None = None,
    absent: int = 0,
) -> School:
    """A school whose every candidate but the last ``absent`` ones has marks in every sitting.

    ``settings`` stands in place of the usual school.toml; ``seed`` also makes the key, so that cohorts differ.
    """
    roster = [f"c{n:03d},Candidate No. {n},Larkwater Energy,crew {n % 3},field" for n in range(1, candidates + 1)]
    school = make_school(folder, roster, exercises, key=f"{int(KEY, 16) ^ seed:064x}")
    if settings:
        (folder / "school.toml").write_text(settings, encoding="utf-8")
        school = open_school(folder)
    generator = np.random.default_rng(seed)
    register, log = Register(school), Log(school)
    able = abilities(candidates, generator)
    for sitting in school.sittings:
        papers = [draw_paper(school, sitting, candidate, 1) for candidate in school.roster]
        register.add(papers)
        for number, paper in enumerate(papers[: candidates - absent]):
            variants = paper.variants()
            answers: Mapping[str, Typed | None] = answers_of(variants, able[number], generator)
            answers = twist(number, variants, dict(answers)) if twist else answers
            keep(school, record_of(school, paper, variants, answers), log)
    return school


def record_of(
    school: School, paper: Paper, variants: tuple[Variant, ...], answers: Mapping[str, Typed | None]
) -> Record:
    """The record that marking a script with these answers gives."""
    exercises = []
    for number, variant in enumerate(variants, 1):
        given = {}
        for item in variant.exercise.items:
            typed = answers.get(item_name(number, item.key))
            if typed is not None:
                given[item.key] = Given(typed.value, typed.unit)
        exercises.append(MarkedExercise(variant.exercise.id, mark(variant, given)))
    return Record(
        paper=paper.id,
        candidate=paper.candidate,
        sitting=paper.sitting,
        file=script_name(school, paper),
        script="0" * 64,
        scheme=paper.scheme,
        ending="finished",
        notes=(),
        exercises=tuple(exercises),
    )


def keep(school: School, record: Record, log: Log | None = None) -> None:
    """Write a record where marking would have written it, and before it the log's lines that marking would write."""
    log = log or Log(school)
    marked = [line for line in log.about(record.paper) if "record" in line]
    if not marked or marked[-1]["record"] != record.digest:
        about = {"file": record.file, "script": record.script, "scheme": record.scheme, "record": record.digest}
        log.write(MARKED, paper=record.paper, marks=record.marks, out_of=record.out_of, **about)
    if record.hand:
        log.write(HAND_MARKS, paper=record.paper, marks=record.marks, before=0.0, hand=by_hand_in(record))
    write_json(school.records / "marks" / f"{record.paper}.json", asdict(record))
