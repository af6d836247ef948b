"""Marks: from the register and the answers alone, the same on every way to them, and told to the candidate."""

from __future__ import annotations

import copy
import dataclasses
import gc
import hashlib
import json
import re
from contextlib import nullcontext
from dataclasses import asdict

import nbformat
import numpy as np
import pytest

from exercises import BANK
from exercises.model import Numeric, Written
from exercises.model.marking import ItemMark, Rule
from exercises.model.numbers import in_system
from exercises.model.variant import Variant
from grader.demo.simulation import Ability, Typed, answers_of
from grader.marking import rooms
from grader.marking.marking import mark_school
from grader.marking.one_script import cell_in_words, mark_run
from grader.marking.record import Record
from grader.marking.records import marked_notebook, read_record, read_refusals
from grader.papers.issue import issue
from grader.reports.results import unplaced
from grader.returned.scripts import Script
from grader.store.errors import GraderError
from grader.store.part_marks import item_name
from grader.store.register import Paper
from grader.store.school import School
from pitside.errors import CalculationError
from pitside.unit_names import read_unit, usual_units
from tests.grader.schools import (
    CHAINED,
    CHAINS,
    EVERY_KIND,
    KEY,
    ONE_ROOM,
    ROSTER,
    SITTING,
    add_cell,
    gradebook_of,
    hand_in,
    make_school,
    mark_and_report,
    marks_as_typed,
    pack_of,
    page_of,
    paper_of,
    quiet,
    report,
    right_answers,
    rows_of,
    script_with,
    well_formed,
)
from tests.sharing import a_few

#: The exercises that need no person to mark words.
SELF_MARKED = [key for key, exercise in BANK.items() if not any(isinstance(part, Written) for part in exercise.parts)]


@pytest.fixture(scope="module")
def bank_school(tmp_path_factory) -> School:
    """A field and a metric candidate with every exercise of the bank in their papers. Nobody writes into it."""
    school = make_school(tmp_path_factory.mktemp("bank") / "school", roster=ROSTER[:2], exercises=SELF_MARKED)
    issue(school, school.sittings, quiet)
    return school


@pytest.fixture(params=["aa-01", "aa-02"], ids=["field", "metric"])
def bank_paper(bank_school, request) -> Paper:
    return paper_of(bank_school, request.param)


@pytest.fixture
def marked(bank_school, room):
    """Runs a script in the room and marks it, as marking does with each script; nothing is written."""

    def run_and_mark(paper: Paper, script: dict) -> Record:
        return mark_run(Script("scripts/x.ipynb", "digest", paper, script), paper.variants(), room.run(script))

    return run_and_mark


def items_of(record: Record) -> dict[str, ItemMark]:
    """Each item's mark by its name in the paper."""
    return {item_name(number, item.item): item for number, e in enumerate(record.exercises, 1) for item in e.items}


def lost(record: Record) -> dict[str, float]:
    """The marks lost, by item; items with full marks are left out."""
    return {name: item.out_of - item.marks for name, item in items_of(record).items() if item.marks != item.out_of}


def typed(variant: Variant, item, answer) -> Typed:
    return Typed(*variant.given_answer(item, answer))


# The same marks on an independent way ---------------------------------------------------------------------------------


@pytest.mark.parametrize("number", a_few(range(3), 1))
def test_script_gets_the_marks_of_its_typed_answers(bank_school, bank_paper, marked, number):
    """Notebook, room, claims and record on one side; the typed answers handed to the mark scheme on the other."""
    variants = bank_paper.variants()
    ability = Ability(slips=0.35, blanks=0.1, wrong_units=0.15, other_units=0.3)
    answers = answers_of(variants, ability, np.random.default_rng([number, 7]))
    record = marked(bank_paper, script_with(bank_school, bank_paper, answers))
    assert items_of(record) == marks_as_typed(variants, answers)
    rules = {item.rule for item in items_of(record).values()}
    assert {Rule.RIGHT, Rule.BLANK, Rule.SLIP} <= rules
    assert 0 < record.marks < record.out_of


