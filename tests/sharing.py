"""What takes long: made once for all test processes, and of many cases a few now."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest
from _pytest.mark import ParameterSet
from filelock import FileLock


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """The folder that ``make`` fills; the test process that comes first does it, and the others wait for it."""
    base = factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / name
    done = folder.with_name(f"{name}.done")
    with FileLock(folder.with_name(f"{name}.lock")):
        if not done.exists():
            make(folder)
            done.touch()
    return folder


def a_few(cases: Iterable[Any], keep: int) -> list[ParameterSet]:
    """All cases, of which ``make test`` tries the first ``keep`` and the slow run all: browsers and rooms take long."""
    sets = [case if isinstance(case, tuple) else (case,) for case in cases]
    return [pytest.param(*each, marks=[pytest.mark.slow] * (place >= keep)) for place, each in enumerate(sets)]
