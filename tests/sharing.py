"""What takes long to make is made once, however many test processes there are."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
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
