"""The demonstration: an invented school of 24, from an empty folder to marked results.

A paper is sat here; :mod:`grader.demo.yard` has the day in the yard.

Everything in it is invented: the school, the operator, the rigs, the people.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import nbformat
import numpy as np
from nbformat.v4 import new_code_cell

from exercises.model import System
from grader.certificates.certificates import certify, folder_of
from grader.demo.simulation import Ability, Typed, answers_of, filled
from grader.marking.marking import Tally, mark_school
from grader.marking.rooms import How
from grader.marking.written_answers import FORMAT, KIND, Waiting, check_of, take, waiting
from grader.marking.written_answers import write_page as write_written_page
from grader.papers.issue import issue
from grader.papers.notebook import GIVEN_CELL, script_name
from grader.papers.packs import read_pack
from grader.reports.competence import decide, off_roster, write_decisions
from grader.reports.debrief import debrief, write_debrief
from grader.reports.results import Result, gather, write_feedback, write_results
from grader.returned.keyin import write_page
from grader.store.errors import GraderError
from grader.store.files import write_bytes, write_text
from grader.store.register import Paper, Register
from grader.store.school import Candidate, School, new_school, open_school

TITLE = "Tern Point Solids Control School, week 11"
STARTS = date(2026, 3, 9)
SITTING = "day2"
#: A folder with this file was made by the demonstration, which may therefore make it anew.
MARKER = "DEMO.txt"
MARKER_TEXT = "An invented school, made by the demonstration: no person, company, rig or well in it is real.\n"

#: Who marks what is answered in words, and whose answer is left to be marked.
ASSESSOR, LEFT_TO_MARK = "Oona Verrall", "tp-11"
#: The paper's exercises, of which the last is answered in words too.
IN_NUMBERS = ("convert-mud-weight", "column-pressure", "weight-up-growing", "weight-up-fixed-final", "solids-fresh")
IN_WORDS = "explain-to-the-crew"


def settings(exercises: Iterable[str]) -> str:
    """The school's settings, with one sitting of these exercises."""
    listed = "".join(f'  "{exercise}",\n' for exercise in exercises)
    return f"""\
# An invented school: no person, company, rig or well in it is real.
[school]
id = "tern-point-11"
title = "{TITLE}"
starts = {STARTS}
units = "field"
assessor = "{ASSESSOR}"

[marking]
pass_percent = 70
outcome_percent = 60
every_outcome = true
sitting_percent = 60

[[sitting]]
id = "{SITTING}"
title = "Weight, pressure and solids: first paper"
day = 2026-03-10
exercises = [
{listed}]
"""


#: What is measured: answers that a program marks.
SETTINGS = settings(IN_NUMBERS)


@dataclass(frozen=True)
class DemoCandidate:
    """An invented candidate: how able, and what is odd about the file they hand in (a function of the script)."""

    name: str
    crew: str
    units: System
    ability: Ability
    odd: Callable[[dict[str, Any]], bytes] | None = None
    hands_in: bool = True


def _bytes(script: dict[str, Any]) -> bytes:
    return (json.dumps(script, ensure_ascii=False, indent=1) + "\n").encode()


def _with_cell(script: dict[str, Any], after: str, source: str) -> bytes:
    """The script with one more code cell behind the cell of this id."""
    place = next(n for n, cell in enumerate(script["cells"]) if cell["id"] == after)
    script["cells"].insert(place + 1, new_code_cell(source))
    return _bytes(script)


def _crashes(script: dict[str, Any]) -> bytes:
    return _with_cell(script, GIVEN_CELL, "barite = 1470 * (target - 12.0)  # target is nowhere defined")


def _loops(script: dict[str, Any]) -> bytes:
    source = "sacks = 0\nwhile sacks >= 0:  # never ends\n    sacks = sacks + 1"
    return _with_cell(script, "answer-4a", source)


def _loops_and_will_not_stop(script: dict[str, Any]) -> bytes:
    source = "while True:\n    try:\n        while True:\n            pass\n    except BaseException:\n        pass"
    return _with_cell(script, "answer-2a", source)


def _eats_memory(script: dict[str, Any]) -> bytes:
    return _with_cell(script, "answer-3a", "hog = []\nwhile True:\n    hog.append(bytearray(64 << 20))")


def _spies(script: dict[str, Any]) -> bytes:
    """Looks for the school's secrets, which the script's room must not show."""
    source = (
        "import os, pathlib\n"
        "found = []\n"
        "for folder in [pathlib.Path.cwd(), *pathlib.Path.cwd().parents, pathlib.Path.home()]:\n"
        "    for name in ('school.key', 'register.jsonl', 'records'):\n"
        "        if (folder / name).exists():\n"
        "            found.append(str(folder / name))\n"
        "print('found:', found)"
    )
    return _with_cell(script, GIVEN_CELL, source)


