"""Scripts that hold nothing but answers are read, not run: to the same end, and nothing of them is ever executed."""

from __future__ import annotations

import ast
import copy
import hashlib
import json
import subprocess
import sys
import time
import tomllib
from collections import Counter
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exercises import BANK
from exercises.model import System
from exercises.model.drawing import draw
from grader import cli
from grader.demo.demo import SOUND
from grader.demo.simulation import Ability, answers_of, filled
from grader.marking import rooms
from grader.marking.marking import mark_school
from grader.marking.one_script import Way
from grader.marking.record import Record
from grader.marking.records import marked_notebook, read_record, read_refusals
from grader.marking.rooms import How
from grader.papers.notebook import given_in, given_source
from grader.running import runner as runner_module
from grader.running.reading import LAST_SOURCE, LAST_SOURCES, LONGEST_CELL, read
from grader.running.run_result import USUAL_LIMITS, Ending, Limits, Run
from grader.running.runner import Runner
from grader.store.register import Register
from grader.store.school import School
from tests.grader.schools import ONE_ROOM, add_cell, hand_in, pack_of, paper_of, quiet, right_answers, script_with
from tests.grader.untrusted.test_attacks import CELLS as ATTACKS

ROOT = Path(__file__).parents[3]
HOSTILE = Path(__file__).parents[1] / "hostile"
GIVEN = given_source((draw(BANK["column-pressure"], np.random.default_rng(1), System.FIELD),))


#: Candidates who leave out much, get much wrong, and write units in their own way.
SHAKY = Ability(slips=0.5, blanks=0.2, other_units=0.8)


def notebook_of(*sources: str) -> dict[str, Any]:
    cells = [
        {"cell_type": "code", "id": f"c{n}", "metadata": {}, "outputs": [], "execution_count": None, "source": source}
        for n, source in enumerate(sources)
    ]
    return {"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": cells}


def read_cells(*sources: str, limits: Limits = USUAL_LIMITS) -> Run | None:
    return read(notebook_of(*sources), GIVEN, limits)


def without_words(run: Run) -> Run:
    """A run without the sentence on its end, which says that it was run or read, and without its time."""
    return replace(run, reason="", seconds=0)


def assert_runs_as_read(room: Runner, *sources: str) -> Run:
    found = read_cells(*sources)
    assert found is not None, sources
    assert without_words(found) == without_words(room.run(notebook_of(*sources)))
    return found


# What is read ---------------------------------------------------------------------------------------------------------

READABLE = {
    "answer": 'answer("1a", 412, "lb/bbl")',
    "blank": 'answer("1a", None, "lb/bbl")',
    "dots": 'answer("1a", ...)',
    "nothing but a part": 'answer("1a")',
    "letters": "answer('2B ', 'ABDC')",
    "signs of other scripts": 'answer("1a", 3.5, "kg/m³")\nanswer("1b", "Kies und Ölschlamm, 周")',
    "narrow space in a text": 'answer("1a", "1\u202f234,5", "lb\u00a0/ gal")',
    "sum": 'answer("1a", 0.052 * 9.5 * (10_000 + 250.5) - -3 / +4, "psi")',
    "power": 'answer("1a", 3.14159 / 4 * 8.5 ** 2 * 1e-2)',
    "small whole power": 'answer("1a", 2 ** 10)',
    "comments": "# mine\n  # and more\nanswer('1a', 5)  # ? %time !ls\n\n# end",
    "several": "answer('1a', 5); answer('1a', 6);\nanswer('1b', 7)",
    "over lines": "answer(\n    '1a',\n    5,\n    'psi',\n)",
    "by name": "answer(unit='psi', part='1a', value=5)",
    "comma in a number": "answer('1a', 6,442.5, 'psi')",
    "unit without quotes": "answer('1a', 6, 5)",
    "unit that is none": "answer('1a', 6, None)",
    "true": "answer('1a', True)",
    "endless": "answer('1a', 1e999)",
    "not a number": "answer('1a', 1e999 - 1e999)",
    "too large": "answer('1a', (10 ** 99) ** 4)",
    "no part": "answer(1, 5)\nanswer(None)\nanswer('', 5)\nanswer('9', 5)",
    "long texts": f"answer('1a', '{'x' * 199}')\nanswer('1a', '{'x' * 201}')\nanswer('1b', 1, '{'u' * 99}')",
    "texts in a row": "answer('1' 'a', 'x' \"y\")",
    "given": GIVEN,
    "comment alone": "# nothing yet",
    "blanks and comments of any depth": "   \n   # one\n\t# two\nanswer('1a', 5)\n      \n        # three",
    "nothing": "  \n",
}


