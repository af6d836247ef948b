"""What a run of a notebook is, and what its process has said so far; the same whichever way notebooks are run."""

from __future__ import annotations

import enum
import os
import signal
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from grader.running.checked_answers import (
    LONGEST_ANSWER_LINE,
    Answer,
    Lines,
    checked_answer,
    checked_outputs,
    clip,
    parsed,
)

MOST_REFUSALS = 50
MOST_CELLS = 1000
LARGEST_SOURCE = 8 << 20


class RunnerError(Exception):
    """The machine, not a script, is the reason why scripts cannot be run; one line says how to mend it."""


class WallsMissingError(RunnerError):
    """An essential wall cannot be had here, and nobody has said that it may be missing."""


class Ending(enum.Enum):
    """How a run ended. After every ending the answers given before it stand."""

    FINISHED = "finished"  # as its own process says: every cell was run, to its end or to its own error
    IRREGULAR = "irregular"  # its process reported what no run of its cells reports
    TIMED_OUT = "timed out"  # a cell would not stop, or the script's wall or processor time was up
    OUT_OF_MEMORY = "out of memory"
    KILLED = "killed"  # it crashed, or ended its own process, before its last cell
    FLOODED = "flooded"  # it put out more than is kept; what was over is left out
    NOT_RUN = "not run"  # the notebook has no cells that could be run, or is too large


@dataclass(frozen=True)
class Limits:
    """What one script may use.

    cell_seconds: a cell is told to stop then, and 2 s later the script is ended. wall_seconds, cpu_seconds: the
    whole script. memory_bytes: address space of a process, of which Python and its libraries take about 0.3 GB.
    file_bytes: one file. folder_bytes: its temporary folder. processes: processes and threads together.
    output_bytes: the outputs of all cells. answers: calls of ``answer``. spare_bytes: memory that the machine must
    still have to give; what runs when it has less is ended.
    """

    cell_seconds: float = 10
    wall_seconds: float = 30
    cpu_seconds: int = 30
    memory_bytes: int = 1 << 30
    file_bytes: int = 10 << 20
    folder_bytes: int = 64 << 20
    processes: int = 16
    output_bytes: int = 2 << 20
    answers: int = 500
    spare_bytes: int = 256 << 20


USUAL_LIMITS = Limits()


@dataclass(frozen=True)
class Run:
    """What came of one notebook.

    answers: by part, the last one given wins. refused: a line for each answer that was not accepted, and why.
    reason: the ending, for a person. notebook: a new one with the outputs of this run; what it has in common with
    the one that was sent is shared, not copied.
    cell_errors: (cell index, "NameError: ...") for each cell that ended in an error. seconds: wall time.
    """

    answers: dict[str, Answer]
    refused: tuple[str, ...]
    ending: Ending
    reason: str
    notebook: dict[str, Any]
    cell_errors: tuple[tuple[int, str], ...]
    seconds: float


@dataclass(frozen=True)
class Walls:
    """Lines for a person: the walls that stand, those that do not, and which of the latter are essential."""

    standing: tuple[str, ...]
    missing: tuple[str, ...]
    essential: tuple[str, ...]


_TWICE = {"output_type": "stream", "name": "stderr",
          "text": "[Not shown: its process reported this cell twice, so one of the reports is forged.]\n"}  # fmt: skip


