"""One notebook's cells, run with the semantics of IPython, and the ``answer`` that they call.

Nothing here is trusted by the marker: what this module writes on its two pipes is a claim, checked outside.
The bounds below keep an honest script's notebook small; the hard bounds are the marker's and the kernel's.
"""

from __future__ import annotations

import ast
import base64
import contextlib
import io
import json
import os
import signal
import sys
import warnings
from collections.abc import Callable
from types import CodeType
from typing import TYPE_CHECKING, Any

import IPython
import matplotlib
import numpy
import pint
from IPython.core.compilerop import CachingCompiler
from IPython.core.displayhook import DisplayHook
from IPython.core.displaypub import DisplayPublisher
from IPython.core.inputtransformer2 import TransformerManager
from IPython.core.interactiveshell import InteractiveShell
from traitlets import Type
from traitlets.config import Config

from . import plots
from .claim import claim_of

if TYPE_CHECKING:  # its module needs calls that only Linux has
    from .cell import Bounds

#: Seconds that a cell gets, after its time is up, to stop when it is told to.
GRACE = 2.0
#: What the script's process ends with when a cell would not stop, and when memory ran out altogether.
STUBBORN, NO_MEMORY = 70, 71
#: What Python says of a text that is no program, or none that it can read.
_NOT_PLAIN = (SyntaxError, ValueError, OverflowError, RecursionError, MemoryError)


class CellTimeLimit(BaseException):
    """The cell ran longer than a cell may."""


class Outputs:
    """The outputs of the cell that runs, in nbformat's form, within a budget for the whole notebook."""

    def __init__(self, budget: int) -> None:
        self.left = budget
        self.cut = False
        self.items: list[dict[str, Any]] = []
        self._clear_next = False

    def begin(self) -> None:
        self.items = []
        self._clear_next = False

    def stream(self, name: str, text: str) -> None:
        if not self._afford(len(json.dumps(text))):
            return
        self._clear_if_asked()
        if self.items and self.items[-1]["output_type"] == "stream" and self.items[-1]["name"] == name:
            self.items[-1]["text"].append(text)
        else:
            self.items.append({"output_type": "stream", "name": name, "text": [text]})

    def add(self, item: dict[str, Any]) -> None:
        if self._afford(len(json.dumps(item))):
            self._clear_if_asked()
            self.items.append(item)

    def clear(self, wait: bool) -> None:
        self._clear_next = wait
        if not wait:
            self.items.clear()

    def _clear_if_asked(self) -> None:
        if self._clear_next:
            self.items.clear()
            self._clear_next = False

    def _afford(self, size: int) -> bool:
        if self.cut:
            return False
        self.left -= size + 60  # the rest of the item around the text
        if self.left < 0:
            self.cut = True
            note = "\n[The output went beyond what is kept; the rest is left out.]\n"
            self.items.append({"output_type": "stream", "name": "stderr", "text": [note]})
        return not self.cut

    def finished(self) -> list[dict[str, Any]]:
        return [
            {**item, "text": "".join(item["text"])} if item["output_type"] == "stream" else item for item in self.items
        ]


class Stream(io.TextIOBase):
    """Standard output or error of the cells."""

    encoding = "utf-8"

    def __init__(self, name: str, outputs: Outputs) -> None:
        self._name, self._outputs = name, outputs

    @property
    def name(self) -> str:
        return f"<{self._name}>"

    def writable(self) -> bool:
        return True

    def write(self, text: str) -> int:
        if not isinstance(text, str):
            raise TypeError(f"write() argument must be str, not {type(text).__name__}")
        if text:
            self._outputs.stream(self._name, text)
        return len(text)


class Hook(DisplayHook):
    """The value of a cell's last line becomes an execute_result."""

    shell: Any

    def write_output_prompt(self) -> None:
        pass

    def write_format_data(self, format_dict: dict, md_dict: dict | None = None) -> None:
        self.shell.outputs.add(
            {
                "output_type": "execute_result",
                "execution_count": self.prompt_count,
                "data": _as_text(format_dict),
                "metadata": {},
            }
        )

    def log_output(self, format_dict: dict) -> None:
        pass

    def finish_displayhook(self) -> None:
        self._is_active = False


