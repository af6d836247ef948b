"""What is held about a person: it is said, handed out, and deleted so that no byte of it is left."""

from __future__ import annotations

import csv
import html
import io
import itertools
import json
import os
import signal
import subprocess
import sys
import zipfile
from datetime import date
from pathlib import Path

import pytest
from bs4 import BeautifulSoup

from grader.marking.books import read_books
from grader.marking.changes import change_mark
from grader.marking.gradebook import Gradebook
from grader.marking.marking import mark_school
from grader.papers.handing_out import list_file, sheets_file
from grader.papers.issue import issue, replace_packs
from grader.papers.packs import loose_files, pack_file, read_pack
from grader.papers.practice_papers import write_practice
from grader.privacy import privacy
from grader.privacy.export import write_export
from grader.privacy.privacy import Look, Person, Said, forget, kept_lines, kept_until, to_be_forgotten
from grader.reports import moderation
from grader.reports.results import gather
from grader.store.csv_files import without_rows
from grader.store.errors import GraderError
from grader.store.log import FORGOTTEN, Log
from grader.store.part_marks import ChangeKind
from grader.store.register import Register
from grader.store.school import School, new_school, open_school
from tests.grader.cohorts import marked_cohort
from tests.grader.schools import (
    ONE_ROOM,
    SITTING,
    gradebook_of,
    hand_in,
    make_school,
    mark_and_report,
    paper_of,
    quiet,
    right_answers,
    script_with,
)
from tests.sharing import a_few

NAME, EMPLOYER, ANSWER = "Ingrid Sølvberg-Ås", "Sølvberg Kråkerøy Drilling", "Because the fjord froze in October"
SECOND = "A clear answer"
OTHERS = ("aa-02,Ömer Çınar,Larkwater Energy,night crew,metric", "aa-03,Нина Ветрова,Larkwater Energy,night crew,field")
WRITTEN = "explain-to-the-crew"
#: Settings, keys and the like, in which nothing of a candidate may stand.
WHY = "asked for it on paper"


def whole_school(folder: Path) -> School:
    """A school in which everything was done with everybody's papers: marked, marked by hand, changed, reported."""
    school = make_school(folder, (f"aa-01,{NAME},{EMPLOYER},day crew,field", *OTHERS), ("weight-up-growing", WRITTEN))
    (folder / "absences.csv").write_text("candidate,sitting,reason\naa-01,day1,was late\naa-02,day1,came at noon\n")
    school = open_school(folder)
    issue(school, school.sittings, quiet)
    for candidate in ("aa-01", "aa-02", "aa-03"):
        paper = paper_of(school, candidate)
        script = script_with(school, paper, right_answers(paper.variants()))
        for cell in script["cells"]:
            if cell["id"].startswith("answer-2") and cell["cell_type"] == "markdown":
                cell["source"] = f"{ANSWER}, says {NAME}" if candidate == "aa-01" else "The mud is too heavy."
        hand_in(school, paper, script, f"{NAME} day1.ipynb" if candidate == "aa-01" else None)
    (school.scripts / f"photo of {NAME}_aa-01_.ipynb").write_bytes(b"no notebook")
    mark_and_report(school)
    with Gradebook.of(school) as gradebook:
        for script in gradebook._book.assignment_submissions(SITTING):
            for comment in script.notebooks[0].comments:
                comment.manual_comment = f"Well put, {script.student.last_name}"
            for grade in script.notebooks[0].grades:
                if grade.needs_manual_grade:
                    grade.manual_score = 1
        gradebook._book.db.commit()
    mark_school(school, quiet, ONE_ROOM)
    replace_packs(school, school.sittings, ["aa-01"], f"{NAME} lost it", None, quiet)
    change_mark(school, paper_of(school, "aa-01").id, "1a", 1, ChangeKind.APPEAL, f"{NAME} is right")
    mark_and_report(school)
    write_export(school, "aa-01")
    (sitting,) = school.sittings
    found = gather(school)
    sample = moderation.sample_of(school, sitting, found, 3)
    _, table = moderation.write_sheet(school, sitting, sample, found)
    (school.records / f"moderation_{SITTING}_look.html").write_text(f"<p>{ANSWER}</p>", encoding="utf-8")
    text = table.read_text(encoding="utf-8-sig")
    table.write_text(text.replace(",,,", f",1,{SECOND},Marker"), encoding="utf-8")
    sample = moderation.take_marks(school, sitting, table, found)
    moderation.write_agreement(school, sitting, sample, found)
    return school


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    return whole_school(tmp_path_factory.mktemp("privacy") / "school").folder


