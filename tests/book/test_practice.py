"""The practice widget in the browser: on the built pages, and against the grader's own marking."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any

import numpy as np
import pint
import pytest
from playwright.sync_api import Locator, Page
from practice import page_html

from exercises import BANK, LESSONS
from exercises.model import Exercise, System
from exercises.model.answers import Given, UnreadableAnswer, read_number
from exercises.model.drawing import draw
from exercises.model.marking import Rule, mark
from exercises.model.numbers import significant
from exercises.model.parts import Choice, Numeric, Order
from exercises.model.practice import asked_on_a_page, json_in_page, practice_set, practice_variant
from exercises.model.variant import Variant
from exercises.plans import practice_of
from pitside.unit_names import read_unit, spelled, usual_units
from pitside.units import Quantity
from tests.book.every_kind import EVERY_KIND
from tests.browsing import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.slow]

#: Cases are worked in papers alone.
ALL = {key: exercise for key, exercise in BANK.items() if exercise.level < 3} | {EVERY_KIND.id: EVERY_KIND}
WITH_STEPS = [exercise for exercise in ALL.values() if any(item.uses for item in exercise.items)]
WITH_LETTERS = [
    exercise for exercise in ALL.values() if any(isinstance(part, (Choice, Order)) for part in exercise.parts)
]


# Reaching into a widget -----------------------------------------------------------------------------------------------


def widget(page: Page, exercise: str) -> Locator:
    return page.locator(f"[data-practice][id$='-{exercise}']")


def data_of(section: Locator) -> dict[str, Any]:
    return json.loads(section.locator("script[data-variants]").text_content() or "")


def part_of(section: Locator, key: str) -> Locator:
    return section.locator(f"[data-part='{key}']")


def answer_number(part: Locator, number: str, unit: str, box: int = 0) -> None:
    part.locator("input[type=text]").nth(box).fill(number)
    part.locator("select").nth(box).select_option(label=unit)


def check(part: Locator) -> list[tuple[str, str]]:
    """Press Check; the verdicts shown, each with its words."""
    part.get_by_role("button", name="Check").click()
    lines = part.locator(".practice-verdict").all()
    return [(line.get_attribute("data-verdict") or "", line.locator("> span").nth(1).inner_text()) for line in lines]


def typed(item: dict[str, Any], base: float, unit: int = 0) -> tuple[str, str]:
    """A value in base units as a reader would type it in one of the item's units."""
    picked = item["units"][unit]
    return significant(base / picked["factor"], 6), picked["label"]


def shown_setting(section: Locator) -> str:
    html = section.locator(".practice-setting").evaluate("box => box.innerHTML")
    return html.replace("&nbsp;", "\N{NO-BREAK SPACE}")


@pytest.fixture
def lesson(book: Path, visitor: Visitor) -> Callable[[str], Page]:
    return lambda name: visitor(book).open(f"lessons/{name}.html")


def numeric_part(data: dict[str, Any], system: str = "field", index: int = 0) -> dict[str, Any]:
    parts = data["systems"][system][index]["parts"]
    return next(part for part in parts if "table" not in part and part["items"][0]["kind"] == "number")


# On the built pages ---------------------------------------------------------------------------------------------------


def test_right_wrong_and_slip_are_told_apart(lesson: Callable[[str], Page]) -> None:
    section = widget(lesson("mud-weight"), "column-pressure")
    told = numeric_part(data_of(section))
    item, part = told["items"][0], part_of(section, told["key"])

    answer_number(part, *typed(item, item["model"]))
    assert check(part) == [("right", "Right.")]

    answer_number(part, *typed(item, item["model"] * 1.7))
    assert check(part) == [("wrong", "Not right: too large.")]

    slip = item["slips"][0]
    answer_number(part, *typed(item, sum(slip["at"]) / 2))
    [(verdict, words)] = check(part)
    assert verdict == "wrong"
    assert slip["name"] in words
    assert slip["advice"] in words


def test_another_unit_of_the_right_kind_is_as_good(lesson: Callable[[str], Page]) -> None:
    section = widget(lesson("mud-weight"), "column-pressure")
    told = numeric_part(data_of(section))
    item, part = told["items"][0], part_of(section, told["key"])
    assert len(item["units"]) >= 3
    for unit in range(len(item["units"])):
        answer_number(part, *typed(item, item["model"], unit))
        assert check(part) == [("right", "Right.")]


