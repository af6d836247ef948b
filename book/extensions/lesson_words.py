"""Sphinx extension: the ``words`` directive, which explains the hard words of a lesson before the lesson uses them.

```{words} head; freeboard; slurry
```

The meanings are those of the glossary, so that each word is explained in one place.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from docutils import nodes
from docutils.statemachine import StringList
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

GLOSSARY = Path(__file__).parents[1] / "reference" / "glossary.md"


def meanings(glossary: str) -> dict[str, str]:
    """Each word of the glossary's text with its meaning in one line, without the lesson that teaches it.

    Raises: ValueError where a word is explained twice.
    """
    block = re.search(r"^```\{glossary\}\n(.*?)^```", glossary, re.DOTALL | re.MULTILINE)
    found = {}
    for entry in block[1].strip().split("\n\n") if block else ():
        word, *lines = entry.splitlines()
        meaning = " ".join(line.strip() for line in lines).partition(" Lesson:")[0]
        if word.strip() in found:
            raise ValueError(f"the glossary explains {word.strip()} twice")
        found[word.strip()] = meaning.strip()
    return found


class Words(SphinxDirective):
    """A table of the words that the argument names, parted by semicolons, and what they mean."""

    required_arguments = 1
    final_argument_whitespace = True

    def run(self) -> list[nodes.Node]:
        self.env.note_dependency(str(GLOSSARY))
        known = meanings(GLOSSARY.read_text(encoding="utf-8"))
        words = [" ".join(word.split()) for word in self.arguments[0].split(";")]
        if unknown := [word for word in words if word not in known]:
            raise self.error(f"words: the glossary does not explain {', '.join(unknown)}")
        rows = [f"| **{word}** | {known[word]} |" for word in words]
        text = ["| Word of this lesson | What it means |", "| --- | --- |", *rows]
        container = nodes.container(classes=["words"])
        self.state.nested_parse(StringList(text, source=self.env.docname), self.content_offset, container)
        return [container]


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_directive("words", Words)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
