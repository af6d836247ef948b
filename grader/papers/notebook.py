"""Write a paper as a notebook. Nothing of the mark scheme goes into it."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import re
import textwrap
from collections.abc import Iterable, Mapping
from functools import lru_cache
from importlib import resources
from itertools import count
from typing import TYPE_CHECKING, Any

from exercises.model import Choice, Chosen, Column, Numeric, Order, Reading, Table, Written
from exercises.model.chart import png
from exercises.model.parts import Item, Part
from exercises.model.variant import ANY_SAFE_ORDER, Variant
from grader.papers.answer_units import form_of_answers
from grader.running.reading import LAST_SOURCE
from grader.store.cover import cover_markdown
from grader.store.part_marks import item_name
from grader.store.register import Paper, attempt_suffix
from grader.store.school import Candidate, School, Sitting
from pitside.unit_names import spelled

if TYPE_CHECKING:
    # It takes time to load, so only what makes notebooks loads it.
    import nbformat

#: Version of the script's format, in its metadata.
FORMAT = 1
#: Cell id of the given cell that defines ``answer``.
GIVEN_CELL = "pitside-answer"
#: Cell id of the last cell, which says what has no answer yet.
LAST_CELL = "pitside-last"
#: The text of the given cell, and what papers hold that were issued before it: they are read by that.
_GIVEN, _GIVEN_BEFORE = "given_cell.py", "given_cell_before.py"
_BEGAN_BEFORE = "# Run this cell first (Shift and Enter);"
#: What stands behind a name of the given cell that each paper has a table for.
_FILLED_IN = "  # filled in for each paper"
#: Cell id of the cell with the paper's title, and whose paper it is.
TITLE_CELL = "title"
#: Cell id of the school's own words, where it has any. The digest does not cover them: they ask nothing.
COVER_CELL = "cover"
#: What an exercise's chart is called in its cell.
_CHART = "chart.png"
#: The one name under which every paper is known to the gradebook.
NOTEBOOK = "paper"
#: What stands in the cell of a written part until the candidate writes there.
WRITE_HERE = "*Write your answer here, in place of these words.*"
#: The first line of each answer cell. Where the given cell was not run, as after a restart, nothing of ours is there to
#: say a kind word; but Jupyter shows the lines about the one that it cannot make sense of.
NOT_READY = '# If it says "not defined": menu Run > Run All Cells'
#: Ends a line within a paragraph of Markdown.
_NEW_LINE = "  \n"
#: Characters of a written answer that are kept in the record; the marked notebook holds all of it.
LONGEST_WRITTEN = 5000
#: What nbformat takes for a cell's id.
_CELL_ID = re.compile(r"[a-zA-Z0-9_-]{1,64}")
#: A notebook's metadata that says which language it is in.
_PYTHON = {
    "kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"},
    "language_info": {"name": "python"},
}


def script_name(school: School, paper: Paper) -> str:
    """The file name of a paper: school, sitting and candidate by id, and the attempt unless it is the first."""
    return f"{school.id}_{paper.sitting}_{paper.candidate}{attempt_suffix(paper.attempt)}.ipynb"


def paper_notebook(
    school: School, sitting: Sitting, candidate: Candidate, paper: Paper, variants: tuple[Variant, ...]
) -> nbformat.NotebookNode:
    """The paper, whose variants are these, as an nbformat 4.5 notebook."""
    import nbformat
    from nbformat.v4 import new_notebook

    title = _title(school, sitting, candidate, paper, variants)
    cover = [_markdown(COVER_CELL, cover_markdown(school.cover))] if school.cover else []
    cells = [_markdown(TITLE_CELL, title), *cover, given_cell(variants)]
    for number, variant in enumerate(variants, 1):
        heading = _markdown(*_heading(number, variant))
        if variant.exercise.chart is not None:
            chart = variant.exercise.chart(variant.numbers, variant.system)
            heading["attachments"] = {_CHART: {"image/png": base64.b64encode(png(chart)).decode()}}
        cells.append(heading)
        for part in variant.exercise.parts:
            cells.append(_markdown(*_asked(number, variant, part)))
            cells.append(_answer_cell(number, variant, part))
    cells.append(last_cell())
    metadata = {
        **_PYTHON,
        "pitside": {
            "format": FORMAT,
            "school": school.id,
            "sitting": paper.sitting,
            "candidate": paper.candidate,
            "paper": paper.id,
            "digest": paper_digest([(TITLE_CELL, title), *question_cells(variants)]),
        },
    }
    notebook = new_notebook(cells=cells, metadata=metadata)
    nbformat.validate(notebook)
    return notebook


def question_cells(variants: tuple[Variant, ...], *, repeated: bool = False) -> list[tuple[str, str]]:
    """Id and source of each cell of a paper that holds an exercise's setting or asks a part, in order.

    ``repeated``: as papers were printed that say before each answer on the way that it is one, and of an order not
    that every safe one is right. Some are still out.
    """
    cells = []
    for number, variant in enumerate(variants, 1):
        cells.append(_heading(number, variant))
        cells += [_asked(number, variant, part, repeated=repeated) for part in variant.exercise.parts]
    return cells


def _heading(number: int, variant: Variant) -> tuple[str, str]:
    exercise = variant.exercise
    text = f"## Exercise {number}: {exercise.title}\n\n{variant.text(exercise.setting)}"
    if exercise.chart is not None:
        text += f"\n\n![{exercise.chart(variant.numbers, variant.system).alt}](attachment:{_CHART})"
    return f"exercise-{number}", text


def _asked(number: int, variant: Variant, part: Part, *, repeated: bool = False) -> tuple[str, str]:
    return f"ask-{number}{part.key}", question(number, variant, part, repeated=repeated)


def paper_digest(cells: Iterable[tuple[str, str]]) -> str:
    """The digest of a paper: SHA-256 over id and source of its title, exercise and ask cells, in order.

    Line ends and blanks before them do not count, since programs that open and save a notebook change them.
    """
    printed = [[name, as_printed(source)] for name, source in cells]
    return hashlib.sha256(json.dumps(printed).encode()).hexdigest()


def as_printed(source: str) -> str:
    """A source as it looks: without the blanks at the ends of its lines, and with one kind of line end."""
    return "\n".join(line.rstrip() for line in source.splitlines()).strip()


def answer_cell_id(number: int, part: Part) -> str:
    """The cell id of a part's answer."""
    return f"answer-{number}{part.key}"


