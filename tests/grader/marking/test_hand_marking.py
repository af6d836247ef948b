"""Written parts: asked on the paper, left to a person, marked by hand on nbgrader's own page, merged, never lost."""

from __future__ import annotations

import dataclasses
import json
import os
import re
import shutil
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
import warnings
from pathlib import Path

import nbformat
import pytest
from click.testing import CliRunner

from exercises import BANK
from exercises.model import Point, Written
from exercises.model.marking import Rule
from exercises.model.soundness import faults
from grader.cli import commands
from grader.marking.changes import change_mark
from grader.marking.explain import explain
from grader.marking.hand_marking import SETTINGS_FILE
from grader.marking.marking import mark_school
from grader.marking.record import Record
from grader.marking.records import marked_notebook, read_record
from grader.marking.trail import check_log, trail
from grader.papers.issue import issue
from grader.papers.notebook import WRITE_HERE
from grader.store.part_marks import ChangeKind
from grader.store.school import School
from tests.grader.schools import (
    CHAINED,
    ONE_ROOM,
    ROSTER,
    SITTING,
    gradebook_of,
    hand_in,
    make_school,
    mark_and_report,
    pack_of,
    page_of,
    paper_of,
    quiet,
    report,
    right_answers,
    rows_of,
    script_with,
    well_formed,
)
from tests.sharing import a_few

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from nbgrader import api

#: The written part follows the parts that the exercise of the bank has.
KEY = "abcdefghij"[len(BANK[CHAINED].parts)]
NAME = f"1{KEY}"
WHY = Written(
    key=KEY,
    ask="Say in two sentences what could go wrong.",
    points=(Point("Names the settling of the weighting material.", 2), Point("Names a check of the scale.", 1.5)),
    model="The barite may settle. Check the balance with water first.",
    outcome="Judge a result.",
)
WORDS = "The barite may <b>settle</b>, and $x$ too. <script>alert('mine')</script>"


@pytest.fixture
def written(tmp_path, warm_room, monkeypatch) -> School:
    """Two candidates with a written part in their papers; both scripts are in, one with words and one without."""
    exercise = BANK[CHAINED]
    monkeypatch.setitem(BANK, CHAINED, dataclasses.replace(exercise, parts=(*exercise.parts, WHY)))
    school = make_school(tmp_path / "school", roster=ROSTER[:2])
    issue(school, school.sittings, quiet)
    for candidate in ("aa-01", "aa-02"):
        hand_in_words(school, candidate, WORDS if candidate == "aa-01" else "")
    return school


def hand_in_words(school: School, candidate: str, words: str) -> None:
    paper = paper_of(school, candidate)
    script = script_with(school, paper, dict(right_answers(paper.variants())))
    if words:
        cell_of(script)["source"] = words
    hand_in(school, paper, script)


def cell_of(script: dict) -> dict:
    (cell,) = [cell for cell in script["cells"] if cell.get("id") == f"answer-{NAME}"]
    return cell


def hand_mark(school: School, candidate: str, part: str, marks: float | None, comment: str | None) -> None:
    with api.Gradebook(f"sqlite:///{school.records / 'gradebook.db'}") as book:
        book.find_grade(part, "paper", SITTING, candidate).manual_score = marks
        book.find_comment(part, "paper", SITTING, candidate).manual_comment = comment
        book.db.commit()


def test_exercise_with_a_written_part_is_sound(written):
    for variant in paper_of(written, "aa-01").variants():
        assert faults(variant) == []
    assert BANK[CHAINED].marks == sum(part.marks.total for part in BANK[CHAINED].parts)


@pytest.mark.parametrize("points", [(), (Point("nothing", 0),)])
def test_written_part_without_marks_cannot_be_made(points):
    parts = (*BANK[CHAINED].parts, dataclasses.replace(WHY, points=points))
    with pytest.raises(ValueError, match="needs points, each with marks"):
        dataclasses.replace(BANK[CHAINED], parts=parts)


