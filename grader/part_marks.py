"""What goes into the gradebook for a part, and what a person gave it there by hand."""

from __future__ import annotations

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
