"""Take back what observers saved: looked at piece by piece, kept sealed, and made into scripts that are marked as any.

A file is believed in nothing: school, sitting, papers, tasks, items, letters and sizes are all held against the
register before the first line is kept. Taken twice it changes nothing.
"""

from __future__ import annotations

import getpass
import hashlib
import json
import math
import unicodedata
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from exercises.model import Seen
from exercises.model.parts import Watched
from grader.observed.observations import Observation, Observations
from grader.observed.page import FORMAT, KIND, LONGEST_NAME, LONGEST_NOTE, LONGEST_TYPED, papers_of
from grader.papers.answer_units import kinds
from grader.papers.notebook import script_name
from grader.papers.packs import as_titled
from grader.returned.keyin import Typed, answered_script, saved_by_page
from grader.running.checked_answers import clip
from grader.store.errors import GraderError
from grader.store.files import read_bytes, write_bytes
from grader.store.part_marks import item_name
from grader.store.register import Paper, Register
from grader.store.school import Candidate, School, Sitting

#: A task that took longer than this was not timed but forgotten.
LONGEST_MINUTES = 24 * 60
_FIELDS = {"id", "paper", "task", "begun", "minutes", "answers", "note"}


@dataclass(frozen=True)
class Taken:
    """What became of a file: observations kept now, those that were there, second ones, and the scripts by paper."""

    kept: int
    already: int
    second: int
    scripts: dict[str, Path]


def take(school: School, file: Path, replace_own: bool = False) -> Taken:
    """Keep what a file of the observer's page holds, and write the scripts of the papers that it tells of.

    Raises: :class:`GraderError`, with nothing written, when the file is not wholly what the page saves for this
    school, or an observer says something else of a task than before, without ``replace_own``.
    """
    register, observations = Register(school), Observations(school)
    sitting, attempt, found = _read(school, register, file)
    new, already, second = [], 0, 0
    for one in found:
        before = {each.observer.casefold(): each for each in observations.of_task(one.paper, one.task)}
        own = before.get(one.observer.casefold())
        if own and own.seen == one.seen:
            already += 1
            continue
        if own and not replace_own:
            raise GraderError(
                f"{file.name}: {one.observer} said something else of {one.paper}, task {one.task} before; if this "
                "corrects it, add --replace. Nothing was written"
            )
        second += bool(before) and not own
        new.append(one)
    if new:
        observations.add(new, _who())
    papers = papers_of(school, register, sitting, attempt)
    touched = {one.paper for one in found}
    scripts = {
        paper.id: _write_script(school, sitting, candidate, paper, observations)
        for candidate, paper in papers.values()
        if paper.id in touched
    }
    return Taken(len(new), already, second, scripts)


def _who() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "unknown"


def _write_script(
    school: School, sitting: Sitting, candidate: Candidate, paper: Paper, observations: Observations
) -> Path:
    """The script of a paper with all that counts of what was seen; the observers' names stand in its metadata."""
    answers: dict[str, Typed] = {}
    told = []
    for one in observations.counting(paper.id):
        answers |= {
            item: (value[0], value[1]) if isinstance(value, list) else value for item, value in one.answers.items()
        }
        told.append(f"{one}{f'; {one.note}' if one.note else ''}")
    told += [f"observers of task {one.first.task}: {one}" for one in observations.disagreements(paper.id)]
    path = school.scripts / f"observed_{script_name(school, paper)}"
    write_bytes(path, answered_script(school, as_titled(sitting, paper), candidate, paper, answers, {"observed": told}))
    return path


# Reading what was saved -----------------------------------------------------------------------------------------------


def _fault(file: Path, what: str, mend: str = "save it from the page again, and take that") -> GraderError:
    return GraderError(f"{file.name}: {what}; {mend}. Nothing was written")


def check_of(data: Mapping[str, Any]) -> str:
    """The checksum by which a file is seen to be as the page saved it: CRC-32 of its other fields without spaces.

    It finds what was altered by accident or in an editor, on devices too whose browser gives a page no digests. Who
    wants to forge a task can work it out anew; who took which file stands in the observations.
    """
    body = {name: value for name, value in data.items() if name != "check"}
    text = json.dumps(body, ensure_ascii=False, separators=(",", ":"))
    return f"{zlib.crc32(text.encode('utf-8', errors='surrogatepass')):08x}"


