"""A school of one, three or five days, and what its papers cover."""

from __future__ import annotations

import re
import sys
import tomllib
from datetime import date, timedelta
from pathlib import Path

import pytest
from bs4 import BeautifulSoup

from exercises import BANK, LESSONS, outcomes_of
from exercises.plans import LONGEST_SITTING, PLANS, sittings_of
from exercises.plans import paper_of as days_paper
from grader import cli
from grader.papers.coverage import coverage, lines
from grader.papers.issue import issue
from grader.store.errors import GraderError
from grader.store.register import Register
from grader.store.school import new_school, open_school
from tests.grader.schools import (
    SITTING,
    hand_in,
    make_school,
    mark_and_report,
    opened_pack,
    pack_of,
    paper_of,
    quiet,
    right_answers,
    script_with,
    settings,
)

STARTS = date(2026, 5, 4)


@pytest.mark.parametrize("days", [1, 3, 5])
def test_a_school_of_so_many_days_has_the_papers_of_each_day_on_the_lessons_held(tmp_path, days):
    new_school(tmp_path, "Saltreed course", STARTS, days)
    school = open_school(tmp_path)
    assert set(school.lessons) == {lesson for day in PLANS[days] for lesson in day}
    for number, lessons in enumerate(PLANS[days]):
        sat = [sitting for sitting in school.sittings if sitting.day == STARTS + timedelta(days=number)]
        assert [tuple(BANK[name] for name in sitting.exercises) for sitting in sat] == list(sittings_of(lessons))
    assert {sitting.day for sitting in school.sittings} == {STARTS + timedelta(days=n) for n in range(days)}


@pytest.mark.parametrize("days", [1, 3, 5])
def test_the_sittings_of_a_day_share_one_weight_by_their_marks(tmp_path, days):
    new_school(tmp_path, "Saltreed course", STARTS, days)
    sittings = open_school(tmp_path).sittings
    for number in range(days):
        sat = [sitting for sitting in sittings if sitting.day == STARTS + timedelta(days=number)]
        marks = [sum(BANK[name].marks for name in sitting.exercises) for sitting in sat]
        assert [sitting.weight for sitting in sat] == pytest.approx([one / sum(marks) for one in marks], abs=0.01)


@pytest.mark.parametrize("days", [1, 3, 5])
def test_a_sitting_of_a_planned_school_takes_from_half_an_hour_to_two_hours(tmp_path, days):
    new_school(tmp_path, "Saltreed course", STARTS, days)
    lengths = [sitting.minutes for sitting in coverage(open_school(tmp_path)).sittings]
    assert len(lengths) >= days
    assert all(30 <= minutes <= LONGEST_SITTING for minutes in lengths)


@pytest.mark.parametrize("days", [1, 3, 5])
def test_every_safety_part_of_a_lesson_held_is_in_a_paper(days):
    held = [lesson for day in PLANS[days] for lesson in day]
    in_papers = {exercise.id for day in PLANS[days] for exercise in days_paper(day)}
    safety = {
        exercise.id
        for exercise in BANK.values()
        if exercise.lesson in held and exercise.level < 3
        and any(getattr(item, "must_pass", False) for item in exercise.items)
    }  # fmt: skip
    assert safety
    assert safety <= in_papers


def test_papers_of_a_planned_school_can_be_issued(tmp_path):
    new_school(tmp_path, "Saltreed course", STARTS, 1)
    (tmp_path / "roster.csv").write_text("id,name\naa-01,Ann\n")
    school = open_school(tmp_path)
    issue(school, school.sittings, quiet)
    assert len(Register(school).papers) == len(school.sittings)


def test_five_days_teach_every_lesson_that_all_crews_need():
    needed = [name for name, lesson in LESSONS.items() if not lesson.optional]
    assert [lesson for day in PLANS[5] for lesson in day] == needed


def test_settings_of_a_new_school_give_the_minutes_of_each_paper(tmp_path):
    new_school(tmp_path, "Saltreed course", STARTS, 3)
    text = (tmp_path / "school.toml").read_text()
    for length in coverage(open_school(tmp_path)).sittings:
        assert f"# about {length.minutes} minutes" in text
    assert tomllib.loads(text)["school"]["lessons"] == list(open_school(tmp_path).lessons)


# Coverage -------------------------------------------------------------------------------------------------------------


