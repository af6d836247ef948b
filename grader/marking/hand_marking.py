"""Lets the gradebook's hand-marking page open our records: its settings file, and a folder for each sitting."""

from __future__ import annotations

from collections.abc import Iterable

from grader.store.files import write_text
from grader.store.school import School

#: The page reads its settings from a file of this name in the folder in which its server is started.
SETTINGS_FILE = "nbgrader_config.py"

_SETTINGS = '''\
# Maps our folders for the hand-marking page. Start it in this folder with:
#
#     jupyter server --ip 127.0.0.1 \\
#         --ServerApp.jpserver_extensions="{'nbgrader.server_extensions.formgrader': True}"
#
# and open /formgrader under the address that it prints. Then merge the hand marks with: pitside mark FOLDER
from pathlib import Path

here = Path(__file__).resolve().parent
c = get_config()
c.CourseDirectory.root = str(here)
c.CourseDirectory.db_url = f"sqlite:///{here / 'gradebook.db'}"
c.CourseDirectory.source_directory = "sittings"
c.CourseDirectory.submitted_directory = "marked"
c.CourseDirectory.autograded_directory = "marked"
# What candidates wrote must not run in the browser of the person who marks it.
c.HTMLExporter.sanitize_html = True
'''


def write_hand_marking(school: School, sessions: Iterable[str]) -> None:
    """Write what the hand-marking page needs beside gradebook and marked notebooks, if it is not there.

    ``sessions`` are those of the papers that were issued: each later attempt at a sitting is listed by itself.
    """
    for session in {*sessions, *(sitting.id for sitting in school.sittings)}:
        (school.records / "sittings" / session).mkdir(parents=True, exist_ok=True)
    path = school.records / SETTINGS_FILE
    if not path.exists() or path.read_text(encoding="utf-8") != _SETTINGS:
        write_text(path, _SETTINGS)
