"""The log: who, when, what and why for everything that was marked; once for each event, whatever was killed."""

from __future__ import annotations

import itertools
import json
from datetime import UTC, datetime

import pytest

from exercises.model.marking import Rule
from grader.demo.simulation import Typed
from grader.marking import bookkeeping
from grader.marking.explain import explain
from grader.marking.marking import mark_school
from grader.marking.records import read_record
from grader.store.errors import GraderError
from grader.store.log import Log
from grader.store.school import School, open_school
from tests.grader.schools import ONE_ROOM, hand_in, pack_of, paper_of, quiet, right_answers, script_with
from tests.sharing import a_few


class Killed(BaseException):
    """Ends a run where it stands, as a kill does; nothing catches it."""


def log_of(school: School) -> list[dict]:
    return [json.loads(line) for line in (school.records / "log.jsonl").read_text(encoding="utf-8").splitlines()]


def without_the_moment(lines: list[dict]) -> list[dict]:
    return [{name: value for name, value in line.items() if name not in ("when", "who", "seal")} for line in lines]


def hand_in_right(school: School, *candidates: str) -> None:
    for candidate in candidates:
        paper = paper_of(school, candidate)
        hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))


@pytest.fixture
def marked(school, warm_room) -> School:
    hand_in_right(school, "aa-01", "aa-02")
    mark_school(school, quiet, ONE_ROOM)
    return school


def test_marking_logs_who_when_what_and_the_marks(marked):
    before = datetime.now(UTC)
    lines = log_of(marked)
    assert [line["what"] for line in lines] == ["marked", "marked"]
    assert {line["paper"] for line in lines} == {paper_of(marked, c).id for c in ("aa-01", "aa-02")}
    for line in lines:
        record = read_record(marked, line["paper"])
        assert (line["marks"], line["out_of"], line["script"]) == (record.marks, record.out_of, record.script)
        assert line["who"]
        assert abs((before - datetime.fromisoformat(line["when"])).total_seconds()) < 600


def test_marking_nothing_logs_nothing(marked):
    before = log_of(marked)
    mark_school(marked, quiet, ONE_ROOM)
    assert log_of(marked) == before


def test_another_script_is_logged_with_old_and_new_marks(marked):
    paper = paper_of(marked, "aa-01")
    full = read_record(marked, paper.id)
    hand_in(marked, paper, pack_of(marked, paper))
    mark_school(marked, quiet, ONE_ROOM)
    last = log_of(marked)[-1]
    assert (last["what"], last["paper"], last["why"]) == ("marked again", paper.id, "another script was handed in")
    assert (last["before"], last["marks"]) == (full.marks, 0)
    assert len(last["changes"]) == sum(len(exercise.items) for exercise in full.exercises)
    assert all(old > new == 0 for old, new in last["changes"].values())


def test_marking_again_marks_all_and_logs_reason_and_both_marks(marked):
    tally = mark_school(marked, quiet, ONE_ROOM, again="a figure was doubted")
    assert (tally.marked, tally.already) == (2, 0)
    begun, one, two, ended = log_of(marked)[2:]
    assert (begun["what"], ended["what"]) == ("marking again begun", "marking again ended")
    assert {line["why"] for line in (begun, one, two, ended)} == {"a figure was doubted"}
    for line in (one, two):
        assert (line["what"], line["before"], line["changes"]) == ("marked again", line["marks"], {})


def test_marking_again_twice_for_one_reason_is_logged_twice(marked):
    for _ in range(2):
        assert mark_school(marked, quiet, ONE_ROOM, again="to be sure").marked == 2
    assert [line["what"] for line in log_of(marked)].count("marked again") == 4


def test_changed_mark_is_logged_by_its_item(marked):
    paper = paper_of(marked, "aa-02")
    path = marked.records / "marks" / f"{paper.id}.json"
    record = json.loads(path.read_text())
    item = record["exercises"][0]["items"][0]
    true, item["marks"] = item["marks"], 0.25
    path.write_text(json.dumps(record))
    mark_school(marked, quiet, ONE_ROOM, again="the record was touched")
    line = next(line for line in log_of(marked)[2:] if line.get("paper") == paper.id)
    assert line["changes"] == {f"1{item['item']}": [0.25, true]}
    assert line["marks"] - line["before"] == pytest.approx(true - 0.25)