def test_paper_has_a_cell_for_words_and_shows_nothing_of_the_mark_scheme(written):
    pack = pack_of(written, paper_of(written, "aa-01"))
    cell = cell_of(pack)
    assert (cell["cell_type"], cell["source"]) == ("markdown", WRITE_HERE)
    about = cell["metadata"]["nbgrader"]
    assert (about["grade"], about["solution"], about["locked"], about["points"]) == (True, True, False, 3.5)
    assert (about["grade_id"], about["cell_type"]) == (NAME, "markdown")
    text = json.dumps(pack)
    assert WHY.ask in text
    assert WHY.model not in text
    assert not any(point.text in text for point in WHY.points)
    assert pack["cells"][1]["source"].count(f'"{NAME}"') == 1, "it stands where words are told of, and nowhere else"


def test_digest_of_the_mark_scheme_hangs_on_points_and_marks(written):
    (variant,) = paper_of(written, "aa-01").variants()
    other = dataclasses.replace(WHY, points=(dataclasses.replace(WHY.points[0], marks=1), WHY.points[1]))
    changed = dataclasses.replace(variant.exercise, parts=(*variant.exercise.parts[:-1], other))
    assert dataclasses.replace(variant, exercise=changed).scheme_digest != variant.scheme_digest


def test_written_part_is_left_pending_and_what_was_not_written_is_blank(written):
    results = mark_and_report(written)
    one, two = results["aa-01"], results["aa-02"]
    assert (one.status, one.record.pending) == ("pending hand marks", (NAME,))
    assert one.remarks == (f"Part {NAME} waits for hand marks.",)
    assert one.record.marks == one.record.out_of - 3.5
    item = one.record.exercises[0].items[-1]
    assert (item.rule, item.marks, item.out_of, item.given) == (Rule.PENDING, 0, 3.5, WORDS)
    assert (two.status, two.record.pending) == ("marked", ())
    assert two.record.exercises[0].items[-1].rule is Rule.BLANK
    assert [rows_of(written)[c]["status"] for c in ("aa-01", "aa-02")] == ["pending hand marks", "marked"]
    assert "<b>settle</b>" in page_of(written, "aa-01").get_text()
    assert gradebook_of(written)[SITTING, "aa-01", NAME][:4] == (None, None, 0, 3.5)
    with api.Gradebook(f"sqlite:///{written.records / 'gradebook.db'}") as book:
        waiting = {c: book.find_grade(NAME, "paper", SITTING, c).needs_manual_grade for c in ("aa-01", "aa-02")}
        assert book.find_grade("1a", "paper", SITTING, "aa-01").needs_manual_grade is False
    assert waiting == {"aa-01": True, "aa-02": False}


def test_what_is_not_marked_yet_is_shown_as_pending_and_its_feedback_is_a_draft(written):
    mark_school(written, quiet, ONE_ROOM)
    assert CliRunner().invoke(commands, ["results", str(written.folder)]).exit_code == 0
    feedback = written.records / "feedback"
    assert [path.relative_to(feedback).as_posix() for path in sorted(feedback.rglob("*.html"))] == [
        f"{SITTING}_aa-02.html", f"drafts/{SITTING}_aa-01.html",
    ]  # fmt: skip
    page = page_of(written, "aa-01")
    assert "Draft." in page.find(class_="draft").get_text()
    said = " ".join(page.find("header").get_text().split())
    full = BANK[CHAINED].marks
    assert f"{full - 3.5:g} of {full - 3.5:g} marks so far" in said
    assert "%" not in said
    assert f"part {NAME}, 3.5 marks" in said
    (waits,) = page.select(".answer.waits")
    assert "Not marked yet" in waits.get_text()
    assert not page.select(".answer.short")
    row = rows_of(written)["aa-01"]
    assert (row["status"], row["percent"], row[CHAINED]) == ("pending hand marks", "", "pending")
    index = well_formed((written.records / "results.html").read_text(encoding="utf-8"))
    line = next(one for one in index.find_all("tr") if one.find("td", string="aa-01"))
    assert [cell.get_text(strip=True) for cell in line.select("td.waits")] == ["…", "pending", "…"]
    assert line.find("a")["href"] == f"feedback/drafts/{SITTING}_aa-01.html"

    told = CliRunner().invoke(commands, ["results", str(written.folder), "--unfinished"])
    assert "1 script has written answers that wait for marks" in told.output
    assert not (feedback / "drafts").exists()
    assert not page_of(written, "aa-01").select(".draft")
    hand_mark(written, "aa-01", NAME, 2.5, None)
    mark_school(written, quiet, ONE_ROOM)
    report(written)
    assert (feedback / f"{SITTING}_aa-01.html").exists()
    assert not (feedback / "drafts").exists()
    page = page_of(written, "aa-01")
    assert not page.select(".answer.waits")
    assert f"({100 * (full - 1) / full:.1f}"[:4] in page.find("header").get_text()
    assert "0 of 3.5" not in page.get_text()


