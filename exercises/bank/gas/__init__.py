"""Exercises of the lesson gas in the mud: cut mud, separator and degasser, vent lines, hydrogen sulphide."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    GAS_CUT = "Find the share of gas in a cut mud, and say what it takes off the pressure at the bottom."
    MACHINES = "Choose between separator and degasser, and say where each stands and why."
    GAS_SAFELY = "Name the first safe action when gas or hydrogen sulphide shows at the plant."
