"""Odd rosters, as spreadsheets and people make them: the right candidates, or one clear line and nothing written.

And the other way: no CSV file that the project writes acts in a spreadsheet.
"""

from __future__ import annotations

import csv
import re
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from exercises.model import System
from grader import cli
from grader.papers.issue import issue
from grader.store.cells import harmless
from grader.store.csv_files import read_csv, write_csv
from grader.store.errors import GraderError
from grader.store.near_names import near_names
from grader.store.school import Candidate, School, open_school
from tests.grader.schools import CHAINED, hand_in, make_school, mark_and_report, paper_of, right_answers, script_with

ANN = Candidate("ab-1", "Ann Ndiaye", "Larkwater Energy", "day", System.METRIC)
BEN = Candidate("ab-2", "Ben Okafor", "", "", System.FIELD)
HEAD = "id,name,employer,crew,units"
LINES = (HEAD, "ab-1,Ann Ndiaye,Larkwater Energy,day,metric", "ab-2,Ben Okafor,,,")
PLAIN = "\n".join(LINES) + "\n"
SEMICOLONS, TABS = PLAIN.replace(",", ";"), PLAIN.replace(",", "\t")
QUOTED = "\n".join(",".join(f'"{cell}"' for cell in line.split(",")) for line in LINES) + "\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return make_school(tmp_path / "school", exercises=(CHAINED,)).folder


def roster(folder: Path, data: str | bytes) -> tuple[Candidate, ...]:
    (folder / "roster.csv").write_bytes(data if isinstance(data, bytes) else data.encode())
    return open_school(folder).roster


def tree(folder: Path) -> dict[str, bytes]:
    """Everything in a school's folder but the mark that a command is at work in it."""
    found = (path for path in folder.rglob("*") if path.is_file() and path.name != ".busy")
    return {str(path.relative_to(folder)): path.read_bytes() for path in found}


# Rosters that are read ------------------------------------------------------------------------------------------------

