"""Change school.toml and keep all of it that is not meant, notes too: checked before it is written."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

import tomlkit
from tomlkit.items import AoT
from tomlkit.toml_document import TOMLDocument

from exercises import BANK, Bank
from exercises.plans import minutes_of
from exercises.tasks import exercise_named
from grader.store.errors import GraderError
from grader.store.files import read_text, write_text
from grader.store.school import School, open_school


@dataclass(frozen=True)
class Planned:
    """A sitting as somebody wants it; ``observed`` where its exercises are tasks."""

    id: str
    title: str
    day: date
    weight: float
    exercises: tuple[str, ...]
    observed: bool = False


def settings_text(school: School) -> str:
    return read_text(school.folder / "school.toml")


def with_sitting(text: str, planned: Planned, bank: Bank = BANK) -> str:
    """The settings with this sitting, in place of the one of its id or behind all others."""
    document = tomlkit.parse(text)
    sittings = _sittings(document)
    block = next((one for one in sittings if one.get("id") == planned.id), None)
    if block is None:
        block = tomlkit.table()
        block["id"] = planned.id
        sittings.append(block)
    block["title"] = planned.title
    block["day"] = planned.day
    block["weight"] = int(planned.weight) if planned.weight == int(planned.weight) else planned.weight
    wanted, other = ("tasks", "exercises") if planned.observed else ("exercises", "tasks")
    block.pop(other, None)
    if list(block.get(wanted, ())) != list(planned.exercises):
        block[wanted] = _list(planned.exercises)
        chosen = [found for name in planned.exercises if (found := exercise_named(name, bank))]
        block[wanted].comment(f"about {minutes_of(chosen)} minutes")
    return tomlkit.dumps(document)


def without_sitting(text: str, sitting: str) -> str:
    """The settings without the sitting of this id."""
    document = tomlkit.parse(text)
    sittings = _sittings(document)
    for at, block in enumerate(sittings):
        if block.get("id") == sitting:
            del sittings[at]
            break
    return tomlkit.dumps(document)


def with_value(text: str, block: str, name: str, value: str | float | bool | None) -> str:
    """The settings with this value; None takes the line out."""
    document = tomlkit.parse(text)
    if block not in document:
        document = tomlkit.parse(f"{text.rstrip()}\n\n[{block}]\n")
    table: Any = document[block]
    if value is None:
        table.pop(name, None)
    elif name in table:
        table[name] = value
    else:
        # On top of its block: what stands at the end of one are often notes on the next.
        line = f"{name} = {tomlkit.item(value).as_string()}\n"
        return re.sub(rf"(?m)^(\[{block}\][^\n]*\n)", lambda found: found[1] + line, tomlkit.dumps(document), count=1)
    return tomlkit.dumps(document)


def settings_say_own(school: School) -> bool:
    """Whether the settings let a school's own exercises run, also where there are none."""
    about = tomlkit.parse(settings_text(school)).get("school", {})
    return bool(about.get("own_exercises", False))


#: The school's pass rule: what each of its settings is called, in words that follow "changes".
RULE = {
    "pass_percent": "the pass mark, in percent of all marks",
    "sitting_percent": "the least percent of the marks of each sitting",
    "outcome_percent": "the percent of the marks of an outcome from which on it is shown",
    "every_outcome": "whether every outcome must be shown",
    "must_pass": "whether safety parts that are marked so must be right",
    "resit": "which attempt counts after a resit",
    "rounding": "the marks of a right answer with too few figures",
    "stop_and_look": "whether an answer that cannot be earns nothing, of papers issued from now on",
}
Setting = str | float | bool


def rule_of(school: School) -> dict[str, Setting]:
    """The pass rule as the school has it, by the names of its settings."""
    return {name: str(value) if isinstance(value := getattr(school, name), StrEnum) else value for name in RULE}


def with_rule(text: str, school: School, wanted: Mapping[str, Setting]) -> str:
    """The settings with this pass rule; what stays as it is is not touched."""
    now = rule_of(school)
    for name, value in wanted.items():
        if value != now[name]:
            is_whole = isinstance(value, float) and value == int(value)
            text = with_value(text, "marking", name, int(value) if is_whole else value)
    return text


def rule_differences(school: School, wanted: Mapping[str, Setting]) -> list[str]:
    """What would be other, a line each."""
    now = rule_of(school)
    return [
        f"{RULE[name]}: {_in_words(now[name])} becomes {_in_words(value)}"
        for name, value in wanted.items()
        if value != now[name]
    ]


def _in_words(value: Setting) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else value


def put_settings(school: School, text: str) -> School:
    """Write the settings, if a school can be opened with them. The caller holds the school.

    Raises: :class:`GraderError` with what is wrong; then nothing is written.
    """
    changed = open_school(school.folder, text)
    write_text(school.folder / "school.toml", text)
    return changed


def _sittings(document: TOMLDocument) -> AoT:
    found = document.get("sitting")
    if not isinstance(found, AoT):
        raise GraderError("school.toml: its sittings are not written as blocks [[sitting]]; change them by hand there")
    return found


def _list(names: Sequence[str]) -> Any:
    listed = tomlkit.array()
    listed.extend(names)
    return listed.multiline(len(names) > 1)