def written_answer(notebook: Mapping[str, Any], number: int, part: Written) -> str:
    """What stands in the cell of a written part, without the words that were printed there."""
    texts = []
    for cell in notebook["cells"]:
        if cell.get("id") == answer_cell_id(number, part) and cell["cell_type"] == "markdown":
            source = cell["source"] if isinstance(cell["source"], str) else "".join(cell["source"])
            texts.append(source.replace(WRITE_HERE, "").strip())
    return "\n\n".join(texts)[:LONGEST_WRITTEN]


def for_hand_marking(
    notebook: Mapping[str, Any], variants: tuple[Variant, ...], questions: Iterable[tuple[str, str]]
) -> dict[str, Any]:
    """A script as the hand-marking page takes it: made anew, so that nothing in it acts but what we printed.

    ``variants`` are those of its paper, and ``questions`` its :func:`question_cells`.

    Each part's cell is marked as one, whatever the candidate made of it; one that was deleted is put at the end, empty,
    and no other cell is taken for an answer. Cells that stand as they were printed are Markdown of ours, and locked.
    All else is text that is shown letter by letter (:func:`as_it_stands`), since the page would let a candidate's
    links, pictures and formulas act in the browser of the person who marks. What was written stays in the script.
    """
    parts = {
        answer_cell_id(number, part): (number, variant, part)
        for number, variant in enumerate(variants, 1)
        for part in variant.exercise.parts
    }
    printed = dict(questions)
    before: dict[str, str] = {}

    def stands(name: str, source: str) -> bool:
        """Whether a cell stands as it is printed, today or before a wording changed; few papers are of before."""
        if as_printed(source) == as_printed(printed[name]):
            return True
        before.update(before or question_cells(variants, repeated=True))
        return as_printed(source) == as_printed(before[name])

    pictures = _Pictures()
    cells: list[dict[str, Any]] = []
    taken: set[str] = set()
    for cell in notebook["cells"]:
        source = cell["source"] if isinstance(cell["source"], str) else "".join(cell["source"])
        name = str(cell.get("id", ""))
        kind = "code" if cell["cell_type"] == "code" else "markdown"
        metadata: dict[str, Any] = {}
        found = parts.get(name)
        if found and cell["cell_type"] == grade_cell(found[0], found[2])["cell_type"]:
            metadata["nbgrader"] = grade_cell(found[0], found[2])
            del parts[name]
        if kind == "markdown" and name in printed and stands(name, source):
            metadata["nbgrader"] = _locked_cell(name)
            source = re.sub(r"!\[([^]]*)\]\(attachment:[^)]*\)", r"*(Chart: \1)*", printed.pop(name))
        elif kind == "markdown":
            source = as_it_stands(source)
        if not _CELL_ID.fullmatch(name) or name in taken:
            name = next(free for n in count(len(cells) + 1) if (free := f"cell-{n}") not in taken)
        taken.add(name)
        made: dict[str, Any] = {"cell_type": kind, "id": name, "metadata": metadata, "source": source}
        if kind == "code":
            times = cell.get("execution_count")
            made["execution_count"] = times if type(times) is int else None
            made["outputs"] = [_plain_output(output, pictures) for output in cell.get("outputs", ())]
        cells.append(made)
    for number, variant, part in parts.values():
        lost = json.loads(json.dumps(_answer_cell(number, variant, part)))
        while lost["id"] in taken:
            lost["id"] += "-lost"
        taken.add(lost["id"])
        cells.append(lost)
    about = notebook["metadata"].get("pitside")
    kept = about.items() if isinstance(about, Mapping) else ()
    metadata = {**_PYTHON, "pitside": {name: value for name, value in kept if isinstance(value, str | int)}}
    return {"nbformat": 4, "nbformat_minor": 5, "metadata": metadata, "cells": cells}


