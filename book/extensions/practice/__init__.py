"""Sphinx extension: the ``practice`` directive.

    ```{practice} weight-up-growing
    :variants: 6
    ```

puts an exercise on the page. The build draws the variants and works out what is right, what each slip leads to and
what follows from a carried-forward slip; the page's script only compares. Without a script the first variant shows
with its worked solution.
"""

from __future__ import annotations

from importlib import resources
from typing import Any, ClassVar

from docutils import nodes
from docutils.parsers.rst import directives
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

from exercises import BANK
from exercises.model.practice import json_in_page, practice_set, shortened

#: The widget: its template, style and scripts, which practice papers use as well.
PAGES = "pages"
FILES = ("practice.css", "read_number.js", "practice.js")
VARIANTS = 6

TEMPLATES = Environment(
    loader=PackageLoader("exercises", PAGES), autoescape=True, undefined=StrictUndefined, trim_blocks=True
)


class Practice(SphinxDirective):
    """Embed the exercise named by the argument; ``variants`` sets of numbers in each unit system."""

    required_arguments = 1
    option_spec: ClassVar[dict[str, Any]] = {"variants": directives.positive_int}

    def run(self) -> list[nodes.Node]:
        name = self.arguments[0]
        if name not in BANK:
            raise self.error(f'practice: there is no exercise "{name}"; there are {", ".join(sorted(BANK))}')
        data = practice_set(BANK[name], self.options.get("variants", VARIANTS))
        return [nodes.raw("", page_html(data, f"practice-{self.env.new_serialno('practice')}-{name}"), format="html")]


def page_html(data: dict[str, Any], identifier: str) -> str:
    """The widget's HTML: the first variant to read, and all of them as data for the script."""
    first = next(iter(data["systems"].values()))[0]
    return TEMPLATES.get_template("practice.html.jinja").render(
        identifier=identifier,
        title=data["title"],
        first=first,
        data=Markup(json_in_page(shortened(data))),
    )


def add_static_folder(app: Sphinx) -> None:
    """Have the widget's style and scripts copied into the book."""
    folder = resources.files("exercises").joinpath(PAGES)
    app.config.html_static_path.extend(str(folder.joinpath(name)) for name in FILES)


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_directive("practice", Practice)
    app.connect("builder-inited", add_static_folder)
    app.add_css_file("practice.css")
    app.add_js_file("read_number.js", loading_method="defer")
    app.add_js_file("practice.js", loading_method="defer")
    return {"parallel_read_safe": True, "parallel_write_safe": True}
