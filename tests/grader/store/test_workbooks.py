"""Workbooks: read as people make them and never far, whatever is in them; written so that nothing acts."""

from __future__ import annotations

import io
import re
import time
import zipfile
from datetime import date, datetime
from pathlib import Path

import openpyxl
import pytest

from exercises.model import System
from grader.papers.issue import issue
from grader.privacy.privacy import forget
from grader.store import workbooks
from grader.store.csv_files import read_csv, without_rows, write_tables
from grader.store.errors import GraderError
from grader.store.school import Candidate, open_school
from grader.store.workbooks import rows_of, workbook_of
from tests.grader.cohorts import marked_cohort
from tests.grader.schools import CHAINED, make_school, quiet
from tests.grader.store.test_rosters import FORMULAS, acts
from tests.sharing import a_few

HEAD = ("id", "name", "employer", "crew", "units", "arrangements")
ANN = Candidate("ab-1", "Ann Ndiaye", "Larkwater Energy", "7", System.METRIC, "extra time")
BEN = Candidate("ab-2", "李文桥 <b>", "", "", System.FIELD)
ROWS = (HEAD, ("ab-1", "Ann  Ndiaye", "Larkwater Energy", 7, "Metric", "extra time"), ("AB-2", "李文桥 <b>"))


def book(*rows, change=lambda book: None) -> bytes:
    made = openpyxl.Workbook()
    for row in rows:
        made.active.append(list(row))
    change(made)
    data = io.BytesIO()
    made.save(data)
    return data.getvalue()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    found = make_school(tmp_path / "school", exercises=(CHAINED,)).folder
    (found / "roster.csv").unlink()
    return found


def roster(folder: Path, data: bytes) -> tuple[Candidate, ...]:
    (folder / "roster.xlsx").write_bytes(data)
    return open_school(folder).roster


# Read -----------------------------------------------------------------------------------------------------------------


def _other_sheets(made) -> None:
    made.create_sheet("Boots").append(["id", "size"])
    made.create_sheet("Before", 0).sheet_state = "hidden"


def _gaps(made) -> None:
    made.active.insert_rows(2, 3)
    made.active.cell(900, 3).value = None
    made.active["Z800"].font = openpyxl.styles.Font(bold=True)


def _wrong_size(data: bytes) -> bytes:
    return _edited(data, "xl/worksheets/sheet1.xml", lambda text: text.replace(b'ref="A1:F3"', b'ref="A1:XFD1048576"'))


def _edited(data: bytes, part: str, edit) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            text = old.read(entry)
            new.writestr(entry.filename, edit(text) if entry.filename == part else text)
    return made.getvalue()


def _shared(data: bytes) -> bytes:
    """The workbook with its texts in a list apart, some in runs of several looks, as the usual program saves them."""
    texts: list[str] = []

    def kept(found: re.Match[bytes]) -> bytes:
        texts.append(found[2].decode())
        return b'<c r="%s" t="s"><v>%d</v></c>' % (found[1], len(texts) - 1)

    sheet = re.compile(rb'<c r="(\w+)" t="inlineStr"><is><t[^>]*>([^<]*)</t></is></c>')
    data = _edited(data, "xl/worksheets/sheet1.xml", lambda text: sheet.sub(kept, text))
    runs = [f"<si><r><t>{text[:2]}</t></r><r><rPr><b/></rPr><t>{text[2:]}</t></r></si>".encode() for text in texts]
    strings = b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">' + b"".join(runs) + b"</sst>"
    kind = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"
    data = _edited(data, "[Content_Types].xml", lambda text: text.replace(
        b"</Types>", b'<Override PartName="/xl/sharedStrings.xml" ContentType="%s"/></Types>' % kind
    ))  # fmt: skip
    made = io.BytesIO(data)
    with zipfile.ZipFile(made, "a") as packed:
        packed.writestr("xl/sharedStrings.xml", strings)
    return made.getvalue()


READ = {
    "plain": book(*ROWS),
    "texts in a list apart": _shared(book(*ROWS)),
    "other sheets, one of them hidden before it": book(*ROWS, change=_other_sheets),
    "empty rows, and formats far below": book(*ROWS, change=_gaps),
    "a size that is not so": _wrong_size(book(*ROWS)),
}


