"""What each candidate takes home: only their own, only what is final, and practice that nobody's paper gives away."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
import sys
import unicodedata
import zipfile
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from bs4 import BeautifulSoup
from click.testing import CliRunner
from playwright.sync_api import expect
from pypdf import PdfReader

from grader.cli import commands
from grader.papers.practice_papers import shown_numbers, taken_numbers
from grader.privacy.export import write_export
from grader.privacy.privacy import Person, forget
from grader.store.register import Register, draw_paper
from grader.store.school import School, open_school
from grader.take_home import pdf
from grader.take_home.take_home import SETS, folder
from tests.browsing import Visitor
from tests.grader.cohorts import marked_cohort
from tests.grader.schools import CHAINED, right_answers, well_formed
from tests.sharing import a_few

WRITTEN = "explain-to-the-crew"


def run(school: School, *words: str):
    return CliRunner().invoke(commands, [words[0], str(school.folder), *words[1:]])


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> School:
    """c001 has all right, c002 nothing, c003 half of the exercises; c004 handed nothing in. Certificates are out."""

    def twist(number, variants, given):
        right = right_answers(variants)
        return [right, {}, {name: typed for name, typed in right.items() if name[0] in "14"}][number]

    exercises = ("convert-mud-weight", CHAINED, "solids-fresh", "column-pressure")
    school = marked_cohort(tmp_path_factory.mktemp("home") / "school", 4, exercises=exercises, twist=twist, absent=1)
    for words in (("results",), ("decide",), ("certify",)):
        assert run(school, *words).exit_code == 0
    return school


@pytest.fixture
def school(made, tmp_path) -> School:
    shutil.copytree(made.folder, tmp_path / "school")
    return open_school(tmp_path / "school")


def parcel(school: School, candidate: str) -> dict[str, bytes]:
    with zipfile.ZipFile(folder(school) / f"{school.id}_{candidate}.zip") as packed:
        assert all(name.startswith(f"{candidate}/") for name in packed.namelist())
        return {name.partition("/")[2]: packed.read(name) for name in packed.namelist()}


def test_each_gets_results_feedback_certificate_and_practice_of_what_went_wrong(school):
    done = run(school, "take-home", "--without-pdf")
    assert (done.exit_code, done.output.splitlines()) == (
        0,
        [
            f"3 zips: {folder(school)}",
            "  nothing for c004: nothing of them is marked",
            "Each is for one candidate alone.",
        ],
    )
    best, worst, half = (parcel(school, one) for one in ("c001", "c002", "c003"))
    assert list(best) == ["start.html", "feedback_day1.html", "certificate.html", "certificate.json"]
    assert list(worst) == list(half) == ["start.html", "feedback_day1.html", "practice.html"]
    assert best["feedback_day1.html"] == (school.records / "feedback" / "day1_c001.html").read_bytes()
    assert json.loads(best["certificate.json"])
    titles = {name: school.bank[name].title for name in school.sittings[0].exercises}
    for found, wrong in ((worst, set(titles)), (half, {CHAINED, "solids-fresh"})):
        practice = found["practice.html"].decode()
        start = BeautifulSoup(found["start.html"], "html.parser").get_text()
        for name, title in titles.items():
            assert bool(re.search(rf'id="exercise-\d-{name}"', practice)) is (name in wrong)
            assert (title in start) is (name in wrong)


def test_nobodys_name_id_paper_or_numbers_are_in_anothers_parcel(school):
    assert run(school, "take-home", "--without-pdf").exit_code == 0
    for candidate in school.roster[:3]:
        text = b"".join(parcel(school, candidate.id).values()).decode()
        for other in school.roster:
            paper = Register(school).paper_of("day1", other.id)
            if other is not candidate:
                assert other.name not in text
                assert not re.search(rf"\b{other.id}\b", text)
                assert paper.id not in text
        for secret in (school.key.hex(), str(school.folder), *(e.scheme for e in paper.entries)):
            assert secret not in text


def test_practice_has_numbers_of_no_paper_and_a_resit_gets_none_of_them(school):
    taken = taken_numbers(school)
    assert run(school, "take-home", "--without-pdf").exit_code == 0
    assert parcel(school, "c002")["practice.html"].count(b'class="practice" id="exercise-') == 4
    shown = shown_numbers(school, school.sittings)
    for name in school.sittings[0].exercises:
        assert len(shown[name]) == 2 * SETS
        for numbers in shown[name]:
            bare = {key: value for key, value in numbers.items() if not key.startswith("shuffle")}
            assert f"{name} {json.dumps(bare, sort_keys=True)}" not in taken
    resit = draw_paper(school, school.sittings[0], school.roster[1], 2, practised=shown)
    for entry in resit.entries:
        assert entry.numbers not in shown[entry.exercise]


@pytest.mark.slow
def test_again_it_makes_the_same_bytes(school):
    parcels = []
    for _ in range(2):
        assert run(school, "take-home", "--without-pdf").exit_code == 0
        parcels.append({path.name: path.read_bytes() for path in folder(school).iterdir()})
    assert parcels[0] == parcels[1]
    assert len(parcels[0]) == 3


@pytest.mark.parametrize(
    ("book", "address"),
    a_few(
        [("the book", "../the%20book/lessons/"), ("https://book.test/a/", "https://book.test/a/lessons/"), ("", None)],
        1,
    ),
)
def test_links_go_into_the_book_where_the_candidate_has_it(school, book, address):
    assert run(school, "take-home", "--without-pdf", *(["--book", book] if book else [])).exit_code == 0
    page = well_formed(parcel(school, "c002")["start.html"].decode())
    links = [link["href"] for link in page.select(".lesson a")]
    if address is None:
        assert links == []
        assert "In the book: Weighting up" in page.get_text()
    else:
        assert f"{address}weighting.html" in links
        assert len(links) == 3
        pages = {Path(link).stem for link in links}
        assert all((Path(__file__).parents[3] / "book" / "lessons" / f"{name}.md").exists() for name in pages)


@pytest.mark.parametrize("book", ["/home/me/book", "../book", "C:\\book", "file:///book"])
def test_address_that_no_candidate_has_is_refused(school, book):
    done = run(school, "take-home", "--book", book)
    assert "not where a candidate finds the book" in str(done.exception)
    assert not folder(school).exists()


def test_whose_words_wait_gets_nothing_yet(tmp_path):
    school = marked_cohort(tmp_path / "school", 2, exercises=(CHAINED, WRITTEN))
    assert run(school, "results").exit_code == 0
    done = run(school, "take-home", "--without-pdf")
    assert f"nothing for c001: words wait for marks (day1 part 2c): pitside written {school.folder}" in done.output
    assert not folder(school).exists()


def test_before_the_results_are_written_it_says_what_to_do(tmp_path):
    school = marked_cohort(tmp_path / "school", 1)
    done = run(school, "take-home", "--without-pdf")
    assert f"nothing for c001: the feedback is not written yet: pitside results {school.folder}" in done.output


def test_only_those_who_are_named_get_theirs_anew(school):
    assert run(school, "take-home", "--without-pdf", "--candidate", "c002").exit_code == 0
    assert [path.name for path in folder(school).iterdir()] == [f"{school.id}_c002.zip"]


@pytest.mark.parametrize("missing", a_few(["Chromium", "Playwright"], 1))
def test_where_nothing_can_print_the_zips_are_made_and_it_is_said_why_there_is_no_pdf(school, monkeypatch, missing):
    folder(school).mkdir()
    old = folder(school) / f"{school.id}_c001.pdf"
    old.write_bytes(b"of last week")
    if missing == "Chromium":
        monkeypatch.delenv("PITSIDE_CHROMIUM", raising=False)
        monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    else:
        monkeypatch.setitem(sys.modules, "playwright.sync_api", None)
    done = run(school, "take-home")
    assert done.exit_code == 0
    assert done.output.startswith(f"No PDF: {missing} ")
    assert "3 zips: " in done.output
    assert not old.exists(), "a PDF of before would not go with the zip of now"


def test_a_browser_that_does_not_start_is_said_in_a_line(school, monkeypatch, tmp_path):
    monkeypatch.setenv("PITSIDE_CHROMIUM", str(tmp_path / "none"))
    done = run(school, "take-home")
    assert done.exit_code == 0
    assert re.match(r"No PDF: \S+/none does not start \([^\n]+\)\. The zips hold the same pages\.\n", done.output)


@pytest.mark.slow
@pytest.mark.browser
def test_the_pdf_holds_what_can_be_read_of_the_zip(school, browser):
    """In a process of its own, since the tests' browser is open in this one."""
    words = ["take-home", str(school.folder), "--candidate", "c001", "--candidate", "c003"]
    done = subprocess.run(
        [sys.executable, "-c", "from grader.cli import main; main()", *words],
        cwd=Path(__file__).parents[3], capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "2 zips and 2 PDFs" in done.stdout
    text = {
        # Printed letters may stand together as one sign.
        one: unicodedata.normalize(
            "NFKC", "".join(page.extract_text() for page in PdfReader(folder(school) / f"{school.id}_{one}.pdf").pages)
        )
        for one in ("c001", "c003")
    }
    assert "Your certificate has the number" in text["c001"]
    assert "Candidate No. 1" in text["c001"]
    assert "What to study" in text["c003"]
    assert "feedback for" in text["c003"]
    assert "Candidate No. 1" not in text["c003"]
    assert "PRACTICE" not in text["c003"]


@pytest.mark.slow
@pytest.mark.browser
def test_the_page_to_begin_with_fits_a_phone_and_has_no_barriers(school, visitor: Visitor, tmp_path):
    assert run(school, "take-home", "--without-pdf", "--book", "book").exit_code == 0
    with zipfile.ZipFile(folder(school) / f"{school.id}_c003.zip") as packed:
        packed.extractall(tmp_path / "home")
    page = visitor(tmp_path / "home" / "c003", width=360).open("start.html")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    assert [f"{one['id']}: {one['nodes'][0]['html']}" for one in found] == []
    page.get_by_role("link", name="practice.html").click()
    expect(page.locator("body")).to_contain_text("PRACTICE, not handed in")


def test_forgetting_takes_parcels_along_and_an_export_has_them(school):
    assert run(school, "take-home", "--without-pdf").exit_code == 0
    document = folder(school) / f"{school.id}_c002.pdf"
    document.write_bytes(b"%PDF-1.4")
    with zipfile.ZipFile(write_export(school, "c002")) as packed:
        assert f"other/take_home/{school.id}_c002.zip" in packed.namelist()
        inner = zipfile.ZipFile(io.BytesIO(packed.read(f"other/take_home/{school.id}_c002.zip")))
        assert "c002/start.html" in inner.namelist()
    assert document in Person(school, "c002").records()
    forget(school, ["c002"], "asked", lambda: open_school(school.folder))
    assert sorted(path.name for path in folder(school).iterdir()) == [f"{school.id}_c001.zip", f"{school.id}_c003.zip"]
