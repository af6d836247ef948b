"""A school's own exercises: taken in only when allowed, checked, and used like those of the bank."""

from __future__ import annotations

import json

import pytest

from exercises import BANK
from grader.marking.explain import explain
from grader.marking.marking import mark_school
from grader.marking.rooms import How
from grader.papers.coverage import coverage
from grader.papers.issue import issue
from grader.papers.practice_papers import write_practice
from grader.store.errors import GraderError
from grader.store.own_exercises import FOLDER
from grader.store.school import open_school
from tests.grader.schools import (
    SITTING,
    hand_in,
    make_school,
    mark_and_report,
    pack_of,
    paper_of,
    quiet,
    right_answers,
    rows_of,
    script_with,
    settings,
)

OWN = "cuttings-skips"
MODULE = '''
"""How many skips a section's cuttings fill."""

import enum

from exercises.model import By, Exercise, Grid, Marks, Number, Numeric, Slip, Step, relative
from pitside.units import Q


class Outcome(enum.StrEnum):
    SKIPS = "Order the skips for a section."


def skips(n):
    return n.cuttings / n.skip


EXERCISE = Exercise(
    id="cuttings-skips",
    title="Skips for a section",
    lesson="commissioning",
    level=1,
    version=1,
    numbers=(
        Number("cuttings", Grid(200, 900, 10, "bbl"), Grid(30, 140, 1, "m3")),
        Number("skip", Grid(14, 30, 1, "bbl"), Grid(2.2, 4.8, 0.1, "m3")),
    ),
    setting="A section of well Saltreed-7 gives {cuttings} of cuttings. A skip holds {skip}.",
    parts=(
        Numeric(
            key="a",
            ask="How many skips do the cuttings fill? Give one decimal.",
            unit="",
            solve=skips,
            tolerance=relative(0.02, because="one decimal is asked for"),
            marks=Marks(3),
            outcome=Outcome.SKIPS,
            slips=(Slip("turned upside down", lambda n: n.skip / n.cuttings, "Divide the cuttings by one skip."),),
            working=(Step("The cuttings over one skip:", "{cuttings} / {skip}"),),
        ),
    ),
)
'''


def own_school(folder, module=MODULE, allowed="own_exercises = true", exercises=(OWN, "weight-up-growing")):
    make_school(folder)
    write_module(folder, module)
    (folder / "school.toml").write_text(settings(exercises).replace("[school]", f"[school]\n{allowed}"))
    return open_school(folder)


def write_module(folder, source, name="skips.py"):
    (folder / FOLDER).mkdir(exist_ok=True)
    (folder / FOLDER / name).write_text(source)


def test_an_own_exercise_goes_all_the_way(tmp_path, warm_room):
    school = own_school(tmp_path / "school")
    assert school.own_exercises == (OWN,)
    issue(school, school.sittings, quiet)
    for candidate in ("aa-01", "aa-02"):
        paper = paper_of(school, candidate)
        answers = right_answers(paper.variants())
        hand_in(school, paper, script_with(school, paper, answers))
    school = open_school(school.folder)
    found = mark_and_report(school)
    for candidate in ("aa-01", "aa-02"):
        assert found[candidate].record.marks == found[candidate].record.out_of
        assert rows_of(school)[candidate][OWN] == "3"
        assert "Skips for a section" in (school.records / "feedback" / f"{SITTING}_{candidate}.html").read_text()
    assert any("skips" in line.lower() for line in explain(school, "aa-01", "1a", "", 0))
    (own,) = [one for lesson in coverage(school).lessons for one in lesson.outcomes if one.own]
    assert own.places == ((SITTING, OWN),)
    (page,) = write_practice(school, school.sittings, 2, quiet)
    assert "Skips for a section" in page.path.read_text()
    assert not list((school.folder / FOLDER).rglob("__pycache__"))


def test_packs_hold_nothing_of_the_module_but_what_is_asked(tmp_path):
    school = own_school(tmp_path)
    issue(school, school.sittings, quiet)
    text = json.dumps(pack_of(school, paper_of(school, "aa-01")))
    assert "A skip holds" in text
    assert "turned upside down" not in text
    assert "Divide the cuttings" not in text