@pytest.mark.parametrize("source", READABLE.values(), ids=READABLE)
def test_cell_of_answers_is_read_as_it_runs(room: Runner, source):
    assert_runs_as_read(room, GIVEN, source, "answer('1z', 1)")


def test_last_answer_counts_and_is_the_sum_of_its_numbers():
    found = read_cells(GIVEN, "answer('1a', 3)", "answer('1A ', 2 * (3 + 4) ** 2, 'lb/gal')")
    assert found is not None
    assert [(a.part, a.value, a.unit) for a in found.answers.values()] == [("1a", 98.0, "lb/gal")]
    assert found.ending is Ending.FINISHED
    assert [cell["execution_count"] for cell in found.notebook["cells"]] == [1, 2, 3]
    assert found.notebook["cells"][2]["outputs"] == [
        {"output_type": "stream", "name": "stdout", "text": "1a: recorded 98 lb/gal\n"}
    ]


def test_last_cell_is_read_as_it_runs_and_prints_nothing(room: Runner):
    for last in LAST_SOURCES:
        found = assert_runs_as_read(room, GIVEN, "answer('1a', 3)", last)
    assert found.notebook["cells"][2]["outputs"] == []


def test_last_cell_without_the_given_cell_before_it_has_to_be_run():
    assert read_cells("answer('1a', 3)", LAST_SOURCE) is None
    assert read_cells(LAST_SOURCE, GIVEN, "answer('1a', 3)") is None
    assert read_cells(GIVEN, LAST_SOURCE.replace("unanswered()", "unanswered( )")) is None


def test_papers_that_were_out_before_the_given_cell_changed_are_read(room: Runner):
    variants = (draw(BANK["column-pressure"], np.random.default_rng(1), System.FIELD),)
    before = given_source(variants, "given_cell_before.py")
    assert before != GIVEN and "SyntaxError" not in before and "filled in for each paper" not in before
    notebook = notebook_of(before, "answer('1a', 3, 'psi')")
    assert given_in(notebook, variants) == before
    assert given_in(notebook_of(GIVEN), variants) == GIVEN
    assert given_in(notebook_of("answer('1a', 3)"), variants) == GIVEN
    found = read(notebook, given_in(notebook, variants), USUAL_LIMITS)
    assert found is not None and without_words(found) == without_words(room.run(notebook))


def test_notebook_without_code_is_read_as_it_runs(room: Runner):
    assert_runs_as_read(room)


def test_notebook_that_is_none_is_told_as_by_a_run(room: Runner):
    for broken in ({"cells": None}, notebook_of(*["1"] * 1001)):
        found = read(broken, GIVEN, USUAL_LIMITS)
        assert found == room.run(broken)
        assert found is not None
        assert found.ending is Ending.NOT_RUN


# What has to be run ---------------------------------------------------------------------------------------------------

