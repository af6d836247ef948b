"""The command line: exit statuses, and one clear line where something is to be mended; never a traceback."""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from filelock import FileLock

from exercises import BANK, LESSONS
from grader import cli
from grader.command_names import GROUPS, OTHER_WORDS, RENAMED
from grader.marking import marking as marking_module
from grader.marking import rooms
from grader.running.run_result import RunnerError, WallsMissingError
from grader.store.errors import GraderError
from grader.store.school import open_school
from tests.grader.schools import (
    CHAINED,
    ONE_ROOM,
    SITTING,
    add_cell,
    hand_in,
    pack_of,
    paper_of,
    right_answers,
    rows_of,
    script_with,
    settings,
)
from tests.sharing import a_few


@pytest.fixture
def pitside(monkeypatch, capsys, tmp_path):
    """Runs the command in this process, in an empty folder; gives status, output, and what the error stream got."""
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)

    def run(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["pitside", *map(str, arguments)])
        status = 0
        try:
            cli.main()
        except SystemExit as ended:
            status = int(ended.code or 0)
        said, complaints = capsys.readouterr()
        assert "Traceback" not in said + complaints
        return status, said, complaints

    return run


def one_line(complaints: str) -> str:
    """The complaint, which is a single line from the command itself."""
    assert re.fullmatch(r"pitside: [^\n]+\n", complaints), complaints
    return complaints.removeprefix("pitside: ").rstrip("\n")


# The whole way --------------------------------------------------------------------------------------------------------


def test_from_a_new_school_to_results(pitside, tmp_path, warm_room):
    folder = tmp_path / "school"
    status, said, _ = pitside("new", folder, "--title", "Saltreed course", "--starts", "2026-05-04")
    assert status == 0
    assert f"pitside issue {folder}" in said
    assert "give it to nobody" in said
    assert open_school(folder).starts == date(2026, 5, 4)

    (folder / "school.toml").write_text(settings([CHAINED]))
    (folder / "roster.csv").write_text("id,name\naa-01,Ann\naa-02,Ben\n")
    status, said, _ = pitside("issue", folder)
    packs = folder / "packs" / SITTING
    assert (status, said.splitlines()) == (
        0,
        [
            f"{SITTING}: 2 papers drawn, 2 packs written, 0 there before: {packs}",
            f"To print all sheets: {packs / 'sheets.html'}; who gets what: {packs / 'who_gets_what.html'}",
        ],
    )
    status, said, _ = pitside("issue", folder, "--sitting", SITTING)
    assert (status, said.splitlines()[0]) == (0, f"{SITTING}: 0 papers drawn, 0 packs written, 2 there before: {packs}")

    school = open_school(folder)
    one, two = paper_of(school, "aa-01"), paper_of(school, "aa-02")
    hand_in(school, one, script_with(school, one, dict(right_answers(one.variants()))))
    hand_in(school, two, b"{no notebook")
    status, said, complaints = pitside("mark", folder, "--workers", "1")
    assert (status, complaints) == (0, "")
    assert said.splitlines() == [
        "1 script marked, 0 marked before, 1 not marked",
        f"  scripts/marram_{SITTING}_aa-02.ipynb: a notebook that was cut off or damaged on its way: "
        "ask for the file again",
        f"Next: pitside results {folder}",
    ]
    status, said, complaints = pitside("results", folder)
    assert (status, complaints) == (0, "")
    assert said.startswith("1 of 2 papers with marks\n  aa-02, day1: scripts/")
    page, table = (folder / "records" / name for name in ("results.html", "results.csv"))
    assert said.endswith(f"Open {page} (for a spreadsheet: {table} or results.xlsx)\n")
    assert rows_of(school)["aa-01"]["percent"] == "100.0"
    assert not list(Path.cwd().iterdir())


def test_exercises_lists_the_whole_bank_by_lesson(pitside):
    status, said, _ = pitside("exercises")
    assert status == 0
    *titles, last = [line for line in said.splitlines() if not line.startswith(" ")]
    assert titles == [lesson.title for lesson in LESSONS.values()]
    assert last.startswith(f"{len(BANK)} exercises; marks for numbers ")
    assert {line.split()[0] for line in said.splitlines() if line.startswith(" ")} == set(BANK)


