"""What people mistype in school.toml is told in one line that says where, and how to write it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from grader.store.errors import GraderError
from grader.store.school import new_school
from grader.store.school_toml import read_settings

#: What is replaced in the settings of a new school of three days, by what, and what the one line says then.
SLIPS = {
    "setting without its underscore": ("pass_percent = 70", "passpercent = 70", "did you mean pass_percent?"),
    "setting with a letter too few": (
        '# assessor = "..."',
        'assesor = "Zoë"',
        "[school]: no setting is called assesor",
    ),
    "setting of a sitting": ("weight = 1 ", "wieght = 1 ", "[[sitting]] number 1: no setting is called wieght"),
    "setting of another block": ("[privacy]", '[privacy]\nresit = "best"', "resit belongs into the block [marking]"),
    "setting before the blocks": ("[school]", "pass_percent = 5\n[school]", "write it below [marking]"),
    "block in the plural": ("[[sitting]]", "[sittings.day1]", "did you mean [[sitting]]? The blocks are [school]"),
    "block with another name": ("[marking]", "[mark]", "no block is called [mark]; did you mean [marking]?"),
    "sitting in single brackets": ("[[sitting]]", "[sitting]", "write [[sitting]] with two brackets"),
    "yes": ("every_outcome = true", "every_outcome = yes", "every_outcome = yes: write true or false"),
    "date of another country": ("starts = 2026-05-04", "starts = 4.5.2026", "write a date with the year first"),
    "decimal comma": ("pass_percent = 70", "pass_percent = 72,5", "write a decimal point in place of the comma"),
    "percent sign": ("pass_percent = 70", "pass_percent = 70%", "without the sign %"),
    "text without quotes": ('units = "field"', "units = field", "put quotes around the text"),
    "half a quote": ('units = "field"', 'units = "field', 'a quote " is missing'),
    "slanted quotes": ('units = "field"', "units = “field”", "type the plain quotes"),
    "no comma in a list": ('"hole-volume",', '"hole-volume"', '"hole-volume": a comma is missing at its end'),
    "no quotes in a list": ('"hole-volume",', "hole-volume,", "put quotes around each name of the list"),
    "list that is not closed": ("]  # about", "# about", "the list above it is not closed"),
    "name of a block cut": ("[marking]", "[marking", "needs a bracket behind it too"),
    "no equals sign": ('units = "field"', 'units "field"', "write name = value"),
    "twice": ("[privacy]", 'resit = "best"\n[privacy]', "stands twice; delete one of the two"),
}


@pytest.fixture
def settings(tmp_path) -> Path:
    new_school(tmp_path / "school", "School", date(2026, 5, 4), 3)
    return tmp_path / "school" / "school.toml"


@pytest.mark.parametrize("slip", SLIPS)
def test_slip_in_the_settings_is_one_line_that_says_how_to_write_it(settings, slip):
    right, wrong, says = SLIPS[slip]
    text = settings.read_text(encoding="utf-8")
    assert right in text
    settings.write_text(text.replace(right, wrong, 1), encoding="utf-8")
    with pytest.raises(GraderError) as fault:
        read_settings(settings)
    (line,) = str(fault.value).split("\n")
    assert line.startswith(f"{settings}: ") and says in line


def test_several_unknown_names_are_told_at_once(settings):
    text = settings.read_text(encoding="utf-8").replace("\nweight = ", "\nwieght = ")
    settings.write_text(text, encoding="utf-8")
    with pytest.raises(GraderError) as fault:
        read_settings(settings)
    first, *lines = str(fault.value).split("\n")
    many = text.count("\nwieght = ")
    assert many > 2 and first == f"{settings}: {many} faults to mend"
    assert [line.split(":")[0] for line in lines] == [f"  [[sitting]] number {n}" for n in range(1, many + 1)]
