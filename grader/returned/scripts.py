"""Read what came back: which paper a file answers, or why it cannot be marked. Runs nothing.

A file is read twice. Once to see whose it is, and all files so that no two are for one paper: of that little is kept,
however many there are. And once, wholly checked, when its turn to be marked has come.
"""

from __future__ import annotations

import errno
import hashlib
import io
import os
import re
import stat
import zipfile
import zlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple

from exercises.model.marking import Rounding
from grader.papers.notebook import COVER_CELL, FORMAT, GIVEN_CELL, TITLE_CELL, WRITE_HERE
from grader.returned.notebooks import RefusedError, made_new, parsed
from grader.returned.walk import files_below
from grader.running.checked_answers import clip
from grader.running.faults import Fault, caught
from grader.running.reading import LAST_SOURCES
from grader.store.errors import GraderError
from grader.store.register import Paper, Register
from grader.store.school import School
from grader.store.wording import typed

#: A larger file is no script of ours (an empty paper is about 20 kB, one full of plots a few MB).
LARGEST = 20 * 1024 * 1024
#: Most files in a zip, of which one is the script, and how many times larger than its packed form it may be. A
#: notebook packs to a tenth or so; a bomb to a thousandth.
MOST_FILES = 50
MOST_RATIO = 200
#: Most refusals of one hand that are listed, most rival files that a reason names, and longest names shown.
MOST_REFUSED = 200
MOST_SHOWN = 4
LONGEST_FILE = 300
LONGEST_SHOWN = 70
#: How a file is opened: no link is followed, and no pipe that somebody puts in its place is waited for.
_AS_IT_IS = os.O_RDONLY | sum(getattr(os, flag, 0) for flag in ("O_NOFOLLOW", "O_NONBLOCK", "O_BINARY", "O_NOCTTY"))
_NO_FILE = "a link or special file, not a notebook: ask for the file itself"
_ZIP_BEGINS = (b"PK\x03\x04", b"PK\x05\x06")
_ZIP_ENTRY = b"PK\x01\x02"
#: What computers put into zips on their own.
_BYWORK = {"__macosx", "thumbs.db", "desktop.ini"}


@dataclass(frozen=True)
class Script:
    """A returned notebook, matched to its paper. ``digest`` is the notebook's own, also where it came in a zip."""

    file: str
    digest: str
    paper: Paper
    notebook: dict[str, Any]
    #: Another candidate whom the file's name names, or empty.
    named: str = ""


@dataclass(frozen=True)
class Refusal:
    """A returned file that cannot be marked, and why. ``candidate`` is whom it seems to come from, or empty.

    ``attempt`` is the attempt at the sitting that it seems to be.
    """

    file: str
    digest: str
    candidate: str
    sitting: str
    reason: str
    attempt: int = 1
    #: Where a fault of ours is kept that is the reason, below the school's folder, or empty.
    fault: str = ""


@dataclass(frozen=True)
class Returned:
    """A returned file that names a paper, not held but known by its digest, and where it is read when it is marked."""

    file: str
    digest: str
    paper: Paper
    path: Path
    rounding: Rounding = Rounding.NO_MARKS
    #: Another candidate whom the file's name names, or empty.
    named: str = ""

    def data(self) -> bytes:
        """The notebook's bytes, read again.

        Raises: :class:`GraderError` if they are no longer those of the digest, or cannot be had.
        """
        for data in _notebooks_in(self.path, _read(self.path)).values():
            if _digest(data) == self.digest:
                return data
        raise RefusedError("it changed while it was being marked: mark again")

    def script(self, data: bytes) -> Script:
        """The script in these bytes, whatever they hold checked. Raises: :class:`GraderError` if they are none."""
        if _digest(data) != self.digest:
            raise RefusedError("its bytes are not those that were read: mark again")
        return Script(self.file, self.digest, self.paper, made_new(parsed(data)), self.named)

    def refused(self, reason: str) -> Refusal:
        paper = self.paper
        return Refusal(self.file, self.digest, paper.candidate, paper.sitting, reason, paper.attempt)


