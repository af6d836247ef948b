"""The item report: 400 candidates over 5 cohorts, every number worked out again from the files by other formulas."""

from __future__ import annotations

import csv
import json
import math
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner
from scipy import stats

from exercises import BANK
from grader.cli import commands
from grader.marking.changes import change_mark
from grader.marking.records import read_record
from grader.reports.item_statistics import Estimate, alpha_interval, coefficient_alpha, pooled_correlation
from grader.reports.items import item_report, read_cohorts, write_items
from grader.reports.part_scores import PartId
from grader.store.part_marks import ChangeKind, HandMark
from grader.store.register import Register, draw_paper
from tests.grader.cohorts import keep, marked_cohort, record_of
from tests.grader.planted import BAD, BAD_PART, by_the_book, wrong_scheme
from tests.grader.schools import SITTING, paper_of, settings, well_formed

COHORTS, CANDIDATES, ABSENT = 5, 80, 2
USUAL = ("column-pressure", "weight-up-growing", BAD)
#: One cohort had another paper.
OTHER, OTHERS_PAPER = 2, ("convert-mud-weight", "column-pressure")
#: The last cohort was hardly taught this part.
HARDER = PartId("weight-up-growing", BANK["weight-up-growing"].version, "c")


def school_settings(exercises, starts: date) -> str:
    return settings(exercises).replace("2026-05-04", starts.isoformat())


@pytest.fixture(scope="module")
def folders(tmp_path_factory) -> list[Path]:
    """Five schools, a month from each other, whose last exercise has a mark scheme that is wrong on purpose."""
    base = tmp_path_factory.mktemp("cohorts")
    with wrong_scheme() as sound:
        for n in range(COHORTS):
            honest = by_the_book(sound, CANDIDATES, seed=100 + n)

            def twist(number, variants, answers, n=n, honest=honest):
                given = dict(honest(number, variants, answers))
                if n == COHORTS - 1 and number % 2:
                    given["2c"] = None
                return given

            exercises = OTHERS_PAPER if n == OTHER else USUAL
            about = school_settings(exercises, date(2026, 1 + n, 5))
            marked_cohort(base / f"cohort{n}", CANDIDATES, n + 1, exercises, about, twist, ABSENT)
    # The latest is named first: order must come from the dates.
    return [base / f"cohort{n}" for n in reversed(range(COHORTS))]


@pytest.fixture(scope="module")
def report(folders):
    return item_report(folders)


def cohort_of(folder: Path) -> str:
    return f"marram 2026-0{1 + int(folder.name[-1])}-05"


@pytest.fixture(scope="module")
def marks(folders) -> list[tuple[str, dict[PartId, tuple[float, float, bool]]]]:
    """Each script's marks, maximum and whether it was left out, by part: read from the files by this test alone."""
    scripts = []
    for folder in folders:
        lines = [json.loads(line) for line in (folder / "register.jsonl").read_text().splitlines()]
        papers = {line["paper"]: line for line in lines if "paper" in line}
        for file in (folder / "records" / "marks").glob("*.json"):
            record = json.loads(file.read_text())
            parts = {}
            for entry, marked in zip(papers[record["paper"]]["exercises"], record["exercises"], strict=True):
                for item in marked["items"]:
                    part = PartId(entry["id"], entry["version"], item["item"].split(".")[0])
                    got, of, blank = parts.get(part, (0, 0, True))
                    parts[part] = got + item["marks"], of + item["out_of"], blank and item["rule"] == "no answer"
            scripts.append((cohort_of(folder), parts))
    return scripts


@pytest.mark.slow
def test_it_holds_every_script_once_and_puts_the_cohorts_in_order_of_time(report, marks, folders):
    assert [cohort.label for cohort in report.cohorts] == [cohort_of(folder) for folder in reversed(folders)]
    assert [len(cohort.scripts) for cohort in report.cohorts] == [CANDIDATES - ABSENT] * COHORTS
    assert [cohort.without for cohort in report.cohorts] == [ABSENT] * COHORTS
    assert len(marks) == COHORTS * (CANDIDATES - ABSENT)
    assert {item.id for item in report.items} == {part for _, parts in marks for part in parts}


