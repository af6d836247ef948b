"""The whole way: the invented school of the demonstration, marked with the real room; and markings that are killed."""

from __future__ import annotations

import functools
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import psutil
import pytest
import sqlalchemy.orm

from exercises import BANK
from exercises.model import Written
from exercises.model.marking import ItemMark, Rule
from grader.cli import main
from grader.demo import demo
from grader.demo.simulation import Ability, Typed, answers_of
from grader.marking import rooms
from grader.marking.marking import Tally, mark_school
from grader.marking.record import Record
from grader.marking.records import marked_notebook, read_record
from grader.marking.rooms import How
from grader.marking.written_answers import page_file
from grader.papers.issue import issue
from grader.papers.packs import read_pack
from grader.reports.results import Result
from grader.running.runner import Run, Runner
from grader.store.log import WRITTEN_TAKEN, Log
from grader.store.part_marks import item_name
from grader.store.register import Paper, Register
from grader.store.school import School, open_school
from tests.grader.schools import (
    EVERY_KIND,
    ONE_ROOM,
    QUICK,
    add_cell,
    gradebook_of,
    hand_in,
    make_school,
    marks_as_typed,
    pack_of,
    paper_of,
    quiet,
    report,
    rows_of,
    script_with,
    well_formed,
)

ROOT = Path(__file__).parents[3]


# The demonstration ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Demonstration:
    """The demonstration's school after it was marked, and who handed in what."""

    school: School
    tally: Tally
    results: dict[str, Result]
    people: dict[str, demo.DemoCandidate]

    @functools.cache  # noqa: B019 - there is one demonstration, and it lives as long as these tests
    def answers(self, candidate: str) -> tuple[Paper, dict[str, Typed | None]]:
        """What a candidate typed, drawn again, without a look at the notebook that was handed in."""
        number = list(self.people).index(candidate) + 1
        paper = Register(self.school).paper_of(demo.SITTING, candidate)
        person = self.people[candidate]
        return paper, answers_of(paper.variants(), person.ability, np.random.default_rng(number))

    def those(self, odd: Callable | None) -> list[str]:
        return [candidate for candidate, person in self.people.items() if person.odd is odd and person.hands_in]

    def one(self, odd: Callable) -> Result:
        (candidate,) = self.those(odd)
        return self.results[candidate]


@pytest.fixture(scope="module")
def demonstration(tmp_path_factory) -> Demonstration:
    """Made once, as the command makes it, but with less patience for endless loops."""
    folder = tmp_path_factory.mktemp("demonstration") / "school"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rooms, "Runner", lambda **how: Runner(**{**how, "limits": QUICK}))
        school, tally = demo.sit_the_paper(folder, True, lambda step: quiet)
        results, _ = demo.report(school, quiet)
    people = {demo.candidate_id(number): person for number, person in enumerate(demo.PEOPLE, 1)}
    return Demonstration(school, tally, {result.candidate.id: result for result in results}, people)


def items_of(record: Record) -> dict[str, ItemMark]:
    items = {item_name(number, item.item): item for number, e in enumerate(record.exercises, 1) for item in e.items}
    return {name: item for name, item in items.items() if item.rule is not Rule.PENDING}


def as_typed(paper: Paper, answers: dict[str, Typed | None]) -> dict[str, ItemMark]:
    """What a program marks: words wait for a person."""
    items = marks_as_typed(paper.variants(), answers)
    return {name: item for name, item in items.items() if item.rule is not Rule.PENDING}


def test_every_candidate_has_a_mark_or_a_clear_reason(demonstration):
    assert len(demonstration.results) == 24
    for result in demonstration.results.values():
        if result.record:
            waits = result.candidate.id == demo.LEFT_TO_MARK
            assert result.status == ("pending hand marks" if waits else "marked")
            assert 0 < result.record.marks <= result.record.out_of
            assert result.record.out_of == sum(BANK[e].marks for e in result.sitting.exercises)
        else:
            assert result.status in ("not marked", "no script")
            assert result.remarks or result.status == "no script"
    assert (demonstration.tally.marked, len(demonstration.tally.refused)) == (20, 3)


