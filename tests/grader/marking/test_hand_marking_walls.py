"""Nothing that a candidate writes acts on the hand-marking page: not in its text, its browser, or its server."""

from __future__ import annotations

import json
import re
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import nbformat
import pytest
from bs4 import BeautifulSoup, Tag
from click.testing import CliRunner
from nbconvert.exporters import HTMLExporter
from nbconvert.filters.markdown_mistune import InvalidNotebook
from nbgrader.server_extensions.formgrader import handlers
from playwright.sync_api import Page as Tab
from traitlets.config import Config, PyFileConfigLoader

from grader.cli import commands
from grader.marking import hand_marking
from grader.marking.hand_marking import LONGEST_SHOWN, SETTINGS_FILE, allows, plain_output
from grader.marking.marking import mark_school
from grader.marking.records import marked_notebook, read_record
from grader.papers.notebook import as_it_stands, for_hand_marking, question_cells, without_fence
from grader.store.register import Paper
from grader.store.school import School
from tests.grader.marking.test_hand_marking import NAME, Page, cell_of, hand_in_words, written  # noqa: F401
from tests.grader.schools import (
    ONE_ROOM,
    SITTING,
    add_cell,
    gradebook_of,
    hand_in,
    paper_of,
    quiet,
    right_answers,
    script_with,
)
from tests.sharing import a_few

#: A machine that nobody has (RFC 2606).
ELSEWHERE = "https://elsewhere.invalid"
ALL_MARKS = (
    "for(const b of document.querySelectorAll('.full-credit'))b.click();"
    "fetch('/api/kernels',{method:'POST',body:'{}'});document.title='taken'"
)
WORDS = {
    "script link": f"[here](javascript:{ALL_MARKS})",
    "script link in disguise": f"[here](JaVa\tScRiPt&colon;{ALL_MARKS})",
    "script link by reference": f"[here][a]\n\n[a]: javascript:{ALL_MARKS}",
    "script link by itself": f"<javascript:{ALL_MARKS}>",
    "page in a link": f"[here](data:text/html,<script>{ALL_MARKS}</script>)",
    "link elsewhere": f"[here]({ELSEWHERE}/a) and {ELSEWHERE}/b and <{ELSEWHERE}/c>",
    "link to settings that are a program": "[here](/formgrader?path=/tmp)",
    "link out of the page": "[here](/logout)",
    "picture that logs out": "![](/logout)",
    "picture elsewhere": f"![]({ELSEWHERE}/a.png) ![x][a]\n\n[a]: {ELSEWHERE}/b.png",
    "attachment that is not there": "![](attachment:nothing.png)",
    "script": f"<script>{ALL_MARKS}</script>",
    "picture that fails": f'<img src=x onerror="{ALL_MARKS}">',
    "end of the text, then a script": f"</pre></code></div></textarea><script>{ALL_MARKS}</script>",
    "end of the fence, then a script": f"```\n````\n`````\n~~~\n<script>{ALL_MARKS}</script>\n```",
    "other line ends": f"a\r<script>{ALL_MARKS}</script>\x0b<script>1</script>\u2028[x](javascript:{ALL_MARKS})",
    "frame": f'<iframe src="{ELSEWHERE}"></iframe><object data="{ELSEWHERE}"></object><embed src="/logout">',
    "form": '<form action="/formgrader/api/grade/1"><button formmethod=post>Next</button></form>',
    "style": f"<style>@import '{ELSEWHERE}/a.css'; body {{ display: none }}</style>",
    "base": f'<base href="{ELSEWHERE}/"><meta http-equiv=refresh content="0;{ELSEWHERE}">',
    "drawing": f"<svg onload=\"{ALL_MARKS}\"><a href='javascript:{ALL_MARKS}'>x</a></svg>",
    "formula": r"$\href{javascript:alert(1)}{x}$ $$\unicode{x}$$ \\[ x \\] \begin{a}x\end{a}",
    "diagram": f'```mermaid\nclick a "javascript:{ALL_MARKS}"\n```',
    "boxes of marks": '<div class="nbgrader_cell"><input class="score" id="1a" value="9"></div>',
    "numbers of characters": "&lt;script&gt;alert(1)&lt;/script&gt; &#60;img src=x&#62;",
}
HEAVY = {
    "formulas opened": "\\\\[" * 13_000,
    "formulas opened in a line": "\\\\( " * 10_000,
    "environments opened": "\\begin{a}" * 4_400,
    "dollars": "$a " * 13_000,
    "brackets": "[" * 40_000,
    "pictures begun": "![" * 20_000,
    "stars": "*_" * 20_000,
    "backticks": "`" * 40_000,
    "backticks of growing number": " ".join("`" * n for n in range(1, 280)),
    "quotes in quotes": ">" * 40_000,
    "lists in lists": "- " * 20_000,
    "tags opened": "<a " * 13_000,
    "line that is never over": "b\r" + "a" * 39_998,
}
PROGRAM = f"""
from IPython.display import HTML, SVG, Image, Javascript, Latex, Markdown, display
bad = {WORDS["script"]!r} + {WORDS["script link"]!r}
for kind in (HTML, Markdown, Latex, Javascript):
    display(kind(bad))
display(SVG('<svg xmlns="http://www.w3.org/2000/svg"><script>' + {ALL_MARKS!r} + '</script></svg>'))
display({{"text/html": bad, "text/vnd.mermaid": bad, "application/javascript": bad}}, raw=True)
import matplotlib.pyplot as plt
plt.plot([1, 2]); plt.show()
print(bad)
print("\\x1b[31m" + bad + "\\x1b[0m")
raise ValueError(bad)
"""


