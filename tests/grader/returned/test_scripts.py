"""What comes back is read without trust: each file is a script of a known paper, or refused with a reason."""

from __future__ import annotations

import copy
import io
import json
import os
import shutil
import tracemalloc
import unicodedata
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from grader.marking import written_answers
from grader.observed import page
from grader.papers.issue import issue
from grader.papers.notebook import script_name
from grader.papers.packs import pack_names, read_pack
from grader.returned import keyin
from grader.returned import scripts as scripts_module
from grader.returned.scripts import Refusal, Script, read_scripts
from grader.store.errors import GraderError
from grader.store.files import write_json
from grader.store.register import Register
from grader.store.school import open_school
from tests.grader.schools import (
    EVERY_KIND,
    SITTING,
    add_cell,
    hand_in,
    make_school,
    opened_pack,
    pack_of,
    paper_of,
    right_answers,
    script_with,
)


@pytest.fixture
def paper(school):
    return paper_of(school, "aa-01")


@pytest.fixture
def pack(school, paper) -> dict:
    return pack_of(school, paper)


def read(school) -> tuple[list[Script], list[Refusal]]:
    """What the scripts folder holds, each file read wholly; and the refusals can be kept, each one line."""
    returned, refusals = read_scripts(school, Register(school))
    scripts = []
    for one in returned:
        try:
            scripts.append(one.script(one.data()))
        except GraderError as error:
            refusals.append(one.refused(str(error)))
    for refusal in refusals:
        assert "\n" not in refusal.reason
        assert not [letter for letter in refusal.reason + refusal.file if unicodedata.category(letter) in ("Cc", "Cs")]
        assert len(refusal.reason) < 500
    write_json(school.records / "try.json", [[refusal.file, refusal.reason] for refusal in refusals])
    for script in scripts:
        write_json(school.records / "try.json", script.notebook)
    return scripts, refusals


def refusal_of(school, paper, script: dict | bytes, name: str | None = None) -> Refusal:
    """The refusal of the one file that is handed in."""
    hand_in(school, paper, script, name)
    scripts, refusals = read(school)
    assert scripts == []
    (refusal,) = refusals
    return refusal


# Accepted -------------------------------------------------------------------------------------------------------------


def test_returned_paper_is_matched_to_the_register(school, paper):
    path = hand_in(school, paper, script_with(school, paper, right_answers(paper.variants())))
    (script,), refusals = read(school)
    assert refusals == []
    assert script.paper == paper
    assert script.file == f"scripts/{path.name}"
    assert script.notebook["cells"]


@pytest.mark.parametrize("name", ["my answers.ipynb", "crew a/deep/below.ipynb", "paper.txt", "упражнение.ipynb"])
def test_name_and_folder_of_the_file_do_not_matter(school, paper, pack, name):
    hand_in(school, paper, pack, name)
    (script,), _ = read(school)
    assert (script.paper, script.file) == (paper, f"scripts/{name}")


def test_byte_order_mark_is_accepted(school, paper, pack):
    hand_in(school, paper, b"\xef\xbb\xbf" + json.dumps(pack).encode())
    assert len(read(school)[0]) == 1


def test_cells_moved_added_and_without_ids_are_accepted(school, paper, pack):
    add_cell(pack, "x = 1")
    for cell in pack["cells"]:
        del cell["id"]
    pack["cells"].reverse()
    hand_in(school, paper, pack)
    assert len(read(school)[0]) == 1


def test_no_scripts_and_no_folder_are_nothing_to_do(school):
    assert read(school) == ([], [])
    school.scripts.rmdir()
    assert read(school) == ([], [])


@pytest.mark.parametrize("name", [".busy", ".ipynb_checkpoints/x.ipynb", "crew/.DS_Store", ".~lock.x.ipynb#"])
def test_hidden_files_are_left_alone(school, paper, name):
    hand_in(school, paper, b"not for us", name)
    assert read(school) == ([], [])


def test_files_that_folders_and_offices_leave_behind_are_not_handed_in(school):
    for name in ("Thumbs.db", "desktop.ini", "~$script.docx", ".DS_Store"):
        (school.scripts / name).write_bytes(b"x")
    assert read(school) == ([], [])


