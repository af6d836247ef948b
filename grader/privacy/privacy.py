"""What a school folder holds about one person: where it lies, and how it is deleted.

Files that are a person's own are deleted whole. Of files about many, the person's rows are taken out and everybody
else's stay byte by byte; reports that are made anew by a command are deleted, and the results are written again. From
the registers and the log no line can be taken, since each is sealed over the one before it. They hold ids, drawn
numbers, marks and digests, and no names; free text in a person's lines, such as a reason, a comment or the name of a
file, is taken out when the person is forgotten, and the lines are sealed anew.

What the disk keeps of deleted files, and copies elsewhere, such as backups and what was handed out, are beyond this.
"""

from __future__ import annotations

import html
import json
import os
import re
import zipfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from datetime import date
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from dateutil.relativedelta import relativedelta

from exercises.model import System
from grader.classroom.drafts import FILE as DRAFTS
from grader.classroom.drafts import Drafts, drafts_file
from grader.classroom.slips_file import slips_files
from grader.marking.hand_marking import SETTINGS_FILE
from grader.marking.records import keep_refusals, read_refusals
from grader.marking.written_answers import holds_answers_of, page_file
from grader.observed.observations import FILE as OBSERVED
from grader.observed.observations import Observations
from grader.papers.handing_out import list_file, sheets_file, write_lists
from grader.papers.packs import packs_of
from grader.reports.moderation import keep_sample, read_sample, sample_faults
from grader.reports.results import gather, write_feedback, write_results
from grader.reports.signed_results import sign_results
from grader.returned.notebooks import RefusedError, parsed
from grader.returned.scripts import Refusal, aside_folder
from grader.returned.walk import LONGEST_PATH
from grader.store.certificate_register import CHECK_PAGE, CertificateRegister
from grader.store.csv_files import read_csv, without_rows
from grader.store.errors import GraderError
from grader.store.files import write_bytes, write_json
from grader.store.ledger import FREE_TEXT, TAKEN_OUT
from grader.store.log import BROUGHT_BACK, FORGETTING, FORGOTTEN, SET_ASIDE, Log
from grader.store.register import Paper, Register
from grader.store.school import Candidate, School
from grader.store.state import state_of
from grader.store.wording import counted

_FORGET = (FORGETTING, FORGOTTEN)
#: Files of the records that are no reports: sealed, secret, settings, or kept by row.
_KEPT = {
    "log.jsonl",
    "certificates.jsonl",
    OBSERVED,
    *(f"{name}{end}" for name in ("gradebook.db", DRAFTS) for end in ("", "-journal", "-wal", "-shm")),
    "refused.json",
    SETTINGS_FILE,
    "signing_public.pem",
    CHECK_PAGE,
}
_MARKS = "the marks and what they rest on"
#: The reports that are written again at once.
_REMADE = ("results.csv", "results.xlsx", "results.html", "others_numbers.csv")
#: No letter or digit before and behind; names of files have low lines between words.
_BEFORE, _BEHIND = r"(?<![^\W_])", r"(?![^\W_])"
_WORD = re.compile(r"(?:[^\W_]|-)+")
#: What ``re.IGNORECASE`` takes for an ASCII letter beside its two cases.
_SAME = str.maketrans("ıİſ\N{KELVIN SIGN}", "iisk")
#: A larger file is not looked through for a name.
_LARGEST = 200 << 20


@dataclass(frozen=True)
class Held:
    """Something that is held about a person: what it is, the files that are theirs alone, and rows in shared files.

    ``afterwards`` says what is left of it when the person is forgotten; nothing, where it is empty.
    """

    what: str
    where: str
    files: tuple[Path, ...] = ()
    rows: int = 0
    afterwards: str = ""

    @property
    def count(self) -> int:
        return len(self.files) or self.rows

    @property
    def goes(self) -> bool:
        """Whether there is something that forgetting takes away."""
        return bool(self.count) and not self.afterwards


@dataclass(frozen=True)
class Said:
    """A text, its words of letters, digits and hyphens, and their runs without hyphens, all without their case."""

    text: str

    @cached_property
    def words(self) -> frozenset[str]:
        return frozenset(one.translate(_SAME).lower() for one in set(_WORD.findall(self.text)))

    @cached_property
    def runs(self) -> frozenset[str]:
        return frozenset(run for word in self.words for run in word.split("-") if run)