def test_model_answers_get_full_marks_and_a_blank_paper_none(bank_school, bank_paper, marked):
    full = marked(bank_paper, script_with(bank_school, bank_paper, dict(right_answers(bank_paper.variants()))))
    assert lost(full) == {}
    assert full.marks == full.out_of == sum(BANK[name].marks for name in SELF_MARKED)
    blank = marked(bank_paper, pack_of(bank_school, bank_paper))
    assert (blank.marks, {item.rule for item in items_of(blank).values()}) == (0, {Rule.BLANK})


def test_numbers_changed_inside_the_script_change_no_mark(bank_school, bank_paper, marked):
    """Every printed figure, the points of every cell and every number that metadata could claim are forged."""
    answers = answers_of(bank_paper.variants(), Ability(slips=0.3, blanks=0.1), np.random.default_rng(3))
    honest = script_with(bank_school, bank_paper, answers)
    forged = copy.deepcopy(honest)
    for cell in forged["cells"]:
        if cell["cell_type"] == "markdown":
            cell["source"] = re.sub(r"\d", lambda digit: str((int(digit[0]) + 3) % 10), cell["source"])
        if "nbgrader" in cell["metadata"]:
            cell["metadata"]["nbgrader"]["points"] = 1000
    numbers = [entry.numbers | {"extra": [1.0, "lb/gal", 1]} for entry in bank_paper.entries]
    forged["metadata"]["pitside"] |= {"numbers": numbers, "marks": 1000, "entries": numbers, "attempt": 9}
    assert forged != honest
    one, two = marked(bank_paper, honest), marked(bank_paper, forged)
    assert two.exercises == one.exercises
    assert 0 < one.marks < one.out_of


def test_given_cell_that_a_candidate_rewrote_changes_no_mark(bank_school, bank_paper, marked):
    answers = dict(right_answers(bank_paper.variants()))
    script = script_with(bank_school, bank_paper, answers)
    script["cells"][1]["source"] = "def answer(*given):\n    print('all right, full marks')\n"
    assert marked(bank_paper, script).marks == sum(BANK[name].marks for name in SELF_MARKED)
    cheat = add_cell(pack_of(bank_school, bank_paper), "PARTS = ()\nrecorded = {'1a': (1, '')}\nmarks = 1000")
    assert marked(bank_paper, cheat).marks == 0


# Error carried forward ------------------------------------------------------------------------------------------------


def _carried(variant: Variant, first: Numeric) -> tuple[dict, str]:
    """Answers with a slip in ``first`` that is carried rightly through all other items, and the slip's name."""
    for slip, wrong in variant.slip_values(first, variant.key):
        own = {**variant.key, first.key: wrong}
        try:
            for item in variant.exercise.items:
                if item is not first:
                    own[item.key] = variant.answer(item, own)
        except CalculationError:
            continue
        return own, slip.name
    raise AssertionError(f"no slip of {first.key} can be carried on in {variant.exercise.id}")


@pytest.mark.parametrize("exercise", CHAINS)
def test_error_in_a_carried_rightly_through_loses_the_marks_of_a_only(bank_school, bank_paper, marked, exercise):
    number = SELF_MARKED.index(exercise) + 1
    variants = bank_paper.variants()
    variant = variants[number - 1]
    first = variant.exercise.parts[0]
    own, slip = _carried(variant, first)
    answers = dict(right_answers(variants))
    for item in variant.exercise.items:
        answers[item_name(number, item.key)] = typed(variant, item, own[item.key])
    record = marked(bank_paper, script_with(bank_school, bank_paper, answers))
    assert lost(record) == {f"{number}a": first.marks.total}
    items = items_of(record)
    assert (items[f"{number}a"].rule, items[f"{number}a"].slip) == (Rule.SLIP, slip)
    # Where (a) hardly moves a later answer, that answer is right as it is.
    later = [items[item_name(number, item.key)] for item in variant.exercise.items[1:]]
    followed = [item for item in later if item.rule is Rule.FOLLOWED]
    assert followed
    assert all(item.rule in (Rule.RIGHT, Rule.FOLLOWED) for item in later)
    assert all("follows rightly from your own answer to" in item.comment for item in followed)


