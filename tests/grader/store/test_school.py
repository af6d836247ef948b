"""The school folder: what is right is read as it is meant, and each fault is one clear line for the person."""

from __future__ import annotations

import stat
from datetime import date
from pathlib import Path

import pytest

from exercises.model import System
from exercises.model.marking import Rounding
from grader.store.errors import GraderError
from grader.store.school import Candidate, new_school, open_school
from tests.grader.schools import CHAINED, KEY, WITH_TABLE, settings

GOOD = settings()
HEAD = "id,name,employer,crew,units\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    new_school(tmp_path / "school", "Marram school", date(2026, 5, 4))
    (tmp_path / "school" / "school.toml").write_text(GOOD)
    return tmp_path / "school"


def roster(folder: Path, text: str | bytes) -> tuple[Candidate, ...]:
    data = text if isinstance(text, bytes) else text.encode()
    (folder / "roster.csv").write_bytes(data)
    return open_school(folder).roster


def complaint(folder: Path) -> str:
    """The line that a person sees on opening this school; it is one line that a terminal can show."""
    with pytest.raises(GraderError) as caught:
        school = open_school(folder)
        school.key  # noqa: B018 - the key is read when it is first asked for
    line = str(caught.value)
    assert "\n" not in line
    assert line.isprintable()
    return line


# A new school ---------------------------------------------------------------------------------------------------------


def test_new_school_can_be_opened_and_offers_exercises_of_the_bank(tmp_path):
    new_school(tmp_path / "s", "Winter school", date(2030, 1, 31))
    (tmp_path / "s" / "roster.csv").write_text("id,name\nab-1,Ann\n")
    school = open_school(tmp_path / "s")
    assert (school.id, school.title, school.starts) == ("winter-school", "Winter school", date(2030, 1, 31))
    assert school.units is System.FIELD
    assert len(school.sittings[0].exercises) == 3
    assert {path.name for path in school.folder.iterdir()} == {
        "packs", "scripts", "records", "school.key", "school.toml", "roster.csv", "cover.md",
    }  # fmt: skip


def test_new_school_has_a_column_for_arrangements_and_a_cover_that_prints_nothing_until_words_are_in_it(tmp_path):
    new_school(tmp_path / "s", "Winter school", date(2030, 1, 31))
    assert (tmp_path / "s" / "roster.csv").read_text() == "id,name,employer,crew,units,arrangements\n"
    assert open_school(tmp_path / "s").cover == ""
    cover = tmp_path / "s" / "cover.md"
    assert "stands on top of every paper" in cover.read_text()
    cover.write_text(cover.read_text() + "\n# Yard rules\n")
    assert open_school(tmp_path / "s").cover == "# Yard rules"


def test_new_school_keeps_a_roster_and_a_cover_that_lie_there(tmp_path):
    (tmp_path / "s").mkdir()
    for name in ("roster.xlsx", "cover.md"):
        (tmp_path / "s" / name).write_bytes(b"mine")
    new_school(tmp_path / "s", "Winter school", date(2030, 1, 31))
    assert (tmp_path / "s" / "cover.md").read_bytes() == (tmp_path / "s" / "roster.xlsx").read_bytes() == b"mine"
    assert not (tmp_path / "s" / "roster.csv").exists()


@pytest.mark.parametrize(
    ("title", "school_id"),
    [
        ("Zëta Süd", "zeta-sud"), ("Ærø Ås, uke 11", "aero-as-uke-11"), ("Łódź – październik", "lodz-pazdziernik"),
        ("Straße 7", "strasse-7"), ("Işık", "isik"), ("ÇALIŞMA", "calisma"), ("Niño & Peña", "nino-pena"),
        ("Đà Nẵng", "da-nang"), ("Школа", "school"), ("李文", "school"), ("Ⅷ", "viii"), ("x" * 50, "x" * 32),
    ],
)  # fmt: skip
def test_title_makes_an_id_that_reads_like_it(tmp_path, title, school_id):
    new_school(tmp_path / "s", title, date(2030, 1, 31))
    assert open_school(tmp_path / "s").id == school_id


def test_key_file_is_for_its_owner_alone_and_differs_between_schools(tmp_path):
    keys = set()
    for name in ("one", "two"):
        new_school(tmp_path / name, "School", date(2030, 1, 31))
        path = tmp_path / name / "school.key"
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        keys.add(open_school(tmp_path / name).key)
    assert len(keys) == 2
    assert all(len(key) == 32 for key in keys)


