"""Exercises of the lesson cutting back and mixing: dilution with the volume growing or held, and blends."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    CUTTING_BACK = "Find the liquid that cuts a mud back to its target weight, with the volume growing or held."
    BLENDING = "Find the volumes and the properties of a blend of two muds."
    ROUTE = "Choose between dilution, removal or both, with the cost of each."
