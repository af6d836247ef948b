"""The paper worked in Jupyter, by a person's keys in JupyterLab and without a page, where none of our packages is.

JupyterLab is what nbgrader brings along; its kernel here refuses to import anything of ours.
"""

from __future__ import annotations

import contextlib
import json
import re
import secrets
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import nbformat
import psutil
import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from grader.demo.simulation import Typed
from grader.papers.notebook import GIVEN_CELL, LAST_CELL, TITLE_CELL, script_name
from grader.store.school import School
from tests.grader.schools import add_cell, marks_of, opened_pack, pack_of, paper_of, right_answers, script_with

pytestmark = pytest.mark.slow

#: Milliseconds that a step in the browser may take on a busy machine.
PATIENCE = 120_000
#: Starts a kernel that cannot import our packages, whether they are installed beside it or not.
KERNEL = (
    "import sys; sys.modules.update(dict.fromkeys(('grader', 'exercises', 'pitside', 'book'))); "
    "from ipykernel.kernelapp import launch_new_instance; launch_new_instance()"
)
#: What keeps JupyterLab from asking the network, saving by itself, and taking cells out of sight out of the page.
PAGE_CONFIG = {
    "disabledExtensions": {
        "@jupyterlab/apputils-extension:announcements": True,
        "@jupyterlab/extensionmanager-extension:plugin": True,
    }
}
SETTINGS = {
    "docmanager-extension/plugin": {"autosave": False},
    "notebook-extension/tracker": {"windowingMode": "none"},
}


@pytest.fixture
def jupyter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Folders of its own for Jupyter, with the one kernel that papers name. Gives the folder of all of them."""
    home = tmp_path / "jupyter"
    for name in ("config", "data", "runtime", "ipython", "matplotlib"):
        (home / name).mkdir(parents=True)
    for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR", "MPLCONFIGDIR"):
        folder = name.removesuffix("DIR").removesuffix("_").removeprefix("JUPYTER_").lower()
        monkeypatch.setenv(name, str(home / {"mplconfig": "matplotlib"}.get(folder, folder)))
    kernel = home / "first" / "kernels" / "python3" / "kernel.json"
    kernel.parent.mkdir(parents=True)
    argv = [sys.executable, "-I", "-c", KERNEL, "-f", "{connection_file}"]
    kernel.write_text(json.dumps({"argv": argv, "display_name": "Python 3", "language": "python"}))
    monkeypatch.setenv("JUPYTER_PATH", str(home / "first"))
    monkeypatch.delenv("PYTHONPATH", raising=False)
    return home


def until(condition: Callable[[], Any], what: str) -> Any:
    """What the condition gives once it holds."""
    deadline = time.monotonic() + PATIENCE / 1000
    while not (found := condition()):
        assert time.monotonic() < deadline, f"waited in vain for {what}"
        time.sleep(0.05)
    return found


# JupyterLab -----------------------------------------------------------------------------------------------------------


def family_of(process: subprocess.Popen[bytes]) -> list[psutil.Process]:
    head = psutil.Process(process.pid)
    return [head, *head.children(recursive=True)]


@dataclass(frozen=True)
class Lab:
    """A JupyterLab server that runs: where it is, and the words that open it."""

    process: subprocess.Popen[bytes]
    url: str
    token: str

    def stop(self) -> list[psutil.Process]:
        """Shut it down as its own page does; gives the processes of it that are left over."""
        family = family_of(self.process)
        assert len(family) > 1, "no kernel runs"
        request = urllib.request.Request(f"{self.url}api/shutdown", method="POST")
        request.add_header("Authorization", f"token {self.token}")
        urllib.request.urlopen(request, timeout=PATIENCE / 1000).close()
        assert self.process.wait(PATIENCE / 1000) == 0
        return psutil.wait_procs(family, timeout=PATIENCE / 1000)[1]


@pytest.fixture
def lab(jupyter: Path, tmp_path: Path) -> Iterator[Lab]:
    """JupyterLab on the folder ``desk``, on this machine alone."""
    (tmp_path / "desk").mkdir()
    page_config = jupyter / "config" / "labconfig" / "page_config.json"
    page_config.parent.mkdir()
    page_config.write_text(json.dumps(PAGE_CONFIG))
    for name, settings in SETTINGS.items():
        path = jupyter / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(settings))
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    token = secrets.token_hex(16)
    options = {
        "ServerApp.ip": "127.0.0.1", "ServerApp.port": port, "ServerApp.root_dir": tmp_path / "desk",
        "ServerApp.open_browser": False, "ServerApp.allow_root": True, "IdentityProvider.token": token,
        "LabApp.news_url": None, "LabApp.check_for_updates_class": "jupyterlab.NeverCheckForUpdate",
        "LabApp.extension_manager": "readonly", "LabApp.user_settings_dir": jupyter / "settings",
        "LabApp.workspaces_dir": jupyter / "workspaces",
    }  # fmt: skip
    with (jupyter / "log.txt").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", *(f"--{name}={value}" for name, value in options.items())],
            cwd=tmp_path, stdin=subprocess.DEVNULL, stdout=log, stderr=log,
        )  # fmt: skip
    told = jupyter / "runtime" / f"jpserver-{process.pid}.json"

    def address() -> str:
        assert process.poll() is None, (jupyter / "log.txt").read_text()
        with contextlib.suppress(OSError, ValueError):
            return json.loads(told.read_text())["url"]
        return ""

    try:
        yield Lab(process, until(address, "JupyterLab"), token)
    finally:
        if process.poll() is None:
            for each in family_of(process):
                with contextlib.suppress(psutil.Error):
                    each.kill()
            process.wait()


def cell_of(page: Page, script: dict[str, Any], cell_id: str) -> Locator:
    """A cell on the page, by its place in the notebook."""
    place = [cell["id"] for cell in script["cells"]].index(cell_id)
    return page.locator(".jp-Notebook .jp-Cell").nth(place)


def run(page: Page, cell: Locator, replies: int) -> list[str]:
    """Run the cell that the keyboard is in, with Shift and Enter, and give the lines that it replies."""
    page.keyboard.press("Shift+Enter")
    expect(cell.locator(".jp-InputPrompt")).to_have_text(re.compile(r"^\[\d+\]:$"))
    said = cell.locator(".jp-OutputArea").first
    until(lambda: len(said.inner_text().split("\n")) >= replies, "the replies of a cell")
    return said.inner_text().strip().splitlines()


def type_and_run(page: Page, cell: Locator, lines: list[str]) -> list[str]:
    """Type lines in place of a cell's, run it, and give the lines that it replies."""
    editor = cell.locator(".cm-content")
    editor.click()
    page.keyboard.press("Control+a")
    for at, line in enumerate(lines):
        if at:
            page.keyboard.press("Enter")
        page.keyboard.type(line)
    expect(editor.locator(".cm-line")).to_have_text(lines)
    return run(page, cell, len(lines))


