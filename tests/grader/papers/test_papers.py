"""Papers and packs: what a candidate is handed works by itself, and holds nothing that it should not."""

from __future__ import annotations

import ast
import contextlib
import dataclasses
import html
import io
import os
import re
import shutil
import signal
import zipfile
from dataclasses import dataclass
from pathlib import Path

import nbformat
import pytest
from bs4 import BeautifulSoup
from markdown_it import MarkdownIt
from pypdf import PdfReader

from exercises import BANK
from exercises.model import Choice, Chosen, Column, Exercise, Numeric, Order, Point, Step, System, Table, Written
from exercises.model.numbers import in_system, significant
from exercises.model.parts import Part, Tolerance
from exercises.model.practice import practice_variant
from exercises.model.text import names_in
from exercises.model.variant import ANY_SAFE_ORDER, SHUFFLE, Variant
from grader.pages.pages import text_of
from grader.papers.handing_out import list_file, sheets_file
from grader.papers.issue import IssueTally, issue, replace_packs
from grader.papers.notebook import GIVEN_CELL, NOT_READY, question, question_to_read
from grader.papers.packs import loose_files, pack_contents, pack_file, pack_names, read_pack, write_pack
from grader.papers.page_data import questions
from grader.store.errors import GraderError
from grader.store.part_marks import item_name
from grader.store.register import Paper, Register
from grader.store.school import Candidate, School, open_school
from pitside.unit_names import spelled
from tests.exercises.draws import draw_of
from tests.grader.schools import (
    CHAINED,
    EVERY_KIND,
    KEY,
    SITTING,
    make_school,
    pack_of,
    paper_of,
    quiet,
    settings,
    well_formed,
)


def papers_of(school: School) -> list[tuple[Candidate, Paper]]:
    return [(candidate, paper_of(school, candidate.id)) for candidate in school.roster]


def sources(notebook: dict) -> dict[str, str]:
    return {cell["id"]: cell["source"] for cell in notebook["cells"]}


def everything(school: School) -> dict[str, bytes]:
    """Every file that was handed out or registered, by path, hidden ones too."""
    files = [school.register_file, *school.packs.rglob("*")]
    return {str(path.relative_to(school.folder)): path.read_bytes() for path in files if path.is_file()}


# The notebook ---------------------------------------------------------------------------------------------------------


def test_paper_is_a_valid_notebook_of_format_4_5(issued_school):
    for _, paper in papers_of(issued_school):
        notebook = nbformat.from_dict(pack_of(issued_school, paper))
        nbformat.validate(notebook)
        assert (notebook.nbformat, notebook.nbformat_minor) == (4, 5)
        assert len({cell.id for cell in notebook.cells}) == len(notebook.cells)
        assert notebook.metadata.pitside == {
            "format": 1, "school": "marram", "sitting": SITTING, "candidate": paper.candidate, "paper": paper.id,
            "digest": notebook.metadata.pitside.digest,
        }  # fmt: skip


def test_every_part_is_asked_and_has_an_answer_cell_with_a_line_for_each_item(issued_school):
    for _, paper in papers_of(issued_school):
        notebook = pack_of(issued_school, paper)
        cells = {cell["id"]: cell for cell in notebook["cells"]}
        asked = []
        for number, variant in enumerate(paper.variants(), 1):
            for part in variant.exercise.parts:
                name = f"{number}{part.key}"
                asked.append(name)
                assert f"**{number}({part.key})**" in cells[f"ask-{name}"]["source"]
                lines = cells[f"answer-{name}"]["source"].split("\n")
                assert lines == [NOT_READY] + [_blank_line(number, variant, item) for item in part.items()]
                about = cells[f"answer-{name}"]["metadata"]["nbgrader"]
                assert about["grade_id"] == name
                assert about["points"] == sum(item.marks.total for item in part.items())
        assert [cell for cell in cells if cell.startswith("answer-")] == [f"answer-{name}" for name in asked]


