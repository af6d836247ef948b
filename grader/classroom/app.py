"""The classroom's addresses: give a code, begin, work, save, hand in. Nothing else of the school is behind them."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qs

from jinja2 import TemplateNotFound
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from grader.classroom.door import Pace, Tries
from grader.classroom.drafts import Device, TooMuchError
from grader.classroom.room import RefusedError, Room, Sheet, Told
from grader.classroom.scripts_of_answers import Answer
from grader.pages.pages import filled, text_of
from grader.pages.wire import cookie_of
from grader.running.faults import Fault, reported
from grader.store.errors import GraderError

#: A browser that was left open overnight has to give its code again.
COOKIE_SECONDS = 12 * 3600
#: A form of ours is a code or a token.
_LONGEST_FORM = 2_000
_LONGEST_NAME = 80
_LONGEST_FIELD = 40
_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)
_SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)


@dataclass
class Classroom:
    """A room, and what its server needs to know: whether the wire is encrypted, and who tried too often."""

    room: Room
    is_safe: bool = False
    port: int = 0
    tries: Tries = field(init=False)
    pace: Pace = field(init=False)

    def __post_init__(self) -> None:
        self.tries, self.pace = Tries(self.room.clocks.even), Pace(self.room.clocks.even)

    @property
    def cookie(self) -> str:
        return f"__Host-pitside_room_{self.port}" if self.is_safe else f"pitside_room_{self.port}"


def app_of(classroom: Classroom) -> Starlette:
    """The classroom's pages; whoever asks has passed :class:`grader.classroom.door.Door`."""
    routes = [
        Route("/", _first(classroom)),
        Route("/enter", _form(classroom, _enter), methods=["POST"]),
        Route("/begin", _begin_page(classroom)),
        Route("/begin", _form(classroom, _begin), methods=["POST"]),
        Route("/paper", _paper(classroom)),
        Route("/save", _message(classroom, _save), methods=["POST"]),
        Route("/hand-in", _message(classroom, _hand_in), methods=["POST"]),
        Route("/leave", _message(classroom, _leave), methods=["POST"]),
    ]

    def not_now(request: Request, error: Exception) -> Response:
        # A full disk, a file that another program holds: nothing that the candidate could do anything about but wait.
        room = classroom.room
        text = filled(
            "classroom/not_now.html", school=room.school, sitting=room.sitting, is_safe=classroom.is_safe,
            style=text_of("pages/worksheet.css"),
        )  # fmt: skip
        return _shown(text, 503)

    def is_over(request: Request, error: Exception) -> Response:
        return _asks(classroom, 403, str(error))

    def faulty(request: Request, error: Exception) -> Response:
        reported(Fault.of(error), classroom.room.folder)
        # Nothing of it is told over the wire.
        return PlainTextResponse(
            "The school's machine has a fault. What was saved is safe. Tell your instructor.\n", 500
        )

    told: dict[Any, Callable[[Request, Exception], Response]] = {
        GraderError: not_now, OSError: not_now, RefusedError: is_over, Exception: faulty,
        TemplateNotFound: faulty,  # an OSError too, of which no waiting helps
    }  # fmt: skip
    return Starlette(routes=routes, exception_handlers=told)


# Pages ----------------------------------------------------------------------------------------------------------------


