"""What the wheel holds, and that it works where no source tree is in sight."""

from __future__ import annotations

import ast
import contextlib
import http.cookiejar
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import sysconfig
import tomllib
import urllib.request
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from setuptools import Distribution

from grader.pages import built_book
from grader.pages.built_book import copy_book
from grader.store.errors import GraderError
from tests.book.conftest import TOC, build
from tests.sharing import made_once

ROOT = Path(__file__).parents[2]
PACKAGES = ("pitside", "exercises", "grader")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
#: Libraries that commands ask for where they need them, and do without where they are not there: by their extra.
ASKED_FOR = {"dask": {"dask", "distributed"}, "pdf": {"playwright", "pypdf"}}


def test_the_wheel_holds_every_file_of_the_packages():
    with contextlib.chdir(ROOT):
        distribution = Distribution({"script_name": "pyproject.toml"})
        distribution.parse_config_files()
        packing = distribution.get_command_obj("build_py")
        packing.ensure_finalized()
        packed = {Path(file) for _, _, file in packing.find_all_modules()}
        packed |= {Path(source, name) for _, source, _, names in packing.data_files for name in names}
    there = {
        path.relative_to(ROOT)
        for package in PACKAGES
        for path in (ROOT / package).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert len(there) > 300
    assert packed == there


def test_what_is_needed_to_build_the_book_or_to_test_is_not_needed_to_install():
    modules = [path for package in PACKAGES for path in (ROOT / package).rglob("*.py")]
    imported = {name.partition(".")[0] for path in modules for name in _imports(path)}
    outside = imported - set(sys.stdlib_module_names) - set(PACKAGES) - set.union(*ASKED_FOR.values())
    of_module = metadata.packages_distributions()
    needed = {canonicalize_name(of_module[name][0]) for name in outside}
    listed = {canonicalize_name(Requirement(line).name) for line in PROJECT["dependencies"]}
    assert listed >= needed
    # Starlette asks for the one where a form is sent; the other is nbformat's, and bounded for its speed.
    assert listed - needed == {"python-multipart", "jsonschema"}


def _imports(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module)
    return found


def test_what_the_wheel_asks_for_allows_what_the_tests_run_with():
    lines = (ROOT / "requirements.txt").read_text(encoding="utf-8").splitlines()
    pinned = [Requirement(line.partition("#")[0]) for line in lines if line and line[0] != "#"]
    version = {canonicalize_name(one.name): next(iter(one.specifier)).version for one in pinned}
    asked = [PROJECT["dependencies"], *PROJECT["optional-dependencies"].values()]
    for one in (Requirement(line) for lines in asked for line in lines):
        assert one.specifier.contains(version[canonicalize_name(one.name)]), str(one)


# The book that came along ---------------------------------------------------------------------------------------------


@pytest.fixture
def came_along(tmp_path, monkeypatch):
    folder = tmp_path / "installed"
    (folder / "lessons").mkdir(parents=True)
    (folder / "index.html").write_text("first", encoding="utf-8")
    (folder / "lessons" / "gas.html").write_text("gas", encoding="utf-8")
    monkeypatch.setattr(built_book, "FOLDER", folder)
    return folder


def test_the_book_is_copied_and_copied_again(came_along, tmp_path):
    for _ in range(2):
        first = copy_book(tmp_path / "stick" / "book")
        assert first.read_text(encoding="utf-8") == "first"
        assert (first.parent / "lessons" / "gas.html").exists()


def test_the_book_is_copied_over_nothing_else(came_along, tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    (stick / "holiday.jpg").write_bytes(b"x")
    with pytest.raises(GraderError, match="stick: holds other files; name a new or an empty folder"):
        copy_book(stick)
    assert [path.name for path in stick.iterdir()] == ["holiday.jpg"]
    with pytest.raises(GraderError, match=r"holiday\.jpg: a file of this name is in the way"):
        copy_book(stick / "holiday.jpg")


def test_where_no_book_came_along_it_is_said_how_to_get_one(came_along, tmp_path):
    shutil.rmtree(came_along)
    with pytest.raises(GraderError, match="no book came with this installation: install pitside from its wheel"):
        copy_book(tmp_path / "book")


# Installed ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Installed:
    """An environment into which the wheel was installed, and a folder to work in, far from the source tree."""

    programs: Path
    cwd: Path

    def start(self, *words: str) -> subprocess.Popen[str]:
        kept = {name: os.environ[name] for name in ("HOME", "TMPDIR", "LANG") if name in os.environ}
        environment = {**kept, "PATH": f"{self.programs}:/usr/bin:/bin"}
        return subprocess.Popen(
            words, cwd=self.cwd, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )

    def run(self, *words: str) -> str:
        done = self.start(*words)
        said, complaint = done.communicate(timeout=500)
        assert done.returncode == 0, complaint
        return said


@pytest.fixture(scope="module")
def installed(tmp_path_factory) -> Installed:
    """The wheel as ``make wheel`` builds it, with a book of one lesson; its libraries are those of the tests."""
    top = tmp_path_factory.mktemp("installed")
    toc = top / "toc.yml"
    toc.write_text(TOC, encoding="utf-8")
    book = made_once(tmp_path_factory, "one-lesson", lambda folder: build(folder, "--toc", str(toc)))
    source = top / "source"
    for package in (*PACKAGES, "book"):
        shutil.copytree(ROOT / package, source / package, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, source)
    shutil.copytree(book / "_build" / "html", source / "_build" / "html")
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check", "--no-input"]
    offline = ["--no-index", "--no-deps"]
    subprocess.run([*pip, "wheel", *offline, "--no-build-isolation", "--wheel-dir", str(top), str(source)], check=True)
    shutil.rmtree(source)
    [wheel] = top.glob("*.whl")
    clean = top / "clean"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(clean)], check=True)
    place = {"base": str(clean), "platbase": str(clean)}
    packages = Path(sysconfig.get_path("purelib", vars=place))
    # A folder that is only named here brings its libraries, and not what makes the source tree importable.
    (packages / "libraries.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    python = Path(sysconfig.get_path("scripts", vars=place)) / "python"
    subprocess.run([*pip, "--python", str(python), "install", *offline, str(wheel)], check=True)
    cwd = top / "elsewhere"
    cwd.mkdir()
    return Installed(python.parent, cwd)


@pytest.fixture(scope="module")
def demonstration(installed) -> str:
    """What ``pitside demo`` said."""
    return installed.run("pitside", "demo")


@pytest.mark.slow
def test_installed_programs_are_those_of_the_wheel(installed):
    said = installed.run("python", "-c", "import grader, pitside, exercises; print(grader.__file__, pitside.__file__)")
    assert f"{ROOT}{os.sep}" not in said
    assert said.count("site-packages") == 2
    assert "Make a whole invented school" in installed.run("pitside", "--help")
    assert PROJECT["version"] in installed.run("pitside", "--version")


@pytest.mark.slow
def test_installed_demonstration_is_marked_behind_walls_and_ends_by_offering_the_desk(installed, demonstration):
    assert f"{ROOT}{os.sep}" not in demonstration
    last = demonstration.splitlines()[-1]
    assert last == "All of it in the browser, as an instructor goes: pitside desk pitside-demo"
    book = re.search(r"the book +(\S+)", demonstration)[1]
    assert book.endswith("site-packages/grader/built_book/index.html")
    assert Path(book).is_file()
    assert re.search(r"24 candidates, 20 scripts marked, 3 files refused", demonstration)
    records = (installed.cwd / "pitside-demo" / "records").rglob("*.ipynb")
    found = [line for path in records for line in re.findall(r"found: \[.*?\]", path.read_text(encoding="utf-8"))]
    assert found == ["found: []"], "a script saw the school's secrets, or the one that looks for them was not run"


@pytest.mark.slow
def test_installed_desk_opens_the_demonstration_and_closes(installed, demonstration):
    desk = installed.start("pitside", "desk", "pitside-demo", "--no-browser")
    try:
        address = re.search(r"http://\S+", desk.stdout.readline())[0]
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar()))
        home = re.search(r'url=([^"]+)"', browser.open(address).read().decode())[1]
        site = re.match(r"http://[^/]+", address)[0]
        assert "What comes next" in browser.open(f"{site}{home}").read().decode()
        assert "The book of lessons" in browser.open(f"{site}{home}hand-out").read().decode()
    finally:
        desk.send_signal(signal.SIGINT)
        _, complaint = desk.communicate(timeout=60)
    assert (desk.returncode, complaint) == (0, "")


