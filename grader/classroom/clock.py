"""The clock of a classroom: it goes on evenly, whatever somebody or the network does to the machine's clock.

A limit of time must not end because the machine's clock was set right in the middle of a sitting. So time is taken from
the clock of the processor, and added to what was kept before the program was started again. It goes on while the
program does not run, for the candidates go on working then, and the pages with them; only where the machine itself was
started anew meanwhile its clock of the day is believed, within bounds.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

#: A longer break than this is none of a sitting, and is not counted.
LONGEST_BREAK = 4 * 3600.0


def _now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True)
class Clocks:
    """The machine's two clocks: one that tells the time of day, and one that only goes on, in seconds."""

    day: Callable[[], datetime] = _now
    even: Callable[[], float] = time.monotonic


@dataclass(frozen=True)
class Kept:
    """What the room's clock stood at when it was last kept, and what the machine's two clocks said then."""

    seconds: float
    day: datetime
    even: float


class RoomClock:
    """Seconds of the classroom, going on from what was kept; None where nothing was."""

    def __init__(self, clocks: Clocks, kept: Kept | None) -> None:
        self._clocks = clocks
        self._start = clocks.even()
        self._before = 0.0
        if kept is not None:
            # The even clock goes on until the machine is started anew, and then begins with nought.
            away = self._start - kept.even
            if away < 0:
                away = max(0.0, (clocks.day() - kept.day).total_seconds())
            self._before = kept.seconds + (away if away <= LONGEST_BREAK else 0.0)

    def seconds(self) -> float:
        return self._before + self._clocks.even() - self._start

    def day(self) -> datetime:
        """The time of day as the machine's clock has it: for people to read, decided by nothing."""
        return self._clocks.day()

    def to_keep(self) -> Kept:
        return Kept(self.seconds(), self._clocks.day(), self._clocks.even())
