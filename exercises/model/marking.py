"""Mark the answers to one variant: pure, from the mark scheme and the given answers alone.

Each item is tried against the rules of :class:`Rule` from the top; the first that fits gives the mark. A later part
is held against the model answers of earlier parts and against the candidate's own (follow-through).

Where a variant's scheme says so (``stop_and_look``), an answer that cannot be earns nothing for itself, also where it
follows from an earlier one; what rests on it earns the marks of answers on the way and half of its own, for the
method. A right answer is right, a known slip keeps its advice, and a wrong unit costs the unit's mark as ever.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import pint

from exercises.model.answers import Given, UnreadableAnswer, read_number
from exercises.model.numbers import grouped, significant, with_unit
from exercises.model.parts import Choice, Chosen, Item, Numeric, Order, Reading, Seen, Slip, Watched, Written
from exercises.model.variant import Variant
from pitside.errors import CalculationError
from pitside.unit_names import UnknownUnit, kind_of, read_unit, spelled
from pitside.units import Quantity, ureg


class Rule(enum.StrEnum):
    """Why an item got its mark."""

    BLANK = "no answer"
    UNREADABLE = "answer could not be read"
    OTHER_KIND = "unit of another kind"
    RIGHT = "right"
    FOLLOWED = "right by follow-through"
    UNIT = "right number, wrong unit"
    NOT_CONVERTED = "right, but not in the asked unit"
    SLIP = "known slip"
    SIGN = "sign turned round"
    FACTOR = "right but for a factor"
    ROUNDED = "right but rounded too far"
    PARTLY = "partly right"
    PENDING = "to be marked by hand"
    IMPOSSIBLE = "an answer that cannot be"
    WRONG = "wrong"
    NOTED = "noted"
    NOT_OBSERVED = "not observed"


#: The rules of answers that are known to be wrong and nothing more.
UNEXPLAINED = (Rule.WRONG, Rule.IMPOSSIBLE)


@dataclass(frozen=True)
class ItemMark:
    """The mark of one item, what it rests on, and what to tell the candidate beyond the rule's own words."""

    item: str
    rule: Rule
    marks: float
    out_of: float
    given: str
    model: str
    comment: str
    slip: str = ""
    #: The answer itself as it came, from which the mark can be worked out again.
    value: float | str | None = None
    unit: str = ""


@dataclass(frozen=True)
class Trial:
    """A value that an answer was held against: both in the asked unit, with the rule that applies if they agree.

    ``name`` is that of the convention, slip or factor, empty for the model answer itself; ``followed`` names the
    candidate's own wrong answers that the value is worked from, and ``reach`` is how far the answer may lie from it.
    """

    rule: Rule
    name: str
    reading: pint.Quantity
    value: pint.Quantity
    reach: float
    followed: str = ""
    slip: Slip | None = None

    @property
    def distance(self) -> float:
        """From the value to the answer, in the asked unit."""
        return float(self.reading.magnitude) - float(self.value.magnitude)

    @property
    def fits(self) -> bool:
        """Within the tolerance, and a hair more, so that an answer on the very edge is in on every machine."""
        return math.isfinite(self.distance) and abs(self.distance) <= self.reach * (1 + 1e-9)


class Rounding(enum.StrEnum):
    """What an answer earns that is the right one, rounded to so few figures that it leaves the tolerance."""

    NO_MARKS = "no marks"
    HALF_MARKS = "half marks"
    FULL_MARKS = "full marks"


@dataclass(frozen=True)
class Factor:
    """A number that answers are often wrong by, in either direction, and where it comes from."""

    name: str
    times: float


def _units_in(unit: str, of: str) -> float:
    return float(Quantity(1, read_unit(of)).m_as(read_unit(unit)))