def test_whole_folder_that_comes_back_is_the_script_that_was_saved_in_it(school):
    paper = paper_of(school, "aa-01")
    for name, data in read_pack(school, paper).items():
        (school.scripts / name).write_bytes(data)
    assert [script.file for script in read(school)[0]] == [f"scripts/{pack_names(school, paper).notebook}"]
    answered = script_with(school, paper, dict(right_answers(paper.variants())))
    hand_in(school, paper, answered, "saved (1).ipynb")
    scripts, refusals = read(school)
    assert ([script.file for script in scripts], refusals) == (["scripts/saved (1).ipynb"], [])
    hand_in(school, paper, add_cell(json.loads(json.dumps(answered)), "1"), "another.ipynb")
    assert len(read(school)[1]) >= 2


@pytest.mark.parametrize(
    ("cell", "source"),
    [("pitside-last", "answer('1a', 5)"), ("answer-1a", "answer('1a', 5)"), ("pitside-answer", "\nanswer('1a', 5)"),
     ("ask-1a", None), ("more", "# 412")],
)  # fmt: skip
def test_notebook_with_anything_added_is_not_set_aside_as_blank(school, cell, source):
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))), "one.ipynb")
    other = json.loads(read_pack(school, paper)[pack_names(school, paper).notebook])
    one = next((one for one in other["cells"] if one["id"] == cell), None)
    if cell == "more":
        other["cells"].append({"cell_type": "markdown", "id": "more", "metadata": {}, "source": source})
    elif source is None:
        one["id"] = "mine"
    else:
        one["source"] = source if cell != "pitside-answer" else "".join(one["source"]) + source
    hand_in(school, paper, other, "two.ipynb")
    scripts, refusals = read(school)
    assert (scripts, len(refusals)) == ([], 2)


# Refused --------------------------------------------------------------------------------------------------------------

NO_NOTEBOOKS = {
    "PDF": (b"%PDF-1.4\n\xff\xfe", "not a notebook but a PDF: if it shows answers written by hand, key them in"),
    "photo": (b"\xff\xd8\xff\xe0\x00\x10JFIF", "not a notebook but a photo or picture: if it shows answers"),
    "photo of a phone": (b"\x00\x00\x00\x18ftypheic\x00", "not a notebook but a photo or picture: if it shows answers"),
    "web page": (
        b"<!DOCTYPE html>\n<html><body>",
        "not a notebook but a web page: ask for the file that Save my script",
    ),
    "old Word file": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "not a notebook but a Word file or another of an office"),
    "empty file": (b"", "an empty file"),
    "other JSON": (b'{"answers": [1, 2]}', "not a notebook (no cells): ask for the file again"),
    "list": (b'[{"cells": []}]', "no cells"),
    "number": (b"42", "no cells"),
    "null": (b"null", "no cells"),
    "cells are no list": (b'{"cells": {}, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}', "no cells"),
    "metadata is no block": (b'{"cells": [], "metadata": 3, "nbformat": 4, "nbformat_minor": 5}', "no cells"),
    "UTF-16": ('{"cells": []}'.encode("utf-16"), "nor another file that is known here"),
    "very deep list": (b"[" * 200_000 + b"]" * 200_000, "nor another file that is known here"),
    "very deep object": (b'{"a":' * 200_000 + b"1" + b"}" * 200_000, "cut off or damaged"),
    "endless number": (b'{"cells": ' + b"9" * 5000 + b"}", "cut off or damaged"),
}


@pytest.mark.parametrize("kind", NO_NOTEBOOKS)
def test_file_that_is_no_notebook_is_refused_with_whom_it_seems_to_come_from(school, paper, kind):
    data, says = NO_NOTEBOOKS[kind]
    refusal = refusal_of(school, paper, data)
    assert says in refusal.reason
    assert (refusal.candidate, refusal.sitting) == ("aa-01", SITTING)


def test_file_of_a_stranger_is_nobodys(school, paper):
    refusal = refusal_of(school, paper, b"hello", "holiday.txt")
    assert (refusal.candidate, refusal.sitting) == ("", "")


