"""Who may reach the classroom: each other way in is tried, on the application and on a server that listens."""

from __future__ import annotations

import http.client
import json
import re
import socket
import threading
from collections.abc import Iterator
from contextlib import suppress

import pytest

from grader.classroom import serving
from grader.classroom.codes import ALPHABET, new_code
from grader.classroom.door import FREE_TRIES, MOST_BYTES
from grader.classroom.drafts import MOST_DEVICES
from grader.classroom.own_certificate import own_certificate
from grader.classroom.room import Room
from grader.classroom.serving import Served, addresses, picked, prepared
from grader.classroom.slips import write_slips
from grader.store.errors import GraderError
from tests.grader.classroom.conftest import HOST
from tests.grader.schools import SITTING, paper_of

#: Everything that a classroom has, and what a change of it is.
PAGES = ("/", "/begin", "/paper")
CHANGES = ("/enter", "/begin", "/save", "/hand-in", "/leave")


def number(typed):
    return {"typed": typed, "unit": "lb/gal"}


# Being let in ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", ["", "0000-0000-0000-0000", "guess", "x" * 60, "' OR 1=1 --", "\0", "０" * 16])
def test_who_has_no_code_is_not_let_in(opening, code):
    opened = opening()
    browser = opened.browser()
    answer = browser.client.post("/enter", data={"code": code}, follow_redirects=False)
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers
    for page in ("/begin", "/paper"):
        answer = browser.client.get(page, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/")
    for message in ("/save", "/hand-in", "/leave"):
        assert browser.post(message, {"answers": {}}).status_code == 401
    assert "Ingrid" not in browser.client.get("/").text


def test_code_is_read_as_people_type_it(opening):
    opened = opening()
    code = opened.codes["aa-01"]
    for typed in (code.lower(), code.replace("-", ""), code.replace("-", " "), f"  {code} ", code.replace("0", "o")):
        opened.browser().enter(typed)
    assert len(set(ALPHABET) & set("ILOU")) == 0


def test_guessing_is_slowed_by_address_and_holds_up_nobody_who_has_a_code(opening):
    opened = opening()
    guesser = opened.browser("192.168.7.66")

    def guess(browser, code=None):
        return browser.client.post("/enter", data={"code": code or new_code()}, follow_redirects=False).status_code

    assert [guess(guesser) for _ in range(FREE_TRIES)] == [403] * FREE_TRIES
    assert guess(guesser) == 429
    passed = 0
    for _ in range(120):
        opened.clock.pass_by(5)
        passed += guess(guesser) == 403
    assert passed < 30, "in ten minutes"
    # A whole class may come by one address, and a code cannot be found by trying: it has 80 bits.
    assert guess(opened.browser("192.168.7.66"), opened.codes["aa-01"]) == 303
    assert [guess(guesser) for _ in range(FREE_TRIES)] == [403] * FREE_TRIES, "a right code ends the wait of an address"


def test_codes_that_begin_alike_hold_up_nobody(opening):
    opened = opening()
    begins = opened.codes["aa-02"][:4]
    for each in range(FREE_TRIES + 4):
        data = {"code": begins + new_code()[4:]}
        assert opened.browser(f"192.168.8.{each}").client.post("/enter", data=data).status_code == 403
    opened.browser("192.168.9.1").enter(opened.codes["aa-02"])


def test_wrong_code_changes_nothing_in_the_classrooms_file(opening):
    opened = opening()
    db = opened.room.drafts._db
    before = db.total_changes
    begun = []
    db.set_trace_callback(lambda said: begun.append(said) if said.startswith("BEGIN") else None)
    assert opened.browser().client.post("/enter", data={"code": new_code()}).status_code == 403
    assert (db.total_changes, begun) == (before, []), "a guess waits for no turn to write, and takes none"


def test_one_code_opens_so_many_devices_and_no_more(opening):
    opened = opening()
    for _ in range(MOST_DEVICES):
        opened.browser().enter(opened.codes["aa-01"])
    answer = opened.browser().client.post("/enter", data={"code": opened.codes["aa-01"]}, follow_redirects=False)
    assert answer.status_code == 403
    assert "too many devices" in answer.text


def test_cookie_is_for_the_browser_alone_and_kept_as_a_digest(opening, school):
    opened = opening()
    browser = opened.browser()
    answer = browser.client.post("/enter", data={"code": opened.codes["aa-01"]}, follow_redirects=False)
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert "Path=/" in cookie
    value = re.search(r"=([^;]+)", cookie)[1].encode()
    assert len(value) >= 43, "256 bits"
    for path in school.folder.rglob("*"):
        assert not path.is_file() or value not in path.read_bytes(), path


@pytest.mark.parametrize("cookie", ["", "guessed", "a" * 43, '"; DROP TABLE devices; --', "\\", "x=y; ;;"])
def test_guessed_cookie_opens_nothing(opening, cookie):
    opened = opening()
    opened.browser().enter(opened.codes["aa-01"])
    headers = {"Cookie": f"pitside_room_8420={cookie}"}
    assert opened.browser().client.get("/paper", headers=headers, follow_redirects=False).status_code == 303


def test_who_left_is_not_let_in_any_more(opening):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    assert browser.post("/leave", {}).status_code == 200
    assert browser.post("/save", {}).status_code == 401


def test_browser_whose_paper_was_handed_in_asks_for_the_code_of_the_next(opening):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    assert browser.client.get("/", follow_redirects=False).headers["location"] == "/begin"
    assert browser.hand_in(opened.shown("aa-01")).status_code == 200
    page = browser.client.get("/")
    assert "The code on your slip" in page.text
    assert "Ingrid" not in page.text
    assert "Ingrid" in browser.client.get("/paper").text, "its receipt can be read again"
    browser.enter(opened.codes["aa-02"])
    assert "aa-01" not in browser.client.get("/paper").text


# Others' papers -------------------------------------------------------------------------------------------------------


def test_candidate_reaches_one_paper_and_nothing_of_the_school(opening, school):
    (school.folder / "signing.key").write_text("a secret")
    (school.records / "results.html").write_text("<title>Results</title>")
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    page = browser.client.get("/paper").text
    assert "Ingrid" in page
    for other in ("aa-02", "aa-03", "aa-04"):
        assert other not in page
        assert paper_of(school, other).id not in page
    assert school.key.hex() not in page
    for variant in paper_of(school, "aa-01").variants():
        assert variant.scheme_digest not in page
    for path in (
        "/school.key", "/signing.key", "/register.jsonl", "/roster.csv", "/records/results.html", "/classroom.db",
        "/../school.key", "/%2e%2e/school.key", "/paper/aa-02", "/paper?paper=aa-02", "/static/x", "/desk", "/enter/x",
        "/file/records/results.html", "/do/issue", "/docs", "/openapi.json", "//etc/passwd", "/paper/../../school.key",
    ):  # fmt: skip
        answer = browser.client.get(path, follow_redirects=False)
        assert answer.status_code in (404, 405) or answer.text == page, path
        assert school.key.hex() not in answer.text


@pytest.mark.parametrize("message", ["/save", "/hand-in", "/leave"])
def test_page_of_another_paper_changes_nothing(opening, message):
    opened = opening()
    own = opened.browser().enter(opened.codes["aa-01"])
    other = opened.browser().enter(opened.codes["aa-02"])
    own.save(w_1a="mine")
    before = opened.shown("aa-01"), opened.shown("aa-02")
    own.token = other.token
    assert own.post(message, {"answers": {}}).status_code == 403
    assert (opened.shown("aa-01"), opened.shown("aa-02")) == before
    for paper in ("aa-01", "aa-02"):
        assert opened.room.drafts.hand_in(opened.paper(paper)) is None


def test_paper_that_was_not_begun_shows_no_question(opening):
    opened = opening(60)
    browser = opened.browser().enter(opened.codes["aa-01"], begin=False)
    assert browser.client.get("/paper", follow_redirects=False).headers["location"] == "/begin"
    page = browser.client.get("/begin").text
    assert "barite" not in page
    token = re.search(r'name="token" value="([0-9a-f]+)"', page)[1]
    browser.token = token
    assert browser.post("/save", {"name": "x" * 20, "seen": 0, "answers": {}}).status_code == 422
    assert browser.post("/hand-in", {"answers": {}}).status_code == 422
    assert browser.client.post("/begin", data={"token": "guessed"}).status_code == 403
    assert opened.room.drafts.begun(opened.paper("aa-01")) is None


# Pages of other sites -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "host",
    ["attacker.example", "localhost:8420", "192.168.7.1", "192.168.7.1:1", "attacker.example:8420", "[::1]:8420"],
)
def test_name_of_another_site_that_leads_here_gets_nothing(opening, host):
    """DNS rebinding: the browser believes it is at the other site, and names it as the host."""
    browser = opening().browser()
    answer = browser.client.get("/", headers={"Host": host})
    assert answer.status_code == 421
    assert "Marram" not in answer.text


