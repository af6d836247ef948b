"""Results for everybody, whatever is wrong with one: a changed mark scheme, a candidate who left the roster."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from bs4 import BeautifulSoup
from click.testing import CliRunner
from playwright.sync_api import Page
from pypdf import PdfReader

from exercises import BANK
from exercises.model import Numeric, System
from grader.cli import commands
from grader.marking.marking import mark_school
from grader.papers.issue import issue
from grader.reports.competence import decide, write_decisions
from grader.reports.results import feedback_name, gather, write_feedback, write_results
from grader.reports.study import at_a_glance, in_words, told_in_words
from grader.store.part_marks import HandMark
from grader.store.school import School, open_school
from tests.browsing import WINDOWS
from tests.grader.cohorts import keep, marked_cohort
from tests.grader.schools import (
    CHAINED,
    EVERY_KIND,
    ONE_ROOM,
    ROSTER,
    SITTING,
    hand_in,
    make_school,
    mark_and_report,
    opened_pack,
    page_of,
    paper_of,
    quiet,
    report,
    right_answers,
    rows_of,
    script_with,
    well_formed,
)


def hand_in_right(school: School, candidate: str) -> None:
    paper = paper_of(school, candidate)
    hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))


@pytest.fixture
def marked(tmp_path, warm_room) -> School:
    """Four candidates, field and metric in turn; the scripts of the first three are marked."""
    school = make_school(tmp_path / "school")
    issue(school, school.sittings, quiet)
    for candidate in ("aa-01", "aa-02", "aa-03"):
        hand_in_right(school, candidate)
    mark_and_report(school)
    return school


@pytest.fixture
def changed(marked, monkeypatch) -> School:
    """The mark scheme has become another for metric papers: aa-02 (marked) and aa-04 (no script)."""
    exercise = BANK[CHAINED]
    first = exercise.parts[0]
    assert isinstance(first, Numeric)
    slip = dataclasses.replace(first.slips[0], name="another one", only=System.METRIC)
    parts = (dataclasses.replace(first, slips=(*first.slips, slip)), *exercise.parts[1:])
    monkeypatch.setitem(BANK, CHAINED, dataclasses.replace(exercise, parts=parts))
    return marked


def index_of(school: School) -> BeautifulSoup:
    return well_formed((school.records / "results.html").read_text(encoding="utf-8"))


def row(school: School, candidate: str) -> BeautifulSoup:
    (found,) = [line for line in index_of(school).find_all("tr") if line.find("td", string=candidate)]
    return found


def leave(school: School, candidate: str) -> School:
    """The school after the candidate's line was taken off the roster."""
    lines = [line for line in ROSTER if not line.startswith(candidate)]
    (school.folder / "roster.csv").write_text("\n".join(("id,name,employer,crew,units", *lines)) + "\n", "utf-8")
    return open_school(school.folder)


# A mark scheme that has changed --------------------------------------------------------------------------------------


def test_changed_mark_scheme_keeps_marks_and_names_its_paper(changed):
    before = rows_of(changed)["aa-02"]["marks"]
    results = report(changed)
    paper = paper_of(changed, "aa-02").id
    (remark,) = results["aa-02"].remarks
    assert remark.startswith(f"paper {paper}: the mark scheme of {CHAINED} has changed since it was issued")
    assert "mark with the exercises of that day; its marks stand as they were given then" in remark
    assert results["aa-02"].record.marks == results["aa-02"].record.out_of
    assert (rows_of(changed)["aa-02"]["marks"], rows_of(changed)["aa-02"]["remarks"]) == (before, remark)
    assert remark in row(changed, "aa-02").get_text()
    assert row(changed, "aa-02").find("a") is None


def test_changed_mark_scheme_takes_nothing_from_the_others(changed):
    for page in (changed.records / "feedback").glob("*"):
        page.unlink()
    results = report(changed)
    for candidate in ("aa-01", "aa-03"):
        assert (results[candidate].status, results[candidate].remarks) == ("marked", ())
        assert (changed.records / row(changed, candidate).find("a")["href"]).exists()
    assert not list((changed.records / "feedback").glob("*aa-02*"))


def test_changed_mark_scheme_of_a_paper_without_marks_is_said_once(changed):
    script = changed.scripts / "marram_day1_aa-04.ipynb"
    pack = opened_pack(changed, "aa-04") / script.name
    results = report(changed)
    (remark,) = results["aa-04"].remarks
    assert "marks stand" not in remark
    assert results["aa-04"].status == "not marked"
    script.write_bytes(pack.read_bytes())
    mark_school(changed, quiet, ONE_ROOM)
    (remark,) = report(changed)["aa-04"].remarks
    assert remark.startswith("scripts/marram_day1_aa-04.ipynb: paper ")
    assert remark.count("has changed since it was issued") == 1


