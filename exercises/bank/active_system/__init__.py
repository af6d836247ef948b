"""Exercises of the lesson active system over time: how solids build up while drilling."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    BUILD_UP = "Find the steady state of drilled solids in the active system, and how fast it comes."
    REPORT = "Fill in and read a week's solids-control report."