def read_scripts(school: School, register: Register) -> tuple[list[Returned], list[Refusal]]:
    """Every file of the scripts folder, as one that names a paper or as a refusal, in order of file name.

    Two different scripts for one paper are both refused, since nobody but the assessor can say which counts;
    identical copies count once. Only such rivals are checked wholly here; other files when they are marked.

    Raises: :class:`GraderError` where the scripts folder is something else.
    """
    if not os.path.lexists(school.scripts):
        return [], []
    if not school.scripts.is_dir():
        raise GraderError(f"{school.scripts}: no folder; make it one, and put the returned notebooks into it")
    #: By paper, then by digest: a copy of a file is not looked at again.
    returned: dict[str, dict[str, Returned]] = {}
    refusals = []
    aside = aside_folder(school)
    candidates = {candidate.id for candidate in school.roster} | {one.candidate for one in register.papers.values()}
    for path, fault in files_below(school.scripts):
        if _of_the_system(path.name) or path.is_relative_to(aside):
            continue
        one = caught(lambda: _looked_at(school, register, candidates, path, fault))  # noqa: B023 - called at once
        if isinstance(one, Fault):
            one = _refusal_for(school, path, one)
        if isinstance(one, Refusal):
            refusals.append(one)
        else:
            returned.setdefault(one.paper.id, {}).setdefault(one.digest, one)
    single = []
    for by_digest in returned.values():
        same = sorted(by_digest.values(), key=lambda one: one.file)
        if len(same) > 1:
            same, no_scripts = _whole_ones(same)
            refusals += no_scripts
            # Whole folders come back too, in which the notebook of the pack lies beside the script that was saved.
            same = [one for one in same if not _is_blank(one)] or same
        if len(same) > 1:
            files = ", ".join(clip(one.file, LONGEST_SHOWN) for one in same[:MOST_SHOWN])
            more = f" and {len(same) - MOST_SHOWN} more" if len(same) > MOST_SHOWN else ""
            reason = f"{len(same)} different scripts for one paper ({files}{more}): move all but the one that counts "
            reason += "elsewhere"
            refusals += [one.refused(reason) for one in same]
        else:
            single += same
    there = {(one.paper.candidate, one.paper.sitting, one.paper.attempt) for one in single}
    refusals = [
        one
        for one in refusals
        if one.reason not in _PAGES_OF_A_PACK or (one.candidate, one.sitting, one.attempt) not in there
    ]
    return sorted(single, key=lambda one: one.file), _few(refusals)


def aside_folder(school: School) -> Path:
    """Where files lie that came back and that somebody set aside: they are not read."""
    return school.scripts / "set_aside"


def _of_the_system(name: str) -> bool:
    """Whether a file was put there by a program that shows folders or opens documents, and handed in by nobody."""
    return name.lower() in ("thumbs.db", "desktop.ini") or name.startswith("~$")


def _looked_at(school: School, register: Register, candidates: set[str], path: Path, fault: str) -> Returned | Refusal:
    """The file as one that names a paper, or as a refusal. ``fault`` is why it cannot be read, if that is known."""
    digest = ""
    try:
        if fault:
            raise RefusedError(fault)
        data = _read(path)
        digest = _digest(data)
        if kind := _other_kind(path, data):
            raise RefusedError(f"not a notebook but {kind}")
        if page := _saved_by(data):
            # Reasons go into the log, where a path of this machine would be another one tomorrow.
            command = f"pitside {page.command} --take {typed(Path(shown_path(school, path)))}"
            raise RefusedError(f"what {page.name} saved; in the school's folder: {command}, then delete it here")
        notebooks = _notebooks_in(path, data)
        if len(notebooks) == 1:
            digest = _digest(*notebooks.values())
        data, paper = _script_among(school, register, path, notebooks)
        digest = _digest(data)
    except RefusedError as refused:
        return _refusal(school, path, digest, str(refused))
    named = _other_named(candidates, path.name, paper)
    return Returned(shown_path(school, path), digest, paper, path, school.rounding, named)


def _refusal(school: School, path: Path, digest: str, reason: str) -> Refusal:
    candidate, sitting, attempt = _guess(school, path.name)
    return Refusal(shown_path(school, path), digest, candidate, sitting, reason, attempt)


