"""Packs: what a candidate is handed. One paper as a notebook, as a page to work in and as a sheet to print."""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass, replace
from pathlib import Path

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
    """The file names of a pack; they tell candidates by id, never by name."""

    notebook: str
    worksheet: str
    sheet: str
    how_to: str
    archive: str


def pack_names(school: School, paper: Paper) -> PackNames:
    """What the files of a paper's pack are called."""
    notebook = script_name(school, paper)
    stem = Path(notebook).stem
    return PackNames(
        notebook=notebook,
        worksheet=f"{stem}_worksheet.html",
        sheet=f"{stem}_sheet.html",
        how_to=f"{stem}_how-to.html",
        archive=f"{stem}.zip",
    )


def pack_file(school: School, paper: Paper) -> Path:
    """Where the zip of a paper lies."""
    return school.packs / paper.candidate / pack_names(school, paper).archive


def is_packed(school: School, paper: Paper) -> bool:
    """Whether the pack of a paper is there and whole: its files, and its zip, which is written last."""
    names = pack_names(school, paper)
    folder = school.packs / paper.candidate
    return all((folder / name).exists() for name in vars(names).values())


def write_pack(school: School, sitting: Sitting, candidate: Candidate, paper: Paper) -> Path:
    """Put the candidate's files, and a zip of them, into the packs folder; gives the zip's path."""
    names = pack_names(school, paper)
    folder = school.packs / candidate.id
    files = pack_contents(school, sitting, candidate, paper)
    for name, data in files.items():
        write_bytes(folder / name, data)
    write_bytes(folder / names.archive, _zipped({f"{candidate.id}/{name}": data for name, data in files.items()}))
    return folder / names.archive


def pack_contents(school: School, sitting: Sitting, candidate: Candidate, paper: Paper) -> dict[str, bytes]:
    """The files of a pack by name. The same paper always makes the same bytes."""
    names = pack_names(school, paper)
    variants = paper.variants()
    sitting = as_titled(sitting, paper)
    notebook = paper_notebook(school, sitting, candidate, paper, variants)
    exercises = questions(variants)
    items = {item["name"]: item for exercise in exercises for part in exercise["parts"] for item in part["items"]}
    shown = {
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
    }
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
            {key: part[key] for key in ("name", "label", "cell")} | {"items": [item["name"] for item in part["items"]]}
            for exercise in exercises
            for part in exercise["parts"]
        ],
        "items": items,
        "notebook": notebook,
    }
    worksheet = filled(
        "papers/worksheet.html",
        **shown,
        style=text_of("pages/worksheet.css"),
        script=text_of(*FORM_SCRIPTS, "papers/worksheet.js", "papers/calculator.js"),
        data=script_data(data),
    )
    import nbformat  # takes a second to load, and not all who need this module need it

    return {
        names.notebook: (nbformat.writes(notebook) + "\n").encode(),
        names.worksheet: worksheet.encode(),
        names.sheet: filled("papers/sheet.html", **shown).encode(),
        names.how_to: filled("papers/how_to.html", **shown).encode(),
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