def _blank_line(number: int, variant: Variant, item) -> str:
    name = f"{number}{item.key}"
    if not isinstance(item, Numeric):
        return f'answer("{name}", None)'
    unit = "no unit" if variant.unit(item) == "fraction" else variant.unit(item)
    is_open = item.marks.unit and not variant.names_unit(item)
    return f'answer("{name}", None, "{"" if is_open else unit}")'


@pytest.mark.parametrize(
    ("exercise", "part", "blank"),
    [("cone-underflow", "b", 'answer("1b", None, "lb/h")'), ("solids-fresh", "d", 'answer("1d", None, "")')],
)
def test_the_unit_stands_in_the_answer_cell_where_the_question_names_it(tmp_path, exercise, part, blank):
    school = make_school(tmp_path / "school", ["aa-01,Ann Sand,,,field"], exercises=[exercise])
    issue(school, school.sittings, quiet)
    paper = paper_of(school, "aa-01")
    assert sources(pack_of(school, paper))[f"answer-1{part}"].endswith(blank)


def test_drawn_numbers_that_a_text_names_are_printed_in_it(issued_school):
    for _, paper in papers_of(issued_school):
        text = "\n".join(sources(pack_of(issued_school, paper)).values())
        for variant in paper.variants():
            exercise = variant.exercise
            templates = [exercise.setting, *(part.ask for part in exercise.parts)]
            named = set().union(*(names_in(in_system(template, paper.system)) for template in templates))
            for name in named:
                assert f"{variant.numbers[name]}" in text
        assert "{" not in re.sub(r"```.*?```", "", text.replace(sources(pack_of(issued_school, paper))[GIVEN_CELL], ""))


def test_units_asked_for_are_those_of_the_candidates_system(issued_school):
    asked = {}
    for candidate, paper in papers_of(issued_school):
        assert paper.system is candidate.units
        variant = paper.variants()[EVERY_KIND.index(CHAINED)]
        first = variant.exercise.parts[0]
        asked[candidate.units] = variant.text(first.ask) + spelled(variant.unit(first))
    assert asked[System.FIELD] != asked[System.METRIC]


# The given cell -------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def given_source(issued_school) -> str:
    return sources(pack_of(issued_school, paper_of(issued_school, "aa-01")))[GIVEN_CELL]


@pytest.fixture
def cell(given_source) -> dict:
    """The names that the given cell defines in a bare Python."""
    names: dict = {}
    exec(given_source, names)
    return names


def replies(cell: dict, *args) -> str:
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        assert cell["answer"](*args) is None
    return said.getvalue().strip()


