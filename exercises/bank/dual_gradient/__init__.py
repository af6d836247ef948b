"""Exercises of the lesson dual gradient: two densities in one column, riser dilution, the plant."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    COLUMN = "Find the pressure of a column of two densities, and the mud for a wanted pressure."
    RISER = "Find the dilution that makes the riser light, and the plant that cuts the return back."