def _refusal_for(school: School, path: Path, fault: Fault) -> Refusal:
    shown = shown_path(school, path)
    kept = fault.kept(school.folder, f"file_{_digest(shown.encode())[:12]}", f"file {shown}")
    return replace(_refusal(school, path, "", fault.reason(kept)), fault=kept)


def shown_path(school: School, path: Path) -> str:
    """A file's path in one line, for a name may hold line breaks, be of any length, or be no text at all."""
    return clip(path.relative_to(school.folder).as_posix(), LONGEST_FILE)


def _few(refusals: list[Refusal]) -> list[Refusal]:
    """Those that a person may read, in order of file name; of far too many from one hand the rest is counted."""
    few, of_one = [], Counter[tuple[str, str, int]]()
    # What is not looked into comes first, such as a folder of too many files: it must not go under among these files.
    for refusal in sorted(refusals, key=lambda refusal: (bool(refusal.digest), refusal.file)):
        whose = (refusal.candidate, refusal.sitting, refusal.attempt)
        of_one[whose] += 1
        if of_one[whose] <= MOST_REFUSED:
            few.append(refusal)
    for (candidate, sitting, attempt), count in of_one.items():
        if count > MOST_REFUSED:
            reason = "cannot be marked either, and are not listed: move what nobody handed in elsewhere"
            file = f"scripts ({count - MOST_REFUSED} more files)"
            few.append(Refusal(file, "", candidate, sitting, reason, attempt))
    return sorted(few, key=lambda refusal: refusal.file)


def _whole_ones(rivals: list[Returned]) -> tuple[list[Returned], list[Refusal]]:
    """Those that are scripts when looked at closely, and refusals of the others."""
    whole, refusals = [], []
    for one in rivals:
        looked_at = caught(lambda: _refused_closely(one))  # noqa: B023 - called at once
        # What is at fault in it is found, and kept, when it is marked.
        if isinstance(looked_at, Refusal):
            refusals.append(looked_at)
        else:
            whole.append(one)
    return whole, refusals


def _refused_closely(one: Returned) -> Refusal | None:
    try:
        one.script(one.data())
    except RefusedError as refused:
        return one.refused(str(refused))
    return None


def _is_blank(one: Returned) -> bool:
    """Whether a script is the notebook of a pack as it was handed out."""
    try:
        return _holds_blank(one.data())
    except RefusedError:  # it was whole a moment ago
        return False


def _holds_blank(data: bytes) -> bool:
    """Whether a notebook's bytes are those of a pack as it was handed out, with no answer, sum or word added to it."""
    try:
        cells = made_new(parsed(data))["cells"]
    except RefusedError:
        return False
    for cell in cells:
        name = str(cell.get("id", ""))
        source = cell["source"] if isinstance(cell["source"], str) else "".join(cell["source"])
        if cell["cell_type"] != "code":
            as_printed = source.strip() == WRITE_HERE if name.startswith("answer-") else name.startswith(_PRINTED)
        elif name == GIVEN_CELL:
            as_printed = "\nanswer(" not in source
        else:
            as_printed = source in LAST_SOURCES or _BLANK.fullmatch(source) is not None
        if not as_printed:
            return False
    return True


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _read(path: Path) -> bytes:
    """A file's bytes, seen to be a plain file's and not too many, whatever is put in its place meanwhile."""
    try:
        # Opening a device may already do something.
        if not stat.S_ISREG(path.lstat().st_mode):
            raise RefusedError(_NO_FILE)
        with os.fdopen(os.open(path, _AS_IT_IS), "rb") as file:
            found = os.fstat(file.fileno())
            if not stat.S_ISREG(found.st_mode):
                raise RefusedError(_NO_FILE)
            if found.st_size > LARGEST:
                raise RefusedError(
                    f"{found.st_size / 1e6:.0f} MB is too large: ask for it again with its outputs cleared"
                )
            data = file.read(found.st_size + 1)
    except OSError as error:
        if error.errno in (errno.ELOOP, errno.ENXIO):
            raise RefusedError(_NO_FILE) from None
        raise RefusedError(f"cannot be opened ({error.strerror}): copy it again") from None
    if len(data) != found.st_size:
        raise RefusedError("it is still being written: mark again when it is whole")
    return data