TO_BE_RUN = {
    "sum of names": "mass = 3\nanswer('1a', mass)",
    "print": "print(1)",
    "value": "5",
    "text": "'1a'",
    "own answer": "def answer(*_): pass",
    "answer given away": "answer = 5",
    "given cell changed": GIVEN.replace("recorded", "Recorded"),
    "given cell cut": GIVEN[: len(GIVEN) // 2],
    "given cell with more": GIVEN + "\nanswer('1a', 5)",
    "error": "answer('1a', 1 / 0)",
    "error of size": "answer('1a', 10.0 ** 100 ** 2 * 1.0)",
    "too little": "answer()",
    "twice the same": "answer('1a', 5, value=6)",
    "another name": "answer('1a', 5, more=6)",
    "list": "answer('1a', [5])",
    "tuple": "answer('1a', (5, 6))",
    "call inside": "answer('1a', float('5'))",
    "answer inside": "answer('1a', answer('1b', 5))",
    "formatted text": "answer('1a', f'{5}')",
    "bytes": "answer('1a', b'5')",
    "raw text": "answer('1a', r'5')",
    "escape": r"answer('1a', '5\n')",
    "unknown escape": r"answer('1a', 'lb\gal')",
    "sum of texts": "answer('1a', 'x' * 3)",
    "sum of truths": "answer('1a', True + 1)",
    "remainder": "answer('1a', 7 % 3)",
    "whole division": "answer('1a', 7 // 3)",
    "complex": "answer('1a', 5j)",
    "complex by a root": "answer('1a', (-8) ** 0.5)",
    "hexadecimal": "answer('1a', 0x10)",
    "octal of old": "answer('1a', 010)",
    "number and word": "answer('1a', 1if 1else 2)",
    "attribute": "answer('1a', 5 .real)",
    "starred": "answer(*('1a', 5))",
    "assignment inside": "answer('1a', (value := 5))",
    "magic": "%time answer('1a', 5)",
    "magic of a cell": "%%time\nanswer('1a', 5)",
    "shell": "!ls",
    "help": "answer?",
    "prompt": ">>> answer('1a', 5)",
    "prompt of IPython": "In [1]: answer('1a', 5)",
    "prompt in a text": "answer('1a', '''\n>>> 5''')",
    "dots that begin a line": "answer('1a',\n... )",
    "texts of three quotes": 'answer("1a", """5""")',
    "indented behind": "answer('1a', 5)\n  answer('1b', 5)",
    "line that goes on": "answer('1a', \\\n5)",
    "indented": "  answer('1a', 5)",
    "unclosed": "answer('1a', 5",
    "closed twice": "answer('1a', 5))",
    "unclosed text": "answer('1a', '5)",
    "form feed": "\x0canswer('1a', 5)",
    "carriage return": "answer('1a', 5)\r# x\nanswer('1b', 6)",
    "line separator": "# x\u2028answer('1a', 5)",
    "nought": "answer('1a', 5)\0",
    "wide letters": "\uff41nswer('1a', 5)",
    "digits of other scripts": "answer('1a', \u0665)",
    "minus of print": "answer('1a', \u22125)",
    "invisible sign": "answer('1a',\u200b 5)",
    "half a pair": "answer('1a', '\ud800')",
    "byte order": "\ufeffanswer('1a', 5)",
    "wide space": "answer('1a',\u00a05)",
    "condition": "if True:\n    answer('1a', 5)",
    "import": "import os",
    "await": "await answer('1a', 5)",
}  # fmt: skip


@pytest.mark.parametrize("source", TO_BE_RUN.values(), ids=TO_BE_RUN)
def test_cell_of_anything_else_has_to_be_run(source):
    assert read_cells(GIVEN, "answer('1a', 5)") is not None
    assert read_cells(GIVEN, source, "answer('1a', 5)") is None


def test_given_cell_of_another_paper_has_to_be_run():
    other = given_source((draw(BANK["weight-up-growing"], np.random.default_rng(1), System.METRIC),))
    assert read(notebook_of(other), GIVEN, USUAL_LIMITS) is None
    assert read(notebook_of(other), other, USUAL_LIMITS) is not None


def test_more_answers_or_outputs_than_a_run_may_have_are_run():
    assert read_cells(*["answer('1a', 5)"] * 4, limits=Limits(answers=4)) is not None
    assert read_cells(*["answer('1a', 5)"] * 5, limits=Limits(answers=4)) is None
    assert read_cells("answer('1a', 5)", limits=Limits(output_bytes=200)) is not None
    assert read_cells("answer('1a', 5)", limits=Limits(output_bytes=100)) is None


@pytest.mark.slow
def test_outputs_are_bounded_where_those_of_a_run_are():
    """As many outputs as a run keeps are read; with one less byte of room both say that it is too much."""
    cells = ["answer('1a', 5)", "answer('1b', 'ä')\nanswer('1c', None)"]
    enough = next(n for n in range(2000) if read_cells(*cells, limits=Limits(output_bytes=n)))
    for room_for, ending in ((enough, Ending.FINISHED), (enough - 1, Ending.FLOODED)):
        with Runner(Limits(output_bytes=room_for), allow_missing_walls=True) as runner:
            assert runner.run(notebook_of(*cells)).ending is ending


# Read and run, held against each other --------------------------------------------------------------------------------

_WHOLE = st.integers(-(10**12), 10**12).map(str) | st.sampled_from(["0", "1_000", "007", "9" * 59, "9" * 80, "1" * 400])
_BROKEN = st.floats(allow_nan=False, allow_infinity=False, width=32).map(repr) | st.sampled_from(
    [".5", "5.", "1e3", "1E+3", "1e-400", "1e999", "1_0.0_1", "1__0", "1.e", "0x1f", "5j", "1.5.2", "0b1"]
)
_NUMBER = _WHOLE | _BROKEN
_SUM = st.recursive(
    _NUMBER,
    lambda inner: st.one_of(
        st.builds("{} {} {}".format, inner, st.sampled_from(["+", "-", "*", "/"]), inner),
        st.builds("({}{}{})".format, inner, st.sampled_from(["+", "-", "*", "/", "**", "//", "%"]), inner),
        st.builds("{}({})".format, st.sampled_from(["-", "+", "", "--", "~", "abs"]), inner),
        st.builds("({}) ** {}".format, inner, st.sampled_from(["2", "0.5", "-1", "3.7", "99", "1000", "(1/3)"])),
    ),
    max_leaves=5,
)
_SIGNS = st.sampled_from([*"1aB ,.'\"\\#%?!;()[]{}>x\n\t\0", *"³µ−\u00a0\u202f\u2028\x85\x0c\u200b\ufeff½周", ">>> "])
_QUOTED = st.builds(
    "{0}{1}{0}".format, st.sampled_from(["'", '"', '"', '"']),
    st.sampled_from(["412", "6,442.5", "D", "FBDC", "lb/gal", "kg/m³", "psi", "", " 7 ", "x" * 200, "x" * 201])
    | st.lists(_SIGNS, max_size=4).map("".join),
)  # fmt: skip
_PART = st.sampled_from(['"1a"', "'1b'", '"2a.heron.weight"', "' 1A '", '"1"', '""', "1", "None", "'a1'", '"1a" "b"'])
_VALUE = st.one_of(_NUMBER, _SUM, _QUOTED, st.sampled_from(["None", "...", "True", "(5)", "[5]", "(5, 6)", "value"]))
_UNIT = st.one_of(_QUOTED, _QUOTED, st.sampled_from(["None", "5", "...", "''", "True"]))
_ARGUMENTS = st.one_of(
    st.builds("{}, {}, {}".format, _PART, _VALUE, _UNIT),
    st.builds("{}, {}, {}".format, _PART, _VALUE, _UNIT),
    st.builds("{},{}".format, _PART, _VALUE),
    st.builds("{}, {}, {}, {}".format, _PART, _NUMBER, _NUMBER, _UNIT),
    st.builds("{}, unit={}, value={}".format, _PART, _UNIT, _VALUE),
    st.builds("part={},\n  value={},\n".format, _PART, _VALUE),
    st.builds("\n    {},  # the part\n\n    {},\n".format, _PART, _VALUE),
    st.builds("{}, value={}, {}".format, _PART, _VALUE, st.sampled_from(["part='1b'", "unit='a'", "more=1", "**{}"])),
    st.just(""),
    _PART,
)
_CALL = st.builds("answer{}({})".format, st.sampled_from(["", "", "", " "]), _ARGUMENTS)
_LINE = st.one_of(
    _CALL, _CALL, _CALL,
    st.builds("{}; {}".format, _CALL, _CALL),
    st.builds("{} # {}".format, _CALL, st.lists(_SIGNS, max_size=4).map("".join)),
    st.sampled_from(["# note", "", "   ", ";", "#%%", "  # in", "pass", "answer", "None", "5", "print('x')", ">>> 5"]),
)  # fmt: skip
_CELL = st.lists(_LINE, min_size=1, max_size=3).map("\n".join)
_SPOILT = st.builds(
    lambda cell, place, sign: cell[: int(place * len(cell))] + sign + cell[int(place * len(cell)) :],
    _CELL, st.floats(0, 1), _SIGNS,
)  # fmt: skip
_CELLS = st.lists(st.one_of(_CELL, _CELL, _SPOILT), min_size=10, max_size=14)
#: Small, and without time: so that a busy machine fails nothing, and all cells of an example fit.
_QUIET = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example, HealthCheck.filter_too_much]