class Look:
    """One look at a school's files: whatever is asked of it is read once, for however many people.

    While files are deleted, a new look is taken for each question.
    """

    def __init__(self, school: School) -> None:
        self.school = school

    @cached_property
    def log(self) -> Log:
        return Log(self.school, only_read=True)

    @cached_property
    def certificates(self) -> CertificateRegister:
        return CertificateRegister(self.school, only_read=True)

    @cached_property
    def observations(self) -> Observations:
        return Observations(self.school, only_read=True)

    @cached_property
    def refused(self) -> list[Refusal]:
        return read_refusals(self.school)

    @cached_property
    def scripts(self) -> tuple[Path, ...]:
        return _files(self.school.scripts)

    @cached_property
    def records(self) -> tuple[Path, ...]:
        return tuple(path for path in _files(self.school.records) if path.name not in _KEPT)

    @cached_property
    def _records_by_word(self) -> dict[str, list[Path]]:
        """The files of the records by each word of their paths that may be an id or a paper's."""
        found: dict[str, list[Path]] = {}
        for path in self.records:
            stem, pieces, folders = _words_of(path.relative_to(self.school.records))
            for word in {stem, *pieces[-1:], *folders}:
                found.setdefault(word, []).append(path)
        return found

    def records_with(self, words: Iterable[str]) -> tuple[Path, ...]:
        """The files of the records whose paths have one of these words, in order."""
        return tuple(sorted({path for word in words for path in self._records_by_word.get(word, ())}))

    @cached_property
    def reports(self) -> dict[Path, tuple[Said, ...]]:
        """What the files of the records say that are not about one person by their place."""
        return {
            path: tuple(map(Said, _texts(path)))
            for path in self.records
            if not (path.name.startswith("moderation_") and path.suffix == ".json")
            # A file of another person may have an id in it by chance.
            and path.relative_to(self.school.records).parts[0] not in ("marks", "marked", "feedback", "sittings")
        }

    @cached_property
    def samples(self) -> dict[Path, tuple[str, ...]]:
        """What the samples for second markers say."""
        return {path: tuple(_texts(path)) for path in sorted(self.school.records.glob("moderation_*.json"))}


def _words_of(below: Path) -> tuple[str, list[str], tuple[str, ...]]:
    """A file's name without its ends, its pieces but for the attempt, and the folders that may bear an id."""
    stem = below.name.lstrip(".").removesuffix(".part").split(".")[0]
    pieces = [piece for piece in stem.split("_") if not re.fullmatch(r"attempt\d+", piece)]
    return stem, pieces, below.parts[1:-1] if below.parts[0] != "sittings" else ()


