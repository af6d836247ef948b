"""What goes into the gradebook for a part, what a person gave it there by hand, and what was changed afterwards."""

from __future__ import annotations

import enum
from dataclasses import dataclass


@dataclass(frozen=True)
class PartMark:
    """What the gradebook keeps of a part: its marks and the comment for the candidate."""

    marks: float
    comment: str
    pending: bool = False


@dataclass(frozen=True)
class HandMark:
    """What a person gave a part by hand: marks that stand in place of those of the mark scheme, a comment, or both.

    ``marks`` lie from nought to the part's maximum; ``note`` tells the assessor where what was given did not.
    """

    part: str
    marks: float | None
    comment: str
    note: str = ""


class ChangeKind(enum.StrEnum):
    """Why a part's marks were changed after marking."""

    MODERATION = "moderation"
    APPEAL = "appeal"
    CORRECTION = "correction"


@dataclass(frozen=True)
class Change:
    """Marks decided for a part after marking; they stand in place of those given by hand and by the mark scheme.

    ``before`` are the marks that stood until then, ``why`` the reason; ``who`` and ``when`` as in the log. Earlier
    changes of a part are kept, and the latest counts.
    """

    part: str
    marks: float
    before: float
    kind: ChangeKind
    why: str
    who: str
    when: str
