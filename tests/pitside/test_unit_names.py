"""The listed spellings are the ones that are read."""

from __future__ import annotations

import pint
import pytest

from pitside.unit_names import UnknownUnit, kind_of, read_unit, spellings, usual_units


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


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("lb/" + "gal" * 40, "longer than"),
        ("/".join(["m"] * 12), "joins more than"),
        ("lb/", "Examples: lb/gal"),
        ("xyzzyx", "Examples: lb/gal"),
        ("lb/bbbl", "Did you mean lb/bbl"),
    ],
)
def test_what_is_no_unit_is_refused_in_words(text: str, why: str) -> None:
    with pytest.raises(UnknownUnit, match=why):
        read_unit(text)


def test_a_word_that_two_units_share_but_for_its_capitals_is_read_by_its_capitals_alone() -> None:
    """mPa and MPa differ a billion times: neither is guessed from "MPA"."""
    assert read_unit("MPa") == 1e9 * read_unit("mPa")
    with pytest.raises(UnknownUnit):
        read_unit("MPA")


def test_usual_units_start_with_the_one_that_was_asked_for() -> None:
    assert usual_units("psi")[0] == "psi"
    assert usual_units("Pa") == ("Pa", *usual_units("psi"))
    assert usual_units("kg*m") == ("kg*m",)


def test_a_kind_without_a_word_is_told_by_its_dimensions() -> None:
    assert kind_of("kg*m") in {"a quantity of [length] * [mass]", "a quantity of [mass] * [length]"}
    assert kind_of(read_unit("kPa")) == kind_of("psi")