class Publisher(DisplayPublisher):
    """display() becomes display_data; an update of a display is shown as one more."""

    def publish(self, data: Any, *_: Any, **__: Any) -> None:
        self.shell.outputs.add({"output_type": "display_data", "data": _as_text(data), "metadata": {}})

    def clear_output(self, wait: bool = False) -> None:
        self.shell.outputs.clear(wait)


def _as_text(data: dict) -> dict[str, str]:
    """A display's forms as text: pictures in base64, others as they are; what is neither is left out."""
    forms = {}
    for kind, value in data.items():
        if isinstance(value, bytes):
            value = base64.b64encode(value).decode()
        if isinstance(value, str):
            forms[kind] = value
    return forms


class Transformers(TransformerManager):
    """IPython's own, without a search for magics in a cell that is plain Python and so can hold none.

    That search costs more than running most cells. ``plain`` is the latest cell that was seen to be plain, ``known``
    what the shell has learned.
    """

    def __init__(self) -> None:
        super().__init__()
        self.plain = ""
        self.known: dict[str, str] = {}

    def do_token_transforms(self, lines: list[str]) -> list[str]:
        text = "".join(lines)
        with warnings.catch_warnings(), contextlib.suppress(*_NOT_PLAIN):
            warnings.simplefilter("ignore")  # they are given when the cell is compiled
            compile(text, "<cell>", "exec", dont_inherit=True)
            self.plain = text
            return lines
        return super().do_token_transforms(lines)


class Compiler(CachingCompiler):
    """IPython's own, with what :meth:`Shell.learn` has made of some cells: their trees, and the code of each node."""

    def __init__(self) -> None:
        super().__init__()
        self._trees: dict[tuple[str, str], ast.AST] = {}
        self._codes: dict[tuple[int, str, str], CodeType] = {}

    def learn(self, cell: str, name: str, tree: ast.Module) -> None:
        with self.extra_flags(ast.PyCF_ALLOW_TOP_LEVEL_AWAIT):  # as the shell has it done
            for node in tree.body:
                self._codes[id(node), name, "exec"] = self(ast.Module([node], []), name, "exec")
        self._trees[cell, name] = tree

    def ast_parse(self, source: str, filename: str = "<unknown>", symbol: str = "exec") -> Any:
        return self._trees.get((source, filename)) or super().ast_parse(source, filename, symbol)

    def __call__(self, source: Any, filename: str, symbol: str, *more: Any, **named: Any) -> CodeType:
        node = source.body[0] if isinstance(source, ast.Module) and len(source.body) == 1 else None
        return self._codes.get((id(node), filename, symbol)) or super().__call__(
            source, filename, symbol, *more, **named
        )


class Shell(InteractiveShell):
    """IPython without a terminal, a history file, other programs or windows."""

    displayhook_class = Type(Hook)
    display_pub_class = Type(Publisher)
    compiler_class = Type(Compiler)
    compile: Compiler
    input_transformer_manager: Transformers
    outputs = Outputs(0)
    last_error: str | None = None

    def learn(self, source: str) -> None:
        """Read and compile a cell that many scripts begin with: forks that run it as their first need not do so again.

        Its name in tracebacks holds the number of its run, and what was run before it could change how it is read.
        """
        cell = self.transform_cell(source)
        name = self.compile.get_code_name(source, cell, 1)
        tree = self.transform_ast(self.compile.ast_parse(cell, name))
        assert isinstance(tree, ast.Module)
        self.compile.learn(cell, name, tree)
        self.input_transformer_manager.known[source] = cell

    def transform_cell(self, raw_cell: str) -> str:
        known = self.input_transformer_manager.known.get(raw_cell) if self.execution_count == 1 else None
        if known is None:
            return super().transform_cell(raw_cell)
        self.input_transformer_manager.plain = known
        return known

    def should_run_async(self, raw_cell: str, *, transformed_cell: str | None = None, **more: Any) -> bool:
        # Nothing waits at the top of what is plain Python.
        if transformed_cell is not None and transformed_cell == self.input_transformer_manager.plain:
            return False
        return super().should_run_async(raw_cell, transformed_cell=transformed_cell, **more)

    def enable_gui(self, gui: Any = None) -> None:
        pass

    def system(self, cmd: str) -> None:  # type: ignore[override]
        print("Shell commands do not run while a notebook is marked.", file=sys.stderr)

    def getoutput(self, cmd: str, split: bool = True, depth: int = 0) -> Any:
        self.system(cmd)
        return [] if split else ""

    def transform_ast(self, node: ast.AST) -> ast.AST:
        # Ours alone leaves the rest as it is: there are no places to be filled in.
        if [type(transformer) for transformer in self.ast_transformers] == [_NoOwnAnswer]:
            return self.ast_transformers[0].visit(node)
        return super().transform_ast(node)

    @contextlib.contextmanager
    def _tee(self, channel: str):
        yield

    def _showtraceback(self, etype: Any, evalue: Any, stb: Any) -> None:
        name, value = str(getattr(etype, "__name__", etype))[:200], _said(evalue)
        if etype is MemoryError and not value:
            value = "the script used more memory than it may"
        self.last_error = f"{name}: {value}" if value else name
        self.outputs.add(
            {
                "output_type": "error",
                "ename": name,
                "evalue": value,
                "traceback": [str(line)[:10_000] for line in stb[:60]],
            }
        )


