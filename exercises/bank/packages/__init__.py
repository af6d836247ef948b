"""Exercises of the lesson sizing and comparing packages: units, capital, energy, service, break-even."""

import enum

from exercises.model import absolute, relative


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    SIZE = "Size a package of machines for a section, with one out of service."
    COMPARE = "Compare trains over their life, and say at which point one overtakes the other."
    DEFEND = "Choose a package that keeps its limits of flow, power and drilled solids, and defend the choice."


WHOLE = absolute(0.4, "fraction", because="machines come whole: no other whole number is near enough")
CARRIED = relative(0.01, because="three digits carried from step to step; 0.7457 or 0.746 kW in a hp")