def test_whole_scripts_get_the_marks_of_their_typed_answers(demonstration):
    """The independent way to each mark; it holds for every script whose cells all ran."""
    whole = [c for c, result in demonstration.results.items() if result.record and result.record.ending == "finished"]
    assert len(whole) >= 18
    for candidate in whole:
        assert items_of(demonstration.results[candidate].record) == as_typed(*demonstration.answers(candidate))


def test_words_are_marked_by_an_invented_assessor_but_for_one_answer_that_is_left(demonstration):
    hand = {c: r.record.hand for c, r in demonstration.results.items() if r.record}
    assert not hand[demo.LEFT_TO_MARK]
    assert demonstration.results[demo.LEFT_TO_MARK].record.pending == ("6c",)
    marked = {c: given["6c"].marks for c, given in hand.items() if given}
    assert len(marked) >= 15
    assert len(set(marked.values())) >= 3, "all get the same"
    said = [line for line in Log(demonstration.school).lines if line["what"] == WRITTEN_TAKEN]
    assert [line["note"] for line in said] == [demo.ASSESSOR]
    well_formed(page_file(demonstration.school).read_text(encoding="utf-8"))


def test_crashing_cell_costs_nothing_else(demonstration):
    result = demonstration.one(demo._crashes)
    assert result.remarks == (
        "A cell that was added before the first answer stopped with an error: NameError: name 'target' is not defined",
    )
    assert items_of(result.record) == as_typed(*demonstration.answers(result.candidate.id))


def test_endless_loop_is_stopped_and_the_answers_around_it_count(demonstration):
    result = demonstration.one(demo._loops)
    assert [remark for remark in result.remarks if "CellTimeLimit: stopped after" in remark]
    assert items_of(result.record) == as_typed(*demonstration.answers(result.candidate.id))


def test_loop_that_will_not_stop_ends_the_script_and_the_answers_before_it_count(demonstration):
    result = demonstration.one(demo._loops_and_will_not_stop)
    assert result.record.ending == "timed_out"
    assert any("did not stop" in remark for remark in result.remarks)
    paper, answers = demonstration.answers(result.candidate.id)
    until = list(answers).index("2a")
    numbered = enumerate(paper.variants(), 1)
    words = {item_name(n, i.key) for n, variant in numbered for i in variant.exercise.items if isinstance(i, Written)}
    before = {name: one for place, (name, one) in enumerate(answers.items()) if place <= until or name in words}
    assert items_of(result.record) == as_typed(paper, before)
    assert result.record.marks > 0


def test_script_that_eats_memory_is_stopped_and_the_others_are_marked(demonstration):
    result = demonstration.one(demo._eats_memory)
    assert any("emory" in remark for remark in result.remarks)
    paper, answers = demonstration.answers(result.candidate.id)
    until = list(answers).index("3a")
    marks, wanted = items_of(result.record), as_typed(paper, answers)
    for place, name in enumerate(answers):
        if place <= until:
            assert marks[name] == wanted[name]


def test_spy_finds_nothing(demonstration):
    """No key, register or records in sight; though they lie where a script could guess them."""
    result = demonstration.one(demo._spies)
    assert (demonstration.school.folder / "school.key").exists()
    notebook = json.loads(marked_notebook(demonstration.school, result.paper).read_text(encoding="utf-8"))
    (cell,) = [cell for cell in notebook["cells"] if "".join(cell["source"]).startswith("import os, pathlib")]
    assert "".join(cell["outputs"][0]["text"]) == "found: []\n"
    assert demonstration.school.key.hex() not in json.dumps(notebook)


def test_edited_numbers_change_no_mark(demonstration):
    result = demonstration.one(demo._edits_the_numbers)
    assert items_of(result.record) == as_typed(*demonstration.answers(result.candidate.id))
    script = (demonstration.school.folder / result.record.file).read_text(encoding="utf-8")
    pack = pack_text(demonstration.school, result.paper)
    assert script.count("1") > pack.count("1")


def pack_text(school: School, paper: Paper) -> str:
    return read_pack(school, paper)[f"{school.id}_{paper.sitting}_{paper.candidate}.ipynb"].decode("utf-8")