def test_hand_marks_are_merged_by_marking_and_shown_with_their_comment(written):
    assert mark_school(written, quiet, ONE_ROOM).pending == 1
    hand_mark(written, "aa-01", NAME, 2.5, "Name the <i>balance</i>.")
    tally = mark_school(written, quiet, ONE_ROOM)
    assert (tally.marked, tally.already, tally.pending, tally.merged) == (0, 2, 0, 1)
    result = report(written)["aa-01"]
    assert (result.status, result.record.marks) == ("marked", result.record.out_of - 1)
    page = page_of(written, "aa-01").get_text(" ", strip=True)
    assert "Marked by hand 2.5 of 3.5 Name the <i>balance</i>." in page
    explained = "\n".join(explain(written, "aa-01", NAME))
    assert f"{NAME}: 2.5 of 3.5 marks, " in explained
    assert re.search(r"by hand       2\.5 marks \(merged from the gradebook by \S+, ", explained)
    assert "told          Name the <i>balance</i>.\n  rule          marked by hand" in explained
    line = json.loads((written.records / "log.jsonl").read_text().splitlines()[-1])
    assert (line["what"], line["hand"]) == ("hand marks merged", {NAME: [2.5, "Name the <i>balance</i>."]})
    assert line["marks"] - line["before"] == 2.5
    assert mark_school(written, quiet, ONE_ROOM).merged == 0
    record = read_record(written, result.paper.id)
    assert Record.from_json(json.loads(json.dumps(dataclasses.asdict(record)))) == record


def test_hand_marks_survive_marking_again_and_another_script(written):
    mark_school(written, quiet, ONE_ROOM)
    hand_mark(written, "aa-01", NAME, 3, "Good.")
    mark_school(written, quiet, ONE_ROOM, again="to be sure")
    hand_in_words(written, "aa-01", WORDS + " More.")
    mark_school(written, quiet, ONE_ROOM)
    record = read_record(written, paper_of(written, "aa-01").id)
    assert (record.marks, record.pending) == (record.out_of - 0.5, ())
    assert gradebook_of(written)[SITTING, "aa-01", NAME][1] == 3


def test_hand_marks_come_back_when_the_gradebook_is_lost(written):
    mark_school(written, quiet, ONE_ROOM)
    hand_mark(written, "aa-01", NAME, 3, "Good.")
    mark_school(written, quiet, ONE_ROOM)
    before = gradebook_of(written)
    (written.records / "gradebook.db").unlink()
    tally = mark_school(written, quiet, ONE_ROOM)
    assert (tally.marked, tally.merged) == (0, 0)
    assert gradebook_of(written) == before
    (written.records / "gradebook.db").unlink()
    mark_school(written, quiet, ONE_ROOM, again="the gradebook was lost")
    assert gradebook_of(written) == before


def test_hand_mark_goes_when_it_is_taken_back(written):
    mark_school(written, quiet, ONE_ROOM)
    before = read_record(written, paper_of(written, "aa-01").id)
    hand_mark(written, "aa-01", NAME, 0.5, "Hardly.")
    mark_school(written, quiet, ONE_ROOM)
    assert read_record(written, before.paper).marks == before.marks + 0.5
    hand_mark(written, "aa-01", NAME, None, None)
    mark_school(written, quiet, ONE_ROOM)
    assert read_record(written, before.paper) == before


