"""Published answers to exercises, and the tests that every module with ``FIGURES`` of them imports.

The published answer gets full marks, the usual mistake on the same numbers is named. A variant is made by hand with the
numbers of its source, so its numbers need not lie on the grids of the exercise.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from exercises import BANK
from exercises.model import Numbers, Order, Pick, System
from exercises.model.answers import Given
from exercises.model.marking import ItemMark, Rule, mark
from exercises.model.numbers import Drawn
from exercises.model.variant import SHUFFLE, Variant
from pitside.unit_names import read_unit
from tests.published.published_check import Status


def by_hand(exercise: str, system: System = System.FIELD, **numbers: tuple[float, str, int]) -> Variant:
    """A variant of an exercise with these numbers: magnitude, unit, decimals.

    Words are the first that the exercise draws, steps to order are shown backwards.
    """
    drawn: dict[str, Drawn | str] = {name: Drawn(*number) for name, number in numbers.items()}
    for number in BANK[exercise].numbers:
        if isinstance(number, Pick):
            drawn[number.name] = number.options[0]
    for part in BANK[exercise].parts:
        if isinstance(part, Order):
            drawn[f"{SHUFFLE}.{part.key}"] = ",".join(reversed(part.steps))
    return Variant(BANK[exercise], system, Numbers(drawn))


@dataclass(frozen=True)
class Published:
    """A published answer to one item, and the usual mistakes on the same numbers with the slip that names them.

    ``earlier`` holds published answers to the parts before. ``model_within`` bounds how far our own model answer may
    lie from the figure, in its unit; where it is wider than the last printed digit, ``because`` says why. It is None
    where the earlier answers are not those of the variant's own numbers, so that only what follows from them is held
    against the figure.
    """

    claim: str
    variant: Variant
    item: str
    figure: float
    unit: str
    model_within: float | None
    because: str
    source: str
    status: Status
    earlier: dict[str, tuple[float, str]] = field(default_factory=dict)
    mistakes: tuple[tuple[float, str], ...] = ()

    def __str__(self) -> str:
        return f"{self.status.value}: {self.source}: {self.claim}"

    def mark(self, typed: float) -> ItemMark:
        answers = {key: Given(*answer) for key, answer in self.earlier.items()} | {self.item: Given(typed, self.unit)}
        return next(result for result in mark(self.variant, answers) if result.item == self.item)


def test_the_published_answer_gets_full_marks(published: Published) -> None:
    result = published.mark(published.figure)
    follows = {Rule.FOLLOWED} if published.model_within is None else set()
    assert result.rule in {Rule.RIGHT, *follows}
    assert result.marks == result.out_of


def test_the_model_answer_lies_by_the_published_one(published_model: Published) -> None:
    model = published_model.variant.key[published_model.item].m_as(read_unit(published_model.unit))
    assert published_model.model_within is not None
    assert abs(model - published_model.figure) <= published_model.model_within, published_model.because


def test_the_usual_mistake_on_published_numbers_is_named(published: Published, typed: float, slip: str) -> None:
    result = published.mark(typed)
    keeps = {one.name: one.keeps for one in published.variant.exercise.item(published.item).slips}
    assert (result.rule, result.slip) == (Rule.SLIP, slip)
    assert result.marks == keeps[slip] < result.out_of
