"""A sitting in the classroom: codes, saving, two devices, time, handing in, and what lies among the scripts then."""

from __future__ import annotations

import hashlib
import json
import math
import re
import sqlite3
import threading

import pytest

from grader.classroom.clock import LONGEST_BREAK
from grader.classroom.codes import plain
from grader.classroom.drafts import drafts_file
from grader.classroom.looking_on import news, seen
from grader.classroom.room import Room
from grader.classroom.scripts_of_answers import script_of
from grader.classroom.slips import write_slips
from grader.marking.marking import mark_school
from grader.marking.records import read_record
from grader.marking.trail import trail
from grader.papers.issue import issue
from grader.privacy.export import write_export
from grader.privacy.privacy import forget, kept_lines
from grader.store.errors import GraderError
from grader.store.files import only_one
from grader.store.log import CLASSROOM_AFTER, CLASSROOM_CLASH, CLASSROOM_DEVICE, CLASSROOM_SLIP, HANDED_IN, Log
from grader.store.register import attempt_suffix, sitting_and_attempt
from grader.store.school import open_school
from tests.grader.classroom.conftest import Clock
from tests.grader.schools import ONE_ROOM, SITTING, paper_of, quiet, right_answers

KINDS = ("number", "choice", "order", "words")


def answers_of(opened, candidate):
    """The model answer to every item, as a page has it, and words where words are asked."""
    paper = paper_of(opened.room.school, candidate)
    items = opened.room.sheet(paper.id).data["items"]
    right = right_answers(paper.variants())
    found = {}
    for name, item in items.items():
        if item["kind"] == "number":
            found[name] = {"typed": str(right[name].value), "unit": right[name].unit}
        else:
            found[name] = "The screen is torn." if item["kind"] == "words" else str(right[name].value)
    assert {item["kind"] for item in items.values()} == set(KINDS)
    return found


def number(typed, unit="lb/gal"):
    return {"typed": typed, "unit": unit}


def log_of(school, what=None):
    log = Log(open_school(school.folder), only_read=True)
    return [line for line in log.lines if what is None or line["what"] == what]


def first_number(opened, candidate):
    items = opened.room.sheet(opened.paper(candidate)).data["items"]
    return next(name for name, item in items.items() if item["kind"] == "number")


# Handing in -----------------------------------------------------------------------------------------------------------


def test_script_handed_in_is_marked_as_one_that_came_on_a_stick(opening, school):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    answers = answers_of(opened, "aa-01")
    browser.save(**answers)
    receipt = browser.hand_in(opened.shown("aa-01")).json()["receipt"]
    (file,) = school.scripts.iterdir()
    assert file.name == receipt["file"] == "marram_day1_aa-01.ipynb"
    assert hashlib.sha256(file.read_bytes()).hexdigest() == receipt["digest"]
    opened.room.tick()
    tally = mark_school(open_school(school.folder), quiet, ONE_ROOM)
    assert (tally.marked, len(tally.refused)) == (1, 0)
    record = read_record(school, paper_of(school, "aa-01").id)
    sheet = opened.room.sheet(paper_of(school, "aa-01").id)
    words = {name for name, item in sheet.data["items"].items() if item["kind"] == "words"}
    assert set(record.pending) == words, "only what a person marks waits"
    short = [item.item for exercise in record.exercises for item in exercise.items if item.marks < item.out_of]
    assert len(short) == len(words), "the model's answers have all of their marks"
    told = "\n".join(trail(open_school(school.folder), "aa-01"))
    assert "begun in the classroom: no limit of time" in told
    assert f"handed in in the classroom: in time; receipt {receipt['digest'][:8]} …" in told


def test_handing_in_twice_gives_the_same_receipt_and_one_script(opening, school):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    browser.save(**{first_number(opened, "aa-01"): number("12")})
    shown = opened.shown("aa-01")
    first, second = (browser.hand_in(shown).json()["receipt"] for _ in range(2))
    opened.clock.pass_by(60)
    assert first == second == browser.hand_in(shown).json()["receipt"]
    assert len(list(school.scripts.iterdir())) == 1


