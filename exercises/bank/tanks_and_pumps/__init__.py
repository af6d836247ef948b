"""Exercises of the lesson tanks, pumps and power: head, power, affinity, hydraulics."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    HEAD = "Find the total head on a centrifugal pump and its margin on the suction side."
    AFFINITY = "Say what a centrifugal pump does at another speed or impeller."
    ANNULUS = "Find annular velocity, pressure loss and equivalent circulating density."
