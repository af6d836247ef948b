"""The evening debrief: its numbers worked out again from the files, and faults that were planted for it to find."""

from __future__ import annotations

import csv
import json
import re
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner
from scipy import stats

from exercises import BANK, LESSONS
from exercises.model import Numeric, Order
from grader.cli import commands
from grader.demo.simulation import Typed
from grader.marking.changes import change_mark
from grader.marking.records import read_record
from grader.reports.debrief import Debrief, debrief, write_debrief
from grader.reports.results import gather, write_results
from grader.store.errors import GraderError
from grader.store.part_marks import ChangeKind, HandMark
from grader.store.register import Register, draw_paper
from grader.store.school import School, open_school
from tests.grader.cohorts import keep, marked_cohort, record_of
from tests.grader.planted import BAD, BAD_PART, by_the_book, times_right, with_slip, wrong_scheme
from tests.grader.schools import SITTING, paper_of, well_formed

CANDIDATES, ABSENT = 64, 4
EXERCISES = ("column-pressure", "weight-up-growing", BAD)
#: A third of the class was taught this wrongly, and a quarter works part (a) of the second exercise as nobody should.
GROUP, SLIP = range(0, 60, 3), "measured depth"
SHARING, TIMES = range(1, 60, 4), 0.731


def studied(school: School) -> Debrief:
    return debrief(school, school.sitting(SITTING), gather(school))


@pytest.fixture(scope="module")
def planted(tmp_path_factory):
    """A sitting of sixty with a shared slip, a shared answer that is no slip, and a wrong mark scheme; its debrief."""
    with wrong_scheme() as sound:
        honest = by_the_book(sound, CANDIDATES, seed=8)

        def twist(number, variants, answers):
            given = dict(honest(number, variants, answers))
            if number in GROUP:
                given["1a"] = with_slip(variants[0], "a", SLIP)
            if number in SHARING:
                given["2a"] = times_right(variants[1], "a", TIMES)
            return given

        school = marked_cohort(
            tmp_path_factory.mktemp("planted") / "school", CANDIDATES, 4, EXERCISES, twist=twist, absent=ABSENT
        )
        write_results(school, gather(school))
        study = studied(school)
        page = write_debrief(school, study, {}, None)
    return school, study, page


@pytest.fixture(scope="module")
def table(planted) -> tuple[list[str], list[list[dict]]]:
    """Who has marks, and the items of each as its record on the disk has them."""
    school, _, _ = planted
    records = [json.loads(file.read_text()) for file in sorted((school.records / "marks").glob("*.json"))]
    items = [
        [item | {"name": f"{n}{item['item']}"} for n, e in enumerate(record["exercises"], 1) for item in e["items"]]
        for record in records
    ]
    return [record["candidate"] for record in records], items


