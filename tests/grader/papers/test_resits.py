"""Resits, late candidates and lost packs, from issue to results: fresh numbers, and which attempt counts."""

from __future__ import annotations

import csv
import json
import warnings
from pathlib import Path

import pytest
from click.testing import CliRunner

from exercises import BANK
from exercises.model.variant import SHUFFLE
from grader.cli import commands
from grader.marking.explain import explain
from grader.marking.marking import mark_school
from grader.marking.records import marked_notebook, read_record
from grader.papers.issue import IssueTally, issue
from grader.papers.notebook import script_name
from grader.papers.packs import pack_file, read_pack
from grader.reports.results import Result, gather, write_feedback, write_results
from grader.store import register as register_module
from grader.store.errors import GraderError
from grader.store.register import Paper, Register, draw_paper
from grader.store.school import Resit, School, open_school
from tests.grader.schools import (
    CHAINED,
    EVERY_KIND,
    ONE_ROOM,
    ROSTER,
    SITTING,
    gradebook_of,
    hand_in,
    make_school,
    pack_of,
    quiet,
    right_answers,
    script_with,
    well_formed,
)
from tests.sharing import a_few


def attempt_of(school: School, candidate: str, attempt: int) -> Paper:
    paper = Register(school).paper_of(SITTING, candidate, attempt)
    assert paper is not None
    return paper


def numbers_of(paper: Paper) -> dict[str, dict]:
    """What was drawn for each exercise, without the order in which steps are shown."""
    return {e.exercise: {n: v for n, v in e.numbers.items() if not n.startswith(SHUFFLE)} for e in paper.entries}


def resit(school: School, attempt: int = 2, *named: str) -> IssueTally:
    return issue(school, school.sittings, quiet, attempt, named)


def answer(school: School, paper: Paper, right: bool) -> None:
    answers = dict(right_answers(paper.variants())) if right else {}
    hand_in(school, paper, script_with(school, paper, answers))


def report(school: School) -> dict[tuple[str, int], Result]:
    mark_school(school, quiet, ONE_ROOM)
    results = gather(school)
    write_results(school, results)
    write_feedback(school, results, quiet)
    return {(result.candidate.id, result.attempt): result for result in results}


def lines_of(school: School) -> list[dict[str, str]]:
    text = (school.records / "results.csv").read_text(encoding="utf-8-sig")
    return list(csv.DictReader(text.splitlines()))


def with_setting(school: School, line: str) -> School:
    path = school.folder / "school.toml"
    path.write_text(path.read_text().replace("pass_percent = 70", f"pass_percent = 70\n{line}"))
    return open_school(school.folder)


def files_of(school: School, candidate: str) -> dict[str, bytes]:
    papers = Register(school).papers_of(SITTING, candidate)
    return {name: data for paper in papers for name, data in read_pack(school, paper).items()}


def run(*words: str | Path):
    return CliRunner().invoke(commands, [str(word) for word in words])


@pytest.fixture
def resat(tmp_path, warm_room) -> School:
    """aa-01 does well and then hands in nothing right; aa-02 the other way round; aa-03 never resits."""
    school = make_school(tmp_path / "school", ROSTER[:3], exercises=EVERY_KIND)
    issue(school, school.sittings, quiet)
    resit(school, 2, "aa-01", "aa-02")
    for candidate, attempt, right in (
        ("aa-01", 1, True), ("aa-01", 2, False), ("aa-02", 1, False), ("aa-02", 2, True), ("aa-03", 1, True),
    ):  # fmt: skip
        answer(school, attempt_of(school, candidate, attempt), right)
    return school


# Issuing -------------------------------------------------------------------------------------------------------------


def test_resit_has_other_numbers_in_every_exercise_for_all_or_those_named(school):
    assert resit(school, 2, "aa-02") == IssueTally(drawn=1, packed=1, already=0)
    assert resit(school) == IssueTally(drawn=3, packed=3, already=1)
    assert resit(school, 3, "aa-01") == IssueTally(drawn=1, packed=1, already=0)
    for candidate in ("aa-01", "aa-02", "aa-03", "aa-04"):
        papers = Register(school).papers_of(SITTING, candidate)
        assert [paper.attempt for paper in papers] == ([1, 2, 3] if candidate == "aa-01" else [1, 2])
        assert len({script_name(school, paper) for paper in papers}) == len(papers)
        for exercise in EVERY_KIND:
            drawn = [json.dumps(numbers_of(paper)[exercise], sort_keys=True) for paper in papers]
            assert len(set(drawn)) == len(papers)


