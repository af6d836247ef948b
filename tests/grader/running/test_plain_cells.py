"""Cells of plain Python skip IPython's search for magics, and the printed cell is compiled once for many scripts: what
comes of them is what IPython would make of them."""

from __future__ import annotations

import ast
import codeop
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from IPython.core.compilerop import CachingCompiler
from IPython.core.inputtransformer2 import TransformerManager

from exercises import BANK
from exercises.model import System
from exercises.model.drawing import draw
from grader.papers.notebook import given_cell
from grader.running.runner import Runner
from grader.untrusted.script import Compiler, Transformers

FILLING = "\n".join(f"value_{n} = {n}" for n in range(160)) + "\n"
CELLS = {
    "plain": "x = 5\n",
    "magic": "%matplotlib inline\nx = 1\n",
    "assigned magic": "x = %who_ls\n",
    "shell": "!ls\n",
    "assigned shell": "y = !ls\n",
    "help": "print?\n",
    "help inside": "if True:\n    print?\n",
    "cell magic": "%%time\nx = 1\n",
    "prompts": ">>> x = 1\n>>> y = 2\n",
    "indented": "    x = 1\n    y = 2\n",
    "remainder over lines": "x = (7\n%2)\n",
    "text with signs": 's = """\n%matplotlib inline\n!ls\nprint?\n"""\n',
    "await": "await something\n",
    "broken": "x = (\n",
    "nought": "x = 'a\0b'\n",
    "bad escape": "x = '\\d'\n",
    "answer": 'answer("2a", 412, "lb/bbl")',
    "remainder": "x = 7 \\\n  %2\n",
    "assignments in brackets": "x = dict(\na\n= 1)\n",
    "conversion in a text": "x = 1\nf'{x=!r}'\n",
    "nothing": "",
    "comment": "# %matplotlib inline\n",
    "semicolon": "x = 1;\nx;\n",
}
#: Of what magics, calls of the shell, help and plain Python are made.
PIECES = (
    *(
        "x",
        "y",
        " = ",
        "%",
        "%%time",
        "!",
        "?",
        "??",
        "\n",
        "    ",
        "(",
        ")",
        "[",
        "]",
        "1",
        "'",
        '"""',
        ";",
        ", ",
        "/",
    ),
    *("ls", "if x:", "lambda: ", ">>> ", "In [1]: ", "...: ", "\\", "#", "await ", "\t", "+ ", "f'{x", "!r}'"),
)


@pytest.mark.parametrize("place", ["alone", "before", "after"])
@pytest.mark.parametrize("source", CELLS.values(), ids=CELLS.keys())
def test_a_cell_is_read_as_ipython_reads_it(source, place, recwarn):
    cell = {"alone": source, "before": source + FILLING, "after": FILLING + source}[place]
    assert Transformers().transform_cell(cell) == TransformerManager().transform_cell(cell)


@settings(max_examples=400, deadline=None)
@given(st.lists(st.sampled_from(PIECES), max_size=12).map("".join))
def test_whatever_a_cell_holds_it_is_read_as_ipython_reads_it(cell):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of escapes and the like, which IPython gives
        assert Transformers().transform_cell(cell) == TransformerManager().transform_cell(cell)


def test_the_given_cell_is_searched_for_no_magics(monkeypatch):
    exercise = BANK["column-pressure"]
    source = given_cell((draw(exercise, np.random.default_rng(1), System.FIELD),))["source"]
    plain = TransformerManager().transform_cell(source)

    def searched(*_: object) -> None:
        raise AssertionError("it was searched")

    monkeypatch.setattr(TransformerManager, "do_token_transforms", searched)
    assert Transformers().transform_cell(source) == plain
    ast.parse(plain)
    with pytest.raises(AssertionError, match="searched"):
        Transformers().transform_cell("!ls\n" + source)


