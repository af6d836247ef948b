"""From marks to decisions: every verdict worked out again from the records, and the corners of the rule.

No published source says how this school decides; the rule is its own, as written in school.toml, and the tests work
with the plain numbers of the records, in whole thousandths of a mark.
"""

from __future__ import annotations

import csv
import json
import random
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner

from exercises import BANK
from exercises.model import Choice, Order
from exercises.model.variant import Variant
from grader.cli import commands
from grader.demo.simulation import Typed
from grader.reports.competence import (
    Decision,
    Verdict,
    decide,
    let_through,
    off_roster,
    rule_in_words,
    write_decisions,
)
from grader.reports.results import Result, gather, write_feedback, write_results
from grader.store.csv_files import read_csv
from grader.store.errors import GraderError
from grader.store.files import write_json
from grader.store.log import REFUSED, Log
from grader.store.part_marks import Change, ChangeKind, HandMark
from grader.store.percents import floored, needed
from grader.store.register import Register, draw_paper
from grader.store.school import Absence, Resit, School, new_school, open_school
from tests.browsing import WINDOWS
from tests.grader.cohorts import keep, marked_cohort, record_of
from tests.grader.schools import quiet, right_answers, well_formed
from tests.sharing import a_few

HEAD = '[school]\nid = "marram"\ntitle = "Marram school"\nstarts = 2026-05-04\nunits = "field"\n\n[marking]\n'


def settings(marking: str, **sittings: tuple[str, ...]) -> str:
    """A school.toml; each sitting by its id, with its exercises."""
    text = f"{HEAD}{marking}\n"
    for number, (name, exercises) in enumerate(sittings.items(), 5):
        listed = ", ".join(f'"{exercise}"' for exercise in exercises)
        text += f'\n[[sitting]]\nid = "{name}"\ntitle = "The {name}"\nday = 2026-05-{number:02d}\n'
        text += f"exercises = [{listed}]\n"
    return text


NUMBERS = ("column-pressure", "weight-up-growing", "solids-fresh")
SAFETY = ("order-start-up", "isolate-before-opening")
TWO_DAYS = settings("pass_percent = 70\noutcome_percent = 60", day1=NUMBERS, day4=SAFETY)
TWO_DAYS = TWO_DAYS.replace('id = "day4"', 'id = "day4"\nweight = 2.5')


@pytest.fixture(scope="module")
def cohort(tmp_path_factory) -> School:
    """Forty candidates of every ability in two sittings of which the second weighs more; the last two stayed away."""
    return marked_cohort(tmp_path_factory.mktemp("cohort") / "school", 40, seed=7, settings=TWO_DAYS, absent=2)


@pytest.fixture(scope="module")
def able(tmp_path_factory) -> School:
    """Four candidates who answered everything right on two days; the last one stayed away."""

    def right(number: int, variants: tuple[Variant, ...], given: dict[str, Typed | None]) -> dict[str, Typed]:
        return right_answers(variants)

    folder = tmp_path_factory.mktemp("able") / "school"
    return marked_cohort(folder, 4, settings=TWO_DAYS.replace("\nweight = 2.5", ""), twist=right, absent=1)


def decided(school: School, results: list[Result] | None = None) -> dict[str, Decision]:
    found = decide(school, gather(school) if results is None else results)
    assert [one.candidate for one in found] == list(school.roster)
    return {one.candidate.id: one for one in found}


def with_marks(result: Result, marks: Mapping[str, float] | float) -> Result:
    """The result as if these marks had been decided for its parts, by name in the paper; or a share of each's."""
    assert result.record
    exercises = []
    for number, exercise in enumerate(result.record.exercises, 1):
        most: dict[str, float] = defaultdict(float)
        for item in exercise.items:
            most[item.item.partition(".")[0]] += item.out_of
        given = {
            part: marks * most[part] if isinstance(marks, float) else marks[f"{number}{part}"]
            for part in most
            if isinstance(marks, float) or f"{number}{part}" in marks
        }
        changes = tuple(Change(p, m, 0, ChangeKind.CORRECTION, "a test", "", "") for p, m in given.items())
        exercises.append(replace(exercise, changes=changes))
    return replace(result, record=replace(result.record, exercises=tuple(exercises)))


def each(results: list[Result], marks: Mapping[str, float]) -> list[Result]:
    """Results as if everybody had these shares of the marks in the sittings of these ids."""
    return [with_marks(r, marks[r.sitting.id]) if r.record and r.sitting.id in marks else r for r in results]


# Worked out again -----------------------------------------------------------------------------------------------------