@pytest.mark.parametrize(
    ("odd", "says"),
    [
        (demo._no_notebook, "not a notebook but a PDF: "),
        (demo._half_a_notebook, "a notebook that was cut off or damaged on its way: ask for the file again"),
        (demo._somebody_elses, "says it is from tp-02, but paper "),
    ],
)
def test_file_that_cannot_be_marked_has_a_reason_beside_its_candidate(demonstration, odd, says):
    result = demonstration.one(odd)
    assert result.record is None
    assert result.status == "not marked"
    (remark,) = result.remarks
    assert remark.startswith(f"scripts/tern-point-11_day2_{result.candidate.id}.ipynb: {says}")
    row = rows_of(demonstration.school)[result.candidate.id]
    assert (row["status"], row["marks"], row["remarks"]) == ("not marked", "", remark)


def test_candidate_whose_paper_was_put_under_another_name_keeps_the_own_mark(demonstration):
    """tp-22 handed in a paper that says tp-02; the script and mark of tp-02 are as if it had not been."""
    assert items_of(demonstration.results["tp-02"].record) == as_typed(*demonstration.answers("tp-02"))


def test_candidate_who_handed_nothing_in_is_listed(demonstration):
    (absent,) = [candidate for candidate, person in demonstration.people.items() if not person.hands_in]
    assert demonstration.results[absent].status == "no script"
    assert rows_of(demonstration.school)[absent]["status"] == "no script"


def test_honest_plots_and_working_are_kept(demonstration):
    result = demonstration.one(demo._shows_working)
    assert result.remarks == ()
    notebook = json.loads(marked_notebook(demonstration.school, result.paper).read_text(encoding="utf-8"))
    pictures = [output for cell in notebook["cells"] for output in cell.get("outputs", ()) if "image/png" in
                output.get("data", {})]  # fmt: skip
    assert len(pictures) == 1


def test_results_csv_and_gradebook_say_the_same_for_all_24(demonstration):
    rows = rows_of(demonstration.school)
    assert list(rows) == [demo.candidate_id(number) for number in range(1, 25)]
    totals: dict[str, float] = {}
    for (_, candidate, _), row in gradebook_of(demonstration.school).items():
        totals[candidate] = totals.get(candidate, 0) + row[2]
    assert totals == {candidate: float(row["marks"]) for candidate, row in rows.items() if row["marks"]}


def test_every_marked_candidate_has_a_sound_page_and_nobody_else(demonstration):
    folder = demonstration.school.records / "feedback"
    marked = {c for c, result in demonstration.results.items() if result.record}
    drafts = {demo.LEFT_TO_MARK}
    pages = {path.relative_to(folder).as_posix() for path in folder.rglob("*.html")}
    names = {one: f"{'drafts/' if one in drafts else ''}day2_{one}.html" for one in marked}
    assert pages == set(names.values())
    for name, candidate in ((name, candidate) for candidate, name in names.items()):
        page = well_formed((folder / name).read_text(encoding="utf-8"))
        assert page.h1.bdi.get_text() == demonstration.results[candidate].candidate.name
        assert not page.find_all(["script", "img", "link", "iframe"])
    well_formed((demonstration.school.records / "results.html").read_text(encoding="utf-8"))


def test_demonstration_refuses_a_folder_of_another_kind_and_makes_its_own_anew(tmp_path):
    (tmp_path / "thesis.txt").write_text("mine")
    with pytest.raises(demo.GraderError, match="holds files of another kind; choose an empty folder"):
        demo.make_school(tmp_path)
    assert (tmp_path / "thesis.txt").read_text() == "mine"
    demo.make_school(tmp_path / "school")
    (tmp_path / "school" / "scripts" / "old.ipynb").touch()
    assert len(demo.make_school(tmp_path / "school").roster) == 24
    assert not (tmp_path / "school" / "scripts" / "old.ipynb").exists()


# Killed markings ------------------------------------------------------------------------------------------------------

CLASS = [f"aa-{number:02d},Candidate {number},,,{'metric' if number % 2 else 'field'}" for number in range(1, 9)]


