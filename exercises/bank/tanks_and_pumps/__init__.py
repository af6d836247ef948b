"""Exercises of the lesson tanks, pumps and power: series order, head, affinity, hydraulics."""

from __future__ import annotations

import enum

from exercises.model import relative


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    TANKS = "Put tanks and machines in a sound order, and follow the mud over an equalising line."
    HEAD = "Find the total head on a centrifugal pump and its margin on the suction side."
    AFFINITY = "Say what a centrifugal pump does at another speed or impeller."
    ANNULUS = "Find annular velocity, pressure loss and equivalent circulating density."
    WORKING_SAFELY = "Name the first safe action before a tank is entered."


TO_ONE_PERCENT = relative(0.01, because="three figures on the way move it by 0.5 %; rounded factors by 0.2 %")
