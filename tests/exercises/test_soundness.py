"""Every exercise keeps what the exercise model promises, over many draws in both unit systems."""

from __future__ import annotations

from collections import Counter

import pytest

from exercises import BANK, LESSONS, outcomes_of
from exercises.model import Choice, Numeric, Order, System, Table
from exercises.model.numbers import in_system
from exercises.model.soundness import faults
from exercises.model.variant import SHUFFLE
from pitside.unit_names import read_unit

#: Lowest and highest answer that a rig could see, by item, in its unit. Common practice, no source.
PLAUSIBLE = {
    "g-factor-shaker": {"a": (3, 8, "fraction"), "b": (1400, 2600, "rpm"), "c": (0.13, 0.5, "in")},
    "screen-designation": {
        "a.one.number": (40, 50, "fraction"),
        "a.two.number": (60, 80, "fraction"),
        "a.three.number": (100, 140, "fraction"),
        "a.four.number": (170, 230, "fraction"),
        "a.five.number": (270, 325, "fraction"),
    },
    "cut-curve-from-samples": {
        **{f"a.s{place}.share": (2, 98, "%") for place in range(1, 8)},
        "b": (75, 180, "um"),
        "c": (53, 125, "um"),
        "d": (106, 250, "um"),
    },
    "shaker-load": {
        "a": (15, 65, "bbl/h"),
        "b": (50, 220, "bbl/h"),
        "c.loads": (2, 8, "fraction"),
        "c": (3, 8, "fraction"),
    },
    "oil-on-cuttings": {"a": (4, 13, "%"), "b": (4, 17, "%"), "c": (91, 103, "%")},
    "well-average-retention": {"a": (5, 12, "%"), "b": (2.5, 16, "%")},
    "base-fluid-lost": {
        "a.ratio": (8, 21, "%"),
        "a": (30_000, 260_000, "lb"),
        "b": (100, 1000, "bbl"),
        "c": (12_000, 260_000, "money"),
        "d": (5000, 230_000, "money"),
    },
    "drier-cuttings": {
        "a": (9, 18, "%"),
        "b": (500_000, 1_200_000, "lb"),
        "c": (3, 13, "%"),
        "d": (25, 85, "%"),
        "e": (85, 220, "lb/min"),
        "g.dried": (25, 97, "%"),
        "g": (3, 13, "%"),
        "h": (4, 8, "%"),
        "j": (30, 500, "bbl"),
        "k": (2000, 120_000, "money"),
    },
    "convert-mud-weight": {
        **{f"a.{row}.weight": (8.5, 17.0, "lb/gal") for row in ("heron", "sandpiper", "gannet", "plant")},
    },
    "column-pressure": {"a": (2500, 12_000, "psi"), "b": (9.6, 18.0, "lb/gal")},
    "weight-up-growing": {
        "a": (100, 4000, "sack"),
        "b": (10, 250, "bbl"),
        "c": (380, 1600, "bbl"),
        "d": (0.1, 12, "h"),
    },
    "weight-up-fixed-final": {"a": (300, 1200, "bbl"), "b": (15, 200, "bbl"), "c": (250, 2600, "sack")},
    "cut-back": {"a": (30, 500, "bbl"), "b": (500, 1400, "bbl"), "c": (30, 320, "bbl")},
    "hole-volume": {"a": (0.03, 0.15, "bbl/ft"), "b": (50, 1200, "bbl"), "c": (30, 900, "bbl")},
    "pit-volume": {"a": (60, 620, "bbl"), "b": (1.5, 9, "ft"), "c": (30, 560, "bbl")},
    "pump-output": {"a": (1.9, 7.2, "gal"), "b": (180, 900, "gal/min"), "c": (30, 600, "min")},
    "solids-effects": {
        "a": (8, 90, "bbl"),
        "b": (0.5, 12, "%"),
        "c": (100, 2300, "bbl"),
        "d": (4000, 210_000, "money"),
    },
    "weighting-materials": {
        **{f"a.{row}.mass": (150, 2800, "sack") for row in ("hematite", "barite", "barite_4_10")},
        "a.calcium_carbonate.mass": (200, 5000, "sack"),
        **{f"a.{row}.rise": (8, 180, "bbl") for row in ("hematite", "barite", "barite_4_10")},
        "a.calcium_carbonate.rise": (20, 400, "bbl"),
    },
    "weight-up-in-two-batches": {
        "a": (150, 1300, "sack"),
        "b": (600, 1300, "bbl"),
        "c": (150, 1400, "sack"),
        "d": (3, 21, "sack/min"),
        "e": (0.7, 8, "h"),
    },
    "dilute-growing": {
        "a": (40, 820, "bbl"),
        "b": (300, 1750, "bbl"),
        "c": (9.5, 14.3, "lb/gal"),
        "d": (2.5, 8.3, "%"),
    },
    "dilute-constant": {
        "a": (70, 550, "bbl"),
        "b": (9.5, 14.3, "lb/gal"),
        "c": (50, 1700, "sack"),
        "d": (80, 720, "bbl"),
    },
    "blend-muds": {
        "a": (60, 800, "bbl"),
        "b": (60, 800, "bbl"),
        "c": (45, 75, "%"),
        "d": (5, 34, "%"),
        "e": (60, 90, "%"),
    },
    "cut-back-plan": {
        "a": (50, 800, "bbl"),
        "b": (1500, 200_000, "money"),
        "c": (20, 400, "bbl"),
        "d": (2000, 90_000, "money"),
        "e": (20, 260, "bbl"),
        "f": (2000, 90_000, "money"),
    },
    "retort-reading": {"a": (40, 75, "%"), "b": (5, 30, "%"), "c": (9.9, 30.1, "%"), "d": (64.9, 90.1, "%")},
    "solids-fresh": {"a": (2.6, 4.2, "SG"), "b": (2, 16, "%"), "c": (2, 40, "%"), "d": (18, 146, "lb/bbl")},
    "removal-performance": {
        "a": (200, 1200, "bbl"),
        "b": (600, 4200, "bbl"),
        "c": (2500, 30_000, "bbl"),
        "d": (0.09, 0.61, "fraction"),
        "e": (39, 91, "%"),
    },
    "dilution-bill": {
        "a": (400, 6000, "bbl"),
        "b": (20_000, 700_000, "money"),
        "c": (15_000, 600_000, "money"),
        "d": (1, 600, "d"),
    },
    "waste-volume": {
        "a": (50, 1500, "bbl"),
        "b": (20, 1600, "bbl"),
        "c": (8, 260, "fraction"),
        "d": (1, 60, "fraction"),
    },
    "fault-diary": {},
    "explain-to-the-crew": {"a": (20, 125, "sack/h"), "b": (4000, 70_000, "money")},
    "least-discard": {
        **{f"a.{row}.discard": (90, 2400, "bbl") for row in ("low", "middle", "high")},
        **{f"a.{row}.clean": (90, 6000, "bbl") for row in ("low", "middle", "high")},
        "b": (75, 95, "%"),
    },
    "steady-state-solids": {
        "a.rock": (3, 20, "bbl/h"),
        "a": (0.5, 10, "bbl/h"),
        "b": (1.9, 15.1, "%"),
        "c": (7, 125, "h"),
        "d": (1.2, 9.6, "%"),
    },
    "affinity-laws": {
        "a": (250, 1700, "gal/min"),
        "b": (30, 200, "ft"),
        "c": (8, 130, "hp"),
        "e": (35, 110, "ft"),
    },
    "total-head": {
        "a": (2.9, 13.2, "ft"),
        "b": (1, 33, "ft"),
        "c": (45, 150, "ft"),
        "d": (35, 80, "psi"),
        "e": (12, 38, "ft"),
        "f": (0.9, 9, "ft"),
    },
    "tank-order": {"c": (-320, 340, "gal/min"), "e": (4, 52, "%")},
    "annular-velocity-ecd": {"a": (45, 400, "ft/min"), "b": (60, 1000, "psi"), "c": (9.8, 15.6, "lb/gal")},
    "two-gradient-column": {
        "a": (2750, 8100, "ft"),
        "b": (7000, 20_000, "psi"),
        "c": (9.5, 15.2, "lb/gal"),
        "d": (11.0, 17.6, "lb/gal"),
    },
    "riser-dilution": {
        "a": (200, 1550, "gal/min"),
        "b": (550, 2300, "gal/min"),
        "c": (2, 9, "fraction"),
        "d": (70, 700, "gal/min"),
    },
    "riser-return-plant": {
        "b": (9.5, 10.8, "lb/gal"),
        "c.bottom.weight": (11.2, 13.8, "lb/gal"),
        "c.shoe.weight": (10.7, 13.1, "lb/gal"),
        "d": (950, 1600, "gal/min"),
        "g": (700, 1900, "kWh"),
        "h.heavy": (65, 140, "gal/min"),
        "h.solids": (10, 30, "gal/min"),
        "h.liquid": (90, 230, "gal/min"),
        "h": (180, 400, "gal/min"),
        "i": (16.0, 21.9, "lb/gal"),
        "j": (90, 350, "gal/min"),
        "k": (2.4, 5.8, "%"),
        "l": (200, 800, "lb/min"),
    },
    "solids-salt": {"a": (5, 45, "%"), "b": (1.04, 1.13, "SG"), "c": (2, 16, "%"), "d": (2, 40, "%")},
    "feed-head-pressure": {"a": (34, 58, "psi"), "b": (45, 110, "ft")},
    "spray-or-rope": {
        **{f"a.{row}.solids": (12, 61, "%") for row in ("first", "second")},
        **{f"a.{row}.removed": (2, 40, "lb/min") for row in ("first", "second")},
    },
    "number-of-cones": {
        "a": (10, 32, "fraction"),
        "b": (450, 1550, "gal/min"),
        "c": (36, 72, "psi"),
        "d": (15, 105, "hp"),
    },
    "cone-underflow": {"a": (14, 46, "%"), "b": (70, 720, "lb/h"), "c": (12, 65, "gal/h"), "d": (30, 700, "bbl")},
    "partition-curve": {
        **{f"a.{row}.actual": (8, 100, "%") for row in ("fine", "silt", "coarse", "sand")},
        **{f"a.{row}.removed": (1, 32, "%") for row in ("fine", "silt", "coarse", "sand")},
        "b": (30, 85, "%"),
        "c": (8, 29, "um"),
    },
    "cut-point-change": {"a": (17, 85, "um"), "b": (18, 130, "um"), "c": (18, 120, "um")},
    "read-the-curve": {
        "a": (6, 18, "%"),
        "b": (12, 42, "um"),
        "c": (6, 36, "um"),
        "d": (20, 76, "um"),
        "e": (1.5, 12, "fraction"),
    },
    "g-factor-bowl": {"a": (300, 3200, "fraction"), "b": (300, 3200, "fraction"), "c": (800, 4500, "rpm")},
    "centrifuge-balance": {"a": (2, 40, "gal/min"), "b": (6, 65, "gal/min"), "c": (30, 600, "lb/min")},
    "centrifuge-cut": {
        "a": (450, 3000, "fraction"),
        "b": (0.05, 25, "mm/s"),
        "c": (2, 10, "um"),
        "d": (1, 22, "um"),
    },
    "order-start-up": {"b": (70, 425, "gal"), "c": (1.5, 30, "min")},
    "isolate-before-opening": {"b": (3.5, 28, "min"), "c": (7, 130, "fraction")},
    "barite-recovered": {
        "a.w.back": (1, 20, "%"),
        "a.x.back": (2, 30, "%"),
        "a.y.back": (10, 50, "%"),
        "a.z.back": (15, 55, "%"),
        "b": (60, 95, "%"),
        "c": (10, 65, "%"),
        "d": (13, 23, "lb/gal"),
        "e": (1500, 20_000, "sack"),
    },
    "parallel-modules": {
        "a": (2, 6, "fraction"),
        "b": (50, 100, "%"),
        "c": (2, 9, "fraction"),
        "d": (8, 120, "hp"),
        "e": (10, 260, "gal/min"),
    },
    "power-and-energy": {
        "a": (14, 75, "hp"),
        "b": (12, 62, "kW"),
        "c": (140, 1250, "kWh"),
        "d": (20, 440, "money"),
        "e": (40, 1200, "money"),
    },
    "compare-trains": {
        **{f"a.{row}.energy": (3000, 1_900_000, "money") for row in ("bought", "hired")},
        **{f"a.{row}.service": (14_000, 810_000, "money") for row in ("bought", "hired")},
        **{f"a.{row}.total": (50_000, 2_700_000, "money") for row in ("bought", "hired")},
        "b": (180, 2200, "d"),
    },
    "size-a-train": {
        **{f"a.{row}.buy": (3, 10, "fraction") for row in ("small", "large")},
        **{f"a.{row}.price": (90_000, 500_000, "money") for row in ("small", "large")},
        "c": (35, 85, "%"),
        "d": (50, 92, "%"),
    },
    "solids-invert": {
        "a": (64, 91, "%"),
        "b": (8, 30, "%"),
        "c": (8, 46, "%"),
        "d": (2, 13, "%"),
        "e": (3, 40, "%"),
    },
    "retort-uncertainty": {
        "a": (0.3, 1.6, "%"),
        "b": (0.3, 1.3, "%"),
        "c": (0.1, 3, "%"),
        "d": (0.5, 4, "%"),
        "f": (0.5, 2.5, "%"),
    },
    "read-the-distribution": {
        "a": (11.9, 45.1, "um"),
        "b": (2.4, 22, "um"),
        "c": (25, 151, "um"),
        "d": (15, 85, "%"),
        "e": (1.2, 4.6, "fraction"),
    },
    "grind-check": {
        "a.coarse.passing": (90, 100, "%"),
        "a.upper.passing": (65, 97, "%"),
        "a.middle.passing": (53, 85, "%"),
        "a.lower.passing": (15, 47, "%"),
        "a.fine.passing": (3, 45, "%"),
        "b": (15, 30, "um"),
    },
    "machine-for-the-size": {"d": (12, 19.2, "um")},
    "unit-of-viscosity": {"b": (0.002, 0.045, "Pa.s"), "c": (1.6, 45, "mm2/s")},
    "equal-settling-size": {"a": (1.41, 1.48, "fraction"), "b": (5.6, 60, "um")},
    "settling-regime": {
        "a.fine.velocity": (0.005, 2, "ft/min"),
        "a.fine.reynolds": (0.00004, 2, "fraction"),
        "a.coarse.velocity": (0.5, 35, "ft/min"),
        "a.coarse.reynolds": (0.08, 60, "fraction"),
        "c": (0.5, 14, "ft/min"),
    },
    "hindered-settling": {"a": (3, 4.42, "fraction"), "b": (0.4, 9, "ft/min"), "c": (0.6, 22, "min")},
    "barite-two-ways": {
        "a": (1, 5.5, "h"),
        **{f"b.{row}.number": (3, 9, "fraction") for row in ("centrifuges", "modules")},
        "b.centrifuges.power": (80, 500, "hp"),
        "b.modules.power": (24, 60, "hp"),
        **{f"b.{row}.price": (230_000, 2_000_000, "money") for row in ("centrifuges", "modules")},
        **{f"c.{row}.lost": (150, 1700, "sack") for row in ("centrifuges", "modules")},
        **{f"c.{row}.thrown": (3, 55, "bbl") for row in ("centrifuges", "modules")},
        **{f"c.{row}.saved": (80, 800, "bbl") for row in ("centrifuges", "modules")},
        **{f"c.{row}.net": (500, 80_000, "money") for row in ("centrifuges", "modules")},
    },
    "package-for-a-section": {
        "d": (22, 60, "hp"),
        "e": (5, 12, "bbl/h"),
        "f": (1.4, 5.2, "bbl/h"),
        "h": (3, 8, "%"),
        "i": (45, 160, "hp"),
    },
    "weekly-report": {
        "a": (250, 1050, "bbl"),
        **{f"b.{row}.rock": (10, 370, "bbl") for row in ("shakers", "cones", "centrifuge")},
        **{f"b.{row}.share": (3, 34, "%") for row in ("shakers", "cones", "centrifuge")},
        "c": (36, 76, "%"),
        "d.built": (1200, 8000, "bbl"),
        "d": (36, 76, "%"),
        "e": (5, 10.2, "%"),
        "f": (80_000, 1_100_000, "money"),
        "i": (52, 82, "%"),
        "k": (3.5, 6.01, "%"),
        "l": (0.6, 13, "d"),
        "m": (60_000, 900_000, "money"),
        "n": (8_000, 400_000, "money"),
    },
}