def test_every_verdict_and_share_is_that_of_the_records_worked_out_again(cohort):
    """In whole thousandths of a mark, from the JSON of the records and the parts of the bank."""
    records = [json.loads(path.read_text("utf-8")) for path in sorted((cohort.records / "marks").glob("*.json"))]
    assert len(records) == 76
    totals: dict[tuple[str, str], np.ndarray] = {}
    outcomes: dict[tuple[str, str], np.ndarray] = defaultdict(lambda: np.zeros(2, dtype=np.int64))
    failed: dict[str, int] = defaultdict(int)
    for record in records:
        total = np.zeros(2, dtype=np.int64)
        for exercise in record["exercises"]:
            for part in BANK[exercise["exercise"]].parts:
                items = [item for item in exercise["items"] if item["item"].split(".")[0] == part.key]
                marks = np.rint([[1000 * item["marks"], 1000 * item["out_of"]] for item in items]).sum(0).astype(int)
                total += marks
                outcomes[record["candidate"], str(part.outcome)] += marks
                if isinstance(part, Choice | Order) and part.must_pass and marks[0] < marks[1]:
                    failed[record["candidate"]] += 1
        totals[record["candidate"], record["sitting"]] = total
    found = decided(cohort)
    verdicts = []
    for candidate in [f"c{number:03d}" for number in range(1, 39)]:
        one = found[candidate]
        (a, of_a), (b, of_b) = totals[candidate, "day1"], totals[candidate, "day4"]
        assert one.percent == pytest.approx(100 * np.average([a / of_a, b / of_b], weights=[1, 2.5]), abs=1e-9)
        # (a / of_a + 2.5 b / of_b) / 3.5 >= 0.7, without a division
        reached = 10 * int(a) * int(of_b) + 25 * int(b) * int(of_a) >= 245 * int(of_a) * int(of_b) / 10
        assert len(one.failed_must_pass) == failed[candidate]
        assert one.verdict is (Verdict.COMPETENT if reached and not failed[candidate] else Verdict.NOT_YET)
        assert (one.missing, one.waits) == ((), ())
        assert len(one.outcomes) == sum(1 for who, _ in outcomes if who == candidate)
        for shown in one.outcomes:
            marks, out_of = outcomes[candidate, shown.outcome]
            assert shown.share == pytest.approx(marks / out_of, abs=1e-12)
            assert shown.shown == (10 * marks >= 6 * out_of)
            assert shown.lesson == next(e.lesson for e in BANK.values() if shown.outcome in map(str, e.outcomes))
        verdicts.append(one.verdict)
    assert 3 <= verdicts.count(Verdict.COMPETENT) <= 35
    assert [found["c039"].verdict, found["c040"].verdict] == [Verdict.ABSENT] * 2
    assert {bool(count) for count in failed.values()} | {False} == {True, False}


def test_a_verdict_always_says_why(cohort):
    for one in decided(cohort).values():
        assert one.why
        match one.verdict:
            case Verdict.COMPETENT:
                assert one.why[0] == f"{floored(one.percent)} % overall, pass mark 70 %"
                assert one.why[1] == "All 3 parts that must be right are"
            case Verdict.NOT_YET:
                assert ("overall, below the pass mark" in one.why[0]) == (one.percent < 70)
                assert ("Must be right" in one.why[-1]) == bool(one.failed_must_pass)
                assert all(part in one.why[-1] for part in one.failed_must_pass)


# On the pass mark, and a hair below -----------------------------------------------------------------------------------


def parts_of(result: Result) -> dict[str, float]:
    assert result.record
    return dict.fromkeys(result.record.part_marks, 0.0)


def one_sitting(school: School) -> tuple[School, list[Result]]:
    only = replace(school, sittings=school.sittings[:1], must_pass=False, own_outcome_percent=None)
    return only, [result for result in gather(school) if result.sitting.id == "day1" and result.record][:1]


def test_marks_that_add_up_to_the_pass_mark_reach_it_whatever_binary_sums_say(able):
    """Marks with one decimal that make exactly the pass mark: sums of binary numbers fall short of it now and then."""
    school, (result, *_) = one_sitting(able)
    names = list(parts_of(result))
    out_of = int(result.record.out_of)
    generator = random.Random(5)
    short = 0
    for _ in range(300):
        tenths = [generator.randrange(10) for _ in names]
        marks = {name: Decimal(tenth) / 10 for name, tenth in zip(names, tenths, strict=True)}
        percent = 100 * sum(marks.values()) / out_of
        if percent != percent.quantize(Decimal("0.0001")):
            continue
        school = replace(school, pass_percent=float(percent))
        sat = with_marks(result, {name: float(value) for name, value in marks.items()})
        short += 100 * sat.record.marks / sat.record.out_of < school.pass_percent
        assert decided(school, [sat])["c001"].verdict is Verdict.COMPETENT
        less = {name: float(value) for name, value in marks.items()}
        some = max(less, key=less.__getitem__)
        less[some] = float(marks[some] - Decimal("0.00001"))
        below = decided(school, [with_marks(result, less)])["c001"]
        assert below.verdict is Verdict.NOT_YET
    assert short, "no sum fell short: the test proves nothing"


@pytest.mark.parametrize(
    ("pass_percent", "share", "verdict", "says"),
    [
        (70.0, 0.7, Verdict.COMPETENT, "70 % overall, pass mark 70 %"),
        (70.0, 0.6999999, Verdict.NOT_YET, "69.9 % overall, below the pass mark of 70 %"),
        (70.0, 0.69999, Verdict.NOT_YET, "69.9 % overall, below the pass mark of 70 %"),
        (69.99999, 0.7, Verdict.COMPETENT, "70 % overall, pass mark 69.99999 %"),
        (70.00001, 0.7, Verdict.NOT_YET, "70 % overall, below the pass mark of 70.00001 %"),
        (100, 1.0, Verdict.COMPETENT, "100 % overall, pass mark 100 %"),
        (0, 0.0, Verdict.COMPETENT, "0 % overall, pass mark 0 %"),
    ],
)
def test_the_pass_mark_is_reached_on_it_and_not_a_hair_below(able, pass_percent, share, verdict, says):
    school, (result, *_) = one_sitting(able)
    school = replace(school, pass_percent=pass_percent)
    found = decided(school, [with_marks(result, share)])["c001"]
    assert (found.verdict, found.why[0]) == (verdict, says)