def test_command_goes_on_past_a_changed_mark_scheme(changed):
    done = CliRunner().invoke(commands, ["results", str(changed.folder)])
    assert done.exit_code == 0
    assert "3 of 4 papers with marks" in done.output
    assert f"paper {paper_of(changed, 'aa-04').id}: the mark scheme" in done.output


def test_damaged_marks_file_takes_nothing_from_the_others(marked):
    file = marked.records / "marks" / f"{paper_of(marked, 'aa-02').id}.json"
    file.write_text(file.read_text(encoding="utf-8")[:100], encoding="utf-8")
    results = report(marked)
    assert results["aa-02"].remarks == (f"{file}: damaged; delete it and mark again",)
    assert (results["aa-02"].status, rows_of(marked)["aa-02"]["marks"]) == ("not marked", "")
    assert [results[candidate].status for candidate in ("aa-01", "aa-03")] == ["marked", "marked"]


# Who left the roster -------------------------------------------------------------------------------------------------


def test_who_left_the_roster_after_issue_is_shown_behind_it(marked):
    school = leave(marked, "aa-02")
    results = report(school)
    assert list(results) == ["aa-01", "aa-03", "aa-04", "aa-02"]
    gone = results["aa-02"]
    assert (gone.status, gone.record.marks) == ("not on the roster", gone.record.out_of)
    line = rows_of(school)["aa-02"]
    assert (line["status"], line["paper"]) == ("not on the roster", gone.paper.id)
    assert line["marks"] == f"{gone.record.marks:g}"
    shown = row(school, "aa-02")
    assert "not on the roster" in shown.get_text()
    page = well_formed((school.records / shown.find("a")["href"]).read_text(encoding="utf-8"))
    assert page.find("h1").get_text() == "First paper: feedback for aa-02"


def test_who_left_the_roster_without_handing_in_is_shown_too(marked):
    school = leave(marked, "aa-04")
    gone = report(school)["aa-04"]
    assert (gone.status, gone.record, gone.remarks) == ("not on the roster", None, ())
    assert "not on the roster" in row(school, "aa-04").get_text()


def test_script_of_who_left_the_roster_is_still_marked(tmp_path, warm_room):
    school = make_school(tmp_path / "school", ROSTER[:2])
    issue(school, school.sittings, quiet)
    hand_in_right(school, "aa-02")
    (school.folder / "roster.csv").write_text(f"id,name,employer,crew,units\n{ROSTER[0]}\n", "utf-8")
    school = open_school(school.folder)
    gone = mark_and_report(school)["aa-02"]
    assert (gone.status, gone.percent) == ("not on the roster", 100)


def test_results_are_the_same_files_each_time(marked):
    def files() -> dict[Path, bytes]:
        return {path: path.read_bytes() for path in marked.records.rglob("*") if path.suffix in (".csv", ".html")}

    before = files()
    assert {"results.csv", "results.html", "others_numbers.csv"} <= {path.name for path in before}
    report(marked)
    assert files() == before
    assert SITTING in next(path.name for path in before if path.parent.name == "feedback")


def test_feedback_shows_the_chart_that_was_read(tmp_path, warm_room):
    school = make_school(tmp_path / "school", roster=ROSTER[:1], exercises=["read-the-curve"])
    issue(school, school.sittings, quiet)
    hand_in_right(school, "aa-01")
    mark_school(school, quiet, ONE_ROOM)
    found = gather(school)
    page = write_feedback(school, found, quiet).parent / "feedback" / feedback_name(found[0])
    variant = paper_of(school, "aa-01").variants()[0]
    alt = variant.exercise.chart(variant.numbers, variant.system).alt
    pictures = BeautifulSoup(page.read_text(encoding="utf-8"), "html.parser").find_all("img", alt=alt)
    assert [picture["src"].partition(",")[0] for picture in pictures] == ["data:image/svg+xml;base64"]


@pytest.mark.parametrize(("marks", "shown", "verdict"), [(27.99, "69.9", "not reached"), (28, "70", "reached")])
def test_what_is_below_the_pass_mark_does_not_read_as_if_it_were_on_it(tmp_path, marks, shown, verdict):
    """27.99 of 40 marks are 69.975 %, which rounds to 70; 28 are 70 % exactly."""
    school = marked_cohort(tmp_path / "school", 1)
    record = gather(school)[0].record
    assert record.out_of == 40
    first, *others = record.part_marks
    # More than a part can have, which only the gradebook would refuse: here the sum is what matters.
    hand = {part: HandMark(part, 0.0, "") for part in others} | {first: HandMark(first, marks, "")}
    keep(school, record.with_hand(hand))
    results = gather(school)
    write_results(school, results)
    page = BeautifulSoup(write_feedback(school, results, quiet).read_text("utf-8"), "html.parser")
    cells = [cell.get_text(strip=True) for cell in page.select("tbody td")]
    assert shown in cells
    assert verdict in cells
    assert f"({shown} %)" in (school.records / "feedback" / feedback_name(results[0])).read_text("utf-8")
    assert float(rows_of(school)["c001"]["percent"]) == float(shown)


