"""The desk's addresses: pages to read, buttons that do something, files of the school to look at."""

from __future__ import annotations

import base64
import hashlib
import itertools
import re
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path, PurePosixPath
from typing import Any
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Mount, Route

from grader.desk.actions import ACTIONS, Action
from grader.desk.guard import Entry
from grader.desk.in_rooms import at_the_desk
from grader.desk.jobs import BusyError, Job, Jobs, Progress, Said, State
from grader.desk.pages_of_rooms import PAGES, weighed
from grader.desk.said import ROOMS, Given, rooms_named
from grader.pages.pages import filled, text_of
from grader.pages.wire import NOTHING
from grader.running.faults import Fault, reported
from grader.store.errors import GraderError
from grader.store.files import only_one
from grader.store.own_exercises import waiting_to_be_allowed
from grader.store.school import School, open_school

#: How long a button waits for its work before it shows the page of progress.
PATIENCE = 0.8
#: A roster of a thousand has so many fields; a form with more is none of ours. Longest text, and most files at once.
MOST_FIELDS, LONGEST_FIELD, MOST_FILES = 20_000, 100_000, 2_000
#: Forms that wait for a yes.
MOST_ASKED = 20

#: Where files of the school are shown from, and which kinds; keys and books lie elsewhere or end otherwise.
SHOWN_FOLDERS = ("records", "packs")
SHOWN_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".csv": "text/csv; charset=utf-8",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".pdf": "application/pdf",
    ".zip": "application/zip",
    ".json": "application/json",
}
#: A page of the school's files may load nothing and send nothing, open no window and hold no form, so that whatever
#: stood in it could reach nothing of the desk. It stays of the desk's origin, since the cookie goes with no other.
_OF_A_FILE = (
    f"{NOTHING}; style-src 'unsafe-inline'; img-src data:; sandbox allow-same-origin allow-downloads allow-modals"
)
#: Pages that are worked on run their own script, and keep what is typed in the browser. Each says so in its head.
_OF_A_WORKED_PAGE = f"{_OF_A_FILE} allow-scripts; script-src 'unsafe-inline'"
_SAYS_SCRIPTS = b"; script-src 'unsafe-inline'"
_HEAD_BYTES = 2_000
_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)


@dataclass
class Desk:
    """What one desk works on: a school's folder, or a folder in which schools are made and found."""

    around: Path
    folder: Path | None
    entry: Entry
    #: Told when somebody closes the desk.
    close: Callable[[], None] = lambda: None
    jobs: Jobs = field(init=False)
    asked: dict[int, tuple[Action, Given]] = field(default_factory=dict)
    _numbers: Any = field(default_factory=lambda: itertools.count(1))

    def __post_init__(self) -> None:
        self.jobs = Jobs(lambda fault: reported(fault, self.folder))

    @property
    def schools(self) -> list[Path]:
        """The schools beside or in the folder that the desk was opened in, by name."""
        try:
            return sorted(path.parent for path in self.around.glob("*/school.toml"))
        except OSError:
            return []

    def school(self) -> School:
        """Raises: :class:`GraderError` where none is chosen or the folder is no sound school."""
        if self.folder is None:
            raise GraderError("no school is open; choose one, or make one")
        return open_school(self.folder)

    def work(self, action: Action, given: Given) -> Callable[[Progress], Said]:
        """The work of an action, one at a time in the school's folder."""

        def of_school(progress: Progress) -> Said:
            try:
                assert self.folder is not None
                with only_one(self.folder):
                    if action.mends:
                        said = action.mends(self.folder, given)
                    else:
                        said = action.does(self.school(), given, progress)
                return replace(
                    said, lines=tuple(map(given.as_sent, said.lines)), look=tuple(map(given.as_sent, said.look))
                )
            except GraderError as error:
                raise GraderError(given.as_sent(str(error))) from None
            finally:
                given.done()

        def of_desk(progress: Progress) -> Said:
            try:
                folder, said = action.makes(self.around, given) if action.makes else (None, Said())
                self.folder = folder
                return said
            finally:
                given.done()

        return of_desk if action.makes else of_school

    def ask(self, action: Action, given: Given) -> int:
        number = next(self._numbers)
        self.asked[number] = (action, given)
        for old in list(self.asked)[:-MOST_ASKED]:
            self.asked.pop(old)[1].done()
        return number


def app_of(desk: Desk) -> Starlette:
    """The desk's pages; whoever asks has passed :class:`grader.desk.guard.Guard`."""
    routes = [
        Route("/", _room(desk, "")),
        Route("/job/{number:int}", _job(desk)),
        Route("/job/{number:int}/how-far", _how_far(desk)),
        Route("/job/{number:int}/stop", _change(desk, _stop), methods=["POST"]),
        Route("/do/{action}", _change(desk, _do), methods=["POST"]),
        Route("/sure/{number:int}", _change(desk, _sure), methods=["POST"]),
        Route("/choose", _change(desk, _choose), methods=["POST"]),
        Route("/close", _change(desk, _close), methods=["POST"]),
        Route("/desk.js", _script),
        Route("/weigh", _weigh(desk)),
        Route("/file/{path:path}", _file(desk)),
        Route("/{room}", _any_room(desk)),
    ]

    def faulty(request: Request, error: Exception) -> Response:
        told = reported(Fault.of(error), desk.folder)
        return PlainTextResponse(
            f"A fault in Pitside itself ({type(error).__name__}); what was recorded is safe. {told}\n", 500
        )

    return Starlette(routes=[Mount(desk.entry.base, routes=routes)], exception_handlers={Exception: faulty})