@pytest.mark.parametrize("origin", ["", "null", "http://attacker.example", f"https://{HOST}", "http://192.168.7.1"])
@pytest.mark.parametrize("change", CHANGES)
def test_change_from_a_page_of_another_site_is_refused(opening, origin, change):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    headers = {"Origin": origin, "X-Pitside-Page": browser.token}
    # What each takes when it comes from a page of the classroom.
    forms = {"/enter": {"code": opened.codes["aa-02"]}, "/begin": {"token": browser.token}}
    sent = {"data": forms[change]} if change in forms else {"json": {"answers": {}}}
    answer = browser.client.post(change, headers=headers, follow_redirects=False, **sent)
    assert answer.status_code == 403
    assert "from no page of the classroom" in answer.text
    assert "set-cookie" not in answer.headers
    assert opened.room.drafts.hand_in(opened.paper("aa-01")) is None


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_page_of_another_site_sees_the_first_page_alone(opening, site):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    headers = {"Sec-Fetch-Site": site}
    assert browser.client.get("/paper", headers=headers, follow_redirects=False).status_code == 403
    fresh = opened.browser().client.get("/", headers=headers)
    assert fresh.status_code == 200, "a square that was photographed may lead here"
    assert "Ingrid" not in fresh.text


@pytest.mark.parametrize("path", [*PAGES, "/none", "/save"])
def test_every_answer_says_what_may_be_done_with_it(opening, path):
    opened = opening()
    headers = opened.browser().enter(opened.codes["aa-01"]).client.get(path).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "no-store"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert "access-control-allow-origin" not in headers


