"""Facts about where a script comes from: noticed at marking, told to the assessor alone, no effect on marks."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import asdict, dataclass, replace
from typing import Any

import pytest

from grader.marking import rooms
from grader.marking.record import Record
from grader.marking.records import read_record
from grader.papers.issue import issue
from grader.papers.notebook import (
    NOT_READY,
    NOTEBOOK,
    for_hand_marking,
    given_source,
    paper_digest,
    question_cells,
    script_name,
)
from grader.papers.packs import pack_names
from grader.reports.results import gather
from grader.returned.integrity import for_assessor
from grader.returned.scripts import Script as Returned
from grader.store.register import Paper
from grader.store.school import School, open_school
from tests.grader.schools import (
    EVERY_KIND,
    hand_in,
    make_school,
    mark_and_report,
    opened_pack,
    pack_of,
    page_of,
    paper_of,
    quiet,
    right_answers,
    rows_of,
    script_with,
)

Script = dict[str, Any]


def about(script: Script) -> dict[str, Any]:
    return script["metadata"]["pitside"]


def digest_of_cells(script: Script) -> str:
    """The digest as anybody who knows how it is made can make it."""
    printed = [c for c in script["cells"] if re.match(r"title$|exercise-|ask-", c["id"])]
    return paper_digest([(cell["id"], cell["source"]) for cell in printed])


def cell(script: Script, name: str) -> dict[str, Any]:
    return next(each for each in script["cells"] if each["id"] == name)


def one_digit_changed(script: Script) -> None:
    setting = cell(script, "exercise-1")
    digit = re.search(r"\d", setting["source"])
    other = str((int(digit[0]) + 1) % 10)
    setting["source"] = setting["source"][: digit.start()] + other + setting["source"][digit.end() :]


def changed_and_digest_made_anew(script: Script) -> None:
    one_digit_changed(script)
    about(script)["digest"] = digest_of_cells(script)


def saved_by_another_program(script: Script) -> None:
    """Sources as lists of lines, Windows line ends, blanks behind lines, outputs, other metadata."""
    for each in script["cells"]:
        if each["cell_type"] == "markdown":
            each["source"] = [f"{line}  \r\n" for line in each["source"].splitlines()]
        each["metadata"]["collapsed"] = False
    script["metadata"]["widgets"] = {}


def ids_lost(script: Script) -> None:
    script["nbformat_minor"] = 4
    for each in script["cells"]:
        del each["id"]


@dataclass(frozen=True)
class Case:
    """How a rightly answered script is changed, its file's name, and what the facts about it say, one each."""

    change: Callable[[Script], object] = lambda script: None
    says: tuple[str, ...] = ()
    name: str = ""
    marked: bool = True