#: The factors that any answer may be off by, besides the slips of its own part. Common practice, no source.
FACTORS = (
    Factor("gallons in a barrel", _units_in("gal", of="bbl")),
    Factor("gallons in a cubic foot", _units_in("gal", of="ft3")),
    Factor("lb/gal in the weight of water", _units_in("lb/gal", of="SG")),
    Factor("minutes in an hour, or seconds in a minute", _units_in("min", of="h")),
    Factor("inches in a foot", _units_in("in", of="ft")),
    Factor("a thousand, as litres in a cubic metre or grams in a kilogram", _units_in("g", of="kg")),
    Factor("litres in a gallon", _units_in("L", of="gal")),
    Factor("feet in a metre", _units_in("ft", of="m")),
    Factor("two, as of diameter and radius", 2.0),
    Factor("four, as of the squares of diameter and radius", 4.0),
    Factor("a hundred, as of percent and fraction", _units_in("%", of="fraction")),
    Factor("ten, a decimal place", 10.0),
)

#: A tolerance wider than this share of the right value tells no factor from another, and none is looked for.
_WIDEST_FOR_FACTORS = 0.05


#: Figures of an answer from which on it is no rounding of the right one, but another number.
_MOST_ROUNDED_FIGURES = 3


def mark(
    variant: Variant, answers: Mapping[str, Given], rounding: Rounding = Rounding.NO_MARKS
) -> tuple[ItemMark, ...]:
    """Mark every item of a variant; items without an answer are blank.

    Never raises for anything in ``answers``: what cannot be read is marked so, with the reason in the comment, and
    where nothing can be worked out from an answer, later parts are marked as though it were blank.
    """
    with _own_numbers():
        return _with_method_marks(variant, [result for _, _, result in _walk(variant, answers, rounding)])


def _own_numbers() -> np.errstate:
    """NumPy warns of nothing while candidates' own numbers are worked with.

    Whatever size they are of, what comes out is no fault of anybody's: :class:`Variant` lets nothing pass that is not
    finite.
    """
    return np.errstate(divide="ignore", over="ignore", invalid="ignore")


def mark_alone(variant: Variant, key: str, given: Given) -> ItemMark:
    """The mark of one item in a script that leaves the rest blank: as :func:`mark` gives it, at a part of the cost."""
    item = variant.exercise.item(key)
    with _own_numbers():
        result, _ = _mark_item(variant, item, given, [_Chain(variant.key)], Rounding.NO_MARKS)
    if isinstance(item, Numeric) and item.on_the_way:
        return next(each for each in mark(variant, {key: given}) if each.item == key)
    return result


def _with_method_marks(variant: Variant, results: list[ItemMark]) -> tuple[ItemMark, ...]:
    """The marks with those of answers on the way, of which a part gets no more than its own answer has left."""
    left = {result.item: result.out_of - result.marks for result in results}
    marked = []
    for result in results:
        item = variant.exercise.item(result.item)
        if isinstance(item, Numeric) and item.on_the_way and result.rule in (Rule.RIGHT, Rule.FOLLOWED):
            part = item.key.partition(".")[0]
            earned = min(item.method_marks, left[part])
            left[part] -= earned
            says = "It earns a mark for the method." if earned else "Its marks are in the part's own answer."
            result = replace(result, marks=earned, comment=f"{result.comment} {says}".strip())
        marked.append(result)
    return tuple(marked)


def trials(variant: Variant, answers: Mapping[str, Given], key: str) -> tuple[Trial, ...]:
    """Everything that the answer to one numeric item is held against, in the order in which it is tried.

    The first that fits gives the mark. Empty where the item is no number or its answer could not be read as one.
    """
    for item, chains, _ in _walk(variant, answers, Rounding.NO_MARKS):
        if item.key == key and isinstance(item, Numeric):
            try:
                read = _read(answers.get(key, Given(None)), read_unit(variant.unit(item)))
            except (UnreadableAnswer, UnknownUnit):
                return ()
            with _own_numbers():
                return tuple(_trials(variant, item, read, chains))
    return ()


class _Chain(NamedTuple):
    """Earlier answers that an item is marked on: the model's, or the candidate's own where there are such.

    ``followed`` names the parts whose own answers were wrong; ``rests`` says whether one of them cannot be, or rests
    on one that cannot.
    """

    answers: Mapping[str, Any]
    followed: str = ""
    rests: bool = False

    def earned(self, marks: float) -> float:
        """What an answer that is worked from the chain earns of these marks: half, for the method, if it rests."""
        return half(marks) if self.rests else marks

    @property
    def says(self) -> str:
        return "Marks for the method alone, since an answer that it rests on cannot be. " if self.rests else ""