def test_an_outcome_is_shown_on_its_mark_and_not_a_hair_below(able):
    school, (result, *_) = one_sitting(able)
    for share, percent, shown in [(0.6, 60.0, True), (0.5999999, 60.0, False), (0.6, 60.000001, False)]:
        school = replace(school, own_outcome_percent=percent)
        outcomes = decided(school, [with_marks(result, share)])["c001"].outcomes
        assert {one.shown for one in outcomes} == {shown}
        assert not any(one.waits for one in outcomes)
    assert replace(school, own_outcome_percent=None, pass_percent=44).outcome_percent == 44


@pytest.mark.parametrize(
    ("percent", "text"),
    [(70.0, "70"), (69.96, "69.9"), (69.9, "69.9"), (0.05, "0"), (100.0, "100"), (57.3, "57.3"), (1.1, "1.1")],
)
def test_a_percentage_is_cut_to_one_decimal(percent, text):
    assert floored(percent) == text


def test_a_setting_is_shown_as_it_was_written():
    assert [needed(value) for value in (70.0, 69.99999, 2.5, 100.0, 0.0)] == ["70", "69.99999", "2.5", "100", "0"]


# Weights and the other rules ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("weights", "percent"), [((1, 1), 70), ((1, 2), 60), ((2, 1), 80), ((0.5, 0.25), 80), ((1, 3), 55), ((9, 1), 94)]
)
def test_sittings_count_by_their_weights(able, weights, percent):
    """By hand: everything on the first day, two fifths on the other: (w1 100 + w2 40) / (w1 + w2)."""
    sittings = tuple(replace(s, weight=w) for s, w in zip(able.sittings, weights, strict=True))
    school = replace(able, sittings=sittings, must_pass=False)
    one = decided(school, each(gather(able), {"day1": 1.0, "day4": 0.4}))["c001"]
    assert one.percent == percent
    assert one.verdict is (Verdict.COMPETENT if percent >= 70 else Verdict.NOT_YET)
    assert [mark.percent for mark in one.sittings] == [100, 40]


def test_each_sitting_may_need_a_least_share(able):
    results = each(gather(able), {"day1": 1.0, "day4": 0.49})
    school = replace(able, must_pass=False)
    assert decided(school, results)["c001"].verdict is Verdict.COMPETENT
    one = decided(replace(school, sitting_percent=50), results)["c001"]
    assert one.verdict is Verdict.NOT_YET
    assert one.why == ("The day4: 49 %, below the 50 % that each sitting needs",)


def test_every_outcome_may_be_needed(able):
    (result, *_) = [result for result in gather(able) if result.sitting.id == "day1"]
    first = next(part.outcome for part in BANK[NUMBERS[0]].parts)
    lost = {
        f"{number}{part.key}": 0.0
        for number, exercise in enumerate(NUMBERS, 1)
        for part in BANK[exercise].parts
        if part.outcome == first
    }
    results = [with_marks(r, lost) if r is result else r for r in [result, *gather(able)[1:]]]
    assert decided(able, results)["c001"].verdict is Verdict.COMPETENT
    one = decided(replace(able, every_outcome=True), results)["c001"]
    assert (one.verdict, one.why) == (Verdict.NOT_YET, (f"Not shown yet: {first.removesuffix('.')}",))


@pytest.mark.parametrize(("exercise", "part"), [(1, "a"), (2, "a"), (2, "d")])
def test_a_safety_part_that_is_not_right_stands_against_all_other_marks(able, exercise, part):
    name = f"{exercise}{part}"
    title = BANK[SAFETY[exercise - 1]].title
    results = [
        with_marks(r, {name: float(able_marks(r)[name]) - 0.5}) if r.record and r.sitting.id == "day4" else r
        for r in gather(able)
    ]
    one = decided(able, results)["c001"]
    assert one.percent > 90
    assert one.failed_must_pass == (f"The day4, {name} ({title})",)
    assert (one.verdict, one.why) == (Verdict.NOT_YET, (f"Must be right and is not: The day4, {name} ({title})",))
    let_go = decided(replace(able, must_pass=False), results)["c001"]
    assert (let_go.verdict, let_go.failed_must_pass) == (Verdict.COMPETENT, ())


def able_marks(result: Result) -> dict[str, float | None]:
    assert result.record
    return result.record.part_marks


def test_the_rule_is_told_in_words(able):
    school = replace(able, sitting_percent=50, every_outcome=True, pass_percent=69.99999)
    words = " ".join(rule_in_words(school))
    for said in (
        "69.99999 % overall",
        "50 % in each sitting",
        "every safety part",
        "every outcome",
        "60 % of",
        "latest",
    ):
        assert said in words
    plain = rule_in_words(replace(able, must_pass=False, resit=Resit.BEST, sittings=able.sittings[:1]))
    assert plain[0] == "Competent is who has at least 70 % overall."
    assert "the best one" in " ".join(plain)
    heavy = tuple(replace(sitting, weight=weight) for sitting, weight in zip(able.sittings, (1, 2.5), strict=True))
    assert "1 for The day1, 2.5 for The day4" in " ".join(rule_in_words(replace(able, sittings=heavy)))


