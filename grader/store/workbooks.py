"""Workbooks (.xlsx): read within bounds, whatever is in them, and written so that no cell acts as a formula.

The file is a zip of XML, which openpyxl reads once it was seen to be small and without entities. Formulas are never
worked out: what counts is the value that the spreadsheet program kept beside each.
"""

from __future__ import annotations

import io
import math
import re
import zipfile
import zlib
from collections.abc import Iterable
from datetime import date, datetime, time
from itertools import zip_longest
from pathlib import Path
from typing import Any

from grader.store.cells import TURNS, harmless
from grader.store.errors import GraderError
from grader.store.files import write_bytes

#: How a zip begins, and how each of its files does in the list at its end.
ZIP_BEGINS = b"PK\x03\x04"
_ZIP_ENTRY = b"PK\x01\x02"
#: A roster of thousands takes a few hundred kB unpacked and some dozen parts.
MOST_PARTS = 500
MOST_UNPACKED = 16 << 20
#: Of its styles a workbook has a few kB; each costs much more to read than a cell.
MOST_STYLES = 1 << 20
MOST_ROWS, MOST_COLUMNS = 20_000, 200
#: The most that a spreadsheet program shows.
_LAST_ROW = 1_048_576
_MEND = "save the sheet as CSV UTF-8, or as .xlsx with nothing in it but the table"
#: A number as people write it, which a column may be summed by; ids such as 007 stay text.
_NUMBER = re.compile(r"-?(0|[1-9]\d{0,14})(\.\d{1,15})?")
#: What XML cannot hold.
_NO_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_LONGEST = 32_000
_WIDEST = 60


def rows_of(path: Path, data: bytes) -> list[tuple[int, list[str]]]:
    """The rows of a workbook's first sheet that is not hidden, each with its number; empty rows are left out.

    Raises: :class:`GraderError` where it is none, is damaged, is larger than such tables are, or a cell holds an error
    of the spreadsheet or a formula without its value.
    """
    _check_size(path, data)
    plain, has_formulas = _read(path, data, values=False)
    if not has_formulas:
        return plain
    worked_out, _ = _read(path, data, values=True)
    for (number, cells), (_, values) in zip_longest(plain, worked_out, fillvalue=(0, [])):
        for at, (formula, value) in enumerate(zip_longest(cells, values, fillvalue="")):
            if formula and not value:
                raise GraderError(
                    f"{path}: line {number}: cell {at + 1} holds a formula without its value; open the file in the "
                    "spreadsheet program and save it, or type the value"
                )
    return worked_out


def _check_size(path: Path, data: bytes) -> None:
    if data.count(_ZIP_ENTRY) > MOST_PARTS:
        raise GraderError(f"{path}: a workbook of more than {MOST_PARTS} parts; {_MEND}")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
            _check_parts(path, parts)
            has_entities = any(_has_entities(packed.read(part)) for part in parts)
    # The library raises whatever its parts do.
    except (zipfile.BadZipFile, zlib.error, RuntimeError, ValueError, EOFError, OSError, ArithmeticError, LookupError):
        raise GraderError(f"{path}: a damaged workbook; {_MEND}") from None
    if has_entities:
        raise GraderError(f"{path}: a workbook with entities in it, as no spreadsheet program writes; {_MEND}")


def _has_entities(text: bytes) -> bool:
    """Whether a part declares a document type, by which a few letters can stand for many, or for a file."""
    return any("<!DOCTYPE".encode(encoding) in text for encoding in ("utf-8", "utf-16-le", "utf-16-be"))


def _check_parts(path: Path, parts: list[zipfile.ZipInfo]) -> None:
    # Of these two kinds alone the library unpacks no more than they say.
    if any(part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for part in parts):
        raise GraderError(f"{path}: a workbook packed in a strange way; {_MEND}")
    if any(part.flag_bits & 1 for part in parts):
        raise GraderError(f"{path}: a workbook with a password; save it without one, or the sheet as CSV UTF-8")
    if not any(part.filename == "xl/workbook.xml" for part in parts):
        raise GraderError(f"{path}: neither CSV nor a workbook (.xlsx); {_MEND}")
    styles = sum(part.file_size for part in parts if not part.filename.startswith(("xl/worksheets/", "xl/sharedStr")))
    if sum(part.file_size for part in parts) > MOST_UNPACKED or styles > MOST_STYLES:
        raise GraderError(f"{path}: a workbook far larger than such a table is; {_MEND}")


