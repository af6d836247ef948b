"""Exercises of the lesson barite recovery: what comes back, what is thrown out, modules side by side."""

import enum

from exercises.model import absolute, relative


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    RECOVERY = "Find how much barite comes back and how much drilled solids are thrown out."
    MODULES = "Size parallel modules for a flow, with turndown and one out of service."
    POWER = "Find power, energy and cost of running a train."
    CHOOSING = "Choose between two ways of barite recovery that keep their limits, and defend the choice."


EXACT = relative(0.01, because="3960 and 1714 are rounded constants (0.2 %), an earlier answer to three digits 0.5 %")
WHOLE = absolute(0.4, "fraction", because="machines come whole: no other whole number is near enough")