def hostile_script(school: School, candidate: str) -> dict[str, Any]:
    """A script with something of every kind in every place that a candidate can write into."""
    paper = paper_of(school, candidate)
    script = script_with(school, paper, dict(right_answers(paper.variants())))
    cell_of(script)["source"] = "\n\n".join(WORDS.values())
    add_cell(script, PROGRAM)
    add_cell(script, f"%%html\n{WORDS['script']}")
    tags = {"tags": ['x" onclick="alert(1)'], "alt": f'x" onerror="{ALL_MARKS}', "transient": {"remove_source": 1}}
    locked = {"locked": True, "grade": False, "solution": False, "task": False, "grade_id": "1a", "schema_version": 3}
    ask = next(cell for cell in script["cells"] if cell["id"] == "ask-1a")
    ask["source"] += WORDS["script link"]
    for number, words in enumerate(WORDS.values()):
        script["cells"].append(
            {"cell_type": "markdown", "id": f"m{number}", "metadata": {**tags, "nbgrader": locked}, "source": words,
             "attachments": {f'a" onerror="{ALL_MARKS}.png': {"image/svg+xml": "<svg/>"}}}
        )  # fmt: skip
        script["cells"].append(
            {"cell_type": "raw", "id": f"r{number}", "metadata": {"raw_mimetype": "", **tags}, "source": words}
        )
    about = script["metadata"]
    about["title"] = WORDS["script"]
    about["widgets"] = {"application/vnd.jupyter.widget-state+json": {"state": {"</script>": WORDS["script"]}}}
    about["language_info"] = {"name": "html", "pygments_lexer": "html"}
    about["kernelspec"] = {"name": "bash", "display_name": WORDS["script"], "language": "bash"}
    about["pitside"]["more"] = {"a": WORDS["script"]}
    return script


def settings_of(school: School) -> Config:
    return PyFileConfigLoader(SETTINGS_FILE, path=str(school.records)).load_config()


