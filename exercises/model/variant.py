"""A variant: an exercise with its numbers drawn; its texts, its key, its worked solution, its scheme's digest."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeGuard, TypeVar

import pint

from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Drawn, Numbers, System, in_system, significant
from exercises.model.parts import (
    LETTERS,
    Choice,
    Chosen,
    Item,
    Known,
    Numeric,
    Order,
    Part,
    Reading,
    Seen,
    Slip,
    Solve,
    Table,
    Watched,
    Written,
    possible_for,
)
from exercises.model.possible import ANYTHING, Possible
from exercises.model.text import fill
from exercises.model.working import Line, names_of_steps, work
from pitside.errors import CalculationError
from pitside.unit_names import UnknownUnit, read_unit, spelled, spellings
from pitside.units import Quantity

#: What is worked out is nought or of a size from the first to the second. Its tolerance, factors, sums and other units
#: are then ordinary floats too; beyond lies nothing that anybody asks for, but what candidates' own answers lead to.
_SIZES = (1e-200, 1e200)

#: Significant digits with which an observer's reading is printed.
OBSERVED_DIGITS = 4

#: By numeric item, the values of its conventions and of its slips on the key.
_HeldAgainst = Mapping[str, Sequence[Sequence[float | None]]]

#: Said once to each part that asks for an order.
ANY_SAFE_ORDER = " Every order that is safe and works is right."

#: Name, in a variant's numbers, of the drawn order in which the steps of an order part are shown.
SHUFFLE = "shuffle"


@dataclass(frozen=True)
class Variant:
    """An exercise with numbers, in one unit system.

    ``stop_and_look`` is the marking rule that an answer which cannot be earns nothing, and what rests on it earns
    marks for the method alone. It is part of the mark scheme, and so of its digest.
    """

    exercise: Exercise
    system: System
    numbers: Numbers
    stop_and_look: bool = False

    def text(self, template: str | By[str]) -> str:
        """A text of the exercise with this variant's numbers in it."""
        return fill(in_system(template, self.system), self.numbers)

    def unit(self, item: Numeric | Chosen | Reading) -> str:
        """The unit that the paper asks for."""
        return in_system(item.unit, self.system)

    def converts(self, item: Item) -> TypeGuard[Numeric]:
        """Whether converting into the asked unit is what an item asks, so that no other unit will do."""
        return isinstance(item, Numeric) and bool(in_system(item.converting, self.system))

    def names_unit(self, item: Numeric | Chosen) -> bool:
        """Whether the question names the unit that it asks for, in words or as written ("in barrels", "in psi")."""
        part = next(part for part in self.exercise.parts if part.key == item.key.partition(".")[0])
        asks = (item.ask, part.ask) if isinstance(part, Table) else (item.ask,)
        unit = self.unit(item)
        words = [word for known in spellings().values() if "" not in known and read_unit(known[0]) == read_unit(unit)
                 for word in known if word.isalpha() and len(word) > 2]  # fmt: skip
        named = "|".join([rf"in {re.escape(name)}(?!\w)" for name in (spelled(unit), unit) if name] + words)
        return bool(named) and any(re.search(rf"\b(?:{named})", in_system(ask, self.system)) for ask in asks)

    def leaves_unit_open(self, item: Item) -> bool:
        """Whether the candidate has to state the unit of an answer: it earns a mark, and the question names none."""
        return isinstance(item, Numeric) and item.marks.unit > 0 and not self.names_unit(item)

    def question(self, part: Part) -> str:
        """What a part asks, in Markdown, with the one unit that it takes where converting is the question.

        Of steps it says that more orders than one can be right, or a reader would look for the one that we thought of.
        """
        units = dict.fromkeys(spelled(self.unit(item)) for item in part.items() if self.converts(item))
        insists = f" Answer in {' and '.join(units)}: converting is asked here, so another unit earns no marks."
        return self.text(part.ask) + (insists if units else "") + (ANY_SAFE_ORDER if isinstance(part, Order) else "")

    def possible(self, item: Item) -> Possible:
        """What an answer to an item can be at all."""
        return possible_for(item) if isinstance(item, Numeric | Chosen | Reading) else ANYTHING

    @cached_property
    def key(self) -> dict[str, Any]:
        """The model answer of each item: a quantity, an option's key, or a tuple of step keys."""
        answers: dict[str, Any] = {}
        for item in self.exercise.items:
            answers[item.key] = self.answer(item, answers)
        return answers

    @property
    def solved(self) -> tuple[float | str, ...]:
        """Those answers of the key that had to be worked out, as plain numbers and words, for :meth:`take_solved`."""
        return tuple(
            answer if isinstance(answer := self.key[item.key], str) else float(answer.magnitude)
            for item in self.exercise.items
            if isinstance(item, Numeric | Chosen | Choice | Reading)
        )

    @property
    def held_against(self) -> dict[str, list[list[float | None]]]:
        """What answers are held against besides the key, as plain numbers, for :meth:`take_solved`.

        By numeric item the values of its conventions and those of its slips, in order; None for what cannot be worked
        out. By choice of a value those of the offered values that keep all limits.
        """
        numeric = {item.key: self._held_against(item) for item in self.exercise.items if isinstance(item, Numeric)}
        chosen = (item for item in self.exercise.items if isinstance(item, Chosen))
        return numeric | {
            item.key: [[float(value.magnitude) for value in self.sound_values(item, self.key)]] for item in chosen
        }

    def _held_against(self, item: Numeric) -> list[list[float | None]]:
        right = self.right_values(item, self.key)
        slips = {id(slip): value for slip, value in self.slip_values(item, self.key)}  # two may have one name
        values = (
            [right.get(convention.name) for convention in item.conventions],
            [slips.get(id(slip)) for slip in self._slips(item)],
        )
        return [[None if value is None else float(value.magnitude) for value in some] for some in values]

    def take_solved(self, solved: Sequence[float | str], held_against: Callable[[], _HeldAgainst]) -> None:
        """Take what :attr:`solved` and :attr:`held_against` gave for these numbers before, not to work it out again.

        The latter is asked for when it is needed, which most commands never do.
        """
        left = iter(solved)
        answers: dict[str, Any] = {}
        for item in self.exercise.items:
            match item:
                case Numeric() | Chosen() | Reading():
                    answers[item.key] = Quantity(next(left), read_unit(self.unit(item)))
                case Choice():
                    answers[item.key] = next(left)
                case Order() | Written() | Watched():
                    answers[item.key] = self.answer(item, answers)
        self.__dict__["key"] = answers
        self.__dict__["_take_held_against"] = held_against

    @cached_property
    def _take_held_against(self) -> Callable[[], _HeldAgainst]:
        return dict

    @cached_property
    def _taken(self) -> _HeldAgainst:
        """What :meth:`take_solved` was given to hold answers against; nothing where it was not called."""
        return self._take_held_against()

    def _taken_right(self, item: Numeric) -> dict[str, pint.Quantity] | None:
        if item.key not in self._taken:
            return None
        unit = read_unit(self.unit(item))
        numbers = zip(item.conventions, self._taken[item.key][0], strict=True)
        others = {by.name: Quantity(number, unit) for by, number in numbers if number is not None}
        return {"": self.key[item.key]} | others

    def _taken_slips(self, item: Numeric) -> list[tuple[Slip, pint.Quantity]] | None:
        if item.key not in self._taken:
            return None
        unit = read_unit(self.unit(item))
        numbers = zip(self._slips(item), self._taken[item.key][1], strict=True)
        return [(slip, Quantity(number, unit)) for slip, number in numbers if number is not None]

    def known(self, item: Item, answers: Mapping[str, Any]) -> Known:
        """What an item is worked from: the numbers, and of these answers those that it uses."""
        return Known(self.numbers, {use: answers[use] for use in item.uses})

    def answer(self, item: Item, answers: Mapping[str, Any]) -> Any:
        """The model answer of an item, given answers to the items that it uses.

        Raises: CalculationError where it cannot be worked out from them.
        """
        match item:
            case Numeric():
                return self._quantity(item, item.solve, self.known(item, answers))
            case Chosen():
                return self._quantity(item, item.suggest, self.known(item, answers))
            case Choice():
                return self.sound_options(item, answers)[0]
            case Order():
                return tuple(item.steps)
            case Written():
                return self.text(item.model)
            case Watched():
                return Seen.DONE
            case Reading():
                return self._quantity(item, item.usual, self.known(item, answers))

    def _quantity(self, item: Numeric | Chosen | Reading, solve: Solve, n: Known) -> pint.Quantity:
        """What a function of the exercise gives, a real number in the asked unit.

        Raises: CalculationError where it gives none, or one of no size that is asked for.
        """

        def in_unit(n: Known) -> pint.Quantity:
            value = solve(n).to(read_unit(self.unit(item)))
            number = float(value.magnitude)
            if number and not _SIZES[0] <= abs(number) <= _SIZES[1]:
                raise CalculationError(f"it cannot be worked out from these answers: {number:.4g} would come out")
            return Quantity(number, value.units)

        return _worked(in_unit, n)

    def key_given(self, choices: Mapping[str, Any]) -> dict[str, Any]:
        """The model answers of who made these sound choices: what does not hang on one of them is as in the key.

        An answer that cannot be worked out from the choices is the key's.
        """
        answers: dict[str, Any] = {}
        for item in self.exercise.items:
            if item.key in choices:
                answers[item.key] = choices[item.key]
                continue
            try:
                answers[item.key] = self.answer(item, answers)
            except CalculationError:
                answers[item.key] = self.key[item.key]
        return answers

    def sound_options(self, item: Choice, answers: Mapping[str, Any]) -> tuple[str, ...]:
        """The options that are right given these earlier answers, the model answer's first."""
        right = _worked(item.right, self.known(item, answers))
        return (right,) if isinstance(right, str) else right

    def limits_kept(self, item: Chosen, choice: pint.Quantity, answers: Mapping[str, Any]) -> list[bool]:
        """Which limits a choice keeps, given these earlier answers; a limit that cannot be worked out is broken."""
        n = Known(self.numbers, {use: answers[use] for use in item.uses} | {item.key: choice})
        kept = []
        for limit in item.limits:
            try:
                kept.append(bool(_worked(limit.keeps, n)))
            except CalculationError:
                kept.append(False)
        return kept

    def offered(self, item: Chosen) -> list[pint.Quantity]:
        """The values that the question of a choice offers."""
        grid = in_system(item.grid, self.system)
        return [Quantity(grid.at(index), read_unit(grid.unit)) for index in range(grid.count)]

    def sound_values(self, item: Chosen, answers: Mapping[str, Any]) -> list[pint.Quantity]:
        """Those of the offered values that keep all limits."""
        if answers is self.key and item.key in self._taken:
            unit = read_unit(self.unit(item))
            return [Quantity(number, unit) for number in self._taken[item.key][0]]
        return [value for value in self.offered(item) if all(self.limits_kept(item, value, answers))]

    def right_values(self, item: Numeric, answers: Mapping[str, Any]) -> dict[str, pint.Quantity]:
        """Every value that is right given these earlier answers, by convention; the model answer is ``""``.

        A convention that cannot be worked out from these answers is left out: the model answer still counts.
        Raises: CalculationError where the model answer itself cannot be worked out from them.
        """
        if answers is not self.key:
            return self._right_values(item, answers)
        if item.key not in self._right_on_key:
            self._right_on_key[item.key] = self._taken_right(item) or self._right_values(item, self.key)
        return self._right_on_key[item.key]

    def slip_values(self, item: Numeric, answers: Mapping[str, Any]) -> list[tuple[Slip, pint.Quantity]]:
        """The wrong value of each slip given these earlier answers; a slip that cannot be worked out is left out."""
        if answers is not self.key:
            return self._slip_values(item, answers)
        if item.key not in self._slips_on_key:
            taken = self._taken_slips(item)
            self._slips_on_key[item.key] = self._slip_values(item, self.key) if taken is None else taken
        return self._slips_on_key[item.key]

    @cached_property
    def _right_on_key(self) -> dict[str, dict[str, pint.Quantity]]:
        """The right values on the key, by item: every answer is held against them."""
        return {}

    @cached_property
    def _slips_on_key(self) -> dict[str, list[tuple[Slip, pint.Quantity]]]:
        """The slips on the key, by item."""
        return {}

    def _right_values(self, item: Numeric, answers: Mapping[str, Any]) -> dict[str, pint.Quantity]:
        n = self.known(item, answers)
        values = {"": self.key[item.key] if answers is self.key else self.answer(item, answers)}
        for convention in item.conventions:
            try:
                values[convention.name] = self._quantity(item, convention.value, n)
            except UnknownUnit:
                raise
            except CalculationError:
                continue
        return values

    def _slips(self, item: Numeric) -> list[Slip]:
        """The slips of an item that can be made in this unit system."""
        return [slip for slip in item.slips if slip.only in (None, self.system)]

    def _slip_values(self, item: Numeric, answers: Mapping[str, Any]) -> list[tuple[Slip, pint.Quantity]]:
        n = self.known(item, answers)
        values = []
        for slip in self._slips(item):
            try:
                values.append((slip, self._quantity(item, slip.wrong, n)))
            except UnknownUnit:
                raise
            except CalculationError:
                continue
        return values

    def shown_steps(self, order: Order) -> dict[str, str]:
        """The steps of an order part as the paper shows them: letter to step key, shuffled as drawn."""
        drawn = str(self.numbers[f"{SHUFFLE}.{order.key}"])
        return dict(zip(LETTERS, drawn.split(","), strict=False))

    def shown_answer(self, item: Item, answer: Any) -> str:
        """An answer in the form in which the paper asks for it."""
        match item:
            case Numeric() | Chosen() | Reading():
                return f"{self._printed(item, answer)}"
            case Choice():
                return item.letter(answer)
            case Order():
                letters = {step: letter for letter, step in self.shown_steps(item).items()}
                return "".join(letters[step] for step in answer)
            case Written() | Watched():
                return str(answer)

    def given_answer(self, item: Item, answer: Any) -> tuple[float | str, str]:
        """An answer as a candidate would type it: value and unit."""
        if isinstance(item, Numeric | Chosen | Reading):
            unit = self.unit(item)
            return float(significant(float(answer.to(read_unit(unit)).magnitude), 6)), unit
        if isinstance(item, Watched):
            return Seen(answer).letter, ""
        return self.shown_answer(item, answer), ""

    def working(self, item: Numeric) -> list[Line]:
        """The worked solution of an item, from the printed numbers and from what the lines of earlier parts gave.

        A line that takes up an earlier result takes it as it was printed, or a reader would look for the difference.
        """
        if item.key in self._workings:
            return self._workings[item.key]
        names: dict[str, Drawn | str] = dict(self.numbers)
        wanted = names_of_steps(item.working)
        for other in self.exercise.items:
            if other.key == item.key:
                break
            if isinstance(other, Numeric | Chosen) and other.key in wanted:
                names[other.key] = self._carried(other)
        self._workings[item.key] = work(item.working, names, item.unit, self.system)
        return self._workings[item.key]

    @cached_property
    def _workings(self) -> dict[str, list[Line]]:
        return {}

    def _carried(self, item: Numeric | Chosen) -> Drawn:
        """What a later sum takes for an earlier answer: the last line of its working where it has one."""
        return self.working(item)[-1].value if isinstance(item, Numeric) and item.working else self.printed_answer(item)

    def printed_answer(self, item: Numeric | Chosen) -> Drawn:
        """The model answer of an item, rounded as pages print it."""
        return self._printed(item, self.key[item.key])

    def _printed(self, item: Numeric | Chosen | Reading, answer: pint.Quantity) -> Drawn:
        """An answer rounded to its significant digits; a count has no decimals, a choice those that it is offered with.

        A choice of another value than the offered ones is printed as it is.
        """
        unit = self.unit(item)
        value = float(answer.to(read_unit(unit)).magnitude)
        if isinstance(item, Chosen):
            decimals = in_system(item.grid, self.system).decimals
            if abs(round(value, decimals) - value) <= 1e-9 * abs(value):
                return Drawn(round(value, decimals), unit, decimals)
        elif isinstance(item, Numeric) and item.whole and value == round(value):
            return Drawn(value, unit, 0)
        digits = significant(value, OBSERVED_DIGITS if isinstance(item, Reading) else item.digits)
        return Drawn(float(digits), unit, len(digits.partition(".")[2]))

    @cached_property
    def scheme_digest(self) -> str:
        """A digest of what this variant's mark scheme says: it changes when a mark could change.

        It covers the version, the marks, the right values and slips worked out for these numbers, the tolerances,
        and the follow-through of one other earlier answer, so a change in ``pitside`` shows as well.
        """
        scheme = [self.exercise.id, self.exercise.version]
        other = {key: value * 1.1 if isinstance(value, pint.Quantity) else value for key, value in self.key.items()}
        for item in self.exercise.items:
            scheme.append([item.key, [item.marks.value, item.marks.unit, item.marks.followed], list(item.uses)])
            if self.converts(item):
                scheme.append(["converting", self.unit(item)])
            if self.stop_and_look and (possible := self.possible(item)).is_bounded:
                scheme.append(
                    ["possible", *(bound if bound is None else f"{bound:.9g}" for bound in possible.bounds())]
                )
            if isinstance(item, Numeric):
                scheme.append([item.tolerance.amount, item.tolerance.unit])
                for answers in (self.key, other) if item.uses else (self.key,):
                    scheme.append(self._scheme_values(item, answers))
            else:
                scheme.append(self.shown_answer(item, self.key[item.key]))
            if isinstance(item, Numeric) and item.on_the_way:
                scheme.append(item.method_marks)
            if isinstance(item, Chosen):
                scheme += [[limit.marks for limit in item.limits], self._limits_by_value(item)]
            if isinstance(item, Choice):
                scheme += [[option.key for option in item.options], self._followed_choice(item, other)]
                if len(sound := self.sound_options(item, self.key)) > 1:
                    scheme.append(list(sound))
            if isinstance(item, Written):
                scheme.append([[point.text, point.marks] for point in item.points])
            if isinstance(item, Watched):
                scheme.append([item.prompted, item.must_pass])
            if isinstance(item, Order):
                scheme.append([[rule.first, rule.then] for rule in item.rules])
        return hashlib.sha256(json.dumps(scheme, sort_keys=True).encode()).hexdigest()

    def _limits_by_value(self, item: Chosen) -> list[list[bool]]:
        return [self.limits_kept(item, value, self.key) for value in self.offered(item)]

    def _followed_choice(self, item: Choice, answers: Mapping[str, Any]) -> str:
        try:
            return str(self.answer(item, answers))
        except CalculationError:
            return ""

    def _scheme_values(self, item: Numeric, answers: Mapping[str, Any]) -> list[list[Any]]:
        try:
            right = self.right_values(item, answers)
        except CalculationError:
            right = {}
        values: list[list[Any]] = [[name, _rounded(value)] for name, value in right.items()]
        return values + [[slip.name, _rounded(value), slip.keeps] for slip, value in self.slip_values(item, answers)]


T = TypeVar("T")


def _worked(function: Callable[[Known], T], n: Known) -> T:
    """What a function of an exercise gives from what is known.

    An exercise is written for sensible numbers, and is asked with whatever candidates answered: noughts, huge numbers,
    options that its tables do not know. Where it stumbles, the answer cannot be worked out from those; a function that
    stumbles over the model's own answers is found when the exercise is checked.
    Raises: CalculationError, saying how it stumbled.
    """
    try:
        return function(n)
    except CalculationError:
        raise
    except (ArithmeticError, LookupError, TypeError, ValueError) as error:
        raise CalculationError(
            f"it cannot be worked out from these answers ({type(error).__name__}: {error})"
        ) from error


def _rounded(value: pint.Quantity) -> str:
    """Nine digits: beyond what marking sees, within what every machine's arithmetic agrees on."""
    return f"{float(value.to_base_units().magnitude):.9g}"
