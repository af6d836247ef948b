"""What comes of tasks that were watched: from the page to the certificate, and in each report on the way."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from click.testing import CliRunner, Result
from pypdf import PdfReader

from exercises.model import Watched
from exercises.tasks import TASKS
from grader.certificates.certificates import certify, credential_in, differences, folder_of, shown_of
from grader.cli import commands
from grader.demo import yard
from grader.marking.books import lines_behind
from grader.marking.marking import mark_school
from grader.marking.trail import trail
from grader.observed.observations import Observations
from grader.observed.page import page_file, write_page
from grader.observed.sheets import sheet_files, write_sheets
from grader.observed.take import take
from grader.papers.coverage import coverage, lines
from grader.papers.issue import issue
from grader.privacy.export import write_export
from grader.reports.competence import Decision, Verdict, Way, decide, write_decisions
from grader.reports.debrief import debrief, write_debrief
from grader.reports.moderation import weighted_kappa
from grader.reports.observers import agreements, pairs
from grader.reports.results import gather
from grader.store.csv_files import read_csv
from grader.store.errors import GraderError
from grader.store.register import Register
from grader.store.school import School, open_school
from tests.browsing import Visitor
from tests.grader.observed.watching import WATCHED, critical, saved, seen, with_tasks
from tests.grader.schools import ONE_ROOM, make_school, quiet

OUT_OF = sum(TASKS[name].marks for name in WATCHED)


@pytest.fixture
def school(tmp_path: Path) -> School:
    return with_tasks(tmp_path / "school", 4)


def watched(school: School, tmp_path: Path, said: dict[str, dict[str, str]] | None = None) -> None:
    """Everybody at both tasks, all done but what is ``said`` of a candidate's steps; taken back and marked."""
    both = [seen(school, one.id, task, (said or {}).get(one.id)) for one in school.roster for task in (1, 2)]
    take(school, saved(school, tmp_path / "first.json", *both))
    mark_school(school, quiet, ONE_ROOM)


def run(school: School, *words: str) -> Result:
    command, *rest = words
    return CliRunner().invoke(commands, [command, str(school.folder), *rest])


def decision(school: School, candidate: str) -> Decision:
    return next(one for one in decide(school, gather(school)) if one.candidate.id == candidate)


# From the page to the certificate -------------------------------------------------------------------------------------


def told(school: School, candidate: str) -> str:
    return "\n".join(trail(school, candidate))


def in_order(text: str, words: Sequence[str]) -> None:
    place = 0
    for word in words:
        assert word in text[place:], f"{word}, after what comes before it, in:\n{text}"
        place = text.index(word, place) + len(word)


def test_a_missed_critical_step_is_traced_to_the_second_attempt_and_its_certificate(visitor: Visitor, school, tmp_path):
    """Seen on the page itself, in a browser; then two attempts, the decision and the certificate."""
    step = critical(school, 1)
    write_page(school, school.sittings[0])
    page = visitor(school.records, 800).open(page_file(school, school.sittings[0]).name)
    page.fill("#observer", "Ola Hand")
    page.click('#candidates button[data-id="aa-00"]')
    for row in page.locator(".saids").all():
        row.locator("label").first.click()
    page.locator(f'input[data-item="{step}"][value="N"]').check(force=True)
    page.click("[data-finish]")
    with page.expect_download() as download:
        page.click("[data-save]")
    download.value.save_as(tmp_path / "page.json")
    take(school, tmp_path / "page.json")
    take(school, saved(school, tmp_path / "pool.json", seen(school, "aa-00", 2), observer="Ida Moor"))
    mark_school(school, quiet, ONE_ROOM)
    assert decision(school, "aa-00").verdict == "not yet competent"
    issue(school, school.sittings, quiet, 2, ["aa-00"])
    again = Register(school).paper_of(school.sittings[0].id, "aa-00", 2)
    assert again
    second = [seen(school, "aa-00", task) | {"paper": again.id} for task in (1, 2)]
    take(school, saved(school, tmp_path / "second.json", *second, observer="Ida Moor", attempt=2))
    mark_school(school, quiet, ONE_ROOM)
    assert run(school, "certify", "--candidate", "aa-00").exit_code == 0
    in_order(
        told(school, "aa-00"),
        (
            "observed: task 1, by Ola Hand (name typed)",
            f"critical step {step} not done",
            "marked, scripts/observed_",
            "attempt 2",
            "observed: task 1, by Ida Moor (name typed), Yard 2",
            "marked, scripts/observed_",
            f"certificate {school.id}-0001 of aa-00: issued",
        ),
    )


