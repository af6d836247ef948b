"""Key in what stands on printed sheets: a page for the assessor to type it, and scripts made of what was typed.

The page holds what the papers ask and nothing of their mark schemes. What it saves is not trusted: every name, size
and kind in it is looked at before the first script is written.
"""

from __future__ import annotations

import json
import re
import textwrap
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from markupsafe import Markup

from exercises.model.answers import UnreadableAnswer, read_number
from exercises.model.variant import Variant
from grader.pages.pages import filled, script_data, text_of
from grader.papers.answer_units import kinds, kinds_data, spellings_data
from grader.papers.notebook import paper_notebook, script_name
from grader.papers.packs import FORM_SCRIPTS, as_titled
from grader.papers.page_data import questions
from grader.returned.scripts import read_scripts
from grader.running.checked_answers import clip
from grader.store.errors import GraderError
from grader.store.files import read_bytes, write_bytes, write_text
from grader.store.register import Paper, Register, attempt_suffix
from grader.store.school import Candidate, School, Sitting

#: Version of the file that the page saves, and what that file calls itself.
FORMAT = 1
KIND = "pitside answers keyed in"
#: A larger file is none that the page saved: a candidate is a few kB of it.
LARGEST = 20 * 1024 * 1024
#: Most characters of a number, a letter or letters as they were typed, and of words.
LONGEST_TYPED = 60
LONGEST_WORDS = 20_000
#: Characters of a question that the page shows, to find its place on the sheet.
SHORT_ASK = 110


@dataclass(frozen=True)
class Taken:
    """What became of a file of answers: the scripts written, those that stood there already, and those replaced."""

    written: tuple[Path, ...]
    already: tuple[Path, ...]
    replaced: tuple[Path, ...]


# The page -------------------------------------------------------------------------------------------------------------


def page_file(school: School, sitting: Sitting, attempt: int = 1) -> Path:
    """Where the page of a sitting lies."""
    return school.records / f"keyin_{sitting.id}{attempt_suffix(attempt)}.html"