#: How the files begin that people send in place of a script. Each is told what it is and what to do.
_PICTURES = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"GIF8", b"BM", b"II*\x00", b"MM\x00*")
_KEY_IN = "if it shows answers written by hand, key them in (pitside key-in); else ask for the file that was saved"
#: What every worksheet of ours holds, far from what a candidate can write into it.
_WORKSHEET = b'<script type="application/json" id="paper">'


#: The reasons of pages that lie in every pack, and never hold an answer.
_BLANK_PAGE = (
    "the blank worksheet, which keeps its answers in the browser: open it on the candidate's device and "
    "press Save my script"
)
_WEB_PAGE = "a web page: ask for the file that Save my script saves, or for the notebook"
_PAGES_OF_A_PACK = (f"not a notebook but {_BLANK_PAGE}", f"not a notebook but {_WEB_PAGE}")
#: An answer cell as it is printed, and how the ids of cells begin that print what is asked.
_BLANK_LINE = r'(?:#[^\n]*|answer\("[^"\n]*", None(?:, "[^"\n]*")?\))'
_BLANK = re.compile(rf"{_BLANK_LINE}(?:\n{_BLANK_LINE})*")
_PRINTED = (TITLE_CELL, COVER_CELL, "exercise-", "ask-")


class _OurPage(NamedTuple):
    """A page of ours that saves a file: what the file says it is, what people call the page, and what takes it."""

    says: bytes
    name: str
    command: str


_OUR_PAGES = (
    _OurPage(b"pitside answers keyed in", "the page to key in printed sheets", "key-in"),
    _OurPage(b"pitside marks of written answers", "the page to mark written answers", "written"),
    _OurPage(b"pitside tasks observed", "the observers' page", "observe"),
)
#: How far into such a file it says what it is, in bytes.
_SAYS_BY = 200


def _saved_by(data: bytes) -> _OurPage | None:
    """The page of ours that saved a file for the school's own desk, which is no script; None for all others."""
    begins = data[:_SAYS_BY].lstrip(b"\xef\xbb\xbf \t\r\n")
    return next((page for page in _OUR_PAGES if begins[:1] == b"{" and page.says in begins), None)


