"""The desk's buttons over a whole school: what they say, and that the folder holds what the commands would leave."""

from __future__ import annotations

import html
import io
import json
import re
from datetime import date

import openpyxl
import pytest

from exercises.tasks import TASKS
from grader.command_names import GROUPS
from grader.desk.actions import ACTIONS
from grader.desk.jobs import State
from grader.desk.next_steps import button_of
from grader.desk.pages_of_rooms import PAGES
from grader.desk.said import ROOM_OF_COMMAND, ROOMS
from grader.reports.status import Do, Step
from grader.store.files import only_one
from grader.store.register import Register
from grader.store.school import new_school, open_school
from tests.grader.cohorts import marked_cohort
from tests.grader.reports.test_moderation import _twist
from tests.grader.schools import CHAINED, hand_in, make_school, right_answers, script_with

#: Commands that the desk does not do: they are for those who write exercises, compare schools, or open the desk.
NOT_AT_THE_DESK = {"check-exercise", "parts", "demo", "desk"}


def words(answer):
    text = re.sub(r"<(style|script).*?</\1>", " ", answer.text, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def sure(desk, answer):
    """Say yes to what the desk asks."""
    number = re.search(r"/sure/(\d+)", answer.text)[1]
    return desk.press(f"sure/{number}")


def test_every_step_of_the_work_has_a_button_and_every_button_a_room():
    for do in Do:
        button = button_of(Step(do, "why", "line", "day1"))
        assert button.room in ROOMS
        assert not button.action or ACTIONS[button.action].room in ROOMS
    assert {action.room for action in ACTIONS.values()} <= set(ROOMS)
    assert set(ROOMS) <= set(PAGES)


def test_every_command_has_its_room_at_the_desk():
    commands = {name for _, names in GROUPS for name in names}
    assert commands - NOT_AT_THE_DESK == set(ROOM_OF_COMMAND)


def test_new_instructor_goes_from_an_empty_folder_to_a_certificate(opened, tmp_path, warm_room):
    desk = opened(None, tmp_path)
    assert "Make a new school" in words(desk.get())
    made = desk.press("make", title="Marram school", starts="2026-05-04", days="")
    assert "Make a school: done" in words(made)
    folder = tmp_path / "marram-school"
    assert "Write the candidates" in words(desk.get())
    looked = desk.press("import", {"roster": ("people.csv", b"id,name\naa-01,Ann Sand\naa-02,Ben Silt\n")})
    assert "new: aa-01, Ann Sand" in words(looked)
    assert open_school(folder).roster == ()
    assert "2 candidates now" in words(sure(desk, looked))
    said = desk.press("sitting", sitting="day1", kind="exercises", title="First paper", day="2026-05-05", weight="1",
                      exercise=CHAINED)  # fmt: skip
    assert "First paper (day1) has 1 exercise" in words(said)
    desk.press("school", title="Marram school", assessor="Ada Marl", keep_months="24")
    said = words(desk.press("issue", sitting="day1"))
    assert "2 papers drawn, 2 packs written" in said
    assert "All sheets of day1" in said
    school = open_school(folder)
    assert (school.assessor, school.keep_months, len(school.roster)) == ("Ada Marl", 24, 2)
    files = {}
    for paper in Register(school).papers.values():
        made = script_with(school, paper, dict(right_answers(paper.variants())))
        files[f"{paper.candidate}.ipynb"] = json.dumps(made).encode()
    for name, data in files.items():
        assert "1 file taken in" in words(desk.press("take-in", {"scripts": (name, data)}))
    assert "0 are marked, 2 wait" in words(desk.get("scripts"))
    assert "2 scripts marked, 0 marked before" in words(desk.press("mark"))
    said = words(desk.press("results"))
    assert "2 of 2 papers with marks" in said
    assert "State code:" in said
    paper = Register(school).paper_of("day1", "aa-01").id
    why = words(desk.get(f"paper?paper={paper}&part=1a"))
    assert "Why part 1a got its mark" in why
    said = words(desk.press("change", paper=paper, part="1a", marks="0", kind="appeal", reason="for a test"))
    assert "0 now" in said
    desk.press("change", paper=paper, part="1a", marks="99", kind="appeal", reason="too many")
    desk.press("results")
    assert "Debrief of First paper" in words(desk.press("debrief"))
    assert "competent" in words(desk.press("decide"))
    said = words(desk.press("certify"))
    assert "issued" in said
    certificate = re.search(r'/file/(records/certificates/[^"]+\.html)', desk.get("decisions").text)[1]
    assert desk.get(f"file/{certificate}").status == 200
    assert "Wrong" not in words(desk.press("verify"))
    assert "nothing is held" not in words(desk.get("records?candidate=aa-02"))
    asked = desk.press("forget", candidate="aa-02", reason="asked for it")
    assert "It cannot be undone" in words(asked)
    assert (folder / "packs" / "day1" / "aa-02.zip").exists()
    assert "aa-02: deleted" in words(sure(desk, asked))
    assert not (folder / "packs" / "day1" / "aa-02.zip").exists()
    assert "Wrong" not in words(desk.press("verify"))


@pytest.fixture
def school(tmp_path):
    return make_school(tmp_path / "school")


def test_roster_from_a_workbook_tells_all_its_faults_at_once_and_changes_nothing(opened, school):
    before = school.roster_file.read_bytes()
    book = openpyxl.Workbook()
    for row in (["id", "name", "units"], ["A B", "Ann", "field"], ["aa-02", "", "field"], ["aa-03", "Cy", "yards"]):
        book.active.append(row)
    kept = io.BytesIO()
    book.save(kept)
    said = words(opened(school.folder).press("import", {"roster": ("people.xlsx", kept.getvalue())}))
    assert "people.xlsx: 3 faults to mend" in said
    for fault in ("line 2:", "line 3: aa-02 has no name", "line 4:"):
        assert fault in said
    assert school.roster_file.read_bytes() == before


def test_roster_that_is_edited_keeps_columns_of_its_owners_and_shows_what_changes(opened, school):
    school.roster_file.write_text("id,name,room\naa-01,Ann,12\naa-02,Ben,14\n")
    desk = opened(school.folder)
    secret = desk.served.desk.entry.form_secret
    lines = [("aa-01", "Anna", "12"), ("", "", ""), ("aa-03", "Cy", "")]
    body = f"secret={secret}" + "".join(f"&column-{at}={cell}" for line in lines for at, cell in enumerate(line))
    head = {"Origin": f"http://{desk.host}", "Content-Type": "application/x-www-form-urlencoded"}
    looked = desk.say("POST", f"{desk.base}/do/list", body, head)
    for line in ("new: aa-03, Cy", "no longer there: aa-02, Ben", "aa-01: name 'Ann' becomes 'Anna'"):
        assert line in words(looked)
    sure(desk, looked)
    text = school.roster_file.read_text(encoding="utf-8-sig")
    assert text == "id,name,room\naa-01,Anna,12\naa-03,Cy,\n"


def test_sitting_that_is_changed_keeps_the_notes_of_the_settings(opened, tmp_path):
    new_school(tmp_path / "s", "A school", date(2026, 5, 4), 3)
    desk = opened(tmp_path / "s")
    school = open_school(tmp_path / "s")
    task = next(iter(TASKS))
    desk.press("sitting", kind="tasks", title="In the yard", day="2026-05-07", weight="2", exercise=task)
    said = words(desk.press("sitting", sitting="day1", kind="exercises", title="Day one", day="2026-05-04", weight="1",
                            exercise=school.sitting("day1").exercises[0]))  # fmt: skip
    assert "Day one (day1) has 1 exercise" in said
    changed = open_school(tmp_path / "s")
    assert changed.sitting("in-the-yard").exercises == (task,)
    assert changed.sitting("in-the-yard").observed
    assert changed.sitting("day1").exercises == school.sitting("day1").exercises[:1]
    assert changed.sitting("day2a") == school.sitting("day2a")
    text = (tmp_path / "s" / "school.toml").read_text()
    assert "# of all marks, each sitting by its weight" in text
    (tmp_path / "s" / "roster.csv").write_text("id,name\naa-01,Ann Sand\n")
    assert "1 paper drawn, 0 packs written" in words(desk.press("issue", sitting="in-the-yard"))
    assert "The observers' page of In the yard" in words(desk.press("observe", sitting="in-the-yard"))
    assert "so its tasks stay" in words(desk.get("sitting?sitting=in-the-yard"))
    asked = desk.press("drop-sitting", sitting="in-the-yard")
    assert "papers of in-the-yard were issued, so it stays" in words(asked)
    asked = desk.press("drop-sitting", sitting="day2a")
    assert "is taken out" in words(asked)
    sure(desk, asked)
    assert {one.id for one in open_school(tmp_path / "s").sittings} == {one.id for one in changed.sittings} - {"day2a"}


def test_choice_of_exercises_is_weighed_before_it_is_kept(opened, school):
    desk = opened(school.folder)
    one = json.loads(desk.get(f"weigh?sitting=day1&kind=exercises&exercise={CHAINED}").text)
    exercise = school.bank[CHAINED]
    assert one["line"].startswith(f"1 exercise chosen, {exercise.marks:g} marks, about ")
    both = json.loads(
        desk.get(f"weigh?sitting=day1&exercise={CHAINED}&exercise=weight-up-fixed-final&exercise=none").text
    )
    assert both["line"].startswith("2 exercises chosen")
    assert set(both["left_out"]) < set(one["left_out"])


def test_wrong_settings_are_told_and_not_kept(opened, school):
    before = (school.folder / "school.toml").read_bytes()
    desk = opened(school.folder)
    for fields, says in (
        ({"exercise": "no-such"}, "no exercise 'no-such'"),
        ({"exercise": CHAINED, "weight": "much"}, "is no number"),
        ({"exercise": CHAINED, "day": "tomorrow"}, "is no day"),
        ({}, "choose at least one exercise"),
    ):
        given = {"sitting": "day1", "kind": "exercises", "title": "T", "day": "2026-05-05", "weight": "1"} | fields
        assert says in words(desk.press("sitting", **given))
    assert (school.folder / "school.toml").read_bytes() == before


#: What each button is given in a school of six with marks, and what it says then. Files are given below.
PRESSED = (
    ("issue", {"sitting": "day1", "candidate": "c001", "attempt": "2"}, "1 paper drawn, 1 pack written"),
    ("replace", {"sitting": "day1", "candidate": "c001", "reason": "lost"}, "1 pack written again"),
    ("replace", {"candidate": "c001"}, "say why the pack is written again"),
    ("practice", {"papers": "2"}, "Practice papers of First paper"),
    ("words", {"sitting": "day1"}, "12 answers in words to 2 questions wait for marks"),
    ("keyin", {"sitting": "day1"}, "day1: 6 candidates, 0 with a script already"),
    ("observe", {}, "no sitting has tasks"),
    ("moderate", {"sitting": "day1", "size": "3"}, "3 scripts drawn"),
    ("moderate", {"sitting": "day1", "size": "none"}, "is no number"),
    ("results", {"unfinished": "yes"}, "6 of 7 papers with marks"),
    ("debrief", {"sitting": "day1", "names": "yes"}, "Debrief of First paper"),
    ("decide", {"names": "yes"}, "The decisions, to print and sign"),
    ("certify", {"candidate": "c001"}, "0 certificates issued"),
    ("certify", {"candidate": "nobody"}, "no candidate"),
    ("take-home", {"candidate": "c001"}, "Nothing for c001"),
    ("verify", {}, "every line as it was written"),
    ("verify", {"code": "AAAAA-AAAAA"}, ""),
    ("export", {"candidate": "c001"}, "All that is held about c001"),
    ("mark", {}, "0 scripts marked"),
)  # fmt: skip


def test_every_button_does_its_work_or_says_in_a_line_why_not(opened, tmp_path):
    school = marked_cohort(tmp_path / "school", 6, exercises=("fault-diary", "explain-to-the-crew"), twist=_twist)
    desk = opened(school.folder)
    for action, fields, says in PRESSED:
        said = words(desk.press(action, **fields))
        state = desk.served.desk.jobs.latest.state
        assert state in (State.DONE, State.TO_MEND), f"{action}: {desk.served.desk.jobs.latest.said}"
        assert says in said, f"{action} {fields}: {desk.served.desk.jobs.latest.said}"
    wrong = {"file": ("wrong.json", b"{}")}
    for action in ("take-words", "take-keyin", "take-observe", "take-second", "settle", "verify-file"):
        said = words(desk.press(action, wrong, sitting="day1"))
        job = desk.served.desk.jobs.latest
        assert job.state in (State.DONE, State.TO_MEND), f"{action}: {job.said}"
        assert "wrong.json" in said, f"{action}: {job.said}"
        assert "pitside-desk-" not in said, "a file is told of by the name that its sender knows"
        nothing = desk.press(action, sitting="day1")
        assert "choose one file first" in words(nothing)
    for action in ("revoke", "forget", "mark-again"):
        assert "say why" in words(desk.press(action, candidate="c001", serial="x"))
    for room in (*ROOMS, "records?candidate=c001"):
        assert desk.get(room).status == 200
    assert not (school.records / "faults").exists()


def test_command_at_work_in_the_school_is_told_and_not_disturbed(opened, school):
    desk = opened(school.folder)
    with only_one(school.folder):
        assert "another pitside command is at work here" in words(desk.press("issue"))
    assert not school.register_file.exists() or not Register(school).papers


def test_two_desks_on_a_school_do_one_thing_at_a_time(opened, school):
    one, other = opened(school.folder), opened(school.folder)
    assert one.host != other.host
    assert "4 papers drawn" in words(one.press("issue"))
    assert "0 papers drawn, 0 packs written, 4 there before" in words(other.press("issue", sitting="day1"))


def test_work_goes_on_when_its_page_is_closed_and_a_second_piece_waits(opened, school, monkeypatch):
    import threading

    from grader.desk import actions, jobs
    from grader.desk.actions import Action

    began, go_on = threading.Event(), threading.Event()

    def long_work(school, given, progress):
        for done in range(5):
            progress(done, 5)
            began.set()
            assert go_on.wait(60)
        return jobs.Said.of("all of it is done")

    monkeypatch.setitem(actions.ACTIONS, "mark", Action("Mark", "scripts", long_work))
    monkeypatch.setattr("grader.desk.app.PATIENCE", 0)
    desk = opened(school.folder)
    head = {"Origin": f"http://{desk.host}", "Content-Type": "application/x-www-form-urlencoded"}
    form = f"secret={desk.served.desk.entry.form_secret}"
    begun = desk.say("POST", f"{desk.base}/do/mark", form, head)
    assert re.search(r"/job/1$", begun.headers["location"])
    assert began.wait(60)
    assert json.loads(desk.get("job/1/how-far").text) == {"over": False, "done": 0, "total": 5}
    assert "At work: Mark" in words(desk.get("candidates")), "a page that opens later does not tell of it"
    assert "Mark is not done yet" in words(desk.say("POST", f"{desk.base}/do/issue", form, head))
    assert "Mark is not done yet" in words(desk.say("POST", f"{desk.base}/close", form, head))
    go_on.set()
    assert desk.served.desk.jobs.get(1).ended.wait(60)
    assert "all of it is done" in words(desk.get("scripts?job=1"))


def test_work_that_is_stopped_says_that_nothing_is_lost_and_goes_on_when_begun_again(opened, school, monkeypatch):
    from grader.papers import packs

    desk = opened(school.folder)
    write = packs.write_pack

    def stopped_at_the_second(*given):
        desk.served.desk.jobs.now.stopping.set()
        return write(*given)

    with monkeypatch.context() as patch:
        patch.setattr(packs, "write_pack", stopped_at_the_second)
        assert "Stopped. Nothing is lost" in words(desk.press("issue", sitting="day1"))
    again = desk.press("issue", sitting="day1")
    assert "3 packs written, 1 there before" in words(again)


def test_fault_of_our_own_is_kept_and_told_without_its_traceback(opened, school, monkeypatch):
    from grader.papers import issue

    def broken(*given, **named):
        raise LookupError("a fault for a test")

    monkeypatch.setattr(issue, "chosen_sittings", broken)
    desk = opened(school.folder)
    said = words(desk.press("issue"))
    assert "A fault in Pitside itself (LookupError)" in said
    assert "Traceback" not in said
    assert "a fault for a test" in next((school.records / "faults").iterdir()).read_text()


def test_page_of_a_school_that_cannot_be_read_says_the_line_to_mend(opened, school):
    desk = opened(school.folder)
    (school.folder / "school.toml").write_text("[school\n")
    for room in ROOMS:
        answer = desk.get(room)
        assert answer.status == 200
        assert "school.toml: line 1:" in words(answer)


def test_file_taken_in_twice_lies_there_once_and_another_of_its_name_gets_a_number(opened, school):
    desk = opened(school.folder)
    assert "1 file taken in" in words(desk.press("take-in", {"scripts": ("a.ipynb", b"one")}))
    assert "1 file lay there before" in words(desk.press("take-in", {"scripts": ("a.ipynb", b"one")}))
    assert "1 file taken in" in words(desk.press("take-in", {"scripts": ("a.ipynb", b"two")}))
    there = {path.name: path.read_bytes() for path in school.scripts.iterdir()}
    assert there == {"a.ipynb": b"one", "a (2).ipynb": b"two"}
    assert "not taken" in words(desk.press("take-in", {"scripts": ("empty.ipynb", b"")})).lower()


def test_messages_that_name_a_command_lead_to_its_room(opened, school):
    desk = opened(school.folder)
    desk.press("issue")
    paper = Register(school).paper_of("day1", "aa-01")
    hand_in(school, paper, b"%PDF-1.4")
    text = desk.get("scripts").text
    assert "key them in (“Write the page for sheets” in the room Marked by people)" in text
    assert re.search(r'Go to <a href="[^"]+/by-hand">', text)


@pytest.mark.parametrize(
    "room", [*ROOMS, "sitting", "sitting?kind=tasks", "sitting?sitting=day1", "records?candidate=aa-01"]
)
def test_looking_at_a_room_changes_nothing(opened, school, room):
    desk = opened(school.folder)
    before = {path: path.read_bytes() for path in school.folder.rglob("*") if path.is_file()}
    desk.get(room)
    assert {path: path.read_bytes() for path in school.folder.rglob("*") if path.is_file()} == before


def test_closing_the_desk_ends_its_server(opened, school):
    desk = opened(school.folder)
    assert "The desk is closed" in words(desk.press("close"))
    assert desk.served.server.should_exit


def test_change_of_a_mark_comes_back_to_the_paper_and_forged_records_are_marked_as_wrong(opened, tmp_path):
    school = marked_cohort(tmp_path / "school", 2)
    desk = opened(school.folder)
    paper = Register(school).paper_of("day1", "c001")
    answer = desk.press("change", paper=paper.id, part="1a", marks="0", kind="appeal", reason="for a test")
    assert "Why part 1a got its mark" in words(answer)
    assert "0 now" in words(answer)
    record = school.records / "marks" / f"{paper.id}.json"
    record.write_text(record.read_text().replace('"marks": 0.0', '"marks": 1.0', 1))
    said = desk.press("verify")
    assert "Wrong:" in words(said)
    assert 'class="came mend"' in said.text
    assert "c001" in words(desk.get("results")), "the room tells of the forged record in place of its marks"
