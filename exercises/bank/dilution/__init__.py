"""Exercises of the lesson removal performance and dilution: volumes, factor, least discard."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    PERFORMANCE = "Find the removal performance of a solids-control system from its volumes."
    LEAST = "Find the mud to build and the least discard for a removal."
    BILL = "Work out what dilution and disposal cost over an interval."