class Person:
    """One candidate in the files of a school; also one who is no longer on the roster but was issued a paper.

    ``look`` is what the files are read by; without it they are read anew for each question. Raises:
    :class:`GraderError` if neither the roster nor the register knows the id.
    """

    def __init__(
        self, school: School, candidate: str, register: Register | None = None, look: Look | None = None
    ) -> None:
        self.school = school
        self.register = register or Register(school)
        self._look = look
        candidate = candidate.strip().lower()
        #: Also those that do not count any more, since others were issued in their place.
        issued = (*self.register.papers.values(), *self.register.replaced.values())
        self.papers: tuple[Paper, ...] = tuple(paper for paper in issued if paper.candidate == candidate)
        on_roster = next((one for one in school.roster if one.id == candidate), None)
        if on_roster is None and not self.papers:
            raise GraderError(
                f"{school.folder}: nobody of the id {candidate!r} is on the roster or was issued a paper; "
                f"look for the id in {school.roster_file.name}"
            )
        self.candidate = on_roster or Candidate(candidate, "", "", "", System.FIELD)
        self.is_on_roster = on_roster is not None

    @property
    def id(self) -> str:
        return self.candidate.id

    @property
    def look(self) -> Look:
        return self._look or Look(self.school)

    @cached_property
    def paper_ids(self) -> frozenset[str]:
        return frozenset(paper.id for paper in self.papers)

    @cached_property
    def others(self) -> tuple[Candidate, ...]:
        return tuple(one for one in self.school.roster if one.id != self.id)

    @cached_property
    def gone(self) -> tuple[Candidate, ...]:
        """Others who were issued a paper and are not on the roster."""
        known = {self.id, *(one.id for one in self.others)}
        left = {paper.candidate for paper in self.register.papers.values()} - known
        return tuple(Candidate(one, "", "", "", System.FIELD) for one in sorted(left))

    @cached_property
    def _mentions(self) -> re.Pattern[str]:
        """The id, a paper's id or the name in a text, whatever the text has made of the name's signs."""
        words = [rf"{_BEFORE}(?<!-){re.escape(word)}{_BEHIND}(?!-)" for word in self._ids]
        return re.compile("|".join([*words, *([self.name_pattern] if self.candidate.name else [])]), re.IGNORECASE)

    @cached_property
    def _ids(self) -> tuple[str, ...]:
        return (self.id, *sorted(self.paper_ids))

    @cached_property
    def _spellings(self) -> tuple[str, ...]:
        name = self.candidate.name
        return tuple({name, html.escape(name), json.dumps(name)[1:-1], re.sub(r"([^\w\s])", r"\\\1", name)})

    @cached_property
    def _runs_of_names(self) -> tuple[frozenset[str], ...]:
        """The runs of each way to spell the name; a text that holds the name has all of one of them.

        None of what is not all ASCII, where case is no plain matter: that is looked for in every text.
        """
        spellings = self._spellings if self.candidate.name else ()
        return tuple(Said(one).runs if one.isascii() else frozenset() for one in spellings)

    def is_mentioned(self, said: Said) -> bool:
        """As :meth:`mentioned_in`; where a look is shared, by the text's words, which are then found once for all."""
        if self._look is None:
            return self.mentioned_in(said.text)
        if any(one.lower() in said.words for one in self._ids):
            return True
        return any(runs <= said.runs for runs in self._runs_of_names) and self.named_in(said.text)

    @cached_property
    def name_pattern(self) -> str:
        words = [r"\s+".join(map(re.escape, one.split())) for one in sorted(self._spellings, key=len)[::-1]]
        return "|".join(_BEFORE + one + _BEHIND for one in words)

    def named_in(self, text: str) -> bool:
        """Whether a text holds the person's name."""
        return bool(self.candidate.name and re.search(self.name_pattern, text, re.IGNORECASE))

    def mentioned_in(self, text: str) -> bool:
        """Whether a text holds the person's name, id or a paper of theirs."""
        return bool(self._mentions.search(text))

    # Files that are the person's alone ------------------------------------------------------------------------------

    def owns(self, path: Path) -> bool:
        """Whether a file of the records is this person's alone, by its name; what a killed run left of it too."""
        below = path.relative_to(self.school.records)
        stem, pieces, in_folders = _words_of(below)
        sessions = self._sessions
        if stem in self.paper_ids or self.id in (in_folders[:1] if below.parts[0] == "marked" else ()):
            return True
        if self.id in in_folders and self.id not in sessions:
            return True
        if self.id in sessions or self.id == self.school.id:
            return len(pieces) > 1 and pieces[-1] == self.id and pieces[-2] in sessions
        return pieces[-1:] == [self.id] and (len(pieces) > 1 or len(below.parts) > 1)

    @cached_property
    def _sessions(self) -> set[str]:
        return {one.session for one in self.register.papers.values()} | {one.id for one in self.school.sittings}

    def packs(self) -> tuple[Path, ...]:
        """The zips of each sitting, what a killed run left of them, and what schools of before have in a folder."""
        zips = [
            path
            for session in sorted(self._sessions)
            for name in (f"{self.id}.zip", f".{self.id}.zip.part")
            if (path := packs_of(self.school, session) / name).is_file()
        ]
        loose = [path for path in _files(self.school.packs / self.id) if self._is_loose(path)]
        return (*zips, *loose)

    def _is_loose(self, path: Path) -> bool:
        """Whether a file in a folder of the person's id is theirs; it may be a sitting's, or that of practice."""
        if self.id in self._sessions:
            return path.name.lstrip(".").split(".")[0].split("_")[2:3] == [self.id]
        return not path.name.endswith("_practice.html")

    def lists(self) -> tuple[Path, ...]:
        """The pages that help to hand out, on which the person's sheet or name is."""
        pages = [
            page
            for session in sorted({paper.session for paper in self.papers})
            for page in (
                sheets_file(self.school, session),
                list_file(self.school, session),
                *slips_files(self.school, session),
            )
            if page.exists()
        ]
        if self.is_on_roster:
            # They are made of the roster, and too large to be read through for everybody.
            return tuple(pages)
        return tuple(page for page in pages if any(self.mentioned_in(text) for text in _texts(page)))

    def scripts(self) -> tuple[Path, ...]:
        """The files that came back from this person: by what they say they answer, else by their names."""
        return self._scripts

    @cached_property
    def _scripts(self) -> tuple[Path, ...]:
        return tuple(path for path in self.look.scripts if self._handed_in(path))

    def _handed_in(self, path: Path) -> bool:
        known = path.lstat()
        if said := _papers_in(path, known.st_mtime_ns, known.st_size):
            return any(paper in self.paper_ids for paper in said)
        if any(paper in text for text in _texts(path) for paper in self.paper_ids):
            return True
        pieces = re.split(r"[_ ]+", path.name.lower().lstrip(".").split(".")[0])
        return self.id in pieces and self.id not in {sitting.id for sitting in self.school.sittings}

    def records(self) -> tuple[Path, ...]:
        return tuple(path for path in self.look.records_with((self.id, *self.paper_ids)) if self.owns(path))

    # Files about many -----------------------------------------------------------------------------------------------

    def reports(self) -> tuple[Path, ...]:
        """The reports about many in which the person is."""
        own = set(self.records())
        return tuple(
            path for path, texts in self.look.reports.items() if path not in own and any(map(self.is_mentioned, texts))
        )

    def written_page(self) -> tuple[Path, ...]:
        """The page for marking written answers, if words of the person's are on it, which stand under no name."""
        page = page_file(self.school)
        papers = {paper.id: len(paper.entries) for paper in self.papers}
        texts = _texts(page) if papers and page.exists() else ()
        return (page,) if any(holds_answers_of(self.school, text, papers) for text in texts) else ()

    def second_marking(self) -> tuple[Path, ...]:
        """The samples for a second marker that the person's scripts are in."""
        said = self.look.samples
        return tuple(
            path for path, texts in said.items() if any(one in text for text in texts for one in self.paper_ids)
        )

    def is_cell(self, cell: str) -> bool:
        return cell.lower() in (self.id, *self.paper_ids) or self.named_in(cell)

    def is_row(self, columns: list[str], cells: list[str], column: str) -> bool:
        """Whether a row of a table is this person's, by the column of ids."""
        at = next((place for place, name in enumerate(columns) if name.lower() == column), len(cells))
        return at < len(cells) and cells[at].lower() == self.id

    def refusals(self) -> tuple[list[Refusal], list[Refusal]]:
        """The refused files on record: this person's, and the others."""
        everything = self.look.refused
        files = {path.relative_to(self.school.folder).as_posix() for path in self.scripts()}
        own = [
            one
            for one in everything
            if self.id == one.candidate or one.file in files or self.mentioned_in(one.file + one.reason)
        ]
        return own, [one for one in everything if one not in own]

    def log_lines(self, log: Log) -> list[dict[str, Any]]:
        return [line for line in log.lines if self.is_line(line)]

    def is_line(self, line: dict[str, Any]) -> bool:
        """Whether a line of the log or of a register is about this person."""
        return line.get("paper") in self.paper_ids or line.get("candidate") == self.id

    def is_forgotten(self, log: Log) -> bool:
        """Whether the person was forgotten, and reports that name the id were written since."""
        events = [line["what"] for line in log.lines if line.get("candidate") == self.id]
        return not self.is_on_roster and [what for what in events if what in _FORGET][-1:] == [FORGOTTEN]

    def certificates(self) -> list[str]:
        """The serial numbers of the certificates that were issued to this person."""
        return [serial for serial, one in self.look.certificates.issued.items() if one.candidate == self.id]

    def held(self) -> tuple[Held, ...]:
        """Everything that may be held about the person; what is not has a count of nought."""
        folder, records = self.school.folder, self.school.records
        own = self.records()
        kinds = {
            "the marked notebooks": [path for path in own if path.relative_to(records).parts[0] == "marked"],
            _MARKS: [path for path in own if path.relative_to(records).parts[0] == "marks"],
            "the feedback": [path for path in own if path.relative_to(records).parts[0] == "feedback"],
            "certificates": [path for path in own if path.relative_to(records).parts[0] == "certificates"],
        }
        rest = tuple(path for path in own if not any(path in found for found in kinds.values()))
        log = self.look.log
        lines = len(self.log_lines(log))
        reports = () if self.is_forgotten(log) else self.reports()
        samples = tuple(page for path in self.second_marking() for page in sorted(records.glob(f"{path.stem}[._]*")))
        return (
            Held("name, employer, crew and arrangements", self.school.roster_file.name, rows=int(self.is_on_roster)),
            Held("why a sitting was missed", self.school.absences_file.name, rows=self._absences()),
            Held("the papers as they were handed out", _common(folder, self.packs()), self.packs()),
            Held("pages to hand out by, which are written anew", _common(folder, self.lists()), self.lists()),
            Held("what was handed in, as it came", "scripts/", self.scripts()),
            *(Held(what, _common(folder, files), tuple(files)) for what, files in kinds.items()),
            Held("other files of this person", _common(folder, rest), rest),
            Held("scripts with marks and comments by hand", "records/gradebook.db", rows=self.gradebook_rows()),
            Held("answers, devices and times of the classroom", f"records/{DRAFTS}", rows=self.classroom_rows()),
            Held("files that could not be marked", "records/refused.json", rows=len(self.refusals()[0])),
            Held("samples for a second marker", _common(folder, samples), samples),
            Held("answers on the page for marking", _common(folder, self.written_page()), self.written_page()),
            Held("reports about many that name the candidate", ", ".join(p.name for p in reports), reports),
            Held(
                "papers in the register: id, exercises and drawn numbers",
                "register.jsonl",
                rows=len(self.papers),
                afterwards="stays, without a name: its lines are sealed",
            ),
            Held(
                "certificates in their register: id and digests",
                "records/certificates.jsonl",
                rows=len(self.certificates()),
                afterwards="stays, without a name: its lines are sealed",
            ),
            Held(
                "what was seen at the machine: paper, letters and readings",
                f"records/{OBSERVED}",
                rows=sum(one.paper in self.paper_ids for one in self.look.observations.all),
                afterwards="stays, without a name or remark: its lines are sealed",
            ),
            Held(
                "events in the log: id, marks and digests",
                "records/log.jsonl",
                rows=lines,
                afterwards="stays, without names, reasons and comments: its lines are sealed",
            ),
        )

    def _absences(self) -> int:
        path = self.school.absences_file
        if not path.exists():
            return 0
        (_, columns), *rows = read_csv(path) or [(1, ["candidate"])]
        return sum(self.is_row(columns, cells, "candidate") for _, cells in rows)

    def classroom_rows(self) -> int:
        if not drafts_file(self.school).exists():
            return 0
        drafts = Drafts(self.school)
        try:
            return drafts.rows_of(self.id, self.paper_ids)
        finally:
            drafts.close()

    def gradebook_rows(self) -> int:
        if not (self.school.records / "gradebook.db").exists():
            return 0
        from grader.marking.gradebook import Gradebook  # takes a second or two

        with Gradebook.of(self.school) as gradebook:
            return gradebook.rows_of(self.id)


