"""Read what came back: which paper a file answers, or why it cannot be marked. Runs nothing.

A file is read twice. Once to see whose it is, and all files so that no two are for one paper: of that little is kept,
however many there are. And once, wholly checked, when its turn to be marked has come.
"""

from __future__ import annotations

import hashlib
import io
import itertools
import json
import re
import stat
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from exercises.model.marking import Rounding
from grader.papers.notebook import FORMAT
from grader.running.checked_answers import clip
from grader.store.errors import GraderError
from grader.store.register import Paper, Register
from grader.store.school import School

#: A larger file is no script of ours (an empty paper is about 20 kB, one full of plots a few MB).
LARGEST = 20 * 1024 * 1024
#: Most files in a zip, of which one is the notebook, and how many times larger than its packed form it may be. A
#: notebook packs to a tenth or so; a bomb to a thousandth.
MOST_FILES = 50
MOST_RATIO = 200
#: Most values in a notebook's JSON, for checking a value takes far longer than reading its bytes. A paper has about
#: two thousand.
MOST_VALUES = 200_000
_ZIP_BEGINS = (b"PK\x03\x04", b"PK\x05\x06")
_ZIP_ENTRY = b"PK\x01\x02"
_ESCAPED_SURROGATE = b"\\ud"
_NO_JSON = "not a notebook (its text is no JSON): ask for the file again"
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
        data = _notebook_in(self.path, _read(self.path))
        if _digest(data) != self.digest:
            raise _RefusedError("it changed while it was being marked: mark again")
        return data

    def script(self, data: bytes) -> Script:
        """The script in these bytes, whatever they hold checked. Raises: :class:`GraderError` if they are none."""
        if _digest(data) != self.digest:
            raise _RefusedError("its bytes are not those that were read: mark again")
        return Script(self.file, self.digest, self.paper, _checked(_raw(data)), self.named)

    def refused(self, reason: str) -> Refusal:
        paper = self.paper
        return Refusal(self.file, self.digest, paper.candidate, paper.sitting, reason, paper.attempt)


class _RefusedError(GraderError):
    """A file that cannot be marked, and why."""


def read_scripts(school: School, register: Register) -> tuple[list[Returned], list[Refusal]]:
    """Every file of the scripts folder, as one that names a paper or as a refusal, in order of file name.

    Two different scripts for one paper are both refused, since nobody but the assessor can say which counts;
    identical copies count once. Only such rivals are checked wholly here; other files when they are marked.
    """
    returned: dict[str, list[Returned]] = {}
    refusals = []
    if not school.scripts.is_dir():
        return [], []
    candidates = {candidate.id for candidate in school.roster} | {one.candidate for one in register.papers.values()}
    for path in sorted(school.scripts.rglob("*")):
        below = path.relative_to(school.folder)
        if (path.is_dir() and not path.is_symlink()) or any(part.startswith(".") for part in below.parts):
            continue
        # A file name may hold line breaks, or be no text at all; the record of it is one line.
        file = clip(below.as_posix(), 300)
        digest = ""
        try:
            data = _read(path)
            digest = _digest(data)
            data = _notebook_in(path, data)
            digest = _digest(data)
            paper = _paper(school, register, _raw(data))
        except (_RefusedError, RecursionError) as refused:
            reason = str(refused) if isinstance(refused, _RefusedError) else _NO_JSON
            candidate, sitting, attempt = _guess(school, path.name)
            refusals.append(Refusal(file, digest, candidate, sitting, reason, attempt))
            continue
        same = returned.setdefault(paper.id, [])
        if digest not in {other.digest for other in same}:
            named = _other_named(candidates, path.name, paper)
            same.append(Returned(file, digest, paper, path, school.rounding, named))
    single = []
    for same in returned.values():
        if len(same) > 1:
            same, no_scripts = _whole_ones(same)
            refusals += no_scripts
        if len(same) > 1:
            files = f"{len(same)} different scripts for one paper ({', '.join(one.file for one in same)})"
            reason = f"{files}: move all but the one that counts elsewhere"
            refusals += [one.refused(reason) for one in same]
        else:
            single += same
    return single, sorted(refusals, key=lambda refusal: refusal.file)


