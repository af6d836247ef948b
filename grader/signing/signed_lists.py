"""A signature beside a list, of each of its lines, so that a changed line can be named: results.csv and its like."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from difflib import SequenceMatcher
from itertools import zip_longest
from pathlib import Path

from grader.signing.credentials import Json, canonical, read_json, stamp
from grader.signing.signing import PublicKey, Signer, from_did, from_multibase, multibase
from grader.store.errors import GraderError
from grader.store.files import write_text

#: Before what is signed of a list, so that no signature of anything else passes for one.
_MARK = b"pitside signed list\n"


@dataclass(frozen=True)
class Checked:
    """A list whose signature is genuine: when it was signed, its lines, and what is wrong with which of them.

    ``state`` is the state code with which it was signed; none on signatures of before there were such codes.
    """

    signed: str
    lines: int
    faults: tuple[str, ...]
    state: str = ""


def signature_file(path: Path) -> Path:
    return path.with_name(f"{path.name}.sig")


def unsign(path: Path) -> None:
    """Take away a list's signature, before the list is written anew."""
    signature_file(path).unlink(missing_ok=True)


def sign_list(path: Path, signer: Signer, school: str, now: datetime, state: str = "") -> Path:
    """Write the signature of a list beside it, with the school's state code; gives its path."""
    body: Json = {"list": path.name, "school": school, "signed": stamp(now), "key": signer.public.did}
    if state:
        body["state"] = state
    body["lines"] = [_digest(line) for line in _lines(path.read_bytes())]
    body["signature"] = multibase(signer.sign(_MARK + canonical(body)))
    write_text(signature_file(path), json.dumps(body, ensure_ascii=False, indent=1) + "\n")
    return signature_file(path)


def check_list(path: Path, public: PublicKey) -> Checked:
    """Compare a list line by line with what was signed.

    Raises: :class:`GraderError` where there is no signature, or it is not by this key, or was itself changed.
    """
    file = signature_file(path)
    try:
        body = read_json(file.read_text(encoding="utf-8"))
        signature = from_multibase(body.pop("signature"))
        named, signed, list_name = from_did(body["key"]), body["signed"], body["list"]
        digests = [str(digest) for digest in body["lines"]]
        state = str(body.get("state", ""))
        data = canonical(body)
    except FileNotFoundError:
        raise GraderError(
            f"{path}: not signed (no {file.name} beside it); whoever keeps the school writes both with: pitside results"
        ) from None
    except (ValueError, KeyError, TypeError, AttributeError):
        raise GraderError(f"{file}: damaged; get it again from whoever keeps the school") from None
    if named != public:
        raise GraderError(f"{file}: forged: signed with another key ({named.did}) than the school's ({public.did})")
    if not public.signed(signature, _MARK + data):
        raise GraderError(f"{file}: altered after it was signed, so nothing can be said of {path.name}")
    if list_name != path.name:
        raise GraderError(f"{file}: the signature of {list_name}, not of {path.name}; name both as they were named")
    lines = _lines(path.read_bytes())
    return Checked(signed, len(lines), tuple(_faults(path, digests, lines)), state)


def first_difference(path: Path, other: Path) -> str:
    """The first line in which a list is not like another, with whose it is; empty if there is none."""
    lines, others = _lines(path.read_bytes()), _lines(other.read_bytes())
    for at, (line, like) in enumerate(zip_longest(lines, others), 1):
        if line != like:
            return f"line {at}{_whose(line or like or b'')}"
    return ""


def _faults(path: Path, signed: list[str], lines: list[bytes]) -> Iterator[str]:
    there = [_digest(line) for line in lines]
    for tag, first, last, begin, end in SequenceMatcher(None, signed, there, autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        changed = min(last - first, end - begin)
        for at in range(begin, begin + changed):
            yield f"{path}: line {at + 1}{_whose(lines[at])} is not as it was signed"
        for at in range(begin + changed, end):
            yield f"{path}: line {at + 1}{_whose(lines[at])} was put in after it was signed"
        if missing := last - first - changed:
            count = "a line that was signed is" if missing == 1 else f"{missing} lines that were signed are"
            where = f"behind line {begin + changed}" if begin + changed else "at the beginning"
            yield f"{path}: {count} missing {where}"


def _whose(line: bytes) -> str:
    """The first cell of a line, which is a candidate's id."""
    first = line.decode("utf-8", "replace").lstrip("\ufeff").partition(",")[0].strip('"')
    return f" ({first})" if first.isprintable() and 0 < len(first) <= 32 else ""


def _lines(data: bytes) -> list[bytes]:
    """Lines without their ends, which mail programs change."""
    return data.replace(b"\r\n", b"\n").removesuffix(b"\n").split(b"\n")


def _digest(line: bytes) -> str:
    return hashlib.sha256(line).hexdigest()
