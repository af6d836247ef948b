"""The corpus of hostile and broken scripts, marked all in one school beside honest ones.

hostile/cells.toml holds cells that do harm, hostile/answers.toml answers that do, FILES below whole files. Each says
what must come of it; and whatever they do, the honest scripts' marks and notebooks are those that they get alone.
"""

from __future__ import annotations

import copy
import ctypes
import json
import os
import re
import shutil
import socket
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psutil
import pytest

from grader.demo.simulation import Typed
from grader.marking.marking import Tally, mark_school
from grader.marking.record import Record
from grader.marking.records import marked_notebook, read_record
from grader.marking.rooms import How
from grader.papers.issue import issue
from grader.papers.notebook import script_name
from grader.running.runner import Limits
from grader.store.part_marks import item_name
from grader.store.register import Paper, Register
from grader.store.school import School, open_school
from tests.grader.returned.test_scripts import zip_of
from tests.grader.schools import (
    SITTING,
    add_cell,
    gradebook_of,
    hand_in,
    make_school,
    marks_as_typed,
    paper_of,
    quiet,
    right_answers,
    script_with,
)

#: Half a minute, since some end at their limits alone; what holds them is tried piece by piece in test_attacks.
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform != "linux", reason="the walls are Linux's"),
]

HOSTILE = Path(__file__).parents[1] / "hostile"
CELLS = tomllib.loads((HOSTILE / "cells.toml").read_text(encoding="utf-8"))
ANSWERS = tomllib.loads((HOSTILE / "answers.toml").read_text(encoding="utf-8"))
#: Small enough that the corpus is marked in a minute or so.
LIMITS = Limits(
    cell_seconds=1, wall_seconds=4, cpu_seconds=20, memory_bytes=512 << 20, file_bytes=2 << 20, folder_bytes=8 << 20,
    output_bytes=200_000, answers=100,
)  # fmt: skip
HONEST = 6


# Whole files ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class FileCase:
    """What is handed in for a candidate, and what comes of it.

    hand_in: given the school, the candidate's paper and the rightly answered notebook. marks: "all", "none" or "some"
    of the paper's. says: in the remark of a marked script, or the reason why it was refused.
    """

    hand_in: Callable[[School, Paper, dict[str, Any]], object]
    says: str = ""
    marked: bool = True
    keeps: tuple[str, ...] = ("1a", "1b", "1c", "1d")
    #: In what the assessor alone is told of a marked script; nothing is told where this is empty.
    fact: str = ""


def _changed(change: Callable[[dict[str, Any]], object]) -> Callable[[School, Paper, dict[str, Any]], object]:
    def hand(school: School, paper: Paper, script: dict[str, Any]) -> None:
        change(script)
        hand_in(school, paper, script)

    return hand


def _as_bytes(make: Callable[[bytes], bytes], suffix: str = ".ipynb") -> Callable:
    def hand(school: School, paper: Paper, script: dict[str, Any]) -> None:
        name = script_name(school, paper).removesuffix(".ipynb") + suffix
        hand_in(school, paper, make(json.dumps(script).encode()), name)

    return hand


def _named(name: str) -> Callable:
    return lambda school, paper, script: hand_in(school, paper, script, name.replace("@", paper.candidate))


def _link(target: str) -> Callable:
    def hand(school: School, paper: Paper, script: dict[str, Any]) -> None:
        (school.scripts / script_name(school, paper)).symlink_to(school.folder / target)

    return hand


def _forged(**about: str) -> Callable:
    return _changed(lambda script: script["metadata"]["pitside"].update(about))


def _twice(school: School, paper: Paper, script: dict[str, Any]) -> None:
    hand_in(school, paper, script)
    hand_in(school, paper, add_cell(copy.deepcopy(script), "x = 1"), f"again_{paper.candidate}.ipynb")


def _pipe(school: School, paper: Paper, script: dict[str, Any]) -> None:
    os.mkfifo(school.scripts / script_name(school, paper))


def _edit_numbers(script: dict[str, Any]) -> None:
    for cell in script["cells"]:
        if cell["cell_type"] == "markdown":
            cell["source"] = re.sub(r"\d", "1", cell["source"])


def _code_cells(script: dict[str, Any]) -> list[dict[str, Any]]:
    return [cell for cell in script["cells"] if cell["id"].startswith("answer-")]


def _huge_picture(script: dict[str, Any]) -> None:
    script["cells"][0]["attachments"] = {"x.png": {"image/png": "A" * (21 << 20)}}