def test_what_the_page_shows_is_what_is_handed_in_or_nothing_is(opening, school):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    browser.save(**{first_number(opened, "aa-01"): number("12")})
    shown = opened.shown("aa-01")
    other = {**shown, first_number(opened, "aa-01"): number("13")}
    assert browser.hand_in(other).status_code == 409
    assert browser.hand_in({}).status_code == 422
    assert list(school.scripts.iterdir()) == []
    assert browser.hand_in(shown).status_code == 200


def test_after_handing_in_nothing_changes_and_nothing_is_lost(opening, school):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    late = opened.browser("192.168.7.21").enter(opened.codes["aa-01"])
    item = first_number(opened, "aa-01")
    browser.save(**{item: number("12")})
    browser.hand_in(opened.shown("aa-01"))
    (file,) = school.scripts.iterdir()
    before = file.read_bytes()
    told = late.save(**{item: number("99")})
    assert told["receipt"]
    assert told["answers"][item]["value"] == number("12"), "the page goes on to show what was handed in"
    assert file.read_bytes() == before
    assert [(value, kept) for *_, value, _, kept in opened.room.drafts.saves(opened.paper("aa-01"))] == [
        (number("12"), True),
        (number("99"), False),
    ]
    opened.room.tick()
    assert len(log_of(school, CLASSROOM_AFTER)) == 1


def test_script_waits_for_a_full_disk_and_the_log_for_a_busy_school(opening, school):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    school.scripts.rmdir()
    school.scripts.write_text("something in the way")
    with only_one(school.folder):
        receipt = browser.hand_in(opened.shown("aa-01")).json()["receipt"]
        opened.room.tick()
        assert log_of(school) == []
    school.scripts.unlink()
    school.scripts.mkdir()
    again = opened.again()
    again.room.tick()
    again.room.tick()
    (file,) = school.scripts.iterdir()
    assert hashlib.sha256(file.read_bytes()).hexdigest() == receipt["digest"]
    (line,) = log_of(school, HANDED_IN)
    assert line["digest"] == receipt["digest"]
    again.room.close()


def test_instructor_hands_in_what_was_saved_by_who_left(opening, school):
    opened = opening()
    for candidate in ("aa-01", "aa-02"):
        opened.browser().enter(opened.codes[candidate]).save(**{first_number(opened, candidate): number("12")})
    opened.browser().enter(opened.codes["aa-03"], begin=False)
    assert opened.room.hand_in_saved() == ["aa-01", "aa-02"]
    assert opened.room.hand_in_saved() == []
    assert len(list(school.scripts.iterdir())) == 2
    opened.room.tick()
    assert all("by the instructor" in line["why"] for line in log_of(school, HANDED_IN))


# Saving ---------------------------------------------------------------------------------------------------------------


def test_what_was_said_to_be_saved_is_there_after_the_program_was_ended_at_once(opening):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    answers = {**answers_of(opened, "aa-01"), "w_1a": "0.052 × 12 × 9800"}
    browser.save(**answers)
    # Another connection, as another program has that begins anew; the first is not closed.
    again = opened.again()
    assert again.shown("aa-01") == opened.shown("aa-01")
    assert again.shown("aa-01")["working 1a"] == "0.052 × 12 × 9800"
    browser.client = again.browser().client
    assert again.browser().client.get("/paper", follow_redirects=False).status_code == 303
    again.room.close()


def test_device_stays_let_in_when_the_program_is_started_again(opening):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    again = opened.again()
    other = again.browser()
    other.client.cookies = browser.client.cookies
    other.token = browser.token
    assert other.save(**{first_number(opened, "aa-01"): number("7")})["receipt"] is None
    again.room.close()


