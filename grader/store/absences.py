"""Change the table of who was away and why: checked first, and what would be other by it is told."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

from grader.store.csv_files import csv_text, read_csv
from grader.store.files import write_bytes
from grader.store.school import ABSENCE_COLUMNS, Absence, School, absences_of
from grader.store.workbooks import workbook_of

#: Candidate, sitting, reason, as somebody wrote them.
Line = tuple[str, str, str]


def checked_absences(school: School, lines: Iterable[Line]) -> tuple[Absence, ...]:
    """The absences in these lines; those in which nothing stands are left out.

    Raises: :class:`GraderError` for a candidate or sitting that there is not, a reason that is missing, a line twice.
    """
    with tempfile.TemporaryDirectory(prefix="pitside-") as folder:
        path = Path(folder) / "absences.csv"
        path.write_text(csv_text([ABSENCE_COLUMNS, *_filled(lines)]), encoding="utf-8")
        return tuple(absences_of(school, path, "the list"))


def put_absences(school: School, lines: Iterable[Line]) -> Path:
    """Put checked lines in place of the table, as CSV or workbook as it was; columns of its owner's own stay with the
    candidate and sitting that they stood with. The caller holds the school."""
    path = school.absences_file
    columns, beside = _of_its_owner(path)
    rows = [(*ABSENCE_COLUMNS, *columns)]
    for line in _filled(lines):
        rows.append((*line, *beside.get((line[0].lower(), line[1].lower()), ("",) * len(columns))))
    is_book = path.suffix == ".xlsx"
    write_bytes(path, workbook_of(rows, "absences", as_read=True) if is_book else csv_text(rows).encode())
    return path


def differences(old: Sequence[Absence], new: Iterable[Absence]) -> list[str]:
    """What would be other, a line each."""
    before = {(one.candidate, one.sitting): one.reason for one in old}
    after = {(one.candidate, one.sitting): one.reason for one in new}
    lines = [f"{who} away at {what}: {why}" for (who, what), why in after.items() if (who, what) not in before]
    lines += [f"{who} not away at {what} any more" for who, what in before if (who, what) not in after]
    both = ((key, before[key], why) for key, why in after.items() if key in before and before[key] != why)
    return lines + [f"{who}, {what}: {then!r} becomes {now!r}" for (who, what), then, now in both]


def _filled(lines: Iterable[Line]) -> list[Line]:
    return [line for line in lines if any(cell.strip() for cell in line)]


def _of_its_owner(path: Path) -> tuple[tuple[str, ...], dict[tuple[str, str], tuple[str, ...]]]:
    """The columns that only the table's owner knows, and what stands in them by candidate and sitting."""
    try:
        rows = [cells for _, cells in read_csv(path)]
    except FileNotFoundError:
        rows = []
    if not rows:
        return (), {}
    names = [name.lower() for name in rows[0]]
    own = [at for at, name in enumerate(names) if name not in ABSENCE_COLUMNS]
    who, what = names.index("candidate"), names.index("sitting")
    padded = ([*cells, *[""] * len(names)] for cells in rows[1:])
    return (
        tuple(rows[0][at] for at in own),
        {(cells[who].lower(), cells[what].lower()): tuple(cells[at] for at in own) for cells in padded},
    )
