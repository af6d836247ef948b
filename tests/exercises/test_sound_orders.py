"""Orders of steps as sound minds put them: each earns full marks, and what can hurt someone costs marks.

Common practice, no source. Places that are free are free here on purpose: they differ from crew to crew.
"""

from __future__ import annotations

import pytest

from exercises import BANK
from exercises.model import Choice, Order, System
from exercises.model.answers import Given
from exercises.model.marking import mark
from exercises.model.numbers import in_system
from tests.exercises.draws import draw_of

SOUND = {
    "weight-up-fixed-final": (
        "talk tell room line out close hopper barite weigh",
        "tell talk room line out close hopper barite weigh",
        "room talk tell line out close hopper barite weigh",
        "talk room line tell out close hopper barite weigh",
        "talk tell line room out close hopper barite weigh",
        "talk tell room hopper line out close barite weigh",
        "talk tell room line hopper out close barite weigh",
        "talk hopper tell room line out close barite weigh",
    ),
    "cut-back": (
        "talk tell room line out close premix weigh",
        "tell talk room line out close premix weigh",
        "room talk tell line out close premix weigh",
        "talk room line tell out close premix weigh",
        "talk line room tell out close premix weigh",
        "tell talk line room out close premix weigh",
    ),
    "retort-reading": (
        "clean gas fill join heat off read cool open",
        "gas clean fill join heat off read cool open",
        "clean gas fill join heat off cool read open",
        "clean gas fill join heat off cool open read",
    ),
    "tank-order": ("shakers trap degasser desander desilter centrifuge mixing suction",),
    "bring-up": (
        "survey connect hydro rotation couple trips water baseline mud accept handover",
        "survey connect rotation hydro couple trips water baseline mud accept handover",
        "survey connect rotation couple trips hydro water baseline mud accept handover",
        "survey connect hydro rotation trips couple water baseline mud accept handover",
    ),
    "route-of-the-cuttings": (
        "label fill weigh paper sign lift back",
        "label fill weigh paper lift sign back",
        "label fill weigh lift paper sign back",
    ),
    "into-the-tank": (
        "plan permit empty isolate air test watch in",
        "plan permit empty isolate air watch test in",
        "permit plan empty isolate air test watch in",
        "plan permit empty air isolate test watch in",
        "plan empty permit isolate air test watch in",
        "plan empty isolate air test permit watch in",
        "plan empty isolate permit air watch test in",
        "empty plan permit watch isolate air test in",
    ),
    "smell-of-gas": (
        "go muster count gear fetch care free back",
        "go muster gear count fetch care free back",
        "go muster count gear fetch free care back",
        "go gear muster count fetch care free back",
    ),
    "jar-test": (
        "sample thin charge bridge look pump start",
        "sample charge thin bridge look pump start",
    ),
    "rounds-of-a-tour": (
        "talk walk machines compare sign tell act again",
        "walk machines talk compare sign tell act again",
        "talk machines compare walk sign tell act again",
        "walk talk machines compare tell sign act again",
    ),
}
UNSOUND = {
    "weight-up-fixed-final": (
        "hopper talk tell room line out close barite weigh",
        "talk room line out tell close hopper barite weigh",
        "tell room line talk out close hopper barite weigh",
        "talk tell line out room close hopper barite weigh",
        "talk tell room line out hopper barite close weigh",
    ),
    "cut-back": (
        "talk room line out tell close premix weigh",
        "talk tell room line out premix close weigh",
        "tell room line talk out close premix weigh",
    ),
    "retort-reading": (
        "clean gas fill join heat read off cool open",
        "clean gas fill heat join off read cool open",
        "clean gas fill join heat off read open cool",
    ),
    "tank-order": ("shakers trap desander degasser desilter centrifuge mixing suction",),
    "bring-up": (
        "survey connect hydro couple rotation trips water baseline mud accept handover",
        "survey connect rotation couple trips water hydro baseline mud accept handover",
        "survey connect hydro rotation couple trips mud water baseline accept handover",
        "survey connect hydro rotation couple trips water mud baseline accept handover",
        "survey connect hydro rotation couple water trips baseline mud accept handover",
        "survey connect hydro rotation trips water couple baseline mud accept handover",
        "survey trips connect hydro rotation couple water baseline mud accept handover",
    ),
    "route-of-the-cuttings": (
        "fill label weigh paper sign lift back",
        "label fill lift weigh paper sign back",
        "label fill weigh sign paper lift back",
    ),
    "into-the-tank": (
        "plan permit empty isolate air watch in test",
        "plan permit empty isolate test air watch in",
        "plan permit empty air test watch in isolate",
        "plan permit empty isolate air test in watch",
        "plan empty isolate air test watch in permit",
        "plan permit empty air test isolate watch in",
        "permit empty isolate plan air test watch in",
    ),
    "smell-of-gas": (
        "go muster fetch count gear care free back",
        "go muster count fetch gear care free back",
        "muster go count gear fetch care free back",
        "go muster count gear fetch care back free",
    ),
    "jar-test": (
        "sample thin bridge charge look pump start",
        "sample thin charge bridge pump look start",
        "sample thin charge bridge look start pump",
    ),
    "rounds-of-a-tour": (
        "talk act walk machines compare sign tell again",
        "talk walk machines compare sign act tell again",
        "talk walk machines tell compare sign act again",
        "talk walk machines sign compare tell act again",
        "talk sign walk machines compare tell act again",
        "talk walk sign machines compare tell act again",
    ),
}


