"""Exercises of the lesson dual gradient: two densities in one column, riser dilution, the plant."""

from __future__ import annotations

import enum

from exercises.model import relative


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    COLUMN = "Find the pressure of a column of two densities, and the mud for a wanted pressure."
    RISER = "Find the dilution that makes the riser light, and the flow that comes back."
    PLANT = "Choose the plant that cuts the return back, and find the mud that it builds back."
    DEFENDING = "Defend a choice of dilution rate and plant with figures, limits and what could go wrong."
    WORKING_SAFELY = "Name the first safe action when the riser loses its light fluid."


TO_ONE_PERCENT = relative(0.01, because="three figures on the way move it by 0.5 %; rounded factors by 0.2 %")
AS_A_COLUMN = relative(
    0.004, because="0.052 for 0.05195 moves it by 0.1 %, a column or pressure rounded on the way too"
)
AS_A_WEIGHT = relative(0.004, because="it is asked to two decimals or 1 kg/m3; rounded factors move it by 0.1 %")
FLOWS_ADDED = relative(0.004, because="an exact sum of flows; rounding to a whole number moves it by 0.1 %")