def test_resit_again_draws_nothing_and_touches_no_file(school):
    resit(school)
    register, files = school.register_file.read_bytes(), files_of(school, "aa-01")
    assert resit(school) == IssueTally(drawn=0, packed=0, already=4)
    assert (school.register_file.read_bytes(), files_of(school, "aa-01")) == (register, files)


def test_resit_leaves_the_first_pack_as_it_was_and_says_which_attempt_it_is(school):
    before = files_of(school, "aa-01")
    resit(school, 2, "aa-01")
    after = files_of(school, "aa-01")
    assert before.items() <= after.items()
    assert sorted(after.keys() - before.keys()) == sorted(name.replace("aa-01", "aa-01_attempt2") for name in before)
    notebook = pack_of(school, attempt_of(school, "aa-01", 2))
    assert notebook["cells"][0]["source"].startswith("# First paper, attempt 2\n")
    for name in after.keys() - before.keys():
        if name.endswith(("_worksheet.html", "_sheet.html")):
            assert "First paper, attempt 2" in after[name].decode()


def test_attempt_before_must_have_been_issued_and_nothing_is_drawn(school):
    before = school.register_file.read_bytes()
    done = run("issue", school.folder, "--sitting", SITTING, "--attempt", "3")
    assert isinstance(done.exception, GraderError)
    assert str(done.exception) == "sitting day1: attempt 2 was issued to nobody; issue that first"
    resit(school, 2, "aa-02")
    with pytest.raises(GraderError, match=r"attempt 2 was never issued to aa-01; issue that first"):
        resit(school, 3, "aa-01", "aa-02")
    assert len(school.register_file.read_bytes().splitlines()) == len(before.splitlines()) + 1


def test_equal_numbers_are_drawn_again_always_the_same_way(issued_school):
    sitting, candidate = issued_school.sittings[0], issued_school.roster[0]
    plain = draw_paper(issued_school, sitting, candidate, 2)
    # As if an earlier paper had the very numbers that this attempt would draw at first.
    drawn = [draw_paper(issued_school, sitting, candidate, 2, [plain]) for _ in range(2)]
    assert drawn[0] == drawn[1]
    for exercise, numbers in numbers_of(drawn[0]).items():
        assert numbers != numbers_of(plain)[exercise]


def test_exercise_without_other_numbers_is_one_clear_line(school, monkeypatch):
    real = register_module.draw

    def only_one(exercise, generator, system):
        return real(exercise, register_module.np.random.default_rng(1), system)

    monkeypatch.setattr(register_module, "draw", only_one)
    sitting, candidate = school.sittings[0], school.roster[0]
    first = draw_paper(school, sitting, candidate, 1)
    with pytest.raises(GraderError) as caught:
        draw_paper(school, sitting, candidate, 2, [first])
    assert str(caught.value).startswith(
        f"sitting day1: exercise {EVERY_KIND[0]} has no other numbers for attempt 2 of aa-01; make a new sitting in "
    )


def test_candidates_of_the_ordinary_issue_can_be_named_and_a_late_one_follows(tmp_path):
    school = make_school(tmp_path / "school")
    assert issue(school, school.sittings, quiet, named=("AA-03", "aa-01")) == IssueTally(2, 2, 0)
    assert [paper.candidate for paper in Register(school).papers.values()] == ["aa-01", "aa-03"]
    before = school.register_file.read_bytes()
    with (school.folder / "roster.csv").open("a", encoding="utf-8") as roster:
        roster.write("aa-09,Late Comer,,day crew,metric\n")
    done = run("issue", school.folder, "--candidate", "aa-09")
    assert (done.exit_code, done.output.splitlines()[0]) == (
        0, f"day1: 1 paper drawn, 1 pack written, 0 there before: {school.packs / SITTING}"
    )  # fmt: skip
    assert school.register_file.read_bytes().startswith(before)
    assert issue(open_school(school.folder), school.sittings, quiet) == IssueTally(2, 2, 3)


def test_unknown_candidate_is_one_clear_line(school):
    done = run("issue", school.folder, "--candidate", "zz-99")
    assert isinstance(done.exception, GraderError)
    assert "roster.csv: no candidate 'zz-99'" in str(done.exception)


def test_resit_needs_its_sitting(school):
    done = run("issue", school.folder, "--attempt", "2")
    assert (done.exit_code, f"--sitting {SITTING}; there are: {SITTING}" in done.output) == (2, True)