def shown(notebook: dict[str, Any], config: Config | None = None) -> str:
    """The notebook as nbgrader's page shows it, with its template and these settings."""
    config = config or Config()
    exporter = HTMLExporter(config=config, template_name="formgrade", extra_template_basedirs=[handlers.template_path])
    resources = {"base_url": "", "submission_id": "x", "notebook_id": "paper", "assignment_id": SITTING, "index": 0,
                 "total": 1, "student": "aa-01", "last_name": "", "first_name": "", "notebook_path": ""}  # fmt: skip
    node = nbformat.from_dict(json.loads(json.dumps(notebook)))
    return exporter.from_notebook_node(node, resources=resources)[0]


#: What the page and our own Markdown are made of; class names are looked at by themselves.
_QUIET_TAGS = {
    "div", "span", "pre", "code", "p", "strong", "em", "h1", "h2", "table", "thead", "tbody", "tr", "th", "td", "ul",
    "li", "br", "button", "input", "textarea", "img",
}  # fmt: skip
_QUIET_ATTRIBUTES = {
    "class", "style", "dir", "id", "type", "role", "tabindex", "src", "alt", "placeholder", "data-autosize-on",
}  # fmt: skip


def what_acts(html: str) -> list[str]:
    """Each thing in the page's notebook that is more than text, a picture made of pixels, or a box of nbgrader's."""
    top = BeautifulSoup(html, "html.parser").select("#notebook-container")[-1]
    found = []
    for tag in top.find_all(True):
        assert isinstance(tag, Tag)
        if tag.name == "a" and tag.get("class") == ["anchor-link"] and str(tag["href"]).startswith("#"):
            continue  # the library's, at our own headings
        source = str(tag.get("src", ""))
        if (
            tag.name not in _QUIET_TAGS
            or not set(tag.attrs) <= _QUIET_ATTRIBUTES
            or (source and not re.fullmatch("data:image/png;base64,[A-Za-z0-9+/=]+", source))
            or (tag.name in ("input", "textarea") and not str(tag.get("id", "")).startswith("1"))
        ):
            found.append(str(tag)[:120])
    return found


@pytest.fixture
def hostile(written) -> School:  # noqa: F811
    hand_in(written, paper_of(written, "aa-01"), hostile_script(written, "aa-01"))
    assert mark_school(written, quiet, ONE_ROOM).refused == ()
    assert read_record(written, paper_of(written, "aa-01").id).pending == (NAME,)
    return written


def kept(school: School) -> dict[str, Any]:
    return json.loads(marked_notebook(school, paper_of(school, "aa-01")).read_text(encoding="utf-8"))


@pytest.mark.slow
def test_marked_notebook_is_text_even_on_a_page_without_our_settings(hostile):
    html = shown(kept(hostile))
    assert what_acts(html) == []
    text = BeautifulSoup(html, "html.parser").get_text()
    for words in WORDS.values():
        assert " ".join(words.split()) in " ".join(text.split())


def test_our_settings_make_text_of_a_notebook_that_was_kept_as_it_came(hostile):
    """As notebooks were kept before: the candidate's own cells, answer cells marked as such, any outputs."""
    script = hostile_script(hostile, "aa-01")
    for cell in script["cells"]:
        cell["metadata"].pop("nbgrader", None)
        if cell["cell_type"] == "code":
            cell["outputs"] = [
                {"output_type": "stream", "name": "stdout", "text": WORDS["script"]},
                {"output_type": "error", "ename": "E", "evalue": "", "traceback": [WORDS["picture that fails"]]},
            ]
            for kind in ("text/html", "text/markdown", "text/latex", "image/svg+xml", "application/javascript"):
                output = {"output_type": "display_data", "metadata": {}, "data": {kind: WORDS["script"]}}
                cell["outputs"].append(output)
    with pytest.raises(InvalidNotebook, match="missing attachment"):
        shown(script)  # one such line kept the whole script from being marked by hand
    html = shown(script, settings_of(hostile))
    assert what_acts(html) == []
    assert "[here](javascript:" in BeautifulSoup(html, "html.parser").get_text()