def _other_kind(path: Path, data: bytes) -> str:
    """What a file is that is plainly no script, and what to do about it; empty where it may be one."""
    start = data[:1024].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith((b"<!doctype html", b"<html")) or (b"<html" in start and start.startswith(b"<")):
        if _WORKSHEET in data:
            return _BLANK_PAGE
        return _WEB_PAGE
    if data.startswith(b"%PDF"):
        return f"a PDF: {_KEY_IN}"
    is_webp = data.startswith(b"RIFF") and data[8:12] == b"WEBP"
    if data.startswith(_PICTURES) or is_webp or data[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1", b"ftypavif"):
        return f"a photo or picture: {_KEY_IN}"
    # An office file is a zip of its own kind, or of old a container with this beginning.
    if data.startswith(_ZIP_BEGINS) and path.suffix.lower() not in (".zip", ".ipynb"):
        for entry, kind in ((b"word/document.xml", "a Word file"), (b"xl/workbook.xml", "a spreadsheet")):
            if entry in data:
                return f"{kind}: key its answers in (pitside key-in), or ask for the file that was saved"
    if data.startswith(b"\xd0\xcf\x11\xe0") or data.startswith(b"{\\rtf"):
        return "a Word file or another of an office program: key its answers in (pitside key-in), or ask for the script"
    return ""


def _notebooks_in(path: Path, data: bytes) -> dict[str, bytes]:
    """The bytes of each notebook in a file by its name there: those of a zip, else the file itself under no name."""
    return _unpacked(data) if data.startswith(_ZIP_BEGINS) or path.suffix.lower() == ".zip" else {"": data}


def _unpacked(data: bytes) -> dict[str, bytes]:
    """The notebooks in a zip. Nothing is written anywhere, and no more is unpacked than one notebook may hold."""
    # Each entry that the library would list costs half a kilobyte of memory, and begins with these bytes.
    if data.count(_ZIP_ENTRY) > MOST_FILES:
        raise RefusedError(f"a zip of more than {MOST_FILES} files: ask for the notebook itself")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            entries = _notebook_entries(packed.infolist())
            if (size := sum(entry.file_size for entry in entries)) > LARGEST:
                what = "notebook unpacks" if len(entries) == 1 else f"{len(entries)} notebooks unpack"
                raise RefusedError(
                    f"a zip whose {what} to {size / 1e6:.0f} MB, more than papers of ours: ask for the notebook itself"
                )
            return {entry.filename: _taken_out(packed, entry) for entry in entries}
    # The library raises whatever its parts do: RuntimeError, NotImplementedError, zlib's and struct's errors.
    except RefusedError:
        raise
    except (zipfile.BadZipFile, zlib.error, RuntimeError, ValueError, EOFError, OSError, ArithmeticError, LookupError):
        raise RefusedError("a damaged zip: ask for the notebook itself") from None


def _notebook_entries(entries: list[zipfile.ZipInfo]) -> list[zipfile.ZipInfo]:
    notebooks: dict[str, zipfile.ZipInfo] = {}
    others = []
    for entry in entries:
        parts = entry.filename.replace("\\", "/").split("/")
        # orig_filename: the library cuts a name off at a zero byte.
        if ".." in parts or parts[0] == "" or parts[0].endswith(":") or "\0" in entry.orig_filename:
            raise RefusedError(
                f"a zip that puts files outside its own folder ({clip(entry.filename)}): ask for the notebook itself"
            )
        if stat.S_ISLNK(entry.external_attr >> 16):
            raise RefusedError(f"a zip with a link in it ({clip(entry.filename)}): ask for the notebook itself")
        # Jupyter keeps copies in a hidden folder, which are zipped with the rest.
        hidden = any(part.startswith(".") and part != "." for part in parts)
        if entry.is_dir() or hidden or {part.lower() for part in parts} & _BYWORK:
            continue
        if parts[-1].lower().endswith(".zip"):
            raise RefusedError(f"a zip with a zip in it ({clip(entry.filename)}): ask for the notebook itself")
        if re.match(r"(keyed|written|observed)_.*\.json$", parts[-1]):
            raise RefusedError(f"a zip with what a page of the desk saved in it ({clip(entry.filename)}): {_UNPACK}")
        if not parts[-1].lower().endswith(".ipynb"):
            others.append(entry.filename)
        elif entry.filename in notebooks:
            raise RefusedError(f"a zip with two notebooks of one name in it ({clip(entry.filename)}): {_UNPACK}")
        else:
            notebooks[entry.filename] = entry
    if not notebooks:
        inside = f" ({_named(others)})" if others else ""
        raise RefusedError(f"a zip with no notebook in it{inside}: ask for the file that was saved")
    return list(notebooks.values())


#: What an assessor does with a zip of which it cannot be told which notebook counts.
_UNPACK = "unpack it into the scripts folder, keep what counts, and delete the zip"


def _named(files: Sequence[str]) -> str:
    more = f" and {len(files) - MOST_SHOWN} more" if len(files) > MOST_SHOWN else ""
    return ", ".join(clip(file, LONGEST_SHOWN) for file in files[:MOST_SHOWN]) + more


def _script_among(school: School, register: Register, path: Path, notebooks: dict[str, bytes]) -> tuple[bytes, Paper]:
    """The notebook of a file that is the script, with its paper.

    In a zip that holds several it is the one for a paper of this school. Copies as they were handed out are set aside
    where another was worked in, and so are those of other sittings than the one that the zip's name names.

    Raises: :class:`RefusedError` where none is, or which counts only a person can say.
    """
    papers: dict[str, Paper] = {}
    faults: dict[str, str] = {}
    for name, data in notebooks.items():
        try:
            papers[name] = _paper(school, register, parsed(data))
        except RefusedError as refused:
            faults[name] = str(refused)
    if not papers:
        reason = next(iter(faults.values()))
        if len(faults) == 1:
            raise RefusedError(reason)
        raise RefusedError(f"a zip of {len(faults)} notebooks that are no papers here ({_named([*faults])}): {reason}")
    different: dict[str, str] = {}
    for name in papers:
        different.setdefault(_digest(notebooks[name]), name)
    names = list(different.values())
    if len(names) > 1:
        names = [name for name in names if not _holds_blank(notebooks[name])] or names
    if len(names) > 1 and len({papers[name].id for name in names}) > 1:
        _, sitting, attempt = _guess(school, path.name)
        meant = [name for name in names if (papers[name].sitting, papers[name].attempt) == (sitting, attempt)]
        names = meant or names
    if len(names) > 1:
        raise RefusedError(f"a zip of {len(names)} scripts of which each could count ({_named(names)}): {_UNPACK}")
    return notebooks[names[0]], papers[names[0]]


def _taken_out(packed: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    if entry.flag_bits & 1:
        raise RefusedError("a zip that is locked with a password: ask for the notebook itself")
    # Of these two alone the library unpacks no more than it is asked for.
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise RefusedError("a zip of an unusual kind: ask for the notebook itself")
    if entry.file_size > MOST_RATIO * max(entry.compress_size, 1):
        raise RefusedError(
            f"a zip whose notebook unpacks to {entry.file_size / 1e6:.0f} MB, which is no paper of ours: "
            "ask for the notebook itself"
        )
    with packed.open(entry) as file:
        taken = file.read(entry.file_size + 1)
    if len(taken) != entry.file_size:
        raise RefusedError("a damaged zip: ask for the notebook itself")
    return taken


def _paper(school: School, register: Register, raw: dict[str, Any]) -> Paper:
    """The paper that a notebook names."""
    about = raw["metadata"].get("pitside")
    if not isinstance(about, dict) or not isinstance(about.get("paper"), str):
        raise RefusedError("a notebook, but none of our papers: ask the candidate for the paper that was issued")
    if about.get("format") != FORMAT:
        shown = clip(str(about.get("format")))
        raise RefusedError(f"paper format {shown} is unknown; this version reads format {FORMAT}")
    paper = register.papers.get(about["paper"])
    if old := register.replaced.get(about["paper"]):
        new = register.paper_of(old.sitting, old.candidate, old.attempt)
        raise RefusedError(
            f"paper {old.id} does not count any more: {new.id if new else 'another'} was issued in its place, with "
            "other units: ask for the answers to that one"
        )
    if paper is None or about.get("school") != school.id:
        raise RefusedError(f"paper {clip(about['paper'], 60)} was not issued by this school: check where it belongs")
    if about.get("candidate") != paper.candidate or about.get("sitting") != paper.sitting:
        raise RefusedError(
            f"says it is from {clip(str(about.get('candidate')))}, but paper {paper.id} was issued to "
            f"{paper.candidate}: ask both candidates"
        )
    return paper


def _guess(school: School, name: str) -> tuple[str, str, int]:
    """Whom, and which sitting and attempt, a file seems to come from by its name; only to tell where to look."""
    pieces = set(_pieces(name))
    candidate = next((c.id for c in school.roster if c.id in pieces), "")
    sitting = next((s.id for s in school.sittings if s.id in pieces), "")
    # A browser that has the name already puts a number in brackets behind it.
    attempts = [int(found[1]) for piece in pieces if (found := re.match(r"attempt(\d{1,3})(?!\d)", piece))]
    return candidate, sitting, attempts[0] if attempts else 1


def _other_named(candidates: set[str], name: str, paper: Paper) -> str:
    """The candidate, other than the paper's own, whom a file name names; empty if it names none, or its own too."""
    pieces = _pieces(name)
    # Behind a candidate's id may stand which attempt it was.
    if any(piece == paper.candidate or piece.startswith(f"{paper.candidate}-") for piece in pieces):
        return ""
    return next((piece for piece in pieces if piece in candidates), "")


def _pieces(name: str) -> list[str]:
    return Path(name).stem.lower().replace(" ", "_").split("_")
