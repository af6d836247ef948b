"""What helps to hand a sitting out: one page that prints all sheets, one that lists who gets what.

Both pages lie beside the packs and are made of these, so the sheets are those that the candidates have. What the roster
said of each candidate when a pack was written is kept among the records, so that a later correction is seen.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup

from exercises.model import System
from grader.pages.pages import filled, text_of
from grader.papers.packs import as_titled, pack_file, pack_names, packs_of, read_pack
from grader.store.csv_files import read_csv, write_csv
from grader.store.files import write_text
from grader.store.register import Paper, Register
from grader.store.school import Candidate, School

_COLUMNS = ("paper", "id", "name", "units", "arrangements")


def sheets_file(school: School, session: str) -> Path:
    """The page that prints the sheets of all candidates."""
    return packs_of(school, session) / "sheets.html"


def list_file(school: School, session: str) -> Path:
    """The page that lists who gets which pack."""
    return packs_of(school, session) / "who_gets_what.html"


def write_lists(school: School, register: Register, session: str) -> None:
    """Write both pages anew, or take them away where nobody of the roster has a paper; no file that is the same."""
    papers = {paper.candidate: paper for paper in register.papers.values() if paper.session == session}
    sitting = next((one for one in school.sittings for paper in papers.values() if one.id == paper.sitting), None)
    given = [(candidate, papers[candidate.id]) for candidate in school.roster if candidate.id in papers]
    if not given or sitting is None:
        for path in (sheets_file(school, session), list_file(school, session)):
            path.unlink(missing_ok=True)
        return
    sitting = as_titled(sitting, given[0][1])
    sheets = [(_sheet(school, paper), candidate) for candidate, paper in given]
    shown = {"school": school, "sitting": sitting, "day": f"{sitting.day:%d %B %Y}"}
    _write(
        sheets_file(school, session),
        filled(
            "papers/sheets.html",
            **shown,
            sheets=[sheet for sheet, _ in sheets if sheet],
            script=text_of("papers/sheets.js"),
        ),
    )
    _write(
        list_file(school, session),
        filled(
            "papers/who_gets_what.html",
            **shown,
            given=[
                (candidate, paper, pack_file(school, paper).name if sheet else "")
                for (candidate, paper), (sheet, _) in zip(given, sheets, strict=True)
            ],
            lacking=[candidate for candidate in school.roster if candidate.id not in papers],
        ),
    )


@dataclass(frozen=True)
class Sheet:
    """A candidate's sheet as it lies in the pack: what stands at the foot of its pages, and what is on them."""

    foot: str
    body: Markup


def _sheet(school: School, paper: Paper) -> Sheet | None:
    text = read_pack(school, paper).get(pack_names(school, paper).sheet, b"").decode("utf-8", errors="replace")
    foot = re.search(r'@bottom-left \{ content: "([^"]*)"', text)
    body = re.search(r"<body>\n(?:<main>\n)?(.*?)(?:</main>\n)?</body>", text, re.DOTALL)
    # The sheet is a page of ours, in which every text is escaped already.
    return Sheet(foot[1], Markup(body[1])) if foot and body else None


def _write(path: Path, text: str) -> None:
    if not path.exists() or path.read_bytes() != text.encode():
        write_text(path, text)


# What was handed out --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class HandedOut:
    """What the roster said of a candidate when a pack was written; None where that is not known."""

    name: str | None
    units: System
    arrangements: str | None


def handed_out_file(school: School) -> Path:
    """Where it is kept what the roster said of each candidate when the pack was written."""
    return school.records / "handed_out.csv"


def keep_handed_out(school: School, papers: Iterable[Paper]) -> None:
    """Keep what the roster says now of the candidates of these papers, whose packs were just written."""
    by_id = {candidate.id: candidate for candidate in school.roster}
    rows = dict(_rows(school))
    before = dict(rows)
    for paper in papers:
        one = by_id[paper.candidate]
        rows[paper.id] = (paper.id, one.id, one.name, str(paper.system), one.arrangements)
    if rows != before:
        write_csv(handed_out_file(school), [_COLUMNS, *rows.values()])


def note_arrangements(school: School) -> None:
    """Keep the arrangements that the roster has now beside each pack that was handed out."""
    by_id = {candidate.id: candidate for candidate in school.roster}
    before = dict(_rows(school))
    rows = {
        paper: (*row[:4], by_id[row[1]].arrangements if row[1] in by_id else row[4]) for paper, row in before.items()
    }
    if rows != before:
        write_csv(handed_out_file(school), [_COLUMNS, *rows.values()])


def _rows(school: School) -> Iterator[tuple[str, Sequence[str]]]:
    try:
        rows = read_csv(handed_out_file(school))
    except FileNotFoundError:
        return
    for _, cells in rows[1:]:
        # Where a name begins as a formula would, an apostrophe stands before it in the file.
        row = [cell.removeprefix("'") for cell in (*cells, "", "", "", "")][: len(_COLUMNS)]
        yield row[0], tuple(row)


def handed_out(school: School, papers: Iterable[Paper]) -> Iterator[tuple[Paper, HandedOut]]:
    """What packs say, of those that are there; of packs of before, when it was not kept, what stands in them."""
    rows = dict(_rows(school))
    for paper in papers:
        if row := rows.get(paper.id):
            yield paper, HandedOut(row[2], paper.system, row[4])
        else:
            yield paper, HandedOut(_name_in_pack(school, paper), paper.system, None)


def _name_in_pack(school: School, paper: Paper) -> str | None:
    """The name that stands in a pack; None where there is no pack."""
    text = read_pack(school, paper).get(pack_names(school, paper).notebook, b"").decode("utf-8", errors="replace")
    found = re.search(rf"Candidate \*\*(.*?)\*\* \({re.escape(paper.candidate)}\), paper", text)
    return re.sub(r"\\+(\W)", r"\1", found[1]) if found else None


def same_name(candidate: Candidate, name: str) -> bool:
    """Whether a name is the candidate's, whatever file and paper have made of its signs."""
    return _signless(candidate.name) == _signless(name)


def _signless(name: str) -> str:
    return "".join(letter for letter in html.unescape(name) if letter.isalnum())
