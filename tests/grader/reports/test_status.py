"""How far each sitting is, and the command that comes next, over a whole school from its first day to its last."""

from __future__ import annotations

import os
import re
import time
from datetime import date

import pytest
from click.testing import CliRunner

from exercises.tasks import TASKS
from grader.cli import commands
from grader.marking.written_answers import page_file
from grader.reports.status import COLUMNS, lines, status
from grader.store.register import Register
from grader.store.school import School, new_school, open_school
from tests.grader.cohorts import marked_cohort
from tests.grader.schools import CHAINED, hand_in, pack_of, right_answers, script_with, settings

WRITTEN = "explain-to-the-crew"
THREE_DAYS = settings([CHAINED]) + "".join(
    f'\n[[sitting]]\nid = "{name}"\ntitle = "{name}"\nday = {day}\nexercises = ["{CHAINED}"]\n'
    for name, day in (("day3", date(2026, 5, 7)), ("day2", date(2026, 5, 6)))
)


def run(*words: object) -> str:
    done = CliRunner().invoke(commands, [str(word) for word in words])
    assert done.exit_code == 0, done.exception or done.output
    return done.output


def step(school: School) -> str:
    """The command that comes first."""
    return re.search(r"pitside .*", status(open_school(school.folder)).steps[0].line)[0]


def stand(school: School, sitting: str = "day1", attempt: int = 1) -> dict[str, str]:
    (found,) = [s for s in status(open_school(school.folder)).stands if (s.sitting.id, s.attempt) == (sitting, attempt)]
    return dict(zip(COLUMNS, found.cells, strict=True))


@pytest.fixture
def school(tmp_path) -> School:
    folder = tmp_path / "school"
    new_school(folder, "Marram school", date(2026, 5, 4))
    (folder / "school.toml").write_text(THREE_DAYS)
    (folder / "roster.csv").write_text("id,name\naa-01,Ann\naa-02,Ben\n")
    return open_school(folder)


def back(school: School, candidate: str, sitting: str) -> None:
    paper = Register(school).paper_of(sitting, candidate)
    hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))


def test_following_the_next_command_leads_through_the_whole_school(school, warm_room):
    """Only what people do by themselves is done beside: papers are answered, pages are looked at."""
    followed = []
    for _ in range(40):
        said = status(open_school(school.folder)).steps[0].line
        if said.startswith("nothing waits"):
            break
        command = re.search(r"pitside (\S+.*)", said)[1]
        if said.startswith("hand out "):
            sitting = re.search(r"hand out \S*/packs/(\S+);", said)[1]
            back(school, "aa-01", sitting)
            back(school, "aa-02", sitting)
        followed.append(re.sub(rf" ?{re.escape(str(school.folder))} ?", " ", command).strip())
        run(*command.split())
        time.sleep(0.01)  # so that a page is newer than the marks, also where the clock of files is coarse
    day = ["issue", "mark", "results", "debrief --sitting {}"]
    assert followed == [
        *(one.format("day1") for one in day), *(one.format("day2") for one in day),
        *(one.format("day3") for one in day), "decide", "certify",
    ]  # fmt: skip
    assert {one.id: one.day.day for one in school.sittings} == {"day1": 5, "day3": 7, "day2": 6}


def test_empty_roster_is_the_first_thing(school):
    (school.folder / "roster.csv").write_text("id,name\n")
    assert tuple(map(str, status(open_school(school.folder)).steps)) == (
        f"write the candidates into {school.folder / 'roster.csv'}, then: pitside issue {school.folder}",
    )


def test_numbers_of_a_sitting(school, warm_room):
    (school.folder / "roster.csv").write_text("id,name\n" + "".join(f"aa-0{n},Ann {'abcdef'[n]}\n" for n in range(6)))
    school = open_school(school.folder)
    none = dict.fromkeys(COLUMNS, "0") | {"sitting": "day1", "attempt": "1", "debriefed": "no", "decided": "no"}
    assert stand(school) == none | {"issued": "0 of 6"}
    run("issue", school.folder)
    assert stand(school) == none | {"issued": "6"}
    back(school, "aa-01", "day1")
    back(school, "aa-02", "day1")
    hand_in(school, Register(school).paper_of("day1", "aa-03"), b"%PDF-1.4")
    assert stand(school) == none | {"issued": "6", "returned": "2", "unreadable": "1"}
    assert step(school) == f"pitside mark {school.folder}"
    run("mark", school.folder, "--workers", "1")
    assert stand(school) == none | {"issued": "6", "returned": "2", "unreadable": "1", "marked": "2"}
    # What was a photo or a scan is keyed in, and waits for nothing more.
    paper = Register(school).paper_of("day1", "aa-03")
    hand_in(school, paper, pack_of(school, paper), "keyed_aa-03.ipynb")
    assert stand(school) == none | {"issued": "6", "returned": "3", "marked": "2"}
    (school.folder / "roster.csv").write_text((school.folder / "roster.csv").read_text() + "aa-09,Late\n")
    assert stand(school)["issued"] == "6 of 7"
    run("issue", school.folder, "--sitting", "day1", "--attempt", "2", "--candidate", "aa-01")
    assert stand(school, attempt=2)["issued"] == "1"
    shown = list(lines(open_school(school.folder), status(open_school(school.folder))))
    assert "attempt" in shown[1]
    assert [line for line in shown if line.startswith("  day1")][1].split()[:3] == ["day1", "2", "1"]


