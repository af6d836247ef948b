"""Exercises of the lesson hydrocyclones: feed head, number of cones, cut, underflow."""

from __future__ import annotations

import enum

from exercises.model import Grid, Number, relative


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    FEED = "Set the feed head and the number of cones, and size the pump for them."
    PARTITION = "Work with partition curves: cut point, sharpness, bypass."
    MOVING = "Tell how viscosity, flow and size of cone move the cut point."
    UNDERFLOW = "Judge the underflow and find what solids and liquid leave in it."


FACTORS = relative(0.01, because="0.052 for 0.05195, 1714 for 1714.3 and 3960 for 3954 move it by 0.2 % at most")
BALANCE = relative(0.01, because="an exact balance; 8.33 for 8.345 lb/gal and rounding on the way move it by less")
CUT_POINT = relative(0.02, because="a cut point is not known closer than a few percent; sums on the way are rounded")

#: Water and drilled solids, as the setting of an exercise states them.
WATER = Number("water", Grid(8.33, 8.33, 0.01, "lb/gal"), Grid(1000, 1000, 10, "kg/m3"))
DRILLED = Number("drilled", Grid(21.7, 21.7, 0.1, "lb/gal"), Grid(2600, 2600, 10, "kg/m3"))
