"""Tables for spreadsheets: written so that no cell acts as a formula there, and read as spreadsheets save them.

We keep CSV, and write workbooks beside it for who would rather open these; people may give us either.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from grader.store.cells import TURNS, harmless
from grader.store.errors import GraderError
from grader.store.files import read_bytes, write_text
from grader.store.workbooks import ZIP_BEGINS, rows_of, workbook_of, write_workbook

#: How files in other than UTF-8 begin; the longer marks first, since one is the start of another.
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
#: How workbooks of before 2007 begin, and those with a password.
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
_SEPARATOR_LINE = re.compile(r'"?sep=([;,\t|])"?[;,\t|]*', re.IGNORECASE)
#: A line with its end, whichever of the three it is.
_LINES = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+")


def write_csv(path: Path, rows: Iterable[Iterable[Any]]) -> None:
    """Write rows as a CSV file, see :func:`csv_text`."""
    write_text(path, csv_text(rows))


def write_tables(path: Path, rows: Iterable[Iterable[Any]], title: str) -> None:
    """Write rows as a CSV file, and beside it, under the same name, as a workbook whose sheet has this title."""
    rows = [list(row) for row in rows]
    write_workbook(path.with_suffix(".xlsx"), rows, title)
    write_csv(path, rows)


def csv_text(rows: Iterable[Iterable[Any]]) -> str:
    """Rows as CSV whose every cell is harmless in a spreadsheet; a number stays one, also below nought."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    # A lone carriage return would go out without quotation marks, and end the row for a spreadsheet.
    writer.writerows([_cell(cell).replace("\r", "\n") for cell in row] for row in rows)
    # The byte-order mark makes spreadsheet programs read names in every script.
    return "\ufeff" + buffer.getvalue()


def _cell(value: Any) -> str:
    return str(value) if isinstance(value, int | float) else harmless(str(value))


def table_file(folder: Path, name: str) -> Path:
    """Where a table that people write lies: as CSV, or as a workbook of the same name where there is no CSV.

    Raises: :class:`GraderError` where both are there and hold rows, for nobody knows which counts.
    """
    plain, book = folder / f"{name}.csv", folder / f"{name}.xlsx"
    if not book.exists():
        return plain
    if plain.exists() and len(read_csv(plain)) > 1:
        raise GraderError(f"{plain}: lies beside {book.name}, and both hold rows; delete the one that does not count")
    return book


def read_csv(path: Path) -> list[tuple[int, list[str]]]:
    """The rows of a table as a spreadsheet saves it, each with the number of its last line; empty rows are left out.

    A workbook is known by how it begins, whatever it is called; see :func:`grader.store.workbooks.rows_of`. Of CSV it
    reads UTF-8, and UTF-16 and UTF-32 that begin with their mark; cells split at commas, semicolons or tabs, whichever
    the first line has most of, or at what a line such as ``sep=;`` names.

    Raises: :class:`GraderError` if it is no text or no CSV; :class:`FileNotFoundError` if it is not there.
    """
    data = _bytes(path)
    if data.startswith(ZIP_BEGINS):
        return rows_of(path, data)
    text = TURNS.sub("", _text(path, data))
    start, delimiter = _table_begins(text)
    if start:
        text = text.partition("\n")[2]
    # Strict: a quotation mark that is never closed would else swallow the rows behind it.
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows = []
    at = start
    try:
        for row in lines:
            at = start + lines.line_num
            cells = [" ".join(cell.split()) for cell in row]
            if any(cells):
                rows.append((at, cells))
    except csv.Error as error:
        raise GraderError(
            f"{path}: line {at + 1}: cannot be read ({error}); see that every quotation mark is closed"
        ) from None
    return rows


def without_rows(path: Path, unwanted: Callable[[list[str], list[str]], bool]) -> bytes:
    """The bytes of a table without some of its rows; of CSV all that stays is byte by byte as it was.

    A workbook is made anew of what is left of its rows, without its formulas and other sheets, where anything may stand
    about the rows that go. ``unwanted`` is given the cells of the first row, and those of each other. Raises as
    :func:`read_csv` does.
    """
    rows = read_csv(path)
    columns = rows[0][1] if rows else []
    gone = {at for at, cells in rows[1:] if unwanted(columns, cells)}
    data = path.read_bytes()
    if data.startswith(ZIP_BEGINS):
        return workbook_of((cells for at, cells in rows if at not in gone), path.stem, as_read=True) if gone else data
    mark, encoding = next((each for each in _MARKS if data.startswith(each[0])), (b"", "utf-8"))
    lines = _LINES.findall(data[len(mark) :].decode(encoding))
    start, delimiter = _table_begins(TURNS.sub("", "".join(lines[:1])).rstrip("\r\n"))
    # The same reader as above says where each row begins and ends, which may be lines apart.
    reader = csv.reader((TURNS.sub("", line) for line in lines[start:]), delimiter=delimiter, strict=True)
    kept, begins = lines[:start], start
    for _ in reader:
        ends = start + reader.line_num
        if ends not in gone:
            kept += lines[begins:ends]
        begins = ends
    return mark + "".join([*kept, *lines[begins:]]).encode(encoding)


def _table_begins(text: str) -> tuple[int, str]:
    """How many lines stand before the table, and at what its cells are split."""
    first = text.partition("\n")[0]
    named = _SEPARATOR_LINE.fullmatch(first.rstrip(" "))
    # The first of equals, so that a file of one column is read too.
    return (1, named[1]) if named else (0, max(",;\t", key=first.count))


def _bytes(path: Path) -> bytes:
    try:
        data = read_bytes(path)
    except IsADirectoryError:
        raise GraderError(f"{path}: a folder, not a file; save the sheet as CSV UTF-8") from None
    if data.startswith(_OLD_WORKBOOK):
        raise GraderError(f"{path}: an old workbook, or one with a password; save the sheet as .xlsx or as CSV UTF-8")
    return data


def _text(path: Path, data: bytes) -> str:
    mark, encoding = next((each for each in _MARKS if data.startswith(each[0])), (b"", "utf-8"))
    try:
        text = data[len(mark) :].decode(encoding)
    except UnicodeDecodeError as error:
        if encoding != "utf-8":
            raise GraderError(f"{path}: begins as {encoding} but is not; save the sheet as CSV UTF-8") from None
        line = data.count(b"\n", 0, len(mark) + error.start) + 1
        raise GraderError(f"{path}: line {line}: not UTF-8 text; save the sheet as CSV UTF-8") from None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "\0" in text.partition("\n")[0]:
        raise GraderError(f"{path}: line 1: holds zero bytes, so not UTF-8 text; save the sheet as CSV UTF-8")
    return text
