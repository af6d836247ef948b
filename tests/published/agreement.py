"""Write the book's page of published checks: each calculation, what it was held against, and how well they agree.

Run as ``make agreement`` after a check has been added or changed; a test wants the page to be true.
"""

from __future__ import annotations

import importlib
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import numpy as np

from pitside.errors import ValidityWarning
from tests.published.published_check import Check, Status

HERE = Path(__file__).parent
PAGE = HERE.parents[1] / "book" / "reference" / "checks.md"

HEAD = """\
# How the calculations were checked

Every sum of this book is done by the project's own calculations. The tests hold them against figures from outside the
project, or worked out apart from it. This page is written from those tests: {total} figures. How far each source was
seen is said with it.

{statuses}

Where a source rounds its figures, ours differ by that rounding; the test gives the reason of its tolerance. A figure
marked *from memory* proves only that the calculation does what its author remembers of the source. A *derived* figure
that a plain balance gives proves only that the calculation agrees with itself.
"""

MEANING = {
    Status.SEEN: "the source's text was seen",
    Status.RESTATED: "seen in another work that restates it",
    Status.MEMORY: "recalled and not seen again",
    Status.DERIVED: "computed in the test from physical constants or a public library",
    Status.COMMON: "a fact of the trade",
}


def checks() -> list[Check]:
    """Every check that the modules of this folder hold, in the order of the files."""
    found: list[Check] = []
    for path in sorted(HERE.glob("test_*.py")):
        module = importlib.import_module(f"{__package__}.{path.stem}")
        for value in vars(module).values():
            if isinstance(value, (list, tuple)):
                found += [one for one in value if isinstance(one, Check) and one not in found]
    return found


def functions(check: Check) -> dict[str, str]:
    """The calculations of pitside that a check calls, also by way of the test's own functions: name to module."""
    called: dict[str, str] = {}
    _collect(check.compute, called, set())
    return called


def _collect(function: Callable[..., Any], called: dict[str, str], seen: set[int]) -> None:
    if id(function) in seen or not isinstance(function, FunctionType):
        return
    seen.add(id(function))
    held = [cell.cell_contents for cell in function.__closure__ or ()]
    for thing in [function.__globals__.get(name) for name in _names(function.__code__)] + held:
        module = getattr(thing, "__module__", None) or ""
        if not callable(thing):
            continue
        if module.startswith("pitside.") and module != "pitside.units":
            called.setdefault(thing.__name__, module.removeprefix("pitside."))
        elif module == function.__module__:
            _collect(thing, called, seen)


def _names(code: CodeType) -> Iterator[str]:
    yield from code.co_names
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _names(constant)


def page() -> str:
    """The whole page."""
    every = checks()
    count = Counter(check.status for check in every)
    statuses = "\n".join(f"- *{status.value}*: {MEANING[status]} ({count[status]})" for status in Status)
    text = HEAD.format(total=len(every), statuses=statuses)
    modules = [next(iter(functions(check).values()), "tables and constants") for check in every]
    for module in sorted(set(modules)):
        title = module.replace("_", " ").capitalize()
        text += f"\n## {title}\n\n| calculation | held against | source, status | source says | ours | apart |\n"
        text += "| --- | --- | --- | --- | --- | --- |\n"
        rows = [_row(check) for check, of in zip(every, modules, strict=True) if of == module]
        text += "".join(f"| {' | '.join(row)} |\n" for row in rows)
    return text


def _row(check: Check) -> tuple[str, ...]:
    with warnings.catch_warnings():
        # Whether a figure lies outside a range is said, and tested, where the check stands.
        warnings.simplefilter("ignore", ValidityWarning)
        expected = check.value() if callable(check.value) else check.value
        found = check.found
    apart = abs(found - expected) / abs(expected) if expected else abs(found)
    small = "< 0.001 %" if apart < 1e-5 else f"{100 * apart:.2g} %"
    called = ", ".join(f"`{name}`" for name in functions(check)) or "a table or constant"
    unit = "" if check.unit in ("", "dimensionless") else f" {check.unit}"
    for word, sign in (("percent", "%"), ("**2", "²"), ("**3", "³"), ("um", "µm"), ("*", " ")):
        unit = unit.replace(word, sign)
    claim = check.claim.replace("|", "/")
    return called, claim, f"{check.source}, *{check.status.value}*", f"{_digits(expected)}{unit}", _digits(found), small


def _digits(value: float) -> str:
    return np.format_float_positional(float(f"{value:.5g}"), trim="-") if 1e-4 <= abs(value) < 1e6 else f"{value:.4g}"


if __name__ == "__main__":
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text(page(), encoding="utf-8")
    print(f"{PAGE}: {len(checks())} checks")
