"""Who may reach the desk: this browser from the desk's own pages. Each other way in is tried on a desk that listens."""

from __future__ import annotations

import os
import re
import socket
import stat
from urllib.parse import urlencode

import pytest

from grader.desk import guard
from grader.desk.actions import ACTIONS
from grader.desk.app import file_of
from grader.desk.serving import open_browser, prepared
from tests.grader.desk.conftest import desks
from tests.grader.schools import make_school

SECRETS = ("school.key", "signing.key")


@pytest.fixture(scope="module")
def school(tmp_path_factory):
    """A school to which no test here may do anything."""
    school = make_school(tmp_path_factory.mktemp("desk") / "school")
    (school.records / "results.html").write_text("<title>Results</title>", encoding="utf-8")
    (school.folder / "signing.key").write_text("a secret")
    return school


@pytest.fixture(scope="module")
def desk(school):
    with desks() as open_it:
        yield open_it(school.folder)


@pytest.fixture
def own_school(tmp_path):
    """A school of one test."""
    return make_school(tmp_path / "school")


def bytes_of(school):
    return {path: path.read_bytes() for path in school.folder.rglob("*") if path.is_file()}


def form(desk, **fields):
    return urlencode({"secret": desk.served.desk.entry.form_secret, **fields})


OWN = "application/x-www-form-urlencoded"


def test_only_the_loopback_address_listens(desk):
    assert desk.served.socket.getsockname()[0] == "127.0.0.1"
    others = {one[4][0] for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)} - {"127.0.0.1"}
    for address in others:
        if address.startswith("127."):
            continue
        with pytest.raises(OSError):
            socket.create_connection((address, desk.served.port), 2)


def test_address_opens_the_desk_once(opened, school):
    desk = opened(school.folder, enter=False)
    path = f"/enter/{desk.served.desk.entry.token}"
    first = desk.say("GET", path)
    assert first.status == 200
    cookie = first.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert f"Path={desk.base}/" in cookie
    again = desk.say("GET", path)
    assert again.status == 403
    assert "set-cookie" not in again.headers


@pytest.mark.parametrize("path", ["/", "/enter/", "/enter/None", "/enter/x", "/favicon.ico"])
def test_another_person_of_this_machine_without_the_token_gets_nothing(opened, school, path):
    desk = opened(school.folder, enter=False)
    answer = desk.say("GET", path)
    assert answer.status == 403
    assert school.title not in answer.text
    assert desk.served.desk.entry.token, "what others try uses the token up"
    for known in (desk.base, f"{desk.base}/", f"{desk.base}/results", f"{desk.base}/file/records/results.html"):
        answer = desk.say("GET", known)
        assert (answer.status, school.title in answer.text) == (403, False)
    desk.cookie = f"pitside_desk_{desk.served.port}=guessed"
    assert desk.get().status == 403


@pytest.mark.parametrize(
    "host",
    ["attacker.example", "localhost:{port}", "127.0.0.1", "127.0.0.1:1", "attacker.example:{port}", "[::1]:{port}", ""],
)
def test_name_of_another_site_that_leads_here_gets_nothing(desk, host):
    """DNS rebinding: the browser believes it is at the other site, and names it as the host."""
    answer = desk.say("GET", f"{desk.base}/", host=host.format(port=desk.served.port))
    assert answer.status in (400, 421)
    assert "Marram" not in answer.text


def test_two_hosts_get_nothing(desk):
    with socket.create_connection(("127.0.0.1", desk.served.port), 10) as line:
        line.sendall(
            f"GET {desk.base}/ HTTP/1.1\r\nHost: {desk.host}\r\nHost: attacker.example\r\nCookie: {desk.cookie}\r\n"
            "Connection: close\r\n\r\n".encode()
        )
        answer = b"".join(iter(lambda: line.recv(65536), b""))
    assert answer.split(b" ", 2)[1] in (b"400", b"421")


@pytest.mark.parametrize("origin", [None, "null", "http://attacker.example", "https://{host}", "http://127.0.0.1:1"])
def test_change_from_a_page_of_another_site_is_refused_even_with_cookie_and_secret(desk, school, origin):
    before = bytes_of(school)
    headers = {"Content-Type": OWN, **({"Origin": origin.format(host=desk.host)} if origin else {})}
    answer = desk.say("POST", f"{desk.base}/do/issue", form(desk), headers)
    assert answer.status == 403
    assert bytes_of(school) == before


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_page_of_another_site_cannot_even_ask_for_a_page(desk, site):
    answer = desk.say("GET", f"{desk.base}/results", headers={"Sec-Fetch-Site": site})
    assert (answer.status, "Marram" in answer.text) == (403, False)


