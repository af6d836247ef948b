"""Wrong answers that fit somebody else's numbers: planted ones are found, honest sittings show what was expected."""

from __future__ import annotations

import csv
import dataclasses
import math
from collections.abc import Callable, Iterable

import numpy as np
import pytest
from bs4 import BeautifulSoup

from exercises import BANK
from exercises.model import Numeric, System
from exercises.model.answers import Given
from exercises.model.drawing import draw
from exercises.model.marking import Rule, mark
from exercises.model.variant import Variant
from grader.demo.simulation import Ability, answers_of
from grader.marking.record import MarkedExercise, Record
from grader.papers.issue import issue
from grader.reports.others_numbers import (
    NEAREST,
    STRANGERS,
    Facts,
    Pair,
    Sat,
    Strangers,
    _chances,
    count_of,
    one_in,
    others_numbers,
)
from tests.grader.schools import SITTING, hand_in, mark_and_report, paper_of, right_answers, script_with

EXERCISES = ("convert-mud-weight", "weight-up-growing", "weight-up-fixed-final")
Answers = dict[str, Given]
#: What an honest person makes of a right value when it goes wrong.
Mistake = Callable[[float, np.random.Generator], float]


@pytest.fixture(scope="module")
def strangers() -> Strangers:
    """Drawn once for all tests, as for the sittings of a school."""
    return Strangers()


def sat(name: str, variants: tuple[Variant, ...], answers: Iterable[Answers]) -> Sat:
    marked = tuple(
        MarkedExercise(variant.exercise.id, mark(variant, given))
        for variant, given in zip(variants, answers, strict=True)
    )
    return Sat(name, variants, Record(name, name, SITTING, "", "", "", "finished", (), marked))


def right(variant: Variant) -> Answers:
    return {item.key: Given(*variant.given_answer(item, variant.key[item.key])) for item in variant.exercise.items}


def drawn(count: int, start: int, systems: tuple[System, ...] = (System.FIELD,)) -> list[tuple[Variant, ...]]:
    generator = np.random.default_rng(start)
    return [
        tuple(draw(BANK[name], generator, systems[place % len(systems)]) for name in EXERCISES)
        for place in range(count)
    ]


def factor(value: float, generator: np.random.Generator) -> float:
    return value * math.exp(generator.normal(0, 0.3))


def near(value: float, generator: np.random.Generator) -> float:
    """Just outside the tolerance, as of rounding on the way: the numbers of others are near as well."""
    return value * (1 + generator.choice((-1, 1)) * generator.uniform(0.02, 0.06))


def same_for_all(value: float, generator: np.random.Generator) -> float:
    """A misremembered constant, the same with everybody: not independent from one candidate to the next."""
    return value * 1.13


def honest(variants: list[tuple[Variant, ...]], start: int, mistake: Mistake, share: float = 0.4) -> list[Sat]:
    """Everybody works on the own numbers; some answers go wrong."""
    generator = np.random.default_rng(start)
    sitting = []
    for place, paper in enumerate(variants):
        answers = []
        for variant in paper:
            given = right(variant)
            for item in variant.exercise.items:
                if isinstance(item, Numeric) and generator.random() < share:
                    value = mistake(float(given[item.key].value), generator)
                    given[item.key] = Given(float(f"{value:.5g}"), given[item.key].unit)
            answers.append(given)
        sitting.append(sat(f"c{place:02}", paper, answers))
    return sitting


def copied(sitting: list[Sat], whose: int, other: int, exercises: Iterable[int]) -> None:
    """The candidate hands in the other's right answers to these exercises."""
    variants = sitting[whose].variants
    record = sitting[whose].record
    assert record is not None
    marked = list(record.exercises)
    for number in exercises:
        theirs = right(sitting[other].variants[number])
        marked[number] = MarkedExercise(variants[number].exercise.id, mark(variants[number], theirs))
    sitting[whose] = dataclasses.replace(sitting[whose], record=dataclasses.replace(record, exercises=tuple(marked)))


def pairs_of(facts: Facts) -> dict[tuple[str, str], Pair]:
    return {(pair.candidate, pair.other): pair for pair in facts.pairs}


def test_copied_answers_are_found_with_whose_numbers_they_fit(strangers):
    sitting = honest(drawn(20, 1), 1, factor, share=0.2)
    copied(sitting, 2, 9, range(3))
    copied(sitting, 5, 14, [0, 1])
    copied(sitting, 11, 4, [0])
    facts = others_numbers(sitting, strangers)
    planted = [("c02", "c09"), ("c05", "c14"), ("c11", "c04")]
    assert {(pair.candidate, pair.other) for pair in facts.pairs[:3]} == set(planted)
    for whose, other in planted:
        pair = pairs_of(facts)[whose, other]
        copier, source = (sitting[int(name[1:])] for name in (whose, other))
        assert len(pair.fits) >= 3
        assert pair.expected < 0.3
        for fit in pair.fits:
            number, key = int(fit.part[0]) - 1, fit.part[1:]
            (answer,) = [item for item in copier.record.exercises[number].items if item.item == key]
            theirs = source.variants[number]
            item = next(item for item in theirs.exercise.items if item.key == key)
            assert answer.rule is Rule.WRONG
            assert fit.given == answer.given
            assert fit.there == theirs.shown_answer(item, theirs.key[key])
            assert fit.own == answer.model != fit.there
            assert next(m for m in mark(theirs, {key: Given(answer.value, answer.unit)}) if m.item == key).marks > 0
            assert 0 < fit.chance <= fit.chance_any < 1
    # Not the other way round: who was copied from has right answers on the own paper.
    assert not {(other, whose) for whose, other in planted} & set(pairs_of(facts))
    assert pairs_of(facts)["c02", "c09"].expected < 1e-3