def test_an_outcome_is_covered_exactly_where_an_exercise_of_a_sitting_assesses_it(tmp_path):
    chosen = ("weight-up-growing", "convert-mud-weight")
    found = coverage(make_school(tmp_path, exercises=chosen))
    assert {one.lesson.id for one in found.taught} == {BANK[name].lesson for name in chosen}
    for lesson in found.lessons:
        assert {one.outcome for one in lesson.outcomes} == set(outcomes_of(lesson.lesson.id))
        for one in lesson.outcomes:
            assert {exercise for _, exercise in one.places} == {
                name for name in chosen if one.outcome in BANK[name].outcomes
            }
            assert {sitting for sitting, _ in one.places} <= {"day1"}


def test_what_is_uncovered_and_what_is_covered_are_all_outcomes_of_the_lessons_taught(tmp_path):
    make_school(tmp_path)
    (tmp_path / "school.toml").write_text(settings().replace("[school]", '[school]\nlessons = ["weighting", "solids"]'))
    found = coverage(open_school(tmp_path))
    covered = {one.outcome for lesson in found.taught for one in lesson.outcomes if one.places}
    uncovered = {outcome for _, outcome in found.uncovered}
    assert covered == set(BANK["weight-up-growing"].outcomes)
    assert uncovered == {*outcomes_of("weighting"), *outcomes_of("solids")} - covered
    text = "\n".join(lines(found))
    assert all(f"NOT COVERED: {outcome}" in text for outcome in uncovered)
    assert f"{len(covered)} of {len(covered | uncovered)} outcomes of the 2 lessons taught are in a paper" in text


def test_an_exercise_of_a_lesson_that_is_not_taught_is_shown_as_such(tmp_path):
    make_school(tmp_path)
    (tmp_path / "school.toml").write_text(settings().replace("[school]", '[school]\nlessons = ["solids"]'))
    found = coverage(open_school(tmp_path))
    assert [(one.lesson.id, one.taught) for one in found.lessons] == [("weighting", False), ("solids", True)]
    assert "Weighting up (not among the lessons that this school teaches)" in list(lines(found))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('lessons = ["wieghting"]', "no lesson 'wieghting'"),
        ('lessons = "weighting"', "write a list"),
        ("lessons = [3]", "3"),
    ],
)
def test_a_lesson_that_there_is_not_is_told_in_one_line(tmp_path: Path, line, said):
    make_school(tmp_path)
    (tmp_path / "school.toml").write_text(settings().replace("[school]", f"[school]\n{line}"))
    with pytest.raises(GraderError, match=said) as error:
        open_school(tmp_path)
    assert "\n" not in str(error.value)
    assert "school.toml" in str(error.value)


# The school's own words on each paper ---------------------------------------------------------------------------------

COVER = (
    "# Yard rules\n\nBring **your own** pen. <script>alert(1)</script> [map](javascript:alert(2))\n\n"
    "- No phones\n- اللوازم"
)


@pytest.fixture
def covered(tmp_path):
    make_school(tmp_path)
    (tmp_path / "cover.md").write_text(COVER, encoding="utf-8")
    school = open_school(tmp_path)
    issue(school, school.sittings, quiet)
    return school


def test_own_words_stand_on_notebook_worksheet_and_sheet(covered):
    folder = opened_pack(covered, "aa-01")
    for kind in ("worksheet", "sheet"):
        page = BeautifulSoup(
            (folder / f"marram_{SITTING}_aa-01_{kind}.html").read_text(encoding="utf-8"), "html.parser"
        )
        (cover,) = page.select(".cover")
        assert cover.h2.text == "Yard rules"
        assert [item.text for item in cover.select("li")] == ["No phones", "اللوازم"]
        assert cover.strong.text == "your own"
        assert [heading.text for heading in page.select("h1")] == ["First paper"]
    (cell,) = [cell for cell in pack_of(covered, paper_of(covered, "aa-01"))["cells"] if cell["id"] == "cover"]
    assert "## Yard rules" in cell["source"]


def test_own_words_cannot_act(covered):
    folder = opened_pack(covered, "aa-01")
    for kind in ("worksheet", "sheet"):
        text = (folder / f"marram_{SITTING}_aa-01_{kind}.html").read_text(encoding="utf-8")
        cover = BeautifulSoup(text, "html.parser").select_one(".cover")
        assert not cover.find(["script", "a", "img"])
        assert "<script>alert(1)" in cover.text
    (cell,) = [cell for cell in pack_of(covered, paper_of(covered, "aa-01"))["cells"] if cell["id"] == "cover"]
    assert "<script" not in cell["source"]


def test_own_words_do_not_touch_marking(covered, warm_room):
    paper = paper_of(covered, "aa-01")
    script = script_with(covered, paper, right_answers(paper.variants()))
    hand_in(covered, paper, script)
    record = mark_and_report(covered)["aa-01"].record
    assert (record.marks, record.for_assessor) == (record.out_of, ())


