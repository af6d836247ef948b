"""Imports go one way: pitside, then exercises, then grader; and a script's room knows none of them."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
OURS = {"pitside", "exercises", "grader", "book"}
UNTRUSTED = ROOT / "grader" / "untrusted"
#: What reading a script and running it share.
SHARED = "grader.untrusted.claim"

#: What each package may import of ours, itself included.
MAY_IMPORT = {
    "pitside": {"pitside"},
    "exercises": {"pitside", "exercises"},
    "grader": {"pitside", "exercises", "grader"},
}
#: The rooms of the grader from the lowest up: a module imports from its own room and those before it.
ROOMS = ("store", "pages", "running", "papers", "returned", "observed", "classroom", "marking", "signing", "reports",
         "certificates", "take_home", "privacy", "demo", "desk", "cli")  # fmt: skip
#: Libraries that belong to notebooks, pages, plots and marking, which calculations must not bring along.
HEAVY = {"matplotlib", "IPython", "ipykernel", "jupyter_core", "jupyter_client", "nbformat", "nbclient", "nbconvert",
         "nbgrader", "sqlalchemy", "jinja2", "sphinx", "click", "rich"}  # fmt: skip


def imports_of(source: str, package: str) -> set[str]:
    """Full dotted names of all that a module of ``package`` imports, wherever in it, relative ones resolved."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            found |= {f"{base}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Call) and ast.unparse(node.func) in ("__import__", "importlib.import_module"):
            found |= {ast.literal_eval(argument) for argument in node.args[:1] if isinstance(argument, ast.Constant)}
    return found


def modules(folder: Path) -> list[Path]:
    files = sorted(folder.rglob("*.py"))
    assert files, f"{folder} holds no modules"
    return files


def package_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).parts[:-1])


def test_finder_sees_every_way_to_import():
    source = (
        "import a.b, c\nfrom d import e\nfrom . import f\nfrom .g import h\nfrom .. import i\n"
        "def late():\n    import j\n    __import__('k')\n    importlib.import_module('l')\n"
    )
    assert imports_of(source, "x.y") == {"a.b", "c", "d.e", "x.y.f", "x.y.g.h", "x.i", "j", "k", "l"}


@pytest.mark.parametrize("package", MAY_IMPORT)
def test_package_imports_only_what_lies_below_it(package):
    for path in modules(ROOT / package):
        if path.is_relative_to(UNTRUSTED):
            continue
        ours = {name.split(".")[0] for name in imports_of(path.read_text(), package_of(path))} & OURS
        assert ours <= MAY_IMPORT[package], path


@pytest.mark.parametrize("room", ROOMS[:-1])
def test_room_of_the_grader_imports_only_from_the_rooms_below_it(room):
    may = {"grader", *(f"grader.{one}" for one in ROOMS[: ROOMS.index(room) + 1])}
    for path in modules(ROOT / "grader" / room):
        names = {name for name in imports_of(path.read_text(), package_of(path)) if name.split(".")[0] == "grader"}
        names = {name for name in names if not name.startswith(f"{SHARED}.")}
        assert {".".join(name.split(".")[:2]) for name in names} <= may, path


def test_every_module_of_the_grader_lies_in_a_room():
    there = {path.relative_to(ROOT / "grader").parts[0] for path in modules(ROOT / "grader")}
    assert there == {*ROOMS[:-1], "cli.py", "command_names.py", "untrusted", "__init__.py"}


def test_modules_of_a_room_import_each_other_in_no_circle():
    for room in ROOMS[:-1]:
        files = {f"grader.{room}.{path.stem}": path for path in modules(ROOT / "grader" / room)}
        left = {
            name: {
                other
                for other in files
                if other != name and any(i == other or i.startswith(other + ".") for i in found)
            }
            for name, path in files.items()
            for found in [imports_of(path.read_text(), package_of(path))]
        }
        while free := [name for name, needs in left.items() if not needs & left.keys()]:
            for name in free:
                del left[name]
        assert not left, f"these import each other in a circle: {sorted(left)}"


def test_untrusted_code_imports_nothing_of_ours_but_itself():
    for path in modules(UNTRUSTED):
        for name in imports_of(path.read_text(), package_of(path)):
            assert name.split(".")[0] not in OURS or name.startswith("grader.untrusted."), f"{path}: {name}"


def test_untrusted_code_names_its_own_modules_relatively_so_that_it_runs_outside_the_package():
    for path in modules(UNTRUSTED):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and not node.level:
                assert node.module.split(".")[0] not in OURS, path
            if isinstance(node, ast.Import):
                assert not {alias.name.split(".")[0] for alias in node.names} & OURS, path


def test_trusted_code_imports_of_untrusted_code_only_what_makes_text_of_an_answer():
    for path in modules(ROOT / "grader"):
        if not path.is_relative_to(UNTRUSTED):
            names = {n for n in imports_of(path.read_text(), package_of(path)) if n.startswith("grader.untrusted")}
            reads = path == ROOT / "grader" / "running" / "reading.py"
            assert names == ({f"{SHARED}.Claim", f"{SHARED}.claim_of"} if reads else set()), path
    shared = ROOT.joinpath(*SHARED.split(".")).with_suffix(".py")
    assert {name.split(".")[0] for name in imports_of(shared.read_text(), package_of(shared))} == {
        "__future__", "json", "numbers", "typing",
    }  # fmt: skip


def loaded_by(package: str) -> set[str]:
    """Top names of all modules that a fresh Python has loaded after importing every module of a package."""
    names = [
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        for path in modules(ROOT / package)
    ]
    # Pint loads Dask where it is installed, and Dask a library for pages; neither is asked for by us.
    code = (
        f"import sys; sys.modules['dask'] = None; import {', '.join(names)}\n"
        "print(*{name.split('.')[0] for name in sys.modules})"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    return set(done.stdout.split())


@pytest.mark.parametrize("package", ["pitside", "exercises"])
def test_importing_calculations_brings_no_notebook_page_plot_or_marking_library(package):
    loaded = loaded_by(package)
    assert {"numpy", "pint", package} <= loaded
    assert loaded & (HEAVY | OURS) <= MAY_IMPORT[package]


@pytest.mark.parametrize("package", ["pitside", "exercises"])
def test_calculations_and_exercises_name_no_heavy_library_even_late(package):
    """Charts are drawn by Matplotlib, loaded when the first one is drawn."""
    for path in modules(ROOT / package):
        may = {"matplotlib"} if path == ROOT / "exercises" / "model" / "chart.py" else set()
        assert not {name.split(".")[0] for name in imports_of(path.read_text(), package_of(path))} & HEAVY - may, path
