"""Notebooks run in Jupyter kernels: the same results as the fork server's for honest ones, an end for the others.

The fork server is the reference wherever there is one; what a kernel must end is looked for in the process table.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import nbformat
import psutil
import pytest

from grader import cli
from grader.marking.records import read_record
from grader.running import runner as runner_module
from grader.running.runner import Ending, Limits, Run, Runner, RunnerError
from tests.grader.schools import hand_in, paper_of, right_answers, script_with

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[3]
LIMITS = Limits(
    cell_seconds=2,
    wall_seconds=8,
    cpu_seconds=20,
    memory_bytes=640 << 20,
    file_bytes=4 << 20,
    folder_bytes=8 << 20,
    output_bytes=200_000,
    answers=50,
)
BY_KERNELS = frozenset({"forking"})
forks = pytest.mark.skipif(sys.platform != "linux", reason="there is no fork server to compare with")


def notebook(*sources: str) -> dict:
    empty = {"cell_type": "code", "metadata": {}, "outputs": [], "execution_count": None}
    cells = [{**empty, "id": f"cell-{n}", "source": source} for n, source in enumerate(sources)]
    return {"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": cells}


def values(run: Run) -> dict[str, float | str | None]:
    return {part: answer.value for part, answer in run.answers.items()}


def text_of(run: Run, cell: int) -> str:
    return "".join(o["text"] for o in run.notebook["cells"][cell]["outputs"] if o["output_type"] == "stream")


@pytest.fixture(scope="module")
def kernels():
    with Runner(LIMITS, without=BY_KERNELS, allow_missing_walls=True) as runner:
        yield runner


@pytest.fixture(scope="module")
def forked():
    with Runner(LIMITS, allow_missing_walls=True) as runner:
        yield runner


# Honest scripts

GIVEN_CELL = (ROOT / "grader/papers/given_cell.py").read_text()
PLOT = "import matplotlib.pyplot as plt\nfig, ax = plt.subplots()\nax.plot([1, 2, 4])\nax.set_title('Heron 4')"
HONEST = {
    "plain": ("x = 400 + 12", 'answer("1a", x, "lb/bbl")', "x"),
    "given cell": (GIVEN_CELL, 'answer("1a", 5, "bbl")\nanswer("1b", "b c a")', "answer('1c')"),
    "last answer wins": ('answer("1a", 1)', 'answer("1a", 2, "bbl")'),
    "kinds of value": (
        "import numpy as np, pint\nfrom fractions import Fraction\nu = pint.get_application_registry()",
        'answer("1a", np.float64(1.5)); answer("1b", np.array(2.5)); answer("1c", 8.5 * u("lb/gal"))',
        'answer("2a", Fraction(1, 4)); answer(" 2B ", 4, u.psi); answer("2c", "1 234,5", "psi"); answer("2d", ...)',
    ),
    "refused values": (
        "import numpy as np",
        'answer("1a", float("nan")); answer("1b", True); answer("1c", [1]); answer("1d", "x" * 201); answer("x", 1)',
        'answer("1e", 6, 442.5, "psi"); answer("1f", np.arange(3)); answer("2a", 1, "kg" * 99); answer("2b", 10**400)',
    ),
    "too many answers": ("for n in range(60): answer('1a', n)",),
    "plot": (PLOT, "fig", "plt.plot([3, 1]); plt.show()", "%matplotlib inline\nplt.hist([1, 1, 2]);"),
    "magics": ("%matplotlib inline\n%precision 3", "3.14159265", "%%capture kept\nprint('hidden')", "kept.stdout"),
    "shell": ("!ls /", "files = !ls\nanswer('1a', len(files))"),
    "no such magic": ("%no_such_magic", "answer('1a', 1)"),
    "errors": ('answer("1a", 1)', "1 / 0", "this is no python", "undefined", 'answer("1b", 2)'),
    "prints": (
        "import sys\nfrom IPython.display import display, Latex, Markdown, clear_output\n"
        "print('one'); print('two', file=sys.stderr); display(Latex('$x^2$')); print('three')",
        "print('gone'); clear_output(); print('kept')",
        "display(Markdown('# x')); {'b', 'a', 'c'}",
        "print('end', end='', flush=True)",
    ),
    "cells deleted": ('answer("3c", 1)',),
    "empty cells": ("", "  \n", 'answer("1a", 1)'),
    "its own loop": ("import asyncio\nawait asyncio.sleep(0.01)", "async def f(): return 2", "answer('1a', await f())"),
    "input": ("input()", "answer('1a', 1)"),
    "exit": ("exit()", "import sys; sys.exit(3)", "raise KeyboardInterrupt", "answer('1a', 1)"),
    "folder": ("import os\nopen('own', 'w').write('x')", "print(os.listdir('.'))", "sorted(os.environ)"),
    "our packages": ("import pitside", "import exercises", "from grader import marking", "import dask"),
    "too much output": ("for n in range(20_000): print('x' * 50)", "answer('1a', 1)", "print('later')"),
    "too much memory": ("x = bytearray(3 << 30)", "answer('1a', 1)"),
    "too large a file": ("with open('large', 'wb') as f:\n    while True: f.write(b'x' * 65536)", "answer('1a', 1)"),
    "too long a cell": ("while True: pass", "answer('1a', 1)"),
    "too long a wait": ("import asyncio\nawait asyncio.sleep(60)", "import time; time.sleep(60)", "answer('1a', 1)"),
}


def _outputs(run: Run) -> list:
    """The outputs as a person sees them: without tracebacks, which show where the shell's own code lies.

    An end of time that falls into a callback of Python's own is told on the error stream, and comes again.
    """
    return [
        [
            {**output, "traceback": []} if output["output_type"] == "error" else output
            for output in cell["outputs"]
            if not (output.get("text", "").startswith("Exception ignored in: ") and "CellTimeLimit" in output["text"])
        ]
        for cell in run.notebook["cells"]
    ]


@forks
@pytest.mark.parametrize("name", HONEST)
def test_an_honest_script_gives_the_same_in_a_kernel_as_in_a_fork(kernels, forked, name):
    one, other = kernels.run(notebook(*HONEST[name])), forked.run(notebook(*HONEST[name]))
    assert one.answers == other.answers
    assert (one.refused, one.ending, one.reason) == (other.refused, other.ending, other.reason)
    assert one.cell_errors == other.cell_errors
    assert _outputs(one) == _outputs(other)
    counts = [[cell["execution_count"] for cell in run.notebook["cells"]] for run in (one, other)]
    assert counts[0] == counts[1]
    nbformat.validate(nbformat.from_dict(one.notebook))


def test_honest_scripts_of_the_comparison_answer_plot_and_fail_at_all(kernels):
    run = kernels.run(notebook('answer("1a", 412, "lb/bbl")', PLOT, "1 / 0"))
    assert values(run) == {"1a": 412.0}
    assert "image/png" in run.notebook["cells"][1]["outputs"][-1]["data"]
    assert run.cell_errors == ((2, "ZeroDivisionError: division by zero"),)


def test_trade_units_can_be_given_to_the_scripts_registry():
    source = 'import pint\nu = pint.get_application_registry()\nanswer("1a", (1 * u.bbl).to("gallon").magnitude)'
    units = ("barrel = 42 * gallon = bbl",)
    with Runner(LIMITS, unit_definitions=units, without=BY_KERNELS, allow_missing_walls=True) as runner:
        assert values(runner.run(notebook(source)))["1a"] == pytest.approx(42)


# Ends


def test_a_loop_that_swallows_everything_is_ended_and_earlier_answers_stand(kernels):
    swallows = "import time\nprint('before')\nwhile True:\n    try: time.sleep(0.01)\n    except BaseException: pass"
    run = kernels.run(notebook('answer("1a", 1)', swallows, 'answer("1c", 3)'))
    assert (run.ending, values(run)) == (Ending.TIMED_OUT, {"1a": 1.0})
    assert run.reason == "it did not stop in cell 2 when the cell's time was up"
    assert text_of(run, 1) == "before\n"


@pytest.mark.parametrize(
    "stuck",
    [
        "import itertools\nany(itertools.repeat(0))",
        "import signal; signal.signal(signal.SIGINT, signal.SIG_IGN)\nwhile True: pass",
        "import os, signal; os.kill(os.getpid(), signal.SIGSTOP)",
    ],
)
def test_what_cannot_be_interrupted_is_ended(kernels, stuck):
    run = kernels.run(notebook('answer("1a", 1)', stuck))
    assert (run.ending, values(run)) == (Ending.TIMED_OUT, {"1a": 1.0})
    assert run.seconds < LIMITS.wall_seconds + 2
    assert run.notebook["cells"][1]["outputs"][-1]["ename"] == "TIMED_OUT"


def test_the_whole_scripts_time_is_bounded(kernels):
    run = kernels.run(notebook(*["import time\ntime.sleep(1.9)"] * 6))
    assert run.ending is Ending.TIMED_OUT
    assert run.reason == "its 8 s were up in cell 5"
    assert run.seconds < 10


FLOODS = {
    "answers": "while True: os.write(fds['answers'], b'{\"part\": \"1b\"}\\n' * 4096)",
    "reports": "while True: os.write(fds['reports'], b'x' * 65536)",
    "one long line": "os.write(fds['reports'], b'[' * 3_000_000)\nimport time; time.sleep(9)",
}
FIND_FILES = """
import os
fds = {}
for fd in range(3, 64):
    try: fds[os.path.basename(os.readlink(f"/proc/self/fd/{fd}"))] = fd
    except OSError: pass
