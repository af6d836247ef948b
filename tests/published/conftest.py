"""Gives the tests of :mod:`tests.published.published_exercise` the ``FIGURES`` of the module that imports them."""

import pytest

pytest.register_assert_rewrite("tests.published.published_exercise")


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    figures = getattr(metafunc.module, "FIGURES", ())
    if "published_model" in metafunc.fixturenames:
        compared = [published for published in figures if published.model_within is not None]
        metafunc.parametrize("published_model", compared, ids=str)
    elif "slip" in metafunc.fixturenames and "published" in metafunc.fixturenames:
        mistakes = [
            pytest.param(published, typed, slip, id=f"{slip} is named beside: {published.claim}")
            for published in figures
            for typed, slip in published.mistakes
        ]
        metafunc.parametrize(("published", "typed", "slip"), mistakes)
    elif "published" in metafunc.fixturenames:
        metafunc.parametrize("published", figures, ids=str)
