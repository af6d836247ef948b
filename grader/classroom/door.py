"""Who may reach the classroom: browsers that name its address, on its own pages, with a code; and not too often.

The server listens on one address of the local network, so anybody in the yard can speak to it. A request has to name
that address as its host (a name of another site that leads here is refused), a change has to come from a page of the
classroom, and whoever tries wrong codes has to wait longer each time.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from grader.pages.wire import bounded, is_too_long, refused, with_headers

#: Most bytes of one request: all answers of a paper, with long words.
MOST_BYTES = 2 << 20
_TOO_MUCH = "That is more than a paper can be."
_READS = ("GET", "HEAD")
#: Wrong codes that cost nothing, how long one is remembered, and the longest wait, in seconds.
FREE_TRIES = 8
REMEMBERED = 600.0
LONGEST_WAIT = 60.0
#: Addresses that are remembered; a flood of them pushes the oldest out.
_MOST_ADDRESSES = 20_000
#: Requests of one device: so many at once, and so many a second in the long run.
BURST, A_SECOND = 30.0, 2.0


class Door:
    """Stands before the classroom's pages, and answers itself what may not reach them."""

    def __init__(self, app: ASGIApp, host: str, scheme: str = "http") -> None:
        self._app = app
        self._host = host
        self._origin = f"{scheme}://{host}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return  # a socket is closed unopened; the classroom has none
        send = with_headers(send)
        answer = self._answer(scope)
        if answer is not None:
            await answer(scope, receive, send)
            return
        await self._app(scope, bounded(receive, MOST_BYTES, _TOO_MUCH), send)

    def _answer(self, scope: Scope) -> Response | None:
        """What to answer in the classroom's place, or None for what may reach it."""
        headers = Headers(scope=scope)
        if headers.getlist("host") != [self._host]:
            return refused(421, f"This is not the classroom's address. Open {self._origin} as it stands on your slip.")
        if scope["method"] not in (*_READS, "POST"):
            return refused(405, "The classroom does not do that.")
        # A link or a square that leads here from elsewhere may open the page that asks for the code, and nothing else.
        is_first = scope["path"] == "/" and scope["method"] in _READS
        if not is_first and headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return refused(403, "A page of another site asked for this; the classroom answers its own pages alone.")
        if scope["method"] == "POST" and headers.getlist("origin") != [self._origin]:
            return refused(403, "This came from no page of the classroom, so nothing was changed.")
        if is_too_long(headers, MOST_BYTES):
            return refused(413, _TOO_MUCH)
        return None


@dataclass
class Tries:
    """Counts wrong codes by the address that they came from, and says how long to wait before the next wrong one.

    It keeps the noise down. What keeps a code from being found is its length, so a right code is never held up.
    """

    even: Callable[[], float] = time.monotonic
    _wrong: dict[str, tuple[int, float]] = field(default_factory=dict)

    def wait(self, where: str) -> float:
        """Seconds that have to pass before a wrong code from there is looked at; 0 for now."""
        count, latest = self._wrong.get(where, (0, 0.0))
        since = self.even() - latest
        if count < FREE_TRIES or since > REMEMBERED:
            return 0.0
        return max(0.0, min(LONGEST_WAIT, 2.0 ** min(count - FREE_TRIES, 10)) - since)

    def wrong(self, where: str) -> None:
        now = self.even()
        count, latest = self._wrong.pop(where, (0, 0.0))
        self._wrong[where] = (1 if now - latest > REMEMBERED else count + 1, now)
        for old in list(self._wrong)[: max(0, len(self._wrong) - _MOST_ADDRESSES)]:
            self._wrong.pop(old, None)

    def right(self, where: str) -> None:
        """A right code came from there: what was counted before was somebody's typing."""
        self._wrong.pop(where, None)


@dataclass
class Pace:
    """Keeps one device from asking without end."""

    even: Callable[[], float] = time.monotonic
    _left: dict[int, tuple[float, float]] = field(default_factory=dict)

    def allows(self, device: int) -> bool:
        now = self.even()
        left, then = self._left.get(device, (BURST, now))
        left = min(BURST, left + (now - then) * A_SECOND)
        self._left[device] = (max(0.0, left - 1), now)
        return left >= 1
