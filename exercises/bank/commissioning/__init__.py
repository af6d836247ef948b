"""Exercises of the lesson commissioning, troubleshooting and waste."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    DIAGNOSE = "Tell the cause of a fault from its symptoms and name the first safe action."
    WASTE = "Work out the waste that leaves the rig: volume, boxes, trips."
    EXPLAIN = "Explain a choice of solids control to the crew."