def test_a_school_without_own_words_has_no_cell_for_them(tmp_path):
    school = make_school(tmp_path)
    issue(school, school.sittings, quiet)
    assert "cover" not in [cell["id"] for cell in pack_of(school, paper_of(school, "aa-01"))["cells"]]


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"x" * 2001, "2001 letters"),
        (b"x\n" * 60, "60 lines"),
        (b"\xff\xfe", "not UTF-8"),
        (b"a\x07b", "control character"),
        (b"![us](https://example.org/us.png)", "picture"),
        (b"![us][1]\n\n[1]: us.png", "picture"),
    ],
)
def test_own_words_that_no_paper_can_hold_are_told_in_one_line(tmp_path, data, said):
    make_school(tmp_path)
    (tmp_path / "cover.md").write_bytes(data)
    with pytest.raises(GraderError, match=said) as error:
        open_school(tmp_path)
    assert "cover.md" in str(error.value)
    assert "\n" not in str(error.value)


# At the command line --------------------------------------------------------------------------------------------------


@pytest.fixture
def command(monkeypatch, capsys, tmp_path):
    """Runs the command in this process; gives status, output, and what the error stream got."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["pitside", *map(str, arguments)])
        status = 0
        try:
            cli.main()
        except SystemExit as ended:
            status = int(ended.code or 0)
        said, complaints = capsys.readouterr()
        assert "Traceback" not in said + complaints
        return status, said, complaints

    return run


def test_a_planned_school_says_its_minutes_and_coverage_says_what_is_left_out(command, tmp_path):
    status, said, _ = command("new", tmp_path / "s", "--days", "3", "--starts", "2026-05-04")
    assert status == 0
    for length in coverage(open_school(tmp_path / "s")).sittings:
        assert f"{length.sitting}: {length.exercises} exercises, {length.marks:g} marks, about {length.minutes}" in said
    status, said, _ = command("coverage", tmp_path / "s")
    assert status == 0
    assert "NOT COVERED" not in said
    settings = tmp_path / "s" / "school.toml"
    settings.write_text(settings.read_text().replace('    "explain-to-the-crew",\n', ""))
    status, said, _ = command("coverage", tmp_path / "s")
    assert status == 0
    assert said.count("NOT COVERED") == len(coverage(open_school(tmp_path / "s")).uncovered) > 0


def test_own_exercises_are_told_on_the_screen(command, tmp_path):
    make_school(tmp_path / "s")
    (tmp_path / "s" / "own_exercises").mkdir()
    (tmp_path / "s" / "own_exercises" / "bad.py").write_text("1 / 0\n")
    status, _, complaints = command("coverage", tmp_path / "s")
    assert status == 2
    assert "own_exercises = true" in complaints
    text = (tmp_path / "s" / "school.toml").read_text().replace("[school]", "[school]\nown_exercises = true")
    (tmp_path / "s" / "school.toml").write_text(text)
    status, _, complaints = command("coverage", tmp_path / "s")
    assert status == 2
    assert re.fullmatch(r"pitside: [^\n]+bad\.py: line 1: ZeroDivisionError: division by zero\n", complaints)


def test_privacy_at_the_command_line(command, tmp_path):
    make_school(tmp_path / "s")
    assert command("issue", tmp_path / "s")[0] == 0
    status, said, _ = command("kept", tmp_path / "s", "aa-01")
    assert (status, "packs/day1/" in said) == (0, True)
    status, said, _ = command("export", tmp_path / "s", "aa-01", "--to", tmp_path / "own.zip")
    assert (status, (tmp_path / "own.zip").exists()) == (0, True)
    for wrong in ((), ("aa-01",), ("aa-01", "--expired"), ("--expired",), ("zz-9", "--reason", "x")):
        status, _, complaints = command("forget", tmp_path / "s", *wrong)
        assert (status, complaints != "") == (2, True), wrong
    status, said, _ = command("forget", tmp_path / "s", "aa-01", "--reason", "asked for it", "--yes")
    assert status == 0
    assert "aa-01: deleted 3 files, 1 line;" in said
    assert not list((tmp_path / "s" / "packs").rglob("aa-01*"))
    with (tmp_path / "s" / "school.toml").open("a") as file:
        file.write("\n[privacy]\nkeep_months = 1199\n")
    status, said, _ = command("forget", tmp_path / "s", "--expired", "--yes")
    assert (status, "Nothing is deleted: it is kept until" in said) == (0, True)
