"""Variants for the book's practice: everything that a page needs to judge an answer, as plain JSON.

The page holds no physics: it multiplies the typed number by the factor of the picked unit and looks in which of the
intervals given here it falls. All intervals are in the base units of the answer's dimension.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Any

import numpy as np
import pint

from exercises.model.chart import svg
from exercises.model.drawing import draw, touch
from exercises.model.exercise import Exercise
from exercises.model.marking import FACTORS, half, tells_factors
from exercises.model.numbers import System, in_system
from exercises.model.parts import Choice, Chosen, Column, Item, Numeric, Order, Part, Reading, Table, Watched, Written
from exercises.model.text import fill, html, inline_html
from exercises.model.variant import Variant
from exercises.model.working import Line
from pitside.errors import CalculationError
from pitside.unit_names import everyday_kinds, kind_of, read_unit, spelled, spellings_of, usual_kinds, usual_units
from pitside.units import Quantity


def practice_set(exercise: Exercise, variants: int) -> dict[str, Any]:
    """So many variants of an exercise in each unit system, the same at each build, ready for ``json.dumps``.

    They are judged under the rule for answers that cannot be.
    """
    systems = {}
    for system in System:
        seed = hashlib.sha256(f"practice {exercise.id} {exercise.version} {system}".encode()).digest()
        generator = np.random.default_rng(int.from_bytes(seed))
        drawn = [draw(exercise, generator, system) for _ in range(variants)]
        systems[str(system)] = [replace(variant, stop_and_look=True) for variant in drawn]
    return practice_data(exercise, systems)


def practice_data(exercise: Exercise, variants: Mapping[str, Sequence[Variant]]) -> dict[str, Any]:
    """Variants of an exercise by unit system, ready for ``json.dumps``."""
    return {
        "exercise": exercise.id,
        "title": exercise.title,
        "factors": [[factor.name, factor.times] for factor in FACTORS],
        "others": _everyday(),
        "spellings": _spellings(variants),
        "systems": {system: [practice_variant(variant) for variant in drawn] for system, drawn in variants.items()},
    }


def _everyday() -> list[dict[str, Any]]:
    """The kinds that are offered beside the fitting one, as on a paper's pages."""
    everyday = everyday_kinds()
    return [
        {"name": name, "units": [{"text": unit, "label": spelled(unit)} for unit in units]}
        for name, units in usual_kinds()
        if name in everyday
    ]


def _spellings(variants: Mapping[str, Sequence[Variant]]) -> dict[str, str]:
    """The offered unit by each other spelling of it, for units that are typed behind a number."""
    items = (item for drawn in variants.values() for variant in drawn for item in _numbers_of(variant))
    offered = dict.fromkeys(items)
    offered |= {unit["text"]: None for kind in _everyday() for unit in kind["units"]}
    return {other: text for text, others in spellings_of(offered).items() for other in others}


def _numbers_of(variant: Variant) -> Iterator[str]:
    """The units that fit the numbers which a page asks for."""
    for part in variant.exercise.parts:
        for item in asked_on_a_page(part):
            if isinstance(item, Numeric | Chosen):
                yield from usual_units(variant.unit(item))


def shortened(data: Any) -> Any:
    """The same data with numbers to ten digits, far finer than any tolerance and half as long on the page."""
    match data:
        case float():
            return float(f"{data:.10g}")
        case dict():
            return {key: shortened(value) for key, value in data.items()}
        case list():
            return [shortened(value) for value in data]
    return data


def json_in_page(data: Any) -> str:
    """JSON that may stand inside a script element: no ``<`` can end the element or open a comment."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False).replace("<", "\\u003c")


def practice_variant(variant: Variant) -> dict[str, Any]:
    """One variant: its texts as HTML, its items with accepted intervals, slips and follow-through."""
    return {
        "setting": html(variant.text(variant.exercise.setting)) + chart_html(variant),
        "parts": [_part(variant, part) for part in variant.exercise.parts],
    }


def chart_html(variant: Variant) -> str:
    """The exercise's chart as an image that stands by itself in a page; empty where there is none."""
    if variant.exercise.chart is None:
        return ""
    chart = variant.exercise.chart(variant.numbers, variant.system)
    data = base64.b64encode(svg(chart).encode()).decode()
    return f'<img class="chart" alt="{escape(chart.alt)}" src="data:image/svg+xml;base64,{data}">'