@pytest.fixture
def school(template, tmp_path) -> School:
    import shutil

    shutil.copytree(template, tmp_path / "school")
    return open_school(tmp_path / "school")


def everything_in(folder: Path) -> dict[str, bytes]:
    """Every file of a folder by name, hidden ones too, and every file in every zip, unpacked; names as bytes behind."""
    found: dict[str, bytes] = {}
    for path in folder.rglob("*"):
        if path.is_file():
            name = path.relative_to(folder).as_posix()
            data = path.read_bytes()
            found[name] = data + b"\n" + name.encode()
            if zipfile.is_zipfile(path):
                with zipfile.ZipFile(path) as packed:
                    found |= {f"{name}!{one}": packed.read(one) + b"\n" + one.encode() for one in packed.namelist()}
    return found


def spellings(text: str) -> set[bytes]:
    """A text as it may stand in files: plain, in JSON, in HTML, in Markdown, in two encodings, without its case."""
    plain = {text, json.dumps(text)[1:-1], html.escape(text), text.replace("-", "\\-"), text.upper(), text.lower()}
    return {one.encode(encoding) for one in plain for encoding in ("utf-8", "utf-16-le", "utf-16-be")}


def holding(folder: Path, *texts: str) -> set[str]:
    sought = {spelling for text in texts for spelling in spellings(text)}
    return {name for name, data in everything_in(folder).items() if any(one in data for one in sought)}


def forget_one(school: School, candidate: str = "aa-01", why: str = WHY):
    (done,) = forget(school, [candidate], why, lambda: open_school(school.folder))
    return done


# Forgetting -----------------------------------------------------------------------------------------------------------


def test_the_school_does_hold_the_person_before(school):
    """Else the walk below would find nothing whatever was deleted."""
    found = holding(school.folder, NAME, EMPLOYER, ANSWER)
    for name in (
        "roster.csv",
        "records/results.csv",
        "records/log.jsonl",
        "records/gradebook.db",
        "records/results.html",
    ):
        assert name in found
    for begins in (
        "packs/day1/aa-01.zip!",
        "packs/day1/sheets",
        "packs/day1/who_gets",
        "scripts/",
        "records/marked/aa-01/",
        "records/marks/",
        "records/exports/",
    ):
        assert any(name.startswith(begins) for name in found), begins


def test_no_file_holds_name_employer_or_answers_of_who_is_forgotten(school):
    forget_one(school)
    assert holding(school.folder, NAME, EMPLOYER, ANSWER) == set()


def test_nor_do_packs_that_lie_as_those_of_before_nor_what_a_killed_run_left_of_one(school):
    for paper in Register(school).papers.values():
        *files, archive = loose_files(school, paper)
        archive.parent.mkdir()
        for path in files:
            path.write_bytes(read_pack(school, paper)[path.name])
        archive.write_bytes(pack_file(school, paper).read_bytes())
    pack_file(school, paper_of(school, "aa-01")).rename(school.packs / "day1" / ".aa-01.zip.part")
    forget_one(school)
    assert holding(school.folder, NAME, EMPLOYER, ANSWER) == set()
    assert not (school.packs / "aa-01").exists()
    assert len(list((school.packs / "aa-02").iterdir())) == 5


def test_pages_to_hand_out_by_are_written_again_without_the_person(school):
    forget_one(school)
    assert "aa-01" not in list_file(school, SITTING).read_text(encoding="utf-8")
    for page, rows in ((list_file(school, SITTING), "tbody tr"), (sheets_file(school, SITTING), ".whose")):
        assert len(BeautifulSoup(page.read_text(encoding="utf-8"), "html.parser").select(rows)) == 2