def test_explain_says_how_a_part_got_its_mark(pitside, school, warm_room):
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    assert pitside("mark", school.folder, "--workers", "1")[0] == 0
    status, said, complaints = pitside("explain", school.folder, "aa-01", "1a")
    assert (status, complaints) == (0, "")
    assert "rule          right" in said
    assert pitside("explain", school.folder, "aa-01", "1(A)") == (0, said, "")
    status, said, complaints = pitside("explain", school.folder, "aa-01")
    lines = said.splitlines()
    assert (status, complaints) == (0, "")
    assert lines[0].startswith(f"paper {paper.id}: ")
    assert re.fullmatch(r"  1a +([\d.]+) of \1 +right", lines[1])
    status, said, _ = pitside("change", school.folder, "aa-01", "1(a)", "0,5", "--kind", "appeal", "--reason", "x")
    assert status == 0 and "part 1a: " in said and "0.5 now" in said
    status, said, complaints = pitside("explain", school.folder, "aa-02", "1a")
    assert (status, said) == (cli.TO_MEND, "")
    assert "no script of aa-02 is marked" in one_line(complaints)


def test_folder_with_a_space_is_told_in_quotes(pitside):
    _, said, _ = pitside("new", "My school")
    assert 'pitside issue "My school"' in said
    assert cli.typed(Path("schools/summer-7")) == "schools/summer-7"


def test_what_is_typed_wrongly_is_told_in_one_line_with_where_to_read_on(pitside):
    _, _, complaints = pitside("change", ".", "aa-01", "2b", "1", "--reason", "x")
    assert "Missing option '--kind'. Choose from: appeal, moderation, correction (see: " in one_line(complaints)
    _, said, complaints = pitside()
    assert "Where you are:" in said + complaints


def test_day_in_another_order_is_told_how_to_write_it(pitside):
    status, _, complaints = pitside("new", "school", "--starts", "1.12.2026")
    assert status == cli.TO_MEND and "year first, such as 2030-01-31" in complaints


def test_candidate_who_has_a_paper_already_is_told_of_lost_packs(pitside, school):
    _, said, _ = pitside("issue", school.folder, "--candidate", "aa-01")
    assert f"pitside issue {school.folder} --sitting {SITTING} --replace --candidate aa-01" in said


def test_marking_again_needs_a_reason_and_marks_what_is_marked(pitside, school, warm_room):
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    assert pitside("mark", school.folder, "--workers", "1")[0] == 0
    for half in (["--again"], ["--again", "--reason", " "], ["--reason", "no flag"]):
        status, said, complaints = pitside("mark", school.folder, *half)
        assert (status, said) == (cli.TO_MEND, "")
        assert "to mark again, say why" in complaints
    status, said, _ = pitside("mark", school.folder, "--workers", "1", "--again", "--reason", "a figure was doubted")
    assert (status, said.splitlines()[0]) == (0, "1 script marked, 0 marked before, 0 not marked")
    assert '"why": "a figure was doubted"' in (school.records / "log.jsonl").read_text()


@pytest.mark.parametrize("arguments", [["--help"], ["mark", "--help"], ["--version"]])
def test_help_and_version_end_well(pitside, arguments):
    status, said, complaints = pitside(*arguments)
    assert (status, complaints) == (0, "")
    assert said


# What commands are called, and where their school is ------------------------------------------------------------------


