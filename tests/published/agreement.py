"""Write the book's page of published checks: each calculation, what it was held against, and how well they agree.

Beside the page lie the figures of the measurements, one for each comparison of ``measured_data``.

Run as ``make agreement`` after a check has been added or changed; a test wants the page to be true.
"""

from __future__ import annotations

import importlib
import io
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import numpy as np
from matplotlib import style
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, StrMethodFormatter

from pitside.errors import ValidityWarning
from tests.published.measured_data import COMPARISONS, Comparison
from tests.published.published_check import Check, Status

HERE = Path(__file__).parent
PAGE = HERE.parents[1] / "book" / "reference" / "checks.md"

HEAD = """\
# How the calculations were checked

Every sum of this book is done by the project's own calculations. The tests hold them against figures from outside the
project, or worked out apart from it. This page is written from those tests: {total} figures. {published} stand in a
publication, or are said to, and of these {seen:.0f} % were seen, in the source itself or in a work that restates it.
Of all figures {apart:.0f} % were seen or worked out by a library of other hands. How far each source was seen is said
with it.

{statuses}

Where a source rounds its figures, ours differ by that rounding; the test gives the reason of its tolerance. A figure
marked *from memory* proves only that the calculation does what its author remembers of the source. A *derived* figure
that a plain balance gives proves only that the calculation agrees with itself.
"""

MEASURED = """
## Against measurements

A figure in a book shows whether a calculation is right. Measurements show how far a right calculation lies from the
world: grains are no spheres, sieve classes are wide, tanks have walls. Circles are measured, the line is worked out;
where both axes are velocities, the line is where the two agree.
"""

NOT_FOUND = """
### Looked for and not found

Nothing that could be read was found for these: the settling of natural sand grains one by one (the sets of Dietrich
1982 and of Ferguson and Church 2004 are named in many places, their tables in none that was open); hindered settling
and expanded beds (Richardson and Zaki 1954, Di Felice 1999 and others: abstracts, fits and simulations only); a cyclone
or a bowl on drilling mud; records of dilution on a rig. The public set of spheres of 0.09 to 0.93 mm in water lies in a
binary file that could not be opened. So the crowding of grains, the form for rough grains, the cut of cones by Plitt
and the cut of bowls by Sigma have been held against published formulas and figures, and not against measurements.
"""

MEANING = {
    Status.SEEN: "the source's text was seen",
    Status.RESTATED: "seen in another work that restates it",
    Status.MEMORY: "recalled and not seen again",
    Status.LIBRARY: "fluids, CoolProp, SciPy and NumPy, none of them ours",
    Status.DERIVED: "computed in the test from a balance or a law",
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
    seen = sum(check.status.seen for check in every)
    published = sum(not check.status.computed for check in every)
    apart = seen + count[Status.LIBRARY]
    text = HEAD.format(
        total=len(every),
        published=published,
        seen=100 * seen / published,
        apart=100 * apart / len(every),
        statuses=statuses,
    )
    text += MEASURED + "".join(_compared(comparison) for comparison in COMPARISONS) + NOT_FOUND
    modules = [next(iter(functions(check).values()), "tables and constants") for check in every]
    for module in sorted(set(modules)):
        title = module.replace("_", " ").capitalize()
        text += f"\n## {title}\n\n| calculation | held against | source, status | source says | ours | apart |\n"
        text += "| --- | --- | --- | --- | --- | --- |\n"
        rows = [_row(check) for check, of in zip(every, modules, strict=True) if of == module]
        text += "".join(f"| {' | '.join(row)} |\n" for row in rows)
    return text


def _compared(comparison: Comparison) -> str:
    """A comparison on the page: its figure, how far apart, why, and where the measurements come from."""
    spread = comparison.spread()
    alt = f"{comparison.of} over {comparison.at}: {spread}"
    return (
        f"\n### {comparison.title}\n\n`{comparison.calculation}`: {spread}.\n\n"
        f"```{{image}} {figure_path(comparison).name}\n:alt: {alt}\n:width: 560px\n```\n\n"
        f"Why: {comparison.because}. Measured by: {comparison.source}; *{comparison.seen}*.\n"
    )


def figure_path(comparison: Comparison) -> Path:
    return PAGE.parent / f"measured_{comparison.name}.svg"


#: Between the powers of ten only 2 and 5 are written out, or the numbers run into each other.
_ROUND = FuncFormatter(lambda value, _: f"{value:g}" if f"{value:e}"[0] in "25" else "")


def drawn(comparison: Comparison) -> str:
    """The figure of a comparison, as SVG that is the same whenever it is drawn from the same numbers."""
    points = comparison.points()
    plain = {"svg.hashsalt": comparison.name, "svg.fonttype": "none", "font.size": 10}
    with style.context(["default", plain]):  # whatever was drawn before
        figure = Figure(figsize=(5.6, 3.6), layout="constrained", facecolor="white")
        axes = figure.subplots()
        if comparison.curve:
            ends = np.array([points.at.min(), points.at.max()])
            between = np.geomspace(*ends, 200) if comparison.logarithmic else np.linspace(*ends, 200)
            axes.plot(points.at, points.found, "o", markerfacecolor="none", color="0.35", label="measured")
            axes.plot(between, comparison.curve(between), "-", color="black", label="worked out")
            axes.legend(frameon=False)
        else:
            both = np.concatenate([points.ours, points.found])
            ends = np.array([both.min(), both.max()])
            axes.plot(ends, ends, "-", color="black")
            axes.plot(points.ours, points.found, "o", markerfacecolor="none", color="0.35")
        axes.set(xlabel=comparison.at, ylabel=comparison.of)
        if comparison.logarithmic:
            wide = not comparison.of_shares and points.found.max() > 3 * points.found.min()
            axes.set(xscale="log", yscale="log" if wide else "linear")
            for axis in (axes.xaxis, axes.yaxis) if wide else (axes.xaxis,):
                axis.set_major_formatter(StrMethodFormatter("{x:g}"))
                axis.set_minor_formatter(_ROUND)
        file = io.StringIO()
        figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None})
    return file.getvalue()


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
    for compared in COMPARISONS:
        figure_path(compared).write_text(drawn(compared), encoding="utf-8")
    print(f"{PAGE}: {len(checks())} checks")
