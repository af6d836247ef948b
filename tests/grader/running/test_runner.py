"""The runner against honest and hostile notebooks. What each hostile one must not reach is set up here, outside
the room: a secret file, a listener, a process to kill."""

from __future__ import annotations

import ast
import base64
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grader.running import runner as runner_module
from grader.running.checked_answers import Answer, checked_answer, checked_outputs
from grader.running.runner import Ending, Limits, Run, Runner, RunnerError, walls_here
from tests.sharing import a_few

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="the walls are Linux's")

LIMITS = Limits(
    cell_seconds=2,
    wall_seconds=7,
    cpu_seconds=10,
    memory_bytes=512 << 20,
    file_bytes=2 << 20,
    folder_bytes=8 << 20,
    output_bytes=200_000,
    answers=50,
)
#: The ways in which the walls can be had: all of them, and with one kind missing.
WAYS = {"all": (), "no-namespaces": ("namespaces",), "no-landlock": ("landlock",), "no-seccomp": ("seccomp",)}


def notebook(*sources: str) -> dict:
    empty = {"cell_type": "code", "metadata": {}, "outputs": [], "execution_count": None}
    cells = [{**empty, "id": f"cell-{n}", "source": source} for n, source in enumerate(sources)]
    return {"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": cells}


def values(run: Run) -> dict[str, float | str | None]:
    return {part: answer.value for part, answer in run.answers.items()}


def text_of(run: Run, cell: int) -> str:
    return "".join(o["text"] for o in run.notebook["cells"][cell]["outputs"] if o["output_type"] == "stream")


@pytest.fixture(scope="module")
def room():
    with Runner(LIMITS) as runner:
        yield runner


@pytest.fixture(scope="module", params=WAYS)
def each_room(request):
    with Runner(LIMITS, without=frozenset(WAYS[request.param])) as runner:
        yield runner


# Honest scripts


def test_an_honest_script_gives_answers_and_an_executed_notebook(room):
    run = room.run(notebook("x = 400 + 12", 'answer("1a", x, "lb/bbl")', "x"))
    assert run.answers == {"1a": Answer("1a", 412.0, "lb/bbl")}
    assert (run.ending, run.refused, run.cell_errors) == (Ending.FINISHED, (), ())
    assert text_of(run, 1) == "1a: recorded 412 lb/bbl\n"
    result = run.notebook["cells"][2]["outputs"][0]
    assert (result["output_type"], result["data"]["text/plain"], result["execution_count"]) == (
        "execute_result", "412", 3,
    )  # fmt: skip


def test_the_executed_notebook_is_valid_nbformat_and_the_one_sent_is_untouched(room):
    import nbformat

    sent = notebook("print('a')", "1/0", "import matplotlib.pyplot as plt\nplt.plot([1, 2])", "7")
    before = json.dumps(sent)
    run = room.run(sent)
    nbformat.validate(nbformat.from_dict(run.notebook))
    assert json.dumps(sent) == before


def test_the_last_answer_to_a_part_wins(room):
    run = room.run(notebook('answer("1a", 1)', 'answer("1a", 2, "bbl")'))
    assert run.answers == {"1a": Answer("1a", 2.0, "bbl")}


def test_text_blanks_quantities_and_numpy_numbers_are_answers(room):
    run = room.run(
        notebook(
            "import numpy as np, pint\nfrom fractions import Fraction\nfrom decimal import Decimal",
            'answer("1a", "b c a")\nanswer("1b", "1 234,5", "psi")\nanswer("1c")\nanswer("1d", ...)',
            'answer("2a", np.float64(1.5))\nanswer("2b", np.int32(3))\nanswer("2c", np.array(2.5))',
            'u = pint.get_application_registry()\nanswer("3a", 8.5 * u("lb/gal"))',
            'answer("3b", Fraction(1, 4))\nanswer("3c", Decimal("0.5"))\nanswer(" 3D ", 4, u.psi)',
            'answer("4a.row-1.volume", 5)\nanswer("4b", "1\\u202f234,5\\u200b\\n", "k\\tPa")',
        )
    )
    assert run.refused == ()
    assert values(run) == {
        "1a": "b c a", "1b": "1 234,5", "1c": None, "1d": None, "2a": 1.5, "2b": 3.0, "2c": 2.5, "3a": 8.5,
        "3b": 0.25, "3c": 0.5, "3d": 4.0, "4a.row-1.volume": 5.0,
        "4b": "1 234,5",
    }  # fmt: skip
    assert run.answers["3a"].unit == "pound / gallon"
    assert run.answers["3d"].unit == "pound_force_per_square_inch"


def test_a_crash_in_a_cell_keeps_the_later_cells(room):
    run = room.run(notebook('answer("1a", 1)', "undefined_name", "this is no python", 'answer("1b", 2)'))
    assert values(run) == {"1a": 1.0, "1b": 2.0}
    assert run.ending is Ending.FINISHED
    assert [index for index, _ in run.cell_errors] == [1, 2]
    assert run.cell_errors[0][1] == "NameError: name 'undefined_name' is not defined"
    error = run.notebook["cells"][1]["outputs"][0]
    assert (error["output_type"], error["ename"]) == ("error", "NameError")


def test_a_figure_comes_back_as_a_png(room):
    for first in ("%matplotlib inline", ""):
        run = room.run(notebook(first + "\nimport matplotlib.pyplot as plt", "plt.plot([1, 2]);", "plt.show()"))
        outputs = run.notebook["cells"][1]["outputs"]
        assert [o["output_type"] for o in outputs] == ["display_data"], run.cell_errors
        assert base64.b64decode(outputs[0]["data"]["image/png"]).startswith(b"\x89PNG")


def test_streams_and_displays_keep_their_order(room):
    source = """
import sys
from IPython.display import display, Latex, clear_output
print("one"); print("two", file=sys.stderr); display(Latex("$x^2$")); print("three")
"""
    outputs = room.run(notebook(source)).notebook["cells"][0]["outputs"]
    assert [(o["output_type"], o.get("name")) for o in outputs] == [
        ("stream", "stdout"), ("stream", "stderr"), ("display_data", None), ("stream", "stdout"),
    ]  # fmt: skip
    assert outputs[2]["data"]["text/latex"] == "$x^2$"


