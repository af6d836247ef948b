"""Tasks watched at the machine: by touch and by keyboard alone in a real browser, taken back, marked and decided."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import Any

import psutil
import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner
from playwright.sync_api import Browser, Error, Page, expect

from exercises.tasks import TASKS
from grader.cli import commands
from grader.marking.explain import explain
from grader.marking.marking import mark_school
from grader.marking.trail import trail
from grader.observed.observations import FILE, Observations
from grader.observed.page import page_file, write_page
from grader.observed.take import check_of, take
from grader.papers.issue import issue
from grader.privacy.privacy import Person, forget
from grader.reports.competence import decide
from grader.reports.results import gather
from grader.store.errors import GraderError
from grader.store.part_marks import item_name
from grader.store.register import Register
from grader.store.school import School, open_school
from tests.browsing import QUIET, Visitor, chromium
from tests.grader.observed.watching import WATCHED, critical, saved, seen, with_tasks
from tests.grader.schools import ONE_ROOM, mark_and_report, page_of, quiet
from tests.sharing import a_few

#: What the observer's page is looked at on: a tablet of ten inches, held upright.
TABLET = 800
#: Of the first task: what there is to see.
SEEN = len(TASKS[WATCHED[0]].exercise.items)


@pytest.fixture
def school(tmp_path: Path) -> School:
    school = with_tasks(tmp_path / "school")
    write_page(school, school.sittings[0])
    return school


# The page -------------------------------------------------------------------------------------------------------------


def open_page(visitor: Visitor, school: School, width: int = TABLET, **options: Any) -> Page:
    return visitor(school.records, width, **options).open(page_file(school, school.sittings[0]).name)


def save(page: Page, path: Path) -> Path:
    with page.expect_download() as download:
        page.click("[data-save]")
    download.value.save_as(path)
    return path


def test_a_station_of_candidates_is_watched_by_touch_and_a_reload_in_between_loses_nothing(visitor, school, tmp_path):
    page = open_page(visitor, school, has_touch=True)
    page.fill("#observer", "Ola Hand")
    page.fill("#place", "Yard 2")
    by_touch(page, "aa-00")
    page.tap('#candidates button[data-id="aa-01"]')
    page.locator(".saids").first.locator("label").nth(1).tap()
    page.reload()
    expect(page.locator('#candidates button[data-id="aa-00"]')).to_contain_text(f"finished, {SEEN} of {SEEN} seen")
    expect(page.locator('#candidates button[data-id="aa-01"]')).to_contain_text(f"begun, 1 of {SEEN} seen")
    by_touch(page, "aa-01")
    taken = take(school, save(page, tmp_path / "observed.json"))
    assert (taken.kept, taken.already, taken.second) == (2, 0, 0)
    records = mark_and_report(school)
    assert [records[one].record.marks for one in ("aa-00", "aa-01")] == [TASKS[WATCHED[0]].marks] * 2
    assert all(result.record.out_of == TASKS[WATCHED[0]].marks for result in records.values())


def test_a_task_is_watched_by_keyboard_alone(visitor, school, tmp_path):
    page = open_page(visitor, school)
    page.locator("#observer").focus()
    page.keyboard.type("Ola Hand")
    for _ in range(3):
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#form-title")).to_be_focused()
    page.keyboard.press("ArrowDown")
    for key in "DDPDND":
        page.keyboard.press(key)
    for typed in ("1.34", "1.35"):
        page.keyboard.type(typed)
        page.keyboard.press("Enter")
    for key in "DDO":
        page.keyboard.press(key)
    expect(page.locator("[data-finish]")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("[data-said]")).to_have_text("aa-00 is finished at this task.")
    file = save(page, tmp_path / "observed.json")
    (one,) = json.loads(file.read_text())["observed"]
    assert list(one["answers"].values())[:6] == list("DDPDND")
    take(school, file)
    assert mark_and_report(school)["aa-00"].record.marks == 2 + 2 + 0 + 2 + 0 + 2 + 2 + 2 + 2


@pytest.mark.parametrize(("width", "scheme"), a_few([(360, "dark"), (TABLET, "light")], 1))
def test_the_page_is_read_by_screen_readers_and_its_targets_fit_gloves(visitor, school, width, scheme):
    page = open_page(visitor, school, width, color_scheme=scheme)
    page.fill("#observer", "Ola Hand")
    assert Axe().run(page).violations_count == 0
    page.locator("#candidates button").first.click()
    assert Axe().run(page).violations_count == 0
    heights = [box["height"] for box in (label.bounding_box() for label in page.locator(".saids label").all()) if box]
    assert min(heights) >= 56
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_nothing_is_watched_before_the_observer_has_a_name_and_undo_takes_back(visitor, school):
    page = open_page(visitor, school)
    page.locator("#candidates button").first.click()
    expect(page.locator("[data-said]")).to_have_text("Type your own name first.")
    page.fill("#observer", "Ola Hand")
    page.locator("#candidates button").first.click()
    page.locator(".saids").first.locator("label").nth(2).click()
    page.click("[data-undo]")
    assert page.locator(".saids").first.locator("input:checked").count() == 0


# Taking back ----------------------------------------------------------------------------------------------------------


def test_files_of_two_stations_make_one_script_and_a_file_taken_twice_changes_nothing(school, tmp_path):
    one = saved(school, tmp_path / "one.json", seen(school, "aa-00", 1), seen(school, "aa-01", 1))
    other = saved(school, tmp_path / "other.json", seen(school, "aa-00", 2), observer="Ida Moor")
    take(school, one)
    take(school, other)
    scripts = {path.name: path.read_bytes() for path in school.scripts.iterdir()}
    again = take(school, one)
    assert (again.kept, again.already) == (0, 2)
    assert {path.name: path.read_bytes() for path in school.scripts.iterdir()} == scripts
    records = mark_and_report(school)
    assert records["aa-00"].record.out_of == TASKS["weigh-mud"].marks + TASKS["set-the-pool"].marks
    assert records["aa-01"].record.out_of == TASKS["weigh-mud"].marks
    assert any("by Ida Moor (name typed)" in remark for remark in records["aa-00"].for_assessor)


def test_a_second_observer_is_kept_beside_the_first_who_counts_and_a_difference_is_told(school, tmp_path):
    step = critical(school, 1)
    take(school, saved(school, tmp_path / "one.json", seen(school, "aa-00", 1)))
    taken = take(
        school, saved(school, tmp_path / "two.json", seen(school, "aa-00", 1, {step: "N"}), observer="Ida Moor")
    )
    assert (taken.kept, taken.second) == (1, 1)
    result = mark_and_report(school)["aa-00"]
    assert result.record.marks == TASKS["weigh-mud"].marks
    assert any(
        f"observers of task 1: Ola Hand and Ida Moor differ in {step}; Ola Hand counts" in line
        for line in result.for_assessor
    )


def test_what_an_observer_says_otherwise_than_before_needs_replace(school, tmp_path):
    step = critical(school, 1)
    take(school, saved(school, tmp_path / "one.json", seen(school, "aa-00", 1)))
    other = saved(school, tmp_path / "two.json", seen(school, "aa-00", 1, {step: "N"}))
    with pytest.raises(GraderError, match=r"said something else of .* before; if this corrects it, add --replace"):
        take(school, other)
    take(school, other, replace_own=True)
    assert mark_and_report(school)["aa-00"].record.marks == TASKS["weigh-mud"].marks - 2


WHOLE = [
    ({"school": "elsewhere"}, "is of school elsewhere, not of marram; take it in that school"),
    ({"observer": " "}, "names no observer"),
    ({"observed": []}, "holds no task"),
    ({"more": 1}, "has other fields"),
]
PIECES = [
    ({"id": "zz-99"}, "names zz-99, who was issued no tasks"),
    ({"paper": "x"}, "has paper"),
    ({"task": 3}, "the sitting has no such task"),
    ({"minutes": -1}, "minutes cannot be"),
    ({"minutes": float("nan")}, "its text is no JSON"),
    ({"begun": "at noon"}, "tells no time"),
    ({"answers": {"1a": "X"}}, "is none of the letters"),
    ({"answers": {"9z": "D"}}, "has no part 9z"),
    ({"answers": {"1g": "D"}}, "is no number with its unit"),
    ({"answers": {"1g": {"typed": "1" * 61, "unit": "lb/gal"}}}, "is no text of at most 60 characters"),
    ({"note": "x\x07"}, "holds a character that cannot be typed"),
]


@pytest.mark.parametrize(
    ("whole", "piece", "says"), [*((w, {}, s) for w, s in WHOLE), *(({}, p, s) for p, s in PIECES)]
)
def test_a_file_that_is_not_wholly_the_pages_is_refused_in_one_line_and_nothing_is_written(
    school, tmp_path, whole, piece, says
):
    file = saved(school, tmp_path / "file.json", seen(school, "aa-00", 1) | piece, **whole)
    with pytest.raises(GraderError, match=rf"^file.json: .*{says}.*Nothing was written$"):
        take(school, file)
    assert not list(school.scripts.iterdir())
    assert not (school.records / FILE).exists()


def test_a_file_that_was_altered_in_an_editor_is_refused(school, tmp_path):
    file = saved(school, tmp_path / "file.json", seen(school, "aa-00", 1, {critical(school, 1): "N"}))
    file.write_text(file.read_text().replace('"N"', '"D"'))
    with pytest.raises(GraderError, match="was altered after it was saved"):
        take(school, file)


def test_an_observation_that_was_altered_on_the_disk_is_named(school, tmp_path):
    take(school, saved(school, tmp_path / "one.json", seen(school, "aa-00", 1)))
    path = school.records / FILE
    path.write_text(path.read_text().replace("Ola Hand", "Eve Hand"))
    with pytest.raises(GraderError, match="line 1"):
        Observations(school)


# What comes of it -----------------------------------------------------------------------------------------------------


def verdict(school: School, candidate: str) -> Any:
    return next(one for one in decide(school, gather(school)) if one.candidate.id == candidate)


def test_a_missed_critical_step_fails_whatever_else_was_done(school, tmp_path):
    step = critical(school, 2)
    take(school, saved(school, tmp_path / "f.json", seen(school, "aa-00", 1), seen(school, "aa-00", 2, {step: "N"})))
    mark_school(school, quiet, ONE_ROOM)
    found = verdict(school, "aa-00")
    assert found.percent > 90
    assert str(found.verdict) == "not yet competent"
    assert any(step in why for why in found.why)


def test_nobody_is_competent_while_a_task_or_a_critical_step_was_not_observed(school, tmp_path):
    step = critical(school, 2)
    take(school, saved(school, tmp_path / "one.json", seen(school, "aa-00", 1)))
    mark_school(school, quiet, ONE_ROOM)
    assert any("task 2, Set deck angle and pool, was not observed" in why for why in verdict(school, "aa-00").why)
    take(school, saved(school, tmp_path / "two.json", seen(school, "aa-00", 2, {step: "O"})))
    CliRunner().invoke(commands, ["mark", str(school.folder), "--again", "--reason", "the second station came"])
    found = verdict(school, "aa-00")
    assert str(found.verdict) == "pending"
    assert any(f"1 critical step not observed: {step}" in why for why in found.why)


def test_feedback_tells_step_by_step_what_was_seen_and_what_to_do_better(school, tmp_path):
    step = critical(school, 2)
    readings = {"1h": "12.9", "1d": "P"}
    take(
        school,
        saved(school, tmp_path / "f.json", seen(school, "aa-00", 1, readings), seen(school, "aa-00", 2, {step: "N"})),
    )
    mark_and_report(school)
    page = page_of(school, "aa-00")
    rows = {row.td.get_text(" ", strip=True): row.get_text(" ", strip=True) for row in page.select("tbody tr")}
    (missed,) = (text for text in rows.values() if "not done" in text)
    assert "Critical:" in missed
    assert next(p.advice for p in TASKS["set-the-pool"].exercise.parts if item_name(2, p.key) == step) in missed
    assert "12.9 lb/gal observer: 11.2 lb/gal 0 of 2 Read it again" in rows["Mud weight: the candidate's reading"]
    assert sum("prompted 1 of 2" in text for text in rows.values()) == 1


def test_a_file_with_a_task_twice_is_refused(school, tmp_path):
    with pytest.raises(GraderError, match="has a task of one candidate twice"):
        take(school, saved(school, tmp_path / "file.json", *[seen(school, "aa-00", 1)] * 2))


def test_a_second_attempt_counts_and_an_appeal_is_traced_from_page_to_trail(school, tmp_path):
    step = critical(school, 2)
    both = [seen(school, "aa-00", 1), seen(school, "aa-00", 2, {step: "N"})]
    take(school, saved(school, tmp_path / "first.json", *both))
    mark_school(school, quiet, ONE_ROOM)
    issue(school, school.sittings, quiet, 2, ["aa-00"])
    again = Register(school).paper_of(school.sittings[0].id, "aa-00", 2)
    assert again
    second = [one | {"paper": again.id} for one in (seen(school, "aa-00", 1), seen(school, "aa-00", 2))]
    take(school, saved(school, tmp_path / "second.json", *second, observer="Ida Moor", attempt=2))
    mark_school(school, quiet, ONE_ROOM)
    assert str(verdict(school, "aa-00").verdict) == "competent"
    appeal = ["change", str(school.folder), "aa-00", "2b", "1", "--kind", "appeal", "--reason", "the wind was loud"]
    assert CliRunner().invoke(commands, [*appeal, "--attempt", "2"]).exit_code == 0
    told = "\n".join(trail(school, "aa-00"))
    out_of = sum(TASKS[name].marks for name in WATCHED)
    for words in (
        "observed: task 2, by Ola Hand (name typed), Yard 2",
        "observed: task 2, by Ida Moor (name typed), Yard 2",
        "part 2b changed from 2 to 1, appeal: the wind was loud",
        f"now: {out_of - 1:g} of {out_of:g} marks",
    ):
        assert words in told
    assert any("2b" in line for line in explain(school, "aa-00", "2b", attempt=2))


def test_trail_tells_where_two_observers_differ_and_who_counts(school, tmp_path):
    step = critical(school, 1)
    take(school, saved(school, tmp_path / "one.json", seen(school, "aa-00", 1)))
    otherwise = seen(school, "aa-00", 1, {step: "N"})
    take(school, saved(school, tmp_path / "two.json", otherwise, observer="Ida Moor"))
    told = "\n".join(trail(school, "aa-00"))
    assert f"observers of task 1: Ola Hand and Ida Moor differ in {step}; Ola Hand counts" in told


def test_forgetting_a_candidate_takes_what_was_seen_out(school, tmp_path):
    note = seen(school, "aa-00", 1) | {"note": "Shaky hands after the night shift."}
    take(school, saved(school, tmp_path / "one.json", note, seen(school, "aa-01", 1)))
    mark_school(school, quiet, ONE_ROOM)
    held = {one.where: one.rows for one in Person(school, "aa-00").held()}
    assert held[f"records/{FILE}"] == 1
    forget(school, ["aa-00"], "asked for it", lambda: open_school(school.folder))
    assert "Shaky hands" not in (school.records / FILE).read_text()
    assert [one.note for one in Observations(school).all] == ["(forgotten)", ""]


# The whole day --------------------------------------------------------------------------------------------------------


class Device:
    """A tablet or laptop with a browser that keeps things on a disk of its own, and that can be killed."""

    def __init__(self, browser: Browser, disk: Path, page: Path, **options: Any) -> None:
        self._type, self._disk, self._page, self._options = browser.browser_type, disk, page, options
        self.page = self._start()

    def _start(self) -> Page:
        self._context = self._type.launch_persistent_context(
            str(self._disk),
            executable_path=chromium(),
            args=list(QUIET),
            viewport={"width": TABLET, "height": 1100},
            **self._options,
        )
        self._context.set_default_timeout(20_000)
        page = self._context.pages[0]
        page.goto(self._page.as_uri())
        page.wait_for_timeout(300)  # in which the page looks whether it has to open anew
        return page

    def killed(self) -> Page:
        """As when the battery is out: nobody has told the browser to end."""
        for process in psutil.process_iter(["cmdline"]):
            if any(str(self._disk) in one for one in process.info["cmdline"] or ()):
                with contextlib.suppress(psutil.NoSuchProcess):
                    process.kill()
        self.off()
        self.page = self._start()
        return self.page

    def off(self) -> None:
        with contextlib.suppress(Error):
            self._context.close()


def by_touch(page: Page, candidate: str, missed: int | None = None) -> None:
    """Everything done but the step at this place, and read as usual."""
    page.tap(f'#candidates button[data-id="{candidate}"]')
    page.tap("[data-begin]")
    for place, step in enumerate(page.locator(".saids").all()):
        step.locator("label").nth(2 if place == missed else 0).tap()
    in_field = page.locator(".number select").first.evaluate("one => one.value") == "lb/gal"
    for box in page.locator(".number input").all():
        box.fill("11.2" if in_field else "1.34")
    page.tap("[data-finish]")


def by_keyboard(page: Page, keys: str) -> None:
    """The candidate on whose button the focus lies, a letter a step; Enter ends the task."""
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowDown")
    for key in keys:
        page.keyboard.press(key)
    page.keyboard.press("Enter")


@pytest.mark.slow
def test_a_browser_that_is_killed_has_lost_nothing_that_was_finished(browser, school, tmp_path):
    """Local storage comes to the disk up to a minute late; what is kept beside it does not."""
    device = Device(browser, tmp_path / "disk", page_file(school, school.sittings[0]), has_touch=True)
    device.page.fill("#observer", "Ola Hand")
    by_touch(device.page, "aa-00")
    device.page.tap('#candidates button[data-id="aa-01"]')
    device.page.locator(".saids").first.locator("label").nth(1).tap()
    device.page.wait_for_timeout(600)
    page = device.killed()
    expect(page.locator('#candidates button[data-id="aa-00"]')).to_contain_text(f"finished, {SEEN} of {SEEN} seen")
    expect(page.locator('#candidates button[data-id="aa-01"]')).to_contain_text(f"begun, 1 of {SEEN} seen")
    assert page.input_value("#observer") == "Ola Hand"
    page.tap("[data-clear]")
    page.locator('[data-sure] button[value="clear"]').tap()
    page.wait_for_timeout(300)
    assert device.killed().input_value("#observer") == "", "what was cleared came back"
    device.off()


@pytest.mark.slow
def test_a_day_of_24_candidates_at_two_stations_loses_nothing_and_counts_nothing_twice(browser, tmp_path):
    """One observer by touch, one by keyboard alone; a reload and a crash at each; then what goes wrong with files."""
    school = with_tasks(tmp_path / "school", 24)
    elsewhere = with_tasks(tmp_path / "elsewhere", 24)
    settings = elsewhere.folder / "school.toml"
    settings.write_text(settings.read_text().replace('id = "marram"', 'id = "elsewhere"'))
    elsewhere = open_school(elsewhere.folder)
    (sitting,) = school.sittings
    write_page(school, sitting)
    everybody = [one.id for one in school.roster]
    mud = Device(browser, tmp_path / "mud", page_file(school, sitting), has_touch=True)
    mud.page.fill("#observer", "Ola Hand")
    mud.page.fill("#place", "Mud bench")
    # Of one candidate the water is not weighed, a critical step.
    missed = {"aa-07": 2}
    for number, candidate in enumerate(everybody):
        if number == 8:
            mud.page.reload()
        if number == 16:
            mud.page.wait_for_timeout(500)
            mud.killed()
        by_touch(mud.page, candidate, missed.get(candidate))
    pool = Device(browser, tmp_path / "pool", page_file(school, sitting))

    def focused_list(page: Page, begin: bool) -> None:
        page.locator("#observer").focus()
        if begin:
            page.keyboard.type("Ida Moor")
        page.keyboard.press("Tab")
        if begin:
            page.keyboard.type("Shaker 2")
        page.keyboard.press("Tab")
        page.keyboard.press("ArrowDown")
        open_yet = page.locator("#candidates button").all()
        for _ in range(next(i for i, one in enumerate(open_yet) if one.get_attribute("data-state") != "finished") + 1):
            page.keyboard.press("Tab")

    focused_list(pool.page, begin=True)
    steps = len(TASKS["set-the-pool"].exercise.items)
    for number in range(len(everybody)):
        if number == 5:
            pool.page.reload()
            focused_list(pool.page, begin=False)
        if number == 17:
            pool.page.wait_for_timeout(500)
            focused_list(pool.killed(), begin=False)
        by_keyboard(pool.page, ("D" * (steps - 1) + "P") if number % 2 else "D" * steps)
    first, second = save(mud.page, tmp_path / "mud.json"), save(pool.page, tmp_path / "pool.json")
    assert (take(school, first).kept, take(school, second).kept) == (24, 24)
    for file in (first, second):
        again = take(school, file)
        assert (again.kept, again.already) == (0, 24)
    altered = tmp_path / "altered.json"
    altered.write_text(second.read_text().replace('"P"', '"D"'))
    # A saved file in which another school stands, with a check that fits.
    theirs = json.loads(second.read_text()) | {"school": "elsewhere"}
    theirs["check"] = check_of(theirs)
    (tmp_path / "theirs.json").write_text(json.dumps(theirs))
    before = (school.records / FILE).read_bytes()
    for file, says in (
        (altered, "was altered after it was saved"),
        (tmp_path / "theirs.json", "is of school elsewhere"),
    ):
        with pytest.raises(GraderError, match=says):
            take(school, file)
    with pytest.raises(GraderError, match="is of school marram, not of elsewhere"):
        take(elsewhere, first)
    assert (school.records / FILE).read_bytes() == before
    # The second observer goes to the first station for two candidates, on the same device, after a crash.
    page = pool.killed()
    page.select_option("#task", "0")
    for candidate in ("aa-06", "aa-07"):
        page.click(f'#candidates button[data-id="{candidate}"]')
        for step in page.locator(".saids").all():
            step.locator("label").first.click()
        page.click("[data-finish]")
    taken = take(school, save(page, tmp_path / "both.json"))
    assert (taken.kept, taken.already, taken.second) == (2, 24, 2)
    mud.off()
    pool.off()
    records = mark_and_report(school)
    out_of = sum(TASKS[name].marks for name in WATCHED)
    for number, candidate in enumerate(everybody):
        lost = (2 if candidate in missed else 0) + (1 if number % 2 else 0)
        assert (records[candidate].record.marks, records[candidate].record.out_of) == (out_of - lost, out_of), candidate
    assert len(Observations(school).all) == 50
    verdicts = {one.candidate.id: one for one in decide(school, gather(school))}
    assert [one for one, found in verdicts.items() if found.verdict != "competent"] == ["aa-07"]
    assert verdicts["aa-07"].verdict == "pending", "two observers differ on a critical step"