def as_it_stands(text: str) -> str:
    """Markdown that shows a text letter by letter: fenced by more backticks than stand in a row in it."""
    fence = "`" * max(3, 1 + max(map(len, re.findall("`+", text)), default=0))
    return f"{fence}\n{text}\n{fence}"


def without_fence(source: str) -> str:
    """The text that :func:`as_it_stands` has fenced; any other source as it is."""
    first, _, rest = source.partition("\n")
    text, _, last = rest.rpartition("\n")
    return text if first == last and len(first) > 2 and set(first) == {"`"} else source


class _Pictures:
    """How many pixels of pictures a page may still have: a small file can hold more than a browser bears."""

    def __init__(self) -> None:
        self.left = 50_000_000

    def take(self, data: str) -> str:
        """Why a picture is left out, for a person; empty where it may stay."""
        from PIL import Image

        try:
            with Image.open(io.BytesIO(base64.b64decode(data)), formats=("PNG", "JPEG")) as picture:
                width, height = picture.size
        except Exception:  # a candidate's bytes may make the library raise anything
            return "(A picture that cannot be read was left out.)"
        if width * height > self.left:
            return f"(A picture of {width} by {height} pixels was left out: too large for the page.)"
        self.left -= width * height
        return ""


def _plain_output(output: Mapping[str, Any], pictures: _Pictures) -> dict[str, Any]:
    """An output with only what the page shows without acting on it: text, and pictures made of pixels."""
    kind = output["output_type"]
    if kind not in ("display_data", "execute_result"):
        return dict(output)
    data: dict[str, str] = {}
    said = [output["data"][name] for name in ("text/plain", "text/latex") if name in output["data"]][:1]
    for name in ("image/png", "image/jpeg"):
        if name in output["data"]:
            left_out = pictures.take(output["data"][name])
            if left_out:
                said.append(left_out)
            else:
                data[name] = output["data"][name]
    if said:
        data["text/plain"] = "\n".join(said)
    made = {"output_type": kind, "metadata": {}, "data": data}
    return made | ({"execution_count": output.get("execution_count")} if kind == "execute_result" else {})


def _locked_cell(cell_id: str) -> dict[str, Any]:
    """The gradebook's cell metadata of a cell that stands as we printed it. No candidate can put it into a script."""
    return {
        "grade": False,
        "solution": False,
        "locked": True,
        "task": False,
        "grade_id": cell_id,
        "schema_version": 3,
        "cell_type": "markdown",
    }


def _markdown(cell_id: str, text: str) -> nbformat.NotebookNode:
    from nbformat.v4 import new_markdown_cell

    cell = new_markdown_cell(text, metadata={"deletable": False, "editable": False})
    cell["id"] = cell_id
    return cell


def _title(school: School, sitting: Sitting, candidate: Candidate, paper: Paper, variants: tuple[Variant, ...]) -> str:
    marks = sum(variant.exercise.marks for variant in variants)
    return (
        f"# {sitting.title}\n\n{school.title}, {sitting.day:%d %B %Y}\n\n"
        f"Candidate **{_plain(candidate.name)}** ({candidate.id}), paper {paper.id}, {marks:g} marks\n\n"
        "The numbers in this paper are yours alone. First press Shift and Enter twice: that runs the folded cell "
        "below, which then says that it is ready. Answer with `answer(part, number, unit)` in the cell below each "
        "question: put your number in place of `None`, then run the cell (Shift and Enter). Any fitting unit will do. "
        "You may write your working anywhere: in the cells, in new cells, in words or sums. A later part is marked on "
        "your own earlier answer, so go on even if you doubt it. When you open the notebook again, or after a restart: "
        "menu Run, then Run All Cells. The last cell says what has no answer yet. Save the notebook and hand it in "
        "under the name it has."
    )


