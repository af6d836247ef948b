"""What a paper asks, as plain data for the pages that show it. Nothing of the mark scheme is in it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from exercises.model import Choice, Chosen, Column, Numeric, Order, Reading, Table, Watched, Written
from exercises.model.parts import Item, Part
from exercises.model.practice import chart_html, possible_data
from exercises.model.text import html, inline_html
from exercises.model.variant import Variant
from grader.papers.notebook import answer_cell_id, item_words
from grader.store.part_marks import item_name
from pitside.unit_names import kind_of


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
    items = [_item(number, variant, item) | {"words": item_words(number, variant, part, item)} for item in part.items()]
    found: dict[str, Any] = {
        "name": item_name(number, part.key),
        "label": f"{number}({part.key})",
        "ask": html(variant.question(part)),
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
        case Numeric() | Chosen() | Reading():
            asked = variant.unit(item)
            states = variant.leaves_unit_open(item)
            way = isinstance(item, Numeric) and item.on_the_way
            label = variant.text(item.ask) if way or "." in item.key else ""
            return {
                "name": name,
                "kind": "number",
                "label": label,
                "on_the_way": way,
                "measures": kind_of(asked),
                "unit": "" if states else asked,
                "converting": variant.converts(item),
                "possible": possible_data(variant, item),
            }
        case Choice():
            options = [
                {"letter": item.letter(option.key), "text": inline_html(variant.text(option.text))}
                for option in item.options
            ]
            return {"name": name, "kind": "choice", "options": options}
        case Order():
            steps = [{"letter": letter, "text": item.steps[step]} for letter, step in variant.shown_steps(item).items()]
            return {"name": name, "kind": "order", "steps": steps}
        case Written():
            return {"name": name, "kind": "words"}
        case Watched():
            return {"name": name, "kind": "watched", "critical": item.must_pass}


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