def _held_against_each_other(room: Runner, examples: int) -> Counter[str]:
    seen: Counter[str] = Counter()

    @settings(max_examples=examples, deadline=None, suppress_health_check=_QUIET, database=None)
    @given(_CELLS)
    def hold(cells: list[str]) -> None:
        readable = [cell for cell in cells if read_cells(cell) is not None]
        found = assert_runs_as_read(room, *readable)
        seen.update(cells=len(cells), readable=len(readable), answers=len(found.answers), refused=len(found.refused))

    hold()
    return seen


def test_generated_cells_that_are_read_run_to_the_same_end(room: Runner):
    seen = _held_against_each_other(room, 100)
    assert seen["cells"] > 1000
    assert seen["readable"] > 250, seen
    assert seen["answers"] > 50, seen
    assert seen["refused"] > 50, seen


@pytest.mark.slow
def test_thousands_of_generated_cells_that_are_read_run_to_the_same_end(room: Runner):
    seen = _held_against_each_other(room, 2000)
    assert seen["readable"] > 4000, seen


def test_scripts_of_a_school_get_the_same_records_and_notebooks_read_and_run(school: School, warm_room):
    generator = np.random.default_rng(5)
    papers = list(Register(school).papers.values())
    for number, paper in enumerate(papers):
        script = filled(pack_of(school, paper), answers_of(paper.variants(), (SOUND, SHAKY)[number % 2], generator))
        hand_in(school, paper, script)
    records, notebooks = [], []
    for run_all in (False, True):
        mark_school(
            school,
            quiet,
            How(allow_missing_walls=True, workers=1, run_all=run_all),
            again="the other way" if run_all else "",
        )
        records.append([read_record(school, paper.id) for paper in papers])
        notebooks.append([marked_notebook(school, paper).read_bytes() for paper in papers])
    assert [record.way for record in records[0]] == [Way.READ.value] * len(papers)
    assert [record.way for record in records[1]] == [Way.RUN.value] * len(papers)
    assert [replace(record, way="") for record in records[0]] == [replace(record, way="") for record in records[1]]
    assert notebooks[0] == notebooks[1]
    assert sum(record.marks for record in records[0]) > 0


