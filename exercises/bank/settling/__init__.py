"""Exercises of the lesson settling: Stokes and where it fails, hindered settling, equal-settling sizes."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    STOKES = "Find a settling velocity, and tell whether the law used holds."
    HINDERED = "Allow for the crowding of solids and find what settles in a tank."
    EQUAL = "Compare the sizes of barite and drilled solids that settle alike."
    VISCOSITY = "Turn the viscosity of a mud into the unit that a formula wants."
