"""What every command that reads a marked school costs: 400 candidates, five sittings, papers as the five-day plan has.

Run with ``make bench``. The school is invented without running a notebook (``tests.grader.cohorts``). Each command is
run in a process of its own on a school folder that it finds as the commands before it left it; told is the processor
time and the wall-clock time of the process, the first time and the second.

``python -m tests.bench.bench_commands FOLDER`` keeps the school in FOLDER, or takes the one that lies there: so two
versions of pitside can be measured on one school.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from exercises.plans import PLANS, paper_of
from grader.store.school import School, open_school
from tests.grader.cohorts import marked_cohort

CANDIDATES = 400
DAYS = 5
FIRST_DAY = date(2026, 5, 4)
RUN = "from grader.cli import main; main()"


@dataclass(frozen=True)
class Cost:
    """Processor time and wall-clock time of a command in s."""

    cpu: float
    wall: float


def settings() -> str:
    """A school with a sitting for each day of the plan."""
    text = (
        f'[school]\nid = "measured"\ntitle = "A school to measure"\nstarts = {FIRST_DAY}\nunits = "field"\n\n'
        "[marking]\npass_percent = 70\n"
    )
    for number, lessons in enumerate(PLANS[DAYS], 1):
        listed = ", ".join(f'"{exercise.id}"' for exercise in paper_of(lessons))
        day = FIRST_DAY + timedelta(days=number - 1)
        text += f'\n[[sitting]]\nid = "day{number}"\ntitle = "Day {number}"\nday = {day}\nexercises = [{listed}]\n'
    return text


def school_in(folder: Path, candidates: int = CANDIDATES) -> School:
    """The school that lies there; where there is none, one whose every script is marked."""
    if (folder / "school.toml").exists():
        return open_school(folder)
    return marked_cohort(folder, candidates, settings=settings())


def cost_of(*arguments: str) -> Cost:
    """Run a command of pitside to its end. Raises: SystemExit with the end of its output where it fails."""
    before, began = os.times(), time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", RUN, *arguments], cwd=Path(__file__).parents[2], capture_output=True, check=False
    )
    wall, after = time.perf_counter() - began, os.times()
    if done.returncode:
        raise SystemExit(f"{' '.join(arguments)} failed:\n{(done.stdout + done.stderr)[-2000:].decode()}")
    return Cost(after.children_user + after.children_system - before.children_user - before.children_system, wall)


def main() -> None:
    """Print a line for each command."""
    with tempfile.TemporaryDirectory(prefix="bench-") as scratch:
        folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(scratch) / "school"
        school = school_in(folder)
        count = f"{len(school.roster)} candidates x {len(school.sittings)} sittings"
        print(f"{count:<36} {'CPU s':>8} {'wall s':>8} {'again':>8} {'wall s':>8}")
        whose = school.roster[len(school.roster) // 2].id
        for arguments in (
            ("debrief", str(folder)),
            ("items", str(folder)),
            ("key-in", str(folder)),
            ("results", str(folder)),
            ("decide", str(folder)),
            ("verify", str(folder)),
            ("trail", str(folder)),
            ("trail", str(folder), whose),
            ("explain", str(folder), whose, "1a", "--sitting", school.sittings[0].id),
            ("export", str(folder), whose, "--to", str(Path(scratch) / "held.zip")),
            ("moderate", str(folder), "--sitting", school.sittings[0].id),
            ("kept", str(folder)),
        ):
            first, second = cost_of(*arguments), cost_of(*arguments)
            name = " ".join(word for word in arguments if "/" not in word)
            print(f"{name:<36} {first.cpu:>8.1f} {first.wall:>8.1f} {second.cpu:>8.1f} {second.wall:>8.1f}", flush=True)


if __name__ == "__main__":
    main()
