"""What the commands are called: their working order, names of before, and words that people try instead."""

from __future__ import annotations

import os
from contextlib import suppress
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import click

from grader.store.errors import GraderError
from grader.store.wording import typed

#: The commands in the order of the work, under what each group is for.
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Where you are", ("status", "desk")),
    ("Prepare", ("new", "exercises", "tasks", "coverage", "check-exercise", "book", "demo")),
    ("Issue", ("issue", "practice", "classroom")),
    ("Mark", ("observe", "key-in", "mark", "written", "results", "explain", "debrief", "parts")),
    ("Decide", ("moderate", "change", "decide", "certify", "take-home")),
    ("Keep", ("verify", "trail", "kept", "export", "forget")),
)
#: Names of before; they still work, and say the name of today.
RENAMED = {"report": "debrief", "items": "parts", "check": "check-exercise", "keyin": "key-in"}

#: By what somebody wants to do, who typed one of the words: the way to do it. What stands in braces is filled in from
#: the school that one stands in or beside.
_WANTS: dict[tuple[str, ...], str] = {
    ("browser", "gui", "window", "app", "web", "open", "click", "office", "server", "ui"): (
        "pitside desk opens a page in the browser that does what the commands do"
    ),
    ("grade", "assess", "correct", "score", "evaluate", "run", "marks", "marking"): (
        "pitside mark{school} marks the scripts that came back"
    ),
    ("print", "sheet", "sheets", "printout"): (
        "pitside issue{school} writes the packs, and sheets.html, which prints the sheets of everybody in a sitting"
    ),
    ("roster", "candidates", "candidate", "students", "student", "trainees", "trainee", "people", "names", "add",
     "enrol", "enroll", "register"): (
        "write the candidates into roster.csv or roster.xlsx in the school's folder, then: pitside issue{school}"
    ),
    ("resit", "retake", "repeat", "again", "attempt"): (
        "pitside issue{school} --sitting {sitting} --attempt 2 lists who may have to sit again, and draws fresh numbers"
    ),
    ("replace", "reissue", "lost", "rewrite"): (
        'pitside issue{school} --replace --candidate {candidate} --reason "..." writes a lost or wrong pack again'
    ),
    ("late", "latecomer", "later", "missing"): (
        "write the candidate into the roster, then: pitside issue{school} --candidate {candidate}"
    ),
    ("sit", "work", "answer", "exam", "paper-work"): (
        "candidates sit with what pitside issue{school} packs; pitside practice{school} writes papers to practise"
    ),
    ("pack", "packs", "paper", "papers", "draw", "generate", "hand-out", "handout", "distribute", "give"): (
        "pitside issue{school} draws everybody's numbers and writes the packs"
    ),
    ("network", "wifi", "lan", "phone", "phones", "online", "slip", "slips", "serve", "room", "live"): (
        "pitside classroom{school} {sitting} hands papers out and takes them in over the local network"
    ),
    ("feedback", "result"): "pitside results{school} writes the results and each candidate's feedback",
    ("words", "word", "essay", "essays", "hand", "text", "texts", "answers", "handmark", "hand-mark"): (
        "pitside written{school} writes the page on which answers in words are marked"
    ),
    ("type", "type-in", "scan", "keyboard", "enter", "digitise", "digitize"): (
        "pitside key-in{school} writes the page on which printed sheets are typed in"
    ),
    ("watch", "observed", "observer", "task", "practical", "yard", "station"): (
        "pitside observe{school} writes the page on which tasks are watched at the machine; pitside tasks lists them"
    ),
    ("why", "reason", "show"): "pitside explain{school} {candidate} 2b says why part 2b got its mark",
    ("evening", "class", "summary", "analysis", "statistics", "stats", "teach"): (
        "pitside debrief{school} says what to teach again and who needs help"
    ),
    ("compare", "cohorts", "questions", "question", "reliability", "discrimination"): (
        "pitside parts, with the folders of several schools behind it, says how each part of the exercises did"
    ),
    ("second", "sample", "remark", "review"): (
        "pitside moderate{school} --sitting {sitting} draws a sample for a second, blind marking"
    ),
    ("appeal", "correction", "edit", "override", "adjust"): (
        'pitside change{school} {candidate} 2b 3 --kind appeal --reason "..." changes the marks of a part'
    ),
    ("pass", "fail", "verdict", "competent", "competence", "decision", "decisions", "sign"): (
        "pitside decide{school} writes the page of who has shown competence, to be signed"
    ),
    ("certificate", "certificates", "diploma", "award", "revoke"): (
        "pitside certify{school} issues certificates; with --revoke it takes one back"
    ),
    ("send", "mail", "email", "hand-back", "handback", "homework", "bundle", "parcel"): (
        "pitside take-home{school} puts together what each candidate is sent"
    ),
    ("history", "log", "audit", "events"): (
        "pitside trail{school} {candidate} tells all that happened to a candidate's papers"
    ),
    ("fraud", "forged", "cheating", "copied", "validate"): (
        "pitside verify{school} finds what was altered, forged or copied"
    ),
    ("data", "privacy", "held", "about", "person"): (
        "pitside kept{school} {candidate} says what is held about a candidate"
    ),
    ("delete", "remove", "erase", "purge", "anonymise", "anonymize"): (
        'pitside forget{school} {candidate} --reason "..." lists what is held about a candidate, asks, and deletes it'
    ),
    ("zip", "backup", "copy", "dump"): (
        "pitside export{school} {candidate} writes what is held about a person; a backup is a copy of the whole folder"
    ),
    ("init", "create", "make", "school", "start", "setup", "begin"): "pitside new my-school makes a school's folder",
    ("list", "bank", "exercise", "topics"): (
        "pitside exercises lists what a sitting can be made of; the sittings stand in school.toml"
    ),
    ("outcomes", "outcome", "objectives"): (
        "pitside coverage{school} says which outcomes no paper assesses; pitside exercises --outcomes lists them all"
    ),
    ("sitting", "sittings", "day", "days", "plan", "settings", "config", "configure"): (
        "the sittings and their exercises stand in school.toml; pitside status{school} says how far each is"
    ),
    ("lesson", "lessons", "read", "course", "handbook", "website", "stick", "usb"): (
        "pitside book opens the book of lessons; pitside book --to stick/book copies it to a folder"
    ),
    ("training", "train", "rehearse", "mock", "trial"): (
        "pitside practice{school} writes practice papers with numbers that no candidate has"
    ),
    ("next", "todo", "state", "where", "overview", "progress", "info"): (
        "pitside status{school} says how far each sitting is, and what to do next"
    ),
    ("example", "sample-school", "try", "tour"): "pitside demo makes a whole invented school to look at",
    ("test", "proof", "lint", "inspect"): "pitside check-exercise column-pressure tries an exercise over many draws",
    ("commands", "usage", "manual"): "pitside --help lists the commands; pitside mark --help tells of one command",
}  # fmt: skip
OTHER_WORDS = {word: way for words, way in _WANTS.items() for word in words}


