"""Attacks on the desk's listener, each tried on a desk that listens: run as a program it prints what happened.

python -m tests.grader.desk.attacks
"""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from urllib.parse import quote, urlencode

from grader.desk import guard
from grader.desk.serving import open_browser
from grader.store.school import School
from tests.grader.desk.conftest import Answer, Visitor, desks
from tests.grader.schools import make_school

OWN = "application/x-www-form-urlencoded"
SECRET = "a secret that signs certificates"
#: What was tried; each gives what happened in words, and fails where the attacker gained anything.
Attack = Callable[[Visitor, School], str]
ATTACKS: dict[str, Attack] = {}


def attack(what: str) -> Callable[[Attack], Attack]:
    def kept(tried: Attack) -> Attack:
        ATTACKS[what] = tried
        return tried

    return kept


def bytes_of(school: School) -> dict[str, bytes]:
    files = (one for one in school.folder.rglob("*") if one.is_file())
    return {one.relative_to(school.folder).as_posix(): one.read_bytes() for one in files}


def refused(answer: Answer, school: School, *statuses: int) -> str:
    """That the answer refuses and tells nothing of the school."""
    assert answer.status in statuses, (answer.status, answer.text[:200])
    assert school.title not in answer.text
    assert SECRET not in answer.text
    assert school.key.hex() not in answer.text
    return f"{answer.status}: {' '.join(answer.text.split())[:110]}"


def posted(desk: Visitor, action: str, headers: dict[str, str], **fields: str) -> Answer:
    return desk.say("POST", f"{desk.base}/do/{action}", urlencode(fields), {"Content-Type": OWN, **headers})


def stranger(desk: Visitor) -> Visitor:
    """Somebody on the same machine, or a page in the same browser, without the cookie."""
    return Visitor(desk.served)


@attack("another machine of the network")
def _(desk: Visitor, school: School) -> str:
    assert desk.served.socket.getsockname()[0] == "127.0.0.1"
    return "nothing listens but 127.0.0.1"


@attack("a name of another site that leads to 127.0.0.1 (DNS rebinding)")
def _(desk: Visitor, school: School) -> str:
    return refused(desk.say("GET", f"{desk.base}/", host=f"attacker.example:{desk.served.port}"), school, 421)


@attack("localhost in place of 127.0.0.1, or no port, or the port of another server")
def _(desk: Visitor, school: School) -> str:
    for host in (f"localhost:{desk.served.port}", "127.0.0.1", "127.0.0.1:1", f"[::1]:{desk.served.port}"):
        said = refused(desk.say("GET", f"{desk.base}/", host=host), school, 400, 421)
    return said


@attack("two Host lines, the right one first")
def _(desk: Visitor, school: School) -> str:
    with socket.create_connection(("127.0.0.1", desk.served.port), 10) as line:
        line.sendall(
            f"GET {desk.base}/ HTTP/1.1\r\nHost: {desk.host}\r\nHost: attacker.example\r\nCookie: {desk.cookie}\r\n"
            "Connection: close\r\n\r\n".encode()
        )
        answer = b"".join(iter(lambda: line.recv(65536), b"")).decode(errors="replace")
    status = int(answer.split(" ", 2)[1])
    assert status in (400, 421)
    assert school.title not in answer
    return f"{status}, refused before anything is looked at"


@attack("another person of this machine: the desk's address without its cookie")
def _(desk: Visitor, school: School) -> str:
    other = stranger(desk)
    for path in ("/", f"{desk.base}/", f"{desk.base}/results", f"{desk.base}/file/records/results.html"):
        said = refused(other.say("GET", path), school, 403)
    return said


@attack("the token of the address, used a second time")
def _(desk: Visitor, school: School) -> str:
    desk.served.desk.entry.renew()
    path = f"/enter/{desk.served.desk.entry.token}"
    assert stranger(desk).say("GET", path).status == 200
    answer = stranger(desk).say("GET", path)
    assert "set-cookie" not in answer.headers
    return refused(answer, school, 403)


@attack("a guessed token, and after it the right one still works")
def _(desk: Visitor, school: School) -> str:
    desk.served.desk.entry.renew()
    said = refused(stranger(desk).say("GET", "/enter/guessed"), school, 403)
    assert desk.served.desk.entry.token, "guessing uses the token up"
    return said


@attack("a guessed cookie")
def _(desk: Visitor, school: School) -> str:
    other = stranger(desk)
    other.cookie = f"pitside_desk_{desk.served.port}=guessed"
    return refused(other.get(), school, 403)


@attack("the list of processes while the browser opens (the token in what it is called with)")
def _(desk: Visitor, school: School) -> str:
    desk.served.desk.entry.renew()
    called: list[str] = []
    open_browser(desk.served, lambda address: bool(called.append(address)))
    assert called
    assert all(desk.served.desk.entry.token not in one for one in called)
    page = school.folder / "open_desk.html"
    assert os.name != "posix" or page.stat().st_mode & 0o077 == 0
    desk.served.desk.entry.exchanged(desk.served.desk.entry.token)
    assert not page.exists()
    return "a file that its owner alone can read is named, and is gone once it was used"