def test_chain_worked_by_hand_loses_the_marks_of_a_only_and_the_page_names_the_slip(tmp_path, warm_room):
    """Weighting up with the volume of the barite forgotten; (b), (c), (d) by sums of this test's own.

    A barrel is 42 gal, a sack 100 lb: common practice, no source. Nothing here is worked out by the project.
    """
    school = make_school(tmp_path / "school", roster=ROSTER[:1], exercises=["weight-up-growing"])
    issue(school, school.sittings, quiet)
    paper = paper_of(school, "aa-01")
    drawn = {name: value[0] for name, value in paper.entries[0].numbers.items()}
    units = {name: value[1] for name, value in paper.entries[0].numbers.items()}
    assert (units["volume"], units["target"], units["barite"], units["rate"]) == ("bbl", "lb/gal", "lb/gal", "sack/min")
    a = drawn["volume"] * 42 * (drawn["target"] - drawn["mud_weight"]) / 100
    b = a * 100 / (42 * drawn["barite"])
    c = drawn["volume"] + b
    d = a / drawn["rate"] / 60
    answers = {"1a": Typed(a, "sack"), "1b": Typed(b, "bbl"), "1c": Typed(c, "bbl"), "1d": Typed(d, "h")}
    hand_in(school, paper, script_with(school, paper, answers))
    result = mark_and_report(school)["aa-01"]
    assert lost(result.record) == {"1a": BANK["weight-up-growing"].parts[0].marks.total}
    page = page_of(school, "aa-01").get_text(" ", strip=True)
    assert "Known slip: volume of the barite left out" in page
    assert "The barite takes up volume" in page
    assert page.count("Right by follow-through") == 3
    assert "It follows rightly from your own answer to (a)." in page


def test_later_part_after_a_blank_is_marked_on_the_model_answer(bank_school, bank_paper, marked):
    number = SELF_MARKED.index(CHAINED) + 1
    answers = dict(right_answers(bank_paper.variants()))
    answers[f"{number}a"] = None
    record = marked(bank_paper, script_with(bank_school, bank_paper, answers))
    assert lost(record) == {f"{number}a": BANK[CHAINED].parts[0].marks.total}


# Units ----------------------------------------------------------------------------------------------------------------

#: kg/m3 in one lb/gal (US). From memory: NIST SP 811, appendix B, gives 1.198 264 E+02.
KG_M3_IN_LB_GAL = 119.8264


def _density(exercise) -> Numeric | None:
    for item in exercise.items:
        if isinstance(item, Numeric) and {"lb/gal", "kg/m3", "SG"} <= set(usual_units(in_system(item.unit, "field"))):
            return item
    return None


WITH_DENSITY = "column-pressure"


@pytest.mark.parametrize("kind", ["right", "slip"])
def test_same_answer_in_lb_gal_kg_m3_or_sg_gets_the_same_mark(bank_school, bank_paper, marked, kind):
    number = SELF_MARKED.index(WITH_DENSITY) + 1
    variants = bank_paper.variants()
    variant, item = variants[number - 1], _density(BANK[WITH_DENSITY])
    answer = variant.key[item.key] if kind == "right" else variant.slip_values(item, variant.key)[0][1]
    in_lb_gal = float(answer.to(read_unit("lb/gal")).magnitude)
    given = {
        "lb/gal": in_lb_gal,
        "kg/m3": in_lb_gal * KG_M3_IN_LB_GAL,
        "SG": in_lb_gal * KG_M3_IN_LB_GAL / 1000,
        "kg/m³": in_lb_gal * KG_M3_IN_LB_GAL,
    }
    found = set()
    for unit, value in given.items():
        answers = dict(right_answers(variants))
        answers[item_name(number, item.key)] = Typed(float(f"{value:.6g}"), unit)
        record = marked(bank_paper, script_with(bank_school, bank_paper, answers))
        own = items_of(record)[item_name(number, item.key)]
        found.add((own.rule, own.marks, own.slip, own.comment, record.marks))
    assert len(found) == 1
    assert next(iter(found))[0] is (Rule.RIGHT if kind == "right" else Rule.SLIP)