def test_marks_and_comments_on_parts_that_are_not_written_do_not_count_and_are_said(written):
    mark_school(written, quiet, ONE_ROOM)
    paper = paper_of(written, "aa-01").id
    before, feedback = read_record(written, paper), report(written) and page_of(written, "aa-01").get_text()
    hand_mark(written, "aa-01", "1a", 0.5, None)
    hand_mark(written, "aa-01", "1b", None, "See the board.")
    hand_mark(written, "aa-01", "1c", 1, "Well.")
    tally = mark_school(written, quiet, ONE_ROOM)
    assert tally.merged == 0
    after = read_record(written, paper)
    assert after.part_marks == before.part_marks
    assert {part: (hand.marks, hand.comment) for part, hand in after.hand.items()} == dict.fromkeys(
        ("1a", "1b", "1c"), (None, "")
    )
    for line, part, what in zip(
        tally.hand_notes, ("1a", "1b", "1c"), ("marks (0.5)", "a comment", "marks (1.0) and a comment"), strict=True
    ):
        assert line.startswith(f"Paper {paper}, part {part}: {what} given by hand do")
        assert "pitside change" in line
        assert "\n" not in line
    result = report(written)["aa-01"]
    assert set(tally.hand_notes) <= set(result.remarks)
    assert page_of(written, "aa-01").get_text() == feedback
    mark_school(written, quiet, ONE_ROOM, again="to be sure")
    assert read_record(written, paper).part_marks == before.part_marks
    for part in ("1a", "1b", "1c"):
        hand_mark(written, "aa-01", part, None, None)
    assert mark_school(written, quiet, ONE_ROOM).hand_notes == ()
    assert read_record(written, paper) == before


def test_pitside_mark_prints_a_line_for_marks_that_do_not_count(written):
    mark_school(written, quiet, ONE_ROOM)
    hand_mark(written, "aa-01", "1a", 0, None)
    done = CliRunner().invoke(commands, ["mark", str(written.folder), "--allow-missing-walls"])
    assert done.exit_code == 0, done.output
    (line,) = [line for line in done.output.splitlines() if "given by hand" in line]
    assert line.startswith(f"  Paper {paper_of(written, 'aa-01').id}, part 1a: marks (0.0) given by hand do not count")


def test_marks_of_the_scheme_that_are_altered_in_the_gradebook_are_not_taken(written):
    mark_school(written, quiet, ONE_ROOM)
    before = read_record(written, paper_of(written, "aa-01").id)
    with api.Gradebook(f"sqlite:///{written.records / 'gradebook.db'}") as book:
        for grade in book.find_submission_notebook("paper", SITTING, "aa-01").grades:
            grade.auto_score, grade.needs_manual_grade = 99, False
        book.db.commit()
    mark_school(written, quiet, ONE_ROOM)
    assert read_record(written, before.paper) == before


@pytest.mark.parametrize("given", a_few(["nan", "many", "=1+1"], 1))
def test_marks_that_are_no_number_are_named_and_the_part_goes_on_waiting(written, given):
    mark_school(written, quiet, ONE_ROOM)
    hand_mark(written, "aa-01", NAME, 1, None)
    with sqlite3.connect(written.records / "gradebook.db") as book:
        book.execute("update grade set manual_score = ?, extra_credit = ? where manual_score = 1", (given, given))
    (line,) = mark_school(written, quiet, ONE_ROOM).hand_notes
    assert f'part {NAME}: "{given}" was given by hand, which is no number of marks.' in line
    assert f"extra credit of {given} was given by hand and does not count" in line
    assert read_record(written, paper_of(written, "aa-01").id).pending == (NAME,)


def test_change_stands_above_hand_marks_that_are_merged_later(written):
    mark_school(written, quiet, ONE_ROOM)
    hand_mark(written, "aa-01", NAME, 2, None)
    mark_school(written, quiet, ONE_ROOM)
    change_mark(written, paper_of(written, "aa-01").id, NAME, 3, ChangeKind.APPEAL, "the second point is there")
    hand_mark(written, "aa-01", NAME, 1, None)
    assert mark_school(written, quiet, ONE_ROOM).merged == 1
    record = read_record(written, paper_of(written, "aa-01").id)
    assert (record.part_marks[NAME], record.hand[NAME].marks) == (3, 1)
    assert [line for line in trail(written, "aa-01") if "hand marks merged" in line or "changed from 2 to 3" in line]
    check_log(written)


