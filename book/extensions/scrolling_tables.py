"""Sphinx extension: every table stands in a box that scrolls sideways, so that a wide one never widens the page."""

from __future__ import annotations

from typing import Any

from docutils import nodes
from sphinx.application import Sphinx
from sphinx.transforms.post_transforms import SphinxPostTransform


class BoxTables(SphinxPostTransform):
    """Wrap each table; its caption stays inside the table, where readers of the page's code look for it."""

    default_priority = 900
    formats = ("html",)

    def run(self, **options: Any) -> None:
        for table in list(self.document.findall(nodes.table)):
            box = nodes.container("", classes=["table-scroll"])
            table.replace_self(box)
            box += table


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_post_transform(BoxTables)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