def everybody(school: School) -> tuple[str, ...]:
    """The ids on the roster, and behind them those who were issued a paper and are not on it."""
    issued = [paper.candidate for paper in Register(school).papers.values()]
    return tuple(dict.fromkeys([*(candidate.id for candidate in school.roster), *issued]))


# Forgetting -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Forgotten:
    """What forgetting a person did: files deleted, rows taken out, reports deleted, and what is left to look at."""

    candidate: str
    files: int
    rows: int
    reports: tuple[str, ...]
    left: tuple[str, ...] = ()

    @property
    def is_nothing(self) -> bool:
        return not self.files and not self.rows


def forget(school: School, candidates: Iterable[str], why: str, read: Callable[[], School]) -> list[Forgotten]:
    """Delete what is held about these people; ``read`` opens the school anew, without them.

    The log says it first. A run that was killed is completed by the next one: the line of the roster, by which a person
    is known, goes last. Raises: :class:`GraderError` if an id is unknown, or the reason is missing or names a person;
    then nothing is deleted.
    """
    why = " ".join(why.split())
    register = Register(school)
    people = [Person(school, candidate, register) for candidate in candidates]
    if not why:
        raise GraderError('say why somebody is forgotten: --reason "..."; it goes into the log, so put no name in it')
    for person in people:
        if person.named_in(why):
            raise GraderError(f"the reason holds the name of {person.id}, and would stay in the log: write it without")
    done = [_forget(person, why) for person in people]
    named = _still_named(person for person, one in zip(people, done, strict=True) if not one.is_nothing)
    done = [replace(one, left=tuple(named.get(one.candidate, ()))) for one in done]
    if any(not one.is_nothing for one in done):
        left = read()
        register = Register(left)
        for session in dict.fromkeys(paper.session for person in people for paper in person.papers):
            write_lists(left, register, session)
        if (left.records / "marks").is_dir():
            ids = ", ".join(person.id for person in people)
            try:
                results = gather(left)
            except GraderError as error:
                deleted = f"what was held about {ids} is deleted, but the results are not written"
                raise GraderError(f"{deleted}: {error}") from None
            write_results(left, results)
            write_feedback(left, results, lambda done, total: None)
    return done