#: What is killed, before which of its calls, and in which run; of the first four each differs from the others.
KILLS = (
    ("write_json", 2, ""), ("_log_marks", 1, "a figure was doubted"), ("write_json", 3, "a figure was doubted"),
    ("_log_marks", 2, ""),
    *itertools.product(("write_json", "_log_marks"), (1, 4), ("", "a figure was doubted")),
    *itertools.product(("write_json", "_log_marks"), (2, 3), ("", "a figure was doubted")),
)  # fmt: skip


@pytest.mark.parametrize(("victim", "call", "again"), a_few(dict.fromkeys(KILLS), 4))
def test_run_killed_anywhere_and_run_again_has_the_log_of_an_undisturbed_run(
    school, warm_room, monkeypatch, victim, call, again
):
    """Killed before the n-th marked notebook, log line or marks file; the same command then ends the work."""
    hand_in_right(school, "aa-01", "aa-02")
    if again:
        mark_school(school, quiet, ONE_ROOM)
    real, calls = getattr(bookkeeping, victim), []

    def dies(*arguments, **named):
        # The list of refused files is written first in every run.
        if "refused.json" not in str(arguments[0]):
            calls.append(1)
            if len(calls) == call:
                raise Killed
        return real(*arguments, **named)

    with monkeypatch.context() as patch:
        patch.setattr(bookkeeping, victim, dies)
        try:
            mark_school(school, quiet, ONE_ROOM, again=again)
        except Killed:
            mark_school(school, quiet, ONE_ROOM, again=again)
    lines = without_the_moment(log_of(school))
    what = [line["what"] for line in lines]
    assert what == ["marked"] * 2 + (
        ["marking again begun", "marked again", "marked again", "marking again ended"] if again else []
    )
    assert len({json.dumps(line, sort_keys=True) for line in lines}) == len(lines)
    for line in lines:
        if "record" in line:
            assert line["record"] == read_record(school, line["paper"]).digest


def test_line_that_was_half_written_is_cut_off_and_the_rest_stays(marked):
    path = marked.records / "log.jsonl"
    whole = path.read_bytes()
    path.write_bytes(whole + whole[:40])
    assert len(Log(marked).lines) == 2
    assert path.read_bytes() == whole


@pytest.mark.parametrize("damage", ["{", "[]", '"x"', "7", '{"who": "x"}', "[" * 100_000])
def test_damaged_log_is_one_clear_line(marked, damage):
    path = marked.records / "log.jsonl"
    path.write_text(damage + "\n" + path.read_text())
    with pytest.raises(GraderError) as caught:
        Log(marked)
    assert str(caught.value) == f"{path}: line 1 is damaged; restore the log from your backup"


def test_lines_hold_the_person_and_the_time_that_they_are_told(school):
    log = Log(school, who=lambda: "Нина", now=lambda: datetime(2026, 5, 5, 16, 30, tzinfo=UTC))
    log.write("marked", paper="p", marks=1)
    (line,) = log_of(school)
    assert line.pop("seal") == log.seal
    assert [line] == [{"when": "2026-05-05T16:30:00+00:00", "who": "Нина", "what": "marked", "paper": "p", "marks": 1}]


def test_another_rule_on_rounding_marks_again_and_says_so(school, warm_room):
    paper = paper_of(school, "aa-01")
    variant = paper.variants()[0]
    item = variant.exercise.items[0]
    exact, unit = variant.given_answer(item, variant.key[item.key])
    coarse = next(f for f in (float(f"{exact:.{digits}e}") for digits in (1, 0)) if off_the_answer(variant, item, f))
    hand_in(school, paper, script_with(school, paper, {f"1{item.key}": Typed(coarse, unit)}))
    mark_school(school, quiet, ONE_ROOM)
    assert read_record(school, paper.id).marks == 0
    settings = school.folder / "school.toml"
    settings.write_text(settings.read_text().replace("pass_percent = 70", 'pass_percent = 70\nrounding = "full marks"'))
    changed = open_school(school.folder)
    mark_school(changed, quiet, ONE_ROOM)
    record = read_record(school, paper.id)
    assert (record.marks, record.exercises[0].items[0].rule) == (item.marks.value, Rule.ROUNDED)
    last = log_of(school)[-1]
    assert (last["what"], last["why"]) == ("marked again", "the school's rule on rounding is another")
    mark_school(changed, quiet, ONE_ROOM)
    assert log_of(school)[-1] == last
    assert "BEWARE" not in "\n".join(explain(changed, "aa-01", f"1{item.key}"))


def off_the_answer(variant, item, number: float) -> bool:
    """Whether a number lies outside the tolerance of every right value."""
    return all(
        abs(number - float(value.magnitude)) > item.tolerance.reach(value)
        for value in variant.right_values(item, variant.key).values()
    )