def test_message_that_comes_twice_counts_once(opening):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    item = first_number(opened, "aa-01")
    for _ in range(3):
        browser.save("the-same-message-1", **{item: number("12")})
    browser.save("another-message-01", **{item: number("13")})
    browser.save("the-same-message-1", **{item: number("12")})
    assert opened.shown("aa-01")[item] == number("13")
    assert len(opened.room.drafts.saves(opened.paper("aa-01"))) == 2


def test_file_is_written_ahead_and_waits_for_the_disk(opening, school):
    opened = opening()
    db = opened.room.drafts._db
    assert db.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    assert db.execute("PRAGMA synchronous").fetchone()[0] == 2, "2 is FULL: https://sqlite.org/pragma.html"
    assert drafts_file(school).stat().st_mode & 0o077 == 0


def test_one_answer_that_is_none_does_not_hold_up_the_others(opening):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    item = first_number(opened, "aa-01")
    told = browser.save(**{item: number("12"), "w_1a": "x" * 50_001, "9z": "no such part"})
    assert set(told["refused"]) == {"working 1a", "9z"}
    assert opened.shown("aa-01")[item] == number("12")


def test_halves_of_a_sign_do_no_harm(opening, school):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    sent = {"value": "HALFx", "base": 0, "ago": 0}
    message = {"name": "a-message-of-mine1", "seen": 0, "answers": {"working 1a": sent}}
    body = json.dumps(message).replace("HALF", "\\ud800")
    answer = browser.client.post(
        "/save", content=body, headers={"X-Pitside-Page": browser.token, "Content-Type": "application/json"}
    )
    assert answer.status_code == 200
    assert opened.shown("aa-01")["working 1a"] == "�x"
    assert browser.hand_in(opened.shown("aa-01")).status_code == 200


# Two devices ----------------------------------------------------------------------------------------------------------


def test_device_that_dies_goes_on_elsewhere_with_what_was_saved(opening):
    opened = opening(60)
    first = opened.browser().enter(opened.codes["aa-01"])
    first.save(**answers_of(opened, "aa-01"))
    opened.clock.pass_by(600)
    second = opened.browser("192.168.7.33").enter(opened.codes["aa-01"])
    told = second.save()
    assert {name: one["value"] for name, one in told["answers"].items()} == answers_of(opened, "aa-01")
    assert told["left"] == 3000, "its time goes on"


def test_of_two_devices_the_later_answer_is_kept_both_are_told_and_both_stand_in_the_trail(opening, school):
    opened = opening()
    one = opened.browser().enter(opened.codes["aa-01"])
    two = opened.browser("192.168.7.33").enter(opened.codes["aa-01"])
    item = first_number(opened, "aa-01")
    opened.clock.pass_by(30)
    assert two.save()["others"] == 1
    opened.clock.pass_by(3600)
    # Typed ten minutes ago without a network, and another answer on the other device since.
    two.save(**{item: number("222")}, ago=60)
    told = one.save(**{item: number("111")}, ago=600)
    assert told["answers"][item] == {"value": number("222"), "number": 1, "own": False}
    assert opened.shown("aa-01")[item] == number("222")
    # Seen now, so another answer counts, whatever the clocks say.
    assert one.save(**{item: number("333")}, ago=900)["answers"][item]["value"] == number("333")
    assert two.save()["answers"][item]["value"] == number("333"), "the other page is told"
    opened.room.tick()
    (clash,) = log_of(school, CLASSROOM_CLASH)
    assert "222" in clash["why"]
    assert "111" in clash["why"]
    assert len(log_of(school, CLASSROOM_DEVICE)) == 1
    assert len(opened.room.drafts.saves(opened.paper("aa-01"))) == 3