def _read(school: School, register: Register, file: Path) -> tuple[Sitting, int, list[Observation]]:
    data = saved_by_page(file)
    if data.get("what") != KIND:
        raise _fault(file, "is no file of the observer's page", "choose the observed_….json that it saved")
    if tuple(data) != ("format", "what", "school", "sitting", "attempt", "observer", "place", "observed", "check"):
        raise _fault(file, "has other fields than the page writes")
    if data["check"] != check_of(data):
        raise _fault(file, "was altered after it was saved (its check does not fit)")
    if data["format"] != FORMAT:
        raise _fault(file, f"is of format {clip(str(data['format']), 20)}, not {FORMAT}", "write the page anew")
    if data["school"] != school.id:
        raise _fault(
            file, f"is of school {clip(str(data['school']), 40)}, not of {school.id}", "take it in that school"
        )
    sitting = next((one for one in school.sittings if one.id == data["sitting"]), None)
    if sitting is None:
        raise _fault(file, f"is of sitting {clip(str(data['sitting']), 40)}, which this school does not have")
    attempt = data["attempt"]
    if type(attempt) is not int or not 1 <= attempt <= 99:
        raise _fault(file, "names no attempt")
    reader = _Reader(file, papers_of(school, register, sitting, attempt), hashlib.sha256(read_bytes(file)).hexdigest())
    observer = reader.text("the observer", data["observer"], LONGEST_NAME)
    place = reader.text("the place", data["place"], LONGEST_NAME)
    if not observer:
        raise _fault(file, "names no observer", "type your name on the page, then save again")
    if not isinstance(data["observed"], list) or not data["observed"]:
        raise _fault(file, "holds no task", "finish one on the page, then save again")
    found = [reader.observation(one, observer, place) for one in data["observed"]]
    seen = [one.same_task for one in found]
    if len(set(seen)) < len(seen):
        raise _fault(file, "has a task of one candidate twice")
    return sitting, attempt, found


class _Reader:
    """Reads the observations of a file."""

    def __init__(self, file: Path, papers: Mapping[str, tuple[Candidate, Paper]], digest: str) -> None:
        self.file, self.papers, self.digest = file, papers, digest

    def text(self, where: str, text: Any, longest: int) -> str:
        if not isinstance(text, str) or len(text) > longest:
            raise _fault(self.file, f"{where}: is no text of at most {longest} characters")
        if any(unicodedata.category(one) in ("Cc", "Cs") and one != "\n" for one in text):
            raise _fault(self.file, f"{where}: holds a character that cannot be typed")
        return " ".join(text.split())

    def observation(self, one: Any, observer: str, place: str) -> Observation:
        if not isinstance(one, dict) or set(one) != _FIELDS:
            raise _fault(self.file, "has a task with other fields than the page writes")
        if not isinstance(one["id"], str) or one["id"] not in self.papers:
            raise _fault(
                self.file,
                f"names {clip(str(one['id']), 40)}, who was issued no tasks of this sitting",
                "write the page anew if the roster changed",
            )
        _, paper = self.papers[one["id"]]
        if one["paper"] != paper.id:
            raise _fault(self.file, f"{one['id']} has paper {paper.id}, not {clip(str(one['paper']), 60)}")
        task, minutes = one["task"], one["minutes"]
        where = f"{one['id']}, task {clip(str(task), 10)}"
        if type(task) is not int or not 1 <= task <= len(paper.entries):
            raise _fault(self.file, f"{where}: the sitting has no such task")
        if isinstance(minutes, bool) or not isinstance(minutes, int | float) or not math.isfinite(minutes):
            raise _fault(self.file, f"{where}: minutes are no number")
        if not 0 <= minutes <= LONGEST_MINUTES:
            raise _fault(self.file, f"{where}: {minutes:g} minutes cannot be")
        return Observation(
            paper=paper.id,
            task=task,
            observer=observer,
            place=place,
            begun=self._time(where, one["begun"]),
            minutes=minutes,
            answers=self._answers(where, paper, task, one["answers"]),
            note=self.text(f"{where}, remark", one["note"], LONGEST_NOTE),
            digest=self.digest,
        )

    def _time(self, where: str, text: Any) -> str:
        try:
            return datetime.fromisoformat(text).isoformat(timespec="minutes")
        except (TypeError, ValueError):
            raise _fault(self.file, f"{where}: tells no time") from None

    def _answers(self, where: str, paper: Paper, task: int, answers: Any) -> dict[str, Any]:
        variant = paper.variants()[task - 1]
        units = {unit for kind in kinds([variant]) for unit in kind.units} | {""}
        items = {item_name(task, item.key): item for item in variant.exercise.items}
        if not isinstance(answers, dict) or not answers:
            raise _fault(self.file, f"{where}: has no list of what was seen")
        found: dict[str, Any] = {}
        for name, value in answers.items():
            item = items.get(name)
            if item is None:
                raise _fault(self.file, f"{where}: has no part {clip(name, 20)}")
            if isinstance(item, Watched):
                if not isinstance(value, str) or Seen.of_letter(value) is None:
                    raise _fault(self.file, f"{where}, part {name}: {clip(str(value), 20)} is none of the letters")
                found[name] = value
                continue
            if not isinstance(value, dict) or set(value) != {"typed", "unit"} or value["unit"] not in units:
                raise _fault(self.file, f"{where}, part {name}: is no number with its unit")
            found[name] = [self.text(f"{where}, part {name}", value["typed"], LONGEST_TYPED), value["unit"]]
        return found