def test_an_appeal_is_traced_from_what_was_seen_to_the_certificate(school, tmp_path):
    step = critical(school, 2)
    watched(school, tmp_path, {"aa-00": {step: "P"}})
    assert decision(school, "aa-00").verdict == "not yet competent"
    appeal = run(school, "change", "aa-00", step, "2", "--kind", "appeal", "--reason", "the prompt was for another")
    assert appeal.exit_code == 0
    assert decision(school, "aa-00").verdict == "competent"
    run(school, "certify", "--candidate", "aa-00")
    in_order(
        told(school, "aa-00"),
        (
            f"critical step {step} prompted",
            "marked, scripts/observed_",
            f"part {step} changed from 0 to 2, appeal: the prompt was for another",
            f"certificate {school.id}-0001 of aa-00: issued",
        ),
    )


def test_a_disagreement_is_traced_to_who_decided_it_and_the_certificate(school, tmp_path):
    step = critical(school, 2)
    watched(school, tmp_path)
    take(school, saved(school, tmp_path / "two.json", seen(school, "aa-00", 2, {step: "N"}), observer="Ida Moor"))
    mark_school(school, quiet, ONE_ROOM)
    open_yet = decision(school, "aa-00")
    assert open_yet.verdict == "pending"
    assert any(f"Ola Hand and Ida Moor differ on 1 critical step: {step}" in why for why in open_yet.why)
    assert "1 task seen by two observers, who differ on 1 part" in run(school, "moderate", "--sitting", "day1").output
    table = school.records / "moderation_day1_decide.csv"
    (_, head), (_, row) = read_csv(table)
    assert (row[1], row[4:6]) == (step, ["2.0", "0.0"])
    row[6:] = ["2", "Ida Moor stood behind the hopper"]
    table.write_text(",".join(head) + "\n" + ",".join(row) + "\n")
    done = run(school, "moderate", "--sitting", "day1", "--decide", str(table))
    assert "1 decision is on record" in done.output
    assert decision(school, "aa-00").verdict == "competent"
    run(school, "certify", "--candidate", "aa-00")
    in_order(
        told(school, "aa-00"),
        (
            "observed: task 2, by Ola Hand (name typed)",
            f"critical step {step} not done",
            f"observers of task 2: Ola Hand and Ida Moor differ in {step}; Ola Hand counts",
            f"part {step} changed from 2 to 2, moderation: Ida Moor stood behind the hopper",
            f"certificate {school.id}-0001 of aa-00: issued",
        ),
    )


# What is certified ----------------------------------------------------------------------------------------------------


