"""What a candidate's feedback page says of each exercise, part and answer, made ready for its template.

Records, since a template asks a dictionary for an attribute before it asks for a key: slow on thousands of pages.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from markupsafe import Markup

from exercises.model import Choice, Numeric, Reading, Table, Watched, Written
from exercises.model.marking import ItemMark, Rule
from exercises.model.parts import Item
from exercises.model.practice import chart_html, worked_text
from exercises.model.text import html, inline_html
from exercises.model.variant import Variant
from grader.marking.record import MarkedExercise, Record
from grader.papers.notebook import question_to_read
from grader.store.part_marks import Change, HandMark
from grader.store.register import Entry


@dataclass(frozen=True, slots=True)
class ExercisePage:
    """What a feedback page says of an exercise."""

    number: int
    title: str
    entry: Entry
    setting: Markup
    marked: MarkedExercise
    parts: list[PartPage] | list[TaskPart]


@dataclass(frozen=True, slots=True)
class PartPage:
    """What a feedback page says of a part of a paper. ``waits`` says that a person has still to mark it."""

    ask: Markup
    out_of: float
    items: list[ItemPage]
    is_table: bool
    waits: bool
    right: bool
    hand: HandMark | None
    changes: list[Change]
    worked: Markup


@dataclass(frozen=True, slots=True)
class ItemPage:
    """An answer and its mark. ``label`` names a cell of a table; ``in_words`` what was to be written."""

    mark: ItemMark
    label: Markup | str
    marks: str
    is_full: bool
    sign: str
    verdict: str
    by_person: bool
    in_words: bool


@dataclass(frozen=True, slots=True)
class TaskPart:
    """What the feedback on an observed task says of a step or a reading; ``against`` is what the observer read."""

    plain: Markup
    mark: ItemMark
    critical: bool
    advice: str
    against: str
    changes: list[Change]


def exercise_pages(
    variants: Iterable[Variant], record: Record, entries: Iterable[Entry], observed: bool
) -> Iterator[ExercisePage]:
    """The exercises of a marked paper, or the tasks of a sitting that was ``observed``, one after the other."""
    rows = zip(variants, record.exercises, entries, strict=True)
    for number, (variant, marked, entry) in enumerate(rows, 1):
        setting = Markup(html(variant.text(variant.exercise.setting)) + chart_html(variant))
        parts = list(_task_parts(variant, marked)) if observed else list(_part_pages(number, variant, marked))
        yield ExercisePage(number, variant.exercise.title, entry, setting, marked, parts)


#: What is told of a reading that is further from the observer's than it may be.
_READ_AGAIN = "Read it again: it is further from the observer's reading than it may be."


def _task_parts(variant: Variant, marked: MarkedExercise) -> Iterator[TaskPart]:
    by_item = {item.item: item for item in marked.items}
    for part in variant.exercise.parts:
        if isinstance(part, Reading):
            continue
        uses = part.uses if isinstance(part, Numeric) else ()
        observed = next((by_item[use].given for use in uses if isinstance(variant.exercise.item(use), Reading)), "")
        for item in part.items():
            yield TaskPart(
                plain=Markup(inline_html(variant.text(part.ask))),
                mark=by_item[item.key],
                critical=isinstance(part, Watched) and part.must_pass,
                advice=part.advice if isinstance(part, Watched) else _READ_AGAIN if observed else "",
                against=observed,
                changes=[change for change in marked.changes if change.part == part.key],
            )


def _part_pages(number: int, variant: Variant, marked: MarkedExercise) -> Iterator[PartPage]:
    by_item = {item.item: item for item in marked.items}
    for part in variant.exercise.parts:
        items = [_item_page(variant, item, by_item[item.key]) for item in part.items()]
        yield PartPage(
            ask=Markup(html(question_to_read(number, variant, part))),
            out_of=sum(item.marks.total for item in part.items()),
            items=items,
            is_table=isinstance(part, Table),
            waits=part.key in marked.pending,
            right=all(item.is_full for item in items),
            hand=next((hand for hand in marked.hand if hand.part == part.key), None),
            changes=[change for change in marked.changes if change.part == part.key],
            worked=Markup(html(worked_text(variant, part))),
        )


def _item_page(variant: Variant, item: Item, mark: ItemMark) -> ItemPage:
    is_full = mark.marks == mark.out_of
    is_chosen = isinstance(item, Choice) and mark.rule is Rule.SLIP
    said = "Not right" if is_chosen else mark.rule.capitalize()
    return ItemPage(
        mark=mark,
        label=Markup(inline_html(variant.text(item.ask))) if "." in item.key else "",
        marks=f"{mark.marks:g} of {mark.out_of:g}",
        is_full=is_full,
        sign="✓" if is_full else "◐" if mark.marks else "✗",
        verdict=f"{said}: {mark.slip}" if is_chosen or mark.slip else said,
        by_person=mark.rule is Rule.PENDING,
        in_words=isinstance(item, Written),
    )
