"""The button for each step of the work: what it says, what it does, or the room in which it is done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from grader.reports.status import Do, Step


@dataclass(frozen=True)
class Button:
    """A button that does ``action`` with these fields, or, where there is none, leads into ``room``."""

    says: str
    room: str
    action: str = ""
    fields: Mapping[str, str] = field(default_factory=dict)


_BUTTONS: Mapping[Do, Button] = {
    Do.WRITE_CANDIDATES: Button("Write the candidates", "candidates"),
    Do.ISSUE: Button("Issue it", "hand-out", "issue"),
    Do.HAND_OUT: Button("Hand out", "hand-out"),
    Do.OBSERVE: Button("Write the observers’ page", "by-hand", "observe"),
    Do.CORRECT: Button("See the packs", "hand-out"),
    Do.MARK: Button("Mark it", "scripts", "mark"),
    Do.SEE_TO_FILES: Button("See the files", "scripts"),
    Do.MARK_WORDS: Button("Write the page for it", "by-hand", "words"),
    Do.WRITE_RESULTS: Button("Write them", "results", "results"),
    Do.DEBRIEF: Button("Write the debrief", "results", "debrief"),
    Do.DECIDE: Button("Decide", "decisions", "decide"),
    Do.CERTIFY: Button("Issue the certificates", "decisions", "certify"),
    Do.TAKE_HOME: Button("Put it together", "decisions", "take-home"),
    Do.VERIFY: Button("Verify the school", "records", "verify"),
}
_OF_A_SITTING = (Do.ISSUE, Do.OBSERVE, Do.DEBRIEF)


def button_of(step: Step) -> Button:
    """What does a step at the desk."""
    button = _BUTTONS[step.do]
    if step.do not in _OF_A_SITTING or not step.sitting:
        return button
    fields = {"sitting": step.sitting, **({"attempt": str(step.attempt)} if step.attempt > 1 else {})}
    return Button(button.says, button.room, button.action, fields)