def lines_of(cell: dict[str, Any], answers: dict[str, Typed | None]) -> list[str]:
    """What a person types into an answer cell: a line for each answer, in the order of the handed-out cell."""
    lines = []
    for name in re.findall(r'answer\("([^"]+)", None', cell["source"]):
        typed = answers[name]
        if typed is not None:
            value = f'"{typed.value}"' if isinstance(typed.value, str) else repr(typed.value)
            lines.append(f'answer("{name}", {value}, "{typed.unit}")' if typed.unit else f'answer("{name}", {value})')
    return lines


@pytest.mark.browser
def test_a_paper_worked_in_jupyterlab_is_marked_like_one_that_was_filled_in(
    browser: Browser, lab: Lab, issued_school: School, tmp_path: Path, warm_room: None
) -> None:
    paper = paper_of(issued_school, "aa-02")
    pack = pack_of(issued_school, paper)
    name = script_name(issued_school, paper)
    (tmp_path / "desk" / name).write_bytes((opened_pack(issued_school, paper.candidate) / name).read_bytes())
    answers: dict[str, Typed | None] = dict(right_answers(paper.variants()))
    numbers = [item for item, typed in answers.items() if isinstance(typed.value, float)]
    wrong, unfit, comma, blank = numbers[0], numbers[2], numbers[3], numbers[-1]
    answers[wrong] = Typed(answers[wrong].value * 2, answers[wrong].unit)
    answers[unfit] = Typed(answers[unfit].value, "rpm")
    answers[comma] = Typed(f"{answers[comma].value:.5g}".replace(".", ","), answers[comma].unit)
    answers[blank] = None

    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.set_default_timeout(PATIENCE)
    expect.set_options(timeout=PATIENCE)
    asked: list[str] = []
    try:
        page = context.new_page()
        page.on("request", lambda request: asked.append(request.url))
        page.on("websocket", lambda socket: asked.append(socket.url.replace("ws:", "http:", 1)))
        page.goto(f"{lab.url}lab/tree/{name}?token={lab.token}")
        expect(page.locator(".jp-Notebook .jp-Cell")).to_have_count(len(pack["cells"]))
        # What is run before that is lost, as JupyterLab has it.
        expect(page.locator("#jp-main-statusbar")).to_contain_text("Python 3 | Idle")

        given = cell_of(page, pack, GIVEN_CELL)
        expect(given.locator(".cm-content")).to_be_hidden()  # folded
        cell_of(page, pack, TITLE_CELL).click()
        page.keyboard.press("Shift+Enter")
        page.keyboard.press("Shift+Enter")
        expect(given).to_contain_text("Ready: answer in the cells below")
        expect(given.locator(".cm-content")).to_be_hidden()
        replies: list[str] = []
        for cell in pack["cells"]:
            if cell["cell_type"] == "code" and (lines := lines_of(cell, answers)):
                replies += type_and_run(page, cell_of(page, pack, cell["id"]), lines)
        expected = [item for item, typed in answers.items() if typed is not None]
        assert [reply.partition(": recorded ")[0] for reply in replies] == expected
        looks = [reply for reply in replies if "Look again" in reply]
        assert [reply.partition(":")[0] for reply in looks] == [unfit]
        assert "rpm measures a speed of rotation or frequency; the question asks for" in looks[0]

        last = cell_of(page, pack, LAST_CELL)
        last.locator(".cm-content").click()
        left = run(page, last, 3)
        assert left[0] == f"No answer yet: {blank}."
        assert left[-1].endswith("hand in the file under the name that it has.")
        last.scroll_into_view_if_needed()

        page.keyboard.press("Control+s")
        saved = until(lambda: saved_with(tmp_path / "desk" / name, replies[-1]), "the saved notebook")
    finally:
        expect.set_options(timeout=5_000)
        context.close()
    assert asked
    assert [url for url in asked if not url.startswith((lab.url, "data:", "blob:"))] == []
    assert lab.stop() == []

    nbformat.validate(nbformat.reads(saved, as_version=4))
    assert json.loads(saved)["metadata"]["pitside"] == pack["metadata"]["pitside"]
    assert [path.name for path in (tmp_path / "desk").glob("*.ipynb")] == [name]
    marked = [
        marks_of(issued_school, tmp_path / way, script)
        for way, script in (("lab", saved.encode()), ("filled", script_with(issued_school, paper, answers)))
    ]
    assert marked[0].exercises == marked[1].exercises
    assert 0 < marked[0].marks < marked[0].out_of


