"""What the code of every lesson shares: the figures' look, numbers for the text, and worked examples side by side."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import pint
from IPython.display import HTML
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator
from matplotlib_inline.backend_inline import set_matplotlib_formats
from myst_nb import glue

from exercises.model import By, Step, System
from exercises.model.numbers import Drawn
from exercises.model.working import work
from pitside.unit_names import read_unit
from pitside.units import Quantity

HERE = Path(__file__).parent
_TEMPLATES = Environment(loader=FileSystemLoader(HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True)

plt.style.use(HERE / "figures.mplstyle")
set_matplotlib_formats("svg", metadata={"Date": None})


def say(name: str, text: str) -> None:
    """Give the lesson's text a phrase: ``{glue:text}`name` `` prints it."""
    glue(name, text, display=False)


def say_value(name: str, value: pint.Quantity, unit: str, decimals: int) -> None:
    """Give the lesson's text a number with its unit, to so many places after the point."""
    say(name, f"{printed(value, unit, decimals)}")


def say_both(name: str, value: pint.Quantity, field: tuple[str, int], metric: tuple[str, int]) -> None:
    """Give the lesson's text a number as ``<name>_field`` and as ``<name>_metric``; each with unit and decimals."""
    say_value(f"{name}_field", value, *field)
    say_value(f"{name}_metric", value, *metric)


def printed(value: pint.Quantity, unit: str, decimals: int) -> Drawn:
    """A number as the page prints it, from which sums by hand go on."""
    return Drawn(round(float(value.m_as(read_unit(unit))), decimals), unit, max(decimals, 0))


def both(value: pint.Quantity, field: tuple[str, int], metric: tuple[str, int]) -> By[Drawn]:
    """A given number of a worked example, in each system with its unit and its decimals."""
    return By(printed(value, *field), printed(value, *metric))


def metric_beside(axes: Axes, side: str, field: str, metric: str, label: str) -> None:
    """Put a metric scale on the other side of an axis in field units; ``side`` is ``"x"`` or ``"y"``."""
    here, there = read_unit(field), read_unit(metric)

    def forth(values: Any) -> Any:
        return Quantity(values, here).m_as(there)

    def back(values: Any) -> Any:
        return Quantity(values, there).m_as(here)

    if side == "x":
        beside = axes.secondary_xaxis("top", functions=(forth, back))
        beside.set_xlabel(label)
        beside.xaxis.set_major_locator(MaxNLocator(5))
    else:
        beside = axes.secondary_yaxis("right", functions=(forth, back))
        beside.set_ylabel(label)
        beside.yaxis.set_major_locator(MaxNLocator(6))


def worked(
    given: Mapping[str, By[Drawn]], steps: tuple[Step, ...], answers: Mapping[str, pint.Quantity], within: float
) -> HTML:
    """A worked example in field and metric units, its sums done from the printed numbers and printed with their units.

    ``answers`` holds what ``pitside`` gives for the results of steps, by the names that the steps give them. Each must
    be met within the share ``within``.

    Raises: ValueError if one is not, or if a name is no step's, which stops the build.
    """
    lines = {}
    for system in System:
        names = {name: number.of(system) for name, number in given.items()}
        lines[system] = work(steps, names, "", system)
        by_hand = {step.gives: line.value.quantity for step, line in zip(steps, lines[system], strict=True)}
        for name, answer in answers.items():
            if name not in by_hand or abs(by_hand[name] - answer) > within * abs(answer):
                raise ValueError(f"worked example, {system}: {name} is {by_hand.get(name)} by hand, {answer} computed")
    page = []
    for field, metric in zip(lines[System.FIELD], lines[System.METRIC], strict=True):
        sums = {
            "Field": f"{field.with_units} = {field.result}",
            "Metric": f"{metric.with_units} = {metric.result}",
        }
        if sums["Field"] == sums["Metric"]:
            sums = {"Field and metric": sums["Field"]}
        page.append({"say": field.say, "sums": sums})
    return HTML(_TEMPLATES.get_template("worked.html.jinja").render(steps=page))
