"""Explanations of marks: every figure that a mark rests on is printed, and the rule that gave it."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from exercises import BANK
from exercises.model import Numeric
from exercises.model.marking import FACTORS, Rule
from grader.demo.simulation import Ability, Typed, answers_of
from grader.marking.explain import explain
from grader.marking.marking import mark_school
from grader.marking.records import read_record
from grader.papers.issue import issue
from grader.store.errors import GraderError
from grader.store.part_marks import item_name
from grader.store.school import School
from tests.grader.schools import (
    CHAINED,
    EVERY_KIND,
    ONE_ROOM,
    ROSTER,
    hand_in,
    make_school,
    paper_of,
    quiet,
    right_answers,
    script_with,
)

NBSP = "\N{NO-BREAK SPACE}"


def plain(lines: list[str]) -> str:
    return "\n".join(lines).replace(NBSP, " ").replace("\N{NARROW NO-BREAK SPACE}", "")


@pytest.fixture
def chain(tmp_path, warm_room):
    """A marked paper of weighting up: gives a function from answers to the explanation of a part.

    The answers are sums of this test's own; a barrel is 42 gal, a sack 100 lb: common practice, no source.
    """
    school = make_school(tmp_path / "school", roster=ROSTER[:1], exercises=["weight-up-growing"])
    issue(school, school.sittings, quiet)
    paper = paper_of(school, "aa-01")
    drawn = {name: value[0] for name, value in paper.entries[0].numbers.items()}
    share = (drawn["target"] - drawn["mud_weight"]) / (drawn["barite"] - drawn["target"])
    sacks = drawn["volume"] * 42 * drawn["barite"] * share / 100

    def explained(part: str, **answers: Typed) -> str:
        given = {f"1{key}": typed for key, typed in answers.items()}
        hand_in(school, paper, script_with(school, paper, given))
        mark_school(school, quiet, ONE_ROOM)
        return plain(explain(school, "aa-01", part))

    return explained, drawn, sacks


@pytest.mark.parametrize("size", [1e-321, 1.7976931348623157e308])
def test_a_script_with_a_number_of_no_size_is_marked_and_explained(chain, size):
    explained, _, _ = chain
    text = explained("1b", a=Typed(size, "sack"), b=Typed(77.7, "bbl"), c=Typed(size, "bbl"), d=Typed(3.3, "h"))
    assert "given         77.7 bbl" in text
    assert "uses          1a: given " in text
    assert "rule          wrong" in text


def test_right_answer_is_explained_with_numbers_model_tolerance_and_its_reason(chain):
    explained, drawn, sacks = chain
    text = explained("1a", a=Typed(sacks, "sack"))
    part = BANK["weight-up-growing"].parts[0]
    assert f"given         {sacks:.6g} sacks" in text
    assert f"model answer  {sacks:.4g}" in text
    assert re.search(rf"volume {drawn['volume']:g}(\.0)? bbl", text)
    assert part.tolerance.because in text
    assert "rule          right" in text
    assert text.count("FITS") == 1
    assert "BEWARE" not in text


def test_slip_is_explained_by_the_values_that_were_tried_before_it_and_its_distance(chain):
    explained, drawn, _ = chain
    forgotten = drawn["volume"] * 42 * (drawn["target"] - drawn["mud_weight"]) / 100
    text = explained("1a", a=Typed(forgotten + 0.01, "sack"))
    last = [line for line in text.splitlines() if "tried" in line][-1]
    assert "known slip, volume of the barite left out" in last
    assert "off by 0.01" in last
    assert last.endswith("FITS")
    assert "tried         right value: " in text
    assert text.splitlines()[-2].strip() == "rule          known slip: volume of the barite left out"


def test_follow_through_is_explained_by_the_earlier_answer_that_it_rests_on(chain):
    explained, drawn, sacks = chain
    text = explained("1b", a=Typed(sacks * 1.3, "sack"), b=Typed(sacks * 1.3 * 100 / (42 * drawn["barite"]), "bbl"))
    assert f"uses          1a: given {sacks * 1.3:.6g} sacks, model" in text
    assert "wrong; carried on" in text
    assert "right value from the own (a)" in text
    assert "rule          right by follow-through" in text


def test_wrong_answer_is_held_against_every_slip_and_every_factor(chain):
    explained, _, sacks = chain
    text = explained("1a", a=Typed(sacks * 1.3, "sack"))
    for slip in BANK["weight-up-growing"].parts[0].slips:
        assert (f"known slip, {slip.name}: " in text) == (slip.only in (None, "field"))
    tried = re.search(r"(\d+) values that are off by a known factor: none fits", text)
    assert int(tried[1]) >= 2 * len(FACTORS)
    assert "FITS" not in text
    assert "rule          wrong" in text


def test_factor_is_explained_by_its_name(chain):
    explained, _, sacks = chain
    text = explained("1a", a=Typed(sacks * 8.345, "sack"))
    assert "rule          right but for a factor: too large by a factor of 8.345" in text


def test_number_in_a_wrong_unit_is_explained(chain):
    explained, _, sacks = chain
    text = explained("1a", a=Typed(sacks, "psi"))
    assert "the number taken as sack" in text
    assert f"rule          {Rule.UNIT}" in text


@pytest.fixture
def marked(school, warm_room) -> School:
    paper = paper_of(school, "aa-02")
    answers = answers_of(paper.variants(), Ability(slips=0.4, blanks=0.1, wrong_units=0.1), np.random.default_rng(4))
    hand_in(school, paper, script_with(school, paper, answers))
    mark_school(school, quiet, ONE_ROOM)
    return school


def test_every_part_of_every_kind_is_explained_with_the_mark_of_the_record(marked):
    paper = paper_of(marked, "aa-02")
    record = read_record(marked, paper.id)
    seen = set()
    for number, exercise in enumerate(record.exercises, 1):
        for item in exercise.items:
            text = plain(explain(marked, "aa-02", item_name(number, item.item)))
            assert f"{item_name(number, item.item)}: {item.marks:g} of {item.out_of:g} marks" in text
            rule = f"rule          {item.rule}" + (f": {item.slip}" if item.slip else "")
            assert rule.replace(NBSP, " ") in text
            assert ("FITS" in text) == (
                isinstance(BANK[exercise.exercise].item(item.item), Numeric)
                and item.rule not in (Rule.BLANK, Rule.UNREADABLE, Rule.WRONG)
            )
            assert "BEWARE" not in text
            seen.add(item.rule)
    assert len(seen) >= 4


def test_table_is_explained_cell_by_cell(marked):
    record = read_record(marked, paper_of(marked, "aa-02").id)
    number, cell = next(
        (number, item.item) for number, e in enumerate(record.exercises, 1) for item in e.items if "." in item.item
    )
    cells = [item for item in record.exercises[number - 1].items if item.item.startswith(f"{cell[0]}.")]
    assert plain(explain(marked, "aa-02", f"{number}{cell[0]}")).count("  model answer  ") == len(cells) > 1


def test_explaining_writes_nothing(marked):
    before = {path: path.stat().st_mtime_ns for path in marked.folder.rglob("*")}
    explain(marked, "aa-02", "1a")
    assert {path: path.stat().st_mtime_ns for path in marked.folder.rglob("*")} == before


def test_record_that_no_longer_is_what_the_marking_gives_is_told(marked):
    path = next((marked.records / "marks").iterdir())
    record = json.loads(path.read_text())
    item = next(item for item in record["exercises"][0]["items"] if item["rule"] != "no answer")
    item["marks"] += 1
    path.write_text(json.dumps(record))
    assert "BEWARE" in plain(explain(marked, "aa-02", f"1{item['item']}"))


@pytest.mark.parametrize(
    ("candidate", "part", "sitting", "says"),
    [
        ("zz-99", "1a", "", "no paper was issued to 'zz-99'"),
        ("aa-02", "99z", "", "no part '99z' in a marked paper; there are: 1a, 1b"),
        ("aa-02", "1a", "day9", "no sitting 'day9'"),
        ("aa-01", "1a", "", "no script of aa-01 is marked; run: pitside mark"),
    ],
)
def test_what_cannot_be_explained_is_one_clear_line(marked, candidate, part, sitting, says):
    with pytest.raises(GraderError) as caught:
        explain(marked, candidate, part, sitting)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_script_marked_right_throughout_is_explained_as_right(school, warm_room):
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    mark_school(school, quiet, ONE_ROOM)
    number = EVERY_KIND.index(CHAINED) + 1
    assert "rule          right" in plain(explain(school, "aa-01", f"{number}a"))