def test_few_copied_answers_escape_as_slips_and_factors(strangers):
    """The price of leaving out what the own numbers explain: of answers copied whole, few are taken for it."""
    papers = drawn(40, 2)
    sitting = honest(papers, 2, factor, share=0)
    for place in range(40):
        copied(sitting, place, (place + 1) % 40, range(3))
    rules = [m.rule for s in sitting for e in s.record.exercises for m in e.items]
    explained = sum(rule in (Rule.SLIP, Rule.FACTOR, Rule.SIGN, Rule.UNIT) for rule in rules)
    assert 0 < explained < 0.1 * sum(rule is Rule.WRONG for rule in rules)
    pairs = pairs_of(others_numbers(sitting, strangers))
    assert all((f"c{place:02}", f"c{(place + 1) % 40:02}") in pairs for place in range(40))


@pytest.mark.parametrize(
    "mistake", [pytest.param(factor, marks=pytest.mark.slow), near, pytest.param(same_for_all, marks=pytest.mark.slow)]
)
def test_honest_sittings_show_as_many_fits_as_expected(strangers, mistake):
    """Calibration: over several sittings the number found is the number expected, whatever made answers wrong."""
    found, expected, unlikely, sittings = 0, 0.0, 0, 6
    for start in range(10, 10 + sittings):
        systems = (System.FIELD, System.METRIC) if start % 2 else (System.FIELD,)
        facts = others_numbers(honest(drawn(40, start, systems), start, mistake), strangers)
        found, expected = found + facts.found, expected + facts.expected
        unlikely += sum(pair.expected < 1 for pair in facts.pairs)
    assert expected > 400
    # Counting alone scatters by a twentieth; parts of one exercise fit together, and the strangers are few.
    assert found == pytest.approx(expected, rel=0.2)
    # Chance brings a pair that is expected less than once, less than once a sitting; three deviations of slack.
    assert unlikely <= sittings + 3 * math.sqrt(sittings)


def test_chance_is_that_of_a_known_distribution():
    """Strangers evenly spread over a known range, a tolerance that they fill to a known share: from arithmetic."""
    generator = np.random.default_rng(3)
    for reach in (0.002, 0.02, 0.2):
        strangers = generator.uniform(0, 1, (4000, STRANGERS))
        chances = _chances(np.abs(strangers - 0.5) / reach)
        assert np.mean(chances) == pytest.approx(2 * reach, rel=0.15)
        assert np.std(chances) < 0.5 * 2 * reach


def test_far_off_answer_has_a_small_chance_and_never_none():
    assert 0 < _chances(np.full((1, STRANGERS), 1e30))[0] < 1e-8
    assert 0 < _chances(np.full((1, STRANGERS), np.inf))[0] < 1e-8
    assert _chances(np.zeros((1, STRANGERS)))[0] == 1
    assert NEAREST < STRANGERS


def test_blank_papers_and_those_who_handed_nothing_in_fit_nothing(strangers):
    papers = drawn(6, 4)
    blank = [sat(f"c{place}", paper, [{} for _ in paper]) for place, paper in enumerate(papers[:3])]
    absent = [Sat(f"c{place}", paper, None) for place, paper in enumerate(papers[3:], 3)]
    assert others_numbers([*blank, *absent], strangers) == Facts(0, 0, 0, 0.0, ())
    assert others_numbers([], strangers) == Facts(0, 0, 0, 0.0, ())


def test_numbers_of_who_handed_nothing_in_count(strangers):
    papers = drawn(5, 5)
    absent = Sat("c04", papers[4], None)
    sitting = [*honest(papers[:4], 5, factor, share=0), absent]
    copied(sitting, 0, 4, range(3))
    assert others_numbers(sitting, strangers).pairs[0].other == "c04"


def test_two_with_the_same_numbers_never_fit_each_other(strangers):
    """What is wrong on the own paper is wrong on one with the same numbers, also where both wrote the same."""
    papers = drawn(8, 6)
    papers[1] = papers[0]
    sitting = honest(papers, 6, factor, share=0.7)
    sitting[1] = dataclasses.replace(sitting[0], candidate="c01")
    copied(sitting, 3, 0, range(3))
    pairs = pairs_of(others_numbers(sitting, strangers))
    assert not {("c00", "c01"), ("c01", "c00")} & set(pairs)
    # Who took the numbers of one of the two fits both.
    assert {("c03", "c00"), ("c03", "c01")} <= set(pairs)


