"""The sheets of the fleet agree with themselves, with physics and with the envelope."""

from __future__ import annotations

import dataclasses

import pytest

from exercises import BANK
from exercises.fleet import envelope, machines, rigs
from exercises.model import Grid, System, Usual
from exercises.model.numbers import in_system
from exercises.model.text import names_in
from pitside.centrifuges import g_force
from pitside.units import Q
from tests.exercises.draws import draw_of
from tests.sharing import a_few


def _figures(sheet: object) -> list[Usual]:
    """All figures on a sheet, those of the sheets within it too."""
    if isinstance(sheet, Usual):
        return [sheet]
    if isinstance(sheet, tuple):
        return [figure for part in sheet for figure in _figures(part)]
    if dataclasses.is_dataclass(sheet):
        return [f for field in dataclasses.fields(sheet) for f in _figures(getattr(sheet, field.name))]
    return []


ENVELOPE = {name: value for name, value in vars(envelope).items() if isinstance(value, Usual)}
SHEETS = {
    sheet.name: sheet
    for sheet in (
        *machines.SHAKERS,
        machines.BASKET_DRYER,
        *machines.CONES,
        machines.CYCLONE_MODULE,
        *machines.DECANTERS,
        machines.FEED_PUMP,
        *rigs.RIGS,
    )
}


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)
def test_every_figure_of_a_sheet_has_a_status(sheet):
    figures = _figures(sheet)
    assert len(figures) >= 4
    assert all(any(word in f.status for word in ("no source", "invented", "memory", "seen")) for f in figures)


@pytest.mark.parametrize("usual", ENVELOPE.values(), ids=ENVELOPE)
def test_every_range_of_the_envelope_has_a_status_and_some_width(usual):
    assert usual.status
    assert usual.low < usual.high


def test_every_exercise_has_an_envelope_or_a_reason_why_it_has_none():
    without = {exercise.id for exercise in BANK.values() if not exercise.envelope}
    assert without == set(envelope.WITHOUT)
    assert all(reason.endswith(".") and len(reason) > 40 for reason in envelope.WITHOUT.values())


@pytest.mark.parametrize("bowl", [*machines.DECANTERS, machines.BASKET_DRYER], ids=lambda bowl: bowl.name)
def test_g_of_a_bowl_can_be_had_within_its_sizes_and_speeds(bowl):
    """By D/2 (pi n / 30)^2 / g, worked with plain numbers: some bowl of the sheet has its least g, some its most."""

    def g(inches: float, rpm: float) -> float:
        return inches * 0.0254 / 2 * (3.14159265 * rpm / 30) ** 2 / 9.80665

    assert g(bowl.diameter.low, bowl.speed.low) <= bowl.g.low * 1.12
    assert g(bowl.diameter.high, bowl.speed.high) >= bowl.g.high * 0.9


def test_a_basket_of_36_in_at_900_rpm_has_414_g():
    """The figure of the envelope's page: 0.4572 m x 94.25^2 / 9.807 = 414."""
    assert g_force(Q(36, "in"), Q(900, "rpm")).m == pytest.approx(414, rel=0.002)
    assert machines.BASKET_DRYER.g.holds(Q(414.0))


def test_head_of_the_feed_pump_can_be_had_within_its_impellers_and_speeds():
    """g H / u2^2 with plain numbers: between the least and the most of the sheet the coefficient is a pump's."""
    feet_a_second = [3.14159265 * d / 12 * n / 60 for d, n in ((10, 1450), (12, 1450), (10, 1750), (11, 1750))]
    for u in feet_a_second:
        heads = [coefficient * u**2 / 32.174 for coefficient in (0.35, 0.60)]
        assert heads[0] <= machines.FEED_PUMP.head.high
        assert heads[1] >= machines.FEED_PUMP.head.low


def test_hire_rises_from_shaker_to_centrifuge_to_package():
    assert envelope.SHAKER_HIRE.high < envelope.CENTRIFUGE_HIRE.low
    assert envelope.CENTRIFUGE_HIRE.low < envelope.PACKAGE_HIRE.low
    assert envelope.CENTRIFUGE_HIRE.high < envelope.PACKAGE_HIRE.high


@pytest.mark.parametrize("rig", rigs.RIGS, ids=lambda rig: rig.name)
def test_a_rig_holds_more_mud_than_is_active_and_not_more_than_rigs_do(rig):
    assert rig.active.high <= rig.all_mud.high <= envelope.MUD_ON_THE_RIG.high
    assert envelope.ACTIVE_MUD.low <= rig.active.low < rig.active.high <= envelope.ACTIVE_MUD.high


@pytest.mark.parametrize("rig", rigs.RIGS, ids=lambda rig: rig.name)
def test_the_pits_of_a_rig_hold_less_than_its_pits_and_a_hole(rig):
    assert rig.pits.low < rig.pits.high
    assert rig.pits.low + 150 <= rig.active.low
    assert rig.pits.high + 150 <= rig.active.high


#: How a paper says which mud of a rig it means.
PITS_ALONE = ("pits alone", "active tanks of rig")
HOLE_AND_PITS = ("in hole and pits", "Hole and active pits", "active system")


def _rig_of(setting: str) -> rigs.Rig | None:
    named = [rig for rig in rigs.RIGS if rig.name in setting]
    return named[0] if len(named) == 1 else None