def _marked(exercise: str, steps: str):
    variant = draw_of(exercise, System.FIELD, 0)
    order = next(item for item in BANK[exercise].items if isinstance(item, Order))
    letters = {step: letter for letter, step in variant.shown_steps(order).items()}
    answer = "".join(letters[step] for step in steps.split())
    return order, next(result for result in mark(variant, {order.key: Given(answer)}) if result.item == order.key)


@pytest.mark.parametrize(("exercise", "steps"), [(one, steps) for one, all_ in SOUND.items() for steps in all_])
def test_a_sound_order_earns_full_marks(exercise, steps):
    order, result = _marked(exercise, steps)
    assert set(steps.split()) == set(order.steps)
    assert result.marks == order.marks.total


@pytest.mark.parametrize(("exercise", "steps"), [(one, steps) for one, all_ in UNSOUND.items() for steps in all_])
def test_an_order_that_can_hurt_or_spoil_loses_marks(exercise, steps):
    order, result = _marked(exercise, steps)
    assert set(steps.split()) == set(order.steps)
    assert result.marks < order.marks.total


@pytest.mark.parametrize("exercise", ["weight-up-fixed-final", "cut-back"])
def test_the_driller_and_the_mud_logger_are_told_before_mud_moves_and_it_must_be_passed(exercise):
    order = next(item for item in BANK[exercise].items if isinstance(item, Order))
    assert order.must_pass
    assert ("tell", "out") in {(rule.first, rule.then) for rule in order.rules}
    assert "driller" in order.steps["tell"]
    assert "mud logger" in order.steps["tell"]


@pytest.mark.parametrize(
    "exercise",
    [
        "weight-up-growing",
        "weight-up-in-two-batches",
        "cut-back-plan",
        "dilute-growing",
        "dilute-constant",
        "blend-muds",
    ],
)
def test_where_mud_moves_or_changes_weight_the_setting_says_who_is_told(exercise):
    setting = BANK[exercise].setting
    for system in System:
        assert "driller and the mud logger" in in_system(setting, system)


def test_a_watchman_who_calls_the_man_out_when_the_isolation_is_to_be_moved_is_right_too():
    choice = next(item for item in BANK["into-the-tank"].items if isinstance(item, Choice) and item.key == "c")
    asked = next(
        variant
        for number in range(40)
        if "needs a valve" in str((variant := draw_of("into-the-tank", System.FIELD, number)).numbers["event"])
    )
    earned = {
        option.key: next(r for r in mark(asked, {"c": Given(choice.letter(option.key))}) if r.item == "c").marks
        for option in choice.options
    }
    full = choice.marks.total
    assert earned == {"alarm": 0, "out": full, "refuse": 0, "hold": full, "in": 0}