GONE = "Printed cells are changed or gone: "
NOT_ITS_DIGEST = r"Its digest \({}\) is not that of paper day1-aa-\d\d-1-[0-9a-f]{{8}} with the title"
CASES = {
    "untouched": Case(),
    "own working": Case(
        lambda s: s["cells"].insert(3, {"cell_type": "markdown", "id": "w", "metadata": {}, "source": "x"})
    ),
    "cells moved": Case(lambda s: s["cells"].append(s["cells"].pop(0))),
    "saved by another program": Case(saved_by_another_program),
    "cell ids lost": Case(ids_lost),
    "a worksheet of this paper": Case(lambda s: about(s).update(worksheet={"format": 1, "paper": about(s)["paper"]})),
    "a worksheet that does not say": Case(lambda s: about(s).update(worksheet={"format": 1, "answers": {}})),
    "a worksheet that is none": Case(lambda s: about(s).update(worksheet=["x"])),
    "written before papers had a digest": Case(lambda s: [about(s).pop("digest"), one_digit_changed(s)]),
    "a digit changed": Case(one_digit_changed, (GONE + "exercise-1. It was marked on the registered numbers.",)),
    "a digit changed, digest made anew": Case(
        changed_and_digest_made_anew, (GONE + "exercise-1", NOT_ITS_DIGEST.format(".{8}"))
    ),
    "a question changed": Case(lambda s: cell(s, "ask-1b").update(source="What is 2 + 2?"), (GONE + "ask-1b",)),
    "a question gone": Case(lambda s: s["cells"].remove(cell(s, "ask-2a")), (GONE + "ask-2a",)),
    "all questions gone": Case(
        lambda s: s.update(cells=[c for c in s["cells"] if not c["id"].startswith(("ask-", "exercise-"))]),
        (GONE + "exercise-1, ask-1a, ask-1b, ask-1c, ask-1d, exercise-2 and [0-9]+ more",),
    ),
    "title gone": Case(lambda s: s["cells"].pop(0), (GONE + "title",)),
    "another name in the title": Case(
        lambda s: cell(s, "title").update(source=cell(s, "title")["source"].replace("**", "**Dr ", 1)),
        (NOT_ITS_DIGEST.format("[0-9a-f]{8}"),),
    ),
    "another digest": Case(lambda s: about(s).update(digest="0" * 64), (NOT_ITS_DIGEST.format("0{8}"),)),
    "an empty digest": Case(lambda s: about(s).update(digest=""), (NOT_ITS_DIGEST.format("empty"),)),
    "a digest that is none": Case(lambda s: about(s).update(digest=["\x1b[2J\n"]), (r"Its digest \(",)),
    "a digest that is endless": Case(lambda s: about(s).update(digest="9" * 100_000), (NOT_ITS_DIGEST.format("9{8}"),)),
    "a worksheet of another paper": Case(
        lambda s: about(s).update(worksheet={"format": 1, "paper": "day1-zz-99-1-00000000"}),
        ("What the worksheet kept in it is of paper day1-zz-99-1-00000000, not of day1-aa-",),
    ),
    "a worksheet of an odd paper": Case(
        lambda s: about(s).update(worksheet={"paper": {"\x1b[2J\n": 1}}), ("What the worksheet kept in it is of paper",)
    ),
    "a file called otherwise": Case(name="my answers.ipynb"),
    "a file called as it is, copied": Case(name="marram_day1_@ (1).ipynb"),
    "a file of a second attempt": Case(name="marram_day1_@-2.ipynb"),
    "a file that names two": Case(name="@_with_aa-00.ipynb"),
    "a file that names another": Case(
        name="marram_day1_AA-00.ipynb", says=("The file name names aa-00, but the script is aa-",)
    ),
    "a neighbour's paper under an own name": Case(marked=False),
}  # fmt: skip
CANDIDATE = {name: f"aa-{number:02d}" for number, name in enumerate(CASES, 1)}


@pytest.fixture(scope="module")
def marked(tmp_path_factory, room) -> School:
    """A candidate for each case, all with right answers; and aa-00, whom a file name may name."""
    everybody = ["aa-00", *CANDIDATE.values()]
    lines = [f"{one},Candidate {one},,,{'field' if int(one[-1]) % 2 else 'metric'}" for one in everybody]
    school = make_school(tmp_path_factory.mktemp("facts") / "school", roster=lines, exercises=EVERY_KIND)
    issue(school, school.sittings, quiet)
    for name, case in CASES.items():
        paper = paper_of(school, CANDIDATE[name])
        script = script_with(school, paper, dict(right_answers(paper.variants())))
        if not case.marked:
            neighbour = paper_of(school, "aa-01")
            theirs = script_with(school, neighbour, dict(right_answers(neighbour.variants())))
            about(theirs).update(candidate=paper.candidate)
            script = theirs
        case.change(script)
        hand_in(school, paper, script, case.name.replace("@", paper.candidate) or None)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(rooms, "Runner", lambda **_: nullcontext(room))
        mark_and_report(school)
    return school