@pytest.mark.parametrize("action", [f"do/{name}" for name in ACTIONS] + ["sure/1", "job/1/stop", "choose", "close"])
def test_no_change_without_the_secret_of_the_desks_own_forms(desk, school, action):
    before = bytes_of(school)
    for body in ("", urlencode({"secret": "guessed", "reason": "x"})):
        headers = {"Origin": f"http://{desk.host}", "Content-Type": OWN}
        answer = desk.say("POST", f"{desk.base}/{action}", body, headers)
        assert answer.status == 403
    assert bytes_of(school) == before
    assert desk.served.desk.jobs.latest is None
    assert desk.get().status == 200, "the desk was closed"


def test_pages_are_read_and_buttons_pressed_by_nothing_but_their_own_method(desk, school):
    before = bytes_of(school)
    for action in ACTIONS:
        assert desk.get(f"do/{action}?secret={desk.served.desk.entry.form_secret}").status in (404, 405)
    assert bytes_of(school) == before


@pytest.mark.parametrize(
    "name",
    [
        "school.key", "signing.key", "school.toml", "roster.csv", "register.jsonl", "records/../school.key",
        "records/..%2fschool.key", "records/%2e%2e/school.key", "packs/../../school/school.key", "/etc/passwd",
        "//etc/passwd", "records\\..\\school.key", "records/gradebook.db", "records/log.jsonl", "records/.busy",
        "records", "records/", "", "C:/Windows/win.ini", "records/x:y.html",
        "records/results.html%00.html", "records/.html",
    ],
)  # fmt: skip
def test_no_file_but_reports_and_packs_is_shown(desk, school, name):
    answer = desk.get(f"file/{name}")
    assert answer.status in (404, 405)
    assert school.key.hex() not in answer.text


def test_link_that_leads_out_of_the_folder_is_not_followed(opened, own_school):
    school, desk = own_school, opened(own_school.folder)
    (school.folder / "signing.key").write_text("a secret")
    (school.records / "results.html").write_text("a page")
    for secret in SECRETS:
        (school.records / f"{secret}.html").symlink_to(school.folder / secret)
        assert desk.get(f"file/records/{secret}.html").status == 404
    (school.records / "all").symlink_to(school.folder)
    (school.folder / "page.html").write_text("outside")
    assert desk.get("file/records/all/page.html").status == 404
    assert desk.get("file/records/results.html").status == 200
    assert file_of(school.folder, "records/results.html")


def test_page_of_the_school_is_shown_where_it_can_load_send_and_open_nothing(desk):
    policy = desk.get("file/records/results.html").headers["content-security-policy"]
    assert "script" not in policy
    assert policy.startswith("default-src 'none'")
    assert "form-action 'none'" in policy
    assert "sandbox" in policy
    for allowed in ("allow-popups", "allow-forms", "allow-top-navigation", "connect-src"):
        assert allowed not in policy


@pytest.mark.parametrize("path", ["", "candidates", "file/records/results.html", "file/none", "desk.js", "none"])
def test_every_answer_says_what_may_be_done_with_it(desk, path):
    headers = desk.get(path).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "no-store"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "access-control-allow-origin" not in headers
    assert "server" not in headers


def test_desks_pages_run_no_script_that_stands_in_them(desk):
    for room in (
        "",
        "candidates",
        "sittings",
        "sitting?sitting=day1",
        "hand-out",
        "scripts",
        "by-hand",
        "results",
        "decisions",
    ):
        answer = desk.get(room)
        assert answer.status == 200
        assert "script-src 'self';" in answer.headers["content-security-policy"]
        assert "unsafe" not in answer.headers["content-security-policy"]
        assert re.findall(r"<script(?![^>]*\bsrc=)", answer.text) == []
        assert not re.search(r"\son[a-z]+=|javascript:|style=", answer.text)
        addresses = re.findall(r'(?:href|src|action)="([^"]*)"', answer.text)
        assert all(one.startswith((f"{desk.base}/", "#", "data:,")) for one in addresses)


