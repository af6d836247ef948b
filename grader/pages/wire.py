"""What our servers do alike on the wire: how they listen, what they read of a request, what each answer says."""

from __future__ import annotations

import socket
from collections.abc import Iterable
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, Response
from starlette.types import Message, Receive, Send

#: What every answer says, whatever it is. A page says itself what more it may load.
ALWAYS = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    # With no-referrer a browser would not say either from where a form is sent.
    "referrer-policy": "same-origin",
    "cache-control": "no-store",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
}
NOTHING = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"


def refused(status: int, why: str) -> Response:
    """An answer in one line, to be read."""
    return PlainTextResponse(f"{why}\n", status, {"content-security-policy": NOTHING})


def with_headers(send: Send) -> Send:
    """Sends what every answer says along with each."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in ALWAYS.items():
                headers[name] = value
            headers.setdefault("content-security-policy", NOTHING)
        await send(message)

    return sending


def bounded(receive: Receive, most: int, too_much: str) -> Receive:
    """The body, as far as the bound: a request in pieces says beforehand of no length."""
    taken = 0

    async def receiving() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most:
            raise HTTPException(413, too_much)
        return message

    return receiving


#: A length of more digits is beyond every bound.
_MOST_DIGITS = 12


def is_too_long(headers: Headers, most: int) -> bool:
    """Whether a request says beforehand that it has more bytes, or says no number."""
    length = headers.get("content-length", "0")
    is_number = length.isascii() and length.isdigit() and len(length) <= _MOST_DIGITS
    return not is_number or int(length) > most


def cookie_of(headers: Headers, name: str) -> str:
    """The cookie of that name; empty where there is none, or nothing that can be read."""
    jar: SimpleCookie = SimpleCookie()
    try:
        jar.load(headers.get("cookie", ""))
    except CookieError:
        return ""
    given = jar.get(name)
    return given.value if given else ""


def listening(host: str, ports: Iterable[int]) -> socket.socket:
    """A socket that listens on the first of these ports that is free; 0 is any. Raises: ``OSError`` where none is."""
    failed = OSError("no port was named")
    for port in ports:
        made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        # On Windows another program could else take the port over while this one listens.
        exclusive = getattr(socket, "SO_EXCLUSIVEADDRUSE", None)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR if exclusive is None else exclusive, 1)
        try:
            made.bind((host, port))
            made.listen(256)
        except OSError as error:
            made.close()
            failed = error
            continue
        return made
    raise failed