def test_every_draw_is_sound(variants):
    found = Counter(fault for variant in variants for fault in faults(variant))
    assert found == {}


def test_answers_are_plausible(variants):
    bounds = PLAUSIBLE[variants[0].exercise.id]
    numeric = [item for item in variants[0].exercise.items if isinstance(item, Numeric)]
    assert set(bounds) == {item.key for item in numeric}
    for variant in variants:
        for key, (low, high, unit) in bounds.items():
            answer = float(variant.key[key].m_as(read_unit(unit)))
            assert low <= answer <= high, f"part {key}: {answer:.4g} {unit} from {variant.numbers.to_json()}"


def test_every_slip_can_be_worked_out_in_most_draws(variants):
    for item in variants[0].exercise.items:
        if not isinstance(item, Numeric) or item.on_the_way:
            continue
        possible = {slip.name for slip in item.slips if slip.only in (None, variants[0].system)}
        found = Counter(slip.name for variant in variants for slip, _ in variant.slip_values(item, variant.key))
        assert len(possible) >= 2, f"part {item.key} has fewer than two slips in {variants[0].system} units"
        assert min(found[name] for name in possible) >= 0.9 * len(variants), f"part {item.key}: {found}"


def test_forty_candidates_hardly_ever_share_numbers(variants):
    first = [
        tuple((name, str(value)) for name, value in variant.numbers.items() if not name.startswith(SHUFFLE))
        for variant in variants[:40]
    ]
    shared = Counter(first)
    assert len(shared) >= 0.87 * len(first)
    assert max(shared.values()) <= 2


