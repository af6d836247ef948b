"""Exercises of the lesson solids in the mud: read a retort, split the solids, correct for salt and oil."""

from __future__ import annotations

import enum
import warnings

import pint

from exercises.model import By, absolute, reading
from pitside.errors import ValidityWarning
from pitside.retort import low_gravity_from_average


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    READING = "Turn the readings of a retort into shares of the mud and an oil-water ratio."
    RETORT_SAFELY = "Put the steps of a retort test in a safe order."
    SPLITTING = "Find the low-gravity and high-gravity solids of a water-base mud from its weight and its retort."
    SALT = "Correct the solids of a water-base mud for the salt and the oil in it."
    UNCERTAINTY = "Tell how well a retort knows the low-gravity solids, and which reading to improve first."


#: The water that specific gravities are counted from, as a setting prints it.
REFERENCE_WATER = By("1.00 for water (8.345 lb/gal; 8.33 is near enough)", "1.00 for water (1000 kg/m³)")
WHOLE_PERCENT = reading(1, "%", because="mud reports give the shares of a retort to a whole percent")
TENTHS_OF_PERCENT = absolute(
    0.3, "%", because="a tenth of a percent as reports have it, and the average density of the solids rounded to 0.01"
)


def low_from(solids: pint.Quantity | float, average: pint.Quantity) -> pint.Quantity:
    """Low-gravity solids from a trainee's own average, which is carried on also where no solids could have it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)
        return low_gravity_from_average(solids, average)