def test_shell_commands_say_that_they_do_not_run(room):
    run = room.run(notebook("!ls /\nlisting = !ls", 'answer("1a", len(listing))'))
    assert "do not run" in text_of(run, 0)
    assert values(run) == {"1a": 0.0}


def test_the_given_cells_answer_for_plain_jupyter_gives_way_to_the_rooms(room):
    given_cell = "recorded = {}\ndef answer(part, value, unit=''):\n    recorded[part] = value\nanswer('1a', 1)"
    run = room.run(notebook(given_cell, "answer('1b', 2)\nassert not recorded"))
    assert values(run) == {"1a": 1.0, "1b": 2.0}
    assert run.cell_errors == ()


def test_markdown_cells_and_empty_cells_are_left_alone(room):
    sent = notebook('answer("1a", 1)', "  \n")
    sent["cells"].insert(0, {"cell_type": "markdown", "id": "m", "metadata": {}, "source": "# Paper"})
    run = room.run(sent)
    assert run.notebook["cells"][0] == sent["cells"][0]
    assert values(run) == {"1a": 1.0}


def test_source_may_be_a_list_of_lines(room):
    sent = notebook("")
    sent["cells"][0]["source"] = ["x = 1\n", 'answer("1a", x)']
    assert values(room.run(sent)) == {"1a": 1.0}


@pytest.mark.parametrize("broken", [None, [], {}, {"cells": "x"}, {"cells": {}}, {"worksheets": []}])
def test_what_is_no_notebook_is_not_run(room, broken):
    run = room.run(broken)
    assert run.ending is Ending.NOT_RUN
    assert "no list of cells" in run.reason


def test_a_notebook_that_is_too_large_is_not_run(room):
    assert room.run(notebook(*["1"] * 1001)).ending is Ending.NOT_RUN
    assert room.run(notebook("#" * (9 << 20))).ending is Ending.NOT_RUN


def test_cells_of_odd_shapes_do_no_harm(room):
    sent = notebook('answer("1a", 1)')
    sent["cells"] += [None, 5, {}, {"cell_type": "code"}, {"cell_type": "raw", "source": 3}]
    deep: list = []
    for _ in range(800):
        deep = [deep]
    sent["metadata"]["deep"] = deep
    assert values(room.run(sent)) == {"1a": 1.0}


def test_trade_units_can_be_given_to_the_scripts_registry():
    source = 'import pint\nu = pint.get_application_registry()\nanswer("1a", (1 * u.bbl).to("gallon").magnitude)'
    with Runner(LIMITS, unit_definitions=("barrel = 42 * gallon = bbl",)) as runner:
        assert values(runner.run(notebook(source)))["1a"] == pytest.approx(42)


# Values that are no answers


@pytest.mark.parametrize(
    ("value", "why"),
    [
        ("float('nan')", "not a finite number"),
        ("float('inf')", "not a finite number"),
        ("1e400", "not a finite number"),
        ("-1e400", "not a finite number"),
        ("True", "true or false"),
        ("1 + 2j", "complex"),
        ("[1, 2]", "list"),
        ("{'a': 1}", "dict"),
        ("__import__('numpy').arange(3)", "ndarray"),
        ("10 ** 400", "of that size"),
        ("'x' * 201", "longer than 200"),
        ("'\U0001f6e2' * 100000", "longer than 200"),
        ("object()", "object"),
        ("print", "builtin_function"),
        ("6, 442.5, 'psi'", "comma"),
    ],
)
def test_a_value_that_is_no_answer_is_refused_by_name(room, value, why):
    run = room.run(notebook(f'answer("1a", {value})', 'answer("1b", 2)'))
    assert values(run) == {"1b": 2.0}
    assert len(run.refused) == 1
    assert run.refused[0].startswith("1a: ")
    assert why in run.refused[0]
    assert "not recorded" in text_of(run, 0) or "longer" in why


@pytest.mark.parametrize(
    "part", ["'a'", "'1'", "'../1a'", "'1a' * 50", "'1a\\n2b'", "7", "None", "'1\u0430'", "'1a.x.y.z.w'"]
)
def test_a_name_that_is_no_part_is_refused(room, part):
    run = room.run(notebook(f"answer({part}, 1)", 'answer("1b", 2)'))
    assert values(run) == {"1b": 2.0}
    assert len(run.refused) == 1
    assert "no name of a part" in run.refused[0]


def test_a_long_unit_is_refused(room):
    run = room.run(notebook("answer('1a', 1, 'kg' * 5000)"))
    assert run.refused == ("1a: the unit is longer than 60 characters",)


def test_no_more_answers_than_allowed_are_read(room):
    run = room.run(notebook("for n in range(500): answer('1a', n)"))
    assert values(run) == {"1a": LIMITS.answers - 1}
    assert run.refused == (f"answers after the first {LIMITS.answers} were not read",)
    assert run.ending is Ending.FINISHED


# Claims: what a script may write on the pipes by itself


@given(st.binary(max_size=300))
@settings(deadline=None)
def test_any_bytes_are_an_answer_or_a_line_for_a_person(line):
    assert isinstance(checked_answer(line), Answer | str)


TEXT = st.text(st.characters(), max_size=20)  # lone surrogates too: JSON can spell them, UTF-8 cannot
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXT, inner, max_size=4),
    max_leaves=12,
)


@given(st.fixed_dictionaries({"part": st.just("1a") | JSON, "value": JSON, "unit": JSON}))
@settings(max_examples=300, deadline=None)
def test_any_claim_is_a_bounded_answer_or_a_line_for_a_person(claim):
    answer = checked_answer(json.dumps(claim).encode())
    if isinstance(answer, Answer):
        assert answer.part == "1a"
        assert type(answer.value) in (float, str, type(None))
        assert not isinstance(answer.value, str) or len(answer.value) <= 200
        assert not isinstance(answer.value, float) or abs(answer.value) < float("inf")
        assert len(answer.unit) <= 60
        assert f"{answer.value}{answer.unit}".isprintable()
    else:
        assert "\n" not in answer
        assert answer.isprintable()
        assert len(answer) < 200


