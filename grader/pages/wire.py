"""What our servers say with every answer, and how much they take of one request."""

from __future__ import annotations

from starlette.datastructures import MutableHeaders
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