def test_questions_are_shown_as_printed_and_what_was_added_to_one_is_not_taken_for_it(hostile):
    html = shown(kept(hostile), settings_of(hostile))
    soup = BeautifulSoup(html, "html.parser")
    assert "1(b)" in [tag.get_text() for tag in soup.select("p strong")]
    assert "1(a)" not in [tag.get_text() for tag in soup.select("p strong")]
    (answer,) = [cell for cell in soup.select(".nbgrader_cell") if cell.select(f'[id="{NAME}"]')]
    assert WORDS["script link"] in answer.get_text()
    assert len(soup.select(".nbgrader_cell")) == len({one["id"] for one in soup.select("input.score")})


@pytest.mark.parametrize("words", [*WORDS.values(), *HEAVY.values(), "", "\n", "```", "````\n```\n````"])
def test_fenced_text_is_given_back_letter_by_letter(words):
    assert without_fence(as_it_stands(words)) == words


def test_bare_text_is_no_fence():
    for words in ("", "```", "```\n```", "a\nb\na", "```python\nx\n```"):
        assert without_fence(words) in (words, "")


def test_outputs_lose_their_colours_and_nothing_else():
    assert plain_output("\x1b[1;31m<b>red</b>\x1b[0m [x]") == "&lt;b&gt;red&lt;/b&gt; [x]"


def test_what_is_long_is_cut_and_said(written):  # noqa: F811
    hand_in_words(written, "aa-01", "a" * (LONGEST_SHOWN + 7))
    mark_school(written, quiet, ONE_ROOM)
    text = BeautifulSoup(shown(kept(written), settings_of(written)), "html.parser").get_text()
    assert "(and 7 more characters, in the script)" in text


# A page must not hang -------------------------------------------------------------------------------------------------


def made_for_the_page(notebook: dict[str, Any], paper: Paper) -> dict[str, Any]:
    variants = paper.variants()
    return for_hand_marking(notebook, variants, question_cells(variants))


def seconds(notebook: dict[str, Any], config: Config) -> float:
    start = time.process_time()
    shown(notebook, config)
    return time.process_time() - start


