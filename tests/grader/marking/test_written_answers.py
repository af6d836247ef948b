"""Written answers marked on our own page: blind, by keyboard alone in a real browser; what it saves, taken or not."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from bs4 import BeautifulSoup
from click.testing import CliRunner
from playwright.sync_api import Page, expect

from exercises import BANK
from grader.cli import commands
from grader.marking.books import read_books
from grader.marking.explain import explain
from grader.marking.marking import mark_school
from grader.marking.records import read_record
from grader.marking.trail import trail
from grader.marking.written_answers import check_of, page_file, take, write_page
from grader.privacy.privacy import Person, forget
from grader.store.errors import GraderError
from grader.store.files import write_json
from grader.store.school import School, open_school
from tests.browsing import WINDOWS, Visitor
from tests.grader.cohorts import keep, marked_cohort
from tests.grader.reports.test_moderation import _twist
from tests.grader.schools import ONE_ROOM, gradebook_of, paper_of, well_formed

WORDS = ("fault-diary", "explain-to-the-crew")
#: The written parts of a paper of these two.
PARTS = ("1c", "2c")
HOSTILE = "<script>document.title = 'taken'</script> <img src=x onerror=alert(1)> [a](javascript:alert(2)) $x$"


def hostile(number, variants, answers):
    answers = _twist(number, variants, answers)
    if number == 0:
        answers["1c"] = type(answers["1c"])(HOSTILE, "")
    return answers


@pytest.fixture
def school(tmp_path) -> School:
    """Six candidates whose two written parts wait for marks; and the page."""
    school = marked_cohort(tmp_path / "school", 6, exercises=WORDS, twist=hostile)
    write_page(school)
    return school


@pytest.fixture
def page(visitor: Visitor, school: School) -> Page:
    return visitor(school.records).open(page_file(school).name)


def data_of(school: School) -> dict[str, Any]:
    page = BeautifulSoup(page_file(school).read_text(encoding="utf-8"), "html.parser")
    return json.loads(page.find(id="written").string)


def file_with(of: School, path: Path, marks: list[float], marker: str = "E. Vane", **changed: Any) -> Path:
    """What the page saves when the first answers to its first question get these marks."""
    data = data_of(of)
    answers = data["questions"][0]["answers"]
    body = {
        "format": data["format"],
        "what": data["what"],
        "school": data["school"],
        "marker": marker,
        "saved": "2026-05-06T08:00:00.000Z",
        "answers": [
            one | {"points": [], "marks": given, "remark": ""}
            for one, given in zip(answers[: len(marks)], marks, strict=True)
        ],
    } | changed
    path.write_text(json.dumps(body | {"check": check_of(body)}), encoding="utf-8")
    return path


def hand_marks(school: School) -> dict[tuple[str, str], float]:
    found = {}
    for candidate in school.roster:
        record = read_record(school, paper_of(school, candidate.id).id)
        found |= {(candidate.id, part): hand.marks for part, hand in record.hand.items()}
    return found


def saved(page: Page, folder: Path) -> Path:
    with page.expect_download() as download:
        page.get_by_role("button", name="Save all").focus()
        page.keyboard.press("Enter")
    path = folder / download.value.suggested_filename
    download.value.save_as(path)
    return path


# By keyboard alone ----------------------------------------------------------------------------------------------------


@pytest.mark.browser
def test_answers_marked_by_keyboard_alone_land_in_gradebook_record_and_log(page, school, tmp_path):
    data = data_of(school)
    points = [len(question["points"]) for question in data["questions"]]
    expect(page.locator("#marker")).to_be_focused()
    page.keyboard.type("Elin Vane")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.dataset.open") == "q1"
    page.keyboard.press("Enter")
    expect(page.locator("#point-0")).to_be_focused()
    # The first: two points by digit, of which one is taken back with Space, and a remark of two lines.
    page.keyboard.press("1")
    page.keyboard.press("2")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Space")
    expect(page.locator("#given")).to_have_value(str(data["questions"][0]["points"][0]["marks"]))
    for _ in range(points[0]):
        page.keyboard.press("ArrowDown")
    expect(page.locator("#remark")).to_be_focused()
    page.keyboard.type("Say when <b>you</b>")
    page.keyboard.press("Enter")
    page.keyboard.type("called the supervisor.")
    page.keyboard.press("Control+Enter")
    # The second: marks of its own, with a comma.
    for _ in range(points[0]):
        page.keyboard.press("ArrowDown")
    expect(page.locator("#given")).to_be_focused()
    page.keyboard.type("0,5")
    page.keyboard.press("Enter")
    # The third: nothing, which is asked once more.
    page.keyboard.press("Enter")
    expect(page.locator("[data-said]")).to_contain_text("once more, and it counts as 0 marks")
    page.keyboard.press("Enter")
    # The fourth is left open; the other two are right.
    page.keyboard.press("ArrowRight")
    for _ in range(2):
        for point in range(points[0]):
            page.keyboard.press(str(point + 1))
        page.keyboard.press("Enter")
    expect(page.locator("article:visible h2")).to_contain_text("answer 4 of 6")
    page.keyboard.press("Escape")
    expect(page.locator("[data-progress]")).to_have_text("5 of 12 answers marked")
    file = saved(page, tmp_path)
    assert file.name == "written_elin-vane.json"
    expect(page.locator("[data-said]")).to_contain_text("7 not marked yet")

    taken = take(school, file)
    assert (taken.marker, taken.new, taken.replaced, taken.already, taken.stale) == ("Elin Vane", 5, 0, 0, 0)
    most = data["questions"][0]["out_of"]
    first = data["questions"][0]["points"][0]
    given = hand_marks(school)
    assert sorted(given.values()) == sorted([first["marks"], 0.5, 0, most, most])
    assert {part for _, part in given} == {"1c"}
    book = gradebook_of(school)
    assert {key[1:]: row[1] for key, row in book.items() if row[1] is not None} == given
    ((candidate, _),) = [key for key, marks in given.items() if marks == first["marks"]]
    remark = read_record(school, paper_of(school, candidate).id).hand["1c"].comment
    assert f"✓ {first['text']}" in remark
    assert f"– {data['questions'][0]['points'][1]['text']}" in remark
    assert remark.endswith("Say when <b>you</b>\ncalled the supervisor.")
    # Who gave it, who took it, and from which file.
    told = "\n".join(trail(school, candidate))
    (digest,) = re.findall(r"1c from file ([0-9a-f]{8})", told)
    assert (
        f"marks of written answers taken: file {digest} (written_elin-vane.json), 5 answers marked by Elin Vane" in told
    )
    explained = "\n".join(explain(school, candidate, "1c"))
    assert f"1c: {first['marks']:g} of {most:g} marks" in explained
    assert f"by hand       {first['marks']:g} marks (marked by Elin Vane, file {digest}, taken by " in explained
    assert read_books(school).faults == ()
    # The next page has what is left; marking again changes nothing.
    assert (write_page(school).answers, write_page(school).marked) == (7, 5)
    assert mark_school(school, lambda done, total: None, ONE_ROOM).merged == 0
    assert hand_marks(school) == given


@pytest.mark.browser
def test_the_name_comes_first_and_no_digit_that_is_pressed_too_often_lands_in_it(page):
    page.keyboard.press("Enter")
    expect(page.locator("[data-said]")).to_have_text("Write your name or initials first: the record says who marked.")
    expect(page.locator("#marker")).to_be_focused()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    bar, head = page.locator("header + .bar"), page.locator("article:visible h2")
    for _ in range(6):
        page.keyboard.press("1")
        page.keyboard.press("Enter")
        if head.count():
            assert bar.bounding_box()["y"] + bar.bounding_box()["height"] <= head.bounding_box()["y"]
    page.keyboard.press("1")
    assert page.evaluate("document.activeElement.dataset.open") == "q2"
    expect(page.locator("#marker")).to_have_value("")


@pytest.mark.browser
def test_what_was_marked_survives_a_closed_tab_and_goes_when_cleared(browser, school):
    context = browser.new_context()
    page = context.new_page()
    page.goto(page_file(school).as_uri())
    page.keyboard.type("EV")
    # Before the browser's database is open nothing is kept, and on a slow machine these keys are quicker than that.
    expect(page.locator("[data-kept]")).to_have_text("Kept in this browser")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.keyboard.press("1")
    page.keyboard.press("Enter")
    page.keyboard.press("2")
    page.close(run_before_unload=False)

    page = context.new_page()
    page.goto(page_file(school).as_uri())
    expect(page.locator("[data-said]")).to_contain_text("is back")
    expect(page.locator("[data-progress]")).to_have_text("1 of 12 answers marked")
    expect(page.locator("#marker")).to_have_value("EV")
    page.keyboard.press("Enter")
    expect(page.locator("article:visible h2")).to_contain_text("answer 2 of 6")
    expect(page.locator("#point-1")).to_be_checked()
    page.get_by_role("button", name="Clear everything").click()
    page.get_by_role("button", name="Clear it").click()
    expect(page.locator("[data-said]")).to_contain_text("Cleared")
    assert page.evaluate("localStorage.length") == 0
    context.close()


@pytest.mark.browser
def test_marks_that_the_part_cannot_have_are_not_counted(page, school):
    page.keyboard.type("EV")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    for typed in ("99", "-1", "0.3", "two"):
        page.locator("#given").fill(typed)
        page.keyboard.press("Enter")
        expect(page.locator("[data-said]")).to_contain_text("Marks are from 0 to")
    expect(page.locator("[data-progress]")).to_have_text("0 of 12 answers marked")


@pytest.mark.browser
@WINDOWS
def test_the_page_has_no_serious_fault_of_access(visitor, school, width, colours):
    page = visitor(school.records, width=width, color_scheme=colours).open(page_file(school).name)
    for state in ("list", "answer"):
        if state == "answer":
            page.keyboard.type("EV")
            page.keyboard.press("Enter")
            page.keyboard.press("Enter")
            page.keyboard.press("1")
            for details in page.locator("article:visible details").all():
                details.locator("summary").click()
        found = Axe().run(page)
        serious = [fault for fault in found.response["violations"] if fault["impact"] in ("serious", "critical")]
        assert serious == [], state
        assert len(found.response["passes"]) > 10
        assert page.evaluate("document.documentElement.scrollWidth") <= width


# Blind, and text as text ----------------------------------------------------------------------------------------------


def test_the_page_names_nobody_and_its_order_says_nothing(school):
    text = page_file(school).read_text(encoding="utf-8")
    for candidate in school.roster:
        paper = paper_of(school, candidate.id)
        for secret in (candidate.id, candidate.name, paper.id):
            assert secret not in text
    for question, part in zip(data_of(school)["questions"], PARTS, strict=True):
        tags = [one["tag"] for one in question["answers"]]
        assert tags == sorted(tags)
        assert len(set(tags)) == len(school.roster), part
    first, second = ([one["tag"] for one in question["answers"]] for question in data_of(school)["questions"])
    assert not set(first) & set(second)


def test_candidates_words_stand_as_text_with_points_and_model_answer_beside_them(school):
    page = well_formed(page_file(school).read_text(encoding="utf-8"))
    assert page.find("meta", {"http-equiv": "Content-Security-Policy"})["content"].startswith("default-src 'none'")
    (words,) = [one for one in page.select(".text") if one.get_text() == HOSTILE]
    assert words.find() is None
    assert len(page.find_all("script")) == 2
    assert len(page.select("article")) == 12
    for number, (name, question) in enumerate(zip(WORDS, data_of(school)["questions"], strict=True)):
        part = BANK[name].parts[-1]
        assert [one["text"] for one in question["points"]] == [point.text for point in part.points], number
        assert len(page.select(f"#q{number + 1} .model")) == 6
        assert all(one.get_text(strip=True) for one in page.select(f"#q{number + 1} .model"))


@pytest.mark.browser
def test_what_a_candidate_wrote_does_nothing_in_the_page(page):
    page.keyboard.type("EV")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    for _ in range(6):
        page.keyboard.press("ArrowRight")
    assert page.title().startswith("Written answers")
    assert page.locator("article a, article img").count() == 0


# What comes back ------------------------------------------------------------------------------------------------------


def test_two_assessors_share_the_answers_and_a_clash_is_told(school, tmp_path):
    take(school, file_with(school, tmp_path / "a.json", [1, 2]))
    before = hand_marks(school)
    other = file_with(school, tmp_path / "b.json", [1, 1, 2], marker="O. Marlund")
    with pytest.raises(
        GraderError, match=r"part 1c, has 2 marks from E\. Vane and gets 1 here; agree .*--replace"
    ) as told:
        take(school, other)
    assert "\n" not in str(told.value)
    assert hand_marks(school) == before
    taken = take(school, other, replace=True)
    assert (taken.new, taken.replaced, taken.already) == (1, 1, 1)
    assert sorted(hand_marks(school).values()) == [1, 1, 2]


def test_a_later_file_of_one_marker_counts_and_an_older_one_is_told(school, tmp_path):
    first = file_with(school, tmp_path / "a.json", [1, 2])
    take(school, first)
    later = file_with(school, tmp_path / "b.json", [1, 3, 2], saved="2026-05-06T09:00:00.000Z")
    assert (take(school, later).new, sorted(hand_marks(school).values())) == (1, [1, 2, 3])
    older = file_with(school, tmp_path / "c.json", [0, 0, 0], saved="2026-05-06T08:30:00.000Z")
    with pytest.raises(GraderError, match=r"older state: a later file of E\. Vane was taken"):
        take(school, older)
    with pytest.raises(GraderError, match="was taken already"):
        take(school, first)
    assert sorted(hand_marks(school).values()) == [1, 2, 3]


def test_a_file_taken_twice_counts_once(school, tmp_path):
    file = file_with(school, tmp_path / "a.json", [1, 2])
    take(school, file)
    lines = (school.records / "log.jsonl").read_bytes()
    with pytest.raises(GraderError, match=r"a\.json: was taken already \(\d{4}-.* UTC\); there is nothing to do"):
        take(school, file)
    assert (school.records / "log.jsonl").read_bytes() == lines


def test_a_file_whose_taking_was_killed_is_taken_to_its_end(school, tmp_path, monkeypatch):
    from grader.marking.bookkeeping import Bookkeeper

    file, gave = file_with(school, tmp_path / "a.json", [1, 2, 2]), Bookkeeper.give
    calls = iter(range(3))

    def killed(self, *given):
        if next(calls):
            raise KeyboardInterrupt
        gave(self, *given)

    monkeypatch.setattr(Bookkeeper, "give", killed)
    with pytest.raises(KeyboardInterrupt):
        take(school, file)
    monkeypatch.setattr(Bookkeeper, "give", gave)
    assert len(hand_marks(school)) == 1
    assert (take(school, file).new, take_again(school, file)) == (2, "was taken already")
    assert sorted(hand_marks(school).values()) == [1, 2, 2]


def take_again(school: School, file: Path) -> str:
    with pytest.raises(GraderError) as told:
        take(school, file)
    return re.search(r"was taken already", str(told.value))[0]


def test_answers_of_another_script_are_not_taken_and_are_told(school, tmp_path):
    file = file_with(school, tmp_path / "a.json", [1, 2])
    tags = [one["tag"] for one in data_of(school)["questions"][0]["answers"]]
    paper = next(p for p in read_books(school).register.papers.values() if tags[0] in page_with(school, p))
    record = read_record(school, paper.id)
    keep(school, type(record)(**(vars(record) | {"script": "1" * 64})))
    taken = take(school, file)
    assert (taken.new, taken.stale) == (1, 1)
    only = file_with(school, tmp_path / "b.json", [1], marker="O. Marlund")
    with pytest.raises(GraderError, match="is of an older state: 1 answer"):
        take(school, only)


def page_with(school: School, paper: Any) -> str:
    """The tags of one paper's answers, from the page as it is with that paper alone."""
    from grader.marking.written_answers import _tag

    return " ".join(_tag(school, paper.id, part) for part in PARTS)


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda text: text.replace('"marks": 2', '"marks": 3'), "was altered after it was saved"),
        (lambda text: text[:-30], "its text is no JSON"),
        (lambda text: "[]", "is no file of the page for written answers"),
        (lambda text: "", "is empty"),
    ],
)
def test_a_file_that_was_altered_is_told_in_one_line(school, tmp_path, spoil, says):
    file = file_with(school, tmp_path / "a.json", [1, 2])
    file.write_text(spoil(file.read_text(encoding="utf-8")), encoding="utf-8")
    with pytest.raises(GraderError, match=says) as told:
        take(school, file)
    assert str(told.value).startswith("a.json: ")
    assert str(told.value).endswith("Nothing was entered")
    assert hand_marks(school) == {}


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"school": "another"}, "is of the school another, not of marram"),
        ({"format": 2}, "is of format 2"),
        ({"marker": " "}, "does not say who marked"),
        ({"marker": "a\u0000"}, "cannot be typed"),
        ({"saved": "yesterday"}, "does not say when"),
        ({"answers": []}, "holds no marked answer"),
        ({"answers": [{"tag": "x", "state": "y", "points": [], "marks": 1, "remark": ""}]}, "no answer of this school"),
        ({"answers": [{"tag": "x"}]}, "entry 1 has other fields"),
    ],
)
def test_what_the_page_does_not_save_is_refused(school, tmp_path, changed, says):
    with pytest.raises(GraderError, match=says):
        take(school, file_with(school, tmp_path / "a.json", [1], **changed))
    assert hand_marks(school) == {}


