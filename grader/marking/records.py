"""Where the records of marking lie in the school folder, and how they are read and written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path

from grader.marking.record import Record
from grader.papers.notebook import NOTEBOOK
from grader.returned.scripts import Refusal, read_scripts
from grader.store.errors import GraderError
from grader.store.files import as_json, read_bytes, write_json
from grader.store.register import Paper, Register
from grader.store.school import School


def marked_notebook(school: School, paper: Paper) -> Path:
    """Where the executed notebook of a paper lies."""
    return school.records / "marked" / paper.candidate / paper.session / f"{NOTEBOOK}.ipynb"


def record_file(school: School, paper: str) -> Path:
    """Where the record of a paper lies."""
    return school.records / "marks" / f"{paper}.json"


def read_record(school: School, paper: str) -> Record | None:
    """The record of a paper, if it has been marked."""
    path = record_file(school, paper)
    try:
        text = read_bytes(path)
        data = json.loads(text)
        if b"\\u" in text:
            as_json(data)  # half a letter, which nothing can be written with again, is damage too
        return Record.from_json(data)
    except FileNotFoundError:
        return None
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise GraderError(f"{path}: damaged; delete it and mark again") from None


def kept_record(school: School, paper: Paper) -> Record:
    """The record of a paper that is known to have been marked."""
    record = read_record(school, paper.id)
    if record is None:
        raise GraderError(f"{record_file(school, paper.id)}: it was there a moment ago; mark again")
    return record


def marked_before(school: School, scripts: Mapping[str, Path]) -> tuple[str, ...]:
    """The papers of these scripts that have marks which rest on another script than lies there now."""
    found = []
    for paper, path in scripts.items():
        record = read_record(school, paper)
        if record and record.script != hashlib.sha256(read_bytes(path)).hexdigest():
            found.append(paper)
    return tuple(found)


def came_back(school: School, register: Register) -> frozenset[str]:
    """The ids of the papers of which a script lies there or was marked."""
    scripts, _ = read_scripts(school, register)
    marked = (paper for paper in register.papers if record_file(school, paper).exists())
    return frozenset([*(one.paper.id for one in scripts), *marked])


def keep_refusals(school: School, refusals: list[Refusal]) -> None:
    write_json(refusals_file(school), [asdict(refusal) for refusal in refusals])


def refusals_file(school: School) -> Path:
    """Where the list of the files lies that could not be marked."""
    return school.records / "refused.json"


def read_refusals(school: School) -> list[Refusal]:
    """The files that the last marking run could not mark."""
    path = refusals_file(school)
    try:
        return [Refusal(**refusal) for refusal in json.loads(read_bytes(path))]
    except FileNotFoundError:
        return []
    except (ValueError, TypeError, RecursionError):
        raise GraderError(f"{path}: damaged; mark again to make it anew") from None