def _walk(
    variant: Variant, answers: Mapping[str, Given], rounding: Rounding
) -> Iterator[tuple[Item, list[_Chain], ItemMark]]:
    """Each item with the earlier answers that it is marked on, and its mark.

    Once a candidate has made a sound choice of another kind than the model's, the model answers are those that follow
    from it.
    """
    own: dict[str, Any] = {}
    wrong: set[str] = set()
    resting: set[str] = set()
    choices: dict[str, Any] = {}
    unseen: set[str] = set()
    key: Mapping[str, Any] = variant.key
    for item in variant.exercise.items:
        chains = list(_chains(key, item, own, wrong, resting))
        result, answer = _mark_item(variant, item, answers.get(item.key, Given(None)), chains, rounding)
        if (isinstance(item, Reading) and result.rule is not Rule.NOTED) or unseen.intersection(item.uses):
            result, answer = _not_observed(result), None
            unseen.add(item.key)
        if answer is not None:
            own[item.key] = answer
        if result.rule not in (Rule.RIGHT, Rule.NOT_CONVERTED, Rule.NOTED, Rule.NOT_OBSERVED):
            wrong.add(item.key)
            if chains[-1].rests or (variant.stop_and_look and cannot_be(variant, result)):
                resting.add(item.key)
        elif isinstance(item, Choice | Chosen | Reading) and answer is not None and answer != key[item.key]:
            choices[item.key] = answer
            key = variant.key_given(choices)
        yield item, chains, result


def _mark_item(
    variant: Variant, item: Item, given: Given, chains: list[_Chain], rounding: Rounding
) -> tuple[ItemMark, Any]:
    """The item's mark and the candidate's answer as later parts use it (None: none that can be used)."""
    key = chains[0].answers
    model = variant.shown_answer(item, key[item.key])

    def result(rule: Rule, marks: float, comment: str, slip: str = "") -> ItemMark:
        total, unit = item.marks.total, given.unit if given.value is not None else ""
        return ItemMark(item.key, rule, marks, total, str(given), model, comment, slip, given.value, unit)

    if isinstance(item, Watched):
        return _mark_watched(item, given, result), None
    if given.value is None or (isinstance(given.value, str) and not given.value.strip()):
        return result(Rule.BLANK, 0, ""), None
    match item:
        case Numeric():
            return _mark_number(variant, item, given, chains, rounding, result)
        case Chosen():
            return _mark_chosen(variant, item, given, chains, result)
        case Choice():
            return _mark_choice(variant, item, given, chains, result)
        case Order():
            return _mark_order(variant, item, given, result)
        case Written():
            return result(Rule.PENDING, 0, ""), None
        case Reading():
            return _mark_reading(variant, item, given, result)


def _mark_watched(item: Watched, given: Given, result: Any) -> ItemMark:
    said = Seen.NOT_OBSERVED if given.value is None else Seen.of_letter(given.text)
    match said:
        case Seen.DONE:
            marked = result(Rule.RIGHT, item.marks.value, "")
        case Seen.PROMPTED:
            marked = result(Rule.PARTLY, item.prompted, "Done after a prompt.", "needed a prompt")
        case Seen.NOT_DONE:
            marked = result(Rule.SLIP, 0, item.advice, "not done")
        case Seen.NOT_OBSERVED:
            marked = _not_observed(result(Rule.NOT_OBSERVED, 0, ""))
        case None:
            letters = ", ".join(f"{seen.letter} ({seen})" for seen in Seen)
            return result(Rule.UNREADABLE, 0, f"Answer with one letter: {letters}.")  # type: ignore[no-any-return]
    return replace(marked, given=str(said))


def _not_observed(result: ItemMark) -> ItemMark:
    """The mark of what nobody saw: it counts neither for nor against the candidate."""
    return replace(result, rule=Rule.NOT_OBSERVED, marks=0, out_of=0, comment="Not observed: it does not count.")