def test_a_unit_of_another_kind_is_explained(lesson: Callable[[str], Page]) -> None:
    section = widget(lesson("mud-weight"), "column-pressure")
    told = numeric_part(data_of(section))
    item, part = told["items"][0], part_of(section, told["key"])
    other = next(kind for kind in data_of(section)["others"] if kind["name"] != item["measures"])
    label = other["units"][0]["label"]
    says = f"{label} measures {other['name']}; the question asks for {item['measures']}."
    answer_number(part, typed(item, item["model"])[0], label)
    right_in = f"The number itself is right in {item['units'][0]['label']}."
    assert check(part) == [("wrong", f"Not right. {says} {right_in}")]
    answer_number(part, typed(item, item["model"] * 1.7)[0], label)
    assert check(part) == [("wrong", f"Not right. {says}")]


def test_what_cannot_be_read_is_asked_for_again(lesson: Callable[[str], Page]) -> None:
    section = widget(lesson("mud-weight"), "column-pressure")
    told = numeric_part(data_of(section))
    item, part = told["items"][0], part_of(section, told["key"])
    unit = item["units"][0]["label"]
    for text, words in (("", "Type a number first."), ("about 5", "is not a number"), ("6,442", "6442 or 6.442")):
        answer_number(part, text, unit)
        [(verdict, said)] = check(part)
        assert (verdict, words in said) == ("unread", True), said
        assert part.locator("input").get_attribute("aria-invalid") == "true"
    part.locator("input").fill("5")
    part.locator("select").select_option(value="")
    assert check(part) == [("unread", "Pick a unit.")]


def test_keyboard_alone_is_enough(lesson: Callable[[str], Page]) -> None:
    page = lesson("mud-weight")
    section = widget(page, "column-pressure")
    told = numeric_part(data_of(section))
    item, part = told["items"][0], part_of(section, told["key"])
    number, unit = typed(item, item["model"])

    def focused(what: str) -> bool:
        return bool(part.locator(f"{what}:focus").count())

    presses = 0
    while not focused("input"):
        page.keyboard.press("Tab")
        presses += 1
        assert presses < 200, "Tab never reaches the answer box"
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
    page.keyboard.type(number)
    page.keyboard.press("Tab")
    assert focused("select")
    page.keyboard.type(unit)
    assert part.locator("select").evaluate("box => box.selectedOptions[0].textContent") == unit
    page.keyboard.press("Tab")
    assert focused("button")
    page.keyboard.press("Enter")
    assert part.locator("[data-verdict=right].practice-verdict").count() == 1
    assert focused("button"), "the focus is lost when the result appears"
    page.keyboard.press("Tab")
    assert focused("summary")
    page.keyboard.press("Enter")
    assert part.locator("details[open]").count() == 1
    for _ in range(3):
        page.keyboard.press("Shift+Tab")
    assert focused("input")
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type("1")
    page.keyboard.press("Enter")
    assert part.locator("[data-verdict=wrong].practice-verdict").count() == 1
    assert focused("input")


def asks_for_numbers(lesson: str) -> bool:
    return any(isinstance(item, Numeric) for exercise in practice_of(lesson) for item in exercise.items)


@pytest.mark.parametrize("name", [name for name in LESSONS if asks_for_numbers(name)])
def test_every_number_of_a_page_is_answered_from_the_keyboard(lesson: Callable[[str], Page], name: str) -> None:
    """Each box by what is in its page: right, then a slip, or far too large where the exercise has none."""
    page = lesson(name)
    answered = 0
    for section in page.locator("[data-practice]").all():
        [*parts] = data_of(section)["systems"]["field"][0]["parts"]
        for told in parts:
            items = [item for item in told["items"] if item["kind"] == "number"]
            if not items or len(items) < len(told["items"]):
                continue
            place = part_of(section, told["key"])

            def type_all(items: list[dict[str, Any]], bases: list[float], place: Locator = place) -> list[str]:
                for box, (item, base) in enumerate(zip(items, bases, strict=True)):
                    number, unit = typed(item, base)
                    place.locator("input[type=text]").nth(box).focus()
                    page.keyboard.press("ControlOrMeta+a")
                    page.keyboard.type(number)
                    page.keyboard.press("Tab")
                    picked = place.locator("select:focus")
                    if picked.count():
                        # Letters find the first unit that begins so, which need not be it: arrows go through all.
                        page.keyboard.press("Home")
                        for _ in range(picked.locator("option").count()):
                            if picked.evaluate("box => box.selectedOptions[0].textContent") == unit:
                                break
                            page.keyboard.press("ArrowDown")
                        page.keyboard.press("Shift+Tab")
                page.keyboard.press("Enter")
                lines = place.locator(".practice-verdict").all()
                return [line.get_attribute("data-verdict") or "" for line in lines]

            right = [item["model"] for item in items]
            assert set(type_all(items, right)) == {"right"}, f"{section.get_attribute('id')} ({told['key']})"
            slips = [sum(item["slips"][0]["at"]) / 2 if item["slips"] else 50 * item["model"] for item in items]
            assert "right" not in type_all(items, slips), f"{section.get_attribute('id')} ({told['key']})"
            answered += len(items)
    assert answered, "no number to answer on this page"


