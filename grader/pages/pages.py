"""The one Jinja environment of all pages. A template, style or script is named by its room: ``reports/results.html``.

Each room keeps what it fills in its folder ``templates``; what several rooms use lies in ``pages/templates``, and what
the book uses too in ``exercises/pages``.
"""

from __future__ import annotations

from importlib import resources
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from exercises.model.practice import json_in_page


def text_of(*names: str) -> Markup:
    """Styles or scripts of ours, one behind the other, to stand in a page as they are."""
    return Markup("\n".join(map(_read, names)))


def script_data(data: Any) -> Markup:
    """Data for a page's script, as JSON inside a script element."""
    return Markup(json_in_page(data))


def filled(name: str, **values: Any) -> str:
    """The page that a template makes of these values; texts are escaped, only Markup stands as it is."""
    return _PAGES.get_template(name).render(values)


def _template(name: str) -> str | None:
    try:
        return _read(name)
    except FileNotFoundError:
        return None  # the library then says that the template is missing, and not that a disk is


def _read(name: str) -> str:
    room, _, file = name.partition("/")
    folder = resources.files("exercises.pages") if room == "exercises" else resources.files(f"grader.{room}")
    return (folder if room == "exercises" else folder / "templates").joinpath(file).read_text(encoding="utf-8")


_PAGES = Environment(
    loader=FunctionLoader(_template), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
)
