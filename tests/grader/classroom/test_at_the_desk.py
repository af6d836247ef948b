"""The classroom's room at the desk, and its command: open, look on, close."""

from __future__ import annotations

import http.client
import re
from collections.abc import Iterator

import pytest

from grader.classroom.room import is_open
from grader.store.log import CLASSROOM_TIME, HANDED_IN, Log
from grader.store.school import open_school
from tests.grader.desk.conftest import Opened, desks
from tests.grader.schools import SITTING


@pytest.fixture
def at_desk() -> Iterator[Opened]:
    with desks() as open_it:
        yield open_it


def say(address: str, method: str, path: str, body: str = "", cookie: str = "") -> http.client.HTTPResponse:
    line = http.client.HTTPConnection(address.removeprefix("http://"), timeout=20)
    head = {"Origin": address, "Content-Type": "application/x-www-form-urlencoded"}
    line.request(method, path, body, head | ({"Cookie": cookie} if cookie else {}))
    answer = line.getresponse()
    answer.said = answer.read().decode()
    line.close()
    return answer


def test_classroom_is_opened_looked_at_and_closed_at_the_desk(at_desk, school):
    desk = at_desk(school.folder)
    page = desk.get("classroom")
    assert "127.0.0.1" in page.text
    assert "Open the classroom" in page.text
    came = desk.press("open-classroom", session=SITTING, address="127.0.0.1", minutes="60")
    address = re.search(r"Open at (http://127\.0\.0\.1:\d+)", came.text)[1]
    assert is_open(school, SITTING)
    codes = re.findall(r'class="code">([\w-]+)<', desk.get(f"file/packs/{SITTING}/slips.html").text)
    assert len(codes) == 4
    entered = say(address, "POST", "/enter", f"code={codes[0]}")
    cookie = entered.headers["set-cookie"].partition(";")[0]
    token = re.search(r'name="token" value="([0-9a-f]+)"', say(address, "GET", "/begin", "", cookie).said)[1]
    assert say(address, "POST", "/begin", f"token={token}", cookie).status == 303
    page = desk.get("classroom").text
    assert "0 of " in page
    assert "60 minutes left" in page
    # The candidates' side leads nowhere into the desk, with its cookie or the desk's.
    for path in (f"{desk.base}/", f"{desk.base}/file/records/results.html", f"/enter/{desk.served.desk.entry.token}"):
        assert say(address, "GET", path, "", f"{cookie}; {desk.cookie}").status in (404, 405)
    assert "already" in desk.press("open-classroom", session=SITTING, address="127.0.0.1").text
    assert "no address of this machine" in desk.press("open-classroom", session=SITTING, address="192.0.2.7").text
    assert "10 minutes more" in desk.press("more-time", session=SITTING, candidate="aa-01", minutes="10").text
    assert "opens nothing any more" in desk.press("new-slip", session=SITTING, candidate="aa-01").text
    assert "the new slip of aa-01" in desk.get("classroom").text
    assert "60 minutes" in desk.get(f"file/packs/{SITTING}/slips_aa-01.html").text
    assert desk.get(f"file/packs/{SITTING}/slips.html").text.count('class="code"') == 4, "it may have to be printed yet"
    assert say(address, "POST", "/enter", f"code={codes[0]}").status == 403
    assert "Close it first" in desk.press("close").text
    asked = desk.press("hand-in-saved", session=SITTING)
    done = desk.press(re.search(r"sure/\d+", asked.text)[0])
    assert "1 script handed in" in done.text
    entered = say(address, "POST", "/enter", f"code={codes[1]}")
    cookie = entered.headers["set-cookie"].partition(";")[0]
    token = re.search(r'name="token" value="([0-9a-f]+)"', say(address, "GET", "/begin", "", cookie).said)[1]
    assert say(address, "POST", "/begin", f"token={token}", cookie).status == 303
    closed = desk.press("close-classroom", session=SITTING).text
    assert "is closed" in closed
    assert "1 candidate began day1 and did not hand in (aa-02)" in closed
    assert "“Hand in what is saved” in the room Classroom" in closed
    assert "pitside classroom" not in closed
    assert "is not open" in desk.press("new-slip", session=SITTING, candidate="aa-01").text
    assert "no sitting" in desk.press("close-classroom", session=f"{SITTING}_attempt²").text
    assert "Hand in what is saved" in desk.get("classroom").text, "also once it is closed"
    assert not is_open(school, SITTING)
    assert list((school.packs / SITTING).glob("slips*")) == []
    with pytest.raises(OSError):
        say(address, "GET", "/")
    log = Log(open_school(school.folder), only_read=True)
    assert [line["what"] for line in log.lines if line["what"] in (CLASSROOM_TIME, HANDED_IN)] == [
        CLASSROOM_TIME, HANDED_IN,
    ]  # fmt: skip
    assert len(list(school.scripts.iterdir())) == 1


def test_command_lists_the_addresses_and_opens_nothing_by_itself(pitside, school):
    status, said, complaints = pitside("classroom", school.folder, SITTING)
    assert status == 2
    assert "127.0.0.1" in said
    assert complaints == ""
    assert not (school.records / "classroom.db").exists()
    status, _, complaints = pitside("classroom", school.folder, SITTING, "--address", "192.0.2.7")
    assert status == 2
    assert re.fullmatch(r"pitside: 192\.0\.2\.7: no address of this machine[^\n]+\n", complaints)


def test_command_gives_time_and_hands_in_what_is_saved(pitside, opening, school):
    opened = opening(60)
    opened.browser().enter(opened.codes["aa-01"]).save(w_1a="0.052")
    assert pitside("classroom", school.folder, SITTING, "--more-time", "aa-01", "7,5")[:2] == (
        0,
        "aa-01 has 7.5 minutes more than the limit and the arrangements give.\n",
    )
    status, _, complaints = pitside("classroom", school.folder, SITTING, "--more-time", "aa-01", "much")
    assert (status, complaints) == (2, "pitside: much: write a number of minutes, such as 10\n")
    assert "1 script handed in with what was saved: aa-01." in pitside(
        "classroom", school.folder, SITTING, "--hand-in-saved"
    )[1]  # fmt: skip
    assert b"0.052" in next(school.scripts.iterdir()).read_bytes()