@pytest.mark.slow
def test_installed_marks_a_folder_and_runs_scripts_in_a_room_that_hides_the_exercises(installed):
    installed.run("pitside", "new", "school")
    school = installed.cwd / "school"
    (school / "roster.csv").write_text("id,name\naa-01,Ann Sand\n", encoding="utf-8")
    installed.run("pitside", "issue", "school")
    [pack] = school.glob("packs/*/aa-01.zip")
    shutil.unpack_archive(pack, installed.cwd / "opened")
    [notebook] = (installed.cwd / "opened").rglob("*.ipynb")
    script = json.loads(notebook.read_bytes())
    look = "\n".join((
        "try:", "    from exercises import BANK", "except ImportError:", "    print('not there')",
        "else:", "    print('there', len(BANK))",
    ))  # fmt: skip
    script["cells"].insert(-1, {
        "cell_type": "code", "id": "look", "metadata": {}, "execution_count": None, "outputs": [], "source": look,
    })  # fmt: skip
    (school / "scripts" / notebook.name).write_text(json.dumps(script), encoding="utf-8")
    said = installed.run("pitside", "mark", "school", "--run-all")
    assert "1 script marked" in said
    [marked] = (school / "records" / "marked").rglob("*.ipynb")
    [looked] = [cell for cell in json.loads(marked.read_bytes())["cells"] if cell.get("source") == look]
    assert "".join(looked["outputs"][0]["text"]) == "not there\n"


@pytest.mark.slow
def test_installed_book_is_copied_to_a_stick(installed):
    said = installed.run("pitside", "book", "--to", "stick/book")
    assert said == f"The book is copied. Its first page: {installed.cwd.resolve()}/stick/book/index.html\n"
    assert (installed.cwd / "stick" / "book" / "lessons" / "mud-weight.html").is_file()