def write_page(
    school: School,
    sitting: Sitting,
    attempt: int = 1,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[Path, int, int]:
    """Write the page of a sitting; gives its path, how many candidates are on it, how many of them have a script.

    ``progress`` is told how many papers are put on it, of how many.

    Raises: :class:`GraderError` when nobody of the roster was issued a paper, or a mark scheme has changed since.
    """
    register = Register(school)
    papers = _issued(school, register, sitting, attempt)
    there, faults = _came_back(school, register)
    every: list[Variant] = []
    candidates = []
    for count, (candidate, paper) in enumerate(papers, 1):
        variants = paper.variants()
        every += variants
        candidates.append(
            {
                "id": candidate.id,
                "name": candidate.name,
                "paper": paper.id,
                "script": there.get(paper.id, ""),
                "fault": faults.get(paper.id, ""),
                "exercises": [_exercise(exercise) for exercise in questions(variants)],
            }
        )
        progress(count, len(papers))
    register.schemes.keep()
    candidates.sort(key=lambda one: bool(one["script"]))
    data = {
        "format": FORMAT,
        "what": KIND,
        "school": school.id,
        "sitting": sitting.id,
        "attempt": attempt,
        "file": saved_name(sitting, attempt),
        "longest_typed": LONGEST_TYPED,
        "longest_words": LONGEST_WORDS,
        "kinds": kinds_data(kinds(every)),
        "spellings": spellings_data(kinds(every)),
        "candidates": candidates,
    }
    text = filled(
        "returned/keyin.html",
        school=school,
        title=as_titled(sitting, papers[0][1]).title,
        day=f"{sitting.day:%d %B %Y}",
        file=data["file"],
        style=text_of("pages/worksheet.css", "returned/keyin.css"),
        script=text_of(*FORM_SCRIPTS, "returned/keyin.js"),
        data=script_data(data),
    )
    path = page_file(school, sitting, attempt)
    write_text(path, text)
    return path, len(candidates), sum(bool(one["script"]) for one in candidates)


def _issued(school: School, register: Register, sitting: Sitting, attempt: int) -> list[tuple[Candidate, Paper]]:
    """Those of the roster who were issued a paper, and that paper."""
    papers = {paper.candidate: paper for paper in register.papers.values()
              if (paper.sitting, paper.attempt) == (sitting.id, attempt)}  # fmt: skip
    found = [(candidate, papers[candidate.id]) for candidate in school.roster if candidate.id in papers]
    if not found:
        which = f"attempt {attempt} at {sitting.id}" if attempt > 1 else sitting.id
        raise GraderError(f"{school.register_file}: nobody was issued {which}; first: pitside issue {school.here}")
    return found


def _came_back(school: School, register: Register) -> tuple[dict[str, str], dict[str, str]]:
    """By the paper's id: the file of each that has a script, and of others why a file cannot be marked, as a scan."""
    returned, refused = read_scripts(school, register)
    there = {one.paper.id: one.file for one in returned}
    faults = {}
    for one in refused:
        paper = register.paper_of(one.sitting, one.candidate, one.attempt)
        if paper and paper.id not in there:
            faults[paper.id] = f"{one.file}: {one.reason}"
    return there, faults


def _exercise(exercise: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "title": f"Exercise {exercise['number']}: {exercise['title']}",
        "parts": [
            {
                "label": part["label"],
                "ask": textwrap.shorten(Markup(part["ask"]).striptags(), SHORT_ASK, placeholder=" …"),
                "items": [_item(item) for item in part["items"]],
            }
            for part in exercise["parts"]
        ],
    }


def _item(item: Mapping[str, Any]) -> dict[str, Any]:
    match item["kind"]:
        case "number":
            names = ("name", "kind", "label", "on_the_way", "measures", "unit", "converting", "possible")
            return {name: item[name] for name in names}
        case "choice":
            letters = "".join(option["letter"] for option in item["options"])
        case "order":
            letters = "".join(sorted(step["letter"] for step in item["steps"]))
        case _:
            return {"name": item["name"], "kind": "words"}
    return {"name": item["name"], "kind": item["kind"], "letters": letters}


# What was keyed in ----------------------------------------------------------------------------------------------------


def take(school: School, sitting: Sitting, file: Path, attempt: int = 1, replace: bool = False) -> Taken:
    """Make a script of each candidate in a file that the page saved.

    Raises: :class:`GraderError`, with nothing written, when the file is not wholly what the page saves for this
    sitting, or a script would stand beside another of the same paper, or in place of a different one without
    ``replace``.
    """
    register = Register(school)
    papers = {candidate.id: (candidate, paper) for candidate, paper in _issued(school, register, sitting, attempt)}
    keyed = _Reader(file, school, sitting, attempt, papers).read()
    returned, _ = read_scripts(school, register)
    others = {one.paper.id: one for one in returned}
    todo: list[tuple[Path, bytes]] = []
    already, replaced = [], []
    for candidate_id, answers in keyed.items():
        candidate, paper = papers[candidate_id]
        path = school.scripts / f"keyed_{script_name(school, paper)}"
        other = others.get(paper.id)
        if other and other.path != path:
            raise GraderError(
                f"{file.name}: {candidate_id} has a script already, {other.file}; if the printed sheet counts, move "
                "that file elsewhere, then take this one again. Nothing was written"
            )
        data = answered_script(school, sitting, candidate, paper, answers, {"keyed_in": True})
        if not path.exists():
            todo.append((path, data))
        elif path.read_bytes() == data:
            already.append(path)
        elif replace:
            todo.append((path, data))
            replaced.append(path)
        else:
            raise GraderError(
                f"{file.name}: other answers of {candidate_id} were keyed in before, {path}; to put these in their "
                "place, add --replace. Nothing was written"
            )
    for path, data in todo:
        write_bytes(path, data)
    return Taken(tuple(path for path, _ in todo if path not in replaced), tuple(already), tuple(replaced))


def saved_name(sitting: Sitting, attempt: int) -> str:
    """The name of the file that the page of an attempt at a sitting saves."""
    return f"keyed_{sitting.id}{attempt_suffix(attempt)}.json"


def named_in(school: School, file: Path) -> tuple[Sitting, int]:
    """The sitting and attempt that a file of answers says it is of. Raises: :class:`GraderError` if it says none."""
    data = _json(file)
    sitting = next((one for one in school.sittings if one.id == data.get("sitting")), None)
    attempt = data.get("attempt")
    if sitting is None:
        raise _fault(file, f"is of sitting {clip(str(data.get('sitting')), 40)}, which this school does not have")
    if type(attempt) is not int or not 1 <= attempt <= 99:
        raise _fault(file, "names no attempt")
    return sitting, attempt


def _fault(file: Path, what: str, mend: str = "save it from the page again, and take that") -> GraderError:
    return GraderError(f"{file.name}: {what}; {mend}. Nothing was written")


def _json(file: Path) -> dict[str, Any]:
    data = saved_by_page(file)
    if data.get("what") != KIND:
        raise _fault(file, "is no file of answers of the key-in page", "choose the keyed_….json that the page saved")
    return data


def saved_by_page(file: Path) -> dict[str, Any]:
    """What a file that a page saved holds, read within bounds. Raises: :class:`GraderError` if it is no such file."""
    if file.stat().st_size > LARGEST:
        raise _fault(file, f"is larger than {LARGEST // 1024 // 1024} MB, which no file of the page is")
    try:
        data = json.loads(read_bytes(file).decode("utf-8-sig"), object_pairs_hook=_once, parse_constant=_no_number)
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise _fault(file, "is no file of answers (its text is no JSON, or names something twice)") from None
    if not isinstance(data, dict):
        raise _fault(file, "is no file of answers", "choose the .json that the page saved")
    return data


#: An answer as it was typed: a number and its unit, or letters or words.
Typed = tuple[str, str] | str


class _Reader:
    """Reads a file of answers and believes nothing of it."""

    def __init__(
        self, file: Path, school: School, sitting: Sitting, attempt: int, papers: Mapping[str, tuple[Candidate, Paper]]
    ) -> None:
        self.file = file
        self.expected = {
            "format": FORMAT, "what": KIND, "school": school.id, "sitting": sitting.id, "attempt": attempt,
        }  # fmt: skip
        self.papers = papers

    def fault(self, what: str, mend: str = "save it from the page again, and take that") -> GraderError:
        return _fault(self.file, what, mend)

    def read(self) -> dict[str, dict[str, Typed]]:
        """The answers of each candidate by item."""
        data = _json(self.file)
        for name, expected in self.expected.items():
            found = data.get(name)
            if type(found) is not type(expected) or found != expected:
                raise self.fault(
                    f"is of {name} {clip(str(found), 40)}, not of {expected}", f"take it with the {name} that it is of"
                )
        candidates = data.get("candidates")
        if set(data) != {*self.expected, "candidates"} or not isinstance(candidates, list):
            raise self.fault("has other fields than the page writes")
        if not candidates:
            raise self.fault("holds no candidate", "finish one on the page with Done, then save again")
        keyed: dict[str, dict[str, Typed]] = {}
        for one in candidates:
            if not isinstance(one, dict) or set(one) != {"id", "paper", "answers"}:
                raise self.fault("has a candidate with other fields than the page writes")
            named = one["id"]
            if not isinstance(named, str) or named not in self.papers:
                raise self.fault(
                    f"names {clip(str(named), 40)}, who was issued no paper of this sitting",
                    "see whose sheet it is, and write the page anew if the roster changed",
                )
            if named in keyed:
                raise self.fault(f"has {named} twice")
            _, paper = self.papers[named]
            if one["paper"] != paper.id:
                raise self.fault(f"{named} has paper {paper.id}, not {clip(str(one['paper']), 40)}")
            keyed[named] = self._answers(named, paper, one["answers"])
        return keyed

    def _answers(self, named: str, paper: Paper, answers: Any) -> dict[str, Typed]:
        variants = paper.variants()
        items = {
            item["name"]: item["kind"]
            for exercise in questions(variants)
            for part in exercise["parts"]
            for item in part["items"]
        }
        units = {"", *(unit for kind in kinds(variants) for unit in kind.units)}
        if not isinstance(answers, dict):
            raise self.fault(f"{named} has no list of answers")
        found: dict[str, Typed] = {}
        for name, answer in answers.items():
            where = f"{named}, part {clip(name, 20)}"
            if name not in items:
                raise self.fault(f"{where}: the paper has no such part")
            if items[name] == "number":
                if not isinstance(answer, dict) or set(answer) != {"typed", "unit"}:
                    raise self.fault(f"{where}: is no number with its unit")
                if not isinstance(answer["unit"], str) or answer["unit"] not in units:
                    raise self.fault(f"{where}: {clip(str(answer['unit']), 20)} is no unit of the page")
                found[name] = self._text(where, answer["typed"], LONGEST_TYPED), answer["unit"]
            else:
                words = items[name] == "words"
                found[name] = self._text(where, answer, LONGEST_WORDS if words else LONGEST_TYPED, lines=words)
        return found

    def _text(self, where: str, text: Any, longest: int, lines: bool = False) -> str:
        if not isinstance(text, str):
            raise self.fault(f"{where}: is no text")
        if len(text) > longest:
            raise self.fault(f"{where}: is longer than {longest} characters", "shorten it on the page, and save again")
        allowed = "\n\t" if lines else ""
        # Controls, and halves of surrogate pairs, which no keyboard types and no file can hold.
        if any(unicodedata.category(one) in ("Cc", "Cs") and one not in allowed for one in text):
            raise self.fault(f"{where}: holds a character that cannot be typed")
        return text.strip()


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError
    return found


def _no_number(name: str) -> Any:
    raise ValueError(name)


def answered_script(
    school: School,
    sitting: Sitting,
    candidate: Candidate,
    paper: Paper,
    answers: Mapping[str, Typed],
    about: Mapping[str, Any],
) -> bytes:
    """The candidate's own notebook with these answers in it, and in its metadata how they came there."""
    import nbformat  # takes time to load, and the page needs it not

    notebook = paper_notebook(school, as_titled(sitting, paper), candidate, paper, paper.variants())
    for cell in notebook["cells"]:
        if not cell["id"].startswith("answer-"):
            continue
        if cell["cell_type"] == "markdown":
            words = answers.get(cell["id"].removeprefix("answer-"), "")
            if words:
                cell["source"] = words
        else:
            cell["source"] = "\n".join(_line(line, answers) for line in cell["source"].split("\n"))
    notebook["metadata"]["pitside"].update(about)
    nbformat.validate(notebook)
    return (nbformat.writes(notebook) + "\n").encode()


def _line(line: str, answers: Mapping[str, Typed]) -> str:
    found = re.match(r'answer\("([^"]+)", None', line)
    typed = answers.get(found[1]) if found else None
    if found is None or not typed:
        return line
    if isinstance(typed, str):
        return f"answer({_quoted(found[1])}, {_quoted(typed)})"
    number, unit = typed
    return f"answer({_quoted(found[1])}, {_number(number)}, {_quoted(unit)})" if number else line


def _number(typed: str) -> str:
    """The number as Python writes it; what is none stays the text that it is."""
    try:
        return repr(read_number(typed))
    except UnreadableAnswer:
        return _quoted(typed)


#: JSON's quoting is Python's as well, as long as no character is written as a pair of escapes.
_quoted: Callable[[str], str] = json.JSONEncoder(ensure_ascii=False).encode