@pytest.mark.slow
def test_facility_and_omissions_are_those_of_the_records_in_all_and_in_each_cohort(report, marks):
    for item in report.items:
        for label, of in [(None, item.figures), *item.cohorts.items()]:
            own = [parts[item.id] for cohort, parts in marks if item.id in parts and label in (None, cohort)]
            assert of.scripts == len(own)
            assert of.facility == pytest.approx(np.mean([got / out_of for got, out_of, _ in own]))
            assert of.omitted == pytest.approx(np.mean([blank for _, _, blank in own]))
    by_part = {item.id: item for item in report.items}
    assert set(by_part[HARDER].cohorts) == {c.label for c in report.cohorts} - {report.cohorts[OTHER].label}


@pytest.mark.slow
def test_discrimination_is_scipys_correlation_of_what_a_regression_on_the_cohorts_leaves(report, marks):
    """Another way to the correlation inside of groups; in each cohort it is Pearson's, with SciPy's interval."""
    for item in report.items:
        own = [(cohort, parts) for cohort, parts in marks if item.id in parts]
        part = np.array([parts[item.id][0] for _, parts in own])
        rest = np.array([
            sum(got for one, (got, _, _) in parts.items() if one != item.id)
            / sum(out_of for one, (_, out_of, _) in parts.items() if one != item.id)
            for _, parts in own
        ])  # fmt: skip
        cohorts = np.array([cohort for cohort, _ in own])
        dummies = (cohorts[:, None] == np.unique(cohorts)[None, :]).astype(float)
        left = [y - dummies @ np.linalg.lstsq(dummies, y, rcond=None)[0] for y in (part, rest)]
        assert item.figures.discrimination.value == pytest.approx(stats.pearsonr(*left).statistic)
        for label, of in item.cohorts.items():
            alone = stats.pearsonr(part[cohorts == label], rest[cohorts == label])
            interval = alone.confidence_interval(0.95)
            assert of.discrimination.value == pytest.approx(alone.statistic)
            assert (of.discrimination.low, of.discrimination.high) == pytest.approx((interval.low, interval.high))


@pytest.mark.slow
def test_alpha_is_that_of_an_analysis_of_variance_with_the_interval_by_scipys_f(report, marks):
    """Hoyt's way (1941, from memory): 1 - mean square left over / mean square of the scripts."""
    assert len(report.reliabilities) == COHORTS
    for one in report.reliabilities:
        scores = np.array([[got for got, _, _ in parts.values()] for cohort, parts in marks if cohort == one.cohort])
        n, k = scores.shape
        assert (one.scripts, one.parts) == (n, k)
        middle = scores.mean()
        scripts = k * ((scores.mean(axis=1) - middle) ** 2).sum()
        left = ((scores - middle) ** 2).sum() - scripts - n * ((scores.mean(axis=0) - middle) ** 2).sum()
        ratio = (left / ((n - 1) * (k - 1))) / (scripts / (n - 1))
        low, high = (1 - ratio * stats.f.ppf(q, n - 1, (n - 1) * (k - 1)) for q in (0.975, 0.025))
        assert (one.alpha.value, one.alpha.low, one.alpha.high) == pytest.approx((1 - ratio, low, high))
        out_of = next(sum(o for _, o, _ in parts.values()) for cohort, parts in marks if cohort == one.cohort)
        percents = 100 * scores.sum(axis=1) / out_of
        assert one.mean == pytest.approx(percents.mean())
        assert one.error == pytest.approx(percents.std(ddof=1) * math.sqrt(ratio))


@pytest.mark.slow
def test_the_exercise_with_the_wrong_mark_scheme_is_the_first_to_look_at(report):
    item, why = report.odd[0]
    assert item.id == PartId(BAD, BANK[BAD].version, BAD_PART)
    assert "look for a fault in the question or its marks" in why
    lowest = min(report.items, key=lambda one: one.figures.discrimination.value)
    assert lowest is item
    assert item.figures.discrimination.high < 0


@pytest.mark.slow
def test_the_part_that_one_cohort_was_not_taught_has_become_harder_and_no_other_has(report):
    changed = {item.id: item.change for item in report.items if item.change is not None}
    assert set(changed) == {HARDER}
    assert changed[HARDER] < -0.2
    item = next(item for item in report.items if item.id == HARDER)
    assert any("has become harder" in why for _, why in item.odd)


