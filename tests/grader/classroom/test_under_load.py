"""The classroom while its program is killed, the network fails and the clock is set: a short setting of the bench."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.bench.bench_classroom import run

pytestmark = pytest.mark.slow


def test_no_answer_that_was_said_to_be_saved_is_lost_none_is_doubled_and_scripts_are_what_pages_show(tmp_path):
    with ThreadPoolExecutor(1) as apart:  # in this thread the browser of a test before may have an event loop
        outcome = apart.submit(run, tmp_path, candidates=8, seconds=40, seed=7).result()
    assert sum(outcome.wrong.values()) == 0, outcome.lines
    assert len(outcome.wrong) == 9, "each of them was looked at"
    assert " 0 kills" not in outcome.lines[0]
