"""Explain a mark: what it rests on, from the register, the record and the exercises alone. Runs and changes nothing."""

from __future__ import annotations

from collections.abc import Iterator

from exercises.model.answers import Given
from exercises.model.marking import ItemMark, Rounding, Rule, Trial, mark, trials
from exercises.model.numbers import grouped, shown, significant, with_unit
from exercises.model.parts import Choice, Chosen, Item, Numeric, Order, Watched, Written
from exercises.model.variant import SHUFFLE, Variant
from grader.marking.books import faults_of_paper
from grader.marking.record import MarkedExercise, Record, part_of
from grader.marking.records import read_record
from grader.marking.written_answers import file_of, marker_of
from grader.store.errors import GraderError
from grader.store.log import HAND_MARKS, Log
from grader.store.part_marks import item_name
from grader.store.register import Paper, Register
from grader.store.school import School
from pitside.unit_names import spelled

#: Digits of the values in an explanation: more than a page shows, so that a close call can be seen.
_DIGITS = 6
#: Said of a critical step.
MISSED = "; a critical step: missed or done after a prompt it fails the attempt"


def explain(school: School, candidate: str, part: str, sitting: str = "", attempt: int = 0) -> list[str]:
    """Lines that say how a part, or one cell of a table, got its mark; ``part`` is named as on the paper, ``2b``.

    Raises: :class:`GraderError` where there is no such candidate, part or marked paper, or several have it. ``attempt``
    is the attempt at the sitting, 0 for whichever is marked.
    """
    paper, record = marked_paper(school, candidate, part, sitting, attempt)
    lines = [f"paper {paper.id}, script {record.file}"]
    log = Log(school, only_read=True)
    lines += [f"BEWARE: {fault}" for fault in faults_of_paper(school, log, paper)]
    lines += [
        f"{entry.exercise}: marked by the scheme of version {entry.accepted.version} ({entry.accepted.digest[:8]}), "
        f"accepted after it was issued with version {entry.version} ({entry.scheme[:8]})"
        for entry in paper.entries
        if entry.accepted
    ]
    for number, (variant, marked) in enumerate(zip(paper.variants(), record.exercises, strict=True), 1):
        for item in variant.exercise.items:
            if part in (item_name(number, item.key), item_name(number, item.key.partition(".")[0])):
                sources = _sources(log, paper, item_name(number, item.key.partition(".")[0]))
                lines += ["", *_explained(number, variant, item, marked, record.rounding, sources)]
    return lines


def marked_paper(
    school: School, candidate: str, part: str, sitting: str = "", attempt: int = 0
) -> tuple[Paper, Record]:
    """The one marked paper of a candidate, who may be named by the paper's id too, that has a part, and its record.

    Raises: :class:`GraderError` where there is none, or there are several.
    """
    found = marked_papers(school, candidate, sitting, attempt)
    named = [(paper, record) for paper, record in found if part in _names(record)]
    if not named:
        names = ", ".join(dict.fromkeys(name for _, record in found for name in _names(record) if "." not in name))
        raise GraderError(f"{candidate}: no part {part!r} in a marked paper; there are: {names}")
    if len(named) > 1:
        sittings = ", ".join(dict.fromkeys(paper.sitting for paper, _ in named))
        if len({paper.sitting for paper, _ in named}) == 1:
            attempts = ", ".join(str(paper.attempt) for paper, _ in named)
            raise GraderError(
                f"{candidate}: part {part} is in more than one attempt ({attempts}); choose with --attempt"
            )
        raise GraderError(f"{candidate}: part {part} is in more than one sitting ({sittings}); choose with --sitting")
    return named[0]


