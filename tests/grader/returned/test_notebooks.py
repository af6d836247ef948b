"""Notebooks from an unknown hand cost bounded time and memory, whatever their shape; what is made of them is sound."""

from __future__ import annotations

import base64
import copy
import gc
import hashlib
import json
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import nbformat
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from grader.marking.one_script import Marked, mark_script
from grader.returned import notebooks
from grader.returned.notebooks import LARGEST_TEXT, MOST_CELLS, MOST_VALUES, RefusedError, made_new, parsed
from grader.returned.scripts import LARGEST, Returned, read_scripts
from grader.running.run_result import Ending, Run
from grader.store.errors import GraderError
from grader.store.files import as_json
from grader.store.register import Paper, Register
from tests.grader.returned.test_scripts import zip_of
from tests.grader.schools import EVERY_KIND, SITTING, add_cell, hand_in, pack_of, paper_of, right_answers, script_with

#: What a file of any kind may cost at most: as many times the processor time of the largest honest script, which is
#: full of pictures and takes 0.05 s or so, and so much memory, with the file itself.
MOST_TIMES = 20
MOST_BYTES = 280 << 20

EMOJI = "\U0001f600"  # with one such sign in it each sign of a text takes four bytes
PICTURE = base64.b64encode(b"\x89PNG\r\n\x1a\n" + b"x" * (14 << 20)).decode()


@pytest.fixture(scope="module")
def paper(issued_school) -> Paper:
    return paper_of(issued_school, "aa-01")


@pytest.fixture(scope="module")
def pack(issued_school, paper) -> dict[str, Any]:
    return pack_of(issued_school, paper)


def _put(value: Any, *path: Any) -> Callable[[dict[str, Any]], None]:
    def change(notebook: dict[str, Any]) -> None:
        for step in path[:-1]:
            notebook = notebook[step]
        notebook[path[-1]] = value

    return change


def _cells(count: int, **cell: Any) -> Callable[[dict[str, Any]], None]:
    return _put([{"cell_type": "markdown", "source": "", "metadata": {}, **cell}] * count, "cells")


def _attached(value: Any) -> Callable[[dict[str, Any]], None]:
    return _put({"x.png": {"image/png": value}}, "cells", 0, "attachments")