READ = {
    "plain": PLAIN,
    "UTF-8 with its mark, Windows line ends": b"\xef\xbb\xbf" + PLAIN.replace("\n", "\r\n").encode(),
    "old line ends": PLAIN.replace("\n", "\r"),
    "semicolons": SEMICOLONS,
    "semicolons with the mark": b"\xef\xbb\xbf" + SEMICOLONS.encode(),
    "tabs": TABS,
    "UTF-16 as 'Unicode text' saves it": b"\xff\xfe" + TABS.replace("\n", "\r\n").encode("utf-16-le"),
    "UTF-16, the other way round": b"\xfe\xff" + PLAIN.encode("utf-16-be"),
    "UTF-32": b"\xff\xfe\x00\x00" + PLAIN.encode("utf-32-le"),
    "UTF-32, the other way round": b"\x00\x00\xfe\xff" + PLAIN.encode("utf-32-be"),
    "quotes about every cell": QUOTED,
    "sep= with semicolons": "sep=;\r\n" + SEMICOLONS,
    "sep= with commas": "sep=,\n" + PLAIN,
    "sep= in capitals and quotes": '"SEP=;"\n' + SEMICOLONS,
    "sep= with a tab": "sep=\t\n" + TABS,
    "sep= with empty cells behind it": "sep=;;;;;\n" + SEMICOLONS,
    "sep= behind the mark": b"\xef\xbb\xbfsep=;\r\n" + SEMICOLONS.encode(),
    "sep= in UTF-16": ("\ufeffsep=;\r\n" + SEMICOLONS).encode("utf-16-le"),
    "a bar that sep= names": "sep=|\n" + PLAIN.replace(",", "|"),
    "empty columns at the end": PLAIN.replace("\n", ",,,\n"),
    "empty columns behind some lines": PLAIN.replace("metric\n", "metric,,,,\n"),
    "empty lines before, between, behind": "\n,,,,\n" + PLAIN.replace("\n", "\n\n") + ",,,,\n\n \n",
    "short lines": PLAIN.replace("Okafor,,,", "Okafor"),
    "no line end": PLAIN.rstrip("\n"),
    "capitals and blanks in the first line": PLAIN.replace(HEAD, " ID ,Name, EMPLOYER,Crew,Units "),
    "capitals in an id and a unit system": PLAIN.replace("ab-1", "AB-1").replace("metric", "METRIC"),
    "hard blanks about cells": PLAIN.replace("Ann Ndiaye", "\u00a0Ann\u00a0Ndiaye ").replace("ab-1", "ab-1\u00a0"),
    "columns of their own": "\n".join(
        f"{line},{more}" for line, more in zip(LINES, ("phone,boots", "+1 555,42", "=1+1,43"), strict=True)
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", READ)
def test_roster_gives_the_right_candidates_however_it_was_saved(folder, kind):
    assert roster(folder, READ[kind]) == (ANN, BEN)


NAMES = {
    "Arabic": "هالة المنصوري",
    "Hebrew": "נועה בן־דוד",
    "Persian, with a joiner that is not seen": "می‌خواهم",
    "Hindi": "श्रेया",
    "Thai": "พิมพ์ชนก",
    "Chinese": "李文桥",
    "beyond the first plane": "𠮷野 𐐔𐐯",
    "combining marks": "Ade\u0301ba\u0301yo\u0323\u0300",
    "composed": "Adébáyọ̀",
    "many marks": "Z" + "\u0301\u0302\u0303" * 8 + "oe",
    "Greek": "Βασίλης",
    "an apostrophe": "O'Dell",
    "a bar and a backslash": "A|B\\C",
    "a sum": "=SUM(A1:A9)",
    "a command": "=cmd|' /C calc'!A0",
    "a plus": "+47 Ann",
    "a minus": "-Ann",
    "an at": "@ann",
    "as long as may be": "A" * 200,
}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("kind", NAMES)
def test_name_comes_through_letter_by_letter(folder, kind, encoding):
    (found,) = roster(folder, f'id,name\nab-1,"{NAMES[kind]}"\n'.encode(encoding))
    assert found.name == NAMES[kind]


def test_signs_that_turn_the_text_behind_them_are_left_out(folder):
    """Else a name could turn the marks that stand behind it on a page."""
    (found,) = roster(folder, "id,name\nab-1,\u202eAnn\u202c \u2067Ben\u2069\n")
    assert found.name == "Ann Ben"


def test_five_thousand_lines_are_read_in_a_moment(folder):
    lines = "".join(f"ab-{number},Name {number},,crew {number % 4},\n" for number in range(5000))
    begun = time.monotonic()
    found = roster(folder, f"{HEAD}\n{lines}")
    assert [candidate.id for candidate in found] == [f"ab-{number}" for number in range(5000)]
    assert time.monotonic() - begun < 5


def test_one_fault_in_five_thousand_lines_is_named_by_its_line(folder):
    lines = [f"ab-{number},Name {number}" for number in range(5000)]
    lines[4321] = "AB-17,Twin"
    with pytest.raises(GraderError, match=r"line 4323: id ab-17 stands in line 19 already; ids must differ$"):
        roster(folder, "id,name\n" + "\n".join(lines))


# Rosters that are refused ---------------------------------------------------------------------------------------------

NAMED = "id,name\nab-1,{}\n"
REFUSED: dict[str, tuple[str | bytes, str]] = {
    "empty file": ("", "no column 'id'; the first line is " + HEAD),
    "nothing but the mark": (b"\xef\xbb\xbf", "no column 'id'; the first line is " + HEAD),
    "nothing but sep=": ("sep=;\n", "no column 'id'; the first line is " + HEAD),
    "only a first line": (HEAD + "\n", "no candidates; write a line for each under the first line"),
    "only a first line and empty ones": (HEAD + "\n,,,,\n\n", "no candidates; write a line for each"),
    "Windows-1252": (NAMED.format("Jürgen").encode("cp1252"), "line 2: not UTF-8 text; save the sheet as CSV UTF-8"),
    "Windows-1251": (NAMED.format("Дарья").encode("cp1251"), "line 2: not UTF-8 text; save the sheet as CSV UTF-8"),
    "Shift-JIS": (NAMED.format("李文").encode("shift-jis"), "line 2: not UTF-8 text; save the sheet as CSV UTF-8"),
    "Mac Roman": (NAMED.format("Zoë").encode("mac-roman"), "line 2: not UTF-8 text; save the sheet as CSV UTF-8"),
    "UTF-16 without its mark": (PLAIN.encode("utf-16-le"), "line 1: holds zero bytes, so not UTF-8 text; save"),
    "UTF-16 that was cut": (b"\xff\xfe" + PLAIN.encode("utf-16-le")[:-1], "begins as utf-16-le but is not; save the"),
    "a mark of UTF-16 before UTF-8": (b"\xff\xfe" + b"\x00\xd8" * 3, "begins as utf-16-le but is not; save the"),
    "the beginning of a workbook": (b"PK\x03\x04\x14\x00", "a damaged workbook; save the sheet as CSV UTF-8, or as"),
    "an old workbook": (b"\xd0\xcf\x11\xe0\xa1\xb1", "an old workbook, or one with a password; save the sheet as"),
    "a name of digits": (NAMED.format("12345"), "line 2: '12345' is no name but a number; write the"),
    "zero bytes in a name": (NAMED.format("A\0n"), "line 2: holds a control character, which no keyboard types; write"),
    "zero bytes in an id": ("id,name\nab\0-1,Ann\n", "line 2: 'ab\\x00-1' cannot be an id; use small letters"),
    "zero bytes in the first line": ("i\0d,name\nab-1,Ann\n", "line 1: holds zero bytes, so not UTF-8 text; save the"),
    "nothing but zero bytes": (b"\0" * 4096, "line 1: holds zero bytes, so not UTF-8 text; save the sheet"),
    "an id twice": (PLAIN + "ab-1,Cem,,,\n", "line 4: id ab-1 stands in line 2 already; ids must differ"),
    "an id twice, in capitals": (PLAIN + "Ab-2,Cem,,,\n", "line 4: id ab-2 stands in line 3 already; ids must differ"),
    "an id twice, behind sep=": ("sep=,\n" + PLAIN + "AB-2,C,,,\n", "line 5: id ab-2 stands in line 4 already"),
    "an id with a blank that is not seen": ("id,name\nab\u200b-1,Ann\n", "line 2: 'ab\\u200b-1' cannot be an id; use"),
    "an id as a formula": ("id,name\n=ab-1,Ann\n", "line 2: '=ab-1' cannot be an id; use small letters, digits"),
    "an id that a spreadsheet made a number": ("id,name\n1.2E+11,Ann\n", "line 2: '1.2E+11' cannot be an id; use"),
    "an endless id": ("id,name\n" + "a" * 999 + ",Ann\n", "...' cannot be an id; use small letters, digits"),
    "no first line": ("ab-1,Ann Ndiaye\n", "no column 'id'; the first line is " + HEAD + " (here it is 'ab-1,ann"),
    "no id": ("name,crew\nAnn,day\n", "no column 'id'; the first line is " + HEAD + " (here it is 'name,crew')"),
    "ids called otherwise": ("candidate id,name\nab-1,Ann\n", "no column 'id'; the first line is " + HEAD),
    "names in two columns": ("id,first name,last name\nab-1,Ann,Ndiaye\n", "no column 'name'; the first line is"),
    "names called otherwise": ("id,full name\nab-1,Ann\n", "no column 'name'; the first line is " + HEAD),
    "names in another language": ("id,имя\nab-1,Ann\n", "no column 'name'; the first line is " + HEAD),
    "a unit too few": ("id,name,unit\nab-1,Ann,metric\n", "column 'unit': write 'units' if it is that, else another"),
    "units with more to say": ("id,name,unit system\nab-1,Ann,metric\n", "column 'unit system': write 'units' if it"),
    "a slip in a column": ("id,name,employr\nab-1,Ann,Larkwater\n", "column 'employr': write 'employer' if it is"),
    "a column twice": ("id,name,units,Units\nab-1,Ann,metric,field\n", "two columns are called 'units'; the first"),
    "no such units": ("id,name,units\nab-1,Ann,SI\n", "line 2: 'SI' is no unit system; write field or metric"),
    "an open quote": ('id,name\nab-1,"Ann\nab-2,Ben\n', "line 2: cannot be read (unexpected end of data); see that"),
    "a comma in a name": ("id,name\nab-1,Ndiaye, Ann\n", "line 2: more cells than the first line has; put quotes"),
    "a comma in a name, empty columns": ("id,name,,\nab-1,Ndiaye, Ann,\n", "line 2: more cells than the first line"),
    "no name": ("id,name\nab-1, \n", "line 2: ab-1 has no name"),
    "a letter that was lost": (NAMED.format("J\ufffdrgen"), "line 2: a letter of the name was lost; save the sheet as"),
    "an endless name": (NAMED.format("A" * 201), "line 2: the name is longer than 200 letters; shorten it"),
    "an endless crew": ("id,name,crew\nab-1,Ann," + "x" * 5000 + "\n", "line 2: the crew is longer than 200 letters"),
    "a name of a megabyte": (NAMED.format("A" * (1 << 20)), "line 2: cannot be read (field larger than field limit"),
    "an escape": (NAMED.format("\x1b[2JAnn"), "line 2: holds a control character, which no keyboard types; write"),
    "a first line of escapes": ("\x1b[2J,name\nab-1,Ann\n", "no column 'id'; the first line is " + HEAD),
    "a page of the web": ("<!doctype html><table><tr><td>id</td></tr></table>\n", "no column 'id'; the first line is"),
    "noise": (bytes(range(128, 256)) * 9, "line 1: not UTF-8 text; save the sheet as CSV UTF-8"),
}  # fmt: skip


@pytest.mark.parametrize("kind", REFUSED)
def test_refused_roster_is_one_line_that_says_which_file_what_and_how_to_mend_it_and_nothing_is_written(folder, kind):
    data, says = REFUSED[kind]
    (folder / "roster.csv").write_bytes(data if isinstance(data, bytes) else data.encode())
    before = tree(folder)
    done = CliRunner().invoke(cli.commands, ["issue", str(folder)])
    assert isinstance(done.exception, GraderError), done.output
    line = str(done.exception)
    assert line.startswith(f"{folder / 'roster.csv'}: ")
    assert says in line
    assert line.isprintable()
    assert len(line) < len(str(folder)) + 300
    assert done.output == ""
    assert tree(folder) == before


def test_roster_that_is_a_folder_is_refused(folder):
    (folder / "roster.csv").unlink()
    (folder / "roster.csv").mkdir()
    with pytest.raises(GraderError, match=r"roster.csv: a folder, not a file; save the sheet as CSV UTF-8$"):
        open_school(folder)


def test_all_faults_are_told_at_once_each_by_its_line(folder):
    lines = ["ab-1,,metric", "ab 2,Ben,SI", "ab-3,Cem,field", "AB-3,Dee,", "ab-5,77,", "ab-6,Eva,field,more"]
    with pytest.raises(GraderError) as refused:
        roster(folder, "\n".join(["id,name,units", *lines]))
    assert str(refused.value).splitlines() == [
        f"{folder / 'roster.csv'}: 6 faults to mend",
        "  line 2: ab-1 has no name",
        "  line 3: 'ab 2' cannot be an id; use small letters, digits and hyphens, at most 32",
        "  line 3: 'SI' is no unit system; write field or metric",
        "  line 5: id ab-3 stands in line 4 already; ids must differ",
        "  line 6: '77' is no name but a number; write the candidate's name",
        "  line 7: more cells than the first line has; put quotes around a name with a comma",
    ]


def test_of_very_many_faults_twenty_are_told_and_the_rest_is_counted(folder):
    with pytest.raises(GraderError) as refused:
        roster(folder, "id,name\n" + "x y,Ann\n" * 5000)
    told = str(refused.value).splitlines()
    assert (len(told), told[-1]) == (22, "  and 4980 more")


# Names that are nearly the same ---------------------------------------------------------------------------------------

PAIRS = {
    "the same": ("Ann Ndiaye", "Ann Ndiaye", "the same name"),
    "other accents": ("Ingrid Sølvberg", "Ingrid Solvberg", "the same name"),
    "first name last": ("Ingrid Sølvberg", "Sølvberg, Ingrid", "the same name"),
    "capitals": ("Ingrid Sølvberg", "INGRID SØLVBERG", "the same name"),
    "a letter more": ("Mohammed Al-Amin", "Mohamed Al-Amin", "nearly the same name"),
    "another script": ("Дарья Полозова", "Дарья Полазова", "nearly the same name"),
}


@pytest.mark.parametrize("kind", PAIRS)
def test_names_that_read_nearly_alike_are_told_and_both_get_papers(folder, kind):
    one, other, why = PAIRS[kind]
    roster(folder, f'id,name\nab-1,"{one}"\nab-2,"{other}"\nab-3,Somebody Else\n')
    done = CliRunner().invoke(cli.commands, ["issue", str(folder)])
    line = f"Look at the roster: ab-1 ({one}) and ab-2 ({other}): {why}. If it is one person, delete a line."
    assert [told for told in done.output.splitlines() if told.startswith("Look")] == [line]
    assert "3 papers drawn" in done.output
    assert "Look at" not in CliRunner().invoke(cli.commands, ["issue", str(folder)]).output, "told once"


@pytest.mark.parametrize(
    ("one", "other"), [("Li Wei", "Li Wen"), ("Candidate 1", "Candidate 2"), ("Ann Sand", "Ben Silt"), ("李文", "李明")]
)
def test_other_names_are_not_told(folder, one, other):
    found = roster(folder, f"id,name\nab-1,{one}\nab-2,{other}\n")
    assert list(near_names(found, {"ab-1", "ab-2"})) == []


def test_columns_that_are_not_read_are_told_with_what_may_be_meant(folder):
    roster(folder, "id,name,phone,system,arrange\nab-1,Ann,1,metric,x\n")
    wanted = (
        f"Look at {folder / 'roster.csv'}: 3 columns are not read: 'phone', 'system', 'arrange' (did you mean "
        "arrangements?); those that are: id, name, employer, crew, units, arrangements"
    )
    for command in ("issue", "status"):
        assert wanted in CliRunner().invoke(cli.commands, [command, str(folder)]).output.splitlines()
    roster(folder, "id,name,crew\nab-1,Ann,x\n")
    assert "not read" not in CliRunner().invoke(cli.commands, ["status", str(folder)]).output


def test_ids_that_read_alike_are_told(folder):
    found = roster(folder, "id,name\nab-1,Ann\nab-01,Ben\nab-10,Cem\n")
    assert list(near_names(found, {"ab-10", "ab-1"})) == ["ab-1 (Ann) and ab-01 (Ben): ids that read alike"]


# CSV files that we write ----------------------------------------------------------------------------------------------

FORMULAS = (
    "=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(1)", " =1+1", "   +1", "\t=1", "\t1", "\r=1", "\n=1", "\u00a0=1",
    "\u200b=1", "\ufeff@x", "\u202e-1", "\u3000=1", "\uff1d1", "\uff0b1", "\uff0d1", "\uff20x", "\u22121", "Ann;=1+1",
    "Ann; \t=1", "a\tb\t@x", "a\n-1",
)  # fmt: skip


def acts(cell: str) -> bool:
    """Whether a spreadsheet may take a cell, or a piece of it that it splits off, for a formula."""
    pieces = cell.replace("\t", ";").replace("\n", ";").replace("\r", ";").split(";")
    blanks = " \u00a0\u3000\u200b\ufeff\u202e"
    return cell[:1] in ("\t", "\r", "\n") or any(
        piece.lstrip(blanks)[:1] in tuple("=+-@\uff1d\uff0b\uff0d\uff20\u2212") for piece in pieces
    )


@pytest.mark.parametrize("cell", FORMULAS)
def test_formula_is_made_text_and_keeps_its_letters(cell):
    assert acts(cell)
    assert not acts(harmless(cell))
    assert harmless(cell).replace("'", "") == cell.replace("'", "")


@pytest.mark.parametrize("cell", ["", "Ann", "O'Dell", "7.5", "1e-05", "a=b", "Ann-Marie", "ann@spy.test", "2 + 2"])
def test_plain_cell_is_left_as_it_is(cell):
    assert harmless(cell) == cell


def test_every_cell_of_a_written_file_is_harmless_also_in_the_first_line(tmp_path):
    write_csv(tmp_path / "x.csv", [FORMULAS, ["plain", -1.5, 2, None], FORMULAS[::-1]])
    with (tmp_path / "x.csv").open(encoding="utf-8-sig", newline="") as file:
        first, second, third = csv.reader(file)
    assert not [cell for cell in (*first, *third) if acts(cell)]
    assert second == ["plain", "-1.5", "2", "None"]  # a number below nought is no formula, and stays a number


def test_written_file_is_read_again_as_it_was(tmp_path):
    rows = [["id", "name"], ["ab-1", 'Ann "A" Ndiaye, jr.'], ["ab-2", "李文桥"]]
    write_csv(tmp_path / "x.csv", rows)
    assert read_csv(tmp_path / "x.csv") == [(1, rows[0]), (2, rows[1]), (3, rows[2])]


def test_only_one_module_writes_csv():
    """So what holds for it holds for all of the files."""
    for path in sorted(Path(cli.__file__).parent.rglob("*.py")):
        if path.name != "csv_files.py":
            assert not re.search(r"^\s*(import|from) csv\b", path.read_text("utf-8"), re.MULTILINE), path


@pytest.fixture
def hostile_school(tmp_path, warm_room) -> School:
    """Everybody is called a formula, and so is what they hand in; results and feedback are written."""
    lines = []
    for number, formula in enumerate(FORMULAS[:6], 1):
        cell = formula.replace('"', '""')
        lines.append(f'aa-{number:02d},"x{cell}","{cell}","{cell}",field')
        lines.append(f'bb-{number:02d},"{cell}","{cell}","{cell}",metric')
    school = make_school(tmp_path / "school", roster=lines)
    issue(school, school.sittings, lambda done, total: None)
    for candidate in school.roster[::2]:
        paper = paper_of(school, candidate.id)
        script = script_with(school, paper, dict(right_answers(paper.variants())))
        script["metadata"]["pitside"]["digest"] = "=1+1"
        script["cells"].insert(2, {"cell_type": "code", "id": "x", "metadata": {}, "outputs": [],
                                   "execution_count": None, "source": "raise ValueError('=1+1;=2;\\t@x')"})  # fmt: skip
        hand_in(school, paper, script)
    hand_in(school, paper_of(school, "bb-01"), b"=1+1", f"=cmd_{school.roster[1].id}.ipynb")
    mark_and_report(school)
    return school


def test_no_csv_file_of_a_school_acts_in_a_spreadsheet(hostile_school):
    files = [path for path in hostile_school.folder.rglob("*.csv") if path.name != "roster.csv"]
    assert {path.name for path in files} == {"results.csv", "others_numbers.csv", "handed_out.csv"}
    cells = []
    for path in files:
        with path.open(encoding="utf-8-sig", newline="") as file:
            cells += [cell for row in csv.reader(file) for cell in row]
    assert not [cell for cell in cells if acts(cell)]
    assert "'=cmd|' /C calc'!A0" in cells
    assert any("ValueError" in cell for cell in cells)