def test_candidate_whose_id_is_a_sittings_takes_no_others_packs_along(tmp_path):
    school = make_school(tmp_path / "school", ("day1,Ann Onym,,,field", "practice,Ben Onym,,,field"))
    issue(school, school.sittings, quiet)
    write_practice(school, school.sittings, 1, quiet)
    forget_one(school, "day1")
    kept = {path.relative_to(school.packs).as_posix() for path in school.packs.rglob("*") if path.is_file()}
    assert kept == {"day1/practice.zip", "day1/sheets.html", "day1/who_gets_what.html",
                    "practice/marram_day1_practice.html"}  # fmt: skip
    forget_one(open_school(school.folder), "practice")
    assert [path.name for path in school.packs.rglob("*.*")] == ["marram_day1_practice.html"]


def test_a_paper_that_was_replaced_is_held_told_and_forgotten_too(tmp_path):
    school = make_school(tmp_path / "school")
    issue(school, school.sittings, quiet)
    old = paper_of(school, "aa-01")
    roster = school.folder / "roster.csv"
    roster.write_text(roster.read_text(encoding="utf-8").replace("day crew,field", "day crew,metric"), encoding="utf-8")
    school = open_school(school.folder)
    replace_packs(school, school.sittings, ["aa-01"], "units corrected", None, quiet)
    hand_in(school, old, b"for " + old.id.encode())
    with zipfile.ZipFile(write_export(school, "aa-01")) as packed:
        assert [one["id"] for one in json.loads(packed.read("register.json"))] == [paper_of(school, "aa-01").id, old.id]
    forget_one(school)
    assert holding(school.folder, old.id) == {"register.jsonl"}


def test_before_deleting_it_is_said_that_figures_over_everybody_change(school):
    assert [line for line in to_be_forgotten(school, ["aa-01"]) if "figures over everybody" in line]
    unmarked = make_school(school.folder.parent / "unmarked")
    issue(unmarked, unmarked.sittings, quiet)
    assert not [line for line in to_be_forgotten(unmarked, ["aa-01"]) if "figures over everybody" in line]


def test_after_it_the_id_stands_in_sealed_files_and_the_results_alone(school):
    forget_one(school)
    assert holding(school.folder, "aa-01") == {
        "register.jsonl", "records/log.jsonl", "records/results.csv", "records/results.html",
        "records/results.xlsx!xl/worksheets/sheet1.xml",
    }  # fmt: skip


def test_register_and_log_still_hold_together_and_the_log_says_who_was_forgotten_and_why(school):
    forget_one(school)
    after = open_school(school.folder)
    assert len(Register(after).papers) == 3
    (line,) = [line for line in Log(after).lines if line["what"] == FORGOTTEN]
    assert (line["candidate"], line["why"]) == ("aa-01", WHY)


def test_marks_dates_and_digests_of_the_log_stay(school):
    before = Log(school).lines
    forget_one(school)
    after = Log(open_school(school.folder)).lines
    for was, now in zip(before, after, strict=False):
        for field in ("when", "who", "what", "paper", "marks", "script", "scheme", "record", "before"):
            assert was.get(field) == now.get(field)


def test_everybody_else_is_as_before(school):
    before, gradebook = everything_in(school.folder), gradebook_of(school)
    others = [result for result in gather(school) if result.candidate.id != "aa-01"]
    forget_one(school)
    after = everything_in(school.folder)
    remade = ("records/results", "records/others_numbers", "records/log.jsonl", "records/gradebook.db")
    for name in before:
        of_others = any(one in name for one in ("aa-02", "aa-03")) or name in ("school.key", "school.toml")
        if of_others and not name.startswith(remade):
            assert after[name] == before[name], name
    assert (school.folder / "roster.csv").read_text(encoding="utf-8").splitlines() == [
        "id,name,employer,crew,units", *OTHERS,
    ]  # fmt: skip
    assert (school.folder / "absences.csv").read_text() == "candidate,sitting,reason\naa-02,day1,came at noon\n"
    now = open_school(school.folder)
    assert [result for result in gather(now) if result.candidate.id != "aa-01"] == others
    assert gradebook_of(now) == {key: value for key, value in gradebook.items() if key[1] != "aa-01"}