def _part(variant: Variant, part: Part) -> dict[str, Any]:
    page: dict[str, Any] = {
        "key": part.key,
        "ask": html(variant.question(part)),
        "marks": sum(item.marks.total for item in part.items()),
        "worked": html(worked_text(variant, part)),
        "shown": ", ".join(
            variant.shown_answer(item, variant.key[item.key])
            for item in part.items()
            if not (isinstance(item, Numeric) and item.on_the_way)
        ),
        # A page cannot judge words: a written part shows its model answer and points, and takes no answer.
        # Answers on the way are for papers: a page shows every step of the way in its worked solution.
        "items": [_item(variant, item) | _marks(item) for item in asked_on_a_page(part)],
    }
    if isinstance(part, Table):
        page["table"] = _table(variant, part)
    return page


def _marks(item: Item) -> dict[str, float]:
    followed, unit = item.marks.followed, item.marks.unit
    return {"marks": item.marks.total, "followed": followed + unit, "for_method": half(followed) + unit}


def asked_on_a_page(part: Part) -> list[Numeric | Chosen | Choice | Order]:
    """The items of a part that a page takes answers to: no words, and no answers on the way."""
    return [
        item
        for item in part.items()
        if isinstance(item, Numeric | Chosen | Choice | Order) and not (isinstance(item, Numeric) and item.on_the_way)
    ]


def worked_text(variant: Variant, part: Part) -> str:
    """The worked solution of a part in Markdown."""
    match part:
        case Numeric():
            return _lines(variant.working(part))
        case Chosen():
            keep = ", ".join(variant.shown_answer(part, value) for value in variant.sound_values(part, variant.key))
            reason = fill(in_system(part.reason, variant.system), names_of(variant))
            return f"{reason}\n\nThese keep all limits: {keep}."
        case Table():
            blocks = []
            for item in part.items():
                blocks.append(f"**{variant.text(item.ask)}**\n\n{_lines(variant.working(item))}")
            return "\n\n".join(blocks)
        case Choice():
            sound = [part.option(key) for key in variant.sound_options(part, variant.key)]
            letters = "\n\n".join(f"**{part.letter(right.key)}**: {variant.text(right.text)}" for right in sound)
            return f"{letters}\n\n{fill(in_system(part.reason, variant.system), names_of(variant))}"
        case Order():
            steps = "\n".join(f"{n}. {text}" for n, text in enumerate(part.steps.values(), 1))
            return f"{steps}\n\n{variant.text(part.reason)}"
        case Written():
            points = "\n".join(f"- {point.text} ({point.marks:g})" for point in part.points)
            return f"{variant.text(part.model)}\n\n{points}"
        case Watched():
            return part.advice
        case Reading():
            return "The observer's own reading."


def names_of(variant: Variant) -> dict[str, Any]:
    """Numbers and printed answers by name, for a choice's reason."""
    names: dict[str, Any] = dict(variant.numbers)
    for item in variant.exercise.items:
        if isinstance(item, Numeric | Chosen):
            names[item.key] = variant.printed_answer(item)
    return names


def _lines(lines: list[Line]) -> str:
    return "\n\n".join(f"{line.say}\n\n{line.sum} = {line.result}" for line in lines)


def _table(variant: Variant, table: Table) -> dict[str, Any]:
    cells = []
    for row in table.rows:
        line: list[dict[str, str]] = []
        for column in table.columns:
            if isinstance(column, Column):
                line.append({"item": table.cell(row, column).key})
            else:
                line.append({"text": inline_html(variant.text(column.show(row)))})
        cells.append(line)
    return {
        "corner": table.corner,
        "columns": [column.title for column in table.columns],
        "rows": [inline_html(variant.text(row.title)) for row in table.rows],
        "cells": cells,
    }