@pytest.mark.parametrize(
    "line",
    [b"[" * 4000, b'{"a":' * 600, b"9" * 4000, b'{"part":"1a","value":1e999}', b'{"part":"1a","value":NaN}', b"\xff",
     b'{"part":"1a","value":' + b"9" * 3900 + b"}", b'{"part":"1a","value":[1]}', b'{"part":"1a","value":true}'],
)  # fmt: skip
def test_a_hostile_line_is_refused(line):
    assert isinstance(checked_answer(line), str)


OUTPUT = st.fixed_dictionaries(
    {"output_type": st.sampled_from(["stream", "display_data", "execute_result", "error"])},
    optional=dict.fromkeys(("name", "text", "data", "ename", "traceback", "execution_count"), JSON),
)


@given(JSON | st.lists(OUTPUT, max_size=4))
@settings(deadline=None)
def test_any_claimed_outputs_become_valid_nbformat(claimed):
    import nbformat

    book = notebook("x")
    book["cells"][0]["outputs"] = checked_outputs(json.loads(json.dumps(claimed)))
    json.dumps(book, ensure_ascii=False).encode()
    nbformat.validate(nbformat.from_dict(book))


def test_outputs_that_a_page_would_run_are_left_out():
    shown = {
        "text/plain": "<b>", "text/html": "<script>x</script>", "image/svg+xml": "<svg onload=x>",
        "application/javascript": "x", "text/markdown": "[x](javascript:x)", "text/latex": "</script>",
        "image/png": '"><script>', "image/jpeg": base64.b64encode(b"no picture").decode(),
    }  # fmt: skip
    assert checked_outputs([{"output_type": "display_data", "data": shown}]) == [
        {"output_type": "display_data", "metadata": {}, "data": {"text/plain": "<b>"}}
    ]


FIND_PIPES = """
import os
pipes = []
for fd in range(3, 64):
    try:
        os.fstat(fd); pipes.append(fd)
    except OSError: pass
def say(data):
    for fd in pipes:
        try: os.write(fd, data)
        except OSError: pass
"""


def test_forged_lines_on_the_pipes_are_no_more_than_claims(room):
    forged = """
say(b'{"part": "1a", "value": 5, "unit": ""}\\n')
say(b'\\x00\\xff garbage\\n' + b'[' * 3000 + b'\\n')
say(b'{"index": 0, "outputs": [{"output_type": "stream", "name": "stdout", "text": "forged"}], "error": 3}\\n')
say(b'{"index": 99, "outputs": []}\\n{"finished": true}\\n{"started": true}\\n{"index": {}, "outputs": 7}\\n')
"""
    run = room.run(notebook(FIND_PIPES, forged, 'answer("1b", 2)'))
    assert values(run) == {"1a": 5.0, "1b": 2.0}
    assert run.ending is Ending.IRREGULAR
    assert "in cell 2 something that is no report" in run.reason
    assert len(run.refused) >= 2
    assert all(line.isprintable() for line in run.refused)
    assert text_of(run, 0).startswith("[Not shown: its process reported this cell twice")


#: Forged reports of cell 2 of 3, what is said of them, and whether what the forger wrote of cell 2 can be shown.
FORGED_CELL = (
    '{"index": 1, "outputs": [{"output_type": "stream", "name": "stdout", "text": "counterfeit"}], "error": null}'
)
FORGERIES = {
    "the end, then an exit": (['{"finished": true}'], "though cell 2 was not", True),
    "its own end and all": ([FORGED_CELL, '{"finished": true}'], "though cell 3 was not", False),
    "a later cell": (['{"started": 2}'], "the beginning of a cell out of turn", True),
    "an earlier cell": ([FORGED_CELL.replace("1", "0", 1)], "the end of a cell out of turn", True),
    "twice the end": ([FORGED_CELL, '{"started": 2}', '{"index": 2}', *['{"finished": true}'] * 2], "twice", False),
}


@pytest.mark.parametrize("name", FORGERIES)
def test_a_forged_report_and_an_exit_do_not_read_as_a_run_to_the_end(room, name):
    lines, says, hides = FORGERIES[name]
    forge = FIND_PIPES + "".join(f"say({line.encode()!r} + b'\\n')\n" for line in lines) + "os._exit(0)"
    run = room.run(notebook('answer("1a", 1)\nprint("mine")', forge, 'answer("1b", 2)'))
    assert run.ending in (Ending.IRREGULAR, Ending.KILLED)
    assert says in run.reason
    assert "which no run of its cells does" in run.reason
    assert run.answers.keys() == {"1a"}
    assert ("counterfeit" in text_of(run, 1)) is not hides
    assert "counterfeit" not in text_of(run, 0) + text_of(run, 2)


def test_the_outputs_of_a_cell_that_is_reported_twice_are_not_shown(room):
    forge = FIND_PIPES + f"print('mine')\nsay({FORGED_CELL.encode()!r} + b'\\n')"
    run = room.run(notebook("1", forge, 'answer("1b", 2)\nprint("later")'))
    assert run.ending is Ending.IRREGULAR
    assert "the end of a cell out of turn" in run.reason
    assert text_of(run, 1).startswith("[Not shown")
    assert "counterfeit" not in json.dumps(run.notebook["cells"][1]["outputs"])
    assert values(run) == {"1b": 2.0}


def test_that_all_cells_were_run_is_told_as_the_scripts_own_word(room):
    """A cell can do whatever its process can: one that reports every later cell in turn and ends cannot be told."""
    assert room.run(notebook("1")).reason == "its process says that all cells were run"


@pytest.mark.parametrize("data", ["b'x' * 65536", 'b\'{"part": "1a"}\\n\' * 4096', "b'\\n' * 65536"])
def test_a_flood_on_the_pipes_ends_the_script(room, data):
    before = _memory()
    run = room.run(notebook('answer("1a", 1)', FIND_PIPES + f"while True: say({data})"))
    assert run.ending is Ending.FLOODED
    assert values(run) == {"1a": 1.0}
    assert len(run.refused) <= 51
    assert _memory() - before < 30 << 20


