"""Observed tasks: what is seen earns what it should, a missed critical step shows, readings are held and followed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from exercises import BANK
from exercises.model import Seen, System
from exercises.model.answers import Given
from exercises.model.drawing import draw
from exercises.model.marking import ItemMark, Rule, mark
from exercises.model.numbers import Numbers
from exercises.model.parts import Numeric, Reading, Watched
from exercises.model.variant import Variant
from exercises.tasks import TASKS, Do, Task
from exercises.tasks.model import SITE
from exercises.tasks.mud import VISCOMETER, WEIGH
from exercises.tasks.table import rows
from exercises.tasks.yard import CHANGE, STATIONS, programme

every_task = pytest.mark.parametrize("task", TASKS.values(), ids=TASKS)


def drawn(task: Task, system: System = System.FIELD) -> Variant:
    return draw(task.exercise, np.random.default_rng(2026), system)


def seen(
    variant: Variant, said: Callable[[Watched], Seen] = lambda step: Seen.DONE, **typed: float
) -> dict[str, Given]:
    """An observer's answers: of each step what ``said`` says, of each value the usual one or the one ``typed``."""
    answers = {}
    for item in variant.exercise.items:
        if isinstance(item, Watched):
            answers[item.key] = Given(said(item).letter)
        else:
            value, unit = variant.given_answer(item, variant.key[item.key])
            answers[item.key] = Given(typed.get(item.key, value), unit)
    return answers


def marks_of(variant: Variant, answers: dict[str, Given]) -> dict[str, ItemMark]:
    return {result.item: result for result in mark(variant, answers)}


@every_task
@pytest.mark.parametrize("system", System)
def test_all_done_earns_full_marks(task, system):
    variant = drawn(task, system)
    results = marks_of(variant, seen(variant)).values()
    assert sum(result.marks for result in results) == sum(result.out_of for result in results) == task.marks


@every_task
def test_a_step_not_done_loses_its_marks_and_tells_what_to_do(task):
    variant = drawn(task)
    for step in (item for item in variant.exercise.items if isinstance(item, Watched)):
        result = marks_of(variant, seen(variant, lambda one, step=step: Seen.NOT_DONE if one is step else Seen.DONE))[
            step.key
        ]
        assert (result.rule, result.marks, result.comment) == (Rule.SLIP, 0, step.advice)


@every_task
def test_a_prompt_leaves_half_but_at_a_critical_step_nothing(task):
    variant = drawn(task)
    results = marks_of(variant, seen(variant, lambda one: Seen.PROMPTED))
    for step in (item for item in variant.exercise.items if isinstance(item, Watched)):
        assert results[step.key].marks == (0 if step.must_pass else step.marks.value / 2)


@every_task
def test_what_nobody_observed_counts_neither_for_nor_against(task):
    variant = drawn(task)
    results = marks_of(variant, {})
    assert {result.rule for result in results.values()} == {Rule.NOT_OBSERVED}
    assert sum(result.out_of for result in results.values()) == 0


@every_task
def test_a_task_says_what_can_hurt_where_it_comes_from_and_what_must_not_be_missed(task):
    assert task.id not in BANK
    assert all(caution.endswith(".") for caution in task.cautions)
    assert "from memory" in task.source or task.source == "common practice, no source"
    assert 5 <= task.minutes <= 60
    at_machine = task.place not in ("mud bench", "mud bench or mud laboratory", "mud laboratory or shakers")
    assert not at_machine or task.critical
    assert task.cautions[0] == SITE
    assert all(step.see[0].isupper() and step.see.endswith(".") for step in task.work if isinstance(step, Do))


def test_a_mud_weight_is_held_against_the_observers_reading_and_not_against_the_usual_one():
    variant = drawn(WEIGH)
    observed = next(item.key for item in variant.exercise.items if isinstance(item, Reading))
    own = next(item.key for item in variant.exercise.items if isinstance(item, Numeric))
    for value, is_right in ((12.31, True), (12.39, True), (12.19, False), (11.2, False)):
        results = marks_of(variant, seen(variant, **{observed: 12.3, own: value}))
        assert (results[observed].rule, results[observed].out_of) == (Rule.NOTED, 0)
        assert (results[own].rule is Rule.RIGHT) == is_right, value


def test_a_value_worked_rightly_from_a_wrong_reading_is_followed_through():
    variant = drawn(VISCOMETER)
    numbers = [item.key for item in variant.exercise.items if isinstance(item, Numeric)]
    r600, r300, viscosity, yields = numbers
    results = marks_of(variant, seen(variant, **{r600: 70, r300: 37, viscosity: 33, yields: 4}))
    assert results[r600].rule is Rule.WRONG
    assert [results[key].rule for key in (viscosity, yields)] == [Rule.FOLLOWED, Rule.FOLLOWED]
    assert marks_of(variant, seen(variant, **{r600: 70, viscosity: 26}))[viscosity].rule is Rule.WRONG