def test_given_cell_imports_what_each_python_has_and_names_every_item(given_source, cell, issued_school):
    tree = ast.parse(given_source)
    assert not [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    imported = [name.name for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names]
    assert imported == ["re", "traceback", "unicodedata"]
    variants = paper_of(issued_school, "aa-01").variants()
    assert list(cell["PARTS"]) == [
        item_name(number, item.key) for number, variant in enumerate(variants, 1) for item in variant.exercise.items
    ]


def test_all_answer_cells_run_as_handed_out(cell, issued_school):
    notebook = pack_of(issued_school, paper_of(issued_school, "aa-01"))
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        for name, source in sources(notebook).items():
            if name.startswith("answer-"):
                exec(source, cell)
    assert said.getvalue().splitlines() == [f"{part}: no answer yet" for part in cell["PARTS"]]
    assert cell["recorded"] == {}


def test_right_use_is_recorded_and_the_last_answer_counts(cell):
    part = next(iter(cell["PARTS"]))
    assert cell["PARTS"][part] == "a mass"
    assert replies(cell, part, 412, "lb") == f"{part}: recorded 412 lb"
    assert replies(cell, part, 6442.5, "sack") == f"{part}: recorded 6442.5 sack"
    choice = next(part for part, what in cell["PARTS"].items() if what.startswith("one letter of "))
    assert replies(cell, choice, "B") == f"{choice}: recorded B"
    assert cell["recorded"] == {part: (6442.5, "sack"), choice: ("B", "")}


@pytest.mark.parametrize("given", [(6, 442, "psi"), (6, 442), (412, None), (412, "lb", "bbl")])
def test_number_with_a_comma_is_not_recorded_and_the_cell_says_how_to_write_it(cell, given):
    part = next(iter(cell["PARTS"]))
    reply = replies(cell, part, *given)
    assert reply.startswith(f"{part}: not recorded.")
    assert "without a comma" in reply
    assert "unit in quotes" in reply
    assert cell["recorded"] == {}


@pytest.mark.parametrize("given", [(), (None,), (None, "psi"), (...,)])
def test_blank_is_no_answer_yet(cell, given):
    part = next(iter(cell["PARTS"]))
    assert replies(cell, part, *given) == f"{part}: no answer yet"
    assert cell["recorded"] == {}


def test_unknown_part_is_told_the_parts_there_are(cell):
    reply = replies(cell, "9z", 412, "lb/bbl")
    assert reply == f"There is no part '9z' in this paper. The parts are: {', '.join(cell['PARTS'])}"
    assert cell["recorded"] == {}


# What a pack must not hold --------------------------------------------------------------------------------------------


def _boom(*given):
    raise AssertionError("a paper was made with the help of its mark scheme")


def _blind(part: Part) -> Part:
    """A part without its mark scheme: what asks for it fails."""
    nothing = {"slips": (), "conventions": (), "tolerance": Tolerance(0, None, "")}
    match part:
        case Numeric():
            # A step must name what an answer on the way is; its sum is the scheme's.
            way = tuple(Step("", "1", gives=method.key) for method in part.method)
            method = tuple(dataclasses.replace(m, solve=_boom, tolerance=nothing["tolerance"]) for m in part.method)
            return dataclasses.replace(part, solve=_boom, working=way, method=method, whole=False, **nothing)
        case Chosen():
            limits = tuple(dataclasses.replace(limit, keeps=_boom, advice="") for limit in part.limits)
            return dataclasses.replace(part, suggest=_boom, limits=limits, reason="")
        case Written():
            return dataclasses.replace(part, points=(Point("", part.marks.value),), model="")
        case Table():
            columns = tuple(
                dataclasses.replace(column, solve=_boom, working=lambda row: (), whole=False, **nothing)
                if isinstance(column, Column) else column
                for column in part.columns
            )  # fmt: skip
            return dataclasses.replace(part, columns=columns)
        case Choice():
            options = tuple(dataclasses.replace(option, advice="") for option in part.options)
            return dataclasses.replace(part, options=options, right=_boom, reason="")
        case Order():
            return dataclasses.replace(part, steps=dict(reversed(part.steps.items())), rules=(), reason="")


@dataclass(frozen=True)
class BlindPaper(Paper):
    """A paper whose variants have lost their mark schemes."""

    def variants(self) -> tuple[Variant, ...]:
        return tuple(
            dataclasses.replace(v, exercise=dataclasses.replace(v.exercise, parts=tuple(map(_blind, v.exercise.parts))))
            for v in super().variants()
        )


def test_paper_is_made_without_any_help_of_the_mark_scheme(whole_bank):
    """So nothing of the scheme can be in it, in whatever form."""
    for candidate, paper in papers_of(whole_bank):
        blind = BlindPaper(**{f.name: getattr(paper, f.name) for f in dataclasses.fields(paper)})
        for name, data in pack_contents(whole_bank, whole_bank.sittings[0], candidate, blind).items():
            assert data == read_pack(whole_bank, paper)[name]


def _scheme_texts(exercise: Exercise, system: System) -> list[str]:
    texts = []
    for item in exercise.items:
        match item:
            case Numeric():
                texts += [item.tolerance.because, *(in_system(slip.advice, system) for slip in item.slips)]
                texts += [in_system(step.sum, system) for step in item.working]
            case Choice():
                texts += [in_system(option.advice, system) for option in item.options]
            case Chosen():
                texts += [in_system(limit.advice, system) for limit in item.limits]
            case Order():
                texts += [rule.advice for rule in item.rules]
            case Written():
                texts += [point.text for point in item.points]
    # A short reason such as "a whole number" may stand in a question of its own right.
    return [text for text in texts if len(text) > 20]


def test_pack_holds_no_advice_no_tolerance_no_answer(whole_bank):
    for _, paper in papers_of(whole_bank):
        files = read_pack(whole_bank, paper)
        assert {Path(name).suffix for name in files} == {".ipynb", ".html"}
        text = "".join(html.unescape(data.decode("utf-8")) for data in files.values())
        # Charts are pictures: what of their answers they show is for the eye, to the width of a line.
        text = re.sub(r"data:image/[^\"]*", "", text)
        # Each number once: the whole text is long, and the answers are many.
        printed = "\n".join(["", *set(re.findall(r"(?<![\d.])\d[\d.]*", text))])
        for number, variant in enumerate(paper.variants(), 1):
            for scheme_text in _scheme_texts(variant.exercise, variant.system):
                assert scheme_text not in text
            for item in variant.exercise.items:
                if isinstance(item, Numeric):
                    value = abs(float(variant.key[item.key].magnitude))
                    answer = significant(value, 6)
                    # A small whole one, such as one machine, is a number that any page holds.
                    if value < 100 and float(answer).is_integer():
                        continue
                    assert f"\n{answer}" not in printed, (number, item.key)


def test_shown_steps_are_in_no_right_order(whole_bank):
    tried = 0
    for _, paper in papers_of(whole_bank):
        for variant in paper.variants():
            for part in variant.exercise.parts:
                if isinstance(part, Order):
                    tried += 1
                    assert part.broken(tuple(str(variant.numbers[f"{SHUFFLE}.{part.key}"]).split(",")))
    assert tried


def test_whatever_asks_for_an_order_says_once_that_every_safe_one_is_right():
    """Four engineers looked for the one order that was meant, where the marking takes many."""
    variant = draw_of("weight-up-fixed-final", System.FIELD, 0)
    says = ANY_SAFE_ORDER.strip()
    for part in variant.exercise.parts:
        due = int(isinstance(part, Order))
        assert question(1, variant, part).count(says) == due
        assert question_to_read(1, variant, part).count(says) == due
        assert says not in question(1, variant, part, repeated=True), "papers are out that do not say it"
    [exercise] = questions([variant])  # what the printed sheet and the worksheet are made of
    lesson = practice_variant(variant)
    for page in (exercise, lesson):
        assert [part["ask"].count(says) for part in page["parts"]] == [0, 0, 0, 1]
        assert str(page).count(says) == 1


def test_pack_holds_no_secret_and_nobody_elses_data(issued_school):
    """The bytes of every handed-out file, zips unpacked, are searched."""
    for candidate, paper in papers_of(issued_school):
        path = pack_file(issued_school, paper)
        data = path.name.encode() + path.read_bytes()
        with zipfile.ZipFile(path) as archive:
            data += b"".join(name.encode() + archive.read(name) for name in archive.namelist())
        assert candidate.name.encode() in data
        forbidden = [KEY, issued_school.key.hex(), str(issued_school.folder), "register", "seal", "school.key"]
        forbidden += [entry.scheme for entry in paper.entries]
        for other, others_paper in papers_of(issued_school):
            if other is not candidate:
                forbidden += [other.name, other.id, others_paper.id]
        for text in forbidden:
            assert text.encode() not in data, text
        assert issued_school.key not in data


def test_a_sittings_packs_are_a_zip_for_each_candidate_by_id_beside_two_pages_and_no_name_in_a_file_name(issued_school):
    files = {
        path.relative_to(issued_school.packs).as_posix() for path in issued_school.packs.rglob("*") if path.is_file()
    }
    zips = {f"{SITTING}/{candidate.id}.zip" for candidate in issued_school.roster}
    assert files == zips | {f"{SITTING}/sheets.html", f"{SITTING}/who_gets_what.html"}
    for candidate, paper in papers_of(issued_school):
        stem = f"{candidate.id}/marram_{SITTING}_{candidate.id}"
        with zipfile.ZipFile(pack_file(issued_school, paper)) as archive:
            assert archive.testzip() is None
            pages = {f"{stem}_{page}.html" for page in ("worksheet", "sheet", "how-to")}
            assert set(archive.namelist()) == {f"{stem}.ipynb"} | pages


def test_the_sheets_page_holds_every_sheet_as_it_lies_in_the_pack_each_on_pages_of_its_own(issued_school):
    text = sheets_file(issued_school, SITTING).read_text(encoding="utf-8")
    page = well_formed(text)
    sheets = page.select(".whose")
    assert len(sheets) == len(issued_school.roster)
    for number, ((candidate, paper), sheet) in enumerate(zip(papers_of(issued_school), sheets, strict=True), 1):
        own = read_pack(issued_school, paper)[pack_names(issued_school, paper).sheet].decode("utf-8")
        assert sheet.get_text().strip() == BeautifulSoup(own, "html.parser").body.get_text().strip()
        assert candidate.name in sheet.get_text()
        assert f"page: sheet-{number}" in sheet["style"]
        foot = re.search(rf"@page sheet-{number} {{ @bottom-left {{ content: \"([^\"]*)\"", text)[1]
        assert foot.startswith(f"{candidate.id}  paper {paper.id}  digest ")
        assert foot in own
    assert not page.find_all(["link", "iframe"])
    (script,) = page.find_all("script")
    assert script.get_text().strip() == text_of("papers/sheets.js").strip()


@pytest.mark.browser
def test_the_sheets_print_each_candidate_on_pages_of_their_own(browser, issued_school, tmp_path):
    page = browser.new_page()
    page.goto(sheets_file(issued_school, SITTING).as_uri())
    page.pdf(path=tmp_path / "sheets.pdf", prefer_css_page_size=True)
    page.uncheck("#both-sides")
    page.pdf(path=tmp_path / "one-sided.pdf", prefer_css_page_size=True)
    page.close()
    texts = [sheet.extract_text() for sheet in PdfReader(tmp_path / "sheets.pdf").pages]
    ids = [paper.id for _, paper in papers_of(issued_school)]
    of_page = [{one for one in ids if one in text} for text in texts]
    assert all(len(found) == 1 for found in of_page), "a page without its candidate, or with two"
    begins = [at for at, (one, before) in enumerate(zip(of_page, [set(), *of_page], strict=False)) if one != before]
    assert [of_page[at] for at in begins] == [{i} for i in ids]
    assert len(ids) > 2 and all(at % 2 == 0 for at in begins), "a sheet begins on the back of another"
    blanks = [at for at, text in enumerate(texts) if "This side stays blank." in text]
    assert set(blanks) <= {at - 1 for at in [*begins, len(texts)]}
    one_sided = PdfReader(tmp_path / "one-sided.pdf").pages
    assert len(one_sided) == len(texts) - len(blanks)
    assert not any("stays blank" in side.extract_text() for side in one_sided)


def test_the_list_says_who_gets_which_pack_and_of_arrangements_only_that_there_are_some(tmp_path):
    school = make_school(tmp_path / "school")
    lines = [
        "id,name,crew,units,arrangements",
        "aa-01,<b>Ann</b>,night crew,metric,reader for dyslexia",
        "aa-02,Ben,,,",
    ]
    (school.folder / "roster.csv").write_text("\n".join(lines) + "\n")
    school = open_school(school.folder)
    issue(school, school.sittings, quiet, named=("aa-01",))
    page = well_formed(list_file(school, SITTING).read_text(encoding="utf-8"))
    (row,) = page.select("tbody tr")
    cells = [cell.get_text() for cell in row.find_all(["th", "td"])]
    paper = paper_of(school, "aa-01")
    has = "<b>Ann</b> (has arrangements: see the roster)"
    assert cells == ["aa-01", has, "night crew", "metric", "aa-01.zip", paper.id, "", ""]
    assert "dyslexia" not in page.get_text()
    assert "On the roster and without a paper of this sitting: aa-02." in page.get_text()
    issue(school, school.sittings, quiet)
    assert len(well_formed(list_file(school, SITTING).read_text(encoding="utf-8")).select("tbody tr")) == 2


# Names from the roster ------------------------------------------------------------------------------------------------

HOSTILE = (
    "<script>alert(1)</script>", "<b>Bobby</b>", "<img src=x onerror=alert(1)>", "**bold** _em_ ~~gone~~",
    "[here](javascript:alert(1))", "![x](http://spy.test/x.png)", "<http://spy.test>", "http://spy.test/me",
    "www.spy.test", "ann@spy.test", "`code`", "$x^2$", "\\(x\\) \\", "&lt;b&gt; &amp;", "a | b", "# Heading",
    "<!-- gone", "{{ 7*7 }} {0} %s", "*", "]]>", "[ref]: http://spy.test",
)  # fmt: skip


@pytest.fixture(scope="module")
def hostile_titles(tmp_path_factory) -> dict[str, str]:
    """The source of the title cell that each hostile name gets."""
    quoted = [name.replace('"', '""') for name in HOSTILE]
    roster = [f'aa-{number:02d},"{name}",,,field' for number, name in enumerate(quoted, 1)]
    school = make_school(tmp_path_factory.mktemp("hostile") / "school", roster=roster)
    issue(school, school.sittings, quiet)
    return {c.name: sources(pack_of(school, paper))["title"] for c, paper in papers_of(school)}


@pytest.mark.parametrize("name", HOSTILE)
def test_name_from_the_roster_is_text_in_the_paper_and_never_markup(hostile_titles, name):
    """As a reader that allows HTML, tables, strikethrough and links from bare addresses shows it."""
    reader = MarkdownIt("gfm-like", {"html": True})
    page = BeautifulSoup(reader.render(hostile_titles[name]), "html.parser")
    line = next(p for p in page.find_all("p") if p.get_text().startswith("Candidate "))
    assert [tag.name for tag in line.find_all(True)] == ["strong"]
    assert line.strong.get_text() == name
    plain = BeautifulSoup(reader.render(hostile_titles["*"]), "html.parser")
    assert [tag.name for tag in page.find_all(True)] == [tag.name for tag in plain.find_all(True)]


# Packs ----------------------------------------------------------------------------------------------------------------


def as_before(school: School) -> None:
    """Lay the packs as schools of before have them: a folder for each candidate, with the files and a zip of them."""
    for _, paper in papers_of(school):
        *files, archive = loose_files(school, paper)
        archive.parent.mkdir()
        data = read_pack(school, paper)
        for path in files:
            path.write_bytes(data[path.name])
        shutil.move(pack_file(school, paper), archive)
    shutil.rmtree(school.packs / SITTING)


def test_packs_that_lie_as_those_of_before_are_read_and_count_as_there(school):
    packs = {paper.id: read_pack(school, paper) for _, paper in papers_of(school)}
    register = school.register_file.read_bytes()
    as_before(school)
    assert {paper.id: read_pack(school, paper) for _, paper in papers_of(school)} == packs
    assert issue(school, school.sittings, quiet) == IssueTally(drawn=0, packed=0, already=4)
    assert school.register_file.read_bytes() == register
    assert not pack_file(school, paper_of(school, "aa-01")).exists()
    sheets = well_formed(sheets_file(school, SITTING).read_text(encoding="utf-8")).select(".whose")
    assert len(sheets) == 4


def test_replacing_a_pack_that_lies_as_those_of_before_leaves_a_zip_alone(school):
    before = everything(school)
    as_before(school)
    done = replace_packs(school, school.sittings, ["aa-02"], "stick lost", None, quiet)
    pack = pack_file(school, paper_of(school, "aa-02"))
    assert [one.pack for one in done] == [pack]
    assert not (school.packs / "aa-02").exists()
    assert pack.read_bytes() == before[f"packs/{SITTING}/aa-02.zip"]
    assert len(list((school.packs / "aa-03").iterdir())) == 5


def test_pack_of_before_that_lacks_a_file_is_written_anew(school):
    as_before(school)
    loose_files(school, paper_of(school, "aa-02"))[1].unlink()
    assert issue(school, school.sittings, quiet) == IssueTally(drawn=0, packed=1, already=3)
    assert pack_file(school, paper_of(school, "aa-02")).exists()
    assert not (school.packs / "aa-02").exists()


def test_same_paper_makes_the_same_bytes(school):
    before = everything(school)
    for candidate, paper in papers_of(school):
        write_pack(school, school.sittings[0], candidate, paper)
    assert everything(school) == before
    with zipfile.ZipFile(pack_file(school, paper)) as archive:
        assert archive.infolist()[0].date_time == (2000, 1, 1, 0, 0, 0)


def stamps(school: School) -> dict[str, int]:
    return {str(path): path.stat().st_mtime_ns for path in school.packs.rglob("*") if path.is_file()}


def test_issue_again_does_nothing(school):
    before, times = everything(school), stamps(school)
    assert issue(school, school.sittings, quiet) == IssueTally(drawn=0, packed=0, already=4)
    assert everything(school) == before
    assert stamps(school) == times


def test_issue_makes_a_lost_pack_again_and_no_other(school):
    before, times = everything(school), stamps(school)
    pack_file(school, paper_of(school, "aa-02")).unlink()
    assert issue(school, school.sittings, quiet) == IssueTally(drawn=0, packed=1, already=3)
    assert everything(school) == before
    assert {path: time for path, time in stamps(school).items() if "aa-02" not in path} == {
        path: time for path, time in times.items() if "aa-02" not in path
    }


def test_issue_tells_how_far_it_is(school):
    for path in school.packs.rglob("*.zip"):
        path.unlink()
    told = []
    issue(school, school.sittings, lambda done, total: told.append((done, total)))
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


@pytest.mark.parametrize("packs_done", [1, 3])
def test_killed_issue_is_finished_by_the_next_one(tmp_path, issued_school, packs_done):
    """A process of its own is killed outright after so many packs; the second one makes what the first would have."""
    school = make_school(tmp_path / "school", exercises=EVERY_KIND)

    def kill(done: int, total: int) -> None:
        if done == packs_done:
            os.kill(os.getpid(), signal.SIGKILL)

    child = os.fork()
    if child == 0:
        try:
            issue(school, school.sittings, kill)
        finally:
            os._exit(0)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status)
    assert len(list(school.packs.rglob("*.zip"))) == packs_done
    # Every paper is in the register before any pack can be handed out.
    assert len(Register(school).papers) == 4
    assert issue(school, school.sittings, quiet) == IssueTally(drawn=0, packed=4 - packs_done, already=packs_done)
    assert everything(school) == everything(issued_school)