# Attacks --------------------------------------------------------------------------------------------------------------


def corpus() -> dict[str, str]:
    """All hostile cells, and those that hold a hostile answer."""
    cells = tomllib.loads((HOSTILE / "cells.toml").read_text(encoding="utf-8"))
    answers = tomllib.loads((HOSTILE / "answers.toml").read_text(encoding="utf-8"))
    places = {"@SCHOOL@": "/school", "@PORT@": "1", "@MARKER@": "1", "@VALUE@": "412.5", "@UNIT@": "lb/gal"}
    found = {f"cells/{name}": case["source"] for name, case in cells.items()}
    found |= {f"attacks/{name}": source for name, source in ATTACKS.items()}
    found |= {f"answers/{name}": f"answer({case['call']})" for name, case in answers.items()}
    for mark, text in places.items():
        found = {name: source.replace(mark, text) for name, source in found.items()}
    return found


CORPUS = corpus()


def test_hostile_cells_are_never_taken_for_readable():
    read_names = [name for name, source in CORPUS.items() if read_cells(source) is not None]
    assert {name for name in read_names if not name.startswith("answers/")} == {"cells/answer-to-another-paper"}
    assert len(CORPUS) > 80
    # What is read of the corpus is a call of answer, with nothing in it that could be called or looked up.
    for name in read_names:
        nodes = list(ast.walk(ast.parse(CORPUS[name])))
        assert [n.func.id for n in nodes if isinstance(n, ast.Call)] == ["answer"]
        assert sum(isinstance(n, ast.Name) for n in nodes) == 1
        assert not [n for n in nodes if isinstance(n, ast.Attribute | ast.Subscript | ast.JoinedStr | ast.Lambda)]