def forget_and_sign(school: School, candidates: Iterable[str], why: str, read: Callable[[], School]) -> list[Forgotten]:
    """As :func:`forget`, and sign anew the results that are left; the caller holds the school."""
    done = forget(school, candidates, why, read)
    table = school.records / "results.csv"
    if table.exists() and not all(one.is_nothing for one in done):
        sign_results(school, table, state_of(school))
    return done


def to_be_forgotten(school: School, candidates: Iterable[str]) -> list[str]:
    """What forgetting these people would delete, and what rests on it, in lines to read; nothing where nothing goes."""
    lines = []
    register, look = Register(school), Look(school)
    for person in (Person(school, candidate, register, look) for candidate in candidates):
        goes = [one for one in person.held() if one.goes]
        if not goes:
            continue
        lines.append(f"{person.id}: this would be deleted")
        lines += [f"  {one.what}: {one.where} ({counted(one.count, 'file' if one.files else 'line')})" for one in goes]
        if serials := person.certificates():
            lines.append(
                f"  Rests on it: {counted(len(serials), 'certificate')} ({', '.join(serials)}), which can still be "
                "checked, but no longer be told why it was earned"
            )
        if any(one.what == _MARKS for one in goes):
            lines.append(
                "  Rests on it: figures over everybody (means, how each part did, reliability), which change with the "
                "next results, debrief and parts; pages that were printed before show others"
            )
        if person.second_marking():
            lines.append("  Rests on it: the sample for second marking, which will be smaller than it was drawn")
    return lines