class Commands(click.Group):
    """The commands, listed in working order; a name of before works, and another word is answered with the way."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return [name for _, names in GROUPS for name in names]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        widest = max(len(name) for name in self.commands)
        for title, names in GROUPS:
            with formatter.section(title):
                formatter.write_dl(
                    [
                        (name.ljust(widest), self.commands[name].short_help or "")
                        for name in names
                        if name in self.commands
                    ]
                )

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        word = args[0]
        name = RENAMED.get(word, word)
        if name in self.commands or word.startswith("-"):
            if name != word:
                click.echo(f"pitside: {word} is called {name} now: pitside {name}", err=True)
            return super().resolve_command(ctx, [name, *args[1:]])
        plain = word.lower().replace("_", "-")
        if plain == "help":
            return super().resolve_command(ctx, ["--help"])
        raise GraderError(f"{ascii(word)[1:-1][:60]} is no command; {_filled_in(self._way(plain))}")

    def _way(self, word: str) -> str:
        if way := OTHER_WORDS.get(word):
            return way
        if close := get_close_matches(word, [*self.commands, *RENAMED], 1, 0.7):
            return f"did you mean: pitside {RENAMED.get(close[0], close[0])}"
        if close := get_close_matches(word, OTHER_WORDS, 1, 0.8):
            return OTHER_WORDS[close[0]]
        return "pitside --help lists the commands"


def _filled_in(way: str) -> str:
    """A way with the school's folder, a sitting and a candidate, so that its command can be typed as it stands."""
    from grader.store.school import open_school

    around, beside = school_around(Path()), schools_in(Path())
    school = around or (beside[0] if len(beside) == 1 else None)
    sitting, candidate = "day1", "aa-01"
    if school:
        with suppress(GraderError, OSError):
            opened = open_school(school)
            sitting = opened.sittings[0].id
            candidate = opened.roster[0].id if opened.roster else candidate
    where = "" if around or not school else f" {typed(school)}"
    said = way.format(school=where, sitting=sitting, candidate=candidate)
    return said if school or "{school}" not in way else f"in the school's folder: {said}"


def schools_in(folder: Path) -> list[Path]:
    """The school folders that lie in a folder, as they are typed from there."""
    with suppress(OSError):
        return sorted(one for one in folder.iterdir() if one.is_dir() and holds_school(one))
    return []


def holds_school(folder: Path) -> bool:
    return (folder / "school.toml").exists()


def school_around(path: Path) -> Path | None:
    """The school's folder that a folder is or lies in; given relative where the folder is."""
    whole = Path(os.path.abspath(path))  # noqa: PTH100 - links stay as they were typed
    found = next((folder for folder in (whole, *whole.parents) if holds_school(folder)), None)
    if found is None or found == whole:
        return None if found is None else path
    return found if path.is_absolute() else Path(os.path.relpath(found))


class SchoolFolder(click.Path):
    """A school's folder; a folder inside finds its school. What is no school is left for the command to tell of."""

    name = "folder"

    def __init__(self) -> None:
        super().__init__(path_type=Path, file_okay=False)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        return (path.is_dir() and school_around(path)) or path


def own_school() -> Path:
    """The school in whose folder one stands. Raises: :class:`click.UsageError` where one stands in none."""
    found = school_around(Path())
    if found is None:
        beside = ", ".join(typed(one) for one in schools_in(Path())[:5])
        here = f"; here {'lie' if ',' in beside else 'lies'} {beside}" if beside else ""
        raise click.UsageError(f"of which school? Name its folder, or go into it first{here}")
    return found


class InSchool(click.Command):
    """A command whose first argument is the school's folder, which may be left out inside of it.

    Where other arguments follow, a first word that names no path is the first of these.
    """

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        arguments = [param for param in self.params if isinstance(param, click.Argument)]
        if len(arguments) > 1 and "--help" not in args and school_around(Path()):
            values, more, _ = self.make_parser(ctx).parse_args(list(args))
            given = [value for one in arguments if isinstance(value := values.get(str(one.name)), str)]
            if given and not more and len(given) < len(arguments) and not _is_path(given[0]):
                args = [str(own_school()), *args]
        return super().parse_args(ctx, args)


def _is_path(word: str) -> bool:
    """Whether a word names a folder, and not, where one stands in a school, a candidate or paper."""
    return word in (".", "..") or "/" in word or os.sep in word or holds_school(Path(word))