def test_issue_repairs_a_cut_register_and_packs_that_were_not_made(school):
    before = everything(school)
    data = school.register_file.read_bytes()
    school.register_file.write_bytes(data[: len(data) * 5 // 8])
    for name in ("aa-03", "aa-04"):
        (school.packs / SITTING / f"{name}.zip").unlink()
    assert issue(school, school.sittings, quiet) == IssueTally(drawn=2, packed=2, already=2)
    assert everything(school) == before


def test_issue_refuses_other_exercises_for_an_issued_sitting_and_changes_nothing(school):
    before = everything(school)
    (school.folder / "school.toml").write_text(settings(EVERY_KIND[:1]))
    changed = open_school(school.folder)
    with pytest.raises(GraderError) as caught:
        issue(changed, changed.sittings, quiet)
    line = str(caught.value)
    assert line.startswith(f"{school.folder / 'school.toml'}: sitting {SITTING} was issued with")
    assert ", ".join(EVERY_KIND) in line
    assert "put these exercises back, or make a new sitting" in line
    assert everything(school) == before


def test_issue_refuses_to_pack_a_paper_whose_mark_scheme_changed(school, monkeypatch):
    pack_file(school, paper_of(school, "aa-02")).unlink()
    newer = dataclasses.replace(BANK[CHAINED], version=BANK[CHAINED].version + 1)
    monkeypatch.setitem(BANK, CHAINED, newer)
    with pytest.raises(GraderError, match=f"the mark scheme of {CHAINED} has changed since it was issued"):
        issue(school, school.sittings, quiet)


def test_issue_to_an_empty_roster_says_so(tmp_path):
    school = make_school(tmp_path / "school", roster=())
    with pytest.raises(GraderError, match=r"roster.csv: no candidates; write a line for each under the first line"):
        issue(school, school.sittings, quiet)
    assert not school.register_file.exists()