def _forget(person: Person, why: str) -> Forgotten:
    school = person.school
    held = [one for one in person.held() if one.goes]
    log = Log(school)
    if not held and person.is_forgotten(log):
        return Forgotten(person.id, 0, 0, ())
    log.write(FORGETTING, candidate=person.id, why=why)
    _take_texts_out(person)
    # What it says of a file is matched by the file, which goes after it.
    own, others = person.refusals()
    if own:
        keep_refusals(school, others)
    own_files = (*person.packs(), *person.lists(), *person.scripts(), *person.written_page(), *person.records())
    for path in own_files:
        path.unlink(missing_ok=True)
    for folder in (school.packs / person.id, school.scripts, school.records):
        _sweep(folder, keep={school.scripts, school.records, *(school.records / "sittings").glob("*")})
    if (school.records / "gradebook.db").exists():
        from grader.marking.gradebook import Gradebook  # takes a second or two

        with Gradebook.of(school) as gradebook:
            gradebook.forget(person.id)
    if drafts_file(school).exists():
        drafts = Drafts(school)
        try:
            drafts.forget(person.id, person.paper_ids)
        finally:
            drafts.close()
    for path in person.second_marking():
        _without_sample(person, path)
    reports = () if person.is_forgotten(log) else person.reports()
    for path in reports:
        _without_person(person, path)
    _drop_rows(person, school.absences_file, "candidate")
    _drop_rows(person, school.roster_file, "id")
    Log(school).write(FORGOTTEN, candidate=person.id, why=why)
    return Forgotten(
        person.id,
        files=sum(len(one.files) for one in held if one.files and one.files != reports),
        rows=sum(one.rows for one in held),
        reports=tuple(path.name for path in reports if not path.exists() and path.name not in _REMADE),
    )


def _without_person(person: Person, path: Path) -> None:
    """A report without the person: a table without their rows, anything else deleted, since it is made anew."""
    if path.suffix in (".csv", ".xlsx") and path.name not in _REMADE:
        write_bytes(path, without_rows(path, lambda columns, cells: any(person.is_cell(cell) for cell in cells)))
    else:
        path.unlink(missing_ok=True)
        path.with_name(f"{path.name}.sig").unlink(missing_ok=True)


