"""Change the roster: whatever is to stand there is checked first, and what would be other by it is told."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from grader.store.csv_files import csv_text, read_csv
from grader.store.errors import GraderError
from grader.store.files import read_bytes, write_bytes
from grader.store.school import ARRANGEMENTS, ROSTER_COLUMNS, Candidate, School, roster_of
from grader.store.workbooks import ZIP_BEGINS, workbook_of

#: No roster is larger.
MOST_BYTES = 8 << 20
_TOLD = ("name", "employer", "crew", "units", ARRANGEMENTS)


@dataclass(frozen=True)
class Table:
    """A roster as a table: the names of its columns, and a line for each candidate, as long."""

    columns: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]


def table_of(school: School) -> Table:
    """The roster's table with all of its columns, also those that only its owner knows."""
    rows = [cells for _, cells in read_csv(school.roster_file)] or [[*ROSTER_COLUMNS, ARRANGEMENTS]]
    columns = tuple(name.lower() for name in rows[0])
    lines = ((*cells, *[""] * len(columns))[: len(columns)] for cells in rows[1:])
    return Table(columns, tuple(tuple(line) for line in lines))


def checked_file(school: School, path: Path, name: str) -> tuple[Candidate, ...]:
    """The candidates in a file that somebody wants for the roster. Raises: :class:`GraderError` with all its faults."""
    read_bytes(path, MOST_BYTES)
    try:
        return roster_of(path, school.units)
    except GraderError as error:
        raise GraderError(str(error).replace(str(path), name)) from None


def checked_table(school: School, table: Table) -> tuple[Candidate, ...]:
    """Like :func:`checked_file`, of a table. Lines in which nothing stands are left out."""
    with tempfile.TemporaryDirectory(prefix="pitside-") as folder:
        path = Path(folder) / "roster.csv"
        path.write_text(csv_text(_rows(table)), encoding="utf-8")
        return checked_file(school, path, "the list")


def put_file(school: School, path: Path) -> Path:
    """Put a checked file in place of the roster, byte by byte as it is; gives its path. The caller holds the school."""
    data = read_bytes(path, MOST_BYTES)
    wanted = school.folder / ("roster.xlsx" if data.startswith(ZIP_BEGINS) else "roster.csv")
    old = school.roster_file
    write_bytes(wanted, data)
    if old != wanted:
        old.unlink(missing_ok=True)  # two rosters that both hold rows would be refused
    return wanted


def put_table(school: School, table: Table) -> Path:
    """Put a checked table in place of the roster, as CSV or workbook as it was. The caller holds the school."""
    path = school.roster_file
    is_book = path.suffix == ".xlsx"
    write_bytes(path, workbook_of(_rows(table), "roster", as_read=True) if is_book else csv_text(_rows(table)).encode())
    return path


def _rows(table: Table) -> list[tuple[str, ...]]:
    return [table.columns, *(line for line in table.lines if any(cell.strip() for cell in line))]


def differences(old: Sequence[Candidate], new: Iterable[Candidate]) -> list[str]:
    """What would be other, a line each: who comes, who goes, and what of whom changes."""
    before = {one.id: one for one in old}
    after = {one.id: one for one in new}
    lines = [f"new: {one.id}, {one.name}" for one in after.values() if one.id not in before]
    lines += [f"no longer there: {one.id}, {one.name}" for one in old if one.id not in after]
    for one in after.values():
        if was := before.get(one.id):
            changed = [(name, str(getattr(was, name)), str(getattr(one, name))) for name in _TOLD]
            lines += [f"{one.id}: {name} {then!r} becomes {now!r}" for name, then, now in changed if then != now]
    return lines