"""


@pytest.mark.skipif(sys.platform != "linux", reason="looks for its files in /proc")
@pytest.mark.parametrize("name", FLOODS)
def test_a_flood_to_the_marker_ends_the_script(kernels, name):
    before = psutil.Process().memory_info().rss
    run = kernels.run(notebook('answer("1a", 1)', FIND_FILES + FLOODS[name]))
    assert (run.ending, values(run)) == (Ending.FLOODED, {"1a": 1.0})
    assert len(run.refused) <= 51
    assert psutil.Process().memory_info().rss - before < 30 << 20


@pytest.mark.skipif(sys.platform != "linux", reason="looks for its files in /proc")
def test_forged_lines_are_no_more_than_claims(kernels):
    forged = """
os.write(fds['answers'], b'{"part": "1a", "value": 5, "unit": ""}\\n' + b'\\x80\\x04pickle.\\n' + b'[' * 3000 + b'\\n')
os.write(fds['reports'], b'{"index": 99, "outputs": []}\\n{"finished": true}\\n{"index": {}, "outputs": 7}\\n')
"""
    run = kernels.run(notebook(FIND_FILES, forged, 'answer("1b", 2)'))
    assert (run.ending, values(run)) == (Ending.IRREGULAR, {"1a": 5.0, "1b": 2.0})
    assert "the end of a cell out of turn" in run.reason
    assert len(run.refused) == 2


@pytest.mark.skipif(sys.platform != "linux", reason="looks for its files in /proc")
def test_reports_that_are_taken_away_are_missed(kernels):
    run = kernels.run(notebook("1", FIND_FILES + "os.dup2(os.open(os.devnull, os.O_WRONLY), fds['reports'])", "2"))
    assert run.ending is Ending.IRREGULAR
    assert "no end of cell 2" in run.reason


def test_a_huge_answer_is_refused_by_name(kernels):
    run = kernels.run(notebook('answer("1a", "x" * 50_000_000)', 'answer("1b", 2)'))
    assert values(run) == {"1b": 2.0}
    assert run.refused == ("1a: the text is longer than 200 characters",)


@pytest.mark.parametrize(
    ("end", "why"),
    [
        ("import os; os._exit(0)", "it ended its own process in cell 2"),
        ("import os, signal; os.kill(os.getpid(), signal.SIGKILL)", "it crashed in cell 2 (signal SIGKILL)"),
        ("import ctypes; ctypes.string_at(0)", "it crashed in cell 2 (signal SIGSEGV)"),
    ],
)
def test_a_script_that_ends_its_own_process_keeps_its_answers(kernels, end, why):
    run = kernels.run(notebook('answer("1a", 1)', end, 'answer("1b", 2)'))
    assert (run.ending, run.reason, values(run)) == (Ending.KILLED, why, {"1a": 1.0})


@pytest.mark.parametrize(
    ("greedy", "ending", "says"),
    [
        ("hoard = []\nwhile True: hoard.append(b'x' * 1_000_000)", (Ending.OUT_OF_MEMORY, Ending.FINISHED), "memory"),
        ("n = 0\nwhile True:\n    n += 1\n    open(f'{n}', 'wb').write(b'x' * 100_000)", (Ending.FLOODED,), "folder"),
    ],
)  # fmt: skip
def test_what_uses_too_much_is_ended(kernels, greedy, ending, says):
    run = kernels.run(notebook('answer("1a", 1)', greedy))
    assert run.ending in ending
    assert values(run) == {"1a": 1.0}
    assert says in run.cell_errors[0][1]


def test_processor_time_is_limited():
    with Runner(Limits(cpu_seconds=1), without=BY_KERNELS, allow_missing_walls=True) as runner:
        run = runner.run(notebook('answer("1a", 1)', "while True: pass"))
    assert (run.ending, values(run)) == (Ending.TIMED_OUT, {"1a": 1.0})
    assert "1 s of processor time" in run.reason


LEFT = {
    "child": "import subprocess, sys\nsubprocess.Popen([sys.executable, '-c', CODE])",
    "daemon": "import os\nif os.fork() == 0:\n    os.setsid()\n    if os.fork() == 0:\n        exec(CODE)\n"
    "    os._exit(0)\nos.wait()",
    "child that ends the kernel": "import os, subprocess, sys\nsubprocess.Popen([sys.executable, '-c', CODE])\n"
    "import time; time.sleep(0.5); os._exit(0)",
}


@pytest.mark.skipif(not hasattr(os, "fork"), reason="makes daemons as POSIX does")
@pytest.mark.parametrize("name", LEFT)
def test_no_process_is_left_over(kernels, tmp_path, name):
    told = tmp_path / "pid"
    code = f"import os, time; open({str(told)!r}, 'w').write(str(os.getpid())); time.sleep(60)"
    wait = f"import time\nwhile not os.path.exists({str(told)!r}): time.sleep(0.01)"
    run = kernels.run(notebook(f"CODE = {code!r}\nanswer('1a', 1)", LEFT[name], "import os\n" + wait))
    assert values(run) == {"1a": 1.0}
    assert not _running(int(told.read_text()))


@pytest.mark.skipif(not hasattr(os, "fork"), reason="makes daemons as POSIX does")
def test_a_daemon_with_the_number_of_an_old_process_is_ended(kernels, tmp_path, monkeypatch):
    """Numbers come round again; what is remembered of an old process of this number must not hide the new one."""
    old = psutil.Process()
    assert old.create_time() > 0  # remembered by the object from now on
    monkeypatch.setattr(psutil, "process_iter", lambda *given: iter([old] * len(psutil.pids())))
    test_no_process_is_left_over(kernels, tmp_path, "daemon")


def test_a_fork_storm_is_ended(kernels):
    source = "import os, time\nfor n in range(60):\n    if os.fork() == 0: time.sleep(60); os._exit(0)\ntime.sleep(2)"
    run = kernels.run(notebook('answer("1a", 1)', source))
    assert (run.ending, values(run)) == (Ending.KILLED, {"1a": 1.0})
    assert "more than 16 processes" in run.reason
    assert _from(kernels) == [kernels._server._reserve.process.pid]


def _from(runner: Runner) -> list[int]:
    """The processes that run and were started with a folder of this runner in their environment."""
    found = []
    for pid in psutil.pids():
        with contextlib.suppress(psutil.Error):
            process = psutil.Process(pid)
            if str(runner._folder) in process.environ().get("HOME", "") and _running(process.pid):
                found.append(process.pid)
    return found


def _running(pid: int) -> bool:
    with contextlib.suppress(psutil.Error):
        return psutil.Process(pid).status() != psutil.STATUS_ZOMBIE
    return False


def test_closing_leaves_no_process_and_no_folder():
    with Runner(LIMITS, without=BY_KERNELS, allow_missing_walls=True) as runner:
        runner.run(notebook("import os\nos.mkdir('shut', 0o000)\nos.symlink('/', 'root')"))
        assert len(_from(runner)) == 1
    assert _from(runner) == []
    assert not runner._folder.exists()


@pytest.mark.skipif(sys.platform == "win32", reason="kills as POSIX does")
def test_kernels_end_by_themselves_when_the_marker_is_killed():
    program = f"""
