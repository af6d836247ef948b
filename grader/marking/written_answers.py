"""Mark written answers on a page of ours, offline and blind, and take the marks back.

The page shows one part of the papers across all candidates, in an order that tells nothing, without names, ids or
papers' numbers. An answer is known by a tag that only the school's key can make, so what is saved names nobody either.
What comes back is not trusted: every tag, mark and text in it is looked at before the first mark is entered. Marks land
where marks by hand are kept, in the gradebook and the records; the log says from which file each came, who gave it,
and who took it.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import math
import string
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from markupsafe import Markup

from exercises.model import Written
from exercises.model.marking import ItemMark, Rule
from exercises.model.parts import Point
from exercises.model.practice import chart_html
from exercises.model.text import html
from exercises.model.variant import Variant
from grader.marking.books import Books, read_books
from grader.marking.record import MarkedExercise, Record
from grader.pages.pages import filled, script_data, text_of
from grader.running.checked_answers import clip
from grader.store.errors import GraderError
from grader.store.files import read_bytes, write_text
from grader.store.log import WRITTEN_TAKEN, Log
from grader.store.part_marks import HandMark, item_name
from grader.store.register import Paper
from grader.store.school import School, Sitting
from grader.store.wording import counted

#: Version of the file that the page saves, and what that file calls itself.
FORMAT = 1
KIND = "pitside marks of written answers"
#: A larger file is none that the page saved: an answer is a few hundred bytes of it, a remark a few kB.
LARGEST = 20 * 1024 * 1024
#: Most characters of a remark, and of the marker's name.
LONGEST_REMARK = 2000
LONGEST_MARKER = 60
#: Characters of an answer that the page shows; the script holds the rest.
LONGEST_SHOWN = 50_000
_SAVE_AGAIN = "save it from the page again, and take that"
_FIELDS = ("format", "what", "school", "marker", "saved", "answers")


def asked_in_words(variants: tuple[Variant, ...], exercises: tuple[MarkedExercise, ...]) -> Iterator[dict[str, Any]]:
    """The written parts of a marked paper with all that a marker needs, and nothing that tells marks."""
    for number, (variant, marked) in enumerate(zip(variants, exercises, strict=True), 1):
        answers: dict[str, ItemMark] = {item.item: item for item in marked.items}
        earlier: list[tuple[str, str]] = []
        for part in variant.exercise.parts:
            if not isinstance(part, Written):
                earlier += [(item_name(number, i.key), answers[i.key].given or "–") for i in part.items()]
                continue
            answer = answers[part.key]
            text = str(answer.value if isinstance(answer.value, str) else answer.given)
            more = len(text) - LONGEST_SHOWN
            yield {
                "name": item_name(number, part.key),
                "exercise": variant.exercise.id,
                "title": variant.exercise.title,
                "setting": Markup(html(variant.text(variant.exercise.setting)) + chart_html(variant)),
                "ask": Markup(html(variant.text(part.ask))),
                "points": part.points,
                "out_of": part.marks.total,
                "model": Markup(html(str(variant.shown_answer(part, variant.key[part.key])))),
                "earlier": tuple(earlier),
                "text": text if more <= 0 else f"{text[:LONGEST_SHOWN]}\n(and {more} more characters, in the script)",
                "is_written": answer.rule is Rule.PENDING,
            }


@dataclass(frozen=True)
class _Answer:
    """A written answer to be marked by a person; ``state`` changes with the script and the mark scheme."""

    paper: Paper
    record: Record
    asked: Mapping[str, Any]
    tag: str
    state: str

    @property
    def part(self) -> str:
        return str(self.asked["name"])


def _tag(school: School, paper: str, part: str) -> str:
    return hmac.new(school.key, f"written answer|{paper}|{part}".encode(), "sha256").hexdigest()[:20]


def _state(school: School, record: Record, part: str) -> str:
    about = f"state of a written answer|{record.paper}|{part}|{record.script}|{record.scheme}"
    return hmac.new(school.key, about.encode(), "sha256").hexdigest()[:20]


def _answers(school: School, books: Books) -> tuple[list[_Answer], list[str]]:
    """Every written answer of the marked papers, and what to say of papers whose mark scheme is no longer theirs."""
    found, faults = [], []
    for paper in books.register.papers.values():
        record = books.records.get(paper.id)
        if record is None:
            continue
        record = record.with_changes(books.log.changes(paper.id))
        try:
            variants = paper.variants()
        except GraderError as error:
            if record.pending:
                faults.append(str(error))
            continue
        for asked in asked_in_words(variants, record.exercises):
            if asked["is_written"]:
                name = asked["name"]
                state = _state(school, record, name)
                found.append(_Answer(paper, record, asked, _tag(school, paper.id, name), state))
    return found, faults


@dataclass(frozen=True)
class Waiting:
    """An answer in words that waits for marks, for whoever marks it without the page: the demonstration."""

    candidate: str
    tag: str
    state: str
    text: str
    model: str
    points: tuple[Point, ...]


def waiting(school: School) -> list[Waiting]:
    """All of them. Raises: :class:`GraderError` where marks are not those that the log tells of."""
    answers, _ = _answers(school, read_books(school).must_hold())
    return [
        Waiting(one.paper.candidate, one.tag, one.state, one.asked["text"], one.asked["model"], one.asked["points"])
        for one in answers
        if one.part in one.record.pending
    ]


# The page -------------------------------------------------------------------------------------------------------------


def page_file(school: School) -> Path:
    """Where the page lies."""
    return school.records / "written.html"


def holds_answers_of(school: School, page: str, papers: Mapping[str, int]) -> bool:
    """Whether a page holds written answers of these papers, each named with how many exercises it has.

    By tags alone, so that it can be told when the records are gone.
    """
    return any(
        _tag(school, paper, f"{number}{letter}") in page
        for paper, exercises in papers.items()
        for number in range(1, exercises + 1)
        for letter in string.ascii_lowercase
    )


@dataclass(frozen=True)
class Page:
    """The page as it was written: how many answers wait on it, to how many questions, and what is not on it."""

    path: Path
    answers: int
    questions: int
    marked: int
    faults: tuple[str, ...]


def write_page(school: School, sitting: Sitting | None = None) -> Page:
    """Write the page of all written answers that wait for marks, or those of one sitting.

    Raises: :class:`GraderError` where marks are not those that the log tells of.
    """
    answers, faults = _answers(school, read_books(school).must_hold())
    answers = [one for one in answers if sitting is None or one.paper.sitting == sitting.id]
    waiting = sorted((one for one in answers if one.part in one.record.pending), key=lambda one: one.tag)
    questions = [_question(number, of_question) for number, of_question in enumerate(_by_question(school, waiting), 1)]
    data = {
        "format": FORMAT,
        "what": KIND,
        "school": school.id,
        "longest_remark": LONGEST_REMARK,
        "longest_marker": LONGEST_MARKER,
        "questions": [
            {
                "id": question["id"],
                "out_of": question["out_of"],
                "points": [{"text": point.text, "marks": point.marks} for point in question["points"]],
                "answers": [{"tag": one.tag, "state": one.state} for one in question["answers"]],
            }
            for question in questions
        ],
    }
    text = filled(
        "marking/written.html",
        school=school,
        questions=questions,
        style=text_of("pages/worksheet.css", "marking/written.css"),
        script=text_of("pages/keeping.js", "marking/written.js"),
        data=script_data(data),
    )
    write_text(page_file(school), text)
    return Page(page_file(school), len(waiting), len(questions), len(answers) - len(waiting), tuple(faults))


def _by_question(school: School, answers: list[_Answer]) -> Iterator[list[_Answer]]:
    """The answers to each question: a part of a sitting's papers, of whatever attempt, with one mark scheme."""
    found: dict[tuple[Any, ...], list[_Answer]] = {}
    for one in answers:
        about = (one.paper.sitting, one.part, one.asked["exercise"], one.asked["points"])
        found.setdefault(about, []).append(one)
    order = {sitting.id: place for place, sitting in enumerate(school.sittings)}

    def place(about: tuple[Any, ...]) -> tuple[Any, ...]:
        sitting, part, exercise, _ = about
        letter = part.lstrip(string.digits)
        return order.get(sitting, len(order)), int(part.removesuffix(letter)), letter, exercise

    yield from (found[about] for about in sorted(found, key=place))


