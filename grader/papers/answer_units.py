"""What a paper's answers measure: the units to offer for each kind of quantity, and the sizes that can be meant.

Nothing of the mark scheme is in it.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from exercises.model import Choice, Chosen, Numeric, Order, Reading, Seen, Watched, Written
from exercises.model.answers import FRACTION, NUMBER
from exercises.model.parts import Item
from exercises.model.possible import Possible
from exercises.model.variant import Variant
from pitside.unit_names import everyday_kinds, kind_of, read_unit, spelled, spellings_of, usual_kinds

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
            if isinstance(item, Numeric | Chosen | Reading):
                row = rows.setdefault(kind_of(variant.unit(item)), [])
                if variant.unit(item) not in row:
                    row.append(variant.unit(item))
    return tuple(Kind(name, tuple(units), *_sizes(units[0])) for name, units in rows.items())


@functools.cache
def _sizes(unit: str) -> tuple[float, float]:
    """Least and largest size in base units for the dimension of a unit; no bound where the table has none."""
    dimension = read_unit(unit).dimensionality
    for known, sizes in _SIZES.items():
        if read_unit(known).dimensionality == dimension:
            least, largest = (factor(known) * size for size in sizes)
            return least, largest
    return 0.0, 1e300


@functools.cache
def factor(unit: str) -> float:
    """What one of a unit is in base units."""
    return float((1 * read_unit(unit)).to_base_units().magnitude)


def kinds_data(found: tuple[Kind, ...]) -> list[dict[str, Any]]:
    """Kinds for a page: units with the words that they are picked by, what is written for them, and their factors.

    ``everyday`` kinds are offered beside the fitting one at every question, others only where they fit.
    """
    everyday = everyday_kinds()
    return [
        {
            "name": kind.name,
            "everyday": kind.name in everyday,
            "least": kind.least,
            "largest": kind.largest,
            "units": [
                {"label": spelled(unit) or "no unit", "text": unit, "factor": float(f"{factor(unit):.12g}")}
                for unit in kind.units
            ],
        }
        for kind in found
    ]


def spellings_data(found: tuple[Kind, ...]) -> dict[str, str]:
    """The offered unit, or word of one, by each other spelling of it, for the pages' reader of units behind numbers."""
    units = tuple(unit for kind in found for unit in kind.units)
    return {other: text for text, others in _spellings(units) for other in others}


def measured(variant: Variant, item: Item) -> str:
    """What an answer to an item is: what its unit measures, or the letters that it takes.

    A part in words takes none and gives an empty text.
    """
    match item:
        case Numeric() | Chosen() | Reading():
            return kind_of(variant.unit(item))
        case Choice():
            return f"one letter of {''.join(item.letter(option.key) for option in item.options)}"
        case Order():
            return f"each letter of {''.join(sorted(variant.shown_steps(item)))}"
        case Watched():
            return f"one letter of {''.join(seen.letter for seen in Seen)}"
        case _:
            return ""


def form_of_answers(variants: Sequence[Variant]) -> dict[str, Any]:
    """The tables of the notebook's given cell for a paper of these variants.

    ``PARTS``: items by what their answers are (:func:`measured`); ``ON_THE_WAY`` and ``IN_WORDS`` name items.
    ``POSSIBLE``: the bounds of items in base units, by the warning beyond them. ``CONVERTING``: items by the
    one unit that they take. ``USUAL_UNITS``: for each kind of quantity that is asked for, its units and
    what one of them is in base units. ``LIKELY_SIZES``: the least and largest size of those kinds that can be meant,
    where there are such. ``OTHER_UNITS``: the units of the other kinds. ``SPELLINGS``: for units and words of units,
    other ways to spell them. ``NUMBER`` and ``FRACTION``: how marking knows a number.
    """
    items = [
        (f"{number}{item.key}", variant, item)
        for number, variant in enumerate(variants, 1)
        for item in variant.exercise.items
    ]
    asked = {name: what for name, variant, item in items if (what := measured(variant, item))}
    numbers = [(name, variant, item) for name, variant, item in items if isinstance(item, Numeric | Chosen)]
    bounds: dict[str, dict[str, tuple[float, float]]] = {}
    for name, variant, item in numbers:
        possible = variant.possible(item)
        if possible.is_bounded:
            bounds.setdefault(possible.warning, {})[name] = _ends(possible)
    found = kinds(variants)
    of_these = [kind for kind in found if kind.name in asked.values()]
    units = tuple(unit for kind in found for unit in kind.units)
    return {
        "PARTS": asked,
        "ON_THE_WAY": tuple(name for name, _, item in numbers if isinstance(item, Numeric) and item.on_the_way),
        "IN_WORDS": tuple(name for name, _, item in items if isinstance(item, Written)),
        "POSSIBLE": bounds,
        "CONVERTING": {name: variant.unit(item) for name, variant, item in numbers if variant.converts(item)},
        "USUAL_UNITS": {kind.name: {unit: factor(unit) for unit in kind.units} for kind in of_these},
        "LIKELY_SIZES": {kind.name: (kind.least, kind.largest) for kind in of_these if kind.least > 0},
        "OTHER_UNITS": {kind.name: ", ".join(kind.units) for kind in found if kind not in of_these},
        "SPELLINGS": {text: ", ".join(others) for text, others in _spellings(units)},
        "NUMBER": NUMBER.pattern,
        "FRACTION": FRACTION.pattern,
    }


@functools.cache
def _ends(possible: Possible) -> tuple[float, float]:
    """Least and most in base units, a huge number where there is no bound."""
    least, most = possible.bounds()
    return -1e300 if least is None else least, 1e300 if most is None else most


@functools.cache
def _spellings(units: tuple[str, ...]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple(spellings_of(units).items())