@pytest.mark.parametrize(
    "title",
    ['A "quoted" title', "Back\\slash", "Braces {id} {0}", "Two\nlines\x07", "学校", "   spaced   out ", "x" * 300],
)
def test_any_title_makes_a_school_that_opens(tmp_path, title):
    new_school(tmp_path / "s", title, date(2030, 1, 31))
    school = open_school(tmp_path / "s")
    assert school.title.isprintable()
    assert school.id


def test_empty_title_is_refused_before_anything_is_made(tmp_path):
    with pytest.raises(GraderError, match="give the school a title"):
        new_school(tmp_path / "s", " \n ", date(2030, 1, 31))
    assert not (tmp_path / "s").exists()


@pytest.mark.parametrize("there", ["school.toml", "school.key"])
def test_new_school_refuses_an_existing_one_and_touches_nothing(tmp_path, there):
    (tmp_path / there).write_text("mine")
    with pytest.raises(GraderError, match="holds a school already; choose another folder"):
        new_school(tmp_path, "School", date(2030, 1, 31))
    assert [path.name for path in tmp_path.iterdir()] == [there]
    assert (tmp_path / there).read_text() == "mine"


def test_new_school_keeps_a_roster_that_lies_there(tmp_path):
    (tmp_path / "roster.csv").write_text("id,name\nab-1,Ann\n")
    new_school(tmp_path, "School", date(2030, 1, 31))
    assert open_school(tmp_path).roster[0].name == "Ann"


# Settings -------------------------------------------------------------------------------------------------------------


def test_settings_are_read_as_written(folder):
    school = open_school(folder)
    sitting = school.sittings[0]
    assert (school.id, school.title, school.starts) == ("marram", "Marram school", date(2026, 5, 4))
    assert (sitting.id, sitting.title, sitting.day) == ("day1", "First paper", date(2026, 5, 5))
    assert sitting.exercises == (CHAINED,)
    assert school.pass_percent == 70
    assert school.rounding is Rounding.NO_MARKS
    assert school.sitting("day1") is sitting


def test_byte_order_mark_and_windows_line_ends_in_settings(folder):
    (folder / "school.toml").write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert open_school(folder).title == "Marram school"


FAULTS_IN_SETTINGS = {
    "no TOML": (lambda text: "title: x", "line 1: title: x: write name = value"),
    "not UTF-8": (lambda text: "title = 'ß'".encode("latin-1"), "cannot be read"),
    "no [school]": (lambda text: text.replace("[school]", "[skool]"), "did you mean [school]?"),
    "school is no block": (lambda text: "school = 3\n", "the block [school] is missing"),
    "no [marking]": (lambda text: text.replace("[marking]", "[marks]"), "did you mean [marking]?"),
    "no id": (lambda text: text.replace('id = "marram"', ""), '[school] needs a line id = "..."'),
    "empty title": (lambda text: text.replace("Marram school", " "), '[school] needs a line title = "..."'),
    "title is a number": (lambda text: text.replace('"Marram school"', "3"), '[school] needs a line title = "..."'),
    "school id with a space": (lambda text: text.replace('"marram"', '"Marram 1"'), "'Marram 1' cannot be an id"),
    "school id climbs out": (lambda text: text.replace('"marram"', '"../x"'), "'../x' cannot be an id"),
    "starts in quotes": (lambda text: text.replace("2026-05-04", '"2026-05-04"'), "date such as starts = 2030-01-31"),
    "starts with a time": (lambda text: text.replace("2026-05-04", "2026-05-04T10:00:00"), "date such as starts"),
    "unknown units": (lambda text: text.replace('"field"', '"imperial"'), "'imperial' is no unit system"),
    "an unknown rule on rounding": (
        lambda text: text.replace("pass_percent = 70", 'pass_percent = 70\nrounding = "some"'),
        'write one of "no marks", "half marks", "full marks"',
    ),
    "no pass mark": (lambda text: text.replace("pass_percent = 70", ""), "needs pass_percent, a number from 0 to 100"),
    "pass mark too high": (lambda text: text.replace("= 70", "= 101"), "a number from 0 to 100"),
    "pass mark not a number": (lambda text: text.replace("= 70", "= nan"), "a number from 0 to 100"),
    "pass mark true": (lambda text: text.replace("= 70", "= true"), "a number from 0 to 100"),
    "no sitting": (lambda text: text.partition("[[sitting]]")[0], "needs at least one block [[sitting]]"),
    "sitting in single brackets": (lambda text: text.replace("[[sitting]]", "[sitting]"), "write [[sitting]] with"),
    "sittings are texts": (lambda text: 'sitting = ["day1"]\n' + text.partition("[[")[0], "block [[sitting]]"),
    "sitting without id": (lambda text: text.replace('id = "day1"', ""), '[sitting] needs a line id = "..."'),
    "sitting id with capital": (lambda text: text.replace('"day1"', '"Day1"'), "'Day1' cannot be an id"),
    "sitting without day": (lambda text: text.replace("day = 2026-05-05", ""), "[sitting] needs a date such as day"),
    "no exercises": (lambda text: text.replace(f'["{CHAINED}"]', "[]"), "sitting day1 needs exercises"),
    "exercises is a text": (lambda text: text.replace(f'["{CHAINED}"]', f'"{CHAINED}"'), "day1 needs exercises"),
    "unknown exercise": (lambda text: text.replace(CHAINED, "knitting"), "no exercise 'knitting'; see: pitside exer"),
    "exercise is a list": (lambda text: text.replace(f'["{CHAINED}"]', "[[1]]"), "day1: no exercise [1]"),
    "exercise twice": (lambda text: text.replace(f'"{CHAINED}"', f'"{CHAINED}", "{CHAINED}"'), "an exercise twice"),
    "two sittings of one id": (
        lambda text: text + text[text.index("[[sitting]]") :], "two sittings are called 'day1'"
    ),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS_IN_SETTINGS)
