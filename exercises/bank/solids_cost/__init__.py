"""Exercises of the lesson why solids cost money: volumes of hole, pits and pump, and where a barrel goes."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    VOLUMES = "Work out the volume of hole, annulus and pits."
    PUMP = "Work out what the mud pump moves and how long a barrel takes round the system."
    EFFECTS = "Say what drilled solids do to the mud, the rate of penetration, wear and cost."