def _read(path: Path, data: bytes, values: bool) -> tuple[list[tuple[int, list[str]]], bool]:
    """Rows, with the values of formulas or with their text, and whether there are any formulas."""
    import openpyxl  # takes a third of a second, and most rosters are CSV

    rows: list[tuple[int, list[str]]] = []
    has_formulas = False
    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=values, keep_links=False)
        sheet = next(one for one in book.worksheets if one.sheet_state == "visible")
        # What the file says of its size may be anything.
        sheet.reset_dimensions()
        for number, cells in enumerate(sheet.iter_rows(), 1):
            if number > _LAST_ROW or len(rows) > MOST_ROWS:
                raise GraderError(f"{path}: a sheet of more than {MOST_ROWS} rows; {_MEND}")
            if len(cells) > MOST_COLUMNS and any(cell.value is not None for cell in cells[MOST_COLUMNS:]):
                raise GraderError(f"{path}: line {number}: more than {MOST_COLUMNS} columns; {_MEND}")
            row = cells[:MOST_COLUMNS]
            wrong = next((at for at, cell in enumerate(row) if cell.data_type == "e"), None)
            if wrong is not None:
                raise GraderError(
                    f"{path}: line {number}: cell {wrong + 1} holds {str(row[wrong].value)[:20]} in place of a value; "
                    "type the value"
                )
            has_formulas = has_formulas or any(cell.data_type == "f" for cell in row)
            texts = [_text(cell.value) for cell in row]
            if any(texts):
                rows.append((number, texts))
    except GraderError:
        raise
    # The library raises whatever its parts do at a file that is not as it should be.
    except Exception as error:
        raise GraderError(f"{path}: a damaged workbook ({type(error).__name__}); {_MEND}") from None
    return rows, has_formulas


def _text(value: Any) -> str:
    match value:
        case None:
            return ""
        case bool():
            return str(value).lower()
        case float() if value.is_integer() and abs(value) < 1e15:
            return str(int(value))
        case datetime() if value.time() == time():
            return value.date().isoformat()
        case datetime() | date() | time():
            return value.isoformat()
        case str():
            return " ".join(TURNS.sub("", value).split())
        case _:
            return str(value)


def write_workbook(path: Path, rows: Iterable[Iterable[Any]], title: str) -> None:
    """Write rows as a workbook of one sheet, its first row fixed at the top; see :func:`workbook_of`."""
    write_bytes(path, workbook_of(rows, title))


def workbook_of(rows: Iterable[Iterable[Any]], title: str, as_read: bool = False) -> bytes:
    """Rows as a workbook, without any formula; the same rows make the same bytes. Plain numbers can be summed.

    Rows that were read from a workbook stand in it again as text, letter by letter, if they are said to be ``as_read``.
    """
    import openpyxl
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    table = [[cell if as_read else _value(cell) for cell in row] for row in rows]
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet(re.sub(r"[\[\]:*?/\\']", " ", title)[:31].strip() or "Table")
    sheet.freeze_panes = "A2"
    for at, column in enumerate(zip_longest(*table[:200], fillvalue=""), 1):
        widest = max(len(str(cell)) for cell in column)
        sheet.column_dimensions[get_column_letter(at)].width = min(_WIDEST, widest + 3)
    for number, row in enumerate(table):
        cells: list[WriteOnlyCell | None] = []
        for value in row:
            if value == "" and not as_read:
                cells.append(None)  # no cell at all, which many a row has for most exercises
                continue
            cell = WriteOnlyCell(sheet, value=value)
            if isinstance(value, str):
                cell.data_type = "s"  # said, since the library would take a text that begins with = for a formula
            if not number:
                cell.font = Font(bold=True)
            cells.append(cell)
        sheet.append(cells)
    made = io.BytesIO()
    book.save(made)
    return _without_times(made.getvalue())


def _value(cell: Any) -> str | float | int:
    if isinstance(cell, int | float):
        return cell if math.isfinite(cell) else str(cell)
    text = _NO_TEXT.sub("", str(cell))
    if _NUMBER.fullmatch(text):
        return float(text) if "." in text else int(text)
    text = harmless(text)
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]} ... (the CSV file has the rest)"


def _without_times(data: bytes) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as packed, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as anew:
        for part in packed.infolist():
            text = packed.read(part)
            if part.filename == "docProps/core.xml":
                text = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2000-01-01T00:00:00Z", text)
            anew.writestr(zipfile.ZipInfo(part.filename, (2000, 1, 1, 0, 0, 0)), text, zipfile.ZIP_DEFLATED)
    return made.getvalue()