def _question(number: int, answers: list[_Answer]) -> dict[str, Any]:
    first = answers[0]
    about = {name: first.asked[name] for name in ("name", "title", "points", "out_of")}
    return about | {"id": f"q{number}", "sitting": first.paper.sitting, "answers": answers}


# What comes back ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Taken:
    """What became of a file: who marked; answers whose marks are new, were replaced, or stood already.

    ``stale`` counts those of another script or mark scheme than the one that is marked now; they are not taken.
    """

    marker: str
    new: int
    replaced: int
    already: int
    stale: int


@dataclass(frozen=True)
class _Given:
    """What the file gives an answer."""

    tag: str
    state: str
    points: tuple[int, ...]
    marks: float
    remark: str


def take(school: School, file: Path, replace: bool = False) -> Taken:
    """Enter the marks of a file that the page saved.

    Raises: :class:`GraderError`, with nothing entered, when the file is not wholly what the page saves for this school,
    was altered, was taken already, is older than another of the same marker that was taken, or gives an answer other
    marks than it has, without ``replace``.
    """
    data = read_bytes(file, LARGEST) if file.stat().st_size <= LARGEST else b""
    digest = hashlib.sha256(data).hexdigest()
    marker, saved, given = _read(file, data, school)
    books = read_books(school).must_hold()
    answers = {one.tag: one for one in _answers(school, books)[0]}
    if not any(one.tag in answers for one in given):
        raise _fault(
            file,
            "holds no answer of this school's marked papers",
            "take it in the school whose page it was saved from; if the papers were issued anew, mark on a new page",
        )
    stale = [one for one in given if one.tag not in answers or answers[one.tag].state != one.state]
    fresh = [one for one in given if one not in stale]
    if not fresh:
        raise _fault(
            file,
            f"is of an older state: {counted(len(stale), 'answer')}, each of a script or mark scheme that is no longer "
            "the one that is marked",
            f"write the page anew (pitside written {school.here}), and mark there",
        )
    wanted: dict[str, tuple[Paper, dict[str, HandMark]]] = {}
    for one in fresh:
        answer = answers[one.tag]
        _fits(file, one, answer)
        _, parts = wanted.setdefault(answer.paper.id, (answer.paper, {}))
        parts[answer.part] = HandMark(answer.part, one.marks, _comment(one, answer))
    before = [line for line in books.log.lines if line["what"] == WRITTEN_TAKEN]
    return _enter(school, file, digest, marker, saved, wanted, before, len(stale), replace)


