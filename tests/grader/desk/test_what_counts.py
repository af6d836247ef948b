"""What counts is changed at the desk: which file, by which rule, who was away, which exercises may run."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest

from exercises.model import Watched
from exercises.tasks import TASKS
from grader.desk.jobs import State
from grader.desk.said import ROOMS
from grader.marking.trail import trail
from grader.papers.sample import sample_file
from grader.privacy.privacy import forget_and_sign
from grader.reports.competence import decide
from grader.reports.results import gather
from grader.reports.status import status
from grader.store.log import RULE_CHANGED, Log
from grader.store.register import Register
from grader.store.school import open_school
from tests.grader.cohorts import marked_cohort
from tests.grader.desk.test_desk import sure, words
from tests.grader.observed.watching import with_tasks
from tests.grader.schools import CHAINED, hand_in, make_school, right_answers, script_with
from tests.grader.store.test_own_exercises import MODULE, OWN

WHY = "a scan that nobody can read"


@pytest.fixture
def school(tmp_path):
    return make_school(tmp_path / "school")


def everything(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


# Files ----------------------------------------------------------------------------------------------------------------


def test_a_file_that_is_set_aside_waits_no_more_and_comes_back_and_both_are_on_record(opened, school):
    desk = opened(school.folder)
    desk.press("issue")
    paper = Register(school).paper_of("day1", "aa-01")
    path = hand_in(school, paper, b"%PDF-1.4")
    desk.press("mark")
    file = path.relative_to(school.folder).as_posix()
    assert f'name="path" value="{file}"' in desk.get("scripts").text
    assert "say why" in words(desk.press("aside", path=file))
    assert path.exists()
    assert "lies aside now" in words(desk.press("aside", path=file, reason=WHY))
    assert not path.exists()
    assert (school.scripts / "set_aside" / path.name).read_bytes() == b"%PDF-1.4"
    assert status(school).refused == ()
    assert not any("not a notebook" in line for one in gather(school) for line in one.for_assessor)
    told = "\n".join(trail(school, "aa-01"))
    assert f"file set aside, {file}: {WHY}" in told
    aside = f"scripts/set_aside/{path.name}"
    assert f'name="path" value="{aside}"' in desk.get("scripts").text
    assert "among the scripts again" in words(desk.press("bring-back", path=aside, reason="it can be read after all"))
    assert path.read_bytes() == b"%PDF-1.4"
    assert [one.file for one in status(school).refused] == [file]
    assert f"file brought back, {aside}: it can be read after all" in "\n".join(trail(school, "aa-01"))


def test_of_two_scripts_for_one_paper_the_other_is_marked_when_one_is_set_aside(opened, school, warm_room):
    desk = opened(school.folder)
    desk.press("issue")
    paper = Register(school).paper_of("day1", "aa-01")
    answers = dict(right_answers(paper.variants()))
    hand_in(school, paper, script_with(school, paper, answers), "one.ipynb")
    hand_in(school, paper, script_with(school, paper, dict(list(answers.items())[:1])), "two.ipynb")
    assert "2 different scripts for one paper" in words(desk.get("scripts"))
    desk.press("aside", path="scripts/two.ipynb", reason="saved before the end")
    assert "1 script marked" in words(desk.press("mark"))
    assert "saved before the end" in "\n".join(trail(school, paper.id))


@pytest.mark.parametrize("name", ["two  spaces.pdf", " begins.pdf", "größe & <b>.pdf", "a/b/c.pdf", "x" * 200])
def test_a_file_of_any_name_can_be_set_aside_and_brought_back(opened, school, name):
    path = school.scripts / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(b"%PDF-1.4")
    desk = opened(school.folder)
    for action, folder in (("aside", school.scripts / "set_aside"), ("bring-back", school.scripts)):
        listed = [html.unescape(one) for one in re.findall(r'name="path" value="([^"]*)"', desk.get("scripts").text)]
        assert len(listed) == 1
        desk.press(action, path=listed[0], reason="for a test")
        assert (folder / path.name).read_bytes() == b"%PDF-1.4"


@pytest.mark.parametrize(
    "path", ["roster.csv", "school.key", "../x", "scripts", "scripts/../roster.csv", "", "/etc/passwd"]
)
@pytest.mark.parametrize("action", ["aside", "bring-back"])
def test_no_other_file_can_be_set_aside_or_brought_back(opened, school, action, path):
    before = everything(school.folder)
    said = words(opened(school.folder).press(action, path=path, reason="for a test"))
    assert "no such file among what came back" in said
    assert {name: data for name, data in everything(school.folder).items() if name in before} == before


def test_what_was_set_aside_is_held_and_forgotten_like_all_that_was_handed_in(opened, school):
    desk = opened(school.folder)
    desk.press("issue")
    paper = Register(school).paper_of("day1", "aa-01")
    hand_in(school, paper, b"%PDF-1.4")
    file = status(school).refused[0].file
    desk.press("aside", path=file, reason="the scan of Ada Reed")
    forget_and_sign(school, ["aa-01"], "asked for", lambda: open_school(school.folder))
    assert not list((school.scripts / "set_aside").glob("*"))
    assert b"Ada Reed" not in (school.records / "log.jsonl").read_bytes()


# The pass rule --------------------------------------------------------------------------------------------------------

RULE = {
    "pass_percent": "70", "sitting_percent": "0", "outcome_percent": "70", "every_outcome": "no", "must_pass": "yes",
    "resit": "latest", "rounding": "no marks", "stop_and_look": "no",
}  # fmt: skip


def test_a_changed_pass_rule_shows_first_who_is_decided_otherwise_and_is_on_record(opened, tmp_path):
    school = marked_cohort(tmp_path / "school", 6)
    settings = school.folder / "school.toml"
    settings.write_text(
        settings.read_text().replace("pass_percent = 70", "pass_percent = 70  # agreed with the operator")
    )
    desk = opened(school.folder)
    before = {one.candidate.id: one.verdict for one in decide(school, gather(school))}
    asked = desk.press("rule", **RULE | {"pass_percent": "100", "reason": "the operator wants it"})
    said = words(asked)
    assert "the pass mark, in percent of all marks: 70 becomes 100" in said
    assert "pass_percent = 70" in settings.read_text(), "nothing is written before a yes"
    sure(desk, asked)
    changed = open_school(school.folder)
    assert changed.pass_percent == 100
    assert "# agreed with the operator" in settings.read_text()
    after = {one.candidate.id: one.verdict for one in decide(changed, gather(changed))}
    others = {who for who in after if after[who] is not before[who]}
    assert others
    assert all(f"{who}: {before[who]} becomes {after[who]}" in said for who in others)
    line = next(line for line in Log(school).lines if line["what"] == RULE_CHANGED)
    assert line["why"] == "the operator wants it"
    assert "pass rule changed: the pass mark" in words(desk.get("records?candidate=*"))


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"pass_percent": "many"}, "pass mark: 'many' is no number"),
        ({"pass_percent": "170", "reason": "x"}, "a number from 0 to 100"),
        ({"pass_percent": "80"}, "say why the pass rule changes"),
        ({"resit": "the nicer one", "reason": "x"}, 'write "latest" or "best"'),
        ({"reason": "x"}, "the pass rule is so already"),
    ],
)
def test_a_pass_rule_that_cannot_be_is_told_and_not_kept(opened, school, fields, says):
    before = (school.folder / "school.toml").read_bytes()
    assert says in words(opened(school.folder).press("rule", **RULE | fields))
    assert (school.folder / "school.toml").read_bytes() == before


# Absences -------------------------------------------------------------------------------------------------------------


def test_who_was_away_is_kept_with_the_reason_and_taken_out_again(opened, school):
    desk = opened(school.folder)
    line = {"away-candidate": "aa-01", "away-sitting": "day1", "away-reason": "ill, by note"}
    asked = desk.press("absences", **line)
    assert "aa-01 away at day1: ill, by note" in words(asked)
    assert not school.absences_file.exists()
    sure(desk, asked)
    (one,) = open_school(school.folder).absences
    assert (one.candidate, one.sitting, one.reason) == ("aa-01", "day1", "ill, by note")
    assert 'value="ill, by note"' in desk.get("decisions").text
    asked = desk.press("absences", **{**line, "away-candidate": "", "away-reason": ""})
    assert "aa-01 not away at day1 any more" in words(asked)
    sure(desk, asked)
    assert open_school(school.folder).absences == ()


def test_columns_that_only_the_owner_of_the_list_knows_stay_where_they_stood(opened, school):
    school.absences_file.write_text("candidate,sitting,reason,seen by\naa-01,day1,ill,Dr Hale\n")
    desk = opened(school.folder)
    line = {"away-candidate": "aa-01", "away-sitting": "day1", "away-reason": "ill for a week"}
    sure(desk, desk.press("absences", **line))
    assert "aa-01,day1,ill for a week,Dr Hale" in school.absences_file.read_text()


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (("aa-01", "day1", ""), "no reason why aa-01 did not sit day1"),
        (("zz-99", "day1", "ill"), "no candidate 'zz-99'"),
        (("", "day1", "ill"), "no candidate ''"),
        (("aa-01", "day9", "ill"), "no sitting 'day9'"),
    ],
)
def test_an_absence_that_cannot_be_is_told_and_not_kept(opened, school, line, says):
    given = dict(zip(("away-candidate", "away-sitting", "away-reason"), line, strict=True))
    assert says in words(opened(school.folder).press("absences", **given))
    assert not school.absences_file.exists()


# Exercises ------------------------------------------------------------------------------------------------------------


def test_own_exercises_run_only_after_somebody_said_that_they_trust_who_wrote_them(opened, school):
    desk = opened(school.folder)
    (school.folder / "own_exercises").mkdir()
    (school.folder / "own_exercises" / "skips.py").write_text(MODULE)
    page = desk.get("sittings")
    assert "own exercises are programs" in words(page)
    assert "skips.py" in words(page)
    assert "/do/allow-own" in page.text
    assert "tick that you trust" in words(desk.press("allow-own"))
    assert "own exercises are programs" in words(desk.get("sittings"))
    assert f"may run now: {OWN}" in words(desk.press("allow-own", trust="yes"))
    assert open_school(school.folder).own_exercises == (OWN,)
    assert f'value="{OWN}"' in desk.get("sitting?sitting=day1").text
    assert "1 own exercise sound in" in words(desk.press("try-own"))
    assert "move these modules out" in words(desk.press("forbid-own"))
    (school.folder / "own_exercises" / "skips.py").unlink()
    assert "may not run any more" in words(desk.press("forbid-own"))
    assert "own_exercises" not in (school.folder / "school.toml").read_text()


def test_an_own_exercise_that_cannot_be_run_is_told_and_not_let_in(opened, school):
    (school.folder / "own_exercises").mkdir()
    (school.folder / "own_exercises" / "bad.py").write_text("raise SystemExit\n")
    desk = opened(school.folder)
    before = (school.folder / "school.toml").read_bytes()
    assert "bad.py" in words(desk.press("allow-own", trust="yes"))
    assert desk.served.desk.jobs.latest.state is State.TO_MEND
    assert (school.folder / "school.toml").read_bytes() == before


def test_a_sample_is_like_the_paper_and_nobodys(opened, school):
    desk = opened(school.folder)
    said = desk.press("sample", sitting="day1")
    assert "numbers of nobody" in words(said)
    assert f"/file/records/{sample_file(school, school.sittings[0]).name}" in said.text
    page = sample_file(school, school.sittings[0]).read_text()
    assert school.exercise(CHAINED).title in page
    assert all(one.id not in page and one.name not in page for one in school.roster)
    assert not school.register_file.exists() or not Register(school).papers


def test_a_sample_of_tasks_shows_what_observers_look_for(opened, tmp_path):
    school = with_tasks(tmp_path / "school")
    opened(school.folder).press("sample", sitting="day1")
    page = sample_file(school, school.sittings[0]).read_text()
    assert all(part.ask in page for part in TASKS["weigh-mud"].exercise.parts if isinstance(part, Watched))


# Marks ----------------------------------------------------------------------------------------------------------------


def test_a_changed_mark_is_put_back_by_a_button_with_a_reason_and_both_stay_on_record(opened, tmp_path):
    school = marked_cohort(tmp_path / "school", 2)
    desk = opened(school.folder)
    paper = Register(school).paper_of("day1", "c001").id
    before = gather(school)[0].record.part_marks["1a"]
    desk.press("change", paper=paper, part="1a", marks="0.5", kind="appeal", reason="for a test")
    form = re.search(r'<form[^>]*/do/change".*?Put it back', desk.get(f"paper?paper={paper}").text, re.DOTALL)
    fields = dict(re.findall(r'name="(\w+)" value="([^"]*)"', form[0].rpartition("<form")[2]))
    fields.pop("secret")
    assert float(fields["marks"]) == before
    desk.press("change", **fields, reason="the wrong paper")
    assert gather(school)[0].record.part_marks["1a"] == before
    told = "\n".join(trail(school, paper))
    assert "for a test" in told
    assert "the wrong paper" in told


def test_sheets_and_page_of_tasks_are_listed_where_they_are_handed_out_for_every_attempt(opened, tmp_path):
    school = with_tasks(tmp_path / "school")
    desk = opened(school.folder)
    for attempt in ("1", "2"):
        desk.press("issue", sitting="day1", attempt=attempt)
        desk.press("observe", sitting="day1", attempt=attempt)
    for room in ("hand-out", "by-hand"):
        page = desk.get(room).text
        for name in ("observe_day1", "tasks_day1_candidates", "observe_day1_attempt2", "tasks_day1_attempt2_observers"):
            assert f"/file/records/{name}.html" in page, room


def test_no_page_of_the_desk_names_a_command(opened, tmp_path):
    school = marked_cohort(tmp_path / "school", 3)
    desk = opened(school.folder)
    paper = Register(school).paper_of("day1", "c001")
    hand_in(school, paper, b"%PDF-1.4", "c001_day1.pdf")
    settings = school.roster_file.read_text()
    school.roster_file.write_text(settings.replace("c002,", "c002,New ", 1))
    asked = ("sitting?sitting=day1", f"paper?paper={paper.id}&part=1a", "records?candidate=c001", "records?candidate=*")
    for room in (*ROOMS, *asked):
        page = words(desk.get(room))
        assert not re.search(r"pitside [a-z]", page), f"{room}: {page}"
        assert " --" not in page, room


def test_the_weight_of_an_issued_sitting_changes_only_with_a_reason_and_after_who_it_would_decide_is_shown(
    opened, tmp_path
):
    school = marked_cohort(tmp_path / "school", 3)
    (sitting,) = school.sittings
    desk = opened(school.folder)
    given = {"sitting": sitting.id, "kind": "exercises", "title": sitting.title, "day": f"{sitting.day}",
             "exercise": sitting.exercises[0]}  # fmt: skip
    assert "say why its weight changes" in words(desk.press("sitting", **given, weight="3"))
    assert open_school(school.folder).sitting(sitting.id).weight == sitting.weight
    asked = desk.press("sitting", **given, weight="3", reason="agreed with the operator")
    assert f"{sitting.weight:g} becomes 3" in words(asked)
    assert "nobody is decided otherwise" in words(asked)
    sure(desk, asked)
    assert open_school(school.folder).sitting(sitting.id).weight == 3
    assert Log(school).lines[-1]["why"] == "agreed with the operator"
    assert "Keep a sitting: done" in words(desk.press("sitting", **given, weight="3")), (
        "nothing changes, so nothing is asked"
    )


@pytest.mark.parametrize("action", ["take-words", "take-keyin", "take-observe"])
def test_a_file_that_may_replace_what_was_taken_asks_first_and_says_how_it_is_undone(opened, school, action):
    desk = opened(school.folder)
    asked = desk.press(action, {"file": ("mine.json", b"{}")}, replace="yes")
    assert "mine.json replaces what was taken before" in words(asked)
    assert "take the earlier file once more" in words(asked)
    assert desk.served.desk.jobs.latest is None
    assert "mine.json" in words(sure(desk, asked))
