"""Exercises of the lesson barite recovery: what comes back, what is thrown out, modules side by side."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    RECOVERY = "Find how much barite comes back and how much drilled solids are thrown out."
    MODULES = "Size parallel modules for a flow, with turndown and one out of service."
    POWER = "Find power, energy and cost of running a train."
