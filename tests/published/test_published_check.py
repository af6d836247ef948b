"""The checks themselves: they pass inside their tolerance, fail outside it, and say where they come from."""

from __future__ import annotations

import pytest

from pitside.units import Q
from tests.published.published_check import Check, Status


def a_check(found=140.0, status=Status.SEEN, value=140.0, **changes):
    fields = {"absolute": 0.5, "because": "printed to a unit", "source": "a book"} | changes
    return Check("sacks", lambda: Q(found, "sack"), value, "sack", status=status, **fields)


def test_a_check_holds_inside_its_tolerance_and_fails_outside():
    assert a_check(140.4).found == a_check().expected
    assert a_check(140.6).found != a_check().expected
    assert a_check(141.3, absolute=0.0, relative=0.01).found == a_check(absolute=0.0, relative=0.01).expected
    assert a_check(141.5, absolute=0.0, relative=0.01).found != a_check(absolute=0.0, relative=0.01).expected


def test_a_check_compares_in_its_own_unit():
    assert Check("mass", lambda: Q(14_000, "lb"), 140.0, "sack", "x", "a book", Status.SEEN, 0.1).found == 140.0


def test_the_id_carries_status_and_source():
    assert str(a_check(status=Status.MEMORY)) == "from memory: a book: sacks"


@pytest.mark.parametrize("missing", [{"because": ""}, {"source": ""}, {"absolute": 0.0}, {"relative": 0.1}])
def test_a_check_without_source_reason_or_one_tolerance_is_refused(missing):
    with pytest.raises(ValueError, match="give one tolerance"):
        a_check(**missing)


def test_a_derived_figure_must_be_computed():
    with pytest.raises(ValueError, match="a derived figure is computed"):
        a_check(status=Status.DERIVED)
    assert a_check(status=Status.DERIVED, value=lambda: 140.0).found == 140.0