@pytest.mark.parametrize("kind", READ)
def test_roster_is_read_from_a_workbook(folder, kind):
    assert roster(folder, READ[kind]) == (ANN, BEN)


def test_workbook_that_is_called_csv_is_read_too(folder):
    (folder / "roster.csv").write_bytes(book(*ROWS))
    assert open_school(folder).roster == (ANN, BEN)


def test_numbers_and_dates_are_read_as_a_person_sees_them():
    cells = [1, 7.0, 2.5, True, date(2026, 5, 4), datetime(2026, 5, 4, 10, 30), None, " a\n b "]
    ((_, found),) = rows_of(Path("x"), book(cells))
    assert found == ["1", "7", "2.5", "true", "2026-05-04", "2026-05-04T10:30:00", "", "a b"]


def test_formula_counts_by_the_value_that_is_kept_beside_it():
    def worked_out(text: bytes) -> bytes:
        return text.replace(b"<f>1+1</f><v></v>", b"<f>1+1</f><v>2</v>").replace(
            b"<f>1+1</f><v />", b"<f>1+1</f><v>2</v>"
        )

    data = _edited(book(("id",), ("=1+1",)), "xl/worksheets/sheet1.xml", worked_out)
    assert rows_of(Path("x"), data) == [(1, ["id"]), (2, ["2"])]
    with pytest.raises(GraderError, match=r"x: line 2: cell 1 holds a formula without its value; open the file in"):
        rows_of(Path("x"), book(("id",), ("=1+1",)))


def test_lines_are_named_by_their_number_in_the_sheet(folder):
    with pytest.raises(GraderError, match=r"roster\.xlsx: line 7: ab-9 has no name$"):
        roster(folder, book(HEAD, (), (), ("ab-1", "Ann"), (), (), ("ab-9", "")))


def test_roster_with_rows_in_both_files_is_refused_and_an_empty_one_gives_way(folder):
    (folder / "roster.csv").write_text("id,name\n")
    assert roster(folder, book(*ROWS)) == (ANN, BEN)
    (folder / "roster.csv").write_text("id,name\nab-3,Cem\n")
    with pytest.raises(GraderError, match=r"roster\.csv: lies beside roster\.xlsx, and both hold rows; delete the one"):
        open_school(folder)
    (folder / "roster.xlsx").unlink()
    assert [candidate.id for candidate in open_school(folder).roster] == ["ab-3"]


def test_absences_are_read_from_a_workbook(folder):
    (folder / "absences.xlsx").write_bytes(book(("candidate", "sitting", "reason"), ("ab-1", "day1", "ill")))
    roster(folder, book(*ROWS))
    (absence,) = open_school(folder).absences
    assert (absence.candidate, absence.reason) == ("ab-1", "ill")


# Refused --------------------------------------------------------------------------------------------------------------


def _parts(**parts: bytes) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in parts.items():
            packed.writestr(name.replace("__", "/").replace("_xml", ".xml"), data)
    return made.getvalue()


def _sheet(text: bytes) -> bytes:
    """The workbook with another sheet in it, as raw XML."""
    head = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    return _edited(book(*ROWS), "xl/worksheets/sheet1.xml", lambda _: head + text + b"</sheetData></worksheet>")


def _row(number: int, cells: bytes) -> bytes:
    return b'<row r="%d">%s</row>' % (number, cells)


_CELL = b'<c t="inlineStr"><is><t>a</t></is></c>'
_LAUGHS = b'<!ENTITY l0 "lol">' + b"".join(b'<!ENTITY l%d "%s">' % (n + 1, b"&l%d;" % n * 10) for n in range(9))


def _declaring(entities: bytes, text: bytes) -> bytes:
    head = b'<?xml version="1.0"?><!DOCTYPE worksheet [' + entities + b"]>"
    return _edited(_sheet(_row(1, _CELL.replace(b"<t>a", b"<t>" + text))), "xl/worksheets/sheet1.xml", head.__add__)


