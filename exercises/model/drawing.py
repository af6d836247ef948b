"""Draw the numbers of an exercise, again and again until they make a sound variant."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, islice

import numpy as np
import pint

from exercises.model.exercise import Exercise
from exercises.model.numbers import Derived, Drawn, Numbers, System, Told, in_system
from exercises.model.parts import Chosen, Item, Known, Numeric, Order
from exercises.model.variant import SHUFFLE, Variant
from pitside.errors import CalculationError
from pitside.unit_names import read_unit

#: Draws tried before an exercise is called unsound; a sound one needs a handful.
MOST_DRAWS = 2000


class UnsoundExercise(ValueError):
    """No valid set of numbers was found in which every slip can be told from the right answer."""


def draw(exercise: Exercise, generator: np.random.Generator, system: System) -> Variant:
    """A variant whose numbers are valid together and whose slips can all be told apart.

    Raises: :class:`UnsoundExercise` after :data:`MOST_DRAWS` draws, saying what stood in the way most recently.
    """
    trouble = "its valid rule refuses every draw"
    items = list(exercise.items)
    for _ in range(MOST_DRAWS):
        drawn: dict[str, Drawn | str] = {
            n.name: n.draw(generator, system) for n in exercise.numbers if not isinstance(n, Derived | Told)
        }
        for part in exercise.parts:
            if isinstance(part, Order):
                drawn[f"{SHUFFLE}.{part.key}"] = _shuffled(part, generator)
        try:
            for number in exercise.numbers:
                if isinstance(number, Derived | Told):
                    drawn[number.name] = number.draw(Numbers(drawn), system)
            variant = Variant(exercise, system, Numbers(drawn))
            if not exercise.valid(Known(variant.numbers, {})):
                continue
            stumbled = next(((item, says) for item in items for says in _confusions(variant, item)), None)
        except (CalculationError, ArithmeticError) as error:
            trouble = str(error)
            continue
        if stumbled is None:
            return variant
        item, trouble = stumbled
        # What stood in the way once often does so again: asked first, it is found before the rest is worked out.
        items.remove(item)
        items.insert(0, item)
    raise UnsoundExercise(f"exercise {exercise.id}: no sound numbers in {MOST_DRAWS} draws; {trouble}")


def _shuffled(order: Order, generator: np.random.Generator) -> str:
    """An order of the steps that breaks at least one rule, so that copying it down earns no full marks."""
    steps = list(order.steps)
    while True:
        shuffled = [steps[i] for i in generator.permutation(len(steps))]
        if order.broken(tuple(shuffled)):
            return ",".join(shuffled)


def confusable(variant: Variant) -> list[str]:
    """Each pair of values in a part that an answer could not tell apart, in words; none in a sound variant.

    A slip is clear of a right value when their tolerance bands do not touch; two slips likewise.
    """
    return [says for item in variant.exercise.items for says in _confusions(variant, item)]


def _confusions(variant: Variant, item: Item) -> Iterator[str]:
    if isinstance(item, Chosen) and not _leaves_a_choice(variant, item):
        sound = len(variant.sound_values(item, variant.key))
        yield f"part {item.key}: {sound} values of its grid keep all limits; it is no choice"
    if not isinstance(item, Numeric):
        return
    right, slips = variant.right_values(item, variant.key), variant.slip_values(item, variant.key)
    for slip, wrong in slips:
        for name, value in right.items():
            if touch(item, wrong, value):
                yield f'part {item.key}: the slip "{slip.name}" cannot be told from {name or "the answer"}'
    for (one, one_value), (other, other_value) in combinations(slips, 2):
        if touch(item, one_value, other_value):
            yield f'part {item.key}: the slips "{one.name}" and "{other.name}" cannot be told apart'


def _leaves_a_choice(variant: Variant, item: Chosen) -> bool:
    """Whether two offered values or more keep all limits, and not all do.

    Sound values lie around the suggested one and unsound ones far from it, so they are looked for in that order.
    """
    grid = in_system(item.grid, variant.system)
    suggested = float(variant.key[item.key].m_as(read_unit(grid.unit)))
    offered = sorted(variant.offered(item), key=lambda value: abs(float(value.magnitude) - suggested))

    def is_sound(value: pint.Quantity) -> bool:
        return all(variant.limits_kept(item, value, variant.key))

    two = list(islice(filter(is_sound, offered), 2))
    return len(two) == 2 and not all(is_sound(value) for value in reversed(offered))


def touch(item: Numeric, one: pint.Quantity, other: pint.Quantity) -> bool:
    """Whether the tolerance bands of two values, both in the asked unit, meet."""
    reach = item.tolerance.reach(one) + item.tolerance.reach(other)
    return abs(float(one.magnitude) - float(other.magnitude)) <= reach
