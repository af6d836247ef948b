"""A roster that is corrected after papers were issued: what differs is told with its way, and replacing heeds it."""

from __future__ import annotations

import json
import shlex
import shutil

import pytest
from click.testing import CliRunner

from exercises.model import System
from grader.cli import commands
from grader.marking.books import read_books
from grader.marking.marking import mark_school
from grader.marking.records import came_back
from grader.marking.trail import trail
from grader.papers.handing_out import handed_out_file, list_file, sheets_file
from grader.papers.issue import issue, replace_packs
from grader.papers.packs import loose_files, pack_file, pack_names, read_pack
from grader.reports.results import gather
from grader.reports.roster_changes import corrections
from grader.returned.scripts import read_scripts
from grader.store.register import Register
from grader.store.school import School, open_school
from tests.grader.schools import (
    ONE_ROOM,
    SITTING,
    hand_in,
    make_school,
    pack_of,
    paper_of,
    quiet,
    right_answers,
    script_with,
)

LINES = ("aa-01,Ann Sand,Larkwater,day crew,field,", "aa-02,Ben Silt,Larkwater,day crew,metric,extra time")


def school_with(folder, lines=LINES) -> School:
    make_school(folder, ())
    return with_roster(open_school(folder), *lines)


def with_roster(school: School, *lines: str) -> School:
    text = "\n".join(("id,name,employer,crew,units,arrangements", *lines))
    (school.folder / "roster.csv").write_text(text + "\n", encoding="utf-8")
    return open_school(school.folder)


@pytest.fixture
def school(tmp_path) -> School:
    made = school_with(tmp_path / "school")
    issue(made, made.sittings, quiet)
    return made


def told(school: School) -> list[tuple[str, str, str, str]]:
    return [(one.candidate, one.what, one.was, one.now) for one in corrections(school, Register(school))]


def run(*words: object) -> str:
    done = CliRunner().invoke(commands, [str(word) for word in words])
    assert done.exit_code == 0, done.exception or done.output
    return done.output


def replace(school: School, *candidates: str):
    return replace_packs(school, school.sittings, candidates, "roster corrected", None, quiet,
                         came_back(school, Register(school)))  # fmt: skip


def test_each_kind_of_correction_is_told_and_no_other_change(school):
    assert told(school) == []
    changed = with_roster(
        school, "aa-01,Ann Sandh,Larkwater,day crew,metric,", "aa-02,Ben Silt,Other employer,night crew,metric,reader"
    )
    assert told(changed) == [
        ("aa-01", "name", "Ann Sand", "Ann Sandh"),
        ("aa-01", "units", "field", "metric"),
        ("aa-02", "arrangements", "extra time", "reader"),
    ]


def test_who_is_no_longer_on_the_roster_is_told_and_who_is_new_waits_for_a_paper(school):
    changed = with_roster(school, LINES[0], "aa-22,Ben Silt,Larkwater,day crew,metric,extra time")
    (one,) = corrections(changed, Register(changed))
    assert (one.candidate, one.what) == ("aa-02", "no longer on the roster")
    assert "put the line back; a new id makes another person" in one.way
    said = run("issue", changed.folder)
    assert said.startswith("day1: 1 paper drawn, 1 pack written, 1 there before")
    assert "aa-02 (day1): no longer on the roster" in said


def test_issue_tells_each_correction_with_its_command_and_arrangements_once(school):
    changed = with_roster(school, "aa-01,Ann Sandh,,,field,", "aa-02,Ben Silt,,,metric,reader")
    said = run("issue", changed.folder)
    command = f'pitside issue {changed.folder} --replace --candidate aa-01 --reason "name corrected"'
    assert f"The roster was corrected since: aa-01 (day1): name 'Ann Sand' then, 'Ann Sandh' now: {command}" in said
    assert "aa-02 (day1): arrangements 'extra time' then, 'reader' now: papers show none of them" in said
    again = run("issue", changed.folder)
    assert command in again
    assert "arrangements" not in again
    assert "Written again" in run(*shlex.split(command)[1:])
    assert "corrected since" not in run("issue", changed.folder)