@pytest.mark.slow
def test_chance_alone_seldom_makes_a_part_easier_or_harder(folders):
    """Scripts of one cohort, dealt out as two cohorts: of a hundred deals about one may show a change in any part."""
    from grader.reports.items import _change

    cohorts, _ = read_cohorts(folders[:1])
    scripts = cohorts[0].scripts
    parts = list(scripts[0].parts)
    generator = np.random.default_rng(5)
    half = len(scripts) // 2
    alarms = 0
    for _ in range(100):
        dealt = [scripts[n] for n in generator.permutation(len(scripts))]
        alarms += any(_change(part, (dealt[:half], dealt[half:]), len(parts)) is not None for part in parts)
    # With a chance of 1 in 100 each, more than 5 alarms come once in two thousand such tests (binomial).
    assert alarms <= 5


@pytest.mark.slow
@pytest.mark.slow
def test_400_candidates_take_seconds_and_the_tables_say_what_the_report_says(folders, tmp_path):
    page = tmp_path / "over cohorts.html"
    began = time.process_time()
    done = CliRunner().invoke(commands, ["parts", *map(str, folders), "--to", str(page)], catch_exceptions=False)
    took = time.process_time() - began
    print(f"item report of {COHORTS * CANDIDATES} candidates: {took:.1f} s of the processor")
    assert done.exit_code == 0
    assert took < 30
    assert f"look at {BAD} ({BAD_PART})" in done.output
    report = item_report(folders)
    with (tmp_path / "over cohorts.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = {(r["exercise"], r["version"], r["part"], r["cohort"]): r for r in csv.DictReader(file)}
    assert len(rows) == sum(1 + len(item.cohorts) for item in report.items)
    for item in report.items:
        for label, of in [("all", item.figures), *item.cohorts.items()]:
            row = rows[item.id.exercise, str(item.id.version), item.id.part, label]
            said = [float(row[name]) for name in ("marks", "scripts", "facility", "discrimination", "omitted")]
            meant = [of.out_of, of.scripts, of.facility, of.discrimination.value, of.omitted]
            assert said == pytest.approx(meant, abs=5.1e-5)
    with (tmp_path / "over cohorts_reliability.csv").open(encoding="utf-8-sig", newline="") as file:
        alphas = [float(row["alpha"]) for row in csv.DictReader(file)]
    assert alphas == pytest.approx([one.alpha.value for one in report.reliabilities], abs=5.1e-5)


@pytest.mark.slow
def test_the_page_tells_each_number_and_each_chart_in_words_and_nobodys_name(report, tmp_path):
    write_items(report, tmp_path / "items.html")
    page = well_formed((tmp_path / "items.html").read_text(encoding="utf-8"))
    text = " ".join(page.get_text(" ").split())
    assert "Candidate No." not in text
    assert "c001" not in text
    charts = page.find_all("img")
    assert len(charts) == 2
    assert f"{BAD} ({BAD_PART}) at" in charts[0]["alt"]
    for one in report.reliabilities:
        assert f"{one.cohort}, {one.sitting}: {one.mean:.0f} %" in charts[1]["alt"]
        assert f"{one.alpha.value:.2f} ({one.alpha.low:.2f} to {one.alpha.high:.2f})" in text
    for item in report.items:
        assert f"{100 * item.figures.facility:.0f} %" in text
        assert f"{item.figures.discrimination.value:.2f} (" in text
    assert text.index(f"({BAD}), part ({BAD_PART})") < text.index(f"({HARDER.exercise}), part ({HARDER.part})")


@pytest.mark.browser
@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (360, "dark")])
@pytest.mark.slow
def test_the_page_has_no_barrier_that_axe_knows_and_fits_its_window(report, tmp_path, visitor, width, scheme):
    write_items(report, tmp_path / "items.html")
    page = visitor(tmp_path, width=width, color_scheme=scheme).open("items.html")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.browser
def test_the_page_of_one_small_cohort_has_no_barrier(small, tmp_path, visitor):
    write_items(item_report([small.folder]), tmp_path / "items.html")
    page = visitor(tmp_path, width=360, color_scheme="dark").open("items.html")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert (found := Axe().run(page)).violations_count == 0, found.generate_report()


# Few scripts, pending parts, absences and resits --------------------------------------------------------------------


@pytest.fixture
def small(tmp_path):
    """Twelve candidates, one absent, whose last part waits for hand marks; nobody slips."""
    return marked_cohort(tmp_path / "small", 12, 3, ("explain-to-the-crew", "column-pressure"), absent=1)


WRITTEN = PartId("explain-to-the-crew", BANK["explain-to-the-crew"].version, "c")