def test_help_lists_every_command_once_by_group_in_working_order_and_in_whole_lines(pitside, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    _, said, _ = pitside("--help")
    lines = said[said.index(f"{GROUPS[0][0]}:") :].splitlines()
    assert [line.rstrip(":") for line in lines if line.endswith(":")] == [title for title, _ in GROUPS]
    rows = [re.fullmatch(r"  (\S+) +(\S.*\S)", line) for line in lines if line.startswith(" ")]
    names = [row[1] for row in rows if row]
    assert names == [name for _, of_group in GROUPS for name in of_group]
    assert sorted(names) == sorted(cli.commands.commands)
    assert len(rows) == len(names), "the words of a command go on in a second line"
    for row in rows:
        assert len(row[0]) <= 80
        assert row[2] == cli.commands.commands[row[1]].short_help
        assert row[2][-1] in ".?"


@pytest.mark.parametrize(("before", "now"), RENAMED.items())
def test_name_of_before_works_and_says_the_name_of_today(pitside, before, now):
    status, said, complaints = pitside(before, "--help")
    assert (status, one_line(complaints)) == (0, f"{before} is called {now} now: pitside {now}")
    assert said.startswith(f"Usage: pitside {now} ")


@pytest.mark.parametrize("word", sorted(OTHER_WORDS))
def test_another_word_is_answered_in_one_line_with_a_command_that_there_is(pitside, word):
    assert word not in cli.commands.commands, "this is a command itself"
    assert word not in RENAMED
    status, said, complaints = pitside(word, "my-school")
    assert (status, said) == (2, "")
    told = one_line(complaints)
    assert told.startswith(f"{word} is no command; ")
    named = set(re.findall(r"pitside ([a-z-]+)", told)) - {"--help"}
    assert named <= set(cli.commands.commands), told
    assert named or "pitside --help" in told or "school.toml" in told


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("grade", "pitside mark"), ("print", "pitside issue"), ("roster", "roster.csv"), ("resit", "--attempt 2"),
        ("GRADE", "pitside mark"), ("isue", "did you mean: pitside issue"), ("certificats", "pitside certify"),
        ("kyein", "did you mean: pitside key-in"), ("\x1b[31mred", "pitside --help"),
    ],
)  # fmt: skip
def test_wrong_words_are_answered_with_what_does_it(pitside, word, says):
    status, _, complaints = pitside(word)
    assert (status, says in one_line(complaints)) == (2, True)
    assert "\x1b" not in complaints


def test_help_can_be_asked_for_by_its_word(pitside):
    assert pitside("help") == pitside("--help")


@pytest.mark.parametrize("inside", [".", "scripts", "packs/..", "records/deep"])
def test_inside_a_school_its_folder_need_not_be_named(pitside, school, monkeypatch, inside):
    where = school.folder / inside
    where.mkdir(exist_ok=True, parents=True)
    said_by_name = pitside("kept", school.folder)[1]
    monkeypatch.chdir(where)
    status, said, complaints = pitside("kept")
    assert (status, complaints) == (0, "")
    assert said == said_by_name.replace(str(school.folder), os.path.relpath(school.folder, where))
    assert "no script of aa-01 is marked" in pitside("explain", "aa-01", "1a")[2]
    assert pitside("kept", "aa-02")[1] == pitside("kept", school.folder, "aa-02")[1].replace(
        str(school.folder), os.path.relpath(school.folder, where)
    )
    assert pitside("trail", "--", "aa-03")[1].startswith("paper day1-aa-03")


def test_folder_inside_a_school_finds_its_school(pitside, school):
    assert pitside("coverage", school.folder / "scripts") == pitside("coverage", school.folder)
    assert pitside("kept", school.folder / "scripts", "aa-01") == pitside("kept", school.folder, "aa-01")
    assert pitside("verify", school.folder / "scripts")[0] == pitside("verify", school.folder)[0] == 0


def test_candidate_whose_id_is_a_folder_here_is_still_a_candidate(pitside, school, monkeypatch):
    (school.packs / "aa-02").mkdir(exist_ok=True)
    by_name = pitside("kept", school.folder, "aa-02")[1]
    monkeypatch.chdir(school.packs)
    assert pitside("kept", "aa-02")[1] == by_name.replace(str(school.folder), "..")


def test_school_beside_the_one_in_which_one_stands_can_be_named(pitside, school, monkeypatch, tmp_path):
    other = tmp_path / "other"
    shutil.copytree(school.folder, other)
    (other / "roster.csv").write_text("id,name\nzz-01,Ann\n")
    monkeypatch.chdir(school.folder)
    assert "what ../other holds about zz-01" in pitside("kept", "../other", "zz-01")[1]


def test_mistyped_folder_inside_a_school_is_not_taken_for_the_school(pitside, school, monkeypatch):
    monkeypatch.chdir(school.folder)
    status, said, complaints = pitside("mark", "my-shool")
    assert (status, said) == (2, "")
    assert one_line(complaints).startswith("my-shool: no school here")


