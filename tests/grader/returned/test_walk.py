"""The folder of scripts is walked within bounds: what lies too deep or is none is refused by name, the rest is read."""

from __future__ import annotations

import os
import shutil
import socket
import tempfile
import tracemalloc
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from grader.marking.marking import mark_school
from grader.marking.trail import trail
from grader.papers.issue import issue
from grader.privacy.export import write_export
from grader.privacy.privacy import forget, kept_lines
from grader.reports.results import gather
from grader.returned import scripts as scripts_module
from grader.returned import walk
from grader.returned.scripts import Refusal, Returned, read_scripts
from grader.returned.walk import DEEPEST, files_below
from grader.running.run_result import remove_tree
from grader.store.errors import GraderError
from grader.store.register import Register
from grader.store.school import School, open_school
from tests.grader.returned.test_scripts import zip_of
from tests.grader.schools import CHAINED, ONE_ROOM, hand_in, make_school, pack_of, paper_of, quiet
from tests.sharing import a_few


def read(school: School) -> tuple[list[Returned], list[Refusal]]:
    """What the folder holds; of every refusal a person can read file and reason."""
    returned, refusals = read_scripts(school, Register(school))
    for one in refusals:
        assert (one.file + one.reason).isprintable()
        assert len(one.file) <= 310
        assert len(one.reason) < 500
    return returned, refusals


@pytest.fixture
def honest(school) -> School:
    """A school with one honest script, which is there whatever else is."""
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, pack_of(school, paper))
    return school


@pytest.fixture
def beside(honest) -> Iterator[Path]:
    """A folder beside the honest script, removed afterwards however deep it has become."""
    folder = honest.scripts / "aa-02"
    folder.mkdir()
    yield folder
    remove_tree(folder)


def refusals_beside(school: School) -> list[Refusal]:
    """The refusals, when the honest script is read as if it were alone."""
    (one,), refusals = read(school)
    assert one.paper.candidate == "aa-01"
    return refusals


@contextmanager
def inside(folder: Path) -> Iterator[None]:
    """Standing in a folder, for what has too long a path to be named otherwise."""
    before = os.open(".", os.O_RDONLY)
    try:
        os.chdir(folder)
        yield
    finally:
        os.fchdir(before)
        os.close(before)


# Deep and long --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["a", "a" * 255], ids=["short names", "names of the longest kind"])
def test_folder_1200_deep_is_refused_by_name_and_the_rest_is_read(honest, beside, name):
    with inside(beside):
        for _ in range(1200):
            Path(name).mkdir()
            os.chdir(name)
        Path("x.ipynb").write_bytes(b"{}")
    (refusal,) = refusals_beside(honest)
    assert refusal.file.startswith(f"scripts/aa-02/{name[:200]}")
    assert "folders deep" in refusal.reason or "a path that is too long" in refusal.reason
    assert "nearer to the top" in refusal.reason


def test_file_whose_path_no_system_takes_is_refused_by_name(honest, beside):
    with inside(beside):
        for _ in range(16):
            Path("b" * 250).mkdir()
            os.chdir("b" * 250)
        for length in (1, 255):
            Path("c" * length).write_bytes(b"{}")
    refusals = refusals_beside(honest)
    assert refusals
    assert all(one.reason.startswith("a path that is too long") for one in refusals)


def test_scripts_as_deep_as_the_bound_are_read_and_deeper_ones_named(honest):
    paper = paper_of(honest, "aa-02")
    deepest = "/".join(["d"] * DEEPEST)
    hand_in(honest, paper, pack_of(honest, paper), f"{deepest}/x.ipynb")
    returned, refusals = read(honest)
    assert (len(returned), refusals) == (2, [])
    hand_in(honest, paper, pack_of(honest, paper), f"{deepest}/d/x.ipynb")
    returned, (refusal,) = read(honest)
    assert len(returned) == 2
    assert refusal.file == f"scripts/{deepest}/d"


