"""The register: who got which numbers, drawn by key, kept so that no later change goes unnoticed."""

from __future__ import annotations

import dataclasses
import json
import re

import pytest

from exercises import BANK
from exercises.model import Marks, Numeric, System, relative
from grader.papers.issue import issue
from grader.store.errors import GraderError
from grader.store.register import Register, draw_paper
from grader.store.school import School, open_school
from tests.grader.schools import CHAINED, EVERY_KIND, KEY, ROSTER, SITTING, WITH_ORDER, make_school, paper_of, quiet


def lines_of(school: School) -> list[bytes]:
    return school.register_file.read_bytes().splitlines(keepends=True)


def numbers_of(paper) -> list[dict]:
    return [entry.numbers for entry in paper.entries]


# Drawing --------------------------------------------------------------------------------------------------------------


def test_same_key_gives_the_same_paper(tmp_path):
    one, two = (make_school(tmp_path / name, exercises=EVERY_KIND) for name in ("one", "two"))
    for first, second in zip(one.roster, two.roster, strict=True):
        assert draw_paper(one, one.sittings[0], first, 1) == draw_paper(two, two.sittings[0], second, 1)


def test_other_candidate_attempt_sitting_or_key_gives_other_numbers(tmp_path):
    school = make_school(tmp_path / "one")
    other_key = make_school(tmp_path / "two", key=KEY[::-1])
    sitting, ann = school.sittings[0], school.roster[0]
    ben = dataclasses.replace(school.roster[2], units=ann.units)
    papers = [
        draw_paper(school, sitting, ann, 1),
        draw_paper(school, sitting, ben, 1),
        draw_paper(school, sitting, ann, 2),
        draw_paper(school, dataclasses.replace(sitting, id="day2"), ann, 1),
        draw_paper(other_key, sitting, ann, 1),
    ]
    assert len({json.dumps(numbers_of(paper)) for paper in papers}) == len(papers)
    assert len({paper.id for paper in papers}) == len(papers)


def test_everyone_in_a_class_of_forty_has_numbers_of_their_own(tmp_path):
    roster = [f"bb-{number:02d},Candidate {number},,,field" for number in range(1, 41)]
    school = make_school(tmp_path / "school", roster=roster)
    issue(school, school.sittings, quiet)
    papers = Register(school).papers.values()
    assert len(papers) == 40
    assert len({json.dumps(numbers_of(paper)) for paper in papers}) == 40


def test_candidates_read_their_own_unit_system(issued_school):
    systems = {paper.candidate: paper.system for paper in Register(issued_school).papers.values()}
    assert systems == {"aa-01": System.FIELD, "aa-02": System.METRIC, "aa-03": System.FIELD, "aa-04": System.METRIC}


def test_paper_read_back_is_the_paper_that_was_drawn(issued_school):
    for candidate in issued_school.roster:
        drawn = draw_paper(issued_school, issued_school.sittings[0], candidate, 1)
        assert paper_of(issued_school, candidate.id) == drawn
        assert [variant.exercise.id for variant in drawn.variants()] == list(EVERY_KIND)


def test_key_is_not_in_the_register(issued_school):
    data = issued_school.register_file.read_bytes()
    assert KEY.encode() not in data
    assert bytes.fromhex(KEY) not in data


# The chain ------------------------------------------------------------------------------------------------------------


def _with_other_number(line: bytes) -> bytes:
    """The first drawn number of the line, changed by one in its first digit."""
    changed = re.sub(rb"(\[)(\d)", lambda found: found[1] + (b"8" if found[2] == b"9" else b"9"), line, count=1)
    assert changed != line
    return changed


def _swapped(lines: list[bytes]) -> list[bytes]:
    return [lines[0], lines[2], lines[1], lines[3]]


SPOILED = {
    "number changed": (lambda lines: [lines[0], _with_other_number(lines[1]), *lines[2:]], 2),
    "candidate changed": (lambda lines: [*lines[:2], lines[2].replace(b"aa-03", b"aa-01"), lines[3]], 3),
    "seal changed": (lambda lines: [*lines[:3], lines[3].replace(b'"seal": "', b'"seal": "0')], 4),
    "seal of other letters": (lambda lines: [*lines[:3], re.sub(rb'"seal": "\w', b'"seal": "\xc3\xa9', lines[3])], 4),
    "first line removed": (lambda lines: lines[1:], 1),
    "middle line removed": (lambda lines: [lines[0], *lines[2:]], 2),
    "two lines swapped": (_swapped, 2),
    "line written twice": (lambda lines: [*lines[:2], lines[1], *lines[2:]], 3),
    "line of no JSON added": (lambda lines: [*lines, b"note: all well\n"], 5),
    "empty line added": (lambda lines: [lines[0], b"\n", *lines[1:]], 2),
    "line of other JSON": (lambda lines: [b'["a"]\n', *lines[1:]], 1),
    "no UTF-8": (lambda lines: [*lines[:1], b"\xff\xfe\n", *lines[1:]], 2),
    "very deep JSON": (lambda lines: [*lines, b"[" * 100_000 + b"\n"], 5),
}


@pytest.mark.parametrize("change", SPOILED)
def test_any_change_of_the_register_is_refused_with_its_line(school, change):
    spoil, number = SPOILED[change]
    school.register_file.write_bytes(b"".join(spoil(lines_of(school))))
    with pytest.raises(GraderError) as caught:
        Register(school)
    line = str(caught.value)
    assert line.startswith(f"{school.register_file}: line {number} ")
    assert "backup" in line
    assert "\n" not in line