def test_what_was_learned_is_neither_parsed_nor_compiled_again_under_its_name(monkeypatch):
    cell = "x = 1\ndef half(y):\n    return y / 2\n"
    tree, compiler = ast.parse(cell), Compiler()
    compiler.learn(cell, "<first>", tree)
    code = compiler(ast.Module([tree.body[1]], []), "<first>", "exec")
    assert code.co_filename == "<first>"

    def again(*_: object) -> None:
        raise AssertionError("it was read again")

    monkeypatch.setattr(CachingCompiler, "ast_parse", again)
    monkeypatch.setattr(codeop.Compile, "__call__", again)
    assert compiler.ast_parse(cell, "<first>") is tree
    assert compiler(ast.Module([tree.body[1]], []), "<first>", "exec") is code
    for other in (
        lambda: compiler.ast_parse(cell, "<second>"),
        lambda: compiler.ast_parse(cell + "# ", "<first>"),
        lambda: compiler(ast.Module([tree.body[1]], []), "<second>", "exec"),
        lambda: compiler(ast.Module([ast.parse(cell).body[1]], []), "<first>", "exec"),
        lambda: compiler(ast.Module([tree.body[1]], []), "<first>", "single"),
    ):
        with pytest.raises(AssertionError, match="read again"):
            other()


PRINTED = """\
import math
TABLE = {"2a": ("a density", 1.5)}
def half(x):
    if not x:
        raise ValueError(f"nothing to halve in {TABLE}")
    return x / 2
def answer(part, value=None, unit=""):
    raise RuntimeError("the room has its own")
half(3)"""
AFTER = {
    "used": ('answer("2a", half(3))\nprint(TABLE, In[1][:11], Out, _)', "half(0)"),
    "twice": (PRINTED, "half(0)"),
    "changed by a future": ("from __future__ import annotations", PRINTED, "print(half.__annotations__)"),
    "seen from inside": ("import inspect\nprint(inspect.getsource(half), get_ipython().execution_count)",),
}


@pytest.mark.parametrize("first", ["printed", "another"])
@pytest.mark.parametrize("after", AFTER.values(), ids=AFTER)
def test_a_script_runs_alike_whether_its_first_cell_was_learned_or_not(room: Runner, after, first):
    sources = (PRINTED, *after) if first == "printed" else ("1 / 0", PRINTED, *after)
    cells = [{"cell_type": "code", "source": s, "metadata": {}, "outputs": [], "id": f"c{n}"}
             for n, s in enumerate(sources)]  # fmt: skip
    whole = {"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": cells}
    plain, learned = room.run(whole), room.run(whole, PRINTED)
    assert learned.notebook == plain.notebook
    assert (learned.answers, learned.cell_errors) == (plain.answers, plain.cell_errors)


def test_a_printed_cell_that_is_no_python_is_run_as_any_other(room: Runner):
    cell = {"cell_type": "code", "source": "x = (", "metadata": {}, "outputs": [], "id": "c"}
    other = {**cell, "source": "answer('1a', 1)", "id": "d"}
    run = room.run({"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": [cell, other]}, "x = (")
    assert [index for index, _ in run.cell_errors] == [0]
    assert run.answers["1a"].value == 1.0


def test_long_cells_run_with_magics_and_errors_where_they_stand(room: Runner):
    sources = [
        FILLING + "%matplotlib inline\nimport matplotlib\nprint(value_3, matplotlib.get_backend())",
        FILLING + "print(value_4)\n1 / 0",
        FILLING + "def answer(*_): raise RuntimeError\nanswer('1a', 4, 'm')",
    ]
    cells = [{"cell_type": "code", "source": s, "metadata": {}, "outputs": [], "id": f"c{n}"}
             for n, s in enumerate(sources)]  # fmt: skip
    run = room.run({"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": cells})
    texts = ["".join(o.get("text", "") for o in cell["outputs"]) for cell in run.notebook["cells"]]
    assert texts[0].startswith("3 ") and "inline" in texts[0] and texts[1] == "4\n"
    assert [index for index, _ in run.cell_errors] == [1]
    trace = "".join(run.notebook["cells"][1]["outputs"][-1]["traceback"])
    assert f"line {FILLING.count(chr(10)) + 2}" in trace or f"{FILLING.count(chr(10)) + 2} 1 / 0" in trace
    assert run.answers["1a"].value == 4.0