def test_marking_results_and_trail_go_on_beside_a_folder_1200_deep(honest, beside, warm_room):
    with inside(beside):
        for _ in range(1200):
            Path("a" * 10).mkdir()
            os.chdir("a" * 10)
    for _ in range(2):
        tally = mark_school(honest, quiet, ONE_ROOM)
        assert (tally.marked + tally.already, len(tally.refused)) == (1, 1)
    assert sum(1 for result in gather(honest) if result.record) == 1
    assert sum("file refused" in line for line in trail(honest)) == 1


@pytest.mark.parametrize("name", ["a", "a" * 100], ids=["short names", "long names"])
def test_what_is_held_about_people_is_told_exported_and_forgotten_beside_a_folder_1200_deep(honest, beside, name):
    with inside(beside):
        length = len(os.fsencode(Path.cwd()))
        for _ in range(1200):
            Path(name).mkdir()
            os.chdir(name)
            length += len(name) + 1
            if length < 4090:
                Path("aa-02.ipynb").write_bytes(b"{}")
    assert any("what was handed in" in line for line in kept_lines(honest, "aa-02"))
    write_export(honest, "aa-02")
    (done,) = forget(honest, ["aa-02"], "asked for it", lambda: open_school(honest.folder))
    assert done.files > 30
    (one,), _ = read(open_school(honest.folder))
    assert one.paper.candidate == "aa-01"


@pytest.mark.parametrize("kind", ["lists", pytest.param("zip", marks=pytest.mark.slow)])
def test_what_is_held_about_people_is_told_within_bounds_of_memory(honest, beside, kind):
    data = b"[" + b"[]," * 6_000_000 + b"[]]"
    if kind == "zip":
        data = zip_of(*((f"{number}.ipynb", data) for number in range(20)))
    (beside / "x.ipynb").write_bytes(data)
    tracemalloc.start()
    try:
        assert list(kept_lines(honest, "aa-02"))
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 120 << 20


# Many -----------------------------------------------------------------------------------------------------------------


def test_folder_of_too_many_files_is_named_and_those_beside_and_above_it_are_read(honest, beside, monkeypatch):
    monkeypatch.setattr(walk, "MOST_IN_FOLDER", 30)
    for number in range(31):
        (beside / f"{number:02}").write_bytes(b"x")
    refusals = refusals_beside(honest)
    (full,) = [one for one in refusals if one.file == "scripts/aa-02"]
    assert full.reason.startswith("a folder of more than 30 files")
    assert len(refusals) == 31


def test_far_too_many_files_in_all_end_the_walk_behind_what_lies_nearest_to_the_top(honest, beside, monkeypatch):
    monkeypatch.setattr(walk, "MOST_IN_ALL", 50)
    monkeypatch.setattr(scripts_module, "MOST_REFUSED", 10)
    for number in range(20):
        for inner in range(20):
            (beside / f"{number}").mkdir(exist_ok=True)
            (beside / f"{number}" / f"{inner}").write_bytes(b"x")
    refusals = refusals_beside(honest)
    assert [one.reason for one in refusals if one.reason.startswith("more than 50 files lie here")]
    assert len([one for one in refusals if not one.candidate]) == 11


def test_of_very_many_refused_files_the_first_are_named_and_the_rest_counted(honest, beside):
    for number in range(1000):
        (beside / f"{number:03}.pdf").write_bytes(b"%PDF")
    for number in range(3):
        hand_in(honest, paper_of(honest, "aa-03"), b"x", f"aa-03_{number}")
    refusals = refusals_beside(honest)
    strangers = [one for one in refusals if not one.candidate]
    assert len(strangers) == scripts_module.MOST_REFUSED + 1
    assert [one.file for one in strangers if "more files" in one.file] == ["scripts (800 more files)"]
    assert [one.file for one in refusals if one.candidate] == [f"scripts/aa-03_{number}" for number in range(3)]