def test_right_number_with_a_wrong_dimension_gets_a_clear_comment_on_the_page(school, warm_room):
    paper = paper_of(school, "aa-01")
    number = EVERY_KIND.index(CHAINED) + 1
    first = BANK[CHAINED].parts[0]
    answers = dict(right_answers(paper.variants()))
    right = answers[f"{number}a"]
    wrong = "psi" if read_unit(right.unit).dimensionality != read_unit("psi").dimensionality else "bbl"
    answers[f"{number}a"] = Typed(right.value, wrong)
    hand_in(school, paper, script_with(school, paper, answers))
    record = mark_and_report(school)["aa-01"].record
    own = items_of(record)[f"{number}a"]
    assert own.rule is Rule.UNIT
    assert own.marks < first.marks.total
    assert lost(record) == {f"{number}a": own.out_of - own.marks}
    page = page_of(school, "aa-01").get_text(" ", strip=True)
    assert f"The number is right, but {wrong} measures a" in page
    assert "; it should read " in page


def test_unit_that_nobody_knows_gets_a_suggestion_on_the_page(school, warm_room):
    paper = paper_of(school, "aa-01")
    number = EVERY_KIND.index(CHAINED) + 1
    answers = dict(right_answers(paper.variants()))
    answers[f"{number}a"] = Typed(412.0, "lb/bbbl")
    hand_in(school, paper, script_with(school, paper, answers))
    assert f"{number}a" in lost(mark_and_report(school)["aa-01"].record)
    assert '"lb/bbbl" is no unit we know. Did you mean lb/bbl?' in page_of(school, "aa-01").get_text(" ", strip=True)


# What happened while a script ran -------------------------------------------------------------------------------------


def test_errors_strange_parts_and_refused_answers_become_notes_and_the_rest_counts(bank_school, bank_paper, marked):
    script = script_with(bank_school, bank_paper, dict(right_answers(bank_paper.variants())))
    source = "answer('99z', 5, 'psi')\nanswer('1 a', 5)\nanswer('1a', float('nan'), 'psi')\nundefined_name"
    record = marked(bank_paper, add_cell(script, source))
    notes = "\n".join(record.notes)
    where = "A cell that was added before the first answer"
    assert f"{where} stopped with an error: NameError: name 'undefined_name' is not defined" in notes
    assert "An answer was given to part 99z, which this paper does not have." in notes
    assert '"1 a" is no name of a part' in notes
    assert "1a: nan" in notes
    assert (record.ending, lost(record)) == ("finished", {})


def test_answer_that_python_cannot_read_is_told_by_its_part_with_its_line(bank_school, bank_paper, marked):
    script = script_with(bank_school, bank_paper, dict(right_answers(bank_paper.variants())))
    cell = next(cell for cell in script["cells"] if cell["id"] == "answer-1a")
    cell["source"] = '# twice two\nanswer("1a", 412 lb)'
    record = marked(bank_paper, script)
    assert record.notes == (
        'Python could not read the answer cell of 1(a), so nothing in it counts: answer("1a", 412 lb)',
    )
    assert set(lost(record)) >= {"1a"}


def test_script_without_an_answer_is_told_to_the_assessor_as_the_pack_it_may_be(school, warm_room):
    for candidate, answers in (("aa-01", {}), ("aa-02", dict(right_answers(paper_of(school, "aa-02").variants())))):
        paper = paper_of(school, candidate)
        hand_in(school, paper, script_with(school, paper, answers))
    mark_school(school, quiet, ONE_ROOM)
    blank, answered = (read_record(school, paper_of(school, one).id).for_assessor for one in ("aa-01", "aa-02"))
    assert len(blank) == 1 and blank[0].startswith("No answer stands in it")
    assert answered == ()