def _says_nothing() -> None:
    """What the given cell's ``unanswered`` does while a script is marked."""


def _said(error: Any) -> str:
    try:
        return str(error)[:1000]
    except Exception:  # an exception of the script's own making need not have a text
        return ""


class _NoOwnAnswer(ast.NodeTransformer):
    """Leaves out a cell's own definition of ``answer``: the given cell has one for plain Jupyter."""

    def visit_Module(self, node: ast.Module) -> ast.Module:
        node.body = [part for part in node.body if not (isinstance(part, ast.FunctionDef) and part.name == "answer")]
        return node


def ready_shell(definitions: tuple[str, ...]) -> Shell:
    """A shell with libraries and caches warm, to be forked. ``definitions``: lines for Pint's registry."""
    registry: pint.UnitRegistry = pint.UnitRegistry(on_redefinition="ignore")
    for line in definitions:
        registry.define(line)
    pint.set_application_registry(registry)
    registry.parse_units("kilogram / meter ** 3")

    config = Config()
    config.HistoryManager.enabled = False
    config.InteractiveShell.colors = "nocolor" if IPython.version_info[0] >= 9 else "NoColor"
    config.InteractiveShell.cache_size = 100
    shell = Shell.instance(config=config)
    shell.ast_transformers.append(_NoOwnAnswer())
    shell.input_transformer_manager = Transformers()

    plots.draw_once()
    plots.look_for_no_missing_fonts()
    # A plot in the server fills matplotlib's caches for every fork, as `%matplotlib inline` would.
    matplotlib.use("module://matplotlib_inline.backend_inline")
    from matplotlib import pyplot

    pyplot.switch_backend("module://matplotlib_inline.backend_inline")
    figure, axes = pyplot.subplots()
    axes.plot([0, 1], label="$x^2$")
    axes.set_title("warm")
    axes.legend()
    figure.savefig(io.BytesIO(), format="png", bbox_inches="tight")
    pyplot.close("all")
    # After a cell, pyplot draws open figures anew and the inline backend shows and closes them: in this order each
    # figure would be drawn once for nothing, so the first is put behind the second.
    pyplot.uninstall_repl_displayhook()
    pyplot.install_repl_displayhook()
    # So do a value, a magic and an error for IPython's.
    shell.outputs = Outputs(100_000)
    shell.run_cell("1", store_history=False)
    shell.run_cell("%matplotlib inline", store_history=False)
    shell.run_cell("import warm_error", store_history=False)
    shell.last_error = sys.last_type = sys.last_value = sys.last_traceback = None
    return shell


