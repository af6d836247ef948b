"""The state code: a short text that says to which state register, log and register of certificates have come.

It is printed with results and decisions and carried by certificates, so it lies where the school's folder does not.
As lines are only ever appended, whoever has an old code can see later whether the folder still holds the state of that
day, with more behind it, or was put back to an earlier one. Forgetting somebody changes no code.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import re
from collections.abc import Sequence
from datetime import datetime

from grader.store.certificate_register import CertificateRegister
from grader.store.errors import GraderError
from grader.store.ledger import Ledger
from grader.store.log import Log
from grader.store.register import Register
from grader.store.school import School
from grader.store.wording import counted

#: Letters of a code: 50 bits, which only who has the school key could work out for other lines.
_LETTERS = 10
_CODE = re.compile(r"(\d{1,9})-(\d{1,9})-(\d{1,9})-([A-Z2-7]{5})-?([A-Z2-7]{5})")


class State:
    """The three ledgers of a school, as they lie there."""

    def __init__(self, school: School, register: Register, log: Log, certificates: CertificateRegister) -> None:
        self._key = school.key
        self.ledgers: tuple[Ledger, ...] = (register.ledger, log.ledger, certificates.ledger)

    @property
    def code(self) -> str:
        """The code of the state of now."""
        return self._code([len(ledger) for ledger in self.ledgers])

    def fault(self, code: str) -> str:
        """Why the ledgers do not hold the state of this code, in words; empty where they do.

        Raises: :class:`GraderError` if it is no state code.
        """
        found = _CODE.fullmatch("".join(code.split()).upper())
        if not found:
            raise GraderError(f"{code[:40]!r} is no state code; copy it whole, such as 12-30-0-ABCDE-FGH23")
        counts = [int(found[place]) for place in (1, 2, 3)]
        for ledger, count in zip(self.ledgers, counts, strict=True):
            if len(ledger) < count:
                lines = counted(len(ledger), "line")
                return f"{ledger.path} has {lines}, and had {count} then: it was put back or cut off"
        if not hmac.compare_digest(self._code(counts), "-".join([*map(str, counts), found[4], found[5]])):
            paths = ", ".join(str(ledger.path) for ledger in self.ledgers)
            return f"the lines of that day are not the first ones of {paths}: they were put back, and went on otherwise"
        return ""

    def tell_of_clock(self, now: datetime) -> None:
        """Say on the error stream, if it is so, that the clock is behind what was written before."""
        for ledger in self.ledgers:
            if ledger.tell_of_clock(now):
                return

    def _code(self, counts: Sequence[int]) -> str:
        states = [ledger.state(count) for ledger, count in zip(self.ledgers, counts, strict=True)]
        digest = hmac.new(self._key, "|".join(["state", *states]).encode(), hashlib.sha256).digest()
        letters = base64.b32encode(digest).decode()[:_LETTERS]
        return "-".join([*map(str, counts), letters[:5], letters[5:]])


def state_of(school: School, register: Register | None = None, log: Log | None = None) -> State:
    """The state of a school's ledgers, of which register and log may be open already.

    Raises: :class:`GraderError` where one is not as it was written.
    """
    register = register or Register(school, only_read=True)
    log = log or Log(school, only_read=True)
    return State(school, register, log, CertificateRegister(school, only_read=True))