def test_later_answer_of_a_device_that_saw_nothing_wins(opening):
    opened = opening()
    one = opened.browser().enter(opened.codes["aa-01"])
    two = opened.browser("192.168.7.33").enter(opened.codes["aa-01"])
    item = first_number(opened, "aa-01")
    opened.clock.pass_by(3600)
    one.save(**{item: number("111")}, ago=600)
    two.save(**{item: number("222")}, ago=60)
    assert opened.shown("aa-01")[item] == number("222")


# Time -----------------------------------------------------------------------------------------------------------------


def test_time_begins_with_start_and_arrangements_add_to_it(opening):
    opened = opening(60)
    plain_time = opened.browser().enter(opened.codes["aa-01"], begin=False)
    opened.clock.pass_by(3600)
    plain_time.begin()
    more = opened.browser().enter(opened.codes["aa-04"])
    assert plain_time.save()["left"] == 60 * 60
    assert more.save()["left"] == 75 * 60, "25 % more, by the roster"


def test_arrangement_that_was_written_down_this_morning_counts(opening, school):
    opened = opening(60)
    opened.room.sheet(opened.paper("aa-01"))  # it was looked at before
    browser = opened.browser().enter(opened.codes["aa-01"], begin=False)
    roster = school.folder / "roster.csv"
    lines = roster.read_text(encoding="utf-8").splitlines()
    (old,) = (line for line in lines if line.startswith("aa-01"))
    new = old.replace("Ingrid Sølvberg", "Ingrid S. Sølvberg") + "15 minutes more"
    roster.write_text("\n".join([*(new if line == old else line for line in lines), ""]), encoding="utf-8")
    opened.room.tick()
    page = browser.client.get("/begin").text
    assert "75 minutes" in page
    assert "Ingrid S. Sølvberg" in page
    browser.begin()
    assert browser.save()["left"] == 75 * 60


@pytest.mark.parametrize("jump", [86_400, -86_400, 3_600, -3_600])
def test_clock_of_the_machine_that_is_set_gives_and_takes_no_time(opening, jump):
    opened = opening(60)
    browser = opened.browser().enter(opened.codes["aa-01"])
    opened.clock.pass_by(600)
    opened.clock.jump(jump)
    assert browser.save()["left"] == 3000
    opened.room.tick()
    opened.clock.jump(jump)  # also while the program does not run
    again = opened.again()
    other = again.browser()
    other.client.cookies, other.token = browser.client.cookies, browser.token
    again.clock.pass_by(60)
    assert other.save()["left"] == 2940
    again.room.close()


def test_where_the_machine_was_started_anew_its_clock_of_the_day_tells_how_long_that_took(opening):
    opened = opening(60)
    opened.browser().enter(opened.codes["aa-01"])
    opened.room.tick()
    opened.clock.pass_by(300)
    opened.clock.seconds = 5.0  # the even clock begins with the machine
    again = opened.again()
    assert again.room.left(opened.paper("aa-01"), "aa-01") == 3300
    again.room.close()


def test_time_goes_on_while_the_program_is_not_running(opening):
    opened = opening(60)
    browser = opened.browser().enter(opened.codes["aa-01"])
    opened.room.tick()
    opened.clock.pass_by(300)
    again = opened.again()
    other = again.browser()
    other.client.cookies, other.token = browser.client.cookies, browser.token
    assert other.save()["left"] == 3300
    again.clock.pass_by(LONGEST_BREAK + 1)
    once_more = again.again()
    assert once_more.room.left(opened.paper("aa-01"), "aa-01") == 3300, "nobody sits overnight"
    again.room.close()
    once_more.room.close()


def test_late_is_marked_late_and_not_lost(opening, school):
    opened = opening(60)
    browser = opened.browser().enter(opened.codes["aa-01"])
    item = first_number(opened, "aa-01")
    browser.save(**{item: number("12")})
    opened.clock.pass_by(3600 + 5 * 60)
    browser.save(**{"w_1a": "too late"})
    receipt = browser.hand_in(opened.shown("aa-01")).json()["receipt"]
    assert receipt["late"] == 5
    (file,) = school.scripts.iterdir()
    assert b"too late" in file.read_bytes()
    opened.room.tick()
    (line,) = log_of(school, HANDED_IN)
    assert line["late"] == 5
    assert line["why"].startswith("5 minutes late, 1 answer saved late; receipt ")
    assert "5 minutes late" in "\n".join(news(opened.room, {})[0])