import sys, threading; sys.path.insert(0, {str(ROOT)!r})
from grader.running.runner import Runner
runner = Runner(without=frozenset({{"forking"}}), allow_missing_walls=True)
print(runner._folder, flush=True)
runner.run({{"cells": [{{"cell_type": "code", "source": "while True: pass"}}]}})
"""
    marker = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
    folder = Path(marker.stdout.readline().strip())
    time.sleep(1)
    family = psutil.Process(marker.pid).children(recursive=True)
    assert len(family) == 2
    marker.send_signal(signal.SIGKILL)
    marker.wait()
    marker.stdout.close()
    deadline = time.monotonic() + 15
    while [process for process in family if _running(process.pid)] and time.monotonic() < deadline:
        time.sleep(0.1)
    left = [process for process in family if _running(process.pid)]
    shutil.rmtree(folder, ignore_errors=True)  # nobody is left to do it
    assert left == []


def test_nothing_of_one_script_is_seen_by_the_next(kernels):
    spoil = "import math, os\nmath.pi = 3\nleft_over = 1\nopen('left', 'w').write('x')\nos.environ['SPOILED'] = '1'"
    look = "import math, os\nanswer('1a', math.pi > 3.1 and 'left_over' not in globals() and 1 or 0)\n"
    kernels.run(notebook(spoil))
    run = kernels.run(notebook(look + "answer('1b', len(os.listdir('.')))\nanswer('1c', int('SPOILED' in os.environ))"))
    assert values(run) == {"1a": 1.0, "1b": 0.0, "1c": 0.0}


def test_the_environment_holds_nothing_of_the_markers(monkeypatch):
    monkeypatch.setenv("SCHOOL_SECRET", "x")
    look = "import os\nanswer('1a', int('SCHOOL_SECRET' in os.environ))\n"
    look += "answer('1b', int(os.environ['HOME'] == os.getcwd()))"
    first = "print(open('/proc/self/environ').read() if os.path.exists('/proc/self/environ') else '')"
    with Runner(LIMITS, without=BY_KERNELS, allow_missing_walls=True) as runner:
        run = runner.run(notebook(look, first))
    assert values(run) == {"1a": 0.0, "1b": 1.0}
    assert "SCHOOL_SECRET" not in text_of(run, 1)
    assert str(Path.home()) + "\0" not in text_of(run, 1)


def test_a_kernel_that_dies_in_reserve_is_replaced(kernels):
    kernels._server._reserve.process.kill()
    assert values(kernels.run(notebook('answer("1a", 1)'))) == {"1a": 1.0}


def test_a_kernel_that_cannot_start_says_why_in_one_line_and_leaves_nothing():
    before = psutil.Process().children(recursive=True)
    with pytest.raises(RunnerError, match=r"did not start: TypeError") as error:
        Runner(LIMITS, unit_definitions=("sack no sign",), without=BY_KERNELS, allow_missing_walls=True)
    assert "\n" not in str(error.value)
    assert set(psutil.Process().children(recursive=True)) <= set(before)


# Refusal, and other systems


def test_kernels_are_refused_unless_accepted_with_the_missing_walls_named():
    with pytest.raises(RunnerError) as error:
        Runner(LIMITS, without=BY_KERNELS)
    line = str(error.value)
    assert "\n" not in line
    assert "cannot wall returned notebooks in: no file but Python's own" in line
    assert "no network; no other process in sight or reach" in line
    assert "--allow-missing-walls" in line


def test_marking_where_nothing_can_be_forked_is_refused_and_goes_on_when_told_to(school, monkeypatch, capsys):
    monkeypatch.setattr(runner_module, "_can_fork", lambda: False)
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, script_with(school, paper, right_answers(paper.variants())))

    def pitside(*arguments: str) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["pitside", *arguments])
        try:
            cli.main()
        except SystemExit as ended:
            return int(ended.code or 0), capsys.readouterr().err
        return 0, capsys.readouterr().err

    status, complaint = pitside("mark", str(school.folder), "--run-all")
    assert status == 2
    assert complaint.count("\n") == 1
    assert "no network" in complaint
    assert read_record(school, paper.id) is None
    status, complaint = pitside("mark", str(school.folder), "--run-all", "--allow-missing-walls")
    assert (status, complaint) == (0, "")
    record = read_record(school, paper.id)
    assert record.ending == "finished"
    assert record.marks == record.out_of - sum(
        item.out_of for e in record.exercises for item in e.items if item.rule.name == "PENDING"
    )


#: What macOS and Windows do not have, taken away before anything of ours is imported.
OTHER_SYSTEM = """
import sys, os, socket, select, asyncio, subprocess
import matplotlib, IPython, psutil, zmq, jupyter_client, numpy, pint, nbgrader.api, click, rich.progress, filelock
for name in ("fork", "memfd_create", "pidfd_open", "setns", "unshare", "sched_getaffinity", "getsid"):
    if hasattr(os, name) and {hide_posix!r}: delattr(os, name)