class Said:
    """What one script has said so far, checked. ``cells``: the (index, source) of each cell that is run.

    ``answer_lines`` and ``report_lines`` cut the two streams of bytes that come from its process into lines of JSON,
    which go to ``take_answer`` and ``take_report``.

    The cells run in the process that reports on them, so a cell can write any report that the process can: that all
    cells were run, and what they put out, is the script's own word. What is held against it is the order in which an
    honest process reports: each cell begins and ends once, in turn, and then all are finished. ``irregular`` says
    what was out of order first; the outputs of a cell that was reported twice are not shown, for one of the reports
    is forged.
    """

    def __init__(self, cells: list[tuple[int, str]], limits: Limits) -> None:
        self._limits = limits
        self._to_come = [index for index, _ in reversed(cells)]
        self._running: int | None = None
        self._given = 0
        overhead = 2048 * (len(cells) + 2)
        longest = limits.output_bytes + 8192
        self.answer_lines = Lines(LONGEST_ANSWER_LINE, (limits.answers + 10) * LONGEST_ANSWER_LINE)
        self.report_lines = Lines(longest, limits.output_bytes + overhead + 8192)
        self.answers: dict[str, Answer] = {}
        self.refused: list[str] = []
        self.outputs: dict[int, tuple[list[dict[str, Any]], int | None]] = {}
        self.errors: dict[int, str] = {}
        self.started: int | None = None
        self.done = False
        self.irregular = ""
        self.cut = False
        self.ending = Ending.FINISHED
        self.reason = ""

    @property
    def flooded(self) -> bool:
        """Whether the process has sent more than a script may, so that nothing more of it is read."""
        return self.answer_lines.flooded or self.report_lines.flooded

    @property
    def where(self) -> str:
        """The cell that runs, for a sentence about it."""
        return f" in cell {self.started + 1}" if self.started is not None else ""

    def take_answer(self, line: bytes) -> None:
        """Note an answer, or why it is not accepted."""
        self._given += 1
        if self._given > self._limits.answers:
            if self._given == self._limits.answers + 1:
                self.refuse(f"answers after the first {self._limits.answers} were not read")
            else:  # an honest ``answer`` has stopped by now
                self.answer_lines.flooded = True
            return
        answer = checked_answer(line)
        if isinstance(answer, str):
            self.refuse(answer)
        else:
            self.answers[answer.part] = answer

    def take_report(self, line: bytes) -> None:
        """Note that a cell has begun or ended, or that all have."""
        message = parsed(line)
        message = message if isinstance(message, dict) else {}
        if message.get("finished") is True:
            self._take_finish()
        elif "started" in message:
            self._take_start(message["started"])
        elif "index" in message:
            self._take_cell(message)
        else:
            self._object("something that is no report")

    def _take_finish(self) -> None:
        if self.done:
            self._object("twice that all cells were run")
        elif self._running is not None or self._to_come:
            self._object(f"that all cells were run, though cell {self._next + 1} was not")
        else:
            self.done, self.started = True, None

    def _take_start(self, index: object) -> None:
        if self._running is None and self._to_come and index == self._next and type(index) is int:
            self._running = self.started = self._to_come.pop()
        else:
            self._object("the beginning of a cell out of turn")

    def _take_cell(self, message: dict[str, Any]) -> None:
        index = message.get("index")
        if type(index) is not int or index != self._running:
            self._object("the end of a cell out of turn")
            if type(index) is int and index in self.outputs:
                self.outputs[index] = ([_TWICE], None)
            return
        self._running = None
        count = message.get("count")
        count = count if type(count) is int and 0 < count <= MOST_CELLS else None
        self.outputs[index] = (checked_outputs(message.get("outputs")), count)
        error = message.get("error")
        if isinstance(error, str):
            self.errors[index] = clip(error, 300)
        if message.get("cut") is True:
            self.cut = True

    @property
    def _next(self) -> int:
        """The cell whose end, or else whose beginning, is reported next."""
        return self._to_come[-1] if self._running is None else self._running

    def _object(self, report: str) -> None:
        self.irregular = self.irregular or f"its process reported{self.where} {report}"

    def finish(self, ending: Ending, reason: str) -> None:
        """Note how it ended; where that was in the middle of a cell, the cell shows it."""
        self.ending, self.reason = ending, reason
        if ending is Ending.FINISHED and self.cut:
            self.ending = Ending.FLOODED
            self.reason = f"{reason}; output beyond {self._limits.output_bytes >> 10} kB is left out"
        if ending is Ending.FINISHED and (self._to_come or self._running is not None):
            self._object(f"no end of cell {self._next + 1}")
        if self.irregular:
            if ending is Ending.FINISHED:
                self.ending = Ending.IRREGULAR
            self.reason = f"{self.irregular}, which no run of its cells does; {self.reason}"
        if self.ending is not Ending.FINISHED and self.started is not None:
            self.errors.setdefault(self.started, f"{self.ending.name}: {self.reason}")
            error = {"output_type": "error", "ename": self.ending.name, "evalue": self.reason,
                     "traceback": [self.reason]}  # fmt: skip
            self.outputs.setdefault(self.started, ([error], None))

    def told(self, notebook: dict[str, Any], seconds: float) -> Run:
        cells = list(notebook["cells"])
        for index, cell in enumerate(cells):
            if isinstance(cell, dict) and cell.get("cell_type") == "code":
                outputs, count = self.outputs.get(index, ([], None))
                cells[index] = {**cell, "outputs": outputs, "execution_count": count}
        executed = {**notebook, "cells": cells}
        errors = tuple(sorted(self.errors.items()))
        return Run(self.answers, tuple(self.refused), self.ending, self.reason, executed, errors, seconds)

    def refuse(self, line: str) -> None:
        if len(self.refused) < MOST_REFUSALS:
            self.refused.append(line)
        elif len(self.refused) == MOST_REFUSALS:
            self.refused.append("more answers were not accepted; they are not listed")


def code_cells(notebook: Any) -> tuple[list[tuple[int, str]], str]:
    """(index, source) of each code cell, or why there are none to run."""
    cells = notebook.get("cells") if isinstance(notebook, dict) else None
    if not isinstance(cells, list):
        return [], "the file is no notebook of format 4: it has no list of cells"
    code, size = [], 0
    for index, cell in enumerate(cells):
        if not isinstance(cell, dict) or cell.get("cell_type") != "code":
            continue
        source = cell.get("source", "")
        if isinstance(source, list) and all(isinstance(line, str) for line in source):
            source = "".join(source)
        if not isinstance(source, str):
            return [], f"cell {index + 1} has a source that is no text"
        size += len(source)
        if source.strip():
            code.append((index, source))
    if len(code) > MOST_CELLS or size > LARGEST_SOURCE:
        return [], f"the notebook is larger than {MOST_CELLS} code cells or {LARGEST_SOURCE >> 20} MB of code"
    return code, ""


def signal_name(number: int) -> str:
    """The name of the signal that ended a process."""
    try:
        return signal.Signals(number).name
    except ValueError:
        return str(number)


def remove_tree(top: Path) -> None:
    """Remove a folder that an unknown hand has filled, however deep it goes, following no link."""
    if top.is_symlink() or not top.is_dir():
        top.unlink(missing_ok=True)
        return
    waiting = [top]
    while waiting:  # folders inside folders are lifted to the top first, so that no path grows long
        folder = waiting.pop()
        for entry in list(folder.iterdir()):
            if entry.is_symlink() or not entry.is_dir():
                entry.unlink()
            else:
                entry.chmod(0o700)
                waiting.append(entry.rename(top / f"lifted-{os.urandom(8).hex()}"))
        if folder != top:
            folder.rmdir()
    top.rmdir()
