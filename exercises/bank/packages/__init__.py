"""Exercises of the lesson sizing and comparing packages: units, capital, energy, service, break-even."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    SIZE = "Size a package of machines for a section, with one out of service."
    COMPARE = "Compare trains over their life, and say at which point one overtakes the other."