def test_the_result_is_announced_and_the_boxes_have_names(lesson: Callable[[str], Page]) -> None:
    section = widget(lesson("mud-weight"), "column-pressure")
    told = numeric_part(data_of(section))
    part = part_of(section, told["key"])
    assert part.locator(".practice-result").get_attribute("role") == "status"
    part.get_by_label("Number").fill("1")
    assert part.get_by_label("Unit").count() == 1
    assert part.get_by_role("form").count() == 1


def test_other_numbers_are_other_numbers(lesson: Callable[[str], Page]) -> None:
    section = widget(lesson("mud-weight"), "column-pressure")
    data = data_of(section)
    variants = data["systems"]["field"]
    other = section.get_by_role("button", name="Other numbers")
    seen = []
    for index in range(len(variants)):
        assert section.get_by_text(f"Set {index + 1} of {len(variants)}").count() == 1
        seen.append(section.locator(".practice-setting").inner_text())
        told = numeric_part(data, index=index)
        part = part_of(section, told["key"])
        answer_number(part, *typed(told["items"][0], told["items"][0]["model"]))
        assert check(part) == [("right", "Right.")]
        other.click()
        assert other.evaluate("button => button === document.activeElement")
    assert len(set(seen)) == len(variants) >= 4
    assert section.locator(".practice-setting").inner_text() == seen[0]


def test_units_are_switched_on_the_whole_page_and_remembered(book: Path, visitor: Visitor) -> None:
    visit = visitor(book)
    page = visit.open("lessons/mud-weight.html")
    sections = page.locator("[data-practice]")
    assert sections.count() >= 2
    sections.last.get_by_label("Metric").check()
    for section in sections.all():
        assert section.get_by_label("Metric").is_checked()
        assert shown_setting(section) == data_of(section)["systems"]["metric"][0]["setting"]
    visit.open("lessons/solids.html")
    assert all(section.get_by_label("Metric").is_checked() for section in page.locator("[data-practice]").all())


def test_a_table_is_checked_cell_by_cell(lesson: Callable[[str], Page]) -> None:
    section = widget(lesson("mud-weight"), "convert-mud-weight")
    told = next(part for part in data_of(section)["systems"]["field"][0]["parts"] if "table" in part)
    part, items = part_of(section, told["key"]), told["items"]
    assert check(part) == [("unread", f"{len(items)} of {len(items)} cells are empty.")]

    answer_number(part, *typed(items[0], items[0]["model"]))
    assert part.locator("select").nth(1).evaluate("box => box.value") == part.locator("select").first.input_value()
    answer_number(part, *typed(items[1], items[1]["model"] * 1.9), box=1)
    verdicts = check(part)
    assert [verdict for verdict, _ in verdicts] == ["right", "wrong", "unread"]
    assert verdicts[0][1] == f"{items[0]['label']}: Right."

    for box, item in enumerate(items):
        answer_number(part, *typed(item, item["model"]), box=box)
    assert [verdict for verdict, _ in check(part)] == ["right"] * len(items)
    for box, item in enumerate(items):
        assert part.locator("input").nth(box).get_attribute("aria-label") == item["label"]