# What the user can mend: status 2 -------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["issue", "mark", "results"])
def test_folder_without_school_is_one_line(pitside, tmp_path, command):
    status, said, complaints = pitside(command, tmp_path / "nowhere")
    assert (status, said) == (2, "")
    assert one_line(complaints).startswith(f"{tmp_path / 'nowhere'}: no school here (no school.toml)")
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize("command", ["issue", "mark", "results"])
def test_bad_settings_are_one_line(pitside, school, command):
    (school.folder / "school.toml").write_text("[school\n")
    status, _, complaints = pitside(command, school.folder)
    assert status == 2
    assert one_line(complaints).startswith(f"{school.folder / 'school.toml'}: line 1: [school: ")


@pytest.mark.parametrize("command", ["issue", "mark", "results"])
def test_folder_that_another_command_works_in_is_one_line(pitside, school, command):
    with FileLock(school.folder / ".busy"):
        status, _, complaints = pitside(command, school.folder)
    assert status == 2
    assert one_line(complaints) == f"{school.folder}: another pitside command is at work here; wait for it to end"
    assert pitside("results", school.folder)[0] == 0


@pytest.mark.parametrize("command", ["issue", "mark", "results"])
def test_changed_register_is_one_line(pitside, school, command):
    lines = school.register_file.read_bytes().splitlines(keepends=True)
    school.register_file.write_bytes(b"".join(lines[1:]))
    status, _, complaints = pitside(command, school.folder)
    assert status == 2
    assert one_line(complaints).startswith(f"{school.register_file}: line 1 ")


def test_missing_key_is_one_line(pitside, school):
    (school.folder / "school.key").unlink()
    status, _, complaints = pitside("mark", school.folder)
    assert status == 2
    assert "school.key: missing" in one_line(complaints)


def test_unknown_sitting_is_one_line(pitside, school):
    status, _, complaints = pitside("issue", school.folder, "--sitting", "day7")
    assert status == 2
    assert one_line(complaints).endswith("no sitting 'day7'; there are: day1")


def test_new_over_an_existing_school_is_one_line(pitside, school):
    key = (school.folder / "school.key").read_bytes()
    status, _, complaints = pitside("new", school.folder)
    assert status == 2
    assert one_line(complaints) == f"{school.folder}: holds a school already; choose another folder"
    assert (school.folder / "school.key").read_bytes() == key


def test_settings_that_are_a_folder_are_one_line(pitside, tmp_path):
    (tmp_path / "school" / "school.toml").mkdir(parents=True)
    status, _, complaints = pitside("mark", tmp_path / "school")
    assert status == 2
    assert one_line(complaints) == f"{tmp_path / 'school' / 'school.toml'}: Is a directory"


def test_demo_in_a_folder_of_another_kind_is_one_line(pitside, school):
    status, _, complaints = pitside("demo", school.folder)
    assert status == 2
    assert "choose an empty folder for the demonstration" in one_line(complaints)
    assert (school.folder / "school.key").exists()


@pytest.mark.parametrize(
    ("error", "says"),
    [
        (RunnerError("No temporary folder can be made."), "No temporary folder can be made."),
        (
            WallsMissingError("This machine cannot wall returned notebooks in: no network."),
            "1 script holds more than answers and must be run. This machine cannot wall returned notebooks in: no "
            "network.",
        ),
    ],
)
def test_machine_that_cannot_run_scripts_is_one_line(pitside, school, monkeypatch, error, says):
    def no_room(**options):
        assert not options["allow_missing_walls"]
        raise error

    monkeypatch.setattr(rooms, "Runner", no_room)
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, add_cell(pack_of(school, paper), "x = 1"))
    status, _, complaints = pitside("mark", school.folder)
    assert status == 2
    assert one_line(complaints) == says
    assert not (school.records / "marks").exists()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["mark"], "of which school? Name its folder, or go into it first"),
        (["frobnicate"], "frobnicate is no command; pitside --help lists the commands"),
        (["mark", "x", "--workers", "0"], "Invalid value for '--workers'"),
        (["new", "x", "--starts", "4 May"], "Invalid value for '--starts'"),
        (["mark", __file__], "is a file"),
    ],
)
def test_wrong_use_says_what_is_wrong(pitside, arguments, says):
    status, said, complaints = pitside(*arguments)
    assert (status, said) == (2, "")
    assert says in complaints.splitlines()[-1]
    assert not list(Path.cwd().iterdir())


