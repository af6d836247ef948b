"""Exercises of the lesson the mud check: viscometer, methylene blue, sand, chlorides, and what they tell to do."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    RHEOLOGY = "Work out plastic viscosity and yield point from a viscometer, and read the gels."
    CLAY = "Split the low-gravity solids into bentonite and drilled solids by a methylene-blue test."
    NEXT_STEP = "Say what each reading of a mud check tells to do next."
    SHEET = "Fill in and read a daily solids sheet: see a trend, and doubt a reading that does not fit."