def test_resit_for_nobody_named_draws_nothing_and_lists_who_may_need_it(school):
    """A resit for a whole class is a slip more often than not."""
    answer(school, attempt_of(school, "aa-01", 1), right=True)
    answer(school, attempt_of(school, "aa-02", 1), right=False)
    answer(school, attempt_of(school, "aa-03", 1), right=False)
    report(school)
    resit(school, 2, "aa-03")
    before = school.register_file.read_bytes()
    done = run("issue", school.folder, "--sitting", SITTING, "--attempt", "2")
    command = f"pitside issue {school.folder} --sitting {SITTING} --attempt 2"
    assert (done.exit_code, done.output.splitlines()) == (
        2,
        [
            "Nothing is drawn yet: say for whom attempt 2 at day1 is.",
            "  aa-02: 0 %, below the pass mark of 70 %",
            "  aa-04: no script",
            f"For these: {command} --candidate aa-02 --candidate aa-04",
            f"For everybody who had attempt 1 (4): {command} --all",
        ],
    )
    assert school.register_file.read_bytes() == before
    named = run("issue", school.folder, *f"--sitting {SITTING} --attempt 2 --candidate aa-02 --candidate aa-04".split())
    assert (named.exit_code, named.output.splitlines()[0].split(":")[1]) == (
        0, " 2 papers drawn, 2 packs written, 0 there before"
    )  # fmt: skip


def test_resit_for_everybody_is_drawn_when_it_is_asked_for(school):
    with (school.folder / "roster.csv").open("a", encoding="utf-8") as roster:
        roster.write("aa-09,Late Comer,,day crew,metric\n")
    done = run("issue", school.folder, "--sitting", SITTING, "--attempt", "2", "--all")
    assert done.exit_code == 0
    again = [one.candidate for one in Register(school).papers.values() if one.attempt == 2]
    assert again == ["aa-01", "aa-02", "aa-03", "aa-04"], "all who had the attempt before"
    both = run("issue", school.folder, "--sitting", SITTING, "--attempt", "2", "--all", "--candidate", "aa-01")
    assert (both.exit_code, "--all is for everybody" in both.output) == (2, True)


# Lost packs ----------------------------------------------------------------------------------------------------------


def test_lost_pack_is_written_again_byte_for_byte_and_logged_each_time(school):
    resit(school, 2, "aa-02")
    whole, register = files_of(school, "aa-02"), school.register_file.read_bytes()
    others = files_of(school, "aa-01")
    for attempt in ("1", "2", "2"):
        file = pack_file(school, attempt_of(school, "aa-02", int(attempt)))
        file.write_bytes(b"spoilt")
        words = ["--replace", "--candidate", "aa-02", "--reason", "stick lost"]
        done = run("issue", school.folder, *words, "--attempt", attempt)
        assert (done.exit_code, done.output) == (0, f"Written again, the same paper: {file}\n")
        assert files_of(school, "aa-02") == whole
    assert school.register_file.read_bytes() == register
    assert files_of(school, "aa-01") == others
    lines = [json.loads(line) for line in (school.records / "log.jsonl").read_text().splitlines()]
    assert [(line["what"], line["paper"], line["time"], line["why"]) for line in lines] == [
        ("pack written again", attempt_of(school, "aa-02", attempt).id, time, "stick lost")
        for attempt, time in ((1, 1), (2, 1), (2, 2))
    ]
    assert all(line["when"] and line["who"] for line in lines)


def test_without_an_attempt_the_latest_pack_is_written_again(school):
    resit(school, 2, "aa-02")
    for path in school.packs.rglob("aa-02.zip"):
        path.unlink()
    assert run("issue", school.folder, "--replace", "--candidate", "aa-02", "--reason", "x").exit_code == 0
    assert len(files_of(school, "aa-02")) == 4
    assert all("attempt2" in name for name in files_of(school, "aa-02"))


def test_pack_that_was_never_issued_cannot_be_replaced(school):
    done = run(
        "issue", school.folder, "--replace", "--candidate", "aa-01", "--reason", "x", "--sitting", SITTING,
        "--attempt", "2",
    )  # fmt: skip
    assert isinstance(done.exception, GraderError)
    assert "aa-01 was never issued attempt 2 at day1; issue it first" in str(done.exception)
    assert not (school.records / "log.jsonl").exists()


@pytest.mark.parametrize("words", [["--replace"], ["--replace", "--candidate", "aa-01"], ["--reason", "x"]])
def test_replacing_needs_a_reason(school, words):
    done = run("issue", school.folder, *words)
    assert (done.exit_code, "to write packs again, say why, and whose" in done.output) == (2, True)


