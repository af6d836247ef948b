"""Exercises of the lesson oil on cuttings: wet and dry basis, the well's average, limits, fluid lost."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    RETENTION = "Find the oil on cuttings on wet and dry basis from a retort."
    LIMIT = "Compare a well's average with a discharge limit and plan what is left of it."
    LOSS = "Find the base fluid lost with the cuttings, its cost, and what drying saves."