def test_a_certificate_says_what_was_shown_on_paper_and_what_at_the_machine(tmp_path):
    """The marks of the paper are not asked for here: a decision on both is made of what is known."""
    school = with_tasks(tmp_path / "school", 1)
    watched(school, tmp_path)
    settings = (school.folder / "school.toml").read_text()
    (school.folder / "school.toml").write_text(
        settings + '\n[[sitting]]\nid = "day2"\ntitle = "Second"\nday = 2026-05-06\nexercises = ["column-pressure"]\n'
    )
    school = open_school(school.folder)
    (found,) = decide(school, gather(school))
    at_machine = {one.outcome for one in found.outcomes if one.ways == (Way.MACHINE,)}
    assert at_machine == {TASKS[name].outcome for name in WATCHED}
    assert all(one.lesson for one in found.outcomes)
    passed = replace(
        found, verdict=Verdict.COMPETENT, outcomes=tuple(replace(one, shown=True) for one in found.outcomes)
    )
    (issued,) = certify(school, [passed], gather(school)).issued
    page = (folder_of(school) / f"{issued.serial}_aa-00.html").read_text()
    shown = shown_of(credential_in(page))
    on_paper, at_machines = shown.lists
    assert (on_paper.way, at_machines.way) == ("on paper", "at the machine")
    assert set(on_paper.shown) == {one.outcome for one in found.outcomes} - at_machine
    assert set(at_machines.shown) == at_machine
    headings = [one.get_text(" ", strip=True) for one in BeautifulSoup(page, "html.parser").find_all("h2")]
    assert headings[:2] == [f"Assessed {way} and shown: all of 2 outcomes" for way in ("on paper", "at the machine")]
    assert "of the school's own" not in shown.title
    assert differences(page, shown) == []
    moved = page.replace('data-field="outcome at the machine"', 'data-field="outcome on paper"')
    assert len(differences(moved, shown)) == 4, "what was shown on paper can pass for shown at the machine"
    text = write_decisions(school, [found]).read_text()
    assert "Mud weight and pressure, at the machine" in text


def test_a_school_without_tasks_certifies_in_the_words_it_always_did(tmp_path):
    school = make_school(tmp_path / "school", ["aa-00,Ada Reed,,,field"])
    (found,) = decide(school, [])
    assert all(one.named == one.outcome for one in found.outcomes)


def test_a_critical_step_fails_also_where_the_school_asks_for_no_safety_parts_of_its_papers(school, tmp_path):
    settings = school.folder / "school.toml"
    settings.write_text(settings.read_text().replace("[marking]", "[marking]\nmust_pass = false"))
    school = open_school(school.folder)
    assert not school.must_pass
    watched(school, tmp_path, {"aa-00": {critical(school, 2): "N"}})
    assert decision(school, "aa-00").verdict == "not yet competent"
    assert decision(school, "aa-01").verdict == "competent"


# What nobody may lose or forge ----------------------------------------------------------------------------------------


def test_a_step_that_the_first_observer_did_not_see_counts_by_the_second_who_did(school, tmp_path):
    step = critical(school, 2)
    watched(school, tmp_path, {"aa-00": {step: "O"}})
    assert decision(school, "aa-00").verdict == "pending"
    two = saved(school, tmp_path / "two.json", seen(school, "aa-00", 2, {step: "N"}), observer="Ida Moor")
    taken = run(school, "observe", "--take", str(two))
    assert "1 paper has marks from before this file" in taken.output
    assert "without --again" in taken.output
    waits = decision(school, "aa-00").waits
    assert any("what was observed since is not marked yet" in line for line in waits)
    mark_school(school, quiet, ONE_ROOM)
    assert decision(school, "aa-00").verdict == "not yet competent"
    assert f"Ola Hand and Ida Moor agree; Ida Moor alone saw {step}" in told(school, "aa-00")


def test_a_script_that_no_observer_wrote_is_told_and_signs_nothing(school, tmp_path):
    step = critical(school, 2)
    watched(school, tmp_path, {"aa-00": {step: "N"}})
    (script,) = school.scripts.glob("observed_*aa-00*")
    script.write_text(script.read_text().replace(f'answer(\\"{step}\\", \\"N\\"', f'answer(\\"{step}\\", \\"D\\"'))
    mark_school(school, quiet, ONE_ROOM)
    with pytest.raises(GraderError, match=r"not what observers saw, by .*observed.jsonl: the script .* is not theirs"):
        gather(school)
    take(school, tmp_path / "first.json")
    mark_school(school, quiet, ONE_ROOM)
    assert decision(school, "aa-00").verdict == "not yet competent"


# Reports --------------------------------------------------------------------------------------------------------------


