"""How fast scripts are marked, behind all walls, against plain ``nbgrader autograde`` of the same scripts.

Three kinds apart: scripts of answers alone, which are read; scripts with a little working, which are run; and scripts
with a plot too. Both sides run as a command of their own, one after the other, with one worker each; processor time is
that of the command with everything that it started. Both take some seconds to start, so a run of one script is set
against a run of several: the difference is what each script more costs. The limit that no way of running can pass is
the processor time of the cells alone, in an interpreter that has run them before.

Run with ``make bench``. ``BENCH_LARGE=1000`` adds a school of a thousand read scripts, ``BENCH_LARGE=10000`` also one
of ten thousand, which takes long, most of it to invent it. On a busy machine believe the ratios of processor time.

Memory is sampled, so a peak shorter than a tenth of a second can be missed. Shared pages are counted once (PSS).
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import nbformat
import numpy as np

from grader.demo.demo import SETTINGS, SITTING, SOUND
from grader.demo.simulation import answers_of, filled
from grader.papers.issue import issue
from grader.papers.notebook import NOTEBOOK, script_name
from grader.papers.packs import read_pack
from grader.store.files import write_text
from grader.store.register import Register
from grader.store.school import School, new_school, open_school

PLAIN_SCRIPTS = 9
OUR_SCRIPTS = 60
LARGEST = int(os.environ.get("BENCH_LARGE") or 0)
SIZES = tuple(size for size in (10, 100, 1000, 10_000) if size <= max(100, LARGEST))
SAMPLE_SECONDS = 0.1

WORKING = """\
import numpy as np
import pint
barite = pint.Quantity(35.0, "lb/gal")
added = np.array([50.0, 100.0, 150.0])
print((added * 12.0 / (barite.magnitude - 12.0)).round(1))"""
PLOT = """\
%matplotlib inline
import numpy as np, matplotlib.pyplot as plt
depth = np.linspace(0, 12000, 50)
plt.plot(0.052 * 12.0 * depth, depth); plt.gca().invert_yaxis()
plt.xlabel('psi'); plt.ylabel('ft');"""

#: nbgrader calls another program of its environment by name.
PATH = os.pathsep.join((str(Path(sys.executable).parent), os.environ.get("PATH", os.defpath)))
MARK = "from grader.cli import main; main()"


@dataclass(frozen=True)
class Kind:
    """A kind of scripts: the cells that are put before their last one, and the ratios to nbgrader that are aimed at."""

    name: str
    cells: tuple[str, ...]
    aim_wall: float
    aim_cpu: float


KINDS = (
    Kind("read", (), 80, 60),
    Kind("run, without plot", (WORKING,), 35, 25),
    Kind("run, with a plot", (WORKING, PLOT), 20, 12),
)


@dataclass(frozen=True)
class Cost:
    """What a command took: wall and processor time in s, peak memory in bytes of itself and of all it started."""

    wall: float
    cpu: float
    own_memory: int
    started_memory: int

    def more_than(self, other: Cost) -> Cost:
        """What this run took beyond a shorter one; the memory is this run's."""
        return Cost(self.wall - other.wall, self.cpu - other.cpu, self.own_memory, self.started_memory)


def cost_of(command: list[str], folder: Path) -> Cost:
    """Run a command to its end and measure it.

    Raises: SystemExit with the end of its output where it fails.
    """
    with tempfile.TemporaryFile() as output:
        before, began = os.times(), time.perf_counter()
        process = subprocess.Popen(
            command, cwd=folder, stdin=subprocess.DEVNULL, stdout=output, stderr=output, env=os.environ | {"PATH": PATH}
        )
        peaks = [0, 0]
        ended = threading.Event()
        watcher = threading.Thread(target=_watch, args=(process.pid, peaks, ended))
        watcher.start()
        process.wait()
        wall, after = time.perf_counter() - began, os.times()
        ended.set()
        watcher.join()
        if process.returncode:
            output.seek(0)
            raise SystemExit(f"{' '.join(command)} failed:\n{output.read()[-2000:].decode(errors='replace')}")
    cpu = after.children_user + after.children_system - before.children_user - before.children_system
    return Cost(wall, cpu, *peaks)


def _watch(root: int, peaks: list[int], ended: threading.Event) -> None:
    while not ended.wait(SAMPLE_SECONDS):
        peaks[0] = max(peaks[0], _memory(root))
        peaks[1] = max(peaks[1], sum(_memory(process) for process in _below(root)))