def saved_with(path: Path, reply: str) -> str:
    """The notebook's text once it is there whole with this reply in it, else an empty text."""
    text = path.read_text(encoding="utf-8")
    with contextlib.suppress(ValueError):
        outputs = [out for cell in json.loads(text)["cells"] for out in cell.get("outputs", ())]
        if reply in "".join("".join(output.get("text", "")) for output in outputs):
            return text
    return ""


# Without a page -------------------------------------------------------------------------------------------------------

BARE = """\
import sys
for name in ("grader", "exercises", "pitside"):
    try:
        __import__(name)
    except ImportError as error:
        print("cannot import", name)
loaded = set(sys.modules)"""
WORKING = """\
assert set(sys.modules) == loaded  # the given cell brought nothing along
import numpy as np, pint
import matplotlib.pyplot as plt
plt.plot(np.arange(3))
mass = pint.UnitRegistry().Quantity(np.float64(412.5), "lb")
answer("1a", mass)
answer("1a", mass.to("kg"))"""


@pytest.mark.parametrize("candidate", ["aa-01", "aa-02"])
def test_a_paper_runs_where_none_of_our_packages_can_be_imported(
    jupyter: Path, issued_school: School, tmp_path: Path, candidate: str
) -> None:
    """As anyone runs it who has Jupyter, numpy, pint and matplotlib."""
    from nbclient import NotebookClient

    paper = paper_of(issued_school, candidate)
    answers = dict(right_answers(paper.variants()))
    script = script_with(issued_school, paper, answers)
    add_cell(script, WORKING)
    add_cell(script, BARE, after=-1)
    notebook = nbformat.from_dict(script)
    NotebookClient(notebook, timeout=PATIENCE // 1000, resources={"metadata": {"path": str(tmp_path)}}).execute()
    said = {
        cell.id: "".join(output.text for output in cell.outputs if output.output_type == "stream").splitlines()
        for cell in notebook.cells
        if cell.cell_type == "code"
    }
    bare, given, working, *rest, last = said.values()
    assert bare == [f"cannot import {name}" for name in ("grader", "exercises", "pitside")]
    assert given == ["Ready: answer in the cells below, and run each with Shift and Enter."]
    assert last[0] == "Every part that asks for a number or letters has an answer."
    assert working == ["1a: recorded 412.5 pound", "1a: recorded 187.107 kilogram"]
    expected = []
    for name, typed in answers.items():
        value = f"{typed.value:.6g}" if isinstance(typed.value, float) else typed.value
        expected.append(f"{name}: recorded {value} {typed.unit}".rstrip())
    assert [line for lines in rest for line in lines] == expected