def test_very_many_rivals_for_one_paper_take_time_and_memory_in_step_with_their_number(honest):
    """Each used to name all others in its reason."""
    pack = pack_of(honest, paper_of(honest, "aa-02"))
    for number in range(400):
        pack["cells"][2]["source"] = f"{number}"
        hand_in(honest, paper_of(honest, "aa-02"), pack, f"{number:0200}.ipynb")
    tracemalloc.start()
    try:
        _, refusals = read(honest)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert len(refusals) == scripts_module.MOST_REFUSED + 1
    reasons = {one.reason for one in refusals if one.digest}
    assert len(reasons) == 1
    assert "400 different scripts for one paper" in (reason := reasons.pop())
    assert "and 396 more" in reason
    assert peak < 8 << 20


def test_no_more_names_of_a_folder_are_held_than_are_looked_at(tmp_path, monkeypatch):
    monkeypatch.setattr(walk, "MOST_IN_FOLDER", 10)
    for number in range(20_000):
        os.mknod(tmp_path / f"{number:0100}")
    tracemalloc.start()
    try:
        found = list(files_below(tmp_path))
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert [path.name for path, _ in found[1:]] == [f"{number:0100}" for number in range(10)]
    assert peak < 200_000


# Odd ------------------------------------------------------------------------------------------------------------------


def _loop(folder: Path) -> None:
    (folder / "x").symlink_to(folder)


def _chain(folder: Path) -> None:
    (folder / "x").symlink_to(folder / "y")
    (folder / "y").symlink_to(folder / "x")


def _socket(folder: Path) -> None:
    with inside(folder), socket.socket(socket.AF_UNIX) as listener:
        listener.bind("x")


def _device(folder: Path) -> None:
    try:
        os.mknod(folder / "x", 0o600 | 0o020000, os.makedev(1, 5))  # the one that gives noughts without end
    except OSError:
        pytest.skip("devices can be made by root alone, and not everywhere")


@pytest.mark.parametrize("make", [_loop, _chain, _socket, _device, lambda folder: os.mkfifo(folder / "x")])
def test_what_is_no_file_is_refused_unread(honest, beside, make):
    make(beside)
    refusals = refusals_beside(honest)
    assert refusals
    assert {one.reason for one in refusals} == {"a link or special file, not a notebook: ask for the file itself"}


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(b"aa\xff\xfe", id="no text"),
        pytest.param(b"aa\xed\xa0\x80", id="half a surrogate pair"),
        pytest.param(b"two\nlines\r\x1b[2J", id="lines and controls"),
        pytest.param("\u202egpj.x\u2066\u200b".encode(), id="turned around"),
        pytest.param(("周" * 85).encode(), id="255 bytes"),
        pytest.param(b"a'\"<script>&;`$()", id="signs of other languages"),
    ],
)
@pytest.mark.parametrize("kind", a_few(["script", "folder", "file"], 1))
def test_odd_names_of_files_and_folders_are_one_plain_line(honest, beside, name, kind, warm_room):
    place = beside / os.fsdecode(name)
    paper = paper_of(honest, "aa-02")
    if kind == "folder":
        place.mkdir()
        place /= "x.ipynb"
    if kind == "script":
        hand_in(honest, paper, pack_of(honest, paper), str(place.relative_to(honest.scripts)))
        returned, refusals = read(honest)
        assert (len(returned), refusals) == (2, [])
    else:
        place.write_bytes(b"x")
        (refusal,) = refusals_beside(honest)
        assert refusal.reason.startswith("not a notebook")
    tally = mark_school(honest, quiet, ONE_ROOM)
    assert tally.marked == 1 + (kind == "script")
    assert gather(honest)
    assert trail(honest)