def test_cells_are_called_by_the_part_that_they_answer_or_stand_behind(bank_school, bank_paper):
    variants = bank_paper.variants()
    script = add_cell(script_with(bank_school, bank_paper, {}), "1", after=1)
    ids = [cell["id"] for cell in script["cells"]]
    assert cell_in_words(ids.index("pitside-answer"), script, variants) == "the first cell"
    assert cell_in_words(2, script, variants) == "a cell that was added before the first answer"
    at = ids.index("answer-1b")
    assert cell_in_words(at, script, variants) == "the answer cell of 1(b)"
    script["cells"].insert(at + 1, {"cell_type": "code", "source": "1"})
    assert cell_in_words(at + 1, script, variants) == "a cell that was added behind 1(b)"


def test_script_that_ends_its_process_keeps_what_it_answered_before(bank_school, bank_paper, marked):
    script = script_with(bank_school, bank_paper, dict(right_answers(bank_paper.variants())))
    second = next(n for n, cell in enumerate(script["cells"]) if cell["id"] == "exercise-2")
    record = marked(bank_paper, add_cell(script, "import os\nos._exit(0)", after=second))
    assert record.ending == "killed"
    assert record.exercises[0].marks == record.exercises[0].out_of
    assert record.marks == record.exercises[0].marks
    assert any("ended its own process" in note for note in record.notes)


# The record -----------------------------------------------------------------------------------------------------------


def test_record_is_read_back_as_it_was_written(school, warm_room):
    paper = paper_of(school, "aa-03")
    answers = answers_of(paper.variants(), Ability(slips=0.4, blanks=0.2), np.random.default_rng(5))
    path = hand_in(school, paper, add_cell(script_with(school, paper, answers), "1 / 0"))
    mark_school(school, quiet, ONE_ROOM)
    record = read_record(school, paper.id)
    assert (record.paper, record.candidate, record.sitting) == (paper.id, "aa-03", SITTING)
    assert record.file == f"scripts/{path.name}"
    assert record.scheme == paper.scheme
    assert record.ending == "finished"
    where = "A cell that was added before the first answer"
    assert record.notes == (f"{where} stopped with an error: ZeroDivisionError: division by zero",)
    assert Record.from_json(json.loads(json.dumps(asdict(record)))) == record


def test_marked_notebook_holds_the_outputs_of_this_run_and_the_script_stays_as_it_came(school, warm_room):
    paper = paper_of(school, "aa-01")
    script = add_cell(pack_of(school, paper), "print('seen by the marker')")
    script["cells"][2]["outputs"] = [{"output_type": "stream", "name": "stdout", "text": "claimed by the candidate"}]
    path = hand_in(school, paper, script)
    before = path.read_bytes()
    mark_school(school, quiet, ONE_ROOM)
    notebook = nbformat.read(marked_notebook(school, paper), as_version=4)
    nbformat.validate(notebook)
    assert [output["text"] for output in notebook.cells[2].outputs] == ["seen by the marker\n"]
    assert "claimed by the candidate" not in marked_notebook(school, paper).read_text()
    assert path.read_bytes() == before


def test_gradebook_holds_the_records_marks_part_by_part(school, warm_room):
    paper = paper_of(school, "aa-04")
    answers = answers_of(paper.variants(), Ability(slips=0.4), np.random.default_rng(8))
    hand_in(school, paper, script_with(school, paper, answers))
    record = mark_and_report(school)["aa-04"].record
    wanted: dict[str, float] = {}
    for name, item in items_of(record).items():
        part = name.split(".")[0]
        wanted[part] = wanted.get(part, 0) + item.marks
    found = gradebook_of(school)
    assert {part: row[0] for (_, _, part), row in found.items()} == wanted
    for name, item in items_of(record).items():
        comment = found[SITTING, "aa-04", name.split(".")[0]][4]
        assert str(item.rule) in comment
        assert item.slip in comment
        assert item.comment in comment


def test_marking_again_marks_nothing_and_changes_nothing(school, warm_room):
    for candidate in ("aa-01", "aa-02"):
        paper = paper_of(school, candidate)
        hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    first = mark_school(school, quiet, ONE_ROOM)
    files = {path: path.stat().st_mtime_ns for path in (school.records / "marks").iterdir()}
    again = mark_school(school, quiet, ONE_ROOM)
    assert (first.marked, first.already, again.marked, again.already) == (2, 0, 0, 2)
    assert {path: path.stat().st_mtime_ns for path in (school.records / "marks").iterdir()} == files