def record_of(school: School, name: str) -> Record:
    record = read_record(school, paper_of(school, CANDIDATE[name]).id)
    assert record is not None
    return record


MARKED = [name for name, case in CASES.items() if case.marked]


@pytest.mark.parametrize("name", MARKED)
def test_facts_are_told_as_they_are(marked, name):
    found = record_of(marked, name).for_assessor
    says = CASES[name].says
    assert len(found) == len(says), found
    for fact, said in zip(found, says, strict=True):
        assert re.match(said, fact), fact
        assert fact.isprintable()
        assert len(fact) < 300


@pytest.mark.parametrize("name", MARKED)
def test_no_fact_touches_the_marks_and_the_candidate_is_told_none(marked, name):
    record = record_of(marked, name)
    untouched = record_of(marked, "untouched")
    # Only what a person has to mark is not given.
    assert [(i.item, i.marks) for e in record.exercises for i in e.items] == [
        (i.item, i.marks) for e in untouched.exercises for i in e.items
    ]
    assert record.notes == ()
    (result,) = [result for result in gather(marked) if result.candidate.id == CANDIDATE[name]]
    assert set(record.for_assessor) <= set(result.for_assessor)
    assert not set(record.for_assessor) & set(result.told)
    page = page_of(marked, CANDIDATE[name]).get_text(" ")
    assert "digest" not in page
    for fact in record.for_assessor:
        assert fact not in page
        assert fact in rows_of(marked)[CANDIDATE[name]]["remarks"]


def test_paper_under_another_candidates_name_is_refused_as_before(marked):
    row = rows_of(marked)[CANDIDATE["a neighbour's paper under an own name"]]
    assert row["status"] == "not marked"
    assert "says it is from" in row["remarks"]
    assert "ask both candidates" in row["remarks"]


def test_facts_are_for_the_eye_and_accuse_nobody(marked):
    told = [fact for name in MARKED for fact in record_of(marked, name).for_assessor]
    assert len(told) > 10
    for word in ("cheat", "copied", "forged", "tamper", "suspicio", "fraud", "stolen"):
        assert not [fact for fact in told if word in fact.lower()]


def test_record_with_facts_comes_back_from_its_file_and_without_them_has_the_digest_that_it_had(marked):
    record = record_of(marked, "a digit changed")
    assert Record.from_json(json.loads(json.dumps(asdict(record)))) == record
    assert record.digest != replace(record, for_assessor=()).digest
    before = asdict(record_of(marked, "untouched"))
    del before["for_assessor"]  # as records were before
    assert Record.from_json(before) == record_of(marked, "untouched")


# The digest -----------------------------------------------------------------------------------------------------------


def paper_and_pack(school: School, candidate: str = "aa-01") -> tuple[Paper, Script]:
    paper = paper_of(school, candidate)
    return paper, pack_of(school, paper)


def test_digest_is_that_of_title_exercise_and_ask_cells_in_order(issued_school):
    digests = set()
    for candidate in issued_school.roster:
        paper, script = paper_and_pack(issued_school, candidate.id)
        digest = about(script)["digest"]
        assert re.fullmatch(r"[0-9a-f]{64}", digest)
        assert digest == digest_of_cells(script)
        names = [c["id"] for c in script["cells"] if re.match(r"title$|exercise-|ask-", c["id"])]
        assert names == ["title", *(name for name, _ in question_cells(paper.variants()))]
        digests.add(digest)
    assert len(digests) == len(issued_school.roster)


def in_the_wording_of_before(script: Script, paper: Paper) -> None:
    """As packs were printed that said before each answer on the way that it is one, and less of an order."""
    for name, source in question_cells(paper.variants(), repeated=True):
        cell(script, name)["source"] = source
    about(script)["digest"] = digest_of_cells(script)