#: Words in capitals that stand in messages as they are: names of what there is, and one call.
AS_THEY_ARE = {"CSV", "PDF", "LOOK", "AT", "THIS"}


def said_in(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Each text in a program that may be said to a person, with ~ for what is filled in: no docstrings, no helps."""
    aside = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.FunctionDef | ast.ClassDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.keyword) and node.arg in ("help", "short_help", "metavar"):
            aside |= {id(each) for each in ast.walk(node)}
        if isinstance(node, ast.JoinedStr) and id(node) not in aside:
            aside |= {id(each) for each in node.values}
            yield node.lineno, "".join(str(one.value) if isinstance(one, ast.Constant) else "~" for one in node.values)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in aside:
            yield node.lineno, node.value


def unfilled(text: str) -> set[str]:
    """Words in capitals in a text with a command in it, that a person would have to put something in place of."""
    if not re.search(r"pitside [a-z]|--[a-z]", text):
        return set()
    return set(re.findall(r"(?<![\w.])[A-Z][A-Z_]+(?![\w.-])", text)) - AS_THEY_ARE


def test_no_message_has_a_word_in_capitals_that_a_person_would_have_to_fill_in():
    """So that a command can be copied as it is said; what --help prints is the one place for such words."""
    found = []
    for path in sorted(Path(cli.__file__).parent.rglob("*")):
        where = path.relative_to(Path(cli.__file__).parent).as_posix()
        if path.suffix == ".py":
            texts = list(said_in(ast.parse(path.read_text(encoding="utf-8"))))
        elif path.suffix in (".html", ".js"):
            texts = list(enumerate(path.read_text(encoding="utf-8").splitlines(), 1))
        else:
            continue
        found += [f"{where}:{line}: {words}" for line, text in texts if (words := unfilled(text))]
    assert found == []
    assert unfilled("mark first: pitside mark FOLDER") == {"FOLDER"}
    assert unfilled("to decide: pitside moderate ~ --take THAT_FILE") == {"THAT_FILE"}


@pytest.mark.parametrize("word", ["grade", "resit", "lost", "why", "delete", "second", "appeal", "print"])
def test_way_of_another_word_names_the_school_that_is_there(pitside, school, monkeypatch, word):
    _, _, complaints = pitside(word)
    assert one_line(complaints).partition("; ")[2].startswith("in the school's folder: ")
    monkeypatch.chdir(school.folder.parent)
    _, _, beside = pitside(word)
    command = re.search(r"pitside \S+ (\S+)", beside)
    assert command and command[1] == school.folder.name
    monkeypatch.chdir(school.folder)
    _, _, inside = pitside(word)
    assert school.folder.name not in inside and "{" not in inside
    status, _, says = pitside("export")
    assert (status, "the candidate is missing" in says) == (2, True)


def test_school_that_lies_here_is_named_where_none_was(pitside, school, monkeypatch):
    monkeypatch.chdir(school.folder.parent)
    _, _, complaints = pitside("mark")
    assert f"of which school? Name its folder, or go into it first; here lies {school.folder.name}" in complaints


# What only we can mend: status 3 --------------------------------------------------------------------------------------


def _broken(*given, **named):
    raise LookupError("a fault for a test, with \ud800 in it")


def test_fault_of_our_own_is_one_line_and_a_report_for_whoever_mends_it(pitside, school, monkeypatch):
    monkeypatch.setattr(cli, "write_all", _broken)
    status, said, complaints = pitside("results", school.folder)
    assert (status, said) == (3, "")
    line = one_line(complaints)
    assert line.startswith("a fault in pitside itself (LookupError); what was recorded is safe.")
    (report,) = (school.records / "faults").iterdir()
    assert line.endswith(f"Please send {report} to whoever looks after it")
    assert "Traceback" in report.read_text()
    assert "a fault for a test" in report.read_text()
    assert not list(Path.cwd().iterdir()), "something was written into the folder in which one stands"


def test_keys_of_the_school_are_never_in_a_fault_report(pitside, school, monkeypatch):
    key = (school.folder / "school.key").read_text().strip()

    def telling(*given):
        raise LookupError(f"{key} {bytes.fromhex(key)!r}")

    monkeypatch.setattr(cli, "write_all", telling)
    assert pitside("results", school.folder)[0] == 3
    (report,) = (school.records / "faults").iterdir()
    assert "LookupError: (school.key) b'(school.key)'" in report.read_text()
    assert key not in report.read_text()


@pytest.mark.parametrize("where", ["no school", "no room in the school"])
def test_fault_report_goes_elsewhere_where_the_school_cannot_take_it(pitside, school, monkeypatch, tmp_path, where):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr(cli, "write_all", _broken)
    monkeypatch.setattr(cli, "review", _broken)
    (school.records / "faults").write_text("not a folder")
    arguments = ["check-exercise", CHAINED] if where == "no school" else ["results", school.folder]
    status, _, complaints = pitside(*arguments)
    assert status == 3
    report = Path(re.search(r"Please send (\S+) to", one_line(complaints))[1])
    assert report.parent == tmp_path
    assert report.stat().st_mode & 0o777 == 0o600
    assert "a fault for a test" in report.read_text()
    assert not list(Path.cwd().iterdir())


def test_table_of_one_exercise_says_what_its_numbers_range_over(pitside):
    status, told, _ = pitside("check-exercise", CHAINED, "--table", "--draws", "3")
    assert status == 0
    assert "usual" in told
    assert told.rstrip().endswith("1 exercise, none with something wrong")


@pytest.mark.parametrize("kilobytes", a_few([8, 0, 1, 100], 1))
def test_bound_on_the_size_of_files_ends_marking_in_one_line_and_loses_nothing(school, kilobytes, tmp_path):
    """As with ``ulimit -f``; the smallest lets through the lock alone, the largest nearly the gradebook."""
    for candidate in ("aa-01", "aa-02"):
        paper = paper_of(school, candidate)
        hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    marking = [sys.executable, "-c", "from grader.cli import main; main()", "mark", school.folder]
    bound = f"import os, resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, ({kilobytes << 10},) * 2)"
    bound += "; os.execv(sys.argv[1], sys.argv[1:])"
    root = Path(cli.__file__).parents[1]
    environment = {**os.environ, "TMPDIR": str(tmp_path), "PYTHONPATH": str(root)}
    done = subprocess.run(
        [sys.executable, "-c", bound, *marking, "--allow-missing-walls"], capture_output=True, text=True, cwd=tmp_path,
        env=environment, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, ""), done.stderr
    assert str(school.records) in one_line(done.stderr)
    tally = marking_module.mark_school(school, lambda done, total: None, ONE_ROOM)
    assert (tally.marked, tally.refused) == (2, ())


def test_fault_that_can_be_reported_nowhere_is_one_line_too(pitside, school, monkeypatch, tmp_path):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "nowhere"))
    monkeypatch.setattr(cli, "write_all", _broken)
    (school.records / "faults").write_text("not a folder")
    status, _, complaints = pitside("results", school.folder)
    assert status == 3
    assert one_line(complaints).endswith("A report of it cannot be written (No such file or directory): see to that, "
                                         "then try again")  # fmt: skip


def test_folder_is_free_again_after_a_fault(pitside, school, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(cli, "write_all", _broken)
        pitside("results", school.folder)
    assert pitside("results", school.folder)[0] == 0


def test_interrupt_says_that_nothing_is_lost(pitside, school, monkeypatch):
    def interrupted(*given):
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "write_all", interrupted)
    status, said, complaints = pitside("results", school.folder)
    assert (status, said) == (130, "")
    assert complaints == "\npitside: stopped; nothing is lost, run the same command again to go on\n"


def test_error_of_the_grader_is_never_taken_for_a_fault(pitside, school, monkeypatch):
    def mendable(*given):
        raise GraderError("a.txt: is wrong; write it anew")

    monkeypatch.setattr(cli, "write_all", mendable)
    status, _, complaints = pitside("results", school.folder)
    assert (status, one_line(complaints)) == (2, "a.txt: is wrong; write it anew")
    assert not (school.records / "faults").exists()
