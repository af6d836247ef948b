"""Marking on a cluster: the same results as on this machine, whatever becomes of the workers."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from grader.demo.simulation import Ability, answers_of
from grader.marking.marking import mark_school
from grader.marking.records import read_record
from grader.marking.rooms import How
from grader.papers.issue import issue
from grader.store.errors import GraderError
from grader.store.school import School, open_school
from tests.grader.schools import (
    QUICK,
    SITTING,
    add_cell,
    gradebook_of,
    hand_in,
    make_school,
    pack_of,
    paper_of,
    quiet,
    script_with,
)

pytestmark = pytest.mark.slow

dask = pytest.importorskip("dask")
distributed = pytest.importorskip("distributed")

ROOT = Path(__file__).parents[3]
COUNT = 12


@pytest.fixture(scope="module")
def handed_in(tmp_path_factory) -> School:
    """Scripts that nobody has marked, an odd one and a damaged one among them. Nobody writes into it."""
    roster = [f"aa-{number:02d},Candidate {number},,,{('field', 'metric')[number % 2]}" for number in range(COUNT)]
    school = make_school(tmp_path_factory.mktemp("class") / "school", roster=roster)
    issue(school, school.sittings, quiet)
    for number, candidate in enumerate(school.roster):
        paper = paper_of(school, candidate.id)
        answers = answers_of(paper.variants(), Ability(slips=0.3, blanks=0.1), np.random.default_rng(number))
        script = script_with(school, paper, answers)
        add_cell(script, "import os\nos._exit(1)" if number == 4 else "import time\ntime.sleep(0.3)\nprint('worked')")
        if number == 7:
            script["cells"][0]["metadata"] = "damaged"
        hand_in(school, paper, script)
    return school


@pytest.fixture
def school(handed_in, tmp_path) -> School:
    shutil.copytree(handed_in.folder, tmp_path / "school")
    return open_school(tmp_path / "school")


@pytest.fixture(scope="module")
def plain(handed_in, tmp_path_factory) -> dict[str, object]:
    """What a marking on this machine alone leaves."""
    folder = tmp_path_factory.mktemp("plain") / "school"
    shutil.copytree(handed_in.folder, folder)
    school = open_school(folder)
    assert mark_school(school, quiet, How(allow_missing_walls=True, workers=2, limits=QUICK)).marked == COUNT - 1
    return everything_of(school)


@pytest.fixture
def cluster() -> Iterator[distributed.LocalCluster]:
    """A scheduler on loopback and two worker processes."""
    with local_cluster(2) as cluster:
        yield cluster


def local_cluster(workers: int) -> distributed.LocalCluster:
    return distributed.LocalCluster(
        n_workers=workers, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address="127.0.0.1:0"
    )


def everything_of(school: School) -> dict[str, object]:
    """All that a marking leaves; of the log its lines without who and when, of the gradebook its rows."""
    found: dict[str, object] = {
        str(path.relative_to(school.records)): path.read_bytes() for path in school.records.rglob("*") if path.is_file()
    }
    lines = [json.loads(line) for line in (school.records / "log.jsonl").read_text().splitlines()]
    events = [{name: value for name, value in line.items() if name not in ("when", "who", "seal")} for line in lines]
    log = sorted(json.dumps(event, sort_keys=True) for event in events)
    return found | {"log.jsonl": log, "gradebook.db": gradebook_of(school)}


def workers_of(address: str) -> dict[str, int]:
    """The process of each worker, by its address."""
    with distributed.Client(address, set_as_default=False) as client:
        return client.run(os.getpid)


def test_worker_killed_half_way_loses_nothing(school, plain, cluster):
    address = cluster.scheduler_address
    before = workers_of(address)
    assert len(before) == 2
    told = []

    def kill_one(done: int, total: int) -> None:
        told.append((done, total))
        if done == total // 2:
            os.kill(next(iter(before.values())), signal.SIGKILL)

    tally = mark_school(school, kill_one, How(allow_missing_walls=True, limits=QUICK, dask=address))
    assert (tally.marked, len(tally.refused)) == (COUNT - 1, 1)
    assert told == [(done, COUNT) for done in range(COUNT + 1)]
    assert everything_of(school) == plain
    assert set(workers_of(address).values()) != set(before.values()), "no worker was killed"


def test_everything_is_seen_to_differ_where_a_script_does(school, plain):
    """The comparison above can fail."""
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, pack_of(school, paper))
    mark_school(school, quiet, How(allow_missing_walls=True, workers=2, limits=QUICK))
    found = everything_of(school)
    assert {name for name in plain if found[name] != plain[name]} == {
        "log.jsonl", "gradebook.db", f"marks/{paper.id}.json", f"marked/aa-01/{SITTING}/paper.ipynb"
    }  # fmt: skip


def test_marking_killed_on_a_cluster_is_ended_by_one_without(school, plain, cluster):
    code = "import sys; from grader.cli import main; main()"
    arguments = ["mark", str(school.folder), "--allow-missing-walls", "--dask", cluster.scheduler_address]
    marking = subprocess.Popen(
        [sys.executable, "-c", code, *arguments], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    marks = school.records / "marks"
    while marking.poll() is None and len(list(marks.glob("*.json"))) < 3:
        try:
            marking.wait(0.02)
        except subprocess.TimeoutExpired:
            continue
    assert marking.poll() is None, marking.communicate()
    marking.kill()
    marking.communicate()
    assert 3 <= len(list(marks.glob("*.json"))) < COUNT - 1
    mark_school(school, quiet, How(allow_missing_walls=True, workers=2, limits=QUICK))
    assert everything_of(school) == plain


def test_script_with_which_a_worker_is_lost_is_refused_and_the_others_are_marked(school):
    """Of how many workers the cluster bears the loss for one script, is the cluster's setting."""
    paper = paper_of(school, "aa-01")
    for number in range(4, COUNT):
        (school.scripts / f"marram_{SITTING}_aa-{number:02d}.ipynb").unlink()
    hand_in(school, paper, add_cell(pack_of(school, paper), "import time\ntime.sleep(4.5)"))

    def lose_the_last(done: int, total: int) -> None:
        if done == total - 1:
            with distributed.Client(cluster.scheduler_address, set_as_default=False) as client:
                (busy,) = [address for address, tasks in client.processing().items() if tasks]
                os.kill(client.run(os.getpid)[busy], signal.SIGKILL)

    with dask.config.set({"distributed.scheduler.allowed-failures": 0}), local_cluster(2) as cluster:
        tally = mark_school(
            school, lose_the_last, How(allow_missing_walls=True, limits=QUICK, dask=cluster.scheduler_address)
        )
    assert (tally.marked, tally.faults) == (3, ())
    (lost,) = tally.refused
    assert lost.candidate == "aa-01"
    assert lost.reason.startswith("one worker after the other was lost while it was marked: see to them, then mark")
    assert mark_school(school, quiet, How(allow_missing_walls=True, workers=2, limits=QUICK)).marked == 1