def _edits_the_numbers(script: dict[str, Any]) -> bytes:
    """Writes easier numbers into the printed questions; the marks come from the register and do not change."""
    for cell in script["cells"]:
        if cell["cell_type"] == "markdown":
            cell["source"] = "".join("1" if letter in "23456789" else letter for letter in cell["source"])
    return _bytes(script)


def _shows_working(script: dict[str, Any]) -> bytes:
    source = (
        "%matplotlib inline\n"
        "import numpy as np, matplotlib.pyplot as plt\n"
        "depth = np.linspace(0, 12000, 50)\n"
        "plt.plot(0.052 * 12.0 * depth, depth); plt.gca().invert_yaxis()\n"
        "plt.xlabel('psi'); plt.ylabel('ft');"
    )
    return _with_cell(script, "answer-2a", source)


def _no_notebook(script: dict[str, Any]) -> bytes:
    return b"%PDF-1.4 this is a scan of my answers, sorry\n"


def _half_a_notebook(script: dict[str, Any]) -> bytes:
    data = _bytes(script)
    return data[: len(data) // 2]


def _somebody_elses(script: dict[str, Any]) -> bytes:
    script["metadata"]["pitside"]["candidate"] = "tp-02"
    return _bytes(script)


ABLE = Ability(slips=0.03)
SOUND = Ability(slips=0.12, blanks=0.02, other_units=0.2)
SHAKY = Ability(slips=0.3, blanks=0.08, wrong_units=0.08)
LOST = Ability(slips=0.6, blanks=0.25, wrong_units=0.1)
PERFECT = Ability()

CREW, MUD, SERVICE = "Heron 4 crew", "mud engineers", "field service"
FIELD, METRIC = System.FIELD, System.METRIC

PEOPLE = (
    DemoCandidate("Marisol Ybarra Quint", CREW, FIELD, PERFECT),
    DemoCandidate("Tobias Engelhaupt", CREW, METRIC, ABLE, _shows_working),
    DemoCandidate("Nkechi Adébáyọ̀-Oru", CREW, FIELD, SOUND),
    DemoCandidate("Li Wenqiao 李文桥", CREW, METRIC, SOUND),
    DemoCandidate("Дарья Полозова", CREW, METRIC, SHAKY),
    DemoCandidate("هالة المنصوري", CREW, FIELD, ABLE),
    DemoCandidate("Joaquim Brandelli", CREW, METRIC, SHAKY, _crashes),
    DemoCandidate("Ragnhild Østervåg", CREW, METRIC, SOUND, _loops),
    DemoCandidate("Amarjeet Sandhuwal", MUD, FIELD, ABLE),
    DemoCandidate("Caoimhe Ní Fhloinn", MUD, FIELD, PERFECT, _edits_the_numbers),
    DemoCandidate("Владислав Гречко", MUD, METRIC, SOUND),
    DemoCandidate("Putri Wulandari", MUD, METRIC, SHAKY),
    DemoCandidate("Emre Gündoğar", MUD, METRIC, ABLE, _spies),
    DemoCandidate("Tsering Yangkyi", MUD, FIELD, LOST),
    DemoCandidate("Βασίλης Καρρέλης", MUD, METRIC, SOUND, _eats_memory),
    DemoCandidate('O\'Dell "Dell" Prewitt', MUD, FIELD, SHAKY),
    DemoCandidate("Søren Kjærbo", SERVICE, METRIC, ABLE),
    DemoCandidate("Fatoumata Dianké", SERVICE, FIELD, SHAKY, _no_notebook),
    DemoCandidate("Iñaki Etxebarrondo", SERVICE, METRIC, SOUND, _loops_and_will_not_stop),
    DemoCandidate("พิมพ์ชนก ศรีทอง", SERVICE, METRIC, SOUND),
    DemoCandidate("Gwilym Prothero", SERVICE, FIELD, LOST, _half_a_notebook),
    DemoCandidate("Zsófia Halmágyi", SERVICE, METRIC, SHAKY, _somebody_elses),
    DemoCandidate("Kwame Asante-Boadu", SERVICE, FIELD, SOUND),
    DemoCandidate("Nilufar Ergasheva", SERVICE, FIELD, SHAKY, hands_in=False),
)


def candidate_id(number: int) -> str:
    """The id of the candidate at this place of :data:`PEOPLE`, counted from one."""
    return f"tp-{number:02d}"


def make_school(folder: Path) -> School:
    """An empty demonstration school with its settings, roster and a key that is the same each time.

    Raises: :class:`GraderError` if the folder holds anything that the demonstration did not make.
    """
    if folder.exists() and any(folder.iterdir()):
        if not (folder / MARKER).exists():
            raise GraderError(f"{folder}: holds files of another kind; choose an empty folder for the demonstration")
        shutil.rmtree(folder)
    folder.mkdir(parents=True, exist_ok=True)
    write_text(folder / MARKER, MARKER_TEXT)
    new_school(folder, TITLE, STARTS)
    key = hashlib.sha256(b"pitside demonstration: no secret").hexdigest()
    write_bytes(folder / "school.key", key.encode() + b"\n", mode=0o600)
    write_text(folder / "school.toml", settings((*IN_NUMBERS, IN_WORDS)))
    lines = ["id,name,employer,crew,units"]
    for number, person in enumerate(PEOPLE, 1):
        name = person.name.replace('"', '""')
        lines.append(f'{candidate_id(number)},"{name}",Larkwater Energy,{person.crew},{person.units}')
    write_text(folder / "roster.csv", "\n".join(lines) + "\n")
    return open_school(folder)


def hand_in(school: School) -> int:
    """Put every invented candidate's script into the scripts folder; gives how many there are."""
    register = Register(school)
    count = 0
    for number, (candidate, person) in enumerate(zip(school.roster, PEOPLE, strict=True), 1):
        paper = register.paper_of(SITTING, candidate.id)
        if paper is None or not person.hands_in:
            continue
        data, _ = script_of(school, candidate, person, paper, np.random.default_rng(number))
        write_bytes(school.scripts / script_name(school, paper), data)
        count += 1
    return count


def script_of(
    school: School, candidate: Candidate, person: DemoCandidate, paper: Paper, generator: np.random.Generator
) -> tuple[bytes, dict[str, Typed | None]]:
    """The file that a person hands in, and the answers that were typed into it."""
    text = read_pack(school, paper)[script_name(school, paper)].decode("utf-8")
    notebook = nbformat.reads(text, as_version=4)
    answers = answers_of(paper.variants(), person.ability, generator)
    script = filled(notebook, answers)
    for cell in script["cells"]:
        typed = answers.get(cell["id"].removeprefix("answer-"))
        if cell["cell_type"] == "markdown" and typed:
            cell["source"] = typed.value
    return (person.odd or _bytes)(script), answers


def mark_words(school: School) -> None:
    """Mark what is answered in words, but for one answer, as an assessor does who saves the page's file."""
    answers = [one for one in waiting(school) if one.candidate != LEFT_TO_MARK]
    body = {
        "format": FORMAT,
        "what": KIND,
        "school": school.id,
        "marker": ASSESSOR,
        "saved": datetime.now(UTC).isoformat(timespec="milliseconds"),
        "answers": [_judged(one) for one in answers],
    }
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / f"written_{school.id}.json"
        write_text(file, json.dumps(body | {"check": check_of(body)}, ensure_ascii=False))
        take(school, file)


def _judged(one: Waiting) -> dict[str, Any]:
    """Of the points the share that the answer has of the model answer, whose sentences invented answers are made of."""
    seen = round(len(one.points) * min(1.0, len(one.text) / len(one.model)))
    remark = "" if seen == len(one.points) else "Say also what does that work now."
    marks = sum(point.marks for point in one.points[:seen])
    return {"tag": one.tag, "state": one.state, "points": list(range(seen)), "marks": marks, "remark": remark}


def sit_the_paper(
    folder: Path, allow_missing_walls: bool, progress: Callable[[str], Callable[[int, int], None]]
) -> tuple[School, Tally]:
    """Make the school, issue its paper, hand in and mark, and write the page to key in sheets.

    ``progress`` gives a counter for a step of this name.
    """
    school = make_school(folder)
    issue(school, school.sittings, progress("Issuing papers"))
    hand_in(school)
    tally = mark_school(school, progress("Marking scripts"), How(allow_missing_walls=allow_missing_walls))
    mark_words(school)
    write_written_page(school)
    write_page(school, school.sitting(SITTING))
    return school, tally


def report(school: School, progress: Callable[[int, int], None]) -> tuple[list[Result], Path]:
    """Write the results and everybody's feedback; gives the results and their page."""
    results = gather(school)
    write_results(school, results)
    return results, write_feedback(school, results, progress)


def open_pack(school: School, paper: Paper) -> Path:
    """Unpack a candidate's zip as the candidate does, to be looked at; gives the folder."""
    folder = school.folder / "opened_pack" / paper.candidate
    for name, data in read_pack(school, paper).items():
        write_bytes(folder / name, data)
    return folder


def at_the_desk(school: School, results: list[Result], book: Path | None) -> tuple[Path, Path, Path]:
    """Write the evening's debrief, the decisions to sign and the certificates; gives a page of each.

    ``book`` is the built book's folder, to link its lessons.
    """
    debriefed = write_debrief(school, debrief(school, school.sitting(SITTING), results), {}, book)
    decisions = decide(school, results)
    decided = write_decisions(school, decisions, off_roster(results), False)
    [first, *_] = certify(school, decisions, results).issued
    return debriefed, decided, folder_of(school) / f"{first.serial}_{first.candidate}.html"
