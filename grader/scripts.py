"""Read what came back: which paper a file answers, or why it cannot be marked. Runs nothing."""

from __future__ import annotations

import hashlib
import io
import json
import stat
import warnings
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import nbformat

from grader.claims import clip
from grader.papers import FORMAT
from grader.register import Paper, Register
from grader.school import School

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
#: What computers put into zips on their own.
_BYWORK = {"__macosx", "thumbs.db", "desktop.ini"}


@dataclass(frozen=True)
class Script:
    """A returned notebook, matched to its paper. ``digest`` is the notebook's own, also where it came in a zip."""

    file: str
    digest: str
    paper: Paper
    notebook: dict[str, Any]


@dataclass(frozen=True)
class Refusal:
    """A returned file that cannot be marked, and why. ``candidate`` is whom it seems to come from, or empty."""

    file: str
    digest: str
    candidate: str
    sitting: str
    reason: str


class _RefusedError(Exception):
    pass


def read_scripts(school: School, register: Register) -> tuple[list[Script], list[Refusal]]:
    """Every file of the scripts folder, as a script or a refusal, in order of file name.

    Two different files for one paper are both refused, since nobody but the assessor can say which counts;
    identical copies count once.
    """
    scripts: dict[str, list[Script]] = {}
    refusals = []
    if not school.scripts.is_dir():
        return [], []
    for path in sorted(school.scripts.rglob("*")):
        below = path.relative_to(school.folder)
        if (path.is_dir() and not path.is_symlink()) or any(part.startswith(".") for part in below.parts):
            continue
        # A file name may hold line breaks, or be no text at all; the record of it is one line.
        file = clip(below.as_posix(), 300)
        digest = ""
        try:
            data = _read(path)
            digest = hashlib.sha256(data).hexdigest()
            if data.startswith(_ZIP_BEGINS) or path.suffix.lower() == ".zip":
                data = _unpacked(data)
                digest = hashlib.sha256(data).hexdigest()
            script = _script(school, register, file, digest, data)
        except _RefusedError as refused:
            candidate, sitting = _guess(school, path.name)
            refusals.append(Refusal(file, digest, candidate, sitting, str(refused)))
            continue
        same = scripts.setdefault(script.paper.id, [])
        if digest not in {other.digest for other in same}:
            same.append(script)
    single = []
    for same in scripts.values():
        if len(same) == 1:
            single.append(same[0])
            continue
        files = ", ".join(script.file for script in same)
        reason = f"{len(same)} different scripts for one paper ({files}): move all but the one that counts elsewhere"
        for script in same:
            paper = script.paper
            refusals.append(Refusal(script.file, script.digest, paper.candidate, paper.sitting, reason))
    return single, refusals


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


def _script(school: School, register: Register, file: str, digest: str, data: bytes) -> Script:
    notebook = _notebook(data)
    about = notebook["metadata"].get("pitside")
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
    return Script(file, digest, paper, notebook)


def _notebook(data: bytes) -> dict[str, Any]:
    try:
        raw = json.loads(data.decode("utf-8-sig"))
        if _is_endless(raw):
            raise _RefusedError("a notebook of far more pieces than our papers have: ask for the file again")
        _without_outputs(raw)
        # Half a surrogate pair can be written in JSON but not in a file; it becomes a question mark.
        raw = json.loads(json.dumps(raw, ensure_ascii=False).encode(errors="replace"))
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise _RefusedError("not a notebook (its text is no JSON): ask for the file again") from None
    if not isinstance(raw, dict) or not isinstance(raw.get("metadata"), dict) or not isinstance(raw.get("cells"), list):
        raise _RefusedError("not a notebook (no cells): ask for the file again")
    if type(raw.get("nbformat")) is not int or type(raw.get("nbformat_minor")) is not int or raw["nbformat"] != 4:
        raise _RefusedError("a notebook of another format than 4: open it in Jupyter, save it, and hand that in")
    try:
        with warnings.catch_warnings():
            # Missing cell ids and the like are mended; what is wrong beyond that is refused.
            warnings.simplefilter("ignore")
            notebook = nbformat.from_dict(raw)
            nbformat.validate(notebook)
    except (nbformat.ValidationError, ValueError, KeyError, AttributeError, TypeError, RecursionError) as error:
        line = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise _RefusedError(f"a damaged notebook ({clip(line, 120)}): ask for the file again") from None
    return notebook


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


def _guess(school: School, name: str) -> tuple[str, str]:
    """Whom a file seems to come from, by its name; only ever used to tell the assessor where to look."""
    pieces = set(Path(name).stem.lower().replace(" ", "_").split("_"))
    candidate = next((c.id for c in school.roster if c.id in pieces), "")
    sitting = next((s.id for s in school.sittings if s.id in pieces), "")
    return candidate, sitting
