"""The build of the wheel: our packages, and the built book as data of ``grader``; pyproject.toml names these classes.

The book is made by jupyter-book, which who installs the wheel does not need, so it has to lie in ``_build/html`` first.
What a build leaves lies below ``_build`` and begins empty: setuptools would else pack again what an earlier one left.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from setuptools.command.build import build
from setuptools.command.build_py import build_py
from setuptools.errors import SetupError

BOOK = Path("_build/html")
#: Where the wheel holds the book, as grader/pages/built_book.py looks for it.
IN_WHEEL = Path("grader/built_book")
#: What Sphinx keeps for its next build.
LEFT_OUT = shutil.ignore_patterns(".buildinfo", ".doctrees", "objects.inv", "_sources", ".nojekyll")


class BuildBelow(build):
    """Build in a folder of its own, which is empty at the start."""

    def initialize_options(self) -> None:
        super().initialize_options()
        self.build_base = "_build/wheel"

    def run(self) -> None:
        shutil.rmtree(self.build_lib, ignore_errors=True)
        super().run()


class WithBook(build_py):
    """The packages with the book; an editable installation is for who makes the book."""

    def run(self) -> None:
        super().run()
        if self.editable_mode:
            return
        if not (BOOK / "index.html").is_file():
            raise SetupError("The wheel holds the book, which is not built: run make wheel, which builds it first.")
        shutil.copytree(BOOK, self.build_lib / IN_WHEEL, ignore=LEFT_OUT, dirs_exist_ok=True)