def test_answers_that_the_own_numbers_explain_are_not_held_against_others(strangers):
    papers = drawn(6, 7)
    generator = np.random.default_rng(7)
    slipped = []
    for place, paper in enumerate(papers):
        typed = answers_of(paper, Ability(slips=0.5, wrong_units=0.1), generator)
        answers: list[Answers] = [{} for _ in paper]
        for name, answer in typed.items():
            if answer is not None:
                answers[int(name[0]) - 1][name[1:]] = Given(answer.value, answer.unit)
        slipped.append(sat(f"c{place}", paper, answers))
    rules = [m.rule for s in slipped for e in s.record.exercises for m in e.items]
    assert Rule.SLIP in rules
    assert others_numbers(slipped, strangers).answers == rules.count(Rule.WRONG)
    ten_times = {key: Given(float(g.value) * 10, g.unit) for key, g in right(papers[0][1]).items() if key == "a"}
    one = sat("c0", papers[0], [{}, ten_times, {}])
    assert one.record.exercises[1].items[0].rule is Rule.FACTOR
    assert others_numbers([one, *slipped[1:]], strangers).answers == others_numbers(slipped[1:], strangers).answers


def test_answers_are_compared_across_unit_systems(strangers):
    """With its unit an answer is the same quantity in both; without one it is the number as the other wrote it."""
    field, metric = drawn(2, 8, (System.FIELD, System.METRIC))
    theirs = [right(variant) for variant in metric]
    bare = [{key: dataclasses.replace(given, unit="") for key, given in answers.items()} for answers in theirs]
    for answers in (theirs, bare):
        sitting = [sat("c0", field, answers), sat("c1", metric, theirs)]
        wrong = sum(m.rule is Rule.WRONG for e in sitting[0].record.exercises for m in e.items)
        (pair,) = others_numbers(sitting, strangers).pairs
        assert wrong > 3
        assert (pair.candidate, pair.other, len(pair.fits)) == ("c0", "c1", wrong)


@pytest.mark.parametrize(
    ("chance", "text"),
    [
        (0.5, "50 %"), (0.1, "10 %"), (0.0999, "1 in 10"), (1 / 37, "1 in 37"), (1 / 1234, "1 in 1 200"),
        (1 / 56789, "1 in 57 000"), (1e-8, "less than 1 in a million"),
    ],
)  # fmt: skip
def test_chance_in_words(chance, text):
    assert one_in(chance).replace("\N{NARROW NO-BREAK SPACE}", " ") == text


@pytest.mark.parametrize(
    ("expected", "text"), [(0.0004, "under 0.001"), (0.0312, "0.03"), (0.5, "0.5"), (2.44, "2.4"), (23.4, "23")]
)
def test_expected_number_in_words(expected, text):
    assert count_of(expected) == text


def test_assessor_sees_it_on_the_results_page_and_no_candidate_does(school, warm_room):
    """aa-01 and aa-03 sit the same papers; aa-01 hands in the answers of aa-03, typed as they stand there."""
    issue(school, school.sittings, lambda done, total: None)
    theirs = right_answers(paper_of(school, "aa-03").variants())
    for candidate in ("aa-01", "aa-03"):
        paper = paper_of(school, candidate)
        hand_in(school, paper, script_with(school, paper, dict(theirs)))
    results = mark_and_report(school)
    page = BeautifulSoup((school.records / "results.html").read_text(encoding="utf-8"), "html.parser")
    heading = page.find("h2", string=lambda text: "somebody else's numbers" in text)
    section = heading.parent
    row = section.find("tbody").find("tr").get_text(" ", strip=True)
    assert row.startswith("aa-01 aa-03")
    assert "no proof" in section.get_text(" ", strip=True)
    text = (school.records / "others_numbers.csv").read_text(encoding="utf-8-sig")
    lines = [line for line in csv.DictReader(text.splitlines()) if line["numbers_of"] == "aa-03"]
    wrong = [
        m for e in results["aa-01"].record.exercises for m in e.items if m.rule is Rule.WRONG
    ]  # fmt: skip
    assert {line["candidate"] for line in lines} == {"aa-01"}
    assert [line["answer"] for line in lines] and {line["answer"] for line in lines} <= {m.given for m in wrong}
    assert all(float(line["expected_in_sitting"]) < 1 for line in lines)
    for file in (school.records / "feedback").glob("*.html"):
        told = file.read_text(encoding="utf-8")
        other = "aa-03" if "aa-01" in file.name else "aa-01"
        assert other not in told
        assert "somebody else" not in told


def test_honest_school_shows_no_section_and_an_empty_table(school, warm_room):
    paper = paper_of(school, "aa-02")
    hand_in(school, paper, script_with(school, paper, dict(right_answers(paper.variants()))))
    mark_and_report(school)
    assert "somebody else" not in (school.records / "results.html").read_text(encoding="utf-8")
    assert len((school.records / "others_numbers.csv").read_text(encoding="utf-8-sig").splitlines()) == 1
