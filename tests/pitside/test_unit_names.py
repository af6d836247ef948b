"""The listed spellings are the ones that are read."""

from __future__ import annotations

import pint
import pytest

from pitside.unit_names import read_unit, spellings


@pytest.mark.parametrize(("name", "known"), spellings().items())
def test_every_listed_spelling_is_read_as_its_unit(name: str, known: tuple[str, ...]) -> None:
    unit = read_unit(known[0])
    assert {read_unit(spelling) for spelling in known} == {unit}
    if name.isidentifier() and name != "dimensionless":
        assert read_unit(name) == unit


def test_no_spelling_is_listed_twice() -> None:
    listed = [spelling for known in spellings().values() for spelling in known]
    assert sorted(listed) == sorted(set(listed))


def test_spellings_that_count_a_power_stand_under_the_power() -> None:
    for name in ("ft3", "ft2", "m3"):
        assert {read_unit(spelling) for spelling in spellings()[name]} == {read_unit(name)}


@pytest.mark.parametrize("unit", ["kg/m3", "lb/ft3", "lb/gal", "m3/h", "bbl/ft2", "mm2/s"])
def test_units_are_read_as_pint_prints_them(unit: str) -> None:
    """A quantity that is handed in brings its unit in this form: "kilogram / meter ** 3"."""
    assert read_unit(f"{read_unit(unit):D}") == read_unit(unit)
    assert read_unit(str(pint.UnitRegistry().Unit("kg/m^3"))) == read_unit("kg/m3")
