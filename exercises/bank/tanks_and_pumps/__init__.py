"""Exercises of the lesson tanks, pumps and power: series order, line-up, volumes and stirring, head, affinity."""

from __future__ import annotations

import enum

from exercises.model import relative


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    TANKS = "Put tanks and machines in a sound order, and follow the mud over an equalising line."
    LINE_UP = "Find the wrong line-up on a drawing of tanks and lines."
    TANK_SUMS = "Check the volume of a tank, its stirring and its trap by simple sums."
    HEAD = "Find the total head on a centrifugal pump and its margin on the suction side."
    AFFINITY = "Say what a centrifugal pump does at another speed or impeller."
    WORKING_SAFELY = "Name the first safe action before a tank is entered."


TO_ONE_PERCENT = relative(0.01, because="three figures on the way move it by 0.5 %; rounded factors by 0.2 %")