def test_hostile_answers_that_are_read_run_to_the_same_end(room: Runner):
    readable = [source for source in CORPUS.values() if read_cells(source) is not None]
    assert len(readable) > 5
    for source in readable:
        assert_runs_as_read(room, source)


#: Python tells a hook of all that runs or reaches out; of a text that is parsed it says "compile".
_HOOKED = """
import json, sys
from grader.running.reading import read
from grader.running.run_result import USUAL_LIMITS
cells, given = json.load(sys.stdin)
read({"cells": [{"cell_type": "code", "source": "answer('1a', 5)"}]}, given, USUAL_LIMITS)
events, on = [], False
sys.addaudithook(lambda event, _: events.append(event) if on else None)
on = True
found = [read({"cells": [{"cell_type": "code", "source": cell}]}, given, USUAL_LIMITS) for cell in cells]
on = False
print(json.dumps([sorted(set(events)), sum(run is not None for run in found)]))
"""


def test_reading_executes_and_opens_nothing():
    cells = [*CORPUS.values(), *READABLE.values(), *TO_BE_RUN.values()]
    given = json.dumps([cells, GIVEN])
    done = subprocess.run([sys.executable, "-c", _HOOKED], cwd=ROOT, input=given, capture_output=True, text=True)
    events, readable = json.loads(done.stdout)
    assert readable >= len(READABLE), done.stderr
    assert events == ["compile"]


def test_parser_is_asked_for_a_tree_alone(monkeypatch):
    asked = []
    parse = ast.parse
    monkeypatch.setattr(ast, "parse", lambda *what, **how: asked.append((what[1:], how)) or parse(*what, **how))
    assert read_cells("answer('1a', 5)") is not None
    assert asked == [((), {})]


#: Texts on which parsers have been known to take long or to fall, each of the longest length that is looked at.
BOMBS = {
    "brackets": "answer('1a', " + "(" * 5000 + "5" + ")" * 5000 + ")",
    "few brackets": "answer('1a', " + "(" * 7 + "5" + ")" * 6,
    "calls": "answer(" * 3000,
    "few calls": "answer(" * 7 + "=" * 9,
    "signs": "answer('1a', " + "-" * 15_000 + "5)",
    "spaced signs": "answer('1a', " + "- " * 7_000 + "5)",
    "sum": "answer('1a', " + "1+" * 9_000 + "1)",
    "powers": "answer('1a', " + "9**" * 6_000 + "9)",
    "few powers": "answer('1a', 9**9**9**9)",
    "negative power of nothing": "answer('1a', 0 ** -1)",
    "power of a long number": f"answer('1a', {'9' * 59} ** 100 ** 1)",
    "product of powers": "answer('1a', " + " * ".join(["(99 ** 99)"] * 25) + ")",
    "digits": "answer('1a', " + "9" * 19_000 + ")",
    "digits and marks": "answer('1a', " + "9_" * 9_000 + "9)",
    "exponent": "answer('1a', 1e" + "9" * 19_000 + ")",
    "exponents": "answer('1a', " + "1e9" * 6_000 + ")",
    "points": "." * 20_000,
    "quotes": "'" * 20_000,
    "quotes in turn": "'\"" * 10_000,
    "texts": "answer('1a', " + "'x' " * 4_900 + ")",
    "keywords": "answer(" + "value=1," * 2_000 + ")",
    "statements": "answer('1a',5);" * 1_333,
    "semicolons": ";" * 20_000,
    "lines": "\n" * 20_000,
    "blanks": " " * 19_990 + "5",
    "tabs": "\t" * 19_990 + "5",
    "comment": "#" * 20_000,
    "commas": "answer(" + "," * 19_000 + ")",
    "stars": "answer(" + "*" * 19_000 + ")",
    "equals": "part" + "=part" * 3_900,
    "blanks of dots": "answer(" + "...," * 4_900 + ")",
    "longer": "#" * (LONGEST_CELL + 1),
    "much longer": "(" * 4_000_000,
    "long text of long lines": "answer('1a', '" + "x" * 19_000 + "')",
}


