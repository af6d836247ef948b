"""Faults of our own, kept for whoever mends the programs, so that one of them never stops more than one script."""

from __future__ import annotations

import os
import platform
import tempfile
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from typing import TypeVar

from grader.running.run_result import RunnerError
from grader.store.errors import GraderError
from grader.store.files import write_bytes

#: Where faults are kept, in a school's folder.
FOLDER = Path("records") / "faults"
_LIBRARIES = ("pitside", "numpy", "pint", "scipy", "sqlalchemy", "nbgrader", "ipython", "distributed")
_SECRETS = ("school.key", "signing.key")
#: A shorter line of a secret file is no secret.
_SHORTEST_SECRET = 16

_Work = TypeVar("_Work")


@dataclass(frozen=True)
class Fault:
    """A fault of ours: its kind, such as ``LookupError``, and its traceback with the versions of what ran."""

    kind: str
    text: str

    @classmethod
    def of(cls, error: BaseException) -> Fault:
        lines = [*traceback.format_exception(error), "\n", *(f"{name} {what}\n" for name, what in versions().items())]
        return cls(type(error).__name__, "".join(lines))

    def kept(self, folder: Path, name: str, about: str) -> str:
        """Write it into a school's folder, in place of one of that name, and give its path below that folder.

        ``about`` is what it happened at. The school's keys are taken out, wherever they stand.
        """
        path = folder / FOLDER / f"{name}.txt"
        text = _without_secrets(folder, f"{about}\n\n{self.text}")
        write_bytes(path, text.encode(errors="backslashreplace"), mode=0o600)
        return path.relative_to(folder).as_posix()

    def reason(self, kept: str) -> str:
        """Why a script is refused, for a person; the same at each run that meets the same fault."""
        return (
            f"a fault in Pitside, not in the script ({self.kind}), kept in {kept}; the others are marked. "
            "Send that file to whoever looks after Pitside; marking again tries it again"
        )


def reported(fault: Fault, school: Path | None) -> str:
    """Keep a fault in the school's records, else in the folder for temporary files; says where, or why nowhere."""
    now = datetime.now(UTC)
    about = f"pitside {metadata.version('pitside')}, {now:%Y-%m-%d %H:%M:%S} UTC"
    try:
        if school and (school / "records").is_dir():
            with suppress(OSError):
                kept = fault.kept(school, f"command_{now:%Y%m%dT%H%M%S}", about)
                return f"Please send {school / kept} to whoever looks after it"
        handle, name = tempfile.mkstemp(prefix="pitside-fault-", suffix=".txt")
        with os.fdopen(handle, "wb") as file:
            file.write(f"{about}\n\n{fault.text}".encode(errors="backslashreplace"))
    except OSError as error:
        return f"A report of it cannot be written ({error.strerror}): see to that, then try again"
    return f"Please send {name} to whoever looks after it"


def no_longer_kept(folder: Path, name: str) -> None:
    """Remove the fault of that name, if there is one: what it happened at has gone well since."""
    (folder / FOLDER / f"{name}.txt").unlink(missing_ok=True)


def versions() -> dict[str, str]:
    """What ran, and on what."""
    found = {"Python": platform.python_version(), "system": platform.platform()}
    for name in _LIBRARIES:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            found[name] = "is not installed"
    return found


def caught(work: Callable[[], _Work], *through: type[BaseException]) -> _Work | Fault:
    """What the work for one script gives, or the fault of ours that ended it.

    This is the one place where marking takes in whatever goes wrong. What a person can mend goes through, and what
    ``through`` names: what is wrong with the school's own files stops the marking, since it would be wrong with each
    script.
    """
    try:
        return work()
    except Exception as error:
        if isinstance(error, (GraderError, RunnerError, *through)):
            raise
        return Fault.of(error)


def _without_secrets(folder: Path, text: str) -> str:
    for name in _SECRETS:
        try:
            lines = (folder / name).read_text(encoding="ascii", errors="replace").split()
        except OSError:
            continue
        for line in lines:
            if len(line) >= _SHORTEST_SECRET:
                text = text.replace(line, f"({name})").replace(_as_bytes(line), f"({name})")
    return text


def _as_bytes(line: str) -> str:
    """How Python shows the bytes that a line of hexadecimal digits stands for."""
    try:
        return repr(bytes.fromhex(line))[2:-1]
    except ValueError:
        return line