class Cells:
    """Runs cells one after another in ``shell``; ``answers`` is the descriptor that answers are written to."""

    def __init__(self, shell: Shell, output_bytes: int, most_answers: int, answers: int) -> None:
        self._shell = shell
        shell.outputs = self._outputs = Outputs(output_bytes)
        sys.stdout, sys.stderr = Stream("stdout", self._outputs), Stream("stderr", self._outputs)
        self._answer = _answer_on(answers, most_answers)
        self._count = 0

    def run(self, source: str, time: contextlib.AbstractContextManager) -> dict[str, Any]:
        """Run a cell within ``time``, which may raise :class:`CellTimeLimit` in it. Gives the report of it."""
        shell = self._shell
        shell.user_ns["answer"] = self._answer
        shell.user_ns.setdefault("unanswered", _says_nothing)  # the last cell's, where the given cell was deleted
        shell.last_error = None
        self._outputs.begin()
        self._count = shell.execution_count
        try:
            with time:
                result = shell.run_cell(source, store_history=True)
            failure = result.error_before_exec or result.error_in_exec
        except BaseException as error:  # the cell's time ran out, or it broke the shell itself
            failure = error
        if failure is not None and shell.last_error is None:  # there was no room or time to show it
            shell._showtraceback(type(failure), failure, [])
        return self.report(shell.last_error)

    def report(self, error: str | None) -> dict[str, Any]:
        """What the cell has put out so far, with its error."""
        return {"count": self._count, "outputs": self._outputs.finished(), "error": error, "cut": self._outputs.cut}

    def report_of_a_stubborn_cell(self, seconds: float) -> dict[str, Any]:
        """The report of a cell that did not stop when it was told to."""
        return self.report(f"CellTimeLimit: the cell did not stop when its {seconds:g} s were up")


def run(shell: Shell, bounds: Bounds, cells: list[list[Any]], answers: int, reports: int) -> None:
    """Run ``cells`` ([index, source] each), writing answers and each cell's outputs on two pipes as JSON lines."""
    runs = Cells(shell, bounds.output_bytes, bounds.answers, answers)
    clock = _CellClock(bounds.cell_seconds)
    for index, source in cells:
        report_on(reports, started=index)

        def stop_for_good(index: int = index) -> None:
            report_on(reports, index=index, **runs.report_of_a_stubborn_cell(bounds.cell_seconds))
            os._exit(STUBBORN)

        report = runs.run(source, clock.running(stop_for_good))
        report_on(reports, index=index, **report)
    report_on(reports, finished=True)


def report_on(descriptor: int, **message: Any) -> None:
    """Write a line of JSON to the marker."""
    _write(descriptor, json.dumps(message).encode() + b"\n")


class _CellClock:
    """Tells a cell to stop when its time is up, again and again, and ends the process if it will not."""

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._told = 0
        self._stop_for_good: Any = None
        signal.signal(signal.SIGALRM, self._ring)

    def _ring(self, *_: Any) -> None:
        self._told += 1
        if self._told * 0.5 > GRACE:
            self._stop_for_good()
        raise CellTimeLimit(f"stopped after {self._seconds:g} s")

    @contextlib.contextmanager
    def running(self, stop_for_good: Any):
        self._told, self._stop_for_good = 0, stop_for_good
        signal.signal(signal.SIGALRM, self._ring)
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGALRM})
        signal.setitimer(signal.ITIMER_REAL, self._seconds, 0.5)
        try:
            yield
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0)


def _write(descriptor: int, data: bytes, write: Callable[[int, memoryview], int] = os.write) -> None:
    view = memoryview(data)
    while view:
        view = view[write(descriptor, view) :]


def _answer_on(descriptor: int, most: int):
    claim, plain, write, quantity, units = claim_of, of_python, os.write, pint.Quantity, pint.Unit
    given = 0

    def answer(part: Any, value: Any = None, unit: Any = "", *more: Any) -> None:
        """Hand in your answer to one part: answer("2a", 412, "lb/bbl")."""
        nonlocal given
        given += 1
        if given > most + 1:
            return
        if given == most + 1:  # this one still goes out, so that the marker can say so too
            print(f"No more than {most} answers are recorded.")
        if hasattr(value, "magnitude") and hasattr(value, "units") and isinstance(value, quantity):
            unit = unit or str(value.units)
            value = value.magnitude
        line, shown = claim(part, plain(value), str(unit) if isinstance(unit, units) else unit, *more)
        write(descriptor, line)
        print(shown)

    return answer


def of_python(value: Any) -> Any:
    """A value of NumPy's that stands for one of Python as that; any other as it is."""
    if isinstance(value, numpy.ndarray) and value.ndim == 0:
        value = value.item()
    return bool(value) if isinstance(value, numpy.bool_) else value