# Marking and results -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("setting", "counting"),
    a_few([
        ("", {("aa-01", 2), ("aa-02", 2), ("aa-03", 1)}),
        ('resit = "best"', {("aa-01", 1), ("aa-02", 2), ("aa-03", 1)}),
        ('resit = "latest"', {("aa-01", 2), ("aa-02", 2), ("aa-03", 1)}),
    ], 2),
)  # fmt: skip
def test_both_attempts_are_marked_and_the_setting_says_which_counts(resat, setting, counting):
    school = with_setting(resat, setting) if setting else resat
    results = report(school)
    assert {(whose, result.percent) for whose, result in results.items()} == {
        (("aa-01", 1), 100), (("aa-01", 2), 0), (("aa-02", 1), 0), (("aa-02", 2), 100), (("aa-03", 1), 100),
    }  # fmt: skip
    assert {whose for whose, result in results.items() if result.counts} == counting
    lines = lines_of(school)
    assert [(line["id"], line["attempt"]) for line in lines] == [
        ("aa-01", "1"), ("aa-01", "2"), ("aa-02", "1"), ("aa-02", "2"), ("aa-03", "1"),
    ]  # fmt: skip
    assert {(line["id"], int(line["attempt"])) for line in lines if line["counts"] == "yes"} == counting
    assert {line["counts"] for line in lines} == {"yes", "no"}
    page = well_formed((school.records / "results.html").read_text(encoding="utf-8"))
    assert f"the {school.resit} one with marks counts" in page.get_text()
    head = [cell.get_text() for cell in page.find("thead").find_all("th")]
    shown = [[cell.get_text() for cell in row.find_all("td")] for row in page.find("tbody").find_all("tr")]
    at = {name: head.index(name) for name in ("Candidate", "Attempt", "Counts")}
    yes = {(row[at["Candidate"]], int(row[at["Attempt"]])) for row in shown if row[at["Counts"]] == "yes"}
    assert (yes, len(shown)) == (counting, 5)


def test_each_attempt_has_its_feedback_marked_notebook_and_gradebook_entry(resat):
    report(resat)
    for attempt, name, verdict in ((1, "day1_aa-01.html", "(100 %)"), (2, "day1_aa-01_attempt2.html", "(0 %)")):
        page = well_formed((resat.records / "feedback" / name).read_text(encoding="utf-8"))
        text = page.find("header").get_text()
        paper = attempt_of(resat, "aa-01", attempt)
        assert (paper.id in text, verdict in text, "attempt 2" in text) == (True, True, attempt == 2)
        about = json.loads(marked_notebook(resat, paper).read_text(encoding="utf-8"))["metadata"]["pitside"]
        assert about["paper"] == paper.id
    index = well_formed((resat.records / "results.html").read_text(encoding="utf-8"))
    links = {link["href"] for link in index.find_all("a") if link["href"].startswith("feedback/")}
    assert len(links) == 5
    assert all((resat.records / link).exists() for link in links)
    totals: dict[tuple[str, str], float] = {}
    for (session, candidate, _), (auto, *_) in gradebook_of(resat).items():
        totals[session, candidate] = totals.get((session, candidate), 0) + auto
    full = sum(BANK[exercise].marks for exercise in EVERY_KIND)
    assert totals == {
        (SITTING, "aa-01"): full, (f"{SITTING}_attempt2", "aa-01"): 0, (SITTING, "aa-02"): 0,
        (f"{SITTING}_attempt2", "aa-02"): full, (SITTING, "aa-03"): full,
    }  # fmt: skip
    assert {path.name for path in (resat.records / "sittings").iterdir()} == {SITTING, f"{SITTING}_attempt2"}


def test_what_was_given_by_hand_goes_to_its_own_attempt(resat):
    report(resat)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from nbgrader import api
    with api.Gradebook(f"sqlite:///{resat.records / 'gradebook.db'}") as book:
        grade = book.find_grade("1a", "paper", f"{SITTING}_attempt2", "aa-01")
        grade.manual_score = 1.0
        book.db.commit()
    results = report(resat)
    assert results["aa-01", 2].record.hand["1a"].note.startswith("marks (1.0) given by hand do not count")
    assert results["aa-01", 1].record.hand == {}


def test_lost_gradebook_is_made_anew_for_both_attempts(resat):
    report(resat)
    before = gradebook_of(resat)
    (resat.records / "gradebook.db").unlink()
    report(resat)
    assert gradebook_of(resat) == before