def test_without_the_observers_reading_nothing_is_said_of_the_candidates():
    variant = drawn(WEIGH)
    answers = seen(variant)
    observed = next(item.key for item in variant.exercise.items if isinstance(item, Reading))
    own = next(item.key for item in variant.exercise.items if isinstance(item, Numeric))
    for unread in (Given(None), Given("eleven and a bit", "lb/gal"), Given(11.2, "psi")):
        results = marks_of(variant, answers | {observed: unread})
        assert results[own].rule is Rule.NOT_OBSERVED
        assert results[own].out_of == 0


def test_a_changed_step_or_prompt_changes_the_digest_of_the_mark_scheme():
    variant = drawn(WEIGH)
    first = variant.exercise.parts[0]
    assert isinstance(first, Watched)
    digests = {variant.scheme_digest}
    for other in (replace(first, prompted=0.5), replace(first, must_pass=not first.must_pass)):
        changed = replace(variant.exercise, parts=(other, *variant.exercise.parts[1:]))
        digests.add(Variant(changed, variant.system, Numbers({})).scheme_digest)
    assert len(digests) == 3


def test_a_task_with_too_much_to_see_or_with_readings_that_it_does_not_take_is_refused():
    with pytest.raises(ValueError, match="make two tasks of it"):
        replace(WEIGH, work=(Do("Does it.", "Do it."),) * 21)
    with pytest.raises(ValueError, match="names no cautions"):
        replace(WEIGH, cautions=())
    with pytest.raises(ValueError, match="readings that it does not take"):
        replace(VISCOMETER, work=tuple(step for step in VISCOMETER.work if getattr(step, "name", "") != "r300"))


def test_there_are_tasks_at_the_bench_at_each_machine_and_with_people():
    assert len(TASKS) >= 24
    assert {"solids", "mud-weight", "shakers", "hydrocyclones", "centrifuges", "weighting", "tanks-and-pumps",
            "commissioning"} <= {task.lesson for task in TASKS.values()}  # fmt: skip


@pytest.mark.parametrize("days", STATIONS)
def test_in_the_yard_each_group_is_at_each_station_once_and_the_times_add_up(days):
    for one in programme(days):
        turns = [[task.id for task in tasks] for tasks in one.turns]
        stations = {task.id for task in one.tasks}
        assert all(set(tasks) == stations for tasks in turns)
        assert all({tasks[group] for tasks in turns} == stations for group in range(len(stations)))
        assert all(one.group * task.minutes < one.slot for task in one.tasks)
        assert one.minutes == one.slot * len(turns)
        assert set(one.kit) == {thing for task in one.tasks for thing in task.kit}


@pytest.mark.parametrize("days", STATIONS)
def test_turns_follow_each_other_without_a_gap_and_leave_each_candidate_the_minutes_of_the_task(days):
    for one in programme(days):
        turns = list(one.timetable)
        assert [begins for begins, _, _ in turns] == [0, *(ends for _, ends, _ in turns[:-1])]
        assert turns[-1][1] == one.minutes
        for begins, ends, tasks in turns:
            assert all(begins + one.group * task.minutes + CHANGE <= ends for task in tasks)
        for group in range(len(turns)):
            assert {tasks[group].id for _, _, tasks in turns} == {task.id for task in one.tasks}


def test_a_task_that_does_not_begin_with_site_rules_is_refused():
    with pytest.raises(ValueError, match="does not put site rules before its other cautions"):
        replace(WEIGH, cautions=WEIGH.cautions[1:])


#: What isolates: a step that says one of these is critical, wherever it stands.
ISOLATES = ("isolates", "locks, tags", "own lock", "tries the start", "no pressure", "lets the pressure out")


@every_task
def test_every_step_that_isolates_or_proves_it_is_critical(task):
    steps = [step for step in task.work if isinstance(step, Do)]
    assert all(step.critical for step in steps if any(word in step.see.casefold() for word in ISOLATES))


@every_task
def test_whoever_moves_mud_or_changes_its_weight_has_told_the_driller_as_a_critical_step(task):
    moves = {"move-mud", "mix-barite", "start-a-desilter", "dump-a-trap", "change-a-screen", "split-the-flow",
             "set-the-pool", "clear-a-plugged-cone", "run-a-decanter"}  # fmt: skip
    tells = [step for step in task.work if isinstance(step, Do) and step.see.startswith("Tells the driller")]
    assert (task.id in moves) == any(step.critical and "waits for yes" in step.see for step in tells)


@pytest.mark.parametrize("days", STATIONS)
def test_the_yard_takes_half_a_day_and_no_more(days):
    assert all(one.minutes <= 4.5 * 60 for one in programme(days))


def words_of(task: Task) -> str:
    """All that a task says to who watches it."""
    steps = [step.see for step in task.work if isinstance(step, Do)]
    return " ".join((*task.kit, *task.conditions, *task.cautions, *steps)).casefold()


def critical_words(task: Task) -> str:
    return " ".join(task.critical).casefold()


