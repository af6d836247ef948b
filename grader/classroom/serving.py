"""Open the classroom: a server on one address of this machine's networks, that the instructor picks."""

from __future__ import annotations

import asyncio
import ipaddress
import socket
import threading
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from typing import Any

import h11
import psutil
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from grader.classroom.app import Classroom, app_of
from grader.classroom.door import Door
from grader.classroom.left_over import left_over
from grader.classroom.own_certificate import own_certificate
from grader.classroom.room import Open, Room
from grader.classroom.slips import drop_slips
from grader.pages.wire import listening
from grader.running.faults import Fault, reported
from grader.store.errors import GraderError

#: Where classrooms listen: short to type, and the next ones where it is taken.
PORTS = range(8420, 8440)
#: Connections at once, and how many of them from one address; a browser keeps up to six.
MOST_CONNECTIONS, MOST_FROM_ONE = 800, 300
#: A request has to be whole so many seconds after its first byte, a connection has to ask for something.
REQUEST_SECONDS = 20.0
#: How often the clock is kept and what waits is written, in seconds.
TICK_SECONDS = 2.0
#: The log is written once in so many times of that: meanwhile the school is held, and no command can be at work in it.
LOG_ROUNDS = 10


@dataclass(frozen=True)
class Address:
    """An address of this machine, and the network that it is on as the machine calls it."""

    host: str
    network: str

    def __str__(self) -> str:
        return f"{self.host} ({self.network}{f'; {self.note}' if self.note else ''})"

    @property
    def note(self) -> str:
        """What to know of it before it is picked."""
        address = ipaddress.ip_address(self.host)
        if address.is_loopback:
            return "this machine alone, to try it out"
        return "" if address.is_private else "NOT a private address: others than the school may reach it"


def addresses() -> list[Address]:
    """The addresses of this machine (IPv4): those of local networks first, the machine's own loopback last."""
    found = [
        Address(one.address, name)
        for name, each in psutil.net_if_addrs().items()
        for one in each
        if one.family == socket.AF_INET and not ipaddress.ip_address(one.address).is_link_local
    ]

    def order(one: Address) -> tuple[bool, bool, str]:
        address = ipaddress.ip_address(one.host)
        return address.is_loopback, not address.is_private, one.network

    return sorted(found, key=order)


def picked(host: str) -> Address:
    """The address of this machine that is named so. Raises: :class:`GraderError`, naming those that there are."""
    there = addresses()
    for one in there:
        if one.host == host:
            return one
    raise GraderError(f"{host or 'nothing'}: no address of this machine; pick one: {', '.join(map(str, there))}")


@dataclass
class Served:
    """A classroom that listens."""

    room: Room
    classroom: Classroom
    server: uvicorn.Server
    socket: socket.socket
    address: str
    #: The digest of the certificate, as browsers show it; empty where there is none.
    fingerprint: str = ""
    #: Set once what the room is about is kept, so that others can look at it.
    opened: threading.Event = field(default_factory=threading.Event)
    #: What waits when it is closed, in lines for the instructor.
    left: list[str] = field(default_factory=list)
    _stopped: threading.Event = field(default_factory=threading.Event)
    #: Faults of ours of what is done every few seconds, that were reported.
    _reported: set[tuple[str, type[Exception]]] = field(default_factory=set)

    def run(
        self,
        watching: Callable[[Room], None] = lambda room: None,
        at_opening: Callable[[Room], None] = lambda room: None,
    ) -> None:
        """Serve until it is asked to stop, here or at the desk; ``watching`` is called every few seconds.

        ``at_opening`` is called once, when nobody else can have the classroom open: so new slips are written there.
        """
        room = self.room
        with ExitStack() as closing:  # each of these is done, whatever becomes of the others
            closing.callback(room.close)
            closing.callback(self.socket.close)
            closing.enter_context(Open(room.school, room.session))
            # The codes hold, but stand nowhere any more.
            closing.callback(drop_slips, room)
            closing.callback(room.drafts.open_room, room.session, room.minutes, "")
            room.drafts.open_room(room.session, room.minutes, self.address)
            room.tick()
            at_opening(room)
            closing.callback(self._each, (*room.parts, room.write_log, self._see_what_is_left))
            ticking = threading.Thread(target=self._tick, args=(watching,), daemon=True)
            ticking.start()
            closing.callback(ticking.join, 10)
            closing.callback(self._stopped.set)
            self.opened.set()
            with self.socket, suppress(KeyboardInterrupt):  # the server ends first, and then tells of it
                asyncio.run(self.server.serve(sockets=[self.socket]))

    def _see_what_is_left(self) -> None:
        self.left = left_over(self.room.school, self.room.drafts, (paper for _, paper in self.room.candidates))

    def stop(self) -> None:
        self.server.should_exit = True

    def _tick(self, watching: Callable[[Room], None]) -> None:
        def stop_if_asked() -> None:
            if self.room.drafts.is_asked_to_stop(self.room.session):
                self.stop()

        rounds = 0
        while not self._stopped.wait(TICK_SECONDS):
            rounds += 1
            log = () if rounds % LOG_ROUNDS else (self.room.write_log,)
            self._each((stop_if_asked, *self.room.parts, *log, lambda: watching(self.room)))

    def _each(self, parts: Iterable[Callable[[], object]]) -> None:
        """Do each, whatever becomes of the others."""
        for part in parts:
            try:
                part()
            except (OSError, GraderError):
                pass  # a disk that is full now is not full for ever; what waits is kept, and tried again
            except Exception as error:
                if (known := (getattr(part, "__name__", ""), type(error))) not in self._reported:
                    self._reported.add(known)
                    reported(Fault.of(error), self.room.folder)


