"""Long cells of plain Python skip IPython's search for magics: what comes of it is what IPython would make of them."""

from __future__ import annotations

import ast

import numpy as np
import pytest
from IPython.core.inputtransformer2 import TransformerManager

from exercises import BANK
from exercises.model import System
from exercises.model.drawing import draw
from grader.papers.notebook import given_cell
from grader.running.runner import Runner
from grader.untrusted.script import LONG_CELL, Transformers

FILLING = "\n".join(f"value_{n} = {n}" for n in range(LONG_CELL // 12)) + "\n"
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
}


@pytest.mark.parametrize("place", ["before", "after"])
@pytest.mark.parametrize("source", CELLS.values(), ids=CELLS.keys())
def test_a_long_cell_is_read_as_ipython_reads_it(source, place, recwarn):
    cell = source + FILLING if place == "before" else FILLING + source
    assert len(cell) > LONG_CELL
    assert Transformers().transform_cell(cell) == TransformerManager().transform_cell(cell)
    assert Transformers().transform_cell(source) == TransformerManager().transform_cell(source)


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
