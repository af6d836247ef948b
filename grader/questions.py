"""What a paper asks, as plain data for the pages that show it. Nothing of the mark scheme is in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from exercises.model import Choice, Chosen, Column, Numeric, Order, Table, Written
from exercises.model.parts import Item, Part
from exercises.model.practice import chart_html
from exercises.model.text import html, inline_html
from exercises.model.variant import Variant
from grader.papers import answer_cell_id, item_name
from pitside.unit_names import kind_of, read_unit, spelled, usual_kinds

#: Between these sizes, in the unit named, lie the answers of the trade; what lies beyond has a wrong unit or a slipped
#: decimal point. They belong to the kind of quantity and tell nothing of a question. Common practice, no source.
_SIZES: dict[str, tuple[float, float]] = {
    "kg/m3": (1e-3, 2e4),  # a trace of salt to a block of steel
    "L": (1e-4, 1e8),  # a tenth of a millilitre in a retort to the mud of a field
    "kg": (1e-6, 1e8),
    "Pa": (1e-2, 3e8),  # a yield point to the rating of a well head
    "kPa/m": (1e-3, 1e2),
    "m": (1e-8, 2e4),  # a clay platelet to the depth of a well
    "m2": (1e-8, 1e4),
    "L/min": (1e-3, 1e6),
    "m/s": (1e-12, 1e3),
    "kg/h": (1e-4, 1e7),
    "cP": (1e-3, 1e6),
    "s": (1e-4, 1e9),
    "W": (1e-2, 1e9),
    "rpm": (1e-2, 1e5),
    "kWh": (1e-6, 1e9),
    "money": (1e-3, 1e10),
    "fraction": (1e-9, 1e7),  # also g-factors, Reynolds numbers and counts
}


@dataclass(frozen=True)
class Kind:
    """What units measure, in words; its usual units; the least and largest size that can be meant, in base units."""

    name: str
    units: tuple[str, ...]
    least: float
    largest: float


def kinds(variants: Sequence[Variant]) -> tuple[Kind, ...]:
    """The kinds of quantity that a page offers units of: the trade's usual ones, and what these variants ask for."""
    rows = {name: list(units) for name, units in usual_kinds()}
    for variant in variants:
        for item in variant.exercise.items:
            if isinstance(item, Numeric | Chosen):
                row = rows.setdefault(kind_of(variant.unit(item)), [])
                if variant.unit(item) not in row:
                    row.append(variant.unit(item))
    return tuple(Kind(name, tuple(units), *_sizes(units[0])) for name, units in rows.items())


def _sizes(unit: str) -> tuple[float, float]:
    """Least and largest size in base units for the dimension of a unit; no bound where the table has none."""
    dimension = read_unit(unit).dimensionality
    for known, sizes in _SIZES.items():
        if read_unit(known).dimensionality == dimension:
            least, largest = (factor(known) * size for size in sizes)
            return least, largest
    return 0.0, 1e300


def factor(unit: str) -> float:
    """What one of a unit is in base units."""
    return float((1 * read_unit(unit)).to_base_units().magnitude)


def kinds_data(found: tuple[Kind, ...]) -> list[dict[str, Any]]:
    """Kinds for a page: units with the words that they are picked by, what is written for them, and their factors."""
    return [
        {
            "name": kind.name,
            "least": kind.least,
            "largest": kind.largest,
            "units": [
                {"label": spelled(unit) or "no unit", "text": unit, "factor": float(f"{factor(unit):.12g}")}
                for unit in kind.units
            ],
        }
        for kind in found
    ]


def questions(variants: Sequence[Variant]) -> list[dict[str, Any]]:
    """The exercises of a paper: number, title, marks, setting and parts, their texts as HTML.

    A part has its name on the paper (``2b``), what it asks, its marks, the id of the notebook's cell that holds its
    answer, its kind (number, table, choice, order or words) and the items that take an answer.
    """
    return [
        {
            "number": number,
            "title": variant.exercise.title,
            "marks": variant.exercise.marks,
            "minutes": variant.exercise.minutes,
            "setting": html(variant.text(variant.exercise.setting)),
            "chart": chart_html(variant),
            "parts": [_part(number, variant, part) for part in variant.exercise.parts],
        }
        for number, variant in enumerate(variants, 1)
    ]


def _part(number: int, variant: Variant, part: Part) -> dict[str, Any]:
    items = [_item(number, variant, item) for item in part.items()]
    found: dict[str, Any] = {
        "name": item_name(number, part.key),
        "label": f"{number}({part.key})",
        "ask": html(variant.text(part.ask)),
        "marks": sum(item.marks.total for item in part.items()),
        "cell": answer_cell_id(number, part),
        "kind": "table" if isinstance(part, Table) else items[-1]["kind"],
        "items": items,
    }
    if isinstance(part, Table):
        found["table"] = _table(number, variant, part)
    return found


def _item(number: int, variant: Variant, item: Item) -> dict[str, Any]:
    name = item_name(number, item.key)
    match item:
        case Numeric() | Chosen():
            asked = variant.unit(item)
            # Where stating the unit earns a mark, the candidate states it.
            states = isinstance(item, Numeric) and item.marks.unit > 0
            way = isinstance(item, Numeric) and item.on_the_way
            label = variant.text(item.ask) if way or "." in item.key else ""
            return {
                "name": name,
                "kind": "number",
                "label": label,
                "on_the_way": way,
                "measures": kind_of(asked),
                "unit": "" if states else asked,
            }
        case Choice():
            options = [
                {"letter": item.letter(option.key), "text": inline_html(variant.text(option.text))}
                for option in item.options
            ]
            return {"name": name, "kind": "choice", "options": options}
        case Order():
            steps = [
                {"letter": letter, "text": item.steps[step]} for letter, step in variant.shown_steps(item).items()
            ]
            return {"name": name, "kind": "order", "steps": steps}
        case Written():
            return {"name": name, "kind": "words"}


def _table(number: int, variant: Variant, table: Table) -> dict[str, Any]:
    def cell(row: Any, column: Any) -> dict[str, str]:
        if isinstance(column, Column):
            return {"item": item_name(number, table.cell(row, column).key)}
        return {"text": inline_html(variant.text(column.show(row)))}

    return {
        "corner": table.corner,
        "columns": [column.title for column in table.columns],
        "rows": [
            {"title": inline_html(variant.text(row.title)), "cells": [cell(row, column) for column in table.columns]}
            for row in table.rows
        ],
    }