def test_a_choice_is_told_why_it_is_wrong(lesson: Callable[[str], Page]) -> None:
    page = lesson("mud-weight")
    section = widget(page, "column-pressure")
    told = next(p for p in data_of(section)["systems"]["field"][0]["parts"] if p["items"][0]["kind"] == "choice")
    part, options = part_of(section, told["key"]), told["items"][0]["options"]
    assert check(part) == [("unread", "Choose an answer first.")]
    for option in options:
        part.locator(f"input[value='{option['letter']}']").check()
        page.keyboard.press("Enter")
        [(verdict, words)] = check(part)
        assert verdict == ("right" if option["right"] else "wrong")
        assert option["right"] or option["advice"] in words


def test_the_worked_solution_ends_in_the_model_answer(lesson: Callable[[str], Page]) -> None:
    section = widget(lesson("mud-weight"), "column-pressure")
    told = numeric_part(data_of(section))
    details = part_of(section, told["key"]).locator("details")
    assert not details.locator("div").is_visible()
    details.locator("summary").click()
    assert told["shown"].split("\N{NO-BREAK SPACE}")[0][:3] in details.inner_text()


# Against the grader's marking -----------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def bench(tmp_path_factory: pytest.TempPathFactory, book: Path) -> Callable[[list[Variant]], Path]:
    """Writes a page with one widget on given variants, beside the book's own scripts and styles."""

    def write(variants: list[Variant]) -> Path:
        folder = tmp_path_factory.mktemp("bench")
        for name in ("read_number.js", "practice.js", "practice.css", "pitside.css"):
            (folder / name).write_bytes((book / "_static" / name).read_bytes())
        exercise = variants[0].exercise
        systems: dict[str, list[Any]] = {}
        for variant in variants:
            systems.setdefault(str(variant.system), []).append(practice_variant(variant))
        body = page_html(practice_set(exercise, 1) | {"systems": systems}, f"w-{exercise.id}")
        links = '<link rel="stylesheet" href="pitside.css"><link rel="stylesheet" href="practice.css">'
        page = f'<!DOCTYPE html><meta charset="utf-8"><title>{escape(exercise.title)}</title>{links}{body}'
        scripts = '<script src="read_number.js"></script><script src="practice.js"></script>'
        (folder / "bench.html").write_text(page + scripts, encoding="utf-8")
        return folder

    return write


def drawn(exercise: Exercise, system: System, seed: int = 20) -> Variant:
    return draw(exercise, np.random.default_rng(seed), system)


#: Type each number into its box, pick its unit and submit, all in the page; the first verdict of each, with its words.
TYPE_AND_CHECK = """(part, trials) => trials.map(({ box, number, unit }) => {
  const input = part.querySelectorAll("input[type=text]")[box];
  const select = part.querySelectorAll("select")[box];
  input.value = number;
  select.value = [...select.options].find((option) => option.textContent === unit).value;
  part.querySelector("form").requestSubmit();
  const line = part.querySelector(".practice-verdict");
  if (part.querySelector("table")) input.value = "";
  return [line.dataset.verdict, line.textContent];
})"""


def judge(place: Locator, trials: list[tuple[int, Given]]) -> list[list[str]]:
    return place.evaluate(
        TYPE_AND_CHECK,
        [{"box": box, "number": str(given.value), "unit": spelled(given.unit) or "no unit"} for box, given in trials],
    )


@pytest.mark.parametrize("system", System)
@pytest.mark.parametrize("exercise", ALL.values(), ids=ALL.keys())
def test_the_page_judges_numbers_as_the_grader_does(
    exercise: Exercise, system: System, bench: Callable[[list[Variant]], Path], visitor: Visitor
) -> None:
    variant = drawn(exercise, system)
    section = widget(visitor(bench([variant])).open("bench.html"), exercise.id)
    judged = 0
    for part in exercise.parts:
        for box, item in enumerate(asked_on_a_page(part)):
            if not isinstance(item, Numeric):
                continue
            place = part_of(section, part.key)
            trials = trial_answers(variant, item)
            verdicts = judge(place, [(box, given) for given in trials])
            for given, (verdict, words) in zip(trials, verdicts, strict=True):
                marked = next(m for m in mark(variant, {item.key: given}) if m.item == item.key)
                expected = {Rule.RIGHT: "right"}.get(marked.rule, "wrong")
                assert verdict == expected, f"{item.key} {given}: page {verdict} ({words}), grader {marked.rule}"
                assert marked.rule is not Rule.SLIP or marked.slip in words
                assert (marked.rule is Rule.UNIT) == ("the number is right in" in words), f"{given}: {words}"
                judged += 1
    asked = [item for item in exercise.items if isinstance(item, Numeric) and not item.on_the_way]
    assert judged >= 5 * len(asked)