def test_the_spread_is_that_of_the_results_table(planted):
    school, study, page = planted
    with (school.records / "results.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    percents = {row["id"]: 100 * float(row["marks"]) / float(row["out_of"]) for row in rows if row["marks"]}
    assert dict(study.percents) == pytest.approx(percents)
    assert [who for who, _ in study.without] == [row["id"] for row in rows if not row["marks"]]
    values = np.array(list(percents.values()))
    text = " ".join(well_formed(page.read_text(encoding="utf-8")).get_text(" ").split())
    assert f"mean {values.mean():.0f} %, middle {np.median(values):.0f} %" in text
    assert f"from {values.min():.0f} to {values.max():.0f} %" in text
    assert f"{(values >= 70).sum()} of {len(values)} reached the pass mark of 70 %" in text


def test_facility_discrimination_and_omissions_are_those_of_the_records(planted, table):
    _, study, _ = planted
    _, scripts = table
    assert [part.name for part in study.parts] == [
        "1a",
        "1b",
        "1c",
        "2a",
        "2b",
        "2c",
        "2d",
        "3a",
        "3b",
        "3c",
        "3d",
        "3e",
    ]
    totals = np.array([sum(item["marks"] for item in items) for items in scripts])
    for part in study.parts:
        own = [[item for item in items if item["name"].split(".")[0] == part.name] for items in scripts]
        marks = np.array([sum(item["marks"] for item in items) for items in own])
        assert part.figures.facility == pytest.approx(marks.mean() / sum(item["out_of"] for item in own[0]))
        blank = [all(item["rule"] == "no answer" for item in items) for items in own]
        assert part.figures.omitted == pytest.approx(np.mean(blank))
        found = stats.pearsonr(marks, totals - marks)
        interval = found.confidence_interval(0.95)
        said = part.figures.discrimination
        assert (said.value, said.low, said.high) == pytest.approx((found.statistic, interval.low, interval.high))


def test_the_outcomes_are_those_of_the_records(planted, table):
    school, study, _ = planted
    candidates, scripts = table
    outcome_of = {f"{n}{part.key}": part.outcome for n, e in enumerate(EXERCISES, 1) for part in BANK[e].parts}
    assert {one.outcome for one in study.outcomes} == {str(outcome) for outcome in outcome_of.values()}
    for one in study.outcomes:
        own = [[i for i in items if outcome_of[i["name"].split(".")[0]] == one.outcome] for items in scripts]
        shares = np.array([sum(i["marks"] for i in items) / sum(i["out_of"] for i in items) for items in own])
        assert one.mastery == pytest.approx(shares.mean())
        reached = {who for who, share in zip(candidates, shares, strict=True) if share >= school.pass_percent / 100}
        assert set(one.shown) == reached
        assert set(one.not_yet) == set(candidates) - reached
    assert [one.mastery for one in study.outcomes] == sorted(one.mastery for one in study.outcomes)


def test_slips_are_counted_and_costed_as_the_records_have_them(planted, table):
    _, study, _ = planted
    candidates, scripts = table
    for slip in study.slips:
        number = EXERCISES.index(slip.exercise.id) + 1
        numeric = {item.key for item in slip.exercise.items if isinstance(item, Numeric)}
        if not any(s.name == slip.name for key in numeric for s in slip.exercise.item(key).slips):
            continue
        made = [
            (who, item)
            for who, items in zip(candidates, scripts, strict=True)
            for item in items
            if item["name"][0] == str(number) and item["rule"] == "known slip" and item["slip"] == slip.name
        ]
        assert set(slip.candidates) == {who for who, _ in made}
        assert slip.marks_lost == pytest.approx(sum(item["out_of"] - item["marks"] for _, item in made))
    lost = [slip.marks_lost for slip in study.slips]
    assert lost == sorted(lost, reverse=True)


def test_the_slip_that_a_group_shares_is_the_first_to_teach_again(planted):
    school, study, page = planted
    first = study.to_teach[0]
    assert (first.exercise.id, first.name, first.parts[0]) == ("column-pressure", SLIP, "1a")
    assert {school.roster[n].id for n in GROUP} <= set(first.candidates)
    slip = next(s for s in BANK["column-pressure"].item("a").slips if s.name == SLIP)
    assert first.advice == slip.advice
    told = well_formed(page.read_text(encoding="utf-8")).ol.li.get_text(" ")
    assert SLIP in told
    assert f"{len(first.candidates)} of {CANDIDATES - ABSENT} candidates" in told
    assert slip.advice in told
    assert LESSONS["mud-weight"].title in told


def test_the_exercise_with_the_wrong_mark_scheme_is_the_first_to_look_at(planted):
    _, study, page = planted
    assert (study.odd[0].exercise.id, study.odd[0].id.part) == (BAD, BAD_PART)
    notes = well_formed(page.read_text(encoding="utf-8")).select("div.note li")
    assert notes[0].get_text().startswith("3d, ")


def test_an_answer_that_many_share_and_no_slip_explains_is_told(planted):
    school, study, _ = planted
    part = next(part for part in study.parts if part.name == "2a")
    (shared,) = part.shared
    assert shared.item == "2a"
    assert shared.times == pytest.approx(TIMES, rel=1e-4)
    assert set(shared.candidates) == {school.roster[n].id for n in SHARING}
    assert part in study.odd
    assert f"{len(SHARING)} candidates gave 0.731 times the right answer to 2a" in part.odd[0]


def test_sound_parts_are_not_called_bad(planted):
    _, study, _ = planted
    assert {part.name for part in study.parts if part.oddness > 1} == {"2a", "3d"}


def test_charts_have_words_that_say_the_same_and_everything_stands_in_the_page(planted):
    _, study, page = planted
    parsed = well_formed(page.read_text(encoding="utf-8"))
    spread, parts = (image["alt"] for image in parsed.find_all("img"))
    counted = [int(n) for n in re.findall(r"%: (\d+)", spread)]
    assert sum(counted) == len(study.percents)
    for part in study.parts:
        assert f"{part.name}: {100 * part.figures.facility:.0f} %" in parts
    assert all(image["src"].startswith("data:") for image in parsed.find_all("img"))


def test_names_are_shown_on_request_only(planted):
    school, study, page = planted
    assert "Candidate No." not in page.read_text(encoding="utf-8")
    names = {candidate.id: candidate.name for candidate in school.roster}
    names[school.roster[0].id] = "ליאת <b>בר</b>"
    shown = write_debrief(school, study, names, None).read_text(encoding="utf-8")
    write_debrief(school, study, {}, None)
    assert "<bdi>ליאת &lt;b&gt;בר&lt;/b&gt;</bdi>" in shown
    assert "<bdi>Candidate No. 2</bdi>" in shown


@pytest.mark.browser
def test_the_page_can_be_read_on_a_telephone_in_the_dark_and_keeps_to_itself(planted, visitor):
    school, _, page = planted
    visit = visitor(school.records, width=360, color_scheme="dark")
    opened = visit.open(page.name)
    assert opened.evaluate("document.documentElement.scrollWidth") <= 360
    assert opened.evaluate("[...document.images].every(image => image.naturalWidth > 0 && image.width <= 360)")


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["dark", pytest.param("light", marks=pytest.mark.slow)])
def test_the_page_has_no_barrier_that_axe_knows(planted, visitor, scheme):
    school, _, page = planted
    visit = visitor(school.records, width=700, color_scheme=scheme)
    found = Axe().run(visit.open(page.name))
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.browser
def test_on_paper_nothing_is_wider_than_the_sheet(planted, visitor):
    """An A4 sheet less its margins is 182 mm wide: 688 px at 96 px an inch."""
    school, _, page = planted
    visit = visitor(school.records, width=688)
    opened = visit.open(page.name)
    opened.emulate_media(media="print")
    assert opened.evaluate("document.documentElement.scrollWidth") <= 688