def test_agreement_of_observers_is_that_of_second_marking(school, tmp_path):
    watched(school, tmp_path)
    other = dict(zip(("1b", "1d", "1e", "1f", "1i"), "NPPDD", strict=True))
    two = [seen(school, "aa-00", 1, other), seen(school, "aa-01", 1, {"1e": "N"})]
    take(school, saved(school, tmp_path / "two.json", *two, observer="Ida Moor"))
    mark_school(school, quiet, ONE_ROOM)
    both = pairs(school, school.sittings[0], gather(school))
    exercise = TASKS[WATCHED[0]].exercise
    asked = [p.key for p in exercise.parts if p.marks.total]
    first = [2.0] * (2 * len(asked))
    second = [{"N": 0.0, "P": 1.0}.get(said.get(f"1{key}", "D"), 2.0) for said in (other, {"1e": "N"}) for key in asked]
    assert [pair.second.marks for pair in both if pair.second] == second
    (found,) = agreements(school.sittings[0], school, both)
    assert (found.part, found.scripts) == (exercise.title, len(first))
    assert found.exact == pytest.approx(1 - 4 / len(first))
    assert found.kappa == weighted_kappa(first, second)


def test_moderation_of_tasks_asks_for_two_observers_and_for_no_sample(school, tmp_path):
    watched(school, tmp_path)
    alone = run(school, "moderate", "--sitting", "day1")
    assert "no marked task of day1 was watched by two observers" in str(alone.exception)
    assert "nothing is drawn" in run(school, "moderate", "--sitting", "day1", "--size", "2").output


def test_the_debrief_names_who_missed_a_critical_step_and_no_step_that_everybody_did(tmp_path):
    school = with_tasks(tmp_path / "school", 12)
    step = critical(school, 2)
    watched(school, tmp_path, {"aa-03": {step: "N"}, "aa-04": {"1b": "P"}})
    found = debrief(school, school.sittings[0], gather(school))
    assert [one.candidate for one in found.helped] == ["aa-03"]
    assert found.slips[0].critical
    assert found.slips[0].candidates == ("aa-03",)
    assert not found.odd
    text = write_debrief(school, found, {}, None).read_text()
    assert "or with a critical step missed" in text
    assert "tells nobody apart" not in text


def test_coverage_and_export_know_what_was_watched(school, tmp_path):
    watched(school, tmp_path)
    said = "\n".join(lines(coverage(school)))
    assert f"{TASKS['weigh-mud'].outcome} (at the machine)" in said
    minutes = sum(TASKS[name].minutes for name in WATCHED)
    assert f"Sitting day1: 2 tasks, {OUT_OF:g} marks, about {minutes} minutes a candidate" in said
    with zipfile.ZipFile(write_export(school, "aa-00")) as archive:
        rows = list(csv.DictReader(io.StringIO(archive.read("observed.csv").decode("utf-8-sig"))))
    assert {row["observer (name typed)"] for row in rows} == {"Ola Hand"}
    assert len(rows) == sum(len(TASKS[name].exercise.items) for name in WATCHED)
    assert {row["paper"] for row in rows} == {Register(school).paper_of("day1", "aa-00").id}


def test_sheets_tell_each_candidate_their_own_case_and_keep_the_steps_for_observers(school):
    told_file, steps_file = write_sheets(school, school.sittings[0])
    assert (told_file, steps_file) == sheet_files(school, school.sittings[0])
    page, copy = (BeautifulSoup(path.read_text(), "html.parser") for path in (told_file, steps_file))
    assert len(page.find_all("section")) == 2 * len(school.roster)
    assert len(copy.find_all("section")) == 2 * 2 * len(school.roster)  # both sides of a sheet
    cases = [
        one.text("{case}") for c in school.roster for one in Register(school).paper_of("day1", c.id).variants()[1:]
    ]
    boxes = [box.get_text(" ", strip=True) for box in page.select(".told")][1::2]
    assert all(case in box for case, box in zip(cases, boxes, strict=True))
    for name in WATCHED:
        for part in TASKS[name].exercise.parts:
            if isinstance(part, Watched):
                assert part.ask not in page.get_text()
                assert part.ask in copy.get_text()
        for caution in TASKS[name].cautions:
            assert caution in page.get_text()