@pytest.fixture(scope="module")
def handed_in(tmp_path_factory) -> School:
    """Eight candidates with scripts that nobody has marked: two odd ones, one no notebook. Nobody writes into it."""
    school = make_school(tmp_path_factory.mktemp("class") / "school", roster=CLASS, exercises=EVERY_KIND)
    issue(school, school.sittings, quiet)
    for number, candidate in enumerate(school.roster):
        paper = paper_of(school, candidate.id)
        answers = answers_of(paper.variants(), Ability(slips=0.3, blanks=0.1), np.random.default_rng(number))
        script = script_with(school, paper, answers)
        # Work that takes a moment, so that a kill meets scripts in every state.
        add_cell(script, "import time\ntime.sleep(0.3)\nprint('worked')")
        if number == 2:
            add_cell(script, "1 / 0")
        if number == 5:
            add_cell(script, "import os\nos._exit(1)", after=6)
        hand_in(school, paper, b"no notebook" if number == 7 else script)
    return school


STATE_CODE = re.compile(rb"\b\d+-\d+-\d+-[A-Z2-7]{5}-[A-Z2-7]{5}\b")


def everything_of(school: School) -> dict[str, object]:
    """All that a marking and its results leave behind, by file, hidden ones too; of the gradebook what it says."""
    files = {str(path.relative_to(school.records)): path for path in school.records.rglob("*") if path.is_file()}
    # The state code, over lines that tell the moment, is another each time; the folder's name stands in a command.
    command = f"pitside verify {school.named} ".encode()
    found: dict[str, object] = {
        name: events_of(path)
        if name == "log.jsonl"
        else STATE_CODE.sub(b"(state code)", path.read_bytes()).replace(command, b"pitside verify (folder) ")
        for name, path in files.items()
    }
    return found | {"gradebook.db": gradebook_of(school)}


def events_of(log: Path) -> list[str]:
    """The lines of a log without who, when and seal, and without their order, which hangs on the rooms."""
    lines = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    for line in lines:
        del line["when"], line["who"], line["seal"]
    return sorted(json.dumps(line, sort_keys=True) for line in lines)


def copy_of(school: School, folder: Path) -> School:
    shutil.copytree(school.folder, folder)
    return open_school(folder)


@pytest.fixture(scope="module")
def undisturbed(handed_in, tmp_path_factory, room) -> dict[str, object]:
    """What a marking leaves that nothing disturbs."""
    school = copy_of(handed_in, tmp_path_factory.mktemp("undisturbed") / "school")
    assert mark_school(school, quiet, How(allow_missing_walls=True, workers=2)).marked == 7
    report(school)
    found = everything_of(school)
    assert len([name for name in found if name.startswith("marks/")]) == 7
    assert len([name for name in found if name.startswith("feedback/")]) == 7
    return found


def command(*arguments: str | Path) -> subprocess.Popen:
    """The command ``pitside`` in a Python of its own."""
    code = "from grader.cli import main; main()"
    path = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, arguments)],
        cwd="/", env={**os.environ, "PYTHONPATH": path}, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


class Forked:
    """The same command in a copy of this process, which saves the seconds of loading its libraries."""

    def __init__(self, *arguments: str | Path) -> None:
        self.pid = os.fork()
        self._status: int | None = None
        if self.pid == 0:
            try:
                null = os.open(os.devnull, os.O_RDWR)
                for standard in (0, 1, 2):
                    os.dup2(null, standard)
                sys.argv = ["pitside", *map(str, arguments)]
                main()
            finally:
                os._exit(0)

    def poll(self) -> int | None:
        if self._status is None:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            self._status = status if pid else None
        return self._status

    def kill(self) -> None:
        os.kill(self.pid, signal.SIGKILL)

    def communicate(self) -> None:
        if self._status is None:
            self._status = os.waitpid(self.pid, 0)[1]


def _rooms_are_opened(school: School, process: psutil.Process) -> bool:
    return bool(process.children())


def _gradebook_is_there(school: School, process: psutil.Process) -> bool:
    return (school.records / "gradebook.db").exists()


def _recorded(count: int):
    def so_many(school: School, process: psutil.Process) -> bool:
        return len(list((school.records / "marks").glob("*.json"))) >= count

    return so_many


#: How to start a marking, with how many rooms, and when to kill it: one after the other, in the same school.
MOMENTS = (
    (command, 2, _rooms_are_opened),
    (Forked, 1, _gradebook_is_there),
    (Forked, 2, _recorded(1)),
    (Forked, 1, _recorded(3)),
)


