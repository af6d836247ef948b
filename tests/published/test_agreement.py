"""The book's page of published checks says what the tests say now."""

from __future__ import annotations

import pytest

from tests.published import agreement


@pytest.mark.slow  # each check by itself is made in the shorter run too
def test_the_page_of_checks_is_true() -> None:
    assert agreement.PAGE.read_text(encoding="utf-8") == agreement.page(), "run: make agreement"


def test_most_checks_name_the_calculation_that_they_hold() -> None:
    every = agreement.checks()
    assert len(every) > 300
    assert sum(bool(agreement.functions(check)) for check in every) > 0.7 * len(every)