@pytest.mark.slow
@pytest.mark.parametrize("words", a_few(HEAVY.values(), 3), ids=HEAVY)
def test_heavy_text_takes_the_page_no_longer_than_any_text_of_its_length(written, words):  # noqa: F811
    mark_school(written, quiet, ONE_ROOM)
    paper, config = paper_of(written, "aa-02"), settings_of(written)
    script = script_with(written, paper, dict(right_answers(paper.variants())))
    took = []
    for text in ("word " * (len(words) // 5), words):
        cell_of(script)["source"] = text
        cell = {"cell_type": "code", "id": "own", "metadata": {}, "execution_count": 1, "source": text}
        output = {"output_type": "stream", "name": "stdout", "text": text}
        whole = {**script, "cells": [*script["cells"], {**cell, "outputs": [output]}]}
        took.append(min(seconds(made_for_the_page(whole, paper), config) for _ in range(2)))
    ordinary, heavy = took
    assert heavy < 3 * ordinary + 0.3


def test_pictures_that_are_larger_than_a_browser_bears_are_left_out_and_said(written):  # noqa: F811
    import base64
    import struct
    import zlib

    def drawn(width: int, height: int) -> str:
        rows = zlib.compress(bytes((1 + (width + 7) // 8) * height), 9)
        head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
        chunks = ((b"IHDR", head), (b"IDAT", rows), (b"IEND", b""))
        parts = [struct.pack(">I", len(d)) + n + d + struct.pack(">I", zlib.crc32(n + d)) for n, d in chunks]
        return base64.b64encode(b"\x89PNG\r\n\x1a\n" + b"".join(parts)).decode()

    paper = paper_of(written, "aa-01")
    script = script_with(written, paper, {})
    pictures = [drawn(100, 80), drawn(40_000, 40_000), drawn(7000, 7000), drawn(7000, 7000), "iVBORw0KGgo="]
    outputs = [{"output_type": "display_data", "metadata": {}, "data": {"image/png": one}} for one in pictures]
    cell = {"cell_type": "code", "id": "own", "metadata": {}, "execution_count": 1, "source": "", "outputs": outputs}
    made = made_for_the_page({**script, "cells": [cell]}, paper)
    found = [list(output["data"].items()) for output in made["cells"][0]["outputs"]]
    assert found[0] == [("image/png", pictures[0])]
    assert found[1] == [
        ("text/plain", "(A picture of 40000 by 40000 pixels was left out: too large for the page.)")
    ] or found[1] == [("text/plain", "(A picture that cannot be read was left out.)")]
    assert found[2] == [("image/png", pictures[2])]
    assert found[3][0][0] == found[4][0][0] == "text/plain"


# The server -----------------------------------------------------------------------------------------------------------

REFUSED = [
    ("POST", "/api/kernels"), ("GET", "/api/kernels"), ("GET", "/api/kernels/x/channels"), ("POST", "/api/sessions"),
    ("POST", "/api/terminals"), ("GET", "/terminals/websocket/1"), ("GET", "/api/contents/gradebook.db"),
    ("PUT", "/api/contents/x.py"), ("GET", "/files/gradebook.db"), ("GET", "/nbconvert/html/x"), ("GET", "/logout"),
    ("POST", "/api/shutdown"), ("GET", "/api/config/x"), ("GET", "/lab"), ("GET", "/tree"), ("GET", "/api/spec.yaml"),
    ("POST", f"/formgrader/api/submission/{SITTING}/aa-01/autograde"),
    ("POST", f"/formgrader/api/assignment/{SITTING}/assign"), ("PUT", f"/formgrader/api/assignment/{SITTING}"),
    ("PUT", "/formgrader/api/student/aa-01"), ("GET", "/formgrader?path=/tmp"), ("GET", "/formgrader/?a=1&path=/tmp"),
    ("GET", "/formgrader/manage_assignments?path=x"), ("GET", "/formgrader/submissions/x/paper.ipynb"),
    ("GET", "/formgrader/submissions/x/../../../gradebook.db"), ("GET", "/formgrader/submissions/x/y%2f..%2fz"),
    ("DELETE", "/formgrader/api/grade/1"), ("PATCH", "/api/contents/x"), ("OPTIONS", "/api/kernels"),
    ("GET", "//api/kernels"), ("GET", "/nbgrader/validate"), ("POST", "/formgrader/api/grade/1"),
]  # fmt: skip


@pytest.mark.parametrize(("method", "path"), REFUSED)
def test_what_marking_does_not_need_is_not_allowed(method, path):
    bare, _, query = path.partition("?")
    assert not allows(method, bare, [one.partition("=")[0] for one in query.split("&")])


def status(server: Page, method: str, path: str) -> int:
    request = urllib.request.Request(server.address + path, method=method, data=b"{}" if method != "GET" else None)
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status
    except urllib.error.HTTPError as error:
        return error.code


def below(process: int) -> set[str]:
    """The command lines of the processes that a process has started."""
    children = [one for file in Path(f"/proc/{process}/task").glob("*/children") for one in file.read_text().split()]
    return {Path(f"/proc/{one}/cmdline").read_text().replace("\0", " ") for one in children}


@pytest.fixture
def opened(hostile, tmp_path) -> Iterator[Page]:
    (tmp_path / "home").mkdir()
    server = Page(hostile.records, tmp_path / "home")
    yield server
    server.close()


def test_server_answers_nothing_but_marking_and_starts_no_process(hostile, opened):
    before = gradebook_of(hostile)
    assert {path: status(opened, method, path) for method, path in REFUSED} == {path: 403 for _, path in REFUSED}
    assert below(opened.process) == set()
    assert gradebook_of(hostile) == before


def test_page_with_every_payload_is_text_and_every_click_is_harmless(hostile, opened, browser):
    before = gradebook_of(hostile)
    (script,) = [
        one["id"]
        for one in json.loads(opened.get(f"/formgrader/api/submitted_notebooks/{SITTING}/paper"))
        if one["student"] == "aa-01"
    ]
    context = browser.new_context()
    tab: Tab = context.new_page()
    asked: list[str] = []
    errors: list[str] = []
    context.on("request", lambda request: asked.append(f"{request.method} {request.url}"))
    tab.on("pageerror", lambda error: errors.append(str(error)))
    tab.on("dialog", lambda dialog: errors.append(dialog.message))
    answer = tab.goto(f"{opened.address}/formgrader/submissions/{script}/?index=0")
    policy = answer.header_value("content-security-policy")
    assert "default-src 'none'" in policy
    assert "connect-src 'self'" in policy
    tab.wait_for_function(f"document.getElementById('{NAME}').placeholder !== undefined")
    tab.wait_for_function("document.querySelectorAll('.comment').length > 0 && window.jQuery && jQuery.active === 0")
    assert what_acts(tab.content()) == []
    title = tab.title()
    for thing in tab.locator("#notebook-container pre, #notebook-container a, #notebook-container svg").all():
        thing.evaluate("thing => thing.dispatchEvent(new MouseEvent('click', {bubbles: true, cancelable: true}))")
    tab.wait_for_function("jQuery.active === 0")
    assert (tab.title(), tab.url) == (title, f"{opened.address}/formgrader/submissions/{script}/?index=0")
    assert "[here](javascript:" in tab.inner_text("#notebook-container")
    assert [url for url in asked if not url.startswith((f"GET {opened.address}/", "GET data:"))] == []
    assert errors == []
    assert gradebook_of(hostile) == before
    # Marking itself goes on under these walls.
    tab.locator(f"[id='{NAME}']").fill("2")
    tab.locator(f"[id='{NAME}']").blur()
    tab.wait_for_function("jQuery.active === 0")
    assert below(opened.process) == set()
    context.close()
    assert gradebook_of(hostile)[SITTING, "aa-01", NAME][1] == 2


@pytest.mark.slow
def test_script_that_runs_in_the_page_gets_at_nothing_but_marks(hostile, opened, browser):
    """Should all that makes text of words fail one day: what a script in the page can do, by the page's own rights."""
    context = browser.new_context()
    tab = context.new_page()
    tab.goto(f"{opened.address}/formgrader/gradebook")
    said = tab.evaluate(
        """async ([refused, elsewhere]) => {
            const found = {};
            for (const [method, path] of refused) {
                const asked = {method, body: method === "GET" ? undefined : "{}"};
                found[path] = await fetch(path, asked).then((answer) => answer.status, () => "blocked");
            }
            found.elsewhere = await fetch(elsewhere, {mode: "no-cors"}).then(() => "sent", () => "blocked");
            found.socket = await new Promise((tell) => {
                const socket = new WebSocket(`ws://${location.host}/api/kernels/x/channels`);
                socket.onopen = () => tell("open"); socket.onerror = () => tell("blocked");
            });
            const picture = new Image();
            found.picture = await new Promise((tell) => {
                document.addEventListener("securitypolicyviolation", () => tell("blocked"), {once: true});
                picture.src = elsewhere + "/a.png";
            });
            return found;
        }""",
        [[one for one in REFUSED if not one[1].startswith("//")], ELSEWHERE],
    )
    context.close()
    outside = {name: said.pop(name) for name in ("elsewhere", "socket", "picture")}
    assert set(said.values()) == {403}
    assert outside == dict.fromkeys(outside, "blocked")
    assert below(opened.process) == set()


@pytest.mark.parametrize(
    "words",
    [
        pytest.param("\\\\[" * 16_000, id="[", marks=pytest.mark.slow),
        pytest.param("\\begin{a}" * 5_500, id="begin", marks=pytest.mark.slow),
        pytest.param("$" * 50_000, id="$", marks=pytest.mark.slow),
    ],
)
def test_browser_lays_a_heavy_page_out_as_it_does_any_page(written, tmp_path, browser, words):  # noqa: F811
    hand_in_words(written, "aa-01", words)
    hand_in_words(written, "aa-02", "word " * (len(words) // 5))
    mark_school(written, quiet, ONE_ROOM)
    (tmp_path / "home").mkdir()
    server = Page(written.records, tmp_path / "home")
    try:
        counts = {}
        for one in json.loads(server.get(f"/formgrader/api/submitted_notebooks/{SITTING}/paper")):
            tab = browser.new_page()
            tab.goto(f"{server.address}/formgrader/submissions/{one['id']}/")
            tab.wait_for_function("window.jQuery && jQuery.active === 0")
            session = tab.context.new_cdp_session(tab)
            session.send("Performance.enable")
            metrics = {m["name"]: m["value"] for m in session.send("Performance.getMetrics")["metrics"]}
            counts[one["student"]] = metrics["LayoutCount"], metrics["Nodes"]
            tab.close()
    finally:
        server.close()
    (heavy, nodes), (ordinary, ordinary_nodes) = counts["aa-01"], counts["aa-02"]
    assert heavy < 3 * ordinary + 30
    assert nodes < 2 * ordinary_nodes


def test_old_settings_file_is_taken_away_and_a_file_of_the_school_is_not(written):  # noqa: F811
    mark_school(written, quiet, ONE_ROOM)
    old = written.records / hand_marking.OLD_SETTINGS_FILE
    old.write_text("# Maps our folders for the hand-marking page. Start it in this folder with:\n", encoding="utf-8")
    mark_school(written, quiet, ONE_ROOM)
    assert not old.exists()
    old.write_text("c = get_config()\n", encoding="utf-8")
    mark_school(written, quiet, ONE_ROOM)
    assert old.read_text(encoding="utf-8") == "c = get_config()\n"


# Our own pages --------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_words_are_text_on_every_page_that_our_commands_write(hostile, browser):
    script = hostile_script(hostile, "aa-01")
    part = next(cell for cell in script["cells"] if cell["id"] == "answer-1a")
    part["source"] = f'answer("1a", {WORDS["picture that fails"]!r}, {WORDS["script link"][:30]!r})'
    hand_in(hostile, paper_of(hostile, "aa-01"), script)
    mark_school(hostile, quiet, ONE_ROOM)
    run = CliRunner().invoke
    for words in (["written"], ["results"], ["moderate", "--sitting", SITTING], ["debrief"], ["parts"], ["decide"]):
        done = run(commands, [words[0], str(hostile.folder), *words[1:]])
        assert done.exit_code == 0, done.output
    pages = sorted(hostile.records.rglob("*.html"))
    ours = {"written.html", "results.html", f"moderation_{SITTING}.html", f"debrief_{SITTING}.html"}
    assert ours <= {page.name for page in pages}
    found = 0
    for path in pages:
        text = path.read_text(encoding="utf-8")
        found += "elsewhere.invalid" in text
        for tag in BeautifulSoup(text, "html.parser").find_all(True):
            given = " ".join([tag.name, *map(str, tag.attrs.values()), *map(str, tag.attrs)])
            assert not re.search(r"javascript:|data:text|elsewhere|\bon(error|click|load)\b|logout", given, re.I), path
            assert tag.name != "script" or "full-credit" not in tag.get_text(), path
        asked: list[str] = []
        tab = browser.new_page()
        tab.on("request", lambda request, asked=asked: asked.append(request.url))
        tab.goto(path.as_uri())
        assert [url for url in asked if not url.startswith((path.parent.as_uri(), "data:"))] == []
        assert tab.title() != "taken"
        tab.close()
    assert found >= 2