def _below(root: int) -> list[int]:
    """Every process that descends from ``root``."""
    children: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                parent = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
            except (OSError, IndexError):  # it has ended meanwhile
                continue
            children.setdefault(parent, []).append(int(entry.name))
    found, waiting = [], [root]
    while waiting:
        below = children.get(waiting.pop(), [])
        found += below
        waiting += below
    return found


def _memory(process: int) -> int:
    """Proportional share of memory in bytes; 0 for a process that has ended."""
    try:
        for line in Path(f"/proc/{process}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return int(line.split()[1]) * 1024
    except OSError:
        pass
    return 0


def school_of(folder: Path, candidates: int) -> School:
    """A school whose invented candidates have handed in the demonstration's paper, with answers alone."""
    new_school(folder, "A school to measure", date(2026, 3, 9))
    write_text(folder / "school.toml", SETTINGS)
    people = (f"c-{n:04d},Candidate {n},Larkwater Energy,crew,{('field', 'metric')[n % 2]}" for n in range(candidates))
    write_text(folder / "roster.csv", "\n".join(("id,name,employer,crew,units", *people)) + "\n")
    school = open_school(folder)
    issue(school, school.sittings, lambda done, total: None)
    register = Register(school)
    school.scripts.mkdir(exist_ok=True)
    for number, paper in enumerate(register.papers.values()):
        name = script_name(school, paper)
        pack = nbformat.reads(read_pack(school, paper)[name].decode("utf-8"), as_version=4)
        script = nbformat.from_dict(filled(pack, answers_of(paper.variants(), SOUND, np.random.default_rng(number))))
        nbformat.write(script, school.scripts / name)
    return school


def part_of(school: School, folder: Path, count: int, kind: Kind = KINDS[0]) -> School:
    """A copy of a school into which only the first ``count`` scripts have come back, made scripts of a kind."""
    shutil.copytree(school.folder, folder, ignore=shutil.ignore_patterns("records", "packs", "scripts"))
    (folder / "scripts").mkdir()
    for path in sorted(school.scripts.iterdir())[:count]:
        script = nbformat.read(path, as_version=4)
        for number, source in enumerate(kind.cells):
            script.cells.insert(-1, nbformat.v4.new_code_cell(source, id=f"own-{number}"))
        nbformat.write(script, folder / "scripts" / path.name)
    return open_school(folder)


def our_cost(school: School, workers: int) -> Cost:
    """Our marking, which refuses to go on where an essential wall is missing."""
    command = [sys.executable, "-c", MARK, "mark", str(school.folder), "--workers", str(workers)]
    cost = cost_of(command, Path(__file__).parents[2])
    marked = len(list((school.records / "marked").rglob("*.ipynb")))
    if marked != len(list(school.scripts.iterdir())):
        raise SystemExit(f"only {marked} scripts were marked; the measurement is worth nothing")
    return cost


def plain_costs(school: School, whole: School, folder: Path) -> tuple[Cost, Cost]:
    """``nbgrader autograde`` of one script, then of :data:`PLAIN_SCRIPTS` others, in a course folder of its own."""
    scripts = sorted(school.scripts.iterdir())[: PLAIN_SCRIPTS + 1]
    candidates = [script.stem.rpartition("_")[2] for script in scripts]
    source = folder / "source" / SITTING / f"{NOTEBOOK}.ipynb"
    source.parent.mkdir(parents=True)
    paper = Register(whole).paper_of(SITTING, candidates[0])
    assert paper is not None
    source.write_bytes(read_pack(whole, paper)[scripts[0].name])
    for script, candidate in zip(scripts, candidates, strict=True):
        submitted = folder / "submitted" / candidate / SITTING / source.name
        submitted.parent.mkdir(parents=True)
        shutil.copy(script, submitted)
    (folder / "nbgrader_config.py").write_text(f"c = get_config()\nc.CourseDirectory.root = {str(folder)!r}\n")
    nbgrader = [sys.executable, "-m", "nbgrader"]
    cost_of([*nbgrader, "generate_assignment", SITTING], folder)
    one = cost_of([*nbgrader, "autograde", SITTING, "--student", candidates[0]], folder)
    others = cost_of([*nbgrader, "autograde", SITTING], folder)  # leaves out what it has graded before
    graded = len(list((folder / "autograded").rglob("*.ipynb")))
    if graded != len(scripts):
        raise SystemExit(f"nbgrader graded {graded} scripts of {len(scripts)}; the measurement is worth nothing")
    return one, others


#: Runs the code cells of scripts twice in one warm shell, and prints the seconds that the second time took of each.
_CELLS_ALONE = """
import contextlib, json, os, sys, time
from grader.untrusted import script
shell, null = script.ready_shell(()), os.open(os.devnull, os.O_WRONLY)
out, took = sys.stdout, []
for path in sys.argv[1:]:
    cells = [cell for cell in json.load(open(path, encoding="utf-8"))["cells"] if cell["cell_type"] == "code"]
    for _ in range(2):
        runs, began = script.Cells(shell, 2 << 20, 500, null), time.process_time()
        for cell in cells:
            report = runs.run("".join(cell["source"]), contextlib.nullcontext())
            assert not report["error"], report
    took.append(time.process_time() - began)
print(json.dumps(sorted(took)), file=out)
"""


def cells_alone(school: School) -> float:
    """Seconds of processor time of a script's cells in a warm interpreter: the median of some scripts."""
    scripts = sorted(school.scripts.iterdir())[:15]
    done = subprocess.run(
        [sys.executable, "-c", _CELLS_ALONE, *map(str, scripts)], cwd=Path(__file__).parents[2], check=True,
        capture_output=True, text=True,
    )  # fmt: skip
    took: list[float] = json.loads(done.stdout)
    return took[len(took) // 2]


def line(what: str, count: int, cost: Cost) -> str:
    return (
        f"{what:<44} {count:>7} {count / cost.wall:>9.2f} "
        f"{cost.wall / count * 1e3:>9.1f} {cost.cpu / count * 1e3:>8.1f} "
        f"{cost.own_memory / 1e6:>8.0f} {cost.started_memory / 1e6:>8.0f}"
    )


HEAD = (
    f"{'':<44} {'scripts':>7} {'scripts/s':>9} {'wall ms':>9} {'CPU ms':>8} {'own MB':>8} {'rooms MB':>8}\n"
    f"{'':<44} {'':>7} {'':>9} {'a script':>9} {'a script':>8} {'peak':>8} {'peak':>8}"
)


def compare(whole: School, kind: Kind, folder: Path) -> None:
    """Print what a script more of a kind costs, both ways."""
    several = part_of(whole, folder / "several", OUR_SCRIPTS, kind)
    plain_one, plain = plain_costs(several, whole, folder / "plain")
    our_one = our_cost(part_of(whole, folder / "one", 1, kind), 1)
    ours = our_cost(several, 1)
    plain_more, our_more = plain.more_than(plain_one), ours.more_than(our_one)
    plain_count, our_count = PLAIN_SCRIPTS - 1, OUR_SCRIPTS - 1
    print(line(f"{kind.name}: nbgrader, each script more", plain_count, plain_more))
    print(line(f"{kind.name}: pitside mark, one script", 1, our_one))
    print(line(f"{kind.name}: pitside mark, each script more", our_count, our_more))
    wall = (plain_more.wall / plain_count) / (our_more.wall / our_count)
    cpu = (plain_more.cpu / plain_count) / (our_more.cpu / our_count)
    says = (
        f"{kind.name}: nbgrader takes {wall:.1f} times as long (aim: {kind.aim_wall:g}) and {cpu:.1f} times the "
        f"processor time (aim: {kind.aim_cpu:g})"
    )
    if kind.cells:  # of those that are read no cell is run
        limit = cells_alone(several)
        says += f"; ours is {our_more.cpu / our_count / limit:.2f} times that of the cells alone ({limit * 1e3:.1f} ms)"
    print(f"{says}\n", flush=True)


def main() -> None:
    """Print the tables."""
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        folder = Path(name)
        whole = school_of(folder / "whole", max(*SIZES, OUR_SCRIPTS))
        print(f"One worker, the same scripts\n{HEAD}")
        for number, kind in enumerate(KINDS):
            compare(whole, kind, folder / f"kind-{number}")
        workers = os.cpu_count() or 1
        print(f"As the number of read scripts grows, {workers} workers\n{HEAD}")
        before, fewer = None, 0
        for size in SIZES:
            cost = our_cost(part_of(whole, folder / f"grown-{size}", size), workers)
            print(line("pitside mark: the whole run", size, cost), f" {cost.wall:.1f} s in all", flush=True)
            if before:
                print(line(f"pitside mark: each script from {fewer} on", size - fewer, cost.more_than(before)))
            before, fewer = cost, size
        if 1000 not in SIZES:
            print("With a thousand scripts: BENCH_LARGE=1000 make bench")


if __name__ == "__main__":
    main()
