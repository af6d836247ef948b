"""How long it takes to issue a class's papers, and how large each pack is, without charts and with two of them.

Run with ``python -m tests.bench.bench_issue``, and a number of candidates if it shall not be forty; some other work on
the machine lengthens the wall time, not the processor time. What has to be loaded once is counted in.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

from exercises import BANK
from grader.demo.demo import SETTINGS
from grader.papers.issue import issue
from grader.papers.packs import read_pack
from grader.store.files import write_text
from grader.store.register import Register
from grader.store.school import new_school, open_school

CANDIDATES = 40
#: Longest that a class may have to wait for its papers, in s on two cores.
AIM = 60
#: The exercises of the demonstration whose place those with charts take.
WITHOUT_CHARTS = ("weight-up-fixed-final", "solids-fresh")
WITH_CHARTS = tuple(exercise.id for exercise in BANK.values() if exercise.chart is not None)[: len(WITHOUT_CHARTS)]
ISSUE = "import sys; from tests.bench.bench_issue import issued; issued(sys.argv[1])"


def issued(folder: str) -> None:
    """Issue all papers of the school in ``folder``, and print wall and processor time in s."""
    began, used = time.perf_counter(), time.process_time()
    school = open_school(Path(folder))
    issue(school, school.sittings, lambda done, total: None)
    print(time.perf_counter() - began, time.process_time() - used)


def row(folder: Path, what: str, charts: tuple[str, ...], candidates: int) -> str:
    new_school(folder, "A school to measure", date(2026, 3, 9))
    settings = SETTINGS
    for old, new in zip(WITHOUT_CHARTS, charts, strict=False):
        settings = settings.replace(f'"{old}"', f'"{new}"')
    write_text(folder / "school.toml", settings)
    people = (f"c-{n:04d},Candidate {n},Larkwater Energy,crew,{('field', 'metric')[n % 2]}" for n in range(candidates))
    write_text(folder / "roster.csv", "\n".join(("id,name,employer,crew,units", *people)) + "\n")
    root = Path(__file__).parents[2]
    said = subprocess.run([sys.executable, "-c", ISSUE, str(folder)], cwd=root, capture_output=True, text=True)
    if said.returncode:
        raise SystemExit(f"issuing failed:\n{said.stderr[-2000:]}")
    wall, used = map(float, said.stdout.split())
    school = open_school(folder)
    if len(Register(school).papers) != candidates:
        raise SystemExit("not all papers were issued; the measurement is worth nothing")
    files = [item for paper in Register(school).papers.values() for item in read_pack(school, paper).items()]
    sizes = [sum(len(data) for name, data in files if name.endswith(end)) for end in ("t.html", ".ipynb")]
    sizes.append(sum(file.stat().st_size for file in school.packs.rglob("*.zip")))
    return (
        f"{what:<24} {candidates:>7} {wall:>8.1f} {used:>8.1f} {wall / candidates * 1e3:>8.0f} "
        f"{used / candidates * 1e3:>8.0f}" + "".join(f"{size / candidates / 1e3:>10.0f}" for size in sizes)
    )


def main() -> None:
    """Print the table."""
    candidates = int(sys.argv[1]) if len(sys.argv) > 1 else CANDIDATES
    print(f"A sitting of five exercises; aim for {CANDIDATES} with two charts: under {AIM} s of wall time on two cores")
    print(f"{'':<24} {'papers':>7} {'wall s':>8} {'CPU s':>8} {'wall ms':>8} {'CPU ms':>8} {'pages kB':>9}"
          f" {'book kB':>9} {'zip kB':>9}")  # fmt: skip
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        print(row(Path(name) / "plain", "no chart", (), candidates), flush=True)
        print(row(Path(name) / "charts", "two charts", WITH_CHARTS, candidates))


if __name__ == "__main__":
    main()