def test_every_cell_of_the_table_of_tasks_says_something():
    table = list(rows())
    assert [row.task.id for row in table] == list(TASKS)
    for row in table:
        assert all(
            cell and all(map(str.strip, cell)) for cell in (row.critical, row.measured, row.cautions, (row.source,))
        )
        assert row.task.outcome.endswith(".")


@every_task
def test_whoever_is_near_mud_machine_or_chemicals_has_eye_protection_and_gloves_in_the_kit(task):
    if task.id in ("toolbox-talk", "gas-alarm-drill"):  # nothing is opened, run or poured
        return
    kit = " ".join(task.kit)
    assert "gloves" in kit
    assert any(word in kit for word in ("glasses", "goggles", "eye protection", "face shield"))


def test_anyone_may_stop_a_task_by_a_word_and_a_sign_that_are_agreed_beforehand():
    assert "Anyone may stop the task, by a word and a hand sign that are agreed beforehand" in SITE


@every_task
def test_no_thermometer_holds_mercury(task):
    assert all("without mercury" in thing for thing in task.kit if "thermometer" in thing)
    assert "mercury" not in " ".join(task.kit).replace("without mercury", "")


@every_task
def test_where_a_machine_is_isolated_it_is_agreed_who_may_and_electrics_are_for_the_licensed(task):
    isolates = "isolates" in critical_words(task) or "at the isolation" in critical_words(task)
    if isolates:
        assert "who may isolate" in " ".join(task.conditions)
        assert any("licensed electricians alone" in caution for caution in task.cautions)
    if any(word in " ".join(task.kit) for word in ("viscometer", "hot plate", "retort")):
        assert any("only a licensed electrician" in caution for caution in task.cautions)


@every_task
def test_whoever_locks_a_machine_out_tries_the_start_and_lets_the_pressure_off(task):
    locks = "isolates" in critical_words(task)
    assert not locks or "tries" in critical_words(task)
    if locks and task.lesson in ("shakers", "hydrocyclones"):  # air of clamps, mud of headers
        assert any(word in critical_words(task) for word in ("lets the pressure out", "no pressure"))


@every_task
def test_who_tries_a_start_has_locked_and_emptied_before_and_seen_that_nobody_is_at_the_machine(task):
    """The order of 29 CFR 1910.147(d), from memory: isolate, lock, let out what is stored, then verify."""
    said = critical_words(task)
    if (tries := said.find("tries")) < 0 or "start" not in said[tries:]:
        return
    before = said[:tries]
    assert "lock" in before
    assert "sees that nobody is at" in before
    assert said.find("lets the pressure out") < tries
    assert said.find("no pressure") < tries


#: Where mud is opened, sprayed or moved.
GASSY = (
    "change-a-screen", "set-the-pool", "sample-over-and-under", "split-the-flow", "dump-a-trap", "measure-deck-motion",
    "manifold-head", "set-spray", "clear-a-plugged-cone", "sample-an-underflow", "start-a-desilter", "run-a-decanter",
    "mix-barite", "move-mud",
)  # fmt: skip


@pytest.mark.parametrize("name", GASSY)
def test_gas_is_looked_for_before_going_where_mud_gives_it_off_with_a_monitor_that_was_tried(name):
    said = critical_words(TASKS[name])
    assert "gas monitor that was tried with test gas" in said
    assert "h2s 0" in said
    assert any("gas monitor" in thing for thing in TASKS[name].kit)


@pytest.mark.parametrize("name", ["methylene-blue", "chlorides", "jar-test-at-the-bench", "mix-barite"])
def test_chemicals_are_poured_after_the_data_sheets_were_read_and_by_who_is_dressed(name):
    assert "data sheet" in critical_words(TASKS[name])
    assert any("data sheet" in thing for thing in TASKS[name].kit)
    assert any(word in critical_words(TASKS[name]) for word in ("puts on", "dresses"))


@pytest.mark.parametrize("name", ["methylene-blue", "chlorides"])
def test_acid_on_a_mud_with_sulphide_is_cautioned_against(name):
    assert any("H2S" in caution and "cid" in caution for caution in TASKS[name].cautions)
    assert "asks whether h2s was found" in critical_words(TASKS[name])
    assert "gas monitor" in TASKS[name].kit


def test_a_retort_is_opened_cold_and_a_lid_that_leaks_is_not_tightened_hot():
    said = critical_words(TASKS["run-a-retort"])
    assert "lets it cool before anything is opened" in said
    assert "nothing is tightened or opened hot" in said


@pytest.mark.parametrize("name", ["dump-a-trap", "split-the-flow", "move-mud"])
def test_nobody_goes_into_a_tank_trap_or_box(name):
    assert any(word in words_of(TASKS[name]) for word in ("nobody goes into", "no step into"))


@pytest.mark.parametrize("name", ["mix-barite", "change-a-screen", "sample-over-and-under"])
def test_what_is_too_heavy_for_one_is_lifted_by_two_or_an_aid(name):
    assert any(word in words_of(TASKS[name]) for word in ("mate", "two carry", "two people"))