def test_script_that_came_in_later_and_script_put_in_place_of_another_are_marked(school, warm_room):
    one, two = paper_of(school, "aa-01"), paper_of(school, "aa-02")
    hand_in(school, one, pack_of(school, one))
    assert mark_and_report(school)["aa-01"].record.marks == 0
    hand_in(school, one, script_with(school, one, dict(right_answers(one.variants()))))
    hand_in(school, two, script_with(school, two, dict(right_answers(two.variants()))))
    tally = mark_school(school, quiet, ONE_ROOM)
    assert (tally.marked, tally.already) == (2, 0)
    results = report(school)
    assert results["aa-01"].percent == results["aa-02"].percent == 100


def test_second_different_script_is_told_and_the_mark_of_the_first_stays(school, warm_room):
    paper = paper_of(school, "aa-01")
    script = script_with(school, paper, dict(right_answers(paper.variants())))
    hand_in(school, paper, script)
    mark_school(school, quiet, ONE_ROOM)
    hand_in(school, paper, add_cell(script, "x = 1"), "second thoughts.ipynb")
    result = mark_and_report(school)["aa-01"]
    assert (result.status, result.percent) == ("marked", 100)
    assert any("2 different scripts for one paper" in remark for remark in result.remarks)


def test_paper_whose_exercise_changed_since_issue_is_not_marked_and_says_so(school, warm_room, monkeypatch):
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    newer = dataclasses.replace(BANK[CHAINED], version=BANK[CHAINED].version + 1)
    monkeypatch.setitem(BANK, CHAINED, newer)
    tally = mark_school(school, quiet, ONE_ROOM)
    assert tally.marked == 0
    (refusal,) = tally.refused
    assert f"the mark scheme of {CHAINED} has changed since it was issued" in refusal.reason
    assert report(school)["aa-01"].status == "not marked"
    assert gradebook_of(school) == {}


@pytest.mark.parametrize("name", ["marks", "refused.json"])
def test_damaged_record_is_one_clear_line(school, warm_room, name):
    paper = paper_of(school, "aa-01")
    hand_in(school, paper, pack_of(school, paper))
    mark_school(school, quiet, ONE_ROOM)
    path = school.records / name
    path = next(path.iterdir()) if path.is_dir() else path
    path.write_text('{"paper": ')
    with pytest.raises(GraderError, match="damaged") as caught:
        if name == "marks":  # the results go past it, and say the same of its paper
            mark_school(school, quiet, ONE_ROOM)
        report(school)
    assert str(caught.value).startswith(f"{path}: ")
    assert "mark again" in str(caught.value)


def test_progress_is_told_from_nought_to_all(school, warm_room):
    for candidate in ("aa-01", "aa-02", "aa-03"):
        paper = paper_of(school, candidate)
        hand_in(school, paper, pack_of(school, paper))
    told = []
    mark_school(school, lambda done, total: told.append((done, total)), ONE_ROOM)
    assert told == [(0, 3), (1, 3), (2, 3), (3, 3)]


def test_file_that_changes_after_it_was_read_is_refused_and_never_marked_under_its_old_digest(school, warm_room):
    changed, gone, sound = (paper_of(school, candidate) for candidate in ("aa-01", "aa-02", "aa-03"))
    old = script_with(school, changed, dict(right_answers(changed.variants())))
    path = hand_in(school, changed, old)
    taken = hand_in(school, gone, pack_of(school, gone))
    hand_in(school, sound, pack_of(school, sound))

    def meddle(done: int, total: int) -> None:
        if done == 0:  # the folder has been read, and no script was begun
            hand_in(school, changed, pack_of(school, changed))
            taken.unlink()

    tally = mark_school(school, meddle, ONE_ROOM)
    assert tally.marked == 1
    assert [refusal.file for refusal in tally.refused] == [f"scripts/{path.name}", f"scripts/{taken.name}"]
    assert "changed while it was being marked: mark again" in tally.refused[0].reason
    assert tuple(read_refusals(school)) == tally.refused
    assert read_record(school, changed.id) is None
    again = mark_school(school, quiet, ONE_ROOM)
    assert (again.marked, again.already, again.refused) == (1, 1, ())
    assert read_refusals(school) == []
    record = read_record(school, changed.id)
    assert (record.marks, record.script) == (0, hashlib.sha256(path.read_bytes()).hexdigest())