def test_no_option_is_right_for_everybody(variants):
    """A choice that has the same letter for all is copied, not answered; where several are sound, that is no harm."""
    for part in variants[0].exercise.parts:
        if isinstance(part, Choice):
            sound = Counter(variant.sound_options(part, variant.key) for variant in variants)
            options, times = sound.most_common(1)[0]
            assert len(options) > 1 or times <= 0.75 * len(variants), f"part {part.key}: {sound} can be guessed"


def test_the_shuffled_steps_differ_from_paper_to_paper(variants):
    for part in variants[0].exercise.parts:
        if isinstance(part, Order):
            assert len({variant.numbers[f"{SHUFFLE}.{part.key}"] for variant in variants}) >= 0.9 * len(variants)


def test_the_texts_of_a_paper_hold_no_answer_and_no_gap(variants):
    for variant in variants[:10]:
        texts = [variant.text(variant.exercise.setting), *(variant.text(part.ask) for part in variant.exercise.parts)]
        for text in texts:
            assert "{" not in text
            assert "  " not in text


def test_an_exercise_says_what_it_teaches(exercise):
    assert exercise.lesson in LESSONS
    assert exercise.outcomes
    for part in exercise.parts:
        assert part.outcome.endswith(".")
        assert part.outcome[0].isupper()
    for item in exercise.items:
        if isinstance(item, Numeric):
            assert item.tolerance.because
            for slip in item.slips:
                for system in System:
                    advice = in_system(slip.advice, system)
                    assert advice.endswith((".", "?", "!"))
                    assert len(advice) <= 220, f'part {item.key}: the advice on "{slip.name}" is long'


@pytest.mark.parametrize("lesson", LESSONS)
def test_no_outcome_of_a_lesson_is_without_an_exercise(lesson):
    outcomes = outcomes_of(lesson)
    assert 1 <= len(outcomes) <= 5
    assert not set(outcomes) - {outcome for exercise in BANK.values() for outcome in exercise.outcomes}


def test_every_exercise_assesses_an_outcome_of_its_own_lesson(exercise):
    assert set(outcomes_of(exercise.lesson)) & set(exercise.outcomes)
    assert set(exercise.outcomes) <= {outcome for lesson in LESSONS for outcome in outcomes_of(lesson)}


def test_the_bank_has_chains_a_table_choices_and_orders():
    parts = [part for exercise in BANK.values() for part in exercise.parts]
    chains = [exercise.id for exercise in BANK.values() if sum(bool(item.uses) for item in exercise.items) >= 3]
    assert len(BANK) >= 8
    assert len(chains) >= 2
    assert any(isinstance(part, Table) for part in parts)
    assert sum(isinstance(part, Choice) for part in parts) >= 1
    assert sum(isinstance(part, Order) for part in parts) >= 1