def _without_sample(person: Person, path: Path) -> None:
    """A sample for a second marker without the person's scripts: its pages go, which hold answers under numbers."""
    for name in (".html", "_look.html", "_report.html"):
        path.with_name(path.stem + name).unlink(missing_ok=True)
    before = read_sample(path)
    if before is None:
        return
    gone = {one.sample for one in before.drawn if one.paper in person.paper_ids}
    after = replace(
        before,
        drawn=tuple(one for one in before.drawn if one.sample not in gone),
        second=tuple(one for one in before.second if one.sample not in gone),
    )
    for name in ("_marks.csv", "_decide.csv"):
        table = path.with_name(path.stem + name)
        if table.exists():
            data = without_rows(table, lambda columns, cells: not gone.isdisjoint(cells[:2]))
            write_bytes(table, data)
    # Last: by it a run that goes on after a kill knows which rows are the person's.
    if after.drawn and not any(sample_faults(person.school, Log(person.school, only_read=True), before.sitting)):
        keep_sample(person.school, after)
    elif after.drawn:
        # The log tells of it already, where a run was killed here; or of another one, and what is forged stays so.
        write_json(path, asdict(after))
    else:
        path.unlink()


def _drop_rows(person: Person, path: Path, column: str) -> None:
    if path.exists():
        before = path.read_bytes()
        after = without_rows(path, lambda columns, cells: person.is_row(columns, cells, column))
        if after != before:
            write_bytes(path, after, mode=path.stat().st_mode & 0o777)


def _take_texts_out(person: Person) -> None:
    """Take free text out of the person's sealed lines, and the name out of that of all, and seal them anew."""
    serials = set(person.certificates())
    refused = {one.file for one in person.refusals()[0]}
    aside = {path.name for path in person.scripts() if path.is_relative_to(aside_folder(person.school))}

    def is_own_file(body: dict[str, Any]) -> bool:
        moved = body.get("what") in (SET_ASIDE, BROUGHT_BACK)
        return body.get("file") in refused or (moved and body["file"].rpartition("/")[2] in aside)

    def changed(body: dict[str, Any]) -> dict[str, Any]:
        # That and why somebody was forgotten stays.
        is_own = person.is_line(body) or body.get("serial") in serials or is_own_file(body)
        about = is_own and body.get("what") not in _FORGET
        bare = _bare(body) if about else body
        return {name: _unnamed(person, one) if name in FREE_TEXT else one for name, one in bare.items()}

    school = person.school
    for each in (Log(school), CertificateRegister(school), Observations(school), Register(school)):
        each.ledger.rewrite(changed)


def _bare(line: dict[str, Any]) -> dict[str, Any]:
    """A line without what people wrote into it; marks given by hand stay without their comments."""
    bare = {name: TAKEN_OUT if name in FREE_TEXT and line[name] else line[name] for name in line}
    if isinstance(line.get("hand"), dict):
        bare["hand"] = {part: [given[0], ""] for part, given in line["hand"].items()}
    return bare


def _unnamed(person: Person, value: Any) -> Any:
    """JSON without the person's name in its texts."""
    if isinstance(value, str) and person.named_in(value):
        return re.sub(person.name_pattern, TAKEN_OUT, value, flags=re.IGNORECASE)
    if isinstance(value, dict):
        return {_unnamed(person, name): _unnamed(person, one) for name, one in value.items()}
    return [_unnamed(person, one) for one in value] if isinstance(value, list) else value


def _still_named(people: Iterable[Person]) -> dict[str, list[str]]:
    """By id, the files that still hold the name although everything known is gone: not written by pitside."""
    people = list(people)
    found: dict[str, list[str]] = {}
    for path in _files(people[0].school.folder) if people else ():
        below = path.relative_to(people[0].school.folder).as_posix()
        texts = [path.name, *_texts(path)]
        for person in people:
            if any(person.named_in(text) for text in texts):
                found.setdefault(person.id, []).append(below)
    return found


# Keeping so long ------------------------------------------------------------------------------------------------------


def kept_until(school: School) -> date | None:
    """The day from which on nothing is kept about anybody; None where the settings do not say."""
    if school.keep_months is None:
        return None
    last = max(sitting.day for sitting in school.sittings)
    try:
        return last + relativedelta(months=school.keep_months)
    except (ValueError, OverflowError):  # beyond the calendar
        return date.max


# Saying what is held --------------------------------------------------------------------------------------------------