# Absent, pending, resits ----------------------------------------------------------------------------------------------


def test_who_is_absent_is_neither_competent_nor_not_and_the_reason_shows(able):
    one = decided(able)["c004"]
    assert (one.verdict, one.percent, one.missing) == (Verdict.ABSENT, None, ("day1", "day4"))
    assert one.why[0] == one.waits[0] == "The day1: absent, no script, and no reason on record"
    school = open_school(able.folder)
    school.__dict__["absences"] = (Absence("c004", "day1", "fog on the coast"),)
    one = decided(school)["c004"]
    assert one.verdict is Verdict.ABSENT
    assert one.why[:2] == (
        "The day1: absent. Reason: fog on the coast",
        "The day4: absent, no script, and no reason on record",
    )
    assert not any(outcome.shown for outcome in one.outcomes)
    assert all(outcome.waits for outcome in one.outcomes)


def test_an_absence_of_one_sitting_leaves_what_the_other_has_shown(able):
    results = [
        replace(r, record=None, status="no script", variants=r.variants)
        if (r.candidate.id, r.sitting.id) == ("c001", "day1")
        else r
        for r in gather(able)
    ]
    one = decided(able, results)["c001"]
    assert (one.verdict, one.missing, one.percent) == (Verdict.ABSENT, ("day1",), None)
    assert (one.least, one.most) == (50, 100)
    assert [mark.percent for mark in one.sittings] == [None, 100]
    day4 = {str(part.outcome) for name in SAFETY for part in BANK[name].parts}
    assert {outcome.outcome for outcome in one.outcomes if outcome.shown} == day4


def test_a_sitting_that_nobody_sat_yet_makes_everybody_wait_and_nobody_absent(able):
    results = [replace(r, record=None, status="no script") if r.sitting.id == "day4" else r for r in gather(able)]
    found = decided(able, results)
    assert found["c001"].verdict is Verdict.PENDING
    assert found["c001"].waits == ("The day4: no script of anybody yet",)
    assert found["c004"].verdict is Verdict.ABSENT
    without = [replace(r, paper=None) if r.sitting.id == "day4" else r for r in results]
    assert decided(able, without)["c001"].waits == ("The day4: no paper was issued",)
    assert decided(able, [r for r in results if r.sitting.id == "day1"])["c001"].verdict is Verdict.PENDING


def test_a_script_that_could_not_be_marked_is_no_absence(able):
    refused = ("not a notebook (scripts/x.ipynb): ask for the file again, or: pitside key-in", "another")
    results = [
        replace(r, record=None, status="not marked", refused=refused) if r.candidate.id == "c001" else r
        for r in gather(able)
    ]
    one = decided(able, results)["c001"]
    assert (one.verdict, one.missing) == (Verdict.PENDING, ())
    assert one.waits[0] == "The day1: not marked: not a notebook (the page of results says more)"


def test_a_paper_whose_mark_scheme_has_changed_waits_and_keeps_its_marks(able):
    results = [replace(r, variants=()) if r.candidate.id == "c001" else r for r in gather(able)]
    one = decided(able, results)["c001"]
    assert (one.verdict, one.percent) == (Verdict.PENDING, 100)
    assert "the mark scheme has changed" in one.waits[0]
    assert [outcome.outcome for outcome in one.outcomes] == [o.outcome for o in decided(able)["c002"].outcomes]
    assert not any(outcome.shown for outcome in one.outcomes)


@pytest.fixture(scope="module")
def written(tmp_path_factory) -> School:
    """A sitting with a part that waits for hand marks, right in all else."""
    text = settings("pass_percent = 70", day5=("fault-diary", "column-pressure"))
    folder = tmp_path_factory.mktemp("written") / "school"
    return marked_cohort(folder, 3, settings=text, twist=lambda number, variants, given: right_answers(variants))


def test_pending_hand_marks_leave_the_verdict_open_and_say_how_far_it_can_go(written):
    one = decided(written)["c001"]
    record = next(r.record for r in gather(written) if r.candidate.id == "c001")
    (part,) = record.pending
    assert (one.verdict, one.percent) == (Verdict.PENDING, None)
    assert one.waits == (f"The day5: part {part} waits for hand marks",)
    most = sum(item.marks.total for item in BANK["fault-diary"].parts[2].items())
    assert one.least == pytest.approx(100 * (record.out_of - most) / record.out_of)
    assert one.most == 100
    assert one.why[1] == f"Between {floored(one.least)} and 100 % overall, by what is still to come"


@pytest.mark.parametrize(("share", "verdict"), [(1.0, Verdict.COMPETENT), (0.0, Verdict.NOT_YET)])
def test_hand_marks_settle_what_was_pending(written, share, verdict):
    results = []
    for result in gather(written):
        (part,) = result.record.pending
        most = sum(item.marks.total for item in BANK["fault-diary"].parts[2].items())
        hand = {part: HandMark(part, share * most, "")}
        results.append(replace(result, record=result.record.with_hand(hand)))
    school = replace(written, pass_percent=95, must_pass=False)
    one = decided(school, results)["c001"]
    assert (one.verdict, one.waits) == (verdict, ())
    assert one.least == one.most == one.percent