@attack("a form on a page of another site, sent by the instructor's browser with the cookie")
def _(desk: Visitor, school: School) -> str:
    before, secret = bytes_of(school), desk.served.desk.entry.form_secret
    for origin in ("http://attacker.example", "null", "http://127.0.0.1:1", f"https://{desk.host}"):
        said = refused(posted(desk, "issue", {"Origin": origin}, secret=secret), school, 403)
    said = refused(posted(desk, "issue", {}, secret=secret), school, 403)
    assert bytes_of(school) == before
    return f"{said}; nothing was written"


@attack("a picture or script of another site that asks for a page (Sec-Fetch-Site)")
def _(desk: Visitor, school: School) -> str:
    return refused(desk.say("GET", f"{desk.base}/results", headers={"Sec-Fetch-Site": "cross-site"}), school, 403)


@attack("reading the desk's pages from a script of another site (CORS)")
def _(desk: Visitor, school: School) -> str:
    answer = desk.say("GET", f"{desk.base}/", headers={"Origin": "http://attacker.example"})
    assert "access-control-allow-origin" not in answer.headers
    assert answer.headers["cross-origin-resource-policy"] == "same-origin"
    return f"{answer.status}, and no word that would let another site read it"


@attack("a desk page in a frame of another site (clickjacking)")
def _(desk: Visitor, school: School) -> str:
    headers = desk.get().headers
    assert headers["x-frame-options"] == "DENY"
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    return "frame-ancestors 'none', X-Frame-Options DENY"


@attack("each button with the cookie, but without the secret of the desk's forms")
def _(desk: Visitor, school: School) -> str:
    from grader.desk.actions import ACTIONS

    before = bytes_of(school)
    for action in ACTIONS:
        for secret in ({}, {"secret": "guessed"}):
            said = refused(posted(desk, action, {"Origin": f"http://{desk.host}"}, **secret), school, 403)
    assert bytes_of(school) == before
    return f"{len(ACTIONS)} buttons, {said}; nothing was written"


@attack("a button by GET, as a link in an e-mail would")
def _(desk: Visitor, school: School) -> str:
    before = bytes_of(school)
    said = refused(desk.get(f"do/issue?secret={desk.served.desk.entry.form_secret}"), school, 404, 405)
    assert bytes_of(school) == before
    return said


@attack("keys, books and files outside by a path in the address")
def _(desk: Visitor, school: School) -> str:
    names = ("school.key", "signing.key", "records/../school.key", "..%2fschool.key", "records/%2e%2e/signing.key",
             "records\\..\\school.key", "/etc/passwd", "records//etc/passwd", "register.jsonl", "records/log.jsonl",
             "records/gradebook.db", "scripts/x.ipynb", "school.toml", "roster.csv", ".busy")  # fmt: skip
    for name in names:
        said = refused(desk.get(f"file/{name if '%' in name else quote(name)}"), school, 404, 405)
    return f"{len(names)} tried, {said}"


@attack("a link in the school's folder that leads to a key")
def _(desk: Visitor, school: School) -> str:
    link = school.records / "key.html"
    link.symlink_to(school.folder / "signing.key")
    try:
        return refused(desk.get("file/records/key.html"), school, 404)
    finally:
        link.unlink()


@attack("an uploaded file whose name leads elsewhere, hides, or is that of a key")
def _(desk: Visitor, school: School) -> str:
    before = bytes_of(school)
    for name in ("../../school.key", "..\\..\\school.toml", "/etc/x", "C:\\x.ipynb", ".busy"):
        desk.press("take-in", {"scripts": (name, b"{}" + name.encode())})
    after = bytes_of(school)
    new = sorted(set(after) - set(before) - {".busy"})
    assert {name: data for name, data in after.items() if name in before} == before
    assert all(name.startswith("scripts/") and name.count("/") == 1 for name in new)
    for name in new:
        (school.folder / name).unlink()
    return f"kept under plain names: {', '.join(new)}"


@attack("setting a file aside that is none of those that came back (keys, roster, a path upwards)")
def _(desk: Visitor, school: School) -> str:
    before = bytes_of(school)
    for path in ("school.key", "../x", "roster.csv", "scripts/../roster.csv", "/etc/passwd"):
        for action in ("aside", "bring-back"):
            said = desk.press(action, path=path, reason="x").text
            assert "no such file among what came back" in said
    assert {name: data for name, data in bytes_of(school).items() if name in before} == before
    return "no such file among what came back; nothing was moved"