def test_fault_in_settings_is_one_line_that_names_file_and_mend(folder, fault):
    spoil, says = FAULTS_IN_SETTINGS[fault]
    text = spoil(GOOD)
    (folder / "school.toml").write_bytes(text if isinstance(text, bytes) else text.encode())
    line = complaint(folder)
    assert line.startswith(f"{folder / 'school.toml'}: ")
    assert says in line


def test_folder_without_school_says_how_to_make_one(tmp_path):
    assert complaint(tmp_path) == f"{tmp_path}: no school here (no school.toml); make one with: pitside new {tmp_path}"


def test_unknown_sitting_names_those_that_there_are(folder):
    (folder / "school.toml").write_text(
        GOOD + f'[[sitting]]\nid = "day2"\ntitle = "Second"\nday = 2026-05-06\nexercises = ["{WITH_TABLE}"]\n'
    )
    with pytest.raises(GraderError, match=r"school.toml: no sitting 'day3'; there are: day1, day2"):
        open_school(folder).sitting("day3")


# Roster ---------------------------------------------------------------------------------------------------------------


def test_roster_line_becomes_a_candidate(folder):
    (found,) = roster(folder, HEAD + "AB-1, Ann Ndiaye ,Larkwater Energy,day crew,Metric\n")
    assert found == Candidate("ab-1", "Ann Ndiaye", "Larkwater Energy", "day crew", System.METRIC)


def test_units_left_out_are_the_schools(folder):
    (folder / "school.toml").write_text(settings(units="metric"))
    first, second = roster(folder, HEAD + "ab-1,Ann,,,\nab-2,Ben,,,field\n")
    assert (first.units, second.units) == (System.METRIC, System.FIELD)


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(b"\xef\xbb\xbfid,name,crew\r\nab-1,Ann,day\r\n", id="byte-order mark, Windows line ends"),
        pytest.param("id;name;crew\nab-1;Ann;day\n", id="semicolons"),
        pytest.param("ID, Name ,CREW\nab-1,Ann,day\n", id="capitals and spaces in the first line"),
        pytest.param("crew,name,note,id\nday,Ann,?,ab-1\n", id="other order, a column of their own"),
        pytest.param("id,name,crew\r\rab-1,Ann,day\r", id="old line ends"),
        pytest.param("id,name,crew\n,,\nab-1,Ann,day\n,,,,,\n\n", id="empty lines"),
        pytest.param('id,name,crew\nab-1,"Ann",day', id="no line end, quoted"),
    ],
)
def test_roster_as_spreadsheets_save_it(folder, text):
    (found,) = roster(folder, text)
    assert (found.id, found.name, found.crew) == ("ab-1", "Ann", "day")