def test_who_can_no_longer_reach_the_pass_mark_is_told_so_while_marks_wait(written):
    results = [with_marks(r, {f"2{part.key}": 0.0 for part in BANK["column-pressure"].parts}) for r in gather(written)]
    one = decided(replace(written, pass_percent=90), results)["c001"]
    assert one.verdict is Verdict.PENDING
    assert one.why[1] == f"Cannot reach the pass mark any more: {floored(one.most)} % at most"


def resit(school: School, candidate: str, share: float | None) -> None:
    """Issue attempt 2 of day1 to a candidate, and mark a script with all right answers to a share of the exercises."""
    register = Register(school)
    sitting = school.sitting("day1")
    earlier = register.papers_of("day1", candidate)
    paper = draw_paper(school, sitting, school.candidate(candidate), len(earlier) + 1, earlier)
    register.add([paper])
    if share is not None:
        variants = paper.variants()
        answers = {} if share == 0 else right_answers(variants)
        keep(school, record_of(school, paper, variants, answers))


@pytest.fixture
def small(tmp_path) -> School:
    """One sitting; the first candidate has everything right, the second nothing, the third stayed away."""
    text = settings("pass_percent = 70", day1=NUMBERS)
    return marked_cohort(
        tmp_path / "school",
        3,
        settings=text,
        absent=1,
        twist=lambda number, variants, given: right_answers(variants) if number == 0 else {},
    )


@pytest.mark.parametrize(
    ("policy", "share", "verdicts"),
    a_few([
        (Resit.LATEST, 1.0, (Verdict.COMPETENT, Verdict.COMPETENT, Verdict.COMPETENT)),
        (Resit.BEST, None, (Verdict.COMPETENT, Verdict.NOT_YET, Verdict.ABSENT)),
        (Resit.LATEST, 0.0, (Verdict.NOT_YET, Verdict.NOT_YET, Verdict.NOT_YET)),
        (Resit.BEST, 0.0, (Verdict.COMPETENT, Verdict.NOT_YET, Verdict.NOT_YET)),
        (Resit.BEST, 1.0, (Verdict.COMPETENT, Verdict.COMPETENT, Verdict.COMPETENT)),
        (Resit.LATEST, None, (Verdict.COMPETENT, Verdict.NOT_YET, Verdict.ABSENT)),
    ], 2),
)  # fmt: skip
def test_the_attempt_that_counts_decides(small, policy, share, verdicts):
    for candidate in ("c001", "c002", "c003"):
        resit(small, candidate, share)
    school = replace(small, resit=policy)
    found = decided(school)
    assert tuple(found[candidate].verdict for candidate in ("c001", "c002", "c003")) == verdicts
    if share is None:
        assert found["c001"].why[-1] == "The day1: attempt 2 was issued, no script of it came"
    else:
        counts = 1 if policy is Resit.BEST and share == 0 else 2
        assert found["c001"].sittings[0].attempt == counts


def test_a_resit_that_is_handed_in_and_not_marked_is_waited_for(small):
    resit(small, "c002", None)
    refusal = {"file": "scripts/x.ipynb", "digest": "0", "candidate": "c002", "sitting": "day1", "attempt": 2}
    write_json(small.records / "refused.json", [{**refusal, "reason": "cut off in the middle"}])
    Log(small).write(REFUSED, paper="", file=refusal["file"], digest=refusal["digest"], why="cut off in the middle")
    one = decided(small)["c002"]
    assert one.verdict is Verdict.PENDING
    assert one.waits == ("The day1: attempt 2 is not marked: cut off in the middle (the page of results says more)",)


def test_a_reason_stays_told_when_the_resit_of_who_was_absent_is_marked(small):
    (small.folder / "absences.csv").write_text("candidate,sitting,reason\nc003,day1,fog\nc001,day1,ill\n")
    resit(small, "c003", 1.0)
    found = decided(open_school(small.folder))
    assert found["c003"].verdict is Verdict.COMPETENT
    assert found["c003"].why[-1] == "The day1: absent at first (fog); attempt 2 counts"
    assert found["c001"].verdict is Verdict.COMPETENT
    assert found["c001"].why[-1].endswith("reason for absence is on record (ill), yet there is a script: look again")


def test_nothing_is_decided_about_who_left_the_roster(small):
    lines = (small.folder / "roster.csv").read_text().splitlines()
    (small.folder / "roster.csv").write_text("\n".join(lines[:1] + lines[2:]) + "\n")
    school = open_school(small.folder)
    results = gather(school)
    assert list(decided(school, results)) == ["c002", "c003"]
    assert off_roster(results) == ("c001",)
    assert "c001" in write_decisions(school, decide(school, results), off_roster(results)).read_text()


# absences.csv and the settings ----------------------------------------------------------------------------------------