# Pending parts, changes, absences and resits -----------------------------------------------------------------------


@pytest.fixture
def small(tmp_path) -> School:
    """Twelve candidates, one absent; the third part of the paper waits for hand marks."""
    return marked_cohort(tmp_path / "small", 12, 3, ("explain-to-the-crew", "column-pressure"), absent=1)


def test_a_script_with_a_part_that_waits_has_no_percentage_and_no_verdict(small):
    study = studied(small)
    assert len(study.pending) == 11
    assert (study.percents, {one.percent for one in study.helped}) == ({}, {None})
    assert "1c" not in {part.name for part in study.parts}
    # The outcome of the part that waits is not judged; those of the others are.
    waits = next(part.outcome for part in BANK["explain-to-the-crew"].parts if part.key == "c")
    outcomes = {one.outcome for one in study.outcomes}
    assert str(waits) not in outcomes
    assert outcomes
    page = write_debrief(small, study, {}, None).read_text(encoding="utf-8")
    assert "Written answers wait" in page
    assert "reached the pass mark" not in page
    assert "No script is wholly marked yet" in page
    for candidate in small.roster[:10]:
        record = read_record(small, paper_of(small, candidate.id).id)
        keep(small, record.with_hand({"1c": HandMark("c", 1, "")}))
    study = studied(small)
    assert study.pending == (small.roster[10].id,)
    assert set(study.percents) == {one.id for one in small.roster[:10]}
    for candidate in small.roster[:10]:
        record = read_record(small, paper_of(small, candidate.id).id)
        assert study.percents[candidate.id] == pytest.approx(100 * record.marks / record.out_of)
    assert "1c" in {part.name for part in study.parts}
    assert "10 candidates are wholly marked" in write_debrief(small, study, {}, None).read_text(encoding="utf-8")