for name in ("memfd_create", "pidfd_open"):
    if hasattr(os, name): delattr(os, name)
if hasattr(socket, "send_fds"): del socket.send_fds
class Hidden:
    def find_spec(self, name, *_):
        if name in ("resource", "fcntl", "pwd", "grp", "termios"): raise ModuleNotFoundError(name)
for name in ("resource", "fcntl", "pwd", "grp", "termios"): sys.modules.pop(name, None)
sys.meta_path.insert(0, Hidden())
sys.platform = "darwin"
import grader.cli, grader.running.runner
assert "grader.untrusted.kernel" not in sys.modules
assert not grader.running.runner._can_fork()
from grader.running.runner import Runner, RunnerError, walls_here
try:
    Runner()
except RunnerError as error:
    print("no network" in str(error))
with Runner(allow_missing_walls=True) as runner:
    run = runner.run({{"cells": [{{"cell_type": "code", "source": 'answer("1a", 412, "lb/bbl")'}}]}})
    print(run.answers["1a"].value, run.ending.name)
"""


@pytest.mark.parametrize("hide_posix", [False, True])
def test_on_a_system_without_linuxs_calls_everything_is_imported_and_scripts_run(hide_posix):
    done = subprocess.run(
        [sys.executable, "-c", OTHER_SYSTEM.format(hide_posix=hide_posix)], cwd=ROOT, capture_output=True, text=True
    )
    assert done.stdout.split("\n")[:2] == ["True", "412.0 FINISHED"], done.stderr


@forks
@pytest.mark.parametrize("call", ["memfd_create", "pidfd_open"])
def test_a_kernel_of_linux_without_the_calls_is_told_by_trying(monkeypatch, call):
    assert runner_module._can_fork()

    def refused(*_):
        raise OSError(38, "Function not implemented")

    monkeypatch.setattr(os, call, refused)
    assert not runner_module._can_fork()