def test_a_part_that_waits_counts_nowhere_until_it_has_marks(small):
    version = next(iter(Register(small).papers.values())).entries[0].version
    written = replace(WRITTEN, version=version)
    before = item_report([small.folder])
    assert written not in {item.id for item in before.items}
    assert before.reliabilities[0].scripts == 0
    assert before.reliabilities[0].alpha is None
    for number, candidate in enumerate(small.roster[:11]):
        record = read_record(small, paper_of(small, candidate.id).id)
        keep(small, record.with_hand({"1c": HandMark("c", number % 3, "")}))
    after = item_report([small.folder])
    item = next(item for item in after.items if item.id == written)
    assert item.figures.scripts == 11
    assert item.figures.facility == pytest.approx(np.mean([n % 3 for n in range(11)]) / item.figures.out_of)
    assert after.reliabilities[0].scripts == 11
    assert after.reliabilities[0].alpha is not None


def test_a_changed_mark_and_the_attempt_that_counts_are_what_is_studied(small):
    candidate = small.roster[0]
    paper = paper_of(small, candidate.id)
    part = PartId("column-pressure", paper.entries[1].version, "a")
    change_mark(small, paper.id, "2a", 1, ChangeKind.APPEAL, "one step of the working is right")

    def marks_of_first() -> list[float]:
        (cohort,), _ = read_cohorts([small.folder])
        return [s.parts[part].marks for s in cohort.scripts if s.candidate == candidate.id]

    assert marks_of_first() == [1]
    again = draw_paper(small, small.sitting(SITTING), candidate, 2, [paper])
    Register(small).add([again])
    assert marks_of_first() == [1]
    keep(small, record_of(small, again, again.variants(), {}))
    assert marks_of_first() == [0]


def test_another_version_of_an_exercise_is_another_part_and_the_old_one_needs_no_bank(small, tmp_path, monkeypatch):
    exercise = BANK["column-pressure"]
    monkeypatch.setitem(BANK, exercise.id, replace(exercise, version=exercise.version + 1))
    newer = marked_cohort(tmp_path / "newer", 15, 9, ("column-pressure",))
    report = item_report([newer.folder, small.folder])
    scripts = {
        i.id.version: i.figures.scripts for i in report.items if (i.id.exercise, i.id.part) == (exercise.id, "a")
    }
    assert scripts == {exercise.version: 11, exercise.version + 1: 15}


def test_a_paper_of_its_own_does_not_spoil_the_reliability_of_the_others(small):
    shorter = replace(small.sitting(SITTING), exercises=("column-pressure",))
    candidate = small.roster[0]
    again = draw_paper(small, shorter, candidate, 2, [paper_of(small, candidate.id)])
    Register(small).add([again])
    keep(small, record_of(small, again, again.variants(), {}))
    found = {one.parts: one for one in item_report([small.folder]).reliabilities}
    assert {parts: one.scripts for parts, one in found.items()} == {3: 1, 6: 0}
    assert found[3].alpha is None
    assert found[3].mean == 0


# Statistics --------------------------------------------------------------------------------------------------------


@pytest.mark.published
@pytest.mark.parametrize(
    ("alpha", "scripts", "parts", "low", "high", "within"),
    [
        # Worked examples in the documentation of the Python package pingouin, cronbach_alpha (seen; said to be tested
        # against the R package psych): 15 subjects and 10 items, 12 subjects and 11 items. Printed to three decimals.
        (0.5917188485995826, 15, 10, 0.195, 0.840, 5.1e-4),
        (0.732660835214447, 12, 11, 0.435, 0.909, 5.1e-4),
        # Worked example of ci.cronbach in the manual of the R package statpsych, after Feldt 1965 (seen): 89 subjects,
        # 7 measurements. It takes n (k - 1) for the lower degrees of freedom, not (n - 1)(k - 1), hence the tolerance.
        (0.85, 89, 7, 0.7971254, 0.8931436, 1e-4),
    ],
)
def test_the_interval_of_alpha_is_that_of_published_examples(alpha, scripts, parts, low, high, within):
    assert alpha_interval(alpha, scripts, parts) == pytest.approx((low, high), abs=within)