@pytest.mark.parametrize("name", BOMBS)
def test_text_that_is_made_to_be_slow_is_read_or_turned_away_in_no_time(name):
    """Processor time, against that of a plain cell of the same bounds: some thousand answers of a long cell."""
    plain = "\n".join(["answer('1a', 412.5, 'lb/gal')"] * 600)
    assert len(plain) < LONGEST_CELL
    usual = min(_time(plain) for _ in range(3))
    assert min(_time(BOMBS[name]) for _ in range(3)) < 10 * usual


def _time(source: str) -> float:
    began = time.process_time()
    read_cells(source, limits=Limits(answers=5_000))
    return time.process_time() - began


@settings(max_examples=400, deadline=None, database=None)
@given(
    st.lists(
        st.sampled_from(["answer", "(", ")", "'1a'", "5", "-", "*", "/", "=", ",", "...", "\n", ";", "#", " ", "None"]),
        max_size=60,
    ).map("".join)
    | st.text(max_size=80)
    | st.text(st.characters(exclude_categories=()), max_size=30)
)
def test_whatever_text_a_cell_holds_it_is_read_or_has_to_be_run(text):
    run = read_cells(text)
    assert run is None or run.ending is Ending.FINISHED


# Where walls are missing ----------------------------------------------------------------------------------------------


@pytest.fixture
def pitside(monkeypatch, capsys):
    def command(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["pitside", *map(str, arguments)])
        try:
            cli.main()
            status = 0
        except SystemExit as ended:
            status = int(ended.code or 0)
        said = capsys.readouterr()
        return status, said.out, said.err

    return command


def _two_of_each(school: School) -> tuple[list[str], list[str]]:
    """Hand in two scripts that can be read and two that hold code; gives their papers."""
    papers = [paper_of(school, f"aa-0{n}") for n in (1, 2, 3, 4)]
    for number, paper in enumerate(papers):
        script = script_with(school, paper, right_answers(paper.variants()))
        hand_in(school, paper, add_cell(script, "x = 6 * 7") if number > 1 else script)
    return [paper.id for paper in papers[:2]], [paper.id for paper in papers[2:]]


def test_where_nothing_can_be_walled_in_readable_scripts_are_marked_and_the_others_wait(school, pitside, monkeypatch):
    readable, with_code = _two_of_each(school)
    with monkeypatch.context() as bare:
        bare.setattr(runner_module, "_can_fork", lambda: False)
        status, said, complaint = pitside("mark", school.folder)
        again = pitside("mark", school.folder)
    assert status == 2
    assert "2 scripts marked, 0 marked before, 2 not marked\n" in said
    assert "aa-03" not in said
    assert complaint.count("\n") == 1
    assert complaint.startswith("pitside: 2 scripts hold more than answers and must be run. This machine cannot wall")
    assert "no network" in complaint
    assert complaint.rstrip().endswith(
        "Mark on a Linux machine that can, or say that you accept it (--allow-missing-walls)."
    )
    assert all(read_record(school, paper).way == Way.READ.value for paper in readable)
    assert [read_record(school, paper) for paper in with_code] == [None, None]
    assert {(one.candidate, "must be run" in one.reason) for one in read_refusals(school)} == {
        ("aa-03", True), ("aa-04", True),
    }  # fmt: skip
    assert again[0] == 2
    assert "0 scripts marked, 2 marked before, 2 not marked\n" in again[1]
    # The results say who waits, and why; and where walls are to be had, the rest is marked.
    pitside("results", school.folder)
    assert "it must be run" in (school.records / "results.csv").read_text(encoding="utf-8-sig")
    status, said, complaint = pitside("mark", school.folder, "--allow-missing-walls")
    assert (status, complaint) == (0, "")
    assert [read_record(school, paper).way for paper in with_code] == [Way.RUN.value] * 2
    assert read_refusals(school) == []


