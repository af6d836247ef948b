"""Exercises of the lesson decanting centrifuges: g, cut point, mass balance, safe work."""

from __future__ import annotations

import enum

from exercises.model import relative
from pitside.units import Q


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    G_FORCE = "Work out the g-force in a bowl and how it goes with speed."
    CUT = "Find the cut point of a centrifuge and what moves it."
    BALANCE = "Balance the streams of a centrifuge with its dilution liquid."
    SAFELY = "Start, stop, isolate and open a centrifuge in a safe order."


G_FACTOR = relative(0.01, because="rounded factors (1.42 for 1.4202, 9.8 for 9.807) move it by 0.1 % at most")
BALANCE = relative(0.01, because="an exact balance of given rates and densities; only rounding on the way moves it")
CUT_POINT = relative(0.02, because="a cut point is not known closer than a few percent; sums on the way are rounded")

#: Diameter times speed of the fastest rim in the fleet, a bowl of 16 in at 3200 rpm: a wide bowl is run more slowly.
FASTEST_RIM = Q(16 * 3200, "in*rpm")
