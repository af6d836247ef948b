"""Exercises of the lesson mud weight and pressure: convert weights, compute a column's pressure, judge both."""

from __future__ import annotations

import enum

from exercises.fleet.envelope import UNWEIGHTED_MUD, WEIGHTED_MUD
from exercises.model import Usual, relative


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    CONVERTING = "Convert a mud weight between specific gravity, lb/gal, lb/ft³, kg/m³ and a pressure gradient."
    PRESSURE = "Work out the pressure of a mud column, and its equivalent mud weight, from true vertical depth."
    JUDGING = "Compare mud weights, and compare a mud column with the pressures that the rock holds and bears."


AS_WRITTEN_DOWN = relative(
    0.006, because="mud weights are written to 0.1 lb/gal, 10 kg/m3 or 0.01 SG: half of that is 0.6 % of a light mud"
)
#: Any mud that a rig has, weighted or not.
ANY_MUD = Usual(UNWEIGHTED_MUD.low, WEIGHTED_MUD.high, "lb/gal")