@attack("an uploaded program among own exercises")
def _(desk: Visitor, school: School) -> str:
    desk.press("take-in", {"scripts": ("../own_exercises/bad.py", b"open('/tmp/never', 'w')")})
    assert not (school.folder / "own_exercises").exists()
    (school.scripts / "bad.py").unlink()
    return "it lies among the scripts, where nothing is run as it is; own_exercises is written by no button"


@attack("a request larger than the bound")
def _(desk: Visitor, school: School) -> str:
    before = bytes_of(school)
    head = {"Origin": f"http://{desk.host}", "Content-Type": OWN, "Content-Length": str(guard.MOST_BYTES + 1)}
    said = refused(desk.say("POST", f"{desk.base}/do/take-in", b"x", head), school, 413)
    assert bytes_of(school) == before
    return said


@attack("a length that is none (-1, many, 1e9)")
def _(desk: Visitor, school: School) -> str:
    for length in ("-1", "many", "1e9"):
        head = {"Origin": f"http://{desk.host}", "Content-Type": OWN, "Content-Length": length}
        said = refused(desk.say("POST", f"{desk.base}/do/issue", b"", head), school, 400, 413)
    return said


@attack("markup and scripts as a candidate's name and as a file's name")
def _(desk: Visitor, school: School) -> str:
    evil = "<script>alert(1)</script>"
    file = school.scripts / "<script>alert(2)<b>.ipynb"
    file.write_bytes(b"{}")
    try:
        for room in ("", "scripts", "results"):
            assert "<script>alert" not in desk.get(room).text
        asked = desk.press("list", **{f"column-{at}": cell for at, cell in enumerate(("aa-09", evil, "", "", ""))})
        assert evil not in asked.text
        return "shown as text; the pages' policy runs no script that stands in them"
    finally:
        file.unlink()


@attack("a report of the school with a script in it that fetches the desk's pages")
def _(desk: Visitor, school: School) -> str:
    policy = desk.get("file/records/results.html").headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "script-src" not in policy
    assert "connect-src" not in policy
    return "shown under a policy without scripts, connections, forms and windows"


@attack("a web socket")
def _(desk: Visitor, school: School) -> str:
    head = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13",
            "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ=="}  # fmt: skip
    answer = desk.say("GET", f"{desk.base}/", headers=head)
    assert answer.status != 101
    return f"{answer.status}, not opened"


@attack("30 connections that begin and never go on")
def _(desk: Visitor, school: School) -> str:
    with ExitStack() as opened:
        for _ in range(30):
            line = opened.enter_context(socket.create_connection(("127.0.0.1", desk.served.port), 10))
            line.sendall(b"GET / HTTP/1.1\r\nHost: ")
        assert desk.get().status == 200
    return "the desk goes on answering"


@attack("half a request, and noise in place of HTTP")
def _(desk: Visitor, school: School) -> str:
    for noise in (b"\x16\x03\x01\x02\x00\x01\x00\x01", b"GET / HTTP/9.9\r\n\r\n", b"\r\n" * 1000, os.urandom(2000)):
        with socket.create_connection(("127.0.0.1", desk.served.port), 10) as line:
            line.sendall(noise)
    assert desk.get().status == 200
    return "refused, and the desk goes on answering"


@attack("methods that the desk has not (PUT, DELETE, TRACE, OPTIONS)")
def _(desk: Visitor, school: School) -> str:
    before = bytes_of(school)
    origin = {"Origin": f"http://{desk.host}"}
    methods = ("PUT", "DELETE", "TRACE", "OPTIONS")
    found = [desk.say(method, f"{desk.base}/results", headers=origin).status for method in methods]
    assert all(status in (400, 403, 404, 405) for status in found)
    assert bytes_of(school) == before
    return f"{', '.join(map(str, found))}; nothing was written"


@attack("a second desk or a command on the same school at the same time")
def _(desk: Visitor, school: School) -> str:
    from grader.store.files import only_one

    before = bytes_of(school)
    with only_one(school.folder):
        said = desk.press("issue").text
    assert "another pitside command is at work here" in said
    assert {name: data for name, data in bytes_of(school).items() if name != ".busy"} == {
        name: data for name, data in before.items() if name != ".busy"
    }
    return "told so; nothing was written"


def held(folder: Path) -> Iterator[tuple[str, str]]:
    """Each attack with what happened."""
    school = make_school(folder / "school")
    (school.records / "results.html").write_text("<title>Results</title>", encoding="utf-8")
    (school.folder / "signing.key").write_text(SECRET)
    with desks() as open_it:
        desk = open_it(school.folder)
        for what, tried in ATTACKS.items():
            try:
                yield what, tried(desk, school)
            except (AssertionError, OSError, http.client.HTTPException, subprocess.SubprocessError) as error:
                yield what, f"NOT HELD: {type(error).__name__} {error}"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        sys.stdout.write("| attack | what happened |\n| --- | --- |\n")
        for what, happened in held(Path(name)):
            sys.stdout.write(f"| {what} | {happened} |\n")
