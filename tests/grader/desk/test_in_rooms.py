"""What programs say of commands is said at the desk of rooms and buttons, whatever program says it."""

from __future__ import annotations

import ast
import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import grader
from grader.desk.in_rooms import WAYS, at_the_desk
from grader.desk.said import ROOM_OF_COMMAND

TOP = Path(grader.__file__).parent
FOLDER = Path("/home/school keeper/My school 1")
#: A command as a message names it.
NAMED = re.compile(rf"pitside (?:{'|'.join(sorted(ROOM_OF_COMMAND))}|check-exercise)(?![\w-])")


def messages() -> Iterator[tuple[str, str]]:
    """Every text of the programs that names a command, filled in as they do, and where it stands."""
    for path in sorted(TOP.rglob("*.py")):
        if path.name in ("cli.py", "command_names.py") or path.parent.name in ("demo", "desk"):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        notes = {
            id(body.body[0].value)
            for body in ast.walk(tree)
            if isinstance(body, ast.Module | ast.ClassDef | ast.FunctionDef) and body.body
            and isinstance(body.body[0], ast.Expr)
        }  # fmt: skip
        inner = {id(part) for one in ast.walk(tree) if isinstance(one, ast.JoinedStr) for part in one.values}
        for one in ast.walk(tree):
            if id(one) in notes or id(one) in inner:
                continue
            if isinstance(one, ast.JoinedStr):
                text = "".join(map(_filled, one.values))
            elif isinstance(one, ast.Constant) and isinstance(one.value, str):
                text = one.value
            else:
                continue
            # Settings files are for those who open them beside a terminal.
            if NAMED.search(text) and not text.startswith("# "):
                yield f"{path.relative_to(TOP)}:{one.lineno}", text


def _filled(part: ast.expr) -> str:
    if isinstance(part, ast.Constant):
        return str(part.value)
    inner = ast.unparse(part)
    return str(FOLDER) if "folder" in inner else f"'{FOLDER}'" if "here" in inner else "x-01"


def test_no_message_that_names_a_command_names_it_at_the_desk():
    found = list(messages())
    assert len(found) > 30
    for where, text in found:
        said = at_the_desk(text, FOLDER)
        assert not NAMED.search(said), f"{where}: {said}"
        assert " --" not in said, f"{where}: {said}"
        assert "FOLDER" not in said, f"{where}: {said}"
        assert str(FOLDER) not in said or str(FOLDER) in NAMED.split(text)[0], f"{where}: {said}"


@pytest.mark.parametrize("way", WAYS.values(), ids=["-".join(filter(None, key)) for key in WAYS])
def test_a_button_that_a_message_names_is_in_the_room_that_it_names(way):
    pages = {
        "scripts": "scripts", "hand-out": "hand_out", "by-hand": "by_hand", "results": "results",
        "decisions": "decisions", "records": "records", "sittings": "sittings", "classroom": "classroom",
    }  # fmt: skip
    names = [pages[way.room]] + (["paper"] if way.room == "results" else [])
    text = "".join((TOP / "desk/templates" / f"{name}.html").read_text(encoding="utf-8") for name in names)
    assert f">{way.button}</button>" in html.unescape(text)


def test_what_a_message_says_besides_stays_as_it_is():
    said = "day1: 3 papers have no marks yet -- see the list"
    assert at_the_desk(said, FOLDER) == said
    assert at_the_desk("another pitside command is at work here", FOLDER) == "another pitside command is at work here"
    assert at_the_desk('take it: pitside forget FOLDER lk-01 --reason "..."; it goes', FOLDER) == (
        "take it: “See what would be deleted” in the room Records; it goes"
    )
