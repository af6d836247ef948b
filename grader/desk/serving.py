"""Open the desk: a server on the loopback address, and the browser on its first page."""

from __future__ import annotations

import asyncio
import os
import socket
import tempfile
import threading
import webbrowser
import zlib
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import uvicorn

from grader.desk.app import Desk, app_of
from grader.desk.guard import HOST, Entry, Guard
from grader.pages.pages import filled
from grader.pages.wire import listening

#: Where desks listen: a school's is the same each time if it is free, so that what its pages keep is found again.
_PORTS = range(20_000, 45_000)
#: Requests that are served at once; a browser makes six.
_AT_ONCE = 40
_OPEN = "open_desk.html"


@dataclass
class Served:
    """A desk that listens, and the address that opens it once."""

    desk: Desk
    port: int
    server: uvicorn.Server
    socket: socket.socket

    @property
    def address(self) -> str:
        return f"http://{HOST}:{self.port}/enter/{self.desk.entry.token}"

    def open_again(self, lines: Iterable[str]) -> None:
        """Open the browser anew for each line that somebody types where the desk was started."""

        def waiting() -> None:
            for _ in lines:
                self.desk.entry.renew()
                open_browser(self)

        threading.Thread(target=waiting, daemon=True).start()

    def run(self) -> None:
        """Serve until somebody closes the desk, or stops the program."""
        threading.Thread(target=_bring_along, daemon=True).start()
        try:
            with self.socket, suppress(KeyboardInterrupt):  # the server ends first, and then tells of it
                asyncio.run(self.server.serve(sockets=[self.socket]))
        finally:
            self.desk.entry.put_away()


def _bring_along() -> None:
    """Load what takes seconds to load while a person looks at the first page, not when they press a button."""
    from grader.marking import gradebook, marking  # noqa: F401
    from grader.papers import packs  # noqa: F401
    from grader.privacy import privacy  # noqa: F401


def prepared(folder: Path | None, around: Path) -> Served:
    """A desk for the school in this folder, or for making and finding one in ``around``; it listens already."""
    entry = Entry()
    # In full, for it is shown to a person who may not know where the program was started.
    around, folder = around.resolve(), folder.resolve() if folder else None
    desk = Desk(around, folder, entry)
    usual = _PORTS[zlib.crc32(os.fsencode(folder or around)) % len(_PORTS)]
    opened = listening(HOST, (usual, 0))
    port = opened.getsockname()[1]
    config = uvicorn.Config(
        Guard(app_of(desk), port, entry),
        # Nothing of an address is logged: one holds the token. Faults are kept where those of the commands are.
        log_config=None,
        access_log=False,
        ws="none",
        lifespan="off",
        http="h11",
        proxy_headers=False,
        server_header=False,
        date_header=False,
        limit_concurrency=_AT_ONCE,
        timeout_graceful_shutdown=5,
    )
    server = uvicorn.Server(config)

    def close() -> None:
        server.should_exit = True

    desk.close = close
    return Served(desk, port, server, opened)


def _put_away(path: Path) -> None:
    """Windows keeps a file that the browser still holds; its token is good for nothing then, and it goes at the end."""
    with suppress(OSError):
        path.unlink(missing_ok=True)


def open_browser(served: Served, browse: Callable[[str], bool] = webbrowser.open) -> None:
    """Show the first page in the browser, by a file that is taken away as soon as the browser was there.

    The program that opens a browser is seen by everybody on this machine with what it was called with. So it is called
    with the name of a file that only this person can read, and the file holds the address.
    """
    text = filled("desk/go.html", address=served.address)
    for folder in (served.desk.folder or served.desk.around, Path(tempfile.gettempdir())):
        path = folder / _OPEN
        with suppress(OSError):
            path.unlink(missing_ok=True)
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
            served.desk.entry.put_away = partial(_put_away, path)
            with suppress(webbrowser.Error):
                browse(path.resolve().as_uri())
            return
