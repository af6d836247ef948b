"""The clock of a classroom: it goes on evenly, whatever somebody or the network does to the machine's clock.

A limit of time must not end because the machine's clock was set right in the middle of a sitting. So time is taken from
the clock of the processor, and added to what was kept before the program was started again. While it did not run, the
machine's clock is believed, within bounds: the candidates go on working then, and the pages with them.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

#: A longer break than this is none of a sitting, and is not counted.
LONGEST_BREAK = 4 * 3600.0
#: How far the machine's clock may go away from the processor's before it is told.
STEADY = 60.0


def _now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True)
class Clocks:
    """The machine's two clocks: one that tells the time of day, and one that only goes on, in seconds."""

    day: Callable[[], datetime] = _now
    even: Callable[[], float] = time.monotonic


class RoomClock:
    """Seconds of the classroom. ``kept`` is what it stood at, and the time of day then, when it was last kept."""

    def __init__(self, clocks: Clocks, kept: tuple[float, datetime] | None) -> None:
        self._clocks = clocks
        self._start = clocks.even()
        self._day_at_start = clocks.day()
        self._before = 0.0
        if kept is not None:
            away = (self._day_at_start - kept[1]).total_seconds()
            self._before = kept[0] + (away if 0 < away <= LONGEST_BREAK else 0.0)

    def seconds(self) -> float:
        return self._before + self._clocks.even() - self._start

    def day(self) -> datetime:
        """The time of day as the machine's clock has it: for people to read, decided by nothing."""
        return self._clocks.day()

    def jumped(self) -> float:
        """Seconds by which the machine's clock went away from the even one since the start; 0 where it is steady."""
        by = (self._clocks.day() - self._day_at_start).total_seconds() - (self._clocks.even() - self._start)
        return by if abs(by) > STEADY else 0.0
