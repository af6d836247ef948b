"""Who may reach the desk: this person's browser, from the desk's own pages, and nobody else.

The server listens on the loopback address alone. That keeps other machines out, and leaves pages of other sites that
the same browser shows, names of other sites that lead here, and other people at work on this machine. So each request
has to name the desk's own address as its host, has to carry a cookie that was given for a token used once, and a change
has to come from a page of the desk, both by what the browser says and by a secret that only the desk's pages hold.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable

from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from grader.pages.pages import filled
from grader.pages.wire import NOTHING, bounded, cookie_of, is_too_long, refused, with_headers

HOST = "127.0.0.1"
#: Most bytes of one request: a room full of scripts on sticks, several times over.
MOST_BYTES = 256 << 20
_TOO_MUCH = f"More than {MOST_BYTES >> 20} MB at once; give it in several goes."
_SECRET_BYTES = 32
#: A browser that was closed still has the cookie; it is good for nothing once the desk is closed.
_COOKIE_SECONDS = 12 * 3600
_READS = ("GET", "HEAD")


class Entry:
    """What lets a browser in: a token that counts once, the cookie given for it, the secret of the desk's forms.

    ``base`` is where the desk's pages lie. Browsers send a cookie to every port of a host, so to whatever another
    person runs on this machine, but only below its path, which nobody can guess.
    """

    def __init__(self) -> None:
        self.token: str | None = secrets.token_urlsafe(_SECRET_BYTES)
        self.base = f"/desk-{secrets.token_urlsafe(12)}"
        self._cookie = secrets.token_urlsafe(_SECRET_BYTES)
        self.form_secret = secrets.token_urlsafe(_SECRET_BYTES)
        #: Takes away what holds the token, once it is used.
        self.put_away: Callable[[], None] = lambda: None

    def exchanged(self, token: str) -> str | None:
        """The cookie, if this is the token and it was not used before."""
        if self.token is None or not _same(token, self.token):
            return None
        self.token = None
        self.put_away()
        return self._cookie

    def renew(self) -> None:
        """Another token, for who closed the browser and comes back."""
        self.token = secrets.token_urlsafe(_SECRET_BYTES)

    def knows(self, cookie: str) -> bool:
        return _same(cookie, self._cookie)

    def is_own_form(self, secret: object) -> bool:
        return isinstance(secret, str) and _same(secret, self.form_secret)


def _same(given: str, right: str) -> bool:
    return hmac.compare_digest(given.encode(errors="replace"), right.encode())


class Guard:
    """Stands before the desk, and answers itself what may not reach it."""

    def __init__(self, app: ASGIApp, port: int, entry: Entry) -> None:
        self._app = app
        self._entry = entry
        self._host = f"{HOST}:{port}"
        self._origin = f"http://{self._host}"
        self._cookie = f"pitside_desk_{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return  # a socket is closed unopened; the desk has none
        send = with_headers(send)
        answer = self._answer(scope)
        if answer is not None:
            await answer(scope, receive, send)
            return
        await self._app(scope, bounded(receive, MOST_BYTES, _TOO_MUCH), send)

    def _answer(self, scope: Scope) -> Response | None:
        """What to answer in the desk's place, or None for what may reach it."""
        headers = Headers(scope=scope)
        if headers.getlist("host") != [self._host]:
            return refused(421, f"This is not the desk's address. Open http://{self._host} as pitside desk says it.")
        path: str = scope["path"]
        if path.startswith("/enter/") and scope["method"] == "GET":
            return self._entered(path.removeprefix("/enter/"))
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return refused(403, "A page of another site asked for this; the desk answers its own pages alone.")
        if not path.startswith(f"{self._entry.base}/") or not self._entry.knows(cookie_of(headers, self._cookie)):
            return refused(403, "The desk is not open in this browser. Start it again: pitside desk")
        if scope["method"] not in _READS and headers.get("origin") != self._origin:
            return refused(403, "This change came from no page of the desk, so nothing was changed.")
        if is_too_long(headers, MOST_BYTES):
            return refused(413, _TOO_MUCH)
        return None

    def _entered(self, token: str) -> Response:
        cookie = self._entry.exchanged(token)
        if cookie is None:
            return refused(403, "This address was used already, or is an old one. Start the desk again: pitside desk")
        # Not a redirect: the browser came from elsewhere, and would not show the cookie on the way.
        home = f"{self._entry.base}/"
        page = Response(filled("desk/enter.html", home=home), media_type="text/html; charset=utf-8")
        page.headers["content-security-policy"] = f"{NOTHING}; style-src 'unsafe-inline'; img-src data:"
        page.set_cookie(self._cookie, cookie, path=home, httponly=True, samesite="strict", max_age=_COOKIE_SECONDS)
        return page
