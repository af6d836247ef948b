"""Exercises of the lesson running a well: section plan, hole cleaning, pits, routine and report."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    HOLE_CLEANING = "Find the lag, and tell from the rock over the shakers whether the hole is cleaned."
    ANNULUS = "Find annular velocity, pressure loss and equivalent circulating density."
    PITS = "Account for gains and losses of the pits, and say who is told first."
    ROUTINE = "Plan the solids control of a section and the rounds of a tour, and report them."