def _item(variant: Variant, item: Numeric | Chosen | Choice | Order) -> dict[str, Any]:
    match item:
        case Numeric():
            return _number(variant, item)
        case Chosen():
            return _chosen(variant, item)
        case Choice():
            sound = variant.sound_options(item, variant.key)
            options = [
                {
                    "letter": item.letter(option.key),
                    "text": inline_html(variant.text(option.text)),
                    "right": option.key in sound,
                    "advice": variant.text(option.advice),
                }
                for option in item.options
            ]
            follows = [
                {"when": carried.when, "right": item.letter(right), "says": carried.says, "rests": carried.rests}
                for carried in _carried_to(variant, item)
                if (right := carried.answers[item.key]) not in sound
            ]
            return {"id": item.key, "kind": "choice", "options": options, "follows": follows}
        case Order():
            letters = {step: letter for letter, step in variant.shown_steps(item).items()}
            steps = [{"letter": letter, "text": item.steps[step]} for step, letter in letters.items()]
            rules = [
                {"before": letters[rule.first], "after": letters[rule.then], "advice": rule.advice}
                for rule in item.rules
            ]
            return {"id": item.key, "kind": "order", "steps": steps, "rules": rules}


def _asked(variant: Variant, item: Numeric | Chosen) -> dict[str, Any]:
    """What the page needs to take a number: its label, its units, what they measure, and what is possible.

    Where converting is the question there is the asked unit alone.
    """
    asked = variant.unit(item)
    converting = variant.converts(item)
    offered = (asked,) if converting else usual_units(asked)
    return {
        "id": item.key,
        "kind": "number",
        "label": variant.text(item.ask) if "." in item.key else "",
        "unit": spelled(asked) or "no unit",
        "measures": kind_of(asked),
        "converting": converting,
        "preset": not variant.leaves_unit_open(item),
        "units": [{"text": unit, "label": spelled(unit) or "no unit", "factor": _factor(unit)} for unit in offered],
        "possible": possible_data(variant, item),
    }


def possible_data(variant: Variant, item: Numeric | Chosen | Reading) -> dict[str, Any] | None:
    """What is possible for an answer, for the pages' shared rule: bounds in base units and the warning; None if all."""
    possible = variant.possible(item)
    if not possible.is_bounded:
        return None
    least, most = possible.bounds()
    return {"least": least, "most": most, "says": possible.warning}


def _chosen(variant: Variant, item: Chosen) -> dict[str, Any]:
    """A choice for the page: around each value of its grid a band that is accepted, or a limit that it breaks."""
    accepts: list[list[float]] = []
    slips: list[dict[str, Any]] = []
    for value in variant.offered(item):
        kept = variant.limits_kept(item, value, variant.key)
        broken = [limit for limit, keeps in zip(item.limits, kept, strict=True) if not keeps]
        if not broken:
            accepts.append(_offered_band(variant, item, value))
        else:
            says = [variant.text(limit.advice) for limit in broken]
            slips.append({"name": broken[0].name, "advice": " ".join(says), "at": _offered_band(variant, item, value)})
    model = _base(variant.key[item.key])
    return _asked(variant, item) | {"model": model, "accepts": accepts, "factors": False, "slips": slips, "follows": []}


def _offered_band(variant: Variant, item: Chosen, value: pint.Quantity) -> list[float]:
    """A thousandth of a step around an offered value: what follows can be worked only for the values themselves."""
    grid = in_system(item.grid, variant.system)
    near = Quantity(grid.step / 1000, read_unit(grid.unit))
    return [_base(value - near), _base(value + near)]


def _number(variant: Variant, item: Numeric) -> dict[str, Any]:
    return _asked(variant, item) | {
        "model": _base(variant.key[item.key]),
        "accepts": _accepted(variant, item, variant.key),
        "factors": tells_factors(item, variant.key[item.key]),
        "slips": [
            {"name": slip.name, "advice": variant.text(slip.advice), "at": _band(item, value)}
            for slip, value in variant.slip_values(item, variant.key)
        ],
        "follows": [
            {
                "slip": carried.slip,
                "when": carried.when,
                "accepts": _accepted(variant, item, carried.answers),
                "says": carried.says,
                "rests": carried.rests,
            }
            for carried in _carried_to(variant, item)
            if not variant.stop_and_look or variant.possible(item).holds(carried.answers[item.key])
        ],
    }


def _typed_on_a_page(variant: Variant) -> dict[str, Numeric]:
    """The numbers that a page asks for, by key."""
    items = [item for part in variant.exercise.parts for item in asked_on_a_page(part)]
    return {item.key: item for item in items if isinstance(item, Numeric)}


@dataclass(frozen=True)
class _Carried:
    """A slip of an earlier item, carried rightly as far as an item: where it shows, and the answers it leads to.

    It ``rests`` where one of these cannot be and the variant's scheme minds that: it earns marks for the method alone.
    """

    slip: str
    when: dict[str, list[float]]
    answers: dict[str, Any]
    says: str
    rests: bool = False