def _enter(
    school: School,
    file: Path,
    digest: str,
    marker: str,
    saved: str,
    wanted: Mapping[str, tuple[Paper, dict[str, HandMark]]],
    before: list[dict[str, Any]],
    stale: int,
    replace: bool,
) -> Taken:
    from grader.marking.bookkeeping import Bookkeeper  # with the gradebook, which takes a second to load
    from grader.store.register import Register

    log = Log(school)
    new = replaced = already = 0
    todo: list[tuple[Paper, dict[str, HandMark]]] = []
    clashes: list[str] = []
    own = {line["digest"] for line in before if line.get("note") == marker}
    with Bookkeeper.of(school, Register(school), log, None) as keeper:
        keeper.enter_lost([paper for paper, _ in wanted.values()])
        for paper, parts in wanted.values():
            of_file = {}
            for part, given in parts.items():
                stands = keeper.hand_marks(paper).get(part)
                source = file_of(log, paper.id, part)
                if stands is None or (stands.marks is None and not stands.comment):
                    new += 1
                elif (stands.marks, stands.comment) == (given.marks, given.comment):
                    already += 1
                    if source:
                        continue
                elif source in own or replace:
                    replaced += 1
                else:
                    clashes.append(_clash(log, paper, part, stands, given))
                of_file[part] = given
            if of_file:
                todo.append((paper, of_file))
        known = next((line for line in before if line["digest"] == digest), None)
        later = [line for line in before if line.get("note") == marker and line["saved"] > saved]
        # Where a run was killed, a file that the log tells of is not yet wholly entered.
        if known and (later or not (new or replaced)):
            raise _fault(file, f"was taken already ({_minute(known)})", "there is nothing to do")
        if later:
            raise _fault(
                file, f"is of an older state: a later file of {marker} was taken ({_minute(later[-1])})", _SAVE_AGAIN
            )
        if clashes:
            more = f" (and {len(clashes) - 1} more like it)" if len(clashes) > 1 else ""
            raise _fault(file, f"{clashes[0]}{more}", "agree which marks count; to take these, add --replace")
        log.write(
            WRITTEN_TAKEN, digest=digest, note=marker, file=file.name, saved=saved,
            answers=sum(len(parts) for _, parts in wanted.values()),
        )  # fmt: skip
        for paper, parts in todo:
            keeper.give(paper, parts, digest)
    return Taken(marker, new, replaced, already, stale)