def _whole_ones(rivals: list[Returned]) -> tuple[list[Returned], list[Refusal]]:
    """Those that are scripts when looked at closely, and refusals of the others."""
    whole, refusals = [], []
    for one in rivals:
        try:
            one.script(one.data())
        except _RefusedError as refused:
            refusals.append(one.refused(str(refused)))
        else:
            whole.append(one)
    return whole, refusals


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _read(path: Path) -> bytes:
    if path.is_symlink() or not path.is_file():
        raise _RefusedError("a link or special file, not a notebook: ask for the file itself")
    try:
        size = path.stat().st_size
        if size > LARGEST:
            raise _RefusedError(f"{size / 1e6:.0f} MB is too large: ask for it again with its outputs cleared")
        return path.read_bytes()
    except OSError as error:
        raise _RefusedError(f"cannot be opened ({error.strerror}): copy it again") from None


def _notebook_in(path: Path, data: bytes) -> bytes:
    """The bytes of the notebook in a file, which are the file's own unless it is a zip."""
    return _unpacked(data) if data.startswith(_ZIP_BEGINS) or path.suffix.lower() == ".zip" else data


def _unpacked(data: bytes) -> bytes:
    """The one notebook in a zip. Nothing is written anywhere, and no more is unpacked than a notebook may hold."""
    # Each entry that the library would list costs half a kilobyte of memory, and begins with these bytes.
    if data.count(_ZIP_ENTRY) > MOST_FILES:
        raise _RefusedError(f"a zip of more than {MOST_FILES} files: ask for the notebook itself")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            return _taken_out(packed, _only_notebook(packed.infolist()))
    # The library raises whatever its parts do: RuntimeError, NotImplementedError, zlib's and struct's errors.
    except _RefusedError:
        raise
    except (zipfile.BadZipFile, zlib.error, RuntimeError, ValueError, EOFError, OSError, ArithmeticError, LookupError):
        raise _RefusedError("a damaged zip: ask for the notebook itself") from None


def _only_notebook(entries: list[zipfile.ZipInfo]) -> zipfile.ZipInfo:
    notebooks = []
    for entry in entries:
        parts = entry.filename.replace("\\", "/").split("/")
        # orig_filename: the library cuts a name off at a zero byte.
        if ".." in parts or parts[0] == "" or parts[0].endswith(":") or "\0" in entry.orig_filename:
            raise _RefusedError(
                f"a zip that puts files outside its own folder ({clip(entry.filename)}): ask for the notebook itself"
            )
        if stat.S_ISLNK(entry.external_attr >> 16):
            raise _RefusedError(f"a zip with a link in it ({clip(entry.filename)}): ask for the notebook itself")
        if entry.is_dir() or parts[-1].startswith(".") or {part.lower() for part in parts} & _BYWORK:
            continue
        if parts[-1].lower().endswith(".zip"):
            raise _RefusedError(f"a zip with a zip in it ({clip(entry.filename)}): ask for the notebook itself")
        if parts[-1].lower().endswith(".ipynb"):
            notebooks.append(entry)
    if len(notebooks) != 1:
        count = f"{len(notebooks)} notebooks" if notebooks else "no notebook"
        raise _RefusedError(f"a zip with {count} in it: ask for the one notebook itself")
    return notebooks[0]