def test_where_all_scripts_can_be_read_no_room_is_opened(school, monkeypatch):
    readable, with_code = _two_of_each(school)
    for paper in with_code:
        next(school.scripts.glob(f"*{paper.split('-')[1]}-{paper.split('-')[2]}*")).unlink()

    def no_room(**_: object) -> None:
        raise AssertionError("a room was opened")

    monkeypatch.setattr(rooms, "Runner", no_room)
    assert mark_school(school, quiet).marked == len(readable)


def test_where_walls_are_missing_it_is_found_out_once(school, monkeypatch):
    _two_of_each(school)
    tried = []

    class Bare(Runner):
        def __init__(self, **how: Any) -> None:
            tried.append(how)
            super().__init__(**how, without=frozenset({"forking"}))

    monkeypatch.setattr(rooms, "Runner", Bare)
    tally = mark_school(school, quiet, How(workers=1))
    assert (tally.marked, tally.waiting, tally.refused) == (2, 2, ())
    assert len(tried) == 1


def test_run_all_runs_what_could_be_read(school, pitside, warm_room):
    readable, _ = _two_of_each(school)
    assert pitside("mark", school.folder, "--run-all")[0] == 0
    assert [read_record(school, paper).way for paper in readable] == [Way.RUN.value] * 2


#: What macOS and Windows do not have, taken away before anything of ours is imported.
_OTHER_SYSTEM = """
import os, socket, sys
for name in ("fork", "memfd_create", "pidfd_open", "setns", "unshare", "sched_getaffinity", "getsid"):
    if hasattr(os, name): delattr(os, name)
del socket.send_fds
import subprocess
subprocess.Popen = subprocess.run = None
class Hidden:
    def find_spec(self, name, *_):
        if name in ("resource", "fcntl", "pwd", "grp", "termios"): raise ModuleNotFoundError(name)
import numpy, pint, nbgrader.api, nbformat, click, rich.progress, filelock, psutil, zmq, jupyter_client
for name in ("resource", "fcntl", "pwd", "grp", "termios"): sys.modules.pop(name, None)
sys.meta_path.insert(0, Hidden())
sys.platform = "darwin"
from pathlib import Path
from grader.marking.marking import mark_school
from grader.marking.rooms import How
from grader.store.school import open_school
tally = mark_school(open_school(Path(sys.argv[1])), lambda *_: None, How(workers=1))
print(tally.marked, tally.waiting)
"""


def test_on_a_system_without_linuxs_calls_readable_scripts_are_marked_without_another_process(school):
    readable, _ = _two_of_each(school)
    done = subprocess.run(
        [sys.executable, "-c", _OTHER_SYSTEM, str(school.folder)], cwd=ROOT, capture_output=True, text=True
    )
    assert done.stdout.split() == ["2", "2"], done.stderr
    assert [read_record(school, paper).way for paper in readable] == [Way.READ.value] * 2


# Records of before ----------------------------------------------------------------------------------------------------


def test_record_of_before_has_the_digest_that_it_had(school, warm_room):
    readable, _ = _two_of_each(school)
    mark_school(school, quiet, ONE_ROOM)
    record = read_record(school, readable[0])
    data = copy.deepcopy(asdict(record))
    del data["way"]
    old = Record.from_json(json.loads(json.dumps(data)))
    assert old.way == ""
    assert old.digest != record.digest
    assert replace(record, way="").digest == old.digest
    # Worked out here from what a record held before, as it was then.
    for exercise in data["exercises"]:
        exercise["hand"] = ()
        del exercise["changes"]
    del data["for_assessor"]
    text = json.dumps(data, ensure_ascii=False, sort_keys=True)
    assert old.digest == hashlib.sha256(text.encode()).hexdigest()
