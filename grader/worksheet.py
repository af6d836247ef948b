"""The worksheet: a paper as one HTML file that works offline and saves the script that the marking reads."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

import nbformat
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from grader.papers import script_name
from grader.questions import kinds, kinds_data, questions
from grader.register import Paper
from grader.school import Candidate, School, Sitting

_PAGES = Environment(
    loader=PackageLoader("grader"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
)


def worksheet_page(
    school: School, sitting: Sitting, candidate: Candidate, paper: Paper, notebook: nbformat.NotebookNode
) -> str:
    """The page of one candidate's paper. ``notebook`` is the same paper as it is handed out for Jupyter."""
    variants = paper.variants()
    exercises = questions(variants)
    parts = [part for exercise in exercises for part in exercise["parts"]]
    data = {
        "paper": paper.id,
        "candidate": f"{candidate.name} ({candidate.id})",
        "file": script_name(school, paper),
        "kinds": kinds_data(kinds(variants)),
        "parts": [
            {
                "name": part["name"],
                "label": part["label"],
                "cell": part["cell"],
                "items": [item["name"] for item in part["items"]],
            }
            for part in parts
        ],
        "items": {item["name"]: item for part in parts for item in part["items"]},
        "notebook": notebook,
    }
    return _PAGES.get_template("worksheet.html").render(
        school=school,
        sitting=sitting,
        day=f"{sitting.day:%d %B %Y}",
        candidate=candidate,
        paper=paper,
        exercises=exercises,
        file=data["file"],
        style=Markup(static("worksheet.css")),
        script=Markup("\n".join([shared("read_number.js"), static("worksheet.js"), static("calculator.js")])),
        data=script_json(data),
    )


def static(name: str) -> str:
    """A style or script of this package's pages."""
    return resources.files("grader").joinpath("templates", name).read_text(encoding="utf-8")


def shared(name: str) -> str:
    """A script that the book's pages use as well."""
    return resources.files("exercises").joinpath("pages", name).read_text(encoding="utf-8")


def script_json(data: Any) -> Markup:
    """JSON that may stand inside a script element: no ``<`` can end the element or open a comment."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return Markup(text.replace("<", "\\u003c"))