def _memory() -> int:
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGESIZE")


# Limits


def test_a_cell_that_runs_too_long_is_stopped_and_the_rest_is_run(room):
    run = room.run(notebook("while True: pass", 'answer("1a", 1)'))
    assert run.ending is Ending.FINISHED
    assert values(run) == {"1a": 1.0}
    assert run.cell_errors == ((0, "CellTimeLimit: stopped after 2 s"),)


SWALLOWS = """
import time
answer("1b", 2)
print("before")
while True:
    try:
        time.sleep(0.001)
    except BaseException: pass
    finally:
        continue
"""


def test_a_loop_that_swallows_everything_is_ended_and_earlier_answers_stand(room):
    run = room.run(notebook('answer("1a", 1)', SWALLOWS, 'answer("1c", 3)'))
    assert run.ending is Ending.TIMED_OUT
    assert values(run) == {"1a": 1.0, "1b": 2.0}
    assert "cell 2" in run.reason
    assert run.seconds < 6.5
    assert "before" in text_of(run, 1)


@pytest.fixture(scope="module")
def impatient_room():
    with Runner(Limits(cell_seconds=0.5, wall_seconds=1)) as runner:
        yield runner


@pytest.mark.parametrize(
    "stuck",
    a_few([
        "import itertools\nany(itertools.repeat(0))",  # a loop in C that looks at no signal
        "import signal; signal.setitimer(signal.ITIMER_REAL, 0)\nwhile True: pass",
        "import signal; signal.pthread_sigmask(signal.SIG_BLOCK, signal.valid_signals())\nwhile True: pass",
        "import time, signal; signal.signal(signal.SIGALRM, signal.SIG_IGN); time.sleep(60)",
        "import ctypes, itertools; ctypes.CDLL(None).prctl(1, 0)\nany(itertools.repeat(0))",  # PR_SET_PDEATHSIG off
    ], 2),
)  # fmt: skip
def test_what_cannot_be_interrupted_is_ended_by_the_wall_clock(impatient_room, stuck):
    run = impatient_room.run(notebook('answer("1a", 1)', stuck))
    assert run.ending is Ending.TIMED_OUT
    assert values(run) == {"1a": 1.0}
    assert run.seconds < 2.5
    assert run.notebook["cells"][1]["outputs"][-1]["ename"] == "TIMED_OUT"


def test_a_cell_that_awaits_or_asks_for_input_does_not_hang(room):
    waits = "import asyncio\nawait asyncio.sleep(60)"
    run = room.run(notebook(waits, "await asyncio.sleep(0)\ninput()", 'answer("1a", 1)'))
    assert values(run) == {"1a": 1.0}
    assert run.cell_errors[0][1] == "CellTimeLimit: stopped after 2 s"
    assert run.cell_errors[1][1].startswith("EOFError")


def test_processor_time_is_limited_too():
    with Runner(Limits(cell_seconds=20, wall_seconds=20, cpu_seconds=1)) as runner:
        run = runner.run(notebook('answer("1a", 1)', "while True: pass"))
    assert run.ending is Ending.TIMED_OUT
    assert "processor" in run.reason
    assert values(run) == {"1a": 1.0}


def test_a_big_allocation_fails_and_the_rest_is_run(room):
    run = room.run(notebook("x = bytearray(3 << 30)", "import numpy as np\ny = np.ones(1 << 30)", 'answer("1a", 1)'))
    assert values(run) == {"1a": 1.0}
    assert [error.partition(":")[0] for _, error in run.cell_errors] == ["MemoryError", "MemoryError"]


def test_memory_filled_bit_by_bit_ends_in_an_error_or_in_out_of_memory(room):
    run = room.run(notebook('answer("1a", 1)', "hoard = []\nwhile True: hoard.append(b'x' * 10_000_000)"))
    assert values(run) == {"1a": 1.0}
    assert run.ending in (Ending.FINISHED, Ending.OUT_OF_MEMORY)
    assert "memory" in run.cell_errors[0][1]


def test_an_output_flood_is_cut_and_the_rest_is_run(room):
    run = room.run(notebook("for n in range(200_000): print('x' * 50)", 'answer("1a", 1)', "print('later')"))
    assert run.ending is Ending.FLOODED
    assert values(run) == {"1a": 1.0}
    assert len(json.dumps(run.notebook)) < 2 * LIMITS.output_bytes
    assert "left out" in text_of(run, 0)


def test_control_characters_and_pictures_count_as_output(room):
    flood = "for n in range(50): print('\\x00\\U0001f6e2' * 5000)"
    picture = "display(Image(data=b'\\x89PNG' + b'x' * 5000))"
    pictures = f"from IPython.display import display, Image\nfor n in range(300): {picture}"
    for source in (flood, pictures):
        run = room.run(notebook(source))
        assert run.ending is Ending.FLOODED
        assert len(json.dumps(run.notebook)) < 2 * LIMITS.output_bytes


def test_one_large_file_and_many_small_ones_are_bounded(each_room):
    large = "with open('large', 'wb') as f:\n    while True: f.write(b'x' * 65536)"
    many = "n = 0\nwhile True:\n    with open(f'small-{n}', 'wb') as f: f.write(b'x' * 1_000_000)\n    n += 1"
    free = shutil.disk_usage(each_room._folder).free
    lowest = []

    def watch() -> None:
        while not done.wait(0.02):
            lowest.append(shutil.disk_usage(each_room._folder).free)

    done = threading.Event()
    watcher = threading.Thread(target=watch)
    watcher.start()
    run = each_room.run(notebook('answer("1a", 1)', large, many, 'answer("1b", 2)'))
    done.set()
    watcher.join()
    assert run.answers["1a"].value == 1.0
    assert run.cell_errors[0][1].startswith("OSError: [Errno 27]")  # file too large
    if "namespaces" in each_room._without:
        assert run.ending is Ending.FLOODED
        assert "folder" in run.reason
    else:
        assert run.ending is Ending.FINISHED
        assert run.cell_errors[1][1].startswith("OSError: [Errno 28]")  # no space left
        assert run.answers["1b"].value == 2.0
    assert free - min(lowest) < 1 << 30
    assert list(each_room._folder.iterdir()) == []


