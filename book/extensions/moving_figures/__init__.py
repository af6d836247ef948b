"""Sphinx extension: style and script of the figures that lessons make with their module ``moving``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sphinx.application import Sphinx

HERE = Path(__file__).parent


def add_static_folder(app: Sphinx) -> None:
    """Have style and script copied into the book."""
    app.config.html_static_path.append(str(HERE / "static"))


def setup(app: Sphinx) -> dict[str, Any]:
    app.connect("builder-inited", add_static_folder)
    app.add_css_file("moving.css")
    app.add_js_file("moving.js", loading_method="defer")
    return {"parallel_read_safe": True, "parallel_write_safe": True}
