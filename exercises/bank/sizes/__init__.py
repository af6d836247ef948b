"""Exercises of the lesson sizes of solids: read a size distribution, judge a grind."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    DISTRIBUTION = "Read a size distribution: cumulative curve, d10, d50 and d90."
    GRIND = "Judge whether a weighting material keeps its limits of size."
    MACHINES = "Say which machine can take solids of a given size."