GOOD = "candidate,sitting,reason\nC003,DAY1,fog\n"
BAD = {
    "no reason": ("candidate,sitting\nc003,day1\n", "no column 'reason'; the first line is candidate,sitting,reason"),
    "nothing": ("", "no column 'candidate'; the first line is candidate,sitting,reason"),
    "twice": ("candidate,sitting,reason,reason\n", "more than one column 'reason'; the first line is"),
    "nobody": (GOOD + "zz,day1,ill\n", "line 3: no candidate 'zz' in roster.csv; write an id from there"),
    "never": (GOOD + "c001,day9,ill\n", "line 3: no sitting 'day9'; there are: day1"),
    "why": (GOOD + "c001,day1,\n", "line 3: no reason why c001 did not sit day1; write one or delete the line"),
    "again": (GOOD + "c003,day1,ill\n", "line 3: c003 and day1 stand in line 2 already; delete one of them"),
    "comma": ("candidate,sitting,reason\nc003,day1,fog, ice\n", "line 2: more cells than the first line has; put"),
    "long": ("candidate,sitting,reason\nc003,day1," + "x" * 201 + "\n", "line 2: the reason is longer than 200"),
    "workbook": (b"PK\x03\x04 and so on", "a damaged workbook; save the sheet as CSV UTF-8"),
}  # fmt: skip


@pytest.mark.parametrize("kind", a_few(BAD, 3))
def test_a_bad_absence_is_one_line_that_says_what_to_mend_and_nothing_is_written(small, kind):
    data, says = BAD[kind]
    (small.folder / "absences.csv").write_bytes(data if isinstance(data, bytes) else data.encode())
    done = CliRunner().invoke(commands, ["decide", str(small.folder)])
    assert isinstance(done.exception, GraderError), done.output
    line = str(done.exception)
    assert line.startswith(f"{small.folder / 'absences.csv'}: ")
    assert says in line
    assert "\n" not in line
    assert not list(small.records.glob("decisions*"))


def test_absences_are_read_as_a_spreadsheet_saves_them(small):
    semicolons = GOOD.replace(",", ";").replace("fog", '"ill; at home"')
    for data in (GOOD, b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode(), semicolons):
        (small.folder / "absences.csv").write_bytes(data if isinstance(data, bytes) else data.encode())
        (absence,) = open_school(small.folder).absences
        assert (absence.candidate, absence.sitting) == ("c003", "day1")
    (small.folder / "absences.csv").unlink()
    assert open_school(small.folder).absences == ()


def test_settings_of_before_still_open_and_new_ones_show_in_a_new_school(tmp_path, small):
    assert (small.outcome_percent, small.sitting_percent, small.every_outcome, small.must_pass) == (70, 0, False, True)
    assert [sitting.weight for sitting in small.sittings] == [1]
    new_school(tmp_path / "new", "New school", small.starts)
    text = (tmp_path / "new" / "school.toml").read_text("utf-8")
    for name in ("outcome_percent", "every_outcome", "sitting_percent", "must_pass", "weight"):
        assert sum(line.startswith(f"{name} = ") for line in text.splitlines()) == 1
    school = open_school(tmp_path / "new")
    assert (school.pass_percent, school.outcome_percent, school.sitting_percent) == (70, 60, 60)
    assert (school.every_outcome, school.must_pass, school.sittings[0].weight) == (True, True, 1)


def test_new_schools_let_nobody_pass_without_a_mark_in_an_outcome(tmp_path, small):
    for days in (None, 1, 3, 5):
        new_school(tmp_path / f"days{days}", "New school", small.starts, days)
        assert let_through(open_school(tmp_path / f"days{days}")) == ()


def test_outcome_that_the_rule_lets_through_is_named_where_it_does(small):
    marks = {name: BANK[name].marks for name in NUMBERS}
    school = replace(small, sittings=(replace(small.sittings[0], exercises=NUMBERS),))
    solids = str(BANK["solids-fresh"].parts[0].outcome)
    assert {str(part.outcome) for part in BANK["solids-fresh"].parts} == {solids}
    without = 100 * (1 - marks["solids-fresh"] / sum(marks.values()))
    just, above = replace(school, pass_percent=without - 0.01), replace(school, pass_percent=without + 0.01)
    assert solids in let_through(just) and solids not in let_through(above)
    assert let_through(replace(just, every_outcome=True)) == ()
    assert let_through(replace(just, every_outcome=True, own_outcome_percent=0)) == let_through(just)


def test_outcome_of_a_part_that_must_be_right_is_let_through_by_no_rule_but_one_without_such_parts(small):
    school = replace(small, sittings=(replace(small.sittings[0], exercises=SAFETY),), pass_percent=0)
    safe = {str(p.outcome) for e in SAFETY for p in BANK[e].parts if isinstance(p, Choice | Order) and p.must_pass}
    assert safe and not safe & set(let_through(school))
    assert safe <= set(let_through(replace(school, must_pass=False)))


