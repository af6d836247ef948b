"""Exercises of the lesson weighting up: barite, the volume it takes, and the room that is there."""

from __future__ import annotations

import enum

from exercises.model import Grid, Number, relative


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    WEIGHTING_UP = "Find the barite that brings a mud to its target weight, and what happens to the volume."
    PLANNING = "Plan a change of mud weight within the pit room and the mixing rate that the rig has."
    WORKING_SAFELY = "Put the steps of a change of mud weight in a safe order."


TO_ONE_PERCENT = relative(
    0.01, because="barite at 35 lb/gal or SG 4.20 moves it by 0.2 %; whole sacks and barrels by a little more"
)
SUM_OF_VOLUMES = relative(0.005, because="a pit is read to about a barrel: 0.3 % of the smallest volume drawn")

MUD_TO_WEIGHT_UP = (
    Number("mud_weight", Grid(9.5, 14.0, 0.1, "lb/gal"), Grid(1140, 1680, 10, "kg/m3")),
    Number("target", Grid(10.5, 16.5, 0.1, "lb/gal"), Grid(1260, 1980, 10, "kg/m3")),
    Number("barite", Grid(35.0, 35.0, 0.1, "lb/gal"), Grid(4200, 4200, 10, "kg/m3")),
)