@pytest.mark.slow
@pytest.mark.browser
def test_every_task_of_the_bank_is_printed_on_one_sheet_and_the_observers_copy_on_both_its_sides(tmp_path, browser):
    school = with_tasks(tmp_path / "school", 1, tuple(TASKS))
    for path, sides in zip(write_sheets(school, school.sittings[0]), (1, 2), strict=True):
        page = browser.new_page()
        page.goto(path.as_uri())
        printed = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
        page.close()
        assert len(printed.pages) == sides * len(TASKS)
        if sides == 2:
            told = [re.findall(r"side (\d) of 2", " ".join(one.extract_text().split())) for one in printed.pages]
            assert told == [["1"], ["2"]] * len(TASKS)


def test_the_table_of_tasks_is_written_as_a_page_without_an_empty_cell(tmp_path):
    done = CliRunner().invoke(commands, ["tasks", "--table", str(tmp_path / "tasks.html")])
    assert done.exit_code == 0, done.output
    page = BeautifulSoup((tmp_path / "tasks.html").read_text(encoding="utf-8"), "html.parser")
    lines = page.select("tbody tr")
    assert len(lines) == len(TASKS)
    for line, task in zip(lines, TASKS.values(), strict=True):
        cells = [cell.get_text(" ", strip=True) for cell in line.find_all(["th", "td"])]
        assert len(cells) == 5
        assert all(cells)
        assert task.outcome in cells[0]
        assert all(step in cells[1] for step in task.critical)
        assert task.source in cells[4]


# The demonstration ----------------------------------------------------------------------------------------------------


def test_the_demonstration_has_a_missed_step_a_second_attempt_and_two_observers_who_differ(tmp_path):
    roster = [f"tp-{number:02},Candidate {number},,,field" for number in range(1, 13)]
    school = make_school(tmp_path / "school", roster)
    school, page = yard.in_the_yard(school, quiet)
    assert page.exists()
    observations = Observations(school)
    papers = {paper.candidate: paper.id for paper in Register(school).papers.values() if paper.sitting == "yard"}
    assert any(Register(school).paper_of("yard", yard.MISSES_AT_FIRST, 2).id == one.paper for one in observations.all)
    (apart,) = observations.disagreements(papers[yard.SEEN_DIFFERENTLY])
    assert apart.steps == (yard.trying(),)
    found = {one.candidate.id: one for one in decide(school, gather(school))}
    missed = f"{yard.trying()} (Inspect, change and tension a screen under lock-out)"
    assert any(missed in line for line in found[yard.MISSES].failed_must_pass)
    assert not found[yard.MISSES_AT_FIRST].failed_must_pass
    assert any("differ on 1 critical step" in line for line in found[yard.SEEN_DIFFERENTLY].waits)


@pytest.mark.slow
def test_what_was_typed_in_any_way_at_any_task_is_known_again_in_its_record(tmp_path):
    school = make_school(tmp_path / "school", ["aa-00,Ada Reed,,,field", "aa-01,Bo Reed,,,metric"])
    path = school.folder / "school.toml"
    settings = path.read_text()
    listed = ", ".join(f'"{name}"' for name in TASKS)
    path.write_text(settings[: settings.index("exercises = [")] + f"tasks = [{listed}]\n")
    school = open_school(school.folder)
    issue(school, school.sittings, quiet)
    odd = {"aa-00": ("1g", "11,2"), "aa-01": ("3e", " 58 and a bit")}
    for candidate, (item, typed) in odd.items():
        tasks = [seen(school, candidate, task, {item: typed}) for task in range(1, len(TASKS) + 1)]
        take(school, saved(school, tmp_path / f"{candidate}.json", *tasks))
    mark_school(school, quiet, ONE_ROOM)
    observations = Observations(school)
    records = [result.record for result in gather(school) if result.record]
    assert [lines_behind(record, observations) for record in records] == [0, 0]
    assert records[0].marks == records[0].out_of == sum(task.marks for task in TASKS.values())
