"""CSV files for spreadsheets: written so that no cell acts as a formula there, and read as spreadsheets save them."""

from __future__ import annotations

import codecs
import csv
import io
import re
import unicodedata
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from grader.store.errors import GraderError
from grader.store.files import read_bytes, write_text

#: With these begins a formula; the wide ones of East Asian keyboards as well.
FORMULA_SIGNS = "=+-@\uff1d\uff0b\uff0d\uff20\u2212"
#: Where a program that splits cells at semicolons, tabs or line ends would begin another cell with a formula.
_INNER = re.compile(rf"([;\t\r\n]\s*)(?=[{re.escape(FORMULA_SIGNS)}])")
#: How files in other than UTF-8 begin; the longer marks first, since one is the start of another.
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
#: How workbooks begin that spreadsheet programs save unless they are told to save CSV.
_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
_SEPARATOR_LINE = re.compile(r'"?sep=([;,\t|])"?[;,\t|]*', re.IGNORECASE)
#: A line with its end, whichever of the three it is.
_LINES = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+")
#: What turns the direction of the text behind it; a name needs none of them in any script.
_TURNS = re.compile("[\u202a-\u202e\u2066-\u2069]")


def harmless(cell: str) -> str:
    """A cell that a spreadsheet will not take for a formula."""
    begins = next((letter for letter in cell if not _is_blank(letter)), "")
    formula = (begins and begins in FORMULA_SIGNS) or cell[:1] in ("\t", "\r", "\n")
    return ("'" if formula else "") + _INNER.sub(r"\1'", cell)


def _is_blank(letter: str) -> bool:
    """Blanks, control characters and signs that are not seen."""
    return letter.isspace() or unicodedata.category(letter) in ("Cc", "Cf")


def write_csv(path: Path, rows: Iterable[Iterable[Any]]) -> None:
    """Write rows as a CSV file, see :func:`csv_text`."""
    write_text(path, csv_text(rows))


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


def read_csv(path: Path) -> list[tuple[int, list[str]]]:
    """The rows of a CSV file as a spreadsheet saves it, each with the number of its last line; empty rows are left out.

    Reads UTF-8, and UTF-16 and UTF-32 that begin with their mark; cells split at commas, semicolons or tabs, whichever
    the first line has most of, or at what a line such as ``sep=;`` names.

    Raises: :class:`GraderError` if it is no text or no CSV; :class:`FileNotFoundError` if it is not there.
    """
    text = _TURNS.sub("", _text(path))
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
    """The bytes of a CSV file without some of its rows; all that stays is byte by byte as it was.

    ``unwanted`` is given the cells of the first row, and those of each other. Raises as :func:`read_csv` does.
    """
    rows = read_csv(path)
    columns = rows[0][1] if rows else []
    gone = {at for at, cells in rows[1:] if unwanted(columns, cells)}
    data = path.read_bytes()
    mark, encoding = next((each for each in _MARKS if data.startswith(each[0])), (b"", "utf-8"))
    lines = _LINES.findall(data[len(mark) :].decode(encoding))
    start, delimiter = _table_begins(_TURNS.sub("", "".join(lines[:1])).rstrip("\r\n"))
    # The same reader as above says where each row begins and ends, which may be lines apart.
    reader = csv.reader((_TURNS.sub("", line) for line in lines[start:]), delimiter=delimiter, strict=True)
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


def _text(path: Path) -> str:
    try:
        data = read_bytes(path)
    except IsADirectoryError:
        raise GraderError(f"{path}: a folder, not a file; save the sheet as CSV UTF-8") from None
    if data.startswith(_WORKBOOKS):
        raise GraderError(f"{path}: a spreadsheet's workbook, not CSV; open it and save the sheet as CSV UTF-8")
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