def test_words_of_candidates_are_text_on_the_desks_pages(opened, tmp_path):
    evil = '<script>alert(1)</script><img src=x onerror="x()">'
    school = make_school(tmp_path / "evil", [f'aa-01,"{evil.replace(chr(34), chr(34) * 2)}",,,field'])
    (school.scripts / "<b>x<script>y.ipynb").write_bytes(b"{}")
    desk = opened(school.folder)
    for room in ("", "candidates", "scripts", "results", "hand-out", "decisions"):
        text = desk.get(room).text
        assert "<script>" not in text
        assert "<img" not in text
    assert "&lt;script&gt;alert(1)" in desk.get("candidates").text


def test_more_than_the_bound_is_refused_before_it_is_kept(opened, own_school, monkeypatch):
    monkeypatch.setattr(guard, "MOST_BYTES", 100_000)
    school, desk = own_school, opened(own_school.folder)
    before = bytes_of(school)
    head = {"Origin": f"http://{desk.host}", "Content-Type": OWN}
    answer = desk.say("POST", f"{desk.base}/do/take-in", b"x" * 10, {**head, "Content-Length": "100001"})
    assert answer.status == 413
    # A request in pieces says no length beforehand.
    with socket.create_connection(("127.0.0.1", desk.served.port), 20) as line:
        line.sendall(
            f"POST {desk.base}/do/take-in HTTP/1.1\r\nHost: {desk.host}\r\nCookie: {desk.cookie}\r\n"
            f"Origin: http://{desk.host}\r\nContent-Type: {OWN}\r\nTransfer-Encoding: chunked\r\n\r\n".encode()
        )
        piece = b"secret=" + b"y" * 60_000
        for _ in range(3):
            line.sendall(f"{len(piece):x}\r\n".encode() + piece + b"\r\n")
        answer = line.recv(65536)
    assert answer.split(b" ", 2)[1] in (b"413", b"400")
    assert bytes_of(school) == before
    assert desk.get().status == 200


@pytest.mark.parametrize("length", ["-1", "many", "1e9"])
def test_length_that_is_none_is_refused(desk, length):
    head = {"Origin": f"http://{desk.host}", "Content-Type": OWN, "Content-Length": length}
    assert desk.say("POST", f"{desk.base}/do/issue", b"", head).status in (400, 413)


def test_uploaded_name_leads_into_no_other_folder(opened, own_school):
    school, desk = own_school, opened(own_school.folder)
    before = bytes_of(school)
    for name in ("../../school.key", "..\\..\\school.toml", "/etc/x", "C:\\x.ipynb", ".busy", "a/b/../../c.ipynb"):
        desk.press("take-in", {"scripts": (name, b"{}" + name.encode())})
    after = bytes_of(school)
    assert {path: data for path, data in after.items() if path.parent != school.scripts} == before | {
        path: data for path, data in after.items() if path.name in (".busy",) and path.parent == school.folder
    }
    assert {path.name for path in school.scripts.iterdir()} == {
        "school.key",
        "school.toml",
        "x",
        "x.ipynb",
        "busy",
        "c.ipynb",
    }


def test_file_that_shows_the_address_is_read_by_its_owner_alone_and_goes(school):
    served = prepared(school.folder, school.folder.parent)
    shown = []
    open_browser(served, lambda address: bool(shown.append(address)))
    path = school.folder / "open_desk.html"
    assert shown == [path.resolve().as_uri()]
    assert served.desk.entry.token not in shown[0], "everybody on the machine sees what a program is called with"
    assert served.address in path.read_text()
    if os.name == "posix":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert served.desk.entry.exchanged("guessed") is None
    assert path.exists()
    assert served.desk.entry.exchanged(served.desk.entry.token)
    assert not path.exists()
    served.socket.close()


def test_many_at_once_do_not_stop_the_desk(desk):
    lines = [socket.create_connection(("127.0.0.1", desk.served.port), 10) for _ in range(30)]
    try:
        for line in lines:
            line.sendall(b"GET / HTTP/1.1\r\nHost: ")  # and never goes on
        assert desk.get().status == 200
    finally:
        for line in lines:
            line.close()


def test_socket_of_the_web_is_not_opened(desk):
    answer = desk.say(
        "GET", f"{desk.base}/", headers={"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13",
                                         "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ=="},
    )  # fmt: skip
    assert answer.status != 101
