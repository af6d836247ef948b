"""Exercises of the lesson decanting centrifuges: g, cut point, mass balance, safe work."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    G_FORCE = "Work out the g-force in a bowl and how it goes with speed."
    CUT = "Find the cut point of a centrifuge and what moves it."
    BALANCE = "Balance the streams of a centrifuge with its dilution liquid."
    SAFELY = "Start, stop, isolate and open a centrifuge in a safe order."