REFUSED: dict[str, Any] = {"marked": False, "keeps": ()}
FILES = {
    "nothing-handed-in": FileCase(lambda *_: None, "no script", **REFUSED),
    "another-candidates-id": FileCase(_forged(candidate="hh-00"), "says it is from hh-00, but paper", **REFUSED),
    "another-school": FileCase(_forged(school="saltreed"), "was not issued by this school", **REFUSED),
    "another-paper": FileCase(_forged(paper="day1-hh-00-1-00000000"), "was not issued by this school", **REFUSED),
    "upwards-as-a-paper": FileCase(_forged(paper="../../school"), "was not issued by this school", **REFUSED),
    "two-scripts": FileCase(_twice, "2 different scripts for one paper", **REFUSED),
    "edited-numbers": FileCase(_changed(_edit_numbers), fact="Printed cells are changed or gone: title, exercise-1"),
    "deleted-cells": FileCase(_changed(lambda s: s["cells"].__delitem__(slice(0, 5))), keeps=("1b", "1c", "1d"),
                              fact="Printed cells are changed or gone: title, exercise-1, ask-1a."),
    "duplicated-cells": FileCase(_changed(lambda s: s["cells"].extend(copy.deepcopy(s["cells"])))),
    "cells-backwards": FileCase(_changed(lambda s: s["cells"].reverse())),
    "cells-of-odd-ids": FileCase(_changed(lambda s: s["cells"][2].update(id="../../x")), "damaged notebook", **REFUSED),
    "kernel-of-their-own": FileCase(
        _changed(lambda s: s["metadata"].update(kernelspec={"name": "../../bin/sh", "display_name": "x"}))
    ),
    "forged-outputs": FileCase(
        _changed(lambda s: s["cells"][4].update(source="", outputs=[{"output_type": "stream", "name": "stdout",
                                                                     "text": "1a: recorded"}])),
        keeps=("1b", "1c", "1d"),
    ),
    "answers-as-raw-text": FileCase(
        _changed(lambda s: [c.update(cell_type="raw") or c.pop("outputs") or c.pop("execution_count")
                            for c in _code_cells(s)[:1]]), keeps=("1b", "1c", "1d"),
    ),
    "no-python": FileCase(_changed(lambda s: s["cells"][4].update(source="412 sacks!")),
                          "could not read the answer cell of 1", keeps=("1b", "1c", "1d")),
    "format-3": FileCase(
        _changed(lambda s: s.update(nbformat=3, nbformat_minor=0, worksheets=[{"cells": s.pop("cells")}])),
        "not a notebook (no cells)", **REFUSED,
    ),
    "format-3-with-cells": FileCase(_changed(lambda s: s.update(nbformat=3)), "another format than 4", **REFUSED),
    "huge-notebook": FileCase(_changed(_huge_picture), "22 MB is too large", **REFUSED),
    "notebook-of-endless-pieces": FileCase(
        _changed(lambda s: s["metadata"].update(mine=[[]] * 300_000)), "far more pieces", **REFUSED
    ),
    "thousands-of-cells": FileCase(
        _changed(lambda s: s["cells"].extend({"cell_type": "code", "id": f"x{n}", "metadata": {}, "outputs": [],
                                              "execution_count": None, "source": "1"} for n in range(1001))),
        "larger than 1000 code cells", keeps=(),
    ),
    "deep-metadata": FileCase(
        _as_bytes(lambda whole: whole.replace(b'"metadata": {', b'"metadata": {"x": ' + b"[" * 9999 + b"]" * 9999 +
                                              b", ", 1)),
        "cut off or damaged", **REFUSED,
    ),
    "broken-json": FileCase(_as_bytes(lambda whole: whole[: len(whole) // 2]), "cut off or damaged", **REFUSED),
    "empty-file": FileCase(_as_bytes(lambda whole: b""), "an empty file", **REFUSED),
    "no-text-at-all": FileCase(_as_bytes(lambda whole: bytes(range(256)) * 40), "nor another file", **REFUSED),
    "pickle": FileCase(_as_bytes(lambda whole: b"cos\nsystem\n(S'touch pwned'\ntR."), "nor another file", **REFUSED),
    "honest-zip": FileCase(_as_bytes(lambda whole: zip_of(("mine/paper.ipynb", whole)), ".zip")),
    "zip-bomb": FileCase(_as_bytes(lambda w: zip_of(("x.ipynb", b" " * (20 << 20))), ".zip"), "unpacks to 21 MB",
                         **REFUSED),
    "zip-in-a-zip": FileCase(_as_bytes(lambda w: zip_of(("x.zip", zip_of(("x.ipynb", w)))), ".zip"),
                             "a zip with a zip in it", **REFUSED),
    "zip-that-reaches-upwards": FileCase(
        _as_bytes(lambda w: zip_of(("../../../register.jsonl", b""), ("x.ipynb", w)), ".zip"),
        "outside its own folder", **REFUSED,
    ),
    "link-to-the-key": FileCase(_link("school.key"), "a link or special file", **REFUSED),
    "link-to-a-neighbour": FileCase(_link("scripts/marram_day1_hh-00.ipynb"), "a link or special file", **REFUSED),
    "pipe": FileCase(_pipe, "a link or special file", **REFUSED),
    "name-that-reaches-upwards": FileCase(_named("x\\..\\..\\@\\school.key.ipynb")),
    "hidden-name": FileCase(_named(".@.ipynb"), "no script", **REFUSED),
    "name-that-is-an-option": FileCase(_named("-rf --@.ipynb")),
    "name-that-is-a-command": FileCase(_named("$(touch pwned)`touch pwned`;@.ipynb")),
    "name-of-two-lines": FileCase(_named("@\nhh-00: 8 of 8\x1b[2J.ipynb")),
    "long-name": FileCase(_named("@" + "x" * 230 + ".ipynb")),
}  # fmt: skip

NAMES = [
    *(f"cells/{name}" for name in CELLS),
    *(f"answers/{name}" for name in ANSWERS),
    *(f"files/{name}" for name in FILES),
]  # fmt: skip
CANDIDATE = {name: f"bb-{number:03d}" for number, name in enumerate(NAMES)}


# The marking of them all ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Marked:
    """What the school was like after the marking, and what the marking left on the machine."""

    school: School
    papers: dict[str, Paper]
    tally: Tally
    seconds: float
    left_over: dict[str, Any]
    grown: int
    connections: int
    changed_files: set[str]


def _of_browser(process: psutil.Process) -> bool:
    """Whether it is of the browser that other tests keep open in this process, which comes and goes as it likes."""
    try:
        return any(word in process.name().lower() for word in ("chrom", "node", "zygote"))
    except psutil.NoSuchProcess:
        return True


def _snapshot(temporary: Path) -> dict[str, Any]:
    process = psutil.Process()
    return {
        "processes": sorted(child.pid for child in process.children(recursive=True) if not _of_browser(child)),
        "open files": process.num_fds(),
        "sockets": len(process.net_connections("all")),
        "temporary files": sorted(path.name for path in temporary.iterdir()),
        "shared memory": sorted(path.name for path in Path("/dev/shm").iterdir() if path.name.startswith("sem.")),
    }


def _tree(school: School) -> dict[str, Any]:
    """Everything in the school's folder but the records, with what it holds."""
    found = {}
    for path in school.folder.rglob("*"):
        name = str(path.relative_to(school.folder))
        if path.parts[len(school.folder.parts)] not in ("records", ".busy"):
            found[name] = path.read_bytes() if path.is_file() and not path.is_symlink() else path.lstat().st_mode
    return found


@pytest.fixture(scope="module")
def class_of_all(tmp_path_factory: pytest.TempPathFactory) -> School:
    """The honest candidates and one for each case, with their papers."""
    everybody = [f"hh-{number:02d}" for number in range(HONEST)] + list(CANDIDATE.values())
    roster = [f"{one},Candidate {one},,,{'field' if int(one[-1]) % 2 else 'metric'}" for one in everybody]
    school = make_school(tmp_path_factory.mktemp("hostile") / "hostile-school", roster=roster)
    issue(school, school.sittings, quiet)
    for number in range(HONEST):
        paper = paper_of(school, f"hh-{number:02d}")
        answers = right_answers(paper.variants())
        if number % 3 == 1:  # not all know everything
            answers["1b"] = Typed(float(answers["1b"].value) * 1.5, answers["1b"].unit)
        script = script_with(school, paper, answers)
        if number % 3 == 2:
            add_cell(script, "import matplotlib.pyplot as plt\nplt.plot([1, 2, 4]);\nprint(sum(range(10)))")
        hand_in(school, paper, script)
    return school


@pytest.fixture(scope="module")
def alone(class_of_all: School, tmp_path_factory: pytest.TempPathFactory) -> School:
    """The honest scripts, marked without the others."""
    school = open_school(shutil.copytree(class_of_all.folder, tmp_path_factory.mktemp("alone") / "school"))
    assert mark_school(school, quiet, How(allow_missing_walls=True, workers=2, limits=LIMITS)).marked == HONEST
    return school


def _adopt(on: bool) -> None:
    """Processes whose parents are gone come to this one instead of to the first, so that none goes unseen."""
    assert ctypes.CDLL(None).prctl(36, int(on), 0, 0, 0) == 0  # PR_SET_CHILD_SUBREAPER


@pytest.fixture(scope="module")
def marked(class_of_all: School, alone: School) -> Iterator[Marked]:
    temporary = Path(tempfile.mkdtemp(prefix="hostile-"))
    temporary.chmod(0o755)
    with pytest.MonkeyPatch.context() as patch, socket.create_server(("127.0.0.1", 0)) as listener:
        listener.setblocking(False)
        patch.setattr(tempfile, "tempdir", str(temporary))
        _adopt(True)
        _hand_all_in(class_of_all, listener.getsockname()[1])
        before, tree = _snapshot(temporary), _tree(class_of_all)
        process = psutil.Process()
        memory: list[int] = []

        def watch(done: int, total: int) -> None:
            memory.append(process.memory_info().rss)

        began = time.monotonic()
        tally = mark_school(class_of_all, watch, How(allow_missing_walls=True, workers=2, limits=LIMITS))
        seconds = time.monotonic() - began
        after = _snapshot(temporary)
        _adopt(False)
        connections = 0
        while True:
            try:
                listener.accept()[0].close()
                connections += 1
            except BlockingIOError:
                break
        now = _tree(class_of_all)
    left_over = {kind: (before[kind], after[kind]) for kind in before if before[kind] != after[kind]}
    changed = {name for name in tree.keys() | now.keys() if tree.get(name) != now.get(name)}
    yield Marked(
        class_of_all, papers_of(class_of_all), tally, seconds, left_over, max(memory) - memory[0], connections, changed
    )
    shutil.rmtree(temporary)


def papers_of(school: School) -> dict[str, Paper]:
    """Everybody's paper, from one reading of the register."""
    return {paper.candidate: paper for paper in Register(school).papers.values()}


def _hand_all_in(school: School, port: int) -> None:
    places = {"@SCHOOL@": str(school.folder), "@PORT@": str(port), "@MARKER@": str(os.getpid())}
    papers = papers_of(school)
    for name, candidate in CANDIDATE.items():
        kind, _, case = name.partition("/")
        paper = papers[candidate]
        script = script_with(school, paper, right_answers(paper.variants()))
        if kind == "files":
            FILES[case].hand_in(school, paper, script)
            continue
        if kind == "cells":
            source, after = CELLS[case]["source"], _half_way(script)
        else:
            right = right_answers(paper.variants())["1a"]
            places |= {"@VALUE@": repr(right.value), "@UNIT@": right.unit}
            source, after = f"answer({ANSWERS[case]['call']})", len(script["cells"]) - 1
        for mark_, text in places.items():
            source = source.replace(mark_, text)
        hand_in(school, paper, add_cell(script, source.strip("\n"), after))


def _half_way(script: dict[str, Any]) -> int:
    places = [place for place, cell in enumerate(script["cells"]) if cell["id"].startswith("answer-")]
    return places[len(places) // 2 - 1]


def as_typed(paper: Paper, answers: dict[str, Typed]) -> dict[str, float]:
    return {part: result.marks for part, result in marks_as_typed(paper.variants(), answers).items()}


def marks_of(record: Record) -> dict[str, float]:
    exercises = enumerate(record.exercises, 1)
    return {item_name(number, item.item): item.marks for number, exercise in exercises for item in exercise.items}


def printed(school: School, paper: Paper) -> str:
    notebook = json.loads(marked_notebook(school, paper).read_text(encoding="utf-8"))
    outputs = [output for cell in notebook["cells"] for output in cell.get("outputs", ())]
    return "".join("".join(output.get("text", "")) for output in outputs)


# What comes of each ---------------------------------------------------------------------------------------------------


def test_there_are_enough_cases():
    assert len(NAMES) >= 40
    assert len(set(NAMES)) == len(NAMES)


@pytest.mark.parametrize("name", CELLS)
def test_hostile_cell_ends_as_stated(marked, name):
    case = CELLS[name]
    paper = marked.papers[CANDIDATE[f"cells/{name}"]]
    record = read_record(marked.school, paper.id)
    assert record is not None
    assert re.fullmatch(case.get("ending", "finished"), record.ending), (record.ending, record.notes)
    right = right_answers(paper.variants())
    earlier = {part: right[part] for part in ("1a", "1b")}
    as_ended = right if record.ending == "finished" else earlier
    kept = {"all": right, "earlier": earlier, "as ended": as_ended}[case.get("keeps", "all")]
    assert marks_of(record) == as_typed(paper, kept), record.notes
    says = case.get("says", "")
    if says:
        assert re.search(says, "\n".join(record.notes)), record.notes
    else:
        assert record.notes == ()
    assert case.get("prints", "") in printed(marked.school, paper)
    assert all(note.isprintable() for note in record.notes)


@pytest.mark.parametrize("name", ANSWERS)
def test_hostile_answer_is_taken_or_named(marked, name):
    case = ANSWERS[name]
    paper = marked.papers[CANDIDATE[f"answers/{name}"]]
    record = read_record(marked.school, paper.id)
    assert record is not None
    assert record.ending == "finished"
    right = right_answers(paper.variants())
    marks = marks_of(record)
    assert {part: marks[part] for part in ("1b", "1c", "1d")} == {
        part: as_typed(paper, right)[part] for part in ("1b", "1c", "1d")
    }
    item = next(item for item in record.exercises[0].items if item.item == "a")
    if case["gives"] == "wrong":
        assert item.marks < item.out_of, item
        assert record.notes == ()
    else:
        assert item.marks == item.out_of, (item, record.notes)
        assert len(record.notes) == (case["gives"] == "nothing")
        assert case.get("says", "") in "".join(record.notes)


@pytest.mark.parametrize("name", FILES)
def test_hostile_file_is_marked_or_refused_as_stated(marked, name):
    case = FILES[name]
    candidate = CANDIDATE[f"files/{name}"]
    paper = marked.papers[candidate]
    record = read_record(marked.school, paper.id)
    if not case.marked:
        assert record is None
        refusals = [r for r in marked.tally.refused if r.candidate == candidate]
        if case.says == "no script":
            assert refusals == []
        else:
            assert refusals
            for refusal in refusals:
                assert case.says in refusal.reason
                assert (refusal.reason + refusal.file).isprintable()
        return
    assert record is not None
    right = right_answers(paper.variants())
    assert marks_of(record) == as_typed(paper, {part: right[part] for part in case.keeps})
    assert case.says in "\n".join(record.notes)
    assert record.file.isprintable()
    assert (case.fact in "".join(record.for_assessor)) if case.fact else record.for_assessor == ()
    if not case.says:
        assert record.notes == ()


# What comes of everything else ----------------------------------------------------------------------------------------


def test_honest_scripts_fare_as_if_they_were_alone(marked, alone):
    for number in range(HONEST):
        paper = paper_of(alone, f"hh-{number:02d}")
        assert read_record(marked.school, paper.id) == read_record(alone, paper.id)
        here, there = (marked_notebook(school, paper).read_bytes() for school in (marked.school, alone))
        assert here == there
        assert read_record(alone, paper.id).marks > 0
    honest = {key: row for key, row in gradebook_of(marked.school).items() if key[1].startswith("hh-")}
    assert honest == gradebook_of(alone)
    assert len(honest) == 4 * HONEST


def test_nothing_is_left_over(marked):
    assert marked.left_over == {}
    assert marked.changed_files == set()
    papers = {paper.id for paper in marked.papers.values()}
    assert {path.stem for path in (marked.school.records / "marks").iterdir()} <= papers
    kinds = {path.name for path in marked.school.records.iterdir()}
    hand_marking = {"hand_marking_config.py", "sittings"}
    assert kinds <= {"marks", "marked", "gradebook.db", "refused.json", "log.jsonl", "handed_out.csv"} | hand_marking
    assert not list(marked.school.folder.rglob("pwned"))
    assert not Path("pwned").exists()


def test_nobody_came_through_to_the_listener(marked):
    assert marked.connections == 0


def test_memory_of_the_marker_stays_flat(marked):
    """Floods, bombs and huge notebooks among them: the marker grows by no more than a handful of scripts' bounds."""
    assert marked.grown < 80 << 20


def test_every_other_script_was_marked_or_refused_once(marked):
    assert marked.tally.marked == HONEST + sum(
        name.split("/")[0] != "files" or FILES[name.split("/")[1]].marked for name in NAMES
    )
    again = mark_school(marked.school, quiet, How(allow_missing_walls=True, workers=2, limits=LIMITS))
    assert (again.marked, again.already) == (0, marked.tally.marked)


def test_sitting_has_the_name_that_the_cases_expect(class_of_all):
    assert paper_of(class_of_all, "hh-00").sitting == SITTING
