"""A sample for second marking: how it is drawn, that it is blind, how far two markers agree, and what is changed."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest
from bs4 import BeautifulSoup
from click.testing import CliRunner

from grader.certificates.verify import verify_school
from grader.cli import commands
from grader.demo.simulation import Typed
from grader.marking.changes import change_mark, most_marks
from grader.marking.records import read_record
from grader.reports.moderation import (
    MARK_COLUMNS,
    agreements,
    pairs,
    sample_of,
    settle,
    take_marks,
    weighted_kappa,
    write_agreement,
    write_look,
    write_sheet,
)
from grader.reports.results import gather
from grader.store.errors import GraderError
from grader.store.log import Log
from grader.store.part_marks import ChangeKind, HandMark
from grader.store.school import open_school
from tests.grader.cohorts import keep, marked_cohort
from tests.grader.schools import paper_of, right_answers

WORDS = ("fault-diary", "explain-to-the-crew")
#: The written parts of a paper of these two.
PARTS = ("1c", "2c")


def _twist(number, variants, answers):
    for part in PARTS:
        answers[part] = Typed(f"What I saw, said by hand {number}: <b>shut it down</b>\nثم اتصلت بالمشرف", "")
    return answers


@pytest.fixture
def school(tmp_path):
    """Thirty candidates with hand marks on their two written parts."""
    school = marked_cohort(tmp_path / "school", 30, exercises=WORDS, twist=_twist)
    generator = np.random.default_rng(4)
    for result in gather(school):
        hand = {part: HandMark(part, float(generator.integers(0, 5)), "") for part in PARTS}
        keep(school, result.record.with_hand(hand))
    return school


def filled(table, marks):
    """The table with these marks: a function of sample and part."""
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8-sig"))))
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0], lineterminator="\n")
    writer.writeheader()
    writer.writerows(row | marks(row) for row in rows)
    return out.getvalue()


def second_marks(school, tmp_path, marks):
    sitting, results = school.sittings[0], gather(school)
    sample = sample_of(school, sitting, results)
    _, table = write_sheet(school, sitting, sample, results)
    file = tmp_path / "second.csv"
    file.write_text(filled(table, marks), encoding="utf-8")
    return take_marks(school, sitting, file, results)


# Kappa ----------------------------------------------------------------------------------------------------------------


def by_table(first, second):
    """Weighted kappa on the table of counts, the definition of Cohen 1968 (from memory), with quadratic weights."""
    marks = sorted({*first, *second})
    counts = np.zeros((len(marks), len(marks)))
    for one, other in zip(first, second, strict=True):
        counts[marks.index(one), marks.index(other)] += 1
    shares = counts / counts.sum()
    weights = np.subtract.outer(marks, marks) ** 2
    expected = np.outer(shares.sum(1), shares.sum(0))
    return 1 - (weights * shares).sum() / (weights * expected).sum()


@pytest.mark.parametrize("seed", range(20))
def test_kappa_is_that_of_the_table_of_counts(seed):
    generator = np.random.default_rng(seed)
    first = generator.integers(0, 6, 25)
    second = np.clip(first + generator.integers(-2, 3, 25), 0, 6)
    assert weighted_kappa(first, second) == pytest.approx(by_table(list(first), list(second)), rel=1e-12)


def test_kappa_is_lin_s_concordance_of_the_whole_group():
    """Quadratic kappa equals the concordance coefficient of L. Lin, Biometrics 45 (1989) 255-268 (from memory)."""
    generator = np.random.default_rng(3)
    first = generator.normal(5, 2, 200)
    second = 0.8 * first + generator.normal(1, 1, 200)
    covariance = np.cov(first, second, bias=True)
    concordance = 2 * covariance[0, 1] / (covariance[0, 0] + covariance[1, 1] + (first.mean() - second.mean()) ** 2)
    assert weighted_kappa(first, second) == pytest.approx(concordance, rel=1e-9)


@pytest.mark.parametrize(("first", "second"), [([], []), ([3], [3]), ([2, 2, 2], [2, 2, 2])])
def test_kappa_says_nothing_where_there_is_nothing_to_tell_apart(first, second):
    assert weighted_kappa(first, second) is None


def test_chance_is_nought_and_the_opposite_below():
    assert weighted_kappa([0, 0, 4, 4], [0, 4, 0, 4]) == pytest.approx(0)
    assert weighted_kappa([0, 4], [4, 0]) == pytest.approx(-1)


# The sample -----------------------------------------------------------------------------------------------------------


def test_sample_holds_the_borderline_the_best_the_weakest_and_some_at_random(school):
    sitting, results = school.sittings[0], gather(school)
    sample = sample_of(school, sitting, results, size=9, seed=5)
    percent = {result.record.paper: result.percent for result in results}
    why = {drawn.paper: drawn.why for drawn in sample.drawn}
    assert len(why) == 9
    near = sorted(percent, key=lambda paper: abs(percent[paper] - school.pass_percent))[:3]
    assert {paper for paper, reason in why.items() if reason == "near the pass mark"} == set(near)
    left = [percent[paper] for paper in percent if paper not in near]
    best = sorted((percent[paper] for paper, reason in why.items() if reason == "among the best"), reverse=True)
    weakest = sorted(percent[paper] for paper, reason in why.items() if reason == "among the weakest")
    assert best == sorted(left, reverse=True)[:2]
    assert weakest == sorted(left)[:2]
    assert sum(reason == "at random" for reason in why.values()) == 2
    assert [drawn.sample for drawn in sample.drawn] == [f"S{n:02d}" for n in range(1, 10)]
    assert [drawn.paper for drawn in sample.drawn] != sorted(why)


def test_sample_is_kept_and_another_seed_gives_another(school):
    sitting, results = school.sittings[0], gather(school)
    first = sample_of(school, sitting, results, seed=5)
    assert sample_of(school, sitting, results) == first
    with pytest.raises(GraderError, match="a sample of 6 with seed 5 was drawn already"):
        sample_of(school, sitting, results, seed=6)
    (school.records / "moderation_day1.json").unlink()
    other = sample_of(school, sitting, results, seed=6)
    assert {drawn.paper for drawn in other.drawn} != {drawn.paper for drawn in first.drawn}


def test_sample_of_few_scripts_is_all_of_them(tmp_path):
    school = marked_cohort(tmp_path / "school", 4, exercises=WORDS, twist=_twist)
    results = gather(school)
    assert len(sample_of(school, school.sittings[0], results).drawn) == 4
    (school.records / "moderation_day1.json").unlink()
    with pytest.raises(GraderError, match="a sample of 5 is more than its 4 marked scripts"):
        sample_of(school, school.sittings[0], results, size=5)


# Blind ----------------------------------------------------------------------------------------------------------------


def test_sheet_tells_neither_who_wrote_nor_what_they_were_given(school):
    sitting, results = school.sittings[0], gather(school)
    for result in results:
        hand = {part: HandMark(part, 3.0, "The first marker's own words") for part in PARTS}
        keep(school, result.record.with_hand(hand))
    results = gather(school)
    sample = sample_of(school, sitting, results)
    page, table = write_sheet(school, sitting, sample, results)
    both = page.read_text(encoding="utf-8") + table.read_text(encoding="utf-8")
    for result in results:
        assert result.candidate.id not in both
        assert result.candidate.name not in both
        assert result.record.paper not in both
    assert "The first marker's own words" not in both
    assert "near the pass mark" not in both
    read = BeautifulSoup(page.read_text(encoding="utf-8"), "html.parser")
    texts = [box.get_text() for box in read.select(".text")]
    assert len(texts) == 2 * len(sample.drawn)
    assert all("<b>shut it down</b>\nثم اتصلت بالمشرف" in text for text in texts)
    assert not read.select(".text b")
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8-sig"))))
    assert tuple(rows[0]) == MARK_COLUMNS
    assert {row["marks"] for row in rows} == {""}


def test_filled_table_is_not_written_over(school):
    sitting, results = school.sittings[0], gather(school)
    sample = sample_of(school, sitting, results)
    _, table = write_sheet(school, sitting, sample, results)
    table.write_text(filled(table, lambda row: {"marks": "2"}), encoding="utf-8")
    before = table.read_bytes()
    write_sheet(school, sitting, sample, results)
    assert table.read_bytes() == before


def test_table_of_another_sample_is_neither_taken_nor_written_over(school, tmp_path):
    """The same numbers are other scripts in another sample."""
    sitting, results = school.sittings[0], gather(school)
    _, table = write_sheet(school, sitting, sample_of(school, sitting, results, seed=5), results)
    old = tmp_path / "old.csv"
    old.write_text(filled(table, lambda row: {"marks": "2"}), encoding="utf-8")
    (school.records / "moderation_day1.json").unlink()
    other = sample_of(school, sitting, results, seed=6)
    with pytest.raises(GraderError, match="not the table of this sample"):
        write_sheet(school, sitting, other, results)
    with pytest.raises(GraderError, match="line 2: belongs to another sample"):
        take_marks(school, sitting, old, results)
    assert sample_of(school, sitting, results).second == ()


def test_script_that_is_not_marked_any_more_is_named(school):
    sitting, results = school.sittings[0], gather(school)
    sample = sample_of(school, sitting, results)
    gone = sample.drawn[2].paper
    (school.records / "marks" / f"{gone}.json").unlink()
    for reads in (write_sheet, write_look):
        with pytest.raises(GraderError, match=f"paper {gone} .S03. is not marked any more"):
            reads(school, sitting, sample, gather(school))


def test_look_shows_what_was_given_and_why_it_has_its_marks(school):
    sitting, results = school.sittings[0], gather(school)
    sample = sample_of(school, sitting, results)
    read = BeautifulSoup(write_look(school, sitting, sample, results).read_text("utf-8"), "html.parser")
    shown = [[cell.get_text() for cell in row.select("td")] for row in read.select("table")[0].select("tbody tr")]
    record = read_record(school, sample.drawn[0].paper)
    wanted = [
        [
            f"{n}{i.item}",
            i.given or "–",
            i.model,
            f"{i.marks:g} of {i.out_of:g}",
            ": ".join(filter(None, (i.rule, i.slip))),
        ]
        for n, exercise in enumerate(record.exercises, 1)
        for i in exercise.items
        if f"{n}{i.item}" not in PARTS
    ]
    assert len(wanted) >= 2
    assert shown == wanted


@pytest.mark.parametrize("honest", [True, False], ids=["full marks", "marks only for answers on the way"])
def test_look_at_a_paper_with_answers_on_the_way_asks_about_a_part_that_lost_marks(tmp_path, honest):
    """Answers on the way are out of no marks of their own, whatever they earn."""

    def twist(number, variants, answers):
        right = dict(right_answers(variants))
        on_the_way = {name for name in right if "." in name}
        assert on_the_way
        return right if honest or number else {name: right[name] for name in on_the_way}

    school = marked_cohort(tmp_path / "school", 3, exercises=("shaker-load",), twist=twist)
    done = CliRunner().invoke(commands, ["moderate", str(school.folder), "--sitting", "day1"])
    assert done.exit_code == 0, done.exception
    page = BeautifulSoup((school.records / "moderation_day1_look.html").read_text("utf-8"), "html.parser").get_text()
    record = read_record(school, paper_of(school, "c001").id)
    share = {part: (marks or 0) / most_marks(record)[part] for part, marks in record.part_marks.items()}
    assert f"pitside explain {school.folder.name} {record.paper} {min(share, key=share.get)}" in page


# Both marks -----------------------------------------------------------------------------------------------------------


def test_agreement_is_worked_out_from_both_marks(school, tmp_path):
    given = {"1c": "2,5", "2c": "1"}
    sample = second_marks(school, tmp_path, lambda row: {"marks": given[row["part"]], "marker": "KB"})
    both = pairs(sample, gather(school))
    first = {part: [read_record(school, drawn.paper).hand[part].marks for drawn in sample.drawn] for part in PARTS}
    found = {one.part: one for one in agreements(both)}
    assert set(found) == {*PARTS, ""}
    for part, again in (("1c", 2.5), ("2c", 1.0)):
        assert found[part].difference == pytest.approx(np.mean([again - mark for mark in first[part]]))
        assert found[part].exact == pytest.approx(np.mean([mark == again for mark in first[part]]))
        assert found[part].within_one == pytest.approx(np.mean([abs(mark - again) <= 1 for mark in first[part]]))
        assert found[part].kappa == pytest.approx(by_table(first[part], [again] * 6), abs=1e-12)
    page, _ = write_agreement(school, school.sittings[0], sample, gather(school))
    cells = [cell.get_text() for cell in BeautifulSoup(page.read_text("utf-8"), "html.parser").select("td")]
    assert "2.5" in cells and "KB" in cells


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"marks": "6"}, "line 2: 6 is not from 0 to"),
        ({"marks": "-1"}, "line 2: -1 is not from 0 to"),
        ({"marks": "nan"}, "line 2: nan is not from 0 to"),
        ({"marks": "good"}, "line 2: 'good' is no number of marks"),
        ({"marks": "1", "part": "9z"}, "line 2: no part '9z'"),
        ({"marks": "1", "sample": "S99"}, "line 2: no part '1c' of a script 'S99'"),
        ({"marks": "1", "sample": "S01", "part": "2c"}, "S01, part 2c stands in the table twice"),
    ],
)
def test_bad_table_takes_nothing_and_says_where(school, tmp_path, change, says):
    def marks(row):
        return change if (row["sample"], row["part"]) == ("S01", "1c") else {"marks": "2"}

    with pytest.raises(GraderError, match=says):
        second_marks(school, tmp_path, marks)
    assert sample_of(school, school.sittings[0], gather(school)).second == ()


def test_table_without_its_columns_is_named(school, tmp_path):
    sample_of(school, school.sittings[0], gather(school))
    file = tmp_path / "other.csv"
    file.write_text("a,b\n1,2\n")
    with pytest.raises(GraderError, match="no column 'draw'"):
        take_marks(school, school.sittings[0], file, gather(school))


# Decisions ------------------------------------------------------------------------------------------------------------


def decided(school, tmp_path, how):
    sitting = school.sittings[0]
    sample = second_marks(school, tmp_path, lambda row: {"marks": "4", "marker": "KB"})
    _, table = write_agreement(school, sitting, sample, gather(school))
    file = tmp_path / "decide.csv"
    file.write_text(filled(table, how), encoding="utf-8")
    return sample, settle(school, sitting, file, gather(school))


def test_decision_changes_the_mark_and_keeps_both(school, tmp_path):
    def how(row):
        chosen = (row["sample"], row["part"]) == ("S02", "1c")
        return {"decided": "3.5", "reason": "names the valve"} if chosen else {}

    before = {result.record.paper: result.record for result in gather(school)}
    sample, [changed] = decided(school, tmp_path, how)
    paper = sample.drawn[1].paper
    assert changed.paper == paper
    after = {result.record.paper: result.record for result in gather(school)}
    assert after[paper].part_marks["1c"] == 3.5
    assert after[paper].hand["1c"].marks == before[paper].hand["1c"].marks
    [(part, change)] = after[paper].changes
    assert (part, change.before, change.kind) == ("1c", before[paper].part_marks["1c"], ChangeKind.MODERATION)
    assert change.why == "names the valve"
    assert {name: one.part_marks for name, one in after.items() if name != paper} == {
        name: one.part_marks for name, one in before.items() if name != paper
    }
    # The report still tells what the first marker gave.
    [pair] = [pair for pair in pairs(sample, gather(school)) if (pair.drawn.paper, pair.part) == (paper, "1c")]
    assert (pair.first, pair.second.marks) == (before[paper].part_marks["1c"], 4)


def test_decision_without_a_reason_changes_nothing(school, tmp_path):
    before = {result.record.paper: result.record.part_marks for result in gather(school)}
    with pytest.raises(GraderError, match="say why in the column reason"):
        decided(school, tmp_path, lambda row: {"decided": "1", "reason": "" if row["part"] == "2c" else "agreed"})
    assert {result.record.paper: result.record.part_marks for result in gather(school)} == before


def test_decisions_outlast_more_second_marks(school, tmp_path):
    sitting = school.sittings[0]
    sample = second_marks(school, tmp_path, lambda row: {"marks": "4"} if row["part"] == "1c" else {})
    _, table = write_agreement(school, sitting, sample, gather(school))
    table.write_text(filled(table, lambda row: {"decided": "3", "reason": "=names it"}), encoding="utf-8")
    sample = second_marks(school, tmp_path, lambda row: {"marks": "2"} if row["part"] == "2c" else {})
    write_agreement(school, sitting, sample, gather(school))
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8-sig"))))
    assert {(row["part"], row["second"], row["decided"], row["reason"]) for row in rows} == {
        ("1c", "4.0", "3", "'=names it"),
        ("2c", "2.0", "", ""),
    }


def test_first_mark_is_that_before_moderation_also_after_an_appeal(school):
    sitting, results = school.sittings[0], gather(school)
    sample = sample_of(school, sitting, results)
    paper = sample.drawn[0].paper
    change_mark(school, paper, "1c", 0.5, ChangeKind.APPEAL, "an appeal")
    change_mark(school, paper, "1c", 2.0, ChangeKind.MODERATION, "second marker")
    change_mark(school, paper, "1c", 3.0, ChangeKind.MODERATION, "third marker")
    [pair] = [pair for pair in pairs(sample, gather(school)) if (pair.drawn.paper, pair.part) == (paper, "1c")]
    assert pair.first == 0.5


# The command ----------------------------------------------------------------------------------------------------------


def test_command_draws_takes_and_decides(school, tmp_path):
    def run(*words):
        done = CliRunner().invoke(commands, ["moderate", str(school.folder), "--sitting", "day1", *map(str, words)])
        return done.exit_code, done.output

    code, said = run()
    assert code == 0
    assert said.count("S0") == 6
    table = school.records / "moderation_day1_marks.csv"
    table.write_text(filled(table, lambda row: {"marks": "4", "marker": "KB"}), encoding="utf-8")
    code, said = run("--take", table)
    assert (code, "12 second marks are in" in said) == (0, True)
    decisions = school.records / "moderation_day1_decide.csv"
    first = {"decided": "4", "reason": "as the second marker"}
    decisions.write_text(filled(decisions, lambda row: first if row["sample"] == "S01" else {}), encoding="utf-8")
    code, said = run("--decide", decisions)
    assert (code, "2 decisions are on record" in said) == (0, True)


def test_sitting_without_words_has_nothing_to_mark_twice(tmp_path):
    school = marked_cohort(tmp_path / "school", 8)
    done = CliRunner().invoke(commands, ["moderate", str(school.folder), "--sitting", "day1"])
    assert "No part of this sitting is in words" in done.output
    assert not (school.records / "moderation_day1_marks.csv").exists()


# Held against the log -------------------------------------------------------------------------------------------------


def _sample_file(school):
    return school.records / "moderation_day1.json"


def _edited(school, edit):
    data = json.loads(_sample_file(school).read_text(encoding="utf-8"))
    edit(data)
    _sample_file(school).write_text(json.dumps(data), encoding="utf-8")


def test_forged_second_marks_are_refused_and_the_markers_table_puts_them_right(school, tmp_path):
    taken = second_marks(school, tmp_path, lambda row: {"marks": "4", "marker": "M"})
    _edited(school, lambda data: data["second"][0].update(marks=0.0))
    (fault,) = verify_school(school).faults
    assert fault.startswith(f"{_sample_file(school)}: not the second marks that line ")
    with pytest.raises(GraderError) as caught:
        sample_of(school, school.sittings[0], gather(school))
    assert str(caught.value) == fault and f"--take {school.records / 'moderation_day1_marks.csv'}" in fault
    assert take_marks(school, school.sittings[0], tmp_path / "second.csv", gather(school)) == taken
    assert verify_school(school).faults == ()


def test_forged_sample_is_refused_and_can_only_be_moved_away(school, tmp_path):
    before = second_marks(school, tmp_path, lambda row: {"marks": "4"})
    _edited(school, lambda data: data["drawn"][0].update(paper=data["drawn"][1]["paper"]))
    for use in (lambda: sample_of(school, school.sittings[0], gather(school)),
                lambda: take_marks(school, school.sittings[0], tmp_path / "second.csv", gather(school))):  # fmt: skip
        with pytest.raises(GraderError, match="not the sample that line"):
            use()
    _sample_file(school).unlink()
    assert sample_of(school, school.sittings[0], gather(school)) == replace(before, second=())


def test_sample_that_no_line_of_the_log_tells_of_is_of_before_and_stays_readable(school, tmp_path):
    taken = second_marks(school, tmp_path, lambda row: {"marks": "4"})
    lines = [line for line in Log(school).path.read_bytes().splitlines(True) if b"second marks" not in line]
    Log(school).path.write_bytes(b"".join(lines))
    assert sample_of(school, school.sittings[0], gather(school)) == taken
    assert verify_school(school).faults == ()


def test_forgetting_somebody_makes_no_forged_second_marks_genuine(school, tmp_path):
    second_marks(school, tmp_path, lambda row: {"marks": "4"})
    drawn = json.loads(_sample_file(school).read_text())["drawn"]
    _edited(school, lambda data: data["second"][-1].update(marks=0.0))
    gone = next(one["paper"] for one in drawn if one["sample"] == "S01").split("-")[1]
    done = CliRunner().invoke(commands, ["forget", str(school.folder), gone, "--reason", "asked for it", "--yes"])
    assert done.exit_code == 0, done.exception
    assert any("moderation_day1.json: not the " in fault for fault in verify_school(open_school(school.folder)).faults)