def test_decide_warns_of_such_a_rule_and_of_whom_it_lets_pass(tmp_path):
    school = marked_cohort(
        tmp_path / "school",
        candidates=2,
        exercises=NUMBERS,
        settings=settings("pass_percent = 50", day1=NUMBERS),
        twist=lambda number, variants, answers: {
            name: typed for name, typed in right_answers(variants).items() if number or not name.startswith("3")
        },
    )
    solids = str(BANK["solids-fresh"].parts[0].outcome)
    said = CliRunner().invoke(commands, ["decide", str(school.folder)]).output
    assert "LOOK AT THIS" in said and "school.toml: by its rule a candidate can be competent without a mark" in said
    assert f"c001 is, with nothing in: {solids}" in said and "c002 is" not in said
    page = " ".join(well_formed((school.records / "decisions.html").read_text(encoding="utf-8")).text.split())
    assert "without a single mark in" in page and f"c001 is, with nothing in: {solids}" in page

    toml = school.folder / "school.toml"
    toml.write_text(toml.read_text().replace("[marking]\n", "[marking]\nevery_outcome = true\n"))
    assert "LOOK AT THIS" not in CliRunner().invoke(commands, ["decide", str(school.folder)]).output
    assert "without a single mark" not in (school.records / "decisions.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("outcome_percent = 101", "[marking] needs outcome_percent, a number from 0 to 100"),
        ("outcome_percent = nan", "[marking] needs outcome_percent, a number from 0 to 100"),
        ('sitting_percent = "50"', "[marking] needs sitting_percent, a number from 0 to 100"),
        ("must_pass = 1", "[marking] must_pass = 1: write true or false (without quotes)"),
        ('every_outcome = "yes"', "[marking] every_outcome = 'yes': write true or false (without quotes)"),
        ("weight = 0", "sitting day1: weight = 0: write a number above 0, up to 1000"),
        ("weight = -1", "sitting day1: weight = -1: write a number above 0, up to 1000"),
        ("weight = inf", "sitting day1: weight = inf: write a number above 0, up to 1000"),
        ("weight = nan", "sitting day1: weight = nan: write a number above 0, up to 1000"),
        ("weight = true", "sitting day1: weight = True: write a number above 0, up to 1000"),
        ('weight = "2"', "sitting day1: weight = '2': write a number above 0, up to 1000"),
    ],
)
def test_a_bad_setting_is_one_line_that_says_what_to_write(small, line, says):
    path = small.folder / "school.toml"
    place = 'title = "The day1"' if line.startswith("weight") else "pass_percent = 70"
    path.write_text(path.read_text().replace(place, f"{place}\n{line}"))
    with pytest.raises(GraderError) as caught:
        open_school(small.folder)
    assert str(caught.value) == f"{path}: {says}"


def test_settings_are_read_as_written(small):
    path = small.folder / "school.toml"
    more = "outcome_percent = 55.5\nsitting_percent = 50\nevery_outcome = true\nmust_pass = false"
    path.write_text(path.read_text().replace("pass_percent = 70", f"pass_percent = 70\n{more}") + "weight = 2.5\n")
    school = open_school(small.folder)
    assert (school.outcome_percent, school.sitting_percent, school.every_outcome, school.must_pass) == (
        55.5, 50, True, False,
    )  # fmt: skip
    assert school.sittings[0].weight == 2.5


# Arrangements ---------------------------------------------------------------------------------------------------------

SECRET = "extra time 25 %; reader; 大字"