@pytest.mark.parametrize(
    ("one", "says"),
    [
        ({"marks": 99}, "99 is not from 0 to"),
        ({"marks": -1}, "-1 is not from 0 to"),
        ({"marks": True}, "no number of marks"),
        ({"points": [40]}, "ticks a point"),
        ({"points": [-1]}, "strange points"),
        ({"remark": "x" * 2001}, "longer than 2000"),
        ({"remark": 3}, "is no text"),
    ],
)
def test_marks_that_no_answer_can_have_are_refused(school, tmp_path, one, says):
    answers = [data_of(school)["questions"][0]["answers"][0] | {"points": [], "marks": 1, "remark": ""} | one]
    with pytest.raises(GraderError, match=says):
        take(school, file_with(school, tmp_path / "a.json", [1], answers=answers))
    twice = [answers[0] | {"marks": 1, "points": [], "remark": ""}] * 2
    with pytest.raises(GraderError, match="has an answer twice"):
        take(school, file_with(school, tmp_path / "b.json", [1], answers=twice))


def test_a_file_of_another_school_with_the_same_id_is_told(school, tmp_path):
    other = marked_cohort(tmp_path / "other", 6, seed=2, exercises=WORDS, twist=_twist)
    write_page(other)
    with pytest.raises(GraderError, match="holds no answer of this school's marked papers"):
        take(school, file_with(other, tmp_path / "a.json", [1, 2]))