def test_half_a_notebook_is_refused(school, paper, pack):
    data = json.dumps(pack).encode()
    assert "cut off or damaged" in refusal_of(school, paper, data[: len(data) // 2]).reason


def _without(*path):
    def spoil(notebook: dict) -> None:
        for step in path[:-1]:
            notebook = notebook[step]
        del notebook[path[-1]]

    return spoil


def _with(value, *path):
    def spoil(notebook: dict) -> None:
        for step in path[:-1]:
            notebook = notebook[step]
        notebook[path[-1]] = value

    return spoil


MARK = ("metadata", "pitside")
OTHERS = {
    "format 3": (_with(3, "nbformat"), "a notebook of another format than 4: open it in Jupyter, save it"),
    "format 1": (_with(1, "nbformat"), "another format than 4"),
    "format 40": (_with(40, "nbformat"), "another format than 4"),
    "format true": (_with(True, "nbformat"), "another format than 4"),
    "format 4.0": (_with(4.0, "nbformat"), "another format than 4"),
    "format is a text": (_with("4", "nbformat"), "another format than 4"),
    "no format": (_without("nbformat"), "another format than 4"),
    "minor format is a text": (_with("5", "nbformat_minor"), "another format than 4"),
    "minor format below nought": (_with(-1, "nbformat_minor"), "a damaged notebook"),
    "cell without source": (_without("cells", 2, "source"), "a damaged notebook"),
    "cell of unknown kind": (_with("video", "cells", 2, "cell_type"), "a damaged notebook"),
    "cell is a text": (_with("x", "cells", 2), "a damaged notebook"),
    "source is a number": (_with(7, "cells", 2, "source"), "a damaged notebook"),
    "not our paper": (_without(*MARK), "a notebook, but none of our papers: ask the candidate for the paper"),
    "our mark is a list": (_with([1], *MARK), "none of our papers"),
    "paper is a list": (_with(["x"], *MARK, "paper"), "none of our papers"),
    "paper format of the future": (_with(2, *MARK, "format"), "paper format 2 is unknown; this version reads format 1"),
    "endless paper format": (_with(["x" * 9999], *MARK, "format"), "is unknown; this version reads format 1"),
    "unknown paper": (_with("day1-aa-01-1-00000000", *MARK, "paper"), "was not issued by this school"),
    "other school": (_with("saltreed", *MARK, "school"), "was not issued by this school: check where it belongs"),
    "other candidate": (_with("aa-02", *MARK, "candidate"), "says it is from aa-02, but paper day1-aa-01-1-"),
    "no candidate": (_without(*MARK, "candidate"), "says it is from None"),
    "candidate with control characters": (_with("\x1b[31m\n\ud800", *MARK, "candidate"), "ask both candidates"),
    "other sitting": (_with("day2", *MARK, "sitting"), "was issued to aa-01: ask both candidates"),
}


@pytest.mark.parametrize("kind", OTHERS)
def test_notebook_that_is_not_the_issued_paper_is_refused(school, paper, pack, kind):
    spoil, says = OTHERS[kind]
    spoil(pack)
    assert says in refusal_of(school, paper, pack).reason


def test_notebook_of_format_3_is_refused(school, paper, pack):
    old = {"nbformat": 3, "nbformat_minor": 0, "metadata": pack["metadata"], "worksheets": [{"cells": []}]}
    assert "not a notebook (no cells)" in refusal_of(school, paper, old).reason


def test_paper_of_another_school_is_refused(school, tmp_path):
    """Another school of the same id, exercises and candidates, but with a key of its own."""
    other = make_school(tmp_path / "other", key="00" * 32)
    issue(other, other.sittings, lambda done, total: None)
    theirs = paper_of(other, "aa-01")
    refusal = refusal_of(school, theirs, pack_of(other, theirs))
    assert f"paper {theirs.id} was not issued by this school" in refusal.reason
    assert refusal.candidate == "aa-01"


def test_two_different_scripts_for_one_paper_are_both_refused(school, paper, pack):
    hand_in(school, paper, add_cell(copy.deepcopy(pack), "y = 1"), "first.ipynb")
    hand_in(school, paper, add_cell(copy.deepcopy(pack), "x = 1"), "second.ipynb")
    scripts, refusals = read(school)
    assert scripts == []
    assert [refusal.file for refusal in refusals] == ["scripts/first.ipynb", "scripts/second.ipynb"]
    for refusal in refusals:
        assert refusal.reason.startswith("2 different scripts for one paper (scripts/first.ipynb, scripts/second.")
        assert (refusal.candidate, refusal.sitting) == ("aa-01", SITTING)


def test_identical_copies_count_once(school, paper, pack):
    for name in ("a.ipynb", "b.ipynb", "sent again/a.ipynb"):
        hand_in(school, paper, pack, name)
    (script,), refusals = read(school)
    assert (script.file, refusals) == ("scripts/a.ipynb", [])


def test_copy_and_a_different_script_are_refused(school, paper, pack):
    worked = add_cell(copy.deepcopy(pack), "y = 1")
    hand_in(school, paper, worked, "a.ipynb")
    hand_in(school, paper, worked, "b.ipynb")
    hand_in(school, paper, add_cell(copy.deepcopy(pack), "x = 1"), "c.ipynb")
    scripts, refusals = read(school)
    assert scripts == []
    assert [refusal.file for refusal in refusals] == ["scripts/a.ipynb", "scripts/c.ipynb"]


def test_one_file_refused_leaves_the_others_be(school, pack):
    hand_in(school, paper_of(school, "aa-02"), pack_of(school, paper_of(school, "aa-02")))
    hand_in(school, paper_of(school, "aa-03"), b"no notebook")
    (script,), (refusal,) = read(school)
    assert (script.paper.candidate, refusal.candidate) == ("aa-02", "aa-03")


# Zips -----------------------------------------------------------------------------------------------------------------


def zip_of(*files: tuple[str | zipfile.ZipInfo, bytes], kind: int = zipfile.ZIP_DEFLATED) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", kind) as into:
        for name, data in files:
            into.writestr(name, data)
    return packed.getvalue()


@pytest.mark.parametrize("name", ["answers.zip", "ANSWERS.ZIP", "saved as.ipynb", "paper"])
@pytest.mark.parametrize("kind", [zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED])
def test_zip_with_one_notebook_is_read(school, paper, pack, name, kind):
    """Whatever it is called, in whichever folder, with what computers add to zips and with other files beside it."""
    whole = json.dumps(pack).encode()
    data = zip_of(
        ("mine/", b""), ("mine/p\u00e4per.ipynb", whole), ("mine/sheet.pdf", b"%PDF"), ("mine/.DS_Store", b"x"),
        ("__MACOSX/mine/._paper.ipynb", b"x"), ("mine/Thumbs.db", b"x"), kind=kind,
    )  # fmt: skip
    hand_in(school, paper, data, name)
    (script,), refusals = read(school)
    assert (script.paper, script.file, refusals) == (paper, f"scripts/{name}", [])


def test_zip_and_the_notebook_in_it_are_the_same_script(school, paper, pack):
    whole = json.dumps(pack).encode()
    hand_in(school, paper, whole, "b.ipynb")
    ((plain,), _) = read(school)
    hand_in(school, paper, zip_of(("x.ipynb", whole)), "a.zip")
    (script,), refusals = read(school)
    assert (script.digest, script.file, refusals) == (plain.digest, "scripts/a.zip", [])


def test_of_a_zip_with_several_notebooks_the_one_that_was_worked_in_is_the_script(school, paper, pack):
    """The whole folder of a candidate comes zipped: the blank notebook, the saved script, and Jupyter's own copies."""
    done = json.dumps(script_with(school, paper, right_answers(paper.variants()))).encode()
    blank = json.dumps(pack).encode()
    hand_in(school, paper, done, "plain.ipynb")
    ((plain,), _) = read(school)
    (school.scripts / "plain.ipynb").unlink()
    name = script_name(school, paper)
    data = zip_of(
        (f"aa-01/{name}", blank), ("aa-01/copy.ipynb", blank), (f"aa-01/keyed_{name}", done),
        (f"aa-01/.ipynb_checkpoints/{name}", b"half a note"), ("aa-01/my notes.ipynb", b"{}"),
    )  # fmt: skip
    hand_in(school, paper, data, "all of it.zip")
    (script,), refusals = read(school)
    assert (script.paper, script.digest, script.file, refusals) == (paper, plain.digest, "scripts/all of it.zip", [])


def test_equal_copies_in_a_zip_are_one_script_and_so_is_a_zip_of_blanks(school, paper, pack):
    done = json.dumps(script_with(school, paper, right_answers(paper.variants()))).encode()
    blank = json.dumps(pack).encode()
    other = paper_of(school, "aa-02")
    hand_in(school, paper, zip_of(("a.ipynb", done), ("b/a.ipynb", done)), "a.zip")
    alike = json.dumps(pack_of(school, other)).encode()
    hand_in(school, other, zip_of(("a.ipynb", alike), ("b.ipynb", alike)), "b.zip")
    scripts, refusals = read(school)
    assert ([script.paper for script in scripts], refusals) == ([paper, other], [])
    assert blank != done


def test_of_scripts_of_several_sittings_in_a_zip_its_name_says_which(tmp_path):
    two = EVERY_KIND[0]
    school = make_school(tmp_path / "school", exercises=(two,))
    toml = school.folder / "school.toml"
    toml.write_text(
        toml.read_text() + f'\n[[sitting]]\nid = "day2"\ntitle = "Second"\nday = 2030-05-07\nexercises = ["{two}"]\n'
    )
    school = open_school(school.folder)
    issue(school, school.sittings, lambda done, total: None)
    papers = [Register(school).paper_of(sitting, "aa-01") for sitting in ("day1", "day2")]
    done = [json.dumps(script_with(school, one, right_answers(one.variants()))).encode() for one in papers]
    both = zip_of(("first.ipynb", done[0]), ("second.ipynb", done[1]))
    for sitting, paper in zip(("day1", "day2"), papers, strict=True):
        hand_in(school, paper, both, f"marram_{sitting}_aa-01.zip")
    scripts, refusals = read(school)
    assert (sorted(script.paper.id for script in scripts), refusals) == (sorted(one.id for one in papers), [])
    for path in school.scripts.iterdir():
        path.unlink()
    refusal = refusal_of(school, papers[0], both, "both.zip")
    assert refusal.reason == (
        "a zip of 2 scripts of which each could count (first.ipynb, second.ipynb): unpack it into the scripts folder, "
        "keep what counts, and delete the zip"
    )


def test_two_scripts_of_one_paper_in_a_zip_are_refused_with_their_names(school, paper, pack):
    one = add_cell(copy.deepcopy(pack), "x = 1")
    other = add_cell(copy.deepcopy(pack), "x = 2")
    data = zip_of(("a.ipynb", json.dumps(one).encode()), ("b.ipynb", json.dumps(other).encode()))
    assert "2 scripts of which each could count (a.ipynb, b.ipynb): unpack" in refusal_of(school, paper, data).reason


@pytest.mark.parametrize(
    ("says", "command"),
    [(keyin.KIND, "key-in"), (written_answers.KIND, "written"), (page.KIND, "observe")],
)
def test_file_that_a_page_of_the_desk_saved_is_told_with_its_command(school, paper, says, command):
    saved = json.dumps({"format": 1, "what": says, "school": school.id, "candidates": []}, indent=1).encode()
    reason = refusal_of(school, paper, saved, "keyed_day1.json").reason
    assert f"in the school's folder: pitside {command} --take scripts/keyed_day1.json" in reason


def _link() -> zipfile.ZipInfo:
    link = zipfile.ZipInfo("x.ipynb")
    link.create_system, link.external_attr = 3, 0o120777 << 16
    return link


def _patched(data: bytes, *places: tuple[bytes, int, bytes]) -> bytes:
    """The zip with bytes changed at an offset behind each signature, wherever it stands."""
    changed = bytearray(data)
    for signature, offset, new in places:
        at = data.find(signature)
        while at >= 0:
            changed[at + offset : at + offset + len(new)] = new
            at = data.find(signature, at + 4)
    return bytes(changed)


ENTRY, HEAD = b"PK\x01\x02", b"PK\x03\x04"
SMALL = ("x.ipynb", b"{}" * 50)
ZIPS = {
    "no zip": (b"PK\x03\x04 and nothing else", "a damaged zip: ask for the notebook itself"),
    "half a zip": (zip_of(SMALL)[:-30], "a damaged zip"),
    "empty": (zip_of(), "a zip with no notebook in it: ask for the file that was saved"),
    "other files": (zip_of(("x.pdf", b"%PDF")), "a zip with no notebook in it (x.pdf)"),
    "two notebooks": (
        zip_of(SMALL, ("y.ipynb", b"{}")),
        "a zip of 2 notebooks that are no papers here (x.ipynb, y.ipynb): a notebook that was cut off",
    ),
    "two of one name": (
        zip_of(SMALL, ("z.ipynb", b"{}")).replace(b"z.ipynb", b"x.ipynb"),
        "a zip with two notebooks of one name in it (x.ipynb): unpack it into the scripts folder",
    ),
    "what the desk saved": (
        zip_of(SMALL, ("keyed_day1.json", b"{}")),
        "a zip with what a page of the desk saved in it (keyed_day1.json): unpack it",
    ),
    "a zip in a zip": (zip_of(("x.zip", zip_of(SMALL))), "a zip with a zip in it (x.zip)"),
    "a zip called a notebook": (zip_of(("x.ipynb", zip_of(SMALL))), "nor another file that is known here"),
    "a zip beside it": (zip_of(SMALL, ("a/B.ZIP", zip_of(SMALL))), "a zip with a zip in it (a/B.ZIP)"),
    "upwards": (zip_of(("../../school.key", b"x")), "a zip that puts files outside its own folder (../../school.key)"),
    "upwards beside it": (zip_of(SMALL, ("a/../../b", b"x")), "outside its own folder"),
    "upwards as Windows writes it": (zip_of(("..\\x.ipynb", b"x")), "outside its own folder"),
    "from the root": (zip_of(("/etc/x.ipynb", b"x")), "outside its own folder"),
    "from a drive": (zip_of(("C:\\x.ipynb", b"x")), "outside its own folder"),
    "cut name": (zip_of(("x.ipynb~.pdf", b"x")).replace(b"~", b"\0"), "outside its own folder"),
    "link": (zip_of((_link(), b"/etc/passwd")), "a zip with a link in it (x.ipynb)"),
    "bomb": (
        zip_of(("x.ipynb", b" " * (19 << 20))),
        "a zip whose notebook unpacks to 20 MB, which is no paper of ours",
    ),
    "bomb in pieces": (
        zip_of(*((f"{n}.ipynb", b" " * (1 << 20)) for n in range(30))),
        "a zip whose 30 notebooks unpack to 31 MB",
    ),
    "larger bomb": (zip_of(("x.ipynb", b" " * (21 << 20))), "unpacks to 22 MB"),
    "bomb that says it is small": (
        _patched(zip_of(("x.ipynb", b" " * (40 << 20))), (ENTRY, 24, b"\x64\0\0\0"), (HEAD, 22, b"\x64\0\0\0")),
        "a damaged zip",
    ),
    "bomb in another packing": (zip_of(("x.ipynb", b" " * 9999), kind=zipfile.ZIP_LZMA), "a zip of an unusual kind"),
    "bomb in a third packing": (zip_of(("x.ipynb", b" " * 9999), kind=zipfile.ZIP_BZIP2), "a zip of an unusual kind"),
    "unknown packing": (_patched(zip_of(SMALL), (ENTRY, 10, b"\x63\0")), "a zip of an unusual kind"),
    "wrong check sum": (_patched(zip_of(SMALL), (ENTRY, 16, b"\1\2\3\4")), "a damaged zip"),
    "locked": (_patched(zip_of(SMALL), (ENTRY, 8, b"\1\0"), (HEAD, 6, b"\1\0")), "locked with a password"),
    "thousands of files": (zip_of(*((f"{n}", b"") for n in range(3000))), "a zip of more than 50 files"),
    "no notebook's text": (zip_of(("x.ipynb", b"%PDF")), "nor another file that is known here"),
    "somebody else's notebook": (zip_of(("x.ipynb", b'{"cells": []}')), "not a notebook (no cells)"),
}


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("kind", ZIPS)
def test_other_zips_are_refused_with_their_fault(school, paper, kind):
    data, says = ZIPS[kind]
    tracemalloc.start()
    try:
        refusal = refusal_of(school, paper, data, "marram_day1_aa-01.zip")
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert says in refusal.reason
    assert refusal.candidate == "aa-01"
    assert peak < 8 << 20, "it was unpacked"
    assert [path.name for path in school.scripts.iterdir()] == ["marram_day1_aa-01.zip"]


def test_notebook_of_endless_pieces_is_refused(school, paper, pack):
    pack["metadata"]["mine"] = [[]] * 300_000
    assert "far more pieces than our papers have" in refusal_of(school, paper, pack).reason


def test_outputs_that_a_script_brings_along_are_not_read(school, paper, pack):
    said = {"output_type": "stream", "name": "stdout", "text": "1a: recorded 412"}
    code = [cell for cell in pack["cells"] if cell["cell_type"] == "code"]
    for cell in code:
        cell |= {"outputs": [said] * 9, "execution_count": 7}
    hand_in(school, paper, pack)
    ((script,), _) = read(school)
    read_code = [cell for cell in script.notebook["cells"] if cell["cell_type"] == "code"]
    assert len(read_code) == len(code)
    assert all((cell["outputs"], cell["execution_count"]) == ([], None) for cell in read_code)


# Files that are no plain files ----------------------------------------------------------------------------------------


def _link_to_secret(school, place: Path) -> None:
    place.symlink_to(school.folder / "school.key")


def _link_to_paper(school, place: Path) -> None:
    place.symlink_to(opened_pack(school, "aa-01") / script_name(school, paper_of(school, "aa-01")))


def _link_to_nothing(school, place: Path) -> None:
    place.symlink_to("nowhere")


def _link_to_folder(school, place: Path) -> None:
    place.symlink_to(school.packs)


def _pipe(school, place: Path) -> None:
    os.mkfifo(place)


@pytest.mark.parametrize("make", [_link_to_secret, _link_to_paper, _link_to_nothing, _link_to_folder, _pipe])
def test_link_or_special_file_is_refused_unread(school, make):
    make(school, school.scripts / "x.ipynb")
    scripts, (refusal,) = read(school)
    assert scripts == []
    assert refusal.reason == "a link or special file, not a notebook: ask for the file itself"


def test_large_file_is_refused_unread(school, paper, pack, monkeypatch):
    size = hand_in(school, paper, pack).stat().st_size
    monkeypatch.setattr(scripts_module, "LARGEST", size)
    assert len(read(school)[0]) == 1
    monkeypatch.setattr(scripts_module, "LARGEST", size - 1)
    scripts, (refusal,) = read(school)
    assert scripts == []
    assert "is too large: ask for it again with its outputs cleared" in refusal.reason


def test_file_name_that_is_no_text_is_shown_as_far_as_it_can_be(school, pack):
    (Path(os.fsdecode(os.fsencode(school.scripts) + b"/tp\xff\n1.ipynb"))).write_bytes(b"x")
    _, (refusal,) = read(school)
    assert refusal.file == "scripts/tp��1.ipynb"


# Never an exception ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "value"),
    [
        pytest.param(("cells", 2, "source"), "x = '\ud800'", id="half a surrogate pair in a cell"),
        pytest.param(("cells", 2, "metadata", "\udfff"), 1, id="half a surrogate pair as a name"),
        pytest.param(("metadata", "mine"), float("nan"), id="NaN"),
        pytest.param(("metadata", "mine"), float("-inf"), id="infinity"),
        pytest.param(("metadata", "mine"), 10**300, id="long number"),
        pytest.param(("metadata", "mine"), "\x00\x1b", id="control characters"),
        pytest.param(("nbformat_minor",), 10**30, id="minor format of the far future"),
    ],
)
def test_odd_values_that_do_no_harm_are_accepted_and_can_be_written_out(school, paper, pack, place, value):
    _with(value, *place)(pack)
    hand_in(school, paper, pack)
    scripts, refusals = read(school)
    assert (len(scripts), refusals) == (1, [])


@pytest.mark.parametrize("opening", ["[", '{"a":'])
@pytest.mark.parametrize("depth", [50, 150, 250, 300, 350, 400, 450, 500, 700, 900, 950, 1000, 3000])
def test_nesting_of_any_depth_is_refused_or_can_be_written_out(school, paper, pack, opening, depth):
    closing = "]" if opening == "[" else "}"
    pack["metadata"]["mine"] = "HERE"
    text = json.dumps(pack).replace('"HERE"', opening * depth + "1" + closing * depth)
    if opening == "[":
        text = text.replace("[1]", "[]")
    hand_in(school, paper, text.encode())
    scripts, refusals = read(school)
    assert len(scripts) + len(refusals) == 1
    assert depth > 50 or scripts


@pytest.fixture(scope="module")
def tried(issued_school, tmp_path_factory):
    """A school whose scripts folder is filled anew for each try."""
    folder = tmp_path_factory.mktemp("tried") / "school"
    shutil.copytree(issued_school.folder, folder)
    return open_school(folder)


FUZZ = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def _read_one(school, data: bytes) -> None:
    hand_in(school, paper_of(school, "aa-01"), data, "fuzz.ipynb")
    scripts, refusals = read(school)
    assert len(scripts) + len(refusals) == 1


@FUZZ
@given(data=st.binary(max_size=300))
def test_any_bytes_are_read_without_an_exception(tried, data):
    _read_one(tried, data)


@FUZZ
@given(data=st.data())
def test_any_damage_to_a_zip_is_read_without_an_exception(tried, data):
    packed = zip_of(("x.ipynb", json.dumps(pack_of(tried, paper_of(tried, "aa-01"))).encode()), ("sheet.pdf", b"%PDF"))
    whole = bytearray(packed)
    # The directory at the end is where the reader looks first.
    starts = st.integers(0, len(whole) - 1) | st.integers(len(whole) - 150, len(whole) - 1)
    for _ in range(data.draw(st.integers(1, 5))):
        place = data.draw(starts)
        whole[place : place + data.draw(st.integers(0, 8))] = data.draw(st.binary(max_size=8))
    _read_one(tried, bytes(whole))


@FUZZ
@given(data=st.data())
def test_any_damage_to_the_bytes_is_read_without_an_exception(tried, data):
    whole = bytearray(json.dumps(pack_of(tried, paper_of(tried, "aa-01"))).encode())
    for _ in range(data.draw(st.integers(1, 5))):
        place = data.draw(st.integers(0, len(whole) - 1))
        whole[place : place + data.draw(st.integers(0, 40))] = data.draw(st.binary(max_size=6))
    _read_one(tried, bytes(whole))


LEAVES = (
    st.none() | st.booleans() | st.integers(-(2**70), 2**70) | st.floats()
    | st.text(st.characters(exclude_categories=()), max_size=8)
    | st.sampled_from(["code", "markdown", "raw", "4", "pitside", "aa-02", "stream", "error"])
)  # fmt: skip
VALUES = st.recursive(LEAVES, lambda some: st.lists(some, max_size=3) | st.dictionaries(st.text(max_size=5), some))


def _places(thing, here=()) -> list[tuple]:
    """The path of everything in a notebook, however deep."""
    found = [here] if here else []
    pairs = thing.items() if isinstance(thing, dict) else enumerate(thing) if isinstance(thing, list) else ()
    for key, below in pairs:
        found += _places(below, (*here, key))
    return found


@FUZZ
@given(data=st.data())
def test_any_change_of_the_notebook_is_read_without_an_exception(tried, data):
    notebook = pack_of(tried, paper_of(tried, "aa-01"))
    # A short notebook, so that a change often meets what matters.
    notebook["cells"] = notebook["cells"][:4]
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.sampled_from(_places(notebook)))
        change = _without(*place) if data.draw(st.booleans()) else _with(data.draw(VALUES), *place)
        change(notebook)
    _read_one(tried, json.dumps(notebook).encode())


def test_a_blank_worksheet_and_a_word_file_are_told_as_what_they_are(school):
    paper = paper_of(school, "aa-01")
    (sheet,) = [page for page in opened_pack(school, "aa-01").glob("*.html") if b'id="paper"' in page.read_bytes()]
    hand_in(school, paper, sheet.read_bytes(), "aa-01.html")
    word = zip_of(("[Content_Types].xml", b"<Types/>"), ("word/document.xml", b"<w:document/>"))
    hand_in(school, paper, word, "aa-01.docx")
    _, refusals = read_scripts(school, Register(school))
    reasons = {one.file: one.reason for one in refusals}
    assert reasons["scripts/aa-01.html"] == (
        "not a notebook but the blank worksheet, which keeps its answers in the browser: open it on the candidate's "
        "device and press Save my script"
    )
    assert reasons["scripts/aa-01.docx"].startswith("not a notebook but a Word file: key its answers in")
