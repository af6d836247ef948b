"""Read what came back: which paper a file answers, or why it cannot be marked. Runs nothing."""

from __future__ import annotations

import hashlib
import json
import warnings
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


@dataclass(frozen=True)
class Script:
    """A returned notebook, matched to its paper."""

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


def _guess(school: School, name: str) -> tuple[str, str]:
    """Whom a file seems to come from, by its name; only ever used to tell the assessor where to look."""
    pieces = set(Path(name).stem.lower().replace(" ", "_").split("_"))
    candidate = next((c.id for c in school.roster if c.id in pieces), "")
    sitting = next((s.id for s in school.sittings if s.id in pieces), "")
    return candidate, sitting
