"""Lets the gradebook's hand-marking page open our records, and lets nothing happen there but marking.

Beside a settings file and a folder for each sitting, this module is an extension of the server that the settings file
starts. What candidates wrote reaches the page as text (:func:`~grader.papers.notebook.for_hand_marking`). Should
something act in it all the same, it finds walls: filters that make text of all but our own cells, a policy under which
the browser loads nothing from elsewhere, and a server that answers only what marking needs, so that it starts no kernel
and no terminal and reads no file.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from jinja2 import DictLoader, pass_context
from markupsafe import Markup

from grader.papers.notebook import without_fence
from grader.store.files import write_text
from grader.store.school import School

if TYPE_CHECKING:
    from jinja2.runtime import Context
    from jupyter_server.serverapp import ServerApp

#: The server is started with this file, in the folder in which it lies.
SETTINGS_FILE = "hand_marking_config.py"
#: The name it had when the page was started without walls. It is taken away, so that no page opens our records so.
OLD_SETTINGS_FILE = "nbgrader_config.py"
_OLD_FIRST_LINE = "# Maps our folders for the hand-marking page."

#: Characters of a cell or an output that the page shows. The script holds the rest.
LONGEST_SHOWN = 50_000

_POLICY = "; ".join(
    (
        "default-src 'none'",
        # The page's own scripts stand in it. No other page's are loaded.
        "script-src 'self' 'unsafe-inline' 'unsafe-eval'",
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)

#: Stands in for the page's program for formulas, which would come from a network: here nothing is typeset, and the
#: page's script, which waits for the end of that, is told so.
_NO_FORMULAS = """\
{% macro mathjax(url="") %}
<script>
window.MathJax = { Hub: { Startup: { signal: { Interest: (tell) => setTimeout(tell, 0, "End") } } } };
</script>
{% endmacro %}
"""

#: What our libraries would add to the server, none of which marking needs.
_LEFT_OUT = (
    "jupyter_lsp",
    "jupyter_server_terminals",
    "jupyterlab",
    "notebook",
    "notebook_shim",
    "nbgrader.server_extensions.assignment_list",
    "nbgrader.server_extensions.course_list",
    "nbgrader.server_extensions.validate_assignment",
    # Our own extension loads the page.
    "nbgrader.server_extensions.formgrader",
)

_SETTINGS = f'''\
# Opens these records in the hand-marking page. Start it in this folder with:
#
#     jupyter server --config {SETTINGS_FILE}
#
# and open the address that it prints. Then merge the hand marks with, here too: pitside mark
from pathlib import Path

here = Path(__file__).resolve().parent
c = get_config()
c.CourseDirectory.root = str(here)
c.CourseDirectory.db_url = f"sqlite:///{{here / 'gradebook.db'}}"
c.CourseDirectory.source_directory = "sittings"
c.CourseDirectory.submitted_directory = "marked"
c.CourseDirectory.autograded_directory = "marked"

# What candidates wrote must not act in the browser of the person who marks it: it is shown as text, and of what their
# programs gave only pictures made of pixels and text.
c.HTMLExporter.filters = {{
    "markdown2html": "{__name__}.shown",
    "highlight_code": "{__name__}.plain",
    "ansi2html": "{__name__}.plain_output",
    "strip_files_prefix": "{__name__}.unchanged",
}}
c.HTMLExporter.sanitize_html = True
c.HTMLExporter.exclude_raw = True
c.NbConvertBase.display_data_priority = ["image/png", "image/jpeg", "text/plain"]
# Both look through a candidate's texts by patterns that can take hours.
c.CoalesceStreamsPreprocessor.enabled = False
c.HighlightMagicsPreprocessor.enabled = False

# The server is for this machine alone, and does nothing but marking.
c.ServerApp.ip = "127.0.0.1"
c.ServerApp.root_dir = str(here)
c.ServerApp.default_url = "/formgrader"
c.ServerApp.jpserver_extensions = {{
    "{__name__}": True,
{"".join(f'    "{name}": False,{chr(10)}' for name in _LEFT_OUT)}}}
c.ServerApp.terminals_enabled = False
c.ServerApp.tornado_settings = {{
    "headers": {{"Content-Security-Policy": "{_POLICY}", "X-Content-Type-Options": "nosniff"}}
}}
'''

#: What marking needs of the server, after its base address.
_ALLOWED = {
    "GET": re.compile(
        r"/?|/login|/favicon\.ico|/static/.*|/formgrader/?"
        r"|/formgrader/(static|fonts|api|gradebook|manage_assignments|manage_submissions|manage_students)(/.*)?"
        r"|/formgrader/submissions/components/.*"
        r"|/formgrader/submissions/[^/]+(/((next|prev)(_incorrect)?/?)?)?"
    ),
    "POST": re.compile(r"/login"),
    "PUT": re.compile(r"/formgrader/api/(grade|comment)/[^/]+"),
}


def write_hand_marking(school: School, sessions: Iterable[str]) -> None:
    """Write what the hand-marking page needs beside gradebook and marked notebooks, if it is not there.

    ``sessions`` are those of the papers that were issued: each later attempt at a sitting is listed by itself.
    """
    for session in {*sessions, *(sitting.id for sitting in school.sittings)}:
        (school.records / "sittings" / session).mkdir(parents=True, exist_ok=True)
    path = school.records / SETTINGS_FILE
    if not path.exists() or path.read_text(encoding="utf-8") != _SETTINGS:
        write_text(path, _SETTINGS)
    old = school.records / OLD_SETTINGS_FILE
    if old.is_file() and old.read_text(encoding="utf-8", errors="replace").startswith(_OLD_FIRST_LINE):
        old.unlink()


# What the page shows --------------------------------------------------------------------------------------------------


@pass_context
def shown(context: Context, source: str) -> str:
    """A Markdown cell as HTML: Markdown where it stands as we printed it, else its text."""
    from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath

    metadata = context.get("cell", {}).get("metadata", {})
    about = metadata.get("nbgrader", {}) if isinstance(metadata, Mapping) else {}
    # Only for_hand_marking locks a cell: it takes away what a candidate has written under this name.
    if isinstance(about, Mapping) and about.get("locked") is True and not about.get("solution"):
        renderer = IPythonRenderer(escape=True, allow_harmful_protocols=False, exclude_anchor_links=True)
        return MarkdownWithMath(renderer=renderer).render(source)
    return plain(without_fence(source))


def plain(text: str, metadata: object = None) -> str:
    """A text as HTML that shows it letter by letter, line by line. ``metadata``, which the page passes, is ignored."""
    return str(Markup('<pre dir="auto" style="white-space: pre-wrap">{}</pre>').format(_cut(text)))


def plain_output(text: str) -> str:
    """An output as HTML, without its colours. It stands in a ``pre`` of the page."""
    return str(Markup("{}").format(_cut(re.sub(r"\x1b\[[0-9;]*[A-Za-z]", "", text))))


def unchanged(html: str) -> str:
    """What :func:`shown` made, as it is."""
    return html


def _cut(text: str) -> str:
    more = len(text) - LONGEST_SHOWN
    return text if more <= 0 else f"{text[:LONGEST_SHOWN]}\n(and {more} more characters, in the script)"


# What the server does -------------------------------------------------------------------------------------------------


def allows(method: str, path: str, arguments: Iterable[str] = ()) -> bool:
    """Whether marking needs such a request; ``path`` is what follows the server's base address.

    An argument ``path`` would have the page take another folder's settings, which are a program.
    """
    known = _ALLOWED.get("GET" if method == "HEAD" else method)
    return bool(known and known.fullmatch(path)) and "path" not in arguments


def _load_jupyter_server_extension(server: ServerApp) -> None:
    """Load the page; answer all but what marking needs with a refusal, before any other part of the server sees it."""
    from nbgrader.server_extensions.formgrader.formgrader import load_jupyter_server_extension
    from tornado.httputil import HTTPServerRequest
    from tornado.routing import Matcher, Rule
    from tornado.web import HTTPError, RequestHandler

    base = server.web_app.settings["base_url"].rstrip("/")

    class Strange(Matcher):
        def match(self, request: HTTPServerRequest) -> dict[str, Any] | None:
            path = request.path.removeprefix(base)
            return None if allows(request.method or "", path, request.arguments) else {}

    class Refused(RequestHandler):
        def prepare(self) -> None:
            raise HTTPError(403, reason="Only marking is possible here")

    load_jupyter_server_extension(server)
    server.web_app.settings["nbgrader_exporter"].extra_loaders = [DictLoader({"mathjax.html.j2": _NO_FORMULAS})]
    server.web_app.default_router.rules.insert(0, Rule(Strange(), Refused))