def test_replacing_prints_the_name_of_now_everywhere_and_keeps_the_paper(school):
    before, register = pack_of(school, paper_of(school, "aa-01")), school.register_file.read_bytes()
    changed = with_roster(school, "aa-01,Ann Sandh,,,field,", LINES[1])
    (done,) = replace(changed, "aa-01")
    assert (done.drawn_anew, done.kept_units) == (None, None)
    assert school.register_file.read_bytes() == register
    texts = {name: data.decode() for name, data in read_pack(changed, done.paper).items()}
    assert all("Ann Sandh" in text and "Ann Sand<" not in text for text in texts.values())
    after = pack_of(changed, done.paper)
    assert after["metadata"]["pitside"]["paper"] == before["metadata"]["pitside"]["paper"]
    assert [cell["source"] for cell in after["cells"][1:]] == [cell["source"] for cell in before["cells"][1:]]
    for page in (sheets_file(changed, SITTING), list_file(changed, SITTING)):
        assert "Ann Sandh" in page.read_text(encoding="utf-8")
    assert told(changed) == []


def test_corrected_units_get_a_new_paper_that_counts_in_place_of_the_old_one(school, warm_room):
    old, old_script = paper_of(school, "aa-01"), pack_of(school, paper_of(school, "aa-01"))
    changed = with_roster(school, "aa-01,Ann Sand,,,metric,", LINES[1])
    (done,) = replace(changed, "aa-01")
    new = paper_of(changed, "aa-01")
    assert (done.drawn_anew, done.paper, new.system, new.replaces) == (System.METRIC, new, System.METRIC, old.id)
    assert new.id != old.id
    assert "kg/m" in read_pack(changed, new)[pack_names(changed, new).sheet].decode()
    register = Register(changed)
    assert (set(register.papers) & {old.id, new.id}, set(register.replaced)) == ({new.id}, {old.id})
    assert told(changed) == []
    # A script of the old paper is refused with what to do, one of the new is marked.
    hand_in(changed, old, old_script, "old.ipynb")
    scripts, (refusal,) = read_scripts(changed, register)
    assert scripts == []
    assert refusal.reason == (
        f"paper {old.id} does not count any more: {new.id} was issued in its place, with other units: ask for the "
        "answers to that one"
    )
    hand_in(changed, new, script_with(changed, new, dict(right_answers(new.variants()))))
    mark_school(changed, quiet, ONE_ROOM)
    (result,) = [one for one in gather(changed) if one.candidate.id == "aa-01"]
    assert (result.paper.id, result.percent) == (new.id, 100)
    assert [fault.says for fault in read_books(changed).faults] == []
    lines = trail(changed, "aa-01")
    assert f"  in place of paper {old.id}, which does not count any more: the units were corrected" in lines
    assert any("pack written again (1 time so far): roster corrected" in line for line in lines)


def test_units_put_back_get_a_third_paper_with_numbers_that_were_in_neither(school):
    for units in ("metric", "field", "metric"):
        changed = with_roster(school, f"aa-01,Ann Sand,,,{units},", LINES[1])
        replace(changed, "aa-01")
    register = Register(changed)
    papers = [*register.replaced.values(), register.paper_of(SITTING, "aa-01")]
    papers = [paper for paper in papers if paper.candidate == "aa-01"]
    assert [str(paper.system) for paper in papers] == ["field", "metric", "field", "metric"]
    assert len({paper.id for paper in papers}) == 4
    numbers = [json.dumps([entry.numbers for entry in paper.entries], sort_keys=True) for paper in papers]
    assert len(set(numbers)) == 4