@contextmanager
def as_ordinary_user(school: School) -> Iterator[School]:
    """A copy of the school that an ordinary user looks at, whom the rights of files bind."""
    if os.geteuid() != 0:
        yield school
        return
    folder = Path(tempfile.mkdtemp())
    try:
        folder.chmod(0o755)
        shutil.copytree(school.folder, folder / "school", symlinks=True)
        (folder / "school" / "school.key").chmod(0o644)
        copy = open_school(folder / "school")
        os.seteuid(65534)
        try:
            yield copy
        finally:
            os.seteuid(0)
    finally:
        shutil.rmtree(folder)


def test_folder_and_file_that_may_not_be_read_are_named(honest, beside):
    (beside / "x.ipynb").write_bytes(b"{}")
    (honest.scripts / "aa-03.ipynb").write_bytes(b"{}")
    for place in (beside, honest.scripts / "aa-03.ipynb"):
        place.chmod(0)
    try:
        with as_ordinary_user(honest) as school:
            refusals = refusals_beside(school)
    finally:
        beside.chmod(0o755)
    assert [(one.file, one.candidate) for one in refusals] == [
        ("scripts/aa-02", "aa-02"),
        ("scripts/aa-03.ipynb", "aa-03"),
    ]
    assert refusals[0].reason.startswith("a folder that cannot be opened (Permission denied)")
    assert refusals[1].reason.startswith("cannot be opened (Permission denied)")


def _gone(path: Path) -> None:
    path.unlink()


def _pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def _link(path: Path) -> None:
    path.unlink()
    path.symlink_to("/dev/zero")


def _folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


@pytest.mark.parametrize("change", [_gone, _pipe, _link, _folder])
@pytest.mark.parametrize("when", ["before it is looked at", "after it is looked at"])
def test_file_that_changes_while_it_is_read_is_refused_and_nothing_is_waited_for(
    honest, beside, change, when, monkeypatch
):
    changing = beside / "x.ipynb"
    changing.write_bytes(b"{}")
    real_walk, real_look = scripts_module.files_below, Path.lstat

    def walked(top: Path) -> Iterator[tuple[Path, str]]:
        for path, fault in real_walk(top):
            if path == changing:
                change(path)
            yield path, fault

    def looked_at(path: Path) -> os.stat_result:
        found = real_look(path)
        if path == changing:
            change(path)
        return found

    if when.startswith("before"):
        monkeypatch.setattr(scripts_module, "files_below", walked)
    else:
        monkeypatch.setattr(Path, "lstat", looked_at)
    (refusal,) = refusals_beside(honest)
    monkeypatch.undo()
    assert refusal.file == "scripts/aa-02/x.ipynb"
    assert refusal.reason.startswith(("cannot be opened", "a link or special file"))


@pytest.mark.parametrize("kind", ["file", "link to nothing", "link to itself"])
def test_folder_of_scripts_that_is_something_else_is_one_clear_line(school, kind):
    school.scripts.rmdir()
    if kind == "file":
        school.scripts.write_text("x")
    else:
        school.scripts.symlink_to("nowhere" if kind == "link to nothing" else "scripts")
    with pytest.raises(GraderError, match=r"scripts: no folder; make it one, and put the returned notebooks into it"):
        read_scripts(school, Register(school))


def test_folder_of_scripts_may_be_a_link_to_one_elsewhere(honest, tmp_path):
    honest.scripts.rename(tmp_path / "elsewhere")
    honest.scripts.symlink_to(tmp_path / "elsewhere")
    assert refusals_beside(honest) == []


def test_school_of_a_thousand_scripts_is_far_below_the_bounds(tmp_path):
    roster = [f"c{number:04},Candidate {number},,," for number in range(5)]
    school = make_school(tmp_path / "school", roster, [CHAINED])
    issue(school, school.sittings, quiet)
    for number in range(1000):
        paper = paper_of(school, f"c{number % 5:04}")
        hand_in(school, paper, pack_of(school, paper), f"{number}.ipynb")
    returned, refusals = read(school)
    assert (len(returned), refusals) == (5, [])