def extra_credit(school: School, candidate: str, part: str, marks: float) -> None:
    with api.Gradebook(f"sqlite:///{school.records / 'gradebook.db'}") as book:
        book.find_grade(part, "paper", SITTING, candidate).extra_credit = marks
        book.db.commit()


@pytest.mark.parametrize(("given", "counts"), a_few([(3.6, 3.5), (-2, 0), (35, 3.5), (float("inf"), 3.5)], 2))
def test_hand_marks_beyond_the_part_are_bounded_and_said(written, given, counts):
    mark_school(written, quiet, ONE_ROOM)
    hand_mark(written, "aa-01", NAME, given, "Well.")
    mark_school(written, quiet, ONE_ROOM)
    result = report(written)["aa-01"]
    assert result.record.marks == result.record.out_of - 3.5 + counts
    (remark,) = result.remarks
    says = f"{given:g} marks were given by hand, but it has 0 to 3.5; {counts:g} count."
    assert remark.startswith(f"Paper {result.paper.id}, part {NAME}: {says}")
    assert rows_of(written)["aa-01"]["remarks"] == remark
    assert remark in (written.records / "results.html").read_text(encoding="utf-8")
    assert remark.partition(": ")[2] in "\n".join(explain(written, "aa-01", NAME))
    told = page_of(written, "aa-01").get_text(" ", strip=True)
    assert "were given by hand" not in told
    assert f"Marked by hand {counts:g} of 3.5 Well." in told
    hand_mark(written, "aa-01", NAME, 3, "Well.")
    mark_school(written, quiet, ONE_ROOM)
    assert report(written)["aa-01"].remarks == ()


@pytest.mark.parametrize("given", a_few([1.75, 0, 3.5], 1))
def test_hand_marks_within_the_part_count_as_they_are(written, given):
    mark_school(written, quiet, ONE_ROOM)
    hand_mark(written, "aa-01", NAME, given, None)
    mark_school(written, quiet, ONE_ROOM)
    result = report(written)["aa-01"]
    assert (result.record.marks, result.remarks) == (result.record.out_of - 3.5 + given, ())


def test_extra_credit_does_not_count_and_is_said(written):
    mark_school(written, quiet, ONE_ROOM)
    hand_mark(written, "aa-01", NAME, 2, None)
    extra_credit(written, "aa-01", NAME, 1)
    extra_credit(written, "aa-02", "1a", 5)
    mark_school(written, quiet, ONE_ROOM)
    results = report(written)
    assert results["aa-01"].record.marks == results["aa-01"].record.out_of - 1.5
    ignored = "was given by hand and does not count"
    (one,), (two,) = results["aa-01"].remarks, results["aa-02"].remarks
    assert one.partition(", since")[0].endswith(f"part {NAME}: extra credit of 1 {ignored}")
    assert two.partition(", since")[0].endswith("part 1a: extra credit (5.0) given by hand do not count")
    assert results["aa-02"].record.marks == results["aa-02"].record.out_of - 3.5
    assert f"Paper {results['aa-02'].paper.id}" in two
    assert "Marked by hand" not in page_of(written, "aa-02").get_text()


def test_words_are_found_and_cells_are_ours_whatever_the_candidate_made_of_them(written):
    """Forged metadata, a second copy of the cell, a deleted answer cell: the page gets each part's cell once."""
    paper = paper_of(written, "aa-01")
    script = script_with(written, paper, dict(right_answers(paper.variants())))
    script["cells"] = [cell for cell in script["cells"] if cell["id"] not in (f"answer-{NAME}", "answer-1a")]
    forged = {"grade": True, "solution": True, "locked": False, "task": False, "grade_id": "1b", "points": 99}
    script["cells"][0]["metadata"]["nbgrader"] = {**forged, "schema_version": 3, "cell_type": "markdown"}
    hand_in(written, paper, script)
    mark_school(written, quiet, ONE_ROOM)
    notebook = nbformat.read(marked_notebook(written, paper), as_version=4)
    nbformat.validate(notebook)
    ours = [c.metadata.nbgrader for c in notebook.cells if "nbgrader" in c.metadata]
    marked = [about for about in ours if about.grade]
    assert all(about.locked and not about.solution for about in ours if not about.grade)
    assert sorted(about.grade_id for about in marked) == sorted(f"1{part.key}" for part in BANK[CHAINED].parts)
    assert 99 not in {about.points for about in marked}
    assert read_record(written, paper.id).exercises[0].items[-1].rule is Rule.BLANK


