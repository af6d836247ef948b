"""What the programs say, as the desk says it: by room and button where a person at a terminal types a command."""

from __future__ import annotations

import re
import shlex
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from grader.desk.said import ROOM_OF_COMMAND, ROOMS
from grader.store.wording import typed


@dataclass(frozen=True)
class Way:
    """A button, as it is labelled, and its room; without a button the room alone."""

    room: str
    button: str = ""

    def __str__(self) -> str:
        room = f"the room {ROOMS[self.room]}"
        return f"“{self.button}” in {room}" if self.button else room


#: The button that does what a command does with this option, or with none.
WAYS: Mapping[tuple[str, str], Way] = {
    ("mark", ""): Way("scripts", "Mark what came back"),
    ("mark", "again"): Way("scripts", "Mark all again"),
    ("mark", "new-scheme"): Way("scripts", "Mark by today’s scheme"),
    ("issue", ""): Way("hand-out", "Issue"),
    ("issue", "replace"): Way("hand-out", "Write it again"),
    ("issue", "attempt"): Way("hand-out", "Issue the resit"),
    ("practice", ""): Way("hand-out", "Write them"),
    ("written", ""): Way("by-hand", "Write the page for words"),
    ("written", "take"): Way("by-hand", "Take the marks"),
    ("key-in", ""): Way("by-hand", "Write the page for sheets"),
    ("key-in", "take"): Way("by-hand", "Make scripts of it"),
    ("observe", ""): Way("by-hand", "Write the observers’ page"),
    ("observe", "take"): Way("by-hand", "Take it back"),
    ("moderate", ""): Way("by-hand", "Draw the sample, or compare observers"),
    ("moderate", "take"): Way("by-hand", "Take the second marks"),
    ("results", ""): Way("results", "Write results and feedback"),
    ("debrief", ""): Way("results", "Write the debrief"),
    ("change", ""): Way("results", "Change it"),
    ("decide", ""): Way("decisions", "Decide who is competent"),
    ("certify", ""): Way("decisions", "Issue certificates"),
    ("certify", "reissue"): Way("decisions", "Issue certificates"),
    ("certify", "revoke"): Way("decisions", "Revoke"),
    ("take-home", ""): Way("decisions", "Put it together"),
    ("verify", ""): Way("records", "Verify the school"),
    ("forget", ""): Way("records", "See what would be deleted"),
    ("classroom", "hand-in-saved"): Way("classroom", "Hand in what is saved"),
    ("check-exercise", ""): Way("sittings", "Try the own exercises"),
}
#: Options that say with what a command works, and need no word at the desk.
_VALUED = "reason|candidate|sitting|attempt|take|revoke|school|days"
_FLAGS = "reissue|replace|new-scheme|again|expired|outcomes|hand-in-saved"
#: What a person does at the desk for what a message says of an option alone.
_OF_OPTIONS = (
    (re.compile(r"in the school's folder: (?=“|the room )"), ""),
    (re.compile(r"put keep_months under \[privacy\] in school\.toml"), "say it in the room Sittings, under The school"),
    (re.compile(r": --reason \"[^\"]*\""), ""),
    (re.compile(r"\badd --replace\b"), "tick the box beside the button"),
    (re.compile(r"\(--allow-missing-walls\)|(?<=with )--allow-missing-walls"), "the box beside “Mark what came back”"),
)


def at_the_desk(text: str, folder: Path | None = None) -> str:
    """A message of the programs with the room and the button in place of each command. ``folder`` is the school's.

    >>> at_the_desk("nothing is marked yet; mark first: pitside mark FOLDER")
    'nothing is marked yet; mark first: “Mark what came back” in the room Take in and mark'
    """
    text = _commands(folder).sub(_way, text)
    for option, words in _OF_OPTIONS:
        text = option.sub(words, text)
    return text


def _way(found: re.Match[str]) -> str:
    command, rest = found["command"], found["rest"]
    options = re.findall(r"--([a-z-]+)", rest)
    way = next((WAYS[command, one] for one in options if (command, one) in WAYS), WAYS.get((command, "")))
    return str(way or Way(ROOM_OF_COMMAND[command]))


@lru_cache(maxsize=8)
def _commands(folder: Path | None) -> re.Pattern[str]:
    names = "|".join(map(re.escape, sorted({*ROOM_OF_COMMAND, "check-exercise"}, key=len, reverse=True)))
    # The school's folder as messages write it, or the word that stands for one.
    places = ["FOLDER", "THAT_FILE", "FILE", "ID"]
    if folder:
        written = (typed(folder), shlex.quote(str(folder)), str(folder), typed(Path(folder.name)))
        places = [*map(re.escape, written), *places]
    value = r"(?:\"[^\"]*\"|'[^']*'|[\w./\\:~+-]*[\w/]|\.(?=[\s)]))"
    word = rf"(?:{'|'.join(places)}|--(?:{_VALUED})(?:[ =]{value})?|--(?:{_FLAGS})|[\w-]+(?= --))"
    return re.compile(rf"`?\bpitside (?P<command>{names})(?![\w-])(?P<rest>(?: {word})*)`?")