def _plain(text: str) -> str:
    """Text from the roster, which must not act as Markdown or HTML, nor become a link by itself."""
    return re.sub(r"([\\`*_{}\[\]()<>#|!~$&:.@])", r"\\\1", text)


def given_cell(variants: tuple[Variant, ...]) -> nbformat.NotebookNode:
    """The cell that defines ``answer`` for a paper of these variants, folded: there is nothing in it to change."""
    from nbformat.v4 import new_code_cell

    folded = {"deletable": False, "editable": False, "jupyter": {"source_hidden": True}}
    cell = new_code_cell(given_source(variants), metadata=folded)
    cell["id"] = GIVEN_CELL
    return cell


def given_source(variants: tuple[Variant, ...], printed_by: str = _GIVEN) -> str:
    """The source of the given cell: plain Python with small tables of what this paper asks for.

    ``printed_by`` names the text that it is made of: an older one for papers that are out.
    """
    return _filled_in(printed_by, json.dumps(form_of_answers(variants), ensure_ascii=False))


@lru_cache(maxsize=256)
def _filled_in(printed_by: str, form: str) -> str:
    """The given cell of all papers that ask for the same: those of a sitting mostly differ in their numbers alone."""
    source = resources.files("grader.papers").joinpath(printed_by).read_text(encoding="utf-8")
    for name, table in json.loads(form).items():
        made = _table_source(table) if isinstance(table, Mapping) else _python(table)
        if found := re.search(rf"^{name} = .*{_FILLED_IN}$", source, re.MULTILINE):  # the older text lacks some
            source = f"{source[: found.start()]}{name} = {made}{source[found.end() :]}"
    return source.rstrip()


def given_in(notebook: Mapping[str, Any], variants: tuple[Variant, ...]) -> str:
    """The source that the given cell of this script was printed with, by today's programs or those of before."""
    sources = (cell["source"] for cell in notebook["cells"] if cell["cell_type"] == "code")
    first = next((source if isinstance(source, str) else "".join(source) for source in sources), "")
    return given_source(variants, _GIVEN_BEFORE if first.startswith(_BEGAN_BEFORE) else _GIVEN)


def last_cell() -> nbformat.NotebookNode:
    """The cell that says what has no answer yet."""
    from nbformat.v4 import new_code_cell

    cell = new_code_cell(LAST_SOURCE, metadata={"deletable": False, "editable": False})
    cell["id"] = LAST_CELL
    return cell


def _table_source(table: Mapping[str, Any], room: int = 104) -> str:
    """A table as Python source that people can read: as many entries in a line as there is room for."""
    lines = [""]
    for name, value in table.items():
        entry = f"{_python(name)}: {_python(value)},"
        if len(entry) > room and isinstance(value, Mapping):
            entry = f"{_python(name)}: {_table_source(value, room - 4)},"
        if lines[-1] and len(lines[-1]) + len(entry) > room:
            lines.append("")
        lines[-1] = f"{lines[-1]} {entry}".strip()
    return "{\n" + textwrap.indent("\n".join(lines), "    ") + "\n}"


def _python(value: Any) -> str:
    match value:
        case Mapping():
            return "{" + ", ".join(f"{_python(name)}: {_python(each)}" for name, each in value.items()) + "}"
        case list():
            return "(" + ", ".join(map(_python, value)) + ("," if len(value) == 1 else "") + ")"
        case float():
            return f"{value:.7g}"
        case _:
            return json.dumps(value, ensure_ascii=False)


