"""What a form of the desk gave, and where a message that names a command leads at the desk."""

from __future__ import annotations

import re
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from grader.store.errors import GraderError

#: The rooms of the desk in the order of the work: how their address ends, and what they are called.
ROOMS: Mapping[str, str] = {
    "": "What comes next",
    "candidates": "Candidates",
    "sittings": "Sittings",
    "hand-out": "Hand out",
    "classroom": "Classroom",
    "scripts": "Take in and mark",
    "by-hand": "Marked by people",
    "results": "Results",
    "decisions": "Decisions",
    "records": "Records",
}
#: Where the desk does what a command does; messages of the programs name commands.
ROOM_OF_COMMAND: Mapping[str, str] = {
    "status": "",
    "new": "",
    "exercises": "sittings",
    "tasks": "sittings",
    "coverage": "sittings",
    "issue": "hand-out",
    "practice": "hand-out",
    "book": "hand-out",
    "classroom": "classroom",
    "mark": "scripts",
    "observe": "by-hand",
    "key-in": "by-hand",
    "written": "by-hand",
    "moderate": "by-hand",
    "results": "results",
    "explain": "results",
    "debrief": "results",
    "change": "results",
    "decide": "decisions",
    "certify": "decisions",
    "take-home": "decisions",
    "verify": "records",
    "trail": "records",
    "kept": "records",
    "export": "records",
    "forget": "records",
}
#: How the folder begins in which a file lies under its sender's name, while it is worked on.
GIVEN = "given-"
_COMMAND = re.compile(r"\bpitside ([a-z-]+)")


def rooms_named(lines: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """The rooms where the desk does what the commands do that lines name: how the address ends, and the title."""
    found = (ROOM_OF_COMMAND.get(name) for line in lines for name in _COMMAND.findall(line))
    return tuple((room, ROOMS[room]) for room in dict.fromkeys(found) if room is not None)


@dataclass(frozen=True)
class Given:
    """What was filled into a form: texts by field, and files, each under the name that its sender gave it."""

    fields: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    files: Mapping[str, tuple[tuple[str, Path], ...]] = field(default_factory=dict)
    #: Where the files lie until the work is done.
    folder: Path | None = None

    def text(self, name: str) -> str:
        return " ".join(self.fields.get(name, ("",))[0].split())

    def many(self, name: str) -> tuple[str, ...]:
        return self.fields.get(name, ())

    def is_on(self, name: str) -> bool:
        return bool(self.text(name))

    def number(self, name: str, what: str) -> float:
        """Raises: :class:`GraderError` where it is no number."""
        text = self.text(name).replace(",", ".")
        try:
            return float(text)
        except ValueError:
            raise GraderError(f"{what}: {text!r} is no number; write one, such as 2 or 2.5") from None

    def whole(self, name: str, what: str, least: int = 1, most: int = 99) -> int | None:
        """A whole number, or None where nothing was filled in. Raises: :class:`GraderError`."""
        if not self.text(name):
            return None
        number = self.number(name, what)
        if number != int(number) or not least <= number <= most:
            raise GraderError(f"{what}: write a whole number from {least} to {most}")
        return int(number)

    def file(self, name: str) -> Path:
        """The one file. Raises: :class:`GraderError` where none was chosen."""
        return self.named_file(name)[1]

    def named_file(self, name: str) -> tuple[str, Path]:
        """Like :meth:`file`, behind the name that its sender gave it."""
        files = self.files.get(name, ())
        if len(files) != 1:
            raise GraderError("choose one file first, or drop it on the page")
        return files[0]

    def as_sent(self, text: str) -> str:
        """What is said of these files, under the names that their sender knows, without where they lie meanwhile."""
        if self.folder is None:
            return text
        return re.sub(rf"{re.escape(str(self.folder))}[/\\](?:{GIVEN}\d+[/\\])?", "", text)

    def done(self) -> None:
        """What was sent is not needed any more."""
        if self.folder:
            shutil.rmtree(self.folder, ignore_errors=True)
