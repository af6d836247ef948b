"""What mark schemes are by today's programs, worked out once and kept beside the register.

The digest of a mark scheme, the model answers, and the values of conventions and slips that answers are held against
are functions of an exercise, its numbers, and the programs; to work them out takes some milliseconds, and every command
needs those of every paper. So they are kept in ``register.schemes``, with a fingerprint of the programs that worked
them out. What other programs kept is not used, and
a file that was damaged, half written or deleted is as good as none.

The file says nothing that anybody could gain by. What a paper was issued with, or what was accepted later, stands in
the sealed register alone; here stands only what the programs of today give, to be held against that. And as who wrote
here that a changed scheme is as it was would get papers marked by it, the file is sealed with the school key: without
the key nobody can write one that is used, and one that was sealed once is true as long as the programs are the same.
No candidate's id is in it.

A school's own exercises are programs that may rest on anything, so theirs are worked out each time.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import platform
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from functools import cached_property, partial
from importlib import metadata
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from exercises import BANK
from exercises.model.variant import Variant
from grader.store.errors import GraderError
from grader.store.files import read_bytes, write_bytes
from grader.store.school import School

FILE = "register.schemes"
#: The first word of the file, with the version of its form.
_FORM = "schemes-3"
#: The packages and the libraries on which what an exercise works out hangs.
PACKAGES = ("pitside", "exercises")
LIBRARIES = ("numpy", "pint", "matplotlib", "markdown-it-py")
#: Where our packages lie.
_TOP = Path(__file__).parents[2]
#: When this process began to read its programs at the latest, and the exercises that it read.
_READ_SINCE = time.time() - 5
_AS_READ = dict(BANK)


def fingerprint(packages: Iterable[str] = PACKAGES, libraries: Iterable[str] = LIBRARIES, top: Path = _TOP) -> str:
    """A digest of the programs of these packages, of Python, and of the versions of libraries.

    Alike on machines where all of them are.
    """
    sources = [path for package in packages for path in (top / package).rglob("*.py")]
    found = {path.relative_to(top).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in sources}
    found |= {name: metadata.version(name) for name in libraries} | {"python": platform.python_version()}
    return hashlib.sha256(json.dumps(found, sort_keys=True).encode()).hexdigest()


class Schemes:
    """The digests of mark schemes by today's programs; those of a ``school`` are taken from its folder.

    Without a school, as on another machine, each is worked out.
    """

    def __init__(self, school: School | None = None) -> None:
        self._school = school
        self._is_new = False

    def __reduce__(self) -> tuple[Callable[[], Schemes], tuple[()]]:
        """On another machine nothing is known: neither the school key nor what it seals goes there."""
        return Schemes, ()

    @property
    def path(self) -> Path | None:
        return self._school.folder / FILE if self._school else None

    def digest(self, variant: Variant) -> str:
        """The digest of a variant's mark scheme; where it is known, the variant is told its model answers too.

        Raises as :attr:`Variant.scheme_digest` does.
        """
        if not self._code or _AS_READ.get(variant.exercise.id) is not variant.exercise:
            return variant.scheme_digest
        name = _name(variant)
        if name not in self._known:
            self._known[name] = f"{variant.scheme_digest} {_json(variant.solved)} {_json(variant.held_against)}"
            self._is_new = True
        digest, solved, held_against = self._known[name].split(" ")
        if "key" not in vars(variant):
            variant.take_solved(json.loads(solved), partial(json.loads, held_against))
        return digest

    def keep(self) -> None:
        """Keep what was worked out. It is only a help: what cannot be written, or is being written, is left out."""
        if not self._school or not self._is_new:
            return
        path = self._school.folder / FILE
        with suppress(OSError, Timeout), FileLock(path.with_name(f".{FILE}.busy"), timeout=0):
            self._known.update(_read(path, self._code, self._school.key))
            text = f"{_FORM} {self._code}\n" + "".join(f"{name} {kept}\n" for name, kept in self._known.items())
            write_bytes(path, f"{text}{_seal(self._school.key, text.encode())}\n".encode(), mode=0o600)
            self._is_new = False

    @cached_property
    def _code(self) -> str:
        """The fingerprint of the programs; empty where there is no school, or it is not known."""
        return _code_of_this_process() if self._school else ""

    @cached_property
    def _known(self) -> dict[str, str]:
        """By the name of a variant, the digest of its scheme, its model answers, and what answers are held against."""
        assert self._school
        return _read(self._school.folder / FILE, self._code, self._school.key)


def _code_of_this_process() -> str:
    """The fingerprint of the programs that run here; empty where they lie there otherwise than they were read."""
    for package in PACKAGES:
        for path in (_TOP / package).rglob("*.py"):
            about = path.stat()
            if max(about.st_mtime, about.st_ctime) >= _READ_SINCE:
                return ""
    return fingerprint()


def _name(variant: Variant) -> str:
    """What tells a variant from all others: a digest of exercise, unit system, numbers and rule of marking."""
    about = [variant.exercise.id, str(variant.system), variant.numbers.to_json(), variant.stop_and_look]
    return hashlib.sha256(json.dumps(about, sort_keys=True).encode()).hexdigest()[:32]


def _json(data: Any) -> str:
    return json.dumps(data, separators=(",", ":")).replace(" ", r"\u0020")  # a blank ends it


def _seal(key: bytes, text: bytes) -> str:
    return hmac.new(key, b"schemes|" + text, hashlib.sha256).hexdigest()


def _read(path: Path, code: str, key: bytes) -> dict[str, str]:
    """What the file has of these programs; nothing where it is not one that was written with this key."""
    try:
        data = read_bytes(path)
    except (OSError, GraderError):
        return {}
    text, _, seal = data.removesuffix(b"\n").rpartition(b"\n")
    text += b"\n"
    if not hmac.compare_digest(_seal(key, text).encode(), seal):
        return {}
    first, *lines = text.decode().removesuffix("\n").split("\n")
    if first != f"{_FORM} {code}":
        return {}
    return dict(line.split(" ", 1) for line in lines)