def test_marking_and_results_go_on_without_the_person(school):
    forget_one(school)
    after = open_school(school.folder)
    tally = mark_school(after, quiet, ONE_ROOM)
    assert (tally.marked, tally.already, tally.refused) == (0, 2, ())
    found = mark_and_report(after)
    assert found["aa-01"].record is None
    assert holding(school.folder, NAME, EMPLOYER, ANSWER) == set()


def test_a_second_markers_sample_goes_on_without_the_person(school):
    (sitting,) = school.sittings
    path = school.records / f"moderation_{SITTING}.json"
    before = moderation.read_sample(path)
    forget_one(school)
    after = open_school(school.folder)
    sample = moderation.read_sample(path)
    own = {one.sample for one in before.drawn if "-aa-01-" in one.paper}
    assert len(own) == 1
    assert sample.drawn == tuple(one for one in before.drawn if one.sample not in own)
    assert sample.second == tuple(one for one in before.second if one.sample not in own)
    assert len(sample.second) == 2
    table = school.records / f"moderation_{SITTING}_marks.csv"
    assert moderation.take_marks(after, sitting, table, gather(after)) == sample


def test_a_second_time_nothing_is_done(school):
    forget_one(school)
    before = everything_in(school.folder)
    assert forget_one(open_school(school.folder)).is_nothing
    assert everything_in(school.folder) == before


def test_an_id_that_was_forgotten_is_not_issued_again(school):
    forget_one(school)
    with (school.folder / "roster.csv").open("a", encoding="utf-8") as roster:
        roster.write("aa-01,Somebody Else,Larkwater Energy,day crew,field\n")
    again = open_school(school.folder)
    with pytest.raises(GraderError, match="aa-01 was forgotten"):
        issue(again, again.sittings, quiet)


@pytest.mark.parametrize(("why", "said"), [("", "say why"), (f"{NAME.upper()} asked", "holds the name")])
def test_a_reason_is_needed_and_may_hold_no_name(school, why, said):
    before = everything_in(school.folder)
    with pytest.raises(GraderError, match=said):
        forget_one(school, why=why)
    assert everything_in(school.folder) == before


def test_nobody_is_forgotten_by_an_id_that_there_is_not(school):
    before = everything_in(school.folder)
    with pytest.raises(GraderError, match="nobody of the id 'aa-99'"):
        forget(school, ["aa-01", "aa-99"], WHY, lambda: open_school(school.folder))
    assert everything_in(school.folder) == before


def test_a_file_that_is_not_ours_is_left_and_named(school):
    (school.folder / "notes.txt").write_text(f"Ask {NAME} about the pump.", encoding="utf-8")
    assert forget_one(school).left == ("notes.txt",)
    assert holding(school.folder, NAME) == {"notes.txt"}


def test_who_was_taken_off_the_roster_before_is_forgotten_too(school):
    roster = school.folder / "roster.csv"
    roster.write_bytes(without_rows(roster, lambda columns, cells: cells[0] == "aa-01"))
    forget_one(open_school(school.folder))
    assert holding(school.folder, EMPLOYER, ANSWER) == set()
    assert holding(school.folder, NAME) <= {"records/log.jsonl"}


def _killed_after(folder: Path, writes: int) -> bool:
    """Run the forgetting in a process of its own that kills itself before so many files are written or deleted."""
    code = f"""
import os, signal, sys
left = {writes}
def counted(real):
    def call(*arguments, **named):
        global left
        left -= 1
        if left < 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*arguments, **named)
    return call
from pathlib import Path
from grader.store.school import open_school
from grader.privacy import privacy
from grader.store import ledger
from grader.marking.gradebook import Gradebook
privacy.write_bytes, ledger.write_text = counted(privacy.write_bytes), counted(ledger.write_text)
Path.unlink, Gradebook.forget = counted(Path.unlink), counted(Gradebook.forget)
ledger.os.fsync = counted(os.fsync)
folder = Path(sys.argv[1])
privacy.forget(open_school(folder), ["aa-01"], {WHY!r}, lambda: open_school(folder))
"""
    path = os.pathsep.join([str(Path(__file__).parents[3]), *sys.path])
    done = subprocess.run(
        [sys.executable, "-c", code, str(folder)], env={**os.environ, "PYTHONPATH": path}, check=False
    )
    assert done.returncode in (0, -signal.SIGKILL)
    return done.returncode != 0


