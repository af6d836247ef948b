"""Exercises of the lesson shakers and screens: g-factor, designation, cut curve, load."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    G_FACTOR = "Work out the g-factor of a shaker and the speed for a wanted one."
    SCREENS = "Name a screen's designation from its cut, and read a cut curve from samples."
    LOAD = "Find the load on the shakers and the number of screens or machines that it takes."