def _minute(line: dict[str, Any]) -> str:
    return f"{datetime.fromisoformat(line['when']).astimezone(UTC):%Y-%m-%d %H:%M} UTC"


def file_of(log: Log, paper: str, part: str) -> str:
    """The digest of the file from which the hand marks of a part were taken last; empty where they came otherwise."""
    found = ""
    last: Any = None
    for line in log.about(paper):
        hand = line.get("hand")
        if not isinstance(hand, dict):
            continue
        if part in line.get("files", {}):
            found = line["files"][part]
        elif hand.get(part) != last:
            found = ""
        last = hand.get(part)
    return found


def marker_of(log: Log, digest: str) -> tuple[str, str, str]:
    """Who gave the marks of a file that was taken, who took it, and when."""
    line = next((one for one in reversed(log.lines) if one["what"] == WRITTEN_TAKEN and one["digest"] == digest), None)
    return (line["note"], line["who"], line["when"]) if line else ("", "", "")


def _clash(log: Log, paper: Paper, part: str, stands: HandMark, given: HandMark) -> str:
    marker, _, _ = marker_of(log, file_of(log, paper.id, part))
    whose = f"from {marker}" if marker else "by hand"
    has = "a remark" if stands.marks is None else f"{stands.marks:g} marks"
    same = ", with another remark" if stands.marks == given.marks else ""
    return f"paper {paper.id}, part {part}, has {has} {whose} and gets {given.marks:g} here{same}"


def _fits(file: Path, one: _Given, answer: _Answer) -> None:
    where = f"paper {answer.paper.id}, part {answer.part}"
    if not 0 <= one.marks <= answer.asked["out_of"]:
        raise _fault(file, f"{where}: {one.marks:g} is not from 0 to {answer.asked['out_of']:g} marks")
    if any(point >= len(answer.asked["points"]) for point in one.points):
        raise _fault(file, f"{where}: ticks a point that the mark scheme does not have")


def _comment(one: _Given, answer: _Answer) -> str:
    """What the candidate is told: the points that were seen and those that were not, and the remark."""
    points = answer.asked["points"]
    seen = [f"{'✓' if n in one.points else '–'} {point.text}" for n, point in enumerate(points)] if one.points else []
    return "\n".join([*seen, *([one.remark] if one.remark else [])])


# Reading the file -----------------------------------------------------------------------------------------------------


def _fault(file: Path, what: str, mend: str = _SAVE_AGAIN) -> GraderError:
    return GraderError(f"{file.name}: {what}; {mend}. Nothing was entered")