def test_answer_that_is_saved_late_again_and_again_is_one_late_answer(opening, school):
    opened = opening(60)
    browser = opened.browser().enter(opened.codes["aa-01"])
    opened.clock.pass_by(3600 + 21)
    for words in ("t", "to", "too late"):
        browser.save(w_1a=words)
    browser.hand_in(opened.shown("aa-01"))
    opened.room.tick()
    (line,) = log_of(school, HANDED_IN)
    assert line["why"].startswith("1 minute late, 1 answer saved late; receipt ")


def test_minute_that_has_begun_counts_for_the_instructor_as_on_the_page(opening):
    opened = opening(60)
    browser = opened.browser().enter(opened.codes["aa-01"])

    def told(seconds):
        opened.clock.pass_by(seconds)
        return "\n".join(news(opened.room, {})[0])

    assert "31 minutes left" in told(1770)
    assert "last seen 60 min ago, 1 minute left" in told(1780)
    assert "time is over" in told(60)
    opened.clock.pass_by(61)
    assert browser.hand_in(opened.shown("aa-01")).json()["receipt"]["late"] == 2
    assert "2 minutes late" in told(0)


def test_looking_on_asks_as_often_for_many_candidates_as_for_few(opening):
    opened = opening(60)
    asked: list[str] = []

    def count():
        asked.clear()
        opened.room.drafts._db.set_trace_callback(asked.append)
        seen(opened.room)
        opened.room.drafts._db.set_trace_callback(None)
        return len(asked)

    opened.browser().enter(opened.codes["aa-01"]).save(w_1a="x")
    one = count()
    for candidate in ("aa-02", "aa-03", "aa-04"):
        opened.browser().enter(opened.codes[candidate]).save(w_1a="x")
    assert count() == one > 0


def test_more_time_on_the_day_counts_at_once_and_stands_in_the_trail(opening, school):
    opened = opening(60)
    browser = opened.browser().enter(opened.codes["aa-01"])
    opened.clock.pass_by(3600 + 300)
    assert browser.save()["left"] == -300
    opened.room.give_minutes("aa-01", 10)
    assert browser.save()["left"] == 300
    assert browser.hand_in(opened.shown("aa-01")).json()["receipt"]["late"] == 0
    opened.room.tick()
    assert "10 minutes more" in "\n".join(trail(open_school(school.folder), "aa-01"))


@pytest.mark.parametrize("minutes", [math.nan, math.inf, -math.inf, -5.0, 0.0, 1e9])
def test_minutes_that_are_no_limit_of_time_are_refused_everywhere(opening, pitside, school, minutes):
    opened = opening(60)
    with pytest.raises(GraderError, match="minutes"):
        Room(school.folder, SITTING, minutes=minutes)
    with pytest.raises(GraderError, match="minutes"):
        opened.room.give_minutes("aa-01", minutes)
    assert opened.room.drafts.given_minutes(SITTING, "aa-01") == 0
    for words in (("--more-time", "aa-01", f"{minutes}"), ("--address", "127.0.0.1", "--minutes", f"{minutes}")):
        status, _, complaints = pitside("classroom", school.folder, SITTING, *words)
        assert status == 2
        assert re.fullmatch(r"pitside: [^\n]*minutes[^\n]*\n", complaints)


# The instructor -------------------------------------------------------------------------------------------------------


