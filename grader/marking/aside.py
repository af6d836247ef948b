"""Set a file aside that came back and shall not be marked, and bring it back: it stays with the school, and the log
says who did it and why.

What is set aside lies in ``scripts/set_aside``, where marking does not look. It is held, exported and forgotten like
everything that was handed in.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from grader.marking.records import keep_refusals, read_refusals, refusals_file
from grader.returned.scripts import Refusal, Returned, aside_folder, read_scripts, shown_path
from grader.returned.taking_in import free_place
from grader.returned.walk import files_below
from grader.store.errors import GraderError
from grader.store.log import BROUGHT_BACK, SET_ASIDE, Log
from grader.store.register import Register
from grader.store.school import School


def set_aside_files(school: School) -> list[str]:
    """What lies aside, as paths below the school's folder."""
    folder = aside_folder(school)
    return [shown_path(school, path) for path, _ in files_below(folder)] if folder.is_dir() else []


def set_aside(school: School, file: str, why: str) -> str:
    """Set the file of this shown path aside, for a reason; gives where it lies now. The caller holds the school.

    Raises: :class:`GraderError` without a reason, or where no such file came back.
    """
    why = _reason(why)
    path = _found(school, file, school.scripts)
    if path.is_relative_to(aside_folder(school)):
        raise GraderError(f"{file}: lies aside already")
    register = Register(school, only_read=True)
    returned, refused = read_scripts(school, register)
    came: list[Returned | Refusal] = [*returned, *refused]
    paper = next((_paper_of(register, one) for one in came if one.file == file), "")
    digest = _digest(path)
    where = free_place(aside_folder(school), path.name, digest)
    # The line first: a run that is killed between them has told of what somebody wanted, and can be done again.
    Log(school).write(SET_ASIDE, paper=paper, file=file, digest=digest.hex(), why=why)
    where.parent.mkdir(exist_ok=True)
    path.replace(where)
    # What it was refused for is over; the log still tells of it.
    known = read_refusals(school)
    if left := [one for one in known if one.file != file]:
        keep_refusals(school, left)
    elif known:
        refusals_file(school).unlink(missing_ok=True)
    return shown_path(school, where)


def bring_back(school: School, file: str, why: str) -> str:
    """Put a file that lies aside back among the scripts; gives where it lies now. The caller holds the school.

    Raises: :class:`GraderError` without a reason, or where no such file lies aside.
    """
    why = _reason(why)
    path = _found(school, file, aside_folder(school))
    digest = _digest(path)
    where = free_place(school.scripts, path.name, digest)
    log = Log(school)
    told = [line for line in log.lines if (line["what"], line.get("digest")) == (SET_ASIDE, digest.hex())]
    log.write(BROUGHT_BACK, paper=told[-1]["paper"] if told else "", file=file, digest=digest.hex(), why=why)
    path.replace(where)
    return shown_path(school, where)


def _reason(why: str) -> str:
    why = " ".join(why.split())
    if not why:
        raise GraderError("say why; it goes into the log")
    return why


def _found(school: School, file: str, below: Path) -> Path:
    """The file of this shown path, found by looking at each: what somebody names leads nowhere else."""
    found = [path for path, fault in files_below(below) if not fault and shown_path(school, path) == file]
    if len(found) != 1 or not (found[0].is_symlink() or found[0].is_file()):
        raise GraderError(f"{file or 'nothing'}: no such file among what came back; look for it in the list")
    return found[0]


def _digest(path: Path) -> bytes:
    """Of a file's bytes, of any number; of a link, which is not followed, of where it leads."""
    if path.is_symlink():
        return hashlib.sha256(os.fsencode(path.readlink())).digest()
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").digest()


def _whose(one: Returned | Refusal) -> tuple[str, str, int]:
    if isinstance(one, Returned):
        return one.paper.candidate, one.paper.sitting, one.paper.attempt
    return one.candidate, one.sitting, one.attempt


def _paper_of(register: Register, one: Returned | Refusal) -> str:
    candidate, sitting, attempt = _whose(one)
    paper = register.paper_of(sitting, candidate, attempt) if candidate and sitting else None
    return paper.id if paper else ""