def test_a_script_that_ends_its_own_process_keeps_its_answers(room):
    for end, why in (
        ("import os; os._exit(0)", "ended its own process in cell 2"),
        ("import ctypes; ctypes.string_at(0)", "SIGSEGV"),
        ("import os; os.abort()", "crashed in cell 2"),
    ):
        run = room.run(notebook('answer("1a", 1)', end, 'answer("1b", 2)'))
        assert run.ending is Ending.KILLED
        assert why in run.reason
        assert values(run) == {"1a": 1.0}
        assert run.notebook["cells"][1]["outputs"][0]["output_type"] == "error"


def test_exit_and_keyboard_interrupt_are_errors_of_a_cell(room):
    run = room.run(notebook("exit()", "import sys; sys.exit(3)", "raise KeyboardInterrupt", 'answer("1a", 1)'))
    assert values(run) == {"1a": 1.0}
    assert run.ending is Ending.FINISHED


def test_threads_left_over_do_not_outlive_the_script(room):
    source = "import threading, time\nfor n in range(3): threading.Thread(target=lambda: time.sleep(99)).start()"
    run = room.run(notebook(source, 'answer("1a", 1)'))
    assert values(run) == {"1a": 1.0}
    assert run.seconds < 3


# Walls

TRY = """
def can(attempt):
    try:
        attempt()
    except Exception:
        return 0
    return 1
"""


def test_files_outside_can_be_neither_read_nor_written_nor_changed(each_room, tmp_path):
    secret = tmp_path / "school.key"
    secret.write_text("secret")
    for path in (tmp_path, secret):
        path.chmod(0o777)
    before = secret.stat()
    source = f"""
import os
paths = {[str(secret), __file__, "/etc/passwd", "/etc/hostname", "/proc/self/environ", "/proc/1/cmdline"]!r}
for n, path in enumerate(paths):
    answer(f"1{{'abcdefgh'[n]}}", can(lambda: open(path).read()))
secret = paths[0]
answer("2a", can(lambda: open(secret, "a").write("x")))
answer("2b", can(lambda: os.chmod(secret, 0o644)))
answer("2c", can(lambda: os.utime(secret, (0, 0))))
answer("2d", can(lambda: os.unlink(secret)))
answer("2e", can(lambda: open(os.path.dirname(secret) + "/new", "w")))
answer("2f", can(lambda: (os.symlink(secret, "link"), open("link").read())))
answer("2g", can(lambda: (os.link(secret, "hard"), open("hard").read())))
answer("2h", can(lambda: os.listdir(os.path.dirname(secret))))
answer("2i", can(lambda: os.rename(secret, secret + "x")))
answer("2j", can(lambda: os.chown(secret, 1, 1)))
answer("2k", can(lambda: os.truncate(secret, 0)))
answer("2l", can(lambda: open("own", "w").write("x")))
"""
    run = each_room.run(notebook(TRY, source))
    assert run.cell_errors == ()
    expected = dict.fromkeys([f"1{x}" for x in "abcdef"] + [f"2{x}" for x in "abcdefghijk"], 0.0)
    assert values(run) == {**expected, "2l": 1.0}
    after = secret.stat()
    assert secret.read_text() == "secret"
    assert (after.st_mode, after.st_mtime, after.st_uid) == (before.st_mode, before.st_mtime, before.st_uid)
    assert [p.name for p in tmp_path.iterdir()] == ["school.key"]


def test_installed_packages_that_hold_model_answers_cannot_be_imported(monkeypatch):
    """jinja2 stands for a package of ours that lies in site-packages."""
    monkeypatch.setattr(runner_module, "HIDDEN_PACKAGES", ("jinja2",))
    source = "from jinja2 import Template"
    ours = "\n".join(
        f"answer('2{letter}', can(lambda: __import__('{name}')))"
        for letter, name in zip("abcde", ("pitside", "exercises", "grader", "book", "solutions"), strict=True)
    )
    for without in (frozenset(), frozenset({"namespaces"})):
        with Runner(LIMITS, without=without) as runner:
            run = runner.run(notebook(TRY, source, ours, "import numpy, pint"))
        assert [index for index, _ in run.cell_errors] == [1], run.cell_errors
        assert values(run) == dict.fromkeys(("2a", "2b", "2c", "2d", "2e"), 0.0)


@pytest.mark.slow
def test_an_installed_copy_of_the_project_is_hidden(tmp_path):
    """The project installed by pip, not for editing: model answers lie beside numpy, and the room's code too."""
    environment = tmp_path / "environment"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", environment], check=True)
    (libraries,) = environment.glob("lib/python3*/site-packages")
    (libraries / "others.pth").write_text(str(Path(numpy.__file__).parent.parent))
    shutil.copytree(Path(runner_module.__file__).parents[1], libraries / "grader")
    (libraries / "exercises").mkdir()
    (libraries / "exercises/__init__.py").write_text("MODEL_ANSWER = 412")
    for path in (tmp_path, libraries / "exercises"):
        path.chmod(0o755)
    secret = str(libraries / "exercises/__init__.py")
    look = f"""
def imported():
    from exercises import MODEL_ANSWER
answer("1a", can(imported))
answer("1b", can(lambda: open({secret!r}).read()))
answer("1c", can(lambda: __import__("grader.running.runner").runner))
"""
    program = """
import json, sys
from grader.running.runner import Runner
book = json.load(sys.stdin)
for without in ((), ("namespaces",), ("landlock",)):
    with Runner(without=frozenset(without)) as runner:
        run = runner.run(book)
        print(json.dumps([{part: answer.value for part, answer in run.answers.items()}, run.cell_errors]))
"""
    done = subprocess.run(
        [environment / "bin/python", "-c", program], input=json.dumps(notebook(TRY, look, "import numpy, pint")),
        capture_output=True, text=True, cwd="/", env={},
    )  # fmt: skip
    held = [{"1a": 0.0, "1b": 0.0, "1c": 0.0}, []]
    assert [json.loads(line) for line in done.stdout.splitlines()] == [held] * 3, done.stderr