def test_marks_forged_into_the_records_stop_the_page(school):
    path = next((school.records / "marks").glob("*.json"))
    write_json(path, json.loads(path.read_bytes()) | {"ending": "forged"})
    with pytest.raises(GraderError, match="not the marks that line"):
        write_page(school)


def test_commands_say_what_to_do_next(school, tmp_path):
    run = CliRunner().invoke
    wrote = run(commands, ["written", str(school.folder)])
    assert wrote.exit_code == 0
    assert "12 written answers to 2 questions wait for marks" in wrote.output
    assert f"pitside written {school.folder} --take written_….json" in wrote.output
    file = file_with(school, tmp_path / "a.json", [1, 2])
    took = run(commands, ["written", str(school.folder), "--take", str(file)])
    assert took.output == f"2 answers of E. Vane taken\nNext: pitside results {school.folder}\n"


# Privacy --------------------------------------------------------------------------------------------------------------


def test_forgetting_a_candidate_takes_the_page_with_their_words_away(school):
    (held,) = [one for one in Person(school, "c001").held() if one.what == "answers on the page for marking"]
    assert held.files == (page_file(school),)
    forget(school, ["c001"], "asked for it", lambda: open_school(school.folder))
    assert not page_file(school).exists()
    assert HOSTILE not in write_page(open_school(school.folder)).path.read_text(encoding="utf-8")


def test_forgetting_lists_first_and_deletes_only_after_a_yes(school):
    run, asked = CliRunner().invoke, ["forget", str(school.folder), "c001", "--reason", "asked for it"]
    said_no = run(commands, asked, input="n\n")
    assert said_no.exit_code != 0
    assert "c001: this would be deleted\n" in said_no.output
    assert said_no.output.endswith("Nothing was deleted.\n")
    assert "  answers on the page for marking: records/ (1 file)\n" in said_no.output
    assert page_file(school).exists()
    assert "c001" in (school.folder / "roster.csv").read_text(encoding="utf-8")
    assert run(commands, [*asked, "--yes"]).exit_code == 0
    assert "c001" not in (school.folder / "roster.csv").read_text(encoding="utf-8")
