"""Schools that the tests of this folder share. Each is made once; tests that write get a copy."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path

import pytest

from exercises import BANK
from grader.marking import rooms
from grader.papers.issue import issue
from grader.running.runner import Runner
from grader.store.school import School, open_school
from tests.grader.schools import EVERY_KIND, QUICK, ROSTER, make_school
from tests.sharing import made_once


@pytest.fixture(scope="session", autouse=True)
def _not_flushed() -> Iterator[None]:
    """No test waits for the disk: processes are killed here, but no power is cut."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda descriptor: None)
        yield


@pytest.fixture(scope="session")
def issued_school(tmp_path_factory: pytest.TempPathFactory) -> School:
    """Four candidates, field and metric, with papers that hold every kind of part. Nobody writes into it."""
    school = make_school(tmp_path_factory.mktemp("issued") / "school", exercises=EVERY_KIND)
    issue(school, school.sittings, lambda done, total: None)
    return school


@pytest.fixture(scope="session")
def whole_bank(tmp_path_factory: pytest.TempPathFactory) -> School:
    """Two candidates, field and metric, with every exercise of the bank in their papers. Nobody writes into it."""

    def make(folder: Path) -> None:
        school = make_school(folder, roster=ROSTER[:2], exercises=BANK)
        issue(school, school.sittings, lambda done, total: None)

    return open_school(made_once(tmp_path_factory, "whole-bank", make))


@pytest.fixture
def school(issued_school: School, tmp_path: Path) -> School:
    """A copy of the issued school, to do with as a test likes."""
    shutil.copytree(issued_school.folder, tmp_path / "school")
    return open_school(tmp_path / "school")


@pytest.fixture(scope="session")
def room() -> Iterator[Runner]:
    """A room for scripts that do no harm."""
    with Runner(QUICK, allow_missing_walls=True) as runner:
        yield runner


@pytest.fixture
def warm_room(room: Runner, monkeypatch: pytest.MonkeyPatch) -> None:
    """Marking uses the room that is open already, instead of opening one for each test."""
    monkeypatch.setattr(rooms, "Runner", lambda **_: nullcontext(room))


def pytest_collection_modifyitems(items):
    """Own answers are followed wherever they lead; that a model answer keeps its formula in range is checked apart."""
    here = f"{Path(__file__).parent}{os.sep}"
    for item in items:
        if str(item.path).startswith(here):
            item.add_marker(pytest.mark.filterwarnings("ignore::pitside.errors.ValidityWarning"))