@pytest.mark.published
def test_alpha_is_that_of_a_published_example():
    """Of cronbachalpha in the documentation of the Julia package StatsBase (seen): 0.8136 by these covariances.

    The scores are made so that they have exactly the printed covariances.
    """
    covariances = np.array([[10, 6, 6, 6], [6, 11, 6, 6], [6, 6, 12, 6], [6, 6, 6, 13]], dtype=float)
    raw = np.random.default_rng(1).normal(size=(40, 4))
    raw -= raw.mean(axis=0)
    plain = raw @ np.linalg.inv(np.linalg.cholesky(np.cov(raw.T))).T
    scores = plain @ np.linalg.cholesky(covariances).T
    assert np.cov(scores.T) == pytest.approx(covariances)
    assert coefficient_alpha(scores).value == pytest.approx(0.8136, abs=5.1e-5)


def test_a_difference_between_groups_makes_no_correlation_and_hides_none():
    generator = np.random.default_rng(2)
    apart = [(generator.normal(m, 1, 200), generator.normal(m, 1, 200)) for m in (0, 50)]
    assert np.corrcoef(*(np.concatenate(pair) for pair in zip(*apart, strict=True)))[0, 1] > 0.99
    found = pooled_correlation(apart)
    assert abs(found.value) < 0.15
    assert found.low < 0 < found.high
    alike = [(x, x + y - y.mean() - m) for m, (x, y) in zip((0, 90), apart, strict=True)]
    assert np.corrcoef(*(np.concatenate(pair) for pair in zip(*alike, strict=True)))[0, 1] < 0
    centred = [np.concatenate([a - a.mean() for a in arrays]) for arrays in zip(*alike, strict=True)]
    found = pooled_correlation(alike)
    assert found.value == pytest.approx(stats.pearsonr(*centred).statistic)
    assert found.low > 0.5


def test_nothing_is_said_of_few_scripts_or_of_marks_that_are_all_the_same():
    few = np.arange(9.0)
    assert pooled_correlation([(few, few)]) is None
    assert pooled_correlation([]) is None
    many = np.arange(20.0)
    assert pooled_correlation([(many, np.full(20, 0.7))]) is None
    assert pooled_correlation([(many, 2 * many)]) == Estimate(1, 1, 1)
    assert coefficient_alpha(np.ones((20, 4))) is None
    assert coefficient_alpha(np.arange(20.0).reshape(20, 1)) is None
    assert coefficient_alpha(np.arange(18.0).reshape(9, 2)) is None


# What can be wrong --------------------------------------------------------------------------------------------------


def said(*arguments: str | Path) -> tuple[int, str]:
    from grader.store.errors import GraderError

    try:
        done = CliRunner().invoke(commands, ["parts", *map(str, arguments)], catch_exceptions=False)
    except GraderError as error:
        return 2, str(error)
    return done.exit_code, done.output


def test_what_is_wrong_is_said_in_a_line(small, tmp_path):
    from tests.grader.schools import make_school

    empty = make_school(tmp_path / "empty").folder
    assert said(small.folder, small.folder / ".." / "small") == (
        2, f"{small.folder / '..' / 'small'}: named twice; name each school folder once",
    )  # fmt: skip
    assert "nothing is marked yet in any of the schools" in said(empty)[1]
    assert "no school here" in said(small.folder, tmp_path / "nowhere")[1]
    code, text = said(small.folder, "--to", tmp_path / "page.pdf")
    assert code == 2
    assert "ends with .html" in text
    assert "no such folder" in said(small.folder, "--to", tmp_path / "none" / "page.html")[1]
    code, text = said(small.folder, empty)
    assert code == 0
    assert "nothing is marked there yet" in text
    assert (small.records / "items.html").is_file()


def test_schools_of_one_id_and_date_are_told_apart_by_their_folders(small, tmp_path):
    twin = marked_cohort(tmp_path / "twin", 11, 9, ("column-pressure",))
    report = item_report([small.folder, twin.folder])
    assert [cohort.label for cohort in report.cohorts] == ["marram 2026-05-04 (small)", "marram 2026-05-04 (twin)"]


@pytest.mark.slow
def test_the_rest_of_a_script_is_all_of_its_other_parts(folders):
    cohorts, _ = read_cohorts(folders)
    seen = 0
    for script in (script for cohort in cohorts for script in cohort.scripts):
        for part in script.parts:
            assert script.rest(part) == script.share_of(one for one in script.parts if one != part)
            seen += 1
    assert seen > COHORTS * CANDIDATES
    [alone] = list(script.parts)[:1]
    assert replace(script, parts={alone: script.parts[alone]}).rest(alone) is None