def test_pages_run_their_own_scripts_alone(opening):
    opened = opening(60)
    browser = opened.browser()
    pages = [browser.client.get("/")]
    browser.enter(opened.codes["aa-01"], begin=False)
    pages.append(browser.client.get("/begin"))
    browser.begin()
    pages.append(browser.client.get("/paper"))
    for page in pages:
        policy = page.headers["content-security-policy"]
        assert "unsafe" not in policy
        assert "connect-src 'self'" in policy
        scripts = re.findall(r"<script([^>]*)>", page.text)
        assert all(one in ("", ' type="application/json" id="paper"') for one in scripts)
        assert len(re.findall(r"script-src[^;]*'sha256-", policy)) == (1 if "" in scripts else 0)
        assert not re.search(r"\son[a-z]+=|javascript:| style=", page.text)


def test_words_of_a_roster_are_text_on_the_pages(opening, school):
    roster = school.folder / "roster.csv"
    evil = "<script>alert(1)</script>"
    roster.write_text(roster.read_text(encoding="utf-8").replace("Ingrid Sølvberg", evil), encoding="utf-8")
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"], begin=False)
    assert evil not in browser.client.get("/begin").text
    browser.begin()
    assert "<script>alert" not in browser.client.get("/paper").text


# What is sent ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "body",
    [
        b"", b"{", b"[]", b"null", b"1", b'"x"', b"\xff\xfe", b"[" * 100_000, b"{}",
        b'{"name": "short", "seen": 0, "answers": {}}', b'{"name": 5, "seen": 0, "answers": {}}',
        b'{"name": "0123456789abcdef", "seen": -1, "answers": {}}',
        b'{"name": "0123456789abcdef", "seen": true, "answers": {}}',
        b'{"name": "0123456789abcdef", "seen": 0, "answers": []}',
        b'{"name": "0123456789abcdef", "seen": 0, "answers": {"1a": 5}}',
        b'{"name": "0123456789abcdef", "seen": 0, "answers": {"1a": {"value": "x"}}}',
        b'{"name": "0123456789abcdef", "seen": 0, "answers": {"1a": {"value": "x", "base": 0, "ago": NaN}}}',
        b'{"name": "0123456789abcdef", "seen": 0, "answers": {"1a": {"value": "x", "base": 0, "ago": -5}}}',
        b'{"name": "0123456789abcdef", "seen": 0, "answers": {"1a": {"value": "x", "base": 1e400, "ago": 0}}}',
        b'{"name": "0123456789abcdef", "seen": ' + b"9" * 5000 + b', "answers": {}}',
        b'{"name": "0123456789abcde\\ud800", "seen": 0, "answers": {}}',
        '{"name": "0123456789abcdeé", "seen": 0, "answers": {}}'.encode(),
        b'{"name": "0123456789abcdef", "seen": 0, "answers": {"\\ud800": {"value": "x", "base": 0, "ago": 0}}}',
        b'{"name": "0123456789abcdef", "seen": 0, "answers": {"yyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyy": '
        b'{"value": "x", "base": 0, "ago": 0}}}',
    ],
)  # fmt: skip
def test_what_is_no_message_of_a_page_is_refused_and_nothing_of_it_kept(opening, body):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    headers = {"X-Pitside-Page": browser.token, "Content-Type": "application/json"}
    assert browser.client.post("/save", content=body, headers=headers).status_code == 400
    assert opened.room.drafts.saves(opened.paper("aa-01")) == []