def test_tasks_to_be_watched_have_no_packs_and_the_next_command_is_to_watch_them(school):
    text = (
        (school.folder / "school.toml")
        .read_text()
        .replace(f'exercises = ["{CHAINED}"]', f'tasks = ["{next(iter(TASKS))}"]', 1)
    )
    (school.folder / "school.toml").write_text(text)
    said = run("issue", school.folder)
    assert said.startswith("day1: 2 papers drawn, 0 packs written")
    assert "who gets what" not in said
    assert not list((school.folder / "packs").rglob("*.*"))
    assert step(school) == f"pitside observe {school.folder} --sitting day1"
    assert run("issue", school.folder).startswith("day2: 2 papers drawn"), "it does not come back to the first"
    changed = (school.folder / "roster.csv").read_text().replace("Ann", "Anna")
    (school.folder / "roster.csv").write_text(changed)
    assert [line for line in run("status", school.folder).splitlines() if "corrected" in line] == [
        f"  the roster was corrected since: aa-01 (day2): name 'Ann' then, 'Anna' now: pitside issue {school.folder} "
        '--replace --candidate aa-01 --reason "name corrected"'
    ]
    said = run("issue", school.folder, "--replace", "--reason", "name corrected")
    assert [line.rpartition("packs/")[2] for line in said.splitlines()] == ["day2/aa-01.zip"]


def test_words_wait_until_they_have_marks(tmp_path):
    school = marked_cohort(tmp_path / "school", 3, exercises=(CHAINED, WRITTEN))
    assert (stand(school)["words"], stand(school)["marked"]) == ("3", "0")
    steps = [step.line for step in status(school).steps]
    assert steps[0] == f"3 scripts wait for marks on written answers: pitside written {school.folder}"
    assert not any("pitside decide" in one for one in steps)
    assert not page_file(school).exists(), "looking writes nothing"


def test_pages_written_before_the_marks_are_old(tmp_path):
    school = marked_cohort(tmp_path / "school", 3)
    run("results", school.folder)
    run("debrief", school.folder)
    run("decide", school.folder)
    assert (stand(school)["debriefed"], stand(school)["decided"]) == ("yes", "yes")
    later = time.time() + 60
    for path in (school.records / "marks").iterdir():
        os.utime(path, (later, later))
    assert (stand(school)["debriefed"], stand(school)["decided"]) == ("old", "old")
    commands_now = [re.search(r"pitside (\w+)", one)[1] for one in map(str, status(school).steps)]
    assert commands_now[:2] == ["results", "debrief"]
    assert "decide" in commands_now


def test_the_table_is_no_wider_than_80_columns_and_names_every_number(school):
    run("issue", school.folder, "--all")
    shown = list(lines(open_school(school.folder), status(open_school(school.folder))))
    table = shown[1:5]
    assert all(len(line) <= 80 for line in table)
    assert table[0].split() == [name for name in COLUMNS if name != "attempt"]
    assert [line.split()[0] for line in table[1:]] == ["day1", "day3", "day2"]


def test_looking_changes_no_file(tmp_path):
    school = marked_cohort(tmp_path / "school", 3, exercises=(CHAINED, WRITTEN))
    hand_in(school, Register(school).paper_of("day1", "c001"), b"no notebook")
    before = {path: path.read_bytes() for path in school.folder.rglob("*") if path.is_file()}
    run("status", school.folder)
    assert {path: path.read_bytes() for path in school.folder.rglob("*") if path.is_file()} == before


def test_roster_that_was_corrected_is_among_what_comes_next(school):
    run("issue", school.folder)
    (school.folder / "roster.csv").write_text("id,name\naa-01,Anna\naa-02,Ben\n")
    assert any("the roster was corrected since: aa-01 (day1): name" in one.line for one in status(
        open_school(school.folder)
    ).steps)  # fmt: skip