@pytest.mark.slow
@pytest.mark.parametrize(
    "writes",
    (0, 1, 2, 4, 7, 11, 16, 22, 27, 31, 34),
)
def test_a_run_that_is_killed_is_completed_by_the_next(school, writes):
    assert _killed_after(school.folder, writes)
    again = open_school(school.folder)
    Register(again), Log(again)
    assert [fault for fault in read_books(again).faults if fault.forges] == [], "nobody is accused of forging"
    forget_one(again)
    assert holding(school.folder, NAME, EMPLOYER, ANSWER) == set()
    assert [line["candidate"] for line in Log(open_school(school.folder)).lines if line["what"] == FORGOTTEN] == [
        "aa-01"
    ]


# Keeping so long ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("last", "months", "until"),
    [
        (date(2026, 5, 5), 24, date(2028, 5, 5)),
        (date(2026, 5, 5), 0, date(2026, 5, 5)),
        (date(2026, 12, 31), 2, date(2027, 2, 28)),
        (date(2027, 12, 31), 2, date(2028, 2, 29)),
        (date(2026, 1, 31), 11, date(2026, 12, 31)),
    ],
)
def test_it_is_kept_for_whole_months_after_the_last_sitting(tmp_path, last, months, until):
    make_school(tmp_path)
    text = (tmp_path / "school.toml").read_text().replace("2026-05-05", str(last))
    (tmp_path / "school.toml").write_text(f"{text}\n[privacy]\nkeep_months = {months}\n")
    assert kept_until(open_school(tmp_path)) == until


def test_a_school_that_does_not_say_keeps_until_somebody_decides(tmp_path):
    new_school(tmp_path, "Saltreed course", date(2026, 5, 4))
    assert kept_until(open_school(tmp_path)) is None


@pytest.mark.parametrize("value", ["-1", '"24"', "true", "1.5"])
def test_a_time_that_is_none_is_told(tmp_path, value):
    make_school(tmp_path)
    with (tmp_path / "school.toml").open("a") as file:
        file.write(f"\n[privacy]\nkeep_months = {value}\n")
    with pytest.raises(GraderError, match="keep_months"):
        open_school(tmp_path)


def test_all_are_forgotten_when_the_time_is_over(school):
    forget(school, privacy.everybody(school), "kept for 24 months", lambda: open_school(school.folder))
    names = [NAME, EMPLOYER, ANSWER, "Ömer Çınar", "Нина Ветрова", "Larkwater Energy", "The mud is too heavy."]
    assert holding(school.folder, *names) == set()
    assert open_school(school.folder).roster == ()


# Saying and handing out -----------------------------------------------------------------------------------------------


def test_what_is_kept_is_said_in_plain_words_with_its_place(school):
    said = "\n".join(kept_lines(school, "aa-01"))
    for place in ("roster.csv", "absences.csv", "packs/day1/", "scripts/", "records/marked/aa-01/", "records/marks/",
                  "records/feedback/", "records/gradebook.db", "records/refused.json", "results.csv", "register.jsonl",
                  "records/log.jsonl"):  # fmt: skip
        assert place in said, place
    assert "3 people" in next(kept_lines(school))


def test_every_file_that_holds_the_person_is_among_what_is_said_to_be_kept(school):
    held = Person(school, "aa-01").held()
    said = {path.relative_to(school.folder).as_posix() for one in held for path in one.files}
    said |= {place for one in held if one.rows for place in one.where.split(", ")}
    assert {name.partition("!")[0] for name in holding(school.folder, NAME, EMPLOYER, ANSWER)} <= said


def test_each_file_is_read_once_however_many_people_are_asked_about(school, monkeypatch):
    """Counted for one person and for all three; scripts stand aside, whose papers are remembered by themselves."""
    read: list[Path] = []
    texts = privacy._texts
    monkeypatch.setattr(privacy, "_texts", lambda path: (read.append(path), texts(path))[1])

    def reports_read(candidate: str | None) -> list[Path]:
        read.clear()
        list(kept_lines(school, candidate))
        return sorted(path for path in read if path.parent == school.records)

    assert len(reports_read(None)) == len(reports_read("aa-01")) > 5