@pytest.mark.parametrize("name", ["\\ud800", "y" * 41])
def test_field_that_no_page_has_is_no_message_of_handing_in(opening, name):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    headers = {"X-Pitside-Page": browser.token, "Content-Type": "application/json"}
    body = f'{{"answers": {{"{name}": ""}}}}'
    assert browser.client.post("/hand-in", content=body, headers=headers).status_code == 400
    assert not (opened.room.folder / "records" / "faults").exists()


@pytest.mark.parametrize(
    "value", [None, 5, True, [], {}, {"typed": "1"}, {"typed": 1, "unit": "x"}, {"typed": "1", "unit": "x", "more": 1},
              {"typed": "x" * 201, "unit": "x"}, "12"],
)  # fmt: skip
def test_answer_of_another_form_is_not_kept(opening, value):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    told = browser.save(i_1a=value)
    assert set(told["refused"]) == {"1a"}
    assert opened.room.drafts.saves(opened.paper("aa-01")) == []


def test_answers_that_look_like_statements_are_kept_as_words(opening):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    evil = "'); DROP TABLE answers; --</script><script>alert(1)</script>"
    browser.save(w_1a=evil, i_1a=number("'); DROP TABLE saves; --"))
    assert opened.shown("aa-01")["working 1a"] == evil


def test_form_that_is_too_long_or_of_another_kind_is_no_code(opening):
    opened = opening()
    client = opened.browser().client
    code = opened.codes["aa-01"]
    plain_form, parts = "application/x-www-form-urlencoded", "multipart/form-data; boundary=m"
    for body, kind in (
        (f"code={code}&x={'y' * 3000}", plain_form),
        ("&".join(f"a{each}=1" for each in range(50)), plain_form),
        (f'--m\r\nContent-Disposition: form-data; name="code"\r\n\r\n{code}\r\n--m--\r\n', parts),
    ):
        answer = client.post("/enter", content=body, headers={"Content-Type": kind}, follow_redirects=False)
        assert answer.status_code == 403


def test_one_device_cannot_ask_without_end(opening):
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    codes = [browser.post("/save", {"name": "0" * 20, "seen": 0, "answers": {}}).status_code for _ in range(60)]
    assert 200 in codes
    assert codes[-1] == 429
    opened.clock.pass_by(5)
    assert browser.post("/save", {"name": "0" * 20, "seen": 0, "answers": {}}).status_code == 200


def test_one_paper_cannot_fill_the_disk(opening, monkeypatch):
    from grader.classroom import drafts

    monkeypatch.setattr(drafts, "MOST_BYTES", 100_000)
    opened = opening()
    browser = opened.browser().enter(opened.codes["aa-01"])
    codes = []
    for each in range(8):
        message = {"name": f"a-large-message-{each}", "seen": 0,
                   "answers": {"working 1a": {"value": str(each) * 20_000, "base": 0, "ago": 0}}}  # fmt: skip
        codes.append(browser.post("/save", message).status_code)
    assert codes[0] == 200
    assert codes[-1] == 422
    assert len(opened.room.drafts.saves(opened.paper("aa-01"))) == codes.count(200)


# On a real socket -----------------------------------------------------------------------------------------------------