@pytest.mark.slow
def test_marking_killed_again_and_again_ends_as_if_nothing_had_been(handed_in, undisturbed, tmp_path):
    school = copy_of(handed_in, tmp_path / "school")
    killed = 0
    for start, workers, moment in MOMENTS:
        running = start("mark", school.folder, "--workers", workers, "--allow-missing-walls")
        process = psutil.Process(running.pid)
        end = time.monotonic() + 120
        family = []
        while running.poll() is None and not moment(school, process) and time.monotonic() < end:
            time.sleep(0.005)
        if running.poll() is None:
            family = process.children(recursive=True)
            running.kill()
            killed += 1
        running.communicate()
        _, alive = psutil.wait_procs(family, timeout=10)
        assert not alive, "processes were left behind"
        for path in (school.records / "marks").glob("*.json"):
            assert read_record(school, path.stem) is not None  # each record that is there is whole
    assert killed >= len(MOMENTS) - 1
    last = command("mark", school.folder, "--allow-missing-walls")
    said, complaints = last.communicate(timeout=120)
    assert (last.returncode, complaints) == (0, "")
    assert "1 not marked" in said
    report(school)
    assert everything_of(school) == undisturbed
    assert scripts_of(school) == scripts_of(handed_in)


@pytest.mark.slow
def test_marking_killed_at_thirty_random_moments_ends_as_if_nothing_had_been(handed_in, undisturbed, tmp_path):
    """Killed wherever it is, again and again until its school is marked; then another school, until it was thirty."""
    moments = np.random.default_rng(30)
    began = time.monotonic()
    Forked("mark", copy_of(handed_in, tmp_path / "timed").folder, "--workers", 2, "--allow-missing-walls").communicate()
    whole_run = time.monotonic() - began  # on this machine, as busy as it is
    killed = schools = progress = 0
    while killed < 30:
        schools += 1
        school = copy_of(handed_in, tmp_path / f"school-{schools}")
        marking_on = True
        while marking_on and killed < 30:
            running = Forked("mark", school.folder, "--workers", 1 + killed % 2, "--allow-missing-walls")
            time.sleep(moments.uniform(0, whole_run))
            marking_on = running.poll() is None
            family = psutil.Process(running.pid).children(recursive=True) if marking_on else []
            if marking_on:
                running.kill()
                killed += 1
            running.communicate()
            _, alive = psutil.wait_procs(family, timeout=10)
            assert not alive, "processes were left behind"
            for path in (school.records / "marks").glob("*.json"):
                assert read_record(school, path.stem) is not None
                progress += marking_on
        last = Forked("mark", school.folder, "--workers", 2, "--allow-missing-walls")
        last.communicate()
        report(school)
        assert everything_of(school) == undisturbed, f"after {killed} kills, in school {schools}"
        assert scripts_of(school) == scripts_of(handed_in)
    assert progress > 0, "each kill came before the first record"


def scripts_of(school: School) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in school.scripts.iterdir()}


class Replay:
    """A room that gives runs which the real room made before: here the recording is tried, again and again."""

    def __init__(self, runs: dict[str, Run]) -> None:
        self._runs = runs

    def __enter__(self) -> Replay:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def run(self, notebook: dict, printed: str = "") -> Run:
        return self._runs[notebook["metadata"]["pitside"]["paper"]]


@pytest.fixture(scope="module")
def replay(handed_in, room) -> Replay:
    runs = {}
    for paper in Register(handed_in).papers.values():
        try:
            script = json.loads((handed_in.scripts / f"marram_day1_{paper.candidate}.ipynb").read_text())
        except ValueError:
            continue
        runs[paper.id] = room.run(script)
    return Replay(runs)


def _kill_before_write(number: int) -> None:
    """From now on this process is killed just before its write of this number that would last: a commit, a file that
    is flushed to the disk, a file that is put in place."""
    left = number

    def killing(real: Callable) -> Callable:
        def step(*given, **named):
            nonlocal left
            left -= 1
            if left < 0:
                os.kill(os.getpid(), signal.SIGKILL)
            return real(*given, **named)

        return step

    os.fsync = killing(os.fsync)
    Path.replace = killing(Path.replace)
    sqlalchemy.orm.Session.commit = killing(sqlalchemy.orm.Session.commit)