def test_register_cannot_be_written_without_the_key(school, tmp_path):
    """A whole register of papers, in order and chained, but sealed with another key."""
    forged = make_school(tmp_path / "forged", exercises=EVERY_KIND, key=KEY[::-1])
    issue(forged, forged.sittings, quiet)
    school.register_file.write_bytes(forged.register_file.read_bytes())
    with pytest.raises(GraderError, match="line 1 is not as it was written"):
        Register(school)


def test_line_ends_that_an_editor_changed_do_no_harm(school):
    before = Register(school).papers
    school.register_file.write_bytes(b"".join(line.replace(b"\n", b"\r\n") for line in lines_of(school)))
    assert Register(school).papers == before


# Killed while writing -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kept", [1, 40, -2], ids=["one byte", "forty bytes", "all but two"])
def test_half_written_last_line_is_dropped_and_the_next_issue_writes_it_again(school, kept):
    whole = lines_of(school)
    school.register_file.write_bytes(b"".join(whole[:3]) + whole[3][:kept])
    assert {paper.candidate for paper in Register(school).papers.values()} == {"aa-01", "aa-02", "aa-03"}
    assert lines_of(school) == whole[:3]
    assert issue(school, school.sittings, quiet).drawn == 1
    assert lines_of(school) == whole


def test_lost_last_lines_come_back_the_same(school):
    """The chain cannot show that its end is gone; but the key draws the very same papers again."""
    whole = lines_of(school)
    school.register_file.write_bytes(b"".join(whole[:2]))
    assert issue(school, school.sittings, quiet).drawn == 2
    assert lines_of(school) == whole


def test_lines_are_appended_and_the_old_ones_stay(school):
    before = lines_of(school)
    with (school.folder / "roster.csv").open("a") as file:
        file.write("aa-05,Late Arrival,,,metric\n")
    later = open_school(school.folder)
    assert issue(later, later.sittings, quiet).drawn == 1
    after = lines_of(school)
    assert after[:4] == before
    assert len(after) == 5
    assert paper_of(later, "aa-05").system is System.METRIC


def test_candidate_keeps_the_paper_whatever_the_roster_says_later(school):
    before = paper_of(school, "aa-01")
    lines = ("id,name,employer,crew,units", "aa-01,New Name,,,metric", *ROSTER[1:])
    (school.folder / "roster.csv").write_text("\n".join(lines))
    later = open_school(school.folder)
    assert issue(later, later.sittings, quiet).drawn == 0
    assert paper_of(later, "aa-01") == before


# Changed exercises ----------------------------------------------------------------------------------------------------


def _numeric_changed(**changes):
    """CHAINED with its first part changed."""
    exercise = BANK[CHAINED]
    first = exercise.parts[0]
    assert isinstance(first, Numeric)
    return dataclasses.replace(exercise, parts=(dataclasses.replace(first, **changes), *exercise.parts[1:]))


def _slip_changed():
    first = BANK[CHAINED].parts[0]
    slip, solve = first.slips[0], first.solve
    return _numeric_changed(slips=(dataclasses.replace(slip, wrong=lambda *given: 3 * solve(*given)), *first.slips[1:]))


SCHEME_CHANGES = {
    "version": lambda: dataclasses.replace(BANK[CHAINED], version=BANK[CHAINED].version + 1),
    "marks": lambda: _numeric_changed(marks=Marks(BANK[CHAINED].parts[0].marks.value + 1)),
    "tolerance": lambda: _numeric_changed(tolerance=relative(0.2, because="a change in a test")),
    "model answer": lambda: _numeric_changed(
        solve=lambda *given, solve=BANK[CHAINED].parts[0].solve: 1.001 * solve(*given)
    ),
    "slip": _slip_changed,
    "part left out": lambda: dataclasses.replace(BANK[CHAINED], parts=BANK[CHAINED].parts[:-1]),
}


@pytest.mark.parametrize("change", SCHEME_CHANGES)
def test_paper_whose_mark_scheme_changed_is_refused(issued_school, monkeypatch, change):
    paper = paper_of(issued_school, "aa-01")
    monkeypatch.setitem(BANK, CHAINED, SCHEME_CHANGES[change]())
    with pytest.raises(GraderError) as caught:
        paper.variants()
    line = str(caught.value)
    assert line.startswith(f"paper {paper.id}: the mark scheme of {CHAINED} has changed since it was issued")
    assert "mark with the exercises of that day" in line


def test_paper_whose_exercise_is_gone_is_refused(issued_school, monkeypatch):
    paper = paper_of(issued_school, "aa-01")
    monkeypatch.delitem(BANK, CHAINED)
    with pytest.raises(GraderError, match=f"paper {paper.id}: exercise {CHAINED} is no longer in the bank; restore it"):
        paper.variants()


def test_new_wording_changes_no_mark_and_is_accepted(issued_school, monkeypatch):
    reworded = dataclasses.replace(BANK[CHAINED], title="Another title", setting="Another setting.")
    monkeypatch.setitem(BANK, CHAINED, reworded)
    assert paper_of(issued_school, "aa-01").variants()[0].exercise is reworded


def test_steps_of_an_order_stay_as_they_were_shown(issued_school):
    """The shuffled order is drawn and registered like a number."""
    number = EVERY_KIND.index(WITH_ORDER)
    paper = paper_of(issued_school, "aa-01")
    variant = paper.variants()[number]
    part = next(part for part in variant.exercise.parts if hasattr(part, "steps"))
    shown = list(variant.shown_steps(part).values())
    assert sorted(shown) == sorted(part.steps)
    assert ",".join(shown) in json.dumps(paper.entries[number].numbers)
    assert paper.sitting == SITTING
