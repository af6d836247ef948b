"""Packs: what a candidate is handed. One paper as a notebook, as a page to work in and as a sheet to print.

A pack is one zip, ``packs/<sitting>/<candidate>.zip``, with a folder of the candidate's id in it. Schools of before
have the files, and a zip of them, in a folder for each candidate: such packs are read as well, and replaced by zips.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from markupsafe import Markup

from grader.pages.pages import filled, script_data, text_of
from grader.papers.answer_units import kinds, kinds_data, spellings_data
from grader.papers.notebook import paper_notebook, script_name
from grader.papers.page_data import questions
from grader.store.cover import cover_html
from grader.store.files import write_bytes
from grader.store.register import Paper
from grader.store.school import Candidate, School, Sitting
from pitside.unit_names import spelled

#: The scripts by which a page reads numbers and looks at the form of answers.
FORM_SCRIPTS = ("exercises/read_number.js", "pages/answer_form.js", "pages/keeping.js")


@dataclass(frozen=True)
class PackNames:
    """The file names in a pack; they tell candidates by id, never by name."""

    notebook: str
    worksheet: str
    sheet: str
    how_to: str


def pack_names(school: School, paper: Paper) -> PackNames:
    """What the files of a paper's pack are called."""
    notebook = script_name(school, paper)
    stem = Path(notebook).stem
    return PackNames(
        notebook=notebook,
        worksheet=f"{stem}_worksheet.html",
        sheet=f"{stem}_sheet.html",
        how_to=f"{stem}_how-to.html",
    )


def packs_of(school: School, session: str) -> Path:
    """The folder with everybody's packs of a sitting, or of a later attempt at it, by :attr:`Paper.session`."""
    return school.packs / session


def pack_file(school: School, paper: Paper) -> Path:
    """Where the zip of a paper is written."""
    return packs_of(school, paper.session) / f"{paper.candidate}.zip"


def loose_files(school: School, paper: Paper) -> list[Path]:
    """Where schools of before have the files of a pack, the zip of them last; they may be there or not."""
    names = pack_names(school, paper)
    folder = school.packs / paper.candidate
    return [*(folder / name for name in vars(names).values()), folder / f"{Path(names.notebook).stem}.zip"]


def is_packed(school: School, paper: Paper) -> bool:
    """Whether the pack of a paper is there and whole."""
    return pack_file(school, paper).exists() or all(path.exists() for path in loose_files(school, paper))


def write_pack(school: School, sitting: Sitting, candidate: Candidate, paper: Paper) -> Path:
    """Put the zip of a candidate's files into the packs folder; gives its path. A pack of before gives way to it."""
    files = pack_contents(school, sitting, candidate, paper)
    path = pack_file(school, paper)
    write_bytes(path, _zipped({f"{candidate.id}/{name}": data for name, data in files.items()}))
    _remove_loose(school, paper)
    return path


def read_pack(school: School, paper: Paper) -> dict[str, bytes]:
    """The files of a pack as they were written, by name; none where it is not there, or no zip any more."""
    try:
        with zipfile.ZipFile(pack_file(school, paper)) as packed:
            return {Path(name).name: packed.read(name) for name in packed.namelist()}
    except (OSError, zipfile.BadZipFile, zlib.error, RuntimeError, EOFError):
        *files, _ = loose_files(school, paper)
        return {path.name: path.read_bytes() for path in files if path.is_file()}


def drop_pack(school: School, paper: Paper) -> None:
    """Remove the pack of a paper that does not count any more."""
    pack_file(school, paper).unlink(missing_ok=True)
    _remove_loose(school, paper)


def _remove_loose(school: School, paper: Paper) -> None:
    for path in loose_files(school, paper):
        path.unlink(missing_ok=True)
    folder = school.packs / paper.candidate
    if folder.is_dir() and not any(folder.iterdir()):
        folder.rmdir()