def test_damaged_script_is_refused_when_its_turn_comes_and_keeps_no_other_from_its_marks(school, warm_room):
    damaged, sound = paper_of(school, "aa-01"), paper_of(school, "aa-02")
    script = pack_of(school, damaged)
    script["cells"][0]["metadata"] = 5
    hand_in(school, damaged, script)
    hand_in(school, damaged, b"not a notebook", "a.txt")
    hand_in(school, sound, pack_of(school, sound))
    tally = mark_school(school, quiet, ONE_ROOM)
    assert (tally.marked, [refusal.candidate for refusal in tally.refused]) == (1, ["", "aa-01"])
    assert "a damaged notebook" in tally.refused[1].reason
    assert tuple(read_refusals(school)) == tally.refused


def test_no_more_scripts_are_held_than_are_being_marked(tmp_path, warm_room):
    """Counted among all that Python makes meanwhile: papers with their mark schemes worked out, and notebooks."""
    roster = [f"aa-{number:02d},Candidate {number},,,field" for number in range(1, 13)]
    school = make_school(tmp_path / "school", roster=roster)
    issue(school, school.sittings, quiet)
    for candidate in school.roster:
        paper = paper_of(school, candidate.id)
        hand_in(school, paper, pack_of(school, paper))
    held = []

    def count(done: int, total: int) -> None:
        gc.collect()
        held.append(sum(isinstance(thing, Variant | Script) for thing in gc.get_objects()))

    gc.collect()
    gc.freeze()  # what is there before is neither counted nor gone through each time
    assert mark_school(school, count, ONE_ROOM).marked == 12
    # Two threads with a script and its one variant each.
    assert max(held) <= 4


# Results and feedback -------------------------------------------------------------------------------------------------

HOSTILE_NAMES = (
    "<b>Bobby</b>", "=1+1", "+1", "-2+3", "@SUM(A1)", "<script>alert(1)</script>", "O'Dell \"D\"; =1", "李文桥",
)  # fmt: skip


@pytest.fixture(scope="module")
def hostile(tmp_path_factory, room) -> School:
    """Candidates with names that attack pages and spreadsheets; the first one's script attacks the feedback."""
    quoted = [name.replace('"', '""') for name in HOSTILE_NAMES]
    roster = [f'aa-{number:02d},"{name}",,"{name}",field' for number, name in enumerate(quoted, 1)]
    school = make_school(tmp_path_factory.mktemp("hostile") / "school", roster=roster, exercises=EVERY_KIND)
    issue(school, school.sittings, quiet)
    for candidate in school.roster[:-1]:
        paper = paper_of(school, candidate.id)
        script = script_with(school, paper, dict(right_answers(paper.variants())))
        if candidate.id == "aa-01":
            attack = "</p><script>alert(1)</script><img src=x onerror=alert(2)>"
            source = "".join(
                f"answer({item_name(number, item.key)!r}, {attack!r}, '<i>psi</i>')\n"
                for number, variant in enumerate(paper.variants(), 1) for item in variant.exercise.items
            )  # fmt: skip
            script["cells"].append(add_cell({"cells": []}, f"{source}raise ValueError({attack!r})", -1)["cells"][0])
        hand_in(school, paper, script)
    hand_in(school, paper, b"<script>alert(3)</script>", "=2+5 <b>holiday</b>.txt")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rooms, "Runner", lambda **_: nullcontext(room))
        mark_and_report(school)
    return school


