"""How much more time a candidate has, from what the roster says of arrangements in free words."""

from __future__ import annotations

import re
from dataclasses import dataclass

_SHARES = {"quarter": 0.25, "third": 1 / 3, "half": 0.5, "double": 1.0, "twice": 1.0}
_OF_TIME = re.compile(r"\b(time|minutes?|min)\b", re.IGNORECASE)
_PERCENT = re.compile(r"(\d{1,3}(?:[.,]\d+)?)\s*(?:%|per ?cent)", re.IGNORECASE)
_MINUTES = re.compile(r"(\d{1,3})\s*(?:minutes?|min)\b", re.IGNORECASE)
_WORD = re.compile(rf"\b({'|'.join(_SHARES)})\b", re.IGNORECASE)
#: Nobody has more than twice the time and as much again by an arrangement; more is a slip of the pen.
_MOST_SHARE = 2.0


@dataclass(frozen=True)
class MoreTime:
    """A share of the time for everybody, and minutes on top; ``unread`` are words about time that give no number."""

    share: float = 0.0
    minutes: float = 0.0
    unread: tuple[str, ...] = ()

    def of(self, minutes: float) -> float:
        """The minutes that a candidate has where everybody has so many."""
        return minutes * (1 + self.share) + self.minutes


def more_time(arrangements: str) -> MoreTime:
    """What arrangements, parted by semicolons, say of time.

    >>> more_time("extra time 25 %; reader").of(60), more_time("a quarter more time").of(60)
    (75.0, 75.0)
    >>> more_time("15 minutes more").of(60), more_time("larger print; 大字").of(60)
    (75.0, 60.0)
    >>> more_time("extra time").unread
    ('extra time',)
    """
    share = minutes = 0.0
    unread = []
    for words in filter(None, (piece.strip() for piece in arrangements.split(";"))):
        if not _OF_TIME.search(words):
            continue
        percent, number, word = _PERCENT.search(words), _MINUTES.search(words), _WORD.search(words)
        if percent and float(percent[1].replace(",", ".")) <= 100 * _MOST_SHARE:
            share += float(percent[1].replace(",", ".")) / 100
        elif number:
            minutes += float(number[1])
        elif word:
            share += _SHARES[word[1].lower()]
        else:
            unread.append(words)
    return MoreTime(share, minutes, tuple(unread))
