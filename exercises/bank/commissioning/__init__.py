"""Exercises of the lesson commissioning, waste and handover."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    COMMISSION = "Put the steps of commissioning in order, from survey to handover."
    ACCEPTANCE = "Judge an acceptance test by measured quantities and agreed limits."
    WASTE = "Work out the waste that leaves the rig: volume, boxes, trips."
    EXPLAIN = "Explain a choice of solids control to the crew."