def trial_answers(variant: Variant, item: Numeric) -> list[Given]:
    """The model answer in every usual unit and in odd spellings, each slip, and values a little and far off."""
    asked = variant.unit(item)
    model = variant.key[item.key]

    def given(value: pint.Quantity, unit: str) -> Given:
        return Given(significant(float(value.to(read_unit(unit)).magnitude), 6), unit)

    number = given(model, asked).value
    offered = (asked,) if variant.converts(item) else usual_units(asked)
    answers = [given(model, unit) for unit in offered]
    answers += [Given(str(number).replace(".", ","), asked), Given(f" {number} ", asked)]
    answers += [Given(number, unit) for unit in offered if unit != asked]
    answers += [given(value, asked) for _, value in variant.slip_values(item, variant.key)]
    width = item.tolerance.width(model)
    answers += [given(model + side * width, asked) for side in (-0.97, 0.97, -1.5, 1.5, -40, 40)]
    # The model answer comes last: what a page remembers for later parts is then right, as a script with one answer is.
    answers.append(given(model, asked))
    readable = []
    for one in answers:
        try:
            read_number(one.value or "")
        except UnreadableAnswer:
            continue  # a page asks again; that is another test's
        readable.append(one)
    return readable


@pytest.mark.parametrize("system", System)
@pytest.mark.parametrize("exercise", WITH_STEPS, ids=lambda exercise: exercise.id)
def test_a_carried_slip_is_right_by_follow_through(
    exercise: Exercise, system: System, bench: Callable[[list[Variant]], Path], visitor: Visitor
) -> None:
    variant = drawn(exercise, system, seed=21)
    section = widget(visitor(bench([variant])).open("bench.html"), exercise.id)
    items = [item for item in exercise.items if isinstance(item, Numeric) and not item.on_the_way]
    parts = {item.key: part for part in exercise.parts for item in asked_on_a_page(part)}
    followed = 0
    for origin in items:
        later = [item for item in items if origin.key in item.uses and parts[item.key] is not parts[origin.key]]
        resting = {origin.key}
        for item in items:
            if resting & set(item.uses):
                resting.add(item.key)
        for slip, value in variant.slip_values(origin, variant.key) if later else ():
            own = {**variant.key, origin.key: value}
            answers = {origin.key: as_typed(variant, origin, value)}
            for item in later:
                if any(key in resting and key not in answers for key in item.uses):
                    continue  # the page follows the slip through what lies between, which is not answered here
                try:
                    answers[item.key] = as_typed(variant, item, variant.answer(item, own))
                except ValueError:
                    continue  # this slip leads nowhere
                marked = {m.item: m for m in mark(variant, answers)}
                if marked[item.key].rule is not Rule.FOLLOWED:
                    continue  # the slip happens to change nothing here
                for key in (origin.key, item.key):
                    box = [one.key for one in asked_on_a_page(parts[key])].index(key)
                    [(verdict, words)] = judge(part_of(section, parts[key].key), [(box, answers[key])])
                assert verdict == "follows", f"{slip.name} carried from {origin.key} to {item.key}: {words}"
                followed += 1
    across_parts = [(origin, item) for origin in items for item in items if parts[item.key] is not parts[origin.key]]
    assert bool(followed) == any(origin.key in item.uses for origin, item in across_parts)


def test_a_choice_that_fits_a_carried_slip_is_right_by_follow_through(
    bench: Callable[[list[Variant]], Path], visitor: Visitor
) -> None:
    exercise = BANK["column-pressure"]
    variant, choice, follow = next(
        (variant, part, follow)
        for variant in (drawn(exercise, System.FIELD, seed) for seed in range(40))
        for part in practice_variant(variant)["parts"]
        for follow in part["items"][0].get("follows", ())
        if part["items"][0]["kind"] == "choice" and set(follow["when"]) == {"b"}
    )
    section = widget(visitor(bench([variant])).open("bench.html"), exercise.id)
    place = part_of(section, choice["key"])
    place.locator(f"input[value='{follow['right']}']").check()
    assert check(place)[0][0] == "wrong"
    b = exercise.item("b")
    assert isinstance(b, Numeric)
    slip = middle_of(variant, b, follow["when"]["b"])
    judge(part_of(section, "b"), [(0, slip)])
    assert check(place) == [("follows", follow["says"])]
    marked = {m.item: m for m in mark(variant, {"b": slip, choice["key"]: Given(follow["right"])})}
    assert marked[choice["key"]].rule is Rule.FOLLOWED