def kept_lines(school: School, candidate: str | None = None) -> Iterator[str]:
    """What is held about a candidate, or about everybody, in lines to read. Raises: as :class:`Person` does."""
    register, look = Register(school), Look(school)
    people = [Person(school, one, register, look) for one in ([candidate] if candidate else everybody(school))]
    found: dict[str, list[Held]] = {}
    for person in people:
        for one in person.held():
            found.setdefault(one.what, []).append(one)
    who = people[0].id if candidate else f"{len(people)} people"
    yield f"{school.title}: what {school.folder} holds about {who}"
    for what, each in found.items():
        count = len({path for one in each for path in one.files}) or sum(one.rows for one in each)
        if not count:
            continue
        kind = "file" if any(one.files for one in each) else "line"
        where = each[0].where if candidate else _about_many(each)
        yield f"  {what}: {where} ({count} {kind}{'s' if count != 1 else ''})"
        if each[0].afterwards:
            yield f"      when a candidate is forgotten: {each[0].afterwards}"
    yield from _on_the_time(school)
    yield "Others keep copies too: your backups, whoever was sent results, and each candidate the own papers."


def _about_many(each: list[Held]) -> str:
    """Where things of many people lie: of folders that differ, what they have in common."""
    places = list(dict.fromkeys(part for one in each if one.where for part in one.where.split(", ")))
    if len(places) < 2:
        return "".join(places)
    return f"{os.path.commonpath(places)}/" if all("/" in place for place in places) else ", ".join(places)


def _on_the_time(school: School) -> Iterator[str]:
    until = kept_until(school)
    if until is None:
        yield "How long it is kept: not said; put keep_months under [privacy] in school.toml"
    else:
        yield f"How long it is kept: until {until}; then run: pitside forget {school.here} --expired"


# Reading --------------------------------------------------------------------------------------------------------------


def _folders(top: Path) -> list[Path]:
    """A folder and those below it, those further down behind, without following links, however deep they go.

    What has a longer path than files can be opened by is left out, as it is when scripts are read.
    """
    folders = [top] if top.is_dir() else []
    for folder in folders:
        folders += [path for path, is_folder in _in_folder(folder) if is_folder]
    return folders


def _in_folder(folder: Path) -> list[tuple[Path, bool]]:
    """What lies in a folder, and whether it is one itself; nothing, where that may not be known."""
    try:
        with os.scandir(folder) as entries:
            found = [(folder / entry.name, entry.is_dir(follow_symlinks=False)) for entry in entries]
    except OSError:
        return []
    return [(path, is_folder) for path, is_folder in found if len(os.fsencode(path)) <= LONGEST_PATH]


def _files(top: Path) -> tuple[Path, ...]:
    """All files below a folder, hidden ones too, without following links."""
    found = [path for folder in _folders(top) for path, is_folder in _in_folder(folder) if not is_folder]
    return tuple(sorted(path for path in found if path.name not in (".busy", "school.key", "signing.key")))


def _texts(path: Path) -> Iterator[str]:
    """What a file says: its bytes as text, and for a zip those of the files in it."""
    if path.is_symlink() or not path.is_file() or path.stat().st_size > _LARGEST:
        return
    data = path.read_bytes()
    yield data.decode("utf-8", errors="replace")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        yield data.decode("utf-16", errors="replace")
    if data.startswith(b"PK"):
        try:
            with zipfile.ZipFile(path) as packed:
                left = _LARGEST
                for entry in packed.infolist():
                    yield entry.filename
                    left -= entry.file_size
                    # Of these two kinds alone the library unpacks no more than it says.
                    is_plain = entry.compress_type in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
                    if left >= 0 and is_plain and not entry.flag_bits & 1:
                        yield packed.read(entry).decode("utf-8", errors="replace")
        # The library raises whatever its parts do.
        except (zipfile.BadZipFile, RuntimeError, ValueError, EOFError, OSError, ArithmeticError, LookupError):
            return


@lru_cache(maxsize=10_000)
def _papers_in(path: Path, when: int, size: int) -> tuple[str, ...]:
    """The papers that a file, as it was then, says it answers; read once, however many people are looked for."""
    return tuple(found for text in _texts(path) if (found := _paper_in(text)))


def _paper_in(text: str) -> str:
    """The paper that a notebook says it answers, or nothing."""
    try:
        paper = parsed(text.encode())["metadata"]["pitside"]["paper"]
    except (RefusedError, KeyError, TypeError):
        return ""
    return paper if isinstance(paper, str) else ""


def _sweep(folder: Path, keep: set[Path]) -> None:
    """Remove folders that have become empty."""
    for path in reversed(_folders(folder)):
        if path not in keep and not any(path.iterdir()):
            path.rmdir()


def _common(folder: Path, files: Iterable[Path]) -> str:
    """The folders in which files lie, as a person reads them."""
    return ", ".join(f"{one}/" for one in dict.fromkeys(path.parent.relative_to(folder).as_posix() for path in files))