def _mark_reading(variant: Variant, item: Reading, given: Given, result: Any) -> tuple[ItemMark, Any]:
    asked = variant.unit(item)
    try:
        read = _read(given, read_unit(asked))
    except (UnreadableAnswer, UnknownUnit) as error:
        return result(Rule.UNREADABLE, 0, _sentence(error) + " Nothing was recorded for it."), None
    if not read.meant:
        return result(Rule.OTHER_KIND, 0, _of_another_kind(given.named_unit, asked)), None
    return result(Rule.NOTED, 0, "The observer's own reading."), read.meant[0]


def _chains(
    key: Mapping[str, Any], item: Item, own: Mapping[str, Any], wrong: set[str], resting: set[str]
) -> Iterator[_Chain]:
    """The earlier answers to mark an item on, with the parts followed through: the model's, then the own ones.

    Own answers that were right count as right however they were rounded, so following them is named only where one
    of them was wrong.
    """
    yield _Chain(key)
    used = [use for use in item.uses if use in own]
    if used:
        parts = dict.fromkeys(use.partition(".")[0] for use in used if use in wrong)
        followed = ", ".join(f"({part})" for part in parts)
        yield _Chain({**key, **own}, followed, any(use in resting for use in used))


class _Read(NamedTuple):
    """An answer as a number, its unit where one was given, and what it can mean in the asked unit.

    ``meant`` is empty where the unit is of another kind.
    """

    number: float
    unit: pint.Unit | None
    meant: list[pint.Quantity]


def _read(given: Given, asked: pint.Unit) -> _Read:
    """A number to hold against values, finite in the asked unit too. Raises: UnreadableAnswer, UnknownUnit."""
    number = read_number(given.value if given.value is not None else "")
    unit = read_unit(given.unit) if given.unit.strip() else None
    meant = _readings(number, unit, asked)
    if not all(math.isfinite(reading.magnitude) for reading in meant):
        raise UnreadableAnswer(f"{given} is too large to be an answer")
    return _Read(number, unit, meant)


def _mark_number(
    variant: Variant, item: Numeric, given: Given, chains: list[_Chain], rounding: Rounding, result: Any
) -> tuple[ItemMark, Any]:
    asked = variant.unit(item)
    try:
        read = _read(given, read_unit(asked))
    except (UnreadableAnswer, UnknownUnit) as error:
        return result(Rule.UNREADABLE, 0, _sentence(error) + " Nothing was recorded for it."), None
    number, unit, meant = read
    fit = next((trial for trial in _trials(variant, item, read, chains) if trial.fits), None)
    warning = _warning(variant, item, meant[0]) if meant and variant.stop_and_look else ""
    if fit is None:
        if meant and warning:
            return result(Rule.IMPOSSIBLE, 0, warning), meant[0]
        if meant:
            return result(Rule.WRONG, 0, "It fits no usual slip; compare it with the worked solution."), meant[0]
        return result(Rule.OTHER_KIND, 0, _of_another_kind(given.named_unit, asked)), None
    chain = chains[-1] if fit.followed else chains[0]
    value_marks = chain.earned(item.marks.followed) if fit.followed else item.marks.value
    unit_marks = item.marks.unit if unit is not None else 0
    converted = not variant.converts(item) or unit is None or _is_same(unit, asked)
    if not converted and fit.rule in (Rule.RIGHT, Rule.FOLLOWED, Rule.ROUNDED):
        carried = f"It follows rightly from your own answer to {fit.followed}. " if fit.followed else ""
        comment = (
            f"{carried}Answer in {spelled(asked)}: converting was the question, "
            f"and {given.named_unit} is not converted."
        )
        return result(Rule.NOT_CONVERTED, 0, comment), fit.reading
    match fit.rule:
        case Rule.FOLLOWED if warning:
            comment = (
                f"It follows rightly from your own answer to {fit.followed}, but look at it: {_as_clause(warning)}"
            )
            return result(Rule.IMPOSSIBLE, 0, comment), fit.reading
        case Rule.RIGHT | Rule.FOLLOWED:
            taken = f"No unit was given; it was taken as {spelled(asked)}."
            missing = taken if unit is None and item.marks.unit else ""
            carried = f"It follows rightly from your own answer to {fit.followed}. {chain.says}" if fit.followed else ""
            return result(fit.rule, value_marks + unit_marks, (carried + missing).strip()), fit.reading
        case Rule.UNIT:
            assert unit is not None
            comment = _unit_comment(number, given.named_unit, unit, asked)
            return result(fit.rule, value_marks if item.marks.unit else 0, comment), fit.reading
        case Rule.SLIP:
            assert fit.slip is not None
            where = f" (worked from your own answer to {fit.followed})" if fit.followed else ""
            comment = f"{variant.text(fit.slip.advice)}{where} {warning}".strip()
            kept = 0 if warning or not converted else chain.earned(min(fit.slip.keeps, item.marks.value))
            return result(fit.rule, kept, comment, fit.slip.name), fit.reading
        case Rule.FACTOR:
            where = f", worked from your own answer to {fit.followed}" if fit.followed else ""
            comment = f"The answer is {fit.name}{where}: look through the conversions and powers of ten. {warning}"
            return result(fit.rule, 0, comment.strip(), fit.name), fit.reading
        case Rule.ROUNDED:
            comment = f"The answer is {fit.name}: give more figures, so that it can be told from its neighbours."
            return result(fit.rule, _rounded_marks(rounding, value_marks), comment), fit.reading
        case _:
            return result(
                fit.rule, 0, f"The size is right but the sign is turned round. {warning}".strip()
            ), fit.reading