@contextmanager
def started(program: str, *arguments: str | Path) -> Iterator[subprocess.Popen]:
    """A program of the cluster as a process of its own, ended at the end."""
    command = [sys.executable, "-m", f"distributed.cli.{program}", "--no-dashboard", "--host", "127.0.0.1"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen([*command, *map(str, arguments)], cwd=ROOT, **quiet) as running:
        try:
            yield running
        finally:
            running.kill()


def test_scheduler_lost_half_way_is_one_clear_line_and_the_marks_that_are_in_stand(school, plain, tmp_path):
    place = tmp_path / "scheduler.json"
    with (
        started("dask_scheduler", "--port", 0, "--scheduler-file", place) as scheduler,
        started("dask_worker", "--scheduler-file", place, "--nthreads", 2, "--no-nanny", "--death-timeout", 60),
    ):
        while not place.exists():
            time.sleep(0.05)
        address = json.loads(place.read_text())["address"]
        with distributed.Client(address, set_as_default=False) as client:
            client.wait_for_workers(1)

        def lose(done: int, total: int) -> None:
            if done == 3:
                scheduler.kill()

        with pytest.raises(GraderError, match="the scheduler was lost; start it again, then mark again to go on"):
            mark_school(school, lose, How(allow_missing_walls=True, limits=QUICK, dask=address))
    records = [read_record(school, paper_of(school, candidate.id).id) for candidate in school.roster]
    assert len(list(filter(None, records))) >= 2
    mark_school(school, quiet, How(allow_missing_walls=True, workers=2, limits=QUICK))
    assert everything_of(school) == plain


def test_cluster_without_workers_is_one_clear_line(school):
    with (
        local_cluster(0) as cluster,
        pytest.raises(GraderError, match="no workers; start one on each machine with: dask worker"),
    ):
        mark_school(school, quiet, How(allow_missing_walls=True, dask=cluster.scheduler_address))
    assert not (school.records / "marks").exists()


@pytest.mark.parametrize("says", [b"", (3).to_bytes(8, "little") + b"\xff" * 64], ids=["nothing", "false lengths"])
def test_what_answers_and_is_no_scheduler_is_one_clear_line(school, says, monkeypatch):
    from grader.marking import many_machines

    monkeypatch.setattr(many_machines, "PATIENCE_SECONDS", 1)
    held = []

    def answer(listener: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while True:
                connection, _ = listener.accept()
                connection.sendall(says)
                held.append(connection)

    with socket.create_server(("127.0.0.1", 0)) as listener:
        threading.Thread(target=answer, args=(listener,), daemon=True).start()
        port = listener.getsockname()[1]
        with pytest.raises(GraderError, match=f"tcp://127.0.0.1:{port}: no Dask scheduler can be reached") as caught:
            mark_school(school, quiet, How(allow_missing_walls=True, dask=f"tcp://127.0.0.1:{port}"))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("scheme", ["tcp", "nonsense"])
def test_scheduler_that_is_not_there_is_one_clear_line(school, scheme, monkeypatch):
    from grader.marking import many_machines

    monkeypatch.setattr(many_machines, "PATIENCE_SECONDS", 1)
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
    with pytest.raises(GraderError, match=f"{scheme}://127.0.0.1:{port}: no Dask scheduler can be reached") as caught:
        mark_school(school, quiet, How(allow_missing_walls=True, dask=f"{scheme}://127.0.0.1:{port}"))
    assert "\n" not in str(caught.value)


def test_missing_library_is_one_clear_line(school, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    monkeypatch.delitem(sys.modules, "grader.marking.many_machines", raising=False)
    with pytest.raises(GraderError, match=r'--dask needs Dask .*: pip install "pitside\[dask\]"'):
        mark_school(school, quiet, How(allow_missing_walls=True, dask="tcp://127.0.0.1:1"))


def test_worker_with_another_version_is_named_and_marks_nothing(school, cluster, monkeypatch):
    from grader.marking import many_machines

    monkeypatch.setattr(many_machines, "fingerprint", lambda: "another")
    with pytest.raises(GraderError, match=r"tcp://127\.0\.0\.1:\d+: this worker has another Pitside"):
        mark_school(school, quiet, How(allow_missing_walls=True, dask=cluster.scheduler_address))
    assert not (school.records / "marks").exists()


def test_marking_without_a_cluster_loads_no_library_for_it():
    code = "import sys, grader.cli; print('distributed' in sys.modules, 'grader.marking.marking' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "True"]