def test_no_socket_reaches_a_listener_on_this_machine(each_room, tmp_path):
    abstract = f"\0listener-{os.getpid()}"
    with (
        socket.create_server(("127.0.0.1", 0)) as tcp,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as udp,
        socket.socket(socket.AF_UNIX) as unix,
        socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as plain,
        socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as secret,
    ):
        datagrams, hidden = str(tmp_path / "datagrams"), abstract + "-datagrams"
        plain.bind(datagrams)
        secret.bind(hidden)
        for path in (tmp_path, Path(datagrams)):
            path.chmod(0o777)
        udp.bind(("127.0.0.1", 0))
        unix.bind(abstract)
        unix.listen()
        source = f"""
import socket
def udp():
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as s: s.sendto(b"x", ("127.0.0.1", {udp.getsockname()[1]}))
def unix():
    with socket.socket(socket.AF_UNIX) as s: s.connect({abstract!r})
def through_a_pair(address):
    for kind in (socket.SOCK_DGRAM, socket.SOCK_STREAM):
        one, other = socket.socketpair(socket.AF_UNIX, kind)
        if can(lambda: one.sendto(b"x", address)) or can(lambda: (one.connect(address), one.send(b"x"))): return
    raise OSError
answer("1a", can(lambda: socket.create_connection(("127.0.0.1", {tcp.getsockname()[1]}), 1)))
answer("1b", can(udp))
answer("1c", can(unix))
answer("1d", can(lambda: socket.create_connection(("192.0.2.1", 80), 1)))
answer("1e", can(lambda: socket.getaddrinfo("example.org", 80)))
answer("1f", can(lambda: through_a_pair({datagrams!r})))
answer("1g", can(lambda: through_a_pair({hidden!r})))
"""
        run = each_room.run(notebook(TRY, source))
        assert values(run) == dict.fromkeys([f"1{x}" for x in "abcdefg"], 0.0), run.cell_errors
        for listener in (tcp, udp, unix, plain, secret):
            listener.settimeout(0.05)
            with pytest.raises(TimeoutError):
                listener.accept() if listener in (tcp, unix) else listener.recv(1)


def test_no_signal_reaches_the_marker_or_the_server(each_room):
    heard: list[int] = []
    previous = signal.signal(signal.SIGUSR1, lambda number, _: heard.append(number))
    try:
        porter = each_room._server._process.pid
        source = f"""
import os, signal, ctypes, resource
for pid in ({os.getpid()}, {porter}, os.getppid(), -1, 0, 1, 2, 3):
    if pid != os.getpid():
        can(lambda: os.kill(pid, signal.SIGUSR1 if pid == {os.getpid()} else signal.SIGKILL))
can(lambda: os.killpg(0, 9))
answer("1a", can(lambda: os.kill({os.getpid()}, 0)))
answer("1b", can(lambda: resource.prlimit({os.getpid()}, resource.RLIMIT_NOFILE, (3, 3))))
answer("1c", can(lambda: os.listdir("/proc/{os.getpid()}")))
answer("1d", 1 if ctypes.CDLL(None).ptrace(16, {os.getpid()}, 0, 0) == 0 else 0)
"""
        run = each_room.run(notebook(TRY, source))
        assert values(run) == dict.fromkeys(("1a", "1b", "1c", "1d"), 0.0), (run.reason, run.cell_errors)
        assert heard == []
        assert each_room._server._process.pid == porter
        assert each_room._server._process.poll() is None
        assert values(each_room.run(notebook('answer("1a", 1)'))) == {"1a": 1.0}
        assert each_room._server._process.pid == porter
    finally:
        signal.signal(signal.SIGUSR1, previous)


DAEMON = """
import ctypes, os, time
def daemon():
    if os.fork() == 0:
        os.setsid()
        if os.fork() == 0:
            ctypes.CDLL(None).prctl(15, b"{name}")
            while True: time.sleep(1)
        os._exit(0)
answer("1a", can(daemon))
answer("1b", can(lambda: os.execv("/bin/sh", ["sh", "-c", "sleep 60"])))
answer("1c", can(lambda: __import__("subprocess").run(["/usr/bin/env"])))
time.sleep(0.2)
"""


def test_no_daemon_is_left_over(each_room):
    """Where new processes are not refused outright (no seccomp), they end with their script's process tree."""
    name = f"left-{os.getpid()}"
    forks = "seccomp" in each_room._without
    run = each_room.run(notebook(TRY, DAEMON.replace("{name}", name)))
    assert values(run) == {"1a": float(forks), "1b": 0.0, "1c": 0.0}, run.cell_errors
    assert _named(name) == []


def _named(name: str) -> list[int]:
    found = []
    for process in Path("/proc").iterdir():
        try:
            if process.name.isdigit() and (process / "comm").read_text().strip() == name:
                found.append(int(process.name))
        except OSError:
            continue
    return found


BOMB = """
import os, time
born = 0
for n in range(2000):
    try:
        if os.fork() == 0:
            while True: time.sleep(9)
        born += 1
    except OSError: break
answer("1a", born)
for n in range(300):
    try: os.fork()
    except OSError: pass
"""


def test_a_fork_storm_is_held(each_room):
    run = each_room.run(notebook(BOMB))
    assert run.answers["1a"].value <= (LIMITS.processes if "seccomp" in each_room._without else 0)
    assert len(_tree(each_room._server._process.pid)) <= 3
    assert values(each_room.run(notebook('answer("1a", 1)'))) == {"1a": 1.0}


def _tree(pid: int) -> list[int]:
    below: dict[int, list[int]] = {}
    for process in Path("/proc").iterdir():
        if process.name.isdigit():
            try:
                parent = int((process / "stat").read_text().rpartition(")")[2].split()[1])
            except OSError:
                continue
            below.setdefault(parent, []).append(int(process.name))
    found, waiting = [], [pid]
    while waiting:
        current = waiting.pop()
        found.append(current)
        waiting += below.get(current, [])
    return found