#: By what is wrong: makes the file when it is tried, some are large; and what is said.
REFUSED = {
    "a zip bomb": (lambda: _sheet(b" " * (200 << 20)), "a workbook far larger than such a table is"),
    "many small rows": (
        lambda: _sheet(b"".join(_row(n, _CELL) for n in range(1, 30_000))), "a sheet of more than 20000 rows",
    ),
    "a row far beyond the last": (lambda: _sheet(_row(10**12, _CELL)), "a sheet of more than 20000 rows"),
    "a row of many cells": (lambda: _sheet(_row(1, _CELL * 5000)), "line 1: more than 200 columns"),
    "a cell far to the right": (
        lambda: _sheet(_row(1, _CELL.replace(b"<c ", b'<c r="XFD1" '))), "line 1: more than 200 columns",
    ),
    "entities in entities": (
        lambda: _declaring(_LAUGHS, b"&l9;"), "a workbook with entities in it, as no spreadsheet program writes",
    ),
    "an entity that is a file": (
        lambda: _declaring(b'<!ENTITY x SYSTEM "file:///etc/passwd">', b"&x;"), "a workbook with entities in it",
    ),
    "entities in an encoding that hides them": (
        lambda: _edited(
            book(*ROWS), "xl/worksheets/sheet1.xml", lambda _: '<!DOCTYPE x [<!ENTITY a "b">]>'.encode("utf-16")
        ),
        "a workbook with entities in it",
    ),
    "tags in tags": (
        lambda: _sheet(b"<row>" * 200_000), "a damaged workbook",
    ),
    "styles without end": (
        lambda: _edited(
            book(*ROWS), "xl/styles.xml", lambda text: text.replace(b"<fonts", b"<fonts>" + b"<font/>" * 200_000)
        ),
        "a workbook far larger than such a table is",
    ),
    "many parts": (lambda: _parts(**{f"a{n}": b"" for n in range(600)}), "a workbook of more than 500 parts"),
    "a zip of something else": (lambda: _parts(notes=b"x"), "neither CSV nor a workbook (.xlsx)"),
    "no sheet": (lambda: _parts(xl__workbook_xml=b"<workbook/>"), "a damaged workbook"),
    "cut off": (lambda: book(*ROWS)[:3000], "a damaged workbook"),
    "the beginning of a zip": (lambda: b"PK\x03\x04\x14\x00", "a damaged workbook"),
    "an old workbook": (
        lambda: b"\xd0\xcf\x11\xe0\xa1\xb1", "an old workbook, or one with a password; save the sheet as",
    ),
    "an error in a cell": (
        lambda: book(HEAD, ("ab-1", "#N/A")), "line 2: cell 2 holds #N/A in place of a value; type the",
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", a_few(REFUSED, 3))
def test_hostile_or_damaged_workbook_is_one_line_and_takes_no_longer_than_a_large_roster(folder, kind):
    make, says = REFUSED[kind]
    data = make()
    honest = book(HEAD, *((f"ab-{n}", f"Name {n}", "Larkwater", "day", "metric") for n in range(3000)))
    begun = time.process_time()
    assert len(roster(folder, honest)) == 3000
    of_honest = time.process_time() - begun
    begun = time.process_time()
    with pytest.raises(GraderError) as refused:
        roster(folder, data)
    assert time.process_time() - begun < 10 * of_honest
    assert says in str(refused.value)
    assert str(refused.value).startswith(f"{folder / 'roster.xlsx'}: ")
    assert str(refused.value).isprintable()


# Written --------------------------------------------------------------------------------------------------------------


def cells_of(data: bytes) -> list[list[object]]:
    found = openpyxl.load_workbook(io.BytesIO(data))
    (sheet,) = found.worksheets
    return [list(row) for row in sheet.iter_rows()]


def test_no_cell_of_a_written_workbook_is_a_formula(tmp_path):
    first, second, third = cells_of(workbook_of([FORMULAS, ["plain", -1.5, "-2.5"], FORMULAS[::-1]], "=1+1"))
    for cell in (*first, *third):
        assert cell.data_type == "s"
        assert not acts(cell.value)
    assert [(cell.data_type, cell.value) for cell in second[:3]] == [("s", "plain"), ("n", -1.5), ("n", -2.5)]
    text = zipfile.ZipFile(io.BytesIO(workbook_of([FORMULAS], "x"))).read("xl/worksheets/sheet1.xml")
    assert b"<f>" not in text


def test_numbers_are_numbers_and_ids_stay_text():
    rows = [["7", "7.5", "0", "007", "1e5", "12-3", "1234567890123456", "", "0.10", 3, 2.5, float("nan")]]
    ((*cells,),) = cells_of(workbook_of(rows, "x"))
    assert [cell.value for cell in cells] == [
        7,
        7.5,
        0,
        "007",
        "1e5",
        "12-3",
        "1234567890123456",
        None,
        0.1,
        3,
        2.5,
        "nan",
    ]


def test_what_xml_or_a_cell_cannot_hold_is_left_out_and_the_csv_has_it(tmp_path):
    write_tables(tmp_path / "x.csv", [["ab\x1bc", "x" * 40_000, "é"]], "x")
    ((bare, long, other),) = cells_of((tmp_path / "x.xlsx").read_bytes())
    assert (bare.value, other.value) == ("abc", "é")
    assert len(long.value) < 32_767
    assert long.value.endswith("(the CSV file has the rest)")
    assert len(read_csv(tmp_path / "x.csv")[0][1][1]) == 40_000


def test_same_rows_make_the_same_bytes():
    assert workbook_of([["a", 1]], "x") == workbook_of([["a", 1]], "x")


def test_results_decisions_and_parts_stand_in_workbooks_as_in_csv(tmp_path):
    from click.testing import CliRunner

    from grader.cli import commands

    school = marked_cohort(tmp_path / "school", 4)
    for words in (("results",), ("decide",), ("debrief",), ("parts",)):
        assert CliRunner().invoke(commands, [words[0], str(school.folder)]).exit_code == 0
    names = ("results", "decisions", "parts_day1", "items", "items_reliability")
    for name in names:
        plain = [cells for _, cells in read_csv(school.records / f"{name}.csv")]
        rows = [cells for _, cells in read_csv(school.records / f"{name}.xlsx")]
        assert len(rows) == len(plain) > 1, name
        for cells, of_plain in zip(rows, plain, strict=True):
            padded = [*cells, *[""] * (len(of_plain) - len(cells))]
            for one, other in zip(padded, of_plain, strict=True):
                assert one == other or float(one) == float(other), (name, one, other)


# Forgotten ------------------------------------------------------------------------------------------------------------


def test_workbook_from_which_nothing_goes_is_left_as_it_is(folder):
    (folder / "roster.xlsx").write_bytes(book(*ROWS))
    assert without_rows(folder / "roster.xlsx", lambda columns, cells: False) == (folder / "roster.xlsx").read_bytes()


def test_person_in_a_workbook_is_forgotten_to_the_last_byte(folder):
    def elsewhere(made) -> None:
        made.create_sheet("Phones").append(["Ann Ndiaye", "555"])

    (folder / "roster.xlsx").write_bytes(book(*ROWS, ("ab-3", "+Cem 1.50", "", "007", ""), change=elsewhere))
    school = open_school(folder)
    before = school.roster
    issue(school, school.sittings, quiet)
    forget(school, ["ab-1"], "asked", lambda: open_school(folder))
    for path in folder.rglob("*"):
        if path.is_file():
            texts = [path.read_bytes()]
            if zipfile.is_zipfile(path):
                with zipfile.ZipFile(path) as packed:
                    texts += [packed.read(name) for name in packed.namelist()]
            assert not any(b"Ndiaye" in text for text in texts), path
    assert open_school(folder).roster == before[1:]


def test_the_bounds_leave_room_for_a_roster_of_thousands():
    data = book(
        HEAD, *((f"ab-{n}", f"Name {n}" * 5, "Larkwater Energy", "day crew", "metric", "") for n in range(5000))
    )
    assert len(rows_of(Path("x"), data)) == 5001
    unpacked = sum(part.file_size for part in zipfile.ZipFile(io.BytesIO(data)).infolist())
    assert unpacked < workbooks.MOST_UNPACKED / 3