def test_instructor_sees_how_far_each_is_and_nothing_of_what_was_answered(opening):
    opened = opening(60)
    browser = opened.browser().enter(opened.codes["aa-01"])
    item = first_number(opened, "aa-01")
    browser.save(**{item: number("731.25"), "w_1a": "not counted"})
    opened.clock.pass_by(120)
    shown = {one.candidate.id: one for one in seen(opened.room)}
    assert (shown["aa-01"].answered, shown["aa-01"].ago) == (1, 120)
    assert shown["aa-02"].begun == ""
    assert shown["aa-04"].minutes == 75
    told = "\n".join(news(opened.room, {})[0])
    assert "1 of 4 candidates began, 0 handed in" in told
    assert "aa-01: 1 of" in told
    assert "last seen 2 min ago" in told
    assert "731" not in told


def test_instructor_is_told_of_who_begins_goes_comes_back_and_hands_in_and_of_nothing_else(opening):
    opened = opening(60)
    told, stood = news(opened.room, {})
    assert told == []
    browser = opened.browser().enter(opened.codes["aa-01"])
    steps = []
    for seconds, work in (
        (1, lambda: None),
        (1, lambda: browser.save(**{first_number(opened, "aa-01"): number("1")})),
        (120, lambda: None),
        (1, lambda: browser.save(w_1a="x")),
        (1, lambda: browser.hand_in(opened.shown("aa-01"))),
        (120, lambda: None),
    ):
        opened.clock.pass_by(seconds)
        work()
        told, stood = news(opened.room, stood)
        steps.append(len(told))
    assert steps == [2, 0, 2, 2, 2, 0]


def test_candidate_who_comes_late_gets_a_slip_while_the_classroom_is_open(opening, school):
    opened = opening()
    roster = school.folder / "roster.csv"
    roster.write_text(roster.read_text(encoding="utf-8") + "aa-05,Late Comer,Larkwater,day crew,field,\n", "utf-8")
    fresh = open_school(school.folder)
    issue(fresh, fresh.sittings, quiet)
    opened.room.tick()
    (code,) = opened.room.new_codes(["aa-05"]).values()
    opened.browser().enter(code)


def test_lost_slip_is_replaced_and_the_old_code_opens_nothing(opening, school):
    opened = opening()
    old = opened.codes["aa-01"]
    first = opened.browser().enter(old)
    (new,) = opened.room.new_codes(["aa-01"]).values()
    assert first.post("/save", {}).status_code == 401, "who has the old slip is out"
    opened.room.tick()
    assert len(log_of(school, CLASSROOM_SLIP)) == 1
    assert opened.browser().client.post("/enter", data={"code": old}).status_code == 403
    opened.browser().enter(new)
    opened.browser().enter(opened.codes["aa-02"])


def test_code_that_is_replaced_while_it_is_looked_up_opens_nothing(opening, monkeypatch):
    opened = opening()
    whose, room = opened.room.drafts.whose, opened.room
    slip = threading.Thread(target=room.new_codes, args=(["aa-01"],))

    def whose_then(*asked):
        found = whose(*asked)
        if slip.ident is None:
            slip.start()
            slip.join(1)
        return found

    monkeypatch.setattr(room.drafts, "whose", whose_then)
    found = room.let_in(opened.codes["aa-01"])
    slip.join(20)
    assert found is None or room.device(found[0]) is None


def test_codes_stand_on_the_slips_and_nowhere_in_the_school(opening, school):
    opened = opening(60)
    page = write_slips(opened.room, "http://192.168.7.1:8420")
    text = page.read_text(encoding="utf-8")
    assert page.stat().st_mode & 0o077 == 0
    codes = re.findall(r'class="code">([\w-]+)<', text)
    assert len(codes) == len(set(codes)) == 4
    # 32 letters to choose from, 5 bits each.
    assert all(len(plain(code)) * 5 >= 80 for code in codes)
    assert "75 minutes" in text
    assert "not encrypted" in text
    for path in school.folder.rglob("*"):
        if path.is_file() and path != page:
            data = path.read_bytes()
            assert not any(code.encode() in data or plain(code).encode() in data for code in codes), path