def _read(file: Path, data: bytes, school: School) -> tuple[str, str, list[_Given]]:
    """Marker, moment of saving and marks in a file, believed in nothing but its form."""
    if not data:
        raise _fault(file, f"is empty, or larger than {LARGEST // 1024 // 1024} MB, which no file of the page is")
    try:
        whole = json.loads(data.decode("utf-8-sig"), object_pairs_hook=_once, parse_constant=_no_number)
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise _fault(file, "is no file of marks (its text is no JSON, or names something twice)") from None
    if not isinstance(whole, dict) or whole.get("what") != KIND:
        raise _fault(
            file, "is no file of the page for written answers", "choose the written_….json that the page saved"
        )
    if tuple(whole) != (*_FIELDS, "check"):
        raise _fault(file, "has other fields than the page writes")
    body = {name: whole[name] for name in _FIELDS}
    if whole["check"] != check_of(body):
        raise _fault(file, "was altered after it was saved (its check does not fit)")
    if whole["format"] != FORMAT:
        raise _fault(file, f"is of format {clip(str(whole['format']), 20)}; this version reads format {FORMAT}")
    if whole["school"] != school.id:
        raise _fault(
            file, f"is of the school {clip(str(whole['school']), 40)}, not of {school.id}", "take it in its own school"
        )
    marker = _text(file, "the marker's name", whole["marker"], LONGEST_MARKER)
    if not marker:
        raise _fault(file, "does not say who marked", "write your name or initials on the page, and save again")
    if not isinstance(whole["answers"], list) or not whole["answers"]:
        raise _fault(file, "holds no marked answer", "mark one on the page, then save again")
    given = [_given(file, number, one) for number, one in enumerate(whole["answers"], 1)]
    if len({one.tag for one in given}) != len(given):
        raise _fault(file, "has an answer twice")
    return marker, _moment(file, whole["saved"]), given


def check_of(body: Mapping[str, Any]) -> str:
    """The digest by which a file is seen to be as the page saved it: of its other fields, written without spaces.

    It finds what was altered by accident or in an editor. Who wants to forge marks can work it out anew; who took which
    file stands in the log.
    """
    return hashlib.sha256(
        json.dumps(body, ensure_ascii=False, separators=(",", ":")).encode("utf-8", errors="surrogatepass")
    ).hexdigest()


def _given(file: Path, number: int, one: Any) -> _Given:
    where = f"entry {number}"
    if not isinstance(one, dict) or set(one) != {"tag", "state", "points", "marks", "remark"}:
        raise _fault(file, f"{where} has other fields than the page writes")
    if not isinstance(one["tag"], str) or not isinstance(one["state"], str):
        raise _fault(file, f"{where} names no answer")
    points, marks = one["points"], one["marks"]
    if not isinstance(points, list) or not all(type(n) is int and n >= 0 for n in points):
        raise _fault(file, f"{where} has strange points")
    if type(marks) not in (int, float) or not math.isfinite(marks):
        raise _fault(file, f"{where} has no number of marks")
    remark = _text(file, f"the remark of {where}", one["remark"], LONGEST_REMARK, lines=True)
    return _Given(one["tag"], one["state"], tuple(points), float(marks), remark)


def _moment(file: Path, saved: Any) -> str:
    """When the file was saved, in a form whose order is that of time."""
    try:
        return datetime.fromisoformat(saved).astimezone(UTC).isoformat(timespec="milliseconds")
    except (TypeError, ValueError, OverflowError):
        raise _fault(file, "does not say when it was saved") from None


def _text(file: Path, what: str, text: Any, longest: int, lines: bool = False) -> str:
    if not isinstance(text, str) or len(text) > longest:
        raise _fault(file, f"{what} is no text, or longer than {longest} characters", "shorten it, and save again")
    allowed = "\n\t" if lines else ""
    # Controls, and halves of surrogate pairs, which no keyboard types and no file can hold.
    if any(unicodedata.category(one) in ("Cc", "Cs") and one not in allowed for one in text):
        raise _fault(file, f"{what} holds a character that cannot be typed")
    return text.strip()


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError
    return found


def _no_number(name: str) -> Any:
    raise ValueError(name)