@pytest.fixture
def arranged(small) -> School:
    lines = (small.folder / "roster.csv").read_text().splitlines()
    lines = [f"{lines[0]},Arrangements", f"{lines[1]},{SECRET}", *lines[2:]]
    (small.folder / "roster.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return open_school(small.folder)


def test_arrangements_are_told_on_the_decisions_and_on_no_other_page(arranged):
    results = gather(arranged)
    write_results(arranged, results)
    write_feedback(arranged, results, quiet)
    found = decide(arranged, results)
    page = write_decisions(arranged, found)
    assert [one.arrangements for one in found] == [("extra time 25 %", "reader", "大字"), (), ()]
    told = {path.name for path in arranged.folder.rglob("*") if path.is_file() and "大字".encode() in path.read_bytes()}
    assert told == {"roster.csv", "decisions.csv", "decisions.html"}
    (cell,) = [td for td in well_formed(page.read_text("utf-8")).find_all("td") if "大字" in td.text]
    assert [div.text for div in cell.find_all("div")] == ["extra time 25 %", "reader", "大字"]


def test_an_arrangement_that_is_spelled_wrong_is_asked_about(small):
    lines = (small.folder / "roster.csv").read_text().splitlines()
    (small.folder / "roster.csv").write_text("\n".join([f"{lines[0]},arrangement", *lines[1:]]) + "\n")
    with pytest.raises(GraderError, match=r"column 'arrangement': write 'arrangements' if it is that, else another"):
        open_school(small.folder)


# The page and the table -----------------------------------------------------------------------------------------------


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_the_command_writes_the_page_and_the_table_and_says_who_waits(cohort):
    done = CliRunner().invoke(commands, ["decide", str(cohort.folder)])
    assert done.exit_code == 0, done.output
    found = decided(cohort)
    rows = rows_of(cohort.records / "decisions.csv")
    assert [row["id"] for row in rows] == list(found)
    assert "name" not in rows[0]
    for row in rows:
        one = found[row["id"]]
        assert row["verdict"] == one.verdict
        assert row["why"].replace("'", "") == " | ".join(one.why).replace("'", "")
        assert row["percent"] == ("" if one.percent is None else floored(one.percent))
        assert int(row["outcomes shown"]) == sum(outcome.shown for outcome in one.outcomes)
        for outcome in one.outcomes:
            assert 0 <= 100 * outcome.share - float(row[f"share: {outcome.outcome}"]) < 0.1 + 1e-9
    for verdict in Verdict:
        assert f"{sum(one.verdict is verdict for one in found.values())} {verdict}\n" in done.output
    assert "  c039: The day1: absent, no script" in done.output
    page = well_formed((cohort.records / "decisions.html").read_text("utf-8"))
    assert "Candidate No." not in page.text
    heads = [head.text.strip() for head in page.find_all("th", scope="row") if head.text.strip() in found]
    assert heads == list(found)
    for row in page.find_all("th", class_="who", scope="row"):
        assert row.find_next("td").text == found[row.text.strip()].verdict
    ids = [head.text for head in page.select("table.matrix th.id")]
    assert ids == list(found)
    assert len(page.select("table.matrix")) == 2


def test_the_matrix_shows_each_share_cut_and_marks_what_is_not_shown(cohort):
    found = decided(cohort)
    write_decisions(cohort, list(found.values()))
    page = well_formed((cohort.records / "decisions.html").read_text("utf-8"))
    seen = 0
    for matrix in page.select("table.matrix"):
        ids = [head.text for head in matrix.select("th.id")]
        for row in matrix.select("tbody tr:has(th.outcome)"):
            *cells, count = row.find_all("td")
            shares = [next(o for o in found[i].outcomes if o.outcome == row.th.text) for i in ids]
            for cell, outcome in zip(cells, shares, strict=True):
                sign = "" if outcome.shown else "…" if outcome.waits else "✗"
                assert cell.text == f"{int(100 * outcome.share + 1e-9)}{sign}"
                seen += 1
            assert count.text == f"{sum(o.shown for o in shares)} of {len(ids)}"
    assert seen == len(found) * len(found["c001"].outcomes)


def test_names_stand_there_only_when_they_are_asked_for(small):
    for names in (False, True):
        done = CliRunner().invoke(commands, ["decide", str(small.folder), *(["--names"] if names else [])])
        assert done.exit_code == 0, done.output
        for name in ("decisions.csv", "decisions.html"):
            assert ("Candidate No. 1" in (small.records / name).read_text("utf-8-sig")) == names
        assert "Candidate No." not in done.output


def test_names_and_reasons_in_any_script_act_nowhere(small):
    head = "id,name,employer,crew,units,arrangements\n"
    lines = 'c001,<script>alert(1)</script>,,,,"=1+1; <b>x</b>"\nc002,هالة المنصوري,,,,\nc003,+1,,,,@x\n'
    (small.folder / "roster.csv").write_text(head + lines, encoding="utf-8")
    (small.folder / "absences.csv").write_text("candidate,sitting,reason\nc003,day1,=<i>fog</i>\n")
    school = open_school(small.folder)
    text = write_decisions(school, decide(school, gather(school)), names=True).read_text("utf-8")
    assert "<script" not in text
    assert "<b>" not in text
    assert "<i>" not in text
    page = well_formed(text)
    assert "هالة المنصوري" in [name.text for name in page.find_all("bdi")]
    for _, row in read_csv(small.records / "decisions.csv"):
        assert not any(cell.startswith(("=", "+", "@", "-")) for cell in row)


def test_decisions_are_the_same_files_each_time(small):
    files = []
    for _ in range(2):
        school = open_school(small.folder)
        write_decisions(school, decide(school, gather(school)))
        files.append([(school.records / name).read_bytes() for name in ("decisions.csv", "decisions.html")])
    assert files[0] == files[1]


def test_an_empty_roster_is_one_clear_line(small):
    (small.folder / "roster.csv").write_text("id,name\n")
    done = CliRunner().invoke(commands, ["decide", str(small.folder)])
    assert isinstance(done.exception, GraderError)
    assert "nobody to decide about" in str(done.exception)


def test_nothing_marked_yet_is_all_pending(tmp_path):
    school = marked_cohort(tmp_path / "school", 2, absent=2)
    assert [one.verdict for one in decide(school, gather(school))] == [Verdict.PENDING] * 2


@pytest.mark.slow
@WINDOWS
def test_the_page_is_without_barriers_wide_and_narrow(cohort, visitor, width, colours):
    write_decisions(cohort, list(decided(cohort).values()))
    page = visitor(cohort.records, width, color_scheme=colours).open("decisions.html")
    found = Axe().run(page)
    serious = [fault for fault in found.response["violations"] if fault["impact"] in ("serious", "critical")]
    assert serious == []
    assert len(found.response["passes"]) > 10
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_twenty_four_abreast_fit_a_sheet_and_the_signatures_are_printed(cohort, browser, tmp_path):
    from pypdf import PdfReader

    found = list(decided(cohort).values())[:24]
    path = write_decisions(cohort, found)
    context = browser.new_context(viewport={"width": 1032, "height": 703})  # A4 across without its margins, in CSS
    page = context.new_page()
    page.emulate_media(media="print")
    page.goto(path.as_uri())
    assert page.evaluate("Math.max(...[...document.querySelectorAll('table')].map(t => t.offsetWidth))") <= 1032
    page.pdf(path=tmp_path / "decisions.pdf", prefer_css_page_size=True)
    context.close()
    text = "".join(sheet.extract_text() for sheet in PdfReader(tmp_path / "decisions.pdf").pages)
    flat = "".join(text.split())
    for said in ("Secondassessor", "Signature", "Competentiswhohas", "c024"):
        assert said in flat