@pytest.fixture
def served(school) -> Iterator[Served]:
    room = Room(school.folder, SITTING)
    room.new_codes()
    made = prepared(room, "127.0.0.1", _free_port())
    thread = threading.Thread(target=made.run, daemon=True)
    thread.start()
    yield made
    made.stop()
    thread.join(20)
    assert not thread.is_alive()


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as free:
        return free.getsockname()[1]


def raw(served: Served, data: bytes, wait: float = 10) -> bytes:
    host, port = served.socket.getsockname()
    with socket.create_connection((host, port), wait) as line:
        line.sendall(data)
        return b"".join(iter(lambda: line.recv(65536), b""))


def test_only_the_picked_address_listens(served):
    host, port = served.socket.getsockname()
    assert host == "127.0.0.1"
    for other in {one.host for one in addresses()} - {host}:
        with pytest.raises(OSError):
            socket.create_connection((other, port), 2)


def test_two_hosts_long_heads_and_half_lines_get_nothing(served):
    host = served.address.removeprefix("http://")
    for head in (
        f"GET / HTTP/1.1\r\nHost: {host}\r\nHost: attacker.example\r\nConnection: close\r\n\r\n",
        f"GET / HTTP/1.1\r\nHost: {host}\r\nX: {'y' * 5_000_000}\r\nConnection: close\r\n\r\n",
        f"GET / HTTP/1.1\r\nHost: {host}\r\nTransfer-Encoding: x\r\nConnection: close\r\n\r\n0\r\n\r\n",
        f"TRACE / HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n",
        f"GET http://attacker.example/ HTTP/1.1\r\nHost: {host}:1\r\nConnection: close\r\n\r\n",
        "GET / HTTP/1.0\r\n\r\n",
    ):  # fmt: skip
        try:
            answer = raw(served, head.encode())
        except ConnectionError:
            continue
        assert b"Marram" not in answer
        assert answer.split(b" ", 2)[1:2] in ([b"400"], [b"405"], [b"421"], [b"431"], [])