def question(number: int, variant: Variant, part: Part, *, repeated: bool = False) -> str:
    """What a part asks, in Markdown, with its marks, and its table, options or steps.

    ``repeated``: see :func:`question_cells`.
    """
    marks = sum(item.marks.total for item in part.items())
    asked = variant.question(part)
    if repeated:
        asked = asked.removesuffix(ANY_SAFE_ORDER)
    text = f"**{number}({part.key})** {asked} [{marks:g} {'mark' if marks == 1 else 'marks'}]"
    match part:
        case Numeric():
            for at, method in enumerate(part.method):
                on_the_way = "" if at and not repeated else "On the way, if you like: "
                marks_of = "mark" if method.marks == 1 and not repeated else "marks"
                text += (
                    f"\n\n{on_the_way}**{item_name(number, f'{part.key}.{method.key}')}** "
                    f"{variant.text(method.ask)} (up to {method.marks:g} {marks_of} where your answer earns fewer)"
                )
        case Table():
            text += "\n\n" + _table(number, variant, part)
        case Choice():
            for option in part.options:
                text += f"\n\n**{part.letter(option.key)}**  {variant.text(option.text)}"
            text += "\n\nAnswer with one letter in quotes."
        case Order():
            for letter, step in variant.shown_steps(part).items():
                text += f"\n\n**{letter}**  {part.steps[step]}"
            text += "\n\nAnswer with all the letters in order, in quotes."
        case Written():
            text += "\n\nAnswer in your own words: open the cell below with a double click and write into it."
    return text


def question_to_read(number: int, variant: Variant, part: Part) -> str:
    """What a part asks, in Markdown, for who reads it on paper or a page: without the words for notebooks."""
    marks = sum(item.marks.total for item in part.items())
    text = f"**{number}({part.key})** {variant.question(part)} [{marks:g} {'mark' if marks == 1 else 'marks'}]"
    match part:
        case Table():
            text += "\n\n" + _table(number, variant, part, named=False)
        case Choice():
            options = (f"**{part.letter(option.key)}** {variant.text(option.text)}" for option in part.options)
            text += "\n\n" + _NEW_LINE.join(options)
        case Order():
            steps = (f"**{letter}** {part.steps[step]}" for letter, step in variant.shown_steps(part).items())
            text += "\n\n" + _NEW_LINE.join(steps)
    return text


def item_words(number: int, variant: Variant, part: Part, item: Item) -> str:
    """What an item is called to people, who know no keys: 1(b), or a table's cell by its row and column."""
    name = f"{number}({part.key})"
    if isinstance(item, Numeric) and item.on_the_way:
        return f"on the way to {name}"
    return f"{name}, {re.sub(r'[$*`]', '', variant.text(item.ask))}" if isinstance(part, Table) else name


def _table(number: int, variant: Variant, table: Table, named: bool = True) -> str:
    lines = [[table.corner, *(column.title for column in table.columns)], ["---"] * (len(table.columns) + 1)]
    for row in table.rows:
        line = [variant.text(row.title)]
        for column in table.columns:
            if isinstance(column, Column):
                item = table.cell(row, column)
                name = f"{item_name(number, item.key)} " if named else ""
                line.append(f"{name}in {spelled(variant.unit(item)) or 'no unit'}")
            else:
                line.append(variant.text(column.show(row)))
        lines.append(line)
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def _answer_cell(number: int, variant: Variant, part: Part) -> nbformat.NotebookNode:
    from nbformat.v4 import new_code_cell, new_markdown_cell

    if isinstance(part, Written):
        cell = new_markdown_cell(WRITE_HERE, metadata={"nbgrader": grade_cell(number, part), "deletable": False})
        cell["id"] = answer_cell_id(number, part)
        return cell
    lines = [NOT_READY, *(_blank(number, variant, item) for item in part.items())]
    if isinstance(part, Numeric) and part.method:
        lines.insert(-1, "# Above: answers on the way, if you like. Below: the answer.")
    cell = new_code_cell("\n".join(lines), metadata={"nbgrader": grade_cell(number, part), "deletable": False})
    cell["id"] = answer_cell_id(number, part)
    return cell


def _blank(number: int, variant: Variant, item: Item) -> str:
    name = item_name(number, item.key)
    if not isinstance(item, Numeric | Chosen | Reading):
        return f'answer("{name}", None)'
    # A count is no fraction: "no unit" is what the tables of a paper say, and the given cell knows it.
    unit = variant.unit(item) if spelled(variant.unit(item)) else "no unit"
    return f'answer("{name}", None, "{"" if variant.leaves_unit_open(item) else unit}")'


def grade_cell(number: int, part: Part) -> dict[str, Any]:
    """The gradebook's cell metadata of a part: a cell that the candidate fills and a person may mark."""
    return {
        "grade": True,
        "solution": True,
        "locked": False,
        "task": False,
        "grade_id": item_name(number, part.key),
        "points": sum(item.marks.total for item in part.items()),
        "schema_version": 3,
        "cell_type": "markdown" if isinstance(part, Written) else "code",
    }
