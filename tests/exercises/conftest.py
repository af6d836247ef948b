"""Draws of every exercise, which the tests of this folder share."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from exercises import BANK
from exercises.model import System
from tests.exercises.draws import draws_of


@pytest.fixture(params=BANK)
def exercise(request):
    """Each exercise of the bank in turn."""
    return BANK[request.param]


@pytest.fixture(params=System)
def variants(request, exercise):
    """The draws of an exercise in one unit system."""
    return draws_of(exercise.id, request.param)


def pytest_collection_modifyitems(items):
    """Own answers are followed wherever they lead; that a model answer keeps its formula in range is checked apart.

    The tests of an exercise come one after the other, whatever their file, so that each of several test processes
    draws few of the exercises.
    """
    here = f"{Path(__file__).parent}{os.sep}"
    places = [place for place, item in enumerate(items) if str(item.path).startswith(here)]
    ours = sorted((items[place] for place in places), key=_exercise_of)
    for place, item in zip(places, ours, strict=True):
        item.add_marker(pytest.mark.filterwarnings("ignore::pitside.errors.ValidityWarning"))
        items[place] = item


def _exercise_of(item):
    params = item.callspec.params if hasattr(item, "callspec") else {}
    names = (params.get(name) for name in ("exercise", "case", "name"))
    return next((name for name in names if name in BANK), "")
