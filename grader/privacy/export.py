"""Everything that is held about one person, as a zip to give to that person, with nothing about anybody else."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

from exercises.model import Seen
from grader.classroom.drafts import Drafts, drafts_file
from grader.marking.record import Record, part_of
from grader.marking.records import read_record
from grader.observed.observations import Observations
from grader.papers.packs import read_pack
from grader.privacy.privacy import Person
from grader.reports.moderation import read_sample
from grader.store.csv_files import csv_text, read_csv
from grader.store.errors import GraderError
from grader.store.files import write_bytes
from grader.store.log import Log
from grader.store.part_marks import item_name
from grader.store.register import Paper
from grader.store.school import School

#: What stands where somebody else was named.
SOMEBODY = "(another candidate)"


def write_export(school: School, candidate: str, path: Path | None = None) -> Path:
    """Write the zip, readable by its owner alone; by default into records/exports. Gives its path.

    Raises: :class:`GraderError` if nobody has this id, or the path is no place for a zip; nothing is written then.
    """
    person = Person(school, candidate)
    path = path or school.records / "exports" / f"{school.id}_{person.id}.zip"
    if path.is_dir():
        raise GraderError(f"{path}: a folder; name the zip that is to be written")
    if path.exists() and not (path.is_file() and zipfile.is_zipfile(path)):
        raise GraderError(f"{path}: is there already and is no zip; name another file, so that this one is not lost")
    files = dict(_contents(person))
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in {"about.txt": _about(person, files), **files}.items():
            archive.writestr(zipfile.ZipInfo(name, (2000, 1, 1, 0, 0, 0)), data, zipfile.ZIP_DEFLATED)
    write_bytes(path, buffer.getvalue(), mode=0o600)
    return path


#: What the files of the zip are, by the beginning of their names.
_SAYS = {
    "roster.csv": "your line of the list of candidates",
    "absences.csv": "why you missed a sitting",
    "papers/": "your papers as they were handed out",
    "scripts/": "what you handed in, as it came",
    "marked/": "what you handed in, as it was run and marked",
    "marks.csv": "each of your answers, its marks and what they rest on",
    "records/": "the same as the programs keep it",
    "feedback/": "the pages with your feedback; open them in a browser",
    "certificates/": "your certificates",
    "other/": "other files of yours",
    "observed.csv": "what observers saw you do at the machine, when and where",
    "gradebook.csv": "your marks and comments in the assessor's gradebook",
    "second_marks.csv": "what a second marker gave",
    "results.csv": "your lines of the list of results, and of other lists",
    "classroom.csv": "each answer as it was saved in the classroom, by which of your devices, late or not, kept or not",
    "refused.json": "files of yours that could not be marked, and why",
    "register.json": "the numbers that were drawn for you, and the digests of their mark schemes",
    "log.csv": "what was done with your papers, when, by whom and why",
}


def _about(person: Person, files: dict[str, bytes]) -> bytes:
    school = person.school
    lines = [
        f"{school.title} ({school.id})",
        f"What is held about {person.candidate.name or 'you'} ({person.id})",
        "",
        "Tables (.csv) open in a spreadsheet, pages (.html) in a browser, notebooks (.ipynb) in Jupyter; all are text.",
        f"Where a text named somebody else, {SOMEBODY} stands instead.",
        "",
    ]
    for begins, says in _SAYS.items():
        count = sum(name.startswith(begins) for name in files)
        if count:
            lines.append(f"{begins:16} {says}" + (f" ({count} files)" if begins.endswith("/") else ""))
    return ("\n".join(lines) + "\n").encode()


def _contents(person: Person) -> Iterator[tuple[str, bytes]]:
    school = person.school
    yield from _own_rows(person, school.roster_file, "id", "roster.csv")
    yield from _own_rows(person, school.absences_file, "candidate", "absences.csv")
    packed = {name: data for paper in person.papers for name, data in read_pack(school, paper).items()}
    loose = {path.name: path.read_bytes() for path in person.packs() if path.suffix not in (".zip", ".part")}
    yield from ((f"papers/{name}", data) for name, data in (loose | packed).items())
    for path in person.scripts():
        if path.is_file() and not path.is_symlink():
            yield f"scripts/{path.relative_to(school.scripts).as_posix()}", path.read_bytes()
    records = [(paper, record) for paper in person.papers if (record := read_record(school, paper.id))]
    if records:
        yield "marks.csv", _table([MARK_COLUMNS, *(row for _, record in records for row in _mark_rows(person, record))])
    for path in person.records():
        below = path.relative_to(school.records)
        kind = below.parts[0]
        if kind == "marks":
            continue
        folder = kind if kind in ("marked", "feedback", "certificates") else "other"
        name = below.relative_to(kind) if folder == kind else below
        if kind != "exports":
            yield f"{folder}/{name.as_posix()}", path.read_bytes()
    for paper, record in records:
        yield f"records/{paper.id}.json", _json(person, record.to_json())
    if seen := list(_seen(person)):
        yield "observed.csv", _table([SEEN_COLUMNS, *seen])
    yield from _gradebook(person)
    if second := list(_second_marks(person)):
        yield "second_marks.csv", _table([("part", "marks", "comment", "marker"), *second])
    rows = [row for path in person.reports() if path.suffix == ".csv" for row in _rows_in(person, path)]
    if rows:
        yield "results.csv", _table(rows)
    if saved := list(_saved(person)):
        yield "classroom.csv", _table([("paper", "save", "device", "field", "answer", "late", "kept"), *saved])
    if refused := person.refusals()[0]:
        yield "refused.json", _json(person, [asdict(one) for one in refused])
    if person.papers:
        yield "register.json", _json(person, [_drawn(paper) for paper in person.papers])
    lines = person.log_lines(Log(school, only_read=True))
    if lines:
        shown = ("when", "who", "what", "paper")
        rows = [[*(line.get(name, "") for name in shown), _rest(person, line, (*shown, "seal"))] for line in lines]
        yield "log.csv", _table([(*shown, "more"), *rows])


def _drawn(paper: Paper) -> dict[str, Any]:
    """What was drawn for a paper, without what it knows of exercises and mark schemes, which makes no other paper."""
    about = {one.name: getattr(paper, one.name) for one in fields(paper) if one.compare and one.name != "entries"}
    return about | {"entries": [asdict(entry) for entry in paper.entries]}


def _own_rows(person: Person, path: Path, column: str, name: str) -> Iterator[tuple[str, bytes]]:
    if path.exists():
        (_, columns), *rows = read_csv(path) or [(1, [])]
        own = [cells for _, cells in rows if person.is_row(columns, cells, column)]
        if own:
            yield name, _table([columns, *own])


def _rows_in(person: Person, path: Path) -> Iterator[list[str]]:
    """The person's rows of a list about many, under the list's name and columns."""
    (_, columns), *rows = read_csv(path) or [(1, [])]
    own = [cells for _, cells in rows if any(person.is_cell(cell) for cell in cells)]
    if own:
        yield [path.name]
        yield columns
        for cells in own:
            yield [_without_others(person, cell) for cell in cells]
        yield []


MARK_COLUMNS = (
    "paper", "exercise", "part", "answer", "model answer", "marks", "out of", "rule", "comment", "by hand", "changed",
)  # fmt: skip


def _mark_rows(person: Person, record: Record) -> Iterator[list[Any]]:
    for number, exercise in enumerate(record.exercises, 1):
        for item in exercise.items:
            part = part_of(item)
            hand = [f"{'' if one.marks is None else f'{one.marks:g}: '}{one.comment}" for one in exercise.hand
                    if one.part == part]  # fmt: skip
            changed = [f"{one.before:g} to {one.marks:g}, {one.kind}: {one.why} ({one.who}, {one.when})"
                       for one in exercise.changes if one.part == part]  # fmt: skip
            texts = (item.slip, item.comment)
            yield [
                record.paper, exercise.exercise, item_name(number, item.item), item.given, item.model, item.marks,
                item.out_of, str(item.rule), *(_without_others(person, one) for one in (
                    ": ".join(filter(None, texts)), " | ".join(hand), " | ".join(changed))),
            ]  # fmt: skip


SEEN_COLUMNS = ("paper", "task", "observer (name typed)", "place", "begun", "minutes", "part", "seen", "unit", "remark")


def _seen(person: Person) -> Iterator[list[Any]]:
    for one in Observations(person.school, only_read=True).all:
        if one.paper in person.paper_ids:
            about = [one.paper, one.task, one.observer, one.place, one.begun, one.minutes]
            for part, value in one.answers.items():
                seen = Seen.of_letter(value) if isinstance(value, str) else None
                told = [str(seen), ""] if seen else list(value)
                yield [*about, part, *told, _without_others(person, one.note)]


def _saved(person: Person) -> Iterator[list[Any]]:
    if not drafts_file(person.school).exists():
        return
    drafts = Drafts(person.school)
    try:
        for paper in person.papers:
            numbers = drafts.devices(paper.id)
            for number, device, field, value, late, kept in drafts.saves(paper.id):
                told = value if isinstance(value, str) else f"{value['typed']} {value['unit']}".strip()
                yield [paper.id, number, numbers.get(device, ""), field, told, late, kept]
    finally:
        drafts.close()


def _second_marks(person: Person) -> Iterator[tuple[str, float, str, str]]:
    for path in person.second_marking():
        sample = read_sample(path)
        own = {one.sample for one in sample.drawn if one.paper in person.paper_ids} if sample else set()
        for one in sample.second if sample else ():
            if one.sample in own:
                yield one.part, one.marks, _without_others(person, one.comment), one.marker


def _gradebook(person: Person) -> Iterator[tuple[str, bytes]]:
    if person.gradebook_rows():
        from grader.marking.gradebook import Gradebook  # takes a second or two

        with Gradebook.of(person.school) as gradebook:
            rows = [
                [
                    _without_others(person, cell) if isinstance(cell, str) else "" if cell is None else cell
                    for cell in row
                ]
                for row in gradebook.marks_of(person.id)
            ]
        yield "gradebook.csv", _table([("sitting", "part", "marks", "by hand", "comment", "comment by hand"), *rows])


def _rest(person: Person, line: dict[str, Any], shown: Iterable[str]) -> str:
    rest = {name: value for name, value in line.items() if name not in shown and value not in (None, "", {}, [])}
    return json.dumps(_cleared(person, rest), ensure_ascii=False)


def _json(person: Person, data: Any) -> bytes:
    return (json.dumps(_cleared(person, data), ensure_ascii=False, indent=1) + "\n").encode()


def _cleared(person: Person, value: Any) -> Any:
    """JSON without other candidates' names and ids in its texts."""
    if isinstance(value, str):
        return _without_others(person, value)
    if isinstance(value, dict):
        return {name: _cleared(person, one) for name, one in value.items()}
    return [_cleared(person, one) for one in value] if isinstance(value, list | tuple) else value


def _without_others(person: Person, text: str) -> str:
    """A text with others' names and ids taken out; a paper's id, which holds one, goes whole."""
    if text in person.paper_ids or text == person.id:
        return text
    for other in (*person.others, *person.gone):
        words = [re.escape(other.id)] + ([r"\s+".join(map(re.escape, other.name.split()))] if other.name else [])
        text = re.sub(rf"(?<![\w-])(?:{'|'.join(words)})(?![\w-])", SOMEBODY, text, flags=re.IGNORECASE)
    return text


def _table(rows: Iterable[Iterable[Any]]) -> bytes:
    return csv_text(rows).encode()