def middle_of(variant: Variant, item: Numeric, band: list[float]) -> Given:
    """The middle of a band that is given in base units, as it would be typed in the asked unit."""
    base = variant.key[item.key].to_base_units().units
    return as_typed(variant, item, Quantity(sum(band) / 2, base))


def as_typed(variant: Variant, item: Numeric, value: pint.Quantity) -> Given:
    unit = variant.unit(item)
    return Given(significant(float(value.to(read_unit(unit)).magnitude), 6), unit)


@pytest.mark.parametrize("exercise", WITH_LETTERS, ids=lambda exercise: exercise.id)
def test_the_page_judges_letters_as_the_grader_does(
    exercise: Exercise, bench: Callable[[list[Variant]], Path], visitor: Visitor
) -> None:
    letters = [part for part in exercise.parts if isinstance(part, (Choice, Order))]
    variant = drawn(exercise, System.FIELD, seed=22)
    page = visitor(bench([variant])).open("bench.html")
    section = widget(page, exercise.id)
    for part in letters:
        place = part_of(section, part.key)
        if isinstance(part, Choice):
            for option in part.options:
                place.locator(f"input[value='{part.letter(option.key)}']").check()
                [(verdict, _)] = check(place)
                given = {part.key: Given(part.letter(option.key))}
                marked = next(m for m in mark(variant, given) if m.item == part.key)
                assert verdict == ("right" if marked.rule is Rule.RIGHT else "wrong")
        else:
            shown = "".join(variant.shown_steps(part))
            verdicts = check(place)
            marked = next(m for m in mark(variant, {part.key: Given(shown)}) if m.item == part.key)
            assert len(verdicts) == len(part.broken(tuple(variant.shown_steps(part).values())))
            assert all(words.split(". ", 1)[1] in marked.comment for _, words in verdicts)


def test_steps_are_put_in_order_with_the_keyboard(bench: Callable[[list[Variant]], Path], visitor: Visitor) -> None:
    variant = drawn(EVERY_KIND, System.FIELD)
    page = visitor(bench([variant])).open("bench.html")
    part = part_of(widget(page, EVERY_KIND.id), "e")
    wanted = variant.shown_answer(EVERY_KIND.item("e"), variant.key["e"])

    def shown() -> str:
        return "".join(line.get_attribute("data-letter") or "" for line in part.locator("li").all())

    for place, letter in enumerate(wanted):
        up = part.get_by_role("button", name=f"Move {letter} up")
        up.focus()
        while shown().index(letter) > place:
            page.keyboard.press("Enter")
            assert up.evaluate("button => button === document.activeElement")
            assert part.get_by_text(f"{letter} is now step {shown().index(letter) + 1} of 3.").count() == 1
    assert shown() == wanted
    top = part.get_by_role("button", name=f"Move {wanted[0]} up")
    top.focus()
    page.keyboard.press("Enter")
    assert shown() == wanted
    assert check(part) == [("right", "Right.")]


def test_texts_of_an_exercise_are_text_not_markup(bench: Callable[[list[Variant]], Path], visitor: Visitor) -> None:
    page = visitor(bench([drawn(EVERY_KIND, System.METRIC)])).open("bench.html")
    assert page.locator(".practice-title").inner_text().endswith("A <pit> & its column")
    assert page.locator("pit").count() == 0


def test_data_cannot_end_its_script_element() -> None:
    text = json_in_page({"setting": "</script><script>alert(1)</script><!--"})
    assert "<" not in text
    assert json.loads(text)["setting"].startswith("</script>")


def test_practice_is_the_same_at_each_build() -> None:
    one, two = (json_in_page(practice_set(EVERY_KIND, 3)) for _ in range(2))
    assert one == two
    assert len(re.findall('"setting"', one)) == 6