def test_who_was_absent_is_named_with_the_reason_on_record(small):
    absent = small.roster[-1].id
    assert studied(small).without == ((absent, "no script"),)
    (small.folder / "absences.csv").write_text(f"candidate,sitting,reason\n{absent},{SITTING},ill\n")
    study = studied(open_school(small.folder))
    assert study.without == ((absent, "ill"),)
    assert f"{absent}</span> (<bdi>ill</bdi>)" in write_debrief(small, study, {}, None).read_text(encoding="utf-8")


def test_the_attempt_that_counts_is_studied_and_marks_given_back_are_not_lost(tmp_path):
    def all_slip(number, variants, answers):
        return {**answers, "1a": with_slip(variants[0], "a", SLIP)}

    school = marked_cohort(tmp_path / "school", 4, 2, ("column-pressure",), twist=all_slip)
    first = next(slip for slip in studied(school).slips if slip.name == SLIP)
    assert (len(first.candidates), first.marks_lost) == (4, 12)
    change_mark(school, paper_of(school, "c001").id, "1a", 2, ChangeKind.APPEAL, "the working is right but for this")
    again = draw_paper(school, school.sittings[0], school.roster[1], 2, [paper_of(school, "c002")])
    Register(school).add([again])
    keep(school, record_of(school, again, again.variants(), {}))
    after = next(slip for slip in studied(school).slips if slip.name == SLIP)
    assert set(after.candidates) == {"c001", "c003", "c004"}
    assert after.marks_lost == 1 + 3 + 3
    assert studied(school).percents["c002"] == 0


def test_scripts_whose_mark_scheme_has_changed_are_left_out_and_named(small, monkeypatch):
    exercise = BANK["column-pressure"]
    monkeypatch.setitem(BANK, exercise.id, replace(exercise, version=exercise.version + 1))
    with pytest.raises(GraderError, match=f"no script of sitting {SITTING} has marks that can be looked into"):
        studied(small)
    candidate = small.roster[0]
    again = draw_paper(small, small.sittings[0], candidate, 2)
    Register(small).add([again])
    keep(small, record_of(small, again, again.variants(), {}))
    study = studied(small)
    assert set(study.percents) == {candidate.id}
    assert set(study.left_out) == {one.id for one in small.roster[1:11]}
    text = write_debrief(small, study, {}, None).read_text(encoding="utf-8")
    assert "since the mark scheme has changed" in text


