"""Exercises of the lesson keeping people whole: hazards at the plant, permits, exposure, first actions."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    HAZARDS = "Name the hazard of a job at the plant and the control that comes first."
    PERMITS = "Say what must be isolated, tested and signed before a job starts, and in which order."
    EXPOSURE = "Work out a noise dose, and say what a gas reading asks of everybody."
    FIRST_ACTION = "Name the first safe action when something has gone wrong."