def test_a_thread_storm_is_held(room):
    source = """
import threading, time
count = 0
try:
    while count < 5000:
        threading.Thread(target=lambda: time.sleep(99), daemon=True).start(); count += 1
except (RuntimeError, MemoryError): pass
answer("1a", count)
"""
    run = room.run(notebook("import threading\nthreading.stack_size(65536)", source))
    assert run.answers["1a"].value <= LIMITS.processes


def test_kernel_doors_are_shut(room):
    source = """
import ctypes, os
libc = ctypes.CDLL(None, use_errno=True)
answer("1a", 1 if libc.unshare(0x10000000) == 0 else 0)
answer("1b", 1 if libc.mount(b"none", b"/candidate", b"tmpfs", 0, None) == 0 else 0)
answer("1c", can(lambda: os.memfd_create("x")))
answer("1d", 1 if libc.shmget(0, 4096, 0o1600) >= 0 else 0)
answer("1e", can(lambda: os.chroot(".")))
answer("1f", can(lambda: os.setuid(0)))
answer("1g", can(lambda: __import__("socket").socket(40, 1)))
answer("1h", can(lambda: __import__("fcntl").fcntl(0, 8, 1)))
answer("1i", can(lambda: open("/dev/tty")))
answer("1j", can(lambda: os.mknod("device", 0o20600, os.makedev(1, 1))))
"""
    assert values(room.run(notebook(TRY, source))) == dict.fromkeys([f"1{x}" for x in "abcdefghij"], 0.0)


def test_the_environment_holds_nothing_of_the_markers(room, monkeypatch):
    monkeypatch.setenv("SCHOOL_SECRET", "x")
    with Runner(LIMITS) as runner:
        run = runner.run(notebook("import os\nanswer('1a', ' '.join(sorted(os.environ))[:200])"))
    assert "SCHOOL_SECRET" not in run.answers["1a"].value
    assert "HOME" in run.answers["1a"].value


# One script and the next


def test_nothing_of_one_script_is_seen_by_the_next(each_room):
    spoil = """
import builtins, json, os, sys, numpy, pint, math
open("left", "w").write("x")
left_over = 1
math.pi = 3
numpy.pi = 3
pint.get_application_registry().define("barrel = 1 * meter")
json.dumps = lambda *a, **k: "{}"
os.write = lambda *a: 0
builtins.float = str
builtins.print = None
sys.modules["numpy"] = None
get_ipython().ast_transformers.clear()
answer = None
os.environ["SPOILED"] = "1"
"""
    look = """
import builtins, math, numpy, os, pint
answer("1a", math.pi == numpy.pi > 3.1 and 1 or 0)
answer("1b", 1 if "left_over" in globals() else 0)
answer("1c", len(os.listdir(".")))
answer("1d", 1 if "SPOILED" in os.environ else 0)
answer("1e", (1 * pint.get_application_registry().barrel).to("gallon").magnitude)
"""
    each_room.run(notebook(spoil))
    clean = values(each_room.run(notebook(look)))
    assert clean["1e"] == pytest.approx(31.5)  # Pint's own barrel
    assert {part: clean[part] for part in ("1a", "1b", "1c", "1d")} == {"1a": 1.0, "1b": 0.0, "1c": 0.0, "1d": 0.0}


def test_a_script_finds_no_other_script_in_its_memory(room):
    """The server never reads a notebook, so a fork of it holds none of an earlier one's text."""
    word = "marram" + os.urandom(8).hex()
    room.run(notebook(f"secret = {word!r}"))
    source = f"""
import gc
half, other = {word[:11]!r}, {word[11:]!r}
texts = [v for o in gc.get_objects() if isinstance(o, dict) for v in list(o.values()) if type(v) is str]
answer("1a", sum(half + other in text for text in texts))
"""
    assert values(room.run(notebook(source))) == {"1a": 0.0}


def test_a_monkeypatched_answer_harms_only_its_own_cell(room):
    run = room.run(notebook('answer = lambda *a: None\nanswer("1a", 1)', 'answer("1b", 2)'))
    assert values(run) == {"1b": 2.0}


def test_the_folder_is_emptied_whatever_was_left_in_it(each_room):
    deep = "import os\nfor n in range(2000):\n    os.mkdir('d'); os.chdir('d')\nopen('x', 'w').write('x')"
    odd = "import os\nos.symlink('/', 'root'); os.mkdir('shut', 0o000); open('a\\nb', 'w').close()"
    run = each_room.run(notebook('answer("1a", 1)', odd + "\n" + deep))
    assert values(run) == {"1a": 1.0}
    assert run.ending in (Ending.FINISHED, Ending.FLOODED)
    assert list(each_room._folder.iterdir()) == []


# The server


def test_a_server_that_dies_is_started_again(room):
    with Runner(LIMITS) as runner:
        victim = runner._server._process.pid
        threading.Timer(0.5, lambda: os.kill(victim, signal.SIGKILL)).start()
        run = runner.run(notebook('answer("1a", 1)', "import time; time.sleep(0.9)", "time.sleep(0.9)"))
        assert run.ending is Ending.KILLED
        assert values(run) == {"1a": 1.0}
        assert values(runner.run(notebook('answer("1b", 2)'))) == {"1b": 2.0}
        os.kill(runner._server._process.pid, signal.SIGKILL)
        time.sleep(0.1)
        assert values(runner.run(notebook('answer("1c", 3)'))) == {"1c": 3.0}


def test_closing_leaves_no_process_folder_or_open_file():
    before = _open_files()
    with Runner(LIMITS) as runner:
        runner.run(notebook("1"))
        processes = _tree(runner._server._process.pid)
        assert len(processes) == 3
    deadline = time.monotonic() + 3
    while [pid for pid in processes if Path(f"/proc/{pid}").exists()] and time.monotonic() < deadline:
        time.sleep(0.02)
    assert [pid for pid in processes if Path(f"/proc/{pid}").exists()] == []
    assert not runner._folder.exists()
    assert _open_files() == before


def _open_files() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


