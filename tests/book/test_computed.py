"""Numbers on the pages are worked out again when the code behind them changes."""

from __future__ import annotations

from pathlib import Path

import computed
import pytest

ROOT = Path(__file__).parents[2]


def test_the_sources_of_the_numbers_are_all_watched() -> None:
    names = {path.relative_to(ROOT).as_posix() for path in computed.sources(ROOT / "book")}
    assert names >= {"pitside/hydrostatics.py", "exercises/model/practice.py", "book/lessons/page.py"}
    assert names >= {"book/lessons/figures.mplstyle", "exercises/bank/weighting/__init__.py"}
    assert names >= {"book/reference/formula_sheet.py", "book/reference/card.html.jinja"}


def test_what_the_pages_look_like_is_watched() -> None:
    names = {path.relative_to(ROOT).as_posix() for path in computed.looks(ROOT / "book")}
    assert names >= {"book/theme/pitside/static/print.css", "book/theme/pitside/layout.html"}
    assert names >= {"book/extensions/moving_figures/static/moving.css", "book/extensions/cases.py"}


@pytest.mark.parametrize("changed", ["text", "name"])
def test_a_changed_source_changes_the_digest(tmp_path: Path, changed: str) -> None:
    file = tmp_path / "one.py"
    file.write_text("a = 1\n")
    before = computed.digest([file])
    if changed == "text":
        file.write_text("a = 2\n")
    else:
        file = file.rename(tmp_path / "two.py")
    assert computed.digest([file]) != before