# The page of results -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def cohort(tmp_path_factory: pytest.TempPathFactory) -> School:
    """Eight candidates in a sitting of three exercises, one with a part in words, which six of them still wait for."""
    school = marked_cohort(
        tmp_path_factory.mktemp("results") / "school",
        8,
        exercises=("convert-mud-weight", "column-pressure", "explain-to-the-crew"),
        absent=1,
    )
    for result in gather(school)[:3]:
        keep(school, result.record.with_hand({"3c": HandMark("c", 2.0, "")}))
    report(school)
    return school


def column(page: Page, at: int) -> list[str]:
    return page.locator(f"table.results tbody tr td:nth-child({at})").all_inner_texts()


def test_the_page_sums_each_sitting_up_and_has_a_column_for_each_exercise(cohort):
    page = index_of(cohort)
    tiles = {tile.find("dt").get_text(): tile.find("dd").get_text() for tile in page.select(".summary div")}
    final = [result for result in gather(cohort) if result.is_final]
    assert (tiles["Papers issued"], tiles["Marked"], tiles["Written answers wait"]) == ("8", "3", "… 4")
    assert tiles["No script"] == "1"
    assert tiles["Reached the pass mark"] == f"{sum(one.percent >= 70 for one in final)} of 3"
    head = [cell.get_text() for cell in page.select("thead th")]
    assert [name for name in head if name[0].isdigit()] == [
        f"{number} {BANK[name].title}" for number, name in enumerate(cohort.sittings[0].exercises, 1)
    ]
    cells = row(cohort, "c001").select("td.exercise")
    assert [cell.get_text() for cell in cells] == [f"{one.marks:g}" for one in gather(cohort)[0].record.exercises]
    assert [cell.get_text() for cell in row(cohort, "c005").select("td.exercise")][2] == "…"


@pytest.mark.browser
def test_the_results_are_sorted_by_a_heading_and_turned_round(visitor, cohort):
    page = visitor(cohort.records).open("results.html")
    page.get_by_role("button", name="Marks", exact=True).focus()
    page.keyboard.press("Enter")
    marks = [float(text.split()[0]) for text in column(page, 3)[:-1]]
    assert marks == sorted(marks, reverse=True)
    assert column(page, 3)[-1] == "–"
    page.keyboard.press("Enter")
    assert [float(text.split()[0]) for text in column(page, 3)[:-1]] == marks[::-1] == sorted(marks)
    assert page.locator("th[aria-sort]").get_attribute("aria-sort") == "ascending"
    page.get_by_role("button", name="Candidate").click()
    assert column(page, 1) == [candidate.id for candidate in cohort.roster]
    page.get_by_role("button", name="2 Pressure").click()
    pressures = [float(text) for text in column(page, 7)[:-1]]
    assert pressures == sorted(pressures, reverse=True)


@pytest.mark.browser
@WINDOWS
def test_the_page_of_results_has_no_serious_fault_of_access(visitor, cohort, width, colours):
    page = visitor(cohort.records, width=width, color_scheme=colours).open("results.html")
    found = Axe().run(page)
    assert [fault for fault in found.response["violations"] if fault["impact"] in ("serious", "critical")] == []
    assert len(found.response["passes"]) > 10
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.browser
def test_a_phone_shows_every_cell_of_a_result_with_its_name(visitor, cohort):
    page = visitor(cohort.records, width=360).open("results.html")
    for cell in page.locator("table.results tbody tr").first.locator("td").all():
        box = cell.bounding_box()
        assert box is None or (box["x"] >= 0 and box["x"] + box["width"] <= 360)
    marks = page.locator("table.results tbody tr").first.locator("td.number").first
    assert marks.is_visible()
    assert marks.evaluate("cell => getComputedStyle(cell, '::before').content") == '"Marks"'
    page.get_by_label("Sort First paper by").select_option(label="Marks, lowest first")
    shown = [float(text.split()[0]) for text in column(page, 3)[:-1]]
    assert shown == sorted(shown)


@pytest.mark.browser
def test_the_page_of_results_fits_a_printed_sheet(visitor, cohort):
    """An A4 sheet on its side less 12 mm margins is 273 mm wide: 1031 px at 96 px an inch."""
    page = visitor(cohort.records, width=1031).open("results.html")
    page.emulate_media(media="print")
    assert page.evaluate("document.documentElement.scrollWidth") <= 1031