@pytest.mark.parametrize("without", a_few(["", "namespaces", "seccomp", "namespaces seccomp"], 1))
def test_rooms_end_when_the_marker_is_killed(without):
    """A marker that gets kill -9 in the middle of a script leaves no process behind, whatever the script wants."""
    source = "import ctypes; ctypes.CDLL(None).prctl(1, 0)\nwhile True: pass"  # 1: PR_SET_PDEATHSIG
    program = f"""
import sys; sys.path.insert(0, {str(Path(runner_module.__file__).parents[2])!r})
from grader.running.runner import Runner
runner = Runner(allow_missing_walls=True, without=frozenset({without!r}.split()))
print(runner._server._process.pid, runner._folder, flush=True)
runner.run({{"cells": [{{"cell_type": "code", "source": {source!r}}}]}})
"""
    marker = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
    said = marker.stdout.readline().split()
    porter, folder = int(said[0]), Path(said[1])
    assert folder.is_dir()
    expected = 3 if "namespaces" in without else 4
    deadline = time.monotonic() + 5
    while len(processes := _tree(porter)) < expected and time.monotonic() < deadline:
        time.sleep(0.02)
    assert len(processes) == expected
    time.sleep(0.3)
    marker.kill()
    marker.wait()
    marker.stdout.close()
    deadline = time.monotonic() + 5
    while [pid for pid in processes if _alive(pid)] and time.monotonic() < deadline:
        time.sleep(0.02)
    assert [pid for pid in processes if _alive(pid)] == []
    assert not folder.exists()


def test_a_script_that_would_outlive_the_server_ends_with_it():
    """Without namespaces and seccomp a script can see to it that it does not end with its parent."""
    with Runner(Limits(), allow_missing_walls=True, without=frozenset({"namespaces", "seccomp"})) as runner:
        source = "import ctypes; ctypes.CDLL(None).prctl(1, 0)\nanswer('1a', 1)\nwhile True: pass"  # PR_SET_PDEATHSIG
        runs: list[Run] = []
        thread = threading.Thread(target=lambda: runs.append(runner.run(notebook(source))))
        thread.start()
        deadline = time.monotonic() + 5
        while len(processes := _tree(runner._server._process.pid)) < 3 and time.monotonic() < deadline:
            time.sleep(0.02)
        _, server, script = processes
        time.sleep(0.5)
        os.kill(server, signal.SIGTERM)  # as the porter does when the marker is gone
        thread.join()
        assert values(runs[0]) == {"1a": 1.0}
        assert runs[0].ending is Ending.KILLED
        assert not _alive(script)


def _alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_runners_in_threads_do_not_mix_their_scripts():
    results: dict[int, list] = {}

    def work(number: int) -> None:
        with Runner(LIMITS) as runner:
            results[number] = [values(runner.run(notebook(f'answer("1a", {number * 100 + n})'))) for n in range(5)]

    threads = [threading.Thread(target=work, args=(number,)) for number in (1, 2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert results == {number: [{"1a": float(number * 100 + n)} for n in range(5)] for number in (1, 2)}


def test_memory_of_the_marker_stays_flat(room):
    source = notebook("print('x' * 100_000)", "import matplotlib.pyplot as plt\nplt.plot([1, 2])")
    room.run(source)
    before = _memory()
    for _ in range(15):
        room.run(source)
    assert _memory() - before < 5 << 20


# What is said about the walls


def test_walls_here_tells_what_stands():
    walls = walls_here()
    assert any("no network" in line for line in walls.standing)
    assert any("no file" in line for line in walls.standing)
    assert walls.essential == ()


def test_a_machine_without_an_essential_wall_is_refused_unless_accepted():
    bare = frozenset({"namespaces", "landlock", "seccomp"})
    with pytest.raises(RunnerError, match="cannot wall returned notebooks in: no file") as error:
        Runner(LIMITS, without=bare)
    assert "\n" not in str(error.value)
    with Runner(LIMITS, without=bare, allow_missing_walls=True) as runner:
        assert any("no network" in line for line in runner.missing)
        assert values(runner.run(notebook('answer("1a", 1)'))) == {"1a": 1.0}


def test_a_room_that_cannot_start_says_why_in_one_line_and_leaves_nothing(monkeypatch):
    before = _open_files()
    with pytest.raises(RunnerError, match=r"did not start: TypeError") as error:
        Runner(LIMITS, unit_definitions=("sack no sign",))
    assert "\n" not in str(error.value)
    monkeypatch.setattr(runner_module, "LIBRARIES", ("no_such_library",))
    with pytest.raises(RunnerError, match="no_such_library is missing: install"):
        Runner(LIMITS)
    monkeypatch.setattr(runner_module.tempfile, "tempdir", "/no/such/folder")
    with pytest.raises(RunnerError, match="No temporary folder"):
        Runner(LIMITS)
    assert _open_files() == before


def test_room_and_marker_cannot_import_each_other():
    allowed = {"numpy", "pint", "matplotlib", "IPython", "traitlets", "ipykernel"} | set(sys.stdlib_module_names)
    for path in runner_module.UNTRUSTED.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                names = [node.module]
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 1, f"{path.name} imports from above its folder"
            assert {name.partition(".")[0] for name in names} <= allowed, path.name
    for path in runner_module.UNTRUSTED.parent.glob("*.py"):
        assert "grader.untrusted" not in path.read_text().replace("grader/untrusted", ""), path.name


@pytest.mark.parametrize(("most", "says"), [(0, "No temporary folder can be made"), (1000, "File too large")])
def test_a_limit_of_file_size_on_the_marker_gives_one_line(most, says):
    program = f"""
import resource, sys; sys.path.insert(0, {str(Path(runner_module.__file__).parents[2])!r})
from grader.running.runner import Runner, RunnerError
resource.setrlimit(resource.RLIMIT_FSIZE, ({most}, {most}))
try:
    with Runner() as runner:
        runner.run({{"cells": [{{"cell_type": "code", "source": "#" * 3000}}]}})
except RunnerError as error:
    print(error)
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.count("\n") == 1
    assert says in done.stdout