def _shown(text: str, status: int = 200) -> HTMLResponse:
    """A page of ours, with its own script and style and no other."""

    def named(kind: re.Pattern[str]) -> str:
        digests = (hashlib.sha256(one.encode()).digest() for one in kind.findall(text))
        return " ".join(f"'sha256-{base64.b64encode(one).decode()}'" for one in digests) or "'none'"

    policy = (
        f"default-src 'none'; style-src {named(_STYLE)}; script-src {named(_SCRIPT)}; connect-src 'self'; "
        "img-src data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    )
    return HTMLResponse(text, status, {"content-security-policy": policy})


def _asks(classroom: Classroom, status: int = 200, says: str = "") -> Response:
    room = classroom.room
    text = filled(
        "classroom/enter.html", school=room.school, sitting=room.sitting, says=says, is_safe=classroom.is_safe,
        style=text_of("pages/worksheet.css"),
    )  # fmt: skip
    return _shown(text, status)


def _first(classroom: Classroom) -> Callable[[Request], Response]:
    def shown(request: Request) -> Response:
        device = _device(classroom, request)
        # Who opens the address where somebody has handed in is the next one at this device.
        is_at_work = device is not None and classroom.room.drafts.hand_in(device.paper) is None
        return RedirectResponse("/begin", 303) if is_at_work else _asks(classroom)

    return shown


def _begin_page(classroom: Classroom) -> Callable[[Request], Response]:
    def shown(request: Request) -> Response:
        device = _device(classroom, request)
        if device is None:
            return RedirectResponse("/", 303)
        if classroom.room.has_begun(device):
            return RedirectResponse("/paper", 303)
        sheet = classroom.room.sheet(device.paper)
        candidate = classroom.room.candidate(device.paper)
        minutes = classroom.room.allowed(candidate)
        text = filled(
            "classroom/begin.html", school=classroom.room.school, sheet=sheet, candidate=candidate, minutes=minutes,
            is_safe=classroom.is_safe, style=text_of("pages/worksheet.css"),
        )  # fmt: skip
        return _shown(text)

    return shown


def _paper(classroom: Classroom) -> Callable[[Request], Response]:
    def shown(request: Request) -> Response:
        device = _device(classroom, request)
        if device is None:
            return RedirectResponse("/", 303)
        if not classroom.room.has_begun(device):
            return RedirectResponse("/begin", 303)
        return _shown(classroom.room.sheet(device.paper).page)

    return shown


# Forms ----------------------------------------------------------------------------------------------------------------

_Form = Callable[[Classroom, Request, Mapping[str, str]], Response]


def _form(classroom: Classroom, work: _Form) -> Callable[[Request], Any]:
    async def sent(request: Request) -> Response:
        body = await request.body()
        try:
            fields = parse_qs(body[: _LONGEST_FORM + 1].decode("ascii"), max_num_fields=4)
        except ValueError:
            fields = {}
        if len(body) > _LONGEST_FORM:
            fields = {}
        return await run_in_threadpool(work, classroom, request, {name: values[0] for name, values in fields.items()})

    return sent


def _enter(classroom: Classroom, request: Request, fields: Mapping[str, str]) -> Response:
    where = request.client.host if request.client else ""
    try:
        found = classroom.room.let_in(fields.get("code", ""))
    except RefusedError as error:
        return _asks(classroom, 403, str(error))
    if found is None:
        # Only a wrong code has to wait: a whole class may come by one address.
        if wait := classroom.tries.wait(where):
            return _asks(classroom, 429, f"Too many wrong codes. Wait {math.ceil(wait)} seconds, then try again.")
        classroom.tries.wrong(where)
        return _asks(classroom, 403, "This is no code of this sitting. Look at your slip and type it again.")
    classroom.tries.right(where)
    cookie, _ = found
    answer = RedirectResponse("/begin", 303)
    answer.set_cookie(
        classroom.cookie, cookie, path="/", httponly=True, samesite="strict", secure=classroom.is_safe,
        max_age=COOKIE_SECONDS,
    )  # fmt: skip
    return answer


def _begin(classroom: Classroom, request: Request, fields: Mapping[str, str]) -> Response:
    device = _device(classroom, request)
    if device is None:
        return RedirectResponse("/", 303)
    if not _is_of_page(classroom.room.sheet(device.paper), fields.get("token", "")):
        return PlainTextResponse("This came from no page of the classroom, so nothing was changed.\n", 403)
    classroom.room.begin(device)
    return RedirectResponse("/paper", 303)


# Messages of the worksheet --------------------------------------------------------------------------------------------

_Message = Callable[[Classroom, Device, Mapping[str, Any]], Mapping[str, Any] | None]


class _NoMessageError(Exception):
    """What was sent is no message of the worksheet."""


def _message(classroom: Classroom, work: _Message) -> Callable[[Request], Any]:
    def answered(request: Request, body: bytes) -> Response:
        try:
            device = _device(classroom, request)
            if device is None:
                return _says(401, "This browser is not let in any more. Give your code again.")
            if not _is_of_page(classroom.room.sheet(device.paper), request.headers.get("x-pitside-page", "")):
                return _says(403, "This came from no page of this paper, so nothing was changed.")
            if not classroom.pace.allows(device.id):
                return _says(429, "Too much at once. The page tries again by itself.")
            if request.headers.get("content-type") != "application/json":
                raise _NoMessageError
            found = work(classroom, device, _read(body))
        except RefusedError as error:
            return _says(422, str(error))
        except _NoMessageError:
            return _says(400, "This is no message of the worksheet.")
        except TooMuchError:
            return _says(
                422, "The school's machine keeps no more of this paper. Save your script, and tell your instructor."
            )
        except (GraderError, OSError):
            return _says(503, "The school's machine cannot save now. Tell your instructor.")
        return JSONResponse(found) if found is not None else _says(409, "Something changed on another device.")

    async def sent(request: Request) -> Response:
        return await run_in_threadpool(answered, request, await request.body())

    return sent


def _read(body: bytes) -> Mapping[str, Any]:
    def none_such(name: str) -> Any:
        raise ValueError(name)

    try:
        found = json.loads(body.decode(), parse_constant=none_such)
    except (ValueError, RecursionError):
        raise _NoMessageError from None
    if not isinstance(found, dict):
        raise _NoMessageError
    return found


def _save(classroom: Classroom, device: Device, sent: Mapping[str, Any]) -> Mapping[str, Any]:
    name, seen, answers = sent.get("name"), sent.get("seen"), _answers(sent)
    if not isinstance(name, str) or not name.isascii() or not 16 <= len(name) <= _LONGEST_NAME:
        raise _NoMessageError
    read: dict[str, tuple[Answer, int, float]] = {}
    for item, one in answers.items():
        if not isinstance(one, dict) or set(one) != {"value", "base", "ago"}:
            raise _NoMessageError
        read[item] = (one["value"], _whole(one["base"]), _seconds(one["ago"]))
    return _told(device, classroom.room.save(device, name, read, _whole(seen)))


def _hand_in(classroom: Classroom, device: Device, sent: Mapping[str, Any]) -> Mapping[str, Any] | None:
    receipt = classroom.room.hand_in(device, _answers(sent))
    return _told(device, classroom.room.told(device, 0)) if receipt else None


def _leave(classroom: Classroom, device: Device, sent: Mapping[str, Any]) -> Mapping[str, Any]:
    classroom.room.leave(device)
    return {}


def _answers(sent: Mapping[str, Any]) -> dict[str, Any]:
    """What a message holds by field; names that no page has are no message, and half a sign could not be answered."""
    answers = sent.get("answers")
    if not isinstance(answers, dict):
        raise _NoMessageError
    for name in answers:
        try:
            name.encode()
        except UnicodeEncodeError:
            raise _NoMessageError from None
        if len(name) > _LONGEST_FIELD:
            raise _NoMessageError
    return answers


def _whole(value: Any) -> int:
    if type(value) is not int or not 0 <= value < 2**53:
        raise _NoMessageError
    return value


def _seconds(value: Any) -> float:
    if type(value) not in (int, float) or not 0 <= value < 1e9:
        raise _NoMessageError
    return float(value)


def _told(device: Device, told: Told) -> Mapping[str, Any]:
    receipt = told.receipt
    return {
        "answers": {
            name: {"value": held.value, "number": held.number, "own": held.device == device.id}
            for name, held in told.answers.items()
        },
        "number": told.number,
        "left": None if told.left is None else round(told.left, 1),
        "others": told.others,
        "refused": told.refused,
        "receipt": receipt and {
            "digest": receipt.digest, "day": receipt.day, "late": math.ceil(receipt.late), "file": receipt.file,
        },
    }  # fmt: skip


def _says(status: int, says: str) -> Response:
    return JSONResponse({"says": says}, status)


# Who asks -------------------------------------------------------------------------------------------------------------


def _device(classroom: Classroom, request: Request) -> Device | None:
    return classroom.room.device(cookie_of(request.headers, classroom.cookie))


def _is_of_page(sheet: Sheet, token: str) -> bool:
    return hmac.compare_digest(sheet.token.encode(), token.encode(errors="replace"))