def test_what_is_signed_stands_with_the_signatures_and_names_no_command_or_file(cohort):
    write_decisions(cohort, decide(cohort, gather(cohort)))
    page = well_formed((cohort.records / "decisions.html").read_text(encoding="utf-8"))
    signed = page.select_one(".signed")
    assert "Second assessor" in signed.get_text()
    assert all(candidate.id in signed.get_text() for candidate in cohort.roster)
    for word in ("pitside", "FOLDER", ".csv", ".toml", "scripts/"):
        assert word not in page.find("body").get_text(), word


# The feedback's first page -------------------------------------------------------------------------------------------


@pytest.fixture
def one_marked(tmp_path) -> School:
    """One candidate with mistakes in a table, a number and an order; and the feedback."""

    def twist(number, variants, answers):
        answers = dict(right_answers(variants))
        order = next(name for name, typed in answers.items() if isinstance(typed.value, str) and len(typed.value) > 3)
        answers[order] = dataclasses.replace(answers[order], value="".join(sorted(str(answers[order].value))))
        for name in ("1a", "2a.heron.weight"):
            answers[name] = dataclasses.replace(answers[name], value=float(answers[name].value) * 1.37)
        return answers

    school = marked_cohort(tmp_path / "school", 1, exercises=EVERY_KIND, twist=twist)
    write_feedback(school, gather(school), quiet)
    return school


def test_feedback_says_on_top_what_to_study_by_outcome_lesson_and_part(one_marked):
    (result,) = gather(one_marked)
    glance = at_a_glance(one_marked, result.exercises)
    page = page_of(one_marked, result.candidate.id).find(class_="glance")
    assert glance.study and glance.shown
    for one in glance.study:
        # Counted again from the records: the marks of the outcome's parts.
        parts = [(marked.part_marks[part.key], sum(item.marks.total for item in part.items()))
                 for _, variant, marked in result.exercises for part in variant.exercise.parts
                 if str(part.outcome) == one.outcome]  # fmt: skip
        assert (one.marks, one.out_of) == (sum(got for got, _ in parts), sum(most for _, most in parts))
        assert 100 * one.marks < one_marked.outcome_percent * one.out_of
        assert one.outcome in page.text and f"lesson “{one.lesson}”" in page.text
        assert all(part in page.text for part in one.parts)
    lost = [one.out_of - one.marks for one in glance.study]
    assert lost == sorted(lost, reverse=True)


def test_feedback_names_the_parts_that_must_be_right_and_are_not(one_marked):
    (result,) = gather(one_marked)
    (name,) = at_a_glance(one_marked, result.exercises).not_right
    must = page_of(one_marked, result.candidate.id).find(class_="must")
    assert name in must.text and "safety" in must.text
    assert at_a_glance(dataclasses.replace(one_marked, must_pass=False), result.exercises).not_right == ()


def test_feedback_has_no_key_of_the_notebook_and_no_word_for_it(one_marked):
    (result,) = gather(one_marked)
    page = page_of(one_marked, result.candidate.id)
    keys = list(in_words(result.exercises))
    assert "2a.heron.weight" in keys
    assert [key for key in keys if key in page.text] == []
    assert [word for word in ("in quotes", "double click", "cell below") if word in page.text] == []
    record = dataclasses.replace(result.record, notes=('2a.heron.weight: "about" is not a number',))
    told = dataclasses.replace(result, record=record, remarks=record.notes)
    assert told_in_words(told.told, told.exercises) == ('2(a), Heron 4: Mud weight: "about" is not a number',)


@pytest.mark.browser
def test_printed_feedback_begins_with_its_sum_and_is_compact(one_marked, visitor, tmp_path):
    (result,) = gather(one_marked)
    page = visitor(one_marked.records / "feedback").open(feedback_name(result))
    page.pdf(path=tmp_path / "feedback.pdf", prefer_css_page_size=True)
    sheets = [sheet.extract_text() for sheet in PdfReader(tmp_path / "feedback.pdf").pages]
    for said in ("marks", "pass mark", "What to study", "What you have shown", "Your marks"):
        assert said in sheets[0], said
    assert "Exercise 1:" not in sheets[0] and "Exercise 1:" in sheets[1]
    assert len(sheets) <= 4


@pytest.mark.browser
@WINDOWS
def test_feedback_has_no_barrier_and_fits(one_marked, visitor, width, colours):
    (result,) = gather(one_marked)
    page = visitor(one_marked.records / "feedback", width, color_scheme=colours).open(feedback_name(result))
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
