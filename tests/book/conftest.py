"""Builds the book once for all tests of this folder."""

from __future__ import annotations

import os
import subprocess
import sysconfig
from pathlib import Path

import pytest

from tests.sharing import made_once

ROOT = Path(__file__).parents[2]

#: Contents of a book of one lesson.
TOC = """\
format: jb-book
root: index
chapters:
  - file: lessons/mud-weight
"""


@pytest.fixture(scope="session")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the built book, built from nothing with warnings as errors; several test processes share it."""
    output = made_once(tmp_path_factory, "book", lambda folder: build(folder, "-W", "-n", "--keep-going"))
    return output / "_build" / "html"


@pytest.fixture(scope="session")
def one_lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a book of one lesson, which is built much faster than the whole."""
    toc = tmp_path_factory.mktemp("contents") / "toc.yml"
    toc.write_text(TOC)
    return (
        made_once(tmp_path_factory, "one-lesson", lambda folder: build(folder, "--toc", str(toc))) / "_build" / "html"
    )


def build(output: Path, *options: str) -> None:
    """Build the book, or with ``--toc`` the pages of another table of contents."""
    command = [str(Path(sysconfig.get_path("scripts")) / "jupyter-book"), "build", "book", "--config", "_config.yml"]
    command += ["--path-output", str(output), *options]
    path = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    result = subprocess.run(command, cwd=ROOT, env={**os.environ, "PYTHONPATH": path}, capture_output=True, text=True)
    assert result.returncode == 0, f"the book does not build:\n{result.stdout[-4000:]}\n{result.stderr[-4000:]}"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Slips are carried on wherever they lead; that a model answer keeps its formula in range is checked apart."""
    here = f"{Path(__file__).parent}{os.sep}"
    for item in items:
        if str(item.path).startswith(here):
            item.add_marker(pytest.mark.filterwarnings("ignore::pitside.errors.ValidityWarning"))
