"""Numbers that no rig has, in many scripts of one sitting: whatever is said of them is said, and the rest stands."""

from __future__ import annotations

import csv
import itertools
import math
import warnings

import numpy as np
import pytest

from exercises import BANK
from exercises.model import Chosen, Numeric, System
from exercises.model.answers import Given
from exercises.model.drawing import draw
from exercises.model.marking import Rounding, mark
from grader.demo.simulation import Typed
from grader.marking.explain import _explained, explain
from grader.marking.record import MarkedExercise
from grader.reports.debrief import debrief, write_debrief
from grader.reports.items import item_report, write_items
from grader.reports.results import gather, write_feedback, write_results
from grader.store.part_marks import item_name
from grader.store.register import Register
from tests.grader.cohorts import marked_cohort
from tests.grader.schools import SITTING, well_formed

CANDIDATES = 14
EXERCISES = ("hole-volume", "weight-up-growing", "removal-performance")
#: What all but four give for this many times the right answer, where that is less than one: two of them make infinity.
SHARED = 1.5e308
EXTREMES = (
    5e-324, 1.7976931348623157e308, -1.7976931348623157e308, 1e-310, math.inf, -0.0, 1e300, 1e-200, "9" * 200, "1e999",
    "1e-999", "٣",
)  # fmt: skip


@pytest.fixture(scope="module")
def school(tmp_path_factory):
    """Extreme answers and wrong ordinary ones in turn, so that each is an answer that others are worked from."""

    def twist(number, variants, answers):
        given = dict(answers)
        extremes = itertools.cycle(EXTREMES[number // 4 % len(EXTREMES) :] + EXTREMES)
        for place, variant in enumerate(variants, 1):
            for at, item in enumerate(variant.exercise.items):
                if isinstance(item, Numeric):
                    right = float(variant.key[item.key].magnitude)
                    value = next(extremes) if at % 2 == number % 2 or number < 4 else 1.377 * right
                    if right < 1 and number >= 4:
                        value = SHARED * right
                    given[item_name(place, item.key)] = Typed(value, variant.unit(item))
        return given

    return marked_cohort(tmp_path_factory.mktemp("extremes") / "school", CANDIDATES, 3, EXERCISES, twist=twist)


@pytest.fixture(autouse=True)
def _no_arithmetic_goes_astray():
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        yield


def test_every_part_of_a_script_is_explained_from_its_record(school):
    for paper in itertools.islice(Register(school).papers.values(), 4):
        for number, variant in enumerate(paper.variants(), 1):
            for part in variant.exercise.parts:
                lines = explain(school, paper.candidate, item_name(number, part.key))
                assert any(line.startswith("  rule") for line in lines)
                assert not any("BEWARE" in line for line in lines)
                assert all(len(line) < 1000 for line in lines)


#: Each exercise in one unit system; the other one is left to the longer run.
EACH_IN_ONE_SYSTEM = [
    pytest.param(exercise, system, marks=[pytest.mark.slow] * (place % 2 != at), id=f"{exercise.id}-{system}")
    for place, exercise in enumerate(BANK.values())
    for at, system in enumerate(System)
]


@pytest.mark.parametrize(("exercise", "system"), EACH_IN_ONE_SYSTEM)
@pytest.mark.filterwarnings("ignore::pitside.errors.ValidityWarning")
def test_every_item_of_the_bank_is_explained_whatever_was_answered(exercise, system):
    """In each exercise every other number extreme and the rest wrong, so that all rules are tried and told of."""
    variant = draw(exercise, np.random.default_rng(1), system)
    extremes = itertools.cycle(EXTREMES)
    given = {}
    for at, item in enumerate(exercise.items):
        answer = variant.key[item.key]
        if not isinstance(item, Numeric | Chosen):
            given[item.key] = Given(variant.shown_answer(item, answer))
        elif at % 2 == 0:
            given[item.key] = Given(next(extremes), variant.unit(item))
        else:
            given[item.key] = Given(1.377 * float(answer.magnitude), variant.unit(item))
    marked = MarkedExercise(exercise.id, mark(variant, given))
    for item in exercise.items:
        lines = list(_explained(1, variant, item, marked, Rounding.NO_MARKS, ""))
        assert any(line.startswith("  rule") for line in lines)
        assert not any("BEWARE" in line for line in lines)


def test_results_feedback_debrief_and_items_are_written_with_finite_numbers(school):
    results = gather(school)
    write_results(school, results)
    write_feedback(school, results, lambda done, of: None)
    page = write_debrief(school, debrief(school, school.sitting(SITTING), results), {}, None)
    pages = [page, *school.records.glob("feedback/*.html")]
    written = write_items(item_report([school.folder]), school.folder / "items.html")
    pages += [path for path in written if path.suffix == ".html"]
    assert len(pages) == 2 + CANDIDATES
    for path in pages:
        text = well_formed(path.read_text(encoding="utf-8")).get_text(" ")
        assert " nan" not in text.casefold()
    for path in [school.records / "results.csv", *(path for path in written if path.suffix == ".csv")]:
        for row in csv.reader(path.read_text(encoding="utf-8-sig").splitlines()):
            assert not {"nan", "inf", "-inf"} & {cell.casefold() for cell in row}