@pytest.mark.parametrize("is_marked", [False, True])
def test_paper_that_came_back_keeps_its_units_and_its_marks(school, warm_room, is_marked):
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    if is_marked:
        mark_school(school, quiet, ONE_ROOM)
        shutil.rmtree(school.scripts)
    changed = with_roster(school, "aa-01,Ann Sandh,,,metric,", LINES[1])
    ways = {one.what: (one.way, one.to_replace) for one in corrections(changed, Register(changed))}
    assert ways["units"] == ("the script is back and counts as it is; a resit would have the units of now", False)
    assert ways["name"][0].startswith("the script is back; results and certificates take the name of now")
    register = school.register_file.read_bytes()
    said = run("issue", changed.folder, "--replace", "--candidate", "aa-01", "--reason", "units corrected")
    assert "Written again, the same paper" in said
    assert "it stays in field units, since a script of it came back" in said
    assert school.register_file.read_bytes() == register


def test_without_a_name_everybody_whose_line_was_corrected_is_replaced(tmp_path):
    school = school_with(tmp_path / "school", (*LINES, "aa-03,Cyd Clay,,,field,", "aa-04,Dee Lime,,,field,"))
    issue(school, school.sittings, quiet)
    changed = with_roster(
        school, "aa-01,Ann Sandh,,,field,", LINES[1], "aa-03,Cyd Clay,,,metric,", "aa-04,Dee Lime,,,field,reader"
    )
    said = run("issue", changed.folder)
    assert f'All of these at once: pitside issue {changed.folder} --replace --reason "roster corrected"' in said
    said = run("issue", changed.folder, "--replace", "--reason", "roster corrected")
    assert [line.rpartition("/")[2] for line in said.splitlines() if line.startswith("Written")] == [
        "aa-01.zip", "aa-03.zip",
    ]  # fmt: skip
    assert told(changed) == []
    done = CliRunner().invoke(commands, ["issue", str(changed.folder), "--replace", "--reason", "again"])
    assert "no line was corrected since the packs were written" in str(done.exception)


def test_packs_of_before_tell_the_name_by_what_stands_in_them(school):
    handed_out_file(school).unlink()
    for candidate in ("aa-01", "aa-02"):
        paper = paper_of(school, candidate)
        *files, archive = loose_files(school, paper)
        archive.parent.mkdir()
        for path in files:
            path.write_bytes(read_pack(school, paper)[path.name])
        shutil.move(pack_file(school, paper), archive)
    assert told(school) == []
    changed = with_roster(school, "aa-01,Ann Sandh,,,field,", "aa-02,Ben Silt,,,field,reader")
    assert told(changed) == [("aa-01", "name", "Ann Sand", "Ann Sandh"), ("aa-02", "units", "metric", "field")]
    replace(changed, "aa-01", "aa-02")
    assert told(changed) == []
    assert not (school.packs / "aa-01").exists()


@pytest.mark.parametrize("name", ["**Bobby** <b>x</b>", 'O\'Dell "Dell" & Sons', "=1+1", "[a](b) `c` \\d", "Ærø-Ås 李"])
@pytest.mark.parametrize("is_kept", [True, False])
def test_odd_names_are_no_correction_of_themselves(tmp_path, name, is_kept):
    quoted = name.replace('"', '""')
    school = school_with(tmp_path / "school", (f'aa-01,"{quoted}",,,field,',))
    issue(school, school.sittings, quiet)
    if not is_kept:
        handed_out_file(school).unlink()
    assert told(school) == []


def test_run_killed_before_the_new_paper_is_registered_leaves_the_old_one_to_be_written(school, monkeypatch):
    changed = with_roster(school, "aa-01,Ann Sand,,,metric,", LINES[1])
    monkeypatch.setattr(Register, "add", lambda self, papers: (_ for _ in ()).throw(KeyboardInterrupt))
    with pytest.raises(KeyboardInterrupt):
        replace(changed, "aa-01")
    monkeypatch.undo()
    assert run("issue", changed.folder).startswith("day1: 0 papers drawn, 1 pack written, 1 there before")
    assert told(changed) == [("aa-01", "units", "field", "metric")]
    replace(changed, "aa-01")
    assert told(changed) == []


def test_who_was_forgotten_is_not_told_as_missing(school):
    run("forget", school.folder, "aa-02", "--reason", "asked", "--yes")
    assert told(open_school(school.folder)) == []