def half(marks: float) -> float:
    """Half of some marks, down to a half mark."""
    return math.floor(marks) / 2


def _is_same(unit: pint.Unit, asked: str) -> bool:
    """Whether a unit is the asked one, by whatever name: one of it is one of that."""
    other = read_unit(asked)
    return unit.dimensionality == other.dimensionality and math.isclose(float((1 * unit).m_as(other)), 1, rel_tol=1e-9)


def _warning(variant: Variant, item: Numeric | Chosen, reading: pint.Quantity) -> str:
    """What to tell who gave what cannot be; empty where it can."""
    possible = variant.possible(item)
    return "" if possible.holds(reading) else possible.warning


def _as_clause(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def cannot_be(variant: Variant, given: ItemMark) -> str:
    """What to tell who gave an answer that cannot be; empty where it can be, is no number, or counts as right.

    It asks nothing of the marking rule, so it tells of papers that are marked without it too.
    """
    item = variant.exercise.item(given.item)
    if given.rule in _SEEN_AS_RIGHT or given.value is None or not isinstance(item, Numeric | Chosen):
        return ""
    try:
        meant = _read(Given(given.value, given.unit), read_unit(variant.unit(item))).meant
    except (UnreadableAnswer, UnknownUnit):
        return ""
    return _warning(variant, item, meant[0]) if meant else ""


#: Rules of answers in which the right value was seen, whatever their unit and figures say.
_SEEN_AS_RIGHT = (Rule.RIGHT, Rule.UNIT, Rule.NOT_CONVERTED, Rule.ROUNDED)


def _rounded_marks(rounding: Rounding, value_marks: float) -> float:
    match rounding:
        case Rounding.NO_MARKS:
            return 0
        case Rounding.HALF_MARKS:
            return half(value_marks)
        case Rounding.FULL_MARKS:
            return value_marks


def _readings(number: float, unit: pint.Unit | None, asked: pint.Unit) -> list[pint.Quantity]:
    """What the answer can mean, in the asked unit; nothing where its unit is of another kind."""
    if unit is None:
        bare = [Quantity(number, ureg.dimensionless).to(asked)] if asked.dimensionless else []
        return [Quantity(number, asked), *bare]
    return [Quantity(number, unit).to(asked)] if unit.dimensionality == asked.dimensionality else []


def _trials(variant: Variant, item: Numeric, read: _Read, chains: list[_Chain]) -> Iterator[Trial]:
    asked = read_unit(variant.unit(item))
    number, unit, readings = read
    as_asked = Quantity(number, asked)
    right = [(_right_values(variant, item, chain.answers), chain.followed) for chain in chains[:1]]

    def rights() -> Iterator[tuple[list[tuple[str, pint.Quantity]], str]]:
        """The right values of each chain, worked out when they are first asked for."""
        for at, chain in enumerate(chains):
            if at == len(right):
                right.append((_right_values(variant, item, chain.answers), chain.followed))
            yield right[at]

    for reading in readings:
        for values, followed in rights():
            rule = Rule.FOLLOWED if followed else Rule.RIGHT
            for name, value in values:
                yield Trial(rule, name, reading, value, item.tolerance.reach(value), followed)
    if unit is not None:
        for values, followed in rights():
            for name, value in values:
                yield Trial(Rule.UNIT, name, as_asked, value, item.tolerance.reach(value), followed)
    if not readings:
        return
    reading = readings[0]
    for chain in chains:
        for slip, value in variant.slip_values(item, chain.answers):
            yield Trial(Rule.SLIP, slip.name, reading, value, item.tolerance.reach(value), chain.followed, slip)
    for name, value in right[0][0]:
        turned = Quantity(-float(value.magnitude), value.units)
        yield Trial(Rule.SIGN, name, reading, turned, item.tolerance.reach(value))
    for values, followed in rights():
        for _, value in values:
            yield from _factor_trials(item, reading, value, followed)
    for values, followed in rights():
        for _, value in values:
            yield from _rounded_trial(number, unit or asked, value, followed)


def _right_values(variant: Variant, item: Numeric, answers: Mapping[str, Any]) -> list[tuple[str, pint.Quantity]]:
    try:
        return list(variant.right_values(item, answers).items())
    except CalculationError:
        return []


def tells_factors(item: Numeric, right: pint.Quantity) -> bool:
    """Whether the tolerance around a right value is narrow enough to say of a wrong one that it is off by a factor."""
    size = abs(float(right.magnitude))
    return size > 0 and item.tolerance.reach(right) <= _WIDEST_FOR_FACTORS * size


def _factor_trials(item: Numeric, reading: pint.Quantity, right: pint.Quantity, followed: str) -> Iterator[Trial]:
    """The right value times and over each factor, nearest first: where two factors are close, the closer one counts."""
    if not tells_factors(item, right):
        return
    reach = item.tolerance.reach(right)
    found = []
    for factor in FACTORS:
        large, small = max(factor.times, 1 / factor.times), min(factor.times, 1 / factor.times)
        for times, way in ((large, "large"), (small, "small")):
            name = f"too {way} by a factor of {large:.4g} ({factor.name})"
            value = Quantity(float(right.magnitude) * times, right.units)
            found.append(Trial(Rule.FACTOR, name, reading, value, reach * times, followed))
    yield from sorted(found, key=lambda trial: abs(trial.distance) / abs(float(trial.value.magnitude)))


def _rounded_trial(number: float, unit: pint.Unit, right: pint.Quantity, followed: str) -> Iterator[Trial]:
    """The right value rounded to as few figures as the answer was given with, in the answer's own unit."""
    figures = len(f"{number:e}".partition("e")[0].strip("-").replace(".", "").rstrip("0"))
    if not 1 <= figures <= _MOST_ROUNDED_FIGURES:
        return
    exact = float(right.to(unit).magnitude)
    if not math.isfinite(exact) or not exact:
        return
    rounded = float(f"{exact:.{figures - 1}e}")
    value = Quantity(rounded, unit).to(right.units)
    reach = abs(float(value.magnitude)) * 1e-9
    reading = Quantity(number, unit).to(right.units)
    yield Trial(Rule.ROUNDED, f"right, but rounded to {_figures(figures)}", reading, value, reach, followed)


def _figures(count: int) -> str:
    return "one figure" if count == 1 else f"{count} figures"


def _sentence(error: Exception) -> str:
    text = str(error)
    return text if text.endswith((".", "?")) else f"{text}."


def _of_another_kind(unit: str, asked: str) -> str:
    wanted = f"{kind_of(asked)}, such as {spelled(asked)}"
    return f"{unit} measures {kind_of(unit)}; the question asks for {wanted}."


def _unit_comment(number: float, text: str, unit: pint.Unit, asked: str) -> str:
    right = with_unit(grouped(significant(number, 6)), asked)
    if unit.dimensionality == read_unit(asked).dimensionality:
        return f"The number is right in {spelled(asked)}, but you gave it in {text}. It should read {right}."
    return f"The number is right, but {text} measures {kind_of(unit)}; it should read {right}, {kind_of(asked)}."


def _mark_chosen(
    variant: Variant, item: Chosen, given: Given, chains: list[_Chain], result: Any
) -> tuple[ItemMark, Any]:
    """A choice earns the marks of each limit that it keeps, on whichever earlier answers keep it best."""
    asked = variant.unit(item)
    try:
        read = _read(given, read_unit(asked))
    except (UnreadableAnswer, UnknownUnit) as error:
        return result(Rule.UNREADABLE, 0, _sentence(error) + " Nothing was recorded for it."), None
    if not read.meant:
        return result(Rule.OTHER_KIND, 0, _of_another_kind(given.named_unit, asked)), None
    choice = read.meant[0]
    warning = _warning(variant, item, choice) if variant.stop_and_look else ""
    if warning:
        return result(Rule.IMPOSSIBLE, 0, warning), choice
    best: tuple[float, list[bool], _Chain] | None = None
    for chain in chains:
        kept = variant.limits_kept(item, choice, chain.answers)
        marks = chain.earned(sum(limit.marks for limit, keeps in zip(item.limits, kept, strict=True) if keeps))
        if best is None or marks > best[0]:
            best = marks, kept, chain
    assert best is not None
    marks, kept, chain = best
    broken = [limit for limit, keeps in zip(item.limits, kept, strict=True) if not keeps]
    if not broken:
        if chain.followed:
            comment = f"It fits your own answer to {chain.followed}. {chain.says}".strip()
            return result(Rule.FOLLOWED, marks, comment), choice
        return result(Rule.RIGHT, marks, ""), choice
    comment = " ".join(variant.text(limit.advice) for limit in broken)
    return result(Rule.PARTLY if marks else Rule.SLIP, marks, comment, broken[0].name), choice


def _mark_choice(
    variant: Variant, item: Choice, given: Given, chains: list[_Chain], result: Any
) -> tuple[ItemMark, Any]:
    letters = {item.letter(option.key): option for option in item.options}
    option = letters.get(given.text.strip().strip("().").upper())
    if option is None:
        return result(Rule.UNREADABLE, 0, f"Answer with one letter, {', '.join(letters)}."), None
    for chain in chains:
        try:
            sound = variant.sound_options(item, chain.answers)
        except CalculationError:
            continue
        if option.key in sound:
            if chain.followed:
                comment = f"It follows rightly from your own answer to {chain.followed}. {chain.says}".strip()
                return result(Rule.FOLLOWED, chain.earned(item.marks.followed), comment), option.key
            return result(Rule.RIGHT, item.marks.value, ""), option.key
    advice = variant.text(option.advice)
    return result(Rule.SLIP, 0, advice, f"option {item.letter(option.key)}"), option.key


def _mark_order(variant: Variant, item: Order, given: Given, result: Any) -> tuple[ItemMark, Any]:
    steps = variant.shown_steps(item)
    letters = [letter for letter in given.text.upper() if letter.isalpha()]
    if sorted(letters) != sorted(steps):
        return result(Rule.UNREADABLE, 0, f"Answer with each of the letters {''.join(steps)} once, in order."), None
    order = tuple(steps[letter] for letter in letters)
    broken = item.broken(order)
    if not broken:
        return result(Rule.RIGHT, item.marks.value, ""), order
    lost = math.ceil(2 * item.marks.value * len(broken) / len(item.rules)) / 2
    kept = max(0.0, item.marks.value - lost)
    comment = " ".join(rule.advice for rule in broken)
    slip = f"{broken[0].then} before {broken[0].first}"
    return result(Rule.PARTLY if kept else Rule.SLIP, kept, comment, slip), order