def test_session_is_read_as_it_is_named():
    for attempt in (1, 2, 99):
        assert sitting_and_attempt(SITTING + attempt_suffix(attempt)) == (SITTING, attempt)
    for other in ("day1_attempt", "day1_attempt²", "day1_attempt0", "day1_attempt-2"):
        assert sitting_and_attempt(other) == (other, 1), "no session of ours, so no sitting has it"


# Privacy --------------------------------------------------------------------------------------------------------------


def test_nothing_of_a_person_is_left_in_the_classrooms_file_when_they_are_forgotten(opening, school):
    opened = opening()
    said = "Because the fjord froze in October"
    browser = opened.browser().enter(opened.codes["aa-01"])
    second = opened.browser().enter(opened.codes["aa-01"])
    browser.save(w_1a=f"{said}, says Ingrid")
    second.save(w_1a=f"{said} and again", ago=1)
    browser.hand_in(opened.shown("aa-01"))
    opened.browser().enter(opened.codes["aa-02"]).save(w_1a="another person's")
    opened.room.tick()
    write_slips(opened.room, "http://192.168.7.1:8420")
    holds = open_school(school.folder)
    assert any("classroom" in line for line in kept_lines(holds, "aa-01"))
    export = write_export(holds, "aa-01")
    import zipfile

    with zipfile.ZipFile(export) as packed:
        assert said in packed.read("classroom.csv").decode("utf-8-sig")
        assert "another" not in packed.read("classroom.csv").decode("utf-8-sig")
    forget(holds, ["aa-01"], "asked for it", lambda: open_school(school.folder))
    paper = opened.paper("aa-01").encode()
    for path in school.folder.rglob("*"):
        if path.is_file():
            data = path.read_bytes()
            assert b"fjord" not in data, path
            assert path.name.startswith(("register", "log")) or paper not in data, path
    assert opened.shown("aa-02")["working 1a"] == "another person's"


def test_damaged_file_of_the_classroom_is_told_in_one_line(school):

    drafts_file(school).parent.mkdir(exist_ok=True)
    drafts_file(school).write_bytes(b"no database" * 100)
    with pytest.raises(GraderError, match=r"classroom.db: cannot be opened"):
        Room(school.folder, SITTING, clocks=Clock().clocks)


def test_sitting_without_papers_cannot_be_opened(tmp_path):
    from tests.grader.schools import make_school

    school = make_school(tmp_path / "nothing-issued")
    with pytest.raises(GraderError, match="nobody was issued a paper of day1"):
        Room(school.folder, SITTING)
    with pytest.raises(GraderError, match="no sitting 'day9'"):
        Room(school.folder, "day9")
    assert not drafts_file(school).exists()


def test_answer_is_written_once_in_all_tables_that_count(opening):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    browser.save(**answers_of(opened, "aa-01"))
    paper = opened.paper("aa-01")
    with sqlite3.connect(opened.room.drafts.path) as db:
        rows = db.execute("SELECT item, COUNT(*) FROM answers WHERE paper = ? GROUP BY item", (paper,)).fetchall()
    assert {count for _, count in rows} == {1}
    script = json.loads(script_of(opened.room.sheet(paper).data, opened.shown("aa-01")))
    answers = script["metadata"]["pitside"]["worksheet"]["answers"]
    assert {name: answers[name] for name, _ in rows} == answers_of(opened, "aa-01")


def test_paper_whose_exercise_changed_since_it_was_issued_is_not_handed_out(school, monkeypatch):
    from grader.classroom.serving import prepared
    from grader.store import register

    room = Room(school.folder, SITTING)

    def changed(paper):
        raise GraderError("exercise weight-up-growing changed since it was issued")

    monkeypatch.setattr(register.Paper, "variants", changed)
    with pytest.raises(GraderError, match="changed since"):
        prepared(room, "127.0.0.1", 1)
    room.close()