def _taken_out(packed: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    if entry.flag_bits & 1:
        raise _RefusedError("a zip that is locked with a password: ask for the notebook itself")
    # Of these two alone the library unpacks no more than it is asked for.
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise _RefusedError("a zip of an unusual kind: ask for the notebook itself")
    if entry.file_size > LARGEST or entry.file_size > MOST_RATIO * max(entry.compress_size, 1):
        raise _RefusedError(
            f"a zip whose notebook unpacks to {entry.file_size / 1e6:.0f} MB, which is no paper of ours: "
            "ask for the notebook itself"
        )
    with packed.open(entry) as file:
        taken = file.read(entry.file_size + 1)
    if len(taken) != entry.file_size:
        raise _RefusedError("a damaged zip: ask for the notebook itself")
    return taken


def _paper(school: School, register: Register, raw: dict[str, Any]) -> Paper:
    """The paper that a notebook names."""
    about = raw["metadata"].get("pitside")
    if not isinstance(about, dict) or not isinstance(about.get("paper"), str):
        raise _RefusedError("a notebook, but none of our papers: ask the candidate for the paper that was issued")
    if about.get("format") != FORMAT:
        shown = clip(str(about.get("format")))
        raise _RefusedError(f"paper format {shown} is unknown; this version reads format {FORMAT}")
    paper = register.papers.get(about["paper"])
    if paper is None or about.get("school") != school.id:
        raise _RefusedError(f"paper {clip(about['paper'], 60)} was not issued by this school: check where it belongs")
    if about.get("candidate") != paper.candidate or about.get("sitting") != paper.sitting:
        raise _RefusedError(
            f"says it is from {clip(str(about.get('candidate')))}, but paper {paper.id} was issued to "
            f"{paper.candidate}: ask both candidates"
        )
    return paper


def _raw(data: bytes) -> dict[str, Any]:
    """A notebook's JSON without its outputs, which is seen to be of format 4 and of bearable size, and no more."""
    try:
        raw = json.loads(data.decode("utf-8-sig"))
        if _is_endless(raw):
            raise _RefusedError("a notebook of far more pieces than our papers have: ask for the file again")
        _without_outputs(raw)
        if _ESCAPED_SURROGATE in data.lower():
            # Half a surrogate pair can be written in JSON but not in a file; it becomes a question mark.
            raw = json.loads(json.dumps(raw, ensure_ascii=False).encode(errors="replace"))
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise _RefusedError(_NO_JSON) from None
    if not isinstance(raw, dict) or not isinstance(raw.get("metadata"), dict) or not isinstance(raw.get("cells"), list):
        raise _RefusedError("not a notebook (no cells): ask for the file again")
    if type(raw.get("nbformat")) is not int or type(raw.get("nbformat_minor")) is not int or raw["nbformat"] != 4:
        raise _RefusedError("a notebook of another format than 4: open it in Jupyter, save it, and hand that in")
    return raw


def _checked(raw: dict[str, Any]) -> dict[str, Any]:
    """The notebook, after it is seen to be what nbformat takes for one."""
    import nbformat  # takes a second to load, which a command that checks no notebook is spared

    _name_cells(raw)
    try:
        notebook = nbformat.from_dict(raw)
        nbformat.validate(notebook)
    except (nbformat.ValidationError, ValueError, KeyError, AttributeError, TypeError, RecursionError) as error:
        line = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise _RefusedError(f"a damaged notebook ({clip(line, 120)}): ask for the file again") from None
    return notebook


def _name_cells(raw: dict[str, Any]) -> None:
    """Give a cell without an id, or with one that a cell before it has, an id of its own, each time the same one.

    The library would mend it too, by drawing lots, and with a warning, which no thread can silence for itself alone.
    """
    if raw["nbformat_minor"] < 5:
        return
    cells = raw["cells"]
    if not all(isinstance(cell, dict) and isinstance(cell.get("id", ""), str) for cell in cells):
        raise _RefusedError("a damaged notebook (a cell or its id is something else): ask for the file again")
    taken = {cell.get("id") for cell in cells}
    seen: set[str] = set()
    for number, cell in enumerate(cells, 1):
        if "id" not in cell or cell["id"] in seen:
            cell["id"] = next(name for n in itertools.count() if (name := f"cell-{number}-{n}") not in taken)
        seen.add(cell["id"])


def _is_endless(raw: Any) -> bool:
    waiting, left = [raw], MOST_VALUES
    while waiting and left >= 0:
        value = waiting.pop()
        if isinstance(value, dict | list):
            left -= len(value)
            if left >= 0:
                waiting.extend(value.values() if isinstance(value, dict) else value)
    return left < 0


def _without_outputs(raw: Any) -> None:
    """Take out what a returned notebook claims to have put out; the room puts in what comes out there."""
    cells = raw.get("cells") if isinstance(raw, dict) else None
    for cell in cells if isinstance(cells, list) else ():
        if isinstance(cell, dict) and cell.get("cell_type") == "code":
            cell |= {"outputs": [], "execution_count": None}


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