# Pages ----------------------------------------------------------------------------------------------------------------


def _page(desk: Desk, template: str, room: str, status: int = 200, **values: Any) -> HTMLResponse:
    school = values.pop("school", None)
    text = filled(
        f"desk/{template}",
        base=desk.entry.base,
        secret=desk.entry.form_secret,
        rooms=ROOMS,
        room=room,
        school=school,
        folder=desk.folder,
        at_work=desk.jobs.now,
        job=values.pop("job", None),
        own=values.pop("own", []),
        rooms_named=rooms_named,
        here=lambda text: at_the_desk(text, desk.folder),
        file_address=lambda path: f"{desk.entry.base}/file/{quote(path)}",
        **values,
    )
    style = _STYLE.search(text)
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode() if style else ""
    policy = (
        f"default-src 'none'; style-src 'sha256-{digest}'; script-src 'self'; connect-src 'self'; img-src data:; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    )
    return HTMLResponse(text, status, {"content-security-policy": policy})


def _shown_job(desk: Desk, request: Request) -> Job | None:
    number = request.query_params.get("job", "")
    return desk.jobs.get(int(number)) if number.isdigit() and len(number) < 9 else None


def _room(desk: Desk, room: str) -> Callable[[Request], Any]:
    async def shown(request: Request) -> Response:
        return await run_in_threadpool(_room_page, desk, room, request)

    return shown


def _any_room(desk: Desk) -> Callable[[Request], Any]:
    async def shown(request: Request) -> Response:
        room = request.path_params["room"]
        if room not in PAGES:
            return PlainTextResponse("The desk has no such page.\n", 404)
        return await run_in_threadpool(_room_page, desk, room, request)

    return shown


def _room_page(desk: Desk, room: str, request: Request) -> Response:
    job = _shown_job(desk, request)
    if desk.folder is None:
        return _page(desk, "no_school.html", "", job=job, schools=desk.schools, around=desk.around, today=date.today())
    shown = PAGES[room]
    try:
        school = desk.school()
        values = shown.values(school, request.query_params)
    except (GraderError, OSError) as error:
        lines = str(error).splitlines()
        if busy := desk.jobs.now:
            # Between two of its files a piece of work leaves what this page holds against each other.
            lines = [f"{busy.title} is at work; this page can be read when that is done."]
        # The school cannot be opened before somebody has said what is to become of its own exercises.
        own = [] if busy else waiting_to_be_allowed(desk.folder)
        return _page(desk, "wrong.html", shown.room, 200, job=job, lines=lines, own=own)
    return _page(desk, shown.template, shown.room, job=job, school=school, **values)


def _job(desk: Desk) -> Callable[[Request], Any]:
    async def shown(request: Request) -> Response:
        job = desk.jobs.get(request.path_params["number"])
        if job is None:
            return PlainTextResponse("The desk does not know this work any more.\n", 404)
        if job.state is not State.AT_WORK:
            return RedirectResponse(_back(desk, job), 303)
        return _page(desk, "job.html", job.room, job=job)

    return shown


def _how_far(desk: Desk) -> Callable[[Request], Any]:
    async def told(request: Request) -> Response:
        job = desk.jobs.get(request.path_params["number"])
        if job is None:
            return JSONResponse({"over": True})
        return JSONResponse({"over": job.state is not State.AT_WORK, "done": job.done, "total": job.total})

    return told


def _weigh(desk: Desk) -> Callable[[Request], Any]:
    def told(request: Request) -> Response:
        asked = request.query_params
        try:
            found = weighed(
                desk.school(), asked.get("sitting", ""), asked.get("kind") == "tasks", asked.getlist("exercise")
            )
        except (GraderError, OSError) as error:
            return JSONResponse({"line": str(error), "left_out": [], "says": ""})
        return JSONResponse(found)

    return told


async def _script(request: Request) -> Response:
    return Response(str(text_of("desk/desk.js")), media_type="text/javascript; charset=utf-8")


# Files ----------------------------------------------------------------------------------------------------------------


def _file(desk: Desk) -> Callable[[Request], Any]:
    async def shown(request: Request) -> Response:
        path = file_of(desk.folder, request.path_params["path"])
        if path is None:
            return PlainTextResponse("The desk shows no such file.\n", 404)
        kind = SHOWN_KINDS[path.suffix]
        policy = _policy_of(path) if path.suffix == ".html" else NOTHING
        answer = FileResponse(path, media_type=kind, headers={"content-security-policy": policy})
        if path.suffix not in (".html", ".pdf"):
            answer.headers["content-disposition"] = f"attachment; filename*=UTF-8''{quote(path.name)}"
        return answer

    return shown


def _policy_of(page: Path) -> str:
    with page.open("rb") as file:
        return _OF_A_WORKED_PAGE if _SAYS_SCRIPTS in file.read(_HEAD_BYTES) else _OF_A_FILE


def file_of(folder: Path | None, name: str) -> Path | None:
    """A file of the school that the desk shows, or None: by its place, its kind, and no link that leads elsewhere."""
    parts = PurePosixPath(name).parts
    if folder is None or not parts or parts[0] not in SHOWN_FOLDERS or "\\" in name or "\0" in name:
        return None
    if any(part in ("..", ".") or part.startswith(".") or ":" in part for part in parts):
        return None
    path = folder.joinpath(*parts)
    if path.suffix not in SHOWN_KINDS:
        return None
    try:
        inside = path.resolve(strict=True).is_relative_to(folder.resolve() / parts[0])
        return path if inside and path.is_file() else None
    except OSError:
        return None


# Changes --------------------------------------------------------------------------------------------------------------

_Changing = Callable[[Desk, Request, Given], Response]


def _change(desk: Desk, work: _Changing) -> Callable[[Request], Any]:
    """An address that changes something; nothing is looked at before the form has shown the desk's secret."""

    async def changed(request: Request) -> Response:
        folder: Path | None = None
        async with request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=LONGEST_FIELD) as form:
            if not desk.entry.is_own_form(form.get("secret")):
                return PlainTextResponse("This change came from no page of the desk, so nothing was changed.\n", 403)
            fields: dict[str, list[str]] = {}
            files: dict[str, list[tuple[str, Path]]] = {}
            for name, value in form.multi_items():
                if isinstance(value, UploadFile):
                    if not value.filename:
                        continue
                    folder = folder or Path(tempfile.mkdtemp(prefix="pitside-desk-"))
                    number = sum(map(len, files.values()))
                    path = folder / f"{number}"
                    with path.open("wb") as file:
                        while piece := await value.read(1 << 20):
                            file.write(piece)
                    files.setdefault(name, []).append((value.filename, path))
                elif name != "secret":
                    fields.setdefault(name, []).append(value)
        given = Given(
            {name: tuple(values) for name, values in fields.items()},
            {name: tuple(values) for name, values in files.items()},
            folder,
        )
        return await run_in_threadpool(work, desk, request, given)

    return changed