def test_a_pack_in_the_wording_of_before_is_as_good_as_one_of_today(tmp_path):
    school = make_school(tmp_path / "school", exercises=("riser-return-plant",))
    issue(school, school.sittings, lambda done, total: None)
    paper, script = paper_and_pack(school)
    today = cell(script, "ask-1h")["source"]
    in_the_wording_of_before(script, paper)
    before = cell(script, "ask-1h")["source"]
    assert (before.count("On the way"), today.count("On the way")) == (3, 1)
    returned = Returned(script_name(school, paper), "0" * 64, paper, script)
    questions = question_cells(paper.variants())
    assert list(for_assessor(returned, paper.variants(), questions)) == []
    for_page = for_hand_marking(script, paper.variants(), questions)
    assert next(c for c in for_page["cells"] if c["id"] == "ask-1h")["metadata"]["nbgrader"]["locked"]


def test_a_count_asks_for_no_unit_and_not_for_a_fraction(tmp_path):
    school = make_school(tmp_path / "school", exercises=("waste-volume",))
    issue(school, school.sittings, lambda done, total: None)
    paper, script = paper_and_pack(school)
    assert cell(script, "answer-1d")["source"] == f'{NOT_READY}\nanswer("1d", None, "no unit")'
    assert not any("fraction" in c["source"] for c in script["cells"] if c["id"].startswith("answer-"))
    given: dict[str, Any] = {}
    exec(given_source(paper.variants()), given)
    assert given["look_again"](12, "no unit", given["PARTS"]["1d"], "1d") == ""


def test_digest_tells_every_change_of_a_cell_its_id_and_the_order_but_not_of_line_ends(issued_school):
    _, script = paper_and_pack(issued_school)
    cells = [(c["id"], c["source"]) for c in script["cells"] if re.match(r"title$|exercise-|ask-", c["id"])]
    digest = paper_digest(cells)
    for at, (name, source) in enumerate(cells):
        for other in ((name, source + "."), (name + "x", source), (name, source.replace(" ", "", 1))):
            assert paper_digest([*cells[:at], other, *cells[at + 1 :]]) != digest
        assert paper_digest(cells[:at] + cells[at + 1 :]) != digest
    assert paper_digest(cells[::-1]) != digest
    assert paper_digest((name, source.replace("\n", " \r\n")) for name, source in cells) == digest


def test_sheet_and_worksheet_show_the_digest_in_short(issued_school):
    for candidate in issued_school.roster:
        paper, script = paper_and_pack(issued_school, candidate.id)
        names = pack_names(issued_school, paper)
        short = about(script)["digest"][:8]
        folder = opened_pack(issued_school, candidate.id)
        assert f"paper {paper.id}  digest {short}" in (folder / names.sheet).read_text(encoding="utf-8")
        head = (folder / names.worksheet).read_text(encoding="utf-8").partition("</header>")[0]
        assert f"paper {paper.id} (digest {short})" in head


def test_a_name_or_title_mended_after_the_issue_raises_no_fact(school, warm_room):
    """Candidates hand in what was printed then."""
    paper, _ = paper_and_pack(school, "aa-02")
    hand_in(school, paper, script_with(school, paper, right_answers(paper.variants())))
    text = (school.folder / "roster.csv").read_text(encoding="utf-8")
    name = next(candidate.name for candidate in school.roster if candidate.id == "aa-02")
    (school.folder / "roster.csv").write_text(text.replace(name, "Another Name"), encoding="utf-8")
    settings = (school.folder / "school.toml").read_text(encoding="utf-8")
    (school.folder / "school.toml").write_text(settings.replace("First paper", "Paper one"), encoding="utf-8")
    mended = open_school(school.folder)
    mark_and_report(mended)
    record = read_record(mended, paper.id)
    assert (record.notes, record.for_assessor) == ((), ())
    assert script_name(mended, paper).endswith("aa-02.ipynb")
    assert (mended.records / "marked" / "aa-02" / paper.sitting / f"{NOTEBOOK}.ipynb").exists()