def test_marking_is_refused_when_the_own_exercise_changed_after_issue(tmp_path):
    school = own_school(tmp_path)
    issue(school, school.sittings, quiet)
    write_module(tmp_path, MODULE.replace("relative(0.02", "relative(0.03"))
    changed = open_school(tmp_path)
    with pytest.raises(GraderError, match=f"mark scheme of {OWN} has changed"):
        paper_of(changed, "aa-01").variants()


def test_own_exercises_must_be_allowed_and_are_not_run_before(tmp_path):
    trap = tmp_path / "ran"
    with pytest.raises(GraderError, match="own_exercises = true") as error:
        own_school(tmp_path / "school", f"open({str(trap)!r}, 'w')\n" + MODULE, allowed="")
    assert "all your rights" in str(error.value)
    assert not trap.exists()


def test_another_school_has_none_of_them(tmp_path):
    one = own_school(tmp_path / "one")
    two = make_school(tmp_path / "two")
    assert OWN in one.bank
    assert OWN not in two.bank
    assert OWN not in BANK


@pytest.mark.parametrize(
    ("module", "said"),
    [
        ("EXERCISE = \n", "line 1: SyntaxError"),
        ("import nothing_of_this_name\n", "line 1: ModuleNotFoundError"),
        ("x = 1\nraise SystemExit(3)\n", "line 2: SystemExit"),
        ("print\n", "defines no exercise"),
        (
            MODULE.replace('id="cuttings-skips"', 'id="weight-up-growing"'),
            "there is an exercise weight-up-growing already",
        ),
        (MODULE.replace('id="cuttings-skips"', 'id="weigh-mud"'), "there is an exercise weigh-mud already"),
        (MODULE.replace('id="cuttings-skips"', 'id="../x"'), "its id must be"),
        (MODULE.replace('lesson="commissioning"', 'lesson="skips"'), "no lesson 'skips'"),
        (MODULE.replace('key="a"', 'key="b"'), "parts must be called a"),
        (MODULE.replace("return n.cuttings / n.skip", "return n.cuttings / n.skips"), "skips"),
        (MODULE.replace("return n.cuttings / n.skip", "return 1 / 0"), "ZeroDivisionError"),
        (MODULE.replace("return n.cuttings / n.skip", "return n.cuttings"), "units:"),
        # A slip that is the right answer could never be told from it.
        (MODULE.replace("lambda n: n.skip / n.cuttings", "skips"), "units:"),
    ],
)
def test_a_faulty_module_is_told_in_one_line_with_its_file(tmp_path, module, said):
    with pytest.raises(GraderError) as error:
        own_school(tmp_path, module)
    line = str(error.value)
    assert said in line
    assert "\n" not in line
    assert "own_exercises/skips.py" in line
    assert OWN not in BANK


def test_two_modules_cannot_have_an_exercise_of_one_id(tmp_path):
    own_school(tmp_path)
    write_module(tmp_path, MODULE, "twice.py")
    with pytest.raises(GraderError, match=r"twice\.py: there is an exercise cuttings-skips already"):
        open_school(tmp_path)


def test_the_check_before_issue_finds_what_the_quick_one_does_not(tmp_path):
    """A rule that fails for one skip in seventeen, which three draws do not meet."""
    own_school(tmp_path)
    rule = "valid=lambda n: [True][int(17.5 < n.skip.m_as('bbl') < 18.5)],\n    setting="
    wrong = MODULE.replace("setting=", rule)
    write_module(tmp_path, wrong)
    school = open_school(tmp_path)
    with pytest.raises(GraderError, match="own exercise cuttings-skips"):
        issue(school, school.sittings, quiet)
    assert not school.register_file.exists()


def test_a_fault_that_only_a_candidates_numbers_bring_out_is_told_too_and_nothing_is_drawn(tmp_path, monkeypatch):
    wrong = MODULE.replace("setting=", "valid=lambda n: [True][int(n.skip < Q(26, 'bbl'))],\n    setting=")
    monkeypatch.setattr("grader.store.own_exercises._fault", lambda exercise, draws: "")
    school = own_school(tmp_path, wrong)
    with pytest.raises(GraderError, match="sitting day1, own exercises cuttings-skips: IndexError: list index"):
        issue(school, school.sittings, quiet)
    assert not school.register_file.exists()


def test_own_exercises_are_not_sent_to_other_machines(tmp_path):
    school = own_school(tmp_path)
    with pytest.raises(GraderError, match="mark without --dask"):
        mark_school(school, quiet, How(allow_missing_walls=True, dask="tls://127.0.0.1:1"))