@pytest.mark.parametrize(
    ("phrases", "mud"), [(PITS_ALONE, "pits"), (HOLE_AND_PITS, "active")], ids=["pits alone", "hole and pits"]
)
def test_the_mud_of_a_rig_is_drawn_from_its_sheet_whatever_the_well(phrases, mud):
    """So that Heron 4 does not hold as much in its tanks on one paper as in tanks and hole on the next."""
    checked = 0
    for exercise in BANK.values():
        texts = [in_system(exercise.setting, System.FIELD), *(str(part.ask) for part in exercise.parts)]
        rig = _rig_of(texts[0])
        if rig is None or not any(phrase in text for phrase in phrases for text in texts):
            continue
        checked += 1
        assert any(within.usual is getattr(rig, mud) for within in exercise.envelope), exercise.id
    assert checked >= 4


def test_no_exercise_that_names_a_rig_takes_the_active_mud_of_any_rig():
    named = [one for one in BANK.values() if _rig_of(in_system(one.setting, System.FIELD))]
    assert len(named) > 50
    assert [one.id for one in named if any(within.usual is envelope.ACTIVE_MUD for within in one.envelope)] == []


def test_an_exercise_that_counts_the_pits_alone_says_why():
    told = [text for one in BANK.values() if "pits alone" in (text := in_system(one.setting, System.FIELD))]
    assert len(told) >= 3
    reasons = ("for this mud is made ready", "the mud in the hole is weighted up later")
    assert all(any(reason in text.partition("pits alone")[2].split(".")[0] for reason in reasons) for text in told)


def test_a_figure_draws_on_round_numbers_within_its_range():
    """15 to 40 gal/min are 3.41 to 9.08 m3/h; the grid takes the multiples of 0.2 in it."""
    assert machines.BARITE_BOWL.feed.grid(1, "gal/min") == Grid(15, 40, 1, "gal/min")
    assert machines.BARITE_BOWL.feed.grid(0.2, "m3/h") == Grid(3.6, 9.0, 0.2, "m3/h")


def test_a_part_of_a_figure_cannot_reach_beyond_it():
    assert machines.BARITE_BOWL.feed.part(20, 30) == Usual(20, 30, "gal/min")
    with pytest.raises(ValueError, match="not within"):
        machines.BARITE_BOWL.feed.part(20, 300)


def test_a_value_a_hundredth_outside_is_still_usual_and_two_hundredths_are_not():
    """1140 kg/m3 are 9.51 lb/gal: a round number of one system is none of the other."""
    assert envelope.UNWEIGHTED_MUD.holds(Q(1140, "kg/m**3"))
    assert not envelope.UNWEIGHTED_MUD.holds(Q(9.7, "lb/gal"))


def test_a_shaker_takes_less_on_fine_screens_than_on_coarse_ones():
    fine, coarse = envelope.FLOW_OVER_FINE_SCREENS, envelope.FLOW_OVER_COARSE_SCREENS
    assert (machines.SHAKER.fine, machines.SHAKER.coarse) == (fine, coarse)
    assert envelope.FLOW_OVER_FINEST_SCREENS.high < fine.high <= coarse.low
    assert fine.high < envelope.FLOW_OVER_LARGE_SHAKER.high
    for usual in (fine, coarse, envelope.FLOW_OVER_FINEST_SCREENS, envelope.FLOW_OVER_LARGE_SHAKER):
        assert envelope.FLOW_OVER_SHAKER.low <= usual.low < usual.high <= envelope.FLOW_OVER_SHAKER.high


FLOWS_OF_A_SHAKER = (
    envelope.FLOW_OVER_SHAKER,
    envelope.FLOW_OVER_FINE_SCREENS,
    envelope.FLOW_OVER_FINEST_SCREENS,
    envelope.FLOW_OVER_COARSE_SCREENS,
    envelope.FLOW_OVER_LARGE_SHAKER,
)


@pytest.mark.parametrize(
    "exercise",
    [
        one.id
        for one in BANK.values()
        if "shaker takes" in in_system(one.setting, System.FIELD)
        or any("flow over" in w.quantity for w in one.envelope)
    ],
)
def test_what_a_shaker_takes_comes_from_its_sheet_and_its_screens_are_named(exercise):
    """So that one shaker does not take twice as much in the next exercise without a reason that the paper prints."""
    held = [within for within in BANK[exercise].envelope if within.usual in FLOWS_OF_A_SHAKER]
    assert held
    assert not any(within.outside for within in held)
    assert "API" in in_system(BANK[exercise].setting, System.FIELD)


def _is_called_unweighted(exercise: str) -> bool:
    text = in_system(BANK[exercise].setting, System.FIELD)
    return "mud_weight" in names_in(text) and any(
        words in text for words in ("unweighted", "not weighted", "without barite")
    )


@pytest.mark.parametrize("numbers", a_few([range(4), range(4, 20)], 1))
@pytest.mark.parametrize("exercise", [name for name in BANK if _is_called_unweighted(name)])
def test_a_mud_without_barite_weighs_no_more_than_its_drilled_solids_make_it(exercise, numbers):
    """Fresh water of 8.345 lb/gal with 9.5 % of solids of 2.60, by plain numbers, is 9.6 lb/gal: a bad mud already."""
    heaviest = 8.345 * (1 + 1.6 * 0.095)
    for system in System:
        for number in numbers:
            weight = draw_of(exercise, system, number).numbers.mud_weight
            assert weight.m_as("lb/gal") <= heaviest + 0.01