NAMES = (
    "李文桥", "Дарья Полозова", "هالة المنصوري", "พิมพ์ชนก", "Βασίλης", "Adébáyọ̀-Oru", "श्रेया", "می‌خواهم",
    "O'Dell \"Dell\" Prewitt",
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_names_in_any_script_come_through_unchanged(folder, name):
    quoted = name.replace('"', '""')
    (found,) = roster(folder, f'id,name\nab-1,"{quoted}"\n')
    assert found.name == name


def test_semicolons_leave_commas_in_names_alone(folder):
    (found,) = roster(folder, "id;name\nab-1;Ndiaye, Ann\n")
    assert found.name == "Ndiaye, Ann"


def test_line_break_inside_a_name_is_a_space(folder):
    (found,) = roster(folder, 'id,name\nab-1,"Ann\n\n# Ndiaye"\n')
    assert found.name == "Ann # Ndiaye"


FAULTS_IN_ROSTER = {
    "not UTF-8": (HEAD.encode() + "ab-1,Jürgen\n".encode("latin-1"), "not UTF-8 text; save the sheet as CSV UTF-8"),
    "UTF-16 without its mark": (
        (HEAD + "ab-1,Ann\n").encode("utf-16-le"),
        "line 1: holds zero bytes, so not UTF-8 text; save the sheet as CSV",
    ),
    "empty file": ("", "no column 'id'; the first line is id,name,employer,crew,units"),
    "no id column": ("name,crew\nAnn,day\n", "no column 'id'; the first line is id,name,employer,crew,units"),
    "no name column": ("id,crew\nab-1,day\n", "no column 'name'; the first line is id,name,employer,crew,units"),
    "no first line": ("ab-1,Ann\nab-2,Ben\n", "no column 'id'"),
    "name twice": ("id,name,name\nab-1,Ann,Ben\n", "two columns are called 'name'"),
    "no name": (HEAD + "ab-1,,,,\n", "line 2: ab-1 has no name"),
    "no id": (HEAD + "ab-1,Ann\n,Ben\n", "line 3: '' cannot be an id; use small letters, digits and hyphens"),
    "id with a space": (HEAD + "a b,Ann\n", "line 2: 'a b' cannot be an id"),
    "id climbs out": (HEAD + "../../x,Ann\n", "line 2: '../../x' cannot be an id"),
    "id ends in a hyphen": (HEAD + "ab-,Ann\n", "line 2: 'ab-' cannot be an id"),
    "id in other letters": (HEAD + "тп-1,Ann\n", "line 2: 'тп-1' cannot be an id"),
    "id too long": (HEAD + "a" * 33 + ",Ann\n", "at most 32"),
    "id twice": (HEAD + "ab-1,Ann\nab-2,Ben\nAB-1,Cem\n", "line 4: id ab-1 stands in line 2 already; ids must differ"),
    "unknown units": (HEAD + "ab-1,Ann,,,imperial\n", "line 2: 'imperial' is no unit system; write field or metric"),
    "comma in a name": ("id,name,crew\nab-1,Ndiaye, Ann,day\n", "line 2: more cells than the first line has"),
    "open quote": (HEAD + 'ab-1,"Ann,,,\nab-2,Ben,,,\n', "line 2: cannot be read"),
    "quote in the middle": (HEAD + 'ab-1,"Ann" B,,,\n', "line 2: cannot be read"),
    "endless name": (HEAD + "ab-1," + "A" * 200_000 + "\n", "line 2: cannot be read"),
    "control character": (HEAD + "ab-1,An\x1b[31mn\n", "line 2: holds a control character"),
    "zero byte": (HEAD + "ab-1,An\x00n\n", "line 2: holds a control character"),
}


@pytest.mark.parametrize("fault", FAULTS_IN_ROSTER)
def test_fault_in_roster_is_one_line_that_names_file_line_and_mend(folder, fault):
    text, says = FAULTS_IN_ROSTER[fault]
    (folder / "roster.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
    line = complaint(folder)
    assert line.startswith(f"{folder / 'roster.csv'}: ")
    assert says in line


def test_missing_roster_says_what_its_first_line_is(folder):
    (folder / "roster.csv").unlink()
    assert complaint(folder) == f"{folder / 'roster.csv'}: missing; its first line is id,name,employer,crew,units"


# Key ------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "says"),
    [
        pytest.param(None, "missing; nothing can be marked without it: restore your backup", id="missing"),
        pytest.param(b"", "not a whole school key", id="empty"),
        pytest.param(KEY[:-2].encode(), "not a whole school key", id="cut short"),
        pytest.param(KEY.replace("a", "x").encode(), "not a school key", id="other letters"),
        pytest.param("schlüssel".encode(), "not a school key", id="not ASCII"),
    ],
)
def test_missing_or_damaged_key_is_one_line(folder, text, says):
    (folder / "school.key").unlink()
    if text is not None:
        (folder / "school.key").write_bytes(text)
    line = complaint(folder)
    assert line.startswith(f"{folder / 'school.key'}: ")
    assert says in line
    assert KEY[:8] not in line
