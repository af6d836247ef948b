"""What a part is called and gets: its marks in the gradebook, what a person gave by hand, what was changed later."""

from __future__ import annotations

import enum
from dataclasses import dataclass


def item_name(number: int, key: str) -> str:
    """The name of an item in a paper: exercise number and item key, such as ``2b`` or ``1a.first.density``."""
    return f"{number}{key}"


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