def test_resit_that_is_not_handed_in_leaves_the_first_attempt_to_count(tmp_path, warm_room):
    school = make_school(tmp_path / "school", ROSTER[:2])
    issue(school, school.sittings, quiet)
    answer(school, attempt_of(school, "aa-01", 1), True)
    resit(school)
    results = report(school)
    assert {whose: (result.status, result.counts) for whose, result in results.items()} == {
        ("aa-01", 1): ("marked", True), ("aa-01", 2): ("no script", False),
        ("aa-02", 1): ("no script", False), ("aa-02", 2): ("no script", True),
    }  # fmt: skip


def test_refused_file_is_told_beside_its_own_attempt(tmp_path, warm_room):
    school = make_school(tmp_path / "school", ROSTER[:1])
    issue(school, school.sittings, quiet)
    resit(school)
    hand_in(school, attempt_of(school, "aa-01", 2), b"no notebook")
    results = report(school)
    assert (results["aa-01", 1].status, results["aa-01", 1].remarks) == ("no script", ())
    (remark,) = results["aa-01", 2].remarks
    assert remark.startswith("scripts/marram_day1_aa-01_attempt2.ipynb: not a notebook")


def test_who_left_the_roster_has_a_line_for_each_attempt(resat):
    (resat.folder / "roster.csv").write_text(f"id,name,employer,crew,units\n{ROSTER[1]}\n{ROSTER[2]}\n", "utf-8")
    report(open_school(resat.folder))
    assert [(line["id"], line["attempt"]) for line in lines_of(resat)] == [
        ("aa-02", "1"), ("aa-02", "2"), ("aa-03", "1"), ("aa-01", "1"), ("aa-01", "2"),
    ]  # fmt: skip


def test_explain_asks_for_the_attempt_where_two_are_marked(resat):
    report(resat)
    with pytest.raises(GraderError) as caught:
        explain(resat, "aa-01", "1a")
    assert str(caught.value) == "aa-01: part 1a is in more than one attempt (1, 2); choose with --attempt"
    for attempt in (1, 2):
        done = run("explain", resat.folder, "aa-01", "1a", "--attempt", str(attempt))
        assert attempt_of(resat, "aa-01", attempt).id in done.output.splitlines()[0]
    done = run("explain", resat.folder, "aa-03", "1a")
    assert attempt_of(resat, "aa-03", 1).id in done.output.splitlines()[0]


def test_own_first_numbers_are_nobody_elses(tmp_path, warm_room):
    """One answers the resit with what was right in the own first paper, another with what is right in that resit."""
    school = make_school(tmp_path / "school", [line.replace("metric", "field") for line in ROSTER[:2]])
    issue(school, school.sittings, quiet)
    resit(school)
    first, second = attempt_of(school, "aa-01", 1), attempt_of(school, "aa-01", 2)
    hand_in(school, second, script_with(school, second, dict(right_answers(first.variants()))))
    mine = attempt_of(school, "aa-02", 1)
    hand_in(school, mine, script_with(school, mine, dict(right_answers(second.variants()))))
    report(school)
    text = (school.records / "others_numbers.csv").read_text(encoding="utf-8-sig")
    found = {
        (row["candidate"], row["attempt"], row["numbers_of"], row["numbers_of_attempt"])
        for row in csv.DictReader(text.splitlines())
    }
    assert ("aa-02", "1", "aa-01", "2") in found
    assert all(row[0] != row[2] for row in found)
    assert "aa-01 (attempt 2)" in (school.records / "results.html").read_text(encoding="utf-8")


def test_answers_of_the_first_paper_earn_nothing_in_the_resit_beyond_chance(tmp_path, warm_room):
    school = make_school(tmp_path / "school", ROSTER[:1], exercises=(CHAINED,))
    issue(school, school.sittings, quiet)
    resit(school)
    first, second = attempt_of(school, "aa-01", 1), attempt_of(school, "aa-01", 2)
    hand_in(school, second, script_with(school, second, dict(right_answers(first.variants()))))
    report(school)
    record = read_record(school, second.id)
    assert record.marks < record.out_of


# Settings ------------------------------------------------------------------------------------------------------------


def test_school_without_the_setting_takes_the_latest_and_a_wrong_one_is_one_clear_line(school):
    assert school.resit is Resit.LATEST
    assert with_setting(school, 'resit = "best"').resit is Resit.BEST
    path = school.folder / "school.toml"
    path.write_text(path.read_text().replace('"best"', '"mean"'))
    with pytest.raises(GraderError) as caught:
        open_school(school.folder)
    assert str(caught.value) == f'{path}: [marking] resit = \'mean\': write "latest" or "best"'
