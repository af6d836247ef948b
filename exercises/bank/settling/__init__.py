"""Exercises of the lesson settling: Stokes and where it fails, hindered settling, equal-settling sizes."""

from __future__ import annotations

import enum

from exercises.model import Grid, Number


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    STOKES = "Find a settling velocity, and tell whether the law used holds."
    HINDERED = "Allow for the crowding of solids and find what settles in a tank."
    EQUAL = "Compare the sizes of barite and drilled solids that settle alike."
    VISCOSITY = "Turn the viscosity of a mud into the unit that a formula wants."


#: The liquid between the grains: water to heavy brine.
LIQUID = Number("liquid", Grid(8.4, 10.2, 0.1, "lb/gal"), Grid(1000, 1220, 10, "kg/m3"))