def test_results_csv_opens_in_a_spreadsheet_with_every_candidate(hostile):
    data = (hostile.records / "results.csv").read_bytes()
    columns = b"id,name,crew,sitting,attempt,paper,status,marks,out_of,percent,counts,remarks,"
    assert data.startswith(b"\xef\xbb\xbf" + columns)
    rows = rows_of(hostile)
    assert list(rows) == [candidate.id for candidate in hostile.roster]
    assert rows["aa-02"]["status"] == "marked"
    assert rows["aa-02"]["percent"] == "100.0"
    assert float(rows["aa-02"]["marks"]) == float(rows["aa-02"]["out_of"]) == sum(BANK[e].marks for e in EVERY_KIND)
    assert [rows["aa-02"][e] for e in EVERY_KIND] == [f"{BANK[e].marks:g}" for e in EVERY_KIND]
    assert (rows["aa-08"]["status"], rows["aa-08"]["marks"]) == ("no script", "")
    assert rows["aa-08"]["name"] == "李文桥"
    assert float(rows["aa-01"]["marks"]) == 0


def test_no_cell_of_results_csv_is_a_formula(hostile):
    for row in rows_of(hostile).values():
        for cell in row.values():
            assert not cell.startswith(("=", "+", "-", "@", "\t", "\r")), cell
    assert [rows_of(hostile)[f"aa-0{n}"]["name"] for n in (2, 3, 4, 5)] == ["'=1+1", "'+1", "'-2+3", "'@SUM(A1)"]


def test_feedback_page_is_sound_html_with_the_name_as_text(hostile):
    for candidate in hostile.roster[:-1]:
        page = page_of(hostile, candidate.id)
        assert page.h1.bdi.get_text() == candidate.name
        assert page.h1.bdi.find(True) is None
        assert not page.find_all(["script", "img", "iframe", "i", "b"])
        assert not [tag for tag in page.find_all(True) if any(name.startswith("on") for name in tag.attrs)]


def test_hostile_answers_are_shown_as_text(hostile):
    page = page_of(hostile, "aa-01")
    assert "</p><script>alert(1)</script>" in page.get_text()
    assert "stopped with an error: ValueError: </p><script>" in page.get_text()


def test_results_page_is_sound_html_and_its_links_lead_to_pages(hostile):
    index = hostile.records / "results.html"
    page = well_formed(index.read_text(encoding="utf-8"))
    assert not page.find_all(["img", "b"])
    (ours,) = page.find_all("script")
    assert "alert" not in ours.get_text()
    assert [cell.get_text() for cell in page.find_all("bdi")] == list(HOSTILE_NAMES)
    links = [link["href"] for link in page.find_all("a")]
    assert len(links) == len(HOSTILE_NAMES) - 1
    assert all((index.parent / link).is_file() for link in links)


def test_file_of_a_stranger_is_on_the_results_page(hostile):
    page = well_formed((hostile.records / "results.html").read_text(encoding="utf-8"))
    note = page.find("div", class_="note").get_text()
    assert "Files that belong to no paper of this school" in note
    assert "scripts/=2+5 <b>holiday</b>.txt: not a notebook" in note
    assert len(unplaced(hostile, [*report(hostile).values()])) == 1


def test_feedback_shows_every_part_with_answer_marks_and_worked_solution(hostile):
    paper = paper_of(hostile, "aa-02")
    page = page_of(hostile, "aa-02")
    parts = page.find_all("div", class_="part")
    assert len(parts) == sum(len(variant.exercise.parts) for variant in paper.variants())
    answers = page.select("div.answer, table.cells tbody tr")
    assert page.select("table.cells") and len(answers) == sum(
        len(variant.exercise.items) for variant in paper.variants()
    )
    assert all("Right" in answer.get_text() for answer in answers)
    for part in parts:
        assert part.details.summary.get_text() == "Worked solution with your numbers"
        assert len(part.details.get_text(strip=True)) > len("Worked solution with your numbers") + 10
    total = sum(variant.exercise.marks for variant in paper.variants())
    assert " ".join(page.find("p", class_="sum").get_text().split()) == f"{total:g} of {total:g} marks (100 %)"


def test_feedback_holds_nobody_elses_data_and_no_key(hostile):
    for candidate in hostile.roster[:-1]:
        text = (hostile.records / "feedback" / f"{SITTING}_{candidate.id}.html").read_text(encoding="utf-8")
        assert KEY not in text
        for other in hostile.roster:
            if other is not candidate:
                assert paper_of(hostile, other.id).id not in text