SHOWN = {"output_type": "display_data", "metadata": {}, "data": {"image/png": PICTURE}}
#: Changes of a paper, each of which makes something dear of it; or whole files. Large, so made when they are tried.
DEAR: dict[str, Callable[[], Callable[[dict[str, Any]], None] | bytes]] = {
    "source of noughts": lambda: _put([0] * 190_000, "cells", 2, "source"),
    "source of lists": lambda: _put([[]] * 190_000, "cells", 2, "source"),
    "source of lines": lambda: _put(["\n"] * 190_000, "cells", 2, "source"),
    "long source": lambda: _put("a" * (19 << 20), "cells", 2, "source"),
    "long source of wide signs": lambda: _put(EMOJI + "a" * (19 << 20), "cells", 2, "source"),
    "source of many lines": lambda: _put(EMOJI + "ab\n" * (LARGEST_TEXT // 3 - 9_000), "cells", 2, "source"),
    "source of tags": lambda: _put(EMOJI + "<a" * (LARGEST_TEXT // 2 - 9_000), "cells", 0, "source"),
    "attached noughts": lambda: _attached([0] * 190_000),
    "attached wide signs": lambda: _attached(EMOJI + "a" * (19 << 20)),
    "attached pieces": lambda: _attached([PICTURE[:100]] * 180_000),
    "tags of noughts": lambda: _put([0] * 190_000, "cells", 2, "metadata", "tags"),
    "long metadata": lambda: _put(EMOJI + "a" * (19 << 20), "metadata", "mine"),
    "wide metadata": lambda: _put([[]] * 190_000, "metadata", "mine"),
    "kernel of noughts": lambda: _put([0] * 190_000, "metadata", "kernelspec"),
    "long notes": lambda: _put(EMOJI + "a" * (19 << 20), "metadata", "pitside", "mine"),
    "wide notes": lambda: _put([[]] * 190_000, "metadata", "pitside", "mine"),
    "outputs of noughts": lambda: _put([0] * 190_000, "cells", 4, "outputs"),
    "cells of noughts": lambda: _put([0] * 190_000, "cells"),
    "empty cells": lambda: _cells(39_000),
    "cells with one id": lambda: _cells(MOST_CELLS, id="cell-5-0"),
    "cells of tags": lambda: _cells(MOST_CELLS, source="<a" * 400),
    "endless lists": lambda: b"[" + b"[]," * 6_600_000 + b"[]]",
    "endless objects": lambda: b"[" + b"{}," * 6_600_000 + b"{}]",
    "endless names": lambda: b"{" + b",".join(b'"%d":{"%d":{}}' % (n, n) for n in range(800_000)) + b"}",
    "endless texts": lambda: b"[" + b'"",' * 6_600_000 + b'""]',
    "quotes": lambda: b'"' * LARGEST,
    "quotes in a text": lambda: b'"' + b'\\"' * (LARGEST // 2 - 1),
    "brackets in a text": lambda: b'{"x":"' + b"[,{" * (LARGEST // 3 - 9) + b'"}',
    "escapes": lambda: b'["' + b"\\ud83d\\ude00" * (LARGEST // 12 - 9) + b'"]',
    "half pairs": lambda: b'["' + b"\\ud83d" * (LARGEST // 6 - 9) + b'"]',
    "long numbers": lambda: b"[" + b",".join([b"9" * 1000] * 20_000) + b"]",
    "an endless number": lambda: b'{"cells":' + b"9" * (LARGEST - 100) + b"}",
    "an endless fraction": lambda: b'{"cells":0.' + b"9" * (LARGEST - 100) + b"}",
    "an endless power": lambda: b'{"cells":1e' + b"9" * (LARGEST - 100) + b"}",
    "deep": lambda: b"[" * (LARGEST // 2),
    "spaces": lambda: b" " * LARGEST,
}


def _bytes(pack: dict[str, Any], change: Callable[[dict[str, Any]], None] | bytes) -> bytes:
    if isinstance(change, bytes):
        return change
    notebook = copy.deepcopy(pack)
    change(notebook)
    return json.dumps(notebook, ensure_ascii=False).encode()


def _marked(paper: Paper, data: bytes) -> None:
    """All that marking does with a script but to run it: read, compared with the paper, marked, written."""
    returned = Returned("scripts/x.ipynb", hashlib.sha256(data).hexdigest(), paper, Path("x.ipynb"))
    outcome = mark_script(returned, lambda: data, lambda n, *_: Run({}, (), Ending.FINISHED, "", n, (), 0.0))
    if isinstance(outcome, Marked):
        as_json(outcome.notebook)


def _seconds(work: Callable[[], object], enough: float = 0.0) -> float:
    """Of the processor, the shorter of two; one is enough where it is below so many."""
    best = float("inf")
    for _ in range(2):
        gc.collect()
        began = time.process_time()
        work()
        best = min(best, time.process_time() - began)
        if best < enough:
            break
    return best


def _memory(work: Callable[[], object]) -> int:
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.fixture(scope="module")
def honest_seconds(paper, pack) -> float:
    data = _bytes(pack, _put([SHOWN], "cells", 4, "outputs"))
    assert 0.9 * LARGEST < len(data) < LARGEST
    return _seconds(lambda: _marked(paper, data))


#: One of each family; the others are tried in the longer run.
TRIED_FIRST = (
    "source of many lines", "attached pieces", "cells with one id", "endless objects", "an endless number", "deep",
)  # fmt: skip


@pytest.mark.parametrize(
    "kind", [pytest.param(kind, marks=[pytest.mark.slow] * (kind not in TRIED_FIRST)) for kind in DEAR]
)
def test_file_of_any_shape_costs_no_more_than_a_few_large_honest_ones(paper, pack, honest_seconds, kind):
    data = _bytes(pack, DEAR[kind]())
    assert len(data) <= LARGEST
    # The memory first: what would take all of it shows before it is tried again.
    assert _memory(lambda: _marked(paper, data)) < MOST_BYTES - len(data)
    most = MOST_TIMES * honest_seconds
    assert _seconds(lambda: _marked(paper, data), most) < most


@pytest.mark.parametrize("kind", ["source of noughts", "long source of wide signs", "source of many lines"])
def test_zip_costs_no_more_either(school, paper, pack, honest_seconds, kind):
    packed = zip_of(("x.ipynb", _bytes(pack, DEAR[kind]())), kind=0)
    hand_in(school, paper, packed, "x.zip")
    register = Register(school)
    assert _memory(lambda: read_scripts(school, register)) < MOST_BYTES
    most = MOST_TIMES * honest_seconds
    assert _seconds(lambda: read_scripts(school, register), most) < most


def test_many_dear_files_take_no_more_memory_than_one(school, paper, pack):
    data = _bytes(pack, DEAR["long source of wide signs"]())
    register = Register(school)

    def memory_of(files: int) -> int:
        for number in range(files):
            hand_in(school, paper, data, f"x{number}.ipynb")
        return _memory(lambda: read_scripts(school, register))

    assert memory_of(6) < 1.2 * memory_of(1)


def test_what_is_counted_is_values_not_signs_in_texts(pack):
    """A large honest script, whose outputs are full of commas and brackets, is read."""
    drawing = {"output_type": "display_data", "metadata": {}, "data": {"text/html": "<path d='M 1,2 [3,4]'>" * 500_000}}
    data = _bytes(pack, _put([drawing], "cells", 4, "outputs"))
    assert data.count(b",") > 5 * MOST_VALUES
    assert len(parsed(data)["cells"]) == len(pack["cells"])


@pytest.mark.parametrize("surplus", [-1, 1])
def test_bound_on_values_is_where_it_is_said_to_be(surplus):
    data = b"[" + b",".join([b'"a"'] * (MOST_VALUES + surplus)) + b"]"
    with pytest.raises(RefusedError, match="far more pieces" if surplus > 0 else "no cells"):
        parsed(data)


# What is made -------------------------------------------------------------------------------------------------------


def test_honest_script_keeps_its_cells_and_what_our_programs_keep_in_it(issued_school, paper):
    script = script_with(issued_school, paper, right_answers(paper.variants()))
    add_cell(script, "x = 'ж, 周, 😀'")
    made = made_new(parsed(json.dumps(script).encode()))
    kept = ("cell_type", "id", "source")
    assert [[cell[name] for name in kept] for cell in made["cells"]] == [
        [cell[name] for name in kept] for cell in script["cells"]
    ]
    assert [c.get("attachments") for c in made["cells"]] == [c.get("attachments") for c in script["cells"]]
    assert made["metadata"]["pitside"] == script["metadata"]["pitside"]
    nbformat.validate(nbformat.from_dict(made))


def test_source_as_lines_is_the_source_as_text(pack):
    lines = copy.deepcopy(pack)
    for cell in lines["cells"]:
        cell["source"] = cell["source"].splitlines(keepends=True)
    assert made_new(parsed(json.dumps(lines).encode())) == made_new(parsed(json.dumps(pack).encode()))


def test_pictures_in_cells_are_kept_and_nothing_else_that_is_attached(pack):
    picture = base64.b64encode(b"\x89PNG\r\n\x1a\n" + b"x" * 50).decode()
    attached = {
        "a.png": {"image/png": picture, "text/html": "<script>"},
        "b.svg": {"image/svg+xml": "<svg onload='x()'/>"},
        "c.png": {"image/png": base64.b64encode(b"<script>").decode()},
        "d.png": {"image/png": [picture[:20] + "\n", picture[20:]]},
        "e.png": ["image/png"],
    }
    _put(attached, "cells", 0, "attachments")(pack := copy.deepcopy(pack))
    cell = made_new(parsed(json.dumps(pack).encode()))["cells"][0]
    assert cell["attachments"] == {"a.png": {"image/png": picture}, "d.png": {"image/png": picture}}


def test_nothing_else_that_a_script_claims_goes_on(pack):
    changed = copy.deepcopy(pack)
    changed["metadata"] |= {"kernelspec": {"name": "../sh", "display_name": "x"}, "widgets": {"state": {}}, "mine": 1}
    changed |= {"surplus": [1]}
    for cell in changed["cells"]:
        cell["metadata"] |= {"tags": ["mine"], "nbgrader": {"grade_id": "1a", "points": 99}}
        cell["surplus"] = [1]
        if cell["cell_type"] == "code":
            cell |= {"outputs": [SHOWN], "execution_count": 3}
    assert made_new(parsed(json.dumps(changed).encode())) == made_new(parsed(json.dumps(pack).encode()))


@pytest.mark.parametrize("minor", [0, 4, 5, 6, 10**30])
def test_any_minor_format_becomes_the_one_that_we_write(pack, minor):
    _put(minor, "nbformat_minor")(changed := copy.deepcopy(pack))
    if minor < 5:
        for cell in changed["cells"]:
            del cell["id"]
    made = made_new(parsed(json.dumps(changed).encode()))
    assert made["nbformat_minor"] == 5
    assert len({cell["id"] for cell in made["cells"]}) == len(made["cells"])
    nbformat.validate(nbformat.from_dict(made))


# Shapes near a real script --------------------------------------------------------------------------------------------

WORDS = st.sampled_from(
    [
        *("cells", "metadata", "nbformat", "nbformat_minor", "id", "cell_type", "source", "outputs", "execution_count"),
        *(
            "attachments",
            "pitside",
            "paper",
            "format",
            "digest",
            "worksheet",
            "tags",
            "name",
            "kernelspec",
            "image/png",
        ),
        *("code", "markdown", "raw", "x.png", "answer-1a", "cell-1-0", "title", SITTING, "aa-01", "", "\ud800", EMOJI),
    ]
)
LEAVES = (
    st.none() | st.booleans() | st.sampled_from([0, 1, 4, 5, -1, 2**70, 1e308, 5e-324, float("nan"), float("inf")])
    | WORDS | st.text(st.characters(exclude_categories=()), max_size=8) | st.just(PICTURE[:60])
)  # fmt: skip
SMALL = st.recursive(
    LEAVES, lambda some: st.lists(some, max_size=3) | st.dictionaries(WORDS, some, max_size=4), max_leaves=6
)
#: Mostly small; sometimes a heap of one small thing, which is where it costs.
VALUES = SMALL | st.builds(
    # Copies: a change in one of them must not be a change in all, or a heap in a heap would fill the memory.
    lambda value, times: [copy.deepcopy(value) for _ in range(times)],
    SMALL,
    st.sampled_from([100, 20_000]),
)


def _places(thing: Any, here: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [here] if here else []
    pairs = thing.items() if isinstance(thing, dict) else enumerate(thing) if isinstance(thing, list) else ()
    for key, below in pairs:
        found += _places(below, (*here, key))
    return found


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_shape_near_a_script_is_refused_or_made_sound_within_bounds(paper, pack, data):
    _refused_or_made_sound(paper, pack, data)


@pytest.mark.slow
@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_many_shapes_near_a_script_are_refused_or_made_sound_within_bounds(paper, pack, data):
    _refused_or_made_sound(paper, pack, data)


def _refused_or_made_sound(paper, pack, data) -> None:
    """Whatever passes here passes nbformat's own check, can be written, and is marked without an exception."""
    notebook = copy.deepcopy(pack)
    notebook["cells"] = notebook["cells"][:5]
    for _ in range(data.draw(st.integers(1, 4))):
        *path, last = data.draw(st.sampled_from(_places(notebook)))
        inner = notebook
        for step in path:
            inner = inner[step]
        match data.draw(st.sampled_from(["put", "delete", "add"])):
            case "put":
                inner[last] = data.draw(VALUES)
            case "delete" if len(notebook) > 1:
                del inner[last]
            case _:
                if isinstance(inner, dict):
                    inner[data.draw(WORDS)] = data.draw(VALUES)
                else:
                    inner.insert(0, data.draw(VALUES))
    whole = json.dumps(notebook).encode()

    def read() -> dict[str, Any] | None:
        try:
            return made_new(parsed(whole))
        except GraderError as error:
            assert str(error).isprintable()
            assert len(str(error)) < 300
            return None

    # A list costs eight bytes for each thing, a text two or three times its own length.
    assert _memory(read) < 1_000_000 + 40 * len(whole)
    made = read()
    if made is not None:
        nbformat.validate(nbformat.from_dict(made))
        as_json(made).encode()
    _marked(paper, whole)


def test_shapes_above_can_pass_and_fail(paper, pack):
    """The comparison above meets both."""
    assert made_new(parsed(json.dumps(pack).encode()))
    with pytest.raises(GraderError):
        made_new(parsed(json.dumps({**pack, "cells": [0]}).encode()))


def test_papers_with_every_kind_of_part_are_far_below_the_bounds(pack):
    data = json.dumps(pack).encode()
    assert EVERY_KIND
    assert 20 * sum(map(data.count, (b",", b"[", b"{"))) < MOST_VALUES
    assert 20 * len(pack["cells"]) < MOST_CELLS
    assert 20 * sum(len(cell["source"]) for cell in pack["cells"]) < LARGEST_TEXT
    assert 20 * len(json.dumps(pack["metadata"]["pitside"])) < notebooks.LARGEST_NOTES
