"""Sphinx extension: the ``cases`` directive, which names the long exercises that a lesson leads to.

```{cases} hydrocyclones
```
"""

from __future__ import annotations

from typing import Any

from docutils import nodes
from docutils.statemachine import StringList
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

from exercises import BANK, LESSONS
from exercises.model import Exercise


def cases_of(lesson: str) -> tuple[Exercise, ...]:
    """The cases that belong to a lesson or combine it with theirs, in the order of the bank."""
    return tuple(case for case in BANK.values() if case.level == 3 and lesson in (case.lesson, *case.combines))


def sentence(case: Exercise, lesson: str) -> str:
    """What a case is about, in one line of Markdown with links to the other lessons that it needs."""
    others = [name for name in LESSONS if name in (case.lesson, *case.combines) and name != lesson]
    links = ", ".join(f"[{LESSONS[name].title}](/lessons/{name}.md)" for name in others)
    return f"- **{case.title}**, {case.minutes} minutes. It also needs: {links}."


class Cases(SphinxDirective):
    """A list of the cases of the lesson named by the argument."""

    required_arguments = 1

    def run(self) -> list[nodes.Node]:
        lesson = self.arguments[0]
        if lesson not in LESSONS:
            raise self.error(f'cases: there is no lesson "{lesson}"; there are {", ".join(LESSONS)}')
        if not cases_of(lesson):
            raise self.error(f'cases: no case combines the lesson "{lesson}"; take this line out')
        text = ["In a paper, these long exercises build on this lesson:", ""]
        text += [sentence(case, lesson) for case in cases_of(lesson)]
        container = nodes.container(classes=["cases"])
        self.state.nested_parse(StringList(text, source=self.env.docname), self.content_offset, container)
        return [container]


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_directive("cases", Cases)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
