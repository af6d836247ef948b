"""The register of certificates: which were issued to whom on what marks, and which were revoked and why. Append-only.

Each line is sealed with the school key over itself and the seal before it, as the lines of the log are. No name stands
in it, only the candidate's id; what was certified is told by digests.
"""

from __future__ import annotations

import base64
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from grader.store.errors import GraderError
from grader.store.ledger import Ledger
from grader.store.log import _who as who_is_here
from grader.store.school import School

ISSUED = "issued"
REVOKED = "revoked"
#: The page in the records on which anybody checks certificates; it tells of nobody.
CHECK_PAGE = "check_certificates.html"
#: Letters of a check code: 50 bits, more than anybody tries, few enough to read out on the telephone.
_CODE_LETTERS = 10


@dataclass(frozen=True)
class Issued:
    """A certificate as the register has it.

    ``certified`` is the digest of the result that it was issued on, ``credential`` that of the signed credential,
    ``key`` the public key that it was signed with. ``revoked`` is the reason, empty while it stands.
    """

    serial: str
    candidate: str
    certified: str
    credential: str
    key: str
    when: datetime
    line: int
    #: The state code that the certificate carries; none on those of before there were such codes.
    state: str = ""
    revoked: str = ""
    revoked_on: datetime | None = None

    @property
    def code(self) -> str:
        return check_code(self.credential)


def check_code(credential: str) -> str:
    """What stands on the paper to be read out: the beginning of the credential's digest, in two groups of letters."""
    letters = base64.b32encode(bytes.fromhex(credential)).decode()[:_CODE_LETTERS]
    return f"{letters[:5]}-{letters[5:]}"


def _now() -> datetime:
    return datetime.now(UTC)


class CertificateRegister:
    """The certificates of one school, by serial number; every seal is checked when it is opened.

    Raises: :class:`GraderError`, naming the line that is not as it was written.
    """

    def __init__(
        self,
        school: School,
        who: Callable[[], str] = who_is_here,
        now: Callable[[], datetime] = _now,
        only_read: bool = False,
    ) -> None:
        self._who, self.now = who, now
        self._lines = 0
        self.issued: dict[str, Issued] = {}
        path = school.records / "certificates.jsonl"
        self.ledger = Ledger(path, school.key, "the register of certificates", "certificates", self._keep, only_read)
        self._school = school

    @property
    def path(self) -> Path:
        return self.ledger.path

    @property
    def next_serial(self) -> str:
        return f"{self._school.id}-{len(self.issued) + 1:04d}"

    def current(self, candidate: str) -> Issued | None:
        """The certificate that a candidate holds: the latest that is not revoked."""
        held = [one for one in self.issued.values() if one.candidate == candidate and not one.revoked]
        return held[-1] if held else None

    def latest(self, candidate: str) -> Issued | None:
        """The last certificate that was issued to a candidate, revoked or not."""
        return next((one for one in reversed(self.issued.values()) if one.candidate == candidate), None)

    def of_code(self, code: str) -> Issued | None:
        wanted = "".join(letter for letter in code.upper() if letter.isalnum())
        return next((one for one in self.issued.values() if one.code.replace("-", "") == wanted), None)

    def issue(
        self, serial: str, candidate: str, certified: str, credential: str, key: str, when: datetime, state: str = ""
    ) -> None:
        """Enter a certificate; the line is on the disk when this returns. ``state`` is the state code on it."""
        about = {"serial": serial, "candidate": candidate, "certified": certified, "credential": credential, "key": key}
        about |= {"state": state} if state else {}
        self.ledger.append([{"when": when.isoformat(timespec="seconds"), "who": self._who(), "what": ISSUED, **about}])

    def revoke(self, serial: str, reason: str) -> Issued:
        """Enter that a certificate counts no longer. Raises: :class:`GraderError` if there is no such, or no reason."""
        reason = " ".join(reason.split())
        one = self.issued.get(serial.strip().lower())
        if one is None:
            known = f"; the latest is {list(self.issued)[-1]}" if self.issued else ", nor any other"
            raise GraderError(f"{self.path}: no certificate {serial!r} was issued{known}")
        if one.revoked:
            raise GraderError(f"{self.path}: certificate {one.serial} is revoked already: {one.revoked}")
        if not reason:
            raise GraderError(f'certificate {one.serial}: say why it is revoked: --reason "..."; it goes on record')
        line = {"when": self.now().isoformat(timespec="seconds"), "who": self._who(), "what": REVOKED}
        self.ledger.append([line | {"serial": one.serial, "reason": reason}])
        return self.issued[one.serial]

    def _keep(self, line: dict[str, Any], seal: str) -> None:
        self._lines += 1
        when, serial = datetime.fromisoformat(line["when"]), line["serial"]
        if line["what"] == ISSUED:
            fields = (line["candidate"], line["certified"], line["credential"], line["key"])
            self.issued[serial] = Issued(serial, *fields, when, self._lines, line.get("state", ""))
        elif line["what"] == REVOKED:
            self.issued[serial] = replace(self.issued[serial], revoked=line["reason"], revoked_on=when)
        else:
            raise ValueError(line["what"])