def marked_papers(school: School, candidate: str, sitting: str = "", attempt: int = 0) -> list[tuple[Paper, Record]]:
    """The marked papers of a candidate, who may be named by a paper's id too, each with its record.

    Raises: :class:`GraderError` where there is none.
    """
    issued = Register(school, only_read=True).papers.values()
    papers = [paper for paper in issued if candidate in (paper.candidate, paper.id)]
    if sitting:
        papers = [paper for paper in papers if paper.sitting == school.sitting(sitting).id]
    if attempt:
        papers = [paper for paper in papers if paper.attempt == attempt]
    if not papers:
        where = f" for sitting {sitting}" if sitting else ""
        where += f" as attempt {attempt}" if attempt else ""
        raise GraderError(f"{school.register_file}: no paper was issued to {candidate!r}{where}; ids are in roster.csv")
    log = Log(school, only_read=True)
    found = [
        (paper, record.with_changes(log.changes(paper.id)))
        for paper in papers
        if (record := read_record(school, paper.id))
    ]
    if not found:
        raise GraderError(f"{school.records}: no script of {candidate} is marked; run: pitside mark {school.here}")
    return found


def part_lines(record: Record) -> Iterator[tuple[str, str, float | None, float]]:
    """Each part of a record: its name, the rules that gave its marks, the marks that count, and the most it can give.

    None stands for marks that are waited for.
    """
    for number, exercise in enumerate(record.exercises, 1):
        for part, marks in exercise.part_marks.items():
            items = [item for item in exercise.items if part_of(item) == part]
            rules = dict.fromkeys(f"{item.rule}: {item.slip}" if item.slip else str(item.rule) for item in items)
            yield item_name(number, part), "; ".join(rules), marks, sum(item.out_of for item in items)


def _names(record: Record) -> list[str]:
    """Names of all items of a paper, and of the tables that hold some of them."""
    names = []
    for number, exercise in enumerate(record.exercises, 1):
        for item in exercise.items:
            names += [item_name(number, item.item.partition(".")[0]), item_name(number, item.item)]
    return names


def _sources(log: Log, paper: Paper, part: str) -> str:
    """Where the hand marks of a part came from, as the log has it."""
    digest = file_of(log, paper.id, part)
    if digest:
        marker, who, when = marker_of(log, digest)
        return f"marked by {marker}, file {digest[:8]}, taken by {who}, {when}"
    for line in reversed(log.about(paper.id)):
        if line["what"] == HAND_MARKS and part in line.get("hand", {}):
            return f"merged from the gradebook by {line['who']}, {line['when']}"
    return ""


def _explained(
    number: int, variant: Variant, item: Item, marked: MarkedExercise, rounding: Rounding, source: str
) -> Iterator[str]:
    results = {result.item: result for result in marked.items}
    result = results[item.key]
    answers = {other.item: Given(other.value, other.unit) for other in marked.items}
    by_hand = any(hand.part == part_of(result) and hand.marks is not None for hand in marked.hand)
    yield f"{item_name(number, item.key)}: {_counts(result, marked)}, {variant.exercise.title}"
    yield f"  question      {variant.text(item.ask)}"
    drawn = [f"{name} {value}" for name, value in variant.numbers.items() if not name.startswith(SHUFFLE)]
    if drawn:
        yield f"  numbers       {', '.join(drawn)}"
    yield f"  given         {result.given or 'nothing'}"
    yield f"  model answer  {result.model}"
    match item:
        case Numeric():
            yield f"  tolerance     {_tolerance(variant, item)}: {item.tolerance.because}"
            if variant.converts(item):
                yield f"  asked unit    {spelled(variant.unit(item))} alone: converting is the question"
        case Chosen():
            for limit in item.limits:
                yield f"  limit         {limit.marks:g}: {limit.name}"
        case Choice():
            for option in item.options:
                yield f"  option {item.letter(option.key)}      {variant.text(option.text)}"
        case Order():
            for rule in item.rules:
                yield f"  must hold     {rule.first} before {rule.then}: {rule.advice}"
        case Written():
            for point in item.points:
                yield f"  point         {point.marks:g}: {point.text}"
    if variant.possible(item).is_bounded:
        without = "" if variant.stop_and_look else " (this paper is marked without the rule on it)"
        yield f"  possible      {variant.possible(item)}{without}"
    for hand in marked.hand:
        if hand.part == part_of(result):
            given = "a remark alone" if hand.marks is None else f"{hand.marks:g} marks"
            yield f"  by hand       {given}{f' ({source})' if source else ''}"
            for line in hand.comment.splitlines():
                yield f"  told          {line}"
            if hand.note:
                yield f"  BEWARE        {hand.note}"
    for change in marked.changes:
        if change.part == part_of(result):
            yield (
                f"  changed       {change.before:g} to {change.marks:g} marks for the part, {change.kind}: "
                f"{change.why} ({change.who}, {change.when})"
            )
    yield from _chain(number, item, results)
    if isinstance(item, Numeric):
        yield from _tried(variant, item, trials(variant, answers, item.key))
    ruled = "marked by hand" if result.rule is Rule.PENDING and by_hand else str(result.rule)
    if isinstance(item, Watched):
        yield f"  rule          what the observer saw{MISSED if item.must_pass else ''}"
    else:
        yield f"  rule          {ruled}{f': {result.slip}' if result.slip else ''}"
    if result.comment:
        yield f"  comment       {result.comment}"
    today = next(again for again in mark(variant, answers, rounding) if again.item == item.key)
    if (today.rule, today.marks) != (result.rule, result.marks):
        yield f"  BEWARE        worked out anew it would be {today.marks:g}, {today.rule}: mark the script again"