def _do(desk: Desk, request: Request, given: Given) -> Response:
    action = ACTIONS.get(request.path_params["action"])
    if action is None or (desk.folder is None and not action.makes):
        given.done()
        return PlainTextResponse("The desk has no such button.\n", 404)
    if action.asks:
        try:
            school = desk.school()
            lines = action.asks(school, given)
        except (GraderError, OSError) as error:
            given.done()
            return _page(desk, "wrong.html", action.room, lines=str(error).splitlines())
        if lines:
            number = desk.ask(action, given)
            return _page(desk, "ask.html", action.room, school=school, action=action, number=number, lines=lines)
    return _begun(desk, action, given)


def _sure(desk: Desk, request: Request, given: Given) -> Response:
    given.done()
    asked = desk.asked.pop(request.path_params["number"], None)
    if asked is None:
        return PlainTextResponse("This was answered already. Go back to the desk.\n", 404)
    return _begun(desk, *asked)


def _begun(desk: Desk, action: Action, given: Given) -> Response:
    try:
        then = action.then(given) if action.then else ""
        job = desk.jobs.start(action.title, action.room, desk.work(action, given), then)
    except BusyError as error:
        given.done()
        return _page(desk, "wrong.html", action.room, lines=[f"Not done: {error}."])
    job.ended.wait(PATIENCE)
    where = _back(desk, job) if job.state is not State.AT_WORK else f"{desk.entry.base}/job/{job.number}"
    return RedirectResponse(where, 303)


def _back(desk: Desk, job: Job) -> str:
    return f"{desk.entry.base}/{job.then}{'&' if '?' in job.then else '?'}job={job.number}"


def _stop(desk: Desk, request: Request, given: Given) -> Response:
    given.done()
    job = desk.jobs.get(request.path_params["number"])
    if job:
        job.stopping.set()
        job.ended.wait(PATIENCE)
    return RedirectResponse(f"{desk.entry.base}/job/{request.path_params['number']}", 303)


def _choose(desk: Desk, request: Request, given: Given) -> Response:
    given.done()
    wanted = given.text("school")
    if desk.jobs.now is None:
        desk.folder = next((path for path in desk.schools if path.name == wanted), None)
    return RedirectResponse(f"{desk.entry.base}/", 303)


def _close(desk: Desk, request: Request, given: Given) -> Response:
    from grader.classroom.running import is_open_here  # brings along the classroom's server

    given.done()
    if desk.jobs.now:
        return _page(desk, "wrong.html", "", lines=[f"{desk.jobs.now.title} is not done yet; wait for it, or stop it."])
    if is_open_here():
        lines = ["The classroom is open and would go with the desk. Close it first, in the room Classroom."]
        return _page(desk, "wrong.html", "classroom", lines=lines)
    desk.close()
    return _page(desk, "closed.html", "")