def prepared(room: Room, host: str, port: int | None = None, is_safe: bool = False) -> Served:
    """A classroom on this address of the machine; it listens already, and serves once it runs.

    ``is_safe``: the connection is encrypted, with the school's own certificate.

    Raises: :class:`GraderError` where it cannot listen there, or a paper cannot be handed out any more.
    """
    room.check()
    ports = (port,) if port else PORTS
    try:
        opened = listening(host, ports)
    except OSError:
        tried = ", ".join(map(str, ports))
        raise GraderError(f"{host}: nothing can listen on port {tried}; choose another with --port") from None
    try:
        return _on(opened, room, host, is_safe)
    except BaseException:
        opened.close()
        raise


def _on(opened: socket.socket, room: Room, host: str, is_safe: bool) -> Served:
    port = opened.getsockname()[1]
    classroom = Classroom(room, is_safe, port)
    pem, fingerprint = own_certificate(room.school, host) if is_safe else (None, "")
    scheme, usual = ("https", 443) if is_safe else ("http", 80)
    name = host if port == usual else f"{host}:{port}"  # a browser leaves the usual port out
    config = uvicorn.Config(
        Door(app_of(classroom), name, scheme),
        ssl_keyfile=pem,
        ssl_certfile=pem,
        log_config=None,
        log_level="error",
        access_log=False,
        ws="none",
        lifespan="off",
        http=_protocol(),
        proxy_headers=False,
        server_header=False,
        date_header=False,
        h11_max_incomplete_event_size=16_384,
        timeout_keep_alive=30,
        timeout_graceful_shutdown=5,
    )
    config.load()  # so that a certificate that cannot be used is told before anything is said to be open
    return Served(room, classroom, uvicorn.Server(config), opened, f"{scheme}://{name}", fingerprint)


def _protocol() -> type[H11Protocol]:
    """The server's protocol, with bounds on connections and on how slowly a request may come."""
    of_one: Counter[str] = Counter()

    class Bounded(H11Protocol):
        _since: float | None = None
        _peer = ""
        _watch: asyncio.TimerHandle | None = None

        def connection_made(self, transport: Any) -> None:
            super().connection_made(transport)
            self._peer = self.client[0] if self.client else ""
            of_one[self._peer] += 1
            if of_one[self._peer] > MOST_FROM_ONE or of_one.total() > MOST_CONNECTIONS:
                transport.abort()
                return
            self._since = self.loop.time()
            self._watch = self.loop.call_later(REQUEST_SECONDS, self._look)

        def connection_lost(self, exc: Exception | None) -> None:
            super().connection_lost(exc)
            of_one[self._peer] -= 1
            if of_one[self._peer] <= 0:
                del of_one[self._peer]
            if self._watch is not None:
                self._watch.cancel()

        def data_received(self, data: bytes) -> None:
            if self._since is None:
                self._since = self.loop.time()
            super().data_received(data)
            # Whole once the other side has nothing more to say to this request.
            if self.conn.their_state in (h11.DONE, h11.MUST_CLOSE, h11.CLOSED):
                self._since = None

        def on_response_complete(self) -> None:
            self._since = None
            super().on_response_complete()

        def _look(self) -> None:
            if self._since is not None and self.loop.time() - self._since > REQUEST_SECONDS - 1:
                self.transport.abort()
                return
            self._watch = self.loop.call_later(REQUEST_SECONDS / 4, self._look)

    return Bounded