def _counts(result: ItemMark, marked: MarkedExercise) -> str:
    """What counts, in the words of who asks: also where a person gave the part its marks, or has still to give them."""
    part = part_of(result)
    counts = marked.part_marks[part]
    if counts is None:
        return f"waits for hand marks, {result.out_of:g} at most"
    if result.rule is Rule.PENDING:
        return f"{counts:g} of {result.out_of:g} marks"
    by_scheme = f"{result.marks:g} of {result.out_of:g} marks"
    given = any(one.part == part for one in marked.changes) or any(
        one.part == part and one.marks is not None for one in marked.hand
    )
    return f"{by_scheme} by the mark scheme, the part now has {counts:g}" if given else by_scheme


def _tolerance(variant: Variant, item: Numeric) -> str:
    unit = variant.unit(item)
    reach = f"±{with_unit(significant(item.tolerance.reach(variant.key[item.key]), 3), unit)}"
    return reach if item.tolerance.unit is not None else f"{reach} ({100 * item.tolerance.amount:g} % of the value)"


def _chain(number: int, item: Item, results: dict[str, ItemMark]) -> Iterator[str]:
    """The earlier answers that the item uses, and how each of them was marked."""
    for use in item.uses:
        earlier = results[use]
        lost = earlier.rule in (Rule.BLANK, Rule.UNREADABLE, Rule.OTHER_KIND)
        carried = "the model answer stands for it" if lost else "carried on"
        yield (
            f"  uses          {item_name(number, use)}: given {earlier.given or 'nothing'}, "
            f"model {earlier.model}, {earlier.rule}; {carried}"
        )


def _tried(variant: Variant, item: Numeric, tried: tuple[Trial, ...]) -> Iterator[str]:
    """Each value that the answer was held against, up to the one that fits; factors only where one does."""
    unit = variant.unit(item)
    fit = next((trial for trial in tried if trial.fits), None)
    factors = sum(trial.rule is Rule.FACTOR for trial in tried)
    for trial in tried:
        if trial.rule in (Rule.FACTOR, Rule.ROUNDED) and trial is not fit:
            continue
        name = ", ".join(filter(None, (_kind(trial.rule, unit), trial.name)))
        chain = f" from the own {trial.followed}" if trial.followed else ""
        distance = grouped(significant(trial.distance, 3))
        reach = significant(trial.reach, 3)
        verdict = "FITS" if trial is fit else "no"
        yield (
            f"  tried         {name}{chain}: {shown(trial.value, unit, _DIGITS)}, "
            f"off by {distance}, within {reach}: {verdict}"
        )
        if trial is fit:
            return
    if factors:
        yield f"  tried         {factors} values that are off by a known factor: none fits"


def _kind(rule: Rule, unit: str) -> str:
    """What sort of value a trial holds an answer against."""
    match rule:
        case Rule.RIGHT | Rule.FOLLOWED:
            return "right value"
        case Rule.UNIT:
            return f"right value, the number taken as {spelled(unit) or 'a bare number'}"
        case _:
            return str(rule)