def pack_contents(school: School, sitting: Sitting, candidate: Candidate, paper: Paper) -> dict[str, bytes]:
    """The files of a pack by name. The same paper always makes the same bytes."""
    import nbformat  # takes time to load, and not all who need this module need it

    shown = _shown(school, sitting, candidate, paper)
    names: PackNames = shown["names"]
    return {
        names.notebook: (nbformat.writes(shown["notebook"]) + "\n").encode(),
        names.worksheet: _worksheet(shown, "papers/worksheet.html").encode(),
        names.sheet: filled("papers/sheet.html", **shown).encode(),
        names.how_to: filled("papers/how_to.html", **shown).encode(),
    }


@dataclass(frozen=True)
class Worksheet:
    """A candidate's worksheet: the page, and the data that its script works with."""

    page: str
    data: dict[str, Any]


def worksheet(
    school: School,
    sitting: Sitting,
    candidate: Candidate,
    paper: Paper,
    template: str = "papers/worksheet.html",
    scripts: Sequence[str] = (),
    **more: Any,
) -> Worksheet:
    """The worksheet of a paper, as it is in the pack or framed by another template that extends it.

    ``scripts`` stand before the worksheet's own, and ``more`` is for the template.
    """
    shown = _shown(school, sitting, candidate, paper)
    return Worksheet(_worksheet({**shown, **more}, template, scripts), shown["data"])


def _worksheet(shown: Mapping[str, Any], template: str, scripts: Sequence[str] = ()) -> str:
    values = {
        **shown,
        "style": text_of("pages/worksheet.css"),
        "script": text_of(*FORM_SCRIPTS, *scripts, "papers/worksheet.js", "papers/calculator.js"),
        "data": script_data(shown["data"]),
    }
    return filled(template, **values)


def _shown(school: School, sitting: Sitting, candidate: Candidate, paper: Paper) -> dict[str, Any]:
    """What the pages of a pack show of a paper."""
    names = pack_names(school, paper)
    variants = paper.variants()
    sitting = as_titled(sitting, paper)
    notebook = paper_notebook(school, sitting, candidate, paper, variants)
    exercises = questions(variants)
    items = {item["name"]: item for exercise in exercises for part in exercise["parts"] for item in part["items"]}
    for item in items.values():
        if item["kind"] == "number":
            item["unit_label"] = (spelled(item["unit"]) or "no unit") if item["unit"] else ""
    data = {
        "paper": paper.id,
        "candidate": f"{candidate.name} ({candidate.id})",
        "file": names.notebook,
        "kinds": kinds_data(kinds(variants)),
        "spellings": spellings_data(kinds(variants)),
        "parts": [
            {key: part[key] for key in ("name", "label", "cell", "kind")}
            | {"items": [item["name"] for item in part["items"]]}
            for exercise in exercises
            for part in exercise["parts"]
        ],
        "items": items,
        "notebook": notebook,
    }
    return {
        "school": school,
        "cover": Markup(cover_html(school.cover)),
        "sitting": sitting,
        "day": f"{sitting.day:%d %B %Y}",
        "candidate": candidate,
        "paper": paper,
        "exercises": exercises,
        "names": names,
        "marks": sum(exercise["marks"] for exercise in exercises),
        "digest": notebook["metadata"]["pitside"]["digest"],
        "items": items,
        "notebook": notebook,
        "data": data,
    }


def as_titled(sitting: Sitting, paper: Paper) -> Sitting:
    """The sitting with the title that stands on a paper of it: it tells the attempt unless that is the first."""
    return replace(sitting, title=f"{sitting.title}, attempt {paper.attempt}") if paper.attempt > 1 else sitting


def _zipped(files: dict[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            # A fixed time stamp: the same paper makes the same zip.
            archive.writestr(zipfile.ZipInfo(name, (2000, 1, 1, 0, 0, 0)), data, zipfile.ZIP_DEFLATED)
    return buffer.getvalue()