@pytest.mark.slow
def test_marking_killed_before_any_of_its_writes_is_made_whole_by_the_next(handed_in, replay, tmp_path, monkeypatch):
    """Every write of a marking of two scripts in turn, from the first to the last."""
    monkeypatch.setattr(rooms, "Runner", lambda **_: replay)
    base = copy_of(handed_in, tmp_path / "base")
    for path in list(base.scripts.iterdir())[2:]:
        path.unlink()
    kept = [path.name for path in base.scripts.iterdir()]
    whole = copy_of(base, tmp_path / "whole")
    marked = mark_school(whole, quiet, ONE_ROOM).marked
    report(whole)
    wanted = everything_of(whole)
    kills = 0
    for number in range(100):
        school = copy_of(base, tmp_path / f"try-{number}")
        child = os.fork()
        if child == 0:
            try:
                _kill_before_write(number)
                mark_school(school, quiet, ONE_ROOM)
            finally:
                os._exit(0)
        _, status = os.waitpid(child, 0)
        if not os.WIFSIGNALED(status):
            break
        kills += 1
        mark_school(school, quiet, ONE_ROOM)
        report(school)
        assert everything_of(school) == wanted, f"killed before write {number} of {kept}"
        shutil.rmtree(school.folder)
    # The list of refusals; the gradebook; and for each script its commit, its notebook and its record.
    assert kills >= 2 + 1 + 5 * marked


@pytest.mark.slow
def test_marking_interrupted_from_the_keyboard_goes_on_later(handed_in, undisturbed, replay, tmp_path, monkeypatch):
    monkeypatch.setattr(rooms, "Runner", lambda **_: replay)
    school = copy_of(handed_in, tmp_path / "school")

    def interrupt(done: int, total: int) -> None:
        if done == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        mark_school(school, interrupt, ONE_ROOM)
    tally = mark_school(school, quiet, ONE_ROOM)
    assert (tally.already, tally.marked) == (3, 4)
    report(school)
    assert everything_of(school) == undisturbed


@pytest.mark.slow
def test_results_killed_before_any_of_its_writes_are_made_whole_by_the_next(
    handed_in, undisturbed, replay, tmp_path, monkeypatch
):
    monkeypatch.setattr(rooms, "Runner", lambda **_: replay)
    school = copy_of(handed_in, tmp_path / "school")
    mark_school(school, quiet, ONE_ROOM)
    for number in range(0, 100, 3):
        child = os.fork()
        if child == 0:
            try:
                _kill_before_write(number)
                report(school)
            finally:
                os._exit(0)
        _, status = os.waitpid(child, 0)
        if not os.WIFSIGNALED(status):
            break
    assert number > 9
    report(school)
    assert everything_of(school) == undisturbed


def test_marks_do_not_hang_on_the_order_in_which_scripts_come(handed_in, undisturbed, replay, tmp_path, monkeypatch):
    monkeypatch.setattr(rooms, "Runner", lambda **_: replay)
    school = copy_of(handed_in, tmp_path / "school")
    files = sorted(school.scripts.iterdir(), reverse=True)
    aside = [path.rename(tmp_path / path.name) for path in files]
    for path in aside:
        path.rename(school.scripts / path.name)
        mark_school(school, quiet, ONE_ROOM)
    report(school)
    assert everything_of(school) == undisturbed


def test_everything_is_seen_to_differ_where_a_mark_does(undisturbed, handed_in, replay, tmp_path, monkeypatch):
    """The comparison above can fail: a paper without answers is seen in all that is made of it, and of the class."""
    school = copy_of(handed_in, tmp_path / "school")
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, pack_of(school, paper))
    monkeypatch.setattr(rooms, "Runner", lambda **_: replay)
    mark_school(school, quiet, ONE_ROOM)
    report(school)
    found = everything_of(school)
    differs = {name for name in undisturbed if found[name] != undisturbed[name]}
    assert differs == {
        "gradebook.db", "log.jsonl", "results.csv", "results.xlsx", "results.html", "feedback/day1_aa-01.html",
        f"marks/{paper.id}.json", "marked/aa-01/day1/paper.ipynb",
    }  # fmt: skip