@pytest.mark.parametrize("name", ["Ingrid O'Neil", "Ingrid Sølvberg-Ås", "Ann  Kirk, jr."])
def test_a_person_is_found_by_words_where_the_pattern_finds_them(tmp_path, name):
    school = make_school(tmp_path / "school", (f'aa-01,"{name}",,,field', *OTHERS))
    issue(school, school.sittings, quiet)
    person = Person(school, "aa-01", look=Look(school))
    (paper,) = person.paper_ids
    spelled = [name, name.upper(), html.escape(name), json.dumps(name)[1:-1], name.replace("K", "\N{KELVIN SIGN}")]
    pieces = [*spelled, "aa-01", "AA-01", "aa", "01", paper, paper[:-1], *name.split()]
    around = ["", " ", "-", "_", ".", "x", "ı", "é", "9", "\n"]
    both = {True: 0, False: 0}
    for piece, before, behind in itertools.product(pieces, around, around):
        text = f"of {before}{piece}{behind} and"
        assert person.is_mentioned(Said(text)) is person.mentioned_in(text), text
        both[person.mentioned_in(text)] += 1
    assert min(both.values()) > 50


def unzipped(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def test_the_export_holds_all_of_one_person_and_nothing_of_others(school):
    path = write_export(school, "AA-01")
    files = unzipped(path)
    for begins in ("about.txt", "roster.csv", "absences.csv", "papers/", "scripts/", "marked/", "marks.csv", "records/",
                   "feedback/", "gradebook.csv", "results.csv",
                   "refused.json", "register.json", "log.csv"):  # fmt: skip
        assert any(name.startswith(begins) for name in files), begins
    everything = b"\n".join(files.values())
    assert all(any(one in everything for one in spellings(text)) for text in (NAME, EMPLOYER, ANSWER))
    for other in ("aa-02", "aa-03", "Ömer Çınar", "Нина Ветрова"):
        assert not any(one in everything for one in spellings(other)), other
    assert path.stat().st_mode & 0o777 == 0o600


def test_the_export_has_each_answer_with_its_marks(school):
    text = unzipped(write_export(school, "aa-01"))["marks.csv"].decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    record = next(result.record for result in gather(school) if result.candidate.id == "aa-01")
    assert [row["part"] for row in rows] == [f"{n}{i.item}" for n, e in enumerate(record.exercises, 1) for i in e.items]
    assert any(f"{NAME} is right" in row["changed"] for row in rows)
    assert any(ANSWER in row["answer"] for row in rows)


def test_an_export_of_nobody_writes_nothing(school):
    before = everything_in(school.folder)
    with pytest.raises(GraderError, match="nobody of the id"):
        write_export(school, "zz-99")
    assert everything_in(school.folder) == before


# Ids that are like other words ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("candidate", a_few(["day1", "c1", "marram", "results", "practice", "marked", "1"], 2))
def test_no_file_of_others_goes_with_a_candidate_whose_id_is_like_another_word(tmp_path, candidate):
    school = marked_cohort(tmp_path, candidates=3)
    roster = school.folder / "roster.csv"
    roster.write_text(roster.read_text() + f"{candidate},Odd One,Nobody,day crew,field\n")
    school = open_school(tmp_path)
    issue(school, school.sittings, quiet)
    others = {name for name in everything_in(tmp_path) if any(f"c00{n}" in name for n in (1, 2, 3))}
    assert others
    forget_one(school, candidate)
    assert others <= set(everything_in(tmp_path))
    assert holding(tmp_path, "Odd One") == set()


# Rows of tables -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("head", ["id;name", "sep=;\nid;name"])
def test_rows_that_stay_are_byte_by_byte_as_they_were(tmp_path, ends, encoding, head):
    rows = ['a;"Ann ""A"""', "", 'b;"two\nlines"', "c; Zoë  ", '"d";last']
    lines = [head, *rows]
    path = tmp_path / "roster.csv"
    path.write_bytes("\n".join(lines).replace("\n", ends).encode(encoding))
    for gone, row in (("a", rows[0]), ("b", rows[2]), ("c", rows[3])):
        left = [line for line in lines if line != row]
        wanted = "\n".join(left).replace("\n", ends).encode(encoding)
        assert without_rows(path, lambda columns, cells, gone=gone: cells[0] == gone) == wanted