# nbgrader's own page --------------------------------------------------------------------------------------------------


def free_port() -> int:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return listener.getsockname()[1]


class Page:
    """nbgrader's server extension, started in the records folder as its settings file says, on loopback only."""

    def __init__(self, records: Path, home: Path) -> None:
        self._port = free_port()
        self.address = f"http://127.0.0.1:{self._port}"
        (documented,) = re.findall(r"jupyter server (.*)", (records / SETTINGS_FILE).read_text(encoding="utf-8"))
        command = [
            sys.executable, "-m", "jupyter_server", *documented.split(), "--port", str(self._port), "--no-browser",
            "--ServerApp.port_retries=0", "--IdentityProvider.token=", "--ServerApp.disable_check_xsrf=True",
            "--allow-root",
        ]  # fmt: skip
        env = {**os.environ, "HOME": str(home), "JUPYTER_RUNTIME_DIR": str(home), "JUPYTER_DATA_DIR": str(home)}
        self._log = (home / "server.log").open("w+")
        self._server = subprocess.Popen(command, cwd=records, env=env, stdout=self._log, stderr=self._log)
        self.process = self._server.pid
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline and self._server.poll() is None:
            try:
                self.get("/formgrader/api/status")
                return
            except OSError:
                time.sleep(0.3)
        self.close()
        raise AssertionError((home / "server.log").read_text())

    def get(self, path: str) -> str:
        with urllib.request.urlopen(f"{self.address}{path}", timeout=30) as answer:
            return answer.read().decode()

    def put(self, path: str, data: dict) -> None:
        request = urllib.request.Request(f"{self.address}{path}", data=json.dumps(data).encode(), method="PUT")
        with urllib.request.urlopen(request, timeout=30) as answer:
            assert answer.status == 200

    def close(self) -> None:
        self._server.terminate()
        self._server.wait(20)
        self._log.close()


@pytest.fixture
def page(written, tmp_path):
    if shutil.which("jupyter-server", path=str(Path(sys.executable).parent)) is None:
        pytest.skip("no jupyter server here")
    mark_school(written, quiet, ONE_ROOM)
    (tmp_path / "home").mkdir()
    server = Page(written.records, tmp_path / "home")
    yield server
    server.close()


def test_part_marked_on_nbgraders_page_is_merged(written, page):
    (sitting,) = json.loads(page.get("/formgrader/api/assignments"))
    assert (sitting["name"], sitting["num_submissions"]) == (SITTING, 2)
    submissions = {s["student"]: s for s in json.loads(page.get(f"/formgrader/api/submissions/{SITTING}"))}
    assert {name: s["needs_manual_grade"] for name, s in submissions.items()} == {"aa-01": True, "aa-02": False}
    assert all(s["autograded"] for s in submissions.values())
    (script,) = [
        s
        for s in json.loads(page.get(f"/formgrader/api/submitted_notebooks/{SITTING}/paper"))
        if s["student"] == "aa-01"
    ]
    shown = page.get(f"/formgrader/submissions/{script['id']}/")
    assert "settle" in shown
    assert "<script>alert('mine')" not in shown
    grades = json.loads(page.get(f"/formgrader/api/grades?submission_id={script['id']}"))
    comments = json.loads(page.get(f"/formgrader/api/comments?submission_id={script['id']}"))
    grade = next(g for g in grades if g["name"] == NAME)
    comment = next(c for c in comments if c["name"] == NAME)
    assert re.search(rf'id="{re.escape(NAME)}"', shown), "the page has no box for the marks of the written part"
    page.put(f"/formgrader/api/grade/{grade['id']}", {"manual_score": 3})
    page.put(f"/formgrader/api/comment/{comment['id']}", {"manual_comment": "Well said."})
    assert mark_school(written, quiet, ONE_ROOM).merged == 1
    result = report(written)["aa-01"]
    assert (result.status, result.record.marks) == ("marked", result.record.out_of - 0.5)
    assert "Well said." in page_of(written, "aa-01").get_text()