def _carried_to(variant: Variant, item: Numeric | Choice) -> Iterator[_Carried]:
    """Each slip of an earlier item that changes an answer which this item uses."""
    bands = _typed_on_a_page(variant)
    yield from _choices_carried_to(variant, item)
    for origin in bands.values():
        if origin.key == item.key:
            return
        for slip, value in variant.slip_values(origin, variant.key):
            answers, changed = _carried(variant, origin, value)
            used = [key for key in changed if key in item.uses and key in bands]
            if used and item.key in changed and _tellable(variant, item, answers):
                when = {key: _band(bands[key], answers[key]) for key in used}
                parts = dict.fromkeys(key.partition(".")[0] for key in used)
                says = f"Right from your own answer to ({'), ('.join(parts)})."
                yield _Carried(slip.name, when, answers, says, _rests(variant, item, answers, changed))


def _rests(variant: Variant, item: Item, answers: Mapping[str, Any], changed: Sequence[str]) -> bool:
    """Whether an item is worked from one of the changed answers that cannot be, or from what is worked from it."""
    resting: set[str] = set()
    for other in variant.exercise.items:
        if other.key == item.key or not variant.stop_and_look:
            break
        if other.key in changed and (
            not variant.possible(other).holds(answers[other.key]) or resting.intersection(other.uses)
        ):
            resting.add(other.key)
    return bool(resting.intersection(item.uses))


def _tellable(variant: Variant, item: Numeric | Choice, answers: Mapping[str, Any]) -> bool:
    """Whether a page can tell that an answer was carried on.

    A page follows numbers only, no letters. What it would know a slip by must not be right as it stands, as it can be
    where a slip far back moves an answer by less than its tolerance. And no band lies around 0 where the tolerance is
    a share of the value.
    """
    for use in item.uses:
        used = variant.exercise.item(use)
        if answers[use] == variant.key[use] or isinstance(used, Chosen):
            continue
        if not isinstance(used, Numeric):
            return False
        right = variant.right_values(used, variant.key).values()
        if any(touch(used, answers[use], value) for value in right):
            return False
    return not isinstance(item, Numeric) or item.tolerance.reach(answers[item.key]) > 0


def _choices_carried_to(variant: Variant, item: Numeric | Choice) -> Iterator[_Carried]:
    """Each sound choice of another value than the model's, carried rightly as far as an item that hangs on it."""
    bands = _typed_on_a_page(variant)
    for origin in variant.exercise.items:
        if origin.key == item.key:
            return
        if not isinstance(origin, Chosen):
            continue
        for value in variant.sound_values(origin, variant.key):
            answers, changed = _carried(variant, origin, value)
            used = [key for key in changed if key in item.uses and key in {origin.key, *bands}]
            told = used and item.key in changed and _tellable(variant, item, answers)
            if value != variant.key[origin.key] and told:
                when = {key: _band(bands[key], answers[key]) for key in used if key in bands}
                when |= {origin.key: _offered_band(variant, origin, value)}
                yield _Carried("", when, answers, f"Right from your own choice in ({origin.key}).")


def _carried(variant: Variant, origin: Numeric | Chosen, value: pint.Quantity) -> tuple[dict[str, Any], list[str]]:
    """The key as it is when ``origin`` was answered with ``value``, and the items whose answers hang on that."""
    answers = dict(variant.key)
    answers[origin.key] = value
    changed = [origin.key]
    for item in variant.exercise.items:
        if any(use in changed for use in item.uses):
            try:
                answers[item.key] = variant.answer(item, answers)
            except CalculationError:
                continue
            changed.append(item.key)
    return answers, changed


def _accepted(variant: Variant, item: Numeric, answers: Mapping[str, Any]) -> list[list[float]]:
    return [_band(item, value) for value in variant.right_values(item, answers).values()]


def _band(item: Numeric, value: pint.Quantity) -> list[float]:
    width = item.tolerance.width(value)
    return [_base(value - width), _base(value + width)]


def _base(value: pint.Quantity) -> float:
    return float(value.to_base_units().magnitude)


def _factor(unit: str) -> float:
    return _base(Quantity(1.0, read_unit(unit)))