def test_mistakes_in_an_order_a_choice_a_unit_and_by_a_factor_are_told_in_words(tmp_path):
    exercise = BANK["weight-up-fixed-final"]
    order = next(item for item in exercise.items if isinstance(item, Order))

    def twist(number, variants, answers):
        steps = {step: letter for letter, step in variants[0].shown_steps(order).items()}
        turned = "".join(steps[step] for step in reversed(variants[0].key[order.key]))
        right, unit = variants[0].given_answer(exercise.item("a"), variants[0].key["a"])
        wrong = {0: Typed(right, "kg"), 1: Typed(right * 100, unit)}.get(number, Typed(right, unit))
        others = [o.key for o in BANK["column-pressure"].item("c").options if o.key != variants[1].key["c"]]
        letter = BANK["column-pressure"].item("c").letter(others[0])
        return {**answers, f"1{order.key}": Typed(turned, ""), "1a": wrong, "2c": Typed(letter, "")}

    school = marked_cohort(tmp_path / "school", 3, 2, (exercise.id, "column-pressure"), twist=twist)
    told = {slip.name: slip for slip in studied(school).slips}
    steps = [name for name in told if "put before" in name]
    assert len(steps) == 1
    assert len(told[steps[0]].candidates) == 3
    assert told[steps[0]].advice in {rule.advice for rule in order.rules}
    assert any(re.match(r"option [A-D] chosen \(“.+[^.]”\)", name) for name in told)
    factor = next(slip for name, slip in told.items() if "by a factor of 100" in name)
    # The mark of the candidate says how large the factor was and that they carried it on; the class needs the remedy.
    assert factor.advice == "Look through the conversions and powers of ten."
    unit = told["right number, wrong unit"]
    assert unit.advice.startswith("Write the unit")
    assert unit.candidates == ("c001",)


def test_advice_that_speaks_of_a_candidates_numbers_says_whose(tmp_path):
    def twist(number, variants, answers):
        return {**answers, "1b": with_slip(variants[0], "b", BANK["hole-volume"].item("b").slips[0].name)}

    school = marked_cohort(tmp_path / "school", 3, 2, ("hole-volume",), twist=twist)
    slip = next(s for s in studied(school).slips if s.parts == ("1b",) and s.numbers_of)
    assert slip.numbers_of in slip.candidates
    assert "{" not in slip.advice
    page = write_debrief(school, studied(school), {}, None).read_text(encoding="utf-8")
    assert f"(with the numbers of {slip.numbers_of})" in page


# The command ---------------------------------------------------------------------------------------------------------


def run(*arguments: str | Path):
    return CliRunner().invoke(commands, ["debrief", *map(str, arguments)], catch_exceptions=False)


def test_the_command_writes_a_page_in_seconds_and_says_what_to_teach_first(planted):
    school, study, page = planted
    page.unlink()
    with wrong_scheme():
        began = time.process_time()
        done = run(school.folder)
        took = time.process_time() - began
    print(f"debrief of {CANDIDATES} candidates: {took:.1f} s of the processor")
    assert done.exit_code == 0
    assert took < 15
    assert f"teach again first: {SLIP}" in done.output
    assert "look at part 3d" in done.output
    assert page.is_file()
    with (school.records / f"parts_{SITTING}.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["part"] for row in rows] == [part.name for part in study.parts]
    assert [float(row["facility"]) for row in rows] == pytest.approx(
        [part.figures.facility for part in study.parts], abs=5.1e-5
    )


def test_lessons_are_linked_where_the_book_has_their_page(planted, tmp_path):
    school, _, page = planted
    (tmp_path / "lessons").mkdir()
    (tmp_path / "index.html").write_text("the book")
    (tmp_path / "lessons" / "mud-weight.html").write_text("a lesson")
    with wrong_scheme():
        assert run(school.folder, "--book", tmp_path).exit_code == 0
    links = {link.get_text(): link["href"] for link in well_formed(page.read_text(encoding="utf-8")).find_all("a")}
    assert links == {LESSONS["mud-weight"].title: (tmp_path / "lessons" / "mud-weight.html").as_uri()}


def test_what_is_wrong_is_said_in_a_line(small, tmp_path):
    from tests.grader.schools import make_school

    with pytest.raises(GraderError, match=r"no book here \(no index.html\)"):
        run(small.folder, "--book", tmp_path)
    with pytest.raises(GraderError, match="nothing is marked yet"):
        run(make_school(tmp_path / "empty").folder)
    with pytest.raises(GraderError, match="day9"):
        run(small.folder, "--sitting", "day9")