def test_body_in_pieces_beyond_the_bound_is_cut_off(served):
    host, port = served.socket.getsockname()
    line = http.client.HTTPConnection(host, port, timeout=20)
    line.putrequest("POST", "/save", skip_accept_encoding=True)
    line.putheader("Origin", served.address)
    line.putheader("Transfer-Encoding", "chunked")
    line.endheaders()
    piece = b"x" * 100_000
    status = None
    with suppress(ConnectionError):  # it may hang up before all has been sent
        for _ in range(MOST_BYTES // len(piece) + 20):
            line.send(b"%x\r\n%s\r\n" % (len(piece), piece))
        status = line.getresponse().status
    assert status in (None, 413)
    line.close()
    with _closing(host, port) as fresh:
        fresh.request("GET", "/")
        assert fresh.getresponse().status == 200


class _closing(http.client.HTTPConnection):  # noqa: N801
    def __init__(self, host: str, port: int) -> None:
        super().__init__(host, port, timeout=20)

    def __enter__(self) -> _closing:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def test_who_sends_slowly_or_opens_many_lines_holds_up_nobody(school, monkeypatch):
    monkeypatch.setattr(serving, "REQUEST_SECONDS", 1.2)
    monkeypatch.setattr(serving, "MOST_FROM_ONE", 40)
    room = Room(school.folder, SITTING)
    served = prepared(room, "127.0.0.1", _free_port())
    thread = threading.Thread(target=served.run, daemon=True)
    thread.start()
    host, port = served.socket.getsockname()
    lines = [socket.create_connection((host, port), 10) for _ in range(60)]
    try:
        for line in lines:
            try:
                line.sendall(b"POST /save HTTP/1.1\r\nHost: ")  # and never goes on
            except ConnectionError:
                continue
        ended = 0
        for line in lines:
            line.settimeout(15)
            try:
                ended += line.recv(1) == b""
            except ConnectionError:
                ended += 1
        assert ended == len(lines), "each is ended by the server"
        with _closing(host, port) as fresh:
            fresh.request("GET", "/")
            assert fresh.getresponse().status == 200
    finally:
        for line in lines:
            line.close()
        served.stop()
        thread.join(20)


def test_socket_of_the_web_is_not_opened(served):
    host = served.address.removeprefix("http://")
    answer = raw(
        served,
        f"GET / HTTP/1.1\r\nHost: {host}\r\nConnection: Upgrade, close\r\nUpgrade: websocket\r\n"
        "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n".encode(),
    )
    assert b" 101 " not in answer.split(b"\r\n", 1)[0]


def test_classroom_is_not_opened_twice(served, school):
    room = Room(school.folder, SITTING)
    second = prepared(room, "127.0.0.1", _free_port())
    with pytest.raises(GraderError, match="open already"):
        second.run()
    second.socket.close()
    room.close()


def test_address_is_picked_from_those_of_the_machine():
    there = addresses()
    assert "127.0.0.1" in {one.host for one in there}
    assert there[-1].host.startswith("127.")
    assert picked("127.0.0.1").note == "this machine alone, to try it out"
    for host in ("", "0.0.0.0", "203.0.113.9", "localhost", "::"):
        with pytest.raises(GraderError, match=r"127\.0\.0\.1"):
            picked(host)


def test_whole_sitting_over_a_real_socket(served, school):
    """What the page does, said by hand: the code, start, one answer, handing in."""
    (code,) = served.room.new_codes(["aa-01"]).values()
    host, port = served.socket.getsockname()
    jar = ""

    def say(method, path, body=b"", **headers):
        nonlocal jar
        with _closing(host, port) as line:
            sent = {"Origin": served.address, **headers, **({"Cookie": jar} if jar else {})}
            line.request(method, path, body, sent)
            answer = line.getresponse()
            if cookie := answer.headers["set-cookie"]:
                jar = cookie.partition(";")[0]
            return answer.status, answer.read().decode()

    form = {"Content-Type": "application/x-www-form-urlencoded"}
    assert say("POST", "/enter", f"code={code}".encode(), **form)[0] == 303
    token = re.search(r'name="token" value="([0-9a-f]+)"', say("GET", "/begin")[1])[1]
    assert say("POST", "/begin", f"token={token}".encode(), **form)[0] == 303
    headers = {"Content-Type": "application/json", "X-Pitside-Page": token}
    one = {"value": number("412"), "base": 0, "ago": 0}
    message = json.dumps({"name": "0123456789abcdef", "seen": 0, "answers": {"1a": one}}).encode()
    assert say("POST", "/save", message, **headers)[0] == 200
    sheet = served.room.sheet(paper_of(school, "aa-01").id)
    shown = json.dumps({"answers": {**sheet.empty, "1a": number("412")}}).encode()
    status, told = say("POST", "/hand-in", shown, **headers)
    assert status == 200
    assert json.loads(told)["receipt"]["file"] == "marram_day1_aa-01.ipynb"


def test_encrypted_classroom_speaks_by_the_certificate_whose_fingerprint_is_on_the_slips(school):
    import hashlib
    import ssl

    room = Room(school.folder, SITTING)
    served = prepared(room, "127.0.0.1", _free_port(), is_safe=True)
    text = write_slips(room, served.address).read_text(encoding="utf-8")
    thread = threading.Thread(target=served.run, daemon=True)
    thread.start()
    host, port = served.socket.getsockname()
    try:
        shown = ssl.PEM_cert_to_DER_cert(ssl.get_server_certificate((host, port)))
        assert hashlib.sha256(shown).hexdigest().upper() == served.fingerprint.replace(":", "")
        assert served.fingerprint in text
        assert "https://127.0.0.1" in text
        # It is valid for this address, checked by who trusts it.
        trusting = ssl.create_default_context(cadata=ssl.DER_cert_to_PEM_cert(shown))
        line = http.client.HTTPSConnection(host, port, timeout=20, context=trusting)
        (code,) = re.findall(r'class="code">([\w-]+)<', text)[:1]
        head = {"Origin": served.address, "Content-Type": "application/x-www-form-urlencoded"}
        line.request("POST", "/enter", f"code={code}".encode(), head)
        cookie = line.getresponse().headers["set-cookie"]
        assert cookie.startswith("__Host-")
        assert "Secure" in cookie
        line.close()
        assert b"Marram" not in raw(served, f"GET / HTTP/1.1\r\nHost: {host}:{port}\r\n\r\n".encode())
    finally:
        served.stop()
        thread.join(20)
    kept = school.folder / "classroom.pem"
    assert kept.stat().st_mode & 0o077 == 0
    before = kept.read_bytes()
    own_certificate(school, "127.0.0.1")
    assert kept.read_bytes() == before
    own_certificate(school, "192.168.7.1")
    assert kept.read_bytes() != before
