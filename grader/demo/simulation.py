"""Invented candidates: scripts as people of different ability hand them in, made from the exercises' own slips.

For demonstrations and tests. An answer is drawn as right, a usual slip, or left out; a slip is carried on rightly
through the later parts, as people do.
"""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pint

from exercises.model import Choice, Chosen, Numeric, Order, Written
from exercises.model.parts import Item
from exercises.model.variant import Variant
from grader.store.part_marks import item_name
from pitside.errors import CalculationError
from pitside.unit_names import read_unit, usual_units


@dataclass(frozen=True)
class Ability:
    """How often a candidate slips, leaves a part out, names the wrong unit; and whether in other units of their own."""

    slips: float = 0.0
    blanks: float = 0.0
    wrong_units: float = 0.0
    other_units: float = 0.0


@dataclass(frozen=True)
class Typed:
    """An answer as typed into the notebook."""

    value: float | str
    unit: str


def answers_of(
    variants: tuple[Variant, ...], ability: Ability, generator: np.random.Generator
) -> dict[str, Typed | None]:
    """A candidate's answers to a whole paper, by item name; None where nothing was answered."""
    answers: dict[str, Typed | None] = {}
    for number, variant in enumerate(variants, 1):
        own: dict[str, Any] = dict(variant.key)
        for item in variant.exercise.items:
            name = item_name(number, item.key)
            if generator.random() < ability.blanks:
                answers[name] = None
                continue
            own[item.key] = _answer(variant, item, own, ability, generator)
            answers[name] = _typed(variant, item, own[item.key], ability, generator)
    return answers


def _answer(
    variant: Variant, item: Item, own: Mapping[str, Any], ability: Ability, generator: np.random.Generator
) -> Any:
    slip = generator.random() < ability.slips
    try:
        right = variant.answer(item, own)
    except CalculationError:
        right = variant.key[item.key]
    if not slip:
        return right
    match item:
        case Numeric():
            wrong = variant.slip_values(item, own)
            return wrong[int(generator.integers(len(wrong)))][1] if wrong else right
        case Chosen():
            broken = [v for v in variant.offered(item) if not all(variant.limits_kept(item, v, own))]
            return broken[int(generator.integers(len(broken)))] if broken else right
        case Choice():
            sound = variant.sound_options(item, own)
            others = [option.key for option in item.options if option.key not in sound]
            return others[int(generator.integers(len(others)))]
        case Order():
            return tuple(variant.shown_steps(item).values())
        case Written():
            return right


def _in_words(model: str, ability: Ability, generator: np.random.Generator) -> str:
    """An answer in words: sentences of the model answer, fewer from who slips more, and one at least."""
    sentences = re.split(r"(?<=\.) ", model)
    kept = [sentence for sentence in sentences if generator.random() > 0.15 + ability.slips]
    return " ".join(kept or sentences[:1])


def _typed(variant: Variant, item: Item, answer: Any, ability: Ability, generator: np.random.Generator) -> Typed:
    if isinstance(item, Written):
        return Typed(_in_words(str(answer), ability, generator), "")
    if not isinstance(item, Numeric | Chosen):
        return Typed(variant.shown_answer(item, answer), "")
    asked = variant.unit(item)
    others = [unit for unit in usual_units(asked) if unit not in (asked, "fraction")]
    unit = asked
    if others and generator.random() < ability.other_units:
        unit = others[int(generator.integers(len(others)))]
    value = _digits(answer, unit)
    if others and generator.random() < ability.wrong_units:
        value, unit = _digits(answer, asked), others[int(generator.integers(len(others)))]
    return Typed(value, unit)


def _digits(answer: pint.Quantity, unit: str) -> float:
    """Five significant digits, as a person would copy them from a calculator."""
    return float(f"{float(answer.to(read_unit(unit)).magnitude):.5g}")


def filled(notebook: Mapping[str, Any], answers: Mapping[str, Typed | None]) -> dict[str, Any]:
    """The paper's notebook with these answers typed into its answer cells."""
    script = copy.deepcopy(dict(notebook))
    for cell in script["cells"]:
        if cell["cell_type"] == "code" and cell["id"].startswith("answer-"):
            lines = [_line(line, answers) for line in cell["source"].split("\n")]
            cell["source"] = "\n".join(lines)
    return script


def _line(line: str, answers: Mapping[str, Typed | None]) -> str:
    found = re.match(r'answer\("([^"]+)", None', line)
    typed = answers.get(found[1]) if found else None
    if found is None or typed is None:
        return line
    return f"answer({json.dumps(found[1])}, {json.dumps(typed.value)}, {json.dumps(typed.unit, ensure_ascii=False)})"
